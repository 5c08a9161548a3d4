"""Dates of ending as a chart: biomass, the kill by rolling, C:N and water left."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from simulator import units
from simulator.answers.shared.fields import spelled
from simulator.answers.timing.calculate import waiting
from simulator.answers.timing.data import chart_rows
from simulator.answers.timing.words import plan_of
from simulator.show import wording
from simulator.show.chart_forms import band
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
    rolled = {"rolled": (0.0, 100.0), **(axes or {})}
    day = wording.dates_in(str(found.attrs.get("planting", "")))
    panels = [
        grown(rows, system, axes=axes),
        band(
            rows, by_date(), "rolled", "killed (%)", colour=COLOURS[1], size=HALF, axes=rolled
        ).properties(title="by rolling alone"),
        band(
            rows, by_date(), "ratio", "C:N of shoots", colour=COLOURS[3], size=HALF, axes=axes
        ).properties(title="carbon to nitrogen"),
        band(
            rows,
            by_date(),
            "water",
            axis_title("water", "water", system),
            colour=COLOURS[2],
            size=HALF,
            axes=axes,
        ).properties(title=f"in the soil on {day}" if day else "in the soil that day"),
    ]
    return finish(alt.concat(*panels, columns=2, spacing=30), *headline(found, system))


def headline(found: xr.Dataset, system: units.System) -> tuple[list[str], list[str]]:
    """Say what waiting brings, and below it what was grown."""
    years = found["year"].values.tolist()
    falls = ranged(len(years))
    bands = (
        f"by date of ending. Bands: of biomass in a field like these, and darker {falls}; "
        f"of C:N and water {falls}; of rolling the range of trials."
    )
    below = [
        subject(found.attrs, years),
        plan_of(found.attrs, system),
        f"{'Means over falls, ' if len(years) > 1 else 'The fall, '}{bands}",
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
        f"{wording.dates_in(wait.last)} ({spelled(wait.ranges, 'biomass', system)} in a field like "
        "these)"
    )
    if wait.at_planting:
        less = mean(wait.water_before - wait.water_after)
        text += (
            f" and leaves {units.spell(abs(less), 'water', system)} "
            f"{'less' if less >= 0.0 else 'more'} water for {wording.dates_in(wait.planting)}"
        )
    return [text], below


def by_date() -> Any:
    """Return the axis of dates of ending."""
    import altair as alt

    return alt.X(
        "date:T",
        title=None,
        scale=alt.Scale(nice=False, padding=14),
        axis=alt.Axis(format="%b %-d", labelOverlap=True, tickCount=4),
    )


def grown(
    rows: Sequence[Row],
    system: units.System,
    *,
    size: tuple[int, int] = HALF,
    axes: Axes | None = None,
    labelled: bool = False,
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
    """
    import altair as alt

    title = axis_title("biomass", "biomass", system)
    drawn = band(rows, by_date(), "biomass", title, size=size, axes=axes, labelled=labelled)
    weather = (
        alt.Chart(data(rows), width=size[0], height=size[1])
        .mark_area(color=COLOURS[0], opacity=0.25)
        .encode(
            x=by_date(),
            y=alt.Y("weather_low:Q", title=title, scale=scale(axes, "biomass", zero=True)),
            y2="weather_high:Q",
        )
    )
    drawn = alt.layer(weather, drawn)
    return drawn if labelled else drawn.properties(title="grown until then")
