"""The picture of the season so far: the fan of what is still to come, and what was clipped."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from simulator import units
from simulator.answers.outlook.calculate import Outlook
from simulator.answers.outlook.chart import ENDS as BANDS
from simulator.answers.outlook.chart import fan_rows
from simulator.answers.outlook.clipped_chart import band_rows, clipping_rows
from simulator.answers.outlook.words import today_is
from simulator.answers.season.panels import WIDE, across, moments
from simulator.page.question import Question
from simulator.page.rows import ROOM, nice
from simulator.show.charts import COLOURS, INK, SOFT, Chart, axis_title, data
from simulator.weather.fall_year import season_day

TALL = 340
ENDS = ("first", "last", "biomass", "goal")  # parameters of the picture
TOLD = ("low", "middle", "high")


def so_far_picture(
    system: units.System, tops: Mapping[str, float], labels: Mapping[str, str] | None = None
) -> Chart:
    """Draw a middle line in its two bands, what measurements make of it, the target, the days.

    Parameters
    ----------
    system : {"us", "si"}
    tops : mapping
        `ENDS`, in the reader's units; parameters of the picture.
    labels : mapping, optional
        As other pictures take it; nothing has a legend here.

    Returns
    -------
    Chart
        Of the named data ``days`` (``day`` and the ends of `outlook.chart`), ``told`` and
        ``clipped`` (``day, low, middle, high``) and ``marks`` (``day, text, of, side``).
    """
    import altair as alt

    x = across()
    x.scale = {"type": "utc", "domain": [alt.ExprRef("first"), alt.ExprRef("last")], "nice": False}

    def up(field: str) -> Any:
        return alt.Y(
            f"{field}:Q",
            title=axis_title("biomass", "mass", system),
            scale={
                "domain": [0, alt.ExprRef("biomass")],
                "nice": False,
                "zero": False,
                "clamp": True,
            },
        )

    base: Any = alt.Chart(data("days")).encode(x=x)
    told: Any = alt.Chart(data("told")).encode(x=x)
    clipped: Any = alt.Chart(data("clipped")).encode(x=x)
    marks: Any = alt.Chart(data("marks")).encode(x=x)
    edges = [
        told.mark_line(color=COLOURS[3], strokeWidth=wide, strokeDash=dash, clip=True).encode(
            y=up(end)
        )
        for end, wide, dash in (
            ("low", 1.6, [2, 2]),
            ("middle", 2.6, [1, 0]),
            ("high", 1.6, [2, 2]),
        )
    ]
    goal = alt.Chart(data([{}])).mark_rule(color=SOFT, strokeDash=[5, 4], strokeWidth=1.6)
    upright = marks.mark_rule(strokeWidth=1.8, color=COLOURS[1]).encode(
        strokeDash=alt.StrokeDash(
            "of:N", scale={"domain": ["made", "today"], "range": [[1, 0], [4, 3]]}, legend=None
        )
    )
    drawn = alt.layer(
        base.mark_area(color=COLOURS[2], opacity=0.28, clip=True).encode(y=up("low"), y2="high:Q"),
        base.mark_area(color=COLOURS[2], opacity=0.6, clip=True).encode(
            y=up("alone_low"), y2="alone_high:Q"
        ),
        goal.encode(y=alt.YDatum(alt.ExprRef("goal"), type="quantitative")),
        base.mark_line(color=COLOURS[0], strokeWidth=2.2, clip=True).encode(y=up("middle")),
        *edges,
        upright,
        *(
            marks.transform_filter(f"datum.of == '{of}'")
            .mark_text(
                align=alt.ExprRef("datum.side"),
                dx=alt.ExprRef("datum.side == 'left' ? 6 : -6"),
                lineBreak="\n",
                color=INK,
            )
            .encode(y=alt.value(down), text="text:N")
            for of, down in (("made", 10), ("today", 48))
        ),
        clipped.mark_rule(color=INK, strokeWidth=1.6).encode(y=up("low"), y2="high:Q"),
        clipped.mark_point(color=INK, filled=True, size=60, opacity=1).encode(y=up("middle")),
        width=WIDE[0],
        height=TALL,
    )
    return drawn.add_params(*(alt.param(name=name, value=tops[name]) for name in ENDS))


def rows_of(found: Outlook, asked: Question) -> dict[str, dict[str, list[Any]]]:
    """Return the columns that the picture draws, in the reader's units."""
    clipped = found.clipped
    told = [] if clipped is None else band_rows(found, clipped, asked.system)
    points = [] if clipped is None else clipping_rows(found, clipped, asked.system)
    made = season_day(found.known.year, found.known.today)
    marks = [(made, f"forecast\nmade on {made.item():%b %-d}", "made")]
    last = found.paths["time"].values[-1].astype("datetime64[D]")
    if not found.known.as_if and made < (now := today_is()) <= last:
        marks.append((now, f"today\n{now.item():%b %-d}", "today"))
    sown = season_day(found.known.year, str(found.attrs["sow"]))
    middle = sown + (last - sown) // 2
    return {
        "days": _columns(fan_rows(found, asked.system), BANDS),
        "told": _columns(told, TOLD),
        "clipped": _columns(points, TOLD),
        "marks": {
            "day": moments([day for day, _, _ in marks]),
            "text": [text for _, text, _ in marks],
            "of": [of for _, _, of in marks],
            "side": ["left" if day < middle else "right" for day, _, _ in marks],
        },
    }


def _columns(rows: Any, names: tuple[str, ...]) -> dict[str, list[Any]]:
    days = moments([str(row["day"])[:10] for row in rows])
    known = {name: [_rounded(row[name]) for row in rows] for name in names}
    return {"day": days, **known}


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


def tops_of(found: Outlook, asked: Question) -> dict[str, float]:
    """Return where the axes end: the season from sowing to its end, and its best case."""
    goal = float(units.show(asked.target, "mass", asked.system))
    drawn = rows_of(found, asked)
    highs = [high for part in ("days", "told", "clipped") for high in drawn[part]["high"]]
    most = max([goal, *(high for high in highs if high is not None)])
    first = season_day(found.known.year, str(found.attrs["sow"]))
    days = found.paths["time"].values.astype("datetime64[D]")
    return {
        "first": float(moments([first])[0]),
        "last": float(moments([days[-1]])[0]),
        "biomass": nice(ROOM * most),
        "goal": goal,
    }
