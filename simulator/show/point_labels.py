"""Names beside the points of a rising line: at no width does one run into another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from simulator.show.charts import Chart, haloed

LETTER = 0.56  # widest mean of a name's letters, as a share of their size
ASIDE = 9  # from the point to its name [px]
BETWEEN = 6  # two names [px]
SIDES = ("above", "under")  # at the left of a point; under the line, at its right


def beside(
    places: Sequence[float],
    names: Sequence[str],
    size: float,
    *,
    first: Sequence[str] = (),
) -> list[dict[str, Any]]:
    """Find on which side of its point each name is written, and from which width of the plot on.

    A wider plot moves points apart and leaves letters as they are, so that what has room in one
    has room in every wider one.

    Parameters
    ----------
    places : sequence of float
        Of the points along the axis: 0 at its beginning, 1 at its end.
    names : sequence of str
    size : float
        Of the letters [px].
    first : sequence of str
        Names that get their room before the others, the most wanted first.

    Returns
    -------
    list of dict
        ``above, under``, of which one is the name and the other empty, and ``narrowest`` [px].
    """
    wanted = {name: at for at, name in enumerate(first)}
    order = sorted(range(len(names)), key=lambda at: wanted.get(names[at], len(first)))
    taken: dict[str, list[int]] = {side: [] for side in SIDES}
    found: dict[int, dict[str, Any]] = {}
    for at in order:
        widths = {side: _narrowest(at, side, taken[side], places, names, size) for side in SIDES}
        side = min(SIDES, key=lambda one: widths[one])
        taken[side].append(at)
        found[at] = {**dict.fromkeys(SIDES, ""), side: names[at], "narrowest": widths[side]}
    return [found[at] for at in range(len(names))]


def _narrowest(
    at: int,
    side: str,
    taken: Sequence[int],
    places: Sequence[float],
    names: Sequence[str],
    size: float,
) -> int:
    """Return the width from which on a name is clear of the plot's end and of those placed."""

    def reach(one: int) -> float:
        return ASIDE + LETTER * size * len(names[one])

    def wide(room: float, share: float) -> float:
        return room / share if share > 0 else 1e6

    edge = places[at] if side == "above" else 1.0 - places[at]
    found = wide(reach(at), edge)
    for other in taken:
        left, right = sorted((at, other), key=lambda one: places[one])
        written = right if side == "above" else left  # it lies between the two points
        found = max(found, wide(reach(written) - ASIDE + BETWEEN, places[right] - places[left]))
    return math.ceil(found)


def written(marked: Chart, wide: str, **style: Any) -> tuple[Chart, ...]:
    """Write the names that have room.

    Parameters
    ----------
    marked : Chart
        The points, of rows as `beside` makes them.
    wide : str
        How wide the plot is: a number, or a parameter of the picture.
    **style
        Of the letters.
    """
    above, under = (
        marked.transform_filter(f"datum.narrowest <= {wide} && datum.{side}").encode(
            text=f"{side}:N"
        )
        for side in SIDES
    )
    return (
        *haloed(above, align="right", dx=-ASIDE, dy=-ASIDE, **style),
        *haloed(under, align="left", dx=ASIDE, dy=ASIDE + 3, **style),
    )
