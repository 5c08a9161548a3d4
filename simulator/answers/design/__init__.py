"""What a trial can show, planned over the falls of a record."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.design.calculate import Design, designed

__all__ = ["Design", "designed"]

__getattr__ = lazy_names(__name__, {"Design": "calculate", "designed": "calculate"})
