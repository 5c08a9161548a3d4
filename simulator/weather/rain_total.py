"""Bring the rain of a span of days to a total, by a rule that can be stated."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

# No day is raised above this [mm] unless the total asked for leaves no other way: about the
# wettest day in a decade of a humid warm coast.
MOST_RAIN_A_DAY = 150.0
WET_DAY = 0.1  # rain of a day that counts as wet [mm]
# A total is reached by scaling where at least one day in ten is wet, three in a month.
FEWEST_WET = 1 / 10
# Where it cannot, rain is put on every fifth day, six in a month.
DAYS_BETWEEN_ADDED = 5
ROUNDING = 1e-12  # of a total; less is not worth a wet day


def with_total(rain: NDArray[np.float64], total: float) -> NDArray[np.float64]:
    """Bring the rain of a span to a total.

    Lowering a total scales every wet day alike. Raising it does so where at least one day in
    ten is wet (0.1 mm), as far as no day exceeds `MOST_RAIN_A_DAY`. What is still wanting, all
    of it where fewer days are wet, goes in equal parts to every fifth day, counted so that they lie
    evenly (of 30 days the 3rd, 8th, 13th, ... 28th), up to the same most; then to all days; and
    only a total above that most for every day goes beyond it.

    Parameters
    ----------
    rain : ndarray, shape (days,)
        Daily rain without missing days [mm], at least one day.
    total : float
        The sum wanted [mm].

    Returns
    -------
    ndarray, shape (days,)
        Daily rain [mm], none negative.
    """
    there = math.fsum(rain)
    if total <= there:
        return rain * (total / there) if there > 0 else rain
    made = rain.copy()
    if np.count_nonzero(rain >= WET_DAY) >= max(1, round(rain.size * FEWEST_WET)):
        made *= min(total / there, max(1.0, MOST_RAIN_A_DAY / rain.max()))
    count = max(1, round(rain.size / DAYS_BETWEEN_ADDED))
    added = ((np.arange(count) + 0.5) * rain.size / count).astype(int)
    for where in (added, np.arange(rain.size)):
        _fill(made, where, total)
    left = total - math.fsum(made)
    if left > ROUNDING * total:
        made += left / made.size
    return made * (total / math.fsum(made))  # takes off the last rounding


def _fill(rain: NDArray[np.float64], where: NDArray[np.int64], total: float) -> None:
    """Raise the days `where` by equal parts until the total or each day's most is reached."""
    for _ in range(where.size):  # each round fills at least one day, or reaches the total
        open_days = where[rain[where] < MOST_RAIN_A_DAY]
        wanting = total - math.fsum(rain)
        if open_days.size == 0 or wanting <= ROUNDING * total:
            return
        share = wanting / open_days.size
        rain[open_days] = np.minimum(rain[open_days] + share, MOST_RAIN_A_DAY)
