"""The full factorial as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import units
from simulator.answers.compare.calculate import differences
from simulator.answers.compare.words import short_name
from simulator.answers.shared.fields import (
    IN_A_FIELD,
    biomass_ranges,
    meaning,
    range_cells,
    range_columns,
)
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.show import wording
from simulator.show.grids import MEASURES, known_falls, not_all_count, plans_of, with_counts
from simulator.show.tables import (
    Column,
    mean,
    median,
    number,
    paragraph,
    plain_number,
    table,
)

if TYPE_CHECKING:
    import xarray as xr


def compare_tables(
    grid: xr.Dataset, system: units.System, errors: ModelErrors = SHIPPED
) -> list[str]:
    """Print the full factorial: a table for each end and timing, a row a plan.

    Parameters
    ----------
    grid : Dataset
        From `compare` without changes.
    system : {"us", "si"}
    errors : ModelErrors
        How far off the model is, for the ranges.

    Returns
    -------
    list of str
        Differences within the same falls, then the plans.
    """
    mass, nitrogen = units.label("mass", system), units.label("nitrogen", system)
    several, seeds = grid.sizes["year"] > 1, grid.sizes["seeding"] > 1
    columns = [
        Column("sown", left=True),
        *([Column("seed", mass)] if seeds else []),
        Column("N", nitrogen),
        Column("biomass", mass),
        *(range_columns(mass) if several else [Column(IN_A_FIELD, mass)]),
        Column("N in\nshoots", nitrogen),
        Column("C:N"),
        Column("N\nleached", nitrogen),
        Column("median\nstage" if several else "stage", "Zadoks"),
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
            cells = range_cells(
                biomass_ranges(case["biomass_kg_ha"], error=errors.level), "biomass", system
            )
            rows.append(
                [
                    wording.dates_in(plan["sow"]),
                    *([number(plan["seeding"], "mass", system)] if seeds else []),
                    number(plan["nitrogen"], "nitrogen", system),
                    number(mean(case["biomass_kg_ha"]), "biomass", system),
                    *(cells if several else cells[1:]),
                    number(mean(case["nitrogen_uptake_kg_ha"]), "nitrogen", system),
                    plain_number(mean(case["carbon_to_nitrogen"])),
                    number(mean(case["nitrate_leached_kg_ha"]), "nitrogen", system),
                    plain_number(median(case["growth_stage_zadoks"])),
                ]
            )
        when = wording.timing(outer["nitrogen_timing"])
        title = f"Nitrogen {when}, ended {wording.ending(outer['end'])}:"
        if not seeds:
            seed = units.spell(float(grid["seeding"].values[0]), "mass", system)
            title = f"Seeded at {seed}, nitrogen {title.removeprefix('Nitrogen ')}"
        laid.append(f"{title}\n\n{table(*with_counts(columns, rows, counts, grid.sizes['year']))}")
    texts = [meaning(grid.sizes["year"]), *not_all_count(grid), MEASURES]
    laid.append(paragraph(" ".join(texts)))
    return [*_differences(grid, system, errors), *laid]


def _differences(grid: xr.Dataset, system: units.System, errors: ModelErrors) -> list[str]:
    """Print each level of each choice against the first, within the same falls."""
    found = differences(grid, errors)
    if not found or grid.sizes["year"] < 2:
        return []
    mass = units.label("biomass", system)
    columns = [
        Column("more with", left=True),
        Column("than with", left=True),
        Column("ahead\nin falls"),
        Column("differ-\nence", mass),
        *range_columns(mass),
    ]
    rows = [
        [
            short_name(one.choice, one.second, system),
            short_name(one.choice, one.first, system),
            f"{one.ahead} of {len(one.years)}",
            number(one.mean, "biomass", system, sign=True),
            *range_cells(one.ranges, "biomass", system),
        ]
        for one in found
    ]
    return [
        f"Biomass within the same fall, a mean over all other choices:\n\n{table(columns, rows)}"
    ]
