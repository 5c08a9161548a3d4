"""The panels that one stand alone has: rain and drainage, nitrate by depth, thermal time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.season.panels import WEEK, across, moments
from simulator.answers.season.rows import plain, shown, stages
from simulator.show import names
from simulator.show.charts import COLOURS, TEXT, Axes, Chart, axis_title, data, scale
from simulator.show.wording import threshold

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

HALF = (290, 190)  # width and height of panels that stand side by side [px]
SLICE = {"si": (10.0, "10 cm"), "us": (10.16, "4 in")}  # of soil: its thickness [cm]


def rain_and_drainage(
    days: xr.Dataset,
    system: units.System,
    *,
    size: tuple[int, int] = HALF,
    axes: Axes | None = None,
) -> Chart:
    """Draw rain and what drained below the column of soil, week by week.

    What drained is the narrower bar, so that it hides no rain where it is the more of the two.
    """
    import altair as alt

    names = ("rain and snow", "drained")
    aside = (np.timedelta64(0, "h"), np.timedelta64(WEEK * 24 // 4, "h"))
    rows = []
    weeks = days["time"].values[::WEEK]
    for name, field, by in zip(names, ("rain_mm", "drainage_mm"), aside, strict=True):
        total = shown(days[field], "water", system)
        ends = np.minimum(np.arange(0, total.size, WEEK) + WEEK, total.size) - 1
        rows += [
            {"what": name, "day": first, "until": until, "water": plain(amount)}
            for first, until, amount in zip(
                moments(weeks + by),
                moments(weeks + np.timedelta64(WEEK, "D") - by),
                np.diff(total[ends], prepend=0.0),
                strict=True,
            )
        ]
    colour = alt.Color(
        "what:N",
        scale={"domain": list(names), "range": [COLOURS[2], COLOURS[0]]},
        legend={"title": None},
    )
    y = alt.Y(
        "water:Q", title=axis_title("a week", "water", system), scale=scale(axes, "rain", zero=True)
    )
    base = alt.Chart(data(rows), width=size[0], height=size[1])
    bars = [
        base.transform_filter(alt.datum.what == name)
        .mark_rect(stroke="white", strokeWidth=0.6)
        .encode(x=across(), x2="until:T", y=y, y2=alt.datum(0), color=colour)
        for name in names
    ]
    return alt.layer(*bars, title="rain and drainage")


def nitrate_by_depth(
    days: xr.Dataset,
    layers: NDArray[np.float64],
    bottoms: Sequence[float] | NDArray[np.float64],
    system: units.System,
    *,
    size: tuple[int, int] = HALF,
    axes: Axes | None = None,
) -> Chart:
    """Draw nitrate nitrogen by day and depth, a band a layer, darker where there is more.

    Shown for a slice as thick in every layer, or thick layers would look the richer.

    Parameters
    ----------
    days : Dataset(time)
        Whose days they are.
    layers : array (day, layer)
        Nitrate nitrogen of each layer [kg/ha].
    bottoms : array (layer,)
        Depths of the layers' bottoms [cm].
    system : {"us", "si"}
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of ``nitrogen`` (of a slice), which the colour shows.
    """
    import altair as alt

    edges = np.concatenate([[0.0], np.asarray(bottoms, float)])
    depths = shown(edges, "depth", system)
    slice_cm, slice_told = SLICE[system]
    amounts = shown(np.asarray(layers) * slice_cm / np.diff(edges), "nitrogen", system)
    # a tile a week and layer keeps files small, and hides nothing that lasts
    starts = days["time"].values[::WEEK]
    weeks = zip(
        moments(starts), moments(starts + np.timedelta64(WEEK, "D")), amounts[::WEEK], strict=True
    )
    rows = [
        {
            "day": first,
            "until": until,
            "top": plain(depths[k]),
            "bottom": plain(depths[k + 1]),
            "amount": plain(amount),
        }
        for first, until, layer in weeks
        for k, amount in enumerate(layer)
    ]
    y = alt.Y(
        "top:Q",
        title=axis_title("depth", "depth", system),
        scale={"reverse": True, "nice": False, "domain": [0, float(depths[-1])]},
    )
    colour = alt.Color(
        "amount:Q",
        scale=_shades(axes),
        legend={
            "title": axis_title(f"in each {slice_told}", "nitrogen", system),
            "gradientLength": 200,
            "tickCount": 3,
        },
    )
    return (
        alt.Chart(data(rows), width=size[0], height=size[1], title="nitrate nitrogen by depth")
        .mark_rect(aria=False)  # three hundred tiles would drown what a screen reader tells
        .encode(x=across(), x2="until:T", y=y, y2="bottom:Q", color=colour)
    )


def _shades(axes: Axes | None) -> Any:
    """One hue from white to the darkest colour: lightness alone tells, for any eye and in print."""
    return {**scale(axes, "nitrogen", zero=True), "range": ["#f4f6f7", COLOURS[2], COLOURS[0]]}


def thermal_time(
    days: xr.Dataset,
    system: units.System,
    *,
    size: tuple[int, int] = HALF,
    axes: Axes | None = None,
) -> Chart:
    """Draw the thermal time since sowing, a point where a stage is reached.

    Its name stands there where it has room; `panels.stages` has them all.
    """
    import altair as alt

    sums = shown(days["thermal_time_degC_d"], "thermal_time", system)
    rows = [
        {"day": day, "sum": plain(value)}
        for day, value in zip(moments(days["time"].values), sums, strict=True)
    ]
    y = alt.Y(
        "sum:Q",
        title=axis_title("since sowing", "thermal_time", system),
        scale=scale(axes, "thermal_time", zero=True),
    )
    base = alt.Chart(data(rows), width=size[0], height=size[1])
    line = base.mark_line(color=COLOURS[1], strokeWidth=2.4).encode(x=across(), y=y)
    reached = stages(days, rows)
    places = [(row["day"] - rows[0]["day"]) / (rows[-1]["day"] - rows[0]["day"]) for row in reached]
    sides = names.beside(places, [row["stage"] for row in reached], TEXT)
    marked = alt.Chart(data([{**row, **side} for row, side in zip(reached, sides, strict=True)]))
    at = marked.encode(x=across(), y=y)
    points = at.mark_point(filled=True, size=60, opacity=1, color=COLOURS[1])
    return alt.layer(
        line,
        *names.written(at, str(size[0])),
        points,
        title=f"thermal time above {threshold(0.0, system)}",
    )
