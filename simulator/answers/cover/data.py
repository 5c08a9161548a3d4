"""Residue after termination as rows, for JSON and the chart."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.cover.calculate import COVERS, Cover, main_lie, weekly_nitrogen
from simulator.answers.cover.in_fields import mass_ranges
from simulator.answers.cover.weeks import regrowths
from simulator.answers.shared.field_ranges import biomass_ranges
from simulator.show import wording
from simulator.show.output import plain, plain_list
from simulator.show.tables import spread

if TYPE_CHECKING:
    import xarray as xr

# what the chart draws -> its field
QUANTITIES = {
    "cover": "ground_covered",
    "mass": "shoot_residue_kg_ha",
    "nitrogen": "nitrogen_released_kg_ha",
}
FALL = ("year", "sow", "residue")
GREEN = ("date", "year", "sow")
ON_A_DAY = ("ground_covered", "shoot_residue_kg_ha", "nitrogen_released_kg_ha", "soil_loss_ratio")


def falls_json(found: Cover) -> list[dict[str, Any]]:
    """Return a row a fall, sowing and way to lie: its days and its nitrogen by week."""
    weekly = weekly_nitrogen(found.residue).transpose(*FALL, "week").values
    by_week = weekly.reshape(-1, weekly.shape[-1])
    return [
        row | {"nitrogen_by_week_kg_ha": plain_list(weeks)}
        for row, weeks in zip(_rows(found.falls, map(str, found.falls)), by_week, strict=True)
    ]


def _rows(data: xr.Dataset, names: Iterable[str]) -> list[dict[str, Any]]:
    """Return a row a fall, sowing and way to lie: these, and the variables named."""
    columns = {name: plain_list(data[name].transpose(*FALL).values.ravel()) for name in names}
    places = itertools.product(*(plain_list(data[dimension].values) for dimension in FALL))
    return [
        dict(zip((*FALL, *columns), (*place, *row), strict=True))
        for place, *row in zip(places, *columns.values(), strict=True)
    ]


def ranges_json(found: Cover) -> list[dict[str, Any]]:
    """Return a row a sowing and way to lie: days of cover in a field like these, and heavy."""
    rows = []
    for sow in map(str, found.residue["sow"].values):
        for name in map(str, found.residue["residue"].values):
            row: dict[str, Any] = {"sow": sow, "residue": name}
            level = biomass_ranges(found.biomass(sow), error=found.errors.level)
            row |= level.row()
            for share in COVERS:
                ranges = found.days_ranges(sow, name, share)
                row |= ranges.row(f"days_above_{100 * share:.0f}", "d")
            chance, days = found.heavy(sow, name)
            row |= {"heavy_chance_percent": 100.0 * chance, "days_heavy_mean": days}
            rows.append({key: plain(value) for key, value in row.items()})
    return rows


def days_json(found: Cover) -> list[dict[str, Any]]:
    """Return a row a day asked for, fall, sowing and way to lie."""
    rows = []
    for one in found.on:
        day = _rows(one.after, ON_A_DAY)
        if one.soil is not None:
            labels = {name: one.after[name].values for name in FALL}
            soil = _rows(one.soil.sel(labels), map(str, one.soil))
            day = [lies | below for lies, below in zip(day, soil, strict=True)]
        days = np.repeat(one.days, len(day) // one.days.size).tolist()
        rows += [
            {"date": one.date, "days": since, **row} for since, row in zip(days, day, strict=True)
        ]
    return rows


def green_json(found: Cover) -> list[dict[str, Any]]:
    """Return a row a date, fall and sowing: what the green stand covers, 0 to 1."""
    if found.green is None:
        return []
    known = [name for name in ("green_cover", "bare_covered") if name in found.green]
    columns = found.green[known].broadcast_like(found.green["green_cover"])
    return [
        {"date": str(date), "year": int(year), "sow": str(sow)}
        | {name: plain(value) for name, value in zip(known, values, strict=True)}
        for (date, year, sow), *values in zip(
            itertools.product(*(found.green[name].values for name in GREEN)),
            *(columns[name].transpose(*GREEN).values.ravel() for name in known),
            strict=True,
        )
    ]


def grows_back_json(found: Cover) -> list[dict[str, Any]]:
    """Return a row a sowing and way to lie: the share of the stand that grows back."""
    rows = []
    for sow, name, way, _, left in regrowths(found):
        row = {"sow": sow, "residue": name, "kill": way.tool, "grows_back": left.share}
        row |= {"grows_back_low": left.share_low, "grows_back_high": left.share_high}
        row |= {"falls_over_a_tenth": left.falls_poor, "falls": left.falls}
        rows.append({key: plain(value) for key, value in row.items()})
    return rows


def chart_rows(found: Cover, system: units.System) -> list[dict[str, Any]]:
    """Return a row a sowing, way to lie and few days, in the reader's units.

    The ends of the range are those of the way to lie that is spoken of.
    """
    spoken = main_lie(found)
    days = sorted({*range(0, found.days + 1, 3), found.days})
    rows: list[dict[str, Any]] = []
    for sow in map(str, found.by_day["sow"].values):
        for name in map(str, found.by_day["residue"].values):
            means = found.by_day.sel(sow=sow, residue=name, day=days)
            columns = {
                key: _shown(means[field].values, key, system) for key, field in QUANTITIES.items()
            }
            ranged = _ends(found, sow, name, days, system) if name == spoken else {}
            about = {"sown": wording.dates_in(sow), "residue": name}
            rows += [
                {
                    **about,
                    "day": day,
                    **{key: plain(values[at]) for key, values in columns.items()},
                    **{
                        f"{key}_{end}": plain(ranged[key][k][at]) if ranged else None
                        for key in QUANTITIES
                        for k, end in enumerate(("low", "high"))
                    },
                }
                for at, day in enumerate(days)
            ]
    return rows


def _ends(
    found: Cover, sow: str, name: str, days: list[int], system: units.System
) -> dict[str, tuple[Any, Any]]:
    """Return the ends of the range, day by day, of what the chart draws.

    Of cover and mass it is that in a field like these; of nitrogen that over the falls, as what
    a heavier stand would hold at which C:N is not known.
    """
    at = found.by_day.sel(sow=sow, residue=name, day=days)
    each = found.residue.sel(sow=sow, residue=name, day=days).transpose("year", "day")
    ends = {"cover": (at["ground_covered_low"].values, at["ground_covered_high"].values)}
    falls = {key: each[QUANTITIES[key]].values.T for key in ("mass", "nitrogen")}  # by day
    ranges = [mass_ranges(one, found.biomass(sow), found.errors) for one in falls["mass"]]
    pairs = {
        "mass": [(one.low, one.high) for one in ranges],
        "nitrogen": [spread(one) for one in falls["nitrogen"]],
    }
    ends |= {key: tuple(np.array(one).T) for key, one in pairs.items()}
    return {key: tuple(_shown(one, key, system) for one in pair) for key, pair in ends.items()}


def _shown(values: Any, key: str, system: units.System) -> Any:
    """Return values of a quantity of the chart in the reader's units."""
    if key == "cover":
        return 100.0 * values
    return units.show(values, "biomass" if key == "mass" else "nitrogen", system)
