"""Water in the soil column that plants can take."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from simulator.parameters.soils import Soil

Array = np.ndarray[Any, Any]


def full_water(soil: Soil) -> float:
    """Return the water between wilting point and field capacity [mm]."""
    return 10.0 * soil.depth * (soil.field_capacity - soil.wilting_point)


def available(water: Array, soil: Soil) -> Array:
    """Return water above the wilting point, at most to field capacity [mm].

    Parameters
    ----------
    water : array
        Of the column [mm].
    soil : Soil
    """
    above = water - 10.0 * soil.depth * soil.wilting_point
    return np.asarray(np.clip(above, 0.0, full_water(soil)))
