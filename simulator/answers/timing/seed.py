"""In how many falls seed is set by a date of ending."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import ndtr

from simulator.parameters.terminations import SEED, Seed
from simulator.season.plan import day_number

if TYPE_CHECKING:
    import xarray as xr

Array = np.ndarray[Any, Any]


@dataclass(frozen=True, slots=True)
class SeedSet:
    """Seed of a stand by a date.

    Parameters
    ----------
    falls : int
        Falls that are known.
    set_in : int
        Falls in which seed is set.
    possible_in : int
        Falls in which it may be viable.
    chance : float
        That it is set in a field like these, whose heading is off as the model's has been.
    """

    falls: int
    set_in: int
    possible_in: int
    chance: float


def add_seed(found: xr.Dataset, heading: Array, seed: Seed = SEED) -> None:
    """Add when seed is set to dates of ending.

    Parameters
    ----------
    found : Dataset(year, end)
        From `simulator.answers.timing.calculate.timing`; gets
        ``days_since_heading`` and ``seed_set`` (year, end), 1 where it is.
    heading : array (year,)
        Days from July 1; NaN where a stand does not head.
    """
    days = np.array(
        [[day_number(int(year), str(end)) for end in found["end"].values] for year in found["year"]]
    )
    since = days - heading[:, None]
    alive = found["stand_alive"].values > 0
    there = np.where(alive & np.isfinite(since), since >= seed.days_after_heading, False)
    for name, values, unit, meaning in (
        ("days_since_heading", since, "d", "days since heading, below 0 before it"),
        ("seed_set", there.astype(float), "1", "1 where viable seed is taken as set"),
    ):
        found[name] = (("year", "end"), values, {"units": unit, "long_name": meaning})


def seed_on(at: xr.Dataset, seed: Seed = SEED) -> SeedSet | None:
    """Tell of seed on one date of ending; None where nothing is known of heading."""
    if "seed_set" not in at:
        return None
    alive = at["stand_alive"].values > 0
    since = at["days_since_heading"].values
    late = (since - seed.days_after_heading) / max(seed.heading_off, 1e-6)
    chances = np.where(alive & np.isfinite(since), ndtr(late), 0.0)
    milky = alive & (at["growth_stage_zadoks"].values >= seed.milk_stage)
    set_in = int(at["seed_set"].values.sum())
    possible = int((milky | (at["seed_set"].values > 0)).sum())
    return SeedSet(at.sizes["year"], set_in, possible, float(chances.mean()))
