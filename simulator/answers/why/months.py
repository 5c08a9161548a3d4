"""The season's months, and its parts, between the soil's start and the end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.answers.why.exchanged import FALL, SEASONS, SPRING, WINTER, Array, edges_of
from simulator.season import plan as plans
from simulator.season.ensemble import DatedPlan
from simulator.weather.change import MONTHS
from simulator.weather.record import FIRST_MONTH, season_day


@dataclass(frozen=True, slots=True)
class Month:
    """A month of the season, or what of it lies between the soil's start and the end.

    Parameters
    ----------
    name, season : str
        ``"November"``; ``"fall"``.
    days : int
    temperature, rain : (float, float)
        That year's, and the mean of the other years [degC, mm].
    """

    name: str
    season: str
    days: int
    temperature: tuple[float, float]
    rain: tuple[float, float]


def spans_of(stand: DatedPlan) -> dict[str, tuple[str, str]]:
    """Return the seasons' first and last days between the soil's start and the end."""
    year, edges = stand.year, edges_of(stand.year)
    end = plans.day_number(year, stand.ends[-1])
    spans = {}
    for season, begins, beyond in zip(SEASONS, edges, edges[1:], strict=False):
        first, last = max(begins, stand.first), min(beyond - 1, end)
        if first <= last:
            spans[season] = (plans.month_day_of(year, first), plans.month_day_of(year, last))
    return spans


def months_of(own: Array, others: Array, stand: DatedPlan) -> tuple[Month, ...]:
    """Sum up that year's months beside the other years'."""
    last = plans.day_number(stand.year, stand.ends[-1])
    days = season_day(stand.year, "07-01") + np.arange(stand.first, last + 1)
    months = days.astype("datetime64[M]")
    found = []
    for month in np.unique(months):
        inside = stand.first + np.flatnonzero(months == month)
        number = int(str(month)[5:])
        season = WINTER if number in (12, 1, 2) else SPRING if number < FIRST_MONTH else FALL
        here, usual = own[:, inside], others[..., inside]
        temperature = (float(here[:2].mean()), float(usual[:2].mean()))
        rain = (float(here[2].sum()), float(usual[2].sum(axis=-1).mean()))
        found.append(Month(MONTHS[number - 1], season, inside.size, temperature, rain))
    return tuple(found)
