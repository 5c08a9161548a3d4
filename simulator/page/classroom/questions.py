"""Questions that the class view can be asked about what it shows, each with its answer."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, log10
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.shared.few_falls import band
from simulator.page.classroom.methods import (
    CURVES,
    CUTOFF_NAMES,
    CUTOFFS,
    OWN,
    VALUES,
    Day,
    Working,
    method_name,
    plainly,
)
from simulator.page.classroom.season import Reached, Summed, months, sums_from_emergence
from simulator.page.records import PlaceWeather
from simulator.parameters.cereals import cereal
from simulator.process.development import emergence_thermal_time
from simulator.show.tables import FEWEST_FOR_SHARES
from simulator.show.wording import threshold

AGREED = 0.005  # in reader's units: alike to the two places that are shown


@dataclass(frozen=True, slots=True)
class Asked:
    """A question and its answer, in paragraphs."""

    question: str
    answer: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Return it as the page's script reads it."""
        return {"question": self.question, "answer": list(self.answer)}


def two(value: float, system: units.System) -> str:
    """Spell a day's thermal time [degC d] to two places: ``"8.04 °F d"``."""
    shown = float(units.show(value, "thermal_time", system)) + 0.0
    return f"{shown:.2f} {units.label('thermal_time', system)}"


def whole(value: float, system: units.System) -> str:
    """Spell a season's sum [degC d]."""
    return units.spell(value, "thermal_time", system)


def day_questions(day: Day, curve: str, cutoff: str, system: units.System) -> list[Asked]:
    """Ask about a day; the chosen method is worked by hand."""
    return [
        _by_hand(day, curve, cutoff, system),
        _which_differ(day, system),
        _how_long(day, system),
        _cut_off(day, system),
        _in_other_units(day, system),
    ]


def _by_hand(day: Day, curve: str, cutoff: str, system: units.System) -> Asked:
    return Asked(
        f"Work this day out by hand: {method_name(curve, cutoff)}.",
        tuple(Working(day, system).lines(curve, cutoff)),
    )


def _which_differ(day: Day, system: units.System) -> Asked:
    values = {curve: VALUES[curve, "none"](day) for curve in CURVES}
    question = (
        "Without a cutoff, do the four methods agree on this day? Which counts most, and why?"
    )
    base = threshold(day.base, system)
    low, high = min(values.values()), max(values.values())
    if float(units.show(high - low, "thermal_time", system)) < AGREED:
        side = (
            "stays above"
            if day.tmin >= day.base
            else "stays below"
            if day.tmax <= day.base
            else "hardly crosses"
        )
        return Asked(
            question,
            (
                f"They agree: the day {side} the base of {base}, and all count {two(low, system)}.",
                "Put the base between the lowest and the highest temperature, and they part.",
            ),
        )
    text = "; ".join(
        f"{method_name(curve, 'none')} {two(values[curve], system)}"
        for curve in sorted(CURVES, key=lambda curve: values[curve])
    )
    return Asked(
        question,
        (
            f"They do not, for the day crosses the base of {base}. From least to most: {text}.",
            "The first lets the cold of the night cancel warmth of the day. The last takes the day "
            "to "
            "be half at its highest and half at its lowest. The curves lie between, and a sine "
            "stays "
            "longer near its ends than a triangle does, so it counts more above the base.",
        ),
    )


def _how_long(day: Day, system: units.System) -> Asked:
    working = Working(day, system)
    triangle, sine = (
        24.0 * working.share_above(working.base, curve) for curve in ("triangle", "sine")
    )
    edge = threshold(day.base, system)
    texts = [f"{triangle:.1f} hours by single triangle, {sine:.1f} by single sine."]
    if 0.0 < triangle < 24.0:
        high, low, base = map(plainly, (working.high, working.low, working.base))
        fraction = f"({high} − {base}) / ({high} − {low})"
        texts.append(f"By single triangle: 24 × {fraction} = {triangle:.1f}.")
    return Asked(f"How many hours of the day are warmer than the base of {edge}?", tuple(texts))


def _cut_off(day: Day, system: units.System) -> Asked:
    edge = threshold(day.upper, system)
    question = f"What does each cutoff take off the day of single sine, above the limit of {edge}?"
    if day.tmax <= day.upper:
        return Asked(
            question,
            (
                f"Nothing: the day does not rise above {edge}, and all cutoffs give "
                f"{two(VALUES['sine', 'none'](day), system)}.",
                "Raise the highest temperature above the limit, or lower the limit.",
            ),
        )
    full = VALUES["sine", "none"](day)
    text = "; ".join(
        f"{CUTOFF_NAMES[cutoff]} {two(full - VALUES['sine', cutoff](day), system)}, which leaves "
        f"{two(VALUES['sine', cutoff](day), system)}"
        for cutoff in CUTOFFS[1:]
    )
    return Asked(
        question,
        (
            f"Of {two(full, system)}: {text}.",
            "Horizontal counts the hot hours "
            "as if at the limit, intermediate takes off again what they are above "
            "it, vertical does not count them.",
        ),
    )


def _in_other_units(day: Day, system: units.System) -> Asked:
    other: units.System = "si" if system == "us" else "us"
    value = VALUES[OWN[0], OWN[1]](day)
    here, there = two(value, system), two(value, other)
    shown = float(units.show(value, "thermal_time", system))
    rule = f"{shown:.2f} {'/' if system == 'us' else '×'} 1.8"
    return Asked(
        f"{method_name(*OWN).capitalize()}, counts {here} here. What would a class count that "
        f"measures in {units.label('temperature', other)}?",
        (
            f"{rule} gives {there}: a degree of one is 1.8 of the other. The 32 that lies between "
            "the "
            "two zeros is in the base already, and is not taken off again.",
        ),
    )


def season_questions(
    season: Summed, place: PlaceWeather, curve: str, cutoff: str, system: units.System
) -> list[Asked]:
    """Ask about a season's sums and stages."""
    found = [
        _when_passed(season, system),
        _to_emergence(season, system),
        _a_leaf(season, system),
        _every_fall(season, place, system),
        _coldest_month(season, system),
        _methods_over_season(season, curve, cutoff, system),
    ]
    return [one for one in found if one is not None]


def when(season: Summed, at: int) -> str:
    """Spell a day of a season: ``"Mar 3 2011"``."""
    day = season.days[at].item()
    return f"{day:%b} {day.day} {day.year}"


def _stage(season: Summed, name: str) -> Reached | None:
    return next((stage for stage in season.stages if stage.name == name), None)


def _when_passed(season: Summed, system: units.System) -> Asked | None:
    """Ask for the day of a round sum, about half of the season's least."""
    least = min(sums[-1] for key, sums in season.sums.items() if key[1] == "none")
    half = 0.5 * float(units.show(least, "thermal_time", system))
    if half < 1.0:
        return None
    step = 10.0 ** floor(log10(half))
    round_sum = step * floor(half / step)
    goal = round_sum / float(units.show(1.0, "thermal_time", system))
    passed = {
        key: int(np.argmax(sums >= goal)) for key, sums in season.sums.items() if key[1] == "none"
    }
    order = sorted(passed, key=lambda key: passed[key])
    first, last = passed[order[0]], passed[order[-1]]
    text = "; ".join(f"{method_name(*key)} on {when(season, passed[key])}" for key in order)
    apart = "the same day" if first == last else f"{last - first} days apart"
    return Asked(
        f"On which day does each method, without a cutoff, pass {whole(goal, system)}?",
        (
            f"{text}: {apart}.",
            "A published target holds only for the method and the base that it was made with.",
        ),
    )


def _to_emergence(season: Summed, system: units.System) -> Asked | None:
    up = _stage(season, "emergence")
    if up is None:
        return None
    needed = emergence_thermal_time(cereal(season.plan.cereal).sowing_depth)
    late = up.before > needed
    why = (
        "More than needed had gathered the day before: the seed waited for moisture."
        if late
        else "It came up on the first day with enough: moisture did not hold it back."
    )
    return Asked(
        "How much warmth did the seed take to come up, and how much does it need?",
        (
            f"It was up on {when(season, up.at)}, {up.at} days after sowing, at "
            f"{whole(up.sum, system)} by the simulator's own count. At its depth it needs "
            f"{whole(needed, system)}. {why}",
        ),
    )


def _a_leaf(season: Summed, system: units.System) -> Asked | None:
    up, third = _stage(season, "emergence"), _stage(season, "3 leaves")
    if up is None or third is None:
        return None
    warmth = third.sum - up.before
    set_at = cereal(season.plan.cereal).phyllochron
    last_day = third.sum - third.before
    why = (
        "whole days are counted"
        if warmth - 3 * set_at < last_day
        else "some warmth came while the ground was frozen or under snow, when no leaf grows"
    )
    return Asked(
        "How much warmth does a leaf take?",
        (
            f"From the day of emergence to that of the third leaf {whole(warmth, system)} "
            "gathered: "
            f"{whole(warmth, system)} / 3 = {whole(warmth / 3, system)} a leaf, where the "
            f"simulator takes {whole(set_at, system)} for {season.plan.cereal}: {why}.",
            f"These leaves took {third.at - up.at} days. In warmer or colder weather the days "
            "change "
            "and the warmth does not, which is why it is counted.",
        ),
    )


def _every_fall(season: Summed, place: PlaceWeather, system: units.System) -> Asked | None:
    up, rise = _stage(season, "emergence"), _stage(season, "stem elongation")
    falls = sums_from_emergence(season, place)
    rises, leaves = (falls.get(name, np.array([])) for name in ("stem elongation", "3 leaves"))
    if up is None or rise is None or min(rises.size, leaves.size) < 2:
        return None

    def spread(values: Any) -> str:
        low, _, high = band(values)
        held = f"all {values.size}" if values.size < FEWEST_FOR_SHARES else "8 of 10"
        return f"{held} falls need {whole(float(low), system)} to {whole(float(high), system)}"

    return Asked(
        "Does stem elongation begin at the same sum from emergence every fall?",
        (
            f"Here they rise on {when(season, rise.at)} after "
            f"{whole(rise.sum - up.before, system)}. "
            f"Sown on the same date, {spread(rises)}. For the third leaf {spread(leaves)}.",
            "Warmth alone does not say when stem elongation begins: the plant must first have had "
            "its cold (vernalization), and days long enough, and both slow it until then.",
        ),
    )


def _coldest_month(season: Summed, system: units.System) -> Asked | None:
    counted = months(season)
    if len(counted) < 2:
        return None
    (least, low), (most, high) = (pick(counted, key=lambda pair: pair[1]) for pick in (min, max))
    total = float(season.own[-1])
    share = (
        f", {100 * low / total:.0f} percent of the season's {whole(total, system)}"
        if total > 0
        else ""
    )
    return Asked(
        "Which whole month brought the least warmth, and which the most?",
        (
            f"{least} the least: {whole(low, system)}{share}. {most} the most: "
            f"{whole(high, system)}.",
        ),
    )


def _methods_over_season(season: Summed, curve: str, cutoff: str, system: units.System) -> Asked:
    ends = {key: float(sums[-1]) for key, sums in season.sums.items()}
    least, most = min(ends, key=lambda key: ends[key]), max(ends, key=lambda key: ends[key])
    chosen = ends[curve, cutoff]
    differs = chosen - float(season.own[-1])
    side = "more" if differs > 0 else "less"
    apart = f"{whole(abs(differs), system)} {side} than"
    compared = "as much as" if abs(differs) < 0.5 else apart
    return Asked(
        f"By {when(season, season.days.size - 1)}, how far have the methods come apart?",
        (
            f"From {whole(ends[least], system)} ({method_name(*least)}) to "
            f"{whole(ends[most], system)} ({method_name(*most)}). The chosen method, "
            f"{method_name(curve, cutoff)}, counts {whole(chosen, system)}: {compared} the "
            "simulator "
            "counts between its own limits.",
        ),
    )
