"""Options that commands share, and the reading of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar, cast

import click

from simulator import progress_bar, units
from simulator.commands.shared.field_options import FIELD_FILE, VARIETY
from simulator.commands.shared.field_saving import saving
from simulator.commands.shared.measured import SAID, measured_inputs_and_notes, read_measured
from simulator.commands.shared.plan_options import gathered
from simulator.problems import InputError, Problem, Spelling, as_option, shown_path

if TYPE_CHECKING:
    import xarray as xr

    from simulator.parameters.cereals import Cereal
    from simulator.parameters.files import ParameterFile
    from simulator.parameters.model_error import ModelErrors

Function = TypeVar("Function", bound=Callable[..., Any])
Option = Callable[[Any], Any]

HELP_NAMES = ["-h", "--help"]  # click keeps those that a command was first asked with
DONE, OUR_FAULT, INPUT_FAULT, INTERRUPTED = 0, 1, 2, 130  # exit codes

ARGUMENTS = "fallsown.arguments"  # keys of what the click context keeps for us
DEBUG = "fallsown.debug"
CHANGED = "fallsown.parameters"
LINE = "fallsown.line"  # what stands for the command line where Python asks

# the plan of every command that takes one, of rye; what compares several holds it among them
USUAL_PLAN = {
    "sow": "10-20",
    "seeding": "90 lb/acre",
    "nitrogen": "30 lb/acre",
    "nitrogen_timing": "sowing",
    "end": "04-15",
}
SOWING_DATES = ("10-20", "11-05", "11-20", "12-08")  # usual ones, early to late
MOST_CHANGES_LISTED = 12

progress = progress_bar.progress  # commands look for it here


def with_options(*groups: Sequence[Option] | Option) -> Callable[[Function], Function]:
    """Give a command options, in the order in which its help shows them."""
    flat = [one for group in groups for one in (group if isinstance(group, Sequence) else [group])]

    def add(function: Function) -> Function:
        function = saving(function) if FIELD_FILE[0] in flat else function
        for option in reversed(flat):
            function = option(function)
        return function

    return add


def list_option(*names: str, default: Sequence[str] = (), help: str) -> Option:
    """Make an option that takes a list with commas, or may be given again, or both."""
    shown = f"  [default: {','.join(default)}]" if default else ""
    return click.option(
        *names, multiple=True, default=tuple(default), metavar="LIST", help=help + shown
    )


class Percent(click.FloatRange):
    """A share of 100; ranges of click let nan pass."""

    def __init__(self) -> None:
        super().__init__(0, 100)

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Read a number from 0 to 100."""
        read: float = super().convert(value, param, ctx)
        if isnan(read):
            self.fail(f"{value!r} is not a number.", param, ctx)
        return read


class Degrees(click.ParamType):  # type: ignore[type-arg]  # click 8.2 has no argument here
    """Degrees with decimals; a float of Python would take 3_1 for 31."""

    name = "float"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Read a number as people write it."""
        if "_" in str(value):
            self.fail(f"{value!r} is not a valid float.", param, ctx)
        read: float = click.FLOAT.convert(value, param, ctx)
        return read


DEGREES = Degrees()


def debugging(ctx: click.Context) -> bool:
    """Say whether --debug was given."""
    return bool(ctx.meta.get(DEBUG))


def _keep_debug(ctx: click.Context, _: click.Parameter, value: bool) -> None:
    if value:
        ctx.meta[DEBUG] = True


DEBUG_OPTION = click.option(
    "--debug",
    is_flag=True,
    expose_value=False,
    is_eager=True,
    callback=_keep_debug,
    help="Show the traceback of a fault.",
)
ABOUT_FILE = (
    click.option(
        "--latitude",
        type=DEGREES,
        metavar="DEGREES",
        help="Degrees north, where the file does not say.",
    ),
    click.option(
        "--site",
        metavar="NAME",
        help="Which site, by its identifier or its name, where the file holds several.",
    ),
    click.option(
        "--units-of-file",
        type=click.Choice(["us", "si"]),
        help="Units of the file, where its header has none: degF and inch, or degC and mm.",
    ),
    click.option(
        "--date-format",
        metavar="FORM",
        help="How dates are written in the file, such as DD/MM/YYYY.",
    ),
)
WEATHER = (
    click.option(
        "--weather",
        metavar="FILE|SAMPLE",
        help="A weather file, or the name of a packaged sample ('fallsown samples' "
        "lists them).  [default: the sample tallow-bend]",
    ),
    *ABOUT_FILE,
)
YEARS = click.option(
    "--years",
    default="all",
    show_default=True,
    metavar="YEARS",
    help="Fall years: 1995:2024, 2007, a list with commas, or all.",
)
PARAMETERS = click.option(
    "--parameters",
    metavar="FILE",
    help="A file of changed parameters, such as 'fallsown fit --out FILE.toml' writes.",
)
FIELD = (
    click.option(
        "--cereal", default="rye", show_default=True, help="rye, wheat, triticale, barley or oat."
    ),
    VARIETY,
    click.option(
        "--soil",
        default="sandy loam",
        show_default=True,
        help="sand, loamy sand, sandy loam, loam, silt loam, silty clay loam or clay.",
    ),
    click.option(
        "--previous-crop",
        default="cotton",
        show_default=True,
        help="cotton, corn, soybean, peanut, small grain or fallow.",
    ),
    click.option(
        "--soil-nitrate",
        metavar="TEST",
        help="Nitrate and ammonium nitrogen measured in the soil, in place of what the "
        "previous crop leaves: '60 lb/acre', or with depth and day '60 lb/acre to 24 inch "
        "on 09-25'.",
    ),
    click.option(
        "--organic-matter",
        metavar="PERCENT",
        help="Organic matter measured in the topsoil, in percent.  [default: the soil's, "
        "which rises with latitude]",
    ),
    click.option(
        "--fertilizer",
        default="ammonium nitrate",
        show_default=True,
        help="ammonium nitrate, nitrate, ammonium, urea, urea ammonium nitrate or poultry litter.",
    ),
    list_option(
        "--irrigation",
        help="Water put on in every fall: '0.5 inch on 10-22'; a list with commas, or given again.",
    ),
    PARAMETERS,
    *FIELD_FILE,
)
PLANS = (
    list_option("--sow", default=SOWING_DATES, help="Sowing dates to compare, month-day."),
    list_option(
        "--seeding",
        default=("90 lb/acre",),
        help="Seeding rates to compare, with a unit; a list may share it: '60,90 lb/acre'.",
    ),
    list_option(
        "--nitrogen",
        default=("0,30,60,90 lb/acre",),
        help="Nitrogen rates to compare, with a unit; a list may share it.",
    ),
    list_option(
        "--nitrogen-timing",
        default=("sowing",),
        help="Times of nitrogen to compare: sowing, a date, or a split such as "
        "'sowing 1/3 + 02-15 2/3'.",
    ),
    list_option(
        "--end",
        default=("04-15",),
        help="Ends to compare: a date, a stage such as flowering or 'zadoks 61', or "
        "'4000 lb/acre'.",
    ),
)
# of a question about one stand
ONE_SOWING = click.option(
    "--sow",
    default=USUAL_PLAN["sow"],
    show_default=True,
    metavar="MM-DD",
    help="Sowing date.",
)
ONE_SEEDING = click.option(
    "--seeding",
    default=USUAL_PLAN["seeding"],
    show_default=True,
    metavar="RATE",
    help="Seeding rate, with its unit.",
)
ONE_NITROGEN = click.option(
    "--nitrogen",
    default=USUAL_PLAN["nitrogen"],
    show_default=True,
    metavar="RATE",
    help="Nitrogen rate, with its unit.",
)
ONE_TIMING = click.option(
    "--nitrogen-timing",
    default=USUAL_PLAN["nitrogen_timing"],
    show_default=True,
    metavar="WHEN",
    help="sowing, a date, or a split such as 'sowing 1/3 + 02-15 2/3'.",
)
ONE_END = click.option(
    "--end",
    default=USUAL_PLAN["end"],
    show_default=True,
    metavar="MM-DD",
    help="When the stand is ended: a date.",
)
UNITS = click.option(
    "--units",
    type=click.Choice(["us", "si"]),
    help="Units of the tables.  [default: those of the weather's own country or file]",
)
JSON = click.option(
    "--json",
    "as_json",
    is_flag=True,
    help="Print one JSON object, always in SI, instead of tables.",
)
OUT = click.option(
    "--out",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the rows to FILE.csv or FILE.nc too, in SI.",
)
OUTPUT = (UNITS, JSON, OUT)


def shown_units(asked: str | None, record: xr.Dataset) -> units.System:
    """Choose what people see: as asked, else as the sample's country or the file has it."""
    return units.system_of(record.attrs, asked)


def split_field(asked: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """Part the options of the weather from those of the field, and look the latter up.

    Returns
    -------
    dict
        Options of the weather.
    dict
        ``cereal, soil, previous_crop, fertilizer``: the parameter sets, changed as --parameters,
        --variety and --organic-matter say. A soil test and irrigation wait for the plans: see
        `simulator.commands.shared.measured.with_soil_test`.

    Raises
    ------
    InputError
        An unknown cereal, soil, previous crop or fertilizer, a fault in the parameter file or in
        what was measured; all of them are told.
    """
    from simulator.parameters.varieties import grown_as, variety

    problems: list[Problem] = []
    file = gathered(problems, partial(load_parameters, asked["parameters"])) or load_parameters()
    sets: dict[str, Callable[[str], object]] = {
        "cereal": file.cereal_set,
        "soil": file.soil_set,
        "previous_crop": file.previous_crop_set,
        "fertilizer": file.fertilizer_set,
    }
    field = {
        name: gathered(problems, partial(look_up, asked[name])) for name, look_up in sets.items()
    }
    kind = gathered(problems, partial(variety, asked.get("variety", "medium")))
    measured = gathered(problems, partial(read_measured, *(asked[name] for name in SAID)))
    if problems or measured is None or kind is None:
        raise InputError(problems)
    field["cereal"] = grown_as(cast("Cereal", field["cereal"]), kind)
    field["soil"] = measured.soil(field["soil"])
    others = (*sets, "variety", "parameters", *SAID)
    weather = {name: value for name, value in asked.items() if name not in others}
    return weather, field


def load_parameters(path: str | None = None) -> ParameterFile:
    """Read the file that ``--parameters`` names, and keep it for what an answer says of itself.

    Raises
    ------
    InputError
        As `read_parameters`.
    """
    from simulator.parameters.files import ParameterFile, read_parameters

    if path is None:
        return ParameterFile()
    file = read_parameters(path)
    click.get_current_context().meta[CHANGED] = file
    return file


def model_errors() -> ModelErrors:
    """Return how far off the model is: by the file that ``--parameters`` named, or as shipped."""
    from simulator.parameters.model_error import SHIPPED

    file: ParameterFile | None = click.get_current_context().meta.get(CHANGED)
    return SHIPPED if file is None else file.model_errors()


def parameters_used() -> tuple[dict[str, Any], list[str]]:
    """Say which parameter file and what was measured an answer rests on: as inputs and notes."""
    inputs, notes = measured_inputs_and_notes()
    file: ParameterFile | None = click.get_current_context().meta.get(CHANGED)
    if file is None:
        return inputs, notes
    changes = file.changes()
    text = ", ".join(changes[:MOST_CHANGES_LISTED])
    more = len(changes) - MOST_CHANGES_LISTED
    text += f" and {more} more" if more > 0 else ""
    return (
        {"parameters": file.path, "parameter_changes": changes, **inputs},
        [f"Parameters changed by {file.path}: {text or 'none'}.", *notes],
    )


def announce(text: str) -> None:
    """Tell people what takes time, on standard error, so that output stays clean."""
    click.echo(text, err=True)


def spelling() -> Spelling | None:
    """Return how parameters are spelled for who asks: as options, or None for Python."""
    asked_in_python = LINE in click.get_current_context().find_root().meta
    return None if asked_in_python else as_option


def command_line() -> str:
    """Return the command as it was written, for provenance."""
    import shlex

    meta = click.get_current_context().find_root().meta
    if LINE in meta:
        return shown_path(meta[LINE])
    arguments = meta.get(ARGUMENTS, ())
    return shown_path(shlex.join(["fallsown", *arguments]))
