"""What a table says of its place: lines above the header, and columns."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.problems import Parameter, Problem, Text, fault
from simulator.weather.files.columns import recognise
from simulator.weather.files.tables.numbers import number_of
from simulator.weather.files.tables.rows import Rows, lines_above, quoted, text_of

_SAME = 0.01  # degrees within which a place is the same
_ABOUT = re.compile(r"^#*\s*([A-Za-z][A-Za-z _]{1,30}?)\s*[:=]\s*(.+?)\s*$")
_OF_PLACE = ("site", "name", "latitude", "longitude", "soil")
_KEYS = {
    "site": "site",
    "station": "site",
    "place": "site",
    "latitude": "latitude",
    "lat": "latitude",
    "longitude": "longitude",
    "lon": "longitude",
    "source": "source",
    "invented": "invented",
    "changes": "changes",
    "filled": "filled",
}


def read_about(lines: Sequence[str]) -> dict[str, str]:
    """Take ``# latitude: 31.3`` and its like from the lines above a header."""
    found: dict[str, str] = {}
    for line in lines:
        match = _ABOUT.match(line[:500])
        if match and match[1].lower() in _KEYS:
            found.setdefault(_KEYS[match[1].lower()], match[2])
    return found


def about_place(
    rows: Rows, at: int, header: list[str], body: list[list[Any]], numbers: NDArray[np.int64]
) -> tuple[dict[str, Any], dict[str, str], list[Problem]]:
    """Return what a table says of its place, where the columns say it, and what does not agree."""
    above = [*rows.comments, *lines_above(rows.cells[:at])]
    about: dict[str, Any] = read_about(above)
    about_at = {}
    doubts = _said_twice(above, rows.file)
    for role, column in columns_about(header).items():
        texts = [text_of(row[column]) for row in body]
        row = next((i for i, text in enumerate(texts) if text), None)
        if row is not None:
            key = "site" if role == "name" else role
            if role in ("latitude", "longitude"):
                doubts += _changes_down_the_rows(
                    texts, numbers, rows, header[column], str(about.get(key, ""))
                )
            about[key] = texts[row]
            about_at[key] = (
                f"{rows.file}, {rows.row_word} {numbers[row]}, column '{header[column]}'"
            )
    return about, about_at, doubts


def _changes_down_the_rows(
    texts: Sequence[str], numbers: NDArray[np.int64], rows: Rows, header: str, above: str
) -> Iterator[Problem]:
    """Doubt a latitude or longitude that changes from row to row, or differs from that above."""
    said = {
        i: degrees
        for i, text in enumerate(texts)
        if (degrees := number_of(text, rows.decimal_comma)) is not None
    }
    if not said:
        return
    first = next(iter(said))
    where = f"{rows.file}, {rows.row_word} {{}}, column '{header}'"
    other = next((i for i, degrees in said.items() if abs(degrees - said[first]) > _SAME), None)
    if other is not None:
        yield Problem(
            where.format(numbers[other]),
            f"It changes from {said[first]:g} to {said[other]:g}; the first is taken.",
            "Give the record of one place.",
        )
    stated = number_of(above, rows.decimal_comma)
    if stated is not None and abs(stated - said[first]) > _SAME:
        yield Problem(
            where.format(numbers[first]),
            f"It is {said[first]:g}, above the header {stated:g}; the column is followed.",
            "Take one out.",
        )


def _said_twice(lines: Sequence[str], file: str) -> list[Problem]:
    """Doubt a latitude or longitude that lines above the header say twice, in two ways."""
    doubts = []
    first = read_about(lines)
    for name in ("latitude", "longitude"):
        others = (read_about([line]).get(name) for line in lines)
        other = next((text for text in others if text not in (None, first.get(name))), None)
        if other is not None:
            doubts.append(
                Problem(
                    f"{file}, {name}",
                    f"The lines above the header say "
                    f"'{first[name][:40]}' and '{other[:40]}'; the first is taken.",
                    "Take one out.",
                )
            )
    return doubts


def columns_about(header: Sequence[str]) -> dict[str, int]:
    """Return which columns say of a row's place: site, name, latitude, longitude and soil."""
    found: dict[str, int] = {}
    for index, cell in enumerate(header):
        role = "soil" if cell.lower() == "soil" else recognise(cell)[0]
        if role in _OF_PLACE:
            found.setdefault(role, index)
    return {role: found[role] for role in _OF_PLACE if role in found}


def check_one_station(
    names: list[str], numbers: NDArray[np.int64], rows: Rows, header: str
) -> Iterator[Problem]:
    """Name rows that do not say their station, where others do.

    Raises
    ------
    InputError
        Several stations.
    """
    distinct = sorted(set(filter(None, names)))
    if len(distinct) > 1:
        choose_site(distinct, None, rows.file)
    for name, number in zip(names, numbers, strict=True):
        if distinct and not name:
            yield Problem(
                f"{rows.file}, {rows.row_word} {number}, column '{header}'",
                "It is blank.",
                "Name the station.",
            )


def choose_site(names: Sequence[str], site: str | None, file: str) -> str:
    """Return the site asked for, or ask which."""
    if site in names:
        return site  # type: ignore[return-value]
    asked = f"no '{site}' among them" if site else "none was chosen"
    raise fault(
        file,
        f"It holds {len(names)} sites ({quoted(names)}) and {asked}.",
        Text(
            "Choose one with ",
            Parameter("site"),
            ", such as ",
            Parameter("site", f"'{names[0]}'"),
            ".",
        ),
    )
