"""How fast the day loop and the commands are, as ratios measured in one run.

``python -m pytest tests/benchmarks -n 0`` measures and ends with a table; under xdist (``-n 2``)
pytest-benchmark is off and the ratios are skipped. ``--benchmark-only`` leaves out the tests that
only compare numbers. Nothing here fails because a machine is slow or busy: a ratio is printed and
kept in ``extra_info``, and only a wrong answer fails.

A rival runs in the set-up of each round, outside the benchmark's clock: both sides see the same
load, and the least of their times is compared.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

import loop_in_numpy
import pandas as pd
import pytest
import xarray as xr
from loop_in_c import LoopInC
from loop_members import Members, sample_members

from simulator.answers.degree_days.calculate import degree_days
from simulator.season.compare import run_members
from simulator.season.day.loop import grow_members
from simulator.weather.files.reading import read_weather
from simulator.weather.samples import sample_weather

FALLSOWN = (
    sys.executable,
    "-c",
    "import sys; from simulator.commands import main; sys.exit(main())",
)
Tell = Callable[[str, str, str], None]


@pytest.fixture(scope="module")
def members() -> Members:
    return sample_members()


def race(
    benchmark: Any,
    ours: Callable[[], object],
    rival: Callable[[], object],
    rounds: int,
    warmups: int = 1,
) -> float:
    """Benchmark ``ours`` in turn with ``rival``; return the rival's least time over ours."""
    if benchmark.disabled:
        pytest.skip("pytest-benchmark is off")
    rivals = []

    def run_rival() -> None:
        begun = perf_counter()
        rival()
        rivals.append(perf_counter() - begun)

    benchmark.pedantic(ours, setup=run_rival, rounds=rounds, warmup_rounds=warmups)
    ratio = min(rivals) / benchmark.stats.stats.min
    benchmark.extra_info.update(rival_seconds=min(rivals), ratio=ratio)
    return ratio


def processor_seconds(work: Callable[[], object]) -> float:
    begun = process_time()
    work()
    return process_time() - begun


def on_threads(members: Members, threads: int) -> Callable[[], None]:
    out = members.room()
    drivers, spans, _, _, *rest = members.arguments(0, members.count, out)
    return lambda: run_members(members.count, threads, drivers, spans, *rest)


@pytest.mark.benchmark(group="day loop")
def test_against_c(benchmark: Any, members: Members, c_loop: LoopInC, tell: Tell) -> None:
    out = members.room()
    arguments = members.arguments(0, members.count, out)
    ratio = race(
        benchmark,
        lambda: grow_members(*arguments),
        lambda: c_loop.grow_members(members, 0, members.count, out),
        rounds=8,
    )
    member_days_per_second = members.member_days / benchmark.stats.stats.min
    benchmark.extra_info.update(
        members=members.count, member_days_per_second=member_days_per_second
    )
    tell("compiled loop as a share of C's speed, one thread", f"{ratio:.2f}", "0.9 or more")
    speed = f"{member_days_per_second / 1e6:.1f} million season-days a second"
    tell(f"compiled loop over {members.count} seasons, one thread", speed, "")


@pytest.mark.benchmark(group="day loop")
@pytest.mark.skipif((os.cpu_count() or 1) < 2, reason="one processor")
def test_two_threads_against_one(benchmark: Any, members: Members, tell: Tell) -> None:
    two, one = on_threads(members, 2), on_threads(members, 1)
    ratio = race(benchmark, two, one, rounds=8)
    tell("two threads against one", f"{ratio:.2f} times", "near 2")
    # unlike the ratio, this does not mind what else the processors are busy with
    work = min(processor_seconds(two) for _ in range(3))
    work /= min(processor_seconds(one) for _ in range(3))
    benchmark.extra_info["processor_time_ratio"] = work
    tell("processor time that two threads use, against one", f"{work:.2f} times", "near 1")


@pytest.mark.benchmark(group="day loop")
def test_against_numpy(benchmark: Any, members: Members, tell: Tell) -> None:
    ratio = race(
        benchmark, on_threads(members, 1), lambda: loop_in_numpy.grown(members), rounds=2, warmups=0
    )
    what = f"compiled loop against NumPy over {members.count} seasons, one thread"
    tell(what, f"{ratio:.1f} times", "above 1")


@pytest.mark.benchmark(group="reading")
def test_reading_thirty_years(benchmark: Any, tmp_path: Path, tell: Tell) -> None:
    sample = sample_weather()
    path = tmp_path / "station.csv"
    table = sample[["tmax", "tmin", "rain"]].to_dataframe()
    table.columns = ["tmax (degC)", "tmin (degC)", "rain (mm)"]
    table.to_csv(path, index_label="date")
    ratio = race(
        benchmark,
        lambda: read_weather(path, latitude=31.3),
        lambda: pd.read_csv(path, parse_dates=["date"]),
        rounds=5,
    )
    assert read_weather(path, latitude=31.3).sizes == sample.sizes
    tell("a station's 30 years, checked", f"{1 / ratio:.0f} times pandas.read_csv", "under 50")


@pytest.mark.benchmark(group="reading")
def test_sample(benchmark: Any, tmp_path: Path, tell: Tell) -> None:
    path = tmp_path / "sample.nc"
    sample_weather().to_netcdf(path)
    ratio = race(benchmark, sample_weather, lambda: xr.load_dataset(path), rounds=5)
    tell("the sample", f"{1 / ratio:.1f} times the same from netCDF", "under 20")


@pytest.mark.benchmark(group="degree days")
def test_degree_days(benchmark: Any, tell: Tell) -> None:
    record = sample_weather()
    ratio = race(
        benchmark,
        lambda: degree_days(record, bases=[float(base) for base in range(10)], upper=30.0),
        lambda: degree_days(record, bases=[0.0], upper=30.0),
        rounds=3,
    )
    tell("degree days of ten bases", f"{1 / ratio:.1f} times those of one", "under 15")


def run(*arguments: str, cache: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run fallsown in a process of its own, with compiled code kept in ``cache``."""
    environment = {**os.environ, **({"XDG_CACHE_HOME": str(cache)} if cache else {})}
    done = subprocess.run(
        [*FALLSOWN, *arguments], env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done


@pytest.mark.benchmark(group="commands")
def test_help(benchmark: Any, tell: Tell) -> None:
    done = benchmark.pedantic(run, ("--help",), rounds=5, warmup_rounds=1)
    assert "whatif" in done.stdout
    if not benchmark.disabled:
        tell("fallsown --help", f"{benchmark.stats.stats.min:.2f} s", "under 0.5 s")


@dataclass(frozen=True)
class First:
    cache: Path | None
    seconds: float
    stdout: str
    stderr: str


@pytest.fixture(scope="module")
def first_whatif(tmp_path_factory: pytest.TempPathFactory, first_run: Any) -> First:
    """A run with nothing compiled yet: the one that compiled for all workers, if there was one."""
    if first_run is not None:
        assert first_run.returncode == 0, first_run.stderr
        return First(None, first_run.seconds, first_run.stdout, first_run.stderr)
    if not sys.platform.startswith("linux"):
        pytest.skip("the cache is moved by XDG_CACHE_HOME, which only Linux heeds")
    cache = tmp_path_factory.mktemp("cache")
    begun = perf_counter()
    done = run("whatif", cache=cache)
    return First(cache, perf_counter() - begun, done.stdout, done.stderr)


@pytest.mark.benchmark(group="commands")
def test_whatif(benchmark: Any, first_whatif: First, tell: Tell) -> None:
    """The first run says that it compiles; the next does not, and gives the same answer."""
    done = benchmark.pedantic(run, ("whatif",), {"cache": first_whatif.cache}, rounds=3)
    assert "Compiling" in first_whatif.stderr
    assert "Compiling" not in done.stderr
    assert done.stdout == first_whatif.stdout
    if not benchmark.disabled:
        benchmark.extra_info["first_seconds"] = first_whatif.seconds
        first = f"{first_whatif.seconds:.1f} s"
        tell("fallsown whatif, the first time, announced", first, "compiles in under 20 s")
        tell("fallsown whatif, warm", f"{benchmark.stats.stats.min:.1f} s", "under 3 s")
