"""Weather in: every layout gives the same record, and what cannot be read says why."""

from __future__ import annotations

import zipfile
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest
import xarray as xr
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from simulator.problems import InputError
from simulator.weather.fall_year import fall_season, season_day, usable_years
from simulator.weather.files.reading import read_weather
from simulator.weather.record import fill_short_gaps, make_record

# Three days in degC and mm; every layout below writes these.
DAYS = ("2005-11-01", "2005-11-02", "2005-11-03")
TMAX, TMIN, RAIN = (23.9, 23.3, 18.0), (12.2, -1.5, 7.0), (15.2, 0.0, 0.3)


def written(folder: Path, text: str, name: str = "w.csv", encoding: str = "utf-8") -> Path:
    path = folder / name
    path.write_bytes(text.encode(encoding))
    return path


def assert_same(record: xr.Dataset, tolerance: float = 1e-9) -> None:
    assert [str(day)[:10] for day in record["time"].values] == list(DAYS)
    for name, values in (("tmax", TMAX), ("tmin", TMIN), ("rain", RAIN)):
        np.testing.assert_allclose(record[name].values, values, rtol=0, atol=tolerance)
        assert record[name].attrs["units"] == ("mm" if name == "rain" else "degC")


def refused(path: Path, **options: object) -> str:
    with pytest.raises(InputError) as caught:
        read_weather(path, **({"latitude": 31.3} | options))  # type: ignore[arg-type]
    return str(caught.value)


PLAIN = "date,tmax (degC),tmin (degC),rain (mm)\n" + "".join(
    f"{row[0]},{row[1]},{row[2]},{row[3]}\n" for row in zip(DAYS, TMAX, TMIN, RAIN, strict=True)
)
SEMICOLON = PLAIN.replace(",", ";").replace(".", ",")


@pytest.mark.parametrize(
    ("text", "encoding"),
    [
        (PLAIN, "utf-8"),
        (PLAIN, "utf-8-sig"),
        (PLAIN, "utf-16"),
        (PLAIN.replace("\n", "\r\n"), "utf-8"),
        (PLAIN.replace("\n", "\r"), "utf-8"),
        (PLAIN.replace(",", "\t"), "utf-8"),
        (PLAIN.replace(",", ";"), "utf-8"),
        (SEMICOLON, "utf-8"),
        (PLAIN.replace(",", "\t").replace(".", ","), "utf-8"),
        (SEMICOLON.replace("degC", "°C"), "latin-1"),
        (PLAIN.replace("-1.5", "\u22121.5"), "utf-8"),
        ("Station log of an invented farm,,,\n\n" + PLAIN, "utf-8"),
        (PLAIN.replace("2005-11-0", "2005/11/"), "utf-8"),
        (PLAIN.replace("2005-11-", "200511"), "utf-8"),
        (PLAIN.replace("2005-11-01", "1 Nov 2005"), "utf-8"),
    ],
)
def test_delimiters_encodings_and_dates(tmp_path: Path, text: str, encoding: str) -> None:
    assert_same(read_weather(written(tmp_path, text, encoding=encoding), latitude=31.3))


@pytest.mark.parametrize(
    "header",
    [
        "Date,Tmax [°C],Tmin [°C],Rain [mm]",
        "DATE,TMAX_C,TMIN_C,PRCP_MM",
        "Datum,Maximum temperature (deg C),Minimum temperature (deg C),Precipitation (mm/day)",
        "day,T max °C,T min °C,rainfall mm",
        "time,High Temp (Celsius),Low Temp (Celsius),Daily total rain (millimetres)",
        "date,tasmax (C),tasmin (C),pr (kg m-2)",
    ],
)
def test_tolerant_headers(tmp_path: Path, header: str) -> None:
    text = header + "\n" + PLAIN.split("\n", 1)[1]
    assert_same(read_weather(written(tmp_path, text), latitude=31.3))


def test_columns_in_any_order_beside_others(tmp_path: Path) -> None:
    text = "rain (mm),humidity max (%),tmin (degC),year,month,day,tmax (degC),remark\n"
    for i, (tmax, tmin, rain) in enumerate(zip(TMAX, TMIN, RAIN, strict=True), start=1):
        text += f"{rain},90,{tmin},2005,11,{i},{tmax},fine\n"
    assert_same(read_weather(written(tmp_path, text), latitude=31.3))


def test_year_and_day_of_year(tmp_path: Path) -> None:
    text = "year,doy,tmax (degC),tmin (degC),rain (mm)\n"
    for i, row in enumerate(zip(TMAX, TMIN, RAIN, strict=True)):
        text += f"2005,{305 + i},{row[0]},{row[1]},{row[2]}\n"
    assert_same(read_weather(written(tmp_path, text), latitude=31.3))


@pytest.mark.parametrize(
    ("form", "shown"),
    [
        ("DD/MM/YYYY", "%d/%m/%Y"),
        ("MM/DD/YYYY", "%m/%d/%Y"),
        ("%d.%m.%y", "%d.%m.%y"),
        ("dd.mm.yyyy", "%d.%m.%Y"),
        ("YYYY-DD-MM", "%Y-%d-%m"),
    ],
)
def test_declared_dates(tmp_path: Path, form: str, shown: str) -> None:
    text = PLAIN
    for day in DAYS:
        text = text.replace(day, date.fromisoformat(day).strftime(shown))
    assert_same(read_weather(written(tmp_path, text), latitude=31.3, date_format=form))


def test_undeclared_dates_are_asked_for_unless_one_order_fits(tmp_path: Path) -> None:
    text = PLAIN
    for day in DAYS:
        text = text.replace(day, date.fromisoformat(day).strftime("%d/%m/%Y"))
    said = refused(written(tmp_path, text))
    assert "w.csv, line 2, the date: '01/11/2005' may be day/month or month/day" in said
    assert "2 rows more" in said
    assert "date_format DD/MM/YYYY" in said

    rows = "".join(f"11/{day:02d}/2005,20,10,0.5\n" for day in range(1, 31))
    record = read_weather(
        written(tmp_path, "date,tmax (degC),tmin (degC),rain (mm)\n" + rows), latitude=31.3
    )
    assert str(record["time"].values[-1])[:10] == "2005-11-30"


def test_comment_lines_carry_the_place(tmp_path: Path) -> None:
    head = (
        "# site: Lowdale\n# latitude: 31.3\n# longitude: -85.2\n# invented: yes\n# source: seed 7\n"
    )
    record = read_weather(written(tmp_path, head + PLAIN))
    assert_same(record)
    assert record.attrs["site"] == "Lowdale"
    assert record.attrs["latitude"] == 31.3
    assert record.attrs["longitude"] == -85.2
    assert record.attrs["invented"] == "yes"
    said = refused(written(tmp_path, head + PLAIN.replace("18.0", "n/a")))
    assert "line 9, column 'tmax (degC)': 'n/a' is not a number" in said


def test_columns_carry_the_place(tmp_path: Path) -> None:
    lines = PLAIN.splitlines()
    text = "site,latitude," + lines[0] + "\n"
    text += "".join(
        f"{site},{lat},{line}\n"
        for site, lat in (("North", 36.5), ("South", 31.3))
        for line in lines[1:]
    )
    path = written(tmp_path, text)
    record = read_weather(path, site="South")
    assert_same(record)
    assert record.attrs["latitude"] == 31.3
    said = refused(path)
    assert "'North', 'South'" in said
    assert "Choose one with site, such as site '" in said


@pytest.mark.analytic("degF = 1.8 degC + 32 and 25.4 mm to the inch, both exact by definition")
def test_us_units_by_header_and_by_declaration(tmp_path: Path) -> None:
    rows = "2005-11-01,75,54,0.6\n2005-11-02,212,32,1\n"
    expected = ((75 - 32) / 1.8, (54 - 32) / 1.8, 0.6 * 25.4)
    rows = rows.replace("212", "41")
    for text, declared in (
        ("date,tmax (degF),tmin (°F),rain (inch)\n", None),
        ("date,tmax,tmin,rain\n", "us"),
        ("date,tmax (F),tmin,rain [in]\n", "us"),
    ):
        record = read_weather(written(tmp_path, text + rows), latitude=31.3, units_of_file=declared)
        for name, value in zip(("tmax", "tmin", "rain"), expected, strict=True):
            assert record[name].values[0] == pytest.approx(value, abs=1e-9)
        assert record["tmax"].values[1] == pytest.approx(5.0, abs=1e-9)


def test_a_missing_unit_says_what_to_write(tmp_path: Path) -> None:
    said = refused(written(tmp_path, PLAIN.replace("tmin (degC)", "tmin")))
    assert "w.csv, line 1, column 'tmin': The header does not say the unit." in said
    assert "tmin (degF) or tmin (degC)" in said
    assert "units_of_file" in said
    said = refused(written(tmp_path, PLAIN.replace("(mm)", "(bushels)")))
    assert "'bushels' is not a unit of rain" in said


def test_tenths_in_the_header(tmp_path: Path) -> None:
    text = "date,tmax (0.1 degC),tmin (tenths of degC),rain (0.1 mm)\n"
    for row in zip(DAYS, TMAX, TMIN, RAIN, strict=True):
        text += f"{row[0]},{row[1] * 10:.0f},{row[2] * 10:.0f},{row[3] * 10:.0f}\n"
    assert_same(read_weather(written(tmp_path, text), latitude=31.3))


@pytest.mark.published("GHCN-Daily readme, section III: fixed columns, tenths, -9999, quality flag")
def test_fixed_width_dly(tmp_path: Path) -> None:
    def month(element: str, values: list[str]) -> str:
        return "USX00000001200511" + element + "".join(f"{v:<8}" for v in values) + "\n"

    blank = ["-9999   "] * 28
    text = month("TMAX", ["  239  X", "  233  0", "  180  0", *blank])
    text += month("TMIN", ["  122  0", "  -15  0", "   70  0", *blank])
    text += month("PRCP", ["  152  0", "    0T 0", "    3  0", *blank])
    text += month("SNOW", ["    0  0", "    0  0", "    0  0", *blank])
    path = written(tmp_path, text, "x.dly")
    record = read_weather(path, latitude=31.3)
    assert_same(record)
    assert record.attrs["site"] == "USX00000001"
    assert "such as latitude 31.3." in refused(path, latitude=None)

    failed = written(tmp_path, text.replace("  233  0", "  233 I0"), "y.dly")
    record = read_weather(failed, latitude=31.3)
    assert np.isnan(record["tmax"].values[1])
    assert "2005-11-02 (I)" in record.attrs["notes"]

    no_such_day = text.replace("TMAX", "PRCP").replace("200511", "200502")
    no_such_day = no_such_day.replace("-9999   ", "    5  0")
    assert "2005-02-30 does not exist" in refused(written(tmp_path, no_such_day, "z.dly"))


@pytest.mark.published("GHCN-Daily readme of the files by station: id, date, element, value, flags")
def test_ghcn_rows_of_elements(tmp_path: Path) -> None:
    text = ""
    for i, day in enumerate(DAYS):
        for element, values in (("TMAX", TMAX), ("TMIN", TMIN), ("PRCP", RAIN)):
            text += f"USX00000001,{day.replace('-', '')},{element},{values[i] * 10:.0f},,,7,0700\n"
        text += f"USX00000001,{day.replace('-', '')},SNOW,0,,,7,\n"
    path = written(tmp_path, text)
    assert_same(read_weather(path, latitude=31.3))
    two = written(tmp_path, text + text.replace("001,", "002,"), "two.csv")
    assert "('USX00000001', 'USX00000002')" in refused(two)
    assert_same(read_weather(two, latitude=31.3, site="USX00000002"))
    failed = text.replace("TMAX,233,,,7", "TMAX,233,,G,7")
    record = read_weather(written(tmp_path, failed), latitude=31.3)
    assert np.isnan(record["tmax"].values[1])
    junk = refused(written(tmp_path, text + "x\n" * 100_000, "junk.csv"))
    assert "junk.csv, line 13: 'x' is not a row of GHCN-Daily." in junk
    twice = text + "USX00000001,20051102,TMAX,230,,,7,\n"
    assert "line 13, TMAX of 2005-11-02: The same day stands in line 5" in refused(
        written(tmp_path, twice)
    )


GHCN_TABLE = '"STATION","DATE","LATITUDE","LONGITUDE","NAME","PRCP","PRCP_ATTRIBUTES","TMAX","TMAX_ATTRIBUTES","TMIN","TMIN_ATTRIBUTES"\n'  # noqa: E501


def ghcn_table(rain: list[str], tmax: list[str], tmin: list[str], flag: str = "") -> str:
    text = GHCN_TABLE
    for i, day in enumerate(DAYS):
        text += (
            f'"USX00000001","{day}","31.3","-85.2","LOWDALE 2 N, XX US","{rain[i]:>5}",",,7",'
            f'"{tmax[i]:>5}",",{flag * (i == 1)},7","{tmin[i]:>5}",",,7"\n'
        )
    return text


def test_ghcn_table_in_its_three_scales(tmp_path: Path) -> None:
    tenths = ghcn_table(["152", "0", "3"], ["239", "233", "180"], ["122", "-15", "70"])
    record = read_weather(written(tmp_path, tenths))
    assert_same(record)
    assert record.attrs["site"] == "LOWDALE 2 N, XX US"
    assert record.attrs["latitude"] == 31.3
    assert "tenths of degC" in record.attrs["notes"]
    metric = ghcn_table(["15.2", "0.0", "0.3"], ["23.9", "23.3", "18.0"], ["12.2", "-1.5", "7.0"])
    assert_same(read_weather(written(tmp_path, metric)))
    us = ghcn_table(["0.60", "0.00", "0.01"], ["75", "74", "64"], ["54", "29", "45"])
    record = read_weather(written(tmp_path, us))
    assert record["tmax"].values[0] == pytest.approx(23.888889, abs=1e-6)
    assert record["rain"].values[0] == pytest.approx(15.24, abs=1e-9)
    either = ghcn_table(["0", "0", "0"], ["25", "24", "20"], ["12", "9", "7"])
    assert "units_of_file us or si" in refused(written(tmp_path, either))
    declared = read_weather(written(tmp_path, either), units_of_file="si")
    assert declared["tmax"].values[0] == 25.0


def test_ghcn_table_quality_flags(tmp_path: Path) -> None:
    text = ghcn_table(["152", "0", "3"], ["239", "233", "180"], ["122", "-15", "70"], flag="I")
    record = read_weather(written(tmp_path, text))
    assert np.isnan(record["tmax"].values[1])
    assert "failed a quality check" in record.attrs["notes"]


def cf_dataset() -> xr.Dataset:
    times = np.array(DAYS, dtype="datetime64[ns]")
    kelvin = {"standard_name": "air_temperature", "units": "K"}
    return xr.Dataset(
        {
            "a": ("time", np.array(TMAX) + 273.15, kelvin | {"cell_methods": "time: maximum"}),
            "b": ("time", np.array(TMIN) + 273.15, kelvin | {"cell_methods": "time: minimum"}),
            "c": (
                "time",
                np.array(RAIN) / 86400,
                {"standard_name": "precipitation_flux", "units": "kg m-2 s-1"},
            ),
        },
        {"time": times, "lat": 31.3, "lon": -85.2},
    )


def test_cf_netcdf(tmp_path: Path) -> None:
    path = tmp_path / "cf.nc"
    cf_dataset().to_netcdf(path)
    record = read_weather(path)
    assert_same(record)
    assert record.attrs["latitude"] == 31.3

    sites = xr.concat([cf_dataset() + 1, cf_dataset()], "site", combine_attrs="override")
    for name, variable in cf_dataset().data_vars.items():
        sites[name].attrs = variable.attrs
    sites = sites.assign_coords(site=["North", "South"], lat=("site", [36.5, 31.3]))
    sites.to_netcdf(tmp_path / "sites.nc")
    assert "'North', 'South'" in refused(tmp_path / "sites.nc", latitude=None)
    record = read_weather(tmp_path / "sites.nc", site="South")
    assert_same(record)
    assert record.attrs["latitude"] == 31.3


def test_netcdf_faults(tmp_path: Path) -> None:
    data = cf_dataset()
    data["a"].attrs["units"] = "mm"
    del data["c"].attrs["units"]
    data.drop_vars("b").to_netcdf(tmp_path / "bad.nc")
    said = refused(tmp_path / "bad.nc")
    assert "'mm' is not a unit of temperature" in said
    assert "It has no units" in said
    assert "No variable is tmin" in said
    grid = cf_dataset().expand_dims(y=3, x=4)
    grid.to_netcdf(tmp_path / "grid.nc")
    assert "a grid (y 3 x x 4)" in refused(tmp_path / "grid.nc")
    other = xr.date_range("2005-02-27", periods=3, calendar="noleap", use_cftime=True)
    cf_dataset().assign_coords(time=other).to_netcdf(tmp_path / "noleap.nc")
    assert "no time of the standard calendar" in refused(tmp_path / "noleap.nc")
    (tmp_path / "torn.nc").write_bytes((tmp_path / "grid.nc").read_bytes()[:200])
    assert "cannot be read" in refused(tmp_path / "torn.nc")


def test_spreadsheet(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Lowdale farm log"])
    sheet.append([])
    sheet.append(["latitude", 31.3])
    sheet.append(["date", "tmax (degC)", "tmin (degC)", "rain (mm)"])
    for i, row in enumerate(zip(TMAX, TMIN, RAIN, strict=True)):
        day = datetime.fromisoformat(DAYS[i])
        sheet.append([day if i else DAYS[0], *row])
    book.create_sheet("other")
    book.save(tmp_path / "w.xlsx")
    record = read_weather(tmp_path / "w.xlsx")
    assert_same(record)
    assert record.attrs["latitude"] == 31.3
    assert "first of 2 sheets" in record.attrs["notes"]
    sheet["B6"] = "n/a"
    sheet["C7"] = "=1+1"
    book.save(tmp_path / "w.xlsx")
    said = refused(tmp_path / "w.xlsx")
    assert "w.xlsx, row 6, column 'tmax (degC)': 'n/a' is not a number" in said
    assert "row 7" not in said  # never evaluated, never saved with a value: blank


def test_spreadsheets_that_are_not(tmp_path: Path) -> None:
    bomb = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/workbook.xml", "<a/>")
        packed.writestr("xl/worksheets/sheet1.xml", b"\0" * (170 * 2**20))
    assert bomb.stat().st_size < 2**20
    assert "unpacks to over 160 MB" in refused(bomb)
    entities = tmp_path / "entities.xlsx"
    with zipfile.ZipFile(entities, "w") as packed:
        packed.writestr("xl/workbook.xml", '<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>')
    assert "XML entities" in refused(entities)
    other = tmp_path / "other.zip"
    with zipfile.ZipFile(other, "w") as packed:
        packed.writestr("w.csv", PLAIN)
    assert "not a spreadsheet" in refused(other)
    torn = written(tmp_path, "PK\x03\x04 torn", "torn.xlsx")
    assert "cannot be unpacked" in refused(torn)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "It is empty."),
        (b"  \n\n", "It is empty."),
        (bytes(range(256)) * 40, "It is not text"),
        (b"\xd0\xcf\x11\xe0" + b"\0" * 600, "an old spreadsheet"),
        (b"\x1f\x8b\x08 and so on", "packed (gzip)"),
        (b"2005-11-01,23,12,0\n2005-11-02,22,11,0\n", "begins without a header"),
        (b"Dear Sir or Madam, I write to you\nabout the rye.\n", "No header with a date"),
        (b"date,tmax (degC),tmin (degC),rain (mm)\n", "Nothing stands below the header."),
        (b'date,tmax (degC),tmin (degC),rain (mm)\n"2005-11-01,1,2,3\n', "quotation mark"),
        (b"date,tmax (degC),rain (mm)\n2005-11-01,1,3\n", "daily minimum temperature"),
        (b"date,tmax (degC),tmax (degF),tmin (degC),rain (mm)\n2005-11-01,1,3,0,0\n", "all name"),
        (b"date,tmax (degC),tmin (degC),rain (mm)\n2005-11-01,12,5,3,1,0\n", "6 cells"),
        (b"date,tmax (degC),tmin (degC),rain (mm)\n2005-11-01,12\n", "2 of the 4 cells"),
        (b"," * 30_000, "30,000 characters"),
        (b"," * 300, "301 cells"),
        (b"date,tmax (degC),tmin (degC),rain (mm)\n2005-02-30,12,5,0\n", "does not exist"),
        (b"date,tmax (degC),tmin (degC),rain (mm)\n,12,5,0\n", "The date is blank."),
        (b"date,tmax (degC),tmin (degC),rain (mm)\n2005-11-01,=1+1,5,0\n", "'=1+1' is not a num"),
        (b"date,tmax (degC),tmin (degC),rain (mm)\n2005-11-01,inf,5,0\n", "'inf' is not a num"),
    ],
)
def test_hostile_and_broken_files(tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "w.csv"
    path.write_bytes(content)
    said = refused(path)
    assert says in said
    assert "w.csv" in said


def test_folder_missing_and_too_large(tmp_path: Path) -> None:
    assert "It is a folder." in refused(tmp_path)
    assert "There is no such file." in refused(tmp_path / "none.csv")
    large = tmp_path / "large.csv"
    with large.open("wb") as opened:
        opened.truncate(200 * 2**20)
    assert "200 MB; at most 64 MB" in refused(large)
    rows = written(tmp_path, "date,tmax (degC)\n" + "2005-11-01,1\n" * 200_100)
    assert "more than 200,000 rows" in refused(rows)


def test_all_faults_are_gathered(tmp_path: Path) -> None:
    text = PLAIN.replace("23.9", "n/a").replace("2005-11-02", "2005-11-31").replace("0.3", "-")
    with pytest.raises(InputError) as caught:
        read_weather(written(tmp_path, text))
    assert [problem.where for problem in caught.value.problems] == [
        "w.csv",
        "w.csv, line 3, the date",
        "w.csv, line 2, column 'tmax (degC)'",
        "w.csv, line 4, column 'rain (mm)'",
    ]
    assert "such as latitude 31.3." in str(caught.value)


@pytest.mark.parametrize(
    ("latitude", "says"),
    [(-31.3, "lies in the south"), (70.0, "outside 0 to 66"), (float("nan"), "not a number")],
)
def test_latitudes_refused(tmp_path: Path, latitude: float, says: str) -> None:
    assert says in refused(written(tmp_path, PLAIN), latitude=latitude)


def test_latitude_may_wait(tmp_path: Path) -> None:
    assert np.isnan(read_weather(written(tmp_path, PLAIN), need_latitude=False).latitude)


@pytest.mark.parametrize("kind", ["NETCDF4", "NETCDF3_CLASSIC", "NETCDF3_64BIT"])
def test_a_record_written_as_netcdf_reads_back(tmp_path: Path, kind: Any) -> None:
    record = read_weather(written(tmp_path, PLAIN), latitude=31.3, longitude=-85.2, site="Lowdale")
    record.attrs["changes"] = "rain november = 11 inch"
    record.attrs["filled"] = "tmax 1 day by a straight line: 2005-11-02"
    record.to_netcdf(tmp_path / "r.nc", format=kind)
    again = read_weather(tmp_path / "r.nc")
    xr.testing.assert_equal(record, again)
    for key in ("site", "latitude", "longitude", "changes", "filled", "invented"):
        assert again.attrs[key] == record.attrs[key]
    assert again.attrs["source"] == "r.nc (w.csv)"


temperatures = st.floats(-20, 20).map(lambda value: round(value, 1))
a_day = st.tuples(temperatures, st.floats(0, 15), st.floats(0, 90).map(lambda v: round(v, 1)))


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(days=st.lists(a_day | st.none(), min_size=2, max_size=19), us=st.booleans())
def test_round_trip_in_both_systems(
    tmp_path: Path, days: list[tuple[float, float, float] | None], us: bool
) -> None:
    first = date(2005, 11, 1)
    head = "date,tmax (degF),tmin (degF),rain (inch)" if us else PLAIN.split("\n", 1)[0]
    lines, expected = [head], []
    for i, day in enumerate([*days, (5.0, 5.0, 1.0)]):  # a file of blanks alone is not a record
        tmin, spread, rain = day or (np.nan, np.nan, np.nan)
        expected.append((tmin + spread, tmin, rain))
        values = expected[-1]
        if us:
            values = (values[0] * 1.8 + 32, values[1] * 1.8 + 32, rain / 25.4)
        cells = ["" if np.isnan(value) else repr(float(value)) for value in values]
        lines.append(",".join([str(first + timedelta(days=i)), *cells]))
    record = read_weather(written(tmp_path, "\n".join(lines)), latitude=31.3)
    for column, name in enumerate(("tmax", "tmin", "rain")):
        np.testing.assert_allclose(
            record[name].values, [row[column] for row in expected], rtol=0, atol=1e-9
        )


def thirty_years() -> str:
    days = np.arange(np.datetime64("1990-07-01"), np.datetime64("2020-07-01"))
    doy = np.arange(days.size) % 365
    tmax = 22 + 10 * np.cos(2 * np.pi * (doy - 20) / 365)
    lines = [
        f"{day},{top + i % 7 / 10:.1f},{top - 10 + i % 5:.1f},{(i % 4 == 0) * 14}"
        for i, (day, top) in enumerate(zip(days, tmax, strict=True))
    ]
    return PLAIN.split("\n", 1)[0] + "\n" + "\n".join(lines)


def test_thirty_years_are_read_whole(tmp_path: Path) -> None:
    record = read_weather(written(tmp_path, thirty_years()), latitude=31.3)
    assert record.sizes["time"] == 10958
    assert record["tmax"].notnull().all()


def test_open_data_stations(open_data: Path) -> None:
    record = read_weather(open_data / "weather" / "headland_winters_2005_2007.csv", latitude=31.35)
    assert record["tmax"].values[0] == pytest.approx((74 - 32) / 1.8, abs=1e-9)
    assert record["rain"].values[0] == pytest.approx(0.6 * 25.4, abs=1e-9)
    assert str(record["time"].values[-1])[:10] == "2007-04-30"
    assert record.sizes["time"] == 546  # the summer between is there, as NaN
    years, left_out = usable_years(fill_short_gaps(record), "11-01", "04-15")
    assert (years, left_out) == ([2005, 2006], {})
    years, left_out = usable_years(record, "11-01", "04-15")
    assert years == [2006]
    assert left_out[2005] == "no tmax and tmin from 2006-02-13 to 2006-02-14 (2 days)."


def record_of(tmax: list[float], tmin: list[float], rain: list[float]) -> xr.Dataset:
    time = np.datetime64("2005-11-01") + np.arange(len(tmax))
    return make_record(time, tmax, tmin, rain, site="Lowdale", latitude=31.3)


@pytest.mark.analytic("a straight line between the days beside the gap")
def test_short_gaps_are_filled_and_told() -> None:
    nan = float("nan")
    record = record_of([10, nan, nan, 16, nan], [nan, 4, 15, 2, 1], [5, nan, 3, 4, 0])
    filled = fill_short_gaps(record)
    np.testing.assert_allclose(filled["tmax"].values, [10, 12, 15, 16, nan])  # 14 held to tmin
    np.testing.assert_allclose(filled["tmin"].values, [nan, 4, 15, 2, 1])  # ends stay
    np.testing.assert_allclose(filled["rain"].values, [5, 0, 3, 4, 0])
    assert "tmax 2 days by a straight line: 2005-11-02..2005-11-03" in filled.attrs["filled"]
    assert "rain 1 day as 0 mm (an average day here brings 3.0 mm)" in filled.attrs["filled"]
    assert record.attrs["filled"] == ""
    assert np.isnan(record["tmax"].values[1])


def test_longer_gaps_cost_the_season() -> None:
    nan = float("nan")
    tmax = [10.0, *[nan] * 6, 12.0]
    record = fill_short_gaps(record_of(tmax, [5.0] * 8, [0.0] * 8))
    years, left_out = usable_years(record, "11-01", "11-08")
    assert years == []
    assert left_out == {2005: "no tmax from 2005-11-02 to 2005-11-07 (6 days)."}
    with pytest.raises(InputError, match="season 2005 at Lowdale: no tmax from"):
        fall_season(record, 2005, "11-01", "11-08")
    assert fall_season(record, 2005, "11-08", "11-08").sizes["time"] == 1
    with pytest.raises(InputError, match="is needed, the record has"):
        fall_season(record, 2006, "11-01", "11-08")


def test_days_of_a_season() -> None:
    assert str(season_day(2015, "10-20")) == "2015-10-20"
    assert str(season_day(2015, "04-15")) == "2016-04-15"
    for wrong in ("02-29", "13-01", "2015-10-20", "soon"):
        with pytest.raises(InputError, match=r"^sow: "):
            season_day(2015, wrong, name="sow")


def test_records_are_made_of_days_in_order() -> None:
    with pytest.raises(InputError, match="comes after"):
        make_record(
            np.array(["2005-11-02", "2005-11-01"], dtype="datetime64[D]"),
            [1, 1],
            [0, 0],
            [0, 0],
            site="x",
            latitude=31.3,
        )
