"""What a worker does: read the weather of some places, grow every plan there, write the results."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from pathlib import Path
from tempfile import mkdtemp
from threading import Lock
from time import perf_counter
from typing import TYPE_CHECKING, Any

import numpy as np

import simulator
from simulator.parameters.soils import Soil
from simulator.problems import InputError, Spelling
from simulator.process.compiled import CACHE
from simulator.season.compare import grow_layout
from simulator.season.day.record import DAY
from simulator.season.grid.building import Building, write_text
from simulator.season.grid.store import write_part
from simulator.season.layout import Layout
from simulator.season.seasons import Seasons, cut_seasons, latitude_of, notes_on
from simulator.weather.change import changed_by
from simulator.weather.files import several
from simulator.weather.places import Place, read_apart, read_block, read_place
from simulator.weather.record import NAMES, fill_short_gaps, make_record

if TYPE_CHECKING:
    import xarray as xr

Array = np.ndarray[Any, Any]
RECORDS = 32_000_000  # bytes of day records that a worker holds at a time
INVENTED = "An invented place."
NO_TABLE = "reason.txt"  # in place of what a table of stations was taken apart into
_READING = Lock()  # the netCDF library bears one thread at a time, even where each has its own file


@dataclass(frozen=True, kw_only=True)
class Work:
    """What all parts of a grid share.

    Parameters
    ----------
    building : Building
    layout : Layout
    soils : dict of Soil
        By the name that places have.
    years : tuple of int
        Fall years of the grid.
    fields : tuple of str
    changes : tuple of str
        Of the weather; with any there are two cases.
    """

    building: Building
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
class Part:
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
class Done:
    """What comes of a part: its size, how many seasons ran, and the seconds that each step took."""

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


def take_table_apart(building: Building, source: str, stations: Sequence[str]) -> None:
    """Take a table of many stations apart, once, so that each can be read by itself.

    What there is of it from a run that was stopped is whole, or is not under its name. Where it
    cannot be read, the reason is left instead.
    """
    target = building.apart(source)
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
            several.take_apart(Path(source), made, stations)
        except InputError as error:
            write_text(made / NO_TABLE, _reason(error, building.spelling))
    try:
        made.replace(target)
    except OSError:  # a worker that was given up did it after all
        if not target.exists():
            raise


def _read_from_table(building: Building, place: Place) -> xr.Dataset | str:
    folder = building.apart(place.source)
    if (folder / NO_TABLE).exists():
        return (folder / NO_TABLE).read_text("utf-8")
    return read_apart(place, folder)


def gather(building: Building, row: int, place: Place) -> None:
    """Read a place's own file once, and keep its record in a form that is quick to read.

    A station of a table is read from what was taken out of it. What cannot be read leaves its
    reason instead.
    """
    target = building.weather / f"{row}.npz"
    try:
        record = read_place(place) if place.station is None else _read_from_table(building, place)
    except InputError as error:
        record = _reason(error, building.spelling)
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
    np.savez(made, **kept)
    made.replace(target)


def gathered(building: Building, row: int) -> xr.Dataset | str:
    """Return a record that `gather` kept, or why there is none."""
    with np.load(building.weather / f"{row}.npz", allow_pickle=False) as kept:
        if "problem" in kept:
            return str(kept["problem"])
        about = json.loads(str(kept["about"]))
        named = {name: about.get(name) for name in ("site", "latitude", "longitude")}
        record = make_record(
            kept["time"], *(kept[name] for name in NAMES), **named, radiation=kept.get("radiation")
        )
    return record.assign_attrs(about)


def span_of(building: Building, row: int) -> tuple[np.datetime64, np.datetime64] | None:
    """Return the first and last day of a record that `gather` kept; None where there is none."""
    with np.load(building.weather / f"{row}.npz", allow_pickle=False) as kept:
        return None if "problem" in kept else (kept["time"][0], kept["time"][-1])


def _unreadable(source: str, error: OSError) -> str:
    return f"{Path(source).name}: It cannot be read: {error.strerror or error}."


def _reason(error: InputError, spelling: Spelling | None) -> str:
    first, *more = (problem.text(spelling) for problem in error.problems)
    return first + (f" And {len(more)} more." if more else "")


def records(building: Building, part: Part) -> Iterator[xr.Dataset | str]:
    """Read the record of each place of a part, or say why it cannot be read."""
    row = part.first
    for source, group in groupby(
        part.places, lambda place: place.index is not None and place.source
    ):
        places = list(group)
        if source:
            yield from _in_block(places, building.spelling)
        else:
            for step in range(len(places)):
                yield gathered(building, row + step)
        row += len(places)


def _in_block(places: Sequence[Place], spelling: Spelling | None) -> Iterator[xr.Dataset | str]:
    try:
        with _READING:
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
            told = [p for p in block.problems if f"'{place.site}'" in p.where]
            yield _reason(InputError(told or list(block.problems)), spelling)


def grow_part(work: Work, part: Part) -> Done:
    """Read, grow and write a part.

    Parameters
    ----------
    work : Work
    part : Part

    Returns
    -------
    Done
    """
    layout, cases = work.layout, work.cases
    shape = (len(part.places), len(work.years), *layout.shape)
    done = Done(part.number, int(np.prod(shape[:-1])) * cases)
    clock = Clock(done.seconds)
    values = {name: np.full((*shape, cases), np.nan) for name in work.fields}
    told: dict[str, Any] = {"left_out": [], "notes": []}
    read = records(work.building, part)
    for row, place in enumerate(part.places):
        record = next(read)
        clock.stop("reading")
        left_out, notes = "", ""
        try:
            if isinstance(record, str):
                left_out = record
            else:
                here = replace(layout, soil=work.soils[place.soil]) if place.soil else layout
                filled = fill_short_gaps(record)
                notes = _notes(filled)
                weathers = [filled]
                if work.changes:
                    weathers.append(changed_by(filled, *work.changes))
                latitude = latitude_of(filled)
                for case, weather in enumerate(weathers):
                    seasons = cut_seasons(weather, work.years, layout.sowings, layout.ends)
                    clock.stop("preparing")
                    years = np.searchsorted(work.years, seasons.years)
                    for some, ends in _grow(here, seasons, latitude, clock):
                        for name in work.fields:
                            values[name][row, years[some], ..., case] = ends[name].reshape(
                                -1, *shape[2:]
                            )
                    done.grown += len(seasons.years) * len(layout.combinations)
                left_out = "; ".join(seasons.left_out)
                notes = " ".join([notes, *notes_on(seasons)]).strip()
        except InputError as error:
            left_out = _reason(error, work.building.spelling)
        told["left_out"].append(left_out)
        told["notes"].append(notes)
        clock.stop("preparing")
    if not work.changes:
        values = {name: block[..., 0] for name, block in values.items()}
    write_part(work.building, part.number, part.first, values, {**told, "grown": done.grown})
    clock.stop("writing")
    return done


def _notes(record: xr.Dataset) -> str:
    """Say what deserves a look in a record: that its place is invented, what was filled."""
    invented = INVENTED if record.attrs.get("invented") == "yes" else ""
    filled = f"Filled: {record.attrs['filled']}." if record.attrs["filled"] else ""
    return f"{invented} {filled}".strip()


def _grow(
    layout: Layout, seasons: Seasons, latitude: float, clock: Clock
) -> Iterator[tuple[slice, Array]]:
    """Grow seasons, as many at a time as their day records have room for."""
    at_once = seasons_at_once(layout)
    for first in range(0, len(seasons.years), at_once):
        some = slice(first, first + at_once)
        ends = grow_layout(layout, seasons.take(some), latitude, threads=1)
        clock.stop("growing")
        yield some, ends


def seasons_at_once(layout: Layout) -> int:
    """Return how many seasons of all plans a worker grows before it keeps what is wanted."""
    of_one = len(layout.combinations) * len(layout.ends) * DAY.itemsize
    return max(RECORDS // of_one, 1)


class Clock:
    """Adds up seconds by what they were spent on."""

    def __init__(self, seconds: dict[str, float]) -> None:
        self.seconds = seconds
        self.last = perf_counter()

    def stop(self, what: str) -> None:
        """Put the time since the last stop down to something."""
        now = perf_counter()
        self.seconds[what] = self.seconds.get(what, 0.0) + now - self.last
        self.last = now
