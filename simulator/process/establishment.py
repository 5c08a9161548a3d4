"""Establishment: how many of the seedlings a dry, flooded or crusted seedbed lets through.

A moist, open seedbed takes nothing: what it leaves is in the share that makes a plant anyway.
"""

from math import erfc, exp, log, log10, sqrt

from simulator.process.compiled import compiled

AT_WILTING_POINT = -1.5  # MPa
AT_FIELD_CAPACITY = -0.033  # MPa
MOLAR_VOLUME = 18.0e-6  # m3 mol-1, of water
GAS_CONSTANT = 8.314  # J mol-1 K-1
SORPTION = 1.2299e-5  # soft wheat, of `seed_moisture`
SORPTION_POWER = 2.5558
SORPTION_SHIFT = 64.346  # degC
WETTEST_SEED = 25.0  # percent, to which `seed_life` was measured
SEED_COOLING = 0.0322  # degC-1, of `seed_life`
SEED_COOLING_SQUARE = 0.000454  # degC-2


@compiled
def water_potential(water: float, wilting_point: float, field_capacity: float) -> float:
    """Water potential of soil [MPa]: -1.5 at the wilting point, -0.033 at field capacity.

    Parameters
    ----------
    water, wilting_point, field_capacity : float
        In one unit.

    References
    ----------
    Campbell (1974), Soil Sci. 117:311-314, a power of the water content (from memory), laid
    through the two points; that these are -1.5 and -0.033 MPa is common practice.
    """
    power = log(AT_WILTING_POINT / AT_FIELD_CAPACITY) / log(field_capacity / wilting_point)
    return float(AT_WILTING_POINT * (max(water, 0.1 * wilting_point) / wilting_point) ** -power)


@compiled
def air_humidity(potential: float, temperature: float) -> float:
    """Relative humidity, 0 to 1, of air about soil or seed at a water potential [MPa].

    References
    ----------
    Kelvin's equation: exp(potential x molar volume of water/(R T)).
    """
    kelvin = temperature + 273.15
    return exp(1e6 * min(potential, 0.0) * MOLAR_VOLUME / (GAS_CONSTANT * kelvin))


@compiled
def seed_moisture(humidity: float, temperature: float) -> float:
    """Moisture of seed [percent of its fresh weight] in balance with air, at most 25.

    References
    ----------
    Modified Henderson equation, 1 - humidity = exp(-A (T + C) M^B), M in percent of dry weight;
    soft wheat in ASAE Standard D245 (constants from memory; they give the 10.8 % that a table of
    extension has for soft red winter wheat at 90 degF and 50 % humidity).
    """
    scale = SORPTION * (max(temperature, 0.0) + SORPTION_SHIFT)
    dry_basis = (-log(max(1.0 - humidity, 1e-12)) / scale) ** (1.0 / SORPTION_POWER)
    return float(min(100.0 * dry_basis / (100.0 + dry_basis), WETTEST_SEED))


@compiled
def seed_life(moisture: float, temperature: float, longest: float, wetness: float) -> float:
    """Time in which seed that does not sprout loses one probit of its viability [d].

    Parameters
    ----------
    moisture : float
        Of the seed [percent of its fresh weight].
    temperature : float
        [degC], 0 or more counts.
    longest, wetness : float
        Constants of the species, K_E and C_W.

    References
    ----------
    Ellis and Roberts (1980), Ann. Bot. 45:13-30: log10 life = K_E - C_W log10 m - C_H T - C_Q T^2;
    the last two constants: Ellis and Hong (2007), Seed Sci. Technol. 35:432-444 (abstract), common
    to twelve crops, for seed of 2 to 25 % moisture at 0 to 50 degC.
    """
    warm = max(temperature, 0.0)
    return float(
        10.0
        ** (
            longest
            - wetness * log10(moisture)
            - SEED_COOLING * warm
            - SEED_COOLING_SQUARE * warm * warm
        )
    )


@compiled
def seed_ageing(
    water: float,
    wilting_point: float,
    field_capacity: float,
    temperature: float,
    longest: float,
    wetness: float,
) -> float:
    """Probits of viability that seed loses in a day in soil too dry for it to sprout.

    Parameters
    ----------
    water, wilting_point, field_capacity : float
        Of the seedbed, in one unit.
    temperature : float
        Of the soil [degC].
    longest, wetness : float
        As of `seed_life`.

    References
    ----------
    `water_potential`, `air_humidity`, `seed_moisture` and `seed_life`: that seed is in balance
    with the soil about it is common practice, no source.
    """
    humidity = air_humidity(
        water_potential(water, wilting_point, field_capacity), max(temperature, 0.0)
    )
    moisture = seed_moisture(humidity, temperature)
    return 1.0 / seed_life(moisture, temperature, longest, wetness)


@compiled
def share_viable(ageing: float, fresh: float) -> float:
    """Share of the live seed that is still alive after it has lost so many probits.

    Parameters
    ----------
    ageing : float
        Probits lost.
    fresh : float
        Viability of the seed when sown, in probits: 1.645 is 95 %.

    References
    ----------
    Ellis and Roberts (1980), Ann. Bot. 45:13-30: deaths are normally distributed in time.
    """
    if ageing <= 0.0:
        return 1.0
    return erfc((ageing - fresh) / sqrt(2.0)) / erfc(-fresh / sqrt(2.0))


@compiled
def flooded_part(air: float, least: float) -> float:
    """Part of a day that a seedbed counts as flooded, by its air-filled pores [m3 m-3].

    References
    ----------
    Common practice, no source: all of it with no air left, none from ``least`` on.
    """
    return min(max(1.0 - air / least, 0.0), 1.0)


@compiled
def share_through_flood(days: float, loss: float) -> float:
    """Share of seed and seedlings alive after days of flooding beyond what they bear.

    References
    ----------
    Cannell, Belford, Gales, Dennis and Prew (1980), J. Sci. Food Agric. 31:117-132 (abstract):
    winter wheat waterlogged after germination and before emergence, 6 days left 12 % (clay) and
    38 % (sandy loam), 16 days none. That the loss is first-order is ours: mathematics.
    """
    return exp(-loss * days)


@compiled
def crust_made(crust: float, rain: float, least: float, covered: float) -> float:
    """Return the crust on the soil, 0 to 1, after a day's rain on it.

    Parameters
    ----------
    crust : float
        Before.
    rain, least : float
        Of the day, and that below which none forms [mm].
    covered : float
        Share of the ground under residue, where none forms.

    References
    ----------
    Common practice, no source.
    """
    if rain <= least:
        return crust
    return crust + (1.0 - crust) * (1.0 - covered) * (1.0 - exp(-(rain - least) / least))


@compiled
def share_through_crust(crust: float, moist: float, most: float) -> float:
    """Share of the seedlings that come up through a crust.

    Parameters
    ----------
    crust : float
        0 to 1.
    moist : float
        Moisture of the seedbed, 0 to 1 (see `seed_zone_moisture`).
    most : float
        Share that the hardest crust of the soil holds back where it is dry.

    References
    ----------
    Hanks and Thorp (1957), Soil Sci. Soc. Am. Proc. 21:357-359 (abstract): emergence of wheat
    falls with the strength of the crust, further where the soil is drier, and some come up
    through the hardest. The straight line and the numbers are common practice, no source.
    """
    return 1.0 - most * crust * (1.0 - moist)
