"""Files and JSON: the same rows everywhere, whole or not at all, and safe to open."""

from __future__ import annotations

import csv
import json
import os
import stat
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner

from simulator.commands import fallsown
from simulator.problems import InputError
from simulator.show import output
from simulator.show.output import Answer, check_destination, csv_text, grid_rows, json_text, write
from simulator.show.tables import Column, difference, number, over_falls, paragraph, spread, table

SMALL = ["--years", "2005:2006", "--sow", "10-20", "--nitrogen", "0,60 lb/acre"]


def answer(site: str = "Somewhere", line: str = "fallsown whatif") -> Answer:
    data = xr.Dataset(
        {
            "biomass_kg_ha": (("year", "sow"), [[1.5, np.nan], [-3.0, 4.0]], {"units": "kg/ha"}),
            "stand_alive": (("year", "sow"), [[1.0, np.nan], [0.0, 1.0]], {"units": "1"}),
        },
        coords={"year": [2001, 2002], "sow": ["10-20", "11-05"]},
        attrs={"site": site, "cereal": "rye", "soil": "loam"},
    )
    return Answer(
        command="whatif",
        version="9.9",
        line=line,
        inputs={"site": site, "rates": [0.5, 2.0]},
        data=data,
        rows=grid_rows(data),
        cautions=["Take care."],
        left_out=["2003: no rain"],
    )


def cells(text: str) -> list[list[str]]:
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return list(csv.reader(lines))


# --- rows ---


def test_rows_label_every_case_and_nan_is_none() -> None:
    rows = answer().rows
    assert [(row["year"], row["sow"]) for row in rows] == [
        (2001, "10-20"),
        (2001, "11-05"),
        (2002, "10-20"),
        (2002, "11-05"),
    ]
    assert [row["biomass_kg_ha"] for row in rows] == [1.5, None, -3.0, 4.0]
    assert [row["stand_alive"] for row in rows] == [True, None, False, True]
    assert {row["case"] for row in rows} == {"as recorded"}
    assert all(type(row["year"]) is int for row in rows)


def test_json_is_strict_and_names_units() -> None:
    found = json.loads(json_text(answer()), parse_constant=pytest.fail)
    assert list(found)[:6] == ["command", "version", "inputs", "units", "cautions", "rows"]
    assert found["units"]["biomass_kg_ha"] == "kg/ha"
    assert found["units"]["site"] == ""
    assert found["left_out"] == ["2003: no rain"]


def test_csv_carries_provenance_header_and_rows() -> None:
    text = csv_text(answer())
    assert "# made_by: fallsown 9.9\n# command_line: fallsown whatif\n" in text
    assert "# left_out: 2003: no rain\n" in text
    assert "biomass_kg_ha [kg/ha]" in text
    header, *rows = cells(text)
    assert header == [
        "site",
        "year",
        "cereal",
        "soil",
        "sow",
        "case",
        "biomass_kg_ha",
        "stand_alive",
    ]
    assert [row[-2:] for row in rows] == [["1.5", "yes"], ["", ""], ["-3", "no"], ["4", "yes"]]


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@sum(a1)", "\t=1", "\r=1"])
def test_csv_text_is_no_formula(name: str) -> None:
    _, *rows = cells(csv_text(answer(site=name)).replace("\r", ""))
    assert all(row[0].startswith("'") for row in rows)


def test_csv_comments_are_no_formulas_where_a_spreadsheet_splits_them() -> None:
    text = csv_text(answer(line="fallsown whatif --sow '10-20,=cmd()'\n=evil"))
    for separator in (",", ";", "\t"):
        for line in text.splitlines():
            assert not any(part.strip().startswith(("=", "@")) for part in line.split(separator))
    assert not any(line.startswith("=") for line in text.splitlines())


# --- files ---


def test_csv_netcdf_and_json_hold_the_same(tmp_path: Path) -> None:
    runner = CliRunner()
    outputs = [tmp_path / "grid.csv", tmp_path / "grid.nc"]
    rows = []
    for out in outputs:
        result = runner.invoke(fallsown, ["whatif", *SMALL, "--json", "--out", str(out)])
        assert result.exit_code == 0, result.stderr
        assert result.stderr.endswith(f"Written: {out}, 8 rows.\n")
        rows = json.loads(result.stdout)["rows"]
    header, *lines = cells(outputs[0].read_text())
    assert header == list(rows[0])
    with xr.open_dataset(outputs[1]) as grid:
        assert grid.attrs["Conventions"].startswith("CF-")
        assert grid.attrs["invented"] == "yes"
        assert "not a recommendation" in grid.attrs["cautions"]
        assert all(grid[name].attrs["units"] for name in grid.data_vars)
        for row, line in zip(rows, lines, strict=True):
            case = grid.sel(
                year=row["year"],
                sow=row["sow"],
                nitrogen_kg_ha=row["nitrogen_kg_ha"],
                case=row["case"],
            )
            assert float(case["biomass_kg_ha"].squeeze()) == row["biomass_kg_ha"]
            assert float(line[header.index("biomass_kg_ha")]) == pytest.approx(
                row["biomass_kg_ha"], rel=1e-9
            )


def test_season_days_are_written(tmp_path: Path) -> None:
    out = tmp_path / "days.nc"
    result = CliRunner().invoke(fallsown, ["season", "--year", "2010", "--out", str(out)])
    assert result.exit_code == 0, result.stderr
    with xr.open_dataset(out) as days:
        assert str(days["time"].values[-1])[:10] == "2011-04-15"
        assert days["biomass_kg_ha"].attrs["units"] == "kg/ha"


@pytest.mark.parametrize("suffix", [".csv", ".nc", ".CSV"])
def test_a_file_is_replaced_whole_and_keeps_its_mode(tmp_path: Path, suffix: str) -> None:
    out = tmp_path / f"grid{suffix}"
    out.write_text("old")
    out.chmod(0o640)
    write(answer(), out)
    assert out.read_bytes() != b"old"
    assert stat.S_IMODE(out.stat().st_mode) == 0o640
    assert list(tmp_path.iterdir()) == [out]


def test_a_new_file_has_the_mode_that_others_have(tmp_path: Path) -> None:
    write(answer(), tmp_path / "grid.csv")
    (tmp_path / "other").touch()
    modes = {stat.S_IMODE(path.stat().st_mode) for path in tmp_path.iterdir()}
    assert len(modes) == 1


def test_a_failed_write_leaves_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "grid.csv"
    out.write_text("old")

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(output.Path, "write_text", full)
    with pytest.raises(InputError, match="No space left on device"):
        write(answer(), out)
    assert out.read_text() == "old"
    assert list(tmp_path.iterdir()) == [out]


def test_a_link_is_followed(tmp_path: Path) -> None:
    real = tmp_path / "real.csv"
    real.write_text("old")
    link = tmp_path / "link.csv"
    link.symlink_to(real)
    write(answer(), link)
    assert link.is_symlink() and real.read_text().startswith("# made_by")


def test_bad_destinations_are_refused_before_anything_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("simulator.season.compare.compare", lambda *_, **__: pytest.fail("was run"))
    for out in (tmp_path, tmp_path / "grid.xlsx", tmp_path / "grid", tmp_path / "no" / "grid.csv"):
        result = CliRunner().invoke(fallsown, ["whatif", "--out", str(out)])
        assert result.exit_code == 2
        assert result.stderr.startswith("--out: ")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_closed_folder_is_refused(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(InputError, match="cannot be written to"):
        check_destination(tmp_path / "grid.csv")


# --- tables ---


def test_a_table_has_units_under_its_titles() -> None:
    laid = table([Column("sown", left=True), Column("bio-\nmass", "kg/ha")], [["Oct 20", "5"]])
    assert laid.splitlines() == [
        "         bio-",
        "         mass",
        "sown    kg/ha",
        "------  -----",
        "Oct 20      5",
    ]


def test_a_long_table_is_whole() -> None:
    assert len(table([Column("n")], [[str(n)] for n in range(5000)]).splitlines()) == 5002


@pytest.mark.analytic("quantiles of 0, 1, ..., 100 are their own percentages")
def test_spread_holds_eight_of_ten_falls() -> None:
    assert spread(np.arange(101.0)) == pytest.approx((10.0, 90.0))
    assert spread(np.array([5.0, np.nan, 1.0, 3.0])) == (1.0, 5.0)  # fewer than ten: the ends


def test_numbers() -> None:
    assert number(1120.85, "mass", "us") == "1000"
    assert number(float("nan"), "mass", "us") == "-"
    assert number(-0.2, "mass", "si") == "0"
    assert number(254.0, "water", "us") == "10.0"
    assert difference(100.4, 200.6, "mass", "si") == "+101"  # as the printed 100 and 201 differ
    assert difference(100.4, 100.2, "mass", "si") == "0"
    assert over_falls(np.array([1.0, 3.0]), "mass", "si") == "2 (1-3)"
    assert over_falls(np.array([-3.0, 3.0]), "mass", "si", sign=True) == "0 (-3 to 3)"
    assert over_falls(np.array([7.0]), "mass", "si") == "7"
    assert over_falls(np.array([np.nan]), "mass", "si") == "-"


def test_paragraphs_fit_the_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    for columns, widest in ((80, 80), (200, 96), (20, 60)):
        monkeypatch.setenv("COLUMNS", str(columns))
        assert max(map(len, paragraph("word " * 100).splitlines())) <= widest
