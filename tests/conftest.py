"""Marks that name the source of each outside check, the page made from them, open data."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from page_running import Running

KINDS = {
    "published": "Printed by someone else",
    "analytic": "Follows from mathematics",
    "other_program": "From a general-purpose library",
    "practice": "Common practice, or from memory",
    "fitted": "Judged on data that the defaults saw",
    "frozen": "The model's own earlier output",
}
NO_PROOF = {
    "fitted": "The defaults were set by these data or with them in sight, so that agreeing with"
    "\nthem proves little. [How far off](skill.md) it is where it had not looked is judged apart.",
    "frozen": "These find a change that nobody meant. They say nothing of being right.",
}
ROOT = Path(__file__).resolve().parents[1]
OPEN_DATA = ROOT.parent / "shared" / "open-data"

os.environ["COLUMNS"] = "96"  # sentences wrap alike on every machine
# the same cases on every machine, however slow it is
settings.register_profile(
    "house", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("house")


@pytest.fixture(scope="session")
def open_data() -> Path:
    """The folder of open data beside the checkout; tests that need it are skipped without it."""
    if not OPEN_DATA.is_dir():
        pytest.skip(f"open data not found: no folder {OPEN_DATA.parent.name}/{OPEN_DATA.name}")
    return OPEN_DATA


# --- the season loop, compiled once for all workers ---

FIRST_RUN = "FALLSOWN_FIRST_RUN"  # in the environment of workers: the folder of what it printed
WHATIF = (sys.executable, "-c", "from simulator.commands import main; main()", "whatif")
_first_run = pytest.StashKey["subprocess.Popen[bytes]"]()


@dataclass(frozen=True)
class FirstRun:
    """A what-if with nothing compiled yet.

    Parameters
    ----------
    seconds : float
    returncode : int
    stdout, stderr : str
    """

    seconds: float
    returncode: int
    stdout: str
    stderr: str


@pytest.hookimpl(tryfirst=True)  # before the workers start
def pytest_sessionstart(session: pytest.Session) -> None:
    """Compile the loop while workers collect, where several would each do it for themselves."""
    if hasattr(session.config, "workerinput") or not session.config.getoption("numprocesses", None):
        return
    from simulator.process.compiled import CACHE

    if any(CACHE.rglob("*.nbi")):
        return
    folder = Path(tempfile.mkdtemp())
    begun = time.perf_counter()
    with (folder / "stdout").open("wb") as out, (folder / "stderr").open("wb") as err:
        process = subprocess.Popen(WHATIF, stdout=out, stderr=err, cwd=ROOT)

    def note_the_end() -> None:
        ended = f"{process.wait()} {time.perf_counter() - begun}"
        with suppress(OSError):  # the folder is gone where the session ended before
            (folder / "ending").write_text(ended)
            (folder / "ending").rename(folder / "ended")

    threading.Thread(target=note_the_end, daemon=True).start()
    session.config.stash[_first_run] = process
    os.environ[FIRST_RUN] = str(folder)


# These grow nothing: they run first, while the loop is compiled for all others.
GROW_NOTHING = {
    f"test_{of}.py"
    for of in ("generator_fit", "generator", "house", "resampling", "thermal_time", "units")
}


def pytest_runtest_setup(item: pytest.Item) -> None:
    if item.path.name not in GROW_NOTHING:
        wait_for_first_run()


@cache
def wait_for_first_run() -> None:
    """Wait for the loop where it is compiled for all; after ten minutes each does it by itself."""
    folder = os.environ.get(FIRST_RUN)
    begun = time.perf_counter()
    while folder and not Path(folder, "ended").exists() and time.perf_counter() - begun < 600:
        time.sleep(0.1)


@pytest.fixture(scope="session")
def first_run() -> FirstRun | None:
    """What the run printed that compiled the loop for all, if there was one and it has ended."""
    folder = Path(os.environ.get(FIRST_RUN, ""))
    if not (folder / "ended").exists():
        return None
    code, seconds = (folder / "ended").read_text().split()
    told = [(folder / name).read_text(encoding="utf-8") for name in ("stdout", "stderr")]
    return FirstRun(float(seconds), int(code), *told)


# --- the page, started once for all browsers of a worker ---


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The page that runs; visitors are told apart by their browser's cookie."""
    from page_running import running

    with running(tmp_path_factory.mktemp("page")) as made:
        yield made


# --- the page of checks ---


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--evidence", metavar="FILE", help="write the page of outside checks to FILE")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: item.path.name not in GROW_NOTHING)  # the rest keeps its order
    for item in items:
        for kind in KINDS:
            for mark in item.iter_markers(kind):
                source = mark.args[0] if mark.args else ""
                if not isinstance(source, str) or len(source) < 8:
                    raise pytest.UsageError(f"{item.nodeid}: @{kind} needs its source in words")
                item.user_properties.append(("evidence", (kind, source)))


_results: dict[tuple[str, str, str], list[str]] = defaultdict(list)


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    if report.when == "call" or report.outcome != "passed":
        for name, value in report.user_properties:
            if name == "evidence":
                kind, source = value
                test = report.nodeid.split("[")[0].replace("tests/", "")
                _results[(kind, source, test)].append(report.outcome)


def pytest_sessionfinish(session: pytest.Session) -> None:
    if process := session.config.stash.get(_first_run, None):
        process.kill()  # nobody waited for it, if it still runs
        shutil.rmtree(os.environ.pop(FIRST_RUN), ignore_errors=True)
    page = session.config.getoption("--evidence")
    if not page or hasattr(session.config, "workerinput"):
        return
    lines = [
        "# Checked against the world",
        "",
        "Written by the test run: every check whose expected numbers come from outside the",
        "project, where they come from, and how it went. A parametrized check counts its cases.",
        "The last two kinds are no such proof, and are told apart for that reason.",
        "",
    ]
    for kind, heading in KINDS.items():
        rows = sorted(key for key in _results if key[0] == kind)
        if not rows:
            continue
        cases = sum(len(_results[key]) for key in rows)
        lines += [f"## {heading} ({cases} case{'s' * (cases != 1)})", ""]
        if kind in NO_PROOF:
            lines += [NO_PROOF[kind], ""]
        lines += ["| source | check | result |", "|---|---|---|"]
        for key in rows:
            outcomes = _results[key]
            told = ", ".join(f"{outcomes.count(o)} {o}" for o in sorted(set(outcomes)))
            test = key[2].replace("::", " ").replace("_", "\\_")
            lines.append(f"| {key[1].replace('|', '/')} | {test} | {told} |")
        lines.append("")
    Path(page).write_text("\n".join(lines), encoding="utf-8")
