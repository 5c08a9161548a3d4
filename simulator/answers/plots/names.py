"""Treatments, levels and differences as sentences and tables have them."""

from __future__ import annotations

import numpy as np

from simulator import units
from simulator.show import wording
from simulator.trials.analysis.factors import FERTILIZER, NITROGEN, SEEDING, SOWN, TIMING, Factor
from simulator.trials.analysis.layout import Layout
from simulator.trials.analysis.means import Difference

PLURAL = {
    SOWN: "sowing dates",
    SEEDING: "seeding rates",
    NITROGEN: "nitrogen rates",
    TIMING: "times of nitrogen",
    FERTILIZER: "kinds of fertilizer",
}
SINGLE = {
    SOWN: "sowing date",
    SEEDING: "seeding rate",
    NITROGEN: "nitrogen",
    TIMING: "time of nitrogen",
    FERTILIZER: "kind of fertilizer",
}


def plural(name: str) -> str:
    """Name a treatment's levels: ``"sowing dates"``."""
    return PLURAL.get(name, f"levels of {name}")


def single(name: str) -> str:
    """Name a treatment: ``"sowing date"``."""
    return SINGLE.get(name, name)


def level(factor: Factor, at: int, system: units.System) -> str:
    """Spell a level: ``"Oct 20"``, ``"60 lb/ac"``, ``"no-till"``."""
    value = factor.levels[at]
    if factor.kind == "date":
        return wording.dates_in(value)
    if factor.kind == "rate":
        return units.spell(value, "mass", system)
    return str(value)


def called(factor: Factor, at: int, system: units.System) -> str:
    """Name plots of a level in a sentence: ``"60 lb/ac of nitrogen"``, ``"sown Oct 20"``."""
    label = level(factor, at, system)
    if factor.name == SOWN:
        return f"sowing on {label}"
    if factor.name == NITROGEN:
        return f"{label} of nitrogen" if factor.levels[at] else "none"
    if factor.name == SEEDING:
        return f"{label} of seed"
    if factor.name == TIMING:
        return f"nitrogen in {label}"
    return label if factor.name == FERTILIZER else f"{factor.name} {label}"


def mass(value: float, system: units.System) -> str:
    """Spell an amount with its unit."""
    return units.spell(value, "mass", system)


def bare(value: float, system: units.System, *, sign: bool = False) -> str:
    """Spell an amount without its unit; a dash where there is none."""
    if not np.isfinite(value):
        return "-"
    shown = round(float(units.show(value, "mass", system))) + 0
    return f"{shown:+,.0f}" if sign and shown else f"{shown:,.0f}"


def interval(one: Difference, system: units.System) -> str:
    """Spell an interval: ``"-160 to 240"``."""
    return f"{bare(one.low, system)} to {bare(one.high, system)}"


def chance(p: float) -> str:
    """Spell a p value: ``"p 0.03"``, ``"p < 0.001"``."""
    if not np.isfinite(p):
        return "no p value"
    return "p < 0.001" if p < 0.001 else f"p {p:.3f}" if p < 0.1 else f"p {p:.2f}"


def sure(one: Difference, p: float, system: units.System) -> str:
    """Say how sure a difference is: interval first, p value after."""
    if not np.isfinite(one.error):
        return "no plot is repeated, so nothing says how sure"
    return f"95 percent interval {interval(one, system)}; {chance(p)}"


def curve_name(layout: Layout, sown: int, timing: int, system: units.System) -> str:
    """Name a sowing and time of dressing."""
    parts = []
    if sown >= 0:
        parts.append(f"sown {level(layout.factors[layout.factor(SOWN)], sown, system)}")
    if timing >= 0:
        parts.append(f"nitrogen in {layout.factors[layout.factor(TIMING)].levels[timing]}")
    return ", ".join(parts) or "all plots"
