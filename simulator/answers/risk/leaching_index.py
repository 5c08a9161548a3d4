"""The leaching index: a yardstick beside the model, which knows rain and soil group only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.weather.fall_year import season_day
from simulator.weather.files.record_check import checked
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray as xr

# s of the leaching index by hydrologic group [inch], and small grain's curve numbers (NEH-630
# ch. 9), halfway between those of a group and of the next
_RETENTION = {"A": 25.7, "B": 37.6, "C": 48.8, "D": 56.7}
_LEAST_CURVE_NUMBER = {"A": 0.0, "B": 68.0, "C": 78.0, "D": 83.5}
_INCH = 25.4


def hydrologic_group(curve_number: float) -> str:
    """Return the hydrologic soil group, A to D, that a small-grain curve number belongs to."""
    return max(group for group, least in _LEAST_CURVE_NUMBER.items() if curve_number >= least)


@dataclass(frozen=True, slots=True)
class LeachingIndex:
    """Leaching index of a place: a yardstick that knows rain and soil group only.

    Parameters
    ----------
    group : str
        Hydrologic soil group, A to D.
    annual, winter : float
        Mean rain of the year and of October to March [mm].
    index : float
        [inch].
    """

    group: str
    annual: float
    winter: float
    index: float

    @property
    def rank(self) -> str:
        """``low`` under 2, ``moderate``, or ``high`` over 10."""
        return "low" if self.index < 2.0 else "high" if self.index > 10.0 else "moderate"


def leaching_index(annual: float, winter: float, group: str) -> LeachingIndex:
    """Percolation index times seasonal index, from mean rain [mm].

    References
    ----------
    Williams and Kissel (1991) in Managing Nitrogen for Groundwater Quality and Farm
    Profitability, SSSA (coefficients from memory).
    """
    rain, stored = annual / _INCH, 0.4 * _RETENTION[group]
    percolates = max(rain - stored, 0.0) ** 2 / (rain + 0.6 * _RETENTION[group])
    seasonal = (2.0 * winter / annual) ** (1 / 3) if annual > 0 else 0.0
    return LeachingIndex(group, annual, winter, percolates * seasonal)


def leaching_index_of(record: xr.Dataset, curve_number: float) -> LeachingIndex | None:
    """Leaching index of a record's whole years from October on; None without one."""
    whole = fill_short_gaps(checked(record))
    days = whole["time"].values.astype("datetime64[D]")
    rain = whole["rain"].values
    totals = []
    for year in range(int(str(days[0])[:4]), int(str(days[-1])[:4]) + 1):
        first, spring = season_day(year, "10-01"), season_day(year, "04-01")
        last = first + (season_day(year + 1, "10-01") - first)
        inside = (days >= first) & (days < last)
        if inside.sum() == int((last - first).astype(int)) and np.isfinite(rain[inside]).all():
            totals.append((rain[inside].sum(), rain[inside & (days < spring)].sum()))
    if not totals:
        return None
    annual, winter = np.mean(totals, axis=0)
    return leaching_index(float(annual), float(winter), hydrologic_group(curve_number))
