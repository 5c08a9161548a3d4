"""Means of treatments, differences between them, and how sure both are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from simulator.trials.analysis.layout import Layout
from simulator.trials.analysis.strata import OneEnv, analyse_env
from simulator.trials.analysis.terms import Term, analysis_of_variance, design, pooled_errors

Array = NDArray[np.float64]
FEWEST_RANDOM = 3  # site-years from which on others like them are spoken of
SURE = 0.95
FEWEST_DEGREES = 2.0  # under which the studentized range is not reckoned
POOLED_ABOVE = 0.25  # chance from which on a difference shares the error of its treatment
Seasons = Literal["random", "fixed"]


@dataclass(frozen=True, slots=True)
class Difference:
    """A difference or mean [kg/ha], its standard error and an interval of 95 percent.

    Parameters
    ----------
    value, error, df : float
    low, high : float
        NaN where nothing says how sure it is.
    p : float
    """

    value: float
    error: float
    df: float
    low: float
    high: float
    p: float


@dataclass
class Analysis:
    """A trial analysed.

    Parameters
    ----------
    layout : Layout
    envs : list of OneEnv
        Each site-year by itself.
    which : list of int
        Their numbers in the layout.
    seasons : {"random", "fixed"}
        Whether site-years stand for others.
    terms : list of Term
    mixed : tuple of array, optional
        Means of cells and their covariance from a mixed model.
    """

    layout: Layout
    envs: list[OneEnv]
    which: list[int]
    seasons: Seasons
    terms: list[Term] = field(default_factory=list)
    mixed: tuple[Array, Array] | None = None

    @cached_property
    def table(self) -> Array:
        """Adjusted mean of each cell in each site-year; NaN where it has none."""
        return np.stack([one.means for one in self.envs])

    @cached_property
    def present(self) -> NDArray[np.bool_]:
        """Cells that occur."""
        return np.asarray(np.isfinite(self.table).any(axis=0))

    @cached_property
    def filled(self) -> Array:
        """The table with what a site-year lacks put in, as its level and the cell's have it."""
        known = np.isfinite(self.table)
        full = np.where(known, self.table, 0.0)
        if known[:, self.present].all():
            return full
        level = np.zeros(len(full))
        cell = np.zeros(full.shape[1])
        for _ in range(200):
            gone = np.where(known, full - cell, 0.0).sum(axis=1) / known.sum(axis=1)
            left = np.where(known, full - gone[:, None], 0.0)
            cell = left.sum(axis=0) / np.maximum(known.sum(axis=0), 1)
            if np.abs(gone - level).max() < 1e-9 * (1 + np.abs(gone).max()):
                break
            level = gone
        return np.where(known, full, level[:, None] + cell)

    @cached_property
    def means(self) -> Array:
        """Mean of each cell over site-years [kg/ha]."""
        return self.filled.mean(axis=0) if self.mixed is None else self.mixed[0]

    @cached_property
    def errors(self) -> dict[str, tuple[float, int]]:
        """Error of each stratum: sum of squares and degrees of freedom."""
        return pooled_errors(self.envs)

    @cached_property
    def _spread(self) -> list[tuple[Array, float, float]]:
        """Covariance of cells for an error of 1, mean square and freedom, by stratum."""
        found = []
        for name, (squares, df) in self.errors.items():
            information = np.sum(
                [s.information for one in self.envs for s in one.strata if s.name == name], axis=0
            )
            spread = np.linalg.pinv(information, rcond=1e-9, hermitian=True)
            found.append((spread, squares / df if df else np.nan, float(df)))
        return found

    @cached_property
    def _parts(self) -> list[tuple[Array, float, float]]:
        """Space of each term over the cells, mean square of how it differs by year, freedom."""
        here = self.present
        count = len(self.envs)
        centred = self.filled[:, here] - self.filled[:, here].mean(axis=0)
        missing = int((~np.isfinite(self.table[:, here])).sum())
        coded = design(self.layout)
        basis = np.ones((int(here.sum()), 1)) / np.sqrt(here.sum())
        found: list[tuple[Array, float, float]] = []
        spaces = [columns[here] for columns in coded.values()]
        spaces.append(np.eye(int(here.sum())))
        total = int(here.sum()) - 1
        for columns in spaces:
            own = columns - basis @ (basis.T @ columns)
            vectors, sizes, _ = np.linalg.svd(own, full_matrices=False)
            vectors = vectors[:, sizes > 1e-8 * max(1.0, float(np.abs(columns).max()))]
            if not vectors.shape[1]:
                continue
            basis = np.hstack([basis, vectors])
            df = vectors.shape[1] * (count - 1) - missing * vectors.shape[1] / total
            squares = float(((centred @ vectors) ** 2).sum())
            found.append((vectors, squares / df if df > 0 else np.nan, df))
        return found

    def variance(self, contrast: Array, *, shared: bool = False) -> tuple[float, float]:
        """Return the variance of a difference between cells, and its degrees of freedom.

        Parameters
        ----------
        contrast : array (cell,)
        shared : bool
            By the error that all levels of a treatment share, whatever single ones vary by.
        """
        variance, df = self._by_strata(contrast)
        if self.mixed is not None:  # without a repeat of a stratum no model says how sure
            own = float(contrast @ self.mixed[1] @ contrast)
            return (own if np.isfinite(df) else np.nan), df
        if shared or self.seasons != "random" or not np.isfinite(variance):
            return variance, df
        return self._own_or_pooled(contrast[self.present], variance, df)

    def _by_strata(self, contrast: Array) -> tuple[float, float]:
        own = contrast[self.present]
        if self.seasons == "random":
            parts = [
                (float(((own @ vectors) ** 2).sum()) * square / len(self.envs), df)
                for vectors, square, df in self._parts
                if ((own @ vectors) ** 2).sum() > 1e-10 * (own @ own)
            ]
        else:
            parts = [
                (float(contrast @ spread @ contrast) * square, df)
                for spread, square, df in self._spread
                if contrast @ spread @ contrast
                > 1e-12 * (contrast @ contrast) * np.abs(spread).max()
            ]
        total = sum(one for one, _ in parts)
        if not parts or not np.isfinite(total) or total <= 0:
            return np.nan, np.nan
        # Satterthwaite (1946), Biometrics Bull. 2:110-114
        return total, total**2 / sum(one**2 / df for one, df in parts if df > 0)

    def _own_or_pooled(self, contrast: Array, pooled: float, df: float) -> tuple[float, float]:
        """Take how a difference itself varies between years, where all do not vary alike.

        What a high rate brings varies more between years than what a low one does: a difference
        between rates has its own error, with a degree of freedom for each year but one. Others
        have it where it is clearly more than the shared one, at a level of 25 percent as Bozivich,
        Bancroft & Hartley (1956), Ann. Math. Stat. 27:1017-1043, advise (from memory).
        """
        from scipy.stats import f

        table = self.table[:, self.present]
        whole = np.isfinite(table[:, contrast != 0.0]).all(axis=1)
        count = int(whole.sum())
        if count < min(FEWEST_RANDOM, len(self.envs)):
            return pooled, df
        own = float((np.nan_to_num(table[whole]) @ contrast).var(ddof=1)) / len(self.envs)
        if not own > 0:
            return pooled, df
        if self._between_rates(contrast):
            return own, count - 1.0
        more = own > pooled and f.sf(own / pooled, count - 1, df) < POOLED_ABOVE
        return (own, count - 1.0) if more else (pooled, df)

    def _between_rates(self, contrast: Array) -> bool:
        """Say whether a difference is one between rates, in most of it."""
        cells = self.layout.cells[self.present]
        across = 0.0
        for at, factor in enumerate(self.layout.factors):
            if factor.kind == "rate":
                sums = np.bincount(cells[:, at], weights=contrast)
                across = max(across, float(np.abs(sums).sum()))
        return across > 0.5 * float(np.abs(contrast).sum())

    def difference(self, contrast: Array) -> Difference:
        """Estimate a difference between cells."""
        from scipy.stats import t

        value = float(contrast @ np.nan_to_num(self.means))
        variance, df = self.variance(contrast)
        if not np.isfinite(variance):
            return Difference(value, np.nan, np.nan, np.nan, np.nan, np.nan)
        error = float(np.sqrt(variance))
        reach = float(t.ppf(0.5 + SURE / 2, df)) * error
        p = float(2 * t.sf(abs(value) / error, df))
        return Difference(value, error, df, value - reach, value + reach, p)

    def weights(self, places: Sequence[int], levels: Sequence[int]) -> Array:
        """Return what each cell counts in the mean of some levels, others averaged over evenly."""
        return level_weights(self.layout, self.present, places, levels)

    def level_means(self, places: Sequence[int]) -> list[tuple[tuple[int, ...], Difference, float]]:
        """Return the mean of each combination of levels of some treatments.

        Returns
        -------
        list of (levels, Difference, plots)
            The standard error is that for comparing these means with each other: the error of a
            difference over the root of 2.
        """
        here = self.present
        cells = self.layout.cells[here][:, list(places)]
        controls = [self.layout.factors[place].control for place in places]
        wanted = [
            tuple(map(int, one))
            for one in np.unique(cells, axis=0)
            if len(places) > 1 or one[0] != controls[0]
        ]
        each = np.stack([self.weights(places, levels) for levels in wanted])
        common = each.mean(axis=0)
        counts = np.sum([one.counts for one in self.envs], axis=0)
        share = len(wanted) / max(len(wanted) - 1, 1)
        found = []
        for levels, weight in zip(wanted, each, strict=True):
            difference = self.difference(weight - common)
            error = difference.error * np.sqrt(share)
            value = float(weight @ np.nan_to_num(self.means))
            reach = error * _t(difference.df)
            mean = Difference(value, error, difference.df, value - reach, value + reach, np.nan)
            found.append((levels, mean, float(counts[self._has(places, levels)].sum())))
        return found

    def _has(self, places: Sequence[int], levels: Sequence[int]) -> NDArray[np.bool_]:
        match = self.layout.cells[:, list(places)] == np.array(levels)
        return np.asarray(match.all(axis=1) & self.present)

    def largest(self, place: int) -> tuple[int, int, Difference]:
        """Return the levels that a sentence sets against each other, and their difference.

        Of rates these are the highest and the lowest, whichever has more first. Of others they
        are those that lie farthest apart; of three and more the interval and p value then allow
        for having picked the pair (Tukey).
        """
        means = self.level_means([place])
        if self.layout.factors[place].kind == "rate":
            ends = sorted((means[0], means[-1]), key=lambda one: one[1].value)
            contrast = self.weights([place], ends[1][0]) - self.weights([place], ends[0][0])
            return ends[1][0][0], ends[0][0][0], self.difference(contrast)
        high = max(means, key=lambda one: one[1].value)
        low = min(means, key=lambda one: one[1].value)
        contrast = self.weights([place], high[0]) - self.weights([place], low[0])
        difference = self.difference(contrast)
        if len(means) > 2 and np.isfinite(difference.error) and difference.error > 0:
            difference = _as_picked(difference, len(means))
        return high[0][0], low[0][0], difference


def _as_picked(difference: Difference, count: int) -> Difference:
    """Allow for having picked the farthest two of several (Tukey; Bonferroni of few degrees)."""
    from scipy.stats import studentized_range, t

    off = abs(difference.value) / difference.error
    pairs = count * (count - 1) / 2
    if difference.df >= FEWEST_DEGREES:
        times = float(studentized_range.ppf(SURE, count, difference.df)) / np.sqrt(2.0)
        p = float(studentized_range.sf(off * np.sqrt(2.0), count, difference.df))
    else:
        times = float(t.isf((1 - SURE) / 2 / pairs, difference.df))
        p = min(1.0, pairs * difference.p)
    reach = times * difference.error
    return replace(difference, low=difference.value - reach, high=difference.value + reach, p=p)


def _t(df: float) -> float:
    from scipy.stats import t

    return float(t.ppf(0.5 + SURE / 2, df)) if np.isfinite(df) and df > 0 else np.nan


def level_weights(
    layout: Layout, present: NDArray[np.bool_], places: Sequence[int], levels: Sequence[int]
) -> Array:
    """Return what each cell counts in the mean of some levels.

    The other treatments are averaged over evenly, over those combinations that all levels have met;
    over all of its own where there is none such. NaN where no cell has these levels.
    """
    cells = layout.cells
    own = (cells[:, list(places)] == np.array(levels)).all(axis=1) & present
    if not own.any():
        return np.full(len(cells), np.nan)
    # plots without nitrogen stand for every kind and time of it, so these are not matched
    controls = {at: one.control for at, one in enumerate(layout.factors) if one.control >= 0}
    rest = [at for at in range(cells.shape[1]) if at not in places and at not in controls]
    kept = own
    if rest and len(places) == 1:
        place = places[0]
        met: dict[int, set[tuple[int, ...]]] = {}
        for cell in cells[present]:
            if cell[place] != controls.get(place, -1):
                met.setdefault(int(cell[place]), set()).add(tuple(cell[rest].tolist()))
        shared = set.intersection(*met.values())
        kept = own & np.array([tuple(cell[rest].tolist()) in shared for cell in cells])
    if not kept.any():
        kept = own
    weights = kept.astype(float)
    if rest:
        _, group = np.unique(cells[:, rest], axis=0, return_inverse=True)
        weights /= np.maximum(np.bincount(group.ravel(), weights=kept)[group.ravel()], 1.0)
    return np.asarray(weights / weights.sum())


def analyse(layout: Layout, seasons: Seasons | None = None) -> Analysis:
    """Analyse a trial by its strata.

    Parameters
    ----------
    layout : Layout
    seasons : {"random", "fixed"}, optional
        Random from `FEWEST_RANDOM` site-years on.
    """
    which = list(range(len(layout.envs)))
    envs = [analyse_env(layout, env) for env in which]
    chosen = seasons or ("random" if len(which) >= FEWEST_RANDOM else "fixed")
    if len(which) < 2:
        chosen = "fixed"
    terms = analysis_of_variance(layout, envs, random=chosen == "random")
    return Analysis(layout, envs, which, chosen, terms)


def single_environment(analysis: Analysis, env: int) -> Analysis:
    """Return one site-year of a trial by itself: its means and differences, no tests of terms."""
    own = [analysis.envs[analysis.which.index(env)]]
    return Analysis(analysis.layout, own, [env], "fixed")
