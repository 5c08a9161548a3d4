"""The latest sowing that still reaches the target often enough."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.risk.chance import Values
from simulator.answers.shared.few_falls import FEWEST
from simulator.season.compare import compare
from simulator.season.plan import ANY_YEAR, day_number, month_day_of
from simulator.weather.fall_year import usable_years
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray as xr

EARLIEST_SOUGHT, LATEST_SOUGHT = "09-01", "01-15"
LEAST_SEASON = 30  # days from the latest sowing sought to the first end
WEEK = 7


def span_sought(
    record: xr.Dataset, plans: Mapping[str, Any], falls: Sequence[int], test_day: int
) -> tuple[str, str]:
    """Return the first and last sowing to try: no fall of the grid lost, none before a test."""
    sowings = sorted(plans["sow"], key=day_of)
    dates = [day_of(end) for end in plans["end"] if "-" in end]
    last = min([day_of(LATEST_SOUGHT), *(day - LEAST_SEASON for day in dates)])
    first = min(day_of(EARLIEST_SOUGHT), day_of(sowings[0]), last)
    usable, _ = usable_years(fill_short_gaps(record), date_of(first), date_of(last), falls)
    if list(usable) != list(falls):
        first = day_of(sowings[0])
    first = max(first, min(test_day, last))
    return date_of(first), date_of(max(last, first))


def day_of(date: str) -> int:
    """Return the season day of a date, MM-DD."""
    return day_number(ANY_YEAR, date)


def date_of(day: int) -> str:
    """Return the date, MM-DD, of a season day."""
    return month_day_of(ANY_YEAR, day)


def latest_sowing(
    record: xr.Dataset,
    plans: Mapping[str, Any],
    field: Mapping[str, Any],
    target: float,
    often: float,
    falls: Sequence[int],
    groups: Mapping[str, Values],
    sought: tuple[str, str],
) -> dict[str, xr.DataArray]:
    """Seek the latest sowing that reaches the target often enough: by weeks, then by days."""
    import xarray as xr

    first, last = map(day_of, sought)
    weeks = sorted({*range(first, last + 1, WEEK), last})
    others = {name: values for name, values in plans.items() if name != "sow"}

    def tried(days: Sequence[int]) -> xr.DataArray:
        grid = compare(record, sow=[date_of(day) for day in days], **others, **field, years=falls)
        biomass = grid["biomass_kg_ha"].assign_coords(sow=list(days))
        weights = xr.DataArray(
            np.stack(list(groups.values())), dims=("kind", "year"), coords={"kind": list(groups)}
        )
        weights = weights * biomass.notnull()
        whole = weights.sum("year")
        enough = whole**2 >= FEWEST * (weights**2).sum("year") * (1 - 1e-9)
        return ((weights * (biomass >= target)).sum("year") / whole.where(enough)) * 100

    by_week = tried(weeks)
    enough = by_week >= 100 * often - 1e-9
    at = enough["sow"].where(enough).max("sow")
    between = sorted(
        {
            day
            for week in np.unique(at.values[np.isfinite(at.values)]).astype(int)
            for day in range(week + 1, min(week + WEEK, last + 1))
            if day not in weeks
        }
    )
    chance = xr.concat([by_week, tried(between)], "sow") if between else by_week
    enough = chance >= 100 * often - 1e-9
    latest = chance["sow"].where(enough).max("sow")
    shares = chance.where(chance["sow"] == latest).max("sow")
    texts = [date_of(int(day)) if np.isfinite(day) else "" for day in latest.values.ravel()]
    named = latest.copy(data=np.array(texts, dtype=object).reshape(latest.shape))
    return {"latest_sowing": named, "latest_chance_percent": shares}
