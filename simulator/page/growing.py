"""Seasons fast enough for a slider: what all plans share is kept, the rest is grown anew.

The same cut, drivers and loop as `simulator.season.compare`, and the same numbers to the bit.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.shared.bare_soil import LEACHED, Beside, beside
from simulator.page.controls import DATES
from simulator.page.records import PlaceWeather
from simulator.page.sown import Sown
from simulator.parameters.cereals import cereal
from simulator.parameters.fertilizers import FERTILIZERS, fertilizer
from simulator.parameters.soils import PreviousCrop, Soil, layer_bottoms
from simulator.problems import InputError, Problem
from simulator.season.arrays import empty_days
from simulator.season.day.calendar import BY_DATE, NEVER
from simulator.season.day.drivers import DAYS
from simulator.season.day.loop import grow
from simulator.season.plan import ANY_YEAR, SOIL_STARTS, day_number
from simulator.season.plan import end as read_end
from simulator.season.seasons import Seasons, cut_seasons, latitude_of
from simulator.weather.change import change_weather
from simulator.weather.change_text import Change

if TYPE_CHECKING:
    import xarray as xr

Array = np.ndarray[Any, Any]
Changes = tuple[Change, ...]

WIDEST = (SOIL_STARTS, DATES["end"][1])
KEPT_WEATHER, KEPT_SEASONS = 24, 24  # a season's drivers for thirty falls take 1.4 MB
HANDS = min(4, os.cpu_count() or 1)  # threads that grow the falls of a plan side by side
KEPT_GROWN = 6  # plans: what an answer is made of, so that another price grows nothing; 4 MB each


@dataclass(frozen=True)
class Grown:
    """One plan grown in every fall.

    Parameters
    ----------
    plan : Sown
    years : tuple of int
    ends : structured array (fall,)
        The day's record on the last day.
    days : structured array (fall, day)
        Every day's record of the falls in ``shown``; day 0 is 1 July, NaN outside the season.
    shown : tuple of int
        The falls of ``days``.
    every : structured array (fall, day)
        As ``days``, of all falls.
    sow_days, end_days : int array (fall,)
    left_out : tuple of str
        Falls whose weather is not whole, with the reason.
    """

    plan: Sown
    years: tuple[int, ...]
    ends: Array
    days: Array
    shown: tuple[int, ...]
    every: Array
    sow_days: Array
    end_days: Array
    left_out: tuple[str, ...]

    def biomass(self) -> Array:
        """Biomass at the end of each fall [kg/ha]."""
        return np.asarray(self.ends["biomass_kg_ha"])

    def at(self, year: int) -> int:
        """Return the position of a fall."""
        return self.years.index(year)


@lru_cache(KEPT_WEATHER)
def weather(place: PlaceWeather, changes: Changes) -> xr.Dataset:
    """Return a place's record as changed."""
    return change_weather(place.record, *changes) if changes else place.record


@lru_cache(KEPT_SEASONS)
def _seasons_cut(place: PlaceWeather, changes: Changes, sow: str, end: str) -> Seasons:
    return cut_seasons(weather(place, changes), place.years, [sow], [read_end(end)])


def _span(place: PlaceWeather, sow: str, end: str) -> tuple[str, str]:
    """Return the dates to cut for: the widest asked by a slider, if no fall is lost by it.

    The soil starts on 1 September or before, so that what is cut for the widest serves them all;
    only the last day differs.
    """
    first, last = WIDEST
    inside = day_number(ANY_YEAR, first) <= day_number(ANY_YEAR, sow)
    inside &= day_number(ANY_YEAR, end) <= day_number(ANY_YEAR, last)
    return WIDEST if inside and _is_whole(place) else (sow, end)


@lru_cache(KEPT_SEASONS)
def _is_whole(place: PlaceWeather) -> bool:
    try:
        cut = _seasons_cut(place, (), *WIDEST)
    except InputError:
        return False
    return cut.years == place.years and not cut.late


@lru_cache(KEPT_SEASONS)
def _drivers(place: PlaceWeather, changes: Changes, sow: str, end: str, kind: str) -> Array:
    cut = _seasons_cut(place, changes, sow, end)
    return cut.drivers(latitude_of(place.record), cereal(kind).as_record())


def grow_plan(place: PlaceWeather, plan: Sown, changes: Changes, year: int | None) -> Grown:
    """Grow a plan in every fall of a place.

    Parameters
    ----------
    place : PlaceWeather
    plan : Sown
    changes : tuple of Change
        Of the weather; none for as recorded.
    year : int or None
        The fall whose days are wanted; None for those of all.

    Raises
    ------
    InputError
        No fall is whole, or not the one wanted; a change that the weather cannot bear.
    """
    grown = _grown(place, plan, changes)
    if year is None:
        return grown
    if year not in grown.years:
        raise _no_such_fall(year, grown.left_out)
    at = grown.at(year)
    return replace(grown, days=grown.every[at : at + 1], shown=(year,))


@lru_cache(KEPT_GROWN)
def _grown(place: PlaceWeather, plan: Sown, changes: Changes) -> Grown:
    """Grow a plan in every fall, and keep the days of all: one is shown before the others."""
    return grow_falls(place, plan, changes, daily=True)


def grow_falls(place: PlaceWeather, plan: Sown, changes: Changes, *, daily: bool) -> Grown:
    """Grow a plan in every fall, with the days of each or with its last day alone.

    Parameters
    ----------
    place : PlaceWeather
    plan : Sown
    changes : tuple of Change
    daily : bool
        Whether days are wanted; without them ``days`` and ``every`` are empty.

    Raises
    ------
    InputError
        As `grow_plan`.
    """
    span = _span(place, plan.sow, plan.end)
    cut = _seasons_cut(place, changes, *span)
    drivers = _drivers(place, changes, *span, plan.cereal)
    kind, feed = cereal(plan.cereal), fertilizer(plan.fertilizer)
    ground, crop, _ = plan.field()
    sets = (
        kind.as_record(),
        ground.at(latitude_of(place.record)).as_record(),
        crop.as_record(),
        feed.as_record(),
        layer_bottoms(ground),
    )
    count = len(cut.years)
    ends, days = empty_days((count, 1)), empty_days((count, DAYS if daily else 0))
    kinds, values = np.array([BY_DATE]), np.array([np.nan])
    # of their own: what is compiled takes no array that cannot be written
    sow_days, end_days = (_days_on(cut.years, date).copy() for date in (plan.sow, plan.end))
    dressings = plan.dressings
    when = np.stack([_days_on(cut.years, dressing.when or plan.sow) for dressing in dressings])
    amounts = np.array([dressing.share * plan.nitrogen_kg_ha for dressing in dressings])
    seeding = plan.seeding_kg_ha

    def grow_some(falls: range) -> None:
        by_layer = np.empty((DAYS, 2, sets[-1].size))
        for at in falls:
            grow(
                drivers[at],
                int(cut.spans[at, 0]),
                int(end_days[at]),
                int(sow_days[at]),
                seeding,
                np.ascontiguousarray(when[:, at]),
                amounts,
                kinds,
                end_days[at : at + 1],
                values,
                *sets,
                ends[at],
                days[at],
                by_layer,
            )

    list(_fall_pool().map(grow_some, [range(first, count, HANDS) for first in range(HANDS)]))
    for kept in (ends, days):  # it serves whoever asks again
        kept.flags.writeable = False
    shown = cut.years if daily else ()
    return Grown(plan, cut.years, ends[:, 0], days, shown, days, sow_days, end_days, cut.left_out)


@cache
def _fall_pool() -> ThreadPoolExecutor:
    """Return the threads that share the falls of a plan: no answer waits for one of them alone."""
    return ThreadPoolExecutor(HANDS, "fallsown-falls")


@lru_cache(KEPT_SEASONS)
def _days_on(years: tuple[int, ...], date: str) -> Array:
    """Return the season day of a date in each fall."""
    days: Array = np.array([day_number(fall, date) for fall in years])
    days.flags.writeable = False  # it serves whoever asks again
    return days


@lru_cache(KEPT_SEASONS)
def _leached_bare(
    place: PlaceWeather,
    changes: Changes,
    span: tuple[str, str],
    kind: str,
    ground: Soil,
    crop: PreviousCrop,
    end: str,
) -> Array:
    """Return what a field leaches to an end without stand and nitrogen (fall,) [kg/ha].

    As `simulator.season.compare.compare` has it with ``bare``; the sowing date makes nothing of it.
    """
    cut, drivers = _seasons_cut(place, changes, *span), _drivers(place, changes, *span, kind)
    none, by_layer = empty_days((0,)), np.empty((0, 2, layer_bottoms(ground).size))
    ends = empty_days((len(cut.years), 1))
    kinds, values = np.array([BY_DATE]), np.array([np.nan])
    for at, fall in enumerate(cut.years):
        last = day_number(fall, end)
        grow(
            drivers[at],
            int(cut.spans[at, 0]),
            last,
            NEVER,
            0.0,
            np.array([NEVER]),
            np.array([0.0]),
            kinds,
            np.array([last]),
            values,
            cereal(kind).as_record(),
            ground.at(latitude_of(place.record)).as_record(),
            crop.as_record(),
            FERTILIZERS["ammonium nitrate"].as_record(),
            layer_bottoms(ground),
            ends[at],
            none,
            by_layer,
        )
    found = np.array(ends[LEACHED][:, 0])
    found.flags.writeable = False  # it serves whoever asks again
    return found


def beside_bare(
    place: PlaceWeather, grown: Grown, changes: Changes, year: int | None
) -> Beside | None:
    """Set what a plan leaches beside bare soil of the same falls, all or the one asked for."""
    plan = grown.plan
    ground, crop, _ = plan.field()
    span = _span(place, plan.sow, plan.end)
    bare = _leached_bare(place, changes, span, plan.cereal, ground, crop, plan.end)
    planted = np.asarray(grown.ends[LEACHED])
    some = slice(None) if year is None else slice(grown.at(year), grown.at(year) + 1)
    return beside(grown.years[some], planted[some], bare[some])


def _no_such_fall(year: int, left_out: Sequence[str]) -> InputError:
    reason = next((text for text in left_out if text.startswith(f"{year}:")), "")
    return InputError(
        Problem(
            "year",
            f"The fall of {year} cannot be grown: "
            + (reason.partition(": ")[2] or "the weather does not have it."),
            "Choose another fall, or other dates.",
        )
    )
