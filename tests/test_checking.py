"""Every fault of a weather file is found and named by its row."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from simulator.commands import fallsown
from simulator.problems import InputError, Problem
from simulator.weather.files.checking import Report, check_weather
from simulator.weather.files.reading import read_weather

HEADER = "date,tmax (degC),tmin (degC),rain (mm)"


def winter(days: int = 200, first: str = "2005-11-01") -> list[list[str]]:
    """Rows of a plausible mild winter; line 2 of the file is row 0."""
    dates = np.datetime64(first) + np.arange(days)
    noise = np.random.default_rng(7).normal(0, 3, days)
    return [
        [
            str(day),
            f"{17 + noise[i]:.1f}",
            f"{6 + noise[i] - i % 3:.1f}",
            f"{(i % 4 == 0) * 14.5:.1f}",
        ]
        for i, day in enumerate(dates)
    ]


def check(folder: Path, rows: list[list[str]], header: str = HEADER, **options: object) -> Report:
    path = folder / "w.csv"
    path.write_text("\n".join([header, *(",".join(row) for row in rows)]) + "\n")
    report = check_weather(path, **({"latitude": 31.3} | options))  # type: ignore[arg-type]
    if report.problems:  # what check reports is what reading raises
        with pytest.raises(InputError) as caught:
            read_weather(path, **({"latitude": 31.3} | options))  # type: ignore[arg-type]
        assert caught.value.problems == report.problems
    return report


def only(found: list[Problem]) -> str:
    assert len(found) == 1, [str(problem) for problem in found]
    return str(found[0])


def test_a_clean_file_has_no_faults(tmp_path: Path) -> None:
    report = check(tmp_path, winter())
    assert report.usable
    assert report.problems == report.doubts == []
    assert report.notes == []
    assert report.layout == "table, cells between commas, UTF-8"
    assert report.columns["tmax"] == "column 'tmax (degC)' in degC"
    assert (report.first, report.last, report.days) == ("2005-11-01", "2006-05-19", 200)
    assert report.missing == {"tmax": 0, "tmin": 0, "rain": 0}
    assert (report.winters, report.left_out) == ([2005], {})
    assert (report.site, report.latitude) == ("w", 31.3)


def test_absent_and_blank_days(tmp_path: Path) -> None:
    rows = winter()
    rows[20][1] = rows[20][2] = ""
    for i in range(30, 40):
        rows[i][3] = ""
    del rows[50:53]
    report = check(tmp_path, rows)
    assert report.problems == []
    assert [str(doubt) for doubt in report.doubts] == [
        "w.csv, line 52: No row stands for the days before it, "
        "from 2005-12-21 to 2005-12-23 (3 days).",
        "w.csv, line 22: tmax and tmin blank on 2005-11-21.",
        "w.csv, line 32: rain blank from 2005-12-01 to 2005-12-10 (10 days).",
    ]
    assert report.missing == {"tmax": 4, "tmin": 4, "rain": 13}
    assert report.winters == []
    assert report.left_out == {2005: "no rain from 2005-12-01 to 2005-12-10 (10 days)."}
    assert "tmax 4 days by a straight line: 2005-11-21, 2005-12-21..2005-12-23" in report.filled


def test_winters_with_summers_between(tmp_path: Path) -> None:
    rows = winter(181) + winter(181, "2006-11-01") + winter(90, "2007-11-01")
    report = check(tmp_path, rows)
    assert report.problems == report.doubts == []
    assert report.notes[0] == "the record has no days from 2006-05-01 to 2006-10-31 (184 days)"
    assert report.missing == {"tmax": 0, "tmin": 0, "rain": 0}
    assert report.winters == [2005, 2006]
    assert "the record has 2005-11-01 to 2008-01-29" in report.left_out[2007]


def test_twice_and_out_of_order(tmp_path: Path) -> None:
    rows = winter()
    rows[10][0] = rows[9][0]
    rows[20], rows[21] = rows[21], rows[20]
    report = check(tmp_path, rows)
    assert [str(problem) for problem in report.problems] == [
        "w.csv, line 12: 2005-11-10 stands a second time, after line 11. Keep one row a day.",
        "w.csv, line 23: 2005-11-21 comes after 2005-11-22. Sort the rows by date.",
    ]


def test_a_row_of_many_faults_has_them_all_named(tmp_path: Path) -> None:
    rows = winter()
    rows[10] = [rows[9][0], "3", "8", "-2"]
    rows[20] = ["2005-02-30", "n/a", "-999", ""]
    assert [str(problem).split(".csv, ")[1] for problem in check(tmp_path, rows).problems] == [
        "line 22, the date: '2005-02-30' does not exist in the calendar. Correct the date.",
        "line 22, column 'tmax (degC)': 'n/a' is not a number. "
        "Leave the cell blank if the value is missing.",
        "line 22, column 'tmin (degC)': -999 stands for a missing value. "
        "Leave missing values blank.",
        "line 12, column 'rain (mm)': -2 mm is outside what weather does (0 to 1825 mm). "
        "Correct it, or leave it blank.",
        "line 12: tmax 3 degC is below tmin 8 degC. Correct them, or leave both blank.",
        "line 12: 2005-11-10 stands a second time, after line 11. Keep one row a day.",
    ]


def test_a_file_newest_first_is_named_not_sorted(tmp_path: Path) -> None:
    report = check(tmp_path, winter()[::-1])
    assert only(report.problems[:1]).endswith(
        "2006-05-18 comes after 2006-05-19. Sort the rows by date."
    )
    assert len(report.problems) == 199


def test_crossed_temperatures(tmp_path: Path) -> None:
    rows = winter()
    rows[30][1:3] = ["3.0", "11.0"]
    assert only(check(tmp_path, rows).problems) == (
        "w.csv, line 32: tmax 3 degC is below tmin 11 degC. Correct them, or leave both blank."
    )


def test_exchanged_headers(tmp_path: Path) -> None:
    report = check(tmp_path, winter(), "date,tmin (degC),tmax (degC),rain (mm)")
    assert only(report.problems) == (
        "w.csv, line 2: tmax is below tmin here and on 199 days more. Exchange the two headers."
    )


@pytest.mark.published("WMO Archive of Weather and Climate Extremes: 56.7 degC, 1825 mm in 24 h")
@pytest.mark.parametrize(
    ("column", "inside", "outside"), [(1, "56.7", "57.3"), (3, "1825", "1826")]
)
def test_beyond_the_records_of_the_world(
    tmp_path: Path, column: int, inside: str, outside: str
) -> None:
    rows = winter()
    rows[30][column] = inside
    assert check(tmp_path, rows).problems == []
    rows[30][column] = outside
    said = only(check(tmp_path, rows).problems)
    assert f"w.csv, line 32, column '{HEADER.split(',')[column]}': {outside}" in said
    assert "outside what weather does" in said


def test_colder_than_any_farm(tmp_path: Path) -> None:
    rows = winter()
    rows[30][2] = "-61"
    said = only(check(tmp_path, rows).problems)
    assert "line 32, column 'tmin (degC)': -61 degC is outside what weather does" in said


def test_negative_and_very_heavy_rain(tmp_path: Path) -> None:
    rows = winter()
    rows[3][3], rows[8][3] = "-1", "420"
    report = check(tmp_path, rows)
    assert "line 5, column 'rain (mm)': -1 mm is outside" in only(report.problems)
    assert "line 10, column 'rain (mm)': 420 mm of rain in a day" in only(report.doubts)


@pytest.mark.practice("common practice: codes that loggers and archives write for missing values")
@pytest.mark.parametrize(
    ("column", "code"),
    [
        (1, "-999"),
        (2, "-9999"),
        (1, "9999"),
        (3, "999"),
        (2, "-99.9"),
        (1, "99"),
        (3, "-99.99"),
        (3, "-9999"),
        (1, "-9999.9"),
        (3, "9999"),
        (2, "999.9"),
    ],
)
def test_sentinels(tmp_path: Path, column: int, code: str) -> None:
    rows = winter()
    for i in (40, 41, 90):
        rows[i][column] = code
    said = only(check(tmp_path, rows).problems)
    assert said == (
        f"w.csv, line 42, column '{HEADER.split(',')[column]}': {float(code):g} stands for a "
        "missing value. It stands also at line 43, line 92. Leave missing values blank."
    )


def test_a_code_within_the_range_of_rain_is_doubted(tmp_path: Path) -> None:
    rows = winter()
    rows[40][3] = rows[80][3] = "99.99"
    report = check(tmp_path, rows)
    assert report.problems == []
    assert "99.99 stands 2 times and nothing is larger" in only(report.doubts)


def test_hot_days_in_fahrenheit_are_no_sentinels(tmp_path: Path) -> None:
    rows = winter(60, "2006-07-01")
    for i, row in enumerate(rows):
        row[1:4] = [f"{90 + i % 10}", f"{70 + i % 7}", "0.5"]
    report = check(tmp_path, rows, "date,tmax (degF),tmin (degF),rain (inch)")
    assert report.problems == []


def fahrenheit(rows: list[list[str]]) -> list[list[str]]:
    return [
        [day, f"{float(tmax) * 1.8 + 32:.0f}", f"{float(tmin) * 1.8 + 32:.0f}", rain]
        for day, tmax, tmin, rain in rows
    ]


def test_fahrenheit_read_as_celsius(tmp_path: Path) -> None:
    report = check(tmp_path, fahrenheit(winter()))
    assert len(report.problems) == 2
    assert "column 'tmax (degC)'" in report.problems[0].where
    assert "does not look like degC, as Fahrenheit is" in report.problems[0].what
    assert "tmin (degF)" in str(report.problems[1])


def test_a_cold_winter_in_fahrenheit_read_as_celsius(tmp_path: Path) -> None:
    rows = [
        [day, f"{float(tmax) - 13:.1f}", f"{float(tmin) - 13:.1f}", rain]
        for day, tmax, tmin, rain in winter()
    ]
    assert check(tmp_path, rows, latitude=43.0).problems == []
    unknown = check(tmp_path, rows, latitude=None, need_latitude=False)
    assert unknown.problems == unknown.doubts == []  # a cold place is no fault
    report = check(tmp_path, fahrenheit(rows), latitude=43.0)
    assert "too warm for latitude 43" in str(report.problems[0])
    assert "If they are in degF, write 'tmax (degF)'." in str(report.problems[0])


def test_celsius_read_as_fahrenheit(tmp_path: Path) -> None:
    report = check(tmp_path, winter(), "date,tmax (degF),tmin (degF),rain (mm)")
    assert report.problems == []
    assert "too cold for latitude 31" in str(report.doubts[0])
    assert "If they are in degC, write 'tmax (degC)'." in str(report.doubts[0])


def test_tenths_read_as_whole(tmp_path: Path) -> None:
    rows = [
        [day, f"{float(tmax) * 10:.0f}", f"{float(tmin) * 10:.0f}", f"{float(rain) * 10:.0f}"]
        for day, tmax, tmin, rain in winter()
    ]
    report = check(tmp_path, rows)
    assert "as tenths of a degree are" in str(report.problems[0])
    assert "write 'tmax (0.1 degC)'" in str(report.problems[0])
    assert "write 'rain (mm)', if in tenths 'rain (0.1 mm)'" in str(report.problems[-1])
    assert (
        check(tmp_path, rows, "date,tmax (0.1 degC),tmin (0.1 degC),rain (0.1 mm)").problems == []
    )


def test_rain_in_the_other_unit(tmp_path: Path) -> None:
    inches = [[*row[:3], f"{float(row[3]) / 25.4:.2f}"] for row in winter()]
    report = check(tmp_path, inches)
    assert "mm in a mean year, a desert's: are these inches?" in only(report.doubts)
    report = check(tmp_path, winter(), HEADER.replace("mm", "inch"))
    assert "more than the wettest place on earth" in only(report.problems)


def test_rain_blank_where_dry(tmp_path: Path) -> None:
    rows = [[*row[:3], row[3] if float(row[3]) else ""] for row in winter()]
    report = check(tmp_path, rows)
    said = [str(doubt) for doubt in report.doubts if "never 0" in str(doubt)]
    assert said == [
        "w.csv, column 'rain (mm)': Rain is blank on 150 of 200 days and never 0. "
        "A blank is a missing day, not a dry one. Write 0 on dry days."
    ]


def test_rain_always_zero(tmp_path: Path) -> None:
    rows = [[*row[:3], "0"] for row in winter()]
    assert "Rain is 0 on every day" in only(check(tmp_path, rows).doubts)


def test_traces_of_rain(tmp_path: Path) -> None:
    rows = winter()
    rows[1][3], rows[2][3] = "T", "trace"
    report = check(tmp_path, rows)
    assert report.problems == []
    assert report.notes == ["2 traces of rain taken as 0 (line 3, 4)"]


def test_stuck_instruments(tmp_path: Path) -> None:
    rows = winter()
    for i in range(20, 25):
        rows[i][1:3] = ["15.5", "5.5"]
    for i in range(60, 70):
        rows[i][1] = "19.9"
    report = check(tmp_path, rows)
    assert [str(doubt) for doubt in report.doubts] == [
        "w.csv, line 22: tmax and tmin stay the same from 2005-11-21 to 2005-11-25 (5 days). "
        "Was the instrument stuck?",
        "w.csv, line 62: tmax stays at 19.9 degC from 2005-12-31 to 2006-01-09 (10 days). "
        "Was the instrument stuck?",
    ]


def test_nothing_understood_is_reported_too(tmp_path: Path) -> None:
    report = check_weather(tmp_path / "none.csv")
    assert "There is no such file." in only(report.problems)
    assert not report.usable
    (tmp_path / "noise.csv").write_bytes(bytes(range(256)) * 8)
    assert "It is not text" in only(check_weather(tmp_path / "noise.csv").problems)
    assert "us or si" in only(
        check_weather(tmp_path / "none.csv", units_of_file="metric").problems  # type: ignore[arg-type]
    )


def test_latitudes_that_differ_are_doubted(tmp_path: Path) -> None:
    report = check(tmp_path, winter(), "# latitude: 34\n" + HEADER)
    assert report.latitude == 31.3
    assert "The file says 34, you say 31.3; yours is followed." in only(report.doubts)


def test_declared_units_that_differ_are_doubted(tmp_path: Path) -> None:
    report = check(tmp_path, winter(), units_of_file="us")
    assert report.problems == []
    assert len(report.doubts) == 3
    assert "The header says degC, units_of_file us says degF" in str(report.doubts[0])


@pytest.mark.parametrize(
    ("name", "latitude", "winters", "dropped"),
    [
        (
            "belle_mina_2003_2012",
            34.7,
            [2003, 2004, 2005, 2006, 2008, 2009, 2010, 2011],
            {2002: "the record has 2003-01-01", 2007: "no tmin from 2007-11-07 to 2007-11-20"},
        ),
        ("headland_winters_2005_2007", 31.35, [2005, 2006], {}),
        ("prattville_winters_2003_2005_2006", 32.4, [2003, 2005, 2006], {}),
    ],
)
def test_open_data_stations(
    open_data: Path, name: str, latitude: float, winters: list[int], dropped: dict[int, str]
) -> None:
    path = open_data / "weather" / f"{name}.csv"
    report = check_weather(path, latitude=latitude)
    assert report.problems == []
    assert report.winters == winters
    assert report.left_out.keys() == dropped.keys()
    for year, reason in dropped.items():
        assert reason in report.left_out[year]
    assert "such as latitude 31.3." in only(check_weather(path).problems)
    lines = path.read_text().splitlines()
    for doubt in report.doubts:  # the line named is the line that an editor shows
        if "blank" in doubt.what:
            line = int(doubt.where.split("line ")[1])
            assert "," in lines[line - 1]
            assert "" in lines[line - 1].split(",")
            assert lines[line - 1].split(",")[0] in doubt.what


@pytest.mark.parametrize("every", [False, True])
def test_a_report_fits_a_screen_unless_all_is_asked_for(tmp_path: Path, every: bool) -> None:
    """Two years with twenty gaps: the verdict first, few doubts, and where the others are."""
    rows = winter(700, "2001-07-01")
    for at in range(400, 600, 10):
        rows[at][1] = ""
    file = tmp_path / "gaps.csv"
    file.write_text("\n".join([HEADER, *map(",".join, rows)]) + "\n")
    asked = ["check", str(file), "--latitude", "32", *(["--all"] if every else [])]
    found = CliRunner().invoke(fallsown, asked)
    assert found.exit_code == 0
    assert found.stdout.startswith("gaps.csv can be used, from 1 November to 15 April: 2 falls")
    assert found.stdout.count("tmax blank") == (20 if every else 6)
    assert ("more; --all lists them." in found.stdout) != every
    assert every or len(found.stdout.splitlines()) <= 40
    assert "2000: " not in found.stdout  # the fall before the record is none that was left out
