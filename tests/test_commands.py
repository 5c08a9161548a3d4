"""The command line: what it answers."""

from __future__ import annotations

import json
import re
import shlex
import subprocess
import sys
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from simulator.commands import fallsown
from simulator.commands.examples import EXAMPLES
from simulator.parameters.cereals import CEREALS
from simulator.parameters.fertilizers import FERTILIZERS
from simulator.parameters.soils import PREVIOUS_CROPS, SOILS

ROW_FIELDS = [
    "site",
    "year",
    "cereal",
    "soil",
    "sow",
    "seeding_kg_ha",
    "nitrogen_kg_ha",
    "nitrogen_timing",
    "end",
    "case",
    "biomass_kg_ha",
    "nitrogen_uptake_kg_ha",
    "nitrogen_percent",
    "carbon_to_nitrogen",
    "nitrate_leached_kg_ha",
    "drainage_mm",
    "runoff_mm",
    "rain_mm",
    "thermal_time_degC_d",
    "growth_stage_zadoks",
    "leaf_area_index",
    "stand_alive",
]
SMALL = ["--years", "2005:2007", "--sow", "10-20,12-08", "--nitrogen", "0,60 lb/acre"]


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, arguments, catch_exceptions=False)


def answered(*arguments: str) -> str:
    result = run(*arguments)
    assert result.exit_code == 0, result.stderr
    return result.stdout


def prose(*arguments: str) -> str:
    """The answer as one line, so that it does not matter where it was wrapped."""
    return " ".join(answered(*arguments).split())


def as_json(*arguments: str) -> dict:
    return json.loads(answered(*arguments, "--json"))


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file in US units of one warm wet winter, its latitude in a comment."""
    path = tmp_path_factory.mktemp("weather") / "station.csv"
    days = [date(2010, 9, 1) + timedelta(n) for n in range(260)]
    rows = [
        f"{day},{70 - n % 9},{45 + n % 5},{0.6 if n % 4 == 0 else 0}" for n, day in enumerate(days)
    ]
    path.write_text(
        "# latitude: 33.0\ndate,tmax (degF),tmin (degF),rain (inch)\n" + "\n".join(rows)
    )
    return path


# --- help ---


def test_help_lists_the_commands_and_loads_nothing_heavy() -> None:
    code = (
        "import sys\nfrom simulator.commands import fallsown\n"
        "fallsown(['--help'], standalone_mode=False)\n"
        "heavy = ('numpy', 'pandas', 'xarray', 'pint', 'numba', 'tabulate')\n"
        "print([name for name in heavy if name in sys.modules])"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    for name in ("whatif", "season", "compare", "degreedays", "check", "samples"):
        assert re.search(rf"^  {name} ", told.stdout, re.MULTILINE)
    assert told.stdout.rstrip().endswith("[]")


@pytest.mark.parametrize("command", fallsown.list_commands(click.Context(fallsown)))
def test_help_ends_with_a_real_question(command: str) -> None:
    told = run(command, "--help").stdout
    assert max(map(len, told.splitlines())) <= 80
    _, _, after = told.partition("Example")
    lines = [line.strip() for line in after.splitlines() if line.strip().startswith("fallsown ")]
    assert lines, "no example"
    for (text, asks), line in zip(EXAMPLES[command], lines, strict=True):
        assert line.startswith(f"fallsown {command} {text}".rstrip())
        assert asks in after
        found = fallsown.get_command(click.Context(fallsown), command)
        assert found is not None
        found.make_context(command, shlex.split(text))  # every option is one, and well written


@pytest.mark.parametrize("command", ["whatif", "compare", "season"])
def test_help_names_every_choice(command: str) -> None:
    told = prose(command, "--help")
    for name in [*CEREALS, *SOILS, *PREVIOUS_CROPS, *FERTILIZERS]:
        assert name in told


def test_a_command_does_not_load_the_arrays_of_dask() -> None:
    """They take a sixth of an answer's time, and xarray loads them for nothing."""
    code = (
        "import sys; from simulator.commands import fallsown; "
        "fallsown(['degreedays', '--years', '2015'], standalone_mode=False); "
        "print('dask.array' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.endswith("False\n")


def test_version() -> None:
    assert answered("--version").startswith("fallsown, version ")


# --- whatif ---


def test_whatif_prints_both_tables_and_says_what_they_mean() -> None:
    told = prose("whatif", *SMALL)
    assert "Tallow Bend (an invented place)" in told
    assert "3 falls, 2005 to 2007" in told
    assert "from the lowest to the highest fall" in told
    assert "With 11 in of rain in each November (the record's mean is " in told
    assert "Of the 60 lb/ac of nitrogen applied, " in told
    assert "Sown on Dec 8, a stand gets its nitrogen after the changed weather" in told
    assert "not a recommendation" in told and "invented place" in told


@pytest.mark.parametrize(
    "arguments", [["whatif"], ["compare"], ["season", "--year", "2010"], ["degreedays"]]
)
@pytest.mark.parametrize("units", ["us", "si"])
def test_units_are_never_mixed(arguments: list[str], units: str) -> None:
    told = answered(*arguments, "--units", units)
    metric = re.search(r"\bkg/ha\b|\bmm\b|°C", told)
    customary = re.search(r"\blb/ac\b|\bin (?=of)|°F", told)
    assert bool(metric) == (units == "si")
    assert bool(customary) == (units == "us")


@pytest.mark.parametrize("arguments", [["whatif"], ["compare"], ["season"], ["degreedays"]])
def test_tables_fit_eighty_columns(arguments: list[str]) -> None:
    tables = [line for line in answered(*arguments).splitlines() if line.startswith("---")]
    assert tables
    assert max(map(len, tables)) <= 80


def test_default_units_are_those_of_the_place() -> None:
    assert "kg/ha" in answered("whatif", "--weather", "pellow-strand", *SMALL)
    assert "lb/ac" in answered("whatif", "--weather", "Tallow Bend", *SMALL)


def test_whatif_json_is_whole_si_and_strict() -> None:
    answer = as_json("whatif", *SMALL, "--units", "us")
    assert {"command", "version", "inputs", "units", "cautions", "rows"} <= set(answer)
    assert answer["command"] == "whatif"
    assert answer["inputs"]["invented"] == "yes"
    assert answer["inputs"]["changes"] == "rain november = 11 inch"
    assert any("not a recommendation" in caution for caution in answer["cautions"])
    assert len(answer["rows"]) == 3 * 2 * 2 * 2
    beside = ["bare_nitrate_leached_kg_ha", "bare_drainage_mm"]
    assert all(list(row) == [*ROW_FIELDS, *beside] for row in answer["rows"])
    first = answer["rows"][0]
    assert (first["site"], first["year"], first["sow"], first["case"]) == (
        "Tallow Bend",
        2005,
        "10-20",
        "as recorded",
    )
    assert answer["units"]["biomass_kg_ha"] == "kg/ha"
    rates = {row["nitrogen_kg_ha"] for row in answer["rows"]}
    assert max(rates) == pytest.approx(67.2508, abs=1e-4)


def test_json_and_table_agree() -> None:
    options = ["--years", "2005", "--sow", "10-20", "--nitrogen", "60 lb/acre", "--units", "si"]
    before, after = as_json("whatif", *options)["rows"]
    told = answered("whatif", *options)
    row = next(line for line in told.splitlines() if line.startswith("Oct 20"))
    assert row.split()[3:5] == [f"{round(row['biomass_kg_ha'], -1):.0f}" for row in (before, after)]


def test_ends_never_reached_are_null_and_said() -> None:
    options = [*SMALL, "--weather", "hollin-reach", "--end", "zadoks 90"]
    assert {row["biomass_kg_ha"] for row in as_json("whatif", *options)["rows"]} == {None}
    told = prose("whatif", *options)
    assert "no stand could be ended at Zadoks 90" in told
    assert "nan" not in told


def test_years_outside_the_record_are_left_out_and_named() -> None:
    told = prose("whatif", *SMALL, "--years", "1993:1997")
    assert "3 falls, 1995 to 1997" in told
    (said,) = as_json("whatif", *SMALL, "--years", "1993:1997")["left_out"]
    assert said == "1993 to 1994: outside the record, which has 1995-08-01 to 2025-07-31."
    assert f"Left out: - {said}" in told


# --- compare ---


def test_compare_runs_the_full_factorial() -> None:
    answer = as_json(
        "compare",
        "--years",
        "2006:2007",
        "--sow",
        "10-20",
        "--sow",
        "11-05",
        "--seeding",
        "60,90 lb/acre",
        "--nitrogen",
        "0,60 lb/acre",
        "--nitrogen-timing",
        "sowing,02-15",
        "--end",
        "03-15,04-15",
    )
    rows = answer["rows"]
    assert len(rows) == 2 * 2 * 2 * 2 * 2 * 2
    assert {row["case"] for row in rows} == {"as recorded"}
    assert {(row["sow"], row["end"], row["nitrogen_timing"]) for row in rows} == {
        (sow, end, timing)
        for sow in ("10-20", "11-05")
        for end in ("03-15", "04-15")
        for timing in ("sowing", "02-15")
    }


def test_compare_prints_every_row_and_names_what_matters() -> None:
    told = answered("compare", *SMALL, "--end", "03-15,04-15")
    plans, _, came_up = told.partition("Plants that came up")
    assert len(re.findall(r"^(?:Oct 20|Dec 8) ", plans, re.MULTILINE)) == 2 * 2 * 2
    assert len(re.findall(r"^(?:Oct 20|Dec 8) ", came_up, re.MULTILINE)) == 2
    assert re.search(r"Nitrogen rate: 60 lb/ac makes most, [\d,]+ lb/ac", told)


def test_a_list_of_biomass_ends_shares_its_unit() -> None:
    rows = as_json("compare", *SMALL, "--end", "200,300 kg/ha")["rows"]
    assert {row["end"] for row in rows} == {"200 kg/ha", "300 kg/ha"}


# --- season ---


def test_season_prints_a_digest_and_closes_its_balances() -> None:
    told = answered(
        "season", "--year", "2015", "--nitrogen", "30 lb/acre", "--nitrogen-timing", "02-15"
    )
    assert re.search(r"^Oct 20 .* sown$", told, re.MULTILINE)
    assert re.search(r"^Feb 15 .* N$", told, re.MULTILINE)
    assert re.search(r"^Apr 15 .* ended$", told, re.MULTILINE)
    assert len(re.findall(r"In and out agree to within a millionth of 1 (?:in|lb/ac)", told)) == 3
    assert told.index("In 32 site-seasons") < told.index("balance")  # first the answer


def test_season_json_rows_are_days() -> None:
    answer = as_json("season", "--year", "2015")
    days = [row["date"] for row in answer["rows"]]
    assert days[0] == "2015-09-01" and days[-1] == "2016-04-15"
    gaps = {date.fromisoformat(later) - date.fromisoformat(day) for day, later in pairwise(days)}
    assert gaps == {timedelta(1)}
    assert set(ROW_FIELDS) <= set(answer["rows"][0])
    for name in ("water", "nitrogen", "dry_matter"):
        balance = answer["balances"][name]
        closing = sum(balance["in"].values()) - sum(balance["out"].values())
        assert closing == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    "arguments",
    [
        ["whatif", "--years", "2014:2016"],
        ["compare", "--years", "2014:2016", "--sow", "10-20,11-20"],
        ["response", "--years", "2014:2016"],
        ["budget", "--years", "2014:2016"],
        ["timing", "--years", "2014:2016", "--planting", "05-01"],
        ["cover", "--years", "2014:2016"],
        ["risk", "--years", "2010:2016", "--no-latest"],
        ["season", "--year", "2014"],
        ["why", "--year", "2014"],
        ["outlook", "--year", "2014"],
    ],
    ids=lambda arguments: arguments[0],
)
def test_the_first_screen_is_the_answer(arguments: list[str]) -> None:
    """After a short heading come sentences; tables, balances and notes stand below them."""
    told = run(*arguments).stdout
    heading, said, *below = told.split("\n\n")
    assert len(heading.splitlines()) <= 5
    first = as_json(*arguments)["sentences"][0]
    assert " ".join(said.split()).startswith(" ".join(first.split()))
    screen = told.splitlines()[:12]
    for later in ("Left out:", "Notes:", "Keep in mind:"):
        assert not any(line.startswith(later) for line in screen)
    balance = [at for at, block in enumerate(below) if "balance" in block.lower()]
    assert all(at > 0 for at in balance), "a table of the answer comes first"


def test_season_without_a_year_takes_the_last() -> None:
    assert "the fall of 2024" in prose("season")


def test_season_in_changed_weather_says_so() -> None:
    answer = as_json("season", "--year", "2015", "--change", "rain november = 11 inch")
    assert {row["case"] for row in answer["rows"]} == {"changed"}
    assert "The weather is changed" in prose("season", "--year", "2015", "--change", "rain nov * 2")


def test_a_stand_that_frost_kills_is_told() -> None:
    told = prose(
        "season", "--weather", "hollin-reach", "--cereal", "oat", "--year", "2024", "--sow", "09-20"
    )
    assert re.search(r"Frost killed the stand on [A-Z][a-z]+ \d+, 202[45]\.", told)


# --- degreedays ---


def test_degreedays_shows_every_method_at_every_base() -> None:
    told = prose("degreedays", "--base", "32,40 degF")
    assert "Above 32 °F:" in told and "Above 40 °F:" in told
    for method in (
        "average mean clamped",
        "average ends clamped",
        "single triangle",
        "single sine",
    ):
        assert method in told
    assert "The simulator itself counts by single sine above 32 °F" in told
    answer = as_json("degreedays", "--base", "40degF", "--base", "0 degC", "--years", "2007")
    assert [row["base_degC"] for row in answer["rows"]] == [4.444444444] * 4 + [0.0] * 4
    assert answer["units"]["thermal_time_degC_d"] == "degC d"


def test_degreedays_by_year_and_with_an_upper_threshold() -> None:
    told = answered(
        "degreedays", "--base", "40degF", "--upper", "86 degF", "--by-year", "--years", "2010:2013"
    )
    assert "vertical cutoff" in told and "The upper threshold is 86 °F." in told
    assert len(re.findall(r"^2012 ", told, re.MULTILINE)) == 2  # twelve methods, six abreast


@pytest.mark.analytic("a degree day above a base is one degree for one day")
def test_degreedays_of_days_without_range(tmp_path: Path) -> None:
    path = tmp_path / "even.csv"
    days = [date(2010, 10, 1) + timedelta(n) for n in range(60)]
    rows = [f"{day},{12 + n % 3},{8 + n % 3},0" for n, day in enumerate(days)]
    path.write_text("\n".join(["date,tmax (degC),tmin (degC),rain (mm)", *rows]))
    answer = as_json(
        "degreedays", "--weather", str(path), "--base", "5 degC", "--from", "10-03", "--to", "11-01"
    )
    sums = [row["thermal_time_degC_d"] for row in answer["rows"]]
    expected = sum(5.0 + n % 3 for n in range(2, 32))
    assert sums == pytest.approx([expected] * 4, abs=1e-9)


# --- files as weather ---


def test_a_file_of_the_users_own_runs(station: Path) -> None:
    answer = as_json("season", "--weather", str(station))
    assert answer["inputs"]["latitude"] == 33.0
    assert answer["inputs"].get("invented") != "yes"
    assert not any("invented" in caution for caution in answer["cautions"])
    assert answer["inputs"]["year"] == 2010
    assert "lb/ac" in answered("season", "--weather", str(station))  # as the file has degF


def test_samples_are_listed() -> None:
    assert "tallow-bend" in answered("samples")
    assert {"tallow-bend", "pellow-strand"} <= {row["name"] for row in as_json("samples")["rows"]}


# --- check ---


def test_check_says_what_was_understood(station: Path) -> None:
    told = answered("check", str(station))
    assert "column 'tmax (degF)' in degF" in told
    assert "2010-09-01 to 2011-05-18" in told
    first = "station.csv can be used, from 1 November to 15 April: the fall of 2010."
    assert told.startswith(first)


def test_check_names_faults_by_row_and_exits_2(tmp_path: Path) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(
        "date,tmax (degC),tmin (degC),rain (mm)\n2010-11-01,10,1,0\n2010-11-02,5,8,0\n"
        "2010-11-03,10,x,0\n"
    )
    result = run("check", str(path))
    assert result.exit_code == 2
    assert "line 3" in result.stdout and "line 4" in result.stdout
    assert "bad.csv cannot be used: " in result.stderr
    answer = json.loads(run("check", str(path), "--json").stdout)
    assert not answer["usable"]
    assert {"kind", "where", "what", "remedy"} == set(answer["rows"][0])


def test_dates_stages_and_rates_as_people_write_them() -> None:
    """A comma needs no blank, a unit none either, and dates and stages may have their names."""
    written = ("--nitrogen", "0,30,90lb/acre", "--sow", "Oct 20,5 Nov", "--end", "Apr 15,flowering")
    plain = ("--nitrogen", "0,30,90 lb/acre", "--sow", "10-20,11-05", "--end", "04-15,zadoks 61")
    timed = ("--nitrogen-timing", "Feb 15"), ("--nitrogen-timing", "02-15")
    found = [
        json.loads(
            CliRunner()
            .invoke(fallsown, ["compare", "--years", "2007:2009", *one, *when, "--json"])
            .stdout
        )["rows"]
        for one, when in zip((written, plain), timed, strict=True)
    ]
    assert found[0] == found[1]


def test_degree_days_between_dates_as_people_write_them() -> None:
    rows = [
        json.loads(
            CliRunner()
            .invoke(fallsown, ["degreedays", "--from", first, "--to", last, "--json"])
            .stdout
        )["rows"]
        for first, last in (("Oct 20", "15 April"), ("10-20", "04-15"))
    ]
    assert rows[0] == rows[1]
