"""Marks that name the source of each outside check, the page made from them, open data."""

from __future__ import annotations

import os
from collections import defaultdict
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

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


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--evidence", metavar="FILE", help="write the page of outside checks to FILE")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
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
        lines += [f"## {heading} ({cases} cases)", ""]
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
