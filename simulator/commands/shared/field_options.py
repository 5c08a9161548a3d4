"""--field and --save-field: a command's options filled in from a file, and kept in one.

The file stands between the command line and the defaults: click asks it (``default_map``) for
each option that was not given. No command knows of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from simulator.problems import InputError, Parameter, Problem

if TYPE_CHECKING:
    from simulator.commands.shared.field_file import FieldFile

FILLED = "fallsown.field"  # keys of what the click context keeps for us
SAVE = "fallsown.save field"

# what a question tries several of: one value in a file is not all that is to be tried
_TRIED: Mapping[str, tuple[str, ...]] = {
    "response": ("nitrogen",),
    "timing": ("end",),
    "budget": ("sow", "seeding", "nitrogen", "nitrogen_timing"),
    "design": ("sow", "seeding", "nitrogen"),
    "sheet sowing": ("sow",),
    "sheet nitrogen": ("nitrogen",),
    "sheet termination": ("end",),
}
SETS_PLAN_FIRST = "budget"  # beside what it tries: its --plan
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


class Filled(dict[str, Any]):
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
                self[option.name] = _as_given(value, repeatable=option.multiple)
        if context.command.name == SETS_PLAN_FIRST:
            plan = option_of(context.command, "plan")
            self[str(plan and plan.name)] = None

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
        from simulator.commands.shared.field_values import ABOUT_WEATHER, has_several

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
        from simulator.commands.shared.field_values import PLAN, has_several

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


def _as_given(value: Any, *, repeatable: bool) -> Any:
    """Return a value as the command line would give it: a list where it may be given again."""
    if repeatable:
        return list(value) if isinstance(value, list) else [value]
    return _one_text(value) if isinstance(value, list) else value


def _fill(context: click.Context, _: click.Parameter, path: str | None) -> None:
    if path is None or context.resilient_parsing:
        return
    from simulator.commands.shared.field_file import load_field

    filled = Filled(context, load_field(path))
    context.default_map = context.meta[FILLED] = filled


def _keep(context: click.Context, _: click.Parameter, path: Path | None) -> None:
    if path is not None:
        context.meta[SAVE] = path


VARIETY = click.option(
    "--variety",
    default="medium",
    show_default=True,
    metavar="CLASS|DAYS",
    help="early, medium or late, about 3 days apart at heading; or the days by which yours heads "
    "before or after a medium one: '6 days early'.",
)
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


def located_in_file(error: InputError, meta: Mapping[str, Any]) -> InputError:
    """Name the file and the key, not an option, where a fault is of what the file says.

    Parameters
    ----------
    error : InputError
    meta : mapping
        Of the click context.
    """
    filled: Filled | None = meta.get(FILLED)
    if filled is None:
        return error
    problems = []
    for one in error.problems:
        key = filled.key_used(one.where.name) if isinstance(one.where, Parameter) else None
        place = one.where if key is None else filled.file.where(key)
        problems.append(Problem(place, one.what, one.remedy))
    return InputError(problems)
