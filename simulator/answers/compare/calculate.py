"""Which of a grower's choices matters most, each taken over all the others."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import xarray as xr

CHOICES = {
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
    for choice in CHOICES:
        if choice not in grid.dims or grid.sizes[choice] < 2:
            continue
        part = grid
        if choice == "nitrogen_timing" and grid.sizes["nitrogen"] > 1:
            part = grid.sel(nitrogen=grid["nitrogen"] > grid["nitrogen"].min())
        others = [dimension for dimension in part.dims if dimension != choice]
        means = part["biomass_kg_ha"].mean(others).values
        found[choice] = list(zip(grid[choice].values.tolist(), means.tolist(), strict=True))
    return dict(sorted(found.items(), key=lambda item: -range_of(item[1])))


def range_of(levels: list[tuple[str | float, float]]) -> float:
    """Return how far apart the levels of a choice lie [kg/ha]."""
    return float(np.ptp([biomass for _, biomass in levels]))
