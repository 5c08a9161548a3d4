"""What the plots of a trial say, and how ordinary its years were."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.plots.calculate import Found, find

__all__ = ["Found", "find"]

__getattr__ = lazy_names(__name__, {"Found": "calculate", "find": "calculate"})
