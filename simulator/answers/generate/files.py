"""A generated record as a weather file that reads back to the same bits."""

from __future__ import annotations

import io
from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator import __version__
from simulator.problems import shown_path
from simulator.show.output import write_whole
from simulator.weather.record import NAMES

if TYPE_CHECKING:
    import xarray as xr

_READ_BACK = ("site", "latitude", "longitude", "invented", "source")
LONGEST = 400  # characters of a line of provenance that is read back


def write_record(record: xr.Dataset, path: Path, command: str) -> None:
    """Write a record as .csv or .nc, whole or not at all.

    Parameters
    ----------
    record : Dataset
    path : Path
        Its suffix says which.
    command : str
        The command line, for provenance.

    Raises
    ------
    InputError
        The disk refuses.
    """
    if path.suffix.lower() == ".csv":
        text = csv_text(record, command)
        write_whole(path, lambda made: made.write_text(text, encoding="utf-8", newline=""))
        return
    data = record.copy()
    data.attrs = {
        "Conventions": "CF-1.10",
        "title": f"Daily weather, {record.attrs['site']}",
        "history": f"{command} (fallsown {__version__})",
        **{
            name: shown_path(value) if isinstance(value, str) else value
            for name, value in _attributes(record).items()
        },
    }
    write_whole(path, lambda made: data.to_netcdf(made, engine="netcdf4"))


def csv_text(record: xr.Dataset, command: str) -> str:
    """Return a record as CSV; each number has the digits that give its bits back."""
    out = io.StringIO()
    attributes = _attributes(record)
    about = {name: attributes[name] for name in _READ_BACK if name in attributes}
    about |= {"made_by": f"fallsown {__version__}", "command_line": command}
    if "notes" in attributes:
        about["notes"] = attributes["notes"]
    for name, value in about.items():
        line = " ".join(shown_path(str(value)).split())
        # only what is read back is held to the length that is read
        out.write(f"# {name}: {line[:LONGEST] if name in _READ_BACK else line}\n")
    out.write("date,tmax (degC),tmin (degC),rain (mm)\n")
    days = record["time"].values.astype("datetime64[D]").astype(str).tolist()
    columns = [
        ["" if isnan(value) else repr(value) for value in record[name].values.tolist()]
        for name in NAMES
    ]
    out.writelines(f"{','.join(row)}\n" for row in zip(days, *columns, strict=True))
    return out.getvalue()


def _attributes(record: xr.Dataset) -> dict[str, Any]:
    """Return what a record says of itself, without what it does not know."""
    known = {name: value for name, value in record.attrs.items() if value not in (None, "")}
    return {
        str(name): value
        for name, value in known.items()
        if not (isinstance(value, float) and isnan(value))
    }
