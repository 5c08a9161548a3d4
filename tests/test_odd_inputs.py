"""What no reader should believe: unprintable letters, impossible years, hostile spreadsheets."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import zipfile
from collections.abc import Iterable, Iterator
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import openpyxl
import pandas as pd
import pytest
import xarray as xr
from click.testing import CliRunner, Result

import simulator
from simulator.answers.season import chart as season_chart
from simulator.commands import fallsown
from simulator.parameters.files import ParameterFile, read_parameters, write_parameters
from simulator.parameters.prices import read_prices
from simulator.problems import STAND_IN, InputError, Problem, printable, shown_path
from simulator.season import cache_files
from simulator.season.grid import run_grid
from simulator.season.grid.run import bytes_of
from simulator.season.one_season import run_season
from simulator.season.plan import Plan
from simulator.show.charts import svg
from simulator.trials.observations import read_plots
from simulator.units import parse_list
from simulator.weather import places
from simulator.weather.files import netcdf_probe
from simulator.weather.files.reading import read_weather, understand
from simulator.weather.generator.climatology import read_climatology
from simulator.weather.record import make_record
from simulator.weather.year_type_files import read_kinds_file

pytestmark = pytest.mark.filterwarnings("ignore::simulator.problems.WeatherDoubt")
ROOT = Path(simulator.__file__).resolve().parents[1]
HEADER = "date,tmax (degC),tmin (degC),rain (mm)\n"
ODD = "Low\x9b31mdale\x7f\ufffe"
PLAIN = f"Low{STAND_IN}31mdale{STAND_IN}{STAND_IN}"


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, arguments, catch_exceptions=False)


def refused(path: Path, **options: object) -> str:
    with pytest.raises(InputError) as caught:
        read_weather(path, **({"latitude": 33.0} | options))  # type: ignore[arg-type]
    return str(caught.value)


def days(first: str = "2005-09-01", count: int = 300) -> np.ndarray:
    return np.datetime64(first) + np.arange(count)


def table(count: int = 300, first: str = "2005-09-01", header: str = HEADER) -> str:
    rows = (f"{day},{20 + i % 7},{8 + i % 5},{i % 3}\n" for i, day in enumerate(days(first, count)))
    return header + "".join(rows)


def cf(count: int = 300, first: str = "2005-09-01", **about: object) -> xr.Dataset:
    numbers = np.arange(count)
    units = {"tmax": "degC", "tmin": "degC", "rain": "mm"}
    values = {"tmax": 20.0 + numbers % 7, "tmin": 8.0 + numbers % 5, "rain": numbers % 3.0}
    return xr.Dataset(
        {name: ("time", values[name], {"units": unit}) for name, unit in units.items()},
        {"time": days(first, count).astype("datetime64[ns]")},
        {"latitude": 33.0, **about},
    )


# --- letters that cannot be printed ---


@pytest.mark.parametrize(
    ("odd", "plain"),
    [
        ("Lowdale, São João\tß", "Lowdale, São João\tß"),
        ("a\x0cb\rc\x85d\x1fe", "a b c d e"),
        ("a\x00b\x1bc\x7fd\x9be\ufffef\uffffg", STAND_IN.join("abcdefg")),
        ("a\ud800b\udcffc", STAND_IN.join("abc")),
    ],
)
def test_what_cannot_be_printed_gives_way(odd: str, plain: str) -> None:
    assert printable(odd) == plain
    assert str(Problem(odd, odd)) == f"{plain}: {plain}"


def test_a_path_of_any_bytes_can_be_shown() -> None:
    assert shown_path("s\udcc3\udca9\ud800\udcff\x1b.csv") == f"sé{STAND_IN * 3}.csv"


def legible(record: xr.Dataset, note: str) -> None:
    """Hold a record to its plain name, a note of the change, and a chart that is XML."""
    assert record.attrs["site"] == PLAIN
    assert note in record.attrs["notes"]
    assert all(printable(str(value)) == str(value) for value in record.attrs.values())
    plan = Plan(sow="10-20", end="04-15")
    chart = season_chart.chart(run_season(record, plan, year=2005), "si")
    ElementTree.fromstring(svg(chart))


def test_a_name_in_a_comment(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    path.write_text(f"# site: {ODD}\n{table()}", encoding="utf-8")
    legible(read_weather(path, latitude=33.0), "line 1 of w.csv has characters that cannot be")


def test_a_name_in_an_option(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    path.write_text(table())
    legible(read_weather(path, latitude=33.0, site=ODD), "the site's name has characters")


def test_a_name_of_bytes_that_are_no_text(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    path.write_text(table())
    command = [
        sys.executable,
        "-c",
        "from simulator.commands import main; main()",
        "season",
        "--weather",
        str(path),
        "--latitude",
        "33",
        "--year",
        "2005",
        "--sow",
        "10-20",
        "--site",
        b"a\xffb",
        "--json",
    ]
    done = subprocess.run(command, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
    assert b"Traceback" not in done.stderr
    assert b'"site": "a\\ufffdb"' in done.stdout


def test_a_name_in_netcdf(tmp_path: Path) -> None:
    cf(site=ODD, source="a\x1bb").to_netcdf(tmp_path / "w.nc")
    record = read_weather(tmp_path / "w.nc")
    legible(record, "attribute site of w.nc has characters")
    assert f"a{STAND_IN}b" in record.attrs["source"]


def test_names_of_many_sites(tmp_path: Path) -> None:
    many = xr.concat([cf(), cf()], dim="site").assign_coords(site=[ODD, "b"])
    many.to_netcdf(tmp_path / "many.nc")
    found, _ = places.find_places(tmp_path / "many.nc")
    assert [place.site for place in found] == [PLAIN, "b"]
    assert read_weather(tmp_path / "many.nc", site=ODD).attrs["site"] == PLAIN
    rows = [f"{name},{row}\n" for name in (ODD, "b") for row in table().splitlines()[1:]]
    (tmp_path / "many.csv").write_text("".join([f"station,{HEADER}", *rows]), encoding="utf-8")
    found, _ = places.find_places(tmp_path / "many.csv", latitude=33.0)
    assert [place.site for place in found] == [PLAIN, "b"]
    assert "has characters that cannot be printed" in places.read_place(found[0]).attrs["notes"]


def test_a_cell_of_a_spreadsheet(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["site", "date", "tmax (degC)", "tmin (degC)", "rain (mm)"])
    for day in days(count=5).tolist():
        book.active.append(["Low\x9bdale", day, 20, 10, 0])
    book.save(tmp_path / "w.xlsx")
    record = read_weather(tmp_path / "w.xlsx", latitude=33.0)
    assert record.attrs["site"] == f"Low{STAND_IN}dale"
    assert "row 2 of w.xlsx has characters" in record.attrs["notes"]


def test_a_record_in_memory() -> None:
    numbers = np.arange(300)
    made = make_record(
        days(), 20.0 + numbers % 7, 8.0 + numbers % 5, numbers % 3, site=ODD, latitude=33.0
    )
    assert made.attrs["site"] == PLAIN
    legible(
        simulator.change_weather(made.assign_attrs(site=ODD), "rain november + 1 mm"),
        "the record's attribute site has characters",
    )


def test_a_cell_of_a_plot_table(tmp_path: Path) -> None:
    path = tmp_path / "plots.csv"
    path.write_text(
        f"site,latitude,sown,sampled,biomass_kg_ha\n{ODD},33,2005-10-20,2006-04-15,4000\n",
        encoding="utf-8",
    )
    plots = read_plots(path)
    assert plots.sites == [PLAIN]
    assert any("line 2 of plots.csv has characters" in note for note in plots.notes)


def test_a_refusal_says_nothing_to_the_terminal(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    path.write_text(table(5) + "2005-09-06,\x9b31m,8,0\n", encoding="utf-8")
    done = run("check", str(path))
    assert done.exit_code == 2
    assert printable(done.output) == done.output


# --- years and times ---


def dly(year: int) -> str:
    lines = []
    for element, value in (("TMAX", 200), ("TMIN", 80), ("PRCP", 10)):
        for month in range(1, 13):
            count = 30 if month in (4, 6, 9, 11) else 28 if month == 2 else 31
            cells = f"{value:5d}   " * count + "-9999   " * (31 - count)
            lines.append(f"ZZ000000001{year:04d}{month:02d}{element}{cells}")
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("year", [1, 209, 1749, 2201, 9999])
def test_years_of_the_fixed_layout_are_bounded(tmp_path: Path, year: int) -> None:
    path = tmp_path / "z.dly"
    path.write_text(dly(year))
    assert f"{year:04d}-01-01 lies outside 1750-2200. So do 364 days more." in refused(path)
    path.write_text(dly(2005) + dly(year))
    assert f"{year:04d}-01-01 lies outside 1750-2200." in refused(path)
    path.write_text(dly(2005))
    assert read_weather(path, latitude=33.0).sizes["time"] == 365


@pytest.mark.parametrize("year", [209, 9999])
def test_years_of_the_rows_of_elements_are_bounded(tmp_path: Path, year: int) -> None:
    path = tmp_path / "z.csv"
    path.write_text(
        "".join(
            f"ZZ000000001,{year:04d}0101,{name},100,,,S,\n" for name in ("TMAX", "TMIN", "PRCP")
        )
    )
    assert f"{year:04d}-01-01 lies outside 1750-2200." in refused(path)


def test_years_of_a_spreadsheet_are_bounded(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(HEADER.strip().split(","))
    book.active.append([pd.Timestamp("9999-12-30").to_pydatetime(), 20, 10, 0])
    book.save(tmp_path / "w.xlsx")
    assert "'9999-12-30' lies outside 1750-2200." in refused(tmp_path / "w.xlsx")


@pytest.mark.parametrize("form", ["one.nc", "many.nc", "many.zarr"])
@pytest.mark.parametrize(
    ("at", "says"), [(None, "value 3: The time is missing"), ("2260-01-01", "outside 1750-2200")]
)
def test_times_that_are_none_are_refused(
    tmp_path: Path, form: str, at: str | None, says: str
) -> None:
    data = cf()
    times = data["time"].values.copy()
    times[2] = np.datetime64("NaT" if at is None else at)
    data = data.assign_coords(time=times)
    if form.startswith("many"):
        data = xr.concat([data, data], dim="site").assign_coords(site=["a", "b"])
    path = tmp_path / form
    data.to_zarr(path) if form.endswith("zarr") else data.to_netcdf(path)
    with pytest.raises(InputError, match=says):
        for _, found in places.read_places(places.find_places(path)[0]):
            if isinstance(found, InputError):
                raise found


# --- spreadsheets ---


def sheet_of(rows: Iterable[list[object]]) -> BytesIO:
    book, made = openpyxl.Workbook(), BytesIO()
    for row in rows:
        book.active.append(row)
    book.save(made)
    return made


def mutated(path: Path, made: BytesIO, part: str, change: object) -> Path:
    """Write a spreadsheet with one of its parts changed."""
    with zipfile.ZipFile(made) as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            text = old.read(name).decode()
            new.writestr(name, change(text) if name.endswith(part) else text)  # type: ignore[operator]
    return path


def weather_rows(count: int = 40) -> list[list[object]]:
    return [
        HEADER.strip().split(","),
        *([day, 20 + i % 7, 8 + i % 5, i % 3] for i, day in enumerate(days(count=count).tolist())),
    ]


def test_a_sheets_own_size_is_not_believed(tmp_path: Path) -> None:
    def smaller(text: str) -> str:
        assert '<dimension ref="A1:D41"/>' in text.replace(" />", "/>")
        return text.replace("A1:D41", "A1:D11")

    path = mutated(tmp_path / "w.xlsx", sheet_of(weather_rows()), "sheet1.xml", smaller)
    assert read_weather(path, latitude=33.0).sizes["time"] == 40


@pytest.mark.parametrize("number", ["999999999", "5", "0", "x", "1048577"])
def test_rows_out_of_order_cut_nothing_off(tmp_path: Path, number: str) -> None:
    path = mutated(
        tmp_path / "w.xlsx",
        sheet_of(weather_rows()),
        "sheet1.xml",
        lambda text: text.replace('<row r="20"', f'<row r="{number}"'),
    )
    assert f"After row 19 comes a row numbered {'' if number == '5' else repr(number)}" in (
        refused(path)
    )


NAMES = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'


@pytest.mark.parametrize(
    ("part", "body", "says"),
    [
        ("sheet1.xml", "<row>" + "<c/>" * 100_001 + "</row>", "more than 100,000 tags"),
        ("sheet1.xml", "<col/>" * 100_001, "more than 100,000 tags"),
        ("sheet1.xml", "<row/><row>" + "<x:c/>" * 100_001, "row 2: It has more than 100,000 tags"),
        ("sheet1.xml", ("<row>" + "<c/>" * 90_000 + "</row>") * 45, "holds more than"),
        ("sheet1.xml", "<row " + 'a="" ' * 450_000 + "/>", "holds more than"),
        ("sheet1.xml", " " * 5000 + "<!DOCTYPE a>", "XML entities"),
        ("styles.xml", "<xf/>" * 150_001, "styles.xml holds more than"),
        ("workbook.xml", "<sheet/>" * 150_001, "workbook.xml holds more than"),
        ("sheet1.xml", ("<row/>" + "<si/>" * 90_000) * 6, "holds more than"),
    ],
)
def test_crafted_parts_are_refused_before_they_are_parsed(
    tmp_path: Path, part: str, body: str, says: str
) -> None:
    path = mutated(
        tmp_path / "w.xlsx",
        sheet_of(weather_rows()),
        part,
        lambda _: (
            f"<worksheet {NAMES}>{body}</worksheet>"
            if part == "sheet1.xml"
            else f"<a {NAMES}>{body}</a>"
        ),
    )
    assert path.stat().st_size < 200_000
    assert says in refused(path)


def test_a_table_of_texts_is_bounded(tmp_path: Path) -> None:
    path = mutated(tmp_path / "w.xlsx", sheet_of(weather_rows()), "none", str)
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as more:
        more.writestr("xl/sharedStrings.xml", f"<sst {NAMES}>{'<si/>' * 500_001}</sst>")
    assert "sharedStrings.xml holds more than" in refused(path)
    path = mutated(
        tmp_path / "w.xlsx",
        sheet_of(weather_rows()),
        "styles.xml",
        lambda text: text.encode("utf-16"),
    )
    assert "is not in UTF-8" in refused(path)


@pytest.mark.long
def test_a_wide_and_a_long_sheet_are_read(tmp_path: Path) -> None:
    path = tmp_path / "w.xlsx"
    header = [*HEADER.strip().split(","), *(f"other {i}" for i in range(150))]
    rows = [[*row, *range(150)] for row in weather_rows(1000)[1:]]
    path.write_bytes(sheet_of([header, *rows]).getvalue())
    read = understand(path, latitude=33.0)
    assert read.daily.dates.size == 1000
    assert not read.daily.problems


# --- what ended in a traceback ---


@pytest.mark.parametrize("form", ["%Y%Y%m%d", "%d/%m/%Y %", "%d/%m/%Y %!", "DD/MM/YYYY YYYY"])
def test_a_form_of_dates_that_cannot_be_used(tmp_path: Path, form: str) -> None:
    path = tmp_path / "w.csv"
    path.write_text(table(5))
    assert refused(path, date_format=form).startswith("date_format: ")


def test_integers_of_thousands_of_digits(tmp_path: Path) -> None:
    huge = "0x" + "f" * 6000
    path = tmp_path / "p.toml"
    for text in (f"[cereal.rye]\ngrowth_best = {huge}\n", f"[provenance]\na = [1, {huge}]\n"):
        path.write_text(text)
        with pytest.raises(InputError, match="has more than 64 bits"):
            read_parameters(path)
    path.write_text(f"[about]\nlabel = {huge}\n")
    with pytest.raises(InputError, match=r"integer at about\.label has more than 64 bits"):
        read_prices(path)
    path.write_text(f"site = {huge}\n")
    with pytest.raises(InputError, match="integer at site has more than 64 bits"):
        read_climatology(path)


def test_a_blank_latitude_of_a_plot(tmp_path: Path) -> None:
    path = tmp_path / "plots.csv"
    path.write_text(
        "site,latitude,sown,sampled,biomass_kg_ha\n"
        "a,,2005-10-20,2006-04-15,4000\na,33,2006-10-20,2007-04-15,4100\n"
        "b,,2005-10-20,2006-04-15,4000\n"
    )
    plots = read_plots(path)
    assert plots.table["latitude"].tolist()[:2] == [33.0, 33.0]
    assert np.isnan(plots.table["latitude"].iloc[2])
    assert "The latitude is blank in 1 row: that of the site's other rows is taken (a)." in (
        plots.notes
    )


def test_out_on_a_loop_of_links(tmp_path: Path) -> None:
    loop = tmp_path / "loop.csv"
    loop.symlink_to(tmp_path / "other.csv")
    (tmp_path / "other.csv").symlink_to(loop)
    done = run("degreedays", "--base", "40degF", "--out", str(loop))
    assert done.exit_code == 2
    assert "cannot be written" in done.stderr or "leads back to itself" in done.stderr
    with pytest.raises(InputError, match="cannot be written"):
        write_parameters(ParameterFile(), loop)


def test_a_working_folder_that_is_gone(tmp_path: Path) -> None:
    gone = tmp_path / "gone"
    gone.mkdir()
    code = (
        "import os, sys; import simulator.commands as c; os.rmdir(os.getcwd()); "
        "sys.argv = ['fallsown', 'check', 'w.csv']; c.main()"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=gone,
        capture_output=True,
        check=False,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )
    told = done.stderr.decode()
    assert done.returncode == 2, told
    assert "fault of ours" not in told


def test_an_empty_file_in_the_compile_cache(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cache_files, "CACHE", tmp_path)
    (tmp_path / "a").mkdir()
    empty, whole = tmp_path / "a" / "day.grow-1.py311.nbi", tmp_path / "a" / "day.grow-1.py311.nbc"
    empty.touch()
    whole.write_bytes(b"code")
    told: list[str] = []
    assert cache_files.remove_empty(told.append) == 1
    assert told == [f"{empty} was empty: it is removed, and compiled again."]
    assert not empty.exists()
    assert whole.exists()


@pytest.mark.long
def test_a_command_runs_again_after_an_empty_cache_file(tmp_path: Path) -> None:
    """Thermal time is compiled without the season loop, so nothing looks before it runs."""
    environment = os.environ | {"XDG_CACHE_HOME": str(tmp_path)}
    command = [
        sys.executable,
        "-c",
        "from simulator.commands import main; main()",
        "degreedays",
        "--base",
        "40degF",
        "--json",
    ]
    first = subprocess.run(command, capture_output=True, check=True, env=environment)
    indices = sorted(tmp_path.rglob("*.nbi"), key=lambda path: "_sum_seasons" not in path.name)
    assert "_sum_seasons" in indices[0].name  # the one that is called: it is opened first
    indices[0].write_bytes(b"")
    again = subprocess.run(command, capture_output=True, check=False, env=environment)
    assert again.returncode == 0, again.stderr
    assert f"{indices[0]} was empty: it is removed".encode() in again.stderr
    assert again.stdout == first.stdout
    assert any(path.stat().st_size for path in indices if path.exists())


def test_too_few_file_handles(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_more(*_: object, **__: object) -> None:
        raise OSError(errno.EMFILE, "Too many open files")

    monkeypatch.setattr("simulator.weather.files.checking.check_stations", no_more)
    done = run("check", "w.csv")
    assert done.exit_code == 2
    assert "More files are open than this system allows" in done.stderr


def test_a_list_of_kinds_is_bounded(tmp_path: Path) -> None:
    path = tmp_path / "kinds.csv"
    with path.open("wb") as sparse:
        sparse.truncate(3 * 2**30)
    with pytest.raises(InputError, match="It is larger than 2,000,000 bytes"):
        read_kinds_file(path)


# --- coordinates ---


@pytest.mark.parametrize("east", [5000.0, 1e300, -200.0, 360.5])
def test_longitudes_that_are_none(tmp_path: Path, east: float) -> None:
    path = tmp_path / "w.csv"
    path.write_text(f"# longitude: {east!r}\n{table(5)}")
    assert "lies outside -180 to 360 degrees east" in refused(path)
    cf(longitude=east).to_netcdf(tmp_path / "w.nc")
    assert "lies outside -180 to 360 degrees east" in refused(tmp_path / "w.nc")
    many = xr.concat([cf(), cf()], dim="site").assign_coords(
        site=["a", "b"], longitude=("site", [east, 10.0])
    )
    many.to_netcdf(tmp_path / "many.nc")
    read = dict(places.read_places(places.find_places(tmp_path / "many.nc")[0]))
    said = {place.site: found for place, found in read.items()}
    assert "outside -180 to 360" in str(said["a"])
    assert said["b"].attrs["longitude"] == 10.0
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder" / "w.csv").write_text(table(5))
    (tmp_path / "folder" / "stations.csv").write_text(f"file,latitude,longitude\nw.csv,33,{east}\n")
    found, problems = places.find_places(tmp_path / "folder")
    assert not found
    assert "is not the longitude of w.csv" in str(problems[0])


def test_a_longitude_of_the_other_custom(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    path.write_text(f"# longitude: 274.5\n{table(5)}")
    assert read_weather(path, latitude=33.0).attrs["longitude"] == -85.5


def test_degrees_are_written_as_people_do(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    path.write_text(f"# latitude: 3_1\n{table(5)}")
    assert "'3_1' is not a number" in refused(path, latitude=None)
    done = run("season", "--weather", str(path), "--latitude", "3_1")
    assert done.exit_code == 2
    assert "'3_1' is not a valid float" in done.stderr


def doubts_of(path: Path, **options: object) -> str:
    read = understand(path, **({"latitude": 33.0} | options))  # type: ignore[arg-type]
    assert not read.daily.problems
    return " | ".join(map(str, read.daily.doubts))


def test_a_place_that_moves(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    lines = table(40).splitlines()
    moved = [
        f"{lines[0]},latitude",
        *(f"{line},{33 if i < 20 else 40}" for i, line in enumerate(lines[1:])),
    ]
    path.write_text("\n".join(moved))
    assert "line 22, column 'latitude': It changes from 33 to 40; the first is taken" in (
        doubts_of(path, latitude=None)
    )
    path.write_text("# latitude: 40\n" + "\n".join(f"{line}" for line in moved[:21]))
    assert "It is 33, above the header 40; the column is followed" in doubts_of(path, latitude=None)
    path.write_text("# latitude: 33\n# lat: 40\n" + table(40))
    assert "say '33' and '40'; the first is taken" in doubts_of(path, latitude=None)
    path.write_text("\n".join([moved[0], lines[1] + ",", *moved[2:21]]))
    assert understand(path).latitude == 33.0
    assert "latitude" not in doubts_of(path, latitude=None)


# --- what passed in silence ---


def test_highs_that_are_lows(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    rows = [line.split(",") for line in table(30).splitlines()[1:]]
    path.write_text(HEADER + "".join(f"{d},{hi},{hi},{rain}\n" for d, hi, _, rain in rows))
    assert "tmax equals tmin here and on every other day" in doubts_of(path)
    path.write_text(table(30))
    assert "tmax equals" not in doubts_of(path)


def test_decimal_commas_beside_points(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    text = table(30).replace(",", ";").replace(";0\n", ";1,234\n")
    path.write_text(text.replace(";20;", ";20.5;"))
    assert "'1,234' is read as 1.234, and other numbers of the table have decimal points" in (
        doubts_of(path)
    )
    path.write_text(text.replace(";20;", ";20,5;"))
    assert "decimal points" not in doubts_of(path)


@pytest.mark.parametrize("option", ["--nitrogen", "--seeding"])
def test_commas_between_thousands(option: str) -> None:
    for text in ("90,000 lb/acre", "90, 050 lb/acre"):
        done = run("compare", option, text)
        assert done.exit_code == 2
        assert "may be one number or two" in done.stderr
    with pytest.raises(InputError, match="may be one number or two"):
        parse_list("90,000 lb/acre", "kg/ha", name=option)
    assert len(parse_list("0,0.5,30,100 lb/acre", "kg/ha", name=option)) == 4


def test_what_is_no_file_in_a_folder(tmp_path: Path) -> None:
    (tmp_path / "w.csv").write_text(table(5))
    (tmp_path / "gone.csv").symlink_to(tmp_path / "nothing.csv")
    os.mkfifo(tmp_path / "pipe.csv")
    found, problems = places.find_places(tmp_path, latitude=33.0)
    assert [place.site for place in found] == ["w"]
    assert [str(problem).split(" Mend")[0] for problem in problems] == [
        "gone.csv: It is a link to nothing.",
        "pipe.csv: It is not an ordinary file.",
    ]


@pytest.mark.parametrize("memory", ["nan", "inf", "0", "-5 GB", "1e400", ""])
def test_amounts_of_memory_that_are_none(memory: str) -> None:
    with pytest.raises(InputError, match="is no amount of memory"):
        bytes_of(memory)


def test_workers_beside_a_cluster(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="The cluster has its own workers"):
        run_grid(
            [places.Place("a", "tallow-bend")],
            out=tmp_path / "g.zarr",
            workers=2,
            cluster="tcp://127.0.0.1:1",
        )


# --- netCDF that the C library does not come back from ---


@pytest.fixture
def _no_process_kept() -> Iterator[None]:
    netcdf_probe._end()
    yield
    netcdf_probe._end()


@pytest.mark.parametrize("body", ["import time; time.sleep(60)", "import os; os.abort()"])
@pytest.mark.usefixtures("_no_process_kept")
def test_a_file_that_hangs_or_crashes_the_library(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, body: str
) -> None:
    cf().to_netcdf(tmp_path / "w.nc")
    honest = netcdf_probe._TRIAL
    monkeypatch.setattr(netcdf_probe, "LONGEST", 3.0)
    monkeypatch.setattr(netcdf_probe, "_TRIAL", f"for line in __import__('sys').stdin:\n {body}")
    assert "looks like netCDF but cannot be read" in refused(tmp_path / "w.nc")
    monkeypatch.setattr(netcdf_probe, "LONGEST", 60.0)
    monkeypatch.setattr(netcdf_probe, "_TRIAL", honest)
    refused(tmp_path / "w.nc")  # once more, untried
    assert not netcdf_probe._kept
    monkeypatch.setattr(netcdf_probe, "REMEMBERED", 0.0)
    assert read_weather(tmp_path / "w.nc").sizes["time"] == 300
    first = netcdf_probe._kept[0].running.pid
    cf(200).to_netcdf(tmp_path / "other.nc")
    assert read_weather(tmp_path / "other.nc").sizes["time"] == 200
    assert netcdf_probe._kept[0].running.pid == first


@pytest.mark.filterwarnings("error")
def test_the_library_does_not_warn_of_styles(tmp_path: Path) -> None:
    styles = f"<styleSheet {NAMES}><cellXfs><xf/></cellXfs></styleSheet>"
    path = mutated(tmp_path / "w.xlsx", sheet_of(weather_rows()), "styles.xml", lambda _: styles)
    assert "is not a date" in refused(path)  # without its style a date is a bare number
