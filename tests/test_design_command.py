"""``fallsown design``: what it says is what was drawn; its field is a plot table; its refusals."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

import simulator
from simulator.commands import fallsown
from simulator.trials.observations import read_plots

SMALL = ("--years", "1999:2008", "--trials", "100", "--sow", "10-20,11-20,12-08")


def design(*words: str) -> Result:
    return CliRunner().invoke(fallsown, ["design", *words], catch_exceptions=False)


def answer(*words: str) -> dict[str, Any]:
    result = design(*SMALL, *words, "--json")
    assert result.exit_code == 0, result.stderr
    found: dict[str, Any] = json.loads(result.stdout)
    return found


@pytest.mark.analytic("the sentence says what the rows have")
def test_the_headline_is_the_row() -> None:
    found = answer("--trial-years", "5", "--blocks", "5", "--difference", "700 lb/acre")
    rows = [row for row in found["rows"] if (row["blocks"], row["trial_years"]) == (5, 5)]
    seen = [f"{row['chance_percent']:.0f}" for row in rows]
    told = re.findall(
        r"(\d+) (?:see a true difference of 700 lb/ac )?between two", found["sentences"][0]
    )
    assert told == seen and [row["compared"] for row in rows] == [
        "sow",
        "seeding",
        "nitrogen",
        "treatment",
    ]
    assert "5 years with 5 blocks" in found["sentences"][0]
    assert "700 lb/ac" in found["sentences"][0]
    (takes,) = [text for text in found["sentences"] if text.startswith("To see it 8 times of 10")]
    assert re.match(
        r"To see it 8 times of 10 takes, between [a-z ,]+, (?:\d+|more than) ?\d* years", takes
    )
    assert "years:" not in takes
    assert {row["blocks"] for row in found["rows"]} == {3, 4, 5, 6}
    assert found["design"]["plot_spread"] == {"value": 0.25, "share": True, "given": False}
    assert any("Huddell" in note for note in found["notes"])
    assert any("statistician" in caution for caution in found["cautions"])


@pytest.mark.analytic("differences of the grid's means, and the order of the season")
def test_the_models_differences_are_those_of_the_grid() -> None:
    rates = ("--nitrogen", "60,0 lb/acre", "--seeding", "90 lb/acre")
    backwards = ("--sow", "12-08,11-20,10-20", "--years", "1999:2008", "--trials", "100")
    result = design(*backwards, *rates, "--json")
    found = json.loads(result.stdout)
    grid = simulator.compare(
        simulator.sample_weather(),
        sow=["10-20", "12-08"],
        nitrogen="0,60 lb/acre",
        years=range(1999, 2009),
    )
    by_date = grid["biomass_kg_ha"].mean(["year", "nitrogen"])
    by_date = by_date.squeeze(drop=True)
    first = found["model_differences"][1]
    assert found["design"]["sow"] == ["10-20", "11-20", "12-08"]
    assert (first["first"], first["second"]) == ("10-20", "12-08")
    expected = float(by_date.sel(sow="12-08") - by_date.sel(sow="10-20"))
    assert first["difference_kg_ha"] == pytest.approx(expected)


@pytest.mark.analytic("more spread, less seen; a whole plot's spread is the dates' alone")
def test_spread_lowers_the_chance() -> None:
    asked = ("--trial-years", "6", "--difference", "1000 kg/ha", "--blocks", "2")

    def alike(*words: str) -> dict[str, float]:
        found = answer(*asked, *words)["if_years_alike"]
        return {row["compared"]: row["smallest_kg_ha"] for row in found}

    few, many = alike("--spread", "300 kg/ha"), alike("--spread", "600 kg/ha")
    split = alike("--spread", "300 kg/ha", "--split", "--whole-plot-spread", "900 kg/ha")
    assert all(many[name] == pytest.approx(2.0 * few[name]) for name in few)
    assert split["sow"] > 1.5 * few["sow"]
    assert split["seeding"] == pytest.approx(few["seeding"])
    assert split["nitrogen"] == pytest.approx(few["nitrogen"])


@pytest.mark.analytic("counting plots")
def test_a_budget_is_kept() -> None:
    found = answer("--budget", "200", "--nitrogen", "0,60 lb/acre")
    uses = found["uses_of_budget"]
    for one in uses:
        assert one["plots"] == one["treatments"] * one["blocks"] * one["trial_years"] <= 200
        assert one["trial_years"] <= 6
    assert {one["treatments"] for one in uses} == {12, 6, 4}
    for factor in ("sow", "seeding", "nitrogen", "treatment"):
        here = [one["smallest_kg_ha"] for one in uses if one["compared"] == factor]
        assert here == sorted(here) and here


@pytest.mark.parametrize("system", ["us", "si"])
@pytest.mark.analytic("what was asked for is what stands in the table")
def test_the_layout_is_a_plot_table(system: str, tmp_path: Path) -> None:
    layout, plan = tmp_path / "field.csv", tmp_path / "plan.svg"
    words = ("--split", "--blocks", "3", "--nitrogen", "0,60 lb/acre", "--fall", "2031")
    timing = ("--nitrogen-timing", "sowing 1/3 + 02-15 2/3", "--units", system)
    result = design(*SMALL, *words, *timing, "--layout", str(layout), "--plan", str(plan))
    assert result.exit_code == 0, result.stderr
    lines = layout.read_text(encoding="utf-8").splitlines()
    filled = [line if line.startswith(("#", "site")) else f"{line}3000" for line in lines]
    layout.write_text("\n".join(filled) + "\n", encoding="utf-8")
    table = read_plots(layout).table
    assert len(table) == 3 * 12 and (table["year"] == 2031).all()
    assert set(table["sown"].dt.strftime("%m-%d")) == {"10-20", "11-20", "12-08"}
    assert set(table["sampled"].dt.strftime("%Y-%m-%d")) == {"2032-04-15"}
    both = table["nitrogen_fall_kg_ha"] + table["nitrogen_spring_kg_ha"]
    assert sorted(both.round(2).unique()) == pytest.approx([0.0, 67.25], abs=0.011)
    fed = table[both > 0]
    assert (fed["nitrogen_fall_kg_ha"] / both[both > 0]).to_numpy() == pytest.approx(
        1 / 3, abs=2e-3
    )
    assert (fed["fall_nitrogen_date"] == fed["sown"]).all()
    assert set(fed["spring_nitrogen_date"].dt.strftime("%Y-%m-%d")) == {"2032-02-15"}
    assert set(table["seeding_kg_ha"].round()) == {67.0, 101.0}
    (header,) = [line for line in lines if line.startswith("site,")]
    assert f"biomass ({'lb/acre' if system == 'us' else 'kg/ha'})" in header
    drawn = plan.read_text(encoding="utf-8")
    assert all(f">{number}<" in drawn for number in (101, 112, 312))
    assert "101:" in result.stdout and "Block 3" in result.stdout


def test_the_same_seed_writes_the_same_field(tmp_path: Path) -> None:
    made = []
    for at, seed in enumerate(("4", "4", "5")):
        file = tmp_path / f"{at}.csv"
        assert design(*SMALL, "--seed", seed, "--layout", str(file)).exit_code == 0
        made.append([line for line in file.read_text().splitlines() if line[0] != "#"])
    assert made[0] == made[1] != made[2]


REFUSED = [
    (["--difference", "0 lb/acre"], "--difference: No trial can show a difference of '0 lb/acre'."),
    (["--difference", "-5 kg/ha"], "--difference: No trial can show"),
    (["--difference", "500"], "--difference: '500' has no unit."),
    (["--difference", "nan kg/ha"], "--difference: 'nan kg/ha' is not a number"),
    (["--blocks", "1"], "--blocks: One block cannot tell a treatment from the spot"),
    (["--blocks", "13"], "--blocks: 13 is out of range. Give 2 to 12."),
    (["--trial-years", "1"], "--trial-years: One year cannot say whether"),
    (["--trial-years", "25"], "--trial-years: Trials of 25 years cannot be simulated. Give 2 to"),
    (["--budget", "31"], "--budget: 31 plots are fewer than one block of 32 treatments."),
    (["--budget", "0"], "--budget: 0 is out of range."),
    (["--spread", "25"], "--spread: '25' has no unit. Write for example '25 %'"),
    (["--spread", "200 %"], "--spread: '200 %' is more than plots spread."),
    (["--spread", "-5 kg/ha"], "--spread: '-5 kg/ha' is out of range."),
    (["--whole-plot-spread", "5 %"], "--whole-plot-spread: There are no whole plots."),
    (["--split", "--whole-plot-spread", "5"], "--whole-plot-spread: '5' has no unit."),
    (["--trials", "99"], "--trials: 99 is out of range. Give 100 to 10,000."),
    (["--seed", "-1"], "--seed: -1 is out of range."),
    (["--fall", "20"], "--fall: 20 is no year."),
    (["--end", "zadoks 61"], "--end: 'zadoks 61' is not a date"),
    (["--sow", "10-20,10-20"], "--sow: '10-20' is given twice."),
    (["--layout", "field.txt"], "--layout: 'field.txt' does not end in .csv."),
    (["--plan", "field.gif"], "--plan: 'field.gif' does not end in .svg"),
    (["--chart", "a.svg", "--plan", "a.svg"], "Two of them name the same file."),
    (["--years", "2001:2003"], "--years: 3 falls in which every treatment reaches its end"),
    (
        ["--sow", "10-20", "--seeding", "90 lb/acre", "--nitrogen", "0 lb/acre"],
        "--sow: One treatment has nothing to be compared with.",
    ),
    (
        ["--nitrogen", ",".join(map(str, range(26))) + " lb/acre"],
        "--sow: 208 treatments are too many for a trial.",
    ),
]


@pytest.mark.parametrize(("words", "told"), REFUSED, ids=[" ".join(w)[:40] for w, _ in REFUSED])
def test_what_cannot_be_asked_is_refused(
    words: list[str], told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    out = [] if "--layout" in words else ["--layout", "layout.csv"]
    result = design(*words, *out, "--out", "out.csv")
    assert result.exit_code == 2 and result.stdout == ""
    assert told in result.stderr and "Traceback" not in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_faults_are_told_together() -> None:
    result = design("--blocks", "1", "--difference", "500", "--seeding", "90", "--fall", "1")
    assert result.exit_code == 2
    for option in ("--blocks", "--difference", "--seeding", "--fall"):
        assert f"  {option}: " in result.stderr


def test_a_budget_too_small_for_two_years_is_refused() -> None:
    result = design(*SMALL, "--nitrogen", "0 lb/acre", "--seeding", "90 lb/acre", "--budget", "11")
    assert result.exit_code == 2
    assert "11 plots hold no trial of 2 blocks in 2 years. Give at least 12" in result.stderr
    found = answer("--nitrogen", "0 lb/acre", "--seeding", "90 lb/acre", "--budget", "12")
    assert [one["plots"] for one in found["uses_of_budget"]] == [12]
    assert found["hidden_response"] is None


def test_python_refuses_by_the_name_of_the_argument() -> None:
    with pytest.raises(simulator.InputError, match=r"^trial_years: Trials of 25 years cannot"):
        simulator.design_trial(simulator.sample_weather(), trial_years=25)


def test_python_writes_the_field(tmp_path: Path) -> None:
    asked = {"sow": "10-20,12-08", "trials": 100, "years": "1999:2008"}
    layout = tmp_path / "field.csv"
    reply = simulator.design_trial(simulator.sample_weather(), **asked, layout=layout)
    assert len(reply.answer.carried()["layout"]) == 64 and layout.exists()
    assert "between sowing dates" in reply.chart().title
