"""Dates of ending a stand as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator import units
from simulator.answers.timing.calculate import (
    ENOUGH_KILL,
    WAYS,
)
from simulator.answers.timing.data import stages_of
from simulator.show import wording
from simulator.show.tables import (
    Column,
    mean,
    number,
    over_falls,
    paragraph,
    plain_number,
    spread_meaning,
    table,
)

if TYPE_CHECKING:
    import xarray as xr


def tables(found: xr.Dataset, system: units.System) -> list[str]:
    """Print a row a date: what has grown and is left, then what each way of ending can do."""
    mass, water = units.label("mass", system), units.label("water", system)
    grown, ended = [], []
    for end in found["end"].values:
        at = found.sel(end=end)
        date = wording.dates_in(str(end))
        grown.append(
            [
                date,
                over_falls(at["biomass_kg_ha"].values, "mass", system),
                number(mean(at["growth_kg_ha_d"].values), "mass", system),
                plain_number(mean(at["growth_stage_zadoks"].values)),
                plain_number(mean(at["carbon_to_nitrogen"].values)),
                number(mean(at["nitrogen_uptake_kg_ha"].values), "nitrogen", system),
                number(mean(at["available_water_mm"].values), "water", system),
                plain_number(100.0 * mean(at["available_water_share"].values)),
                number(mean(at["soil_nitrate_kg_ha"].values), "nitrogen", system),
            ]
        )
        ended.append(
            [
                date,
                plain_number(mean(at["growth_stage_zadoks"].values)),
                *(_kill(at, way) for way in WAYS),
            ]
        )
    first = table(
        [
            Column("ended", left=True),
            Column("biomass", mass),
            Column("growth\na day", mass),
            Column("Zadoks"),
            Column("C:N"),
            Column("nitrogen\nin shoots", mass),
            Column("water\nleft", water),
            Column("of\nfull", "%"),
            Column("nitrate\nleft", mass),
        ],
        grown,
    )
    second = table(
        [
            Column("ended", left=True),
            Column("Zadoks"),
            *(Column(way.name.replace(" and ", "\nand "), "% killed") for way in WAYS),
        ],
        ended,
    )
    meaning = spread_meaning(found.sizes["year"])
    full = units.spell(found.attrs["full_water_mm"], "water", system)
    text = (
        f"{meaning} Water left is what roots could take from the whole column, {full} when "
        "full; nitrate is that of the column."
    )
    about = paragraph(text.strip())
    ways = paragraph(
        "Share of the stand expected to die by its growth stage, a mean over falls; in brackets "
        f"the range of trials. {100 * ENOUGH_KILL:.0f} % is wanted before planting."
    )
    return [first, about, second, ways]


def _kill(at: xr.Dataset, way: Any) -> str:
    stage = stages_of(at)
    shares = [100.0 * mean(way.kill(stage, which)) for which in ("middle", "low", "high")]
    middle, low, high = (plain_number(share) for share in shares)
    return f"{middle} ({low}-{high})"
