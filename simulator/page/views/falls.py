"""Fall by fall: two sowing dates, or nitrogen at sowing and in spring, in the same falls."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.compare.calculate import Difference, differences
from simulator.answers.shared.field_ranges import difference_off, in_a_field
from simulator.page.downloads import command_of
from simulator.page.growing import Changes, weather
from simulator.page.question import Question
from simulator.page.records import PlaceWeather
from simulator.page.rows import nice
from simulator.page.sown import Sown
from simulator.page.views.plan_link import (
    PlanView,
    a_date,
    grown_with,
    one_of,
    quiet,
    shared_payload,
)
from simulator.problems import InputError, fault
from simulator.season.compare import compare
from simulator.season.plan import ANY_YEAR, day_number
from simulator.show import wording
from simulator.show.csv_table import table_text
from simulator.show.tables import FEWEST_FOR_SHARES, apart
from simulator.weather.year_types import kinds_of_year

SOW, NITROGEN = "sow", "nitrogen"  # what is compared
OWN = {
    "against": one_of("against", (SOW, NITROGEN)),
    "sow-b": a_date("sow-b", "11-20"),
    "fed": a_date("fed", "02-15"),
}
KINDS = ("dry", "normal", "wet")
KEPT = 32


@dataclass(frozen=True)
class Beaten:
    """Two plans in the same falls.

    Parameters
    ----------
    asked : Question
    place : PlaceWeather
    against, second : str
        What is compared, of `SOW` and `NITROGEN`, and the date of the second plan, MM-DD.
    difference : Difference
        Of `fallsown compare`: the second plan less the first.
    made : array (fall, plan)
        Biomass [kg/ha] of the falls of ``difference``.
    kinds : dict of int to str
        Of falls, by their rain; those that are not whole from October to December have none.
    """

    asked: Question
    place: PlaceWeather
    against: str
    second: str
    difference: Difference
    made: np.ndarray[Any, Any]
    kinds: dict[int, str]

    @property
    def names(self) -> tuple[str, str]:
        """What the two plans are called in a picture or a table."""
        plan = self.asked.plan
        if self.against == SOW:
            return f"sown on {wording.dates_in(plan.sow)}", f"sown on {self.late}"
        return "nitrogen at sowing", f"nitrogen on {self.late}"

    @property
    def late(self) -> str:
        """The second plan's date, spelled."""
        return wording.dates_in(self.second)

    def mass(self, value: float) -> str:
        """Spell biomass."""
        return units.spell(value, "biomass", self.asked.system)


def find(asked: Question, place: PlaceWeather, own: dict[str, str]) -> Beaten:
    """Grow both plans in every fall and set one against the other.

    Raises
    ------
    InputError
        Two plans that are one, or out of order; no fall that has both.
    """
    against = own["against"]
    second = own["sow-b"] if against == SOW else own["fed"]
    _check(asked, against, second)
    one, made = _grown(place, asked.plan, asked.changes, against, second)
    return Beaten(asked, place, against, second, one, made, _kinds(place))


def _check(asked: Question, against: str, second: str) -> None:
    plan = asked.plan
    key, first = ("sow-b", plan.sow) if against == SOW else ("fed", plan.sow)
    sown, other, end = (day_number(ANY_YEAR, date) for date in (first, second, plan.end))
    if other >= end:
        raise fault(
            key,
            f"{second} is not before the end of the stand on {plan.end}.",
            "Take an earlier date, or a later end.",
        )
    if against == SOW and other == sown:
        raise fault(key, "Both plans are sown on the same day.", "Take another date.")
    if against == NITROGEN and other <= sown:
        raise fault(key, f"{second} is not after sowing on {plan.sow}.", "Take a later date.")
    if against == NITROGEN and plan.nitrogen_kg_ha <= 0.0:
        raise fault(
            "nitrogen", "Without nitrogen there is nothing to hold back.", "Give a rate above 0."
        )


@lru_cache(KEPT)
def _grown(
    place: PlaceWeather, plan: Sown, changes: Changes, against: str, second: str
) -> tuple[Difference, np.ndarray[Any, Any]]:
    pair = (
        {"sow": [plan.sow, second]} if against == SOW else {"nitrogen_timing": ["sowing", second]}
    )
    grid = compare(
        weather(place, changes),
        **grown_with(plan, **pair),
        years=place.years,
        announce=quiet,
    )
    found = differences(grid)
    if not found:
        raise fault("place", "No fall has both plans to their end.", "Choose other dates.")
    (one,) = found
    made = grid["biomass_kg_ha"].sel(year=list(one.years)).transpose("year", one.choice, ...)
    return one, made.values.reshape(len(one.years), 2)


@lru_cache(KEPT)
def _kinds(place: PlaceWeather) -> dict[int, str]:
    try:
        return kinds_of_year(place.record)
    except InputError:  # too few falls to sort
        return {}


def sentences(found: Beaten) -> list[str]:
    """Say in which falls the second plan beats the first, and by how much."""
    one, system = found.difference, found.asked.system
    falls, alike = len(one.years), sum(value == 0.0 for value in one.of_falls)
    wins = f"{one.ahead} of {falls} falls" if falls > 1 else f"{one.ahead} of 1 fall"
    counted = one.by_kind(found.kinds)
    kinds = [
        f"{counted[kind][0]} of {counted[kind][1]} {kind}" for kind in KINDS if kind in counted
    ]
    of_kinds = f": {wording.join(kinds)}" if kinds else ""
    texts = [f"{_subject(found)} in {wins}{of_kinds}."]
    if alike:
        texts.append(f"In {alike} of {falls} both make the same.")
    if alike == falls:
        return texts
    more = "more" if one.mean >= 0 else "less"
    text = f"On the mean over the falls it makes {found.mass(abs(one.mean))} {more}"
    if falls > 1:
        weather_range = (one.ranges.weather_low, one.ranges.weather_high)
        low, high = (found.mass(end) for end in weather_range)
        often = (
            "in 8 of 10 falls the difference is"
            if falls >= FEWEST_FOR_SHARES
            else "from the lowest to the highest fall it is"
        )
        text = f"{text}; {often} {low.split(' ')[0]} to {high}, by the weather alone"
    surely = in_a_field(one.ranges, system)
    return [*texts, f"{text}. {surely}", difference_off(system)]


def _subject(found: Beaten) -> str:
    plan = found.asked.plan
    if found.against == SOW:
        return (
            f"{plan.cereal.capitalize()} sown on {found.late} beats {plan.cereal} sown on "
            f"{wording.dates_in(plan.sow)}"
        )
    fed = units.spell(plan.nitrogen_kg_ha, "nitrogen", found.asked.system)
    return f"{fed} of nitrogen held until {found.late} beats as much at sowing"


def fall_sentence(found: Beaten, at: int) -> str:
    """Say what one fall made: ``"1998, a wet fall: 420 lb/ac less, 5,300 and not 5,720"``."""
    year, system = found.difference.years[at], found.asked.system
    first, second = (float(value) for value in found.made[at])
    kind = found.kinds.get(year)
    fall = f"{year}, a {kind} fall" if kind else str(year)
    off = found.difference.of_falls[at]
    gap = apart(second, first, "biomass", system)
    more = f"{gap} {'more' if off > 0 else 'less'}" if off else "the same"
    return (
        f"{fall}: {found.names[1]} makes {more}, {found.mass(second)} against "
        f"{found.mass(first)} {found.names[0]}."
    )


def payload(found: Beaten, own: dict[str, str]) -> dict[str, Any]:
    """Return all that the view shows."""
    one, system = found.difference, found.asked.system

    def shown(value: float) -> float:
        return round(float(units.show(value, "biomass", system)), 1)

    order = np.argsort(one.of_falls, kind="stable").tolist()
    first, *rest = sentences(found)
    counts = Counter(found.kinds.get(year, "") for year in one.years)
    ends = [*one.of_falls, one.ranges.low, one.ranges.high]
    return {
        **shared_payload(found.asked, found.place, own),
        "first": first,
        "rest": rest,
        "names": found.names,
        "rows": [
            {
                "year": one.years[at],
                "kind": found.kinds.get(one.years[at], ""),
                "difference": shown(one.of_falls[at]),
                "cells": [found.mass(value).split(" ")[0] for value in found.made[at].tolist()]
                + [_signed(one.of_falls[at], system)],
                "told": fall_sentence(found, at),
            }
            for at in order
        ],
        "kinds": [kind for kind in KINDS if counts[kind]],
        "mean": shown(one.mean),
        "in_field": [shown(one.ranges.low), shown(one.ranges.high)],
        "tops": [
            -nice(-1.02 * min(shown(min(ends)), -1.0)),
            nice(1.02 * max(shown(max(ends)), 1.0)),
        ],
        "unit": units.label("biomass", system),
        "command": _command(found),
    }


def _signed(value: float, system: units.System) -> str:
    number = round(float(units.show(value, "biomass", system)), -1) + 0.0
    return f"{number:+,.0f}" if number else "0"


def _command(found: Beaten) -> str:
    if found.asked.changes:  # which compare does not take
        return ""
    pair = (
        {"sow": f"{found.asked.plan.sow},{found.second}"}
        if found.against == SOW
        else {"nitrogen_timing": f"sowing,{found.second}"}
    )
    return command_of("compare", found.asked, found.place, **pair)


def table(found: Beaten) -> str:
    """Return the falls as CSV, in SI, from the one in which the second plan lags most."""
    one = found.difference
    rows = [
        {
            "year": one.years[at],
            "kind": found.kinds.get(one.years[at], ""),
            "first_kg_ha": float(found.made[at][0]),
            "second_kg_ha": float(found.made[at][1]),
            "difference_kg_ha": one.of_falls[at],
        }
        for at in np.argsort(one.of_falls, kind="stable").tolist()
    ]
    about = shared_payload(found.asked, found.place, {})
    return table_text(
        {
            "plan": str(about["in_words"]),
            "first": found.names[0],
            "second": found.names[1],
            "note": "biomass at the end of each fall; kinds of fall are thirds by the rain of "
            "October to December",
        },
        rows,
    )


VIEW = PlanView("falls", OWN, find, payload, table, rows="falls")
