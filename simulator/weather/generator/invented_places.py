"""Invented places around a fitted one: its climate shifted smoothly in space, a file for them all.

The places lie evenly scattered in a box of some degrees. Each is as much cooler as it lies
further north, and warmer, cooler, wetter or drier by fields that change smoothly across the box.
The weather of each is drawn by itself: two neighbours have like climates, not the same storms.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import __version__
from simulator.problems import Parameter, Text, fault
from simulator.weather.generator.daily import DailyClimate, day_of_year, draw_days, falls
from simulator.weather.generator.fit import FittedClimatology
from simulator.weather.generator.generated import DIGITS
from simulator.weather.generator.rain_chain import shift_odds
from simulator.weather.record import NAMES, make_record

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_PLACES = 100_000
HALF_SPAN = (2.0, 2.5)  # degrees of latitude and of longitude from the fitted place
# Common practice, no source: the lowland mean falls by some 0.7 degC a degree of latitude.
COOLING_NORTHWARD = 0.7  # degC a degree
WARMTH_SPREAD = 0.8  # degC, standard deviation of the field of warmth
WETNESS_SPREAD = 0.12  # of the logarithm of the year's rain
# steps of an even scatter in the plane: powers of the root of x^3 = x + 1
_ROOT = 1.3247179572447458
_STEPS = np.array([1.0 / _ROOT, 1.0 / _ROOT**2])
_WAVES = 4


@dataclass(frozen=True, slots=True)
class Places:
    """Where invented places lie and how their climate differs from the fitted one.

    Parameters
    ----------
    names : list of str
    latitude, longitude : ndarray, shape (places,)
        [degrees].
    warmer : ndarray, shape (places,)
        [degC].
    wetter : ndarray, shape (places,)
        Factor on the year's rain, nearly.
    """

    names: list[str]
    latitude: NDArray[np.float64]
    longitude: NDArray[np.float64]
    warmer: NDArray[np.float64]
    wetter: NDArray[np.float64]


def check_count(count: int) -> None:
    """Refuse too many places, or none.

    Raises
    ------
    InputError
    """
    if not 1 <= count <= MOST_PLACES:
        raise fault(
            Parameter("places"), f"{count} places asked for.", f"Ask for 1 to {MOST_PLACES:,}."
        )


def scatter(fitted: FittedClimatology, count: int, seed: int) -> Places:
    """Scatter places about the fitted one.

    Raises
    ------
    InputError
        A fitted place of unknown latitude.
    """
    if not np.isfinite(fitted.latitude):
        raise fault(
            Parameter("places"),
            "Where the record lies is not known.",
            Text("Give ", Parameter("latitude"), "."),
        )
    # from -1 to 1 in each direction; the first place lies in the middle
    across = 2.0 * ((0.5 + np.outer(np.arange(count), _STEPS)) % 1.0) - 1.0
    latitude = np.clip(fitted.latitude + HALF_SPAN[0] * across[:, 0], 0.0, 66.0)
    longitude = (fitted.longitude or 0.0) + HALF_SPAN[1] * across[:, 1]
    draw = np.random.Generator(np.random.PCG64([seed, 0]))
    warmth, wetness = (_field(across, draw) for _ in range(2))
    digits = max(4, len(str(count)))
    return Places(
        [f"place {number:0{digits}d}" for number in range(1, count + 1)],
        latitude.round(4),
        ((longitude + 180.0) % 360.0 - 180.0).round(4),
        WARMTH_SPREAD * warmth - COOLING_NORTHWARD * (latitude - fitted.latitude),
        np.exp(WETNESS_SPREAD * wetness),
    )


def _field(across: NDArray[np.float64], draw: np.random.Generator) -> NDArray[np.float64]:
    """Add up a few long waves of random direction and phase: variance 1, smooth in space."""
    angle, phase = 2.0 * np.pi * draw.random((2, _WAVES))
    along = across[:, :1] * np.cos(angle) + across[:, 1:] * np.sin(angle)
    field: NDArray[np.float64] = np.sqrt(2.0 / _WAVES) * np.cos(np.pi * along + phase).sum(axis=1)
    return field


def near_by(climate: DailyClimate, warmer: float, wetter: float) -> DailyClimate:
    """Shift a climate by some degrees, and its rain by about a factor.

    Half the change of rain, on the scale of logarithms, is in the number of wet days and half in
    what falls on them. A step of 1.5 in the logarithm of the odds moves that of the wet fraction
    of the odds.
    """
    half = float(np.sqrt(wetter))
    rain = climate.rain
    return replace(
        climate,
        chain=shift_odds(climate.chain, np.log(half) / 0.87),
        rain=replace(rain, mean=rain.edge + (rain.mean - rain.edge) * half),
        mean=climate.mean + warmer,
    )


def write_places(
    path: Path,
    fitted: FittedClimatology,
    places: Places,
    years: int,
    first_year: int,
    seed: int,
    *,
    soils: Sequence[str] = (),
    command: str = "",
    advance: Callable[[], object] | None = None,
) -> None:
    """Draw the weather of every place and write it as netCDF, a place at a time.

    Parameters
    ----------
    path : Path
        Written from the start; memory holds one place.
    fitted : FittedClimatology
    places : Places
        From `scatter`.
    years, first_year : int
        As `generate`.
    seed : int
        Each place has a stream of its own from it: the first N places are the same however many.
    soils : sequence of str
        Soil textures, given to the places in turn; none leaves the variable out.
    command : str
        For the file's history.
    advance : callable, optional
        Called after each place.

    Raises
    ------
    InputError
        More falls than a record can hold.
    """
    import netCDF4

    time = falls(years, first_year)
    of_year = day_of_year(time)
    unknown = ~fitted.known_days[of_year]
    with netCDF4.Dataset(path, "w", format="NETCDF4") as file:
        columns = _layout(file, fitted, places, time, seed, soils, command)
        for place in range(len(places.names)):
            climate = near_by(
                fitted.climate, float(places.warmer[place]), float(places.wetter[place])
            )
            draw = np.random.Generator(np.random.PCG64([seed, 1, place]))
            drawn = draw_days(climate, of_year, draw)
            for name in NAMES:
                values = drawn[name].round(DIGITS) + 0.0
                values[unknown] = np.nan
                columns[name][place] = values.astype(np.float32)
            if advance is not None:
                advance()


def _layout(
    file: Any,
    fitted: FittedClimatology,
    places: Places,
    time: NDArray[np.datetime64],
    seed: int,
    soils: Sequence[str],
    command: str,
) -> dict[str, Any]:
    """Lay out dimensions, coordinates and attributes; returns the variables to fill."""
    count = len(places.names)
    file.createDimension("site", count)
    file.createDimension("time", time.size)
    file.setncatts(
        {
            "Conventions": "CF-1.10",
            "featureType": "timeSeries",
            "invented": "yes",
            "title": f"Invented places around {fitted.site}",
            "source": f"generated by fallsown {__version__} from {fitted.source or fitted.site}, "
            f"method fitted, climate shifted in space, seed {seed}",
            "comment": "The places do not exist. Their climates change smoothly in space; the "
            "weather "
            "of each is drawn by itself, so that storms are not shared.",
            "history": f"{command} (fallsown {__version__})",
        }
    )
    site = file.createVariable("site", str, ("site",))
    site.setncatts({"long_name": "name of the place", "cf_role": "timeseries_id"})
    site[:] = np.array(places.names, dtype=object)
    for name, unit, values in (
        ("latitude", "degrees_north", places.latitude),
        ("longitude", "degrees_east", places.longitude),
    ):
        made = file.createVariable(name, "f8", ("site",))
        made.setncatts({"standard_name": name, "long_name": name, "units": unit})
        made[:] = values
    if soils:
        made = file.createVariable("soil", str, ("site",))
        made.long_name = "soil texture"
        made[:] = np.array([soils[place % len(soils)] for place in range(count)], dtype=object)
    days = file.createVariable("time", "i4", ("time",))
    days.setncatts(
        {
            "standard_name": "time",
            "long_name": "day",
            "calendar": "standard",
            "units": f"days since {time[0]}",
            "axis": "T",
        }
    )
    days[:] = np.arange(time.size)
    like = make_record(time[:1], *np.zeros((3, 1)), site="", latitude=0.0)
    columns = {}
    for name in NAMES:
        # one place after the other, so that a reader of some places reads in one stroke
        columns[name] = file.createVariable(
            name, "f4", ("site", "time"), contiguous=True, fill_value=np.float32(np.nan)
        )
        columns[name].setncatts({**like[name].attrs, "coordinates": "latitude longitude"})
    return columns
