"""Every plan in every year, and which choice matters most."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.compare.calculate import main_effects
    from simulator.answers.compare.chart import by_sowing
    from simulator.answers.compare.table import compare_tables

__all__ = ["by_sowing", "compare_tables", "main_effects"]

__getattr__ = lazy_names(
    __name__, {"by_sowing": "chart", "compare_tables": "table", "main_effects": "calculate"}
)
