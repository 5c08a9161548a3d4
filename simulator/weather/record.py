"""The weather record: daily tmax, tmin and rain of one place, its days and its gaps."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simulator.problems import InputError, fault, printable

if TYPE_CHECKING:
    import xarray as xr

NAMES = ("tmax", "tmin", "rain")  # what a record needs; it may also have radiation
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
    noted = []
    if (times != days).any():
        hour = str((times - days).astype("timedelta64[m]")[0].astype("datetime64[m]"))[11:]
        noted.append(f"its times of day ({hour}) were left out")
    record = record.assign_coords(time=days.astype(times.dtype))
    steps = np.diff(days)
    for at in np.flatnonzero(steps > A_DAY)[:MOST_SPELLS]:
        noted.append(f"the record has no days {spell_days(days[at] + A_DAY, days[at + 1] - A_DAY)}")
    if (more := int((steps > A_DAY).sum()) - MOST_SPELLS) > 0:
        noted.append(f"nor {more} other spells of days")
    index = np.arange(days[0], days[-1] + A_DAY).astype(times.dtype)
    notes = "; ".join(filter(None, [record.attrs.get("notes"), *noted]))
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
    described = []
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
        described.append(
            f"{name} {count} {'day' if count == 1 else 'days'} {how}: {', '.join(spans)}"
        )
    tmax, tmin = filled["tmax"].values, filled["tmin"].values
    low = by_column["tmin"] & (tmin > tmax)
    tmin[low] = tmax[low]
    high = by_column["tmax"] & (tmax < tmin)
    tmax[high] = tmin[high]
    before = [record.attrs["filled"]] if record.attrs.get("filled") else []
    filled.attrs["filled"] = "; ".join(before + described)
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
