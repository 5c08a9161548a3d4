"""The two pictures of the page: the season day by day, and how often how much is made.

Each is defined once. The page gives their named data anew as a slider moves and leaves the axes
where they are; a file has the same picture with its data inside.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from simulator import units
from simulator.season.plan import ANY_YEAR, day_number
from simulator.show.charts import COLOURS, DASHES, FAINT, INK, SOFT, Chart, axis_title, finish
from simulator.weather.record import season_day

RECORDED, CHANGED, PINNED = "recorded", "changed", "pinned"
SERIES = (RECORDED, CHANGED, PINNED)
INKS = (COLOURS[0], COLOURS[1], COLOURS[3])
FIRST_SHOWN, LAST_SHOWN = "09-01", "05-31"
TALL, LOW = 216, 78  # heights of panels [px]
WIDTH = 660

Rows = Sequence[Mapping[str, Any]]


def moment(day: float) -> int:
    """Return a season day on one calendar for all years, in milliseconds since 1970."""
    first = season_day(ANY_YEAR, "07-01").astype("datetime64[ms]").astype(int)
    return int(first) + int(day) * 86_400_000


def _named_data(name: str) -> Any:
    """Name data that come as they are drawn: moments as numbers, nothing missing."""
    import altair as alt

    return alt.NamedData(name, format=alt.JsonDataFormat(parse=None, type="json"))


def _colour(labels: Mapping[str, str] | None) -> Any:
    """Encode the series; the legend is the page's own, but for a file, where it has labels."""
    import altair as alt

    legend = None
    if labels is not None and len(labels) > 1:
        said = " : ".join(f"datum.label == '{name}' ? '{text}'" for name, text in labels.items())
        legend = alt.Legend(title=None, labelExpr=f"{said} : ''", values=list(labels), columns=1,
                            symbolType="stroke", symbolSize=900, symbolStrokeWidth=2.6)  # fmt: skip
    return alt.Color("series:N", legend=legend, scale=alt.Scale(
        domain=list(SERIES), range=list(INKS)))  # fmt: skip


def _dash() -> Any:
    """Tell series apart without colour too, where one line stands for one."""
    import altair as alt

    return alt.StrokeDash("series:N", legend=None, scale=alt.Scale(
        domain=list(SERIES), range=DASHES[: len(SERIES)]))  # fmt: skip


def _up(field: str, title: str, top: str, *, count: int = 3, bottom: str | None = None) -> Any:
    """Return an axis that stands still: its top is a parameter of the picture."""
    import altair as alt

    low = 0 if bottom is None else alt.ExprRef(bottom)
    return alt.Y(f"{field}:Q", title=title, axis=alt.Axis(tickCount=count, format=",~r"),
                 scale=alt.Scale(domain=[low, alt.ExprRef(top)], nice=False, zero=False,
                                 clamp=True))  # fmt: skip


def _named(text: str) -> Any:
    """Name a panel, small and over its left end."""
    import altair as alt

    return alt.TitleParams(text, anchor="start", fontSize=12, fontWeight="normal", color=SOFT,
                           offset=3)  # fmt: skip


def _across(*, labels: bool) -> Any:
    import altair as alt

    ends = [alt.ExprRef("firstDay"), alt.ExprRef("lastDay")]
    return alt.X("day:T", title=None, scale=alt.Scale(type="utc", domain=ends, nice=False),
                 axis=alt.Axis(format="%b", tickCount={"interval": "month", "step": 1},
                               labels=labels, ticks=labels, domain=labels, labelOverlap=True,
                               labelBound=True))  # fmt: skip


def season_picture(
    system: units.System, tops: Mapping[str, float], labels: Mapping[str, str] | None = None
) -> Chart:
    """Draw a season: biomass with its stages, water, nitrogen, temperature, one below another.

    Parameters
    ----------
    system : {"us", "si"}
    tops : mapping
        ``biomass, water, nitrogen, hottest, coldest``: where the axes end, in reader's units.
    labels : mapping, optional
        Series -> what a legend calls it; without it there is none.

    Returns
    -------
    Chart
        Of the named data ``days`` (``rain, drained, nitrate, leached``), ``stand`` (``biomass``),
        ``band`` (``low, high``), ``air`` (``tmax, tmin``) and ``marks`` (``biomass, text``), each
        with ``series`` and ``day``, and without missing values.
    """
    import altair as alt

    colour = _colour(labels)
    days, standing, marks = _named_data("days"), _named_data("stand"), _named_data("marks")
    mass, water, nitrogen, degrees = (
        axis_title(name, kind, system)
        for name, kind in (("biomass", "mass"), ("water", "water"), ("nitrogen", "nitrogen"),
                           ("air", "temperature"))
    )  # fmt: skip

    def lines(field: str, up: Any, across: Any, *, of: Any = days, **mark: Any) -> Any:
        drawn = {"strokeWidth": 2.2, "clip": True, "invalid": None, **mark}
        return alt.Chart(of).mark_line(**drawn).encode(x=across, y=up, color=colour)

    bare, dated = _across(labels=False), _across(labels=True)
    up = _up("biomass", mass, "biomassTop", count=5)
    told = alt.Chart(marks)
    stand = alt.layer(
        alt.Chart(_named_data("band")).mark_area(opacity=0.16, clip=True, invalid=None).encode(
            x=dated, y=alt.Y("low:Q", title=mass), y2="high:Q", color=colour),
        lines("biomass", up, dated, of=standing, strokeWidth=2.8).encode(strokeDash=_dash()),
        told.mark_point(filled=True, size=58, stroke="white", strokeWidth=1, clip=True,
                        opacity=1.0, invalid=None).encode(x=dated, y=up, color=colour),
        told.mark_text(align="right", dx=-7, dy=-8, fontSize=12, color=INK, invalid=None).encode(
            x=dated, y=up, text="text:N"),
    ).properties(width=WIDTH, height=TALL)  # fmt: skip
    rained = alt.layer(
        lines("rain", _up("rain", water, "waterTop"), bare),
        lines("drained", _up("drained", water, "waterTop"), bare, strokeDash=[5, 3]),
    ).properties(width=WIDTH, height=LOW, title=_named("rain, and dashed what drained below"))
    fed = alt.layer(
        lines("nitrate", _up("nitrate", nitrogen, "nitrogenTop"), bare),
        lines("leached", _up("leached", nitrogen, "nitrogenTop"), bare, strokeDash=[5, 3]),
    ).properties(width=WIDTH, height=LOW,
                 title=_named("soil nitrate, and dashed what washed out"))  # fmt: skip
    air = alt.layer(
        alt.Chart(alt.InlineData(values=[{"freezing": units.show(0.0, "temperature", system)}]))
        .mark_rule(color=SOFT, strokeDash=[2, 3])
        .encode(y=alt.Y("freezing:Q", title=degrees)),
        alt.Chart(_named_data("air"))
        .mark_area(opacity=0.5, clip=True, invalid=None)
        .encode(
            x=dated, y=_up("tmin", degrees, "hottest", bottom="coldest"), y2="tmax:Q", color=colour
        ),
    ).properties(width=WIDTH, height=LOW, title=_named("air, from lowest to highest of the day"))
    first, last = (moment(day_number(ANY_YEAR, date)) for date in (FIRST_SHOWN, LAST_SHOWN))
    params = {
        "firstDay": first,
        "lastDay": last,
        "biomassTop": tops["biomass"],
        "waterTop": tops["water"],
        "nitrogenTop": tops["nitrogen"],
        "hottest": tops["hottest"],
        "coldest": tops["coldest"],
    }
    return (
        alt.vconcat(stand, rained, fed, air, spacing=10)
        .add_params(*(alt.param(name=name, value=value) for name, value in params.items()))
    )  # fmt: skip


def chance_picture(
    system: units.System, tops: Mapping[str, float], labels: Mapping[str, str] | None = None
) -> Chart:
    """Draw in how many of 100 falls at least so much is made, and the target.

    Returns
    -------
    Chart
        Of the named data ``curve`` (``series, corner, biomass, percent``), ``goal``
        (``target``) and ``fall`` (``series, biomass, percent, text``).
    """
    import altair as alt

    colour = _colour(labels)
    across = alt.X("biomass:Q", title=axis_title("biomass at the end", "mass", system),
                   axis=alt.Axis(tickCount=5, format=",~r"),
                   scale=alt.Scale(domain=[0, alt.ExprRef("biomassTop")], nice=False,
                                   zero=False))  # fmt: skip
    up = alt.Y("percent:Q", title="falls that make at least so much (%)",
               scale=alt.Scale(domain=[0, 100]), axis=alt.Axis(tickCount=5))  # fmt: skip
    fall = alt.Chart(_named_data("fall"))
    return (
        alt.layer(
            alt.Chart(_named_data("goal")).mark_rule(
                color=SOFT, strokeDash=[5, 4], strokeWidth=1.5, clip=True).encode(
                x=alt.X("target:Q", title=axis_title("biomass at the end", "mass", system))),
            alt.Chart(_named_data("curve")).mark_line(
                interpolate="step-before", strokeWidth=2.4, clip=True).encode(
                x=across, y=up, color=colour, strokeDash=_dash(), order="corner:Q"),
            fall.mark_point(filled=True, size=70, stroke="white", opacity=1.0, clip=True).encode(
                x=across, y=up, color=colour),
            fall.mark_text(align="left", dx=8, dy=-7, fontSize=12, color=INK).encode(
                x=across, y=up, text="text:N"),
        )
        .properties(width=WIDTH, height=TALL)
        .add_params(alt.param(name="biomassTop", value=tops["biomass"]))
    )  # fmt: skip


def specification(
    chart: Chart, data: Mapping[str, Rows] | None = None, headline: Sequence[str] = (),
    below: Sequence[str] = (),
) -> dict[str, Any]:  # fmt: skip
    """Return a picture as Vega-Lite has it: bare for the page, or titled and with its data."""
    import altair as alt

    dressed = finish(chart, headline, below)
    if not headline:
        dressed.title = alt.Undefined
        dressed = dressed.properties(padding=2, background="transparent")
    spec: dict[str, Any] = dressed.configure_axisX(gridColor=FAINT).to_dict()
    if data is not None:
        spec["datasets"] = {**spec.get("datasets", {}), **data}
    return spec
