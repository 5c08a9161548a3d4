"""Residue after termination as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.answers.cover import bare_soil
from simulator.answers.cover.calculate import COVERS, WEEK, Cover, main_lie
from simulator.answers.cover.in_fields import cover_ranges, mass_ranges
from simulator.answers.cover.on_day import Array, OnDay
from simulator.answers.cover.weeks import (
    after_planting,
    freed,
    in_week,
    planted,
    regrowths,
    shown_weeks,
)
from simulator.answers.cover.words import lies_as
from simulator.answers.shared.field_ranges import (
    Ranges,
    biomass_ranges,
    how_far_off,
    meaning,
    range_cells,
    range_columns,
)
from simulator.answers.shared.nitrogen_after import AFTER_PLANTING, UNTRIED
from simulator.show import wording
from simulator.show.charts import ranged
from simulator.show.tables import (
    NOTHING,
    Column,
    mean,
    median,
    number,
    over_falls,
    paragraph,
    plain_number,
    span,
    spread,
    table,
)

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

ON_DAYS = (0, 14, 30, 60, 90, 120, 180, 270, 365)


def tables(found: Cover, system: units.System) -> list[str]:
    """Print the stands, days of cover for each way to lie, days asked for, and all over time."""
    name = main_lie(found)
    printed = [_stands_table(found, system), "Days with so much of the ground covered or more:"]
    printed += [_days_of_cover_table(found), paragraph(_meaning_text(found, system)), "At first:"]
    printed.append(_cover_on_day_table(found, found.residue.isel(day=0), system))
    for one in found.on:
        printed += [f"{_day_title(one)}:", _cover_on_day_table(found, one.after, system)]
        if one.soil is not None:
            printed += [_soil_table(one.soil, system), paragraph(_about_soil(one))]
    printed += bare_soil.tables(found, system)
    if found.green is not None and found.green.sizes["date"]:
        about = f"{_ABOUT_GREEN} {_ABOUT_BARE if 'bare_covered' in found.green else ''}"
        printed += [_green_cover_table(found.green), paragraph(about.strip())]
    printed += [_grows_back(found), paragraph(_ABOUT_REGROWTH)]
    printed += [f"{lies_as(name).capitalize()}:", _by_week_table(found, name, system)]
    if shown_weeks(found):
        printed.append(_nitrogen_table(found, name, system))
    if (next_crop := planted(found)) is not None:
        printed.append(_after_planting_cells(found, next_crop, name, system))
    falls = found.residue.sizes["year"]
    ranges = f", means over the falls with {ranged(falls)} in brackets" if falls > 1 else ""
    return [
        *printed,
        paragraph(
            f"Nitrogen set free by decay of shoots and roots{ranges}; below zero it is tied up, "
            f"where the soil has so much. {UNTRIED}"
        ),
    ]


def _about_soil(one: OnDay) -> str:
    return (
        f"The soil on {wording.dates_in(one.date)}: water that roots can take from the whole "
        "column, and nitrate of the column, after rain, what dried under the residue, and what "
        "decay freed or tied up. The ranges are the weather's alone; the model's soil has not been "
        "held against measured ones."
    )


_ABOUT_GREEN = (
    "Green leaves of the living stand, as a share of the ground: means over the falls and, in "
    "brackets, the range of the weather alone. Stems and yellow leaves cover more. How far off the "
    "model's leaves are in a field has not been tried."
)


_ABOUT_BARE = "On bare soil it is what residue covers."


def _meaning_text(found: Cover, system: units.System) -> str:
    return (
        f"{meaning(found.residue.sizes['year'])} A fall's cover may outlast the {found.days} days "
        "(\u2265). Cover and days in a field are those of so much more or less biomass of the same "
        f"C:N. {how_far_off(system, found.errors.level)}"
    )


def _stands_table(found: Cover, system: units.System) -> str:
    mass = units.label("biomass", system)
    rows = []
    for sow in found.stands["sow"].values:
        stand = found.stands.sel(sow=sow)
        biomass = stand["biomass_kg_ha"].values
        ranges = biomass_ranges(biomass, error=found.errors.level)
        rows.append(
            [
                wording.dates_in(str(sow)),
                number(mean(biomass), "biomass", system),
                *range_cells(ranges, "biomass", system),
                plain_number(mean(stand["carbon_to_nitrogen"].values)),
            ]
        )
    columns = [
        Column("sown", left=True),
        Column("shoots\nat the end", mass),
        *range_columns(mass),
        Column("C:N"),
    ]
    return table(columns, rows)


def _days_of_cover_table(found: Cover) -> str:
    rows = []
    for sow in map(str, found.residue["sow"].values):
        for name in map(str, found.residue["residue"].values):
            falls = found.falls.sel(sow=sow, residue=name)
            row = [wording.dates_in(sow), name]
            for share in reversed(COVERS[:-1]):
                ranges = found.days_ranges(sow, name, share)
                row += [_days(falls, f"{100 * share:.0f}"), *_cells(ranges)]
            rows.append(row)
    columns = [Column("sown", left=True), Column("residue", left=True)]
    for share in reversed(COVERS[:-1]):
        columns += [Column(f"above\n{100 * share:.0f} %", "days"), *range_columns("days")]
    return table(columns, rows)


def _percent(low: float, high: float) -> str:
    return "-".join(plain_number(100.0 * end) for end in (low, high))


def _cells(ranges: Ranges) -> list[str]:
    """Print both ranges of a count for `range_columns`."""
    return [
        "-".join(plain_number(end) for end in ends)
        for ends in ((ranges.weather_low, ranges.weather_high), (ranges.low, ranges.high))
    ]


def _days(falls: xr.Dataset, percent: str) -> str:
    sign = "\u2265" if falls[f"above_{percent}_at_last"].values.any() else ""
    return f"{sign}{plain_number(mean(falls[f'days_above_{percent}'].values))}"


def _day_title(one: OnDay) -> str:
    first, last = min(one.days), max(one.days)  # by a day more in a leap year
    days = f"{first if first == last else f'{first} to {last}'} days after the end"
    crop = ", when the next crop is planted," if one.soil is not None else ","
    return f"On {wording.dates_in(one.date)}{crop} {days}"


def _cover_on_day_table(found: Cover, residue: xr.Dataset, system: units.System) -> str:
    rows = []
    for sow in map(str, residue["sow"].values):
        biomass = found.biomass(sow)
        for name in map(str, residue["residue"].values):
            at = residue.sel(sow=sow, residue=name)
            covered, left = at["ground_covered"].values, at["shoot_residue_kg_ha"].values
            ranges = cover_ranges(covered, biomass, found.errors)
            mass = mass_ranges(left, biomass, found.errors)
            row = [
                wording.dates_in(sow),
                name,
                plain_number(100.0 * mean(covered)),
                _percent(ranges.weather_low, ranges.weather_high),
                _percent(ranges.low, ranges.high),
                number(mean(left), "biomass", system),
                span((mass.low, mass.high), "biomass", system),
                number(mean(at["nitrogen_released_kg_ha"].values), "nitrogen", system),
            ]
            rows.append(row)
    mass_unit = units.label("biomass", system)
    columns = [
        Column("sown", left=True),
        Column("residue", left=True),
        Column("covered", "%"),
        *range_columns("%"),
        Column("shoots\nleft", mass_unit),
        Column("in a field\nlike these", mass_unit),
        Column("N set\nfree", units.label("nitrogen", system)),
    ]
    return table(columns, rows)


def _soil_table(soil: xr.Dataset, system: units.System) -> str:
    rows = []
    for sow in map(str, soil["sow"].values):
        for name in map(str, soil["residue"].values):
            at = soil.sel(sow=sow, residue=name)
            rows.append(
                [
                    wording.dates_in(sow),
                    name,
                    over_falls(at["planting_water_mm"].values, "water", system),
                    over_falls(at["planting_nitrate_kg_ha"].values, "nitrogen", system),
                ]
            )
    columns = [
        Column("sown", left=True),
        Column("residue", left=True),
        Column("water in\nthe soil", units.label("water", system)),
        Column("nitrate in\nthe soil", units.label("nitrogen", system)),
    ]
    return table(columns, rows)


def _green_cover_table(green: xr.Dataset) -> str:
    sowings = [str(sow) for sow in green["sow"].values]
    rows = []
    for date in map(str, green["date"].values):
        at = green.sel(date=date)
        shares = [at["green_cover"].sel(sow=sow).values for sow in sowings]
        if "bare_covered" in green:
            shares.append(at["bare_covered"].values)
        rows.append([wording.dates_in(date), *map(_percent_over_falls, shares)])
    columns = [Column("green\ncover", left=True)]
    columns += [Column(f"sown\n{wording.dates_in(sow)}", "%") for sow in sowings]
    columns += [Column("bare\nsoil", "%")] if "bare_covered" in green else []
    return table(columns, rows)


def _percent_over_falls(share: NDArray[np.float64]) -> str:
    shown = plain_number(100.0 * mean(share))
    if np.isfinite(share).sum() > 1:
        low, high = (plain_number(100.0 * end) for end in spread(share))
        shown += f" ({low}-{high})"
    return shown


def _by_week_table(found: Cover, name: str, system: units.System) -> str:
    by_day = found.by_day.sel(residue=name)
    sowings = [str(sow) for sow in by_day["sow"].values]
    rows = []
    for day in (day for day in sorted({*ON_DAYS, found.days}) if day <= found.days):
        cells = []
        for sow in sowings:
            at = by_day.sel(sow=sow, day=day)
            cells += [
                number(float(at["shoot_residue_kg_ha"]), "biomass", system),
                number(float(at["root_residue_kg_ha"]), "biomass", system),
                plain_number(100.0 * float(at["ground_covered"])),
                plain_number(float(at["soil_loss_ratio"]), 2),
            ]
        rows.append([str(day), *cells])
    mass = units.label("biomass", system)
    columns = [Column("day")]
    for sow in sowings:
        columns += [
            Column(f"{wording.dates_in(sow)}\nshoots", mass),
            Column("roots", mass),
            Column("cover", "%"),
            Column("soil loss\nratio"),
        ]
    return table(columns, rows)


def _nitrogen_table(found: Cover, name: str, system: units.System) -> str:
    sowings = [str(sow) for sow in found.residue["sow"].values]
    by_sowing = [freed(found, sow, name) for sow in sowings]
    rows = []
    for week in shown_weeks(found):
        cells = []
        for since_end in by_sowing:
            for values in (in_week(since_end, week), since_end[WEEK * week]):
                cells.append(_freed_text(values, system))
        rows.append([str(week), *cells])
    unit = units.label("nitrogen", system)
    columns = [Column("week")]
    for sow in sowings:
        columns += [
            Column(f"{wording.dates_in(sow)}\nin the week", unit),
            Column("since\nthe end", unit),
        ]
    return table(columns, rows)


def _freed_text(values: Array, system: units.System) -> str:
    """Print nitrogen to tenths, for a week's is small: the mean and the range over the falls."""
    shown = number(mean(values), "nitrogen", system, digits=1)
    if np.isfinite(values).sum() < 2:
        return shown
    low, high = (number(end, "nitrogen", system, digits=1) for end in spread(values))
    return f"{shown} ({low} to {high})"


def _after_planting_cells(found: Cover, one: OnDay, name: str, system: units.System) -> str:
    sowings = [str(sow) for sow in found.residue["sow"].values]
    rows = []
    for later in AFTER_PLANTING:
        cells = [after_planting(freed(found, sow, name), one, later) for sow in sowings]
        shown = [NOTHING if values is None else _freed_text(values, system) for values in cells]
        rows.append([str(later // WEEK), *shown])
    unit = units.label("nitrogen", system)
    columns = [Column(f"weeks after\n{wording.dates_in(one.date)}")]
    columns += [Column(f"{wording.dates_in(sow)}, since\nthe end", unit) for sow in sowings]
    return table(columns, rows)


def _grows_back(found: Cover) -> str:
    rows = []
    for sow, name, way, stages, left in regrowths(found):
        share, low, high = (
            plain_number(100.0 * one) for one in (left.share, left.share_low, left.share_high)
        )
        rows.append(
            [
                wording.dates_in(sow),
                name,
                way.by,
                plain_number(median(stages)),
                share if share == NOTHING else f"{share} ({low}-{high})",
                f"{left.falls_poor} of {left.falls}" if left.falls else NOTHING,
            ]
        )
    columns = [
        Column("sown", left=True),
        Column("residue", left=True),
        Column("ended by", left=True),
        Column("median\nstage", "Zadoks"),
        Column("grows\nback", "%"),
        Column("over a\ntenth", "falls"),
    ]
    return table(columns, rows)


_ABOUT_REGROWTH = (
    "What lives on and grows back, at the stage at the end: a mean over falls, in brackets the "
    "range of trials. Residue here is that of a stand killed as a whole."
)
