"""When to end a stand, and how."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.faces import face

if TYPE_CHECKING:
    from simulator.answers.timing.ask import (
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

__all__ = [
    "BALANCED",
    "ENOUGH_KILL",
    "ROLLED",
    "Waiting",
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
        "BALANCED": "ask",
        "ENOUGH_KILL": "ask",
        "ROLLED": "ask",
        "Waiting": "ask",
        "chart_rows": "data",
        "first_date": "ask",
        "grown": "chart",
        "median_stage": "data",
        "timing": "ask",
        "waiting": "ask",
    },
)
