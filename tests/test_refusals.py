"""What cannot be answered: a message with its place and remedy, exit 2, and nothing written."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from simulator.commands import fallsown

RUN = [sys.executable, "-c", "from simulator.commands import main; main()"]
SMALL = ["--years", "2005:2007", "--sow", "10-20,12-08", "--nitrogen", "0,60 lb/acre"]
HEADER = b"date,tmax (degF),tmin (degF),rain (inch)\n"
PLACE = b"# latitude: 33\n"


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, arguments, catch_exceptions=False)


def refused(*arguments: str, says: str) -> Result:
    result = run(*arguments)
    told = " ".join(result.stderr.split())
    assert result.exit_code == 2, (result.exit_code, result.output)
    assert "Traceback" not in result.output
    assert says in told, told
    assert result.stdout == ""
    return result


# --- what was asked ---


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("whatiff", "'whatif'"),
        ("Compare", "'compare'"),
        ("degree-days", "'degreedays'"),
        ("plot", "'plots'"),
        ("xyzzy", None),
    ],
)
def test_a_mistyped_command_is_told_which_may_be_meant(typed: str, meant: str | None) -> None:
    done = CliRunner().invoke(fallsown, [typed])
    assert done.exit_code == 2
    assert f"No such command '{typed}'." in done.output
    assert (f"Did you mean {meant}" in done.output) is (meant is not None)


def test_a_mistyped_option_is_told_which_may_be_meant() -> None:
    done = CliRunner().invoke(fallsown, ["compare", "--bare-soi", "bare"])
    assert done.exit_code == 2
    assert "--bare-soil" in done.output.partition("No such option")[2]


@pytest.mark.parametrize("command", ["whatif", "compare", "season"])
@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--nitrogen", "30 furlong"], "--nitrogen: 'furlong'"),
        (["--nitrogen", "30 blorp"], "'blorp' is not a known unit"),
        (["--nitrogen", "30"], "--nitrogen: '30' has no unit. Write for example '30 lb/acre'"),
        (["--nitrogen", "-30 lb/acre"], "--nitrogen: -30 lb/ac"),
        (["--seeding", "0 lb/acre"], "--seeding: 0 lb/ac"),
        (["--seeding", "-5 lb/acre"], "--seeding: -5 lb/ac"),
        (["--seeding", "1000000 lb/acre"], "--seeding: 1,000,000 lb/ac"),
        (["--seeding", "nan lb/acre"], "--seeding"),
        (["--sow", "02-30"], "--sow: '02-30'"),
        (["--sow", "october"], "--sow: 'october'"),
        (["--sow", "02-29"], "--sow: 02-29"),
        (["--sow", "04-20", "--end", "04-15"], "Sowing on 04-20 is not before the end on 04-15"),
        (["--end", "zadoks 200"], "--end: 'zadoks 200'"),
        (["--nitrogen-timing", "sowing 1/3 + 02-15 1/3"], "--nitrogen-timing: The shares"),
        (["--nitrogen-timing", "whenever"], "--nitrogen-timing: 'whenever'"),
        (["--cereal", "maize"], "Choose from: rye, wheat, triticale, barley, oat."),
        (["--soil", "mud"], "Choose from: sand, loamy sand, sandy loam"),
        (["--previous-crop", "rice"], "Choose from: cotton, corn"),
        (["--fertilizer", "guano"], "Choose from: ammonium nitrate"),
        (["--cereal", "maize", "--soil", "mud"], "2 problems in the input"),
        (["--weather", "nowhere.csv"], "nowhere.csv: There is no such file."),
        (["--weather", "nowhere"], "Give the path of a file, or one of tallow-bend"),
        (["--weather", ""], "neither a file nor a packaged sample"),
        (["--latitude", "31"], "--latitude: This option describes a file"),
        (["--latitude", "north"], "'north' is not a valid float"),
        (["--out", "nowhere/grid.csv"], "--out: There is no folder 'nowhere'"),
        (["--out", "grid.xls"], "--out: 'grid.xls' does not end in .csv or .nc"),
        (["--out", "."], "--out: '.' is a folder"),
        (["--units", "imperial"], "'imperial' is not one of 'us', 'si'"),
        (["--frobnicate"], "No such option '--frobnicate'"),
    ],
)
def test_bad_options_are_refused(command: str, arguments: list[str], says: str) -> None:
    refused(command, *arguments, says=says)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["whatif", "--years", "2024:1995"], "--years: 2024:1995 runs backwards. Write 1995:2024."),
        (["whatif", "--years", "lately"], "--years: 'lately' is not a year or a span"),
        (["whatif", "--years", "2005,"], "--years"),
        (["whatif", "--years", "0:9999"], "--years"),
        (["whatif", "--years", "1001"], "--years: '1001' lies outside 1750 to 2200"),
        (["whatif", "--years", "1900:1910"], "1900"),
        (["whatif", "--change", "snow november"], "--change: 'snow november' cannot be read"),
        (["whatif", "--change", "rain november = 11"], "--change"),
        (["whatif", "--change", "rain november = -2 inch"], "--change"),
        (["whatif", "--change", "x", "--change", "y"], "2 problems in the input"),
        (["whatif", "--sow", "10-20,10-20"], "--sow: '10-20' is given twice"),
        (["whatif", "--sow", "10-20,,11-05"], "--sow: '10-20,,11-05' has an empty item"),
        (["whatif", "--sow", "02-30", "--end", "13-01"], "2 problems in the input"),
        (["season", "--year", "1900"], "1900"),
        (["season", "--year", "later"], "'later' is not a valid integer"),
        (["season", "--nitrogen", "0,30 lb/acre"], "'fallsown compare' takes lists"),
        (["season", "--change", "hail november"], "--change"),
        (["degreedays", "--base", "40"], "--base: '40' has no unit"),
        (["degreedays", "--base", "40 inch"], "--base: 'inch' cannot be turned into degC"),
        (["degreedays", "--base", "400 degF"], "--base: 204.4 degC"),
        (["degreedays", "--upper", "30 degF"], "--upper: -1.111 degC is not above"),
        (["degreedays", "--from", "02-30"], "--from: '02-30'"),
        (["degreedays", "--from", "04-15", "--to", "10-20"], "--to: 10-20 comes before 04-15"),
        (["degreedays", "--change", "rain oct * 2", "--years", "1900"], "No season"),
        (["check"], "Missing argument 'FILE'"),
        (["grow"], "No such command 'grow'"),
    ],
)
def test_bad_questions_are_refused(arguments: list[str], says: str) -> None:
    refused(*arguments, says=says)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is empty"),
        (bytes(range(256)) * 64, "noise.csv"),
        (b"\x00\xff\xfe" * 5000, "noise.csv"),
        (b"hello\nworld\n", "noise.csv, line 1"),
        (HEADER + b"2010-11-01,60,40,0\n", "It does not say the latitude"),
        (PLACE + HEADER.replace(b"degF", b"blorp") + b"2010-11-01,60,40,0\n", "blorp"),
        (PLACE + HEADER + b"2010-02-30,60,40,0\n", "line 3"),
    ],
)
def test_bad_files_are_refused_by_every_command(tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "noise.csv"
    path.write_bytes(content)
    out = tmp_path / "grid.csv"
    for command in ("whatif", "compare", "season", "degreedays"):
        if command == "degreedays" and "latitude" in says:
            continue  # warmth needs none
        refused(command, "--weather", str(path), "--out", str(out), says=says)
        assert not out.exists()
    assert [one.name for one in tmp_path.iterdir()] == ["noise.csv"]


def test_a_folder_and_a_huge_file_are_refused(tmp_path: Path) -> None:
    refused("whatif", "--weather", str(tmp_path), says="It is a folder")
    huge = tmp_path / "huge.csv"
    with huge.open("wb") as file:
        file.truncate(200 * 2**20)
    refused("whatif", "--weather", str(huge), says="huge.csv: It has 200 MB")
    assert run("check", str(huge)).exit_code == 2
    assert run("check", str(tmp_path)).exit_code == 2


def test_the_weather_file_is_never_written_over(tmp_path: Path) -> None:
    station = tmp_path / "station.csv"
    station.write_bytes(PLACE + HEADER + b"2010-11-01,60,40,0\n")
    before = station.read_bytes()
    refused(
        "season",
        "--weather",
        str(station),
        "--out",
        str(station),
        says="is the weather file itself",
    )
    assert station.read_bytes() == before


def test_compare_refuses_a_grid_too_large_to_hold() -> None:
    rates = ",".join(map(str, range(0, 200))) + " kg/ha"
    seeds = ",".join(map(str, range(50, 150))) + " kg/ha"
    refused("compare", "--nitrogen", rates, "--seeding", seeds, says="2,480,000 seasons")


# --- faults of ours, and readers that leave ---


def test_a_fault_of_ours_is_one_line_and_exit_1(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("inside")

    monkeypatch.setattr("simulator.season.compare.compare", fail)
    result = run("whatif")
    assert result.exit_code == 1
    assert result.stderr == (
        "Sorry, fallsown failed by a fault of ours (RuntimeError); run it again with --debug to "
        "see where.\n"
    )
    for arguments in (["--debug", "whatif"], ["whatif", "--debug"]):
        result = run(*arguments)
        assert result.exit_code == 1
        assert "Traceback" in result.stderr and "inside" in result.stderr


def test_debug_shows_where_bad_input_was_found() -> None:
    result = run("whatif", "--years", "lately", "--debug")
    assert result.exit_code == 2
    assert "Traceback" in result.stderr


def test_interruption_is_quiet(monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("simulator.season.compare.compare", stop)
    result = run("whatif")
    assert (result.exit_code, result.output) == (130, "")


@pytest.mark.long
def test_from_a_shell() -> None:
    told = subprocess.run([*RUN, "whatif", *SMALL], capture_output=True, text=True, check=False)
    assert told.returncode == 0, told.stderr
    assert "Oct 20" in told.stdout
    told = subprocess.run(
        [*RUN, "whatif", "--sow", "02-30"], capture_output=True, text=True, check=False
    )
    assert (told.returncode, told.stdout) == (2, "")
    assert told.stderr.startswith("--sow: '02-30'")


def test_a_reader_that_leaves_is_no_fault() -> None:
    with subprocess.Popen(
        [*RUN, "whatif", "--json"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None and process.stderr is not None
        process.stdout.readline()
        process.stdout.close()
        complaint = process.stderr.read()
    assert process.returncode == 0
    assert "Broken" not in complaint and "Traceback" not in complaint


# --- what a hostile or a clumsy user found ---


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["season", "--nitrogen", "1e308 lb/acre"], "--nitrogen: 1e+308 lb/ac (1.12e+308 kg/ha)"),
        (["season", "--seeding", "1 lb/acre"], "Take 5 to 446 lb/acre (5 to 500 kg/ha)."),
        (["compare", "--end", "1 lb/acre"], "Take 45 to 35687 lb/acre (50 to 40000 kg/ha)."),
        (["risk", "--target", "1 lb/acre"], "Take 45 to 35687 lb/acre (50 to 40000 kg/ha)."),
        (["season", "--year", "0"], "--year: 0 is not a year of the calendar."),
        (["season", "--year", "9" * 20], "is not a year of the calendar."),
        (["outlook", "--sow", "05-01"], "--sow: Sowing on 05-01 is not before the end on 03-15."),
        (["outlook", "--nitrogen-timing", "06-01"], "Nitrogen on 06-01 is not before the last"),
        (["budget", "--chance", "nan"], "'--chance': 'nan' is not a number."),
        (["response", "--hit-rate", "nan"], "'--hit-rate': 'nan' is not a number."),
        (["budget", "--prices", ""], "There is no such price file."),
        (["sheet", "--out", "one.html", "--chart", "one.html"], "--chart: 'one.html'"),
        (["season", "--out", "x" * 300 + ".csv"], "cannot be written: File name too long."),
        (["why", "--chart", "x" * 300 + ".svg"], "cannot be written: File name too long."),
        (["whatif", "--years", "1900:1910"], "2025-07-31. Give a record"),
    ],
)
def test_more_bad_questions_are_refused(arguments: list[str], says: str) -> None:
    refused(*arguments, says=says)


def test_what_a_refusal_takes_from_its_message_can_be_asked() -> None:
    assert run("season", "--year", "2006", "--seeding", "5 lb/acre").exit_code == 0
    assert run("season", "--year", "2006", "--seeding", "446 lb/acre").exit_code == 0


@pytest.mark.parametrize("option", ["--sow", "--end", "--cereal", "--nitrogen-timing", "--weather"])
def test_a_long_text_is_not_quoted_whole(option: str) -> None:
    result = refused("season", option, "x" * 3000, says=f"{option}: 'xxx")
    assert len(result.stderr) < 600


def test_risk_refuses_a_grid_too_large_to_hold() -> None:
    rates = ",".join(map(str, range(0, 200))) + " kg/ha"
    seeds = ",".join(map(str, range(50, 150))) + " kg/ha"
    refused("risk", "--nitrogen", rates, "--seeding", seeds, says="2,480,000 seasons")


def test_a_list_of_kinds_is_never_written_over(tmp_path: Path) -> None:
    kinds = tmp_path / "kinds.csv"
    kinds.write_text("year,kind\n2005,a\n")
    refused("risk", "--kinds", str(kinds), "--out", str(kinds), says="is one of the files read")
    assert kinds.read_text() == "year,kind\n2005,a\n"


def test_a_parameter_file_is_never_written_over_by_the_fit_it_began_from(tmp_path: Path) -> None:
    start = tmp_path / "start.toml"
    start.write_text("[cereal.rye]\ngrowth_best = 18.0\n")
    refused(
        "fit",
        "--plots",
        "plots.csv",
        "--weather",
        "a=tallow-bend",
        "--parameters",
        str(start),
        "--out",
        str(start),
        says="is one of the files read",
    )
    assert start.read_text() == "[cereal.rye]\ngrowth_best = 18.0\n"
    refused(
        "fit",
        "--plots",
        "plots.csv",
        "--weather",
        "a=tallow-bend",
        "--out",
        "x.csv",
        says="'x.csv' does not end in .toml. Give",
    )


def test_a_number_too_large_to_convert_is_told_without_a_warning(
    tmp_path: Path, recwarn: pytest.WarningsRecorder
) -> None:
    station = tmp_path / "station.csv"
    station.write_bytes(PLACE + HEADER + b"2010-11-01,60,40,1e308\n")
    refused("season", "--weather", str(station), says="1e+308 inch is outside what weather does")
    assert not [str(one.message) for one in recwarn if "overflow" in str(one.message)]


def test_netcdf_of_words_is_refused(tmp_path: Path) -> None:
    import pandas as pd
    import xarray as xr

    station = tmp_path / "station.nc"
    days = pd.date_range("2010-01-01", periods=2)
    words = {name: ("time", ["a", "b"]) for name in ("tmax", "tmin", "rain")}
    xr.Dataset(words, coords={"time": days}).to_netcdf(station)
    refused(
        "season",
        "--weather",
        str(station),
        says="station.nc, variable 'tmax': Its values are not numbers.",
    )


@pytest.mark.skipif(sys.platform != "linux", reason="names of bytes that are not UTF-8")
@pytest.mark.parametrize("suffix", [b".csv", b".nc"])
def test_a_name_that_is_not_utf_8_can_be_written(tmp_path: Path, suffix: bytes) -> None:
    out = os.fsencode(tmp_path) + b"/\xff" + suffix
    told = subprocess.run(
        [*RUN, "season", "--year", "2006", "--out", out], capture_output=True, check=False
    )
    assert told.returncode == 0, told.stderr
    assert os.path.getsize(out) > 1000


@pytest.mark.long
def test_a_terminal_of_ascii_reads_and_writes_other_names(tmp_path: Path) -> None:
    station = tmp_path / "café ☔.csv"
    days = np.arange("2009-08-01", "2010-07-31", dtype="datetime64[D]")
    rows = "".join(f"{day},60,40,0.1\n" for day in days)
    station.write_bytes(PLACE + HEADER + rows.encode())
    ascii_only = {
        **os.environ,
        "LC_ALL": "C",
        "PYTHONUTF8": "0",
        "PYTHONIOENCODING": "ascii",
        "PYTHONCOERCECLOCALE": "0",
    }
    for arguments in (["season"], ["degreedays"], ["sheet", "--question", "nitrogen"]):
        out = tmp_path / ("é.html" if arguments[0] == "sheet" else "é.csv")
        told = subprocess.run(
            [*RUN, *arguments, "--weather", str(station), "--out", str(out)],
            capture_output=True,
            check=False,
            env=ascii_only,
        )
        assert told.returncode == 0, told.stderr
        assert "café ☔" in out.read_text(encoding="utf-8")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a disk that is always full")
def test_a_full_disk_is_told() -> None:
    with open("/dev/full", "w") as full:
        told = subprocess.run(
            [*RUN, "samples"], stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
    assert (told.returncode, told.stderr) == (
        2,
        "The disk is full: the answer could not be written.\n",
    )


@pytest.mark.skipif(sys.platform == "win32", reason="closes a stream as a shell does")
def test_closed_streams_are_no_fault() -> None:
    told = subprocess.run(
        ["sh", "-c", '"$@" >&-', "sh", *RUN, "samples"],
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    assert (told.returncode, told.stderr) == (0, "")


@pytest.mark.parametrize(
    "option",
    [("--change", "rain november = 1 inch"), ("--target", "4000 lb/acre"), ("--year", "2005")],
)
def test_a_sheet_refuses_what_its_question_would_pass_over(option: tuple[str, str]) -> None:
    refused(
        "sheet",
        "--question",
        "sowing",
        *option,
        says=f"{option[0]}: The sheet of this question (sowing) does not use it.",
    )


def test_a_latitude_that_is_none_does_not_make_the_degrees_doubtful(tmp_path: Path) -> None:
    station = tmp_path / "station.csv"
    days = np.arange("2009-08-01", "2010-07-31", dtype="datetime64[D]")
    rows = "".join(f"{day},60,40,0.1\n" for day in days)
    station.write_bytes(b"# latitude: 95\n" + HEADER + rows.encode())
    result = refused("season", "--weather", str(station), says="latitude: 95 lies outside")
    assert "problems in the input" not in result.stderr


def test_where_nothing_can_be_kept_it_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from simulator.process import compiled

    (tmp_path / "file").write_text("")
    monkeypatch.setattr(compiled, "CACHE", tmp_path / "file" / "fallsown")
    monkeypatch.setattr("simulator.season.compiling._KNOWN", set())
    monkeypatch.setattr("simulator.season.compiling.is_compiled", lambda _: False)
    result = run("season", "--year", "2006")
    assert result.exit_code == 0
    assert "at every run" in result.stderr and "XDG_CACHE_HOME" in result.stderr
