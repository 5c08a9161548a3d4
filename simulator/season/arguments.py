"""Arguments from Python: those not of the kind wanted are refused by name, before anything runs.

What a text says is judged where it is read; here it is only seen to be text.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from numbers import Integral
from os import PathLike
from typing import Any

from simulator.parameters import cereals, fertilizers, soils
from simulator.problems import InputError, Problem, fault

_EXAMPLES = {
    "sow": "'10-20'",
    "seeding": "'90 lb/acre'",
    "nitrogen": "'60 lb/acre'",
    "nitrogen_timing": "'sowing'",
    "end": "'04-15'",
    "irrigation": "'0.5 inch on 10-22'",
    "changes": "'rain november = 11 inch'",
    "fields": "'biomass_kg_ha'",
}
_SETS: dict[str, tuple[type, str]] = {
    "cereal": (cereals.Cereal, "'rye'"),
    "soil": (soils.Soil, "'sandy loam'"),
    "previous_crop": (soils.PreviousCrop, "'cotton'"),
    "fertilizer": (fertilizers.Fertilizer, "'ammonium nitrate'"),
}
_MAY_BE_EMPTY = ("changes",)
LONGEST = 60  # characters of a value that a message repeats


def texts(**given: Any) -> tuple[Any, ...]:
    """See that each is a text or a list of texts.

    Parameters
    ----------
    **given
        ``sow, seeding, nitrogen, nitrogen_timing, end, irrigation, changes, fields``, as `compare`
        and `run_grid` take them.

    Returns
    -------
    tuple
        The same, in order; of what may be gone through once, a list.

    Raises
    ------
    InputError
        Anything else; all are told.
    """
    kept = {
        name: value if isinstance(value, str) else listed(value) for name, value in given.items()
    }
    problems = []
    for name, value in kept.items():
        example = _EXAMPLES[name]
        write = f"Write text, such as {name}={example}, or a list of texts."
        if value is None or not all(isinstance(text, str) for text in value):
            wrong = (
                given[name]
                if value is None
                else next(text for text in value if not isinstance(text, str))
            )
            problems.append(Problem(name, f"{shown(wrong)} is not text.", write))
        elif not value and name not in _MAY_BE_EMPTY:
            problems.append(Problem(name, "It is empty.", write))
    if problems:
        raise InputError(problems)
    return tuple(kept.values())


def sets(**given: Any) -> None:
    """See that each is the name of a parameter set, or one.

    Parameters
    ----------
    **given
        ``cereal, soil, previous_crop, fertilizer``.

    Raises
    ------
    InputError
        Anything else; all are told.
    """
    problems = []
    for name, value in given.items():
        kind, example = _SETS[name]
        if not isinstance(value, (str, kind)):
            problems.append(
                Problem(
                    name,
                    f"{shown(value)} is neither a name nor a {kind.__name__}.",
                    f"Write a name, such as {name}={example}.",
                )
            )
    if problems:
        raise InputError(problems)


def fall_years(given: Any, *, name: str = "years") -> list[int] | None:
    """Return fall years as a list; None, for all, stays.

    Raises
    ------
    InputError
        Not whole numbers, or none at all.
    """
    write = f"Write fall years as numbers: {name}=[2015] or {name}=range(1995, 2025)."
    if given is None:
        return None
    years = None if isinstance(given, str) else listed(given)
    if years is None:
        raise fault(name, f"{shown(given)} is not a list of years.", write)
    for year in years:
        if not _is_whole(year):
            raise fault(name, f"{shown(year)} is not a year.", write)
    if not years:
        raise fault(name, "No year given.", write)
    return [int(year) for year in years]


def whole(given: Any, *, name: str, such: int, least: int | None = None) -> None:
    """See that something is a whole number.

    Parameters
    ----------
    given : anything
    name : str
    such : int
        An example of what to write.
    least : int, optional
        The smallest that is taken.

    Raises
    ------
    InputError
        It is none, or too small.
    """
    if not _is_whole(given):
        raise fault(name, f"{shown(given)} is not a whole number.", f"Write {name}={such}.")
    if least is not None and given < least:
        raise fault(
            name, f"{shown(given)} is less than {least}.", f"Write {name}={such}, or leave it out."
        )


def path(given: Any, *, name: str, such: str) -> None:
    """See that something is a path.

    Raises
    ------
    InputError
        It is none.
    """
    if not isinstance(given, (str, PathLike)) or not str(given):
        raise fault(name, f"{shown(given)} is not a path.", f"Write {name}={such!r}.")


def known(given: Iterable[str], takes: Iterable[str], *, whose: str) -> None:
    """Refuse keywords that a function does not take.

    Parameters
    ----------
    given, takes : iterable of str
    whose : str
        The function, for the message.

    Raises
    ------
    InputError
        All that it does not take, with what was likely meant.
    """
    takes = list(takes)
    problems = []
    for name in given:
        if name not in takes:
            near = get_close_matches(name, takes, 1)
            write = f"Write {near[0]}=." if near else f"Take of {', '.join(takes)}."
            problems.append(Problem(name, f"{whose} takes nothing of this name.", write))
    if problems:
        raise InputError(problems)


def shown(value: Any) -> str:
    """Spell a value as it would be written, briefly."""
    text = " ".join(repr(value).split())
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 3]}..."


def listed(given: Any) -> list[Any] | None:
    """Return what may be gone through as a list; None for anything else, a text among it."""
    if isinstance(given, (str, bytes, Mapping)) or not isinstance(given, Iterable):
        return None
    try:
        return list(given)
    except TypeError:  # an array of no dimension
        return None


def _is_whole(value: Any) -> bool:
    return isinstance(value, Integral) and not isinstance(value, bool)
