"""How the risk of plans looks: tables, sentences, and the chart of how often biomass is reached."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.advice import wording
from simulator.advice.few_falls import effective_number
from simulator.advice.risk import ALL, FEW, FEWEST, FORECAST, NITRATE_LIMIT, Risk
from simulator.advice.whatif import ORDINARY_RATE
from simulator.show import grids
from simulator.show.tables import NOTHING, Column, number, paragraph, plain_number, table
from simulator.weather.year_types import WAYS

if TYPE_CHECKING:
    import xarray as xr

MOST_IN_FULL = 10  # places of which each is told by itself
OUTER = ("seeding", "nitrogen_timing", "end")


def dataset(found: Sequence[Risk]) -> xr.Dataset:
    """Put the tables of places beside each other, along ``site`` where there are several."""
    import xarray as xr

    if len(found) == 1:
        return found[0].table
    kinds = list(dict.fromkeys(str(kind) for one in found for kind in one.groups))
    empty = {"latest_sowing": ""} if "latest_sowing" in found[0].table else np.nan
    tables = [one.table if list(one.groups) == kinds
              else one.table.reindex(kind=kinds, fill_value=empty) for one in found]  # fmt: skip
    sites = [one.site for one in found]
    if all(_labels(each) == _labels(tables[0]) for each in tables):  # a tenth of the time of concat
        joined = xr.Dataset(
            {name: (("site", *one.dims), np.stack([t.variables[name].values for t in tables]),
                    one.attrs)
             for name, one in tables[0].data_vars.items()},
            {**tables[0].coords, "site": sites},
        )  # fmt: skip
    else:
        joined = xr.concat([each.assign_coords(site=site) for each, site in
                            zip(tables, sites, strict=True)], "site", join="outer")  # fmt: skip
    joined.attrs = {
        name: value for name, value in tables[0].attrs.items()
        if name != "site" and all(str(each.attrs.get(name)) == str(value) for each in tables)
    }  # fmt: skip
    beside = {
        name: [one.grid.attrs.get(name, np.nan) for one in found]
        for name in ("latitude", "longitude")
    }
    soils = [str(one.grid.attrs["soil"]) for one in found]
    return joined.assign_coords(
        {name: ("site", np.array(values, dtype=float)) for name, values in beside.items()}
        | ({"soil": ("site", soils)} if len(set(soils)) > 1 else {})
    )


def _labels(table_: xr.Dataset) -> dict[str, list[Any]]:
    return {name: table_.variables[name].values.tolist() for name in map(str, table_.dims)}


def inputs(found: Sequence[Risk], kinds: str | None, weights: str | None) -> dict[str, Any]:
    """Return what an answer rests on beside plans and weather."""
    asked = {"target_kg_ha": found[0].target, "chance_percent": 100 * found[0].often}
    sorted_by = {"kinds": kinds, "weights": weights} if kinds else {}
    if len(found) > MOST_IN_FULL:
        return {**asked, **sorted_by}
    falls = {one.site: wording.falls(one.grid["year"].values.tolist()) for one in found}
    return {**asked, **sorted_by, "falls": falls}


def told_apart(found: Sequence[Risk]) -> list[Risk]:
    """Give places of one name a number each."""
    times = Counter(one.site for one in found)
    seen: Counter[str] = Counter()
    named = []
    for one in found:
        seen[one.site] += 1
        number_ = f" {seen[one.site]}" if times[one.site] > 1 else ""
        named.append(replace(one, site=one.site + number_) if number_ else one)
    return named


def text(found: Sequence[Risk], system: units.System) -> tuple[str, list[str]]:
    """Lay out the heading and the tables: place by place, then the places beside each other."""
    blocks = [block for one in found for block in (heading(one, system), *tables(one, system))]
    if len(found) > 1 and found[0].sought is not None:
        blocks.append(places_table(found, system))
    return blocks[0], blocks[1:]


def heading(one: Risk, system: units.System) -> str:
    """Say what is asked at a place."""
    said = grids.heading(one.grid.attrs, one.grid["year"].values.tolist())
    return f"{said}\n" + paragraph(f"Target: {units.spell(one.target, 'mass', system)}.")


def tables(one: Risk, system: units.System) -> list[str]:
    """Print a place: chance and nitrate by plan, latest sowings, and the kinds of year."""
    laid = []
    for outer in _plans(one.table, OUTER):
        part = one.table.sel(outer)
        when = wording.timing(outer["nitrogen_timing"])
        title = (f"Seeded at {units.spell(outer['seeding'], 'mass', system)}, nitrogen {when}, "
                 f"ended {wording.ending(outer['end'])}:")  # fmt: skip
        laid.append(f"{title}\n\n{_by_plan(part.sel(kind=ALL), system)}")
        if one.table.sizes["kind"] > 1:
            laid.append("Chance by kind of year (percent), with the number of falls:\n\n"
                        + _by_kind(part, system))  # fmt: skip
        if one.sought is not None:
            laid.append(f"{_latest_title(one)}\n\n{_latest(part, one, system)}")
    laid.append(paragraph(_meaning(one, system)))
    return laid


def _plans(table_: xr.Dataset, dimensions: Sequence[str]) -> list[dict[str, Any]]:
    labels = [table_[name].values for name in dimensions]
    return [dict(zip(dimensions, values, strict=True)) for values in product(*labels)]


def chance(row: xr.Dataset) -> str:
    """Print a chance and its interval: ``"80 (63-90)"``."""
    values = [float(row[f"chance{end}_percent"]) for end in ("", "_low", "_high")]
    if not np.isfinite(values[0]):
        return NOTHING
    return f"{values[0]:.0f} ({values[1]:.0f}-{values[2]:.0f})"


def _by_plan(part: xr.Dataset, system: units.System) -> str:
    mass, nitrogen = units.label("mass", system), units.label("nitrogen", system)
    columns = [
        Column("sown", left=True), Column("N", nitrogen), Column("chance of\nthe target", "%"),
        Column("in 8 of 10\nat least", mass), Column("in 5 of 10\nat least", mass),
        Column("in 2 of 10\nat least", mass), Column("N\nleached", nitrogen),
        Column("N in\ndrainage", "mg/L"), Column("falls over\nthe limit", "%"),
    ]  # fmt: skip
    rows = []
    for plan in _plans(part, ("sow", "nitrogen")):
        row = part.sel(plan)
        rows.append([
            wording.dates_in(plan["sow"]), number(plan["nitrogen"], "nitrogen", system),
            chance(row),
            *(number(float(row[f"biomass_p{p}_kg_ha"]), "mass", system) for p in (20, 50, 80)),
            number(float(row["nitrate_leached_kg_ha"]), "nitrogen", system),
            plain_number(float(row["nitrate_concentration_mg_l"]), 1),
            plain_number(float(row["above_limit_percent"])),
        ])  # fmt: skip
    return table(columns, rows)


def _by_kind(part: xr.Dataset, system: units.System) -> str:
    kinds = [str(kind) for kind in part["kind"].values]
    falls = {kind: int(part["falls"].sel(kind=kind).max()) for kind in kinds}
    columns = [Column("sown", left=True), Column("N", units.label("nitrogen", system))]
    columns += [Column(_broken(f"{kind} ({falls[kind]})")) for kind in kinds]
    rows = [
        [wording.dates_in(plan["sow"]), number(plan["nitrogen"], "nitrogen", system),
         *(chance(part.sel({**plan, "kind": kind})) for kind in kinds)]
        for plan in _plans(part, ("sow", "nitrogen"))
    ]  # fmt: skip
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


def in_falls(often: float) -> str:
    """Say a share of falls: ``"in 4 falls of 5"``, ``"in 85 percent of falls"``."""
    for whole in (2, 3, 4, 5, 10):
        if abs(often * whole - round(often * whole)) < 1e-9:
            return f"in {round(often * whole)} falls of {whole}"
    return f"in {100 * often:g} percent of falls"


def _meaning(one: Risk, system: units.System) -> str:
    told = ["The chance is the share of falls that reach the target; in brackets, its 95 % Wilson "
            "interval, which says what so few falls allow."]  # fmt: skip
    told.append("N leached is nitrate nitrogen washed below the soil column since September, as a "
                "mean; N in drainage is its flow-weighted mean concentration, and the limit that "
                f"for drinking water, {NITRATE_LIMIT:g} mg/L of nitrate nitrogen.")  # fmt: skip
    if FORECAST in one.groups:
        told.append("The forecast gives each kind of year its chance, shared evenly by its falls; "
                    "its interval rests on the effective number of falls.")  # fmt: skip
    if one.index is not None:
        told.append(
            f"For comparison, the leaching index, which knows only rain "
            f"({units.spell(one.index.annual, 'water', system)} a year, "
            f"{units.spell(one.index.winter, 'water', system)} of it from October to March) and "
            f"hydrologic group {one.index.group}, is {one.index.index:.1f} inches: "
            f"{one.index.rank}."
        )
    return " ".join(told)


def places_table(found: Sequence[Risk], system: units.System) -> str:
    """Print places beside each other: latest sowing by nitrogen rate, all falls."""
    rates = found[0].table["nitrogen"].values.tolist()
    head = [f"{number(rate, 'nitrogen', system)} {units.label('nitrogen', system)}"
            for rate in rates]  # fmt: skip
    columns = [Column("place", left=True), Column("falls"), Column("sought", left=True),
               *(Column(f"N {text}") for text in head)]  # fmt: skip
    rows = []
    for one in found:
        part = one.table.sel(kind=ALL).isel(dict.fromkeys(("sow", *OUTER), 0))
        texts = [wording.dates_in(str(part["latest_sowing"].sel(nitrogen=rate).values)) or "none"
                 for rate in rates]  # fmt: skip
        rows.append([one.site, str(one.grid.sizes["year"]), _sought(one), *texts])
    return ("The places beside each other. Latest sowing that reaches the target "
            f"{in_falls(found[0].often)}:\n\n{table(columns, rows)}")  # fmt: skip


def ordinary(one: Risk) -> float:
    """Return the nitrogen rate that sentences speak of: the one nearest 60 lb/ac."""
    rates = one.table["nitrogen"].values
    return float(rates[np.argmin(np.abs(rates - ORDINARY_RATE))])


def sentences(one: Risk, system: units.System) -> list[str]:
    """Say what a place's numbers mean, for the ordinary rate and the first of other choices."""
    rate = ordinary(one)
    part = one.table.sel(nitrogen=rate).isel(dict.fromkeys(OUTER, 0))
    with_n = f"With {units.spell(rate, 'nitrogen', system)} of nitrogen"
    told = [_of_sowings(part.sel(kind=ALL), one, with_n, system), _of_latest(part, one, with_n)]
    told += [_of_kinds(part, one), _of_nitrate(part.sel(kind=ALL), with_n, system)]
    return [text for text in told if text]


def _of_sowings(part: xr.Dataset, one: Risk, with_n: str, system: units.System) -> str:
    told: dict[str, list[str]] = {}
    for sow in part["sow"].values:
        row = part.sel(sow=sow)
        if not np.isfinite(row["chance_percent"]):
            continue
        falls, share = float(row["falls"]), float(row["chance_percent"]) / 100
        low, high = (float(row[f"chance_{end}_percent"]) for end in ("low", "high"))
        text = (f"{share * falls:.0f} of {falls:.0f} falls{{}} ({100 * share:.0f} percent, "
                f"interval {low:.0f} to {high:.0f})")  # fmt: skip
        told.setdefault(text, []).append(wording.dates_in(str(sow)))
    if not told:
        return ""
    made = wording.join([text.format(f" sown on {wording.join(sowings)}")
                         for text, sowings in told.items()])  # fmt: skip
    falls = int(part["falls"].max())
    few = f" {falls} falls say little." if falls < FEW else ""
    return f"{with_n}, {units.spell(one.target, 'mass', system)} is reached in {made}.{few}"


def _of_latest(part: xr.Dataset, one: Risk, with_n: str) -> str:
    if one.sought is None:
        return ""
    row = part.isel(sow=0).sel(kind=ALL)
    latest = str(row["latest_sowing"].values)
    first, last = one.sought
    often = in_falls(one.often)
    if not latest:
        return f"{with_n}, no sowing from {wording.dates_in(first)} to {wording.dates_in(last)} " \
               f"reaches it {often}."  # fmt: skip
    if latest == last:
        return (
            f"{with_n}, even the last sowing tried, {wording.dates_in(last)}, reaches it {often}."
        )
    return f"{with_n}, {wording.dates_in(latest)} is the latest sowing that reaches it {often}."


def _of_kinds(part: xr.Dataset, one: Risk) -> str:
    kinds = [kind for kind in one.groups if kind not in (ALL, FORECAST)]
    row = part.isel(sow=0)
    known = [k for k in kinds if np.isfinite(row["chance_percent"].sel(kind=k))]
    if len(known) < 2:
        return ""
    ranked = sorted(known, key=lambda k: float(row["chance_percent"].sel(kind=k)))
    worst, best = row.sel(kind=ranked[0]), row.sel(kind=ranked[-1])
    gap = float(best["chance_percent"] - worst["chance_percent"])
    sown = wording.dates_in(str(row["sow"].values))
    if gap < 1.0:
        return f"Sown on {sown}, the kind of year makes no difference to that chance."
    overlap = float(worst["chance_high_percent"]) >= float(best["chance_low_percent"])
    doubt = ("; the intervals overlap, so that it may be luck" if overlap
             else "; the intervals lie apart")  # fmt: skip
    said = (f"Sown on {sown}, {ranked[-1]} years reach it most often, "
            f"{float(best['chance_percent']):.0f} percent, and {ranked[0]} years least, "
            f"{float(worst['chance_percent']):.0f} percent{doubt}.")  # fmt: skip
    if FORECAST in one.groups and np.isfinite(row["chance_percent"].sel(kind=FORECAST)):
        weighed, plain = (float(row["chance_percent"].sel(kind=k)) for k in (FORECAST, ALL))
        said += f" The forecast makes that {weighed:.0f} percent in place of {plain:.0f}."
    return said


def _of_nitrate(part: xr.Dataset, with_n: str, system: units.System) -> str:
    strength = part["nitrate_concentration_mg_l"]
    if not np.isfinite(strength).any():
        return f"{with_n}, nothing drains."
    low, high = float(strength.min()), float(strength.max())
    sow = str(part["sow"].values[int(np.nanargmin(strength.values))])
    side = ("below" if high <= NITRATE_LIMIT else "above" if low > NITRATE_LIMIT
            else "on either side of")  # fmt: skip
    span = f"{low:.0f} to {high:.0f}" if round(low) != round(high) else f"{low:.0f}"
    lost = units.spell(float(part["nitrate_leached_kg_ha"].sel(sow=sow)), "nitrogen", system)
    return (f"{with_n}, drainage carries {span} mg/L of nitrate nitrogen, {side} the limit for "
            f"drinking water ({NITRATE_LIMIT:g}), least sown on {wording.dates_in(sow)}, when "
            f"{lost} leach; on its way to a well it is diluted and denitrified.")  # fmt: skip


def notes(one: Risk, kinds: str | None = None) -> list[str]:
    """Say where there are too few falls, and where kinds of real years meet invented ones."""
    told = []
    if kinds and kinds not in WAYS and one.grid.attrs.get("invented") == "yes":
        told.append(f"The falls of {one.site} are invented: kinds of real years do not fit them.")
    count = round(one.worth * one.grid.sizes["year"])
    if one.recorded is not None:
        told.append(f"{one.grid.sizes['year']:,} falls were generated from {one.recorded} recorded "
                    "ones; more of them add no knowledge, and the intervals are those of "
                    f"{count} falls.")  # fmt: skip
    if count < FEW:
        told.append(f"{count} falls are few: their chances say little, and 30 are usual.")
    short = [
        f"{kind} ({one.worth * weights.sum():.0f})"
        for kind, weights in one.groups.items()
        if kind not in (ALL, FORECAST) and one.worth * weights.sum() < FEWEST
    ]
    if short:
        told.append(f"A chance needs at least {FEWEST} falls, and these kinds have fewer: "
                    f"{', '.join(short)}.")  # fmt: skip
    if FORECAST in one.groups:
        effective = one.worth * effective_number(one.groups[FORECAST])
        if effective < FEWEST:
            told.append(f"The forecast rests on {effective:.1f} effective falls and gets no "
                        f"chance; {FEWEST} are needed.")  # fmt: skip
    return told


def curve_rows(one: Risk, system: units.System, before: str = "") -> list[dict[str, Any]]:
    """Return the corners of the exceedance curves, in the reader's units; first other choices."""
    grid = one.grid.isel(dict.fromkeys(OUTER, 0))["biomass_kg_ha"]
    rows = []
    for plan in _plans(one.table, ("nitrogen", "sow")):
        values = grid.sel(plan).values
        values = np.sort(values[np.isfinite(values)])
        if not values.size:
            continue
        panel = f"{before}{units.spell(plan['nitrogen'], 'nitrogen', system)} of nitrogen"
        steps = 100.0 * np.arange(values.size, 0, -1) / values.size
        corners = zip([0.0, *values, values[-1]], [100.0, *steps, 0.0], strict=True)
        for corner, (biomass, percent) in enumerate(corners):
            rows.append({
                "panel": panel, "sown": wording.dates_in(str(plan["sow"])), "corner": corner,
                "biomass": float(units.show(biomass, "mass", system)), "percent": float(percent),
                "target": float(units.show(one.target, "mass", system)),
            })  # fmt: skip
    return rows
