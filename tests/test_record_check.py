"""A record from a user's hand: what is refused, what is made whole, and that each door asks."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

import simulator
import simulator.season.compare
import simulator.season.one_season
import simulator.weather.change
from simulator import InputError
from simulator.answers.degree_days.calculate import degree_days
from simulator.answers.outlook.calculate import outlook
from simulator.answers.outlook.known_weather import known_weather
from simulator.answers.risk.calculate import risk_at, whole_falls
from simulator.answers.risk.leaching_index import leaching_index_of
from simulator.answers.sensitivity.calculate import Field, SiteSeasons
from simulator.answers.shared.planting import usual_planting
from simulator.answers.timing.calculate import covered_dates
from simulator.answers.whatif.calculate import mean_total
from simulator.answers.why.calculate import why
from simulator.parameters.cereals import cereal
from simulator.parameters.fertilizers import fertilizer
from simulator.parameters.soils import previous_crop, soil
from simulator.season.residue_decay import follow
from simulator.season.until_planting import until_planting
from simulator.weather.change_text import parse_change
from simulator.weather.fall_year import fall_season, first_whole, usable_years, why_not
from simulator.weather.files.record_check import checked
from simulator.weather.generator.against_recorded import held_against
from simulator.weather.record import fill_short_gaps, unbroken
from simulator.weather.year_types import kinds_of_year

DAY = np.timedelta64(1, "D")


@pytest.fixture(scope="module")
def record() -> xr.Dataset:
    whole = simulator.sample_weather()
    return whole.sel(time=slice("1995-08-01", "2008-07-31"))


def without(record: xr.Dataset, first: str, last: str) -> xr.Dataset:
    """Leave days out of the time axis, as a user's own table may."""
    days = record["time"].values.astype("datetime64[D]")
    return record.isel(time=(days < np.datetime64(first)) | (days > np.datetime64(last)))


def on(record: xr.Dataset, name: str, day: int, value: float) -> xr.Dataset:
    values = record[name].values.copy()
    values[day] = value
    return record.assign({name: record[name].copy(data=values)})


def at_times(record: xr.Dataset, times: Any) -> xr.Dataset:
    return record.assign_coords(time=times)


def with_nat(record: xr.Dataset) -> xr.Dataset:
    times = record["time"].values.copy()
    times[7] = np.datetime64("NaT")
    return at_times(record, times)


def in_a_zone(record: xr.Dataset) -> xr.Dataset:
    return at_times(record, record.indexes["time"].tz_localize("America/Chicago"))


def by_the_hour(record: xr.Dataset) -> xr.Dataset:
    half_days = np.arange(record.sizes["time"]) * np.timedelta64(12, "h")
    return at_times(record, record["time"].values[0] + half_days)


def in_unit(record: xr.Dataset, name: str, unit: str) -> xr.Dataset:
    return record.assign({name: record[name].assign_attrs(units=unit)})


SITE = "record of Tallow Bend"
FAULTS: dict[str, tuple[Callable[[xr.Dataset], Any], str]] = {
    "no rain": (lambda r: r.drop_vars("rain"), f"{SITE}: It has no rain. A record has daily"),
    "no tmax": (lambda r: r.drop_vars("tmax"), f"{SITE}: It has no tmax."),
    "no tmin": (lambda r: r.drop_vars("tmin"), f"{SITE}: It has no tmin."),
    "no dates": (lambda r: r.drop_vars("time"), "It has no dimension 'time' with a date"),
    "a table": (lambda r: r.to_dataframe(), "A DataFrame is not a record of weather"),
    "kelvin": (lambda r: in_unit(r, "tmax", "K"), "tmax: Its units are 'K', a record's degC."),
    "inches": (lambda r: in_unit(r, "rain", "inch"), "rain: Its units are 'inch', a record's mm."),
    "no unit": (lambda r: in_unit(r, "rain", "glass"), "'glass' are not a unit of rain."),
    "Fahrenheit unsaid": (
        lambda r: r.assign(tmax=r.tmax * 1.8 + 32.0),
        "If it is in degF, subtract 32 and divide by 1.8.",
    ),
    "kelvin unsaid": (lambda r: r.assign(tmin=r.tmin + 273.15), "If it is in K, subtract 273.15."),
    "exchanged": (lambda r: r.assign(tmax=r.tmin, tmin=r.tmax), "Exchange the two."),
    "crossed": (lambda r: on(r, "tmin", 40, 56.0), "1995-09-10: tmax"),
    "negative rain": (lambda r: on(r, "rain", 40, -1.0), "rain on 1995-09-10: -1 mm is no rain."),
    "code for missing": (lambda r: on(r, "rain", 40, 999.9), "999.9 stands for a missing value."),
    "too wet": (lambda r: on(r, "rain", 40, 2000.0), "outside what weather does (0 to 1825 mm)"),
    "wet year": (lambda r: r.assign(rain=r.rain * 0 + 40.0), "mm in a mean year"),
    "infinite": (lambda r: on(r, "tmax", 40, np.inf), "tmax on 1995-09-10: inf is no weather."),
    "brighter than the sun": (
        lambda r: r.assign(radiation=("time", np.full(r.sizes["time"], 200.0))),
        "radiation on 1995-08-01: 200 MJ m-2 d-1 and",
    ),
    "text": (lambda r: r.assign(rain=r.rain.astype(str)), "no numbers"),
    "yes and no": (lambda r: r.assign(rain=r.rain > 0), "Its values are of the kind bool"),
    "two places": (lambda r: r.expand_dims(place=2), "Cut one place out of it."),
    "NaT": (with_nat, "time 7: The date is missing (NaT)."),
    "twice": (
        lambda r: r.isel(time=[0, 1, 1, *range(2, r.sizes["time"])]),
        "1995-08-02 stands twice.",
    ),
    "out of order": (lambda r: r.isel(time=slice(None, None, -1)), "comes after"),
    "by the hour": (by_the_hour, "It has more than one time on 1995-08-01"),
    "a time zone": (in_a_zone, "Its times have a time zone. Take it off with tz_localize(None)"),
    "numbers for dates": (lambda r: at_times(r, np.arange(r.sizes["time"])), "which is no date"),
    "no days": (lambda r: r.isel(time=slice(0, 0)), "It has no days."),
    "beyond the pole": (
        lambda r: r.assign_attrs(latitude=131.0),
        "latitude: The record's, 131, is out of range. The model runs from 0",
    ),
    "in the south": (lambda r: r.assign_attrs(latitude=-31.0), "The record's, -31, is out of"),
    "latitude as text": (lambda r: r.assign_attrs(latitude="31 N"), "'31 N', is not a number."),
}

PLAN = {
    "sow": "10-20",
    "seeding": "90 lb/acre",
    "nitrogen": "30 lb/acre",
    "nitrogen_timing": "sowing",
}
FIELD = Field(
    cereal=cereal("rye"),
    soil=soil("sandy loam"),
    previous_crop=previous_crop("cotton"),
    fertilizer=fertilizer("ammonium nitrate"),
    sow="10-20",
    end="04-15",
    seeding=100.0,
    nitrogen=60.0,
)
ENDED = xr.Dataset(coords={"end": "04-15", "year": [1999]})
DOORS: dict[str, Callable[[Any], Any]] = {
    "compare": simulator.compare,
    "run_season": partial(simulator.run_season, plan=simulator.Plan(), year=1999),
    "change_weather": lambda r: simulator.change_weather(r, "rain november = 11 inch"),
    "fit_climatology": simulator.fit_climatology,
    "generate_weather": partial(simulator.generate_weather, years=2),
    "generate_weather resampled": partial(simulator.generate_weather, years=2, method="resampled"),
    "held_against": lambda r: held_against(r, lambda draw: np.zeros((3, 1)), 0.2),
    "kinds_of_year": kinds_of_year,
    "why": why,
    "outlook": lambda r: outlook(r, PLAN, {}, ends=["04-15"]),
    "known_weather": lambda r: known_weather(r, "10-20", "04-15"),
    "degree_days": partial(degree_days, bases=[4.0]),
    "risk_at": lambda r: risk_at(r, {**PLAN, "sow": ["10-20"], "end": ["04-15"]}, {}, target=1.0),
    "whole_falls": lambda r: whole_falls(r, ["10-20"], ["04-15"]),
    "covered_dates": lambda r: covered_dates(r, "10-20", None),
    "usual_planting": lambda r: usual_planting(r, "10-20", ["04-15"], None),
    "until_planting": lambda r: until_planting(r, planting="05-01"),
    "leaching_index_of": lambda r: leaching_index_of(r, 75.0),
    "mean_total": lambda r: mean_total(r, parse_change("rain november = 11 inch")),
    "follow": lambda r: follow(r, ENDED),
    "sensitivity": lambda r: SiteSeasons(r, FIELD),
    "chart": lambda r: simulator.chart(None, weather=r),
}


@pytest.mark.parametrize("wrong", FAULTS)
def test_what_is_no_record_is_refused_in_plain_words(record: xr.Dataset, wrong: str) -> None:
    spoil, told = FAULTS[wrong]
    with pytest.raises(InputError, match=re.escape(told)):
        checked(spoil(record))


@pytest.mark.parametrize("door", DOORS)
@pytest.mark.parametrize(
    "wrong",
    [
        "no rain",
        "kelvin",
        "exchanged",
        "negative rain",
        "NaT",
        "twice",
        "out of order",
        "by the hour",
        "infinite",
        "beyond the pole",
        "text",
        "a table",
    ],
)
def test_every_door_asks(record: xr.Dataset, door: str, wrong: str) -> None:
    spoil, told = FAULTS[wrong]
    with pytest.raises(InputError, match=re.escape(told)):
        DOORS[door](spoil(record))


def test_all_faults_are_told_at_once(record: xr.Dataset) -> None:
    wrong = on(on(record, "rain", 3, -1.0), "tmax", 5, 99.0).assign_attrs(latitude=-3.0)
    with pytest.raises(InputError) as raised:
        checked(wrong)
    places = [problem.where.removeprefix(f"{SITE}, ") for problem in raised.value.problems]
    assert places == ["tmax on 1995-08-06", "rain on 1995-08-04", "latitude"]


def test_a_sound_record_goes_through_as_it_is(record: xr.Dataset) -> None:
    assert checked(record) is record
    missing = on(on(record, "tmax", 3, np.nan), "rain", 9, np.nan)
    assert checked(missing) is missing
    bare = record.map(lambda values: values * 1.0, keep_attrs=False).assign_attrs(latitude=31.6)
    assert "units" not in bare["tmax"].attrs
    assert checked(bare) is bare


@pytest.mark.parametrize("unit", ["celsius", "°C", "degC"])
def test_other_spellings_of_a_unit_are_the_same_unit(record: xr.Dataset, unit: str) -> None:
    checked(in_unit(record, "tmax", unit))


def test_a_record_changed_on_purpose_may_leave_what_weather_does(record: xr.Dataset) -> None:
    flooded = simulator.change_weather(record, "rain 11-10 = 100 inch", "tmax july + 30 degC")
    assert float(flooded["rain"].max()) > 1825.0 and float(flooded["tmax"].max()) > 57.0
    assert checked(flooded) is flooded
    with pytest.raises(InputError, match="is no rain"):
        checked(on(flooded, "rain", 3, -1.0))
    with pytest.raises(InputError, match="is no weather"):
        checked(on(flooded, "rain", 3, np.inf))


@pytest.mark.analytic("a season hangs on its own days")
def test_days_left_out_cost_their_own_season_alone(record: xr.Dataset) -> None:
    broken = without(record, "1999-11-01", "1999-12-30")
    told = "no tmax and tmin and rain from 1999-11-01 to 1999-12-30 (60 days)"
    plans = {"sow": "10-20", "nitrogen": "60 lb/acre"}
    grid, whole = (simulator.compare(one, **plans) for one in (broken, record))
    assert grid.attrs["left_out"] == [f"1999: {told}."]
    xr.testing.assert_equal(grid, whole.drop_sel(year=1999))
    for year in (1998, 2005):
        days, as_whole = (
            simulator.run_season(one, simulator.Plan(), year=year) for one in (broken, record)
        )
        xr.testing.assert_equal(days, as_whole)
    with pytest.raises(InputError, match=re.escape(told)):
        simulator.run_season(broken, simulator.Plan(), year=1999)


@pytest.mark.analytic("a season hangs on its own days")
def test_advice_counts_by_date_where_days_are_left_out(record: xr.Dataset) -> None:
    broken = without(record, "1999-11-01", "1999-12-30")
    sums, whole = (degree_days(one, bases=[4.0]) for one in (broken, record))
    xr.testing.assert_equal(sums, whole.drop_sel(year=1999))
    november = parse_change("rain november = 11 inch")
    others = record.isel(time=~((record.time.dt.year == 1999) & (record.time.dt.month == 11)))
    rain = others["rain"][others.time.dt.month == 11]
    assert mean_total(broken, november) == pytest.approx(float(rain.sum()) / 12)
    grid = simulator.compare(
        record, sow="10-20", nitrogen="60 lb/acre", end="04-15", years=range(2001, 2004)
    ).squeeze()
    xr.testing.assert_equal(follow(broken, grid), follow(record, grid))


def test_few_days_left_out_are_filled_and_told(record: xr.Dataset) -> None:
    broken = without(record, "1999-11-05", "1999-11-07")
    grid = simulator.compare(broken, sow="10-20", nitrogen="60 lb/acre")
    assert grid.attrs["left_out"] == []
    assert "tmax 3 days by a straight line: 1999-11-05..1999-11-07" in grid.attrs["filled"]


def test_days_left_out_are_noted_and_the_record_is_not_altered(record: xr.Dataset) -> None:
    broken = without(record, "1999-11-01", "1999-12-30").assign_attrs(notes="read twice")
    size = broken.sizes["time"]
    changed = simulator.change_weather(broken, "rain march * 2")
    assert changed.attrs["notes"] == (
        "read twice; the record has no days from 1999-11-01 to 1999-12-30 (60 days)"
    )
    assert changed.sizes["time"] == record.sizes["time"]
    assert broken.sizes["time"] == size and broken.attrs["notes"] == "read twice"


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(1, 118), max_size=30, unique=True))
def test_every_day_left_out_comes_back_missing(left_out: list[int]) -> None:
    days = np.datetime64("1999-10-01") + np.arange(120)
    values = np.arange(120.0) / 10
    whole = xr.Dataset(
        {
            name: ("time", values + more)
            for name, more in (("tmax", 10.0), ("tmin", 0.0), ("rain", 0.0))
        },
        {"time": days.astype("datetime64[ns]")},
        {"latitude": 31.0},
    )
    made = checked(whole.drop_isel(time=np.array(left_out, dtype=int)))
    expected = values.copy()
    expected[np.array(left_out, dtype=int)] = np.nan
    np.testing.assert_array_equal(made["time"].values, whole["time"].values)
    np.testing.assert_array_equal(made["rain"].values, expected)
    assert bool(left_out) == ("the record has no days" in made.attrs.get("notes", ""))


def test_many_spells_are_counted(record: xr.Dataset) -> None:
    made = unbroken(record.isel(time=slice(0, 100)).isel(time=slice(None, None, 3)))
    assert made.attrs["notes"].count("the record has no days") == 5
    assert made.attrs["notes"].endswith("; nor 28 other spells of days")
    assert made.sizes["time"] == 100


def test_what_reads_a_record_by_position_sets_it_right_first(record: xr.Dataset) -> None:
    broken = without(record, "1999-11-01", "1999-12-30")
    years, reasons = usable_years(broken, "10-20", "04-15")
    assert years == [y for y in range(1995, 2008) if y != 1999] and list(reasons) == [1999]
    assert why_not(broken, 2003, "10-20", "04-15") == ""
    assert first_whole(broken, "04-15") == first_whole(record, "04-15")
    xr.testing.assert_equal(fall_season(broken, 2003), fall_season(record, 2003))
    assert fill_short_gaps(broken).sizes["time"] == record.sizes["time"]


def test_one_time_a_day_other_than_midnight_is_that_day(record: xr.Dataset) -> None:
    noon = at_times(record, record["time"].values + np.timedelta64(12, "h"))
    made = checked(noon)
    np.testing.assert_array_equal(made["time"].values, record["time"].values)
    assert made.attrs["notes"].endswith("its times of day (12:00) were left out")


def test_a_call_checks_once(record: xr.Dataset, monkeypatch: pytest.MonkeyPatch) -> None:
    seen = []

    def counted(one: xr.Dataset) -> xr.Dataset:
        seen.append(one)
        return checked(one)

    for module in (simulator.season.compare, simulator.season.one_season, simulator.weather.change):
        monkeypatch.setattr(module, "checked", counted)
    simulator.compare(
        record, sow="10-20", nitrogen="0 lb/acre", years=[1999], changes="rain november = 11 inch"
    )
    assert len(seen) == 1
    simulator.run_season(record, simulator.Plan(), year=1999)
    assert len(seen) == 2
