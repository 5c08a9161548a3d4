"""``fallsown field``: what is in a field file, and what is wrong with it."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from simulator import __version__
from simulator.commands import module_of
from simulator.commands.shared import field_options, options, plan_options
from simulator.problems import InputError, Problem, as_option, printable, shown_path

if TYPE_CHECKING:
    from simulator.commands.shared.field_file import FieldFile

_NO_COMMAND = "none"
_NO_WEATHER = "It names no weather: give --weather beside it, or the sample tallow-bend is used."


@click.command("field", short_help="What is in a field file, and what is wrong with it.")
@click.argument("file", metavar="FILE")
@options.with_options(options.JSON, options.DEBUG_OPTION)
def command(file: str, as_json: bool) -> None:
    """Say what is in a field FILE, which questions use it, and what is wrong with it.

    Such a file keeps weather, soil and plan of one field, for --field of every question;
    --save-field writes one. Every fault is told, by its key, with what to do; the exit code is 2
    then. The files that it names are read too.
    """
    from simulator.commands.shared.field_file import content_of, understand

    read, problems = understand(content_of(file), file)
    notes, more = _look_further(read)
    if "weather" not in read.written and not problems:
        notes.append(_NO_WEATHER)
    problems += more
    uses = {key: _uses(read, key) for key in read.written}
    if as_json:
        click.echo(_json(read, uses, notes, problems))
    else:
        click.echo(_text(read, uses, notes, faulty=bool(problems)))
    if problems:
        raise InputError(problems)


def _look_further(file: FieldFile) -> tuple[list[str], list[Problem]]:
    """Read what the file names, and hold the soil test against the plan."""
    from simulator.parameters.files import read_parameters
    from simulator.parameters.prices import read_prices

    problems: list[Problem] = []
    notes = list(file.notes)
    for key, read in (("prices", read_prices), ("parameters", read_parameters)):
        if key in file.values:
            _gather(problems, file, key, partial(read, file.values[key]))
    _look_at_weather(file, notes, problems)
    if all(key in file.values for key in ("soil_nitrate", "sow", "nitrogen", "nitrogen_timing")):
        _gather(problems, file, "soil_nitrate", partial(_checked_soil_test, file))
    return notes, problems


def _gather(problems: list[Problem], file: FieldFile, key: str, read: Callable[[], object]) -> Any:
    """Return what is read, or None; faults that name no place of their own are of the key."""
    from simulator.commands.shared.field_file import at_key

    found: list[Problem] = []
    value = plan_options.gathered(found, read)
    for one in found:
        placed = at_key(one, file)
        if not placed.where.startswith(shown_path(file.path)):
            placed = Problem(f"{file.where(key)}: {placed.where}", placed.what, placed.remedy)
        problems.append(placed)
    return value


def _look_at_weather(file: FieldFile, notes: list[str], problems: list[Problem]) -> None:
    from simulator.commands.shared.field_file import weather_of
    from simulator.commands.shared.field_values import ABOUT_WEATHER
    from simulator.commands.shared.weather_sources import find_sources
    from simulator.parameters.soils import soil

    if (weather := file.values.get("weather")) is None:
        return
    about = {key: file.values.get(key) for key in ABOUT_WEATHER}
    sources = _gather(problems, file, "weather", partial(find_sources, [weather], about, soil))
    if sources is None:
        return
    found, left_out = sources
    if len(found) + len(left_out) > 1:
        notes.append(
            f"The weather is of {len(found) + len(left_out):,} places, which compare and risk "
            "take; other questions need the key site."
        )
        problems += left_out
        return
    record = _gather(problems, file, "weather", partial(weather_of, file))
    if record is None:
        return
    days = record["time"].values.astype("datetime64[D]")
    invented = " (an invented place)" if record.attrs.get("invented") == "yes" else ""
    notes.append(
        f"The weather is of {record.attrs['site']}{invented}, {record.attrs['latitude']:.1f} "
        f"degrees north, from {days[0]} to {days[-1]}."
    )
    notes += [
        f"{text}." for text in str(record.attrs.get("notes", "")).rstrip(".").split("; ") if text
    ]


def _checked_soil_test(file: FieldFile) -> object:
    from simulator.commands.shared.field_values import PLAN, texts_of
    from simulator.season.soil_test import measured_sets

    plan = plan_options.plans(
        **{key: texts_of(file.values.get(key, "04-15")) for key in PLAN if key != "seeding"},
        seeding=["90 lb/acre"],
    )
    return measured_sets(
        file.values.get("soil", "sandy loam"),
        file.values.get("previous_crop", "cotton"),
        soil_nitrate=file.values["soil_nitrate"],
        organic_matter=None,
        sow=plan["sow"],
        nitrogen=plan["nitrogen"],
        nitrogen_timing=plan["nitrogen_timing"],
    )


def _uses(file: FieldFile, key: str) -> dict[str, list[str]]:
    """Return the commands that use a key, and those that try several and are given one."""
    from simulator.answers.sheet.questions import QUESTIONS
    from simulator.commands.shared.field_values import has_several

    found: dict[str, list[str]] = {"used_by": [], "tried_by": []}
    for name, asked in _commands().items():
        if field_options.option_of(asked, key) is None:
            continue
        questions = QUESTIONS if name == "sheet" else (None,)
        tried = [
            " --question ".join(filter(None, [name, question]))
            for question in questions
            if field_options.tries_several(name, key, question)
            and not has_several(file.values[key])
        ]
        found["tried_by"] += tried
        if len(tried) < len(questions) or name == field_options.SETS_PLAN_FIRST:
            found["used_by"].append(name)
    return found


def _commands() -> dict[str, click.Command]:
    """Return the commands that take a field."""
    group = click.get_current_context().find_root().command
    if not isinstance(group, click.Group):
        return {}
    names = group.list_commands(click.get_current_context())
    found: dict[str, click.Command] = {name: module_of(name).command for name in names}
    return {name: one for name, one in found.items() if field_options.takes_field(one)}


def _text(
    file: FieldFile, uses: dict[str, dict[str, list[str]]], notes: list[str], *, faulty: bool
) -> str:
    from simulator.commands.shared.field_values import KEYS, PLAN
    from simulator.show.tables import Column, paragraph, table

    name = file.values.get("name")
    path = shown_path(file.path)
    heading = f"{name}, a field kept in {path}." if name else f"A field kept in {path}."
    rows = [
        [key, _value_text(file.written[key]), _commands_text(uses[key]["used_by"])]
        for key in KEYS
        if key in file.written and key != "name"
    ]
    columns = [Column(title, left=True) for title in ("key", "value", "used by")]
    parts = [paragraph(heading), table(columns, rows)] if rows else [paragraph(heading)]
    silent = [key for key in ("soil", "previous_crop", "cereal", *PLAN) if key not in file.written]
    said = [*notes] if faulty else [*notes, *_tried(uses)]
    if silent and not faulty:
        said.append(f"Not said, so each command takes its default: {', '.join(silent)}.")
    return "\n\n".join([*parts, "\n".join(paragraph(text) for text in said)]).rstrip()


def _tried(uses: dict[str, dict[str, list[str]]]) -> list[str]:
    """Say which questions keep their own values of what they try several of."""
    questions = dict.fromkeys(one for use in uses.values() for one in use["tried_by"])
    if not questions:
        return []
    listed = [
        f"{question} ({', '.join(key for key, use in uses.items() if question in use['tried_by'])})"
        for question in questions
    ]
    said = [
        f"Some questions try several values, and of these the file has one: {', '.join(listed)}. "
        "They try their own; list several in the file, or give them beside it, for others."
    ]
    if (name := field_options.SETS_PLAN_FIRST) in questions:
        said.append(f"{name} sets this plan first, and the usual one beside it.")
    return said


def _value_text(value: Any) -> str:
    text = " | ".join(value) if isinstance(value, list) else str(value)
    text = " ".join(printable(text).split())
    return text if len(text) <= 40 else f"{text[:37]}..."


def _commands_text(names: list[str]) -> str:
    """Name the commands that use a key, in few words."""
    every = list(_commands())
    missing = [name for name in every if name not in names]
    if not names:
        return _NO_COMMAND
    if not missing:
        return "all"
    return f"all but {', '.join(missing)}" if len(missing) <= 3 else ", ".join(names)


def _json(
    file: FieldFile,
    uses: dict[str, dict[str, list[str]]],
    notes: list[str],
    problems: list[Problem],
) -> str:
    rows = [{"key": key, "value": value, **uses[key]} for key, value in file.written.items()]
    return json.dumps(
        {
            "command": "field",
            "version": __version__,
            "inputs": {"file": shown_path(file.path)},
            "units": {},
            "cautions": [],
            "rows": rows,
            "notes": notes,
            "problems": [one.text(as_option) for one in problems],
        },
        indent=1,
    )
