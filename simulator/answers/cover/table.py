"""Residue after termination as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.answers.cover.calculate import COVERS, HEAVY, WEEK, Cover, weekly_nitrogen
from simulator.answers.cover.words import lies_as, main_lie
from simulator.show import wording
from simulator.show.tables import (
    Column,
    mean,
    number,
    paragraph,
    plain_number,
    spread,
    spread_meaning,
    table,
)

if TYPE_CHECKING:
    import xarray as xr

ON_DAYS = (0, 14, 30, 60, 90, 120, 180, 270, 365)
IN_WEEKS = (1, 2, 4, 6, 8, 12, 16, 20, 26, 39, 52)


def tables(found: Cover, system: units.System) -> list[str]:
    """Print days of cover for every sowing and way to lie; cover, mass and nitrogen over time."""
    name = main_lie(found)
    return [
        _lasting(found, system),
        paragraph(_meaning(found, system).strip()),
        f"{lies_as(name).capitalize()}:",
        _over_time(found, name, system),
        _nitrogen(found, name, system),
        paragraph(
            "Nitrogen set free by decay of shoots and roots, mean over falls; below zero "
            "it is tied up, where the soil has so much."
        ),
    ]


def _meaning(found: Cover, system: units.System) -> str:
    return (
        f"{spread_meaning(found.residue.sizes['year'])} Days are those with so much of the "
        f"ground covered or more; \u2265 where a fall's cover outlasts the {found.days} days. "
        f"Heavy: {units.spell(HEAVY, 'mass', system)} or more on the ground."
    )


def _lasting(found: Cover, system: units.System) -> str:
    rows = []
    for sow in found.residue["sow"].values:
        stand = found.stands.sel(sow=sow)
        for name in found.residue["residue"].values:
            falls = found.falls.sel(sow=sow, residue=name)
            start = found.by_day.sel(sow=sow, residue=name).isel(day=0)
            days = [_days(falls, f"{100 * share:.0f}") for share in reversed(COVERS)]
            rows.append(
                [
                    wording.dates_in(str(sow)),
                    str(name),
                    number(mean(stand["biomass_kg_ha"].values), "mass", system),
                    plain_number(mean(stand["carbon_to_nitrogen"].values)),
                    plain_number(100.0 * float(start["ground_covered"])),
                    *days,
                    plain_number(mean(falls["days_heavy"].values)),
                ]
            )
    return table(
        [
            Column("sown", left=True),
            Column("residue", left=True),
            Column("shoots", units.label("mass", system)),
            Column("C:N"),
            Column("covered\nat first", "%"),
            *(Column(f"days\nabove {100 * share:.0f} %") for share in reversed(COVERS)),
            Column("days\nheavy"),
        ],
        rows,
    )


def _days(falls: xr.Dataset, percent: str) -> str:
    days = falls[f"days_above_{percent}"].values
    sign = "\u2265" if falls[f"above_{percent}_at_last"].values.any() else ""
    shown = f"{sign}{plain_number(mean(days))}"
    if np.isfinite(days).sum() < 2:
        return shown
    low, high = (plain_number(end) for end in spread(days))
    return f"{shown} ({low}-{high})"


def _over_time(found: Cover, name: str, system: units.System) -> str:
    by_day = found.by_day.sel(residue=name)
    sowings = [str(sow) for sow in by_day["sow"].values]
    rows = []
    for day in (day for day in sorted({*ON_DAYS, found.days}) if day <= found.days):
        cells = []
        for sow in sowings:
            at = by_day.sel(sow=sow, day=day)
            cells += [
                number(float(at["shoot_residue_kg_ha"]), "mass", system),
                number(float(at["root_residue_kg_ha"]), "mass", system),
                plain_number(100.0 * float(at["ground_covered"])),
                plain_number(float(at["soil_loss_ratio"]), 2),
            ]
        rows.append([str(day), *cells])
    mass = units.label("mass", system)
    columns = [Column("day")]
    for sow in sowings:
        columns += [
            Column(f"{wording.dates_in(sow)}\nshoots", mass),
            Column("roots", mass),
            Column("cover", "%"),
            Column("soil loss\nratio"),
        ]
    return table(columns, rows)


def _nitrogen(found: Cover, name: str, system: units.System) -> str:
    by_day = found.by_day.sel(residue=name)
    weekly = weekly_nitrogen(by_day)
    sowings = [str(sow) for sow in by_day["sow"].values]
    rows = []
    for week in (week for week in IN_WEEKS if week <= weekly.sizes["week"]):
        cells = []
        for sow in sowings:
            since = by_day["nitrogen_released_kg_ha"].sel(sow=sow, day=WEEK * week)
            cells += [
                number(float(weekly.sel(sow=sow, week=week)), "nitrogen", system, digits=1),
                number(float(since), "nitrogen", system, digits=1),
            ]
        rows.append([str(week), *cells])
    unit = units.label("nitrogen", system)
    columns = [Column("week")]
    for sow in sowings:
        columns += [
            Column(f"{wording.dates_in(sow)}\nin the week", unit),
            Column("since\nthe end", unit),
        ]
    return table(columns, rows)
