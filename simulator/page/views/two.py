"""Two places or two plans side by side, and what lies between them."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request, Response

from simulator import __version__
from simulator.page.frame import JSON, Desk, download, rendered
from simulator.page.pictures import empty_picture
from simulator.page.question import offered
from simulator.page.views.given_file import GivenFile
from simulator.page.views.link_query import offered_plans, questions, take_apart
from simulator.page.views.two_answer import Two, answer_of, grown_side
from simulator.page.views.two_picture import rows_of, tops_of, two_picture
from simulator.show.cautions import MODEL, NITROGEN, TERMINATION
from simulator.show.csv_table import table_text
from simulator.weather.samples import samples

SIDES = ("a-", "b-")
SECOND = {"b-sow": "11-20"}  # wherein B differs when the view is opened


def two_router(desk: Desk, given: GivenFile | None) -> APIRouter:
    """Return the routes of the view.

    Parameters
    ----------
    desk : Desk
    given : GivenFile or None
        The file that the page was started with.
    """
    router = APIRouter()

    def found(request: Request) -> Two:
        asked = take_apart(request.url.query, SIDES)
        visitor = request.cookies.get(desk.cookie)
        sides = []
        for name, question in zip(SIDES, questions(asked), strict=True):
            place = desk.visitors.place(visitor, question.place, question.file)
            sides.append(grown_side(name, question, place))
        return Two(*sides)

    @router.get("/two")
    def view() -> Response:
        return rendered(
            "views/two.html",
            "two",
            samples=list(samples().values()),
            sides=SIDES,
            **offered(),
            choices={**offered_plans(given), "second": SECOND},
        )

    @router.get("/two/answer")
    def answer(request: Request) -> Response:
        return JSON(payload(found(request)))

    @router.get("/two/table.csv")
    async def table(request: Request) -> Response:
        text = await desk.slowly(lambda: csv_of(found(request)))
        return download(text.encode(), "text/csv; charset=utf-8", "fallsown-two.csv")

    return router


def payload(two: Two) -> dict[str, Any]:
    """Return all that the view shows."""
    ends = tops_of(two)
    cautions = [MODEL, NITROGEN, TERMINATION]
    invented = [
        f"{one} is an invented place: its weather was generated, not measured."
        for one in dict.fromkeys(side.site for side in two.sides if side.place.invented)
    ]
    return {
        **answer_of(two),
        "picture": empty_picture(two_picture, two.system, ends),
        "tops": ends,
        "rows": rows_of(two),
        "places": [side.place.described() for side in two.sides],
        "fields": [side.asked.query() for side in two.sides],
        "cautions": [*invented, *cautions],
    }


def csv_of(two: Two) -> str:
    """Return each fall of both sides as CSV, in SI, the difference where they share a fall."""
    made = [dict(zip(side.years, side.values("biomass_kg_ha"), strict=True)) for side in two.sides]
    fields = ("biomass_kg_ha", "nitrogen_uptake_kg_ha", "nitrate_leached_kg_ha", "drainage_mm")
    rows = []
    for side in two.sides:
        for at, year in enumerate(side.years):
            apart = float(made[1][year] - made[0][year]) if two.paired and year in two.both else ""
            rows.append(
                {
                    "side": side.name,
                    "site": side.site,
                    "year": year,
                    **{name: float(side.values(name)[at]) for name in fields},
                    "difference_b_less_a_kg_ha": apart,
                }
            )
    about = {
        "made_by": f"fallsown {__version__}, two side by side",
        **{f"plan_{side.name}": f"{side.planned} at {side.site}" for side in two.sides},
        "caution": MODEL,
    }
    return table_text(about, rows)
