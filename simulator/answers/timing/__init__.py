"""When to end a stand, and how."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.faces import face

if TYPE_CHECKING:
    from simulator.answers.timing.calculate import (
        BALANCED,
        ENOUGH_KILL,
        ROLLED,
        Waiting,
        first_date,
        timing,
        waiting,
    )
    from simulator.answers.timing.chart import grown
    from simulator.answers.timing.data import chart_rows, median_stage
    from simulator.answers.timing.words import amount_more

__all__ = [
    "BALANCED",
    "ENOUGH_KILL",
    "ROLLED",
    "Waiting",
    "amount_more",
    "chart_rows",
    "first_date",
    "grown",
    "median_stage",
    "timing",
    "waiting",
]

__getattr__ = face(
    __name__,
    {
        "BALANCED": "calculate",
        "ENOUGH_KILL": "calculate",
        "ROLLED": "calculate",
        "Waiting": "calculate",
        "amount_more": "words",
        "chart_rows": "data",
        "first_date": "calculate",
        "grown": "chart",
        "median_stage": "data",
        "timing": "calculate",
        "waiting": "calculate",
    },
)
