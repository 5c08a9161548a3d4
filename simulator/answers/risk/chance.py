"""The chance of the target, what is made and what leaches, over groups of falls."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from simulator.answers.shared.few_falls import FEWEST, weighted_quantiles, wilson
from simulator.parameters.model_error import LEVEL, ModelError
from simulator.weather.year_weights import check_kinds, year_weights

if TYPE_CHECKING:
    import xarray as xr

Values = NDArray[np.float64]
ALL, FORECAST = "all falls", "forecast"  # groups of falls beside the kinds of year
NITRATE_LIMIT = 10.0  # mg/L of nitrate nitrogen in drinking water, US EPA and several states
# a column of biomass -> the share of falls, or of falls and fields, that make less
LEVELS = {"low": 0.1, "p20": 0.2, "median": 0.5, "p80": 0.8, "high": 0.9}
_MEANINGS = {
    "falls": ("1", "falls behind the row"),
    "falls_effective": ("1", "falls of equal weight that would say as much"),
    "chance_percent": ("percent", "chance of the target, of weather and field together"),
    "weather_chance_percent": ("percent", "share of falls that reach the target"),
    "weather_chance_low_percent": ("percent", "lower end of that share's 95 % Wilson interval"),
    "weather_chance_high_percent": ("percent", "upper end of that share's 95 % Wilson interval"),
    "biomass_mean_kg_ha": ("kg/ha", "mean dry matter of living shoots"),
    "nitrate_leached_kg_ha": ("kg/ha", "mean nitrate nitrogen leached below the soil column"),
    "drainage_mm": ("mm", "mean drainage below the soil column"),
    "nitrate_concentration_mg_l": ("mg/L", "nitrate nitrogen in drainage, flow-weighted mean"),
    "above_limit_percent": ("percent", "share of falls whose drainage is above the limit"),
    "latest_sowing": ("", "latest sowing whose chance is high enough, month-day"),
    "latest_chance_percent": ("percent", "chance of the target sown then"),
    "latest_loss_percent": ("percent", "by how much the chance falls with a week's delay, then"),
    "best_sowing": ("", "sowing with the best chance, month-day"),
    "best_chance_percent": ("percent", "chance of the target sown then, weather and field"),
    "weather_latest_sowing": ("", "latest sowing by weather alone, month-day"),
    "weather_latest_chance_percent": ("percent", "share of falls that reach the target sown then"),
    **{
        f"biomass_{name}_kg_ha": (
            "kg/ha",
            f"biomass that {100 * level:.0f} percent make less than, weather and field together",
        )
        for name, level in LEVELS.items()
    },
    **{
        f"weather_{name}_kg_ha": (
            "kg/ha",
            f"biomass that {100 * level:.0f} percent of falls make less than",
        )
        for name, level in LEVELS.items()
    },
}
_SOUGHT = ("latest", "best", "weather_latest")  # columns of `latest.latest_sowing` begin so


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
    grid: xr.Dataset,
    target: float,
    groups: Mapping[str, Values],
    *,
    worth: float = 1.0,
    error: ModelError = LEVEL,
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
    error : ModelError
        How far off the model is.

    Returns
    -------
    Dataset(kind, ...)
        The dimensions of the grid without year.
    """
    import xarray as xr

    dims = [str(d) for d in grid["biomass_kg_ha"].dims if d != "year"]
    shape = tuple(grid.sizes[d] for d in dims)
    columns = {
        name: _of_plans(grid[name])
        for name in ("biomass_kg_ha", "nitrate_leached_kg_ha", "drainage_mm")
    }
    reached = np.where(
        np.isfinite(columns["biomass_kg_ha"]), columns["biomass_kg_ha"] >= target, np.nan
    )
    columns["weather_chance"] = reached
    columns["chance"] = error.chance_of(target, columns["biomass_kg_ha"])
    names = [name for name in _MEANINGS if not name.startswith(_SOUGHT)]
    made = {name: np.full((len(groups), *shape), np.nan) for name in names}
    for g, weights in enumerate(groups.values()):
        for name, values in _of_group(columns, weights, worth, error).items():
            made[name][g] = values.reshape(shape)
    return xr.Dataset(
        {name: (("kind", *dims), values, meaning_of(name)) for name, values in made.items()},
        coords={"kind": list(groups), **{d: grid[d] for d in dims}},
    )


def _of_plans(values: xr.DataArray) -> Values:
    """Lay values out as array (plan, year)."""
    last = np.moveaxis(values.values, values.get_axis_num("year"), -1)
    return np.ascontiguousarray(last.reshape(-1, last.shape[-1]), float)


def _of_group(
    columns: Mapping[str, Values], weights: Values, worth: float, error: ModelError
) -> dict[str, Values]:
    """Work out a group of falls for all plans at once: name to array (plan,)."""
    inside = weights > 0
    biomass, leached, drained, reached, chance = (values[:, inside] for values in columns.values())
    kept = np.isfinite(biomass)
    share = np.where(kept, weights[inside], 0.0)
    whole, squares = share.sum(axis=-1), (share**2).sum(axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        effective = np.where(squares > 0, worth * whole**2 / squares, 0.0)

        def mean(values: Values) -> Values:
            summed = (np.where(kept, values, 0.0) * share).sum(axis=-1)
            return np.where(whole > 0, summed / whole, np.nan)

        water, lost = mean(drained), mean(leached)
        strength = np.where(water > 0, 100.0 * lost / water, np.nan)  # as `nitrogen.concentration`
        strong = np.where(drained > 0, 100.0 * leached / drained, 0.0) > NITRATE_LIMIT
    found = {
        "falls": kept.sum(axis=-1).astype(float),
        "falls_effective": effective,
        "biomass_mean_kg_ha": mean(biomass),
        "nitrate_leached_kg_ha": lost,
        "drainage_mm": water,
        "nitrate_concentration_mg_l": strength,
    }
    known = effective >= FEWEST - 1e-9

    def of_enough(values: Values) -> Values:
        return np.where(known, values, np.nan)

    proportion = of_enough(mean(reached))
    ends = np.array([wilson(*pair) for pair in zip(proportion, effective, strict=True)])
    found |= {
        "chance_percent": 100 * of_enough(mean(chance)),
        "weather_chance_percent": 100 * proportion,
        "weather_chance_low_percent": 100 * ends[:, 0],
        "weather_chance_high_percent": 100 * ends[:, 1],
        "above_limit_percent": 100 * of_enough(mean(strong.astype(float))),
    }
    for before, quantiles in (
        ("biomass", _quantiles(biomass, weights[inside], error)),
        ("weather", _quantiles(biomass, weights[inside])),
    ):
        for place, name in enumerate(LEVELS):
            found[f"{before}_{name}_kg_ha"] = of_enough(quantiles[:, place])
    return found


def _quantiles(biomass: Values, weights: Values, error: ModelError | None = None) -> Values:
    """Return quantiles of plans at `LEVELS`, (plan, level): of falls, or of falls and fields."""
    levels = list(LEVELS.values())
    made = biomass[..., None] if error is None else error.in_fields(biomass)
    if np.isfinite(biomass).all() and (weights == weights[:1]).all() and weights.size:
        flat = made.reshape(len(made), -1)
        return np.ascontiguousarray(
            np.quantile(flat, levels, axis=-1, overwrite_input=error is not None).T
        )
    of_each = np.repeat(weights, made.shape[-1])
    found = np.full((len(made), len(levels)), np.nan)
    for place, one in enumerate(made.reshape(len(made), -1)):
        there = np.isfinite(one)
        found[place] = weighted_quantiles(one[there], of_each[there], levels)
    return found
