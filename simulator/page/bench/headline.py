"""The largest line of the field view: the difference that is asked for, and how sure it is."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.season.panels import CHANGED, PINNED, RECORDED
from simulator.answers.shared.changes import describe
from simulator.answers.shared.few_falls import FEWEST
from simulator.answers.shared.field_ranges import (
    biomass_ranges,
    chance_in_fields,
    difference_ranges,
    in_a_field,
    spelled,
)
from simulator.page.answers import ALIKE, Answered
from simulator.page.growing import Array
from simulator.show import wording
from simulator.show.cautions import EMERGED
from simulator.show.tables import FEWEST_FOR_SHARES, spread
from simulator.weather.change_text import Change

FAILED = 300.0  # kg/ha of shoots under which a stand is none; common practice, no source
LONGEST = 60  # letters of changes that are named


def said_first(found: Answered) -> dict[str, Any]:
    """Return ``headline``, what is ``near`` it, and whether the difference asked for is ``told``.

    It is not where the error of differences leaves no way to it.
    """
    beside = near(found)
    unclear = any("cannot be told" in text for text in beside)
    return {"headline": headline(found), "near": beside, "told": not unclear}


def headline(found: Answered) -> str:
    """Say the difference that the change, or the pinned plan, makes; without these what stands.

    ``"11 in of rain in November costs 34 %: 3,470 instead of 5,240 lb/ac; enough in 5 of 30 falls,
    not 23"``.
    """
    if CHANGED in found.grown:
        return _with_enough_count(
            _difference(found, changes_named(found), RECORDED), found, RECORDED
        )
    if PINNED in found.grown:
        return _with_enough_count(_difference(found, "This plan", PINNED), found, PINNED)
    plan, made = found.asked.plan, found.one(RECORDED, "biomass_kg_ha")
    on = f"on {wording.dates_in(plan.sow)}{_in_year(found)}"
    end = wording.ending(plan.end)
    if state := failing(found, RECORDED):
        return _with_enough_count(f"{plan.cereal.capitalize()} sown {on} {state}", found, None)
    said = f"{plan.cereal.capitalize()} sown {on} makes {found.mass(made)} {end}"
    return _with_enough_count(said, found, None)


def failing(found: Answered, name: str) -> str:
    """Say that a stand is none, ``"fails: 90 lb/ac on Apr 15"``; nothing where it stands."""
    grown, made = found.grown[name], found.one(name, "biomass_kg_ha")
    if made >= FAILED:
        return ""
    ends = grown.ends if found.asked.year is None else grown.ends[[grown.at(found.asked.year)]]
    end = wording.ending(grown.plan.end)
    up = ends["growth_stage_zadoks"] >= EMERGED
    if not up.any():
        return f"has not come up {end}"
    dead = (ends["stand_alive"] == 0) & up
    why = ", killed by frost" if dead.mean() > 0.5 else ""
    return f"fails{why}: {found.mass(made)} {end} is no stand"


def near(found: Answered) -> list[str]:
    """Say beside the headline how wide weather and field leave it, and where it cannot be told."""
    spoken = found.speaks_of
    made = found.values(spoken, "biomass_kg_ha")
    before = RECORDED if CHANGED in found.grown else PINNED if PINNED in found.grown else None
    texts = []
    if before:
        texts.append(_how_surely(found, found.values(before, "biomass_kg_ha"), made))
    field = spelled(biomass_ranges(made), "biomass", found.system)
    if found.asked.year is None and np.isfinite(made).sum() > 1:
        low, high = (found.mass(value) for value in spread(made))
        enough_falls = np.isfinite(made).sum() >= FEWEST_FOR_SHARES
        of = "8 of 10 falls make" if enough_falls else "The falls make"
        ranges = f"{of} {low.split(' ')[0]} to {high}, a field like these {field}"
    else:
        ranges = f"A field like these makes {field}"
    texts.append(f"{ranges}{_chance_clause(found, before)}.")
    return [text for text in texts if text]


def changes_named(found: Answered) -> str:
    """Name the changes briefly, as the subject of a sentence."""
    named = wording.join([brief(change, found.system) for change in found.asked.changes])
    return f"{named[0].upper()}{named[1:]}" if len(named) <= LONGEST else "The changed weather"


def brief(change: Change, system: units.System) -> str:
    """Say a change in few letters: ``"11 in of rain in November"``."""
    return re.sub(r"(\d)\.0(?= )", r"\1", describe(change, system)).replace("in each ", "in ")


def compared(before: float, after: float, system: units.System) -> tuple[int, str, str]:
    """Say how one amount differs from another as both are printed.

    Returns
    -------
    way : int
        1 for more, -1 for less, 0 for about as much.
    size : str
        ``"34 %"``.
    both : str
        ``"3,470 instead of 5,240 lb/ac"``.
    """
    tens = [round(float(units.show(v, "biomass", system)), -1) + 0.0 for v in (before, after)]
    both = f"{tens[1]:,.0f} instead of {tens[0]:,.0f} {units.label('biomass', system)}"
    gap = tens[1] - tens[0]
    if abs(after - before) < ALIKE or not gap:
        return 0, "", both
    size = f"{100 * abs(gap) / tens[0]:.0f} %" if tens[0] else "all of it"
    return (1 if gap > 0 else -1), size, both


def enough_in(made: Array, target: float) -> int:
    """Count the falls that make a target."""
    return int((made[np.isfinite(made)] >= target - 1e-9).sum())


def _difference(found: Answered, subject: str, before: str) -> str:
    values = [found.one(name, "biomass_kg_ha") for name in (before, found.speaks_of)]
    way, size, both = compared(values[0], values[1], found.system)
    if before == PINNED:
        words = ("makes as much as", f"makes {size} more than", f"makes {size} less than")
        verb = f"{words[way]} the pinned one"
    else:
        verb = ("changes next to nothing", f"brings {size} more", f"costs {size}")[way]
    when = f" in the fall of {found.asked.year}" if found.asked.year else ""
    if values[1] < FAILED <= values[0]:
        return f"{subject} leaves no stand{when}: {both}"
    none = "; no stand either way" if values[1] < FAILED else ""
    return f"{subject} {verb}{when}: {both}{none}"


def _with_enough_count(said: str, found: Answered, before: str | None) -> str:
    """Add in how many falls enough is made."""
    made = {name: grown.biomass() for name, grown in found.grown.items()}
    here = made[found.speaks_of]
    falls = int(np.isfinite(here).sum())
    if found.asked.year is not None or falls < FEWEST:
        return said
    count = enough_in(here, found.asked.target)
    counted = f"{said}; enough in {count} of {falls} falls"
    if before is None:
        return counted
    other = enough_in(made[before], found.asked.target)
    return f"{counted}, not {other}" if other != count else f"{counted}, as before"


def _how_surely(found: Answered, before: Array, after: Array) -> str:
    """Say what the difference may be in a field like these, or that it cannot be told."""
    if before.shape != after.shape or not np.abs(after - before).max(initial=0.0) >= ALIKE:
        return ""
    ranges = difference_ranges(after - before)
    return in_a_field(ranges, found.system).replace("-", "−")


def _chance_clause(found: Answered, before: str | None) -> str:
    """Add the chance of enough in a field like these."""
    names: Sequence[str] = [found.speaks_of, *([before] if before else [])]
    known = [m[np.isfinite(m)] for m in (found.grown[name].biomass() for name in names)]
    if found.asked.year is not None or min(made.size for made in known) < FEWEST:
        return ""
    chances = [f"{100 * chance_in_fields(made, found.asked.target):.0f} %" for made in known]
    instead = f", not {chances[1]}" if before and chances[1] != chances[0] else ""
    return f"; enough with a chance of {chances[0]}{instead}"


def _in_year(found: Answered) -> str:
    return f" {found.asked.year}" if found.asked.year else ""
