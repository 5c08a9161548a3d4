"""Inputs that are no files to be read: a command line, a link and an upload of the page, a table.

Each is kept as a file all the same, so that it is mutated, made again from its seed and kept as the
others are: a line a word of the command line; a line a key of a link; an upload below its link; of
a table in memory the text that its oddities are drawn from.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import tempfile
import warnings
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from random import Random
from typing import Any
from urllib.parse import quote_from_bytes

import numpy as np
import pandas as pd
import xarray as xr

from simulator.parameters.prices import default_text
from simulator.problems import InputError, Problem, printable
from tests.fuzz.seeds import DAYS, Files, table

PORT = 8471
HONEST = b"a table as it should be; with any other text here, an odd one drawn from it"
ASKED = {
    "season": "--year 2015 --sow 10-20 --seeding|90 lb/acre --nitrogen|30 lb/acre "
    "--nitrogen-timing sowing --end 04-15 --units us --soil loam --cereal rye",
    "season --json": "--year 2015 --change|rain november = 11 inch "
    "--soil-nitrate|40 lb/acre to 24 inch on 10-01 --organic-matter|1.2 % --previous-crop corn",
    "compare": "--years 2001:2003 --sow 10-10,11-05 --nitrogen|0,60 lb/acre --end 04-15 "
    "--out c.csv",
    "whatif": "--years 2001:2003 --change|temperature nov..feb + 3 degF --sow 10-20 "
    "--nitrogen|0,60 lb/acre",
    "risk": "--years 1995:2024 --target|3500 lb/acre --sow 10-10,11-10",
    "timing": "--years 2001:2003 --end 03-15,04-15",
    "degreedays": "--weather hollin-reach --years 2010 --base|40 degF",
    "check w.csv": "--latitude 33",
    "samples": "",
    "budget": "--years 2001:2003 --plan|sow=10-20; nitrogen=30 lb/acre --target|3500 lb/acre",
}
LINKS = (
    ("/answer", "year=2015 sow=10-20 seeding=90+lb/acre nitrogen=30+lb/acre end=04-15"),
    ("/answer", "year=all change=rain+november+%3D+11+inch pin-sow=11-20 target=3000+lb/acre"),
    ("/cost", "price-seed-rye=0.23/lb price-own=scouting+%3D+3/acre ended-by=spraying"),
    ("/class/day", "tmax=60+degF tmin=20+degF base=40+degF curve=sine cutoff=horizontal"),
    ("/class/season", "place=tallow-bend year=2010 sow=10-20 on=04-15 units=si"),
    ("/table.csv", "year=2015 cereal=wheat soil=clay previous-crop=corn"),
    ("/prices.toml", "price-work-sowing=12/acre units=us"),
    ("/pictures", "year=2015 units=si soil-nitrate=40+lb/acre+on+10-01"),
    ("/two/answer", "a-sow=10-20 b-place=sorrel-ledge b-nitrogen=60+lb/acre target=3000+lb/acre"),
    ("/season/answer", "today=01-20 year=2015 measured=zadoks+23+on+01-10 units=si"),
    ("/map/answer", "set=samples upto=1 sowings=10-05,11-05 sow=11-05 target=3000+lb/acre"),
)


def _words(command: str, options: str) -> Files:
    """Lay out a command line; in options ``|`` stands before a word with spaces in it."""
    words = command.split()
    for word in options.split(" --"):
        name, bar, text = word.partition("|")
        if bar:
            text, *more = text.split("\n")
            words += [f"--{name.removeprefix('--')}", text, *more]
        else:
            words += [part for part in f"--{word.removeprefix('--')}".split() if part != "--"]
    return {"line.txt": "\n".join(words).encode()}


def _link(path: str, keys: str) -> Files:
    return {"link.txt": "\n".join([path, *keys.split()]).encode()}


def _winter() -> str:
    """A table long enough for the page."""
    days = np.datetime64("2005-09-01") + np.arange(300)
    return "date,tmax (degC),tmin (degC),rain (mm)\n" + "".join(
        f"{day},{20 - i % 9},{8 - i % 7},{i % 4}\n" for i, day in enumerate(days)
    )


def _winters() -> str:
    """The same at two stations."""
    head, *rows = _winter().splitlines()
    lines = [
        f"{name},{lat},-85.4,{row}" for name, lat in (("Low", 33), ("High", 34)) for row in rows
    ]
    return "\n".join([f"station,latitude,longitude,{head}", *lines]) + "\n"


def _upload(link: str, body: str) -> Files:
    return {"upload.txt": f"{link}\n{body}".encode()}


SEEDS: dict[str, list[Callable[[], Files]]] = {
    "options": [
        lambda one=one, told=told: _words(one, told)  # type: ignore[misc]
        for one, told in ASKED.items()
    ],
    "links": [lambda path=path, keys=keys: _link(path, keys) for path, keys in LINKS],  # type: ignore[misc]
    "uploads": [
        lambda: _upload("/weather?name=w.csv&latitude=33&site=Lowdale", _winter()),
        lambda: _upload("/map/places?name=many.csv", _winters()),
        lambda: _upload(
            "/weather?name=w.csv&latitude=33&units-of-file=si", _winter().replace(",", ";")
        ),
        lambda: _upload("/prices?name=mine.toml", default_text()),
    ],
    "frames": [lambda: {"frame.txt": HONEST}],
}


def _hold(holds: bool, what: str) -> None:
    if not holds:
        raise AssertionError(what)


@contextlib.contextmanager
def _inside(folder: str) -> Iterator[None]:
    """Work in a folder, so that what a mutated name writes is gone with it."""
    before = Path.cwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)


def _options(path: Path) -> str:
    from click.testing import CliRunner

    from simulator.commands import fallsown

    words = path.read_bytes().decode("utf-8", "replace").split("\n")
    if any(word in ("page", "--cluster") for word in words):
        raise InputError([Problem("command", "It would wait for others.", "Ask another.")])
    with tempfile.TemporaryDirectory() as folder, _inside(folder):
        Path("w.csv").write_text(table(), encoding="utf-8")
        done = CliRunner().invoke(fallsown, words)
        left = [found.name for found in Path().iterdir() if found.name.endswith(".new")]
    said = done.output
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    _hold("Traceback" not in said or "--debug" in words, said[-1500:])
    _hold(done.exit_code in (0, 2), f"exit code {done.exit_code}: {said[-800:]}")
    _hold(not left, f"left behind: {left}")
    if done.exit_code:
        _hold(bool(done.stderr.strip()), "refused without a word")
        raise InputError([Problem("command", printable(done.stderr.strip()), "See above.")])
    return f"{words[0]}: {len(said)} letters"


@cache
def _page() -> tuple[Any, asyncio.AbstractEventLoop]:
    from simulator.page.records import Visitors
    from simulator.page.server import make_app

    folder = Path(tempfile.mkdtemp(prefix="fuzz-page-"))
    return make_app(PORT, Visitors(folder)), asyncio.new_event_loop()


def _asked(target: bytes, body: bytes | None = None) -> tuple[int, bytes, str]:
    """Ask the page in this process, as its server hands a request on."""
    from urllib.parse import unquote_to_bytes

    app, loop = _page()
    raw, _, query = quote_from_bytes(target, safe="/?&=+%:;,.*~!$'()@-_").encode().partition(b"?")
    scope = {
        "type": "http",
        "asgi": {"version": "3.0", "spec_version": "2.3"},
        "http_version": "1.1",
        "method": "GET" if body is None else "POST",
        "scheme": "http",
        "path": unquote_to_bytes(raw).decode("utf-8", "replace"),
        "raw_path": raw,
        "query_string": query,
        "root_path": "",
        "headers": [(b"host", f"127.0.0.1:{PORT}".encode())],
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", PORT),
    }
    told: dict[str, Any] = {"body": b""}

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": body or b"", "more_body": False}

    async def send(message: Any) -> None:
        if message["type"] == "http.response.start":
            told["status"], told["headers"] = message["status"], dict(message["headers"])
        else:
            told["body"] += message.get("body", b"")

    loop.run_until_complete(app(scope, receive, send))
    kind = told["headers"].get(b"content-type", b"").decode("latin-1")
    return told["status"], told["body"], kind


def _answer(status: int, body: bytes, kind: str) -> str:
    """Hold an answer of the page to account."""
    read = None
    if "json" in kind:
        read = json.loads(body, parse_constant=lambda name: _hold(False, f"{name} in JSON"))
    _hold(status < 500, f"status {status}: {body[:800]!r}")
    if status >= 400:
        problems = read["problems"] if isinstance(read, dict) else []
        _hold(bool(problems) or status in (404, 405), f"status {status} without a word")
        texts = [str(one[name]) for one in problems for name in ("where", "what", "remedy")]
        for text in texts:
            _hold(printable(text) == text, f"text {text!r}")
        raise InputError([Problem("page", f"{status} {' '.join(texts)[:300]}", "As it says.")])
    return f"status {status}, {len(body)} bytes of {kind}"


def _linked(path: Path) -> str:
    where, *keys = path.read_bytes().split(b"\n")
    return _answer(*_asked(where + b"?" + b"&".join(keys)))


def _uploaded(path: Path) -> str:
    link, _, body = path.read_bytes().partition(b"\n")
    return _answer(*_asked(link, body))


# --- tables in memory ---

_VALUES: tuple[Any, ...] = (
    None,
    np.nan,
    np.inf,
    -np.inf,
    1e308,
    -9999,
    10**400,
    "12",
    "twelve",
    "",
    b"12",
    1j,
    True,
    pd.NA,
    pd.NaT,
    pd.Timestamp("2005-10-01"),
    pd.Timedelta("1D"),
    [1],
    (1, 2),
    {"a": 1},
    {1},
    object(),
    np.array([1.0, 2.0]),
    np.float32(3),
    np.datetime64("NaT"),
    "\x1b[2J",
    "\u202e",
    "\ud800",
)
_NAMES: tuple[Any, ...] = (
    "tmax",
    "tmax (degC)",
    "rain (furlong)",
    "latitude",
    "station",
    "date",
    "year",
    "",
    None,
    np.nan,
    7,
    ("a", "b"),
    pd.Timestamp("2005-10-01"),
    b"tmin",
    "\x1b[2J",
    "\ud800",
    1j,
    True,
)
_KINDS = (
    "object",
    "category",
    "string",
    "Float64",
    "Int64",
    "float32",
    "int8",
    "complex128",
    "bool",
    "datetime64[ns]",
    "timedelta64[ns]",
    "Sparse[float]",
    "S8",
)


def _frame() -> pd.DataFrame:
    steps = np.arange(DAYS.size)
    return pd.DataFrame(
        {
            "tmax (degC)": 20.5 + steps % 7,
            "tmin (degC)": 8.0 + steps % 5,
            "rain (mm)": (steps % 3) * 1.5,
        },
        index=pd.DatetimeIndex(DAYS.astype("datetime64[ns]"), name="date"),
    )


def _index(table: pd.DataFrame, random: Random) -> pd.Index:
    """Return another index for a table."""
    count = len(table)
    dates = pd.date_range("2005-10-01", periods=count)
    ways: tuple[Callable[[], Any], ...] = (
        lambda: pd.RangeIndex(count),
        lambda: dates.tz_localize(random.choice(("UTC", "America/Chicago"))),
        lambda: dates.to_period(random.choice(("D", "M", "Y"))),
        lambda: pd.Index([str(day)[:10] for day in dates], name=random.choice((None, "date"))),
        lambda: dates[::-1],
        lambda: dates.where(dates.day != 3),
        lambda: pd.date_range("2005-10-01", periods=count, freq=random.choice(("h", "W", "12h"))),
        lambda: pd.Index([random.choice(_VALUES[:12]) for _ in range(count)], dtype=object),
        lambda: pd.MultiIndex.from_arrays([dates, range(count)]),
        lambda: (
            dates.astype("datetime64[s]") + pd.Timedelta(days=random.randrange(-99_999, 99_999))
        ),
        lambda: pd.CategoricalIndex([str(day)[:10] for day in dates]),
        lambda: pd.TimedeltaIndex(range(count)),
        lambda: dates.astype("int64"),
    )
    return pd.Index(random.choice(ways)())


def odd_table(random: Random) -> tuple[Any, dict[str, Any]]:
    """Make an odd table, and options to read it with."""
    table = _frame()
    for _ in range(random.choice((0, 1, 1, 2, 3))):
        with contextlib.suppress(ValueError, TypeError, OverflowError, KeyError, AttributeError):
            table = _made_odd(table, random)
    options: dict[str, Any] = {"latitude": 33.0}
    if random.random() < 0.3:
        name = random.choice(
            ("latitude", "longitude", "site", "units", "date_format", "need_latitude")
        )
        options[name] = random.choice(_VALUES)
    return (random.choice(_VALUES) if random.random() < 0.01 else table), options


def _made_odd(table: pd.DataFrame, random: Random) -> pd.DataFrame:
    at = random.randrange(max(table.shape[1], 1))
    way = random.randrange(9)
    if way == 0:
        column = table.iloc[:, at].astype(random.choice(_KINDS))  # type: ignore[call-overload]
        return pd.concat([table.iloc[:, :at], column, table.iloc[:, at + 1 :]], axis=1)
    if way in (1, 2):
        column = table.iloc[:, at].astype(object)
        for row in random.sample(range(len(table)), random.choice((1, 3, len(table)))):
            column.iat[row] = random.choice(_VALUES)
        return pd.concat([table.iloc[:, :at], column, table.iloc[:, at + 1 :]], axis=1)
    if way == 3:
        names = list(table.columns)
        names[at] = random.choice(_NAMES)
        return table.set_axis(pd.Index(names, dtype=object, tupleize_cols=False), axis=1)
    if way == 4:
        return table.set_axis(_index(table, random), axis=0)
    if way == 5:
        return table.reset_index(names=random.choice(_NAMES[:8]))
    if way == 6:
        return pd.concat([table, table.iloc[:, [at]]], axis=1)
    if way == 7:
        rows = random.choice((0, 1, 2, len(table)))
        return table.sample(rows, random_state=random.randrange(2**31), replace=rows > len(table))
    return table.drop(columns=table.columns[at])


def _framed(path: Path) -> str:
    from simulator.weather.files.frames import record_from_frame
    from tests.fuzz.targets import held_record

    drawn_from = path.read_bytes()
    given, options = odd_table(Random(drawn_from))
    if drawn_from == HONEST:
        given, options = _frame(), {"latitude": 33.0}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        record: xr.Dataset = record_from_frame(given, **options)
    if not np.isfinite(record.attrs["latitude"]):
        return "a record without a latitude"
    return held_record(record)


TARGETS: dict[str, Callable[[Path], str]] = {
    "options": _options,
    "links": _linked,
    "uploads": _uploaded,
    "frames": _framed,
}
