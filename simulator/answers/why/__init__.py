"""Why a year made more or less than others."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.why.calculate import Why, why
    from simulator.answers.why.chart import bars
    from simulator.answers.why.data import dataset
    from simulator.answers.why.month_shares import BIOMASS
    from simulator.answers.why.table import exchange_text, month_table
    from simulator.answers.why.words import other_ways, sentences

__all__ = [
    "BIOMASS",
    "Why",
    "bars",
    "dataset",
    "exchange_text",
    "month_table",
    "other_ways",
    "sentences",
    "why",
]

__getattr__ = lazy_names(
    __name__,
    {
        "BIOMASS": "month_shares",
        "Why": "calculate",
        "bars": "chart",
        "dataset": "data",
        "exchange_text": "table",
        "month_table": "table",
        "other_ways": "words",
        "sentences": "words",
        "why": "calculate",
    },
)
