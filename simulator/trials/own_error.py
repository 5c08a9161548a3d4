"""How far off the model is in a user's own fields: from plots that a fit had not seen."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from simulator.parameters.model_error import LEVEL, PROMISES, ModelError

Array = np.ndarray[Any, Any]

# The shipped set counts as much as so many site-seasons of one's own: a judgement, no source.
# Eight are what a trial of four years at two sites has.
HELD = 8.0
FIGURES = 3  # digits after the point


def votes(season: Array) -> Array:
    """Return weights by which each site-season counts once.

    Parameters
    ----------
    season : array of str (row,)
    """
    _, at, count = np.unique(season, return_inverse=True, return_counts=True)
    weights: Array = 1.0 / count[at]
    return weights


def quantile(sizes: Array, weights: Array, share: float) -> float:
    """Return the smallest of the sizes that a share of the weights does not go beyond."""
    order = np.argsort(sizes, kind="stable")
    reached = np.cumsum(weights[order]) / weights.sum()
    at = int(np.searchsorted(reached, share - 1e-9))
    return float(sizes[order[min(at, sizes.size - 1)]])


def reaches(sizes: Array, weights: Array) -> dict[str, float]:
    """Return the reaches of a set by name, ``within_10`` and on.

    They are rounded up, so that the error that a reach was taken from lies within it.
    """
    step = 10.0**FIGURES
    return {
        f"within_{100 * share:.0f}": math.ceil(quantile(sizes, weights, share) * step) / step
        for share in PROMISES
    }


def common_share(off: Array, weights: Array, season: Array) -> float:
    """Return the share of the mean square that the rows of a site-season have in common.

    What is a plot's own is the variance within site-seasons of two rows and more, in the mean of
    these; where there is none, nothing is.
    """
    spreads = pd.Series(off).groupby(season).var().dropna()
    within = spreads.mean() if len(spreads) else 0.0
    return float(np.clip(1.0 - within / np.average(off**2, weights=weights), 0.0, 1.0))


def own_error(
    simulated: Array,
    observed: Array,
    site: Sequence[str],
    year: Sequence[int],
    shipped: ModelError = LEVEL,
) -> ModelError:
    """Return how far off the model is in one's own fields, drawn towards the shipped set.

    Own errors count by their site-seasons, the shipped set as `HELD` of them: squares of the
    reaches, and of the root mean square error, are averaged by these weights. So a few plots move
    the set a little, and twenty site-seasons make most of it.

    Parameters
    ----------
    simulated : array (row,)
        Biomass as foretold by a fit that had not seen the row [kg/ha]; NaN where there is none.
    observed : array (row,)
        [kg/ha].
    site, year : sequence (row,)
        Where and in which fall year.
    shipped : ModelError

    Returns
    -------
    ModelError
        `shipped` where no row was foretold.
    """
    known = np.isfinite(simulated) & np.isfinite(observed)
    if not known.any():
        return shipped
    simulated, observed, place = (one[known] for one in (simulated, observed, np.array(site)))
    season = np.array([f"{where} {when}" for where, when in zip(site, year, strict=True)])[known]
    weights = votes(season)
    off = np.log((observed + shipped.offset) / (simulated + shipped.offset))
    own = reaches(np.abs(off), weights)
    own["rmse"] = math.sqrt(np.average((observed - simulated) ** 2, weights=weights))
    seasons = float(np.unique(season).size)
    share = seasons / (seasons + HELD)
    mixed: dict[str, Any] = {
        name: round(
            math.sqrt(share * value**2 + (1.0 - share) * getattr(shipped, name) ** 2),
            1 if name == "rmse" else FIGURES + 1,
        )
        for name, value in own.items()
    }
    of_plots = common_share(off, weights, season)
    return replace(
        shipped,
        source="plots that a fit had not seen, drawn towards the shipped set",
        **mixed,
        common=round(share * of_plots + (1.0 - share) * shipped.common, 2),
        seasons=shipped.seasons + seasons,
        places=shipped.places + float(np.unique(place).size),
    )
