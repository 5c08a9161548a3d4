"""What is let in: requests to this machine, from pages of ours; and what every answer forbids."""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import asdict
from typing import Any

from simulator.problems import Parameter, Problem, printable

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LONGEST_TARGET = 8192  # bytes of path and query
MOST_TOLD = 60
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data: "
    "blob:; font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}


class Guard:
    """Refuse what another site might send, before anything looks at it.

    A page of another site may point its own name at 127.0.0.1; the Host it then sends is its own
    and is refused. Requests that a browser marks as another site's are refused too, but for
    following a link to a page.

    Parameters
    ----------
    app : ASGI application
    port : int
        The one listened on.
    """

    def __init__(self, app: App, port: int) -> None:
        self.app = app
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        if port == 80:
            self.hosts |= {"127.0.0.1", "localhost"}
        self.origins = {f"http://{host}" for host in self.hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        if refusal := self._refusal(scope):
            await _refuse(send, *refusal)
            return

        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                there = {name for name, _ in message["headers"]}
                message["headers"] = [
                    *message["headers"],
                    *((name.encode(), value.encode()) for name, value in HEADERS.items()),
                    *([] if b"cache-control" in there else [(b"cache-control", b"no-store")]),
                ]
            await send(message)

        await self.app(scope, receive, dressed)

    def _refusal(self, scope: Scope) -> tuple[int, Problem] | None:
        headers: dict[bytes, list[str]] = {}
        for name, value in scope["headers"]:
            headers.setdefault(name.lower(), []).append(value.decode("latin-1"))
        host = headers.get(b"host", [])
        if len(host) != 1 or host[0].lower() not in self.hosts:
            return 421, Problem(
                "address",
                "This page is asked for under a name that is not its own.",
                "Open the address that fallsown printed.",
            )
        origin = headers.get(b"origin", [])
        if any(one.lower() not in self.origins for one in origin):
            return 403, Problem(
                "address", "Another site asks; only this page may.", "Open the page itself."
            )
        site = (headers.get(b"sec-fetch-site") or ["same-origin"])[0]
        visits = (headers.get(b"sec-fetch-mode") or [""])[0] == "navigate"
        if site not in ("same-origin", "none") and not (visits and scope["method"] == "GET"):
            return 403, Problem(
                "address", "Another site asks; only this page may.", "Open the page itself."
            )
        if len(scope.get("raw_path") or b"") + len(scope["query_string"]) > LONGEST_TARGET:
            return 414, Problem("address", "It is too long.", "Ask from the page.")
        return None


def as_control(parameter: Parameter) -> str:
    """Spell a parameter as the page does: by the name of its control."""
    return f"{parameter.name.replace('_', '-')} {parameter.value}".rstrip()


def problems_json(problems: list[Problem]) -> dict[str, Any]:
    """Return problems as the page's script reads them; of very many, the first and a count."""
    shown = [
        {name: printable(text) for name, text in asdict(problem.spelled(as_control)).items()}
        for problem in problems[:MOST_TOLD]
    ]
    return {"problems": shown, "more": max(len(problems) - MOST_TOLD, 0)}


async def _refuse(send: Send, status: int, problem: Problem) -> None:
    body = json.dumps(problems_json([problem])).encode()
    headers = [
        (b"content-type", b"application/json"),
        (b"content-length", str(len(body)).encode()),
        (b"connection", b"close"),
        *((name.encode(), value.encode()) for name, value in HEADERS.items()),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
