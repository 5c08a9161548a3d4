"""Seasons cut out of a record, and one joined up to today with the remainders of others."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator.season import plan as plans
from simulator.season.day.drivers import DAYS
from simulator.weather.fall_year import season_day
from simulator.weather.record import A_DAY, NAMES, unbroken

if TYPE_CHECKING:
    import xarray as xr

Values = NDArray[Any]
_LEAP_DAY = plans.day_number(2003, "02-28") + 1  # season day of 29 February, where there is one


def season_blocks(record: xr.Dataset, years: Sequence[int]) -> Values:
    """Cut seasons out of a record, from 1 July on: array (year, column, day), NaN where none.

    The columns are those of `simulator.weather.record.NAMES`, then measured radiation.
    """
    record = unbroken(record)
    days = record["time"].values.astype("datetime64[D]")
    named = [*NAMES, *(["radiation"] if "radiation" in record else [])]
    columns = np.full((len(NAMES) + 1, days.size), np.nan)
    columns[: len(named)] = [np.asarray(record[name].values, float) for name in named]
    blocks = np.full((len(years), len(columns), DAYS), np.nan)
    for place, year in enumerate(years):
        at = (season_day(year, "07-01") + np.arange(DAYS) - days[0]).astype(int)
        there = (at >= 0) & (at < days.size)
        blocks[place][:, there] = columns[:, at[there]]
    return blocks


def is_leap(year: int) -> bool:
    """Say whether the winter of a fall year has a 29 February."""
    return bool(season_day(year, "03-01") - season_day(year, "02-28") > A_DAY)


def same_days(year: int, other: int) -> Values:
    """Return, for each season day of one fall year, that of the same date in another.

    A 29 February that the other year lacks takes its 28 February.
    """
    days = np.arange(DAYS)
    shift = int(is_leap(other)) - int(is_leap(year))
    return np.minimum(np.where(days >= _LEAP_DAY, days + shift, days), DAYS - 1)


def splice(block: Values, blocks: Values, year: int, others: Sequence[int], today: int) -> Values:
    """Join the weather of one season up to today with the remainders of others.

    Parameters
    ----------
    block : array (column, day)
        The season's own.
    blocks : array (other, column, day)
    year : int
        Its fall year.
    others : sequence of int
        Theirs.
    today : int
        Last season day that is the season's own.

    Returns
    -------
    array (other, column, day)
        On the season's own calendar.
    """
    joined = np.stack(
        [one[:, same_days(year, other)] for one, other in zip(blocks, others, strict=True)]
    )
    joined[:, :, : today + 1] = block[:, : today + 1]
    return joined
