"""What was measured of a stand, read from text: ``850 lb/acre on 01-20``."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from simulator import units
from simulator.problems import InputError, Parameter, Problem
from simulator.season.measured import COVER, NITRATE, STAGE, Measured
from simulator.season.plan import STAGES, month_day

NAME = Parameter("measured")
FORM = (
    "Write '850 lb/acre on 01-20', 'zadoks 30 on 02-14', '40 percent cover on 01-10' or "
    "'25 lb/acre nitrate to 24 inch on 02-01'."
)
MOST = 25_000.0  # kg/ha of dry matter: twice what 95 of 100 stands of rye have at their largest
MOST_NITRATE = 500.0  # kg/ha of nitrate nitrogen in a soil
RIPE = 92.0  # Zadoks, the last stage
DEPTHS = (5.0, 300.0)  # cm
_ON = re.compile(r"^\s*(?P<what>.*?)\s+on\s+(?P<date>.+?)\s*$", re.IGNORECASE)
_STAGE = re.compile(r"^(?:zadoks|stage|zadoks stage)\s*(?P<stage>\S+)$", re.IGNORECASE)
_COVER = re.compile(
    r"^(?P<share>\S+?)\s*(?:percent|%)\s*(?:of\s+)?(?:green\s+)?cover$", re.IGNORECASE
)
_NITRATE = re.compile(
    r"^(?P<mass>.+?)\s+(?:of\s+)?(?:soil\s+)?nitrate(?:\s+to\s+(?P<depth>.+))?$", re.IGNORECASE
)


def read_measured(texts: Sequence[str]) -> tuple[Measured, ...]:
    """Read what was measured: ``("850 lb/acre on 01-20", "zadoks 30 on 02-14")``.

    Raises
    ------
    InputError
        No number, unit or date, a unit of another kind, nothing or more than grows, one kind
        twice on one day; all faults are told.
    """
    problems: list[Problem] = []
    read: dict[tuple[str, str], Measured] = {}
    for text in texts:
        try:
            one = _read(text)
        except InputError as error:
            problems += error.problems
            continue
        if (one.kind, one.date) in read:
            problems.append(
                Problem(
                    NAME,
                    f"{_NAMED[one.kind]} is given twice for {one.date}.",
                    "Give one a day, the mean of its spots.",
                )
            )
        read[one.kind, one.date] = one
    if problems:
        raise InputError(problems)
    return tuple(read.values())


_NAMED = {
    "biomass": "Biomass",
    "stage": "The growth stage",
    "cover": "Green cover",
    "nitrate": "Soil nitrate",
}


def _read(text: str) -> Measured:
    found = _ON.match(text) if isinstance(text, str) and len(text) <= 100 else None
    if found is None:
        raise InputError([Problem(NAME, f"'{str(text)[:80]}' has no day.", FORM)])
    what = found["what"].strip()
    readers: tuple[tuple[re.Pattern[str], Callable[[re.Match[str], str], Measured]], ...] = (
        (_STAGE, _stage),
        (_COVER, _cover),
        (_NITRATE, _nitrate),
    )
    try:
        date = month_day(found["date"], name=NAME)
    except InputError as error:
        raise _with_forms(error) from error
    if what.lower() in STAGES:
        return Measured(date=date, value=float(STAGES[what.lower()]), kind=STAGE)
    for pattern, reader in readers:
        if match := pattern.match(what):
            return reader(match, date)
    return _biomass(what, date)


def _with_forms(error: InputError) -> InputError:
    """Return a fault that tells the forms of all that can be measured."""
    return InputError([Problem(NAME, one.what, FORM) for one in error.problems])


def _biomass(what: str, date: str) -> Measured:
    biomass = _mass(what)
    if not 0.0 < biomass <= MOST:
        raise InputError([_beyond(what, "a stand's dry biomass", MOST)])
    return Measured(date=date, value=biomass)


def _stage(match: re.Match[str], date: str) -> Measured:
    stage = _number(match["stage"])
    if stage is None or not 10.0 <= stage <= RIPE:
        raise InputError(
            [
                Problem(
                    NAME,
                    f"'{match['stage']}' is not a growth stage of a stand that is up.",
                    f"Give Zadoks 10 to {RIPE:.0f}, as in 'zadoks 30 on 02-14'.",
                )
            ]
        )
    return Measured(date=date, value=stage, kind=STAGE)


def _cover(match: re.Match[str], date: str) -> Measured:
    share = _number(match["share"])
    if share is None or not 0.0 < share <= 100.0:
        raise InputError(
            [
                Problem(
                    NAME,
                    f"'{match['share']} percent' is not a green cover.",
                    "Give more than 0 and at most 100, as in '40 percent cover on 01-10'.",
                )
            ]
        )
    return Measured(date=date, value=share / 100.0, kind=COVER)


def _nitrate(match: re.Match[str], date: str) -> Measured:
    amount = _mass(match["mass"])
    if not 0.0 <= amount <= MOST_NITRATE:
        raise InputError([_beyond(match["mass"], "a soil's nitrate nitrogen", MOST_NITRATE)])
    depth = None
    if match["depth"] is not None:
        depth = units.parse(match["depth"], "cm", name=NAME)
        if not DEPTHS[0] <= depth <= DEPTHS[1]:
            raise InputError(
                [
                    Problem(
                        NAME,
                        f"A depth of '{match['depth']}' is out of range.",
                        "Give 2 to 118 inch (5 to 300 cm).",
                    )
                ]
            )
    return Measured(date=date, value=amount, kind=NITRATE, depth=depth)


def _mass(text: str) -> float:
    """Read a mass by the area; a fault of it tells the forms."""
    try:
        return units.parse(text, "kg/ha", name=NAME)
    except InputError as error:
        raise _with_forms(error) from error


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _beyond(given: str, what: str, most: float) -> Problem:
    other = units.parse(f"{most:g} kg/ha", "lb/acre", name=NAME)
    return Problem(
        NAME,
        f"'{given}' is not {what}.",
        f"Give more than 0 and at most {most:,.0f} kg/ha ({other:,.0f} lb/acre).",
    )
