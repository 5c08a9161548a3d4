"""One page for a grower: a question, its answer, a chart, a table, and what it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from simulator.show.charts import IN_THE_HAND, Chart, finish, svg
from simulator.show.tables import Column, listed, paragraph, table

if TYPE_CHECKING:
    import xarray as xr

ALONE = 560  # to which the titles of a chart of its own are broken [px]
_TEMPLATE = "sheet.html"
BESIDE = "Beside bare soil, without a stand and without nitrogen:"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What stands on the page; every text is plain, and escaped where it is laid out.

    Parameters
    ----------
    question : str
        The title.
    place, field : str
        Where; cereal, soil and previous crop.
    invented : bool
        Whether the place is.
    answer : (str, str)
        Two sentences.
    chart : Chart
        Without title.
    chart_title : str
    columns : sequence of Column
    rows : sequence of sequence of str
    table_note : str
        What the figures are.
    beside_bare : str
        What the stand keeps from leaching, or leaves, beside bare soil; empty where the question
        has none.
    assumptions, cautions : list of str
    made : str
        What was simulated, with what version.
    data : Dataset
        The numbers behind it, SI.
    """

    question: str
    place: str
    field: str
    invented: bool
    answer: tuple[str, str]
    chart: Chart
    chart_title: str
    columns: Sequence[Column]
    rows: Sequence[Sequence[str]]
    table_note: str
    beside_bare: str
    assumptions: list[str]
    cautions: list[str]
    made: str
    data: xr.Dataset


def bare(chart: Chart) -> Chart:
    """Give a chart the look that all share, without a title."""
    import altair as alt

    dressed = finish(chart, [], [], text=IN_THE_HAND)
    dressed.title = alt.Undefined
    dressed.padding = 4
    return dressed


def titled(sheet: Sheet) -> Chart:
    """Return the chart as a file of its own has it: with question and answer."""
    below = " ".join([*sheet.answer, "Invented place and weather." if sheet.invented else ""])
    return finish(sheet.chart, [f"{sheet.question} {sheet.place}"], [below], width=ALONE)


def whole(title: str) -> str:
    """Return a column's title without the breaks that a table in plain text needs."""
    return title.replace("-\n", "").replace("\n", " ")


def html(sheet: Sheet) -> str:
    """Lay the sheet out as a page that asks the network for nothing and runs no script."""
    from jinja2 import Environment, FileSystemLoader
    from markupsafe import Markup

    laid = Environment(loader=FileSystemLoader(Path(__file__).parent), autoescape=True)
    return laid.get_template(_TEMPLATE).render(
        sheet=sheet, whole=whole, beside=BESIDE, chart=Markup(svg(bare(sheet.chart)))
    )


def beside_bare(sheet: Sheet) -> str:
    """Return what is said beside bare soil as one text; empty where nothing is."""
    return f"{BESIDE} {sheet.beside_bare}" if sheet.beside_bare else ""


def text(sheet: Sheet) -> str:
    """Lay the sheet out as plain text, without its chart."""
    place = f"{sheet.place}{' (invented place and weather)' if sheet.invented else ''}"
    blocks = [
        paragraph(f"{place}: {sheet.field}."),
        paragraph(sheet.question),
        paragraph(" ".join(sheet.answer)),
        table(sheet.columns, sheet.rows),
        paragraph(sheet.table_note),
        paragraph(beside_bare(sheet)),
        listed("What this rests on:", sheet.assumptions),
        listed("Keep in mind:", sheet.cautions),
        paragraph(sheet.made),
    ]
    return "\n\n".join(block for block in blocks if block)
