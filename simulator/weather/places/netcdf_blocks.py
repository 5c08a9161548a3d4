"""Places along a dimension of one netCDF file or zarr store, listed, and read many at a time."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from simulator.problems import InputError, Parameter, Problem, Text, fault, printable, shown_path
from simulator.weather.files import station_list
from simulator.weather.files.columns import recognise
from simulator.weather.files.daily import Daily
from simulator.weather.files.netcdf import (
    attribute,
    kept_of,
    names_along,
    open_netcdf,
    time_of,
    values_of,
    variables_of,
)
from simulator.weather.files.quality.control import check_quality
from simulator.weather.files.reading import NORTHERNMOST
from simulator.weather.files.station_list import longitude_east, wrong_longitude
from simulator.weather.places.place import Place, with_soil
from simulator.weather.record import NAMES, make_record

if TYPE_CHECKING:
    import xarray as xr

MOST_SITES = 1_000_000
_ZARR = (".zgroup", ".zmetadata", "zarr.json")
_KEPT = ("invented", "changes", "filled")
Values = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Block:
    """Records of places of one file, on one time.

    Parameters
    ----------
    places : tuple of Place
        Those that could be read, in the order asked for.
    time : (n,) datetime64[D]
        Every day from the first to the last.
    tmax, tmin, rain : (place, n) float
        [degC, degC, mm]; NaN where missing.
    faults : dict of Place to tuple of Problem
        Why each of the others could not.
    about : dict of str to str
        What the file says of all: ``invented``, ``changes``, ``filled``, ``source``.
    """

    places: tuple[Place, ...]
    time: NDArray[np.datetime64]
    tmax: Values
    tmin: Values
    rain: Values
    faults: dict[Place, tuple[Problem, ...]]
    about: dict[str, str] = field(default_factory=dict)

    @property
    def problems(self) -> tuple[Problem, ...]:
        """The faults of all."""
        return tuple(problem for faults in self.faults.values() for problem in faults)

    def record(self, at: int) -> xr.Dataset:
        """Return the record of one of its places, as `read_place` does."""
        place = self.places[at]
        assert place.latitude is not None  # checked when the block was read
        record = make_record(
            self.time,
            self.tmax[at],
            self.tmin[at],
            self.rain[at],
            site=place.site,
            latitude=place.latitude,
            longitude=place.longitude,
            **self.about,
        )
        return with_soil(record, place)


def is_store(path: Path) -> bool:
    """Say whether a folder is a zarr store."""
    return path.is_dir() and any((path / name).exists() for name in _ZARR)


def is_netcdf(path: Path) -> bool:
    """Say whether a file begins as netCDF does."""
    try:
        with path.open("rb") as opened:
            return opened.read(8).startswith((b"CDF\x01", b"CDF\x02", b"\x89HDF\r\n\x1a\n"))
    except OSError:
        return False


def _open(path: Path) -> xr.Dataset:
    """Open a netCDF file or a zarr store; values are read when they are used."""
    if not path.is_dir():
        return open_netcdf(path)
    import xarray as xr

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            data: xr.Dataset = xr.open_zarr(path, chunks=None, decode_timedelta=False)
            return data
    except Exception as error:  # the library raises many kinds for a damaged store
        raise fault(
            path.name, "It looks like a zarr store but cannot be opened.", "Write it anew."
        ) from error


def _variables_along(data: xr.Dataset, file: str) -> tuple[dict[str, xr.DataArray], str]:
    """Return the variables of weather and the dimension along which their places are."""
    time = str(time_of(data, file).dims[0])
    if not data.sizes[time]:
        raise fault(file, "It has no days.", "Give daily values.")
    found, _, problems = variables_of(data, file)
    if problems:
        raise InputError(problems)
    sizes: dict[str, int] = {}
    for variable in found.values():
        if time not in variable.dims:
            raise fault(f"{file}, variable '{variable.name}'", f"It does not run along {time}.")
        sizes |= {str(dim): size for dim, size in variable.sizes.items() if dim != time}
    along = [dim for dim, size in sizes.items() if size != 1 or dim == "site"]
    if len(along) > 1:
        shape = " x ".join(f"{dim} {sizes[dim]}" for dim in along)
        raise fault(file, f"It holds a grid ({shape}).", "Stack it along one dimension named site.")
    site = along[0] if along else "site"
    return {
        name: one if site in one.dims else one.expand_dims(site)
        for name, one in found.items()
        if name in NAMES
    }, site


def places_in_netcdf(path: Path, latitude: float | None) -> list[Place]:
    """List the places of a netCDF file or a zarr store; no daily values are read.

    Parameters
    ----------
    path : Path
    latitude : float or None
        [degrees north] of the places for which the file does not say it.

    Returns
    -------
    list of Place
        In the order of the file; a netCDF file of one record gives one without an index.

    Raises
    ------
    InputError
        It cannot be opened, lacks a variable or units, or holds a grid of two dimensions.
    """
    file = shown_path(path.name)
    with _open(path) as data:
        found, site = _variables_along(data, file)
        has_dimension = site in data.dims
        count = next(iter(found.values())).sizes[site]
        if not 0 < count <= MOST_SITES:
            raise fault(file, f"It holds {count:,} sites.", f"Give 1 to {MOST_SITES:,}.")
        names = names_along(data, site) if has_dimension else []
        of_file = printable(attribute(data, "site")).strip() or shown_path(path.stem)
        names = names or ([f"{site} {i}" for i in range(count)] if has_dimension else [of_file])
        north, east = (_along(data, word, site, count) for word in ("latitude", "longitude"))
        given = data.variables.get("soil")
        soils = (
            [""] * count
            if given is None or given.dims != (site,)
            else values_of(data, given, "soil")
        )
    return [
        Place(
            site=names[i].strip() or f"{site} {i}",
            source=str(path.absolute()),
            index=i if has_dimension or path.is_dir() else None,
            latitude=latitude if np.isnan(north[i]) else float(north[i]),
            longitude=None if np.isnan(east[i]) else longitude_east(float(east[i])),
            soil=printable(str(soils[i])).strip() or None,
        )
        for i in range(count)
    ]


def _along(data: xr.Dataset, name: str, site: str, count: int) -> Values:
    """Return the latitude or longitude of each place; NaN where nothing says it."""
    for key, variable in data.variables.items():
        if variable.attrs.get("standard_name") == name or recognise(str(key))[0] == name:
            if variable.dtype.kind not in "iuf":
                continue
            values = values_of(data, variable, str(key)).astype(float)
            if variable.dims == (site,):
                return values
            if values.size == 1:
                return np.full(count, float(values.reshape(-1)[0]))
    given = station_list.read_degrees(attribute(data, name))
    return np.full(count, np.nan if given is None else given)


def read_block(places: Sequence[Place]) -> Block:
    """Read places of one file or store together.

    Parameters
    ----------
    places : sequence of Place
        All of one source, each with its index; a run of neighbours is read the fastest.

    Returns
    -------
    Block
        Every place checked by itself: the same values as `read_place` gives.

    Raises
    ------
    InputError
        The file cannot be opened, or has lost its variables.
    """
    (source,) = {place.source for place in places}
    path = Path(source)
    with _open(path) as data, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return _block(data, shown_path(path.name), places)


def _block(data: xr.Dataset, file: str, places: Sequence[Place]) -> Block:
    found, site = _variables_along(data, file)
    _, columns, _ = variables_of(data, file)
    dates = time_of(data, file).values.astype("datetime64[D]")
    time = np.arange(dates.min(), dates.max() + 1)
    at = (dates - time[0]).astype(int)
    kept: list[Place] = []
    faults: dict[Place, tuple[Problem, ...]] = {}
    values = {name: np.full((len(places), time.size), np.nan) for name in NAMES}
    for place, written in zip(places, _written(found, site, places), strict=True):
        named = f"{file}, site '{place.site}'"
        if isinstance(written, Exception):
            faults[place] = (
                Problem(
                    named,
                    "Its values cannot be read; the file is damaged.",
                    "Fetch or write it anew.",
                ),
            )
            continue
        wrong = _wrong_latitude(place, named) or wrong_longitude(
            place.longitude, f"{named}, longitude"
        )
        daily = Daily(
            named, "CF netCDF", dates, written, columns, None, problems=[wrong] if wrong else []
        )
        check_quality(daily, place.latitude)
        if not wrong and not any(np.isfinite(one).any() for one in written.values()):
            daily.problems.append(Problem(named, "It has no values.", "Leave the site out."))
        if daily.problems:
            faults[place] = tuple(daily.problems)
        else:
            for name in NAMES:
                values[name][len(kept), at] = daily.values(name)
            kept.append(place)
    tmax, tmin, rain = (values[name][: len(kept)] for name in NAMES)
    about, notes = kept_of(data, (*_KEPT, "source"), file)
    said = about.get("source")
    about["source"] = f"{file} ({said})" if said else file
    if notes:
        about["notes"] = "; ".join(notes)
    return Block(tuple(kept), time, tmax, tmin, rain, faults, about)


def _wrong_latitude(place: Place, named: str) -> Problem | None:
    if place.latitude is None:
        return Problem(
            named,
            "Nothing says its latitude, which sets the length of the days.",
            Text("Give a variable latitude along the sites, or ", Parameter("latitude", 31.3), "."),
        )
    if not 0.0 <= place.latitude <= NORTHERNMOST:
        return Problem(
            f"{named}, latitude",
            f"{place.latitude:g} lies outside 0 to {NORTHERNMOST:g} degrees north.",
            "Correct it.",
        )
    return None


def _written(
    found: dict[str, xr.DataArray], site: str, places: Sequence[Place]
) -> list[dict[str, Values] | Exception]:
    """Read the values of places, as in the file; where that fails, each by itself."""
    indices = [place.index or 0 for place in places]
    run = indices == list(range(indices[0], indices[0] + len(indices)))
    chosen = slice(indices[0], indices[-1] + 1) if run else indices
    try:
        columns = {}
        for name, variable in found.items():
            values = variable.isel({site: chosen}).transpose(site, ...)  # others but time are of 1
            columns[name] = np.asarray(values.values, dtype=float).reshape(len(places), -1)
    except Exception as error:  # the libraries raise many kinds for a damaged chunk
        if len(places) == 1:
            return [error]
        return [one for place in places for one in _written(found, site, [place])]
    return [{name: columns[name][i] for name in columns} for i in range(len(places))]
