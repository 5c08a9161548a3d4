"""What the page is asked: read from the query of a link, every fault told with its control."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any
from urllib.parse import parse_qsl, urlencode

from simulator import units
from simulator.answers.budget.calculate import ENDINGS
from simulator.answers.sheet.questions import USUAL
from simulator.page import own_prices
from simulator.page.guard import as_control
from simulator.page.sown import PARTS, Sown
from simulator.parameters.cereals import CEREALS, cereal
from simulator.parameters.fertilizers import FERTILIZERS, fertilizer
from simulator.parameters.prices import Prices
from simulator.parameters.soils import PREVIOUS_CROPS, SOILS, previous_crop, soil
from simulator.problems import InputError, Problem, fault, spelled
from simulator.season import plan as plans
from simulator.season.soil_test import read_soil_test
from simulator.weather.change_text import GRAMMAR, Change, parse_change
from simulator.weather.samples import DEFAULT_SAMPLE, samples

LONGEST_QUERY, MOST_KEYS = 6000, 80  # characters and keys of a link
MOST_CHANGES = 8
HIGHEST_TARGET = 40000.0  # kg/ha
ALL = "all"  # in place of a year
PIN = "pin-"  # before the names of the pinned plan's parts
UNPLACED = ("place", "file", "year", "units", "change", "target", "ended-by")
REPEATED = "change"
EXAMPLE = "Write for example 'rain november = 11 inch'."


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """All that the page is asked.

    Parameters
    ----------
    place : str
        Name of a sample, or the key of an uploaded file.
    file : str
        Name of the uploaded file, for a link opened elsewhere; empty for samples.
    year : int or None
        Fall year; None for all.
    system : {"us", "si"}
    plan : Sown
    pinned : Sown or None
        The plan to compare with.
    changes : tuple of Change
    target : float
        Biomass [kg/ha].
    target_text : str
    endings : tuple of str
        Work that ends the stand, for its cost.
    prices : Prices
        The packaged ones, and in their place those that the reader put in.
    """

    place: str
    file: str
    year: int | None
    system: units.System
    plan: Sown
    pinned: Sown | None
    changes: tuple[Change, ...]
    target: float
    target_text: str
    endings: tuple[str, ...]
    prices: Prices

    def query(self) -> str:
        """Return the query of a link that asks the same."""
        given = {name.replace("_", "-"): getattr(self.plan, name) for name in PARTS}
        pairs = [
            ("place", self.place),
            ("file", self.file),
            ("year", ALL if self.year is None else str(self.year)),
            ("units", self.system),
            *given.items(),
            *(("change", change.text) for change in self.changes),
            ("target", self.target_text),
            ("ended-by", ",".join(self.endings) or "none"),
            *own_prices.link_pairs(self.prices),
        ]
        if self.pinned is not None:
            pairs += [
                (f"{PIN}{name.replace('_', '-')}", getattr(self.pinned, name)) for name in PARTS
            ]
        return urlencode([(key, value) for key, value in pairs if value])


def usual(system: units.System, place: str = DEFAULT_SAMPLE) -> dict[str, str]:
    """Return what stands in place of what a link does not say, in round figures of a system."""
    mass = "lb/acre" if system == "us" else "kg/ha"
    return {
        "place": place,
        "file": "",
        "year": ALL,
        "units": system,
        "cereal": "rye",
        "soil": "sandy loam",
        "previous-crop": "cotton",
        "fertilizer": "ammonium nitrate",
        "sow": "10-20",
        "seeding": USUAL[system]["seeding"],
        "nitrogen": f"30 {mass}",
        "nitrogen-timing": "sowing",
        "end": "04-15",
        "target": USUAL[system]["target"],
        "ended-by": "spraying,rolling",
        "soil-nitrate": "",
        "organic-matter": "",
    }


def keys_and_texts(query: str) -> list[tuple[str, str]]:
    """Take the query of a link apart: its keys, each with its text, white space made single.

    Raises
    ------
    InputError
        The query is longer, or has more keys, than any that the page asks.
    """
    if len(query) > LONGEST_QUERY:
        raise fault("link", f"It has {len(query):,} characters.", "Ask from the page.")
    try:
        found = parse_qsl(query, keep_blank_values=True, max_num_fields=MOST_KEYS)
    except ValueError as error:
        raise fault("link", f"It has more than {MOST_KEYS} keys.", "Ask from the page.") from error
    return [(key, " ".join(value.split())) for key, value in found]


def read_question(query: str) -> Question:
    """Read a question from the query of a link.

    Parameters
    ----------
    query : str
        Keys as in `usual`, ``change`` any number of times, the plan's keys with ``pin-``
        before them, and prices as `own_prices.from_link` has them. What is left out is as usual.

    Returns
    -------
    Question

    Raises
    ------
    InputError
        Every key or value that cannot be read, its ``where`` the name of the key.
    """
    given: dict[str, str] = {}
    changes: list[str] = []
    pinned: dict[str, str] = {}
    priced: dict[str, str] = {}
    problems: list[Problem] = []
    plan_keys = [name.replace("_", "-") for name in PARTS]
    for key, text in keys_and_texts(query):
        if key == REPEATED:
            changes += [text] if text else []
        elif key.startswith(PIN) and key.removeprefix(PIN) in plan_keys:
            pinned[key.removeprefix(PIN)] = text
        elif key not in (*UNPLACED, *plan_keys) and not key.startswith(own_prices.KEY):
            problems.append(Problem(short(key), "There is no such control.", "Ask from the page."))
        elif key in given or key in priced:
            problems.append(Problem(key, "It is said twice.", "Say it once."))
        elif key.startswith(own_prices.KEY):
            priced[key] = text
        else:
            given[key] = text
    system: units.System = "us" if given.get("units") != "si" else "si"
    if "units" not in given and (sample := samples().get(given.get("place", DEFAULT_SAMPLE))):
        system = sample.units_shown
    if given.get("units") not in (None, "us", "si"):
        problems.append(
            Problem("units", f"'{short(given['units'])}' is not known.", "Write us or si.")
        )
    full = {**usual(system), **{key: value for key, value in given.items() if value}}
    plan = _gathered(problems, partial(_plan, full, ""))
    other = (
        _gathered(problems, partial(_plan, {**usual(system), **pinned}, PIN)) if pinned else None
    )
    year = _gathered(problems, partial(_year, full["year"]))
    target = _gathered(problems, partial(_target, full["target"]))
    endings = _gathered(problems, partial(_endings, full["ended-by"]))
    read = _gathered(problems, partial(_changes, changes))
    prices = _gathered(problems, partial(own_prices.from_link, priced))
    if problems or plan is None:
        raise InputError(problems)
    return Question(
        place=full["place"][:80],
        file=full["file"][:120],
        year=year or None,
        system=system,
        plan=plan,
        pinned=other,
        changes=read or (),
        target=target or 0.0,
        target_text=full["target"],
        endings=endings or (),
        prices=prices,
    )


def short(text: str) -> str:
    """Return the beginning of a text that is named in a fault, as can be printed."""
    return "".join(letter if letter.isprintable() else "?" for letter in text[:40])


def _gathered(problems: list[Problem], read: Callable[[], Any]) -> Any:
    try:
        return read()
    except InputError as error:
        problems += error.problems
        return None


def _plan(given: Mapping[str, str], before: str) -> Sown:
    problems: list[Problem] = []
    checks: dict[str, Callable[..., object]] = {
        "cereal": cereal,
        "soil": soil,
        "previous-crop": previous_crop,
        "fertilizer": fertilizer,
        "sow": partial(plans.month_day, name="sow"),
        "seeding": partial(plans.seeding_rates, name="seeding"),
        "nitrogen": partial(plans.nitrogen_rates, name="nitrogen"),
        "nitrogen-timing": partial(plans.dressings, name="nitrogen-timing"),
        "end": partial(plans.month_day, name="end"),
    }
    for key, check in checks.items():
        found = _gathered(problems, partial(check, given[key]))
        if isinstance(found, list) and len(found) != 1:
            problems.append(Problem(key, f"{len(found)} rates are given.", "A plan takes one."))
    if not problems:
        timing = plans.dressings(given["nitrogen-timing"])
        _gathered(
            problems,
            partial(plans.check_order, [given["sow"]], [timing], [plans.end(given["end"])]),
        )
    plain = {name: given[name.replace("_", "-")] for name in PARTS}
    if not problems:
        _gathered(problems, partial(_check_measured, Sown(**plain)))
    if problems:
        raise InputError(
            [
                replace(problem, where=before + spelled(problem.where, as_control))
                for problem in problems
            ]
        )
    for name, find in (
        ("cereal", cereal),
        ("soil", soil),
        ("previous_crop", previous_crop),
        ("fertilizer", fertilizer),
    ):
        plain[name] = find(plain[name]).name
    for name in ("sow", "end"):
        plain[name] = plans.month_day(plain[name], name=name)
    return Sown(**plain)


def _check_measured(plan: Sown) -> None:
    """Refuse a soil test without its day: the plan's sowing moves, and it would move along."""
    if plan.soil_nitrate and read_soil_test(plan.soil_nitrate).day is None:
        raise fault("soil-nitrate", "It does not say the day.", "Write '60 lb/acre on 10-01'.")
    plan.field()


def _year(text: str) -> int:
    """Read a fall year; 0 for all."""
    if text.lower() == ALL:
        return 0
    if not (text.isascii() and text.isdigit() and len(text) == 4):
        raise fault("year", f"'{short(text)}' is not a fall year.", "Write 2007, or all.")
    return int(text)


def _target(text: str) -> float:
    mass = units.parse(text, "kg/ha", name="target")
    if not 0.0 < mass <= HIGHEST_TARGET:
        raise fault("target", f"'{text}' is out of range.", plans.range_text((1.0, HIGHEST_TARGET)))
    return mass


def _endings(text: str) -> tuple[str, ...]:
    given = [] if text == "none" else [part.strip() for part in text.split(",")]
    if not set(given) <= set(ENDINGS):
        raise fault(
            "ended-by", f"'{short(text)}' ends no stand.", f"Take of {', '.join(ENDINGS)}, or none."
        )
    return tuple(work for work in ENDINGS if work in given)


def _changes(texts: list[str]) -> tuple[Change, ...]:
    if len(texts) > MOST_CHANGES:
        raise fault("change", f"{len(texts)} changes are given.", f"Give at most {MOST_CHANGES}.")
    problems: list[Problem] = []
    read = [_gathered(problems, partial(parse_change, text)) for text in texts]
    if problems:
        raise InputError(
            [Problem("change", one.what, _one_example(one.remedy)) for one in problems]
        )
    return tuple(read)


def _one_example(remedy: str) -> str:
    """Give one example of a change in place of all: it is said at its field."""
    return spelled(remedy, as_control).replace(GRAMMAR, EXAMPLE)


def offered() -> dict[str, list[str]]:
    """Return the names that the lists of the page offer."""
    return {
        "cereals": list(CEREALS),
        "soils": list(SOILS),
        "crops": list(PREVIOUS_CROPS),
        "fertilizers": list(FERTILIZERS),
    }
