"""A place, and where its record is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import xarray as xr


@dataclass(frozen=True, slots=True)
class Place:
    """A location that weather is for, and where its record is.

    Parameters
    ----------
    site : str
        Its name.
    source : str
        Whole path of a file or store, or the name of a sample.
    index : int or None
        Where it is along the dimension of places of a netCDF file or zarr store.
    latitude, longitude : float or None
        [degrees north, degrees east]; None where only the record may say.
    soil : str or None
        Texture, if given.
    units_of_file, date_format : str or None
        As in `reading.read_weather`.
    station : str or None
        Identifier or name of its station in a file of several stations.
    """

    site: str
    source: str
    index: int | None = None
    latitude: float | None = None
    longitude: float | None = None
    soil: str | None = None
    units_of_file: Literal["us", "si"] | None = None
    date_format: str | None = None
    station: str | None = None


def with_soil(record: xr.Dataset, place: Place) -> xr.Dataset:
    """Put the soil of a place, if given, among the attributes of its record."""
    return record if place.soil is None else record.assign_attrs(soil=place.soil)
