"""The outlook of a measured stand as rows, for files and JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.outlook.clipped import Clipped
from simulator.season.measured import COVER, UNIT_OF, Measured

if TYPE_CHECKING:
    import xarray as xr

Columns = dict[str, tuple[Any, str, str]]  # name to array, unit and meaning

TOGETHER = ("biomass_low_kg_ha", "biomass_median_kg_ha", "biomass_high_kg_ha", "chance_percent")


def with_clipped(columns: Columns, clipped: Clipped, target: float) -> Columns:
    """Let measurements count in the row of today; rows of earlier days stay as they were seen then.

    Parameters
    ----------
    columns : dict
        Name to array (as_of, end), unit and meaning.
    clipped : Clipped
    target : float
        [kg/ha].
    """
    today = dict(zip(TOGETHER, (*clipped.bands.T, 100 * clipped.chance(target)), strict=True))
    counted = np.zeros_like(columns["others"][0])
    counted[-1] = len(clipped.measured) - len(clipped.aside)
    out = dict(columns)
    for name, values in today.items():
        before, unit, meaning = columns[name]
        together = before.copy()
        together[-1] = values
        out[name] = (together, unit, meaning)
        out[f"untold_{name}"] = (before, unit, f"{meaning}, without what was measured")
    out["measurements"] = (counted, "1", "measurements that count in the row")
    return out


def without_measured(data: xr.Dataset) -> xr.Dataset:
    """Return the dataset as it is without what was measured; itself where nothing was."""
    if "measurements" not in data:
        return data
    return data.assign({name: data[f"untold_{name}"] for name in TOGETHER})


def more_of_clipped(clipped: Clipped) -> dict[str, Any]:
    """Return what the JSON object says of what was measured."""
    return {
        "measurements": [
            {
                "date": one.date,
                "kind": one.kind,
                "value": shown(one, one.value),
                "unit": UNIT_OF[one.kind],
                "left_aside": one in clipped.aside,
                **{
                    f"without_{end}": shown(one, float(value))
                    for end, value in zip(("low", "median", "high"), row, strict=True)
                },
            }
            for one, row in zip(clipped.measured, clipped.without, strict=True)
        ],
        "draws": clipped.draws,
        "effective_draws": clipped.counting,
        "reached": clipped.reached,
        "past": [
            {"date": date, **dict(zip(TOGETHER, map(float, row), strict=False))}
            for date, row in clipped.past
        ],
    }


def shown(one: Measured, value: float) -> float:
    """Return a value in the unit of `UNIT_OF`: cover in percent."""
    return 100.0 * value if one.kind == COVER else value
