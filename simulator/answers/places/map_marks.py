"""What a map needs beside its points: names that do not collide, a scale, ends of its colours."""

from __future__ import annotations

import math
from collections.abc import Sequence

from simulator import units
from simulator.show.charts import TEXT, Row

LETTER = 0.56  # widest mean of a name's letters, as a share of their size
MOST_NAMED = 60  # places of which each may get its name; of more only the ends of the range do
DEGREE = 111.19  # km of a degree of latitude, on a sphere of 6371 km
KILOMETRES: dict[units.System, tuple[float, str]] = {"us": (1.609344, "mi"), "si": (1.0, "km")}
_NICE = (1.0, 2.0, 5.0, 10.0)
Box = tuple[float, float, float, float]  # left, right, bottom, top [px]


def ends_of(values: Sequence[float], least: float, bounds: tuple[float, float]) -> list[float]:
    """Return the lowest, middle and highest value of the colours: round ones about the values.

    Parameters
    ----------
    values : sequence of float
    least : float
        The least step that is worth a difference in colour.
    bounds : (float, float)
        That the colours do not go beyond.
    """
    low, high = min(values), max(values)
    step = max(least, _nice((high - low) / 4.0))
    low, high = math.floor(low / step) * step, math.ceil(high / step) * step
    if high - low < 2.0 * step:
        low, high = low - step, high + step
    low, high = max(low, bounds[0]), min(high, bounds[1])
    return [low, (low + high) / 2.0, high]


def _nice(value: float) -> float:
    """Return the largest of 1, 2, 5 times a power of ten that is not above a value."""
    if value <= 0.0:
        return 0.0
    power = 10.0 ** math.floor(math.log10(value))
    return max(step for step in _NICE if step * power <= value * (1 + 1e-9)) * power


def scale_rows(
    longitude: Sequence[float], latitude: Sequence[float], system: units.System
) -> list[Row]:
    """Return the two ends of a line of a round length at the lower left, the first with its text.

    Parameters
    ----------
    longitude, latitude : (float, float)
        What the map spans [degrees].
    system : {"us", "si"}
    """
    long, unit = KILOMETRES[system]
    wide = longitude[1] - longitude[0]
    of_degree = DEGREE * math.cos(math.radians(sum(latitude) / 2.0)) / long
    length = _nice(0.25 * wide * of_degree)
    start, height = longitude[0] + 0.03 * wide, latitude[0] + 0.03 * (latitude[1] - latitude[0])
    return [
        {"x": start, "y": height, "told": f"{length:,g} {unit}"},
        {"x": start + length / of_degree, "y": height, "told": ""},
    ]


def names_of(
    points: Sequence[Row],
    spans: dict[str, list[float]],
    size: tuple[int, int],
    radius: float,
    first: Sequence[str],
) -> list[Row]:
    """Find where names are written that run neither into each other nor into points.

    Parameters
    ----------
    points : sequence of dict
        ``site, x, y`` [degrees], and ``told``, what is written.
    spans : dict
        Of ``longitude`` and ``latitude``, what the map spans [degrees].
    size : (int, int)
        Of the map [px].
    radius : float
        Of a point [px].
    first : sequence of str
        Sites whose names get their room before the others.

    Returns
    -------
    list of dict
        ``told, x, y``, the middle of the text [degrees], and ``first``, whether it is one of those;
        a name without room is not among them, but for one of those that fits beside others.
    """
    left, bottom = spans["longitude"][0], spans["latitude"][0]
    wide, tall = (spans[axis][1] - spans[axis][0] for axis in ("longitude", "latitude"))
    across, up = size[0] / wide, size[1] / tall
    placed = {one["site"]: ((one["x"] - left) * across, (one["y"] - bottom) * up) for one in points}
    dots: list[Box] = [(x - radius, x + radius, y - radius, y + radius) for x, y in placed.values()]
    texts: list[Box] = []
    wanted = [one for one in points if len(points) <= MOST_NAMED or one["site"] in first]
    found = []
    for one in sorted(wanted, key=lambda one: one["site"] not in first):
        x, y = placed[one["site"]]
        half, high = LETTER * TEXT * len(one["told"]) / 2.0, 0.55 * TEXT
        aside, above = radius + half + 3.0, radius + high + 1.0
        sides = ((aside, 0.0), (-aside, 0.0), (0.0, above), (0.0, -above))
        boxes = [(x + dx - half, x + dx + half, y + dy - high, y + dy + high) for dx, dy in sides]
        boxes = [box for box in boxes if box[0] >= 0.0 <= box[2] and box[1] <= size[0]]
        boxes = [box for box in boxes if box[3] <= size[1] and _clear(box, texts)]
        box = next((box for box in boxes if _clear(box, dots)), None)
        if box is None and one["site"] in first and boxes:
            box = boxes[0]  # the title names it: rather across points than not at all
        if box is not None:
            texts.append(box)
            middle = {
                "x": left + (box[0] + box[1]) / 2.0 / across,
                "y": bottom + (box[2] + box[3]) / 2.0 / up,
            }
            found.append({"told": one["told"], **middle, "first": one["site"] in first})
    return found


def _clear(box: Box, others: Sequence[Box]) -> bool:
    """Say whether a box overlaps none of others."""
    return not any(
        box[0] < one[1] and one[0] < box[1] and box[2] < one[3] and one[2] < box[3]
        for one in others
    )
