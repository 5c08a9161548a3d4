"""Dates: beyond the years of a record, twice, out of order, absent; and cells that are blank."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.problems import Problem
from simulator.weather.files.daily import Daily
from simulator.weather.files.dates import LATEST, OLDEST
from simulator.weather.files.quality.limits import SUMMER_GAP
from simulator.weather.record import A_DAY, spell_days


def check_years(daily: Daily, days: NDArray[np.intp]) -> None:
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


def check_order(daily: Daily) -> None:
    """Name days that come twice, or after a later one."""
    if (np.diff(daily.dates).astype(int) > 0).all():
        return
    seen: dict[np.datetime64, int] = {}
    latest = None
    for i, day in enumerate(daily.dates.tolist()):
        if day in seen:
            what = f"{day} stands a second time, after {short_place(daily, seen[day])}."
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


def short_place(daily: Daily, day: int) -> str:
    """Say at which row a day is, without the name of the file."""
    return daily.place(day).removeprefix(f"{daily.file}, ")


def check_absent_days(daily: Daily) -> None:
    """Doubt days without a row; a gap as long as a summer is only noted."""
    steps = np.diff(daily.dates).astype(int)
    for i in np.flatnonzero(steps > 1):
        first, last = daily.dates[i] + A_DAY, daily.dates[i + 1] - A_DAY
        if steps[i] - 1 > SUMMER_GAP:
            daily.notes.append(f"the record has no days {spell_days(first, last)}")
        else:
            daily.doubts.append(
                Problem(
                    daily.place(int(i) + 1),
                    f"No row stands for the days before it, {spell_days(first, last)}.",
                )
            )


def check_blanks(daily: Daily) -> None:
    """Name runs of days on which the same columns are blank."""
    named = [name for name in daily.written if name != "radiation"]  # a blank is estimated
    if not named:
        return
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
