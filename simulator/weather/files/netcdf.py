"""CF netCDF: variables by standard name and cell methods, or by name; units from the file.

References
----------
Eaton B et al. NetCDF Climate and Forecast (CF) Metadata Conventions, sections 3.1 (units),
3.3 (standard names), 4.4 (time) and 7.3 (cell methods).
"""

from __future__ import annotations

import warnings
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator.problems import InputError, Problem, fault, printable, shown_path, unprintable_note
from simulator.weather.files.columns import KIND, line_to, recognise
from simulator.weather.files.daily import MOST_DAYS, UNKNOWN, Column, Daily
from simulator.weather.files.dates import LATEST, OLDEST, outside_years
from simulator.weather.files.netcdf_probe import can_be_opened
from simulator.weather.files.tables.about import choose_site
from simulator.weather.record import NAMES

if TYPE_CHECKING:
    import xarray as xr

_RAIN = {
    "precipitation_amount",
    "precipitation_flux",
    "rainfall_amount",
    "rainfall_flux",
    "lwe_thickness_of_precipitation_amount",
    "lwe_precipitation_rate",
    "rainfall_rate",
    "thickness_of_rainfall_amount",
    "thickness_of_precipitation_amount",
}
_RADIATION = {
    "surface_downwelling_shortwave_flux_in_air",
    "surface_downwelling_shortwave_flux",
    "integral_wrt_time_of_surface_downwelling_shortwave_flux_in_air",
}
_WANTED = {
    "tmax": "standard_name air_temperature with cell_methods 'time: maximum', or name it tmax",
    "tmin": "standard_name air_temperature with cell_methods 'time: minimum', or name it tmin",
    "rain": "standard_name precipitation_amount or precipitation_flux, or name it rain",
}
_KEPT = ("site", "source", "invented", "changes", "filled")


def read_netcdf(path: Path, *, site: str | None) -> Daily:
    """Read daily tmax, tmin and rain of one site, and radiation if it is there.

    Parameters
    ----------
    path : Path
        The file.
    site : str or None
        Which, where the file holds several.

    Returns
    -------
    Daily
        Values as in the file, with the line to degC and mm.

    Raises
    ------
    InputError
        Not netCDF, no daily time, variables without units, several sites and none chosen.
    """
    with open_netcdf(path) as data, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return _read(data, path.name, site)


def open_netcdf(path: Path) -> xr.Dataset:
    """Open a netCDF file; its values are read when they are used.

    Raises
    ------
    InputError
        Not netCDF, or damaged.
    """
    import xarray as xr

    with path.open("rb") as start:
        classic = start.read(3) == b"CDF"
    if not classic and not can_be_opened(path):
        raise fault(
            path.name,
            "It looks like netCDF but cannot be read: it is damaged.",
            "Fetch the file anew.",
        )
    try:
        # The C library can spend a minute on the torn header of a classic file; scipy does not.
        engine = "scipy" if classic else "netcdf4"
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what matters of a calendar is said by `time_of`
            return xr.open_dataset(path, engine=engine, decode_timedelta=False)
    except Exception as error:  # the library raises many kinds for a damaged file
        raise fault(
            path.name, "It looks like netCDF but cannot be read.", "Fetch the file anew."
        ) from error


def _read(data: xr.Dataset, file: str, site: str | None) -> Daily:
    time = time_of(data, file)
    found, columns, problems = variables_of(data, file)
    chosen = _choose(data, found, str(time.dims[0]), file, site)
    written = {
        name: values_of(data, variable.isel(chosen), str(variable.name)).astype(float).reshape(-1)
        for name, variable in found.items()
    }
    about, notes = kept_of(data, _KEPT, file)
    for name in ("latitude", "longitude"):
        value = _coordinate(data, name, chosen)
        if value is not None:
            about[name] = str(value)
    if site and chosen:
        about["site"] = site
    return Daily(
        file,
        "CF netCDF",
        time.values.astype("datetime64[D]"),
        written,
        columns,
        None,
        date_form="time of CF",
        about=about,
        problems=problems,
        notes=notes,
    )


def attribute(data: xr.Dataset | xr.DataArray, key: str) -> str:
    """Return an attribute as text, which may hold several; empty where there is none."""
    value = data.attrs.get(key)
    if isinstance(value, np.ndarray | list | tuple):
        return ", ".join(map(str, np.ravel(value)))
    return "" if value is None else str(value)


def kept_of(data: xr.Dataset, keys: Iterable[str], file: str) -> tuple[dict[str, str], list[str]]:
    """Return attributes as texts that can be printed, and a note of each that could not be."""
    said = {key: text for key in keys if (text := attribute(data, key))}
    about = {key: printable(text) for key, text in said.items()}
    return about, [
        unprintable_note(f"attribute {key} of {file}")
        for key, text in said.items()
        if about[key] != text
    ]


def variables_of(
    data: xr.Dataset, file: str
) -> tuple[dict[str, xr.DataArray], dict[str, Column], list[Problem]]:
    """Find tmax, tmin and rain, and radiation if it is there, and the lines from their units.

    Returns
    -------
    dict of DataArray
        As far as found.
    dict of Column
        For each found.
    list of Problem
        What is not found, and units that are none.

    Raises
    ------
    InputError
        None of the three is there, or values are not numbers.
    """
    found = {name: variable for name in KIND if (variable := _find(data, name)) is not None}
    problems = [
        Problem(file, f"No variable is {name}.", f"Give one with {how}.")
        for name, how in _WANTED.items()
        if name not in found
    ]
    if not found.keys() & set(NAMES):
        raise InputError(problems)
    columns = {}
    for name, variable in found.items():
        unit = str(variable.attrs.get("units", ""))
        try:
            column = Column(printable(str(variable.name)), *line_to(unit, KIND[name]))
        except InputError:
            what = f"'{unit}' is not a unit of {KIND[name]}." if unit else "It has no units."
            remedy = f"Set its attribute units, such as {_UNIT[name]}."
            problems.append(Problem(f"{file}, variable '{variable.name}'", what, remedy))
            column = Column(printable(str(variable.name)), UNKNOWN)
        if variable.dtype.kind not in "iuf":
            raise fault(
                f"{file}, variable '{variable.name}'",
                "Its values are not numbers.",
                "Write them as floating-point numbers.",
            )
        columns[name] = column
    return found, columns, problems


_UNIT = {"tmax": "degC", "tmin": "degC", "rain": "mm", "radiation": "W m-2"}


def time_of(data: xr.Dataset, file: str) -> xr.DataArray:
    """Return the daily time.

    Raises
    ------
    InputError
        There is none of the standard calendar, it is too long, or a time of it is missing or
        lies outside all years that are read.
    """
    times = [
        data[name]
        for name in data.variables
        if data[name].ndim == 1
        and np.issubdtype(data[name].dtype, np.datetime64)
        and data[name].dims[0] in data[name].coords
    ]
    if not times:
        raise fault(
            file,
            "It has no time of the standard calendar.",
            "Give time with units such as 'days since 1990-01-01'; a calendar of 365 or "
            "360 days must be turned into the standard one.",
        )
    if times[0].size > MOST_DAYS:
        raise fault(file, f"It has more than {MOST_DAYS:,} times.", "Give daily values.")
    values = times[0].values
    for wrong, what in (
        (np.isnat(values), "is missing"),
        (outside_years(values), f"lies outside {OLDEST}-{LATEST}"),
    ):
        if wrong.any():
            at, count = int(np.argmax(wrong)), int(wrong.sum())
            more = f", and so for {count - 1:,} more" if count > 1 else ""
            raise fault(
                f"{file}, '{times[0].name}', value {at + 1}",
                f"The time {what}{more}.",
                "Correct the times, or cut these out.",
            )
    return times[0]


def _find(data: xr.Dataset, name: str) -> xr.DataArray | None:
    for variable in data.data_vars.values():
        standard = str(variable.attrs.get("standard_name", "")).lower()
        methods = str(variable.attrs.get("cell_methods", "")).lower()
        if name in ("rain", "radiation"):
            if standard in (_RAIN if name == "rain" else _RADIATION):
                return variable
        elif standard == "air_temperature" and f"time: {name[1:]}" in methods:
            return variable
    named = [v for v in data.data_vars.values() if recognise(str(v.name))[0] == name]
    return named[0] if named else None


def _choose(
    data: xr.Dataset, found: dict[str, xr.DataArray], time: str, file: str, site: str | None
) -> dict[Any, int]:
    """Return the index along each dimension other than time."""
    sizes = {
        dim: size
        for variable in found.values()
        for dim, size in variable.sizes.items()
        if dim != time
    }
    for variable in found.values():
        if time not in variable.dims:
            raise fault(f"{file}, variable '{variable.name}'", f"It does not run along {time}.")
    long = [dim for dim, size in sizes.items() if size != 1]
    if len(long) > 1:
        shape = " x ".join(f"{dim} {sizes[dim]}" for dim in long)
        raise fault(file, f"It holds a grid ({shape}).", "Cut one point out of it.")
    chosen: dict[Any, int] = dict.fromkeys(sizes, 0)
    for dim in long:
        names = names_along(data, str(dim))
        if not names:
            raise fault(
                file,
                f"It holds {sizes[dim]} values along '{dim}', without names.",
                "Cut one of them out.",
            )
        chosen[dim] = names.index(choose_site(names, site, file))
    return chosen


def names_along(data: xr.Dataset, dim: str) -> list[str]:
    """Return the names of what lies along a dimension; none where it has no labels."""
    labels = [
        (str(key), v)
        for key, v in data.variables.items()
        if v.dims == (dim,) and v.dtype.kind in "OUST"
    ]
    labels.sort(
        key=lambda label: (
            label[0] != dim,
            label[1].attrs.get("cf_role") != "timeseries_id",
            recognise(label[0])[0] not in ("site", "name"),
            label[0] == "soil",
        )
    )
    labels += [(dim, data[dim].variable)] if dim in data.variables else []
    if not labels or labels[0][0] == "soil":
        return []
    return [
        printable(value.decode("utf-8", "replace") if isinstance(value, bytes) else str(value))
        for value in values_of(data, labels[0][1], labels[0][0])
    ]


def values_of(
    data: xr.Dataset, variable: xr.DataArray | xr.Variable, name: str
) -> NDArray[np.generic]:
    """Return the values of a variable.

    Raises
    ------
    InputError
        They cannot be read.
    """
    try:
        return np.asarray(variable.values)
    except Exception as error:  # the libraries raise many kinds for a damaged chunk
        file = shown_path(Path(str(data.encoding.get("source", ""))).name)
        raise fault(
            f"{file}, variable '{name}'",
            "Its values cannot be read; the file is damaged.",
            "Fetch or write it anew.",
        ) from error


def _coordinate(data: xr.Dataset, name: str, chosen: dict[Any, int]) -> float | None:
    for key, variable in data.variables.items():
        if variable.attrs.get("standard_name") == name or recognise(str(key))[0] == name:
            picked = variable.isel({dim: at for dim, at in chosen.items() if dim in variable.dims})
            if picked.size == 1 and picked.dtype.kind in "iuf":
                return float(values_of(data, picked, str(key)).astype(float).reshape(-1)[0])
    given = data.attrs.get(name, data.attrs.get(f"geospatial_{name[:3]}_min"))
    try:
        return None if given is None else float(given)
    except (TypeError, ValueError):
        return None
