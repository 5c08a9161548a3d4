"""What is left of Tmax and Tmin once season and rain are taken off: carried from day to day.

References
----------
Richardson CW (1981) Stochastic simulation of daily precipitation, temperature, and solar
radiation. Water Resour. Res. 17:182-190.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.process.compiled import compiled

if TYPE_CHECKING:
    from numpy.typing import NDArray


def carried(
    same_day: NDArray[np.float64], day_before: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return what carries residuals of Tmax and Tmin to the next day, and what is added.

    Parameters
    ----------
    same_day, day_before : ndarray, shape (..., 2, 2)
        M0 and M1: correlations within a day, and with the day before.

    Returns
    -------
    carry, fresh : ndarray, shape (..., 2, 2)
        A and B of Richardson's process.

    References
    ----------
    Richardson (1981): x[t] = A x[t-1] + B e[t], A = M1 M0^-1, B B' = M0 - M1 M0^-1 M1'.
    """
    carry = day_before @ np.linalg.inv(same_day)
    left = same_day - carry @ np.swapaxes(day_before, -1, -2)
    return carry, np.linalg.cholesky(left).astype(np.float64)


def residuals(
    same_day: NDArray[np.float64],
    day_before: NDArray[np.float64],
    normal: NDArray[np.float64],
    month: NDArray[np.int64] | None = None,
) -> NDArray[np.float64]:
    """Carry standard residuals of Tmax and Tmin from day to day.

    Parameters
    ----------
    same_day, day_before : ndarray, shape (2, 2) or (12, 2, 2)
        The correlations to be kept: M0 and M1, of the year or of each month.
    normal : ndarray, shape (days, 2)
        Independent standard normal draws.
    month : ndarray of int, shape (days,), optional
        0 to 11, where the correlations are of months.

    Returns
    -------
    ndarray, shape (days, 2)
        Residuals of Tmax and Tmin, each of mean 0 and variance 1.
    """
    carry, fresh = carried(same_day, day_before)
    first = same_day
    if month is None:
        added = normal @ fresh.T
        steps = carry.reshape(1, 4)
        which = np.zeros(len(normal), dtype=np.int64)
    else:
        added = np.einsum("dij,dj->di", fresh[month], normal)
        steps = carry.reshape(12, 4)
        which = np.ascontiguousarray(month, dtype=np.int64)
        first = same_day[month[0]]
    carried_on = np.ascontiguousarray(added)
    carried_on[0] = np.linalg.cholesky(first) @ normal[0]
    _carry_on(steps, which, carried_on)
    return carried_on


@compiled
def _carry_on(steps: Any, which: Any, days: Any) -> None:
    """Add to each day, (days, 2), what the day before hands on by A, (steps, 4)."""
    for day in range(1, len(days)):
        at = which[day]
        high, low = days[day - 1, 0], days[day - 1, 1]
        days[day, 0] = steps[at, 0] * high + steps[at, 1] * low + days[day, 0]
        days[day, 1] = steps[at, 2] * high + steps[at, 3] * low + days[day, 1]


def skewed(normal: NDArray[np.float64], skew: NDArray[np.float64]) -> NDArray[np.float64]:
    """Lean standard normal residuals to one side, keeping mean 0 and variance 1.

    Parameters
    ----------
    normal : ndarray
        Standard normal values.
    skew : ndarray
        Skewness wanted, -0.8 to 0.8; reached to first order.

    Returns
    -------
    ndarray
        x + g (x^2 - 1) / 6, over its standard deviation.

    References
    ----------
    Cornish EA, Fisher RA (1938) Moments and cumulants in the specification of distributions.
    Rev. Int. Stat. Inst. 5:307-320, the term in skewness.
    """
    bend = skew / 6.0
    leaned: NDArray[np.float64] = (normal + bend * (normal**2 - 1.0)) / np.sqrt(1.0 + 2.0 * bend**2)
    return leaned
