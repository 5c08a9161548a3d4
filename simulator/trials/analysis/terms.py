"""Main effects and interactions of treatments: sums of squares, F and p, stratum by stratum."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from simulator.trials.analysis.layout import Layout
from simulator.trials.analysis.strata import OneEnv

Array = NDArray[np.float64]
MOST_TOGETHER = 3  # treatments in an interaction


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
