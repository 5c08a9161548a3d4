"""What the response to nitrogen means, in sentences made from its numbers."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.answers.response.calculate import ALL, FATES, Response
from simulator.answers.response.forecast import ForecastValue
from simulator.answers.response.sowing_pairs import Pair
from simulator.answers.response.table import Shown, whole_percents
from simulator.answers.shared.field_ranges import (
    Ranges,
    chance_in_fields,
    difference_off,
    difference_ranges,
    how_far_off,
    in_a_field,
    spelled,
)
from simulator.answers.shared.response_curves import FEWEST, LINEAR, NONE, QUADRATIC_PLATEAU
from simulator.show import wording

if TYPE_CHECKING:
    from numpy.typing import NDArray

WORTH_SAYING = 50.0  # kg/ha of biomass; smaller differences are none
FATE_WORDS = {
    "shoots": "in the shoots",
    "roots": "in the roots",
    "frost_killed": "killed by frost",
    "shed_leaves": "in dead leaves",
    "leached": "leached",
    "denitrified": "denitrified",
    "volatilised": "lost as ammonia",
    "left_in_soil": "left in the soil",
    "tied_up": "tied up by decaying residue",
}


def _mass(value: float, system: units.System) -> str:
    return units.spell(value, "biomass", system)


def _rate(value: float, system: units.System) -> str:
    return units.spell(value, "nitrogen", system)


def sentences(shown: Shown, system: units.System) -> list[str]:
    """Say what the numbers mean."""
    if not shown.first.falls:
        return [
            f"Sown on {wording.dates_in(shown.first.sow)}, no fall brought the stand to its "
            "end at every rate and timing, so there is no response to tell."
        ]
    fed = shown.first.applied > 0
    texts = [
        _brings_sentence(shown, system) if fed else "",
        _curve_sentence(shown.first, system),
        _rival_forms_sentence(shown.first),
    ]
    if fed:
        texts += [
            _fate_sentence(shown.first, system),
            _kind_sentence(shown, system),
            _timing_sentence(shown, system),
            *_forecast_sentences(shown, system),
        ]
        if shown.pairs:
            texts.append(
                _pair_sentence(shown.pairs[len(_pairs_of_first_sowing(shown)) - 1], system)
            )
    texts.append(how_far_off(system, shown.errors.level))
    if fed:
        texts.append(difference_off(system, shown.errors.response) + _slope_off(shown, system))
    return [sentence for sentence in texts if sentence]


def _brings_sentence(shown: Shown, system: units.System) -> str:
    """Say what the spoken rate brings, over the falls and in a field."""
    r = shown.first
    brings = r.brings(shown.errors.response)
    gain = float(np.mean(r.gained))
    weather = Ranges(brings.weather_low, brings.weather_high, *[float("nan")] * 2)
    over = f", {spelled(weather, 'biomass', system)} over the falls" if r.falls > 1 else ""
    chance = chance_in_fields(np.array(r.gained), 0.0, error=shown.errors.response)
    unclear = "" if brings.is_clear else "; whether it brings any cannot be told"
    return (
        f"Sown on {wording.dates_in(r.sow)}, {_rate(r.applied, system)} of nitrogen "
        f"{wording.timing(r.timing)} {'brings' if gain >= 0 else 'costs'} "
        f"{_mass(abs(gain), system)} of biomass{over}. In a field like these it brings "
        f"{spelled(brings, 'biomass', system)}, more than nothing with a chance of "
        f"{100 * chance:.0f} percent{unclear}."
    )


def _field_range_sentence(
    differences: NDArray[np.float64], shown: Shown, system: units.System
) -> str:
    """Give the range of a difference, weather and field, or say that it cannot be told."""
    return in_a_field(difference_ranges(differences, shown.errors.response), system)


def _slope_off(shown: Shown, system: units.System) -> str:
    """Say what the error of responses is for each pound of nitrogen."""
    span = shown.first.rates[-1] - shown.first.rates[0]
    if span <= 0:
        return ""
    error = round(shown.errors.response.rmse / span)
    return (
        f" Spread over {_rate(span, system)}, that is {error} of biomass for each "
        f"{unit_word(system)} of nitrogen."
    )


def _pairs_of_first_sowing(shown: Shown) -> list[Pair]:
    """Return the pairs of the earliest sowing; the last of them is with the latest."""
    return [pair for pair in shown.pairs if pair.earlier == shown.pairs[0].earlier]


def _curve_sentence(r: Response, system: units.System) -> str:
    """Say how biomass rises with nitrogen, and in what form."""
    start = (
        f"Sown on {wording.dates_in(r.sow)}, nitrogen {wording.timing(r.timing)}: biomass is "
        f"{_mass(r.means[0], system)} with {_rate(r.rates[0], system)} of nitrogen"
    )
    if len(r.rates) > 1:
        start += f" and {_mass(r.means[-1], system)} with {_rate(r.rates[-1], system)}"
    curve = r.choice.curve
    if curve is None:
        few = "1 rate is" if len(r.rates) == 1 else f"{len(r.rates)} rates are"
        return f"{start}; {few} too few for a curve, which takes {FEWEST[LINEAR]} at least."
    if curve.form == NONE:
        return f"{start}; it does not follow the rate (no curve is better than their mean)."
    if curve.form == LINEAR:
        return (
            f"{start}, in a straight line: each pound of nitrogen {_slope_text(curve.slope)}, and "
            "no rate tried is too much."
        ).replace("pound", unit_word(system))
    shape = "bending" if curve.form == QUADRATIC_PLATEAU else "straight"
    word = unit_word(system)
    flat = (
        f"it is still rising at {_rate(curve.highest, system)}"
        if curve.beyond
        else f"from {_rate(curve.join, system)} on more brings nothing in the model"
    )
    last = ""
    if curve.form == QUADRATIC_PLATEAU:
        middle = curve.highest / 2
        last = f", the one after {_rate(middle, system)} brings {curve.slope_at(middle):.0f}"
    return (
        f"{start}; a {shape} line to a plateau fits best ({curve.form}): the first {word} of "
        f"nitrogen brings {curve.slope_at(curve.lowest):.0f}{last}, and {flat}."
    )


def unit_word(system: units.System) -> str:
    """Name the unit in which people speak of one more of nitrogen."""
    return "pound" if system == "us" else "kilogram"


def _slope_text(slope: float) -> str:
    return f"{'brings' if slope >= 0 else 'costs'} {abs(slope):.0f} of biomass"


def _rival_forms_sentence(r: Response) -> str:
    if r.choice.untried and r.choice.curve is not None:
        return (
            f"{len(r.rates)} rates are too few to try {wording.join(r.choice.untried)}: give "
            f"{max(FEWEST[form] for form in r.choice.untried)}."
        )
    if not r.choice.rivals or r.choice.curve is None:
        return ""
    return (
        f"These {len(r.rates)} rates hardly tell {r.choice.curve.form} from "
        f"{wording.join(r.choice.rivals)}: do not lean on the form."
    )


def _fate_sentence(r: Response, system: units.System) -> str:
    """Say where the applied nitrogen is at the end."""
    percents = whole_percents([r.share(fate) for fate in FATES])
    where = sorted(zip(percents, FATES, strict=True), reverse=True)
    texts = [
        f"{percent} percent {'are ' if not i else ''}{FATE_WORDS[fate]}"
        for i, (percent, fate) in enumerate(where)
        if percent > 0
    ]
    beyond = f" above {_rate(r.rates[0], system)}" if r.rates[0] > 0 else ""
    return f"Of {_rate(r.applied, system)} applied{beyond}, {wording.join(texts)} at the end."


def _kind_sentence(shown: Shown, system: units.System) -> str:
    """Say in which kind of year nitrogen brings most and least."""
    first = shown.first
    by_kind = [r for r in shown.of(sow=first.sow, timing=first.timing) if r.kind != ALL and r.falls]
    if len(by_kind) < 2:
        return ""
    ranked = sorted(by_kind, key=lambda r: -np.mean(r.gained))
    best, worst = ranked[0], ranked[-1]
    if np.mean(best.gained) - np.mean(worst.gained) < WORTH_SAYING:
        return "It brings about as much in every kind of year."

    def describe(r: Response) -> str:
        return (
            f"{r.kind} years ({_mass(float(np.mean(r.gained)), system)}, "
            f"{100 * r.share('leached'):.0f} percent leached, {r.falls} falls)"
        )

    apart = (np.array(best.gained)[:, None] - np.array(worst.gained)).ravel()
    return (
        f"{_rate(first.applied, system)} {wording.timing(first.timing)} bring most in "
        f"{describe(best)} and least in {describe(worst)}. "
        f"{_field_range_sentence(apart, shown, system)}"
    )


def _pair_sentence(pair: Pair, system: units.System) -> str:
    """Say what rate makes the late sowing equal to the early one, or that none does."""
    late, early = (f"the {wording.dates_in(date)} sowing" for date in (pair.later, pair.earlier))
    base = "none" if pair.base == 0 else _rate(pair.base, system)
    if not isfinite(pair.rate):
        return (
            f"No rate tried brings {late} to what {early} makes with {base} "
            f"({_mass(pair.target, system)}): with {_rate(pair.most_rate, system)} it makes "
            f"{_mass(pair.most, system)}, and {_reached_clause(pair)} as much."
        )
    if pair.rate <= pair.base:
        return (
            f"{late[0].upper()}{late[1:]} makes as much with {base} as {early} does "
            f"({_mass(pair.target, system)}), {_reached_clause(pair).rstrip(',')}."
        )
    return (
        f"On average {late} with {_rate(pair.rate, system)} equals {early} with {base} "
        f"({_mass(pair.target, system)}); {_reached_clause(pair)} it makes at least as much."
    )


def _reached_clause(pair: Pair) -> str:
    return (
        f"in {pair.reached} of {pair.falls} falls, and with a chance of {100 * pair.chance:.0f} "
        "percent in a field like these,"
    )


def _timing_sentence(shown: Shown, system: units.System) -> str:
    """Say which time brings most over all falls, and what it leaches."""
    beside = shown.of(sow=shown.first.sow, kind=ALL)
    if len(beside) < 2:
        return ""
    ranked = sorted(beside, key=lambda r: -np.mean(r.gained))
    texts = [
        f"{wording.timing(r.timing)} ({_mass(float(np.mean(r.gained)), system)}, "
        f"{100 * r.share('leached'):.0f} percent leached)"
        for r in (ranked[0], ranked[-1])
    ]
    if np.mean(ranked[0].gained) - np.mean(ranked[-1].gained) < WORTH_SAYING:
        return f"When it goes on makes little difference to biomass: {texts[0]} or {texts[1]}."
    apart = np.array(ranked[0].gained) - np.array(ranked[-1].gained)
    return (
        f"The same rate brings the {wording.dates_in(shown.first.sow)} sowing most given "
        f"{texts[0]} and least given {texts[1]}. "
        f"{_field_range_sentence(apart, shown, system)}"
    )


def _forecast_sentences(shown: Shown, system: units.System) -> list[str]:
    """Say what a forecast of the kind of year is worth to the choice of the time."""
    value = shown.value
    if value is None:
        return []
    when = [wording.timing(timing) for timing in shown.timings]
    best = when[value.single]
    other = {kind: at for kind, at in value.by_kind.items() if at != value.single}
    perfect = (
        "choosing the best time of every single fall would bring "
        f"{_mass(value.perfect, system)} more"
    )
    if not other:
        return [
            f"One time, {best}, is best in every kind of year, so that a forecast of the kind "
            f"is worth nothing here; {perfect}."
        ]
    switched = wording.join([f"{when[at]} in {kind} years" for kind, at in other.items()])
    texts = [
        f"Over all falls {best} is best, but {switched}: to know the kind of year beforehand is "
        f"worth {_mass(value.known_kind, system)} of biomass a fall; {perfect}."
        f"{_switches(value, when, system)}",
        f"Judged on falls left out of the choice it is worth {_signed(value.left_out, system)}"
        + ("." if value.left_out > 0 else ": so few falls do not show that it pays."),
    ]
    if value.hit_rate is not None:
        texts.append(
            f"A forecast that names the right kind in {100 * value.hit_rate:.0f} of 100 "
            f"falls is worth {_mass(value.with_hit_rate, system)}."
        )
    return texts


def _switches(value: ForecastValue, when: list[str], system: units.System) -> str:
    """Say how surely another time is the better in some kinds of year."""
    texts = [
        f"in {kind} years nitrogen {when[value.by_kind[kind]]} beats nitrogen "
        f"{when[value.single]} with a chance of {100 * value.chances[kind]:.0f} percent "
        f"({spelled(ranges, 'biomass', system)} in a field like these)"
        for kind, ranges in value.switches.items()
    ]
    said = wording.join(texts)
    so = (
        ""
        if value.is_clear
        else ", so that whether such a forecast is worth anything cannot be told"
    )
    return f" {said[0].upper()}{said[1:]}{so}."


def _signed(value: float, system: units.System) -> str:
    return ("-" if value < 0 else "+") + _mass(abs(value), system)
