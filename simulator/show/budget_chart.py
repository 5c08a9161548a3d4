"""Budgets as a chart: two plans item by item, and all plans by cost and chance."""

from __future__ import annotations

from typing import Any

from simulator import units
from simulator.advice import wording
from simulator.advice.budget import BASIS
from simulator.show.budget import Shown, an_area, describe, money
from simulator.show.charts import COLOURS, SHAPES, SOFT, finish


def headline(
    shown: Shown, system: units.System, about: dict[str, Any]
) -> tuple[list[str], list[str]]:
    """Return the title of the chart and the lines below it."""
    target = units.spell(shown.target, "mass", system)
    percent = f"{100 * shown.wanted:.0f} of 100 falls"
    title = f"No plan of {len(shown.plans)} reaches {target} in {percent}"
    if shown.best is not None:
        cost = money(shown.best.budget.total, shown.sign)
        title = f"{cost} {an_area(system)} reaches {target} in {percent}"
    invented = ", an invented place" if about.get("invented") == "yes" else ""
    place = f"{str(about['cereal']).capitalize()} on {about['soil']} at {about['site']}{invented}"
    prices = f"Prices: {shown.prices.label}, of {shown.prices.date}"
    plans = [
        f"{name}: {describe(plan.plan, system)}"
        for name, plan in zip("AB", shown.pair, strict=True)
    ]
    return [title], [f"{place}. {prices}", *plans]


def chart(shown: Shown, system: units.System, about: dict[str, Any]) -> Any:
    """Draw the two budgets as stacked bars, and every plan's chance against its cost."""
    import altair as alt

    panels = alt.hconcat(_items(shown, system), _plans(shown, system), spacing=42)
    return finish(
        panels.resolve_scale(color="independent", shape="independent"),
        *headline(shown, system, about),
    )


def _items(shown: Shown, system: units.System) -> Any:
    import altair as alt

    rows = [
        {"plan": name, "item": item.name, "cost": float(item.cost), "order": place,
         "told": f"{describe(plan.plan, system)}: {item.name} {money(item.cost, shown.sign)}"}
        for name, plan in zip("AB", shown.pair, strict=True)
        for place, item in enumerate(plan.budget.items)
    ]  # fmt: skip
    names = list(dict.fromkeys(str(row["item"]) for row in rows))
    colours = [*COLOURS, "#a7c4e0", "#f0b08a", "#b9d8d3", "#c9a3b5"]
    scale = alt.Scale(domain=names, range=[colours[i % len(colours)] for i in range(len(names))])
    base = alt.Chart(alt.InlineData(values=rows), width=150, height=300)
    return base.mark_bar().encode(
        x=alt.X("plan:N", title="plan", axis=alt.Axis(labelAngle=0)),
        y=alt.Y("cost:Q", title=f"cost ({shown.sign}/{BASIS[system][0]})", stack="zero"),
        order=alt.Order("order:O"), tooltip=["told:N"],
        color=alt.Color("item:N", title=None, sort=names, scale=scale,
                        legend=alt.Legend(columns=2)),
    )  # fmt: skip


def _plans(shown: Shown, system: units.System) -> Any:
    import altair as alt

    rows = [
        {"sown": wording.dates_in(s.plan.sow), "cost": float(s.budget.total),
         "chance": 100 * s.share, "low": 100 * s.interval[0], "high": 100 * s.interval[1],
         "told": describe(s.plan, system)}
        for s in shown.plans
    ]  # fmt: skip
    kept = [
        {"cost": float(s.budget.total), "chance": 100 * s.share, "low": 100 * s.interval[0],
         "high": 100 * s.interval[1]}
        for s in shown.frontier
    ]  # fmt: skip
    sowings = list(dict.fromkeys(str(row["sown"]) for row in rows))
    x = alt.X("cost:Q", title=f"cost ({shown.sign}/{BASIS[system][0]})",
              scale=alt.Scale(zero=False, padding=12))  # fmt: skip
    y = alt.Y("chance:Q", title="falls that reach the target (%)", scale=alt.Scale(domain=[0, 100]))
    colours = [COLOURS[i % len(COLOURS)] for i in range(len(sowings))]
    colour = alt.Color("sown:N", title="sown", sort=sowings,
                       scale=alt.Scale(domain=sowings, range=colours))  # fmt: skip
    shape = alt.Shape("sown:N", title="sown", sort=sowings, scale=alt.Scale(
        domain=sowings, range=[SHAPES[i % len(SHAPES)] for i in range(len(sowings))]))  # fmt: skip
    wanted = alt.InlineData(values=[{"chance": 100 * shown.wanted}])
    line = alt.Chart(wanted).mark_rule(color=SOFT, strokeDash=[5, 4]).encode(y=y)
    frontier = alt.Chart(alt.InlineData(values=kept))
    steps = frontier.mark_line(color=SOFT, interpolate="step-after").encode(x=x, y=y)
    bars = frontier.mark_rule(color=SOFT, opacity=0.6).encode(x=x, y=alt.Y("low:Q"), y2="high:Q")
    base = alt.Chart(alt.InlineData(values=rows), width=400, height=300)
    dots = base.mark_point(filled=True, size=70, opacity=0.9).encode(
        x=x, y=y, color=colour, shape=shape, tooltip=["told:N", "cost:Q", "chance:Q"]
    )
    return alt.layer(line, bars, steps, dots)
