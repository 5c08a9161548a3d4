"""What made a year differ, as a chart: what each month's rain and temperature moved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from simulator import units
from simulator.answers.why.calculate import Why
from simulator.answers.why.causes import KIND
from simulator.answers.why.data import FIELD
from simulator.answers.why.exchanged import WHATS
from simulator.answers.why.table import shown_outcomes
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
    distinguish,
    finish,
    scale,
    subject,
)
from simulator.show.tables import difference, number

SIZE = (176, 38)  # width of a panel, height of a month and the room about it [px]
WHOLE = "all"  # names the row of the whole difference


def chart(found: Why, system: units.System, *, axes: Axes | None = None) -> Chart:
    """Draw what each month's rain and temperature moved, a panel for each outcome.

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
    """Say how biomass differed and what moved it most, and between what it is in a field."""
    first, second = sentences(found, system)[:2]
    invented = " Invented place and weather." if found.about.get("invented") == "yes" else ""
    return [first], [
        f"{subject(found.about)} Beside {wording.falls(found.others)}.{invented}",
        f"{second} Figures: both together.",
    ]


def bars(
    found: Why,
    system: units.System,
    *,
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
    titles: Mapping[str, str] | None = None,
) -> Chart:
    """Draw the panels alone, side by side, the months named at the left.

    Parameters
    ----------
    found : Why
    system : {"us", "si"}
    size : (int, int)
        Width of each panel; height of a month and the room about it [px].
    axes : mapping, optional
        As `chart` has it.
    titles : mapping, optional
        Of axes, by outcome; as the answer names them without.
    """
    import altair as alt

    panels = [
        effects(
            effect_rows(found, outcome, system),
            FIELD[outcome],
            axis_title((titles or {}).get(outcome, outcome), KIND[outcome], system),
            size=size,
            axes=axes,
            named=at == 0,
        )
        for at, outcome in enumerate(shown_outcomes(found))
    ]
    return alt.hconcat(*panels, spacing=16)


def effects(
    rows: Sequence[Row],
    name: str,
    across: str,
    *,
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
    named: bool = True,
) -> Chart:
    """Draw two bars for each month, rain above temperature, and the figure of both beside them.

    Parameters
    ----------
    rows : sequence of dict
        From `effect_rows`.
    name : str
        Of the quantity, for `axes`.
    across : str
        Title of the axis.
    size : (int, int)
        Width; height of a month and the room about it [px].
    axes : mapping, optional
        Domain of the quantity.
    named : bool
        Whether to name the months.
    """
    import altair as alt

    ends = [row["moved"] for row in rows] + [0.0]
    low, high = min(ends), max(ends)
    room = 0.5 * (high - low or 1.0)  # for the figures at the right
    months = list(dict.fromkeys(row["month"] for row in rows))
    axis = alt.Axis(title=None, ticks=False, domain=False, labelPadding=8, grid=False, labels=named)
    up = alt.Y("month:N", sort=months, axis=axis, scale=alt.Scale(paddingInner=0.2))
    fixed = scale(axes, name, domain=[low, high + room], nice=False)
    shape: dict[str, Any] = {"width": size[0], "height": size[1] * len(months)}
    base = alt.Chart(data(rows), **shape).encode(y=up)
    drawn = base.mark_bar().encode(
        x=alt.X("moved:Q", scale=fixed, axis=alt.Axis(tickCount=2, title=across, grid=False)),
        yOffset=alt.YOffset("by:N", sort=list(WHATS)),
        **distinguish("by", WHATS, colours=(COLOURS[0], COLOURS[1])),
    )
    nothing = alt.Chart(data([{"moved": 0.0}]), **shape).mark_rule(color=SOFT)
    rule = nothing.encode(x=alt.X("moved:Q", scale=fixed))
    both = (
        base.transform_filter(alt.datum.by == WHATS[0])
        .mark_text(align="right", color=INK)
        .encode(x=alt.value(size[0]), text="both:N")
    )
    return drawn + rule + both


def effect_rows(found: Why, outcome: str, system: units.System) -> list[Row]:
    """Return what each month's rain and temperature moved, and last what all of them did."""
    kind, shares = KIND[outcome], found.shares[outcome]
    usual = float(found.usual[outcome].mean())
    made = [
        (month.name[:3], shares[at], number(shares[at].sum(), kind, system, sign=True))
        for at, month in enumerate(found.months)
    ]
    whole = difference(usual, found.here[outcome], kind, system)  # as the table has it
    return [
        {
            "month": month,
            "by": what,
            "moved": float(units.show(one[k], kind, system)),
            "both": f"{int(both):+,}" if int(both) else "0",
        }
        for month, one, both in [*made, (WHOLE, shares.sum(axis=0), whole)]
        for k, what in enumerate(WHATS)
    ]
