"""``fallsown cover``: what the residue does after termination."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared import options, plan_options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.shared.one_place import OnePlace, at_one_place
from simulator.problems import Parameter

if TYPE_CHECKING:
    import xarray as xr

    from simulator.answers.cover.calculate import Cover
    from simulator.show.answer import Reply
    from simulator.units import System


@click.command("cover", short_help="How long residue covers, spares soil, feeds or robs.")
@options.with_options(
    options.several("--sow", default=("10-20", "12-08"), help="Sowing dates, month-day."),
    options.several(
        "--residue",
        default=("standing", "flat", "rolled", "buried"),
        help="How residue lies: standing, flat, rolled or buried.",
    ),
)
@options.ONE_SEEDING
@options.one_rate("30 lb/acre")
@options.ONE_TIMING
@options.ONE_END
@click.option(
    "--days",
    default=365,
    show_default=True,
    metavar="DAYS",
    type=int,
    help="How long to follow the residue; fewer where the weather ends.",
)
@CHART
@options.with_options(
    options.YEARS, options.WEATHER, options.FIELD, options.OUTPUT, options.DEBUG_OPTION
)
def command(chart: Path | None, as_json: bool, out: Path | None, **asked: Any) -> None:
    """Follow residue from termination on: mass, ground covered, soil loss, nitrogen, weeds.

    Early and late sowing side by side, standing, flat, rolled or buried. The same record's weather
    goes on into summer; where it ends, the answer says so.
    """
    from simulator.commands.shared.reporting import print_reply

    reply = make_reply(chart=chart, as_json=as_json, out=out, **asked)
    print_reply(reply, chart=chart, as_json=as_json, out=out)


def make_reply(
    *,
    sow: tuple[str, ...],
    residue: tuple[str, ...],
    seeding: str,
    nitrogen: str,
    nitrogen_timing: str,
    end: str,
    days: int,
    chart: Path | None,
    years: str,
    units: str | None,
    as_json: bool,
    out: Path | None,
    **asked: Any,
) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    from simulator.answers.cover.calculate import FEWEST_DAYS
    from simulator.commands.shared.reporting import check_size
    from simulator.problems import fault
    from simulator.season.residue_decay import LONGEST
    from simulator.show.output import check_destination

    asked, field = options.split_field(asked)
    check_destination(out, inputs=[asked["weather"]])
    check_chart(chart, [asked["weather"]])
    plans = plan_options.plans(
        sow=sow,
        seeding=[seeding],
        nitrogen=[nitrogen],
        nitrogen_timing=[nitrogen_timing],
        end=[end],
    )
    plan_options.one_each({name: values for name, values in plans.items() if name != "sow"})
    lies = plan_options.parts(residue, option=Parameter("residue"))
    if not FEWEST_DAYS <= days <= LONGEST:
        raise fault(
            Parameter("days"),
            f"{days} days cannot be followed.",
            f"Take {FEWEST_DAYS} to {LONGEST}.",
        )
    _check_lies(lies, plans["end"][0])
    wanted = plan_options.parse_years(years)
    here = at_one_place(asked, plans, field, wanted, units)
    check_size(wanted, here.record, len(here.plans["sow"]), len(lies))
    grid = here.grown()
    return _reply(grid, _followed(here, grid, lies, days), here.system)


def _followed(here: OnePlace, grid: xr.Dataset, lies: list[str], days: int) -> Cover:
    """Follow the residue of stands that were grown."""
    from simulator.answers.cover.calculate import cover
    from simulator.season.residue_decay import follow

    stands = grid.isel(seeding=0, nitrogen=0, nitrogen_timing=0, end=0)
    stands.attrs.update(
        seeding_kg_ha=float(stands["seeding"]),
        nitrogen_kg_ha=float(stands["nitrogen"]),
        nitrogen_timing=str(stands["nitrogen_timing"].values),
    )
    return cover(stands, follow(here.record, stands, residue=lies, days=days))


def _reply(grid: xr.Dataset, found: Cover, system: System) -> Reply:
    """Word the answer."""
    from simulator.answers.cover import data, table, words
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.answer import Reply
    from simulator.show.cautions import cautions, dead_stands

    answer = make_answer(
        "cover",
        found.by_day,
        left_out=[*grid.attrs["left_out"], *found.left_out],
        cautions=[*cautions(grid.attrs, nitrogen=True, termination=True), *words.CAUTIONS],
        sentences=words.sentences(found, system),
        notes=[*grid.attrs["notes"], *filter(None, [found.ends_early]), *dead_stands(grid)],
        falls=data.falls_json(found),
    )
    answer.inputs["day"] = f"0 to {found.days} since the end"
    answer.inputs["year"] = found.residue["year"].values.tolist()

    def draw() -> Any:
        from simulator.answers.cover import chart as cover_chart

        return cover_chart.chart(found, system)

    return Reply(
        answer=answer,
        draw=draw,
        lay_heading=lambda: words.head(found, system),
        lay_tables=lambda: table.tables(found, system),
    )


def _check_lies(lies: list[str], end: str) -> None:
    """Refuse ways to lie that there are not, and an end that is no date; all are told."""
    from simulator.parameters.residues import LIES
    from simulator.problems import InputError, Problem
    from simulator.season.plan import end as read_end

    problems = [
        Problem(Parameter("residue"), f"'{name}' is not a way to lie.", f"Take {', '.join(LIES)}.")
        for name in lies
        if name not in LIES
    ]
    if read_end(end).date is None:
        problems.append(
            Problem(Parameter("end"), f"'{end}' is not a date.", "Give one, such as 04-15.")
        )
    if problems:
        raise InputError(problems)
