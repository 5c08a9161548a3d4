"""One season as tables: a digest of its days, and where water and nitrogen went."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.season.words import balances, sowing_date
from simulator.season.plan import dressings
from simulator.show import wording
from simulator.show.grids import place
from simulator.show.tables import Column, number, paragraph, plain_number, table
from simulator.weather.fall_year import season_day

if TYPE_CHECKING:
    import xarray as xr

DIGEST_DAYS = (1, 15)  # of each month
# balance -> kind of quantity, digits printed
_SELDOM = ("soil_test_correction_kg_ha", "irrigation_mm")  # most fields have neither
_KINDS = {"water": ("rain", None), "nitrogen": ("nitrogen", 1), "dry matter": ("mass", 1)}


def heading(days: xr.Dataset, system: units.System) -> str:
    """Say what was grown, where, and how."""
    about = days.attrs
    first, last = (wording.day_in(days["time"].values[at]) for at in (0, -1))
    seed = units.spell(about["seeding_kg_ha"], "mass", system)
    nitrogen = units.spell(about["nitrogen_kg_ha"], "nitrogen", system)
    text = (
        f"{wording.stand(about).capitalize()} on {about['soil']} after {about['previous_crop']}, "
        f"at {place(about)}; the fall of {about['year']}. Sown on {wording.dates_in(about['sow'])} "
        f"at {seed} of seed, with {nitrogen} of nitrogen as {about['fertilizer']} "
        f"{wording.timing(about['nitrogen_timing'])}, to be ended {wording.ending(about['end'])}. "
        f"The soil is followed from {first} to {last}."
    )
    if about.get("changes"):
        text += f" The weather is changed: {about['changes']}."
    return paragraph(text)


def digest(days: xr.Dataset, system: units.System) -> str:
    """Print the season twice a month, with the days of sowing, of nitrogen and of the end."""
    nitrogen = units.label("nitrogen", system)
    water = units.label("water", system)
    columns = [
        Column("date", left=True),
        Column("stage", "Zadoks"),
        Column("biomass", units.label("biomass", system)),
        Column("leaf\narea", "m2/m2"),
        Column("N in\nshoots", nitrogen),
        Column("nitrate\nin soil", nitrogen),
        Column("rain", water),
        Column("drained", water),
        Column("leached", nitrogen),
        Column("event", left=True),
    ]
    events = _events(days)
    kinds = (
        ("biomass_kg_ha", "biomass"),
        ("leaf_area_index", ""),
        ("nitrogen_uptake_kg_ha", "nitrogen"),
        ("soil_nitrate_kg_ha", "nitrogen"),
        ("rain_mm", "water"),
        ("drainage_mm", "water"),
        ("nitrate_leached_kg_ha", "nitrogen"),
    )
    rows = []
    for day in days["time"].values.astype("datetime64[D]"):
        date = str(day)
        if int(date[-2:]) not in DIGEST_DAYS and day not in events:
            continue
        today = days.sel(time=day)
        rows.append(
            [
                wording.dates_in(date[5:]),
                plain_number(float(today["growth_stage_zadoks"])),
                *(
                    number(float(today[name]), kind, system)
                    if kind
                    else plain_number(float(today[name]), 1)
                    for name, kind in kinds
                ),
                events.get(day, ""),
            ]
        )
    first = wording.day_in(days["time"].values[0])
    title = f"The season so far, at the end of each day; nitrogen, rain and losses since {first}:"
    return f"{title}\n\n{table(columns, rows)}"


def _events(days: xr.Dataset) -> dict[Any, str]:
    about = days.attrs
    year = int(about["year"])
    sown, last = sowing_date(days), days["time"].values[-1].astype("datetime64[D]")
    events: dict[Any, list[str]] = {sown: ["sown"]}
    if float(about["nitrogen_kg_ha"]) > 0:
        for dressing in dressings(str(about["nitrogen_timing"])):
            when = season_day(year, dressing.when) if dressing.when else sown
            events.setdefault(when, []).append("N")
    events.setdefault(last, []).append("ended" if about["end_reached"] == "yes" else "weather ends")
    return {day: "+".join(what) for day, what in events.items()}


def balance_tables(days: xr.Dataset, system: units.System) -> list[str]:
    """Print the balances: what came in, where it went, what is not found."""
    found = balances(days)
    return [_balance(name, found[name.replace(" ", "_")], days, system) for name in _KINDS]


def _balance(name: str, sides: dict[str, Any], days: xr.Dataset, system: units.System) -> str:
    kind, digits = _KINDS[name]
    unit = units.label(kind, system)
    columns = [Column(f"{name} balance", left=True), Column("in", unit), Column("out", unit)]
    rows = []
    for side in ("in", "out"):
        for field, amount in sides[side].items():
            if field in _SELDOM and not amount:
                continue
            shown = number(amount, kind, system, digits=digits)
            meaning = days[field].attrs["long_name"]
            rows.append([meaning, shown, ""] if side == "in" else [meaning, "", shown])
    totals = [
        number(sum(sides[side].values()), kind, system, digits=digits) for side in ("in", "out")
    ]
    rows.append(["total", *totals])
    error = float(np.abs(units.show(sides["error"], kind, system)))
    apart = f"within a millionth of 1 {unit}" if error < 1e-6 else f"{error:.1g} {unit}"
    return f"{table(columns, rows)}\nIn and out agree to {apart}."
