"""The warmth of each season, by every method the trade counts it with."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import inf, isfinite
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.problems import InputError, Parameter, Problem, fault
from simulator.process.compiled import compiled
from simulator.process.thermal_time import (
    BASE,
    HORIZONTAL,
    INTERMEDIATE,
    UPPER,
    VERTICAL,
    average_ends_clamped,
    average_mean_clamped,
    single_sine,
    single_triangle,
)
from simulator.season.labels import of_record
from simulator.season.plan import ANY_YEAR, month_day
from simulator.weather.fall_year import keep_filled, season_day, usable_years
from simulator.weather.files.record_check import checked
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray as xr

BASE_RANGE = (-20.0, 30.0)  # degC, beyond any threshold published for a crop or a pest
HIGHEST_UPPER = 60.0  # degC
MOST_BASES = 50

# in the order of `_add_day`; the first four go without an upper threshold
METHODS = (
    "average mean clamped",
    "average ends clamped",
    "single triangle",
    "single sine",
    "average mean clamped, horizontal cutoff",
    "average ends clamped, horizontal cutoff",
    "single triangle, horizontal cutoff",
    "single triangle, intermediate cutoff",
    "single triangle, vertical cutoff",
    "single sine, horizontal cutoff",
    "single sine, intermediate cutoff",
    "single sine, vertical cutoff",
)
WITHOUT_UPPER = 4
SIMULATORS_OWN = f"single sine, horizontal cutoff at {UPPER:g} degC, base {BASE:g} degC"


def degree_days(
    record: xr.Dataset,
    *,
    bases: Sequence[float],
    upper: float | None = None,
    first: str = "10-20",
    last: str = "04-15",
    years: Iterable[int] | None = None,
) -> xr.Dataset:
    """Sum thermal time over each season by every method, side by side.

    Parameters
    ----------
    record : Dataset
        ``tmax`` and ``tmin`` [degC] along ``time``; gaps of a few days are filled as
        everywhere (`fill_short_gaps`). Rain is not needed.
    bases : sequence of float
        Lower thresholds [degC]; one that is given twice is taken once.
    upper : float, optional
        Upper threshold [degC], above every base; with it each cutoff is added.
    first, last : str
        First and last day counted, ``MM-DD`` of the fall year's season.
    years : iterable of int, optional
        Fall years; all that the record has by default.

    Returns
    -------
    Dataset
        ``thermal_time_degC_d`` with dimensions year, base [degC] and counted_by (of
        `METHODS`, the first `WITHOUT_UPPER` if no upper threshold is given).
        ``attrs["left_out"]`` lists the seasons that the record does not cover, with the
        reason, and ``attrs["simulator_uses"]`` says how the simulator itself counts.

    Raises
    ------
    InputError
        A threshold out of range, a date that cannot be read or is out of order, or no season
        with whole temperatures.
    """
    import xarray as xr

    lower = np.array(list(dict.fromkeys(map(float, bases))))
    first, last = _check(lower, upper, first, last)
    filled = fill_short_gaps(_without_need_of_rain(checked(record)))
    wanted = None if years is None else sorted(set(years))
    if wanted == []:
        raise fault(Parameter("years"), "No year given.")
    kept, reasons = usable_years(filled, first, last, wanted)
    left_out = [f"{year}: {why}" for year, why in reasons.items()]
    if not kept:
        text = f" ({left_out[0]})" if left_out else ""
        raise fault(
            "weather",
            f"No season has whole temperatures from {first} to {last}{text}.",
            "Give a record that covers these days, or other days or years.",
        )
    begin = filled["time"].values[0].astype("datetime64[D]")
    spans = np.array(
        [[(season_day(year, day) - begin).astype(int) for day in (first, last)] for year in kept]
    )
    used = [(season_day(year, first), season_day(year, last)) for year in kept]
    methods = METHODS if upper is not None else METHODS[:WITHOUT_UPPER]
    sums = np.zeros((len(kept), lower.size, len(methods)))
    tmax, tmin = (np.ascontiguousarray(filled[name].values, float) for name in ("tmax", "tmin"))
    _sum_seasons(tmax, tmin, spans, lower, inf if upper is None else float(upper), sums)
    return xr.Dataset(
        {
            "thermal_time_degC_d": (
                ("year", "base", "counted_by"),
                sums,
                {"units": "degC d", "long_name": "thermal time"},
            )
        },
        {
            "year": kept,
            "base": ("base", lower, {"units": "degC", "long_name": "lower threshold"}),
            "counted_by": list(methods),
        },
        {
            **of_record(keep_filled(filled, used)),
            "first": first,
            "last": last,
            **({} if upper is None else {"upper_degC": float(upper)}),
            "simulator_uses": SIMULATORS_OWN,
            "left_out": left_out,
        },
    )


def _check(
    bases: np.ndarray[Any, Any], upper: float | None, first: str, last: str
) -> tuple[str, str]:
    problems = []
    low, high = BASE_RANGE
    if not 1 <= bases.size <= MOST_BASES:
        problems.append(
            Problem(
                Parameter("base"), f"{bases.size} thresholds given.", f"Give 1 to {MOST_BASES}."
            )
        )
    problems += [
        Problem(
            Parameter("base"),
            f"{base:.4g} degC ({1.8 * base + 32:.4g} degF) is out of range.",
            f"Take {low:g} to {high:g} degC ({1.8 * low + 32:g} to {1.8 * high + 32:g} degF).",
        )
        for base in bases
        if not low <= base <= high
    ]
    if upper is not None and not (isfinite(upper) and upper <= HIGHEST_UPPER):
        problems.append(
            Problem(
                Parameter("upper"),
                f"{upper:.4g} degC is out of range.",
                f"Take at most {HIGHEST_UPPER:g} degC.",
            )
        )
    elif upper is not None and bases.size and not upper > bases.max():
        problems.append(
            Problem(
                Parameter("upper"),
                f"{upper:.4g} degC is not above {bases.max():.4g} degC.",
                "The upper threshold lies above every base.",
            )
        )
    ends = []
    for day, name in ((first, Parameter("from")), (last, Parameter("to"))):
        try:
            ends.append(month_day(day, name=name))
        except InputError as error:
            problems += error.problems
    if len(ends) == 2 and season_day(ANY_YEAR, ends[1]) < season_day(ANY_YEAR, ends[0]):
        problems.append(
            Problem(
                Parameter("to"), f"{last} comes before {first}.", "A season runs from July to June."
            )
        )
    if problems:
        raise InputError(problems)
    return ends[0], ends[1]


def _without_need_of_rain(record: xr.Dataset) -> xr.Dataset:
    """Let a day that lacks only its rain count as whole."""
    some = record["tmax"].notnull() | record["tmin"].notnull()
    rain = record["rain"].where(record["rain"].notnull() | ~some, 0.0)
    return record.assign(rain=rain)


@compiled
def _sum_seasons(
    tmax: np.ndarray[Any, Any],
    tmin: np.ndarray[Any, Any],
    spans: np.ndarray[Any, Any],
    bases: np.ndarray[Any, Any],
    upper: float,
    sums: np.ndarray[Any, Any],
) -> None:
    """Add up each season, base and method; ``sums`` has the shape (season, base, method)."""
    for season in range(spans.shape[0]):
        for at in range(bases.size):
            for day in range(spans[season, 0], spans[season, 1] + 1):
                _add_day(tmax[day], tmin[day], bases[at], upper, sums[season, at])


@compiled
def _add_day(
    high: float, low: float, base: float, upper: float, sums: np.ndarray[Any, Any]
) -> None:
    """Add one day to each of `METHODS`, or to those without an upper threshold."""
    sums[0] += average_mean_clamped(high, low, base)
    sums[1] += average_ends_clamped(high, low, base)
    sums[2] += single_triangle(high, low, base)
    sums[3] += single_sine(high, low, base)
    if upper == inf:
        return
    sums[4] += average_mean_clamped(high, low, base, upper)
    sums[5] += average_ends_clamped(high, low, base, upper)
    sums[6] += single_triangle(high, low, base, upper, HORIZONTAL)
    sums[7] += single_triangle(high, low, base, upper, INTERMEDIATE)
    sums[8] += single_triangle(high, low, base, upper, VERTICAL)
    sums[9] += single_sine(high, low, base, upper, HORIZONTAL)
    sums[10] += single_sine(high, low, base, upper, INTERMEDIATE)
    sums[11] += single_sine(high, low, base, upper, VERTICAL)
