"""The methods of counting a day's warmth, as the class view shows them: value, formula, working.

Every value comes from `simulator.process.thermal_time`; the working puts the day's numbers, in
the reader's units, into the formula that it follows.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from math import asin, inf, pi

import numpy as np
from numpy.typing import NDArray

from simulator import units
from simulator.process import thermal_time as counted

Hours = NDArray[np.float64]

CURVES = ("mean", "ends", "triangle", "sine")
CUTOFFS = ("none", "horizontal", "intermediate", "vertical")
OWN = ("sine", "horizontal")  # the simulator's, between `counted.BASE` and `counted.UPPER`
CURVE_NAMES = {
    "mean": "average mean clamped",
    "ends": "average ends clamped",
    "triangle": "single triangle",
    "sine": "single sine",
}
CUTOFF_NAMES = {
    "none": "no cutoff",
    "horizontal": "horizontal cutoff",
    "intermediate": "intermediate cutoff",
    "vertical": "vertical cutoff",
}
SOURCES = {
    "mean": "McMaster and Wilhelm (1997), Agric. For. Meteorol. 87:291-300, method 1",
    "ends": "McMaster and Wilhelm (1997), Agric. For. Meteorol. 87:291-300, method 2",
    "triangle": "Zalom et al. (1983), Degree-days: the calculation and use of heat units in pest "
    "management, University of California leaflet 21373",
    "sine": "Baskerville and Emin (1969), Ecology 50:514-517",
}
CUT_SOURCE = "cutoffs: Zalom et al. (1983), University of California leaflet 21373"
FORMULAS = {
    ("mean", "none"): "M − B, not less than 0, where M = (Tmax + Tmin) / 2",
    ("mean", "horizontal"): "M, but at most U, − B, not less than 0, where M = (Tmax + Tmin) / 2",
    ("ends", "none"): "(X + N) / 2 − B, where X and N are Tmax and Tmin, each at least B",
    ("ends", "horizontal"): "(X + N) / 2 − B, where X and N are Tmax and Tmin, each at least B "
    "and at most U",
    ("triangle", "none"): "H(B) = (Tmax − B)² / (2 (Tmax − Tmin)) on a day that crosses B; M − B "
    "on one that stays above it, where M = (Tmax + Tmin) / 2; else 0",
    ("sine", "none"): "H(B) = ((M − B)(π/2 − θ) + W cos θ) / π on a day that crosses B, where "
    "M = (Tmax + Tmin) / 2, W = (Tmax − Tmin) / 2, θ = arcsin((B − M) / W); "
    "M − B on one that stays above it; else 0",
}
CUT_FORMULAS = {
    "horizontal": "H(B) − H(U)",
    "intermediate": "H(B) − 2 H(U), not less than 0",
    "vertical": "H(B) − H(U) − p (U − B), where p is the share of the day above U",
}
_KINDS = {
    "horizontal": counted.HORIZONTAL,
    "intermediate": counted.INTERMEDIATE,
    "vertical": counted.VERTICAL,
}

FINE = 20_001  # points of half a day


@dataclass(frozen=True, slots=True)
class Day:
    """A day and its thresholds [degC]."""

    tmax: float
    tmin: float
    base: float
    upper: float


def _values() -> dict[tuple[str, str], Callable[[Day], float]]:
    """Tie each method of the trade to the function that counts it."""
    plain = {"mean": counted.average_mean_clamped, "ends": counted.average_ends_clamped}
    curved = {"triangle": counted.single_triangle, "sine": counted.single_sine}
    made: dict[tuple[str, str], Callable[[Day], float]] = {}
    for curve, count in {**plain, **curved}.items():
        made[curve, "none"] = partial(_count, count, cut=False)
        made[curve, "horizontal"] = partial(_count, count)
    for curve, count in curved.items():
        for cutoff in ("intermediate", "vertical"):
            made[curve, cutoff] = partial(_count, count, kind=(_KINDS[cutoff],))
    return {
        (curve, cutoff): made[curve, cutoff]
        for curve in CURVES
        for cutoff in CUTOFFS
        if (curve, cutoff) in made
    }


def _count(
    count: Callable[..., float], day: Day, *, cut: bool = True, kind: tuple[int, ...] = ()
) -> float:
    return float(count(day.tmax, day.tmin, day.base, day.upper if cut else inf, *kind))


VALUES = _values()  # (curve, cutoff) -> a day's thermal time [degC d]


def air(curve: str, day: Day, hours: Hours) -> Hours:
    """Return the temperature by the hour, as a curve takes the day to run.

    Parameters
    ----------
    curve : str
        Of `CURVES`.
    day : Day
    hours : array
        From one lowest temperature to the next, 0 to 24 [h].

    Returns
    -------
    array, same shape
        [degC].
    """
    middle, half = (day.tmax + day.tmin) / 2, (day.tmax - day.tmin) / 2
    swing = {
        "mean": np.zeros_like(hours),
        "ends": np.where(np.abs(hours - 12.0) < 6.0, 1.0, -1.0),
        "triangle": 1.0 - np.abs(hours - 12.0) / 6.0,
        "sine": -np.cos(2.0 * pi * hours / 24.0),
    }[curve]
    return middle + half * swing


def counted_by_hour(curve: str, cutoff: str, day: Day, hours: Hours) -> Hours:
    """Return what a method counts of each hour [degC]: the mean is the day's, at least nothing."""
    runs = air(curve, day, hours)
    warmth, beyond = np.maximum(runs - day.base, 0.0), np.maximum(runs - day.upper, 0.0)
    return {
        "none": warmth,
        "horizontal": warmth - beyond,
        "intermediate": warmth - 2.0 * beyond,
        "vertical": np.where(beyond > 0.0, 0.0, warmth),
    }[cutoff]


def shaded_by_hour(curve: str, cutoff: str, day: Day, hours: Hours) -> Hours:
    """Return how high above the base a picture is shaded by the hour [degC].

    As `counted_by_hour`, but where an intermediate cutoff counts the hottest hours below nothing:
    these are not shaded, nor as much of the hours beside them as they cancel. So the area is what
    the method counts.
    """
    warmth = np.maximum(counted_by_hour(curve, cutoff, day, hours), 0.0)
    if cutoff != "intermediate" or not (off := cancelled(curve, day)):
        return warmth
    return np.where(np.abs(hours - 12.0) > off, warmth, 0.0)


def cancelled(curve: str, day: Day) -> float:
    """Return how long before and after noon an intermediate cutoff leaves nothing to shade [h]."""
    hours = np.linspace(0.0, 12.0, FINE)
    warmth = counted_by_hour(curve, "intermediate", day, hours)
    if warmth.min() >= 0.0:
        return 0.0
    lifted = np.maximum(warmth, 0.0)
    gathered = np.append(0.0, np.cumsum((lifted[1:] + lifted[:-1]) / 2 * np.diff(hours)))
    half = 12.0 * VALUES[curve, "intermediate"](day)  # of the day's degrees times hours
    return 12.0 - float(np.interp(half, gathered, hours))


def jumps(curve: str, cutoff: str, day: Day) -> list[float]:
    """Return the hours at which the shading or the curve jumps [h]."""
    if curve == "ends":
        return [6.0, 18.0]
    if curve == "mean":
        return []
    off = 0.0
    if cutoff == "vertical":
        off = 12.0 * share_above(curve, day.tmax, day.tmin, day.upper)
    elif cutoff == "intermediate":
        off = cancelled(curve, day)
    return [12.0 - off, 12.0 + off] if 0.0 < off < 12.0 else []


def share_above(curve: str, high: float, low: float, threshold: float) -> float:
    """Return the share of the day that a triangle or a sine lies above a threshold."""
    if high <= threshold:
        return 0.0
    if low >= threshold:
        return 1.0
    if curve == "triangle":
        return (high - threshold) / (high - low)
    return 0.5 - asin((2.0 * threshold - high - low) / (high - low)) / pi


def method_name(curve: str, cutoff: str) -> str:
    """Name a method: ``"single sine, horizontal cutoff"``."""
    named = CURVE_NAMES[curve]
    return named if cutoff == "none" else f"{named}, {CUTOFF_NAMES[cutoff]}"


def formula(curve: str, cutoff: str) -> list[str]:
    """Return a method's formula, in one line or two, and its source."""
    if (curve, cutoff) in FORMULAS:
        return [FORMULAS[curve, cutoff], f"{SOURCES[curve]}."]
    plain = FORMULAS[curve, "none"]
    source = SOURCES[curve] if curve == "triangle" else f"{SOURCES[curve]}; {CUT_SOURCE}"
    return [CUT_FORMULAS[cutoff], plain, f"{source}."]


def all_formulas() -> list[tuple[str, list[str]]]:
    """Return every method's name, formula and source; H stands with the curve it belongs to."""
    lines = {key: formula(*key) for key in VALUES}
    return [(method_name(*key), [found[0], found[-1]]) for key, found in lines.items()]


class Working:
    """A day's numbers put into a formula, in the reader's units.

    Parameters
    ----------
    day : Day
    system : {"us", "si"}
    """

    def __init__(self, day: Day, system: units.System) -> None:
        self.day, self.system = day, system
        self.high, self.low, self.base, self.upper = (
            float(units.show(value, "temperature", system))
            for value in (day.tmax, day.tmin, day.base, day.upper)
        )
        self.middle, self.half = (self.high + self.low) / 2, (self.high - self.low) / 2

    def said(self, value: float) -> str:
        """Spell a thermal time [degC d] without its unit, to two places."""
        return f"{float(units.show(value, 'thermal_time', self.system)) + 0.0:.2f}"

    def lines(self, curve: str, cutoff: str) -> list[str]:
        """Return the working of a method, line by line; the last ends in the day's value."""
        return [line.replace("-", "−") for line in self._lines(curve, cutoff)]

    def _lines(self, curve: str, cutoff: str) -> list[str]:
        value = self.said(VALUES[curve, cutoff](self.day))
        unit = units.label("thermal_time", self.system)
        if curve == "mean":
            mean, ceiling = self.middle, self.upper if cutoff == "horizontal" else inf
            steps = [f"M = ({plainly(self.high)} + {plainly(self.low)}) / 2 = {plainly(mean)}"]
            if mean > ceiling:
                steps.append(f"{plainly(mean)} lies above U: take {plainly(ceiling)}")
            held = min(mean, ceiling)
            below = "; less than 0, so 0" if held < self.base else ""
            left = f"{plainly(held)} − {plainly(self.base)} = {held - self.base:.2f}"
            return [*steps, f"{left}{below}: {value} {unit}"]
        if curve == "ends":
            ceiling = self.upper if cutoff == "horizontal" else inf
            high, low = (min(max(end, self.base), ceiling) for end in (self.high, self.low))
            first, second, base = map(plainly, (high, low, self.base))
            return [
                f"X = {first}, N = {second}",
                f"({first} + {second}) / 2 − {base} = {value} {unit}",
            ]
        steps = self._heat_above_lines("B", self.base, curve)
        if cutoff == "none" or self.high <= self.upper:
            untouched = [] if cutoff == "none" else ["Tmax does not lie above U: no cutoff"]
            return [*steps, *untouched, f"{value} {unit}"]
        heat, beyond = (
            self.said(VALUES[curve, "none"](self._day_above(threshold)))
            for threshold in (self.day.base, self.day.upper)
        )
        steps += self._heat_above_lines("U", self.upper, curve)
        if cutoff == "vertical":
            share = self.share_above(self.upper, curve)
            span = f"({plainly(self.upper)} − {plainly(self.base)})"
            left = f"{heat} − {beyond} − {share:.4f} × {span}"
        else:
            left = f"{heat} − {'2 × ' if cutoff == 'intermediate' else ''}{beyond}"
        negative = cutoff == "intermediate" and float(heat) < 2 * float(beyond)
        lifted = ", not less than 0" if negative else ""
        return [*steps, f"{left}{lifted} = {value} {unit}"]

    def _day_above(self, threshold: float) -> Day:
        return Day(self.day.tmax, self.day.tmin, threshold, inf)

    def _heat_above_lines(self, letter: str, threshold: float, curve: str) -> list[str]:
        """Work out H of a threshold."""
        celsius = self.day.base if letter == "B" else self.day.upper
        value = self.said(VALUES[curve, "none"](self._day_above(celsius)))
        edge, high, low, middle = (
            plainly(x) for x in (threshold, self.high, self.low, self.middle)
        )
        if self.high <= threshold:
            return [f"H({letter}) = {value}: Tmax does not lie above {edge}"]
        if self.low >= threshold:
            return [f"H({letter}) = {middle} − {edge} = {value}"]
        if curve == "triangle":
            return [f"H({letter}) = ({high} − {edge})² / (2 × ({high} − {low})) = {value}"]
        angle = f"({asin((threshold - self.middle) / self.half):.4f})"
        return [
            f"θ = arcsin(({edge} − {middle}) / {plainly(self.half)}) = {angle[1:-1]} radians",
            f"H({letter}) = (({middle} − {edge}) × (π/2 − {angle}) + {plainly(self.half)} × "
            f"cos{angle}) / π = {value}",
        ]

    def share_above(self, threshold: float, curve: str) -> float:
        """Return the share of the day that a curve is above a threshold in reader's units."""
        return share_above(curve, self.high, self.low, threshold)


def plainly(value: float) -> str:
    """Spell a temperature as short as it can be; below zero in brackets."""
    text = f"{round(value, 2) + 0.0:g}"
    return f"(−{text[1:]})" if text.startswith("-") else text
