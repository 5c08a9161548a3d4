"""Dates of ending as a chart: biomass, the kill by rolling, C:N and water left."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from simulator import units
from simulator.answers.shared.fields import spelled
from simulator.answers.timing.calculate import Waiting, waiting
from simulator.answers.timing.data import chart_rows
from simulator.answers.timing.words import amount_more, plan_of
from simulator.show import wording
from simulator.show.chart_forms import band, step
from simulator.show.charts import (
    COLOURS,
    Axes,
    Chart,
    Row,
    axis_title,
    data,
    finish,
    ranged,
    scale,
    subject,
)
from simulator.show.tables import mean

if TYPE_CHECKING:
    import xarray as xr

HALF = (295, 190)  # of a panel [px]


def chart(found: xr.Dataset, system: units.System, *, axes: Axes | None = None) -> Chart:
    """Draw what each date of ending brings.

    Parameters
    ----------
    found : Dataset(year, end)
        From `answers.timing.calculate.timing`, with its plan as attributes.
    system : {"us", "si"}
    axes : mapping, optional
        Domains of ``biomass``, ``rolled``, ``ratio`` and ``water``.

    Returns
    -------
    Chart
    """
    import altair as alt

    rows = chart_rows(found, system)
    wait = waiting(found)
    ends = _ends_of(wait, rows)
    rolled = {"rolled": (0.0, 100.0), **(axes or {})}
    day = wording.dates_in(str(found.attrs.get("planting", "")))
    panels = [
        grown(rows, system, axes=axes, between=ends),
        left(rows, system, axes=axes, between=ends if wait and wait.at_planting else ()).properties(
            title=f"left in the soil on {day}" if day else "in the soil that day"
        ),
        band(
            rows, by_date(), "ratio", "C:N of shoots", colour=COLOURS[3], size=HALF, axes=axes
        ).properties(title="carbon to nitrogen"),
        band(
            rows, by_date(), "rolled", "killed (%)", colour=COLOURS[1], size=HALF, axes=rolled
        ).properties(title="killed by rolling alone"),
    ]
    return finish(alt.concat(*panels, columns=2, spacing=30), *headline(found, system))


def _ends_of(wait: Waiting | None, rows: Sequence[Row]) -> Sequence[Row]:
    """Return the rows of the two dates that are compared; none without two."""
    dates = [] if wait is None else [wait.first, wait.last]
    return [row for date in dates for row in rows if row["date"][5:10] == date]


def headline(found: xr.Dataset, system: units.System) -> tuple[list[str], list[str]]:
    """Say what waiting brings, and below it what was grown."""
    years = found["year"].values.tolist()
    falls = ranged(len(years))
    shades = "Shaded: in a field like these"
    if len(years) > 1:
        shades = (
            f"Lines: means over falls. Shaded: {falls}; of biomass, lighter: in a field like these"
        )
    below = [
        subject(found.attrs, years),
        plan_of(found.attrs, system),
        f"{shades}; of rolling: the range of trials.",
    ]
    wait = waiting(found)
    if wait is None:
        only = found.isel(end=0)
        made = units.spell(mean(only["biomass_kg_ha"].values), "biomass", system)
        when = wording.dates_in(str(only["end"].values))
        return [f"{str(found.attrs['cereal']).capitalize()} makes {made} by {when}"], below
    cereal = str(found.attrs["cereal"]).capitalize()
    gain = mean(wait.gained)
    text = (
        f"{cereal} {'gains' if gain >= 0.0 else 'loses'} "
        f"{units.spell(abs(gain), 'biomass', system)} from {wording.dates_in(wait.first)} to "
        f"{wording.dates_in(wait.last)}"
    )
    if wait.at_planting:
        less = mean(wait.water_before - wait.water_after)
        text += (
            f" and leaves {amount_more(-less, 'water', system)} water for "
            f"{wording.dates_in(wait.planting)}"
        )
    told = "" if wait.ranges.told else ": whether any is gained cannot be told"
    gained = f"In a field like these the gain is {spelled(wait.ranges, 'biomass', system)}{told}."
    return [text], [gained, *below]


def by_date(named: Sequence[str] = ()) -> Any:
    """Return the axis of dates of ending; `named` are those that stand there, else some."""
    import altair as alt

    ticks: dict[str, Any] = {"values": list(named)} if named else {"tickCount": 4}
    return alt.X(
        "date:T",
        title=None,
        scale={"nice": False, "padding": 14},
        axis={"format": "%b %-d", "labelOverlap": True, **ticks},
    )


def grown(
    rows: Sequence[Row],
    system: units.System,
    *,
    size: tuple[int, int] = HALF,
    axes: Axes | None = None,
    labelled: bool = False,
    between: Sequence[Row] = (),
) -> Chart:
    """Draw biomass by date of ending: its mean, its range in a field, and darker over falls.

    Parameters
    ----------
    rows : sequence of dict
        ``date, biomass, biomass_low, biomass_high, weather_low, weather_high``, in the reader's
        units; ``told`` if printed.
    system : {"us", "si"}
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of ``biomass``.
    labelled : bool
        Whether to print the means.
    between : two of the rows, optional
        Dates between which the gain is marked, with its figure.
    """
    import altair as alt

    title = axis_title("biomass", "biomass", system)
    across = by_date([row["date"] for row in rows] if labelled else ())
    drawn = band(rows, across, "biomass", title, size=size, axes=axes, labelled=labelled)
    weather = (
        alt.Chart(data(rows), width=size[0], height=size[1])
        .mark_area(color=COLOURS[0], opacity=0.25)
        .encode(
            x=across,
            y=alt.Y("weather_low:Q", title=title, scale=scale(axes, "biomass", zero=True)),
            y2="weather_high:Q",
        )
    )
    up = alt.Y("biomass:Q", title=title, scale=scale(axes, "biomass", zero=True))
    drawn = alt.layer(weather, drawn, *_stepped(between, "biomass", -1, up))
    return drawn if labelled else drawn.properties(title="grown until then")


def left(
    rows: Sequence[Row],
    system: units.System,
    *,
    size: tuple[int, int] = HALF,
    axes: Axes | None = None,
    between: Sequence[Row] = (),
) -> Chart:
    """Draw the water in the soil by date of ending: its mean, and its range over falls.

    Parameters
    ----------
    rows : sequence of dict
        ``date, water, water_low, water_high``, in the reader's units.
    system : {"us", "si"}
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of ``water``.
    between : two of the rows, optional
        Dates between which the difference is marked, with its figure.
    """
    import altair as alt

    title = axis_title("water", "water", system)
    drawn = band(rows, by_date(), "water", title, colour=COLOURS[2], size=size, axes=axes)
    up = alt.Y("water:Q", title=title, scale=scale(axes, "water", zero=True))
    digits = units.SHOWN["water"][1][system].digits
    return alt.layer(drawn, *_stepped(between, "water", digits, up))


def _stepped(between: Sequence[Row], name: str, digits: int, up: Any) -> tuple[Chart, ...]:
    """Mark what lies between two dates; nothing where it prints as nothing."""
    if len(between) != 2 or any(row[name] is None for row in between):
        return ()
    before, after = between
    more = round(after[name] - before[name], digits) + 0.0
    if not more:
        return ()
    told = f"{more:+,.{max(digits, 0)}f}"
    return step(before, after, told, by_date(), up)
