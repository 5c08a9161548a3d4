"""The generator fitted to a record: every choice made by the data, and what is weak told.

References
----------
Richardson CW (1981) Stochastic simulation of daily precipitation, temperature, and solar
radiation. Water Resour. Res. 17:182-190.
Katz RW (1981) On some criteria for estimating the order of a Markov chain. Technometrics
23:243-249.
Kass RE, Raftery AE (1995) Bayes factors. J. Am. Stat. Assoc. 90:773-795.
Wilks DS, Wilby RL (1999) The weather generation game: a review of stochastic weather models.
Prog. Phys. Geogr. 23:329-357.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.problems import Parameter, Text, fault
from simulator.weather.files.record_check import checked
from simulator.weather.generator import wet_day_rain
from simulator.weather.generator.daily import (
    LEAST_RANGE,
    MONTH_OF_DAY,
    DailyClimate,
    daily_curve,
    day_of_year,
)
from simulator.weather.generator.monthly import by_month, smooth_year
from simulator.weather.generator.rain_chain import order_criterion, transitions, wet_fraction
from simulator.weather.generator.temperature_fit import TemperatureFit, fit_temperatures
from simulator.weather.generator.wet_day_rain import FAMILIES, PARAMETERS, WetDayRain
from simulator.weather.generator.year_to_year import FEWEST_YEARS, Runs, fit_warmth, fit_wetness

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

WET_DAY = 0.2  # rain [mm] from which on a day is wet; 0.01 inch is, a trace is not
LEAST_THRESHOLD, MOST_THRESHOLD = 1e-6, 5.0
FEWEST_YEARS_OF_A_MONTH = 2
FEW_YEARS = 20  # below it a fit is told to be weak
FEWEST_WET_DAYS = 30
WINDOW_WEIGHT = 3  # months that lend each month's distribution their days
# Standard errors by which the 99 % quantile of a distribution may miss the record's.
QUANTILE_ERRORS = 2.5
LIKELY = (0.002, 0.998)
# A month without rain is held to 1 wet day in 300: a curve through less would swing up beside it.
LEAST_CHANCE = 0.003
STRONG = 6.0  # difference of the criterion from which on evidence is strong (Kass and Raftery)


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedClimatology:
    """What `fit_climatology` found.

    Parameters
    ----------
    site, latitude, longitude, source
        Of the record.
    first, last : datetime64[D]
        Of the record.
    years : ndarray of int, shape (12,)
        How many years each month could be fitted to; 0 where it was not.
    wet_day : float
        Rain [mm] from which on a day counts as wet.
    order : int
        Of the chain of wet and dry days.
    order_criterion : list of float
        The Bayesian information criterion of the orders 0 to 3.
    family : str
        The distribution of a wet day's rain.
    akaike : dict of str to float
        Akaike's criterion of each distribution, less the least of them.
    misses : dict of str to float
        By how many standard errors each distribution misses the record's 99 % quantile.
    climate : DailyClimate
        What runs.
    temperature : TemperatureFit
        Tmax and Tmin over all years.
    season : ndarray, shape (12,)
        Standard deviation of a season's temperature [degC].
    weak : list of str
        What the record is too short for, as sentences.
    """

    site: str
    latitude: float
    longitude: float | None
    source: str
    first: np.datetime64
    last: np.datetime64
    years: NDArray[np.int64]
    wet_day: float
    order: int
    order_criterion: list[float]
    family: str
    akaike: dict[str, float]
    misses: dict[str, float]
    climate: DailyClimate
    temperature: TemperatureFit
    season: NDArray[np.float64]
    weak: list[str]

    @property
    def known_days(self) -> NDArray[np.bool_]:
        """Days of the year, of 365, that lie in months that were fitted."""
        known: NDArray[np.bool_] = (self.years > 0)[MONTH_OF_DAY]
        return known


@dataclass(frozen=True, slots=True)
class _Days:
    """The record as arrays: (days,) each, the pair (2, days)."""

    year: NDArray[np.int64]
    day_of_year: NDArray[np.int64]
    month: NDArray[np.int64]
    pair: NDArray[np.float64]
    rain: NDArray[np.float64]
    wet: NDArray[np.float64]  # 1, 0, NaN where missing


def _days(record: xr.Dataset, wet_day: float) -> _Days:
    days = record["time"].values.astype("datetime64[D]")
    of_year = day_of_year(days)
    year = days.astype("datetime64[Y]").astype(np.int64)
    rain = record["rain"].values.astype(float)
    wet = np.where(np.isnan(rain), np.nan, (rain >= wet_day).astype(float))
    pair = np.array([record[name].values.astype(float) for name in ("tmax", "tmin")])
    return _Days(year - year[0], of_year, MONTH_OF_DAY[of_year], pair, rain, wet)


def fit_climatology(record: xr.Dataset, *, wet_day: float = WET_DAY) -> FittedClimatology:
    """Fit the generator to a record.

    Parameters
    ----------
    record : Dataset
        As `read_weather` gives it; gaps and missing seasons are left aside, nothing is filled.
        Months with fewer than two years of days are not fitted.
    wet_day : float
        Rain from which on a day counts as wet [mm], 1e-6 to 5; what lies below is taken as dry.

    Returns
    -------
    FittedClimatology

    Raises
    ------
    InputError
        A record that cannot be used, is too short, or without variation.

    Notes
    -----
    The chain's order has the least Bayesian information criterion, but rain without memory is not
    taken on weak evidence: where order 0 leads by less than 6, order 1 is. The distribution of a
    wet day's rain has the least criterion of Akaike among those whose 99 % quantile lies within 2.5
    standard errors of the record's. Month values are smoothed by a mean and as many harmonics as
    the data are worth, then drawn as daily curves. The sizes of the anomalies of seasons are
    those with which the generator's months and quarters vary from year to year as the record's.
    """
    if not LEAST_THRESHOLD <= wet_day <= MOST_THRESHOLD:
        raise fault(
            "wet day",
            f"{wet_day:g} mm lies outside {LEAST_THRESHOLD:g} to {MOST_THRESHOLD:g} mm.",
            "Take for example 0.2 mm.",
        )
    record = checked(record)
    days = _days(record, wet_day)
    years = _years_of_months(days)
    _enough(record, days, years, wet_day)
    known = years > 0
    use = known[days.month] & ~np.isnan(days.wet)
    wet = np.where(use, days.wet, np.nan)

    criterion = order_criterion(wet, days.month)
    order = _order(criterion)
    chain = _chain(wet, days.month, order, known)
    rain, akaike, misses = _rain(days, use & (days.wet == 1), known)
    temperature = fit_temperatures(
        days.year, days.day_of_year, wet, days.pair, wet_fraction(chain), known
    )
    ranges = days.pair[0] - days.pair[1]
    climate = DailyClimate(
        chain=chain,
        rain=rain,
        wet_odds=0.0,
        wet_amount=0.0,
        least_range=float(np.clip(np.nanquantile(ranges, 0.001), 0.1, LEAST_RANGE)),
        **temperature.within_season(np.zeros(12)),
    )
    season = np.zeros(12)
    if years.max() >= FEWEST_YEARS:
        runs = Runs()
        months = [
            by_month(days.year, days.month, values)
            for values in (wet, np.where(use, days.rain, np.nan), days.pair.mean(axis=0))
        ]
        climate = fit_wetness(climate, runs, *months[:2])
        climate, season = fit_warmth(climate, temperature, runs, months[2])
    longitude = record.attrs.get("longitude")
    return FittedClimatology(
        site=str(record.attrs.get("site", "")),
        latitude=float(record.attrs.get("latitude", np.nan)),
        longitude=None if longitude is None else float(longitude),
        source=str(record.attrs.get("source", "")),
        first=record["time"].values[0].astype("datetime64[D]"),
        last=record["time"].values[-1].astype("datetime64[D]"),
        years=years,
        wet_day=wet_day,
        order=order,
        order_criterion=criterion,
        family=rain.family,
        akaike=akaike,
        misses=misses,
        climate=climate,
        temperature=temperature,
        season=season,
        weak=_weak(years, criterion, misses[rain.family]),
    )


def _order(criterion: list[float]) -> int:
    best = int(np.argmin(criterion))
    return 1 if best == 0 and criterion[1] - criterion[0] < STRONG else best


def _years_of_months(days: _Days) -> NDArray[np.int64]:
    """Count, for each month, the years that have nearly all its days in all three columns."""
    whole = days.wet + days.pair.sum(axis=0)
    counts = (~np.isnan(by_month(days.year, days.month, whole))).sum(axis=0)
    return np.where(counts >= FEWEST_YEARS_OF_A_MONTH, counts, 0)


def _enough(record: xr.Dataset, days: _Days, years: NDArray[np.int64], wet_day: float) -> None:
    site = record.attrs.get("site", "this site")
    if not years.any():
        raise fault(
            f"weather of {site}",
            "No month is whole in two years or more, and a "
            "generator must see how a month differs from itself.",
            "Give a longer record; twenty years serve well.",
        )
    wet = int(np.nansum(days.wet))
    if wet < FEWEST_WET_DAYS:
        raise fault(
            f"weather of {site}",
            f"It has {wet} days with {wet_day:g} mm of rain or "
            f"more; how much falls needs at least {FEWEST_WET_DAYS}.",
            Text("Give a longer record, or lower ", Parameter("wet_day"), "."),
        )


def _weak(years: NDArray[np.int64], criterion: list[float], miss: float) -> list[str]:
    """Say what the record is too short for."""
    fitted = years[years > 0]
    told = []
    if fitted.min() < FEWEST_YEARS:
        least = int(fitted.min())
        told.append(
            f"{least} years of a month cannot say how years differ"
            + (
                ": no such difference was fitted, and generated years are too much alike."
                if years.max() < FEWEST_YEARS
                else "."
            )
        )
    if FEWEST_YEARS <= fitted.min() < FEW_YEARS:
        told.append(
            f"Months have as few as {int(fitted.min())} years: extremes and differences between "
            f"years are weakly known; {FEW_YEARS} years or more serve better."
        )
    if (years == 0).any():
        told.append(
            f"{int((years == 0).sum())} months of the year are whole in fewer than two "
            "years and are not generated."
        )
    gap = sorted(criterion)[1] - min(criterion)
    if gap < STRONG:
        told.append(
            f"The order of the chain is a near thing: the two best are only {gap:.1f} "
            "apart by the Bayesian information criterion."
        )
    if abs(miss) > QUANTILE_ERRORS:
        told.append(
            "No distribution meets the record's 99 % quantile of wet-day rain; the one "
            f"taken misses it by {miss:+.1f} standard errors."
        )
    return told


def _chain(
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


def _rain(
    days: _Days, wet: NDArray[np.bool_], known: NDArray[np.bool_]
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
