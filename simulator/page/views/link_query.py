"""What a view is asked in a link: records with their plans, and what is the view's own.

The keys of a plan are those of the field's view (`simulator.page.question`); where a view has
several plans, what begins their keys tells them apart. A key is the name of its control.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any
from urllib.parse import urlencode

from simulator import units
from simulator.page.controls import DATES, RANGES
from simulator.page.question import Question, keys_and_texts, read_question, short, usual
from simulator.page.sown import PARTS
from simulator.page.views.given_file import KEY, GivenFile
from simulator.problems import InputError, Problem
from simulator.season.plan import ANY_YEAR, day_number
from simulator.weather.samples import DEFAULT_SAMPLE, samples

PLAN = tuple(name.replace("_", "-") for name in PARTS)
SIDE = ("place", "file", *PLAN)
SHARED = ("units", "target")


@dataclass(frozen=True)
class Asked:
    """A link, taken apart.

    Parameters
    ----------
    sides : dict of str to dict
        What begins the keys of a plan -> its keys without that, and texts.
    own : dict of str to str
        Keys of the view's own, and of `SHARED`.
    repeated : dict of str to list of str
        Keys that may be there any number of times.
    problems : list of Problem
        Of the keys.
    """

    sides: dict[str, dict[str, str]]
    own: dict[str, str] = field(default_factory=dict)
    repeated: dict[str, list[str]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    @property
    def system(self) -> units.System:
        """Units of the reader; without them those of the first record's place."""
        given = self.own.get("units")
        if given in ("us", "si"):
            return "us" if given == "us" else "si"
        first = next(iter(self.sides.values()), {}).get("place", "")
        known = samples().get(first)
        return "us" if known is None else known.units_shown


def take_apart(
    query: str, sides: Sequence[str], own: Sequence[str] = (), repeatable: Sequence[str] = ()
) -> Asked:
    """Take the query of a link apart.

    Parameters
    ----------
    query : str
    sides : sequence of str
        What begins the keys of each plan: ``("a-", "b-")``; ``("",)`` where there is one.
    own, repeatable : sequence of str
        Keys of the view's own; those that may be there any number of times.

    Raises
    ------
    InputError
        The query is longer, or has more keys, than any that the page asks.
    """
    asked = Asked({side: {} for side in sides}, repeated={name: [] for name in repeatable})
    for key, text in keys_and_texts(query):
        side = next((one for one in sides if key.startswith(one) and key[len(one) :] in SIDE), None)
        if key in repeatable:
            asked.repeated[key] += [text] if text else []
            continue
        if key in own or key in SHARED:
            kept, name = asked.own, key
        elif side is not None:
            kept, name = asked.sides[side], key[len(side) :]
        else:
            wrong = Problem(short(key), "There is no such control.", "Ask from the page.")
            asked.problems.append(wrong)
            continue
        if name in kept:
            asked.problems.append(Problem(key, "It is said twice.", "Say it once."))
        kept[name] = text
    return asked


def questions(asked: Asked, more: Sequence[Problem] = ()) -> list[Question]:
    """Read the plan of each side.

    Parameters
    ----------
    asked : Asked
    more : sequence of Problem
        What else is wrong, to be told with the rest.

    Raises
    ------
    InputError
        Every fault, its ``where`` the name of the control.
    """
    problems, found = [*asked.problems, *more], []
    shared = {name: text for name, text in asked.own.items() if name in SHARED and text}
    for side, given in asked.sides.items():
        query = {**given, "units": asked.system, **shared}
        try:
            found.append(read_question(urlencode(query)))
        except InputError as error:
            problems += [
                one if one.where in SHARED else replace(one, where=f"{side}{one.where}")
                for one in error.problems
                if one.where not in SHARED or one not in problems
            ]
    if problems:
        raise InputError(problems)
    return found


def offered_plans(given: GivenFile | None = None) -> dict[str, Any]:
    """Return what the scripts of the views need for their fields of records and plans.

    Parameters
    ----------
    given : GivenFile, optional
        The file that the page was started with: its record is shown first.
    """
    first = DEFAULT_SAMPLE if given is None else KEY
    known = {one.name: one.units_shown for one in samples().values()}
    if given is not None:
        known[KEY] = given.place().units_shown
    return {
        "usual": {system: usual(system, first) for system in RANGES},
        "units": {system: RANGES[system]["seeding"][3] for system in RANGES},
        "days": {
            name: [day_number(ANY_YEAR, date) for date in pair] for name, pair in DATES.items()
        },
        "given": {} if given is None else {KEY: given.path.name},
        "samples": known,
    }
