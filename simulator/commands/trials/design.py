"""``fallsown design``: the trial that would settle a question."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared import options, plan_options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.shared.one_place import at_one_place
from simulator.problems import InputError, Parameter, Problem, fault, parameters_named

if TYPE_CHECKING:
    import xarray as xr

    from simulator.answers.design.calculate import Design
    from simulator.answers.design.field import Field
    from simulator.show.answer import Reply
    from simulator.units import System

_OF_THE_TRIAL = (
    "difference",
    "blocks",
    "trial_years",
    "spread",
    "split",
    "whole_plot_spread",
    "budget",
    "trials",
    "seed",
)


@click.command("design", short_help="The trial that would settle a question: blocks, years, plots.")
@options.list_option(
    "--sow", default=options.SOWING_DATES, help="Sowing dates to compare, month-day."
)
@options.list_option(
    "--seeding", default=("60,90 lb/acre",), help="Seeding rates to compare, with a unit."
)
@options.list_option(
    "--nitrogen", default=("0,30,60,90 lb/acre",), help="Nitrogen rates to compare, with a unit."
)
@options.ONE_TIMING
@options.ONE_END
@click.option("--blocks", type=int, default=4, show_default=True, metavar="N", help="Blocks, 2-12.")
@click.option(
    "--trial-years",
    type=int,
    default=6,
    show_default=True,
    metavar="N",
    help="Years that the trial is repeated, 2 to 20.",
)
@click.option(
    "--difference",
    default="500 lb/acre",
    show_default=True,
    metavar="MASS",
    help="The difference in biomass that it is to show, with its unit.",
)
@click.option(
    "--spread",
    metavar="SPREAD",
    help="Standard deviation of plots treated alike: '25 %' or '600 lb/acre'.  [default: 25 %, "
    "from open trials of rye]",
)
@click.option("--split", is_flag=True, help="A split plot: sowing dates as whole plots.")
@click.option(
    "--whole-plot-spread",
    metavar="SPREAD",
    help="Further standard deviation of whole plots.  [default with --split: 10 %]",
)
@click.option(
    "--budget", type=int, metavar="PLOTS", help="Plots over all years: what they are best spent on."
)
@click.option(
    "--trials",
    type=int,
    default=1000,
    show_default=True,
    metavar="N",
    help="Trials simulated for each chance, 100 to 10000.",
)
@click.option(
    "--seed",
    type=int,
    default=1,
    show_default=True,
    metavar="N",
    help="Of all that is drawn: the same seed, the same numbers and the same field.",
)
@click.option(
    "--fall",
    type=int,
    metavar="YEAR",
    help="Fall for which the field is laid out.  [default: that after the record's last]",
)
@click.option(
    "--layout",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Lay the field out at random, print its plan, and write its plot table, to be filled in, "
    "to FILE.csv.",
)
@click.option(
    "--plan",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Draw the plan of the field to FILE.svg, .png, .pdf or .html.",
)
@CHART
@options.with_options(
    options.YEARS, options.WEATHER, options.FIELD, options.OUTPUT, options.DEBUG_OPTION
)
def command(chart: Path | None, as_json: bool, out: Path | None, **asked: Any) -> None:
    """Say what a trial of sowing dates, seeding rates and nitrogen rates could show.

    Trials are drawn by the thousand over the falls of the record, with the spread of plots and
    the model's own error: how often a difference is seen, how wide its interval is, how often the
    wrong date looks best, how many years it takes with 3, 4 or 6 blocks, and which falls would
    have misled. --years says which falls of the record are drawn from.
    """
    from simulator.commands.shared.reporting import print_reply

    reply = make_reply(chart=chart, as_json=as_json, out=out, **asked)
    print_reply(reply, chart=chart, as_json=as_json, out=out)


def make_reply(
    *,
    sow: tuple[str, ...],
    seeding: tuple[str, ...],
    nitrogen: tuple[str, ...],
    nitrogen_timing: str,
    end: str,
    years: str,
    fall: int | None,
    layout: Path | None,
    plan: Path | None,
    chart: Path | None,
    units: str | None,
    as_json: bool,
    out: Path | None,
    **asked: Any,
) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    from simulator.answers.design.calculate import designed
    from simulator.answers.design.field import field_of
    from simulator.answers.design.question import check_treatments, read_question

    asked, question_asked = _split_question(asked)
    asked, field = options.split_field(asked)
    _check_files(chart, layout, plan, out, asked["weather"])
    problems: list[Problem] = []
    question = plan_options.gathered(problems, partial(read_question, **question_asked))
    problems += _check_fall(fall)
    plans = plan_options.gathered(
        problems,
        partial(
            plan_options.plans,
            sow=sow,
            seeding=seeding,
            nitrogen=nitrogen,
            nitrogen_timing=[nitrogen_timing],
            end=[end],
        ),
    )
    if problems or plans is None or question is None:
        raise InputError(problems)
    plan_options.one_each({name: plans[name] for name in ("nitrogen_timing", "end")})
    _only_a_date(plans["end"][0])
    wanted = plan_options.parse_years(years)
    here = at_one_place(asked, plans, field, wanted, units)
    check_treatments(tuple(here.counts[:3]), question.budget)
    grid = here.grown()
    design = designed(grid, here.record, question, options.progress, options.model_errors())
    laid = field_of(design, fall) if layout is not None or plan is not None else None
    reply = _reply(grid, design, laid, here.system)
    if laid is not None:
        _write(laid, layout, plan, here.system)
    return reply


def _split_question(asked: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """Part what is asked of the trial from the weather and the field."""
    question = {name: asked[name] for name in _OF_THE_TRIAL}
    return {name: asked[name] for name in asked if name not in _OF_THE_TRIAL}, question


def _check_files(
    chart: Path | None, layout: Path | None, plan: Path | None, out: Path | None, weather: Any
) -> None:
    """Refuse files that could not be written, before anything is run."""
    from simulator.show.charts import SUFFIXES
    from simulator.show.output import check_destination

    check_destination(out, inputs=[weather])
    check_chart(chart, [weather])
    check_destination(layout, inputs=[weather], option=Parameter("layout"), suffixes=(".csv",))
    check_destination(plan, inputs=[weather], option=Parameter("plan"), suffixes=SUFFIXES)
    given = [path.resolve() for path in (chart, layout, plan, out) if path is not None]
    if len(set(given)) < len(given):
        raise fault(
            parameters_named("layout", "plan", "chart", "out"),
            "Two of them name the same file.",
            "Give each a file of its own.",
        )


def _check_fall(fall: int | None) -> list[Problem]:
    low, high = plan_options.EARLIEST, plan_options.LATEST
    if fall is None or low <= fall <= high:
        return []
    return [Problem(Parameter("fall"), f"{fall} is no year.", f"Give {low} to {high}.")]


def _only_a_date(end: str) -> None:
    from simulator.season.plan import end as read_end

    if read_end(end).date is None:
        raise fault(
            Parameter("end"),
            f"'{end}' is not a date: plots of a trial are cut together.",
            "Give month-day, such as 04-15.",
        )


def _reply(grid: xr.Dataset, design: Design, field: Field | None, system: System) -> Reply:
    """Word the answer."""
    from simulator.answers.design import data, table, words
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.answer import Reply
    from simulator.show.cautions import cautions, dead_stands
    from simulator.show.grids import heading

    answer = make_answer(
        "design",
        data.dataset(design),
        left_out=list(grid.attrs["left_out"]),
        cautions=[
            *words.cautions(design),
            *cautions(grid.attrs, nitrogen=max(design.plans["nitrogen"]) > 0),
        ],
        sentences=words.sentences(design, system),
        notes=[*grid.attrs["notes"], *words.spread_note(design, system), *dead_stands(grid)],
        **data.as_json(design, field),
    )

    def draw() -> Any:
        from simulator.answers.design import chart as design_chart

        return design_chart.chart(design, system)

    return Reply(
        answer=answer,
        draw=draw,
        lay_heading=lambda: heading(design.about, design.falls),
        lay_tables=lambda: table.tables(design, field, system),
    )


def _write(field: Field, layout: Path | None, plan: Path | None, system: System) -> None:
    """Write the plot table, and draw the plan, where they are wanted."""
    from simulator.answers.design import plan_chart
    from simulator.answers.design.field import file_text
    from simulator.show.charts import write_chart
    from simulator.show.output import write_whole

    drawn = None if plan is None else plan_chart.chart(field, system)
    if layout is not None:
        text = file_text(field, system, options.command_line())
        write_whole(
            layout,
            lambda made: made.write_text(text, encoding="utf-8", newline=""),
            option=Parameter("layout"),
        )
        options.announce(f"Written: {layout}, {len(field.plots):,} plots to fill in.")
    if plan is not None and drawn is not None:
        write_chart(drawn, plan, title=" ".join(drawn.title.text))
        options.announce(f"Drawn: {plan}.")
