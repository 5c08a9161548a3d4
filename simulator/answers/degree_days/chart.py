"""Thermal time as a chart: every method beside the others, base by base."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.show import wording
from simulator.show.charts import (
    COLOURS,
    Axes,
    Chart,
    Row,
    axis_title,
    data,
    finish,
    haloed,
    ranged,
    scale,
)
from simulator.show.grids import place
from simulator.show.tables import mean, spread
from simulator.show.wording import threshold

if TYPE_CHECKING:
    import xarray as xr

SIZE = (400, 30)  # width of a panel, height of a method [px]


def chart(sums: xr.Dataset, system: units.System, *, axes: Axes | None = None) -> Chart:
    """Draw the thermal time of a season by every method, a panel for each base.

    Parameters
    ----------
    sums : Dataset(year, base, counted_by)
        From `degree_days`.
    system : {"us", "si"}
    axes : mapping, optional
        Domain of ``thermal_time``; the same for all panels.

    Returns
    -------
    Chart
    """
    import altair as alt

    top = float(units.show(float(sums["thermal_time_degC_d"].max()), "thermal_time", system))
    still = axes if axes and "thermal_time" in axes else {"thermal_time": (0.0, 1.02 * top or 1.0)}
    panels = [
        methods(rows(sums.sel(base=base), system), system, axes=still).properties(
            title=f"above {threshold(float(base), system)}"
        )
        for base in sums["base"].values
    ]
    return finish(alt.vconcat(*panels, spacing=26), *headline(sums, system))


def headline(sums: xr.Dataset, system: units.System) -> tuple[list[str], list[str]]:
    """Say how far the methods lie apart at the base where they do most."""
    means = sums["thermal_time_degC_d"].mean("year")
    most, least = means.max("counted_by"), means.min("counted_by")
    apart = (100.0 * (most - least) / most.where(most > 0)).fillna(0.0)
    widest = apart.isel(base=int(np.argmax(apart.values)))
    about, years = sums.attrs, sums["year"].values.tolist()
    span = f"{wording.dates_in(about['first'])} to {wording.dates_in(about['last'])}"
    text = (
        f"Above {threshold(float(widest['base']), system)}, methods of counting thermal time "
        f"lie {float(widest):.0f} % apart"
    )
    below = f"{span} at {place(about)}; {wording.falls(years)}."
    return [text], [
        f"{below} Points: means; bars: {ranged(len(years))}." if len(years) > 1 else below
    ]


def rows(part: xr.Dataset, system: units.System) -> list[Row]:
    """Return a row a method, in the reader's units."""
    found = []
    for method in map(str, part["counted_by"].values):
        values = part["thermal_time_degC_d"].sel(counted_by=method).values
        shown = [
            float(units.show(one, "thermal_time", system))
            for one in (mean(values), *spread(values))
        ]
        found.append(
            {
                "method": method,
                "told": f"{shown[0]:,.0f}",
                **dict(zip(("sum", "low", "high"), shown, strict=True)),
            }
        )
    return found


def methods(
    rows: Sequence[Row],
    system: units.System,
    *,
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
) -> Chart:
    """Draw each method's mean and its range over the falls.

    Parameters
    ----------
    rows : sequence of dict
        ``method, sum, low, high, told``, in the reader's units.
    system : {"us", "si"}
    size : (int, int)
        Width; height of a method [px].
    axes : mapping, optional
        Domain of ``thermal_time``.
    """
    import altair as alt

    fixed = scale(axes, "thermal_time", zero=True)
    title = axis_title("thermal time", "thermal_time", system)
    base = alt.Chart(data(rows), width=size[0], height=size[1] * len(rows)).encode(
        y=alt.Y(
            "method:N",
            sort=[row["method"] for row in rows],
            title=None,
            axis={"grid": False, "ticks": False, "domain": False, "labelPadding": 8},
        )
    )
    spans = base.mark_bar(size=11, color=COLOURS[2], opacity=0.55, cornerRadius=3).encode(
        x=alt.X("low:Q", title=title, scale=fixed), x2="high:Q"
    )
    middle = base.encode(x=alt.X("sum:Q", title=title, scale=fixed))
    points = middle.mark_point(filled=True, size=90, opacity=1, color=COLOURS[0])
    figures = haloed(base.encode(x=alt.value(size[0]), text="told:N"), align="left", dx=8)
    return alt.layer(spans, points, *figures)
