"""The class view: thermal time of one day and of one season, by every method, with questions."""

from __future__ import annotations

from typing import Any

import numpy as np
from fastapi import APIRouter, Request, Response
from starlette.exceptions import HTTPException

from simulator import units
from simulator.page.classroom import downloads as class_downloads
from simulator.page.classroom.differences import why_methods_differ
from simulator.page.classroom.methods import (
    CURVE_NAMES,
    CURVES,
    CUTOFF_NAMES,
    CUTOFFS,
    OWN,
    VALUES,
    Working,
    all_formulas,
    formula,
    method_name,
)
from simulator.page.classroom.pictures import stage_marks, sums_picture
from simulator.page.classroom.question import ClassQuestion, class_choices, read_class_question
from simulator.page.classroom.questions import day_questions, season_questions, two, when
from simulator.page.classroom.season import Summed, asked_day, came_from, named, summed, top
from simulator.page.downloads import drawn
from simulator.page.frame import JSON, PICTURES, Desk, download, rendered
from simulator.page.pictures import empty_picture
from simulator.page.records import PlaceWeather
from simulator.process.thermal_time import BASE, UPPER, thermal_time
from simulator.show.wording import threshold
from simulator.weather.samples import samples


def class_router(desk: Desk) -> APIRouter:
    """Return the routes of the view and its answers."""
    router = APIRouter()

    def asked_of(request: Request) -> tuple[ClassQuestion, PlaceWeather]:
        asked = read_class_question(request.url.query)
        cookie = request.cookies.get(desk.cookie)
        return asked, desk.visitors.place(cookie, asked.place, asked.file)

    @router.get("/class")
    def view() -> Response:
        return rendered(
            "class.html",
            "class",
            samples=list(samples().values()),
            choices=class_choices(),
            curves=CURVE_NAMES,
            cutoffs=CUTOFF_NAMES,
            methods={key: method_name(*key) for key in VALUES},
            own=OWN,
            formulas=all_formulas(),
        )

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
        empty = empty_picture(sums_picture, asked.system, {"sumTop": end})
        return JSON({"picture": empty, "top": end})

    @router.get("/class/{which}.csv")
    async def table(which: str, request: Request) -> Response:
        if which not in class_downloads.TABLES:
            raise HTTPException(404, "There is no such table.")
        text = await desk.slowly(lambda: class_downloads.table(*asked_of(request), which))
        return download(text.encode(), "text/csv; charset=utf-8", f"fallsown-{which}.csv")

    @router.get("/class/picture/{which}.{suffix}")
    async def drawing(which: str, suffix: str, request: Request) -> Response:
        if which not in class_downloads.PICTURES or suffix not in PICTURES:
            raise HTTPException(404, "There is no such picture.")

        def make() -> bytes:
            return drawn(class_downloads.picture(*asked_of(request), which), suffix)

        return download(await desk.slowly(make), PICTURES[suffix], f"fallsown-{which}.{suffix}")

    return router


def day_payload(asked: ClassQuestion, place: PlaceWeather) -> dict[str, Any]:
    """Return all that the view shows of a day."""
    system = asked.system
    day, came = asked_day(asked, place), came_from(asked, place)
    subject = f"{came}," if came else "A day"
    high, low = day.tmax, day.tmin
    values = {key: count(day) for key, count in VALUES.items()}
    chosen, own = values[asked.curve, asked.cutoff], thermal_time(high, low)
    least, most = min(values.values()), max(values.values())
    unit = units.label("temperature", system)
    return {
        "shown": {
            name: round(float(units.show(value, "temperature", system)), 2)
            for name, value in (
                ("tmax", high),
                ("tmin", low),
                ("base", day.base),
                ("upper", day.upper),
            )
        },
        "unit": unit,
        "from": came and f"{came}.",
        "values": _grid(
            {
                key: f"{float(units.show(value, 'thermal_time', system)):.2f}"
                for key, value in values.items()
            }
        ),
        "said": f"{subject} from {threshold(low, system)} to {threshold(high, system)}, above "
        f"{threshold(day.base, system)} and up to {threshold(day.upper, system)}: "
        f"{method_name(asked.curve, asked.cutoff)} counts {two(chosen, system)}. "
        f"The methods lie between {two(least, system)} and {two(most, system)}.",
        "own": f"The simulator itself counts by {method_name(*OWN)}, above "
        f"{threshold(BASE, system)} and up to {threshold(UPPER, system)}: "
        f"{two(own, system)} for this day.",
        "own_cell": _own_cell(asked),
        "name": method_name(asked.curve, asked.cutoff),
        "formula": formula(asked.curve, asked.cutoff),
        "working": Working(day, system).lines(asked.curve, asked.cutoff),
        "questions": [
            one.as_json() for one in day_questions(day, asked.curve, asked.cutoff, system)
        ],
    }


def _grid(values: dict[tuple[str, str], Any]) -> dict[str, Any]:
    return {
        f"{curve} {cutoff}": values[curve, cutoff]
        for curve in CURVES
        for cutoff in CUTOFFS
        if (curve, cutoff) in values
    }


def _own_cell(asked: ClassQuestion) -> str | None:
    """Return which cell of a grid is the simulator's own: none between other limits."""
    own = max(abs(asked.base - BASE), abs(asked.upper - UPPER)) < 1e-9
    return " ".join(OWN) if own else None


def season_payload(asked: ClassQuestion, place: PlaceWeather) -> dict[str, Any]:
    """Return all that the view shows of a season, day by day."""
    season, system = summed(asked, place), asked.system

    def shown(values: Any, kind: str = "thermal_time") -> list[float]:
        rounded: list[float] = np.round(units.show(values, kind, system), 1).tolist()
        return rounded

    return {
        "place": place.described(),
        "year": season.year,
        "title": f"{asked.cereal.capitalize()} sown on {when(season, 0)} at {named(place)}",
        "days": season.moments,
        "dates": season.days.astype(str).tolist(),
        "own": shown(season.own),
        "sums": _grid({key: shown(values) for key, values in season.sums.items()}),
        "tmax": shown(season.tmax, "temperature"),
        "tmin": shown(season.tmin, "temperature"),
        "stages": _stages(season, system),
        "apart": " ".join(why_methods_differ(season, asked)),
        "unit": units.label("thermal_time", system),
        "degrees": units.label("temperature", system),
        "own_cell": _own_cell(asked),
        "base": threshold(asked.base, system),
        "upper": threshold(asked.upper, system),
        "questions": [
            one.as_json()
            for one in season_questions(season, place, asked.curve, asked.cutoff, system)
        ],
    }


def _stages(season: Summed, system: units.System) -> list[dict[str, Any]]:
    return [
        {
            **mark,
            "name": stage.name,
            "zadoks": f"{stage.zadoks:.0f}",
            "at": stage.at,
            "date": when(season, stage.at),
            "told": f"{mark['sum']:,.0f}",
        }
        for stage, mark in zip(season.stages, stage_marks(season, system), strict=True)
    ]
