"""Weather and field together: ranges, chances, and what is said of them."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from simulator import units
from simulator.answers.shared import field_ranges
from simulator.parameters.files import read_parameters
from simulator.parameters.model_error import GAIN, LEVEL, RESPONSE, SHIPPED, ModelError
from simulator.show.tables import span, spread

NORMAL = {  # reaches of a normal curve of standard deviation 1
    f"within_{tenth}0": NormalDist().inv_cdf(0.5 + tenth / 20) for tenth in range(1, 10)
}
EVEN = replace(RESPONSE, rmse=100.0, **NORMAL)  # normal errors of 100 kg/ha
FALLS = st.lists(st.floats(0.0, 15000.0), min_size=1, max_size=40).map(np.array)


@pytest.mark.other_program("scipy.stats.norm")
def test_normal_errors_give_the_chances_of_a_normal_curve() -> None:
    targets = np.linspace(-250.0, 250.0, 41)
    found = EVEN.chance_of(targets, 0.0)
    # between the knots at each tenth lie straight lines: a hundredth off at the most
    assert found == pytest.approx(stats.norm.sf(targets / 100.0), abs=0.01)
    assert EVEN.chance_of(0.0, 0.0) == pytest.approx(0.5)


@pytest.mark.other_program("scipy.stats.norm")
def test_ranges_of_normal_falls_and_normal_fields_add_as_variances() -> None:
    falls = 1000.0 + 75.0 * stats.norm.ppf((np.arange(400) + 0.5) / 400)
    found = field_ranges.difference_ranges(falls, EVEN)
    both = stats.norm(1000.0, math.hypot(75.0, 100.0))
    assert (found.low, found.high) == pytest.approx(both.ppf([0.1, 0.9]), abs=2.0)
    assert (found.weather_low, found.weather_high) == pytest.approx(spread(falls))


@pytest.mark.analytic("of one fall the range is the field's alone: the band of the set")
@pytest.mark.parametrize("one", [LEVEL, GAIN, RESPONSE], ids=str)
def test_one_fall_has_the_band_of_the_set(one: ModelError) -> None:
    found = field_ranges.biomass_ranges(np.array([3000.0]), error=one)
    # the tenth and the ninetieth percentile of 100 equal parts lie between the middles of two
    outer, inner = (
        one.moved(3000.0, np.array([-1.0, 1.0]) * one.reach(share)) for share in (0.81, 0.79)
    )
    assert (found.low, found.high) == pytest.approx(tuple(0.1 * outer + 0.9 * inner))
    assert found.weather_low == found.weather_high == 3000.0


@pytest.mark.analytic("errors that are equally likely are as far as each share says")
@pytest.mark.parametrize("one", [LEVEL, GAIN, RESPONSE], ids=str)
def test_errors_reach_as_far_as_the_set_says(one: ModelError) -> None:
    made = np.abs(one.errors(2000))
    assert one.errors(2000) == pytest.approx(-one.errors(2000)[::-1])
    for share in (0.2, 0.5, 0.8, 0.9):
        assert (made <= one.reach(share) + 1e-9).mean() == pytest.approx(share, abs=0.002)


@given(FALLS, st.floats(0.0, 15000.0))
def test_chances_and_ranges_agree(falls: np.ndarray, target: float) -> None:
    chance = field_ranges.chance_in_fields(falls, target)
    drawn = float((LEVEL.in_fields(falls, 2000) >= target).mean())
    assert chance == pytest.approx(drawn, abs=0.002)
    assert field_ranges.chance_in_fields(falls, target + 500.0) <= chance + 1e-12
    ranges = field_ranges.biomass_ranges(falls)
    assert 0.0 <= ranges.low <= ranges.high


@pytest.mark.analytic("one fall just below the target counts for nearly as much as just above")
def test_no_cliff() -> None:
    falls = np.full(30, 4000.0)
    below, above = (field_ranges.chance_in_fields(falls, target) for target in (3990.0, 4010.0))
    assert 0.0 < below - above < 0.02  # by the falls alone it would be all or nothing


def test_falls_without_a_value_are_left_aside() -> None:
    falls = np.array([2000.0, np.nan, 5000.0])
    assert field_ranges.biomass_ranges(falls) == field_ranges.biomass_ranges(falls[[0, 2]])
    assert math.isnan(field_ranges.chance_in_fields(np.array([np.nan]), 1000.0))
    assert math.isnan(field_ranges.biomass_ranges(np.array([np.nan])).low)


@pytest.mark.analytic("growth a day times days")
def test_gains_widen_with_days() -> None:
    one, four = (field_ranges.gain_ranges(np.full(20, 50.0 * days), days) for days in (7.0, 28.0))
    assert (four.high - 28 * 50) == pytest.approx(4 * (one.high - 7 * 50))
    assert one.weather_low == one.weather_high == 350.0


def test_what_cannot_be_told() -> None:
    assert not field_ranges.Ranges(-10.0, 400.0, 100.0, 200.0).is_clear
    assert field_ranges.Ranges(10.0, 400.0, 100.0, 200.0).is_clear
    assert field_ranges.Ranges(-400.0, -10.0, -300.0, -200.0).is_clear


def test_a_parameter_file_can_say_how_far_off(tmp_path) -> None:
    file = tmp_path / "own.toml"
    file.write_text("[model_error.level]\nwithin_80 = 0.35\nrmse = 1500.0\n", encoding="utf-8")
    own = read_parameters(file).model_errors()
    assert own.level.reach(0.8) == 0.35
    assert (own.gain, own.response) == (SHIPPED.gain, SHIPPED.response)
    assert "off by 1,340 lb/ac" in field_ranges.how_far_off("us", own.level)


@pytest.mark.analytic("1,263 kg/ha are 1,127 lb/ac, by 0.89218 lb/ac to the kg/ha; to tens 1,130")
def test_biomass_is_printed_to_tens() -> None:
    assert units.spell(1263.0, "biomass", "us") == "1,130 lb/ac"
    assert units.spell(1263.0, "biomass", "si") == "1,260 kg/ha"
    assert units.spell(-2.0, "biomass", "si") == "0 kg/ha"
    assert span((-812.0, 2336.0), "biomass", "si") == "-810 to 2340"
    assert span((812.0, 2336.0), "biomass", "si") == "810-2340"
    assert field_ranges.spelled(field_ranges.Ranges(-812.0, 2336.0, 0, 0), "biomass", "si") == (
        "-810 to 2,340 kg/ha"
    )


def test_each_sentence_says_where_it_comes_from() -> None:
    for sentence in (
        field_ranges.how_far_off("us"),
        field_ranges.difference_off("us"),
        field_ranges.gain_off("us"),
    ):
        assert sentence.endswith(f"({field_ranges.WHERE}).")
        assert "had not seen" in sentence
