"""Lessons: a script with its words, run, becomes a page of plain Markdown with its numbers.

A lesson is a Python script in cells, as editors and notebooks open it. What follows a line

- ``# %% [markdown]`` is text, each line behind ``# ``; ``{early:,.0f}`` stands for a value of the
  cells above it, in Python's own formats, so that no number of the model is typed by hand;
- ``# %%`` is code that the page shows, with what it prints;
- ``# %% [check]`` is code that the page does not show: it works out what the text says, and
  asserts it;
- ``# %% [command]`` is a command line, run as in a terminal. A line ``# picture: what it shows``
  puts the chart that it draws before what it prints. Of what it prints, a line
  ``# shown: one text | another`` keeps the tables and the sentences that have one of these texts,
  and the table under a paragraph that ends in a colon.

Charts that cells write (``--chart NAME.svg``, ``save("NAME.svg")``) go to the pictures.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import tempfile
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest import mock

from click.testing import CliRunner

from simulator.commands import fallsown
from simulator.show.tables import WIDEST

FOLDER = Path(__file__).resolve().parents[1] / "lessons"
PICTURES = FOLDER / "pictures"
CUT = "[…]"
WIDTH = 100
_MARK = r"(?:- |\d+\. )"  # of a list
_AS_IT_STANDS = ("#", "|", ">", "<", "!")  # headings, tables, quotations, folds, pictures

_CELL = re.compile(r"^# %%(?: \[(\w+)\])?\n", re.MULTILINE)
_VALUE = re.compile(r"\{([^{}\n]+)\}")
_LABEL = re.compile(r'aria-label="([^"]*)"')
_NUMBER = re.compile(r"-?\d[\d,]*\.?\d*(?:e-?\d+)?")


@dataclass(frozen=True)
class Page:
    """A lesson as it was run.

    Parameters
    ----------
    text : str
        The page, Markdown.
    pictures : dict of str to str
        SVG by file name.
    """

    text: str
    pictures: dict[str, str]


def scripts() -> list[Path]:
    """List the lessons' scripts, in the order in which they are taught."""
    return sorted(FOLDER.glob("[0-9]*.py"))


def run(script: Path) -> Page:
    """Run a lesson from its first cell to its last.

    Raises
    ------
    AssertionError
        A check of the lesson does not hold, or a command of it fails.
    """
    source = script.read_text(encoding="utf-8")
    cells = list(_CELL.finditer(source))
    ends = [*(cell.start() for cell in cells[1:]), len(source)]
    values: dict[str, Any] = {"__name__": script.stem}  # no file, as in a notebook
    made: list[str] = []
    with _elsewhere() as folder:
        for opened, end in zip(cells, ends, strict=True):
            kind, cell = opened[1], source[opened.end() : end]
            if kind == "markdown":
                made.append(_wrapped(_filled(_uncommented(cell), values)))
            elif kind == "command":
                made.append(_command(_uncommented(cell)))
            else:
                above = source.count("\n", 0, opened.end())  # so that a fault names its line
                printed = _execute("\n" * above + cell, script, values)
                if kind is None:
                    made.append(f"```python\n{cell.strip()}\n```")
                    made += [f"```text\n{printed.rstrip()}\n```"] if printed.strip() else []
        pictures = {
            file.name: _slim(file.read_text(encoding="utf-8"))
            for file in sorted(folder.glob("*.svg"))
        }
    return Page("\n\n".join(made) + "\n", pictures)


def page_of(script: Path) -> Path:
    """Return the page that a script becomes."""
    return script.with_suffix(".md")


def renew(script: Path) -> None:
    """Run a lesson and write its page and its pictures again."""
    page = run(script)
    page_of(script).write_text(page.text, encoding="utf-8")
    PICTURES.mkdir(exist_ok=True)
    for name, picture in page.pictures.items():
        (PICTURES / name).write_text(picture, encoding="utf-8")


def drawn(picture: str) -> list[str]:
    """List what a chart says: axes and marks with their values, to four digits.

    Letters are as wide as the machine's fonts make them, so two machines draw the same chart to
    different bytes; what it says must still be the same.
    """
    return [_NUMBER.sub(_rounded, label) for label in _LABEL.findall(picture)]


def _rounded(found: re.Match[str]) -> str:
    return f"{float(found[0].replace(',', '')):.4g}"


def _slim(picture: str) -> str:
    """Take from a chart the digits that no eye can see: most of all from its lines."""
    picture = re.sub(r"(\.\d\d)\d+", r"\1", picture.replace("><g", ">\n<g"))
    return re.sub(r' d="[^"]*"', lambda line: re.sub(r"(\.\d)\d", r"\1", line[0]), picture) + "\n"


@contextlib.contextmanager
def _elsewhere() -> Iterator[Path]:
    """Work for a while in an empty folder, on a terminal as wide as any other run's."""
    before = Path.cwd()
    wide = mock.patch.dict(os.environ, COLUMNS=str(WIDEST))
    with tempfile.TemporaryDirectory() as name, wide:
        os.chdir(name)
        try:
            yield Path(name)
        finally:
            os.chdir(before)


def _uncommented(cell: str) -> str:
    lines = cell.strip().splitlines()
    wrong = [line for line in lines if line != "#" and not line.startswith("# ")]
    assert not wrong, f"A line of text that does not begin with '# ': {wrong[0]}"
    return "\n".join(line[2:] for line in lines)


def _filled(text: str, values: dict[str, Any]) -> str:
    return _VALUE.sub(lambda found: eval(f"f'''{found[0]}'''", values), text)


def _wrapped(text: str) -> str:
    """Break lines anew, where values have made them longer or shorter than they were written."""
    return "\n\n".join(map(_broken, text.split("\n\n")))


def _broken(block: str) -> str:
    if block.startswith(_AS_IT_STANDS):
        return block
    items = re.split(rf"\n(?={_MARK})", block) if re.match(_MARK, block) else [block]
    marks = [re.match(rf"{_MARK}|", item) for item in items]
    return "\n".join(
        textwrap.fill(
            " ".join(item.split()),
            WIDTH,
            subsequent_indent=" " * len(mark[0]),
            break_long_words=False,
            break_on_hyphens=False,
        )
        for item, mark in zip(items, marks, strict=True)
        if mark
    )


def _execute(cell: str, script: Path, values: dict[str, Any]) -> str:
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(compile(cell, str(script), "exec"), values)
    return printed.getvalue()


def _command(cell: str) -> str:
    """Run a command line; return it, its picture, and what it printed, or what is wanted of it."""
    line, _, wanted = cell.partition("\nshown: ")
    line, _, seen = line.partition("\npicture: ")
    words = shlex.split(line.replace("\\\n", " "))
    assert words[0] == "fallsown", line
    result = CliRunner().invoke(fallsown, words[1:], catch_exceptions=False)
    assert result.exit_code == 0, f"{line}\n{result.stderr}"
    shown = result.stdout.rstrip() + "\n"
    if wanted:
        shown = _parts(shown, wanted.replace("\n", " ").split(" | "))
    parts = [f"```console\n{line}\n```", f"```text\n{shown.rstrip()}\n```"]
    if seen:
        assert "--chart" in words, f"{line}\ndraws no picture of: {seen}"
        parts.insert(1, f"![{seen}](pictures/{words[words.index('--chart') + 1]})")
    return "\n\n".join(parts)


def _parts(text: str, wanted: list[str]) -> str:
    """Keep the tables and sentences wanted; a paragraph that ends in a colon brings the next."""
    absent = [each for each in wanted if not any(each in one for one in _said(text))]
    assert not absent, f"'{absent[0]}' is not in what was printed:\n{text}"
    kept: list[str] = []
    announced = False
    for paragraph in text.rstrip().split("\n\n"):
        said = [paragraph] if announced else _said(paragraph)
        chosen = [one for one in said if announced or any(each in one for each in wanted)]
        if chosen:
            kept.append("\n".join(chosen))
        if len(chosen) < len(said) and kept and kept[-1] != CUT:
            kept.append(CUT)
        announced = bool(chosen) and paragraph.endswith(":")
    return "\n\n".join(kept if kept[-1] != CUT else kept[:-1])


def _said(text: str) -> list[str]:
    """Part what was printed at blank lines and, but for tables, at lines that end a sentence."""
    return [
        one.strip("\n")
        for paragraph in text.split("\n\n")
        for one in (
            [paragraph] if _is_table(paragraph) else re.split(r"(?<=\.\n)", paragraph + "\n")
        )
        if one.strip()
    ]


def _is_table(paragraph: str) -> bool:
    return any(line and not line.strip("- ") for line in paragraph.splitlines())
