"""The layouts of GHCN-Daily: fixed-width .dly, rows of elements, and a table by station.

References
----------
Menne MJ, Durre I, Vose RS, Gleason BE, Houston TG (2012) An overview of the Global Historical
Climatology Network-Daily database. Journal of Atmospheric and Oceanic Technology 29:897-910;
and the readme of the data set, section III: values in tenths of degC and of mm, -9999 missing,
a quality flag that is not blank marks a value that failed a check, measurement flag T a trace.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import date
from typing import Literal, NamedTuple

import numpy as np

from simulator.problems import InputError, Parameter, Problem, Text, fault
from simulator.weather.files.columns import DECLARED, KIND, line_to
from simulator.weather.files.daily import MOST_DAYS, UNKNOWN, Column, Daily

ELEMENTS = {"TMAX": "tmax", "TMIN": "tmin", "PRCP": "rain"}
MISSING = -9999
_MOST_FAULTS = 1000
_TENTHS = {"temperature": Column("", "0.1 degC", 0.1), "rain": Column("", "0.1 mm", 0.1)}
_FIXED = re.compile(r"^[A-Z]{2}[A-Z0-9_-]{9}\d{6}[A-Z0-9]{4}[ \d-]{5}")
_ROW = re.compile(r"^([A-Z]{2}[A-Z0-9_-]{9}),(\d{8}),([A-Z0-9]{4}),(-?\d{1,6}),")
_ROW_HEADER = re.compile(r"^\"?(?:ID|STATION)\"?,\"?(?:DATE|YEAR/MONTH/DAY)\"?,\"?ELEMENT", re.I)
# The hottest day on earth was 134 degF: more in whole numbers can only be tenths of degC.
_BEYOND_FAHRENHEIT = 135.0


class _Value(NamedTuple):
    line: int
    station: str
    day: date | None
    day_text: str
    element: str
    number: int
    measured: str
    quality: str


def layout_of(text: str) -> str:
    """Return ``"fixed"``, ``"rows"`` or, for neither, an empty text."""
    lines = [line for line in text[:4000].split("\n")[:2] if line]
    if lines and _FIXED.match(lines[0]):
        return "fixed"
    if lines and (_ROW.match(lines[0]) or _ROW_HEADER.match(lines[0])):
        return "rows"
    return ""


def station_of(line: str, layout: str) -> str:
    """Return the station of a line; empty where it is no line of the layout."""
    return line[:11] if (_FIXED if layout == "fixed" else _ROW).match(line) else ""


def is_header(line: str, number: int, layout: str) -> bool:
    """Say whether a line is the header that the rows of elements may have."""
    return number == 1 and layout == "rows" and bool(_ROW_HEADER.match(line))


def read_ghcn(lines: Iterable[tuple[int, str]], file: str, layout: str) -> Daily:
    """Read the fixed-width layout or the rows of elements.

    Parameters
    ----------
    lines : iterable of (int, str)
        Numbered as in an editor.
    file : str
        The file's name.
    layout : str
        ``"fixed"`` or ``"rows"``.

    Returns
    -------
    Daily
        In tenths, sorted by day; failed quality flags made blank and noted.

    Raises
    ------
    InputError
        Several stations (`multistation` reads those), none of the three elements, too many days.
    """
    problems: list[Problem] = []
    stations: set[str] = set()
    values = []
    for value in (_fixed_width_values if layout == "fixed" else _long_table_values)(
        lines, file, problems
    ):
        stations.add(value.station)
        values.append(value)
        if len(values) > len(ELEMENTS) * MOST_DAYS:
            raise fault(file, f"It has more than {MOST_DAYS:,} days.", "Give one station.")
    if len(stations) > 1:
        raise fault(file, f"It holds {len(stations)} stations.", "Give one.")
    if not values:
        problems.append(
            Problem(
                file, "It holds no TMAX, TMIN or PRCP.", "Give a station that measures all three."
            )
        )
        raise InputError(problems)
    return _gather(values, file, layout, problems)


def _fixed_width_values(
    lines: Iterable[tuple[int, str]], file: str, problems: list[Problem]
) -> Iterator[_Value]:
    for number, line in lines:
        if len(problems) > _MOST_FAULTS:  # a file of something else; enough has been said
            return
        if line[17:21] not in ELEMENTS:
            if line.strip() and not _FIXED.match(line):
                problems.append(
                    Problem(
                        f"{file}, line {number}",
                        "It is not a line of .dly.",
                        "Fetch the file anew.",
                    )
                )
            continue
        for day in range(31):
            cell = line[21 + 8 * day : 29 + 8 * day].ljust(8)
            digits = cell[:5].strip()
            if digits in ("", str(MISSING)):
                continue
            if len(line) < 26 + 8 * day:  # the last digits of a number may be missing
                problems.append(
                    Problem(
                        f"{file}, line {number}", "It ends within a value.", "Fetch the file anew."
                    )
                )
                continue
            day_text = f"{line[11:15]}-{line[15:17]}-{day + 1:02d}"
            if not re.fullmatch(r"-?\d+", digits):
                problems.append(
                    Problem(
                        f"{file}, line {number}, {line[17:21]} of {day_text}",
                        f"'{digits}' is not a whole number.",
                        "Fetch the file anew.",
                    )
                )
                continue
            yield _Value(
                number,
                line[:11],
                _day(line[11:15], line[15:17], day + 1),
                day_text,
                line[17:21],
                int(digits),
                cell[5].strip(),
                cell[6].strip(),
            )


def _long_table_values(
    lines: Iterable[tuple[int, str]], file: str, problems: list[Problem]
) -> Iterator[_Value]:
    for number, line in lines:
        if len(problems) > _MOST_FAULTS:  # a file of something else; enough has been said
            return
        match = _ROW.match(line)
        if not match:
            if line.strip() and not is_header(line, number, "rows"):
                problems.append(
                    Problem(
                        f"{file}, line {number}",
                        f"'{line[:40]}' is not a row of GHCN-Daily.",
                        "It should read like USC00011234,20051101,TMAX,278,,,7,0700.",
                    )
                )
            continue
        station, day, element, digits = match.groups()
        if element in ELEMENTS and int(digits) != MISSING:
            flags = [*line[match.end() :].split(","), ""]
            yield _Value(
                number,
                station,
                _day(day[:4], day[4:6], int(day[6:])),
                day,
                element,
                int(digits),
                flags[0].strip(),
                flags[1].strip(),
            )


def _day(year: str, month: str, day: int) -> date | None:
    try:
        return date(int(year), int(month), day)
    except ValueError:
        return None


def _gather(values: list[_Value], file: str, layout: str, problems: list[Problem]) -> Daily:
    days = sorted({value.day for value in values if value.day})
    place = {day: i for i, day in enumerate(days)}
    written = {name: np.full(len(days), np.nan) for name in ELEMENTS.values()}
    rows = {name: np.zeros(len(days), dtype=np.int64) for name in ELEMENTS.values()}
    failed: dict[str, list[str]] = {}
    traces = 0
    for value in values:
        name = ELEMENTS[value.element]
        if value.day is None:
            problems.append(
                Problem(
                    f"{file}, line {value.line}, {value.element}",
                    f"{value.day_text} does not exist in the calendar.",
                    "Correct the date or take the value out.",
                )
            )
            continue
        at = place[value.day]
        if rows[name][at]:
            problems.append(
                Problem(
                    f"{file}, line {value.line}, {value.element} of {value.day}",
                    f"The same day stands in line {rows[name][at]}.",
                    "Keep one.",
                )
            )
            continue
        rows[name][at] = value.line
        if value.quality:
            failed.setdefault(value.element, []).append(f"{value.day} ({value.quality})")
            continue
        traces += value.measured == "T"
        written[name][at] = value.number
    notes = [
        f"{element}: {len(where)} values failed a quality check of GHCN-Daily and are "
        f"taken as missing: {', '.join(where[:5])}{' ...' if len(where) > 5 else ''}"
        for element, where in failed.items()
    ]
    if traces:
        notes.append(f"{traces} traces of rain, written as 0 by GHCN-Daily")
    columns = {name: Column(element, *_scale(name)) for element, name in ELEMENTS.items()}
    missing = [element for element, name in ELEMENTS.items() if not rows[name].any()]
    problems += [
        Problem(file, f"It has no {element}.", "Give a station that measures it.")
        for element in missing
    ]
    layouts = {"fixed": "GHCN-Daily, fixed width (.dly)", "rows": "GHCN-Daily, rows of elements"}
    return Daily(
        file,
        layouts[layout],
        np.array(days, dtype="datetime64[D]"),
        written,
        columns,
        rows,
        a_row_a_day=False,
        about={"site": values[0].station},
        problems=problems,
        notes=notes,
    )


def _scale(name: str) -> tuple[str, float, float]:
    tenths = _TENTHS[KIND[name]]
    return tenths.unit, tenths.slope, tenths.offset


def _units_unsettled(header: str, name: str, place: str) -> Problem:
    """Ask for the units of a column whose numbers do not settle them."""
    return Problem(
        f"{place}, column '{header}'",
        "GHCN-Daily tables come in tenths of SI, in SI and in US units, and the numbers fit more "
        "than one.",
        Text(
            "Give ",
            Parameter("units_of_file", "us"),
            f" or si, or write the unit in the header: '{header} ({_TENTHS[KIND[name]].unit})'.",
        ),
    )


def settle_table(
    daily: Daily,
    flags: dict[str, list[str]],
    units_of_file: Literal["us", "si"] | None,
    place: str,
    decimals_in_file: bool = False,
) -> None:
    """Settle the units of a GHCN-Daily table (STATION, DATE, ... PRCP, TMAX, TMIN), in place.

    The same header is given out in tenths, in metric and in US units. Numbers with decimals
    are not tenths; whole temperatures beyond 135 can be nothing else. Where that does not
    settle it, the user is asked. A value whose quality flag is set becomes blank.

    Parameters
    ----------
    daily : Daily
        Columns without a unit are settled.
    flags : dict of list of str
        The ``_ATTRIBUTES`` cells by variable: measurement, quality and source flag.
    units_of_file : "us", "si" or None
        As declared.
    place : str
        The header, for the message.
    decimals_in_file : bool
        Whether other stations of the same file have temperatures with decimals: they are not in
        US units, and so whole degrees are not a sign of these here.
    """
    daily.layout = f"GHCN-Daily, {daily.layout}"
    system = _system_of(daily, units_of_file, decimals_in_file)
    if system is None and (bare := _without_values(daily)):  # a station of rain alone
        daily.problems += [
            Problem(
                f"{place}, column '{daily.columns[name].header}'",
                "It has no values.",
                "Give a station that measures all three.",
            )
            for name in bare
        ]
        daily.columns |= {
            name: Column(column.header, UNKNOWN)
            for name, column in daily.columns.items()
            if not column.unit
        }
    for name, column in list(daily.columns.items()):
        if column.unit:
            continue
        if system == "tenths":
            daily.columns[name] = Column(column.header, *_scale(name))
        elif system:
            unit = DECLARED[system][KIND[name]]
            daily.columns[name] = Column(column.header, *line_to(unit, KIND[name]))
        else:
            daily.problems.append(_units_unsettled(column.header, name, place))
    if system:
        units = {"tenths": "tenths of degC and of mm", "si": "degC and mm", "us": "degF and inch"}
        how = "declared" if system == units_of_file else "judged by the size of the numbers"
        daily.notes.append(f"units {units[system]}, {how}")
    for name, cells in flags.items():
        parts = [cell.split(",") for cell in cells]
        failed = np.array([len(part) > 1 and bool(part[1].strip()) for part in parts])
        failed &= ~np.isnan(daily.written[name])
        if failed.any():
            daily.written[name][failed] = np.nan
            where = ", ".join(str(day) for day in daily.dates[failed][:5])
            daily.notes.append(
                f"{daily.columns[name].header}: {int(failed.sum())} values failed a quality check "
                f"of GHCN-Daily and are taken as missing: {where}"
                f"{' ...' if failed.sum() > 5 else ''}"
            )


def _without_values(daily: Daily) -> list[str]:
    return [
        name
        for name in ("tmax", "tmin")
        if name in daily.written and np.isnan(daily.written[name]).all()
    ]


def _system_of(
    daily: Daily, units_of_file: Literal["us", "si"] | None, decimals_in_file: bool
) -> Literal["us", "si", "tenths"] | None:
    def read(*names: str) -> np.ndarray:
        parts = [daily.written[name] for name in names if name in daily.written]
        known = np.concatenate(parts) if parts else np.empty(0)
        return known[~np.isnan(known) & (np.abs(known) < abs(MISSING))]

    temperature, rain = read("tmax", "tmin"), read("rain")
    if temperature.size and (temperature % 1 == 0).all():
        if np.abs(temperature).max() > _BEYOND_FAHRENHEIT:
            return "tenths"
        if units_of_file is None and not decimals_in_file and (rain % 1 != 0).any():
            return "us"  # whole degrees with hundredths of an inch
    elif temperature.size and units_of_file is None:
        return "si"
    return units_of_file
