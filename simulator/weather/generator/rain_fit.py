"""Rain fitted to a record: the chain of wet and dry days, and how much a wet day brings.

References
----------
Richardson CW (1981) Stochastic simulation of daily precipitation, temperature, and solar
radiation. Water Resour. Res. 17:182-190.
Katz RW (1981) On some criteria for estimating the order of a Markov chain. Technometrics
23:243-249.
Kass RE, Raftery AE (1995) Bayes factors. J. Am. Stat. Assoc. 90:773-795.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.weather.generator import wet_day_rain
from simulator.weather.generator.daily import MONTH_DAYS, MONTH_OF_DAY, daily_curve
from simulator.weather.generator.fit_days import Days
from simulator.weather.generator.monthly import filled_round, smooth_year
from simulator.weather.generator.rain_chain import transitions, wet_fraction
from simulator.weather.generator.wet_day_rain import FAMILIES, PARAMETERS, WetDayRain

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.weather.generator.daily import DailyClimate

FEWEST_WET_DAYS = 30
WINDOW_WEIGHT = 3  # months that lend each month's distribution their days
# Standard errors by which the 99 % quantile of a distribution may miss the record's.
QUANTILE_ERRORS = 2.5
LIKELY = (0.002, 0.998)
# A month without rain is held to 1 wet day in 300: a curve through less would swing up beside it.
LEAST_CHANCE = 0.003
ROUNDS_OF_MONTHS = 20  # after which months bring what is asked to a hundredth
STRONG = 6.0  # difference of the criterion from which on evidence is strong (Kass and Raftery)


def choose_order(criterion: list[float]) -> int:
    """Return the chain's order: of the least criterion, but 0 on strong evidence only."""
    best = int(np.argmin(criterion))
    return 1 if best == 0 and criterion[1] - criterion[0] < STRONG else best


def fit_chain(
    wet: NDArray[np.float64], month: NDArray[np.int64], order: int, known: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Daily curves of the chain's probabilities, (states, 365)."""
    from scipy.special import expit, logit

    counts = transitions(wet, month, order)
    curves = []
    for state in range(2**order):
        dry_days, wet_days = counts[:, state].T
        total = dry_days + wet_days
        # half a day of each keeps odds finite
        chance = np.maximum((wet_days + 0.5) / (total + 1.0), LEAST_CHANCE)
        odds = np.where(known & (total > 0), logit(chance), np.nan)
        if np.isnan(odds).all():  # a state of a high order that was never met
            odds = logit(np.full(12, (wet == 1).sum() / (~np.isnan(wet)).sum()))
        # errors as of the smooth year: months that happened to be wet would weigh most by their own
        for _ in range(2):
            error = 1.0 / np.sqrt((total + 1.0) * chance * (1.0 - chance))
            smooth = smooth_year(odds, error)
            chance = np.maximum(expit(smooth), LEAST_CHANCE)
        curves.append(expit(daily_curve(tuple(smooth))))
    clipped: NDArray[np.float64] = np.clip(np.array(curves), *LIKELY)
    return clipped


def keep_months(climate: DailyClimate, recorded: NDArray[np.float64]) -> DailyClimate:
    """Scale the rain of a wet day so that each month brings in the long run what it did.

    In the long run a day brings its rain of a wet day times the chain's fraction of wet days,
    whatever anomalies seasons have (`daily.mean_kept`).

    Parameters
    ----------
    climate : DailyClimate
        Whose year was drawn smoothly.
    recorded : ndarray, shape (12,)
        Mean rain of the months [mm/d]; NaN where unknown.
    """
    edge, share = climate.rain.edge, wet_fraction(climate.chain)
    mean = climate.rain.mean
    for _ in range(ROUNDS_OF_MONTHS):
        made = np.bincount(MONTH_OF_DAY, share * mean) / MONTH_DAYS
        step = np.full(12, np.nan)
        known = recorded > 0
        if not known.any():
            return climate
        step[known] = np.log(recorded[known] / made[known])
        mean = edge + (mean - edge) * np.exp(daily_curve(tuple(filled_round(step))))
    return replace(climate, rain=replace(climate.rain, mean=mean))


def fit_rain(
    days: Days, wet: NDArray[np.bool_], known: NDArray[np.bool_]
) -> tuple[WetDayRain, dict[str, float], dict[str, float]]:
    """Fit every distribution to the wet days, and choose."""
    rain, month, of_year = days.rain[wet], days.month[wet], days.day_of_year[wet]
    least = float(rain.min())
    dry = days.rain[~np.isnan(days.rain) & (days.rain < least)]
    edge = 0.5 * (least + float(dry.max() if dry.size else 0.0))
    means, counts = np.full(12, np.nan), np.bincount(month, minlength=12)
    for one in np.flatnonzero(known & (counts >= 5)):
        means[one] = np.log(rain[month == one].mean() - edge)
    if np.isnan(means).all():
        means[:] = np.log(rain.mean() - edge)
    # one coefficient of variation for all: a month's own is small where its heavy days stayed away
    # by chance, and would draw the year down to it
    vary = float(np.nanstd((rain - edge) / np.exp(means[month])))
    errors = vary / np.sqrt(np.maximum(counts, 1)) + 1e-3
    above = np.exp(daily_curve(tuple(smooth_year(means, errors))))
    above *= (rain - edge).sum() / above[of_year].sum()  # smooth or not, all rain is there
    mean = edge + above

    scale = mean[of_year] - edge
    amount, half = (rain - edge) / scale, np.maximum((least - edge) / scale, 1e-4)
    tail = wet_day_rain.fit_tail(amount)
    fits = {family: _by_window(family, amount, half, month, tail) for family in FAMILIES}
    akaike, misses = {}, {}
    for family, parameters in fits.items():
        own = parameters[:, month]
        likelihood = wet_day_rain.likelihood(family, own, amount, half)
        # each parameter is one for three months, so a year has four of it
        akaike[family] = 2.0 * (12 / WINDOW_WEIGHT) * PARAMETERS[family] - 2.0 * likelihood
        misses[family] = _quantile_miss(family, own, amount)
    best = min(akaike.values())
    akaike = {family: value - best for family, value in akaike.items()}
    fitting = [family for family in FAMILIES if abs(misses[family]) <= QUANTILE_ERRORS]
    chosen = min(fitting or FAMILIES, key=akaike.__getitem__)
    daily = np.array(
        [np.interp(_MIDDLES, _MONTH_MIDDLES, row, period=365) for row in fits[chosen]]
    ).reshape(-1, 365)
    return (
        WetDayRain(family=chosen, mean=mean, parameters=daily, edge=edge, least=least),
        akaike,
        misses,
    )


_MIDDLES = np.arange(365) + 0.5
_MONTH_MIDDLES = np.array([_MIDDLES[month == MONTH_OF_DAY].mean() for month in range(12)])


def _by_window(
    family: str,
    amount: NDArray[np.float64],
    half: NDArray[np.float64],
    month: NDArray[np.int64],
    tail: float,
) -> NDArray[np.float64]:
    """Fit each month's distribution to its days and those of its neighbours; (n, 12)."""
    fitted = []
    for one in range(12):
        near = (month - one) % 12
        window = (near <= 1) | (near == 11)
        # too few wet days in three months: the whole year's
        window = window if window.sum() >= FEWEST_WET_DAYS else np.ones(month.size, dtype=bool)
        fitted.append(wet_day_rain.fit(family, amount[window], half[window], tail))
    return np.array(fitted).T.reshape(-1, 12)


def _quantile_miss(
    family: str, parameters: NDArray[np.float64], amount: NDArray[np.float64]
) -> float:
    """Return by how many standard errors days above the 99 % quantile are too many or too few.

    The number of days of the record above its own 99 % quantile is held against the number that
    the distributions of those days expect; binomial error.
    """
    above = float(np.quantile(amount, 0.99))
    count = float((amount > above).sum())
    chance = wet_day_rain.survival(family, parameters, np.full(amount.size, above))
    expected = float(chance.sum())
    return (expected - count) / float(np.sqrt(max((chance * (1.0 - chance)).sum(), 1e-9)))
