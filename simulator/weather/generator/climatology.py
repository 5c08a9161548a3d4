"""What a place's weather is like, written down: the generator's input, read from a TOML file."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from simulator.problems import InputError, Problem, fault
from simulator.toml_text import toml_of

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

MOST_BYTES = 100_000


def _months(low: float, high: float, unit: str) -> Any:
    return field(metadata={"count": 12, "low": low, "high": high, "unit": unit})


def _number(low: float, high: float, unit: str) -> Any:
    return field(metadata={"count": 1, "low": low, "high": high, "unit": unit})


def _text() -> Any:
    return field(metadata={"count": 0})


def _faults(value: object, limits: Any, where: str) -> list[Problem]:
    """Say what is wrong with one entry: its kind, its count, its range."""
    if limits["count"] == 0:
        if isinstance(value, str) and 0 < len(value.strip()) <= 500:
            return []
        return [Problem(where, f"{value!r} is not a text of 1 to 500 characters.")]
    numbers = value if limits["count"] == 12 else (value,)
    if not isinstance(numbers, tuple | list) or len(numbers) != limits["count"]:
        return [Problem(where, "Twelve values are needed.", "Write January to December in [ ].")]
    low, high, unit = limits["low"], limits["high"], limits["unit"]
    return [
        Problem(where, f"{number!r} lies outside {low:g} to {high:g} {unit}.".replace(" .", "."))
        for number in numbers
        if isinstance(number, bool)
        or not isinstance(number, int | float)
        or not math.isfinite(number)
        or not low <= number <= high
    ]


class _Bounded:
    """A frozen set that refuses values outside the bounds of its fields."""

    def __post_init__(self) -> None:
        problems = [
            problem
            for item in fields(self)  # type: ignore[arg-type]
            if item.metadata
            for problem in _faults(getattr(self, item.name), item.metadata, item.name)
        ]
        if problems:
            raise InputError(problems)


@dataclass(frozen=True, kw_only=True)
class RainYear(_Bounded):
    """Rain through the year; each a tuple of twelve, January to December.

    Parameters
    ----------
    wet_after_dry, wet_after_wet : tuple of float
        Probability that a day is wet after a dry day (p01), after a wet one (p11) [0-1].
    wet_day_rain : tuple of float
        Mean rain of a wet day [mm], 0.5 to 100.
    shape : tuple of float
        Shape of the gamma distribution of a wet day's rain, 0.3 to 3; 1 is the exponential.
    """

    wet_after_dry: tuple[float, ...] = _months(0.005, 0.95, "")
    wet_after_wet: tuple[float, ...] = _months(0.005, 0.95, "")
    wet_day_rain: tuple[float, ...] = _months(0.5, 100.0, "mm")
    shape: tuple[float, ...] = _months(0.3, 3.0, "")


@dataclass(frozen=True, kw_only=True)
class TemperatureYear(_Bounded):
    """Tmax, or Tmin, through the year; each a tuple of twelve, January to December.

    Parameters
    ----------
    mean : tuple of float
        Mean over all days [degC], -50 to 55.
    wet_minus_dry : tuple of float
        How much wet days differ from dry ones on average [degC], -15 to 15.
    sd_dry, sd_wet : tuple of float
        Standard deviation from day to day within a season, of dry and of wet days [degC],
        0.3 to 15.
    skew : tuple of float
        Skewness of the day-to-day part, -0.8 to 0.8; negative where cold days fall further
        below the mean than warm days rise above it, as Tmax does in a mild winter.
    """

    mean: tuple[float, ...] = _months(-50.0, 55.0, "degC")
    wet_minus_dry: tuple[float, ...] = _months(-15.0, 15.0, "degC")
    sd_dry: tuple[float, ...] = _months(0.3, 15.0, "degC")
    sd_wet: tuple[float, ...] = _months(0.3, 15.0, "degC")
    skew: tuple[float, ...] = _months(-0.8, 0.8, "")


@dataclass(frozen=True, kw_only=True)
class Residual(_Bounded):
    """Correlations of what is left of Tmax and Tmin once season and rain are taken off.

    Parameters
    ----------
    tmax_tmin : float
        Tmax with Tmin of the same day [-0.2 to 0.95].
    tmax_tmax, tmin_tmin : float
        With itself of the day before [0 to 0.95].
    tmax_after_tmin, tmin_after_tmax : float
        With the other of the day before [-0.2 to 0.95].
    """

    tmax_tmin: float = _number(-0.2, 0.95, "")
    tmax_tmax: float = _number(0.0, 0.95, "")
    tmin_tmin: float = _number(0.0, 0.95, "")
    tmax_after_tmin: float = _number(-0.2, 0.95, "")
    tmin_after_tmax: float = _number(-0.2, 0.95, "")

    def __post_init__(self) -> None:
        super().__post_init__()
        same_day, day_before = self.matrices()
        left = same_day - day_before @ np.linalg.inv(same_day) @ day_before.T
        if np.linalg.eigvalsh(left).min() <= 0:
            raise fault(
                "residual",
                "No series can have these five correlations together.",
                "Lower those with the day before.",
            )

    def matrices(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return M0 and M1: correlations within a day, and with the day before."""
        return (
            np.array([[1.0, self.tmax_tmin], [self.tmax_tmin, 1.0]]),
            np.array(
                [[self.tmax_tmax, self.tmax_after_tmin], [self.tmin_after_tmax, self.tmin_tmin]]
            ),
        )


@dataclass(frozen=True, kw_only=True)
class Season(_Bounded):
    """How much whole seasons differ from year to year; all zero gives the plain chain.

    Parameters
    ----------
    wet_odds : float
        Standard deviation of the logarithm of the odds of a wet day [0 to 1.5].
    wet_amount : float
        Standard deviation of the logarithm of the mean rain of a wet day [0 to 1].
    temperature : float
        Standard deviation of a season's temperature [0 to 4 degC].
    """

    wet_odds: float = _number(0.0, 1.5, "")
    wet_amount: float = _number(0.0, 1.0, "")
    temperature: float = _number(0.0, 4.0, "degC")


@dataclass(frozen=True, kw_only=True)
class Climatology(_Bounded):
    """What the weather of one place is like.

    Parameters
    ----------
    site : str
        Name of the place.
    latitude, longitude : float
        Degrees north, degrees east.
    source : str
        Where the numbers are from.
    rain : RainYear
    tmax, tmin : TemperatureYear
    residual : Residual
    season : Season
    """

    site: str = _text()
    latitude: float = _number(-66.0, 66.0, "degrees north")
    longitude: float = _number(-180.0, 180.0, "degrees east")
    source: str = _text()
    rain: RainYear
    tmax: TemperatureYear
    tmin: TemperatureYear
    residual: Residual
    season: Season

    def __post_init__(self) -> None:
        super().__post_init__()
        if any(high <= low for high, low in zip(self.tmax.mean, self.tmin.mean, strict=True)):
            raise fault("tmax: mean", "A month's mean Tmax is not above its mean Tmin.")


_PARTS: dict[str, type[_Bounded]] = {
    "rain": RainYear,
    "tmax": TemperatureYear,
    "tmin": TemperatureYear,
    "residual": Residual,
    "season": Season,
}

_Made = TypeVar("_Made", bound=_Bounded)


def _make(kind: type[_Made], given: object, where: str, problems: list[Problem]) -> _Made | None:
    """Build one set from a TOML table, adding to `problems` all that keeps it from being one."""
    if not isinstance(given, dict):
        problems.append(Problem(where, "The table is missing."))
        return None
    wanted = {item.name for item in fields(kind)}  # type: ignore[arg-type]
    found = [
        Problem(f"{where}, key '{key}'", "The entry is missing.")
        for key in sorted(wanted - set(given))
    ] + [
        Problem(f"{where}, key '{key}'", "Not an entry of a climatology.")
        for key in sorted(set(given) - wanted)
    ]
    if not found:
        values = {k: tuple(v) if isinstance(v, list) else v for k, v in given.items()}
        try:
            return kind(**values)
        except InputError as error:
            found = [Problem(f"{where}, key '{p.where}'", p.what, p.remedy) for p in error.problems]
    problems += found
    return None


def read_climatology(path: Path) -> Climatology:
    """Read a climatology from its TOML file.

    Parameters
    ----------
    path : Path
        The file, at most 100 kB: `site`, `latitude`, `longitude`, `source`, then the tables
        `rain`, `tmax`, `tmin`, `residual` and `season` with the entries of those classes.

    Returns
    -------
    Climatology

    Raises
    ------
    InputError
        The file cannot be read or is not TOML, an entry is missing, unknown or out of range;
        all entries at fault are named.
    """
    try:
        with path.open("rb") as file:
            text = file.read(MOST_BYTES + 1)
        if len(text) > MOST_BYTES:
            raise fault(str(path), "The file is too long for a climatology.")
        given = toml_of(text.decode("utf-8"))
    except InputError:
        raise
    except (OSError, ValueError, RecursionError) as error:
        raise fault(str(path), f"Cannot be read as TOML: {error}.") from error
    problems: list[Problem] = []
    parts = {
        key: _make(kind, given.get(key), f"{path.name}, table [{key}]", problems)
        for key, kind in _PARTS.items()
    }
    if problems:
        raise InputError(problems)
    made = _make(Climatology, {**given, **parts}, path.name, problems)
    if made is None:
        raise InputError(problems)
    return made
