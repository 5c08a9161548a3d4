"""The class view: thermal time of one day and of one season, by every method, with questions."""

from __future__ import annotations

from typing import Any

import numpy as np
from fastapi import APIRouter, Request, Response

from simulator import units
from simulator.advice.warmth import threshold
from simulator.process.thermal_time import BASE, UPPER, thermal_time
from simulator.show.page.class_methods import (
    CURVE_NAMES,
    CURVES,
    CUTOFF_NAMES,
    CUTOFFS,
    OWN,
    VALUES,
    Day,
    Working,
    all_formulas,
    formula,
    method_name,
)
from simulator.show.page.class_pictures import sums_picture
from simulator.show.page.class_question import (
    ClassQuestion,
    class_choices,
    read_class_question,
)
from simulator.show.page.class_questions import day_questions, season_questions, two, when
from simulator.show.page.class_season import Summed, numbers_of_day, summed, top
from simulator.show.page.frame import JSON, Desk, rendered
from simulator.show.page.pictures import empty_picture, moment
from simulator.show.page.records import Place
from simulator.weather.record import season_day
from simulator.weather.samples import samples

NAMES_APART = 12  # days between stages that the picture names


def class_router(desk: Desk) -> APIRouter:
    """Return the routes of the view and its answers."""
    router = APIRouter()

    def asked_of(request: Request) -> tuple[ClassQuestion, Place]:
        asked = read_class_question(request.url.query)
        cookie = request.cookies.get(desk.cookie)
        return asked, desk.visitors.place(cookie, asked.place, asked.file)

    @router.get("/class")
    def view() -> Response:
        return rendered("class.html", "class", samples=list(samples().values()),
                        choices=class_choices(), curves=CURVE_NAMES, cutoffs=CUTOFF_NAMES,
                        methods=VALUES, own=OWN, formulas=all_formulas())  # fmt: skip

    @router.get("/class/day")
    def day(request: Request) -> Response:
        return JSON(day_payload(*asked_of(request)))

    @router.get("/class/season")
    def season(request: Request) -> Response:
        return JSON(season_payload(*asked_of(request)))

    @router.get("/class/picture")
    def picture(request: Request) -> Response:
        asked, place = asked_of(request)
        end = top(place, asked.system)
        drawn = empty_picture(sums_picture, asked.system, {"sumTop": end})
        return JSON({"picture": drawn, "top": end})

    return router


def day_payload(asked: ClassQuestion, place: Place) -> dict[str, Any]:
    """Return all that the view shows of a day."""
    system = asked.system
    high, low = asked.tmax, asked.tmin
    if asked.taken is not None:
        high, low = numbers_of_day(asked.taken, place)
    day = Day(high, low, asked.base, asked.upper)
    values = {key: count(day) for key, count in VALUES.items()}
    chosen, own = values[asked.curve, asked.cutoff], thermal_time(high, low)
    least, most = min(values.values()), max(values.values())
    unit = units.label("temperature", system)
    return {
        "shown": {name: round(float(units.show(value, "temperature", system)), 2)
                  for name, value in (("tmax", high), ("tmin", low), ("base", day.base),
                                      ("upper", day.upper))},
        "unit": unit, "from": _came_from(asked, place),
        "values": _grid({key: f"{float(units.show(value, 'thermal_time', system)):.2f}"
                         for key, value in values.items()}),
        "said": f"A day from {threshold(low, system)} to {threshold(high, system)}, above "
                f"{threshold(day.base, system)}: {method_name(asked.curve, asked.cutoff)} counts "
                f"{two(chosen, system)}. The methods lie between {two(least, system)} and "
                f"{two(most, system)}.",
        "own": f"The simulator itself counts by {method_name(*OWN)}, above "
               f"{threshold(BASE, system)} and up to {threshold(UPPER, system)}: "
               f"{two(own, system)} for this day.",
        "own_cell": _own_cell(asked), "name": method_name(asked.curve, asked.cutoff),
        "formula": formula(asked.curve, asked.cutoff),
        "working": Working(day, system).lines(asked.curve, asked.cutoff),
        "questions": [one.as_json() for one in
                      day_questions(day, asked.curve, asked.cutoff, system)],
    }  # fmt: skip


def _grid(values: dict[tuple[str, str], Any]) -> dict[str, Any]:
    return {f"{curve} {cutoff}": values[curve, cutoff]
            for curve in CURVES for cutoff in CUTOFFS if (curve, cutoff) in values}  # fmt: skip


def _own_cell(asked: ClassQuestion) -> str | None:
    """Return which cell of a grid is the simulator's own: none between other limits."""
    own = max(abs(asked.base - BASE), abs(asked.upper - UPPER)) < 1e-9
    return " ".join(OWN) if own else None


def _came_from(asked: ClassQuestion, place: Place) -> str:
    if asked.taken is None:
        return ""
    date = asked.taken
    return f"{date:%b} {date.day} {date.year} at {_named(place)}."


def _named(place: Place) -> str:
    site = str(place.record.attrs["site"])
    return f"{site} (an invented place)" if place.invented else site


def season_payload(asked: ClassQuestion, place: Place) -> dict[str, Any]:
    """Return all that the view shows of a season, day by day."""
    season, system = summed(asked, place), asked.system
    start = season_day(season.year, "07-01")
    moments = [moment(int((day - start).astype(int))) for day in season.days]

    def shown(values: Any, kind: str = "thermal_time") -> list[float]:
        rounded: list[float] = np.round(units.show(values, kind, system), 1).tolist()
        return rounded

    return {
        "place": place.described(), "year": season.year,
        "title": f"{asked.cereal.capitalize()} sown on {when(season, 0)} at {_named(place)}",
        "days": moments, "dates": season.days.astype(str).tolist(), "own": shown(season.own),
        "sums": _grid({key: shown(values) for key, values in season.sums.items()}),
        "tmax": shown(season.tmax, "temperature"), "tmin": shown(season.tmin, "temperature"),
        "stages": _stages(season, system),
        "unit": units.label("thermal_time", system), "degrees": units.label("temperature", system),
        "own_cell": _own_cell(asked), "base": threshold(asked.base, system),
        "upper": threshold(asked.upper, system),
        "questions": [one.as_json() for one in
                      season_questions(season, place, asked.curve, asked.cutoff, system)],
    }  # fmt: skip


def _stages(season: Summed, system: units.System) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    named = -NAMES_APART
    for stage in season.stages:
        near = stage.at - named < NAMES_APART
        named = named if near else stage.at
        value = float(units.show(stage.sum, "thermal_time", system))
        found.append({
            "name": stage.name, "zadoks": f"{stage.zadoks:.0f}", "at": stage.at,
            "date": when(season, stage.at), "sum": f"{value:,.0f}", "value": round(value, 1),
            "text": "" if near else stage.name,
        })  # fmt: skip
    return found
