"""How budgets look: itemised tables, plans that reach the target, prices that matter."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

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
from simulator.answers.shared.bare_soil import NAME, Beside
from simulator.answers.shared.field_ranges import Ranges, meaning, range_cells, range_columns
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.parameters.price import Price, cents
from simulator.parameters.price_origin import whose_prices
from simulator.parameters.prices import Prices
from simulator.show import wording
from simulator.show.tables import (
    NOTHING,
    Column,
    difference,
    number,
    paragraph,
    plain_number,
    table,
)

WRAPPED = 50  # letters of a plan in a cell


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """All that the answer shows.

    Parameters
    ----------
    prices : Prices
    pair : (Standing, Standing)
        Two plans side by side.
    plans : list of Standing
        From which the cheapest is chosen, those of the pair among them.
    best : Standing or None
        The cheapest whose chance of the target is as wanted.
    frontier : list of Standing
    next_units : list of NextUnit
        Of nitrogen and of seed, for the first plan of the pair.
    swings : list of Swing
        For the first plan of the pair.
    target, wanted : float
        Biomass [kg/ha] and chance, 0 to 1.
    value : Price or None
        What a ton of biomass is worth, if the user says so.
    errors : ModelErrors
        How far off the model is.
    kept : mapping of Bought to Beside
        What plans leach beside bare soil; those that stand beside none are not in it.
    about : mapping
        Attributes of the grid, which say what bare soil is.
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
    errors: ModelErrors = SHIPPED
    kept: Mapping[Bought, Beside] = field(default_factory=dict)
    about: Mapping[str, Any] = field(default_factory=dict)

    @property
    def change(self) -> Partial:
        """What the second plan in place of the first changes."""
        return partial(*self.pair, self.errors.response)

    @property
    def nearest(self) -> Standing:
        """The plan with the highest chance of the target, the cheapest of those."""
        return min(self.plans, key=lambda p: (-p.percent, p.budget.total, -p.chance))

    @property
    def named(self) -> dict[str, Standing]:
        """Plans that are shown by themselves: A, B, and the winning one where it is another.

        That is the cheapest whose chance is high enough, or where none is so sure the nearest.
        """
        found = dict(zip("AB", self.pair, strict=True))
        winning = self.best or self.nearest
        if winning.plan not in (p.plan for p in self.pair):
            found["nearest" if self.best is None else "cheapest"] = winning
        return found

    def called(self, name: str) -> str:
        """Name one of `named`, and say so where A or B wins: ``"A, the cheapest"``."""
        winning = self.best or self.nearest
        if name in "AB" and self.named[name].plan == winning.plan:
            return f"{name}, the {'nearest' if self.best is None else 'cheapest'}"
        return name

    @property
    def whose(self) -> str:
        """Whose the prices are that these plans cost by."""
        one = self.pair[0].plan
        names = dict.fromkeys(i.name for p in (*self.pair, *self.plans) for i in p.budget.items)
        return whose_prices(self.prices, list(names), cereal=one.cereal, fertilizer=one.fertilizer)

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
    """Spell a plan: ``"Oct 20, 90 lb/ac of seed, no nitrogen, ended on Apr 15"``."""
    text = f"{wording.dates_in(plan.sow)}, {units.spell(plan.seeding, 'mass', system)} of seed, "
    if plan.nitrogen == 0:
        text += "no nitrogen"
    else:
        rate = units.spell(plan.nitrogen, "nitrogen", system)
        text += f"{rate} of nitrogen {wording.timing(plan.timing)}"
    return f"{text}, ended {wording.ending(plan.end)}"


def beside(plan: Bought, other: Bought, system: units.System) -> str:
    """Spell a plan, and by what it is ended where the other is ended by other work."""
    text = describe(plan, system)
    if plan.endings == other.endings:
        return text
    return f"{text} by {wording.join(plan.endings) if plan.endings else 'nothing'}"


def an_area(system: units.System) -> str:
    """Name the area of a budget as a sentence has it."""
    return {"us": "an acre", "si": "a hectare"}[system]


def ton(system: units.System) -> str:
    """Name the ton of the system."""
    return {"us": "ton", "si": "tonne"}[system]


def tables(shown: Shown, system: units.System) -> list[str]:
    """Print the two budgets, the plans that reach the target, one more pound, and prices."""
    source = shown.prices.path or "the packaged prices"
    from simulator.answers.budget import bare_soil  # which is laid out with this module

    ton_of = "2,000 lb" if system == "us" else "1,000 kg"
    return [
        _plans_table(shown, system),
        _items_table(shown, system),
        *bare_soil.tables(shown, system),
        _frontier_table(shown, system),
        _next_units_table(shown, system),
        _swings_table(shown, system),
        paragraph(
            f"Prices: {source}: {shown.whose}. Each item is rounded to the cent and totals are "
            f"sums of rounded items. A {ton(system)} is {ton_of} of dry matter. "
            f"{meaning(len(shown.pair[0].biomass))}"
        ),
    ]


def _basis(item: Item, sign: str) -> str:
    """Spell how an item's cost comes about: ``"90 lb at $0.20"``, ``"2 x $5.00"``."""
    amount = f"{item.amount.normalize():,f}" if item.unit else f"{item.amount:f}"
    if item.unit:
        amount = f"{item.amount:,.1f}".removesuffix(".0")
        return f"{amount} {item.unit} at {money(item.price, sign)}"
    return "" if item.amount == 1 else f"{amount} x {money(item.price, sign)}"


def _plans_table(shown: Shown, system: units.System) -> str:
    """Print what A, B and the winning plan cost and make."""
    mass = units.label("biomass", system)
    columns = [
        Column("plan", left=True),
        Column("cost", f"{shown.sign}/{BASIS[system][0]}"),
        Column("chance of\nthe target", "%"),
        Column("falls at\ntarget"),
        Column("biomass", mass),
        *range_columns(mass),
        Column(f"cost of\na {ton(system)}"),
    ]
    named = shown.named
    rows = [
        [
            name,
            f"{p.budget.total:,}",
            str(p.percent),
            _falls_reached(p),
            number(p.mean, "biomass", system),
            *range_cells(p.ranges, "biomass", system),
            money(per_ton(p.budget.total, p.mean, system), shown.sign),
        ]
        for name, p in named.items()
    ]
    change, (one, other) = shown.change, shown.pair
    less = [
        "B less A",
        f"{change.cost:+,}" if change.cost else "0.00",
        "",
        "",
        gap(one, other, change, system),
        *range_cells(change.ranges, "biomass", system, sign=True),
        "",
    ]
    rows.insert(2, less)
    if shown.kept:
        falls = len(shown.pair[0].biomass)
        rows.append([NAME, "0.00", "0", f"0 of {falls}", "0", *3 * [NOTHING]])
    described = [
        paragraph(beside(p.plan, one.plan, system), first=f"  {shown.called(name)}: ")
        for name, p in named.items()
    ]
    goal = units.spell(shown.target, "biomass", system)
    title = f"Plans for {an_area(system)}, and {goal} as the target:"
    return "\n".join([title, *described, "", table(columns, rows)])


def gap(one: Standing, other: Standing, change: Partial, system: units.System) -> str:
    """Print what B makes more than A: as the two means print, where they are of all falls."""
    if len(change.gained) == len(one.biomass) == len(other.biomass):
        return difference(one.mean, other.mean, "biomass", system)
    return number(change.mean_gain, "biomass", system, sign=True)


def _items_table(shown: Shown, system: units.System) -> str:
    one, other = shown.pair
    names = list(dict.fromkeys(i.name for s in shown.pair for i in s.budget.items))
    cost = f"{shown.sign}/{BASIS[system][0]}"
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
            cells += ["", NOTHING] if item is None else [_basis(item, shown.sign), f"{item.cost:,}"]
        more = other.budget.cost_of(name) - one.budget.cost_of(name)
        rows.append([name, *cells, f"{more:+,}" if more else "0.00"])
    totals = [f"{plan.budget.total:,}" for plan in shown.pair]
    more = other.budget.total - one.budget.total
    rows.append(["total", "", totals[0], "", totals[1], f"{more:+,}" if more else "0.00"])
    return f"A and B item by item:\n\n{table(columns, rows)}"


def _falls_reached(plan: Standing) -> str:
    return f"{plan.reached} of {len(plan.biomass)}"


def _frontier_table(shown: Shown, system: units.System) -> str:
    area, mass = BASIS[system][0], units.label("mass", system)
    letters = {p.plan: name for name, p in zip("BA", reversed(shown.pair), strict=True)}
    ends_differ = len({p.plan.end for p in shown.frontier}) > 1
    columns = [
        Column(" ", left=True),
        Column("sown", left=True),
        Column("seed", mass),
        Column("N", mass),
        Column("nitrogen", left=True),
        *([Column("ended", left=True)] if ends_differ else []),
        Column("cost", f"{shown.sign}/{area}"),
        Column("chance", "%"),
        Column("falls at\ntarget"),
        *range_columns(mass),
    ]
    rows = [
        [
            letters.get(s.plan, ""),
            wording.dates_in(s.plan.sow),
            number(s.plan.seeding, "mass", system),
            number(s.plan.nitrogen, "nitrogen", system),
            wording.dates_in(s.plan.timing).replace("+ ", "+\n") if s.plan.nitrogen else NOTHING,
            *([wording.dates_in(s.plan.end)] if ends_differ else []),
            f"{s.budget.total:,}",
            str(s.percent),
            _falls_reached(s),
            *range_cells(s.ranges, "biomass", system),
        ]
        for s in shown.frontier
    ]
    ended = "" if ends_differ else f", ended {wording.ending(shown.frontier[0].plan.end)}"
    title = paragraph(
        f"Of {len(shown.plans)} plans, those that none beats in both cost and chance of "
        f"{units.spell(shown.target, 'biomass', system)}{ended}:"
    )
    return f"{title}\n\n{table(columns, rows)}"


def _next_units_table(shown: Shown, system: units.System) -> str:
    mass = BASIS[system][1]
    columns = [
        Column(f"one more {mass} of", left=True),
        Column("at", units.label("mass", system)),
        Column("brings", mass),
        *range_columns(mass),
        Column("costs", shown.sign),
        Column(f"pays where a {ton(system)}\nis worth more than"),
    ]
    rows = [
        [
            n.name,
            number(n.rate, "mass", system),
            plain_number(n.slope),
            *_range_cells_by_weight(n.ranges),
            money(n.price, ""),
            money(n.value_needed(system), shown.sign) if n.ranges.is_clear else "cannot be told",
        ]
        for n in shown.next_units
    ]
    return f"One more of each, from plan A:\n\n{table(columns, rows)}"


def _range_cells_by_weight(ranges: Ranges) -> list[str]:
    """Print both ranges of biomass for one more by weight, which is alike in all units."""
    return [
        _range_text(ranges.weather_low, ranges.weather_high),
        _range_text(ranges.low, ranges.high),
    ]


def _range_text(low: float, high: float) -> str:
    if not np.isfinite([low, high]).all():
        return NOTHING
    return f"{round(low)} to {round(high)}"


def _swings_table(shown: Shown, system: units.System) -> str:
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
            _switched_text(s, shown.best, system),
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


def _switched_text(swing: Swing, best: Standing | None, system: units.System) -> str:
    if best is None:
        return "none has that chance"
    others = switched(swing, best)
    lines = [
        textwrap.fill(f"{side}: {describe(p.plan, system)}", WRAPPED) for side, p in others.items()
    ]
    return "\n".join(lines) or "same"
