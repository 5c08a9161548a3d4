"""Forms that several charts take: ranges, bands along dates or days, the step between points."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

from simulator.show.charts import COLOURS, INK, SOFT, Axes, Chart, Row, data, haloed, scale


def ranges(
    rows: Sequence[Row],
    up: str,
    *,
    name: str = "biomass",
    size: tuple[int, int] = (690, 240),
    axes: Axes | None = None,
) -> Chart:
    """Draw a mean and a range for each label, the series side by side.

    Parameters
    ----------
    rows : sequence of dict
        ``label, series, y, low, high`` in the reader's units, and ``told``, printed at the mean;
        with ``field_low, field_high`` too, a thin bar is drawn from one to the other.
    up : str
        Title of the axis.
    name : str
        Of the quantity, for `axes`.
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of that quantity.
    """
    import altair as alt

    labels = list(dict.fromkeys(row["label"] for row in rows))
    series = list(dict.fromkeys(row["series"] for row in rows))
    several = len(series) > 1
    colours, shapes = ((COLOURS[2], COLOURS[0]), ("square", "circle"))
    legend = {"title": None} if several else None
    known = {"domain": series, "range": list(colours if several else colours[1:])}
    shape = alt.Shape(
        "series:N",
        legend=legend,
        scale={"domain": series, "range": list(shapes if several else shapes[1:])},
    )
    base = alt.Chart(data(rows), width=size[0], height=size[1]).encode(
        x=alt.X(
            "label:O",
            sort=labels,
            title=None,
            scale={"paddingInner": 0.1, "paddingOuter": 0.15},
            axis={"labelAngle": 0, "grid": False, "ticks": False},
        ),
        color=alt.Color("series:N", scale=known, legend=legend),
    )
    if several:
        base = base.encode(
            xOffset=alt.XOffset("series:N", sort=series, scale={"paddingOuter": 0.9})
        )
    fixed = scale(axes, name, zero=True)
    spans = base.mark_bar(size=14, opacity=0.4, cornerRadius=3).encode(
        y=alt.Y("low:Q", title=up, scale=fixed), y2="high:Q"
    )
    wide = (
        base.mark_rule(strokeWidth=1.2, opacity=0.7).encode(
            y=alt.Y("field_low:Q", title=up, scale=fixed), y2="field_high:Q"
        ),
    )
    height = alt.Y("y:Q", title=up, scale=fixed)
    means = base.mark_point(filled=True, size=90, opacity=1.0).encode(y=height, shape=shape)
    sides: tuple[tuple[int, Literal["left", "right"]], ...] = ((12, "left"), (-12, "right"))
    names = [  # of two series side by side, the first has its figures at the left
        text
        for one, (dx, align) in zip(reversed(series), sides, strict=False)
        for text in haloed(
            base.transform_filter(alt.datum.series == one).encode(
                y=height, text="told:N", color=alt.value(INK)
            ),
            dx=dx,
            align=align,
        )
    ]
    return alt.layer(*(wide if "field_low" in rows[0] else ()), spans, *names, means)


def band(
    rows: Sequence[Row],
    across: Any,
    name: str,
    up: str,
    *,
    colour: str = COLOURS[0],
    size: tuple[int, int] = (290, 190),
    axes: Axes | None = None,
    labelled: bool = False,
) -> Chart:
    """Draw the mean of a quantity along dates or days, and its range as a band.

    Parameters
    ----------
    rows : sequence of dict
        ``name, name_low, name_high`` and what `across` names; with `labelled` also ``told``,
        printed at each mean.
    across : X
        Encoding of the horizontal axis.
    name : str
        Of the quantity, in the rows and for `axes`.
    up : str
        Title of the vertical axis.
    colour : str
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of the quantity.
    labelled : bool
        Whether to print the figures.
    """
    import altair as alt

    fixed = scale(axes, name, zero=True)
    base = alt.Chart(data(rows), width=size[0], height=size[1]).encode(x=across)
    area = base.mark_area(color=colour, opacity=0.22).encode(
        y=alt.Y(f"{name}_low:Q", title=up, scale=fixed), y2=f"{name}_high:Q"
    )
    middle = base.encode(y=alt.Y(f"{name}:Q", title=up, scale=fixed))
    line = middle.mark_line(
        color=colour, strokeWidth=2.6, point=alt.OverlayMarkDef(color=colour, size=50)
    )
    figures = haloed(middle.encode(text="told:N"), dy=-13) if labelled else ()
    return alt.layer(area, line, *figures)


def step(
    before: Row, after: Row, told: str, across: Any, up: Any, *, over: bool = False
) -> tuple[Chart, ...]:
    """Draw how far a second point lies above or below a first: a dashed level, a rise, a figure.

    Parameters
    ----------
    before, after : dict
        With the fields of both axes.
    told : str
        The figure.
    across, up : X, Y
        Encodings of the axes.
    over : bool
        Whether the figure stands over the second point, where other lines pass beside the rise.
    """
    import altair as alt

    x, y = (str(axis.shorthand).split(":")[0] for axis in (across, up))
    corner = {x: after[x], y: before[y]}

    def drawn(*rows: Row) -> Any:
        return alt.Chart(data(rows)).encode(x=across, y=up)

    middle = {x: after[x], y: after[y] if over else (before[y] + after[y]) / 2, "told": told}
    where: dict[str, Any] = {"dy": -17} if over else {"dx": 8, "align": "left"}
    return (
        drawn({x: before[x], y: before[y]}, corner).mark_line(
            color=SOFT, strokeDash=[4, 3], strokeWidth=1.4, aria=False
        ),
        drawn(corner, {x: after[x], y: after[y]}).mark_line(color=INK, strokeWidth=3, aria=False),
        *haloed(
            drawn(middle).encode(text="told:N"),
            fontWeight="bold",
            **where,
        ),
    )


def shaded(
    rows: Sequence[Row],
    across: Any,
    up: str,
    *,
    name: str = "biomass",
    ends: Sequence[tuple[str, str]] = (("field_low", "field_high"), ("low", "high")),
    colour: str = COLOURS[0],
    axes: Axes | None = None,
) -> list[Chart]:
    """Shade ranges along an axis, each over the one before it, so that inner ones are darker.

    Parameters
    ----------
    rows : sequence of dict
        With what `across` names and the fields of `ends`; ends that the rows lack are left out.
    across : X
        Encoding of the horizontal axis.
    up : str
        Title of the vertical axis.
    name : str
        Of the quantity, for `axes`.
    ends : sequence of (str, str)
    colour : str
    axes : mapping, optional
        Domain of the quantity.
    """
    import altair as alt

    fixed = scale(axes, name, zero=True)
    return [
        alt.Chart(data(rows))
        .mark_area(color=colour, opacity=0.2, aria=False)
        .encode(x=across, y=alt.Y(f"{low}:Q", title=up, scale=fixed), y2=f"{high}:Q")
        for low, high in ends
        if low in rows[0]
    ]
