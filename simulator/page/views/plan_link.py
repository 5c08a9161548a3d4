"""What views of a plan are asked: what a link to one field says, and a few keys of their own."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import parse_qsl, urlencode

from anyio import to_thread
from fastapi import APIRouter, Request, Response

from simulator.page.answers import planned
from simulator.page.controls import RANGES
from simulator.page.frame import JSON, Desk, download, rendered
from simulator.page.question import Question, keys_and_texts, offered, read_question, short
from simulator.page.records import PlaceWeather
from simulator.page.sown import Sown
from simulator.page.views.given_file import GivenFile
from simulator.page.views.link_query import offered_plans
from simulator.problems import InputError, Problem, fault
from simulator.season.plan import month_day
from simulator.show.cautions import cautions
from simulator.show.grids import place as place_named
from simulator.weather.samples import samples

Readers = Mapping[str, Callable[[str], Any]]
LEFT_BEHIND = ("pin-", "price", "target", "ended-by")  # begin keys that these views have no use for


@dataclass(frozen=True)
class PlanView:
    """A view of one plan.

    Parameters
    ----------
    name : str
        Of its path, its template, and its place in the header.
    own : mapping of str to callable
        As `read_with_own` takes it.
    find : callable
        Of a question, its place and the view's own keys: what is found.
    payload, table : callable
        Of what is found: what is shown, with the view's own keys beside it; its rows as CSV.
    rows : str
        What the file of rows is called.
    takes_long : bool
        Answered one at a time, beside the quick ones.
    offers : mapping
        What its template is made of besides.
    """

    name: str
    own: Readers
    find: Callable[[Question, PlaceWeather, Any], Any]
    payload: Callable[[Any, Any], dict[str, Any]]
    table: Callable[[Any], str]
    rows: str
    takes_long: bool = False
    offers: Mapping[str, Any] = field(default_factory=dict)


def read_with_own(query: str, own: Readers) -> tuple[Question, dict[str, Any]]:
    """Read a question about a plan, and a view's own keys beside it.

    Parameters
    ----------
    query : str
        Of a link: keys as `read_question` takes them, and those of ``own``.
    own : mapping of str to callable
        Reads the text of each key; the text is empty where the link does not say it.

    Raises
    ------
    InputError
        Every key or value that cannot be read, its ``where`` the name of the key.
    """
    rest: list[tuple[str, str]] = []
    given: dict[str, str] = {}
    problems: list[Problem] = []
    for key, text in keys_and_texts(query):
        if key not in own:
            rest.append((key, text))
        elif key in given:
            problems.append(Problem(key, "It is said twice.", "Say it once."))
        else:
            given[key] = text
    read: dict[str, Any] = {}
    asked = None
    try:
        asked = read_question(urlencode(rest))
    except InputError as error:
        problems += error.problems
    for key, reader in own.items():
        try:
            read[key] = reader(given.get(key, ""))
        except InputError as error:
            problems += error.problems
    if problems or asked is None:
        raise InputError(problems)
    return asked, read


def one_of(key: str, names: tuple[str, ...]) -> Callable[[str], str]:
    """Return what reads one of some names; nothing said is the first."""

    def read(text: str) -> str:
        if text and text not in names:
            raise fault(key, f"'{short(text)}' is not known.", f"Take one of {', '.join(names)}.")
        return text or names[0]

    return read


def a_date(key: str, usual: str) -> Callable[[str], str]:
    """Return what reads a date, MM-DD; nothing said is a usual one."""
    return lambda text: month_day(text or usual, name=key)


def shared_payload(asked: Question, place: PlaceWeather, own: Mapping[str, str]) -> dict[str, Any]:
    """Return what all these views show, and the texts of all controls."""
    pairs = parse_qsl(asked.query())
    plain = {key: text for key, text in pairs if key != "change"}
    texts = {key: text for key, text in plain.items() if not key.startswith(LEFT_BEHIND)}
    return {
        "place": place.described(),
        "asked": {**texts, **own},
        "changes": [change.text for change in asked.changes],
        "in_words": in_words(asked, place),
        "cautions": cautions(place.about, nitrogen=True, termination=True),
        "to_field": asked.query(),
    }


def in_words(asked: Question, place: PlaceWeather) -> str:
    """Say the plan and its field, for print and for whoever does not see the controls."""
    plan = asked.plan
    text = planned(plan, asked.system)
    changed = ""
    if asked.changes:
        changed = f" The weather is changed: {'; '.join(one.text for one in asked.changes)}."
    return (
        f"{text[0].upper()}{text[1:]}, on {plan.soil} after {plan.previous_crop}, at "
        f"{place_named(place.about)}.{changed}"
    )


def plan_router(desk: Desk, given: GivenFile | None, view: PlanView) -> APIRouter:
    """Return the routes of a view of a plan: the page, its answer, its table.

    Parameters
    ----------
    desk : Desk
    given : GivenFile or None
        The file that the page was started with.
    view : PlanView
    """
    router = APIRouter()
    path = f"/{view.name}"
    run = desk.slowly if view.takes_long else to_thread.run_sync

    def found(request: Request) -> tuple[Any, Any]:
        asked, read = read_with_own(request.url.query, view.own)
        cookie = request.cookies.get(desk.cookie)
        place = desk.visitors.place(cookie, asked.place, asked.file)
        return view.find(asked, place, read), read

    @router.get(path)
    def page() -> Response:
        return rendered(
            f"views/{view.name}.html",
            view.name,
            samples=list(samples().values()),
            choices={**offered_plans(given), "ranges": RANGES},
            **offered(),
            **view.offers,
        )

    @router.get(f"{path}/answer")
    async def answer(request: Request) -> Response:
        return JSON(await run(lambda: view.payload(*found(request))))

    @router.get(f"{path}/{view.rows}.csv")
    async def csv(request: Request) -> Response:
        text = await desk.slowly(lambda: view.table(found(request)[0]))
        return download(text.encode(), "text/csv; charset=utf-8", f"fallsown-{view.name}.csv")

    return router


def grown_with(plan: Sown, **others: Any) -> dict[str, Any]:
    """Return the field and the plan as `compare` takes them, others in place of the plan's own.

    Raises
    ------
    InputError
        A soil test that does not fit the plans.
    """
    plans = {
        name: [getattr(plan, name)]
        for name in ("sow", "seeding", "nitrogen", "nitrogen_timing", "end")
    } | others
    fitted = {name: plans[name] for name in ("sow", "nitrogen", "nitrogen_timing")}
    ground, crop, _ = plan.field(**fitted)
    return {
        "cereal": plan.cereal,
        "fertilizer": plan.fertilizer,
        "soil": ground,
        "previous_crop": crop,
        **plans,
    }


def quiet(_: str) -> None:
    """Hear that the loop is compiled, and say nothing: the page has said it when it started."""
