"""How surely a target is reached, by how late a sowing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.faces import face

if TYPE_CHECKING:
    from simulator.answers.risk.ask import (
        ALL,
        FIELDS,
        FORECAST,
        NITRATE_LIMIT,
        Risk,
        chances,
        risk_at,
        risk_in,
    )
    from simulator.answers.risk.chart import how_often
    from simulator.answers.risk.data import OUTER
    from simulator.answers.risk.words import in_falls, ordinary

__all__ = [
    "ALL",
    "FIELDS",
    "FORECAST",
    "NITRATE_LIMIT",
    "OUTER",
    "Risk",
    "chances",
    "how_often",
    "in_falls",
    "ordinary",
    "risk_at",
    "risk_in",
]

__getattr__ = face(
    __name__,
    {
        "ALL": "ask",
        "FIELDS": "ask",
        "FORECAST": "ask",
        "NITRATE_LIMIT": "ask",
        "OUTER": "data",
        "Risk": "ask",
        "chances": "ask",
        "how_often": "chart",
        "in_falls": "words",
        "ordinary": "words",
        "risk_at": "ask",
        "risk_in": "ask",
    },
)
