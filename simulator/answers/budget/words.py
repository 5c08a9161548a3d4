"""What budgets mean, in sentences made from their numbers."""

from __future__ import annotations

from decimal import Decimal

import numpy as np

from simulator import units
from simulator.answers.budget.break_even import SWING, NextUnit
from simulator.answers.budget.calculate import BASIS, Standing, per_ton, tons_by_area
from simulator.answers.budget.table import Shown, an_area, beside, describe, money, switched, ton
from simulator.parameters.price import cents
from simulator.show import wording

ALIKE = 0.5  # kg/ha of biomass; a smaller difference is none


def sentences(shown: Shown, system: units.System) -> list[str]:
    """Say what the two plans cost, which to choose, when more pays, and which prices matter."""
    texts = [
        _cost("A", shown.pair[0], shown, system),
        _change(shown, system),
        _cheapest(shown, system),
        *(_next(unit, shown, system) for unit in shown.next_units),
        _prices(shown, system),
    ]
    return [sentence for sentence in texts if sentence]


def _mass(value: float, system: units.System) -> str:
    return units.spell(abs(value), "mass", system)


def _cost(name: str, plan: Standing, shown: Shown, system: units.System) -> str:
    items = wording.join(
        [f"{item.name} {money(item.cost, shown.sign)}" for item in plan.budget.items]
    )
    by_ton = per_ton(plan.budget.total, plan.mean, system)
    also = (
        f"; at {_mass(plan.mean, system)} that is {money(by_ton, shown.sign)} a {ton(system)} of "
        "dry matter"
        if by_ton is not None
        else ""
    )
    return (
        f"Plan {name} ({describe(plan.plan, system)}) costs "
        f"{money(plan.budget.total, shown.sign)} {an_area(system)}: {items}{also}."
    )


def _change(shown: Shown, system: units.System) -> str:
    """Say whether the second plan is to be preferred, and at what value of biomass."""
    change = shown.change
    sign = shown.sign
    one, other = (standing.plan for standing in shown.pair)
    start = f"Plan B ({beside(other, one, system)}) "
    if not change.gained:
        return f"{start}and plan A have no fall in which both reach their end."
    cost, gain = change.cost, change.mean_gain
    costs = (
        "costs as much"
        if cost == 0
        else f"costs {money(abs(cost), sign)} {'more' if cost > 0 else 'less'} {an_area(system)}"
    )
    falls = sum(value > 0 for value in change.gained)
    makes = f"makes {_mass(gain, system)} {'more' if gain > 0 else 'less'} biomass on average"
    makes += f" (more in {falls} of {len(change.gained)} falls)"
    if all(abs(value) < ALIKE for value in change.gained):
        gain, makes = 0.0, "makes as much biomass"
    even = change.break_even(system)
    if even is not None:
        verdict = (
            f"it pays where a {ton(system)} of biomass is worth "
            f"{'more' if cost > 0 else 'less'} than {money(even, sign)}"
        )
    elif cost >= 0 >= gain:
        both = "plan A is better in both" if cost > 0 > gain else "plan A is the better"
        verdict = both if cost > 0 or gain < 0 else "they are alike"
    else:
        verdict = "plan B is better in both" if cost < 0 < gain else "plan B is the better"
    text = f"{start}{costs} than A and {makes}: {verdict}."
    return text.replace("as much than", "as much as") + _net(shown, system)


def _net(shown: Shown, system: units.System) -> str:
    if shown.value is None:
        return ""
    worth = shown.value.by(BASIS[system][2])
    change = shown.change
    tons = tons_by_area(abs(change.mean_gain), system) * (1 if change.mean_gain >= 0 else -1)
    net = cents(tons * worth) - change.cost
    return (
        f" At {money(worth, shown.sign)} a {ton(system)} the change "
        f"{'gains' if net >= 0 else 'loses'} {money(abs(net), shown.sign)} "
        f"{an_area(system)}."
    )


def _cheapest(shown: Shown, system: units.System) -> str:
    target = _mass(shown.target, system)
    percent = f"{100 * shown.wanted:.0f} percent of falls"
    best = shown.best
    if best is None:
        nearest = max(shown.plans, key=lambda p: (p.share, np.nan_to_num(p.mean)))
        return (
            f"None of the {len(shown.plans)} plans reaches {target} in {percent}; nearest is "
            f"{describe(nearest.plan, system)}, in {nearest.reached} of "
            f"{len(nearest.biomass)} falls, {_mass(nearest.mean, system)} on average, for "
            f"{money(nearest.budget.total, shown.sign)}."
        )
    low, high = (100 * end for end in best.interval)
    doubt = (
        " So few falls do not prove it" if low < 100 * shown.wanted else " That is well proven"
    ) + f": the chance lies between {low:.0f} and {high:.0f} percent."
    return (
        f"The cheapest of {len(shown.plans)} plans that reaches {target} in {percent} is "
        f"{describe(best.plan, system)}, for {money(best.budget.total, shown.sign)} "
        f"{an_area(system)}; it does so in {best.reached} of {len(best.biomass)}.{doubt}"
    )


def _next(unit: NextUnit, shown: Shown, system: units.System) -> str:
    """Say what one more pound brings, and when it pays."""
    word = {"us": "pound", "si": "kilogram"}[system]
    rate = _mass(unit.rate, system)
    if not np.isfinite(unit.slope):
        return f"There are too few rates to say what one more {word} of {unit.name} brings."
    needed = unit.value_needed(system)
    if needed is None:
        return (
            f"From plan A's {rate}, one more {word} of {unit.name} brings no biomass: it pays "
            "at no value of it."
        )
    trip = ", once the spreader goes" if unit.name == "nitrogen" and unit.rate == 0 else ""
    text = (
        f"From plan A's {rate}, one more {word} of {unit.name} costs "
        f"{money(unit.price, shown.sign)} and brings {unit.slope:.1f} of biomass{trip}: it "
        f"pays where a {ton(system)} is worth more than {money(needed, shown.sign)}."
    )
    if shown.value is None:
        return text
    worth = money(shown.value.by(BASIS[system][2]), shown.sign)
    best, curve = unit.pays_up_to(shown.value, system), unit.choice.curve
    assert curve is not None
    if best >= curve.highest:
        return (
            f"{text} At {worth} it still pays at {_mass(curve.highest, system)}, the highest tried."
        )
    return f"{text} At {worth} it pays up to {_mass(best, system)}."


def _prices(shown: Shown, system: units.System) -> str:
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
