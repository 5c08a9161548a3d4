"""How far off the model is in a field that it has not seen, as sets with their source.

`LEVEL` is of the biomass that stands, `GAIN` of growth a day between two dates of one stand,
`RESPONSE` of what nitrogen brings over the same stand without. A change of the model changes them:
``python -m docs.maker errors`` finds them again and prints the lines below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simulator.parameters.bounded import BoundedSet, Spec
from simulator.problems import fault

PROMISES = tuple(tenth / 10 for tenth in range(1, 10))  # shares that a set says its reach for
_RARE = (0.95, 0.98, 0.99, 0.998)  # shares beyond, where no site-season speaks
_SOURCE = (
    "found here: open trials of rye, each place foretold by fits without it, each site-season"
    " counting once (docs/skill.md)"
)


def _found(unit: str, low: float, high: float, meaning: str) -> Any:
    """Declare a bounded parameter that has no default: each set says all of itself."""
    return field(metadata={"spec": Spec(unit, low, high, meaning, _SOURCE)})


def _within(percent: int) -> Any:
    return _found("1", 0.0, 10.0, f"reach that {percent} % of errors do not go beyond")


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelError(BoundedSet):
    """How far off the model is.

    The reach is a difference of logarithms of biomass + offset or, where the offset is 0 (a
    difference may be below 0), a multiple of the root mean square error.
    """

    name: str
    unit: str
    source: str = _SOURCE

    offset: float = _found(
        "kg/ha",
        0.0,
        20000.0,
        "added to biomass before the logarithm, so that the band is a constant and a share of the"
        " level; 0 for differences",
    )
    rmse: float = _found("kg/ha", 0.0, 10000.0, "root mean square error, of growth by day")
    within_10: float = _within(10)
    within_20: float = _within(20)
    within_30: float = _within(30)
    within_40: float = _within(40)
    within_50: float = _within(50)
    within_60: float = _within(60)
    within_70: float = _within(70)
    within_80: float = _within(80)
    within_90: float = _within(90)
    common: float = _found(
        "1",
        0.0,
        1.0,
        "share of the variance that all plots of a site-season have in common, on the scale of"
        " the reach; the rest is each plot's own",
    )
    seasons: float = _found("1", 1.0, 10000.0, "site-seasons that it was found in")
    places: float = _found("1", 1.0, 1000.0, "places that these are at")

    def __post_init__(self) -> None:
        BoundedSet.__post_init__(self)
        if list(self._reaches()) != sorted(self._reaches()):
            raise fault(
                f"{self.name}: within_10 to within_90",
                "A larger share of errors has a shorter reach.",
                "Give reaches that rise with the share.",
            )

    def _reaches(self) -> tuple[float, ...]:
        return tuple(getattr(self, f"within_{100 * share:.0f}") for share in PROMISES)

    def reach(self, promise: float) -> float:
        """Return the reach that a share of errors does not go beyond.

        Parameters
        ----------
        promise : float
            0 to 0.9; between tenths it is interpolated.

        Raises
        ------
        InputError
            A share that so few site-seasons cannot speak for.
        """
        if not (math.isfinite(promise) and 0.0 <= promise <= PROMISES[-1]):
            problem = f"{promise:g} is not a share from 0 to {PROMISES[-1]:g}."
            advice = f"{self.seasons:.0f} site-seasons say nothing of rarer errors."
            raise fault("promise", problem, advice)
        return float(np.interp(promise, (0.0, *PROMISES), (0.0, *self._reaches())))

    def _knots(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return shares and their reaches; beyond 90 % as a normal curve has them.

        So few site-seasons say nothing of rarer errors: the shape of a normal curve is assumed
        there, so that a chance does not fall to nothing at an edge.
        """
        size = self._reaches()[-1] / _beyond(PROMISES[-1])
        rare = [size * _beyond(share) for share in _RARE]
        return np.array([0.0, *PROMISES, *_RARE]), np.array([0.0, *self._reaches(), *rare])

    def errors(self, number: int = 100) -> NDArray[np.float64]:
        """Return errors that are equally likely, the lowest first, as many above 0 as below.

        Returns
        -------
        array (number,)
            On the scale of the reach: the middles of equal parts of the distribution.
        """
        shares, reaches = self._knots()
        places = 2.0 * (np.arange(number) + 0.5) / number - 1.0
        made: NDArray[np.float64] = np.sign(places) * np.interp(np.abs(places), shares, reaches)
        return made

    def in_fields(self, simulated: ArrayLike, number: int = 100) -> NDArray[np.float64]:
        """Return what may stand in fields like these, equally likely, for each simulated value.

        Parameters
        ----------
        simulated : array (...)
            In the set's unit.
        number : int

        Returns
        -------
        array (..., number)
            Of that unit; biomass never below 0.
        """
        made = self.moved(np.asarray(simulated, float)[..., None], self.errors(number))
        return made if self.offset == 0.0 else np.maximum(made, 0.0)

    def moved(self, simulated: ArrayLike, error: ArrayLike) -> NDArray[np.float64]:
        """Return what stands where the model is off by an error, which may be below nothing.

        Parameters
        ----------
        simulated, error : array
            In the set's unit, and on the scale of the reach; they are broadcast.
        """
        made, far = np.asarray(simulated, float), np.asarray(error, float)
        if self.offset == 0.0:
            return np.asarray(made + self.rmse * far)
        return np.asarray((made + self.offset) * np.exp(far) - self.offset)

    def chance_of(self, target: ArrayLike, simulated: ArrayLike) -> NDArray[np.float64]:
        """Return the chance that a field makes at least a target, for each simulated value.

        Parameters
        ----------
        target, simulated : array
            In the set's unit; they are broadcast.

        Returns
        -------
        array
            0 to 1; NaN where nothing is simulated.
        """
        wanted, made = np.asarray(target, float), np.asarray(simulated, float)
        if self.offset == 0.0:
            needed = (wanted - made) / self.rmse
        else:
            needed = np.log((wanted + self.offset) / (made + self.offset))
        shares, reaches = self._knots()
        within = np.interp(np.abs(needed), reaches, shares, right=1.0)
        chance = np.where(needed > 0.0, 0.5 * (1.0 - within), 0.5 * (1.0 + within))
        if self.offset > 0.0:  # biomass is never below nothing
            chance = np.where(wanted <= 0.0, 1.0, chance)
        return np.where(np.isfinite(needed), chance, np.nan)

    def band(
        self, simulated: ArrayLike, promise: float = 0.8
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the ends of the band that a share of fields not seen is to lie in.

        Parameters
        ----------
        simulated : array
            What the model says, in the set's unit.
        promise : float
            As in `reach`.

        Returns
        -------
        low, high : array
            Of that unit; biomass never below 0.
        """
        made = np.asarray(simulated, float)
        reach = self.reach(promise)
        if self.offset == 0.0:
            return made - reach * self.rmse, made + reach * self.rmse
        shifted = made + self.offset
        low = np.maximum(shifted * math.exp(-reach) - self.offset, 0.0)
        return low, shifted * math.exp(reach) - self.offset


def _beyond(share: float) -> float:
    """Return the reach of a share of a standard normal curve."""
    return NormalDist().inv_cdf(0.5 + share / 2.0)


LEVEL = ModelError(
    name="level",
    unit="kg/ha",
    offset=4000.0,
    rmse=2902.0,
    within_10=0.04,
    within_20=0.074,
    within_30=0.115,
    within_40=0.19,
    within_50=0.241,
    within_60=0.294,
    within_70=0.317,
    within_80=0.372,
    within_90=0.505,
    common=0.66,
    seasons=32.0,
    places=10.0,
)
GAIN = ModelError(
    name="gain",
    unit="kg/ha/day",
    offset=0.0,
    rmse=81.54,
    within_10=0.154,
    within_20=0.247,
    within_30=0.303,
    within_40=0.412,
    within_50=0.698,
    within_60=0.833,
    within_70=1.192,
    within_80=1.226,
    within_90=1.559,
    common=0.79,
    seasons=12.0,
    places=6.0,
)
RESPONSE = ModelError(
    name="response",
    unit="kg/ha",
    offset=0.0,
    rmse=1285.0,
    within_10=0.125,
    within_20=0.18,
    within_30=0.282,
    within_40=0.367,
    within_50=0.475,
    within_60=0.769,
    within_70=1.007,
    within_80=1.215,
    within_90=1.566,
    common=0.15,
    seasons=5.0,
    places=3.0,
)
MODEL_ERRORS = {one.name: one for one in (LEVEL, GAIN, RESPONSE)}


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelErrors:
    """How far off the model is, for the three kinds of answers.

    Parameters
    ----------
    level, gain, response : ModelError
    """

    level: ModelError = LEVEL
    gain: ModelError = GAIN
    response: ModelError = RESPONSE


SHIPPED = ModelErrors()
