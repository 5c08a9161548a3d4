"""What made a year differ, as a chart: from the usual, month by month, to what that year made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.why.calculate import Why
from simulator.answers.why.causes import KIND, moved_most
from simulator.answers.why.data import FIELD
from simulator.answers.why.exchanged_weather import WHATS
from simulator.answers.why.month_shares import BIOMASS
from simulator.answers.why.table import shown_outcomes
from simulator.answers.why.words import differed, sentences
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
from simulator.show.tables import number

SIZE = (176, 34)  # width of a panel, height of a row and the room about it [px]
USUAL = "usual"  # names the first row
_MONTH_AXIS = {"title": None, "ticks": False, "domain": False, "labelPadding": 8, "grid": False}


def chart(found: Why, system: units.System, *, axes: Axes | None = None) -> Chart:
    """Draw how each month's rain and temperature led away from the usual, a panel an outcome.

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
    invented = " Invented place and weather." if found.about.get("invented") == "yes" else ""
    at = moved_most(found, BIOMASS)
    moved = _signed(found.by_month(BIOMASS)[at], BIOMASS, system)
    lines = [f"{differed(found, system)}."]
    if moved != "0":
        lines[0] += f" {found.months[at].name} moved it most ({moved})."
    return lines, [
        f"{subject(found.about)} Beside {wording.falls(found.others)}.{invented}",
        sentences(found, system)[1],
        "Each bar begins where the one above ends: what moved biomass most comes first. Figures: "
        f"rain and temperature together. Pale bar at {found.year}: 8 of 10 fields like these.",
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
        Width of each panel; height of a row and the room about it [px].
    axes : mapping, optional
        As `chart` has it.
    titles : mapping, optional
        Of axes, by outcome; as the answer names them without.
    """
    import altair as alt

    panels = [
        effects(
            effect_rows(found, outcome, system),
            end_rows(found, outcome, system),
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
    ends: Sequence[Row],
    name: str,
    across: str,
    *,
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
    named: bool = True,
) -> Chart:
    """Draw the way from the usual to that year: two bars a month, each from where the last ended.

    Parameters
    ----------
    rows : sequence of dict
        From `effect_rows`.
    ends : sequence of dict
        From `end_rows`.
    name : str
        Of the quantity, for `axes`.
    across : str
        Title of the axis.
    size : (int, int)
        Width; height of a row and the room about it [px].
    axes : mapping, optional
        Domain of the quantity.
    named : bool
        Whether to name the rows.
    """
    import altair as alt

    usual, here = ends
    labels = [usual["month"], *dict.fromkeys(row["month"] for row in rows), here["month"]]
    axis = {**_MONTH_AXIS, "labels": named}
    up = alt.Y("month:N", sort=labels, axis=axis, scale={"paddingInner": 0.2, "domain": labels})
    fixed = scale(axes, name, domain=_span(rows, ends), nice=False)
    shape: dict[str, Any] = {"width": size[0], "height": size[1] * len(labels)}

    def along(field: str) -> Any:
        return alt.X(
            f"{field}:Q",
            scale=fixed,
            axis={"tickCount": 3, "title": across, "grid": False, "format": ",~r"},
        )

    base = alt.Chart(data(rows), **shape).encode(y=up)
    moved = base.mark_bar().encode(
        x=along("start"),
        x2="stop:Q",
        yOffset=alt.YOffset("by:N", sort=list(WHATS)),
        **distinguish("by", WHATS, colours=(COLOURS[0], COLOURS[1])),
    )
    both_ends = alt.Chart(data(ends), **shape).encode(y=up)
    line = alt.Chart(data([{"value": usual["value"]}]), **shape).mark_rule(
        color=SOFT, strokeDash=[3, 3]
    )
    field = both_ends.transform_filter("isValid(datum.low)").mark_bar(
        color=COLOURS[2], opacity=0.5, height=size[1] * 0.42
    )
    points = both_ends.mark_point(filled=True, color=INK, size=3.0 * size[1], opacity=1.0)
    at_right: dict[str, Any] = {"align": "right", "color": INK}
    both = base.transform_filter(alt.datum.by == WHATS[0]).encode(text="both:N")
    figures = [
        one.encode(x=alt.value(size[0]))
        for one in (
            both.mark_text(**at_right),
            both_ends.encode(text="told:N").mark_text(fontWeight="bold", **at_right),
        )
    ]
    return alt.layer(
        line.encode(x=along("value")),
        field.encode(x=along("low"), x2="high:Q"),
        moved,
        points.encode(x=along("value")),
        *figures,
    )


def _span(rows: Sequence[Row], ends: Sequence[Row]) -> list[float]:
    """Return what the axis holds: all that is drawn, and room for figures at the right."""
    passed = [one for row in rows for one in (row["start"], row["stop"])]
    passed += [end[key] for end in ends for key in ("value", "low", "high") if end[key] is not None]
    low, high = min(passed), max(passed)
    wide = high - low or 1.0
    return [low - 0.04 * wide, high + 0.55 * wide]


def effect_rows(found: Why, outcome: str, system: units.System) -> list[Row]:
    """Return the steps from the usual to that year, the months that moved biomass most first.

    Returns
    -------
    list of dict
        ``month, by``, ``moved`` and ``start, stop`` in the reader's units, and ``both``, the figure
        of the month's rain and temperature together.
    """
    kind, shares = KIND[outcome], found.shares[outcome]
    at = float(found.usual[outcome].mean())
    rows: list[Row] = []
    for month in np.argsort(-np.abs(found.by_month(BIOMASS)), kind="stable"):
        for what, share in zip(WHATS, shares[month], strict=True):
            start, stop, moved = (
                float(units.show(v, kind, system)) for v in (at, at + share, share)
            )
            rows.append(
                {
                    "month": found.months[month].name[:3],
                    "by": what,
                    "moved": moved,
                    "start": start,
                    "stop": stop,
                    "both": _signed(shares[month].sum(), outcome, system),
                }
            )
            at += share
    return rows


def end_rows(found: Why, outcome: str, system: units.System) -> list[Row]:
    """Return the usual and what that year made, with its range in a field like these if known."""
    kind = KIND[outcome]
    usual, here = float(found.usual[outcome].mean()), found.here[outcome]
    ranges = found.ranges(outcome)

    def row(name: str, value: float, low: float | None, high: float | None) -> Row:
        shown = [
            None if one is None else float(units.show(one, kind, system)) for one in (low, high)
        ]
        label = f"{float(number(value, kind, system)):,.0f}"
        first = float(units.show(value, kind, system))
        return {"month": name, "value": first, "low": shown[0], "high": shown[1], "told": label}

    known = np.isfinite(ranges.low)
    ends = (usual + ranges.low, usual + ranges.high) if known else (None, None)
    return [row(USUAL, usual, None, None), row(str(found.year), here, *ends)]


def _signed(value: float, outcome: str, system: units.System) -> str:
    """Print a difference with its sign: ``"+480"``, ``"−1,230"``, ``"0"``."""
    shown = int(float(number(value, KIND[outcome], system)))
    return f"{shown:+,}".replace("-", "\u2212") if shown else "0"
