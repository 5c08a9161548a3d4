"""What plans cost, for files and JSON."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.budget.calculate import Standing, per_ton
from simulator.answers.budget.table import Shown, switched, ton
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
        From `standings` in SI; without nitrogen, of the first timing only.
    sign : str
        Of the money.
    """
    import xarray as xr

    dims = ("sow", "seeding", "nitrogen", "nitrogen_timing", "end")
    by_plan = {
        (s.plan.sow, s.plan.seeding, s.plan.nitrogen, s.plan.timing, s.plan.end): s for s in plans
    }
    first = str(grid["nitrogen_timing"].values[0])
    fields: dict[str, tuple[str, str]] = {
        "biomass_kg_ha": ("kg/ha", "dry matter of living shoots, mean over falls"),
        "cost_per_ha": (f"{sign}/ha", "cost"),
        "cost_per_Mg": (f"{sign}/Mg", "cost by dry matter"),
        "share_at_target": ("1", "share of falls that reach the target"),
        "share_low": ("1", "lower end of its 95 percent interval"),
        "share_high": ("1", "upper end of its 95 percent interval"),
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
                one.share,
                low,
                high,
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
            "break_even_per_ton": text(change.break_even(system)),
        },
        "cheapest": None if shown.best is None else _plan(shown.best, system),
        "frontier": [_plan(one, system) for one in shown.frontier],
        "next_unit": [
            {
                "of": n.name,
                "rate_kg_ha": n.rate,
                "brings_kg_kg": n.slope if np.isfinite(n.slope) else None,
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
        },
        "target_kg_ha": shown.target,
        "wanted_share": shown.wanted,
    }


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
        "falls_at_target": s.reached,
        "falls": len(s.biomass),
    }
