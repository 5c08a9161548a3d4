"""Budgets: hand arithmetic to the cent, partial budgets, the cheapest plan, the command."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from simulator.answers.budget.break_even import NextUnit, next_unit, swings, with_price
from simulator.answers.budget.calculate import (
    Bought,
    Standing,
    cheapest,
    frontier,
    itemise,
    nearly,
    partial,
    per_ton,
    stand,
    standings,
)
from simulator.answers.budget.chart import item_rows, plans
from simulator.answers.budget.table import Shown, money, tables
from simulator.answers.budget.words import sentences
from simulator.answers.shared.field_ranges import Ranges
from simulator.answers.shared.response_curves import QUADRATIC_PLATEAU, Choice, Curve
from simulator.commands import fallsown
from simulator.parameters.model_error import LEVEL, RESPONSE, SHIPPED, ModelError, ModelErrors
from simulator.parameters.price import Price
from simulator.parameters.prices import Prices, default_prices

POUND = 1.1208466730  # kg/ha in 1 lb/acre (NIST SP 811, survey acre)
TARGET = 4000 * POUND
SURE = ModelErrors(  # a model that hardly errs: chances are then shares of falls
    level=replace(LEVEL, **{f"within_{tenth}0": 1e-6 * tenth for tenth in range(1, 10)}),
    response=replace(RESPONSE, rmse=0.1),
)


def prices(**changed: Any) -> Prices:
    """Prices of this file's own, so that the packaged ones may change."""
    work = {
        name: Price(Decimal(cost), "acre")
        for name, cost in (
            ("sowing", "10"),
            ("spreading", "5"),
            ("spraying", "5"),
            ("rolling", "6"),
            ("mowing", "9"),
            ("tillage", "12"),
        )
    }
    made = Prices(
        label="made",
        date="2020-01-01",
        currency="$",
        seed={"rye": Price(Decimal("0.20"), "lb")},
        nitrogen={"urea": Price(Decimal("0.50"), "lb")},
        work=work,
        materials={"herbicide": Price(Decimal("5"), "acre")},
        own={},
    )
    return replace(made, **changed)


def plan(**changed: Any) -> Bought:
    usual = Bought(
        cereal="rye",
        fertilizer="urea",
        sow="10-20",
        seeding=90 * POUND,
        nitrogen=30 * POUND,
        timing="sowing",
        end="04-15",
        endings=("spraying", "rolling"),
    )
    return replace(usual, **changed)


def grown(
    pounds: list[float],
    *,
    cost: Prices | None = None,
    error: ModelError = SURE.level,
    **changed: Any,
) -> Standing:
    made = np.array(pounds) * POUND
    return stand(plan(**changed), made, cost or prices(), "us", TARGET, error)


# --- one budget ---


@pytest.mark.analytic("by hand: 90 x 0.20 + 10 + 30 x 0.50 + 5 + 5 + 5 + 6")
def test_the_usual_plan_by_hand() -> None:
    budget = itemise(plan(), prices(), "us")
    assert [(i.name, str(i.cost)) for i in budget.items] == [
        ("seed", "18.00"),
        ("sowing", "10.00"),
        ("nitrogen", "15.00"),
        ("spreading", "5.00"),
        ("herbicide", "5.00"),
        ("spraying", "5.00"),
        ("rolling", "6.00"),
    ]
    assert str(budget.total) == "64.00"


@pytest.mark.practice("common practice, no source: 45 to 75 dollars an acre")
def test_the_usual_plan_at_the_packaged_prices() -> None:
    usual = plan(fertilizer="ammonium nitrate")
    assert 45 <= itemise(usual, default_prices(), "us").total <= 75


@pytest.mark.analytic("by hand: 100 kg at 1.00 / 0.45359237 / 5 a kg, areas by 2.4710439...")
def test_a_budget_by_the_hectare() -> None:
    budget = itemise(plan(seeding=100.0, nitrogen=0.0, endings=()), prices(), "si")
    assert [(i.name, str(i.cost)) for i in budget.items] == [("seed", "44.09"), ("sowing", "24.71")]
    assert str(budget.total) == "68.80"


@pytest.mark.parametrize(
    ("changed", "gone", "total"),
    [
        ({"nitrogen": 0.0}, {"nitrogen", "spreading"}, "44.00"),
        ({"endings": ("rolling",)}, {"herbicide", "spraying"}, "54.00"),
        ({"endings": ()}, {"herbicide", "spraying", "rolling"}, "48.00"),
        ({"timing": "sowing 1/3 + 02-15 2/3"}, set(), "69.00"),
    ],
)
def test_what_a_plan_does_not_need_it_does_not_pay(
    changed: dict[str, Any], gone: set[str], total: str
) -> None:
    budget = itemise(plan(**changed), prices(), "us")
    assert not gone & {item.name for item in budget.items}
    assert str(budget.total) == total


def test_own_items_are_in_every_plan() -> None:
    budget = itemise(plan(), prices(own={"scouting": Price(Decimal("3.337"), "acre")}), "us")
    assert str(budget.cost_of("scouting")) == "3.34"
    assert str(budget.total) == "67.34"


@pytest.mark.analytic("a sum of rounded items is the rounded sum that is printed")
@given(
    st.floats(5, 500),
    st.floats(0, 300),
    st.decimals("0", "50", places=4),
    st.decimals("0", "50", places=4),
    st.sampled_from(["us", "si"]),
)
def test_items_add_up_as_printed(
    seeding: float, nitrogen: float, seed: Decimal, feed: Decimal, system: Any
) -> None:
    made = prices(seed={"rye": Price(seed, "lb")}, nitrogen={"urea": Price(feed, "kg")})
    budget = itemise(plan(seeding=seeding, nitrogen=nitrogen), made, system)
    printed = [money(item.cost, "$") for item in budget.items]
    total = sum(Decimal(text.replace("$", "").replace(",", "")) for text in printed)
    assert money(total, "$") == money(budget.total, "$")
    assert all(item.cost >= 0 for item in budget.items)


@pytest.mark.analytic("64 dollars over 4000 lb are 32 a short ton; 100 over 5000 kg are 20 a Mg")
def test_cost_of_a_ton() -> None:
    assert per_ton(Decimal(64), 4000 * POUND, "us") == Decimal("32.00")
    assert per_ton(Decimal(100), 5000.0, "si") == Decimal("20.00")
    assert per_ton(Decimal(64), 0.0, "us") is None
    assert per_ton(Decimal(64), float("nan"), "us") is None


# --- two plans ---


@pytest.mark.analytic("by hand: 30 lb more of nitrogen cost 15, herbicide and spraying saved 10")
def test_a_partial_budget_by_hand() -> None:
    one = grown([4000.0, 5000.0])
    other = grown([4500.0, 5300.0], nitrogen=60 * POUND, endings=("rolling",))
    change = partial(one, other)
    assert (str(change.added), str(change.saved), str(change.cost)) == ("15.00", "10.00", "5.00")
    assert change.mean_gain == pytest.approx(400 * POUND)
    assert change.break_even("us") == Decimal("25.00")  # 5 for a fifth of a ton
    assert partial(other, one).break_even("us") == Decimal("25.00")
    assert partial(one, grown([4500.0, 5300.0], nitrogen=0.0)).break_even("us") is None
    assert partial(one, one).break_even("us") is None


def test_falls_that_one_plan_did_not_end_do_not_count_between_plans() -> None:
    change = partial(grown([4000.0, 5000.0]), grown([4500.0, float("nan")]))
    assert change.gained == pytest.approx([500 * POUND])


# --- the cheapest plan ---


def test_the_cheapest_that_reaches_the_target_often_enough() -> None:
    dear = grown([4500.0] * 10, nitrogen=60 * POUND)
    mean = grown([4500.0] * 8 + [3000.0] * 2)
    poor = grown([4500.0] * 7 + [float("nan")] * 3, nitrogen=0.0)
    plans = [dear, mean, poor]
    assert [p.reached for p in plans] == [10, 8, 7]
    assert cheapest(plans, 0.8) is mean
    assert cheapest(plans, 0.81) is dear
    assert cheapest(plans, 0.5) is poor
    assert cheapest([poor], 0.8) is None
    assert frontier(plans) == [poor, mean, dear]
    worse = grown([4500.0] * 6 + [3000.0] * 4)
    assert frontier([*plans, worse]) == [poor, mean, dear]


def test_of_plans_that_cost_the_same_the_surer_is_taken() -> None:
    early, late = grown([4500.0] * 10), grown([4500.0] * 8 + [0.0] * 2, sow="12-08")
    assert cheapest([late, early], 0.8) is early


def test_exactly_at_the_target_counts() -> None:
    assert grown([4000.0, 3999.0]).reached == 1


def test_a_chance_has_the_interval_of_so_few_falls() -> None:
    from simulator.answers.shared.few_falls import wilson

    one = grown([4500.0] * 8 + [3000.0] * 2)
    assert one.interval == wilson(0.8, 10)


def grid() -> xr.Dataset:
    """Biomass by hand over two seeding rates, two of nitrogen and two timings; three falls."""
    dims = ("year", "sow", "seeding", "nitrogen", "nitrogen_timing", "end")
    biomass = np.full((3, 1, 2, 2, 2, 1), 3500.0 * POUND)
    biomass[:, :, :, 1] += 1000.0 * POUND
    return xr.Dataset(
        {"biomass_kg_ha": (dims, biomass)},
        coords={
            "year": [2001, 2002, 2003],
            "sow": ["10-20"],
            "seeding": [60 * POUND, 90 * POUND],
            "nitrogen": [0.0, 30 * POUND],
            "nitrogen_timing": ["sowing", "02-15"],
            "end": ["04-15"],
        },
        attrs={"cereal": "rye", "fertilizer": "urea"},
    )


def test_plans_without_nitrogen_have_no_timing() -> None:
    plans = standings(grid(), ("rolling",), prices(), "us", TARGET, SURE.level)
    assert len(plans) == 2 * (1 + 2)
    best = cheapest(plans, 0.8)
    assert best is not None
    assert best.plan.seeding == pytest.approx(60 * POUND)
    assert str(best.budget.total) == "48.00"  # 12 + 10 + 15 + 5 + 6


# --- one more pound, and other prices ---


def curve(slope: float, join: float, rate: float, price: str, name: str = "nitrogen") -> NextUnit:
    form = QUADRATIC_PLATEAU
    made = Curve(form, 2000.0, slope, join, 0.0, 120 * POUND, 1.0, 9)
    steep = Ranges(1.0, 60.0, 20.0, 40.0)  # told: it lies above nothing
    return NextUnit(name, rate, Choice(made, {form: 1.0}, ()), Decimal(price), steep)


@pytest.mark.analytic(
    "0.50 a lb at 40 lb of biomass a lb: a ton must be worth 2000 x 0.50 / 40 = 25"
)
def test_break_even_of_one_more_pound() -> None:
    start = curve(40.0, 100 * POUND, 0.0, "0.50")
    assert start.value_needed("us") == Decimal("25.00")
    half = curve(40.0, 100 * POUND, 50 * POUND, "0.50")  # the slope has fallen to a half
    assert half.value_needed("us") == Decimal("50.00")
    assert curve(40.0, 100 * POUND, 100 * POUND, "0.50").value_needed("us") is None
    # at 100 a ton a slope of 10 is needed: 40 (1 - N/100) = 10 at 75
    assert half.pays_up_to(Price(Decimal(100), "ton"), "us") == pytest.approx(75 * POUND, rel=1e-3)
    assert half.pays_up_to(Price(Decimal(1), "ton"), "us") == 0.0


def test_next_unit_fits_the_grid_that_it_is_given() -> None:
    dims = ("year", "sow", "seeding", "nitrogen", "nitrogen_timing", "end")
    rates = np.arange(0.0, 135.0, 15.0) * POUND
    biomass = (2000.0 + 30.0 * np.minimum(rates, 60 * POUND)).reshape(1, 1, 1, -1, 1, 1)
    made = xr.Dataset({"biomass_kg_ha": (dims, biomass)}, coords={"nitrogen": rates})
    found = next_unit("nitrogen", made, plan(), prices(), "us")
    assert found.slope == pytest.approx(30.0, rel=1e-4)
    assert found.value_needed("us") == Decimal("33.33")


@pytest.mark.analytic("a fifth of each item")
def test_prices_a_fifth_off() -> None:
    one = grown([4500.0] * 5)
    found = {s.name: s for s in swings(one, [one], prices(), "us", 0.8)}
    assert list(found) == [
        "seed",
        "nitrogen",
        "sowing",
        "rolling",
        "spreading",
        "herbicide",
        "spraying",
    ]
    assert tuple(map(str, found["seed"].totals)) == ("60.40", "67.60")
    assert tuple(map(str, found["nitrogen"].totals)) == ("61.00", "67.00")
    assert str(itemise(plan(), with_price(prices(), "rolling", Decimal(2)), "us").total) == "70.00"


def test_a_price_can_change_which_plan_is_cheapest() -> None:
    seed = grown([4500.0] * 5, seeding=100 * POUND, nitrogen=0.0)  # 20 + 10 + 16
    feed = grown([4500.0] * 5, seeding=40 * POUND, nitrogen=10 * POUND)  # 8 + 10 + 5 + 5 + 16
    assert cheapest([seed, feed], 0.8) is feed
    found = {s.name: s for s in swings(feed, [seed, feed], prices(), "us", 0.8)}
    low, high = found["seed"].cheapest
    assert low is not None and high is not None
    assert (low.plan, high.plan) == (seed.plan, feed.plan)


# --- sentences follow the numbers ---


def shown(one: Standing, other: Standing, wanted: float = 0.8, **more: Any) -> Shown:
    plans = [one, other]
    return Shown(
        prices=prices(),
        pair=(one, other),
        plans=plans,
        best=cheapest(plans, wanted),
        frontier=frontier(plans),
        next_units=[curve(40.0, 100 * POUND, 50 * POUND, "0.50")],
        swings=swings(one, plans, more.get("cost", prices()), "us", wanted),
        target=TARGET,
        wanted=wanted,
        value=more.get("value"),
        errors=more.get("errors", SURE),
    )


def said(one: Standing, other: Standing, wanted: float = 0.8, **more: Any) -> str:
    return " ".join(sentences(shown(one, other, wanted, **more), "us"))


def test_sentences_change_with_the_numbers() -> None:
    usual = grown([4500.0] * 9 + [3000.0])
    more = grown([5000.0] * 10, nitrogen=60 * POUND)
    told = said(usual, more, value=Price(Decimal(60), "ton"))
    assert "costs $64.00 an acre: seed $18.00" in told
    assert "costs $15.00 more an acre than A and makes 650 lb/ac more" in told
    assert "pays where a ton of biomass is worth more than $46.15" in told
    assert "At $60.00 a ton the change gains $4.50 an acre on average." in told
    assert "for $64.00 an acre: 90 percent, weather and field together (9 of 10 falls" in told
    assert "worth more than $50.00" in told
    other = said(more, usual, 0.95)
    assert "costs $15.00 less an acre than A and makes 650 lb/ac less" in other
    assert "worth less than $46.15" in other
    assert "for $79.00 an acre: 100 percent, weather and field together (10 of 10" in other
    none = said(grown([3000.0] * 10), grown([2000.0] * 10, sow="12-08"))
    assert "None of the 2 plans makes 4,000 lb/ac with a chance of 80 percent; nearest" in none
    assert "for $64.00 an acre: 0 percent, weather and field together (0 of 10 falls" in none
    assert "costs as much as A and makes 1,000 lb/ac less" in none
    assert "plan A is better in both" in said(usual, grown([3000.0] * 10, nitrogen=60 * POUND))
    assert "plan B is better in both" in said(more, grown([6000.0] * 10))
    rolled = said(usual, grown([4500.0] * 9 + [3000.0], endings=("rolling",)))
    assert "ended on Apr 15 by rolling) costs $10.00 less an acre than A and makes as" in rolled
    assert "plan B is the better" in rolled


def test_a_plan_says_how_it_is_ended() -> None:
    told = said(grown([4500.0] * 10), grown([4500.0] * 10, end="05-01"))
    assert "Plan A (Oct 20, 90 lb/ac of seed, 30 lb/ac of nitrogen at sowing, ended on Apr" in told
    assert "ended on May 1)" in told


# --- weather and field together ---


@pytest.mark.analytic("the chance of each fall by the error of levels; a dead stand has none")
def test_a_chance_is_of_weather_and_field() -> None:
    one = grown([4000.0, 8000.0, float("nan"), 1000.0], error=LEVEL)
    each = [float(LEVEL.chance_of(TARGET, made * POUND)) for made in (4000.0, 8000.0, 1000.0)]
    assert one.chance == pytest.approx(sum(each) / 4)
    assert each[0] == pytest.approx(0.5)
    assert (one.reached, one.share) == (2, 0.5)
    assert one.ranges.low < one.ranges.weather_low < one.ranges.weather_high < one.ranges.high


def test_the_choice_has_no_cliff_at_the_target() -> None:
    just, short = grown([4000.0] * 10, error=LEVEL), grown([3999.0] * 10, error=LEVEL)
    assert (just.reached, short.reached) == (10, 0)
    assert short.percent == just.percent
    assert cheapest([short], 0.5) is short


def test_a_cheaper_plan_that_is_nearly_as_sure_is_named() -> None:
    best, close = grown([4500.0] * 10), grown([4500.0] * 9 + [3000.0], nitrogen=0.0)
    far = grown([3000.0] * 10, seeding=60 * POUND, nitrogen=0.0)
    assert nearly([best, close, far], best, 10) is close
    assert nearly([best, close, far], best, 5) is None
    twenty = said(grown([4500.0] * 20), grown([4500.0] * 19 + [3000.0], nitrogen=0.0), 1.0)
    assert "For $20.00 less, Oct 20, 90 lb/ac of seed, no nitrogen, ended on Apr 15 comes" in twenty
    assert "to 95 percent (19 of 20 falls)" in twenty


def test_what_the_error_drowns_cannot_be_told() -> None:
    usual, more = grown([4500.0] * 10), grown([5000.0] * 10, nitrogen=60 * POUND)
    drowned = said(usual, more, errors=SHIPPED)
    assert "makes 500 lb/ac more biomass on average" in drowned
    assert "so that which of the two pays cannot be told" in drowned
    assert "it pays where a ton of biomass" not in drowned
    for text in ("the model was off by 2,590 lb/ac", "What nitrogen brought was off by 1,150"):
        assert text in drowned
    unit = replace(curve(40.0, 100 * POUND, 50 * POUND, "0.50"), ranges=Ranges(-5.0, 45.0, 0, 40))
    lost = " ".join(sentences(replace(shown(usual, more), next_units=[unit]), "us"))
    assert "it may be -5 to 45, so that whether it pays cannot be told" in lost
    assert "cannot be told" in tables(replace(shown(usual, more), next_units=[unit]), "us")[3]


def test_plans_that_grow_alike_have_no_error_between_them() -> None:
    usual = grown([4500.0] * 10)
    assert partial(usual, grown([4500.0] * 10, endings=())).ranges == Ranges(0, 0, 0, 0)
    fed = partial(usual, grown([4500.0] * 10, nitrogen=60 * POUND)).ranges
    assert fed.low < -1000 and fed.high > 1000
    bare = {"nitrogen": 0.0}
    held = partial(grown([4500.0], **bare), grown([4500.0], timing="02-15", **bare)).ranges
    assert held == Ranges(0, 0, 0, 0)


# --- payments, and whose prices they are ---


@pytest.mark.analytic("by hand: 64 less 30; and less 100")
def test_a_payment_lowers_the_cost() -> None:
    paid = prices(own={"cost share": Price(Decimal(-30), "acre")})
    one = grown([4500.0] * 10, cost=paid)
    assert str(one.budget.total) == "34.00"
    told = said(one, grown([4500.0] * 10, cost=paid, nitrogen=0.0), cost=paid)
    assert "costs $34.00 an acre: " in told and "cost share -$30.00" in told
    lease = prices(own={"lease": Price(Decimal(-100), "acre")})
    rich = grown([4500.0] * 10, cost=lease)
    assert "is paid $36.00 an acre more than it costs" in said(rich, rich, cost=lease)
    found = {s.name: s for s in swings(one, [one], paid, "us", 0.8)}
    assert tuple(map(str, found["cost share"].totals)) == ("40.00", "28.00")
    assert next(iter(found)) == "cost share"
    rows = item_rows(shown(one, one, cost=paid), "us")
    payment = next(row for row in rows if row["item"] == "cost share")
    assert (payment["cost"], payment["right"], payment["figure"]) == (-30.0, 0.0, "-$30.00")


def test_the_winning_plan_is_named_in_tables_and_chart() -> None:
    usual = grown([4500.0] * 9 + [3000.0])
    cheap = grown([4500.0] * 9 + [3000.0], nitrogen=0.0)
    made = shown(usual, grown([5000.0] * 10, nitrogen=60 * POUND))
    assert made.called("A") == "A, the cheapest"
    third = replace(made, plans=[*made.plans, cheap], best=cheap)
    assert list(third.named) == ["A", "B", "cheapest"]
    assert "cheapest: Oct 20, 90 lb/ac of seed, no nitrogen" in tables(third, "us")[0]
    assert re.search(r'"cheapest: \d+ %"', json.dumps(plans(third, "us").to_dict()))
    none = replace(made, plans=[*made.plans, grown([4500.0] * 10, nitrogen=90 * POUND)], best=None)
    assert list(none.named) == ["A", "B"]  # B reaches it as surely as the dearer one


def test_the_chart_marks_the_winner_and_the_time_of_nitrogen() -> None:
    made = shown(grown([4500.0] * 10), grown([5000.0] * 10, timing="02-15"))
    rows = item_rows(made, "us")
    assert {row["plan"] for row in rows if row["wins"]} == {"B, the cheapest"}
    totals = {row["plan"]: row["figure"] for row in rows if row["item"] == "total"}
    assert totals["B, the cheapest"] == money(made.pair[1].budget.total, "$")
    drawn = json.dumps(plans(made, "us").to_dict())
    assert '"domain": ["nitrogen at sowing", "nitrogen on Feb 15"]' in drawn
    assert "Stair: " in drawn and "Tick: " in drawn


# --- the command ---


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, ["budget", *arguments])


SMALL = ("--years", "1995:2000", "--sow", "10-20,12-08", "--nitrogen", "0,30 lb/acre")


def test_the_command_gives_tables_json_and_files(tmp_path: Path) -> None:
    out, chart = tmp_path / "b.csv", tmp_path / "b.svg"
    result = run(*SMALL, "--json", "--out", str(out), "--chart", str(chart))
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)
    assert len(found["rows"]) == 2 * 2 * 2 * 2
    for one in found["plans"]:
        costs = [Decimal(item["cost"]) for item in one["items"]]
        assert sum(costs) == Decimal(one["total"])
        assert one["area"] == "ha"
    assert found["units"]["cost_per_ha"] == "$/ha"
    assert any("invented round figures" in text for text in found["cautions"])
    assert out.read_text().count("\n") > 16
    assert chart.read_text().startswith("<svg")
    text = run(*SMALL)
    assert text.exit_code == 0, text.output
    assert "nitrogen   30 lb at" in text.stdout
    si = run(*SMALL, "--units", "si", "--target", "4500 kg/ha")
    assert "lb" not in si.stdout.replace("Keep", "")
    for one in (text, si):
        assert max(map(len, one.stdout.splitlines())) <= 96
        assert one.stdout.index("chance of 80 percent") < one.stdout.index("------")
    row = found["rows"][0]
    assert row["biomass_low_kg_ha"] < row["weather_low_kg_ha"] < row["weather_high_kg_ha"]
    assert 0 < row["chance_percent"] < 100
    assert found["partial"]["biomass_gained_low_kg_ha"] < found["partial"]["biomass_gained_kg_ha"]


def test_a_users_plan_is_one_of_those_to_choose_from() -> None:
    def found(*arguments: str) -> dict[str, Any]:
        made: dict[str, Any] = json.loads(
            run(*SMALL, "--chance", "20", "--json", *arguments).stdout
        )
        return made

    # without seed worth the name and ended by nothing it is the cheapest of all
    mine = found("--plan", "seeding=20 lb/acre; nitrogen=0 lb/acre; ended-by=none")
    assert mine["frontier"][0]["seeding_kg_ha"] == pytest.approx(20 * POUND, rel=1e-4)
    assert mine["frontier"][0]["ended_by"] == []
    assert len(mine["rows"]) == len(found()["rows"])  # the grid stays the grid
    # what a plan in the grid costs is not touched by one of the user's that only ends otherwise
    again = found("--plan", "seeding=90 lb/acre; nitrogen=0 lb/acre; ended-by=none")
    assert [row["cost_per_ha"] for row in again["rows"]] == [
        row["cost_per_ha"] for row in found()["rows"]
    ]


def test_what_a_plan_leaves_out_is_told() -> None:
    notes = json.loads(
        run(
            *SMALL, "--end", "04-01,04-15", "--plan", "sow=10-20; seeding=80 lb/acre", "--json"
        ).stdout
    )["notes"]
    assert any(
        "Plan B does not say everything" in note
        and "end = Apr 15" in note
        and "nitrogen = 30 lb/acre" in note
        and "sow =" not in note
        for note in notes
    )
    usual = json.loads(run(*SMALL, "--json").stdout)["notes"]
    assert not any("does not say everything" in note for note in usual)


def test_prices_that_the_user_put_in_are_not_called_invented(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    assert run("--write-prices", str(file)).exit_code == 0
    text = file.read_text()

    def caution(changed: str) -> str:
        file.write_text(changed)
        said = run(*SMALL, "--json", "--prices", str(file))
        assert said.exit_code == 0, said.output
        return str(json.loads(said.stdout)["cautions"][0])

    assert caution(text).endswith("check: invented round figures, of 2026-11-25.")
    some = text.replace('rye = "0.20', 'rye = "0.23').replace(
        "date = 2026-11-25", "date = 2027-02-03"
    )
    told = caution(some + '"cost share" = "-30.00 $/acre"\n')
    assert "check: seed and cost share as you put them in, of 2027-02-03; still invented" in told
    assert "of 2026-11-25: sowing, nitrogen, spreading, herbicide, spraying and rolling." in told
    every = some
    for price in ('"10.00', '"0.50', '"5.00', '"6.00'):
        every = every.replace(price, price[:-1] + "7")
    assert "invented" not in caution(every)
    assert caution(text.replace("invented round figures", "my dealer")).endswith(
        "check: my dealer, of 2026-11-25."
    )


def test_an_end_that_no_fall_reaches_is_told(tmp_path: Path) -> None:
    chart = tmp_path / "b.svg"
    result = run(*SMALL, "--end", "20000 lb/acre", "--chart", str(chart))
    assert result.exit_code == 0, result.output
    told = " ".join(result.stdout.split())
    assert "and plan A have no fall in which both reach their end" in told
    assert ": 0 percent, weather and field together (0 of 6 falls reach it)" in told
    assert run(*SMALL, "--end", "20000 lb/acre", "--json").exit_code == 0


def test_own_prices_are_used(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    assert run("--write-prices", str(file)).exit_code == 0
    again = run("--write-prices", str(file))
    assert again.exit_code == 2
    assert "is there already" in again.stderr
    before = json.loads(run(*SMALL, "--json").stdout)["plans"][0]["total"]
    file.write_text(file.read_text().replace('sowing = "10.00 $/acre"', 'sowing = "10.00 $/ha"'))
    found = json.loads(run(*SMALL, "--json", "--prices", str(file)).stdout)
    assert Decimal(before) - Decimal(found["plans"][0]["total"]) == Decimal("14.71")
    assert found["prices"]["file"] == str(file)


def test_plans_that_need_other_weather_are_compared_over_the_same_falls(tmp_path: Path) -> None:
    from simulator.weather.samples import sample_weather

    record = sample_weather().sel(time=slice("2001-08-01", "2004-05-01"))
    file = tmp_path / "short.csv"
    lines = [
        f"{str(day)[:10]},{high:.1f},{low:.1f},{rain:.1f}"
        for day, high, low, rain in zip(
            record["time"].values,
            record["tmax"].values,
            record["tmin"].values,
            record["rain"].values,
            strict=True,
        )
    ]
    file.write_text("date,tmax (degC),tmin (degC),rain (mm)\n" + "\n".join(lines) + "\n")
    result = run(
        "--weather",
        str(file),
        "--latitude",
        "31.6",
        "--plan",
        "sow=10-20",
        "--plan",
        "sow=10-20; end=05-15",
        "--json",
    )
    assert result.exit_code == 0, result.output
    assert [p["falls"] for p in json.loads(result.stdout)["plans"]] == [2, 2]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--plan", "sow=10-20; nitrgen=3"), "--plan: 'nitrgen=3' cannot be read."),
        (("--plan", "sow=10-20; sow=11-05"), "--plan: 'sow' is said twice."),
        (("--plan", "seeding=60,90 lb/acre"), "are several values"),
        (("--plan", "a=1", "--plan", "b=1", "--plan", "c=1"), "--plan: 3 plans are given."),
        (("--target", "04-15"), "--target: '04-15' is not a biomass."),
        (("--value", "40"), "--value: '40' is not a price."),
        (("--ended-by", "burning"), "--ended-by: 'burning' ends no stand."),
        (("--prices", "nowhere.toml"), "nowhere.toml: There is no such price file."),
        (("--chart", "b.gif"), "--chart: 'b.gif' does not end in"),
        (("--write-prices", "p.doc"), "--write-prices: 'p.doc' does not end in"),
    ],
)
def test_faults_are_told(arguments: tuple[str, ...], told: str, tmp_path: Path) -> None:
    result = run(*SMALL, "--out", str(tmp_path / "b.csv"), *arguments)
    assert result.exit_code == 2
    assert told in result.stderr
    assert not list(tmp_path.iterdir())
