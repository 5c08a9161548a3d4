"""The panels of a season, each defined once: of one stand or of several, of rows or of named data.

Rows have a ``series``, one of `SERIES`, and a ``day`` from `moments`; no value in them is missing.
A series has its colour and its dash in every panel; of two quantities in a panel the second is
the thin line, so that a dash never means anything else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator import units
from simulator.show.charts import (
    COLOURS,
    INK,
    SHAPES,
    SOFT,
    Axes,
    Chart,
    Source,
    axis_title,
    data,
    distinguish,
    haloed,
    scale,
)

RECORDED, CHANGED, PINNED = "recorded", "changed", "pinned"
SERIES = (RECORDED, CHANGED, PINNED)
INKS = (COLOURS[0], COLOURS[1], COLOURS[3])
WIDE, LOW = (690, 240), (690, 92)  # width and height of panels [px]
THICK, THIN = 2.4, 1.0  # lines [px]
ROW = 19  # height of a stage's [px]
WEEK = 7
# Zadoks stages that a season is told by, and what they are called
STAGES = (
    (10, "emergence"),
    (21, "tillering"),
    (31, "jointing"),
    (41, "boot"),
    (51, "heading"),
    (61, "flowering"),
    (71, "grain fill"),
)

UNDATED = {"before": "", "after": ""}  # beside a stage's point, where dates would run together

Floats = NDArray[np.float64]


def moments(days: Any) -> list[int]:
    """Return days as pictures take them: milliseconds since 1970, which no time zone moves."""
    found: list[int] = np.asarray(days, "datetime64[ms]").astype(int).tolist()
    return found


def week_mean(low: Floats, high: Floats) -> Floats:
    """Return the mean of the two over the week about each day; NaN where no day of it is known."""
    middle = (np.asarray(low, float) + np.asarray(high, float)) / 2
    known = np.isfinite(middle)
    week = np.ones(min(WEEK, middle.size))
    total = np.convolve(np.where(known, middle, 0.0), week, "same")
    count = np.convolve(known.astype(float), week, "same")
    mean: Floats = np.divide(total, count, out=np.full(middle.shape, np.nan), where=count > 0.5)
    return mean


def stages_reached(stage: Floats) -> list[tuple[int, str]]:
    """Return where in an array of Zadoks stages, day by day, each of `STAGES` is reached.

    One that a stand never is in is left out: short of nitrogen it may have no tiller at jointing.
    """
    days, found = np.asarray(stage), []
    for least, name in STAGES:
        beyond = 10 * (least // 10 + 1)  # the next principal stage
        reached = np.flatnonzero(days >= least)
        if reached.size and days[reached[0]] < beyond:
            found.append((int(reached[0]), name))
    return found


def series_encodings(labels: Mapping[str, str]) -> dict[str, Any]:
    """Tell series apart by colour and dash; a legend where `labels` names several."""
    return distinguish("series", SERIES, dashes=True, colours=INKS, labels=labels, columns=2)


def across(ends: Sequence[int] | None = None, *, labels: bool = True) -> Any:
    """Return the axis of days: a tick a month, its name at its first day."""
    import altair as alt

    scale: Any = {"type": "utc", "nice": False}
    if ends is not None:
        scale["domain"] = [alt.ExprRef(str(end)) for end in ends]  # read as they are, not as dates
    return alt.X(
        "day:T",
        title=None,
        scale=scale,
        axis={
            "format": "%b",
            "tickCount": {"interval": "month", "step": 1},
            "labels": labels,
            "ticks": labels,
            "domain": labels,
            "labelAlign": "left",
            "labelOffset": 0,
            "labelPadding": 5,
            "labelOverlap": True,
            "labelSeparation": 6,
        },
    )


def _up(
    field: str, title: str, axes: Axes | None, name: str, *, count: int = 3, zero: bool = True
) -> Any:
    import altair as alt

    return alt.Y(
        f"{field}:Q",
        title=title,
        scale=scale(axes, name, zero=zero, nice=count),
        axis={"tickCount": count, "format": ",~r"},
    )


def growth(
    stand: Source,
    marks: Source,
    system: units.System,
    *,
    labels: Mapping[str, str],
    band: Source = (),
    done: Source = (),
    x: Any = None,
    size: tuple[int, int] = WIDE,
    axes: Axes | None = None,
) -> Chart:
    """Draw biomass day by day, a point where a stage is reached, and what was done to it.

    The stages are named in `stages`, below it: names beside the points would run together.

    Parameters
    ----------
    stand : rows or name
        ``biomass``.
    marks : rows or name
        ``biomass``, on the days of `stages_reached`.
    system : {"us", "si"}
    labels : mapping
        Series -> what the legend calls it; of one series, or of none, there is no legend.
    band : rows or name
        ``low, high`` of several falls, and ``field_low, field_high`` of a field like these.
    done : rows or name
        ``told``: days on which something was done.
    x : X, optional
        From `across`.
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of ``biomass``.
    """
    import altair as alt

    x = x or across()
    encodings = series_encodings(labels)
    mass = axis_title("biomass", "mass", system)
    y = _up("biomass", mass, axes, "biomass", count=5)
    layers = []
    if band:
        layers += [
            alt.Chart(data(band))
            .mark_area(opacity=opacity, clip=True, invalid=None)
            .encode(
                x=x,
                y=_up(low, mass, axes, "biomass", count=5),
                y2=f"{high}:Q",
                color=encodings["color"],
            )
            for low, high, opacity in (("field_low", "field_high", 0.12), ("low", "high", 0.2))
        ]
    if done:
        dated = alt.Chart(data(done))
        layers += [
            dated.mark_rule(color=SOFT, strokeDash=[5, 4], strokeWidth=1.4).encode(x=x),
            dated.mark_text(
                angle=270, align="right", baseline="top", dx=-6, dy=5, color=SOFT
            ).encode(x=x, y=alt.value(0), text="told:N"),
        ]
    at = alt.Chart(data(marks)).encode(x=x, y=y)
    points = at.mark_point(
        filled=True, size=70, opacity=1, stroke="white", strokeWidth=1, invalid=None
    ).encode(color=encodings["color"])
    layers += [_line(stand, y, x, encodings, strokeWidth=2.8), points]
    return alt.layer(
        *layers,
        width=size[0],
        height=size[1],
        title=f"biomass{', and what was done' if done else ''}; points: stages",
    )


def stages(
    marks: Source, *, x: Any = None, size: tuple[int, int] = (WIDE[0], ROW * len(STAGES))
) -> Chart:
    """Draw the day on which each stage is reached: a row a stage, in it a lane a series.

    Parameters
    ----------
    marks : rows or name
        ``stage``, its name, and ``before, after``, written at the left and at the right of its
        point: the date of one stand, empty where several would run together.
    x : X, optional
        From `across`.
    size : (int, int)
        Width and height [px].
    """
    import altair as alt

    rows = alt.Y(
        "stage:N",
        title=None,
        axis={"grid": True, "ticks": False, "domain": False},
        scale={"domain": [name for _, name in reversed(STAGES)]},
    )
    # the recorded lies in the middle, where one alone stands on its row's line
    lanes = alt.YOffset("series:N", scale={"domain": [CHANGED, RECORDED, PINNED]})
    at = alt.Chart(data(marks)).encode(x=x or across(), y=rows, yOffset=lanes)
    points = [  # a shape by encoding would have the legend tell shapes in place of dashes
        at.transform_filter(alt.datum.series == series).mark_point(
            filled=True, size=44, opacity=1, color=ink, shape=shape
        )
        for series, ink, shape in zip(SERIES, INKS, SHAPES, strict=False)
    ]
    left, right = (
        at.transform_filter(f"datum.{side}").encode(text=f"{side}:N") for side in UNDATED
    )
    dates = (*haloed(left, align="right", dx=-8), *haloed(right, align="left", dx=8))
    return alt.layer(*dates, *points, width=size[0], height=size[1], title="stages")


def _line(source: Source, y: Any, x: Any, encodings: Mapping[str, Any], **mark: Any) -> Chart:
    import altair as alt

    return (
        alt.Chart(data(source))
        .mark_line(clip=True, invalid=None, **mark)
        .encode(x=x, y=y, color=encodings["color"], strokeDash=encodings["strokeDash"])
    )


def _thick_and_thin(
    days: Source,
    fields: tuple[str, str],
    title: str,
    name: str,
    *,
    labels: Mapping[str, str],
    x: Any,
    axes: Axes | None,
) -> Chart:
    import altair as alt

    encodings = series_encodings(labels)
    return alt.layer(
        *(
            _line(days, _up(field, title, axes, name), x, encodings, strokeWidth=wide)
            for field, wide in zip(fields, (THICK, THIN), strict=True)
        )
    )


def water(
    days: Source,
    system: units.System,
    *,
    labels: Mapping[str, str],
    x: Any = None,
    size: tuple[int, int] = LOW,
    axes: Axes | None = None,
) -> Chart:
    """Draw ``rain`` so far, and thin under it what has ``drained``; `axes` may hold ``water``."""
    drawn = _thick_and_thin(
        days,
        ("rain", "drained"),
        axis_title("water", "water", system),
        "water",
        labels=labels,
        x=x or across(),
        axes=axes,
    )
    return drawn.properties(width=size[0], height=size[1], title="rain so far; thin: drained")


def nitrogen(
    days: Source,
    system: units.System,
    *,
    labels: Mapping[str, str],
    x: Any = None,
    size: tuple[int, int] = LOW,
    axes: Axes | None = None,
) -> Chart:
    """Draw ``nitrate`` in the soil, and thin what has ``leached``; `axes` may hold ``nitrogen``."""
    title = axis_title("nitrogen", "nitrogen", system)
    drawn = _thick_and_thin(
        days, ("nitrate", "leached"), title, "nitrogen", labels=labels, x=x or across(), axes=axes
    )
    return drawn.properties(width=size[0], height=size[1], title="soil nitrate; thin: leached")


def temperature(
    air: Source,
    system: units.System,
    *,
    labels: Mapping[str, str],
    x: Any = None,
    size: tuple[int, int] = LOW,
    axes: Axes | None = None,
) -> Chart:
    """Draw each day's ``low`` to ``high`` as recorded, and each weather's ``mean`` of a week.

    `axes` may hold ``temperature``. Bands of several weathers would hide each other.
    """
    import altair as alt

    x = x or across()
    degrees = axis_title("air", "temperature", system)
    still: dict[str, Any] = {"axes": axes, "name": "temperature", "zero": False, "count": 4}
    band = (
        alt.Chart(data(air))
        .transform_filter(alt.datum.series == RECORDED)
        .mark_area(color=COLOURS[2], opacity=0.6, clip=True, invalid=None)
        .encode(x=x, y=_up("low", degrees, **still), y2="high:Q")
    )
    zero = alt.Chart(data([{"zero": float(units.show(0.0, "temperature", system))}]))
    rule = zero.mark_rule(color=INK, strokeDash=[1.5, 3]).encode(y=_up("zero", degrees, **still))
    means = _line(air, _up("mean", degrees, **still), x, series_encodings(labels), strokeWidth=2.0)
    return alt.layer(
        band, rule, means, width=size[0], height=size[1], title="air: range; line: week's mean"
    )


def stacked(
    of: Mapping[str, Source],
    system: units.System,
    *,
    labels: Mapping[str, str],
    ends: Sequence[int] | None = None,
    axes: Axes | None = None,
) -> Chart:
    """Draw a season of several stands or weathers: growth, stages, water, nitrogen, air.

    Parameters
    ----------
    of : mapping
        Rows or names of ``stand, marks, band, done, days, air``, as the panels take them; ``band``
        and ``done`` may be left out.
    system : {"us", "si"}
    labels : mapping
        Series -> what the legend calls it; no legend without.
    ends : (first, last), optional
        Of the axis of days, as `moments` has them.
    axes : mapping, optional
        Domains of ``biomass, water, nitrogen, temperature``.
    """
    import altair as alt

    bare, dated = across(ends, labels=False), across(ends)
    held: dict[str, Any] = {"labels": labels, "axes": axes}
    return alt.vconcat(
        growth(
            of["stand"],
            of["marks"],
            system,
            band=of.get("band", ()),
            done=of.get("done", ()),
            x=bare,
            **held,
        ),
        stages(of["marks"], x=dated),
        water(of["days"], system, x=bare, **held),
        nitrogen(of["days"], system, x=bare, **held),
        temperature(of["air"], system, x=dated, **held),
        spacing=12,
    )
