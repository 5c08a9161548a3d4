"""Single values: beyond the limits of weather, codes for missing values, tmax below tmin."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.problems import Problem
from simulator.weather.files.daily import Daily
from simulator.weather.files.quality.dates import short_place
from simulator.weather.files.quality.limits import (
    BRIGHTEST,
    COLDEST,
    HOTTEST,
    SENTINEL_FROM,
    SENTINELS,
    STUCK_ONE,
    VERY_WET,
    WETTEST,
)

WRONG_UNIT_SHARE = 0.02  # with more of a column outside, the unit is wrong and not the rows
_LISTED = 5


def check_limits(daily: Daily, name: str) -> NDArray[np.bool_]:
    """Name values that are no weather; return which are."""
    values, written = daily.values(name), daily.written[name]
    known = ~np.isnan(values)
    column = daily.columns[name]
    low, high = (0.0, WETTEST) if name == "rain" else (COLDEST, HOTTEST)
    outside = known & ((values < low) | (values > high))
    marked = known & np.isin(np.abs(written), SENTINELS)
    sentinel = marked & (outside | (np.abs(values) >= SENTINEL_FROM))
    for code in np.unique(written[sentinel]):
        _sentinel(daily, name, code, np.flatnonzero(sentinel & (written == code)))
    outside &= ~sentinel
    if outside.sum() > max(2.0, WRONG_UNIT_SHARE * known.sum()):
        _wrong_unit(daily, name, outside, known & ~sentinel)
    else:
        for i in np.flatnonzero(outside):
            daily.problems.append(
                Problem(
                    daily.place(int(i), name),
                    f"{daily.spell(name, int(i))} is outside what weather "
                    f"does ({(low - column.offset) / column.slope:.4g} to "
                    f"{(high - column.offset) / column.slope:.4g} {column.unit}).",
                    "Correct it, or leave it blank.",
                )
            )
        if name == "rain":
            _largest_is_a_code(daily, np.flatnonzero(marked & ~sentinel))
            for i in np.flatnonzero(known & ~outside & ~sentinel & (values > VERY_WET)):
                what = f"{daily.spell(name, int(i))} of rain in a day."
                daily.doubts.append(Problem(daily.place(int(i), name), what, "Is it so?"))
    return known & ~sentinel & ~outside


def check_sunlight(daily: Daily, latitude: float | None) -> None:
    """Name radiation that is negative, or more than reaches the top of the air that day."""
    values, column = daily.values("radiation"), daily.columns["radiation"]
    most = np.full(values.size, BRIGHTEST)
    dated = ~np.isnat(daily.dates)
    if latitude is not None:
        from simulator.process.sun import extraterrestrial_radiation

        by_day = np.array([extraterrestrial_radiation(latitude, day) for day in range(1, 367)])
        days = daily.dates[dated]
        most[dated] = by_day[(days - days.astype("datetime64[Y]")).astype(int)]
    outside = np.flatnonzero(~np.isnan(values) & ((values < 0) | (values > most)))
    if outside.size > max(2.0, WRONG_UNIT_SHARE * np.isfinite(values).sum()):
        first = int(outside[0])
        limit = f"{most[first] / column.slope:.4g} {column.unit}"
        daily.problems.append(
            Problem(
                daily.place(first, "radiation"),
                f"{daily.spell('radiation', first)} and "
                f"{outside.size - 1} other values are below 0 or above what the sun sends to the "
                "top "
                f"of the air (here {limit}).",
                "Correct the unit in the header; leave missing values blank.",
            )
        )
        return
    for i in outside.tolist():
        above = (
            "what the sun sends to the top of the air on that day"
            if latitude is not None
            else "what the sun sends anywhere"
        )
        what = (
            "is below 0"
            if values[i] < 0
            else f"is above {most[i] / column.slope:.4g} {column.unit}, {above}"
        )
        daily.problems.append(
            Problem(
                daily.place(i, "radiation"),
                f"{daily.spell('radiation', i)} of radiation {what}.",
                "Correct it, or leave it blank.",
            )
        )


def _largest_is_a_code(daily: Daily, marked: NDArray[np.int64]) -> None:
    """Doubt a code such as 99.99 that is the largest rain of the file and stands twice."""
    rain = daily.written["rain"]
    top = marked[rain[marked] == np.nanmax(rain)] if marked.size else marked
    if top.size > 1:
        daily.doubts.append(
            Problem(
                daily.place(int(top[0]), "rain"),
                f"{rain[top[0]]:g} stands {top.size} times and nothing is larger.",
                "If it stands for a missing value, leave it blank.",
            )
        )


def _sentinel(daily: Daily, name: str, code: float, days: NDArray[np.int64]) -> None:
    others = [short_place(daily, int(i)) for i in days[1:_LISTED]]
    also = f" It stands also at {', '.join(others)}" if others else ""
    also += f" and {days.size - _LISTED} more." if days.size > _LISTED else "." if others else ""
    daily.problems.append(
        Problem(
            daily.place(int(days[0]), name),
            f"{code:g} stands for a missing value.{also}",
            "Leave missing values blank.",
        )
    )


def _wrong_unit(
    daily: Daily, name: str, outside: NDArray[np.bool_], known: NDArray[np.bool_]
) -> None:
    """Say once that a whole column cannot be in the unit its header has."""
    written, unit = daily.written[name][known], daily.columns[name].unit
    first = int(np.flatnonzero(outside)[0])
    middle, top = float(np.median(written)), float(np.max(written))
    if name == "rain":
        like = "which rain cannot be"
    elif unit == "degC" and top <= 134 and float(np.min(written)) >= -80:
        like = f"as Fahrenheit is (the median is {middle:g}); write '{name} (degF)'"
    elif (written % 1 == 0).all():
        like = (
            f"as tenths of a degree are (the median is {middle:g}); write '{name} (0.1 degC)' "
            f"or '{name} (0.1 degF)'"
        )
    else:
        like = f"with a median of {middle:g}"
    daily.problems.append(
        Problem(
            daily.place(first, name),
            f"{daily.spell(name, first)} and {int(outside.sum()) - 1} other "
            f"values are outside what weather does: the column does not look like {unit}, {like}.",
            "Correct the unit in the header.",
        )
    )


def check_tmax_tmin(daily: Daily, good: NDArray[np.bool_]) -> None:
    """Name days on which tmax is below tmin; doubt columns that are one and the same."""
    same = good & (daily.values("tmax") == daily.values("tmin"))
    if good.sum() >= STUCK_ONE and same.sum() == good.sum():
        daily.doubts.append(
            Problem(
                daily.place(int(np.argmax(good))),
                "tmax equals tmin here and on every other day.",
                "Is one column a copy of the other, or both a mean?",
            )
        )
    below = good & (daily.values("tmax") < daily.values("tmin"))
    if below.sum() > 0.5 * good.sum():
        daily.problems.append(
            Problem(
                daily.place(int(np.argmax(below))),
                f"tmax is below tmin here and on {int(below.sum()) - 1} days more.",
                "Exchange the two headers.",
            )
        )
        return
    for i in np.flatnonzero(below):
        daily.problems.append(
            Problem(
                daily.place(int(i)),
                f"tmax {daily.spell('tmax', int(i))} is below tmin {daily.spell('tmin', int(i))}.",
                "Correct them, or leave both blank.",
            )
        )
