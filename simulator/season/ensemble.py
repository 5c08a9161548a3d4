"""One plan through many made-up seasons at once: weather put together day by day, not recorded."""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np

from simulator.parameters import cereals, fertilizers, soils
from simulator.season import plan as plans
from simulator.season.arrays import empty_days
from simulator.season.compiling import Announce, announce_compiling
from simulator.season.day.calendar import BY_DATE
from simulator.season.day.drivers import DAYS, season_drivers
from simulator.season.day.loop import grow_members
from simulator.season.seasons import by_day
from simulator.weather.fall_year import season_day

Array = np.ndarray[Any, Any]

AT_ONCE = 32  # seasons that a thread takes at a time: few, so that none waits for another


@dataclass(frozen=True, slots=True, kw_only=True)
class DatedPlan:
    """One plan, at several nitrogen rates, on the calendar of one fall year.

    Parameters
    ----------
    year : int
        Fall year whose calendar the seasons are laid on.
    first : int
        Season day on which the soil starts.
    latitude : float
        [degrees north].
    sow : str
        Sowing date, MM-DD.
    seeding : float
        [kg/ha].
    rates : sequence of float
        Nitrogen [kg/ha].
    timing : tuple of Dressing
    irrigation : tuple of Irrigation
    ends : sequence of str
        Dates on which the stand is looked at, MM-DD, the last of them its end.
    cereal, soil, previous_crop, fertilizer : parameter set
    """

    year: int
    first: int
    latitude: float
    sow: str
    seeding: float
    rates: Sequence[float]
    timing: tuple[plans.Dressing, ...]
    irrigation: tuple[plans.Irrigation, ...] = ()
    ends: Sequence[str]
    cereal: cereals.Cereal
    soil: soils.Soil
    previous_crop: soils.PreviousCrop
    fertilizer: fertilizers.Fertilizer


def _days_of_year(year: int) -> Array:
    """Day of the calendar year of each season day."""
    days = season_day(year, "07-01") + np.arange(DAYS)
    counted: Array = (days - days.astype("datetime64[Y]")).astype(int) + 1.0
    return counted


def grow_seasons(
    stand: DatedPlan,
    tmax: Array,
    tmin: Array,
    rain: Array,
    radiation: Array | None = None,
    *,
    announce: Announce | None = None,
) -> Array:
    """Grow a stand in every season of a block of weather.

    Parameters
    ----------
    stand : DatedPlan
    tmax, tmin, rain : array (season, day)
        From 1 July of the stand's year on [degC, degC, mm]; whole from ``stand.first`` to the
        last end.
    radiation : array (season, day), optional
        Measured [MJ m-2 d-1]; estimated where it is NaN, and without it.
    announce : callable, optional
        Told when the loop has to be compiled first.

    Returns
    -------
    structured array (season, rate, end) of `simulator.season.day.record.DAY`
        The day's record at each end; the same to the bit for any number of threads.
    """
    day_of_year = _days_of_year(stand.year)
    end_days = np.array([[plans.day_number(stand.year, end) for end in stand.ends]])
    sow = plans.day_number(stand.year, stand.sow)
    rates = len(stand.rates)
    when = [plans.day_number(stand.year, one.when or stand.sow) for one in stand.timing]
    water = by_day(stand.irrigation, [stand.year])
    amounts = np.outer(stand.rates, [one.share for one in stand.timing])
    kind = stand.cereal.as_record()
    out = empty_days((tmax.shape[0], rates, len(stand.ends)))
    announce_compiling("grow_members", announce)

    def run(block: slice) -> None:
        seasons = tmax[block].shape[0]
        spans = np.tile([stand.first, int(end_days.max())], (seasons, 1))
        drivers = season_drivers(
            tmax[block],
            tmin[block],
            rain[block],
            np.tile(day_of_year, (seasons, 1)),
            stand.latitude,
            spans,
            kind,
            None if radiation is None else radiation[block],
            np.repeat(water, seasons, axis=0),
        )
        grow_members(
            drivers,
            spans,
            0,
            seasons * rates,
            np.repeat(np.arange(seasons), rates),
            np.tile(np.arange(rates), seasons),
            np.full((seasons, rates), sow),
            np.full(rates, stand.seeding),
            np.tile(np.array(when), (seasons, rates, 1)),
            amounts,
            np.full(len(stand.ends), BY_DATE),
            np.repeat(end_days, seasons, axis=0),
            np.full(len(stand.ends), np.nan),
            kind,
            stand.soil.at(stand.latitude).as_record(),
            stand.previous_crop.as_record(),
            stand.fertilizer.as_record(),
            soils.layer_bottoms(stand.soil, None),
            out[block].reshape(-1, len(stand.ends)),
        )

    edges = range(0, tmax.shape[0], AT_ONCE)
    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(run, [slice(edge, edge + AT_ONCE) for edge in edges]))
    return out
