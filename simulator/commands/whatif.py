"""``fallsown whatif``: weather as recorded beside weather changed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from simulator.commands.shared import options, plan_options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.shared.one_place import OnePlace, at_one_place
from simulator.problems import InputError

if TYPE_CHECKING:
    import xarray as xr

    from simulator.show.answer import Reply

DEFAULT_CHANGE = "rain november = 11 inch"
HELD = "02-15"  # until when the chart also holds nitrogen, where no time of it is asked for


@click.command("whatif", short_help="What would changed weather do to biomass and nitrogen?")
@click.option(
    "--change",
    "changes",
    multiple=True,
    metavar="TEXT",
    default=(DEFAULT_CHANGE,),
    help="What to change, such as 'rain november = 11 inch', 'rain oct..nov * 0.3' or "
    "'temperature oct..dec - 5 degF'; may be given again, and is applied in order.  "
    f"[default: {DEFAULT_CHANGE}]",
)
@plan_options.BARE_SOIL
@CHART
@options.with_options(
    options.PLANS,
    options.YEARS,
    options.WEATHER,
    options.FIELD,
    options.OUTPUT,
    options.DEBUG_OPTION,
)
def command(chart: Path | None, as_json: bool, out: Path | None, **asked: Any) -> None:
    """Sowing dates x nitrogen rates, in the weather as recorded beside the weather changed.

    Without options it answers what 11 inches of rain in November do at the default sample, over
    all its falls. Of several nitrogen rates its sentences speak of the one nearest 60 lb/acre;
    the tables have all.
    """
    from simulator.commands.shared.reporting import print_reply

    reply = make_reply(chart=chart, as_json=as_json, out=out, **asked)
    print_reply(reply, chart=chart, as_json=as_json, out=out)


def make_reply(
    *,
    changes: tuple[str, ...],
    bare_soil: str,
    sow: tuple[str, ...],
    seeding: tuple[str, ...],
    nitrogen: tuple[str, ...],
    nitrogen_timing: tuple[str, ...],
    end: tuple[str, ...],
    chart: Path | None,
    years: str,
    units: str | None,
    as_json: bool,
    out: Path | None,
    **asked: Any,
) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    from simulator.commands.shared.reporting import check_size, warn_of_long_table
    from simulator.season.layout import read_bare
    from simulator.show.output import check_destination

    asked, field = options.split_field(asked)
    check_destination(out, inputs=[asked["weather"]])
    check_chart(chart, [asked["weather"]])
    without = read_bare(bare_soil)
    wanted = plan_options.parse_years(years)
    plans = plan_options.plans(
        sow=sow,
        seeding=seeding,
        nitrogen=nitrogen,
        nitrogen_timing=nitrogen_timing,
        end=end,
        changes=changes,
    )
    here = at_one_place(asked, plans, field, wanted, units)
    check_size(wanted, here.record, 2, *here.counts)
    grid = here.grown(changes=list(changes), bare=without)
    reply = _reply(here, grid, changes, held=not _chosen("nitrogen_timing"))
    if not as_json:
        warn_of_long_table(grid["biomass_kg_ha"].size // (2 * grid.sizes["year"]))
    return reply


def _chosen(option: str) -> bool:
    """Say whether an option was given, and is not as it is without."""
    asked = click.get_current_context(silent=True)
    return asked is not None and asked.get_parameter_source(option) is not ParameterSource.DEFAULT


def _with_held(here: OnePlace, grid: xr.Dataset, changes: tuple[str, ...]) -> xr.Dataset:
    """Add nitrogen held until spring, for the chart, where all of it goes on at sowing."""
    fed = float(grid["nitrogen"].max()) > 0.0
    if not fed or list(here.plans["nitrogen_timing"]) != ["sowing"]:
        return grid
    plans = {**here.plans, "nitrogen_timing": ["sowing", HELD]}
    try:
        return replace(here, plans=plans).grown(changes=list(changes))
    except InputError:  # it would go on after the end
        return grid


def _reply(here: OnePlace, grid: xr.Dataset, changes: tuple[str, ...], *, held: bool) -> Reply:
    """Word the answer; `held` says whether the chart may add nitrogen held until spring."""
    from simulator.answers.shared.bare_soil import beside_each_row
    from simulator.answers.whatif import bare_soil, words
    from simulator.answers.whatif.table import whatif_tables
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.answer import Reply
    from simulator.show.cautions import cautions, dead_stands
    from simulator.show.grids import heading
    from simulator.show.output import ROW_VARIABLES

    errors = options.model_errors()
    answer = make_answer(
        "whatif",
        beside_each_row(grid, ROW_VARIABLES),
        left_out=list(grid.attrs["left_out"]),
        cautions=cautions(grid.attrs, nitrogen=True, termination=True),
        sentences=[
            *words.sentences(grid, here.system, here.record, changes, errors),
            *here.heading_sentences(),
        ],
        notes=[*grid.attrs["notes"], *dead_stands(grid)],
        **bare_soil.json_rows(grid),
    )

    def draw() -> Any:
        from simulator.answers.whatif import chart as whatif_chart

        drawn = _with_held(here, grid, changes) if held else grid
        return whatif_chart.chart(drawn, here.system, changes=changes, errors=errors)

    return Reply(
        answer=answer,
        draw=draw,
        lay_heading=lambda: heading(grid.attrs, grid["year"].values.tolist()),
        lay_tables=lambda: [whatif_tables(grid, here.system, errors)],
    )
