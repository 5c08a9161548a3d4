"""What the plots of a trial say of the model's parameters."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.fit.data import dataset
    from simulator.answers.fit.words import headline, sentences

__all__ = ["dataset", "headline", "sentences"]

__getattr__ = lazy_names(__name__, {"dataset": "data", "headline": "words", "sentences": "words"})
