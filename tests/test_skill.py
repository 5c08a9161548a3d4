"""Statistics of agreement: the printed figures, another library, and what must hold by identity."""

from __future__ import annotations

from collections.abc import Callable

import hydroeval
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.problems import InputError
from simulator.trials import skill

ONE = ([1.2, 2.5, 3.1, 4.8, 5.0, 6.7, 7.3, 8.9], [1.0, 2.9, 2.8, 5.1, 5.6, 6.1, 7.9, 8.2])
# biomass [kg/ha] of five cover crops (JEQ 2022, doi 10.1002/jeq2.20342) and invented simulations
TWO = ([3340, 3160, 1600, 303, 164], [3600, 2900, 1750, 420, 110])
HYDROERR = "HydroErr, on the two arrays; digits as recorded"
PERMETRICS = "HydroErr and permetrics, on the two arrays; digits as recorded"
ALL = [
    skill.bias,
    skill.mean_absolute_error,
    skill.rmse,
    skill.nrmse,
    skill.nrmse_of_range,
    skill.percent_bias,
    skill.nash_sutcliffe,
    skill.index_of_agreement,
    skill.index_of_agreement_absolute,
    skill.index_of_agreement_refined,
    skill.correlation,
    skill.kling_gupta,
    skill.kling_gupta_2012,
]


def same(statistic: Callable[..., float], one: float, two: float) -> None:
    """Hold a statistic of both arrays to the printed digits."""
    for arrays, printed in ((ONE, one), (TWO, two)):
        assert statistic(*arrays) == pytest.approx(printed, abs=5.01e-10)


@pytest.mark.other_program(HYDROERR)
def test_bias_and_ranges() -> None:
    same(skill.bias, 0.0125, 42.6)
    same(skill.nrmse, 0.099991988, 0.108971056)
    same(skill.nrmse_of_range, 0.064118239, 0.058788100)
    same(skill.percent_bias, 0.253164557, 2.486284580)


@pytest.mark.other_program(HYDROERR)
def test_indices_of_agreement() -> None:
    same(skill.index_of_agreement_absolute, 0.886590038, 0.930798980)
    same(skill.index_of_agreement_refined, 0.886503067, 0.931585969)


@pytest.mark.other_program(PERMETRICS)
def test_errors_and_efficiencies() -> None:
    same(skill.mean_absolute_error, 0.4625, 168.2)
    same(skill.rmse, 0.493710441, 186.711006639)
    same(skill.nash_sutcliffe, 0.959118426, 0.980931950)
    same(skill.index_of_agreement, 0.989428567, 0.995230988)
    same(skill.correlation, 0.979364247, 0.990998569)
    same(skill.kling_gupta, 0.968435971, 0.973341227)
    same(skill.kling_gupta_2012, 0.966541602, 0.966264230)


SERIES = st.lists(
    st.tuples(st.floats(1.0, 1e4), st.floats(1.0, 1e4)), min_size=4, max_size=30
).filter(lambda both: all(np.ptp([pair[side] for pair in both]) > 1.0 for side in (0, 1)))


@pytest.mark.other_program("hydroeval 0.1.0, evaluator(rmse, nse, kge, kgeprime, pbias)")
@given(SERIES)
def test_hydroeval_agrees(both: list[tuple[float, float]]) -> None:
    seen, made = (np.array(side) for side in zip(*both, strict=True))

    def theirs(function: Callable[..., object]) -> float:
        return float(np.ravel(hydroeval.evaluator(function, made, seen))[0])

    close = {"rel": 1e-9, "abs": 1e-9}
    assert skill.rmse(seen, made) == pytest.approx(theirs(hydroeval.rmse), **close)
    assert skill.nash_sutcliffe(seen, made) == pytest.approx(theirs(hydroeval.nse), **close)
    assert skill.kling_gupta(seen, made) == pytest.approx(theirs(hydroeval.kge), **close)
    assert skill.kling_gupta_2012(seen, made) == pytest.approx(theirs(hydroeval.kgeprime), **close)
    assert skill.percent_bias(seen, made) == pytest.approx(-theirs(hydroeval.pbias), **close)


@pytest.mark.analytic("identities of the definitions: a perfect model")
@pytest.mark.parametrize("seen", [ONE[0], TWO[0]])
def test_a_perfect_model(seen: list[float]) -> None:
    for error in (
        skill.bias,
        skill.mean_absolute_error,
        skill.rmse,
        skill.nrmse,
        skill.nrmse_of_range,
        skill.percent_bias,
    ):
        assert error(seen, seen) == 0.0
    for score in (
        skill.nash_sutcliffe,
        skill.index_of_agreement,
        skill.correlation,
        skill.index_of_agreement_absolute,
        skill.index_of_agreement_refined,
        skill.kling_gupta,
        skill.kling_gupta_2012,
    ):
        assert score(seen, seen) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.analytic("identities of the definitions: a model that says the observed mean")
@pytest.mark.parametrize("seen", [ONE[0], TWO[0]])
def test_a_model_that_says_the_mean(seen: list[float]) -> None:
    made = np.full(len(seen), np.mean(seen))
    assert skill.nash_sutcliffe(seen, made) == pytest.approx(0.0, abs=1e-12)
    assert skill.index_of_agreement(seen, made) == pytest.approx(0.0, abs=1e-12)
    assert skill.rmse(seen, made) == pytest.approx(np.std(seen), rel=1e-12)
    assert np.isnan(skill.kling_gupta(seen, made))  # a constant has no correlation


@pytest.mark.analytic("nothing is divided by a spread of nothing")
def test_observations_all_alike_give_nan_by_rule() -> None:
    seen, made = [0.1] * 7, [0.1, 0.2, 0.3, 0.1, 0.2, 0.3, 0.1]
    for statistic in ALL:
        if statistic in (
            skill.bias,
            skill.mean_absolute_error,
            skill.rmse,
            skill.nrmse,
            skill.percent_bias,
        ):
            assert np.isfinite(statistic(seen, made))
        else:
            assert np.isnan(statistic(seen, made)), statistic.__name__


def test_pairs_without_a_number_are_left_out() -> None:
    seen, made = [*ONE[0], np.nan, 3.0], [*ONE[1], 5.0, np.nan]
    for statistic in ALL:
        assert statistic(seen, made) == statistic(*ONE)
        assert np.isnan(statistic([], [])) and np.isnan(statistic([np.nan], [1.0]))


def test_arrays_of_unequal_length_are_refused() -> None:
    with pytest.raises(InputError, match="2 values observed, 3 simulated"):
        skill.rmse([1, 2], [1, 2, 3])


@pytest.mark.analytic("root mean squares worked by hand")
def test_the_plots_own_spread() -> None:
    found = skill.skill_of([1.0, 2.0, 3.0], [1.0, 2.0, np.nan], [3.0, 4.0, 99.0], [9.0, 4.0, 1.0])
    assert (found.n, found.mean_observed, found.rmse) == (2, 1.5, 0.0)
    assert found.plot_sd == pytest.approx(np.sqrt(12.5))
    assert found.mean_se == pytest.approx(np.sqrt((1.0 + 4.0) / 2))
    assert np.isnan(skill.skill_of([1.0], [1.0]).plot_sd)


@pytest.mark.other_program("numpy 2, std and corrcoef; the errors worked by hand")
def test_differences_stand_beside_a_constant() -> None:
    seen, made = [10.0, 20.0, 60.0, np.nan], [20.0, 20.0, 30.0, 5.0]
    found = skill.contrast_of(seen, made, 2)
    assert (found.n, found.seasons, found.mean_observed) == (3, 2, 30.0)
    assert found.mean_simulated == pytest.approx(70.0 / 3.0)
    assert found.bias == pytest.approx(70.0 / 3.0 - 30.0)
    assert found.rmse == pytest.approx(np.sqrt((10.0**2 + 30.0**2) / 3.0))
    assert found.rmse_of_constant == pytest.approx(np.std(seen[:3]))
    assert found.correlation == pytest.approx(np.corrcoef(seen[:3], made[:3])[0, 1])


@pytest.mark.analytic("a constant is what its name says")
def test_a_model_of_one_difference_is_a_constant() -> None:
    found = skill.contrast_of(ONE[0], np.full(len(ONE[0]), np.mean(ONE[0])), 1)
    assert found.rmse == pytest.approx(found.rmse_of_constant, rel=1e-12)
    assert np.isnan(found.correlation)
    nothing = skill.contrast_of([], [], 0)
    assert nothing.n == 0 and np.isnan([nothing.rmse, nothing.rmse_of_constant]).all()
