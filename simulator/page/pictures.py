"""The two pictures of the page: the season day by day, and how often how much is made.

Their panels are those of the command line's charts, of named data: the page gives these anew as a
slider moves and leaves the axes, which are parameters, where they are. A file has the same picture
with its data inside.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from typing import Any

from simulator import units
from simulator.answers.risk.chart import exceedance
from simulator.answers.season.panels import (
    INKS,
    SERIES,
    WIDE,
    across,
    growth,
    moments,
    nitrogen,
    series_encodings,
    stages,
    temperature,
    water,
)
from simulator.season.plan import ANY_YEAR, day_number
from simulator.show.charts import FAINT, TEXT, Axes, Chart, data, finish, haloed, scale
from simulator.weather.fall_year import season_day

FIRST_SHOWN, LAST_SHOWN = "09-01", "05-31"
NEAR = 14  # size of letters on a screen at arm's length [px]
# quantity -> the parameters where its axis begins and ends; a number stays
SEASON_AXES: dict[str, tuple[str | int, str]] = {
    "biomass": (0, "biomass"),
    "water": (0, "water"),
    "nitrogen": (0, "nitrogen"),
    "temperature": ("coldest", "hottest"),
}

BESIDE = (5, 10, 15)  # right of the end of a series' line, its range in a field like these [px]
NAMED = 22  # right of it, its name [px]
LETTER, APART, ABOVE = 9.0, 20.0, 12.0  # a letter of a name, between two, above the axis [px]

Rows = Sequence[Mapping[str, Any]]
Columns = dict[str, list[Any]]


def on_calendar(days: Any) -> list[int]:
    """Return season days on one calendar for all years, as `moments` has them."""
    return moments(season_day(ANY_YEAR, "07-01") + days)


def moment(day: float) -> int:
    """Return a season day on that calendar."""
    return on_calendar([int(day)])[0]


def season_picture(
    system: units.System, tops: Mapping[str, float], labels: Mapping[str, str] | None = None
) -> Chart:
    """Draw a season as the page has it: how the stand grows, and below it the other panels.

    Parameters
    ----------
    system : {"us", "si"}
    tops : mapping
        ``biomass, water, nitrogen, hottest, coldest``: where the axes end, in reader's units;
        parameters of the picture.
    labels : mapping, optional
        Series -> what a legend calls it; without it there is none.

    Returns
    -------
    Chart
        Of the named data of `growth_picture` and `days_picture`.
    """
    import altair as alt

    axes, params = _axes_by_parameters(tuple(SEASON_AXES), tops)
    grown = _growth(system, axes, labels or {}).properties(title=growth_title(system))
    drawn = alt.vconcat(grown, *_days(system, axes), spacing=12)
    return drawn.add_params(*params)


def shown_span() -> list[int]:
    """Return the first and the last moment of the axis of days."""
    return [moment(day_number(ANY_YEAR, date)) for date in (FIRST_SHOWN, LAST_SHOWN)]


def _axes_by_parameters(
    names: Sequence[str], tops: Mapping[str, float]
) -> tuple[dict[str, Any], list[Any]]:
    """Return axes that end at parameters, and these parameters."""
    import altair as alt

    axes = {name: SEASON_AXES[name] for name in names}
    ends = [end for pair in axes.values() for end in pair if isinstance(end, str)]
    held = {name: alt.ExprRef(name) for name in ends}
    drawn = {name: (held.get(str(low), low), held[high]) for name, (low, high) in axes.items()}
    return drawn, [alt.param(name=name, value=tops[name]) for name in ends]


def growth_picture(system: units.System, tops: Mapping[str, float]) -> Chart:
    """Draw biomass as the page has it: every fall, and each line's range and name at its end.

    Returns
    -------
    Chart
        Of the named data of `growth`, of ``falls``: ``series, year, day, biomass``, and of
        ``ends``: ``series, day, low, high``, ``at`` [biomass], where its name stands, which is
        ``after`` the end or ``before`` it.
    """
    axes, params = _axes_by_parameters(("biomass",), tops)
    return _growth(system, axes, {}).add_params(*params)


def _growth(system: units.System, axes: Axes, labels: Mapping[str, str]) -> Chart:
    import altair as alt

    x, up = across(shown_span()), scale(axes, "biomass")
    stands = growth("stand", "marks", system, labels=labels, band="band", x=x, axes=axes)
    y = alt.Y("biomass:Q", scale=up, title=None)
    falls = (
        alt.Chart(data("falls"))
        .mark_line(clip=True, strokeWidth=0.8, opacity=0.3)
        .encode(x=x, y=y, detail="year:N", color=series_encodings(labels)["color"])
    )
    at = alt.Chart(data("ends")).encode(x=x)
    ranges = [
        at.transform_filter(alt.datum.series == series)
        .mark_rule(clip=True, strokeWidth=2.6, color=ink, xOffset=beside, strokeCap="butt")
        .encode(y=alt.Y("low:Q", scale=up, title=None), y2="high:Q")
        for series, ink, beside in zip(SERIES, INKS, BESIDE, strict=True)
    ]
    named = at.encode(y=alt.Y("at:Q", scale=up, title=None))
    names = [
        *haloed(named.encode(text="after:N"), align="left", dx=NAMED),
        *haloed(named.encode(text="before:N"), align="right", dx=-8, dy=-8),
    ]
    # the range in a field like these stands at the end, of every line: bands would hide each other
    kept = [layer for layer in stands.layer if "field_low" not in str(layer.encoding.y)]
    drawn = alt.layer(falls, *kept, *ranges, *names)
    return drawn.properties(width=WIDE[0], height=WIDE[1])


def growth_title(system: units.System) -> str:
    """Say above the picture of growth what it has."""
    label = units.label("biomass", system)
    return f"biomass, {label}; points: stages; bars: in a field like these"


def days_picture(system: units.System, tops: Mapping[str, float]) -> Chart:
    """Draw the panels of a season that stand below its growth: stages, water, nitrogen, air."""
    import altair as alt

    axes, params = _axes_by_parameters(("water", "nitrogen", "temperature"), tops)
    return alt.vconcat(*_days(system, axes), spacing=12).add_params(*params)


def _days(system: units.System, axes: Axes) -> list[Chart]:
    bare, dated = across(shown_span(), labels=False), across(shown_span())
    held: dict[str, Any] = {"labels": {}, "axes": axes}
    return [
        stages("marks", x=dated),
        water("days", system, x=bare, **held),
        nitrogen("days", system, x=bare, **held),
        temperature("air", system, x=dated, **held),
    ]


def at_the_ends(ends: Columns, top: float) -> Columns:
    """Return the rows of ``ends`` for a picture of the usual size, as the page's script has them.

    Names that would stand on each other are moved apart; one that has no room after its line
    stands before its end.

    Parameters
    ----------
    ends : columns
        ``series, day, biomass, low, high, name``.
    top : float
        Where the axis of biomass ends.
    """
    first, last = shown_span()
    kept = [at for at, made in enumerate(ends["biomass"]) if made is not None]
    kept.sort(key=lambda at: ends["biomass"][at])
    rows: Columns = {name: [] for name in ("series", "day", "low", "high", "at", "after", "before")}
    for at in kept:
        name, day = ends["name"][at], ends["day"][at]
        room = (last - day) / (last - first) * WIDE[0] > NAMED + LETTER * len(name)
        lowest = rows["at"][-1] + APART / WIDE[1] * top if rows["at"] else ABOVE / WIDE[1] * top
        for field in ("series", "day", "low", "high"):
            rows[field].append(ends[field][at])
        rows["at"].append(max(min(ends["biomass"][at], top), lowest))
        rows["after"].append(name if room else "")
        rows["before"].append("" if room else name)
    return rows


def chance_picture(
    system: units.System, tops: Mapping[str, float], labels: Mapping[str, str] | None = None
) -> Chart:
    """Draw in how many of 100 falls at least so much is made, and the target.

    Returns
    -------
    Chart
        Of the named data ``curve``, ``goal`` and ``fall``, as `exceedance` takes them; its axis
        ends at the parameter ``made``.
    """
    import altair as alt

    drawn = exceedance(
        "curve",
        system,
        encodings=series_encodings(labels or {}),
        goal="goal",
        fall="fall",
        fields=True,
        size=WIDE,
        axes={"biomass": (0, alt.ExprRef("made"))},
    )
    return drawn.add_params(alt.param(name="made", value=tops["made"]))


def empty_picture(
    make: Callable[[units.System, Mapping[str, float]], Chart],
    system: units.System,
    tops: Mapping[str, float],
) -> dict[str, Any]:
    """Return a picture that the page fills with data, its parameters as `tops` has them."""
    spec = _cached_specification(make, system)
    params = [{**one, "value": tops.get(one["name"], one["value"])} for one in spec["params"]]
    return {**spec, "params": params}


@cache
def _cached_specification(
    make: Callable[[units.System, Mapping[str, float]], Chart], system: units.System
) -> dict[str, Any]:
    return specification(make(system, defaultdict(float)))  # which takes half a second


def specification(
    chart: Chart,
    data: Mapping[str, Rows] | None = None,
    headline: Sequence[str] = (),
    below: Sequence[str] = (),
) -> dict[str, Any]:
    """Return a picture as Vega-Lite has it: bare for the page, or titled and with its data."""
    import altair as alt

    dressed = finish(chart, headline, below, text=TEXT if headline else NEAR)
    if not headline:
        dressed.title, dressed.padding, dressed.background = alt.Undefined, 2, "transparent"
    dressed.config["axisX"] = {"gridColor": FAINT}
    spec: dict[str, Any] = dressed.to_dict()
    if data is not None:
        spec["datasets"] = {**spec.get("datasets", {}), **data}
    return spec
