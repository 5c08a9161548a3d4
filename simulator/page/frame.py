"""What the views share on the server: templates, files, JSON, and the desk that finds answers."""

from __future__ import annotations

import gzip
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
from simulator.page.question import Question, read_question
from simulator.page.records import PlaceWeather, Visitors
from simulator.page.slow_clients import Intake
from simulator.show.drawing import Drawer, draw_here, drawn_by

HERE = Path(__file__).parent
# the views in the header: key, path, name; a view is a router that `server` includes, a template
# that extends frame.html, and a script that imports frame.js
VIEWS = (
    ("field", "/", "One field"),
    ("falls", "/falls", "Fall by fall"),
    ("rain", "/rain", "A month's rain"),
    ("two", "/two", "Two side by side"),
    ("so-far", "/season", "This season"),
    ("map", "/map", "Map"),
    ("soil", "/soil", "The soil"),
    ("class", "/class", "Thermal time"),
)
OF_VIEWS = (  # in views/
    *("drawn.js", "plan_view.js", "falls.js", "rain.js", "soil.js"),
    *("plan.js", "two.js", "so_far.js", "places.js", "places_drawn.js"),
)
SCRIPTS = (
    *("frame.js", "field.js", "field_bench.js", "field_cursor.js", "field_growth.js", "prices.js"),
    *("class.js", "class_curve.js", "class_guess.js", *OF_VIEWS),
)
# of them those that others import, each after those that it imports
SHARED = (
    *("frame.js", "drawn.js", "field_bench.js", "field_cursor.js", "field_growth.js"),
    *("prices.js", "class_curve.js", "class_guess.js"),
    *("plan.js", "plan_view.js", "places_drawn.js"),
)
STATIC = {
    **dict.fromkeys(("page.css", "class.css", "drawn.css", "plan.css"), "text/css"),
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


def pack_chart_script() -> None:
    """Have the script ready as browsers take it, before one asks."""
    _packed(chart_script()[0])


@cache
def static(name: str) -> tuple[bytes, str]:
    """Return a file of the page, and what tells its version."""
    data = next(HERE.rglob(name)).read_bytes()  # a view's own lie in its folder
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
    """Return what never changes under its address, packed where that is taken and saves some.

    It may be said that the browser has it, in whichever form it was sent.
    """
    packs = takes_gzip(request.headers.get("accept-encoding", ""))
    packed = _packed(data) if packs else data
    tag = f'"{version}-gz"' if packs else f'"{version}"'
    headers = {"cache-control": FOR_GOOD, "etag": tag, "vary": "accept-encoding"}
    if request.headers.get("if-none-match") in (f'"{version}"', f'"{version}-gz"'):
        return Response(status_code=304, headers=headers)
    if packs:
        headers["content-encoding"] = "gzip"
    return Response(packed, media_type=kind, headers=headers)


def takes_gzip(accepted: str) -> bool:
    """Read from a request's Accept-Encoding whether what is packed may be sent (RFC 9110, 12.5.3).

    Parameters
    ----------
    accepted : str
        Such as ``"gzip, deflate;q=0.5, *;q=0"``; empty where there is none.
    """
    weights: dict[str, float] = {}
    for part in accepted.lower().split(","):
        name, *options = (text.strip() for text in part.split(";"))
        weights[name] = _weight(options)
    return weights.get("gzip", weights.get("x-gzip", weights.get("*", 0.0))) > 0.0


def _weight(options: list[str]) -> float:
    for option in options:
        if option.startswith("q="):
            try:
                return float(option[2:])
            except ValueError:
                return 0.0
    return 1.0


@cache
def _packed(data: bytes) -> bytes:
    return gzip.compress(data, mtime=0)
