"""How much falls on a wet day: five distributions, and the choice among them by the data.

Each is written for amounts above the edge between wet and dry, over their mean, so that one
mean by the day of the year and one shape by the season make every day's distribution.

=======================  =====================================================================
exponential              no parameter
gamma                    shape
Weibull                  shape
mixed exponential        share of the lighter part, its mean over the whole mean
gamma with Pareto tail   shape and scale of the gamma; the bend, above which one day in ten
                         lies; scale and shape of the generalized Pareto tail
=======================  =====================================================================

References
----------
Coles S (2001) An introduction to statistical modeling of extreme values. Springer, ch. 4.
Woolhiser DA, Roldan J (1982) Stochastic daily precipitation models 2. A comparison of
distributions of amounts. Water Resour. Res. 18:1461-1468.
Akaike H (1974) A new look at the statistical model identification. IEEE Trans. Autom. Control
19:716-723.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

BEND = 0.9  # share of wet days below the tail
PARAMETERS = {
    "exponential": 0,
    "gamma": 1,
    "Weibull": 1,
    "mixed exponential": 2,
    "gamma with Pareto tail": 4,
}
FAMILIES = tuple(PARAMETERS)
# No day above this many means: a guard against a fitted tail without end.
MOST_MEANS = 60.0
LEAST_POWER = 0.5  # a season's share of how wet days differ is less than this leaves it
LARGEST_TAIL = 0.35  # shape of the Pareto tail; larger ones are an accident of a short record
# chances and days of the year at which moments are taken
_CHANCES, _DAYS = (np.arange(1000) + 0.5) / 1000, np.arange(7, 365, 15)


@dataclass(frozen=True, slots=True, kw_only=True)
class WetDayRain:
    """The distribution of a wet day's rain through a year of 365 days.

    Parameters
    ----------
    family : str
        One of `FAMILIES`.
    mean : ndarray, shape (365,)
        Mean rain of a wet day [mm].
    parameters : ndarray, shape (n, 365)
        As `survival` takes them.
    edge : float
        Between dry and wet [mm]; amounts are counted from here.
    least : float
        Smallest amount that a wet day has [mm], as the record writes it.
    power : float
        To which drawn amounts are raised, so that they differ less; 1 leaves them.
    kept : ndarray, shape (365,), or 1
        Factor on what was raised that leaves its mean at 1.
    """

    family: str
    mean: NDArray[np.float64]
    parameters: NDArray[np.float64]
    edge: float = 0.0
    least: float = 0.0
    power: float = 1.0
    kept: NDArray[np.float64] | float = 1.0

    def within_season(self, spread: float) -> WetDayRain:
        """Take what all wet days of a season share off what wet days differ by.

        Parameters
        ----------
        spread : float
            Standard deviation of the logarithm of a season's rain of a wet day.

        Returns
        -------
        WetDayRain
            Days times seasons now vary as the days of `self` do: of independent factors 1 plus
            the square of the coefficient of variation multiplies, and that of lognormal seasons
            is exp(spread^2).
        """
        from scipy.optimize import brentq

        parameters = np.repeat(self.parameters[:, _DAYS], _CHANCES.size, axis=1)
        drawn = draw(self.family, parameters, np.tile(_CHANCES, _DAYS.size))
        drawn = drawn.reshape(_DAYS.size, -1)

        def squares(power: float) -> float:
            raised = drawn**power
            return float(((raised**2).mean(axis=1) / raised.mean(axis=1) ** 2).mean())

        wanted = max(squares(1.0) / np.exp(spread**2), squares(LEAST_POWER))
        power = float(brentq(lambda at: squares(at) - wanted, LEAST_POWER, 1.0))
        kept = drawn.mean(axis=1) / (drawn**power).mean(axis=1)
        return replace(self, power=power, kept=np.interp(np.arange(365), _DAYS, kept, period=365))

    def amounts(
        self,
        day_of_year: NDArray[np.int64],
        chance: NDArray[np.float64],
        factor: NDArray[np.float64],
    ) -> NDArray[np.float64]:
        """Rain [mm] of wet days, from independent uniform draws [0-1), times a factor."""
        drawn = draw(self.family, self.parameters[:, day_of_year], chance)
        if self.power < 1.0:
            drawn = drawn**self.power * np.broadcast_to(self.kept, 365)[day_of_year]
        above = (self.mean[day_of_year] - self.edge) * drawn
        return np.maximum((self.edge + above) * factor, self.least)


def draw(
    family: str, parameters: NDArray[np.float64], chance: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Draw amounts of mean 1.

    Parameters
    ----------
    family : str
    parameters : ndarray, shape (n, days)
    chance : ndarray, shape (days,)
        Independent uniform draws [0-1); larger gives more rain, but of the mixed exponential,
        whose draw first chooses the part.

    Returns
    -------
    ndarray, shape (days,)
    """
    from scipy.special import gamma as gamma_function
    from scipy.special import gammainc, gammaincinv

    drawn: NDArray[np.float64]
    if family == "exponential":
        drawn = -np.log1p(-chance)
    elif family == "gamma":
        (shape,) = parameters
        drawn = gammaincinv(shape, chance) / shape
    elif family == "Weibull":
        (shape,) = parameters
        drawn = (-np.log1p(-chance)) ** (1.0 / shape) / gamma_function(1.0 + 1.0 / shape)
    elif family == "mixed exponential":
        share, light = parameters
        heavy = (1.0 - share * light) / (1.0 - share)
        is_light = chance < share
        within = np.where(is_light, chance / share, (chance - share) / (1.0 - share))
        drawn = -np.where(is_light, light, heavy) * np.log1p(-np.minimum(within, 1.0 - 2.0**-53))
    else:
        shape, scale, bend, spread, tail = parameters
        low = gammaincinv(shape, np.minimum(chance / BEND, 1.0) * gammainc(shape, bend / scale))
        above = np.maximum(1.0 - chance, 2.0**-53) / (1.0 - BEND)
        drawn = np.where(chance < BEND, low * scale, bend + _pareto_quantile(above, spread, tail))
    return np.minimum(drawn, MOST_MEANS)


def _pareto_quantile(
    above: NDArray[np.float64], spread: NDArray[np.float64], tail: NDArray[np.float64]
) -> NDArray[np.float64]:
    flat = np.abs(tail) < 1e-9
    safe = np.where(flat, 1.0, tail)
    above = np.minimum(above, 1.0)
    return np.where(flat, -spread * np.log(above), spread * (above**-safe - 1.0) / safe)


def survival(
    family: str, parameters: NDArray[np.float64], amount: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the chance that a wet day brings more.

    Parameters
    ----------
    family : str
    parameters : ndarray, shape (n,) or (n, days)
    amount : ndarray, shape (days,)
        Over the mean; nothing lies below 0.

    Returns
    -------
    ndarray, shape (days,)
    """
    from scipy.special import gamma as gamma_function
    from scipy.special import gammainc, gammaincc

    amount = np.maximum(amount, 0.0)
    more: NDArray[np.float64]
    if family == "exponential":
        more = np.exp(-amount)
    elif family == "gamma":
        (shape,) = parameters
        more = gammaincc(shape, amount * shape)
    elif family == "Weibull":
        (shape,) = parameters
        more = np.exp(-((amount * gamma_function(1.0 + 1.0 / shape)) ** shape))
    elif family == "mixed exponential":
        share, light = parameters
        heavy = (1.0 - share * light) / (1.0 - share)
        more = share * np.exp(-amount / light) + (1.0 - share) * np.exp(-amount / heavy)
    else:
        shape, scale, bend, spread, tail = parameters
        body = gammainc(shape, np.minimum(amount, bend) / scale) / gammainc(shape, bend / scale)
        over = np.maximum(amount - bend, 0.0)
        beyond = np.maximum(1.0 + tail * over / spread, 0.0) ** (-1.0 / tail)
        more = np.where(amount < bend, 1.0 - BEND * body, (1.0 - BEND) * beyond)
    return more


def fit(
    family: str, amount: NDArray[np.float64], half: NDArray[np.float64], tail: float = 0.05
) -> NDArray[np.float64]:
    """Fit a family by maximum likelihood of rounded amounts.

    Parameters
    ----------
    family : str
    amount : ndarray, shape (days,)
        Amounts over their mean.
    half : ndarray, shape (days,)
        Half the step to which each is written, over the mean.
    tail : float
        Shape of the Pareto tail, which a season's few heavy days cannot tell by themselves
        (`fit_tail`).

    Returns
    -------
    ndarray, shape (n,)
        As `survival` takes them.
    """
    from scipy.optimize import minimize, minimize_scalar

    if family == "exponential":
        return np.empty(0)
    if family in ("gamma", "Weibull"):
        best = minimize_scalar(
            lambda log_shape: -likelihood(family, np.exp([log_shape]), amount, half),
            bounds=np.log([0.25, 5.0]),
            method="bounded",
            options={"xatol": 1e-3},
        )
        return np.exp([best.x])
    if family == "mixed exponential":

        def parameters(free: NDArray[np.float64]) -> NDArray[np.float64]:
            share, light = 0.02 + 0.96 / (1.0 + np.exp(-free))
            return np.array([share, light])

        found = minimize(
            lambda free: -likelihood(family, parameters(free), amount, half),
            np.array([0.0, -0.5]),
            method="Nelder-Mead",
            options={"xatol": 0.01, "fatol": 0.01, "maxfev": 150},
        )
        return parameters(found.x)
    return _fit_bent(amount, half, tail)


def likelihood(
    family: str,
    parameters: NDArray[np.float64],
    amount: NDArray[np.float64],
    half: NDArray[np.float64],
) -> float:
    """Return the logarithm of the likelihood of amounts known to within half a step."""
    chance = survival(family, parameters, amount - half) - survival(
        family, parameters, amount + half
    )
    return float(np.log(np.maximum(chance, 1e-300)).sum())


def _fit_bent(
    amount: NDArray[np.float64], half: NDArray[np.float64], tail: float
) -> NDArray[np.float64]:
    from scipy.optimize import minimize
    from scipy.special import gammainc

    bend = float(np.quantile(amount, BEND))
    low = amount < bend
    below, step = amount[low], half[low]

    def misfit(free: NDArray[np.float64]) -> float:
        shape, scale = np.exp(free)
        inside = gammainc(shape, np.minimum(below + step, bend) / scale) - gammainc(
            shape, np.maximum(below - step, 0.0) / scale
        )
        whole = max(float(gammainc(shape, bend / scale)), 1e-300)
        return -float(np.log(np.maximum(inside / whole, 1e-300)).sum())

    best = minimize(
        misfit,
        np.array([-0.2, 0.2]),
        method="Nelder-Mead",
        bounds=[(-1.4, 1.6), (-3.0, 3.0)],
        options={"xatol": 0.01, "fatol": 0.01, "maxfev": 120},
    )
    shape, scale = np.exp(best.x)
    # the mean excess of a generalized Pareto distribution is spread / (1 - tail)
    spread = float((amount[~low] - bend).mean()) * (1.0 - tail)
    body = shape * scale * gammainc(shape + 1.0, bend / scale) / gammainc(shape, bend / scale)
    mean = BEND * body + (1.0 - BEND) * (bend + spread / (1.0 - tail))
    return np.array([shape, scale / mean, bend / mean, spread / mean, tail])


def fit_tail(amount: NDArray[np.float64]) -> float:
    """Return the shape of a generalized Pareto tail of the top tenth, by maximum likelihood.

    Held to 0.01 to `LARGEST_TAIL`: daily rain has no upper end, and a record of a few decades
    cannot tell a heavier tail from a single storm.
    """
    from scipy.optimize import minimize_scalar

    bend = np.quantile(amount, BEND)
    over = amount[amount > bend] - bend
    mean = float(over.mean())

    def misfit(tail: float) -> float:
        spread = mean * (1.0 - tail)
        return float(
            over.size * np.log(spread) + (1.0 + 1.0 / tail) * np.log1p(tail * over / spread).sum()
        )

    return float(minimize_scalar(misfit, bounds=(0.01, LARGEST_TAIL), method="bounded").x)
