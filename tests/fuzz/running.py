"""Mutated inputs, one after the other, in a process of their own that may die, hang or swell."""

from __future__ import annotations

import multiprocessing
import os
import resource
import tempfile
import time
import traceback
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from multiprocessing.connection import Connection
from pathlib import Path
from random import Random

from tests.fuzz.asking import SEEDS as ASKED
from tests.fuzz.mutations import mutated
from tests.fuzz.seeds import SEEDS as READ
from tests.fuzz.seeds import Files

KINDS = ("refused", "accepted", "traceback", "abort", "slow", "large")
FAULTS = KINDS[2:]
SLOW, HUNG = 20.0, 120.0  # seconds
LARGE = 2**30  # bytes
SEEDS = {**READ, **ASKED}
FAULT = "FALLSOWN_FUZZ_FAULT"  # a statement that each input runs, to try the trial itself
_MOST = 6 * 2**30  # bytes of address space


@dataclass(frozen=True)
class Outcome:
    """What became of an input.

    Parameters
    ----------
    reader : str
    seed : int
        With the reader it makes the input again: see `made`.
    kind : str
        One of `KINDS`.
    said : str
        What was understood, the refusal, or the end of the traceback.
    seconds : float
    used : int, optional
        The most memory that the process held meanwhile [bytes]; 0 where it died.
    """

    reader: str
    seed: int
    kind: str
    said: str
    seconds: float
    used: int = 0


@cache
def _honest(reader: str, which: int) -> Files:
    return SEEDS[reader][which]()


def made(reader: str, seed: int) -> Files:
    """Make an input from its seed."""
    random = Random(f"{reader} {seed}")
    return mutated(_honest(reader, random.randrange(len(SEEDS[reader]))), random)


def laid(files: Files, folder: Path) -> Path:
    """Lay the files of an input into a folder; return what is to be read."""
    for name, data in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    first = sorted(files)[0]
    return folder if len(files) > 1 and "/" not in first else folder / first.split("/")[0]


def inputs(count: int, first: int, readers: Sequence[str]) -> Iterator[tuple[str, int]]:
    """Go round the readers, each input with the next seed."""
    for i in range(count):
        yield readers[i % len(readers)], first + i // len(readers)


def run(count: int, first: int = 0, readers: Sequence[str] = tuple(SEEDS)) -> Iterator[Outcome]:
    """Try so many inputs, and tell what became of each."""
    worker: _Worker | None = None
    for reader, seed in inputs(count, first, readers):
        worker = worker or _Worker()
        outcome = worker.try_one(reader, seed)
        if outcome.kind in ("abort", "slow", "large"):
            worker.end()
            worker = None
        yield outcome
    if worker:
        worker.end()


def compile_first() -> None:
    """Ask honest questions, so that no input is charged for compiling."""
    from tests.fuzz.targets import read

    for reader in ASKED:
        with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
            read(reader, laid(_honest(reader, 0), Path(folder)))


class _Worker:
    def __init__(self) -> None:
        context = multiprocessing.get_context("spawn")
        self.here, there = context.Pipe()
        self.process = context.Process(target=_work, args=(there,), daemon=True)
        self.process.start()
        there.close()
        self.here.recv()  # it has imported what it needs

    def try_one(self, reader: str, seed: int) -> Outcome:
        start = time.monotonic()
        with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
            path = laid(made(reader, seed), Path(folder))
            self.here.send((reader, str(path)))
            try:
                if not self.here.poll(HUNG):
                    return Outcome(reader, seed, "slow", f"over {HUNG:g} s", HUNG)
                kind, said, used = self.here.recv()
            except (EOFError, OSError):
                self.process.join()
                return Outcome(
                    reader, seed, "abort", f"exit {self.process.exitcode}", time.monotonic() - start
                )
        seconds = time.monotonic() - start
        if kind in ("refused", "accepted") and seconds > SLOW:
            kind = "slow"
        if kind in ("refused", "accepted") and used > LARGE:
            kind = "large"
        return Outcome(reader, seed, kind, said, seconds, used)

    def end(self) -> None:
        self.here.close()
        self.process.kill()
        self.process.join()


def _work(pipe: Connection) -> None:
    from simulator.problems import InputError
    from tests.fuzz.targets import read

    resource.setrlimit(resource.RLIMIT_AS, (_MOST, _MOST))
    pipe.send("ready")
    while True:
        try:
            reader, path = pipe.recv()
        except EOFError:
            return
        _forget_most_used()
        try:
            if FAULT in os.environ:
                exec(os.environ[FAULT], {"os": os, "time": time})
            kind, said = "accepted", read(reader, Path(path))
        except InputError as error:
            kind, said = "refused", str(error.problems[0])[:200]
        except BaseException:
            kind, said = "traceback", traceback.format_exc()[-1500:]
        used = _most_used()
        pipe.send((kind, said, used))


def _forget_most_used() -> None:
    """Let the system count the most memory anew, where it can: each input pays for itself."""
    with suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5", "ascii")


def _most_used() -> int:
    """Return the most memory that this process has held [bytes], by /proc where there is one.

    The most of `getrusage` starts at what the process that started this one held.
    """
    try:
        status = Path("/proc/self/status").read_text("ascii", "replace")
        return int(status.split("VmHWM:")[1].split()[0]) * 1024
    except (OSError, IndexError):
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
