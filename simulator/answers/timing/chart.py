"""Dates of ending as a chart: biomass, the kill by rolling, C:N and water left."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from simulator import units
from simulator.answers.timing.calculate import waiting
from simulator.answers.timing.data import chart_rows
from simulator.answers.timing.words import plan_of
from simulator.show import wording
from simulator.show.chart_forms import band
from simulator.show.charts import COLOURS, Axes, Chart, Row, axis_title, finish, of_falls, subject
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
            axis_title("water left", "water", system),
            colour=COLOURS[2],
            size=HALF,
            axes=axes,
        ).properties(title="left for the next crop"),
    ]
    return finish(alt.concat(*panels, columns=2, spacing=30), *headline(found, system))


def headline(found: xr.Dataset, system: units.System) -> tuple[list[str], list[str]]:
    """Say what waiting brings, and below it what was grown."""
    years = found["year"].values.tolist()
    below = [
        subject(found.attrs, years),
        plan_of(found.attrs, system),
        f"{of_falls(len(years), 'bands')} For rolling, the band is the range of trials.",
    ]
    wait = waiting(found)
    if wait is None:
        only = found.isel(end=0)
        made = units.spell(mean(only["biomass_kg_ha"].values), "mass", system)
        when = wording.dates_in(str(only["end"].values))
        return [f"{str(found.attrs['cereal']).capitalize()} makes {made} by {when}"], below
    before, after = mean(wait.biomass_before), mean(wait.biomass_after)
    more = units.spell(abs(after - before), "mass", system)
    used = units.spell(mean(wait.water_used), "water", system)
    text = (
        f"Ending {found.attrs['cereal']} on {wording.dates_in(wait.last)} and not "
        f"{wording.dates_in(wait.first)} {'brings' if after >= before else 'costs'} {more} of "
        f"biomass, and uses {used} of water"
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
    """Draw biomass by date of ending, its mean and range over falls.

    Parameters
    ----------
    rows : sequence of dict
        ``date, biomass, biomass_low, biomass_high``, in the reader's units; ``told`` if printed.
    system : {"us", "si"}
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of ``biomass``.
    labelled : bool
        Whether to print the means.
    """
    title = axis_title("biomass", "mass", system)
    drawn = band(rows, by_date(), "biomass", title, size=size, axes=axes, labelled=labelled)
    return drawn if labelled else drawn.properties(title="grown until then")
