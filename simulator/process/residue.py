"""Residue: its decay, the ground that it covers, and the nitrogen that decay gives or takes."""

from math import exp

from simulator.process.compiled import compiled

KEPT = 1.0 / 3.0  # share of decomposed carbon that microbes keep
MICROBIAL_RATIO = 8.0  # their carbon to nitrogen
WARMEST = 37.0  # degC, of fastest decay
TEMPERATURE_SHIFT = 7.76  # degC; below its negative nothing decays
WETTING = 4.0  # mm of rain that wets residue through
DRYING = 0.4  # share of wetness left after a dry day
GREEN_RATIO = 25.0  # carbon to nitrogen of green residue
GREEN_RATE = 0.028  # its decay in a decomposition day
SLOWEST, FASTEST = 0.005, 0.050  # decay in a decomposition day, whatever the nitrogen
PROTECTION = 0.035  # fall of soil loss for each percent of the ground covered


@compiled
def residue_cover(mass: float, area_per_mass: float) -> float:
    """Share of the ground covered by residue of a mass [kg/ha].

    References
    ----------
    Gregory (1982), Trans. ASAE 25:1333-1337: 1 - exp(-A M); small grain A = 0.00053 ha/kg fits
    Agriculture Handbook 703 (table values from memory).
    """
    return 1.0 - exp(-area_per_mass * mass)


@compiled
def soil_loss_ratio(cover: float) -> float:
    """Soil lost as a share of that from bare ground, by the share of the ground covered.

    References
    ----------
    Renard et al. (1997), USDA Agriculture Handbook 703: exp(-b Rc), Rc in percent, b 0.035
    within 0.025 to 0.05; of its factors only that of surface cover.
    """
    return exp(-PROTECTION * 100.0 * cover)


@compiled
def decomposition_temperature(temperature: float) -> float:
    """Decay as a share of that at 37 degC, by the day's mean temperature [degC].

    References
    ----------
    Renard et al. (1997), USDA Agriculture Handbook 703, eq. 5-7 with A 7.76 degC, To 37 degC:
    (2 (T+A)^2 (To+A)^2 - (T+A)^4)/(To+A)^4. None below -A, where the equation would turn up.
    """
    here = max(temperature + TEMPERATURE_SHIFT, 0.0) ** 2
    best = (WARMEST + TEMPERATURE_SHIFT) ** 2
    return max(here * (2.0 * best - here) / (best * best), 0.0)


@compiled
def decomposition_water(rain: float, yesterday: float) -> float:
    """Decay as a share of that of wet residue, by the day's rain [mm] and yesterday's share.

    References
    ----------
    The decomposition-day method for wheat residue, from memory: 1 from 4 mm of rain on, P/4
    below, and never less than 0.4 of the day before.
    """
    return max(min(rain / WETTING, 1.0), DRYING * yesterday)


@compiled
def decomposition_day(temperature_factor: float, water_factor: float) -> float:
    """Part of a best day for decay that a day is worth: the scarcer of warmth and water.

    References
    ----------
    The decomposition-day method for wheat residue, from memory: the lesser of the two.
    """
    return min(temperature_factor, water_factor)


@compiled
def residue_decay_rate(carbon_to_nitrogen: float) -> float:
    """Decay of residue on the ground in a decomposition day, in proportion to its nitrogen.

    References
    ----------
    Commun. Soil Sci. Plant Anal. 41:267-276 (2010, abstract): 0.022 a day where moist at C:N
    below 25, 0.013 above 30, in a greenhouse; at 25 degC (assumed), worth 0.78 of a best day, that
    is 0.028 and 0.017. Slower at higher C:N: Thapa et al. (2021), Agric. Ecosyst. Environ.,
    doi 10.1016/j.agee.2021.107823 (abstract). Proportion and limits of 0.005 and 0.05: common
    practice.
    """
    return min(max(GREEN_RATE * GREEN_RATIO / carbon_to_nitrogen, SLOWEST), FASTEST)


@compiled
def net_mineralisation(carbon_decomposed: float, carbon_to_nitrogen: float) -> float:
    """Nitrogen set free (or, below zero, tied up) by decomposing residue carbon [kg/ha].

    References
    ----------
    Microbes of C:N 8 keep a third of the carbon: C (1/CN - e/8), e = 1/3, in balance at 24:1
    (USDA-NRCS, Carbon to Nitrogen Ratios in Cropping Systems).
    """
    return carbon_decomposed * (1.0 / carbon_to_nitrogen - KEPT / MICROBIAL_RATIO)


@compiled
def decay_with_nitrogen(freed: float, mineral: float) -> float:
    """Share of a day's decay that microbes can go through with, short of nitrogen or not.

    Parameters
    ----------
    freed : float
        Nitrogen that the decay would free, below zero where it would tie up [kg/ha].
    mineral : float
        Mineral nitrogen about the residue [kg/ha]; they get at half of it in a day.

    References
    ----------
    Common practice, no source.
    """
    if freed >= -0.5 * mineral:
        return 1.0
    return -0.5 * mineral / freed
