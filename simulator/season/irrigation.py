"""How the falls of a record are watered, and on which days of a season.

Irrigation goes with the record that a plan is grown in, as the attribute ``irrigation``: each fall
of it is watered on the same dates. `simulator.season.plan` reads the texts.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.problems import Parameter
from simulator.season import arguments
from simulator.season import plan as plans
from simulator.season.day.drivers import DAYS

if TYPE_CHECKING:
    import xarray as xr

ATTRIBUTE = "irrigation"


def watered(
    record: xr.Dataset,
    given: str | Sequence[str] | None,
    sow: str | Sequence[str],
    end: str | Sequence[str],
) -> xr.Dataset:
    """Return a record whose falls are watered as Python gives it; as it is where it gives none.

    Parameters
    ----------
    record : Dataset(time)
    given : str or list of str, optional
        As `simulator.season.plan.read_irrigation` takes it.
    sow, end : str or list of str
        Of the plans; a text may have several with commas.

    Raises
    ------
    InputError
        As `simulator.season.plan.read_irrigation` and `check_irrigation`.
    """
    if given is None or given == "":
        return record
    (texts,) = arguments.texts(irrigation=given)
    irrigation = plans.read_irrigation(texts)
    sowings = [plans.month_day(text, name=Parameter("sow")) for text in _each(sow)]
    plans.check_irrigation(irrigation, sowings, _each(end))
    return irrigated(record, irrigation)


def irrigated(record: xr.Dataset, irrigation: Sequence[plans.Irrigation]) -> xr.Dataset:
    """Return a record whose falls are all watered so; nothing else of it is changed."""
    return record.assign_attrs({ATTRIBUTE: written(irrigation)})


def irrigation_of(record: xr.Dataset) -> tuple[plans.Irrigation, ...]:
    """Return how the falls of a record are watered.

    Raises
    ------
    InputError
        Its attribute cannot be read.
    """
    text = record.attrs.get(ATTRIBUTE)
    return plans.read_irrigation(str(text), name="the record's irrigation") if text else ()


def written(irrigation: Sequence[plans.Irrigation]) -> str:
    """Write waterings so that they are read again to the bit."""
    return ", ".join(f"{one.amount!r} mm on {one.date}" for one in irrigation)


def by_day(irrigation: Sequence[plans.Irrigation], years: Sequence[int]) -> np.ndarray[Any, Any]:
    """Lay waterings on the days of fall years: array (season, day) [mm]."""
    water = np.zeros((len(years), DAYS))
    for season, year in enumerate(years):
        for one in irrigation:
            water[season, plans.day_number(year, one.date)] += one.amount
    return water


def _each(given: str | Sequence[str]) -> list[str]:
    return [part.strip() for part in given.split(",")] if isinstance(given, str) else list(given)
