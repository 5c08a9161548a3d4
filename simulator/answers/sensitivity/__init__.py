"""Which parameters an answer depends on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.faces import face

if TYPE_CHECKING:
    from simulator.answers.sensitivity.calculate import sensitivity

__all__ = ["sensitivity"]

__getattr__ = face(__name__, {"sensitivity": "calculate"})
