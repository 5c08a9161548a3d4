"""Files with the records of several stations, and which stations they hold.

A climate archive hands out what was asked for as one table with a row for each day of each
station, by station or by day. A first pass through it lists the stations, a second splits it, and
each station is then read as a file of its own.

References
----------
National Centers for Environmental Information, Climate Data Online, Daily Summaries of GHCN-Daily
as a table: STATION, NAME, LATITUDE, LONGITUDE, ELEVATION, DATE, then the elements, PRCP, TMAX and
TMIN among them, each with its ``_ATTRIBUTES`` if wanted. Menne et al. 2012, as in `ghcn`, for its
fixed-width layout and its rows of elements.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from simulator.problems import InputError, Problem, fault
from simulator.weather.files.multistation.rows import (
    Head,
    Row,
    cell_text,
    column_of_stations,
    open_rows,
)
from simulator.weather.files.station_list import longitude_east, read_degrees
from simulator.weather.files.tables.about import choose_site, columns_about, read_about
from simulator.weather.files.tables.rows import lines_above

MOST_STATIONS = 100_000
_ROWS_NAMED = 5


@dataclass(frozen=True, slots=True)
class ListedStation:
    """A station of a file, as its first row has it.

    Parameters
    ----------
    station : str
        Its identifier, else its name, as its rows have it.
    site : str
        Name to show.
    latitude, longitude : float or None
        [degrees north, degrees east]; None where the file does not say.
    soil : str or None
        Texture, if given.
    """

    station: str
    site: str
    latitude: float | None = None
    longitude: float | None = None
    soil: str | None = None


@dataclass(slots=True)
class _RowsWithoutStation:
    """Rows that belong to no station: how many, and where the first few are."""

    head: Head
    first: list[int] = field(default_factory=list)
    count: int = 0

    def add(self, number: int) -> None:
        self.count += 1
        if len(self.first) < _ROWS_NAMED:
            self.first.append(number)

    def problems(self) -> tuple[Problem, ...]:
        if not self.count:
            return ()
        where = f"{self.head.file}, {self.head.row_word} {self.first[0]}"
        what = "It is no line of GHCN-Daily."
        at = column_of_stations(self.head.header)
        if at is not None:
            where, what = f"{where}, column '{self.head.header[at]}'", "It is blank."
        if self.count > 1:
            others = ", ".join(map(str, self.first[1:]))
            dots = " ..." if self.count > _ROWS_NAMED else ""
            what += f" So in {self.count - 1:,} more: {self.head.row_word} {others}{dots}."
        return (
            Problem(
                where, what, "What belongs to no station is left out: mend it, or take it out."
            ),
        )


def list_stations(path: Path) -> tuple[tuple[ListedStation, ...], tuple[Problem, ...]] | None:
    """List the stations of a file in one pass.

    Parameters
    ----------
    path : Path
        A table of text or spreadsheet, or GHCN-Daily in any of its layouts.

    Returns
    -------
    tuple of ListedStation
        In the order in which they first stand in the file; two of one name also have
        their identifiers.
    tuple of Problem
        Rows that belong to none.
    None
        In place of both: it has the record of one station, or is something else; what is wrong
        with such a file is said when it is read.

    Raises
    ------
    InputError
        It has several stations, and cannot be read to its end.
    """
    found: dict[str, ListedStation] = {}
    try:
        with open_rows(path) as file:
            if file is None:
                return None
            head, rows = file
            columns = columns_about(head.header)
            without_station = _RowsWithoutStation(head)
            for row in rows:
                if not row.station:
                    without_station.add(row.number)
                elif row.station not in found:
                    found[row.station] = _listed(row, columns)
                    if len(found) > MOST_STATIONS:
                        raise fault(
                            head.file,
                            f"It has over {MOST_STATIONS:,} stations.",
                            "Take it apart into several files.",
                        )
    except OSError:
        return None
    except InputError:
        if len(found) > 1:
            raise
        return None
    if len(found) < 2:
        return None
    return tuple(
        _with_distinct_names([_with_place_of_file(one, head) for one in found.values()])
    ), without_station.problems()


def _listed(row: Row, columns: Mapping[str, int]) -> ListedStation:
    said = {role: cell_text(row.cells, at) for role, at in columns.items()}
    return ListedStation(
        row.station, said.get("name") or row.station, *_degrees(said), soil=said.get("soil") or None
    )


def _degrees(said: Mapping[str, str]) -> tuple[float | None, float | None]:
    """Return latitude and longitude as far as they are given."""
    north, east = (
        read_degrees(said.get(name, "").replace("\u2212", "-"))
        for name in ("latitude", "longitude")
    )
    return north, None if east is None else longitude_east(east)


def _with_place_of_file(one: ListedStation, head: Head) -> ListedStation:
    """Give a station what lines above the header say of all."""
    north, east = _degrees(read_about([*head.comments, *lines_above(head.cells[:-1])]))
    return replace(
        one,
        latitude=north if one.latitude is None else one.latitude,
        longitude=east if one.longitude is None else one.longitude,
    )


def _with_distinct_names(found: Sequence[ListedStation]) -> Iterator[ListedStation]:
    count = Counter(one.site for one in found)
    for one in found:
        twice = count[one.site] > 1 and one.site != one.station
        yield replace(one, site=f"{one.site} ({one.station})") if twice else one


def choose_station(listed: Sequence[ListedStation], wanted: str | None, file: str) -> str:
    """Return the station asked for, by its identifier or its name.

    Raises
    ------
    InputError
        None was asked for, or there is none such.
    """
    names = sorted(one.station for one in listed)
    by_name = {one.site: one.station for one in listed}
    if wanted is not None and wanted not in names and wanted in by_name:
        return by_name[wanted]
    return choose_site(names, wanted, file)
