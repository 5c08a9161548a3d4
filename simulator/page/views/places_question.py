"""What the map is asked, and the seasons that it is made of."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

from simulator.answers.risk import FIELDS
from simulator.page.question import Question, short
from simulator.page.records import PlaceWeather
from simulator.page.sown import PARTS, Sown
from simulator.page.views.link_query import questions, take_apart
from simulator.page.views.place_sets import PlaceSet
from simulator.parameters.cereals import cereal
from simulator.parameters.fertilizers import fertilizer
from simulator.problems import InputError, Problem, fault
from simulator.season import plan as plans
from simulator.season.compare import compare

DATES = ("10-05", "10-20", "11-05", "11-20")
MOST_DATES = 6
OWN = ("set", "set-file", "sowings", "at", "upto")


@dataclass(frozen=True)
class MapQuestion:
    """What the map is asked.

    Parameters
    ----------
    asked : Question
        The plan, its target, its units; its sowing is the one that is shown.
    set_key, set_file : str
    sowings : tuple of str
        Dates that are compared, MM-DD, the earliest first.
    upto : int
        How many places are wanted.
    """

    asked: Question
    set_key: str
    set_file: str
    sowings: tuple[str, ...]
    upto: int


def read_map_question(query: str, first: str) -> MapQuestion:
    """Read it from the query of a link; ``first`` is the key of the set that is shown first.

    Raises
    ------
    InputError
        Every fault, its ``where`` the name of the control.
    """
    taken = take_apart(query, ("",), OWN)
    problems: list[Problem] = []
    sowings: tuple[str, ...] = ()
    given = taken.own.get("sowings") or ",".join(DATES)
    try:
        sowings = _dates(given)
    except InputError as error:
        problems += error.problems
    sides = taken.sides[""]
    sides.pop("place", None)
    if not sides.get("sow") and sowings:
        sides["sow"] = DATES[1] if DATES[1] in sowings else sowings[0]
    (asked,) = questions(taken, problems)
    if asked.plan.sow not in sowings:
        raise fault(
            "sow", f"{asked.plan.sow} is none of the dates compared.", "Choose one of them."
        )
    for sow in sowings:
        try:
            plans.check_order([sow], [asked.plan.dressings], [plans.end(asked.plan.end)])
        except InputError as error:
            raise InputError(
                [Problem("sowings", p.what, p.remedy) for p in error.problems]
            ) from None
    upto = taken.own.get("upto", "")
    return MapQuestion(
        asked,
        (taken.own.get("set") or first)[:80],
        taken.own.get("set-file", "")[:120],
        sowings,
        int(upto) if upto.isascii() and upto.isdigit() and len(upto) < 6 else 10**6,
    )


def _dates(text: str) -> tuple[str, ...]:
    parts = [part.strip() for part in text.split(",") if part.strip()]
    if not 1 <= len(parts) <= MOST_DATES:
        raise fault(
            "sowings",
            f"'{short(text)}' has {len(parts)} dates.",
            f"Give 1 to {MOST_DATES} dates such as {','.join(DATES)}.",
        )
    read = {plans.month_day(part, name="sowings") for part in parts}
    return tuple(sorted(read, key=lambda date: plans.day_number(plans.ANY_YEAR, date)))


def grown(place: PlaceWeather, plan: Sown, sowings: tuple[str, ...]) -> Any:
    """Grow a plan at a place on each date; where it cannot be grown, the fault.

    Returns
    -------
    Dataset(year, sow, ...) or InputError
    """
    ground, crop, _ = plan.field()
    try:
        grid = compare(
            place.record,
            cereal=cereal(plan.cereal),
            fertilizer=fertilizer(plan.fertilizer),
            soil=ground,
            previous_crop=crop,
            sow=list(sowings),
            seeding=[plan.seeding],
            nitrogen=[plan.nitrogen],
            nitrogen_timing=[plan.nitrogen_timing],
            end=[plan.end],
            years=place.years,
        )
    except InputError as error:
        return error
    return grid[list(FIELDS)].load()


def grow(question: MapQuestion, chosen: PlaceSet) -> list[tuple[PlaceWeather, Any]]:
    """Grow the plan at each place that is wanted; what has been grown is kept with the set.

    Returns
    -------
    list of (PlaceWeather, Dataset or InputError)
        As `grown` has it.
    """
    # the date shown is one of those compared: it changes nothing that is grown
    plan = Sown(**{**_parts(question.asked.plan), "sow": question.sowings[0]})
    return [
        (
            place,
            chosen.kept(
                (place, plan, question.sowings), partial(grown, place, plan, question.sowings)
            ),
        )
        for place in chosen.read(question.upto)
    ]


def _parts(plan: Sown) -> dict[str, str]:
    return {name: getattr(plan, name) for name in PARTS}
