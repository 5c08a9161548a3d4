"""When to end a stand, and how."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.timing.calculate import (
        BALANCED,
        Waiting,
        beside_bare,
        first_date,
        timing,
        waiting,
    )
    from simulator.answers.timing.chart import grown
    from simulator.answers.timing.data import chart_rows, median_stage
    from simulator.answers.timing.seed import add_seed, seed_on
    from simulator.answers.timing.words import amount_more

__all__ = [
    "BALANCED",
    "Waiting",
    "add_seed",
    "amount_more",
    "beside_bare",
    "chart_rows",
    "first_date",
    "grown",
    "median_stage",
    "seed_on",
    "timing",
    "waiting",
]

__getattr__ = lazy_names(
    __name__,
    {
        "BALANCED": "calculate",
        "Waiting": "calculate",
        "add_seed": "seed",
        "amount_more": "words",
        "beside_bare": "calculate",
        "chart_rows": "data",
        "first_date": "calculate",
        "grown": "chart",
        "median_stage": "data",
        "seed_on": "seed",
        "timing": "calculate",
        "waiting": "calculate",
    },
)
