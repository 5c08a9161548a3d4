"""The page as its users have it: started by its command, asked over loopback."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
# a browser that asks nobody anything by itself
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
COMMAND = [sys.executable, "-c", "from simulator.commands import main; main()", "page"]


@dataclass
class Running:
    """A page that runs.

    Parameters
    ----------
    url : str
        Without a slash at its end.
    process : Popen
    temporary : Path
        Where it keeps what it writes.
    """

    url: str
    process: subprocess.Popen[str]
    temporary: Path

    @property
    def port(self) -> int:
        """Listened on."""
        return int(self.url.rpartition(":")[2])

    def memory(self) -> float:
        """Resident memory [MB]."""
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(re.search(r"VmRSS:\s+(\d+)", status)[1]) / 1024

    def ask(self, path: str, *, data: bytes | None = None, **headers: str) -> tuple[int, Any, Any]:
        """Ask for a path; return status, headers and the body, read if it is JSON."""
        names = {name.replace("_", "-"): value for name, value in headers.items()}
        request = urllib.request.Request(self.url + path, data=data, headers=names)
        try:
            with urllib.request.urlopen(request, timeout=60) as answer:
                status, about, body = answer.status, answer.headers, answer.read()
        except urllib.error.HTTPError as error:
            status, about, body = error.code, error.headers, error.read()
        read = json.loads(body) if "json" in (about.get("content-type") or "") else body
        return status, about, read


@contextmanager
def running(folder: Path, *options: str) -> Iterator[Running]:
    """Start the page on a free port; stop it as Ctrl-C does."""
    environment = {**os.environ, "TMPDIR": str(folder), "PYTHONUNBUFFERED": "1"}
    process = subprocess.Popen(
        [*COMMAND, "--no-browser", "--port", "0", *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment,
    )
    try:
        assert process.stdout is not None
        said = process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:\d+", said)
        assert found, said + (process.stderr.read() if process.stderr else "")
        yield Running(found[0], process, folder)
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
        process.communicate(timeout=120)


def connected(port: int, sent: bytes) -> socket.socket:
    made = socket.create_connection(("127.0.0.1", port), timeout=20)
    made.sendall(sent)
    return made


def half_a_head(port: int) -> socket.socket:
    return connected(port, b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ")


def stalled_upload(port: int, length: int = 16_000_000) -> socket.socket:
    head = f"POST /weather?name=x.csv HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n"
    return connected(port, f"{head}Content-Length: {length}\r\n\r\ndate,".encode())
