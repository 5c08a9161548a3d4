"""Residue from termination on, as tables, sentences and rows of a chart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.advice import wording
from simulator.advice.cover import COVERS, HEAVY, WEEK, Cover, weekly_nitrogen
from simulator.show.grids import heading
from simulator.show.output import plain
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
FIRST_DAYS = 60  # over which sentences sum up soil loss
GIVEN_BACK = 0.9  # share of the most tied up, above which hardly any has come back
LITTLE = 1.0  # kg/ha of nitrogen not worth a word
_DONE = {"standing": "left standing", "flat": "laid flat", "rolled": "rolled", "buried": "buried"}
CAUTIONS = (
    "Soil loss is by cover alone, against the same ground bare; a conservation plan's own "
    "reckoning counts slope, rain, roughness and tillage too.",
    "How heavy residue must be to hold back weeds is a rule of thumb, for small-seeded annuals not "
    "yet up; large-seeded and perennial weeds come through.",
)


def head(found: Cover, system: units.System) -> str:
    """Say what was grown where, and when and how it was ended."""
    stands = found.stands
    about = heading(stands.attrs, stands["year"].values.tolist())
    return f"{about}\n{paragraph(plan_of(found, system))}"


def plan_of(found: Cover, system: units.System) -> str:
    """Say how the stand was grown and ended, and for how long it was followed."""
    about = found.after.attrs
    return (
        f"Seeded at {units.spell(about['seeding_kg_ha'], 'mass', system)} with "
        f"{units.spell(about['nitrogen_kg_ha'], 'nitrogen', system)} of nitrogen "
        f"{wording.timing(about['nitrogen_timing'])}, ended {wording.ending(about['end'])}, "
        f"followed for {found.days} days."
    )


def main_lie(found: Cover) -> str:
    """Name the way to lie that sentences and the longer tables speak of."""
    names = [str(name) for name in found.after["residue"].values]
    return "rolled" if "rolled" in names else names[0]


def lies_as(name: str) -> str:
    """Say how residue was left: ``"laid flat"``, ``"rolled"``."""
    return _DONE.get(name, name)


def tables(found: Cover, system: units.System) -> list[str]:
    """Print days of cover for every sowing and way to lie; cover, mass and nitrogen over time."""
    name = main_lie(found)
    return [_lasting(found, system), paragraph(_meaning(found, system).strip()),
            f"{lies_as(name).capitalize()}:", _over_time(found, name, system),
            _nitrogen(found, name, system),
            paragraph("Nitrogen set free by decay of shoots and roots, mean over falls; below zero "
                      "it is tied up, where the soil has so much.")]  # fmt: skip


def _meaning(found: Cover, system: units.System) -> str:
    return (f"{spread_meaning(found.after.sizes['year'])} Days are those with so much of the "
            f"ground covered or more; \u2265 where a fall's cover outlasts the {found.days} days. "
            f"Heavy: {units.spell(HEAVY, 'mass', system)} or more on the ground.")  # fmt: skip


def _lasting(found: Cover, system: units.System) -> str:
    rows = []
    for sow in found.after["sow"].values:
        stand = found.stands.sel(sow=sow)
        for name in found.after["residue"].values:
            falls = found.falls.sel(sow=sow, residue=name)
            start = found.by_day.sel(sow=sow, residue=name).isel(day=0)
            days = [_days(falls, f"{100 * share:.0f}") for share in reversed(COVERS)]
            rows.append([
                wording.dates_in(str(sow)), str(name),
                number(mean(stand["biomass_kg_ha"].values), "mass", system),
                plain_number(mean(stand["carbon_to_nitrogen"].values)),
                plain_number(100.0 * float(start["ground_covered"])), *days,
                plain_number(mean(falls["days_heavy"].values)),
            ])  # fmt: skip
    return table(
        [Column("sown", left=True), Column("residue", left=True),
         Column("shoots", units.label("mass", system)), Column("C:N"),
         Column("covered\nat first", "%"),
         *(Column(f"days\nabove {100 * share:.0f} %") for share in reversed(COVERS)),
         Column("days\nheavy")], rows,
    )  # fmt: skip


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
            cells += [number(float(at["shoot_residue_kg_ha"]), "mass", system),
                      number(float(at["root_residue_kg_ha"]), "mass", system),
                      plain_number(100.0 * float(at["ground_covered"])),
                      plain_number(float(at["soil_loss_ratio"]), 2)]  # fmt: skip
        rows.append([str(day), *cells])
    mass = units.label("mass", system)
    columns = [Column("day")]
    for sow in sowings:
        columns += [Column(f"{wording.dates_in(sow)}\nshoots", mass), Column("roots", mass),
                    Column("cover", "%"), Column("soil loss\nratio")]  # fmt: skip
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
            cells += [number(float(weekly.sel(sow=sow, week=week)), "nitrogen", system, digits=1),
                      number(float(since), "nitrogen", system, digits=1)]  # fmt: skip
        rows.append([str(week), *cells])
    unit = units.label("nitrogen", system)
    columns = [Column("week")]
    for sow in sowings:
        columns += [Column(f"{wording.dates_in(sow)}\nin the week", unit),
                    Column("since\nthe end", unit)]  # fmt: skip
    return table(columns, rows)


def sentences(found: Cover, system: units.System) -> list[str]:
    """Say what the residue comes to, in sentences made from its numbers."""
    name = main_lie(found)
    sowings = [str(sow) for sow in found.after["sow"].values]
    told = [_lasts(found, name, sow, system) for sow in sowings]
    told.append(_soil(found, name, sowings))
    told += [_feeds(found, name, sow, system) for sow in sowings]
    told.append(_weeds(found, name, sowings, system))
    told.append(_lies(found, sowings[0]))
    return [one for one in told if one]


def _lasts(found: Cover, name: str, sow: str, system: units.System) -> str:
    stand = found.stands.sel(sow=sow)
    falls = found.falls.sel(sow=sow, residue=name)
    start = found.by_day.sel(sow=sow, residue=name).isel(day=0)
    done = lies_as(name)
    days = []
    for share in (0.60, 0.30):
        percent = f"{100 * share:.0f}"
        least = "at least " if falls[f"above_{percent}_at_last"].values.any() else ""
        count = mean(falls[f"days_above_{percent}"].values)
        days.append(f"above {percent} percent for {least}{count:.0f} days" if count >= 1
                    else f"never above {percent} percent")  # fmt: skip
    mass = units.spell(mean(stand["biomass_kg_ha"].values), "mass", system)
    return (
        f"{done.capitalize()} {wording.ending(str(found.after.attrs['end']))}, the stand sown on "
        f"{wording.dates_in(sow)} ({mass} at C:N "
        f"{mean(stand['carbon_to_nitrogen'].values):.0f}) covers "
        f"{100 * float(start['ground_covered']):.0f} percent of the ground at first, "
        f"{wording.join(days)}{', as means over falls' if found.after.sizes['year'] > 1 else ''}."
    )


def _soil(found: Cover, name: str, sowings: list[str]) -> str:
    days = min(FIRST_DAYS, found.days)
    ratio = (
        found.by_day["soil_loss_ratio"].sel(residue=name).isel(day=slice(1, days + 1)).mean("day")
    )
    told = [
        f"{100 * float(ratio.sel(sow=sow)):.0f} percent under the {wording.dates_in(sow)} sowing"
        for sow in sowings
    ]
    return (f"Over the first {days} days soil loss is, as a share of that from bare ground, "
            f"{wording.join(told)}, by cover alone.")  # fmt: skip


def _feeds(found: Cover, name: str, sow: str, system: units.System) -> str:
    released = found.by_day["nitrogen_released_kg_ha"].sel(sow=sow, residue=name).values
    last = float(released[-1])
    whose = f"Decay of the {wording.dates_in(sow)} sowing"
    lowest = int(np.argmin(released))

    def spelled(value: float) -> str:
        return units.spell(abs(value), "nitrogen", system)

    if released[lowest] > -LITTLE:
        if last < LITTLE:
            return f"{whose} neither gives nor takes nitrogen worth a word in {found.days} days."
        month = float(released[min(28, released.size - 1)])
        soon = spelled(month) if month >= LITTLE else "hardly any"
        return (f"{whose} sets nitrogen free: {soon} in the first four weeks, {spelled(last)} by "
                f"day {found.days}.")  # fmt: skip
    early = float(released[min(56, released.size - 1)])
    first = f"{whose} ties up nitrogen, {spelled(early)} in the first eight weeks"
    if released.size <= 57:
        first = f"{whose} ties up nitrogen, {spelled(last)} by day {found.days}"
        return f"{first}: allow for it in the next crop."
    if last < GIVEN_BACK * released[lowest]:
        return (f"{first} and {spelled(last)} by day {found.days}, with little given back by then: "
                "allow for it in the next crop.")  # fmt: skip
    return (f"{first}, at most {spelled(released[lowest])} around week {lowest // WEEK + 1}, and "
            f"then gives it back: on day {found.days} the balance is {spelled(last)} "
            f"{'tied up' if last < 0 else 'set free'}.")  # fmt: skip


def _weeds(found: Cover, name: str, sowings: list[str], system: units.System) -> str:
    need = units.spell(HEAVY, "mass", system)
    told = []
    for sow in sowings:
        days = found.falls["days_heavy"].sel(sow=sow, residue=name).values
        known = days[np.isfinite(days)]
        heavy = known[known > 0]
        whose = f"the {wording.dates_in(sow)} sowing"
        if heavy.size:
            told.append(f"{whose} does in {heavy.size} of {known.size} falls, then for "
                        f"{heavy.mean():.0f} days as a mean")  # fmt: skip
        else:
            most = float(found.after["ground_residue_kg_ha"].sel(sow=sow, residue=name).max())
            told.append(f"{whose} never does (at most {units.spell(most, 'mass', system)})")
    return (f"Holding back small weeds by weight alone takes some {need} on the ground: "
            f"{wording.join(told)}.")  # fmt: skip


def _lies(found: Cover, sow: str) -> str:
    names = [str(name) for name in found.after["residue"].values]
    if len(names) < 2:
        return ""
    told = []
    for name in names:
        by_day = found.by_day["ground_covered"].sel(sow=sow, residue=name)
        last = min(90, found.days)
        told.append(f"{lies_as(name)} {100 * float(by_day[0]):.0f} and then "
                    f"{100 * float(by_day.sel(day=last)):.0f}")  # fmt: skip
    return (f"Percent of the ground that the {wording.dates_in(sow)} sowing covers at first and on "
            f"day {min(90, found.days)}: {', '.join(told)}.")  # fmt: skip


def falls_json(found: Cover) -> list[dict[str, Any]]:
    """Return a row a fall, sowing and way to lie: its days and its nitrogen by week."""
    weekly = weekly_nitrogen(found.after)
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
            columns = (at[field].values for field in ("ground_covered", "shoot_residue_kg_ha",
                                                      "nitrogen_released_kg_ha"))  # fmt: skip
            for day, covered, mass, nitrogen in zip(days, *columns, strict=True):
                rows.append({
                    "sown": wording.dates_in(str(sow)), "residue": str(name), "day": day,
                    "cover": plain(100.0 * covered),
                    "mass": plain(units.show(mass, "mass", system)),
                    "nitrogen": plain(units.show(nitrogen, "nitrogen", system)),
                })  # fmt: skip
    return rows
