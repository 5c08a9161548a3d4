"""Dates in a file: one form for the whole file, never guessed where two would fit."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.problems import Parameter, Text, fault

_YEAR_FIRST = re.compile(r"^(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?:[T ]\d{1,2}:\d\d.*)?$")
_COMPACT = re.compile(r"^(\d{4})(\d\d)(\d\d)$")
_YEAR_LAST = re.compile(r"^(\d{1,2})[/.-](\d{1,2})[/.-](\d{4})(?:[T ]\d{1,2}:\d\d.*)?$")
_SHORT_YEAR = re.compile(r"^\d{1,2}[/.-]\d{1,2}[/.-]\d{2}$")
_NAMED_MONTH = re.compile(r"^(\d{1,2})[-/. ]+([A-Za-z]{3,9})\.?[-/., ]+(\d{4})$")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_LETTERS = {
    "YYYY": "%Y",
    "YY": "%y",
    "MMM": "%b",
    "MON": "%b",
    "MM": "%m",
    "DD": "%d",
    "M": "%m",
    "D": "%d",
}
OLDEST, LATEST = 1750, 2200  # years; beyond them a day is no day of a record
ASK = Text(
    "Say which with ",
    Parameter("date_format", "DD/MM/YYYY"),
    " or ",
    Parameter("date_format", "MM/DD/YYYY"),
    ", or write 2005-11-01.",
)


def format_of(date_format: str) -> str:
    """Turn a declared form such as ``"DD/MM/YYYY"`` into the ``"%d/%m/%Y"`` of strptime.

    Raises
    ------
    InputError
        It does not name a year, a month and a day.
    """
    form = date_format.strip()
    if "%" not in form:
        form = re.sub("YYYY|YY|MMM|MON|MM|DD|M|D", lambda m: _LETTERS[m[0]], form.upper())
    day, month, year = "%d" in form, set("mbB") & set(form[1:]), set("yY") & set(form)
    if not ((day and month and year) or ("%j" in form and year)):
        raise fault(
            Parameter("date_format"),
            f"'{date_format}' does not name a day, a month and a year.",
            "Write for example DD/MM/YYYY, MM/DD/YYYY or %d.%m.%Y.",
        )
    try:
        datetime.strptime(date(2005, 11, 21).strftime(form), form)
    except (ValueError, re.error) as error:  # the same part twice, or a letter that means nothing
        raise fault(
            Parameter("date_format"),
            f"'{date_format}' cannot be used to read dates.",
            "Name the day, the month and the year once each, such as DD/MM/YYYY.",
        ) from error
    return form


def read_dates(
    cells: Sequence[Any], date_format: str | None = None
) -> tuple[NDArray[np.datetime64], str, dict[int, tuple[str, str]]]:
    """Read a column of dates.

    Parameters
    ----------
    cells : sequence of str, date, datetime or int
        As in the file.
    date_format : str, optional
        The declared form; without it year-month-day in any separators, ``1 Nov 2005``, and
        day and month before the year where only one order fits every row.

    Returns
    -------
    dates : (n,) datetime64[D]
        NaT where unreadable.
    form : str
        How they were read, for people.
    faults : dict
        Index -> what is wrong there, what to do.
    """
    if date_format is not None:
        form = format_of(date_format)
        read = [_declared(cell, form, date_format) for cell in cells]
        how = f"declared as {date_format}"
    else:
        order, how, ambiguous = _order_of(cells)
        read = [_undeclared(cell, order, ambiguous) for cell in cells]
    faults = {i: found for i, found in enumerate(read) if isinstance(found, tuple)}
    dates = np.array([None if isinstance(d, tuple) else d for d in read], dtype="datetime64[D]")
    return dates, how, faults


def _order_of(cells: Sequence[Any]) -> tuple[str, str, bool]:
    """Settle whether day or month comes first where the year comes last."""
    pairs = [(int(m[1]), int(m[2])) for m in map(_YEAR_LAST.match, map(_text, cells)) if m]
    if not pairs:
        return "", "year-month-day", False
    day_first = sum(month > 12 for _, month in pairs)  # rows that day/month cannot read
    month_first = sum(month > 12 for month, _ in pairs)
    if day_first == month_first:
        return "", "not settled: day/month or month/day", True
    if day_first < month_first:
        return "day", "day/month/year, the only order that fits", False
    return "month", "month/day/year, the only order that fits", False


def _text(cell: Any) -> str:
    return cell.strip() if isinstance(cell, str) else str(cell)


def _undeclared(cell: Any, order: str, ambiguous: bool) -> date | tuple[str, str]:
    if isinstance(cell, date):
        return _checked_date(cell)
    text = "" if cell is None else _text(cell)
    if match := _YEAR_FIRST.match(text):
        return _make(text, match[1], match[3], match[4])
    if match := _COMPACT.match(text):
        return _make(text, *match.groups())
    if (match := _YEAR_LAST.match(text)) and not ambiguous:
        day, month = (match[1], match[2]) if order == "day" else (match[2], match[1])
        return _make(text, match[3], month, day)
    if (match := _NAMED_MONTH.match(text)) and match[2][:3].lower() in _MONTHS:
        return _make(text, match[3], str(_MONTHS.index(match[2][:3].lower()) + 1), match[1])
    return _unread(text)


def _checked_date(cell: date) -> date | tuple[str, str]:
    """Take a date that a spreadsheet or a table in memory has as one."""
    if not isinstance(cell.year, int):  # pandas' NaT passes for a date
        return _unread("")
    year, month, day = f"{cell.year:04d}", f"{cell.month:02d}", f"{cell.day:02d}"
    return _make(f"{year}-{month}-{day}", year, month, day)


def _unread(text: str) -> tuple[str, str]:
    if not text:
        return "The date is blank.", "Write the date, or take the row out."
    if _YEAR_LAST.match(text):
        return f"'{text}' may be day/month or month/day.", ASK
    if _SHORT_YEAR.match(text):
        return f"'{text}' does not say which part is the year.", Text(
            "Say how to read it with ",
            Parameter("date_format"),
            ", such as ",
            Parameter("date_format", "MM/DD/YY"),
            ".",
        )
    remedy = Text("Write 2005-11-01, or declare ", Parameter("date_format"), ".")
    return f"'{text[:40]}' is not a date.", remedy


def _declared(cell: Any, form: str, declared: str) -> date | tuple[str, str]:
    if cell is None or isinstance(cell, date) or not _text(cell):
        return _undeclared(cell, "", False)  # a spreadsheet's own date needs no form
    text = _text(cell)
    try:
        found = datetime.strptime(text, form).date()
    except ValueError:
        return f"'{text[:40]}' is not a date of the form {declared}.", (
            "Correct the date, or declare the form that all rows have."
        )
    return _make(text, str(found.year), str(found.month), str(found.day))


def _make(text: str, year: str, month: str, day: str) -> date | tuple[str, str]:
    try:
        found = date(int(year), int(month), int(day))
    except ValueError:
        return f"'{text}' does not exist in the calendar.", "Correct the date."
    if not OLDEST <= found.year <= LATEST:
        return f"'{text}' lies outside {OLDEST}-{LATEST}.", "Correct the date."
    return found


def outside_years(days: NDArray[np.datetime64]) -> NDArray[np.bool_]:
    """Say which days no record has, for their year; NaT is none of them."""
    whole = days.astype("datetime64[D]")
    first, last = np.datetime64(f"{OLDEST}-01-01"), np.datetime64(f"{LATEST}-12-31")
    return (whole < first) | (whole > last)


def dates_from_parts(parts: dict[str, Sequence[Any]]) -> list[str]:
    """Join columns of year, month and day (or year and day of year) into ISO text."""
    joined = []
    if "doy" in parts:
        for year, doy in zip(parts["year"], parts["doy"], strict=True):
            try:
                joined.append(
                    datetime.strptime(f"{_whole(year)} {_whole(doy)}", "%Y %j").date().isoformat()
                )
            except ValueError:
                joined.append(f"{year} day {doy}")
    else:
        for row in zip(parts["year"], parts["month"], parts["day"], strict=True):
            joined.append("-".join(_whole(part) for part in row))
    return joined


def _whole(part: Any) -> str:
    text = _text(part)
    return text[:-2] if text.endswith(".0") else text
