"""How much of a stand lives on and grows back, by how it is ended and at which stage."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from simulator.parameters.terminations import ENOUGH_KILL, ROLLED, Way

Array = np.ndarray[Any, Any]

LABEL = (
    "How much of a stand a herbicide, a roller or a mower kills is for the product's label and "
    "local advice to say; the shares here are those of trials elsewhere."
)


@dataclass(frozen=True, slots=True)
class Left:
    """What one date of ending leaves of the stand, by one way to end it.

    Parameters
    ----------
    share, share_low, share_high : float
        Of the stand that lives on and grows back: expected, and the range of trials; means over
        falls, NaN where no stand lives.
    falls_poor : int
        Falls in which more than a tenth of it does.
    falls : int
        Falls with a living stand.
    """

    share: float
    share_low: float
    share_high: float
    falls_poor: int
    falls: int


def left_alive(stages: Array, way: Way = ROLLED) -> Left:
    """Tell what a way to end a stand leaves of it at the stages of the falls (fall,)."""
    known = stages[np.isfinite(stages)]
    if not known.size:
        return Left(float("nan"), float("nan"), float("nan"), 0, 0)
    middle, low, high = (float(way.left(known, which).mean()) for which in _WHICH)
    poor = int((way.kill(known) < ENOUGH_KILL - 1e-9).sum())
    return Left(middle, low, high, poor, int(known.size))


_WHICH = ("middle", "low", "high")
