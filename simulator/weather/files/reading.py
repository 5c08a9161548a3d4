"""Weather in: from a file of any known layout to a clean record, every fault with its row."""

from __future__ import annotations

import inspect
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from numbers import Real
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from simulator.problems import (
    MOST_PRINTED,
    InputError,
    Parameter,
    Problem,
    Text,
    WeatherDoubt,
    fault,
    printable,
    shown_path,
    unprintable_note,
)
from simulator.weather.files import station_list
from simulator.weather.files.daily import Daily
from simulator.weather.files.multistation.splitting import read_station, split_in_temporary_folder
from simulator.weather.files.multistation.stations import (
    ListedStation,
    choose_station,
    list_stations,
)
from simulator.weather.files.quality.control import check_quality
from simulator.weather.record import NAMES, make_record

if TYPE_CHECKING:
    import xarray as xr

MOST_BYTES = 64 * 2**20
NORTHERNMOST = 66.0  # beyond it the sun does not rise every day of the winter
MOST_WARNED_OF = 5  # doubts that a warning names; the record's attributes name more

_OTHER_KINDS = {
    b"\xd0\xcf\x11\xe0": ("an old spreadsheet (.xls)", "Save it as .xlsx or CSV."),
    b"\x1f\x8b": ("packed (gzip)", "Unpack it first."),
    b"BZh": ("packed (bzip2)", "Unpack it first."),
    b"CDF\x05": ("netCDF of the 64-bit data kind", "Convert it to netCDF-4."),
    b"%PDF": ("a PDF", "Give the table behind it as CSV."),
}


@dataclass(frozen=True, slots=True)
class Understood:
    """A file read and checked.

    Parameters
    ----------
    daily : Daily
        Its days in order, each once, with problems, doubts and notes.
    site : str
        Name of the place.
    latitude : float
        [degrees north]; NaN where unknown.
    longitude : float or None
        [degrees east].
    """

    daily: Daily
    site: str
    latitude: float
    longitude: float | None


def read_weather(
    path: str | Path,
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    site: str | None = None,
    units_of_file: Literal["us", "si"] | None = None,
    date_format: str | None = None,
    need_latitude: bool = True,
) -> xr.Dataset:
    """Read a weather file into a record.

    Parameters
    ----------
    path : str or Path
        A table (CSV, TSV, .xlsx) with a header, GHCN-Daily in any of its layouts, or CF netCDF.
    latitude : float, optional
        [degrees north], 0 to 66; needed where the file does not carry it. One that differs from
        the file's by more than 0.1 is followed, with a doubt.
    longitude : float, optional
        [degrees east].
    site : str, optional
        Which site, by its identifier or its name, where the file holds several; otherwise the
        name to show.
    units_of_file : "us" or "si", optional
        degF and inch, or degC and mm, for columns whose header has no unit.
    date_format : str, optional
        ``"DD/MM/YYYY"`` or ``"%d/%m/%Y"``, where dates do not begin with the year.
    need_latitude : bool
        Whether a missing latitude is an error; without it the record has NaN.

    Returns
    -------
    Dataset
        ``tmax``, ``tmin`` [degC] and ``rain`` [mm] along a daily ``time`` without holes, and
        ``radiation`` [MJ m-2 d-1] where the file has it measured; a missing day is NaN and
        nothing is filled. ``attrs["notes"]`` says what was taken in
        another sense than written, ``attrs["doubts"]`` what is doubtful.

    Raises
    ------
    InputError
        With every fault found, each with its row.

    Warns
    -----
    WeatherDoubt
        What is doubtful about the weather, which is used all the same: a latitude that
        differs from the file's, blank spells, readings that are stuck.
    """
    read = understand(
        path,
        latitude=latitude,
        longitude=longitude,
        site=site,
        units_of_file=units_of_file,
        date_format=date_format,
        need_latitude=need_latitude,
    )
    if read.daily.problems:
        raise InputError(read.daily.problems)
    return with_doubts(to_record(read), read.daily.file, read.daily.doubts)


def with_doubts(record: xr.Dataset, name: str, doubts: Sequence[Problem]) -> xr.Dataset:
    """Warn of what is doubted about a record, and keep it among its attributes.

    Parameters
    ----------
    record : Dataset
        As it was read; not altered.
    name : str
        What it was read from.
    doubts : sequence of Problem

    Returns
    -------
    Dataset
        With ``attrs["doubts"]``, where there are any.

    Warns
    -----
    WeatherDoubt
        Once, of all of them, at the user's own line.
    """
    if not doubts:
        return record
    named = [shown_path(str(doubt)) for doubt in doubts]
    head = "1 doubt" if len(named) == 1 else f"{len(named)} doubts"
    warning = "\n  ".join([f"{head} about {shown_path(name)}:", *named[:MOST_WARNED_OF]])
    if len(named) > MOST_WARNED_OF:
        warning += "\n  and more like these, in the record's attrs['doubts']."
    warnings.warn(warning, WeatherDoubt, stacklevel=_frames_to_the_user())
    kept = named[:MOST_PRINTED]
    if len(named) > MOST_PRINTED:
        kept.append(f"and {len(named) - MOST_PRINTED} more like these")
    return record.assign_attrs(doubts="; ".join(kept))


def _frames_to_the_user() -> int:
    """Count the frames from the caller of this to the first that is not the package's."""
    house = __name__.partition(".")[0]
    frame, frames = inspect.currentframe(), 0
    while frame is not None and frame.f_globals.get("__name__", "").partition(".")[0] == house:
        frame, frames = frame.f_back, frames + 1
    return frames


def to_record(read: Understood) -> xr.Dataset:
    """Make the record of a file without problems."""
    daily = read.daily
    kept = ("invented", "changes", "filled")
    about = {key: str(daily.about[key]) for key in kept if daily.about.get(key)}
    said = daily.about.get("source")
    source = shown_path(f"{daily.file} ({said})" if said else daily.file)
    return make_record(
        daily.dates,
        *(daily.values(name) for name in NAMES),
        site=read.site,
        latitude=read.latitude,
        longitude=read.longitude,
        source=source,
        notes="; ".join(daily.notes),
        radiation=daily.values("radiation") if "radiation" in daily.columns else None,
        **about,
    )


def understand(
    path: str | Path,
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    site: str | None = None,
    units_of_file: Literal["us", "si"] | None = None,
    date_format: str | None = None,
    need_latitude: bool = True,
) -> Understood:
    """Read and check a file; as `read_weather`, but problems are kept and not raised.

    Raises
    ------
    InputError
        Only where nothing of the file could be understood.
    """
    path = Path(path)
    if units_of_file not in (None, "us", "si"):
        raise fault(
            Parameter("units_of_file"), f"'{units_of_file}' is not known.", "Write us or si."
        )
    daily = _read(path, units_of_file, date_format, None if site is None else printable(site))
    name = site or str(daily.about.get("site", "")).strip() or shown_path(path.stem)
    return settle(daily, name, latitude=latitude, longitude=longitude, need_latitude=need_latitude)


def settle(
    daily: Daily,
    site: str,
    *,
    latitude: float | None,
    longitude: float | None,
    need_latitude: bool = True,
) -> Understood:
    """Check what was read, and settle where its place is.

    Parameters
    ----------
    daily : Daily
        Its lists of problems and doubts grow.
    site : str
        Name to show.
    latitude, longitude, need_latitude
        As in `read_weather`.
    """
    problems: list[Problem] = []
    if (plain := printable(site)) != site:
        daily.notes.append(unprintable_note("the site's name"))
        site = plain
    degrees = _degrees(daily, "latitude", latitude, problems)
    if degrees is None and need_latitude:
        problems.append(
            Problem(
                daily.file,
                "It does not say the latitude, which sets the length of the days.",
                Text("Give it, such as ", Parameter("latitude", 31.3), "."),
            )
        )
    elif degrees is not None and not 0.0 <= degrees <= NORTHERNMOST:
        said = station_list.read_degrees(str(daily.about.get("latitude", "")))
        where = daily.about_at.get("latitude", "latitude") if said == degrees else "latitude"
        problems.append(_wrong_latitude(degrees, where))
    east = _degrees(daily, "longitude", longitude, problems)
    where = daily.about_at.get("longitude", f"{daily.file}, longitude")
    if (off := station_list.wrong_longitude(east, where)) is not None:
        problems.append(off)
    daily.problems[:0] = problems
    on_earth = degrees is not None and abs(degrees) <= NORTHERNMOST
    ordered = check_quality(daily, degrees if on_earth else None)
    return Understood(
        ordered,
        site,
        float("nan") if degrees is None else degrees,
        None if east is None else station_list.longitude_east(east),
    )


def _wrong_latitude(degrees: float, where: str) -> Problem:
    if degrees < 0:
        return Problem(
            where,
            f"{degrees:g} lies in the south, where fall is March to May; "
            "a season here runs from a northern fall.",
            Text("Degrees north are positive numbers: ", Parameter("latitude", 31.3), "."),
        )
    return Problem(
        where,
        f"{degrees:g} lies outside 0 to {NORTHERNMOST:g} degrees north.",
        Text("Give degrees with decimals, such as ", Parameter("latitude", 31.3), "."),
    )


def _degrees(daily: Daily, name: str, given: float | None, problems: list[Problem]) -> float | None:
    """Settle between what was given and what the file says."""
    text = str(daily.about.get(name, "")).strip().replace("\u2212", "-")
    said: float | None = None
    if text:
        said = station_list.read_degrees(text)
        if said is None and given is None:
            where = daily.about_at.get(name, f"{daily.file}, {name}")
            problems.append(
                Problem(
                    where,
                    f"'{text[:40]}' is not a number.",
                    "Write degrees with decimals, such as 31.3.",
                )
            )
    if given is None:
        return said
    if isinstance(given, bool) or not isinstance(given, Real) or not np.isfinite(float(given)):
        problems.append(
            Problem(
                Parameter(name),
                f"{given} is not a number.",
                "Write degrees with decimals, such as 31.3.",
            )
        )
        return None
    if said is not None and abs(said - given) > 0.1:
        daily.doubts.append(
            Problem(
                f"{daily.file}, {name}",
                f"The file says {said:g}, you say {given:g}; yours is followed.",
            )
        )
    return float(given)


def _read(
    path: Path, units_of_file: Literal["us", "si"] | None, date_format: str | None, site: str | None
) -> Daily:
    start = _beginning(path)
    for magic, (kind, remedy) in _OTHER_KINDS.items():
        if start.startswith(magic):
            raise fault(path.name, f"It is {kind}, not a weather file.", remedy)
    if start.startswith((b"CDF\x01", b"CDF\x02", b"\x89HDF\r\n\x1a\n")):
        from simulator.weather.files.netcdf import read_netcdf

        return read_netcdf(path, site=site)
    listed = list_stations(path)
    if listed is not None:
        return _station_in_file(path, *listed, site, units_of_file, date_format)
    if (size := path.stat().st_size) > MOST_BYTES:
        raise fault(
            path.name,
            f"It has {size / 2**20:.0f} MB; at most {MOST_BYTES // 2**20} MB are read.",
            "Give the daily record of one place.",
        )
    if start.startswith(b"PK\x03\x04"):
        from simulator.weather.files.spreadsheet import read_spreadsheet

        return read_spreadsheet(path, units_of_file=units_of_file, date_format=date_format)
    from simulator.weather.files.text import read_text

    with path.open("rb") as opened:
        data = opened.read(MOST_BYTES + 1)
    return read_text(data, path.name, units_of_file=units_of_file, date_format=date_format)


def _station_in_file(
    path: Path,
    listed: Sequence[ListedStation],
    without_station: Sequence[Problem],
    site: str | None,
    units_of_file: Literal["us", "si"] | None,
    date_format: str | None,
) -> Daily:
    """Read one station of a file of several."""
    station = choose_station(listed, site, path.name)
    with split_in_temporary_folder(path, [station]) as folder:
        daily = read_station(folder, station, units_of_file=units_of_file, date_format=date_format)
    daily.doubts.extend(without_station)
    return daily


def _beginning(path: Path) -> bytes:
    """Return the first bytes of a file that is there, is a file, and is not empty."""
    try:
        if path.is_dir():
            raise fault(str(path), "It is a folder.", "Give a weather file in it.")
        if not path.exists():
            raise fault(str(path), "There is no such file.", "Check the name and the folder.")
        if not path.is_file():
            raise fault(str(path), "It is not an ordinary file.", "Give a weather file.")
        if path.stat().st_size == 0:
            raise fault(path.name, "It is empty.", "Give a table with a header and a row a day.")
        with path.open("rb") as opened:
            return opened.read(16)
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        raise fault(
            str(path), f"It cannot be opened: {error}.", "Check its permissions."
        ) from error
