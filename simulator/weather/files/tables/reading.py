"""Tables with a header, from text or a spreadsheet, made into daily values."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from simulator.problems import InputError, Problem, fault
from simulator.weather.files.columns import KIND, WRITE, recognise
from simulator.weather.files.daily import MOST_DAYS, Column, Daily
from simulator.weather.files.dates import ASK, dates_from_parts, read_dates
from simulator.weather.files.tables.about import about_place, check_one_station
from simulator.weather.files.tables.numbers import NUMBER, doubt_decimal_commas, read_numbers
from simulator.weather.files.tables.rows import HEADER, Rows, header_of, quoted, text_of
from simulator.weather.files.tables.units import is_ghcn, settle_units
from simulator.weather.record import NAMES


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
        No header, no dates, or several stations (`multistation` reads those).
    """
    at = header_of(rows.cells)
    if at is None:
        raise _no_header(rows)
    header = [text_of(cell) for cell in rows.cells[at]]
    place = f"{rows.file}, {rows.row_word} {rows.numbers[at]}"
    kept = _rows_below(rows, at, place)
    found = _columns_by_role(header)
    problems = [*_twice(found, header, place), *_ragged(rows, kept, header)]

    body = [rows.cells[i] + [None] * (len(header) - len(rows.cells[i])) for i in kept]
    numbers = np.array([rows.numbers[i] for i in kept])
    if "site" in found:
        at_site = found["site"][0]
        problems += check_one_station(
            [text_of(row[at_site]) for row in body], numbers, rows, header[at_site]
        )
    about, about_at, doubts = about_place(rows, at, header, body, numbers)
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
    _leave_out_bare_radiation(daily, found, header)
    _weather_columns(daily, rows, found, header, body, place)
    flags = _flags_of_ghcn(daily, header, body)
    settle_units(daily, flags, is_ghcn(header), units_of_file, place, rows.decimals_in_file)
    return daily


def _rows_below(rows: Rows, at: int, place: str) -> list[int]:
    """Return which rows below the header are not blank.

    Raises
    ------
    InputError
        None, or more than a record has.
    """
    kept = [i for i in range(at + 1, len(rows.cells)) if any(map(text_of, rows.cells[i]))]
    if len(kept) > MOST_DAYS:
        raise fault(
            rows.file,
            f"It has more than {MOST_DAYS:,} rows.",
            "Give the daily record of one place.",
        )
    if not kept:
        raise fault(place, "Nothing stands below the header.", "Give one row a day.")
    return kept


def _columns_by_role(header: list[str]) -> dict[str, list[int]]:
    """Return the columns that are the date, tmax and so on; more than one may say they are."""
    found: dict[str, list[int]] = {}
    for index, cell in enumerate(header):
        role = recognise(cell)[0]
        if role:
            found.setdefault(role, []).append(index)
    return found


def _leave_out_bare_radiation(daily: Daily, found: dict[str, list[int]], header: list[str]) -> None:
    """Note that radiation without a unit is not used."""
    if "radiation" in found and not recognise(bare := header[found["radiation"][0]])[1]:
        del found["radiation"]
        daily.notes.append(
            f"column '{bare}' is not used, for its header does not say the unit: "
            f"write {WRITE['radiation']}"
        )


def _flags_of_ghcn(daily: Daily, header: list[str], body: list[list[Any]]) -> dict[str, list[str]]:
    """Return the cells of GHCN-Daily's flags, by the variable that they belong to."""
    return {
        name: [text_of(row[header.index(flag)]) for row in body]
        for name, column in daily.columns.items()
        if (flag := f"{column.header}_ATTRIBUTES") in header
    }


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
            daily.written[name] = read_numbers(daily, name, written[name], rows.decimal_comma)
        elif name in NAMES:
            daily.problems.append(
                Problem(
                    place,
                    f"No column is the {_SPELLED[name]}; the columns are {quoted(header)}.",
                    f"Name it '{WRITE[name]}'.",
                )
            )
    if rows.decimal_comma:
        daily.doubts += doubt_decimal_commas(daily, written)


_SPELLED = {
    "tmax": "daily maximum temperature",
    "tmin": "daily minimum temperature",
    "rain": "rain",
}


def _no_header(rows: Rows) -> InputError:
    if not any(any(text_of(cell) for cell in row) for row in rows.cells):
        return fault(rows.file, "It has no rows.", f"Its first line should be {HEADER}.")
    first = next(i for i, row in enumerate(rows.cells) if any(text_of(cell) for cell in row))
    cells = [text_of(cell) for cell in rows.cells[first]]
    place = f"{rows.file}, {rows.row_word} {rows.numbers[first]}"
    if len(cells) > 1 and sum(bool(NUMBER.match(cell)) for cell in cells) >= len(cells) / 2:
        return fault(
            place, "The table begins without a header.", f"Put a line above it such as {HEADER}."
        )
    return fault(
        place,
        f"No header with a date and weather was found; this row is {quoted(cells)}.",
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
                    f"{quoted([header[i] for i in named])} all name the {role}.",
                    "Keep one, or rename the others.",
                )
            )
    return problems


def _ragged(rows: Rows, kept: list[int], header: list[str]) -> list[Problem]:
    """Name rows with more or fewer cells than the header; a spreadsheet's may end early."""
    problems = []
    for i in kept:
        cells = rows.cells[i]
        extra = any(text_of(cell) for cell in cells[len(header) :])
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
