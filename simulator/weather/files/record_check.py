"""Is this a record? What one must have, checked wherever a user gives one."""

from __future__ import annotations

from numbers import Real
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator.problems import InputError, Problem, fault, printable, unprintable_note
from simulator.weather.files.columns import KIND, WRITE, line_to
from simulator.weather.files.quality.limits import (
    BRIGHTEST,
    COLDEST,
    HOTTEST,
    SENTINEL_FROM,
    SENTINELS,
    WETTEST,
    WETTEST_YEAR,
)
from simulator.weather.files.reading import NORTHERNMOST
from simulator.weather.record import NAMES, WANTED, place_of, unbroken

if TYPE_CHECKING:
    import xarray as xr

UNIT = {"tmax": "degC", "tmin": "degC", "rain": "mm", "radiation": "MJ m-2 d-1"}
_LIMITS = {
    "tmax": (COLDEST, HOTTEST),
    "tmin": (COLDEST, HOTTEST),
    "rain": (0.0, WETTEST),
    "radiation": (0.0, BRIGHTEST),
}
_MOST = float(np.finfo(float).max)
_FEWEST_DAYS = 90  # from which on a mean year's rain is checked, as of a file


def checked(record: xr.Dataset) -> xr.Dataset:
    """Check a record, and set days that its time leaves out as missing.

    Parameters
    ----------
    record : Dataset
        As a user gives it; not altered.

    Returns
    -------
    Dataset
        The same one, or a copy with the days that were left out (`record.unbroken`).

    Raises
    ------
    InputError
        With every fault found: no Dataset; tmax, tmin or rain is wanting; times that are no days
        in order, each once; values that are no numbers, infinite, in another unit, or outside
        what weather does; tmax below tmin; rain below 0; a latitude that is none.

    Notes
    -----
    The limits are those that files are held to (`simulator.weather.files.quality`). A variable
    without the attribute ``units`` is taken to be in degC, mm and MJ m-2 d-1, for arithmetic may
    lose it. Of radiation only what no sun sends anywhere is refused. A record that was changed on
    purpose (``attrs["changes"]``) may leave what weather does: of it rain and radiation are held
    to 0 or more, and tmax to tmin or more.
    """
    import xarray as xr

    if not isinstance(record, xr.Dataset):
        kind = type(record).__name__
        raise fault(
            "record", f"A {kind} is not a record of weather, which is an xarray.Dataset.", WANTED
        )
    where = place_of(record)
    problems = [
        Problem(where, f"It has no {name}.", WANTED)
        for name in NAMES
        if name not in record.variables
    ]
    if problems:
        raise InputError(problems)
    whole = unbroken(record)
    days = whole.variables["time"].values.astype("datetime64[D]")
    good: dict[str, NDArray[Any]] = {}
    for name in (*NAMES, "radiation"):
        if name not in whole.variables:
            continue
        variable = whole.variables[name]
        if (problem := _no_column(where, name, variable)) is not None:
            problems.append(problem)
            continue
        found = _outside(where, name, variable.values, days, bool(record.attrs.get("changes")))
        problems += found
        if not found:
            good[name] = variable.values
    if "tmax" in good and "tmin" in good:
        problems += _crossed(where, good["tmax"], good["tmin"], days)
    problems += _no_latitude(record.attrs.get("latitude"))
    if problems:
        raise InputError(problems)
    return _printable_attributes(whole)


def _printable_attributes(record: xr.Dataset) -> xr.Dataset:
    """Take out of a record's attributes what cannot be printed, and note it."""
    plain = {
        key: printable(value)
        for key, value in record.attrs.items()
        if isinstance(value, str) and printable(value) != value
    }
    if not plain:
        return record
    notes = plain.get("notes", record.attrs.get("notes"))
    noted = [unprintable_note(f"the record's attribute {key}") for key in plain]
    plain["notes"] = "; ".join(filter(None, [notes, *noted]))
    return record.assign_attrs(plain)


def _no_column(where: str, name: str, variable: xr.Variable) -> Problem | None:
    """Say why a variable cannot be read as daily values in our unit."""
    if variable.dims != ("time",):
        along = " and ".join(map(str, variable.dims)) or "nothing"
        return Problem(
            f"{where}, {name}",
            f"It runs along {along}, a record's along time.",
            "Cut one place out of it.",
        )
    if variable.dtype.kind not in "fiu":
        return Problem(
            f"{where}, {name}",
            f"Its values are of the kind {variable.dtype}, no numbers.",
            "Make numbers of them, NaN for a missing day.",
        )
    said = variable.attrs.get("units")
    if said in (None, "", UNIT[name]):
        return None
    try:
        _, slope, offset = line_to(str(said), KIND[name])
    except InputError:
        return Problem(
            f"{where}, {name}",
            f"Its units '{said}' are not a unit of {KIND[name]}.",
            f"Give it in {UNIT[name]}, and say so in its attribute units.",
        )
    if abs(slope - 1.0) > 1e-6 or abs(offset) > 1e-6:
        return Problem(
            f"{where}, {name}",
            f"Its units are '{said}', a record's {UNIT[name]}.",
            f"Convert it and set its attribute units to {UNIT[name]}; record_from_frame "
            f"converts a table whose header has {WRITE[name]}.",
        )
    return None


def _outside(
    where: str, name: str, values: NDArray[Any], days: NDArray[Any], changed: bool
) -> list[Problem]:
    """Name the first value that is no weather, and count the others."""
    low, high = _LIMITS[name]
    if changed:
        low, high = 0.0 if low == 0.0 else -_MOST, _MOST
    wrong = (values < low) | (values > high)
    if name == "rain" and not changed and (large := values >= SENTINEL_FROM).any():
        wrong |= large & np.isin(values, SENTINELS)
    if wrong.any():
        at = int(np.argmax(wrong))
        others = int(wrong.sum()) - 1
        more = f" and {others:,} other value{'s' if others > 1 else ''}" if others else ""
        are = "are" if others else "is"
        limits = f"{low:g} to {high:g} {UNIT[name]}"
        what = f"{values[at]:g} {UNIT[name]}{more} {are} outside what weather does ({limits})."
        if low == 0.0 and values[at] < 0:
            what = f"{values[at]:g} {UNIT[name]}{more} {are} no {name}."
        elif not np.isfinite(values[at]):
            what = f"{values[at]:g}{more} {are} no weather."
        elif name == "rain" and low <= values[at] <= high:
            what = f"{values[at]:g}{more} stand{'' if others else 's'} for a missing value."
        return [Problem(f"{where}, {name} on {days[at]}", what, _remedy(name, values, wrong))]
    if name == "rain" and not changed:
        known = values[~np.isnan(values)]
        if known.size >= _FEWEST_DAYS and (year := known.mean() * 365.25) > WETTEST_YEAR:
            return [
                Problem(
                    f"{where}, rain",
                    f"It comes to {year:,.0f} mm in a mean year, more "
                    "than the wettest place on earth has.",
                    "Give it in mm.",
                )
            ]
    return []


def _remedy(name: str, values: NDArray[Any], wrong: NDArray[np.bool_]) -> str:
    """Guess the unit where many temperatures are outside what weather does."""
    known = values[np.isfinite(values)]
    if UNIT[name] == "degC" and known.size and wrong.sum() > max(2, 0.02 * known.size):
        if known.min() > 150:
            return "If it is in K, subtract 273.15."
        if known.min() >= -80 and known.max() <= 134:
            return "If it is in degF, subtract 32 and divide by 1.8."
    return "Correct it, or leave it NaN where the value is missing."


def _crossed(
    where: str, tmax: NDArray[Any], tmin: NDArray[Any], days: NDArray[Any]
) -> list[Problem]:
    below = tmax < tmin
    if not below.any():
        return []
    at, count = int(np.argmax(below)), int(below.sum())
    more = f", and on {count - 1:,} other day{'s' if count > 2 else ''}" if count > 1 else ""
    swapped = count > 0.5 * np.isfinite(tmax - tmin).sum()
    return [
        Problem(
            f"{where}, {days[at]}",
            f"tmax {tmax[at]:g} is below tmin {tmin[at]:g}{more}.",
            "Exchange the two." if swapped else "Correct them, or leave both NaN.",
        )
    ]


def _no_latitude(latitude: Any) -> list[Problem]:
    if latitude is None:
        return []
    if isinstance(latitude, np.ndarray) and latitude.shape == ():
        latitude = latitude[()]
    if isinstance(latitude, bool | np.bool_) or not isinstance(latitude, Real):
        return [
            Problem(
                "latitude",
                f"The record's, '{latitude}', is not a number.",
                "Give degrees north with decimals, such as 31.3.",
            )
        ]
    degrees = float(latitude)
    if np.isnan(degrees) or 0.0 <= degrees <= NORTHERNMOST:
        return []
    return [
        Problem(
            "latitude",
            f"The record's, {degrees:g}, is out of range.",
            f"The model runs from 0 to {NORTHERNMOST:g} degrees north.",
        )
    ]
