"""How the time and memory of a grid grow with its places, years and plans, on this machine.

``python tests/benchmarks/scaling.py --out docs/performance`` makes the weather, runs every grid in
a process of its own, and writes a chart, docs/performance.svg, and the tables between the markers
of docs/performance.md. It takes some ten minutes on two processors; ``--quick`` a minute or two.
The machine should do nothing else meanwhile.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
import psutil
from tabulate import tabulate

PLANS: dict[int, dict[str, str]] = {
    10: {"nitrogen": "60 lb/acre", "seeding": "90 lb/acre"},
    20: {"nitrogen": "60,120 lb/acre", "seeding": "90 lb/acre"},
    50: {"nitrogen": "0,30,60,90,120 lb/acre", "seeding": "90 lb/acre"},
    100: {"nitrogen": "0,30,60,90,120 lb/acre", "seeding": "60,90 lb/acre"},
}
ALWAYS = {"sow": "10-10,10-20,11-05,11-20,12-08", "nitrogen_timing": "sowing,02-15", "end": "04-15"}
STEPS = {
    "growing": "drivers and day loop, compiled code",
    "reading": "reading weather and judging it",
    "preparing": "filling gaps, cutting seasons, laying out plans",
    "writing": "packing results and writing them",
}
SAMPLED = 0.05  # s between looks at the memory
BEGIN, END = "<!-- scaling: begin -->", "<!-- scaling: end -->"
CLUSTER = {"places": 10_000, "years": 40, "plans": 1_000}
WORKERS_OF_CLUSTER = 64
DAYS_OF_YEAR = 365.25
OFF_THE_LINE = 0.01  # share of variance beyond which time is not said to grow in step


@dataclass(frozen=True)
class Size:
    """A grid to run, and the one thing in which it differs from the largest."""

    varied: str
    places: int
    years: int
    plans: int
    workers: int

    @property
    def seasons(self) -> int:
        return self.places * self.years * self.plans


@dataclass(frozen=True)
class Measured:
    """What a grid took."""

    size: Size
    seconds: float  # from the start of Python to its end
    memory: float  # bytes, of all processes at one moment
    stored: int  # bytes on disk
    steps: dict[str, float]  # seconds, summed over workers

    @property
    def share(self) -> float:
        """Of the workers' time that is compiled code."""
        return self.steps["growing"] / (self.seconds * self.size.workers)

    @property
    def each(self) -> float:
        """Seconds of a worker for a season."""
        return self.seconds * self.size.workers / self.size.seasons


def sizes(places: int, years: int) -> list[Size]:
    """The grids to run: each of places, years and plans in turn, from few to all."""
    plans, both = max(PLANS), 2
    found = [
        Size("places", n, years, plans, both)
        for n in sorted({max(places * k // 1000, 1) for k in (4, 10, 33, 100, 333, 1000)})
    ]
    found += [Size("years", places, n, plans, both) for n in (1, 3, 10, 30) if n < years]
    found += [Size("plans", places, years, n, both) for n in PLANS if n < plans]
    found += [Size("places", n, years, plans, 1) for n in (max(places // 10, 1), places)]
    return found


def run_one(weather: str, out: str, size: Size) -> None:
    """Run a grid in this process and print what it took, as JSON."""
    from simulator.season.grid import run_grid
    from simulator.weather.places import find_places

    steps = dict.fromkeys(STEPS, 0.0)

    def add(done: Any) -> None:
        for step, seconds in done.seconds.items():
            steps[step] += seconds

    places, problems = find_places(weather)
    assert not problems
    grid = run_grid(
        places[: size.places],
        out=out,
        years=range(2001, 2001 + size.years),
        workers=size.workers,
        watch=add,
        **ALWAYS,
        **PLANS[size.plans],
    )
    assert grid["biomass_kg_ha"].size == size.seasons
    print(json.dumps(steps))


def memory_of(process: psutil.Process) -> int:
    """Bytes that a process and all below it hold; what they share counts each time."""
    held = 0
    for one in [process, *process.children(recursive=True)]:
        with suppress(psutil.Error):  # it may have ended meanwhile
            held += one.memory_info().rss
    return held


def measure(weather: Path, size: Size) -> Measured:
    """Run a grid in a process of its own, watching its memory."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "grid.zarr"
        command = [
            sys.executable,
            __file__,
            "--one",
            json.dumps(asdict(size)),
            "--weather",
            str(weather),
            "--out",
            str(out),
        ]
        before = time.monotonic()
        running = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        watched, most = psutil.Process(running.pid), 0
        while running.poll() is None:
            try:
                most = max(most, memory_of(watched))
            except psutil.Error:
                break
            time.sleep(SAMPLED)
        said, _ = running.communicate()
        seconds = time.monotonic() - before
        if running.returncode:
            sys.exit(f"The run of {size} failed.")
        stored = sum(file.stat().st_size for file in out.rglob("*") if file.is_file())
    return Measured(size, seconds, most, stored, json.loads(said))


def straight(measured: list[Measured]) -> tuple[float, float, float]:
    """Fit seconds = start + each * seasons; gives both, and the share of variance left out."""
    seasons = np.array([one.size.seasons for one in measured], float)
    seconds = np.array([one.seconds for one in measured])
    each, start = np.polyfit(seasons, seconds, 1)
    missed = ((seconds - start - each * seasons) ** 2).sum()
    return float(start), float(each), float(missed / ((seconds - seconds.mean()) ** 2).sum())


def lines_of(measured: list[Measured]) -> dict[str, list[Measured]]:
    """The grids along places, years and plans, two workers each, the largest in all."""
    both = [one for one in measured if one.size.workers == 2]
    largest = max(both, key=lambda one: one.size.seasons)
    return {
        varied: [
            *(one for one in both if one.size.varied == varied and one is not largest),
            largest,
        ]
        for varied in ("places", "years", "plans")
    }


def tables(measured: list[Measured]) -> str:
    """What was measured, as the page has it."""
    largest = max(measured, key=lambda one: (one.size.seasons, one.size.workers))
    alone = [one for one in measured if one.size.workers == 1]
    rows = [
        [
            one.size.varied,
            one.size.places,
            one.size.years,
            one.size.plans,
            f"{one.size.seasons:,}",
            one.size.workers,
            f"{one.seconds:.1f}",
            f"{one.each * 1e6:.1f}",
            f"{one.share:.0%}",
            f"{one.memory / 1e6:,.0f}",
        ]
        for one in sorted(measured, key=lambda m: (-m.size.workers, m.size.varied, m.size.seasons))
    ]
    heads = [
        "varied",
        "places",
        "years",
        "plans",
        "seasons",
        "workers",
        "seconds",
        "µs of a worker a season",
        "compiled code's share",
        "peak memory (MB)",
    ]
    fits = []
    for varied, line in lines_of(measured).items():
        start, each, missed = straight(line)
        fits.append(
            [
                varied,
                f"{line[0].size.seasons:,} to {line[-1].size.seasons:,}",
                f"{start:.1f}",
                f"{each * 1e6:.1f}",
                f"{1 - missed:.4f}",
            ]
        )
    workers_time = largest.seconds * largest.size.workers
    steps = [
        [what, f"{largest.steps[step]:.1f}", f"{largest.steps[step] / workers_time:.1%}"]
        for step, what in STEPS.items()
    ]
    rest = workers_time - sum(largest.steps.values())
    steps.append(
        [
            "starting Python, finding places, handing out, waiting, finishing",
            f"{rest:.1f}",
            f"{rest / workers_time:.1%}",
        ]
    )
    gains = [
        f"With {both.size.seasons:,} seasons two workers are {one.seconds / both.seconds:.2f} "
        "times as fast as one."
        for one in alone
        for both in measured
        if both.size.workers == 2
        and both.size.seasons == one.size.seasons
        and both.size.places == one.size.places
    ]
    return "\n\n".join(
        [
            f"Measured on {processor()}, {os.cpu_count()} processors, Python "
            f"{platform.python_version()}; each run in a process of its own, from the start of "
            "Python "
            "to its end, results on disk.",
            _markdown(heads, rows),
            "Seconds as a straight line, start + seasons x each:",
            _markdown(["varied", "seasons", "start (s)", "each (µs)", "share of variance"], fits),
            " ".join(dict.fromkeys(gains)),
            f"Where the time of the workers goes in the largest grid, {largest.size.seasons:,} "
            "seasons "
            f"in {largest.seconds:.1f} s by {largest.size.workers}:",
            _markdown(["step", "seconds of workers", "share"], steps),
            reckoning(largest),
        ]
    )


def _markdown(heads: list[str], rows: list[list[Any]]) -> str:
    align = ["left", *["right"] * (len(heads) - 1)]
    return tabulate(rows, heads, tablefmt="pipe", colalign=align, disable_numparse=True)


def processor() -> str:
    """The name that the processor has for itself, where it tells."""
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
        return next(
            line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")
        )
    except (OSError, StopIteration):
        return platform.processor() or platform.machine()


def reckoning(largest: Measured) -> str:
    """What the grid of a cluster would take, from what a season of the largest took here."""
    places, years, plans = CLUSTER.values()
    seasons = places * years * plans
    busy = sum(largest.steps.values()) / largest.size.seasons
    hours = seasons * busy / 3600
    stored = seasons * largest.stored / largest.size.seasons
    weather = places * (years + 1) * DAYS_OF_YEAR * 3 * 4
    workers, crowd = largest.size.workers, WORKERS_OF_CLUSTER
    minutes = hours * 60 / crowd
    rows = [
        ["seasons", f"{places:,} x {years} x {plans:,}", f"{seasons:,}"],
        ["time of workers", f"{busy * 1e6:.1f} µs a season", f"{hours:.1f} hours"],
        [f"{crowd} workers", "if none waits", f"{minutes:.0f} minutes"],
        ["this machine alone", f"{workers} workers", f"{hours / workers:.1f} hours"],
        ["parts", "a place each, with more seasons than a part aims at", f"{places:,}"],
        ["handing out", "1.6 ms a part", f"{places * 0.0016:.0f} s"],
        [
            "results",
            f"{largest.stored / largest.size.seasons:.1f} bytes a season, 3 fields packed",
            f"{stored / 1e9:.1f} GB in {3 * places:,} files",
        ],
        ["writing", f"by {crowd} workers together", f"{stored / 6e7 / minutes:.1f} MB/s"],
        ["weather", "3 columns, 4 bytes a day", f"{weather / 1e9:.1f} GB"],
        [
            "memory of a worker",
            "the program, and a part as read, grown and packed",
            f"{memory_of_batch(years, plans) / 1e6:,.0f} MB",
        ],
    ]
    title = (
        f"{places:,} stations, {years} years and {plans:,} plans on a cluster, reckoned from "
        "the largest grid above:"
    )
    return f"{title}\n\n{_markdown(['what', 'how it is reckoned', 'comes to'], rows)}"


def memory_of_batch(years: int, plans: int) -> float:
    """Bytes of a worker, by the rule that bounds them (`simulator.season.grid.run`)."""
    from simulator.season.day.drivers import COLUMNS, DAYS
    from simulator.season.grid.batch import RECORD_BYTES
    from simulator.season.grid.run import COPIES
    from simulator.season.grid.workers import PROGRAM

    batch = years * (plans * 3 * 8 + DAYS * 3 * 8)
    return PROGRAM + COPIES * batch + RECORD_BYTES + years * DAYS * COLUMNS * 8


def draw(measured: list[Measured], path: Path) -> None:
    """Seconds against seasons, both in powers of ten; straight and rising one for one is linear."""
    import altair as alt

    from simulator.show.charts import data, distinguish, finish, write_chart

    named = {f"{varied} varied, 2 workers": line for varied, line in lines_of(measured).items()}
    named["places varied, 1 worker"] = sorted(
        (one for one in measured if one.size.workers == 1), key=lambda one: one.size.seasons
    )
    rows = [
        {"line": name, "seasons": one.size.seasons, "seconds": one.seconds}
        for name, line in named.items()
        for one in line
    ]
    ticks = [digit * 10.0**power for power in range(8) for digit in (1, 3)]

    def axis(name: str, title: str, form: str) -> dict[str, Any]:
        low, high = (pick(row[name] for row in rows) for pick in (min, max))
        within = [tick for tick in ticks if low / 1.5 <= tick <= high * 1.5]
        scale = alt.Scale(type="log", domain=[low / 1.5, high * 1.5], nice=False)
        return {
            "shorthand": f"{name}:Q",
            "title": title,
            "scale": scale,
            "axis": alt.Axis(format=form, values=within, labelOverlap=False),
        }

    across = alt.X(**axis("seasons", "seasons", "~s"))
    up = alt.Y(**axis("seconds", "seconds from start to end", "~g"))
    base = alt.Chart(data(rows), width=620, height=380).encode(x=across, y=up)
    lines = base.mark_line(strokeWidth=2.2).encode(
        **distinguish("line", list(named), dashes=True, columns=2)
    )
    points = base.mark_point(filled=True, size=70).encode(
        color=distinguish("line", list(named))["color"]
    )
    largest = max(measured, key=lambda one: (one.size.seasons, one.size.workers))
    missed = max(straight(line)[2] for line in lines_of(measured).values())
    steady = ", and time grows in step with their number" if missed < OFF_THE_LINE else ""
    headline = (
        f"{largest.size.seasons / 1e6:.3g} million seasons take {largest.seconds:.0f} s on "
        f"{largest.size.workers} processors{steady}"
    )
    below = "Small grids take what starting takes. Weather of invented places."
    write_chart(finish(alt.layer(lines, points), [headline], [below]), path, title=headline)


def main() -> None:
    """Read the options and do it."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--out", required=True, help="stem of the page and of the chart")
    options.add_argument("--quick", action="store_true", help="a tenth of the places")
    options.add_argument(
        "--weather",
        help="netCDF of 1,000 places (of --quick 100), 30 falls from "
        "2001 on, in place of weather made for it",
    )
    options.add_argument("--one", help=argparse.SUPPRESS)
    asked = options.parse_args()
    if asked.one:
        run_one(asked.weather, asked.out, Size(**json.loads(asked.one)))
        return
    places, years = 100 if asked.quick else 1000, 30
    with tempfile.TemporaryDirectory() as folder:
        weather = Path(asked.weather or Path(folder) / "places.nc")
        if not asked.weather:
            made = subprocess.run(
                [
                    "fallsown",
                    "generate",
                    "--places",
                    str(places),
                    "--years",
                    str(years),
                    "--out",
                    str(weather),
                ],
                stdout=subprocess.DEVNULL,
                check=False,
            )
            if made.returncode:
                sys.exit("The weather could not be made.")
        measure(weather, Size("places", 2, 1, 10, 1))  # so that nothing is compiled below
        measured = []
        for size in sizes(places, years):
            measured.append(measure(weather, size))
            print(
                f"{size}: {measured[-1].seconds:.1f} s, {measured[-1].share:.0%} in the loop, "
                f"{measured[-1].memory / 1e6:,.0f} MB",
                flush=True,
            )
    page, chart = (Path(asked.out).with_suffix(suffix) for suffix in (".md", ".svg"))
    draw(measured, chart)
    text = page.read_text(encoding="utf-8") if page.exists() else f"{BEGIN}\n{END}\n"
    before, rest = text.split(BEGIN)
    after = rest.split(END)[1]
    page.write_text(f"{before}{BEGIN}\n\n{tables(measured)}\n\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
