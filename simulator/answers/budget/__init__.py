"""What plans cost, which reaches the target, what more pays."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.budget.calculate import Budget, Standing, itemise, standings
    from simulator.answers.budget.data import dataset

__all__ = ["Budget", "Standing", "dataset", "itemise", "standings"]

__getattr__ = lazy_names(
    __name__,
    {
        "Budget": "calculate",
        "Standing": "calculate",
        "dataset": "data",
        "itemise": "calculate",
        "standings": "calculate",
    },
)
