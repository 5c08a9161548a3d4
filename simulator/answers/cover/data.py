"""Residue after termination as rows, for JSON and the chart."""

from __future__ import annotations

from typing import Any

from simulator import units
from simulator.answers.cover.calculate import Cover, weekly_nitrogen
from simulator.show import wording
from simulator.show.output import plain


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


def chart_rows(found: Cover, system: units.System) -> list[dict[str, Any]]:
    """Return a row a sowing, way to lie and few days, in the reader's units."""
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
            for day, covered, mass, nitrogen in zip(days, *columns, strict=True):
                rows.append(
                    {
                        "sown": wording.dates_in(str(sow)),
                        "residue": str(name),
                        "day": day,
                        "cover": plain(100.0 * covered),
                        "mass": plain(units.show(mass, "mass", system)),
                        "nitrogen": plain(units.show(nitrogen, "nitrogen", system)),
                    }
                )
    return rows
