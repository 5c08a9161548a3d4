"""The charts of the sheet: few lines, labelled, to be read on paper and on a telephone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

from simulator.show.charts import COLOURS, FAINT, INK, SOFT, Chart

WIDTH, HEIGHT = 390, 205

Row = dict[str, Any]


def lines(rows: Sequence[Row], across: str, up: str, *, band: bool = False) -> Chart:
    """Draw a line for each series over a quantity.

    Parameters
    ----------
    rows : sequence of dict
        ``series, x, y`` and, for a band, ``low, high``, in the reader's units; series in the
        order of the legend.
    across, up : str
        Titles of the axes.
    band : bool
        Whether to draw the range of each.
    """
    import altair as alt

    series = list(dict.fromkeys(row["series"] for row in rows))
    # colours and dashes go in pairs: each two series differ in colour, the next two are dashed
    colours = [COLOURS[0], COLOURS[1]] * (len(series) // 2 + 1)
    dashes = [[1, 0], [1, 0], [6, 4], [6, 4], [2, 3], [2, 3]] * (len(series) // 6 + 1)
    legend = alt.Legend(title=None, columns=2, symbolType="stroke", symbolSize=420,
                        symbolStrokeWidth=2.6)  # fmt: skip
    base = alt.Chart(alt.InlineData(values=list(rows)), width=WIDTH, height=HEIGHT).encode(
        x=alt.X("x:Q", title=across, axis=alt.Axis(values=sorted({row["x"] for row in rows}),
                format=",.0f", grid=False), scale=alt.Scale(nice=False, padding=10)),
        color=alt.Color("series:N", scale=alt.Scale(domain=series, range=colours[: len(series)]),
                        legend=legend if len(series) > 1 else None),
    )  # fmt: skip
    height = alt.Y("y:Q", title=up, axis=alt.Axis(tickCount=5), scale=alt.Scale(zero=True))
    drawn = base.mark_line(strokeWidth=2.6, point=alt.OverlayMarkDef(size=52, filled=True)).encode(
        y=height,
        strokeDash=alt.StrokeDash("series:N", legend=legend if len(series) > 1 else None,
                                  scale=alt.Scale(domain=series, range=dashes[: len(series)])),
    )  # fmt: skip
    if not band:
        return drawn
    return base.mark_area(opacity=0.15).encode(y=alt.Y("low:Q"), y2="high:Q") + drawn


def ranges(rows: Sequence[Row], up: str) -> Chart:
    """Draw a mean and a range for each label, the series side by side.

    Parameters
    ----------
    rows : sequence of dict
        ``label, series, y, low, high`` in the reader's units, and ``told``, printed at the mean.
    up : str
        Title of the axis.
    """
    import altair as alt

    labels = list(dict.fromkeys(row["label"] for row in rows))
    series = list(dict.fromkeys(row["series"] for row in rows))
    colours = [COLOURS[2], COLOURS[0]] if len(series) > 1 else [COLOURS[0]]
    legend = alt.Legend(title=None, columns=2) if len(series) > 1 else None
    base = alt.Chart(alt.InlineData(values=list(rows)), width=WIDTH, height=HEIGHT).encode(
        x=alt.X("label:O", sort=labels, title=None,
                axis=alt.Axis(labelAngle=0, grid=False, ticks=False, labelFontSize=13),
                scale=alt.Scale(paddingInner=0.1)),
        color=alt.Color("series:N", scale=alt.Scale(domain=series, range=colours), legend=legend),
    )  # fmt: skip
    if len(series) > 1:
        base = base.encode(xOffset=alt.XOffset("series:N", sort=series,
                                               scale=alt.Scale(paddingOuter=0.3)))  # fmt: skip
    height = alt.Y("y:Q", title=up, axis=alt.Axis(tickCount=5), scale=alt.Scale(zero=True))
    spans = base.mark_bar(size=13, opacity=0.32, cornerRadius=3).encode(
        y=alt.Y("low:Q", title=up), y2="high:Q")  # fmt: skip
    means = base.mark_point(filled=True, size=80, opacity=1.0).encode(y=height)
    sides: tuple[tuple[int, Literal["left", "right"]], ...] = ((12, "left"), (-12, "right"))
    names = [  # of two series side by side, the first has its figures at the left
        base.transform_filter(alt.datum.series == one)
        .mark_text(dx=dx, align=align, fontSize=12, color=INK)
        .encode(y=height, text="told:N", color=alt.value(INK))
        for one, (dx, align) in zip(reversed(series), sides, strict=False)
    ]  # fmt: skip
    return alt.layer(spans, means, *names)


def chances(rows: Sequence[Row], line: float) -> Chart:
    """Draw a bar for each chance, with the interval in which it may truly lie.

    Parameters
    ----------
    rows : sequence of dict
        ``label, y, low, high``, in percent.
    line : float
        The share to mark across [percent].
    """
    import altair as alt

    labels = [row["label"] for row in rows]
    base = alt.Chart(alt.InlineData(values=list(rows)), width=WIDTH, height=38 * len(rows)).encode(
        y=alt.Y("label:O", sort=labels, title=None,
                axis=alt.Axis(grid=False, ticks=False, domain=False, labelFontSize=13,
                              labelPadding=8)))  # fmt: skip
    scale = alt.Scale(domain=[0, 100])
    across = alt.X("y:Q", title="falls that reach it, in 100", scale=scale,
                   axis=alt.Axis(tickCount=5, gridColor=FAINT))  # fmt: skip
    bars = base.mark_bar(size=19, color=COLOURS[2]).encode(x=across)
    reach = base.mark_rule(color=INK, strokeWidth=1.6).encode(
        x=alt.X("low:Q", scale=scale), x2="high:Q"
    )
    often = alt.Chart(alt.InlineData(values=[{"y": line}])).mark_rule(
        color=SOFT, strokeDash=[5, 4]).encode(x=across)  # fmt: skip
    return alt.layer(bars, often, reach)
