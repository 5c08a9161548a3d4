"""The one kind of input error: what was wrong, where, and what to do."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

MOST_PRINTED = 40
_LONG_QUOTE = re.compile(r"'([^']{160})[^']+'")  # nobody reads on in what is quoted to them
STAND_IN = "\N{REPLACEMENT CHARACTER}"
_BLANKS = "\x0b\x0c\r\x1c\x1d\x1e\x1f\x85"  # they end a line
_UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_NO_BYTES = re.compile("[\ud800-\udc7f\udd00-\udfff]")  # surrogates that stand for no byte

_OPTION = re.compile(r"'fallsown [^']*'|--([a-z]+(?:-[a-z]+)*)")  # a command line stays one


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault in what the user gave.

    Parameters
    ----------
    where : str
        The place as the user would find it: ``"station.csv, line 3, column 'tmin'"``,
        ``"--sow"``, ``"plan: seeding"``.
    what : str
        What is wrong there, with the offending text, as a sentence.
    remedy : str
        What to do about it, as a sentence; may be empty where ``what`` already says it.
    """

    where: str
    what: str
    remedy: str = ""

    def __str__(self) -> str:
        what = _LONG_QUOTE.sub(r"'\1...'", self.what)
        return printable(f"{self.where}: {what} {self.remedy}".rstrip())


class InputError(ValueError):
    """What the user gave cannot be used; holds every fault found, not only the first.

    Parameters
    ----------
    problems : Problem or list of Problem
        At least one.
    """

    problems: list[Problem]

    def __init__(self, problems: Problem | list[Problem]) -> None:
        self.problems = [problems] if isinstance(problems, Problem) else list(problems)
        super().__init__(self.text())

    def text(self) -> str:
        """Write the faults as people read them, one a line, the count first."""
        if len(self.problems) == 1:
            return str(self.problems[0])
        lines = [f"{len(self.problems)} problems in the input:"]
        lines += [f"  {problem}" for problem in self.problems[:MOST_PRINTED]]
        if len(self.problems) > MOST_PRINTED:
            lines.append(f"  and {len(self.problems) - MOST_PRINTED} more like these.")
        return "\n".join(lines)


class WeatherDoubt(UserWarning):
    """What makes one wonder about weather that was read; the weather is used all the same."""


def fault(where: str, what: str, remedy: str = "") -> InputError:
    """Build an error for a single fault, to raise."""
    return InputError(Problem(where, what, remedy))


def in_python(error: InputError) -> InputError:
    """Return the same faults, told to who asks from Python: ``sow`` where it said ``--sow``."""
    return InputError(
        [
            Problem(*as_arguments([problem.where, problem.what, problem.remedy]))
            for problem in error.problems
        ]
    )


def as_arguments(texts: Iterable[str]) -> list[str]:
    """Call options in texts as the arguments of the same names: ``organic_matter``."""
    return [
        _OPTION.sub(lambda found: found[1].replace("-", "_") if found[1] else found[0], text)
        for text in texts
    ]


def printable(text: str) -> str:
    """Spell a text so that a terminal, a chart and a file take it.

    Parameters
    ----------
    text : str
        A name, an attribute, a cell or an option, as a user has it.

    Returns
    -------
    str
        Control characters other than tab and line feed, halves of a surrogate pair and what
        Unicode calls no character, all of which XML forbids or a terminal obeys, have given way:
        those that end a line to a blank, the others to U+FFFD.

    Examples
    --------
    >>> printable("Low" + chr(12) + "dale"), printable("Lowdale")
    ('Low dale', 'Lowdale')
    """
    return _UNPRINTABLE.sub(_stand_in, text)


def _stand_in(found: re.Match[str]) -> str:
    return " " if found[0] in _BLANKS else STAND_IN


def unprintable_note(where: str, told: str = "") -> str:
    """Return the note of what `printable` changed, and where."""
    return (
        f"{where} has characters that cannot be printed{told}: blanks or {STAND_IN} stand for them"
    )


def shown_path(text: str) -> str:
    """Spell text that holds a path so that it can be written down.

    A path may hold bytes that the terminal's encoding does not know; Python carries them as lone
    surrogates, which no file takes. It may hold control characters too.
    """
    whole = _NO_BYTES.sub(STAND_IN, text)
    return printable(whole.encode("utf-8", "surrogateescape").decode("utf-8", "replace"))
