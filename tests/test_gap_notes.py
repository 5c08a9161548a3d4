"""Notes on gaps: of days that were looked at alone, once, and falls outside the record together."""

from __future__ import annotations

import json
from pathlib import Path
from urllib.parse import urlencode

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from click.testing import CliRunner

import simulator
from simulator.commands import fallsown
from simulator.commands.shared.reporting import outside_together
from simulator.weather.fall_year import keep_filled
from simulator.weather.record import fill_short_gaps
from simulator.weather.samples import sample_weather

SUMMER, FALL, LONG = "2001-07-10", "2002-11-10", "2004-11-05"


@pytest.fixture(scope="module")
def record() -> xr.Dataset:
    """Three days without tmax in a summer, without rain in a fall; 16 in a fall without tmin."""
    whole = sample_weather().sel(time=slice("1999-07-01", "2009-06-30")).copy(deep=True)
    days = whole["time"].values.astype("datetime64[D]")
    for name, first, count in (("tmax", SUMMER, 3), ("rain", FALL, 3), ("tmin", LONG, 16)):
        at = (days >= np.datetime64(first)) & (days < np.datetime64(first) + count)
        whole[name].values[at] = np.nan
    return whole


def told(notes: list[str]) -> list[str]:
    return [note for note in notes if "filled" in note]


@pytest.mark.parametrize(
    ("question", "given", "tells"),
    [
        ("whatif", {"sow": "10-20", "nitrogen": "0 lb/acre"}, True),
        ("whatif", {"sow": "10-20", "nitrogen": "0 lb/acre", "years": "2005:2008"}, False),
        ("response", {"sow": "10-20", "nitrogen": "0,30,60,90 lb/acre"}, True),
        ("timing", {"years": "2002:2006"}, True),
        ("timing", {"years": "2005:2008"}, False),
        ("risk", {"sow": "10-20", "latest": False}, True),
        ("why", {"years": "2001:2006", "year": 2005}, True),
        ("outlook", {}, True),
        ("degree_days", {}, False),  # which needs no rain
    ],
)
def test_what_was_filled_is_told_of_seasons_that_are_used(
    record: xr.Dataset, question: str, given: dict, tells: bool
) -> None:
    answer = getattr(simulator, question)(record, **given).answer
    notes = told(answer.notes)
    assert len(notes) == int(tells), notes
    assert all(FALL in note and SUMMER not in note for note in notes)
    assert all("rain 3 days as 0 mm" in note and "tmax" not in note for note in notes)


def test_cover_looks_at_the_summer_too(record: xr.Dataset) -> None:
    asked = {"years": "2000:2002", "sow": "10-20", "residue": "rolled"}
    early = told(simulator.cover(record, days=60, **asked).answer.notes)
    late = told(simulator.cover(record, days=120, **asked).answer.notes)
    assert [SUMMER in note for note in (*early, *late)] == [False, True]
    # a gap after the end is no end of the weather, and falls stand in their order
    gone = simulator.cover(record, **{**asked, "years": "2001:2008"}).answer.left_out
    assert gone == sorted(gone)
    assert any(text.startswith("2003: the weather has a gap 204 days after") for text in gone)
    assert any(text.startswith("2008: the weather ends 76 days after") for text in gone)


def test_python_and_the_page_tell_it_so_too(record: xr.Dataset) -> None:
    from simulator.page import answers
    from simulator.page.question import read_question
    from simulator.page.records import place_of

    assert SUMMER not in simulator.compare(record, sow="10-20").attrs["filled"]
    assert "filled" not in simulator.compare(record, sow="10-20", years=[2006]).attrs
    for year, tells in ((2002, True), (2006, False)):
        day = simulator.run_season(record, simulator.Plan(sow="10-20"), year=year)
        assert ("filled" in day.attrs) is tells
    place = place_of("own", record, "us", [])
    for year, count in (("", 1), ("2002", 1), ("2006", 0)):
        asked = read_question(urlencode({"year": year} if year else {}))
        notes = told(answers.notes(answers.answer(asked, place)))
        assert len(notes) == count
        assert all(SUMMER not in note for note in notes)


def test_plots_are_told_of_their_seasons(record: xr.Dataset, tmp_path: Path) -> None:
    table = tmp_path / "plots.csv"
    rows = pd.DataFrame(
        {
            "site": "home",
            "sown": ["2006-10-20", "2006-10-20"],
            "sampled": ["2007-03-15", "2007-04-15"],
            "seeding (lb/acre)": 90.0,
            "nitrogen_fall (lb/acre)": 0.0,
            "biomass (lb/acre)": [1500.0, 3000.0],
        }
    )
    rows.to_csv(table, index=False)
    assert told(simulator.agree({"home": record}, plots=str(table)).answer.notes) == []


@pytest.mark.analytic("gaps of two days and of one, of which one span holds the second")
def test_days_that_are_not_used_are_not_counted(record: xr.Dataset) -> None:
    filled = fill_short_gaps(record)
    days = [(np.datetime64("2002-11-12"), np.datetime64("2003-04-15"))]
    assert keep_filled(filled, days).attrs["filled"].startswith("rain 3 days")  # its last day
    assert keep_filled(filled, []).attrs["filled"] == ""
    own = filled.assign_attrs(filled=f"by the station; {filled.attrs['filled']}")
    assert keep_filled(own, []).attrs["filled"] == "by the station"


@pytest.mark.parametrize("command", ["compare", "timing", "degreedays", "risk"])
def test_falls_outside_the_record_are_named_together(command: str) -> None:
    words = [command, "--years", "1990:2030", "--json"]
    words += ["--sow", "10-20"] if command in ("compare", "risk") else []
    words += ["--no-latest"] if command == "risk" else []
    gone = json.loads(CliRunner().invoke(fallsown, words).output)["left_out"]
    assert gone[0].startswith("1990 to 199")
    assert gone[-1].startswith("202") and " to 2030: outside the record" in gone[-1]
    assert len(gone) <= 4, gone


@pytest.mark.analytic("worked by hand")
def test_only_neighbours_at_one_site_are_named_together() -> None:
    has = "is needed, the record has 2000-07-01 to 2008-06-30."
    lines = [
        f"1998: 1998-10-20 to 1999-04-15 {has}",
        f"1999: 1999-10-20 to 2000-04-15 {has}",
        "2004: no tmin from 2004-11-05 to 2004-11-20 (16 days).",
        f"2008: 2008-06-20 to 2009-04-15 {has}",  # begins within the record
        f"2009: 2009-10-20 to 2010-04-15 {has}",
        f"2011: 2011-10-20 to 2012-04-15 {has}",
        f"B: 2012: 2012-10-20 to 2013-04-15 {has}",
    ]
    outside = "outside the record, which has 2000-07-01 to 2008-06-30."
    assert outside_together(lines) == [
        f"1998 to 1999: {outside}",
        *lines[2:4],
        f"2009: {outside}",
        f"2011: {outside}",
        f"B: 2012: {outside}",
    ]
