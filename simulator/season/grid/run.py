"""The run of a grid: batches handed to workers a few at a time, and gone on with after a stop."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.parameters import soils
from simulator.problems import InputError, Parameter, Problem, Spelling, fault, shown_path
from simulator.season import arguments
from simulator.season.compiling import Announce, announce_compiling, say
from simulator.season.day.drivers import COLUMNS, DAYS
from simulator.season.day.record import DAY
from simulator.season.grid.batch import (
    Batch,
    BatchResult,
    GridSetup,
    cache_record,
    cached_record,
    cached_span,
    grow_batch,
    is_cached,
    seasons_at_once,
    split_table,
)
from simulator.season.grid.checks import bytes_of, check
from simulator.season.grid.checksums import signature
from simulator.season.grid.finished import open_grid
from simulator.season.grid.identity import identity, store_attributes
from simulator.season.grid.recheck import grow_until_sound, refuse_changed_weather
from simulator.season.grid.store import begin, finish, make_arrays
from simulator.season.grid.unfinished import UnfinishedStore, locked, removed_if_refused
from simulator.season.grid.workers import WorkerPool, worker_pool
from simulator.season.layout import Layout, lay_out
from simulator.season.seasons import days_needed
from simulator.weather.fall_year import season_day
from simulator.weather.places import Place, read_block
from simulator.weather.record import NAMES

if TYPE_CHECKING:
    import xarray as xr

KEPT = ("biomass_kg_ha", "nitrogen_uptake_kg_ha", "nitrate_leached_kg_ha")
CASES = ("as recorded", "changed")
MEMORY = "2 GB"
SEASONS_AT_ONCE = 15_000  # in a batch, half a second of work; more where one place has more
BATCH_BYTES = 32_000_000  # bytes of a batch's results; more where one place has more
COPIES = 4  # of results and weather, while a batch is read, cut, shuffled and packed
Watch = Callable[[BatchResult], object]


def run_grid(
    places: Sequence[Place],
    *,
    out: Path | str,
    fields: Sequence[str] = KEPT,
    years: Iterable[int] | None = None,
    changes: Sequence[str] | str | None = None,
    soil_of: Callable[[str], soils.Soil] = soils.soil,
    workers: int | None = None,
    processes: bool | None = None,
    cluster: str | None = None,
    memory: str = MEMORY,
    overwrite: bool = False,
    command: str = "",
    spelling: Spelling | None = None,
    progress: bool = True,
    announce: Announce | None = None,
    watch: Watch | None = None,
    **plan: Any,
) -> xr.Dataset:
    """Grow every combination of plans in every year at every place, and keep it on disk.

    Parameters
    ----------
    places : sequence of Place
        From `simulator.weather.places.find_places`.
    out : path
        A zarr store, or a netCDF file, that it ends up in. Until it is whole it is built in
        a folder beside it, ``.unfinished``; a run that is given again goes on there.
    fields : sequence of str
        Of `simulator.season.day.record.FIELDS`, kept at the ends.
    years : iterable of int, optional
        Fall years; without it all that the record of any place is long enough for.
    changes : list of str, optional
        Weather changes; adds the dimension ``case``: ``as recorded`` and ``changed``.
    soil_of : callable
        Finds the soil that a place names.
    workers : int, optional
        As many as there are processors without it; fewer where the memory does not suffice.
    processes : bool, optional
        Whether they are processes rather than threads; without it where text files are read.
    cluster : str, optional
        Address of a running dask.distributed scheduler, whose workers then do the work; they must
        see the weather and the output under the same paths.
    memory : str
        Most that is used on this machine.
    overwrite : bool
        Whether results of another plan, or a part of them, may go.
    command : str
        For the store to say how it was made.
    spelling : callable, optional
        How parameters are spelled where the store says why a place could not be run; as in Python
        without it.
    progress : bool
        Show a bar with the time left, on a terminal.
    announce : callable, optional
        Told what takes time, or is not as asked.
    watch : callable, optional
        Told of each batch that is done.
    **plan
        As `simulator.season.layout.lay_out` takes it: cereal, soil, sow and so on.

    Returns
    -------
    Dataset(site, year, sow, seeding, nitrogen, nitrogen_timing, end[, case])
        Opened from the store, values read when they are used: NaN where a place lacks the season
        or never reached the end; coordinates ``latitude, longitude, soil, left_out, notes`` along
        the sites. The bits are those of `simulator.season.compare.compare` at each place, however
        the work was shared or stopped in between.

    Raises
    ------
    InputError
        Anything in the plans that cannot be used, no place that has any season, results of
        another plan under that name, a place that needs more memory than there may be, a cluster
        that does not answer, a disk that refuses or does not keep what is written, weather that
        changed meanwhile.
    KeyboardInterrupt
        Passed on, after what was done is kept.
    """
    announce = announce or say
    fields, change_texts = check(places, fields, changes, workers, out, memory, cluster, plan)
    out = Path(out).absolute()
    layout = lay_out(**plan)
    wanted = (given := arguments.fall_years(years)) and sorted(set(given))
    budget = bytes_of(memory)
    named = {name: soil_of(name) for name in sorted({p.soil for p in places if p.soil})}
    unfinished = UnfinishedStore(out, spelling)
    before = {source: signature(source) for source in {place.source for place in places}}
    try:
        decided = identity(layout, named, places, fields, wanted, change_texts)
        attributes = store_attributes(layout, places, change_texts, command)
        if begin(out, decided, attributes, overwrite=overwrite, announce=announce):
            announce(f"{shown_path(out.name)} is there already, whole, from this plan.")
            return open_grid(out, verify=False)  # as it was just now
        with locked(unfinished), removed_if_refused(unfinished):
            announce_compiling("grow_members", announce)
            of_files = [(row, place) for row, place in enumerate(places) if place.index is None]
            separate = bool(of_files) if processes is None else processes
            with worker_pool(workers, separate, cluster, budget, unfinished.folder) as pool:
                _cache_records(pool, unfinished, of_files, progress)
                setup = GridSetup(
                    unfinished=unfinished,
                    layout=layout,
                    soils=named,
                    years=tuple(wanted or _years(unfinished, places, layout)),
                    fields=fields,
                    changes=change_texts,
                )
                batches = _make_batches(setup, places, pool, budget, announce)
                weather = partial(refuse_changed_weather, setup, batches, places, decided, before)
                _grow_until_sound(pool, setup, batches, weather, announce, watch, progress)
            _refuse_empty(unfinished)
            finish(unfinished)
    except KeyboardInterrupt:
        announce(_stopped(unfinished))
        raise
    except OSError as error:
        raise _not_written(unfinished, error) from error
    return open_grid(out, verify=False)


def _stopped(unfinished: UnfinishedStore) -> str:
    return (
        f"Stopped. What is done is kept in {shown_path(unfinished.folder.name)}: the same "
        "command goes on from there."
    )


def _not_written(unfinished: UnfinishedStore, error: OSError) -> InputError:
    return fault(
        Parameter("out"),
        f"{shown_path(unfinished.path.name)} cannot be written: {error.strerror or error}.",
        f"What is done is kept in {shown_path(unfinished.folder.name)}: make room and give the "
        "same command again; it goes on from there."
        if unfinished.plan.exists()
        else "Name another.",
    )


def _cache_records(
    pool: WorkerPool,
    unfinished: UnfinishedStore,
    places: Sequence[tuple[int, Place]],
    progress: bool,
) -> None:
    """Read text files, each once, into a form that is quick to read."""
    missing = [(row, place) for row, place in places if not is_cached(unfinished, row, place)]
    if not missing:
        return
    tables: dict[str, list[str]] = {}
    for _, place in missing:
        if place.station is not None:
            tables.setdefault(place.source, []).append(place.station)
    with _bar("taking apart", len(tables), 0, progress and bool(tables)) as bar:
        taking = ((split_table, (unfinished, *table)) for table in tables.items())
        pool.run(taking, lambda _: bar.update(1))
    with _bar("reading", len(places), len(places) - len(missing), progress) as bar:
        calls = ((cache_record, (unfinished, row, place)) for row, place in missing)
        pool.run(calls, lambda _: bar.update(1))
    shutil.rmtree(unfinished.folder / "apart", ignore_errors=True)


def _years(unfinished: UnfinishedStore, places: Sequence[Place], layout: Layout) -> list[int]:
    """Return every fall year that the record of some place is long enough for."""
    spans = {
        span
        for row, place in enumerate(places)
        if place.index is None and (span := cached_span(unfinished, row))
    }
    for first in {place.source: place for place in places if place.index is not None}.values():
        days = read_block([first]).time
        spans.add((days[0], days[-1]))
    sow, last, _ = days_needed(layout.sowings, layout.ends)
    found = {
        year
        for first, end in spans
        for year in range(int(str(first)[:4]) - 1, int(str(end)[:4]) + 1)
        if season_day(year, sow) >= first and season_day(year, last) <= end
    }
    if not found:
        unread = [
            text
            for row, place in enumerate(places)
            if place.index is None and isinstance(text := cached_record(unfinished, row), str)
        ]
        raise InputError(
            [
                Problem(
                    "weather",
                    f"No place has a record that goes from {sow} to {last} of a season.",
                    "Give longer records, or other dates.",
                ),
                *(Problem("left out", text) for text in unread),
            ]
        )
    return sorted(found)


def _make_batches(
    setup: GridSetup, places: Sequence[Place], pool: WorkerPool, budget: int, announce: Announce
) -> list[Batch]:
    """Cut a grid into batches of so many places that any batch fits, and make its arrays.

    How large they are depends on the grid alone, never on who works on it: so the files are the
    same for any workers.
    """
    of_place = len(setup.years) * len(setup.layout.combinations) * setup.cases
    results = of_place * len(setup.layout.ends) * 8 * len(setup.fields)
    at_once = max(min(SEASONS_AT_ONCE // of_place, BATCH_BYTES // results, len(places)), 1)
    dimensions = ["site", "year", *setup.layout.coordinates(), *(["case"] if setup.changes else [])]
    at_once = make_arrays(
        setup.unfinished, _coordinates(setup, places), dimensions, setup.fields, at_once
    )
    weather = len(setup.years) * DAYS * 8 * len(NAMES)
    pool.limit(COPIES * at_once * (results + weather) + bytes_of_records(setup), budget, announce)
    return [
        Batch(number, first, tuple(places[first : first + at_once]))
        for number, first in enumerate(range(0, len(places), at_once))
    ]


def bytes_of_records(setup: GridSetup) -> int:
    """Return the bytes of the day records and drivers that a worker holds at a time."""
    seasons = min(seasons_at_once(setup.layout), len(setup.years))
    records = len(setup.layout.combinations) * len(setup.layout.ends) * DAY.itemsize
    return seasons * (records + DAYS * COLUMNS * 8)


def _coordinates(setup: GridSetup, places: Sequence[Place]) -> xr.Dataset:
    import xarray as xr

    def degrees(values: Iterable[float | None]) -> np.ndarray[Any, Any]:
        return np.array([np.nan if value is None else value for value in values], float)

    soil = setup.layout.soil.name
    coordinates: dict[str, Any] = {
        "site": (
            "site",
            np.array([p.site for p in places], object),
            {"long_name": "name of the place", "cf_role": "timeseries_id"},
        ),
        "latitude": (
            "site",
            degrees(p.latitude for p in places),
            {"standard_name": "latitude", "units": "degrees_north"},
        ),
        "longitude": (
            "site",
            degrees(p.longitude for p in places),
            {"standard_name": "longitude", "units": "degrees_east"},
        ),
        "soil": (
            "site",
            np.array([p.soil or soil for p in places], object),
            {"long_name": "soil texture"},
        ),
        "year": (
            "year",
            list(setup.years),
            {"long_name": "fall year, in which the stand is sown", "units": "1"},
        ),
        **setup.layout.coordinates(),
    }
    if setup.changes:
        coordinates["case"] = list(CASES)
    return xr.Dataset(coords=coordinates)


def _grow_until_sound(
    pool: WorkerPool,
    setup: GridSetup,
    batches: Sequence[Batch],
    check_weather: Callable[[], None],
    announce: Announce,
    watch: Watch | None,
    progress: bool,
) -> None:
    grow = partial(_grow, pool, setup, batches, watch, progress)
    grow_until_sound(pool, setup, batches, grow, check_weather, announce)


def _grow(
    pool: WorkerPool,
    setup: GridSetup,
    batches: Sequence[Batch],
    watch: Watch | None,
    progress: bool,
    left: Sequence[Batch],
) -> None:
    """Grow the batches that are left."""
    of_place = len(setup.years) * len(setup.layout.combinations) * setup.cases
    total = of_place * sum(len(batch.places) for batch in batches)
    before = total - of_place * sum(len(batch.places) for batch in left)

    def done(batch: BatchResult) -> None:
        bar.update(batch.size)
        if watch:
            watch(batch)

    with _bar("growing", total, before, progress) as bar:
        pool.run(((grow_batch, (setup, batch)) for batch in left), done)


def _bar(what: str, total: int, initial: int, progress: bool) -> Any:
    from tqdm import tqdm

    return tqdm(
        desc=what,
        total=total,
        initial=initial,
        disable=None if progress else True,
        leave=False,
        file=sys.stderr,
        bar_format="{desc} {percentage:3.0f}%|{bar}| {elapsed}, {remaining} to go",
    )


def _refuse_empty(unfinished: UnfinishedStore) -> None:
    """Refuse a grid without a single season; it would be of no use to anyone.

    Raises
    ------
    InputError
        With the reasons of the first few places.
    """
    notes = unfinished.notes()
    if any(note["grown"] for note in notes.values()):
        return
    reasons = [text for batch in sorted(notes) for text in notes[batch]["left_out"]]
    shutil.rmtree(unfinished.folder)
    raise InputError(
        [Problem("weather", "No place has a season that can be run.")]
        + [Problem("left out", text) for text in reasons]
    )
