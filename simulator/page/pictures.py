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
from simulator.answers.season.panels import WIDE, moments, series_encodings, several
from simulator.season.plan import ANY_YEAR, day_number
from simulator.show.charts import FAINT, TEXT, Chart, finish
from simulator.weather.fall_year import season_day

FIRST_SHOWN, LAST_SHOWN = "09-01", "05-31"
NEAR = 14  # size of letters on a screen at arm's length [px]
SEASON = ("stand", "marks", "band", "days", "air")  # data of a season
# quantity -> the parameters where its axis begins and ends; a number stays
SEASON_AXES: dict[str, tuple[str | int, str]] = {
    "biomass": (0, "biomass"),
    "water": (0, "water"),
    "nitrogen": (0, "nitrogen"),
    "temperature": ("coldest", "hottest"),
}

Rows = Sequence[Mapping[str, Any]]


def on_calendar(days: Any) -> list[int]:
    """Return season days on one calendar for all years, as `moments` has them."""
    return moments(season_day(ANY_YEAR, "07-01") + days)


def moment(day: float) -> int:
    """Return a season day on that calendar."""
    return on_calendar([int(day)])[0]


def season_picture(
    system: units.System, tops: Mapping[str, float], labels: Mapping[str, str] | None = None
) -> Chart:
    """Draw a season: biomass with its stages, water, nitrogen, temperature, one below another.

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
        Of the named data `SEASON`, as `several` takes them.
    """
    import altair as alt

    ends = [moment(day_number(ANY_YEAR, date)) for date in (FIRST_SHOWN, LAST_SHOWN)]
    names = [end for pair in SEASON_AXES.values() for end in pair if isinstance(end, str)]
    held = {name: alt.ExprRef(name) for name in names}
    axes = {
        name: (held.get(str(low), low), held[high]) for name, (low, high) in SEASON_AXES.items()
    }
    drawn = several(
        {name: name for name in SEASON}, system, labels=labels or {}, ends=ends, axes=axes
    )
    return drawn.add_params(*(alt.param(name=name, value=tops[name]) for name in names))


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
    spec = _made_once(make, system)
    params = [{**one, "value": tops.get(one["name"], one["value"])} for one in spec["params"]]
    return {**spec, "params": params}


@cache
def _made_once(
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
        dressed.title = alt.Undefined
        dressed = dressed.properties(padding=2, background="transparent")
    spec: dict[str, Any] = dressed.configure_axisX(gridColor=FAINT).to_dict()
    if data is not None:
        spec["datasets"] = {**spec.get("datasets", {}), **data}
    return spec
