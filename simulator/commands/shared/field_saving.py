"""--save-field: what a command was given of its field, written to a file."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import Any, TypeVar

import click
from click.core import ParameterSource

from simulator.commands.shared.field_options import FILLED, SAVE, Filled, option_of
from simulator.commands.shared.field_values import ABOUT_WEATHER, KEYS, PATHS
from simulator.problems import Parameter, fault, printable, shown_path

Function = TypeVar("Function", bound=Callable[..., Any])


def saving(function: Function) -> Function:
    """Make a command keep the field that it was given, once it has answered."""

    @wraps(function)
    def answer(*arguments: Any, **given: Any) -> Any:
        context = click.get_current_context()
        path: Path | None = context.meta.get(SAVE)
        kept = None if path is None else Kept.of(context, path)
        done = function(*arguments, **given)
        if kept is not None:
            kept.write()
        return done

    return answer  # type: ignore[return-value]


@dataclass(frozen=True, slots=True)
class Kept:
    """A field to be written.

    Parameters
    ----------
    path : Path
    values : dict
        By key, paths as seen from the file.
    defaults : dict
        What the command took where nothing was given.
    command : str
    """

    path: Path
    values: dict[str, Any]
    defaults: dict[str, Any]
    command: str

    @classmethod
    def of(cls, context: click.Context, path: Path) -> Kept:
        """Gather what was given, on the command line or by the file of --field.

        Raises
        ------
        InputError
            A file that cannot be written, or is no field file; what a field cannot hold.
        """
        filled: Filled | None = context.meta.get(FILLED)
        of_file = {} if filled is None else dict(filled.file.values)
        given: dict[str, Any] = {}
        defaults: dict[str, Any] = {}
        for key in KEYS:
            if (option := option_of(context.command, key)) is None:
                continue
            value = context.params.get(str(option.name))
            source = context.get_parameter_source(str(option.name))
            if source is ParameterSource.COMMANDLINE and value is not None:
                given[key] = _as_written(key, value)
            elif source is ParameterSource.DEFAULT and value not in (None, ()):
                defaults[key] = _as_written(key, value)
        if "weather" in given and "weather" in of_file:
            of_file = {key: value for key, value in of_file.items() if not _of_weather(key)}
        values = of_file | given
        _check_destination(path, values)
        return cls(
            path=path,
            values={key: _seen_from(path, key, values[key]) for key in KEYS if key in values},
            defaults={key: value for key, value in defaults.items() if key not in values},
            command=str(context.command.name),
        )

    def write(self) -> None:
        """Write the file whole, or not at all, and say so.

        Raises
        ------
        InputError
            The disk refuses, or the field could not be read again.
        """
        from simulator.commands.shared.field_file import check_length, field_of
        from simulator.show.output import write_whole

        content = self.text().encode("utf-8")
        check_length(content, shown_path(str(self.path)))
        field_of(content, str(self.path))
        replaced = self.path.exists()
        option = Parameter("save_field")
        write_whole(self.path, lambda made: made.write_bytes(content), option=option)
        path = shown_path(str(self.path))
        click.echo(
            f"{'Replaced' if replaced else 'Written'}: {path}, for --field; 'fallsown field "
            f"{path}' says what is in it.",
            err=True,
        )

    def text(self) -> str:
        """Return the file's text."""
        from simulator.commands.shared.field_file import HEADER
        from simulator.parameters.changed import value_text

        lines = [f"{HEADER}. Paths are as seen from this file.", ""]
        lines += [
            f"{key} = {value_text(value)}  # {KEYS[key].meaning}"
            for key, value in self.values.items()
        ]
        if self.defaults:
            lines += [
                "",
                f"# Not given: the defaults of 'fallsown {self.command}', which another command",
                "# may have otherwise. Take the # away to keep one.",
            ]
            lines += [f"# {key} = {value_text(value)}" for key, value in self.defaults.items()]
        return "\n".join(lines) + "\n"


def _of_weather(key: str) -> bool:
    return key == "weather" or key in ABOUT_WEATHER


def _as_written(key: str, value: Any) -> Any:
    """Return what was given as a field file has it: one text, or a list of them."""
    if isinstance(value, str):
        return value if key in PATHS else printable(value)
    if not isinstance(value, list | tuple):
        return value
    texts = [str(one) if key in PATHS else printable(str(one)) for one in value]
    if len(texts) > 1 and key == "weather":
        raise fault(
            Parameter("save_field"),
            f"The weather is of {len(texts)} sources, and a field has one.",
            "Give one --weather, or keep no field.",
        )
    return texts[0] if len(texts) == 1 else texts


def _seen_from(file: Path, key: str, value: Any) -> Any:
    """Return a path as it is seen from a file; what is no path, and a path from the root, stays.

    Raises
    ------
    InputError
        The path has bytes that no text can hold.
    """
    from simulator.commands.shared.weather_options import looks_like_file

    if key not in PATHS:
        return value
    text = str(value)
    if key == "weather" and not (os.path.exists(text) or looks_like_file(text)):
        return text  # a sample
    if not os.path.isabs(text):
        folder = file.resolve().parent
        try:
            text = os.path.relpath(Path(text).parent.resolve() / Path(text).name, folder)
        except ValueError:  # on another drive
            text = os.path.abspath(text)
    try:
        text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise fault(
            Parameter(key),
            f"'{text}' has characters that a field file cannot hold.",
            "Give the file another name.",
        ) from error
    return text


def _check_destination(path: Path, values: Mapping[str, Any]) -> None:
    """Refuse a file that could not be written, or that holds something else than a field."""
    from simulator.commands.shared.field_file import SUFFIX, is_field_file
    from simulator.show.output import check_destination

    option = Parameter("save_field")
    read = [str(value) for key, value in values.items() if key in PATHS]
    check_destination(
        path, inputs=read, option=option, suffixes=(SUFFIX,), called="one of the files read"
    )
    if os.path.lexists(path) and not is_field_file(path):
        raise fault(
            option,
            f"'{path}' is there already, and is not a field file.",
            "Name a new file, or take it away.",
        )
