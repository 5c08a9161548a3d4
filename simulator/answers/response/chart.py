"""The response to nitrogen as a chart: by sowing, by timing and kind of year, where it ended."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.response.calculate import ALL, FATES, spoken_rate
from simulator.answers.response.table import FATE_TITLES, Shown
from simulator.answers.response.words import unit_word
from simulator.answers.shared.fields import Ranges, biomass_ranges, spelled
from simulator.show import wording
from simulator.show.charts import (
    COLOURS,
    FAINT,
    INK,
    Axes,
    Chart,
    Row,
    axis_title,
    data,
    distinguish,
    finish,
    of_falls,
    scale,
    subject,
)

SIZE = (310, 270)  # of a panel [px]
FATE_SIZE = (690, 24)  # width of the panels of fates, height of a plan [px]
TIMING_COLOURS = (COLOURS[4], COLOURS[5], INK, COLOURS[2])  # none that a sowing has beside it
FATE_COLOURS = (
    COLOURS[0],
    COLOURS[5],
    FAINT,
    "#9bbf65",
    COLOURS[1],
    COLOURS[4],
    "#f0d9b5",
    COLOURS[2],
    COLOURS[3],
)
_DARK = {COLOURS[0], COLOURS[3], COLOURS[5], COLOURS[1]}  # on which figures are white
LEAST_SHOWN = 0.5  # percent, below which a place is left away
LEAST_TOLD = 8.0  # percent, from which on a bar has room for its figure


def headline(shown: Shown, system: units.System) -> tuple[list[str], list[str]]:
    """Return the title of the chart and the lines below it."""
    about = shown.part.attrs
    rate = units.spell(spoken_rate(shown.part), "nitrogen", system)
    sown = wording.dates_in(shown.first.sow)
    title = (
        f"Each {unit_word(system)} of nitrogen up to {rate} brings {shown.first.slope:.0f} of "
        f"biomass, sown {sown}"
    )
    brings = shown.first.brings(shown.errors.response)
    told = "" if brings.told else "; whether any cannot be told"
    years = shown.part["year"].values.tolist()
    below = [f"{of_falls(len(years), 'thick bars')} Thin bars: in a field like these."]
    if shown.first.gained and shown.first.applied > 0:
        below.append(
            f"Sown {sown}, {rate} brings {spelled(brings, 'biomass', system)} in a field like "
            f"these{told}."
        )
    return [title], [*below, subject(about, years)]


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
    response = by_rate(points, system, curves=curves, across=f"nitrogen {when}", axes=axes)
    gains = by_kind(gain_rows(shown, system), shown, system, axes=axes)
    top = alt.hconcat(response, gains, spacing=34)
    top = top.resolve_scale(color="independent", shape="independent")
    ended = fate_rows(shown)
    return finish(
        alt.vconcat(*([top, fates(ended)] if ended else [top]), spacing=30).resolve_scale(
            color="independent", shape="independent"
        ),
        *headline(shown, system),
    )


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
) -> Chart:
    """Draw biomass against nitrogen: a point a rate with its range, and a line for each sowing.

    Parameters
    ----------
    points : sequence of dict
        ``line, nitrogen, biomass, low, high``, in the reader's units; with ``field_low,
        field_high`` too, a thin bar is drawn from one to the other.
    system : {"us", "si"}
    curves : sequence of dict
        ``line, nitrogen, biomass`` of fitted curves; without them lines join the points.
    across, up : str
        Titles of the axes, without their units.
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domains of ``biomass`` and ``nitrogen``.
    """
    import altair as alt

    lines = list(dict.fromkeys(row["line"] for row in points))
    most = max(row["nitrogen"] for row in points) or 1.0
    encodings = distinguish("line", lines, title="sown", shapes=True)
    dash = distinguish("line", lines, dashes=True)["strokeDash"]
    dash.legend = None
    reach = scale(axes, "nitrogen", nice=False, domain=[-0.05 * most, 1.05 * most])
    x: Any = alt.X("nitrogen:Q", title=axis_title(across, "nitrogen", system), scale=reach)
    fixed = scale(axes, "biomass", zero=True)
    title = axis_title(up, "biomass", system)
    y = alt.Y("biomass:Q", title=title, scale=fixed)
    shift = 0.016 * most  # bars of lines beside each other, by little, so that none hides another
    placed = [
        {
            **row,
            "nitrogen": row["nitrogen"] + shift * (lines.index(row["line"]) - (len(lines) - 1) / 2),
        }
        for row in points
    ]
    drawn = (
        alt.Chart(data(curves or points), width=size[0], height=size[1])
        .mark_line(strokeWidth=2.4)
        .encode(x=x, y=y, color=encodings["color"], strokeDash=dash)
    )

    def bar(low: str, high: str, width: float) -> Any:
        drawn = alt.Chart(data(placed)).mark_rule(opacity=0.45, strokeWidth=width, aria=False)
        y = alt.Y(f"{low}:Q", title=title, scale=fixed)
        return drawn.encode(x=x, y=y, y2=f"{high}:Q", color=encodings["color"])

    bars = [bar("low", "high", 3.5)]
    if "field_low" in points[0]:
        bars.insert(0, bar("field_low", "field_high", 1.0))
    dots = (
        alt.Chart(data(points))
        .mark_point(filled=True, size=75, opacity=1)
        .encode(x=x, y=y, **encodings)
    )
    return alt.layer(*bars, drawn, dots)


def gain_rows(shown: Shown, system: units.System) -> list[Row]:
    """Return what nitrogen gained by timing and kind of year, sown first, in the reader's units."""

    def mass(value: float) -> float:
        return float(units.show(value, "mass", system))

    return [
        {
            "kind": r.kind,
            "timing": wording.timing(r.timing),
            "gained": mass(float(np.mean(r.gained))),
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
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
) -> Chart:
    """Draw what nitrogen gained, kinds of year side by side, a bar a timing.

    Parameters
    ----------
    rows : sequence of dict
        ``kind, timing, gained, low, high, field_low, field_high``, in the reader's units.
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
    title = axis_title(f"gained by {rate}", "mass", system)
    first = f"sown {wording.dates_in(shown.first.sow)}"
    sorted_by = f"{first}; kinds by {shown.kinds_by}" if shown.has_kinds else first
    colour = alt.Color(
        "timing:N",
        sort=when,
        legend=alt.Legend(title=None, columns=1, symbolStrokeWidth=0),
        scale=alt.Scale(
            domain=when, range=[TIMING_COLOURS[i % len(TIMING_COLOURS)] for i in range(len(when))]
        ),
    )
    fixed = scale(axes, "gained", zero=True)
    across = alt.XOffset("timing:N", sort=when)
    base = alt.Chart(data(rows), width=size[0], height=size[1], title=sorted_by).encode(
        x=alt.X(
            "kind:N", title="kind of year", sort=kinds, axis=alt.Axis(labelAngle=0, grid=False)
        ),
        xOffset=across,
    )

    def up(field: str) -> Any:
        return alt.Y(f"{field}:Q", title=title, scale=fixed)

    bars = base.mark_bar(stroke="white", strokeWidth=1, fillOpacity=0.75).encode(
        y=up("gained"), color=colour
    )
    thick = base.mark_rule(color=INK, opacity=0.8, strokeWidth=3.5).encode(y=up("low"), y2="high:Q")
    thin = base.mark_rule(color=INK, opacity=0.8, strokeWidth=1.0).encode(
        y=up("field_low"), y2="field_high:Q"
    )
    return alt.layer(bars, thin, thick)


def fate_rows(shown: Shown) -> list[Row]:
    """Return where the applied nitrogen ended, a row a plan and place [percent]."""
    words = [FATE_TITLES[fate].replace("-\n", "").replace("\n", " ") for fate in FATES]
    rows: list[Row] = []
    for r in shown.of(kind=ALL):
        if not r.falls or not r.applied:
            continue
        so_far = 0.0
        for place, fate in enumerate(FATES):
            percent = 100 * r.share(fate)
            rows.append(
                {
                    "sown": wording.dates_in(r.sow),
                    "timing": wording.timing(r.timing),
                    "where": words[place],
                    "percent": percent,
                    "order": place,
                    "middle": so_far + percent / 2,
                    "told": f"{percent:.0f}" if percent >= LEAST_TOLD else "",
                    "ink": "white" if FATE_COLOURS[place] in _DARK else INK,
                }
            )
            so_far += max(percent, 0.0)
    return rows


def fates(rows: Sequence[Row], *, size: tuple[int, int] = FATE_SIZE) -> Chart:
    """Draw where the applied nitrogen ended, a bar a plan, its larger parts told in figures.

    Parameters
    ----------
    rows : sequence of dict
        From `fate_rows`.
    size : (int, int)
        Width; height of a plan [px].
    """
    import altair as alt

    order = list(dict.fromkeys(row["where"] for row in rows))
    seen = {row["where"] for row in rows if abs(row["percent"]) >= LEAST_SHOWN}
    present = [where for where in order if where in seen]
    shades = [FATE_COLOURS[order.index(where)] for where in present]
    lowest = min(0.0, *(row["percent"] for row in rows))
    timings = list(dict.fromkeys(row["timing"] for row in rows))
    panels = [
        _fates_of(
            [row for row in rows if row["timing"] == timing and row["where"] in present],
            timing,
            size,
            alt.Scale(domain=present, range=shades),
            alt.Scale(domain=[lowest, 100.0], nice=False),
            last=timing == timings[-1],
        )
        for timing in timings
    ]
    return alt.vconcat(*panels, spacing=14)


def _fates_of(
    rows: Sequence[Row], timing: str, size: tuple[int, int], shades: Any, across: Any, *, last: bool
) -> Chart:
    import altair as alt

    sowings = list(dict.fromkeys(row["sown"] for row in rows))
    base = alt.Chart(
        data(rows),
        width=size[0],
        height=alt.Step(size[1]),
        title=f"where nitrogen given {timing} ended",
    ).encode(y=alt.Y("sown:N", title=None, sort=sowings, axis=alt.Axis(ticks=False)))
    title = "share of the applied nitrogen (%)" if last else None
    axis = alt.Axis(labels=last, ticks=last)
    bars = base.mark_bar(stroke="white", strokeWidth=1).encode(
        x=alt.X("percent:Q", title=title, stack="zero", scale=across, axis=axis),
        order=alt.Order("order:O"),
        color=alt.Color(
            "where:N",
            title=None,
            scale=shades,
            legend=alt.Legend(columns=6, symbolStrokeWidth=0) if last else None,
        ),
    )
    figures = base.mark_text(baseline="middle").encode(
        x=alt.X("middle:Q", title=title),
        text="told:N",
        color=alt.Color("ink:N", scale=None, legend=None),
    )
    return alt.layer(bars, figures).resolve_scale(color="independent")
