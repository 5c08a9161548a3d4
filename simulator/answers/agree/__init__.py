"""How well simulated plots agree with measured ones."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.agree.data import dataset
    from simulator.answers.agree.words import headline, sentences

__all__ = ["dataset", "headline", "sentences"]

__getattr__ = lazy_names(__name__, {"dataset": "data", "headline": "words", "sentences": "words"})
