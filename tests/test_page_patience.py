"""The page under clients that are slow, many, or gone, and with drawings that end what draws."""

from __future__ import annotations

import os
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from page_running import connected, half_a_head, stalled_upload

from simulator.page import slow_clients
from simulator.page.drawer import DrawingProcess
from simulator.page.records import Visitors
from simulator.page.running import listen
from simulator.page.server import make_app
from simulator.page.slow_clients import Patient
from simulator.problems import InputError
from simulator.show.drawing import draw, draw_here, drawn_by

POINT = {"data": {"values": [{"a": 1}]}, "mark": "point", "encoding": {"x": {"field": "a"}}}


@contextmanager
def served(tmp_path: Path) -> Iterator[tuple[int, uvicorn.Server]]:
    """Run the page's server in this process, so that its limits can be set."""
    with closing(listen(0)) as taken:
        taken.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 4096)
        port = taken.getsockname()[1]
        config = uvicorn.Config(
            make_app(port, Visitors(tmp_path)), http=Patient, log_level="critical"
        )
        server = uvicorn.Server(config)
        running = threading.Thread(target=server.run, kwargs={"sockets": [taken]})
        running.start()
        try:
            yield port, server
        finally:
            server.should_exit = True
            running.join(20)


def trickled(port: int) -> socket.socket:
    """A head that comes by the letter, for good."""
    made = half_a_head(port)

    def trickle() -> None:
        with suppress(OSError):
            while True:
                made.send(b"x")
                time.sleep(0.05)

    threading.Thread(target=trickle, daemon=True).start()
    return made


def asked_with_a_body(port: int) -> socket.socket:
    """A question whose answer is there, and whose body never comes whole."""
    head = f"GET /nothing HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nContent-Length: 9\r\n\r\n"
    return connected(port, head.encode())


def never_reads(port: int) -> socket.socket:
    """A client that asks for more than the system keeps for it, and takes none of it."""
    made = socket.socket()
    made.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    made.settimeout(20)
    made.connect(("127.0.0.1", port))
    ask = f"GET /static/field.js HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode()
    with suppress(OSError):
        for _ in range(8):
            made.sendall(ask)
    return made


def says_nothing(port: int) -> socket.socket:
    return connected(port, b"")


@pytest.mark.parametrize(
    "slow",
    [half_a_head, stalled_upload, trickled, asked_with_a_body, never_reads, says_nothing],
)
def test_a_slow_client_is_dropped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, slow: Any
) -> None:
    monkeypatch.setattr(slow_clients, "PATIENCE", 0.6)
    monkeypatch.setattr(slow_clients, "LOOK_EVERY", 0.1)
    with served(tmp_path) as (port, server), closing(slow(port)):
        open_now = server.server_state.connections
        until = time.monotonic() + 5
        while not open_now and time.monotonic() < until:
            time.sleep(0.01)
        assert open_now
        until = time.monotonic() + 20
        while open_now and time.monotonic() < until:
            time.sleep(0.05)
        assert not open_now


def test_a_client_that_asks_again_and_again_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        slow_clients, "PATIENCE", 1.5
    )  # less than all asks together, far more than one
    monkeypatch.setattr(slow_clients, "LOOK_EVERY", 0.02)
    with served(tmp_path) as (port, _), closing(connected(port, b"")) as client:
        for _ in range(20):
            client.sendall(f"GET /no HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n".encode())
            time.sleep(0.1)  # in the middle of a head at most looks
            client.sendall(b"\r\n")
            answer = b""
            while not answer.endswith(b"}"):
                more = client.recv(65536)
                assert more, "it was dropped"
                answer += more
            assert answer.startswith(b"HTTP/1.1 404")


def test_a_drawing_that_ends_what_draws_is_refused() -> None:
    ends: Any = AbortsWhenRead()
    with closing(DrawingProcess()) as drawer, drawn_by(drawer):
        with pytest.raises(InputError, match="What draws it ended"):
            draw("svg", ends)
        assert draw("png", POINT, 2.0) == draw_here("png", POINT, 2.0)
        with pytest.raises(ValueError):  # a definition that is none
            draw("svg", {"mark": "no such"})
        assert draw("png", POINT) == draw_here("png", POINT, 1.0)


class AbortsWhenRead:
    """Ends the process that unpacks it."""

    def __reduce__(self) -> Any:
        return os.abort, ()
