"""The records of places, read one by one or block by block."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.problems import InputError
from simulator.weather.files.multistation.splitting import read_station, split_in_temporary_folder
from simulator.weather.files.reading import Understood, settle, to_record, understand
from simulator.weather.places.netcdf_blocks import read_block
from simulator.weather.places.place import Place, with_soil

if TYPE_CHECKING:
    import xarray as xr

AT_ONCE = 50  # places of one file read together: 13 MB for thirty years


def read_place(place: Place) -> xr.Dataset:
    """Read the record of a place.

    Parameters
    ----------
    place : Place
        From `find_places`.

    Returns
    -------
    Dataset(time)
        As `reading.read_weather` gives it, with ``site``, ``latitude`` and, if known,
        ``longitude`` and ``soil`` among its attributes.

    Raises
    ------
    InputError
        With every fault, the file named.
    """
    path = Path(place.source)
    if place.index is not None:
        block = read_block([place])
        if block.problems:
            raise InputError(list(block.problems))
        return block.record(0)
    if place.station is not None:
        with split_in_temporary_folder(path, [place.station]) as folder:
            return read_split_station(place, folder)
    if not path.is_absolute():
        from simulator.weather.samples import sample_weather

        return with_soil(sample_weather(place.source), place)
    return _record(
        place,
        understand(
            path,
            latitude=place.latitude,
            longitude=place.longitude,
            units_of_file=place.units_of_file,
            date_format=place.date_format,
        ),
    )


def read_split_station(place: Place, folder: Path) -> xr.Dataset:
    """Read the record of a place whose file was split by station.

    Parameters
    ----------
    place : Place
        With its station.
    folder : Path
        From `multistation.splitting.split_by_station`.

    Returns
    -------
    Dataset(time)
        As `read_place` gives it.

    Raises
    ------
    InputError
        With every fault, file, station and row named.
    """
    assert place.station is not None
    daily = read_station(
        folder, place.station, units_of_file=place.units_of_file, date_format=place.date_format
    )
    return _record(
        place, settle(daily, place.site, latitude=place.latitude, longitude=place.longitude)
    )


def _record(place: Place, read: Understood) -> xr.Dataset:
    if read.daily.problems:
        raise InputError(read.daily.problems)
    record = to_record(read).assign_attrs(
        site=place.site,
        units_of_file="us" if read.daily.columns["tmax"].unit == "degF" else "si",
    )
    return with_soil(record, place)


def read_places(
    places: Sequence[Place], *, at_once: int = AT_ONCE
) -> Iterator[tuple[Place, xr.Dataset | InputError]]:
    """Read the records of places one after the other, neighbours in a file together.

    Parameters
    ----------
    places : sequence of Place
        From `find_places`.
    at_once : int
        Most places of one file held at a time.

    Yields
    ------
    Place
        Each, in order.
    Dataset or InputError
        As `read_place` gives or raises it.
    """
    for (source, along, in_table), group in groupby(
        places, key=lambda p: (p.source, p.index is not None, p.station is not None)
    ):
        together = list(group)
        if in_table:
            yield from _read_in_table(source, together)
            continue
        if not along:
            yield from ((place, _read_or_fault(place)) for place in together)
            continue
        for start in range(0, len(together), at_once):
            part = together[start : start + at_once]
            try:
                block = read_block(part)
            except InputError as error:
                yield from ((place, error) for place in part)
                continue
            rows = {place: row for row, place in enumerate(block.places)}
            for place in part:
                yield (
                    place,
                    (
                        block.record(rows[place])
                        if place in rows
                        else InputError(list(block.faults[place]))
                    ),
                )


def _read_in_table(
    source: str, places: Sequence[Place]
) -> Iterator[tuple[Place, xr.Dataset | InputError]]:
    """Read stations of one table, which is read through once."""
    try:
        with split_in_temporary_folder(
            Path(source), [str(place.station) for place in places]
        ) as folder:
            yield from ((place, _or_fault(read_split_station, place, folder)) for place in places)
    except InputError as error:
        yield from ((place, error) for place in places)


def _read_or_fault(place: Place) -> xr.Dataset | InputError:
    return _or_fault(read_place, place)


def _or_fault(read: Callable[..., xr.Dataset], *arguments: Any) -> xr.Dataset | InputError:
    try:
        return read(*arguments)
    except InputError as error:
        return error
