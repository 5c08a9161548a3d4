"""The chance of the target, what is made and what leaches, over groups of falls."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from simulator.answers.shared.few_falls import FEWEST, effective_number, weighted_quantiles, wilson
from simulator.process.nitrogen import concentration
from simulator.weather.year_weights import check_kinds, year_weights

if TYPE_CHECKING:
    import xarray as xr

Values = NDArray[np.float64]
ALL, FORECAST = "all falls", "forecast"  # groups of falls beside the kinds of year
NITRATE_LIMIT = 10.0  # mg/L of nitrate nitrogen in drinking water, US EPA and several states
LEVELS = {
    "biomass_p10_kg_ha": 0.1,
    "biomass_p20_kg_ha": 0.2,
    "biomass_p50_kg_ha": 0.5,
    "biomass_p80_kg_ha": 0.8,
    "biomass_p90_kg_ha": 0.9,
}
_MEANINGS = {
    "falls": ("1", "falls behind the row"),
    "falls_effective": ("1", "falls of equal weight that would say as much"),
    "chance_percent": ("percent", "share of falls that reach the target"),
    "chance_low_percent": ("percent", "lower end of its 95 % Wilson interval"),
    "chance_high_percent": ("percent", "upper end of its 95 % Wilson interval"),
    "biomass_mean_kg_ha": ("kg/ha", "mean dry matter of living shoots"),
    "nitrate_leached_kg_ha": ("kg/ha", "mean nitrate nitrogen leached below the soil column"),
    "drainage_mm": ("mm", "mean drainage below the soil column"),
    "nitrate_concentration_mg_l": ("mg/L", "nitrate nitrogen in drainage, flow-weighted mean"),
    "above_limit_percent": ("percent", "share of falls whose drainage is above the limit"),
    "latest_sowing": ("", "latest sowing that reaches the target often enough, month-day"),
    "latest_chance_percent": ("percent", "share of falls that reach the target sown then"),
    **{
        name: ("kg/ha", f"biomass that {100 * level:.0f} percent of falls stay below")
        for name, level in LEVELS.items()
    },
}


def meaning_of(name: str) -> dict[str, str]:
    """Return the unit and the meaning of a column, as attributes."""
    unit, meaning = _MEANINGS[name]
    return {"units": unit, "long_name": meaning}


def groups_of(
    falls: Sequence[int], kinds: Mapping[int, str] | None, weights: Mapping[str, float] | None
) -> dict[str, Values]:
    """Weigh falls for each group: all alike, each kind by itself, and as the forecast has it."""
    groups = {ALL: np.ones(len(falls))}
    if kinds is None:
        return groups
    check_kinds(kinds, falls)
    of_falls = np.array([kinds[fall] for fall in falls])
    for kind in sorted(set(kinds.values())):
        groups[kind] = (of_falls == kind).astype(float)
    if weights is not None:
        groups[FORECAST] = year_weights(kinds, weights, falls)
    return groups


def chances(
    grid: xr.Dataset, target: float, groups: Mapping[str, Values], *, worth: float = 1.0
) -> xr.Dataset:
    """Chance, quantiles and nitrate of each plan, in each group of falls.

    Parameters
    ----------
    grid : Dataset
        From `compare`; a fall whose end was not reached counts for nothing.
    target : float
        [kg/ha].
    groups : mapping of str to (year,) float
        Weights of the falls.
    worth : float
        Recorded falls that one of these stands for.

    Returns
    -------
    Dataset(kind, ...)
        The dimensions of the grid without year.
    """
    import xarray as xr

    dims = [str(d) for d in grid["biomass_kg_ha"].dims if d != "year"]
    year = grid["biomass_kg_ha"].get_axis_num("year")
    columns = {
        name: np.moveaxis(grid[name].values, year, -1)
        for name in ("biomass_kg_ha", "nitrate_leached_kg_ha", "drainage_mm")
    }
    shape = tuple(grid.sizes[d] for d in dims)
    names = [name for name in _MEANINGS if not name.startswith("latest")]
    made = {name: np.full((len(groups), *shape), np.nan) for name in names}
    for g, weights in enumerate(groups.values()):
        for place in np.ndindex(shape):
            of_plan = {name: column[place] for name, column in columns.items()}
            for name, value in _of_plan(of_plan, weights, target, worth).items():
                made[name][(g, *place)] = value
    return xr.Dataset(
        {name: (("kind", *dims), values, meaning_of(name)) for name, values in made.items()},
        coords={"kind": list(groups), **{d: grid[d] for d in dims}},
    )


def _of_plan(
    columns: Mapping[str, Values], weights: Values, target: float, worth: float
) -> dict[str, float]:
    kept = np.isfinite(columns["biomass_kg_ha"]) & (weights > 0)
    weights = weights[kept]
    biomass, leached, drained = (values[kept] for values in columns.values())
    effective = worth * effective_number(weights)
    found: dict[str, float] = {"falls": float(kept.sum()), "falls_effective": effective}
    if not kept.any():
        return found
    share = weights / weights.sum()
    found["biomass_mean_kg_ha"] = float(share @ biomass)
    found["nitrate_leached_kg_ha"] = float(share @ leached)
    found["drainage_mm"] = float(share @ drained)
    if share @ drained > 0:
        found["nitrate_concentration_mg_l"] = concentration(
            found["nitrate_leached_kg_ha"], found["drainage_mm"]
        )
    if effective < FEWEST - 1e-9:
        return found
    above = np.array(
        [concentration(*pair) > NITRATE_LIMIT for pair in zip(leached, drained, strict=True)]
    )
    chance = float(share @ (biomass >= target))
    low, high = wilson(chance, effective)
    found |= {
        "chance_percent": 100 * chance,
        "chance_low_percent": 100 * low,
        "chance_high_percent": 100 * high,
        "above_limit_percent": 100 * float(share @ above),
    }
    levels = weighted_quantiles(biomass, weights, list(LEVELS.values()))
    return found | dict(zip(LEVELS, map(float, levels), strict=True))
