"""What would mend it: the obvious changes of a plan, grown in the weather that is asked for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.budget.calculate import itemise
from simulator.answers.budget.table import an_area, money
from simulator.answers.season.panels import CHANGED, RECORDED
from simulator.answers.shared.few_falls import FEWEST
from simulator.answers.shared.field_ranges import difference_ranges, gain_ranges, in_a_field
from simulator.page.answers import ALIKE, Answered
from simulator.page.bench.headline import enough_in
from simulator.page.controls import DATES, RANGES
from simulator.page.costs import bought
from simulator.page.growing import Array, grow_falls
from simulator.page.question import read_question
from simulator.page.sown import Sown
from simulator.problems import InputError
from simulator.season.plan import ANY_YEAR, day_number, month_day_of
from simulator.show import wording

LATE_WINTER = "02-15"  # to which nitrogen is held; common practice, no source
EARLIER = (14, 28)  # days that it may be sown before the plan's date
LATER = 14  # days that it may be ended after it
MORE = 30  # lb/acre or kg/ha of nitrogen


@dataclass(frozen=True, slots=True)
class Remedy:
    """One change of the plan, and what it makes.

    Parameters
    ----------
    action : str
        What to do.
    asks : dict of str to str
        The parts of the plan that differ, as a link has them.
    made : array (fall,)
        Biomass at the end [kg/ha].
    before : array (fall,)
        The plan's own.
    every : array (fall,)
        Of all falls, where one is asked for.
    later : int
        Days that it stands longer.
    cost : str
        How its cost differs; empty where it costs as much.
    """

    action: str
    asks: dict[str, str]
    made: Array
    before: Array
    every: Array
    later: int
    cost: str

    @property
    def gain(self) -> float:
        """What it makes more, as a mean [kg/ha]."""
        return float(np.nanmean(self.made - self.before))


def remedies(found: Answered) -> dict[str, Any]:
    """Try the obvious remedies of the plan in the weather that the answer speaks of.

    Returns
    -------
    dict
        ``said``, which helps most; ``rows``, best first, each with ``told``, ``makes``,
        ``enough``, ``cost`` and ``asks``, the parts of the plan that it changes.
    """
    tried = sorted(_grown_remedies(found), key=lambda remedy: -remedy.gain)
    rows = [
        {
            "told": remedy.action,
            "makes": _biomass_text(remedy, found),
            "enough": _enough_text(remedy, found),
            "cost": remedy.cost or "as much",
            "asks": remedy.asks,
        }
        for remedy in tried
    ]
    return {"said": _best_remedy_sentence(tried, found), "rows": rows}


def _grown_remedies(found: Answered) -> Iterator[Remedy]:
    """Grow each remedy that the plan has room for."""
    asked, grown = found.asked, found.spoken
    mine = itemise(bought(asked.plan, asked.endings), asked.prices, found.system).total
    for action, parts, later in _changes(asked.plan, found.system):
        try:
            plan = read_question(replace(asked, plan=replace(asked.plan, **parts)).query()).plan
            changes = asked.changes if found.speaks_of == CHANGED else ()
            other = grow_falls(found.place, plan, changes, daily=False)
        except InputError:  # a soil test after its sowing, a fall that is not whole so long
            continue
        if other.years != grown.years:
            continue
        every = other.biomass()
        at = slice(None) if asked.year is None else [other.at(asked.year)]
        gap = itemise(bought(plan, asked.endings), asked.prices, found.system).total - mine
        way = "more" if gap > 0 else "less"
        dearer = f"{money(abs(gap), asked.prices.currency)} {way} {an_area(found.system)}"
        yield Remedy(
            action=action,
            asks={name.replace("_", "-"): text for name, text in parts.items()},
            made=every[at],
            before=grown.biomass()[at],
            every=every,
            later=later,
            cost=dearer if gap else "",
        )


def _changes(plan: Sown, system: units.System) -> Iterator[tuple[str, dict[str, str], int]]:
    """Yield what to do, the parts of the plan that differ, and how much longer it stands."""
    sow, end = (day_number(ANY_YEAR, date) for date in (plan.sow, plan.end))
    late = wording.dates_in(LATE_WINTER)
    room = sow < day_number(ANY_YEAR, LATE_WINTER) < end
    if room and plan.nitrogen_kg_ha > 0.0 and plan.nitrogen_timing != LATE_WINTER:
        all_of = "all of " if "+" in plan.nitrogen_timing else ""
        yield f"Hold {all_of}the nitrogen until {late}", {"nitrogen_timing": LATE_WINTER}, 0
    for days in EARLIER:
        if sow - days >= day_number(ANY_YEAR, DATES["sow"][0]):
            date = month_day_of(ANY_YEAR, sow - days)
            yield f"Sow on {wording.dates_in(date)}", {"sow": date}, 0
    low, high, _, unit = RANGES[system]["nitrogen"]
    rate = round(float(units.show(plan.nitrogen_kg_ha, "nitrogen", system))) + MORE
    label = units.label("nitrogen", system)
    given = {"nitrogen": f"{rate} {unit}"}
    if rate == MORE and room:
        action = f"Give {rate} {label} of nitrogen on {late}"
        yield action, {**given, "nitrogen_timing": LATE_WINTER}, 0
    elif low < rate <= high:
        yield f"Give {MORE} {label} more nitrogen", given, 0
    if end + LATER <= day_number(ANY_YEAR, DATES["end"][1]):
        date = month_day_of(ANY_YEAR, end + LATER)
        yield f"End it on {wording.dates_in(date)}", {"end": date}, LATER


def _biomass_text(remedy: Remedy, found: Answered) -> str:
    mean = found.mass(float(np.nanmean(remedy.made)))
    gap = found.mass(abs(remedy.gain))
    if abs(remedy.gain) < ALIKE:
        return f"{mean}, about as much"
    return f"{mean}, {gap} {'more' if remedy.gain > 0 else 'less'}"


def _enough_text(remedy: Remedy, found: Answered) -> str:
    falls = int(np.isfinite(remedy.every).sum())
    return f"{enough_in(remedy.every, found.asked.target)} of {falls} falls"


def _best_remedy_sentence(tried: list[Remedy], found: Answered) -> str:
    """Say which remedy helps most, how much of a loss it makes up, and whether it can be told."""
    if not tried or tried[0].gain < ALIKE:
        return "None of the usual changes of the plan makes more."
    best = tried[0]
    said = f"{best.action}: {_biomass_text(best, found)}"
    lost = found.one(RECORDED, "biomass_kg_ha") - found.one(found.speaks_of, "biomass_kg_ha")
    if lost > ALIKE:
        share = 100 * best.gain / lost
        said += f", {share:.0f} % of what is lost" if share < 100 else ", more than is lost"
    before = found.spoken.biomass()
    if np.isfinite(before).sum() >= FEWEST and found.asked.year is None:
        count, now = (enough_in(made, found.asked.target) for made in (before, best.every))
        before_it = f"not {count}" if count != now else "as before"
        said += f"; enough in {_enough_text(best, found)}, {before_it}"
    gains = best.made - best.before
    ranges = gain_ranges(gains, best.later) if best.later else difference_ranges(gains)
    if ranges.is_clear:
        return f"{said}."
    surely = in_a_field(ranges, found.system, unclear="whether it gains").replace("-", "−")
    return f"{said}. {surely}"
