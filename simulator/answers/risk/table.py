"""The risk of plans as tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.answers.risk.calculate import Risk
from simulator.answers.risk.chance import ALL, FORECAST, NITRATE_LIMIT
from simulator.answers.risk.data import OUTER, plans_in
from simulator.answers.risk.words import heading, in_falls
from simulator.show import wording
from simulator.show.tables import NOTHING, Column, number, paragraph, plain_number, table

if TYPE_CHECKING:
    import xarray as xr


def text(found: Sequence[Risk], system: units.System) -> tuple[str, list[str]]:
    """Lay out the heading and the tables: place by place, then the places beside each other."""
    blocks = [block for one in found for block in (heading(one, system), *tables(one, system))]
    if len(found) > 1 and found[0].sought is not None:
        blocks.append(places_table(found, system))
    return blocks[0], blocks[1:]


def tables(one: Risk, system: units.System) -> list[str]:
    """Print a place: chance and nitrate by plan, latest sowings, and the kinds of year."""
    laid = []
    for outer in plans_in(one.table, OUTER):
        part = one.table.sel(outer)
        when = wording.timing(outer["nitrogen_timing"])
        title = (
            f"Seeded at {units.spell(outer['seeding'], 'mass', system)}, nitrogen {when}, "
            f"ended {wording.ending(outer['end'])}:"
        )
        laid.append(f"{title}\n\n{_by_plan(part.sel(kind=ALL), system)}")
        if one.table.sizes["kind"] > 1:
            laid.append(
                "Chance by kind of year (percent), with the number of falls:\n\n"
                + _by_kind(part, system)
            )
        if one.sought is not None:
            laid.append(f"{_latest_title(one)}\n\n{_latest(part, one, system)}")
    laid.append(paragraph(_meaning(one, system)))
    return laid


def chance(row: xr.Dataset) -> str:
    """Print a chance and its interval: ``"80 (63-90)"``."""
    values = [float(row[f"chance{end}_percent"]) for end in ("", "_low", "_high")]
    if not np.isfinite(values[0]):
        return NOTHING
    return f"{values[0]:.0f} ({values[1]:.0f}-{values[2]:.0f})"


def _by_plan(part: xr.Dataset, system: units.System) -> str:
    mass, nitrogen = units.label("mass", system), units.label("nitrogen", system)
    columns = [
        Column("sown", left=True),
        Column("N", nitrogen),
        Column("chance of\nthe target", "%"),
        Column("in 8 of 10\nat least", mass),
        Column("in 5 of 10\nat least", mass),
        Column("in 2 of 10\nat least", mass),
        Column("N\nleached", nitrogen),
        Column("N in\ndrainage", "mg/L"),
        Column("falls over\nthe limit", "%"),
    ]
    rows = []
    for plan in plans_in(part, ("sow", "nitrogen")):
        row = part.sel(plan)
        rows.append(
            [
                wording.dates_in(plan["sow"]),
                number(plan["nitrogen"], "nitrogen", system),
                chance(row),
                *(number(float(row[f"biomass_p{p}_kg_ha"]), "mass", system) for p in (20, 50, 80)),
                number(float(row["nitrate_leached_kg_ha"]), "nitrogen", system),
                plain_number(float(row["nitrate_concentration_mg_l"]), 1),
                plain_number(float(row["above_limit_percent"])),
            ]
        )
    return table(columns, rows)


def _by_kind(part: xr.Dataset, system: units.System) -> str:
    kinds = [str(kind) for kind in part["kind"].values]
    falls = {kind: int(part["falls"].sel(kind=kind).max()) for kind in kinds}
    columns = [Column("sown", left=True), Column("N", units.label("nitrogen", system))]
    columns += [Column(_broken(f"{kind} ({falls[kind]})")) for kind in kinds]
    rows = [
        [
            wording.dates_in(plan["sow"]),
            number(plan["nitrogen"], "nitrogen", system),
            *(chance(part.sel({**plan, "kind": kind})) for kind in kinds),
        ]
        for plan in plans_in(part, ("sow", "nitrogen"))
    ]
    return table(columns, rows)


def _broken(title: str) -> str:
    return title.replace(" ", "\n")


def _latest_title(one: Risk) -> str:
    reaches = f"Latest sowing that reaches the target {in_falls(one.often)}"
    return f"{reaches}, sought from {_sought(one)}:"


def _sought(one: Risk) -> str:
    return " to ".join(wording.dates_in(date) for date in one.sought or ())


def _latest(part: xr.Dataset, one: Risk, system: units.System) -> str:
    kinds = [str(kind) for kind in part["kind"].values]
    columns = [
        Column("N", units.label("nitrogen", system)),
        *(Column(_broken(kind)) for kind in kinds),
    ]
    rows = []
    for rate in part["nitrogen"].values:
        found = part.sel(nitrogen=rate).isel(sow=0)["latest_sowing"]
        known = part["chance_percent"].sel(nitrogen=rate).isel(sow=0).notnull()
        texts = [
            wording.dates_in(str(found.sel(kind=kind).values))
            or ("none" if bool(known.sel(kind=kind)) else NOTHING)
            for kind in kinds
        ]
        rows.append([number(rate, "nitrogen", system), *texts])
    return table(columns, rows)


def _meaning(one: Risk, system: units.System) -> str:
    texts = [
        "The chance is the share of falls that reach the target; in brackets, its 95 % Wilson "
        "interval, which says what so few falls allow."
    ]
    texts.append(
        "N leached is nitrate nitrogen washed below the soil column since September, as a "
        "mean; N in drainage is its flow-weighted mean concentration, and the limit that "
        f"for drinking water, {NITRATE_LIMIT:g} mg/L of nitrate nitrogen."
    )
    if FORECAST in one.groups:
        texts.append(
            "The forecast gives each kind of year its chance, shared evenly by its falls; "
            "its interval rests on the effective number of falls."
        )
    if one.index is not None:
        texts.append(
            f"For comparison, the leaching index, which knows only rain "
            f"({units.spell(one.index.annual, 'water', system)} a year, "
            f"{units.spell(one.index.winter, 'water', system)} of it from October to March) and "
            f"hydrologic group {one.index.group}, is {one.index.index:.1f} inches: "
            f"{one.index.rank}."
        )
    return " ".join(texts)


def places_table(found: Sequence[Risk], system: units.System) -> str:
    """Print places beside each other: latest sowing by nitrogen rate, all falls."""
    rates = found[0].table["nitrogen"].values.tolist()
    head = [
        f"{number(rate, 'nitrogen', system)} {units.label('nitrogen', system)}" for rate in rates
    ]
    columns = [
        Column("place", left=True),
        Column("falls"),
        Column("sought", left=True),
        *(Column(f"N {text}") for text in head),
    ]
    rows = []
    for one in found:
        part = one.table.sel(kind=ALL).isel(dict.fromkeys(("sow", *OUTER), 0))
        texts = [
            wording.dates_in(str(part["latest_sowing"].sel(nitrogen=rate).values)) or "none"
            for rate in rates
        ]
        rows.append([one.site, str(one.grid.sizes["year"]), _sought(one), *texts])
    return (
        "The places beside each other. Latest sowing that reaches the target "
        f"{in_falls(found[0].often)}:\n\n{table(columns, rows)}"
    )
