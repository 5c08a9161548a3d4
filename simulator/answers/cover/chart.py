"""Residue since termination as a chart: ground covered, mass left, nitrogen set free."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from simulator import units
from simulator.answers.cover.calculate import COVERS, Cover, main_lie
from simulator.answers.cover.data import chart_rows
from simulator.answers.cover.words import at_least, lies_as, plan_of
from simulator.show import wording
from simulator.show.charts import (
    INK,
    SOFT,
    Axes,
    Chart,
    Row,
    axis_title,
    data,
    distinguish,
    finish,
    scale,
    subject,
)
from simulator.show.tables import mean

WIDE, HALF = (690, 260), (290, 190)  # of panels [px]
SPOKEN = 0.60  # share of the ground that the title speaks of


def chart(found: Cover, system: units.System, *, axes: Axes | None = None) -> Chart:
    """Draw cover, mass and nitrogen since termination, a colour a sowing, a dash a way to lie.

    Parameters
    ----------
    found : Cover
    system : {"us", "si"}
    axes : mapping, optional
        Domains of ``mass`` and ``nitrogen``; cover runs from 0 to 100 percent.

    Returns
    -------
    Chart
    """
    import altair as alt

    rows = chart_rows(found, system)
    mass = followed(rows, "mass", axis_title("shoots left", "biomass", system), axes=axes)
    nitrogen = followed(
        rows, "nitrogen", axis_title("nitrogen set free", "nitrogen", system), axes=axes
    )
    zero = alt.Chart(data([{"nitrogen": 0.0}])).mark_rule(color=INK).encode(y="nitrogen:Q")
    below = alt.hconcat(mass, alt.layer(zero, nitrogen), spacing=34)
    return finish(alt.vconcat(covered(rows), below, spacing=28), *headline(found, system))


def headline(found: Cover, system: units.System) -> tuple[list[str], list[str]]:
    """Say how long each sowing's residue covers the ground, and below it what was grown."""
    name = main_lie(found)
    percent = f"{100 * SPOKEN:.0f}"
    texts = []
    for sow in map(str, found.residue["sow"].values):
        falls = found.falls.sel(sow=sow, residue=name)
        days = mean(falls[f"days_above_{percent}"].values)
        ranges = found.days_ranges(sow, name, SPOKEN)
        texts.append(
            f"{at_least(falls, percent)}{days:.0f} days sown {wording.dates_in(sow)} "
            f"({ranges.low:.0f} to {ranges.high:.0f})"
        )
    cereal = str(found.residue.attrs["cereal"])
    years = found.residue["year"].values.tolist()
    return [
        f"{cereal.capitalize()} {lies_as(name)} covers more than {percent} % of the ground for "
        f"{wording.join(texts)}"
    ], [
        subject(found.residue.attrs, years),
        plan_of(found, system),
        f"{'Means over falls. ' if len(years) > 1 else ''}In brackets, and as a band of what is "
        f"{lies_as(name)}: the range in a field like these.",
    ]


def covered(
    rows: Sequence[Row], *, size: tuple[int, int] = WIDE, axes: Axes | None = None
) -> Chart:
    """Draw the share of the ground that residue covers, with the shares that are asked for.

    Parameters
    ----------
    rows : sequence of dict
        From `answers.cover.data.chart_rows`.
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of ``cover`` [percent].
    """
    import altair as alt

    marks = alt.Chart(data([{"cover": 100 * share} for share in COVERS]))
    rules = marks.mark_rule(color=SOFT, strokeDash=[3, 3]).encode(y="cover:Q")
    whole = {"cover": (0.0, 100.0), **(axes or {})}
    title = "ground covered (%)"
    lines = followed(rows, "cover", title, size=size, axes=whole, legend=True)
    ranged = [row for row in rows if row.get("cover_low") is not None]
    sowings = list(dict.fromkeys(row["sown"] for row in rows))
    bands = (
        alt.Chart(data(ranged), width=size[0], height=size[1])
        .mark_area(opacity=0.16)
        .encode(
            x=alt.X("day:Q"),
            y=alt.Y("cover_low:Q", title=title, scale=scale(whole, "cover", zero=True)),
            y2="cover_high:Q",
            color=distinguish("sown", sowings, title="sown", dashes=True)["color"],
        )
    )
    return alt.layer(rules, bands, lines)


def followed(
    rows: Sequence[Row],
    name: str,
    up: str,
    *,
    size: tuple[int, int] = HALF,
    axes: Axes | None = None,
    legend: bool = False,
) -> Chart:
    """Draw one quantity day by day.

    Parameters
    ----------
    rows : sequence of dict
        ``sown, residue, day`` and the quantity.
    name : {"cover", "mass", "nitrogen"}
    up : str
        Title of the axis.
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of the quantity.
    legend : bool
        Whether to explain colours and dashes.
    """
    import altair as alt

    sowings = list(dict.fromkeys(row["sown"] for row in rows))
    lies = list(dict.fromkeys(row["residue"] for row in rows))
    colour = distinguish("sown", sowings, title="sown", dashes=True)["color"]
    dash = distinguish("residue", lies, title="residue", dashes=True, orient="top")["strokeDash"]
    if not legend:
        colour.legend = dash.legend = None
    x: Any = alt.X(
        "day:Q",
        title="days since the end",
        scale=alt.Scale(nice=False),
        axis=alt.Axis(tickCount=6 if size[0] > HALF[0] else 4),
    )
    return (
        alt.Chart(data(rows), width=size[0], height=size[1])
        .mark_line(strokeWidth=2.2)
        .encode(
            x=x,
            y=alt.Y(f"{name}:Q", title=up, scale=scale(axes, name, zero=True)),
            color=colour,
            strokeDash=dash,
        )
    )
