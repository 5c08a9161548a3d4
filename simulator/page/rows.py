"""The rows that the pictures draw, as columns, in the reader's units."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache
from typing import Any
from urllib.parse import urlencode

import numpy as np

from simulator import units
from simulator.answers.risk.data import FALLS, FIELD
from simulator.answers.season.panels import CHANGED, RECORDED, UNDATED, week_mean
from simulator.answers.shared.few_falls import band, wilson
from simulator.page.answers import Answered
from simulator.page.growing import Array, Changes, Grown, grow_plan, weather
from simulator.page.pictures import FIRST_SHOWN, on_calendar
from simulator.page.question import read_question, usual
from simulator.page.records import PlaceWeather
from simulator.page.stages import stage_days
from simulator.parameters.model_error import LEVEL
from simulator.problems import InputError
from simulator.season.plan import ANY_YEAR, day_number
from simulator.weather.fall_year import season_day

Columns = dict[str, list[Any]]

# field of a row -> field of a day's record, kind of quantity
LINES = {
    "rain": ("rain_mm", "water"),
    "drained": ("drainage_mm", "water"),
    "nitrate": ("soil_nitrate_kg_ha", "nitrogen"),
    "leached": ("nitrate_leached_kg_ha", "nitrogen"),
}
BIOMASS = "biomass_kg_ha"
CORNERS, FARTHEST = 41, 1.35  # of the curve of chances, to so much of the best fall
FIELDS_DRAWN = 20  # of a field like these, for the band: a picture must follow a dragged handle
FIRST_TRIED = "02-24"  # the earliest sampling of the open trials that showed how far off it is
STEP = 2  # days between the points of a line
LATE_SOWING = "11-05"
MARCH = "03-01"
DIGITS = {"mass": 0, "water": 2, "nitrogen": 1, "temperature": 1}
STEPS = (1.0, 1.2, 1.4, 1.6, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0)
LOWEST_TOP = 1500.0  # kg/ha to which the axis of biomass goes, or a failed stand fills it
ROOM = 1.05  # above the highest value of an axis


def season_rows(found: Answered) -> dict[str, Columns]:
    """Return the columns of the season's picture: its named data.

    Over all falls a line is the mean of each day, as in the sentences. Behind it lies the band of
    8 in 10 falls, behind one fall too; about the biomass that the answer speaks of, wider, that of
    a field like these.
    """
    parts = {name: _of_one(found, name) for name in found.grown}
    return {
        of: {
            field: [value for part in parts.values() for value in part[of][field]]
            for field in columns
        }
        for of, columns in next(iter(parts.values())).items()
    }


def _of_one(found: Answered, name: str) -> dict[str, Columns]:
    """Return the columns of one series."""
    grown = found.grown[name]
    span = _span(grown)
    days = {
        field: _shown(_mean(_on_dates(grown.days[recorded], grown.shown, span)), kind, found)
        for field, (recorded, kind) in LINES.items()
    }
    up = span >= int(grown.sow_days[0])
    made = _on_dates(grown.days[BIOMASS], grown.shown, span[up])
    middle = _shown(_mean(made), "mass", found)
    low, _, high = (_shown(v, "mass", found) for v in _middle(falls_on(grown, span[up])))
    wide = np.full((2, int(up.sum())), np.nan)
    if name == found.speaks_of:  # several bands of a field would hide each other
        wide = _in_a_field(made, span[up])
    band_of = {
        "low": low,
        "high": high,
        "field_low": _shown(wide[0], "mass", found),
        "field_high": _shown(wide[1], "mass", found),
    }
    return {
        "days": _dated(name, span, days),
        "stand": _dated(name, span[up], {"biomass": middle}),
        "band": _dated(name, span[up], band_of),
        "air": _dated(name, *_air(found, name, grown, span)),
        "marks": _marks(name, grown, span[up], middle),
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
    leap = np.array([day_number(fall, MARCH) for fall in falls]) - day_number(ANY_YEAR, MARCH)
    on: Array = span + np.where(span >= day_number(ANY_YEAR, MARCH), leap[:, None], 0)
    return on


def falls_on(grown: Grown, span: Array) -> Array:
    """Return the biomass of every fall on the dates of a span [kg/ha], (fall, day)."""
    return _on_dates(grown.every[BIOMASS], grown.years, span)


def _dated(name: str, span: Array, columns: Columns) -> Columns:
    return {"series": [name] * span.size, "day": on_calendar(span), **columns}


def _mean(values: Array) -> Array:
    """Return the mean of falls, day by day: that of the sentences and of the numbers."""
    mean: Array = np.asarray(values, float).mean(axis=0)
    return mean


def _middle(values: Array) -> tuple[Array, Array, Array]:
    """Return low, middle and high of falls, day by day; of one fall, itself."""
    values = np.asarray(values, float)
    if values.shape[0] == 1:
        return values[0], values[0], values[0]
    return band(values, axis=0)


def _in_a_field(values: Array, span: Array) -> Array:
    """Return the ends of the band of weather and field of each day, (2, day).

    NaN before `FIRST_TRIED`: how far off the model is was found on later days alone.
    """
    made = LEVEL.in_fields(np.asarray(values, float), FIELDS_DRAWN)
    by_day = np.moveaxis(made, 1, 0).reshape(made.shape[1], -1)
    ends: Array = np.quantile(by_day, (0.1, 0.9), axis=1)
    return np.where(span >= day_number(ANY_YEAR, FIRST_TRIED), ends, np.nan)


def _shown(values: Array, kind: str, found: Answered) -> list[float | None]:
    shown = np.round(units.show(values, kind, found.system), DIGITS[kind])  # type: ignore[arg-type]
    return [value if math.isfinite(value) else None for value in shown.tolist()]


def _air(found: Answered, name: str, grown: Grown, span: Array) -> tuple[Array, Columns]:
    """Return the air as recorded and, if warmed, as changed; means over falls."""
    if name not in (RECORDED, CHANGED) or (name == CHANGED and not _warmed(found)):
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


def _warmed(found: Answered) -> bool:
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
    return _dated(name, at, {"biomass": on_line, "stage": list(days), **beside})


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
    """Return the highest value of each axis, and the coldest, of an answer."""

    def most(*columns: list[Any]) -> float:
        return max(
            (value for column in columns for value in column if value is not None), default=0.0
        )

    days, air, curve = rows["days"], rows["air"], rows["curve"]
    of_falls = [
        biomass for biomass, of in zip(curve["biomass"], curve["of"], strict=True) if of == FALLS
    ]
    cold = [value for value in air["low"] if value is not None]
    return {
        "biomass": most(rows["stand"]["biomass"], rows["band"]["high"]),
        "made": most(of_falls, rows["goal"]["target"]),
        "water": most(days["rain"], days["drained"]),
        "nitrogen": most(days["nitrate"], days["leached"]),
        "hottest": most(air["high"]),
        "coldest": min(cold, default=0.0),
    }


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

    def most(values: Array, kind: str) -> float:
        return float(units.show(float(np.nanmax(values)), kind, system))

    biomass = most(grown.ends["biomass_kg_ha"], "mass")
    target = float(units.show(question.target, "mass", system))
    coldest = units.show(float(np.nanmin(air["tmin"])), "temperature", system)
    return {
        "biomass": nice(max(ROOM * biomass, lowest_top(system))),
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
