"""What one more pound of an input brings in a fall, in a field like these."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.answers.shared.field_ranges import Ranges, difference_ranges
from simulator.parameters.model_error import RESPONSE, ModelError

if TYPE_CHECKING:
    from numpy.typing import NDArray


def step_ranges(
    rates: NDArray[np.float64],
    biomass: NDArray[np.float64],
    rate: float,
    error: ModelError = RESPONSE,
) -> Ranges:
    """Return what one more of an input brings in a fall, by the step tried above a rate.

    The error of a difference was found over whole responses, not over one more pound. It is taken
    to be spread evenly over the rates tried, from the lowest to the highest.

    Parameters
    ----------
    rates : array (rate,)
        At least two, rising [kg/ha].
    biomass : array (fall, rate)
        [kg/ha].
    rate : float
        Of the plan [kg/ha]; from the highest rate on, the last step is taken.
    error : ModelError

    Returns
    -------
    Ranges
        By weight.
    """
    above = int(np.clip(np.searchsorted(rates, rate + 1e-6), 1, len(rates) - 1))
    steps = (biomass[:, above] - biomass[:, above - 1]) / (rates[above] - rates[above - 1])
    span = float(rates[-1] - rates[0])
    found = difference_ranges(steps * span, error)
    ends = (found.low, found.high, found.weather_low, found.weather_high)
    return Ranges(*(end / span for end in ends))
