"""A grid of many places as a chart: a map of points, coloured by mean biomass."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import units
from simulator.answers.places import chart as places_chart
from simulator.answers.places import grid as place_grid
from simulator.answers.places.map_marks import ends_of
from simulator.problems import fault
from simulator.season.grid.batch import INVENTED
from simulator.show import wording
from simulator.show.charts import Axes, Chart, axis_title, finish

if TYPE_CHECKING:
    import xarray as xr


def chart(grid: xr.Dataset, system: units.System, *, axes: Axes | None = None) -> Chart:
    """Draw the places by longitude and latitude, coloured by their mean biomass over falls.

    Parameters
    ----------
    grid : Dataset(site, year, sow, seeding, nitrogen, nitrogen_timing, end)
        From `simulator.season.grid.run_grid` or `open_grid`.
    system : {"us", "si"}
    axes : mapping, optional
        Holds ``biomass`` still.

    Raises
    ------
    InputError
        Biomass was not kept, weather was changed too, or no place has a longitude or a season.
    """
    if place_grid.BIOMASS not in grid:
        raise fault(
            "chart",
            "Biomass was not kept in this grid.",
            "Give run_grid fields that have 'biomass_kg_ha' among them.",
        )
    if "case" in grid.dims:
        raise fault(
            "chart",
            "This grid has weather as recorded and changed.",
            "Give one of them, such as grid.sel(case='changed').",
        )
    few = place_grid.summary(grid)
    rows = [
        row
        for row in place_grid.rows(few)
        if row["longitude"] is not None and row[place_grid.BIOMASS] is not None
    ]
    if not rows:
        raise fault(
            "chart",
            "No place of this grid has both a longitude and a season to draw.",
            "Give a season of one place from run_season, or its plans from compare.",
        )
    kept = [
        {
            **row,
            "value": float(units.show(row[place_grid.BIOMASS], "biomass", system)),
            "shown": units.spell(row[place_grid.BIOMASS], "biomass", system).split(" ")[0],
        }
        for row in rows
    ]
    values = [row["value"] for row in kept]
    least = 100.0 if max(values) >= 1000.0 else 10.0
    ends = ends_of(values, least, (0.0, float("inf")))
    if axes is not None and "biomass" in axes:
        low, high = axes["biomass"]
        ends = [low, (low + high) / 2.0, high]
    drawn = places_chart.mapped(kept, axis_title("mean biomass", "biomass", system), ends, system)
    found = place_grid.sentences(few, system)[0].split(";")[0].rstrip(".")
    rate = units.spell(few.attrs["nitrogen_kg_ha"], "nitrogen", system)
    first = few["sow"].values[0]
    sentence = (
        f"{grid.attrs['cereal'].capitalize()} sown on {wording.dates_in(str(first))} with "
        f"{rate} of nitrogen, ended {wording.ending(few.attrs['end'])}; "
        f"{wording.falls(grid['year'].values.tolist())}, {len(kept):,} places."
    )
    invented = sum(str(text).startswith(INVENTED) for text in grid["notes"].values)
    all_invented = invented == grid.sizes["site"]
    below = f"{sentence} The places are invented." if all_invented else sentence
    return finish(drawn, [found], [below])
