"""Many places as a chart: a map of points, coloured by the chance of the target."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.places.map_marks import ends_of, names_of, scale_rows
from simulator.answers.places.risk import title
from simulator.show.charts import INK, SOFT, Chart, Row, data, finish, haloed

SHADES = ("#f3dd8f", "#5f989d", "#072f42")  # evenly from light to dark, in grey too
WIDTH, SHORTEST, TALLEST = 660, 160, 660  # of the map [px]
FOOT = 0.09  # of the map's height, below the places, for its scale
LEAST = 5.0  # percent that are worth a difference in colour


def chart(rows: Sequence[Row], system: units.System) -> Chart:
    """Draw the places by longitude and latitude, coloured by their chance."""
    located = [row for row in rows if row["longitude"] is not None]
    known = [row["chance_percent"] for row in located if row["chance_percent"] is not None]
    drawn = mapped(
        [_valued(row) for row in located],
        "chance of the target (%)",
        ends_of(known or [0.0, 100.0], LEAST, (0.0, 100.0)),
        system,
    )
    invented = "invented " if all(row["invented"] for row in rows) else ""
    return finish(
        drawn,
        [headline(located, system)],
        [f"{title(rows[0], system)} {len(located):,} {invented}places."],
    )


def _valued(row: Row) -> Row:
    chance = row["chance_percent"]
    return {**row, "value": chance, "shown": "" if chance is None else f"{chance:.0f}"}


def mapped(rows: Sequence[Row], title: str, domain: Sequence[float], system: units.System) -> Chart:
    """Draw points by longitude and latitude, coloured by their ``value``, the highest below.

    Names are written where they have room, first those of the lowest and the highest value, which
    have their figures too.

    Parameters
    ----------
    rows : sequence of dict
        ``site, longitude, latitude, value`` and ``shown``, the value as it is printed; at least
        one.
    title : str
        Of the colours.
    domain : sequence of float
        Lowest, middle and highest value of the colours.
    system : {"us", "si"}
    """
    import altair as alt

    middle = np.deg2rad(np.mean([row["latitude"] for row in rows]))
    spans = {axis: _span([row[axis] for row in rows]) for axis in ("longitude", "latitude")}
    spans["latitude"][0] -= FOOT * (spans["latitude"][1] - spans["latitude"][0])
    wide = (spans["longitude"][1] - spans["longitude"][0]) * float(np.cos(middle))
    tall = spans["latitude"][1] - spans["latitude"][0]
    height = int(np.clip(WIDTH * tall / wide, SHORTEST, TALLEST))
    size = float(np.clip(30_000 / len(rows), 12, 200))
    ordered = sorted(rows, key=lambda row: -(row["value"] or 0.0))
    known = [row for row in ordered if row["value"] is not None]
    ends = list(dict.fromkeys(row["site"] for row in (known[-1:] + known[:1])))
    points = [
        {
            "site": row["site"],
            "x": row["longitude"],
            "y": row["latitude"],
            "chance": row["value"],
            "told": f"{row['site']}: {row['shown']}" if row["site"] in ends else row["site"],
        }
        for row in ordered
    ]
    named = names_of(points, spans, (WIDTH, height), float(np.sqrt(size / np.pi)), ends)

    x, y = _degrees(alt.X, "x:Q", spans["longitude"]), _degrees(alt.Y, "y:Q", spans["latitude"])
    marks = (
        alt.Chart(data(points))
        .mark_circle(opacity=0.95, size=size, stroke=SOFT, strokeWidth=0.6)
        .encode(
            x=x,
            y=y,
            color=alt.Color(
                "chance:Q",
                title=title,
                scale={"domain": list(domain), "range": list(SHADES)},
                legend={"gradientLength": 300, "values": list(domain), "format": ",.0f"},
            ),
            tooltip=[alt.Tooltip("site:N"), alt.Tooltip("chance:Q", format=",.0f")],
        )
        .properties(width=WIDTH, height=height)
    )
    bar = alt.Chart(data(scale_rows(spans["longitude"], spans["latitude"], system))).encode(
        x=x, y=y
    )
    parts = [marks, bar.mark_line(color=INK, strokeWidth=3)]
    parts += haloed(bar.encode(text="told:N"), align="left", dy=-12)
    if named:
        names = alt.Chart(data(named)).encode(x=x, y=y, text="told:N")
        for weight, which in (("normal", "!datum.first"), ("bold", "datum.first")):
            parts += haloed(names.transform_filter(which), fontWeight=weight)
    return alt.layer(*parts)


def _degrees(kind: Any, field: str, span: Sequence[float]) -> Any:
    """Return an axis of degrees west and east, or south and north."""
    import altair as alt

    below, above = ("S", "N") if kind is alt.Y else ("W", "E")
    side = f"(datum.value < 0 ? ' {below}' : datum.value > 0 ? ' {above}' : '')"
    axis = {"labelExpr": f"format(abs(datum.value), '~g') + '°' + {side}"}
    return kind(field, title=None, scale={"domain": list(span), "nice": False}, axis=axis)


def headline(rows: Sequence[Row], system: units.System) -> str:
    """Say how far the places' chances lie apart."""
    target = units.spell(rows[0]["target_kg_ha"], "biomass", system)
    makes = f"{rows[0]['cereal'].capitalize()} makes {target} of biomass"
    known = [row for row in rows if row["chance_percent"] is not None]
    if not known:
        return f"How surely {makes[0].lower()}{makes[1:]}: too few falls to say"
    low, high = (pick(known, key=lambda row: row["chance_percent"]) for pick in (min, max))
    told = [f"{row['chance_percent']:.0f}" for row in (low, high)]
    if told[0] == told[1]:
        return f"{makes} with a chance of {told[0]} percent, weather and field together"
    return (
        f"{makes} with a chance of {told[0]} percent at {low['site']} to {told[1]} at "
        f"{high['site']}, weather and field together"
    )


def _span(values: Sequence[float]) -> list[float]:
    """Return the least and the most with a margin, at least a tenth of a degree wide."""
    low, high = min(values), max(values)
    margin = max(0.05 * (high - low), 0.05)
    return [low - margin, high + margin]
