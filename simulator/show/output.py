"""Answers as JSON, CSV and netCDF: the same names, units and provenance, always SI."""

from __future__ import annotations

import json
import math
import os
import tempfile
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.problems import Parameter, fault, shown_path
from simulator.season.cases import CHANGED, RECORDED
from simulator.show.csv_table import table_text

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

SUFFIXES = (".csv", ".nc")

# fields that are coordinates or labels: unit, meaning
_LABELS = {
    "line": ("", "line or row of the plot table"),
    "site": ("", "name of the place"),
    "latitude": ("degrees_north", "latitude"),
    "longitude": ("degrees_east", "longitude"),
    "year": ("1", "fall year, in which the stand is sown"),
    "date": ("", "day"),
    "cereal": ("", "cereal"),
    "variety": ("", "early, medium or late, or days against a medium variety"),
    "soil": ("", "soil texture"),
    "sow": ("", "sowing date, month-day"),
    "seeding_kg_ha": ("kg/ha", "seeding rate"),
    "nitrogen_kg_ha": ("kg/ha", "nitrogen rate"),
    "nitrogen_timing": ("", "when the nitrogen goes on"),
    "end": ("", "when the stand is ended"),
    "case": ("", "weather as recorded or changed"),
    "base_degC": ("degC", "lower threshold"),
    "counted_by": ("", "method of counting thermal time"),
}
# dimension of a grid -> field of a row
FIELD_OF_DIMENSION = {
    "seeding": "seeding_kg_ha",
    "nitrogen": "nitrogen_kg_ha",
    "base": "base_degC",
}
# what every row repeats from the attributes of a grid or a season
_PLACED_ON_ROWS = (
    "site",
    "year",
    "cereal",
    "soil",
    "sow",
    "seeding_kg_ha",
    "nitrogen_kg_ha",
    "nitrogen_timing",
    "end",
)
# variables of a row that stands for a season
ROW_VARIABLES = (
    "biomass_kg_ha",
    "nitrogen_uptake_kg_ha",
    "nitrogen_percent",
    "carbon_to_nitrogen",
    "nitrate_leached_kg_ha",
    "drainage_mm",
    "runoff_mm",
    "rain_mm",
    "thermal_time_degC_d",
    "growth_stage_zadoks",
    "leaf_area_index",
    "stand_alive",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a command has to say, apart from its tables.

    Parameters
    ----------
    command, version : str
        Name of the command; version that answers.
    line : str
        The command line as written.
    inputs : dict
        Everything the answer rests on: weather, site, soil, plan.
    data : Dataset
        The numbers, SI, with ``units`` and ``long_name`` on each variable.
    rows : list of dict
        The same as rows, NaN as None.
    cautions, left_out, notes : list of str
        As sentences.
    sentences : list of str
        What the numbers mean.
    more : dict
        What else the JSON object carries; what takes long to lay out, as a function that does so.
    """

    command: str
    version: str
    line: str
    inputs: dict[str, Any]
    data: xr.Dataset
    rows: list[dict[str, Any]]
    cautions: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    sentences: list[str] = field(default_factory=list)
    more: dict[str, Any] = field(default_factory=dict)

    def carried(self) -> dict[str, Any]:
        """Return what else the JSON object carries, laid out."""
        return {key: value() if callable(value) else value for key, value in self.more.items()}


def plain(value: Any) -> Any:
    """Turn a value of numpy into one of Python; NaN and infinity into None, days into text."""
    if hasattr(value, "dtype"):
        if value.dtype.kind == "M":
            return str(value.astype("datetime64[D]"))
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def plain_list(values: NDArray[Any]) -> list[Any]:
    """Turn an array into a list, each value as `plain` does, in a tenth of its time."""
    import numpy as np

    if values.dtype.kind not in "fbiuU":
        return [plain(value) for value in values]
    made: list[Any] = values.tolist()
    if values.dtype.kind != "f" or np.isfinite(values).all():
        return made
    return [value if math.isfinite(value) else None for value in made]


def grid_rows(grid: xr.Dataset) -> list[dict[str, Any]]:
    """Lay a grid out as rows, one for each case.

    Parameters
    ----------
    grid : Dataset
        Of any dimensions, its coordinates labels of the rows.

    Returns
    -------
    list of dict
        Labels first in the order of interface (site, year, cereal, ...), then the variables;
        the last dimension runs fastest.
    """
    import numpy as np

    sizes = [grid.sizes[dimension] for dimension in grid.dims]
    places = np.indices(sizes).reshape(len(sizes), -1)
    columns: dict[str, list[Any]] = {}
    count = places.shape[1]
    for name in _PLACED_ON_ROWS:
        if name in grid.attrs:
            columns[name] = [grid.attrs[name]] * count
    if "cereal" in grid.attrs and "case" not in grid.dims:
        columns["case"] = [CHANGED if grid.attrs.get("changes") else RECORDED] * count
    for dimension, place in zip(map(str, grid.dims), places, strict=True):
        labels = plain_list(grid[dimension].values)
        name = FIELD_OF_DIMENSION.get(dimension, dimension)
        columns["date" if name == "time" else name] = [labels[at] for at in place]
        for key, beside in grid.coords.items():  # such as the latitude of each site
            if beside.dims == (dimension,) and key != dimension:
                known = plain_list(beside.values)
                columns[str(key)] = [known[at] for at in place]
    ordered = {name: columns[name] for name in _LABELS if name in columns}
    ordered.update(columns)
    for name in map(str, grid.data_vars):
        variable = grid[name]
        values = variable.transpose(*grid.dims).values.ravel()
        yes_no = values.dtype.kind == "b" or name == "stand_alive"
        column = plain_list(values)
        ordered[name] = [None if v is None else bool(v) for v in column] if yes_no else column
    names = list(ordered)
    return [dict(zip(names, row, strict=True)) for row in zip(*ordered.values(), strict=True)]


def units_of(answer: Answer) -> dict[str, str]:
    """Return the unit of each field of an answer's rows; empty text for labels."""
    fields = answer.rows[0] if answer.rows else {}
    found = {}
    for name in fields:
        if name in _LABELS:
            found[name] = _LABELS[name][0]
        elif name in answer.data:
            found[name] = str(answer.data[name].attrs.get("units", ""))
        else:
            found[name] = ""
    return found


def json_text(answer: Answer) -> str:
    """Return the answer as one JSON object, ASCII, without NaN."""
    return json.dumps(
        {
            "command": answer.command,
            "version": answer.version,
            "inputs": answer.inputs,
            "units": units_of(answer),
            "cautions": answer.cautions,
            "rows": answer.rows,
            "left_out": answer.left_out,
            "notes": answer.notes,
            "sentences": answer.sentences,
            **answer.carried(),
        },
        indent=1,
        allow_nan=False,
    )


def check_destination(
    path: Path | None,
    *,
    inputs: Iterable[str | Path | None] = (),
    option: str = Parameter("out"),
    suffixes: Sequence[str] = SUFFIXES,
    called: str = "the weather file",
) -> None:
    """Refuse a file that could not be written, before anything is run.

    Parameters
    ----------
    path : Path or None
        Where the option points; None is fine.
    inputs : iterable of path
        Files that must not be written over.
    option : str
        Its name, for the message.
    suffixes : sequence of str
        Endings that can be written.
    called : str
        What the inputs are, for the message.

    Raises
    ------
    InputError
        An unknown suffix, a missing or closed folder, a folder in place of a file, or one of
        the inputs.
    """
    if path is None:
        return
    endings = " or ".join(filter(None, [", ".join(suffixes[:-1]), suffixes[-1]]))
    try:
        path.lstat()
        path.resolve()
    except FileNotFoundError:
        pass
    except RuntimeError as error:
        raise fault(
            option, f"'{path}' is a link that leads back to itself.", "Name another."
        ) from error
    except (OSError, ValueError) as error:  # a name too long, a folder that is a file, a loop
        why = getattr(error, "strerror", None) or error
        raise fault(option, f"'{path}' cannot be written: {why}.", "Name another.") from error
    if path.is_dir():
        raise fault(option, f"'{path}' is a folder.", f"Name a file in it, ending in {endings}.")
    if path.suffix.lower() not in suffixes:
        raise fault(
            option,
            f"'{path.name}' does not end in {endings}.",
            "Give the file one of these endings.",
        )
    folder = path.resolve().parent
    if not folder.is_dir():
        raise fault(
            option, f"There is no folder '{path.parent}'.", "Make it first, or name another."
        )
    if not os.access(folder, os.W_OK):
        raise fault(option, f"The folder '{path.parent}' cannot be written to.", "Name another.")
    for given in inputs:
        if given is not None and Path(given).exists() and path.exists() and path.samefile(given):
            raise fault(option, f"'{path}' is {called} itself.", "Name another file.")


def write(answer: Answer, path: Path) -> None:
    """Write the rows of an answer as .csv, or its data as .nc, whole or not at all.

    Raises
    ------
    InputError
        As `check_destination`, and where the disk refuses.
    """
    check_destination(path)
    if path.suffix.lower() == ".csv":
        text = csv_text(answer)
        write_whole(path, lambda made: made.write_text(text, encoding="utf-8", newline=""))
    else:
        data = netcdf_form(answer)
        write_whole(path, lambda made: data.to_netcdf(made, engine="netcdf4"))


def write_whole(
    path: Path, fill: Callable[[Path], object], *, option: str = Parameter("out")
) -> None:
    """Fill a file beside the one wanted and put it in its place when it is done.

    Parameters
    ----------
    path : Path
        The file wanted.
    fill : callable
        Writes to the path it is given.
    option : str
        Names the file, for the message.

    Raises
    ------
    InputError
        The disk refuses.
    """
    target = path.resolve()
    try:
        descriptor, name = tempfile.mkstemp(prefix=".", suffix=target.suffix, dir=target.parent)
        os.close(descriptor)
    except OSError as error:
        raise fault(option, f"'{path}' cannot be written: {error.strerror}.") from error
    made = Path(name)
    try:
        fill(made)
        mask = os.umask(0)
        os.umask(mask)
        made.chmod(target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~mask)
        made.replace(target)
    except OSError as error:
        raise fault(option, f"'{path}' cannot be written: {error.strerror or error}.") from error
    finally:
        made.unlink(missing_ok=True)


def provenance(answer: Answer) -> dict[str, str]:
    """Return what a file says of its origin, as texts, none empty."""
    about: dict[str, str] = {"made_by": f"fallsown {answer.version}", "command_line": answer.line}
    for name, value in answer.inputs.items():
        if value not in (None, "", [], {}):
            values = value if isinstance(value, list) else [value]
            if isinstance(value, dict):  # by site
                values = [f"{key}: {each}" for key, each in value.items()]
            about[name] = shown_path(
                ", ".join(f"{v:.8g}" if isinstance(v, float) else str(v) for v in values)
            )
    for name, texts in (
        ("left_out", answer.left_out),
        ("notes", answer.notes),
        ("cautions", answer.cautions),
    ):
        if texts:
            about[name] = shown_path(" | ".join(texts))
    return about


def csv_text(answer: Answer) -> str:
    """Return the rows as CSV: comment lines of provenance, a header, one line a row."""
    units = [f"{name} [{unit}]" for name, unit in units_of(answer).items() if unit]
    return table_text({**provenance(answer), "units": ", ".join(units)}, answer.rows)


def netcdf_form(answer: Answer) -> xr.Dataset:
    """Return the data as netCDF takes it: CF attributes, coordinates named as the rows are."""
    import numpy as np

    data = answer.data.copy()
    data.attrs = {
        "Conventions": "CF-1.10",
        "title": f"fallsown {answer.command}",
        "history": f"{answer.line} (fallsown {answer.version})",
        **provenance(answer),
    }
    data = data.rename({old: new for old, new in FIELD_OF_DIMENSION.items() if old in data.dims})
    for name, (unit, meaning) in _LABELS.items():
        if name in data.coords:
            data[name].attrs.setdefault("long_name", meaning)
            if unit:
                data[name].attrs.setdefault("units", unit)
    for name in map(str, list(data.data_vars)):
        if data[name].dtype.kind == "b":
            data[name] = data[name].astype(np.int8).assign_attrs(data[name].attrs)
    return data
