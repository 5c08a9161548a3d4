"""Tables with a header, from text or a spreadsheet, made into daily values."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from simulator.problems import InputError, Parameter, Problem, Text, fault
from simulator.weather.files import ghcn
from simulator.weather.files.columns import DECLARED, KIND, WRITE, find_header, line_to, recognise
from simulator.weather.files.daily import MOST_DAYS, UNKNOWN, Column, Daily
from simulator.weather.files.dates import ASK, dates_from_parts, read_dates
from simulator.weather.record import NAMES

HEADER = "date,tmax (degF),tmin (degF),rain (inch)"
LOOKED_AT = 60  # rows in which the header is sought
MOST_COLUMNS = 200
_NUMBER = re.compile(r"^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?$")
_DECIMAL_COMMA = re.compile(r"^[+-]?\d*,\d+$")
_DECIMAL_POINT = re.compile(r"^[+-]?\d*\.\d+$")
_SAME = 0.01  # degrees within which a place is the same
_TRACE = {"t", "tr", "trace"}
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
    decimals_beside : bool
        Whether other stations of the file have temperatures with decimals.
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
    decimals_beside: bool = False
    notes: tuple[str, ...] = ()


def read_about(lines: Sequence[str]) -> dict[str, str]:
    """Take ``# latitude: 31.3`` and its like from the lines above a header."""
    found: dict[str, str] = {}
    for line in lines:
        match = _ABOUT.match(line[:500])
        if match and match[1].lower() in _KEYS:
            found.setdefault(_KEYS[match[1].lower()], match[2])
    return found


def lines_above(cells: Sequence[Sequence[Any]]) -> list[str]:
    """Write rows above a header, which may say ``latitude`` in one cell and 31.3 in the next."""
    return [" : ".join(filter(None, map(_text, row[:2]))) for row in cells]


def header_of(cells: Sequence[Sequence[Any]]) -> int | None:
    """Return where the header of a table is, or None."""
    return find_header([[_text(cell) for cell in row] for row in cells[:LOOKED_AT]])


def read_table(
    rows: Rows,
    *,
    units_of_file: Literal["us", "si"] | None,
    date_format: str | None,
) -> Daily:
    """Make daily values of the rows of a table.

    Parameters
    ----------
    rows : Rows
        As read.
    units_of_file : "us", "si" or None
        Units of the columns whose header has none.
    date_format : str or None
        Declared form of the dates.

    Returns
    -------
    Daily
        With every fault of its cells among its problems.

    Raises
    ------
    InputError
        No header, no dates, or several stations (`several` takes those apart).
    """
    at = header_of(rows.cells)
    if at is None:
        raise _no_header(rows)
    header = [_text(cell) for cell in rows.cells[at]]
    place = f"{rows.file}, {rows.row_word} {rows.numbers[at]}"
    kept = [i for i in range(at + 1, len(rows.cells)) if any(map(_text, rows.cells[i]))]
    if len(kept) > MOST_DAYS:
        raise fault(
            rows.file,
            f"It has more than {MOST_DAYS:,} rows.",
            "Give the daily record of one place.",
        )
    if not kept:
        raise fault(place, "Nothing stands below the header.", "Give one row a day.")
    found: dict[str, list[int]] = {}
    for index, cell in enumerate(header):
        role = recognise(cell)[0]
        if role:
            found.setdefault(role, []).append(index)
    problems = [*_twice(found, header, place), *_ragged(rows, kept, header)]

    body = [rows.cells[i] + [None] * (len(header) - len(rows.cells[i])) for i in kept]
    numbers = np.array([rows.numbers[i] for i in kept])
    if "site" in found:
        at_site = found["site"][0]
        problems += _one_site([_text(row[at_site]) for row in body], numbers, rows, header[at_site])
    about, about_at, doubts = _about(rows, at, header, body, numbers)
    dates, form, faults = _dates(found, body, place, date_format)
    problems += _date_problems(faults, rows, numbers)
    row_numbers: dict[str, NDArray[np.int64]] = {"date": numbers}
    daily = Daily(
        rows.file,
        rows.layout,
        dates,
        {},
        {},
        row_numbers,
        rows.row_word,
        date_form=form,
        about=about,
        about_at=about_at,
        problems=problems,
        doubts=doubts,
        notes=list(rows.notes),
    )
    if "radiation" in found and not recognise(bare := header[found["radiation"][0]])[1]:
        del found["radiation"]
        daily.notes.append(
            f"column '{bare}' is not used, for its header does not say the unit: "
            f"write {WRITE['radiation']}"
        )
    _weather_columns(daily, rows, found, header, body, place)
    flags = {
        name: [_text(row[header.index(flag)]) for row in body]
        for name, column in daily.columns.items()
        if (flag := f"{column.header}_ATTRIBUTES") in header
    }
    _settle_units(daily, flags, is_ghcn(header), units_of_file, place, rows.decimals_beside)
    return daily


def _about(
    rows: Rows, at: int, header: list[str], body: list[list[Any]], numbers: NDArray[np.int64]
) -> tuple[dict[str, Any], dict[str, str], list[Problem]]:
    """Return what a table says of its place, where the columns say it, and what does not agree."""
    above = [*rows.comments, *lines_above(rows.cells[:at])]
    about: dict[str, Any] = read_about(above)
    about_at = {}
    doubts = _said_twice(above, rows.file)
    for role, column in columns_about(header).items():
        texts = [_text(row[column]) for row in body]
        row = next((i for i, text in enumerate(texts) if text), None)
        if row is not None:
            key = "site" if role == "name" else role
            if role in ("latitude", "longitude"):
                doubts += _moved(texts, numbers, rows, header[column], str(about.get(key, "")))
            about[key] = texts[row]
            about_at[key] = (
                f"{rows.file}, {rows.row_word} {numbers[row]}, column '{header[column]}'"
            )
    return about, about_at, doubts


def _moved(
    texts: Sequence[str], numbers: NDArray[np.int64], rows: Rows, header: str, above: str
) -> Iterator[Problem]:
    """Doubt a latitude or longitude that changes from row to row, or differs from that above."""
    said = {
        i: degrees
        for i, text in enumerate(texts)
        if (degrees := _number_of(text, rows.decimal_comma)) is not None
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
    told = _number_of(above, rows.decimal_comma)
    if told is not None and abs(told - said[first]) > _SAME:
        yield Problem(
            where.format(numbers[first]),
            f"It is {said[first]:g}, above the header {told:g}; the column is followed.",
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


def _number_of(text: str, decimal_comma: bool) -> float | None:
    plain = text.replace("\u2212", "-")
    if decimal_comma and _DECIMAL_COMMA.match(plain):
        plain = plain.replace(",", ".")
    return float(plain) if _NUMBER.match(plain) else None


def _commas_beside_points(daily: Daily, written: dict[str, list[Any]]) -> Iterator[Problem]:
    """Doubt commas taken as decimal ones where other numbers of the table have points."""
    texts = {
        name: [_text(cell) if isinstance(cell, str) else "" for cell in cells]
        for name, cells in written.items()
    }
    fractions = (
        isinstance(cell, float) and cell % 1 for cells in written.values() for cell in cells
    )
    if not any(fractions) and not any(
        _DECIMAL_POINT.match(text) for cells in texts.values() for text in cells
    ):
        return
    for name, cells in texts.items():
        comma = next((i for i, text in enumerate(cells) if _DECIMAL_COMMA.match(text)), None)
        if comma is not None:
            yield Problem(
                daily.place(comma, name),
                f"'{cells[comma][:40]}' is read as "
                f"{daily.written[name][comma]:g}, and other numbers of the table have "
                "decimal points.",
                "Write all decimals alike, and no comma between thousands.",
            )


def _weather_columns(
    daily: Daily,
    rows: Rows,
    found: dict[str, list[int]],
    header: list[str],
    body: list[list[Any]],
    place: str,
) -> None:
    """Read the columns of weather."""
    assert daily.rows is not None
    written: dict[str, list[Any]] = {}
    for name in KIND:
        if name in found:
            index = found[name][0]
            daily.columns[name] = Column(header[index], "")
            daily.rows[name] = daily.rows["date"]
            written[name] = [row[index] for row in body]
            daily.written[name] = _numbers(daily, name, written[name], rows.decimal_comma)
        elif name in NAMES:
            daily.problems.append(
                Problem(
                    place,
                    f"No column is the {_SPELLED[name]}; the columns are {_listed(header)}.",
                    f"Name it '{WRITE[name]}'.",
                )
            )
    if rows.decimal_comma:
        daily.doubts += _commas_beside_points(daily, written)


def columns_about(header: Sequence[str]) -> dict[str, int]:
    """Return which columns say of a row's place: site, name, latitude, longitude and soil."""
    found: dict[str, int] = {}
    for index, cell in enumerate(header):
        role = "soil" if cell.lower() == "soil" else recognise(cell)[0]
        if role in _OF_PLACE:
            found.setdefault(role, index)
    return {role: found[role] for role in _OF_PLACE if role in found}


def is_ghcn(header: Sequence[str]) -> bool:
    """Say whether a table is of GHCN-Daily, by its header."""
    return {"STATION", "DATE"} <= set(header)


def _settle_units(
    daily: Daily,
    flags: dict[str, list[str]],
    from_ghcn: bool,
    units_of_file: Literal["us", "si"] | None,
    place: str,
    decimals_beside: bool,
) -> None:
    for name, column in list(daily.columns.items()):
        unit = recognise(column.header)[1]
        if unit:
            _set_unit(daily, name, unit, place)
    if units_of_file:
        _compare_units(daily, units_of_file, place)
    if all(column.unit for column in daily.columns.values()):
        return
    if from_ghcn:
        ghcn.settle_table(daily, flags, units_of_file, place, decimals_beside)
    else:
        _declare_units(daily, units_of_file, place)


_SPELLED = {
    "tmax": "daily maximum temperature",
    "tmin": "daily minimum temperature",
    "rain": "rain",
}


def _text(cell: Any) -> str:
    return cell.strip() if isinstance(cell, str) else "" if cell is None else str(cell)


def _listed(names: Sequence[str]) -> str:
    shown = [f"'{name[:40]}'" for name in names[:12] if name]
    return ", ".join(shown) + (" ..." if len(names) > 12 else "")


def _no_header(rows: Rows) -> InputError:
    if not any(any(_text(cell) for cell in row) for row in rows.cells):
        return fault(rows.file, "It has no rows.", f"Its first line should be {HEADER}.")
    first = next(i for i, row in enumerate(rows.cells) if any(_text(cell) for cell in row))
    cells = [_text(cell) for cell in rows.cells[first]]
    place = f"{rows.file}, {rows.row_word} {rows.numbers[first]}"
    if len(cells) > 1 and sum(bool(_NUMBER.match(cell)) for cell in cells) >= len(cells) / 2:
        return fault(
            place, "The table begins without a header.", f"Put a line above it such as {HEADER}."
        )
    return fault(
        place,
        f"No header with a date and weather was found; this row is {_listed(cells)}.",
        f"Give a table, cells between commas, semicolons or tabs, with a header such as {HEADER}.",
    )


def _twice(found: dict[str, list[int]], header: list[str], place: str) -> list[Problem]:
    problems = []
    for role in (*KIND, "date"):
        named = found.get(role, [])
        if role == "date":  # a time of observation may stand beside the date
            dated = [i for i in named if "time" not in header[i].lower().split()]
            named = found[role] = dated if dated else named
            if not named:
                del found[role]
        if len(named) > 1:
            problems.append(
                Problem(
                    place,
                    f"{_listed([header[i] for i in named])} all name the {role}.",
                    "Keep one, or rename the others.",
                )
            )
    return problems


def _ragged(rows: Rows, kept: list[int], header: list[str]) -> list[Problem]:
    """Name rows with more or fewer cells than the header; a spreadsheet's may end early."""
    problems = []
    for i in kept:
        cells = rows.cells[i]
        extra = any(_text(cell) for cell in cells[len(header) :])
        if extra or (len(cells) < len(header) and rows.row_word == "line"):
            problems.append(
                Problem(
                    f"{rows.file}, {rows.row_word} {rows.numbers[i]}",
                    f"It has {len(cells)} of the {len(header)} cells that the header has."
                    if len(cells) < len(header)
                    else f"It has {len(cells)} cells, the header {len(header)}.",
                    "Put as many as the header has; with decimal commas, separate cells by "
                    "semicolons.",
                )
            )
    return problems


def _one_site(
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
        f"It holds {len(names)} sites ({_listed(names)}) and {asked}.",
        Text(
            "Choose one with ",
            Parameter("site"),
            ", such as ",
            Parameter("site", f"'{names[0]}'"),
            ".",
        ),
    )


def _dates(
    found: dict[str, list[int]], body: list[list[Any]], place: str, date_format: str | None
) -> tuple[NDArray[np.datetime64], str, dict[int, tuple[str, str]]]:
    parts: dict[str, Sequence[Any]] = {
        role: [row[found[role][0]] for row in body]
        for role in ("year", "month", "day", "doy")
        if role in found
    }
    if "date" in found:
        return read_dates([row[found["date"][0]] for row in body], date_format)
    if {"year", "doy"} <= parts.keys() or {"year", "month", "day"} <= parts.keys():
        return read_dates(dates_from_parts(parts))
    if set(parts) == {"day"}:
        return read_dates(parts["day"], date_format)
    raise fault(
        place, "No column is the date.", "Name it 'date', or give the columns year, month and day."
    )


def _date_problems(
    faults: dict[int, tuple[str, str]], rows: Rows, numbers: NDArray[np.int64]
) -> Iterator[Problem]:
    """One problem a row, but a form that could be read in two ways is asked about once."""
    unsettled = [i for i, (_, remedy) in faults.items() if remedy == ASK]
    for i, (what, remedy) in faults.items():
        if remedy == ASK and i != unsettled[0]:
            continue
        like = f" So may {len(unsettled) - 1} rows more." if remedy == ASK and unsettled[1:] else ""
        yield Problem(f"{rows.file}, {rows.row_word} {numbers[i]}, the date", what + like, remedy)


def _numbers(daily: Daily, name: str, cells: list[Any], decimal_comma: bool) -> NDArray[np.float64]:
    """Read a column of numbers; blanks become NaN, text becomes a problem of its row."""
    values = np.full(len(cells), np.nan)
    traces = []
    header = daily.columns[name].header
    assert daily.rows is not None
    numbers = daily.rows[name]
    for i, cell in enumerate(cells):
        if isinstance(cell, (int, float)) and not isinstance(cell, bool):
            values[i] = cell
            continue
        text = _text(cell).replace("\u2212", "-")
        if not text:
            continue
        if decimal_comma and _DECIMAL_COMMA.match(text):
            text = text.replace(",", ".")
        if _NUMBER.match(text):
            values[i] = float(text)
        elif name == "rain" and text.lower() in _TRACE:
            values[i] = 0.0
            traces.append(int(numbers[i]))
        else:
            daily.problems.append(
                Problem(
                    f"{daily.file}, {daily.row_word} {numbers[i]}, column '{header}'",
                    f"'{text[:40]}' is not a number.",
                    "Leave the cell blank if the value is missing.",
                )
            )
    if traces:
        told = "1 trace" if len(traces) == 1 else f"{len(traces)} traces"
        daily.notes.append(
            f"{told} of rain taken as 0 "
            f"({daily.row_word} {', '.join(map(str, traces[:5]))}"
            f"{' ...' if len(traces) > 5 else ''})"
        )
    return values


def _set_unit(daily: Daily, name: str, unit: str, place: str) -> None:
    header = daily.columns[name].header
    try:
        column = Column(header, *line_to(unit, KIND[name]))
    except InputError:
        column = Column(header, UNKNOWN)
        daily.problems.append(
            Problem(
                f"{place}, column '{header}'",
                f"'{unit}' is not a unit of {KIND[name]}.",
                f"Write {WRITE[name]}.",
            )
        )
    daily.columns[name] = column


def _declare_units(daily: Daily, units_of_file: Literal["us", "si"] | None, place: str) -> None:
    for name, column in list(daily.columns.items()):
        if column.unit:
            continue
        if units_of_file:
            _set_unit(daily, name, DECLARED[units_of_file][KIND[name]], place)
        else:
            daily.problems.append(
                Problem(
                    f"{place}, column '{column.header}'",
                    "The header does not say the unit.",
                    Text(
                        f"Write {WRITE[name]}, or declare ",
                        Parameter("units_of_file", "us"),
                        " (degF, inch) or si (degC, mm).",
                    ),
                )
            )


def _compare_units(daily: Daily, units_of_file: Literal["us", "si"], place: str) -> None:
    for name, column in daily.columns.items():
        if name not in NAMES:
            continue
        declared = DECLARED[units_of_file][KIND[name]]
        if column.unit not in ("", UNKNOWN, declared):
            daily.doubts.append(
                Problem(
                    f"{place}, column '{column.header}'",
                    Text(
                        f"The header says {column.unit}, ",
                        Parameter("units_of_file", units_of_file),
                        f" says {declared}; the header is followed.",
                    ),
                    "Leave one out.",
                )
            )
