"""Which parameters an answer depends on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.sensitivity.calculate import sensitivity

__all__ = ["sensitivity"]

__getattr__ = lazy_names(__name__, {"sensitivity": "calculate"})
