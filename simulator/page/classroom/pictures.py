"""The class view's pictures: sums that grow day by day with the stages on the way, and a day."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.season.panels import WIDE, across
from simulator.page.classroom.methods import Day, air, jumps, shaded_by_hour
from simulator.page.classroom.question import AXIS, LAST_DAY
from simulator.page.classroom.season import Summed
from simulator.page.pictures import FIRST_SHOWN, moment
from simulator.season.plan import ANY_YEAR, day_number
from simulator.show import names
from simulator.show.charts import COLOURS, SOFT, Chart, axis_title, data, haloed

TALL = 330
LETTERS = 13  # of a stage's name [px]
REACHED = "datum.day <= today"
SHOWN = [moment(day_number(ANY_YEAR, date)) for date in (FIRST_SHOWN, LAST_DAY)]
# stages whose names get their room first
WANTED = (
    "stem elongation",
    "emergence",
    "flowering",
    "3 leaves",
    "heading",
    "boot",
    "first tiller",
)
FINE = 1440  # points of a day's curve


def stage_marks(season: Summed, system: units.System) -> list[dict[str, Any]]:
    """Return the points of stages, with their names where they have room, as `names.beside`."""
    days = [season.moments[stage.at] for stage in season.stages]
    places = [(day - SHOWN[0]) / (SHOWN[1] - SHOWN[0]) for day in days]
    sides = names.beside(places, [stage.name for stage in season.stages], LETTERS, first=WANTED)
    sums = [float(units.show(stage.sum, "thermal_time", system)) for stage in season.stages]
    return [
        {"day": day, "sum": round(total, 1), **side}
        for day, total, side in zip(days, sums, sides, strict=True)
    ]


def unnamed(season: Summed, system: units.System, wide: int = WIDE[0]) -> list[int]:
    """Return which of a season's stages have no room for their names in so wide a picture."""
    marks = stage_marks(season, system)
    return [at for at, mark in enumerate(marks) if mark["narrowest"] > wide]


def sums_picture(system: units.System, tops: Mapping[str, float]) -> Chart:
    """Draw the sums of a season up to a day; what is to come stands faint.

    Parameters
    ----------
    system : {"us", "si"}
    tops : mapping
        ``sumTop``: where the axis of sums ends, in the reader's units; ``today``: up to which day,
        as `moment` has it.

    Returns
    -------
    Chart
        Of the named data ``sums`` (``day, own, chosen, least, most``) and ``stages``, as
        `stage_marks` makes them; the parameters ``today`` and ``sumTop`` move it, and ``wide``
        says how wide it is drawn.
    """
    import altair as alt

    days = across(SHOWN)
    title = axis_title("thermal time from sowing", "thermal_time", system)

    def up(field: str) -> Any:
        return alt.Y(
            f"{field}:Q",
            title=title,
            axis={"tickCount": 6, "format": ",~r"},
            scale={
                "domain": [0, alt.ExprRef("sumTop")],
                "nice": False,
                "zero": False,
                "clamp": True,
            },
        )

    def line(field: str, colour: str, dash: list[float], wide: float) -> tuple[Any, Any]:
        whole: Any = alt.Chart(data("sums")).encode(x=days, y=up(field))
        style: dict[str, Any] = {
            "clip": True,
            "color": colour,
            "strokeDash": dash,
            "strokeWidth": wide,
        }
        return (
            whole.mark_line(**{**style, "strokeWidth": 1.0, "opacity": 0.45}),
            whole.transform_filter(REACHED).mark_line(**style),
        )

    stages = alt.Chart(data("stages")).transform_filter(REACHED).encode(x=days, y=up("sum"))
    params = {"today": tops.get("today") or SHOWN[1], "sumTop": tops["sumTop"], "wide": WIDE[0]}
    return alt.layer(
        alt.Chart(data("sums"))
        .transform_filter(REACHED)
        .mark_area(color=COLOURS[2], opacity=0.4, clip=True)
        .encode(x=days, y=up("least"), y2="most:Q"),
        *line("own", COLOURS[0], [1, 0], 2.8),
        *line("chosen", COLOURS[1], [7, 3], 2.4),
        alt.Chart(alt.InlineData(values=[{}]))
        .mark_rule(color=SOFT, strokeDash=[2, 3])
        .encode(x=alt.datum(alt.ExprRef("today"), type="temporal")),
        stages.mark_point(filled=True, size=75, stroke="white", color=COLOURS[0], opacity=1.0),
        *names.written(stages, "wide", fontSize=LETTERS),
        width=WIDE[0],
        height=TALL,
    ).add_params(*(alt.param(name=name, value=value) for name, value in params.items()))


def day_picture(day: Day, curve: str, cutoff: str, system: units.System) -> Chart:
    """Draw a day as a method takes it to run, and shade what it counts.

    What an intermediate cutoff takes off again is shaded below the limit, in another colour.
    """
    import altair as alt

    # the ends of a step lie beside each other
    steps = [at + side for at in jumps(curve, cutoff, day) for side in (-1e-6, 1e-6)]
    hours = np.sort(np.append(np.linspace(0.0, 24.0, FINE + 1), steps))
    runs = air(curve, day, hours)
    edges = day.base + shaded_by_hour(curve, cutoff, day, hours)

    def shown(values: Any) -> Any:
        return np.round(units.show(values, "temperature", system), 3)

    low, high = AXIS[system]
    ends = shown(np.array([day.tmin, day.tmax, day.base, day.upper]))
    low, high = min(low, float(ends.min()) - 2.0), max(high, float(ends.max()) + 2.0)
    limits = [
        {"limit": float(value), "told": f"{name} {float(value):g}".replace("-", "−")}
        for name, value in zip("BU", ends[2:], strict=True)
    ]
    columns = {
        "hour": hours,
        "air": shown(runs),
        "base": shown(np.full(hours.size, day.base)),
        "counted": shown(edges),
        "capped": shown(np.clip(runs, day.base, day.upper)),
    }
    rows = [
        dict(zip(columns, map(float, row), strict=True))
        for row in zip(*columns.values(), strict=True)
    ]
    x = alt.X(
        "hour:Q",
        title="hours from the lowest (h)",
        scale={"domain": [0, 24], "nice": False},
        axis={"values": [0, 6, 12, 18, 24]},
    )

    def up(field: str) -> Any:
        return alt.Y(
            f"{field}:Q",
            title=axis_title("air", "temperature", system),
            scale={"domain": [low, high], "nice": False, "zero": False},
        )

    base = alt.Chart(data(rows)).encode(x=x)
    layers = [base.mark_area(color=COLOURS[2], opacity=0.75).encode(y=up("base"), y2="counted:Q")]
    if cutoff == "intermediate":
        layers.append(
            base.mark_area(color=COLOURS[1], opacity=0.4).encode(y=up("counted"), y2="capped:Q")
        )
    edge = alt.Chart(data(limits)).encode(y=up("limit"))
    return alt.layer(
        *layers,
        edge.mark_rule(color=COLOURS[1], strokeDash=[7, 3], strokeWidth=1.6),
        base.mark_line(color=COLOURS[0], strokeWidth=2.6).encode(y=up("air")),
        *haloed(edge.encode(x=alt.value(WIDE[0]), text="told:N"), align="left", dx=6),
        width=WIDE[0],
        height=TALL,
    )
