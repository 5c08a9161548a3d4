"""Observed against simulated: biomass, the misses by what was done, growth and responses."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import Any

from simulator import units
from simulator.answers.agree.contrasts import FEWEST_PAIRS
from simulator.show.charts import (
    COLOURS,
    SOFT,
    Axes,
    Chart,
    Row,
    axis_title,
    distinguish,
    finish,
    haloed,
    scale,
)

PANEL = 320  # width and height of a panel [px]
POINT = 8.5  # across a point [px]
# name on an axis, unit of the row, and what follows the reader's unit of mass
DIFFERENCES = {
    "gain": ("growth", "kg_ha_day", " a day"),
    "response": ("response to nitrogen", "kg_ha", ""),
}


def chart(
    rows: Sequence[Row],
    system: units.System,
    headline: Sequence[str],
    below: Sequence[str],
    *,
    band: Sequence[Row] = (),
    axes: Axes | None = None,
) -> Chart:
    """Draw observed against simulated biomass, and the misses by season, sowing and nitrogen.

    Below these stand growth between samplings and responses to nitrogen, where there are five.

    Parameters
    ----------
    rows : sequence of dict
        ``line, site, year, sown`` (ISO), ``nitrogen_kg_ha, observed_kg_ha, observed_sd_kg_ha``
        (None where not known), ``simulated_kg_ha``; where there are any,
        ``observed_gain_kg_ha_day, simulated_gain_kg_ha_day, observed_response_kg_ha,
        simulated_response_kg_ha``.
    system : {"us", "si"}
    headline, below : sequence of str
        As `finish` has them.
    band : sequence of dict
        ``simulated_kg_ha, field_low_kg_ha, field_high_kg_ha`` along simulated biomass.
    axes : mapping, optional
        Domains of ``biomass``, ``miss``, ``gain`` and ``response``.

    Returns
    -------
    Chart
    """
    import altair as alt

    drawn = [_shown(row, system) for row in rows]
    panels = (misses_by_season, misses_by_sowing, misses_by_nitrogen)
    laid = [
        observed_against_simulated(drawn, system, axes, band),
        *(panel(drawn, system, axes) for panel in panels),
    ]
    laid += [
        difference_observed_against_simulated(drawn, system, what, axes)
        for what in DIFFERENCES
        if sum(row[f"observed_{what}"] is not None for row in drawn) >= FEWEST_PAIRS
    ]
    return finish(alt.concat(*laid, columns=2, spacing=34), headline, below)


def _shown(row: Row, system: units.System) -> Row:
    """Return a row in the reader's units, with what panels plot."""

    def mass(value: float | None) -> float | None:
        return None if value is None else float(units.show(value, "mass", system))

    observed, simulated = mass(row["observed_kg_ha"]), mass(row["simulated_kg_ha"])
    sd = mass(row["observed_sd_kg_ha"])
    assert observed is not None
    assert simulated is not None
    month_day = row["sown"][5:].replace("02-29", "02-28")  # a season's calendar has no 29th
    return {
        "row": f"row {row['line']}",
        "site": row["site"],
        "season": f"{row['year']}-{(row['year'] + 1) % 100:02d}",
        "observed": observed,
        "simulated": simulated,
        "low": observed if sd is None else max(observed - sd, 0.0),
        "high": observed if sd is None else observed + sd,
        "miss": simulated - observed,
        # all sowings on one season's calendar, so that years lie above each other
        "sown": f"{2000 if month_day >= '07' else 2001}-{month_day}T00:00:00",
        "nitrogen": float(units.show(row["nitrogen_kg_ha"], "nitrogen", system)),
        **{
            f"{which}_{what}": mass(row.get(f"{which}_{what}_{unit}"))
            for what, (_, unit, _) in DIFFERENCES.items()
            for which in ("observed", "simulated")
        },
    }


def _by_site(rows: Sequence[Row]) -> dict[str, Any]:
    return distinguish(
        "site", list(dict.fromkeys(row["site"] for row in rows)), shapes=True, columns=5
    )


def _points(chart: Any) -> Any:
    return chart.mark_point(filled=True, size=62, opacity=0.8, stroke="white", strokeWidth=0.6)


def observed_against_simulated(
    rows: Sequence[Row],
    system: units.System,
    axes: Axes | None = None,
    band: Sequence[Row] = (),
) -> Chart:
    """Draw the 1:1 line, a point a row, a bar of one standard deviation among plots, the band."""
    import altair as alt

    top = 1.04 * max(max(row["simulated"], row["high"]) for row in rows)
    both = scale(axes, "biomass", domain=[0, top], nice=True)
    across = alt.X(
        "observed:Q",
        scale=both,
        axis={"tickCount": 4},
        title=axis_title("observed biomass", "mass", system),
    )
    up = alt.Y("simulated:Q", scale=both, title=axis_title("simulated biomass", "mass", system))
    base = alt.Chart(alt.InlineData(values=list(rows)), width=PANEL, height=PANEL)
    ends = [{"observed": 0.0, "simulated": 0.0}, {"observed": top, "simulated": top}]
    line = alt.Chart(alt.InlineData(values=ends)).mark_line(color=SOFT, strokeDash=[5, 4])
    near = alt.Chart(alt.InlineData(values=[{"observed": 0.93 * top, "simulated": 0.93 * top}]))
    told = near.mark_text(text="1:1", align="right", dx=-10, dy=-2, color=SOFT)
    site = _by_site(rows)
    bars = base.mark_rule(strokeWidth=1.4, opacity=0.6).encode(
        x=alt.X("low:Q", scale=both), x2="high:Q", y=up, color=site["color"]
    )
    points = _points(base).encode(x=across, y=up, tooltip=_tooltip(system), **site)
    layers = [line.encode(x=across, y=up), told.encode(x=across, y=up), bars, points]
    if band:
        layers.insert(0, _field_band(band, system).encode(x=across, y=up))
    return alt.layer(*layers)


def _field_band(band: Sequence[Row], system: units.System) -> Chart:
    """Shade what a field may have that the model has not seen, for each simulated biomass."""
    import altair as alt

    def mass(row: Row, name: str) -> float:
        return float(units.show(row[f"{name}_kg_ha"], "mass", system))

    shown = [
        {
            "simulated": mass(row, "simulated"),
            "observed": mass(row, "field_low"),
            "field_high": mass(row, "field_high"),
        }
        for row in band
    ]
    base = alt.Chart(alt.InlineData(values=shown))
    area = base.mark_area(orient="horizontal", color=SOFT, opacity=0.13, clip=True)
    return area.encode(x2="field_high:Q")


def difference_observed_against_simulated(
    rows: Sequence[Row], system: units.System, what: str, axes: Axes | None = None
) -> Chart:
    """Draw growth between samplings, or responses to nitrogen, about the 1:1 line.

    Parameters
    ----------
    rows : sequence of dict
        In the reader's units; those that have it are drawn.
    system : {"us", "si"}
    what : {"gain", "response"}
    axes : mapping, optional
    """
    import altair as alt

    name, _, per = DIFFERENCES[what]
    drawn = [row for row in rows if row[f"observed_{what}"] is not None]
    known = [
        row[f"{which}_{what}"]
        for row in drawn
        for which in ("observed", "simulated")
        if row[f"{which}_{what}"] is not None
    ]
    low, top = min(0.0, 1.06 * min(known)), max(1.0, 1.06 * max(known))
    both = scale(axes, what, domain=[low, top], nice=True)
    unit = f"{units.label('mass', system)}{per}"
    across = alt.X(
        f"observed_{what}:Q",
        scale=both,
        axis={"tickCount": 4},
        title=f"observed {name} ({unit})",
    )
    up = alt.Y(
        f"simulated_{what}:Q",
        scale=both,
        axis={"tickCount": 5},
        title=f"simulated {name} ({unit})",
    )
    ends = [{f"{which}_{what}": end for which in ("observed", "simulated")} for end in (low, top)]
    line = alt.Chart(alt.InlineData(values=ends)).mark_line(color=SOFT, strokeDash=[5, 4])
    base = alt.Chart(alt.InlineData(values=drawn), width=PANEL, height=PANEL)
    tooltips = [
        alt.Tooltip("row:N", title="plot table"),
        alt.Tooltip("site:N"),
        alt.Tooltip("season:N"),
        *(
            alt.Tooltip(f"{which}_{what}:Q", format=",.0f", title=f"{which} ({unit})")
            for which in ("observed", "simulated")
        ),
    ]
    points = _points(base).encode(x=across, y=up, tooltip=tooltips, **_by_site(rows))
    return alt.layer(line.encode(x=across, y=up), points)


def _tooltip(system: units.System) -> list[Any]:
    """Name what a page shows of a point under the pointer."""
    import altair as alt

    unit = units.label("mass", system)
    return [
        alt.Tooltip("row:N", title="plot table"),
        alt.Tooltip("site:N"),
        alt.Tooltip("season:N"),
        alt.Tooltip("observed:Q", format=",.0f", title=f"observed ({unit})"),
        alt.Tooltip("simulated:Q", format=",.0f", title=f"simulated ({unit})"),
    ]


def _misses(
    rows: Sequence[Row], system: units.System, axes: Axes | None, across: Any, **more: Any
) -> Chart:
    """Draw simulated - observed about a line at 0, and how far off they are (RMSE)."""
    import altair as alt

    reach = _reach(rows)
    up = alt.Y(
        "miss:Q",
        scale=scale(axes, "miss", domain=[-reach, reach], nice=False),
        title=axis_title("simulated less observed", "mass", system),
    )
    base = alt.Chart(alt.InlineData(values=list(rows)), width=PANEL, height=PANEL)
    zero = alt.Chart(alt.InlineData(values=[{"miss": 0.0}])).mark_rule(color=SOFT, strokeWidth=1.3)
    off = sqrt(sum(row["miss"] ** 2 for row in rows) / len(rows))
    ends = [{"miss": -off, "high": off}]
    far = alt.Chart(alt.InlineData(values=ends)).mark_rect(color=COLOURS[2], opacity=0.3)
    sides = [
        layer
        for text, y in (("simulated too high", 12), ("simulated too low", PANEL - 12))
        for layer in haloed(
            alt.Chart(alt.InlineData(values=[{"text": text}])).encode(
                text="text:N", x=alt.value(6), y=alt.value(y)
            ),
            align="left",
            baseline="middle",
        )
    ]
    points = _points(base).encode(
        x=across, y=up, tooltip=_tooltip(system), **_by_site(rows), **more
    )
    return alt.layer(far.encode(y=up, y2="high:Q"), *sides, zero.encode(y=up), points)


def misses_by_season(rows: Sequence[Row], system: units.System, axes: Axes | None = None) -> Chart:
    """Draw the misses season by season, points that would hide each other side by side."""
    import altair as alt

    seasons = sorted({row["season"] for row in rows})
    band = 0.9 * PANEL / len(seasons)
    groups = [[row for row in rows if row["season"] == season] for season in seasons]
    placed = [row for group in groups for row in _side_by_side(group, rows, band / 2)]
    across = alt.X(
        "season:O",
        title="season",
        axis={"labelAngle": 0, "labelOverlap": True},
        scale={"paddingInner": 0.1, "paddingOuter": 0.05},
    )
    offset = alt.XOffset("shift:Q", scale={"domain": [-band / 2, band / 2], "nice": False})
    return _misses(placed, system, axes, across, xOffset=offset)


def _side_by_side(group: Sequence[Row], rows: Sequence[Row], most: float) -> list[Row]:
    """Move points sideways, each as little as clears those before, or not at all beyond `most`."""
    pixels = PANEL / (2.0 * _reach(rows))
    placed: list[Row] = []
    for row in sorted(group, key=lambda one: (one["site"], one["miss"])):
        near = [one["shift"] for one in placed if abs(one["miss"] - row["miss"]) * pixels < POINT]
        steps = (POINT * step * side for step in range(len(near) + 1) for side in (1, -1))
        free = next(x for x in steps if all(abs(x - taken) >= POINT for taken in near))
        placed.append({**row, "shift": free if abs(free) <= most else 0.0})
    return placed


def _reach(rows: Sequence[Row]) -> float:
    """Return the largest miss, and room beyond it."""
    return 1.18 * max(1.0, *(abs(float(row["miss"])) for row in rows))


def misses_by_sowing(rows: Sequence[Row], system: units.System, axes: Axes | None = None) -> Chart:
    """Draw the misses by sowing date, all seasons on one calendar."""
    import altair as alt

    across = alt.X(
        "sown:T",
        title="sown",
        scale={"nice": "week", "padding": 12},
        axis={"format": "%b %-d", "labelOverlap": True, "labelFlush": False, "tickCount": 5},
    )
    return _misses(rows, system, axes, across)


def misses_by_nitrogen(
    rows: Sequence[Row], system: units.System, axes: Axes | None = None
) -> Chart:
    """Draw the misses by all the nitrogen applied."""
    import altair as alt

    title = axis_title("nitrogen applied, fall and spring", "nitrogen", system)
    most = max(1.0, *(row["nitrogen"] for row in rows))
    across = alt.X(
        "nitrogen:Q",
        title=title,
        axis={"tickCount": 6},
        scale={"domain": [-0.05 * most, 1.05 * most], "nice": False},
    )
    return _misses(rows, system, axes, across)
