"""Does the generator make weather like the record's? Every statistic, by month, with its chance.

The generator makes many records as long as the user's, on the same days, with the same gaps, and
temperatures rounded as the user's are: half a degree counts where frost is counted.
Where the user's own lies among them, it could be one of them; where it lies outside 95 of 100,
it differs by more than chance. Twelve months give one such in two statistics by chance alone, so a
statistic is called failed only where four months lie outside, or the mean over its months lies
2.6 standard deviations off: one or the other happens to about two in a hundred by chance.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.weather.files.record_check import checked
from simulator.weather.generator.daily import day_of_year, draw_days
from simulator.weather.generator.fit import FittedClimatology
from simulator.weather.generator.resampling import SEASON, assemble, draw_donors, seasons_of
from simulator.weather.generator.statistics import STATISTICS, Statistic, calendar_of, statistics
from simulator.weather.record import NAMES, unbroken

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

MEMBERS = 100
RANGE = (2.5, 97.5)  # percent
MONTHS_TO_FAIL = 4  # of 12 at 5 % each; more often than were months independent, 9 times in 1,000
DEVIATIONS_TO_FAIL = 2.6  # among 100 records, not all normal, 12 times in 1,000
BY_CHANCE = 0.02  # share of statistics that are kept and yet fail by one or the other

Maker = Callable[[np.random.Generator], "NDArray[np.float64]"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """One statistic, generated against recorded.

    Parameters
    ----------
    statistic : Statistic
    recorded, generated, low, high : ndarray, shape (12,)
        The record's; the mean of the generated records; between which 95 of 100 of them lie. SI;
        NaN where a month has too few days for it.
    deviations : float
        How many standard deviations of the generated records the record lies above their mean,
        as a mean over its months; NaN where they do not vary.
    """

    statistic: Statistic
    recorded: NDArray[np.float64]
    generated: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    deviations: float

    @property
    def beyond(self) -> NDArray[np.bool_]:
        """Months in which the record lies outside."""
        rounding = 1e-9
        return (self.recorded < self.low - rounding) | (self.recorded > self.high + rounding)

    @property
    def months(self) -> int:
        """Months that have a value."""
        return int((~np.isnan(self.recorded) & ~np.isnan(self.generated)).sum())

    @property
    def fails(self) -> bool:
        """Whether the generator misses it by more than chance."""
        most = MONTHS_TO_FAIL if self.months > 6 else MONTHS_TO_FAIL - 1
        return bool(self.beyond.sum() >= most or abs(self.deviations) > DEVIATIONS_TO_FAIL)


def held_against(
    record: xr.Dataset, maker: Maker, wet_day: float, *, members: int = MEMBERS, seed: int = 1
) -> list[Held]:
    """Hold generated records against the recorded one.

    Parameters
    ----------
    record : Dataset
    maker : callable
        Makes (3, days) on the record's own days from a source of draws: `fitted_maker` or
        `resampled_maker`.
    wet_day : float
        [mm].
    members : int
        How many records are made.
    seed : int
        Each member has a stream of its own from it.

    Returns
    -------
    list of Held
        In the order of `STATISTICS`.
    """
    record = checked(record)
    values = np.array([record[name].values.astype(float) for name in NAMES])
    calendar = calendar_of(record["time"].values)
    missing = np.isnan(values)
    written = [steps_of(column) for column in values[:2]]
    recorded = statistics(calendar, values, wet_day)
    made = []
    for member in range(members):
        draw = np.random.Generator(np.random.PCG64([seed, member]))
        one = np.where(missing, np.nan, maker(draw))
        for column, steps in enumerate(written):
            one[column] = rounded_to(one[column], steps)
        made.append(statistics(calendar, one, wet_day))
    return [
        compare_statistic(statistic, recorded[at], np.array([one[at] for one in made]))
        for at, statistic in enumerate(STATISTICS)
    ]


def steps_of(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the values that a record writes, in order: of whole degF every 0.56 degC."""
    return np.unique(values[~np.isnan(values)].round(6))


def rounded_to(values: NDArray[np.float64], steps: NDArray[np.float64]) -> NDArray[np.float64]:
    """Round values to the nearest that a record writes.

    Parameters
    ----------
    values : ndarray, shape (days,)
        NaN stays.
    steps : ndarray
        Of `steps_of`, two or more.

    Returns
    -------
    ndarray, shape (days,)
        What lies further off than rounding goes, beyond the record's extremes or in a gap where
        few days are, stays as it is.
    """
    edges = 0.5 * (steps[1:] + steps[:-1])
    nearest = steps[np.searchsorted(edges, values)]
    # steps are not all alike: whole degF written to 0.1 degC lie 0.5 or 0.6 apart
    furthest = 0.6 * float(np.median(np.diff(steps)))
    return np.where(np.abs(values - nearest) <= furthest, nearest, values)


def compare_statistic(
    statistic: Statistic, recorded: NDArray[np.float64], made: NDArray[np.float64]
) -> Held:
    """Hold one statistic of a record, (12,), against that of its makers' records, (members, 12)."""
    # a month counts where nearly all members have it, as they may not a run of frost in May
    usable = ~np.isnan(recorded) & (np.isnan(made).mean(axis=0) <= 0.1)
    mean, low, high = (np.full(12, np.nan) for _ in range(3))
    deviations = float("nan")
    if usable.any():
        kept = made[:, usable]
        mean[usable] = np.nanmean(kept, axis=0)
        low[usable], high[usable] = np.nanpercentile(kept, RANGE, axis=0)
        over_year = np.nanmean(kept, axis=1)
        spread = over_year.std(ddof=1)
        if spread > 0:
            deviations = float((recorded[usable].mean() - over_year.mean()) / spread)
    return Held(
        statistic=statistic,
        recorded=recorded,
        generated=mean,
        low=low,
        high=high,
        deviations=deviations,
    )


def fitted_maker(fitted: FittedClimatology, record: xr.Dataset) -> Maker:
    """Return what draws the record's days from the fitted generator."""
    of_year = day_of_year(unbroken(record)["time"].values.astype("datetime64[D]"))

    def make(draw: np.random.Generator) -> NDArray[np.float64]:
        drawn = draw_days(fitted.climate, of_year, draw)
        return np.array([drawn[name] for name in NAMES])

    return make


def resampled_maker(record: xr.Dataset, blocks: str = SEASON) -> Maker:
    """Return what draws the record's days from its own seasons."""
    record = unbroken(record)
    days = record["time"].values.astype("datetime64[D]")
    seasons = seasons_of(record)
    # seven months back, a season lies within a calendar year
    ends = days[[0, -1]].astype("datetime64[M]") - np.timedelta64(7, "M")
    first, last = ends.astype("datetime64[Y]").astype(int) + 1970
    years = int(last - first) + 1
    time = np.arange(f"{first}-08-01", f"{last + 1}-08-01", dtype="datetime64[D]")
    start = int((days[0] - time[0]).astype(int))

    def make(draw: np.random.Generator) -> NDArray[np.float64]:
        donors = draw_donors(seasons, years, draw, blocks=blocks)
        return assemble(seasons, donors, blocks, time)[:, start : start + days.size]

    return make
