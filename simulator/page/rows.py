"""The rows that the pictures draw, as columns, in the reader's units."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from typing import Any
from urllib.parse import urlencode

import numpy as np

from simulator import units
from simulator.answers.risk.data import FALLS, FIELD
from simulator.answers.season.panels import CHANGED, RECORDED, UNDATED, week_mean
from simulator.answers.shared.few_falls import band, wilson
from simulator.answers.shared.field_ranges import biomass_ranges
from simulator.page.answers import Answered
from simulator.page.growing import Array, Changes, Grown, grow_plan, weather
from simulator.page.pictures import FIRST_SHOWN, Columns, on_calendar
from simulator.page.question import read_question, usual
from simulator.page.records import PlaceWeather
from simulator.page.stages import stage_days
from simulator.parameters.model_error import LEVEL
from simulator.problems import InputError
from simulator.season.plan import ANY_YEAR, day_number
from simulator.weather.fall_year import season_day

# field of a row -> field of a day's record, kind of quantity
LINES = {
    "rain": ("rain_mm", "water"),
    "drained": ("drainage_mm", "water"),
    "nitrate": ("soil_nitrate_kg_ha", "nitrogen"),
    "leached": ("nitrate_leached_kg_ha", "nitrogen"),
}
BIOMASS = "biomass_kg_ha"
CORNERS, FARTHEST = 41, 1.35  # of the curve of chances, to so much of the best fall
FIRST_TRIED = "02-24"  # the earliest sampling of the open trials that showed how far off it is
STEP = 2  # days between the points of a line
LATE_SOWING = "11-05"
MARCH = "03-01"
DIGITS = {"mass": 0, "water": 2, "nitrogen": 1, "temperature": 1}
STEPS = (1.0, 1.2, 1.4, 1.6, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0)
LOWEST_TOP = 1500.0  # kg/ha to which the axis of biomass goes, or a failed stand fills it
ROOM = 1.05  # above the highest value of an axis


def growth_rows(found: Answered) -> dict[str, Columns]:
    """Return the columns of how the stand grows: ``stand``, ``band`` and ``marks``.

    Over all falls a line is the mean of each day, as in the sentences. Behind it lies the band of
    8 in 10 falls, behind one fall too.
    """
    return _joined_columns(_growth_of(grown, name, found) for name, grown in found.grown.items())


def days_rows(found: Answered) -> dict[str, Columns]:
    """Return the columns of the panels below it: ``days`` and ``air``."""
    return _joined_columns(_days_of(grown, name, found) for name, grown in found.grown.items())


def _joined_columns(parts: Iterable[dict[str, Columns]]) -> dict[str, Columns]:
    first, *rest = parts
    return {
        of: {
            field: [value for part in (first, *rest) for value in part[of][field]]
            for field in columns
        }
        for of, columns in first.items()
    }


def _growth_of(grown: Grown, name: str, found: Answered) -> dict[str, Columns]:
    span = _span(grown)
    up = span[span >= int(grown.sow_days[0])]
    middle = _shown(_mean(_on_dates(grown.days[BIOMASS], grown.shown, up)), "mass", found)
    low, _, high = (_shown(v, "mass", found) for v in _band(falls_on(grown, up)))
    return {
        "stand": _dated_columns(name, up, {"biomass": middle}),
        "band": _dated_columns(name, up, {"low": low, "high": high}),
        "marks": _marks(name, grown, up, middle),
    }


def _days_of(grown: Grown, name: str, found: Answered) -> dict[str, Columns]:
    span = _span(grown)
    days = {
        field: _shown(_mean(_on_dates(grown.days[recorded], grown.shown, span)), kind, found)
        for field, (recorded, kind) in LINES.items()
    }
    return {
        "days": _dated_columns(name, span, days),
        "air": _dated_columns(name, *_air(found, name, grown, span)),
    }


def _span(grown: Grown) -> Array:
    """Return the days that are drawn, of a calendar without 29 February, to the plan's end."""
    last = day_number(ANY_YEAR, grown.plan.end)
    span = np.arange(last, day_number(ANY_YEAR, FIRST_SHOWN) - 1, -STEP)[::-1]
    rain = _on_dates(grown.days["rain_mm"], grown.shown, span)
    whole: Array = span[np.isfinite(rain).all(axis=0)]
    return whole


def _on_dates(days: Array, falls: tuple[int, ...], span: Array) -> Array:
    """Take of each fall the days that have the dates of a span: leap years' lie a day later."""
    at = np.minimum(_day_of(falls, span), days.shape[1] - 1)
    taken: Array = days[np.arange(len(falls))[:, None], at]
    return taken


def _day_of(falls: tuple[int, ...], span: Array) -> Array:
    """Return the season day of each fall on the dates of a span, (fall, day)."""
    late = _leap_days(falls)[:, None]
    on: Array = span + np.where(span >= day_number(ANY_YEAR, MARCH), late, 0)
    return on


@lru_cache(64)
def _leap_days(falls: tuple[int, ...]) -> Array:
    """Return by how many days each fall's March is later than in a year without 29 February."""
    late: Array = np.array([day_number(fall, MARCH) for fall in falls])
    return late - day_number(ANY_YEAR, MARCH)


def falls_on(grown: Grown, span: Array) -> Array:
    """Return the biomass of every fall on the dates of a span [kg/ha], (fall, day)."""
    return _on_dates(grown.every[BIOMASS], grown.years, span)


def _dated_columns(name: str, span: Array, columns: Columns) -> Columns:
    return {"series": [name] * span.size, "day": on_calendar(span), **columns}


def _mean(values: Array) -> Array:
    """Return the mean of falls, day by day: that of the sentences and of the numbers."""
    mean: Array = np.asarray(values, float).mean(axis=0)
    return mean


def _band(values: Array) -> tuple[Array, Array, Array]:
    """Return low, middle and high of falls, day by day; of one fall, itself."""
    values = np.asarray(values, float)
    if values.shape[0] == 1:
        return values[0], values[0], values[0]
    return band(values, axis=0)


def _shown(values: Array, kind: str, found: Answered) -> list[float | None]:
    shown = np.round(units.show(values, kind, found.system), DIGITS[kind])  # type: ignore[arg-type]
    return [value if math.isfinite(value) else None for value in shown.tolist()]


def _air(found: Answered, name: str, grown: Grown, span: Array) -> tuple[Array, Columns]:
    """Return the air as recorded and, if warmed, as changed; means over falls."""
    if name not in (RECORDED, CHANGED) or (name == CHANGED and not _changes_temperature(found)):
        return span[:0], {"low": [], "high": [], "mean": []}
    changes = found.asked.changes if name == CHANGED else ()
    start = found.place.record["time"].values[0].astype("datetime64[D]")
    firsts = [int((season_day(year, "07-01") - start).astype(int)) for year in grown.shown]
    places = np.array(firsts)[:, None] + _day_of(grown.shown, span)
    inside = (places >= 0) & (places < found.place.record.sizes["time"])
    drawn: Columns = {}
    for field, values in _degrees(found.place, changes).items():
        taken = np.where(inside, values.take(places, mode="clip"), np.nan)
        drawn[field] = _shown(_mean(taken), "temperature", found)
    return span, drawn


@lru_cache(64)
def _degrees(place: PlaceWeather, changes: Changes) -> dict[str, Array]:
    """Return each day's lowest and highest temperature, and the mean of the week about it."""
    record = weather(place, changes)
    low, high = (record[name].values for name in ("tmin", "tmax"))
    return {"low": low, "high": high, "mean": week_mean(low, high)}


def _changes_temperature(found: Answered) -> bool:
    return any(change.quantity != "rain" for change in found.asked.changes)


def _marks(name: str, grown: Grown, span: Array, biomass: list[float | None]) -> Columns:
    """Mark the stages that the stand reaches, on the line that is drawn through every `STEP` days.

    Their dates are not written: those of several stands would run together.
    """
    days = {stage: on for stage, on in stage_days(grown).items() if span.size}
    drawn = np.array([np.nan if value is None else value for value in biomass], float)
    at = np.array(list(days.values()), int)
    if len(grown.shown) == 1:  # on the calendar that is drawn
        at -= np.where(at > day_number(ANY_YEAR, MARCH), _day_of(grown.shown, at)[0] - at, 0)
    beside = {side: [text] * at.size for side, text in UNDATED.items()}
    on_line = np.round(np.interp(at, span, drawn), 1).tolist() if at.size else []
    return _dated_columns(name, at, {"biomass": on_line, "stage": list(days), **beside})


def chance_rows(found: Answered) -> dict[str, Columns]:
    """Return the columns of the picture of chances: ``curve``, ``goal`` and ``fall``.

    A plan has two curves: the share of falls in steps, and the smooth chance of weather and field.
    """
    names = ("series", "of", "corner", "biomass", "percent", "low", "high")
    curve: Columns = {name: [] for name in names}
    fall: Columns = {name: [] for name in ("series", "biomass", "percent", "text")}
    for name, grown in found.grown.items():
        made = grown.biomass()
        known = np.sort(made[np.isfinite(made)])
        if not known.size:
            continue
        steps = 100.0 * np.arange(known.size, 0, -1) / known.size
        level = np.linspace(0.0, FARTHEST * known[-1], CORNERS)
        likely = 100.0 * LEVEL.chance_of(level[:, None], known).mean(axis=-1)
        for of, biomass, percent in (
            (FALLS, np.array([0.0, *known, known[-1]]), np.array([100.0, *steps, 0.0])),
            (FIELD, level, likely),
        ):
            curve["series"] += [name] * biomass.size
            curve["of"] += [of] * biomass.size
            curve["corner"] += list(range(biomass.size))
            curve["biomass"] += _shown(biomass, "mass", found)
            curve["percent"] += np.round(percent, 2).tolist()
            for side, end in enumerate(("low", "high")):  # the smooth curve has no interval
                curve[end] += [
                    round(100.0 * wilson(float(share) / 100.0, known.size)[side], 2)
                    if of == FALLS
                    else round(float(share), 2)
                    for share in percent
                ]
        if found.asked.year is not None:
            here = made[grown.at(found.asked.year)]
            if math.isfinite(here):
                fall["series"].append(name)
                fall["biomass"] += _shown(np.array([here]), "mass", found)
                fall["percent"].append(100.0 * float((known >= here).sum()) / known.size)
                fall["text"].append(str(found.asked.year) if name == RECORDED else "")
    return {
        "curve": curve,
        "fall": fall,
        "goal": {"target": _shown(np.array([found.asked.target]), "mass", found)},
    }


def highest(rows: dict[str, Columns]) -> dict[str, float]:
    """Return the highest value of each axis that the rows are drawn on, and the coldest."""

    def most(*columns: list[Any]) -> float:
        return max(
            (value for column in columns for value in column if value is not None), default=0.0
        )

    found = {}
    if "stand" in rows:
        ends = rows.get("ends", {"high": []})
        found["biomass"] = most(rows["stand"]["biomass"], rows["band"]["high"], ends["high"])
    if "curve" in rows:
        curve = rows["curve"]
        of_falls = [
            made for made, of in zip(curve["biomass"], curve["of"], strict=True) if of == FALLS
        ]
        found["made"] = most(of_falls, rows["goal"]["target"])
    if "days" in rows:
        days, air = rows["days"], rows["air"]
        found["water"] = most(days["rain"], days["drained"])
        found["nitrogen"] = most(days["nitrate"], days["leached"])
        found["hottest"] = most(air["high"])
        found["coldest"] = min((value for value in air["low"] if value is not None), default=0.0)
    return found


@lru_cache(64)
def tops(place: PlaceWeather, system: units.System) -> dict[str, float]:
    """Return where the axes of a place end: room for a usual plan in its best fall."""
    question = read_question(urlencode(usual(system, place.key)))
    plan = question.plan
    for sow in (plan.sow, LATE_SOWING):  # of records that have winters only
        try:
            grown = grow_plan(place, replace(plan, sow=sow), (), None)
            break
        except InputError:
            if sow == LATE_SOWING:
                raise
    air = {name: weather(place, ())[name].values for name in ("tmax", "tmin")}

    def most(values: Array | float, kind: str) -> float:
        return float(units.show(float(np.nanmax(values)), kind, system))

    made = grown.ends["biomass_kg_ha"]
    biomass = most(made, "mass")
    in_field = most(biomass_ranges(made).high, "mass")
    target = float(units.show(question.target, "mass", system))
    coldest = units.show(float(np.nanmin(air["tmin"])), "temperature", system)
    return {
        "biomass": nice(max(ROOM * biomass, in_field, lowest_top(system))),
        "made": nice(ROOM * max(biomass, target)),
        "water": nice(ROOM * most(grown.ends["rain_mm"], "water")),
        "nitrogen": nice(ROOM * most(grown.days["soil_nitrate_kg_ha"], "nitrogen")),
        "hottest": 10 * math.ceil(most(air["tmax"], "temperature") / 10),
        "coldest": 10 * math.floor(coldest / 10),
    }


def lowest_top(system: units.System) -> float:
    """Return to where the axis of biomass goes at the least, in reader's units."""
    return nice(float(units.show(LOWEST_TOP, "mass", system)))


def nice(value: float) -> float:
    """Round up to a number that an axis may well end at."""
    if value <= 0 or not math.isfinite(value):
        return 1.0
    power = 10.0 ** math.floor(math.log10(value))
    step = next(step for step in STEPS if step * power >= value - 1e-9)
    return float(f"{step * power:.6g}")
