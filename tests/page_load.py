"""``python tests/page_load.py``: many clients, and as many slow ones, ask a page for a minute.

Prints how many answers came, how long they took with and without the slow ones, what the page's
memory did, and how long slow clients were kept; ends with 1 where an answer was lost, memory grew
beyond bounds, or a slow client was kept. Not in the suite: it takes a minute, and both processors.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import statistics
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import httpx
from page_running import Running, running

MOST_GROWTH = 100.0  # MB
KEPT_AT_MOST = 10.0  # seconds a slow client
WAIT = (503,)  # told to wait: no answer lost


@dataclass
class Found:
    """What clients saw.

    Parameters
    ----------
    took : list of float
        Seconds of each answer.
    statuses : Counter of int
    lost : list of str
        Requests without an answer.
    kept : list of float
        Seconds for which slow clients were kept.
    """

    took: list[float] = field(default_factory=list)
    statuses: Counter[int] = field(default_factory=Counter)
    lost: list[str] = field(default_factory=list)
    kept: list[float] = field(default_factory=list)


async def asks(page: Running, number: int, until: float, found: Found) -> None:
    """Ask as a person who drags a slider does; some take a picture away."""
    asked = 0
    async with httpx.AsyncClient(base_url=page.url, timeout=120) as client:
        while time.monotonic() < until:
            asked += 1
            params = {"sow": f"10-{10 + (number + asked) % 20}", "year": str(1996 + asked % 28)}
            path = "/picture/chance.svg" if number % 25 == 0 and asked % 8 == 0 else "/answer"
            start = time.monotonic()
            try:
                answer = await client.get(path, params=params)
                found.statuses[answer.status_code] += 1
                found.took.append(time.monotonic() - start)
                if answer.status_code in WAIT:
                    await asyncio.sleep(float(answer.headers.get("retry-after", "1")))
            except httpx.HTTPError as error:
                found.lost.append(f"{path}: {error!r}")


async def dawdles(page: Running, number: int, until: float, found: Found) -> None:
    """Send half of a request, stall or trickle, and come again when dropped."""
    kinds: tuple[Callable[[], bytes], ...] = (
        lambda: b"GET / HTTP/1.1\r\nX-Slow: ",
        lambda: (
            b"POST /weather?name=x.csv HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n"
            b"Content-Length: 16000000\r\n\r\n%s" % (page.port, b"x" * 200_000)
        ),
    )
    while time.monotonic() < until:
        start = time.monotonic()
        writer = None
        try:
            reader, writer = await asyncio.open_connection("127.0.0.1", page.port)
            writer.write(kinds[number % 2]())
            while number % 4 < 2 and not reader.at_eof():  # half of them trickle on
                with suppress(TimeoutError):
                    await asyncio.wait_for(reader.read(65536), 0.5)
                writer.write(b"x")
                await writer.drain()
            while await asyncio.wait_for(reader.read(65536), 60):
                pass
        except (OSError, TimeoutError):
            pass
        found.kept.append(time.monotonic() - start)
        if writer is not None:
            writer.close()


async def under_load(
    page: Running, clients: int, slow: int, seconds: float
) -> tuple[Found, list[float]]:
    """Ask from all sides for some seconds; return what was seen, and memory as it went."""
    found, until, memory = Found(), time.monotonic() + seconds, [page.memory()]

    async def watch() -> None:
        while time.monotonic() < until:
            memory.append(page.memory())
            await asyncio.sleep(0.5)

    await asyncio.gather(
        watch(),
        *(asks(page, number, until, found) for number in range(clients)),
        *(dawdles(page, number, until, found) for number in range(slow)),
    )
    return found, memory


def told(what: str, found: Found, memory: list[float]) -> None:
    """Print what was seen."""
    took = sorted(found.took)
    late = took[int(0.99 * (len(took) - 1))]
    print(
        f"{what}: {len(took)} answers, {dict(found.statuses)}, {len(found.lost)} lost; "
        f"median {statistics.median(took):.2f} s, of 100 the slowest {late:.2f} s; "
        f"memory {memory[0]:.0f} MB, at most {max(memory):.0f} MB",
        flush=True,
    )


def main() -> None:
    """Load a page of its own, without slow clients and with them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clients", type=int, default=100)
    parser.add_argument("--slow", type=int, default=100)
    parser.add_argument("--seconds", type=float, default=60.0)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, running(Path(folder)) as page:
        usual, memory = asyncio.run(under_load(page, asked.clients, 0, asked.seconds / 4))
        told(f"{asked.clients} clients alone", usual, memory)
        found, memory = asyncio.run(under_load(page, asked.clients, asked.slow, asked.seconds))
        told(f"with {asked.slow} slow ones", found, memory)
        print(f"slow ones were kept for {max(found.kept):.1f} s at most, {len(found.kept)} times")
    print(f"load of the machine: {', '.join(f'{one:.1f}' for one in os.getloadavg())}")
    for one in found.lost[:5]:
        print(f"lost: {one}")
    good = (
        not usual.lost
        and not found.lost
        and set(found.statuses) <= {200, *WAIT}
        and max(memory) - memory[0] < MOST_GROWTH
        and max(found.kept) < KEPT_AT_MOST
    )
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
