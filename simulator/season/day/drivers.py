"""Weather to the daily values that all plans of a site and year share."""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator.process.canopy import PHOTOSYNTHETIC, efficiency_by_light
from simulator.process.compiled import compiled
from simulator.process.development import (
    photoperiod_response,
    temperature_response,
    vernalization_rate,
)
from simulator.process.frost import crown_minimum, dehardening, soil_temperature
from simulator.process.nitrogen import soil_temperature_factor
from simulator.process.sun import extraterrestrial_radiation, photoperiod, radiation_of_day
from simulator.process.thermal_time import thermal_time
from simulator.process.water import reference_evapotranspiration, snow_share, snowmelt

Array = np.ndarray[Any, Any]

DAYS = 366  # a season, from 1 July on

# columns of the drivers
PRECIPITATION = 0  # rain and snow [mm]
GROUND_WATER_IN = 1  # rain and melt that reach the ground [mm]
SNOW_WATER = 2  # water in the snow at the end of the day [mm]
SNOW_DEPTH = 3  # [cm]
TMIN = 4  # [degC]
TMEAN = 5  # [degC]
RADIATION = 6  # [MJ m-2 d-1]
REFERENCE = 7  # reference evapotranspiration [mm]
THERMAL_TIME = 8  # [degC d] above 0
SOIL_TEMPERATURE = 9  # [degC]
CROWN_MINIMUM = 10  # [degC]
MICROBES = 11  # soil temperature factor
SOFTENING = 12  # hardiness lost where the stand does not harden [degC]
# and what a cereal makes of them
GROWTH = 13  # response of growth to daytime temperature, and of its efficiency to light
PROGRESS = 14  # response of development to temperature and photoperiod
WARMTH = 15  # response of development to temperature alone
VERNALIZATION = 16  # [d]
LEAF_WARMTH = 17  # thermal time above the base for leaf growth [degC d]
IRRIGATION = 18  # [mm], counted in `GROUND_WATER_IN`
COLUMNS = 19

MELT_FACTOR = 2.74  # mm degC-1 d-1, NEH-630 ch. 11
SNOW_PER_WATER = 0.5  # cm of settled snow for a mm of water (density 0.2, common practice)
SOIL_FOLLOWS = 0.25  # share of the gap to air temperature closed in a day
TWILIGHT = -6.0  # degrees of the sun at which plants' day begins and ends: civil, common practice


@compiled
def fill_drivers(
    tmax: Array,
    tmin: Array,
    rain: Array,
    measured: Array,
    day_of_year: Array,
    latitude: float,
    first: int,
    last: int,
    cereals: Array,
    out: Array,
) -> None:
    """Fill one season's drivers.

    Parameters
    ----------
    tmax, tmin, rain, measured, day_of_year : array (day,)
        A season from 1 July on; [degC, degC, mm]. Measured is radiation [MJ m-2 d-1]; where it is
        NaN, radiation is estimated.
    latitude : float
        Degrees north.
    first, last : int
        Days between which the weather is whole; the rest of ``out`` is left as it is.
    cereals : structured array (1,)
    out : array (day, `COLUMNS`)
        It has its irrigation already.

    References
    ----------
    The processes called; their docstrings name the papers.
    """
    cereal = cereals[0]
    snow = 0.0
    soil = 0.5 * (tmax[first] + tmin[first])
    for day in range(first, last + 1):
        row = out[day]
        high, low = tmax[day], tmin[day]
        mean = 0.5 * (high + low)
        falls_as_snow = rain[day] * snow_share(mean)
        snow += falls_as_snow
        melt = snowmelt(mean, snow, MELT_FACTOR)
        snow -= melt
        depth = SNOW_PER_WATER * snow
        soil = soil_temperature(soil, mean, depth, SOIL_FOLLOWS)
        above = extraterrestrial_radiation(latitude, day_of_year[day])
        row[PRECIPITATION] = rain[day]
        row[GROUND_WATER_IN] = rain[day] - falls_as_snow + melt + row[IRRIGATION]
        row[SNOW_WATER] = snow
        row[SNOW_DEPTH] = depth
        row[TMIN] = low
        row[TMEAN] = mean
        row[RADIATION] = measured[day]
        if np.isnan(measured[day]):
            row[RADIATION] = radiation_of_day(tmax, tmin, rain, day, above)
        row[REFERENCE] = reference_evapotranspiration(high, low, above)
        row[THERMAL_TIME] = thermal_time(high, low)
        row[SOIL_TEMPERATURE] = soil
        row[CROWN_MINIMUM] = crown_minimum(soil, mean, low, depth)
        row[MICROBES] = soil_temperature_factor(soil)
        row[SOFTENING] = dehardening(soil)
        daytime = 0.5 * (high + mean)
        warmth = temperature_response(
            mean,
            cereal.development_lowest,
            cereal.development_best,
            cereal.development_highest,
        )
        light = photoperiod(latitude, day_of_year[day], TWILIGHT)
        row[GROWTH] = efficiency_by_light(
            PHOTOSYNTHETIC * row[RADIATION], cereal.light_half
        ) * temperature_response(
            daytime, cereal.growth_lowest, cereal.growth_best, cereal.growth_highest
        )
        row[WARMTH] = warmth
        row[PROGRESS] = warmth * photoperiod_response(
            light, cereal.critical_photoperiod, cereal.optimum_photoperiod
        )
        row[VERNALIZATION] = vernalization_rate(mean)
        row[LEAF_WARMTH] = thermal_time(high - cereal.leaf_base, low - cereal.leaf_base)


def season_drivers(
    tmax: Array,
    tmin: Array,
    rain: Array,
    day_of_year: Array,
    latitude: float,
    spans: Array,
    cereal: Array,
    measured: Array | None = None,
    irrigation: Array | None = None,
) -> Array:
    """Drivers of many seasons.

    Parameters
    ----------
    tmax, tmin, rain, day_of_year : array (season, day)
    latitude : float
    spans : int array (season, 2)
        First and last day of each season whose weather is whole.
    cereal : structured array (1,)
    measured : array (season, day), optional
        Measured radiation [MJ m-2 d-1]; estimated where it is NaN, and without it.
    irrigation : array (season, day), optional
        [mm]; none without it.

    Returns
    -------
    array (season, day, `COLUMNS`)
        NaN outside the spans, but for irrigation.
    """
    out = np.full((*tmax.shape, COLUMNS), np.nan)
    if measured is None:
        measured = np.full(tmax.shape, np.nan)
    out[:, :, IRRIGATION] = 0.0 if irrigation is None else irrigation
    for season, (first, last) in enumerate(spans):
        fill_drivers(
            tmax[season],
            tmin[season],
            rain[season],
            measured[season],
            day_of_year[season],
            latitude,
            int(first),
            int(last),
            cereal,
            out[season],
        )
    return out
