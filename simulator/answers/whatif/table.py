"""The what-if as tables: weather as recorded beside changed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from simulator import units
from simulator.answers.shared.field_ranges import IN_A_FIELD, meaning, range_cells, range_columns
from simulator.answers.whatif import bare_soil
from simulator.answers.whatif.calculate import Effect, effects, paired
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.show import wording
from simulator.show.grids import (
    MEASURES,
    known_falls,
    not_all_count,
    plans_of,
    rates_title,
    with_counts,
)
from simulator.show.tables import (
    Column,
    difference,
    number,
    paragraph,
    plain_number,
    span,
    table,
)

if TYPE_CHECKING:
    import xarray as xr


def whatif_tables(grid: xr.Dataset, system: units.System, errors: ModelErrors = SHIPPED) -> str:
    """Print sowing dates x nitrogen rates, as recorded beside changed.

    Parameters
    ----------
    grid : Dataset
        From `compare` with changes.
    system : {"us", "si"}
    errors : ModelErrors
        How far off the model is, for the ranges.

    Returns
    -------
    str
        Three tables for each seeding rate, timing and end: biomass; what the nitrogen brought;
        what leached. Then what leached less than from bare soil, where the grid has it.
    """
    laid = []
    shown = paired(grid)
    for plan in plans_of(grid, ("seeding", "nitrogen_timing", "end")):
        subset = shown.sel({name: [value] for name, value in plan.items()})
        kept = subset.squeeze(["seeding", "end"])
        found = effects(kept, errors=errors)
        counts = [
            known_falls(
                kept["biomass_kg_ha"].sel(sow=one.sow, nitrogen=one.nitrogen)[..., 0].values
            )
            for one in found
        ]
        beside = _biomass_table(found, counts, subset.sizes["year"], system)
        laid.append(f"{rates_title(plan, system)}:\n\n{beside}")
        more = (
            f"above {units.spell(found[0].base, 'nitrogen', system)}"
            if found[0].base
            else "applied"
        )
        if any(one.applied > 0 for one in found):
            laid.append(f"Biomass gained by the nitrogen {more}:\n\n{_responses(found, system)}")
        laid.append(
            f"Nitrogen leached since September, and of the nitrogen {more}:\n\n"
            f"{_leaching(found, bare_soil.bare_means(grid, plan['end']), system)}"
        )
    laid += bare_soil.tables(grid, system)
    return "\n\n".join([*laid, paragraph(_meaning(shown))])


def _meaning(shown: xr.Dataset) -> str:
    """Say what the figures are."""
    return " ".join([meaning(shown.sizes["year"]), *not_all_count(shown), MEASURES])


def _biomass_table(
    found: Sequence[Effect], counts: list[int], years: int, system: units.System
) -> str:
    mass, nitrogen = units.label("biomass", system), units.label("nitrogen", system)
    columns = [
        Column("sown", left=True),
        Column("N", nitrogen),
        Column("biomass\nas re-\ncorded", mass),
        Column("biomass\nchanged", mass),
        Column("differ-\nence", mass),
        *range_columns(mass),
    ]
    rows = [
        [
            wording.dates_in(one.sow),
            number(one.nitrogen, "nitrogen", system),
            number(one.biomass.recorded, "biomass", system),
            number(one.biomass.changed, "biomass", system),
            difference(one.biomass.recorded, one.biomass.changed, "biomass", system),
            *range_cells(one.differs, "biomass", system),
        ]
        for one in found
    ]
    return table(*with_counts(columns, rows, counts, years))


def _responses(found: Sequence[Effect], system: units.System) -> str:
    mass, nitrogen = units.label("biomass", system), units.label("nitrogen", system)
    columns = [
        Column("sown", left=True),
        Column("N", nitrogen),
        Column("gained\nas re-\ncorded", mass),
        Column(IN_A_FIELD, mass),
        Column("gained\nchanged", mass),
        Column(IN_A_FIELD, mass),
        Column("share of\nas re-\ncorded", "%"),
    ]
    rows = []
    for one in found:
        if one.applied <= 0:
            continue
        gained = []
        for mean, ranges in zip((one.gained.recorded, one.gained.changed), one.brings, strict=True):
            field = span((ranges.low, ranges.high), "biomass", system)
            gained += [number(mean, "biomass", system, sign=True), field]
        rows.append(
            [
                wording.dates_in(one.sow),
                number(one.nitrogen, "nitrogen", system),
                *gained,
                plain_number(100.0 * one.response_kept),
            ]
        )
    return table(columns, rows)


def _leaching(
    found: Sequence[Effect], bare: tuple[float, float] | None, system: units.System
) -> str:
    nitrogen = units.label("nitrogen", system)
    columns = [
        Column("sown", left=True),
        Column("N", nitrogen),
        Column("leached\nas recorded", nitrogen),
        Column("leached\nchanged", nitrogen),
        Column("of it\nas recorded", nitrogen),
        Column("of it\nchanged", nitrogen),
    ]
    rows = []
    for one in found:
        pairs = [one.leached.recorded, one.leached.changed]
        own = [one.lost.recorded, one.lost.changed] if one.applied > 0 else [float("nan")] * 2
        rows.append(
            [
                wording.dates_in(one.sow),
                number(one.nitrogen, "nitrogen", system),
                *(number(value, "nitrogen", system) for value in (*pairs, *own)),
            ]
        )
    return table(columns, [*rows, *bare_soil.row_of(bare, system)])
