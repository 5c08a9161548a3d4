"""Many places as a chart: a map of points, coloured by the chance of the target."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from simulator import units
from simulator.answers.places.risk import title
from simulator.show.charts import SOFT, Chart, Row, data, finish

SHADES = ("#e3b638", "#72a4a8", "#072f42")  # of the charts' palette, from light to dark
WIDTH, SHORTEST, TALLEST = 620, 160, 640  # of the map [px]


def chart(rows: Sequence[Row], system: units.System) -> Chart:
    """Draw the places by longitude and latitude, coloured by their chance."""
    located = [row for row in rows if row["longitude"] is not None]
    drawn = mapped(
        [{**row, "value": row["chance_percent"]} for row in located],
        "chance of the target (%)",
        [0, 50, 100],
    )
    invented = " The places are invented." if all(row["invented"] for row in rows) else ""
    return finish(
        drawn,
        [headline(located, system)],
        [f"{title(rows[0], system)} {len(located):,} places.{invented}"],
    )


def mapped(
    rows: Sequence[Row], title: str, domain: Sequence[float], ticks: int | None = None
) -> Chart:
    """Draw points by longitude and latitude, coloured by their ``value``, the highest below.

    Parameters
    ----------
    rows : sequence of dict
        ``site, longitude, latitude, value``; at least one.
    title : str
        Of the colours.
    domain : sequence of float
        Lowest, middle and highest value of the colours.
    ticks : int, optional
        About so many values are written at the colours; as many as fit without it.
    """
    import altair as alt

    middle = np.deg2rad(np.mean([row["latitude"] for row in rows]))
    spans = {axis: _span([row[axis] for row in rows]) for axis in ("longitude", "latitude")}
    wide = (spans["longitude"][1] - spans["longitude"][0]) * float(np.cos(middle))
    tall = spans["latitude"][1] - spans["latitude"][0]
    height = int(np.clip(WIDTH * tall / wide, SHORTEST, TALLEST))
    size = float(np.clip(30_000 / len(rows), 12, 200))
    points = [
        {"site": row["site"], "x": row["longitude"], "y": row["latitude"], "chance": row["value"]}
        for row in sorted(rows, key=lambda row: -(row["value"] or 0.0))
    ]
    legend = alt.Legend(gradientLength=300)
    if ticks is not None:
        legend = alt.Legend(gradientLength=300, tickCount=ticks)
    return (
        alt.Chart(data(points))
        .mark_circle(opacity=0.95, size=size, stroke=SOFT, strokeWidth=0.4)
        .encode(
            x=alt.X(
                "x:Q",
                title="longitude (degrees east)",
                scale=alt.Scale(domain=spans["longitude"], nice=False),
            ),
            y=alt.Y(
                "y:Q",
                title="latitude (degrees north)",
                scale=alt.Scale(domain=spans["latitude"], nice=False),
            ),
            color=alt.Color(
                "chance:Q",
                title=title,
                scale=alt.Scale(domain=list(domain), range=list(SHADES)),
                legend=legend,
            ),
            tooltip=[alt.Tooltip("site:N"), alt.Tooltip("chance:Q", format=".0f")],
        )
        .properties(width=WIDTH, height=height)
    )


def headline(rows: Sequence[Row], system: units.System) -> str:
    """Say how far the places' chances lie apart."""
    target = units.spell(rows[0]["target_kg_ha"], "mass", system)
    makes = f"{rows[0]['cereal'].capitalize()} makes {target} of biomass"
    chances = [row["chance_percent"] for row in rows if row["chance_percent"] is not None]
    if not chances:
        return f"How surely {makes[0].lower()}{makes[1:]}: too few falls to say"
    low, high = (f"{chance:.0f}" for chance in (min(chances), max(chances)))
    span = low if low == high else f"{low} to {high}"
    return f"{makes} with a chance of {span} percent, by place, weather and field together"


def _span(values: Sequence[float]) -> list[float]:
    """Return the least and the most with a margin, at least a tenth of a degree wide."""
    low, high = min(values), max(values)
    margin = max(0.05 * (high - low), 0.05)
    return [low - margin, high + margin]
