"""``fallsown outlook``: the season under way."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared import options, plan_options, weather_options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.shared.clippings import MEASURED
from simulator.commands.shared.measured import with_soil_test
from simulator.commands.shared.sowing import covered_sowings
from simulator.problems import InputError, Parameter, Problem

if TYPE_CHECKING:
    import xarray as xr

    from simulator.answers.outlook.calculate import Outlook
    from simulator.show.answer import Reply
    from simulator.units import System


@click.command("outlook", short_help="What may the season under way still make?")
@click.option(
    "--year",
    type=click.IntRange(plan_options.EARLIEST, plan_options.LATEST),
    metavar="YEAR",
    help="Fall year of the season.  [default: the last in the weather]",
)
@click.option(
    "--today",
    metavar="MM-DD",
    help="Last day whose weather is taken as known.  "
    "[default: the weather's end, or 01-15 where it has the season whole]",
)
@options.ONE_SOWING
@options.ONE_SEEDING
@options.ONE_NITROGEN
@options.ONE_TIMING
@options.list_option(
    "--end",
    default=("03-15", "04-01", "04-15"),
    help="Dates of ending to compare, month-day.",
)
@MEASURED
@click.option(
    "--target",
    default="4000 lb/acre",
    show_default=True,
    metavar="MASS",
    help="Biomass whose chance is given, with its unit.",
)
@click.option(
    "--hindcast/--no-hindcast",
    default=True,
    show_default=True,
    help="Try the outlook on past seasons too.",
)
@CHART
@click.option(
    "--years",
    default="all",
    show_default=True,
    metavar="YEARS",
    help="Fall years that lend weather: 1995:2024, a list, or all.",
)
@options.with_options(options.WEATHER, options.FIELD, options.OUTPUT, options.DEBUG_OPTION)
def command(chart: Path | None, as_json: bool, out: Path | None, **asked: Any) -> None:
    """Say what the season under way may still make, from the weather up to today.

    Each past fall lends its weather from tomorrow on. The answer is a band for each end, of weather
    and field together and of the weather alone, how it changed while the days came in, and how
    often the weather's own bands held in past seasons. What you measured of the stand narrows it.
    """
    from simulator.commands.shared.reporting import print_reply

    reply = make_reply(chart=chart, as_json=as_json, out=out, **asked)
    print_reply(reply, chart=chart, as_json=as_json, out=out)


def make_reply(
    *,
    year: int | None,
    today: str | None,
    sow: str,
    seeding: str,
    nitrogen: str,
    nitrogen_timing: str,
    end: tuple[str, ...],
    measured: tuple[str, ...],
    target: str,
    hindcast: bool,
    chart: Path | None,
    years: str,
    units: str | None,
    as_json: bool,
    out: Path | None,
    **asked: Any,
) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    from simulator.answers.outlook.calculate import outlook
    from simulator.commands.risk_question import read_target
    from simulator.season.measured_text import read_measured
    from simulator.season.plan import month_day
    from simulator.show.output import check_destination

    asked, field = options.split_field(asked)
    check_destination(out, inputs=[asked["weather"]])
    check_chart(chart, [asked["weather"]])
    wanted = plan_options.parse_years(years)
    read = plan_options.plans(
        sow=[sow],
        seeding=[seeding],
        nitrogen=[nitrogen],
        nitrogen_timing=[nitrogen_timing],
        end=end,
    )
    ends = read.pop("end")
    _only_dates(ends)
    goal = read_target(target)
    samples = read_measured(measured)
    plan = plan_options.one_each(read)
    record = weather_options.load_weather(**asked)
    (plan["sow"],) = covered_sowings(record, [plan["sow"]], ends, wanted)
    field = with_soil_test(field, plan)
    system = options.shown_units(units, record)
    found = outlook(
        record,
        {**plan, "sow": month_day(plan["sow"], name=Parameter("sow"))},
        field,
        ends=[month_day(text, name=Parameter("end")) for text in ends],
        year=year,
        today=None if today is None else month_day(today, name=Parameter("today")),
        years=wanted,
        with_hindcast=hindcast,
        measured=samples,
        errors=options.model_errors(),
        announce=options.announce,
    )
    found.attrs["read_notes"] = record.attrs.get("notes", "")
    return _reply(found, goal, system, measured, _headed(record, plan, field, found))


def _headed(
    record: xr.Dataset, plan: dict[str, str], field: dict[str, Any], found: Outlook
) -> list[str]:
    """Say when an early or a late variety heads."""
    from simulator.answers.shared.variety import heading_sentences

    return heading_sentences(record, plan, field, found.others, announce=options.announce)


def _only_dates(ends: list[str]) -> None:
    """Refuse ends that are not dates; all of them are told."""
    if other := [text for text in ends if "-" not in text]:
        raise InputError(
            [
                Problem(
                    Parameter("end"),
                    f"'{text}' is not a date.",
                    "An outlook takes dates such as 04-15.",
                )
                for text in other
            ]
        )


def _age(found: Outlook, system: System) -> list[str]:
    """Say how old the weather is, as of the day on which it is asked."""
    from simulator.answers.outlook.words import of_age, today_is

    return list(filter(None, [of_age(found, today_is(), system)]))


def _reply(
    found: Outlook, goal: float, system: System, measured: tuple[str, ...], headed: list[str]
) -> Reply:
    """Word the answer."""
    from simulator.answers.outlook import data as outlook_data
    from simulator.answers.outlook import table, words
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.answer import Reply
    from simulator.show.cautions import cautions

    data = outlook_data.dataset(found, goal)
    answer = make_answer(
        "outlook",
        data,
        left_out=found.left_out,
        notes=[*words.notes(found, system), *_age(found, system)],
        cautions=cautions(found.attrs, nitrogen=True, termination=True),
        sentences=[*words.sentences(found, data, system, goal), *headed],
        **outlook_data.more(found),
    )
    answer.inputs.update(today=found.known.today, target_kg_ha=goal, others=list(found.others))
    if measured:
        answer.inputs["measured"] = list(measured)

    def draw() -> Any:
        from simulator.answers.outlook import chart as outlook_chart

        return outlook_chart.chart(found, data, system, goal)

    return Reply(
        answer=answer,
        draw=draw,
        lay_heading=lambda: words.heading(found, system),
        lay_tables=lambda: table.tables(found, data, system, goal),
    )
