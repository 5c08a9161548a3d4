"""--field and --save-field: a command's options filled in from a file, and kept in one.

The file stands between the command line and the defaults: click asks it (``default_map``) for
each option that was not given. No command knows of it.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click
from click.core import ParameterSource

from simulator.problems import InputError, Parameter, Problem, fault

if TYPE_CHECKING:
    from simulator.commands.shared.field_file import FieldFile

Function = TypeVar("Function", bound=Callable[..., Any])

FILLED = "fallsown.field"  # keys of what the click context keeps for us
SAVE = "fallsown.save field"

# what a question tries several of: one value in a file is not all that is to be tried
_TRIED: Mapping[str, tuple[str, ...]] = {
    "response": ("nitrogen",),
    "timing": ("end",),
    "budget": ("sow", "seeding", "nitrogen", "nitrogen_timing"),
    "sheet sowing": ("sow",),
    "sheet nitrogen": ("nitrogen",),
    "sheet termination": ("end",),
}
_OTHER_OPTIONS = {"name": "place"}  # options that are called otherwise than the key


def option_of(command: click.Command, key: str) -> click.Option | None:
    """Return the option of a command that a key fills in; None where it has none."""
    name = "--" + _OTHER_OPTIONS.get(key, key).replace("_", "-")
    found = [one for one in command.params if isinstance(one, click.Option) and name in one.opts]
    return found[0] if found else None


def takes_field(command: click.Command) -> bool:
    """Say whether a command has --field."""
    return any("--field" in one.opts for one in command.params)


def tries_several(command: str, key: str, question: str | None = None) -> bool:
    """Say whether a question tries several values of a key."""
    return key in _TRIED.get(f"{command} {question}" if question else command, ())


class _Filled(dict[str, Any]):
    """What a file says of a command's options, as click asks for it: by the parameter's name.

    Parameters
    ----------
    context : click.Context
    file : FieldFile
    """

    def __init__(self, context: click.Context, file: FieldFile) -> None:
        super().__init__()
        self.context, self.file = context, file
        self.keys_of: dict[str, str] = {}
        for key, value in file.values.items():
            option = option_of(context.command, key)
            if option is not None and option.name is not None:
                self.keys_of[option.name] = key
                self[option.name] = _as_given(value, several=option.multiple)
        if plan := option_of(context.command, "plan"):
            self[str(plan.name)] = None

    def __contains__(self, name: object) -> bool:
        return self.get(str(name)) is not None

    def __getitem__(self, name: str) -> Any:
        if (value := self.get(name)) is None:
            raise KeyError(name)
        return value

    def get(self, name: str, default: Any = None) -> Any:
        """Return what the file says of an option, where it has a say."""
        if name not in self.keys():
            return default
        if (key := self.keys_of.get(name)) is None:
            return self._plans() or default
        return super().get(name) if self._has_say(key) else default

    def _has_say(self, key: str) -> bool:
        from simulator.commands.shared.field_file import ABOUT_WEATHER, has_several

        if key in ABOUT_WEATHER and "weather" in self.file.values:
            return not self._given("weather")  # it describes the file's own weather
        question = self.context.params.get("question")
        tried = tries_several(str(self.context.command.name), key, question)
        return not tried or has_several(self.file.values[key])

    def _given(self, key: str) -> Any:
        """Return what the command line says of a key."""
        option = option_of(self.context.command, key)
        source = None if option is None else self.context.get_parameter_source(str(option.name))
        if option is None or source is not ParameterSource.COMMANDLINE:
            return None
        return self.context.params.get(str(option.name))

    def _plans(self) -> list[str]:
        """Return the file's plan as ``--plan`` has it, and the usual one to set beside it."""
        from simulator.commands.shared.field_file import PLAN, has_several

        if not any(key in self.file.values for key in PLAN):
            return []
        both = {key: self._given(key) or self.file.values.get(key) for key in PLAN}
        said = {key: _one_text(value) for key, value in both.items() if value}
        if any(has_several(text) for text in said.values()):
            return []
        plan = "; ".join(f"{key.replace('_', '-')}={text}" for key, text in said.items())
        return [plan, ""]

    def key_used(self, parameter: str) -> str | None:
        """Return the key that a parameter's value came from; None where it did not."""
        key = {"place": "name"}.get(parameter, parameter)
        option = option_of(self.context.command, key)
        if option is None or key not in self.file.values:
            return None
        source = self.context.get_parameter_source(str(option.name))
        return key if source is ParameterSource.DEFAULT_MAP else None


def _one_text(value: Any) -> str:
    return value if isinstance(value, str) else ", ".join(map(str, value))


def _as_given(value: Any, *, several: bool) -> Any:
    """Return a value as the command line would give it: a list where it may be given again."""
    if several:
        return list(value) if isinstance(value, list) else [value]
    return _one_text(value) if isinstance(value, list) else value


def _fill(context: click.Context, _: click.Parameter, path: str | None) -> None:
    if path is None or context.resilient_parsing:
        return
    from simulator.commands.shared.field_file import load_field

    filled = _Filled(context, load_field(path))
    context.default_map = context.meta[FILLED] = filled


def _keep(context: click.Context, _: click.Parameter, path: Path | None) -> None:
    if path is not None:
        context.meta[SAVE] = path


FIELD_FILE = (
    click.option(
        "--field",
        metavar="FILE",
        expose_value=False,
        is_eager=True,
        callback=_fill,
        help="A field kept in a file: weather, soil, plan. Options given beside it go before it; "
        "'fallsown field FILE' says what is in it.",
    ),
    click.option(
        "--save-field",
        metavar="FILE",
        type=click.Path(path_type=Path),
        expose_value=False,
        callback=_keep,
        help="Keep weather, soil and plan, as far as they are given here, in FILE.toml.",
    ),
)


def told_by_file(error: InputError, meta: Mapping[str, Any]) -> InputError:
    """Name the file and the key, not an option, where a fault is of what the file says.

    Parameters
    ----------
    error : InputError
    meta : mapping
        Of the click context.
    """
    filled: _Filled | None = meta.get(FILLED)
    if filled is None:
        return error
    problems = []
    for one in error.problems:
        key = filled.key_used(one.where.name) if isinstance(one.where, Parameter) else None
        place = one.where if key is None else filled.file.where(key)
        problems.append(Problem(place, one.what, one.remedy))
    return InputError(problems)


def saving(function: Function) -> Function:
    """Make a command keep the field that it was given, once it has answered."""

    @wraps(function)
    def answer(*arguments: Any, **given: Any) -> Any:
        context = click.get_current_context()
        path: Path | None = context.meta.get(SAVE)
        kept = None if path is None else _Kept.of(context, path)
        done = function(*arguments, **given)
        if kept is not None:
            kept.write()
        return done

    return answer  # type: ignore[return-value]


@dataclass(frozen=True, slots=True)
class _Kept:
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
    def of(cls, context: click.Context, path: Path) -> _Kept:
        """Gather what was given, on the command line or by the file of --field.

        Raises
        ------
        InputError
            A file that cannot be written, or is no field file; what a field cannot hold.
        """
        from simulator.commands.shared.field_file import KEYS

        filled: _Filled | None = context.meta.get(FILLED)
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
        if "weather" in given:
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
        from simulator.commands.shared.field_file import field_of
        from simulator.show.output import write_whole

        content = self.text().encode("utf-8")
        field_of(content, str(self.path))
        replaced = self.path.exists()
        option = Parameter("save_field")
        write_whole(self.path, lambda made: made.write_bytes(content), option=option)
        click.echo(
            f"{'Replaced' if replaced else 'Written'}: {self.path}, for --field; 'fallsown field "
            f"{self.path}' says what is in it.",
            err=True,
        )

    def text(self) -> str:
        """Return the file's text."""
        from simulator.commands.shared.field_file import HEADER, KEYS
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
    from simulator.commands.shared.field_file import ABOUT_WEATHER

    return key == "weather" or key in ABOUT_WEATHER


def _as_written(key: str, value: Any) -> Any:
    """Return what was given as a field file has it: one text, or a list of them."""
    if not isinstance(value, list | tuple):
        return value
    texts = [str(one) for one in value]
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
    from simulator.commands.shared.field_file import KEYS
    from simulator.commands.shared.weather_options import looks_like_file

    if KEYS[key].kind != "path":
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
    from simulator.commands.shared.field_file import KEYS, SUFFIX, is_field_file
    from simulator.show.output import check_destination

    option = Parameter("save_field")
    read = [str(value) for key, value in values.items() if KEYS[key].kind == "path"]
    check_destination(
        path, inputs=read, option=option, suffixes=(SUFFIX,), called="one of the files read"
    )
    if os.path.lexists(path) and not is_field_file(path):
        raise fault(
            option,
            f"'{path}' is there already, and is not a field file.",
            "Name a new file, or take it away.",
        )
