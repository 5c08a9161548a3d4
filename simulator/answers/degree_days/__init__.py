"""Thermal time by every method, side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.degree_days.calculate import degree_days

__all__ = ["degree_days"]

__getattr__ = lazy_names(__name__, {"degree_days": "calculate"})
