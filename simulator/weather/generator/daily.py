"""A daily weather generator: what a year is like, day by day, becomes any number of falls.

Rain comes first: a Markov chain says which days are wet, a distribution how much falls on them
(Richardson 1981; Katz 1977). Tmax and Tmin follow: their means and spreads depend on the time
of year and on whether the day is wet, and what is left over is carried from day to day by a
first-order process of the two together (Richardson 1981). Such a chain makes its years too much
alike (Katz and Parlange 1998), so each season also has an anomaly of wetness and one of
temperature, which wander slowly from one season to the next.

What a year is like (`DailyClimate`) comes from a climatology written down (`generate`) or from
one fitted to a record (`fit`). Month values become daily curves whose month means are
the values given.

References
----------
Katz RW (1977) Precipitation as a chain-dependent process. J. Appl. Meteorol. 16:671-676.
Katz RW, Parlange MB (1998) Overdispersion phenomenon in stochastic modeling of precipitation.
J. Climate 11:591-601.
Richardson CW (1981) Stochastic simulation of daily precipitation, temperature, and solar
radiation. Water Resour. Res. 17:182-190.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.problems import Parameter, fault
from simulator.weather.generator.climatology import Climatology
from simulator.weather.generator.rain_chain import shift_odds, wet_days, wet_fraction
from simulator.weather.generator.residuals import residuals, skewed
from simulator.weather.generator.wet_day_rain import WetDayRain
from simulator.weather.record import make_record

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

OLDEST, LATEST = 1750, 2200  # years that `dates` reads; all lie within datetime64[ns]
MOST_YEARS = LATEST - OLDEST  # of one record
SEASON_DAYS = 365.25 / 4
# Tmax stays above Tmin by at least this much [degC]; an overcast day keeps about a degree.
LEAST_RANGE = 1.0
MONTH_DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
MONTH_OF_DAY = np.repeat(np.arange(12), MONTH_DAYS)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class DailyClimate:
    """What every day of a year of 365 days is like; pairs are of Tmax and Tmin.

    Parameters
    ----------
    chain : ndarray, shape (states, 365)
        Probability of a wet day after each state of `rain_chain`.
    rain : WetDayRain
        How much falls on wet days.
    mean, wet_minus_dry, sd_dry, sd_wet, skew : ndarray, shape (2, 365)
        As `climatology.TemperatureYear` has them [degC].
    same_day, day_before : ndarray, shape (2, 2) or (12, 2, 2)
        Correlations of residuals, M0 and M1.
    wet_odds, wet_amount : float
        As `climatology.Season` has them.
    temperature : float or ndarray, shape (365,)
        Standard deviation of a season's temperature [degC].
    least_range : float
        Tmax stays above Tmin by at least this much [degC].
    """

    chain: NDArray[np.float64]
    rain: WetDayRain
    mean: NDArray[np.float64]
    wet_minus_dry: NDArray[np.float64]
    sd_dry: NDArray[np.float64]
    sd_wet: NDArray[np.float64]
    skew: NDArray[np.float64]
    same_day: NDArray[np.float64]
    day_before: NDArray[np.float64]
    wet_odds: float
    wet_amount: float
    temperature: float | NDArray[np.float64]
    least_range: float = LEAST_RANGE


def wet_share(climate: DailyClimate, of_amount: float = 0.0) -> NDArray[np.float64]:
    """Return the long-run fraction of wet days over all seasons, shape (365,).

    Times ``exp(of_amount * anomaly)``: with `DailyClimate.wet_amount` it is what rain is
    multiplied by. 15-point Gauss-Hermite mean over the anomaly.
    """
    nodes, weights = np.polynomial.hermite_e.hermegauss(15)
    shares = [
        np.exp(of_amount * node) * wet_fraction(shift_odds(climate.chain, climate.wet_odds * node))
        for node in nodes
    ]
    mean: NDArray[np.float64] = np.average(shares, axis=0, weights=weights)
    return mean


def mean_kept(climate: DailyClimate) -> NDArray[np.float64]:
    """Return the factor on rain that leaves its long-run mean as written, anomalies and all.

    As written is the rain of a wet day times the chain's own fraction of wet days; shape (365,).
    """
    factor: NDArray[np.float64] = wet_fraction(climate.chain) / wet_share(
        climate, climate.wet_amount
    )
    return factor


def draw_days(
    climate: DailyClimate, day_of_year: NDArray[np.int64], draw: np.random.Generator
) -> dict[str, NDArray[np.float64]]:
    """Draw the weather of consecutive days.

    Parameters
    ----------
    climate : DailyClimate
    day_of_year : ndarray of int, shape (days,)
        0 to 364, from `day_of_year`.
    draw : Generator
        Source of uniform draws.

    Returns
    -------
    dict of ndarray, shape (days,)
        ``tmax``, ``tmin`` [degC] and ``rain`` [mm].

    Notes
    -----
    All draws are uniform draws, turned by inverse distribution functions, because numpy promises
    the stream of PCG64 from version to version but not its own normal and gamma draws. Where the
    drawn Tmax does not exceed Tmin by the least range, both move apart about their midpoint.
    The season's wetness moves the odds of rain and the rain of a wet day alike; the long-run mean
    rain stays as written. 29 February has the climate of the 28th.
    """
    from scipy.special import ndtri

    days = day_of_year.size
    seasons = int(days / SEASON_DAYS) + 2
    wetness = season_anomaly(days, ndtri(_off_zero(draw.random(seasons))))
    warmth = season_anomaly(days, ndtri(_off_zero(draw.random(seasons))))
    wet, rain = draw_rain(climate, day_of_year, wetness, draw)
    normal = ndtri(_off_zero(draw.random((days, 2))))
    tmax, tmin = temperatures(climate, day_of_year, wet, warmth, normal)
    return {"tmax": tmax, "tmin": tmin, "rain": rain}


def draw_rain(
    climate: DailyClimate,
    day_of_year: NDArray[np.int64],
    wetness: NDArray[np.float64],
    draw: np.random.Generator,
) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """Draw which days are wet and what falls on them [mm]."""
    shifted = shift_odds(climate.chain, climate.wet_odds * wetness, day_of_year)
    wet = wet_days(shifted, draw.random(day_of_year.size))
    chance = draw.random(day_of_year.size)[wet]
    on = day_of_year[wet]
    factor = mean_kept(climate)[on] * np.exp(climate.wet_amount * wetness[wet])
    rain = np.zeros(day_of_year.size)
    rain[wet] = climate.rain.amounts(on, chance, factor)
    return wet, rain


def temperatures(
    climate: DailyClimate,
    day_of_year: NDArray[np.int64],
    wet: NDArray[np.bool_],
    warmth: NDArray[np.float64],
    normal: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return Tmax and Tmin [degC] of days known to be wet or dry."""
    by_month = MONTH_OF_DAY[day_of_year] if climate.same_day.ndim == 3 else None
    kept = residuals(climate.same_day, climate.day_before, normal, by_month)
    wet_part = wet_fraction(climate.chain)[day_of_year]
    season = np.broadcast_to(climate.temperature, 365)[day_of_year] * warmth
    drawn = []
    for column in (0, 1):
        # the mean over wet and dry days is `mean`
        centre = climate.mean[column][day_of_year] + climate.wet_minus_dry[column][day_of_year] * (
            wet - wet_part
        )
        spread = np.where(
            wet, climate.sd_wet[column][day_of_year], climate.sd_dry[column][day_of_year]
        )
        leaned = skewed(kept[:, column], climate.skew[column][day_of_year])
        drawn.append(centre + spread * leaned + season)
    tmax, tmin = drawn
    apart = np.maximum(climate.least_range - (tmax - tmin), 0.0) / 2
    return tmax + apart, tmin - apart


def daily_climate(climatology: Climatology) -> DailyClimate:
    """Turn a climatology written down by months into the days of its year."""
    rain, season = climatology.rain, climatology.season
    years = (climatology.tmax, climatology.tmin)

    def pair(name: str) -> NDArray[np.float64]:
        return np.array([daily_curve(getattr(year, name)) for year in years])

    same_day, day_before = climatology.residual.matrices()
    return DailyClimate(
        chain=np.clip(
            [daily_curve(rain.wet_after_dry), daily_curve(rain.wet_after_wet)], 0.001, 0.999
        ),
        rain=WetDayRain(
            family="gamma",
            mean=np.maximum(daily_curve(rain.wet_day_rain), 0.1),
            parameters=np.maximum(daily_curve(rain.shape), 0.1)[np.newaxis],
        ),
        mean=pair("mean"),
        wet_minus_dry=pair("wet_minus_dry"),
        sd_dry=np.maximum(pair("sd_dry"), 0.1),
        sd_wet=np.maximum(pair("sd_wet"), 0.1),
        skew=pair("skew"),
        same_day=same_day,
        day_before=day_before,
        wet_odds=season.wet_odds,
        wet_amount=season.wet_amount,
        temperature=season.temperature,
    )


def generate(climatology: Climatology, years: int, first_year: int, seed: int) -> xr.Dataset:
    """Make a daily record of invented weather.

    Parameters
    ----------
    climatology : Climatology
        What the place is like.
    years : int
        Number of falls, 1 to 450.
    first_year : int
        The first fall's year, 1750 or later; the record runs from 1 August of it to 31 July
        `years` years on, and must end by 2200.
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
    """
    time = falls(years, first_year)
    drawn = draw_days(daily_climate(climatology), day_of_year(time), generator_of(seed))
    return make_record(
        time,
        drawn["tmax"],
        drawn["tmin"],
        drawn["rain"],
        site=climatology.site,
        latitude=climatology.latitude,
        longitude=climatology.longitude,
        source=f"generated by fallsown's weather generator, seed {seed}",
        invented="yes",
    )


def falls(years: int, first_year: int) -> NDArray[np.datetime64]:
    """Return the days of so many falls, from 1 August of the first to a 31 July.

    Raises
    ------
    InputError
        More than a record can hold.
    """
    if not 1 <= years <= MOST_YEARS:
        raise fault(
            Parameter("years"),
            f"{years} falls asked for.",
            f"Ask for 1 to {MOST_YEARS}, as many as a record can hold; for more, make "
            "several records with a seed each.",
        )
    if not (first_year >= OLDEST and first_year + years <= LATEST):
        raise fault(
            Parameter("first_year"),
            f"Falls {first_year} to {first_year + years - 1} asked for.",
            f"Keep the record between {OLDEST} and {LATEST}, the years that weather files "
            "are read for.",
        )
    return np.arange(f"{first_year}-08-01", f"{first_year + years}-08-01", dtype="datetime64[D]")


def generator_of(seed: int) -> np.random.Generator:
    """Return the source of draws of a seed.

    Raises
    ------
    InputError
        A negative seed.
    """
    if seed < 0:
        raise fault("seed", f"{seed} is negative.", "Give a whole number from 0 up.")
    return np.random.Generator(np.random.PCG64(seed))


def _off_zero(chance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Keep a uniform draw off 0, whose normal deviate would be infinite."""
    return np.maximum(chance, 2.0**-54)


def day_of_year(time: NDArray[np.datetime64]) -> NDArray[np.int64]:
    """Index into a year of 365 days; 29 February counts as the 28th."""
    month = time.astype("datetime64[M]")
    first = np.concatenate([[0], np.cumsum(MONTH_DAYS)[:-1]])
    which = month.astype(int) % 12
    in_month = np.minimum((time - month).astype(int), MONTH_DAYS[which] - 1)
    index: NDArray[np.int64] = first[which] + in_month
    return index
