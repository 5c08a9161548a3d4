"""The weather that a visitor may ask of: the samples, and the files that they read themselves."""

from __future__ import annotations

import math
import os
import secrets
import tempfile
from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from simulator.problems import InputError, fault
from simulator.season.seasons import days_used
from simulator.show.output import plain
from simulator.weather.fall_year import keep_filled, season_day, usable_years
from simulator.weather.record import fill_short_gaps
from simulator.weather.samples import find_sample, sample_weather, samples

if TYPE_CHECKING:
    import xarray as xr

    from simulator import units
    from simulator.weather.files.reading import Understood

MOST_BYTES = 16 * 2**20  # of a file
MOST_FALLS = 120  # of a place, the latest
MOST_FILES = 4  # of a visitor, the latest
MOST_VISITORS = 60
CORE = ("11-01", "03-01")  # what a fall must have whole to be offered
FIRST_DAY = "07-01"  # of a season
DAYS_OF_MONTH = (31.0, 28.25, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 31.0)
KEY = "file-"  # begins the key of an uploaded file
FILLED = "Short gaps were filled: "
_LONGEST_NAME = 80
_UNSAFE = set('/\\:*?"<>|')


@dataclass(frozen=True, eq=False, slots=True)
class PlaceWeather:
    """A place with its weather; compared by identity, so that what is reckoned can be kept by it.

    Parameters
    ----------
    key : str
        What a link calls it.
    record : Dataset(time)
        Short gaps filled.
    years : tuple of int
        Fall years that are offered.
    units_shown : {"us", "si"}
    notes : tuple of str
        What was filled or taken in another sense than written, and what deserves a look.
    """

    key: str
    record: xr.Dataset
    years: tuple[int, ...]
    units_shown: units.System
    notes: tuple[str, ...]

    @property
    def about(self) -> dict[str, Any]:
        """Attributes of the record."""
        return dict(self.record.attrs)

    @property
    def invented(self) -> bool:
        """Whether the place does not exist."""
        return self.record.attrs.get("invented") == "yes"

    def notes_for(self, years: Iterable[int], sow: str, end: str) -> list[str]:
        """Return the notes, of what was filled only what lies in seasons that are looked at."""
        used = keep_filled(self.record, days_used(years, sow, end)).attrs.get("filled")
        others = [note for note in self.notes if not note.startswith(FILLED)]
        return [*others, f"{FILLED}{used}."] if used else others

    def described(self) -> dict[str, Any]:
        """Return what the page shows of the place."""
        about = self.record.attrs
        days = self.record["time"].values.astype("datetime64[D]")
        return {
            "key": self.key,
            "site": str(about["site"]),
            "latitude": plain(about["latitude"]),
            "invented": self.invented,
            "years": list(self.years),
            "units": self.units_shown,
            "first": str(days[0]),
            "last": str(days[-1]),
            "notes": list(self.notes),
        }


def place_of(key: str, record: xr.Dataset, shown: units.System, notes: list[str]) -> PlaceWeather:
    """Make a place of a record: short gaps filled, its falls found.

    Raises
    ------
    InputError
        No fall of it can be used.
    """
    filled = fill_short_gaps(record)
    years, _ = usable_years(filled, *CORE)
    if filled.attrs.get("filled"):
        notes = [*notes, f"{FILLED}{filled.attrs['filled']}."]
    if len(years) > MOST_FALLS:
        notes = [*notes, f"Of {len(years)} falls the latest {MOST_FALLS} are used here."]
        years = years[-MOST_FALLS:]
        filled = filled.sel(time=slice(season_day(years[0], FIRST_DAY), None))
    if not years:
        raise fault(
            f"weather of {record.attrs['site']}",
            "No winter is whole from November to February.",
            "Give a record that covers sowing to termination.",
        )
    return PlaceWeather(key, filled, tuple(years), shown, tuple(notes))


@cache
def sample_place(name: str) -> PlaceWeather:
    """Return the place of a packaged sample, read once."""
    sample = find_sample(name)
    return place_of(sample.name, sample_weather(sample.name), sample.units_shown, [])


def place_in_file(path: Path, key: str, **about_file: Any) -> PlaceWeather:
    """Read the place of a file.

    Parameters
    ----------
    path : Path
    key : str
    **about_file
        ``latitude, units_of_file, date_format, site`` of `read_weather`.

    Raises
    ------
    InputError
        Every fault of the file, by row and column.
    """
    from simulator.weather.files.reading import to_record, understand

    read = understand(path, **about_file)
    if read.daily.problems:
        raise InputError(read.daily.problems)
    notes = [*read.daily.notes, *map(str, read.daily.doubts)]
    return place_of(key, to_record(read), _units_of(read), notes)


class Visitors:
    """The files that each visitor read, each visible to that visitor alone.

    Parameters
    ----------
    folder : Path
        Where a file lies while it is read, and no longer.

    Attributes
    ----------
    shelves : list of callable
        Where else places are kept: each finds one by visitor and key, or None.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.shelves: list[Callable[[str | None, str], PlaceWeather | None]] = []
        self._lock = Lock()
        self._files: OrderedDict[str, OrderedDict[str, PlaceWeather]] = OrderedDict()

    def place(self, visitor: str | None, key: str, file: str) -> PlaceWeather:
        """Find a place that a visitor may ask of.

        Raises
        ------
        InputError
            There is none of that name; a file that this visitor has not read.
        """
        if key in samples():
            return sample_place(key)
        with self._lock:
            found = self._files.get(visitor or "", OrderedDict()).get(key)
            if found is not None:
                self._files.move_to_end(visitor or "")
                return found
        for find in self.shelves:
            if (kept := find(visitor, key)) is not None:
                return kept
        if key.startswith(KEY):
            named = f"the file '{file}'" if file else "a file"
            raise fault(
                "place",
                f"This link was made with {named}, which stays on the computer "
                "that read it, and is forgotten when the page stops.",
                "Choose the file again, or a sample.",
            )
        raise fault(
            "place",
            f"There is no place '{key[:40]}'.",
            f"Choose one of {', '.join(samples())}, or a file.",
        )

    def take(self, visitor: str, data: bytes, name: str, **about_file: Any) -> PlaceWeather:
        """Read an uploaded file and keep its weather for the visitor.

        Parameters
        ----------
        visitor : str
            The secret of the visitor.
        data : bytes
            The file, already bounded.
        name : str
            As the visitor's computer has it.
        **about_file
            ``latitude, units_of_file, date_format, site`` of `read_weather`.

        Raises
        ------
        InputError
            Every fault of the file, by row and column.
        """
        with self.written(data, plain_name(name)) as path:
            place = place_in_file(path, KEY + secrets.token_urlsafe(9), **about_file)
        with self._lock:
            files = self._files.setdefault(visitor, OrderedDict())
            self._files.move_to_end(visitor)
            files[place.key] = place
            while len(files) > MOST_FILES:
                files.popitem(last=False)
            while len(self._files) > MOST_VISITORS:
                self._files.popitem(last=False)
        return place

    @contextmanager
    def written(self, data: bytes, name: str) -> Iterator[Path]:
        """Lay a file into a folder of its own, for as long as it is read."""
        with tempfile.TemporaryDirectory(dir=self.folder) as own:
            path = Path(own) / name
            path.write_bytes(data)
            yield path


def plain_name(name: str) -> str:
    """Make of a file's name one that lies in any folder, and hides nothing."""
    last = os.path.basename(name.replace("\\", "/"))
    kept = "".join("_" if c in _UNSAFE or not c.isprintable() else c for c in last).strip(". ")
    stem, dot, suffix = kept.rpartition(".")
    if not stem:
        stem, dot, suffix = kept, "", ""
    short = f"{stem[: _LONGEST_NAME - 8]}{dot}{suffix[:7]}"
    while len(short.encode("utf-8", "replace")) > 200:
        short = short[1:]
    return short.encode("utf-8", "replace").decode("utf-8") or "weather.csv"


def _units_of(read: Understood) -> Literal["us", "si"]:
    return "us" if read.daily.columns["tmax"].unit == "degF" else "si"


@lru_cache(64)
def monthly_rain(place: PlaceWeather) -> tuple[float, ...]:
    """Return the mean rain of each month, January first [mm]; NaN where there is none."""
    days = place.record["time"].values.astype("datetime64[D]")
    months = days.astype("datetime64[M]").astype(int) % 12
    rain = place.record["rain"].values
    known = np.isfinite(rain)
    return tuple(
        float(rain[known & (months == month)].mean()) * DAYS_OF_MONTH[month]
        if (known & (months == month)).any()
        else math.nan
        for month in range(12)
    )
