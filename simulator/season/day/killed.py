"""A field from the day on which its stand is killed to the day on which the next crop is planted.

No leaf transpires or takes up nitrogen any more; rain sinks in, and the soil dries under the
residue, whose decay gives nitrogen to the topsoil or ties it up there.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator.process.compiled import compiled, compiled_into_caller
from simulator.process.nitrogen import TOPSOIL, share_above, shoot_nitrogen
from simulator.process.residue import MICROBIAL_RATIO, residue_cover
from simulator.season.day.branching import Plans, nitrogen_on
from simulator.season.day.drivers import PRECIPITATION, REFERENCE, SNOW_DEPTH, SNOW_WATER, TMEAN
from simulator.season.day.lying import LOTS, decay_a_day, lay_down, on_the_ground
from simulator.season.day.order import (
    RESIDUE_AREA,
    WHITE,
    prepare_day,
    run_day,
)
from simulator.season.day.season import FieldArrays, Sets, new_field_arrays
from simulator.season.day.soil import (
    denitrify,
    drain,
    evaporate,
    fertilize,
    soil_test_day,
    turn_nitrogen_over,
)
from simulator.season.day.state import CARBON, FIELD

Array = np.ndarray[Any, Any]

# What is kept of the day of planting: name, unit, meaning. Sums run from termination.
AT_PLANTING = (
    ("planting_soil_water_mm", "mm", "water in the soil column on the day of planting"),
    ("planting_nitrate_kg_ha", "kg/ha", "nitrate nitrogen in the soil column on that day"),
    ("planting_ammonium_kg_ha", "kg/ha", "ammonium and urea nitrogen in the soil column then"),
    ("planting_covered", "1", "share of the ground under residue on that day, old and new"),
    ("planting_residue_kg_ha", "kg/ha", "dry matter of dead shoots on that day"),
    ("full_again", "1", "1 where the column was full on some day from termination on"),
    ("rain_until_planting_mm", "mm", "rain from termination to planting"),
    ("drained_until_planting_mm", "mm", "drainage from termination to planting"),
    ("ran_off_until_planting_mm", "mm", "runoff from termination to planting"),
    ("evaporated_until_planting_mm", "mm", "evaporation from termination to planting"),
    ("leached_until_planting_kg_ha", "kg/ha", "nitrate nitrogen leached in that time"),
    ("released_until_planting_kg_ha", "kg/ha", "nitrogen set free by residue, net of tied up"),
    ("planting_water_error_mm", "mm", "error of the water balance"),
    ("planting_nitrogen_error_kg_ha", "kg/ha", "error of the nitrogen balance"),
)
DAY = np.dtype([(name, np.float64) for name, _, _ in AT_PLANTING])

# what a killed stand leaves, beside its field and its residue
SINCE = np.dtype(
    [
        ("lies", np.bool_),  # whether it is killed
        ("full", np.bool_),  # whether the column was full since
        # the field's sums on the day of killing
        ("precipitation", np.float64),
        ("drainage", np.float64),
        ("runoff", np.float64),
        ("evaporation", np.float64),
        ("leached", np.float64),
    ],
    align=True,
)


@compiled
def is_full(column: Any, field: Any) -> bool:
    """Say whether each layer of the soil holds what it can against gravity.

    Parameters
    ----------
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
    """
    for layer in range(column.layers):
        if field.water[layer] < column.field_capacity[layer] - 1e-6:
            return False
    return True


@compiled
def kill(cereal: Any, lying: Any, column: Any, field: Any, lots: Any, since: Any) -> None:
    """Turn a living stand into residue.

    Parameters
    ----------
    cereal, lying : record
        Parameter sets.
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
    lots : record of `simulator.season.day.lying.LOTS`
        Filled.
    since : record of `SINCE`
        Filled.
    """
    in_shoots = shoot_nitrogen(field.nitrogen, field.shoot, field.root, cereal.root_nitrogen_ratio)
    in_roots = field.nitrogen - in_shoots
    shoot_ratio = CARBON * field.shoot / in_shoots if in_shoots > 0.0 else 1.0  # of nothing any
    root_ratio = CARBON * field.root / in_roots if in_roots > 0.0 else 1.0
    lay_down(field.shoot, shoot_ratio, field.root, root_ratio, lying, lots)
    since.lies = True
    since.full = is_full(column, field)
    since.precipitation = field.precipitation
    since.drainage = field.drainage
    since.runoff = field.runoff
    since.evaporation = field.evaporation
    since.leached = field.leached


@compiled
def decay_on_the_soil(today: Any, lying: Any, column: Any, field: Any, lots: Any) -> None:
    """Let residue decay, and give nitrogen to the topsoil or tie up what is there.

    Parameters
    ----------
    today : array (columns,)
        The day's row of `simulator.season.day.drivers`.
    lying : record
        Parameter set: how residue lies.
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
        The field is changed.
    lots : record of `simulator.season.day.lying.LOTS`
        Changed.
    """
    nitrate, ammonium = field.nitrate, field.ammonium
    mineral = 0.0
    for layer in range(column.layers):
        share = share_above(TOPSOIL, column.tops[layer], column.bottoms[layer])
        mineral += share * (nitrate[layer] + ammonium[layer])
    freed = decay_a_day(today[TMEAN], today[PRECIPITATION], mineral, lying, lots)
    if freed >= 0.0:
        ammonium[0] += freed
        return
    for layer in range(column.layers):  # of each its share
        taken = -freed / mineral * share_above(TOPSOIL, column.tops[layer], column.bottoms[layer])
        nitrate[layer] -= taken * nitrate[layer]
        ammonium[layer] -= taken * ammonium[layer]


@compiled
def lie_a_day(
    morning: Any,
    soil: Any,
    crop: Any,
    fertilizer: Any,
    lying: Any,
    column: Any,
    field: Any,
    lots: Any,
    since: Any,
    work: Any,
) -> None:
    """Take a field whose stand was killed through one day, in the order of a living one's.

    Parameters
    ----------
    morning : record of `simulator.season.day.order.MORNING`
    soil, crop, fertilizer, lying : record
        Parameter sets.
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
        The field is changed.
    lots : record of `simulator.season.day.lying.LOTS`
        Changed.
    since : record of `SINCE`
        Changed.
    work : record of `simulator.season.day.order.WORK`
        Work space.

    References
    ----------
    The processes called; their docstrings name the papers.
    """
    today = morning.weather
    field.precipitation += today[PRECIPITATION]
    field.runoff += morning.ran_off
    fertilize(today, 0.0, fertilizer, column, field)
    turn_nitrogen_over(morning, soil, crop, column, field)
    decay_on_the_soil(today, lying, column, field, lots)
    drain(morning, soil, column, field, work)
    denitrify(today, soil, column, field, work)
    since.full = since.full or is_full(column, field)
    work.covered = covered(lying, field, lots)
    work.intercepted = 0.0
    work.crop_coefficient = 0.0
    work.reference = today[REFERENCE] if today[SNOW_DEPTH] < WHITE else 0.0
    evaporate(column, field, work)


@compiled
def covered(lying: Any, field: Any, lots: Any) -> float:
    """Share of the ground under residue of the previous crop and of the stand, by chance on it.

    Parameters
    ----------
    lying : record
        Parameter set: how residue lies.
    field : record of `simulator.season.day.state.FIELD`
    lots : record of `simulator.season.day.lying.LOTS`

    References
    ----------
    Of each residue Gregory (1982), as in `simulator.process.residue`. That the two lie on each
    other by chance, so that bare shares multiply: from probability, common practice, no source.
    """
    old = residue_cover(field.residue_carbon / CARBON, RESIDUE_AREA)
    new = residue_cover(on_the_ground(lying, lots), lying.area)
    return float(1.0 - (1.0 - old) * (1.0 - new))


@compiled
def write_down_planting(
    morning: Any, lying: Any, column: Any, field: Any, lots: Any, since: Any, record: Any
) -> None:
    """Write down the day of planting.

    Parameters
    ----------
    morning : record of `simulator.season.day.order.MORNING`
    lying : record
        Parameter set: how residue lies.
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
    lots : record of `simulator.season.day.lying.LOTS`
    since : record of `SINCE`
    record : record of `DAY`
        Filled.
    """
    layers = column.layers
    shoots = lots.raised + lots.flat + lots.buried
    record.planting_soil_water_mm = field.water[:layers].sum()
    record.planting_nitrate_kg_ha = field.nitrate[:layers].sum()
    record.planting_ammonium_kg_ha = field.ammonium[:layers].sum() + field.urea
    record.planting_covered = covered(lying, field, lots)
    record.planting_residue_kg_ha = shoots / CARBON
    record.full_again = 1.0 if since.full else 0.0
    record.rain_until_planting_mm = field.precipitation - since.precipitation
    record.drained_until_planting_mm = field.drainage - since.drainage
    record.ran_off_until_planting_mm = field.runoff - since.runoff
    record.evaporated_until_planting_mm = field.evaporation - since.evaporation
    record.leached_until_planting_kg_ha = field.leached - since.leached
    record.released_until_planting_kg_ha = lots.released
    record.planting_water_error_mm = (
        (field.water_start + field.precipitation)
        - (record.planting_soil_water_mm + morning.weather[SNOW_WATER])
        - (field.runoff + field.drainage + field.evaporation + field.transpiration)
    )
    in_residue = (
        shoots / lots.shoot_ratio + lots.roots / lots.root_ratio + lots.microbes / MICROBIAL_RATIO
    )
    record.planting_nitrogen_error_kg_ha = (
        (field.nitrogen_start + field.applied + field.mineralised + field.seedling_nitrogen)
        + field.test_correction
        - (record.planting_nitrate_kg_ha + record.planting_ammonium_kg_ha + field.litter)
        - (in_residue + field.killed_nitrogen + field.shed_nitrogen)
        - (field.leached + field.denitrified + field.volatilised)
    )


@compiled_into_caller
def lie_until_planting(
    drivers: Array,
    first_day: int,
    planting_day: int,
    plan: int,
    plans: Plans,
    end_days: Array,
    sets: Sets,
    arrays: FieldArrays,
    lies: Array,
    out: Array,
) -> None:
    """Grow one plan, kill a copy of it on each day of ending, and follow each to planting.

    Parameters
    ----------
    drivers : array (day, columns)
    first_day, planting_day : int
        Season days; the soil runs from ``first_day`` on.
    plan : int
        Which of the plans.
    plans : Plans
    end_days : int array (end,)
        Season days; of one after planting nothing is written.
    sets, arrays
        See their classes.
    lies : structured array (lie,)
        How residue lies.
    out : structured array (end, lie) of `DAY`
        Filled.

    References
    ----------
    The processes called; their docstrings name the papers.
    """
    cereal, soil = sets.cereals[0], sets.soils[0]
    crop, fertilizer = sets.previous_crops[0], sets.fertilizers[0]
    column, morning, work = arrays.columns[0], arrays.mornings[0], arrays.works[0]
    living = arrays.starts.copy()
    killed = np.empty((end_days.size, lies.size), FIELD)
    lots = np.zeros((end_days.size, lies.size), LOTS)
    since = np.zeros((end_days.size, lies.size), SINCE)
    test_day = soil_test_day(first_day, crop)
    for day in range(first_day, planting_day + 1):
        prepare_day(drivers[day], soil, crop, column, morning)
        morning.tested = day == test_day
        for end in range(end_days.size):
            for one in range(lies.size):
                if since[end, one].lies:
                    laid = lies[one], column, killed[end, one], lots[end, one], since[end, one]
                    lie_a_day(morning, soil, crop, fertilizer, *laid, work)
        dressing = nitrogen_on(day, plan, plans)
        sowing = plans.sow_days[plan] == day, plans.seedings[plan]
        grown = cereal, soil, crop, fertilizer
        run_day(morning, *sowing, dressing, *grown, column, living[0], work)
        for end in range(end_days.size):
            if end_days[end] == day:
                for one in range(lies.size):
                    killed[end, one] = living[0]
                    kill(cereal, lies[one], column, living[0], lots[end, one], since[end, one])
    for end in range(end_days.size):
        for one in range(lies.size):
            if since[end, one].lies:
                laid = lies[one], column, killed[end, one], lots[end, one], since[end, one]
                write_down_planting(morning, *laid, out[end, one])


@compiled
def lie_members(
    drivers: Array,
    spans: Array,
    sow_days: Array,
    seedings: Array,
    dressing_days: Array,
    dressing_amounts: Array,
    end_days: Array,
    planting_days: Array,
    cereals: Array,
    soils: Array,
    previous_crops: Array,
    fertilizers: Array,
    lies: Array,
    bottoms: Array,
    out: Array,
) -> None:
    """Follow each plan of each season from its ends to planting.

    Parameters
    ----------
    drivers : array (season, day, columns)
    spans : int array (season, 2)
        First and last day of each season.
    sow_days : int array (season, plan)
    seedings : array (plan,)
    dressing_days : int array (season, plan, dressing)
    dressing_amounts : array (plan, dressing)
    end_days : int array (season, end)
    planting_days : int array (season,)
    cereals, soils, previous_crops, fertilizers : structured array (1,)
    lies : structured array (lie,)
    bottoms : array (layer,)
    out : structured array (season, plan, end, lie) of `DAY`
        Filled; left as it is where an end comes after planting.

    References
    ----------
    `lie_until_planting`.
    """
    sets = Sets(cereals, soils, previous_crops, fertilizers)
    arrays = new_field_arrays(sets, bottoms)
    for season in range(sow_days.shape[0]):
        plans = Plans(sow_days[season], seedings, dressing_days[season], dressing_amounts)
        for plan in range(sow_days.shape[1]):
            lie_until_planting(
                drivers[season],
                spans[season, 0],
                planting_days[season],
                plan,
                plans,
                end_days[season],
                sets,
                arrays,
                lies,
                out[season, plan],
            )
