"""A fit as tables: parameters, and skill before and after."""

from __future__ import annotations

from collections.abc import Sequence

from simulator import units
from simulator.answers.fit.data import DEFAULTS, FITTED, LEFT_OUT, REGRESSED, REGRESSED_OUT, Row
from simulator.show.tables import NOTHING, Column, number, paragraph, table
from simulator.trials.regression import REGRESSION


def tables(
    rows: Sequence[Row], skill: Sequence[Row], simulated: Sequence[str], system: units.System
) -> list[str]:
    """Print the parameters, and the skill by site and season."""
    return [*([_parameters(rows)] if rows else []), _skill(skill, simulated, system)]


def _parameters(rows: Sequence[Row]) -> str:
    known = any(row["interval_low"] is not None for row in rows)
    columns = [
        Column("of", left=True),
        Column("parameter", left=True),
        Column("unit", left=True),
        Column("default"),
        Column("fitted"),
        *([Column("interval", left=True)] if known else []),
        Column("searched", left=True),
        Column("warning", left=True),
    ]
    laid = table(
        columns,
        [
            [
                row["of"],
                row["parameter"],
                "" if row["unit"] == "1" else row["unit"],
                _shown(row["default"]),
                _shown(row["fitted"]),
                *([_between(row["interval_low"], row["interval_high"])] if known else []),
                f"{_shown(row['low'])} to {_shown(row['high'])}",
                ", ".join(row["warnings"]),
            ]
            for row in rows
        ],
    )
    meaning = "Parameters are in SI, as parameter files have them."
    if known:
        meaning += (
            " The interval holds 9 of 10 fits to seasons drawn anew from those of each site; few"
            " seasons make it too narrow, and one season gives none."
        )
    return f"{laid}\n\n{paragraph(meaning)}"


def _shown(value: float | None) -> str:
    return NOTHING if value is None else f"{value:.3g}"


def _between(low: float | None, high: float | None) -> str:
    return NOTHING if low is None else f"{_shown(low)} to {_shown(high)}"


def _skill(skill: Sequence[Row], simulated: Sequence[str], system: units.System) -> str:
    mass = units.label("mass", system)
    titles = {
        FITTED: "fitted\nRMSE",
        DEFAULTS: "defaults\nRMSE",
        LEFT_OUT: "left out\nRMSE",
        REGRESSED: "regression\nfitted",
        REGRESSED_OUT: "regression\nleft out",
    }
    columns = [
        Column("biomass", left=True),
        Column("rows"),
        Column("observed\nmean", mass),
        *(Column(titles[what], mass) for what in simulated),
    ]
    rows = [
        [
            row["group"],
            str(row["n"]),
            number(row["observed_kg_ha"], "mass", system),
            *(
                number(row[f"{what.replace(' ', '_')}_rmse_kg_ha"], "mass", system)
                for what in simulated
            ),
        ]
        for row in skill
    ]
    if not {REGRESSED, REGRESSED_OUT} & set(simulated):
        return table(columns, rows)
    return f"{table(columns, rows)}\n\n{paragraph(f'The regression is {REGRESSION}.')}"
