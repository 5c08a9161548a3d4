"""The look that all charts share, what they are drawn from, and files made of them.

Each chart is defined once, in a module named for it (`season_chart`, `whatif_chart`, ...): a
function of a command's answer that returns an Altair chart, made of panels that are functions of
plain rows. The command line, the sheet, the page and the documentation call the same ones.
`finish` gives a chart its title and its look, `write_chart` makes a file of it.
"""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Callable, Mapping, Sequence
from html import escape
from pathlib import Path
from typing import Any

from simulator import units
from simulator.problems import Parameter, fault, printable
from simulator.show import wording
from simulator.show.drawing import draw
from simulator.show.grids import place
from simulator.show.output import write_whole
from simulator.show.tables import FEWEST_FOR_SHARES

SUFFIXES = (".svg", ".png", ".pdf", ".html")
DOTS_PER_POINT = 2.0  # of a PNG, sharp on paper and on dense screens

# Any two lie 20 apart in CIELAB and more, for every kind of eye, and 8 in lightness, for print
# without colour (tests/test_charts.py); lines differ in dash and points in shape besides.
COLOURS = ("#072f42", "#cc5f10", "#72a4a8", "#921579", "#e3b638", "#87605d")
SHAPES = ("circle", "square", "triangle-up", "diamond", "triangle-down")
DASHES = ([1, 0], [7, 3], [2, 2.5], [10, 3, 2, 3], [14, 4], [4, 4])
INK, SOFT, FAINT = "#1f2328", "#5c636b", "#dfe2e5"
FONT = "Liberation Sans, Arial, Helvetica, sans-serif"
X_HEIGHT = 0.519  # of the typeface, as a share of its size
# At a metre, 16 px of 1/96 inch have an x-height of 7.6 minutes of arc: half as much again as an
# eye that sees 1.0 (20/20) needs to tell letters apart, 5 minutes. The title has 10.
TEXT, TITLE = 16, 22  # [px]
IN_THE_HAND = 12  # of a sheet, read at 40 cm: 14 minutes [px]
TICKS = 5  # about so many figures on an axis
WIDTH = 760  # to which titles are broken [px]
_LETTER = 0.52  # mean width of a letter, as a share of the size; bold ones are broader

Row = dict[str, Any]
Source = Sequence[Row] | str  # rows, or the name of data that are given when it is drawn
Chart = Any  # one of altair's many classes, which load only when a chart is wanted
# Domains that hold axes still while plans or weather change: quantity -> lowest and highest, in
# the reader's units, or the parameters of a picture that have them. Each chart says which
# quantities it has.
Axes = Mapping[str, tuple[Any, Any]]


def axis_title(what: str, kind: str, system: units.System) -> str:
    """Return a quantity with its unit: ``"observed biomass (lb/ac)"``."""
    return f"{what} ({units.label(kind, system)})"


def scale(axes: Axes | None, name: str, **otherwise: Any) -> Any:
    """Return the scale of a quantity: held still where `axes` says how, else by the data.

    By the data it ends at a figure of the axis, so that titles of panels side by side are level.
    A dict, as axes and legends of all charts are: altair's own class holds every field there is,
    and each is copied whenever panels are put together.
    """
    if axes is not None and name in axes:
        return {"domain": list(axes[name]), "nice": False, "zero": False}
    return {"nice": TICKS, **otherwise}


def scales_apart(*channels: str) -> dict[str, Any]:
    """Let each panel of charts put together have its own colours or shapes."""
    return {"scale": dict.fromkeys(channels, "independent")}


def distinguish(
    field: str,
    names: Sequence[str],
    *,
    title: str | None = None,
    shapes: bool = False,
    dashes: bool = False,
    colours: Sequence[str] = COLOURS,
    labels: Mapping[str, str] | None = None,
    **legend: Any,
) -> dict[str, Any]:
    """Encode a name as a colour, and as a shape or a dash besides; one name needs no legend.

    Parameters
    ----------
    field : str
        Of the rows.
    names : sequence of str
        In the order of the legend.
    title : str, optional
        Of the legend.
    shapes, dashes : bool
        For points; for lines.
    colours : sequence of str
    labels : mapping, optional
        Of the names those that the legend has, and what it calls them; all as they are without.
    **legend
        What else the legend is to have, such as ``columns``.
    """
    import altair as alt

    marked: dict[str, Any] = (
        {"symbolType": "stroke", "symbolSize": 640, "symbolStrokeWidth": 2.6}
        if dashes
        else {"symbolStrokeWidth": 0}
    )
    fields = {"title": title, "columns": 6, **marked, **legend}
    if labels is not None:
        said = " : ".join(f"datum.label == '{name}' ? '{text}'" for name, text in labels.items())
        fields |= {"values": list(labels), "labelExpr": f"{said} : datum.label"}
    shown = {**fields} if len(names if labels is None else labels) > 1 else None

    def spread_out(values: Sequence[Any]) -> Any:
        return {
            "domain": list(names),
            "range": [values[i % len(values)] for i in range(len(names))],
        }

    colour = alt.Color(f"{field}:N", scale=spread_out(colours), legend=shown)
    encoded: dict[str, Any] = {"color": colour}
    if shapes:
        encoded["shape"] = alt.Shape(f"{field}:N", scale=spread_out(SHAPES), legend=shown)
    if dashes:
        encoded["strokeDash"] = alt.StrokeDash(f"{field}:N", scale=spread_out(DASHES), legend=shown)
    return encoded


def data(source: Source) -> Any:
    """Put rows into a chart as they are, or name data that are given when it is drawn."""
    import altair as alt

    if isinstance(source, str):  # nothing in them is to be read: moments come as numbers
        return alt.NamedData(source, format=alt.JsonDataFormat(parse=None, type="json"))
    return alt.InlineData(values=tuple(source))  # unlike a list it is not copied with each panel


def moment(day: object) -> str:
    """Write a day as charts take it: local midnight, which no time zone moves."""
    return f"{str(day)[:10]}T00:00:00"


def subject(about: Mapping[str, Any], years: Sequence[int] | None = None) -> str:
    """Say what grew where: ``"Rye on sandy loam at Tallow Bend (an invented place) ..."``."""
    falls = "" if years is None else f"; {wording.falls(years)}"
    return f"{str(about['cereal']).capitalize()} on {about['soil']} at {place(dict(about))}{falls}."


def ranged(falls: int) -> str:
    """Say what a band or a bar holds: ``"8 of 10 falls"``, and of few falls all."""
    return "the lowest to the highest fall" if falls < FEWEST_FOR_SHARES else "8 of 10 falls"


def of_falls(falls: int, what: str = "bars") -> str:
    """Say what is drawn of several falls: ``"Means over falls; bars: 8 of 10 falls."``."""
    return f"Means over falls; {what}: {ranged(falls)}." if falls > 1 else ""


def finish(
    chart: Chart,
    headline: Sequence[str],
    below: Sequence[str],
    *,
    text: int = TEXT,
    width: int = WIDTH,
) -> Chart:
    """Give a chart its title and the look that all share.

    Parameters
    ----------
    chart : Chart, or charts put together
        Is given them itself: a copy of it would be one of each of its panels.
    headline : sequence of str
        What the chart shows, as a sentence; each text is broken into lines.
    below : sequence of str
        Smaller, under it: what the data are, and that they are invented where they are.
    text : int
        Size of all letters but the title's [px].
    width : int
        What titles may fill [px].

    Returns
    -------
    Chart
    """
    chart.title = _title(headline, below, text, width)
    chart.background = "white"
    chart.padding = 18
    chart.description = " ".join([*headline, *below])
    chart.config = _look(text)
    return chart


def _look(text: int) -> dict[str, Any]:
    """Return the look that all charts share, as Vega-Lite's ``config`` has it."""
    return {
        "font": FONT,
        "view": {"stroke": None},
        "axis": {
            "grid": True,
            "gridColor": FAINT,
            "domainColor": SOFT,
            "tickColor": SOFT,
            "labelColor": INK,
            "titleColor": INK,
            "labelFontSize": text,
            "titleFontSize": text,
            "titleFontWeight": "normal",
            "titlePadding": 8,
            "labelLimit": 320,
            "labelPadding": 4,
        },
        "axisX": {"labelFlush": False},
        "axisQuantitative": {"tickCount": TICKS},
        "legend": {
            "labelFontSize": text,
            "titleFontSize": text,
            "symbolSize": 130,
            "labelColor": INK,
            "titleColor": SOFT,
            "titleFontWeight": "normal",
            "titleOrient": "left",
            "titlePadding": 10,
            "orient": "bottom",
            "labelLimit": 340,
            "titleLimit": 400,
            "symbolOpacity": 1.0,
            "columnPadding": 18,
            "rowPadding": 5,
            "offset": 14,
        },
        "header": {
            "labelFontSize": text,
            "titleFontSize": text,
            "labelColor": INK,
            "labelFontWeight": "bold",
            "labelPadding": 6,
        },
        "text": {"fontSize": text, "color": INK},
        "title": {
            "color": INK,
            "fontSize": text,
            "anchor": "start",
            "frame": "group",
            "fontWeight": "bold",
            "offset": 10,
        },
    }


def _title(headline: Sequence[str], below: Sequence[str], text: int, width: int) -> Any:
    import altair as alt

    big = round(text * TITLE / TEXT)
    return alt.TitleParams(
        text=_broken(headline, width / (1.08 * _LETTER * big)),
        subtitle=_broken(below, width / (_LETTER * text * 0.92)),
        anchor="start",
        frame="bounds",
        offset=18,
        fontSize=big,
        subtitleFontSize=text,
        subtitlePadding=7,
        color=INK,
        subtitleColor=SOFT,
        lineHeight=1.22 * big,
        subtitleLineHeight=1.3 * text,
    )


def _broken(texts: Sequence[str], letters: float) -> list[str]:
    """Break texts into lines, but not a number from its unit, a range, or a month from its day."""
    together = r"(?<=\d) (?=[a-zA-Z°%])|(?<=\d (?:to|of)) (?=\d)|(?<=[A-Z][a-z]{2}) (?=\d)"
    held = [re.sub(together, "\u00a0", text) for text in texts]
    return [
        line.replace("\u00a0", " ")
        for text in held
        for line in textwrap.wrap(text, max(int(letters), 20))
    ]


def haloed(marks: Chart, **style: Any) -> tuple[Chart, Chart]:
    """Return text marks above a white halo, to be read where lines pass behind them."""
    halo = marks.mark_text(stroke="white", strokeWidth=5, strokeJoin="round", **style)
    return halo, marks.mark_text(**style)


def write_chart(chart: Chart, path: Path, *, title: str) -> None:
    """Write a chart as SVG, PNG, PDF or a page that needs no network, whole or not at all.

    Parameters
    ----------
    chart : Chart
        From `finish`.
    path : Path
        Its suffix says which.
    title : str
        Of the page.

    Raises
    ------
    InputError
        Another suffix, or where the disk refuses.
    """
    makers: dict[str, Callable[[], str | bytes]] = {
        ".svg": lambda: svg(chart),
        ".png": lambda: png(chart),
        ".pdf": lambda: pdf(chart),
        ".html": lambda: page(chart.to_dict(), title),
    }
    if path.suffix.lower() not in makers:
        raise fault(
            Parameter("chart"),
            f"'{path.name}' does not end in {', '.join(SUFFIXES)}.",
            "Give the file one of these endings.",
        )
    made = makers[path.suffix.lower()]()
    content = made.encode() if isinstance(made, str) else made
    write_whole(path, lambda target: target.write_bytes(content), option=Parameter("chart"))


def svg(chart: Chart) -> str:
    """Draw a chart as SVG, which says to a screen reader what the title says."""
    spec = specification(chart)
    drawn = draw("svg", spec).decode()
    said = escape(spec.get("description", ""), quote=True)
    return drawn.replace("<svg ", f'<svg role="img" aria-label="{said}" ', 1) if said else drawn


def png(chart: Chart, dots: float = DOTS_PER_POINT) -> bytes:
    """Draw a chart as PNG, with so many dots for each of its points."""
    return draw("png", specification(chart), dots)


def pdf(chart: Chart) -> bytes:
    """Draw a chart as PDF."""
    return draw("pdf", specification(chart))


def specification(chart: Chart) -> Any:
    """Return a chart's definition as it is drawn.

    Tests hold charts against the schema of Vega-Lite, which takes as long as to draw them.
    """
    return legible(chart.to_dict(validate=False))


def legible(spec: Any) -> Any:
    """Return a chart's definition with texts that can be printed: others end what draws it."""
    if isinstance(spec, str):
        return printable(spec)
    if isinstance(spec, dict):
        return {legible(key): legible(value) for key, value in spec.items()}
    return [legible(one) for one in spec] if isinstance(spec, list) else spec


def page(spec: dict[str, Any], title: str) -> str:
    """Return a page that shows a chart, its script inside it: it asks the network for nothing."""
    import vl_convert

    bundle = vl_convert.javascript_bundle()  # type: ignore[call-arg]  # its stub lacks the default
    script = bundle.replace("</script", "<\\/script")
    # names from a user's file stand in the JSON: none may close the script element
    chart = json.dumps(spec).replace("<", "\\u003c").replace(">", "\\u003e")
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "script-src 'unsafe-inline' 'unsafe-eval'; style-src 'unsafe-inline'; "
        'img-src data: blob:">\n'
        f"<title>{escape(title)}</title>\n</head>\n<body>\n"
        f'<div id="chart" role="img" aria-label="{escape(title, quote=True)}"></div>\n'
        f'<script type="module">\n{script}\nvegaEmbed("#chart", {chart}, '
        '{renderer: "svg", actions: false});\n</script>\n</body>\n</html>\n'
    )
