"""Falls of weather like those of a record."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.generate.data import dataset
    from simulator.answers.generate.files import write_record
    from simulator.answers.generate.words import headline

__all__ = ["dataset", "headline", "write_record"]

__getattr__ = lazy_names(
    __name__, {"dataset": "data", "headline": "words", "write_record": "files"}
)
