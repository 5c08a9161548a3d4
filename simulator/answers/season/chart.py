"""One season: growth with its stages, rain and drainage, nitrate, temperature, thermal time.

Its panels, but for those that one stand alone has, are those of `panels`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.season import panels
from simulator.answers.season.panels import CHANGED, RECORDED, WEEK, WIDE, across, moments
from simulator.answers.season.words import sowing_date
from simulator.answers.shared.changes import describe
from simulator.season.plan import dressings
from simulator.show import names, wording
from simulator.show.charts import (
    COLOURS,
    TEXT,
    Axes,
    Chart,
    Row,
    axis_title,
    data,
    finish,
    scale,
    subject,
)
from simulator.show.wording import threshold
from simulator.weather.change import parse_change
from simulator.weather.record import season_day

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

HALF = (290, 190)  # width and height of panels that stand side by side [px]
SLICE = {"si": (10.0, "10 cm"), "us": (10.16, "4 in")}  # of soil: its thickness [cm]
ALONE = {RECORDED: ""}  # one stand, without a legend
CASES = {RECORDED: "weather as recorded", CHANGED: "weather changed"}
Season = tuple["xr.Dataset", "xr.Dataset"]  # its days, and the record it grew in


def chart(
    days: xr.Dataset,
    system: units.System,
    *,
    weather: xr.Dataset | None = None,
    axes: Axes | None = None,
) -> Chart:
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

    rows = season_rows(days, system, weather)
    held: dict[str, Any] = {"labels": ALONE, "size": HALF, "axes": axes}
    if "nitrate_by_layer_kg_ha" in days:
        layers = days["nitrate_by_layer_kg_ha"]
        soil = nitrate_by_depth(days, layers.values, layers["bottom_cm"].values, system, axes=axes)
    else:
        soil = panels.nitrogen(rows["days"], system, **held)
    low = [rain_and_drainage(days, system, axes=axes), soil]
    last = []
    if weather is None:
        last = [thermal_time(days, system, size=(WIDE[0], HALF[1]), axes=axes)]
    else:
        low += [
            panels.temperature(rows["air"], system, **held),
            thermal_time(days, system, axes=axes),
        ]
    ends = span(days)
    high = panels.growth(
        rows["stand"],
        rows["marks"],
        system,
        labels=ALONE,
        done=rows["done"],
        x=across(ends, labels=False),
        axes=axes,
    )
    steps = panels.stages(rows["marks"], x=across(ends))
    told: dict[str, Any] = {"color": "independent", "strokeDash": "independent"}
    small = alt.concat(*low, columns=2, spacing=30).resolve_scale(**told)
    laid = alt.vconcat(high, steps, small, *last, spacing=28)
    return finish(laid.resolve_scale(**told), *headline(days, system))


def before_and_after(
    recorded: Season, changed: Season, system: units.System, *, axes: Axes | None = None
) -> Chart:
    """Draw a season in the weather as recorded beside the same in changed weather.

    Parameters
    ----------
    recorded, changed : (Dataset(time), Dataset(time))
        Days from `run_season`, and the record they grew in.
    system : {"us", "si"}
    axes : mapping, optional
        Domains of ``biomass``, ``water``, ``nitrogen``, ``temperature``.

    Returns
    -------
    Chart
    """
    seasons = dict(zip(CASES, (recorded, changed), strict=True))
    rows: dict[str, list[Row]] = {}
    for series, (days, weather) in seasons.items():
        for name, found in season_rows(days, system, weather, series).items():
            rows.setdefault(name, []).extend(found)
    rows["done"] = events(recorded[0])
    rows["marks"] = [{**row, **panels.UNDATED} for row in rows["marks"]]
    drawn = panels.several(rows, system, labels=CASES, ends=span(recorded[0]), axes=axes)
    return finish(drawn, *changed_headline(recorded[0], changed[0], system))


def headline(days: xr.Dataset, system: units.System) -> tuple[list[str], list[str]]:
    """Say what the stand came to and what leached, and below it how it was grown."""
    about, last = days.attrs, days.isel(time=-1)
    when = wording.dates_in(str(last["time"].values)[5:10])
    leached = units.spell(float(last["nitrate_leached_kg_ha"]), "nitrogen", system)
    if float(last["stand_alive"]):
        made = units.spell(float(last["biomass_kg_ha"]), "mass", system)
        told = f"{_sown(days)} makes {made} by {when}"
    else:
        told = f"{_sown(days)} does not live on {when}"
    changed = f" Weather changed: {about['changes']}." if about.get("changes") else ""
    return [f"{told[0].upper()}{told[1:]}; {leached} of nitrate nitrogen leach"], [
        f"{_grown(days, system)}{changed}"
    ]


def changed_headline(
    recorded: xr.Dataset, changed: xr.Dataset, system: units.System
) -> tuple[list[str], list[str]]:
    """Say what the change does to the stand and to what leaches."""
    texts = str(changed.attrs["changes"]).split("; ")
    said = wording.join([describe(parse_change(text), system) for text in texts])
    before, after = (days.isel(time=-1) for days in (recorded, changed))

    def spelled(field: str, kind: str) -> str:
        told, usual = (units.spell(float(days[field]), kind, system) for days in (after, before))
        beside = "(as recorded)" if told == usual else f"in place of {usual.split()[0]}"
        return f"{told} {beside}"

    when = wording.dates_in(str(after["time"].values)[5:10])
    if float(before["stand_alive"]) and float(after["stand_alive"]):
        told = f"makes {spelled('biomass_kg_ha', 'mass')} by {when}"
    elif float(before["stand_alive"]):
        told = f"does not live on {when}"
    else:
        told = (
            f"does not live on {when}, as recorded"
            if not float(after["stand_alive"])
            else f"lives on {when}, as it does not in the weather as recorded"
        )
    leach = f"{spelled('nitrate_leached_kg_ha', 'nitrogen')} of nitrate nitrogen leach"
    return [f"With {said}: {_sown(changed)} {told}; {leach}"], [_grown(changed, system)]


def _sown(days: xr.Dataset) -> str:
    about = days.attrs
    return f"{about['cereal']} sown {wording.dates_in(str(about['sow']))}, {about['year']}"


def _grown(days: xr.Dataset, system: units.System) -> str:
    """Say where and how it was grown."""
    about = days.attrs
    nitrogen = float(about["nitrogen_kg_ha"])
    fed = "no nitrogen"
    if nitrogen:
        when = wording.timing(str(about["nitrogen_timing"]))
        fed = f"{units.spell(nitrogen, 'nitrogen', system)} of nitrogen {when}"
    seed = units.spell(float(about["seeding_kg_ha"]), "mass", system)
    return f"{subject(about)} {seed} of seed, {fed}."


def season_rows(
    days: xr.Dataset, system: units.System, weather: xr.Dataset | None, series: str = RECORDED
) -> dict[str, list[Row]]:
    """Return the rows of a season's panels: ``days, stand, marks, done, air``."""
    when = days["time"].values

    def rows(**fields: tuple[Any, str]) -> list[Row]:
        columns = {name: _in(values, kind, system) for name, (values, kind) in fields.items()}
        known = np.isfinite(np.array(list(columns.values()))).all(axis=0)
        return [
            {
                "series": series,
                "day": day,
                **{name: _plain(column[at]) for name, column in columns.items()},
            }
            for at, day in enumerate(moments(when))
            if known[at]
        ]

    stand = rows(biomass=(days["biomass_kg_ha"], "mass"))
    found = {
        "days": rows(
            rain=(days["rain_mm"], "water"),
            drained=(days["drainage_mm"], "water"),
            nitrate=(days["soil_nitrate_kg_ha"], "nitrogen"),
            leached=(days["nitrate_leached_kg_ha"], "nitrogen"),
        ),
        "stand": stand,
        "marks": stages(days, stand),
        "done": events(days),
        "air": [],
    }
    if weather is not None:
        same = weather.reindex(time=when)
        low, high = (same[name].values for name in ("tmin", "tmax"))
        found["air"] = rows(
            low=(low, "temperature"),
            high=(high, "temperature"),
            mean=(panels.week_mean(low, high), "temperature"),
        )
    return found


def _in(values: Any, kind: str, system: units.System) -> NDArray[np.float64]:
    """Turn an array into the reader's units."""
    return np.asarray(units.show(values, kind, system), dtype=float)


def _plain(value: float) -> float:
    return float(f"{value:.5g}")


def events(days: xr.Dataset) -> list[Row]:
    """Return the days of sowing, and of nitrogen, and what to call them."""
    about, sown = days.attrs, sowing_date(days)
    found: dict[Any, list[str]] = {sown: ["sown"]}
    if float(about["nitrogen_kg_ha"]) > 0:
        for dressing in dressings(str(about["nitrogen_timing"])):
            when = season_day(int(about["year"]), dressing.when) if dressing.when else sown
            found.setdefault(when, []).append("nitrogen")
    return [
        {"day": day, "told": " + ".join(what)}
        for day, what in zip(moments(list(found)), found.values(), strict=True)
    ]


def stages(days: xr.Dataset, of: Sequence[Row]) -> list[Row]:
    """Return those rows of days on which stages are reached, each with the stage and its date.

    The date stands on that side of the point where the season has more days left.
    """
    found = []
    for at, name in panels.stages_reached(days["growth_stage_zadoks"].values):
        date = wording.dates_in(str(days["time"].values[at])[5:10])
        late = at > days.sizes["time"] / 2
        found.append(
            {**of[at], "stage": name, **panels.UNDATED, "before" if late else "after": date}
        )
    return found


def span(days: xr.Dataset) -> tuple[int, int]:
    """Return a season's first and last day, as panels take them."""
    first, last = moments(days["time"].values[[0, -1]])
    return first, last


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
        total = _in(days[field], "water", system)
        ends = np.minimum(np.arange(0, total.size, WEEK) + WEEK, total.size) - 1
        rows += [
            {"what": name, "day": first, "until": until, "water": _plain(amount)}
            for first, until, amount in zip(
                moments(weeks + by),
                moments(weeks + np.timedelta64(WEEK, "D") - by),
                np.diff(total[ends], prepend=0.0),
                strict=True,
            )
        ]
    colour = alt.Color(
        "what:N",
        scale=alt.Scale(domain=list(names), range=[COLOURS[2], COLOURS[0]]),
        legend=alt.Legend(title=None),
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
    return alt.layer(*bars).properties(title="rain and drainage")


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
    depths = _in(edges, "depth", system)
    slice_cm, slice_told = SLICE[system]
    amounts = _in(np.asarray(layers) * slice_cm / np.diff(edges), "nitrogen", system)
    # a tile a week and layer keeps files small, and hides nothing that lasts
    starts = days["time"].values[::WEEK]
    weeks = zip(
        moments(starts), moments(starts + np.timedelta64(WEEK, "D")), amounts[::WEEK], strict=True
    )
    rows = [
        {
            "day": first,
            "until": until,
            "top": _plain(depths[k]),
            "bottom": _plain(depths[k + 1]),
            "amount": _plain(amount),
        }
        for first, until, layer in weeks
        for k, amount in enumerate(layer)
    ]
    y = alt.Y(
        "top:Q",
        title=axis_title("depth", "depth", system),
        scale=alt.Scale(reverse=True, nice=False, domain=[0, float(depths[-1])]),
    )
    colour = alt.Color(
        "amount:Q",
        scale=_shades(axes),
        legend=alt.Legend(
            title=axis_title(f"in {slice_told} of soil", "nitrogen", system),
            gradientLength=200,
            tickCount=4,
        ),
    )
    return (
        alt.Chart(data(rows), width=size[0], height=size[1], title="nitrate nitrogen by depth")
        .mark_rect(aria=False)  # three hundred tiles would drown what a screen reader tells
        .encode(x=across(), x2="until:T", y=y, y2="bottom:Q", color=colour)
    )


def _shades(axes: Axes | None) -> Any:
    """One hue from white to the darkest colour: lightness alone tells, for any eye and in print."""
    shades = scale(axes, "nitrogen", zero=True)
    shades.range = ["#f4f6f7", COLOURS[2], COLOURS[0]]
    return shades


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

    sums = _in(days["thermal_time_degC_d"], "thermal_time", system)
    rows = [
        {"day": day, "sum": _plain(value)}
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
    return alt.layer(line, *names.written(at, str(size[0])), points).properties(
        title=f"thermal time above {threshold(0.0, system)}"
    )
