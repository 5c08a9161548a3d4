"""The weather that options name, or that Python hands over."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared.measured import as_watered
from simulator.commands.shared.skip_dask_arrays import skip_dask_arrays
from simulator.problems import InputError, Parameter, Problem, Text, fault

if TYPE_CHECKING:
    import xarray as xr

RECORD = "fallsown.record"  # weather that is given as it is, not to be read
RECORDS = "fallsown.records"  # the same by site


def load_weather(
    weather: str | None, *, need_latitude: bool = True, **about_file: Any
) -> xr.Dataset:
    """Read the weather that ``--weather`` names: a file, or a packaged sample.

    Parameters
    ----------
    weather : str or None
        None is the default sample.
    need_latitude : bool
        Whether the question needs the latitude.
    **about_file
        The options of `options.ABOUT_FILE`; for files only.

    Returns
    -------
    Dataset
        The record, irrigated as ``--irrigation`` says.

    Raises
    ------
    InputError
        Neither a file nor a sample; what `read_weather` finds; options that only a file takes
        given with a sample.
    """
    return as_watered(_load(weather, need_latitude=need_latitude, **about_file))


def _load(weather: str | None, *, need_latitude: bool, **about_file: Any) -> xr.Dataset:
    """Read the weather as it is."""
    if (given_record := record_given()) is not None:
        return given_record
    skip_dask_arrays()
    if weather is not None and (os.path.exists(weather) or looks_like_file(weather)):
        return _read_file(weather, need_latitude=need_latitude, **about_file)
    record = _sample(weather)
    given = [Parameter(name) for name, value in about_file.items() if value is not None]
    if given:
        raise InputError(
            [
                Problem(
                    option,
                    "This option describes a file, but the weather is a sample.",
                    Text("Leave it out, or name a file with ", Parameter("weather"), "."),
                )
                for option in given
            ]
        )
    return record


def record_given() -> xr.Dataset | None:
    """Return the record that Python hands over in place of what ``--weather`` names."""
    context = click.get_current_context(silent=True)
    record: xr.Dataset | None = None if context is None else context.meta.get(RECORD)
    return record


def records_given() -> dict[str, xr.Dataset] | None:
    """Return the records by site that Python hands over in place of ``--weather SITE=FILE``."""
    records: dict[str, xr.Dataset] | None = click.get_current_context().meta.get(RECORDS)
    return records


def _read_file(weather: str, **about_file: Any) -> xr.Dataset:
    """Read a file; keep its units, and say where it deserves a look."""
    from simulator.weather.files.reading import to_record, understand

    read = understand(weather, **about_file)
    if read.daily.problems:
        raise InputError(read.daily.problems)
    record = to_record(read)
    record.attrs["units_of_file"] = "us" if read.daily.columns["tmax"].unit == "degF" else "si"
    if doubts := len(read.daily.doubts):
        place = (", latitude", ", longitude")  # another place than the file's is told in full
        moved = [str(one).rstrip(".") for one in read.daily.doubts if one.where.endswith(place)]
        text = f"'fallsown check {weather}' has {doubts} {'doubt' if doubts == 1 else 'doubts'}."
        record.attrs["notes"] = "; ".join(filter(None, [record.attrs.get("notes"), *moved, text]))
    return record


def looks_like_file(weather: str) -> bool:
    """Say whether a text is the path of a file, and not the name of a sample."""
    return Path(weather).suffix != "" or "/" in weather or "\\" in weather


def _sample(name: str | None) -> xr.Dataset:
    from simulator.weather.samples import sample_weather, samples

    try:
        return sample_weather(name)
    except InputError as error:
        raise fault(
            Parameter("weather"),
            f"'{name}' is neither a file nor a packaged sample.",
            f"Give the path of a file, or one of {', '.join(samples())}.",
        ) from error
