"""The map's page: its routes, and the reading of a file of many places."""

from __future__ import annotations

import secrets
from functools import partial

from fastapi import APIRouter, Request, Response

from simulator.page.field_view import SECRET, SECRET_LETTERS
from simulator.page.frame import JSON, Desk, download, rendered
from simulator.page.question import offered
from simulator.page.views.link_query import offered_plans
from simulator.page.views.place_sets import PlaceSet, PlaceSets
from simulator.page.views.places_answer import payload, table
from simulator.page.views.places_question import DATES, MapQuestion, grow, read_map_question

AT_A_TIME = 8  # places grown for one request
TOO_LARGE = "Give fewer places, or name the file when the page is started."


def map_router(desk: Desk, sets: PlaceSets) -> APIRouter:
    """Return the routes of the map."""
    router = APIRouter()
    first = sets.listed()[0][0]

    def asked_of(request: Request) -> tuple[MapQuestion, PlaceSet]:
        question = read_map_question(request.url.query, first)
        visitor = request.cookies.get(desk.cookie)
        return question, sets.find_set(visitor, question.set_key, question.set_file)

    @router.get("/map")
    def view() -> Response:
        choices = {**offered_plans(), "set": first, "sowings": ",".join(DATES), "few": AT_A_TIME}
        return rendered(
            "views/places.html", "map", sets=sets.listed(), **offered(), choices=choices
        )

    @router.get("/map/grow")
    async def some(request: Request) -> Response:
        def work() -> dict[str, int]:
            question, chosen = asked_of(request)
            grow(question, chosen)
            return {"done": min(question.upto, chosen.total), "of": chosen.total}

        return JSON(await desk.slowly(work))

    @router.get("/map/answer")
    async def answer(request: Request) -> Response:
        return JSON(await desk.slowly(lambda: payload(*asked_of(request))))

    @router.get("/map/table.csv")
    async def csv(request: Request) -> Response:
        text = await desk.slowly(lambda: table(*asked_of(request)))
        return download(text.encode(), "text/csv; charset=utf-8", "fallsown-map.csv")

    @router.post("/map/places")
    async def places(request: Request) -> Response:
        about = request.query_params
        visitor = request.cookies.get(desk.cookie, "")
        fresh = len(visitor) != SECRET_LETTERS
        if fresh:
            visitor = secrets.token_urlsafe(SECRET)
        name = about.get("name", "places.csv")
        system = about.get("units-of-file") or None
        async with desk.intake.received(request, TOO_LARGE) as data:
            made = await desk.slowly(partial(sets.take, visitor, data, name, units_of_file=system))
        response = JSON({"key": made.key, "name": made.name, "total": len(made.places)})
        if fresh:
            response.set_cookie(desk.cookie, visitor, httponly=True, samesite="strict", path="/")
        return response

    return router
