"""Prices: exact, complete, and refused in words where they are wrong."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator import units
from simulator.parameters.cereals import CEREALS
from simulator.parameters.fertilizers import FERTILIZERS
from simulator.parameters.price import HECTARE_PER_ACRE, Price, cents
from simulator.parameters.prices import (
    default_prices,
    default_text,
    price_file,
    prices_of,
    read_prices,
    value_of_biomass,
)
from simulator.problems import InputError


def written(tmp_path: Path, *changes: tuple[str, str], more: str = "") -> Path:
    """The packaged file with texts exchanged."""
    text = default_text()
    for old, new in changes:
        assert text.count(old) >= 1, old
        text = text.replace(old, new)
    file = tmp_path / "mine.toml"
    file.write_text(text + more, encoding="utf-8")
    return file


def faults(file: Path) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_prices(file)
    return [str(problem) for problem in caught.value.problems]


def test_the_packaged_prices_are_labelled_dated_and_whole() -> None:
    prices = default_prices()
    assert "invented" in prices.label
    assert prices.date.startswith("20")
    assert prices.path == ""
    assert set(prices.seed) == set(CEREALS)
    assert set(prices.nitrogen) == set(FERTILIZERS)
    assert "INVENTED" in default_text()


def test_a_copy_reads_back_the_same(tmp_path: Path) -> None:
    file = written(tmp_path)
    assert read_prices(file).seed == default_prices().seed
    assert read_prices(file).path == str(file)


def test_own_prices_units_and_currency(tmp_path: Path) -> None:
    file = written(
        tmp_path,
        (" $/", " €/"),
        ('currency = "$"', 'currency = "€"'),
        ("0.20 €/lb", "0.44 €/kg"),
        more='"crop scouting" = "7.50 €/ha"\n',
    )
    prices = read_prices(file)
    assert prices.currency == "€"
    assert prices.seed["rye"] == Price(Decimal("0.44"), "kg")
    assert prices.own == {"crop scouting": Price(Decimal("7.50"), "ha")}


@pytest.mark.published("NIST SP 811: 1 lb = 0.45359237 kg; 1 survey acre = 4.046873E+03 m2")
def test_prices_in_other_units() -> None:
    assert Price(Decimal("0.45359237"), "lb").by("kg") == Decimal(1)
    assert Price(Decimal(2000), "ton").by("lb") == Decimal(1)
    assert float(HECTARE_PER_ACRE) == pytest.approx(0.4046873, abs=5e-8)
    assert Price(Decimal("0.20"), "lb").by("lb") == Decimal("0.20")


@pytest.mark.other_program("pint, the one registry: acre and hectare")
def test_areas_are_those_of_the_rest() -> None:
    acre = units.registry().Quantity(1.0, "acre").to("ha").magnitude
    assert float(HECTARE_PER_ACRE) == pytest.approx(acre, rel=1e-12)


@pytest.mark.analytic("half a cent goes up")
@pytest.mark.parametrize(
    ("amount", "rounded"),
    [
        ("0.125", "0.13"),
        ("0.135", "0.14"),
        ("2.675", "2.68"),
        ("1.0049", "1.00"),
        ("-0.125", "-0.13"),
    ],
)
def test_cents(amount: str, rounded: str) -> None:
    assert str(cents(Decimal(amount))) == rounded


@given(st.decimals("0.01", "50", places=2))
def test_prices_there_and_back(amount: Decimal) -> None:
    there = Price(amount, "lb").by("kg")
    assert abs(Price(there, "kg").by("lb") - amount) < Decimal("1e-20")


def test_every_fault_is_told_at_once_by_file_section_and_key(tmp_path: Path) -> None:
    told = faults(
        written(
            tmp_path,
            ('rye = "0.20 $/lb"', 'rye = "-0.20 $/lb"'),
            ('wheat = "0.20 $/lb"', 'wheat = "0.20 $/acre"'),
            ('urea = "0.45 $/lb"', "urea = 0.45"),
            ('rolling = "6.00', 'roling = "6.00'),
            ('mowing = "9.00', 'mowing = "9000'),
            ('herbicide = "5.00 $', 'herbicide = "5.00 €'),
            more='seed = "1 $/acre"\n[fuel]\n',
        )
    )
    assert len(told) == 9
    for text in (
        "mine.toml, [fuel]: There is no such section.",
        "mine.toml, [seed], key 'rye': '-0.20 $/lb' is negative.",
        "mine.toml, [seed], key 'wheat': '0.20 $/acre' is not by lb or kg.",
        "mine.toml, [nitrogen], key 'urea': '0.45' has no unit.",
        "mine.toml, [work], key 'rolling': The price is missing.",
        "mine.toml, [work], key 'roling': There is no such key. Did you mean 'rolling'?",
        "mine.toml, [work], key 'mowing': '9000 $/acre' is absurd: more than 2,000 $/acre.",
        "mine.toml, [materials], key 'herbicide': '5.00 €/acre' is not in the file's currency, $.",
        "mine.toml, [own], key 'seed': A budget has an item of that name already.",
    ):
        assert any(problem.startswith(text) for problem in told), text


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        ('label = "invented round figures"', "label = 3", "key 'label'"),
        ("date = 2026-11-25", 'date = "last year"', "'last year' is not a date"),
        ('currency = "$"', 'currency = "<b>"', "is not a currency"),
        ("[materials]", "[materials.x]", "key 'herbicide': The price is missing."),
        ('rye = "0.20 $/lb"', 'rye = "a fifth of a $/lb"', "is not a price"),
        ('rye = "0.20 $/lb"', 'rye = "1e9 $/lb"', "is not a price"),
        ('rye = "0.20 $/lb"', 'rye = "nan $/lb"', "is not a price"),
        ('rye = "0.20 $/lb"', "rye = true", "is not a price"),
    ],
)
def test_each_fault(tmp_path: Path, old: str, new: str, text: str) -> None:
    assert any(text in told for told in faults(written(tmp_path, (old, new))))


def test_files_that_are_none(tmp_path: Path) -> None:
    broken, binary, large = (tmp_path / name for name in ("b.toml", "c.toml", "d.toml"))
    broken.write_text("[seed\nrye = 1")
    binary.write_bytes(b"\xff\xfe\x00")
    large.write_text("#" * 100_000)
    assert "It is not TOML" in faults(broken)[0]
    assert "not text in UTF-8" in faults(binary)[0]
    assert "larger than 64,000 bytes" in faults(large)[0]
    assert "--write-prices" in faults(tmp_path / "none.toml")[0]
    assert "no such price file" in faults(tmp_path)[0]


def test_own_items_have_names_and_are_bounded() -> None:
    data = tomllib.loads(default_text())
    with pytest.raises(InputError, match="no name of an item"):
        prices_of({**data, "own": {"": "1 $/acre"}}, "x", path="")
    with pytest.raises(InputError, match="Keep at most 30"):
        prices_of({**data, "own": {f"i{n}": "1 $/acre" for n in range(31)}}, "x", path="")
    with pytest.raises(InputError, match="It is no section"):
        prices_of({**data, "own": 3}, "x", path="")


def test_an_item_of_the_users_own_may_be_a_payment(tmp_path: Path) -> None:
    file = written(tmp_path, more='"cost share" = "-30.00 $/acre"\n')
    assert read_prices(file).own == {"cost share": Price(Decimal("-30.00"), "acre")}
    assert "-30.00 $/acre" in price_file(read_prices(file))
    (absurd,) = faults(written(tmp_path, more='"cost share" = "-3000 $/acre"\n'))
    assert "is absurd" in absurd
    (negative,) = faults(written(tmp_path, ('rolling = "6.00', 'rolling = "-6.00')))
    assert "is negative" in negative


def test_the_value_of_biomass() -> None:
    assert value_of_biomass("40 $/ton", "$") == Price(Decimal(40), "ton")
    for text in ("40", "40 $/lb", "-1 $/ton", "40 €/ton", "9999 $/ton"):
        with pytest.raises(InputError, match="value: "):
            value_of_biomass(text, "$")
