"""Tables and paragraphs that people read, in plain text of 80 to 100 columns."""

from __future__ import annotations

import re
import shutil
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator import units

if TYPE_CHECKING:
    from numpy.typing import NDArray

NARROWEST, WIDEST = 60, 96
FEWEST_FOR_SHARES = 10  # falls from which on "8 of 10" means something
NOTHING = "-"  # stands where there is no number


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table.

    Parameters
    ----------
    title : str
        May be broken over lines.
    unit : str
        Stands below the title; empty for words and counts.
    left : bool
        Words stand left, numbers right.
    """

    title: str
    unit: str = ""
    left: bool = False


def table(columns: Sequence[Column], rows: Sequence[Sequence[str]]) -> str:
    """Lay out a table; every row is printed, whatever their number.

    Parameters
    ----------
    columns : sequence of Column
    rows : sequence of sequence of str
        One text a column.

    Returns
    -------
    str
        Without a line break at the end.
    """
    import tabulate

    tabulate.MIN_PADDING = 0  # columns no wider than they must be, so that 80 hold a table
    heads = [
        [*column.title.split("\n"), *([column.unit] if column.unit else [])] for column in columns
    ]
    tallest = max(map(len, heads))
    headers = ["\n".join([" "] * (tallest - len(head)) + head) for head in heads]
    laid = tabulate.tabulate(
        rows,
        headers,
        tablefmt="simple",
        disable_numparse=True,
        colalign=["left" if column.left else "right" for column in columns],
    )
    return "\n".join(line.rstrip() for line in laid.splitlines())


def parts_of(rule: str) -> list[slice]:
    """Return where the columns of a laid out table lie, by the line below its head."""
    return [slice(*run.span()) for run in re.finditer("-+", rule)]


def paragraph(text: str, *, first: str = "", rest: str | None = None) -> str:
    """Wrap a text to the terminal; ``first`` begins its first line, ``rest`` the others."""
    width = min(max(shutil.get_terminal_size((WIDEST, 24)).columns, NARROWEST), WIDEST)
    return textwrap.fill(
        text,
        width,
        initial_indent=first,
        subsequent_indent=" " * len(first) if rest is None else rest,
        break_on_hyphens=False,
        break_long_words=False,
    )


def number(
    value: float, kind: str, system: units.System, *, sign: bool = False, digits: int | None = None
) -> str:
    """Print an SI value in a system's unit, without the unit; a dash for NaN."""
    if not np.isfinite(value):
        return NOTHING
    digits = units.SHOWN[kind][1][system].digits if digits is None else digits
    shown = round(float(units.show(value, kind, system)), digits) + 0.0  # no -0
    return f"{shown:{'+' if sign and shown else ''}.{max(digits, 0)}f}"


def difference(before: float, after: float, kind: str, system: units.System) -> str:
    """Print after minus before, as the two printed numbers differ."""
    if not np.isfinite(before + after):
        return NOTHING
    digits = units.SHOWN[kind][1][system].digits
    shown = [round(float(units.show(value, kind, system)), digits) for value in (before, after)]
    return f"{shown[1] - shown[0]:+.{max(digits, 0)}f}" if shown[0] != shown[1] else "0"


def apart(one: float, other: float, kind: str, system: units.System) -> str:
    """Spell how far apart two numbers are, as printed: ``"3,520 lb/ac"``."""
    gap = abs(float(difference(one, other, kind, system)))
    return f"{gap:,.{max(units.SHOWN[kind][1][system].digits, 0)}f} {units.label(kind, system)}"


def plain_number(value: float, digits: int = 0) -> str:
    """Print a number that has no unit to change; a dash for NaN."""
    return NOTHING if not np.isfinite(value) else f"{round(float(value), digits) + 0.0:.{digits}f}"


def mean(values: NDArray[np.float64]) -> float:
    """Mean over falls, those without a value left aside; NaN where none has one."""
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else float("nan")


def median(values: NDArray[np.float64]) -> float:
    """Median over falls, those without a value left aside: a stage that a fall really had."""
    known = values[np.isfinite(values)]
    return float(np.quantile(known, 0.5, method="lower")) if known.size else float("nan")


def spread(values: NDArray[np.float64]) -> tuple[float, float]:
    """Return the range in which 8 of 10 falls lie; of fewer than ten falls, the whole range."""
    known = values[np.isfinite(values)]
    if not known.size:
        return float("nan"), float("nan")
    if known.size < FEWEST_FOR_SHARES:
        return float(known.min()), float(known.max())
    low, high = np.percentile(known, [10.0, 90.0])
    return float(low), float(high)


def over_falls(
    values: NDArray[np.float64], kind: str, system: units.System, *, sign: bool = False
) -> str:
    """Print the mean over falls and its spread: ``"5310 (3200-7400)"``; one fall alone."""
    shown = number(mean(values), kind, system, sign=sign)
    if np.isfinite(values).sum() < 2:
        return shown
    return f"{shown} ({span(spread(values), kind, system)})"


def span(ends: tuple[float, float], kind: str, system: units.System, *, sign: bool = False) -> str:
    """Print a range: ``"3200-7400"``, ``"-400 to 900"``; a dash for NaN."""
    if not np.isfinite(ends).all():
        return NOTHING
    low, high = (number(end, kind, system, sign=sign) for end in ends)
    return f"{low}{' to ' if low[0] in '-+' else '-'}{high}"


def spread_meaning(count: int) -> str:
    """Say what `over_falls` prints for a number of falls."""
    if count < 2:
        return ""
    within = (
        "the range in which 8 of 10 falls lie"
        if count >= FEWEST_FOR_SHARES
        else "the lowest and the highest fall"
    )
    return f"Each figure is a mean over the falls, with {within} in brackets."


def listed(title: str, texts: Sequence[str]) -> str:
    """Print texts under a title, each as a point; empty for no texts."""
    if not texts:
        return ""
    points = [paragraph(text, first="  - ") for text in texts]
    return "\n".join([title, *points])
