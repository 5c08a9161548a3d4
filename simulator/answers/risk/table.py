"""The risk of plans as tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.answers.risk.bare_soil import bare_soil
from simulator.answers.risk.calculate import Risk
from simulator.answers.risk.chance import ALL, FORECAST, NITRATE_LIMIT
from simulator.answers.risk.data import DATES, OUTER, plans_in
from simulator.answers.risk.words import heading, surely
from simulator.answers.shared.bare_soil import NAME
from simulator.answers.shared.field_ranges import MEANING, Ranges, range_cells, range_columns
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
        risks = one.table.sel(outer)
        when = wording.timing(outer["nitrogen_timing"])
        title = (
            f"Seeded at {units.spell(outer['seeding'], 'mass', system)}, nitrogen {when}, "
            f"ended {wording.ending(outer['end'])}:"
        )
        laid.append(f"{title}\n\n{_by_plan(risks.sel(kind=ALL), system)}")
        laid.append(f"Nitrate over the falls:\n\n{_nitrate(risks.sel(kind=ALL), one, system)}")
        if one.table.sizes["kind"] > 1:
            laid.append(
                "Chance by kind of year, of weather and field (percent), with the number of "
                "falls:\n\n" + _by_kind(risks, system)
            )
        if one.sought is not None:
            laid.append(f"{_latest_title(one)}\n\n{_latest(risks, one, system)}")
    laid.append(paragraph(_meaning(one, system)))
    return laid


def chance(row: xr.Dataset) -> str:
    """Print the share of falls and its interval: ``"80 (63-90)"``."""
    values = [float(row[f"weather_chance{end}_percent"]) for end in ("", "_low", "_high")]
    if not np.isfinite(values[0]):
        return NOTHING
    return f"{values[0]:.0f} ({values[1]:.0f}-{values[2]:.0f})"


def _by_plan(risks: xr.Dataset, system: units.System) -> str:
    mass = units.label("mass", system)
    columns = [
        Column("sown", left=True),
        Column("N", units.label("nitrogen", system)),
        Column("chance of\nthe target", "%"),
        Column("share of\nthe falls", "%"),
        Column("in 8 of 10\nat least", mass),
        Column("in 5 of 10\nat least", mass),
        *range_columns(mass),
    ]
    rows = []
    for plan in plans_in(risks, ("sow", "nitrogen")):
        row = {
            name: float(value)
            for name, value in risks.sel(plan).data_vars.items()
            if name not in DATES
        }
        ranges = Ranges(
            *(row[f"{of}_{end}_kg_ha"] for of in ("biomass", "weather") for end in ("low", "high"))
        )
        rows.append(
            [
                wording.dates_in(plan["sow"]),
                number(plan["nitrogen"], "nitrogen", system),
                plain_number(row["chance_percent"]),
                chance(risks.sel(plan)),
                number(row["biomass_p20_kg_ha"], "biomass", system),
                number(row["biomass_median_kg_ha"], "biomass", system),
                *range_cells(ranges, "biomass", system),
            ]
        )
    return table(columns, rows)


def _nitrate(risks: xr.Dataset, one: Risk, system: units.System) -> str:
    nitrogen = units.label("nitrogen", system)
    columns = [
        Column("sown", left=True),
        Column("N", nitrogen),
        Column("N\nleached", nitrogen),
        Column("N in\ndrainage", "mg/L"),
        Column("falls over\nthe limit", "%"),
    ]
    rows = []
    for plan in plans_in(risks, ("sow", "nitrogen")):
        row = risks.sel(plan)
        rows.append(
            [
                wording.dates_in(plan["sow"]),
                number(plan["nitrogen"], "nitrogen", system),
                number(float(row["nitrate_leached_kg_ha"]), "nitrogen", system),
                plain_number(float(row["nitrate_concentration_mg_l"]), 1),
                plain_number(float(row["above_limit_percent"])),
            ]
        )
    bare = bare_soil(one, str(risks["end"].values))
    if bare is not None:
        rows.append(
            [
                NAME,
                number(0.0, "nitrogen", system),
                number(bare.leached, "nitrogen", system),
                plain_number(bare.strength, 1),
                plain_number(bare.above_limit),
            ]
        )
    return table(columns, rows)


def _by_kind(risks: xr.Dataset, system: units.System) -> str:
    kinds = [str(kind) for kind in risks["kind"].values]
    falls = {kind: int(risks["falls"].sel(kind=kind).max()) for kind in kinds}
    columns = [Column("sown", left=True), Column("N", units.label("nitrogen", system))]
    columns += [Column(_one_word_a_line(f"{kind} ({falls[kind]})")) for kind in kinds]
    rows = [
        [
            wording.dates_in(plan["sow"]),
            number(plan["nitrogen"], "nitrogen", system),
            *(
                plain_number(float(risks["chance_percent"].sel({**plan, "kind": kind})))
                for kind in kinds
            ),
        ]
        for plan in plans_in(risks, ("sow", "nitrogen"))
    ]
    return table(columns, rows)


def _one_word_a_line(title: str) -> str:
    return title.replace(" ", "\n")


def _latest_title(one: Risk) -> str:
    reaches = f"Latest sowing that reaches the target {surely(one.often)}"
    return f"{reaches}, sought from {_span_text(one)}:"


def _span_text(one: Risk) -> str:
    return " to ".join(wording.dates_in(date) for date in one.sought or ())


def _latest(risks: xr.Dataset, one: Risk, system: units.System) -> str:
    kinds = [str(kind) for kind in risks["kind"].values]
    several_kinds = len(kinds) > 1
    columns = [
        *[Column("falls", left=True)] * several_kinds,
        Column("N", units.label("nitrogen", system)),
        Column("latest\nsowing"),
        Column("chance lost\nby a week", "%"),
        Column("best\nchance", "%"),
        Column("sown\nabout"),
        Column("latest by\nweather alone"),
    ]
    rows = []
    for kind in kinds:
        for rate in risks["nitrogen"].values:
            row = risks.sel(nitrogen=rate, kind=kind).isel(sow=0)
            known = bool(row["chance_percent"].notnull())
            rows.append(
                [
                    *[kind] * several_kinds,
                    number(rate, "nitrogen", system),
                    _date_text(row, "latest_sowing", known=known),
                    plain_number(float(row["latest_loss_percent"])),
                    plain_number(float(row["best_chance_percent"])),
                    _date_text(row, "best_sowing", known=known),
                    _date_text(row, "weather_latest_sowing", known=known),
                ]
            )
    return table(columns, rows)


def _date_text(row: xr.Dataset, name: str, *, known: bool) -> str:
    return wording.dates_in(str(row[name].values)) or ("none" if known else NOTHING)


def _meaning(one: Risk, system: units.System) -> str:
    texts = [
        f"{MEANING} The chance of the target is of weather and field together. The share of the "
        "falls is the weather's alone; in brackets, its 95 % Wilson interval, which says what so "
        "few falls allow. In 8, and in 5, of 10 at least so much is made, weather and field "
        "together."
    ]
    texts.append(
        "N leached, of the weather alone, is nitrate nitrogen leached below the soil column since "
        "September, as a mean; N in drainage is its flow-weighted mean concentration, and the "
        f"limit that for drinking water, {NITRATE_LIMIT:g} mg/L of nitrate nitrogen."
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
        risks = one.table.sel(kind=ALL).isel(dict.fromkeys(("sow", *OUTER), 0))
        texts = [_latest_or_best(risks.sel(nitrogen=rate)) for rate in rates]
        rows.append([one.site, str(one.grid.sizes["year"]), _span_text(one), *texts])
    return (
        "The places beside each other. Latest sowing that reaches the target "
        f"{surely(found[0].often)}; where there is none, the best chance:\n\n"
        f"{table(columns, rows)}"
    )


def _latest_or_best(row: xr.Dataset) -> str:
    """Print the latest sowing or, where there is none, the best chance and its sowing."""
    if latest := str(row["latest_sowing"].values):
        return wording.dates_in(latest)
    best = float(row["best_chance_percent"])
    if not np.isfinite(best):
        return NOTHING
    return f"{best:.0f}%, {wording.dates_in(str(row['best_sowing'].values))}"
