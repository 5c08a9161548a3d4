"""Tables of many stations: each as in a file of its own, in one pass, whatever its faults."""

from __future__ import annotations

import csv
import io
import json
import re
import signal
import subprocess
import sys
import tracemalloc
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from simulator.commands import fallsown
from simulator.parameters.soils import soil
from simulator.problems import InputError
from simulator.season.grid import run as grid_run
from simulator.season.grid import run_grid
from simulator.season.grid.unfinished import UnfinishedStore
from simulator.weather.files import text
from simulator.weather.files.checking import check_stations, check_weather
from simulator.weather.files.multistation import rows as file_rows
from simulator.weather.files.multistation import splitting
from simulator.weather.files.multistation import stations as file_stations
from simulator.weather.files.reading import read_weather
from simulator.weather.files.tables import reading as tables
from simulator.weather.places import find_places, read_place, read_places
from simulator.weather.samples import sample_weather

# The columns in which Climate Data Online hands out Daily Summaries of GHCN-Daily, in US units.
HEADER = ["STATION", "NAME", "LATITUDE", "LONGITUDE", "ELEVATION", "DATE", "PRCP", "TMAX", "TMIN"]
DATE, RAIN, TMAX, TMIN = (HEADER.index(name) for name in ("DATE", "PRCP", "TMAX", "TMIN"))
PLAN: dict[str, Any] = {
    "sow": "10-20",
    "nitrogen": "60 lb/acre",
    "progress": False,
    "announce": lambda text: None,
}
Row = list[str]


def station(number: int, days: int = 400, first: int = 0) -> list[Row]:
    """Rows of an invented station: the sample in whole degF and hundredths of an inch."""
    about = [
        f"USX{number:08d}",
        f"MADE UP PLACE {number}, XX US",
        f"{31 + number / 10:.4f}",
        f"{-86 + number / 10:.4f}",
        "52.1",
    ]
    return [
        [*about, day, f"{rain:.2f}", f"{warmest + number % 5:.0f}", f"{coldest:.0f}"]
        for day, rain, warmest, coldest in sample()[first : first + days]
    ]


@cache
def sample() -> list[tuple[str, float, float, float]]:
    record = sample_weather().isel(time=slice(0, 2000))
    dates = record["time"].values.astype("datetime64[D]").astype(str).tolist()
    return list(
        zip(
            dates,
            record["rain"].values / 25.4,
            record["tmax"].values * 1.8 + 32,
            record["tmin"].values * 1.8 + 32,
            strict=True,
        )
    )


def table(rows: Sequence[Row], delimiter: str = ",", header: Sequence[str] = HEADER) -> str:
    made = io.StringIO()
    writer = csv.writer(made, delimiter=delimiter, lineterminator="\n")
    writer.writerows([header, *rows])
    return made.getvalue()


def by_day(stations: Sequence[list[Row]]) -> list[Row]:
    return sorted((row for rows in stations for row in rows), key=lambda row: row[DATE])


@pytest.fixture
def many(tmp_path: Path) -> Path:
    """Three stations, one after the other."""
    path = tmp_path / "many.csv"
    path.write_text(table([row for number in range(3) for row in station(number)]))
    return path


def read(path: Path, **more: Any) -> dict[str, xr.Dataset | InputError]:
    return {
        str(place.station): record for place, record in read_places(find_places(path, **more)[0])
    }


def told(found: xr.Dataset | InputError) -> str:
    assert isinstance(found, InputError)
    return "\n".join(map(str, found.problems))


# --- the same as a file of its own ---


def same_as_alone(found: xr.Dataset | InputError, alone: Path, lines: Sequence[int]) -> None:
    """Hold a station of a table against a file of its own, in its bits, its notes and its faults.

    ``lines`` says where the rows of that file, which has a header, stand in the table.
    """
    ((_, own),) = read_places(find_places(alone)[0])
    if isinstance(own, xr.Dataset):
        assert isinstance(found, xr.Dataset), told(found)
        assert found.equals(own)
        for name in ("site", "latitude", "longitude", "notes", "units_of_file", "soil"):
            assert found.attrs.get(name) == own.attrs.get(name), name
    else:
        there = re.sub(r"many\.csv, station '[^']*'", alone.name, told(found))
        where = {1: 1, **{row + 2: line for row, line in enumerate(lines)}}
        assert there == re.sub(r"line (\d+)", lambda m: f"line {where[int(m[1])]}", told(own))


FAULTS = {
    "no number": (TMAX, "warm"),
    "no date": (DATE, "2001-02-30"),
    "too hot": (TMAX, "170"),
    "crossed": (TMIN, "134"),
    "sentinel": (RAIN, "-9999"),
    "blank": (TMIN, ""),
    "no date at all": (DATE, ""),
}


@st.composite
def tables_of_stations(draw: st.DrawFn) -> tuple[list[list[Row]], list[int]]:
    """Some stations with spans, gaps and faults of their own, and an order of their rows."""
    found = []
    for number in range(draw(st.integers(2, 3))):
        rows = station(number, draw(st.integers(1, 90)), draw(st.integers(0, 300)))
        for _ in range(draw(st.integers(0, 2))):
            at, (column, cell) = (
                draw(st.integers(0, len(rows) - 1)),
                FAULTS[draw(st.sampled_from(sorted(FAULTS)))],
            )
            rows[at] = [*rows[at][:column], cell, *rows[at][column + 1 :]]
        if draw(st.booleans()):
            del rows[draw(st.integers(0, len(rows))) :][:5]
        found.append(rows)
    turns = [number for number, rows in enumerate(found) for _ in rows]
    return found, draw(st.permutations(turns)) if draw(st.booleans()) else turns


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    made=tables_of_stations(),
    delimiter=st.sampled_from([",", ";", "\t"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"]),
    held=st.sampled_from([200, 16_000_000]),
)
def test_each_station_is_as_in_a_file_of_its_own(
    tmp_path_factory: pytest.TempPathFactory,
    made: tuple[list[list[Row]], list[int]],
    delimiter: str,
    encoding: str,
    held: int,
) -> None:
    stations, turns = made
    for rows in stations:
        for row in rows:
            row[1] = row[1].replace("MADE", "MÄDE")
    folder = tmp_path_factory.mktemp("made")
    left = [iter(rows) for rows in stations]
    rows = [next(left[number]) for number in turns]
    (folder / "many.csv").write_text(table(rows, delimiter), encoding=encoding)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(splitting, "MOST_HELD", held)
        found = read(folder / "many.csv")
    assert len(found) == len(stations)
    for number, own in enumerate(stations):
        alone = folder / f"{number}.csv"
        alone.write_text(table(own, delimiter), encoding=encoding)
        lines = [line for line, turn in enumerate(turns, start=2) if turn == number]
        same_as_alone(found[f"USX{number:08d}"], alone, lines)


def test_lines_are_those_of_an_editor(many: Path) -> None:
    """Blank lines, comments, cells of several lines, ends of lines as other systems have them."""
    rows = [station(number, 60) for number in range(2)]
    rows[1][7][1] = 'A "MADE UP"\nPLACE, XX US'
    rows[1][9][TMAX] = "warm"
    lines = table([*rows[0], *rows[1]]).splitlines(keepends=True)
    lines.insert(62, "# moved in 2001\n")
    lines.insert(63, "\n")
    whole = "# longitude: -85\n" + "".join(lines)
    says = (
        f"line {next(i for i, line in enumerate(whole.splitlines(), start=1) if 'warm' in line)},"
    )
    for end in ("\n", "\r\n", "\r"):
        many.write_bytes(whole.replace("\n", end).encode())
        found = read(many)
        assert isinstance(found["USX00000000"], xr.Dataset)
        assert told(found["USX00000001"]) == (
            f"many.csv, station 'USX00000001', {says} column 'TMAX': 'warm' is not a number. "
            "Leave the cell blank if the value is missing."
        )


def ghcn_rows(number: int, days: int = 200) -> list[str]:
    return [
        f"{row[0]},{row[DATE].replace('-', '')},{element},{value},,,7,0700"
        for row in station(number, days)
        for element, value in (("TMAX", 250 + number), ("TMIN", 101), ("PRCP", 7))
    ]


def ghcn_fixed(number: int) -> list[str]:
    days = "".join(f"{200 + number + day % 7:5d}  7" for day in range(31))
    low = days.replace("  2", "  1")
    return [
        f"USX{number:08d}2001{month:02d}{element}{cells}"
        for month in (1, 3, 5)
        for element, cells in (("TMAX", days), ("TMIN", low), ("PRCP", low))
    ]


@pytest.mark.parametrize("lines_of", [ghcn_rows, ghcn_fixed])
def test_layouts_of_ghcn_daily_hold_many_stations_too(
    tmp_path: Path, lines_of: Callable[[int], list[str]]
) -> None:
    both = [line for pair in zip(lines_of(1), lines_of(2), strict=True) for line in pair]
    path = tmp_path / "many.txt"
    path.write_text("\n".join([*both[:5], "not of it", *both[5:]]) + "\n")
    places, problems = find_places(path, latitude=31.0)
    assert [place.site for place in places] == ["USX00000001", "USX00000002"]
    assert str(problems[0]).startswith("many.txt, line 6: It is no line of GHCN-Daily.")
    for number, (_, found) in zip((1, 2), read_places(places), strict=True):
        alone = tmp_path / f"{number}.txt"
        alone.write_text("\n".join(lines_of(number)) + "\n")
        assert isinstance(found, xr.Dataset)
        assert found.equals(read_weather(alone, latitude=31.0))


def test_a_spreadsheet_of_many_stations(tmp_path: Path) -> None:
    from datetime import datetime

    import openpyxl

    stations = [station(number, 120) for number in range(3)]
    stations[2][5][TMIN] = "cold"
    for name, rows in [("many", by_day(stations)), *((str(i), s) for i, s in enumerate(stations))]:
        book = openpyxl.Workbook()
        sheet = book.active
        assert sheet is not None
        sheet.append(["# source: invented"])
        sheet.append(HEADER)
        for row in rows:
            numbers = [float(cell) if cell != "cold" else cell for cell in row[RAIN:]]
            sheet.append(
                [*row[:2], *map(float, row[2:5]), datetime.fromisoformat(row[DATE]), *numbers]
            )
        book.create_sheet("more")
        book.save(tmp_path / f"{name}.xlsx")
    found = read(tmp_path / "many.xlsx", date_format="DD/MM/YYYY")  # a sheet's own dates need none
    for number in range(2):
        alone = read_place(find_places(tmp_path / f"{number}.xlsx")[0][0])
        here = found[f"USX{number:08d}"]
        assert isinstance(here, xr.Dataset)
        assert here.equals(alone)
        assert here.attrs["notes"] == alone.attrs["notes"]
    assert "row 20, column 'TMIN': 'cold' is not a number" in told(found["USX00000002"])


# --- finding stations ---


def test_a_station_has_name_latitude_longitude_and_soil(tmp_path: Path) -> None:
    rows = [
        [*row, "loam" if number else "gravel"] for number in range(3) for row in station(number, 40)
    ]
    path = tmp_path / "many.csv"
    path.write_text(table(rows, header=[*HEADER, "SOIL"]))
    places, problems = find_places(path, check_soil=soil)
    assert [(p.site, p.station, p.latitude, p.longitude, p.soil) for p in places] == [
        ("MADE UP PLACE 1, XX US", "USX00000001", 31.1, -85.9, "loam"),
        ("MADE UP PLACE 2, XX US", "USX00000002", 31.2, -85.8, "loam"),
    ]
    assert str(problems[0]).startswith("many.csv (station 'USX00000000'), soil of site 'MADE UP")
    assert read_place(places[0]).attrs["soil"] == "loam"


def test_two_stations_of_one_name_are_told_apart(tmp_path: Path) -> None:
    rows = [[row[0], "TWIN", *row[2:]] for number in range(2) for row in station(number, 40)]
    path = tmp_path / "many.csv"
    path.write_text(table(rows))
    assert [p.site for p in find_places(path)[0]] == ["TWIN (USX00000000)", "TWIN (USX00000001)"]
    assert read_weather(path, site="TWIN (USX00000001)").attrs["latitude"] == 31.1


def test_names_stand_in_where_there_are_no_identifiers(tmp_path: Path) -> None:
    path = tmp_path / "many.csv"
    rows = [row[1:] for number in range(2) for row in station(number, 40)]
    path.write_text(table(rows, header=["Station name", *HEADER[2:]]))
    assert [p.station for p in find_places(path)[0]] == [
        "MADE UP PLACE 0, XX US",
        "MADE UP PLACE 1, XX US",
    ]


def test_rows_of_no_station_are_named_and_the_stations_go_on(many: Path) -> None:
    lines = many.read_text().splitlines()
    for at in (50, 60, 700):
        lines[at] = lines[at][lines[at].index(",") :]
    many.write_text("\n".join(lines))
    places, (problem,) = find_places(many)
    assert str(problem).startswith(
        "many.csv, line 51, column 'STATION': It is blank. So in 2 more: line 61, 701."
    )
    assert all(isinstance(record, xr.Dataset) for _, record in read_places(places))


def test_files_put_one_after_the_other(many: Path) -> None:
    """The header that then stands among the rows is a station of its own, which fails."""
    many.write_text(many.read_text() + table(station(7)))
    found = read(many)
    assert "line 1202, the date: 'DATE' is not a date" in told(found.pop("STATION"))
    assert all(isinstance(record, xr.Dataset) for record in found.values())


def test_a_station_of_rain_alone_is_told_so(many: Path) -> None:
    rows = [[*row[:TMAX], "", ""] for row in station(8)]
    many.write_text(many.read_text() + table(rows).split("\n", 1)[1])
    assert told(read(many)["USX00000008"]) == "\n".join(
        f"many.csv, station 'USX00000008', line 1, column '{name}': It has no values. Give a "
        "station that measures all three."
        for name in ("TMAX", "TMIN")
    )


def test_whole_degrees_beside_decimals_are_not_taken_for_fahrenheit(tmp_path: Path) -> None:
    """One file has one set of units: 25 and 12 beside 25.6 are whole degC, and are asked about."""
    decimals = [[*row[:TMAX], "25.6", "12.2"] for row in station(0)]
    whole = [[*row[:TMAX], "25", "12"] for row in station(1)]
    path = tmp_path / "many.csv"
    path.write_text(table([*whole, *decimals]))
    found = read(path)
    assert isinstance(found["USX00000000"], xr.Dataset)
    assert "Give units_of_file us or si" in told(found["USX00000001"])
    with pytest.raises(InputError, match="Give units_of_file us or si"):
        read_weather(path, site="USX00000001")
    declared = read(path, units_of_file="si")["USX00000001"]
    assert isinstance(declared, xr.Dataset)
    assert declared["tmax"].values[0] == 25.0


def test_faults_of_latitude_name_the_row(many: Path) -> None:
    said = many.read_text()
    many.write_text(said.replace("31.1000", "-31.1").replace("31.2000", "31.2N"))
    found = read(many)
    assert "station 'USX00000001', line 402, column 'LATITUDE': -31.1 lies in the south" in told(
        found["USX00000001"]
    )
    assert "station 'USX00000002', line 802, column 'LATITUDE': '31.2N' is not a number" in told(
        found["USX00000002"]
    )
    without = re.sub(r"3\d\.\d000", "", said)
    many.write_text(without)
    assert "station 'USX00000002': It does not say the latitude" in told(read(many)["USX00000002"])
    assert all(isinstance(one, xr.Dataset) for one in read(many, latitude=31.0).values())


@pytest.mark.parametrize(
    "change",
    [
        lambda said: said.replace("USX00000001", "USX00000000").replace(
            "USX00000002", "USX00000000"
        ),
        lambda said: said.split("\n", 1)[1],
        lambda said: said.replace("STATION", "CODE").replace("NAME", "CALLED"),
        lambda said: "",
    ],
)
def test_what_is_no_table_of_many_stations(many: Path, change: Callable[[str], str]) -> None:
    many.write_text(change(many.read_text()))
    assert file_stations.list_stations(many) is None
    (place,) = find_places(many)[0]
    assert place.station is None


def test_one_station_is_seen_at_a_glance(many: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder of a thousand files of one station each is not gone through row by row."""
    quoted = 'STATION,DATE,TMAX,TMIN,PRCP\n"A,1",2001-01-01,70,50,0\n"A,2",2001-01-01,70,50,0\n'
    many.write_text(quoted)
    assert file_stations.list_stations(many) is not None
    many.write_text(quoted.replace("A,2", "A,1"))
    assert file_stations.list_stations(many) is None
    many.write_text(table(station(1)))
    monkeypatch.setattr(file_rows, "_text_rows", None)
    assert file_stations.list_stations(many) is None


def test_a_row_that_cannot_be_split_stops_the_file(many: Path) -> None:
    many.write_text(many.read_text() + 'USX00000001,"not closed\n')
    with pytest.raises(InputError, match="Look for a quotation mark that is not closed"):
        find_places(many)


def test_bounds_hold_for_each_station(many: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As many rows as there may be of one place, of each; more of one costs that one."""
    many.write_text(many.read_text() + table(station(4, 700)).split("\n", 1)[1])
    for module in (splitting, text, tables):
        monkeypatch.setattr(module, "MOST_DAYS", 500)
    found = read(many)
    assert "station 'USX00000004': It has more than 500 rows" in told(found.pop("USX00000004"))
    assert all(isinstance(record, xr.Dataset) for record in found.values())
    monkeypatch.setattr(file_stations, "MOST_STATIONS", 3)
    with pytest.raises(InputError, match="It has over 3 stations"):
        find_places(many)


# --- one pass, whatever the number of stations ---


@pytest.fixture
def passes(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Each time that the rows of a file are gone through."""
    gone: list[str] = []
    honest = file_rows._text_rows

    def counted(file: str, lines: Iterator[str], encoding: str, notes: list[str]) -> Any:
        gone.append(file)
        return honest(file, lines, encoding, notes)

    monkeypatch.setattr(file_rows, "_text_rows", counted)
    return gone


@pytest.mark.parametrize("count", [3, 30])
def test_a_file_is_gone_through_once_to_list_and_once_to_read(
    tmp_path: Path, passes: list[str], count: int
) -> None:
    path = tmp_path / "many.csv"
    path.write_text(table(by_day([station(number, 40) for number in range(count)])))
    places, _ = find_places(path)
    assert len(passes) == 1
    assert sum(isinstance(record, xr.Dataset) for _, record in read_places(places)) == count
    assert len(passes) == 2


def test_memory_does_not_grow_with_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(splitting, "MOST_HELD", 100_000)
    monkeypatch.setattr(file_rows, "_CHUNK", 100_000)
    path, folder = tmp_path / "many.csv", tmp_path / "apart"
    path.write_text(table(by_day([station(number, 1000) for number in range(40)])))
    folder.mkdir()
    listed = file_stations.list_stations(path)
    assert listed is not None
    tracemalloc.start()
    splitting.split_by_station(path, folder, [one.station for one in listed[0]])
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert path.stat().st_size > 3_000_000
    assert most < 1_500_000


# --- folders ---


def test_a_folder_of_tables(tmp_path: Path, many: Path) -> None:
    """A soil for each station from stations.csv; the same station in two files is not merged."""
    folder = tmp_path / "stations"
    folder.mkdir()
    many.rename(folder / "many.csv")
    (folder / "more.csv").write_text(table([*station(2), *station(5)]))
    (folder / "alone.csv").write_text(table(station(6)))
    (folder / "stations.csv").write_text(
        "station,soil,latitude\nUSX00000001,clay,\nMADE UP PLACE 5,sand,\nUSX00000006,loam,\n"
        "USX00000005,silt loam,33\n"
    )
    places, problems = find_places(folder, check_soil=soil)
    assert [(p.station, p.site[-8], p.latitude, p.soil) for p in places if p.station] == [
        ("USX00000000", "0", 31.0, None),
        ("USX00000001", "1", 31.1, "clay"),
        ("USX00000005", "5", 33.0, "silt loam"),
    ]
    assert "many.csv (station 'USX00000002'), more.csv (station 'USX00000002')" in str(problems[0])
    assert all(isinstance(record, xr.Dataset) for _, record in read_places(places))


def test_a_row_for_the_file_is_for_all_its_stations(tmp_path: Path) -> None:
    (tmp_path / "many.csv").write_text(table([*station(1), *station(2)]))
    (tmp_path / "stations.csv").write_text("file,site,soil,latitude\nmany.csv,All,clay,\n")
    places, problems = find_places(tmp_path)
    assert not problems
    assert [(p.site[-8], p.soil, p.latitude) for p in places] == [
        ("1", "clay", 31.1),
        ("2", "clay", 31.2),
    ]


def test_the_list_of_ghcn_daily_serves_stations_of_a_table(tmp_path: Path) -> None:
    (tmp_path / "many.csv").write_text(re.sub(r"3\d\.\d000", "", table([*station(1), *station(2)])))
    (tmp_path / "ghcnd-stations.txt").write_text(
        "USX00000002  31.2500  -85.7500   52.1 AL MADE UP PLACE\n"
    )
    one, two = find_places(tmp_path)[0]
    assert (one.latitude, two.latitude, two.longitude) == (None, 31.25, -85.75)


# --- the grid ---


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four stations of five falls by day, one of which cannot be read, and each in its own file."""
    folder = tmp_path_factory.mktemp("archive")
    stations = [station(number, 1900) for number in range(4)]
    stations[2][30][TMAX] = "warm"
    (folder / "many.csv").write_text(table(by_day(stations)))
    (folder / "own").mkdir()
    for number, rows in enumerate(stations):
        (folder / "own" / f"{number}.csv").write_text(table(rows))
    return folder


@pytest.fixture(scope="module")
def whole(archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("whole") / "grid.zarr"
    run_grid(find_places(archive / "many.csv")[0], out=out, workers=1, processes=False, **PLAN)
    return out


def bytes_in(store: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(store)): path.read_bytes()
        for path in sorted(store.rglob("*"))
        if path.is_file()
    }


def test_a_grid_of_a_table_has_the_bits_of_a_folder(
    archive: Path, whole: Path, tmp_path: Path
) -> None:
    apart = run_grid(
        find_places(archive / "own")[0],
        out=tmp_path / "own.zarr",
        workers=1,
        processes=False,
        **PLAN,
    )
    together = xr.open_zarr(whole)
    assert together["site"].values.tolist() == apart["site"].values.tolist()
    for name in apart.data_vars:
        assert apart[name].values.tobytes() == together[name].values.tobytes()
    assert str(together["left_out"][2].values) == (
        "many.csv, station 'USX00000002', line 124, column 'TMAX': 'warm' is not a number. "
        "Leave the cell blank if the value is missing."
    )
    assert not together["biomass_kg_ha"][2].notnull().any()
    assert together["biomass_kg_ha"][3].notnull().any()


@pytest.mark.long
def test_workers_in_processes_do_the_same(archive: Path, whole: Path, tmp_path: Path) -> None:
    run_grid(find_places(archive / "many.csv")[0], out=tmp_path / "grid.zarr", workers=2, **PLAN)
    assert bytes_in(tmp_path / "grid.zarr") == bytes_in(whole)


@pytest.mark.parametrize("what", ["taking apart", "reading"])
def test_a_run_that_was_stopped_goes_on(
    archive: Path,
    whole: Path,
    tmp_path: Path,
    passes: list[str],
    monkeypatch: pytest.MonkeyPatch,
    what: str,
) -> None:
    """Stopped when the table is taken apart, or when one station of it is read."""
    places, out = find_places(archive / "many.csv")[0], tmp_path / "grid.zarr"
    how: dict[str, Any] = {"out": out, "workers": 1, "processes": False, **PLAN}
    honest = grid_run._bar

    class Stopping:
        def __enter__(self) -> Stopping:
            return self

        def __exit__(self, *_: object) -> None:
            pass

        def update(self, _: int) -> None:
            raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(
            grid_run,
            "_bar",
            lambda name, *more: Stopping() if name == what else honest(name, *more),
        )
        with pytest.raises(KeyboardInterrupt):
            run_grid(places, **how)
    assert len(passes) == 2  # to list, and to take apart
    assert not out.exists()
    run_grid(places, **how)
    assert len(passes) == 2
    assert bytes_in(out) == bytes_in(whole)
    assert list(tmp_path.iterdir()) == [out]


@pytest.mark.long
def test_a_run_that_was_killed_while_it_took_a_table_apart_goes_on(
    archive: Path, whole: Path, tmp_path: Path
) -> None:
    out = tmp_path / "grid.zarr"
    code = f"""if True:
        import os, signal
        from simulator.season.grid import run_grid
        from simulator.weather.files.multistation import splitting
        from simulator.weather.places import find_places
        splitting.MOST_HELD = 10_000
        honest = splitting._write
        def write(folder, held):
            honest(folder, held)
            os.kill(os.getpid(), signal.SIGKILL)
        splitting._write = write
        run_grid(find_places({str(archive / "many.csv")!r})[0], out={str(out)!r}, workers=1,
                 processes=False, sow="10-20", nitrogen="60 lb/acre")
    """
    ended = subprocess.run([sys.executable, "-c", code], check=False, timeout=120)
    assert ended.returncode == -signal.SIGKILL
    (torn,) = (UnfinishedStore(out).folder / "apart").iterdir()
    assert list(torn.iterdir())
    run_grid(find_places(archive / "many.csv")[0], out=out, workers=1, processes=False, **PLAN)
    assert bytes_in(out) == bytes_in(whole)


def test_what_was_taken_apart_does_not_stay(archive: Path, tmp_path: Path) -> None:
    out, there = tmp_path / "grid.zarr", []

    def look(_: object) -> None:
        there.extend(path.name for path in UnfinishedStore(out).folder.iterdir())

    run_grid(
        find_places(archive / "many.csv")[0],
        out=out,
        workers=1,
        processes=False,
        watch=look,
        **PLAN,
    )
    assert "weather" in there
    assert "apart" not in there


def test_another_table_under_the_name_is_another_grid(many: Path, tmp_path: Path) -> None:
    out = tmp_path / "grid.zarr"
    run_grid(find_places(many)[0], out=out, workers=1, processes=False, **PLAN)
    many.write_text(many.read_text().replace(",75,", ",76,", 1))
    with pytest.raises(InputError, match="not the same: the weather"):
        run_grid(find_places(many)[0], out=out, workers=1, processes=False, **PLAN)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda path: path.unlink(), "many.csv: It cannot be read: No such file"),
        (lambda path: path.write_text(table(station(1))), "no longer a table of several stations"),
        (
            lambda path: path.write_text(path.read_text().replace("X00000001", "X00000009")),
            "station 'USX00000001': It has no rows any more",
        ),
    ],
)
def test_a_table_that_changes_under_way_is_told(
    many: Path, tmp_path: Path, change: Callable[[Path], object], says: str
) -> None:
    places = find_places(many)[0]
    change(many)
    with pytest.raises(InputError, match="No place has a record") as raised:
        run_grid(places[1:2], out=tmp_path / "grid.zarr", workers=1, processes=False, **PLAN)
    assert says in str(raised.value)


# --- commands ---


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, list(arguments), catch_exceptions=False)


def test_check_says_what_it_found_station_by_station(many: Path) -> None:
    result = run("check", str(many))
    assert result.exit_code == 0, result.stderr
    said = " ".join(result.stdout.split())
    assert "many.csv: 3 stations read as GHCN-Daily, table, cells between commas, UTF-8" in said
    assert "USX00000001 MADE UP PLACE 1, XX US 31.10 1995-08 1996-09 0 1 - -" in said
    assert "3 winters at 3 of 3 stations" in said
    (one,) = [
        one
        for one in json.loads(run("check", str(many), "--json").stdout)["stations"]
        if one["station"] == "USX00000001"
    ]
    alone = check_weather(many, site="USX00000001")
    assert (one["first"], one["days"], one["winters"]) == (alone.first, alone.days, alone.winters)
    assert one["columns"] == alone.columns


def test_check_names_what_fails_and_exits_2(many: Path) -> None:
    lines = many.read_text().splitlines()
    for at in range(500, 520):
        lines[at] = lines[at].rsplit(",", 1)[0] + ",cold"
    lines[30] = lines[30][11:]
    many.write_text("\n".join(lines))
    result = run("check", str(many))
    assert result.exit_code == 2
    said = " ".join(result.stdout.split())
    assert "21 problems to mend" in said
    assert "many.csv, line 31, column 'STATION': It is blank." in said
    assert "station 'USX00000001', line 501, column 'TMIN': 'cold' is not a number" in said
    assert "many.csv, station 'USX00000001': 15 problems more" in said
    assert "1 of 3 stations cannot be used; a run leaves out what fails." in result.stderr
    found = json.loads(run("check", str(many), "--json").stdout)
    assert [row["station"] for row in found["rows"] if row["kind"] == "problem"] == [
        "",
        *["USX00000001"] * 20,
    ]
    assert [one["usable"] for one in found["stations"]] == [True, False, True]
    assert run("check", str(many), "--site", "USX00000000").exit_code == 0
    assert run("check", str(many), "--site", "MADE UP PLACE 1, XX US").exit_code == 2


def test_check_reports_what_reading_raises(archive: Path) -> None:
    report = check_stations(archive / "many.csv")
    assert report is not None
    for (_, record), one in zip(
        read_places(find_places(archive / "many.csv")[0]), report.stations.values(), strict=True
    ):
        problems = record.problems if isinstance(record, InputError) else []
        assert one.problems == problems


def test_very_many_stations_are_told_shorter(tmp_path: Path) -> None:
    path = tmp_path / "many.csv"
    rows = [row for number in range(65) for row in station(number, 300 if number != 40 else 60)]
    path.write_text(table(rows))
    said = run("check", str(path)).stdout
    assert [line[:11] for line in said.splitlines() if line.startswith("USX")] == ["USX00000040"]
    assert "64 stations are not shown here; --json has all." in said


def test_commands_of_one_place_ask_which(many: Path) -> None:
    for command in ("season", "whatif", "response"):
        result = run(command, "--weather", str(many))
        assert result.exit_code == 2
        assert "many.csv: It holds 3 sites ('USX00000000', 'USX00000001'" in result.stderr
    by_name = run("season", "--weather", str(many), "--site", "MADE UP PLACE 1, XX US", "--json")
    by_station = run("season", "--weather", str(many), "--site", "USX00000001", "--json")
    assert by_name.exit_code == by_station.exit_code == 0
    assert (
        json.loads(by_name.stdout)["rows"][-1]["biomass_kg_ha"]
        == json.loads(by_station.stdout)["rows"][-1]["biomass_kg_ha"]
    )


def test_risk_and_compare_take_all_stations(archive: Path, tmp_path: Path) -> None:
    path = str(archive / "many.csv")
    plan = ["--sow", "10-20", "--nitrogen", "60 lb/acre", "--json"]
    risk = json.loads(run("risk", "--weather", path, "--no-latest", *plan).stdout)
    assert [row["site"][-8] for row in risk["rows"]] == ["0", "1", "3"]
    assert risk["left_out"][0].startswith(
        "MADE UP PLACE 2, XX US: many.csv, station 'USX00000002', line 124, column 'TMAX'"
    )
    own = str(archive / "own")
    apart = json.loads(run("risk", "--weather", own, "--no-latest", *plan).stdout)
    assert risk["rows"] == apart["rows"]
    alone = run("risk", "--weather", path, "--site", "USX00000003", "--no-latest", *plan)
    (row,) = json.loads(alone.stdout)["rows"]
    assert row.items() <= risk["rows"][2].items()
    grid = run(
        "compare", "--weather", path, "--out", str(tmp_path / "grid.zarr"), "--threads", *plan
    )
    assert grid.exit_code == 0, grid.stderr
    assert len({row["site"] for row in json.loads(grid.stdout)["rows"]}) == 4
    assert "USX00000002" in "".join(json.loads(grid.stdout)["left_out"])
    for command in ("risk", "compare"):
        refused = run(command, "--weather", path, "--site", "Nowhere")
        assert refused.exit_code == 2
        assert "Nowhere" in refused.stderr


def test_a_folder_in_which_nothing_can_be_read_says_why(many: Path, tmp_path: Path) -> None:
    many.write_text(many.read_text().replace(",0.00,", ",dry,"))
    result = run("compare", "--weather", str(many), "--out", str(tmp_path / "g.zarr"), "--threads")
    assert result.exit_code == 2
    assert "'dry' is not a number" in result.stderr


def test_rows_reach_numpy_as_they_are(many: Path) -> None:
    """A check of the checks: the first values of a station are those written."""
    record = read(many)["USX00000001"]
    assert isinstance(record, xr.Dataset)
    first = station(1)[0]
    assert record["tmax"].values[0] == pytest.approx((float(first[TMAX]) - 32) / 1.8, abs=1e-9)
    assert record["rain"].values[0] == pytest.approx(float(first[RAIN]) * 25.4, abs=1e-9)
    assert np.isfinite(record["tmin"].values).all()
