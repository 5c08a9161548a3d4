"""A file with the records of several stations, split by station and read station by station.

Each station's rows, as they stand, go into a file of their own, beside the header of all. Such a
file is read as a file of one station is, so that numbers and faults are the same, and faults still
name the row of the whole file.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from datetime import date, datetime
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

from simulator.problems import fault, shown_path
from simulator.weather.files import ghcn, text
from simulator.weather.files.daily import MOST_DAYS, Daily
from simulator.weather.files.multistation.rows import (
    Head,
    Row,
    bare_temperatures,
    cell_text,
    open_rows,
)
from simulator.weather.files.station_list import read_degrees
from simulator.weather.files.tables.reading import read_table
from simulator.weather.files.tables.rows import LOOKED_AT, MOST_COLUMNS, Rows

MOST_HELD = 16_000_000  # characters of rows held before they go to the stations' files
_HEAD_FILE = "head.json"


def split_by_station(path: Path, folder: Path, stations: Collection[str]) -> None:
    """Write the rows of each station into a file of its own, in one pass.

    Parameters
    ----------
    path : Path
        A file of which `list_stations` lists several.
    folder : Path
        Empty; the stations' files go there.
    stations : collection of str
        Those that are wanted; rows of others are passed over.

    Raises
    ------
    InputError
        It cannot be split.
    OSError
        It cannot be read, or a station's file not be written.

    Notes
    -----
    No more than `MOST_HELD` characters of rows are in memory, however large the file and in
    whatever order its rows are.
    """
    wanted = set(stations)
    held: dict[str, list[str]] = {}
    size = 0
    with open_rows(path) as file:
        if file is None:
            raise fault(
                shown_path(path.name),
                "It is no longer a table of several stations.",
                "Do not change the weather while it is read.",
            )
        head, rows = file
        looked_for = bare_temperatures(head.header)
        for row in rows:
            if looked_for and not head.decimals:
                head.decimals = any(
                    map(_has_decimals, (cell_text(row.cells, i) for i in looked_for))
                )
            if row.station in wanted:
                kept = _row_text(row, head.delimiter)
                held.setdefault(row.station, []).append(kept)
                size += len(kept)
                if size > MOST_HELD:
                    _write(folder, held)
                    size = 0
    _write(folder, held)
    (folder / _HEAD_FILE).write_text(json.dumps(asdict(head), default=_as_json), encoding="utf-8")


@contextmanager
def split_in_temporary_folder(path: Path, stations: Collection[str]) -> Iterator[Path]:
    """Split a file in a temporary folder, which is deleted at the end.

    Parameters
    ----------
    path, stations
        As in `split_by_station`.

    Yields
    ------
    Path
        The folder.

    Raises
    ------
    InputError
        It cannot be split, or not there.
    """
    with TemporaryDirectory(prefix="fallsown-") as folder:
        try:
            split_by_station(path, Path(folder), stations)
        except OSError as error:
            raise fault(
                f"temporary folder {folder}",
                f"{shown_path(path.name)} cannot be taken apart there: {error.strerror or error}.",
                "Make room there, or name another by the environment's TMPDIR.",
            ) from error
        yield Path(folder)


def _has_decimals(cell: str) -> bool:
    return "." in cell and (read_degrees(cell) or 0.0) % 1 != 0


def _row_text(row: Row, delimiter: str) -> str:
    """Return a row with its number before it: a text as it stands, cells of a sheet as JSON."""
    if row.text:
        return f"{row.number}{delimiter}{row.text}"
    return json.dumps([row.number, *row.cells], default=_as_json) + "\n"


def _as_json(cell: Any) -> Any:
    """Keep what a cell of a spreadsheet is: a date goes into a list."""
    if isinstance(cell, date):
        return [(cell.date() if isinstance(cell, datetime) else cell).isoformat()]
    return str(cell)


def _typed(cells: Sequence[Any]) -> list[Any]:
    return [date.fromisoformat(cell[0]) if isinstance(cell, list) else cell for cell in cells]


def _write(folder: Path, held: dict[str, list[str]]) -> None:
    for station, rows in held.items():
        with _station_file(folder, station).open("a", encoding="utf-8", newline="") as file:
            file.writelines(rows)
    held.clear()


def _station_file(folder: Path, station: str) -> Path:
    """Where the rows of a station are: its name may hold anything, so no file bears it."""
    return folder / hashlib.blake2b(station.encode("utf-8"), digest_size=16).hexdigest()


def read_station(
    folder: Path,
    station: str,
    *,
    units_of_file: Literal["us", "si"] | None,
    date_format: str | None,
) -> Daily:
    """Read a station of a file that was split, as a file of its own is read.

    Parameters
    ----------
    folder : Path
        From `split_by_station`.
    station : str
        One of those wanted there.
    units_of_file, date_format
        As in `reading.read_weather`.

    Returns
    -------
    Daily
        Its faults name the row of the whole file.

    Raises
    ------
    InputError
        As `read_table` and `ghcn.read_ghcn`.
    """
    head = Head(**json.loads((folder / _HEAD_FILE).read_text("utf-8")))
    named = f"{head.file}, station '{station}'"
    if not _station_file(folder, station).exists():
        raise fault(
            named, "It has no rows any more.", "Do not change the weather while it is read."
        )
    with _station_file(folder, station).open(encoding="utf-8", newline="") as file:
        if head.kind in ("fixed", "rows"):
            return ghcn.read_ghcn(_numbered(file), named, head.kind)
        of_kind = _cells_of_sheet(file) if head.kind == "sheet" else _cells_of_text(file, head)
        rows = list(islice(of_kind, MOST_DAYS + LOOKED_AT))
    cells = [cells for _, cells in rows]
    layout = head.layout or text.layout_name(head.delimiter, head.encoding, cells)
    table = Rows(
        named,
        layout,
        head.row_word,
        [*head.numbers, *(number for number, _ in rows)],
        [*map(_typed, head.cells), *cells],
        head.delimiter != ",",
        head.comments,
        head.decimals,
    )
    daily = read_table(table, units_of_file=units_of_file, date_format=date_format)
    daily.notes.extend(head.notes)
    return daily


def _numbered(lines: Iterable[str]) -> Iterator[tuple[int, str]]:
    for kept in lines:
        number, _, line = kept.rstrip("\n").partition(",")
        yield int(number), line


def _cells_of_text(lines: Iterable[str], head: Head) -> Iterator[tuple[int, list[str]]]:
    for _, row in text.parse(lines, head.delimiter, head.file, MOST_COLUMNS + 1):
        yield int(row[0]), row[1:]


def _cells_of_sheet(lines: Iterable[str]) -> Iterator[tuple[int, list[Any]]]:
    for kept in lines:
        number, *cells = json.loads(kept)
        yield number, _typed(cells)
