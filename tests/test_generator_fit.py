"""The generator fitted to a record: known climates come back, choices are the data's."""

from __future__ import annotations

import dataclasses
from functools import cache

import numpy as np
import pytest
import xarray as xr
from scipy.special import gamma, polygamma

from simulator.problems import InputError
from simulator.weather.files.reading import read_weather
from simulator.weather.generator import wet_day_rain
from simulator.weather.generator.against_recorded import (
    BY_CHANCE,
    compare_statistic,
    fitted_maker,
    held_against,
    rounded_to,
    steps_of,
)
from simulator.weather.generator.climatology import Season, read_climatology
from simulator.weather.generator.daily import MONTH_DAYS, daily_curve, generate, temperatures
from simulator.weather.generator.fit import FittedClimatology, fit_climatology
from simulator.weather.generator.generated import generate_weather, make_weather
from simulator.weather.generator.monthly import by_month, smooth_year, variance
from simulator.weather.generator.rain_chain import long_run, order_criterion, wet_days, wet_fraction
from simulator.weather.generator.statistics import STATISTICS, calendar_of, statistics
from simulator.weather.generator.year_to_year import Runs, spread_ratio
from simulator.weather.samples import sample_weather, samples, samples_folder

ERRORS = 4.0  # a seeded run is checked to this many of its own standard errors
YEARS = 60


def months_of(curve: np.ndarray) -> np.ndarray:
    return np.array([part.mean() for part in np.split(curve, np.cumsum(MONTH_DAYS)[:-1])])


@pytest.fixture(scope="module")
def plain():
    """A climate without skewness or differences between seasons, one shape for all months."""
    written = read_climatology(samples_folder() / "tallow-bend.toml")
    return dataclasses.replace(
        written,
        rain=dataclasses.replace(written.rain, shape=(0.7,) * 12),
        tmax=dataclasses.replace(written.tmax, skew=(0.0,) * 12),
        tmin=dataclasses.replace(written.tmin, skew=(0.0,) * 12),
        season=Season(wet_odds=0.0, wet_amount=0.0, temperature=0.0),
    )


@pytest.fixture(scope="module")
def plain_fit(plain):
    return fit_climatology(generate(plain, YEARS, 1800, seed=21), wet_day=1e-6)


@cache
def sample_fit(name: str) -> FittedClimatology:
    return fit_climatology(sample_weather(name))


CHAINS = {
    0: [0.3],
    1: [0.25, 0.45],
    2: [0.20, 0.40, 0.35, 0.60],
    3: [0.15, 0.40, 0.30, 0.45, 0.30, 0.50, 0.40, 0.70],
}


@pytest.mark.analytic("the order that a chain was made with, by the criterion of Katz 1981")
@pytest.mark.parametrize("order", CHAINS)
def test_the_order_of_a_chain_comes_back(order):
    days = 60 * 365
    chance = np.random.Generator(np.random.PCG64(order)).random(days)
    probabilities = np.repeat(np.array(CHAINS[order])[:, np.newaxis], days, axis=1)
    wet = wet_days(probabilities, chance).astype(float)
    month = np.arange(days) % 365 // 31
    assert int(np.argmin(order_criterion(wet, month))) == order


@pytest.mark.analytic("-2 ln L + ln n of a Bernoulli series, by hand")
def test_the_criterion_of_order_0_is_that_of_a_bernoulli_series():
    wet = np.array([0.0, 1, 0, 1, 0, 0, 1, 0, 0, 0, 1, 0, 0])  # three days begin the chain
    expected = -2 * (3 * np.log(0.3) + 7 * np.log(0.7)) + np.log(10)
    assert order_criterion(wet, np.zeros(13, dtype=int))[0] == pytest.approx(expected)


@pytest.mark.analytic("the long-run states are the left eigenvector of the chain's matrix")
@pytest.mark.parametrize("order", [1, 2, 3])
def test_long_run_states_are_the_eigenvector(order):
    probabilities = np.array(CHAINS[order])
    states = probabilities.size
    matrix = np.zeros((states, states))
    for state in range(states):
        after = state << 1 & (states - 1)
        matrix[state, after | 1] += probabilities[state]
        matrix[state, after] += 1 - probabilities[state]
    values, vectors = np.linalg.eig(matrix.T)
    one = np.real(vectors[:, np.argmin(np.abs(values - 1))])
    found = long_run(probabilities[:, np.newaxis])[:, 0]
    assert found == pytest.approx(one / one.sum(), abs=1e-12)
    assert wet_fraction(probabilities[:, np.newaxis])[0] == pytest.approx(found[1::2].sum())


@pytest.mark.long
@pytest.mark.analytic("Monte-Carlo error of a binomial share")
def test_a_known_chain_comes_back(plain, plain_fit):
    assert plain_fit.order == 1
    for fitted, written in zip(
        plain_fit.climate.chain, (plain.rain.wet_after_dry, plain.rain.wet_after_wet), strict=True
    ):
        chance = months_of(daily_curve(written))
        after = np.array([chance, 1 - chance])  # at least this share of days lies after each state
        error = np.sqrt(chance * (1 - chance) / (YEARS * 30 * after.min(axis=0)))
        assert (np.abs(months_of(fitted) - chance) < ERRORS * error).all()


@pytest.mark.analytic("Fisher information of the gamma distribution's shape: k psi'(k) - 1 over k")
def test_known_amounts_come_back(plain, plain_fit):
    assert plain_fit.family == "gamma"
    rain = plain_fit.climate.rain
    mean = months_of(daily_curve(plain.rain.wet_day_rain))
    wet = YEARS * 30 * plain_fit.climate.chain.min()
    assert (np.abs(months_of(rain.mean) / mean - 1) < ERRORS / np.sqrt(0.7 * wet)).all()
    shape = 0.7
    error = np.sqrt(shape / (3 * wet * (shape * polygamma(1, shape) - 1)))
    assert (np.abs(months_of(rain.parameters[0]) - shape) < ERRORS * error).all()


@pytest.mark.analytic("Monte-Carlo errors of means, standard deviations and correlations")
def test_known_temperatures_come_back(plain, plain_fit):
    fitted = plain_fit.temperature
    # days follow each other: a third of them counts
    days = YEARS * 30 / 3
    for column, year in enumerate((plain.tmax, plain.tmin)):
        spread = np.maximum(year.sd_dry, year.sd_wet)
        assert (np.abs(fitted.mean[column] - year.mean) < ERRORS * spread / np.sqrt(days)).all()
        for name, share in (("sd_dry", 0.5), ("sd_wet", 0.2)):
            written = months_of(daily_curve(getattr(year, name)))
            error = 1 / np.sqrt(2 * share * days)
            assert (np.abs(getattr(fitted, name)[column] / written - 1) < ERRORS * error).all()
        assert np.abs(fitted.skew[column]).max() < ERRORS * np.sqrt(6 / (3 * days))
    for found, written in zip(
        (fitted.same_day, fitted.day_before), plain.residual.matrices(), strict=True
    ):
        assert np.abs(found - written).max() < ERRORS / np.sqrt(3 * days)


@pytest.mark.long
@pytest.mark.analytic("what was made comes back within the errors of variances, to first order")
def test_differences_between_years_are_found_and_matched(plain):
    varied = dataclasses.replace(
        plain, season=Season(wet_odds=0.4, wet_amount=0.3, temperature=1.2)
    )
    record = generate(varied, YEARS, 1800, seed=5)
    fitted = fit_climatology(record, wet_day=1e-6)
    calendar = calendar_of(record.time.values)
    own = by_month(calendar.year, calendar.month, record.rain.values)
    heat = by_month(calendar.year, calendar.month, 0.5 * (record.tmax + record.tmin).values)
    runs = Runs()
    chain_alone = dataclasses.replace(fitted.climate, wet_odds=0.0, wet_amount=0.0)
    made, alone = (
        spread_ratio(runs.months(runs.rain(climate)[1]), own)
        for climate in (fitted.climate, chain_alone)
    )
    # two variances over so many years, three or so of twelve months independent
    error = np.sqrt((2 / YEARS + 2 / 500) / 3)
    assert abs(made - 1) < ERRORS * error
    assert alone < 1 - ERRORS * error
    # and the warmth: written 1.2 degC, what a month's variance lets one see of it
    month_error = variance(heat) * np.sqrt(2 / YEARS)
    assert abs(np.mean(fitted.season**2) - 1.2**2) < ERRORS * month_error.mean() / np.sqrt(3)


@pytest.mark.long
@pytest.mark.parametrize("name", samples())
def test_years_differ_as_recorded_added_up_over_the_months(name):
    """The fit's own aim; that of wet days is missed by less than a tenth, others by little."""
    record, climate, runs = sample_weather(name), sample_fit(name).climate, Runs()
    calendar = calendar_of(record.time.values)
    tmax, tmin, rain = (record[one].values for one in ("tmax", "tmin", "rain"))
    wet, fallen = runs.rain(climate)
    high, low = temperatures(climate, runs.day_of_year, wet, runs.warmth, runs.normal)
    for made, own, within in (
        (wet.astype(float), (rain >= 0.2).astype(float), 0.1),
        (fallen, rain, 0.03),
        (0.5 * (high + low), 0.5 * (tmax + tmin), 0.03),
    ):
        months = by_month(calendar.year, calendar.month, own)
        assert spread_ratio(runs.months(made), months) == pytest.approx(1.0, abs=within)


@pytest.mark.parametrize("name", samples())
def test_the_rain_of_a_record_is_kept_in_the_long_run(name):
    """Whatever anomalies of seasons do to wet days and amounts; `mean_kept` sees to it."""
    climate, record = sample_fit(name).climate, sample_weather(name)
    chance = wet_fraction(climate.chain) * climate.rain.mean
    assert chance.mean() == pytest.approx(float(record.rain.mean()), rel=0.01)


@pytest.mark.long
@pytest.mark.analytic("binomial share of wet days: a dry climate of one wet spell a month or two")
def test_rare_wet_days_stay_rare():
    """Months that were wet by chance must not weigh more than those that were dry by chance."""
    record = sample_weather()
    days = record.sizes["time"]
    wetter = []
    for seed in range(6):
        draw = np.random.Generator(np.random.PCG64(seed))
        wet = wet_days(np.repeat([[0.02], [0.2]], days, axis=1), draw.random(days))
        dry_land = record.assign(rain=("time", np.where(wet, 8.0 * draw.random(days) + 0.3, 0.0)))
        chain = fit_climatology(dry_land).climate.chain
        wetter.append(wet_fraction(chain).mean() / wet.mean() - 1.0)
    # the chain's curves and the share of days are fitted to the same days
    assert abs(np.mean(wetter)) < 0.03


@pytest.mark.analytic("a Weibull variable to a power is Weibull: 1 + CV^2 by gamma functions")
@pytest.mark.parametrize("spread", [0.0, 0.1, 0.25, 0.4])
def test_days_times_seasons_vary_as_the_days_did(spread):
    shape = 0.8
    rain = wet_day_rain.WetDayRain(
        family="Weibull", mean=np.full(365, 9.0), parameters=np.full((1, 365), shape)
    )
    within = rain.within_season(spread)

    def squares(of: float) -> float:
        return float(gamma(1 + 2 / of) / gamma(1 + 1 / of) ** 2)

    together = squares(shape / within.power) * np.exp(spread**2)
    assert together == pytest.approx(squares(shape), rel=0.01)  # moments of a thousand quantiles
    chance = np.tile((np.arange(20_000) + 0.5) / 20_000, 2)
    day = np.repeat([20, 200], 20_000)
    drawn = within.amounts(day, chance, np.ones(day.size)).reshape(2, -1)
    assert drawn.mean(axis=1) == pytest.approx(np.full(2, 9.0), rel=0.005)


@pytest.mark.long
@pytest.mark.parametrize("name", ["tallow-bend", "palmetto-wick"])
def test_smoothing_two_years_comes_nearer_to_thirty_than_their_own_means(name):
    record = sample_weather(name)
    of_all, fitted, own = (np.empty((15, 2, 12)) for _ in range(3))
    for pair in range(15):
        two = record.isel(time=slice(731 * pair, 731 * (pair + 1)))
        fitted[pair] = fit_climatology(two, smoothed=True).temperature.mean
        for into, source in ((own, two), (of_all, record)):
            months = source[["tmax", "tmin"]].groupby("time.month").mean()
            into[pair] = months.tmax.values, months.tmin.values
    assert np.std(fitted - of_all) < np.std(own - of_all)


def test_a_chain_alone_is_given_no_large_anomaly(plain_fit):
    assert plain_fit.climate.wet_odds < 0.15
    assert plain_fit.climate.wet_amount < 0.15


@pytest.mark.parametrize("name", samples())
def test_every_sample_fits(name):
    fitted = sample_fit(name)
    assert fitted.order == 1
    assert not fitted.weak
    assert (fitted.years == 30).all()
    assert np.abs(fitted.misses[fitted.family]) < 2.5
    climate = fitted.climate
    assert ((climate.chain > 0) & (climate.chain < 1)).all()
    assert (climate.sd_dry > 0).all()
    assert (climate.mean[0] > climate.mean[1]).all()


@pytest.mark.parametrize(
    ("file", "months", "said"),
    [
        ("belle_mina_2003_2012.csv", 12, "Months have as few as"),
        ("headland_winters_2005_2007.csv", 6, "2 years of a month cannot say how years differ"),
        ("prattville_winters_2003_2005_2006.csv", 6, "6 months of the year are whole in fewer"),
    ],
)
def test_stations_with_gaps_fit_and_say_what_is_weak(open_data, file, months, said):
    fitted = fit_climatology(read_weather(open_data / "weather" / file, latitude=32.0))
    assert (fitted.years > 0).sum() == months
    assert said in " ".join(fitted.weak)
    assert fitted.order == 1


@pytest.mark.published("Wilks and Wilby 1999: runs of frost are a known failing")
def test_the_frost_runs_of_a_real_station_are_told_to_be_too_short(open_data):
    record = read_weather(open_data / "weather" / "belle_mina_2003_2012.csv", latitude=34.7)
    fitted = fit_climatology(record)
    judged = held_against(record, fitted_maker(fitted, record), 0.2, members=40)
    held = {one.statistic.name: one for one in judged}
    assert held["frost_run"].fails
    assert held["frost_run"].deviations > 2.6
    for kept in ("wet_fraction", "wet_after_wet", "rain_99", "dry_spell", "tmin_mean_dry"):
        assert not held[kept].fails


def test_temperatures_are_rounded_as_the_record_writes_them():
    """Frost is counted alike: a reading of 32 degF stands for 31.5 to 32.5."""
    record = sample_weather("hollin-reach")
    fine = np.array([record[name].values for name in ("tmax", "tmin", "rain")])
    fine[:2] += np.random.Generator(np.random.PCG64(2)).random((2, fine.shape[1])) / 10 - 0.05
    whole = ((fine[:2] * 1.8 + 32).round() - 32) / 1.8
    # written to 0.1 degC, whole degF have edges that are known to 0.05 only
    for written, within in ((whole, 1e-9), (whole.round(1), 0.15)):
        record["tmax"].values[:], record["tmin"].values[:] = written
        held = {
            one.statistic.name: one
            for one in held_against(record, lambda draw: fine, 0.2, members=2)
        }
        frost = held["frost_days"]
        assert frost.generated == pytest.approx(frost.recorded, abs=within)


def test_what_lies_beyond_a_record_is_not_drawn_to_it():
    steps = steps_of(np.array([0.0, np.nan, 0.6, 1.1, 1.7, 5.0, 0.6]))
    assert steps.tolist() == [0.0, 0.6, 1.1, 1.7, 5.0]
    made = np.array([-3.0, 0.2, 0.31, 1.5, 3.0, 4.9, 9.0, np.nan])
    expected = [-3.0, 0.0, 0.6, 1.7, 3.0, 5.0, 9.0, np.nan]
    assert rounded_to(made, steps) == pytest.approx(expected, nan_ok=True)


@pytest.mark.long
@pytest.mark.analytic("a record of the generator's own making is one of its records")
def test_what_is_kept_is_said_to_differ_as_seldom_as_is_told():
    record = sample_weather().isel(time=slice(0, 8 * 365 + 2))
    make = fitted_maker(sample_fit("tallow-bend"), record)
    calendar = calendar_of(record.time.values)
    made = np.array(
        [
            statistics(calendar, make(np.random.Generator(np.random.PCG64([7, one]))), 0.2)
            for one in range(201)
        ]
    )
    judged = [
        compare_statistic(
            statistic, made[one, at], np.delete(made, one, axis=0)[one % 100 :][:100, at]
        )
        for one in range(100)
        for at, statistic in enumerate(STATISTICS)
    ]
    share = np.mean([one.fails for one in judged if one.months])
    # fifty or so independent statistics of a hundred records: the share is known to a third
    assert BY_CHANCE / 2 < share < 2 * BY_CHANCE


def test_a_wrong_generator_is_found_out():
    record = sample_weather()
    make = fitted_maker(sample_fit("tallow-bend"), record)

    def wetter(draw):
        return make(draw) * np.array([[1.0], [1.0], [1.3]])

    right, wrong = (
        {one.statistic.name for one in held_against(record, maker, 0.2, members=25) if one.fails}
        for maker in (make, wetter)
    )
    assert not {"rain_mean", "rain_90"} & right
    assert {"rain_mean", "rain_90", "rain_sd"} <= wrong
    assert "tmax_mean_dry" not in wrong


@pytest.mark.analytic("two wet days, three dry ones, over and over: shares and spells by hand")
def test_statistics_of_a_pattern_are_those_of_the_pattern():
    time = np.arange("2001-01-01", "2021-01-01", dtype="datetime64[D]")
    wet = np.arange(time.size) % 5 < 2
    values = np.array(
        [np.where(wet, 15.0, 20.0), np.where(wet, 10.0, -1.0), np.where(wet, 8.0, 0.1)]
    )
    found = dict(
        zip(
            (one.name for one in STATISTICS),
            statistics(calendar_of(time), values, 0.2),
            strict=True,
        )
    )
    assert found["wet_fraction"] == pytest.approx(np.full(12, 0.4), abs=0.001)
    assert found["wet_after_dry"] == pytest.approx(np.full(12, 1 / 3), abs=0.01)
    assert found["wet_after_wet"] == pytest.approx(np.full(12, 0.5), abs=0.01)
    assert (found["wet_spell"] == 2).all()
    assert (found["dry_spell_longest"] == 3).all()
    assert (found["rain_mean"] == 8.0).all()
    assert (found["rain_99"] == 8.0).all()
    # 2 of 5 wet: of 0.4 and -0.6 over their variance 0.24, once 0.16, twice -0.24, twice 0.36
    assert found["rain_with_before"] == pytest.approx(np.full(12, 1 / 6), abs=0.02)
    assert (found["tmax_mean_wet"] == 15.0).all()
    assert (found["frost_run"] == 3).all()
    assert found["frost_days"] == pytest.approx(0.6 * MONTH_DAYS, abs=0.1)
    assert (found["range_least"] == 5.0).all()


@pytest.mark.analytic("a distribution function and its inverse; a mean of 1 by construction")
@pytest.mark.parametrize(
    ("family", "parameters"),
    [
        ("exponential", []),
        ("gamma", [0.7]),
        ("Weibull", [0.8]),
        ("mixed exponential", [0.6, 0.4]),
        ("gamma with Pareto tail", None),
    ],
)
def test_amounts_are_drawn_from_their_distribution(family, parameters):
    chance = (np.arange(200_000) + 0.5) / 200_000
    if parameters is None:
        amount = wet_day_rain.draw("gamma", np.full((1, 20_000), 0.7), chance[::10])
        parameters = wet_day_rain.fit(family, amount, np.full(20_000, 1e-4), tail=0.2)
    of_days = np.repeat(np.array(parameters)[:, np.newaxis], chance.size, axis=1)
    drawn = np.sort(wet_day_rain.draw(family, of_days, chance))
    # the middle sum leaves out no more than the tail beyond the last of 200,000
    assert drawn.mean() == pytest.approx(1.0, abs=0.003)
    at = drawn[1000::9901]
    below = np.searchsorted(drawn, at, side="right") / drawn.size
    more = wet_day_rain.survival(family, of_days[:, : at.size], at)
    assert more == pytest.approx(1 - below, abs=2e-5)


@pytest.mark.analytic(
    "the likelihood is largest, and Akaike's criterion least, for the true family"
)
@pytest.mark.parametrize(
    ("family", "parameters"),
    [("exponential", []), ("gamma", [0.6]), ("Weibull", [0.7]), ("mixed exponential", [0.7, 0.3])],
)
def test_the_family_comes_back(family, parameters):
    draw = np.random.Generator(np.random.PCG64(3))
    of_days = np.repeat(np.array(parameters)[:, np.newaxis], 6000, axis=1)
    amount = np.maximum(wet_day_rain.draw(family, of_days, draw.random(6000)), 1e-4)
    half = np.full(6000, 1e-4)
    criterion = {}
    for other in wet_day_rain.FAMILIES:
        fitted = wet_day_rain.fit(other, amount, half, wet_day_rain.fit_tail(amount))
        likelihood = wet_day_rain.likelihood(other, fitted, amount, half)
        criterion[other] = 2 * wet_day_rain.PARAMETERS[other] - 2 * likelihood
    nearest = min(criterion, key=criterion.__getitem__)
    # one with more parameters may win by less than its penalty's worth of chance
    assert criterion[family] - criterion[nearest] < 4.0


@pytest.mark.analytic("a mean and two harmonics through twelve of their own values")
def test_smoothing_keeps_a_smooth_year():
    angle = 2 * np.pi * np.arange(12) / 12
    year = 3 + np.cos(angle) - 0.5 * np.sin(2 * angle)
    assert smooth_year(year, np.full(12, 0.1)) == pytest.approx(year)
    gaps = np.where(np.arange(12) == 4, np.nan, year)
    assert np.isfinite(smooth_year(gaps, np.full(12, 0.1))).all()
    flat = smooth_year(year, np.full(12, 100.0))
    assert flat == pytest.approx(np.full(12, flat[0]))  # not worth a harmonic


def test_a_month_without_rain_stays_without():
    record = sample_weather("quiver-flats")
    record["rain"].values[record.time.dt.month == 7] = 0.0
    fitted = fit_climatology(record)
    july = months_of(wet_fraction(fitted.climate.chain))[6]
    assert july < 0.008  # a day in four years


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        (lambda record: record.isel(time=slice(0, 300)), "No month is whole in two years"),
        (lambda record: record.assign(rain=record.rain * 0), "0 days with 0.2 mm of rain"),
        (lambda record: record.assign(rain=record.rain * np.nan), "No month is whole"),
        (lambda record: record.assign(tmax=record.tmax * 0 + 40), "tmax hardly varies"),
    ],
)
def test_records_that_cannot_be_fitted_are_refused(spoil, message):
    with pytest.raises(InputError, match=message):
        fit_climatology(spoil(sample_weather()))


@pytest.mark.parametrize("wet_day", [0.0, -1.0, 6.0, float("nan")])
def test_a_threshold_out_of_range_is_refused(wet_day):
    with pytest.raises(InputError, match="wet day"):
        fit_climatology(sample_weather(), wet_day=wet_day)


# --- months kept in the long run ---


def _months(record: xr.Dataset) -> tuple[np.ndarray, np.ndarray]:
    """Mean rain [mm/d], and mean tmax and tmin [degC], of each month."""
    month = record["time"].values.astype("datetime64[M]").astype(int) % 12
    rain, *air = (
        np.array([np.nanmean(record[name].values[month == one]) for one in range(12)])
        for name in ("rain", "tmax", "tmin")
    )
    return rain, np.array(air)


@pytest.mark.long
@pytest.mark.analytic(
    "the record's own months; 1,350 falls leave luck of some 2 % in a month's rain"
)
@pytest.mark.parametrize("years", [12, 30])
def test_months_are_kept_in_the_long_run(years: int) -> None:
    record = sample_weather().isel(time=slice(0, years * 365 + years // 4))
    rain, air = _months(record)
    made = [_months(generate_weather(record, 450, seed)) for seed in range(3)]
    # 5 %, and what luck leaves in 1,350 falls
    assert np.mean([one[0] for one in made], axis=0) == pytest.approx(rain, rel=0.05 + 0.04)
    assert np.mean([one[1] for one in made], axis=0) == pytest.approx(air, abs=0.3)


@pytest.mark.long
def test_smoothing_is_a_choice_that_says_what_it_moved() -> None:
    record = sample_weather().isel(time=slice(0, 12 * 365))
    rain, _ = _months(record)
    smooth = make_weather(record, 450, 1, smoothed=True)
    kept = make_weather(record, 450, 1)
    off = [np.abs(np.log(_months(one.record)[0] / rain)).max() for one in (smooth, kept)]
    assert off[0] > 1.5 * off[1]
    told = "Smoothing moved the means of months: rain most"
    assert any(note.startswith(told) for note in smooth.notes)
    assert not any("Smoothing" in note for note in kept.notes)
    with pytest.raises(InputError, match="Seasons of the record are drawn as they were"):
        make_weather(record, 5, 1, "resampled", smoothed=True)
