"""The outlook of a season under way as a chart: the fan, and how it narrowed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.outlook import clipped_chart
from simulator.answers.outlook.calculate import Outlook
from simulator.answers.outlook.clipped import LEVELS
from simulator.answers.outlook.clipped_data import untold
from simulator.answers.outlook.table import from_to, when
from simulator.answers.shared.few_falls import band
from simulator.show import wording
from simulator.show.charts import (
    COLOURS,
    SOFT,
    Axes,
    Chart,
    Row,
    axis_title,
    data,
    finish,
    moment,
    scale,
    subject,
)
from simulator.weather.fall_year import season_day

if TYPE_CHECKING:
    import xarray as xr

ENDS = ("low", "middle", "high", "alone_low", "alone_high")  # of a row
SIZE = (290, 250)  # of a panel [px]


def chart(
    found: Outlook,
    bands: xr.Dataset,
    system: units.System,
    target: float,
    *,
    axes: Axes | None = None,
) -> Chart:
    """Draw the fan over the season, and how the outlook changed while the days came in.

    Parameters
    ----------
    found : Outlook
    bands : Dataset(as_of, end)
        From `answers.outlook.data.dataset`.
    system : {"us", "si"}
    target : float
        [kg/ha].
    axes : mapping, optional
        Domain of ``biomass``.

    Returns
    -------
    Chart
    """
    import altair as alt

    by_day, by_known = fan_rows(found, system), history_rows(untold(bands), system)
    goal = float(units.show(target, "mass", system))
    clipped = found.clipped
    clip_days = [] if clipped is None else clipped_chart.band_rows(found, clipped, system)
    marks = [] if clipped is None else clipped_chart.clipping_rows(found, clipped, system)
    rows = (*by_day, *by_known, *clip_days, *marks)
    top = 1.05 * max(goal, *(row["high"] for row in rows))
    still = {"biomass": (0.0, top), **(axes or {})}
    ended = wording.ending(str(bands["end"].values[-1]))
    today = moment(season_day(found.known.year, found.known.today))
    left = fan(by_day, system, goal, axes=still, today=today)
    if clipped is not None:
        left = left + clipped_chart.layers(clip_days, marks)
    left = left.properties(title="as seen today")
    right = fan(by_known, system, goal, axes=still, points=True, title="known to").properties(
        title=f"seen earlier, for {ended.removeprefix('on ')}"
    )
    return finish(alt.hconcat(left, right, spacing=34), *headline(found, bands, system, target))


def headline(
    found: Outlook, bands: xr.Dataset, system: units.System, target: float
) -> tuple[list[str], list[str]]:
    """Say what the stand may make by the last end."""
    row = bands.isel(as_of=-1, end=-1)
    low, high = (float(row[f"biomass_{part}_kg_ha"]) for part in ("low", "high"))
    least, most = (float(row[f"weather_{part}_kg_ha"]) for part in ("low", "high"))
    middle = units.spell(float(row["biomass_median_kg_ha"]), "biomass", system)
    text = (
        f"{middle} {wording.ending(str(row['end'].values))} in the middle case, "
        f"{from_to(low, high, system)} in 8 of 10 (by weather alone {from_to(least, most, system)})"
    )
    more = [] if found.clipped is None else clipped_chart.legend(found.clipped, system)
    return [text], [
        f"{subject(found.attrs)} Sown {wording.dates_in(found.attrs['sow'])}, {found.known.year}.",
        *more,
        "Line: middle case. Pale: 8 of 10, weather and field together. Dark: 8 of 10 seasons by "
        f"weather alone, from {len(found.others)} other falls. "
        f"Upright: {when(found)}. Dashed: {units.spell(target, 'mass', system)}.",
    ]


def fan_rows(found: Outlook, system: units.System) -> list[Row]:
    """Return both bands of biomass day by day, in the reader's units.

    That of weather and field begins today: the model's error was found in spring, and says little
    of stands that have just come up.
    """
    today = season_day(found.known.year, found.known.today)
    values = found.paths["biomass_kg_ha"].transpose("time", "other").values
    in_fields = found.errors.level.in_fields(values).reshape(len(values), -1)
    alone_low, middle, alone_high = band(values)
    together = np.quantile(in_fields, LEVELS, axis=-1)
    days = found.paths["time"].values.astype("datetime64[D]")
    for end, alone in ((0, alone_low), (2, alone_high)):
        together[end] = np.where(days < today, alone, together[end])
    together[1] = np.where(days < today, middle, together[1])
    return [
        _row(day, numbers, system)
        for day, *numbers in zip(days, *together, alone_low, alone_high, strict=True)
    ]


def history_rows(bands: xr.Dataset, system: units.System) -> list[Row]:
    """Return both bands for the last end, by the day known to."""
    of_end = bands.isel(end=-1)
    names = [f"biomass_{part}_kg_ha" for part in ("low", "median", "high")]
    names += ["weather_low_kg_ha", "weather_high_kg_ha"]
    return [
        _row(day, [float(of_end[name].sel(as_of=day)) for name in names], system)
        for day in of_end["as_of"].values
    ]


def _row(day: object, numbers: Sequence[float], system: units.System) -> Row:
    shown = [float(units.show(one, "biomass", system)) for one in numbers]
    return {"day": moment(day), **dict(zip(ENDS, shown, strict=True))}


def fan(
    rows: Sequence[Row],
    system: units.System,
    target: float,
    *,
    today: str = "",
    points: bool = False,
    title: str | None = None,
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
) -> Chart:
    """Draw a middle line in its two bands, the target across.

    Parameters
    ----------
    rows : sequence of dict
        ``day`` and `ENDS`, in the reader's units.
    system : {"us", "si"}
    target : float
        In the reader's units.
    today : str
        Day to mark, if any.
    points : bool
        Whether to mark each row.
    title : str, optional
        Of the dates.
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of ``biomass``.
    """
    import altair as alt

    x = alt.X(
        "day:T",
        title=title,
        scale=alt.Scale(nice=False, padding=8),
        axis=alt.Axis(
            format="%b %-d" if points else "%b",
            labelOverlap=True,
            tickCount=4 if points else "month",
        ),
    )
    y = alt.Y(
        "low:Q",
        title=axis_title("biomass", "mass", system),
        scale=scale(axes, "biomass", zero=True),
    )
    base = alt.Chart(data(rows), width=size[0], height=size[1])
    area = base.mark_area(color=COLOURS[2], opacity=0.28).encode(x=x, y=y, y2="high:Q")
    alone = base.mark_area(color=COLOURS[2], opacity=0.6).encode(
        x=x, y="alone_low:Q", y2="alone_high:Q"
    )
    dots: Any = alt.OverlayMarkDef(color=COLOURS[0], size=55) if points else False
    middle = base.mark_line(color=COLOURS[0], strokeWidth=2.4, point=dots).encode(x=x, y="middle:Q")
    goal = (
        alt.Chart(data([{"goal": target}]))
        .mark_rule(color=SOFT, strokeDash=[5, 4], strokeWidth=1.6)
        .encode(y="goal:Q")
    )
    marks = (
        [
            alt.Chart(data([{"day": today}]))
            .mark_rule(color=COLOURS[1], strokeWidth=2)
            .encode(x="day:T")
        ]
        if today
        else []
    )
    return alt.layer(area, alone, goal, middle, *marks)
