"""Bare soil beside the residue: the ground that each covers, soil loss, water and nitrate left."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.cover.calculate import Cover, main_lie
from simulator.answers.cover.in_fields import loss_less_ranges, soil_loss
from simulator.answers.cover.on_day import on_day
from simulator.answers.shared.bare_soil import (
    NAME,
    Beside,
    amount,
    beside,
    described,
    kind_of,
    over_falls_less,
    range_less,
    untried,
    within,
)
from simulator.answers.shared.field_ranges import OVER_FALLS, Ranges, range_columns
from simulator.show import wording
from simulator.show.output import plain
from simulator.show.tables import NOTHING, Column, mean, number, paragraph, plain_number, table

if TYPE_CHECKING:
    import xarray as xr

Array = np.ndarray[Any, Any]

SOIL = (("planting_water_mm", "water"), ("planting_nitrate_kg_ha", "nitrogen"))


@dataclass(frozen=True, slots=True)
class BareDay:
    """Bare soil and the stands' fields on a day, from their end on.

    Parameters
    ----------
    date : str
        MM-DD.
    planting : bool
        Whether it is the day on which the next crop is planted.
    bare : Dataset(year)
        As `simulator.season.until_planting.until_planting` has it with ``bare``, and
        ``planting_water_mm``.
    stands : Dataset(year, sow, residue)
        As it has the stands.
    new : DataArray(year, sow, residue)
        Share of the ground under the residue of the stand alone.
    """

    date: str
    planting: bool
    bare: xr.Dataset
    stands: xr.Dataset
    new: xr.DataArray

    def covered(self, sow: str, name: str) -> Array:
        """Share of the ground under old and new residue (fall,)."""
        return np.asarray(self.stands["planting_covered"].sel(sow=sow, residue=name).values)

    @property
    def bare_covered(self) -> Array:
        """Share of the ground under residue on bare soil (fall,)."""
        return np.asarray(self.bare["planting_covered"].values)

    def loss_less(self, found: Cover, sow: str, name: str) -> Ranges:
        """Return by how much soil loss is less than on bare soil, as a share of that uncovered."""
        return loss_less_ranges(
            self.bare_covered,
            self.covered(sow, name),
            self.new.sel(sow=sow, residue=name).values,
            found.biomass(sow),
            found.errors,
        )

    def left(self, sow: str, name: str, field: str) -> Beside | None:
        """Set what the stand leaves in the soil beside bare soil."""
        planted = self.stands[field].sel(sow=sow, residue=name).values
        return beside(self.bare["year"].values.tolist(), planted, self.bare[field].values)


def bare_day(
    found: Cover, date: str, bare: xr.Dataset, stands: xr.Dataset, *, planting: bool
) -> BareDay | None:
    """Gather a day; None where residue is not followed so far in all falls."""
    there = on_day(found.residue, date)
    if there is None:
        return None
    return BareDay(date, planting, bare, stands, there.after["ground_covered"])


def sentences(found: Cover, system: units.System) -> list[str]:
    """Say what bare soil has on it and in it, and what the stands have more and leave less."""
    if not found.bare:
        return []
    last = next((day for day in found.bare if day.planting), found.bare[-1])
    return [
        _cover_sentence(found, last, system),
        *_soil_sentences(found, last, system),
        untried(last.bare.attrs),
    ]


def _about(found: Cover, day: BareDay) -> dict[str, Any]:
    return {**found.stands.attrs, **day.bare.attrs}


def _cover_sentence(found: Cover, last: BareDay, system: units.System) -> str:
    days = list(dict.fromkeys((found.bare[0].date, last.date)))
    shares = [
        f"{100 * mean(day.bare_covered):.0f} percent of the ground on {wording.dates_in(day.date)}"
        for day in found.bare
        if day.date in days
    ]
    name = main_lie(found)
    parts = []
    for sow in map(str, found.residue["sow"].values):
        loss = soil_loss(last.covered(sow, name))
        less = last.loss_less(found, sow, name)
        falls = np.isfinite(last.bare_covered).sum()
        over = f"{_percents(less.weather_low, less.weather_high)} {within(int(falls))}, "
        parts.append(
            f"{100 * mean(loss):.0f} percent under the {wording.dates_in(sow)} sowing and old "
            f"residue, {100 * mean(soil_loss(last.bare_covered) - loss):.0f} points less "
            f"({over if falls > 1 else ''}{_percents(less.low, less.high)} in a field like these)"
        )
    lying = (
        "residue"
        if kind_of(last.bare.attrs).volunteers
        else "what is left of the last crop's residue"
    )
    return (
        f"Bare soil, {described(_about(found, last), system)}, lies under {lying}: "
        f"{wording.join(shares)}. On {wording.dates_in(last.date)} its soil loss is, by cover "
        f"alone, {100 * mean(soil_loss(last.bare_covered)):.0f} percent of that without any "
        f"cover; it is {wording.join(parts)}."
    )


def _percents(low: float, high: float) -> str:
    return f"{100 * low:.0f} to {100 * high:.0f}"


def _soil_sentences(found: Cover, day: BareDay, system: units.System) -> list[str]:
    """Say what is in the soil on the day of planting beside bare soil."""
    if not day.planting:
        return []
    name, parts = main_lie(found), []
    for sow in map(str, found.residue["sow"].values):
        water, nitrate = (day.left(sow, name, field) for field, _ in SOIL)
        if water is not None and nitrate is not None:
            parts.append(
                f"sown {wording.dates_in(sow)}, the stand leaves "
                f"{amount(water.mean, 'water', system, 'water')}"
                f"{range_less(water, 'water', system)} and "
                f"{amount(nitrate.mean, 'nitrogen', system, 'nitrate nitrogen')}"
                f"{range_less(nitrate, 'nitrogen', system)}"
            )
    if not parts:
        return []
    held = [units.spell(mean(day.bare[field].values), kind, system) for field, kind in SOIL]
    return [
        f"On {wording.dates_in(day.date)} bare soil holds {held[0]} of water and {held[1]} of "
        f"nitrate nitrogen. Beside it in the same fall, {'; '.join(parts)}."
    ]


def tables(found: Cover, system: units.System) -> list[str]:
    """Print cover and soil loss beside bare soil, and what is left in the soil at planting."""
    if not found.bare:
        return []
    name = main_lie(found)
    title = f"Ground covered and soil loss beside bare soil, residue {_residue_label(name)}:"
    printed = [
        title,
        _soil_loss_table(found, name),
        paragraph(_about_cover(found.bare[0].bare.attrs)),
    ]
    for day in found.bare:
        if day.planting:
            printed += [
                f"The soil on {wording.dates_in(day.date)} beside bare soil, residue "
                f"{_residue_label(name)}:",
                _soil_table(found, day, name, system),
            ]
    return printed


def _residue_label(name: str) -> str:
    return {"standing": "left standing", "flat": "laid flat"}.get(name, name)


def _about_cover(about: Mapping[str, Any]) -> str:
    lies = "the last crop's residue lies alone"
    if kind_of(about).volunteers:
        lies = "lie the last crop's residue and what the volunteers leave"
    return (
        "Old residue and that of the stand together; soil loss by cover alone, as a share of that "
        f"without any cover. On bare soil {lies}."
    )


def _soil_loss_table(found: Cover, name: str) -> str:
    rows = []
    for day in found.bare:
        date = wording.dates_in(day.date)
        covered = day.bare_covered
        rows.append([date, NAME, *_mean_percents(covered, soil_loss(covered)), *3 * [NOTHING]])
        for sow in map(str, found.residue["sow"].values):
            under = day.covered(sow, name)
            less = soil_loss(covered) - soil_loss(under)
            ranges = day.loss_less(found, sow, name)
            rows.append(
                [
                    date,
                    f"sown {wording.dates_in(sow)}",
                    *_mean_percents(under, soil_loss(under), less),
                    _span(ranges.weather_low, ranges.weather_high),
                    _span(ranges.low, ranges.high),
                ]
            )
    columns = [
        Column("on", left=True),
        Column("field", left=True),
        Column("covered", "%"),
        Column("soil\nloss", "%"),
        Column("less than\nbare soil", "points"),
        *range_columns("points"),
    ]
    return table(columns, rows)


def _mean_percents(*shares: Array) -> list[str]:
    return [plain_number(100.0 * mean(share)) for share in shares]


def _span(low: float, high: float) -> str:
    ends = [plain_number(100.0 * end) for end in (low, high)]
    return f"{ends[0]}{' to ' if ends[0].startswith('-') else '-'}{ends[1]}"


def _soil_table(found: Cover, day: BareDay, name: str, system: units.System) -> str:
    water, nitrogen = units.label("water", system), units.label("nitrogen", system)
    several_falls = day.bare.sizes["year"] > 1
    columns = [Column("field", left=True)]
    for what, unit in (("water", water), ("nitrate", nitrogen)):
        columns += [Column(what, unit), Column("less", unit)]
        columns += [Column(OVER_FALLS, unit), Column("less\nin falls")] if several_falls else []
    bare = [NAME]
    for field, kind in SOIL:
        bare += [number(mean(day.bare[field].values), kind, system), NOTHING]
        bare += 2 * [NOTHING] if several_falls else []
    rows = [bare]
    for sow in map(str, found.residue["sow"].values):
        cells = [f"sown {wording.dates_in(sow)}"]
        for field, kind in SOIL:
            less = day.left(sow, name, field)
            if less is None:
                cells += (4 if several_falls else 2) * [NOTHING]
                continue
            cells += [number(mean(less.planted), kind, system), number(less.mean, kind, system)]
            cells += over_falls_less(less, kind, system) if several_falls else []
        rows.append(cells)
    return table(columns, rows)


def json_rows(found: Cover) -> list[dict[str, Any]]:
    """Return a row a day, sowing and way to lie: cover, soil loss and the soil beside bare soil."""
    rows = []
    for day in found.bare:
        bare = day.bare_covered
        for sow in map(str, found.residue["sow"].values):
            for name in map(str, found.residue["residue"].values):
                under = day.covered(sow, name)
                row: dict[str, Any] = {
                    "date": day.date,
                    "sow": sow,
                    "residue": name,
                    "bare_ground_covered": mean(bare),
                    "bare_soil_loss_ratio": mean(soil_loss(bare)),
                    "ground_covered_old_and_new": mean(under),
                    "soil_loss_ratio_old_and_new": mean(soil_loss(under)),
                    "soil_loss_less_mean": mean(soil_loss(bare) - soil_loss(under)),
                    **day.loss_less(found, sow, name).row("soil_loss_less", "share"),
                }
                for field, unit in (("planting_water", "mm"), ("planting_nitrate", "kg_ha")):
                    less = day.left(sow, name, f"{field}_{unit}")
                    if less is not None and day.planting:
                        row |= less.row(field, unit)
                rows.append({key: plain(value) for key, value in row.items()})
    return rows
