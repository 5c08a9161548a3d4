"""A season's warmth summed day by day by every method, and the stages that the stand reaches."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from simulator import units
from simulator.page.classroom.methods import VALUES, Day
from simulator.page.classroom.question import LAST_DAY, ClassQuestion
from simulator.page.growing import Array, Grown, grow_plan
from simulator.page.pictures import on_calendar
from simulator.page.question import read_question
from simulator.page.records import CORE, PlaceWeather
from simulator.page.rows import nice
from simulator.page.sown import Sown
from simulator.problems import InputError, fault
from simulator.process.thermal_time import thermal_time
from simulator.show.cautions import EMERGED
from simulator.weather.fall_year import season_day

# lowest Zadoks, what the page calls it
STAGES = (
    (10.0, "emergence"),
    (11.0, "1 leaf"),
    (12.0, "2 leaves"),
    (13.0, "3 leaves"),
    (21.0, "first tiller"),
    (30.0, "stem elongation"),
    (45.0, "boot"),
    (55.0, "heading"),
    (61.0, "flowering"),
)
ROOM = 1.05
KEPT = 32


@dataclass(frozen=True)
class Reached:
    """A stage and the day on which the stand has it.

    Parameters
    ----------
    name : str
    zadoks : float
    at : int
        Days from sowing; the day of sowing is 0.
    sum : float
        The simulator's own thermal time from sowing to the end of that day [degC d].
    before : float
        The same to the end of the day before [degC d].
    """

    name: str
    zadoks: float
    at: int
    sum: float
    before: float


@dataclass(frozen=True, eq=False)
class Summed:
    """A season from sowing on.

    Parameters
    ----------
    year : int
        Fall year.
    plan : Sown
    days : datetime64[D] array (day,)
    tmax, tmin : float array (day,)
        [degC].
    sums : dict of (curve, cutoff) to float array (day,)
        Thermal time from sowing to the end of each day, above the base asked for [degC d].
    own : float array (day,)
        The same as the simulator counts it.
    stages : tuple of Reached
    """

    year: int
    plan: Sown
    days: Array
    tmax: Array
    tmin: Array
    sums: dict[tuple[str, str], Array]
    own: Array
    stages: tuple[Reached, ...]

    @property
    def moments(self) -> list[int]:
        """The days on one calendar for all years, as pictures take them."""
        return on_calendar((self.days - season_day(self.year, "07-01")).astype(int))

    def at(self, date: str) -> int:
        """Return the place of a date without a year, or of the nearest day of the season."""
        on = int((season_day(self.year, date) - self.days[0]).astype(int))
        return min(max(on, 0), self.days.size - 1)


def summed(asked: ClassQuestion, place: PlaceWeather) -> Summed:
    """Sum a season's warmth and grow its stand.

    Raises
    ------
    InputError
        The fall cannot be grown.
    """
    year = usual_year(place) if asked.year is None else asked.year
    return _summed_season(place, year, asked.cereal, asked.sow, asked.base, asked.upper)


@lru_cache(KEPT)
def usual_year(place: PlaceWeather) -> int:
    """Return the fall in which the usual plan comes up nearest its median day, the latest of such.

    The latest fall may be an odd one, and its oddity would be what is seen first. Another cereal
    or sowing date does not change the fall.
    """
    plan = read_question("").plan
    latest = place.years[-1]
    try:
        grown = _grown(place, planned(place, latest, plan.cereal, plan.sow), None)
    except InputError:
        return latest
    up = grown.days["growth_stage_zadoks"] >= EMERGED
    came, days = up.any(axis=1), up.argmax(axis=1) - grown.sow_days
    if not came.any():
        return latest
    off = np.abs(days - np.median(days[came]))
    nearest = np.flatnonzero(came & (off == off[came].min()))
    return grown.shown[int(nearest[-1])]


@lru_cache(KEPT)
def _summed_season(
    place: PlaceWeather, year: int, cereal: str, sow: str, base: float, upper: float
) -> Summed:
    plan = planned(place, year, cereal, sow)
    grown = _grown(place, plan, year)
    first = int(grown.sow_days[0])
    start = season_day(year, "07-01")
    days = start + np.arange(first, int((season_day(year, plan.end) - start).astype(int)) + 1)
    here = (days - place.record["time"].values[0].astype("datetime64[D]")).astype(int)
    tmax, tmin = (place.record[name].values[here] for name in ("tmax", "tmin"))
    counted = {
        key: np.cumsum(
            [
                count(Day(high, low, base, upper))
                for high, low in zip(tmax.tolist(), tmin.tolist(), strict=True)
            ]
        )
        for key, count in VALUES.items()
    }
    block = grown.days[0, first : first + days.size]
    own = np.asarray(block["thermal_time_degC_d"])
    return Summed(year, plan, days, tmax, tmin, counted, own, reached(block))


def reached(block: Array) -> tuple[Reached, ...]:
    """Find the day of each stage in a stand's days from sowing on.

    A stage that is passed within the day on which the next one is there is left out.
    """
    stages, sums = block["growth_stage_zadoks"], block["thermal_time_degC_d"]
    found = []
    for at, (least, name) in enumerate(STAGES):
        days = np.flatnonzero(stages >= least)
        passed = at + 1 < len(STAGES) and days.size and stages[days[0]] >= STAGES[at + 1][0]
        # the decimal scale goes from leaves to tillers at the third leaf
        if days.size and (not passed or least == 13.0):
            on = int(days[0])
            before = float(sums[on - 1]) if on else 0.0
            found.append(Reached(name, least, on, float(sums[on]), before))
    return tuple(found)


def planned(place: PlaceWeather, year: int, cereal: str, sow: str) -> Sown:
    """Return the usual plan with a cereal and its date, ended as late as the weather goes."""
    return replace(read_question("").plan, cereal=cereal, sow=sow, end=_end(place, year))


def _end(place: PlaceWeather, year: int) -> str:
    """Return the last day of a season that the record has, at most `LAST_DAY`."""
    last = min(place.record["time"].values[-1].astype("datetime64[D]"), season_day(year, LAST_DAY))
    if last < season_day(year, CORE[1]):
        raise fault(
            "year",
            f"The weather ends on {last}, within the fall of {year}.",
            "Choose an earlier fall.",
        )
    day = str(last)[5:]
    return "02-28" if day == "02-29" else day


@lru_cache(KEPT)
def _grown(place: PlaceWeather, plan: Sown, year: int | None) -> Grown:
    return grow_plan(place, plan, (), year)


def sums_from_emergence(season: Summed, place: PlaceWeather) -> dict[str, Array]:
    """Return the simulator's own sums from emergence to each stage, one for each fall [degC d]."""
    try:
        grown = _grown(place, season.plan, None)
    except InputError:
        return {}
    first = int(grown.sow_days[0])
    falls = [reached(grown.days[at, first:]) for at in range(len(grown.shown))]
    return {
        name: np.array(
            [stage.sum - fall[0].before for fall in falls for stage in fall if stage.name == name]
        )
        for _, name in STAGES
    }


@lru_cache(KEPT)
def top(place: PlaceWeather, system: units.System) -> float:
    """Return where the axis of sums ends: the warmest fall from October on, by the simulator."""
    days = place.record["time"].values.astype("datetime64[D]")
    counted = np.array(
        [
            thermal_time(high, low)
            for high, low in zip(
                place.record["tmax"].values, place.record["tmin"].values, strict=True
            )
        ]
    )
    totals = []
    for year in place.years:
        inside = (days >= season_day(year, "10-01")) & (days <= season_day(year, LAST_DAY))
        totals.append(float(np.nansum(counted[inside])))
    most = float(units.show(max(totals), "thermal_time", system))
    return nice(ROOM * most) if math.isfinite(most) else 1.0


def months(season: Summed) -> list[tuple[str, float]]:
    """Return the simulator's own thermal time of each whole month of the season [degC d]."""
    daily = np.diff(season.own, prepend=0.0)
    named = season.days.astype("datetime64[M]")
    found: list[tuple[str, float]] = []
    for month in np.unique(named):
        inside = named == month
        after = month + np.timedelta64(1, "M")
        length = int((after.astype("datetime64[D]") - month.astype("datetime64[D]")).astype(int))
        if int(inside.sum()) == length:
            found.append(
                (month.astype("datetime64[D]").item().strftime("%B"), float(daily[inside].sum()))
            )
    return found


def named(place: PlaceWeather) -> str:
    """Name a place, and say where it is invented."""
    site = str(place.record.attrs["site"])
    return f"{site} (an invented place)" if place.invented else site


def came_from(asked: ClassQuestion, place: PlaceWeather) -> str:
    """Tell the date and place of a day that is taken from the record; empty for another."""
    if asked.taken is None:
        return ""
    return f"{asked.taken:%b} {asked.taken.day} {asked.taken.year} at {named(place)}"


def asked_day(asked: ClassQuestion, place: PlaceWeather) -> Day:
    """Return the day asked about, its temperatures those of the record where it is taken there."""
    high, low = asked.tmax, asked.tmin
    if asked.taken is not None:
        high, low = numbers_of_day(asked.taken, place)
    return Day(high, low, asked.base, asked.upper)


def numbers_of_day(date: Any, place: PlaceWeather) -> tuple[float, float]:
    """Return Tmax and Tmin [degC] of a day of the record.

    Raises
    ------
    InputError
        The record does not have it, or not both.
    """
    days = place.record["time"].values.astype("datetime64[D]")
    at = int((np.datetime64(date, "D") - days[0]).astype(int))
    if not 0 <= at < days.size:
        raise fault(
            "taken",
            f"The weather of {place.record.attrs['site']} does not have {date}.",
            f"It goes from {days[0]} to {days[-1]}.",
        )
    high, low = (float(place.record[name].values[at]) for name in ("tmax", "tmin"))
    if not math.isfinite(high + low):
        raise fault("taken", f"The temperature of {date} is missing.", "Take another day.")
    return high, low
