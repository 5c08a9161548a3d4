"""Frost: hardening, its loss, the kill, and what snow keeps off."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.parameters.cereals import CEREALS
from simulator.process import frost
from simulator.process.frost import (
    TENDER,
    crown_minimum,
    dehardening,
    hardiest_by_stage,
    hardiness,
    induction_temperature,
    soil_temperature,
    survival,
)


def after(days: int, crown: float, hardiest: float, start: float = TENDER):
    lt50 = start
    for _ in range(days):
        lt50 = hardiness(lt50, crown, hardiest, dehardening(crown))
    return lt50


@pytest.mark.practice("from memory: Fowler, Limin and Ritchie 1999, induction temperature")
@pytest.mark.parametrize(("hardiest", "induction"), [(-24.0, 13.35), (-33.0, 16.96)])
def test_induction_temperature(hardiest, induction):
    assert induction_temperature(hardiest) == pytest.approx(induction, abs=0.005)


@pytest.mark.practice("from memory: Fowler, Limin and Ritchie 1999, hardening at 5 degC from -3")
@pytest.mark.parametrize(
    ("hardiest", "days", "lt50"),
    [
        (-24, 10, -17.94),
        (-24, 20, -22.25),
        (-24, 40, -23.85),
        (-33, 10, -28.20),
        (-33, 20, -32.23),
        (-33, 40, -32.98),
    ],
)
def test_hardening(hardiest, days, lt50):
    assert after(days, 5.0, float(hardiest)) == pytest.approx(lt50, abs=0.005)


@pytest.mark.published(
    "Gusta and Fowler (abstract): dehardening is faster at 20 than at 10-15 degC"
)
def test_hardiness_is_lost_faster_in_warmth():
    at = {crown: after(3, crown, -20.0, start=-18.0) for crown in (12.0, 15.0, 20.0)}
    assert -18.0 < at[12.0] < at[15.0] < at[20.0] <= TENDER


@pytest.mark.published(
    "University of Saskatchewan winter wheat manual ch. 12: -19 degC by late October"
)
def test_a_hardy_wheat_hardens_in_a_fall():
    # five-centimetre soil below 9 degC for eight weeks, from -3 degC; the plant can reach -24
    assert after(56, 8.0, -24.0) <= -19.0


@given(st.floats(-36, TENDER), st.floats(-25, 35), st.floats(-36, -5))
def test_hardiness_stays_between_tender_and_hardiest(lt50, crown, hardiest):
    found = hardiness(max(lt50, hardiest), crown, hardiest, dehardening(crown))
    assert hardiest <= found <= TENDER


def test_a_stand_loses_its_hardening_from_elongation_to_anthesis():
    assert hardiest_by_stage(-24.0, 0.4) == hardiest_by_stage(-24.0, 1.0) == -24.0
    assert hardiest_by_stage(-24.0, 1.5) == pytest.approx(-13.5)
    assert hardiest_by_stage(-24.0, 2.0) == hardiest_by_stage(-24.0, 2.6) == TENDER
    lost = dehardening(2.0)
    assert hardiness(-10.0, 2.0, hardiest_by_stage(-24.0, 0.9), lost) < -10.0
    assert hardiness(-10.0, 2.0, hardiest_by_stage(-24.0, 1.9), lost) > -10.0


@pytest.mark.analytic("by definition half survive at LT50; logistic with a spread of 1.5 degC")
@pytest.mark.parametrize(("above", "share"), [(0.0, 0.5), (2.0, 0.7914), (-2.0, 0.2086)])
def test_survival(above, share):
    assert survival(-12.0 + above, -12.0) == pytest.approx(share, abs=5e-5)


@pytest.mark.published(
    "PMC10202904 table 2: rye hardier than wheat, wheat than barley, barley than oat"
)
def test_order_of_the_cereals():
    order = [CEREALS[name].hardiest for name in ("rye", "triticale", "wheat", "barley", "oat")]
    assert order == sorted(order)


@pytest.mark.practice("common practice: ten centimetres of snow keep the crown well above the air")
def test_snow_protects():
    bare = crown_minimum(-2.0, -15.0, -24.0, 0.0)
    covered = crown_minimum(-2.0, -15.0, -24.0, 10.0)
    assert covered > bare + 1.5
    soil_bare, soil_covered = 1.0, 1.0
    for _ in range(7):
        soil_bare = soil_temperature(soil_bare, -15.0, 0.0, 0.25)
        soil_covered = soil_temperature(soil_covered, -15.0, 20.0, 0.25)
    assert soil_covered > soil_bare + 8.0


@given(st.floats(-15, 30), st.floats(-30, 35), st.floats(0, 100), st.floats(0, 1))
def test_soil_lies_between_yesterday_and_the_air(before, tmean, snow_depth, follow):
    soil = soil_temperature(before, tmean, snow_depth, follow)
    assert min(before, tmean) - 1e-9 <= soil <= max(before, tmean) + 1e-9


# what is compiled is what is read

RANGES = {
    frost.soil_temperature: [(-15, 30), (-30, 35), (0, 60), (0.05, 1)],
    frost.crown_minimum: [(-15, 30), (-25, 35), (-35, 25), (0, 60)],
    frost.induction_temperature: [(-36, -5)],
    frost.hardiest_by_stage: [(-36, -5), (0, 3)],
    frost.dehardening: [(-25, 35)],
    frost.hardiness: [(-36, -3), (-25, 35), (-36, -5), (0, 5)],
    frost.survival: [(-40, 10), (-36, -3)],
}


def test_every_process_is_compared_with_its_python():
    here = {
        name
        for name, value in vars(frost).items()
        if hasattr(value, "py_func") and value.py_func.__module__ == frost.__name__
    }
    assert here == {function.__name__ for function in RANGES}


@pytest.mark.parametrize("function", RANGES, ids=lambda function: function.__name__)
def test_compiled_code_gives_the_bits_of_its_python(function):
    low, high = np.transpose(RANGES[function])
    for arguments in np.random.default_rng(1).uniform(low, high, (300, low.size)).tolist():
        assert function(*arguments) == function.py_func(*arguments)
