"""What the plan costs at the reader's prices, and the pinned one beside it."""

from __future__ import annotations

from typing import Any

from simulator import units
from simulator.answers.budget.calculate import Bought, Standing, per_ton, stand
from simulator.answers.budget.table import an_area, money, ton
from simulator.answers.season.panels import PINNED
from simulator.page import own_prices
from simulator.page.answers import Answered
from simulator.page.sown import Sown


def bought(plan: Sown, endings: tuple[str, ...]) -> Bought:
    """Return what a plan buys."""
    return Bought(
        cereal=plan.cereal,
        fertilizer=plan.fertilizer,
        sow=plan.sow,
        seeding=plan.seeding_kg_ha,
        nitrogen=plan.nitrogen_kg_ha,
        timing=plan.nitrogen_timing,
        end=plan.end,
        endings=endings,
    )


def standings(found: Answered, system: units.System) -> dict[str, Standing]:
    """Return the budgets of the plan and of the pinned one, beside what each makes."""
    plans = {found.speaks_of: found.asked.plan}
    if found.asked.pinned is not None:
        plans[PINNED] = found.asked.pinned
    return {
        name: stand(
            bought(plan, found.asked.endings),
            found.values(name, "biomass_kg_ha"),
            found.asked.prices,
            system,
            found.asked.target,
        )
        for name, plan in plans.items()
    }


def cost(found: Answered) -> dict[str, Any]:
    """Itemise what the plan costs, at the reader's prices, and set the pinned one beside it."""
    prices, system = found.asked.prices, found.system
    sign = prices.currency
    mine, *others = plans = list(standings(found, system).values())
    by_ton = per_ton(mine.budget.total, mine.mean, system)
    said = f"This plan costs {money(mine.budget.total, sign)} {an_area(system)}"
    if by_ton is not None:
        said += f", {money(by_ton, sign)} for each {_ton(system)} of dry matter"
    said += "."
    for other in others:
        gap = mine.budget.total - other.budget.total
        differs = f"{money(abs(gap), sign)} {'less' if gap > 0 else 'more'}" if gap else "as much"
        said += f" The pinned plan costs {differs}."
    names = dict.fromkeys(item.name for one in plans for item in one.budget.items)
    rows = [[name, *(money(one.budget.cost_of(name), sign) for one in plans)] for name in names]
    rows.append(["total", *(money(one.budget.total, sign) for one in plans)])
    used = own_prices.fields_of(plans)
    return {
        "said": said,
        "rows": rows,
        "caution": own_prices.price_caution(used, prices),
        "prices": own_prices.described(used, prices, system),
    }


def _ton(system: units.System) -> str:
    return "tonne" if system == "si" else ton(system)
