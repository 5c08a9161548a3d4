"""Canopy: stand, light, growth and leaves against their sources."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import erlang

from simulator.process import canopy
from simulator.process.canopy import (
    allowed_by_nitrogen,
    drawn_from_reserves,
    efficiency_by_light,
    grow_old,
    leaf_expansion,
    leaf_share,
    leaf_thinness,
    light_interception,
    plants_emerging,
    potential_growth,
    ripening_loss,
    room_for_leaves,
    root_density,
    root_front,
    root_share,
    tillering,
)
from simulator.process.development import LAST_LEAF


@pytest.mark.analytic("Monsi and Saeki 1953: 1 - exp(-k LAI)")
@pytest.mark.parametrize(
    ("extinction", "leaf_area", "share"),
    [
        (0.5, 0.5, 0.2212),
        (0.5, 1, 0.3935),
        (0.5, 2, 0.6321),
        (0.5, 3, 0.7769),
        (0.5, 4, 0.8647),
        (0.5, 6, 0.9502),
        (0.65, 3, 0.8577),
        (0.5, 0, 0.0),
    ],
)
def test_light_interception(extinction, leaf_area, share):
    assert light_interception(leaf_area, extinction) == pytest.approx(share, abs=5e-5)


@pytest.mark.analytic("leaf area that takes 95 % of the light, ln 20 / k")
@pytest.mark.parametrize(("extinction", "leaf_area"), [(0.5, 5.99), (0.6, 4.99), (0.65, 4.61)])
def test_leaf_area_that_takes_nearly_all_light(extinction, leaf_area):
    # a hundredth of leaf area changes the share by 0.05 * k * 0.01
    assert light_interception(leaf_area, extinction) == pytest.approx(0.95, abs=2e-4)


@pytest.mark.analytic("Monteith 1977: 2.8 g/MJ x 0.5 x 15 MJ m-2 d-1 x (1 - exp(-1.5))")
def test_a_days_growth():
    growth = potential_growth(15.0, light_interception(3.0, 0.5), 2.8)
    assert growth == pytest.approx(163.1, abs=0.05)


@pytest.mark.analytic("100.9 kg/ha of seed at 25 g a thousand are 403.5 seeds a square metre")
def test_plants_from_a_seeding_rate():
    uncrowded = 1e12
    assert plants_emerging(100.877, 25.0, 1.0, uncrowded) == pytest.approx(403.508)
    assert plants_emerging(100.877, 25.0, 0.8, uncrowded) == pytest.approx(0.8 * 403.508)


@given(st.floats(5, 400), st.floats(0.1, 100), st.floats(15, 60), st.floats(100, 2000))
def test_more_seed_makes_more_plants_but_each_less_surely(seeding, more, mass, most):
    thin, thick = (plants_emerging(rate, mass, 0.8, most) for rate in (seeding, seeding + more))
    assert 0.0 < thin < thick < most
    assert thick / (seeding + more) < thin / seeding


@pytest.mark.analytic("hyperbola: half of the most where the drill's arithmetic gives the most")
def test_crowded_seedlings():
    assert plants_emerging(100.0, 25.0, 1.0, 400.0) == pytest.approx(200.0)


@pytest.mark.practice("from memory: Friend 1965, a leaf multiplies shoots by the golden ratio")
def test_an_uncrowded_plant_tillers_by_the_golden_ratio():
    shoots, steps = 1.0, 1000
    for _ in range(steps):
        shoots += tillering(shoots, 1e12, 1.0 / steps)
    golden = 0.5 * (1.0 + math.sqrt(5.0))
    assert shoots == pytest.approx(golden, abs=5e-3 * golden)  # 0.481 has three digits


@given(st.floats(1, 2000), st.floats(300, 2500), st.floats(0, 0.5))
def test_crowding_stops_tillering(shoots, most, leaves_today):
    new = tillering(shoots, most, leaves_today)
    assert new >= 0.0
    if shoots <= most:
        assert shoots + new <= most * (1.0 + 1e-12)
    else:
        assert new == 0.0


@pytest.mark.analytic("exponential growth: 0.05 x exp(0.01 x 230) after 230 degC d, however cut")
@pytest.mark.parametrize("days", [1, 7, 46, 1000])
def test_young_leaf_area_multiplies_with_warmth(days):
    leaf_area = 0.05
    for _ in range(days):
        leaf_area += leaf_expansion(leaf_area, 230.0 / days, 0.01)
    assert leaf_area == pytest.approx(0.05 * math.exp(2.3), rel=1e-9)


def test_leaves_stand_still_without_warmth_and_without_leaves():
    assert leaf_expansion(2.0, 0.0, 0.01) == 0.0
    assert leaf_expansion(0.0, 12.0, 0.01) == 0.0


@given(
    st.floats(0, 3.5),
    st.floats(0.1, 0.7),
    st.floats(0, 0.4),
    st.floats(0.4, 0.95),
    st.floats(0, 0.6),
)
def test_growth_is_shared_out_whole(development, first_roots, last_roots, first_leaf, last_leaf):
    for share, ends in (
        (root_share(development, first_roots, last_roots), (first_roots, last_roots)),
        (leaf_share(development, first_leaf, last_leaf), (first_leaf, last_leaf)),
    ):
        assert min(ends) - 1e-12 <= share <= max(ends) + 1e-12


@pytest.mark.analytic("shares stay until stems rise and then fall in a line to their ends")
def test_shares_at_the_ends_of_the_season():
    for early in (0.0, 0.6, 1.0):
        assert root_share(early, 0.45, 0.10) == pytest.approx(0.45)
        assert leaf_share(early, 0.7, 0.2) == pytest.approx(0.7)
    assert root_share(1.5, 0.45, 0.10) == pytest.approx(0.275)
    assert leaf_share(0.5 * (1.0 + LAST_LEAF), 0.7, 0.2) == pytest.approx(0.45)
    for late in (2.0, 3.0):
        assert root_share(late, 0.45, 0.10) == pytest.approx(0.10)
    for late in (LAST_LEAF, 2.0, 3.0):
        assert leaf_share(late, 0.7, 0.2) == pytest.approx(0.2)


# nitrogen and growth


@pytest.mark.analytic("in a line from none at the least index to all at the full one")
def test_what_nitrogen_allows():
    assert allowed_by_nitrogen(0.2, 0.2, 0.8) == 0.0
    assert allowed_by_nitrogen(0.35, 0.2, 0.8) == pytest.approx(0.25)
    assert allowed_by_nitrogen(0.5, 0.2, 0.8) == pytest.approx(0.5)
    assert allowed_by_nitrogen(0.8, 0.2, 0.8) == pytest.approx(1.0)
    assert allowed_by_nitrogen(0.0, 0.2, 0.8) == 0.0
    assert allowed_by_nitrogen(1.6, 0.2, 0.8) == 1.0


@given(st.floats(0, 2), st.floats(0, 1), st.floats(0, 0.5), st.floats(0.01, 1.5))
def test_more_nitrogen_never_holds_growth_back(index, more, least, wide):
    poor = allowed_by_nitrogen(index, least, least + wide)
    rich = allowed_by_nitrogen(index + more, least, least + wide)
    assert 0.0 <= poor <= rich <= 1.0


# leaves that die


def living(classes, thermal_time, leaf_life, days):
    """Leaf area of a leaf of 1 that unfolded at the start, after each of some days alike."""
    ages = np.zeros(classes)
    ages[0] = 1.0
    left = []
    for _ in range(days):
        before = ages.sum()
        died = grow_old(ages, thermal_time, leaf_life)
        assert died == pytest.approx(before - ages.sum(), abs=1e-12)
        left.append(ages.sum())
    return np.array(left)


@pytest.mark.other_program("scipy.stats.erlang, survival of the Erlang distribution")
@pytest.mark.parametrize("classes", [1, 2, 6, 12])
@pytest.mark.parametrize("step", [0.35, 0.7, 1.4])
def test_ages_at_death_follow_erlang(classes, step):
    # a leaf goes on by one class a day at most, and so waits for half a day at each door but the
    # last; what remains of cutting time into days is of second order in a day's share of a class
    life = 700.0
    left = living(classes, step, life, int(2100.0 / step))
    age = step * (np.arange(left.size) + 1.0 - 0.5 * (classes - 1))
    survival = erlang.sf(age, classes, scale=life / classes)
    close = 1e-12 if classes == 1 else (classes * step / life) ** 2  # one class is exact
    assert abs(left - survival).max() <= close


@pytest.mark.analytic("a class passes 1 - exp(-n w / life) of its leaves a day, geometric steps")
@pytest.mark.parametrize("thermal_time", [5.0, 20.0])
def test_mean_and_spread_of_life_in_days(thermal_time):
    classes, life = 6, 700.0
    left = living(classes, thermal_time, life, 4000)
    died = -np.diff(left, prepend=1.0)
    days = np.arange(1, 4001)
    passing = 1.0 - math.exp(-classes * thermal_time / life)
    mean = float((died * days).sum())
    assert mean == pytest.approx(classes / passing, rel=1e-9)
    spread = float((died * days**2).sum()) - mean**2
    assert spread == pytest.approx(classes * (1.0 - passing) / passing**2, rel=1e-9)


@given(
    st.lists(st.floats(0, 5), min_size=1, max_size=12),
    st.lists(st.tuples(st.floats(0, 40), st.floats(0, 1)), min_size=1, max_size=30),
    st.floats(300, 2000),
)
def test_leaf_area_is_what_unfolded_less_what_died(start, days, life):
    ages = np.array(start)
    unfolded, died = float(ages.sum()), 0.0
    for warmth, new in days:
        ages[0] += new
        unfolded += new
        today = grow_old(ages, warmth, life)
        assert today >= 0.0
        died += today
        assert (ages >= 0.0).all()
    assert ages.sum() == pytest.approx(unfolded - died, abs=1e-9)


def test_no_leaf_grows_old_on_a_cold_day():
    ages = np.array([0.5, 1.0, 0.25])
    assert grow_old(ages, 0.0, 700.0) == 0.0
    assert ages.tolist() == [0.5, 1.0, 0.25]


@pytest.mark.practice("common practice, no source: 5 % a day of what stands above the limit")
def test_leaves_in_the_dark():
    assert room_for_leaves(4.9, 5.0) == pytest.approx(0.1)
    assert room_for_leaves(7.0, 5.0) == 0.0


@pytest.mark.practice("common practice, no source: 1 % of 800 kg/ha of roots a day")
def test_roots_give_reserves_while_leaves_are_few():
    assert drawn_from_reserves(0.0, 800.0, 0.01, 0.1) == pytest.approx(8.0)
    assert drawn_from_reserves(79.9, 800.0, 0.01, 0.1) == pytest.approx(8.0)
    assert drawn_from_reserves(80.1, 800.0, 0.01, 0.1) == 0.0
    assert drawn_from_reserves(0.0, 0.0, 0.01, 0.1) == 0.0


@pytest.mark.practice("from memory: Huner et al. (1981), Puma rye leaves at 5 degC against 20 degC")
def test_leaves_grown_in_the_cold_are_thick():
    assert leaf_thinness(5.0, 0.5) == pytest.approx(0.5)
    assert leaf_thinness(12.5, 0.5) == pytest.approx(0.75)
    assert leaf_thinness(20.0, 0.5) == pytest.approx(1.0)
    cold, mild, warm = (leaf_thinness(at, 0.5) for at in (-8.0, 12.0, 30.0))
    assert cold == leaf_thinness(5.0, 0.5) < mild < warm == 1.0


@pytest.mark.analytic("growth under a rectangular hyperbola of light, light / (10 + light)")
@pytest.mark.parametrize("light", [1.0, 4.0, 8.0, 13.0])
def test_weak_light_is_used_better(light):
    assert efficiency_by_light(8.0, 10.0) == 1.0
    growth = light * efficiency_by_light(light, 10.0)
    assert growth / 8.0 == pytest.approx((light / (10.0 + light)) / (8.0 / 18.0))


@pytest.mark.analytic("leaf area is in proportion to what is left of the ripening, 3 - development")
@pytest.mark.parametrize("start", [2.0, 2.03])
def test_leaves_ripen_in_a_line_to_none(start):
    whole, leaf_area, development = 4.0, 4.0, start
    for warmth in [0.013, 0.03, 0.0, 0.021, 0.001] * 20:  # days of any
        progress = min(warmth, 3.0 - development)
        development += progress
        leaf_area -= ripening_loss(leaf_area, development, progress)
        assert leaf_area == pytest.approx(whole * (3.0 - development) / (3.0 - start), abs=1e-9)
    assert development == pytest.approx(3.0)
    assert leaf_area == pytest.approx(0.0, abs=1e-9)


def test_leaves_ripen_only_from_anthesis_on_and_never_below_none():
    assert ripening_loss(4.0, 1.999, 0.03) == 0.0
    assert ripening_loss(4.0, 2.5, 0.0) == 0.0
    assert ripening_loss(4.0, 3.0, 0.03) == pytest.approx(4.0)
    assert ripening_loss(4.0, 3.02, 0.03) == 4.0  # the last day may go past ripeness


@given(st.floats(0, 15), st.floats(0, 3.1), st.floats(0, 0.1))
def test_ripening_takes_no_more_leaves_than_there_are(leaf_area, development, progress):
    assert 0.0 <= ripening_loss(leaf_area, development, progress) <= leaf_area


# roots


@pytest.mark.practice("from memory: Thorup-Kristensen et al. 2009, 1.1 to 1.5 mm per degC d")
def test_roots_deepen_by_thermal_time():
    assert root_front(100.0, 1.1) == pytest.approx(11.0)
    assert root_front(800.0, 1.5) == pytest.approx(120.0)


@pytest.mark.practice(
    "from memory: Jackson et al. 1996, share of crop roots above d is 1 - 0.961^d"
)
@pytest.mark.parametrize("depth", [10.0, 30.0, 100.0])
def test_roots_thin_out_with_depth(depth):
    bottom = 400.0  # below it lies a ten-millionth of the roots
    share = depth * root_density(0.0, depth, 0.961) / (bottom * root_density(0.0, bottom, 0.961))
    assert share == pytest.approx(1.0 - 0.961**depth, abs=1e-6)


layers = st.tuples(st.floats(0, 200), st.floats(0.5, 120)).map(lambda at: (at[0], sum(at)))


shapes = st.floats(0.9, 0.99)


@pytest.mark.analytic("mean of b^d over a layer, by numerical integration (scipy quad)")
@given(layers, shapes)
def test_root_density_of_a_layer_is_its_mean(layer, shape):
    top, bottom = layer
    mean = quad(lambda depth: shape**depth, top, bottom)[0] / (bottom - top)
    assert root_density(top, bottom, shape) == pytest.approx(mean, rel=1e-9)


@pytest.mark.analytic("a layer's roots are those of its parts")
@given(layers, st.floats(0.05, 0.95), shapes)
def test_cutting_a_layer_moves_no_roots(layer, share, shape):
    top, bottom = layer
    cut = top + share * (bottom - top)
    above, below = root_density(top, cut, shape), root_density(cut, bottom, shape)
    parts = (cut - top) * above + (bottom - cut) * below
    assert parts == pytest.approx((bottom - top) * root_density(top, bottom, shape), rel=1e-9)


# what is compiled is what is read

RANGES = {
    canopy.plants_emerging: [(5, 500), (15, 60), (0.2, 1), (100, 2000)],
    canopy.tillering: [(0, 2000), (300, 2500), (0, 0.5)],
    canopy.leaf_expansion: [(0, 9), (0, 35), (0.004, 0.03)],
    canopy.light_interception: [(0, 12), (0.35, 0.75)],
    canopy.potential_growth: [(0, 35), (0, 1), (1, 4)],
    canopy.root_share: [(0, 3.2), (0.1, 0.7), (0, 0.4)],
    canopy.leaf_share: [(0, 3.2), (0.4, 0.95), (0, 0.6)],
    canopy.allowed_by_nitrogen: [(0, 2), (0, 0.4), (0.41, 1.5)],
    canopy.room_for_leaves: [(0, 12), (3, 10)],
    canopy.ripening_loss: [(0, 12), (1.5, 3.2), (0, 0.1)],
    canopy.leaf_thinness: [(-10, 35), (0.3, 1)],
    canopy.drawn_from_reserves: [(0, 300), (0, 2000), (0, 0.05), (0, 0.5)],
    canopy.efficiency_by_light: [(0, 16), (3, 40)],
    canopy.root_front: [(0, 40), (0.5, 3)],
    canopy.root_density: [(0, 100), (101, 300), (0.9, 0.99)],
}


def test_every_process_is_compared_with_its_python():
    here = {
        name
        for name, value in vars(canopy).items()
        if hasattr(value, "py_func") and value.py_func.__module__ == canopy.__name__
    }
    assert here == {function.__name__ for function in RANGES} | {"grow_old"}


@pytest.mark.parametrize("function", RANGES, ids=lambda function: function.__name__)
def test_compiled_code_gives_the_bits_of_its_python(function):
    low, high = np.transpose(RANGES[function])
    for arguments in np.random.default_rng(1).uniform(low, high, (300, low.size)).tolist():
        assert function(*arguments) == function.py_func(*arguments)


def test_compiled_ageing_gives_the_bits_of_its_python():
    random = np.random.default_rng(1)
    for _ in range(300):
        ages = random.uniform(0.0, 2.0, random.integers(1, 9))
        plain = ages.copy()
        warmth, life = random.uniform(0, 40), random.uniform(300, 2000)
        assert grow_old(ages, warmth, life) == grow_old.py_func(plain, warmth, life)
        assert (ages == plain).all()
