"""Kinds of year: the user's list, the Oceanic Nino Index, thirds of the record, and weights."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from simulator.problems import InputError
from simulator.weather.record import make_record
from simulator.weather.year_type_files import enso_kind, read_kinds, read_oni
from simulator.weather.year_types import kinds_of_year
from simulator.weather.year_weights import check_kinds, parse_weights, year_weights

KINDS = {2001: "wet", 2002: "dry", 2003: "wet", 2004: "normal"}
THIRDS = ["wet", "normal", "dry"]


def falls(rain: list[float], warmth: list[float]) -> xr.Dataset:
    """Whole years from 2001 on; each day of a fall has that fall's rain and warmth."""
    time = np.arange("2001-01-01", f"{2001 + len(rain)}-01-01", dtype="datetime64[D]")
    fall = time.astype("datetime64[Y]").astype(int) + 1970 - 2001
    month = time.astype("datetime64[M]").astype(int) % 12 + 1
    wet = np.where(month >= 10, np.array(rain)[fall], 30.0)  # the rest of the year must not count
    warm = np.where(month >= 10, np.array(warmth)[fall], -30.0)
    return make_record(time, warm + 5.0, warm - 5.0, wet, site="Made", latitude=33.0)


RAIN = [6.0, 1.0, 5.0, 2.0, 4.0, 3.0]
WARMTH = [10.0, 11.0, 12.0, 13.0, 14.0, 15.0]


@pytest.mark.analytic("six falls made wetter one by one: two of each third")
def test_thirds_of_fall_rain_and_temperature() -> None:
    record = falls(RAIN, WARMTH)
    assert kinds_of_year(record) == {
        2001: "wet",
        2002: "dry",
        2003: "wet",
        2004: "dry",
        2005: "normal",
        2006: "normal",
    }
    assert kinds_of_year(record, "fall temperature") == {
        2001: "cool",
        2002: "cool",
        2003: "normal",
        2004: "normal",
        2005: "warm",
        2006: "warm",
    }
    both = kinds_of_year(record, "fall")
    assert (both[2001], both[2002], both[2005]) == ("cool wet", "cool dry", "warm normal")


def test_falls_that_are_all_alike_are_normal() -> None:
    assert set(kinds_of_year(falls([0.0] * 7, [*WARMTH, 9.0])).values()) == {"normal"}


def test_a_fall_with_a_gap_has_no_kind() -> None:
    record = falls([*RAIN, 2.5], [*WARMTH, 9.0])
    record["rain"].loc[{"time": slice("2003-11-01", "2003-11-20")}] = np.nan
    assert sorted(kinds_of_year(record)) == [2001, 2002, 2004, 2005, 2006, 2007]


def test_too_few_falls_are_refused_with_the_number_needed() -> None:
    with pytest.raises(InputError, match=r"at least 6 falls .* the record has 5"):
        kinds_of_year(falls(RAIN[:5], WARMTH[:5]))


@pytest.mark.published("NOAA CPC, threshold of +/- 0.5 degC for the Oceanic Nino Index")
def test_the_threshold_itself_counts() -> None:
    kinds = [enso_kind(a) for a in (0.5, 0.49, 0.0, -0.49, -0.5)]
    assert kinds == ["el nino", "neutral", "neutral", "neutral", "la nina"]


@pytest.mark.published("NOAA CPC, Oceanic Nino Index: well-known episodes of fall and winter")
def test_known_episodes(open_data: Path) -> None:
    found = read_oni(open_data / "enso" / "oni.ascii.txt")
    for year in (1972, 1982, 1987, 1991, 1997, 2002, 2009, 2015, 2023):
        assert found[year] == "el nino"
    for year in (1973, 1975, 1988, 1998, 1999, 2007, 2010, 2020, 2021, 2022):
        assert found[year] == "la nina"
    for year in (1980, 1981, 1989, 1990, 1993, 2012, 2013):
        assert found[year] == "neutral"


ONI = " SEAS  YR   TOTAL   ANOM\n  OND 1997  28.9  2.40\n  DJF 1998  28.7  2.2\n"


def test_winter_belongs_to_the_fall_before(tmp_path: Path) -> None:
    path = tmp_path / "oni.txt"
    path.write_text(ONI + "  OND 1998  25.1  -1.5\n  NDJ 1998 25.0 -99.9\n")
    assert read_oni(path) == {1997: "el nino", 1998: "la nina"}
    assert read_oni(path, season="djf") == {1997: "el nino"}
    assert kinds_of_year(falls(RAIN, WARMTH), str(path)) == read_oni(path)
    with pytest.raises(InputError, match="has no NDJ"):
        read_oni(path, season="NDJ")
    with pytest.raises(InputError, match="'ABC' is not a season"):
        read_oni(path, season="ABC")


def test_faults_of_the_index_are_told_by_line(tmp_path: Path) -> None:
    path = tmp_path / "oni.txt"
    path.write_text(
        ONI + "  OND 19x8  25.1  -1.5\n  OND 1999 25.1\n  OND 1997 1.0 1.0\n  XYZ 1 2 3"
    )
    with pytest.raises(InputError) as caught:
        read_oni(path)
    assert [p.where for p in caught.value.problems] == [f"oni.txt, line {n}" for n in (4, 5, 6, 7)]
    path.write_text("year,kind\n2001,wet\n")
    with pytest.raises(InputError, match="not the Oceanic Nino Index"):
        read_oni(path)


@pytest.mark.parametrize(
    "text",
    [
        "# mine\nyear,kind\n2001,Wet\n\n2002,El Niño\n",
        "kind,year,why\nwet,2001,x\nel  nino,2002\n",
        "year;kind\n2001;WET\n2002;el nino",
    ],
)
def test_a_list_of_years(tmp_path: Path, text: str) -> None:
    path = tmp_path / "kinds.csv"
    path.write_text(text, encoding="utf-8")
    assert read_kinds(path) == {2001: "wet", 2002: "el nino"}


def test_every_fault_of_a_list_is_told_by_row(tmp_path: Path) -> None:
    path = tmp_path / "kinds.csv"
    path.write_text('year,kind\n2001,wet\n20x1,dry\n2001,dry\n2003,\n,wet\n2004,"open\n2005,dry\n')
    with pytest.raises(InputError) as caught:
        read_kinds(path)
    told = [(p.where, p.what) for p in caught.value.problems]
    assert told == [
        ("kinds.csv, line 3, column 'year'", "'20x1' is not a year."),
        ("kinds.csv, line 4, column 'year'", "2001 is given twice."),
        ("kinds.csv, line 5, column 'kind'", "It is blank."),
        ("kinds.csv, line 6, column 'year'", "It is blank."),
    ]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("year,type\n2001,wet\n", "no single column kind"),
        ("2001,wet\n", "no single column year or kind"),
        ("year,kind\n", "has no years"),
        ("", "is empty"),
    ],
)
def test_a_list_without_its_columns(tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "kinds.csv"
    path.write_text(text)
    with pytest.raises(InputError, match=message):
        read_kinds(path)


def test_neither_a_way_nor_a_file() -> None:
    with pytest.raises(InputError, match="'fall snow' is neither a file nor a way"):
        kinds_of_year(falls(RAIN, WARMTH), "fall snow")


def test_kinds_must_match_the_years() -> None:
    check_kinds(KINDS, [2001, 2004])
    with pytest.raises(InputError, match="No kind is given for 2005, 2006"):
        check_kinds(KINDS, [2001, 2005, 2006])
    with pytest.raises(InputError, match=r"None of its years \(2001 to 2004\).*\(1990 to 1991\)"):
        check_kinds(KINDS, [1990, 1991])


@pytest.mark.parametrize(
    "text",
    ["wet 50, normal 30, dry 20", "dry=20%,wet: 50 %, Normal 30", "wet .5, normal 0.3, dry 0.2"],
)
def test_weights(text: str) -> None:
    assert parse_weights(text, THIRDS) == pytest.approx({"wet": 0.5, "normal": 0.3, "dry": 0.2})


def test_weights_of_names_with_blanks_and_of_kinds_left_out() -> None:
    found = parse_weights("La Niña 60, el nino 40", {1: "la nina", 2: "el nino", 3: "neutral"})
    assert found == pytest.approx({"la nina": 0.6, "el nino": 0.4, "neutral": 0.0})


def test_rounded_thirds_are_taken() -> None:
    assert parse_weights("wet 33.3, normal 33.3, dry 33.3", THIRDS) == pytest.approx(
        dict.fromkeys(THIRDS, 1 / 3)
    )


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("wet 50, normal 30", "add up to 80"),
        ("wet 50, normal 30, dry 21", "add up to 101"),
        ("wet 0, dry 0", "add up to 0"),
        ("wet 50, cold 50", "There is no kind 'cold'. The kinds are dry, normal, wet"),
        ("wet 50, wet 50", "'wet' is given twice"),
        ("wet", "'wet' is not a kind and its chance"),
        ("wet -50, dry 150", "There is no kind|not a kind and its chance"),
        ("", "is not a kind and its chance"),
    ],
)
def test_weights_that_will_not_do(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        parse_weights(text, THIRDS)


@pytest.mark.analytic("a kind's chance is shared by its years: 0.5/2, 0.2/1, 0.5/2, 0.3/1")
def test_weights_of_years() -> None:
    weights = {"wet": 0.5, "normal": 0.3, "dry": 0.2}
    assert year_weights(KINDS, weights, [2001, 2002, 2003, 2004]) == pytest.approx(
        [0.25, 0.2, 0.25, 0.3]
    )


@pytest.mark.analytic("weights by the kinds' own frequency give the sample mean back (I6)")
def test_weights_by_frequency_change_nothing() -> None:
    own = {"wet": 0.5, "normal": 0.25, "dry": 0.25}
    assert year_weights(KINDS, own, sorted(KINDS)) == pytest.approx([0.25] * 4)


def test_a_chance_without_a_year_is_refused() -> None:
    with pytest.raises(InputError, match="No fall of the weather is dry"):
        year_weights(KINDS, {"wet": 0.5, "normal": 0.3, "dry": 0.2}, [2001, 2004])
