"""Many places: folders, tables of stations, files and stores of many sites, and their faults."""

from __future__ import annotations

import pickle
import shutil
from calendar import monthrange
from collections.abc import Callable
from functools import cache
from pathlib import Path
from time import process_time

import numpy as np
import pytest
import xarray as xr

from simulator.parameters.soils import soil
from simulator.problems import InputError
from simulator.weather.files.reading import read_weather
from simulator.weather.files.station_list import longitude_east, read_stations
from simulator.weather.places import Place, find_places, read_block, read_place, read_places
from simulator.weather.record import NAMES
from simulator.weather.samples import sample_weather, samples_folder

DAYS = 800
UNITS = {"tmax": "degC", "tmin": "degC", "rain": "mm"}


def csv_text(days: int = DAYS, head: str = "") -> str:
    """The default sample's first days, with or without lines above the header."""
    text = (samples_folder() / "tallow-bend.csv").read_text()
    rows = [line for line in text.splitlines() if not line.startswith("#")]
    return "\n".join([*head.splitlines(), *rows[: days + 1]]) + "\n"


def about(site: str, latitude: float = 31.0, longitude: float = -86.0) -> str:
    return f"# site: {site}\n# latitude: {latitude}\n# longitude: {longitude}"


@cache
def three_samples() -> tuple[xr.Dataset, ...]:
    return tuple(map(sample_weather, ("tallow-bend", "sorrel-ledge", "palmetto-wick")))


def many_sites(count: int = 6, days: int = DAYS, kind: type = np.float64) -> xr.Dataset:
    """Invented sites: the samples in turn, shifted by a tenth of a degree each, with gaps."""
    records = [record.isel(time=slice(0, days)) for record in three_samples()]
    draw = np.random.default_rng(5)
    values = {}
    for name in NAMES:
        block = np.stack([records[i % 3][name].values for i in range(count)])
        if name != "rain":
            block = block + 0.1 * np.arange(count)[:, None] / count
        block[draw.random(block.shape) < 0.002] = np.nan
        values[name] = (("site", "time"), block.astype(kind), {"units": UNITS[name]})
    return xr.Dataset(
        values,
        coords={
            "time": records[0]["time"],
            "site": [f"Place {i}" for i in range(count)],
            "latitude": ("site", 30.0 + np.arange(count) / count),
            "longitude": ("site", -90.0 + np.arange(count) / 10),
        },
        attrs={"invented": "yes"},
    )


def written(data: xr.Dataset, path: Path) -> Path:
    if path.suffix == ".nc":
        data.to_netcdf(path)
    else:
        data.chunk(site=2).to_zarr(path, zarr_format=2)
    return path


def left_out(folder: Path, **more: object) -> str:
    """What is said of every place that is left out, on finding and on reading."""
    places, problems = find_places(folder, **more)  # type: ignore[arg-type]
    told = [str(problem) for problem in problems]
    for _, record in read_places(places):
        if isinstance(record, InputError):
            told += [str(problem) for problem in record.problems]
    return "\n".join(told)


# --- folders ---


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "stations"
    made.mkdir()
    (made / "good.csv").write_text(csv_text(head=about("Good Place")))
    return made


def half(text: str) -> str:
    """The first half of a file and a part of the next row: ``1996-09-05,32.8``."""
    return text[: text.index("\n", len(text) // 2) + 16]


FAULTS: dict[str, tuple[Callable[[], str], str]] = {
    "half.csv": (lambda: half(csv_text(head=about("Half"))), "line 403: It has 2 of the 4 cells"),
    "south.csv": (lambda: csv_text(head=about("South", latitude=-31)), "-31 lies in the south"),
    "bare.csv": (csv_text, "bare.csv: It does not say the latitude"),
    "text.csv": (
        lambda: csv_text(head=about("Text")).replace(",33.0,", ",warm,", 1),
        "text.csv, line 5, column 'tmax (degC)': 'warm' is not a number",
    ),
    "empty.csv": (lambda: "", "empty.csv: It is empty"),
    "other.txt": (lambda: "To whom it may concern\n", "other.txt, line 1: No header"),
}


def test_each_fault_is_named_and_the_rest_go_on(folder: Path) -> None:
    for name, (text, _) in FAULTS.items():
        (folder / name).write_text(text())
    (folder / "torn.nc").write_bytes(b"\x89HDF\r\n\x1a\n" + b"x" * 400)
    told = left_out(folder)
    for name, (_, says) in FAULTS.items():
        assert says in told, (name, told)
        assert (
            says or name not in told
        )  # degF in the header of degC: cold, which only makes a doubt
    assert "torn.nc: It looks like netCDF but cannot be read" in told
    places, _ = find_places(folder)
    read = [place.site for place, record in read_places(places) if isinstance(record, xr.Dataset)]
    assert read == ["Good Place"]


def test_celsius_where_fahrenheit_was_meant_is_told(folder: Path) -> None:
    record = sample_weather().isel(time=slice(0, DAYS))
    table = record.to_dataframe()[list(NAMES)]
    table[["tmax", "tmin"]] = table[["tmax", "tmin"]] * 9 / 5 + 32
    table.columns = ["tmax (degC)", "tmin (degC)", "rain (mm)"]
    (folder / "warm.csv").write_text(about("Warm") + "\n" + table.to_csv(index_label="date"))
    assert "the column does not look like degC, as Fahrenheit is" in left_out(folder)


def test_a_place_of_a_folder_reads_as_its_file(folder: Path) -> None:
    (place,), problems = find_places(folder)
    assert not problems
    assert (place.site, place.latitude, place.longitude) == ("Good Place", 31.0, -86.0)
    record, alone = read_place(place), read_weather(folder / "good.csv")
    assert record.equals(alone)
    assert {key: record.attrs[key] for key in alone.attrs} == alone.attrs


def test_the_latitude_given_stands_in_where_nothing_says_it(folder: Path) -> None:
    (folder / "bare.csv").write_text(csv_text())
    bare, good = find_places(folder, latitude=33.5)[0]
    assert (bare.site, bare.latitude, good.latitude) == ("bare", 33.5, 31.0)
    assert read_place(bare).attrs["latitude"] == 33.5


def test_units_declared_for_a_folder(folder: Path) -> None:
    (folder / "plain.csv").write_text(
        csv_text(head=about("Plain")).replace(" (degC)", "").replace(" (mm)", "")
    )
    assert "The header does not say the unit" in left_out(folder)
    assert left_out(folder, units_of_file="si") == ""


def test_two_files_of_one_site_are_named_and_not_merged(folder: Path) -> None:
    for name in ("a.csv", "b.csv"):
        (folder / name).write_text(csv_text(head=about("Twin")))
    places, problems = find_places(folder)
    assert [place.site for place in places] == ["Good Place"]
    assert "site 'Twin': Several records are for it: a.csv, b.csv. They are not merged" in str(
        problems[0]
    )
    (folder / "stations.csv").write_text("file,site,latitude\nb.csv,Second Twin,32\n")
    assert [p.site for p in find_places(folder)[0]] == ["Twin", "Second Twin", "Good Place"]


def test_places_travel(folder: Path) -> None:
    (place,), _ = find_places(folder)
    assert pickle.loads(pickle.dumps(place)) == place
    assert Path(place.source).is_absolute()


def test_gaps_and_spans_of_their_own_are_allowed(folder: Path) -> None:
    rows = csv_text().splitlines()
    del rows[40:50]
    rows[100] = rows[100].split(",")[0] + ",,,"
    (folder / "gaps.csv").write_text(about("Gaps") + "\n" + "\n".join(rows[:400]) + "\n")
    assert left_out(folder) == ""


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda path: path.mkdir(), "The folder has no weather files"),
        (lambda path: None, "There is no such file, folder or sample"),
    ],
)
def test_no_places(tmp_path: Path, make: Callable[[Path], None], says: str) -> None:
    make(tmp_path / "none")
    with pytest.raises(InputError, match=says):
        find_places(tmp_path / "none")


def test_a_sample_is_a_place() -> None:
    (place,), _ = find_places("Hollin Reach")
    assert place.longitude is not None
    assert read_place(place).equals(sample_weather("hollin-reach"))


# --- tables of stations ---


def test_a_table_of_stations_tells_latitude_longitude_and_soil(folder: Path) -> None:
    (folder / "bare.csv").write_text(csv_text())
    (folder / "Stations.csv").write_text(
        "file;latitude;longitude;soil\nbare.csv;33,25;274,5;loam\ngood;;;clay\n"
    )
    places, problems = find_places(folder, check_soil=soil)
    assert not problems
    assert [(p.site, p.latitude, p.longitude, p.soil) for p in places] == [
        ("bare", 33.25, -85.5, "loam"),
        ("Good Place", 31.0, -86.0, "clay"),
    ]
    assert read_place(places[0]).attrs["soil"] == "loam"


def test_a_table_by_site(folder: Path) -> None:
    (folder / "bare.csv").write_text(csv_text())
    (folder / "stations.csv").write_text("station,lat,lon\nbare,33,-85\nGood Place,32,-85\nx,1,2\n")
    assert [(p.site, p.latitude) for p in find_places(folder)[0]] == [
        ("bare", 33.0),
        ("Good Place", 32.0),
    ]


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        (
            "good.csv,31x,-85,\n",
            "stations.csv, line 2, column 'latitude': '31x' is not the latitude of "
            "good.csv in degrees",
        ),
        ("good.csv,nan,-85,\n", "'nan' is not the latitude"),
        ("good.csv,31,-850,\n", "line 2, column 'longitude': '-850' is not the longitude"),
        ("good.csv,31,-85,gravel\n", "good.csv, soil of site 'Good Place': 'gravel' is not known"),
        ("none.csv,31,-85,\n", "stations.csv, line 2: There is no weather file 'none.csv'"),
        (
            "good.csv,31,-85,\ngood.csv,32,-85,\n",
            "line 3: 'good.csv' stands a second time, after line 2",
        ),
    ],
)
def test_faults_of_the_table_cost_their_station(folder: Path, rows: str, says: str) -> None:
    (folder / "b.csv").write_text(csv_text(head=about("Other")))
    (folder / "stations.csv").write_text("file,latitude,longitude,soil\n" + rows)
    places, problems = find_places(folder, check_soil=soil)
    assert says in "\n".join(map(str, problems))
    assert "Other" in [place.site for place in places]
    assert len(places) == (2 if "none" in rows else 1)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "It is empty"),
        ("name of place,how far\nx,3\n", "No header with 'file' or 'site' and 'latitude'"),
        ("file,latitude\n,31\n", "line 2, column 'file': It is blank"),
    ],
)
def test_a_table_that_cannot_be_read_stops_all(folder: Path, text: str, says: str) -> None:
    (folder / "stations.csv").write_text(text)
    with pytest.raises(InputError, match=says):
        find_places(folder)


def test_longitudes_of_both_customs() -> None:
    assert [longitude_east(x) for x in (0.0, 180.0, 181.0, 359.0, -180.0)] == [
        0.0,
        180.0,
        -179.0,
        -1.0,
        -180.0,
    ]


def dly(station: str, months: int = 15) -> str:
    """Fixed-width GHCN-Daily of invented days: 300, 100 and 0 tenths."""
    lines = []
    for month in range(months):
        stamp = f"{2001 + (7 + month) // 12}{(7 + month) % 12 + 1:02d}"
        _, days = monthrange(int(stamp[:4]), int(stamp[4:]))
        for element, value in (("TMAX", 250), ("TMIN", 100), ("PRCP", 0)):
            cells = [
                f"{value + (day + month) % 9 if element != 'PRCP' else 7:5d}  S"
                if day < days
                else "-9999   "
                for day in range(31)
            ]
            lines.append(f"{station}{stamp}{element}{''.join(cells)}")
    return "\n".join(lines) + "\n"


GHCN_LINE = "USC00999999  31.2500  -85.7500   52.1 AL MADE UP PLACE                  HCN 72227"


@pytest.mark.published(
    "Menne et al. 2012, GHCN-Daily readme, section IV: columns 1-11, 13-20, 22-30"
)
def test_the_list_of_ghcn_daily_tells_where_stations_are(folder: Path) -> None:
    (folder / "USC00999999.dly").write_text(dly("USC00999999"))
    assert "USC00999999.dly: It does not say the latitude" in left_out(folder)
    (folder / "ghcnd-stations.txt").write_text(
        f"ACW00011604  17.1167  -61.7833   10.1    X\n{GHCN_LINE}\n"
    )
    place = find_places(folder)[0][0]
    assert (place.site, place.latitude, place.longitude) == ("MADE UP PLACE", 31.25, -85.75)
    assert read_place(place).attrs["latitude"] == 31.25
    (folder / "ghcnd-stations.txt").write_text(GHCN_LINE.replace("31.2500", "31.25x0"))
    assert "ghcnd-stations.txt, line 1, columns 13-20: '31.25x0' is not a latitude" in left_out(
        folder
    )


def test_a_fixed_width_file_cut_within_a_number(folder: Path) -> None:
    text = dly("USC00999999")
    cut = text.index("250", len(text) // 2) + 2
    (folder / "USC00999999.dly").write_text(text[:cut])
    assert "It ends within a value" in left_out(folder, latitude=31.0)


# --- files and stores of many sites ---


@pytest.fixture(scope="module")
def stores(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("stores")
    data = many_sites()
    return {end: written(data, folder / f"many.{end}") for end in ("nc", "zarr")}


@pytest.mark.parametrize("end", ["nc", "zarr"])
def test_sites_of_a_file_read_as_each_alone(
    stores: dict[str, Path], end: str, tmp_path: Path
) -> None:
    places, problems = find_places(stores[end])
    assert not problems
    assert [place.index for place in places] == list(range(6))
    data = many_sites()
    for at, (place, record) in enumerate(read_places(places, at_once=4)):
        alone = tmp_path / f"{at}.nc"
        data.isel(site=at).to_netcdf(alone)
        assert isinstance(record, xr.Dataset)
        assert record.equals(read_weather(alone))  # to the bit
        assert record.identical(read_place(place))
        assert record.attrs["site"] == place.site == f"Place {at}"
        assert record.attrs["longitude"] == pytest.approx(-90 + at / 10)
        assert record.attrs["invented"] == "yes"


@pytest.mark.parametrize("end", ["nc", "zarr"])
@pytest.mark.parametrize("rows", [[2], [1, 2, 3], [5, 0, 3], [4, 1]])
def test_any_block_has_the_same_bits(stores: dict[str, Path], end: str, rows: list[int]) -> None:
    places, _ = find_places(stores[end])
    block = read_block([places[row] for row in rows])
    assert block.places == tuple(places[row] for row in rows)
    for at, row in enumerate(rows):
        record = read_place(places[row])
        for name in NAMES:
            assert np.array_equal(getattr(block, name)[at], record[name].values, equal_nan=True)


def test_every_fault_of_a_site_costs_that_site(tmp_path: Path) -> None:
    data = many_sites(7).drop_attrs(deep=False)
    data["rain"][0, 10] = -5.0
    data["tmax"][1, 20] = -30.0
    data["tmax"][2] = data["tmax"][2] * 9 / 5 + 32
    for name in NAMES:
        data[name][3] = np.nan
    data["latitude"][4] = np.nan
    data["latitude"][5] = 80.0
    path = written(data, tmp_path / "faults.nc")
    told = left_out(path)
    assert "site 'Place 0', 1995-08-11, variable 'rain': -5 mm is outside what weather does" in told
    assert "site 'Place 1', 1995-08-21: tmax -30 degC is below tmin" in told
    assert "site 'Place 2'" in told
    assert "does not look like degC" in told
    assert "site 'Place 3': It has no values" in told
    assert "site 'Place 4': Nothing says its latitude" in told
    assert "site 'Place 5', latitude: 80 lies outside 0 to 66" in told
    block = read_block(find_places(path)[0])
    assert [place.site for place in block.places] == ["Place 6"]
    assert find_places(path, latitude=31.0)[0][4].latitude == 31.0


def test_a_damaged_chunk_costs_its_sites(tmp_path: Path) -> None:
    path = written(many_sites(), tmp_path / "torn.zarr")
    for chunk in (path / "tmax").glob("1.*"):
        chunk.write_bytes(chunk.read_bytes()[:40])
    places, _ = find_places(path)
    read = {place.site: record for place, record in read_places(places)}
    assert [isinstance(record, xr.Dataset) for record in read.values()] == [True] * 2 + [
        False
    ] * 2 + [True] * 2
    assert "torn.zarr, site 'Place 2': Its values cannot be read" in str(read["Place 2"])


def test_names_latitudes_and_soils_along_the_sites(tmp_path: Path) -> None:
    data = many_sites(3).drop_vars(["site", "latitude", "longitude"]).rename(site="station")
    data["soil"] = ("station", ["loam", "", "gravel"])
    data["station_name"] = ("station", ["North", "Middle", "South"], {"cf_role": "timeseries_id"})
    data["where_y"] = ("station", [33.0, 32.0, 31.0], {"standard_name": "latitude"})
    data["lon"] = ("station", [270.0, 271.0, 272.0])
    path = written(data.transpose("time", "station"), tmp_path / "named.nc")
    places, problems = find_places(path, check_soil=soil)
    assert [(p.site, p.latitude, p.longitude, p.soil) for p in places] == [
        ("North", 33.0, -90.0, "loam"),
        ("Middle", 32.0, -89.0, None),
    ]
    assert "named.nc (row 2), soil of site 'South': 'gravel' is not known" in str(problems[0])


def test_sites_without_names_are_numbered_and_one_name_for_two_is_refused(tmp_path: Path) -> None:
    bare = many_sites(3).drop_vars("site")
    assert [p.site for p in find_places(written(bare, tmp_path / "bare.nc"))[0]] == [
        "site 0",
        "site 1",
        "site 2",
    ]
    twins = bare.assign_coords(site=["A", "B", "A"])
    places, problems = find_places(written(twins, tmp_path / "twins.nc"))
    assert [p.site for p in places] == ["B"]
    assert "site 'A': Several records are for it: twins.nc (row 0), twins.nc (row 2)" in str(
        problems[0]
    )


def test_one_record_in_a_file_and_in_a_store(tmp_path: Path) -> None:
    one = many_sites(1).squeeze("site", drop=True).assign_attrs(site="Alone", latitude=30.0)
    one.to_netcdf(tmp_path / "a.nc")
    one.to_zarr(tmp_path / "a.zarr", zarr_format=2)
    (file,), (store,) = (find_places(tmp_path / f"a.{end}")[0] for end in ("nc", "zarr"))
    assert (file.site, file.index) == ("Alone", None)
    assert (store.site, store.index) == ("Alone", 0)
    assert read_place(file).equals(read_place(store))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda d: d.drop_vars("tmin"), "No variable is tmin"),
        (lambda d: d.drop_vars("time"), "It has no time of the standard calendar"),
        (lambda d: d.isel(time=slice(0, 0)), "It has no days"),
        (lambda d: d.isel(site=slice(0, 0)), "It holds 0 sites"),
        (
            lambda d: d.expand_dims(height=2),
            r"It holds a grid \(height 2 x site 6\)|site 6 x height 2",
        ),
        (lambda d: d.assign(rain=d["rain"].drop_attrs()), "It has no units"),
    ],
)
def test_files_of_many_sites_that_cannot_be_used(
    tmp_path: Path, change: Callable[[xr.Dataset], xr.Dataset], says: str
) -> None:
    path = tmp_path / "bad.nc"
    change(many_sites()).to_netcdf(path)
    with pytest.raises(InputError, match=says):
        find_places(path)


def test_a_store_without_its_metadata(tmp_path: Path) -> None:
    path = written(many_sites(), tmp_path / "bad.zarr")
    for name in (".zmetadata", ".zgroup"):
        (path / name).write_text("{")
    with pytest.raises(InputError, match="It looks like a zarr store but cannot be opened"):
        find_places(path)


def test_a_folder_holds_files_and_stores(folder: Path, stores: dict[str, Path]) -> None:
    shutil.copytree(stores["zarr"], folder / "many.zarr")
    places, _ = find_places(folder)
    assert len(places) == 7
    assert all(isinstance(record, xr.Dataset) for _, record in read_places(places))


def test_a_file_of_days_out_of_order(tmp_path: Path) -> None:
    data = many_sites(2)
    order = np.arange(data.sizes["time"])
    order[[10, 11]] = order[[11, 10]]
    assert "comes after" in left_out(written(data.isel(time=order), tmp_path / "order.nc"))


def test_holes_in_the_time_become_missing_days(tmp_path: Path) -> None:
    data = many_sites(2).isel(time=np.r_[0:100, 130:DAYS])
    record = read_place(find_places(written(data, tmp_path / "hole.nc"))[0][1])
    assert record.sizes["time"] == DAYS
    assert np.isnan(record["tmax"].values[100:130]).all()


def test_a_thousand_sites_are_found_and_read_in_seconds(tmp_path: Path) -> None:
    path = written(many_sites(1000, days=365, kind=np.float32), tmp_path / "thousand.nc")
    began = process_time()
    places, _ = find_places(path)
    found = process_time() - began
    read = sum(isinstance(record, xr.Dataset) for _, record in read_places(places))
    spent = process_time() - began
    assert read == len(places) == 1000
    assert found < 1.0
    assert spent < 10.0


def test_read_stations_keeps_rows(tmp_path: Path) -> None:
    path = tmp_path / "stations.csv"
    path.write_text("site,latitude,longitude,soil\nA,31,-85,\n\nB,32,,clay\n")
    by, told = read_stations(path)
    assert by == "site"
    assert told["B"].where == "stations.csv, line 4"
    assert (told["A"].soil, told["B"].longitude) == (None, None)
    assert Place("A", "x").index is None
