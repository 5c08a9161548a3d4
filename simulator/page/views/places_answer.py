"""The map in numbers and sentences: the chance at each place, and the best of its dates."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np

from simulator import __version__, units
from simulator.answers.risk import Risk, risk_in
from simulator.answers.shared.field_ranges import (
    difference_off,
    difference_ranges,
    how_far_off,
    in_a_field,
)
from simulator.page.records import PlaceWeather
from simulator.page.views.place_sets import PlaceSet
from simulator.page.views.places_question import MapQuestion, grow
from simulator.problems import InputError
from simulator.show import wording
from simulator.show.cautions import MODEL
from simulator.show.csv_table import table_text
from simulator.show.tables import NOTHING

NUMBERS = ("no", "one", "two", "three", "four", "five", "six")


def risk_of(grid: Any, target: float) -> Risk:
    """Return the risk of what was grown at a place.

    Raises
    ------
    InputError
        It could not be grown, or has too few falls.
    """
    if isinstance(grid, InputError):
        raise grid
    return risk_in(grid, target=target)


def payload(question: MapQuestion, chosen: PlaceSet) -> dict[str, Any]:
    """Return all that the map shows of the places that have been read."""
    asked, system = question.asked, question.asked.system
    found = grow(question, chosen)
    places = [place for place, _ in found]
    left_out = [*chosen.left_out]
    points = []
    for place, grid in found:
        try:
            points.append(_point(place, risk_of(grid, asked.target), question))
        except InputError as error:
            left_out.append(f"{place.about['site']}: {error.problems[0].what}")
    located = [one for one in points if one["longitude"] is not None]
    left_out += [
        f"{one['site']} has no longitude and is not on the map."
        for one in points
        if one["longitude"] is None
    ]
    return {
        "set": {
            "key": chosen.key,
            "name": chosen.name,
            "total": chosen.total,
            "invented": all(place.invented for place in places),
        },
        "points": points,
        "sowings": [[sow, wording.dates_in(sow)] for sow in question.sowings],
        "sow": asked.plan.sow,
        "target": units.spell(asked.target, "biomass", system),
        "domain": _domain(located),
        "sentences": [_summary(points, at, question) for at in range(len(question.sowings))],
        "best_dates": _best_dates_sentence(points, question),
        "off": how_far_off(system),
        "notes": _notes(question, places),
        "left_out": left_out,
        "cautions": [_invented(places), MODEL],
        "plan": _plan_sentence(question),
        "heads": _heads(question),
    }


def _invented(places: Sequence[PlaceWeather]) -> str:
    if not places or not any(place.invented for place in places):
        return "The chances are of the weather of the records, and of fields like these."
    return "The places are invented: their weather was generated, not measured."


def _point(place: PlaceWeather, risk: Risk, question: MapQuestion) -> dict[str, Any]:
    table = risk.table.isel(kind=0)
    system = question.asked.system

    def column(name: str) -> list[float]:
        values: list[float] = table[name].values.reshape(len(question.sowings), -1)[:, 0].tolist()
        return values

    chances, weather_chances = column("chance_percent"), column("weather_chance_percent")
    middle = column("biomass_median_kg_ha")
    ends = zip(column("biomass_low_kg_ha"), column("biomass_high_kg_ha"), strict=True)
    longitude = place.record.attrs.get("longitude")
    site = str(place.about["site"])
    return {
        "key": place.key,
        "site": site,
        "longitude": None if longitude is None else float(longitude),
        "latitude": float(place.about["latitude"]),
        "falls": int(max(column("falls"))),
        "chance": [round(one, 1) if math.isfinite(one) else None for one in chances],
        "rows": [
            [
                wording.dates_in(sow),
                _percent(chance),
                _percent(share),
                _figure(half, system),
                _range_text(low, high, system),
            ]
            for sow, chance, share, half, (low, high) in zip(
                question.sowings, chances, weather_chances, middle, ends, strict=True
            )
        ],
        "best": best(site, chances, risk, question),
    }


def _percent(value: float) -> str:
    return f"{value:.0f}" if math.isfinite(value) else NOTHING


def _figure(value: float, system: units.System) -> str:
    """Print biomass, its unit standing in the head of its column."""
    return units.spell(value, "biomass", system).split(" ")[0] if math.isfinite(value) else NOTHING


def _range_text(low: float, high: float, system: units.System) -> str:
    if not math.isfinite(low + high):
        return NOTHING
    return f"{_figure(low, system)} to {_figure(high, system)}"


def best(site: str, chances: Sequence[float], risk: Risk, question: MapQuestion) -> dict[str, Any]:
    """Say which of the dates has the best chance at a place, and whether that can be told.

    Returns
    -------
    dict
        ``at``, the place of the date among them, None where there are too few falls; ``said``,
        sentences.
    """
    known = [at for at, chance in enumerate(chances) if math.isfinite(chance)]
    system = question.asked.system
    if not known:
        return {"at": None, "said": [f"{site} has too few falls for a chance."]}
    order = sorted(known, key=lambda at: -chances[at])
    days = [wording.dates_in(sow) for sow in question.sowings]
    target = units.spell(question.asked.target, "biomass", system)
    first = order[0]
    said = (
        f"Sown on {days[first]}, {target} is made at {site} with a chance of {chances[first]:.0f} "
        "percent in a field like these"
    )
    if len(order) == 1:
        return {"at": first, "said": [f"{said}."]}
    second = order[1]
    number = NUMBERS[len(order)]
    lead = (
        f"{said}: the best of the {number} dates. {days[second]} is next, "
        f"with {chances[second]:.0f}."
    )
    made = risk.grid["biomass_kg_ha"].transpose("sow", "year", ...).values
    made = made.reshape(len(days), risk.grid.sizes["year"])
    apart = made[first] - made[second]
    ranges = difference_ranges(apart)
    mean = float(np.nanmean(apart))
    side = "more" if mean >= 0 else "less"
    as_simulated = (
        f"As a mean of the falls it makes {units.spell(abs(mean), 'biomass', system)} {side} sown "
        f"on {days[first]} than on {days[second]}."
    )
    surely = in_a_field(ranges, system)
    return {"at": first, "said": [lead, f"{as_simulated} {surely}", difference_off(system)]}


def _domain(points: Sequence[dict[str, Any]]) -> list[float]:
    """Return where the colours begin and end: the least and most of all dates, rounded."""
    known = [one for point in points for one in point["chance"] if one is not None]
    if not known:
        return [0.0, 100.0]
    step = 10 if max(known) - min(known) > 20 else 5
    low, high = step * math.floor(min(known) / step), step * math.ceil(max(known) / step)
    return [float(min(low, 100 - step)), float(max(high, low + step))]


def _summary(points: Sequence[dict[str, Any]], at: int, question: MapQuestion) -> str:
    known = sorted(
        (one["chance"][at], one["site"]) for one in points if one["chance"][at] is not None
    )
    day = wording.dates_in(question.sowings[at])
    if not known:
        return f"Sown on {day}, no place has falls enough for a chance."
    target = units.spell(question.asked.target, "biomass", question.asked.system)
    middle = float(np.median([chance for chance, _ in known]))
    (low, least), (high, most) = known[0], known[-1]
    return (
        f"Sown on {day}, {target} is made with a chance of {low:.0f} percent at {least} to "
        f"{high:.0f} percent at {most}, in a field like these; the median of {len(known):,} places "
        f"is {middle:.0f}."
    )


def _best_dates_sentence(points: Sequence[dict[str, Any]], question: MapQuestion) -> str:
    """Say at how many places each date has the best chance."""
    count = Counter(one["best"]["at"] for one in points if one["best"]["at"] is not None)
    if not count or len(question.sowings) == 1:
        return ""
    counts = [
        f"{wording.dates_in(question.sowings[at])} at {number:,}"
        for at, number in sorted(count.items())
    ]
    return f"The best of the dates is {wording.join(counts)} of {sum(count.values()):,} places."


def _plan_sentence(question: MapQuestion) -> str:
    plan, system = question.asked.plan, question.asked.system
    fed = "no nitrogen"
    if plan.nitrogen_kg_ha > 0:
        rate = units.spell(plan.nitrogen_kg_ha, "nitrogen", system)
        fed = f"{rate} of nitrogen {wording.timing(plan.nitrogen_timing)}"
    return (
        f"{plan.cereal.capitalize()} on {plan.soil} after {plan.previous_crop}, seeded at "
        f"{units.spell(plan.seeding_kg_ha, 'mass', system)}, {fed}, ended "
        f"{wording.ending(plan.end)}."
    )


def _heads(question: MapQuestion) -> list[str]:
    unit = units.label("biomass", question.asked.system)
    return [
        "sown on",
        "chance, percent",
        "of the falls, percent",
        f"5 of 10 make, {unit}",
        f"8 of 10, {unit}",
    ]


def _notes(question: MapQuestion, places: Sequence[PlaceWeather]) -> list[str]:
    own = sum("soil" in place.record.attrs for place in places)
    said = [
        "The chance is of weather and field together, and so is what 5 and 8 of 10 make; the share "
        "of the falls that make enough is the weather's alone.",
        "The colors run from the lowest to the highest chance of all places and dates, and stay "
        "when another date is shown.",
    ]
    if own:
        said.append(f"{own} places name a soil of their own; all are grown on the plan's here.")
    return said


def table(question: MapQuestion, chosen: PlaceSet) -> str:
    """Return the places as CSV, a row for each date, in SI."""
    asked = question.asked
    rows: list[dict[str, Any]] = []
    found = grow(question, chosen)
    for place, grid in found:
        try:
            of_place = risk_of(grid, asked.target).table.isel(kind=0)
        except InputError:
            continue
        about = place.record.attrs
        for at, sow in enumerate(question.sowings):
            one = of_place.isel(sow=at)
            figures = ("falls", "chance_percent", "weather_chance_percent", "biomass_low_kg_ha")
            more = ("biomass_median_kg_ha", "biomass_high_kg_ha")
            rows.append(
                {
                    "site": str(about["site"]),
                    "longitude": about.get("longitude", ""),
                    "latitude": float(about["latitude"]),
                    "sow": sow,
                    "target_kg_ha": asked.target,
                    **{name: float(one[name].values.ravel()[0]) for name in (*figures, *more)},
                }
            )
    attributes = {
        "made_by": f"fallsown {__version__}, the map",
        "places": chosen.name,
        "plan": _plan_sentence(question),
        "caution": f"{_invented([place for place, _ in found])} {MODEL}",
    }
    return table_text(attributes, rows)
