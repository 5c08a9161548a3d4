"""``fallsown timing``: when to end the stand."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared import options, plan_options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.shared.one_place import OnePlace, at_one_place
from simulator.problems import Parameter

if TYPE_CHECKING:
    import xarray as xr

    from simulator.parameters.terminations import Way
    from simulator.season.layout import BareSoil
    from simulator.show.answer import Reply
    from simulator.units import System


PLANTING = click.option(
    "--planting",
    metavar="MM-DD",
    help="When the next crop is planted: the day on which the soil is looked at.  [default: 05-15, "
    "or the last date of ending if that is later or the weather ends before]",
)


KILL = click.option(
    "--kill",
    metavar="HOW",
    help="How the stand is ended: roller, mowing, herbicide, 'herbicide and roller' or tillage; "
    "what grows back, and how the residue lies, follow from it.  [default: roller]",
)


@click.command("timing", short_help="When to end the stand, how, and what waiting brings.")
@options.ONE_SOWING
@options.ONE_SEEDING
@options.ONE_NITROGEN
@options.ONE_TIMING
@click.option(
    "--end",
    multiple=True,
    metavar="LIST",
    help="Dates of ending to compare, month-day.  [default: weekly from 03-01 to 05-15, as far as "
    "the weather goes]",
)
@PLANTING
@plan_options.BARE_SOIL
@KILL
@CHART
@options.with_options(
    options.YEARS, options.WEATHER, options.FIELD, options.OUTPUT, options.DEBUG_OPTION
)
def command(chart: Path | None, as_json: bool, out: Path | None, **asked: Any) -> None:
    """For each date of ending: biomass, growth, stage, C:N, nitrogen, and what it leaves.

    Water and nitrate in the soil are those of one day for all dates, on which the next crop is
    planted. Then which ways of ending the stand can be expected to work at its growth stage, by
    published trials; and what four more weeks from mid-March buy and cost.
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
    planting: str | None,
    bare_soil: str,
    kill: str | None,
    chart: Path | None,
    years: str,
    units: str | None,
    as_json: bool,
    out: Path | None,
    **asked: Any,
) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    from simulator.answers.shared.planting import taken
    from simulator.answers.timing import calculate as termination
    from simulator.parameters.terminations import ROLLED, way_of
    from simulator.season.layout import read_bare
    from simulator.show.output import check_destination

    way = way_of(kill or ROLLED.tool)
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
    _only_dates(plans["end"], planting)
    without = read_bare(bare_soil)
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
    found = _timing(grid, here, planting, way, without)
    if planting is None:
        notes.append(taken(found.attrs["planting"]))
    notes += _unclear_notes(found)
    return _reply(grid, found, notes, here.system, here.heading_sentences())


def _timing(
    grid: xr.Dataset, here: OnePlace, planting: str | None, way: Way, without: BareSoil | None
) -> xr.Dataset:
    """Work out what each date of ending brings."""
    from simulator.answers.shared.planting import usual_planting
    from simulator.answers.timing.calculate import timing
    from simulator.season.until_planting import until_planting

    plans = here.plans
    day = planting or usual_planting(here.record, plans["sow"][0], plans["end"], here.years)
    planted, bare = (
        until_planting(
            here.record,
            planting=day,
            **plans,
            **here.field,
            residue=[way.lie],
            years=grid["year"].values.tolist(),
            bare=bare,
            announce=options.announce,
        ).isel(residue=0)
        for bare in (False, without or True)
    )
    only = {"sow": 0, "seeding": 0, "nitrogen": 0, "nitrogen_timing": 0}
    one = grid.isel(only)
    found = timing(
        one, here.field["soil"], planted.isel(only), options.model_errors(), bare.isel(only)
    )
    found.attrs.update(
        sow=str(one["sow"].values),
        seeding_kg_ha=float(one["seeding"]),
        nitrogen_kg_ha=float(one["nitrogen"]),
        nitrogen_timing=str(one["nitrogen_timing"].values),
        kill=way.tool,
    )
    _add_regrowth_and_nitrogen(found, here, one, way)
    return found.drop_vars([name for name in found.coords if name not in found.dims])


def _add_regrowth_and_nitrogen(
    found: xr.Dataset, here: OnePlace, one: xr.Dataset, way: Way
) -> None:
    """Add when seed is set, and what residue frees or ties up by planting and after."""
    from simulator.answers.shared.nitrogen_after import released_by_planting
    from simulator.answers.timing.seed import add_seed
    from simulator.season.stage_dates import HEADING, stage_days

    day = str(found.attrs["planting"])  # as it was read: "May 1" may have been given
    years = found["year"].values.tolist()
    plan = {name: values for name, values in here.plans.items() if name != "end"}
    headed = stage_days(
        here.record,
        stages=[HEADING],
        years=years,
        announce=options.announce,
        **plan,
        **here.field,
    )
    add_seed(found, headed.reindex(year=years).values.reshape(len(years)))
    released = released_by_planting(here.record, one.sel(end=found["end"]), day, way.lie)
    about = released.attrs
    for after in released["after"].values.tolist():
        name = f"planting_released_{after}_days_kg_ha"
        when = "by planting" if after == 0 else f"by {after // 7} weeks after planting"
        meaning = f"{about['long_name']}, {when}"
        found[name] = released.sel(after=after, drop=True).assign_attrs(about, long_name=meaning)


def _unclear_notes(found: xr.Dataset) -> list[str]:
    """Say of which dates and falls nothing is known on the day of planting."""
    from simulator.season.plan import order
    from simulator.show import wording

    planting = str(found.attrs["planting"])
    day = wording.dates_in(planting)
    texts: list[str] = []
    ends = [str(end) for end in found["end"].values]
    late = [e for e in ends if order(e) > order(planting)]
    if late:
        texts.append(
            f"Of stands ended on {wording.join([wording.dates_in(e) for e in late])} nothing is "
            f"said for {day}, the day of planting, which is earlier."
        )
    gone = found["year"].values[found["planting_water_mm"].isnull().all("end").values]
    if gone.size:
        texts.append(
            f"Without the soil on {day}, for the weather is not whole until then: "
            f"{', '.join(map(str, gone))}."
        )
    return texts


def _reply(
    grid: xr.Dataset, found: xr.Dataset, notes: list[str], system: System, headed: list[str]
) -> Reply:
    """Word the answer."""
    from simulator.answers.timing import data, table, words
    from simulator.answers.timing.calculate import waiting
    from simulator.commands.shared.reporting import make_answer
    from simulator.parameters.terminations import WAYS
    from simulator.show.answer import Reply
    from simulator.show.cautions import cautions, dead_stands

    answer = make_answer(
        "timing",
        found,
        left_out=list(grid.attrs["left_out"]),
        cautions=[*cautions(grid.attrs, nitrogen=True, termination=True), *words.CAUTIONS],
        sentences=[*words.sentences(found, system), *headed],
        notes=[*grid.attrs["notes"], *notes, *dead_stands(grid)],
        sources={way.name: way.source for way in WAYS},
        by_date=data.dates_json(found),
        waiting=data.waiting_json(waiting(found)),
    )
    answer.inputs.update({name: found.attrs[name] for name in ("planting", "kill")})

    def draw() -> Any:
        from simulator.answers.timing import chart as timing_chart

        return timing_chart.chart(found, system)

    return Reply(
        answer=answer,
        draw=draw,
        lay_heading=lambda: words.head(found, system),
        lay_tables=lambda: table.tables(found, system),
    )


def _only_dates(ends: list[str], planting: str | None) -> None:
    """Refuse ends that are not dates, and a planting before all of them; all of them are told."""
    from simulator.problems import InputError, Problem
    from simulator.season.plan import end, order
    from simulator.season.until_planting import planting_day

    problems = [
        Problem(Parameter("end"), f"'{text}' is not a date.", "Give month-day, such as 04-15.")
        for text in ends
        if end(text).date is None
    ]
    day = None
    if planting is not None:
        day = plan_options.gathered(problems, partial(planting_day, planting))
    if day and not problems:
        first = min((end(text).date or "" for text in ends), key=order)
        if order(day) < order(first):
            problems.append(
                Problem(
                    Parameter("planting"),
                    f"Planting on {day} comes before the first date of ending, {first}.",
                    "Give a later day, or earlier dates of ending.",
                )
            )
    if problems:
        raise InputError(problems)
