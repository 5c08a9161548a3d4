"""How surely a target is reached, by how late a sowing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.risk.calculate import FIELDS, Risk, risk_at, risk_in
    from simulator.answers.risk.chance import ALL, FORECAST, NITRATE_LIMIT, chances
    from simulator.answers.risk.chart import how_often
    from simulator.answers.risk.data import OUTER
    from simulator.answers.risk.words import ordinary, surely

__all__ = [
    "ALL",
    "FIELDS",
    "FORECAST",
    "NITRATE_LIMIT",
    "OUTER",
    "Risk",
    "chances",
    "how_often",
    "ordinary",
    "risk_at",
    "risk_in",
    "surely",
]

__getattr__ = lazy_names(
    __name__,
    {
        "ALL": "chance",
        "FIELDS": "calculate",
        "FORECAST": "chance",
        "NITRATE_LIMIT": "chance",
        "OUTER": "data",
        "Risk": "calculate",
        "chances": "chance",
        "how_often": "chart",
        "ordinary": "words",
        "risk_at": "calculate",
        "risk_in": "calculate",
        "surely": "words",
    },
)
