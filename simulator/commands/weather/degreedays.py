"""``fallsown degreedays``: thermal time by every method, side by side."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared import options, plan_options, weather_options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.problems import Parameter

if TYPE_CHECKING:
    from simulator.show.answer import Reply


@click.command("degreedays", short_help="Count thermal time by every method, side by side.")
@click.option(
    "--base",
    "bases",
    multiple=True,
    default=("32,40 degF",),
    metavar="LIST",
    help="Lower thresholds, with a unit; a list may share it.  [default: 32,40 degF]",
)
@click.option(
    "--upper",
    metavar="TEMPERATURE",
    help="Upper threshold, with its unit; adds the methods that cut off above it.",
)
@click.option(
    "--from",
    "first",
    default="10-20",
    show_default=True,
    metavar="MM-DD",
    help="First day counted.",
)
@click.option(
    "--to", "last", default="04-15", show_default=True, metavar="MM-DD", help="Last day counted."
)
@click.option("--by-year", is_flag=True, help="Print every fall too.")
@click.option(
    "--change",
    "changes",
    multiple=True,
    metavar="TEXT",
    help="Change the weather first, as in whatif; may be given again.",
)
@CHART
@options.with_options(options.YEARS, options.WEATHER, options.OUTPUT, options.DEBUG_OPTION)
def command(chart: Path | None, as_json: bool, out: Path | None, **asked: Any) -> None:
    """Thermal time (growing degree days) between two dates, by every method of the trade."""
    from simulator.commands.shared.reporting import print_reply

    reply = make_reply(chart=chart, as_json=as_json, out=out, **asked)
    print_reply(reply, chart=chart, as_json=as_json, out=out)


def make_reply(
    *,
    bases: tuple[str, ...],
    upper: str | None,
    first: str,
    last: str,
    by_year: bool,
    changes: tuple[str, ...],
    chart: Path | None,
    years: str,
    units: str | None,
    as_json: bool,
    out: Path | None,
    **asked: Any,
) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    from simulator.answers.degree_days import table as show
    from simulator.answers.degree_days import words as warmth
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.answer import Reply
    from simulator.show.cautions import cautions
    from simulator.show.output import check_destination
    from simulator.weather.change import change_weather

    check_destination(out, inputs=[asked["weather"]])
    check_chart(chart, [asked["weather"]])
    wanted = plan_options.parse_years(years)
    lower, above = _thresholds(bases, upper)
    record = weather_options.load_weather(**asked, need_latitude=False)
    system = options.shown_units(units, record)
    if changes:
        record = change_weather(record, *changes)
    from simulator.answers.degree_days.calculate import degree_days

    sums = degree_days(record, bases=lower, upper=above, first=first, last=last, years=wanted)
    sums.attrs["read_notes"] = record.attrs.get("notes", "")
    answer = make_answer(
        "degreedays",
        sums,
        left_out=list(sums.attrs["left_out"]),
        cautions=cautions(sums.attrs),
        sentences=warmth.sentences(sums, system),
        notes=[],
    )
    tables = [*show.methods(sums, system), *(show.by_year(sums, system) if by_year else [])]

    def draw() -> Any:
        from simulator.answers.degree_days import chart as degree_days_chart

        return degree_days_chart.chart(sums, system)

    return Reply(
        answer=answer,
        draw=draw,
        lay_heading=lambda: show.heading(sums, system),
        lay_tables=lambda: tables,
    )


def _thresholds(bases: tuple[str, ...], upper: str | None) -> tuple[list[float], float | None]:
    """Read the lower thresholds and the upper one [degC]."""
    from simulator.units import parse, parse_list

    # 32 degF is 0 degC, and not the 6e-14 that its conversion leaves
    lower = [
        round(t, 9) for text in bases for t in parse_list(text, "degC", name=Parameter("base"))
    ]
    return lower, None if upper is None else parse(upper, "degC", name=Parameter("upper"))
