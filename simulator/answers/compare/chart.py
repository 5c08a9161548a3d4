"""Plans compared as a chart: what later sowings made more than the first, and all means."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.shared.fields import biomass_ranges, difference_ranges, in_a_field
from simulator.answers.shared.usual_rate import nearest
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.show import wording
from simulator.show.chart_forms import ranges
from simulator.show.charts import (
    COLOURS,
    INK,
    SOFT,
    TEXT,
    Axes,
    Chart,
    Row,
    axis_title,
    data,
    distinguish,
    finish,
    haloed,
    ranged,
    scale,
    scales_apart,
    subject,
)
from simulator.show.tables import mean, spread

if TYPE_CHECKING:
    import xarray as xr

_MEAN_AND_ENDS = ("y", "low", "high", "field_low", "field_high")
SIZE = (690, 260)  # of a panel [px]
GAP = 14  # between the panels of later sowings [px]
MOST_ABREAST = 4  # panels of later sowings
MOST_NAMED = 10  # years that are each named on the axis
MORE, LESS = COLOURS[3], COLOURS[1]  # falls in which a later sowing makes more than the first


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
        with that and with the least.
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
    laid = alt.vconcat(*panels, spacing=30, resolve=scales_apart("color", "shape"))
    return finish(laid, *headline(grid, system, errors))


def _one_plan(grid: xr.Dataset) -> xr.Dataset:
    return grid.isel(seeding=0, nitrogen_timing=0, end=-1)


def _spoken(grid: xr.Dataset) -> float:
    """Return the rate whose differences are drawn: the one nearest to 60 lb/ac."""
    return nearest(grid["nitrogen"].values.tolist())


def headline(
    grid: xr.Dataset, system: units.System, errors: ModelErrors = SHIPPED
) -> tuple[list[str], list[str]]:
    """Say what the sowing that differs most from the first makes, and in how many falls."""
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
    biomass = part["biomass_kg_ha"].sel(nitrogen=rate).transpose("sow", "year").values
    dates = [wording.dates_in(str(sow)) for sow in part["sow"].values]
    cereal = str(grid.attrs["cereal"]).capitalize()
    if len(years) > 1:
        above = "Above: a bar a fall, sorted; dashed: their mean. " if len(dates) > 1 else ""
        below += [f"{above}Below: means; thick {ranged(len(years))}, thin in a field like these."]
    gaps = [off[np.isfinite(off)] for off in biomass[1:] - biomass[0]]
    known = [at for at, off in enumerate(gaps) if off.size]
    if not known:
        stood = mean(biomass[0])
        if not np.isfinite(stood):
            return ["In no fall did every stand come to its end"], below
        return [f"{cereal} sown {dates[0]} makes {units.spell(stood, 'biomass', system)}"], below
    at = max(known, key=lambda one: abs(gaps[one].mean()))
    off = gaps[at]
    less = off.mean() < 0
    side, like = ("less", off < 0) if less else ("more", off > 0)
    text = (
        f"{cereal} sown {dates[at + 1]} makes {units.spell(abs(off.mean()), 'biomass', system)} "
        f"{side} than sown {dates[0]}"
    )
    if len(years) > 1:
        text += f", and {side} in {like.sum()} of {off.size} falls"
    differs = difference_ranges(off, errors.response)
    return [text], [in_a_field(differs, system), *below]


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
    """Return a row a sowing with the least nitrogen and with the rate spoken of, as they read."""
    part = _one_plan(grid)["biomass_kg_ha"]
    rates = sorted({float(part["nitrogen"].min()), _spoken(grid)})
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

    A panel a sowing, a bar a fall; the mean is a line with its figure.

    Parameters
    ----------
    rows : sequence of dict
        From `difference_rows`.
    system : {"us", "si"}
    size : (int, int)
        Width and height of all panels together [px].
    axes : mapping, optional
        Domain of ``difference``.
    """
    import altair as alt

    sowings = list(dict.fromkeys(row["sown"] for row in rows))
    abreast = min(len(sowings), MOST_ABREAST)
    wide = (size[0] - GAP * (abreast - 1)) // abreast
    ends = [row["difference"] for row in rows]
    still = scale(axes, "difference", domain=[min(0.0, *ends), max(0.0, *ends)], nice=True)
    panels = [
        _sorted_falls(
            [row for row in rows if row["sown"] == sown],
            axis_title(f"difference from {rows[0]['first']}", "biomass", system),
            still,
            (wide, size[1]),
            first=at % abreast == 0,
        )
        for at, sown in enumerate(sowings)
    ]
    return alt.concat(*panels, columns=abreast, spacing=GAP)


def _sorted_falls(
    rows: Sequence[Row], up: str, still: Any, size: tuple[int, int], *, first: bool
) -> Chart:
    import altair as alt

    off = [row["difference"] for row in rows]
    middle = float(np.mean(off))
    ahead = sum(one > 0 for one in off)
    title = alt.TitleParams(
        f"sown {rows[0]['sown']}",
        subtitle=f"more in {ahead} of {len(off)} falls",
        subtitleFontSize=TEXT,
        subtitleColor=INK,
    )
    y = alt.Y(
        "difference:Q",
        title=up if first else None,
        scale=still,
        axis={"labels": first, "ticks": first, "domain": first},
    )
    x = alt.X(
        "rank:O",
        title=None,
        scale={"paddingInner": 0.15, "paddingOuter": 0.3},
        axis=None,
    )
    bars = (
        alt.Chart(data(rows), width=size[0], height=size[1], title=title)
        .mark_bar()
        .encode(
            x=x,
            y=y,
            color=alt.condition("datum.difference > 0", alt.value(MORE), alt.value(LESS)),
            tooltip=[
                alt.Tooltip("year:Q", format="d"),
                alt.Tooltip("difference:Q", format=",.0f"),
            ],
        )
    )
    line = alt.Chart(data([{"difference": 0.0}])).mark_rule(color=SOFT).encode(y=y)
    on_mean = alt.Chart(data([{"difference": middle, "told": f"{round(middle, -1):+,.0f}"}]))
    level = on_mean.mark_rule(color=INK, strokeWidth=2, strokeDash=[6, 3]).encode(y=y)
    below = middle < 0  # where bars are short: they rise from the left to the right
    figure = haloed(
        on_mean.encode(y=y, x=alt.value(size[0] - 4 if below else 4), text="told:N"),
        align="right" if below else "left",
        baseline="top" if below else "bottom",
        dy=4 if below else -3,
        fontWeight="bold",
    )
    return alt.layer(bars, line, level, *figure)


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
        axis={"format": "d", **ticks},
        scale={"nice": False, "zero": False, "padding": 10},
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
    """Draw the mean and the range of each sowing, with each rate of nitrogen.

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
