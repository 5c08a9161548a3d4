"""Water: demand, stress, evaporation, runoff, snow and the draining column."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from simulator.process import water
from simulator.process.sun import extraterrestrial_radiation
from simulator.process.water import (
    SPREAD,
    WETTEST,
    basal_crop_coefficient,
    curve_number_runoff,
    depletion_fraction,
    evaporation_reduction,
    layer_drainage,
    mulch_factor,
    percolate,
    reference_evapotranspiration,
    snow_share,
    snowmelt,
    water_over_the_day,
    water_stress,
)

MM_PER_INCH = 25.4
LYON = 45 + 43 / 60  # degrees north
MELT_FACTOR = 2.74  # mm per degC and day

# tmax, tmin, rain of 14 days at 40 N, from day of year 70 on
FORTNIGHT = [
    (12, 1, 0), (8.5, -2, 3.2), (3, -5, 6), (-1, -9, 10), (2, -6, 0), (6, -1, 0), (11, 0, 0),
    (15.5, 4, 12), (18, 7, 25), (21, 9.5, 0), (26, 12, 0), (33, 17, 0), (9, 5, 40), (7, 4, 1),
]  # fmt: skip


# evaporative demand


@pytest.mark.published("Allen et al. 1998, FAO paper 56, example 20 (Hargreaves, Lyon in July)")
def test_lyon_in_july():
    above = extraterrestrial_radiation(LYON, 196)
    assert reference_evapotranspiration(26.6, 14.8, above) == pytest.approx(5.0, abs=0.05)


@pytest.mark.analytic("FAO paper 56 eqs 21 and 52 worked out apart, 1 MJ = 0.408 mm")
@pytest.mark.parametrize(
    ("latitude", "day", "tmax", "tmin", "expected"),
    [
        (LYON, 196, 26.6, 14.8, 5.0331),
        (40, 15, 3, -6, 0.6888),
        (40, 105, 18, 5, 3.4373),
        (42, 314, 12, 2, 1.1666),
        (35, 140, 28, 14, 5.5074),
        (45, 20, -8, -20, 0.1552),
        (40, 105, 10, 10, 0.0),
    ],
)
def test_reference_evapotranspiration(latitude, day, tmax, tmin, expected):
    above = extraterrestrial_radiation(latitude, day)
    found = reference_evapotranspiration(tmax, tmin, above)
    assert found == pytest.approx(expected, abs=5e-5)


@pytest.mark.other_program("pyet 1.5.0, hargreaves")
@pytest.mark.parametrize(
    ("latitude", "day", "tmax", "tmin", "expected"),
    [
        (LYON, 196, 26.6, 14.8, 5.0307),
        (40, 105, 18, 5, 3.4055),
        (42, 314, 12, 2, 1.1509),
        (35, 140, 28, 14, 5.5064),
    ],
)
def test_reference_evapotranspiration_beside_another_library(latitude, day, tmax, tmin, expected):
    # that library lets the latent heat vary with temperature, where 0.408 is 1/2.45 at 21 degC
    latent_heat = 2.501 - 0.002361 * 0.5 * (tmax + tmin)
    above = extraterrestrial_radiation(latitude, day)
    found = reference_evapotranspiration(tmax, tmin, above) / (0.408 * latent_heat)
    assert found == pytest.approx(expected, abs=1e-4)


def test_demand_is_never_below_zero():
    assert reference_evapotranspiration(-20.0, -35.0, 10.0) == 0.0


@pytest.mark.analytic("FAO paper 56 eq. 97 worked out for Kcmin 0.15, Kcfull 1.10")
@pytest.mark.parametrize(
    ("leaf_area", "expected"),
    [(0, 0.1500), (0.5, 0.4305), (1, 0.6282), (2, 0.8657), (3, 0.9837), (4, 1.0422)],
)
def test_crop_coefficient_from_leaf_area(leaf_area, expected):
    assert basal_crop_coefficient(leaf_area, 0.15, 1.10) == pytest.approx(expected, abs=5e-5)


# stress


@pytest.mark.published("Allen et al. 1998, FAO paper 56, example 36 (onion, tomato, maize)")
@pytest.mark.parametrize(
    ("available", "fraction", "readily"),
    [
        (36, 0.30, 11),
        (68, 0.30, 20),
        (48, 0.30, 14),
        (72, 0.40, 29),
        (136, 0.40, 54),
        (96, 0.40, 38),
        (108, 0.55, 59),
        (204, 0.55, 112),
        (144, 0.55, 79),
    ],
)
def test_stress_begins_at_readily_available_water(available, fraction, readily):
    depletion = np.linspace(0.0, available, 100 * available + 1)
    unstressed = [d for d in depletion if water_stress(d, available, fraction) == 1.0]
    assert max(unstressed) == pytest.approx(readily, abs=0.5)


@pytest.mark.analytic("FAO paper 56 table 22 note: p = 0.55 + 0.04 (5 - ETc)")
@pytest.mark.parametrize(("demand", "p"), [(1, 0.71), (2, 0.67), (3, 0.63), (5, 0.55), (8, 0.43)])
def test_depletion_fraction(demand, p):
    assert depletion_fraction(0.55, demand) == pytest.approx(p, abs=1e-12)


def test_depletion_fraction_keeps_to_its_limits():
    assert depletion_fraction(0.55, 30.0) == 0.1
    assert depletion_fraction(0.75, 0.0) == 0.8


@pytest.mark.published("Allen et al. 1998, FAO paper 56, example 37 (Dr and Ks over ten days)")
def test_ten_days_of_depletion():
    depletion, found, stresses = 55.0, [], []
    for _ in range(10):
        stresses.append(water_stress(depletion, 160.0, 0.4))
        depletion += stresses[-1] * 6.0
        found.append(depletion)
    printed = [61.0, 67.0, 72.8, 78.3, 83.4, 88.2, 92.6, 96.9, 100.8, 104.5]
    assert found == pytest.approx(printed, abs=0.06)
    ks = [1, 1, 0.97, 0.91, 0.85, 0.80, 0.75, 0.70, 0.66, 0.62]
    assert stresses == pytest.approx(ks, abs=0.005)


@given(st.floats(-10, 400), st.floats(0, 300), st.floats(0.1, 0.8))
def test_stress_is_a_share(depletion, available, fraction):
    assert 0.0 <= water_stress(depletion, available, fraction) <= 1.0


# evaporation from soil


@pytest.mark.published("Allen et al. 1998, FAO paper 56, eq. 72: Kc max from 1.05 to 1.30")
def test_the_wettest_ground_evaporates_within_its_range():
    assert 1.05 <= WETTEST <= 1.30


@pytest.mark.published("Allen et al. 1998, FAO paper 56, example 31 (De over ten days)")
def test_ten_days_of_drying():
    depletion, found = 0.0, []
    for _ in range(10):
        share = min(evaporation_reduction(depletion, 9.0, 20.0) * (1.20 - 0.15), 1.20)
        depletion += share * 4.5
        found.append(depletion)
    printed = [4.73, 9.45, 13.98, 16.57, 18.04, 18.88, 19.36, 19.64, 19.79, 19.88]
    assert found == pytest.approx(printed, abs=0.01)


@pytest.mark.published("Allen et al. 1998, FAO paper 56, example 35, days 1 and 2 (De, ETc)")
def test_two_days_of_evaporation_and_transpiration():
    # from its third day on the example does not agree with itself: Kr, Ke, Kc do not add up
    total = 1000.0 * (0.23 - 0.5 * 0.10) * 0.1
    assert total == pytest.approx(18.0)
    largest = 1.2 + (0.04 * (1.6 - 2.0) - 0.004 * (35.0 - 45.0)) * (0.3 / 3.0) ** 0.3
    depletion = max(total - 40.0 / 0.8, 0.0)  # 40 mm on four fifths of the ground
    ends, demands = [], []
    for demand, basal in [(4.5, 0.30), (5.0, 0.31)]:
        share = evaporation_reduction(depletion, 8.0, total) * (largest - basal)
        depletion += share * demand / 0.80
        ends.append(depletion)
        demands.append((basal + share) * demand)
    assert ends == pytest.approx([5, 11], abs=0.5)
    assert demands == pytest.approx([5.5, 6.1], abs=0.05)


@pytest.mark.published("Allen et al. 1998, FAO paper 56, p. 197: 5 % less for 10 % covered")
@pytest.mark.parametrize(("cover", "left"), [(0.0, 1.0), (0.1, 0.95), (0.5, 0.75), (1.0, 0.50)])
def test_mulch(cover, left):
    assert mulch_factor(cover) == pytest.approx(left, abs=1e-12)


# runoff

INCHES = [1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0]
RUNOFF = {
    60: [0, 0, 0.06, 0.17, 0.33, 0.76, 1.30, 1.92, 3.33, 4.90],
    65: [0, 0.03, 0.14, 0.30, 0.51, 1.03, 1.65, 2.35, 3.89, 5.56],
    70: [0, 0.08, 0.24, 0.46, 0.71, 1.33, 2.04, 2.81, 4.46, 6.22],
    75: [0.03, 0.17, 0.38, 0.65, 0.96, 1.67, 2.45, 3.28, 5.04, 6.88],
    80: [0.08, 0.29, 0.56, 0.89, 1.25, 2.04, 2.89, 3.78, 5.62, 7.52],
    85: [0.17, 0.45, 0.80, 1.18, 1.59, 2.46, 3.37, 4.30, 6.21, 8.16],
    90: [0.32, 0.68, 1.09, 1.53, 1.98, 2.92, 3.88, 4.85, 6.81, 8.78],
    95: [0.56, 1.01, 1.48, 1.96, 2.45, 3.43, 4.42, 5.41, 7.40, 9.40],
}


@pytest.mark.practice("from memory: USDA-NRCS TR-55 (1986) table 2-1, runoff depth in inches")
@pytest.mark.parametrize("curve_number", RUNOFF)
def test_runoff_table(curve_number):
    found = [curve_number_runoff(p * MM_PER_INCH, curve_number) / MM_PER_INCH for p in INCHES]
    assert found == pytest.approx(RUNOFF[curve_number], abs=0.005)


@pytest.mark.other_program("cnkit 1.1.0, curve number runoff")
@pytest.mark.parametrize(
    ("curve_number", "inches", "runoff"),
    [(80, 4.0, 2.0417), (70, 3.0, 0.7143), (85, 6.0, 4.3025)],
)
def test_runoff_beside_another_library(curve_number, inches, runoff):
    found = curve_number_runoff(inches * MM_PER_INCH, curve_number) / MM_PER_INCH
    assert found == pytest.approx(runoff, abs=5e-5)


@pytest.mark.analytic("NEH-630 ch. 10 equation worked out in mm")
@pytest.mark.parametrize(
    ("curve_number", "rain", "runoff"),
    [
        (75, 25.4, 0.770),
        (75, 50, 9.287),
        (75, 100, 41.137),
        (80, 25.4, 2.117),
        (80, 50, 13.802),
        (85, 25.4, 4.409),
        (85, 50, 19.612),
        (90, 10, 0.582),
        (90, 25.4, 8.135),
        (90, 50, 27.108),
    ],
)
def test_runoff_in_mm(curve_number, rain, runoff):
    assert curve_number_runoff(rain, curve_number) == pytest.approx(runoff, abs=5e-4)


@given(st.floats(0, 300), st.floats(0, 50), st.floats(30, 98))
def test_more_rain_runs_off_more_and_soaks_in_more(rain, more, curve_number):
    little, much = (curve_number_runoff(p, curve_number) for p in (rain, rain + more))
    assert 0.0 <= little <= rain
    assert little <= much + 1e-12
    assert rain - little <= rain + more - much + 1e-12


# snow


@pytest.mark.other_program("xclim 0.62.0, snowfall_approximation(method='brown'), 10 mm")
@pytest.mark.parametrize(
    ("tmean", "snow"),
    [(-3, 10), (-1, 10), (0, 10), (0.5, 7.5), (1, 5), (1.5, 2.5), (2, 0), (4, 0)],
)
def test_rain_or_snow(tmean, snow):
    assert 10.0 * snow_share(tmean) == pytest.approx(snow, abs=1e-12)


@pytest.mark.practice("from memory: NEH-630 ch. 11 (2004), 0.06 inch per degF and day")
def test_melt_factor_in_the_handbooks_units():
    assert pytest.approx(0.06 * MM_PER_INCH * 1.8, abs=0.005) == MELT_FACTOR
    assert snowmelt(3.0, 100.0, MELT_FACTOR) == pytest.approx(8.22, abs=0.005)
    assert snowmelt(5.0, 100.0, MELT_FACTOR) == pytest.approx(13.70, abs=0.005)


def test_melt_takes_no_more_than_there_is():
    assert snowmelt(5.0, 4.0, MELT_FACTOR) == 4.0
    assert snowmelt(-5.0, 4.0, MELT_FACTOR) == 0.0


@pytest.mark.analytic("a fortnight of snow, melt, runoff and demand worked out apart by hand")
def test_a_fortnight():
    snow, snows, runoffs, radiation, demand = 0.0, [], [], 0.0, 0.0
    for day, (tmax, tmin, rain) in enumerate(FORTNIGHT):
        mean = 0.5 * (tmax + tmin)
        falling = rain * snow_share(mean)
        snow += falling
        melt = snowmelt(mean, snow, MELT_FACTOR)
        snow -= melt
        snows.append(snow)
        runoffs.append(curve_number_runoff(rain - falling + melt, 80.0))
        above = extraterrestrial_radiation(40.0, 70 + day)
        radiation += above
        demand += reference_evapotranspiration(tmax, tmin, above)
    assert snows[2:7] == pytest.approx([6.00, 16.00, 16.00, 9.15, 0.0], abs=0.005)
    assert runoffs[8] == pytest.approx(1.996, abs=5e-4)
    assert runoffs[12] == pytest.approx(8.208, abs=5e-4)
    assert sum(runoffs) == pytest.approx(10.204, abs=5e-4)
    assert radiation == pytest.approx(390.337, abs=5e-4)
    assert demand == pytest.approx(29.312, abs=5e-4)


# the draining column


@pytest.mark.published("Allen et al. 1998, FAO paper 56, example 38, day 1: wetted at its start")
def test_water_drains_before_the_day_dries_the_soil():
    # Dr 23, irrigation 40: 17 mm percolate; ETc 5.5 then leaves Dr 5.5 (printed 5)
    column, flow = np.array([100.0 - 23.0]), np.empty(1)
    drained = percolate(column, 40.0, np.array([100.0]), np.array([100.0]), 1.0, flow)
    assert drained == pytest.approx(17.0, abs=1e-12)
    assert 100.0 - (column[0] - 5.5) == pytest.approx(5.5, abs=1e-12)


columns = st.integers(1, 20).flatmap(
    lambda n: st.tuples(
        st.lists(st.floats(0.0, 1.3), min_size=n, max_size=n),  # water as a share of capacity
        st.lists(st.floats(5.0, 60.0), min_size=n, max_size=n),  # field capacity [mm]
    )
)


@given(columns, st.floats(0, 200), st.floats(0.05, 1.0))
def test_the_column_loses_no_water(column, entering, drain_rate):
    share, capacity = (np.array(values) for values in column)
    before, flow = share * capacity, np.empty(capacity.size)
    after = before.copy()
    drained = percolate(after, entering, capacity, 1.7 * capacity, drain_rate, flow)
    assert before.sum() + entering == pytest.approx(after.sum() + drained, abs=1e-9)
    assert drained == flow[-1]
    assert (after >= 0.0).all()
    assert (after <= 1.7 * capacity + 1e-9).all()
    assert (flow >= 0.0).all()


@given(columns, st.floats(0, 200), st.floats(0, 50), st.floats(0.05, 1.0))
def test_more_water_never_drains_less(column, entering, more, drain_rate):
    share, capacity = (np.array(values) for values in column)
    flows = []
    for amount in (entering, entering + more):
        flow = np.empty(capacity.size)
        percolate(share * capacity, amount, capacity, 1.7 * capacity, drain_rate, flow)
        flows.append(flow)
    assert (flows[1] >= flows[0] - 1e-9).all()


def test_a_layer_drains_a_share_of_what_is_above_field_capacity():
    assert layer_drainage(19.0, 20.0, 40.0, 0.5) == 0.0
    assert layer_drainage(30.0, 20.0, 40.0, 0.5) == 5.0
    assert layer_drainage(50.0, 20.0, 40.0, 0.5) == 10.0 + 10.0  # saturation's excess passes


@pytest.mark.analytic("what leaves evenly over a day: its mean is the end and half of the flow")
def test_water_over_the_day_is_the_mean_of_an_even_outflow():
    mean = quad(lambda hour: 20.0 + 6.0 * (1.0 - hour / 24.0), 0.0, 24.0)[0] / 24.0
    for thickness in (SPREAD, 2.0 * SPREAD):
        assert water_over_the_day(20.0, 6.0, 60.0, thickness) == pytest.approx(mean)


@given(st.floats(0, 1), st.floats(0, 300), st.floats(5, 300), st.floats(10, 1200))
def test_water_over_the_day_is_no_less_than_the_evenings_and_no_more_than_the_pores(
    share, flow, saturation, thickness
):
    found = water_over_the_day(share * saturation, flow, saturation, thickness)
    assert share * saturation <= found <= saturation


@pytest.mark.analytic("slices of an even layer up to `SPREAD` thick are as wet as the whole")
@given(st.floats(0, 1), st.floats(0, 300), st.floats(0.3, 0.6), st.integers(1, 50))
def test_water_over_the_day_is_the_same_however_the_soil_is_cut(share, flow, pores, slices):
    saturation = pores * SPREAD
    whole = water_over_the_day(share * saturation, flow, saturation, SPREAD)
    one = water_over_the_day(
        share * saturation / slices, flow, saturation / slices, SPREAD / slices
    )
    assert slices * one == pytest.approx(whole, rel=1e-12)


# what is compiled is what is read

RANGES = {
    water.reference_evapotranspiration: [(-30, 45), (-40, 30), (0, 45)],
    water.snow_share: [(-5, 7)],
    water.snowmelt: [(-5, 20), (0, 50), (1.6, 6)],
    water.curve_number_runoff: [(0, 200), (30, 98)],
    water.basal_crop_coefficient: [(0, 10), (0, 0.5), (0.8, 1.3)],
    water.evaporation_reduction: [(0, 30), (2, 12), (13, 30)],
    water.mulch_factor: [(0, 1)],
    water.depletion_fraction: [(0.2, 0.8), (0, 20)],
    water.water_stress: [(-5, 300), (0, 250), (0.1, 0.8)],
    water.layer_drainage: [(0, 150), (10, 60), (60, 120), (0.05, 1)],
    water.water_over_the_day: [(0, 150), (0, 100), (60, 150), (20, 1200)],
    water.aeration: [(0, 0.3), (0.02, 0.2)],
}


def test_every_process_is_compared_with_its_python():
    here = {
        name
        for name, value in vars(water).items()
        if hasattr(value, "py_func") and value.py_func.__module__ == water.__name__
    }
    assert here == {function.__name__ for function in RANGES} | {"percolate"}


@pytest.mark.parametrize("function", RANGES, ids=lambda function: function.__name__)
def test_compiled_code_gives_the_bits_of_its_python(function):
    low, high = np.transpose(RANGES[function])
    for arguments in np.random.default_rng(1).uniform(low, high, (300, low.size)).tolist():
        assert function(*arguments) == function.py_func(*arguments)


def test_compiled_percolation_gives_the_bits_of_its_python():
    random = np.random.default_rng(2)
    for layers in (1, 3, 20):
        capacity = random.uniform(5, 60, layers)
        start = capacity * random.uniform(0, 1.5, layers)
        results = []
        for function in (percolate, percolate.py_func):
            column, flow = start.copy(), np.empty(layers)
            drained = function(column, 30.0, capacity, 1.7 * capacity, 0.4, flow)
            results.append(np.concatenate([column, flow, [drained]]))
        np.testing.assert_array_equal(*results)


def test_a_missing_value_is_passed_on():
    # seasons with missing weather never reach the loop; were one to, it would show
    assert np.isnan(reference_evapotranspiration(np.nan, 5.0, 20.0))
    assert np.isnan(snow_share(np.nan))
