"""``fallsown plots``: the answer, what it refuses, its files, chart and Python."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from click.testing import CliRunner, Result

import simulator
from simulator.answers.plots import chart
from simulator.answers.plots.calculate import Worth, find
from simulator.commands import fallsown
from simulator.problems import InputError
from simulator.trials.analysis.layout import lay_out
from simulator.trials.observations import read_plots

HEADER = (
    "site,latitude,sown,sampled,block,seeding (lb/acre),nitrogen_fall (lb/acre),biomass (lb/acre)"
)
KG = 1.1208488  # kg/ha for each lb/acre


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, ["plots", *arguments], catch_exceptions=False)


def prose(*arguments: str) -> str:
    result = run(*arguments)
    assert result.exit_code == 0, result.stderr
    return " ".join(result.stdout.split())


def rows(years: tuple[int, ...] = (2001,), **more: Callable[[int], str]) -> list[str]:
    """Plots of an invented trial in four blocks: 12 lb/ac a lb of nitrogen, seed of no account."""
    random = np.random.default_rng(11)
    made = []
    for year in years:
        for block in range(1, 5):
            for sown in ("10-20", "11-20"):
                for seed in (60, 90):
                    for nitrogen in (0, 30, 60, 90):
                        mass = 3000 + 60 * block + 12 * nitrogen + random.normal(0, 120)
                        mass -= 500 * (sown == "11-20")
                        made.append(
                            f"hollow,31.6,{year}-{sown},{year + 1}-04-15,{block},{seed},"
                            f"{nitrogen},{mass:.0f}"
                        )
    return made


@pytest.fixture
def table(tmp_path: Path) -> Callable[..., str]:
    def write(lines: list[str], header: str = HEADER) -> str:
        path = tmp_path / "plots.csv"
        path.write_text("\n".join(["# invented: yes", header, *lines]) + "\n")
        return str(path)

    return write


# --- the answer ---


@pytest.mark.analytic("a trial made with 12 lb/ac a lb of nitrogen and none for seed")
def test_the_first_screen_is_the_answer(table: Callable[..., str]) -> None:
    result = run("--plots", table(rows()))
    first = result.stdout.split("treatment ")[0]
    assert "Nitrogen rates differed: 90 lb/ac of nitrogen brought 1," in first
    assert "Sowing dates differed: sowing on Oct 20 brought" in first
    assert "Seeding rates did not differ on average" in first
    assert "an average over them loses nothing" in " ".join(first.split())
    assert "straight line describes it best" in " ".join(first.split())
    assert "The data are invented." in " ".join(first.split())


def test_it_says_its_model_and_how_to_ask_for_another(table: Callable[..., str]) -> None:
    path = table(rows((2001, 2004, 2007)))
    told = prose("--plots", path)
    assert "site-years stand for others like them" in told and "--seasons fixed" in told
    assert "--method mixed takes REML; --whole-plot sown takes sowings as whole plots" in told
    told = prose("--plots", path, "--seasons", "fixed", "--whole-plot", "sow")
    assert "speaks of these years alone" in told and "--seasons random" in told
    assert "sowing dates in whole plots" in told and "left among whole plots" in told
    told = prose("--plots", path, "--method", "mixed")
    assert "a mixed model (REML)" in told and "--method strata" in told


def test_json_and_files_hold_the_means(table: Callable[..., str], tmp_path: Path) -> None:
    path = table(rows((2001, 2004, 2007)))
    out = tmp_path / "means.csv"
    told = json.loads(run("--plots", path, "--json", "--out", str(out)).stdout)
    assert len(told["rows"]) == 3 * 16 == len(pd.read_csv(out, comment="#"))
    first = told["rows"][0]
    assert first["sow"] == "10-20" and first["nitrogen_kg_ha"] == 0 and first["plots"] == 4
    own = [
        float(line.split(",")[-1])
        for line in rows((2001, 2004, 2007))
        if line.startswith("hollow,31.6,2001-10-20") and ",60,0," in line
    ]
    assert first["biomass_kg_ha"] == pytest.approx(np.mean(own) * KG, rel=1e-5)
    assert told["units"]["biomass_kg_ha"] == "kg/ha"
    assert {one["treatment"] for one in told["treatments"]} == {"sown", "seeding", "nitrogen"}
    assert told["model"] == {
        "method": "strata",
        "seasons": "random",
        "blocks": True,
        "whole_plots": None,
    }
    assert any("nutrient management plan" in one for one in told["cautions"])
    nc = tmp_path / "means.nc"
    assert run("--plots", path, "--json", "--out", str(nc)).exit_code == 0
    with xr.open_dataset(nc) as kept:
        assert kept["biomass_kg_ha"].attrs["units"] == "kg/ha" and kept.sizes["row"] == 48


@pytest.mark.analytic("price of nitrogen over value of biomass against a slope of 12")
def test_the_rate_that_pays_follows_the_prices(table: Callable[..., str]) -> None:
    path = table(rows((2001, 2004, 2007)))

    def rates(value: str) -> list[float]:
        told = json.loads(run("--plots", path, "--json", "--value", value).stdout)
        return [one["rate_that_pays_kg_ha"] for one in told["responses"] if one["where"] is None]

    assert rates("5000 $/ton") == pytest.approx([90 * KG] * 2, rel=1e-5)
    assert rates("1 $/ton") == [0.0, 0.0]
    assert "--value '40 $/ton' gives the rate that pays" in prose("--plots", path)


def test_treatments_of_its_own(table: Callable[..., str]) -> None:
    made = enumerate(rows())
    lines = [f"{line},{'no-till' if at * at // 3 % 2 else 'tilled'},p{at}" for at, line in made]
    path = table(lines, f"{HEADER},tillage,plot")
    told = prose("--plots", path)
    assert "2 levels of tillage" in told and "Column 'plot' is no treatment here" in told


def test_a_code_of_whole_combinations_is_no_treatment(table: Callable[..., str]) -> None:
    """As the plot table of 'fallsown design' has it, beside the treatments themselves."""
    codes = [str(1 + at % 16) for at in range(64)]
    lines = [f"{line},{code}" for line, code in zip(rows(), codes, strict=True)]
    told = prose("--plots", table(lines, f"{HEADER},treatment"))
    assert "levels of treatment" not in told
    few = [f"{line},{'a' if ',60,' in line[:45] else 'b'}" for line in rows()]
    told = prose("--plots", table(few, f"{HEADER},drill"))
    assert "Column 'drill' is no treatment here: it says no more than the others" in told


def test_rows_can_be_picked(table: Callable[..., str]) -> None:
    told = prose("--plots", table(rows()), "--only", "sown=2001-10-20")
    assert "32 of 64 rows kept" in told and "2 seeding rates by 4 nitrogen rates" in told


def test_sowings_that_moved_are_one_level(table: Callable[..., str]) -> None:
    moved = [line.replace("2004-10-20", "2004-10-23") for line in rows((2001, 2004))]
    told = prose("--plots", table(moved))
    assert "2 sowing dates" in told
    assert "Sowings of different years taken as one: Oct 20 (10-20 to 10-23)" in told.replace(
        "10-20 (10-20", "Oct 20 (10-20"
    )


def test_missing_plots_are_told_and_allowed(table: Callable[..., str]) -> None:
    made = rows()
    told = prose("--plots", table(made[:5] + made[8:]))
    assert "3 plots are missing beside what most treatments of their year have" in told


def test_earlier_samplings_are_left_aside(table: Callable[..., str]) -> None:
    early = [line.replace("2002-04-15", "2002-03-10") for line in rows()]
    told = prose("--plots", table([*early, *rows()]))
    assert "64 plots of" in told and "64 rows of earlier samplings are left aside" in told


# --- beside the weather ---


def test_the_years_are_set_beside_the_record(table: Callable[..., str]) -> None:
    path = table(rows((2001, 2004, 2007)))
    told = prose("--plots", path, "--weather", "hollow=tallow-bend")
    assert "Of 30 falls at hollow, 1995 to 2024" in told
    assert "in falls like the record's it would bring" in told
    assert re.search(r"8 of 10 falls [\d.]+-[\d.]+\)", told)  # of what is usual
    assert re.search(r"in all 30 falls \(-?[\d,]+ to [\d,]+ lb/ac in 8 of 10, .* in a field", told)
    assert "the model's error elsewhere sets the shares" in told
    assert "Tallow Bend is an invented place" in told and "model's answer is not" in told
    record = simulator.sample_weather()
    reply = simulator.analyse_plots({"hollow": record}, plots=path)
    assert any("in falls like the record's" in one for one in reply.sentences)
    blend = reply.answer.carried()["ordinary"][0]["blend"]
    assert blend["tried"] == 3 and 0 < blend["share"] < 1
    moved = blend["measured"] + blend["simulated_all"] - blend["simulated_tried"]
    expected = blend["share"] * moved + (1 - blend["share"]) * blend["simulated_all"]
    assert blend["expected"] == pytest.approx(expected)


def test_python_needs_no_weather(table: Callable[..., str]) -> None:
    reply = simulator.analyse_plots(plots=table(rows()))
    assert reply.headline.startswith("Nitrogen rates differed")
    assert "<table>" in reply._repr_html_() and len(reply.to_dataframe()) == 16
    assert "seasons='random'" not in reply.text and "--" not in " ".join(reply.sentences)


# --- the chart ---


@pytest.mark.parametrize("system", ["us", "si"])
def test_the_chart_has_a_panel_a_year(table: Callable[..., str], system: str) -> None:
    plots = read_plots(table(rows((2001, 2004, 2007))), with_own=True)
    found = find(plots, lay_out(plots), Worth(1.0, 0.05, "$", "", ""))
    drawn = chart.mean_rows(found, system)  # type: ignore[arg-type]
    assert list(dict.fromkeys(row["panel"] for row in drawn)) == ["2001", "2004", "2007"]
    assert len(drawn) == 3 * 2 * 4
    assert all(row["low"] < row["mean"] < row["high"] for row in drawn)
    points, lines = chart.response_rows(found, system)  # type: ignore[arg-type]
    assert {row["panel"] for row in points} == {
        "Response, all years",
        *(f"Response, {year}" for year in (2001, 2004, 2007)),
    }
    assert {row["line"] for row in lines} == {"sown Oct 20", "sown Nov 20"}
    made = chart.chart(found, system).to_dict()  # type: ignore[arg-type]
    assert "brought" in " ".join(made["title"]["text"])
    assert ("lb/ac" if system == "us" else "kg/ha") in json.dumps(made)


def test_the_command_draws_it(table: Callable[..., str], tmp_path: Path) -> None:
    out = tmp_path / "plots.svg"
    assert run("--plots", table(rows()), "--chart", str(out)).exit_code == 0
    assert "<svg" in out.read_text()


# --- what cannot be used ---

ONE = "hollow,31.6,2001-10-20,2002-04-15"


@pytest.mark.parametrize(
    ("lines", "header", "more", "told"),
    [
        (
            [f"{ONE},{b},90,{n},3000" for b in (1, 2) for n in (0, 60)],
            HEADER,
            [],
            "All rows have the same biomass: there is nothing to tell apart.",
        ),
        (
            [f"{ONE},{n},90,{n % 60},{2000 + n}" for n in (1, 2, 3, 31, 32)],
            HEADER,
            [],
            "column 'block': These are no blocks: each holds one treatment alone.",
        ),
        (
            [f"{ONE},{b},90,{n},{2000 + n + i}" for i, (b, n) in enumerate([(1, 0), ("", 9)] * 2)],
            HEADER,
            [],
            "column 'block': The block is blank.",
        ),
        (
            [*rows()[:4], f"{ONE},1,90,60,3000 kg/ha"],
            HEADER,
            [],
            "'3000 kg/ha' has a unit of its own. Keep one unit a column",
        ),
        (
            [f"{line},t{at}" for at, line in enumerate(rows())],
            f"{HEADER},name",
            ["--treatment", "name"],
            "treatment name: It has 64 levels. Take at most 40",
        ),
        (rows(), HEADER, ["--treatment", "soap"], "The table has no column 'soap' of its own."),
        (rows(), HEADER, ["--whole-plot", "cereal"], "'cereal' is no treatment that varies."),
        (rows(), HEADER, ["--only", "sown"], "'sown' cannot be read. Write COLUMN=VALUE"),
        (rows(), HEADER, ["--only", "soap=1"], "There is no column 'soap'."),
        (rows(), HEADER, ["--only", "seeding_kg_ha=1"], "No row has seeding_kg_ha 1."),
        (rows(), HEADER, ["--weather", "dale=tallow-bend"], "The plot table has no site 'dale'."),
        (rows(), HEADER, ["--value", "40"], "'40' is not a price."),
        (rows()[:1] * 5, HEADER, [], "All rows have the same biomass"),
        (rows()[:3], HEADER, [], "It has 3 rows of use."),
        (
            [f"{ONE},{b},90,30,{2000 + b}" for b in range(5)],
            HEADER,
            [],
            "No treatment has two levels in one site and year.",
        ),
    ],
)
def test_what_cannot_be_used_is_told_in_a_sentence(
    table: Callable[..., str], lines: list[str], header: str, more: list[str], told: str
) -> None:
    result = run("--plots", table(lines, header), *more)
    assert result.exit_code == 2
    assert told in result.stderr and "Traceback" not in result.stderr


def test_a_treatment_that_occurs_once_is_told(table: Callable[..., str]) -> None:
    lines = [f"{line},{'B' if at == 9 else 'A'}" for at, line in enumerate(rows())]
    told = prose("--plots", table(lines, f"{HEADER},variety"))
    assert "Variety B occurs in one plot: its mean has no spread of its own." in told


def test_one_plot_a_treatment_makes_no_claim(table: Callable[..., str]) -> None:
    told = prose("--plots", table(rows()[:4]))
    assert "no plot is repeated, so nothing says how sure" in told
    assert "interval" not in told.split("treatment ")[0]


def test_mixed_models_say_what_they_cannot_take(table: Callable[..., str]) -> None:
    header = f"{HEADER},plots,biomass_sd (lb/acre)"
    lines = [f"{ONE},,90,{n},{2000 + n},4,300" for n in (0, 30, 60, 90)]
    result = run("--plots", table(lines, header), "--method", "mixed")
    assert result.exit_code == 2 and "It takes single plots" in result.stderr
    assert "standard deviations count as the spread" in prose("--plots", table(lines, header))


def test_agree_reads_the_same_table(table: Callable[..., str]) -> None:
    """Blocks and treatments of one's own are no fault there."""
    lines = [f"{line},A" for line in rows()[:2]]
    told = read_plots(table(lines, f"{HEADER},variety"))
    assert told.own == () and any("'variety'" in note for note in told.notes)
    with pytest.raises(InputError, match="biomass"):
        read_plots(table(["a,b"], "site,block"))


# --- a worked case ---


def test_nitrogen_by_date_at_headland(open_data: Path) -> None:
    """The case of docs/plots.md: 30, 60 and 90 lb/ac of mineral nitrogen in fall or spring."""
    path = open_data / "trials" / "rye_trial_means.csv"
    asked = ["--only", "site=headland", "--only", "fertilizer=mineral", "--units", "us"]
    told = prose("--plots", str(path), *asked, "--value", "60 $/ton")
    assert "4 nitrogen rates by 2 times of nitrogen; no blocks; headland" in told
    assert "90 lb/ac of nitrogen brought 4,255 lb/ac over none" in told
    assert "90 lb/ac of nitrogen brought 2,151 lb/ac over none" in told


@pytest.mark.published("Huddell et al. 2024, Scientific Data 11:200, the treatment means")
def test_what_nitrogen_brought_is_the_difference_of_the_means(open_data: Path) -> None:
    path = open_data / "trials" / "rye_trial_means.csv"
    asked = ["--only", "site=headland", "--only", "fertilizer=mineral"]
    told = json.loads(run("--plots", str(path), *asked, "--json").stdout)
    of = {
        (one["where"]["year"] if one["where"] else 0, one["nitrogen_timing"]): one
        for one in told["responses"]
    }
    assert of[2005, "fall"]["highest_rate_difference_kg_ha"] == pytest.approx(5680 - 2598.75)
    assert of[2006, "fall"]["highest_rate_difference_kg_ha"] == pytest.approx(8235 - 1778.75)
    assert of[2006, "spring"]["highest_rate_difference_kg_ha"] == pytest.approx(5140 - 1778.75)
