"""Dates of ending a stand as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.shared.bare_soil import NAME
from simulator.answers.shared.field_ranges import how_far_off, meaning, range_cells, range_columns
from simulator.answers.timing.data import level_ranges, median_stage, stages_of
from simulator.answers.timing.left_table import left_tables
from simulator.answers.timing.words import way_used
from simulator.parameters.model_error import SHIPPED
from simulator.parameters.terminations import ENOUGH_KILL, WAYS
from simulator.show import wording
from simulator.show.charts import ranged
from simulator.show.tables import (
    NOTHING,
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


def tables(found: xr.Dataset, system: units.System) -> list[str]:
    """Print a row a date: what has grown, what the soil is left with, what each way can do."""
    printed = [_growth_table(found, system), _about_growth(found, system)]
    if "planting" in found.attrs:
        printed += [_at_planting(found, system), _about_planting(found, system)]
    printed += [_kill_table(found), _about_ways()]
    return [*printed, *left_tables(found, way_used(found), system)]


def _growth_table(found: xr.Dataset, system: units.System) -> str:
    mass = units.label("biomass", system)
    rows = []
    for end in found["end"].values:
        at = found.sel(end=end)
        rows.append(
            [
                wording.dates_in(str(end)),
                number(mean(at["biomass_kg_ha"].values), "biomass", system),
                *range_cells(level_ranges(at), "biomass", system),
                number(mean(at["growth_kg_ha_d"].values), "biomass", system),
                stage_text(at),
                plain_number(mean(at["carbon_to_nitrogen"].values)),
                number(mean(at["nitrogen_uptake_kg_ha"].values), "nitrogen", system),
            ]
        )
    columns = [
        Column("ended", left=True),
        Column("biomass", mass),
        *range_columns(mass),
        Column("growth\na day", mass),
        Column("Zadoks"),
        Column("C:N"),
        Column("nitrogen\nin shoots", mass),
    ]
    return table(columns, rows)


def stage_text(at: xr.Dataset) -> str:
    """Print the median stage of the falls and the range of 8 in 10: ``"39 (31-45)"``."""
    middle, low, high = (plain_number(stage) for stage in median_stage(at))
    return middle if middle == NOTHING or low == high else f"{middle} ({low}-{high})"


def _about_growth(found: xr.Dataset, system: units.System) -> str:
    falls = found.sizes["year"]
    errors = found.attrs.get("model_errors", SHIPPED)
    stages = (
        "Growth stages (Zadoks) are medians, stages that falls are in, with "
        f"{ranged(falls)} in brackets. "
        if falls > 1
        else ""
    )
    return paragraph(f"{meaning(falls)} {stages}{how_far_off(system, errors.level)}")


def _at_planting(found: xr.Dataset, system: units.System) -> str:
    rows = []
    for end in found["end"].values:
        at = found.sel(end=end)
        full = at["full_again"].values
        known = int(np.isfinite(full).sum())
        rows.append(
            [
                wording.dates_in(str(end)),
                number(mean(at["available_water_mm"].values), "water", system),
                over_falls(at["planting_water_mm"].values, "water", system),
                plain_number(100.0 * mean(at["planting_water_share"].values)),
                f"{np.nansum(full):.0f} of {known}" if known else NOTHING,
                over_falls(at["planting_nitrate_kg_ha"].values, "nitrogen", system),
                plain_number(100.0 * mean(at["planting_covered"].values)),
            ]
        )
    if "bare_planting_water_mm" in found:
        rows.append(_bare_cells(found, system))
    day = wording.dates_in(found.attrs["planting"])
    columns = [
        Column("ended", left=True),
        Column("water\nthat day", units.label("water", system)),
        Column(f"water\non {day}", units.label("water", system)),
        Column("of\nfull", "%"),
        Column("refilled\nby then", "falls"),
        Column(f"nitrate\non {day}", units.label("nitrogen", system)),
        Column("ground\ncovered", "%"),
    ]
    return table(columns, rows)


def _bare_cells(found: xr.Dataset, system: units.System) -> list[str]:
    """Print the soil on the day of planting where nothing was sown; the same for every date."""
    last = {name: found[name].max("end").values for name in map(str, found) if "bare_" in name}
    water = last["bare_planting_water_mm"]
    return [
        NAME,
        NOTHING,
        over_falls(water, "water", system),
        plain_number(100.0 * mean(water) / found.attrs["full_water_mm"]),
        NOTHING,
        over_falls(last["bare_planting_nitrate_kg_ha"], "nitrogen", system),
        plain_number(100.0 * mean(last["bare_planting_covered"])),
    ]


_LAID = {
    "rolled": "rolled flat",
    "flat": "mown and laid flat",
    "standing": "left standing",
    "buried": "most of it buried",
}


def _about_planting(found: xr.Dataset, system: units.System) -> str:
    falls = found.sizes["year"]
    figures = (
        f": means over the falls, with {ranged(falls)} in brackets. That range is the weather's "
        "alone: the"
        if falls > 1
        else ". The"
    )
    full = units.spell(found.attrs["full_water_mm"], "water", system)
    return paragraph(
        f"The soil on {wording.dates_in(found.attrs['planting'])}, when the next crop is planted, "
        f"for each date of ending{figures} model's soil water and nitrate have not been held "
        "against measured ones. Until then rain has sunk in, the soil has dried under the residue, "
        f"{_LAID[way_used(found).lie]}, and decay has freed or tied up nitrogen. Water is what "
        f"roots could take from the whole column, {full} when full, on the day of ending and on "
        "that of planting. Full again: on some day since the end each layer held what it can "
        "against gravity. Nitrate is that of the whole column. Bare soil: the same field without "
        "a stand and without nitrogen, under what is left of the old residue."
    )


def _kill_table(found: xr.Dataset) -> str:
    rows = []
    for end in found["end"].values:
        at = found.sel(end=end)
        rows.append(
            [wording.dates_in(str(end)), stage_text(at), *(_kill_percent(at, way) for way in WAYS)]
        )
    columns = [
        Column("ended", left=True),
        Column("Zadoks"),
        *(Column(way.name.replace(" and ", "\nand "), "% killed") for way in WAYS),
    ]
    return table(columns, rows)


def _about_ways() -> str:
    return paragraph(
        "Share of the stand expected to die by its growth stage, a mean over falls; in brackets "
        f"the range of trials. {100 * ENOUGH_KILL:.0f} % is wanted before planting."
    )


def _kill_percent(at: xr.Dataset, way: Any) -> str:
    stage = stages_of(at)
    shares = [100.0 * mean(way.kill(stage, which)) for which in ("middle", "low", "high")]
    middle, low, high = (plain_number(share) for share in shares)
    return f"{middle} ({low}-{high})"
