"""Shares of a whole among the pieces that made it together, by Shapley's value."""

from __future__ import annotations

from math import factorial
from typing import Any

import numpy as np

Array = np.ndarray[Any, np.dtype[np.float64]]


def shapley(worth: Array) -> Array:
    """Share out what pieces are worth together, exactly.

    Each piece gets the mean of what it adds, over all orders in which the pieces could join.

    Parameters
    ----------
    worth : array (2**pieces, ...)
        Of every set of pieces; in place ``k`` that of the pieces whose bits are set in ``k``.

    Returns
    -------
    array (pieces, ...)
        Sums over pieces to ``worth[-1] - worth[0]``; a piece that never adds anything gets
        exactly 0.

    Raises
    ------
    ValueError
        The number of sets is no power of two.

    References
    ----------
    Shapley (1953), A value for n-person games, Annals of Mathematics Studies 28: 307-317.
    """
    pieces = worth.shape[0].bit_length() - 1
    if worth.shape[0] != 2**pieces:
        raise ValueError(f"{worth.shape[0]} sets of pieces are no power of two.")
    sets = np.arange(2**pieces)
    shares = np.empty((pieces, *worth.shape[1:]))
    for piece in range(pieces):
        without = sets[sets >> piece & 1 == 0]
        sizes = [int(one).bit_count() for one in without]
        weights = [factorial(k) * factorial(pieces - k - 1) / factorial(pieces) for k in sizes]
        added = worth[without | 1 << piece] - worth[without]
        shares[piece] = np.tensordot(weights, added, axes=1)
    return shares
