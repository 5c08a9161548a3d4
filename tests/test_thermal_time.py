"""Thermal time by every method: hand-worked days, integration, a golden fortnight, an order."""

from __future__ import annotations

from itertools import accumulate, pairwise
from math import acos, cos, inf, isnan, nan, pi

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from simulator.process import sun
from simulator.process import thermal_time as methods
from simulator.process.thermal_time import (
    HORIZONTAL,
    INTERMEDIATE,
    VERTICAL,
    average_ends_clamped,
    average_mean_clamped,
    single_sine,
    single_triangle,
    thermal_time,
)

Cutoff = tuple[int, ...]  # the argument as passed on; empty for the averages, which have none
CUTOFFS = (HORIZONTAL, INTERMEDIATE, VERTICAL)
# tmax tmin base upper | mean clamped, ends clamped, the same below the upper threshold, triangle,
# sine; then triangle and sine by horizontal, intermediate and vertical cutoff [degC d]
DAYS = {
    "C1": ("-2 -10 0 30", "0 0 0 0 0 0", "0 0 0 0 0 0"),
    "C2": ("4 -4 4.4 30", "0 0 0 0 0 0", "0 0 0 0 0 0"),
    "C3": ("10 -10 0 30", "0 5 0 5 2.5 3.1831", "2.5 3.1831 2.5 3.1831 2.5 3.1831"),
    "C4": ("6 -2 4.4 30", "0 0.8 0 0.8 0.16 0.3102", "0.16 0.3102 0.16 0.3102 0.16 0.3102"),
    "C5": ("10 2 4.4 30", "1.6 2.8 1.6 2.8 1.96 2.1765", "1.96 2.1765 1.96 2.1765 1.96 2.1765"),
    "C6": ("15 5 0 30", "10 10 10 10 10 10", "10 10 10 10 10 10"),
    "C7": ("20 10 4.4 30", "10.6 10.6 10.6 10.6 10.6 10.6", "10.6 10.6 10.6 10.6 10.6 10.6"),
    "C8": ("35 15 0 30", "25 25 25 22.5 25 25", "24.375 23.9100 23.75 22.8200 16.875 13.9100"),
    "C9": ("35 15 10 30", "15 15 15 12.5 15 15", "14.375 13.9100 13.75 12.8200 9.375 7.2434"),
    "C10": (
        "40 -5 0 30",
        "17.5 20 17.5 15 17.7778 18.2155",
        "16.6667 16.1668 15.5556 14.1181 10 6.7916",
    ),
    "C11": (
        "33 25 4.4 30",
        "24.6 24.6 24.6 23.1 24.6 24.6",
        "24.0375 23.7868 23.475 22.9735 14.4375 13.0458",
    ),
    "C12": ("40 32 4.4 30", "31.6 31.6 25.6 25.6 31.6 31.6", "25.6 25.6 19.6 19.6 0 0"),
    "C13": ("0 0 0 30", "0 0 0 0 0 0", "0 0 0 0 0 0"),
    "C14": ("12 12 4.4 30", "7.6 7.6 7.6 7.6 7.6 7.6", "7.6 7.6 7.6 7.6 7.6 7.6"),
    "C15": ("30 10 10 30", "10 10 10 10 10 10", "10 10 10 10 10 10"),
    "C16": ("8 0 0 21", "4 4 4 4 4 4", "4 4 4 4 4 4"),
    "C17": ("25 5 0 21", "15 15 15 13 15 15", "14.6 14.2245 14.2 13.4490 10.4 8.0260"),
    "C18": (
        "28 -4 0 21",
        "12 14 12 10.5 12.25 12.6080",
        "11.4844 11.1857 10.7188 9.7635 6.8906 4.6791",
    ),
    "C19": ("5 -15 0 21", "0 2.5 0 2.5 0.625 1.0900", "0.625 1.0900 0.625 1.0900 0.625 1.0900"),
}
COLUMNS = {
    "average_mean_clamped": (0, lambda x, n, b, u: average_mean_clamped(x, n, b)),
    "average_ends_clamped": (1, lambda x, n, b, u: average_ends_clamped(x, n, b)),
    "average_mean_clamped, upper": (2, average_mean_clamped),
    "average_ends_clamped, upper": (3, average_ends_clamped),
    "triangle": (4, lambda x, n, b, u: single_triangle(x, n, b)),
    "sine": (5, lambda x, n, b, u: single_sine(x, n, b)),
    "triangle, horizontal": (6, lambda x, n, b, u: single_triangle(x, n, b, u, HORIZONTAL)),
    "sine, horizontal": (7, lambda x, n, b, u: single_sine(x, n, b, u, HORIZONTAL)),
    "triangle, intermediate": (8, lambda x, n, b, u: single_triangle(x, n, b, u, INTERMEDIATE)),
    "sine, intermediate": (9, lambda x, n, b, u: single_sine(x, n, b, u, INTERMEDIATE)),
    "triangle, vertical": (10, lambda x, n, b, u: single_triangle(x, n, b, u, VERTICAL)),
    "sine, vertical": (11, lambda x, n, b, u: single_sine(x, n, b, u, VERTICAL)),
}


@pytest.mark.analytic("each day worked by formula or integrated, to four decimals")
@pytest.mark.parametrize("method", COLUMNS)
@pytest.mark.parametrize("case", DAYS)
def test_days(case: str, method: str) -> None:
    day, without, with_cutoff = ([float(text) for text in part.split()] for part in DAYS[case])
    column, function = COLUMNS[method]
    assert function(*day) == pytest.approx([*without, *with_cutoff][column], abs=5e-5)


@pytest.mark.other_program("gddPy 1.0.3: average methods, and sine where Tmin < base (recorded)")
def test_days_as_another_program_has_them() -> None:
    assert average_mean_clamped(10.0, 2.0, 4.4) == pytest.approx(1.6, abs=5e-5)
    assert average_ends_clamped(6.0, -2.0, 4.4) == pytest.approx(0.8, abs=5e-5)
    assert single_sine(10.0, -10.0, 0.0) == pytest.approx(3.1831, abs=5e-5)
    assert single_sine(28.0, -4.0, 0.0) == pytest.approx(12.6080, abs=5e-5)


@pytest.mark.analytic("the mean of the upper half of a sine of amplitude 10 is 10/pi")
def test_half_a_sine() -> None:
    assert single_sine(10.0, -10.0, 0.0) == pytest.approx(10 / pi, rel=1e-14)


@pytest.mark.published("Oregon State University Extension EM 8578: max and min of six days")
def test_extension_worksheet() -> None:
    fahrenheit = [(72, 48), (78, 45), (69, 43), (73, 45), (75, 46), (74, 49)]
    exact = [
        average_mean_clamped((high - 32) / 1.8, (low - 32) / 1.8, 0.0) for high, low in fahrenheit
    ]
    cumulative = [15.56, 31.94, 45.28, 60.28, 76.11, 92.50]
    assert list(accumulate(exact)) == pytest.approx(cumulative, abs=5e-3)

    # the printed sums follow when the mean is rounded to whole degF and then the day, halves up
    def as_printed(high: int, low: int) -> int:
        mean = (((high + low) / 2 + 0.5) // 1 - 32) / 1.8
        return int(average_mean_clamped(mean, mean, 0.0) + 0.5)

    daily = [as_printed(*day) for day in fahrenheit]
    assert daily == [16, 17, 13, 15, 16, 17]
    assert list(accumulate(daily)) == [16, 33, 46, 61, 77, 94]


FORTNIGHT = [(12, 1), (8.5, -2), (3, -5), (-1, -9), (2, -6), (6, -1), (11, 0), (15.5, 4), (18, 7),
             (21, 9.5), (26, 12), (33, 17), (9, 5), (7, 4)]  # fmt: skip


@pytest.mark.analytic("a fortnight summed by another's script, to three decimals")
@pytest.mark.parametrize(
    ("function", "thresholds", "expected"),
    [
        (average_mean_clamped, (4.4,), 66.400),
        (average_ends_clamped, (4.4,), 73.550),
        (single_triangle, (4.4,), 68.822),
        (single_sine, (4.4,), 70.029),
        (average_mean_clamped, (0.0,), 111.750),
        (average_ends_clamped, (0.0,), 115.750),
        (single_sine, (0.0,), 113.540),
        (single_sine, (0.0, 30.0, HORIZONTAL), 112.978),
        (thermal_time, (), 112.978),
    ],
)
def test_fortnight(function, thresholds, expected: float) -> None:
    total = sum(function(float(high), float(low), *thresholds) for high, low in FORTNIGHT)
    assert total == pytest.approx(expected, abs=5e-4)


@pytest.mark.analytic("FAO paper 56, eqs 21 and 50, over the same fortnight, 40 degrees north")
def test_sun_of_the_fortnight() -> None:
    above = [sun.extraterrestrial_radiation(40.0, day) for day in range(70, 84)]
    radiation = [
        sun.radiation_from_temperature(float(high), float(low), ra)
        for (high, low), ra in zip(FORTNIGHT, above, strict=True)
    ]
    assert sum(above) == pytest.approx(390.337, abs=5e-4)
    assert sum(radiation) == pytest.approx(189.687, abs=5e-4)


unhurried = settings(deadline=None)  # the first call of a function compiles it
temperatures = st.floats(-40, 50)
spans = st.floats(0.5, 45)


@st.composite
def days(draw: st.DrawFn) -> tuple[float, float]:
    low, high = sorted((draw(temperatures), draw(temperatures)))
    return high, low


def rounding(cutoff: Cutoff) -> float:
    """How far rounding may move a result [degC d].

    Hours above a threshold change as a square root where a sine just grazes it, so that only
    the vertical cutoff, which counts hours, turns 1e-14 into more than itself.
    """
    return 2e-5 if cutoff == (VERTICAL,) else 1e-9


def steady(cutoff: Cutoff, day: tuple[float, float]) -> bool:
    """Whether a rounding cannot put a whole day above or below a threshold at once."""
    high, low = day
    return cutoff != (VERTICAL,) or high - low > 0.5


def integrated(
    shape: str, high: float, low: float, base: float, upper: float, cutoff: int
) -> float:
    """Integrate a half day, coldest to warmest, with the crossings as break points."""
    mean, half = (high + low) / 2, (high - low) / 2

    def temperature(part: float) -> float:
        return low + (high - low) * part if shape == "triangle" else mean - half * cos(pi * part)

    def crossing(threshold: float) -> float:
        if shape == "triangle":
            return (threshold - low) / (high - low)
        return acos((mean - threshold) / half) / pi

    def counts(part: float) -> float:
        now = temperature(part)
        if now <= base:
            return 0.0
        if now <= upper:
            return now - base
        return {HORIZONTAL: upper, INTERMEDIATE: 2 * upper - now, VERTICAL: base}[cutoff] - base

    cuts = [crossing(threshold) for threshold in (base, upper) if low < threshold < high]
    edges = [0.0, *cuts, 1.0]
    return sum(quad(counts, start, stop)[0] for start, stop in pairwise(edges))


@pytest.mark.analytic("numerical integration, scipy.integrate.quad")
@pytest.mark.parametrize("cutoff", CUTOFFS)
@pytest.mark.parametrize("shape", ["triangle", "sine"])
@unhurried
@given(days(), temperatures, spans)
def test_closed_forms_are_the_integrals(
    shape: str, cutoff: int, day: tuple[float, float], base: float, span: float
) -> None:
    function = {"triangle": single_triangle, "sine": single_sine}[shape]
    assume(steady((cutoff,), day))
    expected = integrated(shape, *day, base, base + span, cutoff)
    result = function(*day, base, base + span, cutoff)
    assert result == pytest.approx(max(expected, 0.0), abs=rounding((cutoff,)))


@pytest.mark.analytic("one point, even, arcsine and two points are in convex order; Jensen")
@unhurried
@given(days(), temperatures)
def test_order_of_the_methods(day: tuple[float, float], base: float) -> None:
    in_order = (average_mean_clamped, single_triangle, single_sine, average_ends_clamped)
    results = [function(*day, base) for function in in_order]
    for less, more in pairwise(results):
        assert less <= more + 1e-12 * (1 + abs(more))


@pytest.mark.analytic("methods differ only where Tmin < base, as McMaster and Wilhelm (1997) say")
@unhurried
@given(days(), st.floats(0, 20))
def test_all_agree_on_warm_days(day: tuple[float, float], below: float) -> None:
    high, low = day
    results = [
        function(high, low, low - below)
        for function in (average_mean_clamped, single_triangle, single_sine, average_ends_clamped)
    ]
    assert results == pytest.approx([results[0]] * 4, abs=1e-12)


EVERY = [
    (average_mean_clamped, ()),
    (average_ends_clamped, ()),
    *[(function, (cutoff,)) for function in (single_triangle, single_sine) for cutoff in CUTOFFS],
]
every = pytest.mark.parametrize(
    ("function", "cutoff"), EVERY, ids=[f"{f.py_func.__name__}{c}" for f, c in EVERY]
)


@pytest.mark.analytic("only differences from the thresholds matter")
@every
@unhurried
@given(day=days(), base=temperatures, span=spans, shift=st.floats(-30, 30))
def test_shifting_everything_changes_nothing(
    function, cutoff: Cutoff, day: tuple[float, float], base: float, span: float, shift: float
) -> None:
    assume(steady(cutoff, day))
    high, low = day
    here = function(high, low, base, base + span, *cutoff)
    there = function(high + shift, low + shift, base + shift, base + shift + span, *cutoff)
    assert there == pytest.approx(here, abs=rounding(cutoff))


@pytest.mark.analytic("degF d / 1.8 = degC d with the thresholds converted")
@every
@unhurried
@given(day=days(), base=temperatures, span=spans)
def test_fahrenheit(function, cutoff, day: tuple[float, float], base: float, span: float) -> None:
    assume(steady(cutoff, day))
    celsius = function(*day, base, base + span, *cutoff)
    fahrenheit = [32 + 1.8 * value for value in (*day, base, base + span)]
    assert function(*fahrenheit, *cutoff) / 1.8 == pytest.approx(celsius, abs=rounding(cutoff))


@pytest.mark.analytic("heat held at the threshold = heat above base - heat above the threshold")
@pytest.mark.parametrize("function", [single_triangle, single_sine])
@unhurried
@given(day=days(), base=temperatures, span=spans)
def test_cutoffs_from_two_bases(
    function, day: tuple[float, float], base: float, span: float
) -> None:
    upper = base + span
    above, beyond = function(*day, base), function(*day, upper)
    assert function(*day, base, upper, HORIZONTAL) == pytest.approx(above - beyond, abs=1e-12)
    intermediate = function(*day, base, upper, INTERMEDIATE)
    assert intermediate == pytest.approx(max(above - 2 * beyond, 0.0), abs=1e-12)
    assert 0.0 <= function(*day, base, upper, VERTICAL) <= function(*day, base, upper)


@every
@unhurried
@given(day=days(), base=temperatures, span=spans, warmer=st.floats(0, 20))
def test_never_negative_nor_more_than_the_span(
    function, cutoff: Cutoff, day: tuple[float, float], base: float, span: float, warmer: float
) -> None:
    counted = function(*day, base, base + span, *cutoff)
    assert 0.0 <= counted <= span * (1 + 1e-12) + 1e-12
    if cutoff in ((), (HORIZONTAL,)):
        high, low = day
        assert function(high + warmer, low + warmer, base, base + span, *cutoff) >= counted - 1e-9


@every
@unhurried
@given(day=days(), base=temperatures)
def test_no_upper_threshold_is_one_out_of_reach(
    function, cutoff: Cutoff, day: tuple[float, float], base: float
) -> None:
    expected = function.py_func(*day, base)
    assert function(*day, base, inf, *cutoff) == expected
    assert function(*day, base, 1e6, *cutoff) == expected


@every
@unhurried
@given(day=days(), base=temperatures, span=spans)
def test_compiled_as_written(
    function, cutoff: Cutoff, day: tuple[float, float], base: float, span: float
) -> None:
    values = (*day, base, base + span, *cutoff)
    assert function(*values) == function.py_func(*values)


@unhurried
@given(days())
def test_the_simulators_own(day: tuple[float, float]) -> None:
    assert thermal_time(*day) == single_sine(*day, methods.BASE, methods.UPPER, HORIZONTAL)
    assert thermal_time(*day) == thermal_time.py_func(*day)


@every
@pytest.mark.parametrize(
    "tmax_tmin", [(nan, 5.0), (5.0, nan), (nan, nan), (-9.0, nan), (nan, 40.0)]
)
def test_nan_in_nan_out(function, cutoff: Cutoff, tmax_tmin: tuple[float, float]) -> None:
    for one in (function, function.py_func):
        assert isnan(one(*tmax_tmin, 0.0, 30.0, *cutoff))
        assert isnan(one(*tmax_tmin, 0.0))
    assert isnan(thermal_time(*tmax_tmin))
