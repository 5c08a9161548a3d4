"""What plans cost, which reaches the target, what more pays."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.faces import face

if TYPE_CHECKING:
    from simulator.answers.budget.calculate import Budget, Standing, itemise, standings
    from simulator.answers.budget.data import dataset

__all__ = ["Budget", "Standing", "dataset", "itemise", "standings"]

__getattr__ = face(
    __name__,
    {
        "Budget": "calculate",
        "Standing": "calculate",
        "dataset": "data",
        "itemise": "calculate",
        "standings": "calculate",
    },
)
