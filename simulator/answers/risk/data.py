"""The risk of plans as rows, for files, JSON and the chart."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.risk.calculate import Risk
from simulator.answers.risk.chance import ALL
from simulator.season.plan import ANY_YEAR
from simulator.show import wording
from simulator.show.charts import moment
from simulator.weather.fall_year import season_day

if TYPE_CHECKING:
    import xarray as xr

MOST_IN_FULL = 10  # places of which each is told by itself
OUTER = ("seeding", "nitrogen_timing", "end")
DATES = ("latest_sowing", "best_sowing", "weather_latest_sowing")  # columns of dates
FALLS, FIELD = "over the falls", "in a field like these"  # kinds of curves
CORNERS = 61  # points of a smooth curve


def dataset(found: Sequence[Risk]) -> xr.Dataset:
    """Put the tables of places beside each other, along ``site`` where there are several."""
    import xarray as xr

    if len(found) == 1:
        return found[0].table
    kinds = list(dict.fromkeys(str(kind) for one in found for kind in one.groups))
    named = [name for name in DATES if name in found[0].table]
    empty = dict.fromkeys(named, "") if named else np.nan
    tables = [
        one.table if list(one.groups) == kinds else one.table.reindex(kind=kinds, fill_value=empty)
        for one in found
    ]
    sites = [one.site for one in found]
    if all(_labels(each) == _labels(tables[0]) for each in tables):  # a tenth of the time of concat
        joined = xr.Dataset(
            {
                name: (
                    ("site", *one.dims),
                    np.stack([t.variables[name].values for t in tables]),
                    one.attrs,
                )
                for name, one in tables[0].data_vars.items()
            },
            {**tables[0].coords, "site": sites},
        )
    else:
        joined = xr.concat(
            [each.assign_coords(site=site) for each, site in zip(tables, sites, strict=True)],
            "site",
            join="outer",
        )
    joined.attrs = {
        name: value
        for name, value in tables[0].attrs.items()
        if name != "site" and all(str(each.attrs.get(name)) == str(value) for each in tables)
    }
    beside = {
        name: [one.grid.attrs.get(name, np.nan) for one in found]
        for name in ("latitude", "longitude")
    }
    soils = [str(one.grid.attrs["soil"]) for one in found]
    return joined.assign_coords(
        {name: ("site", np.array(values, dtype=float)) for name, values in beside.items()}
        | ({"soil": ("site", soils)} if len(set(soils)) > 1 else {})
    )


def _labels(table_: xr.Dataset) -> dict[str, list[Any]]:
    return {name: table_.variables[name].values.tolist() for name in map(str, table_.dims)}


def inputs(found: Sequence[Risk], kinds: str | None, weights: str | None) -> dict[str, Any]:
    """Return what an answer rests on beside plans and weather."""
    asked = {"target_kg_ha": found[0].target, "chance_percent": 100 * found[0].often}
    sorted_by = {"kinds": kinds, "weights": weights} if kinds else {}
    if len(found) > MOST_IN_FULL:
        return {**asked, **sorted_by}
    falls = {one.site: wording.falls(one.grid["year"].values.tolist()) for one in found}
    return {**asked, **sorted_by, "falls": falls}


def plans_in(table_: xr.Dataset, dimensions: Sequence[str]) -> list[dict[str, Any]]:
    """Return every combination of labels along the dimensions, the last running fastest."""
    labels = [table_[name].values for name in dimensions]
    return [dict(zip(dimensions, values, strict=True)) for values in product(*labels)]


def _about(plan: dict[str, Any], system: units.System, before: str) -> dict[str, str]:
    """Name the panel and the sowing of a plan."""
    rate = units.spell(plan["nitrogen"], "nitrogen", system)
    return {
        "panel": f"{before}{rate} of nitrogen",
        "sown": wording.dates_in(str(plan["sow"])),
    }


def curve_rows(one: Risk, system: units.System, before: str = "") -> list[dict[str, Any]]:
    """Return curves of how often so much is made, in the reader's units; first other choices.

    A plan has two, told apart by ``of``: the share of falls, which has a step for each fall, and
    the chance of weather and field, which is smooth.
    """
    grid = one.grid.isel(dict.fromkeys(OUTER, 0))["biomass_kg_ha"]
    top = float(one.table["biomass_high_kg_ha"].isel(dict.fromkeys(OUTER, 0)).sel(kind=ALL).max())
    level = np.linspace(0.0, max(top, float(grid.max())), CORNERS)
    rows: list[dict[str, Any]] = []
    for plan in plans_in(one.table, ("nitrogen", "sow")):
        values = grid.sel(plan).values
        values = np.sort(values[np.isfinite(values)])
        if not values.size:
            continue
        steps = 100.0 * np.arange(values.size, 0, -1) / values.size
        chance = 100.0 * one.errors.level.chance_of(level[:, None], values).mean(axis=-1)
        about = {
            **_about(plan, system, before),
            "target": float(units.show(one.target, "mass", system)),
        }
        for of, corners in (
            (FALLS, zip([0.0, *values, values[-1]], [100.0, *steps, 0.0], strict=True)),
            (FIELD, zip(level, chance, strict=True)),
        ):
            rows += [
                {
                    **about,
                    "of": of,
                    "corner": corner,
                    "biomass": float(units.show(biomass, "biomass", system)),
                    "percent": float(percent),
                }
                for corner, (biomass, percent) in enumerate(corners)
            ]
    return rows


def sowing_rows(one: Risk, system: units.System, before: str = "") -> list[dict[str, Any]]:
    """Return the chance of the target by sowing date; first other choices.

    Returns
    -------
    list of dict
        ``panel, sown, day`` (on one season's calendar), ``chance`` of weather and field, ``told``
        to the nearest percent, and ``alone, low, high``, the share of falls and its interval, all
        in percent; a plan of too few falls has no row.
    """
    table_ = one.table.isel(dict.fromkeys(OUTER, 0)).sel(kind=ALL)
    rows: list[dict[str, Any]] = []
    for plan in plans_in(one.table, ("nitrogen", "sow")):
        about = _about(plan, system, before)
        at = table_.sel(plan)
        chance, of_falls, low, high = (
            float(at[name])
            for name in (
                "chance_percent",
                "weather_chance_percent",
                "weather_chance_low_percent",
                "weather_chance_high_percent",
            )
        )
        if np.isfinite(chance):
            rows.append(
                {
                    **about,
                    "day": moment(season_day(ANY_YEAR, str(plan["sow"]))),
                    "chance": chance,
                    "told": f"{chance:.0f}",
                    "alone": of_falls,
                    "low": low,
                    "high": high,
                }
            )
    return rows
