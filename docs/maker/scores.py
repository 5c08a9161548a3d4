"""How far off answers are, each row or each site-season counting once."""

from __future__ import annotations

from typing import Any

import numpy as np

Array = np.ndarray[Any, Any]


def weighted(rows: Array, weights: Array) -> Array:
    """Give the rows that are known their weights, which add up to 1."""
    made = np.where(np.isfinite(rows), weights, 0.0)
    total = made.sum()
    shares: Array = made / total if total > 0.0 else np.full(made.shape, np.nan)
    return shares


def mean(rows: Array, weights: Array | None = None) -> float:
    """Return the mean of the rows that are known; plain without weights."""
    own = weighted(rows, np.ones(rows.size) if weights is None else weights)
    return float(np.sum(own * np.nan_to_num(rows))) if rows.size else np.nan


def root_mean_square(rows: Array, weights: Array | None = None) -> float:
    """Return the root of the mean of squares, as `mean`."""
    return float(np.sqrt(mean(rows**2, weights)))


def spread(rows: Array, weights: Array | None = None) -> float:
    """Return the standard deviation, which is the error of the best constant."""
    return root_mean_square(rows - mean(rows, weights), weights)
