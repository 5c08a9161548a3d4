"""The weather generator against the moments that its own mathematics prescribes."""

from __future__ import annotations

import dataclasses
import tomllib
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.problems import InputError
from simulator.weather.generator import daily as generator
from simulator.weather.generator import wet_day_rain
from simulator.weather.generator.climatology import Climatology, Residual, Season, read_climatology
from simulator.weather.generator.daily import daily_curve, generate
from simulator.weather.generator.rain_chain import wet_days, wet_fraction
from simulator.weather.generator.residuals import residuals, skewed
from simulator.weather.samples import samples, samples_folder

PLAIN = Season(wet_odds=0.0, wet_amount=0.0, temperature=0.0)
# A seeded run is checked to this many of its own standard errors.
ERRORS = 4.0


@pytest.fixture(scope="module")
def tallow() -> Climatology:
    return read_climatology(samples_folder() / "tallow-bend.toml")


def agrees(values: np.ndarray, expected: float) -> bool:
    """The mean of independent values lies within Monte-Carlo error of what is expected."""
    return bool(abs(values.mean() - expected) < ERRORS * values.std() / np.sqrt(values.size))


def chain(size: int, p01: float, p11: float, chance: np.ndarray) -> np.ndarray:
    return wet_days(np.full((2, size), [[p01], [p11]]), chance)


CASES = pytest.mark.parametrize(
    ("p01", "p11", "mean", "shape", "wet", "days", "days_var", "rain", "rain_sd"),
    [
        (0.25, 0.45, 8.0, 1.0, 0.3125, 9.375, 9.5337, 75.0, 34.787),
        (0.30, 0.50, 6.0, 0.7, 0.3750, 11.25, 10.4004, 67.5, 30.870),
        (0.20, 0.60, 10.0, 0.75, 1 / 3, 10.0, 15.0617, 100.0, 53.287),
    ],
    ids=["I1", "I2", "I3"],
)


@pytest.mark.analytic(
    "Katz 1977: moments of a chain-dependent process over 30 days, check values I1-I3"
)
@CASES
def test_chain_keeps_the_moments_of_a_month(
    p01, p11, mean, shape, wet, days, days_var, rain, rain_sd
):
    months = 20_000
    draw = np.random.Generator(np.random.PCG64(42))
    size = 30 * months
    is_wet = chain(size, p01, p11, draw.random(size))
    fallen = np.where(
        is_wet, mean * wet_day_rain.draw("gamma", np.full((1, size), shape), draw.random(size)), 0.0
    )
    count = is_wet.reshape(months, 30).sum(axis=1)
    total = fallen.reshape(months, 30).sum(axis=1)
    assert agrees(is_wet.reshape(months, 30).mean(axis=1), wet)
    assert agrees(count, days)
    assert agrees((count - days) ** 2, days_var)
    assert agrees(total, rain)
    assert agrees((total - rain) ** 2, rain_sd**2)


@pytest.mark.analytic("geometric spells of a two-state chain: 1/(1-p11) and 1/p01")
@CASES
def test_spells_last_as_long_as_the_chain_says(
    p01, p11, mean, shape, wet, days, days_var, rain, rain_sd
):
    size = 200_000
    chance = np.random.Generator(np.random.PCG64(7)).random(size)
    is_wet = chain(size, p01, p11, chance)
    edges = np.flatnonzero(np.diff(is_wet.astype(int))) + 1
    lengths = np.diff(edges)
    begins_wet = is_wet[edges[:-1]]
    assert agrees(lengths[begins_wet], 1 / (1 - p11))
    assert agrees(lengths[~begins_wet], 1 / p01)


@pytest.mark.analytic("exponential distribution: P(X > 25) = 0.04394 for a mean of 8 mm")
def test_exponential_rain_exceeds_25_mm_as_often_as_it_should():
    chances = np.array([1 - 0.043935, 1 - 0.043945])
    for family, shape in (("exponential", []), ("gamma", [[1.0]]), ("Weibull", [[1.0]])):
        at_25 = 8.0 * wet_day_rain.draw(family, np.array(shape), chances)
        assert at_25[0] > 25.0 > at_25[1]


@pytest.mark.analytic("AR(1): correlation phi^k, sd of a 30-day mean .3091 .3536 .4143")
@pytest.mark.parametrize(
    ("phi", "mean_sd"), [(0.5, 0.3091), (0.6, 0.3536), (0.7, 0.4143)], ids=["0.5", "0.6", "0.7"]
)
def test_residuals_persist_as_they_should(phi, mean_sd):
    alone = Residual(
        tmax_tmin=0.0, tmax_tmax=phi, tmin_tmin=phi, tmax_after_tmin=0.0, tmin_after_tmax=0.0
    )
    # 2,000 stretches of 30 days, 10 days apart so that they hardly know of each other
    draws = np.random.Generator(np.random.PCG64(5)).standard_normal((80_000, 2))
    kept = residuals(*alone.matrices(), draws).reshape(2000, 40, 2)[:, :30]
    means = kept.mean(axis=1).ravel()
    assert agrees(means**2, mean_sd**2)
    for lag in (1, 2, 3):
        product = (kept[:, lag:] * kept[:, :-lag]).mean(axis=1).ravel()
        assert agrees(product, phi**lag)


@pytest.mark.analytic("Richardson 1981: A and B are built so that M0 and M1 come back")
def test_residuals_keep_all_five_correlations(tallow):
    draws = np.random.Generator(np.random.PCG64(6)).standard_normal((80_000, 2))
    kept = residuals(*tallow.residual.matrices(), draws).reshape(2000, 40, 2)[:, :30]
    same_day, day_before = tallow.residual.matrices()
    for row in (0, 1):
        for column in (0, 1):
            assert agrees((kept[..., row] * kept[..., column]).mean(axis=1), same_day[row, column])
            lagged = (kept[:, 1:, row] * kept[:, :-1, column]).mean(axis=1)
            assert agrees(lagged, day_before[row, column])


@pytest.mark.analytic("mean 0 and variance 1 by construction; skewness to first order")
def test_leaning_keeps_mean_and_variance():
    # moments by quadrature, which is exact for polynomials of this degree
    nodes, weights = np.polynomial.hermite_e.hermegauss(20)
    weights = weights / weights.sum()
    for skew in (-0.8, -0.3, 0.0, 0.5):
        leaned = skewed(nodes, np.full(20, skew))
        assert weights @ leaned == pytest.approx(0.0, abs=1e-12)
        assert weights @ leaned**2 == pytest.approx(1.0, abs=1e-12)
        # the second-order remainder is of the size of (skew / 6)^3
        assert weights @ leaned**3 == pytest.approx(skew, abs=20 * abs(skew / 6) ** 3 + 1e-12)


def test_season_anomaly_has_the_same_spread_on_every_day():
    knots = np.random.Generator(np.random.PCG64(8)).standard_normal((4000, 6))
    series = np.array([generator.season_anomaly(365, row) for row in knots])
    for day in range(0, 365, 15):
        assert agrees(series[:, day] ** 2, 1.0)


@pytest.mark.analytic("the spline joins running totals, so month means come back exactly")
def test_daily_curve_keeps_month_means():
    months = (130.0, 125.0, 145.0, 105.0, 95.0, 130.0, 150.0, 125.0, 105.0, 75.0, 100.0, 120.0)
    curve = daily_curve(months)
    edges = np.concatenate([[0], np.cumsum(generator.MONTH_DAYS)])
    means = [curve[a:b].mean() for a, b in pairwise(edges)]
    assert means == pytest.approx(months, abs=1e-9)
    assert np.abs(np.diff(np.append(curve, curve[0]))).max() < 4.0  # no step, at new year either
    assert daily_curve((7.0,) * 12) == pytest.approx(np.full(365, 7.0))


@pytest.fixture(scope="module")
def two_centuries(tallow):
    return generate(tallow, 200, 1800, seed=11)


@pytest.mark.analytic("the climatology's own month means; Gauss-Hermite mean over the anomaly")
@pytest.mark.parametrize("month", range(1, 13))
def test_generated_month_means_are_the_climatology(tallow, two_centuries, month):
    days = two_centuries.sel(time=two_centuries.time.dt.month == month)
    yearly = days.groupby("time.year")
    rain, tmax, tmin = (yearly.mean()[name].to_numpy() for name in ("rain", "tmax", "tmin"))
    dry, wet = (
        daily_curve(values) for values in (tallow.rain.wet_after_dry, tallow.rain.wet_after_wet)
    )
    expected = daily_curve(tallow.rain.wet_day_rain) * wet_fraction(np.array([dry, wet]))
    edges = np.concatenate([[0], np.cumsum(generator.MONTH_DAYS)])
    assert agrees(rain, expected[edges[month - 1] : edges[month]].mean())
    # the push that holds Tmax above Tmin is symmetric, so it cancels in their mean
    mean = (tallow.tmax.mean[month - 1] + tallow.tmin.mean[month - 1]) / 2
    assert agrees((tmax + tmin) / 2, mean)


@pytest.mark.analytic("an anomaly by season adds variance by year, as Katz and Parlange 1998 say")
def test_season_anomaly_adds_variance_between_years(tallow, two_centuries):
    plain = generate(dataclasses.replace(tallow, season=PLAIN), 200, 1800, seed=11)
    spreads = [
        record.rain.sel(time=record.time.dt.month == 11).groupby("time.year").sum().std().item()
        for record in (plain, two_centuries)
    ]
    assert spreads[1] > spreads[0]


@given(seed=st.integers(0, 2**63), name=st.sampled_from(sorted(samples())))
@settings(max_examples=25, deadline=None)
def test_any_seed_gives_possible_weather(seed, name):
    record = generate(read_climatology(samples_folder() / f"{name}.toml"), 2, 2003, seed)
    assert record.sizes["time"] == 731  # 2004 is a leap year
    assert ((record.tmax - record.tmin) > 0.999).all()
    assert (record.rain >= 0).all()
    assert np.isfinite(record.to_array()).all()
    assert record.attrs["invented"] == "yes"


def test_a_seed_gives_its_weather_again(tallow):
    first, again, other = (generate(tallow, 1, 2000, seed) for seed in (3, 3, 4))
    assert first.identical(again)
    assert not first.equals(other)
    assert str(first.time.values[0])[:10] == "2000-08-01"
    assert str(first.time.values[-1])[:10] == "2001-07-31"


@pytest.mark.parametrize(
    ("years", "first_year", "seed", "message"),
    [
        (0, 2000, 1, "years: 0 falls asked for. Ask for 1 to 450, as many as a record can hold"),
        (10**9, 2000, 1, "years: 1000000000 falls asked for."),
        (30, 1600, 1, "first_year: Falls 1600 to 1629 asked for."),
        (30, 2190, 1, "Keep the record between 1750 and 2200"),
        (30, 2000, -1, "seed: -1 is negative."),
    ],
)
def test_impossible_orders_are_refused(tallow, years, first_year, seed, message):
    with pytest.raises(InputError, match=message):
        generate(tallow, years, first_year, seed)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("latitude = 31.6", "latitude = 96", "c.toml, key 'latitude': 96 lies outside -66 to 66"),
        ("latitude = 31.6\n", "", "c.toml, key 'latitude': The entry is missing."),
        ("shape = [0.75,", "shape = [", r"table \[rain\], key 'shape': Twelve values are needed."),
        ("shape = [0.75,", "shape = [nan,", r"\[rain\], key 'shape': nan lies outside 0.3 to 3."),
        ("shape = [0.75,", "shape = ['a',", r"\[rain\], key 'shape': 'a' lies outside"),
        ("[season]", "[seasons]", r"table \[season\]: The table is missing."),
        ("wet_odds", "wet_odd", "key 'wet_odd': Not an entry of a climatology."),
        (
            "tmax_after_tmin = 0.44",
            "tmax_after_tmin = -0.2",
            "No series can have these five correlations",
        ),
        ("mean = [15.5,", "mean = [3.5,", "A month's mean Tmax is not above its mean Tmin."),
        ("site =", "site ==", "Cannot be read as TOML"),
        ('site = "Tallow Bend"', 'site = ""', "is not a text of 1 to 500 characters"),
    ],
)
def test_a_faulty_climatology_is_refused(tmp_path, old, new, message):
    text = (samples_folder() / "tallow-bend.toml").read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "c.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError, match=message):
        read_climatology(path)


def test_files_that_are_no_climatology_are_refused(tmp_path: Path):
    with pytest.raises(InputError, match="Cannot be read"):
        read_climatology(tmp_path / "absent.toml")
    with pytest.raises(InputError, match="Cannot be read"):
        read_climatology(tmp_path)
    long = tmp_path / "long.toml"
    long.write_bytes(b"#" * 200_000)
    with pytest.raises(InputError, match="too long"):
        read_climatology(long)
    noise = tmp_path / "noise.toml"
    noise.write_bytes(bytes(range(256)))
    with pytest.raises(InputError, match="Cannot be read"):
        read_climatology(noise)


def test_every_entry_of_the_files_is_in_the_readme():
    readme = (samples_folder() / "README.md").read_text(encoding="utf-8")
    for name in samples():
        text = (samples_folder() / f"{name}.toml").read_text(encoding="utf-8")
        for table in ("rain", "tmax", "tmin"):
            for entry in tomllib.loads(text)[table]:
                assert entry in readme
