"""What a season or a grid carries with it: units, meanings, provenance."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import simulator
from simulator.season.day.record import RECORD

if TYPE_CHECKING:
    import xarray


def described(dataset: xarray.Dataset) -> xarray.Dataset:
    """Give the fields of the day's record their units and meanings."""
    for name, unit, meaning in RECORD:
        if name in dataset:
            dataset[name].attrs.update(units=unit, long_name=meaning)
    return dataset


# attributes of a record: what its weather is, and how it is shown
ITS_WEATHER = (
    "site",
    "latitude",
    "longitude",
    "source",
    "invented",
    "changes",
    "irrigation",
    "filled",
)
ITS_UNITS = ("units_shown", "units_of_file")


def of_record(
    record: xarray.Dataset, kept: Sequence[str] = (*ITS_WEATHER, *ITS_UNITS)
) -> dict[str, Any]:
    """Gather what a result repeats of its record."""
    return {key: record.attrs[key] for key in kept if record.attrs.get(key) not in (None, "")}


def provenance(record: xarray.Dataset, **more: Any) -> dict[str, Any]:
    """Gather what a result says of the record that it was grown from, and of what grew it."""
    return {**of_record(record), "version": simulator.__version__, **more}
