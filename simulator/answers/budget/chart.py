"""Budgets as a chart: plans item by item and what they make, all plans by cost and chance."""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator import units
from simulator.answers.budget.calculate import BASIS, Standing
from simulator.answers.budget.table import Shown, an_area, beside, describe, money
from simulator.answers.shared.fields import FIELD_BARS
from simulator.show import wording
from simulator.show.charts import (
    COLOURS,
    INK,
    SOFT,
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
    subject,
)

# width and height of the panels [px]
ITEMS, MADE, PLANS = (210, 320), (150, 320), (280, 320)
BROAD = 900  # to which titles are broken above three panels [px]
# of stacked items, light beside dark; those on which figures are written in ink
SHADES = (
    COLOURS[0],
    COLOURS[4],
    COLOURS[3],
    COLOURS[2],
    COLOURS[5],
    "#d8e6e7",
    COLOURS[1],
    "#f3e2ac",
    "#5b5b5b",
    "#e3c1da",
)
PALE = {1, 3, 5, 7, 9}


def headline(
    shown: Shown, system: units.System, about: dict[str, Any]
) -> tuple[list[str], list[str]]:
    """Return the title of the chart and the lines below it."""
    target = units.spell(shown.target, "mass", system)
    percent = f"a chance of {100 * shown.wanted:.0f} percent"
    best = shown.best or shown.nearest
    cost = f"{money(best.budget.total, shown.sign)} {an_area(system)}"
    title = f"{cost} is the least for {target} with {percent}"
    if shown.best is None:
        title = (
            f"None of {len(shown.plans)} plans makes {target} with {percent}; nearest is "
            f"{best.percent} percent for {cost}"
        )
    falls = len(best.biomass)
    drawn = f"Thick bars: {ranged(falls)}. {FIELD_BARS} Ticks: share of falls at target."
    first = shown.pair[0].plan
    plans = [
        f"{shown.called(name)}: {beside(p.plan, first, system)}" for name, p in shown.named.items()
    ]
    return [title], [drawn, *plans, f"{subject(about)} Prices: {shown.whose}."]


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

    panels = alt.hconcat(
        items(shown, system, axes=axes),
        made(shown, system, axes=axes),
        plans(shown, system, axes=axes),
        spacing=24,
    )
    return finish(
        panels.resolve_scale(color="independent", shape="independent"),
        *headline(shown, system, about),
        width=BROAD,
    )


def items(
    shown: Shown, system: units.System, *, size: tuple[int, int] = ITEMS, axes: Axes | None = None
) -> Chart:
    """Draw the plans' budgets item by item, the larger ones told in figures."""
    import altair as alt

    names = list(
        dict.fromkeys(item.name for plan in shown.named.values() for item in plan.budget.items)
    )
    rows = item_rows(shown, names, system)
    shades = alt.Scale(domain=names, range=[SHADES[i % len(SHADES)] for i in range(len(names))])
    base = alt.Chart(data(rows), width=size[0], height=size[1]).encode(x=_by_plan(shown))
    title = f"cost ({shown.sign}/{BASIS[system][0]})"
    fixed = scale(axes, "item_cost", zero=True)
    bars = base.mark_bar(stroke="white", strokeWidth=1.5).encode(
        y=alt.Y("cost:Q", title=title, stack="zero", scale=fixed),
        order=alt.Order("order:O"),
        tooltip=["told:N"],
        color=alt.Color(
            "item:N",
            title=None,
            sort=names,
            scale=shades,
            legend=alt.Legend(columns=2, symbolStrokeWidth=0),
        ),
    )
    figures = base.mark_text().encode(
        y=alt.Y("middle:Q", title=title, scale=fixed),
        text="figure:N",
        color=alt.Color("ink:N", scale=None, legend=None),
    )
    return alt.layer(bars, figures).resolve_scale(color="independent")


def item_rows(shown: Shown, names: list[str], system: units.System) -> list[Row]:
    """Return a row for each item of each plan; payments stand below nothing."""
    rows: list[Row] = []
    highest = max(
        float(sum(abs(item.cost) for item in plan.budget.items)) for plan in shown.named.values()
    )
    for name, plan in shown.named.items():
        so_far = {True: 0.0, False: 0.0}
        for item in plan.budget.items:
            cost = float(item.cost)
            shade = names.index(item.name)
            rows.append(
                {
                    "plan": name,
                    "item": item.name,
                    "cost": cost,
                    "order": shade,
                    "middle": so_far[cost < 0] + cost / 2,
                    "ink": INK if shade % len(SHADES) in PALE else "white",
                    "figure": money(item.cost, shown.sign) if abs(cost) >= 0.055 * highest else "",
                    "told": f"{describe(plan.plan, system)}: {item.name} "
                    f"{money(item.cost, shown.sign)}",
                }
            )
            so_far[cost < 0] += cost
    return rows


def _by_plan(shown: Shown) -> Any:
    import altair as alt

    axis = alt.Axis(labelAngle=0, grid=False, labelOverlap=False)
    return alt.X("plan:N", title="plan", sort=list(shown.named), axis=axis)


def made(
    shown: Shown, system: units.System, *, size: tuple[int, int] = MADE, axes: Axes | None = None
) -> Chart:
    """Draw what each plan makes: the mean, both ranges, and the target as a dashed line."""
    import altair as alt

    def mass(value: float) -> float | None:
        return float(units.show(value, "mass", system)) if np.isfinite(value) else None

    rows: list[Row] = [
        {
            "plan": name,
            "biomass": mass(p.mean),
            "low": mass(p.ranges.weather_low),
            "high": mass(p.ranges.weather_high),
            "field_low": mass(p.ranges.low),
            "field_high": mass(p.ranges.high),
        }
        for name, p in shown.named.items()
    ]
    title = axis_title("biomass", "biomass", system)
    fixed = scale(axes, "biomass", zero=True)

    def up(field: str) -> Any:
        return alt.Y(f"{field}:Q", title=title, scale=fixed)

    base = alt.Chart(data(rows), width=size[0], height=size[1]).encode(x=_by_plan(shown))
    thin = base.mark_rule(color=COLOURS[0], strokeWidth=1.2, opacity=0.7).encode(
        y=up("field_low"), y2="field_high:Q"
    )
    thick = base.mark_bar(color=COLOURS[0], size=12, opacity=0.4, cornerRadius=3).encode(
        y=up("low"), y2="high:Q"
    )
    means = base.mark_point(color=COLOURS[0], filled=True, size=85, opacity=1.0).encode(
        y=up("biomass")
    )
    goal = alt.Chart(data([{"biomass": mass(shown.target)}]))
    line = goal.mark_rule(color=SOFT, strokeDash=[5, 4]).encode(y=up("biomass"))
    return alt.layer(line, thin, thick, means)


def plans(
    shown: Shown, system: units.System, *, size: tuple[int, int] = PLANS, axes: Axes | None = None
) -> Chart:
    """Draw every plan's chance of the target against its cost, and the best for each cost."""
    import altair as alt

    def row(standing: Standing, **more: Any) -> Row:
        return {
            "cost": float(standing.budget.total),
            "chance": 100 * standing.chance,
            "falls": 100 * standing.share,
            **more,
        }

    rows = [
        row(s, sown=wording.dates_in(s.plan.sow), told=describe(s.plan, system))
        for s in shown.plans
    ]
    x = alt.X(
        "cost:Q",
        title=f"cost ({shown.sign}/{BASIS[system][0]})",
        scale=scale(axes, "cost", zero=False, padding=14),
    )
    fixed, title = scale(axes, "chance", domain=[0, 100]), "chance of the target (%)"

    def up(field: str) -> Any:
        return alt.Y(f"{field}:Q", title=title, scale=fixed)

    encodings = distinguish(
        "sown",
        list(dict.fromkeys(one["sown"] for one in rows)),
        title="sown",
        shapes=True,
        columns=2,
    )
    wanted = alt.Chart(data([{"chance": 100 * shown.wanted}]))
    line = wanted.mark_rule(color=SOFT, strokeDash=[5, 4]).encode(y=up("chance"))
    frontier = alt.Chart(data([row(s) for s in shown.frontier]))
    steps = frontier.mark_line(color=SOFT, interpolate="step-after").encode(x=x, y=up("chance"))
    ticks = frontier.mark_tick(color=INK, width=13, thickness=2, orient="horizontal").encode(
        x=x, y=up("falls")
    )
    dots = (
        alt.Chart(data(rows), width=size[0], height=size[1])
        .mark_point(filled=True, size=75, opacity=0.95)
        .encode(x=x, y=up("chance"), tooltip=["told:N", "cost:Q", "chance:Q"], **encodings)
    )
    named = [row(p, plan=shown.called(name)) for name, p in shown.named.items()]
    told = [  # the pair below its dots, the winning plan above, so that none hides another
        mark
        for below, rise in ((True, 15), (False, -14))
        for mark in haloed(
            alt.Chart(data([one for one in named if (one["plan"][0] in "AB") == below])).encode(
                x=x, y=up("chance"), text="plan:N"
            ),
            dy=rise,
            fontWeight="bold",
        )
    ]
    return alt.layer(line, steps, ticks, dots, *told)
