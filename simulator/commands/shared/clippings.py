"""What was clipped of a stand: --measured."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from simulator.problems import InputError, Parameter, Problem

if TYPE_CHECKING:
    from simulator.season.clipping import Clipping

NAME = Parameter("measured")
FORM = "Write for example '850 lb/acre on 01-20'."
MOST = 25_000.0  # kg/ha of dry matter: twice what 95 of 100 stands of rye have at their largest
_ON = re.compile(r"^\s*(?P<mass>.*?)\s+on\s+(?P<date>\S+)\s*$", re.IGNORECASE)

MEASURED = click.option(
    "--measured",
    multiple=True,
    metavar="'MASS on MM-DD'",
    help="Dry biomass clipped from the stand, with its unit and day, such as "
    "'850 lb/acre on 01-20'; give it again for more.",
)


def read_clippings(texts: Sequence[str]) -> tuple[Clipping, ...]:
    """Read what was clipped: ``("850 lb/acre on 01-20",)``.

    Raises
    ------
    InputError
        No number, unit or date, a unit of another kind, nothing or more than grows, two
        clippings of one day; all faults are told.
    """
    problems: list[Problem] = []
    read: dict[str, Clipping] = {}
    for text in texts:
        try:
            one = _read(text)
        except InputError as error:
            problems += error.problems
            continue
        if one.date in read:
            problems.append(
                Problem(
                    NAME,
                    f"Two clippings are given for {one.date}.",
                    "Give one a day, the mean of its spots.",
                )
            )
        read[one.date] = one
    if problems:
        raise InputError(problems)
    return tuple(read[date] for date in read)


def _read(text: str) -> Clipping:
    from simulator import units
    from simulator.season.clipping import Clipping
    from simulator.season.plan import month_day

    found = _ON.match(text) if len(text) <= 100 else None
    if found is None:
        raise InputError([Problem(NAME, f"'{text[:80]}' is not a mass on a day.", FORM)])
    try:
        biomass = units.parse(found["mass"], "kg/ha", name=NAME)
        date = month_day(found["date"], name=NAME)
    except InputError as error:
        raise InputError([Problem(NAME, one.what, FORM) for one in error.problems]) from error
    if not 0.0 < biomass <= MOST:
        most = units.parse(f"{MOST:g} kg/ha", "lb/acre", name=NAME)
        raise InputError(
            [
                Problem(
                    NAME,
                    f"'{found['mass']}' is not a stand's dry biomass.",
                    f"Give more than 0 and at most {MOST:,.0f} kg/ha ({most:,.0f} lb/acre).",
                )
            ]
        )
    return Clipping(date=date, biomass=biomass)
