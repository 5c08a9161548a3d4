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

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simulator.trials.analysis.layout import Layout

Array = NDArray[np.float64]
TINY = 1e-9  # of the largest eigenvalue or pivot: what is smaller is none
MOST_TOGETHER = 3  # treatments in an interaction
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


# --- terms ---


@dataclass(frozen=True, slots=True)
class Term:
    """One line of the analysis of variance.

    Parameters
    ----------
    factors : tuple of str
    stratum : str
        Where it is tested.
    df : int
    squares : float
        Sum of squares.
    error_df : float
    error_mean_square : float
    f, p : float
        NaN where there is no error to test by.
    over_years : bool
        Tested by how it differs between site-years.
    with_years : bool
        It is how the treatment differs between site-years.
    """

    factors: tuple[str, ...]
    stratum: str
    df: int
    squares: float
    error_df: float
    error_mean_square: float
    f: float
    p: float
    over_years: bool = False
    with_years: bool = False

    @property
    def mean_square(self) -> float:
        """Sum of squares by degree of freedom."""
        return self.squares / self.df


def design(layout: Layout) -> dict[tuple[int, ...], Array]:
    """Code every main effect and interaction of the treatments over the cells.

    Levels are coded as deviations from their mean; the plots without nitrogen stand at 0 for the
    kind and time of it.

    Returns
    -------
    dict
        Places of treatments -> array (cell, column).
    """
    main: list[Array] = []
    for at, one in enumerate(layout.factors):
        code = layout.cells[:, at]
        levels = [level for level in range(len(one.levels)) if level != one.control]
        columns = (code[:, None] == np.array(levels[:-1])).astype(float)
        columns -= (code == levels[-1])[:, None]
        main.append(columns)
    coded: dict[tuple[int, ...], Array] = {}
    for size in range(1, MOST_TOGETHER + 1):
        for places in combinations(range(len(main)), size):
            columns = np.ones((len(layout.cells), 1))
            for place in places:
                columns = (columns[:, :, None] * main[place][:, None, :]).reshape(
                    len(layout.cells), -1
                )
            coded[places] = columns
    return coded


def explained(columns: Array, information: Array, totals: Array) -> tuple[float, int]:
    """Return the sum of squares that columns explain, and their rank."""
    if not columns.size:
        return 0.0, 0
    normal, right = columns.T @ information @ columns, columns.T @ totals
    values, vectors = np.linalg.eigh(normal)
    largest = float(np.abs(information).max()) * float((columns**2).sum(axis=0).max())
    kept = values > 1e-8 * max(largest, 1e-300)
    along = vectors[:, kept].T @ right
    return float((along**2 / values[kept]).sum()), int(kept.sum())


def of_term(
    term: tuple[int, ...], coded: dict[tuple[int, ...], Array], information: Array, totals: Array
) -> tuple[float, int]:
    """Return a term's sum of squares and degrees of freedom, others that lack it taken out.

    References
    ----------
    The second of Yates's (1934) ways with unequal numbers, J. Am. Stat. Assoc. 29:51-66: each
    term is adjusted for all that do not contain it.
    """
    others = [
        columns for key, columns in coded.items() if not set(term) <= set(key) and columns.size
    ]
    base = np.hstack(others) if others else np.empty((len(totals), 0))
    without, rank = explained(base, information, totals)
    with_it, rank_with = explained(np.hstack([base, coded[term]]), information, totals)
    return max(with_it - without, 0.0), rank_with - rank


def pooled_errors(envs: Sequence[OneEnv]) -> dict[str, tuple[float, int]]:
    """Add up the errors of each stratum over site-years: sum of squares and its freedom."""
    pooled: dict[str, tuple[float, int]] = {}
    for one in envs:
        for stratum in one.strata:
            squares, df = pooled.get(stratum.name, (0.0, 0))
            pooled[stratum.name] = squares + stratum.error, df + stratum.df
    return pooled


def analysis_of_variance(layout: Layout, envs: Sequence[OneEnv], *, random: bool) -> list[Term]:
    """Test every main effect and interaction.

    Parameters
    ----------
    layout : Layout
    envs : sequence of OneEnv
        Those that count.
    random : bool
        Judge each by how it differs between site-years, rather than by the plots' spread.

    Returns
    -------
    list of Term
        For each term and stratum that holds some of it, what it does on average; with several
        site-years also how that differs between them, judged by the plots' spread.
    """
    coded = design(layout)
    errors = pooled_errors(envs)
    found = []
    for places in coded:
        names = tuple(layout.factors[place].name for place in places)
        for name in errors:
            strata = [s for one in envs for s in one.strata if s.name == name]
            information = np.sum([s.information for s in strata], axis=0)
            totals = np.sum([s.totals for s in strata], axis=0)
            squares, df = of_term(places, coded, information, totals)
            if not df:
                continue
            error, error_df = errors[name]
            each = [of_term(places, coded, s.information, s.totals) for s in strata]
            differing = max(sum(one for one, _ in each) - squares, 0.0)
            differing_df = sum(rank for _, rank in each) - df
            by_years = len(envs) > 1 and differing_df > 0
            if random and by_years:
                found.append(_term(names, name, df, squares, differing, differing_df, True, False))
            else:
                found.append(_term(names, name, df, squares, error, error_df, False, False))
            if by_years:
                found.append(
                    _term(names, name, differing_df, differing, error, error_df, False, True)
                )
    return found


def _term(
    names: tuple[str, ...],
    stratum: str,
    df: int,
    squares: float,
    error: float,
    error_df: int,
    over_years: bool,
    with_years: bool,
) -> Term:
    from scipy.stats import f as f_distribution

    mean_square = error / error_df if error_df else np.nan
    f = squares / df / mean_square if error_df and mean_square > 0 else np.nan
    p = float(f_distribution.sf(f, df, error_df)) if np.isfinite(f) else np.nan
    return Term(
        names, stratum, df, squares, error_df, mean_square, float(f), p, over_years, with_years
    )
