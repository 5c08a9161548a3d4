"""What bare soil leaches in the falls of a risk, held against the limit for drinking water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.risk.calculate import Risk
from simulator.answers.risk.chance import NITRATE_LIMIT
from simulator.answers.risk.data import OUTER
from simulator.answers.shared.bare_soil import (
    bare_drained,
    bare_leached,
    bare_sentence,
    has_bare,
    leached_less,
    less_sentences,
    untried,
)


@dataclass(frozen=True, slots=True)
class BareSoil:
    """Bare soil to one end, over all falls.

    Parameters
    ----------
    end : str
    leached : float
        Mean nitrate nitrogen [kg/ha].
    drained : float
        Mean drainage [mm].
    above_limit : float
        Share of falls whose drainage is above the limit for drinking water [percent].
    """

    end: str
    leached: float
    drained: float
    above_limit: float

    @property
    def strength(self) -> float:
        """Nitrate nitrogen in drainage, flow-weighted mean [mg/L]; NaN where nothing drains."""
        return 100.0 * self.leached / self.drained if self.drained > 0.0 else float("nan")

    def row(self) -> dict[str, Any]:
        """Return it as a row for JSON, SI."""
        return {
            "end": self.end,
            "bare_nitrate_leached_kg_ha": self.leached,
            "bare_drainage_mm": self.drained,
            "bare_nitrate_concentration_mg_l": self.strength,
            "bare_above_limit_percent": self.above_limit,
        }


def bare_soil(one: Risk, end: str) -> BareSoil | None:
    """Work out bare soil to an end; None where the falls have none, or the end is no date."""
    if not has_bare(one.grid):
        return None
    leached = bare_leached(one.grid, end)
    drained = bare_drained(one.grid, end)
    known = np.isfinite(leached)
    if not known.any():
        return None
    leached, drained = leached[known], drained[known]
    strong = 100.0 * leached > NITRATE_LIMIT * drained
    return BareSoil(end, float(leached.mean()), float(drained.mean()), 100.0 * strong.mean())


def json_rows(places: list[Risk]) -> dict[str, list[dict[str, Any]]]:
    """Return what bare soil leaches, and what plans leach less, as rows of each place."""
    bare, less = [], []
    for one in places:
        ends = [bare_soil(one, str(end)) for end in one.grid["end"].values]
        bare += [{"site": one.site, **row.row()} for row in ends if row is not None]
        less += [{"site": one.site, **row.row()} for row in leached_less(one.grid)]
    return {"bare_soil": bare, "less_than_bare_soil": less}


def sentences(one: Risk, rate: float, system: units.System) -> list[str]:
    """Say what bare soil leaches, and what plans with a nitrogen rate leach less than it."""
    grid = one.grid.isel({name: [0] for name in OUTER})
    bare = bare_soil(one, str(grid["end"].values[0]))
    if bare is None:
        return []
    strength = (
        f" Its drainage carries {bare.strength:.0f} mg/L, above the limit in "
        f"{bare.above_limit:.0f} percent of falls."
        if np.isfinite(bare.strength)
        else ""
    )
    less = less_sentences(leached_less(grid.sel(nitrogen=[rate])), system)
    return [f"{bare_sentence(grid, system)}{strength}", *less, untried(grid.attrs)]
