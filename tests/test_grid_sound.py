"""Grids on disks that lose bits, in weather and clocks that change: nothing unsound is whole."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import netCDF4
import pytest
import xarray as xr
from test_grid import (  # noqa: F401
    PLACES,
    PLAN,
    QUIET,
    Run,
    places,
    run,
    same_bits,
    stopped_after,
    tree,
    weather,
    whole,
)

import simulator
from simulator.problems import InputError
from simulator.season.grid import checksums, open_grid
from simulator.season.grid import run as grid_run
from simulator.season.grid.batch import BatchResult
from simulator.season.grid.unfinished import UnfinishedStore
from simulator.weather.places import Place, find_places, read_place

FIELD = "biomass_kg_ha"
COMPILER = shutil.which("cc") or shutil.which("gcc")


def flipped(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


DAMAGE: dict[str, Callable[[Path], object]] = {
    "missing": Path.unlink,
    "cut": lambda path: os.truncate(path, path.stat().st_size // 2),
    "empty": lambda path: os.truncate(path, 0),
    "random": lambda path: path.write_bytes(os.urandom(path.stat().st_size)),
    "flipped": flipped,
}


def interrupted(run: Run, out: Path, **more: Any) -> UnfinishedStore:  # noqa: F811
    with pytest.raises(KeyboardInterrupt):
        run(out, workers=1, watch=stopped_after(3), **more)
    return UnfinishedStore(out)


def chunk(folder: Path, batch: int) -> Path:
    (found,) = (folder / FIELD).glob(f"{batch}.*")
    return found


@pytest.mark.parametrize("how", DAMAGE)
def test_what_is_damaged_meanwhile_is_run_again(
    run: Run,  # noqa: F811
    whole: Path,  # noqa: F811
    tmp_path: Path,
    how: str,
) -> None:
    out, said = tmp_path / "grid.zarr", []
    unfinished = interrupted(run, out)
    before = set(unfinished.notes())
    DAMAGE[how](chunk(unfinished.results, 1))
    done: list[BatchResult] = []
    run(out, watch=done.append, announce=said.append)
    assert said == ["Run again, since what was written is damaged: made up 1."]
    assert {batch.number for batch in done} == set(range(PLACES)) - before | {1}
    assert tree(out) == tree(whole)


@pytest.mark.parametrize(
    "note", ["", "[]", "3", "{}", '{"grown": 8, "left_out": [], "notes": [], "checksums": {}}']
)
def test_a_damaged_note_is_none(
    run: Run,  # noqa: F811
    whole: Path,  # noqa: F811
    tmp_path: Path,
    note: str,
) -> None:
    out, said = tmp_path / "grid.zarr", []
    interrupted(run, out).note(0).write_text(note)
    run(out, announce=said.append)
    assert said == ["Run again, since the note of what was written is damaged: made up 0."]
    assert tree(out) == tree(whole)


@pytest.mark.parametrize(
    "plan", ["", "[]", '"x"', "{}", '{"identity": 3, "told": {}}', '{"identity": {}, "told": [1]}']
)
def test_a_damaged_plan_is_said(
    run: Run,  # noqa: F811
    whole: Path,  # noqa: F811
    tmp_path: Path,
    plan: str,
) -> None:
    out = tmp_path / "grid.zarr"
    unfinished = interrupted(run, out)
    unfinished.plan.write_text(plan)
    with pytest.raises(InputError, match=r"plan\.json' is damaged"):
        run(out)
    assert unfinished.notes()
    run(out, overwrite=True)
    assert tree(out) == tree(whole)


def test_damaged_arrays_are_begun_anew(run: Run, whole: Path, tmp_path: Path) -> None:  # noqa: F811
    out = tmp_path / "grid.zarr"
    flipped(interrupted(run, out).results / FIELD / ".zarray")
    done: list[BatchResult] = []
    run(out, watch=done.append)
    assert len(done) == PLACES
    assert tree(out) == tree(whole)


@pytest.mark.parametrize("how", DAMAGE)
def test_a_damaged_store_is_refused_and_run_again_where_it_is(
    run: Run,  # noqa: F811
    whole: Path,  # noqa: F811
    tmp_path: Path,
    how: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    out, said = tmp_path / "grid.zarr", []
    shutil.copytree(whole, out)
    damaged = chunk(out, 4)
    read: list[Path] = []
    hashed = checksums.damaged
    monkeypatch.setattr(
        checksums, "damaged", lambda folder, files: (read.append(folder), hashed(folder, files))[1]
    )
    DAMAGE[how](damaged)
    named = f"is damaged: {FIELD}/{damaged.name}."
    with pytest.raises(InputError, match=named[:24]) as refused:
        open_grid(out)
    assert named[3:] in str(refused.value)
    done: list[BatchResult] = []
    read.clear()
    run(out, watch=done.append, announce=said.append)
    assert read.count(out) == 1, "a whole store of many files is read once"
    assert said[0] == f"grid.zarr {named}"
    assert [batch.number for batch in done] == [4]
    assert tree(out) == tree(whole)


@pytest.mark.parametrize("name", ["year/0", f"{FIELD}/.zarray", "left_out/0", "checksums.json"])
def test_a_store_whose_frame_is_damaged_is_run_again_as_a_whole(
    run: Run,  # noqa: F811
    whole: Path,  # noqa: F811
    tmp_path: Path,
    name: str,
) -> None:
    out = tmp_path / "grid.zarr"
    shutil.copytree(whole, out)
    DAMAGE["random"](out / name)
    with pytest.raises(InputError, match="is damaged"):
        open_grid(out)
    run(out)
    assert tree(out) == tree(whole)


def test_a_damaged_netcdf_file_is_refused_and_written_again(
    run: Run,  # noqa: F811
    tmp_path: Path,
) -> None:
    out = tmp_path / "grid.nc"
    first = run(out).load().copy(deep=True)
    first.close()
    honest = out.read_bytes()
    with netCDF4.Dataset(out) as opened:
        assert opened[FIELD].filters()["fletcher32"]
    told = set()
    for at in range(100, len(honest), len(honest) // 20):
        data = bytearray(honest)
        data[at] ^= 1
        out.write_bytes(data)
        try:  # what passes has the numbers that were written
            same_bits(open_grid(out, announce=lambda _: None), first)
        except InputError as error:
            told.add("is damaged" in str(error))
    assert True in told
    same_bits(run(out, overwrite=True), first)
    assert out.read_bytes() == honest


def test_an_old_store_is_read_and_said_to_have_no_checksums(whole: Path, tmp_path: Path) -> None:  # noqa: F811
    out, said = tmp_path / "grid.zarr", []
    shutil.copytree(whole, out)
    (out / "checksums.json").unlink()
    for name in (".zattrs", ".zmetadata"):
        about = json.loads((out / name).read_text())
        del (about if name == ".zattrs" else about["metadata"][".zattrs"])["checksums"]
        (out / name).write_text(json.dumps(about))
    same_bits(open_grid(out, announce=said.append), open_grid(whole))
    (told,) = said
    assert told.startswith("grid.zarr has no checksums")


def warmer(path: Path) -> bytes:
    """Return a weather file with another year's warmth."""
    made = path.with_suffix(".warm.nc")
    made.write_bytes(path.read_bytes())
    with netCDF4.Dataset(made, "a") as opened:
        opened["tmax"][:] = opened["tmax"][:] + 1.0
    data = made.read_bytes()
    made.unlink()
    return data


def put(path: Path, data: bytes) -> None:
    """Replace a file at once, as whoever renews weather does."""
    made = path.with_suffix(".new")
    made.write_bytes(data)
    made.replace(path)


def test_weather_that_changes_while_a_grid_runs_is_told_apart(
    run: Run,  # noqa: F811
    weather: Path,  # noqa: F811
    whole: Path,  # noqa: F811
    tmp_path: Path,
) -> None:
    mine, out = tmp_path / "places.nc", tmp_path / "grid.zarr"
    honest = weather.read_bytes()
    mine.write_bytes(honest)
    found, _ = find_places(mine)

    other = warmer(mine)

    def watch(done: BatchResult) -> None:
        if done.number == 1:
            put(mine, other)

    with pytest.raises(InputError, match=r"weather changed while the grid ran: places\.nc") as told:
        run(out, places=found, workers=1, watch=watch)
    newer = str(told.value).partition("Grown from what it is now: ")[2].partition(". ")[0]
    assert "made up 5" in newer or "more" in newer
    assert "made up 0" not in newer
    assert not out.exists()
    with pytest.raises(InputError, match="not the same: the weather"):
        run(out, places=found)
    put(mine, honest)
    said: list[str] = []
    done: list[BatchResult] = []
    run(out, places=found, watch=done.append, announce=said.append)
    assert [text.partition(":")[0] for text in said] == ["Run again, since other weather was read"]
    assert 1 <= len(done) < PLACES
    assert tree(out) == tree(whole)


def test_weather_that_is_touched_is_not_changed(
    run: Run,  # noqa: F811
    weather: Path,  # noqa: F811
    whole: Path,  # noqa: F811
    tmp_path: Path,
) -> None:
    mine, out = tmp_path / "places.nc", tmp_path / "grid.zarr"
    mine.write_bytes(weather.read_bytes())
    found, _ = find_places(mine)
    before = set(interrupted(run, out, places=found).notes())
    os.utime(mine, (4e9, 4e9))  # as by a clock that is wrong
    done: list[BatchResult] = []

    def watch(batch: BatchResult) -> None:
        done.append(batch)
        os.utime(mine, (1e9 + len(done), 1e9))

    run(out, places=found, watch=watch, workers=1)
    assert {batch.number for batch in done} == set(range(PLACES)) - before
    assert tree(out) == tree(whole)


@pytest.mark.parametrize("how", ["cut", "random", "flipped"])
def test_a_damaged_record_of_a_text_file_is_read_again(
    run: Run,  # noqa: F811
    places: tuple[Place, ...],  # noqa: F811
    tmp_path: Path,
    how: str,
) -> None:
    folder = tmp_path / "stations"
    folder.mkdir()
    for place in places[:4]:
        table = read_place(place)[["tmax", "tmin", "rain"]].to_dataframe().round(1)
        header = ["tmax (degC)", "tmin (degC)", "rain (mm)"]
        table.to_csv(folder / f"{place.site}.csv", index_label="date", header=header)
    found, _ = find_places(folder, latitude=31.0)
    options: dict[str, Any] = {"places": found, "processes": False}
    out = tmp_path / "grid.zarr"
    with pytest.raises(KeyboardInterrupt):
        run(out, workers=1, watch=stopped_after(1), **options)
    for row in range(4):
        DAMAGE[how](UnfinishedStore(out).record(row))
    again = run(out, **options)
    same_bits(again, run(tmp_path / "undisturbed.zarr", **options))


def test_a_disk_that_does_not_keep_what_is_written_is_said(
    run: Run,  # noqa: F811
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    out = tmp_path / "grid.zarr"

    def watch(done: BatchResult) -> None:
        if done.number == 2:
            flipped(chunk(UnfinishedStore(out).results, 2))

    with pytest.raises(InputError, match="does not stay as it was written: made up 2"):
        run(out, watch=watch)
    assert not out.exists()


SET_CLOCK = """
#define _GNU_SOURCE
#include <dlfcn.h>
#include <stdlib.h>
#include <sys/time.h>
#include <time.h>
static long off(void) { return atol(getenv("SECONDS_OFF")); }
int clock_gettime(clockid_t kind, struct timespec *now) {
  int (*real)(clockid_t, struct timespec *) = dlsym(RTLD_NEXT, "clock_gettime");
  int failed = real(kind, now);
  if (!failed && kind == CLOCK_REALTIME) now->tv_sec += off();
  return failed;
}
int gettimeofday(struct timeval *now, void *zone) {
  int (*real)(struct timeval *, void *) = dlsym(RTLD_NEXT, "gettimeofday");
  int failed = real(now, zone);
  now->tv_sec += off();
  return failed;
}
time_t time(time_t *now) {
  struct timespec got;
  clock_gettime(CLOCK_REALTIME, &got);
  if (now) *now = got.tv_sec;
  return got.tv_sec;
}
"""


@pytest.mark.long
@pytest.mark.skipif(
    COMPILER is None or sys.platform != "linux", reason="sets a program's clock through glibc"
)
def test_a_clock_that_is_set_between_stop_and_resume_changes_nothing(
    weather: Path,  # noqa: F811
    whole: Path,  # noqa: F811
    tmp_path: Path,
) -> None:
    """The run is stopped in 2031 and goes on in 2005: the bytes are the same."""
    library, source = tmp_path / "clock.so", tmp_path / "clock.c"
    source.write_text(SET_CLOCK)
    build = [str(COMPILER), "-shared", "-fPIC", "-o", str(library), str(source), "-ldl"]
    subprocess.run(build, check=True)
    code = f"""if True:
        import sys, time
        from test_grid import PLAN, QUIET, YEARS, stopped_after
        from simulator.season.grid import run, run_grid
        from simulator.weather.places import find_places
        print(time.gmtime().tm_year)
        run.SEASONS_AT_ONCE = len(YEARS) * 8
        found, _ = find_places({str(weather)!r})
        most = int(sys.argv[1])
        more = dict(watch=stopped_after(most)) if most else {{}}
        try:
            run_grid(found, out="grid.zarr", workers=1, **PLAN, **QUIET, **more)
        except KeyboardInterrupt:
            print("stopped")
    """
    for year, stop in (("2031", 2), ("2005", 0)):
        off = datetime(int(year), 7, 1).timestamp() - datetime.now().timestamp()
        ended = subprocess.run(
            [sys.executable, "-c", code, str(stop)],
            cwd=tmp_path,
            env=os.environ
            | {
                "LD_PRELOAD": str(library),
                "SECONDS_OFF": str(int(off)),
                "PYTHONPATH": os.pathsep.join(sys.path),
            },
            capture_output=True,
            text=True,
            check=False,
        )
        assert ended.returncode == 0, ended.stderr
        assert ended.stdout.split() == [year, "stopped"][: 1 + (stop > 0)]
    assert tree(tmp_path / "grid.zarr") == tree(whole)


def test_only_labels_and_the_age_of_weather_read_the_date() -> None:
    """What waits or measures does so by clocks that nobody sets; two dates, and a note's age."""
    root = Path(simulator.__file__).parent
    reads_it = re.compile(
        r"time\.time\(|from time import .*\btime\b|\.(utc)?now\(|\.today\(|(local|gm)time\("
        r"|datetime64\(.(today|now)"
    )
    found = {
        path.relative_to(root).as_posix(): line.strip()
        for path in root.rglob("*.py")
        for line in path.read_text(encoding="utf-8").splitlines()
        if reads_it.search(line)
    }
    assert set(found) == {
        "page/own_prices.py",
        "commands/trials/fit.py",
        "answers/outlook/words.py",  # a note on how old the weather is, and today's mark
    }
    assert all("date" in line for line in found.values())


@pytest.mark.skipif(
    not hasattr(os, "setuid") or os.geteuid() != 0,
    reason="to be another user one must be root; test_grid has the ordinary user's own test",
)
def test_an_ordinary_user_may_not_write_and_may_read(weather: Path, whole: Path) -> None:  # noqa: F811
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        folder.chmod(0o755)
        shutil.copy(weather, folder / "places.nc")
        shutil.copytree(whole, folder / "grid.zarr")
        code = f"""if True:
            import os
            from simulator.problems import InputError
            from simulator.season.grid import open_grid, run_grid
            from simulator.weather.places import find_places
            found, _ = find_places({str(folder / "places.nc")!r})
            def refused(name):
                try:
                    run_grid(found, out={made!r} + "/" + name, progress=False, **{PLAN!r})
                except InputError as error:
                    return str(error)
            refused("as root.txt")  # all is imported, from wherever root alone may read
            open_grid({str(folder / "grid.zarr")!r}).load()[{FIELD!r}].max()
            os.setgroups([]); os.setgid(65534); os.setuid(65534)
            print(refused("new.zarr"))
            print(float(open_grid({str(folder / "grid.zarr")!r})[{FIELD!r}].max()) > 0)
        """
        ended = subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=False
        )
        assert ended.returncode == 0, ended.stderr
        said, opened = ended.stdout.splitlines()
        assert said.startswith("out: new.zarr cannot be written: Permission denied.")
        assert opened == "True"
        assert sorted(os.listdir(folder)) == ["grid.zarr", "places.nc"]


def test_what_is_opened_unverified_is_as_it_was(whole: Path) -> None:  # noqa: F811
    opened: xr.Dataset = open_grid(whole, verify=False)
    same_bits(opened, open_grid(whole))
    assert grid_run.KEPT[0] in opened
    assert QUIET["progress"] is False
