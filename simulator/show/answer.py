"""A whole answer for people: heading, what was found, tables, and what to keep in mind.

`Reply` is what every question gives, whether a command asked it or Python: the command prints its
text, a notebook shows its page.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any, Protocol

from simulator.problems import fault
from simulator.show.output import Answer
from simulator.show.tables import listed, paragraph, parts_of

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from simulator.show.picture import Picture

FEW_ROWS = 10  # of a table, that a notebook shows


class Says(Protocol):
    """What an answer has for people, whoever asks."""

    @property
    def heading(self) -> str:
        """What was asked of what."""

    @property
    def headline(self) -> str:
        """The first thing to know."""

    @property
    def sentences(self) -> list[str]:
        """What the numbers mean, the headline first."""

    @property
    def tables(self) -> list[str]:
        """Laid out for a terminal."""

    @property
    def cautions(self) -> list[str]:
        """What to keep in mind."""

    @property
    def dataset(self) -> xr.Dataset:
        """The numbers, SI."""

    def chart(self) -> Picture:
        """Draw it."""


@dataclass(frozen=True, kw_only=True, repr=False, eq=False)
class Reply(Says):
    """An answer, as `Says` has it: text and charts are made when they are asked for.

    Parameters
    ----------
    answer : Answer
        Numbers and sentences.
    lay_heading, lay_tables : callable
        Give the heading and the tables as text.
    draw : callable or None
        Gives the chart; None where there is nothing to draw.
    """

    answer: Answer
    lay_heading: Callable[[], str]
    lay_tables: Callable[[], Sequence[str]]
    draw: Callable[[], Any] | None

    @property
    def heading(self) -> str:
        """What was asked of what, wrapped to the terminal."""
        return self.lay_heading()

    @property
    def headline(self) -> str:
        """The first sentence."""
        return next(iter(self.answer.sentences), "")

    @property
    def sentences(self) -> list[str]:
        """What the numbers mean."""
        return list(self.answer.sentences)

    @property
    def tables(self) -> list[str]:
        """Laid out for a terminal, each with its title."""
        return list(self.lay_tables())

    @property
    def cautions(self) -> list[str]:
        """What to keep in mind."""
        return list(self.answer.cautions)

    @property
    def notes(self) -> list[str]:
        """What was filled, moved or left out of the weather."""
        return [*self.answer.left_out, *self.answer.notes]

    @property
    def dataset(self) -> xr.Dataset:
        """The numbers, SI, with units and meanings."""
        return self.answer.data

    @property
    def text(self) -> str:
        """Everything, as the command prints it."""
        return answer_text(self.answer, self.heading, self.tables)

    def to_xarray(self) -> xr.Dataset:
        """Return the numbers as a Dataset, SI, with units and meanings."""
        return self.answer.data

    def to_dataframe(self) -> pd.DataFrame:
        """Return the numbers as a table, SI, a row each of what JSON has as ``rows``."""
        import pandas as pd

        return pd.DataFrame(self.answer.rows)

    def chart(self) -> Picture:
        """Draw it, as the command does.

        Raises
        ------
        InputError
            There is nothing to draw.
        """
        from simulator.show.picture import Picture

        if self.draw is None:
            raise fault(
                "chart", "This answer has nothing to draw.", "Take its numbers from to_dataframe()."
            )
        return Picture(self.draw())

    def __repr__(self) -> str:
        title, head, rows = self._table()
        cut = [*rows[:FEW_ROWS], _more(rows)] if len(rows) > FEW_ROWS else rows
        blocks = [paragraph(self.headline), self.heading, title, "\n".join([*head, *cut])]
        return "\n\n".join(block for block in blocks if block)

    def _repr_html_(self) -> str:
        title, head, rows = self._table()
        said = [
            f"<p><strong>{escape(self.headline)}</strong></p>" if self.headline else "",
            f"<p>{escape(' '.join(self.heading.split()))}</p>",
            f"<p>{escape(' '.join(title.split()))}</p>" if title else "",
            _html_table(head, rows) if head else "",
        ]
        for called, texts in (
            ("What it means", self.sentences[1:]),
            ("Notes", self.notes),
            ("Keep in mind", self.cautions),
        ):
            if texts:
                points = "".join(f"<li>{escape(text)}</li>" for text in texts)
                said.append(f"<details><summary>{called}</summary><ul>{points}</ul></details>")
        return "\n".join(part for part in said if part)

    def _table(self) -> tuple[str, list[str], list[str]]:
        """Return the title, the lines of the head and the rows of the first table."""
        title = ""
        for block in "\n\n".join(self.lay_tables()).split("\n\n"):
            lines = block.splitlines()
            for at, line in enumerate(lines):
                if line and not line.strip("- "):
                    return title, lines[: at + 1], lines[at + 1 :]
            title = block
        return "", [], []


def _more(rows: Sequence[str]) -> str:
    return f"... and {len(rows) - FEW_ROWS:,} more rows: .text has them all"


def _html_table(head: Sequence[str], rows: Sequence[str]) -> str:
    """Make a table of HTML of one that `simulator.show.tables.table` laid out."""
    *titles, rule = head
    columns = parts_of(rule)

    def cells(line: str) -> list[str]:
        return [escape(line[part].strip()) for part in columns]

    laid = ["<br>".join(filter(None, column)) for column in zip(*map(cells, titles), strict=True)]
    header = "".join(f'<th scope="col">{title}</th>' for title in laid)
    body = "".join(
        "<tr>" + "".join(f"<td>{cell}</td>" for cell in cells(row)) + "</tr>"
        for row in rows[:FEW_ROWS]
    )
    more = f"<p>{escape(_more(rows))}</p>" if len(rows) > FEW_ROWS else ""
    return f"<table><thead><tr>{header}</tr></thead><tbody>{body}</tbody></table>{more}"


def answer_text(answer: Answer, head: str, tables: Sequence[str]) -> str:
    """Lay out an answer.

    Parameters
    ----------
    answer : Answer
    head : str
        What was asked, wrapped.
    tables : sequence of str
        Already laid out.

    Returns
    -------
    str
        Blocks with blank lines between them.
    """
    said = "\n".join(paragraph(sentence) for sentence in answer.sentences)
    blocks = [head, said, *tables]  # the first screen is the answer; its numbers follow
    blocks.append(listed("Left out:", answer.left_out))
    blocks.append(listed("Notes:", answer.notes))
    blocks.append(listed("Keep in mind:", answer.cautions))
    return "\n\n".join(block for block in blocks if block)
