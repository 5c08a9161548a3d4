"""What was measured of a stand under way, and how far a simulated stand is from it.

A stand's biomass is clipped, its growth stage scored, its green cover read, the nitrate of its soil
analysed. Each has an error of its own, from practice; a difference counts in units of that error
and of what stands differ by that the drawn fields do not make (`FieldSpread.missed`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from simulator.parameters.cereals import Cereal
from simulator.parameters.field_spread import FieldSpread

Array = np.ndarray[Any, Any]

BIOMASS, STAGE, COVER, NITRATE = "biomass", "stage", "cover", "nitrate"
FIELD_OF = {  # kind -> the field of a day's record that it is held against
    BIOMASS: "biomass_kg_ha",
    STAGE: "growth_stage_zadoks",
    COVER: "leaf_area_index",
    NITRATE: "soil_nitrate_kg_ha",
}
UNIT_OF = {BIOMASS: "kg/ha", STAGE: "Zadoks", COVER: "percent", NITRATE: "kg/ha"}
ALIVE = 1.0  # kg/ha: what a dead stand counts as, for its logarithm
LEAST_LEAF = 0.01  # leaf area index that bare ground counts as
LEAST_NITRATE = 5.0  # kg/ha added to both: so little is not told apart
FULLEST = 0.98  # share of the ground beyond which cover says no more


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One thing that was measured in the field on one day.

    Parameters
    ----------
    date : str
        MM-DD.
    value : float
        Biomass: dry matter of shoots [kg/ha]; stage: Zadoks; cover: green share of the ground, 0
        to 1; nitrate: nitrate nitrogen in the soil [kg/ha].
    kind : {"biomass", "stage", "cover", "nitrate"}
    depth : float, optional
        To which the soil was sampled [cm]; without it that of soil tests.
    """

    date: str
    value: float
    kind: str = BIOMASS
    depth: float | None = None


def as_measured(kind: str, recorded: Array, cereal: Cereal, share: float = 1.0) -> Array:
    """Turn what a day's record holds into what would be measured.

    Parameters
    ----------
    kind : str
    recorded : array
        Of the field that `FIELD_OF` names.
    cereal : Cereal
        Its extinction makes green cover of leaf area.
    share : float
        Of the column's nitrate, above the depth that was sampled.

    References
    ----------
    Cover as light is intercepted, 1 - exp(-k L): Monsi and Saeki (1953), from memory.
    """
    if kind == COVER:
        return np.asarray(1.0 - np.exp(-cereal.extinction * np.maximum(recorded, 0.0)))
    return np.asarray(recorded * share if kind == NITRATE else recorded)


def off_by(one: Measured, simulated: Array, spread: FieldSpread, cereal: Cereal) -> Array:
    """Return how far simulated stands are from what was measured, in standard deviations.

    Parameters
    ----------
    one : Measured
    simulated : array (draw,)
        From `as_measured`.
    spread : FieldSpread
    cereal : Cereal
    """
    if one.kind == STAGE:
        return np.asarray((simulated - one.value) / spread.stage)
    if one.kind == NITRATE:
        logs = np.log((np.maximum(simulated, 0.0) + LEAST_NITRATE) / (one.value + LEAST_NITRATE))
        return np.asarray(logs / np.hypot(spread.nitrate, spread.missed))
    if one.kind == COVER:
        seen = float(_leaf_area(np.asarray(one.value), cereal))
        slope = cereal.extinction * seen * np.exp(-cereal.extinction * seen)
        logs = np.log(_leaf_area(simulated, cereal) / seen)
        return np.asarray(logs / np.hypot(spread.cover / slope, spread.missed))
    return clipping_off(simulated, one.value, spread)


def clipping_off(simulated: Array, measured: Any, spread: FieldSpread) -> Array:
    """Return how far simulated biomass is from clippings, in standard deviations of the logarithm.

    The variance is the clipping's own and that of stands about every draw, which is the larger.

    Parameters
    ----------
    simulated : array (..., clipping)
        [kg/ha].
    measured : float, or array (clipping,)
        [kg/ha].
    spread : FieldSpread
    """
    logs = np.log(np.maximum(simulated, ALIVE)) - np.log(np.asarray(measured, float))
    return np.asarray(logs / np.hypot(spread.clipping, spread.missed))


def _leaf_area(cover: Array, cereal: Cereal) -> Array:
    """Return the leaf area index that makes a cover; more than `FULLEST` counts as that."""
    within = np.clip(cover, 0.0, FULLEST)
    return np.asarray(np.maximum(-np.log(1.0 - within) / cereal.extinction, LEAST_LEAF))
