"""One page for a grower: a question, answered and printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.sheet.files import write_sheet
    from simulator.answers.sheet.layout import Sheet, html, text, titled

__all__ = ["Sheet", "html", "text", "titled", "write_sheet"]

__getattr__ = lazy_names(
    __name__,
    {
        "Sheet": "layout",
        "html": "layout",
        "text": "layout",
        "titled": "layout",
        "write_sheet": "files",
    },
)
