"""Which of a grower's choices matters most, each taken over all the others."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.advice import wording

if TYPE_CHECKING:
    import xarray as xr

_CHOICES = {
    "sow": "Sowing date",
    "seeding": "Seeding rate",
    "nitrogen": "Nitrogen rate",
    "nitrogen_timing": "Time of nitrogen",
    "end": "End of the stand",
}


def main_effects(grid: xr.Dataset) -> dict[str, list[tuple[str | float, float]]]:
    """Mean biomass at each level of each choice that was varied.

    Parameters
    ----------
    grid : Dataset
        From `compare`.

    Returns
    -------
    dict of str to list of (level, biomass [kg/ha])
        The choice with the widest range first; each mean is over falls and all other choices.
        Timings are compared on the rates above the lowest, for without nitrogen they are one.
    """
    found: dict[str, list[tuple[str | float, float]]] = {}
    for choice in _CHOICES:
        if choice not in grid.dims or grid.sizes[choice] < 2:
            continue
        part = grid
        if choice == "nitrogen_timing" and grid.sizes["nitrogen"] > 1:
            part = grid.sel(nitrogen=grid["nitrogen"] > grid["nitrogen"].min())
        others = [dimension for dimension in part.dims if dimension != choice]
        means = part["biomass_kg_ha"].mean(others).values
        found[choice] = list(zip(grid[choice].values.tolist(), means.tolist(), strict=True))
    return dict(sorted(found.items(), key=lambda item: -_range(item[1])))


def _range(levels: list[tuple[str | float, float]]) -> float:
    return float(np.ptp([biomass for _, biomass in levels]))


def sentences(grid: xr.Dataset, system: units.System) -> list[str]:
    """Say what each choice does to biomass, the weightiest first."""
    told = []
    for choice, levels in main_effects(grid).items():
        ranked = sorted(levels, key=lambda level: -level[1])
        (best, most), (worst, least) = ranked[0], ranked[-1]
        told.append(
            f"{_CHOICES[choice]}: {_level(choice, best, system)} makes most, "
            f"{units.spell(most, 'mass', system)}, and {_level(choice, worst, system)} least, "
            f"{units.spell(least, 'mass', system)}, as means over all the other choices."
        )
    return told


def _level(choice: str, level: str | float, system: units.System) -> str:
    if choice in ("seeding", "nitrogen"):
        return units.spell(float(level), "mass", system)
    return wording.dates_in(str(level))
