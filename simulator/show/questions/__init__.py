"""The questions that a sheet answers, each a module.

Each has ``DEFAULTS``, the plans it is asked of when no others are given, and ``sheet``, which
grows them and puts the answer into two sentences, a chart and a table.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from simulator.show.questions.ask import Ask
    from simulator.show.sheet import Sheet

QUESTIONS = ("whatif", "sowing", "nitrogen", "termination", "risk", "why")


def defaults(question: str) -> Mapping[str, Sequence[str]]:
    """Return the plans that a question is asked of: ``sow, nitrogen, nitrogen_timing, end``."""
    found: Mapping[str, Sequence[str]] = import_module(f"{__name__}.{question}").DEFAULTS
    return found


def make_sheet(question: str, ask: Ask) -> Sheet:
    """Answer a question on a sheet.

    Parameters
    ----------
    question : str
        One of `QUESTIONS`.
    ask : Ask

    Returns
    -------
    Sheet

    Raises
    ------
    InputError
        Plans or weather that cannot answer it.
    """
    sheet: Sheet = import_module(f"{__name__}.{question}").sheet(ask)
    return sheet
