"""Weather and field together: what falls make in a field that the model has not seen.

A range over the falls holds the weather alone. In each fall the field may be off the model by as
much as the model has been off in fields left out of its fit (`parameters.model_error`), so a range
in a field like these is made of every fall times every error, all equally likely.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simulator import units
from simulator.answers.shared.few_falls import BAND
from simulator.parameters.model_error import GAIN, LEVEL, RESPONSE, ModelError
from simulator.show.tables import FEWEST_FOR_SHARES, Column, span, spread

Values = NDArray[Any]

OVER_FALLS, IN_A_FIELD = "over\nthe falls", "in a field\nlike these"  # titles of columns
WHERE = "docs/calibration.md"  # tells how the errors were found
GAIN_OR_LOSS = "whether it is a gain or a loss"
_OF_FIELD = (
    "The range in a field like these also holds how far off the model has been in fields that it "
    "had not seen."
)
MEANING = (
    "Of 10 falls 8 lie in the range over the falls, which is the weather's alone. " + _OF_FIELD
)


def meaning(falls: int) -> str:
    """Say what means and ranges over a number of falls are; of one fall there is no mean."""
    if falls < 2:
        return _OF_FIELD
    of_falls = (
        MEANING
        if falls >= FEWEST_FOR_SHARES
        else "The range over the falls goes from the lowest to the highest fall, and is the "
        f"weather's alone. {_OF_FIELD}"
    )
    return f"Each figure is a mean over the falls. {of_falls}"


@dataclass(frozen=True, slots=True)
class Ranges:
    """What 8 of 10 are to lie in.

    Parameters
    ----------
    low, high : float
        Weather and field together, in the unit of the values.
    weather_low, weather_high : float
        The falls alone, as `show.tables.spread` has them.
    """

    low: float
    high: float
    weather_low: float
    weather_high: float

    @property
    def is_clear(self) -> bool:
        """Whether the range of weather and field lies on one side of nothing."""
        return self.low > 0.0 or self.high < 0.0

    def row(self, name: str = "biomass", unit: str = "kg_ha") -> dict[str, float]:
        """Return the range as fields of a row: ``biomass_low_kg_ha`` and the others."""
        return {
            f"{name}_low_{unit}": self.low,
            f"{name}_high_{unit}": self.high,
            f"weather_{name}_low_{unit}": self.weather_low,
            f"weather_{name}_high_{unit}": self.weather_high,
        }


def biomass_ranges(simulated: Values, error: ModelError = LEVEL) -> Ranges:
    """Return the ranges of what stands.

    Parameters
    ----------
    simulated : array (fall,)
        [kg/ha]; falls without a value are left aside.
    error : ModelError
    """
    known = np.isfinite(simulated)
    if not known.any():
        return Ranges(*[float("nan")] * 4)
    falls = simulated[known]
    low, high = np.quantile(error.in_fields(falls), _ENDS)
    return Ranges(float(low), float(high), *spread(falls))


_ENDS = (0.5 - BAND / 2, 0.5 + BAND / 2)


def difference_ranges(differences: Values, error: ModelError = RESPONSE) -> Ranges:
    """Return the ranges of a difference between two plans, or two weathers, of one field.

    What a field makes more or less than simulated it makes under both, so that a difference is
    known better than a level. The error is that of responses to nitrogen, the one difference that
    the open trials have tried often enough.

    Parameters
    ----------
    differences : array (fall,)
        Within the same fall [kg/ha]; falls without a value are left aside.
    """
    return biomass_ranges(differences, error=error)


def between_fields(
    before: Values, after: Values, *, paired: bool, error: ModelError = LEVEL
) -> Ranges:
    """Return the ranges of a difference between two fields, each off the model by its own amount.

    What a field makes more or less than simulated the other need not make: the range is wider
    than that of two plans in one field (`difference_ranges`).

    Parameters
    ----------
    before, after : array (fall,)
        [kg/ha]; falls without a value are left aside.
    paired : bool
        Whether they are of the same falls, in the same order; else each fall of one is set beside
        each of the other.
    error : ModelError
        Of levels.
    """
    if paired:
        both = np.isfinite(before) & np.isfinite(after)
        one, other = before[both], after[both]
    else:
        known = before[np.isfinite(before)], after[np.isfinite(after)]
        one, other = (side.ravel() for side in np.meshgrid(*known))
    if not one.size:
        return Ranges(*[float("nan")] * 4)
    made, against = (error.in_fields(side, _DRAWN_OF_EACH) for side in (other, one))
    apart = made[:, :, None] - against[:, None, :]
    low, high = np.quantile(apart, _ENDS)
    return Ranges(float(low), float(high), *spread(other - one))


_DRAWN_OF_EACH = 20  # errors of each of two fields


def gain_ranges(gained: Values, days: float, error: ModelError = GAIN) -> Ranges:
    """Return the ranges of what one stand gains between two dates.

    Parameters
    ----------
    gained : array (fall,)
        [kg/ha].
    days : float
        Between the dates.
    """
    a_day = biomass_ranges(np.asarray(gained, float) / days, error=error)
    return Ranges(
        *(days * end for end in (a_day.low, a_day.high, a_day.weather_low, a_day.weather_high))
    )


def chance_in_fields(simulated: Values, target: ArrayLike, error: ModelError = LEVEL) -> float:
    """Return the chance that a fall makes a target in a field like these, 0 to 1.

    It is smooth in what is simulated: a fall that makes a little less than the target counts for
    nearly as much as one that makes a little more.

    Parameters
    ----------
    simulated : array (fall,)
        [kg/ha]; falls without a value are left aside.
    target : float
        [kg/ha].
    error : ModelError

    Returns
    -------
    float
        NaN without falls.
    """
    known = np.isfinite(simulated)
    if not known.any():
        return float("nan")
    return float(np.average(error.chance_of(target, simulated[known])))


def range_columns(unit: str) -> list[Column]:
    """Return the two columns that stand right of a mean: over the falls, and in a field."""
    return [Column(OVER_FALLS, unit), Column(IN_A_FIELD, unit)]


def range_cells(
    ranges: Ranges, kind: str, system: units.System, *, sign: bool = False
) -> list[str]:
    """Print both ranges for `range_columns`."""
    return [
        span((ranges.weather_low, ranges.weather_high), kind, system, sign=sign),
        span((ranges.low, ranges.high), kind, system, sign=sign),
    ]


def spelled(ranges: Ranges, kind: str, system: units.System) -> str:
    """Spell the range of weather and field: ``"1,200 to 4,600 lb/ac"``."""
    low = units.spell(ranges.low, kind, system).split(" ")[0]
    return f"{low} to {units.spell(ranges.high, kind, system)}"


def in_a_field(
    ranges: Ranges, system: units.System, *, unclear: str = GAIN_OR_LOSS, kind: str = "biomass"
) -> str:
    """Give the range of a difference in a sentence, and say so where it cannot be told.

    Parameters
    ----------
    ranges : Ranges
    system : {"us", "si"}
    unclear : str
        What cannot be told then.
    kind : str
        Of the quantity.
    """
    between = spelled(ranges, kind, system)
    if ranges.is_clear:
        return f"In a field like these the difference is {between}."
    return (
        f"In a field like these the difference may be {between}, so that {unclear} cannot be told."
    )


def how_far_off(system: units.System, error: ModelError = LEVEL) -> str:
    """Say how far off the model has been: one sentence for each answer."""
    return (
        f"In {error.seasons:.0f} site-seasons at {error.places:.0f} places that it had not seen, "
        f"the model was off by {_rmse_text(error, system)} ({WHERE})."
    )


def difference_off(system: units.System, error: ModelError = RESPONSE) -> str:
    """Say how far off differences between treatments of one field have been."""
    return (
        f"What nitrogen brought was off by {_rmse_text(error, system)} in {error.seasons:.0f} "
        f"site-seasons at {error.places:.0f} places that it had not seen; other differences of "
        "two plans, or two weathers, have hardly been tried, and are taken to be off by as much "
        f"({WHERE})."
    )


def gain_off(system: units.System, error: ModelError = GAIN) -> str:
    """Say how far off growth between two dates has been."""
    return (
        f"Growth between two dates was off by {_rmse_text(error, system)} a day in "
        f"{error.seasons:.0f} site-seasons at {error.places:.0f} places that it had not seen "
        f"({WHERE})."
    )


def _rmse_text(error: ModelError, system: units.System) -> str:
    return units.spell(error.rmse, "biomass", system)
