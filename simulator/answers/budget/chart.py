"""Budgets as a chart: plans item by item and what they make, all plans by cost and chance."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.budget.calculate import BASIS, Standing
from simulator.answers.budget.table import Shown, an_area, beside, describe, money
from simulator.show import wording
from simulator.show.charts import (
    INK,
    SHAPES,
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

ACROSS, GAP = 660, 18  # width of the panels together, and between those of plans [px]
ROW, STEP = 26, 30  # height of an item and of a plan [px]
PLANS = (660, 300)  # width and height of the panel of all plans [px]
NAMES = 0.24  # of the range of costs, the room for names beside the dearest plan
CLOSE = 12.0  # percent, within which a name runs into the line of the chance that is wanted
FIGURE = 66  # what the largest figure takes beside its bar [px]
TOTAL, UNFED = "total", "no nitrogen"
WINNING, OTHER = INK, "#a3a9b0"  # bars of the plan that wins, and of the others


def headline(
    shown: Shown, system: units.System, about: dict[str, Any]
) -> tuple[list[str], list[str]]:
    """Return the title of the chart and the lines below it."""
    target = units.spell(shown.target, "biomass", system)
    percent = f"a chance of {100 * shown.wanted:.0f} percent"
    best = shown.best or shown.nearest
    cost = f"{money(best.budget.total, shown.sign)} {an_area(system)}"
    title = f"{cost} is the least for {target} with {percent}"
    if shown.best is None:
        title = (
            f"None of {len(shown.plans)} plans makes {target} with {percent}; nearest is "
            f"{best.percent} percent for {cost}"
        )
    first = shown.pair[0].plan
    plans = [
        f"{shown.called(name)}: {beside(p.plan, first, system)}" for name, p in shown.named.items()
    ]
    return [title], [*plans, f"{subject(about)} Prices: {shown.whose}."]


def chart(
    shown: Shown, system: units.System, about: dict[str, Any], *, axes: Axes | None = None
) -> Chart:
    """Draw budgets as stacked bars, biomass beside them, and every plan's chance by its cost.

    Parameters
    ----------
    shown : Shown
    system : {"us", "si"}
    about : dict
        Where it is and what grows there.
    axes : mapping, optional
        Domains of ``item_cost``, ``biomass``, ``cost`` and ``chance``.

    Returns
    -------
    Chart
    """
    import altair as alt

    panels = alt.vconcat(
        items(shown, system, axes=axes),
        made(shown, system, axes=axes),
        plans(shown, system, axes=axes),
        spacing=26,
        resolve=scales_apart("color", "shape"),
    )
    return finish(panels, *headline(shown, system, about))


def items(
    shown: Shown, system: units.System, *, width: int = ACROSS, axes: Axes | None = None
) -> Chart:
    """Draw the plans' budgets item by item, a panel a plan, each cost told; the winner is dark."""
    import altair as alt

    rows = item_rows(shown, system)
    plans = list(dict.fromkeys(row["plan"] for row in rows))
    names = list(dict.fromkeys(row["item"] for row in rows if row["item"] != TOTAL))
    wide = (width - GAP * (len(plans) - 1)) // len(plans)
    ends = [row["cost"] for row in rows]
    highest, lowest = max(0.0, *ends), min(0.0, *ends)
    beyond = (highest - lowest) * FIGURE / max(wide - FIGURE, 1)
    fixed = scale(axes, "item_cost", domain=[lowest, highest + beyond], nice=False)
    title = f"cost ({shown.sign}/{BASIS[system][0]})"

    def panel(plan: str, *, first: bool) -> Any:
        own = [row for row in rows if row["plan"] == plan]
        y = alt.Y(
            "item:N",
            title=None,
            sort=[*names, TOTAL],
            axis={"labels": first, "ticks": False, "domain": False, "grid": False},
        )
        base = alt.Chart(data(own), width=wide, height=alt.Step(ROW), title=plan).encode(y=y)
        x = alt.X("cost:Q", title=title, scale=fixed, axis={"tickCount": 3})
        bars = base.mark_bar(color=WINNING if own[0]["wins"] else OTHER).encode(
            x=x, tooltip=["told:N"]
        )
        figures = base.mark_text(align="left", dx=4).encode(
            x=alt.X("right:Q", title=title, scale=fixed), text="figure:N"
        )
        return alt.layer(bars, figures)

    return alt.hconcat(*(panel(plan, first=not at) for at, plan in enumerate(plans)), spacing=GAP)


def item_rows(shown: Shown, system: units.System) -> list[Row]:
    """Return a row for each item of each plan, and its total last; payments lie below nothing."""
    winning = (shown.best or shown.nearest).plan
    names = dict.fromkeys(i.name for plan in shown.named.values() for i in plan.budget.items)
    return [
        {
            "plan": shown.called(name),
            "wins": plan.plan == winning,
            "item": item,
            "cost": float(cost),
            "right": max(float(cost), 0.0),
            "figure": money(cost, shown.sign),
            "told": f"{describe(plan.plan, system)}: {item} {money(cost, shown.sign)}",
        }
        for name, plan in shown.named.items()
        for item, cost in (
            *((one, plan.budget.cost_of(one)) for one in names if plan.budget.cost_of(one)),
            (TOTAL, plan.budget.total),
        )
    ]


def made(
    shown: Shown, system: units.System, *, width: int = ACROSS, axes: Axes | None = None
) -> Chart:
    """Draw what each plan makes: the mean, both ranges, and the target as a dashed line."""
    import altair as alt

    def mass(value: float) -> float | None:
        return float(units.show(value, "mass", system)) if np.isfinite(value) else None

    rows: list[Row] = [
        {
            "plan": shown.called(name),
            "biomass": mass(p.mean),
            "low": mass(p.ranges.weather_low),
            "high": mass(p.ranges.weather_high),
            "field_low": mass(p.ranges.low),
            "field_high": mass(p.ranges.high),
        }
        for name, p in shown.named.items()
    ]
    title = axis_title("biomass", "biomass", system)
    fixed = scale(axes, "biomass", zero=True, nice=True)

    def across(field: str) -> Any:
        return alt.X(f"{field}:Q", title=title, scale=fixed)

    falls = ranged(len(shown.pair[0].biomass))
    heading = _explained(
        "What they make", f"thick: {falls}; thin: in a field like these; dashed: the target"
    )
    base = alt.Chart(data(rows), width=width, height=alt.Step(STEP), title=heading).encode(
        y=alt.Y(
            "plan:N",
            title=None,
            sort=[row["plan"] for row in rows],
            axis={"ticks": False, "grid": False},
        )
    )
    thin = base.mark_rule(color=INK, strokeWidth=1.2).encode(
        x=across("field_low"), x2="field_high:Q"
    )
    thick = base.mark_bar(color=INK, size=10, opacity=0.35, cornerRadius=3).encode(
        x=across("low"), x2="high:Q"
    )
    means = base.mark_point(color=INK, filled=True, size=85, opacity=1.0).encode(
        x=across("biomass")
    )
    goal = alt.Chart(data([{"biomass": mass(shown.target)}]))
    line = goal.mark_rule(color=INK, strokeDash=[5, 4]).encode(x=across("biomass"))
    return alt.layer(line, thin, thick, means)


def _explained(title: str, *below: str) -> Any:
    """Return the title of a panel, and below it what its marks are."""
    import altair as alt

    return alt.TitleParams(
        title, subtitle=list(below), subtitleFontSize=TEXT, subtitleColor=INK, subtitlePadding=4
    )


def plans(
    shown: Shown, system: units.System, *, size: tuple[int, int] = PLANS, axes: Axes | None = None
) -> Chart:
    """Draw every plan's chance of the target against its cost, and the best for each cost."""
    import altair as alt

    rows = [
        _standing(
            s,
            sown=wording.dates_in(s.plan.sow),
            nitrogen=_fed(s),
            told=describe(s.plan, system),
        )
        for s in shown.plans
    ]
    costs = [one["cost"] for one in rows]
    span = max(costs) - min(costs) or 1.0  # at the right it leaves room for names
    reach = [min(costs) - 0.04 * span, max(costs) + NAMES * span]
    x = alt.X(
        "cost:Q",
        title=f"cost ({shown.sign}/{BASIS[system][0]})",
        scale=scale(axes, "cost", zero=False, nice=False, domain=reach),
    )
    fixed, title = scale(axes, "chance", domain=[0, 100]), "chance of the target (%)"

    def up(field: str) -> Any:
        return alt.Y(f"{field}:Q", title=title, scale=fixed)

    wanted = alt.Chart(data([{"chance": 100 * shown.wanted}]))
    line = wanted.mark_rule(color=INK, strokeDash=[5, 4]).encode(y=up("chance"))
    frontier = alt.Chart(data([_standing(s) for s in shown.frontier]))
    steps = frontier.mark_line(color=SOFT, interpolate="step-after").encode(x=x, y=up("chance"))
    dots = _dots(rows, x, up("chance"), size)
    winning = (shown.best or shown.nearest).plan
    named = [
        _standing(p, plan=f"{shown.called(name)}: {p.percent} %", wins=p.plan == winning)
        for name, p in shown.named.items()
    ]
    near = abs(100 * shown.wanted - 100 * (shown.best or shown.nearest).chance) < CLOSE
    names = [  # of the winning plan above the stair, unless the dashed line is there
        mark
        for wins, rise in ((False, 0), (True, 13 if near else -13))
        for mark in haloed(
            alt.Chart(data([one for one in named if one["wins"] == wins])).encode(
                x=x, y=up("chance"), text="plan:N"
            ),
            dx=11,
            dy=rise,
            align="left",
            fontWeight="bold",
        )
    ]
    return alt.layer(line, steps, *_alone(named, x, up), dots, *names)


def _dots(rows: Sequence[Row], x: Any, y: Any, size: tuple[int, int]) -> Chart:
    """Draw a point a plan: its colour is the sowing, its shape the time of its nitrogen."""
    import altair as alt

    sowings = list(dict.fromkeys(one["sown"] for one in rows))
    times = sorted(dict.fromkeys(one["nitrogen"] for one in rows), key=lambda one: one != UNFED)
    shapes = [SHAPES[i % len(SHAPES)] for i in range(len(times))]
    legend = {"title": None, "columns": 1, "symbolFillColor": SOFT, "symbolStrokeWidth": 0}
    heading = _explained(
        "All plans",
        "Stair: the highest chance for the money. Dashed: the chance that is wanted.",
        "Tick: the share of falls that reach the target, the weather's alone, of named plans.",
    )
    return (
        alt.Chart(data(rows), width=size[0], height=size[1], title=heading)
        .mark_point(filled=True, size=95, opacity=0.95)
        .encode(
            x=x,
            y=y,
            tooltip=["told:N", "cost:Q", "chance:Q"],
            shape=alt.Shape(
                "nitrogen:N",
                scale={"domain": times, "range": shapes},
                legend=legend if len(times) > 1 else None,
            ),
            **distinguish("sown", sowings, title="sown", columns=4),
        )
    )


def _fed(standing: Standing) -> str:
    """Say when a plan's nitrogen goes on."""
    return f"nitrogen {wording.timing(standing.plan.timing)}" if standing.plan.nitrogen else UNFED


def _standing(standing: Standing, **more: Any) -> Row:
    return {
        "cost": float(standing.budget.total),
        "chance": 100 * standing.chance,
        "falls": 100 * standing.share,
        **more,
    }


def _alone(named: Sequence[Row], x: Any, up: Any) -> tuple[Chart, ...]:
    """Draw from each named plan's chance to its share of falls."""
    import altair as alt

    base = alt.Chart(data(named)).encode(x=x)
    return (
        base.mark_rule(color=INK, strokeWidth=1.2).encode(y=up("chance"), y2="falls:Q"),
        base.mark_tick(color=INK, width=15, thickness=2.5, orient="horizontal").encode(
            y=up("falls")
        ),
    )
