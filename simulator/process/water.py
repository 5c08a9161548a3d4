"""Water: snow, runoff, evaporative demand, stress, and a layered soil that drains.

The day's order, which moves leaching (see docs/model.md): rain and melt wet the soil, the
layers drain from the top down, then soil and stand evaporate. FAO paper 56 wets at the start
of the day too (its Example 38).
"""

from math import exp, sqrt

import numpy as np

from simulator.process.compiled import compiled

Array = np.ndarray[tuple[int], np.dtype[np.float64]]


SPREAD = 100.0  # mm of soil over which a day's flow wets
WETTEST = 1.15  # evaporation from all wet surfaces as a share of the reference (FAO paper 56
# eq. 72: 1.05 to 1.30)


@compiled
def reference_evapotranspiration(tmax: float, tmin: float, extraterrestrial: float) -> float:
    """Evaporative demand of a reference grass from temperatures alone (Hargreaves).

    Parameters
    ----------
    tmax, tmin : float
        Daily maximum and minimum temperature [degC].
    extraterrestrial : float
        Extraterrestrial radiation [MJ m-2 d-1].

    Returns
    -------
    float
        Reference evapotranspiration [mm d-1], never below zero.

    References
    ----------
    Allen et al. (1998), FAO paper 56, eq. 52; 1 MJ m-2 d-1 = 0.408 mm d-1 (eq. 20).
    """
    mean = 0.5 * (tmax + tmin)
    spread = max(tmax - tmin, 0.0)
    return max(0.0023 * (mean + 17.8) * sqrt(spread) * 0.408 * extraterrestrial, 0.0)


@compiled
def snow_share(tmean: float) -> float:
    """Share of the day's precipitation that falls as snow: all at 0 degC, none at 2.

    References
    ----------
    Rain and snow are equally likely between 0 and 2 degC (US National Weather Service
    training page RFS905W5, default 1 degC).
    """
    return min(max((2.0 - tmean) / 2.0, 0.0), 1.0)


@compiled
def snowmelt(tmean: float, snow_water: float, melt_factor: float) -> float:
    """Melt [mm d-1] by the degree-day method: never more than the snow's water.

    References
    ----------
    USDA-NRCS (2004), National Engineering Handbook 630, ch. 11, M = CM (Ta - 0 degC);
    CM 2.74 mm per degC and day where nothing better is known.
    """
    return min(max(melt_factor * tmean, 0.0), snow_water)


@compiled
def curve_number_runoff(rain: float, curve_number: float) -> float:
    """Runoff [mm] of a day's rain and melt [mm].

    References
    ----------
    USDA-NRCS (2004), National Engineering Handbook 630, ch. 10: S = 25400/CN - 254,
    Ia = 0.2 S, Q = (P - Ia)^2 / (P - Ia + S).
    """
    retention = 25400.0 / curve_number - 254.0
    above = rain - 0.2 * retention
    if above <= 0.0:
        return 0.0
    return above * above / (above + retention)


@compiled
def basal_crop_coefficient(leaf_area: float, smallest: float, full: float) -> float:
    """Transpiration of the stand as a share of the reference, from its leaf area.

    References
    ----------
    Allen et al. (1998), FAO paper 56, eq. 97: Kcb = Kcmin + (Kcfull - Kcmin)(1 - exp(-0.7 LAI)).
    """
    return smallest + (full - smallest) * (1.0 - exp(-0.7 * leaf_area))


@compiled
def evaporation_reduction(depletion: float, readily: float, total: float) -> float:
    """Share of energy-limited evaporation left as the surface layer dries (Kr).

    Parameters
    ----------
    depletion, readily, total : float
        Water lost from the surface layer, readily and totally evaporable water [mm].

    References
    ----------
    Allen et al. (1998), FAO paper 56, eq. 74.
    """
    if depletion <= readily:
        return 1.0
    return max((total - depletion) / (total - readily), 0.0)


@compiled
def mulch_factor(cover: float) -> float:
    """Share of soil evaporation left under a flat organic mulch covering ``cover`` of the ground.

    References
    ----------
    Allen et al. (1998), FAO paper 56, p. 197: about 5 % less for each 10 % covered.
    """
    return 1.0 - 0.5 * cover


@compiled
def depletion_fraction(table_value: float, demand: float) -> float:
    """Share of available water that the stand takes without stress (p).

    References
    ----------
    Allen et al. (1998), FAO paper 56, table 22 note: p = p22 + 0.04 (5 - ETc), 0.1 to 0.8.
    """
    return min(max(table_value + 0.04 * (5.0 - demand), 0.1), 0.8)


@compiled
def water_stress(depletion: float, available: float, fraction: float) -> float:
    """Transpiration as a share of its unstressed rate (Ks).

    Parameters
    ----------
    depletion, available : float
        Water missing from field capacity and total available water of the root zone [mm].
    fraction : float
        Share taken without stress.

    References
    ----------
    Allen et al. (1998), FAO paper 56, eq. 84.
    """
    if available <= 0.0:
        return 0.0
    if depletion <= fraction * available:
        return 1.0
    return max((available - depletion) / ((1.0 - fraction) * available), 0.0)


@compiled
def layer_drainage(
    water: float, field_capacity: float, saturation: float, drain_rate: float
) -> float:
    """Water that leaves a layer downwards in a day [mm].

    What lies above saturation passes at once; of what lies above field capacity a fixed share
    drains in a day. Monotone: more water never drains less.

    References
    ----------
    Linear reservoir above field capacity; common practice for daily layered soils, no source.
    """
    if water <= field_capacity:
        return 0.0
    if water <= saturation:
        return drain_rate * (water - field_capacity)
    return water - saturation + drain_rate * (saturation - field_capacity)


@compiled
def water_over_the_day(water: float, flow: float, saturation: float, thickness: float) -> float:
    """Water in a layer [mm] as a mean over the day: what drained from it was there for half of it.

    Parameters
    ----------
    water, flow, saturation : float
        At the end of the day, drained in the day, when full [mm].
    thickness : float
        Of the layer [mm]; in a thin one the flow is spread over `SPREAD`, so that how soil is
        cut into layers does not decide how wet it is.

    References
    ----------
    Linear outflow over the day (mathematics); the depth is common practice, no source.
    """
    return min(water + 0.5 * flow * min(thickness / SPREAD, 1.0), saturation)


@compiled
def aeration(air_filled: float, least: float) -> float:
    """Growth left when roots lack air: 1 at or above ``least`` air-filled pore space.

    References
    ----------
    Grable and Siemer (1968), Soil Sci. Soc. Am. Proc. 32:180-186: root growth suffers below
    about 10 % air-filled porosity (from memory). Not below one half, since a bucket has no
    water table.
    """
    return min(max(0.5 + 0.5 * air_filled / least, 0.5), 1.0)


@compiled
def percolate(
    water: Array,
    entering: float,
    field_capacity: Array,
    saturation: Array,
    drain_rate: float,
    flow: Array,
) -> float:
    """Let a day's water into a column of layers and drain it from the top down.

    Parameters
    ----------
    water : array (layer,)
        Changed in place [mm].
    entering : float
        Water that enters the top [mm].
    field_capacity, saturation : array (layer,)
        Of each layer [mm].
    drain_rate : float
        Share of the water above field capacity that drains in a day.
    flow : array (layer,)
        Filled with what leaves each layer's bottom [mm].

    Returns
    -------
    float
        Drainage below the last layer [mm].

    References
    ----------
    `layer_drainage`, layer by layer.
    """
    for layer in range(water.size):
        water[layer] += entering
        entering = layer_drainage(
            water[layer], field_capacity[layer], saturation[layer], drain_rate
        )
        water[layer] -= entering
        flow[layer] = entering
    return entering
