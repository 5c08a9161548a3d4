"""What the plots of a trial say, and how ordinary its years were."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.faces import face

if TYPE_CHECKING:
    from simulator.answers.plots.calculate import Found, find

__all__ = ["Found", "find"]

__getattr__ = face(__name__, {"Found": "calculate", "find": "calculate"})
