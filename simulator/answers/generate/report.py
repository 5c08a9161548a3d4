"""The diagnostic page: generated against recorded, as charts and as a table to print."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from pathlib import Path

import numpy as np

from simulator import units
from simulator.answers.generate import table, words
from simulator.problems import Parameter
from simulator.show.charts import COLOURS, SOFT, Chart, finish, page
from simulator.show.output import write_whole
from simulator.weather.generator.against_recorded import MEMBERS, Held

COLUMNS = 3  # panels side by side
PANEL = (260, 120)  # width, height [px]
TEXT = 12  # [px]
FIGURES = 34  # room for those of an axis [px]
_BAND, _RECORDED, _OUTSIDE = COLOURS[2], COLOURS[0], COLOURS[1]

_STYLE = """
body { font-family: Liberation Sans, Arial, Helvetica, sans-serif; color: #1f2328; margin: 24px; }
table { border-collapse: collapse; font-size: 12px; margin: 18px 0 6px; }
#chart, table { display: block; overflow-x: auto; }
caption { text-align: left; font-weight: bold; font-size: 15px; padding: 6px 0; }
th, td { padding: 3px 6px; text-align: right; border-bottom: 1px solid #dfe2e5; }
td { white-space: nowrap; }
th:first-child, td:first-child { text-align: left; }
td small { display: block; color: #5c636b; font-size: 10px; }
td.outside { font-weight: bold; color: #a04a08; }
td.differs { font-weight: bold; color: #a04a08; }
p { max-width: 62em; line-height: 1.45; }
@media print { body { margin: 0; } table { font-size: 9px; page-break-inside: avoid; }
 td small { font-size: 7px; } @page { size: landscape; } }
"""


def chart(held: Sequence[Held], system: units.System, below: Sequence[str]) -> Chart:
    """Draw a panel for each statistic: the record's months in the range of generated ones."""
    import altair as alt

    groups: dict[str, list[Held]] = {}
    for one in held:
        if one.months:
            groups.setdefault(one.statistic.group, []).append(one)
    rows = [_panels(name, members, system) for name, members in groups.items()]
    meaning = (
        f"Band: 95 percent of {MEMBERS} generated records, each as long as the record; line: "
        "their mean. Points: the record; an orange diamond where it lies outside."
    )
    return finish(
        alt.vconcat(*rows, spacing=26),
        [words.headline(held)],
        [*below, meaning],
        text=TEXT,
        width=900,
    )


def _panels(group: str, members: Sequence[Held], system: units.System) -> Chart:
    """Draw a group's statistics side by side, each on its own scale."""
    import altair as alt

    titles = [_title(one, system) for one in members]
    drawn = [
        row for one, title in zip(members, titles, strict=True) for row in _rows(one, title, system)
    ]
    letters = {"grid": False, "labelAngle": 0, "labelExpr": _LETTERS, "labelOverlap": False}
    across = alt.X("month:O", title=None, axis=letters)
    up = {"zero": False}
    base = alt.Chart(width=PANEL[0], height=PANEL[1]).encode(x=across)
    # as wide in every panel, so that panels stand below each other
    figures = {"tickCount": 4, "minExtent": FIGURES, "maxExtent": FIGURES, "labelFlush": True}
    low = alt.Y("low:Q", title=None, scale=up, axis=figures)
    band = base.mark_area(color=_BAND, opacity=0.4).encode(y=low, y2="high:Q")
    line = base.mark_line(color=_BAND, strokeWidth=2.2).encode(y=alt.Y("generated:Q", scale=up))
    points = base.mark_point(filled=True, size=42, opacity=1.0).encode(
        y=alt.Y("recorded:Q", scale=up),
        tooltip=[
            alt.Tooltip("name:N", title="month"),
            *(
                alt.Tooltip(f"{name}:Q", format=".2f")
                for name in ("recorded", "generated", "low", "high")
            ),
        ],
        color=alt.condition("datum.outside", alt.value(_OUTSIDE), alt.value(_RECORDED)),
        shape=alt.condition("datum.outside", alt.value("diamond"), alt.value("circle")),
    )
    return (
        alt.layer(band, line, points, data=alt.InlineData(values=drawn))
        .facet(
            facet=alt.Facet(
                "title:N",
                title=None,
                sort=titles,
                header={"labelFontSize": 13, "labelAnchor": "start"},
            ),
            columns=COLUMNS,
            spacing=18,
        )
        .resolve_scale(y="independent")
        .resolve_axis(x="independent")
        .properties(title=alt.TitleParams(group, fontSize=16, anchor="start", color=SOFT, offset=6))
    )


def _title(one: Held, system: units.System) -> str:
    unit = table.unit(one.statistic.kind, system)
    said = f"{one.statistic.label} ({unit})" if unit else one.statistic.label
    return f"{said}: differs" if one.fails else said


def _rows(one: Held, title: str, system: units.System) -> list[dict[str, object]]:
    kind = one.statistic.kind

    def value(number: float) -> float | None:
        if not np.isfinite(number):
            return None
        in_units = kind in ("rain", "temperature", "step")
        return float(units.show(number, kind, system)) if in_units else float(number)

    return [
        {
            "title": title,
            "month": month + 1,
            "name": table.MONTHS[month],
            "recorded": value(one.recorded[month]),
            "generated": value(one.generated[month]),
            "low": value(one.low[month]),
            "high": value(one.high[month]),
            "outside": bool(one.beyond[month]),
        }
        for month in range(12)
    ]


_LETTERS = "slice('JFMAMJJASOND', datum.value - 1, datum.value)"


def write_page(
    path: Path, held: Sequence[Held], system: units.System, *, title: str, notes: Sequence[str]
) -> None:
    """Write the page, whole or not at all.

    Parameters
    ----------
    path : Path
        An .html file.
    held : sequence of Held
    system : {"us", "si"}
    title : str
        Names the record.
    told : sequence of str
        How the generator was made, as sentences.

    Raises
    ------
    InputError
        The disk refuses.
    """
    text = page_text(held, system, title=title, notes=notes)
    write_whole(
        path, lambda made: made.write_text(text, encoding="utf-8"), option=Parameter("report")
    )


def page_text(
    held: Sequence[Held], system: units.System, *, title: str, notes: Sequence[str]
) -> str:
    """Return the page: charts, what they mean, and the numbers; it needs no network."""
    import altair as alt

    with alt.data_transformers.enable("default", max_rows=None):
        spec = chart(held, system, [title]).to_dict()
    below = "".join(f"<p>{escape(text)}</p>\n" for text in [*words.held_sentences(held), *notes])
    tables = _tables(held, system)
    script = '<script type="module">'
    head, _, tail = page(spec, title).partition(script)
    head = head.replace("</head>", f"<style>{_STYLE}</style>\n</head>", 1)
    return f"{head}{below}{tables}{script}{tail}"


def _tables(held: Sequence[Held], system: units.System) -> str:
    groups: dict[str, list[Held]] = {}
    for one in held:
        groups.setdefault(one.statistic.group, []).append(one)
    return "".join(_table(name, members, system) for name, members in groups.items())


def _table(name: str, members: Sequence[Held], system: units.System) -> str:
    months = "".join(f"<th>{month}</th>" for month in table.MONTHS)
    rows = "".join(_row(one, system) for one in members)
    return (
        f"<table><caption>{escape(name)}: recorded, and below it the range of 95 in 100 "
        f"generated records</caption>\n<tr><th></th><th></th>{months}<th></th></tr>\n"
        f"{rows}</table>\n"
    )


def _row(one: Held, system: units.System) -> str:
    kind = one.statistic.kind
    cells = ""
    for month in range(12):
        recorded, low, high = (
            table.shown(values[month], kind, system) for values in (one.recorded, one.low, one.high)
        )
        mark = ' class="outside"' if one.beyond[month] else ""
        between = f"<small>{low} to {high}</small>" if np.isfinite(one.low[month]) else ""
        cells += f"<td{mark}>{recorded}{between}</td>"
    word = table.verdict(one)
    mark = ' class="differs"' if word == "differs" else ""
    return (
        f"<tr><td>{escape(one.statistic.label)}</td><td>{escape(table.unit(kind, system))}</td>"
        f"{cells}<td{mark}>{word}</td></tr>\n"
    )
