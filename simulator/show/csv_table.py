"""Rows as CSV, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from typing import Any


def table_text(about: Mapping[str, str], rows: Sequence[Mapping[str, Any]]) -> str:
    """Return rows as CSV, below comment lines of what they are about."""
    out = io.StringIO()
    for name, value in about.items():
        out.write(_comment(f"{name}: {value}"))
    table = csv.writer(out, lineterminator="\n")
    if rows:
        table.writerow(rows[0])
        for row in rows:
            table.writerow([cell(value) for value in row.values()])
    return out.getvalue()


def _comment(text: str) -> str:
    """Make one comment line, safe also where a spreadsheet splits it into cells."""
    line = re.sub(r"([,;\t]\s*)(?=[=+\-@])", r"\1'", " ".join(text.split()))
    return f"# {line}\n"


def cell(value: Any) -> Any:
    """Return a cell as CSV has it; text that a spreadsheet would run as a formula is defused."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str) and value.startswith(("=", "+", "-", "@", "\t", "\r")):
        return f"'{value}"
    if isinstance(value, float):
        return f"{value:.10g}"
    return value
