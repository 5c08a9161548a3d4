"""The outlook of a clipped stand as rows, for files and JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.outlook.clipped import Clipped
from simulator.answers.shared.few_falls import wilson

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

    Columns = dict[str, tuple[NDArray[Any], str, str]]

_CHANGED = (  # column, what it is called when it is the weather's alone
    ("biomass_low_kg_ha", "weather_low_kg_ha"),
    ("biomass_median_kg_ha", "weather_median_kg_ha"),
    ("biomass_high_kg_ha", "weather_high_kg_ha"),
    ("chance_percent", "weather_chance_percent"),
    ("chance_low_percent", "weather_chance_low_percent"),
    ("chance_high_percent", "weather_chance_high_percent"),
)


def with_clipped(columns: Columns, clipped: Clipped, target: float) -> Columns:
    """Put weather and field together in place of the weather alone, which goes beside it.

    Clippings count in the row of today; rows of earlier days stay as they were seen then.

    Parameters
    ----------
    columns : dict
        Name to array (as_of, end), unit and meaning.
    clipped : Clipped
    target : float
        [kg/ha].
    """
    chances = clipped.chance(target)
    falls = columns["others"][0][-1]
    ends = np.array(
        [
            wilson(share, min(clipped.counting or 1.0, n))
            for share, n in zip(chances, falls, strict=True)
        ]
    )
    today = dict(
        zip(
            (name for name, _ in _CHANGED),
            (*clipped.bands.T, 100 * chances, *(100 * ends.T)),
            strict=True,
        )
    )
    counted = np.zeros_like(columns["others"][0])
    counted[-1] = len(clipped.clippings)
    out = dict(columns)
    for name, alone in _CHANGED:
        values, unit, meaning = columns[name]
        together = values.copy()
        together[-1] = today[name]
        out[name] = (together, unit, meaning)
        out[alone] = (values, unit, f"{meaning}, by weather alone")
    out["clippings"] = (counted, "1", "clippings that count in the row")
    return out


def weather_alone(data: xr.Dataset) -> xr.Dataset:
    """Return the dataset as it is without the clippings; itself where none are clipped."""
    if "clippings" not in data:
        return data
    return data.assign({name: data[alone] for name, alone in _CHANGED})


def more_of_clipped(clipped: Clipped) -> dict[str, Any]:
    """Return what the JSON object says of the clippings."""
    names = ("biomass_low_kg_ha", "biomass_median_kg_ha", "biomass_high_kg_ha")
    return {
        "clippings": [
            {
                "date": one.date,
                "biomass_kg_ha": one.biomass,
                "error_percent": 100 * clipped.error,
                **{f"without_{name}": float(v) for name, v in zip(names, row, strict=True)},
            }
            for one, row in zip(clipped.clippings, clipped.without, strict=True)
        ],
        "draws": clipped.draws,
        "effective_draws": clipped.counting,
        "reached": clipped.reached,
        "past": [
            {"date": date, **dict(zip(names, map(float, row), strict=True))}
            for date, row in clipped.past
        ],
    }
