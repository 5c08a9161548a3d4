"""``fallsown agree``: plots simulated beside plots measured."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner, Result

from simulator import compare, sample_weather
from simulator.commands import fallsown
from simulator.problems import InputError
from simulator.trials import skill
from simulator.trials.agreement import agree, by_site
from simulator.trials.observations import read_plots

TABLE = """\
# invented: yes
site,sown,sampled,biomass (lb/acre),biomass_sd (lb/acre),plots,nitrogen_fall (lb/acre),nitrogen_percent
hollow,2004-10-20,2005-04-15,3000,600,4,0,1.1
hollow,2004-10-20,2005-04-15,4500,700,4,60,1.3
hollow,2005-11-20,2006-04-15,2000,400,4,0,
hollow,2006-11-20,2007-04-15,2100,500,4,0,1.0
hollow,1904-11-20,1905-04-15,2000,500,4,0,1.0
"""  # noqa: E501
WEATHER = ["--weather", "hollow=tallow-bend"]


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, ["agree", *arguments], catch_exceptions=False)


def prose(*arguments: str) -> str:
    result = run(*arguments)
    assert result.exit_code == 0, result.stderr
    return " ".join(result.stdout.split())


@pytest.fixture
def table(tmp_path: Path) -> str:
    path = tmp_path / "plots.csv"
    path.write_text(TABLE)
    return str(path)


@pytest.fixture(scope="module")
def trial(open_data: Path) -> list[str]:
    """The options that name the open trial data."""
    weather = open_data / "weather"
    return [
        "--plots", str(open_data / "trials" / "rye_trial_means.csv"),
        "--weather", f"headland={weather / 'headland_winters_2005_2007.csv'}",
        "--weather", f"prattville={weather / 'prattville_winters_2003_2005_2006.csv'}",
        "--weather", f"belle_mina={weather / 'belle_mina_2003_2012.csv'}",
    ]  # fmt: skip


# --- the answer ---


def test_each_plot_is_the_season_that_compare_grows(table: str) -> None:
    """A plot is run by its dates and rates as any plan is."""
    rows = json.loads(run("--plots", table, *WEATHER, "--json").stdout)["rows"]
    # without a date in the table fall nitrogen goes on five days after sowing
    grid = compare(sample_weather(), sow=["10-20", "11-20"], nitrogen="0,60 lb/acre",
                   nitrogen_timing="10-25", years=[2004, 2005, 2006])  # fmt: skip
    for row, nitrogen in zip(rows, (0, 1, 0, 0), strict=True):
        season = grid.sel(year=row["year"], sow=row["sow"]).isel(nitrogen=nitrogen)
        expected = float(season["biomass_kg_ha"].squeeze())
        assert row["simulated_kg_ha"] == pytest.approx(expected, rel=1e-9)


def test_the_json_has_the_fields_of_the_contract(table: str) -> None:
    answer = json.loads(run("--plots", table, *WEATHER, "--json").stdout)
    assert answer["command"] == "agree"
    assert answer["inputs"]["soil"] == {"hollow": "sandy loam"}
    assert len(answer["rows"]) == 4 and len(answer["left_out"]) == 1
    assert answer["left_out"][0].startswith("plots.csv, line 7: Season 1904 at hollow")
    row = answer["rows"][1]
    for name in ("site", "year", "cereal", "soil", "sow", "seeding_kg_ha", "nitrogen_kg_ha",
                 "nitrogen_timing", "end", "case", "biomass_kg_ha", "nitrogen_uptake_kg_ha",
                 "nitrogen_percent", "carbon_to_nitrogen", "nitrate_leached_kg_ha", "drainage_mm",
                 "runoff_mm", "rain_mm", "thermal_time_degC_d", "growth_stage_zadoks",
                 "leaf_area_index", "stand_alive", "observed_kg_ha",
                 "simulated_kg_ha"):  # fmt: skip
        assert name in row and name in answer["units"]
    assert row["simulated_kg_ha"] == row["biomass_kg_ha"]
    assert (row["line"], row["sow"], row["end"], row["nitrogen_timing"]) == (
        4, "10-20", "04-15", "10-25")  # fmt: skip
    assert answer["rows"][2]["observed_nitrogen_percent"] is None
    found = answer["skill"]
    assert found["all"]["n"] == found["n"] == found["by_site"]["hollow"]["n"] == 4
    assert {"n", "rmse_kg_ha", "bias_kg_ha", "nse", "kge"} <= set(found["by_site"]["hollow"])
    assert list(found["by_season"]) == ["2004", "2005", "2006"]
    assert found["by_season"]["2005"]["nse"] is None  # one row has no spread
    assert found["also"]["nitrogen_percent"]["n"] == 3


def test_the_skill_is_that_of_the_rows(trial: list[str]) -> None:
    answer = json.loads(run(*trial, "--json").stdout)
    rows, found = answer["rows"], answer["skill"]
    assert len(rows) == 33
    for site, part in [(None, found["all"]), *found["by_site"].items()]:
        some = [row for row in rows if site in (None, row["site"])]
        seen, made = ([row[f"{name}_kg_ha"] for row in some] for name in ("observed", "simulated"))
        assert part["n"] == len(some)
        assert part["rmse_kg_ha"] == pytest.approx(skill.rmse(seen, made))
        assert part["bias_kg_ha"] == pytest.approx(np.mean(made) - np.mean(seen))
        if len(some) > 1:
            assert part["nse"] == pytest.approx(skill.nash_sutcliffe(seen, made))
            assert part["kge"] == pytest.approx(skill.kling_gupta(seen, made))


@pytest.mark.published(
    "Huddell et al. 2024, Scientific Data 11:200, the plot deviations of the data"
)
def test_the_plots_own_spread_stands_beside(trial: list[str], open_data: Path) -> None:
    with (open_data / "trials" / "rye_trial_means.csv").open() as file:
        rows = list(csv.DictReader(file))
    sd = np.array([float(row["biomass_sd_kg_ha"]) for row in rows])
    plots = np.array([float(row["plots"]) for row in rows])
    found = json.loads(run(*trial, "--json").stdout)["skill"]["all"]
    assert found["plot_sd_kg_ha"] == pytest.approx(np.sqrt((sd**2).mean()))
    assert found["mean_se_kg_ha"] == pytest.approx(np.sqrt((sd**2 / plots).mean()))


def test_the_tables_and_sentences_come_from_the_numbers(table: str) -> None:
    told = prose("--plots", table, *WEATHER)
    assert "Rye in 4 rows of plots.csv" in told and "The data are invented." in told
    assert "hollow on sandy loam after cotton; 3 falls, 2004 to 2006" in told
    assert "lb/ac" in told and "kg/ha" not in told  # the units of the plot table
    assert "kg/ha" in prose("--plots", table, *WEATHER, "--units", "si")
    answer = json.loads(run("--plots", table, *WEATHER, "--json").stdout)
    rmse = answer["skill"]["rmse_kg_ha"] / 1.120846673
    assert f"Simulated biomass is off by {rmse:,.0f} lb/ac (RMSE)" in told
    worst = max(answer["rows"], key=lambda row: abs(row["residual_kg_ha"]))
    assert f"The largest misses [lb/ac] are line {worst['line']} (hollow, fall " in told
    high = sum(row["residual_kg_ha"] > 0 for row in answer["rows"])
    assert f"too much in {high} of 4 rows" in told or f"too little in {4 - high} of 4 rows" in told
    assert "Left out: - plots.csv, line 7: Season 1904 at hollow" in told
    assert "No soil is given: sandy loam is taken. Say it with --soil" in told
    assert "tallow-bend" in answer["inputs"]["weather"]["hollow"]
    assert any("invented place" in caution for caution in answer["cautions"])


@pytest.mark.analytic("observed equal to simulated leaves no error")
def test_a_perfect_trial(table: str, tmp_path: Path) -> None:
    rows = json.loads(run("--plots", table, *WEATHER, "--json").stdout)["rows"]
    path = tmp_path / "perfect.csv"
    lines = [f"hollow,{row['year']}-{row['sow']},{row['year'] + 1}-{row['end']},"
             f"{row['simulated_kg_ha']!r},{row['nitrogen_kg_ha']!r}" for row in rows]  # fmt: skip
    path.write_text("site,sown,sampled,biomass_kg_ha,nitrogen_fall_kg_ha\n" + "\n".join(lines))
    found = json.loads(run("--plots", str(path), *WEATHER, "--json").stdout)["skill"]["all"]
    assert found["rmse_kg_ha"] == pytest.approx(0.0, abs=1e-6)
    assert found["nse"] == pytest.approx(1.0, abs=1e-12)
    assert found["kge"] == pytest.approx(1.0, abs=1e-9)


def test_soil_and_crop_by_option_by_table_and_by_default(tmp_path: Path) -> None:
    path = tmp_path / "plots.csv"
    rows = ["site,sown,sampled,biomass_kg_ha,soil", "a,2004-10-20,2005-04-15,3000,clay",
            "b,2004-10-20,2005-04-15,3000,"]  # fmt: skip
    path.write_text("\n".join(rows))
    weather = ["--weather", "a=tallow-bend", "--weather", "b=tallow-bend", "--json"]

    def soils(*options: str) -> dict[str, str]:
        return json.loads(run("--plots", str(path), *weather, *options).stdout)["inputs"]["soil"]

    assert soils() == {"a": "clay", "b": "sandy loam"}
    assert soils("--soil", "loam") == {"a": "loam", "b": "loam"}
    assert soils("--soil", "loam", "--soil", "b=silt loam") == {"a": "loam", "b": "silt loam"}
    biomass = [
        json.loads(run("--plots", str(path), *weather, "--soil", soil).stdout)["rows"][0]
        ["simulated_kg_ha"] for soil in ("sand", "clay")
    ]  # fmt: skip
    assert biomass[0] != biomass[1]


def test_a_site_cannot_have_two_soils(tmp_path: Path) -> None:
    path = tmp_path / "plots.csv"
    path.write_text("site,sown,sampled,biomass_kg_ha,soil\na,2004-10-20,2005-04-15,3000,clay\n"
                    "a,2004-10-20,2005-04-15,3000,loam\n")  # fmt: skip
    result = run("--plots", str(path), "--weather", "a=tallow-bend")
    assert result.exit_code == 2
    assert "plots.csv, line 3, column 'soil': The site 'a' has both clay and loam." in result.stderr


def test_growth_stages_are_set_beside(tmp_path: Path) -> None:
    path = tmp_path / "plots.csv"
    path.write_text("site,sown,sampled,biomass_kg_ha,zadoks,c:n\n"
                    "a,2004-10-20,2005-04-15,3000,55,40\n")  # fmt: skip
    told = prose("--plots", str(path), "--weather", "a=tallow-bend")
    assert "growth stage Zadoks 1 55" in told and "C:N 1 40" in told


def test_files_hold_the_same_rows(table: str, tmp_path: Path) -> None:
    for name in ("rows.csv", "rows.nc"):
        assert run("--plots", table, *WEATHER, "--out", str(tmp_path / name)).exit_code == 0
    rows = json.loads(run("--plots", table, *WEATHER, "--json").stdout)["rows"]
    with xr.open_dataset(tmp_path / "rows.nc") as data:
        assert list(data["simulated_kg_ha"].values) == [row["simulated_kg_ha"] for row in rows]
        assert data["observed_kg_ha"].attrs["units"] == "kg/ha"
        assert "hollow: sandy loam" in data.attrs["soil"]
    text = (tmp_path / "rows.csv").read_text()
    assert text.count("\nhollow,") == 0 and text.count(",hollow,2004,rye,") == 2


# --- what is refused ---


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ([], "Missing option '--weather'"),
        (["--weather", "tallow-bend"], "'tallow-bend' does not say which site it is of."),
        (["--weather", "hollow=nowhere.csv"], "nowhere.csv: There is no such file."),
        ([*WEATHER, *WEATHER], "--weather: The site 'hollow' is given twice."),
        (["--weather", "hillock=tallow-bend"], "line 3: The site 'hollow' has no weather."),
        ([*WEATHER, "--weather", "hillock=tallow-bend"], "The plot table has no site 'hillock'"),
        ([*WEATHER, "--soil", "mud"], "Choose from: sand, loamy sand"),
        ([*WEATHER, "--soil", "hillock=loam"], "--soil: The plot table has no site 'hillock'."),
        ([*WEATHER, "--soil", "loam", "--soil", "clay"], "A value for all sites is given twice."),
        ([*WEATHER, "--previous-crop", "hollow=rice"], "Choose from: cotton, corn"),
        ([*WEATHER, "--chart", "chart.gif"], "--chart: 'chart.gif' does not end in .svg, .png, "
         ".pdf or .html"),
        ([*WEATHER, "--chart", "nowhere/chart.svg"], "--chart: There is no folder 'nowhere'."),
        ([*WEATHER, "--out", "rows.xls"], "--out: 'rows.xls' does not end in .csv or .nc"),
    ],
)  # fmt: skip
def test_bad_options_are_refused(table: str, options: list[str], says: str) -> None:
    result = run("--plots", table, *options)
    told = " ".join(result.stderr.split())
    assert result.exit_code == 2 and result.stdout == "" and "Traceback" not in told
    assert says in told, told


def test_faults_of_all_files_are_told_at_once(tmp_path: Path) -> None:
    plots, station = tmp_path / "plots.csv", tmp_path / "station.csv"
    plots.write_text("site,sown,sampled,biomass_kg_ha\na,2004-10-20,2005-04-15,much\n")
    station.write_text("date,tmax (degF),tmin (degF),rain (inch)\n2004-10-20,x,40,0\n")
    chart = tmp_path / "chart.svg"
    result = run("--plots", str(plots), "--weather", f"a={station}", "--chart", str(chart))
    assert result.exit_code == 2
    assert "plots.csv, line 2, column 'biomass_kg_ha': 'much' is not a number." in result.stderr
    assert "station.csv, line 2, column 'tmax (degF)': 'x' is not a number." in result.stderr
    assert not chart.exists()


def test_the_files_read_are_never_written_over(table: str, tmp_path: Path) -> None:
    named = tmp_path / "plots.svg"
    named.write_text(TABLE)
    for option, path in (("--out", table), ("--chart", str(named))):
        result = run("--plots", path, *WEATHER, option, path)
        assert result.exit_code == 2 and "is one of the files read itself" in result.stderr
        assert Path(path).read_text() == TABLE


# --- from Python ---


def test_from_python(table: str) -> None:
    from simulator.parameters.soils import previous_crop, soil

    plots = read_plots(table)
    soils, told = by_site(plots, [], "soil", soil, "loam")
    crops, _ = by_site(plots, ["corn"], "previous_crop", previous_crop, "cotton")
    assert soils["hollow"].name == "loam" and crops["hollow"].name == "corn" and len(told) == 1
    found = agree(plots, {"hollow": sample_weather()}, site_soils=soils, site_crops=crops)
    assert found.skill().n == 4 and len(found.left_out) == 1
    assert set(found.by("year")) == {"2004", "2005", "2006"} and set(found.others()) == {
        "nitrogen_percent"}  # fmt: skip
    with pytest.raises(InputError, match="no site 'x'"):
        by_site(plots, ["x=loam"], "soil", soil, "loam")


def test_plots_treated_alike_that_do_not_differ_are_told(tmp_path: Path) -> None:
    header, row = "site,latitude,sown,sampled,biomass (lb/acre)\n", "2004-10-20,2005-04-15,4000\n"
    path = tmp_path / "plots.csv"
    path.write_text(header + f"hollow,31.6,{row}" * 2)
    told = prose("--plots", str(path), *WEATHER)
    assert "plots treated alike do not differ at all in the table." in told
