"""What-ifs: the grammar, the rules of rain and temperature, and what is refused."""

from __future__ import annotations

import contextlib
import dataclasses
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.problems import InputError
from simulator.weather.change import MOST_CHANGES, change_weather
from simulator.weather.change_text import GRAMMAR, parse_change
from simulator.weather.rain_total import MOST_RAIN_A_DAY, with_total
from simulator.weather.record import make_record
from simulator.weather.samples import sample_weather

AT_ONCE = 5.0  # seconds of the processor, the first call loading pint; a hang takes for ever


@pytest.fixture(scope="module")
def sample():
    return sample_weather()


def record_of(first: str, rain: list[float], tmax: float = 15.0, tmin: float = 5.0):
    days = np.datetime64(first) + np.arange(len(rain))
    size = len(rain)
    return make_record(
        days, np.full(size, tmax), np.full(size, tmin), rain, site="Test", latitude=31.0
    )


def monthly(record, month):
    return record.rain.sel(time=record.time.dt.month == month).groupby("time.year").sum().values


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("rain november = 11 inch", "11 inches of rain in each November"),
        ("Rain NOV=280 mm", "280 mm of rain in each November"),
        ("rain oct..dec * 0.3", "rain times 0.3 from October to December"),
        ("rain oct .. december * .3", "rain times 0.3 from October to December"),
        ("rain 11-10 = 3 inch", "3 inches of rain on 11-10 of each year"),
        ("rain november + 2 inch", "2 inches more rain in each November"),
        ("rain november - 2e1 mm", "20 mm less rain in each November"),
        ("rain sept + 20 percent", "20 percent more rain in each September"),
        ("rain sep - 20%", "20 percent less rain in each September"),
        ("temperature oct..dec - 5 degF", "5 °F cooler from October to December"),
        ("temperature oct..dec -5degF", "5 °F cooler from October to December"),
        ("temperature oct..dec \N{MINUS SIGN} 5 °F", "5 °F cooler from October to December"),
        ("temperature oct..dec + -5 degF", "5 °F cooler from October to December"),
        ("temperature 12-01..02-15 + 2 degC", "2 °C warmer from 12-01 to 02-15"),
        ("temperature nov..12-15 + 2 degC", "2 °C warmer from November to 12-15"),
        ("tmax march + 3 degF", "tmax 3 °F higher in each March"),
        ("tmin march - 1 degC", "tmin 1 °C lower in each March"),
    ],
)
def test_a_change_is_read_and_said_in_plain_words(text, words):
    assert parse_change(text).describe() == words


def test_amounts_are_si_inside():
    assert parse_change("rain november = 11 inch").amount == pytest.approx(279.4, rel=1e-12)
    assert parse_change("temperature oct - 9 degF").amount == pytest.approx(-5.0, rel=1e-12)
    assert parse_change("rain oct - 25 percent").amount == 0.75
    with pytest.raises(dataclasses.FrozenInstanceError):
        parse_change("rain november = 11 inch").amount = 1.0


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "cannot be read as a change"),
        ("rain", "cannot be read as a change"),
        ("rain november", "cannot be read as a change"),
        ("rain november =", "cannot be read as a change"),
        ("rain november 11 inch", "cannot be read as a change"),
        ("snow november = 11 inch", "'snow' is none of rain, temperature, tmax, tmin"),
        ("rain smarch = 11 inch", "'smarch' is not a month"),
        ("rain no = 11 inch", "'no' is not a month"),
        ("rain 13-01 = 1 inch", "'13-01' is not a day of the calendar"),
        ("rain 11-31 = 1 inch", "'11-31' is not a day of the calendar"),
        ("rain 02-29 = 1 inch", "02-29 does not exist in every year"),
        ("rain november = 11", "'11' has no unit"),
        ("rain november = 11 degF", "'degF' cannot be turned into mm"),
        ("rain november = 11 furlongs per moon", "is not a known unit"),
        ("rain november = eleven inch", "'eleven inch' is not a number with a unit"),
        ("rain november = 1,2 inch", "2 values given"),
        ("rain november = -1 inch", "'-1 inch' does not lie within 0 to 5000 mm"),
        ("rain november = 9e300 inch", "'9e300 inch' does not lie within 0 to 5000 mm"),
        ("rain november = 9e999 inch", "'9e999 inch' is too large a number"),
        ("rain november = 20 percent", "A total cannot be a percentage"),
        ("rain november - 120 percent", "'120 percent' does not lie within 0 to 100 percent"),
        ("rain november * -1", "'-1' does not lie within 0 to 100"),
        ("rain november * 0.3 inch", "'0.3 inch' does not lie within 0 to 100"),
        ("rain november * nan", "'nan' does not lie within 0 to 100"),
        ("rain november * 1e999", "'1e999' does not lie within 0 to 100"),
        ("temperature november * 1.1", "Degrees cannot be multiplied"),
        ("tmax november * 1.1", "Degrees cannot be multiplied"),
        ("temperature november = 50 degF", "Temperature can be shifted, not set"),
        ("temperature november - 5", "'5' has no unit"),
        ("temperature november - 5 inch", "'inch' cannot be turned into"),
        ("temperature november - 5 percent", "'percent' cannot be turned into"),
        ("temperature november - 500 degF", "'500 degF' does not lie within -30 to 30 degC"),
        ("rain november = 11 inch" + " " * 200, "is too long"),
    ],
)
def test_a_faulty_change_is_refused_with_the_grammar(text, what):
    with pytest.raises(InputError) as caught:
        parse_change(text)
    assert what in str(caught.value)
    assert str(caught.value).startswith("change: ")
    assert GRAMMAR in str(caught.value)


@given(st.text(max_size=220) | st.from_regex(r"(rain|tmax) [a-z0-9.-]{1,9} [=*+-] .{1,30}"))
@settings(max_examples=400, deadline=None)
def test_any_text_is_a_change_or_an_input_error_at_once(text):
    begun = time.process_time()
    with contextlib.suppress(InputError):
        assert parse_change(text).describe()
    assert time.process_time() - begun < AT_ONCE


PIECES = st.sampled_from(
    [
        "rain",
        "tmax",
        " ",
        "nov",
        "..",
        "02-29",
        "12-01",
        "=",
        "*",
        "+",
        "-",
        "9",
        "1e9",
        ".",
        "inch",
        "degF",
        "percent",
        "%",
        "^",
        "**",
        "/",
        ",",
        "squared",
        "°",
        "nan",
        "inf",
    ]
)


@given(st.lists(PIECES, max_size=14), st.sampled_from(["", "rain nov = ", "tmin nov + 3 "]))
@settings(max_examples=400, deadline=None)
def test_any_shuffled_grammar_is_a_change_or_an_input_error_at_once(pieces, start):
    begun = time.process_time()
    with contextlib.suppress(InputError):
        assert parse_change(start + "".join(pieces)).describe()
    assert time.process_time() - begun < AT_ONCE


def test_an_eleven_inch_november_has_eleven_inches_every_year(sample):
    before = sample.copy(deep=True)
    changed = change_weather(sample, "rain november = 11 inch")
    assert monthly(changed, 11) == pytest.approx(279.4, abs=1e-9)
    elsewhere = sample.time.dt.month != 11
    assert changed.sel(time=elsewhere).equals(sample.sel(time=elsewhere))
    assert changed.attrs["changes"] == "rain november = 11 inch"
    assert sample.identical(before)  # never mutates
    assert changed.rain.attrs == sample.rain.attrs


def test_wet_days_are_scaled_alike_where_there_are_enough(sample):
    changed = change_weather(sample, "rain november = 11 inch")
    scaled = 0
    for year in range(1995, 2025):
        old = sample.rain.sel(time=f"{year}-11").values
        new = changed.rain.sel(time=f"{year}-11").values
        factor = 279.4 / old.sum()
        if np.count_nonzero(old) >= 3 and old.max() * factor <= MOST_RAIN_A_DAY:
            assert new == pytest.approx(old * factor, rel=1e-9)
            assert np.array_equal(new > 0, old > 0)
            scaled += 1
        assert new.max() <= MOST_RAIN_A_DAY + 1e-9
    assert scaled >= 20


def test_a_dry_month_gets_rain_on_six_days_that_lie_evenly():
    changed = change_weather(record_of("2001-11-01", [0.0] * 30), "rain november = 60 mm")
    wet = np.flatnonzero(changed.rain.values)
    assert list(wet + 1) == [3, 8, 13, 18, 23, 28]
    assert changed.rain.values[wet] == pytest.approx(10.0)


def test_too_few_wet_days_keep_their_rain():
    rain = [0.0] * 30
    rain[0], rain[9] = 5.0, 7.0
    changed = change_weather(record_of("2001-11-01", rain), "rain november = 72 mm").rain.values
    assert changed[0] == pytest.approx(5.0)
    assert changed[9] == pytest.approx(7.0)
    assert changed[[2, 7, 12, 17, 22, 27]] == pytest.approx(10.0)


def test_scaling_stops_at_the_most_that_falls_in_a_day():
    rain = [0.0] * 30
    rain[0], rain[1], rain[3] = 60.0, 3.0, 3.0
    changed = change_weather(record_of("2001-11-01", rain), "rain november = 279 mm").rain.values
    assert changed[0] == pytest.approx(150.0)
    assert changed[[1, 3]] == pytest.approx(7.5)
    assert changed[[2, 7, 12, 17, 22, 27]] == pytest.approx((279 - 165) / 6)
    assert changed.sum() == pytest.approx(279.0, abs=1e-9)


RAIN = st.lists(st.just(0.0) | st.floats(0.0, 200.0), min_size=1, max_size=120)


@given(rain=RAIN, total=st.floats(0.0, 5000.0))
@settings(max_examples=300, deadline=None)
def test_any_total_is_reached_exactly(rain, total):
    given_rain = np.array(rain)
    made = with_total(given_rain, total)
    assert made.sum() == pytest.approx(total, abs=1e-9)
    assert (made >= 0).all()
    if made.max() > max(MOST_RAIN_A_DAY, given_rain.max()) * (1 + 1e-12):
        assert made.min() >= MOST_RAIN_A_DAY * (1 - 1e-12)  # the total left no other way
    if total <= given_rain.sum():
        assert (made[given_rain == 0] == 0).all()  # lowering a total wets no dry day
    assert np.array_equal(given_rain, np.array(rain))


def test_a_total_beyond_every_days_most_is_still_reached():
    changed = change_weather(record_of("2001-11-10", [1.0]), "rain 11-10 = 4000 mm")
    assert changed.rain.values == pytest.approx([4000.0])


def test_missing_days_stay_missing_and_the_others_reach_the_total():
    rain = [4.0, 0.0, np.nan, 6.0, 0.0, 2.0] * 5
    record = record_of("2001-11-01", rain)
    changed = change_weather(record, "rain november = 100 mm").rain.values
    assert np.array_equal(np.isnan(changed), np.isnan(rain))
    assert np.nansum(changed) == pytest.approx(100.0, abs=1e-9)


def test_a_month_without_any_value_is_left():
    record = record_of("2001-11-01", [np.nan] * 30 + [1.0] * 365)
    changed = change_weather(record, "rain november = 100 mm")
    assert np.isnan(changed.rain.values[:30]).all()
    assert changed.rain.sel(time="2002-11").sum() == pytest.approx(100.0)


def test_a_span_across_the_new_year_counts_by_winters(sample):
    changed = change_weather(sample, "rain 12-15..01-15 = 100 mm")
    for year in range(1995, 2025):
        winter = changed.rain.sel(time=slice(f"{year}-12-15", f"{year + 1}-01-15"))
        assert winter.sizes["time"] == 32
        assert float(winter.sum()) == pytest.approx(100.0, abs=1e-9)


def test_months_across_the_new_year_count_by_winters(sample):
    changed = change_weather(sample, "rain nov..feb = 20 inch")
    for year in range(1995, 2025):
        winter = changed.rain.sel(time=slice(f"{year}-11", f"{year + 1}-02"))
        assert float(winter.sum()) == pytest.approx(508.0, abs=1e-9)


def test_leap_days_belong_to_february():
    record = record_of("2003-01-01", [1.0] * (365 + 366))
    changed = change_weather(record, "rain february * 3")
    assert monthly(changed, 2) == pytest.approx([84.0, 87.0])
    changed = change_weather(record, "rain 02-15..02-29 * 3")
    assert monthly(changed, 2) == pytest.approx([14 + 42, 14 + 45])
    changed = change_weather(record, "rain 02-29..03-01 * 3")
    assert monthly(changed, 2) == pytest.approx([28.0, 31.0])
    assert monthly(changed, 3) == pytest.approx([33.0, 33.0])


def test_rain_is_added_to_each_years_total(sample):
    changed = change_weather(sample, "rain november + 2 inch")
    assert monthly(changed, 11) - monthly(sample, 11) == pytest.approx(50.8, abs=1e-9)
    with pytest.raises(InputError, match=r"only .* mm fell .*Take away less, or scale"):
        change_weather(sample, "rain november - 10 inch")


def test_rain_is_multiplied_day_by_day(sample):
    changed = change_weather(sample, "rain oct..dec * 0.3")
    fall = sample.time.dt.month >= 10
    assert changed.rain.values == pytest.approx(np.where(fall, sample.rain * 0.3, sample.rain))
    assert (monthly(change_weather(sample, "rain november = 0 mm"), 11) == 0).all()


@pytest.mark.parametrize(
    ("text", "tmax", "tmin"),
    [
        ("temperature oct..dec - 5 degF", -5 / 1.8, -5 / 1.8),
        ("tmax oct..dec + 1 degC", 1.0, 0.0),
        ("tmin oct..dec - 1 degC", 0.0, -1.0),
    ],
)
def test_temperature_is_shifted_within_the_span_only(sample, text, tmax, tmin):
    changed = change_weather(sample, text)
    inside = (sample.time.dt.month >= 10).values
    for name, shift in (("tmax", tmax), ("tmin", tmin)):
        step = changed[name].values - sample[name].values
        assert step == pytest.approx(np.where(inside, shift, 0.0), abs=1e-12)
    assert changed.rain.identical(sample.rain)


def test_one_temperature_may_not_cross_the_other():
    record = record_of("2001-11-01", [0.0] * 30, tmax=8.0, tmin=5.0)
    with pytest.raises(InputError, match="Tmax would fall below Tmin, first on 2001-11-01"):
        change_weather(record, "tmin november + 4 degC")
    assert float(change_weather(record, "tmin november + 3 degC").tmin[0]) == 8.0


def test_changes_apply_in_order_and_are_kept(sample):
    first = change_weather(sample, "rain november = 11 inch")
    both = change_weather(first, ["rain november * 0.5", "temperature  november - 5 degF"])
    assert monthly(both, 11) == pytest.approx(139.7, abs=1e-9)
    assert both.attrs["changes"] == (
        "rain november = 11 inch; rain november * 0.5; temperature november - 5 degF"
    )
    at_once = change_weather(
        sample,
        "rain november = 11 inch",
        parse_change("rain november * 0.5"),
        "temperature november - 5 degF",
    )
    assert at_once.identical(both)
    assert change_weather(sample).identical(sample)


def test_every_faulty_change_is_named():
    record = record_of("2001-11-01", [0.0] * 30)
    with pytest.raises(InputError) as caught:
        change_weather(record, "rain nov = 11", "rain nov = 1 inch", ["what"], 5)
    assert len(caught.value.problems) == 3
    with pytest.raises(InputError, match=r"51 changes given\. Give at most 50"):
        change_weather(record, ["rain nov = 1 inch"] * (MOST_CHANGES + 1))


@pytest.mark.parametrize("text", ["rain july = 1 inch", "tmax july - 1 degC", "rain 07-04 * 2"])
def test_a_span_outside_the_record_is_refused(text):
    record = record_of("2001-11-01", [0.0] * 180)
    with pytest.raises(InputError, match=r"no (rain|tmax) .* It covers 2001-11-01 to 2002-04-29"):
        change_weather(record, text)
