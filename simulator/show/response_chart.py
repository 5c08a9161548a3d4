"""The response to nitrogen as a chart: by sowing, by timing and kind of year, where it ended."""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator import units
from simulator.advice import wording
from simulator.advice.nitrogen_response import ALL, FATES, spoken_rate
from simulator.show.charts import COLOURS, SHAPES, axis_title, finish
from simulator.show.response import FATE_TITLES, Shown
from simulator.show.response_sentences import unit_word

FATE_COLOURS = (
    "#5fa59b", "#12355b", "#dfe2e5", "#d8671c", "#e2b33b", "#f0d9b5", "#5b5b5b", "#8a2b5c",
)  # fmt: skip


def headline(shown: Shown, system: units.System) -> tuple[list[str], list[str]]:
    """Return the title of the chart and the lines below it."""
    about = shown.part.attrs
    invented = ", an invented place" if about.get("invented") == "yes" else ""
    rate = units.spell(spoken_rate(shown.part), "nitrogen", system)
    title = (
        f"Each {unit_word(system)} of nitrogen up to {rate} brings {shown.first.slope:.0f} of "
        f"biomass, sown {wording.dates_in(shown.first.sow)}"
    )
    below = (
        f"{str(about['cereal']).capitalize()} on {about['soil']} at {about['site']}{invented}; "
        f"means over {shown.first.falls} falls, bars hold 8 of 10"
    )
    return [title], [below]


def chart(shown: Shown, system: units.System) -> Any:
    """Draw biomass against nitrogen by sowing, gains by timing and kind, and where N ended."""
    import altair as alt

    lines = alt.hconcat(
        _response_panel(shown, system), _timing_panel(shown, system), spacing=42
    ).resolve_scale(color="independent", shape="independent")
    return finish(alt.vconcat(lines, _fate_panel(shown), spacing=30).resolve_scale(
        color="independent", shape="independent"), *headline(shown, system))  # fmt: skip


def _data(rows: list[dict[str, Any]]) -> Any:
    import altair as alt

    return alt.InlineData(values=rows)


def _response_panel(shown: Shown, system: units.System) -> Any:
    import altair as alt

    def mass(value: float) -> float:
        return float(units.show(value, "mass", system))

    points, lines = [], []
    shown_now = shown.of(timing=shown.timings[0], kind=ALL)
    sowings = [wording.dates_in(r.sow) for r in shown_now]
    for r, sown in zip(shown_now, sowings, strict=True):
        if not r.falls:
            continue
        falls = shown.part["biomass_kg_ha"].sel(sow=r.sow, nitrogen_timing=r.timing).values
        low, high = np.nanpercentile(falls, [10, 90], axis=0)
        points += [{"sown": sown, "nitrogen": mass(x), "biomass": mass(y), "low": mass(lo),
                    "high": mass(hi)}
                   for x, y, lo, hi in zip(r.rates, r.means, low, high, strict=True)]  # fmt: skip
        if r.choice.curve is not None:
            lines += [{"sown": sown, "nitrogen": mass(x), "biomass": mass(r.choice.curve.at(x))}
                      for x in np.linspace(r.rates[0], r.rates[-1], 60).tolist()]  # fmt: skip
    colour = alt.Color(
        "sown:N",
        title="sown",
        sort=sowings,
        scale=alt.Scale(
            domain=sowings, range=[COLOURS[i % len(COLOURS)] for i in range(len(sowings))]
        ),
    )
    shape = alt.Shape("sown:N", title="sown", sort=sowings, scale=alt.Scale(
        domain=sowings, range=[SHAPES[i % len(SHAPES)] for i in range(len(sowings))]))  # fmt: skip
    x = alt.X("nitrogen:Q", title=axis_title(
        f"nitrogen {wording.timing(shown.timings[0])}", "nitrogen", system))  # fmt: skip
    y = alt.Y("biomass:Q", title=axis_title("biomass", "mass", system), scale=alt.Scale(zero=True))
    base = alt.Chart(_data(points), width=340, height=300)
    curve = alt.Chart(_data(lines)).mark_line(strokeWidth=2).encode(x=x, y=y, color=colour)
    bars = base.mark_rule(opacity=0.3).encode(x=x, y=alt.Y("low:Q"), y2="high:Q", color=colour)
    dots = base.mark_point(filled=True, size=60, opacity=0.95).encode(
        x=x, y=y, color=colour, shape=shape)  # fmt: skip
    return alt.layer(bars, curve, dots)


def _timing_panel(shown: Shown, system: units.System) -> Any:
    import altair as alt

    rows = [
        {"kind": r.kind, "timing": wording.timing(r.timing),
         "gained": float(units.show(float(np.mean(r.gained)), "mass", system))}
        for r in shown.of(sow=shown.first.sow) if r.falls
    ]  # fmt: skip
    when = [wording.timing(timing) for timing in shown.timings]
    kinds = list(dict.fromkeys(r.kind for r in shown.responses))
    title = axis_title(f"gained, sown {wording.dates_in(shown.first.sow)}", "mass", system)
    return alt.Chart(_data(rows), width=300, height=300).mark_bar().encode(
        x=alt.X("kind:N", title="kind of year", sort=kinds, axis=alt.Axis(labelAngle=0)),
        xOffset=alt.XOffset("timing:N", sort=when),
        y=alt.Y("gained:Q", title=title),
        color=alt.Color("timing:N", title="nitrogen", sort=when, scale=alt.Scale(
            domain=when, range=[COLOURS[i % len(COLOURS)] for i in range(len(when))]),
            legend=alt.Legend(columns=1)),
    )  # fmt: skip


def _fate_panel(shown: Shown) -> Any:
    import altair as alt

    words = {fate: title.replace("-\n", "").replace("\n", " ")
             for fate, title in FATE_TITLES.items()}  # fmt: skip
    rows = [
        {"plan": f"{wording.dates_in(r.sow)}, {wording.timing(r.timing)}", "where": words[fate],
         "percent": 100 * r.share(fate), "order": place}
        for r in shown.of(kind=ALL) if r.falls and r.applied
        for place, fate in enumerate(FATES)
    ]  # fmt: skip
    order = [str(row["plan"]) for row in rows[:: len(FATES)]]
    return alt.Chart(_data(rows), width=560, height={"step": 19}).mark_bar().encode(
        y=alt.Y("plan:N", title=None, sort=order, axis=alt.Axis(labelLimit=260)),
        x=alt.X("percent:Q", title="where the applied nitrogen ended (%)", stack="zero",
                scale=alt.Scale(nice=False)),
        order=alt.Order("order:O"),
        color=alt.Color("where:N", title=None, sort=list(words.values()), scale=alt.Scale(
            domain=list(words.values()), range=list(FATE_COLOURS)), legend=alt.Legend(columns=8)),
    )  # fmt: skip
