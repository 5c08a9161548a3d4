"""Is this weather? Days out of order, values no station has seen, wrong units, stuck readings.

References
----------
World Meteorological Organization, Archive of Weather and Climate Extremes: highest temperature
56.7 degC (Furnace Creek, 10 July 1913), greatest 24-hour rain 1825 mm (Foc-Foc, La Reunion,
7-8 January 1966). Wettest place by yearly mean: Mawsynram, about 11,900 mm. Lows are bounded
at -60 degC, below any place at which cereals are sown. The limits on the mean of a season
by latitude are ours, set wide of any lowland.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.problems import Problem
from simulator.weather.files.daily import UNKNOWN, Daily
from simulator.weather.files.dates import LATEST, OLDEST, outside_years
from simulator.weather.record import A_DAY, NAMES, runs_of, spell_days

COLDEST, HOTTEST = -60.0, 57.0  # degC
WETTEST, VERY_WET = 1825.0, 400.0  # mm in a day
WETTEST_YEAR, WET_YEAR, DRY_YEAR = 12_000.0, 5_000.0, 100.0  # mm in a mean year
BRIGHTEST = (
    45.0  # MJ m-2 in a day, above all that the sun sends; used where the latitude is unknown
)
HOLE = 60  # days; a longer gap between rows is the summer between two winters
STUCK_BOTH, STUCK_ONE = 5, 10  # days of the same values that make one doubt the reading

SENTINELS = np.array([
    88.0, 88.8, 88.88, 99.0, 99.9, 99.99, 888.0, 888.8, 999.0, 999.9, 999.99,
    6999.0, 8888.0, 9999.0, 9999.9, 99999.0, 32767.0, 32768.0,
])  # fmt: skip
SURELY = 888.0  # mm in a day: possible, but a sentinel where it is written as one
_WRONG_UNIT_SHARE = 0.02  # with more of a column outside, the unit is wrong and not the rows
_LISTED = 5


def judge(daily: Daily, latitude: float | None) -> Daily:
    """Add problems and doubts to what was read, and put its days in order.

    Parameters
    ----------
    daily : Daily
        As read; its lists of problems and doubts grow.
    latitude : float or None
        [degrees north], for what is too warm or too cold there.

    Returns
    -------
    Daily
        Days that have a date, in order, the first of each; it shares the lists.
    """
    good = {
        name: _within_weather(daily, name)
        for name in NAMES
        if name in daily.columns and daily.columns[name].unit not in ("", UNKNOWN)
    }
    if "radiation" in daily.columns and daily.columns["radiation"].unit != UNKNOWN:
        _within_sunlight(daily, latitude)
    if {"tmax", "tmin"} <= good.keys():
        _crossed(daily, good["tmax"] & good["tmin"])
    outside = outside_years(daily.dates)
    _beyond_years(daily, np.flatnonzero(outside))
    dated = np.flatnonzero(~np.isnat(daily.dates) & ~outside)
    if dated.size == 0:
        if not daily.problems:
            daily.problems.append(Problem(daily.file, "It has no day that can be read."))
        return daily.kept(dated)
    _out_of_order(daily.kept(dated))
    kept = dated[np.unique(daily.dates[dated], return_index=True)[1]]
    daily = daily.kept(kept)
    good = {name: mask[kept] for name, mask in good.items()}
    _absent_days(daily)
    _blank_cells(daily)
    for name, mask in good.items():
        if name == "rain":
            _yearly_rain(daily, mask)
        else:
            _seasonal_means(daily, name, mask, latitude)
    _stuck(daily, good)
    return daily


def _beyond_years(daily: Daily, days: NDArray[np.intp]) -> None:
    """Name days of years that no record has, the first in full."""
    if days.size:
        more = f" So do {days.size - 1:,} days more." if days.size > 1 else ""
        daily.problems.append(
            Problem(
                daily.place(int(days[0])),
                f"{daily.dates[days[0]]} lies outside {OLDEST}-{LATEST}.{more}",
                "Correct the date.",
            )
        )


def _out_of_order(daily: Daily) -> None:
    if (np.diff(daily.dates).astype(int) > 0).all():
        return
    seen: dict[np.datetime64, int] = {}
    latest = None
    for i, day in enumerate(daily.dates.tolist()):
        if day in seen:
            what = f"{day} stands a second time, after {_at(daily, seen[day])}."
            daily.problems.append(Problem(daily.place(i), what, "Keep one row a day."))
        else:
            seen[day] = i
            if latest is not None and day < latest:
                daily.problems.append(
                    Problem(
                        daily.place(i), f"{day} comes after {latest}.", "Sort the rows by date."
                    )
                )
        latest = day if latest is None else max(day, latest)


def _at(daily: Daily, day: int) -> str:
    return daily.place(day).removeprefix(f"{daily.file}, ")


def _absent_days(daily: Daily) -> None:
    steps = np.diff(daily.dates).astype(int)
    for i in np.flatnonzero(steps > 1):
        first, last = daily.dates[i] + A_DAY, daily.dates[i + 1] - A_DAY
        if steps[i] - 1 > HOLE:
            daily.notes.append(f"the record has no days {spell_days(first, last)}")
        else:
            daily.doubts.append(
                Problem(
                    daily.place(int(i) + 1),
                    f"No row stands for the days before it, {spell_days(first, last)}.",
                )
            )


def _blank_cells(daily: Daily) -> None:
    """Name runs of days on which the same columns are blank."""
    named = [name for name in daily.written if name != "radiation"]  # a blank is estimated
    blank = np.array([np.isnan(daily.written[name]) for name in named])
    code = (blank * (1 << np.arange(len(named)))[:, None]).sum(axis=0)
    apart = np.concatenate(([True], (np.diff(code) != 0) | (np.diff(daily.dates).astype(int) > 1)))
    starts = np.flatnonzero(apart)
    for start, stop in zip(starts, [*starts[1:], code.size], strict=True):
        if code[start]:
            columns = [name for j, name in enumerate(named) if blank[j, start]]
            daily.doubts.append(
                Problem(
                    daily.place(int(start)),
                    f"{' and '.join(columns)} blank "
                    f"{spell_days(daily.dates[start], daily.dates[stop - 1])}.",
                )
            )
    if "rain" in daily.written:
        _blank_for_dry(daily, daily.written["rain"])


def _blank_for_dry(daily: Daily, rain: NDArray[np.float64]) -> None:
    known = rain[~np.isnan(rain)]
    header = f"{daily.file}, column '{daily.columns['rain'].header}'"
    if known.size and (known > 0).all() and known.size < 0.8 * rain.size:
        daily.doubts.append(
            Problem(
                header,
                f"Rain is blank on {rain.size - known.size} of {rain.size} days and never 0. "
                "A blank is a missing day, not a dry one.",
                "Write 0 on dry days.",
            )
        )
    elif known.size >= 120 and not known.any():
        daily.doubts.append(Problem(header, "Rain is 0 on every day.", "Check the column."))


def _within_weather(daily: Daily, name: str) -> NDArray[np.bool_]:
    """Name values that are no weather; return which are."""
    values, written = daily.values(name), daily.written[name]
    known = ~np.isnan(values)
    column = daily.columns[name]
    low, high = (0.0, WETTEST) if name == "rain" else (COLDEST, HOTTEST)
    outside = known & ((values < low) | (values > high))
    marked = known & np.isin(np.abs(written), SENTINELS)
    sentinel = marked & (outside | (np.abs(values) >= SURELY))
    for code in np.unique(written[sentinel]):
        _sentinel(daily, name, code, np.flatnonzero(sentinel & (written == code)))
    outside &= ~sentinel
    if outside.sum() > max(2.0, _WRONG_UNIT_SHARE * known.sum()):
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
            _topped(daily, np.flatnonzero(marked & ~sentinel))
            for i in np.flatnonzero(known & ~outside & ~sentinel & (values > VERY_WET)):
                what = f"{daily.spell(name, int(i))} of rain in a day."
                daily.doubts.append(Problem(daily.place(int(i), name), what, "Is it so?"))
    return known & ~sentinel & ~outside


def _within_sunlight(daily: Daily, latitude: float | None) -> None:
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
    if outside.size > max(2.0, _WRONG_UNIT_SHARE * np.isfinite(values).sum()):
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


def _topped(daily: Daily, marked: NDArray[np.int64]) -> None:
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
    others = [_at(daily, int(i)) for i in days[1:_LISTED]]
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


def _seasonal_means(
    daily: Daily, name: str, good: NDArray[np.bool_], latitude: float | None
) -> None:
    """Doubt the unit where a season's mean is too warm or too cold for the latitude."""
    if daily.columns[name].unit not in ("degC", "degF") or not good.any():
        return
    values, unit = daily.values(name), daily.columns[name].unit
    month = daily.dates.astype("datetime64[M]").astype(int) % 12 + 1
    south, north = (0.0, 66.0) if latitude is None else (abs(latitude), abs(latitude))
    where = "any latitude" if latitude is None else f"latitude {north:.0f}"
    swing = 6.0 if name == "tmax" else -6.0  # half a wide mean daily range
    winter_most = 32.0 - 0.5 * max(0.0, south - 10.0) + max(swing, 0.0)
    winter_least = 8.0 - 1.1 * max(0.0, north - 22.0) + min(swing, 0.0)
    for months, season, least, most in (
        ((12, 1, 2), "December to February", winter_least, winter_most),
        ((6, 7, 8), "June to August", swing, 44.0 + swing),
    ):
        days = good & np.isin(month, months)
        if days.sum() < 20:
            continue
        mean = float(values[days].mean())
        if least <= mean <= most:
            continue
        warm = mean > most
        guess = {("degC", True): "degF", ("degF", False): "degC"}.get((unit, warm))
        problem = Problem(
            daily.place(int(np.flatnonzero(days)[0]), name),
            f"Its mean over {season} is {mean:.0f} degC, too {'warm' if warm else 'cold'} for "
            f"{where}: the values do not look like {unit}.",
            f"If they are in {guess}, write '{name} ({guess})'."
            if guess
            else "Correct the unit in the header.",
        )
        (daily.problems if warm else daily.doubts).append(problem)


def _yearly_rain(daily: Daily, good: NDArray[np.bool_]) -> None:
    if good.sum() < 90:
        return
    rain = daily.values("rain")[good]
    year = float(rain.mean()) * 365.25
    unit = daily.columns["rain"].unit
    place = f"{daily.file}, column '{daily.columns['rain'].header}'"
    what = f"It comes to {year:,.0f} mm in a mean year"
    if year > WETTEST_YEAR:
        daily.problems.append(
            Problem(
                place,
                f"{what}, more than the wettest place on earth has: the column is not in {unit}.",
                "If it is in mm write 'rain (mm)', if in tenths 'rain (0.1 mm)'.",
            )
        )
    elif year > WET_YEAR:
        daily.doubts.append(
            Problem(
                place,
                f"{what}: is the column in {unit}?",
                "If it is in mm write 'rain (mm)', if in tenths 'rain (0.1 mm)'.",
            )
        )
    elif 0 < year < DRY_YEAR and unit == "mm":
        daily.doubts.append(
            Problem(place, f"{what}, a desert's: are these inches?", "If so, write 'rain (inch)'.")
        )


def _crossed(daily: Daily, good: NDArray[np.bool_]) -> None:
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


def _stuck(daily: Daily, good: dict[str, NDArray[np.bool_]]) -> None:
    follows = np.diff(daily.dates).astype(int) == 1
    same = {
        name: follows & mask[1:] & (np.diff(daily.written[name]) == 0)
        for name, mask in good.items()
    }
    if "rain" in same:
        same["rain"] &= daily.written["rain"][1:] > 0
    if {"tmax", "tmin"} <= same.keys():
        for start, stop in runs_of(same["tmax"] & same["tmin"]):
            _flat(daily, start, stop, STUCK_BOTH, "tmax and tmin stay the same")
    for name, flat in same.items():
        for start, stop in runs_of(flat):
            what = f"{name} stays at {daily.spell(name, start)}"
            _flat(daily, start, stop, STUCK_BOTH if name == "rain" else STUCK_ONE, what)


def _flat(daily: Daily, start: int, stop: int, least: int, what: str) -> None:
    if stop - start + 1 >= least:
        days = spell_days(daily.dates[start], daily.dates[stop])
        daily.doubts.append(
            Problem(daily.place(start), f"{what} {days}.", "Was the instrument stuck?")
        )
