"""Trials that are planned: chances against closed forms, fields by exact counting."""

from __future__ import annotations

import math
import time
from collections import Counter
from dataclasses import replace
from itertools import permutations, product

import numpy as np
import pytest
import xarray as xr
from scipy import stats
from statsmodels.stats.power import TTestPower

from simulator.parameters.model_error import LEVEL, RESPONSE
from simulator.parameters.plot_spread import PLOTS
from simulator.trials.design import misleading
from simulator.trials.design.drawing import TRIALS_AT_ONCE, drawn, parts
from simulator.trials.design.layout import laid_out, treatments, width
from simulator.trials.design.testing import Chance, analysed, run, years_needed
from simulator.trials.design.trial import (
    MOST_PAIRS,
    NORMAL,
    TREATMENT,
    Errors,
    Trial,
    errors_of,
    no_errors,
    spread_by_fall,
)

MANY = 10_000
FALLS = 12
NONCENTRAL = "a comparison of two means held against independent normal error: noncentral t"


def even_trial(
    levels: tuple[int, int, int],
    *,
    plot: float,
    whole_plot: float | None = None,
    date: float = 0.0,
    rate: float = 0.0,
    own: float = 0.0,
) -> Trial:
    """Return a trial whose years are alike in the model, so that all chance is normal."""
    return Trial(
        biomass=np.full((FALLS, *levels), 3000.0),
        plot=np.full(FALLS, plot),
        whole_plot=None if whole_plot is None else np.full(FALLS, whole_plot),
        errors=Errors(
            date=np.full(FALLS, date), rate=np.full(FALLS, rate), own=np.full(FALLS, own)
        ),
    )


def one_of(found: list[Chance], factor: str) -> Chance:
    (one,) = [chance for chance in found if chance.factor == factor]
    return one


def close(share: float, expected: float, number: int = MANY) -> bool:
    """Say whether a share lies within four standard errors of what it is to be."""
    return abs(share - expected) <= 4.0 * math.sqrt(expected * (1 - expected) / number)


def power(difference: float, of_difference: float, freedom: int) -> float:
    """Return the chance that a difference is seen and the right way round."""
    beyond = stats.t.ppf(0.975, freedom)
    return float(stats.nct.sf(beyond, freedom, difference / of_difference))


@pytest.mark.other_program("statsmodels 0.15, TTestPower (one sample, as of paired plots)")
@pytest.mark.parametrize(
    ("difference", "blocks", "years"), [(400.0, 4, 6), (600.0, 3, 4), (300.0, 6, 10), (900.0, 2, 3)]
)
def test_power_of_one_comparison(difference: float, blocks: int, years: int) -> None:
    spread = 500.0
    trial = even_trial((1, 1, 2), plot=spread)
    found = run(trial, difference=difference, years=[years], blocks=[blocks], trials=MANY, seed=3)
    of_a_year = spread * math.sqrt(2.0 / blocks)
    expected = TTestPower().power(difference / of_a_year, years, 0.05, alternative="two-sided")
    assert 0.1 < expected < 0.95
    assert close(one_of(found, "nitrogen").seen, float(expected), 2 * MANY)


@pytest.mark.other_program("statsmodels 0.15, TTestPower.solve_power")
@pytest.mark.parametrize(("difference", "spread", "blocks"), [(600.0, 500.0, 4), (450.0, 400.0, 3)])
def test_years_that_are_needed(difference: float, spread: float, blocks: int) -> None:
    trial = even_trial((1, 2, 1), plot=spread)
    of_a_year = spread * math.sqrt(2.0 / blocks)
    years = math.ceil(float(TTestPower().solve_power(difference / of_a_year, None, 0.05, 0.8)))
    lengths = range(years - 2, years + 2)
    found = run(trial, difference=difference, years=lengths, blocks=[blocks], trials=MANY, seed=8)
    assert years_needed(found, "seeding", blocks) == years
    assert years_needed(found, "seeding", blocks + 1) is None


@pytest.mark.analytic("a test at 5 percent finds nothing in 95 of 100 trials of nothing")
@pytest.mark.parametrize("levels", [(2, 1, 1), (4, 1, 2)])
def test_false_alarms_are_as_many_as_they_are_to_be(levels: tuple[int, int, int]) -> None:
    trial = even_trial(levels, plot=600.0, whole_plot=200.0, date=500.0)
    found = run(trial, difference=1e-9, years=[4], blocks=[3], trials=MANY, seed=9)
    assert close(2.0 * one_of(found, "sow").seen, 0.05)  # either way round


@pytest.mark.analytic(NONCENTRAL + ", the variance the sum of its parts")
@pytest.mark.parametrize("split", [False, True])
def test_parts_of_the_spread_add_up(split: bool) -> None:
    sows, seedings, nitrogens = 3, 2, 4
    plot, whole, date, rate, own = 700.0, 300.0, 350.0, 200.0, 400.0
    blocks, years, difference = 4, 6, 500.0
    trial = even_trial(
        (sows, seedings, nitrogens),
        plot=plot,
        whole_plot=whole if split else None,
        date=date,
        rate=rate,
        own=own,
    )
    found = run(trial, difference=difference, years=[years], blocks=[blocks], trials=MANY, seed=5)
    of_plots = own**2 + plot**2 / blocks
    variances = {
        "sow": date**2 + of_plots / (seedings * nitrogens) + split * whole**2 / blocks,
        "seeding": rate**2 + of_plots / (sows * nitrogens),
        "nitrogen": rate**2 + of_plots / (sows * seedings),
    }
    assert [one.factor for one in found] == [*variances, TREATMENT]
    for factor, variance in variances.items():
        levels = trial.levels[trial.axis(factor) - 1]
        freedom = (years - 1) * (levels - 1)
        of_difference = math.sqrt(2.0 * variance / years)
        here = one_of(found, factor)
        assert close(here.seen, power(difference, of_difference, freedom))
        # the mean of chi with that many degrees of freedom, from the gamma function
        chi = math.sqrt(2.0 / freedom) * math.gamma((freedom + 1) / 2) / math.gamma(freedom / 2)
        reach = stats.t.ppf(0.975, freedom) * of_difference * chi
        assert here.reach == pytest.approx(reach, rel=4.0 / math.sqrt(2.0 * freedom * MANY))
        assert close(power(here.smallest, of_difference, freedom), 0.8)


@pytest.mark.analytic(NONCENTRAL + ", for one treatment against another")
def test_single_treatments() -> None:
    plot, blocks, years, difference = 700.0, 4, 5, 900.0
    trial = even_trial((3, 1, 4), plot=plot, own=300.0)
    asked = {"difference": difference, "years": [years], "blocks": [blocks], "seed": 4}
    here = one_of(run(trial, **asked, trials=MANY), TREATMENT)
    assert len(here.seen_by_pair) == 33 and MOST_PAIRS == 40  # every second pair of 66
    of_difference = math.sqrt(2.0 * (300.0**2 + plot**2 / blocks) / years)
    assert close(here.seen, power(difference, of_difference, (years - 1) * 11))
    two = even_trial((1, 1, 4), plot=plot)  # one factor: its levels are the treatments
    assert [one.factor for one in run(two, **asked, trials=100)] == ["nitrogen"]


@pytest.mark.practice(
    "Cochran and Cox 1957, Experimental Designs, 2nd ed., sec. 2.2, from memory: replicates"
    " r >= 2 (s/d)^2 (t1 + t2)^2, t1 at 5 %, t2 at 2 (1 - P); with years as the replicates"
)
@pytest.mark.parametrize(("spread", "difference", "levels"), [(10, 20, 6), (8, 15, 3), (12, 20, 4)])
def test_number_of_replicates(spread: int, difference: int, levels: int) -> None:
    def enough(number: int) -> bool:
        freedom = (number - 1) * (levels - 1)
        both = stats.t.ppf(0.975, freedom) + stats.t.ppf(0.8, freedom)
        return bool(number >= 2.0 * (spread / difference) ** 2 * both**2)

    rule = next(number for number in range(2, 30) if enough(number))
    blocks = 2
    trial = even_trial((levels, 1, 1), plot=spread * math.sqrt(blocks))
    found = run(
        trial, difference=difference, years=[rule - 1, rule], blocks=[blocks], trials=MANY, seed=2
    )
    assert years_needed(found, "sow", blocks) == rule


@pytest.mark.analytic("the variance of a mean of independent draws from the record's falls")
def test_years_are_drawn_from_the_falls() -> None:
    draw = np.random.default_rng(4)
    biomass = draw.gamma(3.0, 900.0, (30, 1, 1, 2))
    trial = Trial(biomass=biomass, plot=np.full(30, 1e-9), whole_plot=None, errors=no_errors(30))
    years, noise = 5, []
    for part, count in enumerate(parts(MANY)):
        for _, values in drawn(trial, years=years, blocks=[2], count=count, seed=(1, part)):
            means = values.mean(axis=1)[:, 0, 0]
            noise.append(means[:, 1] - means[:, 0])
    found = np.concatenate(noise)
    expected = np.var(biomass[:, 0, 0, 1] - biomass[:, 0, 0, 0]) / years
    assert abs(found.mean()) < 4.0 * math.sqrt(expected / MANY)
    squares = (found - found.mean()) ** 2
    assert abs(found.var() - expected) < 4.0 * squares.std() / math.sqrt(MANY)


@pytest.mark.analytic("the chance that a normal difference falls below nothing")
def test_wrong_date_looks_best() -> None:
    trial = even_trial((2, 1, 1), plot=800.0)
    ahead, blocks, years = 250.0, 3, 4
    trial = replace(trial, biomass=trial.biomass + np.array([0.0, ahead])[:, None, None])
    for asked, worse in ((ahead - 1.0, True), (ahead + 1.0, False)):
        here = one_of(
            run(trial, difference=asked, years=[years], blocks=[blocks], trials=MANY, seed=6), "sow"
        )
        of_difference = 800.0 * math.sqrt(2.0 / blocks / years)
        assert close(here.wrong, float(stats.norm.cdf(-ahead / of_difference)))
        assert here.wrong_by == (here.wrong if worse else 0.0)
    assert close(here.seen_by_pair[0], power(ahead, of_difference, years - 1))


@pytest.mark.other_program("scipy, one-sample t test of the years' differences")
def test_an_interval_of_two_levels() -> None:
    levels = np.random.default_rng(0).normal(3000.0, 500.0, (20, 6, 2))
    reach, means = analysed(levels)
    for one, half, mean in zip(levels, reach, means, strict=True):
        told = stats.ttest_1samp(one[:, 0] - one[:, 1], 0.0).confidence_interval()
        assert mean[0] - mean[1] - half == pytest.approx(told.low)
        assert mean[0] - mean[1] + half == pytest.approx(told.high)


@pytest.mark.other_program("statsmodels 0.15, analysis of variance of level and year")
def test_an_interval_of_four_levels() -> None:
    import pandas as pd
    from statsmodels.formula.api import ols

    levels = np.random.default_rng(1).normal(3000.0, 500.0, (1, 5, 4))
    table = pd.DataFrame(
        [(y, k, levels[0, y, k]) for y in range(5) for k in range(4)], columns=["y", "k", "made"]
    )
    fitted = ols("made ~ C(y) + C(k)", table).fit()
    half = stats.t.ppf(0.975, fitted.df_resid) * math.sqrt(2.0 * fitted.mse_resid / 5)
    assert analysed(levels)[0][0] == pytest.approx(half)


@pytest.mark.analytic("variances add")
def test_the_models_error_of_a_difference() -> None:
    biomass = np.random.default_rng(2).gamma(3.0, 1500.0, (8, 3, 2, 4))
    biomass[0] *= 0.01  # a fall in which hardly anything stands
    stands = biomass.mean(axis=(1, 2, 3))
    assert stands[0] < RESPONSE.rmse < stands[1:].min()
    errors = errors_of(biomass)
    of_two = np.sqrt(2.0 * (errors.rate**2 + errors.own**2))
    assert of_two == pytest.approx(np.array([stands[0], *[RESPONSE.rmse] * 7]))
    assert errors.rate**2 / (errors.rate**2 + errors.own**2) == pytest.approx(RESPONSE.common)
    level = LEVEL.reach(NORMAL) * (stands + LEVEL.offset)
    level[0] = stands[0]
    within = (1.0 - LEVEL.common) * level**2
    assert errors.date**2 + errors.own**2 == pytest.approx(np.maximum(within, errors.own**2))


@pytest.mark.analytic("a share of each fall's mean, or the same in all")
def test_spread_follows_the_fall_or_does_not() -> None:
    biomass = np.arange(1.0, 13.0).reshape(3, 2, 1, 2) * 1000.0
    assert spread_by_fall(biomass, PLOTS.plot, share=True) == pytest.approx(
        PLOTS.plot * biomass.mean(axis=(1, 2, 3))
    )
    assert spread_by_fall(biomass, 600.0, share=False) == pytest.approx([600.0] * 3)


@pytest.mark.analytic("the same seed draws the same numbers")
def test_the_same_seed_gives_the_same_bits() -> None:
    trial = even_trial((4, 2, 4), plot=900.0, whole_plot=300.0, date=900.0, rate=300.0, own=800.0)
    asked = {"difference": 560.0, "years": [4, 6], "blocks": [3, 4], "trials": 130}
    assert run(trial, **asked, seed=1) == run(trial, **asked, seed=1)
    assert run(trial, **asked, seed=1) != run(trial, **asked, seed=2)
    assert sum(parts(130)) == 130 and max(parts(130)) == TRIALS_AT_ONCE


@pytest.mark.practice("what is promised: 1,000 trials in under 20 s on two processors")
def test_a_thousand_trials_are_quick() -> None:
    trial = even_trial((4, 2, 4), plot=900.0, date=900.0, rate=300.0, own=800.0)
    done: list[int] = []
    begun = time.perf_counter()
    run(trial, difference=560.0, years=[6], blocks=[4], trials=1000, seed=1, tick=done.append)
    assert time.perf_counter() - begun < 20.0
    assert sum(done) == 1000 and len(done) > 10  # a bar moves meanwhile


SIZES = [((4, 2, 4), 4), ((3, 1, 5), 3), ((2, 2, 1), 2), ((1, 1, 7), 6), ((5, 4, 6), 2)]


@pytest.mark.analytic("exact counting: every block has every treatment once")
@pytest.mark.parametrize("split", [False, True])
@pytest.mark.parametrize(("levels", "blocks"), SIZES)
def test_every_block_is_complete(levels: tuple[int, int, int], blocks: int, split: bool) -> None:
    plots = laid_out(levels, blocks, split=split, seed=(1, 2025))
    every = treatments(levels)
    for block in range(1, blocks + 1):
        here = [plot for plot in plots if plot.block == block]
        assert sorted(plot.treatment for plot in here) == list(range(1, len(every) + 1))
        assert all(plot.levels == every[plot.treatment - 1] for plot in here)
        assert len({(plot.row, plot.column) for plot in here}) == len(here)
        if not split:
            continue
        dates = [{p.levels[0] for p in here if p.whole_plot == w} for w in range(1, levels[0] + 1)]
        assert sorted(date for (date,) in dates) == list(range(levels[0]))
        assert Counter(p.whole_plot for p in here) == dict.fromkeys(
            range(1, levels[0] + 1), len(every) // levels[0]
        )
        rows = {plot.row: plot.whole_plot for plot in here}  # no row has two whole plots
        assert all(rows[plot.row] == plot.whole_plot for plot in here)
    numbers = [plot.plot for plot in plots]
    assert numbers == sorted(set(numbers))


@pytest.mark.analytic("exact counting: every order of a block comes as often")
@pytest.mark.parametrize(("split", "orders"), [(False, 24), (True, 8)])
def test_fields_are_drawn_evenly(split: bool, orders: int) -> None:
    drawn_orders: Counter[tuple[int, ...]] = Counter()
    both: Counter[tuple[int, int]] = Counter()
    fields = 4800
    for seed in range(fields):
        plots = laid_out((2, 1, 2), 2, split=split, seed=(seed, 2025))
        drawn_orders[tuple(plot.treatment for plot in plots[:4])] += 1
        both[plots[0].treatment, plots[4].treatment] += 1
    possible = [
        order
        for order in permutations(range(1, 5))
        if not split or {order[0], order[1]} in ({1, 2}, {3, 4})
    ]
    assert len(possible) == orders and set(drawn_orders) == set(possible)
    for counts, kinds in ((drawn_orders, orders), (both, 16)):  # and no block knows another
        even = fields / kinds
        square = sum((count - even) ** 2 / even for count in counts.values())
        assert len(counts) == kinds and square < stats.chi2.ppf(1.0 - 1e-4, kinds - 1)


@pytest.mark.analytic("the same seed and fall draw the same field")
def test_each_fall_has_a_field_of_its_own() -> None:
    fields = [
        tuple(plot.treatment for plot in laid_out((4, 2, 4), 4, split=True, seed=seed))
        for seed in product((1, 2), (2025, 2026))
    ]
    assert len(set(fields)) == 4
    again = laid_out((4, 2, 4), 4, split=True, seed=(1, 2025))
    assert tuple(plot.treatment for plot in again) == fields[0]


@pytest.mark.analytic("a divisor where there is one")
def test_rows_of_a_block_are_even_where_they_can_be() -> None:
    assert [width(n) for n in (1, 12, 32, 18, 30, 13)] == [1, 12, 8, 9, 10, 10]


def weather(years: range) -> xr.Dataset:
    """Return made-up days: 2 mm of rain each, a little more from year to year; one wet November."""
    days = np.arange(f"{years[0]}-07-01", f"{years[-1] + 1}-07-01", dtype="datetime64[D]")
    when = days.astype("datetime64[M]").astype(int)
    rain = 2.0 + 0.01 * np.random.default_rng(3).random(when.max() + 1)[when]
    rain[days.astype("datetime64[M]") == np.datetime64(f"{years[3]}-11")] = 9.0
    flat = np.full(days.size, 15.0)
    cold = flat - 0.1 * np.random.default_rng(5).random(when.max() + 1)[when]
    return xr.Dataset(
        {"tmax": ("time", flat), "tmin": ("time", cold), "rain": ("time", rain)},
        coords={"time": days.astype("datetime64[ns]")},
    )


@pytest.mark.analytic("a fall and a month that were made to stand out")
def test_the_misleading_fall_is_named() -> None:
    years = range(2001, 2013)
    biomass = np.full((12, 2, 1, 1), 3000.0) + np.linspace(0.0, 10.0, 12)[:, None, None, None]
    biomass[:, 1] -= 800.0 + np.linspace(0.0, 50.0, 12)[:, None, None]
    biomass[3, 1] += 2000.0
    trial = Trial(biomass=biomass, plot=np.full(12, 500.0), whole_plot=None, errors=no_errors(12))
    record = weather(years)
    months = misleading.odd_months(record, list(years), "10-20", "04-15")
    found = misleading.misled(trial, list(years), months, difference=500.0)
    (fall,) = found
    differences = biomass[:, 1, 0, 0] - biomass[:, 0, 0, 0]
    assert (fall.year, fall.factor, fall.reversed) == (2004, "sow", True)
    assert fall.difference == pytest.approx(differences[3])
    assert fall.away == pytest.approx(stats.zscore(differences, ddof=1)[3])
    oddest = fall.odd[0]
    assert (oddest.month, oddest.kind) == ("2004-11", "rain")
    assert oddest.value == pytest.approx(270.0)
    assert next(iter(misleading.drenched(record, list(years)))) == 2004
    assert len(misleading.drenched(record, list(years))) == 2  # a tenth of 12, rounded up


@pytest.mark.analytic("a response that a second fall undoes, and one that it repeats")
def test_a_drenched_fall_hides_the_response() -> None:
    years = list(range(2001, 2011))
    biomass = np.full((10, 2, 1, 2), 3000.0)
    biomass[..., 1] += 1000.0
    biomass[4, ..., 1] -= 2000.0  # as much below in the wet one
    trial = Trial(biomass=biomass, plot=np.full(10, 10.0), whole_plot=None, errors=no_errors(10))
    found = misleading.hidden_pairs(
        trial, years, {2005: 500.0}, rate=1, blocks=4, seed=1, count=400
    )
    assert found is not None
    assert (found.pairs, found.shown) == (400, 400)
    assert found.ordinary == 0
    # means about nothing: one in forty is above nothing by chance
    assert close(found.hidden / 400, 0.975, 400)
    assert (found.response, found.drenched_response) == (1000.0, -1000.0)
    alone = replace(trial, biomass=biomass[..., :1])
    assert misleading.hidden_pairs(alone, years, {2005: 500.0}, rate=0, blocks=4, seed=1) is None
