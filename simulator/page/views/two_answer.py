"""Two sides and what lies between them, in numbers and sentences."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.shared.few_falls import FEWEST
from simulator.answers.shared.field_ranges import (
    Ranges,
    between_fields,
    biomass_ranges,
    chance_in_fields,
    difference_off,
    difference_ranges,
    how_far_off,
    in_a_field,
    spelled,
)
from simulator.page.answers import planned
from simulator.page.growing import Array, Grown, grow_plan
from simulator.page.question import Question
from simulator.page.records import PlaceWeather
from simulator.problems import InputError
from simulator.show import wording
from simulator.show.tables import FEWEST_FOR_SHARES, NOTHING, mean, spread

A, B = "A", "B"
NAMES = {"a-": A, "b-": B}
# of the table: what, field, kind of quantity or "" for a plain number
ROWS = (
    ("nitrogen in the shoots", "nitrogen_uptake_kg_ha", "nitrogen"),
    ("carbon to nitrogen", "carbon_to_nitrogen", ""),
    ("nitrate leached since September", "nitrate_leached_kg_ha", "nitrogen"),
    ("water drained below", "drainage_mm", "water"),
)
_CONTROLS = ("sow", "end", "seeding", "nitrogen", "nitrogen-timing")  # that a fault may name
_GROUND = ("soil", "previous_crop", "soil_nitrate", "organic_matter")  # that make one field


@dataclass(frozen=True)
class Side:
    """One of the two: a record, a plan, and its seasons.

    Parameters
    ----------
    name : {"A", "B"}
    asked : Question
    place : PlaceWeather
    grown : Grown
    """

    name: str
    asked: Question
    place: PlaceWeather
    grown: Grown

    @property
    def site(self) -> str:
        """Name of the place."""
        return str(self.place.about["site"])

    @property
    def years(self) -> tuple[int, ...]:
        """Falls that were grown."""
        return self.grown.years

    @property
    def planned(self) -> str:
        """The plan in words."""
        return planned(self.asked.plan, self.asked.system)

    def values(self, field: str) -> Array:
        """Return a field at the end of each fall."""
        return np.asarray(self.grown.ends[field], float)


@dataclass(frozen=True)
class Two:
    """Both sides.

    Parameters
    ----------
    left, right : Side
    """

    left: Side
    right: Side

    @property
    def sides(self) -> tuple[Side, Side]:
        """A, then B."""
        return self.left, self.right

    @property
    def system(self) -> units.System:
        """Units of the reader."""
        return self.left.asked.system

    @property
    def one_place(self) -> bool:
        """Whether both have the same record."""
        return self.left.place is self.right.place

    @property
    def one_field(self) -> bool:
        """Whether they are two plans of one field: the same record on the same ground."""
        plans = [side.asked.plan for side in self.sides]
        alike = all(getattr(plans[0], name) == getattr(plans[1], name) for name in _GROUND)
        return self.one_place and alike

    @property
    def alike(self) -> bool:
        """Whether both are the same plan in the same field."""
        return self.one_place and self.left.asked.plan == self.right.asked.plan

    @property
    def both(self) -> tuple[int, ...]:
        """Falls that both have."""
        there = set(self.right.years)
        return tuple(year for year in self.left.years if year in there)

    @property
    def paired(self) -> bool:
        """Whether falls are set beside each other by year."""
        return len(self.both) >= FEWEST

    def pair(self, field: str) -> tuple[Array, Array]:
        """Return a field of both, of the falls that both have where these are paired."""
        if not self.paired:
            return self.left.values(field), self.right.values(field)
        at = [[side.grown.at(year) for year in self.both] for side in self.sides]
        return self.left.values(field)[at[0]], self.right.values(field)[at[1]]

    def apart(self, field: str) -> Array:
        """Return B less A: of each fall, or of each fall of one with each of the other."""
        one, other = self.pair(field)
        return other - one if self.paired else (other[:, None] - one[None, :]).ravel()

    def ranges(self) -> Ranges:
        """Return the ranges of the difference of biomass."""
        if self.one_field:
            return difference_ranges(self.apart("biomass_kg_ha"))
        return between_fields(*self.pair("biomass_kg_ha"), paired=self.paired)


def grown_side(begins: str, asked: Question, place: PlaceWeather) -> Side:
    """Grow one side; a fault of it names its control.

    Raises
    ------
    InputError
    """
    try:
        grown = grow_plan(place, asked.plan, (), None)
    except InputError as error:
        raise InputError(
            [
                replace(one, where=f"{begins}{one.where if one.where in _CONTROLS else 'place'}")
                for one in error.problems
            ]
        ) from error
    return Side(NAMES[begins], asked, place, grown)


def answer_of(two: Two) -> dict[str, Any]:
    """Return the sentences and the table."""
    return {
        "sides": [
            {"name": side.name, "head": _column_title(side), "said": _biomass_sentences(side)}
            for side in two.sides
        ],
        "between": between(two),
        "table": table(two),
        "off": [how_far_off(two.system)] if two.one_field else [],
    }


def _column_title(side: Side) -> str:
    invented = " (invented)" if side.place.invented else ""
    return f"{side.name}: {side.site}{invented}, {side.planned}"


def _biomass_sentences(side: Side) -> list[str]:
    """Say what one side makes."""
    made, system = side.values("biomass_kg_ha"), side.asked.system
    plan = side.asked.plan
    target = units.spell(side.asked.target, "biomass", system)
    said = (
        f"{side.name} makes {units.spell(mean(made), 'biomass', system)} "
        f"{wording.ending(plan.end)}, the mean of {wording.falls(side.years)}; in a field like "
        f"these {spelled(biomass_ranges(made), 'biomass', system)} in 8 of 10."
    )
    if made.size < FEWEST:
        return [said, f"{made.size} falls are too few for a chance."]
    chance = 100 * chance_in_fields(made, side.asked.target)
    return [said, f"{target} is made with a chance of {chance:.0f} percent in a field like these."]


def between(two: Two) -> dict[str, Any]:
    """Say by how much B differs from A, and whether that can be told.

    Returns
    -------
    dict
        ``verdict``, the answer in a few words; ``said``, sentences.
    """
    if two.alike:
        return {"verdict": "A and B are the same plan in the same field.", "said": ["Change one."]}
    system, ranges = two.system, two.ranges()
    before, after = (mean(values) for values in two.pair("biomass_kg_ha"))
    gap = abs(after - before)
    spelled_gap = units.spell(gap, "biomass", system)
    falls = wording.falls(two.both) if two.paired else "all falls"
    if not spelled_gap.split(" ")[0].strip("0"):
        return {
            "verdict": "B makes about as much as A.",
            "said": [f"As a mean of {falls} both make the same.", *_comparison_sentences(two)],
        }
    side = "more" if after > before else "less"
    share = f" ({100 * gap / before:.0f} percent)" if before > 0 else ""
    weather = _span(ranges.weather_low, ranges.weather_high, "biomass", system, True)
    unit = units.label("biomass", system)
    counted = (
        "8 of 10 falls" if two.apart("biomass_kg_ha").size >= FEWEST_FOR_SHARES else "all falls"
    )
    first = (
        f"As a mean of {falls}, B makes {spelled_gap} {side} than A{share}; the weather alone "
        f"makes the difference {weather} {unit} in {counted}."
    )
    verdict = f"B makes {side} than A." if ranges.is_clear else "Which makes more cannot be told."
    surely = in_a_field(ranges, system)
    if not two.one_field:
        surely = surely.replace("In a field", "In fields", 1)
    off = difference_off(system) if two.one_field else how_far_off(system)
    return {"verdict": verdict, "said": [first, surely, *_comparison_sentences(two), off]}


def _comparison_sentences(two: Two) -> list[str]:
    """Say how falls and fields are set beside each other."""
    texts = []
    if not two.one_place:
        if two.paired:
            rest = [len(side.years) - len(two.both) for side in two.sides]
            left = (
                f" {rest[0]} falls of A and {rest[1]} of B have no like, and count in their own "
                "answer alone."
                if any(rest)
                else ""
            )
            texts.append(
                f"Two places: falls are paired by year, the {len(two.both)} that both records have."
                f"{left}"
            )
        else:
            texts.append(
                f"Two places: their records share {len(two.both)} falls, too few to pair them; "
                "each fall of A is set beside each of B."
            )
    elif not two.paired:
        texts.append("The falls are too few to pair; each of A is set beside each of B.")
    if not two.one_field:
        texts.append(
            "They are two fields, and each may be off the model by its own amount: the range is "
            "wider than that of two plans in one field."
        )
    return texts


def table(two: Two) -> list[dict[str, Any]]:
    """Return the table: a row each of what, A, what lies between, B; each with lines below."""
    system, ranges = two.system, two.ranges()
    unit = units.label("biomass", system)
    made = [side.values("biomass_kg_ha") for side in two.sides]
    one, other = (mean(values) for values in two.pair("biomass_kg_ha"))
    rows = [
        {
            "what": f"biomass, {unit}",
            "cells": [
                _levels(made[0], system),
                _between_levels(other - one, ranges, two),
                _levels(made[1], system),
            ],
        }
    ]
    if min(values.size for values in made) >= FEWEST:
        chances = [
            100 * chance_in_fields(values, side.asked.target)
            for values, side in zip(made, two.sides, strict=True)
        ]
        target = units.spell(two.left.asked.target, "biomass", system)
        points = f"{round(chances[1]) - round(chances[0]):+d}"
        rows.append(
            {
                "what": f"chance of {target}, percent",
                "cells": [
                    {"main": f"{chances[0]:.0f}"},
                    {"main": points},
                    {"main": f"{chances[1]:.0f}"},
                ],
            }
        )
    return [*rows, *(_weather_only_row(two, *row) for row in ROWS)]


def _between_levels(apart: float, ranges: Ranges, two: Two) -> dict[str, Any]:
    if two.alike:
        return {"main": "0"}
    system = two.system
    where = "in a field like these" if two.one_field else "in fields like these"
    return {
        "main": _figure(apart, "biomass", system, True),
        "more": [
            [
                "over the falls",
                _span(ranges.weather_low, ranges.weather_high, "biomass", system, True),
            ],
            [where, _span(ranges.low, ranges.high, "biomass", system, True)],
        ],
        "told": "" if ranges.is_clear else "cannot be told",
    }


def _levels(made: Array, system: units.System) -> dict[str, Any]:
    ranges = biomass_ranges(made)
    return {
        "main": _figure(mean(made), "biomass", system),
        "more": [
            ["over the falls", _span(*spread(made), "biomass", system)],
            ["in a field like these", _span(ranges.low, ranges.high, "biomass", system)],
        ],
    }


def _weather_only_row(two: Two, what: str, field: str, kind: str) -> dict[str, Any]:
    """Return a row of what the model's error is not known of: its range is the weather's."""
    system = two.system

    def cell(value: float, falls: Array, sign: bool = False) -> dict[str, Any]:
        known = falls[np.isfinite(falls)]
        if not known.size:
            return {"main": NOTHING}
        over = _span(*spread(known), kind, system, sign)
        return {"main": _figure(value, kind, system, sign), "more": [["over the falls", over]]}

    one, other = two.pair(field)
    left, right = (side.values(field) for side in two.sides)
    gap = mean(other) - mean(one)
    unit = f", {units.label(kind, system)}" if kind else ""
    return {
        "what": f"{what}{unit}",
        "cells": [
            cell(mean(left), left),
            cell(gap, two.apart(field), True),
            cell(mean(right), right),
        ],
    }


def _figure(value: float, kind: str, system: units.System, sign: bool = False) -> str:
    """Print a value in the reader's unit, its unit standing elsewhere; plain without a kind."""
    if not np.isfinite(value):
        return NOTHING
    text = units.spell(value, kind, system).split(" ")[0] if kind else f"{value:,.0f}"
    text = text if text.strip("-0.") else text.lstrip("-")
    return f"+{text}" if sign and text.strip("0.") and not text.startswith("-") else text


def _span(low: float, high: float, kind: str, system: units.System, sign: bool = False) -> str:
    if not np.isfinite(low + high):
        return NOTHING
    return " to ".join(_figure(end, kind, system, sign) for end in (low, high))
