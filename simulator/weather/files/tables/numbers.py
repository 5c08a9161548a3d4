"""Cells read as numbers: decimal commas, traces of rain, text that is none."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.problems import Problem
from simulator.weather.files.daily import Daily
from simulator.weather.files.tables.rows import text_of

NUMBER = re.compile(r"^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?$")
_DECIMAL_COMMA = re.compile(r"^[+-]?\d*,\d+$")
_DECIMAL_POINT = re.compile(r"^[+-]?\d*\.\d+$")
_TRACE = {"t", "tr", "trace"}


def number_of(text: str, decimal_comma: bool) -> float | None:
    """Read a number; None where the text is none."""
    plain = text.replace("\u2212", "-")
    if decimal_comma and _DECIMAL_COMMA.match(plain):
        plain = plain.replace(",", ".")
    return float(plain) if NUMBER.match(plain) else None


def doubt_decimal_commas(daily: Daily, written: dict[str, list[Any]]) -> Iterator[Problem]:
    """Doubt commas taken as decimal ones where other numbers of the table have points."""
    texts = {
        name: [text_of(cell) if isinstance(cell, str) else "" for cell in cells]
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


def read_numbers(
    daily: Daily, name: str, cells: list[Any], decimal_comma: bool
) -> NDArray[np.float64]:
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
        text = text_of(cell).replace("\u2212", "-")
        if not text:
            continue
        if decimal_comma and _DECIMAL_COMMA.match(text):
            text = text.replace(",", ".")
        if NUMBER.match(text):
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
        counted = "1 trace" if len(traces) == 1 else f"{len(traces)} traces"
        daily.notes.append(
            f"{counted} of rain taken as 0 "
            f"({daily.row_word} {', '.join(map(str, traces[:5]))}"
            f"{' ...' if len(traces) > 5 else ''})"
        )
    return values
