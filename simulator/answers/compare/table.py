"""The full factorial as tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from simulator import units
from simulator.answers.compare.calculate import Difference, differences
from simulator.answers.compare.words import short_name
from simulator.answers.shared import bare_soil
from simulator.answers.shared.field_ranges import (
    IN_A_FIELD,
    OVER_FALLS,
    biomass_ranges,
    meaning,
    range_cells,
    range_columns,
)
from simulator.answers.shared.variety import named
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.parameters.varieties import variety
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
    span,
    spread,
    table,
)

if TYPE_CHECKING:
    import xarray as xr


def compare_tables(
    grid: xr.Dataset,
    system: units.System,
    errors: ModelErrors = SHIPPED,
    *,
    off: Sequence[Difference] | None = None,
    less: Sequence[bare_soil.Leached] | None = None,
) -> list[str]:
    """Print the full factorial: a table for each end and timing, a row a plan.

    Parameters
    ----------
    grid : Dataset
        From `compare` without changes.
    system : {"us", "si"}
    errors : ModelErrors
        How far off the model is, for the ranges.
    off, less
        From `differences` and `leached_less`, where they are known already.

    Returns
    -------
    list of str
        Differences within the same falls, then the plans, with bare soil where the grid has it.
    """
    mass, nitrogen = units.label("mass", system), units.label("nitrogen", system)
    several_falls, seeds = grid.sizes["year"] > 1, grid.sizes["seeding"] > 1
    columns = [
        Column("sown", left=True),
        *([Column("seed", mass)] if seeds else []),
        Column("N", nitrogen),
        Column("biomass", mass),
        *(range_columns(mass) if several_falls else [Column(IN_A_FIELD, mass)]),
        Column("N in\nshoots", nitrogen),
        Column("C:N"),
        Column("N\nleached", nitrogen),
        Column("median\nstage" if several_falls else "stage", "Zadoks"),
    ]
    laid = []
    of_variety = ("variety",) if "variety" in grid.dims else ()
    for outer in plans_of(grid, (*of_variety, "end", "nitrogen_timing")):
        rows, counts = [], []
        for plan in plans_of(grid, ("sow", "seeding", "nitrogen")):
            case = {
                name: variable.values
                for name, variable in grid.sel({**outer, **plan}).data_vars.items()
            }
            counts.append(known_falls(case["biomass_kg_ha"]))
            rows.append(
                _plan_cells(plan, case, errors, system, seeds=seeds, several_falls=several_falls)
            )
        bare = _bare_cells(
            grid, str(outer["end"]), seeds=seeds, several_falls=several_falls, system=system
        )
        for cells, count in bare:
            rows.append(cells)
            counts.append(count)
        when = wording.timing(outer["nitrogen_timing"])
        title = f"Nitrogen {when}, ended {wording.ending(outer['end'])}:"
        if not seeds:
            seed = units.spell(float(grid["seeding"].values[0]), "mass", system)
            title = f"Seeded at {seed}, nitrogen {title.removeprefix('Nitrogen ')}"
        if of_variety:
            title = f"{named(variety(str(outer['variety']))).capitalize()}: {title}"
        laid.append(f"{title}\n\n{table(*with_counts(columns, rows, counts, grid.sizes['year']))}")
    texts = [meaning(grid.sizes["year"]), *not_all_count(grid), MEASURES]
    laid.append(paragraph(" ".join(texts)))
    off = differences(grid, errors) if off is None else off
    less = bare_soil.leached_less(grid) if less is None else less
    beside = _leached_less(less, grid.attrs, several_falls, system)
    return [*_differences(off, several_falls, system), *beside, *laid, *_plants(grid, system)]


def _plan_cells(
    plan: dict[str, Any],
    case: dict[Any, Any],
    errors: ModelErrors,
    system: units.System,
    *,
    seeds: bool,
    several_falls: bool,
) -> list[str]:
    """Return a plan's row: what it is, and its fields over the falls."""
    ranges = biomass_ranges(case["biomass_kg_ha"], error=errors.level)
    cells = range_cells(ranges, "biomass", system)
    return [
        wording.dates_in(plan["sow"]),
        *([number(plan["seeding"], "mass", system)] if seeds else []),
        number(plan["nitrogen"], "nitrogen", system),
        number(mean(case["biomass_kg_ha"]), "biomass", system),
        *(cells if several_falls else cells[1:]),
        number(mean(case["nitrogen_uptake_kg_ha"]), "nitrogen", system),
        plain_number(mean(case["carbon_to_nitrogen"])),
        number(mean(case["nitrate_leached_kg_ha"]), "nitrogen", system),
        plain_number(median(case["growth_stage_zadoks"])),
    ]


def _plants(grid: xr.Dataset, system: units.System) -> list[str]:
    """Print the plants that came up, which neither nitrogen nor the end changes."""
    several_falls = grid.sizes["year"] > 1
    plants = units.label("plants", system)
    columns = [
        Column("sown", left=True),
        Column("seed", units.label("mass", system)),
        Column("came up", plants),
        *([Column(OVER_FALLS, plants)] if several_falls else []),
    ]
    up = grid["plants_emerged_m2"].max(("nitrogen", "nitrogen_timing", "end"))
    rows = []
    for plan in plans_of(grid, ("sow", "seeding")):
        values = up.sel(plan).values
        rows.append(
            [
                wording.dates_in(plan["sow"]),
                number(plan["seeding"], "mass", system),
                number(mean(values), "plants", system),
                *([span(spread(values), "plants", system)] if several_falls else []),
            ]
        )
    return [f"Plants that came up, before frost:\n\n{table(columns, rows)}"]


def _bare_cells(
    grid: xr.Dataset, end: str, *, seeds: bool, several_falls: bool, system: units.System
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
        *([NOTHING, NOTHING] if several_falls else [NOTHING]),
        nothing,
        NOTHING,
        number(mean(leached), "nitrogen", system),
        NOTHING,
    ]
    return [(cells, count)]


def _leached_less(
    found: Sequence[bare_soil.Leached],
    about: dict[str, Any],
    several_falls: bool,
    system: units.System,
) -> list[str]:
    """Print what each sowing date with its nitrogen leaches less than bare soil: a table an end."""
    nitrogen = units.label("nitrogen", system)
    columns = [
        Column("stand", left=True),
        Column("N", nitrogen),
        Column("N\nleached", nitrogen),
        Column("bare\nsoil", nitrogen),
        Column("less by", nitrogen),
        *([Column(OVER_FALLS, nitrogen), Column("less\nin falls")] if several_falls else []),
        Column("less by", "%"),
    ]
    laid = []
    for end in dict.fromkeys(one.end for one in found):
        rows = [_less_cells(one, several_falls, system) for one in found if one.end == end]
        laid.append(
            f"Nitrate nitrogen leached beside bare soil of the same fall, ended "
            f"{wording.ending(end)}:\n\n{table(columns, rows)}"
        )
    if laid:
        laid.append(paragraph(bare_soil.about_bare(about, system)))
    return laid


def _less_cells(one: bare_soil.Leached, several_falls: bool, system: units.System) -> list[str]:
    return [
        f"sown {wording.dates_in(one.sow)}",
        number(one.nitrogen, "nitrogen", system),
        number(mean(one.beside.planted), "nitrogen", system),
        number(mean(one.beside.bare), "nitrogen", system),
        number(one.beside.mean, "nitrogen", system),
        *(bare_soil.over_falls_less(one.beside, "nitrogen", system) if several_falls else []),
        plain_number(one.beside.percent),
    ]


def _differences(
    found: Sequence[Difference], several_falls: bool, system: units.System
) -> list[str]:
    """Print each level of each choice against the first, within the same falls."""
    if not found or not several_falls:
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
