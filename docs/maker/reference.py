"""The reference, written from the code: public names, processes, parameters, commands, fields."""

from __future__ import annotations

import inspect
import pkgutil
from collections.abc import Iterator, Sequence
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any

import click

import simulator
from docs.maker.docstrings import bulleted, described, entry, plain
from docs.maker.fields import fields_page
from docs.maker.tables import table
from docs.maker.weather_files import weather_files_page
from simulator.commands import fallsown

FOLDER = Path(__file__).resolve().parents[1] / "reference"
MADE = (
    "<!-- Made from the code by `python -m docs.maker reference`: change the docstring, "
    "not this page. -->"
)

# rooms whose insides a reader of equations asks for; the others are read in the code
ROOMS = {
    "process": "one natural process a file: functions of floats, each with its equation's source",
    "parameters": "cereals, soils, previous crops, fertilizers, residues, prices",
}


def pages() -> dict[str, str]:
    """Make every page of the reference.

    Returns
    -------
    dict of str to str
        File name to Markdown.
    """
    made = {
        "README.md": _index(),
        "python.md": _front_door(),
        **{f"{room}.md": _room(room) for room in ROOMS},
        "commands.md": _commands(),
        "fields.md": fields_page(),
        "weather-files.md": weather_files_page(),
    }
    return {name: f"{MADE}\n\n{text.strip()}\n" for name, text in made.items()}


def renew() -> list[Path]:
    """Write the reference again, and take away pages that it no longer has."""
    FOLDER.mkdir(exist_ok=True)
    made = pages()
    for old in FOLDER.glob("*.md"):
        if old.name not in made:
            old.unlink()
    for name, text in made.items():
        (FOLDER / name).write_text(text, encoding="utf-8")
    return [FOLDER / name for name in made]


def modules(room: str) -> Iterator[ModuleType]:
    """Import the files of a room, its own folders included, in the order of their names."""
    package = import_module(f"simulator.{room}")
    for found in sorted(
        pkgutil.walk_packages(package.__path__, f"{package.__name__}."), key=lambda one: one.name
    ):
        if not found.name.rpartition(".")[2].startswith("_"):
            yield import_module(found.name)


def public(module: ModuleType) -> dict[str, Any]:
    """Functions and classes that a file defines for others, compiled ones as plain Python."""
    found = {}
    for name, value in vars(module).items():
        made = plain_function(value)
        if (
            not name.startswith("_")
            and (inspect.isfunction(made) or inspect.isclass(made))
            and made.__module__ == module.__name__
        ):
            found[name] = made
    return found


def plain_function(value: Any) -> Any:
    """Return what stands behind a compiled or cached function; anything else as it is."""
    return inspect.unwrap(getattr(value, "py_func", value)) if callable(value) else value


def _index() -> str:
    rooms = [[f"[{room}]({room}.md)", about] for room, about in ROOMS.items()]
    return "\n\n".join(
        [
            "# Reference",
            "- [The front door from Python](python.md): what `import simulator` gives\n"
            "- [Commands](commands.md) and their options\n"
            "- [Fields](fields.md) of a row, with units\n"
            "- [Weather files](weather-files.md): layouts that are read",
            "What the model rests on:",
            table(["room", "what is there"], rooms),
            "Inside, every number is a float in SI as the trade writes it (degC, mm, kg/ha, "
            "MJ m-2 d-1,\ndegC d); units are taken off and put on by `simulator.units`.",
            "What is not told here is for whoever changes it: the code tells it.",
        ]
    )


def _front_door() -> str:
    parts = ["# The front door from Python", "```python\nimport simulator\n```"]
    for name in simulator.__all__:
        parts.append(entry(name, plain_function(getattr(simulator, name))))
    return "\n\n".join(parts)


def _room(room: str) -> str:
    parts = [f"# `simulator.{room}`", described(import_module(f"simulator.{room}"))]
    parts += [part for module in modules(room) for part in _file(module)]
    return "\n\n".join(parts)


def _file(module: ModuleType) -> Sequence[str]:
    found = public(module)
    if not found:
        return []
    return [
        f"## `{module.__name__}`",
        described(module),
        *(entry(name, made) for name, made in found.items()),
    ]


def _commands() -> str:
    context = click.Context(fallsown, info_name="fallsown", **fallsown.context_settings)
    parts = [
        "# Commands",
        "`fallsown COMMAND --help` shows the same. Exit code 0 when done, 2 for a fault in the "
        "input, 1 for\na fault of ours, 130 when interrupted.",
    ]
    for name in fallsown.list_commands(context):
        command = fallsown.get_command(context, name)
        assert command is not None
        parts += [f"## `fallsown {name}`", _prose(command.help or ""), _options(command, context)]
    return "\n\n".join(parts)


def _prose(text: str) -> str:
    return plain(inspect.cleandoc(text))


def _options(command: click.Command, context: click.Context) -> str:
    inner = click.Context(command, info_name=command.name, parent=context)
    items = []
    for parameter in command.get_params(inner):
        if isinstance(parameter, click.Argument):
            items.append(f"`{parameter.make_metavar(inner)}`: the file or name asked about.")
        elif record := parameter.get_help_record(inner):
            items.append(f"`{record[0]}`: {plain(' '.join(record[1].split()))}")
    return bulleted(items)
