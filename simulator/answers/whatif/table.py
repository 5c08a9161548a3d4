"""The what-if as tables: weather as recorded beside changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import units
from simulator.answers.whatif.calculate import effects, paired
from simulator.season.cases import CHANGED, RECORDED
from simulator.show import wording
from simulator.show.grids import known_falls, meaning, plans_of, rates_title, with_counts
from simulator.show.tables import (
    Column,
    difference,
    mean,
    number,
    over_falls,
    paragraph,
    plain_number,
    table,
)

if TYPE_CHECKING:
    import xarray as xr


def whatif_tables(grid: xr.Dataset, system: units.System) -> str:
    """Print sowing dates x nitrogen rates, as recorded beside changed.

    Parameters
    ----------
    grid : Dataset
        From `compare` with changes.
    system : {"us", "si"}

    Returns
    -------
    str
        Two tables for each seeding rate, timing and end: biomass and leaching; what the
        nitrogen brought and lost.
    """
    laid = []
    shown = paired(grid)
    for plan in plans_of(grid, ("seeding", "nitrogen_timing", "end")):
        part = shown.sel({name: [value] for name, value in plan.items()})
        laid.append(rates_title(plan, system) + ":\n\n" + _beside(part.squeeze(list(plan)), system))
        if (part["nitrogen"] > part["nitrogen"].min()).any():
            kept = part.squeeze(["seeding", "end"])
            laid.append(_response_title(kept, system) + "\n\n" + _responses(kept, system))
    return "\n\n".join([*laid, paragraph(meaning(shown))])


def _beside(part: xr.Dataset, system: units.System) -> str:
    mass, nitrogen = units.label("mass", system), units.label("nitrogen", system)
    columns = [
        Column("sown", left=True),
        Column("N", nitrogen),
        Column("biomass\nas recorded", mass),
        Column("biomass\nchanged", mass),
        Column("differ-\nence", mass),
        Column("N leached\nrecorded", nitrogen),
        Column("N leached\nchanged", nitrogen),
    ]
    rows, counts = [], []
    for plan in plans_of(part, ("sow", "nitrogen")):
        cases = [part.sel(plan).sel(case=case) for case in (RECORDED, CHANGED)]
        biomass = [case["biomass_kg_ha"].values for case in cases]
        leached = [mean(case["nitrate_leached_kg_ha"].values) for case in cases]
        counts.append(known_falls(biomass[0]))
        rows.append(
            [
                wording.dates_in(plan["sow"]),
                number(plan["nitrogen"], "nitrogen", system),
                *(over_falls(values, "mass", system) for values in biomass),
                difference(mean(biomass[0]), mean(biomass[1]), "mass", system),
                *(number(value, "nitrogen", system) for value in leached),
            ]
        )
    return table(*with_counts(columns, rows, counts, part.sizes["year"]))


def _response_title(part: xr.Dataset, system: units.System) -> str:
    lowest = float(part["nitrogen"].min())
    than = f"above {units.spell(lowest, 'nitrogen', system)}" if lowest > 0 else "applied"
    return f"Biomass gained by the nitrogen {than}, and how much of that nitrogen leached:"


def _responses(part: xr.Dataset, system: units.System) -> str:
    mass, nitrogen = units.label("mass", system), units.label("nitrogen", system)
    columns = [
        Column("sown", left=True),
        Column("N", nitrogen),
        Column("gained\nas recorded", mass),
        Column("gained\nchanged", mass),
        Column("gain\nleft", "%"),
        Column("leached\nrecorded", nitrogen),
        Column("leached\nchanged", nitrogen),
    ]
    lowest = part["nitrogen"].min()
    gained = (part["biomass_kg_ha"] - part["biomass_kg_ha"].sel(nitrogen=lowest)).squeeze(
        "nitrogen_timing"
    )
    rows = []
    for effect in effects(part):
        if effect.applied <= 0:
            continue
        plan = gained.sel(sow=effect.sow, nitrogen=effect.nitrogen)
        rows.append(
            [
                wording.dates_in(effect.sow),
                number(effect.nitrogen, "nitrogen", system),
                *(
                    over_falls(plan.sel(case=case).values, "mass", system, sign=True)
                    for case in (RECORDED, CHANGED)
                ),
                plain_number(100.0 * effect.response_kept),
                number(effect.lost.recorded, "nitrogen", system),
                number(effect.lost.changed, "nitrogen", system),
            ]
        )
    return table(columns, rows)
