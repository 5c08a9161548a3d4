"""Weather exchanged piece by piece, every season on the calendar of one year."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from simulator.season import plan as plans
from simulator.season.day.drivers import DAYS
from simulator.season.seasons import Seasons

Array = np.ndarray[Any, np.dtype[np.float64]]
FALL, WINTER, SPRING = SEASONS = ("fall", "winter", "spring")
WINTER_FROM, SPRING_FROM = "12-01", "03-01"
PIECES = tuple(f"{season} {what}" for season in SEASONS for what in ("temperature", "rain"))
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


def mixtures(own: Array, others: Array, year: int) -> Array:
    """Weather (name, set of pieces, other year, day): pieces of the set from the year itself."""
    sets = np.arange(2 ** len(PIECES))
    mixed = np.repeat(others[:, None], sets.size, axis=1)
    edges = edges_of(year)
    for place, piece in enumerate(PIECES):
        days = slice(*edges[place // 2 : place // 2 + 2])
        for name in (2,) if piece.endswith("rain") else (0, 1):
            mixed[name, sets >> place & 1 == 1, :, days] = own[name, 0, days]
    return mixed


def edges_of(year: int) -> list[int]:
    """Season days on which fall, winter and spring begin, and the one after the last."""
    return [0, plans.day_number(year, WINTER_FROM), plans.day_number(year, SPRING_FROM), DAYS]
