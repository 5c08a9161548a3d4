"""Charts of parameters: what an answer depends on, and where a fit put them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from simulator.answers.shared.parameter_names import called, unit_told
from simulator.show.charts import COLOURS, SOFT, Axes, Chart, Row, data, finish, scale

BAR = 26  # height of a parameter's place [px]
WIDE, NARROW = 330, 175  # widths of panels [px]
ROOM = 0.22  # of the longest bar, at its right, for a figure


def sensitivity_chart(
    rows: Sequence[Row], headline: Sequence[str], below: Sequence[str], *, axes: Axes | None = None
) -> Chart:
    """Draw total and first-order indices: parameters down, outcomes across, places below.

    Parameters
    ----------
    rows : sequence of dict
        From `answers.sensitivity.data.rows_of`.
    headline, below : sequence of str
        As `finish` has them.
    axes : mapping, optional
        Domain of ``share`` [percent].

    Returns
    -------
    Chart
    """
    import altair as alt

    sites = list(dict.fromkeys(row["site"] for row in rows))
    outcomes = list(dict.fromkeys(row["outcome"] for row in rows))
    order = _by_largest(rows)
    shown = [_percent(row) for row in rows]
    # one scale for all, so that panels can be told against each other; few samples can put what a
    # parameter explains alone below nothing, which must not run into the names
    ends = [row[key] for row in shown for key in ("total", "total_high") if row[key] is not None]
    low = min([0.0, *(row["first"] for row in shown if row["first"] is not None)])
    top = max([*ends, 1.0])
    still: Axes = {"share": (low, top + ROOM * (top - low)), **(axes or {})}
    places = []
    for site in sites:
        panels = [
            _indices(
                [row for row in shown if (row["site"], row["outcome"]) == (site, outcome)],
                order,
                outcome if len(sites) == 1 else f"{site}: {outcome}",
                still,
                labels=outcome == outcomes[0],
            )
            for outcome in outcomes
        ]
        places.append(alt.hconcat(*panels, spacing=22))
    return finish(alt.vconcat(*places, spacing=26), headline, below)


def _percent(row: Row) -> Row:
    """Return a row in percent of the variance, its largest figure told."""
    of = {
        key: None if row[key] is None else 100.0 * row[key]
        for key in ("first", "total", "total_low", "total_high")
    }
    end = max((one for one in (of["total"], of["total_high"]) if one is not None), default=0.0)
    told = "" if of["total"] is None else f"{of['total']:.0f}"
    return {**row, **of, "parameter": called(row["parameter"]), "end": end, "told": told}


def _by_largest(rows: Sequence[Row]) -> list[str]:
    """Order parameters by the largest of their totals."""
    largest: dict[str, float] = {}
    for row in rows:
        name = called(row["parameter"])
        largest[name] = max(largest.get(name, 0.0), row["total"] or 0.0)
    return sorted(largest, key=lambda name: -largest[name])


def _indices(
    rows: Sequence[Row], order: Sequence[str], title: str, axes: Axes, *, labels: bool
) -> Chart:
    import altair as alt

    base = alt.Chart(data(rows), width=NARROW, height=BAR * len(order), title=title)
    down = alt.Y(
        "parameter:N",
        sort=list(order),
        title=None,
        axis={
            "grid": False,
            "ticks": False,
            "labels": labels,
            "labelLimit": 280,
            "labelPadding": 5,
            "domain": False,
        },
    )

    def across(field: str) -> Any:
        return alt.X(
            f"{field}:Q",
            title="share of variance (%)",
            axis={"tickCount": 3},
            scale=scale(axes, "share"),
        )

    tooltips = [
        alt.Tooltip("parameter:N"),
        alt.Tooltip("first:Q", format=".0f"),
        alt.Tooltip("total:Q", format=".0f"),
    ]
    total = base.mark_bar(color=COLOURS[2], size=16).encode(
        x=across("total"), y=down, tooltip=tooltips
    )
    first = base.mark_bar(color=COLOURS[0], size=7).encode(
        x=across("first"), y=down, tooltip=tooltips
    )
    within = base.mark_rule(color=COLOURS[1], strokeWidth=2.4).encode(
        x=across("total_low"), x2="total_high:Q", y=down
    )
    told = base.mark_text(align="left", dx=4).encode(x=across("end"), y=down, text="told:N")
    nothing = alt.Chart(data([{"share": 0.0}])).mark_rule(color=SOFT).encode(x=across("share"))
    return alt.layer(total, first, nothing, within, told)


def fitted_chart(
    rows: Sequence[Row], headline: Sequence[str], below: Sequence[str], *, axes: Axes | None = None
) -> Chart:
    """Draw each fitted parameter within the range searched: default, fitted value, interval.

    Parameters
    ----------
    rows : sequence of dict
        From `answers.fit.data.parameter_rows`; at least one.
    headline, below : sequence of str
        As `finish` has them.
    axes : mapping, optional
        Domain of ``place``, in the range searched [percent].

    Returns
    -------
    Chart
    """
    import altair as alt

    shown = [_placed(row) for row in rows]
    order = [row["name"] for row in shown]
    base = alt.Chart(data(shown), width=WIDE, height=(BAR + 5) * len(order))
    down = alt.Y(
        "name:N",
        sort=order,
        title=None,
        axis={"grid": False, "ticks": False, "labelLimit": 320, "labelPadding": 10},
    )

    def across(field: str) -> Any:
        return alt.X(
            f"{field}:Q",
            title="place in the range searched (%)",
            scale=scale({"place": (0.0, 100.0), **(axes or {})}, "place"),
        )

    span = base.mark_rule(color=SOFT, strokeWidth=1.0, opacity=0.5).encode(
        x=across("start"), x2="stop:Q", y=down
    )
    within = (
        base.transform_filter("datum.low_end != null")
        .mark_rule(color=COLOURS[0], strokeWidth=5, opacity=0.35)
        .encode(x=across("low_end"), x2="high_end:Q", y=down)
    )
    marks = [
        base.mark_point(shape=shape, size=size, color=colour, filled=filled, opacity=1.0).encode(
            x=across(field), y=down, tooltip=[alt.Tooltip("name:N"), alt.Tooltip("values:N")]
        )
        for field, shape, size, colour, filled in (
            ("default", "diamond", 70, COLOURS[1], False),
            ("fitted", "circle", 85, COLOURS[0], True),
        )
    ]
    values = base.mark_text(align="left", dx=10, color=SOFT).encode(
        x=alt.value(WIDE), y=down, text="values:N"
    )
    return finish(alt.layer(span, within, *marks, values), headline, below)


def _placed(row: Row) -> Row:
    """Return where a row's values lie in the range searched [percent]."""
    low, span = row["low"], row["high"] - row["low"]

    def place(value: float | None) -> float | None:
        return None if value is None else 100.0 * (value - low) / span

    unit = f" {unit_told(row['unit'])}".rstrip()
    return {
        "name": f"{row['of']}: {called(row['parameter'])}",
        "start": 0.0,
        "stop": 100.0,
        "default": place(row["default"]),
        "fitted": place(row["fitted"]),
        "low_end": place(row["interval_low"]),
        "high_end": place(row["interval_high"]),
        "values": f"{row['default']:.3g} → {row['fitted']:.3g}{unit}",
    }
