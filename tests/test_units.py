"""Units at the door: exact conversions in, the same back out, and nothing that is not a unit."""

from __future__ import annotations

import shutil
import time
from pathlib import Path

import numpy as np
import platformdirs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator import units
from simulator.problems import InputError

POUND = 0.45359237  # kg, exact
INTERNATIONAL_ACRE = 4046.8564224  # m2, exact
SURVEY_ACRE = 4046.872609874252  # m2: 10 chains of 66 US survey feet (1200/3937 m) by one chain
unhurried = settings(deadline=None)  # the first call builds the registry
SP_811 = "NIST Special Publication 811 (2008), appendix B: exact factors"


@pytest.mark.published(SP_811)
@pytest.mark.parametrize(
    ("text", "inside", "expected"),
    [
        ("1 lb", "kg", POUND),
        ("1 inch", "mm", 25.4),
        ("1 ft", "m", 0.3048),
        ("1 lb/acre", "kg/ha", POUND / SURVEY_ACRE * 1e4),
        ("1 ac", "m^2", SURVEY_ACRE),
        ("1 ha", "m^2", 1e4),
        ("40 degF", "degC", 40 / 9),
        ("50 degF", "degC", 10.0),
        ("86 degF", "degC", 30.0),
        ("18 degF", "delta_degC", 10.0),
        ("1 count/ft^2", "1/m^2", 1 / 0.3048**2),
    ],
)
def test_exact_factors(text: str, inside: str, expected: float) -> None:
    assert units.parse(text, inside, name="x") == pytest.approx(expected, rel=1e-12)


@pytest.mark.published(SP_811 + "; the acre is printed there as 4.046 873 E+03 m2")
def test_the_acre_is_the_survey_acre() -> None:
    assert units.parse("1 acre", "m^2", name="x") == pytest.approx(4046.873, abs=5e-4)


@pytest.mark.analytic("from the pound, inch, gallon (231 cubic inches) and survey acre as defined")
@pytest.mark.parametrize(
    ("text", "inside", "expected", "half_digit"),
    [
        ("1 lb/acre", "kg/ha", 1.120846673, 5e-10),
        ("1 ton/acre", "Mg/ha", 2.241693346, 5e-10),
        ("1 gal/acre", "L/ha", 9.35392, 5e-6),
        ("1 count/ft^2", "1/m^2", 10.76391, 5e-6),
    ],
)
def test_factors_as_printed(text: str, inside: str, expected: float, half_digit: float) -> None:
    assert units.parse(text, inside, name="x") == pytest.approx(expected, abs=half_digit)


@pytest.mark.analytic("the international acre is 4e-6 smaller than the survey acre")
@pytest.mark.parametrize(
    ("text", "inside", "international"),
    [
        ("1 lb/acre", "kg/ha", 1.120851156),
        ("1 ton/acre", "Mg/ha", 2.241702312),
    ],
)
def test_either_acre_does(text: str, inside: str, international: float) -> None:
    ratio = units.parse(text, inside, name="x") / international
    assert ratio == pytest.approx(1 - 4e-6, abs=5e-8)


@pytest.mark.analytic("an international acre-inch is 102.7902 m3 or 27 154.29 US gallons")
def test_acre_inch() -> None:
    smaller = INTERNATIONAL_ACRE / SURVEY_ACRE
    cubic_metres = units.parse("1 acre inch", "m^3", name="x")
    assert cubic_metres * smaller == pytest.approx(102.7902, abs=5e-5)
    gallons = units.parse("1 acre inch", "gallon", name="x")
    assert gallons * smaller == pytest.approx(27154.29, abs=5e-3)


@pytest.mark.published(
    "UF/IFAS EDIS AG126: a bushel of rye 56, barley 48, oat 32 lb (wheat 60 from memory)"
)
@pytest.mark.parametrize(
    ("pounds", "kilograms", "per_hectare"),
    [
        (60, 27.21554, 67.2511),
        (56, 25.40117, 62.7677),
        (48, 21.77243, 53.8009),
        (32, 14.51496, 35.8672),
    ],
)
def test_bushels(pounds: int, kilograms: float, per_hectare: float) -> None:
    assert units.parse(f"{pounds} lb", "kg", name="x") == pytest.approx(kilograms, abs=5e-6)
    # printed for the international acre
    assert units.parse(f"{pounds} lb/acre", "kg/ha", name="x") == pytest.approx(
        per_hectare * INTERNATIONAL_ACRE / SURVEY_ACRE, abs=5e-5
    )


@pytest.mark.published("Allen et al. (1998), FAO paper 56, table 3: 1 MJ m-2 d-1 = 11.6 W m-2")
def test_radiation() -> None:
    assert units.parse("1 MJ/m^2/day", "W/m^2", name="x") == pytest.approx(11.6, abs=0.05)


@pytest.mark.parametrize(
    "text",
    [
        "90 lb/acre",
        "90lb/acre",
        " 90  lb / acre ",
        "90 pound/acre",
        "90 lbs/ac",
        "9e1 lb/acre",
        "90. lb/ac",
        "+90 lb acre^-1",
    ],
)
def test_people_write_a_rate_in_many_ways(text: str) -> None:
    assert units.parse(text, "kg/ha", name="x") == pytest.approx(90 * 1.120846673, rel=1e-9)


@pytest.mark.parametrize("text", ["60 degF", "60 °F", "60 deg F", "60 fahrenheit"])
def test_people_write_a_temperature_in_many_ways(text: str) -> None:
    assert units.parse(text, "degC", name="x") == pytest.approx(140 / 9)


def test_a_step_of_temperature_is_not_a_reading() -> None:
    assert units.parse("5 degF", "degC", name="x") == pytest.approx(-15)
    assert units.parse("5 degF", "delta_degC", name="x") == pytest.approx(25 / 9)
    assert units.parse("5 degC", "delta_degC", name="x") == 5


def test_a_list_shares_its_unit() -> None:
    expected = [0, 30 * 1.120846673, 60 * 1.120846673]
    assert units.parse_list("0,30, 60 lb/acre", "kg/ha", name="x") == pytest.approx(expected)
    mixed = units.parse_list("1 inch, 2, 3 mm", "mm", name="x")
    assert mixed == pytest.approx([25.4, 2, 3])


REFUSED = {
    "no unit": ("90", "kg/ha", "'90' has no unit. Write for example '90 lb/acre'"),
    "no unit, temperature": ("40", "degC", "Write for example '40 degF' (degF or degC)"),
    "unknown unit": ("90 flurbs/acre", "kg/ha", "'flurbs/acre' is not a known unit"),
    "wrong kind": (
        "90 inch",
        "kg/ha",
        "'inch' cannot be turned into kg/ha. Write lb/acre or kg/ha",
    ),
    "a mass, no area": ("90 lb", "kg/ha", "'lb' cannot be turned into kg/ha"),
    "no number": ("lb/acre", "kg/ha", "'lb/acre' is not a number with a unit"),
    "nothing": ("", "kg/ha", "'' is not a number with a unit. Write for example '30 lb/acre'"),
    "an item missing": ("1,,2 mm", "mm", "'' is not a number with a unit"),
    "not a number": ("nan mm", "mm", "'nan mm' is not a number with a unit"),
    "infinite": ("inf mm", "mm", "'inf mm' is not a number with a unit"),
    "overflows when read": ("1e999 mm", "mm", "is too large a number"),
    "overflows when converted": ("1e308 inch", "mm", "is too large a number"),
    "code": ("5 __import__('os')", "mm", "is not a unit"),
    "call": ("5 exit()", "mm", "is not a unit"),
    "tower of powers": ("5 mm^9^9^9", "mm", "is not a unit"),
    "number in the unit": ("5 9999999*mm", "mm", "is not a unit"),
    "word powers": ("5 square cubic mm", "mm", "is not a unit"),
    "null byte": ("5 mm\x00", "mm", "is not a unit"),
    "long unit": ("5 " + "m" * 60, "mm", "is not a unit"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refused_with_what_to_write(case: str) -> None:
    text, inside, message = REFUSED[case]
    with pytest.raises(InputError) as caught:
        units.parse_list(text, inside, name="option")
    assert str(caught.value).startswith("option: ")
    assert message in str(caught.value)


@pytest.mark.parametrize("value", [90, 90.0, float("nan"), None, True, ["90 lb/acre"], b"90 mm"])
def test_a_bare_value_from_python_is_refused(value: object) -> None:
    with pytest.raises(InputError, match=r"has no unit\. Write it as text with its unit"):
        units.parse(value, "kg/ha", name="seeding")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "text",
    [
        "5 a" + " " * 1_000_000 + "b",
        "5 " + "m" * 1_000_000,
        "1" * 1_000_000 + " mm",
        "5 " + "m/" * 500_000,
        "x" * 1_000_000,
    ],
    ids=["blanks", "letters", "digits", "slashes", "no number"],
)
def test_long_text_is_refused_at_once_and_briefly(text: str) -> None:
    started = time.process_time()  # that others have the machine does not count
    with pytest.raises(InputError) as caught:
        units.parse(text, "mm", name="x")
    assert time.process_time() - started < 0.5
    assert len(str(caught.value)) < 200


def test_one_value_where_one_is_wanted_and_a_bounded_list_elsewhere() -> None:
    with pytest.raises(InputError, match=r"2 values given\. Give one value"):
        units.parse("1,2 mm", "mm", name="x")
    with pytest.raises(InputError, match=r"300 values given\. Give at most 200 values"):
        units.parse_list(",".join("1" * 300) + " mm", "mm", name="x")


@unhurried
@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        value = units.parse(text, "mm", name="x")
    except InputError:
        return
    assert np.isfinite(value)


PLAIN = st.floats(-1e6, 1e6).filter(lambda value: value == 0 or abs(value) > 1e-6)


@unhurried
@given(
    PLAIN, st.sampled_from(["mass", "nitrogen", "water", "rain", "depth", "step", "thermal_time"])
)
def test_shown_and_read_again(value: float, kind: str) -> None:
    inside, shown = units.SHOWN[kind]
    out = units.show(value, kind, "us")
    read = units.registry().Quantity(out, shown["us"].unit).to(inside).magnitude
    assert read == pytest.approx(value, rel=1e-12, abs=1e-300)
    assert units.show(value, kind, "si") == value


@unhurried
@given(st.floats(-80, 60))
def test_temperature_there_and_back(value: float) -> None:
    fahrenheit = units.show(value, "temperature", "us")
    # a reading has its zero elsewhere: the rounding is relative to kelvin
    read = units.parse(f"{fahrenheit!r} degF", "degC", name="x")
    assert read == pytest.approx(value, abs=1e-12 * 273.15)


@unhurried
@given(
    st.floats(1e-6, 1e6),
    st.sampled_from([("lb/acre", "kg/ha"), ("inch", "mm"), ("ton/acre", "kg/ha")]),
)
def test_written_and_read_again(value: float, pair: tuple[str, str]) -> None:
    written, inside = pair
    read = units.parse(f"{value!r} {written}", inside, name="x")
    back = units.parse(f"{read!r} {inside}", written, name="x")
    assert back == pytest.approx(value, rel=1e-12)


@pytest.mark.analytic("a difference of 1.8 degF is one of 1 degC")
def test_thermal_time_is_shown_by_differences() -> None:
    assert units.show(100.0, "thermal_time", "us") == pytest.approx(180.0, rel=1e-12)
    assert units.show(10.0, "step", "us") == pytest.approx(18.0, rel=1e-12)
    assert units.show(10.0, "temperature", "us") == pytest.approx(50.0, rel=1e-12)


def test_show_takes_arrays() -> None:
    shown = units.show(np.array([0.0, 25.4]), "water", "us")  # type: ignore[arg-type]
    np.testing.assert_allclose(shown, [0.0, 1.0], rtol=1e-12)


@pytest.mark.parametrize(
    ("value", "kind", "us", "si"),
    [
        (4000.0, "mass", "3,569 lb/ac", "4,000 kg/ha"),
        (67.25, "nitrogen", "60 lb/ac", "67 kg/ha"),
        (279.4, "water", "11.0 in", "279 mm"),
        (12.7, "rain", "0.50 in", "12.7 mm"),
        (10.0, "temperature", "50 °F", "10.0 °C"),
        (-2.5, "step", "-4.5 °F", "-2.5 °C"),
        (1000.0, "thermal_time", "1,800 °F d", "1,000 °C d"),
    ],
)
def test_spelled(value: float, kind: str, us: str, si: str) -> None:
    assert units.spell(value, kind, "us") == us
    assert units.spell(value, kind, "si") == si
    assert us.endswith(units.label(kind, "us"))
    assert si.endswith(units.label(kind, "si"))


@pytest.mark.parametrize(
    ("text", "doubt", "remedy"),
    [
        ("1,500 lb/acre", "'1,500' may be one", "Write 1500 lb/acre, or 1, 500 lb/acre for two."),
        ("0,1,500lb/acre", "'1,500' may be one", "Write 1500 lb/acre, or 1, 500 lb/acre for two."),
        ("12,500 kg/ha", "'12,500' may be", "Write 12500 kg/ha, or 12, 500 kg/ha for two."),
        ("1,500", "'1,500' may be one", "Write 1500, or 1, 500 for two."),
        ("2,000 lb/acre", "'2,000 lb/acre' may be", "Write no comma between thousands"),
    ],
)
def test_a_comma_between_thousands_is_a_doubt(text: str, doubt: str, remedy: str) -> None:
    from simulator.commands.shared.plan_options import parts

    with pytest.raises(InputError) as told:
        units.parse_list(text, "kg/ha", name="nitrogen")
    assert doubt in str(told.value) and remedy in str(told.value)
    if "/" in text:  # a list without a unit is refused for that
        with pytest.raises(InputError) as told:
            parts([text], option="--nitrogen")
        assert remedy in str(told.value)


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("0,30,90lb/acre", [0, 30, 90]),
        ("0,30,90 lb/acre", [0, 30, 90]),
        ("30,120 lb/acre", [30, 120]),
        ("10,150 lb/acre", [10, 150]),
        ("60,120,180 lb/acre", [60, 120, 180]),
        ("100,150 lb/acre", [100, 150]),
        ("0,100 lb/acre", [0, 100]),
        ("1, 500 lb/acre", [1, 500]),
        ("1 lb/acre,500 lb/acre", [1, 500]),
        ("500,1000 lb/acre", [500, 1000]),
    ],
)
def test_lists_of_rates_stay_lists(text: str, numbers: list[float]) -> None:
    from simulator.commands.shared.plan_options import parts

    ratio = units.parse("1 lb/acre", "kg/ha", name="x")
    read = units.parse_list(text, "kg/ha", name="x")
    assert read == pytest.approx([one * ratio for one in numbers])
    given = parts([text], option="--nitrogen")
    assert [units.parse(one, "kg/ha", name="x") for one in given] == read


@pytest.mark.parametrize(
    ("text", "remedy"),
    [("1,500 lb/acre", "Write 1500 lb/acre."), ("12,500.5 kg/ha", "Write 12500.5 kg/ha.")],
)
def test_one_amount_has_no_comma(text: str, remedy: str) -> None:
    with pytest.raises(InputError) as told:
        units.parse(text, "kg/ha", name="target")
    assert f"'{text}' has a comma. {remedy}" in str(told.value)


def test_units_are_read_once_and_again_where_what_is_kept_is_damaged(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(platformdirs, "user_cache_path", lambda *_, **__: tmp_path)

    def kept() -> dict[str, int]:
        return {path.name: path.stat().st_mtime_ns for path in tmp_path.rglob("*.pickle")}

    def converted() -> float:
        return float(units._all_units().Quantity(7.0, "lb/inch").to("kg/m").magnitude)

    first = converted()
    before = kept()
    assert before
    assert converted() == first
    assert kept() == before
    for path in tmp_path.rglob("*.pickle"):
        path.write_bytes(path.read_bytes()[:100])
    assert converted() == first
    assert not kept()
    shutil.rmtree(tmp_path)
    tmp_path.write_text("no folder")
    assert converted() == first
