"""Nitrogen: what the soil gives, what water takes, what the stand wants."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.linalg import expm
from scipy.stats import gamma

from simulator.process import nitrogen
from simulator.process.nitrogen import (
    TOPSOIL,
    concentration,
    critical_concentration,
    demand,
    first_order,
    leach,
    mineralisation,
    nutrition_index,
    set_to_soil_test,
    shoot_nitrogen,
    soil_moisture_factor,
    soil_temperature_factor,
    topsoil_share,
    volatilisation_moisture,
    wetness_for_denitrification,
)
from simulator.season.day.state import CARBON, ORGANIC_NITROGEN


def drain(nitrate, flow, volume):
    """Nitrate left in each layer, and what was leached, after a day's flow."""
    left = np.array(nitrate, dtype=float)
    room = np.empty((3, left.size))
    return left, leach(left, np.asarray(flow, float), np.asarray(volume, float), *room)


# what the stand wants

JUSTES = "worked out from Justes et al. 1994: 5.35 W^-0.442 from 1.55 t/ha on, 4.4 below"
CRITICAL = [  # t/ha, N %, N kg/ha, C:N
    (0.5, 4.400, 22.0, 9.5), (1.55, 4.408, 68.3, 9.5), (2, 3.938, 78.8, 10.7),
    (3, 3.292, 98.8, 12.8), (4, 2.899, 116.0, 14.5), (5, 2.627, 131.3, 16.0),
    (6, 2.423, 145.4, 17.3), (8, 2.134, 170.7, 19.7), (10, 1.934, 193.4, 21.7),
    (12, 1.784, 214.1, 23.5),
]  # fmt: skip


@pytest.mark.analytic(JUSTES)
@pytest.mark.parametrize(("tonnes", "percent", "amount", "carbon_to_nitrogen"), CRITICAL)
def test_critical_concentration(tonnes, percent, amount, carbon_to_nitrogen):
    share = critical_concentration(1000.0 * tonnes)
    assert 100.0 * share == pytest.approx(percent, abs=5e-4)
    assert 1000.0 * tonnes * share == pytest.approx(amount, abs=0.05)
    assert CARBON / share == pytest.approx(carbon_to_nitrogen, abs=0.05)


@pytest.mark.analytic("2.6 % over the critical concentration of Justes et al. 1994 at 3.2 t/ha")
def test_nitrogen_nutrition_index():
    critical = 100.0 * critical_concentration(3200.0)
    assert critical == pytest.approx(3.1995, abs=5e-5)
    assert 2.6 / critical == pytest.approx(0.8126, abs=5e-5)
    assert nutrition_index(0.026 * 3200.0, 3200.0) == pytest.approx(0.8126, abs=5e-5)


@pytest.mark.analytic("the two branches of the critical curve meet within 0.2 % at 1.55 t/ha")
def test_the_critical_curve_hardly_jumps():
    below, above = critical_concentration(1549.999), critical_concentration(1550.0)
    assert above == pytest.approx(below, rel=0.002)


@pytest.mark.analytic(JUSTES)
@pytest.mark.parametrize(("tonnes", "amount"), [(at, amount) for at, _, amount, _ in CRITICAL])
def test_a_stand_on_the_critical_curve_has_an_index_of_one(tonnes, amount):
    # printed to a tenth of a kg
    assert nutrition_index(amount, 1000.0 * tonnes) == pytest.approx(1.0, abs=0.05 / amount)


@pytest.mark.practice("from memory: Justes et al. 1994, maximum 8.3 W^-0.44, minimum 2.0 W^-0.44")
@pytest.mark.parametrize("tonnes", [2.0, 3.0, 5.0, 8.0, 12.0])
def test_the_curves_of_most_and_least_nitrogen(tonnes):
    # their power is rounded to two places: 12^0.002 is 1.005
    mass, close = 1000.0 * tonnes, tonnes**0.002 - 1.0 + 1e-12
    most, least = (part * 10.0 * tonnes**-0.44 * tonnes for part in (8.3, 2.0))
    wanted = demand(mass, 0.0, 0.0, 8.3 / 5.35, UNBOUND, 0.5, 1e9)
    assert wanted == pytest.approx(most, rel=close)
    assert nutrition_index(most, mass) == pytest.approx(8.3 / 5.35, rel=close)
    assert nutrition_index(least, mass) == pytest.approx(2.0 / 5.35, rel=close)


masses = st.floats(1, 15000)
UNBOUND = 1.0  # kg of nitrogen per kg: no tissue is so rich


@pytest.mark.analytic("critical concentration times mass is an index of 1, by definition")
@given(masses, st.floats(0, 3))
def test_the_index_is_the_share_of_the_critical(shoots, index):
    held = index * critical_concentration(shoots) * shoots
    assert nutrition_index(held, shoots) == pytest.approx(index, rel=1e-12)


@given(
    masses, masses, st.floats(0, 900), st.floats(1, 1.8), st.floats(0.03, 0.08), st.floats(0, 10)
)
def test_demand_keeps_to_its_limits(shoots, roots, held, luxury, richest, most):
    wanted = demand(shoots, roots, held, luxury, richest, 0.5, most)
    assert 0.0 <= wanted <= most
    largest = min(luxury * critical_concentration(shoots), richest) * (shoots + 0.5 * roots)
    assert wanted == 0.0 or held + wanted <= largest + 1e-9
    if wanted < most:
        assert held + wanted >= largest - 1e-9


@pytest.mark.analytic("a stand that got all it wants stands above the critical by its luxury")
@given(masses, masses, st.floats(1, 1.8), st.floats(0.2, 1))
def test_a_sated_stand_has_its_luxury(shoots, roots, luxury, ratio):
    held = demand(shoots, roots, 0.0, luxury, UNBOUND, ratio, 1e9)
    above = shoot_nitrogen(held, shoots, roots, ratio)
    assert nutrition_index(above, shoots) == pytest.approx(luxury, rel=1e-12)
    assert demand(shoots, roots, held, luxury, UNBOUND, ratio, 1e9) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.analytic(
    "below its most concentration no luxury counts: a sated stand holds just that"
)
@given(masses, masses, st.floats(0.01, 0.05), st.floats(0.2, 1))
def test_a_sated_stand_is_no_richer_than_its_most_concentration(shoots, roots, richest, ratio):
    luxury = 1.01 * richest / critical_concentration(shoots)
    held = demand(shoots, roots, 0.0, luxury, richest, ratio, 1e9)
    above = shoot_nitrogen(held, shoots, roots, ratio)
    assert above / shoots == pytest.approx(richest, rel=1e-12)


@given(masses, masses, st.floats(0, 400), st.floats(0.2, 1))
def test_shoots_and_roots_share_the_nitrogen(shoots, roots, held, ratio):
    above = shoot_nitrogen(held, shoots, roots, ratio)
    assert 0.0 <= above <= held + 1e-9
    assert (held - above) / roots == pytest.approx(ratio * above / shoots, abs=1e-9)


def test_no_stand_holds_and_wants_nothing():
    assert shoot_nitrogen(0.0, 0.0, 0.0, 0.5) == 0.0
    assert demand(0.0, 0.0, 0.0, 1.4, 0.05, 0.5, 4.0) == 0.0
    assert nutrition_index(0.0, 0.0) == 0.0


# what the soil gives


@pytest.mark.practice("from memory: Stanford, Frere and Schwaninger 1973, Q10 of 2 about 35 degC")
@pytest.mark.parametrize(("temperature", "factor"), [(5, 0.125), (15, 0.25), (25, 0.5), (35, 1.0)])
def test_temperature_factor(temperature, factor):
    assert soil_temperature_factor(temperature) == pytest.approx(factor, abs=1e-12)


def test_microbes_rest_in_frozen_soil_and_gain_nothing_from_heat():
    assert soil_temperature_factor(0.0) == 0.0
    assert soil_temperature_factor(-7.0) == 0.0
    assert soil_temperature_factor(44.0) == 1.0


def test_moisture_factor_is_a_line_from_air_dry_to_field_capacity():
    assert [soil_moisture_factor(w, 4.0, 24.0) for w in (0, 4, 14, 24, 40)] == [0, 0, 0.5, 1, 1]


@pytest.mark.practice("from memory: Stanford and Smith 1972, 100 (1 - exp(-0.054 weeks))")
@pytest.mark.parametrize(("weeks", "freed"), [(1, 5.26), (4, 19.43), (12, 47.69), (26, 75.44)])
def test_first_order_mineralisation(weeks, freed):
    assert first_order(100.0, 0.054, weeks) == pytest.approx(freed, abs=0.005)


@pytest.mark.published(
    "Queensland soils (abstract): 0.058, 0.031, 0.018 a week, half gone in 11.9, 22.4, 38.5 weeks"
)
@pytest.mark.parametrize(("rate", "weeks"), [(0.058, 11.9), (0.031, 22.4), (0.018, 38.5)])
def test_half_life(rate, weeks):
    # printed to a tenth of a week
    assert first_order(1.0, rate, weeks) == pytest.approx(0.5, abs=0.5 * rate * 0.06)


@pytest.mark.analytic(
    "1 % organic matter in 15 cm at 1.3 t/m3: 19 500 kg, 58 % C, C:N 10: 1131 kg N"
)
def test_nitrogen_in_organic_matter():
    organic_matter = 0.01 * 0.15 * 10000.0 * 1300.0
    assert organic_matter == pytest.approx(19500.0)
    assert organic_matter * ORGANIC_NITROGEN == pytest.approx(1131.0, abs=0.5)
    assert mineralisation(1131.0, 0.02, 1.0, 1.0) == pytest.approx(22.6, abs=0.05)


layers = st.tuples(st.floats(0, 200), st.floats(0.5, 120)).map(lambda at: (at[0], sum(at)))


@pytest.mark.analytic("mean over a layer of 1 to 20 cm, exp(-beyond/20) below (scipy quad)")
@given(layers)
def test_topsoil_share_of_a_layer_is_its_mean(layer):
    top, bottom = layer
    edges = sorted({top, min(max(top, TOPSOIL), bottom), bottom})
    whole = sum(
        quad(lambda depth: math.exp(-max(depth - TOPSOIL, 0.0) / TOPSOIL), above, below)[0]
        for above, below in pairwise(edges)
    )
    assert topsoil_share(top, bottom) == pytest.approx(whole / (bottom - top), rel=1e-9, abs=1e-12)


@pytest.mark.analytic("a layer's organic matter is that of its parts")
@given(layers, st.floats(0.05, 0.95))
def test_cutting_a_layer_moves_no_organic_matter(layer, share):
    top, bottom = layer
    cut = top + share * (bottom - top)
    parts = (cut - top) * topsoil_share(top, cut) + (bottom - cut) * topsoil_share(cut, bottom)
    assert parts == pytest.approx((bottom - top) * topsoil_share(top, bottom), abs=1e-10)


def test_organic_matter_is_even_in_the_topsoil():
    assert topsoil_share(0.0, 10.0) == topsoil_share(5.0, TOPSOIL) == 1.0
    assert topsoil_share(0.0, 1000.0) == pytest.approx(2.0 * TOPSOIL / 1000.0)


@given(st.floats(0, 500), st.floats(0, 5), st.floats(0, 3))
def test_first_order_takes_no_more_than_there_is(amount, rate, factor):
    assert 0.0 <= first_order(amount, rate, factor) <= amount


@pytest.mark.practice("from memory: Linn and Doran 1984, aerobic up to 60 % water-filled pores")
def test_only_wet_soil_denitrifies():
    assert wetness_for_denitrification(0.3) == 0.0
    assert wetness_for_denitrification(0.6) == 0.0
    assert wetness_for_denitrification(0.8) == pytest.approx(0.25)
    assert wetness_for_denitrification(1.0) == pytest.approx(1.0)
    assert wetness_for_denitrification(1.2) == 1.0


def test_rain_washes_ammonia_in():
    assert [volatilisation_moisture(rain) for rain in (0.0, 5.0, 10.0, 80.0)] == [1, 0.5, 0, 0]


# what water takes


@pytest.mark.analytic("one mixed layer keeps exp(-pore volumes)")
@pytest.mark.parametrize(
    ("volumes", "left"), [(0.25, 0.7788), (0.5, 0.6065), (1, 0.3679), (2, 0.1353), (3, 0.0498)]
)
def test_one_layer(volumes, left):
    kept, leached = drain([1.0], [volumes * 180.0], [180.0])
    assert kept[0] == pytest.approx(left, abs=5e-5)
    assert leached == pytest.approx(1.0 - left, abs=5e-5)


@pytest.mark.analytic("50 kg in 250 mm after 10, 0, 25, 5 and 40 mm: 50 exp(-80/250)")
def test_one_layer_over_several_days():
    left = np.array([50.0])
    for flow in (10.0, 0.0, 25.0, 5.0, 40.0):
        left, _ = drain(left, [flow], [250.0])
    assert left[0] == pytest.approx(36.3075, abs=5e-5)
    assert drain([50.0], [80.0], [250.0])[0][0] == pytest.approx(36.3075, abs=5e-5)
    assert drain([50.0], [40.0], [250.0])[1] == pytest.approx(7.3928, abs=5e-5)


PULSE = [
    (1, 1, 0.6321), (2, 0.5, 0.2642), (2, 1, 0.5940), (2, 2, 0.9084), (5, 0.5, 0.1088),
    (5, 1, 0.5595), (5, 1.5, 0.8679), (5, 2, 0.9707), (10, 0.5, 0.0318), (10, 1, 0.5421),
    (10, 1.5, 0.9301), (10, 2, 0.9950), (20, 1, 0.5297), (20, 2, 0.9998),
]  # fmt: skip
UNIFORM = [
    (2, 0.5, 0.5518), (2, 1, 0.2707), (2, 2, 0.0549), (5, 0.5, 0.5124), (5, 1, 0.1755),
    (10, 0.5, 0.5022), (10, 1, 0.1251),
]  # fmt: skip


@pytest.mark.analytic("cascade of equal mixed layers, pulse on top: Erlang distribution")
@pytest.mark.other_program("scipy 1.17, stats.gamma.cdf, recomputed in the test")
@pytest.mark.parametrize(("layers", "volumes", "leached"), PULSE)
def test_pulse_through_a_cascade(layers, volumes, leached):
    start = np.zeros(layers)
    start[0] = 1.0
    _, found = drain(start, np.full(layers, volumes * 200.0), np.full(layers, 200.0 / layers))
    assert found == pytest.approx(leached, abs=5e-5)
    assert found == pytest.approx(gamma.cdf(layers * volumes, layers), abs=1e-10)


@pytest.mark.analytic("cascade of equal mixed layers, filled evenly: mean of Erlang distributions")
@pytest.mark.other_program("scipy 1.17, stats.gamma.sf, recomputed in the test")
@pytest.mark.parametrize(("layers", "volumes", "left"), UNIFORM)
def test_even_profile_through_a_cascade(layers, volumes, left):
    kept, _ = drain(
        np.full(layers, 1.0 / layers),
        np.full(layers, volumes * 200.0),
        np.full(layers, 200.0 / layers),
    )
    assert kept.sum() == pytest.approx(left, abs=5e-5)
    expected = gamma.sf(layers * volumes, np.arange(1, layers + 1)).mean()
    assert kept.sum() == pytest.approx(expected, abs=1e-10)


@pytest.mark.analytic(
    "many thin layers approach piston flow: half an evenly filled column after half its volume"
)
def test_many_thin_layers_flow_as_a_piston():
    kept, _ = drain(np.full(400, 1 / 400), np.full(400, 100.0), np.full(400, 0.5))
    assert kept.sum() == pytest.approx(0.5, abs=1e-6)


@pytest.mark.practice(
    "from memory: Burns 1975, h cm: f = (P/(P + Vm/100))^h; its mean depth by mathematics"
)
@pytest.mark.parametrize(
    ("drained", "capacity", "depth", "burns"),
    [(10, 30, 30, 0.4120), (10, 30, 60, 0.1697), (20, 30, 60, 0.4093)],
)
def test_a_surface_pulse_sinks_as_deep_on_average_as_in_burns(drained, capacity, depth, burns):
    # Burns spreads a pulse exponentially in depth, a cascade of mixed layers as the Poisson
    # law, so the shares below a depth differ. Both displace it by drainage over field capacity.
    share = drained / (drained + capacity / 100.0)
    assert share**depth == pytest.approx(burns, abs=5e-5)
    mean_of_burns = share / (1.0 - share)  # sum over depth of the share below it [cm]
    layers = 400  # of 1 cm, so deep that nothing is lost
    start = np.zeros(layers)
    start[0] = 1.0
    kept, lost = drain(start, np.full(layers, 10.0 * drained), np.full(layers, 0.1 * capacity))
    assert lost < 1e-9
    assert kept @ np.arange(layers) == pytest.approx(mean_of_burns, abs=1e-6)


layered = st.integers(1, 20).flatmap(
    lambda n: st.tuples(
        st.lists(st.floats(0, 100), min_size=n, max_size=n),  # nitrate [kg/ha]
        st.lists(st.floats(0, 120), min_size=n, max_size=n),  # flow [mm]
        st.lists(st.floats(4, 120), min_size=n, max_size=n),  # volume [mm]
    )
)


@given(layered, st.lists(st.floats(0.01, 1), min_size=2, max_size=6))
def test_leaching_is_the_same_however_a_days_drainage_is_split(column, parts):
    nitrate, flow, volume = (np.array(values) for values in column)
    whole, at_once = drain(nitrate, flow, volume)
    left, bit_by_bit = nitrate, 0.0
    for part in parts:
        left, leached = drain(left, flow * part / sum(parts), volume)
        bit_by_bit += leached
    total = nitrate.sum()
    assert left == pytest.approx(whole, abs=1e-9 * total)
    assert bit_by_bit == pytest.approx(at_once, abs=1e-9 * total)


@given(layered)
def test_leaching_loses_and_makes_no_nitrate(column):
    nitrate, flow, volume = column
    left, leached = drain(nitrate, flow, volume)
    assert (left >= 0.0).all()
    assert leached >= 0.0
    assert left.sum() + leached == pytest.approx(sum(nitrate), rel=1e-9, abs=1e-12)


@pytest.mark.other_program("scipy 1.17, linalg.expm of the chain of layers, recomputed in the test")
@given(layered)
@settings(max_examples=40)
def test_leaching_is_the_matrix_exponential_of_the_chain(column):
    nitrate, flow, volume = (np.array(values) for values in column)
    rates = flow / volume
    chain = np.diag(np.append(-rates, 0.0)) + np.diag(rates, -1)
    expected = expm(chain) @ np.append(nitrate, 0.0)
    left, leached = drain(nitrate, flow, volume)
    assert np.append(left, leached) == pytest.approx(expected, abs=1e-9 * (1.0 + nitrate.sum()))


def test_a_flood_is_taken_in_parts():
    left, leached = drain([10.0, 20.0], [3000.0, 3000.0], [20.0, 20.0])
    assert left.sum() == pytest.approx(0.0, abs=1e-9)
    assert leached == pytest.approx(30.0, rel=1e-9)


def test_no_drainage_moves_nothing():
    left, leached = drain([10.0, 20.0], [0.0, 0.0], [20.0, 20.0])
    assert left.tolist() == [10.0, 20.0]
    assert leached == 0.0


@pytest.mark.analytic("1 kg/ha in 1 mm is 100 mg/L: 20 kg in 200 mm is the limit of 10 mg/L")
def test_concentration_of_drainage():
    assert concentration(20.0, 200.0) == pytest.approx(10.0)
    assert concentration(20.0, 0.0) == 0.0


@pytest.mark.analytic("half of a full root system at its half mass, in wet soil; none at wilting")
def test_uptake_grows_with_roots_and_stops_in_dry_soil():
    assert nitrogen.uptake_share(0.6, 200.0, 200.0, 1.0, 20.0, 5.0, 20.0) == pytest.approx(0.3)
    assert nitrogen.uptake_share(0.6, 200.0, 200.0, 0.5, 20.0, 5.0, 20.0) == pytest.approx(0.15)
    assert nitrogen.uptake_share(0.6, 200.0, 200.0, 1.0, 8.75, 5.0, 20.0) == pytest.approx(0.15)
    assert nitrogen.uptake_share(0.6, 200.0, 200.0, 1.0, 5.0, 5.0, 20.0) == 0.0


# what is compiled is what is read

RANGES = {
    nitrogen.soil_temperature_factor: [(-5, 40)],
    nitrogen.soil_moisture_factor: [(0, 40), (1, 8), (9, 40)],
    nitrogen.topsoil_share: [(0, 60), (61, 300)],
    nitrogen.mineralisation: [(0, 9000), (0, 1e-3), (0, 1), (0, 1)],
    nitrogen.share_lost: [(0, 3), (0, 1)],
    nitrogen.first_order: [(0, 300), (0, 3), (0, 1)],
    nitrogen.wetness_for_denitrification: [(0, 1.1)],
    nitrogen.critical_concentration: [(0, 15000)],
    nitrogen.uptake_share: [(0, 1), (0, 3000), (50, 2000), (0, 1), (0, 40), (1, 8), (9, 40)],
    nitrogen.nutrition_index: [(0, 400), (0, 15000)],
    nitrogen.demand: [(0, 12000), (0, 3000), (0, 300), (1, 1.8), (0.03, 0.08), (0.2, 1), (1, 10)],
    nitrogen.shoot_nitrogen: [(0, 300), (0, 12000), (0, 3000), (0.2, 1)],
    nitrogen.volatilisation_moisture: [(0, 20)],
    nitrogen.concentration: [(0, 100), (0, 600)],
    nitrogen.share_above: [(0, 150), (0, 60), (61, 120)],
}  # fmt: skip


def test_every_process_is_compared_with_its_python():
    here = {
        name
        for name, value in vars(nitrogen).items()
        if hasattr(value, "py_func") and value.py_func.__module__ == nitrogen.__name__
    }
    assert here == {function.__name__ for function in RANGES} | {"leach", "set_to_soil_test"}


@pytest.mark.parametrize("function", RANGES, ids=lambda function: function.__name__)
def test_compiled_code_gives_the_bits_of_its_python(function):
    low, high = np.transpose(RANGES[function])
    for arguments in np.random.default_rng(1).uniform(low, high, (300, low.size)).tolist():
        assert function(*arguments) == function.py_func(*arguments)


@pytest.mark.parametrize("layers", [1, 3, 20])
def test_compiled_leaching_gives_the_bits_of_its_python(layers):
    random = np.random.default_rng(3)
    nitrate, flow = random.uniform(0, 50, layers), random.uniform(0, 60, layers)
    volume = random.uniform(10, 60, layers)
    results = []
    for function in (leach, leach.py_func):
        left, room = nitrate.copy(), np.empty((3, layers))
        results.append(np.append(left, function(left, flow, volume, *room)))
        results[-1][:layers] = left
    np.testing.assert_array_equal(*results)


@pytest.mark.parametrize("layers", [1, 3, 20])
def test_a_compiled_soil_test_gives_the_bits_of_its_python(layers):
    random = np.random.default_rng(5)
    bottoms = np.cumsum(random.uniform(5, 20, layers))
    column = (np.append(0.0, bottoms[:-1]), bottoms)
    for measured, depth in random.uniform(0, [300, 1.2 * bottoms[-1]], (50, 2)).tolist():
        nitrate, ammonium = random.uniform(0, [[30], [8]], (2, layers))
        results = []
        for function in (set_to_soil_test, set_to_soil_test.py_func):
            left = np.array([nitrate, ammonium])
            results.append([function(measured, depth, *left, *column), *left.ravel()])
        np.testing.assert_array_equal(*results)


def test_a_missing_value_is_passed_on():
    assert math.isnan(first_order(math.nan, 0.1, 1.0))
    assert math.isnan(critical_concentration(math.nan))
