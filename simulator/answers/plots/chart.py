"""Means of a trial with their intervals, a panel a year, and the responses with their data."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from simulator import units
from simulator.answers.plots.calculate import Curve, Found
from simulator.answers.plots.names import curve_name, level, single
from simulator.answers.plots.words import headline
from simulator.show.charts import (
    COLOURS,
    SOFT,
    Axes,
    Chart,
    Row,
    axis_title,
    data,
    distinguish,
    finish,
    scale,
    scales_apart,
)
from simulator.trials.analysis.curves import NONE, PLATEAU, STRAIGHT, Choice
from simulator.trials.analysis.factors import NITROGEN, SOWN
from simulator.trials.analysis.means import Analysis, alone

SIZE = (330, 230)  # of a panel of means or responses [px]
RATES = ("#9db36a", "#7c963f", "#5c7720", "#435a10", "#2d3f06", "#1a2600")
MOST_PANELS = 9  # years, above which the means over all are drawn alone
MOST_LINES = 6  # levels told apart by colour
POINTS_OF_CURVE = 25


def chart(found: Found, system: units.System, *, axes: Axes | None = None) -> Chart:
    """Draw the means of each year, and below them the responses to nitrogen.

    Parameters
    ----------
    found : Found
    system : {"us", "si"}
    axes : mapping, optional
        Domains of ``biomass`` and ``nitrogen``.

    Returns
    -------
    Chart
    """
    import altair as alt

    means = mean_rows(found, system)
    across, by = _axes_of(found)
    panels = [
        means_of_year(
            [row for row in means if row["panel"] == panel], means, across, by, system, axes=axes
        )
        for panel in dict.fromkeys(row["panel"] for row in means)
    ]
    parts = [alt.concat(*panels, columns=2, spacing=26)]
    points, lines = response_rows(found, system)
    if points:
        laid = [
            responses(
                [row for row in points if row["panel"] == panel],
                [row for row in lines if row["panel"] == panel],
                points,
                system,
                axes=axes,
            )
            for panel in dict.fromkeys(row["panel"] for row in points)
        ]
        parts.append(alt.concat(*laid, columns=2, spacing=26))
    apart = scales_apart("color", "shape", "strokeDash")
    whole = alt.vconcat(*parts, spacing=34, resolve=apart)
    return finish(whole, *headline(found, system))


def _axes_of(found: Found) -> tuple[str, str]:
    """Name what stands along the panels, and what colours tell apart."""
    layout = found.layout
    order = sorted(
        range(len(layout.factors)),
        key=lambda at: {SOWN: 0, NITROGEN: 1}.get(layout.factors[at].name, 2),
    )
    names = [single(found.layout.factors[at].name) for at in order[:2]]
    if len(order) > 1 and len(found.layout.factors[order[1]].levels) > MOST_LINES:
        names.reverse()
    return names[0], names[1] if len(names) > 1 else ""


def _places(found: Found) -> list[int]:
    across, by = _axes_of(found)
    names = [single(one.name) for one in found.layout.factors]
    return [names.index(name) for name in (across, by) if name]


def mean_rows(found: Found, system: units.System) -> list[Row]:
    """Return each year's means by the two treatments, in the reader's units."""
    layout = found.layout
    each: list[tuple[str, Analysis]] = [
        (layout.env_name(env), alone(found.analysis, env)) for env in found.analysis.which
    ]
    if len(each) > MOST_PANELS:
        each = [("all years", found.analysis)]
    places = _places(found)
    rows = []
    for panel, own in each:
        for levels, mean, _ in own.level_means(places):
            told = [
                level(layout.factors[place], at, system)
                for place, at in zip(places, levels, strict=True)
            ]
            low, high = (mean.low, mean.high) if np.isfinite(mean.low) else (mean.value, mean.value)
            rows.append(
                {
                    "panel": panel,
                    "across": told[0],
                    "by": told[1] if len(told) > 1 else "",
                    **_shown({"mean": mean.value, "low": low, "high": high}, system),
                }
            )
    return rows


def _shown(values: dict[str, float], system: units.System) -> dict[str, float]:
    return {name: float(units.show(value, "mass", system)) for name, value in values.items()}


def means_of_year(
    rows: Sequence[Row],
    everything: Sequence[Row],
    across: str,
    by: str,
    system: units.System,
    *,
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
) -> Chart:
    """Draw the means of one year: a point and its interval for each combination.

    Parameters
    ----------
    rows : sequence of dict
        ``panel, across, by, mean, low, high`` of this year.
    everything : sequence of dict
        Of all years, so that panels share their axes and colours.
    across, by : str
        Treatments along the axis and told apart by colour.
    system : {"us", "si"}
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of ``biomass``.
    """
    import altair as alt

    labels = list(dict.fromkeys(row["across"] for row in everything))
    # plots without nitrogen come last, so that the others have the colours of their curves
    series = sorted(
        {row["by"] for row in everything}, key=lambda by: (by == "none", _as_number(by))
    )
    top = 1.04 * max(row["high"] for row in everything)
    low = min(0.0, 1.04 * min(row["low"] for row in everything))
    fixed = scale(axes, "biomass", domain=[low, top], nice=True)
    # in the responses below colours are sowings: rates go from light to dark in one hue
    shades = RATES if by == single(NITROGEN) and len(series) <= len(RATES) else COLOURS
    apart = distinguish("by", series, title=by, shapes=True, colours=shades)
    base = alt.Chart(data(rows), width=size[0], height=size[1]).encode(
        x=alt.X(
            "across:O",
            sort=labels,
            title="sown" if across == "sowing date" else across,
            axis={"labelAngle": 0, "grid": False},
        ),
        xOffset=alt.XOffset("by:N", sort=series, scale={"paddingOuter": 0.6}),
        color=apart["color"],
    )
    up = axis_title("biomass", "mass", system)
    bars = base.mark_rule(strokeWidth=1.6, opacity=0.75, aria=False).encode(
        y=alt.Y("low:Q", title=up, scale=fixed), y2="high:Q"
    )
    points = base.mark_point(filled=True, size=70, opacity=1.0).encode(
        y=alt.Y("mean:Q", title=up, scale=fixed), shape=apart["shape"]
    )
    return alt.layer(bars, points, title=rows[0]["panel"])


def _as_number(text: str) -> tuple[float, str]:
    first = text.split(maxsplit=1)[0] if text.split() else ""
    return (float(first), text) if first.replace(".", "").isdigit() else (np.inf, text)


def response_rows(found: Found, system: units.System) -> tuple[list[Row], list[Row]]:
    """Return the means behind each response and its curve, over all years and in each."""
    layout = found.layout
    points, lines = [], []
    several = len(found.analysis.envs) > 1
    envs = {one.env for one in found.curves}
    chosen = found.curves if len(envs) <= MOST_PANELS else [c for c in found.curves if c.env < 0]
    for one in chosen:
        panel = "all years" if one.env < 0 else layout.env_name(one.env)
        panel = f"Response, {panel}" if several or panel else "Response"
        line = curve_name(layout, one.sown, one.timing, system)
        points += _points(one, panel, line, system)
        if one.choice.best is not None:
            rates = _along(one.choice)
            lines += [
                {"panel": panel, "line": line, **_shown({"nitrogen": x, "biomass": y}, system)}
                for x, y in zip(rates, one.choice.best.at(rates), strict=True)
            ]
    return points, lines


def _along(choice: Choice) -> np.ndarray:
    """Choose the rates between which a curve is drawn as straight lines."""
    first, last = choice.points.rates[[0, -1]].tolist()
    form = choice.best.form if choice.best else NONE
    if form in (NONE, STRAIGHT):
        return np.array([first, last])
    if form == PLATEAU and choice.best:
        return np.array([first, choice.best.bend, last])
    return np.linspace(first, last, POINTS_OF_CURVE)


def _points(one: Curve, panel: str, line: str, system: units.System) -> list[Row]:
    from scipy.stats import t

    own = one.choice.points
    reach = np.zeros(own.rates.size)
    if own.error_df > 0:
        spread = own.error / own.error_df
        reach = float(t.ppf(0.975, own.error_df)) * np.sqrt(spread / own.weights)
    none = one.choice.best is not None and one.choice.best.form == NONE
    return [
        {
            "panel": panel,
            "line": line,
            "none": none,
            **_shown({"nitrogen": x, "biomass": y, "low": y - r, "high": y + r}, system),
        }
        for x, y, r in zip(own.rates, own.means, reach, strict=True)
    ]


def responses(
    points: Sequence[Row],
    lines: Sequence[Row],
    everything: Sequence[Row],
    system: units.System,
    *,
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
) -> Chart:
    """Draw biomass against nitrogen: means with intervals, and the curve chosen.

    Parameters
    ----------
    points : sequence of dict
        ``panel, line, nitrogen, biomass, low, high``.
    lines : sequence of dict
        ``panel, line, nitrogen, biomass`` along each curve.
    everything : sequence of dict
        Points of all panels, so that these share their axes and colours.
    system : {"us", "si"}
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domains of ``biomass`` and ``nitrogen``.
    """
    import altair as alt

    names = list(dict.fromkeys(row["line"] for row in everything))
    most = max(row["nitrogen"] for row in everything) or 1.0
    top = 1.04 * max(row["high"] for row in everything)
    x = alt.X(
        "nitrogen:Q",
        title=axis_title("nitrogen", "nitrogen", system),
        scale=scale(axes, "nitrogen", nice=False, domain=[-0.06 * most, 1.06 * most]),
    )
    fixed = scale(axes, "biomass", domain=[0, top], nice=True)
    y = alt.Y("biomass:Q", title=axis_title("biomass", "mass", system), scale=fixed)
    apart = distinguish("line", names, shapes=True, columns=3)
    dash = distinguish("line", names, dashes=True)["strokeDash"]
    dash.legend = None
    shift = 0.012 * most  # side by side, so that none hides another
    placed = [
        {
            **row,
            "nitrogen": row["nitrogen"] + shift * (names.index(row["line"]) - (len(names) - 1) / 2),
        }
        for row in points
    ]
    base = alt.Chart(data(placed), width=size[0], height=size[1]).encode(x=x, color=apart["color"])
    bars = base.mark_rule(strokeWidth=1.4, opacity=0.7, aria=False).encode(
        y=alt.Y("low:Q", title=axis_title("biomass", "mass", system), scale=fixed), y2="high:Q"
    )
    dots = base.mark_point(filled=True, size=70, opacity=1.0).encode(y=y, shape=apart["shape"])
    layers = [bars, dots]
    if lines:
        drawn = alt.Chart(data(lines)).mark_line(strokeWidth=2.2, clip=True)
        layers.insert(0, drawn.encode(x=x, y=y, color=apart["color"], strokeDash=dash))
    else:
        nothing = alt.Chart(data([{}])).mark_text(color=SOFT, text="no curve")
        layers.append(nothing)
    return alt.layer(*layers, title=points[0]["panel"])
