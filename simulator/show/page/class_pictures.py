"""The class view's picture of a season: sums that grow day by day, and the stages on the way."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from simulator import units
from simulator.season.plan import ANY_YEAR, day_number
from simulator.show.charts import COLOURS, SOFT, Chart, axis_title, data, haloed
from simulator.show.page.class_question import LAST_DAY
from simulator.show.page.pictures import FIRST_SHOWN, moment
from simulator.show.season_panels import WIDE, across

TALL = 330
REACHED = "datum.day <= today"


def sums_picture(system: units.System, tops: Mapping[str, float]) -> Chart:
    """Draw the sums of a season up to a day; what is to come stands faint.

    Parameters
    ----------
    system : {"us", "si"}
    tops : mapping
        ``sumTop``: where the axis of sums ends, in the reader's units.

    Returns
    -------
    Chart
        Of the named data ``sums`` (``day, own, chosen, least, most``) and ``stages``
        (``day, sum, text``); the parameters ``today`` and ``sumTop`` move it.
    """
    import altair as alt

    first, last = (moment(day_number(ANY_YEAR, date)) for date in (FIRST_SHOWN, LAST_DAY))
    days = across((first, last))
    title = axis_title("thermal time from sowing", "thermal_time", system)

    def up(field: str) -> Any:
        return alt.Y(f"{field}:Q", title=title, axis=alt.Axis(tickCount=6, format=",~r"),
                     scale=alt.Scale(domain=[0, alt.ExprRef("sumTop")], nice=False, zero=False,
                                     clamp=True))  # fmt: skip

    def line(field: str, colour: str, dash: list[float], wide: float) -> tuple[Any, Any]:
        whole: Any = alt.Chart(data("sums")).encode(x=days, y=up(field))
        style: dict[str, Any] = {
            "clip": True,
            "color": colour,
            "strokeDash": dash,
            "strokeWidth": wide,
        }
        return (whole.mark_line(**{**style, "strokeWidth": 1.0, "opacity": 0.45}),
                whole.transform_filter(REACHED).mark_line(**style))  # fmt: skip

    stages = alt.Chart(data("stages")).transform_filter(REACHED).encode(x=days, y=up("sum"))
    params = {"today": last, "sumTop": tops["sumTop"]}
    return (
        alt.layer(
            alt.Chart(data("sums")).transform_filter(REACHED)
            .mark_area(color=COLOURS[2], opacity=0.4, clip=True)
            .encode(x=days, y=up("least"), y2="most:Q"),
            *line("own", COLOURS[0], [1, 0], 2.8), *line("chosen", COLOURS[1], [7, 3], 2.4),
            alt.Chart(alt.InlineData(values=[{}])).mark_rule(color=SOFT, strokeDash=[2, 3])
            .encode(x=alt.datum(alt.ExprRef("today"), type="temporal")),
            stages.mark_point(filled=True, size=75, stroke="white", color=COLOURS[0], opacity=1.0),
            *haloed(stages.encode(text="text:N"), align="right", dx=-9, dy=-9, fontSize=13),
        )
        .properties(width=WIDE[0], height=TALL)
        .add_params(*(alt.param(name=name, value=value) for name, value in params.items()))
    )  # fmt: skip
