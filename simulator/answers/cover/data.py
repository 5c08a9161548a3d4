"""Residue after termination as rows, for JSON and the chart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator import units
from simulator.answers.cover.calculate import COVERS, Cover, main_lie, weekly_nitrogen
from simulator.answers.shared.fields import biomass_ranges
from simulator.show import wording
from simulator.show.output import plain

if TYPE_CHECKING:
    import xarray as xr

ON_A_DAY = ("ground_covered", "shoot_residue_kg_ha", "nitrogen_released_kg_ha", "soil_loss_ratio")


def falls_json(found: Cover) -> list[dict[str, Any]]:
    """Return a row a fall, sowing and way to lie: its days and its nitrogen by week."""
    weekly = weekly_nitrogen(found.residue)
    rows = []
    for year in found.falls["year"].values:
        for sow in found.falls["sow"].values:
            for name in found.falls["residue"].values:
                at = {"year": year, "sow": sow, "residue": name}
                fall = found.falls.sel(at)
                row = {key: plain(value) for key, value in at.items()}
                row |= {str(key): plain(fall[key].values[()]) for key in fall.data_vars}
                row["nitrogen_by_week_kg_ha"] = [plain(v) for v in weekly.sel(at).values]
                rows.append(row)
    return rows


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
        for fall, year in enumerate(one.after["year"].values):
            for sow in one.after["sow"].values:
                for name in one.after["residue"].values:
                    at = {"year": year, "sow": sow, "residue": name}
                    there = one.after.sel(at)
                    row = {"date": one.date, "days": int(one.days[fall])}
                    row |= {key: plain(value) for key, value in at.items()}
                    row |= {key: plain(there[key].values[()]) for key in ON_A_DAY}
                    if one.soil is not None:
                        soil = one.soil.sel(at)
                        row |= {str(key): plain(soil[key].values[()]) for key in soil.data_vars}
                    rows.append(row)
    return rows


def green_json(found: Cover) -> list[dict[str, Any]]:
    """Return a row a date, fall and sowing: what the green stand covers, 0 to 1."""
    if found.green is None:
        return []
    green = found.green["green_cover"].transpose("date", "year", "sow")
    return [
        {
            "date": str(date),
            "year": int(year),
            "sow": str(sow),
            "green_cover": plain(green.sel(date=date, year=year, sow=sow).values[()]),
            **_bare_covered(found.green, str(date), int(year)),
        }
        for date in green["date"].values
        for year in green["year"].values
        for sow in green["sow"].values
    ]


def _bare_covered(green: xr.Dataset, date: str, year: int) -> dict[str, Any]:
    """Return what residue covers on bare soil then, where that is known."""
    if "bare_covered" not in green:
        return {}
    return {"bare_covered": plain(green["bare_covered"].sel(date=date, year=year).values[()])}


def chart_rows(found: Cover, system: units.System) -> list[dict[str, Any]]:
    """Return a row a sowing, way to lie and few days, in the reader's units.

    The ends of the range in a field like these are those of the way to lie that is spoken of.
    """
    spoken = main_lie(found)
    rows = []
    days = sorted({*range(0, found.days + 1, 3), found.days})
    thin = found.by_day.sel(day=days)
    for sow in thin["sow"].values:
        for name in thin["residue"].values:
            at = thin.sel(sow=sow, residue=name)
            columns = (
                at[field].values
                for field in ("ground_covered", "shoot_residue_kg_ha", "nitrogen_released_kg_ha")
            )
            ends = (at["ground_covered_low"].values, at["ground_covered_high"].values)
            for day, covered, mass, nitrogen, low, high in zip(days, *columns, *ends, strict=True):
                rows.append(
                    {
                        "sown": wording.dates_in(str(sow)),
                        "residue": str(name),
                        "day": day,
                        "cover": plain(100.0 * covered),
                        "cover_low": plain(100.0 * low) if name == spoken else None,
                        "cover_high": plain(100.0 * high) if name == spoken else None,
                        "mass": plain(units.show(mass, "biomass", system)),
                        "nitrogen": plain(units.show(nitrogen, "nitrogen", system)),
                    }
                )
    return rows
