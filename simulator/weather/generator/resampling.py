"""Real weather put together anew: whole seasons of a record, or blocks of them, drawn by chance.

A season runs from 1 August to 31 July on a calendar of 366 days; where the year it was measured
in has no 29 February, that day has the temperatures of the 28th and no rain.

References
----------
Efron B (1979) Bootstrap methods: another look at the jackknife. Ann. Stat. 7:1-26.
Kunsch HR (1989) The jackknife and the bootstrap for general stationary observations. Ann. Stat.
17:1217-1241 (blocks).
Rajagopalan B, Lall U (1999) A k-nearest-neighbor simulator for daily precipitation and other
weather variables. Water Resour. Res. 35:3089-3101 (the neighbours, their number and weights).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.problems import Parameter, fault
from simulator.weather.record import NAMES, fill_short_gaps

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

CALENDAR = np.arange("2003-08-01", "2004-08-01", dtype="datetime64[D]")  # a season with its 29th
DAYS = CALENDAR.size
LEAP_DAY = int((np.datetime64("2004-02-29") - CALENDAR[0]).astype(int))
_MONTH = CALENDAR.astype("datetime64[M]").astype(int) % 12
FEWEST_SEASONS = 2
DAYS_AT_A_JOIN = 3  # whose weather is matched where two blocks meet

SEASON, MONTH = "season", "month"
_WEEKS = re.compile(r"^(\d{1,2}) weeks?$")


@dataclass(frozen=True, slots=True)
class Seasons:
    """The whole seasons of a record.

    Parameters
    ----------
    years : ndarray of int, shape (seasons,)
        Fall years.
    values : ndarray, shape (seasons, 3, 366)
        tmax, tmin [degC], rain [mm]; NaN on days that are not needed.
    needed : ndarray of bool, shape (366,)
        Days that every season has.
    left_out : list of int
        Fall years that miss days.
    filled : str
        What short gaps were filled with.
    """

    years: NDArray[np.int64]
    values: NDArray[np.float64]
    needed: NDArray[np.bool_]
    left_out: list[int]
    filled: str = ""


def seasons_of(record: xr.Dataset) -> Seasons:
    """Cut a record into the seasons that are whole.

    Parameters
    ----------
    record : Dataset
        As `read_weather` gives it; gaps of up to five days are filled here, and noted.

    Returns
    -------
    Seasons
        Whole from August to July; of a record that has no two such, whole in the months that at
        least two seasons have, as a record of winters does.

    Raises
    ------
    InputError
        No two seasons are whole in the same months.
    """
    whole = fill_short_gaps(record)
    days = whole["time"].values.astype("datetime64[D]")
    values = np.array([whole[name].values.astype(float) for name in NAMES])
    # seven months back, a season lies within a calendar year
    months = days.astype("datetime64[M]") - np.timedelta64(7, "M")
    fall = months.astype("datetime64[Y]").astype(int)
    place = _place(days)
    years = np.unique(fall)
    table = np.full((years.size, 3, DAYS), np.nan)
    table[np.searchsorted(years, fall), :, place] = values.T
    leap = np.isnan(table[:, :, LEAP_DAY])
    before = table[:, :, LEAP_DAY - 1]
    stand_in = np.where(np.isnan(before), np.nan, before * np.array([1.0, 1.0, 0.0]))
    table[:, :, LEAP_DAY] = np.where(leap, stand_in, table[:, :, LEAP_DAY])

    have = ~np.isnan(table).any(axis=1)
    needed = np.ones(DAYS, dtype=bool)
    if have.all(axis=1).sum() < FEWEST_SEASONS:
        of_month = np.array([have[:, month == _MONTH].all(axis=1) for month in range(12)])
        needed = (of_month.sum(axis=1) >= FEWEST_SEASONS)[_MONTH]
    kept = have[:, needed].all(axis=1) & needed.any()
    if kept.sum() < FEWEST_SEASONS:
        raise fault(
            f"weather of {record.attrs.get('site', 'this site')}",
            "No two of its seasons are whole, nor in the same months; to draw from, at "
            f"least {FEWEST_SEASONS} are needed.",
            "Give a longer record.",
        )
    table[:, :, ~needed] = np.nan
    touched = have[:, needed].any(axis=1)
    return Seasons(
        years[kept].astype(np.int64) + 1970,
        table[kept],
        needed,
        [int(year) + 1970 for year in years[touched & ~kept]],
        str(whole.attrs.get("filled", "")),
    )


def _place(days: NDArray[np.datetime64]) -> NDArray[np.int64]:
    """Return where days stand in a season of 366 days."""
    months = days.astype("datetime64[M]")
    first = {int(month): int(np.argmax(month == _MONTH)) for month in np.unique(_MONTH)}
    starts = np.array([first[month] for month in range(12)])
    found: NDArray[np.int64] = starts[months.astype(int) % 12] + (days - months).astype(int)
    return found


def block_of_days(blocks: str) -> NDArray[np.int64]:
    """Say to which block of a season each day belongs.

    Parameters
    ----------
    blocks : str
        ``"season"``, ``"month"``, or weeks, ``"2 weeks"`` to ``"26 weeks"``.

    Returns
    -------
    ndarray of int, shape (366,)
        From 0 on; the last block of weeks may be longer by the days that are left.

    Raises
    ------
    InputError
        Not one of these.
    """
    plain = " ".join(blocks.lower().split())
    if plain == SEASON:
        return np.zeros(DAYS, dtype=np.int64)
    if plain == MONTH:
        return (_MONTH - 7) % 12
    match = _WEEKS.match(plain)
    if not match or not 2 <= int(match[1]) <= 26:
        raise fault(
            Parameter("blocks"),
            f"'{blocks[:40]}' is not a kind of block.",
            "Write season, month, or weeks from '2 weeks' to '26 weeks'.",
        )
    length = 7 * int(match[1])
    return np.minimum(np.arange(DAYS) // length, DAYS // length - 1)


def draw_donors(
    seasons: Seasons,
    years: int,
    draw: np.random.Generator,
    *,
    blocks: str = SEASON,
    weights: NDArray[np.float64] | None = None,
    groups: NDArray[np.int64] | None = None,
) -> NDArray[np.int64]:
    """Draw which season lends each block of each new season.

    Parameters
    ----------
    seasons : Seasons
    years : int
        How many new ones.
    draw : Generator
        Source of uniform draws.
    blocks : str
        As `block_of_days`.
    weights : ndarray, shape (seasons,), optional
        Chance of each to lend a season, or to begin it; by default all the same.
    groups : ndarray of int, shape (seasons,), optional
        All blocks of a new season come from the group of its first; by default there is one.

    Returns
    -------
    ndarray of int, shape (years, blocks)
        Positions among the seasons.

    Notes
    -----
    The first block is drawn by the weights. Each later one is drawn among the seasons whose own
    days before the block are most like the last ones drawn: the nearest sqrt(n) of them, with
    weights 1, 1/2, 1/3, ... (Rajagopalan and Lall 1999), by their distance in mean Tmax and Tmin
    of three days, over the spread among seasons, and in the number of wet days among the three.
    """
    count = int(block_of_days(blocks).max()) + 1
    chance = np.full(seasons.years.size, 1.0) if weights is None else np.asarray(weights)
    reached = np.cumsum(chance) / chance.sum()
    drawn = np.searchsorted(reached, draw.random(years), side="right")
    # rounding may leave the last step a hair below 1
    first: NDArray[np.int64] = np.minimum(drawn, np.flatnonzero(chance > 0)[-1])
    if count == 1:
        return first[:, None]
    states = _states_at_joins(seasons, block_of_days(blocks))
    group = np.zeros(seasons.years.size, dtype=np.int64) if groups is None else groups
    donors = np.empty((years, count), dtype=np.int64)
    donors[:, 0] = first
    chances = draw.random((years, count - 1))
    for year in range(years):
        among = np.flatnonzero((group == group[first[year]]) & (chance > 0))
        nearest = max(math.isqrt(among.size), 1)
        steps = np.cumsum(1.0 / np.arange(1, nearest + 1))
        for block in range(1, count):
            at_join = states[block - 1]
            apart = ((at_join[among] - at_join[donors[year, block - 1]]) ** 2).sum(axis=1)
            order = among[np.argsort(apart, kind="stable")[:nearest]]
            rank = np.searchsorted(steps / steps[-1], chances[year, block - 1], side="right")
            donors[year, block] = order[min(int(rank), nearest - 1)]
    return donors


def spread_out(
    donors: NDArray[np.int64], weights: NDArray[np.float64], draw: np.random.Generator
) -> NDArray[np.int64]:
    """Let whole seasons of the same chance come as often as each other, before any comes again.

    Parameters
    ----------
    donors : ndarray of int, shape (years, 1)
        From `draw_donors`; says how many seasons of each chance there are.
    weights : ndarray, shape (seasons,)
    draw : Generator

    Returns
    -------
    ndarray of int, shape (years, 1)
    """
    spread = donors.copy()
    for chance in np.unique(weights[donors]):
        here, may = weights[donors] == chance, np.flatnonzero(weights == chance)
        spread[here] = np.resize(may[np.argsort(draw.random(may.size))], int(here.sum()))
    return spread


def _states_at_joins(seasons: Seasons, block: NDArray[np.int64]) -> NDArray[np.float64]:
    """Weather of the days before each join, (joins, seasons, 3), over its spread."""
    states = []
    for start in np.flatnonzero(np.diff(block)) + 1:
        before = np.nan_to_num(seasons.values[:, :, start - DAYS_AT_A_JOIN : start])
        wet = (before[:, 2] > 0).sum(axis=1) / DAYS_AT_A_JOIN
        state = np.column_stack([before[:, 0].mean(axis=1), before[:, 1].mean(axis=1), wet])
        spread = state.std(axis=0)
        states.append(state / np.where(spread > 0, spread, 1.0))
    return np.array(states)


def assemble(
    seasons: Seasons, donors: NDArray[np.int64], blocks: str, time: NDArray[np.datetime64]
) -> NDArray[np.float64]:
    """Lay drawn blocks on the days of new seasons.

    Parameters
    ----------
    seasons : Seasons
    donors : ndarray of int, shape (years, blocks)
    blocks : str
    time : ndarray of datetime64, shape (days,)
        From a 1 August on, as many seasons as donors.

    Returns
    -------
    ndarray, shape (3, days)
        tmax, tmin, rain; the days of each block in their order.
    """
    place = _place(time)
    season = np.cumsum(place == 0) - 1
    lender = donors[season, block_of_days(blocks)[place]]
    found: NDArray[np.float64] = seasons.values[lender, :, place].T
    return found
