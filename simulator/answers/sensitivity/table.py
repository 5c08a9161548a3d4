"""Indices of sensitivity as tables."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from simulator.answers.sensitivity.calculate import OUTCOMES
from simulator.answers.sensitivity.data import Row
from simulator.answers.shared.parameter_names import called
from simulator.show import wording
from simulator.show.tables import Column, paragraph, plain_number, table


def tables(rows: Sequence[Row], intervals_in: str) -> list[str]:
    """Print a table a place: parameters down, outcomes across, first order and total.

    Parameters
    ----------
    rows : sequence of Row
    intervals_in : str
        What has each interval.
    """
    laid = [_table(rows, site) for site in dict.fromkeys(row["site"] for row in rows)]
    meaning = (
        "First: the share of the outcome's variance that the parameter explains alone. Total: with"
        " all in which it takes part; one near 0 does not matter there."
    )
    widths = [
        row[f"{kind}_high"] - row[f"{kind}_low"]
        for row in rows
        for kind in ("first", "total")
        if row[f"{kind}_low"] is not None
    ]
    if widths:
        meaning += (
            f" By redrawing the samples, 90 % intervals are up to {max(widths):.2f} wide, on"
            f" average {np.mean(widths):.2f}; {intervals_in} give each."
        )
    return [*laid, paragraph(f"{meaning}{_in_files(rows)}")]


def _in_files(rows: Sequence[Row]) -> str:
    """Say what parameters are called where values are changed, if it is not the same."""
    names = dict.fromkeys(row["parameter"] for row in rows)
    other = [f"{called(one)} is {one}" for one in names if called(one) != one.replace("_", " ")]
    return f" In parameter files, {wording.join(other)}." if other else ""


def _table(rows: Sequence[Row], site: str) -> str:
    own = [row for row in rows if row["site"] == site]
    by = {(row["outcome"], row["parameter"]): row for row in own}
    names = list(dict.fromkeys(row["parameter"] for row in own))

    def largest(name: str) -> float:
        return max(by[outcome, name]["total"] or 0.0 for outcome in OUTCOMES)

    names.sort(key=largest, reverse=True)
    columns = [Column(site, left=True), Column("range", left=True)]
    for outcome in OUTCOMES:
        title = outcome.replace(" ", "\n", 1)
        columns += [Column(f"{title}\nfirst"), Column("\ntotal")]
    lines = []
    for name in names:
        one = by[OUTCOMES[0], name]
        line = [called(name), f"{one['low']:.3g} to {one['high']:.3g}"]
        for outcome in OUTCOMES:
            row = by[outcome, name]
            line += [
                plain_number(np.nan if row[key] is None else round(row[key], 2) + 0.0, 2)
                for key in ("first", "total")
            ]
        lines.append(line)
    return table(columns, lines)
