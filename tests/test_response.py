"""The response to nitrogen: identities, hand arithmetic on made grids, and the command."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner, Result

from simulator.answers.response import chart, fates_chart
from simulator.answers.response.calculate import (
    ALL,
    FATES,
    field,
    marginal,
    one_plan,
    responses,
    spoken_rate,
)
from simulator.answers.response.forecast import forecast_value, timing_value
from simulator.answers.response.sowing_pairs import equal_pairs, rate_reaching
from simulator.answers.response.table import Shown, tables, whole_percents
from simulator.answers.response.words import sentences
from simulator.answers.shared.one_more_pound import step_ranges
from simulator.commands import fallsown
from simulator.parameters.model_error import RESPONSE, SHIPPED, ModelErrors
from simulator.season.compare import compare
from simulator.weather.samples import sample_weather

RATES = np.array([0.0, 30.0, 60.0, 90.0])
YEARS = [2001, 2002, 2003, 2004]
KINDS = {2001: "dry", 2002: "dry", 2003: "wet", 2004: "wet"}
SOW = ["10-20", "12-08"]
TIMINGS = ["sowing", "02-15"]


def grid(
    early: float = 20.0, held: float = 20.0, wet: float = 0.5, late: float = 1000.0
) -> xr.Dataset:
    """Biomass 2000 + slope x N, early sown; ``late`` less, late sown; nitrogen given at sowing
    brings ``wet`` times as much in wet years, and what it does not bring is leached."""
    shape = (len(YEARS), len(SOW), len(RATES), len(TIMINGS))
    slope = np.full(shape, held)
    slope[..., 0] = early
    slope[2:, ..., 0] *= wet
    rate = np.broadcast_to(RATES[None, None, :, None], shape)
    biomass = 2000.0 + slope * rate
    biomass[:, 1] -= late
    took = np.where(slope < held, 0.2, 0.6) * rate
    fields = {
        "biomass_kg_ha": biomass,
        "fertilizer_kg_ha": rate,
        "nitrogen_uptake_kg_ha": 30.0 + took,
        "root_nitrogen_kg_ha": 5.0 + 0.06 * rate,
        "killed_nitrogen_kg_ha": 0.0 * rate,
        "shed_nitrogen_kg_ha": 1.0 + 0.04 * rate,
        "nitrate_leached_kg_ha": 20.0 + 0.8 * rate - took,
        "denitrified_kg_ha": 2.0 + 0.05 * rate,
        "volatilised_kg_ha": 0.0 * rate,
        "soil_nitrate_kg_ha": 10.0 + 0.02 * rate,
        "soil_ammonium_kg_ha": 2.0 + 0.0 * rate,
        "litter_nitrogen_kg_ha": 0.0 * rate,
        "mineralised_kg_ha": 60.0 - 0.03 * rate,
    }
    dims = ("year", "sow", "nitrogen", "nitrogen_timing")
    made = xr.Dataset(
        {name: (dims, values) for name, values in fields.items()},
        coords={"year": YEARS, "sow": SOW, "nitrogen": RATES, "nitrogen_timing": TIMINGS},
        attrs={"cereal": "rye", "soil": "loam", "site": "Made", "invented": "yes"},
    )
    return made.expand_dims(seeding=[100.0], end=["04-15"])


SURE = ModelErrors(response=replace(RESPONSE, rmse=0.1))  # a model that hardly errs


def shown(made: xr.Dataset, hit: float | None = None, errors: ModelErrors = SHIPPED) -> Shown:
    part = one_plan(made)
    return Shown(
        plans=part,
        responses=responses(part, KINDS),
        yearly=[],
        pairs=equal_pairs(part, "sowing", errors.response),
        value=timing_value(part, "10-20", KINDS, hit, errors.response),
        kinds_by="made",
        errors=errors,
    )


def said(made: xr.Dataset, **more: Any) -> str:
    return " ".join(sentences(shown(made, **more), "si"))


# --- the chart ---


def test_a_colour_has_one_meaning_and_the_titles_figure_is_drawn() -> None:
    here = shown(grid(), errors=SURE)
    drawn = chart.chart(here, "si").to_dict()
    title = " ".join(drawn["title"]["text"])
    brought = re.search(r"brings ([\d,]+) kg/ha", title)
    assert brought
    figures = {row.get("told") for rows in drawn["datasets"].values() for row in rows}
    assert f"+{brought[1]}" in figures
    response, kinds = drawn["vconcat"][0]["hconcat"]
    above = json.dumps([response, kinds])
    assert not any(colour in above for _, colour, _ in fates_chart.PLACES.values())
    marks = [layer["mark"]["type"] for layer in kinds["layer"]]
    assert marks.count("rule") == 3  # of nothing, of the falls, of a field like these
    for row in chart.gain_rows(here, "si"):
        assert row["field_low"] <= row["gained"] <= row["field_high"]


def test_where_nitrogen_ended_adds_up_to_all_of_it() -> None:
    rows = fates_chart.fate_rows(shown(grid()))
    plans = {(row["sown"], row["timing"]) for row in rows}
    for plan in plans:
        parts = [row["percent"] for row in rows if (row["sown"], row["timing"]) == plan]
        assert sum(parts) == pytest.approx(100.0, abs=1e-9)


# --- numbers ---


@pytest.mark.analytic("the slopes and shares that the grid was made of")
def test_slopes_recovery_and_losses_by_kind() -> None:
    found = {(r.sow, r.timing, r.kind): r for r in responses(one_plan(grid()), KINDS)}
    dry, wet = found["10-20", "sowing", "dry"], found["10-20", "sowing", "wet"]
    assert (dry.slope, wet.slope) == pytest.approx((20.0, 10.0))
    assert found["10-20", "sowing", ALL].slope == pytest.approx(15.0)
    assert (dry.share("shoots"), wet.share("shoots")) == pytest.approx((0.6, 0.2))
    assert (dry.share("leached"), wet.share("leached")) == pytest.approx((0.2, 0.6))
    assert dry.share("tied_up") == pytest.approx(0.03)
    assert (dry.falls, found["10-20", "sowing", ALL].falls) == (2, 4)
    assert dry.choice.curve is None  # four rates


@pytest.mark.analytic("what goes in comes out: the nitrogen balance of either season closes")
def test_shares_of_simulated_seasons_add_up_to_what_was_applied() -> None:
    made = compare(
        sample_weather(),
        nitrogen="0,45,90 lb/acre",
        years=range(2000, 2006),
        nitrogen_timing=["sowing", "sowing 1/3 + 02-15 2/3"],
    )
    more = marginal(one_plan(made))
    total = sum(more[field(fate)] for fate in FATES)
    assert np.abs(total - more["applied_kg_ha"]).max() < 1e-6
    assert more["applied_kg_ha"].isel(nitrogen=-1).min() == pytest.approx(100.876, abs=1e-2)
    assert not more.isel(nitrogen=0)["gained_kg_ha"].any()


@pytest.mark.analytic("largest remainders: 100 in all")
@pytest.mark.parametrize(
    ("shares", "percents"),
    [
        ([1 / 3, 1 / 3, 1 / 3], [34, 33, 33]),
        ([0.615, 0.385, 0.0], [62, 38, 0]),
        ([1.02, -0.02], [102, -2]),
        ([float("nan"), 1.0], []),
    ],
)
def test_percents_add_up_as_printed(shares: list[float], percents: list[int]) -> None:
    assert whole_percents(shares) == percents


@pytest.mark.analytic("means joined by lines")
def test_the_rate_that_reaches_a_target() -> None:
    means = np.array([1000.0, 1600.0, 1900.0, 1900.0])
    assert rate_reaching(RATES, means, 1300.0) == pytest.approx(15.0)
    assert rate_reaching(RATES, means, 1900.0) == pytest.approx(60.0)
    assert rate_reaching(RATES, means, 900.0) == 0.0
    assert np.isnan(rate_reaching(RATES, means, 1900.1))


@pytest.mark.analytic("15 kg per kg on average: 1000 kg less takes 66.7 kg of nitrogen")
def test_a_late_sowing_equals_an_early_one() -> None:
    (pair,) = equal_pairs(one_plan(grid()), "sowing")
    assert (pair.earlier, pair.later) == ("10-20", "12-08")
    assert (pair.rate, pair.target) == pytest.approx((1000 / 15, 2000.0))
    assert (pair.reached, pair.falls) == (2, 4)  # dry falls only
    (none,) = equal_pairs(one_plan(grid(late=1500.0)), "sowing")
    assert np.isnan(none.rate)
    assert (none.most, none.most_rate) == pytest.approx((1850.0, 90.0))


def test_falls_that_a_rate_did_not_finish_count_nowhere() -> None:
    made = grid()
    made["biomass_kg_ha"].loc[{"year": 2004, "nitrogen": 90.0, "nitrogen_timing": "02-15"}] = np.nan
    found = responses(one_plan(made), KINDS)
    assert {r.falls for r in found if r.kind == "wet"} == {1}
    assert {r.falls for r in found if r.kind == ALL} == {3}


def test_rates_in_any_order_and_the_rate_spoken_of() -> None:
    turned = one_plan(grid().isel(nitrogen=[2, 0, 3, 1]))
    assert turned["nitrogen"].values.tolist() == RATES.tolist()
    assert spoken_rate(turned) == 60.0
    assert spoken_rate(turned.isel(nitrogen=[0])) == 0.0


# --- what a forecast is worth ---

VALUES = np.array([[10.0, 0.0], [10.0, 4.0], [0.0, 8.0], [2.0, 6.0]])
TWO = ["dry", "dry", "wet", "wet"]


@pytest.mark.analytic("enumeration by hand: means 10 and 2 dry, 1 and 7 wet")
def test_what_a_forecast_is_worth() -> None:
    value = forecast_value(VALUES, TWO, 0.75)
    assert value is not None
    assert value.single == 0
    assert value.by_kind == {"dry": 0, "wet": 1}
    assert value.known_kind == pytest.approx((10 + 7) / 2 - 5.5)
    assert value.perfect == pytest.approx((10 + 10 + 8 + 6) / 4 - 5.5)
    # told "dry" it is dry in 3 of 4: 0.75 x 10 + 0.25 x 1; told "wet": 0.25 x 2 + 0.75 x 7
    assert value.with_hit_rate == pytest.approx(0.5 * 7.75 + 0.5 * 5.75 - 5.5)


@pytest.mark.analytic("each fall's timing chosen from the other three")
def test_a_forecast_judged_on_falls_left_out() -> None:
    value = forecast_value(VALUES, TWO)
    assert value is not None
    # single from the others: 12 to 18 -> 1, 12 to 14 -> 1, 22 to 10 -> 0, 20 to 12 -> 0
    # by kind: dry from the other dry fall: 0; wet from the other wet fall: 1
    assert value.left_out == pytest.approx(((10 - 0) + (10 - 4) + (8 - 0) + (6 - 2)) / 4)


@pytest.mark.analytic(
    "a forecast that hits as often as chance tells nothing; one always right, all"
)
@pytest.mark.parametrize("kinds", [TWO, ["dry", "wet", "normal", "wet"]])
def test_the_ends_of_the_hit_rate(kinds: list[str]) -> None:
    count = len(set(kinds))
    blind = forecast_value(VALUES, kinds, 1.0 / count)
    sure = forecast_value(VALUES, kinds, 1.0)
    assert blind is not None and sure is not None
    assert blind.with_hit_rate == pytest.approx(0.0, abs=1e-12)
    assert sure.with_hit_rate == pytest.approx(sure.known_kind)
    assert 0 <= sure.known_kind <= sure.perfect


def test_one_kind_or_one_timing_needs_no_forecast() -> None:
    assert forecast_value(VALUES, ["dry"] * 4) is None
    assert forecast_value(VALUES[:, :1], TWO) is None


# --- sentences follow the numbers ---


def test_sentences_change_with_the_numbers() -> None:
    told = said(grid())
    assert "40 percent are in the shoots, 40 percent leached" in told
    assert "bring most in dry years (1,200 kg/ha" in told
    assert "with 67 kg/ha equals the Oct 20 sowing with none (2,000 kg/ha); in 2 of 4" in told
    assert "most given on Feb 15 (1,200 kg/ha" in told
    assert "No rate tried brings the Dec 8 sowing" in said(grid(late=1500.0))
    assert "The Dec 8 sowing makes as much with none as the Oct 20" in said(grid(late=0.0))
    assert "about as much in every kind of year" in said(grid(wet=1.0))
    assert "bring most in wet years" in said(grid(wet=2.0))
    assert "makes little difference" in said(grid(wet=1.0))


def test_a_forecast_is_worth_something_only_where_kinds_differ_in_what_is_best() -> None:
    assert "a forecast of the kind is worth nothing" in said(grid())
    # at sowing 30 x 60 dry and 12 x 60 wet, held 20 x 60: 1260 on average against 1200
    told = said(grid(early=30.0, wet=0.4), hit=0.8)
    assert "at sowing is best, but on Feb 15 in wet years" in told
    assert "to know the kind of year beforehand is worth 240 kg/ha" in told
    # told "wet" (half of the falls) held makes 1200, at sowing 0.2 x 1800 + 0.8 x 720 = 936
    assert "in 80 of 100 falls is worth 130 kg/ha" in told


# --- weather and field together ---


# a tenth of the way from the 90th of 100 equal parts, within whose middle 79 percent lie, to the
# 91st, within whose middle 81 percent do
WITHIN = (0.9 * RESPONSE.reach(0.79) + 0.1 * RESPONSE.reach(0.81)) * RESPONSE.rmse


@pytest.mark.analytic("all falls bring 1200: fields lie around that by the error of responses")
def test_what_nitrogen_brings_holds_the_error_of_responses() -> None:
    (first, *_) = responses(one_plan(grid(wet=1.0)), {})
    brings = first.brings()
    assert (brings.weather_low, brings.weather_high) == pytest.approx((1200.0, 1200.0))
    assert (brings.low, brings.high) == pytest.approx((1200 - WITHIN, 1200 + WITHIN), abs=1.0)


def test_what_the_error_drowns_cannot_be_told() -> None:
    made = grid(early=30.0, wet=0.4)
    drowned, sure = said(made), said(made, errors=SURE)
    assert "whether it brings any cannot be told" in said(grid(wet=1.0))
    assert "so that whether such a forecast is worth anything cannot be told" in drowned
    assert "such a forecast is worth anything cannot be told" not in sure
    assert "whether it brings any cannot be told" not in sure
    assert "In wet years nitrogen on Feb 15 beats nitrogen at sowing with a chance of" in drowned
    assert "with a chance of 100 percent" in sure
    for text in ("the model was off by 2,900 kg/ha", "What nitrogen brought was off by 1,280"):
        assert text in drowned
    assert "Spread over 90 kg/ha, that is 14 of biomass for each kilogram" in drowned


def test_the_chance_of_a_pair_has_no_cliff_where_the_count_of_falls_has() -> None:
    def pair(late: float) -> tuple[int, float]:
        (found,) = equal_pairs(one_plan(grid(wet=1.0, late=late)), "sowing")
        return found.reached, found.chance

    # the latest that 90 of nitrogen makes up for is 1800; a little more and no fall reaches it
    (all_falls, before), (none, after) = pair(1800.0), pair(1801.0)
    assert (all_falls, none) == (4, 0)
    assert before == pytest.approx(0.5, abs=1e-6)
    assert after == pytest.approx(before, abs=0.002)


@pytest.mark.analytic("10 a unit in all falls; the error of 90 units spread over 90 units")
def test_one_more_unit_has_the_error_spread_over_the_rates_tried() -> None:
    biomass = np.tile(2000.0 + 10.0 * RATES, (4, 1))
    ranges = step_ranges(RATES, biomass, 30.0)
    reach = WITHIN / 90.0
    assert (ranges.weather_low, ranges.weather_high) == pytest.approx((10.0, 10.0))
    assert (ranges.low, ranges.high) == pytest.approx((10 - reach, 10 + reach), abs=0.02)
    bent = biomass + np.array([0.0, 0.0, 0.0, 300.0])
    assert step_ranges(RATES, bent, 60.0).weather_low == pytest.approx(20.0)  # the step above
    assert step_ranges(RATES, bent, 90.0).weather_low == pytest.approx(20.0)  # the last step


def test_tables_have_both_ranges_and_no_finer_digits_than_the_error_allows() -> None:
    made = grid()
    made["biomass_kg_ha"] = made["biomass_kg_ha"] + 3.0
    text = "\n".join(tables(shown(made), "si"))
    assert "over    in a field" in text
    assert " 2000 " in text and "2003" not in text


# --- the command ---


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, ["response", *arguments])


SMALL = ("--years", "1995:2003", "--sow", "10-20,12-08", "--nitrogen", "0,40,80 lb/acre")


def test_the_command_gives_json_and_files(tmp_path: Path) -> None:
    out, chart = tmp_path / "r.nc", tmp_path / "r.svg"
    result = run(*SMALL, "--json", "--out", str(out), "--chart", str(chart), "--hit-rate", "70")
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)
    assert len(found["rows"]) == 9 * 2 * 3 * 3
    row = found["rows"][-1]
    parts = sum(row[field(fate)] for fate in FATES)
    assert parts == pytest.approx(row["applied_kg_ha"], abs=1e-6)
    assert {row["kind_of_year"] for row in found["rows"]} == {"dry", "normal", "wet"}
    assert {c["kind"] for c in found["curves"]} >= {"all", "dry", "wet", "1995", "2003"}
    assert found["forecast"]["hit_rate"] == pytest.approx(0.7)
    assert any("nutrient management" in text for text in found["cautions"])
    with xr.open_dataset(out) as data:
        assert data["gained_kg_ha"].attrs["units"] == "kg/ha"
    assert chart.read_text().startswith("<svg")
    curve = found["curves"][0]
    assert curve["gained_low_kg_ha"] < curve["weather_gained_low_kg_ha"]
    assert curve["biomass_high_kg_ha"][0] > curve["weather_high_kg_ha"][0]
    assert all(0 < pair["chance_percent"] < 100 for pair in found["pairs"])


def test_tables_hold_their_width_and_say_what_they_lack() -> None:
    result = run(*SMALL)
    assert result.exit_code == 0, result.output
    assert max(map(len, result.stdout.splitlines())) <= 96
    assert result.stdout.index("In a field like these") < result.stdout.index("------")
    assert "3 rates are too few for a curve, which takes 5 at least" in " ".join(
        result.stdout.split()
    )
    alone = run("--years", "1999", "--sow", "11-05", "--nitrogen", "0 lb/acre")
    assert alone.exit_code == 0, alone.output
    assert "1 rate is too few" in " ".join(alone.stdout.split())
    ended = run(*SMALL, "--end", "4000 lb/acre", "--nitrogen-timing", "sowing", "--hit-rate", "60")
    assert ended.exit_code == 0, ended.output
    assert "reached the end at every rate and timing" in " ".join(ended.stdout.split())
    assert "The hit rate tells nothing" in " ".join(ended.stdout.split())


def test_a_record_without_falls_has_no_kinds_and_says_so(open_data: Path) -> None:
    file = open_data / "weather" / "headland_winters_2005_2007.csv"
    result = run(
        "--weather",
        str(file),
        "--latitude",
        "31.3",
        "--sow",
        "11-20",
        "--nitrogen-timing",
        "sowing",
    )
    assert result.exit_code == 0, result.output
    assert "Years are not sorted by kind." in result.stdout


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--kinds", "moon phase"), "--kinds: 'moon phase' is neither a file nor a way"),
        (("--seeding", "60,90 lb/acre"), "--seeding: 60 lb/acre, 90 lb/acre are several values."),
        (("--nitrogen", "30"), "'30' has no unit"),
        (("--chart", "r.gif"), "--chart: 'r.gif' does not end in"),
    ],
)
def test_faults_are_told(arguments: tuple[str, ...], told: str, tmp_path: Path) -> None:
    result = run(*SMALL, "--out", str(tmp_path / "r.csv"), *arguments)
    assert result.exit_code == 2
    assert told in result.stderr
    assert not list(tmp_path.iterdir())


def test_a_list_of_years_must_match(tmp_path: Path) -> None:
    listed = tmp_path / "kinds.csv"
    listed.write_text("year,kind\n1995,wet\n1996,dry\n")
    result = run(*SMALL, "--kinds", str(listed))
    assert result.exit_code == 2
    assert "No kind is given for 1997" in result.stderr
