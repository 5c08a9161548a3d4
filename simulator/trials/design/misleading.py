"""Falls that would have misled a trial: far from the mean, or so wet that they hide nitrogen."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

import numpy as np

from simulator.trials.design.testing import quantile_of_t
from simulator.trials.design.trial import Array, Trial
from simulator.weather.fall_year import season_day
from simulator.weather.year_types import FIRST_OF_FALL, LAST_OF_FALL

if TYPE_CHECKING:
    import xarray as xr

FAR = 1.5  # standard deviations from the record's mean
ODD = 1.5  # the same, from which a month's weather is worth naming
MOST_ODD = 2  # months named
DRENCHED = 0.1  # share of a record's falls, the wettest
WET_MONTHS = (FIRST_OF_FALL, LAST_OF_FALL)  # whose rain makes a fall a drenched one
PAIRS = 2000  # of years, drawn
_STREAM = 7919  # apart from the streams of `drawing`, which count from 0


@dataclass(frozen=True, slots=True)
class Odd:
    """What was odd in a month.

    Parameters
    ----------
    month : str
        YYYY-MM.
    kind : {"rain", "temperature"}
    value, usual : float
        Of that month, and the mean of the record's falls [mm, degC].
    away : float
        How far it lies from the mean, in standard deviations.
    """

    month: str
    kind: str
    value: float
    usual: float
    away: float


@dataclass(frozen=True, slots=True)
class Misled:
    """A fall whose difference lies far from the record's mean.

    Parameters
    ----------
    factor : str
    year : int
    difference, usual : float
        Last level less first, in that fall and in the mean of the record [kg/ha].
    away : float
        In standard deviations of the record.
    odd : tuple of Odd
        What was odd in its weather, the oddest first.
    """

    factor: str
    year: int
    difference: float
    usual: float
    away: float
    odd: tuple[Odd, ...]

    @property
    def reversed(self) -> bool:
        """Whether it has the other level ahead."""
        return self.difference * self.usual < 0.0


def misled(
    trial: Trial, years: Sequence[int], months: dict[int, list[Odd]], *, difference: float
) -> list[Misled]:
    """Find falls whose difference between the first and the last level lies far from the mean.

    Parameters
    ----------
    trial : Trial
        Levels of each factor in their order: the earliest sowing first, the lowest rate first.
    years : sequence of int
        Fall years, as `Trial.biomass` has them.
    months : dict of int to list of Odd
        From `odd_months`.
    difference : float
        Falls that differ less from the mean mislead nobody [kg/ha]; one that has the other level
        ahead by as much is named, however often the record has such falls.

    Returns
    -------
    list of Misled
        Factor by factor, the farthest first.
    """
    found = []
    for factor in trial.asked():
        means = trial.means(factor)
        differences = means[:, -1] - means[:, 0]
        usual, spread = float(differences.mean()), float(differences.std(ddof=1))
        if spread <= 0.0:
            continue
        here = [
            Misled(
                factor,
                year,
                float(difference),
                usual,
                (float(difference) - usual) / spread,
                tuple(months.get(year, ())),
            )
            for year, difference in zip(years, differences, strict=True)
        ]
        kept = [
            one
            for one in here
            if abs(one.difference - usual) >= difference
            and (abs(one.away) >= FAR or (one.reversed and abs(one.difference) >= difference))
        ]
        found += sorted(kept, key=lambda one: -abs(one.away))
    return found


def odd_months(
    record: xr.Dataset, years: Sequence[int], first: str, last: str
) -> dict[int, list[Odd]]:
    """Find in each fall's season the months that lie farthest from the record's.

    Parameters
    ----------
    record : Dataset(time)
    years : sequence of int
        Fall years.
    first, last : str
        Days, MM-DD, whose months are looked at, and all between; whole months.

    Returns
    -------
    dict of int to list of Odd
        The oddest first; at most `MOST_ODD`.
    """
    days = record["time"].values.astype("datetime64[D]")
    temperature = 0.5 * (record["tmax"].values + record["tmin"].values)
    rain = record["rain"].values
    begins = season_day(2001, first).astype("datetime64[M]")
    count = int((season_day(2001, last).astype("datetime64[M]") - begins).astype(int)) + 1
    values = np.full((2, len(years), count), np.nan)
    starts = [season_day(year, first).astype("datetime64[M]") for year in years]
    for at, start in enumerate(starts):
        for month in range(count):
            inside = days.astype("datetime64[M]") == start + month
            if inside.any():
                values[:, at, month] = rain[inside].sum(), temperature[inside].mean()
    with np.errstate(invalid="ignore", divide="ignore"), warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # a month that no fall has whole
        usual = np.nanmean(values, axis=1)
        away = (values - usual[:, None]) / np.nanstd(values, axis=1, ddof=1)[:, None]
    found: dict[int, list[Odd]] = {}
    for at, (year, start) in enumerate(zip(years, starts, strict=True)):
        odd = [
            Odd(
                str(start + month),
                kind,
                float(values[k, at, month]),
                float(usual[k, month]),
                float(away[k, at, month]),
            )
            for k, kind in enumerate(("rain", "temperature"))
            for month in range(count)
            if abs(away[k, at, month]) >= ODD
        ]
        found[year] = sorted(odd, key=lambda one: -abs(one.away))[:MOST_ODD]
    return found


def drenched(record: xr.Dataset, years: Sequence[int]) -> dict[int, float]:
    """Return the wettest tenth of the falls, by rain in October to December [mm], wettest first."""
    days, rain = record["time"].values.astype("datetime64[D]"), record["rain"].values
    first, last = WET_MONTHS
    totals = {
        year: float(
            rain[(days >= season_day(year, first)) & (days <= season_day(year, last))].sum()
        )
        for year in years
    }
    order = sorted(totals, key=lambda year: (-totals[year], year))
    return {year: totals[year] for year in order[: ceil(DRENCHED * len(years))]}


@dataclass(frozen=True, slots=True, kw_only=True)
class Hidden:
    """What one drenched fall does to a trial of two years.

    Parameters
    ----------
    years : dict of int to float
        The drenched falls, and their rain in October to December [mm].
    pairs : int
        Pairs drawn, of an ordinary and a drenched fall.
    shown : int
        In so many the ordinary fall alone shows the response to nitrogen.
    hidden : int
        In so many of these, both years together do not.
    ordinary : int
        In so many, the same fall and another ordinary one do not.
    response, drenched_response : float
        Mean of what nitrogen brings in ordinary and in drenched falls [kg/ha].
    """

    years: dict[int, float]
    pairs: int
    shown: int
    hidden: int
    ordinary: int
    response: float
    drenched_response: float


def hidden_pairs(
    trial: Trial,
    years: Sequence[int],
    wet: dict[int, float],
    *,
    rate: int,
    blocks: int,
    seed: int,
    count: int = PAIRS,
) -> Hidden | None:
    """Draw pairs of years, one of them drenched, and see whether nitrogen's response is lost.

    The response is that of one sowing date, over all seeding rates, each date as often; it is
    tested against the plots of the trial, as a trial of a year or two is.

    Parameters
    ----------
    trial : Trial
    years : sequence of int
        Fall years.
    wet : dict of int to float
        From `drenched`.
    rate : int
        Level of nitrogen that is held against the first.
    blocks, seed, count : int

    Returns
    -------
    Hidden or None
        None without nitrogen rates to compare, or where every fall is drenched.
    """
    is_wet = np.array([year in wet for year in years])
    if trial.levels[-1] < 2 or is_wet.all() or not is_wet.any():
        return None
    draw = np.random.default_rng([seed, _STREAM])
    dates, seedings = trial.levels[:2]
    response = (trial.biomass[..., rate] - trial.biomass[..., 0]).mean(axis=2)  # fall, date
    kinds = (np.flatnonzero(~is_wet), np.flatnonzero(~is_wet), np.flatnonzero(is_wet))
    falls = np.stack([draw.choice(kind, size=count) for kind in kinds])  # ordinary twice, drenched
    date = np.arange(count) % dates
    replicates, freedom = blocks * seedings, (blocks - 1) * (trial.treatments - 1)
    own = np.sqrt(2.0 * (trial.errors.rate**2 + trial.errors.own**2 / seedings))[falls]
    spread = trial.plot[falls]
    seen = response[falls, date] + own * draw.standard_normal(falls.shape)
    seen += spread * np.sqrt(2.0 / replicates) * draw.standard_normal(falls.shape)
    squares = spread**2 * draw.chisquare(freedom, falls.shape) / freedom
    in_one_year = seen[0] > quantile_of_t(freedom) * np.sqrt(2.0 * squares[0] / replicates)

    def lost(other: int) -> Array:
        error = np.sqrt(2.0 * (squares[0] + squares[other]) / 2.0 / (2.0 * replicates))
        return np.asarray(
            in_one_year & ((seen[0] + seen[other]) / 2.0 <= quantile_of_t(2 * freedom) * error)
        )

    return Hidden(
        years=wet,
        pairs=count,
        shown=int(in_one_year.sum()),
        hidden=int(lost(2).sum()),
        ordinary=int(lost(1).sum()),
        response=float(response[~is_wet].mean()),
        drenched_response=float(response[is_wet].mean()),
    )
