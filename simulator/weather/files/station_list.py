"""Where stations are, from a table in their folder: ours, or the list of GHCN-Daily.

References
----------
Menne MJ et al. (2012) Global Historical Climatology Network - Daily, version 3, readme of the data
set, section IV: ``ghcnd-stations.txt`` has the station in columns 1-11, its latitude in 13-20, its
longitude in 22-30 and its name in 42-71.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from simulator.problems import Problem, fault, printable
from simulator.weather.files.columns import recognise
from simulator.weather.files.tables.rows import Rows
from simulator.weather.files.text import decode, split_rows

TABLE, GHCN_LIST = "stations.csv", "ghcnd-stations.txt"
HEADER = "file,latitude,longitude,soil"
MOST_BYTES = 64 * 2**20
_DEGREES = re.compile(r"^[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?$")


@dataclass(frozen=True, slots=True)
class Station:
    """What a table says of a station; None where it says nothing.

    Parameters
    ----------
    where : str
        File and row, for messages.
    site, soil : str or None
    latitude, longitude : float or None
        [degrees north, degrees east].
    faults : tuple of Problem
        What is wrong in its row.
    """

    where: str
    site: str | None = None
    latitude: float | None = None
    longitude: float | None = None
    soil: str | None = None
    faults: tuple[Problem, ...] = ()


def longitude_east(degrees: float) -> float:
    """Return a longitude of either custom, 0 to 360 or -180 to 180, as -180 to 180.

    Others stay as they are: `wrong_longitude` says so.

    Examples
    --------
    >>> longitude_east(274.5), longitude_east(-85.5)
    (-85.5, -85.5)
    """
    return degrees - 360.0 if 180.0 < degrees <= 360.0 else degrees


def wrong_longitude(degrees: float | None, where: str) -> Problem | None:
    """Say that a longitude lies on no map; nothing where it does, or is not known."""
    if degrees is None or -180.0 <= degrees <= 360.0:
        return None
    return Problem(
        where,
        f"{degrees:g} lies outside -180 to 360 degrees east.",
        "Write degrees with decimals, west of Greenwich negative: -85.4.",
    )


def read_stations(path: Path) -> tuple[str, dict[str, Station]]:
    """Read our table of stations.

    Parameters
    ----------
    path : Path
        A table with the columns ``file`` or ``site``, ``latitude``, ``longitude`` and, if wanted,
        ``soil``; with ``file``, a column ``site`` names the place.

    Returns
    -------
    str
        ``file`` or ``site``: what the keys are.
    dict of str to Station
        With the faults of its row.

    Raises
    ------
    InputError
        Not a table, or its columns are not these.
    """
    text, encoding = decode(_bytes(path), path.name, HEADER)
    rows = split_rows(text, path.name, encoding, _header)
    at = _header(rows.cells)
    if at is None:
        raise fault(
            path.name,
            "No header with 'file' or 'site' and 'latitude' was found.",
            f"Its first line should be {HEADER}.",
        )
    header = [str(cell).strip() for cell in rows.cells[at]]
    columns = _columns(header)
    by = "file" if "file" in columns else "site"
    found: dict[str, Station] = {}
    for cells, number in zip(rows.cells[at + 1 :], rows.numbers[at + 1 :], strict=True):
        row = {role: str(cells[i]).strip() for role, i in columns.items() if i < len(cells)}
        if not any(row.values()):
            continue
        where = f"{path.name}, line {number}"
        key = row.get(by, "")
        if not key:
            raise fault(
                f"{where}, column '{header[columns[by]]}'", "It is blank.", f"Name the {by}."
            )
        station = _station(key, row, where, header, columns, rows)
        if key in found:
            twice = Problem(
                where,
                f"'{key}' stands a second time, after "
                f"{found[key].where.removeprefix(f'{path.name}, ')}.",
                "Keep one row.",
            )
            station = Station(where, faults=(*found[key].faults, twice))
        found[key] = station
    return by, found


def _bytes(path: Path) -> bytes:
    try:
        if path.stat().st_size > MOST_BYTES:
            raise fault(
                path.name,
                f"It is larger than {MOST_BYTES // 2**20} MB.",
                "Give the stations of the folder only.",
            )
        return path.read_bytes()
    except OSError as error:
        raise fault(path.name, f"It cannot be read: {error.strerror}.") from error


def _columns(header: Sequence[str]) -> dict[str, int]:
    found: dict[str, int] = {}
    for i, cell in enumerate(header):
        plain = cell.strip().lower()
        role = plain if plain in ("file", "soil") else recognise(cell)[0]
        if role in ("file", "soil", "site", "latitude", "longitude"):
            found.setdefault(role, i)
    return found


def _header(rows: Sequence[Sequence[Any]]) -> int | None:
    for i, cells in enumerate(rows[:60]):
        roles = _columns([str(cell) for cell in cells]).keys()
        if roles & {"file", "site"} and roles & {"latitude", "soil"}:
            return i
    return None


def _station(
    key: str,
    row: dict[str, str],
    where: str,
    header: list[str],
    columns: dict[str, int],
    rows: Rows,
) -> Station:
    faults: list[Problem] = []
    degrees: dict[str, float | None] = {}
    for role, least, most in (("latitude", -90.0, 90.0), ("longitude", -180.0, 360.0)):
        text = row.get(role, "").replace("\u2212", "-")
        if rows.decimal_comma:
            text = text.replace(",", ".")
        degrees[role] = read_degrees(text)
        if text and (degrees[role] is None or not least <= (degrees[role] or 0.0) <= most):
            faults.append(
                Problem(
                    f"{where}, column '{header[columns[role]]}'",
                    f"'{text[:40]}' is not the {role} of {key} in degrees.",
                    "Write degrees with decimals, such as "
                    f"{'31.3' if role == 'latitude' else '-85.4'}.",
                )
            )
    east = degrees["longitude"]
    return Station(
        where,
        row.get("site") or None,
        degrees["latitude"],
        None if east is None else longitude_east(east),
        row.get("soil") or None,
        tuple(faults),
    )


def read_degrees(text: str) -> float | None:
    """Read degrees with decimals; None where it is no number, or not written as people do."""
    value = float(text) if _DEGREES.match(text.strip()) else np.nan
    return value if np.isfinite(value) else None


def read_ghcn_list(path: Path, wanted: Collection[str]) -> dict[str, Station]:
    """Read the stations wanted from the list of GHCN-Daily.

    Parameters
    ----------
    path : Path
        ``ghcnd-stations.txt``, over a hundred thousand stations.
    wanted : collection of str
        Their identifiers of 11 characters.

    Returns
    -------
    dict of str to Station
        With the faults of its line.

    Raises
    ------
    InputError
        It cannot be read.
    """
    found = {}
    text = _bytes(path).decode("utf-8", "replace")
    for number, line in enumerate(text.split("\n"), start=1):
        if line[:11] not in wanted:
            continue
        where = f"{path.name}, line {number}"
        faults = []
        degrees: dict[str, float | None] = {}
        for name, columns in (("latitude", slice(12, 20)), ("longitude", slice(21, 30))):
            degrees[name] = read_degrees(line[columns])
            if degrees[name] is None or not abs(degrees[name] or 0.0) <= 360.0:
                faults.append(
                    Problem(
                        f"{where}, columns {columns.start + 1}-{columns.stop}",
                        f"'{line[columns].strip()}' is not a {name}.",
                        "Fetch the list anew.",
                    )
                )
        site = printable(line[41:71]).strip() or None
        found[line[:11]] = Station(
            where, site, degrees["latitude"], degrees["longitude"], faults=tuple(faults)
        )
    return found


def stations_of_folder(folder: Path) -> tuple[str, dict[str, Station]]:
    """Read our table in a folder, whatever the case of its name; empty without one.

    Raises
    ------
    InputError
        As `read_stations`.
    """
    for path in sorted(folder.iterdir()):
        if path.name.lower() == TABLE:
            return read_stations(path)
    return "site", {}
