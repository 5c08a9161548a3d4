"""The picture of two sides: the biomass of every fall, and below it what lies between them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.season.panels import WIDE
from simulator.page.rows import ROOM, nice
from simulator.page.views.two_answer import A, B, Two
from simulator.show.charts import COLOURS, SOFT, Chart, axis_title, data, distinguish

TALL, LOW = 230, 130  # of the panels [px]
ENDS = ("first", "last", "biomass", "least", "most")  # parameters of the picture


def two_picture(
    system: units.System, tops: Mapping[str, float], labels: Mapping[str, str] | None = None
) -> Chart:
    """Draw both sides fall by fall, and the difference of each fall that both have.

    Parameters
    ----------
    system : {"us", "si"}
    tops : mapping
        `ENDS`, in the reader's units; parameters of the picture.
    labels : mapping, optional
        Side -> what a legend calls it; without it there is none.

    Returns
    -------
    Chart
        Of the named data ``falls`` (``side, year, biomass``) and ``between`` (``year, apart``).
    """
    import altair as alt

    years = alt.X(
        "year:Q",
        title=None,
        axis={"format": "d", "tickMinStep": 1, "grid": False},
        scale={"domain": [alt.ExprRef("first"), alt.ExprRef("last")], "nice": False, "zero": False},
    )
    sides = distinguish("side", [A, B], shapes=True, dashes=True, labels=labels or {}, columns=2)
    made = alt.Y(
        "biomass:Q",
        title=axis_title("biomass", "mass", system),
        scale={"domain": [0, alt.ExprRef("biomass")], "nice": False, "zero": False},
    )
    falls: Any = alt.Chart(data("falls")).encode(x=years, y=made)
    dashes = {name: sides[name] for name in ("color", "strokeDash")}
    shapes = {name: sides[name] for name in ("color", "shape")}
    above = alt.layer(
        falls.mark_line(strokeWidth=1.2, opacity=0.7).encode(**dashes),
        falls.mark_point(filled=True, size=46, opacity=1).encode(**shapes),
        width=WIDE[0],
        height=TALL,
    )
    apart = alt.Y(
        "apart:Q",
        title=axis_title("B less A", "mass", system),
        scale={"domain": [alt.ExprRef("least"), alt.ExprRef("most")], "nice": False, "zero": False},
    )
    zero = alt.Chart(data([{"zero": 0}])).mark_rule(color=SOFT, strokeWidth=1.4).encode(y="zero:Q")
    bars: Any = alt.Chart(data("between")).encode(x=years, y=apart)
    below = alt.layer(
        bars.mark_bar(color=COLOURS[2], size=9).encode(y2=alt.datum(0)),
        zero,
        width=WIDE[0],
        height=LOW,
    )
    drawn = alt.vconcat(above, below, spacing=14)
    return drawn.add_params(*(alt.param(name=name, value=tops[name]) for name in ENDS))


def rows_of(two: Two) -> dict[str, dict[str, list[Any]]]:
    """Return the columns that the picture draws, in the reader's units."""
    falls: dict[str, list[Any]] = {"side": [], "year": [], "biomass": []}
    for side in two.sides:
        falls["side"] += [side.name] * len(side.years)
        falls["year"] += list(side.years)
        falls["biomass"] += _shown(side.values("biomass_kg_ha"), two)
    shared = two.both if two.paired else ()
    apart = two.apart("biomass_kg_ha") if two.paired else np.empty(0)
    return {"falls": falls, "between": {"year": list(shared), "apart": _shown(apart, two)}}


def _shown(values: Any, two: Two) -> list[float | None]:
    shown = np.round(units.show(values, "mass", two.system), 0).tolist()
    return [value if np.isfinite(value) else None for value in shown]


def tops_of(two: Two) -> dict[str, float]:
    """Return where the axes end."""
    columns = rows_of(two)
    made = [value for value in columns["falls"]["biomass"] if value is not None]
    apart = [value for value in columns["between"]["apart"] if value is not None]
    far = nice(ROOM * max((abs(value) for value in apart), default=1.0))
    years = columns["falls"]["year"]
    least, most = min(apart, default=-1.0), max(apart, default=1.0)
    return {
        "first": min(years) - 0.7,
        "last": max(years) + 0.7,
        "biomass": nice(ROOM * max(made, default=1.0)),
        "least": -far if least < 0 else 0.0,
        "most": far if most > 0 else 0.0,
    }
