"""Risk as a chart: how often biomass is reached, and the chance of a target by sowing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.risk.calculate import Risk
from simulator.answers.risk.chance import ALL
from simulator.answers.risk.data import FALLS, FIELD, OUTER, curve_rows
from simulator.answers.risk.words import ordinary
from simulator.show import wording
from simulator.show.charts import (
    COLOURS,
    FAINT,
    INK,
    SOFT,
    Axes,
    Chart,
    Row,
    Source,
    axis_title,
    data,
    distinguish,
    finish,
    haloed,
    scale,
    subject,
)

SIZE = (290, 210)  # of a panel [px]


def chart(found: Sequence[Risk], system: units.System, *, axes: Axes | None = None) -> Chart:
    """Draw how often biomass is reached: a panel a nitrogen rate, a line a sowing.

    Parameters
    ----------
    found : sequence of Risk
        Place by place.
    system : {"us", "si"}
    axes : mapping, optional
        Domain of ``biomass``; the same for all panels.

    Returns
    -------
    Chart
    """
    import altair as alt

    rows = [
        row
        for one in found
        for row in curve_rows(one, system, f"{one.site}: " if len(found) > 1 else "")
    ]
    sowings = list(dict.fromkeys(row["sown"] for row in rows))
    drawn = exceedance(
        None,
        system,
        axes=axes,
        encodings=distinguish("sown", sowings, title="sown", dashes=True),
        fields=True,
    )
    rates = list(dict.fromkeys(row["panel"] for row in rows))
    panels = alt.Facet("panel:N", title=None, sort=rates)  # or "101" would stand before "34"
    laid = drawn.facet(data=data(rows), facet=panels, columns=2, spacing=26)
    return finish(laid.resolve_axis(x="independent"), *headline(found, system))


def headline(found: Sequence[Risk], system: units.System) -> tuple[list[str], list[str]]:
    """Say how surely the first and the last sowing reach the target at the first place."""
    one = found[0]
    target, rate = units.spell(one.target, "mass", system), ordinary(one)
    part = one.table.sel(nitrogen=rate, kind=ALL).isel(dict.fromkeys(OUTER, 0))
    texts = []
    for at in dict.fromkeys((0, part.sizes["sow"] - 1)):
        row = part.isel(sow=at)
        chance, alone = (float(row[f"{of}chance_percent"]) for of in ("", "weather_"))
        if np.isfinite(chance):
            texts.append(
                f"of {chance:.0f} percent sown {wording.dates_in(str(row['sow'].values))} "
                f"(by weather alone {alone:.0f})"
            )
    cereal = str(one.grid.attrs["cereal"]).capitalize()
    where = f" at {one.site}" if len(found) > 1 else ""
    fed = units.spell(rate, "nitrogen", system)
    line = (
        f"{cereal}{where} with {fed} of nitrogen reaches {target} with a chance "
        f"{wording.join(texts)}"
        if texts
        else f"How often {cereal.lower()} makes {target} of biomass"
    )
    below = [subject(each.grid.attrs, each.grid["year"].values.tolist()) for each in found]
    return [line], [
        *below,
        f"Heavy lines: in a field like these, weather and field together. Thin steps: over the "
        f"falls, the weather alone. Dashed: {target}.",
    ]


def exceedance(
    curve: Source | None,
    system: units.System,
    *,
    encodings: Mapping[str, Any],
    goal: Source | None = None,
    fall: Source = (),
    fields: bool = False,
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
) -> Chart:
    """Draw the share of falls that make at least so much biomass, and a target.

    Parameters
    ----------
    curve : rows or name, optional
        ``corner, biomass, percent`` and what `encodings` tells apart; without it and `goal`,
        those of the chart that this is put into.
    system : {"us", "si"}
    encodings : mapping
        Encodings of colour and dash, from `distinguish`.
    goal : rows or name, optional
        ``target``.
    fall : rows or name
        One fall's place on its curve: ``biomass, percent, text``.
    fields : bool
        Whether rows of the curve say ``of`` which kind they are, as `curve_rows` has them.
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of ``biomass``.
    """
    import altair as alt

    def drawn_of(source: Source | None) -> Any:
        return alt.Chart() if source is None else alt.Chart(data(source))

    title = axis_title("biomass", "mass", system)
    still = scale(axes, "biomass", zero=True)
    x = alt.X("biomass:Q", title=title, scale=still, axis=alt.Axis(tickCount=5, format=",~r"))
    y = alt.Y(
        "percent:Q",
        title="chance of so much (%)" if fields else "falls with so much (%)",
        scale=alt.Scale(domain=[0, 100]),
        axis=alt.Axis(tickCount=5),
    )
    layers = [
        drawn_of(goal)
        .mark_rule(color=SOFT, strokeDash=[5, 4], strokeWidth=1.6)
        .encode(x=alt.X("mean(target):Q", title=title, scale=still)),
    ]
    if fields:
        of = {
            kind: drawn_of(curve).transform_filter(f"datum.of == '{kind}'")
            for kind in (FALLS, FIELD)
        }
        layers += [
            of[FALLS]
            .mark_line(interpolate="step-before", strokeWidth=1.0, opacity=0.6)
            .encode(x=x, y=y, order="corner:Q", **encodings),
            of[FIELD]
            .mark_line(strokeWidth=2.6, clip=True)
            .encode(x=x, y=y, order="corner:Q", **encodings),
        ]
    else:
        layers.append(
            drawn_of(curve)
            .mark_line(interpolate="step-before", strokeWidth=2.4)
            .encode(x=x, y=y, order="corner:Q", **encodings)
        )
    if fall:
        at = drawn_of(fall).encode(x=x, y=y)
        layers += [
            at.mark_point(filled=True, size=70, stroke="white", opacity=1.0).encode(
                color=encodings["color"]
            ),
            *haloed(at.encode(text="text:N"), align="left", dx=8, dy=-7),
        ]
    return alt.layer(*layers).properties(width=size[0], height=size[1])


def how_often(rows: Sequence[Row], line: float, *, width: int = 690, step: int = 38) -> Chart:
    """Draw a bar for each chance, and the share of falls with its interval.

    Parameters
    ----------
    rows : sequence of dict
        ``label, y, alone, low, high``, in percent: the chance of weather and field, and of the
        weather alone.
    line : float
        The share to mark across [percent].
    width, step : int
        Width of the panel, height of a bar and the room about it [px].
    """
    import altair as alt

    labels = [row["label"] for row in rows]
    base = alt.Chart(data(rows), width=width, height=step * len(rows)).encode(
        y=alt.Y(
            "label:O",
            sort=labels,
            title=None,
            axis=alt.Axis(grid=False, ticks=False, domain=False, labelPadding=8),
        )
    )
    fixed = alt.Scale(domain=[0, 100])
    across: Any = alt.X(
        "y:Q",
        title="chance that it is reached, in 100",
        scale=fixed,
        axis=alt.Axis(gridColor=FAINT),
    )
    bars = base.mark_bar(size=step // 2, color=COLOURS[2]).encode(x=across)
    reach = base.mark_rule(color=INK, strokeWidth=1.6).encode(
        x=alt.X("low:Q", scale=fixed), x2="high:Q"
    )
    alone = base.mark_point(color=INK, filled=True, size=42, opacity=1.0).encode(
        x=alt.X("alone:Q", scale=fixed)
    )
    often = alt.Chart(data([{"y": line}])).mark_rule(color=SOFT, strokeDash=[5, 4]).encode(x=across)
    return alt.layer(bars, often, reach, alone)
