"""Bare soil as the plan that costs nothing and grows nothing: what costs keep from leaching."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.budget.calculate import BASIS, Bought, Standing
from simulator.answers.budget.table import Shown, an_area, money
from simulator.answers.shared.bare_soil import (
    LEACHED,
    Beside,
    about_bare,
    amount,
    bare_leached,
    beside,
    described,
    has_bare,
    over_falls_less,
    range_less,
    untried,
)
from simulator.answers.shared.field_ranges import OVER_FALLS
from simulator.parameters.price import cents
from simulator.show.tables import Column, number, paragraph, plain_number, spread, table

if TYPE_CHECKING:
    import xarray as xr


def kept_of(plans: Sequence[Standing], grids: Sequence[xr.Dataset]) -> dict[Bought, Beside]:
    """Set what each plan leaches beside bare soil, within the same falls.

    Parameters
    ----------
    plans : sequence of Standing
    grids : sequence of Dataset
        From `compare` with ``bare``; the first that has a plan is asked.

    Returns
    -------
    dict
        By plan; those whose end is no date have none.
    """
    found: dict[Bought, Beside] = {}
    for one in plans:
        at = {
            "sow": one.plan.sow,
            "seeding": one.plan.seeding,
            "nitrogen": one.plan.nitrogen,
            "nitrogen_timing": one.plan.timing,
            "end": one.plan.end,
        }
        for grid in grids:
            if not has_bare(grid) or not all(to in grid[name].values for name, to in at.items()):
                continue
            planted = grid[LEACHED].sel(at).values
            both = beside(grid["year"].values.tolist(), planted, bare_leached(grid, one.plan.end))
            if both is not None:
                found[one.plan] = both
            break
    return found


def cost_of_kept(one: Standing, both: Beside, system: units.System) -> Decimal | None:
    """Return a plan's whole cost by pound or kilogram of nitrate nitrogen kept from leaching.

    None where it cannot be told: the plan keeps none, or not in 8 of 10 falls, or costs nothing.
    """
    low, _ = spread(both.less)
    shown = Decimal(str(round(float(units.show(both.mean, "nitrogen", system)), 6)))
    if one.budget.total <= 0 or low <= 0.0 or shown <= Decimal("0.5"):
        return None
    return cents(one.budget.total / shown)


def sentences(shown: Shown, system: units.System) -> list[str]:
    """Say what A and B keep from leaching beside bare soil, and what that costs."""
    kept = shown.kept
    plans = [
        (name, one, kept[one.plan])
        for name, one in zip("AB", shown.pair, strict=True)
        if one.plan in kept
    ]
    if not plans:
        return []
    both = plans[0][2]
    leaches = units.spell(float(both.bare.mean()), "nitrogen", system)
    parts = [
        f"plan {name}, which costs {money(one.budget.total, shown.sign)} {an_area(system)}, "
        "leaches "
        f"{amount(less.mean, 'nitrogen', system)}{range_less(less, 'nitrogen', system)}"
        f"{_cost_of_kept_text(one, less, shown.sign, system)}"
        for name, one, less in plans
    ]
    ends = {one.plan.end for _, one, _ in plans}
    to = "" if len(ends) == 1 else f" to the end of plan {plans[0][0]}"
    mean = " as a mean over falls" if both.less.size > 1 else ""
    return [
        f"Bare soil, {described(shown.about, system)}, costs nothing, makes no biomass and leaches "
        f"{leaches} of nitrate nitrogen{to}{mean}. In the same fall {'; '.join(parts)}.",
        untried(shown.about),
    ]


def _cost_of_kept_text(one: Standing, less: Beside, sign: str, system: units.System) -> str:
    cost = cost_of_kept(one, less, system)
    mass = BASIS[system][1]
    if cost is None:
        return ""
    return f": {money(cost, sign)} for each {mass} kept, if it were for that alone"


def tables(shown: Shown, system: units.System) -> list[str]:
    """Print of the named plans what they leach less than bare soil, and what that costs."""
    kept = shown.kept
    named = [(name, one, kept[one.plan]) for name, one in shown.named.items() if one.plan in kept]
    if not named:
        return []
    area, mass, _ = BASIS[system]
    nitrogen = units.label("nitrogen", system)
    columns = [
        Column("plan", left=True),
        Column("cost", f"{shown.sign}/{area}"),
        Column("N\nleached", nitrogen),
        Column("bare\nsoil", nitrogen),
        Column("less by", nitrogen),
        Column(OVER_FALLS, nitrogen),
        Column("less\nin falls"),
        Column("less by", "%"),
        Column(f"cost of a\n{mass} kept"),
    ]
    rows = [
        [
            name,
            f"{one.budget.total:,}",
            number(float(less.planted.mean()), "nitrogen", system),
            number(float(less.bare.mean()), "nitrogen", system),
            number(less.mean, "nitrogen", system),
            *over_falls_less(less, "nitrogen", system),
            plain_number(less.percent),
            money(cost_of_kept(one, less, system), shown.sign),
        ]
        for name, one, less in named
    ]
    return [
        f"Nitrate nitrogen leached beside bare soil, which costs nothing:\n\n"
        f"{table(columns, rows)}",
        paragraph(
            f"{about_bare(shown.about, system)} The cost of a {mass} kept is the plan's whole "
            "cost, as if it were for that alone; it is given where the range over the falls is "
            "above nothing."
        ),
    ]


def json_rows(shown: Shown, system: units.System) -> dict[str, Any]:
    """Return bare soil as a plan, and what A, B and the winning one leach less than it."""
    kept = shown.kept
    if not kept:
        return {}
    rows = []
    for name, one in shown.named.items():
        if one.plan in kept:
            less = kept[one.plan]
            cost = cost_of_kept(one, less, system)
            planted = float(less.planted.mean())
            rows.append(
                {
                    "plan": name,
                    "nitrate_leached_kg_ha": planted,
                    **_nan_as_none(less.row("leached", "kg_ha")),
                    "cost_per_kg_kept": None if cost is None else str(cost),
                }
            )
    bare = {"total": "0.00", "biomass_kg_ha": 0.0, "chance_percent": 0.0, "cereal": "none"}
    return {"bare_soil": bare, "less_than_bare_soil": rows}


def _nan_as_none(row: Mapping[str, float | int]) -> dict[str, float | int | None]:
    return {name: value if np.isfinite(value) else None for name, value in row.items()}
