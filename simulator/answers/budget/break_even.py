"""When one more pound pays, and what a change of prices does to a plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from simulator import units
from simulator.answers.budget.calculate import BASIS, Bought, Standing, cheapest, itemise
from simulator.answers.shared.field_ranges import Ranges
from simulator.answers.shared.one_more_pound import step_ranges
from simulator.answers.shared.response_curves import Choice, choose
from simulator.parameters.model_error import RESPONSE, ModelError
from simulator.parameters.price import Price, cents
from simulator.parameters.prices import Prices

if TYPE_CHECKING:
    import xarray as xr

SWING = Decimal("0.20")  # up and down, of one price at a time


@dataclass(frozen=True, slots=True)
class NextUnit:
    """What one more pound, or kilogram, of an input brings, and when it pays.

    Parameters
    ----------
    name : {"nitrogen", "seed"}
    rate : float
        Of the plan [kg/ha].
    choice : Choice
        The curve of mean biomass on the rate [kg/ha].
    price : Decimal
        By the system's unit of mass.
    ranges : Ranges
        Of what one more brings in a fall, by weight: see `step_ranges`.
    """

    name: str
    rate: float
    choice: Choice
    price: Decimal
    ranges: Ranges

    @property
    def slope(self) -> float:
        """Biomass for one more of the input, by weight; NaN without a curve."""
        curve = self.choice.curve
        return curve.slope_at(self.rate) if curve is not None else float("nan")

    def value_needed(self, system: units.System) -> Decimal | None:
        """Value of a ton of biomass above which one more pays; None where it brings nothing."""
        if not self.slope > 1e-6:
            return None
        by_ton = 2000 if system == "us" else 1000  # of the price's unit of mass
        return cents(self.price * by_ton / Decimal(str(self.slope)))

    def pays_up_to(self, value: Price, system: units.System) -> float:
        """Return the rate up to which one more pays at a value of biomass [kg/ha].

        The highest rate tried where it pays there still; the lowest where it never does; NaN
        without a curve.
        """
        curve = self.choice.curve
        if curve is None:
            return float("nan")
        needed = float(self.price / value.by(BASIS[system][1])) if value.amount else np.inf
        tried = np.linspace(curve.lowest, curve.highest, 2001)
        pays = [rate for rate in tried.tolist() if curve.slope_at(rate) >= needed]
        return max(pays, default=curve.lowest)


def next_unit(
    name: Literal["nitrogen", "seed"],
    grid: xr.Dataset,
    plan: Bought,
    prices: Prices,
    system: units.System,
    error: ModelError = RESPONSE,
) -> NextUnit:
    """Fit biomass to the rates of one input, all else as in the plan.

    Parameters
    ----------
    name : {"nitrogen", "seed"}
    grid : Dataset
        From `compare`, many rates of that input and one of everything else.
    plan : Bought
    prices : Prices
    system : {"us", "si"}
    error : ModelError
        How far off differences are.
    """
    dimension = "nitrogen" if name == "nitrogen" else "seeding"
    biomass = grid["biomass_kg_ha"].squeeze([d for d in grid.dims if d not in ("year", dimension)])
    whole = biomass.where(biomass.notnull().all(dimension)).transpose("year", dimension)
    rates, means = grid[dimension].values, whole.mean("year")
    mass = BASIS[system][1]
    price = prices.nitrogen[plan.fertilizer] if name == "nitrogen" else prices.seed[plan.cereal]
    rate = plan.nitrogen if name == "nitrogen" else plan.seeding
    return NextUnit(
        name,
        rate,
        choose(rates.tolist(), means.values.tolist()),
        price.by(mass),
        step_ranges(rates, whole.values, rate, error),
    )


@dataclass(frozen=True, slots=True)
class Swing:
    """What one price, a fifth lower and a fifth higher, does.

    Parameters
    ----------
    name : str
        The item.
    totals : (Decimal, Decimal)
        Of the plan, with the lower and the higher price.
    cheapest : (Standing or None, Standing or None)
        The cheapest plan that reaches the target, likewise.
    """

    name: str
    totals: tuple[Decimal, Decimal]
    cheapest: tuple[Standing | None, Standing | None]


def swings(
    one: Standing, plans: Sequence[Standing], prices: Prices, system: units.System, wanted: float
) -> list[Swing]:
    """Vary each price of a plan by a fifth, one at a time.

    Parameters
    ----------
    one : Standing
        The plan whose total is shown.
    plans : sequence of Standing
        From which the cheapest is chosen.
    prices : Prices
    system : {"us", "si"}
    wanted : float
        Chance, 0 to 1.

    Returns
    -------
    list of Swing
        The item that moves the plan's total most comes first.
    """
    found = []
    for item in one.budget.items:
        sides = []
        for factor in (1 - SWING, 1 + SWING):
            changed = with_price(prices, item.name, factor)
            again = [replace(p, budget=itemise(p.plan, changed, system)) for p in plans]
            sides.append((itemise(one.plan, changed, system).total, cheapest(again, wanted)))
        (low, cheap_low), (high, cheap_high) = sides
        found.append(Swing(item.name, (low, high), (cheap_low, cheap_high)))
    # a payment a fifth lower leaves more to pay
    return sorted(found, key=lambda swing: -abs(swing.totals[1] - swing.totals[0]))


def with_price(prices: Prices, item: str, factor: Decimal) -> Prices:
    """Return prices in which one item costs a factor as much, every kind of it."""
    if item in ("seed", "nitrogen"):
        kinds: dict[str, Price] = dict(getattr(prices, item))
        changed: dict[str, Any] = {item: {k: p.scaled(factor) for k, p in kinds.items()}}
        return replace(prices, **changed)
    for section in ("work", "materials", "own"):
        kinds = dict(getattr(prices, section))
        if item in kinds:
            changed = {section: {**kinds, item: kinds[item].scaled(factor)}}
            return replace(prices, **changed)
    raise KeyError(item)
