"""Risk as a chart: how often biomass is reached, and the chance of a target by sowing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from simulator import units
from simulator.advice import wording
from simulator.advice.risk import ALL, Risk
from simulator.show.charts import (
    COLOURS,
    FAINT,
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
    told_apart,
)
from simulator.show.risk import OUTER, curve_rows, ordinary

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
    rows = [
        row
        for one in found
        for row in curve_rows(one, system, f"{one.site}: " if len(found) > 1 else "")
    ]
    return finish(exceedance(rows, system, axes=axes), *headline(found, system))


def headline(found: Sequence[Risk], system: units.System) -> tuple[list[str], list[str]]:
    """Say how often the first and the last sowing reach the target at the first place."""
    one = found[0]
    target, rate = units.spell(one.target, "mass", system), ordinary(one)
    part = one.table.sel(nitrogen=rate, kind=ALL).isel(dict.fromkeys(OUTER, 0))
    told = []
    for at in dict.fromkeys((0, part.sizes["sow"] - 1)):
        row = part.isel(sow=at)
        share, falls = float(row["chance_percent"]) / 100, float(row["falls"])
        if np.isfinite(share):
            told.append(f"{share * falls:.0f} of {falls:.0f} falls sown "
                        f"{wording.dates_in(str(row['sow'].values))}")  # fmt: skip
    cereal = str(one.grid.attrs["cereal"]).capitalize()
    where = f" at {one.site}" if len(found) > 1 else ""
    fed = units.spell(rate, "nitrogen", system)
    line = (f"{cereal}{where} with {fed} of nitrogen reaches {target} in {wording.join(told)}"
            if told else f"How often {cereal.lower()} makes {target} of biomass")  # fmt: skip
    below = [subject(each.grid.attrs, each.grid["year"].values.tolist()) for each in found]
    return [line], [*below, f"Dashed: {target}."]


def exceedance(
    rows: Sequence[Row], system: units.System, *, size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
) -> Chart:  # fmt: skip
    """Draw the share of falls that make at least so much biomass.

    Parameters
    ----------
    rows : sequence of dict
        From `show.risk.curve_rows`.
    system : {"us", "si"}
    size : (int, int)
        Width and height of each panel [px].
    axes : mapping, optional
        Domain of ``biomass``.
    """
    import altair as alt

    sowings = list(dict.fromkeys(row["sown"] for row in rows))
    rule = alt.Chart().mark_rule(color=SOFT, strokeDash=[5, 4], strokeWidth=1.6).encode(
        x=alt.X("mean(target):Q", title=axis_title("biomass", "mass", system)))  # fmt: skip
    lines = alt.Chart().mark_line(interpolate="step-before", strokeWidth=2.2).encode(
        x=alt.X("biomass:Q", title=axis_title("biomass", "mass", system),
                scale=scale(axes, "biomass", zero=True)),
        y=alt.Y("percent:Q", title="falls with so much (%)", scale=alt.Scale(domain=[0, 100])),
        order="corner:Q", **told_apart("sown", sowings, title="sown", dashes=True),
    )  # fmt: skip
    drawn = alt.layer(rule, lines, data=data(rows)).properties(width=size[0], height=size[1])
    panels = alt.Facet("panel:N", title=None, sort=None)
    return drawn.facet(facet=panels, columns=2, spacing=26).resolve_axis(x="independent")


def chances(rows: Sequence[Row], line: float, *, width: int = 690, step: int = 38) -> Chart:
    """Draw a bar for each chance, with the interval in which it may truly lie.

    Parameters
    ----------
    rows : sequence of dict
        ``label, y, low, high``, in percent.
    line : float
        The share to mark across [percent].
    width, step : int
        Width of the panel, height of a bar and the room about it [px].
    """
    import altair as alt

    labels = [row["label"] for row in rows]
    base = alt.Chart(data(rows), width=width, height=step * len(rows)).encode(
        y=alt.Y("label:O", sort=labels, title=None,
                axis=alt.Axis(grid=False, ticks=False, domain=False, labelPadding=8)))  # fmt: skip
    fixed = alt.Scale(domain=[0, 100])
    across: Any = alt.X("y:Q", title="falls that reach it, in 100", scale=fixed,
                        axis=alt.Axis(gridColor=FAINT))  # fmt: skip
    bars = base.mark_bar(size=step // 2, color=COLOURS[2]).encode(x=across)
    reach = base.mark_rule(color=INK, strokeWidth=1.6).encode(
        x=alt.X("low:Q", scale=fixed), x2="high:Q")  # fmt: skip
    often = alt.Chart(data([{"y": line}])).mark_rule(color=SOFT, strokeDash=[5, 4]).encode(x=across)
    return alt.layer(bars, often, reach)
