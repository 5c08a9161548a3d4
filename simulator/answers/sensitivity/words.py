"""What an answer depends on, in sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from simulator import units
from simulator.answers.sensitivity.calculate import OUTCOMES, Field, SiteSeasons, Varied
from simulator.answers.sensitivity.data import Row
from simulator.answers.shared.parameter_names import called
from simulator.show import wording
from simulator.show.tables import paragraph

SMALL = 0.05  # a total index below which a parameter is not named
MOST_NAMED = 3


def heading(
    field: Field,
    places: Mapping[str, SiteSeasons],
    parameters: Sequence[Varied],
    screened: int,
    samples: int,
    spread: float,
    system: units.System,
) -> str:
    """Say what was varied, by how much, and for what."""
    at = wording.join(
        [f"{site} ({wording.falls(list(place.years))})" for site, place in places.items()]
    )
    kept = (
        f"the {len(parameters)} of {screened} parameters that move an outcome most when each"
        " alone goes to the ends of its range"
        if screened > len(parameters)
        else f"{len(parameters)} parameters"
    )
    return paragraph(
        f"Sobol indices at {at}: {field.cereal.name} on {field.soil.name} after"
        f" {field.previous_crop.name}, sown {wording.dates_in(field.sow)} with"
        f" {units.spell(field.seeding, 'mass', system)} of seed, ended"
        f" {wording.ending(field.end)}, with"
        f" {units.spell(field.nitrogen, 'nitrogen', system)} of nitrogen at sowing; the response"
        f" is the biomass that this brings above none, for each unit of it. Means over falls."
        f" Varied: {kept}, each by {100 * spread:g} % of its default to either side within its"
        f" bounds, {samples} samples."
    )


def headline(rows: Sequence[Row], field: Field, spread: float) -> tuple[list[str], list[str]]:
    """Say a chart's finding, and below it how to read it."""
    found: list[str] = []
    sites = len({row["site"] for row in rows})
    for outcome in OUTCOMES:
        totals: dict[str, float] = {}
        for row in rows:
            if row["outcome"] == outcome and row["total"] is not None:
                totals[row["parameter"]] = totals.get(row["parameter"], 0.0) + row["total"]
        if totals:
            most = max(totals, key=lambda name: totals[name])
            share = f"{100 * totals[most] / sites:.0f} %"
            found.append(f"{outcome} {'' if found else 'depends most '}on {called(most)} ({share})")
    text = wording.join(found).capitalize() if found else "Nothing varies"
    return [text], [
        f"{field.cereal.name.capitalize()} on {field.soil.name}, each parameter varied by"
        f" {100 * spread:g} % of its default to either side.",
        "Broad bar and figure: what the parameter explains of the variance together with others,"
        " with its 90 % interval (line). Narrow dark bar: what it explains alone.",
    ]


def sentences(rows: Sequence[Row], spread: float) -> list[str]:
    """Name what each outcome depends on most, place by place."""
    texts = []
    sites = list(dict.fromkeys(row["site"] for row in rows))
    for site in sites:
        where = f"At {site}, " if len(sites) > 1 else ""
        for outcome in OUTCOMES:
            own = [row for row in rows if (row["site"], row["outcome"]) == (site, outcome)]
            if all(row["total"] is None for row in own):
                text = f"{where}{outcome} does not vary."
            else:
                named = [row for row in own if (row["total"] or 0.0) >= SMALL][:MOST_NAMED]
                spelled = [f"{called(row['parameter'])} ({row['total']:.2f})" for row in named]
                text = f"{where}{outcome} depends most on {wording.join(spelled)}."
            texts.append(text[0].upper() + text[1:])
    texts.append(
        f"All were varied by the same share of their defaults, {100 * spread:g} %, though some are"
        " known better than others."
    )
    return texts
