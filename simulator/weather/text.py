"""Text files: from bytes to rows of cells, or to the layouts of GHCN-Daily."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Sequence
from typing import Any, Literal

from simulator.problems import fault
from simulator.weather import ghcn
from simulator.weather.daily import MOST_DAYS, Daily
from simulator.weather.tables import HEADER, LOOKED_AT, MOST_COLUMNS, Rows, header_of, read_table

_DELIMITERS = {"\t": "tabs", ";": "semicolons", ",": "commas"}
_NOISE = re.compile(r"[\x00-\x08\x0b\x0e-\x1f]")
_COMMENT = re.compile(r"(?m)^[ \t]*\"?#.*$")
_LONGEST_LINE = 20_000  # characters


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
        raise fault(file, "It is not text, nor a spreadsheet (.xlsx), nor netCDF.",
                    "Save it as CSV in UTF-8.")  # fmt: skip
    if not text.strip():
        raise fault(file, "It is empty.", f"Its first line should be {header}.")
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > _LONGEST_LINE:
            raise fault(f"{file}, line {number}", f"It has {len(line):,} characters.",
                        "Give a table with one row a day.")  # fmt: skip
    told = {"utf-8-sig": "UTF-8", "utf-16": "UTF-16", "latin-1": "Latin-1"}
    return text, told[encoding]


def read_text(
    data: bytes,
    file: str,
    *,
    units_of_file: Literal["us", "si"] | None,
    date_format: str | None,
    site: str | None,
) -> Daily:
    """Read a text file of any layout known; arguments and errors as `tables.read_table`."""
    text, encoding = decode(data, file)
    layout = ghcn.layout_of(text)
    if layout:
        return ghcn.read_ghcn(text, file, layout, site)
    rows = split_rows(text, file, encoding)
    return read_table(rows, units_of_file=units_of_file, date_format=date_format, site=site)


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
        Lines that begin with # are kept apart, as comments.

    Raises
    ------
    InputError
        A quotation mark that is not closed, too many rows or cells.
    """
    comments = [line.strip().strip('"') for line in _COMMENT.findall(text)]
    text = _COMMENT.sub("", text)
    head = "".join(text.splitlines(keepends=True)[:LOOKED_AT])
    for delimiter in _DELIMITERS:
        try:
            _, cells = _parse(head, delimiter, file, strict=False)
        except csv.Error:
            continue
        if find(cells) is not None:
            break
    try:
        numbers, cells = _parse(text, delimiter, file, strict=True)
    except csv.Error as error:
        raise fault(file, f"A row cannot be split into cells: {error}.",
                    "Look for a quotation mark that is not closed.") from error  # fmt: skip
    comma = delimiter != ","
    layout = f"table, cells between {_DELIMITERS[delimiter]}, {encoding}"
    if comma and any(re.search(r"\d,\d", cell) for row in cells[:500] for cell in row):
        layout += ", decimal comma"
    return Rows(file, layout, "line", numbers, cells, comma, comments)


def _parse(text: str, delimiter: str, file: str, strict: bool) -> tuple[list[int], list[list[str]]]:
    numbers, rows = [], []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=strict)
    line = 1
    for cells in reader:
        if len(cells) > MOST_COLUMNS:
            raise fault(f"{file}, line {line}", f"It has {len(cells):,} cells.",
                        "Keep the date, tmax, tmin and rain.")  # fmt: skip
        if cells:
            numbers.append(line)
            rows.append(cells)
        line = reader.line_num + 1
        if len(rows) > MOST_DAYS + LOOKED_AT:
            raise fault(file, f"It has more than {MOST_DAYS:,} rows.",
                        "Give the daily record of one place.")  # fmt: skip
    return numbers, rows
