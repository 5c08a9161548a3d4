"""``fallsown response``: what nitrogen brings, where it ends, and when it should go on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared import options, plan_options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.shared.one_place import at_one_place

if TYPE_CHECKING:
    import xarray as xr

    from simulator.answers.response.table import Shown
    from simulator.parameters.model_error import ModelErrors
    from simulator.show.answer import Reply
    from simulator.units import System

RATES = "0,15,30,45,60,75,90,105,120 lb/acre"
TIMINGS = ("sowing", "02-15", "sowing 1/3 + 02-15 2/3")
DEFAULT_KINDS = "fall rain"


@click.command("response", short_help="What nitrogen brings, where it ends, when it should go on.")
@options.list_option(
    "--sow", default=options.SOWING_DATES, help="Sowing dates to compare, month-day."
)
@options.list_option("--seeding", default=("90 lb/acre",), help="The seeding rate, with a unit.")
@options.list_option(
    "--nitrogen",
    default=(RATES,),
    help="Nitrogen rates to compare, with a unit; five give a line, six a plateau.",
)
@options.list_option(
    "--nitrogen-timing",
    default=TIMINGS,
    help="Times of nitrogen to compare: sowing, a date, or a split; the first is shown whole.",
)
@options.list_option("--end", default=("04-15",), help="When the stand is ended.")
@click.option(
    "--kinds",
    metavar="HOW|FILE",
    help="Kinds of year: 'fall rain', 'fall temperature', 'fall', your own list "
    f"(year,kind), or the Oceanic Nino Index.  [default: {DEFAULT_KINDS}]",
)
@click.option(
    "--kinds-season",
    default="OND",
    show_default=True,
    metavar="SEASON",
    help="Three months of the Oceanic Nino Index.",
)
@click.option(
    "--hit-rate",
    type=options.Percent(),
    metavar="PERCENT",
    help="How often a forecast names the right kind of year.",
)
@CHART
@options.with_options(
    options.YEARS, options.WEATHER, options.FIELD, options.OUTPUT, options.DEBUG_OPTION
)
def command(chart: Path | None, as_json: bool, out: Path | None, **asked: Any) -> None:
    """Biomass against nitrogen by sowing date and kind of year, with fitted curves.

    It says what each pound brings and where the nitrogen ended, which late sowings with nitrogen
    equal earlier ones without, and whether to hold the nitrogen back, in which kind of year.
    """
    from simulator.commands.shared.reporting import print_reply

    reply = make_reply(chart=chart, as_json=as_json, out=out, **asked)
    print_reply(reply, chart=chart, as_json=as_json, out=out)


def make_reply(
    *,
    sow: tuple[str, ...],
    seeding: tuple[str, ...],
    nitrogen: tuple[str, ...],
    nitrogen_timing: tuple[str, ...],
    end: tuple[str, ...],
    kinds: str | None,
    kinds_season: str,
    hit_rate: float | None,
    chart: Path | None,
    years: str,
    units: str | None,
    as_json: bool,
    out: Path | None,
    **asked: Any,
) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    from simulator.answers.response import table
    from simulator.commands.shared.reporting import check_size
    from simulator.show.output import check_destination

    asked, field = options.split_field(asked)
    read = [asked["weather"], kinds]
    check_destination(out, inputs=read, called="one of the files read")
    check_chart(chart, read)
    wanted = plan_options.parse_years(years)
    plans = plan_options.plans(
        sow=sow, seeding=seeding, nitrogen=nitrogen, nitrogen_timing=nitrogen_timing, end=end
    )
    plan_options.one_each({"seeding": plans["seeding"], "end": plans["end"]})
    here = at_one_place(asked, plans, field, wanted, units)
    check_size(wanted, here.record, *here.counts)
    grid = here.grown()
    sorted_by, of_year, notes = _kinds(
        here.record, grid["year"].values.tolist(), kinds, kinds_season
    )
    shown = _shown(grid, sorted_by, of_year, hit_rate, options.model_errors())
    notes = [*notes, *table.notes(shown, hit_rate)]
    return _reply(grid, shown, notes, here.system, here.heading_sentences())


def _shown(
    grid: xr.Dataset,
    sorted_by: str,
    of_year: dict[int, str],
    hit_rate: float | None,
    errors: ModelErrors,
) -> Shown:
    """Work out what nitrogen brings, by sowing, by kind of year and by the time it goes on."""
    from simulator.answers.response import calculate as advice
    from simulator.answers.response import forecast, sowing_pairs
    from simulator.answers.response.table import Shown

    plans = advice.one_plan(grid)
    plans["kind_of_year"] = ("year", [of_year.get(y, "") for y in plans["year"].values.tolist()])
    timings = list(map(str, plans["nitrogen_timing"].values))
    numbers = plans.drop_vars("kind_of_year")
    return Shown(
        plans=plans,
        responses=advice.responses(numbers, of_year),
        yearly=advice.responses(numbers, of_year, timings=timings[:1], by_year=True),
        pairs=sowing_pairs.equal_pairs(plans, timings[0], errors.response),
        value=forecast.timing_value(
            plans,
            str(plans["sow"].values[0]),
            of_year,
            None if hit_rate is None else hit_rate / 100.0,
            errors.response,
        ),
        kinds_by=sorted_by,
        errors=errors,
    )


def _reply(
    grid: xr.Dataset, shown: Shown, notes: list[str], system: System, headed: list[str]
) -> Reply:
    """Word the answer."""
    from simulator.answers.response import data as response_data
    from simulator.answers.response import table
    from simulator.answers.response.words import sentences
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.answer import Reply
    from simulator.show.cautions import cautions, dead_stands
    from simulator.show.grids import heading
    from simulator.show.output import ROW_VARIABLES

    numbers, kind = shown.plans.drop_vars("kind_of_year"), shown.plans["kind_of_year"]
    answer = make_answer(
        "response",
        _rows(grid, numbers, kind, list(ROW_VARIABLES)),
        left_out=list(grid.attrs["left_out"]),
        cautions=cautions(grid.attrs, nitrogen=True, termination=True),
        sentences=[*sentences(shown, system), *headed],
        notes=[*grid.attrs["notes"], *notes, *dead_stands(grid)],
        **response_data.as_json(shown),
    )

    def draw() -> Any:
        from simulator.answers.response import chart as response_chart

        return response_chart.chart(shown, system)

    return Reply(
        answer=answer,
        draw=draw,
        lay_heading=lambda: heading(grid.attrs, grid["year"].values.tolist()),
        lay_tables=lambda: table.tables(shown, system),
    )


def _kinds(
    record: xr.Dataset, years: list[int], how: str | None, season: str
) -> tuple[str, dict[int, str], list[str]]:
    """Sort the years; by default as far as the record allows, else as asked or not at all."""
    from simulator.problems import InputError
    from simulator.weather.year_types import kinds_of_year
    from simulator.weather.year_weights import check_kinds

    if how is not None:
        of_year = kinds_of_year(record, how, season=season)
        check_kinds(of_year, years)
        return how, of_year, []
    try:
        of_year = kinds_of_year(record, DEFAULT_KINDS)
    except InputError as error:
        return (
            DEFAULT_KINDS,
            {},
            [f"Years are not sorted by kind. {p.what}" for p in error.problems],
        )
    without = [str(year) for year in years if year not in of_year]
    notes = [f"No kind of year, for want of weather in October to December: {', '.join(without)}."]
    return DEFAULT_KINDS, of_year, notes if without else []


def _rows(grid: xr.Dataset, plans: xr.Dataset, kinds: xr.DataArray, names: list[str]) -> xr.Dataset:
    """Put what nitrogen brought beside the fields of each season."""
    from simulator.answers.response.calculate import marginal

    more = marginal(plans)
    for name in ("seeding", "end"):
        more = more.expand_dims({name: grid[name].values})
    data = grid[names].merge(more.reindex_like(grid), combine_attrs="override")
    shape = grid["biomass_kg_ha"]
    data["kind_of_year"] = kinds.broadcast_like(shape).transpose(*shape.dims)
    data["kind_of_year"].attrs["long_name"] = "kind of year"
    data.attrs = grid.attrs
    return data
