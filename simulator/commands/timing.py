"""``fallsown timing``: when to end the stand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared import options, plan_options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.shared.one_place import at_one_place
from simulator.problems import Parameter

if TYPE_CHECKING:
    import xarray as xr

    from simulator.show.answer import Reply
    from simulator.units import System


@click.command("timing", short_help="When to end the stand, how, and what waiting brings.")
@options.ONE_SOWING
@options.ONE_SEEDING
@options.one_rate("30 lb/acre")
@options.ONE_TIMING
@click.option(
    "--end",
    multiple=True,
    metavar="LIST",
    help="Dates of ending, month-day.  [default: weekly from 03-01 to 05-15, as far as "
    "the weather goes]",
)
@CHART
@options.with_options(
    options.YEARS, options.WEATHER, options.FIELD, options.OUTPUT, options.DEBUG_OPTION
)
def command(chart: Path | None, as_json: bool, out: Path | None, **asked: Any) -> None:
    """For each date of ending: biomass, growth, stage, C:N, nitrogen, water and nitrate left.

    And which ways of ending the stand can be expected to work at its growth stage, by published
    trials; and what four more weeks from mid-March cost and buy.
    """
    from simulator.commands.shared.reporting import print_reply

    reply = make_reply(chart=chart, as_json=as_json, out=out, **asked)
    print_reply(reply, chart=chart, as_json=as_json, out=out)


def make_reply(
    *,
    sow: str,
    seeding: str,
    nitrogen: str,
    nitrogen_timing: str,
    end: tuple[str, ...],
    chart: Path | None,
    years: str,
    units: str | None,
    as_json: bool,
    out: Path | None,
    **asked: Any,
) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    from simulator.answers.timing import calculate as termination
    from simulator.show.output import check_destination

    asked, field = options.split_field(asked)
    check_destination(out, inputs=[asked["weather"]])
    check_chart(chart, [asked["weather"]])
    plans = plan_options.plans(
        sow=[sow],
        seeding=[seeding],
        nitrogen=[nitrogen],
        nitrogen_timing=[nitrogen_timing],
        end=end or termination.DATES,
    )
    plan_options.one_each({name: values for name, values in plans.items() if name != "end"})
    _only_dates(plans["end"])
    wanted = plan_options.parse_years(years)
    needed = plans["end"] if end else plans["end"][:1]
    here = at_one_place(asked, plans, field, wanted, units, ends=needed)
    notes = []
    if not end:
        dates = termination.covered_dates(here.record, here.plans["sow"][0], wanted)
        here = replace(here, plans={**here.plans, "end": dates})
        if len(dates) < len(termination.DATES):
            notes.append(
                f"The weather of most falls ends before {termination.DATES[-1]}: dates go "
                f"to {dates[-1]}."
            )
    grid = here.grown()
    return _reply(grid, _timing(grid, here.field), notes, here.system)


def _timing(grid: xr.Dataset, field: dict[str, Any]) -> xr.Dataset:
    """Work out what each date of ending brings."""
    from simulator.answers.timing.calculate import timing

    one = grid.isel(sow=0, seeding=0, nitrogen=0, nitrogen_timing=0)
    found = timing(one, field["soil"])
    found.attrs.update(
        sow=str(one["sow"].values),
        seeding_kg_ha=float(one["seeding"]),
        nitrogen_kg_ha=float(one["nitrogen"]),
        nitrogen_timing=str(one["nitrogen_timing"].values),
    )
    return found.drop_vars([name for name in found.coords if name not in found.dims])


def _reply(grid: xr.Dataset, found: xr.Dataset, notes: list[str], system: System) -> Reply:
    """Word the answer."""
    from simulator.answers.timing import table, words
    from simulator.answers.timing.calculate import WAYS
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.answer import Reply
    from simulator.show.cautions import cautions, dead_stands

    answer = make_answer(
        "timing",
        found,
        left_out=list(grid.attrs["left_out"]),
        cautions=[*cautions(grid.attrs, nitrogen=True, termination=True), *words.CAUTIONS],
        sentences=words.sentences(found, system),
        notes=[*grid.attrs["notes"], *notes, *dead_stands(grid)],
        sources={way.name: way.source for way in WAYS},
    )

    def draw() -> Any:
        from simulator.answers.timing import chart as timing_chart

        return timing_chart.chart(found, system)

    return Reply(
        answer=answer,
        draw=draw,
        lay_heading=lambda: words.head(found, system),
        lay_tables=lambda: table.tables(found, system),
    )


def _only_dates(ends: list[str]) -> None:
    """Refuse ends that are not dates; all of them are told."""
    from simulator.problems import InputError, Problem
    from simulator.season.plan import end

    problems = [
        Problem(Parameter("end"), f"'{text}' is not a date.", "Give month-day, such as 04-15.")
        for text in ends
        if end(text).date is None
    ]
    if problems:
        raise InputError(problems)
