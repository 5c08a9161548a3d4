"""Residue in fields like these: what the error of biomass makes of cover, mass and days.

Decay is in proportion to what lies there, as long as C:N is the same. So a field with half as much
biomass has half as much residue on every day, and no decay has to be grown anew for it; its cover
follows from the mass.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.shared.field_ranges import Ranges
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.process.residue import soil_loss_ratio
from simulator.show.tables import FEWEST_FOR_SHARES, spread

if TYPE_CHECKING:
    import xarray as xr

Array = np.ndarray[Any, Any]

NUMBER = 100  # errors, equally likely, that each fall is given
ENDS = (0.1, 0.9)  # between which 8 of 10 lie


def times_simulated(biomass: Array, errors: ModelErrors = SHIPPED) -> Array:
    """Return what fields like these may have, as multiples of what is simulated.

    Parameters
    ----------
    biomass : array (...)
        At termination [kg/ha].
    errors : ModelErrors

    Returns
    -------
    array (..., error)
        1 where nothing stands, of which there is no multiple.
    """
    made = errors.level.in_fields(biomass, NUMBER)
    there = biomass[..., None] > 0.0
    return np.where(there, made / np.where(there, biomass[..., None], 1.0), 1.0)


def thickness(covered: Array) -> Array:
    """Turn cover into what is in proportion to the mass on the ground; `covered_by` undoes it.

    References
    ----------
    Gregory (1982), Trans. ASAE 25:1333-1337: cover is 1 - exp(-A M).
    """
    return np.asarray(-np.log1p(-np.minimum(covered, 1.0 - 1e-12)))


def covered_by(thick: Array) -> Array:
    """Return the share of the ground covered: 1 - exp(-A M)."""
    return np.asarray(-np.expm1(-thick))


def _ranges(in_fields: Array, falls: Array) -> Ranges:
    known = in_fields[np.isfinite(in_fields)]
    if not known.size:
        return Ranges(*[float("nan")] * 4)
    low, high = np.quantile(known, ENDS)
    return Ranges(float(low), float(high), *spread(falls))


def mass_ranges(mass: Array, biomass: Array, errors: ModelErrors = SHIPPED) -> Ranges:
    """Return the ranges of residue of falls [kg/ha], by their biomass at termination."""
    return _ranges(mass[:, None] * times_simulated(biomass, errors), mass)


def cover_ranges(covered: Array, biomass: Array, errors: ModelErrors = SHIPPED) -> Ranges:
    """Return the ranges of the share of the ground covered (fall,), by biomass at termination."""
    thick = thickness(covered)[:, None] * times_simulated(biomass, errors)
    return _ranges(covered_by(thick), covered)


def soil_loss(covered: Array) -> Array:
    """Soil lost as a share of that without any cover, by the share of the ground covered.

    References
    ----------
    `simulator.process.residue.soil_loss_ratio`.
    """
    return np.array([soil_loss_ratio(share) for share in covered.ravel()]).reshape(covered.shape)


def loss_less_ranges(
    bare: Array, together: Array, new: Array, biomass: Array, errors: ModelErrors = SHIPPED
) -> Ranges:
    """Return the ranges of how much less soil is lost than from bare soil.

    Parameters
    ----------
    bare, together, new : array (fall,)
        Share of the ground covered on bare soil; under old residue and the stand's; under the
        stand's alone. Only the last is so much more or less in fields like these.
    biomass : array (fall,)
        At termination [kg/ha].
    errors : ModelErrors
    """
    of_stand = np.minimum(thickness(new), thickness(together))
    old = thickness(together) - of_stand
    made = covered_by(old[:, None] + of_stand[:, None] * times_simulated(biomass, errors))
    without = soil_loss(bare)
    return _ranges(without[:, None] - soil_loss(made), without - soil_loss(together))


def _days_above(quantity: Array, least: float, times: Array) -> Array:
    """Count days on which a quantity times each of many factors reaches a value.

    Parameters
    ----------
    quantity : array (fall, day)
    least : float
    times : array (fall, error)

    Returns
    -------
    array (fall, error)
        NaN for a fall that is not known to the last day.
    """
    counts = np.full(times.shape, np.nan)
    for fall, days in enumerate(quantity):
        if np.isfinite(days).all():
            with np.errstate(divide="ignore"):
                needed = least / times[fall]
            counts[fall] = days.size - np.searchsorted(np.sort(days), needed)
    return counts


def days_ranges(
    covered: Array, share: float, biomass: Array, falls: Array, errors: ModelErrors = SHIPPED
) -> Ranges:
    """Return the ranges of days on which a share of the ground is covered.

    Parameters
    ----------
    covered : array (fall, day)
        From the day after termination on.
    share : float
    biomass, falls : array (fall,)
        At termination [kg/ha]; days so counted in each fall.
    errors : ModelErrors
    """
    times = times_simulated(biomass, errors)
    return _ranges(_days_above(thickness(covered), float(thickness(np.array(share))), times), falls)


def heavy(
    on_ground: Array, least: float, biomass: Array, errors: ModelErrors = SHIPPED
) -> tuple[float, float]:
    """Return the chance that residue is heavy for a day or more, and for how many days then.

    Parameters
    ----------
    on_ground : array (fall, day)
        From the day after termination on [kg/ha].
    least : float
        What is heavy [kg/ha].
    biomass : array (fall,)
        At termination [kg/ha].
    errors : ModelErrors

    Returns
    -------
    float, float
        0 to 1, NaN where nothing is known; days as a mean, NaN where it never is.
    """
    days = _days_above(on_ground, least, times_simulated(biomass, errors))
    known = days[np.isfinite(days)]
    if not known.size:
        return float("nan"), float("nan")
    there = known[known > 0]
    return there.size / known.size, float(there.mean()) if there.size else float("nan")


def cover_by_day(stands: xr.Dataset, after: xr.Dataset, errors: ModelErrors) -> dict[str, Array]:
    """Return the ends of the ranges of cover on each day.

    Parameters
    ----------
    stands : Dataset(year, sow)
    after : Dataset(year, sow, residue, day)
    errors : ModelErrors

    Returns
    -------
    dict of str to array (sow, residue, day)
        ``ground_covered_low`` and ``_high`` of weather and field together, and the weather's
        alone, whose names begin with ``weather_``.
    """
    covered = after["ground_covered"].transpose("year", "sow", "residue", "day").values
    times = times_simulated(stands["biomass_kg_ha"].transpose("year", "sow").values, errors)
    thick = thickness(covered)
    ends = np.empty((2, *covered.shape[1:]))
    for sow in range(covered.shape[1]):
        for residue in range(covered.shape[2]):
            # (day, fall, error): what is ordered lies side by side
            by_member = thick[:, sow, residue].T[:, :, None] * times[:, sow]
            by_member = by_member.reshape(covered.shape[3], -1)
            known = np.isfinite(by_member).all(axis=0)
            made = by_member if known.all() else by_member[:, known]
            ends[:, sow, residue] = np.quantile(made, ENDS, axis=1, overwrite_input=True)
    low, high = covered_by(ends)
    weather_low, weather_high = np.nanpercentile(covered, [10.0, 90.0], axis=0)
    few = np.isfinite(covered).sum(axis=0) < FEWEST_FOR_SHARES  # as `spread` has it
    weather_low = np.where(few, np.nanmin(covered, axis=0), weather_low)
    weather_high = np.where(few, np.nanmax(covered, axis=0), weather_high)
    return {
        "ground_covered_low": low,
        "ground_covered_high": high,
        "weather_ground_covered_low": weather_low,
        "weather_ground_covered_high": weather_high,
    }
