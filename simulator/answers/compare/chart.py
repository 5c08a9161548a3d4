"""Plans compared as a chart: what each sowing date made year by year, and on the mean."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.shared.usual_rate import ORDINARY_RATE
from simulator.show import wording
from simulator.show.chart_forms import ranges
from simulator.show.charts import (
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

SIZE = (690, 260)  # of a panel [px]
MOST_NAMED = 10  # years that are each named on the axis


def chart(grid: xr.Dataset, system: units.System, *, axes: Axes | None = None) -> Chart:
    """Draw biomass by year, a line a sowing, and each sowing's mean and range.

    Parameters
    ----------
    grid : Dataset
        From `compare`. Of several seeding rates and times of nitrogen the first is drawn, of
        several ends the last; by year with the nitrogen nearest to 60 lb/ac, then with the least
        and with the most.
    system : {"us", "si"}
    axes : mapping, optional
        Domain of ``biomass``.

    Returns
    -------
    Chart
    """
    import altair as alt

    panels = [by_sowing(mean_rows(grid, system), system, axes=axes)]
    if grid.sizes["year"] > 1:
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
        below.append(f"Below: means; bars: {ranged(len(years))}.")
    biomass = part["biomass_kg_ha"].sel(nitrogen=rate).transpose("sow", "year").values
    whole = biomass[:, np.isfinite(biomass).all(axis=0)]
    sowings = [wording.dates_in(str(sow)) for sow in part["sow"].values]
    cereal = str(grid.attrs["cereal"])
    if not whole.size:
        return ["In no fall did every stand come to its end"], below
    means = whole.mean(axis=1)
    best, worst = int(np.argmax(means)), int(np.argmin(means))
    if best == worst:
        made = units.spell(means[0], "mass", system)
        return [f"{cereal.capitalize()} sown {sowings[0]} makes {made}"], below
    wins = int((whole.argmax(axis=0) == best).sum())
    ahead = units.spell(means[best] - means[worst], "mass", system)
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
            "biomass": float(units.show(value, "mass", system)) if np.isfinite(value) else None,
        }
        for sow in part["sow"].values
        for year, value in zip(part["year"].values, part.sel(sow=sow).values, strict=True)
    ]


def mean_rows(grid: xr.Dataset, system: units.System) -> list[Row]:
    """Return a row a sowing with the least and with the most nitrogen, in the reader's units."""
    part = _one_plan(grid)["biomass_kg_ha"]
    rates = sorted({float(part["nitrogen"].min()), float(part["nitrogen"].max())})
    found = []
    for sow in part["sow"].values:
        for rate in rates:
            values = part.sel(sow=sow, nitrogen=rate).values
            if not np.isfinite(values).any():
                continue
            shown = [
                float(units.show(one, "mass", system)) for one in (mean(values), *spread(values))
            ]
            fed = f"{units.spell(rate, 'nitrogen', system)} of" if rate else "no"
            found.append(
                {
                    "label": wording.dates_in(str(sow)),
                    "series": f"with {fed} nitrogen",
                    "told": f"{shown[0]:,.0f}",
                    **dict(zip(("y", "low", "high"), shown, strict=True)),
                }
            )
    return found


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
        title=axis_title("biomass", "mass", system),
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
    return ranges(rows, axis_title(up, "mass", system), size=size, axes=axes)
