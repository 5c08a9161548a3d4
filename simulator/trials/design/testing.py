"""What trials that were drawn would show: differences seen, their intervals, the wrong best.

The years of a trial are a sample of a place's years, so that a difference is held against how
much it varies from year to year: the mean square of level by year (Cochran and Cox 1957,
Experimental Designs, 2nd ed., ch. 14, from memory), with (years - 1)(levels - 1) degrees of
freedom. The spread of plots within a year is part of what varies.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from simulator.trials.design.drawing import drawn, parts
from simulator.trials.design.trial import Array, Trial, pairs

SIGNIFICANT = 0.05  # both sides together
PROMISED = 0.8  # chance that a trial is usually planned for


@dataclass(slots=True)
class Shown:
    """What trials of one design show of one factor, over all that were drawn.

    Parameters
    ----------
    factor : str
        As `Trial.compared` has it.
    blocks, years : int
    noise : list of (trial, pair) float
        Difference of two levels where the true one is nothing [kg/ha].
    reach : list of (trial,) float
        Half the width of its 95 % interval [kg/ha].
    chosen : list of (trial,) int
        The level that comes out ahead.
    """

    factor: str
    blocks: int
    years: int
    noise: list[Array] = field(default_factory=list)
    reach: list[Array] = field(default_factory=list)
    chosen: list[NDArray[np.intp]] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """What a design can show of a factor.

    Parameters
    ----------
    factor : str
        As `Trial.compared` has it.
    blocks, years : int
    seen : float
        Share of trials that find the difference asked about significant, and the right way
        round; the mean over all pairs of levels.
    seen_by_pair : tuple of float
        The same share for the difference that the model has between the levels of each pair.
    reach : float
        Mean half width of the 95 % interval of a difference [kg/ha].
    smallest : float
        Difference that 8 of 10 trials see [kg/ha].
    wrong : float
        Share of trials in which another level than the truly best has the highest mean.
    wrong_by : float
        Share in which that level is worse by the difference asked about, or more.
    """

    factor: str
    blocks: int
    years: int
    seen: float
    seen_by_pair: tuple[float, ...]
    reach: float
    smallest: float
    wrong: float
    wrong_by: float


def run(
    trial: Trial,
    *,
    difference: float,
    years: Sequence[int],
    blocks: Sequence[int],
    trials: int,
    seed: int,
    tick: Callable[[int], object] = lambda _: None,
) -> list[Chance]:
    """Draw trials and say what each design can show.

    Parameters
    ----------
    trial : Trial
    difference : float
        Asked about, above 0 [kg/ha].
    years, blocks : sequence of int
        The designs: every number of years with every number of blocks.
    trials : int
        How many are drawn.
    seed : int
        The same gives the same to the bit.
    tick : callable
        Told how many more trials are done.

    Returns
    -------
    list of Chance
        Factors outermost, then blocks, then years.
    """
    found = {
        (factor, number, count): Shown(factor, number, count)
        for factor in trial.compared()
        for number in blocks
        for count in years
    }
    longrun = {factor: trial.means(factor).mean(axis=0) for factor in trial.compared()}
    for part, count in enumerate(parts(trials)):
        of_blocks = drawn(trial, years=max(years), blocks=blocks, count=count, seed=(seed, part))
        for number, values in of_blocks:
            for factor in trial.compared():
                levels = trial.levels_of(values, factor)
                for length in years:
                    _take(found[factor, number, length], levels[:, :length], longrun[factor])
        tick(count)
    return [_summed_up(one, difference, longrun[one.factor]) for one in found.values()]


def _take(shown: Shown, levels: Array, longrun: Array) -> None:
    """Analyse trials (trial, year, level), and add what they show."""
    reach, means = analysed(levels)
    first, second = np.array(pairs(shown.factor, len(longrun))).T
    shown.noise.append(means[:, first] - means[:, second])
    shown.reach.append(reach)
    shown.chosen.append((means + longrun).argmax(axis=1))


def analysed(levels: Array) -> tuple[Array, Array]:
    """Analyse trials over years: level by year is what a difference is held against.

    Parameters
    ----------
    levels : (trial, year, level) float
        Means of each level in each year.

    Returns
    -------
    reach : (trial,) float
        Half the width of the 95 % interval of a difference of two levels; the least significant
        difference is the same.
    means : (trial, level) float
        Over the years.
    """
    years, count = levels.shape[1:]
    means = levels.mean(axis=1)
    left = levels - levels.mean(axis=2, keepdims=True) - means[:, None]
    left += levels.mean(axis=(1, 2))[:, None, None]
    freedom = (years - 1) * (count - 1)
    square = (left**2).sum(axis=(1, 2)) / freedom
    return quantile_of_t(freedom) * np.sqrt(2.0 * square / years), means


def quantile_of_t(freedom: int) -> float:
    """Return Student's t that is exceeded, on either side, with the chance `SIGNIFICANT`."""
    return float(stats.t.ppf(1.0 - SIGNIFICANT / 2.0, freedom))


def _summed_up(shown: Shown, difference: float, longrun: Array) -> Chance:
    noise, reach = np.concatenate(shown.noise), np.concatenate(shown.reach)
    best, chosen = int(longrun.argmax()), np.concatenate(shown.chosen)
    true = np.array([longrun[i] - longrun[j] for i, j in pairs(shown.factor, len(longrun))])
    way = np.where(true < 0.0, -1.0, 1.0)
    by_pair = (np.abs(true) + way * noise > reach[:, None]).mean(axis=0)
    # either level of a pair may be the better one
    needed = np.concatenate([reach[:, None] - noise, reach[:, None] + noise])
    return Chance(
        factor=shown.factor,
        blocks=shown.blocks,
        years=shown.years,
        seen=float((needed < difference).mean()),
        seen_by_pair=tuple(by_pair.tolist()),
        reach=float(reach.mean()),
        smallest=max(float(np.quantile(needed, PROMISED)), 0.0),
        wrong=float((chosen != best).mean()),
        wrong_by=float((longrun[best] - longrun[chosen] >= difference).mean()),
    )


def years_needed(found: Sequence[Chance], factor: str, blocks: int) -> int | None:
    """Return the fewest years with which a difference is seen as often as promised; None if none.

    Parameters
    ----------
    found : sequence of Chance
        From `run`.
    factor : str
    blocks : int
    """
    enough = [
        one.years
        for one in found
        if one.factor == factor and one.blocks == blocks and one.seen >= PROMISED
    ]
    return min(enough, default=None)
