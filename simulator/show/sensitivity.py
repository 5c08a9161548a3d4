"""Which parameters an answer hangs on, as people and as programs read it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.advice import wording
from simulator.show.tables import Column, paragraph, plain_number, table
from simulator.trials.sensitivity import OUTCOMES, Field, Indices, Place, Varied

if TYPE_CHECKING:
    import xarray as xr

Row = dict[str, Any]
SMALL = 0.05  # a total index below which a parameter is not named
MOST_NAMED = 3
_NUMBERS = ("first", "first_low", "first_high", "total", "total_low", "total_high")


def rows_of(found: Mapping[str, Indices], parameters: Sequence[Varied]) -> list[Row]:
    """Lay the indices out as rows: place by place, outcome by outcome, the largest total first."""
    rows: list[Row] = []
    for site, one in found.items():
        for at, outcome in enumerate(OUTCOMES):
            for p in np.argsort(-np.nan_to_num(one.total[at]), kind="stable"):
                varied = parameters[p]
                numbers = (one.first[at, p], *one.first_within[at, p],
                           one.total[at, p], *one.total_within[at, p])  # fmt: skip
                rows.append({
                    "site": site, "outcome": outcome, "of": varied.kind,
                    "parameter": varied.name, "unit": varied.unit, "default": varied.default,
                    "low": varied.low, "high": varied.high,
                    **{name: float(value) if np.isfinite(value) else None
                       for name, value in zip(_NUMBERS, numbers, strict=True)},
                })  # fmt: skip
    return rows


def dataset(found: Mapping[str, Indices], parameters: Sequence[Varied]) -> xr.Dataset:
    """Return the indices along site, outcome and parameter."""
    import xarray as xr

    def stacked(name: str, place: int | None = None) -> Any:
        values = np.stack([getattr(one, name) for one in found.values()])
        return ("site", "outcome", "parameter"), values if place is None else values[..., place]

    data = xr.Dataset(
        {
            "first": stacked("first"),
            "first_low": stacked("first_within", 0),
            "first_high": stacked("first_within", 1),
            "total": stacked("total"),
            "total_low": stacked("total_within", 0),
            "total_high": stacked("total_within", 1),
            "default": ("parameter", [one.default for one in parameters]),
            "low": ("parameter", [one.low for one in parameters]),
            "high": ("parameter", [one.high for one in parameters]),
        },
        {"site": list(found), "outcome": list(OUTCOMES),
         "parameter": [one.name for one in parameters]},
    )  # fmt: skip
    for name in _NUMBERS:
        data[name].attrs["units"] = "1"
    return data


def heading(
    field: Field, places: Mapping[str, Place], parameters: Sequence[Varied], screened: int,
    samples: int, spread: float, system: units.System,
) -> str:  # fmt: skip
    """Say what was varied, by how much, and for what."""
    at = wording.join([
        f"{site} ({wording.falls(list(place.years))})" for site, place in places.items()
    ])  # fmt: skip
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
    for outcome in OUTCOMES:
        totals: dict[str, float] = {}
        for row in rows:
            if row["outcome"] == outcome and row["total"] is not None:
                totals[row["parameter"]] = totals.get(row["parameter"], 0.0) + row["total"]
        if totals:
            most = max(totals, key=lambda name: totals[name]).replace("_", " ")
            found.append(f"{outcome} {'' if found else 'hangs most '}on {most}")
    told = wording.join(found).capitalize() if found else "Nothing varies"
    return [told], [
        f"{field.cereal.name.capitalize()} on {field.soil.name}, each parameter varied by"
        f" {100 * spread:g} % of its default to either side.",
        "Broad bar: total index, with its 90 % interval. Narrow dark bar: what the parameter"
        " explains alone.",
    ]


def tables(rows: Sequence[Row]) -> list[str]:
    """Print a table a place: parameters down, outcomes across, first order and total."""
    laid = [_table(rows, site) for site in dict.fromkeys(row["site"] for row in rows)]
    meaning = (
        "First: the share of the outcome's variance that the parameter explains alone. Total: with"
        " all in which it takes part; one near 0 does not matter there."
    )
    widths = [
        row[f"{kind}_high"] - row[f"{kind}_low"]
        for row in rows
        for kind in ("first", "total")
        if row[f"{kind}_low"] is not None
    ]
    if widths:
        meaning += (
            f" By redrawing the samples, 90 % intervals are up to {max(widths):.2f} wide, on"
            f" average {np.mean(widths):.2f}; --json and --out give each."
        )
    return [*laid, paragraph(meaning)]


def _table(rows: Sequence[Row], site: str) -> str:
    own = [row for row in rows if row["site"] == site]
    by = {(row["outcome"], row["parameter"]): row for row in own}
    names = list(dict.fromkeys(row["parameter"] for row in own))

    def largest(name: str) -> float:
        return max(by[outcome, name]["total"] or 0.0 for outcome in OUTCOMES)

    names.sort(key=largest, reverse=True)
    columns = [Column(site, left=True), Column("range", left=True)]
    for outcome in OUTCOMES:
        title = outcome.replace(" ", "\n", 1)
        columns += [Column(f"{title}\nfirst"), Column("\ntotal")]
    lines = []
    for name in names:
        one = by[OUTCOMES[0], name]
        line = [name, f"{one['low']:.3g} to {one['high']:.3g}"]
        for outcome in OUTCOMES:
            row = by[outcome, name]
            line += [
                plain_number(np.nan if row[key] is None else round(row[key], 2) + 0.0, 2)
                for key in ("first", "total")
            ]
        lines.append(line)
    return table(columns, lines)


def sentences(rows: Sequence[Row], spread: float) -> list[str]:
    """Name what each outcome hangs on most, place by place."""
    told = []
    sites = list(dict.fromkeys(row["site"] for row in rows))
    for site in sites:
        where = f"At {site}, " if len(sites) > 1 else ""
        for outcome in OUTCOMES:
            own = [row for row in rows if (row["site"], row["outcome"]) == (site, outcome)]
            if all(row["total"] is None for row in own):
                text = f"{where}{outcome} does not vary."
            else:
                named = [row for row in own if (row["total"] or 0.0) >= SMALL][:MOST_NAMED]
                spelled = [f"{row['parameter'].replace('_', ' ')} ({row['total']:.2f})"
                           for row in named]  # fmt: skip
                text = f"{where}{outcome} hangs most on {wording.join(spelled)}."
            told.append(text[0].upper() + text[1:])
    told.append(
        f"All were varied by the same share of their defaults, {100 * spread:g} %, though some are"
        " known better than others."
    )
    return told
