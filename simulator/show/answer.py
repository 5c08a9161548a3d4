"""A whole answer for people: heading, tables, what they mean, and what to keep in mind."""

from __future__ import annotations

from collections.abc import Sequence

from simulator.show.output import Answer
from simulator.show.tables import listed, paragraph


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
    blocks = [head, *tables]
    blocks.append("\n".join(paragraph(sentence) for sentence in answer.sentences))
    blocks.append(listed("Left out:", answer.left_out))
    blocks.append(listed("Notes:", answer.notes))
    blocks.append(listed("Keep in mind:", answer.cautions))
    return "\n\n".join(block for block in blocks if block)
