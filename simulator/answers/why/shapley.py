"""Shares of a whole among the pieces that made it together, by Shapley's value."""

from __future__ import annotations

from math import factorial
from typing import Any

import numpy as np

Array = np.ndarray[Any, np.dtype[np.float64]]
Whole = np.ndarray[Any, np.dtype[np.int64]]
SEED = 1953  # of the orders drawn: the same question has the same answer


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


def drawn_orders(pieces: int, number: int) -> Whole:
    """Draw orders in which pieces may join, each beside its reverse.

    An order is turned by one place for the next, so that each piece comes about as often at every
    place, and drawn anew when it has been turned all the way round.

    Parameters
    ----------
    pieces : int
    number : int
        Of orders; even.

    Returns
    -------
    array (number, pieces)
        Every second one is the reverse of the one before.
    """
    random = np.random.default_rng(SEED)
    orders = np.empty((number, pieces), dtype=np.int64)
    for at in range(number // 2):
        if at % pieces == 0:
            drawn = random.permutation(pieces)
        orders[2 * at] = np.roll(drawn, at % pieces)
        orders[2 * at + 1] = orders[2 * at, ::-1]
    return orders


def sets_along(orders: Whole) -> Whole:
    """Return the sets that pieces make while they join, from none to all.

    Parameters
    ----------
    orders : array (..., pieces)

    Returns
    -------
    array (..., pieces + 1)
        Bits are set for the pieces that have joined, as in `shapley`.
    """
    joined = np.cumsum(1 << orders, axis=-1)
    return np.concatenate([np.zeros((*orders.shape[:-1], 1), np.int64), joined], axis=-1)


def shapley_along(orders: Whole, worth: Array) -> Array:
    """Share out what pieces are worth together by some of the orders in which they could join.

    Parameters
    ----------
    orders : array (order, pieces)
    worth : array (order, pieces + 1, ...)
        Of the sets along each order, as `sets_along` has them.

    Returns
    -------
    array (pieces, ...)
        Sums over pieces to the mean over orders of what all are worth more than none; a piece
        that never adds anything gets exactly 0.

    References
    ----------
    Castro, Gomez and Tejada (2009), Polynomial calculation of the Shapley value based on
    sampling, Computers & Operations Research 36: 1726-1730. Each order beside its reverse:
    Mitchell, Cooper, Frank and Holmes (2022), Sampling permutations for Shapley value estimation,
    Journal of Machine Learning Research 23: 1-46. Both from memory.
    """
    added = np.diff(worth, axis=1)
    shares = np.zeros((orders.shape[1], *worth.shape[2:]))
    for order, steps in zip(orders, added, strict=True):
        shares[order] += steps
    return shares / len(orders)
