"""Whether the files of a grid are as they were written, and which weather a batch has read.

Disks lose bits, copies stop half-way, and a chunk that is not there reads as NaN. So each batch
notes a checksum of every chunk that it wrote and of the weather that it read, and a whole store
keeps one of each of its files in ``checksums.json``.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.problems import shown_path

if TYPE_CHECKING:
    import xarray as xr

FILE = "checksums.json"
KEPT = "checksums"  # the attribute of a store that has them
THREADS = 4  # that read files
SHOWN = 3  # names in a message
_GONE = (FileNotFoundError, NotADirectoryError, IsADirectoryError)
_FOLDERS: dict[str, tuple[float, float, str]] = {}  # when looked at, how long it took, signature


def _digest(data: bytes = b"") -> Any:
    return hashlib.blake2b(data, digest_size=16)


def checksum_of(path: Path) -> str:
    """Return the checksum of a file; an empty text where there is none."""
    try:
        with path.open("rb") as opened:
            return str(hashlib.file_digest(opened, _digest).hexdigest())
    except _GONE:
        return ""


def checksums_of(folder: Path, names: Iterable[str]) -> dict[str, str]:
    """Return the checksums of files of a folder."""
    listed = list(names)
    with ThreadPoolExecutor(THREADS) as threads:
        return dict(
            zip(listed, threads.map(checksum_of, map(folder.joinpath, listed)), strict=True)
        )


def damaged(folder: Path, expected: Mapping[str, str]) -> list[str]:
    """Return the files of a folder that are not as they were written.

    An empty text is expected where nothing was written: of a chunk that is NaN throughout.
    """
    found = checksums_of(folder, expected)
    return [name for name in expected if found[name] != expected[name]]


def files_of(folder: Path) -> list[str]:
    """Return every file below a folder, by its path in it."""
    return sorted(
        path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()
    )


def chunk(field: str, batch: int, dimensions: int) -> str:
    """Return where the chunk of a field lies that a batch writes."""
    return f"{field}/{batch}" + ".0" * (dimensions - 1)


def some_of(names: Sequence[str]) -> str:
    """Name the first few."""
    more = f" and {len(names) - SHOWN} more" if len(names) > SHOWN else ""
    return ", ".join(map(shown_path, names[:SHOWN])) + more


def read_json(path: Path) -> Any:
    """Return what a file of JSON holds; None where it cannot be read as such."""
    try:
        return json.loads(path.read_text("utf-8"))
    except (*_GONE, ValueError, RecursionError):
        return None


def texts_by_name(found: Any) -> dict[str, str] | None:
    """Return a mapping of texts to texts; None for anything else."""
    if not isinstance(found, dict) or not all(isinstance(text, str) for text in found.values()):
        return None
    return found


def signature(source: str) -> str:
    """Return what tells a file from what it was before, without reading it.

    A folder of many files is not looked at again at once, so that looking takes little time.
    """
    path = Path(source)
    try:
        if not path.is_dir():
            found = path.stat()
            return f"{found.st_size} {found.st_mtime_ns} {found.st_ino}"
    except OSError:
        return ""
    now = time.monotonic()
    if source in _FOLDERS:
        looked, took, signature_then = _FOLDERS[source]
        if now < looked + 20 * took:
            return signature_then
    digest = _digest()
    for file in sorted(path.rglob("*")):
        digest.update(f"{file} {signature(str(file)) if file.is_file() else ''}\n".encode())
    _FOLDERS[source] = (time.monotonic(), time.monotonic() - now, digest.hexdigest())
    return str(digest.hexdigest())


class WeatherRead:
    """The weather that a batch reads: where it is from, and a checksum of its numbers.

    Parameters
    ----------
    sources : iterable of str
        Files and folders that it is read from.
    """

    def __init__(self, sources: Iterable[str]) -> None:
        self._before = {source: signature(source) for source in sorted(set(sources))}
        self._digest = _digest()

    def through(self, records: Iterable[xr.Dataset | str]) -> Iterator[xr.Dataset | str]:
        """Hand records on, each added to the checksum."""
        for record in records:
            if isinstance(record, str):
                self._digest.update(record.encode("utf-8", "surrogateescape"))
            else:
                self._digest.update(f"{record.attrs.get('latitude')}".encode())
                for name in ("time", *sorted(map(str, record.data_vars))):
                    self._digest.update(record[name].values.tobytes())
            yield record

    def note(self) -> dict[str, Any]:
        """Return what a batch notes: the checksum, and how its sources were, "" if they changed."""
        after = {source: signature(source) for source in self._before}
        sources = {
            name: value if value == after[name] else "" for name, value in self._before.items()
        }
        return {"weather": self._digest.hexdigest(), "sources": sources}
