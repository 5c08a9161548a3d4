"""Tables of Markdown."""

from __future__ import annotations

from collections.abc import Sequence


def table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Lay out a table, its bars escaped in cells."""
    lines = [[cell.replace("|", r"\|") for cell in row] for row in (header, *rows)]
    laid = [f"| {' | '.join(cells)} |" for cells in lines]
    return "\n".join([laid[0], "|---" * len(header) + "|", *laid[1:]])
