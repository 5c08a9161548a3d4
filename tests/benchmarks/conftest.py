"""Shared by the benchmarks: the loop in C, and the table of ratios at the end of the run."""

from __future__ import annotations

from collections.abc import Callable

import loop_in_c
import pytest
from tabulate import tabulate

_told = pytest.StashKey[list[tuple[str, str, str]]]()


@pytest.fixture(scope="session")
def c_loop(tmp_path_factory: pytest.TempPathFactory) -> loop_in_c.LoopInC:
    """The loop in C; tests that need it are skipped on a machine without a C compiler."""
    if loop_in_c.compiler() is None:
        pytest.skip("no C compiler (cc, gcc or clang) on this machine")
    return loop_in_c.LoopInC(tmp_path_factory.mktemp("loop-in-c"))


@pytest.fixture(scope="session")
def tell(pytestconfig: pytest.Config) -> Callable[[str, str, str], None]:
    """Keep a line (what, measured, aimed at) for the table at the end."""
    rows = pytestconfig.stash.setdefault(_told, [])
    return lambda what, measured, aim: rows.append((what, measured, aim))


def pytest_terminal_summary(
    terminalreporter: pytest.TerminalReporter, config: pytest.Config
) -> None:
    if rows := config.stash.get(_told, []):
        terminalreporter.section("speed on this machine, as loaded as it was")
        table = tabulate(rows, headers=("what", "measured", "aim"), disable_numparse=True)
        terminalreporter.write_line(table)
