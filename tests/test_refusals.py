"""What cannot be answered: a message with its place and remedy, exit 2, and nothing written."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

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
)  # fmt: skip
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
)  # fmt: skip
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
    refused("season", "--weather", str(station), "--out", str(station),
            says="is the weather file itself")  # fmt: skip
    assert station.read_bytes() == before


def test_compare_refuses_a_grid_too_large_to_hold() -> None:
    rates = ",".join(map(str, range(0, 200))) + " kg/ha"
    seeds = ",".join(map(str, range(50, 150))) + " kg/ha"
    refused("compare", "--nitrogen", rates, "--seeding", seeds, says="2,480,000 seasons")


# --- faults of ours, and readers that leave ---


def test_a_fault_of_ours_is_one_line_and_exit_1(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("inside")

    monkeypatch.setattr("simulator.season.run.compare", fail)
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

    monkeypatch.setattr("simulator.season.run.compare", stop)
    result = run("whatif")
    assert (result.exit_code, result.output) == (130, "")


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
    with subprocess.Popen([*RUN, "whatif", "--json"], stdout=subprocess.PIPE,
                          stderr=subprocess.PIPE, text=True) as process:  # fmt: skip
        assert process.stdout is not None and process.stderr is not None
        process.stdout.readline()
        process.stdout.close()
        complaint = process.stderr.read()
    assert process.returncode == 0
    assert "Broken" not in complaint and "Traceback" not in complaint
