"""``fallsown budget``: what a plan costs, which plan reaches the target cheapest, what pays."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.budget_plans import (
    OTHER_NITROGEN,
    left_out_of,
    read_endings,
    read_pair,
    watered_notes,
)
from simulator.commands.shared import options, plan_options, weather_options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.shared.measured import with_soil_test
from simulator.commands.shared.one_place import OnePlace
from simulator.commands.shared.sowing import covered_sowings
from simulator.problems import Parameter

if TYPE_CHECKING:
    import xarray as xr

    from simulator.answers.budget.table import Shown
    from simulator.parameters.model_error import ModelErrors
    from simulator.parameters.price import Price
    from simulator.parameters.prices import Prices
    from simulator.season.layout import BareSoil
    from simulator.show.answer import Reply
    from simulator.units import System

NITROGEN_TRIED = "0,15,30,45,60,75,90,105,120 lb/acre"
SEED_TRIED = "30,45,60,75,90,105,120,135,150 lb/acre"


@click.command("budget", short_help="What plans cost, which reaches the target, what more pays.")
@click.option(
    "--plan",
    "texts",
    multiple=True,
    metavar="PLAN",
    help="A plan as 'sow=10-20; seeding=90 lb/acre; nitrogen=30 lb/acre', where "
    "nitrogen-timing, end, irrigation and ended-by may be said too; given twice, the second is set "
    "beside the first, and both join the plans to choose from. What it leaves out is the first of "
    "--sow, the last of --end, and for the rest the usual plan.  [default: the usual plan, "
    f"{', '.join(options.USUAL_PLAN.values())}, and the last of --sow with {OTHER_NITROGEN}]",
)
@click.option(
    "--target",
    default="4000 lb/acre",
    show_default=True,
    metavar="BIOMASS",
    help="What a plan must reach, with a unit.",
)
@click.option(
    "--chance",
    type=options.Percent(),
    default=80,
    show_default=True,
    metavar="PERCENT",
    help="Chance of the target that a plan must have, weather and field together.",
)
@click.option(
    "--ended-by",
    default="spraying,rolling",
    show_default=True,
    metavar="LIST",
    help="Work that ends the stand: spraying, rolling, mowing, tillage, or none.",
)
@click.option(
    "--value",
    metavar="PRICE",
    help="What biomass is worth, such as '40 $/ton'; without it, what it must be worth is told.",
)
@click.option("--prices", "price_file", metavar="FILE", help="Your prices, a TOML file.")
@click.option(
    "--write-prices",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the packaged prices to FILE, to copy and edit, and stop.",
)
@plan_options.BARE_SOIL
@CHART
@options.list_option(
    "--sow",
    default=options.SOWING_DATES,
    help="Sowing dates to compare and choose from, month-day.",
)
@options.list_option(
    "--seeding", default=("60,90 lb/acre",), help="Seeding rates to compare and choose from."
)
@options.list_option(
    "--nitrogen", default=("0,30,60,90 lb/acre",), help="Nitrogen rates to compare and choose from."
)
@options.list_option(
    "--nitrogen-timing",
    default=("sowing", "02-15"),
    help="Times of nitrogen to compare and choose from.",
)
@options.list_option("--end", default=("04-15",), help="Ends to compare and choose from.")
@options.with_options(
    options.YEARS, options.WEATHER, options.FIELD, options.OUTPUT, options.DEBUG_OPTION
)
def command(
    write_prices: Path | None, chart: Path | None, as_json: bool, out: Path | None, **asked: Any
) -> None:
    """Two plans itemised side by side, and the cheapest plan that reaches a target.

    The packaged prices are invented round figures: write them with --write-prices, put in your
    own, and use them with --prices.
    """
    from simulator.commands.shared.reporting import print_reply

    if write_prices is not None:
        _write_prices(write_prices)
        return
    reply = make_reply(chart=chart, as_json=as_json, out=out, **asked)
    print_reply(reply, chart=chart, as_json=as_json, out=out)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wanted:
    """What plans are held against: prices, a target and its chance, work that ends a stand."""

    prices: Prices
    target: float
    chance: float
    endings: tuple[str, ...]
    value: Price | None
    errors: ModelErrors


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grown:
    """All plans to choose from, the two side by side, and the first of them with more of each."""

    grid: xr.Dataset
    pair: list[dict[str, Any]]
    pair_grids: list[xr.Dataset]
    more_nitrogen: xr.Dataset
    more_seed: xr.Dataset
    notes: list[str]


def make_reply(
    *,
    texts: tuple[str, ...],
    target: str,
    chance: float,
    ended_by: str,
    value: str | None,
    price_file: str | None,
    bare_soil: str,
    chart: Path | None,
    sow: tuple[str, ...],
    seeding: tuple[str, ...],
    nitrogen: tuple[str, ...],
    nitrogen_timing: tuple[str, ...],
    end: tuple[str, ...],
    years: str,
    units: str | None,
    as_json: bool,
    out: Path | None,
    **asked: Any,
) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    from simulator.season.layout import read_bare

    asked, field = options.split_field(asked)
    _check_files(out, chart, [asked["weather"], price_file])
    wanted = plan_options.parse_years(years)
    plans = plan_options.plans(
        sow=sow, seeding=seeding, nitrogen=nitrogen, nitrogen_timing=nitrogen_timing, end=end
    )
    held = _read_wanted(price_file, value, target, chance, ended_by)
    record = weather_options.load_weather(**asked)
    plans["sow"] = covered_sowings(record, plans["sow"], plans["end"], wanted)
    pair = read_pair(texts, plans, held.endings)
    field = with_soil_test(field, plans, *pair)
    here = OnePlace(record, plans, field, wanted, options.shown_units(units, record))
    grown = _grow(here, pair, read_bare(bare_soil) or True)
    return _reply(
        grown,
        _reckon(grown, held, here.system),
        _reckon(grown, held, "si"),
        here.system,
        [*left_out_of(texts, pair), *watered_notes(pair)],
    )


def _read_wanted(
    price_file: str | None, value: str | None, target: str, chance: float, ended_by: str
) -> _Wanted:
    from simulator.parameters.prices import default_prices, read_prices, value_of_biomass
    from simulator.season import plan as season_plan

    prices = default_prices() if price_file is None else read_prices(price_file)
    worth = None if value is None else value_of_biomass(value, prices.currency)
    goal = season_plan.end(target, name=Parameter("target")).biomass or _no_target(target)
    return _Wanted(
        prices=prices,
        target=goal,
        chance=chance / 100.0,
        endings=read_endings(ended_by, Parameter("ended_by")),
        value=worth,
        errors=options.model_errors(),
    )


def _grow(here: OnePlace, pair: list[dict[str, Any]], bare: BareSoil | bool) -> _Grown:
    from simulator.commands.shared.reporting import check_size
    from simulator.season.seasons import irrigated

    check_size(here.years, here.record, *here.counts)

    def grow(
        plans: dict[str, Any], like: dict[str, Any], *, bare: BareSoil | bool = False
    ) -> xr.Dataset:
        water = like["irrigation"]
        record = here.record if water is None else irrigated(here.record, water)
        return replace(here, plans=plans, record=record).grown(bare=bare)

    first_plan = {name: pair[0][name] for name in here.plans}
    whole = here.grown(bare=bare)
    both = [grow({name: one[name] for name in here.plans}, one, bare=bare) for one in pair]
    grid, *pair_grids = _same_falls([whole, *both])
    gone = sorted(set(whole["year"].values.tolist()) - set(grid["year"].values.tolist()))
    return _Grown(
        grid=grid,
        pair=pair,
        pair_grids=pair_grids,
        more_nitrogen=grow({**first_plan, "nitrogen": [NITROGEN_TRIED]}, pair[0]),
        more_seed=grow({**first_plan, "seeding": [SEED_TRIED]}, pair[0]),
        notes=[f"Left aside, since not every plan has whole weather: {', '.join(map(str, gone))}."]
        if gone
        else [],
    )


def _reckon(grown: _Grown, held: _Wanted, system: System) -> Shown:
    """Reckon what the plans cost, in money an acre or a hectare."""
    from simulator.answers.budget import bare_soil, break_even
    from simulator.answers.budget import calculate as budget
    from simulator.answers.budget.table import Shown

    prices, level, response = held.prices, held.errors.level, held.errors.response
    both = [
        budget.standings(one, asked_for["ended_by"], prices, system, held.target, level)[0]
        for one, asked_for in zip(grown.pair_grids, grown.pair, strict=True)
    ]
    first = both[0].plan
    choices = budget.standings(grown.grid, held.endings, prices, system, held.target, level)
    known = {one.plan for one in choices}
    choices += [one for one in both if one.plan not in known]
    return Shown(
        prices=prices,
        pair=(both[0], both[1]),
        plans=choices,
        best=budget.cheapest(choices, held.chance),
        frontier=budget.frontier(choices),
        next_units=[
            break_even.next_unit("nitrogen", grown.more_nitrogen, first, prices, system, response),
            break_even.next_unit("seed", grown.more_seed, first, prices, system, response),
        ],
        swings=break_even.swings(both[0], choices, prices, system, held.chance),
        target=held.target,
        wanted=held.chance,
        value=held.value,
        errors=held.errors,
        kept=bare_soil.kept_of(choices, [grown.grid, *grown.pair_grids]),
        about=grown.grid.attrs,
    )


def _reply(grown: _Grown, shown: Shown, in_si: Shown, system: System, notes: list[str]) -> Reply:
    """Word the answer."""
    from simulator.answers.budget import bare_soil, data, table
    from simulator.answers.budget.words import sentences
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.answer import Reply
    from simulator.show.cautions import cautions, dead_stands
    from simulator.show.grids import heading

    grid = grown.grid
    answer = make_answer(
        "budget",
        data.dataset(grid, in_si.plans, shown.sign),
        left_out=list(grid.attrs["left_out"]),
        cautions=[
            f"Prices are yours to check: {shown.whose}.",
            *cautions(grid.attrs, nitrogen=True, termination=True),
        ],
        sentences=sentences(shown, system),
        notes=[*grid.attrs["notes"], *grown.notes, *notes, *dead_stands(grid)],
        **data.as_json(in_si, "si"),
        **bare_soil.json_rows(in_si, "si"),
    )

    def draw() -> Any:
        from simulator.answers.budget import chart as budget_chart

        return budget_chart.chart(shown, system, grid.attrs)

    return Reply(
        answer=answer,
        draw=draw,
        lay_heading=lambda: heading(grid.attrs, grid["year"].values.tolist()),
        lay_tables=lambda: table.tables(shown, system),
    )


def _check_files(out: Path | None, chart: Path | None, read: list[str | None]) -> None:
    """Refuse files that could not be written, or that are read, before anything is run."""
    from simulator.show.output import check_destination

    check_destination(out, inputs=read, called="one of the files read")
    check_chart(chart, read)


def _write_prices(path: Path) -> None:
    """Write the packaged prices; a file that is there is somebody's own and stays."""
    from simulator.parameters.prices import default_text
    from simulator.problems import fault
    from simulator.show.output import check_destination, write_whole

    option = Parameter("write_prices")
    check_destination(path, option=option, suffixes=(".toml", ".txt"))
    if path.exists():
        raise fault(option, f"'{path}' is there already.", "Name a new file, or take it away.")
    write_whole(path, lambda made: made.write_text(default_text(), encoding="utf-8"), option=option)
    options.announce(f"Written: {path}. Put in your prices, and use it with --prices {path}.")


def _no_target(target: str) -> float:
    from simulator.problems import fault

    raise fault(
        Parameter("target"), f"'{target}' is not a biomass.", "Write for example '4000 lb/acre'."
    )


def _same_falls(grids: list[xr.Dataset]) -> list[xr.Dataset]:
    """Keep the falls that all plans have weather for, so that like is set beside like."""
    from simulator.problems import fault

    shared = sorted(set.intersection(*(set(grid["year"].values.tolist()) for grid in grids)))
    if not shared:
        raise fault(
            Parameter("plan"),
            "The weather has no fall that is whole for all plans.",
            "Give plans with nearer dates, or a longer record.",
        )
    return [grid.sel(year=shared) for grid in grids]
