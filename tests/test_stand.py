"""The stand of a day: leaves that unfold, grow old, freeze and fall, and what becomes of them."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.parameters.cereals import CEREALS
from simulator.process.nitrogen import shoot_nitrogen
from simulator.season.day import drivers
from simulator.season.day.leaves import let_leaves_fall, lose_leaves
from simulator.season.day.order import WORK
from simulator.season.day.stand import put_on_growth, thin_out
from simulator.season.day.state import AGES, FIELD
from simulator.season.one_season import run_season
from simulator.season.plan import Plan
from simulator.weather.record import make_record
from simulator.weather.samples import sample_weather

CLOSE = 1e-6  # kg/ha
YEAR = 2001
rye = CEREALS["rye"]


def stand(development=0.5, shoot=1500.0, leaf=900.0, root=600.0, nitrogen=60.0, ages=None):
    """Return a field with a stand on it, and nothing else that leaves ask for."""
    field = np.zeros(1, FIELD)
    one = field[0]
    one["emerged"] = one["alive"] = True
    one["development"], one["plants"], one["shoots"] = development, 200.0, 600.0
    one["shoot"], one["leaf"], one["root"], one["nitrogen"] = shoot, leaf, root, nitrogen
    one["leaf_ages"] = np.linspace(0.1, 0.6, AGES) if ages is None else ages
    one["leaf_area"] = one["leaf_ages"].sum()
    one["stress"] = one["leaves_spared"] = one["surviving"] = 1.0
    return field


def cereal(**changed):
    return dataclasses.replace(rye, **changed).as_record()


def fall(field, area, left, **changed):
    let_leaves_fall.py_func(
        area, left, cereal(**changed).view(np.recarray)[0], field.view(np.recarray)[0]
    )


@pytest.mark.analytic("a share of the leaf area takes that share of leaf, or of the whole shoot")
@pytest.mark.parametrize(
    ("development", "part"), [(0.5, "shoot"), (0.99, "shoot"), (1.0, "leaf"), (1.8, "leaf")]
)
def test_dead_leaves_fall_with_their_sheaths_until_stems_rise(development, part):
    field = stand(development)
    before = field[0].copy()
    fall(field, 0.25 * before["leaf_area"], 0.5)
    after = field[0]
    fallen = 0.25 * before[part]
    assert after["shed"] == pytest.approx(fallen)
    assert after["shoot"] == pytest.approx(before["shoot"] - fallen)
    assert after["leaf"] == pytest.approx(0.75 * before["leaf"])
    assert after["leaf_area"] == pytest.approx(0.75 * before["leaf_area"])
    assert after["root"] == before["root"]


@pytest.mark.analytic("nitrogen left = share left x concentration of the shoots x mass that falls")
@pytest.mark.parametrize("left", [0.0, 0.3, 1.0])
@pytest.mark.parametrize("development", [0.5, 1.5])
def test_dead_leaves_keep_a_share_of_their_nitrogen(left, development):
    field = stand(development)
    before = field[0].copy()
    ratio = rye.root_nitrogen_ratio
    held = shoot_nitrogen(before["nitrogen"], before["shoot"], before["root"], ratio)
    fall(field, 0.4 * before["leaf_area"], left)
    after = field[0]
    assert after["shed_nitrogen"] == pytest.approx(left * held / before["shoot"] * after["shed"])
    assert after["nitrogen"] + after["shed_nitrogen"] == pytest.approx(before["nitrogen"])


@given(st.floats(0, 1), st.floats(0, 2.5), st.floats(0, 1), st.floats(0.05, 1), st.floats(0, 900))
def test_nothing_is_lost_when_leaves_fall(share, development, left, leafy, root):
    field = stand(development, leaf=1500.0 * leafy, root=root)
    before = field[0].copy()
    lose_leaves.py_func(
        share * before["leaf_area"], left, cereal().view(np.recarray)[0], field.view(np.recarray)[0]
    )
    after = field[0]
    assert after["leaf_ages"].sum() == pytest.approx(after["leaf_area"], abs=1e-12)
    np.testing.assert_allclose(after["leaf_ages"], (1.0 - share) * before["leaf_ages"], atol=1e-12)
    for there, gone in (("shoot", "shed"), ("nitrogen", "shed_nitrogen")):
        assert after[there] + after[gone] == pytest.approx(before[there], abs=CLOSE)
        assert after[there] >= -1e-9
        assert after[gone] >= 0.0
    assert after["leaf"] <= after["shoot"] + 1e-9


def test_no_dead_leaf_changes_nothing():
    field = stand()
    before = field[0].copy()
    fall(field, 0.0, 0.5)
    for name in FIELD.names:
        np.testing.assert_array_equal(field[0][name], before[name])


@pytest.mark.analytic("what is thinned out is killed, of every class of age alike")
def test_plants_that_die_take_their_leaves_along():
    field = stand()
    before = field[0].copy()
    thin_out.py_func(0.3, field.view(np.recarray)[0])
    after = field[0]
    for name in ("leaf_area", "leaf_ages", "leaf", "shoot", "root", "nitrogen", "plants"):
        np.testing.assert_allclose(after[name], 0.3 * before[name])
    assert after["killed"] == pytest.approx(0.7 * (before["shoot"] + before["root"]))
    assert after["killed_nitrogen"] == pytest.approx(0.7 * before["nitrogen"])
    assert after["shed"] == 0.0


days = st.lists(
    st.tuples(
        st.floats(0, 30), st.floats(0, 25), st.floats(0, 25), st.floats(0, 1), st.floats(0, 0.04)
    ),
    min_size=1,
    max_size=40,
)


@given(days, st.floats(0.2, 2.2), st.floats(5, 200))
def test_leaf_area_is_that_of_its_classes_on_every_day(many, development, nitrogen):
    field, kind, work = stand(development, nitrogen=nitrogen), cereal(), np.zeros(1, WORK)
    work[0]["air"], work[0]["intercepted"] = 1.0, 0.6
    whole = field[0]["shoot"] + field[0]["root"]
    for thermal_time, radiation, mean, growth, progress in many:
        today = np.zeros(drivers.COLUMNS)
        today[drivers.THERMAL_TIME], today[drivers.RADIATION] = thermal_time, radiation
        today[drivers.LEAF_WARMTH], today[drivers.TMEAN] = 0.8 * thermal_time, mean
        today[drivers.GROWTH], today[drivers.WARMTH] = growth, progress
        field[0]["development"] += progress
        put_on_growth.py_func(today, *(one.view(np.recarray)[0] for one in (kind, field, work)))
        one = field[0]
        assert one["leaf_ages"].sum() == pytest.approx(one["leaf_area"], rel=1e-9, abs=1e-12)
        assert one["leaf_ages"].min() >= 0.0
        assert -1e-9 <= one["leaf"] <= one["shoot"] + 1e-9
        there = one["shoot"] + one["root"] + one["shed"]
        assert there == pytest.approx(whole + one["grown"], abs=CLOSE)
        assert one["nitrogen"] + one["shed_nitrogen"] == pytest.approx(nitrogen, abs=CLOSE)


@pytest.mark.analytic("the mean less the base, where no hour is below it or above the cutoff")
@pytest.mark.parametrize("base", [0.0, 2.0, 5.0])
def test_leaves_grow_by_the_warmth_above_their_base(base):
    high, low = np.full((1, 3), [16.0, 22.0, 1.0]), np.full((1, 3), [6.0, 8.0, -9.0])
    found = drivers.season_drivers(
        high,
        low,
        np.zeros((1, 3)),
        np.arange(300.0, 303.0)[None],
        33.0,
        np.array([[0, 2]]),
        cereal(leaf_base=base),
    )
    warmth = found[0, :, drivers.LEAF_WARMTH]
    assert warmth[:2] == pytest.approx([11.0 - base, 15.0 - base])
    assert 0.0 <= warmth[2] < 1.0
    if base >= 1.0:
        assert warmth[2] == 0.0


# through whole seasons


@pytest.mark.analytic("conservation of mass, with what leaves took along when they fell")
@pytest.mark.parametrize("sample", ["tallow-bend", "hollin-reach"])
@pytest.mark.parametrize("kind", list(CEREALS))
def test_dry_matter_and_nitrogen_balance_with_what_fell(kind, sample):
    plan = Plan(
        cereal=kind, sow="09-25", nitrogen="60 lb/acre", nitrogen_timing="03-01", end="06-15"
    )
    season = run_season(sample_weather(sample), plan, year=2010)
    assert float(season.shed_leaf_kg_ha[-1]) > 0.0
    assert float(season.shed_nitrogen_kg_ha[-1]) > 0.0
    dry_matter = (
        season.seedling_kg_ha
        + season.growth_kg_ha
        - season.biomass_kg_ha
        - season.root_biomass_kg_ha
        - season.killed_biomass_kg_ha
        - season.shed_leaf_kg_ha
    )
    nitrogen = (
        season.mineral_nitrogen_start_kg_ha
        + season.fertilizer_kg_ha
        + season.mineralised_kg_ha
        + season.seedling_nitrogen_kg_ha
        + season.soil_test_correction_kg_ha
        - season.soil_nitrate_kg_ha
        - season.soil_ammonium_kg_ha
        - season.litter_nitrogen_kg_ha
        - season.nitrogen_uptake_kg_ha
        - season.root_nitrogen_kg_ha
        - season.killed_nitrogen_kg_ha
        - season.shed_nitrogen_kg_ha
        - season.nitrate_leached_kg_ha
        - season.denitrified_kg_ha
        - season.volatilised_kg_ha
    )
    assert float(abs(dry_matter).max()) < CLOSE
    assert float(abs(nitrogen).max()) < CLOSE


def one_cold_night(tmin):
    """A mild winter, every day alike but for one night; the day after it is as warm as ever."""
    when = np.datetime64(f"{YEAR}-07-01") + np.arange(365)
    low = np.full(365, 4.0)
    night = int((np.datetime64(f"{YEAR + 1}-01-10") - when[0]) / np.timedelta64(1, "D"))
    low[night] = tmin
    return night, make_record(
        when, np.full(365, 14.0), low, np.full(365, 2.0), site="Anywhere", latitude=33.0
    )


def test_a_stand_whose_leaves_froze_grows_again_from_its_roots():
    # air cold enough for every leaf of a tender kind, on soil too warm for any crown to freeze
    plan = Plan(sow="10-01", nitrogen="60 lb/acre", end="04-15")
    tender = dataclasses.replace(rye, hardiest=-6.0)
    night, record = one_cold_night(-18.0)
    season = run_season(record, plan, cereal=tender, year=YEAR)
    at = int(np.flatnonzero(season.time.values == record.time.values[night])[0])
    leaf, root = season.leaf_area_index.values, season.root_biomass_kg_ha.values
    assert leaf[at - 1] > 0.1
    assert leaf[at] < 0.01 * leaf[at - 1]
    assert season.plants_m2.values[at] == season.plants_m2.values[at - 1]
    assert season.stand_alive.values[-1] == 1.0
    shed = season.shed_leaf_kg_ha.values
    assert shed[at] > shed[at - 1]
    assert root[at + 1] < root[at]  # roots give what new leaves are made of
    assert leaf[at + 40] > 10.0 * leaf[at]
    assert leaf[at + 40 :].max() > 0.1
    assert season.growth_kg_ha.values[-1] > season.growth_kg_ha.values[at + 40]
    assert float(abs(season.dry_matter_balance_error_kg_ha).max()) < CLOSE
    assert float(abs(season.nitrogen_balance_error_kg_ha).max()) < CLOSE
    # without the night there is nothing to grow back
    _, mild = one_cold_night(4.0)
    unhurt = run_season(mild, plan, cereal=tender, year=YEAR)
    assert float(unhurt.biomass_kg_ha[-1]) > float(season.biomass_kg_ha[-1])
