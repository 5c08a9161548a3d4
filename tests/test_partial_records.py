"""Weather of part of the year: a command's own sowing dates give way, the reader's do not."""

from __future__ import annotations

import json
import math
import re
from datetime import date, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from simulator.commands import fallsown

LISTS = ("whatif", "compare", "response", "budget")
FROM_ONE = ("season", "timing", "why", "outlook")
QUESTIONS = ("whatif", "sowing", "nitrogen", "termination", "risk", "why")
STATIONS = {
    "headland_winters_2005_2007.csv": "31.35",
    "prattville_winters_2003_2005_2006.csv": "32.46",
}


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, arguments, catch_exceptions=False)


def as_json(*arguments: str) -> dict:
    result = run(*arguments, "--json")
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


def sown(answer: dict) -> list[str]:
    dates = answer["inputs"]["sow"]
    return [dates] if isinstance(dates, str) else dates


def moved(answer: dict) -> list[str]:
    return [note for note in answer["notes"] if "usual sowing" in note]


def winters(path: Path, first: str, falls: int) -> str:
    """Write an invented record of winters only, from a day of the fall to 30 April."""
    rows = ["# latitude: 33.0", "date,tmax (degC),tmin (degC),rain (mm)"]
    for year in range(2001, 2001 + falls):
        day, n = date.fromisoformat(f"{year}-{first}"), 0
        while day <= date(year + 1, 4, 30):
            middle = 15.0 - 7.0 * math.cos(2 * math.pi * (day.timetuple().tm_yday - 15) / 365)
            warmth = middle - 4.0 + (n * (year % 7 + 3) % 11) / 3
            rain = 12 if n % (3 + year % 3) == 0 else 0
            rows.append(f"{day},{warmth + 6:.1f},{warmth - 6:.1f},{rain}")
            day, n = day + timedelta(1), n + 1
    path.write_text("\n".join(rows))
    return str(path)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("weather")


@pytest.fixture(scope="module")
def november(folder: Path) -> str:
    return winters(folder / "november.csv", "11-01", 7)


@pytest.fixture(scope="module")
def late_november(folder: Path) -> str:
    return winters(folder / "late.csv", "11-15", 3)


@pytest.mark.parametrize("command", [*LISTS, "risk"])
def test_a_list_of_dates_keeps_those_that_are_covered(november: str, command: str) -> None:
    answer = as_json(command, "--weather", november)
    assert sown(answer) == ["11-05", "11-20", "12-08"]
    assert moved(answer) == [
        "No fall at november has whole weather from the usual sowing on Oct 20 to Apr 15: sown on "
        "Nov 5, Nov 20 and Dec 8 (--sow takes other dates)."
    ]


@pytest.mark.parametrize("command", FROM_ONE)
def test_a_single_date_gives_way_to_the_first_that_is_covered(november: str, command: str) -> None:
    answer = as_json(command, "--weather", november)
    assert sown(answer) == ["11-05"]
    assert len(moved(answer)) == 1
    assert moved(answer)[0].endswith(": sown on Nov 5 (--sow takes other dates).")
    assert "Oct 20" not in " ".join(answer["sentences"])


@pytest.mark.parametrize("command", ["season", "compare", "why", "risk"])
def test_the_text_says_so_too(november: str, command: str) -> None:
    result = run(command, "--weather", november)
    assert result.exit_code == 0, result.stderr
    told = " ".join(result.stdout.split())
    assert told.count("has whole weather from the usual sowing on Oct 20") == 1
    assert "10-20" not in told


def test_cover_keeps_the_late_of_its_two_dates(november: str) -> None:
    answer = as_json("cover", "--weather", november)
    assert sown(answer) == ["12-08"]
    assert len(moved(answer)) == 1


@pytest.mark.parametrize("question", QUESTIONS)
def test_every_sheet_answers(november: str, question: str) -> None:
    result = run("sheet", "--weather", november, "--question", question)
    assert result.exit_code == 0, result.stderr
    told = " ".join(result.stdout.split())
    assert told.count("from the usual sowing on Oct 20") == 1
    answer = as_json("sheet", "--weather", november, "--question", question)
    assert len(moved(answer)) == 1
    assert "10-20" not in sown(answer)


def test_several_dates_may_go(late_november: str) -> None:
    answer = as_json("compare", "--weather", late_november)
    assert sown(answer) == ["11-20", "12-08"]
    assert "on Oct 20 and Nov 5 to Apr 15: sown on Nov 20 and Dec 8" in moved(answer)[0]
    assert sown(as_json("season", "--weather", late_november)) == ["11-20"]


@pytest.mark.parametrize("command", [*LISTS, *FROM_ONE, "cover", "risk", "sheet"])
def test_a_date_that_was_asked_for_is_refused(november: str, command: str) -> None:
    result = run(command, "--weather", november, "--sow", "10-20")
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "10-20" in result.stderr
    assert "usual sowing" not in result.stderr


def test_nothing_moves_where_nothing_is_covered(folder: Path) -> None:
    spring = winters(folder / "december.csv", "12-20", 3)
    result = run("compare", "--weather", spring)
    assert result.exit_code == 2
    assert "Sow on 12-20 or later" in result.stderr


def test_whole_years_keep_every_date() -> None:
    answer = as_json("compare", "--years", "2005:2006", "--nitrogen", "0 lb/acre")
    assert sown(answer) == ["10-20", "11-05", "11-20", "12-08"]
    assert not moved(answer)


def test_the_years_asked_for_decide(folder: Path) -> None:
    """A first fall from October on, then one from November on."""
    path = Path(winters(folder / "both.csv", "10-01", 2))
    kept = [row for row in path.read_text().splitlines() if not row.startswith("2002-10")]
    path.write_text("\n".join(kept))
    assert sown(as_json("season", "--weather", str(path))) == ["10-20"]
    answer = as_json("season", "--weather", str(path), "--year", "2002")
    assert sown(answer) == ["11-05"]
    assert moved(answer)[0].startswith("No fall asked for at both has whole weather")


def test_places_side_by_side_have_dates_of_their_own(november: str, folder: Path) -> None:
    longer = winters(folder / "october.csv", "10-01", 7)
    answer = as_json("risk", "--weather", november, "--weather", longer)
    assert [note.split(" has ")[0] for note in moved(answer)] == ["No fall at november"]
    chances = {
        (row["site"], row["sow"]) for row in answer["rows"] if row["chance_percent"] is not None
    }
    assert ("october", "10-20") in chances
    assert ("november", "10-20") not in chances
    assert ("november", "11-05") in chances
    told = run("risk", "--weather", november, "--weather", longer).stdout
    beside = told[told.index("The places beside each other") :]
    for place, first in (("november", "Nov 5"), ("october", "Oct 20")):
        assert re.search(rf"^{place} +7 +{first} to Jan 15 ", beside, re.MULTILINE)


def test_sensitivity_takes_one_date_for_all_places(november: str, late_november: str) -> None:
    few = ("--samples", "32", "--only", "extinction", "--years", "all")
    answer = as_json("sensitivity", *few, "--weather", november, "--weather", late_november)
    assert sown(answer) == ["11-20"]
    assert len(moved(answer)) == 2


@pytest.mark.parametrize(("file", "latitude"), STATIONS.items())
def test_winters_of_real_stations_are_answered(open_data: Path, file: str, latitude: str) -> None:
    weather = ("--weather", str(open_data / "weather" / file), "--latitude", latitude)
    for command in (*LISTS, "season", "timing", "why", "cover", "sheet"):
        answer = as_json(command, *weather)
        assert "10-20" not in sown(answer), command
        assert len(moved(answer)) == 1, command
    for command in ("risk", "outlook"):
        result = run(command, *weather)
        assert result.exit_code == 2
        assert "needs at least 5" in result.stderr
