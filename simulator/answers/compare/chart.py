"""Plans compared as a chart: what each sowing date made year by year, and on the mean."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.shared.fields import biomass_ranges
from simulator.answers.shared.usual_rate import ORDINARY_RATE
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.show import wording
from simulator.show.chart_forms import ranges
from simulator.show.charts import (
    SOFT,
    Axes,
    Chart,
    Row,
    axis_title,
    data,
    distinguish,
    finish,
    ranged,
    scale,
    subject,
)
from simulator.show.tables import mean, spread

if TYPE_CHECKING:
    import xarray as xr

_MEAN_AND_ENDS = ("y", "low", "high", "field_low", "field_high")
SIZE = (690, 260)  # of a panel [px]
MOST_NAMED = 10  # years that are each named on the axis


def chart(
    grid: xr.Dataset,
    system: units.System,
    *,
    errors: ModelErrors = SHIPPED,
    axes: Axes | None = None,
) -> Chart:
    """Draw what each later sowing makes more or less in the same fall, and all means and ranges.

    Differences from the first sowing are sorted, so that one sees in how many falls a later one is
    ahead; of one sowing, biomass by year is drawn.

    Parameters
    ----------
    grid : Dataset
        From `compare`. Of several varieties, seeding rates and times of nitrogen the first is
        drawn, of several ends the last; differences with the nitrogen nearest to 60 lb/ac, means
        with the least and with the most.
    system : {"us", "si"}
    errors : ModelErrors
        How far off the model is, for the ranges.
    axes : mapping, optional
        Domains of ``biomass`` and ``difference``.

    Returns
    -------
    Chart
    """
    import altair as alt

    if "variety" in grid.dims:
        grid = grid.isel(variety=0).assign_attrs(variety=str(grid["variety"].values[0]))
    panels = [by_sowing(mean_rows(grid, system, errors), system, axes=axes)]
    if grid.sizes["year"] > 1 and (rows := difference_rows(grid, system)):
        panels.insert(0, by_difference(rows, system, axes=axes))
    elif grid.sizes["year"] > 1:
        panels.insert(0, by_year(year_rows(grid, system), system, axes=axes))
    laid = alt.vconcat(*panels, spacing=30).resolve_scale(color="independent", shape="independent")
    return finish(laid, *headline(grid, system))


def _one_plan(grid: xr.Dataset) -> xr.Dataset:
    return grid.isel(seeding=0, nitrogen_timing=0, end=-1)


def _spoken(grid: xr.Dataset) -> float:
    """Return the rate that is drawn by year: the one nearest to 60 lb/ac."""
    rates = grid["nitrogen"].values
    return float(rates[np.argmin(np.abs(rates - ORDINARY_RATE))])


def headline(grid: xr.Dataset, system: units.System) -> tuple[list[str], list[str]]:
    """Say how often which sowing makes most, and by how much."""
    part = _one_plan(grid)
    rate = _spoken(grid)
    years = part["year"].values.tolist()
    below = [
        f"{subject(grid.attrs, years)} "
        f"{units.spell(rate, 'nitrogen', system)} of nitrogen "
        f"{wording.timing(str(part['nitrogen_timing'].values))}; seeded at "
        f"{units.spell(float(part['seeding']), 'mass', system)}; ended "
        f"{wording.ending(str(part['end'].values))}.",
    ]
    if len(years) > 1:
        below += [
            "Above: each sowing's falls in order, from the one in which it lags the first most.",
            f"Below: means; bars: {ranged(len(years))}; thin bars: in a field like these.",
        ]
    biomass = part["biomass_kg_ha"].sel(nitrogen=rate).transpose("sow", "year").values
    whole = biomass[:, np.isfinite(biomass).all(axis=0)]
    sowings = [wording.dates_in(str(sow)) for sow in part["sow"].values]
    cereal = str(grid.attrs["cereal"])
    if not whole.size:
        return ["In no fall did every stand come to its end"], below
    means = whole.mean(axis=1)
    best, worst = int(np.argmax(means)), int(np.argmin(means))
    if best == worst:
        made = units.spell(means[0], "biomass", system)
        return [f"{cereal.capitalize()} sown {sowings[0]} makes {made}"], below
    wins = int((whole.argmax(axis=0) == best).sum())
    ahead = units.spell(means[best] - means[worst], "biomass", system)
    often = f" in {wins} of {whole.shape[1]} falls" if len(years) > 1 else ""
    text = (
        f"{cereal.capitalize()} sown {sowings[best]} makes most{often}, {ahead} more than "
        f"sown {sowings[worst]}{' on the mean' if len(years) > 1 else ''}"
    )
    return [text], below


def year_rows(grid: xr.Dataset, system: units.System) -> list[Row]:
    """Return a row a sowing and year, in the reader's units; years left out have no biomass."""
    part = _one_plan(grid)["biomass_kg_ha"].sel(nitrogen=_spoken(grid))
    years = part["year"].values
    part = part.reindex(year=np.arange(years.min(), years.max() + 1))
    return [
        {
            "sown": wording.dates_in(str(sow)),
            "year": int(year),
            "biomass": float(units.show(value, "biomass", system)) if np.isfinite(value) else None,
        }
        for sow in part["sow"].values
        for year, value in zip(part["year"].values, part.sel(sow=sow).values, strict=True)
    ]


def difference_rows(grid: xr.Dataset, system: units.System) -> list[Row]:
    """Return a row a later sowing and fall: its difference from the first, the least first."""
    part = _one_plan(grid)["biomass_kg_ha"].sel(nitrogen=_spoken(grid))
    found = []
    for sow in part["sow"].values[1:]:
        off = (part.sel(sow=sow) - part.isel(sow=0)).dropna("year")
        order = off.sortby(off)
        for rank, (year, value) in enumerate(
            zip(order["year"].values, order.values, strict=True), start=1
        ):
            found.append(
                {
                    "sown": wording.dates_in(str(sow)),
                    "first": wording.dates_in(str(part["sow"].values[0])),
                    "year": int(year),
                    "rank": rank,
                    "difference": float(units.show(value, "biomass", system)),
                }
            )
    return found


def mean_rows(grid: xr.Dataset, system: units.System, errors: ModelErrors = SHIPPED) -> list[Row]:
    """Return a row a sowing with the least and with the most nitrogen, in the reader's units."""
    part = _one_plan(grid)["biomass_kg_ha"]
    rates = sorted({float(part["nitrogen"].min()), float(part["nitrogen"].max())})
    found = []
    for sow in part["sow"].values:
        for rate in rates:
            values = part.sel(sow=sow, nitrogen=rate).values
            if not np.isfinite(values).any():
                continue
            ranges = biomass_ranges(values, error=errors.level)
            ends = (*spread(values), ranges.low, ranges.high)
            shown = [float(units.show(one, "biomass", system)) for one in (mean(values), *ends)]
            fed = f"{units.spell(rate, 'nitrogen', system)} of" if rate else "no"
            found.append(
                {
                    "label": wording.dates_in(str(sow)),
                    "series": f"with {fed} nitrogen",
                    "told": f"{round(shown[0], -1):,.0f}",
                    **dict(zip(_MEAN_AND_ENDS, shown, strict=True)),
                }
            )
    return found


def by_difference(
    rows: Sequence[Row],
    system: units.System,
    *,
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
) -> Chart:
    """Draw what later sowings make more or less than the first in the same fall, sorted.

    Parameters
    ----------
    rows : sequence of dict
        From `difference_rows`.
    system : {"us", "si"}
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of ``difference``.
    """
    import altair as alt

    sowings = list(dict.fromkeys(row["sown"] for row in rows))
    encodings = distinguish("sown", sowings, title="sown", shapes=True)
    dashed = distinguish("sown", sowings, dashes=True)["strokeDash"]
    dashed.legend = None
    x: Any = alt.X(
        "rank:Q",
        title="fall",
        axis=alt.Axis(format="d", tickCount=MOST_NAMED, tickMinStep=1),
        scale=alt.Scale(nice=False, zero=False, padding=10),
    )
    up = axis_title(f"more than sown {rows[0]['first']}", "biomass", system)
    y: Any = alt.Y("difference:Q", title=up, scale=scale(axes, "difference"))
    base = alt.Chart(data(rows), width=size[0], height=size[1]).encode(
        x=x, y=y, color=encodings["color"]
    )
    none = alt.Chart(data([{"difference": 0.0}])).mark_rule(color=SOFT).encode(y=y)
    told = [
        alt.Tooltip("sown:N"),
        alt.Tooltip("year:Q", format="d"),
        alt.Tooltip("difference:Q", format=",.0f"),
    ]
    line = base.mark_line(strokeWidth=2).encode(strokeDash=dashed)
    points = base.mark_point(filled=True, size=55, opacity=1).encode(
        shape=encodings["shape"], tooltip=told
    )
    return alt.layer(none, line, points)


def by_year(
    rows: Sequence[Row],
    system: units.System,
    *,
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
) -> Chart:
    """Draw biomass by year, a line a sowing.

    Parameters
    ----------
    rows : sequence of dict
        From `year_rows`.
    system : {"us", "si"}
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of ``biomass``.
    """
    import altair as alt

    sowings = list(dict.fromkeys(row["sown"] for row in rows))
    years = sorted({row["year"] for row in rows})
    ticks: dict[str, Any] = (
        {"values": years} if len(years) <= MOST_NAMED else {"tickCount": MOST_NAMED}
    )
    across = alt.X(
        "year:Q",
        title="fall",
        axis=alt.Axis(format="d", **ticks),
        scale=alt.Scale(nice=False, zero=False, padding=10),
    )
    y = alt.Y(
        "biomass:Q",
        title=axis_title("biomass", "biomass", system),
        scale=scale(axes, "biomass", zero=True),
    )
    encodings = distinguish("sown", sowings, title="sown", shapes=True)
    dashed = distinguish("sown", sowings, dashes=True)["strokeDash"]
    dashed.legend = None
    base = alt.Chart(data(rows), width=size[0], height=size[1]).encode(
        x=across, y=y, color=encodings["color"]
    )
    return base.mark_line(strokeWidth=2).encode(strokeDash=dashed) + base.mark_point(
        filled=True, size=60, opacity=1
    ).encode(shape=encodings["shape"])


def by_sowing(
    rows: Sequence[Row],
    system: units.System,
    *,
    up: str = "biomass",
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
) -> Chart:
    """Draw the mean and the range of each sowing, with the least and with the most nitrogen.

    Parameters
    ----------
    rows : sequence of dict
        From `mean_rows`.
    system : {"us", "si"}
    up : str
        Title of the axis, without its unit.
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of ``biomass``.
    """
    return ranges(rows, axis_title(up, "biomass", system), size=size, axes=axes)
