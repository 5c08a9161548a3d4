"""Fitting: known values found again, nothing seen that was left out, and what is said of it."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner, Result

import simulator
from simulator.commands import fallsown
from simulator.parameters.files import read_parameters
from simulator.parameters.model_error import LEVEL
from simulator.problems import InputError
from simulator.trials.cross_validation import cross_validate, folds, intervals
from simulator.trials.fit_objective import Trial, Weighting
from simulator.trials.fitting import Search, fit, quantities_of, warnings_of
from simulator.trials.observations import Plots, read_plots
from simulator.trials.own_error import own_error
from simulator.trials.regression import regression

OPEN = Path(__file__).parents[2] / "shared" / "open-data"
# hill has three seasons, dale one; nitrogen none, in fall, and in spring
PLANS = [("hill", 2001), ("hill", 2005), ("hill", 2009), ("dale", 2005)]
DOSES = [(0, 0), (60, 0), (0, 60)]
QUICK = Search(rounds=4, population=16, local=20)
LOCAL = Search(rounds=0)


def table() -> str:
    rows = [
        "site,latitude,sown,sampled,nitrogen_fall_kg_ha,nitrogen_spring_kg_ha,plots,"
        "biomass_kg_ha,biomass_sd_kg_ha,nitrogen_percent"
    ]
    rows += [
        f"{site},31.3,{year}-10-{20 + year % 7},{year + 1}-04-10,{fall},{spring},4,4000,900,1.2"
        for site, year in PLANS
        for fall, spring in DOSES
    ]
    return "\n".join(rows)


@pytest.fixture(scope="module")
def plots(tmp_path_factory: pytest.TempPathFactory) -> Plots:
    path = tmp_path_factory.mktemp("trial") / "plots.csv"
    path.write_text(table())
    return read_plots(path)


def trial_of(given: Plots, biomass: np.ndarray | None = None, **more: object) -> Trial:
    rows = given.table if biomass is None else given.table.assign(biomass_kg_ha=biomass, **more)
    weather = simulator.sample_weather()
    return Trial(replace(given, table=rows), {"hill": weather, "dale": weather})


def made_by_the_model(plots: Plots) -> tuple[Trial, dict[str, float]]:
    made_with = {
        "rye radiation_use_efficiency": 2.0,
        "hill organic_matter": 1.2,
        "dale organic_matter": 2.8,
    }
    empty = trial_of(plots)
    quantities = quantities_of(empty, ["radiation_use_efficiency"], supply=["organic_matter"])
    values = np.array([made_with[q.label] for q in quantities])
    made = empty.simulate(quantities, values)
    percent = 100.0 * made[:, 1] / made[:, 0]
    return trial_of(plots, made[:, 0], nitrogen_percent=percent), made_with


@pytest.fixture(scope="module")
def twin(plots: Plots) -> tuple[Trial, dict[str, float]]:
    """Plots that the model itself made, with values that a fit is to find."""
    return made_by_the_model(plots)


@pytest.mark.analytic("the model made the plots itself, so that their misfit is 0 at its values")
def test_values_that_made_the_plots_are_found_again(twin: tuple[Trial, dict[str, float]]) -> None:
    trial, made_with = twin
    quantities = quantities_of(trial, ["radiation_use_efficiency"], supply=["organic_matter"])
    loose = Weighting(prior=100.0)  # priors pull to the defaults, which are not the values here
    found = fit(trial, quantities, weighting=loose, search=QUICK)
    assert found.converged
    for q, value in zip(found.quantities, found.values, strict=True):
        assert value == pytest.approx(made_with[q.label], rel=0.02)
    assert not any(warnings_of(trial, found, loose).values())


def test_a_seed_gives_one_fit_and_another_seed_the_same_minimum(
    twin: tuple[Trial, dict[str, float]],
) -> None:
    trial, _ = twin
    quantities = quantities_of(trial, [], supply=["organic_matter"])
    one, same, other = (
        fit(trial, quantities, search=replace(QUICK, seed=seed)) for seed in (3, 3, 4)
    )
    np.testing.assert_array_equal(one.values, same.values)
    np.testing.assert_allclose(one.values, other.values, rtol=0.01)


@pytest.mark.analytic("1 / (s²/n + e²) by hand")
def test_misfits_are_weighed_by_number_spread_and_model_error(plots: Plots) -> None:
    trial = trial_of(plots)
    simulated = np.column_stack([trial.biomass + 500.0, trial.nitrogen - 10.0])
    counts = np.array([1.0, 0.0, 2.0, 1.0])
    weighting = Weighting(model_error=800.0, nitrogen_error=15.0, nitrogen_weight=0.5, shared=0.0)
    found = trial.misfits(simulated, weighting, counts)
    # all rows have 900 kg/ha of spread among 4 plots, and 1.2 % nitrogen
    biomass = 500.0 / np.sqrt(900.0**2 / 4.0 + 800.0**2)
    nitrogen = -10.0 / np.sqrt((900.0 * 0.012) ** 2 / 4.0 + 15.0**2) * np.sqrt(0.5)
    often = np.sqrt(np.repeat([1.0, 2.0, 1.0], 3))
    np.testing.assert_allclose(found, np.concatenate([biomass * often, nitrogen * often]))


@pytest.mark.analytic("the design effect 1 + (n - 1) rho of Kish (1965), for three rows a season")
@pytest.mark.parametrize("shared", [0.25, 0.5, 1.0])
def test_plots_of_one_season_count_as_fewer(plots: Plots, shared: float) -> None:
    trial = trial_of(plots)
    simulated = np.column_stack([trial.biomass + 500.0, trial.nitrogen - 10.0])
    apart, together = (
        float(np.sum(trial.misfits(simulated, Weighting(shared=rho), np.ones(4)) ** 2))
        for rho in (0.0, shared)
    )
    assert together == pytest.approx(apart / (1.0 + 2.0 * shared))  # three rows a season


def test_rows_of_few_plots_and_unknown_spread_weigh_less(plots: Plots) -> None:
    few = plots.table["plots"].where(plots.table.index != 0, 1.0)
    spread = plots.table["biomass_sd_kg_ha"].where(plots.table.index != 1)
    trial = trial_of(
        plots,
        plots.table["biomass_kg_ha"].to_numpy(),
        plots=few,
        biomass_sd_kg_ha=spread,
        nitrogen_percent=np.nan,
    )
    simulated = np.column_stack([trial.biomass + 500.0, trial.nitrogen])
    misfits = trial.misfits(simulated, Weighting(), np.ones(4))
    assert misfits.size == 12  # nitrogen was not measured
    assert misfits[0] < misfits[2]
    assert misfits[1] == pytest.approx(misfits[2])  # the usual spread stands for the unknown


def test_silent_data_leave_a_parameter_at_its_default(plots: Plots) -> None:
    # sampled on 20 March, before the rye flowers: nothing tells of its ripening
    sooner = plots.table["sampled"] - np.timedelta64(21, "D")
    trial, _ = made_by_the_model(replace(plots, table=plots.table.assign(sampled=sooner)))
    quantities = quantities_of(trial, ["ripening_rate"], supply=["organic_matter"])
    found = fit(trial, quantities, search=LOCAL)
    at = [q.name for q in found.quantities].index("ripening_rate")
    assert found.values[at] == pytest.approx(quantities[at].default, rel=0.01)
    assert warnings_of(trial, found)["rye ripening_rate"] == ["does not matter"]


def test_a_value_on_its_bound_is_told(twin: tuple[Trial, dict[str, float]]) -> None:
    trial, made_with = twin
    default = trial.soils["hill"].organic_matter  # hill was made with less
    low = 0.5 * (made_with["hill organic_matter"] + default)
    assert made_with["hill organic_matter"] < low < default
    quantities = quantities_of(
        trial, [], supply=["organic_matter"], bounds={"organic_matter": (low, 3.0)}
    )
    found = fit(trial, quantities, search=LOCAL)
    assert "on its bound" in warnings_of(trial, found)["hill organic_matter"]


def test_an_unseen_season_is_not_seen(twin: tuple[Trial, dict[str, float]], plots: Plots) -> None:
    trial, _ = twin
    names: list[str] = []
    quantities = quantities_of(trial, names, supply=["organic_matter"])
    for part in ("season", "year", "site"):
        before = cross_validate(trial, quantities, part, search=LOCAL)
        name, out = folds(trial, part)[1]
        rows = out[trial.season_of]
        # whatever the plots that are left out say, what is foretold of them stays the same
        other = trial_of(
            plots,
            np.where(rows, 1.7 * trial.biomass, trial.biomass),
            nitrogen_percent=trial.plots.table["nitrogen_percent"],
        )
        after = cross_validate(other, quantities, part, search=LOCAL)
        np.testing.assert_allclose(after.simulated[rows], before.simulated[rows], err_msg=name)
        assert np.isfinite(before.simulated).all()


def test_a_site_without_another_season_has_the_default_supply(
    twin: tuple[Trial, dict[str, float]],
) -> None:
    trial, _ = twin
    quantities = quantities_of(trial, [], supply=["organic_matter"])
    found = cross_validate(trial, quantities, "season", search=LOCAL)
    assert found.notes == (
        "Without dale 2005, dale has no plots to fit its nitrogen supply on: that of sandy loam"
        " after cotton is taken.",
    )
    dale = trial.season_of == 3
    by_default = trial.simulate((), np.empty(0))
    np.testing.assert_array_equal(found.simulated[dale], by_default[dale])


def test_one_part_cannot_be_left_out(plots: Plots) -> None:
    alone = replace(plots, table=plots.table[plots.table["site"] == "dale"].reset_index(drop=True))
    trial = Trial(alone, {"dale": simulator.sample_weather()})
    for part in ("season", "year", "site"):
        with pytest.raises(InputError, match=f"only one {part}"):
            folds(trial, part)


def test_intervals_hold_the_fit_and_widen_with_what_seasons_disagree_on(
    twin: tuple[Trial, dict[str, float]], plots: Plots
) -> None:
    trial, _ = twin
    quantities = quantities_of(trial, [], supply=["organic_matter"])
    noisy = trial_of(plots, trial.biomass * np.where(trial.season_of == 0, 1.3, 1.0))
    widths = []
    for one in (trial, noisy):
        found = fit(one, quantities, search=LOCAL)
        within = intervals(one, found, 8, search=LOCAL)
        assert within[0, 0] <= found.values[0] + 0.05
        assert found.values[0] <= within[0, 1] + 0.05
        assert np.isnan(within[1]).all()  # dale has one season
        widths.append(np.ptp(within[0]))
        np.testing.assert_array_equal(within, intervals(one, found, 8, search=LOCAL))
    assert widths[1] > widths[0]


@pytest.mark.analytic("sites that share nothing are problems of their own")
def test_a_site_is_fitted_the_same_whoever_stands_beside_it(
    twin: tuple[Trial, dict[str, float]], plots: Plots
) -> None:
    trial, _ = twin
    # hill's plots spread twice as much as dale's: a weight that is shared would show
    spread = np.where(plots.table["site"] == "hill", 900.0, 450.0)
    percent = trial.plots.table["nitrogen_percent"]
    both = trial_of(plots, trial.biomass, biomass_sd_kg_ha=spread, nitrogen_percent=percent)
    rows = both.plots.table
    for site in ("hill", "dale"):
        alone = Trial(
            replace(plots, table=rows[rows["site"] == site].reset_index(drop=True)),
            {site: simulator.sample_weather()},
        )
        one, two = (fit(some, quantities_of(some, []), search=QUICK) for some in (alone, both))
        own = [q.owner == site for q in two.quantities]
        np.testing.assert_array_equal(two.values[own], one.values)
        told = warnings_of(both, two)
        assert {label: told[label] for label in warnings_of(alone, one)} == warnings_of(alone, one)
        np.testing.assert_array_equal(
            intervals(both, two, 6, search=QUICK)[own], intervals(alone, one, 6, search=QUICK)
        )
        if site == "hill":  # dale has no season to leave out and one to fit on
            unseen = [
                cross_validate(some, quantities_of(some, []), "season", search=QUICK).simulated
                for some in (both, alone)
            ]
            np.testing.assert_array_equal(unseen[0][rows["site"] == site], unseen[1])


def test_a_site_is_run_in_one_call_as_it_is_season_by_season(plots: Plots) -> None:
    trial = trial_of(plots)
    quantities = quantities_of(trial, ["radiation_use_efficiency"])
    values = np.array([q.low + 0.6 * (q.high - q.low) for q in quantities])
    together = trial.simulate(quantities, values)
    for at in range(len(trial.seasons)):
        one = trial.simulate(quantities, values, np.arange(len(trial.seasons)) == at)
        there = trial.season_of == at
        np.testing.assert_array_equal(one[there], together[there])
        assert np.isnan(one[~there]).all()


@pytest.mark.parametrize(
    ("free", "words"),
    [
        (["nonsense"], "'nonsense' is no parameter to fit"),
        (["organic_matter"], "'organic_matter' is each site's own"),
        (["field_capacity"], "'field_capacity' goes with the texture"),
        (["growth_best", "growth_best"], "'growth_best' is given twice"),
    ],
)
def test_what_cannot_be_fitted_is_refused(plots: Plots, free: list[str], words: str) -> None:
    with pytest.raises(InputError, match="free: ") as error:
        quantities_of(trial_of(plots), free)
    assert words in error.value.text()


def test_bounds_without_room_are_refused(plots: Plots) -> None:
    for bounds in ((25.0, 30.0), (22.0, 21.0)):
        with pytest.raises(InputError, match="leave no room about the rye's default"):
            quantities_of(trial_of(plots), ["growth_best"], bounds={"growth_best": bounds})


def test_a_soil_parameter_is_shared_by_all_sites(plots: Plots) -> None:
    trial = trial_of(plots)
    (shared,) = quantities_of(trial, ["mineralisation_rate"], supply=[])
    assert (shared.owner, shared.kind) == ("all soils", "soil")
    slow, fast = (trial.simulate([shared], np.array([rate])) for rate in (1e-4, 8e-4))
    assert (fast[:, 1] > slow[:, 1]).all()


def sampled_apart(plots: Plots) -> Plots:
    """The plots with the last of each season sampled a month earlier: degree days vary more."""
    sampled = plots.table["sampled"]
    month = pd.to_timedelta(np.where(plots.table.index % 3 == 2, 31, 0), unit="D")
    return replace(plots, table=plots.table.assign(sampled=sampled - month))


@pytest.mark.analytic("biomass made of its own terms is met exactly, also where not seen")
def test_the_regression_finds_its_own_terms(plots: Plots) -> None:
    plots = sampled_apart(plots)
    trial = trial_of(plots)
    nitrogen = np.tile([0.0, 60.0, 60.0], 4)
    level = np.where(trial.plots.table["site"] == "hill", 300.0, 700.0)
    made = trial_of(plots, level + 900.0 * np.log(trial.thermal_time) + 12.0 * nitrogen)
    found = regression(made, ["season"])
    hill = (made.plots.table["site"] == "hill").to_numpy()
    np.testing.assert_allclose(found.fitted, made.biomass)
    np.testing.assert_allclose(found.left_out["season"][hill], made.biomass[hill])
    # dale has no other season: it is taken for what the other sites are, here hill
    np.testing.assert_allclose(found.left_out["season"][~hill], made.biomass[~hill] - 400.0)


def test_the_regression_takes_litter_apart(plots: Plots) -> None:
    trial = trial_of(plots)
    fertilizer = np.where(trial.plots.table.index % 3 == 2, "poultry litter", "ammonium nitrate")
    nitrogen = np.tile([0.0, 60.0, 60.0], 4) * np.where(fertilizer == "poultry litter", 5.0, 12.0)
    made = trial_of(plots, 900.0 * np.log(trial.thermal_time) + nitrogen, fertilizer=fertilizer)
    np.testing.assert_allclose(regression(made).fitted, made.biomass)


@pytest.mark.analytic("no more rows than unknowns, or terms that do not vary apart: no solution")
@pytest.mark.parametrize(
    ("wanted", "why"),
    [
        (slice(9, 12), "the table has 3 rows for 3 unknowns"),
        (slice(0, 1), "the table has 1 row for 2 unknowns"),
        # of one season, sampled on one day: degree days are the same as the site
        ([0, 1, 2, 2], "the table has degree days, nitrogen and sites that do not vary apart"),
    ],
)
def test_a_regression_that_the_rows_do_not_settle_is_none(
    plots: Plots, wanted: slice | list[int], why: str
) -> None:
    few = replace(plots, table=plots.table.iloc[wanted].reset_index(drop=True))
    found = regression(Trial(few, {few.sites[0]: simulator.sample_weather()}))
    assert found.fitted is None and found.why_none == {"fitted": why}


def test_a_regression_needs_what_it_is_to_foretell(plots: Plots) -> None:
    plots = sampled_apart(plots)
    fertilizer = np.where(plots.table["year"] == 2009, "poultry litter", "ammonium nitrate")
    trial = trial_of(plots, plots.table["biomass_kg_ha"].to_numpy(), fertilizer=fertilizer)
    found = regression(trial, ["season", "year"])
    assert found.fitted is not None
    assert found.left_out == {"season": None, "year": None}
    # hill has litter in 2009 alone, so that nothing tells what it does when that is left out
    assert found.why_none["season"] == (
        "without hill 2009 the table has no rows with the kind of nitrogen that it is to predict"
    )


def test_degree_days_that_hardly_vary_settle_no_slope(plots: Plots) -> None:
    trial = trial_of(plots)  # without hill 2005 there are 2,289 and 2,299 degC d at hill
    seen = trial.thermal_time[(trial.season_of == 0) | (trial.season_of == 2)]
    assert 0.0 < np.ptp(seen) < 0.01 * seen.mean()
    assert "without hill 2005" in regression(trial, ["season"]).why_none["season"]


def test_the_command_says_why_there_is_no_regression(files: list[str], tmp_path: Path) -> None:
    few = tmp_path / "few.csv"
    lines = Path(files[1]).read_text().splitlines(keepends=True)
    few.write_text("".join([*lines[:3], lines[4]]))
    options = [
        "--plots",
        str(few),
        "--weather",
        "hill=tallow-bend",
        "--free",
        "none",
        "--bootstrap",
        "0",
        "--rounds",
        "0",
    ]
    shown = " ".join(run("fit", *options).stdout.split())
    assert "No regression stands beside the fit: the table has 3 rows for 3 unknowns." in shown
    assert "ordinary least squares" not in shown and "the regression" not in shown
    answer = json.loads(run("fit", *options, "--json").stdout)
    assert not [name for name in answer["skill"][0] if "regression" in name]
    whole = " ".join(
        run(
            "fit",
            *files,
            "--free",
            "none",
            "--bootstrap",
            "0",
            "--rounds",
            "0",
            "--leave-out",
            "site",
        ).stdout.split()
    )
    assert "the regression has" in whole
    assert "No regression stands beside it with a site left out: without hill the" in whole


@pytest.mark.skipif(not OPEN.is_dir(), reason="the folder of open data is not here")
def test_the_regression_of_the_open_trials() -> None:
    """About 1,120 kg/ha fitted and 1,690 leaving one season out, as that folder's notes say."""
    weather = OPEN / "weather"
    trial = Trial(
        read_plots(OPEN / "trials" / "rye_trial_means.csv"),
        {
            "belle_mina": simulator.read_weather(
                weather / "belle_mina_2003_2012.csv", latitude=34.69
            ),
            "headland": simulator.read_weather(
                weather / "headland_winters_2005_2007.csv", latitude=31.35
            ),
            "prattville": simulator.read_weather(
                weather / "prattville_winters_2003_2005_2006.csv", latitude=32.46
            ),
        },
    )
    found = regression(trial, ["season"])
    fitted, unseen = (
        np.sqrt(np.mean((one - trial.biomass) ** 2))
        for one in (found.fitted, found.left_out["season"])
    )
    assert fitted == pytest.approx(1120.0, abs=20.0)
    assert unseen == pytest.approx(1690.0, abs=20.0)


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, arguments, catch_exceptions=False)


@pytest.fixture(scope="module")
def files(
    tmp_path_factory: pytest.TempPathFactory, twin: tuple[Trial, dict[str, float]]
) -> list[str]:
    """The twin's plots as a file, and where its weather comes from, as arguments."""
    path = tmp_path_factory.mktemp("files") / "twin.csv"
    rows = pd.read_csv(pd.io.common.StringIO(table()))
    trial, _ = twin
    rows["biomass_kg_ha"] = trial.biomass
    rows["nitrogen_percent"] = trial.plots.table["nitrogen_percent"]
    rows.to_csv(path, index=False)
    return ["--plots", str(path), "--weather", "hill=tallow-bend", "--weather", "dale=tallow-bend"]


def test_the_command_writes_what_agree_then_takes(files: list[str], tmp_path: Path) -> None:
    out = tmp_path / "fitted.toml"
    result = run(
        "fit",
        *files,
        "--free",
        "radiation_use_efficiency",
        "--leave-out",
        "none",
        "--bootstrap",
        "0",
        "--rounds",
        "4",
        "--out",
        str(out),
        "--json",
    )
    assert result.exit_code == 0, result.stderr
    answer = json.loads(result.stdout)
    everything = answer["skill"][0]
    assert everything["n"] == 12
    assert everything["fitted_rmse_kg_ha"] < 0.3 * everything["defaults_rmse_kg_ha"]
    assert [row["parameter"] for row in answer["rows"]] == [
        "radiation_use_efficiency",
        *["organic_matter", "residual_nitrate"] * 2,
    ]
    file = read_parameters(out)
    assert file.cereal["rye"]["radiation_use_efficiency"] == pytest.approx(
        answer["rows"][0]["fitted"], rel=1e-5
    )
    assert file.site["hill"].soil == "sandy loam"
    assert file.provenance["seasons"] == ["hill 2001", "hill 2005", "hill 2009", "dale 2005"]
    agreed = json.loads(run("agree", *files, "--parameters", str(out), "--json").stdout)
    assert agreed["skill"]["all"]["rmse_kg_ha"] == pytest.approx(
        everything["fitted_rmse_kg_ha"], abs=1.0
    )
    assert agreed["inputs"]["parameters"] == str(out)


def test_a_fit_begins_where_a_parameter_file_ends(files: list[str], tmp_path: Path) -> None:
    first = tmp_path / "first.toml"
    first.write_text("[cereal.rye]\nextinction = 0.55\n[site.hill]\nresidual_ammonium = 9.0\n")
    out = tmp_path / "second.toml"
    result = run(
        "fit",
        *files,
        "--free",
        "none",
        "--leave-out",
        "none",
        "--bootstrap",
        "0",
        "--rounds",
        "2",
        "--parameters",
        str(first),
        "--out",
        str(out),
    )
    assert result.exit_code == 0, result.stderr
    file = read_parameters(out)
    assert file.cereal == {"rye": {"extinction": 0.55}}
    assert file.site["hill"].values["residual_ammonium"] == 9.0
    assert "organic_matter" in file.site["hill"].values


def test_the_command_tells_what_it_left_out(files: list[str], tmp_path: Path) -> None:
    chart, out = tmp_path / "fit.svg", tmp_path / "fit.toml"
    result = run(
        "fit",
        *files,
        "--free",
        "none",
        "--leave-out",
        "site",
        "--bootstrap",
        "2",
        "--rounds",
        "2",
        "--chart",
        str(chart),
        "--out",
        str(out),
    )
    assert result.exit_code == 0, result.stderr
    assert max(map(len, result.stdout.splitlines())) <= 110
    assert chart.read_bytes().startswith(b"<svg")
    shown = " ".join(result.stdout.split())
    assert "leaving one site out at a time" in shown
    assert "Without hill, hill has no plots to fit its nitrogen supply on" in shown
    assert "The regression is ordinary least squares" in shown
    own = read_parameters(out).model_errors().level
    assert own.seasons == LEVEL.seasons + 4  # four site-seasons were foretold by the others
    assert own.reach(0.8) != LEVEL.reach(0.8)
    agreed = json.loads(run("agree", *files, "--parameters", str(out), "--json").stdout)
    row = agreed["rows"][0]
    low, high = own.band(row["simulated_kg_ha"])
    assert (row["field_low_kg_ha"], row["field_high_kg_ha"]) == pytest.approx((low, high))


@pytest.mark.analytic("squares of the reaches, averaged by site-seasons, the shipped set as eight")
def test_own_error_is_drawn_towards_the_shipped_one() -> None:
    rows = 40
    simulated = np.full(rows, 4000.0)
    observed = (4000.0 + LEVEL.offset) * np.exp(0.1) - LEVEL.offset  # each off by 0.1
    apart = own_error(simulated, np.full(rows, observed), ["hill"] * rows, list(range(rows)))
    assert apart.within_80 == pytest.approx(
        np.sqrt((40 * 0.1**2 + 8 * LEVEL.within_80**2) / 48), abs=0.002
    )
    together = own_error(simulated, np.full(rows, observed), ["hill"] * rows, [2001] * rows)
    assert together.within_80 == pytest.approx(
        np.sqrt((0.1**2 + 8 * LEVEL.within_80**2) / 9), abs=0.002
    )
    assert own_error(np.full(2, np.nan), np.ones(2), ["hill"] * 2, [1, 2]) is LEVEL


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--free", "nonsense"), "--free: 'nonsense' is no parameter"),
        (("--free", "none,growth_best"), "--free: 'none' stands beside other names"),
        (("--out", "fit.csv"), "does not end in .toml"),
        (("--parameters", "none.toml"), "none.toml: There is no such parameter file"),
        (("--weather", "nowhere=tallow-bend"), "nowhere"),
    ],
)
def test_faults_are_told(files: list[str], arguments: tuple[str, ...], words: str) -> None:
    result = run("fit", *files, *arguments)
    assert result.exit_code == 2
    assert words in result.stderr
    assert "Traceback" not in result.stderr
