"""What changed weather does to biomass, to nitrogen, and to what nitrogen brings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.whatif.calculate import Effect, effects, mean_total, ordinary
    from simulator.answers.whatif.chart import before_and_after, rows
    from simulator.answers.whatif.table import whatif_tables
    from simulator.answers.whatif.words import sentences

__all__ = [
    "Effect",
    "before_and_after",
    "effects",
    "mean_total",
    "ordinary",
    "rows",
    "sentences",
    "whatif_tables",
]

__getattr__ = lazy_names(
    __name__,
    {
        "Effect": "calculate",
        "before_and_after": "chart",
        "effects": "calculate",
        "mean_total": "calculate",
        "ordinary": "calculate",
        "rows": "chart",
        "sentences": "words",
        "whatif_tables": "table",
    },
)
