"""Plot tables: what is understood of them, and every fault by row and column."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest

from simulator import sample_weather
from simulator.problems import InputError
from simulator.trials.observations import Plots, read_plots
from simulator.trials.plot_columns import COLUMNS, recognise

HEADER = "site,latitude,sown,sampled,biomass_kg_ha"
ROW = "hollow,31.3,2005-11-19,2006-04-20,2600"
Write = Callable[..., Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Write a plot table of invented data; returns its path."""

    def one(*lines: str, name: str = "plots.csv", encoding: str = "utf-8") -> Path:
        path = tmp_path / name
        path.write_bytes(("\n".join(lines) + "\n").encode(encoding))
        return path

    return one


def faults(path: Path, **how: str) -> list[str]:
    with pytest.raises(InputError) as raised:
        read_plots(path, **how)
    return [str(problem) for problem in raised.value.problems]


# --- what is understood ---


def test_the_open_table_is_read_whole(open_data: Path) -> None:
    plots = read_plots(open_data / "trials" / "rye_trial_means.csv")
    table = plots.table
    assert len(table) == 33 and plots.sites == ["belle_mina", "headland", "prattville"]
    assert plots.system == "si" and not plots.doubts and not plots.invented
    assert list(table["line"]) == list(range(2, 35))
    assert [c.name for c in COLUMNS] == list(table.columns[: len(COLUMNS)])
    assert set(table["year"]) == {2003, 2005, 2006, 2011}
    # mineral is ammonium nitrate; none has no nitrogen to have a kind
    assert set(table["fertilizer"]) == {"ammonium nitrate", "poultry litter"}
    assert table["biomass_kg_ha"].mean() == pytest.approx(4903.2, abs=0.05)
    first = plots.plots()[0]
    assert (first.year, first.sown, first.sampled) == (2011, "10-26", "03-19")
    assert first.dressings == (("10-31", 34.0),)
    assert plots.plots()[2].dressings == (("02-15", 34.0),)


@pytest.mark.published("NIST SP 811, appendix B.8: lb 0.45359237 kg, US survey acre 4046.87261 m2")
def test_units_stand_in_the_header(write: Write) -> None:
    path = write(
        "Site,Latitude,Planted,Sampling date,Biomass (lb/acre),Seeding (lb/ac),"
        "nitrogen_fall_lb_ac,N spring (kg/ha),biomass sd [g/m2],C:N,Nitrogen (%),Notes",
        "hollow,31.3,2005-11-19,2006-04-20,2000,90,30,34,50,45.5,1.2,wet",
    )
    plots = read_plots(path)
    row = plots.table.iloc[0]
    pound = 1.120846673  # the registry's acre is the survey acre
    assert plots.system == "us"
    assert row["biomass_kg_ha"] == pytest.approx(2000 * pound, rel=5e-10)
    assert row["seeding_kg_ha"] == pytest.approx(90 * pound, rel=5e-10)
    assert row["nitrogen_fall_kg_ha"] == pytest.approx(30 * pound, rel=5e-10)
    assert row["nitrogen_spring_kg_ha"] == pytest.approx(34.0, rel=1e-12)
    assert row["biomass_sd_kg_ha"] == pytest.approx(500.0, rel=1e-12)
    assert (row["carbon_to_nitrogen"], row["nitrogen_percent"]) == (45.5, 1.2)
    assert "Columns that are not used: 'Notes'." in plots.notes


@pytest.mark.parametrize(
    ("header", "name", "unit"),
    [
        ("biomass_kg_ha", "biomass_kg_ha", "kg/ha"),
        ("Biomass (lb/acre)", "biomass_kg_ha", "lb/acre"),
        ("biomass_sd_lb_acre", "biomass_sd_kg_ha", "lb/acre"),
        ("C:N", "carbon_to_nitrogen", ""),
        ("Zadoks", "growth_stage_zadoks", ""),
        ("reps", "plots", ""),
        ("previous crop", "previous_crop", ""),
        ("colour of the truck", None, ""),
        ("x" * 500, None, ""),
    ],
)
def test_header_cells(header: str, name: str | None, unit: str) -> None:
    known, found = recognise(header)
    assert (known.name if known else None, found) == (name, unit)


def test_defaults_are_stated(write: Write) -> None:
    plots = read_plots(write("# invented: yes", HEADER, ROW))
    row = plots.table.iloc[0]
    assert row["seeding_kg_ha"] == pytest.approx(90 * 1.120846673, rel=5e-10)  # 90 lb/acre
    assert row["nitrogen_fall_kg_ha"] == row["nitrogen_spring_kg_ha"] == 0.0
    assert (row["cereal"], row["fertilizer"]) == ("rye", "ammonium nitrate")
    assert row["soil"] == row["previous_crop"] == "" and np.isnan(row["plots"])
    assert plots.invented and plots.place(0) == "plots.csv, line 3"
    assert plots.notes == (
        "No seeding is given: 90 lb/ac is taken.",
        "No nitrogen fall is given: none is taken.",
        "No nitrogen spring is given: none is taken.",
        "No cereal is given: rye is taken.",
        "No fertilizer is given: ammonium nitrate is taken.",
    )


def test_dates_of_dressings(write: Write) -> None:
    head = HEADER + ",nitrogen_fall_kg_ha,nitrogen_spring_kg_ha,fall_nitrogen_date"
    plots = read_plots(write(head, ROW + ",30,40,2005-12-01", ROW + ",30,0,"))
    assert plots.plots()[0].dressings == (("12-01", 30.0), ("02-15", 40.0))
    assert plots.plots()[1].dressings == (("11-24", 30.0),)
    assert any(
        note.startswith(
            "Fall nitrogen is taken to go on 5 days after sowing and spring "
            "nitrogen in mid-February"
        )
        for note in plots.notes
    )


@pytest.mark.analytic("standard deviation of 2000, 2400, 2800 is 400")
def test_replicates_give_their_spread(write: Write) -> None:
    rows = [ROW.replace("2600", mass) for mass in ("2000", "2400", "2800")]
    plots = read_plots(write(HEADER, *rows, ROW.replace("2005-11-19", "2005-11-01")))
    assert len(plots.table) == 4 and not plots.doubts
    assert list(plots.table["biomass_sd_kg_ha"][:3]) == pytest.approx([400.0] * 3)
    assert list(plots.table["plots"][:3]) == [1.0] * 3
    assert np.isnan(plots.table["biomass_sd_kg_ha"][3])
    assert any("3 rows are replicates of 1 treatment;" in note for note in plots.notes)


def test_a_repeated_row_is_a_doubt(write: Write) -> None:
    plots = read_plots(write(HEADER, ROW, ROW.replace("2600", "2500"), ROW))
    assert [str(doubt) for doubt in plots.doubts] == [
        "plots.csv, line 4: It repeats line 2 in every cell. If it is no second plot, take it out."
    ]
    assert len(plots.table) == 3


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_delimiters_and_encodings(write: Write, delimiter: str, encoding: str) -> None:
    lines = [line.replace(",", delimiter) for line in (HEADER, ROW)]
    plots = read_plots(write(*lines, name="plots.txt", encoding=encoding))
    assert plots.sites == ["hollow"] and plots.table["biomass_kg_ha"][0] == 2600.0


def test_decimal_commas_and_declared_dates(write: Write) -> None:
    path = write(HEADER.replace(",", ";"), "hollow;31,3;05/11/2005;06/04/2006;2600,5")
    assert any("date_format" in fault for fault in faults(path))
    plots = read_plots(path, date_format="DD/MM/YYYY")
    assert plots.table["biomass_kg_ha"][0] == 2600.5
    assert plots.table["sown"][0] == pd.Timestamp("2005-11-05")


def test_a_spreadsheet(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(HEADER.split(","))
    book.active.append(
        ["hollow", 31.3, pd.Timestamp("2005-11-19"), pd.Timestamp("2006-04-20"), 2600]
    )
    book.active.append(["hollow", 31.3, "2005-11-19", "2006-02-30", "much"])
    path = tmp_path / "plots.xlsx"
    book.save(path)
    assert faults(path) == [
        "plots.xlsx, row 3, column 'sampled': '2006-02-30' does not exist in the calendar. "
        "Correct the date.",
        "plots.xlsx, row 3, column 'biomass_kg_ha': 'much' is not a number. Write a number, or "
        "take the row out.",
    ]
    book.active.delete_rows(3)
    book.save(path)
    plots = read_plots(path)
    assert plots.row_word == "row" and plots.table["sown"][0] == pd.Timestamp("2005-11-19")


def test_the_29th_of_february(write: Write) -> None:
    plots = read_plots(write(HEADER, "hollow,31.3,2003-11-19,2004-02-29,600"))
    assert plots.plots()[0].sampled == "02-28"
    assert "plots.csv, line 2: sampled on 29 February, run to the 28th." in plots.notes


# --- what is refused ---


MORE = HEADER + ",seeding_kg_ha,nitrogen_fall_kg_ha,fertilizer,cereal,soil,previous_crop"


@pytest.mark.parametrize(
    ("row", "says"),
    [
        (
            "hollow,31.3,2005-11-31,2006-04-20,2600,100,0,none,rye,loam,corn",
            "column 'sown': '2005-11-31' does not exist in the calendar.",
        ),
        (
            "hollow,31.3,2005-11-19,2005-11-01,2600,100,0,none,rye,loam,corn",
            "column 'sampled': It was sampled on 2005-11-01, not after it was sown on 2005-11-19.",
        ),
        (
            "hollow,31.3,2005-11-19,2007-04-20,2600,100,0,none,rye,loam,corn",
            "column 'sampled': 2007-04-20 is more than a year after sowing on 2005-11-19.",
        ),
        (
            "hollow,31.3,2005-11-19,2006-08-20,2600,100,0,none,rye,loam,corn",
            "column 'sampled': 2006-08-20 lies in another season than sowing on 2005-11-19",
        ),
        (
            "hollow,31.3,2005-11-19,2006-04-20,-5,100,0,none,rye,loam,corn",
            "column 'biomass_kg_ha': '-5' is negative. Take 0 to 40000.",
        ),
        (
            "hollow,31.3,2005-11-19,2006-04-20,lots,100,0,none,rye,loam,corn",
            "column 'biomass_kg_ha': 'lots' is not a number.",
        ),
        (
            "hollow,31.3,2005-11-19,2006-04-20,nan,100,0,none,rye,loam,corn",
            "column 'biomass_kg_ha': 'nan' is not a number.",
        ),
        (
            "hollow,31.3,2005-11-19,2006-04-20,,100,0,none,rye,loam,corn",
            "column 'biomass_kg_ha': The biomass is blank.",
        ),
        (
            ",31.3,2005-11-19,2006-04-20,2600,100,0,none,rye,loam,corn",
            "column 'site': The site is blank.",
        ),
        (
            "hollow,91,2005-11-19,2006-04-20,2600,100,0,none,rye,loam,corn",
            "column 'latitude': '91' lies outside 0 to 66.",
        ),
        (
            "hollow,31.3,2005-11-19,2006-04-20,2600,9000,0,none,rye,loam,corn",
            "column 'seeding_kg_ha': '9000' lies outside 5 to 500.",
        ),
        (
            "hollow,31.3,2005-11-19,2006-04-20,2600,100,900,mineral,rye,loam,corn",
            "column 'nitrogen_fall_kg_ha': '900' lies outside 0 to 500.",
        ),
        (
            "hollow,31.3,2005-11-19,2006-04-20,2600,100,30,none,rye,loam,corn",
            "column 'fertilizer': It says none, but nitrogen is given.",
        ),
        (
            "hollow,31.3,2005-11-19,2006-04-20,2600,100,30,guano,rye,loam,corn",
            "column 'fertilizer': 'guano' is not known. Choose from: ammonium nitrate",
        ),
        (
            "hollow,31.3,2005-11-19,2006-04-20,2600,100,0,none,maize,loam,corn",
            "column 'cereal': 'maize' is not known. Choose from: rye, wheat",
        ),
        (
            "hollow,31.3,2005-11-19,2006-04-20,2600,100,0,none,rye,mud,corn",
            "column 'soil': 'mud' is not known. Choose from: sand, loamy sand",
        ),
        (
            "hollow,31.3,2005-11-19,2006-04-20,2600,100,0,none,rye,loam,rice",
            "column 'previous_crop': 'rice' is not known. Choose from: cotton, corn",
        ),
        ("hollow,31.3,2005-11-19,2006-04-20", "It has 4 cells, the header 11."),
    ],
)
def test_each_fault_names_its_row_and_column(write: Write, row: str, says: str) -> None:
    good = "hollow,31.3,2005-11-19,2006-04-20,2600,100,0,none,rye,loam,corn"
    told = faults(write("# a comment keeps the count of lines", MORE, good, "", row))
    assert all(text.startswith("plots.csv, line 5") for text in told)
    assert any(says in text for text in told), told


@pytest.mark.parametrize(
    ("header", "says"),
    [
        (
            HEADER.replace("biomass_kg_ha", "biomass"),
            "column 'biomass': The header does not say "
            "the unit. Write biomass (lb/acre) or biomass_kg_ha.",
        ),
        (
            HEADER.replace("biomass_kg_ha", "biomass (furlong)"),
            "column 'biomass (furlong)': "
            "'furlong' cannot be turned into kg/ha. Write lb/acre or kg/ha.",
        ),
        (HEADER.replace("biomass_kg_ha", "biomass (blorp)"), "'blorp' is not a known unit."),
        (HEADER.replace("sampled", "colour"), "No column is sampled. Add a column sampled."),
        (
            HEADER.replace("latitude", "nitrogen"),
            "column 'nitrogen': The header does not say which "
            "nitrogen. Write nitrogen_fall (lb/acre)",
        ),
        (
            HEADER.replace("latitude", "N (lb/acre)"),
            "'lb/acre' cannot be turned into percent. Write nitrogen_fall (lb/acre)",
        ),
        (HEADER.replace("latitude", "sowing"), "'sowing' and 'sown' both name sown."),
    ],
)
def test_headers_that_do_not_do(write: Write, header: str, says: str) -> None:
    told = faults(write(header, ROW))
    assert any(text.startswith("plots.csv, line 1") and says in text for text in told), told


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is empty"),
        (b"hello\nworld\n", "No header of a plot table was found."),
        (bytes(range(256)) * 64, "It is not text"),
        (HEADER.encode() + b"\n", "Nothing stands below the header."),
        (b"PK\x03\x04" + b"0" * 500, "looks like a spreadsheet"),
        (HEADER.encode() + b'\n"hollow,31\n', "quotation mark"),
        (b"a" * 17 * 2**20, "more than 16 MB"),
    ],
)
def test_files_that_are_no_plot_table(tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "plots.csv"
    path.write_bytes(content)
    assert any(says in text for text in faults(path))


def test_no_file_and_a_folder(tmp_path: Path) -> None:
    assert "There is no such file." in faults(tmp_path / "nowhere.csv")[0]
    assert "It is a folder." in faults(tmp_path)[0]


def test_all_faults_are_told_at_once(write: Write) -> None:
    told = faults(write(HEADER, "hollow,north,2005-02-30,soon,-1", ",31.3,2005-11-19,,2600"))
    assert len(told) == 6
    assert [text.split(":")[0] for text in sorted(told)] == [
        "plots.csv, line 2, column 'biomass_kg_ha'",
        "plots.csv, line 2, column 'latitude'",
        "plots.csv, line 2, column 'sampled'",
        "plots.csv, line 2, column 'sown'",
        "plots.csv, line 3, column 'sampled'",
        "plots.csv, line 3, column 'site'",
    ]


def test_nitrogen_outside_the_stand_is_refused(write: Write) -> None:
    head = HEADER + ",nitrogen_spring_kg_ha,spring_nitrogen_date"
    early = "hollow,31.3,2005-11-19,2006-02-01,600,30,"
    told = faults(write(head, early, ROW + ",30,2007-02-15"))
    assert [text.split(":")[0] for text in told] == [
        f"plots.csv, line {line}, column 'spring_nitrogen_date'" for line in (2, 3)
    ]


# --- beside weather ---


def plots_of(write: Write, *rows: str) -> Plots:
    return read_plots(write(HEADER, *rows))


def test_seasons_that_the_weather_lacks_are_left_out_by_row(write: Write) -> None:
    plots = plots_of(write, ROW, ROW.replace("2005", "1905").replace("2006", "1906"))
    covered, left_out = plots.covered_by({"hollow": sample_weather()})
    assert list(covered.table["line"]) == [2]
    assert len(left_out) == 1 and left_out[0].startswith(
        "plots.csv, line 3: Season 1905 at hollow: 1905-11-19 to 1906-04-20 is needed"
    )


def test_no_season_covered_is_a_fault(write: Write) -> None:
    plots = plots_of(write, ROW.replace("2005", "1905").replace("2006", "1906"))
    with pytest.raises(InputError, match="line 2: Season 1905 at hollow"):
        plots.covered_by({"hollow": sample_weather()})


def test_sites_and_weather_must_match(write: Write) -> None:
    plots = plots_of(write, ROW)
    with pytest.raises(InputError) as raised:
        plots.covered_by({"hillock": sample_weather()})
    told = [str(problem) for problem in raised.value.problems]
    assert told[0].startswith("plots.csv, line 2: The site 'hollow' has no weather.")
    assert "hillock" in told[0] and "Its sites are hollow." in told[1]


def test_latitude_comes_from_the_weather_or_the_plots(write: Write) -> None:
    record = sample_weather()
    bare = record.assign_attrs(latitude=float("nan"))
    blank = ROW.replace("31.3", "")
    assert len(plots_of(write, ROW).runs({"hollow": bare}).plots) == 1
    assert len(plots_of(write, blank).runs({"hollow": record}).plots) == 1
    with pytest.raises(InputError, match=r"line 2: Neither .* says the latitude of 'hollow'"):
        plots_of(write, blank).runs({"hollow": bare})
