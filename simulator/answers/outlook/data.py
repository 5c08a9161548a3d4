"""The outlook as rows, for files and JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.outlook.calculate import Outlook
from simulator.answers.outlook.clipped import LEVELS
from simulator.answers.outlook.clipped_data import Columns, more_of_clipped, with_clipped
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
    count, error = values.shape[-1], found.errors.level
    reached = (values >= target).mean(axis=-1)
    interval = np.array([[wilson(share, count) for share in row] for row in reached])
    spread = np.quantile(error.in_fields(values).reshape(*values.shape[:2], -1), LEVELS, axis=-1)
    chance = error.chance_of(target, values).mean(axis=-1)
    share_meaning = "share of the other falls whose remainder reaches the target"
    columns = {
        "others": (np.full(reached.shape, count), "1", "other falls whose remainders are used"),
        **_band("biomass", spread, "weather and field together"),
        **_band("weather", band(values), "the weather alone"),
        **_band(
            "usual",
            [np.broadcast_to(one, reached.shape) for one in band(found.usual)],
            "the other falls as they were, the weather alone",
        ),
        "chance_percent": (
            100 * chance,
            "percent",
            "chance of the target, of weather and field together",
        ),
        "weather_chance_percent": (100 * reached, "percent", share_meaning),
        "weather_chance_low_percent": (
            100 * interval[..., 0],
            "percent",
            "lower end of that share's 95 % Wilson interval",
        ),
        "weather_chance_high_percent": (100 * interval[..., 1], "percent", "upper end of it"),
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


def _band(name: str, ends: Any, of: str) -> Columns:
    """Name the ends and the middle of a band of 8 of 10."""
    meanings = ("lower end of the band of 8 of 10", "middle case", "upper end of the band")
    parts = zip(("low", "median", "high"), ends, meanings, strict=True)
    return {
        f"{name}_{level}_kg_ha": (np.asarray(values), "kg/ha", f"{meaning}, {of}")
        for level, values, meaning in parts
    }


def more(found: Outlook) -> dict[str, Any]:
    """Return what the JSON object carries beside the bands: other falls one by one, hindcast."""
    now = found.fan.isel(as_of=-1, drop=True)
    extra: dict[str, Any] = {"others": grid_rows(now)}
    if found.hindcast is not None:
        extra["hindcast"] = grid_rows(found.hindcast)
    if found.clipped is not None:
        extra["measured"] = more_of_clipped(found.clipped)
    return extra
