"""Docstrings of functions and classes as Markdown."""

from __future__ import annotations

import inspect
import re
import textwrap
from collections.abc import Sequence
from typing import Any

WIDTH = 100
_UNDERLINE = re.compile(r"^-{3,}$")
_TABLES = ("Parameters", "Returns", "Yields", "Attributes", "Raises")


def entry(name: str, made: Any) -> str:
    """Describe a function or class under its heading.

    Parameters
    ----------
    name : str
    made : function or class

    Returns
    -------
    str
        Markdown: the signature, the summary, and each part of the docstring.
    """
    parts = [f"### `{name}`", f"```python\n{signature(name, made)}\n```", described(made)]
    if inspect.isclass(made):
        for method, function in _methods(made):
            about = f"`{signature(method, function)}`" if callable(function) else f"`{method}`"
            parts.append(f"**{about}**\n\n{described(function, tables=False)}")
    return "\n\n".join(part for part in parts if part)


def signature(name: str, made: Any) -> str:
    """Write a call as code: names and defaults; meaning and units stand in the table."""
    if inspect.isclass(made) and "__init__" not in vars(made):  # as a tuple with names
        return f"class {name}"
    found = inspect.signature(made.__init__ if inspect.isclass(made) else made)
    pieces: list[str] = []
    for one in found.parameters.values():
        if one.name in ("self", "cls"):
            continue
        if one.kind is one.KEYWORD_ONLY and "*" not in pieces and not _starred(pieces):
            pieces.append("*")
        stars = "*" * (one.kind is one.VAR_POSITIONAL) + "**" * (one.kind is one.VAR_KEYWORD)
        default = "" if one.default is one.empty else f"={_default(one.default)}"
        pieces.append(f"{stars}{one.name}{default}")
    line = f"{name}({', '.join(pieces)})"
    if len(line) <= WIDTH:
        return line
    lines = [""]
    for piece in pieces:  # never broken within a default
        if len(lines[-1]) + len(piece) > WIDTH - 8:
            lines.append("")
        lines[-1] += f" {piece}," if lines[-1] else f"    {piece},"
    inner = "\n".join(lines)
    return f"{name}(\n{inner}\n)"


def _starred(pieces: Sequence[str]) -> bool:
    return any(piece.startswith("*") for piece in pieces)


def _default(value: Any) -> str:
    if callable(value):
        return getattr(value, "__name__", "…")
    text = repr(value)
    return text if len(text) <= 60 and "<" not in text else "…"


def described(made: Any, *, tables: bool = True) -> str:
    """Turn a docstring into Markdown; without tables, only its words before the first part."""
    opening, parts = sections(inspect.getdoc(made) or "")
    laid = [opening]
    for title, body in parts if tables else []:
        if title in _TABLES:
            laid += [f"*{title}*", listed(body)]
        elif title == "Examples":
            laid += [f"*{title}*", f"```python\n{body}\n```"]
        else:
            laid += [f"*{title}*", unwrapped(body)]
    return "\n\n".join(part for part in laid if part)


def sections(doc: str) -> tuple[str, list[tuple[str, str]]]:
    """Part a docstring into what comes first and its titled parts."""
    lines = doc.splitlines()
    starts = [at for at in range(len(lines) - 1) if lines[at] and _UNDERLINE.match(lines[at + 1])]
    opening = unwrapped("\n".join(lines[: starts[0]] if starts else lines))
    ends = [*starts[1:], len(lines)]
    return opening, [
        (lines[start], textwrap.dedent("\n".join(lines[start + 2 : end])).strip("\n"))
        for start, end in zip(starts, ends, strict=False)
    ]


def listed(body: str) -> str:
    """Turn ``name : type`` and the lines under it into a list."""
    items: list[str] = []
    for line in body.splitlines():
        if line and not line[0].isspace():
            name, colon, kind = line.partition(" : ")
            items.append(f"`{name}`{f' ({plain(kind)})' if colon else ''}")
        elif line.strip():
            joint = " " if ": " in items[-1].partition("`")[2] else ": "
            items[-1] += joint + plain(line.strip())
    return bulleted(items)


def bulleted(items: Sequence[str]) -> str:
    """Lay out a list, its lines broken."""
    return "\n".join(
        textwrap.fill(
            f"- {item}",
            WIDTH,
            subsequent_indent="  ",
            break_on_hyphens=False,
            break_long_words=False,
        )
        for item in items
    )


def unwrapped(text: str) -> str:
    """Keep paragraphs, lists and code as they are; escape what Markdown would take for markup."""
    return plain(text.strip("\n").replace("::\n", ":\n"))


def plain(text: str) -> str:
    """Keep stars, angles and underscores of formulas from being read as markup; code stays."""
    pieces = re.split(r"(``.+?``|`[^`]+`|(?<![\w*])\*(?=\w)[^*]+(?<=\S)\*(?![\w*]))", text)
    kept = [
        piece.replace("``", "`") if at % 2 else re.sub(r"([*<>_])", r"\\\1", piece)
        for at, piece in enumerate(pieces)
    ]
    return "".join(kept)


def _methods(made: type) -> list[tuple[str, Any]]:
    """Public methods and properties that a class defines itself, with a docstring."""
    found = []
    for name, value in vars(made).items():
        function = value.fget if isinstance(value, property) else value
        function = getattr(function, "__func__", function)
        if name.startswith("_") or not inspect.isfunction(function) or not function.__doc__:
            continue
        found.append((name, value if isinstance(value, property) else function))
    return found
