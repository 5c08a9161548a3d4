"""How much seasons differ: the size of the generator's anomalies, by the method of moments.

A chain of days makes months and years too much alike. The anomalies of wetness and of warmth
are made as large as it takes for the variance between years, of months and of three months
together, to be that of the record. What the generator gives for a size is found by running it.

References
----------
Katz RW, Parlange MB (1998) Overdispersion phenomenon in stochastic modeling of precipitation.
J. Climate 11:591-601.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.weather.generator.daily import (
    MONTH_OF_DAY,
    SEASON_DAYS,
    DailyClimate,
    draw_rain,
    season_anomaly,
    temperatures,
    wet_share,
)
from simulator.weather.generator.monthly import by_month, smooth_year, three_running, variance
from simulator.weather.generator.rain_chain import transitions, wet_fraction
from simulator.weather.generator.temperature_fit import TemperatureFit

if TYPE_CHECKING:
    from numpy.typing import NDArray

YEARS_RUN = 500
SEED = 20_240_101  # of the runs that the fit makes for itself
MOST_ODDS, MOST_AMOUNT = 1.0, 0.8
ROUNDS = 4
FEWEST_YEARS = 5  # below it nothing can be said of how years differ


class Runs:
    """Many years of the generator with the same draws, whatever its parameters."""

    def __init__(self) -> None:
        days = YEARS_RUN * 365
        self.day_of_year = np.tile(np.arange(365), YEARS_RUN)
        self.year = np.repeat(np.arange(YEARS_RUN), 365)
        self.month = MONTH_OF_DAY[self.day_of_year]
        draw = np.random.Generator(np.random.PCG64(SEED))
        knots = draw.standard_normal((2, int(days / SEASON_DAYS) + 2))
        # made exactly of mean 0 and variance 1, so that a few hundred years serve as many more
        knots = (knots - knots.mean(axis=1, keepdims=True)) / knots.std(axis=1, keepdims=True)
        self.wetness, self.warmth = (season_anomaly(days, row) for row in knots)
        self.normal = draw.standard_normal((days, 2))

    def rain(self, climate: DailyClimate) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
        """Wet days and rain, the draws the same each time."""
        draw = np.random.Generator(np.random.PCG64(SEED + 1))
        return draw_rain(climate, self.day_of_year, self.wetness, draw)

    def months(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Month means, (years, 12)."""
        return by_month(self.year, self.month, values)


def spread_ratio(made: NDArray[np.float64], recorded: NDArray[np.float64]) -> float:
    """Return the variance of months and of three months over the record's, the mean of the two.

    Each is added up over the months that the record has.
    """
    ratios = []
    for of in (lambda months: months, three_running):
        wanted = variance(of(recorded))
        known = ~np.isnan(wanted)
        if known.any() and wanted[known].sum() > 0:
            ratios.append(variance(of(made))[known].sum() / wanted[known].sum())
    return float(np.mean(ratios)) if ratios else 1.0


def square_root_of(ratio: Callable[[float], float], most: float) -> float:
    """Find the size of an anomaly at which a ratio, nearly linear in its square, is 1."""
    low = ratio(0.0)
    if low >= 1.0:
        return 0.0
    at, found = 0.09 * most**2, 0.0
    for _ in range(ROUNDS):
        there = ratio(float(np.sqrt(at)))
        if there <= low + 1e-9:
            break
        found = min(at * (1.0 - low) / (there - low), most**2)
        if abs(there - 1.0) < 0.005 or found == at:
            break
        at = found
    return float(np.sqrt(found))


def fit_wetness(
    climate: DailyClimate,
    runs: Runs,
    wet_months: NDArray[np.float64],
    rain_months: NDArray[np.float64],
) -> DailyClimate:
    """Size the anomaly of wetness: by the number of wet days first, then by rain.

    Parameters
    ----------
    climate : DailyClimate
        Without anomalies.
    runs : Runs
    wet_months, rain_months : ndarray, shape (years, 12)
        The record's fraction of wet days and mean rain.

    Returns
    -------
    DailyClimate
        With its chain shifted so that its probabilities stay what they were on average over the
        anomaly.
    """

    def of_days(odds: float) -> float:
        wet, _ = runs.rain(replace(climate, wet_odds=odds))
        return spread_ratio(runs.months(wet.astype(float)), wet_months)

    odds = square_root_of(of_days, MOST_ODDS)
    unshifted = runs.rain(climate)[0]
    climate = replace(climate, wet_odds=odds)
    if odds > 0:
        climate = replace(climate, chain=_shifted_back(climate, runs, unshifted))
        # `mean_kept` leaves the rain that the chain alone would bring; seasons in which it is
        # shifted make it more, and the rain of a wet day is to stay the record's
        more = wet_share(climate) / wet_fraction(climate.chain)
        climate = replace(climate, rain=replace(climate.rain, mean=climate.rain.mean * more))

    def sized(amount: float) -> DailyClimate:
        return replace(climate, wet_amount=amount, rain=climate.rain.within_season(amount))

    def of_rain(amount: float) -> float:
        return spread_ratio(runs.months(runs.rain(sized(amount))[1]), rain_months)

    return sized(square_root_of(of_rain, MOST_AMOUNT))


def _shifted_back(
    climate: DailyClimate, runs: Runs, wanted: NDArray[np.bool_]
) -> NDArray[np.float64]:
    from scipy.special import expit, logit

    order = len(climate.chain).bit_length() - 1
    group = np.zeros(wanted.size, dtype=np.int64)
    odds = []
    for wet in (wanted, runs.rain(climate)[0]):
        counts = transitions(wet.astype(float), group, order, groups=1)[0] + 0.5
        odds.append(np.log(counts[:, 1] / counts[:, 0]))
    shifted: NDArray[np.float64] = expit(logit(climate.chain) + (odds[0] - odds[1])[:, np.newaxis])
    return shifted


def fit_warmth(
    climate: DailyClimate, temperature: TemperatureFit, runs: Runs, months: NDArray[np.float64]
) -> tuple[DailyClimate, NDArray[np.float64]]:
    """Size the anomaly of warmth, a value for each month.

    Parameters
    ----------
    climate : DailyClimate
        With its rain settled.
    temperature : TemperatureFit
    runs : Runs
    months : ndarray, shape (years, 12)
        The record's month means of (Tmax + Tmin) / 2 [degC].

    Returns
    -------
    climate : DailyClimate
    season : ndarray, shape (12,)
        Standard deviation of a season's temperature [degC].
    """
    wet, _ = runs.rain(climate)
    wanted, wanted_of_three = variance(months), variance(three_running(months))
    years = np.maximum((~np.isnan(months)).sum(axis=0), 2)
    of_days = temperature.of_days
    square = np.zeros(12)
    for _ in range(ROUNDS):
        high, low = temperatures(climate, runs.day_of_year, wet, runs.warmth, runs.normal)
        made = runs.months(0.5 * (high + low))
        missing = wanted - variance(made)
        of_three = wanted_of_three - variance(three_running(made))
        missing = np.where(np.isnan(of_three), missing, 0.5 * (missing + of_three))
        # the generator's own variance, not the record's: months that happen to have varied little
        # would weigh most, and make all seasons too much alike
        error = variance(made) * np.sqrt(2.0 / (years - 1))
        # one harmonic, of the share that seasons have in the variance of days: a month's own
        # variance is known to a quarter at best
        share = smooth_year((square + missing) / of_days, error / of_days, harmonics=1)
        square = np.maximum(share, 0.0) * of_days
        climate = replace(climate, **temperature.within_season(np.sqrt(square)))
    return climate, np.sqrt(square)
