"""Development: from seed to ripe grain, by temperature, vernalization and photoperiod.

The stand's development counts 0 at emergence, 1 at stem elongation (Zadoks 30), 2 at the
start of anthesis (Zadoks 61) and 3 at ripeness (Zadoks 91).
"""

from math import exp, log

from simulator.process.compiled import compiled

GERMINATION = 80.0  # degC d above 0 from sowing until the seed has germinated
LAST_LEAF = 1.58  # development at which the flag leaf is out, Zadoks 39
ANTHESIS = 2.0  # development; from here on grain lives on what the stand holds
RIPE = 3.0


@compiled
def temperature_response(temperature: float, lowest: float, best: float, highest: float) -> float:
    """Response of a rate to temperature: 0 at the lowest and highest, 1 at the best.

    References
    ----------
    Wang and Engel (1998), Agric. Syst. 58:1-24:
    f = (2 (T-Tn)^a (To-Tn)^a - (T-Tn)^2a) / (To-Tn)^2a, a = ln 2 / ln((Tx-Tn)/(To-Tn)).
    """
    if temperature <= lowest or temperature >= highest:
        return 0.0
    power = log(2.0) / log((highest - lowest) / (best - lowest))
    rise = float(((temperature - lowest) / (best - lowest)) ** power)
    return rise * (2.0 - rise)


@compiled
def vernalization_rate(temperature: float) -> float:
    """Vernalization of a day [d], most at 4.9 degC, none below -1.3 or above 15.7.

    References
    ----------
    Wang and Engel (1998), Agric. Syst. 58:1-24, winter wheat.
    """
    return temperature_response(temperature, -1.3, 4.9, 15.7)


@compiled
def vernalization_response(vernal_days: float, half: float) -> float:
    """Share of full development speed after ``vernal_days`` of vernalization.

    References
    ----------
    Streck, Weiss and Baenziger (2003), Agron. J. 95:155-159: V^5 / (22.5^5 + V^5) for winter
    wheat; ``half`` stands for 22.5 (constants from memory).
    """
    part = vernal_days / half
    square = part * part
    fifth = square * square * part  # quicker than a power
    return fifth / (1.0 + fifth)


@compiled
def photoperiod_response(photoperiod: float, critical: float, optimum: float) -> float:
    """Share of full development speed at a civil daylength [h].

    References
    ----------
    Wang and Engel (1998), Agric. Syst. 58:1-24: 1 - exp(-w (P - Pc)), w = 4/(Popt - Pc).
    """
    if photoperiod <= critical:
        return 0.0
    return 1.0 - exp(-4.0 / (optimum - critical) * (photoperiod - critical))


@compiled
def emergence_thermal_time(depth: float) -> float:
    """Thermal time above 0 degC from sowing to emergence [degC d] at a depth [cm].

    References
    ----------
    80 degC d to germinate and about 50 for each inch of depth (Oregon State University
    Extension practice, from memory).
    """
    return GERMINATION + 50.0 * depth / 2.54


@compiled
def seed_zone_moisture(water: float, wilting_point: float, field_capacity: float) -> float:
    """Share of full germination speed: none at the wilting point, full from 40 % available.

    A germinated seed has a root below it and comes up whatever the topsoil does.

    References
    ----------
    Common practice, no source.
    """
    return min(max((water - wilting_point) / (0.4 * (field_capacity - wilting_point)), 0.0), 1.0)


@compiled
def leaf_appearance(thermal_time: float, phyllochron: float) -> float:
    """Leaves that appear on the main stem in a day.

    References
    ----------
    Rickman and Rasmussen (1985), Soil Sci. Soc. Am. J. 49:1251: 80 to 120 degC d a leaf above
    0 degC; linear in thermal time (Baker, Gallagher and Monteith 1980).
    """
    return thermal_time / phyllochron


@compiled
def zadoks_stage(development: float, leaves: float, shoots_per_plant: float) -> float:
    """Growth stage on the decimal scale.

    Parameters
    ----------
    development : float
        0 emergence, 1 stem elongation, 2 start of anthesis, 3 ripe.
    leaves : float
        Leaves on the main stem.
    shoots_per_plant : float
        Main stem and tillers.

    References
    ----------
    Zadoks, Chang and Konzak (1974), Weed Res. 14:415-421. The spacing of 31, 32, 37, 39, 45, 55
    between elongation and anthesis is common practice, no source.
    """
    if development < 1.0:
        if leaves < 3.0:
            return 10.0 + leaves
        return min(20.0 + max(shoots_per_plant - 1.0, 0.0), 29.0)
    if development < 2.0:
        part = development - 1.0
        if part < 0.12:
            return 30.0 + part / 0.12
        if part < 0.25:
            return 31.0 + (part - 0.12) / 0.13
        if part < 0.45:
            return 32.0 + 5.0 * (part - 0.25) / 0.20
        if part < 0.58:
            return 37.0 + 2.0 * (part - 0.45) / 0.13
        if part < 0.72:
            return 39.0 + 6.0 * (part - 0.58) / 0.14
        if part < 0.86:
            return 45.0 + 10.0 * (part - 0.72) / 0.14
        return 55.0 + 6.0 * (part - 0.86) / 0.14
    return grain_stage(min(development - 2.0, 1.0))


@compiled
def grain_stage(part: float) -> float:
    """Growth stage on the decimal scale, by the part of the way from anthesis to ripeness.

    References
    ----------
    As `zadoks_stage`.
    """
    if part < 0.12:
        return 61.0 + 8.0 * part / 0.12
    if part < 0.25:
        return 69.0 + 4.0 * (part - 0.12) / 0.13
    if part < 0.70:
        return 73.0 + 12.0 * (part - 0.25) / 0.45
    return 85.0 + 6.0 * (part - 0.70) / 0.30
