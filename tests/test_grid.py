"""Grids of many places: the bits of compare, however the work is shared or stopped."""

from __future__ import annotations

import gc
import hashlib
import multiprocessing.spawn
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import psutil
import pytest
import xarray as xr
from distributed import Client

import simulator
from simulator.parameters.cereals import cereal
from simulator.problems import InputError
from simulator.season.compare import compare
from simulator.season.day.record import FIELDS
from simulator.season.grid import open_grid, run_grid, workers
from simulator.season.grid import run as grid_run
from simulator.season.grid.batch import BatchResult
from simulator.season.grid.unfinished import UnfinishedStore
from simulator.weather.places import Place, find_places, read_place
from simulator.weather.samples import sample_weather

PLACES, YEARS = 6, (2001, 2002, 2003)
PLAN: dict[str, Any] = {
    "sow": "10-10,11-20",
    "nitrogen": "0,60 lb/acre",
    "nitrogen_timing": "sowing,02-15",
    "end": ["04-15", "zadoks 31"],
}
QUIET: dict[str, Any] = {"progress": False, "announce": lambda text: None}
Run = Callable[..., xr.Dataset]


@pytest.fixture(scope="module")
def weather(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file of invented places: the sample made warmer and wetter, one with a gap."""
    path = tmp_path_factory.mktemp("weather") / "places.nc"
    base = sample_weather("tallow-bend").sel(time=slice("2001-07-01", "2004-06-30"))
    steps = np.arange(PLACES)[:, None]
    rain = base["rain"].values * (1 + 0.1 * steps)
    rain[2, 500:530] = np.nan
    columns = {
        "tmax": base["tmax"].values + 0.5 * steps,
        "tmin": base["tmin"].values + 0.5 * steps,
        "rain": rain,
    }
    xr.Dataset(
        {name: (("site", "time"), values, base[name].attrs) for name, values in columns.items()},
        {
            "site": [f"made up {i}" for i in range(PLACES)],
            "time": base["time"],
            "latitude": ("site", 31.0 + 0.5 * np.arange(PLACES), {"units": "degrees_north"}),
            "longitude": ("site", -88.0 + np.arange(PLACES), {"units": "degrees_east"}),
            "soil": ("site", ["loam", "sand", "clay"] * 2),
        },
    ).to_netcdf(path)
    return path


@pytest.fixture(scope="module")
def places(weather: Path) -> tuple[Place, ...]:
    found, problems = find_places(weather)
    assert not problems
    return found


@pytest.fixture
def run(places: tuple[Place, ...], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run the grid in parts of one place, or as many as asked."""

    def run_it(out: Path, *, at_once: int = 1, **more: Any) -> xr.Dataset:
        monkeypatch.setattr(grid_run, "SEASONS_AT_ONCE", at_once * len(YEARS) * 8)
        return run_grid(more.pop("places", places), out=out, **{**PLAN, **QUIET, **more})

    return run_it


@pytest.fixture(scope="module")
def whole(places: tuple[Place, ...], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The grid as a run that nothing disturbs writes it, in parts of one place."""
    out = tmp_path_factory.mktemp("whole") / "grid.zarr"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(grid_run, "SEASONS_AT_ONCE", len(YEARS) * 8)
        run_grid(places, out=out, workers=1, **PLAN, **QUIET)
    return out


def tree(folder: Path) -> dict[str, str]:
    """Every file below a folder, and the hash of its bytes."""
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def same_bits(one: xr.Dataset, other: xr.Dataset) -> None:
    assert list(one.data_vars) == list(other.data_vars)
    for name in one.data_vars:
        assert one[name].values.tobytes() == other[name].values.tobytes()


def test_each_place_has_the_bits_of_compare(whole: Path, places: tuple[Place, ...]):
    grid = open_grid(whole)
    assert grid["biomass_kg_ha"].dims == (
        "site",
        "year",
        "sow",
        "seeding",
        "nitrogen",
        "nitrogen_timing",
        "end",
    )
    for place in places:
        alone = compare(read_place(place), soil=place.soil, **PLAN)
        here = grid.sel(site=place.site, year=alone["year"])
        for name in grid.data_vars:
            assert here[name].values.tobytes() == alone[name].values.tobytes()
            assert here[name].attrs["units"] == alone[name].attrs["units"]
        assert float(here["latitude"]) == place.latitude
        assert float(here["longitude"]) == place.longitude
        assert str(here["soil"].values) == place.soil
        assert str(here["left_out"].values) == "; ".join(alone.attrs["left_out"])


def test_a_season_without_weather_is_nan_and_said(whole: Path):
    grid = open_grid(whole)
    assert grid["year"].values.tolist() == list(YEARS)
    gone = (
        grid["biomass_kg_ha"]
        .sel(end="04-15")
        .isnull()
        .all(["sow", "seeding", "nitrogen", "nitrogen_timing"])
    )
    assert np.argwhere(gone.values).tolist() == [[2, 1]]
    assert str(grid["left_out"][2].values).startswith("2002: no rain from 2002-11-13 to")
    assert set(grid["left_out"].values.tolist()) - {str(grid["left_out"][2].values)} == {""}


@pytest.mark.parametrize(
    ("at_once", "how"),
    [(1, {"workers": 3}), (4, {"workers": 2}), (6, {"workers": 1})],
)
def test_any_parts_and_any_workers_give_the_same_bits(
    run: Run, whole: Path, tmp_path: Path, at_once: int, how: dict[str, Any]
):
    grid = run(tmp_path / "grid.zarr", at_once=at_once, **how)
    assert grid["biomass_kg_ha"].chunks[0][0] == at_once  # type: ignore[index]
    same_bits(grid, open_grid(whole))
    if at_once == 1:
        assert tree(tmp_path / "grid.zarr") == tree(whole)


def test_blocks_of_seasons_give_the_same_bits(
    run: Run, whole: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    from simulator.season.grid import batch

    monkeypatch.setattr(batch, "RECORD_BYTES", 1)  # a season at a time
    same_bits(run(tmp_path / "grid.zarr"), open_grid(whole))


def test_changed_weather_is_a_case(run: Run, places: tuple[Place, ...], tmp_path: Path):
    change = ["rain oct..dec * 0.3"]
    grid = run(tmp_path / "grid.zarr", places=places[:2], changes=change, fields=["drainage_mm"])
    alone = compare(read_place(places[1]), soil=places[1].soil, changes=change, **PLAN)
    assert grid["drainage_mm"].dims == ("site", *alone["drainage_mm"].dims)
    np.testing.assert_array_equal(grid["drainage_mm"][1], alone["drainage_mm"])
    assert list(grid.data_vars) == ["drainage_mm"]


def stopped_after(parts: int) -> Callable[[BatchResult], None]:
    """Press Ctrl-C once so many parts are done."""
    done = []

    def watch(batch: BatchResult) -> None:
        done.append(batch)
        if len(done) == parts:
            raise KeyboardInterrupt

    return watch


@pytest.mark.parametrize("suffix", [".zarr", ".nc"])
def test_an_interrupted_run_goes_on_and_ends_with_the_same_bytes(
    run: Run, whole: Path, tmp_path: Path, suffix: str
):
    out, said = tmp_path / f"grid{suffix}", []
    with pytest.raises(KeyboardInterrupt):
        run(out, workers=1, watch=stopped_after(2), announce=said.append)
    assert said[-1] == (
        f"Stopped. What is done is kept in {out.name}.unfinished: the same command goes on from "
        "there."
    )
    written = set(UnfinishedStore(out).notes())
    assert 2 <= len(written) < PLACES
    done: list[BatchResult] = []
    run(out, workers=2, watch=done.append)
    assert {batch.number for batch in done} == set(range(PLACES)) - written
    undisturbed = tmp_path / f"undisturbed{suffix}"
    run(undisturbed)
    if suffix == ".zarr":
        assert tree(out) == tree(undisturbed) == tree(whole)
    else:
        assert out.read_bytes() == undisturbed.read_bytes()
        same_bits(open_grid(out), open_grid(whole))
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([out.name, undisturbed.name])


def test_an_unfinished_grid_cannot_be_taken_for_whole(run: Run, tmp_path: Path):
    out = tmp_path / "grid.zarr"
    with pytest.raises(KeyboardInterrupt):
        run(out, workers=1, watch=stopped_after(1))
    assert not out.exists()
    for name in (out, UnfinishedStore(out).folder):
        with pytest.raises(InputError, match="not whole: its run was interrupted"):
            open_grid(name)
    for name in (UnfinishedStore(out).folder, UnfinishedStore(out).results):
        with pytest.raises(FileNotFoundError):
            xr.open_zarr(name, consolidated=False)


@pytest.mark.long
@pytest.mark.parametrize("guard", ["", 'if __name__ == "__main__":\n    '])
def test_a_script_needs_no_guard_for_its_processes(
    weather: Path, whole: Path, tmp_path: Path, guard: str
):
    out = tmp_path / "grid.zarr"
    script = tmp_path / "script.py"
    script.write_text(f"""
from simulator.season.grid import run, run_grid
from simulator.weather.places import find_places
print("the script runs")
run.SEASONS_AT_ONCE = {len(YEARS) * 8}
{guard}run_grid(find_places({str(weather)!r})[0], out={str(out)!r}, workers=2, processes=True,
         **{PLAN!r})
""")
    ended = subprocess.run(
        [sys.executable, script],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert (ended.returncode, ended.stdout) == (0, "the script runs\n"), ended.stderr
    assert "Traceback" not in ended.stderr
    assert tree(out) == tree(whole)


@pytest.mark.long
def test_processes_of_the_user_import_the_script_as_before(run: Run, tmp_path: Path):
    before = multiprocessing.spawn.get_preparation_data
    run(tmp_path / "grid.zarr", workers=1, processes=True)
    assert multiprocessing.spawn.get_preparation_data is before
    told = {"init_main_from_path": "/script.py", "name": ""}
    assert workers._preparation_data(lambda _: dict(told), "SpawnProcess-1") == told
    assert workers._preparation_data(lambda _: dict(told), "Dask Worker process (from Nanny)") == {
        "name": ""
    }


@pytest.mark.long
def test_a_killed_run_goes_on(run: Run, weather: Path, whole: Path, tmp_path: Path):
    out = tmp_path / "grid.zarr"
    code = f"""if True:
        import os, signal
        from simulator.season.grid import run, run_grid
        from simulator.weather.places import find_places
        run.SEASONS_AT_ONCE = {len(YEARS) * 8}
        def watch(part): os.kill(os.getpid(), signal.SIGKILL)
        run_grid(find_places({str(weather)!r})[0], out={str(out)!r}, watch=watch, **{PLAN!r})
    """
    ended = subprocess.run([sys.executable, "-c", code], check=False, timeout=120)
    assert ended.returncode == -signal.SIGKILL
    assert not out.exists()
    # whichever part was done first
    next(UnfinishedStore(out).results.rglob("[0-9]*.*")).with_suffix(".torn.partial").touch()
    done: list[BatchResult] = []
    run(out, watch=done.append)
    assert len(done) < PLACES
    assert tree(out) == tree(whole)


@pytest.mark.long
def test_a_worker_that_dies_costs_its_part_and_not_the_run(run: Run, whole: Path, tmp_path: Path):
    killed = []

    def watch(_: BatchResult) -> None:
        if not killed:
            workers = [
                one
                for one in psutil.Process().children(recursive=True)
                if "spawn_main" in " ".join(one.cmdline())
            ]
            os.kill(workers[0].pid, signal.SIGKILL)
            killed.append(workers[0].pid)

    run(tmp_path / "grid.zarr", workers=2, processes=True, watch=watch)
    assert killed
    assert tree(tmp_path / "grid.zarr") == tree(whole)


@pytest.mark.long
def test_a_cluster_does_the_same(run: Run, whole: Path, tmp_path: Path):
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=1, threads_per_worker=2, dashboard_address=None, memory_limit=0
    ) as cluster:
        run(tmp_path / "grid.zarr", cluster=cluster.scheduler_address)
    assert tree(tmp_path / "grid.zarr") == tree(whole)
    with (
        LocalCluster(n_workers=0, dashboard_address=None) as cluster,
        pytest.raises(InputError, match="has no workers"),
    ):
        run(tmp_path / "other.zarr", cluster=cluster.scheduler_address)


@pytest.mark.parametrize(
    "address", ["tcp://127.0.0.1:9", "nonsense", "127.0.0.1:notaport", "tls://127.0.0.1:9", ""]
)
def test_a_cluster_that_does_not_answer_is_said_soon(
    run: Run, tmp_path: Path, address: str, monkeypatch: pytest.MonkeyPatch
):
    assert workers.SECONDS_TO_CONNECT <= 5
    monkeypatch.setattr(workers, "SECONDS_TO_CONNECT", 0.3)
    before = time.monotonic()
    with pytest.raises(InputError, match=f"cluster: No scheduler answers at '{address}'"):
        run(tmp_path / "grid.zarr", cluster=address)
    assert time.monotonic() - before < 3
    assert not list(tmp_path.iterdir())
    # none half open, for the collector of garbage to close in the midst of a later grid
    assert {one.status for one in gc.get_objects() if isinstance(one, Client)} <= {"closed"}


def test_a_stranger_at_the_address_of_a_cluster_is_said_soon(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(workers, "SECONDS_TO_CONNECT", 0.3)
    with (
        socket.create_server(("127.0.0.1", 0)) as silent,
        pytest.raises(InputError, match="cluster: No scheduler answers"),
    ):
        run(tmp_path / "grid.zarr", cluster=f"127.0.0.1:{silent.getsockname()[1]}")


def test_results_of_another_plan_stay_unless_told(run: Run, tmp_path: Path):
    out, said = tmp_path / "grid.zarr", []
    first = run(out).load()
    before = tree(out)
    with pytest.raises(
        InputError, match="another plan; not the same: the nitrogen rates, the fields"
    ):
        run(out, nitrogen="0 lb/acre", fields=["biomass_kg_ha"])
    with pytest.raises(InputError, match=r"not the same: the cereal\."):
        run(out, cereal=cereal("wheat"))
    same_bits(run(out, announce=said.append), first)
    assert said == ["grid.zarr is there already, whole, from this plan."]
    assert tree(out) == before
    with pytest.raises(KeyboardInterrupt):  # what was there stays until the new is whole
        run(out, nitrogen="30 lb/acre", overwrite=True, watch=stopped_after(1), workers=1)
    assert tree(out) == before
    again = run(out, nitrogen="30 lb/acre", overwrite=True)
    assert again.sizes["nitrogen"] == 1
    assert [path.name for path in tmp_path.iterdir()] == ["grid.zarr"]


def test_a_store_that_another_run_is_writing_is_left_to_it(run: Run, tmp_path: Path, whole: Path):
    out = tmp_path / "grid.zarr"

    def watch(done: BatchResult) -> None:
        if done.number == 0:
            with pytest.raises(InputError, match="Another run is writing"):
                run(out)
            with pytest.raises(InputError, match="Another run is writing"):
                run(out, nitrogen="0 lb/acre", overwrite=True)

    run(out, watch=watch)
    assert tree(out) == tree(whole)


def test_what_is_no_grid_of_ours_stays(run: Run, tmp_path: Path):
    (tmp_path / "mine.zarr").mkdir()
    (tmp_path / "mine.zarr" / "thesis.txt").write_text("years of work")
    with pytest.raises(InputError, match="no store that fallsown wrote"):
        run(tmp_path / "mine.zarr", overwrite=True)
    (tmp_path / "mine.nc").write_text("years of work")
    with pytest.raises(InputError, match="exists, and is not from this plan"):
        run(tmp_path / "mine.nc")
    with pytest.raises(InputError, match=r"does not end in \.zarr or \.nc"):
        run(tmp_path / "mine.txt")
    with pytest.raises(InputError, match="There is no folder"):
        run(tmp_path / "nowhere" / "grid.zarr")
    with pytest.raises(InputError, match="no grid that fallsown wrote"):
        open_grid(tmp_path / "mine.zarr")
    assert (tmp_path / "mine.zarr" / "thesis.txt").read_text() == "years of work"


def test_stations_in_a_folder_with_one_cut_in_half(
    run: Run, tmp_path: Path, places: tuple[Place, ...]
):
    folder = tmp_path / "stations"
    folder.mkdir()
    for place in places[:3]:
        record = read_place(place)
        table = record[["tmax", "tmin", "rain"]].to_dataframe().round(1)
        table.to_csv(
            folder / f"{place.site}.csv",
            index_label="date",
            header=["tmax (degC)", "tmin (degC)", "rain (mm)"],
        )
    torn = folder / "made up 1.csv"
    torn.write_bytes(torn.read_bytes()[: torn.stat().st_size // 2 + 3])
    found, _ = find_places(folder, latitude=31.0)
    grid = run(tmp_path / "grid.zarr", places=found, workers=1, processes=False)
    told = str(grid.sel(site="made up 1")["left_out"].values)
    assert "made up 1.csv" in told or told.startswith("2002: ")
    assert not grid["biomass_kg_ha"].sel(site="made up 1", year=2003).notnull().any()
    alone = compare(read_place(found[2]), **PLAN)
    assert (
        grid["biomass_kg_ha"].sel(site="made up 2", year=alone["year"]).values.tobytes()
        == alone["biomass_kg_ha"].values.tobytes()
    )


def test_no_place_with_a_season_is_a_fault(run: Run, tmp_path: Path):
    with pytest.raises(InputError, match="No place has a season") as raised:
        run(tmp_path / "grid.zarr", years=[1990])
    assert "1990" in str(raised.value)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ({"fields": ["yield"]}, "fields: 'yield' is no field"),
        ({"fields": []}, "No field"),
        ({"workers": 0}, "workers: 0 workers"),
        ({"memory": "some"}, "memory: 'some'"),
        ({"memory": "100 MB"}, "memory: A place's part"),
        ({"sow": "13-41"}, "13-41"),
        ({"places": ()}, "no place"),
        ({"changes": ["rain"]}, "rain"),
    ],
)
def test_what_cannot_be_used_is_refused(
    run: Run, tmp_path: Path, asked: dict[str, Any], message: str
):
    with pytest.raises(InputError, match=message):
        run(tmp_path / "grid.zarr", **asked)
    assert not (tmp_path / "grid.zarr").exists()


def test_memory_for_one_worker_keeps_the_others_idle(run: Run, tmp_path: Path, whole: Path):
    said: list[str] = []
    run(tmp_path / "grid.zarr", workers=3, memory="250.6 MB", announce=said.append)
    assert said == ["The memory allowed has room for 2 of 3 workers at a time."]
    assert tree(tmp_path / "grid.zarr") == tree(whole)


def test_a_full_disk_keeps_what_is_done(run: Run, whole: Path, tmp_path: Path):
    small = tmp_path / "small"
    small.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=120k", "none", str(small)],
        capture_output=True,
        check=False,
    )
    if mounted.returncode:
        pytest.skip("a small file system can only be mounted by root")
    try:
        with pytest.raises(InputError, match="No space left on device") as raised:
            run(small / "grid.zarr")
        assert "goes on from there" in str(raised.value)
        assert not (small / "grid.zarr").exists()
        subprocess.run(["mount", "-o", "remount,size=4m", str(small)], check=True)
        run(small / "grid.zarr")
        assert tree(small / "grid.zarr") == tree(whole)
    finally:
        subprocess.run(["umount", str(small)], check=True)


def test_a_folder_that_is_read_only(run: Run, tmp_path: Path):
    shut = tmp_path / "shut"
    shut.mkdir()
    if os.geteuid():
        shut.chmod(0o500)
    else:  # nothing is forbidden to root but what the file system itself refuses
        mounted = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "ro", "none", str(shut)],
            capture_output=True,
            check=False,
        )
        if mounted.returncode:
            pytest.skip("no file system can be mounted here, and to root every folder is open")
    try:
        with pytest.raises(InputError, match=r"out: grid\.zarr cannot be written"):
            run(shut / "grid.zarr")
        assert not list(shut.iterdir())
    finally:
        if os.geteuid():
            shut.chmod(0o700)
        else:
            subprocess.run(["umount", str(shut)], check=True)


def test_the_store_says_what_it_is(whole: Path, run: Run, tmp_path: Path):
    grid = run(tmp_path / "grid.nc", command="fallsown compare --weather stations")
    for data in (open_grid(whole), grid):
        assert data.attrs["Conventions"] == "CF-1.10"
        assert data.attrs["made_by"].startswith("fallsown ")
        assert data.attrs["complete"] == "yes"
        assert data.attrs["weather"] == "places.nc"
        assert data.attrs["sow"] == "10-10, 11-20"
        assert '"growth_best"' in data.attrs["parameters"]
        assert data["latitude"].attrs["units"] == "degrees_north"
        assert data["nitrate_leached_kg_ha"].attrs["units"] == "kg/ha"
        assert data["nitrate_leached_kg_ha"].attrs["long_name"].startswith("nitrate nitrogen")
    assert grid.attrs["history"].startswith("fallsown compare --weather stations (fallsown ")
    assert grid.attrs["command_line"] == "fallsown compare --weather stations"
    assert set(grid.data_vars) < set(FIELDS)


def test_a_grid_is_drawn_as_a_map(whole: Path):
    grid = open_grid(whole)
    picture = simulator.chart(grid, units="si")
    rows = next(iter(picture.to_dict()["datasets"].values()))
    expected = grid["biomass_kg_ha"].isel(sow=0, seeding=0, nitrogen=1, nitrogen_timing=0, end=0)
    found = {row["site"]: row["chance"] for row in rows}
    for site, mean in zip(grid["site"].values, expected.mean("year").values, strict=True):
        assert found[str(site)] == pytest.approx(float(mean))
    assert "kg/ha" in picture.title and "made up" in picture.title
    shown, _ = picture._repr_mimebundle_(include=["image/svg+xml"])
    assert str(shown["image/svg+xml"]).startswith("<svg")


def test_a_grid_that_has_no_map_is_refused_in_a_sentence(run: Run, whole: Path, tmp_path: Path):
    grid = open_grid(whole)
    with pytest.raises(InputError, match="Give run_grid fields that have 'biomass_kg_ha'"):
        simulator.chart(grid.drop_vars("biomass_kg_ha"))
    with pytest.raises(InputError, match="Give a season of one place from run_season"):
        simulator.chart(grid.assign_coords(longitude=grid["longitude"] * np.nan))


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"sows": "10-20"}, r"^sows: run_grid takes nothing of this name\. Write sow=\."),
        ({"nitrogen": 60}, r"^nitrogen: 60 is not text\. Write text, such as nitrogen='60 lb"),
        ({"soil": 5}, r"^soil: 5 is neither a name nor a Soil\. Write a name"),
        ({"years": "abc"}, r"^years: 'abc' is not a list of years\. Write .* years=\[2015\]"),
        ({"years": 2001}, r"^years: 2001 is not a list of years"),
        ({"fields": 5}, r"^fields: 5 is not text\. Write text, such as fields='biomass_kg_ha'"),
        ({"workers": 2.5}, r"^workers: 2\.5 is not a whole number\. Write workers=2\."),
        ({"layers": "ten"}, r"^layers: 'ten' is not a whole number\. Write layers=10\."),
        ({"memory": 2}, r"^memory: 2 is not text\. Write memory='2 GB'\."),
        ({"places": "made up 1"}, r"^places: 'made up 1' is not a list of places\. Write places, "),
        ({"places": ["made up 1"]}, r"^places: 'made up 1' is not a place\. Write places, "),
        ({"changes": 5}, r"^changes: 5 is not text"),
    ],
)
def test_what_a_grid_cannot_be_asked_is_named(
    run: Run, tmp_path: Path, given: dict[str, Any], told: str
):
    with pytest.raises(InputError, match=told):
        run(tmp_path / "grid.zarr", **given)
    with pytest.raises(InputError, match=r"^out: None is not a path\. Write out='grid\.zarr'\."):
        run(None)
    assert not list(tmp_path.iterdir())
