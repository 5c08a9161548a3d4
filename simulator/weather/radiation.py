"""Measured radiation of a record, and what becomes of it where the weather is changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

    Values = NDArray[np.float64]

SCALED = "radiation_scaled"  # attribute of a changed record: days on which it was


def estimate(record: xr.Dataset) -> Values:
    """Return the radiation of every day as a season would estimate it [MJ m-2 d-1].

    Parameters
    ----------
    record : Dataset(time)
        With its latitude.

    Returns
    -------
    array (day,)
        NaN on days without weather, and on all where the latitude is not known.
    """
    from simulator.process.sun import extraterrestrial_radiation, radiation_of_day

    tmax, tmin, rain = (np.asarray(record[name].values, float) for name in ("tmax", "tmin", "rain"))
    latitude = float(record.attrs.get("latitude", np.nan))
    above = np.array([extraterrestrial_radiation(latitude, day) for day in range(1, 367)])
    days = record["time"].values.astype("datetime64[D]")
    of_year = (days - days.astype("datetime64[Y]")).astype(int)
    return np.array(
        [radiation_of_day(tmax, tmin, rain, at, above[day]) for at, day in enumerate(of_year)]
    )


def follow_change(changed: xr.Dataset, before: xr.Dataset) -> xr.Dataset:
    """Bring measured radiation in line with weather that was changed.

    Parameters
    ----------
    changed, before : Dataset(time)
        The same days. Changed still has the radiation that was measured.

    Returns
    -------
    Dataset
        On days whose temperature or rain is another than before, the estimate for the new weather
        times the day's ratio of measured to estimated radiation; never more than a clear day has,
        or than was measured if that was more. ``attrs`` counts those days.
    """
    if "radiation" not in before:
        return changed
    measured = np.asarray(before["radiation"].values, float)
    other = np.zeros(measured.size, dtype=bool)
    for name in ("tmax", "tmin", "rain"):
        new, old = changed[name].values, before[name].values
        other |= (new != old) & np.isfinite(old)
    other &= np.isfinite(measured)
    if not other.any():
        return changed
    from simulator.process.sun import CLEAREST, extraterrestrial_radiation

    ratio = measured / estimate(before)
    days = before["time"].dt.dayofyear.values
    latitude = float(before.attrs.get("latitude", np.nan))
    clear = CLEAREST * np.array([extraterrestrial_radiation(latitude, day) for day in days])
    followed = np.minimum(ratio * estimate(changed), np.maximum(clear, measured))
    radiation = np.where(other, followed, measured)
    return changed.assign(radiation=before["radiation"].copy(data=radiation)).assign_attrs(
        {SCALED: int(other.sum())}
    )


def about_radiation(record: xr.Dataset) -> list[str]:
    """Say what became of measured radiation where the weather was changed; else nothing."""
    if not record.attrs.get(SCALED):
        return []
    return [
        "Radiation was measured under the weather as it was; on days whose temperature or rain is "
        "changed it is what the changed weather lets one expect, times that day's ratio of "
        "measured to expected."
    ]
