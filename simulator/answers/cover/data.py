"""Residue after termination as rows, for JSON and the chart."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.cover.calculate import COVERS, Cover, main_lie, weekly_nitrogen
from simulator.answers.cover.in_fields import mass_ranges
from simulator.answers.cover.weeks import regrowths
from simulator.answers.shared.fields import biomass_ranges
from simulator.show import wording
from simulator.show.output import plain
from simulator.show.tables import spread

if TYPE_CHECKING:
    import xarray as xr

# what the chart draws -> its field
QUANTITIES = {
    "cover": "ground_covered",
    "mass": "shoot_residue_kg_ha",
    "nitrogen": "nitrogen_released_kg_ha",
}
EACH = ("year", "sow", "residue")  # along which a fall's numbers lie
ON_A_DAY = ("ground_covered", "shoot_residue_kg_ha", "nitrogen_released_kg_ha", "soil_loss_ratio")


def falls_json(found: Cover) -> list[dict[str, Any]]:
    """Return a row a fall, sowing and way to lie: its days and its nitrogen by week."""
    falls = found.falls.transpose(*EACH)
    weekly = weekly_nitrogen(found.residue).transpose(*EACH, "week").values
    columns = {str(key): falls[key].values for key in falls.data_vars}
    return [
        {
            **about,
            **{key: plain(values[at]) for key, values in columns.items()},
            "nitrogen_by_week_kg_ha": [plain(value) for value in weekly[at]],
        }
        for at, about in _each(falls)
    ]


def _each(falls: xr.Dataset) -> Iterator[tuple[tuple[int, ...], dict[str, Any]]]:
    """Give the place of each fall, sowing and way to lie in arrays along them, and its labels."""
    labels = [[plain(label) for label in falls[name].values] for name in EACH]
    for at in np.ndindex(*map(len, labels)):
        yield at, {name: known[k] for name, known, k in zip(EACH, labels, at, strict=True)}


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
        columns = {key: one.after[key].transpose(*EACH).values for key in ON_A_DAY}
        if one.soil is not None:
            labels = {name: one.after[name].values for name in EACH}
            soil = one.soil.sel(labels).transpose(*EACH)
            columns |= {str(key): soil[key].values for key in soil.data_vars}
        for at, about in _each(one.after):
            row = {"date": one.date, "days": int(one.days[at[0]]), **about}
            rows.append(row | {key: plain(values[at]) for key, values in columns.items()})
    return rows


def green_json(found: Cover) -> list[dict[str, Any]]:
    """Return a row a date, fall and sowing: what the green stand covers, 0 to 1."""
    if found.green is None:
        return []
    green = found.green.transpose("date", "year", "sow")
    dates, years, sowings = (green[name].values for name in ("date", "year", "sow"))
    covered = green["green_cover"].values
    bare = green["bare_covered"].values if "bare_covered" in green else None
    return [
        {
            "date": str(dates[date]),
            "year": int(years[year]),
            "sow": str(sowings[sow]),
            "green_cover": plain(covered[date, year, sow]),
            **({} if bare is None else {"bare_covered": plain(bare[date, year])}),
        }
        for date, year, sow in np.ndindex(*covered.shape)
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
