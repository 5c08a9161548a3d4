"""``fallsown compare`` at many places."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner, Result

from simulator.answers.places import grid as place_grid
from simulator.commands import fallsown
from simulator.season.grid import open_grid, workers
from simulator.season.grid import run as grid_run
from simulator.season.grid.unfinished import UnfinishedStore
from simulator.weather.samples import sample_weather

SHORT = ("--sow", "10-20,11-20", "--nitrogen", "0,60 lb/acre")


@pytest.fixture(scope="module")
def weather(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Forty invented places, two falls each, of three soils; the last has no weather."""
    path = tmp_path_factory.mktemp("weather") / "places.nc"
    base = sample_weather("tallow-bend").sel(time=slice("2001-07-01", "2003-06-30"))
    warmer = 0.1 * np.arange(40)[:, None]
    columns = {
        "tmax": base["tmax"].values + warmer,
        "tmin": base["tmin"].values + warmer,
        "rain": np.tile(base["rain"].values, (40, 1)),
    }
    columns["rain"][39] = np.nan
    xr.Dataset(
        {name: (("site", "time"), values, base[name].attrs) for name, values in columns.items()},
        {
            "site": [f"made up {i:02d}" for i in range(40)],
            "time": base["time"],
            "latitude": ("site", np.full(40, 31.0), {"units": "degrees_north"}),
            "longitude": ("site", np.linspace(-90.0, -84.0, 40), {"units": "degrees_east"}),
            "soil": ("site", [("loam", "sand", "clay")[i % 3] for i in range(40)]),
        },
        {"invented": "yes"},
    ).to_netcdf(path)
    return path


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(fallsown, ["compare", *map(str, arguments)])


@pytest.fixture(scope="module")
def told(weather: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Result, Path]:
    out = tmp_path_factory.mktemp("out") / "grid.zarr"
    points = out.with_name("places.geojson")
    return run("--weather", weather, "--out", out, "--map", points, *SHORT), out


def test_places_are_ranked_in_a_short_table(told: tuple[Result, Path]):
    result, out = told
    assert result.exit_code == 0, result.output
    grid = open_grid(out)
    few = place_grid.summary(grid)
    order = [str(few["site"].values[at]) for at in place_grid.ranked(few)]
    assert few["biomass_kg_ha"].isel(site=place_grid.ranked(few), sow=0).values[:39].tolist() == (
        sorted(few["biomass_kg_ha"].values[:39, 0].tolist())
    )
    table = [line for line in result.stdout.splitlines() if line.startswith("made up")]
    assert [line[:10] for line in table] == [*order[:20], *order[-10:]]
    assert "... 10 between" in result.stdout
    assert " sand " in table[0]  # each place on its own soil
    assert f"at {order[0]} to " in " ".join(result.stdout.split())
    assert "All 320 seasons are in" in result.stdout


def test_one_place_without_weather_is_named_and_the_rest_go_on(told: tuple[Result, Path]):
    result, out = told
    assert "Left out:\n  - made up 39: " in result.stdout
    assert (
        int(
            open_grid(out)["biomass_kg_ha"]
            .notnull()
            .all(["year", "sow", "seeding", "nitrogen", "nitrogen_timing", "end"])
            .sum()
        )
        == 39
    )
    assert "invented" in result.stdout


def test_the_mean_is_that_of_the_falls(told: tuple[Result, Path]):
    grid = open_grid(told[1])
    few = place_grid.summary(grid)
    by_hand = grid["biomass_kg_ha"].sel(site="made up 07", sow="11-20").values[:, 0, 1, 0, 0]
    assert float(few["biomass_kg_ha"].sel(site="made up 07", sow="11-20")) == pytest.approx(
        by_hand.mean(), rel=1e-14
    )
    assert few["falls"].values[:, 0].tolist() == [2] * 39 + [0]


def test_sentences_follow_the_numbers(told: tuple[Result, Path]):
    few = place_grid.summary(open_grid(told[1]))
    few["biomass_kg_ha"][5, 0] = 12_345.0
    (said,) = place_grid.sentences(few, "si")
    assert "to 12,340 kg/ha at made up 05" in said


def test_the_map_has_the_places_where_they_are(told: tuple[Result, Path]):
    points = json.loads(told[1].with_name("places.geojson").read_text())["features"]
    assert len(points) == 40
    assert points[0]["geometry"]["coordinates"] == [-90.0, 31.0]
    assert points[1]["properties"]["soil"] == "sand"
    assert points[0]["properties"]["falls"] == 2


def test_json_has_a_row_for_each_place_and_sowing(told: tuple[Result, Path], weather: Path):
    result = run("--weather", weather, "--out", told[1], *SHORT, "--json")
    assert result.exit_code == 0, result.output
    assert "is there already, whole" in result.stderr
    found = json.loads(result.stdout)
    assert len(found["rows"]) == 80
    assert {row["soil"] for row in found["rows"]} == {"loam", "sand", "clay"}
    assert found["units"]["biomass_kg_ha"] == "kg/ha"
    assert found["store"] == str(told[1])
    assert found["rows"][-1]["biomass_kg_ha"] is None


def test_another_plan_is_refused_and_replaced_when_told(weather: Path, tmp_path: Path):
    out = tmp_path / "grid.nc"
    few = ("--weather", weather, "--out", out, "--nitrogen", "0 lb/acre", "--seeding", "80 lb/acre")
    assert run(*few, "--sow", "10-20").exit_code == 0
    before = out.read_bytes()
    refused = run(*few, "--sow", "11-20")
    assert refused.exit_code == 2
    assert "not the same: the sowing dates. Name another, or add --overwrite" in refused.stderr
    assert out.read_bytes() == before
    assert run(*few, "--sow", "11-20", "--overwrite").exit_code == 0
    assert open_grid(out)["sow"].values.tolist() == ["11-20"]


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ([], "--out: 40 places are too many for tables alone"),
        (["--out", "grid.csv"], "does not end in .zarr or .nc"),
        (["--out", "nowhere/grid.zarr"], "There is no folder"),
        (["--out", "grid.zarr", "--fields", "yield"], "--fields: 'yield' is no field"),
        (["--out", "grid.zarr", "--memory", "plenty"], "--memory: 'plenty'"),
        (["--out", "grid.zarr", "--map", "map.png"], "--map: 'map.png' does not end in"),
        (["--out", "grid.zarr", "--cluster", "tcp://127.0.0.1:9"], "--cluster: No scheduler"),
    ],
)
def test_faults_are_messages(
    weather: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, more: list[str], message: str
):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(workers, "SECONDS_TO_CONNECT", 0.2)
    result = run("--weather", weather, *SHORT, *more)
    assert (result.exit_code, result.stdout) == (2, "")
    assert message in result.stderr
    assert not (tmp_path / "grid.zarr").exists()


def test_options_of_many_places_are_refused_for_one():
    result = run("--workers", "2", "--overwrite")
    assert result.exit_code == 2
    assert "--workers: This option is for many places" in result.stderr
    assert "--overwrite: This option is for many places" in result.stderr


def test_one_of_many_places_is_as_one(weather: Path):
    result = run("--weather", weather, "--site", "made up 03", *SHORT)
    assert result.exit_code == 0, result.output
    assert "at made up 03" in result.stdout


@pytest.mark.long
@pytest.mark.parametrize("how", ["--threads", "--processes"])
def test_ctrl_c_leaves_a_store_that_goes_on(
    weather: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str
):
    out = tmp_path / "grid.zarr"
    asked = [
        "--weather",
        str(weather),
        "--out",
        str(out),
        "--workers",
        "1",
        "--sow",
        "10-10,10-20,11-05,11-20,12-08",
        "--nitrogen",
        "0,30,60,90,120 lb/acre",
    ]
    signalled = tmp_path / "signalled"
    code = f"""if True:
        import signal, time
        from pathlib import Path
        # of what is begun in the background a shell may have Ctrl-C ignored
        signal.signal(signal.SIGINT, signal.default_int_handler)
        from simulator.commands import main
        from simulator.season.grid import run
        run.SEASONS_AT_ONCE = 1
        original = run.grow_batch
        def grow_batch(setup, batch):  # none but the first is done before Ctrl-C
            while list(setup.unfinished.folder.glob("done/*.json")):
                if Path({str(signalled)!r}).exists():
                    break
                time.sleep(0.01)
            return original(setup, batch)
        run.grow_batch = grow_batch
        main()
    """
    running = subprocess.Popen(
        [sys.executable, "-c", code, "compare", how, *asked],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    while not list(UnfinishedStore(out).folder.glob("done/*.json")) and running.poll() is None:
        time.sleep(0.01)
    os.killpg(running.pid, signal.SIGINT)  # as a terminal does: all its processes hear it
    signalled.touch()
    said, complaint = running.communicate(timeout=300)  # lest the test hang
    assert (running.returncode, said) == (130, "")
    assert complaint.splitlines()[-1] == (
        "Stopped. What is done is kept in grid.zarr.unfinished: the same command goes on from "
        "there."
    )
    assert "Traceback" not in complaint
    assert not out.exists()
    monkeypatch.setattr(grid_run, "SEASONS_AT_ONCE", 1)
    assert run(*asked).exit_code == 0
    assert open_grid(out).sizes["site"] == 40
    assert not UnfinishedStore(out).folder.exists()
