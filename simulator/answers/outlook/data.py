"""The outlook as rows, for files and JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.outlook.calculate import Outlook
from simulator.answers.outlook.clipped_data import more_of_clipped, with_clipped
from simulator.answers.shared.few_falls import band, wilson
from simulator.show.output import grid_rows

if TYPE_CHECKING:
    import xarray as xr


def dataset(found: Outlook, target: float) -> xr.Dataset:
    """Lay the fan out as bands: one row for each date known to and each end.

    Parameters
    ----------
    found : Outlook
    target : float
        [kg/ha].

    Returns
    -------
    Dataset(as_of, end)
    """
    import xarray as xr

    biomass = found.fan["biomass_kg_ha"]
    values = biomass.transpose("as_of", "end", "other").values
    low, median, high = band(values)
    chance = (values >= target).mean(axis=-1)
    count = values.shape[-1]
    interval = np.array([[wilson(share, count) for share in row] for row in chance])
    usual_low, usual, usual_high = band(found.usual)
    columns = {
        "others": (np.full(low.shape, count), "1", "other falls whose remainders are used"),
        "biomass_low_kg_ha": (low, "kg/ha", "lower end of the band that holds 8 of 10 seasons"),
        "biomass_median_kg_ha": (median, "kg/ha", "biomass in the middle case"),
        "biomass_high_kg_ha": (high, "kg/ha", "upper end of the band"),
        "usual_low_kg_ha": (
            np.broadcast_to(usual_low, low.shape),
            "kg/ha",
            "lower end of the band of the other falls as they were",
        ),
        "usual_median_kg_ha": (np.broadcast_to(usual, low.shape), "kg/ha", "their middle case"),
        "usual_high_kg_ha": (
            np.broadcast_to(usual_high, low.shape),
            "kg/ha",
            "upper end of their band",
        ),
        "chance_percent": (100 * chance, "percent", "share that reaches the target"),
        "chance_low_percent": (
            100 * interval[..., 0],
            "percent",
            "lower end of its 95 % Wilson interval",
        ),
        "chance_high_percent": (100 * interval[..., 1], "percent", "upper end of it"),
    }
    if found.clipped is not None:
        columns = with_clipped(columns, found.clipped, target)
    return xr.Dataset(
        {
            name: (("as_of", "end"), values, {"units": unit, "long_name": meaning})
            for name, (values, unit, meaning) in columns.items()
        },
        coords={"as_of": biomass["as_of"], "end": biomass["end"]},
        attrs=found.attrs,
    )


def more(found: Outlook) -> dict[str, Any]:
    """Return what the JSON object carries beside the bands: other falls one by one, hindcast."""
    now = found.fan.isel(as_of=-1, drop=True)
    values: dict[str, Any] = {"others": grid_rows(now)}
    if found.hindcast is not None:
        values["hindcast"] = grid_rows(found.hindcast)
    if found.clipped is not None:
        values["measured"] = more_of_clipped(found.clipped)
    return values
