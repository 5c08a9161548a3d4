"""A daily weather generator: from a climatology written down, any number of invented falls.

Rain comes first: a two-state Markov chain says which days are wet, a gamma distribution how
much falls on them (Richardson 1981; Katz 1977). Tmax and Tmin follow: their means and spreads
depend on the time of year and on whether the day is wet, and what is left over is carried from
day to day by a first-order process of the two together (Richardson 1981). Such a chain makes
its years too much alike (Katz and Parlange 1998), so each season also has an anomaly of
wetness and one of temperature, which wander slowly from one season to the next.

Month values become daily curves whose month means are the values given.

References
----------
Katz RW (1977) Precipitation as a chain-dependent process. J. Appl. Meteorol. 16:671-676.
Katz RW, Parlange MB (1998) Overdispersion phenomenon in stochastic modeling of precipitation.
J. Climate 11:591-601.
Richardson CW (1981) Stochastic simulation of daily precipitation, temperature, and solar
radiation. Water Resour. Res. 17:182-190.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.problems import fault
from simulator.weather.climatology import Climatology, Residual
from simulator.weather.record import make_record

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

MOST_YEARS = 1000
SEASON_DAYS = 365.25 / 4
# Tmax stays above Tmin by at least this much [degC]; an overcast day keeps about a degree.
LEAST_RANGE = 1.0
MONTH_DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])


def daily_curve(months: tuple[float, ...]) -> NDArray[np.float64]:
    """Turn twelve month values into a smooth periodic year of 365 days.

    The running total of the month values is joined by a periodic cubic spline; a day's value is
    what the total gains over that day. So each month's mean is exactly the value given, which
    joining mid-month values by a line or by a harmonic through them does not do.

    Parameters
    ----------
    months : tuple of 12 float
        January to December, any unit.

    Returns
    -------
    ndarray, shape (365,)
        The same unit, from 1 January on.
    """
    from scipy.interpolate import CubicSpline

    mean = float(np.average(months, weights=MONTH_DAYS))
    edges = np.concatenate([[0], np.cumsum(MONTH_DAYS)])
    total = np.concatenate([[0.0], np.cumsum((np.asarray(months) - mean) * MONTH_DAYS)])
    total[-1] = 0.0  # rounding aside it is; the periodic spline asks for equality
    curve: NDArray[np.float64] = np.diff(
        CubicSpline(edges, total, bc_type="periodic")(np.arange(366))
    )
    return curve + mean


def wet_days(
    wet_after_dry: NDArray[np.float64],
    wet_after_wet: NDArray[np.float64],
    chance: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Run the two-state first-order chain of wet and dry days.

    Parameters
    ----------
    wet_after_dry, wet_after_wet : ndarray, shape (days,)
        Probability that the day is wet when the day before was dry, was wet [0-1].
    chance : ndarray, shape (days,)
        Independent uniform draws [0-1).

    Returns
    -------
    ndarray of bool, shape (days,)
        True on wet days. The first day is drawn from the chain's own wet fraction.

    References
    ----------
    Richardson (1981), section on precipitation; Katz (1977).
    """
    wet = np.empty(chance.size, dtype=bool)
    after_dry = (chance < wet_after_dry).tolist()
    after_wet = (chance < wet_after_wet).tolist()
    state = bool(chance[0] < wet_fraction(wet_after_dry[:1], wet_after_wet[:1])[0])
    wet[0] = state
    for day in range(1, chance.size):
        state = after_wet[day] if state else after_dry[day]
        wet[day] = state
    return wet


def wet_fraction(
    wet_after_dry: NDArray[np.float64], wet_after_wet: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the long-run fraction of wet days, p01 / (1 + p01 - p11)."""
    return wet_after_dry / (1.0 + wet_after_dry - wet_after_wet)


def rain_amounts(
    mean: NDArray[np.float64], shape: NDArray[np.float64], chance: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Rain of wet days, from a gamma distribution.

    Parameters
    ----------
    mean : ndarray
        Mean rain of a wet day [mm].
    shape : ndarray
        Shape of the gamma distribution; 1 is the exponential.
    chance : ndarray
        Independent uniform draws [0-1).

    Returns
    -------
    ndarray
        Rain [mm].
    """
    from scipy.special import gammaincinv

    amounts: NDArray[np.float64] = gammaincinv(shape, chance) * mean / shape
    return amounts


def residuals(residual: Residual, normal: NDArray[np.float64]) -> NDArray[np.float64]:
    """Carry standard residuals of Tmax and Tmin from day to day.

    Parameters
    ----------
    residual : Residual
        The correlations to be kept.
    normal : ndarray, shape (days, 2)
        Independent standard normal draws.

    Returns
    -------
    ndarray, shape (days, 2)
        Residuals of Tmax and Tmin, each of mean 0 and variance 1.

    References
    ----------
    Richardson (1981): x[t] = A x[t-1] + B e[t], A = M1 M0^-1, B B' = M0 - M1 M0^-1 M1'.
    """
    same_day, day_before = residual.matrices()
    carry = day_before @ np.linalg.inv(same_day)
    fresh = normal @ np.linalg.cholesky(same_day - carry @ day_before.T).T
    kept = np.empty_like(normal)
    kept[0] = np.linalg.cholesky(same_day) @ normal[0]
    for day in range(1, len(normal)):
        kept[day] = carry @ kept[day - 1] + fresh[day]
    return kept


def skewed(normal: NDArray[np.float64], skew: NDArray[np.float64]) -> NDArray[np.float64]:
    """Lean standard normal residuals to one side, keeping mean 0 and variance 1.

    Parameters
    ----------
    normal : ndarray
        Standard normal values.
    skew : ndarray
        Skewness wanted, -0.8 to 0.8; reached to first order.

    Returns
    -------
    ndarray
        x + g (x^2 - 1) / 6, over its standard deviation.

    References
    ----------
    Cornish EA, Fisher RA (1938) Moments and cumulants in the specification of distributions.
    Rev. Int. Stat. Inst. 5:307-320, the term in skewness.
    """
    bend = skew / 6.0
    leaned: NDArray[np.float64] = (normal + bend * (normal**2 - 1.0)) / np.sqrt(1.0 + 2.0 * bend**2)
    return leaned


def season_anomaly(days: int, knots: NDArray[np.float64]) -> NDArray[np.float64]:
    """Let one standard normal draw a season wander smoothly into the next.

    Between two draws the weights are a cosine and a sine, whose squares sum to one: so the
    variance is 1 on every day, which a straight line between draws would halve midway.

    Parameters
    ----------
    days : int
        Length of the series.
    knots : ndarray
        Independent standard normal draws, one a season of a quarter year and one to close.

    Returns
    -------
    ndarray, shape (days,)
        The anomaly, mean 0 and variance 1.
    """
    season, along = np.divmod(np.arange(days) / SEASON_DAYS, 1.0)
    season = season.astype(int)
    anomaly: NDArray[np.float64] = (
        np.cos(along * np.pi / 2) * knots[season] + np.sin(along * np.pi / 2) * knots[season + 1]
    )
    return anomaly


def _shift_odds(probability: NDArray[np.float64], step: NDArray[np.float64]) -> NDArray[np.float64]:
    from scipy.special import expit, logit

    shifted: NDArray[np.float64] = expit(logit(probability) + step)
    return shifted


def _mean_kept(
    climatology: Climatology, after_dry: NDArray[np.float64], after_wet: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the factor on rain that leaves its long-run mean as written, anomalies and all."""
    season = climatology.season
    nodes, weights = np.polynomial.hermite_e.hermegauss(15)
    weights = weights / weights.sum()
    odds = season.wet_odds * nodes[:, np.newaxis]
    wet = wet_fraction(_shift_odds(after_dry, odds), _shift_odds(after_wet, odds))
    mean = (weights * np.exp(season.wet_amount * nodes)) @ wet
    factor: NDArray[np.float64] = wet_fraction(after_dry, after_wet) / mean
    return factor


def generate(climatology: Climatology, years: int, first_year: int, seed: int) -> xr.Dataset:
    """Make a daily record of invented weather.

    Parameters
    ----------
    climatology : Climatology
        What the place is like.
    years : int
        Number of falls, 1 to 1000.
    first_year : int
        The first fall's year, 1700 or later; the record runs from 1 August of it to 31 July
        `years` years on, and must end before 2262.
    seed : int
        Not negative; the same seed gives the same weather.

    Returns
    -------
    Dataset, dimension time
        tmax, tmin [degC] and rain [mm], not rounded; attrs as every record has, with
        ``invented`` = ``"yes"``.

    Raises
    ------
    InputError
        `years`, `first_year` or `seed` out of range.

    Notes
    -----
    All draws are uniform draws of PCG64, turned by inverse distribution functions, because
    numpy promises that stream from version to version but not its own normal and gamma draws.
    Where the drawn Tmax does not exceed Tmin by 1 degC, both move apart about their midpoint.
    The season's wetness moves the odds of rain and the rain of a wet day alike; the long-run
    mean rain stays as written (15-point Gauss-Hermite mean over the anomaly). 29 February has
    the climate of the 28th.
    """
    from scipy.special import ndtri

    if not 1 <= years <= MOST_YEARS:
        raise fault("years", f"{years} falls asked for.", f"Ask for 1 to {MOST_YEARS}.")
    if not (first_year >= 1700 and first_year + years <= 2261):
        raise fault("first year", f"Falls {first_year} to {first_year + years - 1} asked for.",
                    "Keep the record between 1700 and 2261.")  # fmt: skip
    if seed < 0:
        raise fault("seed", f"{seed} is negative.", "Give a whole number from 0 up.")

    time = np.arange(f"{first_year}-08-01", f"{first_year + years}-08-01", dtype="datetime64[D]")
    days = time.size
    draw = np.random.Generator(np.random.PCG64(seed))
    seasons = int(days / SEASON_DAYS) + 2
    wetness = season_anomaly(days, ndtri(_open(draw.random(seasons))))
    warmth = season_anomaly(days, ndtri(_open(draw.random(seasons))))

    day_of_year = _day_of_year(time)
    rain_year = climatology.rain
    after_dry = np.clip(daily_curve(rain_year.wet_after_dry), 0.001, 0.999)
    after_wet = np.clip(daily_curve(rain_year.wet_after_wet), 0.001, 0.999)
    amount = np.maximum(daily_curve(rain_year.wet_day_rain), 0.1)
    amount *= _mean_kept(climatology, after_dry, after_wet)
    shape = np.maximum(daily_curve(rain_year.shape), 0.1)
    odds = climatology.season.wet_odds * wetness
    wet = wet_days(
        _shift_odds(after_dry[day_of_year], odds),
        _shift_odds(after_wet[day_of_year], odds),
        draw.random(days),
    )
    fallen = rain_amounts(
        amount[day_of_year] * np.exp(climatology.season.wet_amount * wetness),
        shape[day_of_year],
        draw.random(days),
    )

    kept = residuals(climatology.residual, ndtri(_open(draw.random((days, 2)))))
    wet_part = wet_fraction(after_dry, after_wet)[day_of_year]
    temperatures = []
    for column, year in enumerate((climatology.tmax, climatology.tmin)):
        mean, difference, dry_sd, wet_sd, skew = (
            daily_curve(values)[day_of_year]
            for values in (year.mean, year.wet_minus_dry, year.sd_dry, year.sd_wet, year.skew)
        )
        centre = mean + difference * (wet - wet_part)  # the mean over wet and dry days is `mean`
        spread = np.maximum(np.where(wet, wet_sd, dry_sd), 0.1)
        temperatures.append(
            centre
            + spread * skewed(kept[:, column], skew)
            + climatology.season.temperature * warmth
        )
    tmax, tmin = temperatures
    apart = np.maximum(LEAST_RANGE - (tmax - tmin), 0.0) / 2
    return make_record(
        time,
        tmax + apart,
        tmin - apart,
        np.where(wet, fallen, 0.0),
        site=climatology.site,
        latitude=climatology.latitude,
        longitude=climatology.longitude,
        source=f"generated by fallsown's weather generator, seed {seed}",
        invented="yes",
    )


def _open(chance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Keep a uniform draw off 0, whose normal deviate would be infinite."""
    return np.maximum(chance, 2.0**-54)


def _day_of_year(time: NDArray[np.datetime64]) -> NDArray[np.int64]:
    """Index into a year of 365 days; 29 February counts as the 28th."""
    month = time.astype("datetime64[M]")
    first = np.concatenate([[0], np.cumsum(MONTH_DAYS)[:-1]])
    which = month.astype(int) % 12
    in_month = np.minimum((time - month).astype(int), MONTH_DAYS[which] - 1)
    index: NDArray[np.int64] = first[which] + in_month
    return index
