"""Sobol indices of a function, and how surely they are known."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import stats

from simulator.problems import Parameter, fault

Array = np.ndarray[Any, Any]
MOST_SAMPLES = 8192
WITHIN = 0.90  # confidence of the intervals
_DRAWS = 200


@dataclass(frozen=True, slots=True)
class Indices:
    """Sobol indices.

    Parameters
    ----------
    first, total : array (outcome, parameter)
        Share of an outcome's variance that a parameter explains alone, and with all in which it
        takes part. NaN where the outcome does not vary.
    first_within, total_within : array (outcome, parameter, 2)
        90 percent bootstrap intervals.
    """

    first: Array
    total: Array
    first_within: Array
    total_within: Array


def check_samples(samples: int) -> None:
    """Refuse a number of samples that is no power of two from 2 to 8192.

    Raises
    ------
    InputError
    """
    if not 2 <= samples <= MOST_SAMPLES or samples & (samples - 1):
        raise fault(
            Parameter("samples"),
            f"{samples} is no power of two from 2 to {MOST_SAMPLES}.",
            "Take 128, 256, 512 or 1024.",
        )


def indices(
    outcomes: Callable[[Array], Array],
    ranges: Sequence[tuple[float, float]],
    *,
    samples: int,
    seed: int = 1,
) -> Indices:
    """Estimate Sobol indices of a function over evenly spread arguments.

    Parameters
    ----------
    outcomes : callable
        Takes an array (parameter, set), returns an array (outcome, set).
    ranges : sequence of (float, float)
        Of each parameter.
    samples : int
        A power of two; the function is asked for samples x (parameters + 2) sets.
    seed : int

    Raises
    ------
    InputError
        As `check_samples`.

    References
    ----------
    Saltelli et al. (2010), Comput. Phys. Commun. 181:259-270; Sobol (2001), Math. Comput. Simul.
    55:271-280.
    """
    check_samples(samples)
    random = np.random.default_rng(seed)
    low = np.array([[one] for one, _ in ranges])
    span = np.array([[one] for _, one in ranges]) - low
    count = len(ranges)
    spots = stats.qmc.Sobol(2 * count, rng=random).random(samples).T
    first, second = low + span * spots[:count], low + span * spots[count:]
    # the first sample, each parameter in turn from the second: Saltelli et al., table 2
    mixed = np.repeat(first[:, None, :], count, axis=1)
    mixed[np.arange(count), np.arange(count)] = second
    found = outcomes(np.concatenate([first, second, mixed.reshape(count, -1)], axis=1))
    of_first, of_second, of_mixed = np.split(found, [samples, 2 * samples], axis=1)
    of_mixed = np.moveaxis(of_mixed.reshape(len(found), count, samples), 1, 0)

    def estimate(drawn: Array) -> Array:
        made = stats.sobol_indices(
            n=samples,
            func={
                "f_A": of_first[:, drawn],
                "f_B": of_second[:, drawn],
                "f_AB": of_mixed[..., drawn],
            },
        )
        both = made.first_order, made.total_order  # without the axes that have a single place
        return np.stack([np.reshape(one, (len(found), -1)) for one in both])

    with np.errstate(divide="ignore", invalid="ignore"):  # an outcome that does not vary
        best = estimate(np.arange(samples))
        drawn = [estimate(random.integers(0, samples, samples)) for _ in range(_DRAWS)]
    tail = 50.0 * (1.0 - WITHIN)
    within = np.moveaxis(np.percentile(drawn, [tail, 100.0 - tail], axis=0), 0, -1)
    constant = np.ptp(found, axis=1) == 0.0
    best[:, constant] = within[:, constant] = np.nan
    return Indices(best[0], best[1], within[0], within[1])
