"""Fall by fall, a month's rain, the soil: the page's numbers are those of the commands."""

from __future__ import annotations

import json
import shlex
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

import numpy as np
import pytest
from click.testing import CliRunner

from simulator import units
from simulator.commands import fallsown
from simulator.page.question import Question
from simulator.page.records import PlaceWeather, sample_place
from simulator.page.views import falls, rain, rain_view, soil
from simulator.page.views.plan_link import read_with_own
from simulator.problems import InputError
from simulator.season.compare import compare
from simulator.season.one_season import run_season
from simulator.season.plan import Plan
from simulator.weather.year_types import kinds_of_year

PLACE = "tallow-bend"
Asked = tuple[Question, PlaceWeather, dict[str, str]]


def asked(view: Any, **given: str) -> Asked:
    query = urlencode({key.replace("_", "-"): text for key, text in given.items()})
    question, own = read_with_own(query, view.OWN)
    return question, sample_place(question.place), own


def said(line: str) -> Any:
    """What a command line says as JSON."""
    done = CliRunner().invoke(fallsown, [*shlex.split(line)[1:], "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


@pytest.mark.parametrize(
    "given",
    [
        {"sow_b": "11-05", "units": "si"},
        {"against": "nitrogen", "fed": "02-20", "nitrogen": "60 kg/ha", "units": "si"},
    ],
)
def test_a_fall_differs_as_compare_says(given: dict[str, str]) -> None:
    question, place, own = asked(falls, **given)
    found = falls.find(question, place, own)
    shown = falls.payload(found, own)
    by_command = said(shown["command"])
    (row,) = by_command["differences"]
    assert row["falls_ahead"] == found.difference.ahead
    assert row["difference_mean_kg_ha"] == found.difference.mean
    assert shown["in_field"] == [
        pytest.approx(row[f"difference_{end}_kg_ha"], abs=0.05) for end in ("low", "high")
    ]
    choice = "sow" if question.plan.nitrogen == "30 kg/ha" else "nitrogen_timing"
    made = {(one["year"], one[choice]): one["biomass_kg_ha"] for one in by_command["rows"]}
    for one in shown["rows"]:
        second, first = made[one["year"], row["second"]], made[one["year"], row["first"]]
        assert one["difference"] == pytest.approx(second - first, abs=0.05)
    assert [one["difference"] for one in shown["rows"]] == sorted(
        one["difference"] for one in shown["rows"]
    )
    counted = found.difference.by_kind(kinds_of_year(place.record))
    assert sum(won for won, _ in counted.values()) == row["falls_ahead"]
    assert f"in {row['falls_ahead']} of {row['falls']} falls" in shown["first"]
    assert all(f"{won} of {of} {kind}" in shown["first"] for kind, (won, of) in counted.items())


def test_plans_that_are_one_in_every_fall_are_told_so() -> None:
    found = falls.find(*asked(falls, against="nitrogen", nitrogen="60 lb/acre"))
    one = replace(found.difference, of_falls=tuple(0.0 for _ in found.difference.years))
    texts = falls.sentences(replace(found, difference=one))
    assert texts[1:] == [f"In {len(one.years)} of {len(one.years)} both make the same."]


@pytest.mark.parametrize("month", ["November", "January"])
def test_a_step_of_rain_is_what_if(month: str) -> None:
    question, place, own = asked(rain, month=month, nitrogen="60 lb/acre", most="10 inch")
    curve = rain.find(question, place, own)
    at = curve.texts.index("4 inch")
    grid = compare(
        place.record,
        sow=["10-20"],
        nitrogen=["0 kg/ha", "60 lb/acre"],
        changes=[f"rain {month.lower()} = 4 inch"],
        years=place.years,
    ).sel(case="changed")
    for field, mine in (
        ("biomass_kg_ha", curve.grid.biomass),
        ("nitrate_leached_kg_ha", curve.grid.leached),
    ):
        theirs = grid[field].transpose("year", "nitrogen", ...).values.reshape(mine[at].shape)
        np.testing.assert_array_equal(mine[at], theirs)
    days = place.record["rain"].to_series()
    months = days[days.index.month == 11 + (month == "January") * -10]
    assert curve.recorded.max() == pytest.approx(months.groupby(months.index.year).sum().max())


def test_the_command_of_the_curve_says_the_usual_rain() -> None:
    question, place, own = asked(rain, units="si", nitrogen="60 kg/ha")
    curve = rain.find(question, place, own)
    shown = rain_view.payload(curve, own)
    made = [
        row["biomass_kg_ha"]
        for row in said(shown["command"])["rows"]
        if row["case"] == "changed" and row["nitrogen_kg_ha"] > 0
    ]
    assert np.mean(made) == pytest.approx(curve.at_usual.biomass[0, :, -1].mean(), rel=1e-12)
    assert units.spell(float(np.mean(made)), "biomass", "si") in shown["first"]


def falling(curve: rain.Curve, at_none: float, slope: float) -> rain.Curve:
    """A curve whose nitrogen brings less in a straight line, the same in every fall."""

    def grid(of: rain.Grid, mm: np.ndarray) -> rain.Grid:
        response = np.broadcast_to((at_none - slope * mm)[:, None], of.biomass.shape[:2])
        return replace(of, biomass=np.stack([response * 0.0, response], axis=-1))

    return replace(
        curve,
        grid=grid(curve.grid, curve.rain),
        at_usual=grid(curve.at_usual, np.array([curve.usual])),
    )


@pytest.mark.analytic(
    "a straight line a - s x is half of its height at u where x = (a / s + u) / 2"
)
def test_where_the_response_is_halved() -> None:
    question, place, own = asked(rain, units="si")
    curve = rain.find(question, place, own)
    at_none, slope = 4000.0, 4000.0 / curve.most
    found = rain.halved(falling(curve, at_none, slope))
    assert found.more == pytest.approx((at_none / slope + curve.usual) / 2.0)
    assert found.less is None
    flat = falling(curve, at_none, 0.0)
    assert rain.halved(flat) == rain.Halved(at_none, None, None)
    assert "never half" in rain_view.half_said(flat, rain.halved(flat))
    assert rain.halved(falling(curve, rain.LITTLE / 2.0, 0.0)) is None


def test_what_cannot_be_told_of_the_half_is_said() -> None:
    question, place, own = asked(rain)
    curve = rain.find(question, place, own)
    for at_none, told in ((200.0, False), (9000.0, True)):
        texts = " ".join(rain_view.sentences(falling(curve, at_none, 0.0)))
        assert ("so where that is halved, cannot be told" in texts) is not told
        assert ("In a field like these it brings" in texts) is told


def test_steps_are_round_and_about_twelve() -> None:
    for system, most, wettest in (
        ("us", "14 inch", 0.0),
        ("us", "", 250.0),
        ("si", "", 435.0),
        ("si", "325 mm", 0.0),
        ("us", "1 inch", 0.0),
    ):
        texts = rain.steps(system, most, wettest)
        assert 8 <= len(texts) <= rain.STEPS + 2
        assert texts[0].startswith("0 ")
        assert not most or texts[-1] == most
        assert units.parse(texts[-1], "mm", name="most") >= wettest


def test_the_soil_is_that_of_the_season() -> None:
    question, place, own = asked(soil, year="2007", nitrogen="60 kg/ha", units="si")
    column = soil.find(question, place, own)
    shown = soil.payload(column, own)
    plan = Plan(sow="10-20", seeding=question.plan.seeding, nitrogen="60 kg/ha")
    days = run_season(place.record, plan, year=2007)
    for name in ("nitrate_by_layer_kg_ha", "water_by_layer_mm", "root_depth_cm"):
        np.testing.assert_array_equal(column.of(name), days[name].values)
    thick = column.thick
    held = np.array(shown["nitrate"]) * thick / 10.0
    np.testing.assert_allclose(held.sum(axis=1), column.of("soil_nitrate_kg_ha"), atol=1.0)
    by_command = said(shown["command"])
    for name in ("biomass_kg_ha", "nitrate_leached_kg_ha", "root_depth_cm"):
        assert column.of(name)[-1] == by_command["rows"][-1][name]
    assert sum(shown["rain"]) == pytest.approx(float(column.of("rain_mm")[-1]), abs=1.0)
    assert shown["dates"][shown["sown"]] == "2007-10-20"


@pytest.mark.analytic(
    "below no roots lies all, below the deepest layer nothing, and half of a layer"
)
def test_what_lies_below_the_roots() -> None:
    column = soil.find(*asked(soil, year="2007"))
    nitrate = column.of("nitrate_by_layer_kg_ha")
    for depth, layers in ((0.0, nitrate), (column.bottoms[-1], 0.0 * nitrate)):
        days = column.days.assign(root_depth_cm=("time", np.full(len(nitrate), depth)))
        np.testing.assert_allclose(
            replace(column, days=days).below_roots(), layers.sum(axis=1), atol=1e-12
        )
    middle = 0.5 * column.bottoms[0]
    days = column.days.assign(root_depth_cm=("time", np.full(len(nitrate), middle)))
    np.testing.assert_allclose(
        replace(column, days=days).below_roots(), nitrate.sum(axis=1) - 0.5 * nitrate[:, 0]
    )


def test_each_day_says_what_has_leached_below() -> None:
    column = soil.find(*asked(soil, year="2007", units="si"))
    texts = soil.days_said(column)
    assert "no roots are there yet" in texts[0]
    gone = units.spell(float(column.of("nitrate_leached_kg_ha")[150]), "nitrogen", "si")
    below = units.spell(float(column.below_roots()[150]), "nitrogen", "si")
    assert f"{gone} of nitrate nitrogen has leached below the soil" in texts[150]
    assert f"{below} lies below the roots" in texts[150]


@pytest.mark.parametrize(
    ("view", "given", "where"),
    [
        (falls, {"sow_b": "10-20"}, "sow-b"),
        (falls, {"sow_b": "05-20"}, "sow-b"),
        (falls, {"against": "nitrogen", "fed": "10-10"}, "fed"),
        (falls, {"against": "nitrogen", "nitrogen": "0 lb/acre"}, "nitrogen"),
        (falls, {"against": "seed"}, "against"),
        (rain, {"month": "June"}, "month"),
        (rain, {"month": "May", "end": "03-15"}, "month"),
        (rain, {"most": "10"}, "most"),
        (rain, {"most": "99 inch"}, "most"),
        (soil, {"year": "1950"}, "year"),
        (soil, {"day": "yesterday"}, "day"),
        (soil, {"colour": "blue"}, "colour"),
        (rain, {"seeding": "many"}, "seeding"),
    ],
)
def test_a_fault_is_told_at_its_control(view: Any, given: dict[str, str], where: str) -> None:
    with pytest.raises(InputError) as caught:
        view.find(*asked(view, **given))
    assert [problem.where for problem in caught.value.problems] == [where]


def test_faults_of_plan_and_view_are_told_together() -> None:
    with pytest.raises(InputError) as caught:
        asked(rain, most="much", sow="13-1", month="Juno")
    assert {problem.where for problem in caught.value.problems} == {"most", "sow", "month"}


def test_tables_are_in_si_with_their_origin() -> None:
    for view, table in ((falls, falls.table), (rain, rain_view.table), (soil, soil.table)):
        head, *_ = table(view.find(*asked(view))).splitlines()
        assert head.startswith("# plan: Rye sown on Oct 20")
