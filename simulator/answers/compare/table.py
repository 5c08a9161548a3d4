"""The full factorial as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import units
from simulator.show import wording
from simulator.show.grids import known_falls, meaning, plans_of, with_counts
from simulator.show.tables import (
    Column,
    mean,
    number,
    over_falls,
    paragraph,
    plain_number,
    table,
)

if TYPE_CHECKING:
    import xarray as xr


def compare_tables(grid: xr.Dataset, system: units.System) -> str:
    """Print the full factorial: a table for each end and timing, a row a plan.

    Parameters
    ----------
    grid : Dataset
        From `compare` without changes.
    system : {"us", "si"}
    """
    mass, nitrogen = units.label("mass", system), units.label("nitrogen", system)
    columns = [
        Column("sown", left=True),
        Column("seed", mass),
        Column("N", nitrogen),
        Column("biomass", mass),
        Column("N in\nshoots", nitrogen),
        Column("C:N"),
        Column("N\nleached", nitrogen),
        Column("stage", "Zadoks"),
        Column("leaf\narea", "m2/m2"),
    ]
    laid = []
    for outer in plans_of(grid, ("end", "nitrogen_timing")):
        rows, counts = [], []
        for plan in plans_of(grid, ("sow", "seeding", "nitrogen")):
            case = {
                name: variable.values
                for name, variable in grid.sel({**outer, **plan}).data_vars.items()
            }
            counts.append(known_falls(case["biomass_kg_ha"]))
            rows.append(
                [
                    wording.dates_in(plan["sow"]),
                    number(plan["seeding"], "mass", system),
                    number(plan["nitrogen"], "nitrogen", system),
                    over_falls(case["biomass_kg_ha"], "mass", system),
                    number(mean(case["nitrogen_uptake_kg_ha"]), "nitrogen", system),
                    plain_number(mean(case["carbon_to_nitrogen"])),
                    number(mean(case["nitrate_leached_kg_ha"]), "nitrogen", system),
                    plain_number(mean(case["growth_stage_zadoks"])),
                    plain_number(mean(case["leaf_area_index"]), 1),
                ]
            )
        when = wording.timing(outer["nitrogen_timing"])
        title = f"Nitrogen {when}, ended {wording.ending(outer['end'])}:"
        laid.append(f"{title}\n\n{table(*with_counts(columns, rows, counts, grid.sizes['year']))}")
    return "\n\n".join([*laid, paragraph(meaning(grid))])
