"""Plans and years as options give them, read and checked."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import Any, TypeVar

import click

from simulator import units
from simulator.problems import InputError, Parameter, Problem, fault

Read = TypeVar("Read")

EARLIEST, LATEST = 1750, 2200  # as `simulator.weather.files.dates` has them
MOST_SEASONS = 200_000

BARE_SOIL = click.option(
    "--bare-soil",
    default="bare",
    show_default=True,
    metavar="KIND",
    help="What bare soil is: bare; 'residue 2000 lb/acre', so much of the last crop's in September;"
    " or volunteers, a thin stand without nitrogen ('volunteers 20 lb/acre': of so much seed).",
)

_YEARS = re.compile(r"^(\d{4})(?::(\d{4}))?$")
_BARE_NUMBER = re.compile(r"^\d+\.?\d*$")
_GLUED = re.compile(r"^(\d+\.?\d*)(?![eE][-+]?\d)(?=[A-Za-z])")  # "90lb/acre"


def gathered(problems: list[Problem], read: Callable[[], Read]) -> Read | None:
    """Return what is read, or None and its faults added to the others."""
    try:
        return read()
    except InputError as error:
        problems += error.problems
        return None


def parse_years(text: str) -> list[int] | None:
    """Read fall years.

    Parameters
    ----------
    text : str
        ``"1995:2024"``, ``"2007"``, ``"1995,1998,2003:2006"``, or ``"all"``.

    Returns
    -------
    list of int or None
        In order, none twice; None for all.

    Raises
    ------
    InputError
        It cannot be read, a span runs backwards, or a year lies outside 1750 to 2200.
    """
    if text.strip().lower() == "all":
        return None
    years: set[int] = set()
    for part in text.split(","):
        match = _YEARS.match(part.strip())
        if not match:
            raise fault(
                Parameter("years"),
                f"'{part.strip()[:40]}' is not a year or a span of years.",
                "Write 1995:2024, 2007, a list with commas, or all.",
            )
        first, last = int(match[1]), int(match[2] or match[1])
        if last < first:
            raise fault(
                Parameter("years"), f"{first}:{last} runs backwards.", f"Write {last}:{first}."
            )
        if not EARLIEST <= first <= last <= LATEST:
            raise fault(
                Parameter("years"), f"'{part.strip()}' lies outside {EARLIEST} to {LATEST}."
            )
        years.update(range(first, last + 1))
    return sorted(years)


def parts(texts: Iterable[str], *, option: str) -> list[str]:
    """Split lists with commas; bare numbers take the unit that the last of their list has.

    Parameters
    ----------
    texts : iterable of str
        What `options.list_option` gathered: ``("10-20,11-05", "12-08")``, ``("3, 4 Mg/ha",)``.
    option : str
        Its name, for the message.

    Returns
    -------
    list of str
        In the order given.

    Raises
    ------
    InputError
        An empty item, or one given twice.
    """
    found: list[str] = []
    for text in texts:
        items = [_GLUED.sub(r"\1 ", " ".join(item.split())) for item in text.split(",")]
        number, _, unit = items[-1].partition(" ")
        if unit and _BARE_NUMBER.match(number):
            units.refuse_thousands(text.split(","), name=option)
        if unit and _BARE_NUMBER.match(number):
            items = [f"{item} {unit}" if _BARE_NUMBER.match(item) else item for item in items]
        found += items
    if not all(found):
        raise fault(
            option, f"'{','.join(texts)}' has an empty item.", "Write one value between commas."
        )
    twice = [item for place, item in enumerate(found) if item in found[:place]]
    if twice:
        raise fault(option, f"'{twice[0]}' is given twice.", "Give each value once.")
    return found


def plans(
    *,
    sow: Sequence[str],
    seeding: Sequence[str],
    nitrogen: Sequence[str],
    nitrogen_timing: Sequence[str],
    end: Sequence[str],
    changes: Sequence[str] = (),
) -> dict[str, Any]:
    """Read the plans of a grid and check them all, and what changes the weather, at once.

    Raises
    ------
    InputError
        Anything that cannot be read, is out of range, or out of order.
    """
    from simulator.season import plan
    from simulator.weather.change_text import parse_change

    checks: dict[str, tuple[Sequence[str], Callable[..., object]]] = {
        "sow": (sow, plan.month_day),
        "seeding": (seeding, plan.seeding_rates),
        "nitrogen": (nitrogen, plan.nitrogen_rates),
        "nitrogen_timing": (nitrogen_timing, plan.dressings),
        "end": (end, plan.end),
    }
    read: dict[str, list[str]] = {}
    problems: list[Problem] = []
    for name, (texts, check) in checks.items():
        option = Parameter(name)
        try:
            values = parts(texts, option=option)
        except InputError as error:
            problems += error.problems
            continue
        problems += faults(partial(check, name=option), values)
        read[name] = [plan.dated(value) for value in values]
    problems += faults(parse_change, changes)
    if problems:
        raise InputError(problems)
    return read


def one_each(plans: dict[str, Any]) -> dict[str, str]:
    """Take the single plan of a season from lists of one.

    Raises
    ------
    InputError
        An option with several values.
    """
    problems = [
        Problem(
            Parameter(name),
            f"{', '.join(values)} are several values.",
            "A season takes one; 'fallsown compare' takes lists.",
        )
        for name, values in plans.items()
        if len(values) > 1
    ]
    if problems:
        raise InputError(problems)
    return {name: values[0] for name, values in plans.items()}


def faults(check: Callable[[str], object], texts: Iterable[str]) -> list[Problem]:
    """Check each text and gather the faults of all."""
    found: list[Problem] = []
    for text in texts:
        try:
            check(text)
        except InputError as error:
            found += error.problems
    return found
