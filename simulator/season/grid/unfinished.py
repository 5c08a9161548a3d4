"""A store that is not finished: where its files are, and how it is kept to one run at a time."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from simulator.problems import InputError, Parameter, Spelling, fault
from simulator.season.grid.checksums import read_json, texts_by_name

UNFINISHED = ".unfinished"


@dataclass(frozen=True)
class UnfinishedStore:
    """A store that is not finished.

    Parameters
    ----------
    path : Path
        The name that it takes when it is whole.
    spelling : callable or None
        How parameters are spelled in what it says; as in Python without it.
    """

    path: Path
    spelling: Spelling | None = None

    @property
    def folder(self) -> Path:
        """Where it is built."""
        return self.path.with_name(self.path.name + UNFINISHED)

    @property
    def results(self) -> Path:
        """The arrays."""
        return self.folder / "results"

    @property
    def weather(self) -> Path:
        """Records of text files, read once."""
        return self.folder / "weather"

    def record(self, row: int) -> Path:
        """Where the record of a place with a file of its own is kept."""
        return self.weather / f"{row}.npz"

    def split(self, source: str) -> Path:
        """Where a table of many stations is split, until each is read."""
        named = hashlib.blake2b(source.encode("utf-8", "surrogateescape"), digest_size=16)
        return self.folder / "apart" / named.hexdigest()

    @property
    def array_checksums(self) -> Path:
        """Checksums of what the arrays have before a batch is written."""
        return self.folder / "arrays.json"

    @property
    def plan(self) -> Path:
        """What decides the numbers, and what the store says of itself."""
        return self.folder / "plan.json"

    def note(self, batch: int) -> Path:
        """Where it stands that a batch is written."""
        return self.folder / "done" / f"{batch}.json"

    def notes(self) -> dict[int, dict[str, Any]]:
        """Return what each batch that is written has to tell; a note that is damaged is none."""
        found = {}
        for path in (self.folder / "done").glob("*.json"):
            note = read_json(path)
            if path.stem.isdecimal() and _is_note(note):
                found[int(path.stem)] = note
        return found


def _is_note(note: Any) -> bool:
    """Whether a note has all that `write_batch` writes, checksums and all."""
    return (
        isinstance(note, dict)
        and isinstance(note.get("grown"), int)
        and isinstance(note.get("weather"), str)
        and all(
            isinstance(texts := note.get(name), list) and all(isinstance(one, str) for one in texts)
            for name in ("left_out", "notes")
        )
        and all(texts_by_name(note.get(name)) is not None for name in ("checksums", "sources"))
    )


def write_text(path: Path, text: str) -> None:
    """Write a small file whole or not at all."""
    made = path.with_name(path.name + ".new")
    made.write_text(text, encoding="utf-8")
    made.replace(path)


@contextmanager
def locked(unfinished: UnfinishedStore) -> Iterator[None]:
    """Keep a store to one run at a time, where the system has locks; a kill lets it go.

    Raises
    ------
    InputError
        Another run has it.
    """
    try:
        import fcntl
    except ImportError:
        yield
        return
    with unfinished.plan.open() as held:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise fault(
                Parameter("out"),
                f"Another run is writing '{unfinished.path}' now.",
                "Let it end, or name another.",
            ) from None
        yield


@contextmanager
def removed_if_refused(unfinished: UnfinishedStore) -> Iterator[None]:
    """Leave nothing of a run that was refused before it had done anything."""
    try:
        yield
    except InputError:
        if not unfinished.notes() and not any(unfinished.weather.glob("*")):
            shutil.rmtree(unfinished.folder, ignore_errors=True)
        raise
