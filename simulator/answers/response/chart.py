"""The response to nitrogen as a chart: by sowing, by timing and kind of year, where it ended."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.response.calculate import ALL, spoken_rate
from simulator.answers.response.fates_chart import fate_rows, fates
from simulator.answers.response.table import Shown
from simulator.answers.shared.fields import Ranges, biomass_ranges, spelled
from simulator.show import wording
from simulator.show.chart_forms import shaded, step
from simulator.show.charts import (
    COLOURS,
    SHAPES,
    SOFT,
    Axes,
    Chart,
    Row,
    axis_title,
    data,
    distinguish,
    finish,
    ranged,
    scale,
    scales_apart,
    subject,
)

SIZE = (310, 290)  # of a panel [px]
KINDS_SIZE = (270, 290)
FILLS = (COLOURS[0], "white", COLOURS[2], SOFT)  # of timings' points, which differ in shape besides


def headline(shown: Shown, system: units.System) -> tuple[list[str], list[str]]:
    """Return the title of the chart and the lines below it."""
    about, first = shown.part.attrs, shown.first
    sown = wording.dates_in(first.sow)
    years = shown.part["year"].values.tolist()
    below = [subject(about, years)]
    if not first.falls:
        return [f"Sown {sown}, no fall brought the stand to its end at every rate"], below
    if first.applied <= 0:
        made = units.spell(first.means[0], "biomass", system)
        return [f"{str(about['cereal']).capitalize()} sown {sown} makes {made}"], below
    gain = float(np.mean(first.gained))
    title = (
        f"{units.spell(first.applied, 'nitrogen', system)} of nitrogen "
        f"{wording.timing(first.timing)} {'brings' if gain >= 0 else 'costs'} "
        f"{units.spell(abs(gain), 'biomass', system)} of biomass, sown {sown}"
    )
    brings = first.brings(shown.errors.response)
    told = "" if brings.told else ", so that whether it brings any cannot be told"
    field = f"In a field like these it brings {spelled(brings, 'biomass', system)}{told}."
    drawn = f"Shaded (sown {sown}), thin: in a field like these."
    if len(years) > 1:
        drawn += f" Darker, thick: {ranged(len(years))}."
    return [title], [field, drawn, *below]


def chart(shown: Shown, system: units.System, *, axes: Axes | None = None) -> Chart:
    """Draw biomass against nitrogen by sowing, gains by timing and kind, and where N ended.

    Parameters
    ----------
    shown : Shown
    system : {"us", "si"}
    axes : mapping, optional
        Domains of ``biomass``, ``nitrogen`` and ``gained``.

    Returns
    -------
    Chart
    """
    import altair as alt

    points, curves = response_rows(shown, system)
    when = wording.timing(shown.timings[0])
    rates = [
        float(units.show(rate, "nitrogen", system))
        for rate in (shown.first.rates[0], spoken_rate(shown.part))
    ]
    response = by_rate(
        points, system, curves=curves, across=f"nitrogen {when}", axes=axes, between=rates
    )
    gains = by_kind(gain_rows(shown, system), shown, system, axes=axes)
    apart = scales_apart("color", "shape", "fill", "stroke")
    top = alt.hconcat(response, gains, spacing=34, resolve=apart)
    ended = fate_rows(shown)
    laid = alt.vconcat(*([top, fates(ended)] if ended else [top]), spacing=30, resolve=apart)
    return finish(laid, *headline(shown, system))


def response_rows(shown: Shown, system: units.System) -> tuple[list[Row], list[Row]]:
    """Return the points of each sowing and its fitted curve, in the reader's units."""

    def mass(value: float) -> float:
        return float(units.show(value, "mass", system))

    points, curves = [], []
    for r in shown.of(timing=shown.timings[0], kind=ALL):
        if not r.falls:
            continue
        line = wording.dates_in(r.sow)
        stands = [biomass_ranges(made, error=shown.errors.level) for made in r.stood.T]
        points += [
            {"line": line, "nitrogen": mass(x), "biomass": mass(y), **_ends(one, mass)}
            for x, y, one in zip(r.rates, r.means, stands, strict=True)
        ]
        if r.choice.curve is not None:
            curves += [
                {"line": line, "nitrogen": mass(x), "biomass": mass(r.choice.curve.at(x))}
                for x in np.linspace(r.rates[0], r.rates[-1], 60).tolist()
            ]
    return points, curves


def _ends(ranges: Ranges, shown_as: Callable[[float], float]) -> Row:
    """Return both ranges as fields of a row."""
    return {
        "low": shown_as(ranges.weather_low),
        "high": shown_as(ranges.weather_high),
        "field_low": shown_as(ranges.low),
        "field_high": shown_as(ranges.high),
    }


def by_rate(
    points: Sequence[Row],
    system: units.System,
    *,
    curves: Sequence[Row] = (),
    across: str = "nitrogen",
    up: str = "biomass",
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
    between: Sequence[float] = (),
) -> Chart:
    """Draw biomass against nitrogen: a line and points for each sowing, the first with its ranges.

    Parameters
    ----------
    points : sequence of dict
        ``line, nitrogen, biomass, low, high``, in the reader's units; with ``field_low,
        field_high`` too, they are shaded below the others.
    system : {"us", "si"}
    curves : sequence of dict
        ``line, nitrogen, biomass`` of fitted curves; without them lines join the points.
    across, up : str
        Titles of the axes, without their units.
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domains of ``biomass`` and ``nitrogen``.
    between : (float, float), optional
        Rates between which the step of the first sowing is marked, with its figure.
    """
    import altair as alt

    lines = list(dict.fromkeys(row["line"] for row in points))
    most = max(row["nitrogen"] for row in points) or 1.0
    encodings = distinguish("line", lines, title="sown", shapes=True)
    dash = distinguish("line", lines, dashes=True)["strokeDash"]
    dash.legend = None
    reach = scale(axes, "nitrogen", nice=False, domain=[-0.04 * most, 1.04 * most])
    x: Any = alt.X("nitrogen:Q", title=axis_title(across, "nitrogen", system), scale=reach)
    title = axis_title(up, "biomass", system)
    y: Any = alt.Y("biomass:Q", title=title, scale=scale(axes, "biomass", zero=True))
    drawn = (
        alt.Chart(data(curves or points), width=size[0], height=size[1])
        .mark_line(strokeWidth=2.4)
        .encode(x=x, y=y, color=encodings["color"], strokeDash=dash)
    )
    first = [row for row in points if row["line"] == lines[0]]
    dots = (
        alt.Chart(data(points))
        .mark_point(filled=True, size=75, opacity=1)
        .encode(x=x, y=y, **encodings)
    )
    marked = [row for rate in between for row in first if abs(row["nitrogen"] - rate) < 1e-6]
    risen = (
        step(marked[0], marked[1], _risen(*marked), x, y, over=True)
        if len(marked) == 2 and marked[0] != marked[1]
        else ()
    )
    return alt.layer(*shaded(first, x, title, axes=axes), *risen[:2], drawn, dots, *risen[2:])


def _risen(before: Row, after: Row) -> str:
    """Tell how much more the second point makes, as titles and tables print it."""
    return f"{round(after['biomass'] - before['biomass'], -1):+,.0f}"


def gain_rows(shown: Shown, system: units.System) -> list[Row]:
    """Return what nitrogen gained by timing and kind of year, sown first, in the reader's units."""

    def mass(value: float) -> float:
        return float(units.show(value, "mass", system))

    return [
        {
            "kind": r.kind,
            "timing": wording.timing(r.timing),
            "gained": mass(float(np.mean(r.gained))),
            "told": f"{round(mass(float(np.mean(r.gained))), -1):+,.0f}",
            **_ends(r.brings(shown.errors.response), mass),
        }
        for r in shown.of(sow=shown.first.sow)
        if r.falls
    ]


def by_kind(
    rows: Sequence[Row],
    shown: Shown,
    system: units.System,
    *,
    size: tuple[int, int] = KINDS_SIZE,
    axes: Axes | None = None,
) -> Chart:
    """Draw what nitrogen brings, a point with both ranges for each kind of year and timing.

    Parameters
    ----------
    rows : sequence of dict
        ``kind, timing, gained, told, low, high, field_low, field_high``, in the reader's units.
    shown : Shown
        For the order of kinds and the sowing.
    system : {"us", "si"}
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of ``gained``.
    """
    import altair as alt

    when = list(dict.fromkeys(row["timing"] for row in rows))
    kinds = list(dict.fromkeys(r.kind for r in shown.responses))
    rate = units.spell(spoken_rate(shown.part), "nitrogen", system)
    title = axis_title(f"brought by {rate} of nitrogen", "biomass", system)
    first = f"sown {wording.dates_in(shown.first.sow)}"
    sorted_by = f"{first}; years by {shown.kinds_by}" if shown.has_kinds else first
    fixed = scale(axes, "gained", zero=True, nice=True)

    def alike(values: Sequence[Any]) -> Any:
        return {"domain": when, "range": [values[i % len(values)] for i in range(len(when))]}

    base = alt.Chart(data(rows), width=size[0], height=size[1], title=sorted_by).encode(
        y=alt.Y(
            "kind:N",
            title=None,
            sort=kinds,
            scale={"paddingInner": 0.25},
            axis={"grid": False, "ticks": False},
        ),
        yOffset=alt.YOffset("timing:N", sort=when),
    )

    def across(field: str) -> Any:
        return alt.X(f"{field}:Q", title=title, scale=fixed, axis={"tickCount": 4})

    nothing = alt.Chart(data([{"gained": 0.0}])).mark_rule(color=SOFT).encode(x=across("gained"))
    thin = base.mark_rule(color=COLOURS[0], strokeWidth=1.2).encode(
        x=across("field_low"), x2="field_high:Q"
    )
    thick = base.mark_rule(color=COLOURS[0], opacity=0.4, strokeWidth=6).encode(
        x=across("low"), x2="high:Q"
    )
    legend = {"title": None, "columns": 1, "symbolStrokeWidth": 2}
    points = base.mark_point(size=85, opacity=1, strokeWidth=2).encode(
        x=across("gained"),
        shape=alt.Shape("timing:N", scale=alike(SHAPES), legend=legend),
        fill=alt.Fill("timing:N", scale=alike(FILLS), legend=legend),
        stroke=alt.Stroke("timing:N", scale=alike(COLOURS[:1]), legend=legend),
    )
    figures = base.mark_text(align="right", dx=-2).encode(x=alt.value(size[0] + 58), text="told:N")
    return alt.layer(nothing, thin, thick, points, figures)
