"""What one day does in the soil: fertilizer, nitrogen turned over, drainage, what dries.

Which process, in which order; no equation of its own. `simulator.season.day.order` is the day.
"""

from __future__ import annotations

from typing import Any

from simulator.process.compiled import compiled
from simulator.process.nitrogen import (
    first_order,
    leach,
    mineralisation,
    set_to_soil_test,
    share_lost,
    soil_moisture_factor,
    volatilisation_moisture,
    wetness_for_denitrification,
)
from simulator.process.residue import decay_with_nitrogen, net_mineralisation
from simulator.process.water import (
    WETTEST,
    evaporation_reduction,
    mulch_factor,
    percolate,
    water_over_the_day,
)
from simulator.season.day.calendar import NEVER
from simulator.season.day.drivers import GROUND_WATER_IN, MICROBES


@compiled
def soil_test_day(first_day: int, crop: Any) -> int:
    """Return the season day for which the soil test holds, the soil's first for an earlier one.

    Parameters
    ----------
    first_day : int
        Season day on which the soil starts.
    crop : record
        Parameter set.
    """
    if crop.soil_test_day < 0.0:
        return NEVER
    return max(int(crop.soil_test_day), first_day)


@compiled
def apply_soil_test(crop: Any, column: Any, field: Any) -> None:
    """Let the soil have the mineral nitrogen that a soil test found this morning.

    Parameters
    ----------
    crop : record
        Parameter set.
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
        The field is changed.
    """
    layers = column.layers
    field.test_correction += set_to_soil_test(
        crop.soil_test_nitrogen,
        crop.soil_test_depth,
        field.nitrate[:layers],
        field.ammonium[:layers],
        column.tops[:layers],
        column.bottoms[:layers],
    )


@compiled
def fertilize(today: Any, dressing: float, fertilizer: Any, column: Any, field: Any) -> None:
    """Put a dressing on, and let urea and organic fertilizer turn to ammonium.

    Parameters
    ----------
    today : array (columns,)
        The day's row of `simulator.season.day.drivers`.
    dressing : float
        Nitrogen [kg/ha].
    fertilizer : record
        Parameter set.
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
        The field is changed.
    """
    if dressing > 0.0:
        field.applied += dressing
        field.nitrate[0] += dressing * fertilizer.nitrate
        field.ammonium[0] += dressing * fertilizer.ammonium
        field.urea += dressing * fertilizer.urea
        field.litter += dressing * (
            1.0 - fertilizer.nitrate - fertilizer.ammonium - fertilizer.urea
        )
    if field.urea > 0.0 or field.litter > 0.0:
        microbes = today[MICROBES]
        moisture = soil_moisture_factor(field.water[0], column.air_dry[0], column.field_capacity[0])
        lost = first_order(
            field.urea,
            fertilizer.volatilisation,
            microbes * volatilisation_moisture(today[GROUND_WATER_IN]),
        )
        field.urea -= lost
        field.volatilised += lost
        turned = first_order(field.urea, fertilizer.hydrolysis_rate, microbes * moisture)
        field.urea -= turned
        freed = first_order(field.litter, fertilizer.organic_rate, microbes * moisture)
        field.litter -= freed
        field.ammonium[0] += turned + freed


@compiled
def turn_nitrogen_over(morning: Any, soil: Any, crop: Any, column: Any, field: Any) -> None:
    """Mineralise and nitrify, and let the soil and the old residue give or tie up nitrogen.

    Parameters
    ----------
    morning : record of `simulator.season.day.order.MORNING`
    soil, crop : record
        Parameter sets.
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
        The field is changed.
    """
    microbes = morning.weather[MICROBES]
    if microbes <= 0.0:
        return
    water, organic = field.water, field.organic
    nitrate, ammonium = field.nitrate, field.ammonium
    mineralised = 0.0
    for layer in range(column.layers):
        moisture = soil_moisture_factor(
            water[layer], column.air_dry[layer], column.field_capacity[layer]
        )
        active = microbes * moisture
        at_best = moisture == 1.0
        freed = mineralisation(organic[layer], soil.mineralisation_rate, microbes, moisture)
        organic[layer] -= freed
        mineralised += freed
        ammonium[layer] += freed
        if ammonium[layer] > 1e-9:
            turned = ammonium[layer] * (
                morning.nitrified if at_best else share_lost(soil.nitrification_rate, active)
            )
            ammonium[layer] -= turned
            nitrate[layer] += turned
        tied = nitrate[layer] * (
            morning.tied[layer]
            if at_best
            else share_lost(soil.immobilisation_rate, active * column.topsoil[layer])
        )
        nitrate[layer] -= tied
        organic[layer] += tied
        mineralised -= tied
        if layer == 0:  # where the old residue lies
            decomposed = field.residue_carbon * (
                morning.decomposed if at_best else share_lost(crop.decay_rate, active)
            )
            freed = net_mineralisation(decomposed, crop.carbon_to_nitrogen)
            share = decay_with_nitrogen(freed, ammonium[0] + nitrate[0])
            freed *= share
            field.residue_carbon -= share * decomposed
            mineralised += freed
            if freed >= 0.0:
                ammonium[0] += freed
            else:
                from_ammonium = min(ammonium[0], -freed)
                ammonium[0] -= from_ammonium
                nitrate[0] -= -freed - from_ammonium
    field.mineralised += mineralised


@compiled
def drain(morning: Any, soil: Any, column: Any, field: Any, work: Any) -> None:
    """Let what did not run off sink in, and carry nitrate with it.

    Parameters
    ----------
    morning, work : record of `simulator.season.day.order.MORNING` and `WORK`
    soil : record
        Parameter set.
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
        The field is changed.
    """
    layers = column.layers
    flow, water = work.flow[:layers], field.water[:layers]
    field.drainage += percolate(
        water,
        morning.weather[GROUND_WATER_IN] - morning.ran_off,
        column.field_capacity[:layers],
        column.saturation[:layers],
        soil.drain_rate,
        flow,
    )
    field.leached += leach(
        field.nitrate[:layers],
        flow,
        column.field_capacity[:layers],
        work.passing[:layers],
        work.moving[:layers],
        work.kept[:layers],
    )
    for layer in range(layers):
        work.filled[layer] = water_over_the_day(
            water[layer], flow[layer], column.saturation[layer], column.thick[layer]
        )


@compiled
def denitrify(today: Any, soil: Any, column: Any, field: Any, work: Any) -> None:
    """Lose nitrate to the air from layers that are short of it themselves.

    Parameters
    ----------
    today : array (columns,)
        The day's row of `simulator.season.day.drivers`.
    soil : record
        Parameter set.
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
        The field is changed.
    work : record of `simulator.season.day.order.WORK`
    """
    microbes = today[MICROBES]
    if microbes <= 0.0:
        return
    nitrate, filled = field.nitrate, work.filled
    denitrified = 0.0
    for layer in range(column.layers):
        if filled[layer] > column.short_of_air[layer]:
            wet = wetness_for_denitrification(filled[layer] / column.saturation[layer])
            lost = first_order(
                nitrate[layer], soil.denitrification_rate, microbes * wet * column.topsoil[layer]
            )
            nitrate[layer] -= lost
            denitrified += lost
    field.denitrified += denitrified


@compiled
def evaporate(column: Any, field: Any, work: Any) -> None:
    """Dry the soil's surface, as far as stand and residue let the day at it.

    Parameters
    ----------
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
        The field is changed.
    work : record of `simulator.season.day.order.WORK`
    """
    water, wanted = field.water, work.wanted
    surface_water = 0.0
    for layer in range(column.surface_layers):
        wanted[layer] = column.surface[layer] * max(water[layer] - column.air_dry[layer], 0.0)
        surface_water += wanted[layer]
    if surface_water > 0.0:
        from_soil = min(
            evaporation_reduction(
                min(max(column.evaporable - surface_water, 0.0), column.evaporable),
                column.readily_evaporable,
                column.evaporable,
            )
            * max(WETTEST - work.crop_coefficient, 0.0),
            (1.0 - work.intercepted) * WETTEST,
        )
        dried = min(from_soil * mulch_factor(work.covered) * work.reference, surface_water)
        for layer in range(column.surface_layers):
            water[layer] -= dried * wanted[layer] / surface_water
        field.evaporation += dried
