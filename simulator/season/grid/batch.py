"""What a worker does: read the weather of some places, grow every plan there, write the results."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from itertools import groupby
from pathlib import Path
from tempfile import mkdtemp
from threading import Lock
from time import perf_counter
from typing import TYPE_CHECKING, Any
from zipfile import BadZipFile
from zlib import error

import numpy as np

import simulator
from simulator.parameters.soils import Soil
from simulator.problems import InputError, Spelling, fault, shown_path
from simulator.process.compiled import CACHE
from simulator.season.compare import grow_layout
from simulator.season.day.record import DAY
from simulator.season.grid.checksums import WeatherRead, signature
from simulator.season.grid.store import write_batch
from simulator.season.grid.unfinished import UnfinishedStore, write_text
from simulator.season.layout import Layout
from simulator.season.seasons import Seasons, cut_seasons, latitude_of, notes_on
from simulator.weather.change import changed_by
from simulator.weather.fall_year import keep_filled
from simulator.weather.files.multistation.splitting import split_by_station
from simulator.weather.places import Place, read_block, read_place, read_split_station
from simulator.weather.record import NAMES, fill_short_gaps, make_record

if TYPE_CHECKING:
    import xarray as xr

Array = np.ndarray[Any, Any]
RECORD_BYTES = 32_000_000  # bytes of day records that a worker holds at a time
INVENTED = "An invented place."
NO_TABLE = "reason.txt"  # in place of what a table of stations was taken apart into
# the netCDF library bears one thread at a time, even where each has its own file
_NETCDF_LOCK = Lock()


@dataclass(frozen=True, kw_only=True)
class GridSetup:
    """What all batches of a grid share.

    Parameters
    ----------
    unfinished : UnfinishedStore
    layout : Layout
    soils : dict of Soil
        By the name that places have.
    years : tuple of int
        Fall years of the grid.
    fields : tuple of str
    changes : tuple of str
        Of the weather; with any there are two cases.
    """

    unfinished: UnfinishedStore
    layout: Layout
    soils: dict[str, Soil]
    years: tuple[int, ...]
    fields: tuple[str, ...]
    changes: tuple[str, ...]

    @property
    def cases(self) -> int:
        """How many kinds of weather: as recorded, and changed if it is."""
        return 2 if self.changes else 1


@dataclass(frozen=True)
class Batch:
    """Some places of a grid, neighbours in it.

    Parameters
    ----------
    number : int
    first : int
        Row of its first place.
    places : tuple of Place
    """

    number: int
    first: int
    places: tuple[Place, ...]


@dataclass
class BatchResult:
    """The result of a batch: its size, seasons run, and the seconds that each step took."""

    number: int
    size: int
    grown: int = 0
    seconds: dict[str, float] = field(default_factory=dict)


def version_here(folder: str) -> tuple[str, bool]:
    """Return this worker's version, that of the loop with it, and whether it sees a folder."""
    return version(), Path(folder).is_dir()


def version() -> str:
    """Return the version of the program and of everything that its loop is compiled from."""
    return f"{simulator.__version__}, loop {CACHE.name}"


def split_table(unfinished: UnfinishedStore, source: str, stations: Sequence[str]) -> None:
    """Split a table of many stations, once, so that each can be read by itself.

    What there is of it from a run that was stopped is whole, or is not under its name. Where it
    cannot be read, the reason is left instead.
    """
    target = unfinished.split(source)
    if target.exists():
        return
    target.parent.mkdir(exist_ok=True)
    made = Path(mkdtemp(dir=target.parent))
    try:
        with Path(source).open("rb"):
            pass
    except OSError as error:
        write_text(made / NO_TABLE, _unreadable(source, error))
    else:
        try:
            split_by_station(Path(source), made, stations)
        except InputError as error:
            write_text(made / NO_TABLE, _reason(error, unfinished.spelling))
    try:
        made.replace(target)
    except OSError:  # a worker that was given up did it after all
        if not target.exists():
            raise


def _read_from_table(unfinished: UnfinishedStore, place: Place) -> xr.Dataset | str:
    folder = unfinished.split(place.source)
    if (folder / NO_TABLE).exists():
        return (folder / NO_TABLE).read_text("utf-8")
    return read_split_station(place, folder)


def cache_record(unfinished: UnfinishedStore, row: int, place: Place) -> None:
    """Read a place's own file once, and keep its record in a form that is quick to read.

    A station of a table is read from what was taken out of it. What cannot be read leaves its
    reason instead.
    """
    target = unfinished.record(row)
    source = signature(place.source)
    try:
        record = read_place(place) if place.station is None else _read_from_table(unfinished, place)
    except InputError as error:
        record = _reason(error, unfinished.spelling)
    except OSError as error:
        record = _unreadable(place.source, error)
    kept: dict[str, Any] = {"problem": record}
    if not isinstance(record, str):
        about = {name: value for name, value in record.attrs.items() if value is not None}
        kept = {
            "time": record["time"].values.astype("datetime64[D]"),
            "about": json.dumps(about),
            **{str(name): record[name].values for name in record.data_vars},
        }
    made = target.with_suffix(".new.npz")
    np.savez(made, source=source, **kept)
    made.replace(target)


def cached_record(unfinished: UnfinishedStore, row: int) -> xr.Dataset | str:
    """Return a record that `cache_record` kept, or why there is none."""
    with _opened(unfinished, row) as kept:
        if "problem" in kept:
            return str(kept["problem"])
        about = json.loads(str(kept["about"]))
        named = {name: about.get(name) for name in ("site", "latitude", "longitude")}
        record = make_record(
            kept["time"], *(kept[name] for name in NAMES), **named, radiation=kept.get("radiation")
        )
    return record.assign_attrs(about)


def cached_span(
    unfinished: UnfinishedStore, row: int
) -> tuple[np.datetime64, np.datetime64] | None:
    """Return the first and last day that `cache_record` kept; None where there is no record."""
    with _opened(unfinished, row) as kept:
        return None if "problem" in kept else (kept["time"][0], kept["time"][-1])


def is_cached(unfinished: UnfinishedStore, row: int, place: Place) -> bool:
    """Whether a record is kept, whole, from the file as it is now."""
    if not unfinished.record(row).exists():
        return False
    try:
        with _opened(unfinished, row) as kept:
            return kept.zip.testzip() is None and str(kept["source"]) == signature(place.source)
    except InputError:
        return False


@contextmanager
def _opened(unfinished: UnfinishedStore, row: int) -> Iterator[Any]:
    """Open what `cache_record` kept.

    Raises
    ------
    InputError
        It is not as it was written.
    """
    try:
        with np.load(unfinished.record(row), allow_pickle=False) as kept:
            yield kept
    except InputError:
        raise
    except (BadZipFile, ValueError, KeyError, EOFError, error) as fault_of_file:
        raise fault(
            shown_path(str(unfinished.record(row))),
            "It is damaged.",
            "Give the same command again: it reads the weather anew.",
        ) from fault_of_file


def _unreadable(source: str, error: OSError) -> str:
    return f"{Path(source).name}: It cannot be read: {error.strerror or error}."


def _reason(error: InputError, spelling: Spelling | None) -> str:
    first, *more = (problem.text(spelling) for problem in error.problems)
    return first + (f" And {len(more)} more." if more else "")


def records(unfinished: UnfinishedStore, batch: Batch) -> Iterator[xr.Dataset | str]:
    """Read the record of each place of a batch, or say why it cannot be read."""
    row = batch.first
    for source, group in groupby(
        batch.places, lambda place: place.index is not None and place.source
    ):
        places = list(group)
        if source:
            yield from _in_block(places, unfinished.spelling)
        else:
            for step in range(len(places)):
                yield cached_record(unfinished, row + step)
        row += len(places)


def _in_block(places: Sequence[Place], spelling: Spelling | None) -> Iterator[xr.Dataset | str]:
    try:
        with _NETCDF_LOCK:
            block = read_block(places)
    except InputError as error:
        yield from [_reason(error, spelling)] * len(places)
        return
    except OSError as error:
        yield from [_unreadable(places[0].source, error)] * len(places)
        return
    at = {place: row for row, place in enumerate(block.places)}
    for place in places:
        if place in at:
            yield block.record(at[place])
        else:
            yield _reason(InputError(list(block.faults[place])), spelling)


def sources_of(unfinished: UnfinishedStore, batch: Batch) -> list[str]:
    """Return the files that the weather of a batch is read from."""
    return [
        str(unfinished.record(batch.first + step)) if place.index is None else place.source
        for step, place in enumerate(batch.places)
    ]


def weather_of(unfinished: UnfinishedStore, batch: Batch) -> tuple[int, str]:
    """Return a batch's number and the checksum of its weather as it is now."""
    read = WeatherRead(())
    for _ in read.through(records(unfinished, batch)):
        pass
    return batch.number, str(read.note()["weather"])


def grow_batch(setup: GridSetup, batch: Batch) -> BatchResult:
    """Read, grow and write a batch.

    Parameters
    ----------
    setup : GridSetup
    batch : Batch

    Returns
    -------
    BatchResult
    """
    layout, cases = setup.layout, setup.cases
    shape = (len(batch.places), len(setup.years), *layout.shape)
    done = BatchResult(batch.number, int(np.prod(shape[:-1])) * cases)
    stopwatch = Stopwatch(done.seconds)
    values = {name: np.full((*shape, cases), np.nan) for name in setup.fields}
    report: dict[str, Any] = {"left_out": [], "notes": []}
    weather_read = WeatherRead(sources_of(setup.unfinished, batch))
    read = weather_read.through(records(setup.unfinished, batch))
    for row, place in enumerate(batch.places):
        record = next(read)
        stopwatch.stop("reading")
        left_out, notes = "", ""
        try:
            if isinstance(record, str):
                left_out = record
            else:
                here = replace(layout, soil=setup.soils[place.soil]) if place.soil else layout
                filled = fill_short_gaps(record)
                notes = _notes(keep_filled(filled, ()))
                weathers = [filled]
                if setup.changes:
                    weathers.append(changed_by(filled, *setup.changes))
                latitude = latitude_of(filled)
                for case, weather in enumerate(weathers):
                    seasons = cut_seasons(weather, setup.years, layout.sowings, layout.ends)
                    stopwatch.stop("preparing")
                    years = np.searchsorted(setup.years, seasons.years)
                    for some, ends in _grow(here, seasons, latitude, stopwatch):
                        for name in setup.fields:
                            values[name][row, years[some], ..., case] = ends[name].reshape(
                                -1, *shape[2:]
                            )
                    done.grown += len(seasons.years) * len(layout.combinations)
                left_out = "; ".join(seasons.left_out)
                notes = _notes(keep_filled(filled, seasons.days()))
                notes = " ".join([notes, *notes_on(seasons)]).strip()
        except InputError as error:
            left_out = _reason(error, setup.unfinished.spelling)
        report["left_out"].append(left_out)
        report["notes"].append(notes)
        stopwatch.stop("preparing")
    if not setup.changes:
        values = {name: block[..., 0] for name, block in values.items()}
    report |= {"grown": done.grown, **weather_read.note()}
    write_batch(setup.unfinished, batch.number, batch.first, values, report)
    stopwatch.stop("writing")
    return done


def _notes(record: xr.Dataset) -> str:
    """Say what deserves a look in a record: that its place is invented, what was filled."""
    invented = INVENTED if record.attrs.get("invented") == "yes" else ""
    filled = f"Filled: {record.attrs['filled']}." if record.attrs["filled"] else ""
    return f"{invented} {filled}".strip()


def _grow(
    layout: Layout, seasons: Seasons, latitude: float, stopwatch: Stopwatch
) -> Iterator[tuple[slice, Array]]:
    """Grow seasons, as many at a time as their day records have room for."""
    at_once = seasons_at_once(layout)
    for first in range(0, len(seasons.years), at_once):
        some = slice(first, first + at_once)
        ends = grow_layout(layout, seasons.take(some), latitude, threads=1)
        stopwatch.stop("growing")
        yield some, ends


def seasons_at_once(layout: Layout) -> int:
    """Return how many seasons of all plans a worker grows before it keeps what is wanted."""
    of_one = len(layout.combinations) * len(layout.ends) * DAY.itemsize
    return max(RECORD_BYTES // of_one, 1)


class Stopwatch:
    """Adds up seconds by what they were spent on."""

    def __init__(self, seconds: dict[str, float]) -> None:
        self.seconds = seconds
        self.last = perf_counter()

    def stop(self, what: str) -> None:
        """Put the time since the last stop down to something."""
        now = perf_counter()
        self.seconds[what] = self.seconds.get(what, 0.0) + now - self.last
        self.last = now
