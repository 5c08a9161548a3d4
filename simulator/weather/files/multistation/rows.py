"""Rows that name their station, one at a time, from a file of several stations of any kind.

However large a file is, no more of it is in memory than its first lines and the current row.
"""

from __future__ import annotations

import codecs
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from itertools import chain, islice
from pathlib import Path
from typing import Any, NamedTuple

from simulator.problems import InputError, fault, printable, shown_path, unprintable_note
from simulator.weather.files import ghcn, spreadsheet, text
from simulator.weather.files.columns import recognise
from simulator.weather.files.tables.about import columns_about
from simulator.weather.files.tables.rows import LOOKED_AT, header_of, text_of
from simulator.weather.files.tables.units import is_ghcn

MOST_BYTES = 8 * 2**30
_CHUNK = 2**20  # bytes
_MOST_COMMENTS = 200
_NOT_TEXT = bytes([*range(9), 11, *range(14, 32)])  # bytes that no text has


@dataclass(slots=True)
class Head:
    """What the rows of any station need to be read by themselves.

    Parameters
    ----------
    kind : str
        ``"text"`` or ``"sheet"``, tables; ``"fixed"`` or ``"rows"``, layouts of GHCN-Daily.
    file, layout, row_word : str
        As in `daily.Daily`; the layout of a text depends on its rows, and is left empty.
    encoding, delimiter : str
        Of a text.
    numbers, cells : list
        Rows of a table down to its header, and where they stand.
    comments : list of str
        As in `tables.Rows`; more of them may come as rows are read.
    notes : list of str
        As in `daily.Daily`.
    decimals : bool
        As `tables.Rows` has ``decimals_in_file``; known when all rows are read.
    """

    kind: str
    file: str
    row_word: str = "line"
    layout: str = ""
    encoding: str = ""
    delimiter: str = ","
    numbers: list[int] = field(default_factory=list)
    cells: list[list[Any]] = field(default_factory=list)
    comments: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    decimals: bool = False

    @property
    def header(self) -> list[str]:
        """The cells of a table's header; empty for the layouts of GHCN-Daily."""
        return [text_of(cell) for cell in self.cells[-1]] if self.cells else []


class Row(NamedTuple):
    """A row of some station.

    Parameters
    ----------
    number : int
        Line in an editor, or row in a spreadsheet.
    station : str
        Identifier or name of its station; empty where the row has none.
    cells : sequence
        Of a table.
    text : str
        As it stands in a text.
    """

    number: int
    station: str
    cells: Sequence[Any] = ()
    text: str = ""


def cell_text(cells: Sequence[Any], at: int) -> str:
    """Return what stands in a cell; nothing where a row ends before it."""
    return text_of(cells[at] if at < len(cells) else None)


def column_of_stations(header: Sequence[str]) -> int | None:
    """Return the column of stations: of their identifiers, else of their names."""
    columns = columns_about(header)
    return columns.get("site", columns.get("name"))


@contextmanager
def open_rows(path: Path) -> Iterator[tuple[Head, Iterator[Row]] | None]:
    """Open a file at its first row.

    Yields
    ------
    Head
    iterator of Row
        Rows that are not blank, in the order of the file.
    None
        In place of both, where rows do not name their station, or a quick look shows that all
        are of one.

    Raises
    ------
    InputError
        Not text, a row that cannot be split, a damaged spreadsheet; at once or at any row.
    OSError
        It cannot be read.
    """
    with path.open("rb") as packed:
        start = packed.read(4)
    file = shown_path(path.name)
    with ExitStack() as open_files:
        if start == b"PK\x03\x04":
            yield _sheet_rows(file, *open_files.enter_context(spreadsheet.opened_sheet(path)))
            return
        encoding = "utf-16" if start.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"
        with path.open(encoding=encoding, errors="replace") as lines:
            first = [line for _ in range(LOOKED_AT) if (line := lines.readline(text.LONGEST_LINE))]
        if not _names_stations(first) or _has_one_station(path, first):
            yield None
            return
        encoding = _encoding_of(path, encoding)
        notes: list[str] = []
        legible = _printable_lines(
            open_files.enter_context(path.open(encoding=encoding)), file, notes
        )
        yield _text_rows(file, legible, text.ENCODINGS[encoding], notes)


def _names_stations(first: Sequence[str]) -> bool:
    """Say whether a text is a table with a column of stations, or of GHCN-Daily."""
    if ghcn.layout_of("".join(first)):
        return True
    try:
        return column_of_stations(_header_in(first, "")[2]) is not None
    except InputError:
        return False


def _header_in(first: Sequence[str], file: str) -> tuple[str, int, list[str]]:
    """Return what stands between cells, at which row the header is, and its cells."""
    lines = ["\n" if text.comment_in(line) is not None else line for line in first]
    delimiter, at = text.delimiter_of(lines, file)
    if at is None:
        return delimiter, 0, []
    rows = islice(text.parse(lines, delimiter, file), at, at + 1)
    return delimiter, at, [cell.strip() for _, cells in rows for cell in cells]


def _has_one_station(path: Path, first: Sequence[str]) -> bool:
    """Look quickly whether every line begins with the same station; False where it may not."""
    layout, above = ghcn.layout_of("".join(first)), 0
    if layout:
        begins = next(filter(None, (ghcn.station_of(line, layout) for line in first)), "")
    else:
        delimiter, at, header = _header_in(first, "")
        rows = [line for line in first if line.strip() and text.comment_in(line) is None]
        above = at + 1
        if column_of_stations(header) != 0 or len(rows) <= above:
            return False
        cell = rows[above].partition(delimiter)[0]
        begins = "" if '"' in cell and not (cell[0] == cell[-1] == '"') else cell + delimiter
    if not begins:
        return False
    sought, tail, lines, found, returns = b"\n" + begins.encode(), b"\n", 1, 0, 0
    with path.open("rb") as file:
        for chunk in iter(lambda: file.read(_CHUNK), b""):
            data = tail + chunk
            lines += chunk.count(b"\n")
            returns += chunk.count(b"\r")
            found += data.count(sought)
            if lines - above - found > 1:  # one line may go on in the next chunk
                return False
            tail = data[1 - len(sought) :]
    return returns <= lines and found == lines - above - tail.endswith(b"\n")


def _encoding_of(path: Path, guess: str) -> str:
    """Look through a text, and say what it is written in.

    Raises
    ------
    InputError
        Too large, not text, or one that is not in lines.
    """
    if path.stat().st_size > MOST_BYTES:
        raise fault(
            path.name,
            f"It is larger than {MOST_BYTES // 2**30} GB.",
            "Take it apart into several files.",
        )
    if guess == "utf-16":
        return guess
    decoder = codecs.getincrementaldecoder("utf-8")()
    with path.open("rb") as file:
        for chunk in iter(lambda: file.read(_CHUNK), b""):
            if len(chunk.translate(None, _NOT_TEXT)) < len(chunk):
                raise text.not_text(path.name)
            if len(chunk) == _CHUNK and b"\n" not in chunk and b"\r" not in chunk:
                raise fault(path.name, "It is not in lines.", "Give a table with one row a day.")
            if guess != "latin-1":
                try:
                    decoder.decode(chunk)
                except UnicodeDecodeError:
                    guess = "latin-1"
    return guess


def _printable_lines(lines: Iterable[str], file: str, notes: list[str]) -> Iterator[str]:
    """Pass lines on that are of a table's length and are text; note what cannot be printed."""
    try:
        for number, line in enumerate(lines, start=1):
            if len(line) > text.LONGEST_LINE:
                raise text.too_long(file, number, line)
            plain = printable(line)
            if plain != line and not notes:
                notes.append(unprintable_note(f"line {number} of {file}"))
            yield plain
    except UnicodeDecodeError as error:
        raise text.not_text(file) from error


def _text_rows(
    file: str, lines: Iterator[str], encoding: str, notes: list[str]
) -> tuple[Head, Iterator[Row]] | None:
    first = list(islice(lines, LOOKED_AT))
    lines = chain(first, lines)
    if layout := ghcn.layout_of("".join(first)):
        return Head(layout, file), (
            Row(number, ghcn.station_of(line, layout), text=_with_line_feed(line))
            for number, line in enumerate(lines, start=1)
            if line.strip() and not ghcn.is_header(line, number, layout)
        )
    delimiter, at, header = _header_in(first, file)
    column = column_of_stations(header)
    if column is None:
        return None
    head = Head("text", file, encoding=encoding, delimiter=delimiter, notes=notes)
    taken: list[str] = []  # lines of the current row
    split = text.parse(_without_comments(lines, head, taken), delimiter, file)
    for number, cells in islice(split, at + 1):
        head.numbers.append(number)
        head.cells.append(cells)
    taken.clear()
    return head, _rows_with_text(split, column, taken)


def _without_comments(lines: Iterable[str], head: Head, taken: list[str]) -> Iterator[str]:
    for line in lines:
        comment = text.comment_in(line) if "#" in line else None
        if comment is not None and len(head.comments) < _MOST_COMMENTS:
            head.comments.append(comment)
        taken.append(line if comment is None else "\n")
        yield taken[-1]


def _rows_with_text(
    split: Iterable[tuple[int, list[str]]], column: int, taken: list[str]
) -> Iterator[Row]:
    for number, cells in split:
        line = taken[0] if len(taken) == 1 else "".join(taken).lstrip("\n")
        taken.clear()
        station = cell_text(cells, column)
        if station or any(cell.strip() for cell in cells):
            yield Row(number, station, cells, _with_line_feed(line))


def _with_line_feed(line: str) -> str:
    return line if line.endswith("\n") else line + "\n"


def _sheet_rows(
    file: str, name: str, notes: list[str], rows: Iterator[tuple[int, list[Any]]]
) -> tuple[Head, Iterator[Row]] | None:
    head = Head("sheet", file, "row", spreadsheet.layout_name(name), delimiter="", notes=notes)
    kept = _without_comment_rows(rows, head)
    first = list(islice(kept, LOOKED_AT))
    at = header_of([cells for _, cells in first])
    if at is None:
        return None
    for number, cells in first[: at + 1]:
        head.numbers.append(number)
        head.cells.append(cells)
    column = column_of_stations(head.header)
    if column is None:
        return None
    below = chain(first[at + 1 :], kept)
    return head, (
        Row(number, cell_text(cells, column), cells)
        for number, cells in below
        if any(cell_text(cells, i) for i in range(len(cells)))
    )


def _without_comment_rows(
    rows: Iterable[tuple[int, list[Any]]], head: Head
) -> Iterator[tuple[int, list[Any]]]:
    for number, cells in rows:
        comment = spreadsheet.comment_in_row(cells)
        if comment is None:
            yield number, cells
        elif len(head.comments) < _MOST_COMMENTS:
            head.comments.append(comment)


def bare_temperatures(header: Sequence[str]) -> tuple[int, ...]:
    """Return the columns of temperature whose unit depends on whether any has decimals."""
    bare = (("tmax", ""), ("tmin", ""))
    return tuple(i for i, cell in enumerate(header) if is_ghcn(header) and recognise(cell) in bare)
