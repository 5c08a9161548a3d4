"""Dates of ending a stand as rows, for the chart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.timing.calculate import (
    ROLLED,
)
from simulator.show.tables import (
    mean,
    spread,
)

if TYPE_CHECKING:
    import xarray as xr


def stages_of(at: xr.Dataset) -> Any:
    """Zadoks stages of the falls on a date, NaN where no stand lives."""
    return np.where(at["stand_alive"].values > 0, at["growth_stage_zadoks"].values, np.nan)


def chart_rows(found: xr.Dataset, system: units.System) -> list[dict[str, Any]]:
    """Return a row a date in the reader's units, with the ends of each band."""
    rows = []
    for end in found["end"].values:
        at = found.sel(end=end)
        row: dict[str, Any] = {"date": f"{2001 if str(end) < '07' else 2000}-{end}T00:00:00"}
        for name, field, kind in (
            ("biomass", "biomass_kg_ha", "mass"),
            ("ratio", "carbon_to_nitrogen", ""),
            ("water", "available_water_mm", "water"),
        ):
            values = at[field].values
            numbers = (mean(values), *spread(values))
            for part, value in zip(("", "_low", "_high"), numbers, strict=True):
                row[name + part] = _shown(value, kind, system)
        stage = stages_of(at)
        for part, which in (("", "middle"), ("_low", "low"), ("_high", "high")):
            row[f"rolled{part}"] = _shown(100.0 * mean(ROLLED.kill(stage, which)), "", system)
        rows.append(row)
    return rows


def _shown(value: float, kind: str, system: units.System) -> float | None:
    if not np.isfinite(value):
        return None
    return float(units.show(value, kind, system)) if kind else value
