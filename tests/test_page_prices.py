"""The reader's own prices on the page: in the link, the cost, the downloads, and as a file."""

from __future__ import annotations

import json
import re
import shlex
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlencode

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from simulator.commands import fallsown
from simulator.page import answers, costs, downloads, own_prices
from simulator.page.growing import _grown
from simulator.page.question import Question, read_question
from simulator.page.records import sample_place
from simulator.parameters.prices import default_text, price_file, prices_from, read_prices
from simulator.problems import InputError, Problem

MINE = {
    "price-seed-rye": "0.23/lb",
    "price-work-sowing": "12.50/acre",
    "price-own": "crop scouting = 3.00/acre; soil test = 4.10/ha",
}
RYE = {"cereal": "rye", "seeding": "90 lb/acre", "nitrogen": "30 lb/acre"}


def asked(**given: Any) -> Question:
    return read_question(urlencode({k.replace("_", "-"): v for k, v in given.items()}))


def answered(**given: Any) -> answers.Answered:
    question = asked(**given)
    return answers.answer(question, sample_place(question.place))


def faults(**given: str) -> list[Problem]:
    with pytest.raises(InputError) as caught:
        asked(**given)
    return caught.value.problems


def test_a_link_keeps_the_prices_that_differ_and_no_other() -> None:
    question = asked(
        **MINE,
        price_seed_oat="0.25/lb",
        price_work_rolling="6/acre",
        price_label="dealer quotes",
        price_date="2026-11-20",
    )
    kept = {k: v[0] for k, v in parse_qs(question.query()).items() if k.startswith("price-")}
    assert kept == {**MINE, "price-label": "dealer quotes", "price-date": "2026-11-20"}
    assert read_question(question.query()) == question
    assert "price-" not in asked().query()


@given(st.decimals("0", "50", places=4), st.sampled_from(["lb", "kg"]))
def test_a_price_is_kept_as_it_was_written(amount: Decimal, unit: str) -> None:
    question = asked(price_seed_wheat=f"{amount}/{unit}")
    assert question.prices.seed["wheat"].by(unit) == amount
    assert read_question(question.query()) == question


@pytest.mark.analytic("sums by hand: 90 x 0.23, 12.50, 30 x 0.50, 5, 5, 5, 6, 3, 4.10 x 0.404687")
def test_own_prices_are_in_the_cost_of_both_plans() -> None:
    told = costs.cost(answered(**RYE, **MINE, pin_nitrogen="0 lb/acre"))
    assert told["rows"] == [
        ["seed", "$20.70", "$20.70"],
        ["sowing", "$12.50", "$12.50"],
        ["nitrogen", "$15.00", "$0.00"],
        ["spreading", "$5.00", "$0.00"],
        ["herbicide", "$5.00", "$5.00"],
        ["spraying", "$5.00", "$5.00"],
        ["rolling", "$6.00", "$6.00"],
        ["crop scouting", "$3.00", "$3.00"],
        ["soil test", "$1.66", "$1.66"],
        ["total", "$73.86", "$53.86"],
    ]
    assert told["said"].startswith("This plan costs $73.86 an acre")
    assert told["said"].endswith("The pinned plan costs $20.00 less.")


@pytest.mark.analytic("the same sum by the command, from the file that the page gives")
@pytest.mark.parametrize(
    "given",
    [
        {},
        {
            **MINE,
            "pin-sow": "12-08",
            "pin-nitrogen": "90 lb/acre",
            "pin-nitrogen-timing": "sowing+02-15",
        },
        {
            "place": "pellow-strand",
            "year": "2010",
            "ended-by": "mowing,tillage",
            "price-seed-rye": "0.51/kg",
            "price-nitrogen-ammonium-nitrate": "1.337/kg",
            "price-work-mowing": "0/ha",
        },
        {
            "units": "si",
            "cereal": "oat",
            "fertilizer": "urea",
            "seeding": "77.3 lb/acre",
            "nitrogen-timing": "sowing 1/3 + 02-15 2/3",
            "price-currency": "EUR",
            "price-nitrogen-urea": "0.611111/lb",
        },
    ],
    ids=["packaged", "pinned", "by the hectare", "other money"],
)
def test_the_command_costs_the_same(
    given: dict[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = answered(**given)
    monkeypatch.chdir(tmp_path)
    Path("my-prices.toml").write_text(own_prices.as_file(found.asked.prices), encoding="utf-8")
    words = shlex.split(downloads.cost_command(found))[1:]
    assert ("--prices" in words) == own_prices.differ(found.asked.prices)
    ran = CliRunner().invoke(fallsown, words, catch_exceptions=False)
    assert ran.exit_code == 0, ran.stderr
    told = costs.cost(found)
    total = [re.sub(r"[^\d.]", "", cost) for cost in told["rows"][-1][1:]]
    (printed,) = (line.split() for line in ran.stdout.splitlines() if line.startswith("total "))
    # total, cost of A, cost of B, B less A; a plan alone is B, beside the usual one
    assert printed[3 - len(total) : 3] == total
    by_ton = re.search(r", (\S*\d\.\d\d) for each|, (EUR .*) for each", told["said"])
    assert by_ton
    assert (by_ton[1] or by_ton[2]) in ran.stdout
    exact = CliRunner().invoke(fallsown, [*words, "--json"], catch_exceptions=False)
    plans = json.loads(exact.stdout)["plans"][-len(total) :]
    for mine, theirs in zip(costs.standings(found, "si").values(), plans, strict=True):
        assert {item.name: str(item.cost) for item in mine.budget.items} == {
            item["name"]: item["cost"] for item in theirs["items"]
        }
        assert str(mine.budget.total) == theirs["total"]
        assert mine.mean == pytest.approx(theirs["biomass_kg_ha"], rel=1e-12)


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("-1/lb", "is negative"),
        ("51/lb", "is absurd: more than 50"),
        ("abc/lb", "is not a price"),
        ("half/lb", "is not a price"),
        ("NaN/lb", "is not a price"),
        ("inf/lb", "is not a price"),
        ("1e308/lb", "is not a price"),
        ("9" * 400 + "/lb", "is not a price"),
        ("0.2", "is not a price"),
        ("/", "is not a price"),
        ("0,2/lb", "is not a price"),
        ("0.2/acre", "is not by lb or kg"),
        ("0.2 €/lb", "is not in the file's currency"),
        ("<b>1</b>/lb", "is not a price"),
        ("\\1/lb", "is not a price"),
    ],
)
def test_a_wrong_price_is_told_by_its_field(text: str, wrong: str) -> None:
    (problem,) = faults(price_seed_rye=text)
    assert problem.where == "price-seed-rye"
    assert wrong in problem.what
    assert "Write for example '0.20 $/lb'" in problem.remedy


def test_every_wrong_price_is_told_at_once() -> None:
    told = faults(
        **{
            "price-work-sowing": "x/acre",
            "price-own": "scouting 3",
            "price-date": "2026-13-45",
            "price-seed-rey": "1/lb",
            "price-currency": "3$",
            "sow": "99-1",
        }
    )
    assert {problem.where for problem in told} == {
        "price-work-sowing",
        "price-own",
        "price-date",
        "price-seed-rey",
        "price-currency",
        "sow",
    }
    with pytest.raises(InputError, match="said twice"):
        read_question("price-seed-rye=1/lb&price-seed-rye=2/lb")


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("scouting", "'scouting' cannot be read"),
        ("scouting = 3", "is not a price"),
        ("= 3/acre", "no name"),
        ("rolling = 3/acre", "of that name already"),
        ("a = 1/acre; a = 2/acre", "named twice"),
        ("a = -2001/acre", "is absurd"),
        ("a = 1/lb", "is not by acre or ha"),
        ("a = 1/acre;" * 40, "characters"),
        (f"{'a' * 41} = 1/acre", "no name"),
    ],
)
def test_other_costs_that_cannot_be_read(text: str, wrong: str) -> None:
    (problem,) = faults(price_own=text)
    assert problem.where == "price-own"
    assert wrong in problem.what


def test_the_caution_says_whose_the_prices_are() -> None:
    def caution(**given: str) -> str:
        return str(costs.cost(answered(**RYE, **given))["caution"])

    assert "invented round figures, of 2026-11-25" in caution()
    assert "dealer" in caution()
    assert "Put in here" not in caution(price_seed_oat="9/lb"), "the plan has no oat"
    mine = caution(price_seed_rye="0.23/lb", price_label="co-op", price_date="2026-11-20")
    assert "Put in here (co-op, of 2026-11-20): seed of rye 0.23 $/lb. The others are inv" in mine
    assert "EUR number for number" in caution(price_currency="EUR")
    every = {key: f"3/{field.unit('us')}" for key, field in own_prices.price_fields().items()}
    assert "invented" not in caution(**every)


def test_the_fields_are_those_of_the_costs_lines() -> None:
    told = costs.cost(answered(**RYE, **MINE, units="si", pin_cereal="oat", ended_by="mowing"))
    shown = {field["key"]: field for field in told["prices"]["fields"]}
    assert list(shown) == [
        "price-seed-rye",
        "price-work-sowing",
        "price-nitrogen-ammonium-nitrate",
        "price-work-spreading",
        "price-work-mowing",
        "price-seed-oat",
    ]
    assert shown["price-seed-rye"]["shown"] == "0.5071"  # 0.23 / 0.45359237
    assert shown["price-seed-rye"]["packaged"] == "0.4409"
    assert shown["price-work-spreading"]["shown"] == "12.36"  # 5 / 0.40468727
    assert [field["per"] for field in shown.values()][:3] == [
        "$ per kg of seed",
        "$ per ha",
        "$ per kg of nitrogen",
    ]
    assert told["prices"]["others"] == "crop scouting = 3.00 $/acre; soil test = 4.10 $/ha"


def test_another_price_grows_nothing() -> None:
    question = {**RYE, "year": "all", "pin_sow": "12-01", "change": "rain november = 9 inch"}
    answered(**question)
    grown = _grown.cache_info().misses
    told = costs.cost(answered(**question, **MINE))
    assert "$73.86" in told["said"]
    assert _grown.cache_info().misses == grown
    answered(**{**question, "sow": "10-21"})
    assert _grown.cache_info().misses > grown


@pytest.mark.analytic("sums by hand, by the hectare: 100 x 0.5, 24.71, 30 x 1.10231, 12.36, 29.65")
def test_the_table_tells_the_cost_by_the_hectare() -> None:
    found = answered(
        year="2015",
        seeding="100 kg/ha",
        nitrogen="30 kg/ha",
        ended_by="tillage",
        price_seed_rye="0.5/kg",
    )
    text = downloads.table(found)
    assert (
        "# cost_of_this_plan: 149.79 $/ha (seed 50.00; sowing 24.71; nitrogen 33.07; "
        "spreading 12.36; tillage 29.65)"
    ) in text
    assert "seed of rye 0.5 $/kg" in text


PRINTABLE = st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=40)


@given(PRINTABLE.filter(lambda text: text not in ("seed", "nitrogen")), PRINTABLE)
def test_a_file_holds_any_name_that_can_be_printed(name: str, label: str) -> None:
    prices = prices_from(default_text().encode(), "x.toml")
    own = {name: own_prices.packaged().work["sowing"]}
    mine = replace(prices, own=own, label=label)
    assert prices_from(price_file(mine).encode(), "x.toml") == mine


def test_what_a_file_says_and_what_a_link_says_are_one(tmp_path: Path) -> None:
    question = asked(**MINE, **{"price-label": 'the "co-op"', "price-date": "2026-11-20"})
    text = own_prices.as_file(question.prices)
    assert "the rest invented round figures" in text
    said = own_prices.from_file(text.encode(), "mine.toml")
    assert asked(**said) == question
    file = tmp_path / "mine.toml"
    file.write_text(text, encoding="utf-8")
    assert read_prices(file).seed == question.prices.seed
    assert own_prices.from_file(default_text().encode(), "p.toml") == {}
    assert own_prices.from_file(own_prices.as_file(asked().prices).encode(), "p.toml") == {}


@pytest.mark.parametrize(
    ("more", "wrong"),
    [
        ('"a;b" = "1 $/acre"', "has ';' in its name"),
        ("x = 3", "[own], key 'x': '3' has no unit"),
        ("\n".join(f'"a rather long name {n}" = "1.00 $/acre"' for n in range(20)), "takes more"),
        ("[fuel]", "no such section"),
        ("=", "It is not TOML"),
        ("#" * 70_000, "is larger than"),
    ],
)
def test_a_file_that_cannot_be_read(more: str, wrong: str) -> None:
    with pytest.raises(InputError) as caught:
        own_prices.from_file(f"{default_text()}\n{more}".encode(), "mine.toml")
    assert wrong in str(caught.value)
    assert all(problem.where.startswith("mine.toml") for problem in caught.value.problems)
