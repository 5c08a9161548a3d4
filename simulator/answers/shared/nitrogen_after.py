"""Nitrogen that a killed stand frees or ties up, by the day of the next crop's planting and after.

The residue decays as in `simulator.season.residue_decay`, where the soil has all the nitrogen that
microbes want. How far off that is in a field has not been tried, so that no range of a field is
given; the range is the weather's alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.shared.bare_soil import within
from simulator.season.plan import ANY_YEAR, day_number
from simulator.season.residue_decay import LONGEST, follow
from simulator.show.tables import mean, number, span, spread

if TYPE_CHECKING:
    import xarray as xr

Array = np.ndarray[Any, Any]

AFTER_PLANTING = (0, 28, 56)  # days after planting that are told: then, 4 and 8 weeks later
LITTLE = 1.0  # kg/ha not worth a word
UNTRIED = (
    "What decay frees or ties up has been held against litterbags, not against measured fields, so "
    "that how far off it is in a field is not known; the ranges are the weather's alone."
)
NO_RATE = (
    "Nitrogen freed or tied up by residue is no fertilizer rate: go by a soil test, a presidedress "
    "nitrate test where your state has one, and licensed advice."
)


def released_by_planting(
    record: xr.Dataset, grid: xr.Dataset, planting: str, lie: str
) -> xr.DataArray:
    """Follow the residue of stands ended on several dates to planting and some weeks beyond.

    Parameters
    ----------
    record : Dataset(time)
        The weather that the grid was grown in.
    grid : Dataset(year, end)
        From `simulator.season.compare.compare`, one plan selected, all ends dates.
    planting : str
        MM-DD.
    lie : str
        How the residue lies: a name of `simulator.parameters.residues`.

    Returns
    -------
    DataArray(year, end, after)
        Nitrogen set free since the end, net of tied up [kg/ha], by so many days after planting;
        NaN where the stand is ended after planting, or the weather stops before.
    """
    import xarray

    parts = []
    for end in map(str, grid["end"].values):
        wait = day_number(ANY_YEAR, planting) - day_number(ANY_YEAR, end)
        days = [wait + after for after in AFTER_PLANTING]
        known = np.full((grid.sizes["year"], len(days)), np.nan)
        if wait >= 0:
            stands = grid.sel(end=end)
            after = follow(record, stands, residue=[lie], days=min(days[-1] + 1, LONGEST))
            released = after["nitrogen_released_kg_ha"].isel(residue=0).transpose("year", "day")
            leap = leap_days(grid["year"].values, end, planting)
            at = np.array(days)[None, :] + leap[:, None]
            last = released.sizes["day"] - 1
            known = np.take_along_axis(released.values, np.minimum(at, last), axis=1)
            known = np.where(at <= last, known, np.nan)
        parts.append(known)
    return xarray.DataArray(
        np.stack(parts, axis=1),
        coords={"year": grid["year"], "end": grid["end"], "after": list(AFTER_PLANTING)},
        dims=("year", "end", "after"),
        attrs={"units": "kg/ha", "long_name": "nitrogen set free since the end, net of tied up"},
    )


def leap_days(years: Array, end: str, planting: str) -> Array:
    """Return the days by which each fall's way from an end to planting is longer than usual."""
    usual = day_number(ANY_YEAR, planting) - day_number(ANY_YEAR, end)
    ways = [day_number(int(year), planting) - day_number(int(year), end) for year in years]
    return np.array(ways) - usual


def balance(values: Array, system: units.System) -> str:
    """Spell nitrogen set free or tied up: ``"5 lb/ac tied up (3 to 8 in 8 of 10 falls)"``."""
    known = values[np.isfinite(values)]
    middle = mean(known)
    if abs(middle) < LITTLE:
        return "hardly any nitrogen freed or tied up"
    sign = -1.0 if middle < 0.0 else 1.0
    text = f"{units.spell(abs(middle), 'nitrogen', system)} {_freed_or_tied_up(middle)}"
    if known.size < 2:
        return text
    low, high = sorted(sign * end for end in spread(known))
    if low >= 0.0:
        ends = span((low, high), "nitrogen", system).replace("-", " to ")
        return f"{text} ({ends} {within(known.size)})"
    other, same = (number(abs(end), "nitrogen", system) for end in (low, high))
    ends = f"{other} {_freed_or_tied_up(-sign)} to {same} {_freed_or_tied_up(sign)}"
    return f"{text} ({ends} {within(known.size)})"


def _freed_or_tied_up(value: float) -> str:
    return "tied up" if value < 0.0 else "freed"


def row_of(values: Array, name: str) -> dict[str, float | int]:
    """Return it as fields of a row: mean, and the ends of the weather's range."""
    known = values[np.isfinite(values)]
    low, high = spread(known) if known.size else (float("nan"), float("nan"))
    return {
        f"{name}_mean_kg_ha": mean(known),
        f"weather_{name}_low_kg_ha": low,
        f"weather_{name}_high_kg_ha": high,
        "falls": int(known.size),
    }
