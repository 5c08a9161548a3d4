"""Sets of places for the map: the samples, invented ones, those of this machine, of a visitor.

The places of a set are found at once, and their records read a part at a time, so that a map can
say how far it is.
"""

from __future__ import annotations

import secrets
import tempfile
from collections import OrderedDict
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from simulator.page.records import PlaceWeather, Visitors, place_of, plain_name, sample_place
from simulator.problems import InputError, Problem, fault
from simulator.weather.samples import DEFAULT_SAMPLE, find_sample, sample_weather, samples

if TYPE_CHECKING:
    import xarray as xr

    from simulator.weather.places import Place

INVENTED, SAMPLES, GIVEN = "invented", "samples", "given"  # keys of sets
UPLOADED = "up-"  # begins the key of a visitor's set
BEFORE = "map-"  # begins the key of a place of a set
COUNT, FALLS, SEED = 24, 30, 1  # of the invented places
MOST_GIVEN, MOST_UPLOADED = 400, 60  # places
MOST_SETS = 4  # of all visitors, the latest
MOST_KEPT = 800  # seasons of a plan at a place, kept of a set; some 25 kB each

Reading = Iterator["tuple[Place, xr.Dataset | InputError]"]


class PlaceSet:
    """Places of one map.

    Parameters
    ----------
    key : str
        What a link calls it.
    name : str
        What people call it.
    total : int
        How many places it has.
    reading : iterator
        Gives them one after the other: a place that is ready, or what `read_places` yields.
    left_out : sequence of str
        Why others are not among them.
    """

    def __init__(
        self, key: str, name: str, total: int, reading: Iterator[Any], left_out: list[str]
    ) -> None:
        self.key, self.name, self.total = key, name, total
        self.left_out = left_out
        self.places: list[PlaceWeather] = []
        self._kept: OrderedDict[Any, Any] = OrderedDict()
        self._reading = reading
        self._lock = Lock()
        self._tried = 0

    def read(self, upto: int) -> list[PlaceWeather]:
        """Return the places that are read, at least so many tried."""
        with self._lock:
            while self._tried < upto:
                try:
                    found = next(self._reading)
                except StopIteration:
                    self.total = self._tried = min(self.total, self._tried)
                    break
                self._tried += 1
                if isinstance(found, PlaceWeather):
                    self.places.append(found)
                else:
                    self._keep(*found)
            return list(self.places)

    def _keep(self, place: Place, record: xr.Dataset | InputError) -> None:
        try:
            if isinstance(record, InputError):
                raise record
            shown = record.attrs.get("units_of_file", "us")
            key = f"{BEFORE}{self.key}-{self._tried}"
            self.places.append(place_of(key, record, "si" if shown == "si" else "us", []))
        except InputError as error:
            first = error.problems[0]
            self.left_out.append(f"{place.site}: {first.what}")

    def kept(self, asked: Any, work: Callable[[], Any]) -> Any:
        """Return what was worked out for a question, or work it out and keep it with the set."""
        with self._lock:
            if asked in self._kept:
                self._kept.move_to_end(asked)
                return self._kept[asked]
        found = work()
        with self._lock:
            self._kept[asked] = found
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
        return found

    def find(self, key: str) -> PlaceWeather | None:
        """Find a place that has been read."""
        return next((place for place in self.places if place.key == key), None)


class PlaceSets:
    """All sets that the map may be asked of.

    Parameters
    ----------
    visitors : Visitors
        In whose folder files lie while they are read.
    given : path, optional
        A folder, a table of many stations, netCDF or zarr of many sites.

    Raises
    ------
    InputError
        What is given cannot be read, or has no place.
    """

    def __init__(self, visitors: Visitors, given: str | None = None, **about: Any) -> None:
        self.visitors = visitors
        self._lock = Lock()
        self._sets: dict[str, PlaceSet] = {
            SAMPLES: PlaceSet(
                SAMPLES,
                "the sample places",
                len(samples()),
                (sample_place(name) for name in samples()),
                [],
            )
        }
        if given is not None:
            self._sets[GIVEN] = _given(given, about)
        self._uploaded: OrderedDict[str, tuple[str, PlaceSet]] = OrderedDict()

    def listed(self) -> list[tuple[str, str]]:
        """Return keys and names of the sets that everyone has, that of this machine first."""
        about = find_sample(DEFAULT_SAMPLE).place
        made = [
            (INVENTED, f"{COUNT} invented places around {about}"),
            (SAMPLES, f"the {len(samples())} sample places (invented)"),
        ]
        if GIVEN in self._sets:
            made.insert(0, (GIVEN, self._sets[GIVEN].name))
        return made

    def find_set(self, visitor: str | None, key: str, file: str) -> PlaceSet:
        """Find a set that a visitor may ask of.

        Raises
        ------
        InputError
            There is none of that name; a file that this visitor has not read.
        """
        with self._lock:
            if key == INVENTED and key not in self._sets:
                self._sets[key] = _invented(self.visitors.folder)
            if key in self._sets:
                return self._sets[key]
            owner, found = self._uploaded.get(key, ("", None))
        if found is not None and owner == visitor:
            return found
        if key.startswith(UPLOADED):
            named = f"the file '{file}'" if file else "a file"
            raise fault(
                "set",
                f"This link was made with {named}, which stays on the computer that read it, and "
                "is forgotten when the page stops.",
                "Choose the file again, or other places.",
            )
        known = ", ".join(name for name, _ in self.listed())
        raise fault("set", f"There are no places '{key[:40]}'.", f"Choose one of {known}.")

    def find(self, visitor: str | None, key: str) -> PlaceWeather | None:
        """Find a place of a set by its key, as `Visitors` does."""
        if not key.startswith(BEFORE):
            return None
        whose, _, number = key.removeprefix(BEFORE).rpartition("-")
        try:
            kept = self.find_set(visitor, whose, "")
        except InputError:
            return None
        if kept.find(key) is None and number.isascii() and number.isdigit():
            kept.read(min(int(number), kept.total))
        return kept.find(key)

    def take(self, visitor: str, data: bytes, name: str, **about: Any) -> PlaceSet:
        """Read an uploaded file of many places, and keep them for the visitor.

        Raises
        ------
        InputError
            A file of one place, of too many, or that cannot be read.
        """
        from simulator.weather.places import find_places, read_places

        plain = plain_name(name)
        with self.visitors.written(data, plain) as path:
            places, problems = find_places(path, **about)
            _refuse_one_place(places, problems, plain)
            key = UPLOADED + secrets.token_urlsafe(9)
            left_out = [one.what for one in problems] + _beyond(len(places), MOST_UPLOADED)
            kept = places[:MOST_UPLOADED]
            made = PlaceSet(key, plain, len(kept), read_places(kept), left_out)
            if not made.read(len(kept)):
                raise fault("file", f"No place of {plain} can be used.", " ".join(left_out[:3]))
        with self._lock:
            self._uploaded[key] = (visitor, made)
            while len(self._uploaded) > MOST_SETS:
                self._uploaded.popitem(last=False)
        return made


def _refuse_one_place(places: Any, problems: Any, name: str) -> None:
    if len(places) > 1:
        return
    if not places and problems:
        raise InputError([Problem("file", one.what, one.remedy) for one in problems])
    raise fault(
        "file",
        f"{name} has the weather of one place.",
        "A map takes a table with a column of stations, or netCDF of many sites; one place is for "
        "the page of one field.",
    )


def _beyond(count: int, most: int) -> list[str]:
    return [f"Of {count:,} places the first {most} are used here."] if count > most else []


def _given(source: str, about: dict[str, Any]) -> PlaceSet:
    from simulator.weather.places import find_places, read_places

    places, problems = find_places(source, **about)
    if not places:
        raise InputError(list(problems))
    left_out = [f"{one.where}: {one.what}" for one in problems] + _beyond(len(places), MOST_GIVEN)
    kept = places[:MOST_GIVEN]
    name = f"the places of {Path(source).name or source}"
    return PlaceSet(GIVEN, name, len(kept), read_places(kept), left_out)


def _invented(folder: Path) -> PlaceSet:
    """Make invented places around the default sample, from its climate shifted in space."""
    from simulator.weather.generator.fit import fit_climatology
    from simulator.weather.generator.invented_places import scatter, write_places
    from simulator.weather.places import find_places, read_places
    from simulator.weather.samples import FIRST_FALL

    sample = find_sample(DEFAULT_SAMPLE)
    fitted = fit_climatology(sample_weather(sample.name))
    scattered = scatter(fitted, COUNT, SEED)
    named = replace(scattered, names=[f"place {number}" for number in range(1, COUNT + 1)])
    with tempfile.TemporaryDirectory(dir=folder) as own:
        path = Path(own) / "invented-places.nc"
        write_places(path, fitted, named, FALLS, FIRST_FALL, SEED)
        places, _ = find_places(path)
        name = f"invented places around {sample.place}"
        made = PlaceSet(INVENTED, name, COUNT, read_places(places), [])
        made.read(COUNT)
    return made
