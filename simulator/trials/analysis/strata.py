"""The classical strata of an analysis of variance, by least squares, balanced or not.

Plots lie in whole plots, these in blocks, these in a site-year. In each stratum the treatments
that it holds are compared within the next larger unit: sub plots within whole plots, whole plots
within blocks, blocks within a site-year. Where all treatments meet in each block this is the
analysis of the textbooks; where plots are missing it is the within-unit (intra-block) analysis,
and means of a larger unit are those adjusted for the treatments that it lacks.

References
----------
Yates (1935), Suppl. J. R. Stat. Soc. 2:181-223 (split plots); Cochran & Cox (1957), Experimental
Designs, chapters 7, 9 and 14; McIntosh (1983), Agron. J. 75:153-155 (years together).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simulator.trials.analysis.layout import Layout

Array = NDArray[np.float64]
TINY = 1e-9  # of the largest eigenvalue or pivot: what is smaller is none
WITHIN, WHOLE, BLOCK = "plots", "whole plots", "blocks"  # strata, smallest first


@dataclass(slots=True)
class Stratum:
    """Treatments compared in one stratum of one site-year.

    Parameters
    ----------
    name : str
        Of `WITHIN`, `WHOLE`, `BLOCK`.
    information : array (cell, cell)
        Normal matrix of the treatment cells after the larger units are taken out.
    totals : array (cell,)
        Right hand side that belongs to it.
    error : float
        Sum of squares left by a mean of its own for each cell.
    df : int
        Degrees of freedom of that error.
    spread : array (cell, cell)
        Covariance of the cells' means from this stratum, for an error of 1.
    """

    name: str
    information: Array
    totals: Array
    error: float
    df: int
    spread: Array


@dataclass(slots=True)
class OneEnv:
    """A site-year analysed by itself.

    Parameters
    ----------
    present : array of bool (cell,)
        Which cells it has.
    means : array (cell,)
        Adjusted means [kg/ha]; NaN where absent.
    counts : array (cell,)
        Plots behind each.
    strata : list of Stratum
        Smallest units first.
    residuals, fitted : array (row,)
        Of single plots, within the smallest unit.
    lines : array (row,)
    """

    present: NDArray[np.bool_]
    means: Array
    counts: Array
    strata: list[Stratum] = field(default_factory=list)
    residuals: Array = field(default_factory=lambda: np.empty(0))
    fitted: Array = field(default_factory=lambda: np.empty(0))
    lines: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, np.int64))


def analyse_env(layout: Layout, env: int, y: Array | None = None) -> OneEnv:
    """Analyse one site-year, from its smallest units to its largest.

    Parameters
    ----------
    layout : Layout
    env : int
    y : array (row,), optional
        In place of the biomass of all rows of the layout, such as its logarithm.

    Returns
    -------
    OneEnv
    """
    here = (layout.rows["env"] == env).to_numpy()
    rows = layout.rows[here]
    count = len(layout.cells)
    weights = rows["plots"].to_numpy(float)
    values = (rows["y"].to_numpy(float) if y is None else y[here]).copy()
    cell = rows["cell"].to_numpy()
    found = OneEnv(
        np.bincount(cell, minlength=count) > 0,
        np.zeros(count),
        np.bincount(cell, weights=weights, minlength=count).astype(float),
    )
    centre = float(np.average(values, weights=weights))
    member = np.eye(count)  # which cells each treatment of this stratum stands for
    data = (values - centre, weights, cell)
    units = _units(layout, rows)
    inside, inside_df = float(rows["inside"].sum()), int((rows["plots"] - 1).sum())
    for at, name in enumerate([name for name, _ in units]):
        unit = units[at][1]
        y_here, w_here, treated = data
        own, larger = np.unique(unit, return_inverse=True)
        fit = _compare(y_here, w_here, treated, larger, own.size, member.shape[1])
        found.means += member @ fit.effects
        found.strata.append(
            Stratum(
                name,
                member_mean(member) @ fit.information @ member_mean(member).T,
                member_mean(member) @ fit.totals,
                fit.error + (inside if at == 0 else 0.0),
                fit.df + (inside_df if at == 0 else 0),
                member @ fit.spread @ member.T,
            )
        )
        if at == 0:
            found.residuals, found.lines = fit.residuals, rows["line"].to_numpy()
            found.fitted = values - fit.residuals
        member = member @ fit.groups
        # the larger units go on as the data of the next stratum
        first = np.unique(larger, return_index=True)[1]
        treated_next = fit.component[treated[first]]
        data = (fit.unit_means, np.full(own.size, weights.sum() / own.size), treated_next)
        units = [(n, u[first]) if i > at else (n, u) for i, (n, u) in enumerate(units)]
    found.means += centre
    found.means[~found.present] = np.nan
    return found


def member_mean(member: Array) -> Array:
    """Turn membership of cells in groups into the mean over the cells of each."""
    return np.asarray(member / np.maximum(member.sum(axis=0), 1.0))


def _units(layout: Layout, rows: pd.DataFrame) -> list[tuple[str, NDArray[np.int64]]]:
    """Name what is taken out in each stratum, smallest first."""
    everything = np.zeros(len(rows), np.int64)
    units = []
    if layout.has_whole:
        units.append((WITHIN, rows["whole"].to_numpy()))
    if layout.has_blocks:
        units.append((WHOLE if units else WITHIN, rows["block"].to_numpy()))
    units.append(((BLOCK if layout.has_blocks else WHOLE) if units else WITHIN, everything))
    return units


@dataclass(slots=True)
class _Fit:
    """Cells compared within units."""

    effects: Array
    unit_means: Array
    information: Array
    totals: Array
    spread: Array
    error: float
    df: int
    residuals: Array
    component: NDArray[np.int64]
    groups: Array


def _compare(
    y: Array,
    w: Array,
    cell: NDArray[np.int64],
    unit: NDArray[np.int64],
    units: int,
    cells: int,
) -> _Fit:
    """Fit unit and cell by least squares, the units taken out first."""
    meet = np.zeros((units, cells))
    np.add.at(meet, (unit, cell), w)
    in_unit, in_cell = meet.sum(axis=1), meet.sum(axis=0)
    of_unit = np.bincount(unit, weights=w * y, minlength=units) / in_unit
    totals = np.bincount(cell, weights=w * y, minlength=cells) - meet.T @ of_unit
    information = np.diag(in_cell) - meet.T @ (meet / in_unit[:, None])
    component, groups = _components(meet)
    spread = np.linalg.pinv(information, rcond=TINY, hermitian=True)
    effects = spread @ totals
    unit_means = np.bincount(unit, weights=w * (y - effects[cell]), minlength=units) / in_unit
    residuals = y - effects[cell] - unit_means[unit]
    treated = int((in_cell > 0).sum())
    used = groups[in_cell > 0].any(axis=0).sum()
    df = y.size - units - (treated - int(used))
    error = float((w * residuals**2).sum()) if df else 0.0
    return _Fit(
        effects,
        unit_means,
        information,
        totals,
        spread,
        error,
        df,
        residuals,
        component,
        groups,
    )


def _components(meet: Array) -> tuple[NDArray[np.int64], Array]:
    """Group cells that can be compared within units; a cell that is absent is a group alone."""
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import connected_components

    together = csr_matrix(meet.T @ meet > 0)
    count, label = connected_components(together, directed=False)
    return label.astype(np.int64), np.eye(count)[label]
