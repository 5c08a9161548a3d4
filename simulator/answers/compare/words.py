"""What each choice does to biomass, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import units
from simulator.answers.compare.calculate import CHOICES, main_effects
from simulator.show import wording

if TYPE_CHECKING:
    import xarray as xr


def sentences(grid: xr.Dataset, system: units.System) -> list[str]:
    """Say what each choice does to biomass, the weightiest first."""
    texts = []
    for choice, levels in main_effects(grid).items():
        ranked = sorted(levels, key=lambda level: -level[1])
        (best, most), (worst, least) = ranked[0], ranked[-1]
        texts.append(
            f"{CHOICES[choice]}: {_level(choice, best, system)} makes most, "
            f"{units.spell(most, 'mass', system)}, and {_level(choice, worst, system)} least, "
            f"{units.spell(least, 'mass', system)}, as means over all the other choices."
        )
    return texts


def _level(choice: str, level: str | float, system: units.System) -> str:
    if choice in ("seeding", "nitrogen"):
        return units.spell(float(level), "mass", system)
    return wording.dates_in(str(level))
