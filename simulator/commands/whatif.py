"""``fallsown whatif``: weather as recorded beside weather changed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared import options, plan_options, weather_options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.shared.measured import with_soil_test
from simulator.commands.shared.sowing import covered_sowings

if TYPE_CHECKING:
    from simulator.show.answer import Reply

DEFAULT_CHANGE = "rain november = 11 inch"


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
    all its falls.
    """
    from simulator.commands.shared.answering import tell

    reply = ask(chart=chart, as_json=as_json, out=out, **asked)
    tell(reply, chart=chart, as_json=as_json, out=out)


def ask(
    *,
    changes: tuple[str, ...],
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
    from simulator.answers.whatif import words
    from simulator.answers.whatif.table import whatif_tables
    from simulator.commands.shared.answering import check_size, gather, warn_of_long_table
    from simulator.show.answer import Reply
    from simulator.show.cautions import cautions, dead_stands
    from simulator.show.grids import heading
    from simulator.show.output import ROW_VARIABLES, check_destination

    asked, field = options.split_field(asked)
    check_destination(out, inputs=[asked["weather"]])
    check_chart(chart, [asked["weather"]])
    wanted = plan_options.parse_years(years)
    plans = plan_options.plans(
        sow=sow,
        seeding=seeding,
        nitrogen=nitrogen,
        nitrogen_timing=nitrogen_timing,
        end=end,
        changes=changes,
    )
    record = weather_options.load_weather(**asked)
    plans["sow"] = covered_sowings(record, plans["sow"], plans["end"], wanted)
    field = with_soil_test(field, plans)
    system = options.shown_units(units, record)
    check_size(wanted, record, 2, *(len(values) for name, values in plans.items() if name != "end"))
    from simulator.season.compare import compare

    grid = compare(
        record, **plans, **field, years=wanted, changes=list(changes), announce=options.announce
    )
    grid.attrs["read_notes"] = record.attrs.get("notes", "")
    answer = gather(
        "whatif",
        grid[list(ROW_VARIABLES)],
        left_out=list(grid.attrs["left_out"]),
        cautions=cautions(grid.attrs, nitrogen=True, termination=True),
        sentences=words.sentences(grid, system, record, changes),
        notes=[*grid.attrs["notes"], *dead_stands(grid)],
    )
    if not as_json:
        warn_of_long_table(grid["biomass_kg_ha"].size // (2 * grid.sizes["year"]))

    def draw() -> Any:
        from simulator.answers.whatif import chart as whatif_chart

        return whatif_chart.chart(grid, system, changes=changes)

    return Reply(
        answer=answer,
        draw=draw,
        lay_heading=lambda: heading(grid.attrs, grid["year"].values.tolist()),
        lay_tables=lambda: [whatif_tables(grid, system)],
    )
