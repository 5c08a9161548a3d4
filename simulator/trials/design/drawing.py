"""Trials drawn at random: falls of the record, the model's error, whole plots, plots.

All designs of a question see the same draws: a trial of 4 years is the first 4 of one of 10, one
of 3 blocks has the first 3 of 6. Chances then differ by the design, not by luck.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from simulator.trials.design.trial import Array, Trial

TRIALS_AT_ONCE = 50  # drawn together, from one stream; the results hang on it


def parts(trials: int) -> list[int]:
    """Return how many trials each stream of random numbers draws."""
    whole, rest = divmod(trials, TRIALS_AT_ONCE)
    return [TRIALS_AT_ONCE] * whole + [rest] * bool(rest)


def drawn(
    trial: Trial, *, years: int, blocks: Sequence[int], count: int, seed: Sequence[int]
) -> Iterator[tuple[int, Array]]:
    """Draw trials, and give the means of their treatments over blocks.

    Falls are drawn with replacement: each year of a trial may be like any of the record's. The
    model's long-run mean of each treatment is taken off, so that a difference between means is
    what chance makes of a true difference of nothing.

    Parameters
    ----------
    trial : Trial
    years : int
    blocks : sequence of int
        Numbers of blocks, in any order.
    count : int
        How many trials.
    seed : sequence of int
        The same gives the same to the bit.

    Yields
    ------
    int
        A number of blocks.
    (trial, year, sow, seeding, nitrogen) float
        Means over so many blocks [kg/ha].
    """
    draw, most = np.random.default_rng(list(seed)), max(blocks)
    sows, seedings, nitrogens = trial.levels
    falls = draw.integers(trial.falls, size=(count, years))

    def normal(*shape: int) -> Array:
        return draw.standard_normal((count, years, *shape))

    chance = trial.biomass[falls] - trial.biomass.mean(axis=0)
    errors = trial.errors
    date, rate, own = (
        one[falls][..., None, None, None] for one in (errors.date, errors.rate, errors.own)
    )
    chance += date * normal(sows)[..., None, None]
    chance += rate * normal(seedings)[:, :, None, :, None]
    chance += rate * normal(nitrogens)[:, :, None, None, :]
    chance += own * normal(sows, seedings, nitrogens)
    whole = np.cumsum(normal(most, sows), axis=2)
    single = np.cumsum(normal(most, sows, seedings, nitrogens), axis=2)
    single *= trial.plot[falls][..., None, None, None, None]
    if trial.whole_plot is not None:
        whole *= trial.whole_plot[falls][..., None, None]
        single += whole[..., None, None]
    for number in blocks:
        yield number, chance + single[:, :, number - 1] / number
