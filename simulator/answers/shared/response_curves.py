"""Curves of a response to a rate: none, linear, linear or quadratic with a plateau.

Which form describes the points best is judged by the small-sample information criterion AICc.
It needs more points than parameters by two, so few rates allow few forms; `choose` says which
could not be tried.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import minimize_scalar

if TYPE_CHECKING:
    from numpy.typing import NDArray

NONE, LINEAR, LINEAR_PLATEAU, QUADRATIC_PLATEAU = (
    "none",
    "linear",
    "linear-plateau",
    "quadratic-plateau",
)
PARAMETERS = {NONE: 1, LINEAR: 2, LINEAR_PLATEAU: 3, QUADRATIC_PLATEAU: 3}
FEWEST = {form: count + 3 for form, count in PARAMETERS.items()}  # points for a finite AICc
FARTHEST_JOIN = 3.0  # times the highest rate; a quadratic that bends later is a straight line
JOINS_TRIED = 96  # before the best is refined: the sum of squares has several valleys
EXACT = 1e-9  # of the response's range: a misfit this small is rounding, and all such fits tie
ALIKE = 2.0  # AICc apart from which on one form is better supported (Burnham & Anderson 2002)


@dataclass(frozen=True, slots=True)
class Curve:
    """A fitted curve ``y = base + slope * reach(x)``; ``reach`` is x until it bends.

    Parameters
    ----------
    form : str
        One of `PARAMETERS`.
    base : float
        Response at a rate of zero, in the response's unit.
    slope : float
        Response per unit of rate at a rate of zero; 0 for ``none``.
    join : float
        Rate from which the curve is flat; infinite where there is no plateau.
    lowest, highest : float
        Rates between which it was fitted.
    sum_of_squares : float
        Of the residuals.
    points : int
    """

    form: str
    base: float
    slope: float
    join: float
    lowest: float
    highest: float
    sum_of_squares: float
    points: int

    def at(self, rate: float) -> float:
        """Return the response at a rate."""
        return self.base + self.slope * float(_REACH[self.form](np.array([rate]), self.join)[0])

    def slope_at(self, rate: float) -> float:
        """Return the response to one more unit of rate; 0 on the plateau."""
        if rate >= self.join:
            return 0.0
        return self.slope * (1.0 - rate / self.join if self.form == QUADRATIC_PLATEAU else 1.0)

    @property
    def plateau(self) -> float:
        """The highest response; infinite for a rising line, NaN for one that falls."""
        if self.form == LINEAR:
            return float("inf") if self.slope > 0 else float("nan")
        return self.base if self.form == NONE else self.at(self.join)

    @property
    def beyond(self) -> bool:
        """Whether the plateau begins above the highest rate tried: an extrapolation."""
        return np.isfinite(self.join) and self.join > self.highest * (1.0 + 1e-9)

    @property
    def aicc(self) -> float:
        """Small-sample Akaike criterion of least squares, the variance counted as a parameter.

        Infinite where there are too few points.

        References
        ----------
        Hurvich & Tsai (1989), Biometrika 76:297-307.
        """
        k, n = PARAMETERS[self.form] + 1, self.points
        if n < FEWEST[self.form]:
            return float("inf")
        return float(n * np.log(self.sum_of_squares / n) + 2 * k + 2 * k * (k + 1) / (n - k - 1))


@dataclass(frozen=True, slots=True)
class Choice:
    """The curve that the points support best, and how well they tell it from the others.

    Parameters
    ----------
    curve : Curve or None
        None where there are too few points to choose between two forms.
    weights : dict of str to float
        Akaike weights of the forms tried; they add up to 1.
    untried : tuple of str
        Forms for which there were too few points.
    """

    curve: Curve | None
    weights: dict[str, float]
    untried: tuple[str, ...]

    @property
    def rivals(self) -> tuple[str, ...]:
        """Other forms that the points support about as well, within 2 of the lowest AICc."""
        least = np.exp(-ALIKE / 2.0) * max(self.weights.values(), default=0.0)
        return tuple(
            form
            for form, weight in self.weights.items()
            if weight >= least and self.curve is not None and form != self.curve.form
        )


Reach = Callable[["NDArray[np.float64]", float], "NDArray[np.float64]"]


def _quadratic(x: NDArray[np.float64], join: float) -> NDArray[np.float64]:
    short = np.minimum(x, join)
    return short - short**2 / (2.0 * join)  # its slope falls to 0 at the join, so no corner


_REACH: dict[str, Reach] = {
    NONE: lambda x, join: np.zeros_like(x),
    LINEAR: lambda x, join: x,
    LINEAR_PLATEAU: np.minimum,
    QUADRATIC_PLATEAU: _quadratic,
}


def fit(form: str, rates: Sequence[float], response: Sequence[float]) -> Curve:
    """Fit one form by least squares.

    Parameters
    ----------
    form : str
        One of `PARAMETERS`.
    rates, response : sequence of float, same length
        At least as many different rates as the form has parameters.

    Returns
    -------
    Curve
        For each join the best line is known in closed form, so that only the join is searched
        for: from the second rate to the highest (linear) or three times that (quadratic).

    References
    ----------
    Anderson & Nelson (1975), Biometrics 31:303-318 (linear-plateau); Cerrato & Blackmer (1990),
    Agronomy Journal 82:138-143 (quadratic-plateau).
    """
    x, y = np.asarray(rates, float), np.asarray(response, float)
    join = float("inf")
    if form in (LINEAR_PLATEAU, QUADRATIC_PLATEAU):
        join = _best_join(form, x, y)
    base, slope, squares = _line(_REACH[form](x, join), y)
    floor = x.size * (EXACT * max(float(np.ptp(y)), abs(float(y.mean())), 1e-300)) ** 2
    return Curve(
        form, base, slope, join, float(x.min()), float(x.max()), max(squares, floor), x.size
    )


def _line(reach: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[float, float, float]:
    across, up = reach - reach.mean(), y - y.mean()
    room = float(across @ across)
    slope = float(across @ up) / room if room > 0 else 0.0
    missed = up - slope * across
    return float(y.mean() - slope * reach.mean()), slope, float(missed @ missed)


def _best_join(form: str, x: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    steps = np.unique(x)
    top = steps[-1] if form == LINEAR_PLATEAU else FARTHEST_JOIN * steps[-1]

    def missed(join: float) -> float:
        return _line(_REACH[form](x, join), y)[2]

    tried = np.linspace(steps[1], top, JOINS_TRIED)
    reach = np.stack([_REACH[form](x, float(join)) for join in tried])
    across = reach - reach.mean(axis=1, keepdims=True)
    up = y - y.mean()
    explained = (across @ up) ** 2 / np.maximum((across**2).sum(axis=1), 1e-300)
    best = int(np.argmax(explained))
    around = tried[max(best - 1, 0)], tried[min(best + 1, tried.size - 1)]
    found = minimize_scalar(missed, bounds=around, method="bounded", options={"xatol": 1e-7 * top})
    # a kink at one of the points tried may be lower than any point of the smooth search
    return float(min((found.x, tried[best]), key=missed))


def choose(rates: Sequence[float], response: Sequence[float]) -> Choice:
    """Fit every form that the number of points allows and choose by AICc.

    Parameters
    ----------
    rates, response : sequence of float, same length
        Points without a response (NaN) are left aside.

    Returns
    -------
    Choice
        A plateau that would be reached by falling is not considered. Of forms that fit alike
        the one with fewer parameters wins, as the criterion has it.
    """
    x, y = np.asarray(rates, float), np.asarray(response, float)
    known = np.isfinite(y)
    x, y = x[known], y[known]
    levels = np.unique(x).size
    allowed = [
        form for form, count in PARAMETERS.items() if x.size >= FEWEST[form] and levels >= count
    ]
    untried = tuple(form for form in PARAMETERS if form not in allowed)
    if len(allowed) < 2:  # a form without a rival is no choice
        return Choice(None, {}, tuple(PARAMETERS))
    curves = [fit(form, x.tolist(), y.tolist()) for form in allowed]
    curves = [c for c in curves if c.form in (NONE, LINEAR) or c.slope > 0]
    best = min(curves, key=lambda curve: curve.aicc)
    likely = {curve.form: float(np.exp((best.aicc - curve.aicc) / 2.0)) for curve in curves}
    total = sum(likely.values())
    return Choice(best, {form: one / total for form, one in likely.items()}, untried)
