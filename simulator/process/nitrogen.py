"""Nitrogen: what the soil gives, what water takes, what the stand wants.

Nitrate moves with water, ammonium stays where it is. Amounts are kg of nitrogen per hectare.
"""

from math import exp

import numpy as np

from simulator.process.compiled import compiled

Array = np.ndarray[tuple[int], np.dtype[np.float64]]

AMMONIUM_UPTAKE = 0.3  # of ammonium as a share of nitrate's: it does not come with the water
ANAEROBIC = 0.60  # share of the pores filled with water above which nitrate is denitrified
TOPSOIL = 20.0  # cm of soil with its full organic matter, and the e-folding depth below


@compiled
def soil_temperature_factor(temperature: float) -> float:
    """Microbial activity as a share of that at 35 degC: doubles every 10 degC.

    References
    ----------
    Stanford, Frere and Schwaninger (1973), Soil Sci. 115:321-323, Q10 of 2 (from memory);
    none at or below freezing.
    """
    if temperature <= 0.0:
        return 0.0
    return float(2.0 ** ((min(temperature, 35.0) - 35.0) / 10.0))


@compiled
def soil_moisture_factor(water: float, air_dry: float, field_capacity: float) -> float:
    """Microbial activity as a share of that at field capacity, linear from air-dry soil.

    References
    ----------
    (th - th_airdry)/(th_fc - th_airdry) [abstract seen of a residue decomposition study]; full
    from field capacity on.
    """
    if water >= field_capacity:
        return 1.0
    return max((water - air_dry) / (field_capacity - air_dry), 0.0)


@compiled
def topsoil_share(top: float, bottom: float) -> float:
    """Mean organic matter between two depths [cm] as a share of that of the topsoil.

    References
    ----------
    Even to 20 cm, falling by e in each 20 cm below; common practice, no source.
    """
    above = min(top, TOPSOIL) + TOPSOIL * (1.0 - exp(-max(top - TOPSOIL, 0.0) / TOPSOIL))
    within = min(bottom, TOPSOIL) + TOPSOIL * (1.0 - exp(-max(bottom - TOPSOIL, 0.0) / TOPSOIL))
    return (within - above) / (bottom - top)


@compiled
def mineralisation(
    organic_nitrogen: float, rate: float, temperature_factor: float, moisture_factor: float
) -> float:
    """Nitrogen that soil organic matter gives in a day.

    References
    ----------
    First-order: Stanford and Smith (1972), Soil Sci. Soc. Am. Proc. 36:465-472.
    """
    return organic_nitrogen * rate * temperature_factor * moisture_factor


@compiled
def share_lost(rate: float, factor: float) -> float:
    """Share lost in a day at a first-order rate [d-1], slowed by a factor: 1 - exp(-k f).

    References
    ----------
    Integral of dN/dt = -k f N over a day (mathematics).
    """
    return 1.0 - exp(-rate * factor)


@compiled
def first_order(amount: float, rate: float, factor: float) -> float:
    """Amount lost in a day at a first-order rate, never more than there is.

    References
    ----------
    `share_lost` of the amount (mathematics).
    """
    return amount * share_lost(rate, factor)


@compiled
def wetness_for_denitrification(water_filled: float) -> float:
    """Share of full denitrification: none below 60 % water-filled pores, full at 100.

    References
    ----------
    Linn and Doran (1984), Soil Sci. Soc. Am. J. 48:1267-1272: aerobic activity is best at 60 %,
    anaerobic above (from memory); square rise, common practice.
    """
    part = max((water_filled - ANAEROBIC) / (1.0 - ANAEROBIC), 0.0)
    return min(part * part, 1.0)


@compiled
def set_to_soil_test(
    measured: float, depth: float, nitrate: Array, ammonium: Array, tops: Array, bottoms: Array
) -> float:
    """Set mineral nitrogen down to a depth to what a soil test found there.

    Ammonium stays, unless there is more of it than the test found in all. Nitrate makes up the
    rest in the shape that it has down to the depth; without any it lies evenly. A layer that the
    depth cuts is taken as mixed: it counts by its share above the depth, and what it has below
    stays.

    Parameters
    ----------
    measured : float
        Nitrate and ammonium nitrogen down to the depth [kg/ha].
    depth : float
        That was sampled [cm]; of one deeper than the column, the column holds all.
    nitrate, ammonium : array (layer,)
        Changed in place [kg/ha].
    tops, bottoms : array (layer,)
        Of the layers [cm].

    Returns
    -------
    float
        What was put in, less than 0 where it was taken out [kg/ha].

    References
    ----------
    Arithmetic; that the shape is kept: common practice, no source.
    """
    as_nitrate = as_ammonium = sampled = 0.0
    for layer in range(nitrate.size):
        share = share_above(depth, tops[layer], bottoms[layer])
        as_nitrate += share * nitrate[layer]
        as_ammonium += share * ammonium[layer]
        sampled += share * (bottoms[layer] - tops[layer])
    kept = measured / as_ammonium if as_ammonium > measured else 1.0
    wanted = max(measured - as_ammonium, 0.0)
    for layer in range(nitrate.size):
        share = share_above(depth, tops[layer], bottoms[layer])
        ammonium[layer] *= 1.0 - share * (1.0 - kept)
        part = share * (
            nitrate[layer] / as_nitrate
            if as_nitrate > 1e-9
            else (bottoms[layer] - tops[layer]) / sampled
        )
        nitrate[layer] = (1.0 - share) * nitrate[layer] + part * wanted
    return wanted - as_nitrate - (1.0 - kept) * as_ammonium


@compiled
def share_above(depth: float, top: float, bottom: float) -> float:
    """Share of a layer that lies above a depth [cm]: that was sampled, or that roots have reached.

    References
    ----------
    Arithmetic: the length above over the whole, 0 to 1.
    """
    if depth >= bottom:
        return 1.0
    return max(depth - top, 0.0) / (bottom - top)


@compiled
def leach(
    nitrate: Array, flow: Array, volume: Array, passing: Array, moving: Array, kept: Array
) -> float:
    """Move nitrate down a column of mixed layers with a day's water; return what leaves below.

    Each layer is well mixed and holds ``volume`` of water; ``flow`` leaves its bottom in the
    day. One layer keeps exp(-D/V) of its nitrate whatever the split of D over time; layers in
    series follow the Erlang cascade. The linear chain is solved exactly by uniformization: in
    steps at the fastest layer's rate a particle either moves down a layer or stays, and the
    number of steps in a day is Poisson. No mass is lost and none turns negative.

    Parameters
    ----------
    nitrate : array (layer,)
        Changed in place [kg/ha].
    flow, volume : array (layer,)
        Water through the bottom of each layer, and water it holds at field capacity [mm].
    passing, moving, kept : array (layer,)
        Work space.

    Returns
    -------
    float
        Nitrate that left the last layer [kg/ha].

    References
    ----------
    Scotter, White and Dyson (1993), J. Soil Sci. 44:25-33 (mixed layer); Jensen (1953), Skand.
    Aktuarietidskr. 36:87-91 (uniformization, from memory).
    """
    layers = nitrate.size
    fastest = 0.0
    for layer in range(layers):
        passing[layer] = flow[layer] / volume[layer]
        fastest = max(fastest, passing[layer])
    if fastest <= 0.0:
        return 0.0
    # exp(-fastest) must not vanish; more than 50 pore volumes a day are taken in parts
    parts = 1 + int(fastest / 50.0)
    for layer in range(layers):
        passing[layer] *= 1.0 / fastest
    fastest /= parts
    left = 0.0
    for _ in range(parts):
        chance = exp(-fastest)
        reached = chance
        for layer in range(layers):
            moving[layer] = nitrate[layer]
            kept[layer] = chance * nitrate[layer]
        out = 0.0  # of the particles that made the steps so far, those already below
        out_kept = 0.0
        step = 0
        while reached < 1.0 - 1e-12 and step < 1000:
            step += 1
            chance *= fastest / step
            reached += chance
            above = 0.0
            for layer in range(layers):
                moves = moving[layer] * passing[layer]
                moving[layer] += above - moves
                kept[layer] += chance * moving[layer]
                above = moves
            out += above
            out_kept += chance * out
        rest = max(1.0 - reached, 0.0)
        for layer in range(layers):
            nitrate[layer] = kept[layer] + rest * moving[layer]
        left += out_kept + rest * out
    return left


@compiled
def critical_concentration(shoot_mass: float) -> float:
    """Least nitrogen concentration of shoots for full growth [kg per kg] at a mass [kg/ha].

    References
    ----------
    Justes, Mary, Meynard, Machet and Thelier-Huche (1994), Ann. Bot. 74:397-407:
    5.35 W^-0.442 % from 1.55 t/ha on, 4.4 % below.
    """
    tonnes = shoot_mass * 1e-3
    if tonnes < 1.55:
        return 0.044
    return float(0.0535 * tonnes**-0.442)


@compiled
def uptake_share(
    rate: float,
    root_mass: float,
    half: float,
    roots: float,
    water: float,
    wilting_point: float,
    field_capacity: float,
) -> float:
    """Share of a layer's nitrate that the stand could take up in a day.

    Parameters
    ----------
    rate : float
        Share that a full root system takes from wet topsoil in a day.
    root_mass, half : float
        Dry mass of roots, and that at which uptake is half of a full root system's [kg/ha].
    roots : float
        Share of the layer that roots have entered times their density there.
    water, wilting_point, field_capacity : float
        Of the layer [mm]; full uptake from half of the available water on.

    References
    ----------
    Saturating in roots and linear in water as roots meet nitrate less; common practice, no source.
    """
    enough = 0.5 * (field_capacity - wilting_point)
    there = max(water - wilting_point, 0.0)
    moist = 1.0 if there >= enough else there / enough
    return rate * (root_mass / (root_mass + half)) * roots * moist


@compiled
def nutrition_index(shoot_nitrogen: float, shoot_mass: float) -> float:
    """Nitrogen in the shoots [kg/ha] as a share of what full growth asks for at their mass [kg/ha].

    References
    ----------
    Nitrogen nutrition index: Lemaire and Gastal (1997), in Diagnosis of the Nitrogen Status in
    Crops, Springer, pp. 3-43 (from memory).
    """
    if shoot_mass <= 0.0:
        return 0.0
    return shoot_nitrogen / (critical_concentration(shoot_mass) * shoot_mass)


@compiled
def demand(
    shoot_mass: float,
    root_mass: float,
    nitrogen: float,
    luxury: float,
    richest: float,
    root_ratio: float,
    most: float,
) -> float:
    """Nitrogen the stand would take up in a day [kg/ha].

    A stand takes up more than it needs while it can, stores it in sheaths and stems, and dilutes
    it when it grows: the most it holds stands above the critical curve by a fixed share, but young
    tissue is no richer than a most concentration.

    Parameters
    ----------
    shoot_mass, root_mass, nitrogen : float
        Dry mass of shoots and roots, nitrogen in both [kg/ha].
    luxury : float
        Most nitrogen of shoots as a multiple of the critical.
    richest : float
        Highest concentration of shoots [kg per kg].
    root_ratio : float
        Nitrogen concentration of roots as a share of that of shoots.
    most : float
        The most a stand takes in a day [kg/ha].

    References
    ----------
    Justes, Mary, Meynard, Machet and Thelier-Huche (1994), Ann. Bot. 74:397-407: the maximum
    curve lies at 8.3/5.35 of the critical (from memory).
    """
    if shoot_mass <= 0.0:
        return 0.0
    held = min(luxury * critical_concentration(shoot_mass), richest)
    return min(max(held * (shoot_mass + root_ratio * root_mass) - nitrogen, 0.0), most)


@compiled
def shoot_nitrogen(
    nitrogen: float, shoot_mass: float, root_mass: float, root_ratio: float
) -> float:
    """Nitrogen in the shoots [kg/ha]; roots hold ``root_ratio`` of their concentration.

    References
    ----------
    Definition of the ratio (mathematics).
    """
    whole = shoot_mass + root_ratio * root_mass
    if whole <= 0.0:
        return 0.0
    return nitrogen * shoot_mass / whole


@compiled
def volatilisation_moisture(rain: float) -> float:
    """Share of a dry day's ammonia loss: falls to none when 10 mm of rain wash it in.

    References
    ----------
    About half an inch of rain within days moves urea into the soil (common practice, no source).
    """
    return max(1.0 - rain / 10.0, 0.0)


@compiled
def concentration(amount: float, water: float) -> float:
    """Nitrogen concentration [mg/L] of an amount [kg/ha] in drained water [mm].

    References
    ----------
    Arithmetic: 1 kg/ha in 1 mm is 100 mg/L.
    """
    if water <= 0.0:
        return 0.0
    return 100.0 * amount / water
