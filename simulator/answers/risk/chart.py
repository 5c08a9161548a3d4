"""Risk as a chart: how often biomass is reached, and the chance of a target by sowing."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.risk.calculate import Risk
from simulator.answers.risk.chance import ALL
from simulator.answers.risk.data import FALLS, FIELD, OUTER, curve_rows, sowing_rows
from simulator.answers.risk.words import ordinary
from simulator.show import wording
from simulator.show.charts import (
    COLOURS,
    FAINT,
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
    scales_apart,
    subject,
)

SIZE = (310, 130)  # of a panel of chances by sowing [px]
CURVES = (706, 200)  # of the curves below them [px]
NAMES = (FIELD, FALLS)  # of the two chances, in the order of the legend
CHANCES = (COLOURS[5], COLOURS[4])  # colors that no sowing below has, of up to four


def chart(found: Sequence[Risk], system: units.System, *, axes: Axes | None = None) -> Chart:
    """Draw the chance of the target by sowing date, a panel a rate, and of all else besides.

    Below these the chance of other amounts is drawn, a line a sowing, for the first place and the
    rate that the title speaks of.

    Parameters
    ----------
    found : sequence of Risk
        Place by place.
    system : {"us", "si"}
    axes : mapping, optional
        Domain of ``biomass``.

    Returns
    -------
    Chart
    """
    import altair as alt

    several = len(found) > 1
    rows = [
        row for one in found for row in sowing_rows(one, system, f"{one.site}: " if several else "")
    ]
    rates = list(dict.fromkeys(row["panel"] for row in rows))
    start = {"labelAnchor": "start"}
    panels = alt.Facet("panel:N", title=None, sort=rates, header=start)  # "34" before "101"
    parts = []
    if rows:
        size = SIZE if len(rates) > 1 else (CURVES[0], SIZE[1])
        laid = by_sowing(100.0 * found[0].often, [row["day"] for row in rows], size=size).facet(
            data=data(_told_apart(rows)), facet=panels, columns=2, spacing=26
        )
        parts.append(laid.resolve_axis(x="independent"))
    one = found[0]
    fed = units.spell(ordinary(one), "nitrogen", system)
    curves = [
        row
        for row in curve_rows(one, system)
        if row["of"] == FIELD and row["panel"] == f"{fed} of nitrogen"
    ]
    sowings = list(dict.fromkeys(row["sown"] for row in curves))
    drawn = exceedance(
        curves,
        system,
        axes=axes,
        encodings=distinguish("sown", sowings, title="sown", dashes=True),
        goal=[{"target": float(units.show(one.target, "mass", system))}],
        fields=True,
        size=CURVES,
    )
    where = f"{one.site}: " if several else ""
    drawn.title = f"{where}{fed} of nitrogen, other amounts than the target"
    parts.append(drawn)
    apart = scales_apart("color", "shape", "strokeDash")
    whole = alt.vconcat(*parts, spacing=30, resolve=apart)
    return finish(whole, *headline(found, system))


def _told_apart(rows: Sequence[Row]) -> list[Row]:
    """Give each of the two chances a row of its own, told apart by ``of``."""
    return [
        {
            **row,
            "of": of,
            "percent": row[name],
            "told": row["told"] if of == FIELD else "",
            "under": (row["chance"] or 0.0) < (row["alone"] or 0.0),
        }
        for row in rows
        for of, name in zip(NAMES, ("chance", "alone"), strict=True)
    ]


def by_sowing(often: float, days: Sequence[str], *, size: tuple[int, int] = SIZE) -> Chart:
    """Draw the chance of the target by sowing date, and the share of falls in its interval.

    Parameters
    ----------
    often : float
        The chance that is wanted, marked across [percent].
    days : sequence of str
        Sowing dates, as `moment` writes them.
    size : (int, int)
        Width and height [px].

    Returns
    -------
    Chart
        Of the rows of what it is put into: ``day, of, percent, told, under, low, high``.
    """
    import altair as alt

    x = alt.X(
        "day:T",
        title="sown",
        scale={"padding": 26, "nice": False},
        axis={
            "values": sorted(set(days)),
            "format": "%b %-d",
            "labelOverlap": True,
            "labelFlush": False,
            "grid": False,
        },
    )

    def up(field: str) -> Any:
        return alt.Y(
            f"{field}:Q",
            title="chance (%)",
            scale={"domain": [0, 100]},
            axis={"tickCount": 3},
        )

    marks = distinguish(
        "of",
        NAMES,
        shapes=True,
        dashes=True,
        colours=CHANCES,
        symbolSize=110,
        symbolStrokeWidth=0,
    )
    base = alt.Chart().encode(x=x)
    alone = base.transform_filter(alt.datum.of == FALLS)
    one = len(set(days)) == 1  # a single date has no area: a bar stands for it
    pale: dict[str, Any] = {"color": CHANCES[1], "opacity": 0.3}
    shaded = alone.mark_bar(width=24, **pale) if one else alone.mark_area(**pale)
    band = shaded.encode(y=up("low"), y2="high:Q")
    wanted = (
        alt.Chart()
        .mark_rule(color=SOFT, strokeDash=[5, 4], strokeWidth=1.4)
        .encode(y=alt.Y(datum=often, title="chance (%)", scale={"domain": [0, 100]}))
    )
    lines = base.mark_line(strokeWidth=2.2).encode(
        y=up("percent"), color=marks["color"], strokeDash=marks["strokeDash"]
    )
    points = base.mark_point(filled=True, size=70, opacity=1.0).encode(
        y=up("percent"), color=marks["color"], shape=marks["shape"]
    )
    told = base.encode(y=up("percent"), text="told:N")
    figures = [  # on the side of the point on which the other chance is not
        mark
        for where, dy in (("!datum.under", -13), ("datum.under", 15))
        for mark in haloed(told.transform_filter(where), dy=dy, fontWeight="bold")
    ]
    return alt.layer(band, wanted, lines, *figures, points, width=size[0], height=size[1])


def headline(found: Sequence[Risk], system: units.System) -> tuple[list[str], list[str]]:
    """Say how surely the first and the last sowing reach the target at the first place."""
    one = found[0]
    target, rate = units.spell(one.target, "biomass", system), ordinary(one)
    part = one.table.sel(nitrogen=rate, kind=ALL).isel(dict.fromkeys(OUTER, 0))
    texts = []
    for at in dict.fromkeys((0, part.sizes["sow"] - 1)):
        row = part.isel(sow=at)
        chance = float(row["chance_percent"])
        if np.isfinite(chance):
            texts.append(f"{chance:.0f} percent sown {wording.dates_in(str(row['sow'].values))}")
    cereal = str(one.grid.attrs["cereal"]).capitalize()
    where = f" at {one.site}" if len(found) > 1 else ""
    fed = units.spell(rate, "nitrogen", system)
    line = (
        f"{cereal}{where} with {fed} of nitrogen reaches {target} with a chance of "
        f"{wording.join(texts)}"
        if texts
        else f"How often {cereal.lower()} makes {target} of biomass"
    )
    below = [subject(each.grid.attrs, each.grid["year"].values.tolist()) for each in found]
    return [line], [
        *below,
        "In a field like these: weather and field together. Over the falls: the share of falls "
        f"that reach it, by weather alone, in its 95 % interval. Dashed: {100 * one.often:g} % and "
        f"{target}.",
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
        ``corner, biomass, percent`` and what `encodings` tells apart, and of shares of falls
        ``low, high``, the ends of their interval, where it is to be drawn; without it and `goal`,
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
    still = scale(axes, "biomass", zero=True, nice=True)
    x = alt.X("biomass:Q", title=title, scale=still, axis={"tickCount": 5, "format": ",~r"})

    def up(field: str) -> Any:
        return alt.Y(
            f"{field}:Q",
            title="chance of so much (%)" if fields else "falls with so much (%)",
            scale={"domain": [0, 100]},
            axis={"tickCount": 5},
        )

    y = up("percent")
    layers = [
        drawn_of(goal)
        .mark_rule(color=SOFT, strokeDash=[5, 4], strokeWidth=1.6)
        .encode(x=alt.X("mean(target):Q", title=title, scale=still)),
    ]
    if fields:
        layers += _both_curves(drawn_of(curve), x, up, encodings)
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
    return alt.layer(*layers, width=size[0], height=size[1])


def _both_curves(
    curve: Chart, x: Any, up: Callable[[str], Any], encodings: Mapping[str, Any]
) -> list[Chart]:
    """Draw the share of falls in steps, in its interval, and the smooth chance above it."""
    falls, field = (curve.transform_filter(f"datum.of == '{kind}'") for kind in (FALLS, FIELD))
    return [
        falls.transform_filter("isValid(datum.low)")
        .mark_area(interpolate="step-before", opacity=0.16)
        .encode(x=x, y=up("low"), y2="high:Q", color=encodings["color"]),
        falls.mark_line(interpolate="step-before", strokeWidth=1.0, opacity=0.6).encode(
            x=x, y=up("percent"), order="corner:Q", **encodings
        ),
        field.mark_line(strokeWidth=2.6, clip=True).encode(
            x=x, y=up("percent"), order="corner:Q", **encodings
        ),
    ]


def how_often(rows: Sequence[Row], line: float, *, width: int = 690, step: int = 38) -> Chart:
    """Draw a point for each chance, and the share of falls in the band of its interval.

    Parameters
    ----------
    rows : sequence of dict
        ``label, y, alone, low, high``, in percent: the chance of weather and field, and of the
        weather alone.
    line : float
        The share to mark across [percent].
    width, step : int
        Width of the panel, height of a row and the room about it [px].
    """
    import altair as alt

    labels = [row["label"] for row in rows]
    base = alt.Chart(data(rows), width=width, height=step * len(rows)).encode(
        y=alt.Y(
            "label:O",
            sort=labels,
            title=None,
            axis={"grid": False, "ticks": False, "domain": False, "labelPadding": 8},
        )
    )

    def across(field: str) -> Any:
        return alt.X(
            f"{field}:Q",
            title="chance that it is reached, in 100",
            scale={"domain": [0, 100]},
            axis={"gridColor": FAINT},
        )

    band = base.mark_bar(height=0.62 * step, color=COLOURS[2], opacity=0.45)
    alone = base.mark_tick(color=COLOURS[1], opacity=1.0, thickness=3, height=0.62 * step)
    points = base.mark_point(color=COLOURS[0], filled=True, size=90, opacity=1.0)
    often = alt.Chart(data([{"y": line}])).mark_rule(color=SOFT, strokeDash=[5, 4])
    return alt.layer(
        band.encode(x=across("low"), x2="high:Q"),
        often.encode(x=across("y")),
        alone.encode(x=across("alone")),
        points.encode(x=across("y")),
    )
