"""Whole columns: means of a season, rain in a year, readings that are stuck.

The limits on the mean of a season by latitude are ours, set wide of any lowland.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.problems import Problem
from simulator.weather.files.daily import Daily
from simulator.weather.files.quality.limits import (
    DRY_YEAR,
    STUCK_BOTH,
    STUCK_ONE,
    WET_YEAR,
    WETTEST_YEAR,
)
from simulator.weather.record import runs_of, spell_days


def check_season_means(
    daily: Daily, name: str, good: NDArray[np.bool_], latitude: float | None
) -> None:
    """Doubt the unit where a season's mean is too warm or too cold for the latitude."""
    if daily.columns[name].unit not in ("degC", "degF") or not good.any():
        return
    values, unit = daily.values(name), daily.columns[name].unit
    month = daily.dates.astype("datetime64[M]").astype(int) % 12 + 1
    south, north = (0.0, 66.0) if latitude is None else (abs(latitude), abs(latitude))
    where = "any latitude" if latitude is None else f"latitude {north:.0f}"
    swing = 6.0 if name == "tmax" else -6.0  # half a wide mean daily range
    winter_most = 32.0 - 0.5 * max(0.0, south - 10.0) + max(swing, 0.0)
    winter_least = 8.0 - 1.1 * max(0.0, north - 22.0) + min(swing, 0.0)
    for months, season, least, most in (
        ((12, 1, 2), "December to February", winter_least, winter_most),
        ((6, 7, 8), "June to August", swing, 44.0 + swing),
    ):
        days = good & np.isin(month, months)
        if days.sum() < 20:
            continue
        mean = float(values[days].mean())
        if least <= mean <= most:
            continue
        warm = mean > most
        guess = {("degC", True): "degF", ("degF", False): "degC"}.get((unit, warm))
        problem = Problem(
            daily.place(int(np.flatnonzero(days)[0]), name),
            f"Its mean over {season} is {mean:.0f} degC, too {'warm' if warm else 'cold'} for "
            f"{where}: the values do not look like {unit}.",
            f"If they are in {guess}, write '{name} ({guess})'."
            if guess
            else "Correct the unit in the header.",
        )
        (daily.problems if warm else daily.doubts).append(problem)


def check_yearly_rain(daily: Daily, good: NDArray[np.bool_]) -> None:
    """Doubt or refuse the unit of rain by the sum of a mean year."""
    if good.sum() < 90:
        return
    rain = daily.values("rain")[good]
    year = float(rain.mean()) * 365.25
    unit = daily.columns["rain"].unit
    place = f"{daily.file}, column '{daily.columns['rain'].header}'"
    what = f"It comes to {year:,.0f} mm in a mean year"
    if year > WETTEST_YEAR:
        daily.problems.append(
            Problem(
                place,
                f"{what}, more than the wettest place on earth has: the column is not in {unit}.",
                "If it is in mm write 'rain (mm)', if in tenths 'rain (0.1 mm)'.",
            )
        )
    elif year > WET_YEAR:
        daily.doubts.append(
            Problem(
                place,
                f"{what}: is the column in {unit}?",
                "If it is in mm write 'rain (mm)', if in tenths 'rain (0.1 mm)'.",
            )
        )
    elif 0 < year < DRY_YEAR and unit == "mm":
        daily.doubts.append(
            Problem(place, f"{what}, a desert's: are these inches?", "If so, write 'rain (inch)'.")
        )


def check_stuck(daily: Daily, good: dict[str, NDArray[np.bool_]]) -> None:
    """Doubt readings that stay the same for days."""
    follows = np.diff(daily.dates).astype(int) == 1
    same = {
        name: follows & mask[1:] & (np.diff(daily.written[name]) == 0)
        for name, mask in good.items()
    }
    if "rain" in same:
        same["rain"] &= daily.written["rain"][1:] > 0
    if {"tmax", "tmin"} <= same.keys():
        for start, stop in runs_of(same["tmax"] & same["tmin"]):
            _flat(daily, start, stop, STUCK_BOTH, "tmax and tmin stay the same")
    for name, flat in same.items():
        for start, stop in runs_of(flat):
            what = f"{name} stays at {daily.spell(name, start)}"
            _flat(daily, start, stop, STUCK_BOTH if name == "rain" else STUCK_ONE, what)


def _flat(daily: Daily, start: int, stop: int, least: int, what: str) -> None:
    if stop - start + 1 >= least:
        days = spell_days(daily.dates[start], daily.dates[stop])
        daily.doubts.append(
            Problem(daily.place(start), f"{what} {days}.", "Was the instrument stuck?")
        )
