"""The units of a table's columns: from their headers, declared, or shown by the numbers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from simulator.problems import InputError, Parameter, Problem, Text
from simulator.weather.files import ghcn
from simulator.weather.files.columns import DECLARED, KIND, WRITE, line_to, recognise
from simulator.weather.files.daily import UNKNOWN, Column, Daily
from simulator.weather.record import NAMES


def is_ghcn(header: Sequence[str]) -> bool:
    """Say whether a table is of GHCN-Daily, by its header."""
    return {"STATION", "DATE"} <= set(header)


def settle_units(
    daily: Daily,
    flags: dict[str, list[str]],
    from_ghcn: bool,
    units_of_file: Literal["us", "si"] | None,
    place: str,
    decimals_in_file: bool,
) -> None:
    """Settle the unit of each column: of its header, of GHCN-Daily, or as declared."""
    for name, column in list(daily.columns.items()):
        unit = recognise(column.header)[1]
        if unit:
            _set_unit(daily, name, unit, place)
    if units_of_file:
        _compare_units(daily, units_of_file, place)
    if all(column.unit for column in daily.columns.values()):
        return
    if from_ghcn:
        ghcn.settle_table(daily, flags, units_of_file, place, decimals_in_file)
    else:
        _declare_units(daily, units_of_file, place)


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
