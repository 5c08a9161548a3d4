"""Many places at once: the table that ranks them, and the sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.places.map_file import Row
from simulator.answers.risk import ALL, FORECAST, NITRATE_LIMIT, OUTER, Risk, ordinary, surely
from simulator.answers.shared.field_ranges import how_far_off
from simulator.parameters.model_error import LEVEL, ModelError
from simulator.problems import Parameter, Text
from simulator.show import wording
from simulator.show.output import Answer, plain
from simulator.show.tables import NOTHING, Column, number, paragraph, plain_number, table

LOWEST_SHOWN, HIGHEST_SHOWN = 20, 10  # places of a long table on the terminal
MOST_NAMED = 3  # of the lowest, in a sentence
MOST_TOLD = 12  # of the left out, on the terminal
_LONGEST = 24  # characters of a name in the table

_FIGURES = (
    "chance_percent",
    "weather_chance_percent",
    "weather_chance_low_percent",
    "weather_chance_high_percent",
    "biomass_low_kg_ha",
    "biomass_median_kg_ha",
    "biomass_high_kg_ha",
    "weather_low_kg_ha",
    "weather_high_kg_ha",
    "nitrate_leached_kg_ha",
    "nitrate_concentration_mg_l",
    "above_limit_percent",
    "latest_sowing",
    "best_sowing",
    "best_chance_percent",
    "weather_latest_sowing",
)


def rows_of(found: Sequence[Risk]) -> list[Row]:
    """Return a row for each place, SI: its first sowing, the ordinary nitrogen rate, all falls.

    A forecast, where one is given, goes before all falls; of the other choices it is the first.
    """
    rows = []
    for one in found:
        kind = FORECAST if FORECAST in one.groups else ALL
        rate = ordinary(one)
        at = {"kind": list(one.groups).index(kind), **_plan_position(one)}
        cells = {
            str(name): plain(variable.values[tuple(at[str(dim)] for dim in variable.dims)])
            for name, variable in one.table.variables.items()
        }
        about = one.grid.attrs
        rows.append(
            {
                "site": one.site,
                "latitude": _degrees(about, "latitude"),
                "longitude": _degrees(about, "longitude"),
                "cereal": str(about["cereal"]),
                "soil": str(about["soil"]),
                "invented": about.get("invented") == "yes",
                "sow": cells["sow"],
                "seeding_kg_ha": cells["seeding"],
                "nitrogen_kg_ha": rate,
                "nitrogen_timing": cells["nitrogen_timing"],
                "end": cells["end"],
                "kind": kind,
                "target_kg_ha": one.target,
                "falls": int(cells["falls"]),
                **{name: cells[name] for name in _FIGURES if name in cells},
            }
        )
    return rows


def _plan_position(one: Risk) -> dict[str, int]:
    """Return where the plan stands in a table of risks of which the figures of a place tell."""
    return {
        "sow": 0,
        **dict.fromkeys(OUTER, 0),
        "nitrogen": one.table["nitrogen"].values.tolist().index(ordinary(one)),
    }


def _degrees(about: dict[str, Any], name: str) -> float | None:
    value = about.get(name)
    return None if value is None or not np.isfinite(float(value)) else float(value)


def ranked(rows: Sequence[Row]) -> list[Row]:
    """Sort places from the lowest chance up, those without a chance last."""
    return sorted(
        rows,
        key=lambda row: (
            row["chance_percent"] is None,
            row["chance_percent"] or 0.0,
            row["biomass_median_kg_ha"] or 0.0,
            row["site"],
        ),
    )


def heading(rows: Sequence[Row], previous_crop: str, system: units.System) -> str:
    """Say what is asked of the places."""
    soils = {row["soil"] for row in rows}
    on = f"on {min(soils)}" if len(soils) == 1 else "on soils of their own"
    falls = sorted(row["falls"] for row in rows)
    span = f"{falls[0]}" if falls[0] == falls[-1] else f"{falls[0]} to {falls[-1]}"
    invented = " (invented ones)" if all(row["invented"] for row in rows) else ""
    said = (
        f"{rows[0]['cereal'].capitalize()} {on} after {previous_crop}, at {len(rows):,} "
        f"places{invented}; {span} falls at each."
    )
    target = units.spell(rows[0]["target_kg_ha"], "biomass", system)
    return f"{paragraph(said)}\n{paragraph(f'Target: {target}.')}"


def text(rows: Sequence[Row], found: Sequence[Risk], system: units.System) -> tuple[str, list[str]]:
    """Lay out the heading, the table of places and what its figures mean."""
    previous_crop = str(found[0].grid.attrs["previous_crop"])
    above = paragraph(f"{title(rows[0], system)} Places from the lowest chance up:")
    return heading(rows, previous_crop, system), [
        f"{above}\n\n{places_table(rows, system)}",
        paragraph(
            "The chance and the biomass that 5 of 10 make are of weather and field together, as "
            "in a field like these; the share of falls that reach the target is the weather's "
            "alone; in brackets, its 95 % Wilson interval. N leached is nitrate nitrogen leached "
            "below the soil column since September, as a mean; N in drainage its flow-weighted "
            "mean concentration."
        ),
    ]


def title(row: Row, system: units.System) -> str:
    """Name the plan of which the figures of a place tell."""
    group = "" if row["kind"] == ALL else ", as the forecast weighs them"
    seeding = units.spell(row["seeding_kg_ha"], "mass", system)
    rate = units.spell(row["nitrogen_kg_ha"], "nitrogen", system)
    return (
        f"Seeded at {seeding} on {wording.dates_in(row['sow'])}, {rate} of nitrogen "
        f"{wording.timing(row['nitrogen_timing'])}, ended {wording.ending(row['end'])}{group}."
    )


def places_table(rows: Sequence[Row], system: units.System) -> str:
    """Print places from the lowest chance up; of a long list its two ends."""
    varied = {name: len({row[name] for row in rows}) > 1 for name in ("soil", "sow")}
    mass, nitrogen = units.label("mass", system), units.label("nitrogen", system)
    columns = [Column("place", left=True), Column("north", "°"), Column("east", "°")]
    columns += [Column("soil", left=True)] * varied["soil"]
    columns += [Column("sown", left=True)] * varied["sow"]
    columns += [
        Column("falls"),
        Column("chance of\nthe target", "%"),
        Column("share of\nthe falls", "%"),
        Column("in 5 of 10\nat least", mass),
        Column("N\nleached", nitrogen),
        Column("N in\ndrainage", "mg/L"),
    ]
    columns += [Column("latest sowing\nor best chance")] * ("latest_sowing" in rows[0])
    order = ranked(rows)
    between = len(order) - LOWEST_SHOWN - HIGHEST_SHOWN
    laid = [_cells(row, varied, system) for row in order]
    if between > 1:
        more = [f"... {between:,} between", *[""] * (len(columns) - 1)]
        laid = [*laid[:LOWEST_SHOWN], more, *laid[-HIGHEST_SHOWN:]]
    return table(columns, laid)


def _cells(row: Row, varied: dict[str, bool], system: units.System) -> list[str]:
    name = row["site"]
    share, low, high = (row[f"weather_chance{end}_percent"] for end in ("", "_low", "_high"))
    cells = [name if len(name) <= _LONGEST else f"{name[: _LONGEST - 3]}..."]
    cells += [plain_number(_none_as_nan(row[axis]), 2) for axis in ("latitude", "longitude")]
    cells += [row["soil"]] * varied["soil"]
    cells += [wording.dates_in(row["sow"])] * varied["sow"]
    cells += [
        str(row["falls"]),
        plain_number(_none_as_nan(row["chance_percent"])),
        NOTHING if share is None else f"{share:.0f} ({low:.0f}-{high:.0f})",
        number(_none_as_nan(row["biomass_median_kg_ha"]), "biomass", system),
        number(_none_as_nan(row["nitrate_leached_kg_ha"]), "nitrogen", system),
        plain_number(_none_as_nan(row["nitrate_concentration_mg_l"]), 1),
    ]
    if "latest_sowing" in row:
        cells.append(wording.dates_in(row["latest_sowing"]) or _best(row))
    return cells


def _best(row: Row) -> str:
    """Print the best chance and its sowing, where no sowing has a chance that is high enough."""
    if row["best_chance_percent"] is None:
        return NOTHING
    return f"{row['best_chance_percent']:.0f}%, {wording.dates_in(row['best_sowing'])}"


def _none_as_nan(value: float | None) -> float:
    return float("nan") if value is None else value


def sentences(
    rows: Sequence[Row], often: float, system: units.System, error: ModelError = LEVEL
) -> list[str]:
    """Say how the chance differs over places, where it is worst, and where nitrate is high."""
    order = [row for row in ranked(rows) if row["chance_percent"] is not None]
    if not order:
        return []
    worst, best = order[0], order[-1]
    rate = units.spell(worst["nitrogen_kg_ha"], "nitrogen", system)
    with_n = f"Sown on {wording.dates_in(worst['sow'])} with {rate} of nitrogen"
    middle = float(np.median([row["chance_percent"] for row in order]))
    off = how_far_off(system, error)
    if round(worst["chance_percent"]) == round(best["chance_percent"]):
        return [
            f"{with_n}, the chance of the target in a field like these is {middle:.0f} percent at "
            f"every one of {len(order):,} places.",
            off,
            *_of_nitrate(rows),
        ]
    texts = [
        f"{with_n}, the chance of the target in a field like these runs from "
        f"{worst['chance_percent']:.0f} percent at {worst['site']} to "
        f"{best['chance_percent']:.0f} at {best['site']}; the median over {len(order):,} places "
        f"is {middle:.0f}."
    ]
    enough, by_weather = (
        sum(row[f"{of}chance_percent"] >= 100 * often - 1e-9 for row in order)
        for of in ("", "weather_")
    )
    reached = "1 place" if enough == 1 else f"{enough:,} places" if enough else "no place"
    texts.append(
        f"At {reached} of {len(order):,} it is reached {surely(often)} or more; by weather alone "
        f"it would be at {by_weather or 'none'}."
    )
    return [*texts, off, _of_the_lowest(order), *_of_nitrate(rows)]


def of_kinds(found: Sequence[Risk]) -> list[str]:
    """Say how the chance differs by kind of year, in the middle of the places; nothing of none."""
    chances: dict[str, list[float]] = {}
    for one in found:
        table_of = one.table["chance_percent"]
        plan = table_of.values[
            tuple(_plan_position(one).get(str(dim), slice(None)) for dim in table_of.dims)
        ]
        for kind, chance in zip(one.groups, plan, strict=True):
            if kind not in (ALL, FORECAST):
                chances.setdefault(kind, [])
                chances[kind] += [float(chance)] * bool(np.isfinite(chance))
    if not chances:
        return []
    where = (Parameter("json"), " and ", Parameter("out"), " have the kinds of each place.")
    known = {kind: there for kind, there in chances.items() if there}
    if not known:
        none = "No place has falls enough of any kind for a chance by kind of year; "
        return [Text(none, *where)]
    texts = [
        f"{float(np.median(there)):.0f} percent in {kind} years"
        + (f" (at {len(there):,} places with falls enough)" if len(there) < len(found) else "")
        for kind, there in known.items()
    ]
    medians = f"By kind of year, the median chance over places is {wording.join(texts)}; "
    return [Text(medians, *where)]


def _of_the_lowest(order: Sequence[Row]) -> str:
    worst = order[0]
    alike = [row for row in order if round(row["chance_percent"]) == round(worst["chance_percent"])]
    if len(alike) > MOST_NAMED:
        return (
            f"The lowest chance, {worst['chance_percent']:.0f} percent, is shared by "
            f"{len(alike):,} places; the least biomass among them is at "
            f"{wording.join([row['site'] for row in alike[:MOST_NAMED]])}."
        )
    lowest = wording.join(
        [f"{row['site']} ({row['chance_percent']:.0f} percent)" for row in order[:MOST_NAMED]]
    )
    shares = {end: worst[f"weather_chance{end}_percent"] for end in ("", "_low", "_high")}
    middle = float(np.median([row["weather_chance_percent"] for row in order]))
    luck = (
        f"; it reaches the median of all places, {middle:.0f}, so that this may be luck"
        if shares["_high"] >= middle
        else ""
    )
    return (
        f"The lowest chances are at {lowest}; at the first {shares['']:.0f} percent of "
        f"{worst['falls']} falls reach it, interval {shares['_low']:.0f} to "
        f"{shares['_high']:.0f} percent{luck}."
    )


def _of_nitrate(rows: Sequence[Row]) -> list[str]:
    strengths = {
        row["site"]: row["nitrate_concentration_mg_l"]
        for row in rows
        if row["nitrate_concentration_mg_l"] is not None
    }
    if not strengths:
        return ["Nothing drains at any place."]
    above = sum(strength > NITRATE_LIMIT for strength in strengths.values())
    most = max(strengths, key=lambda site: strengths[site])
    share = "all" if above == len(strengths) else f"{above:,} of"
    count = f"At {share} {len(strengths):,} places" if above else "At no place"
    return [
        f"{count} drainage carries more nitrate nitrogen than the limit for drinking water "
        f"({NITRATE_LIMIT:g} mg/L); the most is {strengths[most]:.0f} mg/L, at {most}; on its "
        "way to a well it is diluted and denitrified."
    ]


def shortened(answer: Answer, all_in: str) -> Answer:
    """Return an answer with its lists as a terminal takes them, and what has all of them."""
    return replace(
        answer,
        left_out=_first_texts(answer.left_out, all_in),
        notes=_first_texts(answer.notes, all_in),
    )


def _first_texts(texts: Sequence[str], all_in: str) -> list[str]:
    if len(texts) <= MOST_TOLD + 1:
        return list(texts)
    return [*texts[:MOST_TOLD], f"and {len(texts) - MOST_TOLD:,} more; {all_in} have them."]


def together(notes: Sequence[tuple[str, str]]) -> list[str]:
    """Tell once what is noted of several places, with their names or their number."""
    of_note: dict[str, list[str]] = {}
    for site, text in notes:
        of_note.setdefault(text, []).append(site)
    return [
        f"{', '.join(sites) if len(sites) <= MOST_NAMED else f'{len(sites):,} places'}: {text}"
        for text, sites in of_note.items()
    ]


def invented(count: int, places: int) -> list[str]:
    """Say how many places do not exist."""
    if not count:
        return []
    which = f"All {places:,}" if count == places else f"{count:,} of {places:,}"
    return [f"{which} places are invented: their weather was generated, not measured."]


def falls_left_out(count: Mapping[str, int]) -> list[str]:
    """Say how many falls of how many places have no whole weather."""
    falls, places = sum(count.values()), sum(number > 0 for number in count.values())
    if not falls:
        return []
    what = f"{falls:,} falls" if falls > 1 else "1 fall"
    at = f"{places:,} places" if places > 1 else "1 place"
    return [f"{what} at {at} without whole weather."]


def filled(places: int) -> list[str]:
    """Say at how many places short gaps were filled."""
    if not places:
        return []
    return [
        f"Short gaps in the weather were filled at {places:,} "
        f"{'places' if places > 1 else 'place'}; 'fallsown check' names them."
    ]
