"""One field: the page, its answers, the reading of a file, and what is taken away."""

from __future__ import annotations

import secrets
from functools import partial
from typing import Any

from fastapi import APIRouter, Request, Response
from starlette.exceptions import HTTPException

from simulator.answers.sheet.questions import QUESTIONS
from simulator.page import answers, costs, downloads, own_prices, rows, stages
from simulator.page.bench import lines
from simulator.page.bench.balance import balance
from simulator.page.bench.headline import said_first
from simulator.page.bench.remedies import remedies
from simulator.page.controls import choices
from simulator.page.frame import JSON, PICTURES, Desk, download, rendered
from simulator.page.guard import as_control
from simulator.page.pictures import (
    chance_picture,
    days_picture,
    empty_picture,
    growth_picture,
    growth_title,
    shown_span,
)
from simulator.page.question import offered
from simulator.page.records import plain_name
from simulator.problems import InputError, Parameter, fault
from simulator.weather.samples import samples

SECRET = 32  # bytes of a visitor's
SECRET_LETTERS = 43  # that they are written in
_LABELS = {"latitude": "Latitude", "site": "Site", "date_format": "Dates", "units_of_file": "Units"}
_SHEETS = {"html": "text/html; charset=utf-8", "pdf": "application/pdf"}


def field_router(desk: Desk) -> APIRouter:
    """Return the routes of the view and its answers."""
    router = APIRouter()

    @router.get("/")
    def field() -> Response:
        return rendered(
            "field.html",
            "field",
            samples=list(samples().values()),
            **offered(),
            choices=choices(),
            packaged=own_prices.packaged(),
            price_fields=own_prices.price_fields().values(),
        )

    @router.get("/answer")
    def answer(request: Request) -> Response:
        return JSON(payload(desk.answered(request)))

    @router.get("/answer/sight")
    def in_sight(request: Request) -> Response:
        return JSON(sight(desk.answered(request)))

    @router.get("/answer/rest")
    def below(request: Request) -> Response:
        return JSON(rest(desk.answered(request)))

    @router.get("/cost")
    def cost(request: Request) -> Response:
        return JSON(cost_payload(desk.answered(request)))

    @router.get("/remedies")
    def mending(request: Request) -> Response:
        return JSON(remedies(desk.answered(request)))

    @router.get("/pictures")
    def pictures(request: Request) -> Response:
        asked, place = desk.asked(request)
        ends = rows.tops(place, asked.system)
        return JSON(
            {
                "growth": {
                    **empty_picture(growth_picture, asked.system, ends),
                    "title": growth_title(asked.system),
                },
                "season": empty_picture(days_picture, asked.system, ends),
                "chance": empty_picture(chance_picture, asked.system, ends),
                "tops": ends,
                "lowest": rows.lowest_top(asked.system),
                "span": shown_span(),
                "place": place.described(),
                "rain": answers.recorded_rain(place, asked.system),
            }
        )

    _receive(router, desk)
    return router


def _receive(router: APIRouter, desk: Desk) -> None:
    """Add the routes that read a file: of prices, of weather."""

    @router.post("/prices")
    async def prices(request: Request) -> Response:
        name = plain_name(request.query_params.get("name", "prices.toml"))
        remedy = "A price file holds some dozens of lines."
        async with desk.intake.received(request, remedy) as data:
            return JSON(await desk.slowly(partial(own_prices.from_file, data, name)))

    @router.post("/weather")
    async def weather(request: Request) -> Response:
        about = request.query_params
        visitor = request.cookies.get(desk.cookie, "")
        fresh = len(visitor) != SECRET_LETTERS
        if fresh:
            visitor = secrets.token_urlsafe(SECRET)
        async with desk.intake.received(request) as data:
            try:
                place = await desk.slowly(
                    partial(
                        desk.visitors.take,
                        visitor,
                        data,
                        about.get("name", "weather.csv"),
                        latitude=_degrees(about.get("latitude", "")),
                        units_of_file=about.get("units-of-file") or None,
                        date_format=(about.get("date-format") or "")[:40] or None,
                        site=(about.get("site") or "")[:80] or None,
                    )
                )
            except InputError as error:
                raise InputError([one.spelled(_as_labelled) for one in error.problems]) from error
        response = JSON(place.described())
        if fresh:
            response.set_cookie(desk.cookie, visitor, httponly=True, samesite="strict", path="/")
        return response


def taking_router(desk: Desk) -> APIRouter:
    """Return the routes of what is taken away."""
    router = APIRouter()

    @router.get("/table.csv")
    async def table(request: Request) -> Response:
        text = await desk.slowly(lambda: downloads.table(desk.answered(request)))
        return download(text.encode(), "text/csv; charset=utf-8", "fallsown.csv")

    @router.get("/prices.toml")
    def prices(request: Request) -> Response:
        text = own_prices.as_file(desk.asked(request)[0].prices)
        return download(text.encode(), "application/toml", downloads.PRICE_FILE)

    @router.get("/picture/{which}.{suffix}")
    async def picture(which: str, suffix: str, request: Request) -> Response:
        if which not in downloads.PICTURES or suffix not in PICTURES:
            raise HTTPException(404, "There is no such picture.")

        def make() -> bytes:
            return downloads.drawn(downloads.picture(desk.answered(request), which), suffix)

        return download(await desk.slowly(make), PICTURES[suffix], f"fallsown-{which}.{suffix}")

    @router.get("/sheet/{question}.{suffix}")
    async def sheet(question: str, suffix: str, request: Request) -> Response:
        if question not in QUESTIONS or suffix not in _SHEETS:
            raise HTTPException(404, "There is no such sheet.")

        def make() -> bytes:
            return downloads.sheet(*desk.asked(request), question, suffix)

        return download(await desk.slowly(make), _SHEETS[suffix], f"fallsown-{question}.{suffix}")

    return router


def payload(found: answers.Answered) -> dict[str, Any]:
    """Return all that the view shows of an answer."""
    parts = sight(found), rest(found)
    both = {key: {**parts[0][key], **parts[1][key]} for key in ("rows", "highest")}
    return {**parts[0], **parts[1], **both}


def sight(found: answers.Answered) -> dict[str, Any]:
    """Return what is always in sight, and follows a dragged handle: the answer, how it grows."""
    drawn, ends = rows.growth_rows(found), lines.ends(found)
    pinned = found.asked.pinned
    return {
        **said_first(found),
        "labels": found.labels,
        "heads": found.heads,
        "rows": drawn,
        "falls": lines.falls(found),
        "ends": ends,
        "highest": rows.highest({**drawn, "ends": ends}),
        "pinned": None if pinned is None else answers.planned(pinned, found.system),
    }


def rest(found: answers.Answered) -> dict[str, Any]:
    """Return what stands below, and may wait until the handle rests."""
    drawn = {**rows.days_rows(found), **rows.chance_rows(found)}
    return {
        **cost_payload(found),
        "asked": answers.asked_in_words(found),
        "sentences": answers.sentences(found),
        "notes": answers.notes(found),
        "cautions": answers.said_cautions(found),
        "numbers": answers.numbers(found),
        "stages": stages.stage_table(found),
        "chance": answers.chance(found),
        "rows": drawn,
        "balance": balance(found),
        "highest": rows.highest(drawn),
    }


def cost_payload(found: answers.Answered) -> dict[str, Any]:
    """Return of an answer what its prices change."""
    lines = [downloads.command(found), downloads.cost_command(found)]
    return {"cost": costs.cost(found), "command": "\n".join(filter(None, lines))}


def _as_labelled(parameter: Parameter) -> str:
    """Name what the page calls otherwise than Python and the command line."""
    if parameter.name not in _LABELS:
        return as_control(parameter)
    return f"'{_LABELS[parameter.name]}' {parameter.value}".rstrip()


def _degrees(text: str) -> float | None:
    if not text.strip():
        return None
    try:
        return float(text)
    except ValueError:
        raise fault(
            "latitude",
            f"'{text[:40]}' is not a number.",
            "Write degrees with decimals, such as 31.3.",
        ) from None
