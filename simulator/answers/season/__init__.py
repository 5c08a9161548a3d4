"""One season, day by day, and where its water and nitrogen went."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.season.words import balances, sentences

__all__ = ["balances", "sentences"]

__getattr__ = lazy_names(__name__, {"balances": "words", "sentences": "words"})
