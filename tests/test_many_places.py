"""Risk over many places: the ranked table, its words, files for maps, the map, generated falls."""

from __future__ import annotations

import csv
import json
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner, Result
from test_places import about, csv_text, many_sites

from simulator.answers.places import map_file, map_marks
from simulator.answers.places import risk as show
from simulator.answers.places.split_grid import each_place
from simulator.answers.risk.calculate import FIELDS, risk_at, whole_falls
from simulator.answers.risk.chance import chances, groups_of
from simulator.answers.shared.field_ranges import chance_in_fields
from simulator.commands import fallsown
from simulator.problems import as_option, spelled
from simulator.season.compare import compare
from simulator.season.grid import run as grid_run
from simulator.season.grid import run_grid, workers
from simulator.weather.places import find_places, read_place
from simulator.weather.samples import sample_weather
from simulator.weather.year_types import kinds_of_year

SIX_FALLS = 2192
ONE_PLAN = ["--sow", "10-20", "--nitrogen", "60 lb/acre"]
COUNT = 12


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, ["risk", *arguments], catch_exceptions=False)


def answer(*arguments: str) -> dict[str, Any]:
    result = run(*arguments, "--json")
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)  # type: ignore[no-any-return]


def prose(*arguments: str) -> str:
    result = run(*arguments)
    assert result.exit_code == 0, result.stderr
    return " ".join(result.stdout.split())


def refused(*arguments: str, says: str) -> None:
    result = run(*arguments)
    told = " ".join(result.stderr.split())
    assert result.exit_code == 2, (result.exit_code, result.output)
    assert says in told, told
    assert result.stdout == ""


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Twelve sites of six falls; one cannot be read, one has no longitude, one its own soil."""
    data = many_sites(COUNT, SIX_FALLS)
    data["rain"][3, 50] = -9.0
    data["longitude"][5] = np.nan
    data["soil"] = ("site", ["", "clay", *[""] * (COUNT - 2)])
    path = tmp_path_factory.mktemp("many") / "many.nc"
    data.to_netcdf(path)
    return str(path)


@pytest.fixture(scope="module")
def of_one_plan(many: str) -> dict[str, Any]:
    return answer("--weather", many, *ONE_PLAN)


# --- the same answers ---


def test_a_place_answers_the_same_alone_and_among_others(
    many: str, of_one_plan: dict[str, Any]
) -> None:
    rows = of_one_plan["rows"]
    assert len({row["site"] for row in rows}) == COUNT - 1
    for site in ("Place 0", "Place 1", "Place 11"):
        alone = answer("--weather", many, "--site", site, *ONE_PLAN, "--no-latest")
        ours = [row for row in rows if row["site"] == site]
        (theirs,) = alone["rows"]
        for name in set(theirs):
            assert ours[0][name] == theirs[name], name  # to the bit
    refused("--weather", many, "--site", "Nowhere", says="has no site 'Nowhere' that can be read")


def test_a_soil_of_its_own_goes_before_the_option(many: str) -> None:
    rows = answer("--weather", many, *ONE_PLAN, "--soil", "sand")["rows"]
    assert [row["soil"] for row in rows] == ["sand", "clay"] + ["sand"] * (COUNT - 3)
    assert rows[0]["latitude"] == 30.0
    assert rows[0]["longitude"] == -90.0


def test_shares_are_those_of_each_place(many: str, of_one_plan: dict[str, Any]) -> None:
    places, _ = find_places(many)
    record = read_place(places[0])
    one = risk_at(
        record,
        {
            "sow": ["10-20"],
            "seeding": ["90 lb/acre"],
            "nitrogen": ["60 lb/acre"],
            "nitrogen_timing": ["sowing"],
            "end": ["04-15"],
        },
        {},
        target=4483.38669,
        latest=False,
    )
    row = of_one_plan["rows"][0]
    # a grid keeps biomass to seven digits
    assert row["chance_percent"] == pytest.approx(
        float(one.table["chance_percent"].squeeze()), rel=1e-6
    )
    share = one.table["weather_chance_percent"]
    assert row["weather_chance_percent"] == float(share.squeeze())
    assert "latest_sowing" not in row


@pytest.mark.parametrize("workers", ["1", "3"])
def test_any_workers_answer_the_same(
    many: str, of_one_plan: dict[str, Any], workers: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(grid_run, "SEASONS_AT_ONCE", 1)  # parts of one place
    made = answer("--weather", many, *ONE_PLAN, "--workers", workers)
    assert made["rows"] == of_one_plan["rows"]


def test_a_place_of_a_grid_is_as_compare_gives_it(tmp_path: Path) -> None:
    """Values to the bit, and what is said of them: filled gaps, a late start, lost falls."""
    data = many_sites(3, SIX_FALLS).isel(time=slice(45, None))  # from 15 September on
    data["rain"][1, 800:830] = np.nan
    data["tmax"][2] = np.nan
    data["soil"] = ("site", ["", "clay", ""])
    data.to_netcdf(tmp_path / "three.nc")
    places, _ = find_places(tmp_path / "three.nc")
    asked: dict[str, Any] = {"sow": "10-20", "nitrogen": "60 lb/acre"}
    grid = run_grid(places, out=tmp_path / "grid.zarr", fields=FIELDS, progress=False, **asked)
    *seasons, none = each_place(grid, places)
    assert none is None
    for place, here in zip(places, seasons, strict=False):
        alone = compare(read_place(place), soil=place.soil or "sandy loam", **asked)
        assert here is not None
        assert here.sizes == alone.sizes
        for name in FIELDS:
            assert here[name].values.tobytes() == alone[name].values.tobytes()
        assert here.attrs == {name: alone.attrs[name] for name in here.attrs}
    assert seasons[0].attrs["filled"]
    assert "The soil starts later" in seasons[0].attrs["notes"][0]
    assert [text[:4] for text in seasons[1].attrs["left_out"]] == ["1997"]


def test_usual_sowings_without_weather_are_left_out_where_they_are_asked_alone(
    tmp_path: Path,
) -> None:
    data = many_sites(11, SIX_FALLS)
    day = data["time"].dt
    data["rain"][4, ((day.month == 10) & (day.day > 10)).values] = np.nan  # no October whole
    path = str(tmp_path / "many.nc")
    data.to_netcdf(path)
    few = ["--nitrogen", "60 lb/acre", "--years", "1995:1999"]
    made = answer("--weather", path, *few)
    alone = answer("--weather", path, "--site", "Place 4", "--no-latest", *few)["rows"]
    ours = [row for row in made["rows"] if row["site"] == "Place 4" and row["sow"] != "10-20"]
    assert [row["sow"] for row in alone] == ["11-05", "11-20", "12-08"]
    for row, theirs in zip(ours, alone, strict=True):
        assert {name: row[name] for name in theirs} == theirs
    assert any(
        "Place 4 has whole weather from the usual sowing on Oct 20" in note
        for note in made["notes"]
    )


# --- the grid behind it ---


def left_in(folder: Path) -> list[str]:
    """What lies in a folder, but for the empty one that dask keeps where temporary ones are."""
    return sorted(path.name for path in folder.iterdir() if path.name != "dask-scratch-space")


@pytest.fixture
def temporary(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where temporary folders are made."""
    folder = tmp_path / "temporary"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    return folder


def stop(*_: object) -> None:
    raise KeyboardInterrupt


def test_without_a_store_nothing_stays(
    many: str, temporary: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "store" not in answer("--weather", many, *ONE_PLAN)
    assert left_in(temporary) == []
    monkeypatch.setattr(grid_run, "finish", stop)
    result = run("--weather", many, *ONE_PLAN)
    assert (result.exit_code, result.stdout) == (130, "")
    assert result.stderr == (
        "Stopped. Nothing is kept; with --grid STORE.zarr the same command would go on.\n"
    )
    assert left_in(temporary) == []


@pytest.mark.parametrize("suffix", [".zarr", ".nc"])
def test_a_store_goes_on_after_a_stop_and_answers_again(
    many: str, of_one_plan: dict[str, Any], temporary: Path, tmp_path: Path, suffix: str
) -> None:
    store = tmp_path / f"kept{suffix}"
    asked = ["--weather", many, *ONE_PLAN]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(grid_run, "finish", stop)
        stopped = run(*asked, "--grid", str(store))
    assert stopped.exit_code == 130
    assert f"kept in {store.name}.unfinished: the same command goes on" in stopped.stderr
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(grid_run, "grow_batch", stop)  # what is done is not done again
        made = answer(*asked, "--grid", str(store))
    assert made["rows"] == of_one_plan["rows"]
    assert made["store"] == str(store)
    higher = ["--target", "6000 lb/acre"]
    again = run(*asked, "--grid", str(store), *higher, "--json")
    assert f"{store.name} is there already, whole" in again.stderr
    assert f"Kept: {store}" in again.stderr
    assert json.loads(again.stdout)["rows"] == answer(*asked, *higher)["rows"] != made["rows"]
    assert left_in(temporary) == []


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--grid", "x.csv"], "--grid: 'x.csv' does not end in .zarr or .nc"),
        (["--grid", "nowhere/x.zarr"], "--grid: There is no folder 'nowhere'"),
        (["--grid", "x.zarr", "--kinds", "fall rain"], "--grid: This option is for more than 10"),
        (["--workers", "2", "--generate", "20"], "--workers: This option is for more than 10"),
        (["--memory", "100 MB"], "--memory: A place's part of the grid takes"),
        (["--cluster", "tcp://127.0.0.1:9"], "--cluster: No scheduler answers"),
    ],
)
def test_what_the_grid_cannot_do(
    many: str, temporary: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], says: str
) -> None:
    monkeypatch.chdir(temporary)
    monkeypatch.setattr(workers, "SECONDS_TO_CONNECT", 0.2)
    refused("--weather", many, *ONE_PLAN, *arguments, says=says)
    assert left_in(temporary) == []


def test_the_weather_is_not_replaced_by_the_grid(many: str) -> None:
    before = Path(many).read_bytes()
    refused("--weather", many, "--grid", many, "--overwrite", says="--grid: ")
    result = CliRunner().invoke(
        fallsown, ["compare", "--weather", many, "--out", many, "--overwrite"]
    )
    assert result.exit_code == 2
    assert Path(many).read_bytes() == before


def test_results_of_another_plan_are_replaced_only_when_told(many: str, tmp_path: Path) -> None:
    store = ["--grid", str(tmp_path / "kept.zarr")]
    assert run("--weather", many, *ONE_PLAN, *store).exit_code == 0
    other = ["--weather", many, "--sow", "11-20", "--nitrogen", "0 lb/acre", *store]
    refused(*other, says="kept.zarr' holds the results of another plan")
    assert run(*other, "--overwrite").exit_code == 0


# --- the table and the words ---


def test_places_are_ranked_and_the_failed_named(many: str) -> None:
    told = prose("--weather", many, *ONE_PLAN)
    assert "Rye on soils of their own after cotton, at 11 places (invented ones); 6 falls" in told
    assert "Places from the lowest chance up" in told
    assert "Place 3: many.nc, site 'Place 3', 1995-09-20, variable 'rain': -9 mm is outside" in told
    assert "All 11 places are invented" in told
    assert "latest sowing" not in told.lower()


def test_the_latest_sowing_is_sought_where_it_is_asked_for(many: str) -> None:
    rows = answer("--weather", many, *ONE_PLAN, "--latest")["rows"]
    assert all("latest_sowing" in row for row in rows)


def rows_with(chances_: list[float], **more: Any) -> list[dict[str, Any]]:
    return [
        {
            "site": f"P{i}",
            "latitude": 31.0 + i,
            "longitude": -85.5,
            "cereal": "rye",
            "soil": "loam",
            "invented": False,
            "sow": "10-20",
            "seeding_kg_ha": 100.0,
            "nitrogen_kg_ha": 67.0,
            "nitrogen_timing": "sowing",
            "end": "04-15",
            "kind": "all falls",
            "target_kg_ha": 4000.0,
            "falls": 30,
            "chance_percent": chance,
            "weather_chance_percent": chance,
            "weather_chance_low_percent": max(chance - 15, 0.0),
            "weather_chance_high_percent": min(chance + 15, 100.0),
            "biomass_median_kg_ha": 5000.0 + i,
            "nitrate_leached_kg_ha": 20.0,
            "nitrate_concentration_mg_l": 8.0,
            "above_limit_percent": 20.0,
            **more,
        }
        for i, chance in enumerate(chances_)
    ]


def said(rows: list[dict[str, Any]], often: float = 0.8) -> str:
    return " ".join(show.sentences(rows, often, "si"))


def test_sentences_follow_the_numbers() -> None:
    told = said(rows_with([10.0, 50.0, 85.0, 99.0, 97.0]))
    assert "runs from 10 percent at P0 to 99 at P3; the median over 5 places is 85." in told
    assert "At 3 places of 5 it is reached with a chance of 80 percent or more; by wea" in told
    assert "by weather alone it would be at 3." in told
    assert "The lowest chances are at P0 (10 percent), P1" in told
    assert "at the first 10 percent of 30 falls reach it, interval 0 to 25 percent." in told
    assert "may be luck" not in told
    assert "At no place drainage carries more" in told
    assert "may be luck" in said(rows_with([60.0, 70.0, 72.0]))
    assert "is 40 percent at every one of 3 places" in said(rows_with([40.0] * 3))
    assert "The lowest chance, 0 percent, is shared by 4 places" in said(
        rows_with([0.0, 0.0, 0.0, 0.0, 50.0])
    )
    assert "At 1 place of 2 it is reached with a chance of 90 percent or more" in said(
        rows_with([50.0, 95.0]), often=0.9
    )
    assert "At all 2 places drainage carries more" in said(
        rows_with([50.0, 95.0], nitrate_concentration_mg_l=30.0)
    )
    assert said(rows_with([50.0], chance_percent=None)) == ""


def test_kinds_of_year_are_told_over_places() -> None:
    """The table is of all falls: a sentence says what the kinds asked for come to."""
    plan = {
        "sow": ["11-20"],
        "seeding": ["90 lb/acre"],
        "nitrogen": ["0,60 lb/acre"],
        "nitrogen_timing": ["sowing"],
        "end": ["04-15"],
    }
    found, of_wet = [], []
    for name in ("tallow-bend", "sorrel-ledge", "palmetto-wick"):
        record = sample_weather(name)
        kinds = kinds_of_year(record, "fall rain")
        found.append(risk_at(record, plan, {}, target=5000.0, kinds=kinds, latest=False))
        sixty = found[-1].table["chance_percent"].isel(nitrogen=1)
        of_wet.append(float(sixty.sel(kind="wet").squeeze()))
    (sentence,) = show.of_kinds(found)
    told = spelled(sentence, as_option)
    assert f"{np.median(of_wet):.0f} percent in wet years" in told
    assert told.index("dry years") < told.index("wet years") < told.index("; --json and --out")
    short = risk_at(
        sample_weather().isel(time=slice(0, SIX_FALLS)),
        plan,
        {},
        target=5000.0,
        kinds={year: "odd" if year % 2 else "even" for year in range(1995, 2001)},
        latest=False,
    )
    assert "No place has falls enough of any kind" in show.of_kinds([short])[0]
    assert "(at 3 places with falls enough)" in show.of_kinds([*found, short])[0]
    assert show.of_kinds([risk_at(sample_weather(), plan, {}, target=5000.0, latest=False)]) == []


def test_long_tables_are_shortened_on_the_terminal_only() -> None:
    rows = rows_with([float(i) for i in range(100)])
    lines = show.places_table(rows, "us").splitlines()
    assert "... 70 between" in "\n".join(lines)
    assert len(lines) < 40
    assert lines[-1].startswith("P99")
    assert "between" not in show.places_table(rows[:31], "us")


def test_notes_are_told_once_for_many_places(many: str) -> None:
    noted = [("A", "few"), ("B", "few"), ("C", "late"), ("D", "few"), ("E", "few")]
    assert show.together(noted) == ["4 places: few", "C: late"]
    assert "11 places: 6 falls are few" in prose("--weather", many, *ONE_PLAN)


def test_a_place_without_a_chance_comes_last() -> None:
    rows = rows_with([50.0, 20.0, 70.0])
    rows[0] |= {
        f"{of}_percent": None
        for of in ("chance", "weather_chance", "weather_chance_low", "weather_chance_high")
    }
    assert [row["site"] for row in show.ranked(rows)] == ["P1", "P2", "P0"]
    assert show.places_table(rows, "si").splitlines()[-1].split()[4] == "-"


# --- files for maps ---


def check_geojson(text: str) -> dict[str, Any]:
    """Hold a text to RFC 7946: types, members, order and range of positions, no NaN, UTF-8."""
    made = json.loads(text, parse_constant=lambda name: pytest.fail(f"{name} is no JSON"))
    assert made["type"] == "FeatureCollection"  # 3.3
    assert isinstance(made["features"], list)
    assert "crs" not in made  # 4
    for name in ("coordinates", "geometries", "geometry", "properties"):
        assert name not in made  # 7.1
    for feature in made["features"]:
        assert feature["type"] == "Feature"  # 3.2
        assert {"geometry", "properties"} <= feature.keys()
        assert isinstance(feature["id"], (str, int))
        assert isinstance(feature["properties"], dict)
        assert feature["geometry"]["type"] == "Point"  # 3.1.2
        longitude, latitude = feature["geometry"]["coordinates"]  # 3.1.1, in this order
        assert -180 <= longitude <= 180
        assert -90 <= latitude <= 90
        for name in ("coordinates", "features"):
            assert name not in feature  # 7.1
    return made  # type: ignore[no-any-return]


@pytest.mark.published("Butler et al. 2016, RFC 7946, sections 3.1.1, 3.1.2, 3.2, 3.3, 4 and 7.1")
def test_the_map_is_geojson(many: str, of_one_plan: dict[str, Any], tmp_path: Path) -> None:
    path = tmp_path / "risk.geojson"
    result = run("--weather", many, *ONE_PLAN, "--map", str(path))
    assert result.exit_code == 0
    assert "1 place has no longitude and is not on the map: Place 5." in result.stdout
    made = check_geojson(path.read_text(encoding="utf-8"))
    assert len(made["features"]) == COUNT - 2
    first = made["features"][0]
    assert first["geometry"]["coordinates"] == [-90.0, 30.0]
    row = of_one_plan["rows"][0]
    for name in ("chance_percent", "nitrate_leached_kg_ha", "biomass_median_kg_ha"):
        assert first["properties"][name] == pytest.approx(row[name], rel=1e-5)
    assert first["properties"]["falls"] == 6
    assert made["command_line"].startswith("fallsown risk")


def test_odd_names_and_missing_numbers_stay_valid(tmp_path: Path) -> None:
    rows = rows_with([50.0, 60.0, 70.0], chance_percent=None)
    rows[0]["site"], rows[1]["longitude"] = '=Ödön "x"\n', None
    made = check_geojson(json.dumps(map_file.geojson(rows[:1], _answer()), allow_nan=False))
    assert made["features"][0]["properties"]["chance_percent"] is None
    table = list(csv.reader(map_file.map_table(rows[:1]).splitlines(keepends=True)))
    assert table[0][:3] == ["longitude", "latitude", "site"]
    assert table[1][2].startswith("'=")  # no formula


def _answer() -> Any:
    from simulator.show.output import Answer

    return Answer(
        command="risk", version="1", line="fallsown risk", inputs={}, data=xr.Dataset(), rows=[]
    )


def test_the_map_as_a_table(many: str, tmp_path: Path) -> None:
    path = tmp_path / "risk.csv"
    assert run("--weather", many, *ONE_PLAN, "--map", str(path)).exit_code == 0
    rows = list(csv.DictReader(path.read_text().splitlines()))
    assert len(rows) == COUNT - 2
    assert (float(rows[0]["longitude"]), float(rows[0]["latitude"])) == (-90.0, 30.0)
    assert all(
        name.endswith(("_percent", "_kg_ha", "_mg_l"))
        for name in rows[0]
        if name.startswith(("chance", "biomass", "nitrate", "seeding"))
    )


def test_the_map_of_one_sample(tmp_path: Path) -> None:
    path = tmp_path / "one.geojson"
    assert run(*ONE_PLAN, "--no-latest", "--map", str(path)).exit_code == 0
    (feature,) = check_geojson(path.read_text())["features"]
    assert feature["geometry"]["coordinates"] == [-89.0, 31.6]


def test_netcdf_keeps_where_places_are(many: str, tmp_path: Path) -> None:
    path = tmp_path / "risk.nc"
    assert run("--weather", many, *ONE_PLAN, "--out", str(path)).exit_code == 0
    with xr.open_dataset(path) as data:
        assert data["longitude"].dims == ("site",)
        assert data["latitude"].attrs["units"] == "degrees_north"
        assert data.sizes["site"] == COUNT - 1


@pytest.mark.parametrize("system", ["us", "si"])
def test_the_map_is_drawn(many: str, tmp_path: Path, system: str) -> None:
    path = tmp_path / "map.svg"
    arguments = ["--weather", many, *ONE_PLAN, "--chart", str(path), "--units", system]
    assert run(*arguments).exit_code == 0
    text = path.read_text()
    assert "° W</text>" in text and "° N</text>" in text
    assert {"us": "4,000 lb/ac", "si": "4,480 kg/ha"}[system] in text
    assert {"us": " mi</text>", "si": " km</text>"}[system] in text
    assert "10 invented places." in text.replace("</text>", " ").replace("\n", " ")


@pytest.mark.parametrize(
    ("values", "ends"),
    [
        ([41.0, 62.0, 89.0], [40.0, 65.0, 90.0]),
        ([61.0, 78.0], [60.0, 70.0, 80.0]),
        ([70.0], [65.0, 70.0, 75.0]),
        ([99.5, 100.0], [90.0, 95.0, 100.0]),
    ],
)
def test_the_colours_of_a_map_span_what_its_values_need(
    values: list[float], ends: list[float]
) -> None:
    assert map_marks.ends_of(values, 5.0, (0.0, 100.0)) == pytest.approx(ends)


@pytest.mark.analytic("a degree of the equator is 111.19 km of a sphere of 6371 km")
def test_the_scale_of_a_map_is_as_long_as_it_says() -> None:
    for system, km in (("si", 1.0), ("us", 1.609344)):
        first, last = map_marks.scale_rows((-90.0, -86.0), (-1.0, 1.0), system)
        told = float(first["told"].split(" ")[0].replace(",", ""))
        assert (last["x"] - first["x"]) * 111.19 / km == pytest.approx(told, rel=1e-3)


def test_names_on_a_map_keep_clear_of_points_and_of_each_other() -> None:
    made_up = np.random.default_rng(7)
    spans = {"longitude": [-90.0, -86.0], "latitude": [30.0, 34.0]}
    for count in (3, 40, 200):
        points = [
            {"site": f"place {n}", "told": f"place {n}", "x": x, "y": y}
            for n, (x, y) in enumerate(
                zip(made_up.uniform(-89, -87, count), made_up.uniform(31, 33, count), strict=True)
            )
        ]
        found = map_marks.names_of(points, spans, (400, 400), 6.0, ["place 1", "place 2"])
        assert {"place 1", "place 2"} <= {one["told"] for one in found}
        assert len(found) == 2 if count > map_marks.MOST_NAMED else len(found) > 2
        texts = [
            (one["x"], map_marks.LETTER * 0.16 * len(one["told"]), one["y"], 0.176) for one in found
        ]
        dots = [(one["x"], 0.12, one["y"], 0.12) for one in points]
        for at, one in enumerate(texts):
            # the title's two are rather written across points than not at all
            others = texts[at + 1 :] + (dots if not found[at]["first"] else [])
            for other in others:
                across, up = abs(one[0] - other[0]), abs(one[2] - other[2])
                assert 2 * across > one[1] + other[1] - 1e-6 or 2 * up > one[3] + other[3] - 1e-6


def test_no_map_without_longitudes(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(csv_text(head="# latitude: 31"))
    refused(
        "--weather",
        str(tmp_path),
        "--map",
        str(tmp_path / "a.geojson"),
        says="--map: The place has a longitude.".replace("has a", "has a"),
    )


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--map", "x.shp"], "--map: 'x.shp' does not end in .geojson, .json or .csv"),
        (["--map", "nowhere/x.csv"], "--map: There is no folder 'nowhere'"),
        (["--generate", "100", "--years", "2001:2010"], "--years: Generated falls are no years"),
        (["--generate", "3"], "--generate"),
    ],
)
def test_what_cannot_be_asked(arguments: list[str], says: str) -> None:
    refused(*arguments, says=says)


@pytest.mark.parametrize("option", ["--out", "--map"])
def test_no_file_of_the_folder_is_written_over(tmp_path: Path, option: str) -> None:
    path = tmp_path / "a.csv"
    path.write_text(csv_text(SIX_FALLS, head=about("A")))
    refused("--weather", str(tmp_path), option, str(path), says="is one of the files read itself")
    assert path.read_text() == csv_text(SIX_FALLS, head=about("A"))


def test_a_folder_whose_every_place_fails(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(csv_text(100, head=about("Short")))
    (tmp_path / "b.csv").write_text("")
    refused("--weather", str(tmp_path), says="b.csv: It is empty")


def blank(text: str, *days: str) -> str:
    """Leave days without values."""
    rows = text.splitlines()
    kept = [row.split(",")[0] + ",,," if row[5:10] in days else row for row in rows]
    return "\n".join(kept) + "\n"


def test_a_place_with_gaps_is_refused_alone_and_with_its_reason(tmp_path: Path) -> None:
    holes = [f"11-{day:02}" for day in range(5, 21)]
    (tmp_path / "whole.csv").write_text(csv_text(SIX_FALLS, head=about("Whole")))
    (tmp_path / "holes.csv").write_text(blank(csv_text(SIX_FALLS, head=about("Holes")), *holes))
    reason = "from 1995-11-05 to 1995-11-20 (16 days)"
    asked = ["--weather", str(tmp_path), *ONE_PLAN]
    found = answer(*asked, "--no-latest")
    assert {row["site"] for row in found["rows"]} == {"Whole"}
    (left,) = [text for text in found["left_out"] if "oles" in text]
    assert "No season has whole weather from 10-20 to 04-15" in left and reason in left
    out = tmp_path / "grid.nc"
    done = CliRunner().invoke(fallsown, ["compare", *asked, "--out", str(out), "--json"])
    assert done.exit_code == 0, done.stderr
    told = json.loads(done.stdout)
    (left,) = [text for text in told["left_out"] if "oles" in text]
    assert reason in left
    assert all("Whole" not in text for text in [*told["left_out"], *found["left_out"]])


def test_what_holds_for_all_places_is_said_once(tmp_path: Path) -> None:
    for name in ("A", "B"):
        (tmp_path / f"{name}.csv").write_text(csv_text(SIX_FALLS, head=about(name)))
    told = prose("--weather", str(tmp_path), *ONE_PLAN, "--no-latest")
    assert told.count("that it had not seen, the model was off by") == 1
    assert told.count("has not been tried against measurements") == 1


def test_a_table_of_stations_with_faults_names_them(tmp_path: Path) -> None:
    for name in ("a", "b"):
        (tmp_path / f"{name}.csv").write_text(csv_text(SIX_FALLS, head=about(name.upper())))
    (tmp_path / "stations.csv").write_text(
        "file,latitude,longitude,soil\na,31,-85,moss\nb,31,-85,clay\n"
    )
    told = prose("--weather", str(tmp_path), *ONE_PLAN, "--no-latest")
    assert "a.csv, soil of site 'A': 'moss' is not known" in told
    assert "Rye on clay after cotton, at B" in told


def test_scores_of_small_stations_go_through(tmp_path: Path) -> None:
    many_sites(40, SIX_FALLS, np.float32).to_netcdf(tmp_path / "scores.nc")
    made = answer("--weather", str(tmp_path / "scores.nc"), *ONE_PLAN)
    assert [row["site"] for row in made["rows"]] == [f"Place {i}" for i in range(40)]


# --- generated falls ---


@pytest.mark.analytic(
    "100 falls made from 25 are worth 25: 60 percent has the interval of 15 of 25"
)
def test_generated_falls_add_no_knowledge() -> None:
    from scipy import stats

    biomass = np.where(np.arange(100) < 60, 9000.0, 1000.0)
    grid = xr.Dataset(
        {
            "biomass_kg_ha": ("year", biomass),
            "nitrate_leached_kg_ha": ("year", biomass * 0 + 1),
            "drainage_mm": ("year", biomass * 0 + 100),
        },
        coords={"year": np.arange(100)},
    ).expand_dims(sow=["10-20"])
    row = chances(grid, 4000.0, groups_of(range(100), None, None), worth=0.25).squeeze()
    low, high = stats.binomtest(15, 25).proportion_ci(0.95, method="wilson")
    assert float(row["weather_chance_percent"]) == 60
    assert float(row["weather_chance_low_percent"]) == pytest.approx(100 * low)
    assert float(row["weather_chance_high_percent"]) == pytest.approx(100 * high)
    once = np.where(np.arange(5) < 3, 9000.0, 1000.0)
    assert float(row["chance_percent"]) == pytest.approx(100 * chance_in_fields(once, 4000.0))
    assert float(row["falls_effective"]) == 25


def test_a_record_is_lengthened() -> None:
    made = answer(*ONE_PLAN, "--no-latest", "--generate", "60")
    (row,) = made["rows"]
    assert (row["falls"], row["falls_effective"]) == (60, 30)
    assert any("60 falls were generated from 30 recorded ones" in note for note in made["notes"])
    assert answer(*ONE_PLAN, "--no-latest", "--generate", "60")["rows"] == made["rows"]
    other = answer(*ONE_PLAN, "--no-latest", "--generate", "60", "--seed", "2")["rows"]
    assert other != made["rows"]


def test_too_few_recorded_falls_are_not_made_up_for() -> None:
    refused(
        "--weather",
        "tallow-bend",
        "--generate",
        "100",
        "--sow",
        "08-01",
        "--end",
        "07-31",
        says="08-01",
    )
    assert whole_falls(sample_weather(), ["10-20"], ["04-15", "zadoks 61"]) == 30


def test_own_soils_are_kept_when_records_are_lengthened(many: str) -> None:
    rows = answer("--weather", many, *ONE_PLAN, "--generate", "12")["rows"]
    assert rows[1]["soil"] == "clay"
    assert {row["falls"] for row in rows} == {12}
