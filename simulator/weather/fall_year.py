"""The fall year, a season's days in it, and which falls of a record can be used.

A fall year runs from 1 July to the 30 June after it, so that ``10-20`` of season 2015 is
2015-10-20 and ``04-15`` of season 2015 is 2016-04-15.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import MAXYEAR, MINYEAR, date
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator.problems import Parameter, fault
from simulator.weather.record import A_DAY, NAMES, runs_of, spell_days, unbroken

if TYPE_CHECKING:
    import xarray as xr
FIRST_MONTH = 7  # months from here on lie in the fall year itself, those before in the next
# as `simulator.weather.record.fill_short_gaps` says it
_FILLED = re.compile(
    r"^(?P<name>tmax|tmin|rain) \d+ days? (?P<how>.*): "
    r"(?P<gaps>\d{4}-\d\d-\d\d(?:\.\.|, |\d{4}-\d\d-\d\d)*)$"
)
_MONTH_DAY = re.compile(r"^(\d{1,2})-(\d{1,2})$")


@lru_cache(maxsize=50_000)  # a grid asks for the same days at each of thousands of places
def season_day(year: int, day: str, *, name: str = "date") -> np.datetime64:
    """Return the day ``MM-DD`` of the season whose fall is in ``year``.

    Parameters
    ----------
    year : int
        Fall year.
    day : str
        ``"10-20"`` lies in ``year``, ``"04-15"`` in the next.
    name : str
        The option, for the message.

    Returns
    -------
    datetime64[D]

    Raises
    ------
    InputError
        Not written so, a day that does not exist, or 29 February.
    """
    match = _MONTH_DAY.match(day.strip())
    if not match:
        raise fault(name, f"'{day}' is not a date of a season.", "Write month-day: 10-20.")
    month, of_month = int(match[1]), int(match[2])
    if (month, of_month) == (2, 29):
        raise fault(name, "02-29 does not exist in every year.", "Write 02-28 or 03-01.")
    if not MINYEAR < year < MAXYEAR:
        raise fault(
            Parameter("year"), f"{year} is not a year of the calendar.", "Write for example 2007."
        )
    try:
        found = date(year if month >= FIRST_MONTH else year + 1, month, of_month)
    except ValueError as error:
        raise fault(
            name, f"'{day}' is not a day of the calendar.", "Write month-day: 10-20."
        ) from error
    return np.datetime64(found, "D")


def fall_season(
    record: xr.Dataset, year: int, first: str = "07-01", last: str = "06-30"
) -> xr.Dataset:
    """Cut one season out of a record.

    Parameters
    ----------
    record : Dataset
        As `make_record` gives it.
    year : int
        Fall year.
    first, last : str
        First and last day needed, ``MM-DD``.

    Returns
    -------
    Dataset
        The days from first to last, both among them, no value missing.

    Raises
    ------
    InputError
        The record does not cover those days, or has gaps in them; the message says which.
    """
    record = unbroken(record)
    reason = why_not(record, year, first, last)
    if reason:
        raise fault(f"season {year} at {record.attrs.get('site', 'this site')}", reason)
    return record.sel(time=slice(season_day(year, first), season_day(year, last)))


def why_not(record: xr.Dataset, year: int, first: str, last: str) -> str:
    """Say why a season cannot be used, in a sentence; empty where it can."""
    return _why_not(_days_and_gaps(record), year, first, last)


def _days_and_gaps(record: xr.Dataset) -> tuple[NDArray[Any], dict[str, NDArray[np.bool_]]]:
    record = unbroken(record)
    days = record["time"].values.astype("datetime64[D]")
    return days, {name: np.isnan(record[name].values) for name in NAMES}


def _why_not(
    known: tuple[NDArray[Any], dict[str, NDArray[np.bool_]]], year: int, first: str, last: str
) -> str:
    days, gaps = known
    begin, end = season_day(year, first, name="first"), season_day(year, last, name="last")
    if end < begin:
        raise fault("last", f"{last} comes before {first} in a season.")
    if begin < days[0] or end > days[-1]:
        return f"{begin} to {end} is needed, the record has {days[0]} to {days[-1]}."
    inside = slice(int((begin - days[0]).astype(int)), int((end - days[0]).astype(int)) + 1)
    missing = {name: gone[inside] for name, gone in gaps.items()}
    if not any(gone.any() for gone in missing.values()):
        return ""
    runs = [(name, *run) for name, gone in missing.items() for run in runs_of(gone)]
    _, start, stop = max(runs, key=lambda run: run[2] - run[1])
    columns = [name for name, from_, to in runs if from_ <= start and to >= stop]
    spell = spell_days(begin + start * A_DAY, begin + (stop - 1) * A_DAY)
    return f"no {' and '.join(columns)} {spell}."


def usable_years(
    record: xr.Dataset, first: str, last: str, years: Iterable[int] | None = None
) -> tuple[list[int], dict[int, str]]:
    """Sort the seasons of a record into those that can be run and those that cannot.

    Parameters
    ----------
    record : Dataset
        Short gaps already filled by `fill_short_gaps`, if they are to be.
    first, last : str
        First and last day needed, ``MM-DD``.
    years : iterable of int, optional
        Fall years asked for; by default each that has any day of the span with a value.

    Returns
    -------
    list of int
        Years in which no value is missing from first to last.
    dict of int to str
        For each other year, why not.
    """
    if years is None:
        years = _years_touched(record, first, last)
    known = _days_and_gaps(record)
    reasons = {year: _why_not(known, year, first, last) for year in years}
    good = [year for year, reason in reasons.items() if not reason]
    return good, {year: reason for year, reason in reasons.items() if reason}


def keep_filled(record: xr.Dataset, spans: Iterable[tuple[Any, Any]]) -> xr.Dataset:
    """Return a record that says only of the days that are used what was filled.

    Parameters
    ----------
    record : Dataset
        From `fill_short_gaps`, whose wording ``attrs["filled"]`` has.
    spans : iterable of (datetime64, datetime64)
        First and last day of each season that is used.
    """
    text = str(record.attrs.get("filled", ""))
    if not text:
        return record
    used = [tuple(str(np.datetime64(day, "D")) for day in span) for span in spans]
    kept = []
    for part in text.split("; "):
        match = _FILLED.match(part)
        if match is None:  # what a file says of itself
            kept.append(part)
            continue
        gaps = [
            gap
            for gap in match["gaps"].split(", ")
            if any(gap[:10] <= last and gap[-10:] >= first for first, last in used)
        ]
        days = sum(
            int((np.datetime64(gap[-10:]) - np.datetime64(gap[:10])).astype(int)) + 1
            for gap in gaps
        )
        if gaps:
            spelled = f"{days} {'day' if days == 1 else 'days'}"
            kept.append(f"{match['name']} {spelled} {match['how']}: {', '.join(gaps)}")
    return record.assign_attrs(filled="; ".join(kept))


def first_whole(record: xr.Dataset, last: str) -> str | None:
    """Return the earliest day from which some season's weather is whole to a last day.

    Parameters
    ----------
    record : Dataset
        Short gaps already filled by `fill_short_gaps`, if they are to be.
    last : str
        ``MM-DD``.

    Returns
    -------
    str or None
        ``MM-DD``; None where no season has even the last day.
    """
    record = unbroken(record)
    days = record["time"].values.astype("datetime64[D]")
    whole = ~np.isnan(np.vstack([record[name].values for name in NAMES])).any(axis=0)
    found = []
    for year in _years_touched(record, last, last):
        at = int((season_day(year, last) - days[0]).astype(int))
        if not whole[at]:
            continue
        gaps = np.flatnonzero(~whole[:at])
        first = days[int(gaps[-1]) + 1 if gaps.size else 0]
        found.append((max(int((first - season_day(year, "07-01")).astype(int)), 0), year))
    if not found:
        return None
    after, year = min(found)
    return str(season_day(year, "07-01") + after * A_DAY)[5:]


def _years_touched(record: xr.Dataset, first: str, last: str) -> list[int]:
    days = record["time"].values.astype("datetime64[D]")
    known = ~np.isnan(np.vstack([record[name].values for name in NAMES])).all(axis=0)
    from_, to = (int(str(day)[:4]) for day in (days[0], days[-1]))
    return [
        year
        for year in range(from_ - 1, to + 1)
        if (known & (days >= season_day(year, first)) & (days <= season_day(year, last))).any()
    ]
