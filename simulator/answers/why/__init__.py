"""Why a year made more or less than others."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.faces import face

if TYPE_CHECKING:
    from simulator.answers.why.calculate import Why, why
    from simulator.answers.why.chart import bars
    from simulator.answers.why.data import dataset
    from simulator.answers.why.exchanged import PIECES
    from simulator.answers.why.table import pieces
    from simulator.answers.why.words import sentences

__all__ = ["PIECES", "Why", "bars", "dataset", "pieces", "sentences", "why"]

__getattr__ = face(
    __name__,
    {
        "PIECES": "exchanged",
        "Why": "calculate",
        "bars": "chart",
        "dataset": "data",
        "pieces": "table",
        "sentences": "words",
        "why": "calculate",
    },
)
