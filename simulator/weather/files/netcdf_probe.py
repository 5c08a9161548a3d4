"""netCDF files opened in another process first: a damaged one may hang the C library.

What it does to a torn file cannot be stopped from within, nor a crash of it be caught. So one
process, started with the first such file and kept for the others, opens each before we do; it is
ended where it does not answer.
"""

from __future__ import annotations

import atexit
import json
import os
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path
from queue import Empty, SimpleQueue
from threading import Lock, Thread

LONGEST = 15.0  # seconds that a file may take to be opened
REMEMBERED = 60.0  # seconds for which one that took longer is refused without another try
_TRIAL = """
import json, sys
import netCDF4
for line in sys.stdin:
    try:
        with netCDF4.Dataset(json.loads(line)) as data:
            for one in [data, *data.variables.values()]:
                [one.getncattr(name) for name in one.ncattrs()]
    except Exception:
        pass
    print("done", flush=True)
"""
_lock = Lock()
_good: set[tuple[str, int, int]] = set()  # files that were opened: path, time of change, size
_bad: dict[tuple[str, int, int], float] = {}  # files that were not, and when that was


class _Process:
    """The process that opens files first, and what it answers."""

    def __init__(self) -> None:
        self.of = os.getpid()
        self.running = subprocess.Popen(
            [sys.executable, "-c", _TRIAL],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        self.answers: SimpleQueue[str] = SimpleQueue()
        Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        assert self.running.stdout is not None
        for line in self.running.stdout:
            self.answers.put(line)
        self.answers.put("")  # it has ended

    def tries(self, path: Path) -> bool:
        """Have a file opened; False where that does not end well."""
        assert self.running.stdin is not None
        try:
            self.running.stdin.write(json.dumps(os.path.abspath(path)) + "\n")
            self.running.stdin.flush()
            return bool(self.answers.get(timeout=LONGEST))
        except (OSError, Empty):
            return False

    def end(self) -> None:
        """End it, if it is ours: a forked process has only a copy."""
        if self.of == os.getpid():
            self.running.kill()
            self.running.wait()
            for pipe in (self.running.stdin, self.running.stdout):
                if pipe is not None:
                    with suppress(OSError):  # what was still to be written has no reader
                        pipe.close()


_kept: list[_Process] = []


def can_be_opened(path: Path) -> bool:
    """Say whether the C library of netCDF comes back from opening a file.

    Parameters
    ----------
    path : Path
        It is there.

    Returns
    -------
    bool
        True too where the library refuses it, which is named when we open it.
    """
    about = path.stat()
    file = (os.path.abspath(path), about.st_mtime_ns, about.st_size)
    with _lock:
        if file in _good:
            return True
        if time.monotonic() - _bad.get(file, -REMEMBERED) < REMEMBERED:
            return False
        if _kept and (_kept[0].of != os.getpid() or _kept[0].running.poll() is not None):
            _kept.pop().end()
        if not _kept:
            try:
                _kept.append(_Process())
            except OSError:
                return True  # no process can be started here: it is opened untried
        good = _kept[0].tries(path)
        if good:
            _good.add(file)
        else:
            _bad[file] = time.monotonic()
            _kept.pop().end()
        return good


@atexit.register
def _end() -> None:
    _good.clear()
    _bad.clear()
    while _kept:
        _kept.pop().end()
