"""The season's months between the soil's start and the end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from simulator.answers.why.exchanged_weather import Array, Whole
from simulator.season import plan as plans
from simulator.season.day.drivers import DAYS
from simulator.season.ensemble import DatedPlan
from simulator.weather.change_text import MONTHS
from simulator.weather.fall_year import season_day


@dataclass(frozen=True, slots=True)
class Month:
    """A month of the season, or what of it lies between the soil's start and the end.

    Parameters
    ----------
    name : str
        ``"November"``.
    first, last : str
        Days, MM-DD.
    temperature, rain : (float, float)
        That year's, and the mean of the other years [degC, mm].
    """

    name: str
    first: str
    last: str
    temperature: tuple[float, float]
    rain: tuple[float, float]


def spans_of(stand: DatedPlan) -> list[slice]:
    """Return the season days of each month between the soil's start and the end."""
    last = plans.day_number(stand.year, stand.ends[-1])
    days = season_day(stand.year, "07-01") + np.arange(stand.first, last + 1)
    begins = np.flatnonzero(np.diff(days.astype("datetime64[M]")).astype(int)) + 1
    edges = [stand.first, *(stand.first + begins).tolist(), last + 1]
    return [slice(*pair) for pair in pairwise(edges)]


def month_of_days(spans: Sequence[slice]) -> Whole:
    """Return the place of the month of each season day; days beyond count with the nearest."""
    begins = [span.start for span in spans[1:]]
    return np.searchsorted(begins, np.arange(DAYS), side="right").astype(np.int64)


def months_of(own: Array, others: Array, spans: Sequence[slice], year: int) -> tuple[Month, ...]:
    """Sum up that year's months (name, day) beside the other years' (name, other, day)."""
    found = []
    for span in spans:
        first, last = (plans.month_day_of(year, day) for day in (span.start, span.stop - 1))
        here, usual = own[:, span], others[..., span]
        temperature = (float(here[:2].mean()), float(usual[:2].mean()))
        rain = (float(here[2].sum()), float(usual[2].sum(axis=-1).mean()))
        found.append(Month(MONTHS[int(first[:2]) - 1], first, last, temperature, rain))
    return tuple(found)
