"""Budgets as a chart: two plans item by item, and all plans by cost and chance."""

from __future__ import annotations

from typing import Any

from simulator import units
from simulator.answers.budget.calculate import BASIS
from simulator.answers.budget.table import Shown, an_area, describe, money
from simulator.show import wording
from simulator.show.charts import (
    COLOURS,
    INK,
    SOFT,
    Axes,
    Chart,
    Row,
    data,
    distinguish,
    finish,
    scale,
    subject,
)

ITEMS, PLANS = (190, 320), (390, 320)  # width and height of the panels [px]
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
    percent = f"{100 * shown.wanted:.0f} of 100 falls"
    often = "" if shown.wanted >= 1.0 else " or more"
    title, least = f"No plan of {len(shown.plans)} reaches {target} in {percent}", []
    if shown.best is not None:
        least = [f"The least: {describe(shown.best.plan, system)}"]
        cost = money(shown.best.budget.total, shown.sign)
        title = f"{cost} {an_area(system)} is the least for {target} in {percent}{often}"
    prices = f"Prices: {shown.prices.label}, of {shown.prices.date}."
    plans = [
        f"{name}: {describe(plan.plan, system)}"
        for name, plan in zip("AB", shown.pair, strict=True)
    ]
    return [title], [f"{subject(about)} {prices}", *least, *plans, f"Dashed: {percent}."]


def chart(
    shown: Shown, system: units.System, about: dict[str, Any], *, axes: Axes | None = None
) -> Chart:
    """Draw the two budgets as stacked bars, and every plan's chance against its cost.

    Parameters
    ----------
    shown : Shown
    system : {"us", "si"}
    about : dict
        Where it is and what grows there.
    axes : mapping, optional
        Domains of ``item_cost``, ``cost`` and ``chance``.

    Returns
    -------
    Chart
    """
    import altair as alt

    panels = alt.hconcat(
        items(shown, system, axes=axes), plans(shown, system, axes=axes), spacing=34
    )
    return finish(
        panels.resolve_scale(color="independent", shape="independent"),
        *headline(shown, system, about),
    )


def items(
    shown: Shown, system: units.System, *, size: tuple[int, int] = ITEMS, axes: Axes | None = None
) -> Chart:
    """Draw the two budgets item by item, the larger ones told in figures."""
    import altair as alt

    rows: list[Row] = []
    names = list(dict.fromkeys(item.name for plan in shown.pair for item in plan.budget.items))
    top = max(float(plan.budget.total) for plan in shown.pair)
    for letter, plan in zip("AB", shown.pair, strict=True):
        so_far = 0.0
        for item in plan.budget.items:
            cost = float(item.cost)
            shade = names.index(item.name)
            rows.append(
                {
                    "plan": letter,
                    "item": item.name,
                    "cost": cost,
                    "order": shade,
                    "middle": so_far + cost / 2,
                    "ink": INK if shade % len(SHADES) in PALE else "white",
                    "figure": money(item.cost, shown.sign) if cost >= 0.055 * top else "",
                    "told": f"{describe(plan.plan, system)}: {item.name} "
                    f"{money(item.cost, shown.sign)}",
                }
            )
            so_far += cost
    ranged = alt.Scale(domain=names, range=[SHADES[i % len(SHADES)] for i in range(len(names))])
    base = alt.Chart(data(rows), width=size[0], height=size[1]).encode(
        x=alt.X("plan:N", title="plan", axis=alt.Axis(labelAngle=0, grid=False))
    )
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
            scale=ranged,
            legend=alt.Legend(columns=2, symbolStrokeWidth=0),
        ),
    )
    figures = base.mark_text().encode(
        y=alt.Y("middle:Q", title=title, scale=fixed),
        text="figure:N",
        color=alt.Color("ink:N", scale=None, legend=None),
    )
    return alt.layer(bars, figures).resolve_scale(color="independent")


def plans(
    shown: Shown, system: units.System, *, size: tuple[int, int] = PLANS, axes: Axes | None = None
) -> Chart:
    """Draw every plan's chance of the target against its cost, and the best for each cost."""
    import altair as alt

    rows: list[Row] = [
        {
            "sown": wording.dates_in(s.plan.sow),
            "cost": float(s.budget.total),
            "chance": 100 * s.share,
            "told": describe(s.plan, system),
        }
        for s in shown.plans
    ]
    kept = [
        {
            "cost": float(s.budget.total),
            "chance": 100 * s.share,
            "low": 100 * s.interval[0],
            "high": 100 * s.interval[1],
        }
        for s in shown.frontier
    ]
    x = alt.X(
        "cost:Q",
        title=f"cost ({shown.sign}/{BASIS[system][0]})",
        scale=scale(axes, "cost", zero=False, padding=14),
    )
    fixed = scale(axes, "chance", domain=[0, 100])
    y = alt.Y("chance:Q", title="falls that reach the target (%)", scale=fixed)
    encodings = distinguish(
        "sown",
        list(dict.fromkeys(row["sown"] for row in rows)),
        title="sown",
        shapes=True,
        columns=4,
    )
    wanted = alt.Chart(data([{"chance": 100 * shown.wanted}]))
    line = wanted.mark_rule(color=SOFT, strokeDash=[5, 4]).encode(y=y)
    frontier = alt.Chart(data(kept))
    steps = frontier.mark_line(color=SOFT, interpolate="step-after").encode(x=x, y=y)
    bars = frontier.mark_rule(color=SOFT, opacity=0.6).encode(
        x=x, y=alt.Y("low:Q", title="falls that reach the target (%)", scale=fixed), y2="high:Q"
    )
    dots = (
        alt.Chart(data(rows), width=size[0], height=size[1])
        .mark_point(filled=True, size=85, opacity=0.95)
        .encode(x=x, y=y, tooltip=["told:N", "cost:Q", "chance:Q"], **encodings)
    )
    return alt.layer(line, bars, steps, dots)
