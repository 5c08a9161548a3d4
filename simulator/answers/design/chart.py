"""A planned trial as a chart: the chance to see a difference, by years and blocks."""

from __future__ import annotations

from collections.abc import Sequence

from simulator import units
from simulator.answers.design.calculate import Design
from simulator.answers.design.words import BETWEEN, percent
from simulator.show import wording
from simulator.show.charts import (
    COLOURS,
    DASHES,
    INK,
    Axes,
    Chart,
    Row,
    data,
    distinguish,
    finish,
    scale,
    subject,
)
from simulator.trials.design.testing import PROMISED

SIZE = (230, 260)  # of a panel [px]


def chart(design: Design, system: units.System, *, axes: Axes | None = None) -> Chart:
    """Draw the chance to see the difference, a panel for each factor, a line for each blocks.

    Parameters
    ----------
    design : Design
    system : {"us", "si"}
    axes : mapping, optional
        Domains of ``chance`` and ``years``.

    Returns
    -------
    Chart
    """
    import altair as alt

    panels = [
        by_years(
            rows(design, factor),
            [f"{blocks} blocks" for blocks in design.question.designs()[0]],
            axes=axes,
        ).properties(title=f"between two {BETWEEN[factor]}")
        for factor in design.trial.asked()
    ]
    return finish(alt.hconcat(*panels, spacing=24), *headline(design, system))


def headline(design: Design, system: units.System) -> tuple[list[str], list[str]]:
    """Say what the trial sees, and below it what was drawn."""
    asked = design.question
    size = units.spell(asked.difference, "mass", system)
    first, *others = design.trial.asked()
    seen = [
        f"{percent(design.asked(first).seen)} see a difference of {size} between {BETWEEN[first]}",
        *(f"{percent(design.asked(one).seen)} between {BETWEEN[one]}" for one in others),
    ]
    text = f"Of 100 trials of {asked.years} years with {asked.blocks} blocks, {wording.join(seen)}"
    below = [
        subject(design.about, design.falls),
        f"{asked.trials:,} trials simulated; the model's error and the spread of plots are in it. "
        f"Gray line: {percent(PROMISED)} of 100.",
    ]
    return [text], below


def rows(design: Design, factor: str) -> list[Row]:
    """Return the chance of each design [%] as rows."""
    return [
        {
            "years": one.years,
            "chance": round(100.0 * one.seen, 1),
            "blocks": f"{one.blocks} blocks",
        }
        for one in design.chances
        if one.factor == factor
    ]


def by_years(
    found: Sequence[Row],
    blocks: Sequence[str],
    *,
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
) -> Chart:
    """Draw chances by the number of years.

    Parameters
    ----------
    found : sequence of dict
        ``years, chance, blocks``.
    blocks : sequence of str
        In the order of the legend.
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domains of ``chance`` and ``years``.
    """
    import altair as alt

    held = {"chance": (0.0, 100.0), **(axes or {})}
    lines = (
        alt.Chart(data(found), width=size[0], height=size[1])
        .mark_line(strokeWidth=2.6)
        .encode(
            x=alt.X(
                "years:Q",
                title="years of the trial",
                scale=scale(held, "years", nice=False, zero=False),
                axis={"grid": False, "tickMinStep": 1, "format": "d"},
            ),
            y=alt.Y("chance:Q", title="chance to see it (%)", scale=scale(held, "chance")),
            **distinguish("blocks", blocks, dashes=True, colours=COLOURS),
        )
    )
    rule = (
        alt.Chart(data([{"chance": 100.0 * PROMISED}]))
        .mark_rule(color=INK, opacity=0.5, strokeDash=DASHES[0])
        .encode(y=alt.Y("chance:Q", scale=scale(held, "chance")))
    )
    return alt.layer(rule, lines)
