"""Sunlight and daylength against FAO's examples, refet, astral and other people's ephemerides."""

from __future__ import annotations

from datetime import date, timedelta, timezone
from math import isnan, nan, pi, radians, sin
from pathlib import Path

import astral.sun
import numpy as np
import pandas as pd
import pytest
import refet.calcs
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.parameters.cereals import cereal
from simulator.process import sun
from simulator.season.day.drivers import COLUMNS, RADIATION, fill_drivers

FAO = "Allen et al. (1998), FAO paper 56, "
MID_MONTHS = (15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349)

unhurried = settings(deadline=None)  # the first call of a function compiles it
latitudes = st.floats(-90, 90)
days = st.integers(1, 366)


@pytest.mark.published(FAO + "example 7")
@pytest.mark.parametrize(("degrees", "minutes", "expected"), [(13, 44, 0.240), (-22, -54, -0.400)])
def test_latitude_in_radians(degrees: int, minutes: int, expected: float) -> None:
    assert radians(degrees + minutes / 60) == pytest.approx(expected, abs=5e-4)


@pytest.mark.published(FAO + "example 8: 20 degrees south, 3 September")
def test_extraterrestrial_radiation_example() -> None:
    assert sun.inverse_relative_distance(246) == pytest.approx(0.985, abs=5e-4)
    assert sun.declination_fao(246) == pytest.approx(0.120, abs=5e-4)
    angle = sun.sunset_hour_angle(radians(-20), sun.declination_fao(246))
    assert angle == pytest.approx(1.527, abs=5e-4)
    radiation = sun.extraterrestrial_radiation(-20, 246)
    assert radiation == pytest.approx(32.2, abs=0.05)
    assert 0.408 * radiation == pytest.approx(13.1, abs=0.05)


@pytest.mark.published("NCAR Command Language, daylight_fao56: 20 degrees south, day 246")
def test_daylight_to_five_decimals() -> None:
    assert sun.daylight_hours(-20, 246) == pytest.approx(11.66559, abs=5e-6)


@pytest.mark.published(FAO + "example 9")
def test_daylight_example() -> None:
    assert sun.daylight_hours(-20, 246) == pytest.approx(11.7, abs=0.05)


@pytest.mark.published(FAO + "example 10: Rio de Janeiro in May, 220 h of sun")
def test_radiation_from_sunshine_example() -> None:
    above, longest = sun.extraterrestrial_radiation(-22.9, 135), sun.daylight_hours(-22.9, 135)
    assert above == pytest.approx(25.1, abs=0.05)
    assert longest == pytest.approx(10.9, abs=0.05)
    assert (0.25 + 0.5 * (220 / 31) / longest) * above == pytest.approx(14.5, abs=0.05)


@pytest.mark.published(FAO + "example 15: Lyon in July, inland")
def test_radiation_from_temperature_inland() -> None:
    above = sun.extraterrestrial_radiation(45 + 43 / 60, 196)
    assert above == pytest.approx(40.6, abs=0.05)
    radiation = sun.radiation_from_temperature(26.6, 14.8, above)
    assert radiation == pytest.approx(22.3, abs=0.05)
    assert 0.408 * radiation == pytest.approx(9.1, abs=0.05)


@pytest.mark.analytic("FAO paper 56, eqs 21 and 50, worked to four decimals")
def test_example_15_to_four_decimals() -> None:
    above = sun.extraterrestrial_radiation(45 + 43 / 60, 196)
    assert above == pytest.approx(40.5548, abs=5e-5)
    assert sun.radiation_from_temperature(26.6, 14.8, above) == pytest.approx(22.2896, abs=5e-5)


@pytest.mark.published(FAO + "example 16: Bangkok in April, on the coast")
def test_radiation_from_temperature_coast() -> None:
    above = sun.extraterrestrial_radiation(13.73, 105)
    assert above == pytest.approx(38.1, abs=0.05)
    radiation = sun.radiation_from_temperature(34.8, 25.6, above, 0.19)
    assert radiation == pytest.approx(21.9, abs=0.05)


@pytest.mark.published(FAO + "example 20: Lyon in July, 200 m")
def test_clear_sky_example() -> None:
    # the example prints Ra as 40.55 but goes on with more digits: 0.754 x 40.55 is 30.57
    above = sun.extraterrestrial_radiation(45 + 43 / 60, 196)
    assert above == pytest.approx(40.55, abs=0.005)
    assert sun.clear_sky_radiation(above, 200) == pytest.approx(30.58, abs=0.005)


@pytest.mark.published(FAO + "box 9")
def test_constant_of_box_9() -> None:
    assert 24 * 60 / pi * sun.SOLAR_CONSTANT == pytest.approx(37.59, abs=0.005)


@pytest.mark.other_program("refet 0.5.0, calcs.ra_daily(method='asce')")
@unhurried
@given(st.floats(-66, 66), days)
def test_extraterrestrial_radiation_as_refet(latitude: float, day: int) -> None:
    expected = float(refet.calcs.ra_daily(radians(latitude), day, method="asce"))
    assert sun.extraterrestrial_radiation(latitude, day) == pytest.approx(expected, rel=1e-9)


MONTHS = {
    30: (
        "21.1 25.8 31.4 36.8 40.0 41.2 40.5 38.0 33.3 27.5 22.2 19.7",
        "10.3 11.0 11.8 12.7 13.5 13.9 13.7 13.1 12.2 11.2 10.5 10.1",
    ),
    36: (
        "17.5 22.6 29.0 35.7 40.0 41.7 40.8 37.3 31.4 24.6 18.7 16.1",
        "9.8 10.7 11.7 12.9 13.9 14.4 14.2 13.4 12.2 11.1 10.0 9.6",
    ),
    40: (
        "15.0 20.4 27.2 34.7 39.7 41.8 40.8 36.7 29.9 22.5 16.3 13.6",
        "9.5 10.5 11.7 13.1 14.2 14.8 14.6 13.6 12.2 10.9 9.7 9.2",
    ),
    45: (
        "11.9 17.5 24.8 33.2 39.2 41.9 40.6 35.6 27.9 19.7 13.2 10.5",
        "9.0 10.2 11.6 13.3 14.7 15.4 15.1 13.9 12.3 10.7 9.3 8.6",
    ),
    50: (
        "8.9 14.4 22.2 31.5 38.5 41.7 40.2 34.3 25.6 16.8 10.2 7.5",
        "8.3 9.8 11.6 13.5 15.2 16.1 15.7 14.3 12.3 10.4 8.7 7.9",
    ),
    60: (
        "3.3 8.3 16.6 27.5 36.7 41.2 39.1 31.3 20.5 10.8 4.4 2.2",
        "6.4 8.8 11.4 14.2 16.8 18.4 17.7 15.3 12.5 9.7 7.1 5.6",
    ),
    70: (
        "0.0 2.6 10.4 23.0 35.2 42.5 39.3 27.9 14.8 4.8 0.1 0.0",
        "0 6.7 11.0 15.7 21.3 24 24 17.6 12.8 8.3 2.3 0",
    ),
}


@pytest.mark.analytic("FAO paper 56, eqs 21 and 34, worked for the 15th of each month")
@pytest.mark.parametrize("latitude", MONTHS)
def test_month_by_month(latitude: int) -> None:
    radiation, daylight = ([float(text) for text in row.split()] for row in MONTHS[latitude])
    for day, expected, hours in zip(MID_MONTHS, radiation, daylight, strict=True):
        above = sun.extraterrestrial_radiation(latitude, day)
        assert above == pytest.approx(expected, abs=0.05), day
        assert sun.daylight_hours(latitude, day) == pytest.approx(hours, abs=0.05), day


@pytest.mark.practice("from memory: FAO paper 56, table 2.6, 40 degrees north")
def test_table_of_radiation_at_40_north() -> None:
    remembered = (15.0, 20.4, 27.2, 34.7, 39.7, 41.9, 40.8, 36.7, 30.0, 22.5, 16.3, 13.6)
    for day, expected in zip(MID_MONTHS, remembered, strict=True):
        assert sun.extraterrestrial_radiation(40, day) == pytest.approx(expected, abs=0.1)


# 15 January, 15 April, 15 July, 15 October, 10 November 2021 at 42 N 93 W
MINUTE_BY_MINUTE = [
    (15, 13.973, 13.779),
    (105, 34.498, 34.117),
    (196, 40.673, 40.744),
    (288, 21.958, 21.383),
    (314, 16.267, 15.852),
]


@pytest.mark.other_program("pvlib 0.16.1, solar position by SPA summed by the minute (recorded)")
@pytest.mark.parametrize(("day", "integrated", "fao"), MINUTE_BY_MINUTE)
def test_radiation_is_within_3_percent_of_an_ephemeris(
    day: int, integrated: float, fao: float
) -> None:
    above = sun.extraterrestrial_radiation(42, day)
    assert above == pytest.approx(integrated, rel=0.03)
    assert above == pytest.approx(fao, abs=5e-4)  # eq. 21 itself


# latitude, day of 2023, FAO's hours, CBM sunrise to sunset, CBM civil,
# then astral 3.2 and skyfield 1.55 (de421): sunrise to sunset, civil
DAYLENGTHS = {
    "A10": (30, 172, 13.932, 14.078, 14.994, 14.072, 15.005, 14.079, 14.995),
    "A11": (40, 79, 11.921, 12.092, 12.992, 12.129, 13.047, 12.136, 13.036),
    "A12": (40, 105, 13.076, 13.223, 14.156, 13.258, 14.211, 13.265, 14.200),
    "A13": (40, 172, 14.844, 15.016, 16.112, 15.008, 16.125, 15.017, 16.113),
    "A14": (40, 265, 11.921, 12.217, 13.118, 12.158, 13.076, 12.165, 13.066),
    "A15": (40, 288, 10.902, 11.220, 12.128, 11.165, 12.091, 11.172, 12.081),
    "A16": (40, 355, 9.156, 9.324, 10.344, 9.319, 10.358, 9.327, 10.347),
    "A17": (45, 172, 15.425, 15.618, 16.867, 15.609, 16.881, 15.619, 16.867),
    "A18": (45, 355, 8.575, 8.763, 9.892, 8.756, 9.907, 8.766, 9.895),
    "A19": (52, 172, 16.493, 16.735, 18.366, 16.722, 18.385, 16.735, 18.365),
}
RISE = -0.8333  # altitude of the sun's centre when its rim is seen to rise [degrees]
CIVIL = -6.0


def astral_hours(latitude: float, day: int, depression: float | None) -> float:
    """Hours from rise to set (depression None), or dawn to dusk, in 2023 at 90 W by local time."""
    observer = astral.Observer(latitude, -90.0, 0.0)
    zone = timezone(timedelta(hours=-6))
    when = date(2023, 1, 1) + timedelta(days=day - 1)
    if depression is None:
        times = astral.sun.sunrise(observer, when, zone), astral.sun.sunset(observer, when, zone)
    else:
        times = (
            astral.sun.dawn(observer, when, depression, zone),
            astral.sun.dusk(observer, when, depression, zone),
        )
    return (times[1] - times[0]).total_seconds() / 3600


@pytest.mark.analytic(
    "Forsythe et al. (1995) CBM and FAO paper 56 eq. 34, worked to three decimals"
)
@pytest.mark.parametrize("case", DAYLENGTHS)
def test_daylengths_by_formula(case: str) -> None:
    latitude, day, fao, seen, civil, *_ = DAYLENGTHS[case]
    assert sun.daylight_hours(latitude, day) == pytest.approx(fao, abs=5e-4)
    assert sun.photoperiod(latitude, day, RISE) == pytest.approx(seen, abs=5e-4)
    assert sun.photoperiod(latitude, day) == pytest.approx(civil, abs=5e-4)


@pytest.mark.other_program("astral 3.2, sunrise, sunset, dawn and dusk of 2023 at 90 W")
@pytest.mark.parametrize("case", DAYLENGTHS)
def test_photoperiod_beside_astral(case: str) -> None:
    latitude, day, _, _, _, seen, civil, *_ = DAYLENGTHS[case]
    # the recorded values first: the same program still says the same
    assert astral_hours(latitude, day, None) == pytest.approx(seen, abs=5e-4)
    assert astral_hours(latitude, day, 6.0) == pytest.approx(civil, abs=5e-4)
    assert sun.photoperiod(latitude, day, RISE) == pytest.approx(seen, abs=0.06)
    assert sun.photoperiod(latitude, day, CIVIL) == pytest.approx(civil, abs=0.06)


@pytest.mark.other_program("skyfield 1.55 with ephemeris de421 (recorded)")
@pytest.mark.parametrize("case", DAYLENGTHS)
def test_photoperiod_beside_skyfield(case: str) -> None:
    latitude, day, *_, seen, civil = DAYLENGTHS[case]
    assert sun.photoperiod(latitude, day, RISE) == pytest.approx(seen, abs=0.06)
    assert sun.photoperiod(latitude, day, CIVIL) == pytest.approx(civil, abs=0.06)


@pytest.mark.other_program("astral 3.2, every day of 2023 at 90 W")
@pytest.mark.parametrize(
    ("latitude", "fao_short", "civil_off"),
    [(30, 0.207, 0.039), (40, 0.264, 0.055), (45, 0.301, 0.066), (55, 0.410, 0.098)],
)
def test_largest_error_of_the_year(latitude: int, fao_short: float, civil_off: float) -> None:
    year = range(1, 366)
    short = max(
        abs(sun.daylight_hours(latitude, d) - astral_hours(latitude, d, None)) for d in year
    )
    off = max(abs(sun.photoperiod(latitude, d) - astral_hours(latitude, d, 6.0)) for d in year)
    assert short == pytest.approx(fao_short, abs=5e-4)
    assert off == pytest.approx(civil_off, abs=5e-4)


@pytest.mark.analytic("70 degrees north: no night in June, no day in December")
def test_polar_day_and_night() -> None:
    assert sun.photoperiod(70, 172, 0.0) == 24.0
    assert sun.photoperiod(70, 172) == 24.0
    assert sun.photoperiod(70, 355, 0.0) == 0.0
    assert 0.0 < sun.photoperiod(70, 355) < 6.0  # civil twilight about noon, no sunrise
    assert sun.daylight_hours(70, 172) == 24.0
    assert sun.daylight_hours(70, 355) == 0.0
    assert sun.extraterrestrial_radiation(70, 355) == pytest.approx(0.0, abs=1e-12)
    assert sun.photoperiod(90, 172) == 24.0
    assert sun.photoperiod(-90, 172) == 0.0


@pytest.mark.analytic("at the pole in midsummer the sun stands at its declination all day")
def test_radiation_at_the_pole() -> None:
    declination = sun.declination_fao(172)
    expected = 24 * 60 * 0.0820 * sun.inverse_relative_distance(172) * sin(declination)
    assert sun.extraterrestrial_radiation(90, 172) == pytest.approx(expected, rel=1e-12)


@pytest.mark.analytic("what is day in the north is night in the south")
@unhurried
@given(latitudes, days)
def test_hemispheres_mirror(latitude: float, day: int) -> None:
    north, south = sun.photoperiod(latitude, day, 0.0), sun.photoperiod(-latitude, day, 0.0)
    assert north + south == pytest.approx(24.0, abs=1e-6)
    together = sun.daylight_hours(latitude, day) + sun.daylight_hours(-latitude, day)
    assert together == pytest.approx(24.0, abs=1e-6)


@pytest.mark.analytic("at the equator day and night are equal")
@unhurried
@given(days)
def test_equator(day: int) -> None:
    assert sun.photoperiod(0.0, day, 0.0) == pytest.approx(12.0, abs=1e-9)
    assert sun.daylight_hours(0.0, day) == pytest.approx(12.0, abs=1e-9)


@unhurried
@given(latitudes, days, st.floats(-18, 0), st.floats(-18, 0))
def test_a_lower_sun_counts_for_a_longer_day(
    latitude: float, day: int, one: float, other: float
) -> None:
    low, high = sorted((one, other))
    longer, shorter = sun.photoperiod(latitude, day, low), sun.photoperiod(latitude, day, high)
    assert 0.0 <= shorter <= longer <= 24.0


@unhurried
@given(st.floats(-60, 60), st.floats(0, 40), st.floats(0, 45))
def test_radiation_stays_between_dull_and_clear(tmin: float, swing: float, above: float) -> None:
    radiation = sun.radiation_from_temperature(tmin + swing, tmin, above)
    assert 0.25 * above <= radiation <= 0.75 * above


@pytest.mark.published(FAO + "p. 60: Rs/Ra runs from about 0.25 (dense cloud) to 0.75 (clear)")
def test_limits_of_radiation() -> None:
    assert sun.radiation_from_temperature(10.0, 10.0, 34.672) == 0.25 * 34.672
    assert sun.radiation_from_temperature(35.0, 5.0, 34.672) == 0.75 * 34.672


BRISTOW = "Bristow and Campbell (1984), Agric. For. Meteorol. 31:159-166"


@pytest.mark.analytic(BRISTOW + ": A = 0.7, C = 2.4, B = 0.036 exp(-0.154 x mean), worked by hand")
def test_radiation_of_a_dry_and_a_wet_day() -> None:
    # B = 0.036 exp(-1.54) = 0.0077177; 10^2.4 = 251.189, 7.5^2.4 = 125.939
    dry = sun.radiation_from_swing_and_rain(10.0, 10.0, 0.0, 20.0)
    wet = sun.radiation_from_swing_and_rain(10.0, 10.0, 12.0, 20.0)
    assert dry == pytest.approx(0.7 * (1 - 0.14393) * 20, abs=1e-3)
    assert wet == pytest.approx(0.7 * (1 - 0.37834) * 20, abs=1e-3)
    assert wet == sun.radiation_from_swing_and_rain(7.5, 10.0, 0.0, 20.0)


@pytest.mark.practice("common practice: 0.1 mm is the least rain that makes a rain day")
def test_a_trace_of_rain_is_none() -> None:
    trace, dry, least = (
        sun.radiation_from_swing_and_rain(10.0, 10.0, rain, 20.0) for rain in (0.05, 0.0, 0.1)
    )
    assert trace == dry > least


@pytest.mark.analytic("from one morning's minimum to the next, the maximum between")
def test_swing_of_a_day() -> None:
    assert sun.daily_swing(20.0, 8.0, 12.0) == 10.0
    assert sun.daily_swing(20.0, 8.0, 8.0) == 12.0
    assert sun.daily_swing(8.0, 8.0, 12.0) == 0.0


@unhurried
@given(st.floats(0, 40), st.floats(0, 40), st.floats(0, 200), st.floats(0, 45))
def test_no_day_is_darker_than_a_tenth_of_a_clear_one(
    swing: float, usual: float, rain: float, above: float
) -> None:
    radiation = sun.radiation_from_swing_and_rain(swing, usual, rain, above)
    assert 0.07 * above * (1 - 1e-12) <= radiation <= 0.7 * above
    assert radiation <= sun.radiation_from_swing_and_rain(swing, usual, 0.0, above)
    wider = sun.radiation_from_swing_and_rain(swing + 1.0, usual, rain, above)
    assert radiation <= wider


@pytest.mark.analytic("a mean of 30 days, by hand, and the minima of two mornings")
def test_radiation_of_a_day_in_a_run_of_days() -> None:
    days = 40
    tmax, tmin, rain = np.full(days, 20.0), np.full(days, 10.0), np.zeros(days)
    tmax[9], tmin[21], rain[39] = 35.0, np.nan, 5.0  # 9 is the 31st day back of 39
    usual = sun.radiation_from_swing_and_rain(10.0, 10.0, 0.0, 20.0)
    assert sun.radiation_of_day(tmax, tmin, rain, 8, 20.0) == usual
    wide = sun.radiation_from_swing_and_rain(25.0, (9 * 10 + 25) / 10, 0.0, 20.0)
    assert sun.radiation_of_day(tmax, tmin, rain, 9, 20.0) == pytest.approx(wide, rel=1e-12)
    still_in = sun.radiation_from_swing_and_rain(10.0, (28 * 10 + 25) / 29, 0.0, 20.0)
    assert sun.radiation_of_day(tmax, tmin, rain, 38, 20.0) == pytest.approx(still_in, rel=1e-12)
    wet = sun.radiation_from_swing_and_rain(10.0, 10.0, 5.0, 20.0)
    assert sun.radiation_of_day(tmax, tmin, rain, 39, 20.0) == wet
    assert isnan(sun.radiation_of_day(tmax, tmin, rain, 21, 20.0))
    tmin[31] = 14.0
    assert sun.radiation_of_day(tmax, tmin, rain, 30, 20.0) < usual


GERMAN = {"gge": 49.94, "han": 52.24, "kal": 50.61, "rhh": 50.76}


def month_by_month(path: Path, latitude: float) -> tuple[pd.Series, pd.Series, pd.Series]:
    """Means of measured radiation by month, and of what is estimated with and without rain."""
    table = pd.read_csv(path, index_col="date", parse_dates=["date"])
    tmax, tmin, rain, measured = (table.iloc[:, at].to_numpy(float) for at in range(4))
    day = table.index.day_of_year.to_numpy(float)
    days = len(table)
    out = np.full((days, COLUMNS), np.nan)
    rye = cereal("rye").as_record()
    none = np.full(days, np.nan)
    fill_drivers(tmax, tmin, rain, none, day, latitude, 0, days - 1, rye, out)
    dry = [
        sun.radiation_from_temperature(high, low, sun.extraterrestrial_radiation(latitude, at))
        for high, low, at in zip(tmax, tmin, day, strict=True)
    ]
    month = table.index.month
    means = [pd.Series(each).groupby(month).mean() for each in (measured, out[:, RADIATION], dry)]
    return means[0], means[1], means[2]


@pytest.mark.fitted(
    "BRIWECS, Scientific Data 2024, s41597-024-04332-7: measured radiation; no number is fitted,"
    " but the form was chosen of three by these sites"
)
@pytest.mark.parametrize("site", GERMAN)
def test_radiation_of_german_sites_by_month(open_data: Path, site: str) -> None:
    # the form was the best of three whichever site was left out
    path = open_data / "weather" / "germany" / f"{site}_germany.csv"
    measured, estimated, by_temperature = month_by_month(path, GERMAN[site])
    off, was_off = estimated / measured - 1, by_temperature / measured - 1
    assert estimated.mean() == pytest.approx(measured.mean(), rel=0.03)
    assert off.abs().max() < 0.17
    assert off.loc[2:9].abs().max() < 0.10
    assert off.abs().mean() < 0.6 * was_off.abs().mean()


# every function with arguments that it can take
CALLS = {
    "inverse_relative_distance": (days,),
    "declination_fao": (days,),
    "sunset_hour_angle": (st.floats(-1.57, 1.57), st.floats(-0.41, 0.41)),
    "extraterrestrial_radiation": (latitudes, days),
    "daylight_hours": (latitudes, days),
    "clear_sky_radiation": (st.floats(0, 45), st.floats(-400, 5000)),
    "radiation_from_temperature": (st.floats(-60, 60), st.floats(-60, 60), st.floats(0, 45)),
    "daily_swing": (st.floats(-60, 60), st.floats(-60, 60), st.floats(-60, 60)),
    "radiation_from_swing_and_rain": (
        st.floats(0, 40),
        st.floats(0, 40),
        st.floats(0, 500),
        st.floats(0, 45),
    ),
    "photoperiod": (latitudes, days, st.floats(-18, 0)),
}


@pytest.mark.parametrize("name", CALLS)
@unhurried
@given(st.data())
def test_compiled_as_written(name: str, data: st.DataObject) -> None:
    function = getattr(sun, name)
    given_values = [data.draw(values) for values in CALLS[name]]
    assert function(*given_values) == function.py_func(*given_values)


@pytest.mark.parametrize("name", CALLS)
def test_nan_in_nan_out(name: str) -> None:
    function = getattr(sun, name)
    for place in range(len(CALLS[name])):
        values = [nan if at == place else 1.0 for at in range(len(CALLS[name]))]
        assert isnan(function(*values)), place
        assert isnan(function.py_func(*values)), place
