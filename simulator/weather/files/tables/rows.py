"""The rows of a table as they stand, and its header among them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from simulator.weather.files.columns import find_header

HEADER = "date,tmax (degF),tmin (degF),rain (inch)"
LOOKED_AT = 60  # rows in which the header is sought
MOST_COLUMNS = 200


@dataclass(frozen=True, slots=True)
class Rows:
    """The rows of a table as they stand, from whatever kind of file.

    Parameters
    ----------
    file, layout, row_word : str
        As in `Daily`.
    numbers : list of int
        Line in an editor, or row in a spreadsheet, of each.
    cells : list of list
        Text, or numbers and dates from a spreadsheet; rows may be of unequal length.
    decimal_comma : bool
        Whether ``12,5`` may be a number.
    comments : list of str
        Lines above the header that begin with #.
    decimals_in_file : bool
        Whether temperatures of the file have decimals, of whatever station.
    notes : tuple of str
        What was taken in another sense than written when rows were made of the file.
    """

    file: str
    layout: str
    row_word: str
    numbers: list[int]
    cells: list[list[Any]]
    decimal_comma: bool
    comments: list[str]
    decimals_in_file: bool = False
    notes: tuple[str, ...] = ()


def lines_above(cells: Sequence[Sequence[Any]]) -> list[str]:
    """Write rows above a header, which may say ``latitude`` in one cell and 31.3 in the next."""
    return [" : ".join(filter(None, map(text_of, row[:2]))) for row in cells]


def header_of(cells: Sequence[Sequence[Any]]) -> int | None:
    """Return where the header of a table is, or None."""
    return find_header([[text_of(cell) for cell in row] for row in cells[:LOOKED_AT]])


def text_of(cell: Any) -> str:
    """Return what stands in a cell, as text without blanks around it."""
    return cell.strip() if isinstance(cell, str) else "" if cell is None else str(cell)


def quoted(names: Sequence[str]) -> str:
    """Name up to twelve names for a message, each in quotation marks."""
    shown = [f"'{name[:40]}'" for name in names[:12] if name]
    return ", ".join(shown) + (" ..." if len(names) > 12 else "")
