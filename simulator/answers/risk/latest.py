"""The latest sowing whose chance of the target is still high enough."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.risk.chance import Values
from simulator.answers.shared.few_falls import FEWEST
from simulator.parameters.model_error import LEVEL, ModelError
from simulator.season.compare import compare
from simulator.season.plan import date_at, order
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
    sowings = sorted(plans["sow"], key=order)
    dates = [order(end) for end in plans["end"] if "-" in end]
    last = min([order(LATEST_SOUGHT), *(day - LEAST_SEASON for day in dates)])
    first = min(order(EARLIEST_SOUGHT), order(sowings[0]), last)
    usable, _ = usable_years(fill_short_gaps(record), date_at(first), date_at(last), falls)
    if list(usable) != list(falls):
        first = order(sowings[0])
    first = max(first, min(test_day, last))
    return date_at(first), date_at(max(last, first))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """What is sought: the latest sowing whose chance is high enough.

    Parameters
    ----------
    plans, field : mapping
        Arguments of `compare`; the sowings of the plans are not used.
    target : float
        [kg/ha].
    often : float
        The chance, 0 to 1.
    falls : sequence of int
        Fall years.
    groups : mapping of str to (year,) float
        Weights of the falls.
    between : (str, str)
        First and last sowing tried, MM-DD.
    error : ModelError
        How far off the model is.
    """

    plans: Mapping[str, Any]
    field: Mapping[str, Any]
    target: float
    often: float
    falls: Sequence[int]
    groups: Mapping[str, Values]
    between: tuple[str, str]
    error: ModelError = LEVEL


def latest_sowing(record: xr.Dataset, sought: Sought) -> dict[str, xr.DataArray]:
    """Seek the latest sowing whose chance is high enough: by weeks, then by days.

    Returns
    -------
    dict of str to DataArray
        ``latest_sowing`` by the chance of weather and field, ``latest_chance_percent`` and
        ``latest_loss_percent``; ``best_sowing`` of those tried, and its chance; the same as the
        first two, ``weather_latest_...``, by the share of falls. A sowing is "" where there is
        none.
    """
    first, last = map(order, sought.between)
    weeks = sorted({*range(first, last + 1, WEEK), last})
    tried = _chances_by_sowing(record, sought, weeks)
    between = sorted(
        {
            day
            for chance in tried.values()
            for week in np.unique(_latest(chance, sought.often).values)
            if np.isfinite(week)
            for day in range(int(week) + 1, min(int(week) + WEEK, last + 1))
            if day not in weeks
        }
    )
    if between:
        days = _chances_by_sowing(record, sought, between)
        tried = {name: _merged_sowings(chance, days[name]) for name, chance in tried.items()}
    chance = tried[""]
    best = chance.max("sow")
    found = {
        "best_sowing": _days_as_dates(chance["sow"].where(chance == best).max("sow")),
        "best_chance_percent": best,
    }
    for before, of_days in tried.items():
        latest = _latest(of_days, sought.often)
        found |= {
            f"{before}latest_sowing": _days_as_dates(latest),
            f"{before}latest_chance_percent": of_days.where(of_days["sow"] == latest).max("sow"),
        }
    at = _latest(chance, sought.often)
    sides = [(at + side * WEEK).clip(first, last) for side in (-1, 1)]
    early, late = (_interpolated(chance, side) for side in sides)
    apart = sides[1] - sides[0]
    found["latest_loss_percent"] = (WEEK * (early - late) / apart.where(apart > 0)).where(
        at.notnull()
    )
    return found


def _chances_by_sowing(
    record: xr.Dataset, sought: Sought, days: Sequence[int]
) -> dict[str, xr.DataArray]:
    """Return the chance of sowings in percent: of weather and field "", of falls "weather_"."""
    import xarray as xr

    others = {name: values for name, values in sought.plans.items() if name != "sow"}
    sowings = [date_at(day) for day in days]
    grid = compare(record, sow=sowings, **others, **sought.field, years=sought.falls)
    biomass = grid["biomass_kg_ha"].assign_coords(sow=list(days))
    groups = sought.groups
    weights = xr.DataArray(
        np.stack(list(groups.values())), dims=("kind", "year"), coords={"kind": list(groups)}
    )
    weights = weights * biomass.notnull()
    whole = weights.sum("year")
    enough = whole**2 >= FEWEST * (weights**2).sum("year") * (1 - 1e-9)
    in_fields = biomass.copy(data=sought.error.chance_of(sought.target, biomass.values))

    def percent(reached: xr.DataArray) -> xr.DataArray:
        return (weights * reached).sum("year") / whole.where(enough) * 100

    return {"": percent(in_fields), "weather_": percent(biomass >= sought.target)}


def _latest(chance: xr.DataArray, often: float) -> xr.DataArray:
    """Return the latest day whose chance is high enough; NaN where none is."""
    return chance["sow"].where(chance >= 100 * often - 1e-9).max("sow")


def _merged_sowings(one: xr.DataArray, other: xr.DataArray) -> xr.DataArray:
    import xarray as xr

    return xr.concat([one, other], "sow").sortby("sow")


def _interpolated(chance: xr.DataArray, day: xr.DataArray) -> xr.DataArray:
    """Return the chance on a day, by a straight line between the days that were tried."""
    import xarray as xr

    made: xr.DataArray = xr.apply_ufunc(
        lambda values, at, days: np.interp(at, days, values),
        chance,
        day,
        chance["sow"],
        input_core_dims=[["sow"], [], ["sow"]],
        vectorize=True,
    )
    return made


def _days_as_dates(day: xr.DataArray) -> xr.DataArray:
    """Name days by their dates, MM-DD; "" where there is none."""
    texts = [date_at(int(one)) if np.isfinite(one) else "" for one in day.values.ravel()]
    return day.copy(data=np.array(texts, dtype=object).reshape(day.shape))
