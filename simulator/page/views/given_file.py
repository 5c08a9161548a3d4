"""The weather file that the page was started with, read again when it changes on disk."""

from __future__ import annotations

import time
from pathlib import Path
from threading import Lock
from typing import Any

from simulator.page.records import PlaceWeather, place_in_file
from simulator.problems import InputError, Problem

KEY = "given"  # what a link calls it
REST = 0.5  # seconds for which a file must lie unchanged before it is read again


class GivenFile:
    """A weather file of this machine, as it now is.

    A file that is being written is left alone until it rests; where it cannot be read then, what
    could be read last is kept, and `faults` says why.

    Parameters
    ----------
    path : Path
    **about
        ``latitude, units_of_file, date_format, site`` of `read_weather`.

    Raises
    ------
    InputError
        Every fault of the file, when it is first read.
    """

    def __init__(self, path: Path, **about: Any) -> None:
        self.path = path
        self.about = about
        self.faults: list[Problem] = []
        self._lock = Lock()
        self._read_at = self._seen = self._state()
        self._since = time.monotonic()
        self._place = place_in_file(path, KEY, **about)
        self.version = 1

    def _state(self) -> tuple[int, int]:
        """Return when it was written and its size; nothing where it is gone."""
        try:
            about = self.path.stat()
        except OSError:
            return 0, 0
        return about.st_mtime_ns, about.st_size

    def place(self) -> PlaceWeather:
        """Return its place, read again where it has changed and rests."""
        with self._lock:
            now = self._state()
            if now != self._seen:
                self._seen, self._since = now, time.monotonic()
            elif now != self._read_at and time.monotonic() - self._since >= REST:
                self._read_at = now
                self._read()
            return self._place

    def _read(self) -> None:
        try:
            self._place = place_in_file(self.path, KEY, **self.about)
            self.faults = []
        except InputError as error:
            self.faults = error.problems
        except OSError as error:
            what = f"It cannot be read: {error.strerror}."
            self.faults = [Problem(self.path.name, what, "Put it back; it is tried again.")]
        self.version += 1

    def find(self, _: str | None, key: str) -> PlaceWeather | None:
        """Find it by its key, as `Visitors` does: whoever may open the page may ask of it."""
        return self.place() if key == KEY else None

    def described(self) -> dict[str, Any]:
        """Return what tells whether it has changed, and what is wrong with it now."""
        days = self.place().record["time"].values.astype("datetime64[D]")
        return {
            "version": self.version,
            "file": self.path.name,
            "last": str(days[-1]),
            "faults": [f"{one.where}: {one.what}" for one in self.faults[:3]],
        }
