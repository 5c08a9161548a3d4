"""Wet and dry days as a Markov chain: its order, its probabilities, its run.

A chain of order k knows the last k days. Its state is the whole number whose lowest bit is
yesterday, the next the day before, and so on, 1 for wet: of order 2, state 1 is dry then wet.

References
----------
Katz RW (1977) Precipitation as a chain-dependent process. J. Appl. Meteorol. 16:671-676.
Katz RW (1981) On some criteria for estimating the order of a Markov chain. Technometrics
23:243-249.
Richardson CW (1981) Stochastic simulation of daily precipitation, temperature, and solar
radiation. Water Resour. Res. 17:182-190.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.process.compiled import compiled

if TYPE_CHECKING:
    from numpy.typing import NDArray

HIGHEST_ORDER = 3


def wet_days(probabilities: NDArray[np.float64], chance: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Run the chain.

    Parameters
    ----------
    probabilities : ndarray, shape (states, days)
        Probability that the day is wet after each state [0-1]; of order 1, after a dry day (p01)
        and after a wet one (p11).
    chance : ndarray, shape (days,)
        Independent uniform draws [0-1).

    Returns
    -------
    ndarray of bool, shape (days,)
        True on wet days. The first is drawn from the chain's own long-run states.

    References
    ----------
    Richardson (1981), section on precipitation; Katz (1977).
    """
    states = len(probabilities)
    # bit s of a day's code: would the day be wet after state s?
    code = np.zeros(chance.size, dtype=np.int64)
    for state, probability in enumerate(probabilities):
        code |= (chance < probability).astype(np.int64) << state
    # wet ends first, so that of order 1 the first day is wet below the chain's wet fraction
    ends = sorted(range(states), key=lambda state: state & 1, reverse=True)
    begun = np.cumsum(long_run(probabilities[:, :1])[ends, 0])
    state = ends[min(int(np.searchsorted(begun, chance[0], side="right")), states - 1)]
    wet = np.empty(code.size, dtype=np.bool_)
    wet[0] = state & 1 if states > 1 else code[0]
    _run(code, state, states, wet)
    return wet


@compiled
def _run(code: Any, state: int, states: int, wet: Any) -> None:
    """Go from day to day: what a day's code, (days,), answers to the state is the day's weather."""
    for day in range(1, len(code)):
        now = code[day] >> state & 1
        state = (state << 1 | now) & (states - 1)
        wet[day] = now == 1


def long_run(probabilities: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how often each state is met in the long run, as if each day's chain went on.

    Parameters
    ----------
    probabilities : ndarray, shape (states, days)

    Returns
    -------
    ndarray, shape (states, days)
    """
    states, days = probabilities.shape
    if states == 1:
        return np.ones((1, days))
    if states == 2:
        wet = probabilities[0] / (1.0 + probabilities[0] - probabilities[1])
        return np.stack([1.0 - wet, wet])
    # balance of each state, the last of them replaced by: all add up to 1
    balance = np.zeros((days, states, states))
    for state in range(states):
        after = state << 1 & (states - 1)
        balance[:, after | 1, state] += probabilities[state]
        balance[:, after, state] += 1.0 - probabilities[state]
    balance -= np.eye(states)
    balance[:, -1] = 1.0
    total = np.zeros((days, states, 1))
    total[:, -1] = 1.0
    found: NDArray[np.float64] = np.linalg.solve(balance, total)[..., 0].T.astype(np.float64)
    return found


def wet_fraction(probabilities: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the long-run fraction of wet days; of order 1, p01 / (1 + p01 - p11)."""
    if len(probabilities) == 1:
        only: NDArray[np.float64] = probabilities[0]
        return only
    fraction: NDArray[np.float64] = long_run(probabilities)[1::2].sum(axis=0)
    return fraction


def shift_odds(
    probabilities: NDArray[np.float64],
    step: NDArray[np.float64] | float,
    days: NDArray[np.int64] | slice = slice(None),
) -> NDArray[np.float64]:
    """Add a step to the logarithm of the odds of a wet day, for some days of the year."""
    from scipy.special import expit, logit

    shifted: NDArray[np.float64] = expit(logit(probabilities)[:, days] + step)
    return shifted


def states_before(wet: NDArray[np.float64], order: int) -> NDArray[np.int64]:
    """Return the state before each day; -1 where one of its days is missing.

    Parameters
    ----------
    wet : ndarray, shape (days,)
        1 wet, 0 dry, NaN missing.
    order : int
    """
    state = np.zeros(wet.size, dtype=np.int64)
    known = np.ones(wet.size, dtype=bool)
    for back in range(1, order + 1):
        before = np.concatenate([np.full(min(back, wet.size), np.nan), wet[:-back]])
        known &= ~np.isnan(before)
        state += np.nan_to_num(before).astype(np.int64) << (back - 1)
    return np.where(known, state, -1)


def transitions(
    wet: NDArray[np.float64], group: NDArray[np.int64], order: int, groups: int = 12
) -> NDArray[np.float64]:
    """Count dry and wet days after each state, in each group of days.

    Returns
    -------
    ndarray, shape (groups, states, 2)
        Days whose `HIGHEST_ORDER` days before are known, so that every order counts the same.
    """
    state = states_before(wet, order)
    use = ~np.isnan(wet) & (states_before(wet, HIGHEST_ORDER) >= 0)
    states = 2**order
    cell = (group[use] * states + state[use]) * 2 + wet[use].astype(np.int64)
    counts = np.bincount(cell, minlength=groups * states * 2).astype(float)
    return counts.reshape(groups, states, 2)


def order_criterion(wet: NDArray[np.float64], month: NDArray[np.int64]) -> list[float]:
    """Return the Bayesian information criterion of each order, 0 to `HIGHEST_ORDER`.

    Within each quarter of the year, December to February and so on, the chain is taken as the same
    from day to day and year to year; the smooth curves that a fit draws through the year have
    about as many free values. The order with the least value is the one to take.

    Parameters
    ----------
    wet : ndarray, shape (days,)
        1 wet, 0 dry, NaN missing.
    month : ndarray of int, shape (days,)
        0 to 11.

    Returns
    -------
    list of float
        -2 ln L + 2^k ln n, added up over the quarters.

    References
    ----------
    Katz (1981): a chain of s states and order k has s^k (s - 1) free probabilities; minimising
    this criterion finds the order without fail as the record grows, where Akaike's does not.
    """
    found = []
    quarter = (month + 1) % 12 // 3
    for order in range(HIGHEST_ORDER + 1):
        counts = transitions(wet, quarter, order, groups=4)
        after = counts.sum(axis=2, keepdims=True)
        with np.errstate(divide="ignore", invalid="ignore"):
            terms = np.where(counts > 0, counts * np.log(counts / after), 0.0)
        days = counts.sum(axis=(1, 2))
        cost = 2**order * np.log(np.maximum(days, 1.0))
        found.append(float((-2.0 * terms.sum(axis=(1, 2)) + cost)[days > 0].sum()))
    return found
