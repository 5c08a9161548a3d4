"""Spreadsheets (.xlsx): the first sheet, values only, read with bounds on all it may unpack to."""

from __future__ import annotations

import warnings
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal

from simulator.problems import InputError, fault, printable, unprintable_note
from simulator.weather.files.daily import MOST_DAYS, Daily
from simulator.weather.files.tables.reading import read_table
from simulator.weather.files.tables.rows import LOOKED_AT, MOST_COLUMNS, Rows
from simulator.weather.files.xlsx_parts import check_parts, unpackable


def read_spreadsheet(
    path: Path,
    *,
    units_of_file: Literal["us", "si"] | None,
    date_format: str | None,
) -> Daily:
    """Read the first sheet; other arguments and errors as `tables.read_table`.

    Parameters
    ----------
    path : Path
        The file; nothing in it is evaluated, a formula counts as the value last saved.
    """
    table, notes = sheet_rows(path)
    daily = read_table(table, units_of_file=units_of_file, date_format=date_format)
    daily.notes.extend(notes)
    return daily


def sheet_rows(path: Path) -> tuple[Rows, list[str]]:
    """Read the rows of the first sheet.

    Parameters
    ----------
    path : Path
        The file; nothing in it is evaluated, a formula counts as the value last saved.

    Returns
    -------
    Rows
        Rows that begin with # are returned as comments.
    list of str
        A note, where there are more sheets.

    Raises
    ------
    InputError
        Not a spreadsheet, damaged, or too large.
    """
    comments: list[str] = []
    with opened_sheet(path) as (name, notes, rows):
        kept = []
        for number, cells in rows:
            if (comment := comment_in_row(cells)) is None:
                kept.append((number, cells))
            else:
                comments.append(comment)
            if number > MOST_DAYS + LOOKED_AT:
                raise fault(
                    path.name,
                    f"Sheet '{name}' has more than {MOST_DAYS:,} rows.",
                    "Give the daily record of one place.",
                )
    return Rows(
        path.name,
        layout_name(name),
        "row",
        [number for number, _ in kept],
        [cells for _, cells in kept],
        True,
        comments,
    ), notes


def layout_name(name: str) -> str:
    """Say for people what a sheet is."""
    return f"spreadsheet, sheet '{name}'"


def comment_in_row(cells: Sequence[Any]) -> str | None:
    """Return what a row that begins with # says; None for any other."""
    first = str(cells[0]) if cells else ""
    return first if first.startswith("#") else None


@contextmanager
def opened_sheet(path: Path) -> Iterator[tuple[str, list[str], Iterator[tuple[int, list[Any]]]]]:
    """Open the first sheet; its rows are read as they are asked for.

    Yields
    ------
    str
        Its name.
    list of str
        A note, where there are more sheets.
    iterator of (int, list)
        Number and cells of each row.

    Raises
    ------
    InputError
        Not a spreadsheet, damaged, or too large; damage may show in later rows only.
    """
    import openpyxl

    _refuse_bombs(path)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of styles, which are not read
            book = openpyxl.load_workbook(path, read_only=True, data_only=True, keep_links=False)
        sheets = book.worksheets
    except Exception as error:  # openpyxl raises many kinds for a damaged file
        raise _damaged(path) from error
    name = printable(sheets[0].title) if sheets else ""
    notes = [f"only the first of {len(sheets)} sheets, '{name}', was read"] if sheets[1:] else []
    try:
        yield name, notes, _rows_of(path, sheets[0], notes) if sheets else iter(())
    finally:
        book.close()


def _damaged(path: Path) -> InputError:
    return fault(
        path.name,
        "It looks like a spreadsheet but cannot be read.",
        "Open it in a spreadsheet program and save it as CSV.",
    )


def _rows_of(path: Path, sheet: Any, notes: list[str]) -> Iterator[tuple[int, list[Any]]]:
    changed = False
    try:
        sheet.reset_dimensions()  # what it says of its own size may be wrong
        rows = sheet.iter_rows(max_col=MOST_COLUMNS, values_only=True)
        for number, cells in enumerate(rows, start=1):
            kept = list(cells)
            if str in set(map(type, kept)):
                kept = [printable(cell) if isinstance(cell, str) else cell for cell in kept]
                if not changed and kept != list(cells):
                    changed = True
                    notes.append(unprintable_note(f"row {number} of {path.name}"))
            yield number, kept
    except Exception as error:  # openpyxl raises many kinds for a damaged file
        raise _damaged(path) from error


def _refuse_bombs(path: Path) -> None:
    """Refuse what unpacks beyond bounds, or declares entities, before anything parses it."""
    try:
        with zipfile.ZipFile(path) as packed:
            check_parts(packed, path.name)
            names = packed.namelist()
    except InputError:
        raise
    except Exception as error:  # zipfile and zlib raise many kinds for a damaged file
        raise unpackable(path.name) from error
    if "xl/workbook.xml" not in names:
        raise fault(
            path.name,
            "It is a packed folder, not a spreadsheet (.xlsx).",
            "Unpack it and give the weather file in it.",
        )
