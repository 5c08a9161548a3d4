"""What plans cost, for files and JSON."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.budget.calculate import Standing, per_ton
from simulator.answers.budget.table import Shown, switched, ton
from simulator.answers.shared.field_ranges import Ranges
from simulator.show import wording

if TYPE_CHECKING:
    import xarray as xr


def dataset(grid: xr.Dataset, plans: Sequence[Standing], sign: str) -> xr.Dataset:
    """Lay the plans out as a grid: cost by the hectare, biomass, chance.

    Parameters
    ----------
    grid : Dataset
        From `compare`.
    plans : sequence of Standing
        From `standings` in SI; without nitrogen, of the first timing only. Those that the user
        gave beside the grid come last.
    sign : str
        Of the money.
    """
    import xarray as xr

    dims = ("sow", "seeding", "nitrogen", "nitrogen_timing", "end")
    by_plan: dict[tuple[str, float, float, str, str], Standing] = {}
    for s in plans:
        at = (s.plan.sow, s.plan.seeding, s.plan.nitrogen, s.plan.timing, s.plan.end)
        by_plan.setdefault(at, s)  # a plan of the user's may differ in its ending alone
    first = str(grid["nitrogen_timing"].values[0])
    fields: dict[str, tuple[str, str]] = {
        "biomass_kg_ha": ("kg/ha", "dry matter of living shoots, mean over falls"),
        "cost_per_ha": (f"{sign}/ha", "cost"),
        "cost_per_Mg": (f"{sign}/Mg", "cost by dry matter"),
        "chance_percent": ("percent", "chance of the target, weather and field together"),
        "weather_chance_percent": ("percent", "share of falls that reach the target"),
        "weather_chance_low_percent": ("percent", "lower end of that share's 95 % Wilson interval"),
        "weather_chance_high_percent": (
            "percent",
            "upper end of that share's 95 % Wilson interval",
        ),
        "biomass_low_kg_ha": ("kg/ha", "lower end of 8 in 10, weather and field together"),
        "biomass_high_kg_ha": ("kg/ha", "upper end of 8 in 10, weather and field together"),
        "weather_low_kg_ha": ("kg/ha", "lower end of 8 in 10 falls"),
        "weather_high_kg_ha": ("kg/ha", "upper end of 8 in 10 falls"),
    }
    shape = [grid.sizes[name] for name in dims]
    values = {name: np.full(shape, np.nan) for name in fields}
    labels = [grid[name].values.tolist() for name in dims]
    for place in np.ndindex(*shape):
        sow, seeding, nitrogen, timing, end = (labels[axis][i] for axis, i in enumerate(place))
        one = by_plan[sow, seeding, nitrogen, timing if nitrogen else first, end]
        cost = float(one.budget.total)
        low, high = one.interval
        for name, value in zip(
            fields,
            (
                one.mean,
                cost,
                1000 * cost / one.mean if one.mean > 0 else np.nan,
                100 * one.chance,
                100 * one.share,
                100 * low,
                100 * high,
                *_ends(one.ranges),
            ),
            strict=True,
        ):
            values[name][place] = value
    made = xr.Dataset(
        {
            name: (dims, values[name], {"units": unit, "long_name": meaning})
            for name, (unit, meaning) in fields.items()
        },
        coords={name: grid[name] for name in dims},
        attrs=grid.attrs,
    )
    return made.assign_attrs(year=wording.falls(grid["year"].values.tolist()))


def _ends(ranges: Ranges) -> tuple[float, ...]:
    return ranges.low, ranges.high, ranges.weather_low, ranges.weather_high


def as_json(shown: Shown, system: units.System) -> dict[str, Any]:
    """Return what the JSON object carries beside its rows; money as text, exact to the cent."""

    def text(amount: Decimal | None) -> str | None:
        return None if amount is None else str(amount)

    change = shown.change
    return {
        "plans": [_plan(one, system) for one in shown.pair],
        "partial": {
            "added_cost": str(change.added),
            "saved_cost": str(change.saved),
            "net_cost": str(change.cost),
            "biomass_gained_kg_ha": change.mean_gain if change.gained else None,
            **_nan_as_none(change.ranges.row("biomass_gained")),
            "can_be_told": change.ranges.is_clear,
            "break_even_per_ton": text(change.break_even(system)),
        },
        "cheapest": None if shown.best is None else _plan(shown.best, system),
        "frontier": [_plan(one, system) for one in shown.frontier],
        "next_unit": [
            {
                "of": n.name,
                "rate_kg_ha": n.rate,
                "form": None if n.choice.curve is None else n.choice.curve.form,
                "brings_kg_kg": n.slope if np.isfinite(n.slope) else None,
                **_nan_as_none(n.ranges.row("brings", "kg_kg")),
                "can_be_told": n.ranges.is_clear,
                "value_needed_per_ton": text(n.value_needed(system)),
            }
            for n in shown.next_units
        ],
        "price_swings": [
            {
                "price": s.name,
                "total_low": str(s.totals[0]),
                "total_high": str(s.totals[1]),
                "cheapest_changes": bool(switched(s, shown.best)),
            }
            for s in shown.swings
        ],
        "prices": {
            "label": shown.prices.label,
            "date": shown.prices.date,
            "currency": shown.prices.currency,
            "file": shown.prices.path or "packaged",
            "whose": shown.whose,
        },
        "target_kg_ha": shown.target,
        "wanted_percent": 100 * shown.wanted,
    }


def _nan_as_none(row: dict[str, float]) -> dict[str, float | None]:
    return {name: value if np.isfinite(value) else None for name, value in row.items()}


def _plan(s: Standing, system: units.System) -> dict[str, Any]:
    found = per_ton(s.budget.total, s.mean, system)
    return {
        "sow": s.plan.sow,
        "seeding_kg_ha": s.plan.seeding,
        "nitrogen_kg_ha": s.plan.nitrogen,
        "nitrogen_timing": s.plan.timing,
        "end": s.plan.end,
        "ended_by": list(s.plan.endings),
        "area": s.budget.area,
        "items": [
            {
                "name": i.name,
                "amount": str(i.amount),
                "unit": i.unit or "times",
                "cost": str(i.cost),
            }
            for i in s.budget.items
        ],
        "total": str(s.budget.total),
        "cost_per_ton": None if found is None else str(found),
        "ton": ton(system),
        "biomass_kg_ha": s.mean if np.isfinite(s.mean) else None,
        **_nan_as_none(
            dict(
                zip(
                    (
                        "biomass_low_kg_ha",
                        "biomass_high_kg_ha",
                        "weather_low_kg_ha",
                        "weather_high_kg_ha",
                    ),
                    _ends(s.ranges),
                    strict=True,
                )
            )
        ),
        "chance_percent": 100 * s.chance,
        "weather_chance_percent": 100 * s.share,
        "falls_at_target": s.reached,
        "falls": len(s.biomass),
    }
