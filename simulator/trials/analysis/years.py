"""Years beside each other: which lies off the others, in what, and by how many standard errors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.trials.analysis.factors import NITROGEN, SOWN
from simulator.trials.analysis.means import Analysis, level_weights

Array = NDArray[np.float64]
# common practice, no source: 3 standard errors are beyond chance even where many years are looked
# at, and 2 standard deviations are beyond nearly all years
ODD = 3.0  # standard errors of the plots from which on a year is called odd
FAR = 2.0  # standard deviations of the other years from which on a level is odd
FEWEST = 3


@dataclass(frozen=True, slots=True)
class Standing:
    """One year in one respect, beside the others.

    Parameters
    ----------
    env : int
    what : str
        ``"level"``, ``"response"`` or ``"sowing"``.
    value, others : float
        Of this year and the mean of the others [kg/ha].
    error : float
        Of the difference between them, by the spread among plots.
    detail : tuple of int
        Levels of the two means that are set against each other.
    among : float
        The difference in standard deviations of the other years; NaN of fewer than three others.
    """

    env: int
    what: str
    value: float
    others: float
    error: float
    detail: tuple[int, ...] = ()
    among: float = np.nan

    @property
    def off(self) -> float:
        """Standard errors that it lies off the others."""
        return (self.value - self.others) / self.error if self.error > 0 else np.nan

    @property
    def odd(self) -> bool:
        """Whether it is called odd: beyond the plots' spread and that of the other years.

        Years always differ in level, so there the other years count too.
        """
        far = abs(self.among) >= FAR if self.what == "level" else True
        return bool(abs(self.off) >= ODD and far)


def standings(analysis: Analysis) -> list[Standing]:
    """Set each site-year beside the others.

    Returns
    -------
    list of Standing
        The level; what the highest rate of nitrogen brought over the lowest; what each sowing
        brought over the one before it.
    """
    if len(analysis.envs) < FEWEST:
        return []
    known = np.isfinite(analysis.table)
    shared = known.all(axis=0)
    layout = analysis.layout
    found: list[Standing] = []
    if shared.any():
        weight = shared / shared.sum()
        found += _beside(analysis, weight, "level", (), level=True)
    place = layout.factor(NITROGEN)
    if place >= 0:
        top = len(layout.factors[place].levels) - 1
        found += _contrast(analysis, place, top, 0, "response")
    place = layout.factor(SOWN)
    if place >= 0:
        for late in range(1, len(layout.factors[place].levels)):
            found += _contrast(analysis, place, late, late - 1, "sowing")
    return found


def _contrast(analysis: Analysis, place: int, one: int, two: int, what: str) -> list[Standing]:
    known = np.asarray(np.isfinite(analysis.table).all(axis=0))
    both = [level_weights(analysis.layout, known, [place], [level]) for level in (one, two)]
    if not all(np.isfinite(weight).all() for weight in both):
        return []
    return _beside(analysis, both[0] - both[1], what, (one, two))


def _beside(
    analysis: Analysis, weight: Array, what: str, detail: tuple[int, ...], *, level: bool = False
) -> list[Standing]:
    values = np.array([weight @ np.nan_to_num(one.means) for one in analysis.envs])
    variances = np.array([_variance(analysis, at, weight, level) for at in range(len(values))])
    if not np.isfinite(variances).all():
        return []
    found = [
        _one(values, variances, at, env, what, detail, []) for at, env in enumerate(analysis.which)
    ]
    far = max(range(len(found)), key=lambda at: abs(np.nan_to_num(found[at].off)))
    if found[far].odd and len(found) > FEWEST:  # the odd one is no measure for the others
        return [
            one if at == far else _one(values, variances, at, one.env, what, detail, [far])
            for at, one in enumerate(found)
        ]
    return found


def _one(
    values: Array,
    variances: Array,
    at: int,
    env: int,
    what: str,
    detail: tuple[int, ...],
    without: list[int],
) -> Standing:
    """Set one site-year beside the others, but for those left out."""
    gone = [at, *without]
    others, spread = np.delete(values, gone), np.delete(variances, gone)
    error = np.sqrt(variances[at] + spread.sum() / others.size**2)
    among = np.nan
    if others.size >= FEWEST and others.std(ddof=1) > 0:
        among = (values[at] - others.mean()) / others.std(ddof=1)
    return Standing(
        env, what, float(values[at]), float(others.mean()), float(error), detail, float(among)
    )


def _variance(analysis: Analysis, at: int, weight: Array, level: bool) -> float:
    """Variance of a mean or difference of one site-year, the plots' spread pooled over all."""
    own = analysis.envs[at]
    total = 0.0
    last = np.nan
    for stratum in own.strata:
        squares, df = analysis.errors[stratum.name]
        square = squares / df if df else np.nan
        last = square if np.isfinite(square) else last
        share = float(weight @ stratum.spread @ weight)
        total += share * square if share > 1e-12 else 0.0
    if level:  # differences between blocks move the level of a year too
        total += last / own.counts.sum()
    return total
