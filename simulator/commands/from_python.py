"""The questions of the command line as Python functions: the same texts, the same answers.

Each function is made of the command of its name: its options, with underscores, are the function's
keyword arguments, and `make_reply` of the command's module reads and answers them for both.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Mapping
from keyword import iskeyword
from numbers import Integral
from os import PathLike, fspath
from typing import TYPE_CHECKING, Any, NoReturn

import click

from simulator.commands import module_of
from simulator.commands.shared import options, weather_options
from simulator.commands.shared.field_options import located_in_file
from simulator.problems import InputError, Parameter, Problem, fault
from simulator.season import arguments

if TYPE_CHECKING:
    import xarray as xr

    from simulator.show.answer import Reply

QUESTIONS = {  # function -> command
    **{
        name: name
        for name in (
            "whatif",
            "response",
            "risk",
            "why",
            "cover",
            "timing",
            "outlook",
            "budget",
            "sensitivity",
            "agree",
            "fit",
        )
    },
    "degree_days": "degreedays",
    "analyse_plots": "plots",
    "design_trial": "design",
}
# options of files, which Python has other ways for, and of the command line itself
_NOT_ASKED = (
    "weather",
    "latitude",
    "site",
    "units_of_file",
    "date_format",
    "chart",
    "json",
    "out",
    "map",
    "grid",
    "workers",
    "processes",
    "cluster",
    "memory",
    "overwrite",
    "write_prices",
    "save_field",
    "debug",
    "help",
)
# how a plot table has its dates; the parameter file of a fit
_ALL_THE_SAME = (
    ("agree", "date_format"),
    ("fit", "date_format"),
    ("fit", "out"),
    ("plots", "date_format"),
)
_RECORDS = "Write {'headland': simulator.read_weather('headland.csv')}, a record for each site."
_OPTION = re.compile(r"'fallsown [^']*'|--([a-z]+(?:-[a-z]+)*)")  # a command line stays one
_A_RECORD = "Write record = simulator.read_weather('station.csv'), and give record."


def __getattr__(name: str) -> Any:
    if name in QUESTIONS:
        made = globals()[name] = _function(name)
        return made
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def _function(name: str) -> Callable[..., Reply]:
    """Make the function of a question, its signature and its help from the command's options."""
    command = _command(name)
    takes = _takes(command)

    def with_record(record: xr.Dataset, **asked: Any) -> Reply:
        return ask_question(name, record, asked)

    def record_or_not(record: xr.Dataset | None = None, **asked: Any) -> Reply:
        return ask_question(name, record, asked)

    question: Any = with_record if _needs_weather(command) else record_or_not

    question.__name__ = question.__qualname__ = name
    question.__module__ = __name__
    kinds = inspect.Parameter
    signature = inspect.Signature(
        [
            kinds(
                "record",
                kinds.POSITIONAL_OR_KEYWORD,
                default=kinds.empty if _needs_weather(command) else None,
            ),
            *(
                kinds(
                    key,
                    kinds.KEYWORD_ONLY,
                    default=kinds.empty if option.required else _default(option),
                )
                for key, option in takes.items()
            ),
        ]
    )
    question.__signature__ = signature
    question.__doc__ = _help(command, takes)
    made: Callable[..., Reply] = question
    return made


def ask_question(
    name: str, record: xr.Dataset | Mapping[str, xr.Dataset] | None, given: Mapping[str, Any]
) -> Reply:
    """Ask a question as its command does.

    Parameters
    ----------
    name : str
        Of `QUESTIONS`.
    record : Dataset(time), or dict of these by site
        Weather, from `read_weather` or `sample_weather`; by site for the questions of trials.
    given : mapping
        The command's long options, with underscores: texts, or lists of texts.

    Returns
    -------
    Reply

    Raises
    ------
    InputError
        Anything that cannot be used, by the name of the argument.
    """
    command = _command(name)
    takes = _takes(command)
    if "weather" in given:
        raise fault("weather", "The record is the first argument.", _A_RECORD)
    arguments.known(given, takes, whose=name)
    line = [
        part
        for key, value in given.items()
        if value is not None
        for part in _words(key, takes[key], value)
    ]
    shown = ", ".join(
        ["record", *(f"{key}={arguments.shown(value)}" for key, value in given.items())]
    )
    of_trial = _of_trial(command)
    if record is None and not _needs_weather(command):
        weather: Any = {}
    else:
        weather = _by_site(record) if of_trial else _record(record)
    if of_trial:
        line += [f"--weather={site}=given" for site in weather]
        if given.get("plots") is None:
            raise fault("plots", "No plot table is named.", "Write plots='plots.csv'.")
    context = None
    try:
        context = command.make_context(name, line, help_option_names=options.HELP_NAMES)
        context.meta[options.LINE] = f"simulator.{name}({shown})"
        context.meta[weather_options.RECORDS if of_trial else weather_options.RECORD] = weather
        context.params["as_json"] = True  # nobody is to be warned of long tables
        with context:
            reply: Reply = module_of(QUESTIONS[name]).make_reply(**context.params)
    except click.UsageError as error:
        _refuse(error)
    except InputError as error:
        named = error if context is None else located_in_file(error, context.meta)
        raise InputError([_in_python(problem) for problem in named.problems]) from error
    return reply


def _command(name: str) -> click.Command:
    command: click.Command = module_of(QUESTIONS[name]).command
    return command


def _takes(command: click.Command) -> dict[str, click.Option]:
    """Return the options that Python may give, by the name that they have there."""
    found = {}
    for option in command.params:
        if isinstance(option, click.Option):
            long = _long(option)
            if long not in _NOT_ASKED or (command.name, long) in _ALL_THE_SAME:
                found[f"{long}_" if iskeyword(long) else long] = option
    return found


def _words(key: str, option: click.Option, value: Any) -> list[str]:
    """Spell an argument as the command line has it.

    Raises
    ------
    InputError
        It is none that could be written there.
    """
    name = max(option.opts, key=len)
    if option.is_flag:
        if not isinstance(value, bool):
            raise fault(
                key,
                f"{arguments.shown(value)} is neither True nor False.",
                f"Write {key}=True, or leave it out.",
            )
        return [name] if value else [*map(str, option.secondary_opts[:1])]
    values = arguments.listed(value)
    if values == []:
        raise fault(key, "It is empty.", f"Give a value, or leave {key} out.")
    texts = [_text(key, one) for one in ([value] if values is None else values)]
    if len(texts) > 1 and not option.multiple:
        if key != "years":
            raise fault(key, f"{len(texts)} values are given.", "Give one.")
        texts = [",".join(texts)]
    return [f"{name}={text}" for text in texts]


def _text(key: str, value: Any) -> str:
    if isinstance(value, PathLike):
        return str(fspath(value))
    if isinstance(value, bool) or not isinstance(value, (str, Integral, float)):
        raise fault(
            key, f"{arguments.shown(value)} is not text.", f"Write it as text: {key}='...'."
        )
    return str(value)


def _record(record: Any) -> xr.Dataset:
    """See that a record is one, and name its place if nobody has."""
    import xarray as xr

    if not isinstance(record, xr.Dataset):
        raise fault("record", f"{arguments.shown(record)} is not a weather record.", _A_RECORD)
    unsaid = {"site": "this record's place", "source": "a record in memory"}
    return record.assign_attrs(
        {name: text for name, text in unsaid.items() if not record.attrs.get(name)}
    )


def _by_site(records: Any) -> dict[str, xr.Dataset]:
    """See that records are named by their sites."""
    import xarray as xr

    if isinstance(records, xr.Dataset) or not isinstance(records, Mapping) or not records:
        what = "one record" if isinstance(records, xr.Dataset) else arguments.shown(records)
        raise fault("record", f"{what} does not say which site has which weather.", _RECORDS)
    if wrong := [site for site in records if not isinstance(site, str) or not site.strip()]:
        raise fault("record", f"{arguments.shown(wrong[0])} is not the name of a site.", _RECORDS)
    return {" ".join(site.split()): _record(record) for site, record in records.items()}


def _of_trial(command: click.Command) -> bool:
    """Say whether a command asks about a plot table, with weather by site."""
    return any(option.name == "plots" for option in command.params)


def _needs_weather(command: click.Command) -> bool:
    """Say whether a command of trials takes no plots without weather."""
    return not _of_trial(command) or any(
        option.name == "weather" and option.required for option in command.params
    )


def _refuse(error: click.UsageError) -> NoReturn:
    """Raise what click found wrong as a fault of an argument."""
    option = getattr(error, "param", None)
    name = Parameter(_long(option)) if option is not None else "options"
    raise InputError(_in_python(Problem(name, error.message))) from None


def _long(option: click.Parameter) -> str:
    """Return the name of an option, without its dashes."""
    return max(option.opts, key=len).lstrip("-").replace("-", "_")


def _in_python(problem: Problem) -> Problem:
    """Tell what is to be done in Python, where a command would take an option."""
    if problem.where == Parameter("latitude"):
        return Problem(
            "record",
            problem.what,
            "Give it: record.attrs['latitude'] = 31.3, or "
            "read_weather('station.csv', latitude=31.3).",
        )
    return problem


def _default(option: click.Option) -> Any:
    if option.is_flag:
        return option.default if isinstance(option.default, bool) else None
    default = option.default
    if option.multiple:
        listed = list(default) if isinstance(default, (list, tuple)) else []
        return listed[0] if len(listed) == 1 else listed or None
    return default if isinstance(default, (str, int, float)) else None


def _in_help(text: str) -> str:
    """Call the options that the help of a command mentions by the names of arguments."""
    return _OPTION.sub(lambda found: found[1].replace("-", "_") if found[1] else found[0], text)


def _help(command: click.Command, takes: Mapping[str, click.Option]) -> str:
    """Write the help of a function from that of a command."""
    description = inspect.cleandoc(command.callback.__doc__ or "") if command.callback else ""
    given = ["record : Dataset(time)", "    From `read_weather` or `sample_weather`."]
    if _of_trial(command):
        given = [
            "record : dict of str to Dataset(time)",
            "    Weather from `read_weather` by the sites of the plot table.",
        ]
        if not _needs_weather(command):
            given = [f"{given[0]}, optional", *given[1:]]
    lines = [_in_help(description), "", "Parameters", "----------", *given]
    for key, option in takes.items():
        kind = "bool" if option.is_flag else "str or list of str" if option.multiple else "str"
        if option.type.name.startswith(("integer", "float")):
            kind = "number"
        about = _in_help(" ".join((option.help or "").split()))
        lines += [f"{key} : {kind}" + ("" if option.required else ", optional"), f"    {about}"]
    lines += [
        "",
        "Returns",
        "-------",
        "Reply",
        "    ``.sentences``, ``.tables``, ``.cautions``, ``.to_dataframe()``, "
        "``.to_xarray()`` and ``.chart()``; a notebook shows it as it is.",
        "",
        "Raises",
        "------",
        "InputError",
        "    Anything that cannot be used, by the name of the argument.",
    ]
    return "\n".join(lines)
