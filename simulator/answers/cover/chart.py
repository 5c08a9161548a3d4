"""Residue since termination as a chart: ground covered, mass left, nitrogen tied up or set free."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from simulator import units
from simulator.answers.cover.calculate import COVERS, Cover, main_lie
from simulator.answers.cover.data import QUANTITIES, chart_rows
from simulator.answers.cover.words import LITTLE, lies_as, plan_of
from simulator.show import wording
from simulator.show.charts import (
    COLOURS,
    INK,
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

WIDE, BETWEEN = 720, 26  # all panels of a row; between two of them [px]
NARROWEST, WIDEST = 130, 460  # a panel [px]
TALL, LOW = 240, 170  # panels of cover, and those below [px]
SPOKEN = 90  # days after the end that the title speaks of
ALIKE = 0.03  # of the largest value: lines that are nowhere farther apart are drawn as one
COVER = "ground covered (%)"


def chart(found: Cover, system: units.System, *, axes: Axes | None = None) -> Chart:
    """Draw cover, mass and nitrogen since termination: a column a sowing, a line a way to lie.

    Parameters
    ----------
    found : Cover
    system : {"us", "si"}
    axes : mapping, optional
        Domains of ``mass`` and ``nitrogen``; cover runs from 0 to 100 percent.

    Returns
    -------
    Chart
    """
    import altair as alt

    rows = merged(chart_rows(found, system), main_lie(found))
    shown = [row for row in spoken_rows(found) if row["told"]]
    still = {"cover": (0.0, 100.0), **_domains(rows), **(axes or {})}
    sowings = list(dict.fromkeys(row["sown"] for row in rows))
    names = list(dict.fromkeys(row["residue"] for row in rows))
    tied, freed = _signs(rows, system)
    titles = {
        "cover": COVER,
        "mass": axis_title("shoots left", "biomass", system),
        "nitrogen": axis_title(
            "nitrogen set free" if freed else "nitrogen tied up", "nitrogen", system
        ),
    }
    wide = (WIDE - BETWEEN * (len(sowings) - 1)) // len(sowings)
    size = max(min(wide, WIDEST), NARROWEST)
    columns = []
    for at, sown in enumerate(sowings):
        own = [row for row in rows if row["sown"] == sown]
        panels = []
        for name, title in titles.items():
            panel = followed(
                own,
                name,
                title if at == 0 else None,
                size=(size, TALL if name == "cover" else LOW),
                axes=still,
                names=names,
                turned=name == "nitrogen" and not freed,
                below="days since the end" if name == "nitrogen" else None,
            )
            if name == "cover":
                panel += _figures([row for row in shown if row["sown"] == sown], still)
                panel = panel.properties(title=f"sown {sown}")
            if name == "nitrogen" and freed and tied:
                panel += _sides()
            panels.append(panel)
        columns.append(alt.vconcat(*panels, spacing=22))
    return finish(alt.hconcat(*columns, spacing=BETWEEN), *headline(found, system))


def headline(found: Cover, system: units.System) -> tuple[list[str], list[str]]:
    """Say how much of the ground residue covers, and below it what was grown."""
    name = main_lie(found)
    rows, cereal = spoken_rows(found), str(found.residue.attrs["cereal"])
    sowings = list(dict.fromkeys(row["sown"] for row in rows))
    texts: list[str] = []
    for sown in dict.fromkeys((sowings[0], sowings[-1])):
        first, later = (row for row in rows if row["sown"] == sown)
        if texts:
            texts.append(f"sown {sown}, {first['told']} % and {later['told']} %")
        else:
            texts.append(
                f"Sown {sown} and {lies_as(name)}, {cereal} covers {first['told']} % of the "
                f"ground at first and {later['told']} % after {later['day']} days"
            )
    years = found.residue["year"].values.tolist()
    lines = "Lines: means over falls. " if len(years) > 1 else ""
    return ["; ".join(texts)], [
        subject(found.residue.attrs, years),
        plan_of(found, system),
        f"{lines}Band: what is {lies_as(name)}, 8 of 10 fields like these; its nitrogen, "
        f"{ranged(len(years))} by weather alone.",
    ]


def spoken_rows(found: Cover) -> list[Row]:
    """Return the cover that the title speaks of: of each sowing, at first and some weeks later."""
    cover = found.by_day["ground_covered"].sel(residue=main_lie(found))
    return [
        {
            "sown": wording.dates_in(str(sow)),
            "day": day,
            "cover": 100.0 * float(cover.sel(sow=sow, day=day)),
            "told": f"{100.0 * float(cover.sel(sow=sow, day=day)):.0f}",
        }
        for sow in cover["sow"].values
        for day in (0, min(SPOKEN, found.days))
    ]


def merged(rows: Sequence[Row], spoken: str) -> list[Row]:
    """Draw as one the ways to lie whose lines could not be told apart: ``"flat or rolled"``.

    The way to lie that is spoken of comes first.

    Parameters
    ----------
    rows : sequence of dict
        From `answers.cover.data.chart_rows`.
    spoken : str
        The way to lie that has ranges; of those drawn as one with it, its line is drawn.
    """
    lies = list(dict.fromkeys(row["residue"] for row in rows))
    most = {name: max(abs(row[name]) for row in rows) or 1.0 for name in QUANTITIES}
    lines = {
        lie: [
            [row[name] / most[name] for name in QUANTITIES] for row in rows if row["residue"] == lie
        ]
        for lie in lies
    }

    def alike(one: str, other: str) -> bool:
        return all(
            abs(a - b) <= ALIKE
            for left, right in zip(lines[one], lines[other], strict=True)
            for a, b in zip(left, right, strict=True)
        )

    groups: list[list[str]] = []
    for lie in sorted(lies, key=lambda lie: lie != spoken):
        joined = next((group for group in groups if alike(group[0], lie)), None)
        if joined is None:
            groups.append([lie])
        else:
            joined.append(lie)
    named = {group[0]: " or ".join(sorted(group, key=lies.index)) for group in groups}
    return [
        {**row, "residue": named[row["residue"]]}
        for lie in named
        for row in rows
        if row["residue"] == lie
    ]


def _domains(rows: Sequence[Row]) -> dict[str, tuple[float, float]]:
    """Return domains that hold all sowings' mass and nitrogen."""
    found = {}
    for name in ("mass", "nitrogen"):
        values = [
            row[key]
            for row in rows
            for key in (name, f"{name}_low", f"{name}_high")
            if row[key] is not None
        ]
        found[name] = (min(0.0, *values), max(0.0, *values))
    return found


def _signs(rows: Sequence[Row], system: units.System) -> tuple[bool, bool]:
    """Say whether nitrogen worth a word is tied up, and whether some is set free."""
    little = float(units.show(LITTLE, "nitrogen", system))
    values = [row["nitrogen"] for row in rows]
    return min(values) <= -little, max(values) >= little


def _figures(rows: Sequence[Row], axes: Axes) -> Chart:
    """Mark the cover that the title speaks of, with its figure."""
    import altair as alt

    base = alt.Chart(data(rows)).encode(
        x=alt.X("day:Q"), y=alt.Y("cover:Q", scale=scale(axes, "cover"))
    )
    points = base.mark_point(filled=True, size=80, color=INK, opacity=1.0)
    told = base.encode(text="told:N")
    return alt.layer(points, *haloed(told, dx=8, dy=-13, align="left", fontWeight="bold"))


def _sides() -> Chart:
    """Say that nitrogen below nothing is tied up."""
    import altair as alt

    base = alt.Chart(data([{"nitrogen": 0.0}])).encode(x=alt.value(6), y="nitrogen:Q")
    under = base.encode(text=alt.value("tied up"))
    return alt.layer(*haloed(under, align="left", baseline="top", dy=4))


def followed(
    rows: Sequence[Row],
    name: str,
    up: str | None,
    *,
    size: tuple[int, int],
    names: Sequence[str],
    axes: Axes | None = None,
    turned: bool = False,
    below: str | None = None,
) -> Chart:
    """Draw one quantity day by day, a line a way to lie, and the band of one of them.

    Parameters
    ----------
    rows : sequence of dict
        ``residue, day``, the quantity and its ``_low`` and ``_high``, None where they are not told.
    name : {"cover", "mass", "nitrogen"}
    up : str or None
        Title of the axis; without it the axis has no figures either.
    size : (int, int)
        Width and height [px].
    names : sequence of str
        All ways to lie, as the legend has them.
    axes : mapping, optional
        Domain of the quantity.
    turned : bool
        Whether values below nothing are written without a sign, as the title says what they are.
    below : str, optional
        Title of the days.
    """
    import altair as alt

    x: Any = alt.X(
        "day:Q",
        title=below,
        scale={"nice": False},
        axis={"tickCount": 4},
    )
    shown: dict[str, Any] = {"ticks": up is not None, "minExtent": 0 if up is None else 46}
    if name == "cover":
        shown["values"] = [0.0, *(100.0 * share for share in COVERS)]
    if turned:
        shown["labelExpr"] = "format(abs(datum.value), ',')"
    if up is None:  # as high as those beside it, that panels are level
        shown["labelExpr"] = "' '"
    fixed = scale(axes, name, zero=True)
    axis = {**shown}
    marks = distinguish("residue", names, title="residue", dashes=True, colours=COLOURS)
    base = alt.Chart(data(rows), width=size[0], height=size[1]).encode(x=x)
    band = (
        base.transform_filter(f"isValid(datum.{name}_low)")
        .mark_area(opacity=0.2)
        .encode(
            y=alt.Y(f"{name}_low:Q", title=up, scale=fixed, axis=axis),
            y2=f"{name}_high:Q",
            color=marks["color"],
        )
    )
    lines = base.mark_line(strokeWidth=2.4).encode(
        y=alt.Y(f"{name}:Q", title=up, scale=fixed, axis=axis), **marks
    )
    return alt.layer(band, lines)
