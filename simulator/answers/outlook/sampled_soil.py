"""How much of a soil's nitrate lies above the depth to which it was sampled."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.season.measured import NITRATE, Measured
from simulator.season.one_season import run_season
from simulator.season.plan import Plan

if TYPE_CHECKING:
    import xarray as xr


def share_above(
    record: xr.Dataset,
    plan: Mapping[str, str],
    sets: Mapping[str, Any],
    year: int,
    one: Measured,
) -> float:
    """Return the share of the column's nitrate above the depth sampled; 1 but for nitrate.

    The field as described says it, on the day of the sample: drawn fields differ in how much
    nitrate they have rather than in how deep it lies.

    Parameters
    ----------
    record : Dataset(time)
    plan : mapping
        ``sow``, ``seeding``, ``nitrogen``, ``nitrogen_timing`` as texts.
    sets : mapping
        ``cereal``, ``soil``, ``previous_crop``, ``fertilizer``: parameter sets.
    year : int
        Fall year.
    one : Measured
    """
    if one.kind != NITRATE:
        return 1.0
    ground, crop = sets["soil"], sets["previous_crop"]
    depth = min(one.depth or crop.soil_test_depth, ground.depth)
    asked = Plan(
        cereal=sets["cereal"].name,
        fertilizer=sets["fertilizer"].name,
        end=one.date,
        **{name: plan[name] for name in ("sow", "seeding", "nitrogen", "nitrogen_timing")},
    )
    named = {name: sets[name] for name in ("cereal", "soil", "previous_crop", "fertilizer")}
    days = run_season(record, asked, **named, year=year)
    held = days["nitrate_by_layer_kg_ha"].isel(time=-1).values
    below = np.cumsum([0.0, *held])
    if not below[-1] > 0.0:
        return 1.0
    bottoms = [0.0, *days["bottom_cm"].values]
    return float(np.interp(depth, bottoms, below) / below[-1])
