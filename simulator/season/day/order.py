"""One day on the field: which process, in which order. It holds no equation of its own.

First a soil test if there is one, rain and snow, runoff, fertilizer,
mineralisation, drainage and leaching, emergence or growth, uptake, frost, evaporation.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator.process.canopy import light_interception
from simulator.process.compiled import compiled
from simulator.process.development import ANTHESIS, RIPE
from simulator.process.nitrogen import share_lost
from simulator.process.residue import residue_cover
from simulator.process.water import curve_number_runoff
from simulator.season.day.drivers import (
    COLUMNS,
    GROUND_WATER_IN,
    IRRIGATION,
    MICROBES,
    PRECIPITATION,
    REFERENCE,
    SNOW_DEPTH,
    SOIL_TEMPERATURE,
)
from simulator.season.day.soil import (
    apply_soil_test,
    denitrify,
    drain,
    evaporate,
    fertilize,
    turn_nitrogen_over,
)
from simulator.season.day.stand import (
    UNDER_SNOW,
    develop,
    draw_water,
    freeze,
    put_on_growth,
    reach,
    sow_and_emerge,
    take_up_nitrogen,
)
from simulator.season.day.state import CARBON, LAYERS

WHITE = 1.0  # cm of snow under which nothing evaporates
RESIDUE_AREA = 0.00053  # ha/kg, small grain (see residue_cover)

# what is the same today for all plans of a season, so that it is calculated once
MORNING = np.dtype(
    [
        ("weather", np.float64, (COLUMNS,)),  # the day's row of `simulator.season.day.drivers`
        ("ran_off", np.float64),  # mm
        # in soil at field capacity or wetter
        ("nitrified", np.float64),  # share of the ammonium
        ("decomposed", np.float64),  # share of the old residue
        ("tied", *LAYERS),  # share of each layer's nitrate
        ("tested", np.bool_),  # whether a soil test holds this morning
    ]
)

# what a day works with and leaves behind
WORK = np.dtype(
    [
        ("flow", *LAYERS),  # mm through the bottom
        ("filled", *LAYERS),  # mm of water, mean over the day
        ("rooted", *LAYERS),  # share that roots have entered
        ("wanted", *LAYERS),
        ("moving", *LAYERS),
        ("kept", *LAYERS),
        ("passing", *LAYERS),
        ("reached", np.int64),  # layers that roots have entered
        ("rooted_water", np.float64),  # mm that roots can draw
        ("air", np.float64),  # growth allowed by air in the soil, 1 is no stress
        ("reference", np.float64),  # mm of reference evapotranspiration, none under snow
        ("crop_coefficient", np.float64),
        ("intercepted", np.float64),  # share of the light
        ("covered", np.float64),  # share of the soil under the old residue
    ],
    align=True,
)


@compiled
def prepare_day(weather: Any, soil: Any, crop: Any, column: Any, morning: Any) -> None:
    """Calculate what all plans of a season have in common today.

    Parameters
    ----------
    weather : array (columns,)
        The day's row of `simulator.season.day.drivers`.
    soil, crop : record
        Parameter sets.
    column : record of `simulator.season.day.state.COLUMN`
    morning : record of `MORNING`
        Filled.

    References
    ----------
    The processes called; their docstrings name the papers.
    """
    for one in range(COLUMNS):
        morning.weather[one] = weather[one]
    microbes = weather[MICROBES]
    morning.ran_off = curve_number_runoff(weather[GROUND_WATER_IN], soil.curve_number)
    if microbes > 0.0:
        morning.nitrified = share_lost(soil.nitrification_rate, microbes)
        morning.decomposed = share_lost(crop.decay_rate, microbes)
        for layer in range(column.layers):
            morning.tied[layer] = share_lost(
                soil.immobilisation_rate, microbes * column.topsoil[layer]
            )


@compiled
def run_day(
    morning: Any,
    sows: bool,
    seeding: float,
    dressing: float,
    cereal: Any,
    soil: Any,
    crop: Any,
    fertilizer: Any,
    column: Any,
    field: Any,
    work: Any,
) -> None:
    """Take a field through one day.

    Parameters
    ----------
    morning : record of `MORNING`
    sows : bool
        Whether today is the day.
    seeding : float
        [kg/ha].
    dressing : float
        Nitrogen that goes on today [kg/ha].
    cereal, soil, crop, fertilizer : record
        Parameter sets.
    column : record of `simulator.season.day.state.COLUMN`
    field : record of `simulator.season.day.state.FIELD`
        Changed.
    work : record of `WORK`
        Work space.

    References
    ----------
    The processes called; their docstrings name the papers.
    """
    today = morning.weather
    if morning.tested:
        apply_soil_test(crop, column, field)
    field.precipitation += today[PRECIPITATION]
    field.irrigation += today[IRRIGATION]
    field.runoff += morning.ran_off
    fertilize(today, dressing, fertilizer, column, field)
    turn_nitrogen_over(morning, soil, crop, column, field)
    drain(morning, soil, column, field, work)
    denitrify(today, soil, column, field, work)

    work.covered = residue_cover(field.residue_carbon / CARBON, RESIDUE_AREA)
    sow_and_emerge(today, sows, seeding, cereal, soil, column, field, work)
    work.intercepted = light_interception(field.leaf_area, cereal.extinction)
    work.reference = today[REFERENCE] if today[SNOW_DEPTH] < WHITE else 0.0
    work.crop_coefficient = 0.0
    work.rooted_water = 0.0
    field.stress = 1.0
    field.nutrition = 0.0
    if field.emerged and field.alive:
        reach(cereal, soil, column, field, work)
        if field.development < RIPE:
            develop(today, cereal, column, field)
            if today[SNOW_DEPTH] < UNDER_SNOW and today[SOIL_TEMPERATURE] > 0.0:
                put_on_growth(today, cereal, field, work)
        if field.development < ANTHESIS:
            take_up_nitrogen(cereal, column, field, work)
        freeze(today, cereal, field)
    draw_water(column, field, work)
    evaporate(column, field, work)
