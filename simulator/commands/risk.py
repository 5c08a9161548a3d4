"""``fallsown risk``: how surely plans reach a target, and what they cost in nitrate."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.risk_question import QUESTION_NAMES, Question, read_question
from simulator.commands.risk_reply import Found, reply_of
from simulator.commands.shared import options, plan_options
from simulator.commands.shared.charting import draw
from simulator.commands.shared.many_places import (
    GRID,
    GRID_NAMES,
    MAP,
    OVERWRITE,
    STORES,
    WORKERS,
    grid_in,
    new_file,
    refuse_given,
    shown_units,
)
from simulator.commands.shared.measured import soil_finder
from simulator.commands.shared.weather_sources import (
    Source,
    check_longitudes,
    find_sources,
    records,
)
from simulator.problems import Parameter

if TYPE_CHECKING:
    from simulator.show.answer import Reply


@click.command("risk", short_help="How surely is a target reached, by how late a sowing?")
@click.option(
    "--target",
    default="4000 lb/acre",
    show_default=True,
    metavar="MASS",
    help="Biomass to reach, with its unit.",
)
@click.option(
    "--chance",
    default=80,
    show_default=True,
    metavar="PERCENT",
    type=click.IntRange(1, 99),
    help="Chance, of weather and field together, that the latest sowing must still have.",
)
@click.option(
    "--weather",
    multiple=True,
    metavar="FILE|FOLDER|STORE|SAMPLE",
    help="A weather file, a folder of them, a table of many stations, netCDF or zarr of "
    "many sites, or a packaged sample; may be given again.  [default: the sample "
    "tallow-bend]",
)
@click.option(
    "--kinds",
    metavar="HOW|FILE",
    help="Sort falls by 'fall rain', 'fall temperature' or 'fall' (both), in thirds of "
    "the record's own; or by a file: your list (year,kind) or the Oceanic Nino Index.",
)
@click.option(
    "--kinds-season",
    default="OND",
    show_default=True,
    metavar="MONTHS",
    help="Season of the Oceanic Nino Index.",
)
@click.option(
    "--weights",
    metavar="TEXT",
    help="A forecast of the kind of year, such as 'wet 50, normal 30, dry 20'.  [kinds: fall rain]",
)
@click.option(
    "--chart",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Draw how often biomass is reached, of many places a map: FILE.svg, .png, .pdf or .html.",
)
@MAP
@click.option(
    "--generate",
    type=click.IntRange(5, 450),
    metavar="YEARS",
    help="Lengthen each record to so many falls by drawing from it.",
)
@click.option(
    "--method",
    type=click.Choice(["resampled", "fitted"]),
    default="resampled",
    show_default=True,
    help="Of --generate: real seasons drawn anew, or days of a generator fitted to the record.",
)
@click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=1,
    show_default=True,
    help="Of --generate: the same number gives the same weather.",
)
@click.option(
    "--latest/--no-latest",
    default=None,
    help="Seek the latest sowing too, which takes most of the time.  [default: for up "
    "to 10 places]",
)
@plan_options.BARE_SOIL
@options.with_options(
    options.PLANS,
    options.YEARS,
    options.ABOUT_FILE,
    options.FIELD,
    options.OUTPUT,
    WORKERS,
    GRID,
    OVERWRITE,
    options.DEBUG_OPTION,
)
def command(
    weights: str | None,
    units: str | None,
    chart: Path | None,
    map_: Path | None,
    as_json: bool,
    out: Path | None,
    grid: Path | None,
    **asked: Any,
) -> None:
    """How surely each plan reaches a target, and the latest sowing that still does.

    For one place, several or thousands; over all falls, by kind of year, and for a forecast of the
    kind. Chances are of weather and field together; the share of falls stands beside, with an
    interval that says how few there are. Nitrate lost is held against the limit for drinking water.
    More than ten places are ranked in one table, and shared by workers.
    """
    from simulator.answers.places.map_file import write_map
    from simulator.answers.places.risk import shortened
    from simulator.commands.shared.reporting import print_answer

    found = find(
        weights=weights,
        units=units,
        chart=chart,
        map_=map_,
        as_json=as_json,
        out=out,
        grid=grid,
        **asked,
    )
    reply, rows = reply_of(found, weights=weights, asked=units, mapped=map_ is not None)
    if chart is not None and reply.draw is not None:
        draw(reply.draw(), chart)
    if map_ is not None:
        write_map(rows, reply.answer, map_)
        options.announce(f"Mapped: {map_}.")
    short = (
        reply
        if found.in_full
        else replace(reply, answer=shortened(reply.answer, "--json and --out"))
    )
    print_answer(reply.answer, "" if as_json else short.text, as_json=as_json, out=out)
    if grid is not None:
        options.announce(
            f"Kept: {grid}; the same command with another --target or --chance is answered from it."
        )


def make_reply(**asked: Any) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    reply, _ = reply_of(find(**asked), weights=asked["weights"], asked=asked["units"], mapped=False)
    return reply


def find(
    *,
    weather: tuple[str, ...],
    kinds: str | None,
    weights: str | None,
    chart: Path | None,
    map_: Path | None,
    latest: bool | None,
    units: str | None,
    as_json: bool,
    out: Path | None,
    grid: Path | None,
    **asked: Any,
) -> Found:
    """Read the question and work out every place."""
    from simulator.answers.risk.data import MOST_IN_FULL

    file = options.load_parameters(asked["parameters"])
    shared = {name: asked.pop(name) for name in GRID_NAMES if name in asked}
    given = {name: asked.pop(name) for name in QUESTION_NAMES}
    about, field = options.split_field(asked)
    written = {"out": out, "chart": chart, "map": map_, "grid": grid}
    check_files(written, [*weather, kinds])
    soil_of = soil_finder(file)
    question = read_question(field, soil_of, kinds=kinds, weights=weights, **given)
    sources, problems = find_sources(weather, about, soil_of)
    check_files(written, {one.place.source for one in sources if one.place is not None})
    in_full = len(sources) <= MOST_IN_FULL
    for path, name in ((map_, "map"), (None if in_full else chart, "chart")):
        if path is not None:
            check_longitudes(sources, Parameter(name))
    latest = in_full if latest is None else latest
    found = Found(
        problems=problems,
        left_out=[problem.text(options.spelling()) for problem in problems],
        several_places=len(sources) > 1,
        in_full=in_full,
        kinds=question.kinds,
    )
    if not in_full:
        refuse_given(
            ("bare_soil",),
            f"Bare soil stands beside the plans of up to {MOST_IN_FULL} places.",
            "Leave it out.",
        )
    if in_full or latest or question.needs_record or any(one.one_record for one in sources):
        run_each_place(found, question, sources, about, latest=latest)
    else:
        run_as_grid(found, question, sources, about, grid, **shared)
    return found


def run_each_place(
    found: Found,
    question: Question,
    sources: Sequence[Source],
    about: dict[str, Any],
    *,
    latest: bool,
) -> None:
    """Answer place by place, each from its own record.

    Raises
    ------
    InputError
        Options that are for a grid of places.
    """
    from simulator.answers.risk.data import MOST_IN_FULL

    refuse_given(
        GRID_NAMES,
        f"This option is for more than {MOST_IN_FULL} places of folders or "
        "of files of many, without --kinds, --weights, --generate and --latest.",
        "Leave it out.",
    )
    with options.progress(len(sources)) as done:
        for name, record in records(sources, about):
            found.add(name, partial(question.answer, record, latest=latest, bare=found.in_full))
            done(1)


def check_files(written: Mapping[str, Path | None], inputs: Iterable[str | None]) -> None:
    """Refuse files that cannot be written, or that are read.

    Raises
    ------
    InputError
        As `simulator.show.output.check_destination`.
    """
    from simulator.answers.places.map_file import MAP_SUFFIXES
    from simulator.show.charts import SUFFIXES
    from simulator.show.output import check_destination

    endings = {
        "out": (".csv", ".nc"),
        "chart": SUFFIXES,
        "map": MAP_SUFFIXES,
        "grid": STORES,
    }
    read = list(inputs)
    for name, path in written.items():
        check_destination(
            new_file(path) if name == "grid" else path,
            inputs=read,
            option=Parameter(name),
            suffixes=endings[name],
            called="one of the files read",
        )


def run_as_grid(
    found: Found,
    question: Question,
    sources: Sequence[Source],
    about: dict[str, Any],
    store: Path | None,
    **shared: Any,
) -> None:
    """Answer for thousands of places from one grid, which workers share.

    Raises
    ------
    InputError
        As `simulator.season.grid.run_grid`.
    """
    from simulator.answers.places.split_grid import each_place, without_season
    from simulator.answers.risk.calculate import FIELDS
    from simulator.commands.shared.measured import refuse_irrigation

    refuse_irrigation("a grid of many places")
    places = [one.place for one in sources if one.place is not None]
    with grid_in(
        store,
        places,
        fields=FIELDS,
        years=question.years,
        soil_of=question.soil_of,
        **question.plans,
        **question.field,
        **shared,
    ) as grid:
        found.units = shown_units(None, places)
        if store is not None:
            found.keep(store, grid)
        of_each = each_place(grid, places, question.soil_of)
        empty = zip(sources, without_season(grid), strict=True)
        reread = records([one for one, without in empty if without], about)
        with options.progress(len(places)) as done:
            for one, seasons in zip(sources, of_each, strict=True):
                if seasons is not None:
                    found.add(one.title, partial(question.answer_from, seasons))
                else:  # it says why, or takes those of the usual sowings that its falls cover
                    name, record = next(reread)
                    found.add(name, partial(question.answer, record))
                done(1)
