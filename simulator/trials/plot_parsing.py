"""From the cells of a plot table to its values, every fault with its row and column."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from simulator import units
from simulator.problems import InputError, Problem, fault, printable
from simulator.trials.plot_columns import (
    BY_NAME,
    COLUMNS,
    EXAMPLE,
    US_UNITS,
    Known,
    factor,
    find_header,
    recognise,
)
from simulator.weather.fall_year import FIRST_MONTH
from simulator.weather.files.dates import ASK, read_dates
from simulator.weather.files.spreadsheet import sheet_rows
from simulator.weather.files.tables.rows import LOOKED_AT, Rows
from simulator.weather.files.text import decode, split_rows

MOST_BYTES = 16 * 2**20
MOST_ROWS = 20_000
OF_WHAT = ("nitrogen", "n")  # headers that may be the plants' nitrogen or a dressing
WHICH_NITROGEN = (
    "Write nitrogen_fall (lb/acre) or nitrogen_spring (lb/acre) for what was "
    "applied, nitrogen_percent for what the plants hold."
)
_TAKEN = ("year", "season", "line", "row")  # what the table has of itself
_LONGEST_NAME = 40  # characters of a column of the trial's own
NOT_USED = "Columns that are not used"
_NUMBER = re.compile(r"^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?$")
_WITH_UNIT = re.compile(
    r"^[+-]?(?:\d[\d,]*\.?\d*|\.\d+)\s*(?:lbs?|kg|g|t|mg|tons?)\b", re.IGNORECASE
)


def fall_year(days: pd.Series) -> pd.Series:
    """Return the fall year of each day's season, which runs from 1 July."""
    return days.dt.year - (days.dt.month < FIRST_MONTH).astype(int)


def rows_of(path: Path) -> tuple[Rows, list[str]]:
    """Read the cells of a file that is there and of bounded size."""
    try:
        if path.is_dir():
            raise fault(str(path), "It is a folder.", "Give a plot table in it.")
        if not path.is_file():
            raise fault(str(path), "There is no such file.", "Check the name and the folder.")
        with path.open("rb") as opened:
            data = opened.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        raise fault(
            str(path), f"It cannot be opened: {error}.", "Check its permissions."
        ) from error
    if len(data) > MOST_BYTES:
        raise fault(
            path.name,
            f"It has more than {MOST_BYTES // 2**20} MB.",
            "Give a table with one row a plot or treatment.",
        )
    if data.startswith(b"PK\x03\x04"):
        return sheet_rows(path)
    text, encoding = decode(data, path.name, EXAMPLE)
    rows = split_rows(text, path.name, encoding, find_header)
    return rows, list(rows.notes)


@dataclass(slots=True)
class Reading:
    """A table on its way from cells to values; faults gather."""

    rows: Rows
    notes: list[str]
    problems: list[Problem] = field(default_factory=list)
    doubts: list[Problem] = field(default_factory=list)
    header: list[str] = field(default_factory=list)
    found: dict[str, int] = field(default_factory=dict)
    slope: dict[str, float] = field(default_factory=dict)
    body: list[list[Any]] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    system: units.System = "si"
    others: dict[str, int] = field(default_factory=dict)

    def place(self, row: int, name: str = "") -> str:
        """Say where the user finds a row, or a column of it."""
        where = f"{self.rows.file}, {self.rows.row_word} {self.numbers[row]}"
        return f"{where}, column '{self.header[self.found[name]]}'" if name in self.found else where

    def add(self, row: int, name: str, what: str, remedy: str = "") -> None:
        """Gather a fault of a row."""
        self.problems.append(Problem(self.place(row, name), what, remedy))

    def find_columns(self) -> None:
        """Find the header and what each of its cells means; take the rows below it."""
        cells = self.rows.cells
        at = find_header(cells[:LOOKED_AT])
        if at is None:
            raise fault(
                self.rows.file,
                "No header of a plot table was found.",
                f"Its first line should be such as {EXAMPLE}.",
            )
        self.header = [_text(cell) for cell in cells[at]]
        where = f"{self.rows.file}, {self.rows.row_word} {self.rows.numbers[at]}"
        ignored = []
        for index, cell in enumerate(self.header):
            known, unit = recognise(cell)
            if known is None:
                ignored += [f"'{cell[:40]}'"] if cell else []
                if cell:
                    self.others.setdefault(cell, index)
            elif known.name in self.found:
                both = f"'{self.header[self.found[known.name]]}' and '{cell}'"
                self.problems.append(
                    Problem(
                        where, f"{both} both name {known.plain}.", "Keep one, or rename the other."
                    )
                )
            else:
                self.found[known.name] = index
                self._settle_unit(known, unit, f"{where}, column '{cell}'")
        if ignored:
            self.notes.append(f"{NOT_USED}: {', '.join(ignored)}.")
        self.problems += [
            Problem(where, f"No column is {known.plain}.", f"Add a column {known.write}.")
            for known in COLUMNS
            if known.needed and known.name not in self.found
        ]
        kept = [i for i in range(at + 1, len(cells)) if any(map(_text, cells[i]))]
        if not kept:
            self.problems.append(
                Problem(
                    where, "Nothing stands below the header.", "Give one row a plot or treatment."
                )
            )
        if len(kept) > MOST_ROWS:
            raise fault(self.rows.file, f"It has more than {MOST_ROWS:,} rows.", "Split it.")
        self.body = [[*cells[i], *[None] * (len(self.header) - len(cells[i]))] for i in kept]
        self.numbers = [self.rows.numbers[i] for i in kept]
        for row, i in enumerate(kept):
            count = len(cells[i])
            extra = any(map(_text, cells[i][len(self.header) :]))
            if extra or (count < len(self.header) and self.rows.row_word == "line"):
                self.add(
                    row,
                    "",
                    f"It has {count} cells, the header {len(self.header)}.",
                    "Put as many as the header has.",
                )

    def _settle_unit(self, known: Known, unit: str, where: str) -> None:
        self.slope[known.name] = 1.0
        nitrogen = known.name == "nitrogen_percent"
        if not unit and known.unit in ("kg/ha", "cm"):
            self.problems.append(
                Problem(where, "The header does not say the unit.", f"Write {known.write}.")
            )
        elif not unit and nitrogen and self.header[self.found[known.name]].lower() in OF_WHAT:
            self.problems.append(
                Problem(where, "The header does not say which nitrogen.", WHICH_NITROGEN)
            )
        if not unit or not known.unit:
            return  # "latitude (degrees north)" needs none
        try:
            self.slope[known.name] = factor(unit, known.unit, name=where)
        except InputError as error:
            self.problems += [
                replace(problem, remedy=WHICH_NITROGEN) if nitrogen else problem
                for problem in error.problems
            ]
            return
        if known.name == "biomass_kg_ha" and re.findall(r"[a-z]+", unit.lower())[-1] in US_UNITS:
            self.system = "us"

    def values(self, date_format: str | None) -> pd.DataFrame:
        """Turn the cells into numbers, dates and texts, each in its column."""
        columns: dict[str, Any] = {}
        dated = [c.name for c in COLUMNS if c.kind == "date" and c.name in self.found]
        days = self._dates(dated, date_format)
        for known in COLUMNS:
            name = known.name
            cells = [row[self.found[name]] for row in self.body] if name in self.found else None
            if known.kind == "date":
                columns[name] = days.get(name, np.full(len(self.body), "NaT", "datetime64[D]"))
            elif known.kind == "number":
                columns[name] = (
                    np.full(len(self.body), np.nan)
                    if cells is None
                    else self._numbers(known, cells)
                )
            else:
                columns[name] = (
                    [""] * len(self.body)
                    if cells is None
                    else [" ".join(_text(cell).split()) for cell in cells]
                )
        columns["line"] = self.numbers
        table = pd.DataFrame(columns)
        for name in (c.name for c in COLUMNS if c.kind == "date"):
            table[name] = pd.to_datetime(table[name])
        for row in np.flatnonzero(table["site"] == "") if "site" in self.found else []:
            self.add(int(row), "site", "The site is blank.", "Write its name.")
        return table

    def own_columns(self, table: pd.DataFrame) -> tuple[str, ...]:
        """Add columns of the trial's own to a table, as text; return their names."""
        own: list[str] = []
        for cell, index in self.others.items():
            name = printable(cell[:_LONGEST_NAME])
            if name.lower() in _TAKEN or name in table or name in own:
                continue
            table[name] = [printable(" ".join(_text(row[index]).split())) for row in self.body]
            own.append(name)
        self.notes[:] = [note for note in self.notes if not note.startswith(NOT_USED)]
        return tuple(own)

    def _dates(self, names: Sequence[str], date_format: str | None) -> dict[str, Any]:
        """Read all the columns of dates at once, for one table has one form of date."""
        count = len(self.body)
        cells = [row[self.found[name]] for name in names for row in self.body]
        days, _, faults = read_dates(cells, date_format)
        asked = False
        for at, (what, remedy) in faults.items():
            name, row = names[at // count], at % count
            if not BY_NAME[name].needed and not _text(cells[at]):
                continue  # a dressing without a date of its own
            if remedy == ASK and asked:
                continue
            asked = asked or remedy == ASK
            self.add(row, name, what, remedy)
        return {name: days[i * count : (i + 1) * count] for i, name in enumerate(names)}

    def _numbers(self, known: Known, cells: list[Any]) -> Any:
        values = np.full(len(cells), np.nan)
        for row, cell in enumerate(cells):
            text = _text(cell).replace("\N{MINUS SIGN}", "-")
            if self.rows.decimal_comma and re.fullmatch(r"[+-]?\d*,\d+", text):
                text = text.replace(",", ".")
            if not text:
                if known.needed:
                    self.add(
                        row,
                        known.name,
                        f"The {known.plain} is blank.",
                        "Write it, or take the row out.",
                    )
            elif isinstance(cell, bool) or not _NUMBER.match(text):
                remedy = (
                    "Write a number, or take the row out."
                    if known.needed
                    else "Leave the cell blank if it was not measured."
                )
                what = f"'{text[:40]}' is not a number."
                if _WITH_UNIT.match(text):
                    what = f"'{text[:40]}' has a unit of its own."
                    remedy = "Keep one unit a column, in its header, and numbers alone below it."
                self.add(row, known.name, what, remedy)
            else:
                values[row] = float(text) * self.slope[known.name]
                if not known.low <= values[row] <= known.high:
                    self._out_of_range(row, known, text)
        return values

    def _out_of_range(self, row: int, known: Known, text: str) -> None:
        slope = self.slope[known.name]
        low, high = f"{known.low / slope:.4g}", f"{known.high / slope:.6g}"
        what = "is negative" if text.startswith("-") else f"lies outside {low} to {high}"
        self.add(row, known.name, f"'{text}' {what}.", f"Take {low} to {high}.")


def _text(cell: Any) -> str:
    return cell.strip() if isinstance(cell, str) else "" if cell is None else str(cell)
