"""Frost: hardening, its loss, and what a cold night leaves alive."""

from math import exp

from simulator.process.compiled import compiled

TENDER = -3.0  # LT50 of an unhardened seedling's crown [degC]
SNOW_FOLD = 10.0  # cm of snow that let 1/e of a swing through
CROWN_SWING = 0.33  # of the air's swing that reaches 2 to 3 cm depth
DEATHS_OVER = 1.5  # degC, spread of the logistic of survival,
DEATHS_OF_TENDER = 0.25  # and of LT50, where that is less


@compiled
def soil_temperature(before: float, tmean: float, snow_depth: float, follow: float) -> float:
    """Daily temperature of the top soil [degC]: follows the air, slower under snow [cm].

    References
    ----------
    First-order lag after Zheng, Hunt and Running (1993), Clim. Res. 2:183-191 (from memory);
    snow insulates with an e-folding depth of 10 cm (common practice).
    """
    return before + follow * exp(-snow_depth / SNOW_FOLD) * (tmean - before)


@compiled
def crown_minimum(soil: float, tmean: float, tmin: float, snow_depth: float) -> float:
    """Lowest temperature at crown depth [degC]: the night's swing damped by soil and snow.

    References
    ----------
    A third of the air's swing reaches 2 to 3 cm depth (common practice, no source).
    """
    return soil - CROWN_SWING * exp(-snow_depth / SNOW_FOLD) * (tmean - tmin)


@compiled
def induction_temperature(hardiest: float) -> float:
    """Temperature below which the stand hardens [degC].

    References
    ----------
    Fowler, Limin and Ritchie (1999), Crop Sci. 39:626-633: 3.72135 - 0.401124 LT50c
    (constants from memory, not verified in the paper).
    """
    return 3.72135 - 0.401124 * hardiest


@compiled
def hardiest_by_stage(hardiest: float, development: float) -> float:
    """Lowest LT50 [degC] that a stand can still reach at its development.

    Parameters
    ----------
    hardiest : float
        The lowest the cereal can reach before stem elongation [degC].
    development : float
        1 at stem elongation, 2 at the start of anthesis.

    References
    ----------
    After the change to reproductive growth the ability to harden is lost by and by (Fowler,
    Limin and Ritchie 1999, Crop Sci. 39:626-633); in a line to a seedling's at anthesis is common
    practice.
    """
    return hardiest + (TENDER - hardiest) * min(max(development - 1.0, 0.0), 1.0)


@compiled
def dehardening(crown: float) -> float:
    """Hardiness that a day without hardening takes [degC], by its crown temperature [degC].

    References
    ----------
    Fowler, Limin and Ritchie (1999), Crop Sci. 39:626-633: 5.05/(1 + exp(4.35 - 0.28 T))
    (constants from memory).
    """
    return 5.05 / (1.0 + exp(4.35 - 0.28 * crown))


@compiled
def hardiness(lt50: float, crown: float, hardiest: float, softening: float) -> float:
    """Temperature that kills half the stand [degC] after a day at a crown temperature [degC].

    Parameters
    ----------
    lt50 : float
        Yesterday's, at most -3.
    crown : float
        Mean crown temperature of the day.
    hardiest : float
        The lowest the stand can reach, see `hardiest_by_stage`.
    softening : float
        `dehardening` at the crown temperature.

    References
    ----------
    Fowler, Limin and Ritchie (1999), Crop Sci. 39:626-633: hardening
    0.014 (Ti - T)(LT50 - LT50c) below the induction temperature (constants from memory).
    """
    induction = induction_temperature(hardiest)
    change = softening
    if crown < induction:
        change = -0.014 * (induction - crown) * (lt50 - hardiest)
    return min(max(lt50 + change, hardiest), TENDER)


@compiled
def survival(temperature: float, lt50: float) -> float:
    """Share that survives a temperature [degC]: one half at LT50.

    References
    ----------
    By definition of LT50; logistic with a spread of 1.5 degC, less for tender plants so that
    no frost kills none (common practice).
    """
    return 1.0 / (1.0 + exp(-(temperature - lt50) / min(DEATHS_OVER, -DEATHS_OF_TENDER * lt50)))
