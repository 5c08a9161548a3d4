"""The page's server: what it lets in, what it keeps from whom, and how it stops."""

from __future__ import annotations

import asyncio
import gzip
import json
import os
import re
import signal
import socket
import statistics
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing, suppress
from pathlib import Path
from typing import Any

import httpx
import pytest
from click.testing import CliRunner
from page_running import COMMAND, Running, half_a_head, running, stalled_upload

from simulator.commands import fallsown
from simulator.page.frame import takes_gzip
from simulator.problems import printable
from simulator.weather.samples import DEFAULT_SAMPLE, samples_folder

MADE = "rain november = 11 inch"
SECONDS = float(os.environ.get("FALLSOWN_PAGE_LOAD_SECONDS", "4"))
CLIENTS = 50


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("page")) as made:
        yield made


def station(*, days: int = 4000, fault: str = "") -> bytes:
    """A weather file of a user: header with units, no latitude."""
    text = (samples_folder() / f"{DEFAULT_SAMPLE}.csv").read_text(encoding="utf-8")
    rows = [row for row in text.splitlines() if not row.startswith("#")][: days + 1]
    if fault:
        rows[100] = rows[100].rpartition(",")[0] + f",{fault}"
    return "\n".join(rows).encode()


def test_a_page_and_its_answer(page: Running) -> None:
    status, about, body = page.ask("/")
    assert status == 200
    assert b"What does the weather make of this plan?" in body
    assert "default-src 'none'" in about["content-security-policy"]
    assert "unsafe-eval" not in about["content-security-policy"]
    status, _, answer = page.ask("/answer?year=2015")
    assert status == 200
    assert answer["sentences"][0].startswith("Rye sown on Oct 20 2015 stands at ")
    assert any("invented" in text for text in answer["cautions"])
    assert "invented" in answer["cost"]["caution"]


def test_it_listens_on_loopback_alone(page: Running) -> None:
    listening = Path("/proc/net/tcp").read_text().splitlines()[1:]
    mine = [
        row.split()[1]
        for row in listening
        if row.split()[1].endswith(f":{page.port:04X}") and row.split()[3] == "0A"
    ]
    assert mine == [f"0100007F:{page.port:04X}"]


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Host": "evil.example"}, 421),
        ({"Host": "127.0.0.1:1"}, 421),
        ({"Host": "127.0.0.1.evil.example"}, 421),
        ({"Origin": "http://evil.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Origin": "http://127.0.0.1:1"}, 403),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Sec-Fetch-Site": "same-site", "Sec-Fetch-Mode": "cors"}, 403),
        ({"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}, 200),
        ({"Sec-Fetch-Site": "same-origin"}, 200),
    ],
)
def test_other_names_and_other_sites_are_refused(
    page: Running, headers: dict[str, str], status: int
) -> None:
    found, _, said = page.ask("/answer", **{k.replace("-", "_"): v for k, v in headers.items()})
    assert found == status
    if status != 200:
        assert {"where", "what", "remedy"} == set(said["problems"][0])


def test_another_site_can_send_no_file(page: Running) -> None:
    for headers in (
        {"Origin": "http://evil.example"},
        {"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "navigate"},
    ):
        status, _, _ = page.ask("/weather?latitude=31", data=station(), **headers)
        assert status == 403


def test_its_own_names_and_origin_are_let_in(page: Running) -> None:
    for host in (f"localhost:{page.port}", f"127.0.0.1:{page.port}"):
        assert page.ask("/answer", Host=host, Origin=f"http://{host}")[0] == 200


@pytest.mark.parametrize(
    ("query", "where", "what"),
    [
        ("sow=13-45", "sow", "not a day"),
        ("nitrogen=30", "nitrogen", "no unit"),
        ("cereal=rey", "cereal", "Did you mean 'rye'"),
        ("change=rain+novembr", "change", "cannot be read"),
        ("change=temperature+november+-+5+inch", "change", "cannot be turned"),
        ("year=1812", "year", "1812"),
        ("place=atlantis", "place", "no place"),
        ("end=10-25&sow=11-05", "sow", "not before"),
        ("place=file-x&file=my.csv", "place", "'my.csv'"),
        ("weeds=1", "weeds", "no such control"),
        ("target=-3+lb/acre", "target", "out of range"),
        ("pin-sow=99-99", "pin-sow", "not a day"),
        ("change=rain+november+-+90+inch", "change", "only"),
    ],
)
def test_faults_name_their_control(page: Running, query: str, where: str, what: str) -> None:
    status, _, said = page.ask(f"/answer?{query}")
    assert status == 422
    assert any(p["where"] == where and what in p["what"] + p["remedy"] for p in said["problems"]), (
        said
    )


@pytest.mark.parametrize("text", ["%1b[2J", "%7f", "%00 inch", "%c2%9b31m"])
def test_what_a_link_holds_is_said_so_that_it_can_be_printed(page: Running, text: str) -> None:
    """Met by ``python -m tests.fuzz --readers links``."""
    status, _, said = page.ask(f"/answer?sow={text.replace(' ', '+')}&change=rain+may+-+{text[:3]}")
    assert status == 422
    told = [problem[name] for problem in said["problems"] for name in ("where", "what", "remedy")]
    assert [printable(one) for one in told] == told


def test_nothing_else_is_served(page: Running) -> None:
    hidden = (
        "/docs",
        "/openapi.json",
        "/static/server.py",
        "/static/..%2fserver.py",
        "/static/%2e%2e/%2e%2e/units.py",
        "/sheet/x.html",
        "/picture/season.exe",
    )
    for path in hidden:
        status, _, said = page.ask(path)
        assert status == 404, path
        assert said["problems"][0]["where"] == "address"
    assert page.ask(f"/answer?change={'x' * 9000}")[0] == 414


def test_a_file_is_its_visitors_alone(page: Running) -> None:
    status, about, place = page.ask("/weather?name=field.csv&latitude=31.6", data=station())
    assert status == 200
    assert place["years"] == list(range(1995, 2006))
    cookie = about["set-cookie"]
    assert "HttpOnly" in cookie
    assert "samesite=strict" in cookie.lower()
    secret = cookie.partition(";")[0]
    asked = f"/answer?place={place['key']}&file=field.csv"
    assert page.ask(asked, Cookie=secret)[0] == 200
    for other in ({}, {"Cookie": secret[:-1] + ("A" if secret[-1] != "A" else "B")}):
        status, _, said = page.ask(asked, **other)
        assert status == 422
        assert "Choose the file again" in said["problems"][0]["remedy"]
    assert not [found for found in page.temporary.rglob("*") if found.is_file()]


def test_a_bad_file_is_told_by_row_and_column(page: Running) -> None:
    status, _, said = page.ask("/weather?name=bad.csv&latitude=31.6", data=station(fault="wet"))
    assert status == 422
    assert said["problems"][0]["where"] == "bad.csv, line 101, column 'rain (mm)'"
    assert "'wet'" in said["problems"][0]["what"]


@pytest.mark.parametrize(
    "name", ["../../evil.csv", "/etc/passwd", "..\\x.csv", "<b>.csv", "a\x00b"]
)
def test_a_files_name_leads_nowhere(page: Running, name: str) -> None:
    quoted = httpx.QueryParams({"name": name, "latitude": "31.6"})
    before = {found for found in page.temporary.parent.rglob("*") if found.is_file()}
    status, _, said = page.ask(f"/weather?{quoted}", data=station(fault="wet"))
    assert status == 422
    assert not re.search(r'[/\\<>"\x00]', said["problems"][0]["where"].partition(",")[0])
    assert {found for found in page.temporary.parent.rglob("*") if found.is_file()} == before


def test_what_is_no_weather_is_refused(page: Running) -> None:
    for data in (b"", b"\x1f\x8b packed", b"PK\x03\x04 no sheet", bytes(range(256)) * 40):
        status, _, said = page.ask("/weather?name=x.csv&latitude=31", data=data)
        assert status == 422
        assert said["problems"]


def test_a_file_is_bounded_in_size(page: Running) -> None:
    with socket.create_connection(("127.0.0.1", page.port)) as sent:
        sent.sendall(
            f"POST /weather?name=x.csv HTTP/1.1\r\nHost: 127.0.0.1:{page.port}\r\n"
            "Content-Length: 99999999\r\n\r\n".encode()
        )
        assert b"422" in sent.recv(200)
    with pytest.raises((httpx.HTTPError, AssertionError)):  # refused while it is being sent
        status = httpx.post(
            f"{page.url}/weather?name=x.csv", content=(b"x" * 2**20 for _ in range(64))
        ).status_code
        assert status == 200
    assert page.ask("/answer")[0] == 200


def test_what_is_taken_away(page: Running) -> None:
    query = "year=2015&change=rain+november+%3D+11+inch&pin-sow=11-20"
    status, about, table = page.ask(f"/table.csv?{query}")
    assert status == 200
    assert "attachment" in about["content-disposition"]
    text = table.decode()
    assert "invented: yes" in text
    assert {row.split(",")[0] for row in text.splitlines() if not row.startswith("#")} == {
        "plan",
        "this plan",
        "pinned plan",
    }
    status, _, drawn = page.ask(f"/picture/season.svg?{query}")
    assert status == 200
    assert b"an invented place" in drawn
    status, _, sheet = page.ask(f"/sheet/whatif.html?{query}")
    assert status == 200
    assert b"11 in" in sheet
    status, _, said = page.ask("/sheet/whatif.html?year=2015")
    assert status == 422
    assert "nothing is changed" in said["problems"][0]["what"]


def test_own_prices_are_read_and_given_as_a_file(page: Running) -> None:
    query = "price-seed-rye=0.23/lb&price-own=scouting+%3D+3/acre&year=2015"
    status, about, file = page.ask(f"/prices.toml?{query}")
    assert status == 200
    assert "attachment" in about["content-disposition"]
    status, _, read = page.ask("/prices?name=mine.toml", data=file)
    assert status == 200
    assert read["price-seed-rye"] == "0.23/lb"
    assert read["price-own"] == "scouting = 3/acre"
    assert page.ask(f"/cost?{query}")[2]["cost"] == page.ask(f"/answer?{query}")[2]["cost"]
    status, _, said = page.ask("/prices?name=mine.toml", data=file.replace(b"0.23 $", b"-1 $"))
    assert status == 422
    assert said["problems"][0]["where"] == "mine.toml, [seed], key 'rye'"
    assert page.ask("/prices", data=b"\xff\x00")[0] == 422
    assert page.ask("/prices", data=file, Origin="http://elsewhere.example")[0] == 403
    for path in ("/cost", "/answer", "/prices.toml", "/table.csv"):
        status, _, said = page.ask(f"{path}?price-work-sowing=1e308/acre")
        assert (status, said["problems"][0]["where"]) == (422, "price-work-sowing")


def test_all_falls_can_be_taken_away(page: Running) -> None:
    status, _, table = page.ask(f"/table.csv?change={MADE.replace(' ', '+').replace('=', '%3D')}")
    assert status == 200
    rows = [row for row in table.decode().splitlines() if not row.startswith("#")]
    assert len(rows) == 1 + 2 * 30
    assert page.ask("/picture/chance.png")[2].startswith(b"\x89PNG")
    assert page.ask("/sheet/risk.pdf")[2].startswith(b"%PDF")


def test_the_chart_script_is_kept_by_the_browser(page: Running) -> None:
    address = re.search(rb'data-charts="([^"]+)"', page.ask("/")[2])[1].decode()
    status, about, script = page.ask(address)
    assert status == 200
    assert "immutable" in about["cache-control"]
    assert len(script) > 100_000
    assert page.ask(address, If_None_Match=about["etag"])[0] == 304
    # packed for whoever takes it, and for nobody else
    for accepted, packs in (("gzip, deflate, br", True), ("gzip;q=0, *", False), ("br", False)):
        _, told, sent = page.ask(address, Accept_Encoding=accepted)
        assert (told["content-encoding"] == "gzip") is packs, accepted
        assert told["vary"] == "accept-encoding"
        assert (gzip.decompress(sent) if packs else sent) == script
        assert not packs or len(sent) < len(script) / 2
        assert page.ask(address, If_None_Match=told["etag"], Accept_Encoding=accepted)[0] == 304


@pytest.mark.published("Fielding and others, 2022, RFC 9110, section 12.5.3")
@pytest.mark.parametrize(
    ("accepted", "packs"),
    [
        ("", False),
        ("gzip", True),
        ("compress;q=0.5, gzip;q=1.0", True),
        ("gzip;q=1.0, identity; q=0.5, *;q=0", True),
        ("*", True),
        ("*;q=0", False),
        ("identity", False),
        ("GZIP ; Q=0.000", False),
        ("gzip;q=x", False),
    ],
)
def test_what_a_browser_takes_packed(accepted: str, packs: bool) -> None:
    assert takes_gzip(accepted) is packs


def test_a_taken_port_is_said() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        result = CliRunner().invoke(fallsown, ["page", "--no-browser", "--port", str(port)])
    assert result.exit_code == 2
    assert f"Port {port} of this machine is taken" in result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.long
@pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGTERM])
def test_it_stops_cleanly(tmp_path: Path, ending: signal.Signals) -> None:
    with running(tmp_path) as page:
        page.ask("/weather?name=field.csv&latitude=31.6", data=station(days=800))
        assert list(tmp_path.iterdir())
        page.process.send_signal(ending)
        page.process.wait(timeout=120)  # lest the test hang
        assert page.process.returncode == 0
        assert page.process.stderr is not None
        assert page.process.stderr.read() == ""
    assert not list(tmp_path.iterdir())


def test_help_names_its_options() -> None:
    said = subprocess.run([*COMMAND, "--help"], capture_output=True, text=True, check=True).stdout
    assert "--port" in said
    assert "--no-browser" in said


@pytest.mark.long
def test_fifty_clients_at_once(page: Running) -> None:
    """Some seconds here; FALLSOWN_PAGE_LOAD_SECONDS=60 for the whole minute."""
    before, most, stop = page.memory(), [page.memory()], threading.Event()

    def watch() -> None:
        while not stop.wait(0.1):
            most.append(page.memory())

    async def one(client: httpx.AsyncClient, number: int, until: float) -> list[int]:
        found = []
        if number % 10 == 0:
            about = {"name": f"{number}.csv", "latitude": 31.6}
            read = await client.post("/weather", content=station(days=1500), params=about)
            found.append(read.status_code)
        while not found or time.monotonic() < until:
            sow, rain = f"{10 + len(found) % 2}-{10 + number % 20}", len(found) % 15
            answer = await client.get(
                "/answer",
                params={
                    "sow": sow,
                    "change": f"rain november = {rain}.{number} inch",
                    "year": str(1996 + number % 28) if number % 3 else "all",
                },
            )
            found.append(answer.status_code)
            assert answer.json()["sentences"]
        return found

    async def all_of_them() -> list[int]:
        clients = [
            httpx.AsyncClient(base_url=page.url, timeout=120, verify=False) for _ in range(CLIENTS)
        ]
        until = time.monotonic() + SECONDS
        found = await asyncio.gather(*(one(c, n, until) for n, c in enumerate(clients)))
        await asyncio.gather(*(client.aclose() for client in clients))
        return [status for each in found for status in each]

    watching = threading.Thread(target=watch)
    watching.start()
    try:
        statuses = asyncio.run(all_of_them())
    finally:
        stop.set()
        watching.join()
    print(f"{len(statuses)} answers in {SECONDS:g} s; memory {before:.0f} to {max(most):.0f} MB")
    assert set(statuses) == {200}
    assert len(statuses) >= CLIENTS
    assert max(most) < 900


def test_json_is_strict(page: Running) -> None:
    raw = httpx.get(f"{page.url}/answer", params={"place": "hollin-reach", "sow": "01-10"}).text
    json.loads(raw, parse_constant=lambda name: pytest.fail(f"{name} in JSON"))


def seconds(page: Running, times: int = 12) -> float:
    """Return what an answer usually takes."""
    took = []
    for number in range(times):
        start = time.perf_counter()
        status, _, said = page.ask(f"/answer?year={1996 + number}&sow=10-{10 + number}")
        took.append(time.perf_counter() - start)
        assert status == 200, said
    return statistics.median(took)


@pytest.mark.parametrize(("heads", "uploads"), [(450, 0), (0, 30), (150, 6)])
def test_slow_clients_lock_nobody_out(page: Running, heads: int, uploads: int) -> None:
    seconds(page)
    usual = seconds(page)
    with ExitStack() as slow:
        for make, count in ((half_a_head, heads), (stalled_upload, uploads)):
            for _ in range(count):
                with suppress(ConnectionError):  # dropped at once, there being so many
                    slow.enter_context(closing(make(page.port)))
        time.sleep(0.5)
        assert seconds(page) < 2 * usual + 0.02
        start = time.perf_counter()
        status, _, _ = page.ask("/weather?name=a.csv&latitude=31", data=station(days=900))
        assert status == 200
        assert time.perf_counter() - start < 3


def children(pid: int) -> list[int]:
    """Return the processes that a process started, but for helpers of Python's own."""
    found = []
    for status in Path("/proc").glob("[0-9]*/status"):
        with suppress(OSError):
            if f"\nPPid:\t{pid}\n" in status.read_text():
                line = (status.parent / "cmdline").read_bytes()
                if b"spawn_main" in line:
                    found.append(int(status.parent.name))
    return found


@pytest.mark.long
def test_the_page_outlives_what_draws(page: Running) -> None:
    asked = "/picture/season.png?year=2015"
    status, _, first = page.ask(asked)
    assert status == 200
    (drawing,) = children(page.process.pid)
    found: list[tuple[int, Any, Any]] = []
    os.kill(drawing, signal.SIGSTOP)  # it holds still at the drawing that comes
    waiting = threading.Thread(target=lambda: found.append(page.ask(asked)))
    waiting.start()
    time.sleep(1.5)
    assert waiting.is_alive()
    os.kill(drawing, signal.SIGKILL)
    waiting.join(60)
    assert found[0][0] == 200
    assert found[0][2] == first
    assert page.ask("/answer?year=2015")[0] == 200
    assert page.ask("/sheet/risk.pdf")[2].startswith(b"%PDF")
    assert drawing not in children(page.process.pid)
