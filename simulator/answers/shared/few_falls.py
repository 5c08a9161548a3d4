"""What few falls allow to be said: intervals of shares, quantiles with weights, bands, scores."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

FEWEST, FEW = 5, 10  # falls: under the first no chance is given, under the second a warning

Values = NDArray[Any]

CONFIDENCE = 0.95  # of the intervals of shares
BAND = 0.8  # share of seasons that a band is to hold


def wilson(share: float, falls: float, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Interval of a binomial share, by Wilson's score.

    Parameters
    ----------
    share : float
        0 to 1.
    falls : float
        How many it rests on; an effective number where they are weighted.
    confidence : float

    Returns
    -------
    low, high : float
        NaN without falls.

    References
    ----------
    Wilson (1927), J. Am. Stat. Assoc. 22:209-212. For weights the effective number of Kish
    (1965), Survey Sampling, takes the place of the number.
    """
    if not falls > 0 or not np.isfinite(share):
        return float("nan"), float("nan")
    z = NormalDist().inv_cdf(0.5 + confidence / 2)
    middle = share + z * z / (2 * falls)
    reach = z * sqrt(share * (1 - share) / falls + z * z / (4 * falls * falls))
    low, high = ((middle + side * reach) / (1 + z * z / falls) for side in (-1, 1))
    # exact at the ends, where rounding would leave a trace
    return 0.0 if share <= 0.0 else max(low, 0.0), 1.0 if share >= 1.0 else min(high, 1.0)


def effective_number(weights: Values) -> float:
    """Return how many equal weights would say as much: (sum w)^2 / sum w^2 (Kish 1965)."""
    squares = float((weights**2).sum())
    return float(weights.sum()) ** 2 / squares if squares > 0 else 0.0


def weighted_quantiles(values: Values, weights: Values, levels: Sequence[float]) -> Values:
    """Quantiles of weighted values; with equal weights those of `numpy.quantile`.

    Values stand at the middles of their weights, stretched so that the lowest is at 0 and the
    highest at 1; between them lies a straight line.

    Parameters
    ----------
    values, weights : (n,) float
        Values without weight count for nothing.
    levels : sequence of float
        0 to 1.

    Returns
    -------
    (level,) float
        NaN without values.
    """
    kept = weights > 0
    values, weights = values[kept], weights[kept]
    if not values.size:
        return np.full(len(levels), np.nan)
    order = np.argsort(values, kind="stable")
    middles = np.cumsum(weights[order]) - 0.5 * weights[order]
    span = middles[-1] - middles[0]
    places = (middles - middles[0]) / span if span > 0 else np.zeros(1)
    return np.interp(levels, places, values[order])


def band(values: Values, axis: int = -1) -> tuple[Values, Values, Values]:
    """Lower end, median and upper end of the band that is to hold 8 of 10 seasons.

    The k-th of n values stands at k / (n + 1), so that a further season, drawn as the n were,
    lies inside with a chance of 0.8; under nine values the band is their whole range.

    Parameters
    ----------
    values : array
    axis : int

    Returns
    -------
    low, median, high : array

    References
    ----------
    Weibull's plotting position; definition 6 of Hyndman and Fan (1996), Am. Stat. 50:361-365.
    """
    levels = [0.5 - BAND / 2, 0.5, 0.5 + BAND / 2]
    low, median, high = np.quantile(values, levels, axis=axis, method="weibull")
    return low, median, high


def crps(members: Values, happened: Values) -> Values:
    """Continuous ranked probability score of ensembles, in the unit of the values; 0 is perfect.

    Parameters
    ----------
    members : array (..., member)
    happened : array (...)

    Returns
    -------
    array (...)

    References
    ----------
    Gneiting and Raftery (2007), J. Am. Stat. Assoc. 102:359-378, eq. 21, for the empirical
    distribution: E|X - y| - E|X - X'| / 2.
    """
    ordered = np.sort(members, axis=-1)
    n = ordered.shape[-1]
    missed = np.abs(ordered - np.asarray(happened)[..., None]).mean(axis=-1)
    ranks = 2.0 * np.arange(1, n + 1) - n - 1.0
    return np.asarray(missed - (ranks * ordered).sum(axis=-1) / n**2)
