"""An answer whose findings stand before its tables."""

from __future__ import annotations

from dataclasses import dataclass, replace

from simulator.show.answer import Reply, answer_text
from simulator.show.tables import listed, paragraph


@dataclass(frozen=True, kw_only=True, repr=False, eq=False)
class PlotsReply(Reply):
    """What plots say: the first screen is the answer."""

    @property
    def text(self) -> str:
        """Everything, the findings first."""
        said = "\n".join(paragraph(one, first="- ") for one in self.answer.sentences)
        rest = replace(self.answer, sentences=[], cautions=[])
        caution = listed("Keep in mind:", self.answer.cautions)
        blocks = [answer_text(rest, f"{self.heading}\n\n{said}", self.tables), caution]
        return "\n\n".join(block for block in blocks if block)
