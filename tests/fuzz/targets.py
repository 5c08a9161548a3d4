"""What is done with a mutated file: it is read, and what was understood is held to account."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import numpy as np
import xarray as xr

from simulator.commands.shared.field_file import read_field
from simulator.parameters.files import parameters_text, read_parameters
from simulator.parameters.prices import read_prices
from simulator.problems import InputError, printable
from simulator.trials.analysis.layout import lay_out
from simulator.trials.analysis.means import analyse
from simulator.trials.observations import read_plots
from simulator.weather import places
from simulator.weather.files.checking import check_stations, check_weather
from simulator.weather.files.quality.limits import COLDEST, HOTTEST, WETTEST
from simulator.weather.files.reading import read_weather
from simulator.weather.files.record_check import checked
from simulator.weather.generator.climatology import read_climatology
from simulator.weather.year_type_files import read_kinds_file
from tests.fuzz import asking

_CUSTOMS = (None, "us", "si")


class BrokenError(AssertionError):
    """A reader took what it should have refused."""


def _hold(holds: bool, what: str) -> None:
    if not holds:
        raise BrokenError(what)


def held_record(record: xr.Dataset) -> str:
    """Say what was understood of a record; whatever is accepted must be weather of a place."""
    for key, value in record.attrs.items():
        _hold(not isinstance(value, str) or printable(value) == value, f"attribute {key}")
    _hold(0.0 <= record.attrs["latitude"] <= 66.0, "latitude")
    _hold(-180.0 <= record.attrs.get("longitude", 0.0) <= 180.0, "longitude")
    days = record["time"].values.astype("datetime64[D]")
    _hold(bool((np.diff(days).astype(int) == 1).all()), "days")
    _hold(1750 <= int(str(days[0])[:4]) <= int(str(days[-1])[:4]) <= 2200, "years")
    for name, low, high in (
        ("tmax", COLDEST, HOTTEST),
        ("tmin", COLDEST, HOTTEST),
        ("rain", 0.0, WETTEST),
    ):
        known = record[name].values[~np.isnan(record[name].values)]
        _hold(bool(((known >= low) & (known <= high)).all()), name)
    checked(record)
    doubts = record.attrs.get("doubts", "")
    return f"{record.attrs['site'][:20]}, {days.size} days{', doubts' if doubts else ''}"


def _weather(path: Path) -> str:
    check = check_weather(str(path), need_latitude=False)
    try:
        said = held_record(read_weather(path, latitude=33.0, units_of_file="si"))
    finally:
        check_stations(str(path), need_latitude=False)
    return f"{said}, {len(check.problems)} problems"


def _places(path: Path) -> str:
    found, problems = places.find_places(path, latitude=33.0)
    read = [record for _, record in places.read_places(found[:10])]
    said = [held_record(record) for record in read if isinstance(record, xr.Dataset)]
    if not said:
        raise InputError(
            [*problems, *(p for r in read if isinstance(r, InputError) for p in r.problems)]
        )
    return f"{len(said)} of {len(found)} places, {len(problems)} problems: {said[0]}"


def _plots(path: Path) -> str:
    plots = read_plots(path, with_own=True)
    with suppress(InputError):
        analyse(lay_out(plots))
    for text in (*plots.sites, *plots.notes, *map(str, plots.doubts)):
        _hold(printable(text) == text, f"text {text!r}")
    plots.plots()
    return f"{len(plots.table)} rows of {len(plots.sites)} sites"


def _parameters(path: Path) -> str:
    file = read_parameters(path)
    parameters_text(file)
    return f"{len(file.changes())} changes"


def _field(path: Path) -> str:
    field = read_field(path)
    for text in (field.name, *field.notes):
        _hold(printable(text) == text, f"text {text!r}")
    return f"{len(field)} of {len(field) + len(field.more)} keys"


TARGETS: dict[str, Callable[[Path], str]] = {
    "table": _weather,
    "ghcn": _weather,
    "stations": _places,
    "spreadsheet": _weather,
    "netcdf": _weather,
    "many sites": _places,
    "folder": _places,
    "plots": _plots,
    "parameters": _parameters,
    "prices": lambda path: f"prices of {read_prices(path).date}",
    "field": _field,
    "climatology": lambda path: f"climatology of {read_climatology(path).site[:20]}",
    "kinds": lambda path: f"{len(read_kinds_file(path))} years",
    **asking.TARGETS,
}


def read(reader: str, path: Path) -> str:
    """Read a mutated input, and say what was understood.

    Raises
    ------
    InputError
        It was refused, as it may be.
    Exception
        Anything else is a fault of ours.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return TARGETS[reader](path)
        except InputError as error:
            text = error.text()
            text.encode()
            _hold(printable(text) == text, "message")
            raise
