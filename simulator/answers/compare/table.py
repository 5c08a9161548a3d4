"""The full factorial as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import units
from simulator.answers.compare.calculate import differences
from simulator.answers.compare.words import short_name
from simulator.answers.shared import bare_soil
from simulator.answers.shared.fields import (
    IN_A_FIELD,
    OVER_FALLS,
    biomass_ranges,
    meaning,
    range_cells,
    range_columns,
)
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.show import wording
from simulator.show.grids import MEASURES, known_falls, not_all_count, plans_of, with_counts
from simulator.show.tables import (
    NOTHING,
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
        Differences within the same falls, then the plans, with bare soil where the grid has it.
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
        bare = _bare_cells(grid, str(outer["end"]), seeds=seeds, several=several, system=system)
        for cells, count in bare:
            rows.append(cells)
            counts.append(count)
        when = wording.timing(outer["nitrogen_timing"])
        title = f"Nitrogen {when}, ended {wording.ending(outer['end'])}:"
        if not seeds:
            seed = units.spell(float(grid["seeding"].values[0]), "mass", system)
            title = f"Seeded at {seed}, nitrogen {title.removeprefix('Nitrogen ')}"
        laid.append(f"{title}\n\n{table(*with_counts(columns, rows, counts, grid.sizes['year']))}")
    texts = [meaning(grid.sizes["year"]), *not_all_count(grid), MEASURES]
    laid.append(paragraph(" ".join(texts)))
    return [*_differences(grid, system, errors), *_leached_less(grid, system), *laid]


def _bare_cells(
    grid: xr.Dataset, end: str, *, seeds: bool, several: bool, system: units.System
) -> list[tuple[list[str], int]]:
    """Return bare soil's row below the plans of an end, and its falls; none where it has none."""
    if not bare_soil.has_bare(grid):
        return []
    leached = bare_soil.bare_leached(grid, end)
    if not (count := known_falls(leached)):
        return []
    nothing = number(0.0, "nitrogen", system)
    cells = [
        bare_soil.NAME,
        *([nothing] if seeds else []),
        nothing,
        number(0.0, "biomass", system),
        *([NOTHING, NOTHING] if several else [NOTHING]),
        nothing,
        NOTHING,
        number(mean(leached), "nitrogen", system),
        NOTHING,
    ]
    return [(cells, count)]


def _leached_less(grid: xr.Dataset, system: units.System) -> list[str]:
    """Print what each sowing date with its nitrogen leaches less than bare soil: a table an end."""
    found = bare_soil.leached_less(grid)
    nitrogen = units.label("nitrogen", system)
    several = grid.sizes["year"] > 1
    columns = [
        Column("stand", left=True),
        Column("N", nitrogen),
        Column("N\nleached", nitrogen),
        Column("bare\nsoil", nitrogen),
        Column("less by", nitrogen),
        *([Column(OVER_FALLS, nitrogen), Column("less\nin falls")] if several else []),
        Column("less by", "%"),
    ]
    laid = []
    for end in dict.fromkeys(one.end for one in found):
        rows = [_less_cells(one, several, system) for one in found if one.end == end]
        laid.append(
            f"Nitrate nitrogen leached beside bare soil of the same fall, ended "
            f"{wording.ending(end)}:\n\n{table(columns, rows)}"
        )
    if laid:
        laid.append(paragraph(bare_soil.about_bare(grid.attrs, system)))
    return laid


def _less_cells(one: bare_soil.Leached, several: bool, system: units.System) -> list[str]:
    return [
        f"sown {wording.dates_in(one.sow)}",
        number(one.nitrogen, "nitrogen", system),
        number(mean(one.beside.planted), "nitrogen", system),
        number(mean(one.beside.bare), "nitrogen", system),
        number(one.beside.mean, "nitrogen", system),
        *(bare_soil.over_falls_less(one.beside, "nitrogen", system) if several else []),
        plain_number(one.beside.percent),
    ]


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
