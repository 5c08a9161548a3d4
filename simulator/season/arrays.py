"""Room for what the day loop writes, and the ends of stands as it reads them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from simulator.season import plan as plans
from simulator.season.day import calendar as day_calendar
from simulator.season.day.calendar import BY_BIOMASS, BY_DATE, BY_STAGE
from simulator.season.day.record import DAY


def ends_as_numbers(
    ends: Sequence[plans.End], years: Sequence[int]
) -> tuple[np.ndarray[Any, Any], ...]:
    """Return kind, day in each year and value of each end, as the day loop reads them."""
    kinds = np.array([BY_DATE if e.date else BY_STAGE if e.stage else BY_BIOMASS for e in ends])
    values = np.array([e.stage or e.biomass or np.nan for e in ends])
    days = np.array(
        [
            [plans.day_number(y, e.date) if e.date else day_calendar.NEVER for e in ends]
            for y in years
        ]
    )
    return kinds, days, values


def empty_days(shape: tuple[int, ...]) -> np.ndarray[Any, Any]:
    """Room for day records, NaN until they are filled."""
    room = np.empty(shape, DAY)
    room.view(np.float64)[...] = np.nan
    return room
