"""Which of a grower's choices matters most, each taken over all the others."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.shared.field_ranges import Ranges, difference_ranges
from simulator.parameters.model_error import SHIPPED, ModelErrors

if TYPE_CHECKING:
    import xarray as xr

CHOICES = {
    "variety": "Variety",
    "sow": "Sowing date",
    "seeding": "Seeding rate",
    "nitrogen": "Nitrogen rate",
    "nitrogen_timing": "Time of nitrogen",
    "end": "End of the stand",
}


def main_effects(grid: xr.Dataset) -> dict[str, list[tuple[str | float, float]]]:
    """Mean biomass at each level of each choice that was varied.

    Parameters
    ----------
    grid : Dataset
        From `compare`.

    Returns
    -------
    dict of str to list of (level, biomass [kg/ha])
        The choice with the widest range first; each mean is over falls and all other choices.
        Timings are compared on the rates above the lowest, for without nitrogen they are one.
    """
    found: dict[str, list[tuple[str | float, float]]] = {}
    for choice in CHOICES:
        if choice not in grid.dims or grid.sizes[choice] < 2:
            continue
        subset = grid
        if choice == "nitrogen_timing" and grid.sizes["nitrogen"] > 1:
            subset = grid.sel(nitrogen=grid["nitrogen"] > grid["nitrogen"].min())
        others = [dimension for dimension in subset.dims if dimension != choice]
        means = subset["biomass_kg_ha"].mean(others).values
        found[choice] = list(zip(grid[choice].values.tolist(), means.tolist(), strict=True))
    return dict(sorted(found.items(), key=lambda item: -range_of(item[1])))


def range_of(levels: list[tuple[str | float, float]]) -> float:
    """Return how far apart the levels of a choice lie [kg/ha]."""
    return float(np.ptp([biomass for _, biomass in levels]))


@dataclass(frozen=True, slots=True)
class Difference:
    """One level of a choice against its first, within the same falls.

    Parameters
    ----------
    choice : str
        As in `CHOICES`.
    first, second : str or float
        Levels; the difference is the second less the first.
    years : tuple of int
        Falls in which both came to their end, with all other choices.
    of_falls : tuple of float
        The difference in each, as a mean over the other choices [kg/ha].
    ranges : Ranges
    """

    choice: str
    first: str | float
    second: str | float
    years: tuple[int, ...]
    of_falls: tuple[float, ...]
    ranges: Ranges

    @property
    def ahead(self) -> int:
        """In how many falls the second makes more."""
        return sum(one > 0.0 for one in self.of_falls)

    @property
    def mean(self) -> float:
        """Mean over falls [kg/ha]."""
        return float(np.mean(self.of_falls))

    def by_kind(self, kinds: Mapping[int, str]) -> dict[str, tuple[int, int]]:
        """Return for each kind of fall in how many the second makes more, and of how many."""
        known = [(kinds[year], one > 0.0) for year, one in self._pairs() if year in kinds]
        falls, ahead = Counter(k for k, _ in known), Counter(k for k, won in known if won)
        return {kind: (ahead[kind], count) for kind, count in falls.items()}

    def _pairs(self) -> list[tuple[int, float]]:
        return list(zip(self.years, self.of_falls, strict=True))

    def row(self) -> dict[str, Any]:
        """Return it as a row for JSON, SI."""
        return {
            "choice": self.choice,
            "first": self.first,
            "second": self.second,
            "falls": len(self.years),
            "falls_ahead": self.ahead,
            "difference_mean_kg_ha": self.mean,
            "difference_low_kg_ha": self.ranges.low,
            "difference_high_kg_ha": self.ranges.high,
            "weather_low_kg_ha": self.ranges.weather_low,
            "weather_high_kg_ha": self.ranges.weather_high,
        }


def differences(grid: xr.Dataset, errors: ModelErrors = SHIPPED) -> list[Difference]:
    """Set each level of each choice that was varied against the first, fall by fall.

    Parameters
    ----------
    grid : Dataset
        From `compare`.
    errors : ModelErrors
        How far off the model is, for the ranges.

    Returns
    -------
    list of Difference
        In the order of `CHOICES` and of the levels; none where no fall has both.
    """
    found = []
    for choice in CHOICES:
        if choice not in grid.dims or grid.sizes[choice] < 2:
            continue
        by_fall = _by_fall(grid, choice)
        levels = by_fall[choice].values.tolist()
        for level in levels[1:]:
            off = by_fall.sel({choice: level}) - by_fall.sel({choice: levels[0]})
            off = off.dropna("year")
            if off.size:
                found.append(
                    Difference(
                        choice,
                        levels[0],
                        level,
                        tuple(off["year"].values.tolist()),
                        tuple(off.values.tolist()),
                        difference_ranges(off.values, errors.response),
                    )
                )
    return found


def _by_fall(grid: xr.Dataset, choice: str) -> xr.DataArray:
    """Return biomass by fall and level, a mean over all other choices; NaN where one is missing."""
    biomass = grid["biomass_kg_ha"]
    if choice == "nitrogen_timing" and grid.sizes["nitrogen"] > 1:
        biomass = biomass.sel(nitrogen=grid["nitrogen"] > grid["nitrogen"].min())
    others = [dimension for dimension in biomass.dims if dimension not in (choice, "year")]
    return biomass.mean(others, skipna=False).transpose("year", choice)
