"""Text files: from bytes to rows of cells, or to the layouts of GHCN-Daily."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any, Literal

from simulator.problems import InputError, fault, printable, unprintable_note
from simulator.weather.files import ghcn
from simulator.weather.files.daily import MOST_DAYS, Daily
from simulator.weather.files.tables.reading import read_table
from simulator.weather.files.tables.rows import HEADER, LOOKED_AT, MOST_COLUMNS, Rows, header_of

DELIMITERS = {"\t": "tabs", ";": "semicolons", ",": "commas"}
_NOISE = re.compile(r"[\x00-\x08\x0b\x0e-\x1f]")
_COMMENT = re.compile(r"(?m)^[ \t]*\"?#.*$")
LONGEST_LINE = 20_000  # characters
ENCODINGS = {"utf-8-sig": "UTF-8", "utf-16": "UTF-16", "latin-1": "Latin-1"}


def decode(data: bytes, file: str, header: str = HEADER) -> tuple[str, str]:
    """Turn bytes into text with a line feed at the ends of its lines.

    Parameters
    ----------
    data : bytes
        The file.
    file : str
        Its name.
    header : str
        An example of a first line, for the message.

    Returns
    -------
    text : str
        UTF-8 with or without a byte-order mark, UTF-16 with one, or else Latin-1.
    encoding : str
        Which of them.

    Raises
    ------
    InputError
        Not text.
    """
    encoding = "utf-16" if data.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        encoding = "latin-1"
        text = data.decode(encoding)
    if _NOISE.search(text):
        raise not_text(file)
    if not text.strip():
        raise fault(file, "It is empty.", f"Its first line should be {header}.")
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST_LINE:
            raise too_long(file, number, line)
    return text, ENCODINGS[encoding]


def too_long(file: str, number: int, line: str) -> InputError:
    """Return the fault of a line that no table has."""
    return fault(
        f"{file}, line {number}",
        f"It has {len(line):,} characters.",
        "Give a table with one row a day.",
    )


def not_text(file: str) -> InputError:
    """Return the fault of a file that is something else."""
    return fault(
        file, "It is not text, nor a spreadsheet (.xlsx), nor netCDF.", "Save it as CSV in UTF-8."
    )


def read_text(
    data: bytes,
    file: str,
    *,
    units_of_file: Literal["us", "si"] | None,
    date_format: str | None,
) -> Daily:
    """Read a text file of any layout known; arguments and errors as `tables.read_table`."""
    text, encoding = decode(data, file)
    layout = ghcn.layout_of(text)
    if layout:
        return ghcn.read_ghcn(enumerate(text.split("\n"), start=1), file, layout)
    rows = split_rows(text, file, encoding)
    return read_table(rows, units_of_file=units_of_file, date_format=date_format)


def split_rows(
    text: str,
    file: str,
    encoding: str,
    find: Callable[[Sequence[Sequence[Any]]], int | None] = header_of,
) -> Rows:
    """Split by the delimiter under which a header shows, or by commas if none does.

    Parameters
    ----------
    text, encoding : str
        From `decode`.
    file : str
        Its name.
    find : callable
        Returns where the header is among the first rows, or None.

    Returns
    -------
    Rows
        Lines that begin with # are returned as comments.

    Raises
    ------
    InputError
        A quotation mark that is not closed, too many rows or cells.
    """
    text, notes = plain_text(text, file)
    comments = [comment_in(line) or "" for line in _COMMENT.findall(text)]
    text = _COMMENT.sub("", text)
    delimiter, _ = delimiter_of(text.splitlines(keepends=True)[:LOOKED_AT], file, find)
    numbers, cells = [], []
    for number, row in parse(io.StringIO(text, newline=""), delimiter, file):
        numbers.append(number)
        cells.append(row)
        if len(cells) > MOST_DAYS + LOOKED_AT:
            raise fault(
                file, f"It has more than {MOST_DAYS:,} rows.", "Give the daily record of one place."
            )
    layout = layout_name(delimiter, encoding, cells)
    return Rows(file, layout, "line", numbers, cells, delimiter != ",", comments, notes=notes)


def plain_text(text: str, file: str) -> tuple[str, tuple[str, ...]]:
    """Take out of a text what cannot be printed, and say so.

    Returns
    -------
    str
        With as many lines, each as long.
    tuple of str
        A note that names the first such line; none where nothing was changed.
    """
    plain = printable(text)
    if plain == text:
        return text, ()
    at = next(i for i, (old, new) in enumerate(zip(text, plain, strict=True)) if old != new)
    return plain, (unprintable_note(f"line {text.count(chr(10), 0, at) + 1} of {file}"),)


def comment_in(line: str) -> str | None:
    """Return what a line that begins with # says; None for any other."""
    return line.strip().strip('"') if _COMMENT.match(line) else None


def delimiter_of(
    head: Sequence[str],
    file: str,
    find: Callable[[Sequence[Sequence[Any]]], int | None] = header_of,
) -> tuple[str, int | None]:
    """Choose what stands between cells by the first lines, and say at which row the header is."""
    at = None
    for delimiter in DELIMITERS:
        try:
            at = find([cells for _, cells in _split(head, delimiter, file, strict=False)])
        except csv.Error:
            continue
        if at is not None:
            break
    return delimiter, at


def layout_name(delimiter: str, encoding: str, cells: Sequence[Sequence[str]]) -> str:
    """Say for people how a table of text is written."""
    layout = f"table, cells between {DELIMITERS[delimiter]}, {encoding}"
    if delimiter != "," and any(re.search(r"\d,\d", c) for row in cells[:500] for c in row):
        layout += ", decimal comma"
    return layout


def parse(
    lines: Iterable[str], delimiter: str, file: str, most: int = MOST_COLUMNS
) -> Iterator[tuple[int, list[str]]]:
    """Split lines into cells.

    Parameters
    ----------
    lines : iterable of str
        With their ends.
    delimiter : str
        Between cells.
    file : str
        Its name.
    most : int
        Cells of a row.

    Yields
    ------
    int
        The line at which a row begins.
    list of str
        Its cells; rows without any are passed over.

    Raises
    ------
    InputError
        A quotation mark that is not closed, too many cells.
    """
    try:
        yield from _split(lines, delimiter, file, strict=True, most=most)
    except csv.Error as error:
        raise fault(
            file,
            f"A row cannot be split into cells: {error}.",
            "Look for a quotation mark that is not closed.",
        ) from error


def _split(
    lines: Iterable[str], delimiter: str, file: str, strict: bool, most: int = MOST_COLUMNS
) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(lines, delimiter=delimiter, strict=strict)
    line = 1
    for cells in reader:
        if len(cells) > most:
            raise fault(
                f"{file}, line {line}",
                f"It has {len(cells):,} cells.",
                "Keep the date, tmax, tmin and rain.",
            )
        if cells:
            yield line, cells
        line = reader.line_num + 1
