"""What the class view is asked: a day, how its warmth is counted, and a season."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import Any

from simulator import units
from simulator.answers.degree_days.calculate import BASE_RANGE, HIGHEST_UPPER
from simulator.page.classroom.methods import CURVES, CUTOFFS, VALUES, method_name
from simulator.page.controls import DATES
from simulator.page.guard import as_control
from simulator.page.question import keys_and_texts, short
from simulator.parameters.cereals import CEREALS, cereal
from simulator.problems import InputError, Problem, fault, spelled
from simulator.process.thermal_time import BASE, UPPER
from simulator.season.plan import ANY_YEAR, day_number, month_day
from simulator.weather.samples import DEFAULT_SAMPLE, samples

AIR_RANGE = (-60.0, 60.0)  # degC
LAST_DAY = "05-31"  # of a season, if the weather goes so far

# what a slider runs through, in the reader's units: lowest, highest, step
SLIDERS: dict[units.System, dict[str, tuple[float, float, float]]] = {
    "us": {"tmax": (0, 115, 1), "tmin": (-10, 100, 1), "base": (20, 70, 1), "upper": (50, 110, 1)},
    "si": {
        "tmax": (-15, 45, 0.5),
        "tmin": (-20, 40, 0.5),
        "base": (-5, 20, 0.5),
        "upper": (10, 45, 0.5),
    },
}
AXIS: dict[units.System, tuple[float, float]] = {"us": (0, 110), "si": (-20, 45)}
# What is seen first: a day that crosses the base, and a base above the simulator's own. Its own
# lets methods and lines fall together in a mild winter, and there would be nothing to ask about.
FIRST_SEEN: dict[units.System, dict[str, str]] = {
    "us": {"tmax": "60 degF", "tmin": "20 degF", "base": "40 degF"},
    "si": {"tmax": "16 degC", "tmin": "-6 degC", "base": "5 degC"},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassQuestion:
    """All that the class view is asked.

    Parameters
    ----------
    place, file : str
        As in `question.Question`.
    year : int or None
        Fall year; None for a usual one (`class_season.usual_year`).
    system : {"us", "si"}
    cereal : str
    sow, on : str
        Date of sowing, and the day up to which the season is summed, MM-DD.
    tmax, tmin, base, upper : float
        The day's temperatures and the thresholds [degC].
    curve, cutoff : str
        How the day is counted: of `CURVES` and `CUTOFFS`.
    taken : date or None
        The day of the record that gives ``tmax`` and ``tmin`` in their place.
    """

    place: str
    file: str
    year: int | None
    system: units.System
    cereal: str
    sow: str
    on: str
    tmax: float
    tmin: float
    base: float
    upper: float
    curve: str
    cutoff: str
    taken: date | None


def own_limits(system: units.System) -> dict[str, str]:
    """Return the simulator's own base and limit, as a link says them."""
    unit = "degF" if system == "us" else "degC"
    return {
        name: f"{float(units.show(value, 'temperature', system)):g} {unit}"
        for name, value in (("base", BASE), ("upper", UPPER))
    }


def usual(system: units.System, place: str = DEFAULT_SAMPLE) -> dict[str, str]:
    """Return what stands in place of what a link does not say."""
    return {
        "place": place,
        "file": "",
        "year": "",
        "units": system,
        "cereal": "rye",
        "sow": "10-20",
        "on": "04-15",
        **own_limits(system),
        **FIRST_SEEN[system],
        "curve": "sine",
        "cutoff": "horizontal",
        "taken": "",
    }


def read_class_question(query: str) -> ClassQuestion:
    """Read a question from the query of a link.

    Parameters
    ----------
    query : str
        Keys as in `usual`; what is left out is as usual.

    Returns
    -------
    ClassQuestion

    Raises
    ------
    InputError
        Every key or value that cannot be read, its ``where`` the name of the key.
    """
    given: dict[str, str] = {}
    problems: list[Problem] = []
    for key, text in keys_and_texts(query):
        if key not in usual("us"):
            problems.append(Problem(short(key), "There is no such control.", "Ask from the page."))
        elif key in given:
            problems.append(Problem(key, "It is said twice.", "Say it once."))
        else:
            given[key] = text
    sample = samples().get(given.get("place") or DEFAULT_SAMPLE)
    system: units.System = sample.units_shown if sample else "us"
    if given.get("units") in ("us", "si"):
        system = "us" if given["units"] == "us" else "si"
    elif given.get("units"):
        problems.append(
            Problem("units", f"'{short(given['units'])}' is not known.", "Write us or si.")
        )
    full = {**usual(system), **{key: value for key, value in given.items() if value}}
    read: dict[str, Any] = {}
    for name, reader in _READERS.items():
        try:
            read[name] = reader(full[name])
        except InputError as error:
            problems += [
                replace(one, where=spelled(one.where, as_control)) for one in error.problems
            ]
    problems = problems or _out_of_order(read)
    if problems:
        raise InputError(problems)
    return ClassQuestion(place=full["place"][:80], file=full["file"][:120], system=system, **read)


def _out_of_order(read: dict[str, Any]) -> list[Problem]:
    found = []
    if read["taken"] is None and read["tmax"] < read["tmin"]:
        found.append(
            Problem(
                "tmax",
                "The highest temperature of the day lies below the lowest.",
                "Raise it, or lower the other.",
            )
        )
    if read["base"] >= read["upper"]:
        found.append(
            Problem(
                "upper",
                "The upper limit does not lie above the base.",
                "Raise it, or lower the base.",
            )
        )
    if (read["curve"], read["cutoff"]) not in VALUES:
        found.append(
            Problem(
                "cutoff",
                f"The average has no {read['cutoff']} cutoff.",
                "Take horizontal, or another method.",
            )
        )
    return found


def _degrees(text: str, *, name: str, span: tuple[float, float]) -> float:
    value = units.parse(text, "degC", name=name)
    if not span[0] <= value <= span[1]:
        low, high = (1.8 * end + 32 for end in span)
        raise fault(
            name,
            f"'{short(text)}' is out of range.",
            f"Take {span[0]:g} to {span[1]:g} °C ({low:g} to {high:g} °F).",
        )
    return value


def _named(text: str, *, name: str, names: tuple[str, ...]) -> str:
    if text not in names:
        raise fault(name, f"'{short(text)}' is not known.", f"Take one of {', '.join(names)}.")
    return text


def _dated(text: str, *, name: str, span: tuple[str, str]) -> str:
    found = month_day(text, name=name)
    first, last = (day_number(ANY_YEAR, end) for end in span)
    if not first <= day_number(ANY_YEAR, found) <= last:
        raise fault(name, f"'{short(text)}' is out of range.", f"Take {span[0]} to {span[1]}.")
    return found


def _year(text: str) -> int | None:
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) == 4):
        raise fault("year", f"'{short(text)}' is not a fall year.", "Write 2007.")
    return int(text)


def _day(text: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise fault("taken", f"'{short(text)}' is not a date.", "Write 2007-11-15.") from None


_READERS: dict[str, Callable[[str], Any]] = {
    "year": _year,
    "cereal": lambda text: cereal(text).name,
    "sow": partial(_dated, name="sow", span=DATES["sow"]),
    "on": partial(_dated, name="on", span=(DATES["sow"][0], LAST_DAY)),
    "tmax": partial(_degrees, name="tmax", span=AIR_RANGE),
    "tmin": partial(_degrees, name="tmin", span=AIR_RANGE),
    "base": partial(_degrees, name="base", span=BASE_RANGE),
    "upper": partial(_degrees, name="upper", span=(BASE_RANGE[0], HIGHEST_UPPER)),
    "curve": partial(_named, name="curve", names=CURVES),
    "cutoff": partial(_named, name="cutoff", names=CUTOFFS),
    "taken": _day,
}


def class_choices() -> dict[str, Any]:
    """Return what the controls offer, for the page's own script."""
    return {
        "sliders": SLIDERS,
        "axis": AXIS,
        "usual": {system: usual(system) for system in SLIDERS},
        "own": {system: own_limits(system) for system in SLIDERS},
        "days": {"sow": [day_number(ANY_YEAR, end) for end in DATES["sow"]]},
        "samples": {one.name: {"units": one.units_shown} for one in samples().values()},
        "cutoffs": {
            curve: [cutoff for cutoff in CUTOFFS if (curve, cutoff) in VALUES] for curve in CURVES
        },
        "names": {f"{curve} {cutoff}": method_name(curve, cutoff) for curve, cutoff in VALUES},
        "cereals": list(CEREALS),
    }
