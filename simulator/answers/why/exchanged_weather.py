"""Weather exchanged month by month, every season on the calendar of one year."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from simulator.season import plan as plans
from simulator.season.seasons import Seasons
from simulator.weather.rain_total import with_total

Array = np.ndarray[Any, np.dtype[np.float64]]
Whole = np.ndarray[Any, np.dtype[np.int64]]
RAIN, TEMPERATURE = WHATS = ("rain", "temperature")  # piece 2 m and 2 m + 1 of month m
LEAP_DAY = 243  # season day of 29 February, or of 1 March where there is none


def weather_on(seasons: Seasons, years: Sequence[int], calendar: int) -> Array:
    """Weather (name, year, day) of some years on the calendar of one."""
    block = np.stack([seasons.tmax, seasons.tmin, seasons.rain])
    laid = [
        _on_calendar(block[:, seasons.years.index(year)], _leap(year), _leap(calendar))
        for year in years
    ]
    return np.stack(laid, axis=1)


def _leap(year: int) -> bool:
    return plans.day_number(year, "03-01") > LEAP_DAY


def _on_calendar(season: Array, leap: bool, wanted: bool) -> Array:
    """Take 29 February out of a season (name, day), or put one in, keeping its rain."""
    if leap == wanted:
        return season
    before, day = season[:, LEAP_DAY - 1], season[:, LEAP_DAY]
    if leap:
        shorter = np.delete(season, LEAP_DAY, axis=1)
        shorter[2, LEAP_DAY - 1] += day[2]
        return np.pad(shorter, ((0, 0), (0, 1)), constant_values=np.nan)
    made = 0.5 * (before + day)
    made[2] = 0.0
    return np.insert(season, LEAP_DAY, made, axis=1)[:, :-1]


def mixed(own: Array, others: Array, sets: Whole, other: Whole, month: Whole) -> Array:
    """Weather (name, season, day) with the pieces of a set from the year itself.

    Parameters
    ----------
    own, others : array (name, day), array (name, other, day)
    sets : array (season,)
        Bits are set for the pieces that are the year's own.
    other : array (season,)
        Which other year the rest is from.
    month : array (day,)
        Place of each day's month.
    """
    rain_is_own = (sets[:, None] >> 2 * month & 1) == 1
    temperature_is_own = (sets[:, None] >> 2 * month + 1 & 1) == 1
    is_own = np.stack([temperature_is_own, temperature_is_own, rain_is_own])
    return np.where(is_own, own[:, None], others[:, other])


def with_usual_totals(
    own: Array, others: Array, days: slice, whats: Sequence[str] = WHATS
) -> Array:
    """Weather (name, day) of the year with the usual rain, mean temperature or both on some days.

    The days stay as they are but for that, as what-ifs leave them.
    """
    made = own.copy()
    if TEMPERATURE in whats:
        made[:2, days] += others[:2, :, days].mean() - own[:2, days].mean()
    if RAIN in whats:
        made[2, days] = with_total(own[2, days], float(others[2, :, days].sum(axis=-1).mean()))
    return made
