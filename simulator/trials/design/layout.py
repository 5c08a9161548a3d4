"""A field laid out at random: complete blocks, or split plots within them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

WIDEST = 12  # plots side by side, above which a block takes several rows
_NARROWEST = 6
_OTHERWISE = 10


@dataclass(frozen=True, slots=True)
class Plot:
    """A plot in the field.

    Parameters
    ----------
    block : int
        From 1.
    whole_plot : int
        From 1 within a block; 0 where there are none.
    plot : int
        Its number: of the third plot of block 2, 203.
    row, column : int
        Within its block, from 1.
    treatment : int
        From 1, as `treatments` counts them.
    levels : (int, int, int)
        Of sowing date, seeding rate and nitrogen rate, from 0.
    """

    block: int
    whole_plot: int
    plot: int
    row: int
    column: int
    treatment: int
    levels: tuple[int, int, int]


def treatments(levels: Sequence[int]) -> list[tuple[int, int, int]]:
    """Return every treatment in its order: the last factor runs fastest."""
    sows, seedings, nitrogens = levels
    return list(product(range(sows), range(seedings), range(nitrogens)))


def width(plots: int) -> int:
    """Return how many plots stand side by side, of so many that belong together."""
    if plots <= WIDEST:
        return plots
    even = [across for across in range(WIDEST, _NARROWEST - 1, -1) if plots % across == 0]
    return even[0] if even else _OTHERWISE


def laid_out(levels: Sequence[int], blocks: int, *, split: bool, seed: Sequence[int]) -> list[Plot]:
    """Lay a field out at random.

    Parameters
    ----------
    levels : sequence of int
        How many sowing dates, seeding rates and nitrogen rates there are.
    blocks : int
        Each has every treatment once.
    split : bool
        Sowing dates as whole plots, drawn first; within each, the rates. Otherwise every plot of
        a block is drawn for itself.
    seed : sequence of int
        The same gives the same field.

    Returns
    -------
    list of Plot
        Block by block, in the order of their numbers.
    """
    draw = np.random.default_rng(list(seed))
    all_of_them = treatments(levels)
    dates, inside = levels[0], len(all_of_them) // levels[0]
    across = width(inside if split else len(all_of_them))
    rows_each = -(-inside // across)
    hundred = 100 if len(all_of_them) < 100 else 1000
    found = []
    for block in range(1, blocks + 1):
        if split:
            order = [
                date * inside + rate
                for date in draw.permutation(dates)
                for rate in draw.permutation(inside)
            ]
        else:
            order = draw.permutation(len(all_of_them)).tolist()
        for place, treatment in enumerate(order):
            whole, within = divmod(place, inside) if split else (0, place)
            row, column = divmod(within, across)
            found.append(
                Plot(
                    block=block,
                    whole_plot=whole + 1 if split else 0,
                    plot=block * hundred + place + 1,
                    row=whole * rows_each + row + 1,
                    column=column + 1,
                    treatment=int(treatment) + 1,
                    levels=all_of_them[treatment],
                )
            )
    return found
