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
    haloed,
    moment,
    ranged,
    scale,
    subject,
)
from simulator.weather.fall_year import season_day

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

ENDS = ("low", "middle", "high", "alone_low", "alone_high")  # of a row
SIZE = (330, 250)  # of a panel [px]
PALE, DARK = "#d3e2e4", "#93b9bc"  # of the two bands
EARLY = 0.3  # of the days drawn: where today is earlier, its name stands at the right


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
    ended = wording.ending(str(bands["end"].values[-1]))
    today = moment(season_day(found.known.year, found.known.today))
    falls = len(found.others)
    left = fan(by_day, system, goal, axes=axes, falls=falls)
    left += alt.layer(
        *_today(today, by_day, f"today, {wording.dates_in(found.known.today)}"),
        *_ends_told((clip_days or by_day)[-1]),
        *_goal_told(by_day[0]["day"], goal, f"target {units.spell(target, 'biomass', system)}"),
    )
    if clipped is not None:
        left = left + clipped_chart.layers(clip_days, marks)
    left.title = "forecast made today"
    right = fan(
        by_known, system, goal, axes=axes, falls=falls, points=True, title="forecast made on"
    )
    last = alt.Chart(data([{**by_known[-1], "told": "today"}])).encode(x="day:T", y="middle:Q")
    falling = by_known[-1]["middle"] < by_known[-2 if by_known[1:] else -1]["middle"]
    side = 15 if falling else -14  # off the line that comes from the left
    right += alt.layer(*haloed(last.encode(text="told:N"), align="right", dx=2, dy=side))
    alone = "" if clipped is None else ", nothing measured"
    right.title = f"forecasts for {ended.removeprefix('on ')}{alone}"
    both = alt.hconcat(left, right, spacing=34, resolve={"scale": {"y": "shared"}})
    return finish(both, *headline(found, bands, system, target))


def _today(today: str, rows: Sequence[Row], told: str) -> tuple[Chart, ...]:
    """Draw a line at today, named at its top on the side that has room."""
    import altair as alt

    early = sum(row["day"] < today for row in rows) < EARLY * len(rows)
    base = alt.Chart(data([{"day": today, "told": told}])).encode(x="day:T")
    aside: dict[str, Any] = {"align": "left", "dx": 7} if early else {"align": "right", "dx": -7}
    text = base.encode(text="told:N", y=alt.value(10))
    return base.mark_rule(color=COLOURS[1], strokeWidth=2), *haloed(text, **aside)


def _ends_told(row: Row) -> tuple[Chart, ...]:
    """Write the middle case and the ends of its range beside the last day."""
    import altair as alt

    values = [
        {"day": row["day"], "value": row[end], "told": f"{round(row[end], -1):,.0f}"}
        for end in ENDS[:3]
    ]
    base = alt.Chart(data(values)).encode(x="day:T", y="value:Q", text="told:N")
    return haloed(base, align="left", dx=6)


def _goal_told(day: str, goal: float, told: str) -> tuple[Chart, ...]:
    """Name the line of the target, at its beginning."""
    import altair as alt

    base = alt.Chart(data([{"day": day, "goal": goal, "told": told}]))
    return haloed(base.encode(x="day:T", y="goal:Q", text="told:N"), align="left", dy=-12)


def headline(
    found: Outlook, bands: xr.Dataset, system: units.System, target: float
) -> tuple[list[str], list[str]]:
    """Say what the stand may make by the last end."""
    row = bands.isel(as_of=-1, end=-1)
    low, high = (float(row[f"biomass_{part}_kg_ha"]) for part in ("low", "high"))
    middle = units.spell(float(row["biomass_median_kg_ha"]), "biomass", system)
    text = (
        f"{middle} {wording.ending(str(row['end'].values))} in the middle case, "
        f"{from_to(low, high, system)} in 8 of 10 fields like these"
    )
    more = [] if found.clipped is None else clipped_chart.legend(found.clipped, system)
    return [text], [
        f"{subject(found.attrs)} Sown {wording.dates_in(found.attrs['sow'])}, {found.known.year}; "
        f"weather known to {when(found)}.",
        *more,
        f"Line: middle case. The rest of the season is that of {len(found.others)} other falls.",
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
    together[1] = np.where(days < today, middle, together[1])
    drawn = _with_day(today, days, np.array([*together, alone_low, alone_high]))
    return [
        _row(day, [np.nan, numbers[1], np.nan, *numbers[3:]] if day < today else numbers, system)
        for day, numbers in drawn
    ]


def _with_day(
    today: np.datetime64, days: NDArray[np.datetime64], numbers: NDArray[np.float64]
) -> list[tuple[np.datetime64, list[float]]]:
    """Return a column of numbers for each day, and for today between the two days about it."""
    after = int((days < today).sum())
    if 0 < after < len(days) and days[after] != today:
        share = (today - days[after - 1]) / (days[after] - days[after - 1])
        between = (1.0 - share) * numbers[:, after - 1] + share * numbers[:, after]
        days, numbers = np.insert(days, after, today), np.insert(numbers, after, between, axis=1)
    return list(zip(days, numbers.T.tolist(), strict=True))


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
    shown = [
        float(units.show(one, "biomass", system)) if np.isfinite(one) else None for one in numbers
    ]
    return {"day": moment(day), **dict(zip(ENDS, shown, strict=True))}


def fan(
    rows: Sequence[Row],
    system: units.System,
    target: float,
    *,
    falls: int,
    points: bool = False,
    title: str | None = None,
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
) -> Chart:
    """Draw a middle line in its two bands, the target across.

    Parameters
    ----------
    rows : sequence of dict
        ``day`` and `ENDS`, in the reader's units; ``low, high`` are None before today.
    system : {"us", "si"}
    target : float
        In the reader's units.
    falls : int
        Other falls, of which the weather's band holds 8 of 10.
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
        scale={"nice": False, "padding": 8},
        axis={
            "format": "%b %-d" if points else "%b",
            "labelOverlap": True,
            "tickCount": 4 if points else "month",
        },
    )
    y = alt.Y(
        "low:Q",
        title=axis_title("biomass", "biomass", system),
        scale=scale(axes, "biomass", zero=True),
    )
    names = ("8 of 10 fields like these", f"{ranged(falls)}, by weather alone")
    shades = {"domain": list(names), "range": [PALE, DARK]}
    legend = {"title": None}

    def band_of(name: str, low: str, high: str) -> Chart:
        return (
            base.transform_filter(f"isValid(datum.{low})")
            .transform_calculate(band=f"'{name}'")
            .mark_area(opacity=0.85)
            .encode(
                x=x,
                y=y if low == "low" else f"{low}:Q",
                y2=f"{high}:Q",
                color=alt.Color("band:N", scale=shades, legend=legend),
            )
        )

    base = alt.Chart(data(rows), width=size[0], height=size[1])
    area, alone = band_of(names[0], "low", "high"), band_of(names[1], "alone_low", "alone_high")
    dots: Any = alt.OverlayMarkDef(color=COLOURS[0], size=55) if points else False
    middle = base.mark_line(color=COLOURS[0], strokeWidth=2.4, point=dots).encode(x=x, y="middle:Q")
    goal = (
        alt.Chart(data([{"goal": target}]))
        .mark_rule(color=SOFT, strokeDash=[5, 4], strokeWidth=1.6)
        .encode(y="goal:Q")
    )
    return alt.layer(area, alone, goal, middle)
