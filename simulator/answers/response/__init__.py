"""How biomass answers to nitrogen, and what a rate more brings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.response.calculate import (
        Response,
        field,
        marginal,
        one_plan,
        responses,
        spoken_rate,
    )
    from simulator.answers.response.chart import by_rate

__all__ = ["Response", "by_rate", "field", "marginal", "one_plan", "responses", "spoken_rate"]

__getattr__ = lazy_names(
    __name__,
    {
        "Response": "calculate",
        "by_rate": "chart",
        "field": "calculate",
        "marginal": "calculate",
        "one_plan": "calculate",
        "responses": "calculate",
        "spoken_rate": "calculate",
    },
)
