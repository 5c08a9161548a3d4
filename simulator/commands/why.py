"""``fallsown why``: what made one year differ."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared import options, plan_options, weather_options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.shared.measured import with_soil_test
from simulator.commands.shared.sowing import covered_sowings

if TYPE_CHECKING:
    from simulator.answers.why.calculate import Why
    from simulator.show.answer import Reply
    from simulator.units import System


@click.command("why", short_help="What made one year differ from this place's usual?")
@click.option(
    "--year", type=int, metavar="YEAR", help="Fall year.  [default: the one that differs most]"
)
@options.ONE_SOWING
@options.ONE_SEEDING
@click.option(
    "--nitrogen",
    default=options.USUAL_PLAN["nitrogen"],
    show_default=True,
    metavar="RATE",
    help="Nitrogen rate, with its unit; compared with none.",
)
@options.ONE_TIMING
@options.ONE_END
@CHART
@options.with_options(
    options.YEARS, options.WEATHER, options.FIELD, options.OUTPUT, options.DEBUG_OPTION
)
def command(chart: Path | None, as_json: bool, out: Path | None, **asked: Any) -> None:
    """Share out what made a year differ among the rain and the temperature of its months.

    The year's weather is exchanged month by month for that of every other year; the differences
    in biomass, in what nitrogen brings and in leaching are shared so that they add up. --years
    says which falls stand for the usual.
    """
    from simulator.commands.shared.reporting import print_reply

    reply = make_reply(chart=chart, as_json=as_json, out=out, **asked)
    print_reply(reply, chart=chart, as_json=as_json, out=out)


def make_reply(
    *,
    year: int | None,
    sow: str,
    seeding: str,
    nitrogen: str,
    nitrogen_timing: str,
    end: str,
    chart: Path | None,
    years: str,
    units: str | None,
    as_json: bool,
    out: Path | None,
    **asked: Any,
) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    from simulator.answers.why.calculate import why
    from simulator.show.output import check_destination

    asked, field = options.split_field(asked)
    check_destination(out, inputs=[asked["weather"]])
    check_chart(chart, [asked["weather"]])
    plan = plan_options.one_each(
        plan_options.plans(
            sow=[sow],
            seeding=[seeding],
            nitrogen=[nitrogen],
            nitrogen_timing=[nitrogen_timing],
            end=[end],
        )
    )
    wanted = plan_options.parse_years(years)
    record = weather_options.load_weather(**asked)
    (plan["sow"],) = covered_sowings(record, [plan["sow"]], [plan["end"]], wanted)
    field = with_soil_test(field, plan)
    system = options.shown_units(units, record)
    found = why(
        record,
        year=year,
        years=wanted,
        **plan,
        **field,
        errors=options.model_errors(),
        announce=options.announce,
    )
    return _reply(found, str(record.attrs.get("notes", "")), system)


def _reply(found: Why, read_notes: str, system: System) -> Reply:
    """Word the answer."""
    from simulator.answers.why import data as why_data
    from simulator.answers.why import table
    from simulator.answers.why.words import sentences
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.answer import Reply
    from simulator.show.cautions import cautions

    data = why_data.dataset(found)
    data.attrs["read_notes"] = read_notes
    answer = make_answer(
        "why",
        data,
        left_out=found.left_out,
        notes=table.notes(found),
        cautions=cautions(
            found.about, nitrogen=found.about["nitrogen_kg_ha"] > 0, termination=True
        ),
        sentences=sentences(found, system),
        **why_data.differences(found),
    )

    def draw() -> Any:
        from simulator.answers.why import chart as why_chart

        return why_chart.chart(found, system)

    return Reply(
        answer=answer,
        draw=draw,
        lay_heading=lambda: table.heading(found, system),
        lay_tables=lambda: table.tables(found, system),
    )
