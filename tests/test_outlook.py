"""The season under way: splices, bands, scores, the trial on past seasons, and the words."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner, Result

from simulator.answers.outlook import data as outlook_data
from simulator.answers.outlook import words as outlook_words
from simulator.answers.outlook.calculate import Outlook, outlook
from simulator.answers.outlook.chart import fan_rows
from simulator.answers.outlook.hindcast import judge
from simulator.answers.outlook.known_weather import Known, known_weather
from simulator.answers.outlook.remainders import is_leap, same_days, season_blocks, splice
from simulator.answers.shared.few_falls import band, crps
from simulator.answers.shared.field_ranges import biomass_ranges, chance_in_fields
from simulator.commands import fallsown
from simulator.parameters.model_error import LEVEL
from simulator.problems import InputError
from simulator.season.compare import compare
from simulator.season.plan import day_number
from simulator.weather.fall_year import season_day
from simulator.weather.record import A_DAY
from simulator.weather.samples import sample_weather

PLAN = {
    "sow": "10-20",
    "seeding": "90 lb/acre",
    "nitrogen": "30 lb/acre",
    "nitrogen_timing": "sowing",
}
ENDS = ["04-01", "04-15"]


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, ["outlook", *arguments], catch_exceptions=False)


def prose(*arguments: str) -> str:
    result = run(*arguments)
    assert result.exit_code == 0, result.stderr
    return " ".join(result.stdout.split())


@pytest.fixture(scope="module")
def sample() -> xr.Dataset:
    return sample_weather()


@pytest.fixture(scope="module")
def here(sample: xr.Dataset) -> Outlook:
    return outlook(sample, PLAN, {}, ends=ENDS)


# --- scores and bands ---


@pytest.mark.other_program("xskillscore, crps_ensemble")
@pytest.mark.parametrize(
    ("members", "happened", "score"),
    [
        ([1, 2, 3, 4], 2.5, 0.375),
        ([0, 0, 1, 1], 0.5, 0.25),
    ],
)
def test_crps_of_ensembles(members: list[float], happened: float, score: float) -> None:
    assert crps(np.array(members, float), np.array(happened)) == pytest.approx(score, abs=1e-12)


@pytest.mark.analytic("one member: the absolute error; and E|X-y| - E|X-X'|/2 by all pairs")
def test_crps_by_its_definition() -> None:
    assert crps(np.array([3.0]), np.array(5.0)) == pytest.approx(2.0)
    draws = np.random.default_rng(1).gamma(2.0, size=(4, 3, 9))
    happened = draws[..., 0] + 0.3
    pairs = np.abs(draws[..., :, None] - draws[..., None, :]).mean(axis=(-2, -1))
    by_hand = np.abs(draws - happened[..., None]).mean(axis=-1) - 0.5 * pairs
    assert crps(draws, happened) == pytest.approx(by_hand)


@pytest.mark.analytic("the integral of (F - 1[x >= y])^2, summed over a fine grid")
def test_crps_is_the_integral() -> None:
    members, happened = np.array([1.0, 2.0, 4.0]), 2.6
    x = np.arange(0, 6, 1e-4) + 5e-5
    share = (members[:, None] <= x).mean(axis=0)
    integral = ((share - (x >= happened)) ** 2).sum() * 1e-4
    assert crps(members, np.array(happened)) == pytest.approx(integral, abs=1e-4)


@pytest.mark.analytic(
    "9 or 19 values: the 1st and 9th, the 2nd and 18th stand at 0.1 and 0.9; an "
    "exchangeable further value lies between in 8 of 10 orders"
)
@pytest.mark.parametrize(("n", "out"), [(9, 1), (19, 2), (29, 3)])
def test_bands_hold_eight_of_ten(n: int, out: int) -> None:
    low, median, high = band(np.arange(1.0, n + 1))
    assert (low, median, high) == pytest.approx((out, (n + 1) / 2, n + 1 - out))
    # of the n + 1 ranks that a further value may take, all alike likely, these are between
    assert (n + 1 - 2 * out) / (n + 1) == pytest.approx(0.8)


def test_few_values_give_their_range() -> None:
    low, _, high = band(np.array([5.0, 1.0, 3.0]))
    assert (low, high) == (1.0, 5.0)


# --- splices ---


@pytest.mark.analytic("the calendar")
def test_leap_winters() -> None:
    assert [year for year in range(1995, 2025) if is_leap(year)] == list(range(1995, 2025, 4))


@pytest.mark.analytic("the calendar: every day takes its own month and day of the other year")
@pytest.mark.parametrize(
    ("year", "other"), [(2003, 2004), (2004, 2003), (2003, 2007), (2001, 2002)]
)
def test_same_days(year: int, other: int) -> None:
    places = same_days(year, other)
    for day in range(366):
        own = str(season_day(year, "07-01") + day * A_DAY)[5:]
        theirs = str(season_day(other, "07-01") + int(places[day]) * A_DAY)[5:]
        if own == "02-29" and not is_leap(other):
            assert theirs == "02-28"
        elif day < 365:
            assert theirs == own


def test_a_splice_is_the_season_then_the_other(sample: xr.Dataset) -> None:
    years = [2003, 2004, 2005]  # 2003 has a 29 February
    blocks = season_blocks(sample, years)
    today = day_number(2003, "01-15")
    joined = splice(blocks[0], blocks[1:], 2003, years[1:], today)
    mine = sample.sel(time=slice("2003-08-01", "2004-01-15"))
    assert (joined[1, 0, 31 : today + 1] == mine["tmax"].values).all()
    spring = sample.sel(time=slice("2006-03-01", "2006-06-30"))  # of fall 2005, second of others
    at = day_number(2003, "03-01")
    assert (joined[1, 2, at : at + spring.sizes["time"]] == spring["rain"].values).all()
    leap = sample.sel(time="2006-02-28")
    assert joined[1, 1, at - 1] == float(leap["tmin"])


@pytest.mark.analytic(
    "known to the day before the end, every remainder leads to the same biomass "
    "but for one day; known fully, it is that of compare"
)
def test_it_ends_where_compare_ends(sample: xr.Dataset) -> None:
    grown = compare(sample, sow="10-20", nitrogen="30 lb/acre", end="04-15", years=[2010])
    truth = float(grown["biomass_kg_ha"].squeeze())
    found = outlook(sample, PLAN, {}, ends=["04-15"], year=2010, today="04-14", with_hindcast=False)
    members = found.fan["biomass_kg_ha"].isel(as_of=-1).values
    assert np.ptp(members) < 0.1 * truth
    assert members == pytest.approx(truth, rel=0.1)


def test_the_usual_is_that_of_compare(sample: xr.Dataset, here: Outlook) -> None:
    grown = compare(sample, sow="10-20", nitrogen="30 lb/acre", end=ENDS, years=here.others)
    theirs = grown["biomass_kg_ha"].squeeze().transpose("end", "year").values
    assert here.usual == pytest.approx(theirs, rel=1e-12)


def test_a_year_is_never_its_own_remainder(here: Outlook) -> None:
    assert here.known.year == 2024
    assert 2024 not in here.others
    assert len(here.others) == 29
    assert here.fan.sizes["other"] == 29


def test_a_season_of_another_weather_does_not_see_its_own_future(sample: xr.Dataset) -> None:
    """What happened after today must not matter to the outlook."""
    changed = sample.copy(deep=True)
    changed["rain"].loc[{"time": slice("2025-01-16", "2025-07-31")}] = 60.0
    before, after = (
        outlook(one, PLAN, {}, ends=ENDS, with_hindcast=False) for one in (sample, changed)
    )
    assert (before.fan["biomass_kg_ha"].values == after.fan["biomass_kg_ha"].values).all()


def test_days_that_come_in_narrow_the_band(here: Outlook) -> None:
    assert here.hindcast is not None
    width = here.hindcast["width_kg_ha"].sel(end="04-15").values
    assert all(later < earlier for earlier, later in pairwise(width))
    score = here.hindcast["crps_kg_ha"].sel(end="04-15").values
    assert all(later < earlier for earlier, later in pairwise(score))


# --- what is known ---


def test_the_record_that_ends_in_the_season_sets_today(sample: xr.Dataset) -> None:
    short = sample.sel(time=slice(None, "2025-02-20"))
    assert known_weather(short, "10-20", "04-15") == Known(year=2024, today="02-20", as_if=False)
    assert known_weather(sample, "10-20", "04-15") == Known(year=2024, today="01-15", as_if=True)
    assert known_weather(sample, "02-01", "04-15").today == "03-09"  # half-way
    blank = short.copy(deep=True)
    blank["rain"].loc[{"time": slice("2025-02-11", None)}] = np.nan
    assert known_weather(blank, "10-20", "04-15").today == "02-10"


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"today": "05-01"}, "the season is over"),
        ({"year": 2025, "today": "12-01"}, "The weather ends on 2025-07-31"),
        ({"year": 1980}, "The weather begins on 1995-08-01"),
    ],
)
def test_what_is_not_known(sample: xr.Dataset, more: dict, says: str) -> None:
    with pytest.raises(InputError, match=says):
        known_weather(sample, "10-20", "04-15", **more)


def test_gaps_before_today_and_too_few_falls(sample: xr.Dataset) -> None:
    gap = sample.copy(deep=True)
    gap["tmax"].loc[{"time": slice("2024-11-01", "2024-11-20")}] = np.nan
    with pytest.raises(InputError, match=r"no tmax from 2024-11-01 .* whole from sowing to today"):
        outlook(gap, PLAN, {}, ends=ENDS)
    with pytest.raises(InputError, match="at least 5 other falls; the weather has 4"):
        outlook(sample.sel(time=slice("2020-08-01", None)), PLAN, {}, ends=ENDS)


def test_before_sowing_the_outlook_is_the_usual(sample: xr.Dataset) -> None:
    found = outlook(sample, PLAN, {}, ends=["04-15"], today="09-01", with_hindcast=False)
    members = found.fan["biomass_kg_ha"].isel(as_of=-1).values.ravel()
    usual = found.usual[0]
    assert np.median(members) == pytest.approx(np.median(usual), rel=0.1)


# --- the trial on past seasons ---


@pytest.mark.analytic("three seasons by hand: the band of two others is their range")
def test_judging_by_hand() -> None:
    happened = np.array([[1.0], [2.0], [4.0]])
    made = np.array([[[[0.0], [2.0]]], [[[3.0], [5.0]]], [[[4.0], [4.0]]]])
    found = judge([2001, 2002, 2003], ["04-15"], ["01-15"], made, happened).squeeze()
    assert float(found["inside_percent"]) == pytest.approx(100 * 2 / 3)
    assert float(found["width_kg_ha"]) == pytest.approx((2 + 2 + 0) / 3)
    # others as they were: {2, 4}, {1, 4}, {1, 2}
    assert float(found["usual_width_kg_ha"]) == pytest.approx((2 + 3 + 1) / 3)
    assert float(found["crps_kg_ha"]) == pytest.approx((0.5 + 1.5 + 0) / 3)
    usual = ((1 + 3) / 2 - 0.5 + (1 + 2) / 2 - 0.75 + (3 + 2) / 2 - 0.25) / 3
    assert float(found["usual_crps_kg_ha"]) == pytest.approx(usual)
    assert float(found["skill_percent"]) == pytest.approx(100 * (1 - (2 / 3) / usual))


@pytest.mark.analytic(
    "outlooks that are the other years as they were have no skill; perfect ones all of it"
)
def test_judging_the_usual_and_the_perfect() -> None:
    happened = np.random.default_rng(5).normal(5000, 900, size=(12, 1))
    others = np.stack([np.delete(happened, at, axis=0) for at in range(12)])[:, None]
    names = list(range(2001, 2013))
    usual = judge(names, ["04-15"], ["01-15"], others, happened).squeeze()
    assert float(usual["skill_percent"]) == pytest.approx(0.0, abs=1e-9)
    assert float(usual["width_kg_ha"]) == pytest.approx(float(usual["usual_width_kg_ha"]))
    perfect = judge(names, ["04-15"], ["01-15"], others * 0 + happened[:, None, None], happened)
    assert float(perfect["skill_percent"].squeeze()) == pytest.approx(100.0)
    assert float(perfect["inside_percent"].squeeze()) == 100.0


@pytest.mark.analytic(
    "of 20 seasons and 19 others the ends are the 2nd and 18th: 16 of the 20 ranks lie inside"
)
def test_bands_of_exchangeable_seasons_are_honest() -> None:
    happened = np.random.default_rng(11).gamma(3.0, size=(20, 1))
    others = np.stack([np.delete(happened, at, axis=0) for at in range(20)])[:, None]
    found = judge(range(20), ["04-15"], ["01-15"], others, happened)
    assert float(found["inside_percent"].squeeze()) == pytest.approx(80.0)


# --- words ---


def said(found: Outlook, target: float = 4483.4) -> str:
    data = outlook_data.dataset(found, target)
    return " ".join(outlook_words.sentences(found, data, "si", target))


def scaled(found: Outlook, factor: float) -> Outlook:
    return replace(found, fan=found.fan * factor)


def test_sentences_change_with_the_numbers(here: Outlook) -> None:
    members = here.fan["biomass_kg_ha"].isel(as_of=-1, end=-1).values
    median = float(np.median(members))
    middle = float(np.median(LEVEL.in_fields(members)))
    ranges = biomass_ranges(members)
    told = said(here)
    assert f"makes {round(middle, -1):,.0f} kg/ha on Apr 15 in the middle case" in told
    low, high = (f"{round(end, -1):,.0f}" for end in (ranges.low, ranges.high))
    assert f"and {low} to {high} kg/ha in 8 of 10, weather and field together" in told
    assert "In 32 site-seasons at 10 places" in told
    assert "cannot be told" in said(scaled(here, 1.2))
    assert "more than this place's usual" in said(scaled(here, 3))
    assert "outside its usual range" in said(scaled(here, 3))
    assert "less than this place's usual" in said(scaled(here, 0.5))
    usual = float(np.median(here.usual[-1]))
    assert "about this place's usual" in said(scaled(here, usual / median))
    assert "rest of the season as in 29 of the 29 other falls" in said(here, 1.0)
    chance = 100 * chance_in_fields(members, 4483.4)
    assert f"The chance of 4,480 kg/ha is {chance:.0f} percent in a field like these" in told
    assert "rest of the season as in 0 of the 29 other falls" in said(here, 1e6)


def test_the_band_in_the_picture_begins_today(here: Outlook) -> None:
    rows = fan_rows(here, "si")
    today = f"{season_day(here.known.year, here.known.today)}T00:00:00"
    assert next(row["day"] for row in rows if row["low"] is not None) == today
    assert all(row["middle"] is not None for row in rows)
    days = [row["day"] for row in rows]
    assert days == sorted(set(days))


def test_narrowing_is_said_as_it_is(here: Outlook) -> None:
    assert "the band by weather alone has narrowed from" in said(here)
    backwards = here.fan.assign(
        biomass_kg_ha=here.fan["biomass_kg_ha"].copy(data=here.fan["biomass_kg_ha"].values[::-1])
    )
    assert "the band by weather alone has widened from" in said(replace(here, fan=backwards))


@pytest.mark.parametrize(
    ("inside", "low", "high", "words"),
    [
        (80.0, 62.0, 90.0, "agrees with what was promised"),
        (50.0, 33.0, 67.0, "too narrow"),
        (100.0, 88.0, 100.0, "wider than they need"),
    ],
)
def test_the_verdict_follows_the_share(
    here: Outlook, inside: float, low: float, high: float, words: str
) -> None:
    assert here.hindcast is not None
    tried = here.hindcast.copy(deep=True)
    for name, value in (("inside", inside), ("inside_low", low), ("inside_high", high)):
        tried[f"{name}_percent"][:] = value
    told = said(replace(here, hindcast=tried))
    assert words in told
    assert f"{inside:.0f} percent came out inside" in told
    tried["skill_percent"][:] = -12.0
    assert "12 percent larger than that of the usual" in said(replace(here, hindcast=tried))


def test_weather_and_field_stand_beside_the_weather_alone(here: Outlook) -> None:
    data = outlook_data.dataset(here, 4483.4).isel(as_of=-1, end=-1)
    members = here.fan["biomass_kg_ha"].isel(as_of=-1, end=-1).values
    ranges = biomass_ranges(members)
    assert float(data["biomass_low_kg_ha"]) == pytest.approx(ranges.low)
    assert float(data["biomass_high_kg_ha"]) == pytest.approx(ranges.high)
    assert float(data["chance_percent"]) == pytest.approx(100 * chance_in_fields(members, 4483.4))
    low, median, high = band(members)
    assert float(data["weather_low_kg_ha"]) == pytest.approx(float(low))
    assert float(data["weather_median_kg_ha"]) == pytest.approx(float(median))
    assert float(data["weather_high_kg_ha"]) == pytest.approx(float(high))
    share = float(data["weather_chance_percent"])
    assert share == pytest.approx(100 * (members >= 4483.4).mean())
    assert float(data["weather_chance_low_percent"]) < share
    assert "chance_low_percent" not in data


def test_how_old_the_weather_is(sample: xr.Dataset) -> None:
    short = sample.sel(time=slice(None, "2025-02-20"))
    found = outlook(short, PLAN, {}, ends=ENDS, with_hindcast=False)

    def told(day: str) -> str:
        return outlook_words.of_age(found, np.datetime64(day), "si")

    assert told("2025-02-20") == ""
    later = told("2025-03-02")
    assert later.startswith("The weather ends on Feb 20, 2025, 10 days ago; since then the stand")
    grown = found.paths["biomass_kg_ha"].interp(time=np.datetime64("2025-03-02", "ns")).values
    spread = np.ptp(grown)
    assert spread > 0
    assert "in a field like these up to" in later
    assert "1 day ago" in told("2025-02-21")
    assert "the last end is past" in told("2025-06-01")
    whole = outlook(sample, PLAN, {}, ends=ENDS, with_hindcast=False)
    assert outlook_words.of_age(whole, np.datetime64("2026-01-01"), "si") == ""


# --- the command ---


def test_without_options_it_answers() -> None:
    told = prose("--no-hindcast")
    assert "Weather known up to Jan 15, 2025 (as if it were today)" in told
    assert "29 falls, 1995 to 2023" in told
    assert "A model's answer is not a recommendation" in told
    assert "was not tried on past seasons" in told


def test_json_out_and_chart(tmp_path: Path) -> None:
    out, drawn = tmp_path / "outlook.csv", tmp_path / "fan.svg"
    result = run(
        "--json",
        "--year",
        "2010",
        "--today",
        "02-01",
        "--end",
        "04-01,04-15",
        "--out",
        str(out),
        "--chart",
        str(drawn),
    )
    answer = json.loads(result.stdout)
    assert answer["inputs"]["today"] == "02-01"
    row = answer["rows"][-1]
    assert (row["site"], row["year"], row["end"]) == ("Tallow Bend", 2010, "04-15")
    assert row["as_of"] == "2011-02-01"
    assert row["biomass_low_kg_ha"] < row["biomass_median_kg_ha"] < row["biomass_high_kg_ha"]
    assert answer["units"]["biomass_median_kg_ha"] == "kg/ha"
    assert {one["other"] for one in answer["others"]} == set(range(1995, 2025)) - {2010}
    assert {one["date"] for one in answer["hindcast"]} >= {"12-15", "01-15"}
    assert "biomass_low_kg_ha" in out.read_text()
    picture = drawn.read_text()
    assert "in the middle case" in picture
    for told in ("today, Feb 1", "forecast made on", "target 4,000 lb/ac", "forecasts for Apr 15"):
        assert told in picture
    assert f"{round(row['biomass_high_kg_ha'] / 1.120851, -1):,.0f}</text>" in picture


def test_an_end_that_is_past_is_left_out() -> None:
    answer = json.loads(run("--json", "--no-hindcast", "--today", "03-20").stdout)
    assert answer["left_out"] == ["end 03-15: not after 03-20"]
    assert {row["end"] for row in answer["rows"]} == {"04-01", "04-15"}


def test_a_season_to_come_is_the_usual() -> None:
    told = prose("--year", "2025", "--no-hindcast")
    assert "Weather known up to Jul 31, 2025" in told
    assert "about this place's usual" in told


def test_the_trial_speaks_of_today() -> None:
    told = prose("--year", "2010", "--today", "02-03")
    assert "past seasons known to Feb 3, " in told


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--today", "05-20"], "--today: On 2025-05-20 the season is over"),
        (["--today", "soon"], "--today: 'soon' is not a date"),
        (["--year", "2030"], "The weather ends on 2025-07-31, before 2030-07-31"),
        (["--year", "99999"], "--year"),
        (["--end", "zadoks 61"], "--end: 'zadoks 61' is not a date"),
        (["--sow", "10-20,11-05"], "are several values"),
        (["--years", "2001:2003"], "at least 5 other falls; the weather has 3"),
        (["--target", "10"], "--target: '10' has no unit"),
        (["--out", "x.txt"], "--out"),
    ],
)
def test_what_cannot_be_answered(arguments: list[str], says: str) -> None:
    result = run(*arguments)
    told = " ".join(result.stderr.split())
    assert result.exit_code == 2, result.output
    assert says in told
    assert result.stdout == ""
