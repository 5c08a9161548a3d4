"""How budgets look: itemised tables, plans that reach the target, prices that matter."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from simulator import units
from simulator.answers.budget.break_even import SWING, NextUnit, Swing
from simulator.answers.budget.calculate import (
    BASIS,
    Bought,
    Item,
    Partial,
    Standing,
    partial,
    per_ton,
)
from simulator.parameters.price import Price, cents
from simulator.parameters.prices import Prices
from simulator.show import wording
from simulator.show.tables import NOTHING, Column, number, over_falls, paragraph, table


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """All that the answer shows.

    Parameters
    ----------
    prices : Prices
    pair : (Standing, Standing)
        Two plans side by side.
    plans : list of Standing
        From which the cheapest is chosen.
    best : Standing or None
        The cheapest that reaches the target in the wanted share of falls.
    frontier : list of Standing
    next_units : list of NextUnit
        Of nitrogen and of seed, for the first plan of the pair.
    swings : list of Swing
        For the first plan of the pair.
    target, wanted : float
        Biomass [kg/ha] and share of falls.
    value : Price or None
        What a ton of biomass is worth, if the user says so.
    """

    prices: Prices
    pair: tuple[Standing, Standing]
    plans: list[Standing]
    best: Standing | None
    frontier: list[Standing]
    next_units: list[NextUnit]
    swings: list[Swing]
    target: float
    wanted: float
    value: Price | None

    @property
    def change(self) -> Partial:
        """What the second plan in place of the first changes."""
        return partial(*self.pair)

    @property
    def sign(self) -> str:
        """The money's sign."""
        return self.prices.currency


def money(amount: Decimal | None, sign: str, *, signed: bool = False) -> str:
    """Spell money to the cent: ``"$64.00"``, ``"-$3.10"``; a dash for none."""
    if amount is None:
        return NOTHING
    rounded = cents(amount)
    before = "-" if rounded < 0 else "+" if signed and rounded > 0 else ""
    gap = " " if sign.isalpha() else ""
    return f"{before}{sign}{gap}{abs(rounded):,.2f}"


def describe(plan: Bought, system: units.System) -> str:
    """Spell a plan: ``"Oct 20, 90 lb/ac of seed, 30 lb/ac of nitrogen at sowing"``."""
    text = f"{wording.dates_in(plan.sow)}, {units.spell(plan.seeding, 'mass', system)} of seed, "
    if plan.nitrogen == 0:
        return text + "no nitrogen"
    rate = units.spell(plan.nitrogen, "nitrogen", system)
    return f"{text}{rate} of nitrogen {wording.timing(plan.timing)}"


def beside(plan: Bought, other: Bought, system: units.System) -> str:
    """Spell a plan, and how it is ended where the other is ended otherwise."""
    told = describe(plan, system)
    if plan.end != other.end:
        told += f", ended {wording.ending(plan.end)}"
    if plan.endings != other.endings:
        told += f", ended by {wording.join(plan.endings) if plan.endings else 'nothing'}"
    return told


def an_area(system: units.System) -> str:
    """Name the area of a budget as a sentence has it."""
    return {"us": "an acre", "si": "a hectare"}[system]


def ton(system: units.System) -> str:
    """Name the ton of the system."""
    return BASIS[system][2]


def tables(shown: Shown, system: units.System) -> list[str]:
    """Print the two budgets, the plans that reach the target, one more pound, and prices."""
    laid = [
        _pair(shown, system),
        _frontier(shown, system),
        _next_units(shown, system),
        _swings(shown, system),
    ]
    prices = shown.prices
    source = prices.path or "the packaged prices"
    return [
        *laid,
        paragraph(
            f"Prices: {source}, {prices.label}, of {prices.date}. Each item is rounded to the cent "
            "and "
            f"totals are sums of rounded items. A {ton(system)} is "
            f"{'2,000 lb' if system == 'us' else '1,000 kg'} of dry matter; brackets hold 8 of 10 "
            "falls, or all where there are fewer than ten."
        ),
    ]


def _each(item: Item, sign: str) -> str:
    """Spell how an item's cost comes about: ``"90 lb at $0.20"``, ``"2 x $5.00"``."""
    amount = f"{item.amount.normalize():,f}" if item.unit else f"{item.amount:f}"
    if item.unit:
        amount = f"{item.amount:,.1f}".removesuffix(".0")
        return f"{amount} {item.unit} at {money(item.price, sign)}"
    return "" if item.amount == 1 else f"{amount} x {money(item.price, sign)}"


def _pair(shown: Shown, system: units.System) -> str:
    one, other = shown.pair
    area = BASIS[system][0]
    names = list(dict.fromkeys(i.name for s in shown.pair for i in s.budget.items))
    cost = f"{shown.sign}/{area}"
    columns = [
        Column("item", left=True),
        Column("plan A", left=True),
        Column("cost", cost),
        Column("plan B", left=True),
        Column("cost", cost),
        Column("B less A", cost),
    ]
    rows = []
    for name in names:
        cells = []
        for plan in shown.pair:
            item = next((i for i in plan.budget.items if i.name == name), None)
            cells += ["", NOTHING] if item is None else [_each(item, shown.sign), f"{item.cost:,}"]
        gap = other.budget.cost_of(name) - one.budget.cost_of(name)
        rows.append([name, *cells, f"{gap:+,}" if gap else "0.00"])
    totals = [f"{plan.budget.total:,}" for plan in shown.pair]
    rows.append(
        ["total", "", totals[0], "", totals[1], f"{other.budget.total - one.budget.total:+,}"]
    )
    mass = units.label("mass", system)
    more = over_falls(np.array(shown.change.gained), "mass", system, sign=True)
    biomass = [over_falls(np.array(plan.biomass), "mass", system) for plan in shown.pair]
    by_ton = [money(per_ton(p.budget.total, p.mean, system), shown.sign) for p in shown.pair]
    below = [
        [name, *_fed(p, system), totals[i], biomass[i], by_ton[i], _reached(p)]
        for i, (name, p) in enumerate(zip("AB", shown.pair, strict=True))
    ]
    heads = [
        Column("plan", left=True),
        *_fed_heads(mass),
        Column("cost", cost),
        Column("biomass", mass),
        Column(f"cost of\na {ton(system)}"),
        Column("falls at\ntarget"),
    ]
    return (
        f"Two plans side by side, for {an_area(system)}:\n\n{table(columns, rows)}\n\n"
        f"{table(heads, below)}\n\nB makes {more} {mass} of biomass beside A."
    )


def _fed_heads(mass: str) -> list[Column]:
    return [
        Column("sown", left=True),
        Column("seed", mass),
        Column("N", mass),
        Column("nitrogen", left=True),
        Column("ended", left=True),
    ]


def _fed(standing: Standing, system: units.System) -> list[str]:
    """Spell what is done in a plan, a cell for each of `_fed_heads`."""
    plan = standing.plan
    return [
        wording.dates_in(plan.sow),
        number(plan.seeding, "mass", system),
        number(plan.nitrogen, "nitrogen", system),
        wording.dates_in(plan.timing) if plan.nitrogen else NOTHING,
        wording.dates_in(plan.end),
    ]


def _reached(plan: Standing) -> str:
    return f"{plan.reached} of {len(plan.biomass)}"


def _percents(interval: tuple[float, float]) -> str:
    low, high = (100 * end for end in interval)
    return f"{low:.0f}-{high:.0f}"


def _frontier(shown: Shown, system: units.System) -> str:
    area, mass = BASIS[system][0], units.label("mass", system)
    columns = [
        *_fed_heads(mass),
        Column("cost", f"{shown.sign}/{area}"),
        Column("falls at\ntarget"),
        Column("chance", "%"),
        Column("biomass", mass),
        Column(f"cost of\na {ton(system)}"),
    ]
    rows = [
        [
            *_fed(s, system),
            f"{s.budget.total:,}",
            _reached(s),
            _percents(s.interval),
            over_falls(np.array(s.biomass), "mass", system),
            money(per_ton(s.budget.total, s.mean, system), shown.sign),
        ]
        for s in shown.frontier
    ]
    return (
        f"Of {len(shown.plans)} plans, those that none beats in both cost and chance of "
        f"{units.spell(shown.target, 'mass', system)}\n(the chance is a 95 percent interval, "
        f"for so few falls):\n\n{table(columns, rows)}"
    )


def _next_units(shown: Shown, system: units.System) -> str:
    mass = BASIS[system][1]
    columns = [
        Column(f"one more {mass} of", left=True),
        Column("at", units.label("mass", system)),
        Column("brings", mass),
        Column("costs", shown.sign),
        Column(f"pays where a {ton(system)}\nis worth more than"),
        Column("curve", left=True),
    ]
    rows = [
        [
            n.name,
            number(n.rate, "mass", system),
            f"{n.slope:.1f}" if np.isfinite(n.slope) else NOTHING,
            money(n.price, ""),
            money(n.value_needed(system), shown.sign),
            n.choice.curve.form if n.choice.curve else "too few rates",
        ]
        for n in shown.next_units
    ]
    return f"One more of each, from plan A:\n\n{table(columns, rows)}"


def _swings(shown: Shown, system: units.System) -> str:
    percent = f"{100 * SWING:.0f} %"
    columns = [
        Column("price of", left=True),
        Column(f"A with it\n{percent} lower"),
        Column(f"A with it\n{percent} higher"),
        Column("cheapest plan", left=True),
    ]
    rows = [
        [
            s.name,
            money(s.totals[0], shown.sign),
            money(s.totals[1], shown.sign),
            _same(s, shown.best, system),
        ]
        for s in shown.swings
    ]
    return f"If one price differs:\n\n{table(columns, rows)}"


def switched(swing: Swing, best: Standing | None) -> dict[str, Standing]:
    """Return the plan that becomes cheapest when a price falls or rises, where it is another."""
    return {
        side: plan
        for side, plan in zip(("lower", "higher"), swing.cheapest, strict=True)
        if plan is not None and best is not None and plan.plan != best.plan
    }


def _same(swing: Swing, best: Standing | None, system: units.System) -> str:
    if best is None:
        return "none reaches the target"
    others = switched(swing, best)
    return "; ".join(f"{side}: {describe(p.plan, system)}" for side, p in others.items()) or "same"
