"""The days of a record as arrays, as the generator's fits take them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.weather.generator.daily import MONTH_OF_DAY, day_of_year

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Days:
    """The record as arrays: (days,) each, the pair (2, days)."""

    year: NDArray[np.int64]
    day_of_year: NDArray[np.int64]
    month: NDArray[np.int64]
    pair: NDArray[np.float64]
    rain: NDArray[np.float64]
    wet: NDArray[np.float64]  # 1, 0, NaN where missing


def days_of(record: xr.Dataset, wet_day: float) -> Days:
    """Take a record's days as arrays, wet from a threshold of rain [mm] on."""
    days = record["time"].values.astype("datetime64[D]")
    of_year = day_of_year(days)
    year = days.astype("datetime64[Y]").astype(np.int64)
    rain = record["rain"].values.astype(float)
    wet = np.where(np.isnan(rain), np.nan, (rain >= wet_day).astype(float))
    pair = np.array([record[name].values.astype(float) for name in ("tmax", "tmin")])
    return Days(year - year[0], of_year, MONTH_OF_DAY[of_year], pair, rain, wet)
