"""The weather record: daily tmax, tmin and rain of one place, and the seasons in it.

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
from numpy.typing import ArrayLike, NDArray

from simulator.problems import InputError, Parameter, fault, printable

if TYPE_CHECKING:
    import xarray as xr

NAMES = ("tmax", "tmin", "rain")  # what a record needs; it may have radiation beside
FIRST_MONTH = 7  # months from here on lie in the fall year itself, those before in the next
MOST_DAYS_FILLED = 5
A_DAY = np.timedelta64(1, "D")
MOST_SPELLS = 5  # of days left out that a note names
WANTED = (
    "A record has daily tmax and tmin [degC] and rain [mm] along time; read_weather makes it of a "
    "file, record_from_frame of a table."
)
NO_ZONE = "Take it off with tz_localize(None), so that a date is the station's own day."
DAILY = "Make daily values first: the highest for tmax, the lowest for tmin, the sum for rain."

# units and what CF readers look for
_ATTRIBUTES = {
    "tmax": {
        "units": "degC",
        "long_name": "daily maximum temperature",
        "standard_name": "air_temperature",
        "cell_methods": "time: maximum",
    },
    "tmin": {
        "units": "degC",
        "long_name": "daily minimum temperature",
        "standard_name": "air_temperature",
        "cell_methods": "time: minimum",
    },
    "rain": {
        "units": "mm",
        "long_name": "daily rain, snow as water",
        "standard_name": "lwe_thickness_of_precipitation_amount",
        "cell_methods": "time: sum",
    },
    "radiation": {
        "units": "MJ m-2 d-1",
        "long_name": "daily global radiation, measured",
        "standard_name": "surface_downwelling_shortwave_flux_in_air",
        "cell_methods": "time: mean",
    },
}
_MONTH_DAY = re.compile(r"^(\d{1,2})-(\d{1,2})$")


def make_record(
    time: ArrayLike,
    tmax: ArrayLike,
    tmin: ArrayLike,
    rain: ArrayLike,
    *,
    site: str,
    latitude: float,
    longitude: float | None = None,
    source: str = "",
    invented: str = "no",
    changes: str = "",
    filled: str = "",
    notes: str = "",
    radiation: ArrayLike | None = None,
) -> xr.Dataset:
    """Build a record on an unbroken daily index; days not given become NaN.

    Parameters
    ----------
    time : (n,) datetime64
        Days, in order, none twice.
    tmax, tmin : (n,) float
        Daily maximum and minimum air temperature [degC]; NaN where missing.
    rain : (n,) float
        Daily rain, snow as water [mm]; NaN where missing.
    site : str
        Name of the place.
    latitude : float
        [degrees north]; NaN where it is not known.
    longitude : float, optional
        [degrees east].
    source : str
        File or sample it came from.
    invented : str
        ``"yes"`` for a place that does not exist.
    changes, filled, notes : str
        What a what-if changed, what was filled, and what was noted on reading.
    radiation : (n,) float, optional
        Measured global radiation [MJ m-2 d-1]; NaN where missing.

    Returns
    -------
    Dataset
        ``tmax``, ``tmin``, ``rain`` along ``time``; also ``radiation`` where any was measured.

    Raises
    ------
    InputError
        No days, unequal lengths, days out of order or twice.
    """
    import xarray as xr

    days = np.asarray(time).astype("datetime64[D]")
    given = {"tmax": tmax, "tmin": tmin, "rain": rain}
    columns = {name: np.asarray(values, dtype=float) for name, values in given.items()}
    if radiation is not None and np.isfinite(measured := np.asarray(radiation, dtype=float)).any():
        columns["radiation"] = measured
    if days.size == 0:
        raise fault(f"record of {site}", "It has no days.")
    for name, values in columns.items():
        if values.shape != days.shape:
            raise fault(f"record of {site}", f"{name} has {values.size} values, time {days.size}.")
    steps = np.diff(days).astype(int)
    if (steps <= 0).any():
        at = int(np.argmax(steps <= 0)) + 1
        raise fault(
            f"record of {site}",
            f"{days[at]} comes after {days[at - 1]}.",
            "Give each day once, in order.",
        )
    index = np.arange(days[0], days[-1] + A_DAY)
    place = (days - days[0]).astype(int)
    variables = {}
    for name, values in columns.items():
        spread = np.full(index.size, np.nan)
        spread[place] = values
        variables[name] = ("time", spread, dict(_ATTRIBUTES[name]))
    about: dict[str, Any] = {
        "site": printable(site),
        "latitude": float(latitude),
        "source": printable(source),
        "invented": printable(invented),
        "changes": printable(changes),
        "filled": printable(filled),
        "notes": printable(notes),
    }
    if longitude is not None:
        about["longitude"] = float(longitude)
    return xr.Dataset(variables, {"time": index.astype("datetime64[ns]")}, about)


def place_of(record: xr.Dataset) -> str:
    """Name a record as a message does: ``"record of Lowdale"``."""
    return f"record of {record.attrs.get('site') or 'this site'}"


def unbroken(record: xr.Dataset) -> xr.Dataset:
    """Return a record with every day from its first to its last; days left out become NaN.

    Parameters
    ----------
    record : Dataset
        Along a daily ``time``; not altered.

    Returns
    -------
    Dataset
        The same one where no day is left out; otherwise a copy, ``attrs["notes"]`` of which
        names the days.

    Raises
    ------
    InputError
        No time, no days, times of another kind than datetime64 without a time zone, a day twice
        or out of order, several times a day.
    """
    where = place_of(record)
    if "time" not in record.variables or record.variables["time"].dims != ("time",):
        raise fault(where, "It has no dimension 'time' with a date for each day.", WANTED)
    if getattr(record.variables["time"].dtype, "tz", None) is not None:
        raise fault(where, "Its times have a time zone.", NO_ZONE)
    times = record.variables["time"].values
    if times.dtype.kind != "M":
        raise _no_dates(where, times)
    days = times.astype("datetime64[D]")
    if days.size == 0:
        raise fault(where, "It has no days.")
    if (times == days).all() and (np.diff(days) == A_DAY).all():
        return record
    _check_order(where, days, times)
    told = []
    if (times != days).any():
        hour = str((times - days).astype("timedelta64[m]")[0].astype("datetime64[m]"))[11:]
        told.append(f"its times of day ({hour}) were left out")
    record = record.assign_coords(time=days.astype(times.dtype))
    steps = np.diff(days)
    for at in np.flatnonzero(steps > A_DAY)[:MOST_SPELLS]:
        told.append(f"the record has no days {spell_days(days[at] + A_DAY, days[at + 1] - A_DAY)}")
    if (more := int((steps > A_DAY).sum()) - MOST_SPELLS) > 0:
        told.append(f"nor {more} other spells of days")
    index = np.arange(days[0], days[-1] + A_DAY).astype(times.dtype)
    notes = "; ".join(filter(None, [record.attrs.get("notes"), *told]))
    return record.reindex(time=index).assign_attrs(notes=notes)


def _no_dates(where: str, times: NDArray[Any]) -> InputError:
    if times.size and getattr(times.flat[0], "tzinfo", None) is not None:
        return fault(where, "Its times have a time zone.", NO_ZONE)
    return fault(
        where,
        f"Its time is of the kind {times.dtype}, which is no date.",
        "Make dates of it with pandas.to_datetime.",
    )


def _check_order(where: str, days: NDArray[Any], times: NDArray[Any]) -> None:
    """Refuse days that are blank, out of order or there more than once."""
    if (blank := np.isnat(days)).any():
        raise fault(
            f"{where}, time {int(np.argmax(blank))}",
            "The date is missing (NaT).",
            "Write the date, or take the day out.",
        )
    wrong = np.flatnonzero(np.diff(days) <= np.timedelta64(0, "D"))
    if not wrong.size:
        return
    at = int(wrong[0])
    if days[at] == days[at + 1] and times[at] != times[at + 1]:
        raise fault(
            where, f"It has more than one time on {days[at]}, a record one value a day.", DAILY
        )
    if days[at] == days[at + 1]:
        raise fault(
            where,
            f"{days[at]} stands twice.",
            "Keep each day once, as record.drop_duplicates('time') does.",
        )
    raise fault(
        where,
        f"{days[at + 1]} comes after {days[at]}.",
        "Put the days in order, as record.sortby('time') does.",
    )


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


def fill_short_gaps(record: xr.Dataset, most_days: int = MOST_DAYS_FILLED) -> xr.Dataset:
    """Fill gaps of a few days, and say so.

    Temperature is drawn in a straight line between the days on either side of the gap, and
    held to tmax >= tmin where only one of the two was missing. Rain has no such neighbour:
    it is taken as 0 mm, and the note says how much an average day of the record brings, so
    that the reader can judge what was lost. Longer gaps, and gaps at either end of the
    record, stay NaN and cost the season (`usable_years`).

    Parameters
    ----------
    record : Dataset
        As `make_record` gives it; not altered.
    most_days : int
        Longest gap filled [days].

    Returns
    -------
    Dataset
        A copy; ``attrs["filled"]`` names the days filled, by column.
    """
    record = unbroken(record)
    filled = record.copy(deep=True)
    told = []
    by_column: dict[str, NDArray[np.bool_]] = {}
    for name in NAMES:
        values = record[name].values
        short = np.zeros(values.size, dtype=bool)
        spans = []
        for start, stop in runs_of(np.isnan(values)):
            if stop - start <= most_days and start > 0 and stop < values.size:
                short[start:stop] = True
                spans.append(_span(record, start, stop))
        by_column[name] = short
        if not short.any():
            continue
        if name == "rain":
            filled[name].values[short] = 0.0
            how = f"as 0 mm (an average day here brings {np.nanmean(values):.1f} mm)"
        else:
            known = ~np.isnan(values)
            filled[name].values[short] = np.interp(
                np.flatnonzero(short), np.flatnonzero(known), values[known]
            )
            how = "by a straight line"
        count = int(short.sum())
        told.append(f"{name} {count} {'day' if count == 1 else 'days'} {how}: {', '.join(spans)}")
    tmax, tmin = filled["tmax"].values, filled["tmin"].values
    low = by_column["tmin"] & (tmin > tmax)
    tmin[low] = tmax[low]
    high = by_column["tmax"] & (tmax < tmin)
    tmax[high] = tmin[high]
    before = [record.attrs["filled"]] if record.attrs.get("filled") else []
    filled.attrs["filled"] = "; ".join(before + told)
    return filled


def _span(record: xr.Dataset, start: int, stop: int) -> str:
    days = record["time"].values[[start, stop - 1]].astype("datetime64[D]")
    return str(days[0]) if stop - start == 1 else f"{days[0]}..{days[1]}"


def runs_of(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return the runs of true as (start, stop), stop not among them."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def spell_days(first: np.datetime64, last: np.datetime64) -> str:
    """Return a span of days as in a sentence: ``"from 2006-01-03 to 2006-01-14 (12 days)"``."""
    count = int((last - first).astype(int)) + 1
    return f"on {first}" if count == 1 else f"from {first} to {last} ({count} days)"
