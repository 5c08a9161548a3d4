"""What the residuals say: whether spread grows with the mean, and which plots lie far off."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.trials.analysis.means import Analysis
from simulator.trials.analysis.strata import analyse_env

Array = NDArray[np.float64]
FEWEST = 12  # plots from which on residuals tell anything
UNUSUAL = 0.01  # chance of a residual as large in a trial where none is unusual
SCALES: dict[str, Callable[[Any], Any]] = {
    "plain": np.asarray,
    "square root": np.sqrt,
    "log": np.log,
}


@dataclass(frozen=True, slots=True)
class Look:
    """Residuals looked at.

    Parameters
    ----------
    count : int
    growth : float
        Spearman's correlation of a residual's size with its fitted value; NaN of too few plots.
    p : float
    scales : dict of str to (float, float)
        The same two on each scale that can be taken, the plain one first.
    far : list of (int, float)
        Line of the table, and how many standard deviations off.
    """

    count: int
    growth: float
    p: float
    scales: dict[str, tuple[float, float]]
    far: list[tuple[int, float]]

    @property
    def grows(self) -> bool:
        """Whether spread grows with the mean."""
        return bool(self.p < 0.05 and self.growth > 0)

    @property
    def better(self) -> str:
        """The scale on which spread and mean hang together least."""
        return min(self.scales, key=lambda scale: abs(self.scales[scale][0]))


def look(analysis: Analysis) -> Look:
    """Look at the residuals of single plots within the smallest units."""
    layout = analysis.layout
    residuals, fitted, lines, df = _gathered(analysis, None)
    if len(residuals) < FEWEST or df < FEWEST / 2:
        return Look(len(residuals), np.nan, np.nan, {}, [])
    scales = {}
    for name, scale in SCALES.items():
        y = layout.rows["y"].to_numpy(float)
        if name == "log" and not (y > 0).all():
            continue
        own = _gathered(analysis, scale(y)) if name != "plain" else (residuals, fitted)
        scales[name] = _together(own[0], own[1])
    growth, p = scales["plain"]
    return Look(len(residuals), growth, p, scales, _far(residuals, lines))


def _gathered(analysis: Analysis, y: Array | None) -> tuple[Array, Array, NDArray[np.int64], int]:
    layout = analysis.layout
    done = {} if y is not None else dict(zip(analysis.which, analysis.envs, strict=True))
    one_by_one = layout.rows["plots"].to_numpy() == 1
    found = []
    df = 0
    for env in range(len(layout.envs)):
        own = done[env] if env in done else analyse_env(layout, env, y)
        single = one_by_one[(layout.rows["env"] == env).to_numpy()]
        if own.strata[0].df and single.any():
            found.append((own.residuals[single], own.fitted[single], own.lines[single]))
            df += own.strata[0].df
    if not found:
        return np.empty(0), np.empty(0), np.empty(0, np.int64), 0
    r, f, at = (np.concatenate(parts) for parts in zip(*found, strict=True))
    return r, f, at, df


def _together(residuals: Array, fitted: Array) -> tuple[float, float]:
    """Say whether sizes of residuals go with fitted values: the correlation of ranks, and its p.

    References
    ----------
    Spearman (1904), Am. J. Psychol. 15:72-101; of sizes of residuals, Glejser (1969), J. Am. Stat.
    Assoc. 64:316-323, takes a regression: both from memory.
    """
    from scipy.stats import spearmanr

    if np.ptp(residuals) == 0:
        return 0.0, 1.0
    correlation = spearmanr(np.abs(residuals), fitted)
    return float(correlation.statistic), float(correlation.pvalue)


def _far(residuals: Array, lines: NDArray[np.int64]) -> list[tuple[int, float]]:
    """Name residuals that are farther off than chance puts one of so many.

    References
    ----------
    Bonferroni's limit for the largest of n standardized residuals, of normal ones in place of
    Student's: after Beckman and Cook (1983), Technometrics 25:119-149, from memory.
    """
    from scipy.stats import norm

    spread = np.sqrt((residuals**2).sum() / len(residuals))
    if not spread > 0:
        return []
    limit = float(norm.isf(UNUSUAL / (2 * len(residuals))))
    off = residuals / spread
    order = np.argsort(-np.abs(off))
    return [(int(lines[at]), float(off[at])) for at in order if abs(off[at]) > limit]
