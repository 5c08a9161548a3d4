"""The season so far: what it may still make, and what clippings tell of it."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from fastapi import APIRouter, Request, Response
from starlette.exceptions import HTTPException

from simulator.answers.outlook.calculate import Outlook, outlook
from simulator.page.frame import JSON, Desk, rendered
from simulator.page.pictures import empty_picture
from simulator.page.question import offered, short
from simulator.page.records import PlaceWeather
from simulator.page.sown import Sown
from simulator.page.views.command_line import command
from simulator.page.views.given_file import GivenFile
from simulator.page.views.link_query import offered_plans, questions, take_apart
from simulator.page.views.so_far_answer import answer_of
from simulator.page.views.so_far_picture import rows_of, so_far_picture, tops_of
from simulator.parameters.cereals import cereal
from simulator.parameters.fertilizers import fertilizer
from simulator.problems import InputError, Problem
from simulator.season.measured import Measured
from simulator.season.measured_text import FORM, read_measured
from simulator.season.plan import month_day
from simulator.weather.samples import samples

MOST_MEASURED = 12
KEPT = 6  # outlooks; a tenth of a megabyte each
OWN = ("year", "today")


def so_far_router(desk: Desk, given: GivenFile | None) -> APIRouter:
    """Return the routes of the view.

    Parameters
    ----------
    desk : Desk
    given : GivenFile or None
        The file that the page was started with.
    """
    router = APIRouter()

    @router.get("/season")
    def view() -> Response:
        return rendered(
            "views/so_far.html",
            "so-far",
            samples=list(samples().values()),
            **offered(),
            choices={
                **offered_plans(given),
                "weather": None if given is None else given.described(),
            },
        )

    @router.get("/season/answer")
    async def answer(request: Request) -> Response:
        def work() -> dict[str, Any]:
            return payload(desk, request, given)

        return JSON(await desk.slowly(work))

    @router.get("/season/weather")
    def weather() -> Response:
        if given is None:
            raise HTTPException(404, "The page was started without a weather file.")
        return JSON(given.described())

    return router


def payload(desk: Desk, request: Request, given: GivenFile | None) -> dict[str, Any]:
    """Return all that the view shows.

    Raises
    ------
    InputError
        Every fault, its ``where`` the name of the control; of what was measured ``measured-2``,
        for the third.
    """
    taken = take_apart(request.url.query, ("",), OWN, ("measured",))
    problems: list[Problem] = []
    year = _year(taken.own.get("year", ""), problems)
    today = _today(taken.own.get("today", ""), problems)
    measured = _measured(taken.repeated["measured"], problems)
    (asked,) = questions(taken, problems)
    place = desk.visitors.place(request.cookies.get(desk.cookie), asked.place, asked.file)
    try:
        found = season_so_far(place, asked.plan, year, today, measured)
    except InputError as error:
        raise InputError([_of_control(one, measured) for one in error.problems]) from error
    ends = tops_of(found, asked)
    return {
        **answer_of(found, asked, place),
        "picture": empty_picture(so_far_picture, asked.system, ends),
        "tops": ends,
        "rows": rows_of(found, asked),
        "place": place.described(),
        "field": asked.query(),
        "command": command(asked, place, given, taken.own, taken.repeated["measured"]),
        "weather": None if given is None else given.described(),
    }


@lru_cache(KEPT)
def season_so_far(
    place: PlaceWeather,
    plan: Sown,
    year: int | None,
    today: str | None,
    measured: tuple[Measured, ...],
) -> Outlook:
    """Work out what a season may still make; kept, so that other units grow nothing anew."""
    ground, crop, _ = plan.field()
    return outlook(
        place.record,
        {
            "sow": plan.sow,
            "seeding": plan.seeding,
            "nitrogen": plan.nitrogen,
            "nitrogen_timing": plan.nitrogen_timing,
        },
        {
            "cereal": cereal(plan.cereal),
            "soil": ground,
            "previous_crop": crop,
            "fertilizer": fertilizer(plan.fertilizer),
        },
        ends=[plan.end],
        year=year,
        today=today,
        with_hindcast=False,
        measured=measured,
    )


def _year(text: str, problems: list[Problem]) -> int | None:
    if not text:
        return None
    if text.isascii() and text.isdigit() and len(text) == 4:
        return int(text)
    problems.append(Problem("year", f"'{short(text)}' is not a fall year.", "Write 2024."))
    return None


def _today(text: str, problems: list[Problem]) -> str | None:
    if not text:
        return None
    try:
        return month_day(text, name="today")
    except InputError as error:
        problems += error.problems
        return None


def _measured(texts: list[str], problems: list[Problem]) -> tuple[Measured, ...]:
    """Read what was measured, each by itself, so that a fault is told where it is."""
    read: list[Measured] = []
    for at, text in enumerate(texts):
        where = f"measured-{at}"
        if at >= MOST_MEASURED:
            what = f"{len(texts)} measurements are given."
            problems.append(Problem(where, what, f"Give at most {MOST_MEASURED}."))
            break
        try:
            (one,) = read_measured([text])
        except InputError as error:
            problems += [Problem(where, p.what, p.remedy or FORM) for p in error.problems]
            continue
        if any((one.kind, one.date) == (other.kind, other.date) for other in read):
            what = f"{one.kind.capitalize()} is given twice for {one.date}."
            problems.append(Problem(where, what, "Give one a day, the mean of its spots."))
            continue
        read.append(one)
    return tuple(read)


def _of_control(problem: Problem, measured: tuple[Measured, ...]) -> Problem:
    """Name the control that a fault of the outlook is about."""
    where = str(problem.where)
    if "measured" in where:
        at = next((i for i, one in enumerate(measured) if one.date in problem.what), 0)
        return Problem(f"measured-{at}", problem.what, problem.remedy)
    for name in ("today", "year", "sow", "end"):
        if name in where.split():
            return Problem(name, problem.what, problem.remedy)
    return problem if where in ("place", "file") else Problem("place", problem.what, problem.remedy)
