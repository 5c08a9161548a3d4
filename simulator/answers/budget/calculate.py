"""What a cover crop costs: itemised, by the ton, against another plan, and to reach a target.

Money is Decimal and exact to the cent: each item is rounded once, to the cent, and totals are
sums of rounded items, so that what is printed adds up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Literal

import numpy as np

from simulator import units
from simulator.answers.shared.few_falls import wilson
from simulator.answers.shared.field_ranges import Ranges, biomass_ranges, difference_ranges
from simulator.parameters.model_error import LEVEL, RESPONSE, ModelError
from simulator.parameters.price import Mass, cents
from simulator.parameters.prices import Prices
from simulator.season.plan import dressings

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

ENDINGS = ("spraying", "rolling", "mowing", "tillage")  # work that ends a stand

# the reader's system -> area of the budget, unit of what is bought, unit of biomass
BASIS: dict[units.System, tuple[Literal["acre", "ha"], Mass, Mass]] = {
    "us": ("acre", "lb", "ton"),
    "si": ("ha", "kg", "Mg"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Bought:
    """A plan as far as it costs money.

    Parameters
    ----------
    cereal, fertilizer : str
    sow : str
        Sowing date, MM-DD.
    seeding, nitrogen : float
        Rates [kg/ha].
    timing, end : str
        As `simulator.season.plan` reads them.
    endings : tuple of str
        Work that ends the stand, of `ENDINGS`; spraying takes herbicide too.
    irrigation : str
        As a record has it; water has no price.
    """

    cereal: str
    fertilizer: str
    sow: str
    seeding: float
    nitrogen: float
    timing: str
    end: str
    endings: tuple[str, ...]
    irrigation: str = ""


@dataclass(frozen=True, slots=True)
class Item:
    """One line of a budget.

    Parameters
    ----------
    name : str
    amount : Decimal
        By area: mass bought, or how many times over the field.
    unit : str
        Of the amount: ``lb``, ``kg``, or empty for times.
    price : Decimal
        By that unit, not rounded.
    """

    name: str
    amount: Decimal
    unit: str
    price: Decimal

    @property
    def cost(self) -> Decimal:
        """By area, to the cent."""
        return cents(self.amount * self.price)


@dataclass(frozen=True, slots=True)
class Budget:
    """All that a plan costs by area.

    Parameters
    ----------
    items : tuple of Item
    area : {"acre", "ha"}
    """

    items: tuple[Item, ...]
    area: str

    @property
    def total(self) -> Decimal:
        """Sum of the items as printed."""
        return sum((item.cost for item in self.items), Decimal("0.00"))

    def cost_of(self, name: str) -> Decimal:
        """Return what an item costs; nothing where the plan has none."""
        return sum((i.cost for i in self.items if i.name == name), Decimal("0.00"))


def amount_of(rate: float, system: units.System) -> Decimal:
    """Turn a rate [kg/ha] into the reader's unit, without the float's last digits."""
    return Decimal(str(round(float(units.show(rate, "mass", system)), 6)))


def itemise(plan: Bought, prices: Prices, system: units.System) -> Budget:
    """Work out the budget of a plan.

    Parameters
    ----------
    plan : Bought
    prices : Prices
    system : {"us", "si"}
        By the acre and pound, or by the hectare and kilogram.

    Returns
    -------
    Budget
        Items in the order of the season, those that the plan does not need left out. Nitrogen
        is spread once for each dressing.
    """
    area, mass, _ = BASIS[system]
    one = Decimal(1)
    items = [
        Item("seed", amount_of(plan.seeding, system), mass, prices.seed[plan.cereal].by(mass)),
        Item("sowing", one, "", prices.work["sowing"].by(area)),
    ]
    if plan.nitrogen > 0:
        trips = Decimal(len([d for d in dressings(plan.timing) if d.share > 0]))
        items += [
            Item(
                "nitrogen",
                amount_of(plan.nitrogen, system),
                mass,
                prices.nitrogen[plan.fertilizer].by(mass),
            ),
            Item("spreading", trips, "", prices.work["spreading"].by(area)),
        ]
    for ending in plan.endings:
        if ending == "spraying":
            items.append(Item("herbicide", one, "", prices.materials["herbicide"].by(area)))
        items.append(Item(ending, one, "", prices.work[ending].by(area)))
    items += [Item(name, one, "", price.by(area)) for name, price in prices.own.items()]
    return Budget(tuple(items), area)


def per_ton(cost: Decimal, biomass: float, system: units.System) -> Decimal | None:
    """Return cost by ton of dry matter, to the cent; None where there is none to speak of.

    Parameters
    ----------
    cost : Decimal
        By the area of the system.
    biomass : float
        [kg/ha].
    system : {"us", "si"}
        Short tons, or Mg.
    """
    tons = tons_by_area(biomass, system)
    return cents(cost / tons) if tons > Decimal("0.01") else None


def tons_by_area(biomass: float, system: units.System) -> Decimal:
    """Turn biomass [kg/ha] into short tons by the acre, or Mg by the hectare."""
    if not np.isfinite(biomass):
        return Decimal(0)
    pounds_or_kilograms = Decimal(str(float(units.show(biomass, "mass", system))))
    return pounds_or_kilograms / (2000 if system == "us" else 1000)


@dataclass(frozen=True, slots=True)
class Standing:
    """A plan with its budget and what it makes.

    Parameters
    ----------
    plan : Bought
    budget : Budget
    biomass : tuple of float
        By fall [kg/ha]; NaN where the end was not reached.
    reached : int
        Falls in which it reaches the target.
    chance : float
        Of the target, weather and field together, 0 to 1: of all falls, those whose end was not
        reached among them.
    ranges : Ranges
        Of biomass [kg/ha].
    """

    plan: Bought
    budget: Budget
    biomass: tuple[float, ...]
    reached: int
    chance: float
    ranges: Ranges

    @property
    def mean(self) -> float:
        """Mean biomass over falls [kg/ha]; NaN where no fall reached the end."""
        known = [value for value in self.biomass if np.isfinite(value)]
        return float(np.mean(known)) if known else float("nan")

    @property
    def percent(self) -> int:
        """The chance as it is printed; plans are compared by it."""
        return round(100.0 * self.chance)

    @property
    def share(self) -> float:
        """Share of all falls in which the target is reached."""
        return self.reached / len(self.biomass)

    @property
    def interval(self) -> tuple[float, float]:
        """Between what shares that of the falls lies, 95 percent, for so few falls."""
        return wilson(self.share, len(self.biomass))


def standings(
    grid: xr.Dataset,
    endings: tuple[str, ...],
    prices: Prices,
    system: units.System,
    target: float,
    error: ModelError = LEVEL,
) -> list[Standing]:
    """Give every plan of a grid its budget and its chance of reaching a target.

    Parameters
    ----------
    grid : Dataset
        From `compare` without changes.
    endings : tuple of str
    prices : Prices
    system : {"us", "si"}
    target : float
        Biomass [kg/ha].
    error : ModelError
        How far off the model is.

    Returns
    -------
    list of Standing
        In the order of the grid, the last dimension fastest. Without nitrogen its timing makes
        no plan of its own: such plans are given once.
    """
    order = ("sow", "seeding", "nitrogen", "nitrogen_timing", "end")
    biomass = grid["biomass_kg_ha"].transpose(*order, "year")
    labels = [grid[name].values.tolist() for name in order]
    found = []
    for place in np.ndindex(biomass.shape[:-1]):
        sow, seeding, nitrogen, timing, end = (labels[axis][i] for axis, i in enumerate(place))
        if nitrogen == 0 and place[3] > 0:
            continue
        plan = Bought(
            cereal=grid.attrs["cereal"],
            fertilizer=grid.attrs["fertilizer"],
            sow=sow,
            seeding=seeding,
            nitrogen=nitrogen,
            timing=timing,
            end=end,
            endings=endings,
            irrigation=str(grid.attrs.get("irrigation", "")),
        )
        found.append(stand(plan, biomass.values[place], prices, system, target, error))
    return found


def stand(
    plan: Bought,
    biomass: NDArray[np.float64],
    prices: Prices,
    system: units.System,
    target: float,
    error: ModelError = LEVEL,
) -> Standing:
    """Put a plan's budget beside its biomass by fall [kg/ha] and its chance of a target."""
    reached = int((biomass >= target - 1e-9).sum())  # NaN reaches nothing
    chance = float(np.nan_to_num(error.chance_of(target, biomass)).mean())
    made = tuple(biomass.tolist())
    ranges = biomass_ranges(biomass, error=error)
    return Standing(plan, itemise(plan, prices, system), made, reached, chance, ranges)


def cheapest(plans: Sequence[Standing], wanted: float) -> Standing | None:
    """Return the cheapest plan whose chance of the target is high enough; None if none is.

    Chances are of weather and field together, and compared as whole percents. Of plans that cost
    the same, the one with the higher chance, then with more biomass.
    """
    able = [plan for plan in plans if plan.percent >= round(100.0 * wanted)]
    return min(able, key=lambda p: (p.budget.total, -p.chance, -p.mean), default=None)


def frontier(plans: Sequence[Standing]) -> list[Standing]:
    """Return the plans to which no other is preferable: none as cheap has a higher chance.

    Chances are compared as whole percents.
    """
    ranked = sorted(plans, key=lambda p: (p.budget.total, -p.percent, -p.chance, -p.mean))
    kept: list[Standing] = []
    for plan in ranked:
        if not kept or plan.percent > kept[-1].percent:
            kept.append(plan)
    return kept


def nearly(plans: Sequence[Standing], best: Standing, within: int) -> Standing | None:
    """Return the plan that has nearly the chance of the best one for less money, if one has.

    Parameters
    ----------
    plans : sequence of Standing
    best : Standing
    within : int
        Percent that its chance may be lower by.
    """
    close = [
        plan
        for plan in plans
        if plan.budget.total < best.budget.total and plan.percent >= best.percent - within
    ]
    return min(close, key=lambda p: (p.budget.total, -p.chance, -p.mean), default=None)


@dataclass(frozen=True, slots=True)
class Partial:
    """What changes when one plan takes the place of another.

    Parameters
    ----------
    added, saved : Decimal
        Costs of items that cost more, and of items that cost less, by area.
    gained : tuple of float
        Biomass more, in falls in which both plans reached their end [kg/ha].
    ranges : Ranges
        Of biomass more.
    """

    added: Decimal
    saved: Decimal
    gained: tuple[float, ...]
    ranges: Ranges

    @property
    def cost(self) -> Decimal:
        """Net cost of the change by area; negative where it saves."""
        return self.added - self.saved

    @property
    def mean_gain(self) -> float:
        """Mean biomass gained [kg/ha]; NaN without a fall to compare."""
        return float(np.mean(self.gained)) if self.gained else float("nan")

    def break_even(self, system: units.System) -> Decimal | None:
        """Value of a ton of biomass at which the change neither gains nor costs.

        None where cost and biomass do not trade: one plan is better in both.
        """
        if not self.gained or self.cost * Decimal(str(round(self.mean_gain, 6))) <= 0:
            return None
        return per_ton(abs(self.cost), abs(self.mean_gain), system)


def partial(one: Standing, other: Standing, error: ModelError = RESPONSE) -> Partial:
    """Compare two plans: the other in place of the one."""
    names = dict.fromkeys(i.name for s in (one, other) for i in s.budget.items)
    changes = [other.budget.cost_of(name) - one.budget.cost_of(name) for name in names]
    gained = np.array(other.biomass) - np.array(one.biomass)
    grow_alike = _grown_alike(one.plan, other.plan)  # the error is of plans that grow otherwise
    return Partial(
        sum((c for c in changes if c > 0), Decimal("0.00")),
        -sum((c for c in changes if c < 0), Decimal("0.00")),
        tuple(gained[np.isfinite(gained)].tolist()),
        Ranges(0.0, 0.0, 0.0, 0.0) if grow_alike else difference_ranges(gained, error),
    )


def _grown_alike(one: Bought, other: Bought) -> bool:
    """Say whether two plans differ in nothing that a stand grows by."""
    same = replace(one, endings=other.endings)
    if one.nitrogen == 0.0:
        same = replace(same, timing=other.timing)
    return same == other
