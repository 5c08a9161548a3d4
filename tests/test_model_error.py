"""How far off the model is where it has not looked: the sets, their bands, and what they hold."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from docs.maker import __main__ as maker
from docs.maker import errors, skill
from docs.maker.errors import Errors
from docs.maker.open_trials import open_trials
from simulator.parameters.model_error import LEVEL, MODEL_ERRORS, PROMISES, ModelError
from simulator.problems import InputError

SETS = pytest.mark.parametrize("one", MODEL_ERRORS.values(), ids=str)
BIOMASS = st.floats(0.0, 20000.0)
SOURCE = "Huddell et al. (2024), Scientific Data 11:200; the sets were found from these rows"


def made_up(off: np.ndarray, season: np.ndarray, name: str = "gain") -> Errors:
    """Errors of a kind, each site-season a place of its own."""
    return Errors(name, np.zeros(off.size), off, season.astype(str), season.astype(str))


# --- bands ---


@SETS
@given(st.lists(st.floats(0.0, 0.9), min_size=2, max_size=5), BIOMASS)
def test_more_promised_is_a_wider_band(
    one: ModelError, promises: list[float], simulated: float
) -> None:
    bands = [one.band(simulated, promise) for promise in sorted(promises)]
    for (low, high), (lower, higher) in itertools.pairwise(bands):
        assert lower <= low <= simulated * (1 + 1e-12) + 1e-9
        assert simulated * (1 - 1e-12) - 1e-9 <= high <= higher


@given(BIOMASS, st.floats(0.0, 0.9))
def test_biomass_is_never_below_nothing(simulated: float, promise: float) -> None:
    low, high = LEVEL.band(simulated, promise)
    assert 0.0 <= low <= high < math.inf


@pytest.mark.analytic("exp and the root mean square, worked by hand")
def test_a_band_by_hand() -> None:
    own = replace(LEVEL, offset=1000.0, within_80=math.log(2.0), within_90=1.0)
    assert own.band(3000.0) == pytest.approx((1000.0, 7000.0))  # 4,000 halved and doubled
    assert own.band(500.0) == pytest.approx((0.0, 2000.0))  # 750 - 1,000 is below nothing
    difference = replace(own, offset=0.0, rmse=50.0, within_80=0.8, within_90=1.2)
    assert difference.band([-10.0, 100.0])[0] == pytest.approx([-50.0, 60.0])
    assert difference.band(100.0, 0.85)[1] == pytest.approx(150.0)  # halfway between two reaches
    assert difference.band(100.0, 0.0) == pytest.approx((100.0, 100.0))
    assert np.isnan(own.band(np.nan)).all()  # where nothing stands nothing is said


def test_what_a_set_refuses() -> None:
    with pytest.raises(InputError, match="A larger share of errors has a shorter reach"):
        replace(LEVEL, within_20=LEVEL.within_90, within_30=0.0)
    for promise in (0.95, -0.1, math.nan):
        with pytest.raises(InputError, match="site-seasons say nothing of rarer errors"):
            LEVEL.band(1000.0, promise)


@SETS
def test_a_set_says_its_unit_and_its_source(one: ModelError) -> None:
    assert "left out" in one.source or "without it" in one.source
    assert one.unit == errors.UNITS[one.name]
    assert all(spec.meaning and spec.source for spec in one.specs().values())


# --- how they are found ---


@pytest.mark.analytic(
    "of n errors in any order the band of the other n - 1 holds those of rank k and less, k the"
    " smallest with k >= share (n - 1): a share k / n of them, whatever the errors are"
)
@pytest.mark.parametrize("seasons", [11, 32, 57])
@pytest.mark.parametrize("promise", PROMISES)
def test_bands_of_the_others_hold_what_ranks_say(seasons: int, promise: float) -> None:
    for seed in range(3):
        off = np.random.default_rng(seed).standard_t(3.0, seasons)
        sizes = np.abs(off)
        there = [
            sizes[at] <= errors.quantile(np.delete(sizes, at), np.ones(seasons - 1), promise)
            for at in range(seasons)
        ]
        assert sum(there) == math.ceil(promise * (seasons - 1) - 1e-9)


@pytest.mark.analytic(
    "K groups and one to come in any order, each one vote: a row of its r rows lies inside in"
    " share K / (K + 1) of all worlds at least, as in Lee, Barber and Willett, arXiv 2306.06342,"
    " and in (share K + 1 + 1 / r) / (K + 1) at most, since a group has no more than its vote"
)
def test_bands_hold_in_groups_to_come() -> None:
    random = np.random.default_rng(7)
    seasons, rows, worlds = 31, 4, 1000
    hits = []
    for _ in range(worlds):
        common = np.repeat(random.normal(0.0, 0.8, seasons + 1), rows)
        off = 1000.0 * (common + random.normal(0.0, 0.6, common.size))
        season = np.repeat(np.arange(seasons + 1), rows)
        known = made_up(off[season < seasons], season[season < seasons])
        new = made_up(off[season == seasons], season[season == seasons])
        hits.append(errors.inside(new, errors.found(known), 0.8)[0].mean())
    chance = 3.0 * np.std(hits) / math.sqrt(worlds)
    least = 0.8 * seasons / (seasons + 1)
    most = (0.8 * seasons + 1 + 1 / rows) / (seasons + 1)
    assert least - chance < np.mean(hits) < most + chance


@pytest.mark.analytic("the variances that the errors were made with: 0.64 and 0.36 of 1")
def test_the_common_part_is_found_again() -> None:
    random = np.random.default_rng(3)
    season = np.repeat(np.arange(2000), 5)
    off = np.repeat(random.normal(0.0, 0.8, 2000), 5) + random.normal(0.0, 0.6, season.size)
    found = errors.common_share(off, np.ones(season.size), season.astype(str))
    assert found == pytest.approx(0.64, abs=0.02)  # some 0.015 by chance, in 2,000 seasons


@pytest.mark.analytic("quantiles of uniform errors, and a site-season's single vote")
def test_each_season_has_one_vote() -> None:
    uniform = np.arange(1, 101) / 100.0
    one = errors.found(made_up(uniform, np.arange(100)))
    for promise in PROMISES:
        assert one.reach(promise) * one.rmse == pytest.approx(promise, abs=0.001)
    sizes, season = np.array([1.0, *[5.0] * 9]), np.array(["a", *["b"] * 9])
    weights = Errors("gain", sizes, sizes, season, season).weights
    assert errors.quantile(sizes, weights, 0.5) == 1.0  # one row of ten, but half of the votes
    assert errors.quantile(sizes, weights, 0.51) == 5.0


@pytest.mark.analytic("the shortest stretch of four errors that holds three, by hand")
def test_the_shortest_stretch() -> None:
    one = made_up(np.array([-900.0, 100.0, 250.0, 300.0]), np.arange(4))
    assert errors.shortest(one, 0.5) == 50.0
    assert errors.shortest(one, 0.75) == 200.0
    assert errors.shortest(one, 1.0) == 1200.0


# --- on the open trials ---


@pytest.fixture(scope="module")
def left_out(open_data: Path) -> dict[str, Errors]:
    """The open trials beside what fits without each place said of them."""
    return errors.kept(open_trials(open_data).plots.table)


@pytest.mark.fitted(SOURCE)
def test_the_sets_are_those_of_places_left_out(left_out: dict[str, Errors]) -> None:
    for name, one in left_out.items():
        assert errors.found(one) == MODEL_ERRORS[name], "python -m docs.maker errors"


@pytest.mark.fitted(SOURCE + "; each site-season, and each place, is held against all others")
@pytest.mark.parametrize("without", ["season", "place"])
def test_the_band_of_biomass_holds_what_it_promises(
    left_out: dict[str, Errors], without: str
) -> None:
    level = left_out["level"]
    there, width = errors.held(level, 0.8, without)
    assert 0.72 <= np.average(there, weights=level.weights) <= 0.88
    # a constant, the mean of all, would need a band of twice what 80 % of the stands stray from it
    stray = np.abs(level.measured - np.average(level.measured, weights=level.weights))
    constant = 2.0 * errors.quantile(stray, level.weights, 0.8)
    assert errors.median(width, level.weights) < constant


@pytest.mark.fitted(SOURCE)
def test_the_page_says_what_the_sets_hold(left_out: dict[str, Errors]) -> None:
    section = skill.laid_out(errors.section(left_out, skill._named)).rstrip()
    assert section in skill.PAGE.read_text(encoding="utf-8"), "python -m docs.maker errors"


@pytest.mark.fitted(SOURCE)
def test_what_is_printed_makes_the_sets(left_out: dict[str, Errors]) -> None:
    made: dict[str, ModelError] = {}
    exec(errors.printed(left_out), {"ModelError": ModelError}, made)
    assert {name.lower(): one for name, one in made.items()} == MODEL_ERRORS


def test_without_the_open_trials_nothing_is_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(skill, "OPEN_DATA", tmp_path / "nothing")
    before = skill.PAGE.read_text(encoding="utf-8"), errors.FILE.read_text(encoding="utf-8")
    maker.main(["errors"])  # ends without an error
    assert "The open trials are not here" in capsys.readouterr().out
    assert before == (
        skill.PAGE.read_text(encoding="utf-8"),
        errors.FILE.read_text(encoding="utf-8"),
    )


def test_what_was_kept_of_other_rows_is_refused() -> None:
    kept = pd.read_csv(errors.FILE, parse_dates=["sown", "sampled"])
    with pytest.raises(ValueError, match="is of other rows: run"):
        errors.kept(kept.iloc[:-1])
    with pytest.raises(ValueError, match="is of other rows"):
        errors.kept(kept.assign(year=kept["year"] + 1))
