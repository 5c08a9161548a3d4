"""The questions that a sheet answers, each a module.

Each has ``DEFAULTS``, the plans it is asked of when no others are given, and ``sheet``, which
grows them and puts the answer into two sentences, a chart and a table.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from simulator.answers.sheet.layout import Sheet
    from simulator.answers.sheet.questions.request import SheetRequest
    from simulator.units import System

QUESTIONS = ("whatif", "sowing", "nitrogen", "termination", "risk", "why")
# round figures of each system of units, where nothing is given
USUAL: Mapping[System, dict[str, str]] = {
    "us": {"change": "rain november = 11 inch", "seeding": "90 lb/acre", "target": "4000 lb/acre"},
    "si": {"change": "rain november = 280 mm", "seeding": "100 kg/ha", "target": "4500 kg/ha"},
}


def defaults(question: str, system: System) -> dict[str, list[str]]:
    """Return the plans that a question is asked of: ``sow, nitrogen, nitrogen_timing, end``.

    Rates are the same figures in either system: 30 lb/acre, or 30 kg/ha.
    """
    found: Mapping[str, Sequence[str]] = import_module(f"{__name__}.{question}").DEFAULTS
    unit = "lb/acre" if system == "us" else "kg/ha"
    return {
        name: [text.replace("lb/acre", unit) for text in texts] for name, texts in found.items()
    }


def make_sheet(question: str, request: SheetRequest) -> Sheet:
    """Answer a question on a sheet.

    Parameters
    ----------
    question : str
        One of `QUESTIONS`.
    request : SheetRequest

    Returns
    -------
    Sheet

    Raises
    ------
    InputError
        Plans or weather that cannot answer it.
    """
    sheet: Sheet = import_module(f"{__name__}.{question}").sheet(request)
    return sheet
