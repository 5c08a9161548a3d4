"""What a generator must keep, month by month: the statistics of a daily record.

Months that a record has too little of give NaN.

References
----------
Wilks DS, Wilby RL (1999) The weather generation game: a review of stochastic weather models.
Prog. Phys. Geogr. 23:329-357: what is kept, and what is known to be lost.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from simulator.weather.generator.daily import MONTH_DAYS
from simulator.weather.generator.monthly import by_month, three_running, variance
from simulator.weather.generator.rain_chain import transitions

if TYPE_CHECKING:
    from numpy.typing import NDArray

FEWEST_DAYS, FEWEST_WET, FEWEST_SPELLS = 20, 10, 5
LONG_DRY, LONG_WET = 10, 4  # days from which on a spell is called long
FROST = -1e-6  # degC; below 0, but not by the rounding that makes 32 degF a hair less than 0

# how a statistic is shown: a kind of `units.SHOWN`, or a plain number
Kind = Literal["share", "rain", "days", "temperature", "step", "correlation"]


@dataclass(frozen=True, slots=True)
class Statistic:
    """One statistic of a month.

    Parameters
    ----------
    name : str
        As in files.
    label : str
        As people read it.
    kind : str
        Of quantity.
    group : str
        What it is about.
    """

    name: str
    label: str
    kind: Kind
    group: str


WET, AMOUNTS, SPELLS, HEAT, TOGETHER, YEARS, COLD = (
    "Wet and dry days",
    "Rain of wet days",
    "Spells",
    "Temperature by wet and dry days",
    "Temperature from day to day",
    "From year to year",
    "Frost",
)

STATISTICS = (
    Statistic("wet_fraction", "wet days", "share", WET),
    Statistic("wet_after_dry", "wet after a dry day (p01)", "share", WET),
    Statistic("wet_after_wet", "wet after a wet day (p11)", "share", WET),
    Statistic("rain_mean", "mean rain of a wet day", "rain", AMOUNTS),
    Statistic("rain_sd", "SD of rain of a wet day", "rain", AMOUNTS),
    Statistic("rain_50", "half of wet days exceed", "rain", AMOUNTS),
    Statistic("rain_90", "1 wet day in 10 exceeds", "rain", AMOUNTS),
    Statistic("rain_95", "1 wet day in 20 exceeds", "rain", AMOUNTS),
    Statistic("rain_99", "1 wet day in 100 exceeds", "rain", AMOUNTS),
    Statistic("rain_with_before", "rain with the day before", "correlation", AMOUNTS),
    Statistic("wet_spell", "mean wet spell", "days", SPELLS),
    Statistic("dry_spell", "mean dry spell", "days", SPELLS),
    Statistic("wet_spell_long", f"wet spells of {LONG_WET} days or more", "share", SPELLS),
    Statistic("dry_spell_long", f"dry spells of {LONG_DRY} days or more", "share", SPELLS),
    Statistic("wet_spell_longest", "longest wet spell", "days", SPELLS),
    Statistic("dry_spell_longest", "longest dry spell", "days", SPELLS),
    Statistic("tmax_mean_dry", "mean Tmax, dry days", "temperature", HEAT),
    Statistic("tmax_mean_wet", "mean Tmax, wet days", "temperature", HEAT),
    Statistic("tmin_mean_dry", "mean Tmin, dry days", "temperature", HEAT),
    Statistic("tmin_mean_wet", "mean Tmin, wet days", "temperature", HEAT),
    Statistic("tmax_sd_dry", "SD of Tmax, dry days", "step", HEAT),
    Statistic("tmax_sd_wet", "SD of Tmax, wet days", "step", HEAT),
    Statistic("tmin_sd_dry", "SD of Tmin, dry days", "step", HEAT),
    Statistic("tmin_sd_wet", "SD of Tmin, wet days", "step", HEAT),
    Statistic("tmax_skew", "skewness of Tmax", "correlation", HEAT),
    Statistic("tmin_skew", "skewness of Tmin", "correlation", HEAT),
    Statistic("range_sd", "SD of Tmax less Tmin", "step", TOGETHER),
    Statistic("range_least", "least Tmax less Tmin", "step", TOGETHER),
    Statistic("tmax_with_tmin", "Tmax with Tmin", "correlation", TOGETHER),
    Statistic("tmax_with_before", "Tmax with the day before", "correlation", TOGETHER),
    Statistic("tmin_with_before", "Tmin with the day before", "correlation", TOGETHER),
    Statistic("tmax_with_tmin_before", "Tmax with Tmin the day before", "correlation", TOGETHER),
    Statistic("tmin_with_tmax_before", "Tmin with Tmax the day before", "correlation", TOGETHER),
    Statistic("rain_between_years", "SD between years, rain of a month", "rain", YEARS),
    Statistic("rain_between_years_3", "SD between years, rain of 3 months", "rain", YEARS),
    Statistic("wet_days_between_years", "SD between years, wet days", "days", YEARS),
    Statistic("heat_between_years", "SD between years, month mean", "step", YEARS),
    Statistic("heat_between_years_3", "SD between years, 3-month mean", "step", YEARS),
    Statistic("frost_days", "frost in a month", "days", COLD),
    Statistic("frost_run", "mean run of frost", "days", COLD),
    Statistic("frost_run_longest", "longest run of frost", "days", COLD),
)


@dataclass(frozen=True, slots=True)
class Calendar:
    """The days of a record, in order and without a hole: year from 0 and month 0 to 11."""

    year: NDArray[np.int64]
    month: NDArray[np.int64]


def calendar_of(time: NDArray[np.datetime64]) -> Calendar:
    """Return the years and months of consecutive days."""
    days = time.astype("datetime64[D]")
    year = days.astype("datetime64[Y]").astype(np.int64)
    return Calendar(year - year[0], days.astype("datetime64[M]").astype(np.int64) % 12)


def statistics(
    calendar: Calendar, values: NDArray[np.float64], wet_day: float
) -> NDArray[np.float64]:
    """Reckon every statistic.

    Parameters
    ----------
    calendar : Calendar
    values : ndarray, shape (3, days)
        tmax, tmin [degC], rain [mm]; NaN where missing.
    wet_day : float
        Rain from which on a day is wet [mm].

    Returns
    -------
    ndarray, shape (statistics, 12)
        In the order of `STATISTICS`, SI.
    """
    rain = values[2]
    wet = np.where(np.isnan(rain), np.nan, (rain >= wet_day).astype(float))
    found = {
        **_wet_and_amounts(calendar.month, rain, wet),
        **_spells(calendar.month, wet),
        **_temperatures(calendar.month, values[:2], wet),
        **_between_years(calendar, values, wet),
        **_frost(calendar.month, values[1]),
    }
    return np.array([found[statistic.name] for statistic in STATISTICS])


def _ratio(part: NDArray[Any], whole: NDArray[Any], fewest: float) -> NDArray[np.float64]:
    return np.where(whole >= fewest, part / np.maximum(whole, 1e-9), np.nan)


def _wet_and_amounts(
    month: NDArray[np.int64], rain: NDArray[np.float64], wet: NDArray[np.float64]
) -> dict[str, NDArray[np.float64]]:
    known = ~np.isnan(wet)
    days = np.bincount(month[known], minlength=12)
    wet_days = np.bincount(month[known], wet[known], minlength=12)
    counts = transitions(wet, month, 1)
    after = counts.sum(axis=2)
    found = {
        "wet_fraction": _ratio(wet_days, days, FEWEST_DAYS),
        "wet_after_dry": _ratio(counts[:, 0, 1], after[:, 0], FEWEST_WET),
        "wet_after_wet": _ratio(counts[:, 1, 1], after[:, 1], FEWEST_WET),
    }
    amounts = np.full((6, 12), np.nan)
    for one in range(12):
        fallen = rain[(month == one) & (wet == 1)]
        if fallen.size >= FEWEST_WET:
            amounts[:, one] = [
                fallen.mean(),
                fallen.std(ddof=1),
                *np.quantile(fallen, [0.5, 0.9, 0.95, 0.99]),
            ]
    names = ("rain_mean", "rain_sd", "rain_50", "rain_90", "rain_95", "rain_99")
    rest = rain - mean_of(month, rain)[month]
    rest /= np.maximum(np.sqrt(mean_of(month, rest**2)), 1e-6)[month]
    with_before = mean_of(month, rest * np.concatenate([[np.nan], rest[:-1]]))
    found["rain_with_before"] = np.where(wet_days >= FEWEST_WET, with_before, np.nan)
    return {**found, **dict(zip(names, amounts, strict=True))}


def _runs(
    flags: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
    """Return first day, length and flag of runs known from end to end."""
    code = np.where(np.isnan(flags), -1.0, flags)
    starts = np.flatnonzero(np.diff(code, prepend=-2.0))
    lengths = np.diff(np.append(starts, code.size))
    kinds = code[starts]
    whole = np.ones(starts.size, dtype=bool)
    whole[[0, -1]] = False
    whole[1:] &= kinds[:-1] >= 0
    whole[:-1] &= kinds[1:] >= 0
    whole &= kinds >= 0
    return starts[whole], lengths[whole], kinds[whole]


def _run_lengths(
    month: NDArray[np.int64], lengths: NDArray[np.int64], long: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Mean length, share of long ones and the longest of the runs that begin in each month."""
    count = np.bincount(month, minlength=12)
    mean = _ratio(np.bincount(month, lengths, minlength=12), count, FEWEST_SPELLS)
    share = _ratio(np.bincount(month[lengths >= long], minlength=12), count, FEWEST_SPELLS)
    longest = np.zeros(12)
    np.maximum.at(longest, month, lengths)
    return mean, share, np.where(count >= FEWEST_SPELLS, longest, np.nan)


def _spells(month: NDArray[np.int64], wet: NDArray[np.float64]) -> dict[str, NDArray[np.float64]]:
    starts, lengths, kinds = _runs(wet)
    found: dict[str, NDArray[np.float64]] = {}
    for name, kind, long in (("wet_spell", 1, LONG_WET), ("dry_spell", 0, LONG_DRY)):
        own = kinds == kind
        mean, share, longest = _run_lengths(month[starts[own]], lengths[own], long)
        found |= {name: mean, f"{name}_long": share, f"{name}_longest": longest}
    return found


def _temperatures(
    month: NDArray[np.int64], pair: NDArray[np.float64], wet: NDArray[np.float64]
) -> dict[str, NDArray[np.float64]]:
    found: dict[str, NDArray[np.float64]] = {}
    left_over = np.full(pair.shape, np.nan)
    for column, name in enumerate(("tmax", "tmin")):
        values = pair[column]
        known = ~np.isnan(values) & ~np.isnan(wet)
        cell = month[known] * 2 + wet[known].astype(np.int64)
        count = np.bincount(cell, minlength=24)
        mean = np.bincount(cell, values[known], minlength=24) / np.maximum(count, 1)
        rest = values[known] - mean[cell]
        squares = np.bincount(cell, rest**2, minlength=24)
        sd = np.sqrt(squares / np.maximum(count - 1, 1))
        left_over[column, known] = rest / np.maximum(sd[cell], 1e-6)
        for kind, of in ((0, "dry"), (1, "wet")):
            enough = count[kind::2] >= FEWEST_WET
            found[f"{name}_mean_{of}"] = np.where(enough, mean[kind::2], np.nan)
            found[f"{name}_sd_{of}"] = np.where(enough, sd[kind::2], np.nan)
        found[f"{name}_skew"] = mean_of(month, left_over[column] ** 3)
    spread = pair[0] - pair[1]
    mean = mean_of(month, spread)
    found["range_sd"] = np.sqrt(mean_of(month, (spread - mean[month]) ** 2))
    least = np.full(12, np.inf)
    known = ~np.isnan(spread)
    np.minimum.at(least, month[known], spread[known])
    found["range_least"] = np.where(np.isfinite(least), least, np.nan)
    high, low = left_over
    high_before, low_before = (np.concatenate([[np.nan], row[:-1]]) for row in left_over)
    for name, product in (
        ("tmax_with_tmin", high * low),
        ("tmax_with_before", high * high_before),
        ("tmin_with_before", low * low_before),
        ("tmax_with_tmin_before", high * low_before),
        ("tmin_with_tmax_before", low * high_before),
    ):
        found[name] = mean_of(month, product)
    return found


def mean_of(month: NDArray[np.int64], values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Average the known days of each month, 0 to 11; NaN where there are fewer than 20."""
    known = ~np.isnan(values)
    count = np.bincount(month[known], minlength=12)
    return _ratio(np.bincount(month[known], values[known], minlength=12), count, FEWEST_DAYS)


def _between_years(
    calendar: Calendar, values: NDArray[np.float64], wet: NDArray[np.float64]
) -> dict[str, NDArray[np.float64]]:
    def months(of: NDArray[np.float64]) -> NDArray[np.float64]:
        return by_month(calendar.year, calendar.month, of)

    def sd(of: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.sqrt(variance(of))

    rain = months(values[2]) * MONTH_DAYS
    heat = months(0.5 * (values[0] + values[1]))
    return {
        "rain_between_years": sd(rain),
        "rain_between_years_3": 3.0 * sd(three_running(rain)),
        "wet_days_between_years": sd(months(wet) * MONTH_DAYS),
        "heat_between_years": sd(heat),
        "heat_between_years_3": sd(three_running(heat)),
    }


def _frost(month: NDArray[np.int64], tmin: NDArray[np.float64]) -> dict[str, NDArray[np.float64]]:
    cold = np.where(np.isnan(tmin), np.nan, (tmin < FROST).astype(float))
    starts, lengths, kinds = _runs(cold)
    own = kinds == 1
    mean, _, longest = _run_lengths(month[starts[own]], lengths[own], LONG_DRY)
    return {
        "frost_days": mean_of(month, cold) * MONTH_DAYS,
        "frost_run": mean,
        "frost_run_longest": longest,
    }
