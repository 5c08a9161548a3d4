"""One season: growth with its stages, rain and drainage, nitrate, temperature, thermal time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.advice import wording
from simulator.advice.one_season import sowing_date
from simulator.advice.warmth import threshold
from simulator.season.plan import dressings
from simulator.show.charts import (
    COLOURS,
    INK,
    Axes,
    Chart,
    Row,
    axis_title,
    data,
    finish,
    haloed,
    moment,
    scale,
    subject,
    told_apart,
)
from simulator.weather.record import season_day

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

WIDE, HALF = (690, 240), (290, 190)  # width and height of panels [px]
# Zadoks stages that a season is told by, and what they are called
STAGES = ((10, "up"), (21, "tillers"), (31, "stems rise"), (41, "boot"), (51, "heads"),
          (61, "flowers"), (71, "kernels"))  # fmt: skip
SLICE = {"si": (10.0, "10 cm"), "us": (10.16, "4 in")}  # of soil: its thickness [cm]
WEEK = 7
LETTERS_APART = 62  # room that the name of a stage takes [px]


def chart(
    days: xr.Dataset, system: units.System, *, weather: xr.Dataset | None = None,
    axes: Axes | None = None,
) -> Chart:  # fmt: skip
    """Draw a season.

    Parameters
    ----------
    days : Dataset(time)
        From `run_season`. Nitrate is drawn by depth where it has ``nitrate_by_layer_kg_ha``
        (time, layer) with the coordinate ``bottom_cm`` (layer), else for the whole column.
    system : {"us", "si"}
    weather : Dataset(time), optional
        The record it grew in, for the air's temperature.
    axes : mapping, optional
        Domains of ``biomass``, ``rain``, ``nitrogen``, ``temperature``, ``thermal_time``.

    Returns
    -------
    Chart
    """
    import altair as alt

    if "nitrate_by_layer_kg_ha" in days:
        layers = days["nitrate_by_layer_kg_ha"]
        soil = nitrate_by_depth(days, layers.values, layers["bottom_cm"].values, system, axes=axes)
    else:
        soil = nitrate(days, system, axes=axes)
    panels = [rain_and_drainage(days, system, axes=axes), soil]
    if weather is None:
        last = thermal_time(days, system, size=(WIDE[0], HALF[1]), axes=axes)
    else:
        panels += [temperature(days, weather, system, axes=axes),
                   thermal_time(days, system, axes=axes)]  # fmt: skip
    rows = [growth(days, system, axes=axes), alt.concat(*panels, columns=2, spacing=30)]
    apart: dict[str, Any] = {"color": "independent", "strokeDash": "independent"}
    rows[1] = rows[1].resolve_scale(**apart)
    laid = alt.vconcat(*rows, *([last] if weather is None else []), spacing=28)
    return finish(laid.resolve_scale(**apart), *headline(days, system))


def headline(days: xr.Dataset, system: units.System) -> tuple[list[str], list[str]]:
    """Say what the stand came to and what leached, and below it how it was grown."""
    about, last = days.attrs, days.isel(time=-1)
    when = wording.dates_in(str(last["time"].values)[5:10])
    sown = f"{wording.dates_in(str(about['sow']))}, {about['year']}"
    leached = units.spell(float(last["nitrate_leached_kg_ha"]), "nitrogen", system)
    if float(last["stand_alive"]):
        made = units.spell(float(last["biomass_kg_ha"]), "mass", system)
        told = f"{str(about['cereal']).capitalize()} sown {sown} makes {made} by {when}"
    else:
        told = f"{str(about['cereal']).capitalize()} sown {sown} does not live on {when}"
    nitrogen = float(about["nitrogen_kg_ha"])
    fed = "no nitrogen"
    if nitrogen:
        when_fed = wording.timing(str(about["nitrogen_timing"]))
        fed = f"{units.spell(nitrogen, 'nitrogen', system)} of nitrogen {when_fed}"
    changed = f" Weather changed: {about['changes']}." if about.get("changes") else ""
    seed = units.spell(float(about["seeding_kg_ha"]), "mass", system)
    return [f"{told}; {leached} of nitrate nitrogen leach"], [
        f"{subject(about)} {seed} of seed, {fed}.{changed}"
    ]


def _across(*, title: str | None = None) -> Any:
    import altair as alt

    return alt.X("day:T", title=title, scale=alt.Scale(nice=False),
                 axis=alt.Axis(format="%b", tickCount="month", labelAlign="left", labelOffset=0,
                               labelPadding=5))  # fmt: skip


def _rows(days: xr.Dataset, system: units.System, **fields: tuple[str, str]) -> list[Row]:
    """Return a row a day: ``name=(field, kind of quantity)``, in the reader's units."""
    columns = {
        name: _in(days[field].values, kind, system) for name, (field, kind) in fields.items()
    }
    return [
        {"day": moment(day), **{name: _plain(values[at]) for name, values in columns.items()}}
        for at, day in enumerate(days["time"].values)
    ]


def _in(values: Any, kind: str, system: units.System) -> NDArray[np.float64]:
    """Turn an array into the reader's units."""
    return np.asarray(units.show(values, kind, system), dtype=float)


def _plain(value: float) -> float | None:
    return float(f"{value:.5g}") if np.isfinite(value) else None


def events(days: xr.Dataset) -> list[Row]:
    """Return the days of sowing, and of nitrogen, and what to call them."""
    about, sown = days.attrs, sowing_date(days)
    found: dict[str, list[str]] = {str(sown): ["sown"]}
    if float(about["nitrogen_kg_ha"]) > 0:
        for dressing in dressings(str(about["nitrogen_timing"])):
            when = season_day(int(about["year"]), dressing.when) if dressing.when else sown
            found.setdefault(str(when), []).append("nitrogen")
    return [{"day": moment(day), "told": " + ".join(what)} for day, what in found.items()]


def stages(days: xr.Dataset, width: int = WIDE[0]) -> list[Row]:
    """Return the days on which stages are reached, with their place in the series.

    A name that would run into the one before it goes under the line, and is left away where
    there is no room either; the points stay.
    """
    reached = days["growth_stage_zadoks"].values
    apart = LETTERS_APART * reached.size / width  # days that a name takes
    found: list[Row] = []
    free = dict.fromkeys(("above", "under"), -np.inf)
    for stage, name in STAGES:
        at = np.flatnonzero(reached >= stage)
        if at.size:
            row: Row = {"at": int(at[0]), "above": "", "under": ""}
            side = next((side for side in free if at[0] - free[side] >= apart), None)
            if side is not None:
                row[side], free[side] = name, float(at[0])
            found.append(row)
    return found


def growth(
    days: xr.Dataset, system: units.System, *, size: tuple[int, int] = WIDE,
    axes: Axes | None = None,
) -> Chart:  # fmt: skip
    """Draw biomass day by day, the stages on it, and what was done to it."""
    import altair as alt

    rows = _rows(days, system, biomass=("biomass_kg_ha", "mass"))
    x = _across()
    y = alt.Y("biomass:Q", title=axis_title("biomass", "mass", system),
              scale=scale(axes, "biomass", zero=True))  # fmt: skip
    base = alt.Chart(data(rows), width=size[0], height=size[1])
    line = base.mark_line(color=COLOURS[0], strokeWidth=2.6).encode(x=x, y=y)
    dots = [{**rows[one["at"]], **one} for one in stages(days, size[0])]
    marked = alt.Chart(data(dots))
    points = marked.mark_point(filled=True, size=80, opacity=1, color=COLOURS[0]).encode(x=x, y=y)
    names = _names(marked.encode(x=x, y=y))
    done = alt.Chart(data(events(days)))
    rules = done.mark_rule(color=COLOURS[1], strokeDash=[5, 4], strokeWidth=1.4).encode(x=x)
    said = done.mark_text(angle=270, align="right", baseline="bottom", dx=-6, dy=-4,
                          color=COLOURS[1]).encode(x=x, y=alt.value(0), text="told:N")  # fmt: skip
    return alt.layer(rules, said, line, *names, points).properties(
        title="biomass, its stages, and what was done"
    )


def _names(marked: Chart) -> tuple[Chart, ...]:
    """Write the stages beside their points: above at the left, under the line at the right."""
    return (*haloed(marked.encode(text="above:N"), align="right", dx=-8, dy=-9),
            *haloed(marked.encode(text="under:N"), align="left", dx=8, dy=11))  # fmt: skip


def rain_and_drainage(
    days: xr.Dataset, system: units.System, *, size: tuple[int, int] = HALF,
    axes: Axes | None = None,
) -> Chart:  # fmt: skip
    """Draw rain and what drained below the column of soil, week by week."""
    import altair as alt

    names = ("rain and snow", "drained")
    rows = []
    for name, field in zip(names, ("rain_mm", "drainage_mm"), strict=True):
        total = _in(days[field].values, "water", system)
        starts = np.arange(0, total.size, WEEK)
        ends = np.minimum(starts + WEEK, total.size) - 1
        weekly = np.diff(total[ends], prepend=0.0)
        rows += [
            {"what": name, "day": moment(days["time"].values[start]),
             "until": moment(days["time"].values[start] + np.timedelta64(WEEK, "D")),
             "water": _plain(amount)}
            for start, amount in zip(starts, weekly, strict=True)
        ]  # fmt: skip
    colour = alt.Color("what:N", scale=alt.Scale(domain=list(names),
                       range=[COLOURS[2], COLOURS[0]]), legend=alt.Legend(title=None))  # fmt: skip
    y = alt.Y("water:Q", title=axis_title("a week", "water", system),
              scale=scale(axes, "rain", zero=True))  # fmt: skip
    base = alt.Chart(data(rows), width=size[0], height=size[1])
    bars = [
        base.transform_filter(alt.datum.what == name).mark_rect(stroke="white", strokeWidth=0.6)
        .encode(x=_across(), x2="until:T", y=y, y2=alt.datum(0), color=colour)
        for name in names
    ]  # fmt: skip
    return alt.layer(*bars).properties(title="rain and drainage")


def nitrate(
    days: xr.Dataset, system: units.System, *, size: tuple[int, int] = HALF,
    axes: Axes | None = None,
) -> Chart:  # fmt: skip
    """Draw the nitrate nitrogen in the soil, the nitrogen in shoots, and what has leached."""
    names = ("in soil", "in shoots", "leached")
    columns = _rows(days, system, **{
        name: (field, "nitrogen") for name, field in zip(
            names, ("soil_nitrate_kg_ha", "nitrogen_uptake_kg_ha", "nitrate_leached_kg_ha"),
            strict=True)
    })  # fmt: skip
    rows = [{"day": row["day"], "what": name, "amount": row[name]}
            for name in names for row in columns]  # fmt: skip
    import altair as alt

    y = alt.Y("amount:Q", title=axis_title("nitrogen", "nitrogen", system),
              scale=scale(axes, "nitrogen", zero=True))  # fmt: skip
    return (
        alt.Chart(
            data(rows),
            width=size[0],
            height=size[1],
            title="nitrate in soil and leached; N in shoots",
        )
        .mark_line(strokeWidth=2.2)
        .encode(x=_across(), y=y, **told_apart("what", names, dashes=True))
    )


def nitrate_by_depth(
    days: xr.Dataset, layers: NDArray[np.float64], bottoms: Sequence[float] | NDArray[np.float64],
    system: units.System, *, size: tuple[int, int] = HALF, axes: Axes | None = None,
) -> Chart:  # fmt: skip
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
    depths = _in(edges, "depth", system)
    slice_cm, slice_told = SLICE[system]
    amounts = _in(np.asarray(layers) * slice_cm / np.diff(edges), "nitrogen", system)
    step = WEEK  # a tile a week and layer keeps files small, and hides nothing that lasts
    rows = [
        {"day": moment(day), "until": moment(day + np.timedelta64(step, "D")),
         "top": _plain(depths[k]), "bottom": _plain(depths[k + 1]),
         "amount": _plain(amounts[at, k])}
        for at, day in list(enumerate(days["time"].values))[::step]
        for k in range(amounts.shape[1])
    ]  # fmt: skip
    y = alt.Y("top:Q", title=axis_title("depth", "depth", system),
              scale=alt.Scale(reverse=True, nice=False, domain=[0, float(depths[-1])]))  # fmt: skip
    colour = alt.Color("amount:Q", scale=_shades(axes), legend=alt.Legend(
        title=axis_title(f"in {slice_told} of soil", "nitrogen", system), gradientLength=200,
        tickCount=4))  # fmt: skip
    return (
        alt.Chart(data(rows), width=size[0], height=size[1], title="nitrate nitrogen by depth")
        .mark_rect()
        .encode(x=_across(), x2="until:T", y=y, y2="bottom:Q", color=colour)
    )


def _shades(axes: Axes | None) -> Any:
    """One hue from white to the darkest colour: lightness alone tells, for any eye and in print."""
    shades = scale(axes, "nitrogen", zero=True)
    shades.range = ["#f4f6f7", COLOURS[2], COLOURS[0]]
    return shades


def temperature(
    days: xr.Dataset, weather: xr.Dataset, system: units.System, *,
    size: tuple[int, int] = HALF, axes: Axes | None = None,
) -> Chart:  # fmt: skip
    """Draw each day's highest and lowest temperature as a band, and the mean of a week in it."""
    import altair as alt

    same = weather.reindex(time=days["time"])
    low, high = (_in(same[name].values, "temperature", system) for name in ("tmin", "tmax"))
    middle = same[["tmin", "tmax"]].to_array().mean("variable").rolling(
        time=WEEK, center=True, min_periods=1).mean()  # fmt: skip
    means = _in(middle.values, "temperature", system)
    rows = [
        {"day": moment(day), "low": _plain(a), "high": _plain(b), "mean": _plain(m)}
        for day, a, b, m in zip(days["time"].values, low, high, means, strict=True)
    ]
    base = alt.Chart(data(rows), width=size[0], height=size[1])
    y = alt.Y("low:Q", title=axis_title("temperature", "temperature", system),
              scale=scale(axes, "temperature", zero=False))  # fmt: skip
    band = base.mark_area(color=COLOURS[2], opacity=0.6).encode(x=_across(), y=y, y2="high:Q")
    line = base.mark_line(color=COLOURS[0], strokeWidth=2).encode(x=_across(), y="mean:Q")
    freezing = alt.Chart(data([{"zero": float(units.show(0.0, "temperature", system))}]))
    rule = freezing.mark_rule(color=INK, strokeDash=[5, 4]).encode(y="zero:Q")
    return alt.layer(band, rule, line).properties(title="air: lows to highs, and a week's mean")


def thermal_time(
    days: xr.Dataset, system: units.System, *, size: tuple[int, int] = HALF,
    axes: Axes | None = None,
) -> Chart:  # fmt: skip
    """Draw the thermal time since sowing, with the stages reached."""
    import altair as alt

    rows = _rows(days, system, sum=("thermal_time_degC_d", "thermal_time"))
    y = alt.Y("sum:Q", title=axis_title("since sowing", "thermal_time", system),
              scale=scale(axes, "thermal_time", zero=True))  # fmt: skip
    base = alt.Chart(data(rows), width=size[0], height=size[1])
    line = base.mark_line(color=COLOURS[1], strokeWidth=2.4).encode(x=_across(), y=y)
    marked = alt.Chart(data([{**rows[one["at"]], **one} for one in stages(days, size[0])]))
    points = marked.mark_point(filled=True, size=60, opacity=1, color=COLOURS[1]).encode(
        x=_across(), y=y)  # fmt: skip
    names = _names(marked.encode(x=_across(), y=y))
    return alt.layer(line, *names, points).properties(
        title=f"thermal time above {threshold(0.0, system)}"
    )
