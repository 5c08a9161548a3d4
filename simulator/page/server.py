"""The page's application: the guard, the views, the files they need, and refusals as JSON."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from anyio import to_thread
from fastapi import FastAPI, Request, Response
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect

from simulator.page.classroom.view import class_router
from simulator.page.field_view import field_router, taking_router
from simulator.page.frame import JSON, STATIC, Desk, chart_script, kept, static
from simulator.page.guard import Guard, problems_json
from simulator.page.records import Visitors
from simulator.page.slow_clients import SlowFileError
from simulator.page.views import falls, rain_view, soil
from simulator.page.views.given_file import GivenFile
from simulator.page.views.place_sets import PlaceSets
from simulator.page.views.places import map_router
from simulator.page.views.plan_link import plan_router
from simulator.page.views.so_far import so_far_router
from simulator.page.views.two import two_router
from simulator.problems import InputError, Problem
from simulator.show.drawing import Drawer, draw_here

THREADS = 4  # answers at a time


@asynccontextmanager
async def _bounded(_: FastAPI) -> AsyncIterator[None]:
    to_thread.current_default_thread_limiter().total_tokens = THREADS
    yield


def make_app(
    port: int,
    visitors: Visitors,
    drawer: Drawer = draw_here,
    given: GivenFile | None = None,
    sets: PlaceSets | None = None,
) -> Guard:
    """Make the application.

    Parameters
    ----------
    port : int
        Listened on; requests under another name or port are refused.
    visitors : Visitors
        Keeps the files that are read.
    drawer : callable
        Draws what is taken away.
    given : GivenFile, optional
        The weather file that the page was started with.
    sets : PlaceSets, optional
        What maps may be drawn of; the samples and invented places without it.
    """
    # no documentation pages: theirs ask other hosts for their scripts
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None, lifespan=_bounded)
    desk = Desk(visitors, port, drawer)
    app.include_router(field_router(desk))
    app.include_router(taking_router(desk))
    app.include_router(class_router(desk))
    for view in (falls.VIEW, rain_view.VIEW, soil.VIEW):
        app.include_router(plan_router(desk, given, view))

    @app.get("/script/charts.js")
    def script(request: Request) -> Response:
        return kept(request, *chart_script(), "text/javascript")

    @app.get("/static/{name}")
    def files(name: str, request: Request) -> Response:
        if name not in STATIC:
            raise HTTPException(404, "There is no such file.")
        return kept(request, *static(name), STATIC[name])

    @app.exception_handler(InputError)
    async def faulty(_: Request, error: InputError) -> Response:
        close = {"connection": "close"} if isinstance(error, SlowFileError) else None
        return JSON(problems_json(error.problems), status_code=422, headers=close)

    @app.exception_handler(HTTPException)
    async def refused(_: Request, error: HTTPException) -> Response:
        waits = error.status_code == 503
        remedy = "Wait a moment, and ask again." if waits else "Open the page again."
        problem = Problem("page" if waits else "address", str(error.detail), remedy)
        headers = {"retry-after": "2"} if waits else None
        return JSON(problems_json([problem]), status_code=error.status_code, headers=headers)

    @app.exception_handler(ClientDisconnect)
    async def gone(_: Request, __: ClientDisconnect) -> Response:
        return Response(status_code=499)  # nobody reads it

    @app.exception_handler(Exception)
    async def failed(_: Request, error: Exception) -> Response:
        problem = Problem(
            "page",
            f"It failed by a fault of ours ({type(error).__name__}).",
            "Ask something else; nothing of yours is lost.",
        )
        return JSON(problems_json([problem]), status_code=500)

    sets = sets or PlaceSets(visitors)
    visitors.shelves += [sets.find] if given is None else [given.find, sets.find]
    app.include_router(two_router(desk, given))
    app.include_router(so_far_router(desk, given))
    app.include_router(map_router(desk, sets))
    return Guard(app, port)
