"""What is wrong with a weather file, row by row."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.check.data import report_json
    from simulator.answers.check.words import report_text

__all__ = ["report_json", "report_text"]

__getattr__ = lazy_names(__name__, {"report_json": "data", "report_text": "words"})
