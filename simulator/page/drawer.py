"""A process that draws for the page, kept ready, that may die without the page.

The library that draws can end the process it runs in, on a definition that nobody foresaw or for
want of memory. Here that ends one drawing at most.
"""

from __future__ import annotations

import multiprocessing
import signal
from multiprocessing.connection import Connection
from threading import Lock, Thread
from typing import Any

from simulator.problems import fault
from simulator.show.drawing import draw_here

SECONDS_TO_DRAW = 60.0
SECONDS_TO_END = 2.0
TRIES = 2  # one that was ended from outside is tried again
_FIRST: dict[str, Any] = {"data": {"values": [{}]}, "mark": "point"}  # loads what drawing needs


class DrawerDiedError(Exception):
    """The process that draws is gone, or does not answer."""


class DrawingProcess:
    """Draws in a process of its own, one drawing at a time.

    Called as `simulator.show.drawing.Drawer`. A process that has died is started again.
    """

    def __init__(self) -> None:
        self._lock = Lock()
        self._process: multiprocessing.process.BaseProcess | None = None
        self._pipe: Connection | None = None

    def __call__(self, kind: str, spec: dict[str, Any], dots: float) -> bytes:
        """Draw, as `draw_here` does.

        Raises
        ------
        InputError
            The process died, or took too long, at this drawing.
        """
        with self._lock:
            for _ in range(TRIES):
                try:
                    return self._draw_in_process(kind, spec, dots)
                except DrawerDiedError:
                    self._end()
        raise fault(
            "picture",
            "What draws it ended before it was done.",
            "Take the numbers as a table, or draw another plan.",
        )

    def warm(self) -> Thread:
        """Start the process beside other work, so that nobody waits for it."""
        warming = Thread(target=self, args=("svg", _FIRST, 1.0), daemon=True)
        warming.start()
        return warming

    def close(self) -> None:
        """End the process."""
        # one that draws still is not waited for
        if self._process is not None:
            self._process.kill()
        with self._lock:
            self._end()

    def _draw_in_process(self, kind: str, spec: dict[str, Any], dots: float) -> bytes:
        pipe = self._pipe or self._start()
        try:
            pipe.send((kind, spec, dots))
            if not pipe.poll(SECONDS_TO_DRAW):
                raise DrawerDiedError
            drawn, failed = pipe.recv()
        except (EOFError, OSError) as error:
            raise DrawerDiedError from error
        if failed:
            raise ValueError(failed)  # as drawing here would have
        return bytes(drawn)

    def _start(self) -> Connection:
        context = multiprocessing.get_context("spawn")
        self._pipe, there = context.Pipe()
        self._process = context.Process(target=_work, args=(there,), daemon=True, name="drawer")
        self._process.start()
        there.close()
        return self._pipe

    def _end(self) -> None:
        process, pipe = self._process, self._pipe
        self._process = self._pipe = None
        if pipe is not None:
            pipe.close()
        if process is not None:
            process.kill()
            process.join(SECONDS_TO_END)


def _work(pipe: Connection) -> None:
    """Draw what comes, until the page is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the page's, which ends this
    while True:
        try:
            kind, spec, dots = pipe.recv()
        except EOFError:
            return
        try:
            answer = (draw_here(kind, spec, dots), "")
        except Exception as error:
            answer = (b"", f"{type(error).__name__}: {error}"[:500])
        try:
            pipe.send(answer)
        except OSError:
            return
