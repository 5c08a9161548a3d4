"""Cover on days that were asked for: of the residue, and of the green stand before its end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.process.canopy import light_interception
from simulator.season.plan import order
from simulator.weather.fall_year import season_day

if TYPE_CHECKING:
    import xarray as xr

Array = np.ndarray[Any, Any]

MONTHS = (9, 10, 11, 12, 1, 2, 3, 4, 5, 6)  # of a season, in order


@dataclass(frozen=True, slots=True)
class OnDay:
    """Residue on a day of the calendar.

    Parameters
    ----------
    date : str
        MM-DD.
    days : int array (fall,)
        Since termination.
    after : Dataset(year, sow, residue)
        As `simulator.season.residue_decay.follow` has it.
    soil : Dataset(year, sow, residue) or None
        As `simulator.season.until_planting.until_planting` has it, on the day of planting.
    """

    date: str
    days: Array
    after: xr.Dataset
    soil: xr.Dataset | None = None


def is_green(date: str, sowings: Sequence[str], end: str) -> bool:
    """Say whether a date lies between the first sowing and the end, so that a stand is green."""
    return min(map(order, sowings)) < order(date) < order(end)


def days_after(years: Sequence[int], end: str, date: str) -> Array:
    """Return the days from the end in each fall's season to the next such date (fall,)."""
    found = []
    for year in years:
        ended = season_day(year, end)
        spring = int(str(ended)[:4])
        on = np.datetime64(f"{spring}-{date}")
        if on < ended:
            on = np.datetime64(f"{spring + 1}-{date}")
        found.append(int((on - ended).astype(int)))
    return np.array(found)


def on_day(after: xr.Dataset, date: str, soil: xr.Dataset | None = None) -> OnDay | None:
    """Take residue on a date; None where it is not followed so far in all falls.

    Parameters
    ----------
    after : Dataset(year, sow, residue, day)
        The falls used, up to the last day that all of them have.
    date : str
        MM-DD.
    soil : Dataset(year, sow, residue), optional
        Where it is the day of planting.
    """
    import xarray

    years = after["year"].values.tolist()
    days = days_after(years, str(after.attrs["end"]), date)
    if days.max() > int(after["day"][-1]):
        return None
    falls = xarray.DataArray(np.arange(len(years)), dims="year")
    return OnDay(date, days, after.isel(year=falls, day=xarray.DataArray(days, dims="year")), soil)


def usual_dates(sowings: Sequence[str], end: str) -> list[str]:
    """Return the first of each month between the first sowing and the end, MM-DD."""
    dates = [f"{month:02d}-01" for month in MONTHS]
    return [date for date in dates if is_green(date, sowings, end)]


def green_cover(leaf_area: Array, extinction: float) -> Array:
    """Share of the ground that green leaves cover, as the model's canopy takes light.

    Parameters
    ----------
    leaf_area : array (...)
        Green leaf area index.
    extinction : float
        Of the cereal.

    References
    ----------
    `simulator.process.canopy.light_interception`.
    """
    covered = [light_interception(area, extinction) for area in leaf_area.ravel()]
    return np.array(covered).reshape(leaf_area.shape)
