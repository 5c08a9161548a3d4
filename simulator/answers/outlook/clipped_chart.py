"""What clippings add to the chart: their error, and the band of weather and field together."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp

from simulator import units
from simulator.answers.outlook.calculate import Outlook
from simulator.answers.outlook.clipped import Clipped
from simulator.answers.outlook.clipped_words import spelled
from simulator.season import plan as plans
from simulator.season.measured import BIOMASS
from simulator.show import wording
from simulator.show.charts import COLOURS, INK, Chart, Row, data, moment
from simulator.weather.fall_year import season_day

ENDS = 1.2816  # standard normal: 8 of 10 lie between


def band_rows(found: Outlook, clipped: Clipped, system: units.System) -> list[Row]:
    """Return the band of weather and field day by day, in the reader's units."""
    year = found.known.year
    return [
        _row(plans.date_of(year, int(day)), row, system)
        for day, row in zip(clipped.days, clipped.paths, strict=True)
    ]


def clipping_rows(found: Outlook, clipped: Clipped, system: units.System) -> list[Row]:
    """Return each clipping with the ends of its error."""
    far = exp(ENDS * clipped.spread.clipping)
    return [
        _row(
            season_day(found.known.year, one.date),
            [one.value / far, one.value, one.value * far],
            system,
        )
        for one in clipped.clippings
    ]


def _row(day: object, numbers: Sequence[float], system: units.System) -> Row:
    shown = [float(units.show(float(one), "biomass", system)) for one in numbers]
    return {"day": moment(day), **dict(zip(("low", "middle", "high"), shown, strict=True))}


def layers(band: Sequence[Row], clippings: Sequence[Row]) -> Chart:
    """Draw the ends and the middle of the band, and each clipping with its error."""
    import altair as alt

    base = alt.Chart(data(band))
    edges = [
        base.mark_line(color=COLOURS[3], strokeWidth=width, strokeDash=dash).encode(
            x="day:T", y=f"{end}:Q"
        )
        for end, width, dash in (
            ("low", 1.4, [2, 2]),
            ("middle", 2.4, [1, 0]),
            ("high", 1.4, [2, 2]),
        )
    ]
    marks = alt.Chart(data(clippings))
    return alt.layer(
        *edges,
        marks.mark_rule(color=INK, strokeWidth=1.6).encode(x="day:T", y="low:Q", y2="high:Q"),
        marks.mark_point(color=INK, filled=True, size=36, opacity=1).encode(
            x="day:T", y="middle:Q"
        ),
    )


def legend(clipped: Clipped, system: units.System) -> list[str]:
    """Say what the marks are, and what else was measured."""
    others = [one for one in clipped.measured if one.kind != BIOMASS]
    one = "clipping" if len(clipped.clippings) == 1 else "clippings"
    dot = f"Dot: {one}, with the error of 8 of 10. " * bool(clipped.clippings)
    beside = (
        "Measured besides: "
        + wording.join([f"{spelled(o, system)} on {wording.dates_in(o.date)}" for o in others])
        + ". "
    ) * bool(others)
    return [f"{dot}{beside}Between dotted lines: 8 of 10, told what was measured."]
