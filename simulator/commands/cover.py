"""``fallsown cover``: what the residue does after termination."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared import options, plan_options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.shared.one_place import OnePlace, at_one_place
from simulator.problems import InputError, Parameter, Problem, fault

if TYPE_CHECKING:
    import xarray as xr

    from simulator.answers.cover.calculate import Cover
    from simulator.season.layout import BareSoil
    from simulator.show.answer import Reply
    from simulator.units import System


KILL = click.option(
    "--kill",
    metavar="HOW",
    help="How the stand is ended, for what grows back: roller, mowing, herbicide, 'herbicide and "
    "roller' or tillage.  [default: as the residue lies]",
)


@click.command("cover", short_help="How long residue covers, saves soil, ties up nitrogen.")
@options.with_options(
    options.list_option(
        "--sow", default=("10-20", "12-08"), help="Sowing dates to compare, month-day."
    ),
    options.list_option(
        "--residue",
        default=("standing", "flat", "rolled", "buried"),
        help="How residue lies: standing, flat, rolled or buried.",
    ),
)
@options.ONE_SEEDING
@options.ONE_NITROGEN
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
@click.option(
    "--on",
    multiple=True,
    metavar="LIST",
    help="Days to tell the cover of, month-day: before the end that of the green stand, after it "
    "that of the residue.",
)
@click.option(
    "--planting",
    metavar="MM-DD",
    help="When the next crop is planted: residue, water and nitrate are told for it.  [default: "
    "05-15, or the end if that is later or the weather ends before]",
)
@plan_options.BARE_SOIL
@click.option(
    "--weeks",
    multiple=True,
    metavar="LIST",
    help="Weeks after the end whose nitrogen is told, such as 1,2,4,8.  [default: eleven of the "
    "first 52]",
)
@KILL
@CHART
@options.with_options(
    options.YEARS, options.WEATHER, options.FIELD, options.OUTPUT, options.DEBUG_OPTION
)
def command(chart: Path | None, as_json: bool, out: Path | None, **asked: Any) -> None:
    """Follow residue from termination on: mass, ground covered, soil loss, nitrogen, weeds.

    And before it, what the green stand covers month by month.

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
    on: tuple[str, ...],
    planting: str | None,
    bare_soil: str,
    weeks: tuple[str, ...],
    kill: str | None,
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
    from simulator.season.layout import BareSoil, read_bare
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
    dates = _check_dates(on, planting, lies, plans["end"][0])
    without = read_bare(bare_soil) or BareSoil()
    checked_weeks = _check_weeks(weeks, kill)
    wanted = plan_options.parse_years(years)
    here = at_one_place(asked, plans, field, wanted, units)
    check_size(wanted, here.record, len(here.plans["sow"]), len(lies))
    grid = here.grown()
    found = _follow_residue(here, grid, lies, days)
    found, notes = _on_days(here, found, dates, planting)
    found = replace(found, green=_green(here, found, dates), weeks=checked_weeks, kill=kill or "")
    found = _beside_bare(here, found, without)
    return _reply(grid, found, notes, here.system, here.heading_sentences())


def _follow_residue(here: OnePlace, grid: xr.Dataset, lies: list[str], days: int) -> Cover:
    """Follow the residue of stands that were grown."""
    from simulator.answers.cover.calculate import cover
    from simulator.season.residue_decay import follow

    stands = grid.isel(seeding=0, nitrogen=0, nitrogen_timing=0, end=0)
    stands.attrs.update(
        seeding_kg_ha=float(stands["seeding"]),
        nitrogen_kg_ha=float(stands["nitrogen"]),
        nitrogen_timing=str(stands["nitrogen_timing"].values),
    )
    after = follow(here.record, stands, residue=lies, days=days)
    return cover(stands, after, options.model_errors())


def _on_days(
    here: OnePlace, found: Cover, dates: list[str], planting: str | None
) -> tuple[Cover, list[str]]:
    """Take residue on the day of planting and on those asked for; say which lie too late."""
    from simulator.answers.cover.on_day import is_green, on_day
    from simulator.answers.shared.planting import taken, usual_planting
    from simulator.season.until_planting import planting_day
    from simulator.show import wording

    sow, end = here.plans["sow"], here.plans["end"][0]
    day = planting_day(planting or usual_planting(here.record, sow[0], [end], here.years))
    wanted = [date for date in dates if not is_green(date, sow, end)]
    made = [on_day(found.residue, day, _soil(here, found, day))]
    made += [on_day(found.residue, date) for date in wanted if date != day]
    late = [
        wording.dates_in(date)
        for date, one in zip([day, *(date for date in wanted if date != day)], made, strict=True)
        if one is None
    ]
    notes = [] if planting else [taken(day)]
    if late:
        notes.append(
            f"Nothing is said for {wording.join(late)}: residue is followed for {found.days} days."
        )
    return replace(found, on=tuple(one for one in made if one is not None)), notes


def _beside_bare(here: OnePlace, found: Cover, without: BareSoil) -> Cover:
    """Set bare soil beside the residue from the end on, and beside the green stand before it."""
    import xarray

    from simulator.answers.cover.bare_soil import bare_day
    from simulator.season.until_planting import LAST_DAY

    end = here.plans["end"][0]
    soils = {one.date: one.soil for one in found.on if one.date <= LAST_DAY}
    planting = next((date for date, soil in soils.items() if soil is not None), None)
    made = []
    for date in dict.fromkeys([end, *soils]):
        soil = soils.get(date)
        stands = _soil(here, found, date) if soil is None else soil
        bare = _soil(here, found, date, bare=without)
        made.append(bare_day(found, date, bare, stands, planting=date == planting))
    green = found.green
    if green is not None and green.sizes["date"] and not without.volunteers:
        covered = [
            _soil(here, found, date, end=date, bare=without)["planting_covered"]
            for date in map(str, green["date"].values)
        ]
        green = green.assign(bare_covered=xarray.concat(covered, dim=green["date"]))
    return replace(found, green=green, bare=tuple(one for one in made if one is not None))


def _soil(
    here: OnePlace,
    found: Cover,
    planting: str,
    *,
    end: str | None = None,
    bare: BareSoil | None = None,
) -> xr.Dataset:
    """Follow the soil under each residue, or bare soil, to a day such as that of planting."""
    from simulator.answers.shared.soil_water import available
    from simulator.season.plan import order
    from simulator.season.until_planting import until_planting

    ground, plans = here.field["soil"], here.plans
    if end is not None:  # nothing that is sown or spread later matters to bare soil
        first = min(plans["sow"], key=order)
        plans = {**plans, "sow": [first], "nitrogen_timing": ["sowing"], "end": [end]}
    planted = until_planting(
        here.record,
        planting=planting,
        **plans,
        **here.field,
        residue=[str(name) for name in found.residue["residue"].values[: 1 if bare else None]],
        years=found.residue["year"].values.tolist(),
        bare=bare or False,
        announce=options.announce,
    ).isel(seeding=0, nitrogen=0, nitrogen_timing=0, end=0, drop=True)
    if bare is not None:
        planted = planted.isel(sow=0, residue=0, drop=True)
    held = planted["planting_soil_water_mm"]
    water = held.copy(data=available(held.values, ground)).assign_attrs(
        units="mm", long_name="water above wilting point"
    )
    return planted.assign(planting_water_mm=water)


def _green(here: OnePlace, found: Cover, dates: list[str]) -> xr.Dataset:
    """Tell what the green stand of each sowing covers on dates before its end."""
    import xarray

    from simulator.answers.cover.on_day import green_cover, is_green, usual_dates
    from simulator.season.plan import order

    sowings, end = here.plans["sow"], here.plans["end"][0]
    years = found.residue["year"].values.tolist()
    asked = [date for date in dates if is_green(date, sowings, end)]
    shown = sorted({*usual_dates(sowings, end), *asked}, key=order)
    leaves = []
    for sow in sowings:
        ends = [date for date in shown if is_green(date, [sow], end)]
        plans = {**here.plans, "sow": [sow], "end": [*ends, end]}
        grid = replace(here, plans=plans, years=years).grown()
        grid = grid.isel(sow=0, seeding=0, nitrogen=0, nitrogen_timing=0, drop=True)
        leaves.append(grid["leaf_area_index"].reindex(year=years, end=shown))
    leaf_area = xarray.concat(leaves, dim="sow").rename(end="date").assign_coords(sow=sowings)
    covered = green_cover(leaf_area.values, here.field["cereal"].extinction)
    about = {"units": "1", "long_name": "share of the ground under green leaves"}
    made = leaf_area.copy(data=covered).assign_attrs(about)
    return made.to_dataset(name="green_cover").assign_attrs(asked=asked)


def _reply(
    grid: xr.Dataset, found: Cover, late: list[str], system: System, headed: list[str]
) -> Reply:
    """Word the answer."""
    from simulator.answers.cover import bare_soil, data, table, words
    from simulator.answers.cover.weeks import weeks_json
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.answer import Reply
    from simulator.show.cautions import cautions, dead_stands

    answer = make_answer(
        "cover",
        found.by_day,
        left_out=sorted([*grid.attrs["left_out"], *found.left_out]),
        cautions=[*cautions(grid.attrs, nitrogen=True, termination=True), *words.CAUTIONS],
        sentences=[*words.sentences(found, system), *headed],
        notes=[*grid.attrs["notes"], *filter(None, [found.ends_early]), *late, *dead_stands(grid)],
        falls=partial(data.falls_json, found),
        ranges=partial(data.ranges_json, found),
        on_days=partial(data.days_json, found),
        green=partial(data.green_json, found),
        beside_bare_soil=partial(bare_soil.json_rows, found),
        nitrogen_by_week=partial(weeks_json, found),
        grows_back=partial(data.grows_back_json, found),
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


def _check_dates(on: tuple[str, ...], planting: str | None, lies: list[str], end: str) -> list[str]:
    """Return the days asked for; refuse what cannot be read, and planting before the end.

    Raises
    ------
    InputError
        All that is wrong, ways to lie that there are not among it.
    """
    from simulator.season.plan import month_day, order
    from simulator.season.until_planting import planting_day

    problems = _check_lies(lies, end)
    option = Parameter("on")
    dates = plan_options.gathered(problems, partial(plan_options.parts, on, option=option)) or []
    read = [plan_options.gathered(problems, partial(month_day, d, name=option)) for d in dates]
    day = None
    if planting is not None:
        day = plan_options.gathered(problems, partial(planting_day, planting))
    if problems:
        raise InputError(problems)
    if day and order(day) < order(month_day(end, name="end")):
        raise fault(
            Parameter("planting"),
            f"Planting on {day} comes before the end on {end}.",
            "Give a later day, or an earlier end.",
        )
    return [date for date in read if date is not None]


def _check_weeks(weeks: tuple[str, ...], kill: str | None) -> tuple[int, ...]:
    """Return the weeks asked for; refuse what are none, and a way to end that there is not."""
    from simulator.answers.cover.weeks import read_weeks
    from simulator.parameters.terminations import way_of

    problems: list[Problem] = []
    texts = plan_options.gathered(
        problems, partial(plan_options.parts, weeks, option=Parameter("weeks"))
    )
    read = read_weeks(texts or [], problems)
    if kill is not None:
        plan_options.gathered(problems, partial(way_of, kill))
    if problems:
        raise InputError(problems)
    return read


def _check_lies(lies: list[str], end: str) -> list[Problem]:
    """Refuse ways to lie that there are not, and an end that is no date."""
    from simulator.parameters.residues import LIES
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
    return problems
