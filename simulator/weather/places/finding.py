"""The places of a folder, a file, a store or a sample."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

from simulator.problems import InputError, Problem, fault, shown_path
from simulator.weather.files import station_list
from simulator.weather.files.multistation.stations import list_stations
from simulator.weather.files.station_list import GHCN_LIST, TABLE, Station
from simulator.weather.files.text import read_text
from simulator.weather.places.netcdf_blocks import is_netcdf, is_store, places_in_netcdf
from simulator.weather.places.place import Place

WEATHER_FILES = (".csv", ".txt", ".tsv", ".dly", ".nc", ".xlsx")
_BYTES_READ, _LINES_READ = 4096, 40  # bytes and lines in which site and latitude are sought
_GHCN_STATION = re.compile(r"^[A-Z]{2}[A-Z0-9_-]{9}$")


def find_places(
    source: Path | str,
    *,
    latitude: float | None = None,
    units_of_file: Literal["us", "si"] | None = None,
    date_format: str | None = None,
    check_soil: Callable[[str], object] | None = None,
) -> tuple[tuple[Place, ...], tuple[Problem, ...]]:
    """Find the places of a folder, a file, a store or a sample.

    Parameters
    ----------
    source : path or str
        A folder of weather files; a netCDF file or zarr store with a dimension of places;
        a table of several stations; any other weather file; or the name of a packaged sample.
    latitude : float, optional
        [degrees north] of the places for which nothing says it.
    units_of_file, date_format : str, optional
        As in `read_weather`, for all its files.
    check_soil : callable, optional
        Raises InputError for a soil that is not known.

    Returns
    -------
    tuple of Place
        In the order of their files' names, or of the file.
    tuple of Problem
        Why others are left out: a fault in the table of stations, a name that two have, an
        unknown soil, a damaged file of several places, rows that name no station.

    Raises
    ------
    InputError
        No such source, a folder without weather files, a table of stations that cannot be read, a
        single file or store that cannot be opened.

    Notes
    -----
    A table ``stations.csv`` in the folder (`station_list.read_stations`) goes before what a file
    says of itself, ``ghcnd-stations.txt`` and ``latitude`` come after it.
    """
    path = Path(source)
    problems: list[Problem] = []
    if is_store(path):
        found = places_in_netcdf(path, latitude)
    elif path.is_dir():
        found = _in_folder(path, latitude, problems)
    elif path.is_file():
        found = _in_file(path, latitude, problems)
    else:
        found = [_sample(source)]
    found = [
        replace(place, units_of_file=units_of_file, date_format=date_format) for place in found
    ]
    found = _known_soils(_named_once(found, problems), check_soil, problems)
    return tuple(found), tuple(problems)


def _sample(source: Path | str) -> Place:
    from simulator.weather.samples import find_sample, samples, samples_folder

    try:
        sample = find_sample(str(source))
    except InputError as error:
        raise fault(
            str(source),
            "There is no such file, folder or sample.",
            f"Check the name; the samples are {', '.join(samples())}.",
        ) from error
    about = _about_file(samples_folder() / f"{sample.name}.csv")
    return Place(sample.place, sample.name, None, sample.latitude, about.get("longitude"))


def _in_file(path: Path, latitude: float | None, problems: list[Problem]) -> list[Place]:
    if is_netcdf(path):
        return places_in_netcdf(path, latitude)
    if (listed := list_stations(path)) is not None:
        stations, without_station = listed
        problems += without_station
        return [
            Place(
                one.site,
                str(path.absolute()),
                None,
                latitude if one.latitude is None else one.latitude,
                one.longitude,
                one.soil,
                station=one.station,
            )
            for one in stations
        ]
    about = _about_file(path)
    degrees = about.get("latitude")
    return [
        Place(
            about["site"],
            str(path.absolute()),
            None,
            latitude if degrees is None else degrees,
            about.get("longitude"),
            about.get("soil"),
        )
    ]


def _about_file(path: Path) -> dict[str, Any]:
    """Return what the first lines of a file, or its spreadsheet, say of the place."""
    about: dict[str, Any] = {}
    try:
        with path.open("rb") as opened:
            start = opened.read(_BYTES_READ)
        if start.startswith(b"PK\x03\x04"):
            from simulator.weather.files.spreadsheet import read_spreadsheet

            daily = read_spreadsheet(path, units_of_file=None, date_format=None)
        else:
            if start.startswith((b"\xff\xfe", b"\xfe\xff")):  # a letter may be cut in two
                start = start.decode("utf-16", "ignore").encode()
            whole = start if path.stat().st_size < _BYTES_READ else start[: start.rfind(b"\n") + 1]
            whole = b"".join(whole.splitlines(keepends=True)[:_LINES_READ])
            daily = read_text(whole, path.name, units_of_file=None, date_format=None)
        about = dict(daily.about)
    except (OSError, InputError):
        pass  # the fault is named when the file is read
    found: dict[str, Any] = {"site": str(about.get("site", "")).strip() or shown_path(path.stem)}
    for name in ("latitude", "longitude"):
        degrees = station_list.read_degrees(str(about.get(name, "")))
        if degrees is not None:
            east = name == "longitude"
            found[name] = station_list.longitude_east(degrees) if east else degrees
    if "soil" in about:
        found["soil"] = about["soil"]
    return found


def _in_folder(folder: Path, latitude: float | None, problems: list[Problem]) -> list[Place]:
    try:
        inside = sorted(folder.iterdir())
    except OSError as error:
        raise fault(
            str(folder), f"It cannot be opened: {error.strerror}.", "Check its permissions."
        ) from error
    files = _weather_files(folder, inside)
    problems += [
        _no_file(path)
        for path in inside
        if path.suffix.lower() in WEATHER_FILES and not path.is_file() and not path.is_dir()
    ]
    by, listed = station_list.stations_of_folder(folder)
    if by == "file":
        problems += _rows_without_file(files, listed)
    found: list[Place] = []
    for path in files:
        try:
            in_file = (
                _in_file(path, None, problems) if path.is_file() else places_in_netcdf(path, None)
            )
        except InputError as error:
            problems += error.problems
            continue
        for place in in_file:
            by_site = (place.site, path.stem if place.station is None else place.station)
            keys = (path.name, path.stem) if by == "file" else by_site
            said = next((listed[key] for key in keys if key in listed), None)
            if said is not None and said.faults:
                problems += said.faults
                continue
            shared = by == "file" and len(in_file) > 1  # one name is not for all of them
            if said is not None and (shared or said.site == place.station):
                said = replace(said, site=None)  # and an identifier is none
            found.append(_as_listed(place, said))
    found = _by_ghcn_list(folder, found, problems)
    if latitude is not None:
        found = [replace(p, latitude=latitude) if p.latitude is None else p for p in found]
    return found


def _weather_files(folder: Path, inside: Sequence[Path]) -> list[Path]:
    """Return the weather files and stores among what is in a folder.

    Raises
    ------
    InputError
        None is.
    """
    lists = (TABLE, GHCN_LIST)
    files = [
        path
        for path in inside
        if path.name.lower() not in lists
        and (is_store(path) or (path.suffix.lower() in WEATHER_FILES and path.is_file()))
    ]
    if not files:
        raise fault(
            str(folder),
            "The folder has no weather files.",
            f"They end in {', '.join(WEATHER_FILES)}, or are zarr stores.",
        )
    return files


def _rows_without_file(files: Sequence[Path], listed: Mapping[str, Station]) -> Iterator[Problem]:
    """Name the rows of a table of stations whose file is not there."""
    names = {path.name for path in files} | {path.stem for path in files}
    for name, station in listed.items():
        if name not in names:
            yield Problem(
                station.where,
                f"There is no weather file '{name}' in the folder.",
                "Correct the name or take the row out.",
            )


def _no_file(path: Path) -> Problem:
    what = "It is a link to nothing." if path.is_symlink() else "It is not an ordinary file."
    return Problem(shown_path(path.name), what, "Mend it, or take it out of the folder.")


def _as_listed(place: Place, said: Station | None) -> Place:
    """Put what a table says before what the file says."""
    if said is None:
        return place
    return replace(
        place,
        site=said.site or place.site,
        latitude=place.latitude if said.latitude is None else said.latitude,
        longitude=place.longitude if said.longitude is None else said.longitude,
        soil=said.soil or place.soil,
    )


def _by_ghcn_list(folder: Path, found: list[Place], problems: list[Problem]) -> list[Place]:
    """Give stations without a latitude that of the list of GHCN-Daily, where it is there."""
    path = folder / GHCN_LIST
    ids = {place: _ghcn_station(place) for place in found if place.latitude is None}
    wanted = set(filter(None, ids.values()))
    if not wanted or not path.is_file():
        return found
    listed = station_list.read_ghcn_list(path, wanted)
    kept = []
    for place in found:
        said = listed.get(ids.get(place) or "")
        if said is not None and said.faults:
            problems += said.faults
        else:
            kept.append(_as_listed(place, said))
    return kept


def _ghcn_station(place: Place) -> str | None:
    names = (
        (place.site, Path(place.source).stem)
        if place.station is None
        else (place.station.removeprefix("GHCND:"),)
    )
    return next((name for name in names if _GHCN_STATION.match(name)), None)


def _named_once(found: list[Place], problems: list[Problem]) -> list[Place]:
    """Leave out places of one name: which of their records is meant cannot be known."""
    count = Counter(place.site for place in found)
    for site in (site for site, times in count.items() if times > 1):
        files = [_where(place) for place in found if place.site == site]
        shown = ", ".join(files[:4]) + (f" and {len(files) - 4} more" if files[4:] else "")
        problems.append(
            Problem(
                f"site '{site}'",
                f"Several records are for it: {shown}. They are not merged, and it is left out.",
                f"Keep one, or name their sites apart in {TABLE}.",
            )
        )
    return [place for place in found if count[place.site] == 1]


def _where(place: Place) -> str:
    name = shown_path(Path(place.source).name)
    if place.station is not None:
        return f"{name} (station '{place.station}')"
    return name if place.index is None else f"{name} (row {place.index})"


def _known_soils(
    found: list[Place], check_soil: Callable[[str], object] | None, problems: list[Problem]
) -> list[Place]:
    kept = []
    for place in found:
        try:
            if place.soil is not None and check_soil is not None:
                check_soil(place.soil)
        except InputError as error:
            problems += [
                Problem(f"{_where(place)}, soil of site '{place.site}'", p.what, p.remedy)
                for p in error.problems
            ]
            continue
        kept.append(place)
    return kept
