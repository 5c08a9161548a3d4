"""Start the page's server and stop it so that nothing of it is left."""

from __future__ import annotations

import contextlib
import errno
import signal
import socket
import tempfile
import webbrowser
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Thread, Timer
from types import FrameType
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from simulator.problems import Parameter, fault

if TYPE_CHECKING:
    from simulator.page.records import Visitors
    from simulator.page.views.given_file import GivenFile
    from simulator.page.views.place_sets import PlaceSets

LOOPBACK = "127.0.0.1"
WAITING = 128  # connections not yet taken
MOST_AT_ONCE = 400  # connections
SECONDS_TO_STOP = 3


def listen(port: int) -> socket.socket:
    """Take a port of this machine alone; 0 for any that is free.

    Raises
    ------
    InputError
        It is taken, or may not be used.
    """
    # named as TCP, or asyncio leaves small answers waiting 40 ms for an acknowledgement
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((LOOPBACK, port))
        made.listen(WAITING)
    except OSError as error:
        made.close()
        if error.errno == errno.EADDRINUSE:
            raise fault(
                Parameter("port"),
                f"Port {port} of this machine is taken, perhaps by another fallsown page.",
                f"Open http://{LOOPBACK}:{port}, or give another, or 0 for any that is free.",
            ) from error
        raise fault(
            Parameter("port"),
            f"Port {port} cannot be used: {error.strerror}.",
            "Give one from 1024 to 65535, or 0 for any that is free.",
        ) from error
    return made


def serve(
    port: int,
    *,
    browser: bool,
    tell: Callable[[str], None],
    debug: bool,
    given: GivenFile | None = None,
    places: Callable[[Visitors], PlaceSets] | None = None,
) -> None:
    """Serve the page until it is interrupted.

    Parameters
    ----------
    port : int
    browser : bool
        Whether to open a browser.
    tell : callable
        Told the address, once it answers.
    debug : bool
        Whether faults of ours show their traceback.
    given : GivenFile, optional
        The weather file that is shown first.
    places : callable, optional
        Makes the sets of places that maps are drawn of.
    """
    import uvicorn

    from simulator.page.drawer import DrawingProcess
    from simulator.page.records import Visitors
    from simulator.page.server import make_app
    from simulator.page.slow_clients import Patient

    with (
        contextlib.closing(listen(port)) as taken,
        tempfile.TemporaryDirectory(prefix="fallsown-page-", ignore_cleanup_errors=True) as folder,
        _interrupted_by_term(),
        contextlib.closing(DrawingProcess()) as drawer,
    ):
        drawer.warm()
        number = taken.getsockname()[1]
        address = f"http://{LOOPBACK}:{number}/"
        visitors = Visitors(Path(folder))
        sets = None if places is None else places(visitors)
        server = uvicorn.Server(
            uvicorn.Config(
                make_app(number, visitors, drawer, given, sets),
                http=Patient,
                log_level="error" if debug else "critical",
                access_log=False,
                server_header=False,
                limit_concurrency=MOST_AT_ONCE,
                timeout_keep_alive=20,
                timeout_graceful_shutdown=SECONDS_TO_STOP,
                h11_max_incomplete_event_size=32_768,
                ws="none",
            )
        )
        opened = f"{address}{_shown_first(given)}"
        tell(f"The page is at {opened} and on this machine alone; Ctrl-C stops it.")
        if browser:
            Timer(0.5, webbrowser.open, [opened]).start()
        with contextlib.suppress(KeyboardInterrupt):
            server.run(sockets=[taken])


def _shown_first(given: GivenFile | None) -> str:
    """Return the query of the page that is opened first: of the weather given, if any."""
    if given is None:
        return ""
    place = given.place()
    return "?" + urlencode(
        {"place": place.key, "file": given.path.name, "units": place.units_shown}
    )


@contextlib.contextmanager
def _interrupted_by_term() -> Iterator[None]:
    """Take a request to end as an interrupt, so that what was made is taken away."""

    def interrupt(_: int, __: FrameType | None) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, interrupt)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def warm(announce: Callable[[str], None]) -> None:
    """Read the first place and compile what is not, before anyone waits for it."""
    from simulator.page.frame import pack_chart_script
    from simulator.page.records import sample_place
    from simulator.page.rows import tops
    from simulator.season.compiling import announce_compiling
    from simulator.weather.samples import DEFAULT_SAMPLE

    Thread(target=pack_chart_script, daemon=True).start()  # ready before a browser asks for it
    announce_compiling("grow", announce)
    place = sample_place(DEFAULT_SAMPLE)
    tops(place, place.units_shown)
