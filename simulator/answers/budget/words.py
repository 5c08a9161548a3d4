"""What budgets mean, in sentences made from their numbers."""

from __future__ import annotations

from decimal import Decimal

import numpy as np

from simulator import units
from simulator.answers.budget import bare_soil
from simulator.answers.budget.break_even import SWING, NextUnit
from simulator.answers.budget.calculate import BASIS, Standing, nearly, per_ton, tons_by_area
from simulator.answers.budget.table import (
    Shown,
    an_area,
    beside,
    describe,
    gap,
    money,
    switched,
    ton,
)
from simulator.answers.shared.field_ranges import difference_off, how_far_off, in_a_field
from simulator.parameters.price import cents
from simulator.show import wording

ALIKE = 0.5  # kg/ha of biomass; a smaller difference is none
NEARLY = 5  # percent: a chance lower by no more than this is nearly as high


def sentences(shown: Shown, system: units.System) -> list[str]:
    """Say which plan to choose, what the two plans cost, when more pays, which prices matter."""
    texts = [
        _cheapest_sentence(shown, system),
        _nearly_as_sure_sentence(shown, system),
        _cost_sentence("A", shown.pair[0], shown, system),
        _change_sentence(shown, system),
        *(_next_unit_sentence(unit, shown, system) for unit in shown.next_units),
        _prices_sentence(shown, system),
        *bare_soil.sentences(shown, system),
        how_far_off(system, shown.errors.level),
        difference_off(system, shown.errors.response),
    ]
    return [sentence for sentence in texts if sentence]


def _biomass_text(value: float, system: units.System) -> str:
    return units.spell(abs(value), "biomass", system)


def _rate_text(value: float, system: units.System) -> str:
    return units.spell(value, "mass", system)


def _falls_reached_text(plan: Standing) -> str:
    return f"{plan.reached} of {len(plan.biomass)} falls"


def _cheapest_sentence(shown: Shown, system: units.System) -> str:
    target, first = _biomass_text(shown.target, system), shown.pair[0].plan
    percent = f"{100 * shown.wanted:.0f} percent"
    best = shown.best or shown.nearest
    chance = (
        f"{best.percent} percent, weather and field together ({_falls_reached_text(best)} reach it)"
    )
    cost = f"{money(best.budget.total, shown.sign)} {an_area(system)}"
    if shown.best is None:
        return (
            f"None of the {len(shown.plans)} plans makes {target} with a chance of {percent}; "
            f"nearest is {beside(best.plan, first, system)}, for {cost}: {chance}."
        )
    return (
        f"The cheapest of {len(shown.plans)} plans that make {target} with a chance of {percent} "
        f"is {beside(best.plan, first, system)}, for {cost}: {chance}."
    )


def _nearly_as_sure_sentence(shown: Shown, system: units.System) -> str:
    """Name the plan that is nearly as sure for less, so that nothing hangs on a percent."""
    best = shown.best or shown.nearest
    close = nearly(shown.plans, best, NEARLY)
    if close is None:
        return ""
    return (
        f"For {money(best.budget.total - close.budget.total, shown.sign)} less, "
        f"{beside(close.plan, shown.pair[0].plan, system)} comes to {close.percent} percent "
        f"({_falls_reached_text(close)})."
    )


def _cost_sentence(name: str, plan: Standing, shown: Shown, system: units.System) -> str:
    items = wording.join(
        [f"{item.name} {money(item.cost, shown.sign)}" for item in plan.budget.items]
    )
    total = plan.budget.total
    by_ton = per_ton(total, plan.mean, system)
    also = (
        f"; at {_biomass_text(plan.mean, system)} that is {money(by_ton, shown.sign)} a "
        f"{ton(system)} of dry matter"
        if by_ton is not None and total >= 0
        else ""
    )
    costs = "costs" if total >= 0 else "is paid"
    return (
        f"Plan {name} ({describe(plan.plan, system)}) {costs} {money(abs(total), shown.sign)} "
        f"{an_area(system)}{'' if total >= 0 else ' more than it costs'}: {items}{also}."
    )


def _change_sentence(shown: Shown, system: units.System) -> str:
    """Say whether the second plan is to be preferred, and at what value of biomass."""
    change, sign = shown.change, shown.sign
    one, other = (standing.plan for standing in shown.pair)
    start = f"Plan B ({beside(other, one, system)}) "
    if not change.gained:
        return f"{start}and plan A have no fall in which both reach their end."
    cost = change.cost
    costs = (
        "costs as much as A"
        if cost == 0
        else f"costs {money(abs(cost), sign)} {'more' if cost > 0 else 'less'} {an_area(system)} "
        "than A"
    )
    return f"{start}{costs} and {_gain_clause(shown, system)}{_net_gain_clause(shown, system)}"


def _gain_clause(shown: Shown, system: units.System) -> str:
    """Say what the second plan makes more, and which of them pays, as far as it can be told."""
    change = shown.change
    cost, gain, sign = change.cost, change.mean_gain, shown.sign
    printed = abs(float(gap(*shown.pair, change, system)))
    if all(abs(value) < ALIKE for value in change.gained):
        better = "they are alike" if cost == 0 else f"plan {'A' if cost > 0 else 'B'} is the better"
        return f"makes as much biomass: {better}."
    falls = sum(value > 0 for value in change.gained)
    made = (
        f"makes {printed:,.0f} {units.label('biomass', system)} {'more' if gain > 0 else 'less'} "
        f"biomass on average (more in {falls} of {len(change.gained)} falls)."
    )
    unclear = f"which of the two {'makes more' if cost == 0 else 'pays'}"
    differs = in_a_field(change.ranges, system, unclear=unclear)
    if not change.ranges.is_clear:
        return f"{made} {differs}"
    even = change.break_even(system)
    if even is not None:
        verdict = (
            f"it pays where a {ton(system)} of biomass is worth "
            f"{'more' if cost > 0 else 'less'} than {money(even, sign)}"
        )
    else:
        better = "A" if gain < 0 else "B"
        verdict = f"plan {better} is {'the better' if cost == 0 else 'better in both'}"
    return f"{made} {differs.rstrip('.')}; {verdict}."


def _net_gain_clause(shown: Shown, system: units.System) -> str:
    if shown.value is None:
        return ""
    worth = shown.value.by(BASIS[system][2])
    change = shown.change
    tons = tons_by_area(abs(change.mean_gain), system) * (1 if change.mean_gain >= 0 else -1)
    net = cents(tons * worth) - change.cost
    return (
        f" At {money(worth, shown.sign)} a {ton(system)} the change "
        f"{'gains' if net >= 0 else 'loses'} {money(abs(net), shown.sign)} "
        f"{an_area(system)} on average."
    )


def _next_unit_sentence(unit: NextUnit, shown: Shown, system: units.System) -> str:
    """Say what one more pound brings, and when it pays, as far as it can be told."""
    word = {"us": "pound", "si": "kilogram"}[system]
    start = f"From plan A's {_rate_text(unit.rate, system)}, one more {word} of {unit.name}"
    if not np.isfinite(unit.slope):
        return f"There are too few rates to say what one more {word} of {unit.name} brings."
    trip = ", once the spreader goes" if unit.name == "nitrogen" and unit.rate == 0 else ""
    slope = round(unit.slope)
    brings = (
        f"{start} costs {money(unit.price, shown.sign)} and brings {slope} "
        f"{word}{'' if slope == 1 else 's'} of biomass on average{trip}"
    )
    between = f"{round(unit.ranges.low)} to {round(unit.ranges.high)}"
    needed = unit.value_needed(system)
    if not unit.ranges.is_clear:
        return (
            f"{brings}; in one fall, in a field like these, it may be {between}, so that whether "
            "it pays cannot be told."
        )
    if needed is None:
        return f"{brings}: it pays at no value of it."
    text = (
        f"{brings} ({between} in a field like these): it pays where a {ton(system)} is worth more "
        f"than {money(needed, shown.sign)}."
    )
    if shown.value is None:
        return text
    worth = money(shown.value.by(BASIS[system][2]), shown.sign)
    best, curve = unit.pays_up_to(shown.value, system), unit.choice.curve
    assert curve is not None
    if best >= curve.highest:
        return (
            f"{text} At {worth} it still pays at {_rate_text(curve.highest, system)}, the highest "
            "tried."
        )
    return f"{text} At {worth} it pays up to {_rate_text(best, system)}."


def _prices_sentence(shown: Shown, system: units.System) -> str:
    """Say which price moves the plan most, and whether any changes the cheapest plan."""
    if not shown.swings:
        return ""
    first, total = shown.swings[0], shown.pair[0].budget.total
    most = max(abs(side - total) for side in first.totals)
    text = (
        f"A price {100 * SWING:.0f} percent off moves plan A by at most "
        f"{money(Decimal(most), shown.sign)} ({first.name})"
    )
    if shown.best is None:
        return f"{text}."
    changing = [
        f"{swing.name} {side}" for swing in shown.swings for side in switched(swing, shown.best)
    ]
    if not changing:
        return f"{text}, and changes the cheapest plan in no case."
    return f"{text}; the cheapest plan is another with {wording.join(changing)}."
