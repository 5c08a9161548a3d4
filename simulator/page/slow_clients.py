"""How long, and for how many, the page waits: a slow client locks nobody out.

All clients of a page on loopback have one address, so none can be told from another before it has
sent a whole request. What is bounded is what each connection may take and how long it may keep the
page waiting; where there is not room for all, those go that have kept it waiting longest.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass

import h11
from fastapi import Request
from starlette.exceptions import HTTPException
from uvicorn.protocols.http.h11_impl import H11Protocol

from simulator.page.records import MOST_BYTES
from simulator.problems import InputError, Problem, fault

PATIENCE = 7.0  # seconds for a request to come whole, or an answer to be taken
LOOK_EVERY = 0.5  # seconds
MOST_OPEN = 200  # connections; beyond them go those that ask nothing or are slow to ask
ROOM = 3 * MOST_BYTES  # for files that are being sent or read
MOST_WAITING = 24  # for room
SECONDS_TO_WAIT = 15.0  # for room
GRACE = 0.1  # seconds in which a file is taken to come fast
LEFT = 2.0  # seconds to send a file that has waited for room
SLOWEST = 2**20  # bytes a second of a file that has room kept for all of it
_BUSY = "Too many files are sent at once."


class Patient(H11Protocol):
    """A connection that is dropped when its client keeps the page waiting."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take it; where there are too many, drop the one that was waited for longest."""
        super().connection_made(transport)
        self._dropped = False
        self._owed, self._of, self._since = "head", self.cycle, self.loop.time()
        self._next = self.loop.call_later(LOOK_EVERY, self._look)
        open_now = [one for one in self.connections if not getattr(one, "_dropped", False)]
        if len(open_now) > MOST_OPEN:
            others = [one for one in open_now if isinstance(one, Patient) and one is not self]
            spare = [one for one in others if one.owed() or one.idle]
            if spare:  # those that owe something first, then those that have nothing to ask
                min(spare, key=lambda one: (one.idle, one.since())).drop()

    def connection_lost(self, exc: Exception | None) -> None:
        """Look at it no more."""
        self._dropped = True
        self._next.cancel()
        super().connection_lost(exc)

    @property
    def idle(self) -> bool:
        """Whether it was answered, and has asked nothing since."""
        return self.conn.their_state is h11.IDLE and not self.owed()

    def owed(self) -> str:
        """Return what its client is to send or take before the page can go on; "" for nothing."""
        if self.transport.get_write_buffer_size():
            return "answer"
        if self.conn.their_state is h11.SEND_BODY:
            return "" if self.flow.read_paused else "body"
        if self.conn.their_state is h11.IDLE and (self.cycle is None or self.conn.trailing_data[0]):
            return "head"
        return ""

    def since(self) -> float:
        """Return since when its client has owed the same, or has been as it is."""
        owed = self.owed()
        if owed != self._owed or self.cycle is not self._of:
            self._owed, self._of, self._since = owed, self.cycle, self.loop.time()
        return self._since

    def drop(self) -> None:
        """End it at once, whatever is on its way."""
        self._dropped = True
        self.transport.abort()

    def _look(self) -> None:
        since = self.since()
        if self._owed and self.loop.time() - since > PATIENCE:
            self.drop()
        else:
            self._next = self.loop.call_later(LOOK_EVERY, self._look)


class SlowFileError(InputError):
    """A file that was not there in time; what may still come of it is not waited for."""


@dataclass(eq=False)
class Taking:
    """A file that is being sent or read.

    Parameters
    ----------
    size : int
        Bytes that it is said to have.
    since : float
        When it began.
    """

    size: int
    since: float
    sent: int = 0
    slow: bool = False

    def needs(self, now: float) -> int:
        """Return the bytes of room that are kept for it: for a slow one what it has sent."""
        took = now - self.since
        if took > GRACE and self.sent < min(took * SLOWEST, self.size):
            self.slow = True
        return self.sent if self.slow else self.size


class Intake:
    """Room for files that are sent or read, of which one that is hardly sent takes hardly any."""

    def __init__(self) -> None:
        self._taken: list[Taking] = []
        self._waiting = 0

    @asynccontextmanager
    async def received(
        self, request: Request, remedy: str = "Give the daily record of one place."
    ) -> AsyncIterator[bytes]:
        """Receive a file, bounded in size and time, and keep its room until it is read.

        Parameters
        ----------
        request : Request
        remedy : str
            For a file that is too large.

        Raises
        ------
        InputError
            It is too large, or was sent too slowly.
        HTTPException
            Too many others are sent now.
        """
        too_large = fault("file", f"It has more than {MOST_BYTES // 2**20} MB.", remedy)
        declared = request.headers.get("content-length", "")
        length = int(declared) if declared.isdigit() else MOST_BYTES
        if length > MOST_BYTES:
            raise too_large
        came = asyncio.get_running_loop().time()
        taking = await self._room(length)
        left = max(PATIENCE - (taking.since - came), min(LEFT, PATIENCE))
        try:
            yield await self._sent(request, taking, left, too_large)
        finally:
            self._taken.remove(taking)

    async def _sent(
        self, request: Request, taking: Taking, left: float, too_large: InputError
    ) -> bytes:
        parts = []
        try:
            async with asyncio.timeout(left):
                async for part in request.stream():
                    taking.sent += len(part)
                    if taking.sent > MOST_BYTES:
                        raise too_large
                    if taking.slow and self._needed() > ROOM:
                        raise HTTPException(503, _BUSY)
                    parts.append(part)
        except TimeoutError as error:
            what = f"It took longer than {left:.2g} seconds to send."
            raise SlowFileError([Problem("file", what, "Try again.")]) from error
        taking.size, taking.slow = taking.sent, False
        return b"".join(parts)

    def _needed(self) -> int:
        now = asyncio.get_running_loop().time()
        return sum(one.needs(now) for one in self._taken)

    async def _room(self, size: int) -> Taking:
        """Wait until there is room."""
        clock = asyncio.get_running_loop()
        until = clock.time() + SECONDS_TO_WAIT
        if self._waiting >= MOST_WAITING:
            raise HTTPException(503, _BUSY)
        self._waiting += 1
        try:
            while self._needed() + size > ROOM:
                if clock.time() > until:
                    raise HTTPException(503, _BUSY)
                await asyncio.sleep(0.02)
        finally:
            self._waiting -= 1
        taking = Taking(size, clock.time())
        self._taken.append(taking)
        return taking
