"""On which days stands come to their growth stages."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.season.compare import grow_layout
from simulator.season.compiling import Announce, announce_compiling
from simulator.season.layout import lay_out
from simulator.season.seasons import cut_seasons, latitude_of
from simulator.weather.files.record_check import checked
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray

HEADING, FLOWERING = 55, 61  # Zadoks: half of the heads out, first anthers out


def stage_days(
    record: xarray.Dataset,
    *,
    stages: Sequence[int] = (HEADING, FLOWERING),
    years: Sequence[int] | None = None,
    announce: Announce | None = None,
    **plan: Any,
) -> xarray.DataArray:
    """Grow every plan in every fall, and say when it comes to each stage.

    Parameters
    ----------
    record : Dataset(time)
        tmax, tmin [degC], rain [mm], with the attribute ``latitude``.
    stages : sequence of int
        Zadoks, 11 to 91.
    years : sequence of int, optional
        Fall years; all that the record covers to the sowing without it.
    announce : callable, optional
        As in `simulator.season.compare.compare`.
    **plan
        As `simulator.season.layout.lay_out` takes them, but for ``end``.

    Returns
    -------
    DataArray(year, sow, seeding, nitrogen, nitrogen_timing, stage)
        Days from July 1; NaN where a stage is not reached, or not before the weather ends.

    Raises
    ------
    InputError
        Anything that cannot be used.
    """
    import xarray

    layout = lay_out(**{**plan, "end": [f"zadoks {stage}" for stage in stages]})
    record = fill_short_gaps(checked(record))
    seasons = cut_seasons(record, years, layout.sowings, layout.ends)
    announce_compiling("grow_members", announce)
    grown = grow_layout(layout, seasons, latitude_of(record))
    days = np.asarray(grown["season_day"]).reshape(len(seasons.years), *layout.shape)
    labels = {name: value for name, value in layout.coordinates().items() if name != "end"}
    return xarray.DataArray(
        days,
        coords={"year": list(seasons.years), **labels, "stage": list(stages)},
        dims=("year", *labels, "stage"),
        attrs={"units": "d", "long_name": "days from July 1 to the stage"},
    )
