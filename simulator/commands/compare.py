"""``fallsown compare``: every combination of plans."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from simulator.commands.shared import options
from simulator.commands.shared.charting import CHART, check_chart, draw
from simulator.commands.shared.many_places import MANY, OF_MANY, WEATHER, compare_many, find_many
from simulator.commands.shared.measured import soil_finder, with_soil_test
from simulator.commands.shared.sowing import covered_sowings
from simulator.problems import Parameter, fault


@click.command("compare", short_help="Compare sowing dates, rates, timings and ends, all by all.")
@CHART
@options.with_options(
    options.PLANS,
    options.YEARS,
    WEATHER,
    options.ABOUT_FILE,
    options.FIELD,
    options.OUTPUT,
    MANY,
    options.DEBUG_OPTION,
)
def command(
    *,
    sow: tuple[str, ...],
    seeding: tuple[str, ...],
    nitrogen: tuple[str, ...],
    nitrogen_timing: tuple[str, ...],
    end: tuple[str, ...],
    years: str,
    chart: Path | None,
    units: str | None,
    as_json: bool,
    out: Path | None,
    **asked: Any,
) -> None:
    """Every sowing date with every seeding rate, nitrogen rate, timing and end, over the years.

    At one place, or at all of a folder of weather files, of a table of many stations, or of a
    netCDF file or zarr store with a dimension of sites: then --out names the zarr store or netCDF
    file that the whole grid goes to.
    A run that was stopped goes on when the same command is given again.
    """
    from simulator.answers.compare import words
    from simulator.answers.compare.table import compare_tables
    from simulator.commands.shared.answering import check_size, gather, give, warn_of_long_table
    from simulator.show.answer import answer_text
    from simulator.show.cautions import cautions, dead_stands
    from simulator.show.grids import heading
    from simulator.show.output import ROW_VARIABLES, check_destination

    parameters = asked["parameters"]
    asked, field = options.split_field(asked)
    soil_of = soil_finder(options.load_parameters(parameters))
    how = {name: asked.pop(name) for name in OF_MANY}
    many = find_many(asked)
    if many is not None:
        if chart is not None:
            raise fault(Parameter("chart"), "It is drawn for one place.", "Use --map for many.")
        plans = options.plans(
            sow=sow, seeding=seeding, nitrogen=nitrogen, nitrogen_timing=nitrogen_timing, end=end
        )
        compare_many(
            *many,
            soil_of=soil_of,
            field=with_soil_test(field, plans),
            years=options.parse_years(years),
            units=units,
            plans=plans,
            as_json=as_json,
            out=out,
            **how,
        )
        return
    check_destination(out, inputs=[asked["weather"]])
    check_chart(chart, [asked["weather"]])
    wanted = options.parse_years(years)
    plans = options.plans(
        sow=sow, seeding=seeding, nitrogen=nitrogen, nitrogen_timing=nitrogen_timing, end=end
    )
    record = options.load_weather(**asked)
    plans["sow"] = covered_sowings(record, plans["sow"], plans["end"], wanted)
    field = with_soil_test(field, plans)
    system = options.shown_units(units, record)
    check_size(wanted, record, *(len(values) for name, values in plans.items() if name != "end"))
    from simulator.season.compare import compare

    grid = compare(record, **plans, **field, years=wanted, announce=options.announce)
    grid.attrs["read_notes"] = record.attrs.get("notes", "")
    answer = gather(
        "compare",
        grid[list(ROW_VARIABLES)],
        left_out=list(grid.attrs["left_out"]),
        cautions=cautions(grid.attrs, nitrogen=True, termination=True),
        sentences=words.sentences(grid, system),
        notes=[*grid.attrs["notes"], *dead_stands(grid)],
    )
    if chart is not None:
        from simulator.answers.compare import chart as sowing_chart

        draw(sowing_chart.chart(grid, system), chart)
    if as_json:
        text = ""
    else:
        warn_of_long_table(grid["biomass_kg_ha"].size // grid.sizes["year"])
        text = answer_text(
            answer,
            heading(grid.attrs, grid["year"].values.tolist()),
            [compare_tables(grid, system)],
        )
    give(answer, text, as_json=as_json, out=out)
