"""Where the applied nitrogen ended, as stacked bars: a panel for each time, a bar a sowing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from simulator.answers.response.calculate import ALL
from simulator.answers.response.table import Shown
from simulator.show import wording
from simulator.show.charts import INK, Chart, Row, data

SIZE = (690, 24)  # width of the panels, height of a plan [px]
# what is drawn as one -> its fates, its colour, and whether figures on it are white; none of the
# colours is one that a sowing has, and beside each other they differ in lightness
PLACES: dict[str, tuple[tuple[str, ...], str, bool]] = {
    "in shoots": (("shoots",), "#1b4720", True),
    "in roots and dead leaves": (("roots", "frost_killed", "shed_leaves"), "#a9cf7f", False),
    "left in soil or tied up": (("left_in_soil", "tied_up"), "#8d7f6a", True),
    "lost as gas": (("denitrified", "volatilised"), "#dfe2e5", False),
    "leached": (("leached",), "#2f62b5", True),
}
LEAST_TOLD = 6.0  # percent, from which on a bar has room for its figure


def fate_rows(shown: Shown) -> list[Row]:
    """Return where the applied nitrogen ended, a row a plan and place [percent]."""
    rows: list[Row] = []
    for r in shown.of(kind=ALL):
        if not r.falls or not r.applied:
            continue
        so_far = 0.0
        for order, (where, (fates, _, white)) in enumerate(PLACES.items()):
            percent = 100 * sum(r.share(fate) for fate in fates)
            rows.append(
                {
                    "sown": wording.dates_in(r.sow),
                    "timing": wording.timing(r.timing),
                    "where": where,
                    "percent": percent,
                    "order": order,
                    "middle": so_far + percent / 2,
                    "told": f"{percent:.0f}" if percent >= LEAST_TOLD else "",
                    "ink": "white" if white else INK,
                }
            )
            so_far += max(percent, 0.0)
    return rows


def fates(rows: Sequence[Row], *, size: tuple[int, int] = SIZE) -> Chart:
    """Draw where the applied nitrogen ended, a bar a plan, its larger parts told in figures.

    Parameters
    ----------
    rows : sequence of dict
        From `fate_rows`.
    size : (int, int)
        Width; height of a plan [px].
    """
    import altair as alt

    lowest = min(0.0, *(row["percent"] for row in rows))
    timings = list(dict.fromkeys(row["timing"] for row in rows))
    panels = [
        _fates_of(
            [row for row in rows if row["timing"] == timing],
            timing,
            size,
            {"domain": [lowest, 100.0], "nice": False},
            last=timing == timings[-1],
        )
        for timing in timings
    ]
    return alt.vconcat(*panels, spacing=14)


def _fates_of(
    rows: Sequence[Row], timing: str, size: tuple[int, int], across: Any, *, last: bool
) -> Chart:
    import altair as alt

    sowings = list(dict.fromkeys(row["sown"] for row in rows))
    base = alt.Chart(
        data(rows),
        width=size[0],
        height=alt.Step(size[1]),
        title=f"where nitrogen given {timing} ended",
    ).encode(
        y=alt.Y("sown:N", title=None, sort=sowings, axis={"ticks": False, "labelExpr": _SOWN_FIRST})
    )
    title = "share of the applied nitrogen (%)" if last else None
    axis = {"labels": last, "ticks": last}
    shades = {"domain": list(PLACES), "range": [colour for _, colour, _ in PLACES.values()]}
    bars = base.mark_bar(stroke="white", strokeWidth=1.5).encode(
        x=alt.X("percent:Q", title=title, stack="zero", scale=across, axis=axis),
        order=alt.Order("order:O"),
        color=alt.Color(
            "where:N",
            title=None,
            scale=shades,
            legend={"columns": 5, "symbolStrokeWidth": 0, "columnPadding": 12} if last else None,
        ),
    )
    figures = base.mark_text(baseline="middle").encode(
        x=alt.X("middle:Q", title=title),
        text="told:N",
        color=alt.Color("ink:N", scale=None, legend=None),
    )
    return alt.layer(bars, figures).resolve_scale(color="independent")


_SOWN_FIRST = "'sown ' + datum.label"
