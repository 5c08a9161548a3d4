"""Many places on the command line: their options, the grid behind them, and compare's answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from simulator.commands.shared import options, plan_options
from simulator.problems import InputError, Parameter, Problem, as_option, fault

if TYPE_CHECKING:
    import xarray as xr

    from simulator.units import System
    from simulator.weather.places import Place

FIELDS = ("biomass_kg_ha", "nitrogen_uptake_kg_ha", "nitrate_leached_kg_ha")
STORES = (".zarr", ".nc")
WEATHER = click.option(
    "--weather",
    metavar="FILE|FOLDER|STORE|SAMPLE",
    help="A weather file, a folder of them, a table of many stations, netCDF or zarr of many "
    "sites, or a packaged sample ('fallsown samples' lists them).  [default: the sample "
    "tallow-bend]",
)
WORKERS = (
    click.option(
        "--workers",
        type=click.IntRange(1),
        metavar="N",
        help="Of many places: how many work at once.  [default: one a processor]",
    ),
    click.option(
        "--processes/--threads",
        default=None,
        help="Whether they are processes or threads.  [default: processes where text "
        "files are read]",
    ),
    click.option(
        "--cluster",
        metavar="ADDRESS",
        help="Have the workers of a running dask.distributed scheduler do it, such as "
        "tcp://10.0.0.5:8786.",
    ),
    click.option(
        "--memory",
        default="2 GB",
        show_default=True,
        metavar="SIZE",
        help="Most that is used on this machine.",
    ),
)
OVERWRITE = click.option("--overwrite", is_flag=True, help="Replace results of another plan.")
MAP = click.option(
    "--map",
    "map_",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the places as points for a map program: FILE.geojson or .csv.",
)
GRID = click.option(
    "--grid",
    metavar="STORE",
    type=click.Path(path_type=Path),
    help="Of many places: keep every season in STORE.zarr or STORE.nc. A run that "
    "was stopped goes on from it, and another target or chance is answered from "
    "it.",
)
FIELDS_KEPT = options.list_option("--fields", default=FIELDS, help="What is kept of each season.")
MANY_PLACES_OPTIONS = (*WORKERS, FIELDS_KEPT, OVERWRITE, MAP)
MANY_PLACES_NAMES = ("workers", "processes", "cluster", "memory", "fields", "overwrite", "map_")
GRID_NAMES = ("workers", "processes", "cluster", "memory", "overwrite", "grid")  # of risk


def find_many_places(asked: dict[str, Any]) -> tuple[list[Place], list[Problem]] | None:
    """Find the places where the weather is of many; None where it is one record.

    Parameters
    ----------
    asked : dict
        Options of the weather.

    Raises
    ------
    InputError
        A folder or store that cannot be used; options of many places given for one.
    """
    weather = asked["weather"]
    path = Path(weather) if weather else None
    if path is not None and asked["site"] is None and path.exists():
        from simulator.weather.places import find_places

        about = {name: asked[name] for name in ("latitude", "units_of_file", "date_format")}
        try:
            places, problems = find_places(path, check_soil=_check_soil(), **about)
        except InputError:
            if path.is_dir():
                raise
            return None  # told when it is read
        if path.is_dir() or len(places) + len(problems) > 1:
            if not places:
                raise InputError(list(problems))
            return list(places), list(problems)
    refuse_given(
        MANY_PLACES_NAMES,
        "This option is for many places, and the weather is of one.",
        "Leave it out, or name a folder, or a file of many stations.",
    )
    return None


def refuse_given(names: Sequence[str], what: str, remedy: str) -> None:
    """Refuse options that have no say here.

    Raises
    ------
    InputError
        Any of them was given.
    """
    context = click.get_current_context()
    given = [
        name for name in names if context.get_parameter_source(name) is not ParameterSource.DEFAULT
    ]
    if given:
        raise InputError([Problem(Parameter(name.rstrip("_")), what, remedy) for name in given])


def new_file(store: Path | None) -> Path | None:
    """Return where a grid goes if no folder is there, which the grid itself judges."""
    return None if store is None or store.is_dir() else store


@contextmanager
def grid_in(store: Path | None, places: Sequence[Place], **asked: Any) -> Iterator[xr.Dataset]:
    """Grow a grid of many places: in a store that stays, or in a temporary folder that goes.

    Parameters
    ----------
    store : Path or None
        What ``--grid`` names.
    places : sequence of Place
    **asked
        As `simulator.season.grid.run_grid` takes it.

    Yields
    ------
    Dataset

    Raises
    ------
    InputError
        As `run_grid`.
    """
    from simulator.season.grid import run_grid

    stays = store is not None
    with nullcontext("") if stays else TemporaryDirectory(prefix="fallsown-") as folder:
        try:
            grid = run_grid(
                places,
                out=store or Path(folder, "grid.zarr"),
                command=options.command_line(),
                spelling=options.spelling(),
                announce=options.announce if stays else _announce_without_store,
                **asked,
            )
        except InputError as error:
            raise InputError([_of_store(one, folder) for one in error.problems]) from error
        yield grid


def _announce_without_store(text: str) -> None:
    stopped = "Stopped. Nothing is kept; with --grid STORE.zarr the same command would go on."
    options.announce(stopped if text.startswith("Stopped.") else text)


def _of_store(problem: Problem, folder: str) -> Problem:
    """Name what stands for compare's --out here."""
    if problem.where != Parameter("out"):
        return problem
    if not folder:
        return replace(problem, where=Parameter("grid"))
    return Problem(
        f"temporary folder {folder}",
        problem.what,
        "Make room there, or name a store elsewhere: --grid STORE.zarr.",
    )


def _check_soil() -> Callable[[str], object]:
    from simulator.parameters.soils import soil

    return soil


def compare_places(
    places: list[Place],
    problems: list[Problem],
    *,
    plans: dict[str, Any],
    field: dict[str, Any],
    soil_of: Callable[[str], Any],
    years: list[int] | None,
    units: str | None,
    as_json: bool,
    out: Path | None,
    map_: Path | None,
    fields: Sequence[str],
    **how: Any,
) -> None:
    """Grow a grid at many places, tell of it place by place, and say where it is.

    Raises
    ------
    InputError
        As `simulator.season.grid.run_grid`; no store named.
    """
    from simulator.season.grid import run_grid

    if out is None:
        raise fault(
            Parameter("out"),
            f"{len(places):,} places are too many for tables alone.",
            "Name a store for the whole grid: --out grid.zarr or grid.nc.",
        )
    _check_files(places, out, map_)
    for problem in problems:
        options.announce(f"Left out: {problem.text(as_option)}")
    grid = run_grid(
        places,
        out=out,
        years=years,
        fields=plan_options.parts(fields, option=Parameter("fields")),
        soil_of=soil_of,
        command=options.command_line(),
        spelling=options.spelling(),
        announce=options.announce,
        **plans,
        **field,
        **how,
    )
    _tell_of_grid(grid, problems, shown_units(units, places), out, map_, as_json=as_json)


def _check_files(places: Sequence[Place], out: Path, map_: Path | None) -> None:
    """Refuse files that could not be written, or that are read, before anything is run."""
    from simulator.answers.places.map_file import MAP_SUFFIXES
    from simulator.show.output import check_destination

    read = list({place.source for place in places})
    check_destination(new_file(out), inputs=read, suffixes=STORES)
    check_destination(map_, inputs=read, option=Parameter("map"), suffixes=MAP_SUFFIXES)
    if map_ is not None and all(place.longitude is None for place in places):
        raise fault(
            Parameter("map"),
            "No place has a longitude.",
            "Give it in the file, or in stations.csv in the folder.",
        )


def _tell_of_grid(
    grid: xr.Dataset,
    problems: list[Problem],
    system: System,
    out: Path,
    map_: Path | None,
    *,
    as_json: bool,
) -> None:
    """Print what was found place by place, and draw the map."""
    from simulator.answers.places import grid as show
    from simulator.answers.places.map_file import off_the_map, write_map
    from simulator.answers.places.risk import shortened
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.answer import answer_text
    from simulator.show.cautions import cautions
    from simulator.show.output import json_text

    few = show.summary(grid)
    whole, notes = show.left_out(grid)
    answer = make_answer(
        "compare",
        few,
        left_out=[*map(str, problems), *whole],
        cautions=[*show.invented(grid), *cautions({}, nitrogen=True, termination=True)],
        sentences=[*show.sentences(few, system), show.kept_at(grid, out, size_of(out))],
        notes=notes,
        store=str(out),
    )
    rows = show.rows(few)
    if map_ is not None:
        answer.notes.extend(off_the_map(rows))
        write_map(rows, answer, map_)
    click.echo(
        json_text(answer)
        if as_json
        else answer_text(
            shortened(answer, "--json and --out"), show.heading(grid), show.tables(few, system)
        )
    )
    if map_ is not None:
        options.announce(f"Written: {map_}.")


def shown_units(asked: str | None, places: Sequence[Place]) -> System:
    """Choose what people see: as asked, else as the first record that can be read has it."""
    from simulator.weather.places import read_places

    if asked is None:
        for some in (places[:1], places[1:]):  # the first will do, most often
            for _, record in read_places(some):
                if not isinstance(record, InputError):
                    return options.shown_units(None, record)
    return "us" if asked == "us" else "si"


def size_of(path: Path) -> int:
    """Return the bytes of a file, or of all files of a store."""
    files = path.rglob("*") if path.is_dir() else [path]
    return sum(file.stat().st_size for file in files if file.is_file())
