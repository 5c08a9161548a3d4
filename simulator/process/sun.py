"""Sun: radiation at the top of the air and at the ground, and how long the day is.

Two lengths of day are kept apart. `daylight_hours` is FAO's geometric one, from the centre of
the sun at the horizon, and short in autumn; plants respond to `photoperiod`, from civil dawn
to civil dusk, which is an hour or more longer.
"""

from math import acos, asin, atan, cos, exp, isnan, pi, sin, sqrt, tan

import numpy as np

from simulator.process.compiled import compiled

Array = np.ndarray[tuple[int], np.dtype[np.float64]]

SOLAR_CONSTANT = 0.0820  # MJ m-2 min-1, FAO paper 56
DULLEST, CLEAREST = 0.25, 0.75  # of extraterrestrial radiation: dense cloud, clear sky at sea level
CLEAR_DAY = 0.7  # of extraterrestrial radiation on a cloudless day, Bristow and Campbell (1984)
DARK_DAY = 0.1  # of a cloudless day's light on the darkest, Thornton and Running (1999)
MONTH = 30  # days over which the usual swing of temperature is taken
RAIN_DAY = 0.1  # least rain of a day that counts as wet [mm], common practice


@compiled
def inverse_relative_distance(day_of_year: float) -> float:
    """Square of the mean distance of the earth from the sun over that of the day.

    Parameters
    ----------
    day_of_year : float
        1 to 366.

    Returns
    -------
    float
        0.967 (July) to 1.033 (January).

    References
    ----------
    Allen et al. (1998), FAO paper 56, eq. 23.
    """
    return 1.0 + 0.033 * cos(2.0 * pi * day_of_year / 365.0)


@compiled
def declination_fao(day_of_year: float) -> float:
    """Declination of the sun [rad], as FAO's radiation has it.

    Parameters
    ----------
    day_of_year : float
        1 to 366.

    Returns
    -------
    float
        -0.409 to 0.409.

    Notes
    -----
    Up to a degree low in autumn: good enough for radiation, not for `photoperiod`.

    References
    ----------
    Allen et al. (1998), FAO paper 56, eq. 24.
    """
    return 0.409 * sin(2.0 * pi * day_of_year / 365.0 - 1.39)


@compiled
def sunset_hour_angle(latitude: float, declination: float) -> float:
    """Angle [rad] by which the earth turns from noon to sunset.

    Parameters
    ----------
    latitude, declination : float
        [rad].

    Returns
    -------
    float
        0 where the sun does not rise, pi where it does not set.

    References
    ----------
    Allen et al. (1998), FAO paper 56, eq. 25; the argument is held to -1..1.
    """
    return acos(min(max(-tan(latitude) * tan(declination), -1.0), 1.0))


@compiled
def extraterrestrial_radiation(latitude: float, day_of_year: float) -> float:
    """Sunlight of a day on a level surface above the air.

    Parameters
    ----------
    latitude : float
        [degrees north], -90 to 90.
    day_of_year : float
        1 to 366.

    Returns
    -------
    float
        Extraterrestrial radiation [MJ m-2 d-1]; 0 in polar night.

    References
    ----------
    Allen et al. (1998), FAO paper 56, eq. 21.
    """
    north = latitude * pi / 180.0
    declination = declination_fao(day_of_year)
    sunset = sunset_hour_angle(north, declination)
    height = sunset * sin(north) * sin(declination) + cos(north) * cos(declination) * sin(sunset)
    full = 24.0 * 60.0 / pi * SOLAR_CONSTANT * inverse_relative_distance(day_of_year)
    return max(full * height, 0.0)


@compiled
def daylight_hours(latitude: float, day_of_year: float) -> float:
    """Hours between sunrise and sunset by geometry alone; not what plants respond to.

    Parameters
    ----------
    latitude : float
        [degrees north].
    day_of_year : float
        1 to 366.

    Returns
    -------
    float
        [h], 0 to 24.

    References
    ----------
    Allen et al. (1998), FAO paper 56, eq. 34.
    """
    return 24.0 / pi * sunset_hour_angle(latitude * pi / 180.0, declination_fao(day_of_year))


@compiled
def clear_sky_radiation(extraterrestrial: float, elevation: float) -> float:
    """Sunlight that reaches the ground on a cloudless day.

    Parameters
    ----------
    extraterrestrial : float
        [MJ m-2 d-1].
    elevation : float
        Height above the sea [m].

    Returns
    -------
    float
        [MJ m-2 d-1].

    References
    ----------
    Allen et al. (1998), FAO paper 56, eq. 37.
    """
    return (CLEAREST + 2e-5 * elevation) * extraterrestrial


@compiled
def radiation_from_temperature(
    tmax: float, tmin: float, extraterrestrial: float, coefficient: float = 0.16
) -> float:
    """Sunlight at the ground, told from how far the day warmed: clear days swing widely.

    Parameters
    ----------
    tmax, tmin : float
        Daily maximum and minimum temperature [degC].
    extraterrestrial : float
        [MJ m-2 d-1].
    coefficient : float
        0.16 inland, 0.19 on a coast [degC^-0.5].

    Returns
    -------
    float
        Solar radiation [MJ m-2 d-1].

    Notes
    -----
    The equation gives none on a day without a swing and more than a clear sky lets through on
    a wide one; the result is held between dense cloud and clear sky (FAO paper 56, below
    eq. 35). For comparison: it takes no notice of rain, and a season uses
    `radiation_from_swing_and_rain`.

    References
    ----------
    Allen et al. (1998), FAO paper 56, eq. 50 (Hargreaves' radiation formula).
    """
    share = coefficient * sqrt(max(tmax - tmin, 0.0))
    return min(max(share, DULLEST), CLEAREST) * extraterrestrial


@compiled
def daily_swing(tmax: float, tmin: float, next_tmin: float) -> float:
    """How far a day warmed, between the minima of two mornings.

    Parameters
    ----------
    tmax, tmin : float
        Daily maximum and minimum temperature [degC].
    next_tmin : float
        Minimum of the day after [degC].

    Returns
    -------
    float
        [degC], 0 or more.

    References
    ----------
    Bristow and Campbell (1984), Agric. For. Meteorol. 31:159-166.
    """
    swing = tmax - 0.5 * (tmin + next_tmin)
    return max(swing, 0.0)


@compiled
def radiation_from_swing_and_rain(
    swing: float, usual_swing: float, rain: float, extraterrestrial: float
) -> float:
    """Sunlight at the ground, told from how far the day warmed and whether it rained.

    Parameters
    ----------
    swing : float
        `daily_swing` [degC].
    usual_swing : float
        Mean of the swing over a month [degC]: where and when days swing widely, a wide swing
        says less.
    rain : float
        [mm].
    extraterrestrial : float
        [MJ m-2 d-1].

    Returns
    -------
    float
        Solar radiation [MJ m-2 d-1].

    Notes
    -----
    On a rain day the swing counts three quarters. The curve goes to nothing on a day without a
    swing; no day is darker here than a tenth of a clear one, as in Thornton and Running (1999).
    The coefficients are the authors' own, for three stations in the northwestern United States;
    none is fitted here.

    References
    ----------
    Bristow and Campbell (1984), Agric. For. Meteorol. 31:159-166: A = 0.7, C = 2.4, B = 0.036
    exp(-0.154 x mean swing), as quoted by later authors. Thornton and Running (1999), Agric. For.
    Meteorol. 93:211-228.
    """
    if isnan(rain):
        return rain
    counted = 0.75 * swing if rain >= RAIN_DAY else swing
    steepness = 0.036 * exp(-0.154 * usual_swing)
    share = 1.0 - exp(-steepness * max(counted, 0.0) ** 2.4)
    return CLEAR_DAY * max(share, DARK_DAY) * extraterrestrial


@compiled
def radiation_of_day(
    tmax: Array, tmin: Array, rain: Array, day: int, extraterrestrial: float
) -> float:
    """Sunlight at the ground on one day of a run of days, estimated.

    Parameters
    ----------
    tmax, tmin, rain : array (day,)
        [degC, degC, mm]; NaN where there is no weather.
    day : int
        Which of the days, one with weather.
    extraterrestrial : float
        Of that day [MJ m-2 d-1].

    Returns
    -------
    float
        Solar radiation [MJ m-2 d-1]; NaN on a day without weather.

    Notes
    -----
    The usual swing is the mean over that day and the 29 before it, of those that have weather.
    Where the next day has none, the swing is that of the day's own minimum.

    References
    ----------
    Bristow and Campbell (1984), Agric. For. Meteorol. 31:159-166, who take the mean of the month.
    """
    total, days, swing = 0.0, 0, np.nan
    for past in range(max(day - MONTH + 1, 0), day + 1):
        after = tmin[past + 1] if past + 1 < tmin.size else np.nan
        swing = daily_swing(tmax[past], tmin[past], tmin[past] if isnan(after) else after)
        if not isnan(swing):
            total += swing
            days += 1
    if isnan(swing):
        return swing
    return radiation_from_swing_and_rain(swing, total / days, rain[day], extraterrestrial)


@compiled
def photoperiod(latitude: float, day_of_year: float, sun_altitude: float = -6.0) -> float:
    """Hours of the day with the sun above an altitude.

    Parameters
    ----------
    latitude : float
        [degrees north].
    day_of_year : float
        1 to 366.
    sun_altitude : float
        [degrees]; -6 for civil twilight, -0.8333 for sunrise to sunset as seen, 0 for the
        centre of the sun without an atmosphere.

    Returns
    -------
    float
        [h], 0 where the sun never comes so high, 24 where it never sinks so low.

    References
    ----------
    Forsythe et al. (1995), Ecological Modelling 80:87-95, the CBM model (eqs 1-3).
    """
    north = latitude * pi / 180.0
    revolution = 0.2163108 + 2.0 * atan(0.9671396 * tan(0.00860 * (day_of_year - 186.0)))
    declination = asin(0.39795 * cos(revolution))
    below = sin(-sun_altitude * pi / 180.0) + sin(north) * sin(declination)
    night = acos(min(max(below / (cos(north) * cos(declination)), -1.0), 1.0))
    return 24.0 - 24.0 / pi * night
