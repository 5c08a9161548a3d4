"""The field of a trial as a plan to print: every plot with its number and its treatment."""

from __future__ import annotations

from collections.abc import Sequence

from simulator import units
from simulator.answers.design.field import Field, layout_sentences
from simulator.show import wording
from simulator.show.charts import (
    COLOURS,
    SOFT,
    Chart,
    Row,
    data,
    finish,
    subject,
)

WIDE = 740  # of the field [px]
HIGH = 82  # of a row of plots [px]
LINE = 19  # from one line of a plot's text to the next [px]
PALE = 0.28  # of the colours that dates have, so that figures are read on them


def chart(field: Field, system: units.System) -> Chart:
    """Draw the field, block above block.

    Parameters
    ----------
    field : Field
    system : {"us", "si"}

    Returns
    -------
    Chart
    """
    import altair as alt

    dates = [wording.dates_in(date) for date in field.plans["sow"]]
    found = rows(field, system)
    panels = [
        block(
            [row for row in found if row["block"] == number], dates, across=field.width
        ).properties(title=f"Block {number}")
        for number in field.blocks
    ]
    return finish(alt.vconcat(*panels, spacing=14), *headline(field, system))


def headline(field: Field, system: units.System) -> tuple[list[str], list[str]]:
    """Say which field it is, and below it how it was drawn and what stands in a plot."""
    count = len(field.plots)
    kind = "a split plot" if field.split else "complete blocks"
    unit = units.label("nitrogen", system)
    return (
        [f"{count} plots in {len(field.blocks)} blocks for fall {field.fall}, {kind}"],
        [
            subject(field.about),
            layout_sentences(field),
            f"In each plot: number, treatment, sowing date, seeding rate / nitrogen rate ({unit}).",
        ],
    )


def rows(field: Field, system: units.System) -> list[Row]:
    """Return the plots as rows, rates in the reader's units."""
    plans = field.plans

    def shown(value: float) -> str:
        return f"{units.show(value, 'nitrogen', system):.0f}"

    return [
        {
            "block": plot.block,
            "row": plot.row,
            "column": plot.column,
            "number": str(plot.plot),
            "date": wording.dates_in(plans["sow"][plot.levels[0]]),
            "grown": f"T{plot.treatment}",
            "rates": (
                f"{shown(plans['seeding'][plot.levels[1]])}/"
                f"{shown(plans['nitrogen'][plot.levels[2]])}"
            ),
        }
        for plot in field.plots
    ]


def block(found: Sequence[Row], dates: Sequence[str], *, across: int) -> Chart:
    """Draw the plots of one block.

    Parameters
    ----------
    found : sequence of dict
        ``row, column, number, date, grown, rates``.
    dates : sequence of str
        Sowing dates in the order of the legend.
    across : int
        Plots side by side.
    """
    import altair as alt

    deep = max(row["row"] for row in found)
    base = alt.Chart(data(found), width=WIDE, height=HIGH * deep).encode(
        x=alt.X("column:O", axis=None, scale={"domain": list(range(1, across + 1)), "padding": 0}),
        y=alt.Y("row:O", axis=None, scale={"domain": list(range(1, deep + 1)), "padding": 0}),
    )
    known = {
        "domain": list(dates),
        "range": [COLOURS[at % len(COLOURS)] for at in range(len(dates))],
    }
    legend = {"title": "sown", "symbolOpacity": PALE, "symbolType": "square", "columns": 6}
    plots = base.mark_rect(stroke=SOFT, strokeWidth=1.2, fillOpacity=PALE).encode(
        fill=alt.Fill("date:N", scale=known, legend=legend if len(dates) > 1 else None)
    )
    lines = [
        base.mark_text(
            dy=1 + (place - 1.5) * LINE, fontWeight="normal" if place else "bold"
        ).encode(text=f"{name}:N")
        for place, name in enumerate(("number", "grown", "date", "rates"))
    ]
    return alt.layer(plots, *lines)
