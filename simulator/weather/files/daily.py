"""Daily values as a file has them, each with the place where the user will find it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.problems import Problem

UNKNOWN = "unknown"  # a unit in the header that is none
MOST_DAYS = 200_000  # over 500 years; more is not a daily record of one place


@dataclass(frozen=True, slots=True)
class Column:
    """One weather variable in a file, and the straight line from its unit to ours.

    Parameters
    ----------
    header : str
        As it stands in the file.
    unit : str
        As understood, for people; empty where the file does not say and nobody declared it.
    slope, offset : float
        Value inside [degC, mm or MJ m-2 d-1] = value written * slope + offset.
    """

    header: str
    unit: str
    slope: float = 1.0
    offset: float = 0.0


@dataclass(slots=True)
class Daily:
    """What was read from a file before it is checked.

    Parameters
    ----------
    file : str
        Name of the file.
    layout : str
        What the file is, for people.
    dates : (n,) datetime64[D]
        In the order of the file; NaT where the date cannot be read.
    written : dict of (n,) float
        ``tmax``, ``tmin``, ``rain``, ``radiation`` as far as found, in the units of the file; NaN
        for blank.
    columns : dict of Column
        Where each came from.
    rows : dict of (n,) int, or None
        The line in an editor or the row in a spreadsheet; None for netCDF, which has none.
    row_word : str
        ``"line"`` or ``"row"``.
    a_row_a_day : bool
        False for the layouts that give each variable a row of its own.
    date_form : str
        How dates were read, for people.
    about : dict
        ``site``, ``latitude``, ``longitude``, ``source``, ``invented``, ``changes``, ``filled``
        as found; of a table also ``soil``.
    about_at : dict of str to str
        Where those that stand in columns are read: file, row and column.
    problems, doubts : list of Problem
        What stops use, and what is only doubted.
    notes : list of str
        What was taken in another sense than written: traces, failed quality flags.
    """

    file: str
    layout: str
    dates: NDArray[np.datetime64]
    written: dict[str, NDArray[np.float64]]
    columns: dict[str, Column]
    rows: dict[str, NDArray[np.int64]] | None
    row_word: str = "line"
    a_row_a_day: bool = True
    date_form: str = "year-month-day"
    about: dict[str, Any] = field(default_factory=dict)
    about_at: dict[str, str] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    doubts: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def values(self, name: str) -> NDArray[np.float64]:
        """Return a variable in degC, mm or MJ m-2 d-1."""
        column = self.columns[name]
        with np.errstate(over="ignore"):  # an infinite value is named as beyond all weather
            return self.written[name] * column.slope + column.offset

    def spell(self, name: str, day: int) -> str:
        """Return a value as the file has it, with its unit."""
        return f"{self.written[name][day]:g} {self.columns[name].unit}"

    def place(self, day: int, name: str = "") -> str:
        """Say where the user finds a day, or one variable of it."""
        header = self.columns[name].header if name else ""
        if self.rows is None:
            return f"{self.file}, {self.dates[day]}" + (f", variable '{header}'" if name else "")
        if self.a_row_a_day:
            row = next(iter(self.rows.values()))[day]
            return f"{self.file}, {self.row_word} {row}" + (f", column '{header}'" if name else "")
        shown = [name] if name else list(self.rows)
        row = max(int(self.rows[each][day]) for each in shown)
        what = f"{header} of " if name else ""
        return f"{self.file}, {self.row_word} {row}, {what}{self.dates[day]}"

    def kept(self, keep: NDArray[np.intp]) -> Daily:
        """Return the days of these indices; lists are shared, so that faults gather."""
        return Daily(
            self.file,
            self.layout,
            self.dates[keep],
            {name: values[keep] for name, values in self.written.items()},
            self.columns,
            None if self.rows is None else {n: rows[keep] for n, rows in self.rows.items()},
            self.row_word,
            self.a_row_a_day,
            self.date_form,
            self.about,
            self.about_at,
            self.problems,
            self.doubts,
            self.notes,
        )
