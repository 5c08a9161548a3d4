"""How long residue covers, saves soil, ties up nitrogen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.cover.calculate import Cover, cover

__all__ = ["Cover", "cover"]

__getattr__ = lazy_names(__name__, {"Cover": "calculate", "cover": "calculate"})
