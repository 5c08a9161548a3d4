"""Development: responses, leaves and stages against their sources."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.process import development
from simulator.process.development import (
    emergence_thermal_time,
    leaf_appearance,
    photoperiod_response,
    seed_zone_moisture,
    temperature_response,
    vernalization_rate,
    vernalization_response,
    zadoks_stage,
)

CM_PER_INCH = 2.54


@pytest.mark.practice("from memory: Wang and Engel 1998, Agric. Syst. 58:1-24, wheat 0/24/35")
@pytest.mark.parametrize(
    ("temperature", "response"),
    [
        (2, 0.0207),
        (5, 0.1089),
        (10, 0.3603),
        (15, 0.6656),
        (20, 0.9190),
        (24, 1.0),
        (27, 0.9416),
        (30, 0.7432),
        (33, 0.3679),
        (35, 0.0),
    ],
)
def test_wheat_temperature_response(temperature, response):
    found = temperature_response(temperature, 0.0, 24.0, 35.0)
    assert found == pytest.approx(response, abs=5e-5)


@pytest.mark.practice("from memory: Wang and Engel 1998, form of the response, 0/25/35")
@pytest.mark.parametrize(
    ("temperature", "response"),
    [(5, 0.0713), (10, 0.2799), (15, 0.5764), (20, 0.8642), (25, 1.0), (30, 0.7922), (33, 0.4045)],
)
def test_warmer_optimum(temperature, response):
    found = temperature_response(temperature, 0.0, 25.0, 35.0)
    assert found == pytest.approx(response, abs=5e-5)


@given(st.floats(-30, 60), st.floats(-5, 5), st.floats(10, 28), st.floats(30, 45))
def test_temperature_response_is_a_share(temperature, lowest, best, highest):
    assert 0.0 <= temperature_response(temperature, lowest, best, highest) <= 1.0 + 1e-12


@pytest.mark.analytic("Wang-Engel response: 1 at the best temperature, 0 at and beyond its limits")
def test_temperature_response_at_its_cardinals():
    assert temperature_response(18.0, 0.0, 18.0, 35.0) == pytest.approx(1.0, abs=1e-12)
    for outside in (-4.0, 0.0, 35.0, 41.0):
        assert temperature_response(outside, 0.0, 18.0, 35.0) == 0.0


@pytest.mark.practice("from memory: Wang and Engel 1998, vernalization -1.3/4.9/15.7")
@pytest.mark.parametrize(
    ("temperature", "rate"),
    [
        (0, 0.5668),
        (2, 0.8763),
        (4.9, 1.0),
        (8, 0.8968),
        (10, 0.7393),
        (12, 0.5245),
        (15, 0.1107),
        (15.7, 0.0),
        (-1.3, 0.0),
    ],
)
def test_vernalization_rate(temperature, rate):
    assert vernalization_rate(temperature) == pytest.approx(rate, abs=5e-5)


@pytest.mark.practice("from memory: Streck, Weiss and Baenziger 2003, Agron. J. 95:155-159")
@pytest.mark.parametrize(
    ("days", "response"),
    [
        (5, 0.0005),
        (10, 0.0170),
        (15, 0.1164),
        (20, 0.3569),
        (22.5, 0.5),
        (25, 0.6287),
        (30, 0.8082),
        (35, 0.9011),
        (40, 0.9467),
        (50, 0.9819),
    ],
)
def test_vernalization_response(days, response):
    assert vernalization_response(days, 22.5) == pytest.approx(response, abs=5e-5)


@pytest.mark.analytic("inverse of V^5 / (22.5^5 + V^5)")
@pytest.mark.parametrize(
    ("response", "days"), [(0.5, 22.50), (0.9, 34.92), (0.95, 40.54), (0.99, 56.40)]
)
def test_days_of_vernalization_for_a_response(response, days):
    # the days are printed to two decimals, and a response rises by at most 0.06 a day
    assert vernalization_response(days, 22.5) == pytest.approx(response, abs=0.005 * 0.06)


@pytest.mark.practice("from memory: Streck et al. 2003 on Wang and Engel 1998, days to 0.9")
@pytest.mark.parametrize(
    ("temperature", "days"),
    [(0, 61.6), (2, 39.8), (4.9, 34.9), (8, 38.9), (10, 47.2), (12, 66.6)],
)
def test_days_at_a_temperature_until_nearly_vernalized(temperature, days):
    steps = np.arange(0.0, 100.0, 0.01)
    rate = vernalization_rate(temperature)
    there = [step for step in steps if vernalization_response(step * rate, 22.5) >= 0.9]
    assert there[0] == pytest.approx(days, abs=0.05 + 0.01)  # one step of the search


@pytest.mark.practice("from memory: Wang and Engel 1998, photoperiod, critical 8 h, optimum 20 h")
@pytest.mark.parametrize(
    ("hours", "response"), [(10, 0.4866), (12, 0.7364), (14, 0.8647), (16, 0.9305), (20, 0.9817)]
)
def test_photoperiod_response(hours, response):
    assert photoperiod_response(hours, 8.0, 20.0) == pytest.approx(response, abs=5e-5)


@pytest.mark.analytic("1 - exp(-4) at the optimum, none at the critical daylength")
def test_photoperiod_response_at_its_ends():
    assert photoperiod_response(20.0, 8.0, 20.0) == pytest.approx(1.0 - np.exp(-4.0), abs=1e-12)
    assert photoperiod_response(8.0, 8.0, 20.0) == 0.0
    assert photoperiod_response(5.0, 8.0, 20.0) == 0.0


@pytest.mark.practice("from memory: Oregon State Extension, 80 degC d and 50 an inch of depth")
@pytest.mark.parametrize(("inches", "thermal_time"), [(1.0, 130), (1.5, 155), (2.0, 180)])
def test_emergence(inches, thermal_time):
    assert emergence_thermal_time(inches * CM_PER_INCH) == pytest.approx(thermal_time, abs=1e-9)


@pytest.mark.analytic("Haun stage is thermal time over the phyllochron: 600/100 = 6")
def test_haun_stage():
    assert leaf_appearance(600.0, 100.0) == pytest.approx(6.0, abs=1e-12)
    assert sum(leaf_appearance(t, 100.0) for t in [7.5] * 80) == pytest.approx(6.0, abs=1e-9)


def test_seed_waits_in_dry_soil():
    assert seed_zone_moisture(8.0, 8.0, 18.0) == 0.0
    assert seed_zone_moisture(10.0, 8.0, 18.0) == pytest.approx(0.5)
    assert seed_zone_moisture(12.0, 8.0, 18.0) == pytest.approx(1.0)
    assert seed_zone_moisture(30.0, 8.0, 18.0) == 1.0


# stages

# development at which each landmark is passed, in order
LANDMARKS = {
    30: 1.0, 31: 1.12, 32: 1.25, 37: 1.45, 39: 1.58, 45: 1.72, 55: 1.86, 61: 2.0,
    69: 2.12, 73: 2.25, 85: 2.70, 91: 3.0,
}  # fmt: skip


@pytest.mark.published("Zadoks, Chang and Konzak 1974, Weed Res. 14:415-421: 13 is three leaves")
@pytest.mark.parametrize("leaves", [0, 1, 2, 2.5])
def test_seedling_stage_counts_leaves(leaves):
    assert zadoks_stage(0.1, leaves, 1.0) == pytest.approx(10.0 + leaves)


@pytest.mark.published("Zadoks, Chang and Konzak 1974, Weed Res. 14:415-421: 2x counts tillers")
def test_tillering_stage_counts_tillers():
    assert [zadoks_stage(0.5, 5.0, 1.0 + tillers) for tillers in (0, 1, 4, 9, 30)] == [
        20, 21, 24, 29, 29,
    ]  # fmt: skip


@pytest.mark.practice("common practice: order of the landmarks of the decimal scale")
def test_landmarks_are_met_in_order():
    stages = {stage: zadoks_stage(at, 9.0, 3.0) for stage, at in LANDMARKS.items()}
    for landmark, found in stages.items():
        assert found == pytest.approx(landmark, abs=1e-9)
    assert list(stages.values()) == sorted(stages.values())


def test_the_scale_has_no_jump_from_elongation_on():
    steps = [zadoks_stage(d, 9.0, 3.0) for d in np.arange(1.0, 3.0, 1e-4)]
    assert np.diff(steps).max() < 0.02


@given(st.floats(0, 3.5), st.floats(0, 1), st.floats(0, 15), st.floats(0, 3), st.floats(0, 12))
@settings(max_examples=300)
def test_stage_never_goes_back(at, more, leaves, more_leaves, shoots):
    before = zadoks_stage(at, leaves, shoots)
    assert zadoks_stage(at + more, leaves, shoots) >= before - 1e-9
    assert zadoks_stage(at, leaves + more_leaves, shoots) >= before - 1e-9
    assert 10.0 <= before <= 91.0


# what is compiled is what is read

RANGES = {
    development.temperature_response: [(-10, 45), (-5, 5), (10, 28), (30, 45)],
    development.vernalization_rate: [(-5, 20)],
    development.vernalization_response: [(0, 90), (1, 40)],
    development.photoperiod_response: [(6, 20), (0, 12), (12, 24)],
    development.emergence_thermal_time: [(0.5, 10)],
    development.seed_zone_moisture: [(0, 40), (2, 10), (11, 30)],
    development.leaf_appearance: [(0, 40), (50, 150)],
    development.zadoks_stage: [(0, 3.2), (0, 12), (1, 10)],
    development.grain_stage: [(0, 1)],
}


def test_every_process_is_compared_with_its_python():
    here = {
        name
        for name, value in vars(development).items()
        if hasattr(value, "py_func") and value.py_func.__module__ == development.__name__
    }
    assert here == {function.__name__ for function in RANGES}


@pytest.mark.parametrize("function", RANGES, ids=lambda function: function.__name__)
def test_compiled_code_gives_the_bits_of_its_python(function):
    low, high = np.transpose(RANGES[function])
    for arguments in np.random.default_rng(1).uniform(low, high, (300, low.size)).tolist():
        assert function(*arguments) == function.py_func(*arguments)
