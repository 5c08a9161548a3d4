"""One file with the records of many stations: listed in one pass, taken apart in another.

A climate archive hands out what was asked for as one table with a row for each day of each
station, by station or by day. Each station's rows, as they stand, go into a piece of their own,
beside the header of all. A piece is read as a file of one station is, so that numbers and faults
are those of such a file, and faults still name the row of the whole.

References
----------
National Centers for Environmental Information, Climate Data Online, Daily Summaries of GHCN-Daily
as a table: STATION, NAME, LATITUDE, LONGITUDE, ELEVATION, DATE, then the elements, PRCP, TMAX and
TMIN among them, each with its ``_ATTRIBUTES`` if wanted. Menne et al. 2012, as in `ghcn`, for its
fixed-width layout and its rows of elements.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field, replace
from datetime import date, datetime
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

from simulator.problems import InputError, Problem, fault, shown_path
from simulator.weather.files import ghcn, text
from simulator.weather.files.daily import MOST_DAYS, Daily
from simulator.weather.files.station_list import longitude_east, read_degrees
from simulator.weather.files.station_rows import (
    Head,
    Row,
    bare_temperatures,
    cell_text,
    column_of_stations,
    opened,
)
from simulator.weather.files.tables.about import choose_site, columns_about, read_about
from simulator.weather.files.tables.reading import read_table
from simulator.weather.files.tables.rows import LOOKED_AT, MOST_COLUMNS, Rows, lines_above

MOST_STATIONS = 100_000
HELD = 16_000_000  # characters of rows held before they go to their pieces
_HEAD = "head.json"
_STRAYS_NAMED = 5


@dataclass(frozen=True, slots=True)
class Listed:
    """A station of a file, as its first row has it.

    Parameters
    ----------
    station : str
        What tells its rows from those of others: its identifier, else its name.
    site : str
        Name to show.
    latitude, longitude : float or None
        [degrees north, degrees east]; None where the file does not say.
    soil : str or None
        Texture, if given.
    """

    station: str
    site: str
    latitude: float | None = None
    longitude: float | None = None
    soil: str | None = None


@dataclass(slots=True)
class _Strays:
    """Rows that belong to no station: how many, and where the first few are."""

    head: Head
    first: list[int] = field(default_factory=list)
    count: int = 0

    def add(self, number: int) -> None:
        self.count += 1
        if len(self.first) < _STRAYS_NAMED:
            self.first.append(number)

    def problems(self) -> tuple[Problem, ...]:
        if not self.count:
            return ()
        where = f"{self.head.file}, {self.head.row_word} {self.first[0]}"
        what = "It is no line of GHCN-Daily."
        at = column_of_stations(self.head.header)
        if at is not None:
            where, what = f"{where}, column '{self.head.header[at]}'", "It is blank."
        if self.count > 1:
            others = ", ".join(map(str, self.first[1:]))
            dots = " ..." if self.count > _STRAYS_NAMED else ""
            what += f" So in {self.count - 1:,} more: {self.head.row_word} {others}{dots}."
        return (
            Problem(
                where, what, "What belongs to no station is left out: mend it, or take it out."
            ),
        )


def stations_in(path: Path) -> tuple[tuple[Listed, ...], tuple[Problem, ...]] | None:
    """List the stations of a file in one pass.

    Parameters
    ----------
    path : Path
        A table of text or spreadsheet, or GHCN-Daily in any of its layouts.

    Returns
    -------
    tuple of Listed
        In the order in which they first stand in the file; two of one name are told apart by
        their identifiers.
    tuple of Problem
        Rows that belong to none.
    None
        In place of both: it has the record of one station, or is something else; what is wrong
        with such a file is told when it is read.

    Raises
    ------
    InputError
        It has several stations, and cannot be taken apart.
    """
    found: dict[str, Listed] = {}
    try:
        with opened(path) as file:
            if file is None:
                return None
            head, rows = file
            columns = columns_about(head.header)
            strays = _Strays(head)
            for row in rows:
                if not row.station:
                    strays.add(row.number)
                elif row.station not in found:
                    found[row.station] = _listed(row, columns)
                    if len(found) > MOST_STATIONS:
                        raise fault(
                            head.file,
                            f"It has over {MOST_STATIONS:,} stations.",
                            "Take it apart into several files.",
                        )
    except OSError:
        return None
    except InputError:
        if len(found) > 1:
            raise
        return None
    if len(found) < 2:
        return None
    return tuple(_told_apart([_filled(one, head) for one in found.values()])), strays.problems()


def _listed(row: Row, columns: Mapping[str, int]) -> Listed:
    said = {role: cell_text(row.cells, at) for role, at in columns.items()}
    return Listed(
        row.station, said.get("name") or row.station, *_degrees(said), soil=said.get("soil") or None
    )


def _degrees(said: Mapping[str, str]) -> tuple[float | None, float | None]:
    """Return latitude and longitude as far as they are told."""
    north, east = (
        read_degrees(said.get(name, "").replace("\u2212", "-"))
        for name in ("latitude", "longitude")
    )
    return north, None if east is None else longitude_east(east)


def _filled(one: Listed, head: Head) -> Listed:
    """Give a station what lines above the header say of all."""
    north, east = _degrees(read_about([*head.comments, *lines_above(head.cells[:-1])]))
    return replace(
        one,
        latitude=north if one.latitude is None else one.latitude,
        longitude=east if one.longitude is None else one.longitude,
    )


def _told_apart(found: Sequence[Listed]) -> Iterator[Listed]:
    count = Counter(one.site for one in found)
    for one in found:
        twice = count[one.site] > 1 and one.site != one.station
        yield replace(one, site=f"{one.site} ({one.station})") if twice else one


def choose(listed: Sequence[Listed], wanted: str | None, file: str) -> str:
    """Return the station asked for, by its identifier or its name.

    Raises
    ------
    InputError
        None was asked for, or there is none such.
    """
    names = sorted(one.station for one in listed)
    by_name = {one.site: one.station for one in listed}
    if wanted is not None and wanted not in names and wanted in by_name:
        return by_name[wanted]
    return choose_site(names, wanted, file)


def take_apart(path: Path, folder: Path, stations: Collection[str]) -> None:
    """Write the rows of each station into a piece of its own, in one pass through a file.

    Parameters
    ----------
    path : Path
        A file of which `stations_in` lists several.
    folder : Path
        Empty; the pieces go there.
    stations : collection of str
        Those that are wanted; rows of others are passed over.

    Raises
    ------
    InputError
        It cannot be taken apart.
    OSError
        It cannot be read, or a piece not be written.

    Notes
    -----
    No more than `HELD` characters of rows are in memory, however large the file and in whatever
    order its rows are.
    """
    wanted = set(stations)
    held: dict[str, list[str]] = {}
    size = 0
    with opened(path) as file:
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
                kept = _kept(row, head.delimiter)
                held.setdefault(row.station, []).append(kept)
                size += len(kept)
                if size > HELD:
                    _write(folder, held)
                    size = 0
    _write(folder, held)
    (folder / _HEAD).write_text(json.dumps(asdict(head), default=_plain), encoding="utf-8")


@contextmanager
def taken_apart(path: Path, stations: Collection[str]) -> Iterator[Path]:
    """Take a file apart in a temporary folder, which goes again.

    Parameters
    ----------
    path, stations
        As in `take_apart`.

    Yields
    ------
    Path
        The folder.

    Raises
    ------
    InputError
        It cannot be taken apart, or not there.
    """
    with TemporaryDirectory(prefix="fallsown-") as folder:
        try:
            take_apart(path, Path(folder), stations)
        except OSError as error:
            raise fault(
                f"temporary folder {folder}",
                f"{shown_path(path.name)} cannot be taken apart there: {error.strerror or error}.",
                "Make room there, or name another by the environment's TMPDIR.",
            ) from error
        yield Path(folder)


def _has_decimals(cell: str) -> bool:
    return "." in cell and (read_degrees(cell) or 0.0) % 1 != 0


def _kept(row: Row, delimiter: str) -> str:
    """Return a row with its number before it: a text as it stands, cells of a sheet as JSON."""
    if row.text:
        return f"{row.number}{delimiter}{row.text}"
    return json.dumps([row.number, *row.cells], default=_plain) + "\n"


def _plain(cell: Any) -> Any:
    """Keep what a cell of a spreadsheet is: a date goes into a list."""
    if isinstance(cell, date):
        return [(cell.date() if isinstance(cell, datetime) else cell).isoformat()]
    return str(cell)


def _typed(cells: Sequence[Any]) -> list[Any]:
    return [date.fromisoformat(cell[0]) if isinstance(cell, list) else cell for cell in cells]


def _write(folder: Path, held: dict[str, list[str]]) -> None:
    for station, rows in held.items():
        with _piece(folder, station).open("a", encoding="utf-8", newline="") as piece:
            piece.writelines(rows)
    held.clear()


def _piece(folder: Path, station: str) -> Path:
    """Where the rows of a station are: its name may hold anything, so no file bears it."""
    return folder / hashlib.blake2b(station.encode("utf-8"), digest_size=16).hexdigest()


def read_piece(
    folder: Path,
    station: str,
    *,
    units_of_file: Literal["us", "si"] | None,
    date_format: str | None,
) -> Daily:
    """Read a station of a file that was taken apart, as a file of its own is read.

    Parameters
    ----------
    folder : Path
        From `take_apart`.
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
        As `tables.read_table` and `ghcn.read_ghcn`.
    """
    head = Head(**json.loads((folder / _HEAD).read_text("utf-8")))
    named = f"{head.file}, station '{station}'"
    if not _piece(folder, station).exists():
        raise fault(
            named, "It has no rows any more.", "Do not change the weather while it is read."
        )
    with _piece(folder, station).open(encoding="utf-8", newline="") as piece:
        if head.kind in ("fixed", "rows"):
            return ghcn.read_ghcn(_numbered(piece), named, head.kind)
        of_kind = _cells_of_sheet(piece) if head.kind == "sheet" else _cells_of_text(piece, head)
        rows = list(islice(of_kind, MOST_DAYS + LOOKED_AT))
    cells = [cells for _, cells in rows]
    layout = head.layout or text.layout_told(head.delimiter, head.encoding, cells)
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


def _numbered(piece: Iterable[str]) -> Iterator[tuple[int, str]]:
    for kept in piece:
        number, _, line = kept.rstrip("\n").partition(",")
        yield int(number), line


def _cells_of_text(piece: Iterable[str], head: Head) -> Iterator[tuple[int, list[str]]]:
    for _, row in text.parse(piece, head.delimiter, head.file, MOST_COLUMNS + 1):
        yield int(row[0]), row[1:]


def _cells_of_sheet(piece: Iterable[str]) -> Iterator[tuple[int, list[Any]]]:
    for kept in piece:
        number, *cells = json.loads(kept)
        yield number, _typed(cells)
