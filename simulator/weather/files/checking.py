"""Say what is wrong with a weather file, row by row, and what was understood of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from simulator.problems import InputError, Problem
from simulator.progress_bar import progress
from simulator.weather.fall_year import usable_years
from simulator.weather.files.daily import Daily
from simulator.weather.files.multistation.splitting import read_station, split_in_temporary_folder
from simulator.weather.files.multistation.stations import ListedStation, list_stations
from simulator.weather.files.quality.limits import SUMMER_GAP
from simulator.weather.files.reading import Understood, settle, to_record, understand
from simulator.weather.record import NAMES, fill_short_gaps

# The winter that a record must cover to be of use: from late sowing to early termination.
WINTER = ("11-01", "04-15")


@dataclass(frozen=True, slots=True)
class Report:
    """What was understood of a weather file and what is wrong with it.

    Parameters
    ----------
    file : str
        Name of the file.
    layout : str
        What it is; empty, as all below, where nothing could be understood.
    date_form : str
        How its dates were read.
    columns : dict of str to str
        ``tmax``, ``tmin``, ``rain`` -> ``"column 'TMAX' in degF"``; where it is found also
        ``radiation``, with the number of days on which it was measured.
    site : str
        Name of the place.
    latitude, longitude : float or None
        [degrees north, degrees east].
    first, last : str
        First and last day, ISO.
    days : int
        Days with a row.
    missing : dict of str to int
        Days blank or absent, by variable, holes between winters not counted.
    winters : list of int
        Fall years whose 1 November to 15 April can be used, short gaps filled.
    left_out : dict of int to str
        The other fall years touched, with the reason.
    filled : str
        What filling short gaps would fill.
    problems : list of Problem
        What stops use.
    doubts : list of Problem
        What is doubted; the file is used all the same.
    notes : list of str
        What was taken in another sense than written.
    """

    file: str
    layout: str
    date_form: str
    columns: dict[str, str]
    site: str
    latitude: float | None
    longitude: float | None
    first: str
    last: str
    days: int
    missing: dict[str, int]
    winters: list[int]
    left_out: dict[int, str]
    filled: str
    problems: list[Problem]
    doubts: list[Problem]
    notes: list[str]

    @property
    def usable(self) -> bool:
        """Whether the file can be read into a record."""
        return not self.problems


def check_weather(
    path: str | Path,
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    site: str | None = None,
    units_of_file: Literal["us", "si"] | None = None,
    date_format: str | None = None,
    need_latitude: bool = True,
) -> Report:
    """Read a weather file and report on it; its faults are in the report and not raised.

    Parameters
    ----------
    path, latitude, longitude, site, units_of_file, date_format, need_latitude
        As in `reading.read_weather`.

    Returns
    -------
    Report
        With problems for whatever `reading.read_weather` would raise.
    """
    try:
        read = understand(
            path,
            latitude=latitude,
            longitude=longitude,
            site=site,
            units_of_file=units_of_file,
            date_format=date_format,
            need_latitude=need_latitude,
        )
    except InputError as error:
        return _not_understood(Path(path).name, "", error)
    return _report(read)


@dataclass(frozen=True, slots=True)
class StationsReport:
    """What was understood of a table of several stations, and what is wrong with it.

    Parameters
    ----------
    file : str
        Name of the file.
    stations : dict of str to Report
        By identifier, in the order of the file.
    without_station : tuple of Problem
        Rows that belong to no station.
    """

    file: str
    stations: dict[str, Report]
    without_station: tuple[Problem, ...]

    @property
    def problems(self) -> list[Problem]:
        """All that stops use of a station, or of a row."""
        return [*self.without_station, *(p for one in self.stations.values() for p in one.problems)]


def check_stations(
    path: str | Path,
    *,
    latitude: float | None = None,
    units_of_file: Literal["us", "si"] | None = None,
    date_format: str | None = None,
    need_latitude: bool = True,
    check_soil: Callable[[str], object] | None = None,
) -> StationsReport | None:
    """Report on a table of several stations, station by station.

    Parameters
    ----------
    path, units_of_file, date_format, need_latitude
        As in `reading.read_weather`.
    latitude : float, optional
        [degrees north] of the stations for which the file does not say it.
    check_soil : callable, optional
        Raises InputError for a soil that is not known.

    Returns
    -------
    StationsReport or None
        None where the file does not hold several stations, or cannot be split:
        `check_weather` says why.
    """
    path = Path(path)
    try:
        found = list_stations(path) if path.is_file() else None
    except InputError:
        found = None
    if found is None:
        return None
    listed, without_station = found
    reports = {}
    split = split_in_temporary_folder(path, [one.station for one in listed])
    with split as folder, progress(len(listed)) as done:
        for one in listed:
            report = _report_on(
                one, folder, path.name, latitude, units_of_file, date_format, need_latitude
            )
            report.problems.extend(_of_soil(one, path.name, check_soil))
            reports[one.station] = report
            done(1)
    return StationsReport(path.name, reports, without_station)


def _report_on(
    one: ListedStation,
    folder: Path,
    file: str,
    latitude: float | None,
    units_of_file: Literal["us", "si"] | None,
    date_format: str | None,
    need_latitude: bool,
) -> Report:
    try:
        daily = read_station(
            folder, one.station, units_of_file=units_of_file, date_format=date_format
        )
    except InputError as error:
        return _not_understood(file, one.site, error)
    north = latitude if one.latitude is None else None
    return _report(
        settle(daily, one.site, latitude=north, longitude=None, need_latitude=need_latitude)
    )


def _of_soil(
    one: ListedStation, file: str, check_soil: Callable[[str], object] | None
) -> list[Problem]:
    try:
        if one.soil is not None and check_soil is not None:
            check_soil(one.soil)
    except InputError as error:
        return [
            Problem(f"{file}, station '{one.station}', soil", p.what, p.remedy)
            for p in error.problems
        ]
    return []


def _not_understood(file: str, site: str, error: InputError) -> Report:
    return Report(
        file, "", "", {}, site, None, None, "", "", 0, {}, [], {}, "", error.problems, [], []
    )


def _report(read: Understood) -> Report:
    daily = read.daily
    winters: list[int] = []
    left_out: dict[int, str] = {}
    filled = ""
    if not daily.problems:
        record = fill_short_gaps(to_record(read))
        winters, left_out = usable_years(record, *WINTER)
        filled = str(record.attrs["filled"])
    some = daily.dates.size > 0
    return Report(
        file=daily.file,
        layout=daily.layout,
        date_form=daily.date_form,
        columns={
            name: f"column '{column.header}' in {column.unit or 'a unit not given'}"
            + _days_measured(daily, name)
            for name, column in daily.columns.items()
        },
        site=read.site,
        latitude=None if np.isnan(read.latitude) else read.latitude,
        longitude=read.longitude,
        first=str(daily.dates[0]) if some else "",
        last=str(daily.dates[-1]) if some else "",
        days=int(daily.dates.size),
        missing=_missing(daily),
        winters=winters,
        left_out=left_out,
        filled=filled,
        problems=daily.problems,
        doubts=daily.doubts,
        notes=daily.notes,
    )


def _days_measured(daily: Daily, name: str) -> str:
    if name != "radiation":
        return ""
    days, of = int(np.isfinite(daily.written[name]).sum()), daily.dates.size
    rest = ", estimated on the others" if days < of else ""
    return f"; measured on {days:,} of {of:,} days{rest}"


def _missing(daily: Daily) -> dict[str, int]:
    steps = np.diff(daily.dates).astype(int) - 1
    absent = int(steps[steps <= SUMMER_GAP].sum())
    return {
        name: absent + int(np.isnan(daily.written[name]).sum())
        for name in NAMES
        if name in daily.written
    }
