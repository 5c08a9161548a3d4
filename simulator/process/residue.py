"""Residue: decay of the previous crop's residue, and the nitrogen it gives or takes."""

from math import exp

from simulator.process.compiled import compiled


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
def net_mineralisation(carbon_decomposed: float, carbon_to_nitrogen: float) -> float:
    """Nitrogen set free (or, below zero, tied up) by decomposing residue carbon [kg/ha].

    References
    ----------
    Microbes of C:N 8 keep a third of the carbon: C (1/CN - e/8), e = 1/3, in balance at 24:1
    (USDA-NRCS, Carbon to Nitrogen Ratios in Cropping Systems).
    """
    return carbon_decomposed * (1.0 / carbon_to_nitrogen - (1.0 / 3.0) / 8.0)
