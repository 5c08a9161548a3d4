"""Later sowings with nitrogen against earlier ones without."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.answers.shared.field_ranges import chance_in_fields
from simulator.parameters.model_error import RESPONSE, ModelError

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Pair:
    """A later sowing with nitrogen against an earlier one at the lowest rate [kg/ha].

    Parameters
    ----------
    later, earlier, timing : str
    base : float
        The lowest rate.
    target : float
        Mean biomass of the earlier sowing at that rate.
    rate : float
        With which the later sowing makes as much on average; NaN where no rate tried does.
    most, most_rate : float
        The later sowing's highest mean, and its rate.
    reached, falls : int
        In how many of the falls the later sowing, with that rate (or its best), makes at least
        as much.
    chance : float
        Of that, weather and field together, 0 to 1.
    """

    later: str
    earlier: str
    timing: str
    base: float
    target: float
    rate: float
    most: float
    most_rate: float
    reached: int
    falls: int
    chance: float


def equal_pairs(plans: xr.Dataset, timing: str, error: ModelError = RESPONSE) -> list[Pair]:
    """Find the rates with which later sowings equal earlier ones without nitrogen.

    Between the rates tried the means are joined by straight lines.

    Parameters
    ----------
    plans : Dataset
        From `one_plan`, sowings in any order.
    timing : str
    error : ModelError
        How far off differences are.

    Returns
    -------
    list of Pair
        Earlier sowings outermost, in the order of the season.
    """
    from simulator.season.plan import order

    biomass = plans["biomass_kg_ha"].sel(nitrogen_timing=timing)
    rates = plans["nitrogen"].values
    sowings = sorted(map(str, plans["sow"].values), key=order)
    found = []
    for place, earlier in enumerate(sowings):
        for later in sowings[place + 1 :]:
            early = biomass.sel(sow=earlier).values[:, 0]
            late = biomass.sel(sow=later).values
            known = np.isfinite(early) & np.isfinite(late[:, 0])
            if not known.any():
                continue
            early, late = early[known], late[known]
            means, target = late.mean(axis=0), float(early.mean())
            rate, best = rate_reaching(rates, means, target), int(np.argmax(means))
            at = rate if np.isfinite(rate) else float(rates[best])
            made = np.array([np.interp(at, rates, fall) for fall in late])
            found.append(
                Pair(
                    later,
                    earlier,
                    timing,
                    float(rates[0]),
                    target,
                    rate,
                    float(means[best]),
                    float(rates[best]),
                    int((made >= early).sum()),
                    int(known.sum()),
                    chance_in_fields(made - early, 0.0, error=error),
                )
            )
    return found


def rate_reaching(rates: NDArray[np.float64], means: NDArray[np.float64], target: float) -> float:
    """Return the lowest rate at which the means, joined by lines, reach a target; NaN if none."""
    reached = np.flatnonzero(means >= target)
    if not reached.size:
        return float("nan")
    first = int(reached[0])
    if first == 0:
        return float(rates[0])
    low, high = means[first - 1], means[first]
    share = (target - low) / (high - low)
    return float(rates[first - 1] + share * (rates[first] - rates[first - 1]))
