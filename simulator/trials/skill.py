"""How well simulated agrees with observed: the usual statistics, and what no model could better.

All take two arrays (n,) of one unit and return a float; pairs in which either is NaN are left out.
Fewer than two pairs, or observed values that are all alike, give NaN wherever the statistic
divides by their spread.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simulator.problems import fault

Values = NDArray[np.float64]


def pairs(observed: ArrayLike, simulated: ArrayLike) -> tuple[Values, Values]:
    """Return the pairs of which both are known.

    Raises
    ------
    InputError
        Arrays of unequal length.
    """
    seen, made = (np.asarray(values, dtype=float).ravel() for values in (observed, simulated))
    if seen.size != made.size:
        raise fault(
            "skill",
            f"{seen.size} values observed, {made.size} simulated.",
            "Give one simulated value for each observed.",
        )
    known = np.isfinite(seen) & np.isfinite(made)
    return seen[known], made[known]


def bias(observed: ArrayLike, simulated: ArrayLike) -> float:
    """Mean of simulated - observed."""
    seen, made = pairs(observed, simulated)
    return float((made - seen).mean()) if seen.size else np.nan


def mean_absolute_error(observed: ArrayLike, simulated: ArrayLike) -> float:
    """Mean distance of simulated from observed, whichever is the larger."""
    seen, made = pairs(observed, simulated)
    return float(np.abs(made - seen).mean()) if seen.size else np.nan


def rmse(observed: ArrayLike, simulated: ArrayLike) -> float:
    """Root mean square of simulated - observed."""
    seen, made = pairs(observed, simulated)
    return float(np.sqrt(((made - seen) ** 2).mean())) if seen.size else np.nan


def nrmse(observed: ArrayLike, simulated: ArrayLike) -> float:
    """`rmse` as a share of the observed mean; NaN where that is 0."""
    seen, made = pairs(observed, simulated)
    return _ratio(rmse(seen, made), abs(float(seen.mean()))) if seen.size else np.nan


def nrmse_of_range(observed: ArrayLike, simulated: ArrayLike) -> float:
    """`rmse` as a share of the observed range."""
    seen, made = pairs(observed, simulated)
    return _ratio(rmse(seen, made), float(np.ptp(seen))) if seen.size else np.nan


def percent_bias(observed: ArrayLike, simulated: ArrayLike) -> float:
    """Sum of simulated - observed in percent of the observed sum; above 0 is too much."""
    seen, made = pairs(observed, simulated)
    return 100.0 * _ratio(float((made - seen).sum()), float(seen.sum()))


def nash_sutcliffe(observed: ArrayLike, simulated: ArrayLike) -> float:
    """Nash-Sutcliffe efficiency: 1 is perfect, 0 no better than the observed mean.

    References
    ----------
    Nash and Sutcliffe (1970), Journal of Hydrology 10:282, eq. 3.
    """
    seen, made = pairs(observed, simulated)
    return 1.0 - _ratio(float(((made - seen) ** 2).sum()), _squares(seen))


def index_of_agreement(observed: ArrayLike, simulated: ArrayLike) -> float:
    """Willmott's index of agreement d, 0 to 1.

    References
    ----------
    Willmott (1981), Physical Geography 2:184.
    """
    seen, made = pairs(observed, simulated)
    if not _squares(seen) > 0.0:
        return np.nan
    reach = np.abs(made - seen.mean()) + np.abs(seen - seen.mean())
    return 1.0 - _ratio(float(((made - seen) ** 2).sum()), float((reach**2).sum()))


def index_of_agreement_absolute(observed: ArrayLike, simulated: ArrayLike) -> float:
    """Willmott's index of agreement d1, of absolute values in place of squares.

    References
    ----------
    Willmott et al. (1985), Journal of Geophysical Research 90:8995.
    """
    seen, made = pairs(observed, simulated)
    if not _squares(seen) > 0.0:
        return np.nan
    reach = np.abs(made - seen.mean()) + np.abs(seen - seen.mean())
    return 1.0 - _ratio(float(np.abs(made - seen).sum()), float(reach.sum()))


def index_of_agreement_refined(observed: ArrayLike, simulated: ArrayLike) -> float:
    """Willmott's refined index of agreement dr, -1 to 1.

    References
    ----------
    Willmott, Robeson and Matsuura (2012), International Journal of Climatology 32:2088.
    """
    seen, made = pairs(observed, simulated)
    if not _squares(seen) > 0.0:
        return np.nan
    missed = float(np.abs(made - seen).sum())
    reach = 2.0 * float(np.abs(seen - seen.mean()).sum())
    return 1.0 - missed / reach if missed <= reach else reach / missed - 1.0


def correlation(observed: ArrayLike, simulated: ArrayLike) -> float:
    """Pearson's correlation; NaN where either is all alike."""
    seen, made = pairs(observed, simulated)
    if not (_squares(seen) > 0.0 and _squares(made) > 0.0):
        return np.nan
    together = float(((seen - seen.mean()) * (made - made.mean())).sum())
    return together / float(np.sqrt(_squares(seen) * _squares(made)))


def kling_gupta(observed: ArrayLike, simulated: ArrayLike) -> float:
    """Kling-Gupta efficiency of 2009: correlation, ratio of spreads, ratio of means.

    1 is perfect; the observed mean as a constant has no correlation, so it gives NaN.

    References
    ----------
    Gupta, Kling, Yilmaz and Martinez (2009), Journal of Hydrology 377:80, eq. 9.
    """
    seen, made = pairs(observed, simulated)
    return _kling_gupta(seen, made, _ratio(_sd(made), _sd(seen)))


def kling_gupta_2012(observed: ArrayLike, simulated: ArrayLike) -> float:
    """Kling-Gupta efficiency of 2012, whose spreads are shares of their means.

    References
    ----------
    Kling, Fuchs and Paulin (2012), Journal of Hydrology 424-425:264, eq. 2.
    """
    seen, made = pairs(observed, simulated)
    if not seen.size:
        return np.nan
    return _kling_gupta(
        seen,
        made,
        _ratio(_ratio(_sd(made), float(made.mean())), _ratio(_sd(seen), float(seen.mean()))),
    )


def _kling_gupta(seen: Values, made: Values, spread_ratio: float) -> float:
    if not seen.size:
        return np.nan
    mean_ratio = _ratio(float(made.mean()), float(seen.mean()))
    apart = (correlation(seen, made) - 1.0, spread_ratio - 1.0, mean_ratio - 1.0)
    return 1.0 - float(np.sqrt(sum(part**2 for part in apart)))


def _squares(values: Values) -> float:
    """Sum of squares about the mean; exactly 0 for values that are all alike."""
    if values.size < 2 or np.ptp(values) == 0.0:
        return 0.0
    return float(((values - values.mean()) ** 2).sum())


def _sd(values: Values) -> float:
    return float(np.sqrt(_squares(values) / values.size)) if values.size else np.nan


def _ratio(part: float, whole: float) -> float:
    return part / whole if whole != 0.0 else np.nan


@dataclass(frozen=True, slots=True, kw_only=True)
class Skill:
    """Agreement over a group of plots, in the unit of what was observed.

    Parameters
    ----------
    n : int
        Pairs.
    mean_observed, bias, rmse : float
    nrmse : float
        Share of the observed mean.
    index_of_agreement, nash_sutcliffe, kling_gupta : float
        NaN where the observed values are all alike.
    plot_sd : float
        Root mean square of the standard deviations among plots: the RMSE of a perfect model held
        against single plots. NaN where the table has none.
    mean_se : float
        Root mean square of the standard errors of the means (sd / sqrt(plots)): the RMSE of a
        perfect model held against these means.
    """

    n: int
    mean_observed: float
    bias: float
    rmse: float
    nrmse: float
    index_of_agreement: float
    nash_sutcliffe: float
    kling_gupta: float
    plot_sd: float = np.nan
    mean_se: float = np.nan


def skill_of(
    observed: ArrayLike,
    simulated: ArrayLike,
    sd: ArrayLike | None = None,
    plots: ArrayLike | None = None,
) -> Skill:
    """Work out the skill over a group of plots.

    Parameters
    ----------
    observed, simulated : (n,) float
        In one unit; NaN where there is none.
    sd : (n,) float, optional
        Standard deviation among the plots behind each observed value.
    plots : (n,) float, optional
        Their number.

    Returns
    -------
    Skill
    """
    seen, made = pairs(observed, simulated)
    known = np.isfinite(np.asarray(observed, float)) & np.isfinite(np.asarray(simulated, float))
    spread = np.full(known.size, np.nan) if sd is None else np.asarray(sd, float)
    count = np.full(known.size, np.nan) if plots is None else np.asarray(plots, float)
    return Skill(
        n=seen.size,
        mean_observed=float(seen.mean()) if seen.size else np.nan,
        bias=bias(seen, made),
        rmse=rmse(seen, made),
        nrmse=nrmse(seen, made),
        index_of_agreement=index_of_agreement(seen, made),
        nash_sutcliffe=nash_sutcliffe(seen, made),
        kling_gupta=kling_gupta(seen, made),
        plot_sd=_root_mean_square(spread[known]),
        mean_se=_root_mean_square((spread / np.sqrt(count))[known]),
    )


def _root_mean_square(values: NDArray[Any]) -> float:
    known = values[np.isfinite(values)]
    return float(np.sqrt((known**2).mean())) if known.size else np.nan


@dataclass(frozen=True, slots=True, kw_only=True)
class Contrast:
    """Agreement over differences between plots, in the unit of what was observed.

    Parameters
    ----------
    n : int
        Differences.
    seasons : int
        That they come from: those of one season share their weather, and err together.
    mean_observed, mean_simulated, rmse : float
    rmse_of_constant : float
        Of the observed mean, taken for every difference: the spread of the observed. A model with
        a larger `rmse` does not tell large differences from small.
    correlation : float
        NaN where either is all alike.
    """

    n: int
    seasons: int
    mean_observed: float
    mean_simulated: float
    rmse: float
    rmse_of_constant: float
    correlation: float

    @property
    def bias(self) -> float:
        """Mean of simulated - observed."""
        return self.mean_simulated - self.mean_observed


def contrast_of(observed: ArrayLike, simulated: ArrayLike, seasons: int) -> Contrast:
    """Work out the agreement over differences between plots.

    Parameters
    ----------
    observed, simulated : (n,) float
        In one unit; pairs in which either is NaN are left out.
    seasons : int
        That the differences come from.

    Returns
    -------
    Contrast
    """
    seen, made = pairs(observed, simulated)
    return Contrast(
        n=seen.size,
        seasons=seasons,
        mean_observed=float(seen.mean()) if seen.size else np.nan,
        mean_simulated=float(made.mean()) if made.size else np.nan,
        rmse=rmse(seen, made),
        rmse_of_constant=_sd(seen),
        correlation=correlation(seen, made),
    )
