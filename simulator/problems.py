"""The one kind of input error: what was wrong, where, and what to do."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

MOST_PRINTED = 40
_LONG_QUOTE = re.compile(r"'([^']{160})[^']+'")  # nobody reads on in what is quoted to them
STAND_IN = "\N{REPLACEMENT CHARACTER}"
_BLANKS = "\x0b\x0c\r\x1c\x1d\x1e\x1f\x85"  # they end a line
_UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_NO_BYTES = re.compile("[\ud800-\udc7f\udd00-\udfff]")  # surrogates that stand for no byte

Spelling = Callable[["Parameter"], str]  # how a surface writes a parameter


class Parameter(str):
    """A parameter of a question, which each surface spells its own way.

    As it stands it is written as in Python: ``nitrogen_timing``. The command line spells it with
    dashes (`as_option`), the page by its control.

    Parameters
    ----------
    name : str
        As in Python.
    value : object, optional
        What is to be given for it: ``latitude 31.3``.
    """

    name: str
    value: str

    def __new__(cls, name: str, value: object = "") -> Parameter:
        """Write it as in Python."""
        made = super().__new__(cls, f"{name} {value}".rstrip())
        made.name, made.value = name, str(value)
        return made


class Text(str):
    """Text that mentions parameters; as it stands it names them as in Python.

    Parameters
    ----------
    *parts : str
        Joined as they are; each a plain text, a `Parameter`, or such a text again.
    """

    parts: tuple[str, ...]

    def __new__(cls, *parts: str) -> Text:
        """Join the parts."""
        made = super().__new__(cls, "".join(parts))
        made.parts = parts
        return made


def spelled(text: str, spelling: Spelling | None) -> str:
    """Write a text with the parameters that it mentions as a surface spells them.

    Parameters
    ----------
    text : str
        Plain, or a `Text` or `Parameter`.
    spelling : callable or None
        Of the surface; None leaves the names as in Python.
    """
    if spelling is None:
        return str(text)
    if isinstance(text, Parameter):
        return spelling(text)
    if isinstance(text, Text):
        return "".join(spelled(part, spelling) for part in text.parts)
    return text


def as_option(parameter: Parameter) -> str:
    """Spell a parameter as the command line does, with dashes."""
    return f"--{parameter.name.replace('_', '-')} {parameter.value}".rstrip()


def command_line(command: str, *given: str) -> str:
    """Write a command for the reader to copy, the same wherever it is told.

    Parameters
    ----------
    command : str
    *given : str
        What stands after it: words, and a `Parameter` for each option.
    """
    return " ".join(["fallsown", command, *(spelled(one, as_option) for one in given)])


def parameters_named(*names: str) -> Text:
    """Name several parameters, with commas between them."""
    parts: list[str] = [", "] * (2 * len(names) - 1)
    parts[::2] = [Parameter(name) for name in names]
    return Text(*parts)


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault in what the user gave.

    Parameters
    ----------
    where : str
        The place as the user would find it: ``"station.csv, line 3, column 'tmin'"``,
        ``Parameter("sow")``, ``"plan: seeding"``.
    what : str
        What is wrong there, with the offending text, as a sentence.
    remedy : str
        What to do about it, as a sentence; may be empty where ``what`` already says it.
    """

    where: str
    what: str
    remedy: str = ""

    def __str__(self) -> Text:
        what = _each_part(self.what, _shortened)
        text = Text(self.where, ": ", what, *([" ", self.remedy] * bool(self.remedy)))
        return Text(_each_part(text, printable))

    def text(self, spelling: Spelling | None = None) -> str:
        """Write the fault as people read it, parameters as a surface spells them."""
        return spelled(str(self), spelling)

    def spelled(self, spelling: Spelling | None) -> Problem:
        """Return it with parameters as a surface spells them."""
        return Problem(*(spelled(text, spelling) for text in (self.where, self.what, self.remedy)))


def _each_part(text: str, change: Callable[[str], str]) -> str:
    """Change a text, and keep the parameters that it mentions."""
    if isinstance(text, Text):
        return Text(*(_each_part(part, change) for part in text.parts))
    if isinstance(text, Parameter):
        return Parameter(text.name, change(text.value))
    return change(text)


def _shortened(text: str) -> str:
    return _LONG_QUOTE.sub(r"'\1...'", text)


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

    def __reduce__(self) -> tuple[type[InputError], tuple[list[Problem]]]:
        return InputError, (self.problems,)

    def text(self, spelling: Spelling | None = None) -> str:
        """Write the faults as people read them, one a line, the count first."""
        if len(self.problems) == 1:
            return self.problems[0].text(spelling)
        lines = [f"{len(self.problems)} problems in the input:"]
        lines += [f"  {problem.text(spelling)}" for problem in self.problems[:MOST_PRINTED]]
        if len(self.problems) > MOST_PRINTED:
            lines.append(f"  and {len(self.problems) - MOST_PRINTED} more like these.")
        return "\n".join(lines)


class WeatherDoubt(UserWarning):
    """What makes one wonder about weather that was read; the weather is used all the same."""


def fault(where: str, what: str, remedy: str = "") -> InputError:
    """Build an error for a single fault, to raise."""
    return InputError(Problem(where, what, remedy))


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


def unprintable_note(where: str, shown: str = "") -> str:
    """Return the note of what `printable` changed, and where."""
    return (
        f"{where} has characters that cannot be printed{shown}: blanks or {STAND_IN} stand for them"
    )


def shown_path(text: str) -> str:
    """Spell text that holds a path so that it can be written down.

    A path may hold bytes that the terminal's encoding does not know; Python carries them as lone
    surrogates, which no file takes. It may hold control characters too.
    """
    whole = _NO_BYTES.sub(STAND_IN, text)
    return printable(whole.encode("utf-8", "surrogateescape").decode("utf-8", "replace"))
