"""The generator fitted to a record: every choice made by the data, and what it is too short for.

References
----------
Richardson CW (1981) Stochastic simulation of daily precipitation, temperature, and solar
radiation. Water Resour. Res. 17:182-190.
Wilks DS, Wilby RL (1999) The weather generation game: a review of stochastic weather models.
Prog. Phys. Geogr. 23:329-357.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.problems import Parameter, Text, fault
from simulator.weather.change_text import MONTHS
from simulator.weather.files.record_check import checked
from simulator.weather.generator.daily import LEAST_RANGE, MONTH_DAYS, MONTH_OF_DAY, DailyClimate
from simulator.weather.generator.fit_days import Days, days_of
from simulator.weather.generator.monthly import by_month
from simulator.weather.generator.rain_chain import order_criterion, wet_fraction
from simulator.weather.generator.rain_fit import (
    FEWEST_WET_DAYS,
    QUANTILE_ERRORS,
    STRONG,
    choose_order,
    fit_chain,
    fit_rain,
    keep_months,
)
from simulator.weather.generator.temperature_fit import TemperatureFit, fit_temperatures
from simulator.weather.generator.year_to_year import FEWEST_YEARS, Runs, fit_warmth, fit_wetness

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

WET_DAY = 0.2  # rain [mm] from which on a day is wet; 0.01 inch is, a trace is not
LEAST_THRESHOLD, MOST_THRESHOLD = 1e-6, 5.0
FEWEST_YEARS_OF_A_MONTH = 2
FEW_YEARS = 20  # below it a fit is called weak


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
    moved : str
        What smoothing moved, as a sentence; empty where months were kept.
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
    moved: str = ""

    @property
    def known_days(self) -> NDArray[np.bool_]:
        """Days of the year, of 365, that lie in months that were fitted."""
        known: NDArray[np.bool_] = (self.years > 0)[MONTH_OF_DAY]
        return known


def fit_climatology(
    record: xr.Dataset, *, wet_day: float = WET_DAY, smoothed: bool = False
) -> FittedClimatology:
    """Fit the generator to a record.

    Parameters
    ----------
    record : Dataset
        As `read_weather` gives it; gaps and missing seasons are left aside, nothing is filled.
        Months with fewer than two years of days are not fitted.
    wet_day : float
        Rain from which on a day counts as wet [mm], 1e-6 to 5; what lies below is taken as dry.
    smoothed : bool
        Whether month means are drawn towards a smooth year, since those of a short record are
        partly luck; otherwise each month keeps its mean rain and temperatures in the long run.

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
    the data are worth, but for mean rain and temperatures, which are kept unless asked otherwise;
    then they are drawn as daily curves. The sizes of the anomalies of seasons are
    those with which the generator's months and quarters vary from year to year as the record's.
    """
    _check_wet_day(wet_day)
    record = checked(record)
    days = days_of(record, wet_day)
    years = _years_of_months(days)
    _check_length(record, days, years, wet_day)
    known = years > 0
    use = known[days.month] & ~np.isnan(days.wet)
    wet = np.where(use, days.wet, np.nan)

    criterion = order_criterion(wet, days.month)
    order = choose_order(criterion)
    chain = fit_chain(wet, days.month, order, known)
    rain, akaike, misses = fit_rain(days, use & (days.wet == 1), known)
    temperature = fit_temperatures(
        days.year,
        days.day_of_year,
        wet,
        days.pair,
        wet_fraction(chain),
        known,
        smoothed=smoothed,
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
    of_months = _month_means(days, np.where(use, days.rain, np.nan))
    if not smoothed:
        climate = keep_months(climate, of_months)
    climate, season = _with_years(climate, temperature, days, wet, use, years)
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
        weak=_short_record_notes(years, criterion, misses[rain.family]),
        moved=_smoothing_sentence(days, climate, temperature, of_months, known) if smoothed else "",
    )


def _check_wet_day(wet_day: float) -> None:
    if not LEAST_THRESHOLD <= wet_day <= MOST_THRESHOLD:
        raise fault(
            "wet day",
            f"{wet_day:g} mm lies outside {LEAST_THRESHOLD:g} to {MOST_THRESHOLD:g} mm.",
            "Take for example 0.2 mm.",
        )


def _with_years(
    climate: DailyClimate,
    temperature: TemperatureFit,
    days: Days,
    wet: NDArray[np.float64],
    use: NDArray[np.bool_],
    years: NDArray[np.int64],
) -> tuple[DailyClimate, NDArray[np.float64]]:
    """Let years differ as the record's, where it has enough of them to say how."""
    if years.max() < FEWEST_YEARS:
        return climate, np.zeros(12)
    runs = Runs()
    months = [
        by_month(days.year, days.month, values)
        for values in (wet, np.where(use, days.rain, np.nan), days.pair.mean(axis=0))
    ]
    climate = fit_wetness(climate, runs, *months[:2])
    return fit_warmth(climate, temperature, runs, months[2])


def _years_of_months(days: Days) -> NDArray[np.int64]:
    """Count, for each month, the years that have nearly all its days in all three columns."""
    whole = days.wet + days.pair.sum(axis=0)
    counts = (~np.isnan(by_month(days.year, days.month, whole))).sum(axis=0)
    return np.where(counts >= FEWEST_YEARS_OF_A_MONTH, counts, 0)


def _month_means(days: Days, values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the mean of each month over its known days; NaN where there is none."""
    means = np.full(12, np.nan)
    for month in range(12):
        of_month = values[(days.month == month) & np.isfinite(values)]
        if of_month.size:
            means[month] = of_month.mean()
    return means


def _smoothing_sentence(
    days: Days,
    climate: DailyClimate,
    temperature: TemperatureFit,
    rain: NDArray[np.float64],
    known: NDArray[np.bool_],
) -> str:
    """Say how far smoothing moved the months that it moved most."""
    made = np.bincount(MONTH_OF_DAY, wet_fraction(climate.chain) * climate.rain.mean)
    wetter = made - rain * MONTH_DAYS
    warmer = np.array(
        [
            mean - _month_means(days, values)
            for mean, values in zip(temperature.mean, days.pair, strict=True)
        ]
    )
    texts = []
    for name, moved, unit in (
        ("rain", wetter, "mm"),
        ("tmax", warmer[0], "degC"),
        ("tmin", warmer[1], "degC"),
    ):
        size = np.where(known & np.isfinite(moved), np.abs(moved), -1.0)
        most = int(np.argmax(size))
        texts.append(f"{name} most in {MONTHS[most]}, by {moved[most]:+.1f} {unit}")
    return f"Smoothing moved the means of months: {'; '.join(texts)}."


def _check_length(record: xr.Dataset, days: Days, years: NDArray[np.int64], wet_day: float) -> None:
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


def _short_record_notes(years: NDArray[np.int64], criterion: list[float], miss: float) -> list[str]:
    """Say what the record is too short for."""
    fitted = years[years > 0]
    reasons = []
    if fitted.min() < FEWEST_YEARS:
        least = int(fitted.min())
        reasons.append(
            f"{least} years of a month cannot say how years differ"
            + (
                ": no such difference was fitted, and generated years are too much alike."
                if years.max() < FEWEST_YEARS
                else "."
            )
        )
    if FEWEST_YEARS <= fitted.min() < FEW_YEARS:
        reasons.append(
            f"Months have as few as {int(fitted.min())} years: extremes and differences between "
            f"years are weakly known; {FEW_YEARS} years or more serve better."
        )
    if (years == 0).any():
        reasons.append(
            f"{int((years == 0).sum())} months of the year are whole in fewer than two "
            "years and are not generated."
        )
    gap = sorted(criterion)[1] - min(criterion)
    if gap < STRONG:
        reasons.append(
            f"The order of the chain is a near thing: the two best are only {gap:.1f} "
            "apart by the Bayesian information criterion."
        )
    if abs(miss) > QUANTILE_ERRORS:
        reasons.append(
            "No distribution meets the record's 99 % quantile of wet-day rain; the one "
            f"taken misses it by {miss:+.1f} standard errors."
        )
    return reasons
