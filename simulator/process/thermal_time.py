"""Thermal time (growing degree days): the trade's methods side by side.

They differ only on days that cross a threshold. With no upper threshold a day never counts for
more by one of these than by the next: mean clamped, single triangle, single sine, ends clamped.
A published target in degree days holds only for the method and base it was made with.

Above an upper threshold three cutoffs are in use: *horizontal* counts hours above it as if at
the threshold, *intermediate* takes off what they are above it, *vertical* does not count them.

The simulator's own is `thermal_time`. NaN in, NaN out, throughout.
"""

from math import asin, cos, inf, isnan, nan, pi

from simulator.process.compiled import compiled

BASE = 0.0  # degC, of `thermal_time`
UPPER = 30.0  # degC, of `thermal_time`

HORIZONTAL, INTERMEDIATE, VERTICAL = 0, 1, 2  # kinds of upper cutoff


@compiled
def average_mean_clamped(tmax: float, tmin: float, base: float, upper: float = inf) -> float:
    """Thermal time of a day by the average, the mean held between the thresholds.

    Parameters
    ----------
    tmax, tmin : float
        Daily maximum and minimum temperature [degC].
    base, upper : float
        Lower and upper threshold [degC], upper above base.

    Returns
    -------
    float
        [degC d].

    References
    ----------
    McMaster and Wilhelm (1997), Agric. For. Meteorol. 87:291-300, method 1.
    """
    mean = 0.5 * (tmax + tmin)
    if isnan(mean):
        return nan
    return max(min(mean, upper) - base, 0.0)


@compiled
def average_ends_clamped(tmax: float, tmin: float, base: float, upper: float = inf) -> float:
    """Thermal time of a day by the average, maximum and minimum each held between thresholds.

    Parameters
    ----------
    tmax, tmin, base, upper : float
        As in `average_mean_clamped`.

    Returns
    -------
    float
        [degC d].

    References
    ----------
    McMaster and Wilhelm (1997), Agric. For. Meteorol. 87:291-300, method 2.
    """
    if isnan(tmax + tmin):
        return nan
    return 0.5 * (min(max(tmax, base), upper) + min(max(tmin, base), upper)) - base


@compiled
def single_triangle(
    tmax: float, tmin: float, base: float, upper: float = inf, cutoff: int = HORIZONTAL
) -> float:
    """Thermal time of a day whose temperature runs in straight lines between its ends.

    Parameters
    ----------
    tmax, tmin, base, upper : float
        As in `average_mean_clamped`.
    cutoff : int
        `HORIZONTAL`, `INTERMEDIATE` or `VERTICAL`.

    Returns
    -------
    float
        [degC d].

    References
    ----------
    Zalom et al. (1983), Degree-days: the calculation and use of heat units in pest management,
    University of California leaflet 21373.
    """
    heat = _triangle_above(tmax, tmin, base)
    if isnan(heat) or tmax <= upper:
        return heat
    beyond = _triangle_above(tmax, tmin, upper)
    hours = 1.0 if tmin >= upper else (tmax - upper) / (tmax - tmin)
    return _cut(heat, beyond, hours * (upper - base), cutoff)


@compiled
def single_sine(
    tmax: float, tmin: float, base: float, upper: float = inf, cutoff: int = HORIZONTAL
) -> float:
    """Thermal time of a day whose temperature runs along a sine between its ends.

    Parameters
    ----------
    tmax, tmin, base, upper, cutoff
        As in `single_triangle`.

    Returns
    -------
    float
        [degC d].

    References
    ----------
    Baskerville and Emin (1969), Ecology 50:514-517; cutoffs as in Zalom et al. (1983),
    University of California leaflet 21373.
    """
    heat = _sine_above(tmax, tmin, base)
    if isnan(heat) or tmax <= upper:
        return heat
    beyond = _sine_above(tmax, tmin, upper)
    hours = 1.0 if tmin >= upper else 0.5 - _sine_phase(tmax, tmin, upper) / pi
    return _cut(heat, beyond, hours * (upper - base), cutoff)


@compiled
def thermal_time(tmax: float, tmin: float) -> float:
    """Thermal time of a day as the simulator counts it: single sine, horizontal cutoff.

    Parameters
    ----------
    tmax, tmin : float
        Daily maximum and minimum temperature [degC].

    Returns
    -------
    float
        [degC d] above `BASE` (0 degC), hours above `UPPER` (30 degC) counted as at `UPPER`.

    References
    ----------
    As `single_sine`; base 0 degC for winter cereals: McMaster and Wilhelm (1997), Agric. For.
    Meteorol. 87:291-300.
    """
    return single_sine(tmax, tmin, BASE, UPPER, HORIZONTAL)


@compiled
def _triangle_above(tmax: float, tmin: float, threshold: float) -> float:
    """Mean over the day of what a triangle is above a threshold [degC d]."""
    if isnan(tmax + tmin):
        return nan
    if tmax <= threshold:
        return 0.0
    if tmin >= threshold:
        return 0.5 * (tmax + tmin) - threshold
    return 0.5 * (tmax - threshold) * ((tmax - threshold) / (tmax - tmin))


@compiled
def _sine_above(tmax: float, tmin: float, threshold: float) -> float:
    """Mean over the day of what a sine is above a threshold [degC d]."""
    if isnan(tmax + tmin):
        return nan
    if tmax <= threshold:
        return 0.0
    mean = 0.5 * (tmax + tmin)
    if tmin >= threshold:
        return mean - threshold
    phase = _sine_phase(tmax, tmin, threshold)
    return ((mean - threshold) * (0.5 * pi - phase) + 0.5 * (tmax - tmin) * cos(phase)) / pi


@compiled
def _sine_phase(tmax: float, tmin: float, threshold: float) -> float:
    """Phase [rad] at which a sine between tmin and tmax rises through a threshold among them."""
    return asin(min(max((2.0 * threshold - tmax - tmin) / (tmax - tmin), -1.0), 1.0))


@compiled
def _cut(heat: float, beyond: float, held: float, cutoff: int) -> float:
    """Apply a cutoff to a day that goes above the upper threshold.

    ``heat`` and ``beyond`` are what the day is above the base and above the upper threshold;
    ``held`` is what the hours above the upper threshold would count for if held at it. Of the
    heat of those hours, ``beyond + held``, horizontal takes off ``beyond``, vertical all.
    """
    if cutoff == HORIZONTAL:
        return heat - beyond
    if cutoff == INTERMEDIATE:  # below zero only where it is hotter than two spans above the base
        return max(heat - 2.0 * beyond, 0.0)
    return max(heat - beyond - held, 0.0)
