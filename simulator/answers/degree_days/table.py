"""Thermal time as tables: every method beside the others."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import units
from simulator.show import wording
from simulator.show.grids import place
from simulator.show.tables import FEWEST_FOR_SHARES, Column, mean, number, paragraph, spread, table
from simulator.show.wording import threshold

if TYPE_CHECKING:
    import xarray as xr

METHODS_ABREAST = 6  # columns of the table by year


def heading(sums: xr.Dataset, system: units.System) -> str:
    """Say what was counted, where and when."""
    about = sums.attrs
    span = f"{wording.dates_in(about['first'])} to {wording.dates_in(about['last'])}"
    falls = wording.falls(sums["year"].values.tolist())
    text = f"Thermal time from {span} at {place(about)}; {falls}."
    if "upper_degC" in about:
        text += f" The upper threshold is {threshold(about['upper_degC'], system)}."
    if about.get("changes"):
        text += f" The weather is changed: {about['changes']}."
    return paragraph(text)


def methods(sums: xr.Dataset, system: units.System) -> list[str]:
    """Print one table a base: the methods, their mean and their range over the falls."""
    unit = units.label("thermal_time", system)
    years = sums["year"].values
    columns = [Column("method", left=True), Column("mean" if years.size > 1 else "sum", unit)]
    if years.size >= FEWEST_FOR_SHARES:
        columns.append(Column("8 of 10 falls", unit))
    if years.size > 1:
        columns += [Column("lowest fall", unit), Column("highest fall", unit)]
    laid = []
    for base in sums["base"].values:
        rows = []
        for method in map(str, sums["counted_by"].values):
            values = sums["thermal_time_degC_d"].sel(base=base, counted_by=method).values
            row = [method, number(mean(values), "thermal_time", system)]
            if years.size >= FEWEST_FOR_SHARES:
                low, high = (number(end, "thermal_time", system) for end in spread(values))
                row.append(f"{low}-{high}")
            if years.size > 1:
                row += [
                    f"{number(values[at], 'thermal_time', system)} ({years[at]})"
                    for at in (values.argmin(), values.argmax())
                ]
            rows.append(row)
        laid.append(f"Above {threshold(float(base), system)}:\n\n{table(columns, rows)}")
    return laid


def by_year(sums: xr.Dataset, system: units.System) -> list[str]:
    """Print every fall, the methods abreast, in as many tables as they need."""
    unit = units.label("thermal_time", system)
    names = [str(name) for name in sums["counted_by"].values]
    laid = []
    for base in sums["base"].values:
        for first in range(0, len(names), METHODS_ABREAST):
            abreast = names[first : first + METHODS_ABREAST]
            columns = [Column("fall", left=True)]
            columns += [
                Column(name.replace(", ", " ").replace(" ", "\n"), unit) for name in abreast
            ]
            values = sums["thermal_time_degC_d"].sel(base=base, counted_by=abreast).values
            rows = [
                [str(year), *(number(value, "thermal_time", system) for value in row)]
                for year, row in zip(sums["year"].values, values, strict=True)
            ]
            title = f"Above {threshold(float(base), system)}, fall by fall:"
            laid.append(f"{title}\n\n{table(columns, rows)}")
    return laid
