"""What made a year differ, as a chart: bars from the usual to that year."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from simulator import units
from simulator.answers.why.calculate import Why
from simulator.answers.why.data import FIELD
from simulator.answers.why.exchanged import PIECES
from simulator.answers.why.table import KIND, shown_outcomes
from simulator.answers.why.words import sentences
from simulator.show import wording
from simulator.show.charts import (
    COLOURS,
    INK,
    SOFT,
    Axes,
    Chart,
    Row,
    axis_title,
    data,
    finish,
    scale,
    subject,
)

SIZE = (165, 29)  # width of a panel, height of a bar and the room about it [px]


def chart(found: Why, system: units.System, *, axes: Axes | None = None) -> Chart:
    """Draw bars from usual to that year, a panel for each outcome.

    Parameters
    ----------
    found : Why
    system : {"us", "si"}
    axes : mapping, optional
        Domains of ``biomass``, ``nitrogen_response`` and ``nitrate_leached``.

    Returns
    -------
    Chart
    """
    return finish(bars(found, system, axes=axes), *headline(found, system))


def headline(found: Why, system: units.System) -> tuple[list[str], list[str]]:
    """Say which piece of weather moved biomass or leaching most, and by how much."""
    outcome = max(shown_outcomes(found), key=lambda one: _surprise(found, one))
    here, usual = found.here[outcome], float(found.usual[outcome].mean())
    apart = units.spell(abs(here - usual), KIND[outcome], system)
    piece = max(PIECES, key=lambda one: found.share(outcome, one) * (1 if here > usual else -1))
    side = "above" if here > usual else "below"
    text = (
        f"In the fall of {found.year}, {outcome} came out {apart} {side} the usual, "
        f"most of it by the {piece}"
    )
    invented = " Invented place and weather." if found.about.get("invented") == "yes" else ""
    return [text], [
        f"{subject(found.about)} Beside {wording.falls(found.others)}.{invented}",
        sentences(found, system)[0],
    ]


def _surprise(found: Why, outcome: str) -> float:
    """Return how far that year lies from the usual, in standard deviations of the other falls."""
    spread = float(found.usual[outcome].std())
    return abs(found.difference(outcome)) / spread if spread > 0 else 0.0


def bars(
    found: Why, system: units.System, *, size: tuple[int, int] = SIZE, axes: Axes | None = None
) -> Chart:
    """Draw the panels alone, side by side, the pieces named at the left.

    Parameters
    ----------
    found : Why
    system : {"us", "si"}
    size : (int, int)
        Width of each panel; height of a bar and the room about it [px].
    axes : mapping, optional
        As `chart` has it.
    """
    import altair as alt

    panels = [
        steps(
            step_rows(found, outcome, system),
            FIELD[outcome],
            axis_title(outcome, KIND[outcome], system),
            size=size,
            axes=axes,
            named=at == 0,
        )
        for at, outcome in enumerate(shown_outcomes(found))
    ]
    return alt.hconcat(*panels, spacing=16)


def steps(
    rows: Sequence[Row],
    name: str,
    across: str,
    *,
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
    named: bool = True,
) -> Chart:
    """Draw bars that begin where the one before ended.

    Parameters
    ----------
    rows : sequence of dict
        From `step_rows`.
    name : str
        Of the quantity, for `axes`.
    across : str
        Title of the axis.
    size : (int, int)
        Width; height of a bar and the room about it [px].
    axes : mapping, optional
        Domain of the quantity.
    named : bool
        Whether to name the bars.
    """
    import altair as alt

    low = min(0.0, *(min(row["start"], row["end"]) for row in rows))
    high = max(0.0, *(max(row["start"], row["end"]) for row in rows))
    room = 0.42 * (high - low or 1.0)  # for the figure beside the longest bar
    axis = alt.Axis(title=None, ticks=False, domain=False, labelPadding=8, grid=False, labels=named)
    up = alt.Y(
        "step:N", sort=[row["step"] for row in rows], axis=axis, scale=alt.Scale(paddingInner=0.28)
    )
    fixed = scale(axes, name, domain=[low, high + room], nice=False)
    base = alt.Chart(data(rows), width=size[0], height=alt.Step(size[1])).encode(y=up)
    ways: Any = alt.Scale(
        domain=["whole", "year", "less", "more"], range=[SOFT, INK, COLOURS[1], COLOURS[2]]
    )
    drawn = base.mark_bar().encode(
        x=alt.X("start:Q", scale=fixed, axis=alt.Axis(tickCount=2, title=across, grid=False)),
        x2="end:Q",
        color=alt.Color("way:N", legend=None, scale=ways),
    )
    told = base.mark_text(align="left", dx=5).encode(x=alt.X("right:Q", scale=fixed), text="told:N")
    return drawn + told


def step_rows(found: Why, outcome: str, system: units.System) -> list[Row]:
    """Return the bars: the usual, each piece from where the one before it ended, that year."""
    kind = KIND[outcome]

    def bar(step: str, start: float, end: float, way: str, *, sign: bool) -> Row:
        shown = [float(units.show(value, kind, system)) for value in (start, end)]
        made = round(shown[1] - shown[0])
        return {
            "step": step,
            "start": shown[0],
            "end": shown[1],
            "right": max(shown),
            "way": way,
            "told": f"{made:{'+' if sign and made else ''},}",
        }

    at = float(found.usual[outcome].mean())
    rows = [bar("usual", 0.0, at, "whole", sign=False)]
    for piece in PIECES:
        share = found.share(outcome, piece)
        rows.append(bar(piece, at, at + share, "less" if share < 0 else "more", sign=True))
        at += share
    return [*rows, bar(str(found.year), 0.0, found.here[outcome], "year", sign=False)]
