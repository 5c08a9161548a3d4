"""What the views share on the server: templates, files, JSON, and the desk that finds answers."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from anyio import CapacityLimiter, to_thread
from fastapi import Request, Response
from jinja2 import Environment, FileSystemLoader
from starlette.exceptions import HTTPException

from simulator import __version__
from simulator.page import answers
from simulator.page.patience import Intake
from simulator.page.question import Question, read_question
from simulator.page.records import PlaceWeather, Visitors
from simulator.show.drawing import Drawer, draw_here, drawn_by

HERE = Path(__file__).parent
# the views in the header: key, path, name; a view is a router that `server` includes, a template
# that extends frame.html, and a script that imports frame.js
VIEWS = (("field", "/", "One field"), ("class", "/class", "Thermal time"))
SCRIPTS = ("frame.js", "field.js", "prices.js", "class.js", "class_curve.js", "class_guess.js")
SHARED = (
    "frame.js",
    "prices.js",
    "class_curve.js",
    "class_guess.js",
)  # of them those that others import
STATIC = {
    "page.css": "text/css",
    "class.css": "text/css",
    **dict.fromkeys(SCRIPTS, "text/javascript"),
}
HEAVY = 1  # sheets, pictures and files at a time
MOST_WAITING = 24  # for those
PICTURES = {"svg": "image/svg+xml", "png": "image/png"}  # that can be taken away, and their kinds
FOR_GOOD = "private, max-age=31536000, immutable"


class JSON(Response):
    """A JSON answer without NaN, as short as it can be."""

    media_type = "application/json"

    def render(self, content: Any) -> bytes:
        """Write it."""
        return json.dumps(content, allow_nan=False, separators=(",", ":")).encode()


class Desk:
    """Where views turn a request into what it asks for.

    Parameters
    ----------
    visitors : Visitors
    port : int
        Browsers keep cookies by host and not by port: the cookie's name has it.
    drawer : callable
        Draws what is taken away.

    Attributes
    ----------
    intake : Intake
        Receives files.
    """

    def __init__(self, visitors: Visitors, port: int, drawer: Drawer = draw_here) -> None:
        self.visitors = visitors
        self.drawer = drawer
        self.cookie = f"fallsown-{port}"
        self._heavy = CapacityLimiter(HEAVY)
        self.intake = Intake()

    def asked(self, request: Request) -> tuple[Question, PlaceWeather]:
        """Read the question in a request, and find its place.

        Raises
        ------
        InputError
            As `read_question` and `Visitors.place`.
        """
        asked = read_question(request.url.query)
        place = self.visitors.place(request.cookies.get(self.cookie), asked.place, asked.file)
        return asked, place

    def answered(self, request: Request) -> answers.Answered:
        """Grow what a request asks for."""
        return answers.answer(*self.asked(request))

    async def slowly(self, work: Callable[[], Any]) -> Any:
        """Do what takes long, one at a time, beside the quick answers."""
        if self._heavy.statistics().tasks_waiting >= MOST_WAITING:
            raise HTTPException(503, "The page has too much to do at once.")

        def drawing() -> Any:
            with drawn_by(self.drawer):
                return work()

        return await to_thread.run_sync(drawing, limiter=self._heavy)


@cache
def chart_script() -> tuple[bytes, str]:
    """Return the script that draws, from the installed package, and what tells its version."""
    import vl_convert

    script = vl_convert.javascript_bundle().encode()  # type: ignore[call-arg]  # stub lacks default
    return script, _version(script)


@cache
def static(name: str) -> tuple[bytes, str]:
    """Return a file of the page, and what tells its version."""
    data = (HERE / name).read_bytes()
    if name.endswith(".js"):  # it imports the shared by their versions too
        for shared in SHARED:
            if (plain := f'"./{shared}"'.encode()) in data:
                data = data.replace(plain, f'"{_address(shared)}"'.encode())
    return data, _version(data)


def _version(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:16]


def _address(name: str) -> str:
    return f"/static/{name}?{static(name)[1]}"


@cache
def templates() -> Environment:
    """Return the pages' templates; everything in them is escaped."""
    made = Environment(loader=FileSystemLoader(HERE), autoescape=True)
    made.globals.update(
        version=__version__,
        views=VIEWS,
        url=_address,
        script_url=lambda: f"/script/charts.js?{chart_script()[1]}",
    )
    return made


def rendered(template: str, view: str, **more: Any) -> Response:
    """Return a view made of a template, which extends ``frame.html``."""
    text = templates().get_template(template).render(view=view, **more)
    return Response(text, media_type="text/html; charset=utf-8")


def download(data: bytes, kind: str, name: str) -> Response:
    """Return a file to keep."""
    return Response(
        data, media_type=kind, headers={"content-disposition": f'attachment; filename="{name}"'}
    )


def kept(request: Request, data: bytes, version: str, kind: str) -> Response:
    """Return what never changes under its address, or say that the browser has it."""
    headers = {"cache-control": FOR_GOOD, "etag": f'"{version}"'}
    if request.headers.get("if-none-match") == f'"{version}"':
        return Response(status_code=304, headers=headers)
    return Response(data, media_type=kind, headers=headers)
