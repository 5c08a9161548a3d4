"""What tables of plans share: headings, the plans in order, the falls behind a row."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.show import wording
from simulator.show.tables import (
    Column,
    paragraph,
    spread_meaning,
)

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray


def place(about: dict[str, Any]) -> str:
    """Name a place, its latitude, and that it is invented where it is."""
    named = str(about["site"])
    if about.get("invented") == "yes":
        named += " (an invented place)"
    latitude = about.get("latitude")
    if latitude is not None and np.isfinite(float(latitude)):
        named += f", {float(latitude):g} degrees north"
    return named


def heading(about: dict[str, Any], years: list[int]) -> str:
    """Say what was grown where: the first paragraph of a grid's answer."""
    return paragraph(
        f"{wording.stand(about).capitalize()} on {about['soil']} after {about['previous_crop']}, "
        f"at {place(about)}; {wording.falls(years)}."
    )


def rates_title(plan: dict[str, Any], system: units.System) -> str:
    """Name what a table holds fixed: ``"Seeded at 90 lb/ac, nitrogen at sowing, ended ..."``."""
    return (
        f"Seeded at {units.spell(plan['seeding'], 'mass', system)}, nitrogen "
        f"{wording.timing(plan['nitrogen_timing'])}, ended {wording.ending(plan['end'])}"
    )


MEASURES = (
    "Biomass is dry matter of shoots; N leached is nitrate nitrogen leached below the soil column "
    "since September, before sowing too."
)


def not_all_count(grid: xr.Dataset) -> list[str]:
    """Say that not every fall counts, where an end was not always reached."""
    if not grid["biomass_kg_ha"].isnull().any():
        return []
    return [
        "Only falls in which the end was reached count; their number stands at the right, and of "
        "fewer than ten the lowest and highest are given."
    ]


def meaning(grid: xr.Dataset) -> str:
    """Say what the figures of the tables are."""
    texts = [spread_meaning(grid.sizes["year"]), *not_all_count(grid), MEASURES]
    return " ".join(text for text in texts if text)


def plans_of(grid: xr.Dataset, dimensions: tuple[str, ...]) -> list[dict[str, Any]]:
    """Return every combination of labels along the dimensions, the last running fastest."""
    labels = [grid[name].values for name in dimensions]
    return [dict(zip(dimensions, values, strict=True)) for values in product(*labels)]


def known_falls(values: NDArray[np.float64]) -> int:
    """Count the falls whose value is known."""
    return int(np.isfinite(values).sum())


def with_counts(
    columns: list[Column], rows: list[list[str]], counts: list[int], years: int
) -> tuple[list[Column], list[list[str]]]:
    """Add the number of falls behind each row where it is not that of the whole grid."""
    if all(count == years for count in counts):
        return columns, rows
    texts = [[*row, str(count)] for row, count in zip(rows, counts, strict=True)]
    return [*columns, Column("falls")], texts
