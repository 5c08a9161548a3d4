"""The sheet as a file, .html or .pdf."""

from __future__ import annotations

from pathlib import Path

from simulator.answers.sheet.layout import Sheet, html
from simulator.show.output import write_whole

SUFFIXES = (".html", ".pdf")


def write_sheet(sheet: Sheet, path: Path, *, paper: str) -> None:
    """Write the sheet as .html or .pdf, whole or not at all.

    Parameters
    ----------
    sheet : Sheet
    path : Path
    paper : {"letter", "a4"}
        Of the PDF; the page is printed on either.

    Raises
    ------
    InputError
        Where the disk refuses.
    """
    if path.suffix.lower() == ".pdf":
        from simulator.answers.sheet.pdf import pdf

        data = pdf(sheet, paper)
    else:
        data = html(sheet).encode()
    write_whole(path, lambda made: made.write_bytes(data))
