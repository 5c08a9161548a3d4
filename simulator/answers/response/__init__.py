"""How biomass answers to nitrogen, and what a rate more brings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.faces import face

if TYPE_CHECKING:
    from simulator.answers.response.ask import (
        Response,
        field,
        marginal,
        one_plan,
        responses,
        spoken_rate,
    )
    from simulator.answers.response.chart import by_rate

__all__ = ["Response", "by_rate", "field", "marginal", "one_plan", "responses", "spoken_rate"]

__getattr__ = face(
    __name__,
    {
        "Response": "ask",
        "by_rate": "chart",
        "field": "ask",
        "marginal": "ask",
        "one_plan": "ask",
        "responses": "ask",
        "spoken_rate": "ask",
    },
)
