"""What one day does to seed and seedlings that are still in the soil: dryness, flooding, a crust.

Which process, in which order; no equation of its own. `simulator.season.day.order` is the day.
"""

from __future__ import annotations

from typing import Any

from simulator.process.compiled import compiled
from simulator.process.establishment import (
    crust_made,
    flooded_part,
    seed_ageing,
    share_through_crust,
    share_through_flood,
    share_viable,
)
from simulator.season.day.drivers import GROUND_WATER_IN, SOIL_TEMPERATURE
from simulator.season.day.state import SURFACE


@compiled
def seedbed_water(column: Any, field: Any) -> float:
    """Water in the soil that seeds lie in [mm].

    Parameters
    ----------
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
    """
    surface_water = 0.0
    for layer in range(column.surface_layers):
        surface_water += column.surface[layer] * field.water[layer]
    return surface_water


@compiled
def dry_out(today: Any, water: float, moist: float, cereal: Any, column: Any, field: Any) -> None:
    """Let seed that has not sprouted lose viability where its seedbed is too dry for it to sprout.

    Parameters
    ----------
    today : array (columns,)
        The day's row of `simulator.season.day.drivers`.
    water, moist : float
        Of the seedbed: in mm, and as a share of what full germination asks for.
    cereal : record
        Parameter set.
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
        The field is changed.
    """
    if moist > 0.0:
        return
    field.seed_ageing += seed_ageing(
        water,
        column.surface_dry,
        column.surface_full,
        today[SOIL_TEMPERATURE],
        cereal.seed_life,
        cereal.seed_life_wetness,
    )
    field.left_by_dryness = share_viable(field.seed_ageing, cereal.seed_viability)


@compiled
def flood_and_crust(today: Any, cereal: Any, soil: Any, column: Any, field: Any, work: Any) -> None:
    """Let a flooded seedbed kill, and heavy rain make a crust.

    Parameters
    ----------
    today : array (columns,)
        The day's row of `simulator.season.day.drivers`.
    cereal, soil : record
        Parameter sets.
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
        The field is changed.
    work : record of `simulator.season.day.order.WORK`
    """
    pores = 0.0
    for layer in range(column.surface_layers):
        pores += column.surface[layer] * (column.saturation[layer] - work.filled[layer])
    part = flooded_part(pores / (10.0 * SURFACE), soil.flooded_air)
    if part > 0.0:
        before = max(field.flooded - cereal.flood_borne, 0.0)
        field.flooded += part
        field.flooded_beyond += max(field.flooded - cereal.flood_borne, 0.0) - before
        field.left_by_flooding = share_through_flood(field.flooded_beyond, cereal.flood_loss)
    else:
        field.flooded = 0.0
    field.crust = crust_made(field.crust, today[GROUND_WATER_IN], soil.crust_rain, work.covered)


@compiled
def share_that_comes_up(moist: float, soil: Any, field: Any) -> float:
    """Share of the seedlings that dryness, flooding and the crust leave on the day they come up.

    Parameters
    ----------
    moist : float
        Of the seedbed, as a share of what full germination asks for.
    soil : record
        Parameter set.
    field : record of `simulator.season.day.state.FIELD`
        Changed.
    """
    field.left_by_crust = share_through_crust(field.crust, moist, soil.crusting)
    return float(field.left_by_dryness * field.left_by_flooding * field.left_by_crust)
