"""A grid of many places, place by place, as `simulator.season.compare.compare` gives one place."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator.parameters import soils
from simulator.season.grid.batch import INVENTED
from simulator.weather.places import Place

if TYPE_CHECKING:
    import xarray as xr

_NOTES = re.compile(rf"({INVENTED})? ?(?:Filled: (.*?)\.)? ?(The soil starts .*)?", re.DOTALL)


def without_season(grid: xr.Dataset) -> NDArray[np.bool_]:
    """Say of each place of a grid whether no season could run there."""
    field = grid[next(iter(grid.data_vars))]
    empty: NDArray[np.bool_] = field.isnull().all(field.dims[1:]).values
    return empty


def each_place(
    grid: xr.Dataset,
    places: Sequence[Place],
    soil_of: Callable[[str], soils.Soil] = soils.soil,
) -> Iterator[xr.Dataset | None]:
    """Take a grid apart, reading a part of it at a time.

    Parameters
    ----------
    grid : Dataset(site, year, ...)
        From `simulator.season.grid.run_grid`.
    places : sequence of Place
        Those of the grid, in its order.
    soil_of : callable
        Finds the soil that a place names.

    Yields
    ------
    Dataset(year, ...) or None
        The grid's fields at each place, with the attributes that `compare` gives, for the falls
        that could run there; None where none could. A fall before the first or after the last of
        a place is not among its ``left_out``: other places have longer records.
    """
    at_once = grid.chunksizes["site"][0]
    for first in range(0, len(places), at_once):
        block = grid.isel(site=slice(first, first + at_once)).load()
        empty = without_season(block)
        for row, place in enumerate(places[first : first + at_once]):
            yield None if empty[row] else _grid_of_place(block, row, place, soil_of)


def _grid_of_place(
    block: xr.Dataset, row: int, place: Place, soil_of: Callable[[str], soils.Soil]
) -> xr.Dataset:
    import xarray as xr

    values = {name: str(block[name].values[row]) for name in ("left_out", "notes", "soil")}
    gone = {int(reason[:4]): reason for reason in values["left_out"].split("; ") if reason}
    years = block["year"].values
    ran = np.array([year not in gone for year in years])
    first, last = years[ran][[0, -1]]
    invented, filled, late = _matched(values["notes"])
    about: dict[str, Any] = {
        "site": place.site,
        "latitude": place.latitude,
        "longitude": place.longitude,
        "source": Path(place.source).name,
        "invented": "yes" if invented else "no",
        "changes": "",
        "filled": filled,
        **{name: block.attrs[name] for name in ("cereal", "previous_crop", "fertilizer")},
        "soil": soil_of(values["soil"]).name,
        "notes": [late] if late else [],
        "left_out": [reason for year, reason in gone.items() if first < year < last],
    }
    dimensions = next(iter(block.data_vars.values())).dims[1:]
    return xr.Dataset(
        {name: (dimensions, field.values[row][ran]) for name, field in block.data_vars.items()},
        {name: years[ran] if name == "year" else block[name].values for name in dimensions},
        {name: value for name, value in about.items() if value is not None},
    )


def _matched(notes: str) -> tuple[str, ...]:
    """Part what a grid notes of a place: that it is invented, what was filled, a late start."""
    found = _NOTES.fullmatch(notes)
    assert found is not None, notes
    return tuple(text or "" for text in found.groups())
