"""``fallsown compare``: every combination of plans."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared import options, plan_options
from simulator.commands.shared.charting import CHART, check_chart, draw
from simulator.commands.shared.field_options import VARIETY
from simulator.commands.shared.many_places import (
    MANY_PLACES_NAMES,
    MANY_PLACES_OPTIONS,
    WEATHER,
    compare_places,
    find_many_places,
    refuse_given,
)
from simulator.commands.shared.measured import refuse_irrigation, soil_finder, with_soil_test
from simulator.commands.shared.one_place import OnePlace, at_one_place
from simulator.problems import InputError, Parameter, Text, fault

if TYPE_CHECKING:
    import xarray as xr

    from simulator.parameters.model_error import ModelErrors
    from simulator.parameters.varieties import Variety
    from simulator.season.layout import BareSoil
    from simulator.units import System


_FIELD = [one for one in options.FIELD if one is not VARIETY]
_VARIETIES = options.list_option(
    "--variety",
    default=("medium",),
    help="Varieties to compare: early, medium, late, about 3 days apart at heading, or days "
    "against a medium one: '6 days early'.",
)


@click.command(
    "compare",
    short_help="Compare sowing dates, rates, timings and ends, all by all.",
)
@click.option(
    "--bare/--no-bare",
    default=True,
    show_default=True,
    help="Set bare soil, without a stand and without nitrogen, beside the plans; of one place.",
)
@plan_options.BARE_SOIL
@CHART
@options.with_options(
    options.PLANS,
    options.YEARS,
    WEATHER,
    options.ABOUT_FILE,
    _VARIETIES,
    _FIELD,
    options.OUTPUT,
    MANY_PLACES_OPTIONS,
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
    bare: bool,
    bare_soil: str,
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
    from simulator.parameters.varieties import varieties

    listed = plan_options.parts(asked.pop("variety"), option=Parameter("variety"))
    kinds = varieties(",".join(listed))
    asked["variety"] = kinds[0] if len(kinds) == 1 else "medium"
    changed = asked["parameters"]
    asked, field = options.split_field(asked)
    soil_of = soil_finder(options.load_parameters(changed))
    how, places = {n: asked.pop(n) for n in MANY_PLACES_NAMES}, find_many_places(asked)
    read_plans = partial(
        plan_options.plans,
        sow=sow,
        seeding=seeding,
        nitrogen=nitrogen,
        nitrogen_timing=nitrogen_timing,
        end=end,
    )
    if places is None:
        _compare_here(
            asked,
            field,
            read_plans,
            years,
            kinds=kinds,
            bare=_read_bare(bare, bare_soil),
            chart=chart,
            units=units,
            as_json=as_json,
            out=out,
        )
        return
    _check_options_of_places(chart, bare, kinds)
    plans = read_plans()
    compare_places(
        *places,
        soil_of=soil_of,
        field=with_soil_test(field, plans),
        years=plan_options.parse_years(years),
        units=units,
        plans=plans,
        as_json=as_json,
        out=out,
        **how,
    )


def _read_bare(bare: bool, kind: str) -> BareSoil | None:
    from simulator.season.layout import read_bare

    return read_bare(kind) if bare else None


def _check_options_of_places(chart: Path | None, bare: bool, kinds: list[Variety]) -> None:
    """Refuse what is told of one place alone."""
    refuse_irrigation("many places at once")
    if len(kinds) > 1:
        raise fault(
            Parameter("variety"),
            "Several varieties are compared at one place.",
            "Give one variety for many places.",
        )
    if chart is not None:
        raise fault(
            Parameter("chart"), "It is drawn for one place.", Text("Use ", Parameter("map"), ".")
        )
    refuse_given(
        ("bare", "bare_soil") if bare else ("bare_soil",),
        "Bare soil stands beside the plans of one place.",
        "Leave it out.",
    )


def _compare_here(
    about_weather: dict[str, Any],
    field: dict[str, Any],
    read_plans: Callable[[], dict[str, Any]],
    years: str,
    *,
    kinds: list[Variety],
    bare: BareSoil | None,
    chart: Path | None,
    units: str | None,
    as_json: bool,
    out: Path | None,
) -> None:
    """Compare plans at one place."""
    from simulator.answers.compare.calculate import differences
    from simulator.answers.compare.table import compare_tables
    from simulator.answers.shared.bare_soil import bare_rows, beside_each_row, leached_less
    from simulator.answers.shared.plant_counts import FIELDS, LEFT, thin_stands
    from simulator.commands.shared.reporting import (
        check_size,
        make_answer,
        print_answer,
        warn_of_long_table,
    )
    from simulator.show.answer import answer_text
    from simulator.show.cautions import cautions, dead_stands
    from simulator.show.grids import heading
    from simulator.show.output import ROW_VARIABLES, check_destination

    check_destination(out, inputs=[about_weather["weather"]])
    check_chart(chart, [about_weather["weather"]])
    wanted = plan_options.parse_years(years)
    here = at_one_place(about_weather, read_plans(), field, wanted, units)
    check_size(wanted, here.record, len(kinds), *here.counts)
    grid, system = _grow_varieties(here, kinds, bare), here.system
    errors = options.model_errors()
    off, less = differences(grid, errors), leached_less(grid)
    answer = make_answer(
        "compare",
        beside_each_row(grid, (*ROW_VARIABLES, "irrigation_mm", *FIELDS, *LEFT)),
        left_out=list(grid.attrs["left_out"]),
        cautions=cautions(grid.attrs, nitrogen=True, termination=True),
        sentences=_sentences(grid, here, kinds, errors, off=off, less=less),
        notes=[*grid.attrs["notes"], *dead_stands(grid), *thin_stands(grid)],
        differences=[one.row() for one in off],
        bare_soil=bare_rows(grid),
        less_than_bare_soil=[one.row() for one in less],
    )
    _draw_here(grid, system, errors, chart)
    if as_json:
        text = ""
    else:
        warn_of_long_table(grid["biomass_kg_ha"].size // grid.sizes["year"])
        text = answer_text(
            answer,
            heading(grid.attrs, grid["year"].values.tolist()),
            compare_tables(grid, system, errors, off=off, less=less),
        )
    print_answer(answer, text, as_json=as_json, out=out)


def _sentences(
    grid: xr.Dataset, here: OnePlace, kinds: list[Variety], errors: ModelErrors, **found: Any
) -> list[str]:
    """Say what was found, and when early and late varieties head."""
    from simulator.answers.compare import words

    falls = _kinds_of_falls(here.record)
    texts = words.sentences(grid, here.system, falls, errors, **found)
    return [*texts, *here.heading_sentences(kinds if len(kinds) > 1 else ())]


def _grow_varieties(here: OnePlace, kinds: list[Variety], bare: BareSoil | None) -> xr.Dataset:
    """Grow every plan, of several varieties side by side."""
    if len(kinds) == 1:
        return here.grown(bare=bare or False)
    return here.grown(bare=bare or False, variety=[one.name for one in kinds])


def _draw_here(grid: xr.Dataset, system: System, errors: ModelErrors, chart: Path | None) -> None:
    if chart is not None:
        from simulator.answers.compare import chart as sowing_chart

        draw(sowing_chart.chart(grid, system, errors=errors), chart)


def _kinds_of_falls(record: xr.Dataset) -> dict[int, str] | None:
    """Return each fall's kind by its rain; None where the record has too few falls to say."""
    from simulator.weather.year_types import kinds_of_year

    try:
        return kinds_of_year(record)
    except InputError:
        return None
