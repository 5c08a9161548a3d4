"""Curves of a response to a rate, chosen by AICc: none, straight, quadratic, plateau, exponential.

References
----------
Hurvich & Tsai (1989), Biometrika 76:297-307 (AICc); Burnham & Anderson (2002), Model Selection and
Multimodel Inference, 2nd ed. (weights); Cerrato & Blackmer (1990), Agron. J. 82:138-143 (the
forms); Golub & Pereyra (1973), SIAM J. Numer. Anal. 10:413-432 (the linear part in closed form).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
NONE, STRAIGHT, QUADRATIC, PLATEAU, EXPONENTIAL = (
    "none",
    "straight line",
    "quadratic",
    "line and plateau",
    "exponential rise",
)
PARAMETERS = {NONE: 1, STRAIGHT: 2, QUADRATIC: 3, PLATEAU: 3, EXPONENTIAL: 3}
ALIKE = 2.0  # AICc apart, from which on one form is better supported
BENDS = 120  # joins or rates of rise that are tried
STEEPEST = 40.0  # rate of rise times the highest rate: there by the first of forty parts
FLATTEST = 0.05  # below it an exponential is a straight line
DRAWS = 500
EXACT = 1e-12  # of the spread of the points: what is closer fits exactly


@dataclass(frozen=True, slots=True)
class Points:
    """What curves are laid through.

    Parameters
    ----------
    rates, means : array
        [kg/ha].
    weights : array
        Plots behind each mean: its variance is the error's over this.
    error : float
        Sum of squares of plots about their means.
    error_df : int
        Its degrees of freedom.
    """

    rates: Array
    means: Array
    weights: Array
    error: float = 0.0
    error_df: float = 0.0

    @property
    def count(self) -> float:
        """Independent pieces of information: the means, and what plots say of their spread."""
        return self.rates.size + self.error_df


@dataclass(frozen=True, slots=True)
class Fitted:
    """One form fitted.

    Parameters
    ----------
    form : str
    base, slope : float
        Response at no rate, and by unit of rate there; of an exponential rise the slope is the
        whole of the rise.
    bend : float
        Join of a plateau, rate of an exponential rise, curvature of a quadratic; else NaN.
    squares : float
        Weighted sum of squares left, the plots' own spread included.
    count : float
    """

    form: str
    base: float
    slope: float
    bend: float
    squares: float
    count: float

    def at(self, rates: ArrayLike) -> Array:
        """Return the response at rates."""
        x = np.asarray(rates, float)
        if self.form == QUADRATIC:
            return self.base + self.slope * x + self.bend * x**2
        return self.base + self.slope * reach(self.form, x, self.bend)

    @property
    def aicc(self) -> float:
        """Return the criterion; infinite where there are too few points for the form."""
        return float(_aicc(self.form, np.array(self.squares), self.count))

    def pays(self, ratio: float, lowest: float, highest: float) -> float:
        """Return the rate at which one more unit brings less than `ratio`, among those tried."""
        slopes = np.array([self.slope])
        best = pays(self.form, slopes, np.array([self.bend]), ratio, lowest, highest)
        return float(best[0])


def reach(form: str, x: Array, bend: float | Array) -> Array:
    """Return what the slope is multiplied by."""
    if form == NONE:
        return np.zeros_like(x)
    if form == PLATEAU:
        return np.minimum(x, bend)
    if form == EXPONENTIAL:
        return -np.expm1(-bend * x)
    return x


def pays(
    form: str, slope: Array, bend: Array, ratio: float, lowest: float, highest: float
) -> Array:
    """Return the rate that pays, for many curves of one form.

    Parameters
    ----------
    form : str
    slope, bend : array
    ratio : float
        Biomass that a unit of nitrogen costs [kg/kg].
    lowest, highest : float
        Of the rates tried: no curve speaks beyond them.
    """
    if form == NONE:
        return np.full(slope.shape, lowest)
    if form == STRAIGHT:
        return np.where(slope > ratio, highest, lowest)
    with np.errstate(divide="ignore", invalid="ignore"):
        if form == QUADRATIC:
            best = np.where(bend < 0, (ratio - slope) / (2.0 * bend), highest)
        elif form == PLATEAU:
            best = np.where(slope > ratio, bend, lowest)
        else:
            best = np.where(slope * bend > ratio, np.log(slope * bend / ratio) / bend, lowest)
    return np.asarray(np.clip(best, lowest, highest))


def _aicc(form: str, squares: Array, count: float) -> Array:
    k = PARAMETERS[form] + 1
    if count - k - 1 <= 0:
        return np.full(np.shape(squares), np.inf)
    penalty = 2.0 * k + 2.0 * k * (k + 1) / (count - k - 1)
    return np.asarray(count * np.log(np.maximum(squares, 1e-300) / count) + penalty)


def bends(form: str, rates: Array) -> Array:
    """Return the bends that are tried before the best is refined."""
    levels = np.unique(rates)
    top = levels[-1] if levels[-1] > 0 else 1.0
    if form == PLATEAU:
        return np.linspace(levels[1], levels[-1], BENDS)
    return np.geomspace(FLATTEST, STEEPEST, BENDS) / top


def allowed(points: Points) -> list[str]:
    """Return the forms that so many rates and plots can tell apart."""
    levels = np.unique(points.rates).size
    return [
        form
        for form, count in PARAMETERS.items()
        if levels >= count and np.isfinite(_aicc(form, np.array(1.0), points.count))
    ]


def fit(form: str, points: Points) -> Fitted | None:
    """Fit one form by weighted least squares; None where it would bend the wrong way."""
    x, y, w = points.rates, points.means, points.weights
    floor = max(EXACT**2 * float(w @ (y - np.average(y, weights=w)) ** 2), 1e-300)
    if form in (PLATEAU, EXPONENTIAL):
        bend = _best_bend(form, points)
        base, slope, left = _line(reach(form, x, bend), y, w)
        if slope <= 0:
            return None
    else:
        bend = np.nan
        if form == QUADRATIC:
            columns = np.stack([np.ones_like(x), x, x**2], axis=1)
            root = np.sqrt(w)
            scale = np.abs(columns).max(axis=0)
            base, slope, bend = (
                np.linalg.lstsq(columns / scale * root[:, None], y * root, rcond=None)[0] / scale
            )
            left = float(w @ (y - columns @ [base, slope, bend]) ** 2)
            if bend >= 0:
                return None
        else:
            base, slope, left = _line(reach(form, x, 0.0), y, w)
    squares = max(left + points.error, floor)
    return Fitted(form, float(base), float(slope), float(bend), squares, points.count)


def _line(r: Array, y: Array, w: Array) -> tuple[float, float, float]:
    across, up = r - np.average(r, weights=w), y - np.average(y, weights=w)
    room = float(w @ across**2)
    slope = float(w @ (across * up)) / room if room > 0 else 0.0
    base = float(np.average(y, weights=w) - slope * np.average(r, weights=w))
    return base, slope, float(w @ (up - slope * across) ** 2)


def _best_bend(form: str, points: Points) -> float:
    from scipy.optimize import minimize_scalar

    x, y, w = points.rates, points.means, points.weights
    tried = bends(form, x)
    left = [_line(reach(form, x, bend), y, w) for bend in tried]
    squares = np.array([one[2] if one[1] > 0 else np.inf for one in left])
    best = int(np.argmin(squares))
    around = float(tried[max(best - 1, 0)]), float(tried[min(best + 1, tried.size - 1)])
    found = minimize_scalar(
        lambda bend: _line(reach(form, x, bend), y, w)[2],
        bounds=around,
        method="bounded",
        options={"xatol": 1e-10 * around[1]},
    )
    both = (float(found.x), float(tried[best]))
    return min(both, key=lambda bend: _line(reach(form, x, bend), y, w)[2])


@dataclass(frozen=True, slots=True)
class Choice:
    """The form that points support best, how well, and the rate that pays.

    Parameters
    ----------
    points : Points
    best : Fitted or None
        None where there are too few points to choose.
    weights : dict of str to float
        Akaike weights of the forms tried, together 1.
    fits : tuple of Fitted
    rate : float
        That pays [kg/ha]; NaN without prices.
    low, high : float
        Its 95 percent interval, the choice of the form made anew in each draw.
    """

    points: Points
    best: Fitted | None
    weights: dict[str, float]
    fits: tuple[Fitted, ...]
    rate: float = np.nan
    low: float = np.nan
    high: float = np.nan

    @property
    def rivals(self) -> list[str]:
        """Forms that the points support about as well."""
        if self.best is None:
            return []
        return [
            one.form
            for one in self.fits
            if one is not self.best and one.aicc < self.best.aicc + ALIKE
        ]

    def at(self, rates: ArrayLike) -> Array:
        """Return the response, each form counting by its weight."""
        each = [self.weights[one.form] * one.at(rates) for one in self.fits]
        return np.asarray(np.sum(each, axis=0))


def choose(points: Points, ratio: float | None = None, *, seed: int = 20) -> Choice:
    """Fit all forms, choose by AICc, and find the rate that pays.

    Parameters
    ----------
    points : Points
    ratio : float, optional
        Biomass that a unit of nitrogen costs [kg/kg].
    seed : int
        Of the draws behind the interval.
    """
    fits = [one for form in allowed(points) if (one := fit(form, points)) is not None]
    if len(allowed(points)) < 2:
        return Choice(points, None, {}, ())
    best = min(fits, key=lambda one: one.aicc)
    likely = np.exp([(best.aicc - one.aicc) / 2.0 for one in fits])
    weights = dict(zip((one.form for one in fits), (likely / likely.sum()).tolist(), strict=True))
    made = Choice(points, best, weights, tuple(fits))
    if ratio is None:
        return made
    lowest, highest = float(points.rates.min()), float(points.rates.max())
    rate = best.pays(ratio, lowest, highest)
    low, high = np.nan, np.nan
    if points.error_df > 0:
        drawn = _drawn_rates(made, ratio, np.random.default_rng(seed))
        low, high = np.quantile(drawn, [0.025, 0.975])
    return Choice(points, best, weights, tuple(fits), rate, float(low), float(high))


def _drawn_rates(choice: Choice, ratio: float, random: np.random.Generator) -> Array:
    """Draw trials like this one, choose a form for each, and find the rate that pays."""
    points = choice.points
    x, w = points.rates, points.weights
    lowest, highest = float(x.min()), float(x.max())
    spread = points.error / points.error_df
    noise = random.standard_normal((DRAWS, x.size)) * np.sqrt(spread / w)
    y = choice.at(x) + noise
    error = spread * random.chisquare(points.error_df, DRAWS)
    best = np.full(DRAWS, np.inf)
    rate = np.full(DRAWS, lowest)
    for form in allowed(points):
        slope, bend, left = _fit_many(form, x, y, w)
        criterion = np.where(
            np.isfinite(left),
            _aicc(form, np.where(np.isfinite(left), left, 1.0) + error, points.count),
            np.inf,
        )
        better = criterion < best
        found = pays(form, slope, bend, ratio, lowest, highest)
        rate[better], best[better] = found[better], criterion[better]
    return rate


def _fit_many(form: str, x: Array, y: Array, w: Array) -> tuple[Array, Array, Array]:
    """Fit one form to many sets of means; what bends the wrong way is left with no fit."""
    total = w.sum()
    up = y - (y @ w / total)[:, None]
    whole = (up**2) @ w
    nothing = np.full(len(y), np.nan)
    if form == NONE:
        return np.zeros(len(y)), nothing, whole
    if form == QUADRATIC:
        columns = np.stack([x, x**2], axis=1)
        columns = columns - (w @ columns / total)
        right = up @ (columns * w[:, None])
        both = np.linalg.solve(columns.T @ (columns * w[:, None]), right.T).T
        left = whole - (both * right).sum(axis=1)
        return both[:, 0], both[:, 1], np.where(both[:, 1] < 0, np.maximum(left, 0.0), np.inf)
    tried = np.array([0.0]) if form == STRAIGHT else bends(form, x)
    r = np.stack([reach(form, x, bend) for bend in tried])
    r = r - (r @ w / total)[:, None]
    room = np.maximum((r**2) @ w, 1e-300)
    slopes = (up * w) @ r.T / room
    left = whole[:, None] - slopes**2 * room
    if form != STRAIGHT:
        left = np.where(slopes > 0, left, np.inf)
    at = np.argmin(left, axis=1)
    rows = np.arange(len(y))
    kept = left[rows, at]
    bend = nothing if form == STRAIGHT else tried[at]
    return slopes[rows, at], bend, np.where(np.isfinite(kept), np.maximum(kept, 0.0), np.inf)


def rise_from_nothing(
    rates: Sequence[float], response: Sequence[float]
) -> tuple[float, float, float, float, float]:
    """Fit ``rise * (1 - exp(-rate_of_rise * x))``, which is 0 at a rate of 0.

    Returns
    -------
    rise, rate_of_rise : float
    rise_error, rate_error : float
        Their standard errors.
    squares : float
        Left.
    """
    x, y = np.asarray(rates, float), np.asarray(response, float)
    tried = bends(EXPONENTIAL, x)
    r = -np.expm1(-tried[:, None] * x)
    explained = (r @ y) ** 2 / (r**2).sum(axis=1)
    rate = float(tried[int(np.argmax(explained))])
    gone = -np.expm1(-rate * x)
    rise = float(gone @ y / (gone @ gone))
    for _ in range(50):  # Gauss and Newton
        gone = -np.expm1(-rate * x)
        slopes = np.stack([gone, rise * x * np.exp(-rate * x)], axis=1)
        scale = np.linalg.norm(slopes, axis=0)
        step = np.linalg.lstsq(slopes / scale, y - rise * gone, rcond=None)[0] / scale
        rise, rate = rise + float(step[0]), rate + float(step[1])
        if np.all(np.abs(step) <= 1e-15 * np.abs([rise, rate])):
            break
    left = y - rise * -np.expm1(-rate * x)
    slopes = np.stack([-np.expm1(-rate * x), rise * x * np.exp(-rate * x)], axis=1)
    squares = float(left @ left)
    spread = np.linalg.inv(slopes.T @ slopes) * squares / (x.size - 2)
    return rise, rate, float(np.sqrt(spread[0, 0])), float(np.sqrt(spread[1, 1])), squares
