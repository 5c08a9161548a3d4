"""The outlook of a stand that was clipped: weather and field together."""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.shared.few_falls import BAND, effective_number, weighted_quantiles
from simulator.parameters.field_spread import RYE, FieldSpread
from simulator.season import clipping
from simulator.season import plan as plans
from simulator.season.clipping import Clipping
from simulator.season.ensemble import DatedPlan, grow_seasons
from simulator.weather.record import NAMES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Values = NDArray[Any]

LEVELS = (0.5 - BAND / 2, 0.5, 0.5 + BAND / 2)


@dataclass(frozen=True, kw_only=True)
class Clipped:
    """What clippings say of a stand.

    Parameters
    ----------
    clippings : tuple of Clipping
        By date.
    error : float
        Of a clipping, as a share of it.
    without : array (clipping, 3)
        Lower end, middle and upper end of the drawn fields, on the days of the clippings, as if
        nothing had been measured [kg/ha].
    bands : array (end, 3)
        The same of biomass at the ends, told the clippings.
    members : array (member, end)
    weights : array (member,)
    days, paths : array (day,), array (day, 3)
        Season days from the last clipping to the last end, and the band on each.
    past : tuple of (str, tuple of float)
        Dates that were asked for and are over, and the band on each.
    draws : int
    counting : float
        Effective number of draws.
    reached : bool
        Whether any drawn field comes near what was measured.
    """

    clippings: tuple[Clipping, ...]
    error: float
    without: Values
    bands: Values
    members: Values
    weights: Values
    days: Values
    paths: Values
    past: tuple[tuple[str, tuple[float, ...]], ...]
    draws: int
    counting: float
    reached: bool

    def chance(self, target: float) -> Values:
        """Share of the weight that reaches a target [kg/ha] at each end."""
        return np.asarray(self.weights @ (self.members >= target))


def clipped(
    about: dict[str, Any],
    year: int,
    weather: Values,
    first: int,
    clippings: Sequence[Clipping],
    ends: Sequence[str],
    past: Sequence[str],
    spread: FieldSpread = RYE,
    draws: int = clipping.DRAWS,
) -> Clipped:
    """Work out what a clipped stand may still make.

    Parameters
    ----------
    about : dict
        The stand but for its dates, as `simulator.season.ensemble.DatedPlan` has it.
    year : int
        Fall year.
    weather : array (other, column, day)
        The season up to today, then each other fall's.
    first : int
        Season day on which the soil starts.
    clippings : sequence of Clipping
    ends, past : sequence of str
        Dates asked for, MM-DD: still to come, and over.
    spread : FieldSpread
    draws : int

    Returns
    -------
    Clipped
    """
    measured = sorted(clippings, key=lambda one: _day(year, one.date))
    asked = [_day(year, one.date) for one in measured]
    last = asked[-1]
    to = [_day(year, end) for end in ends]
    before = [_day(year, day) for day in past]
    between = range(min([*asked, *before]), max(to), 7)
    looked = sorted({*between, *asked, *to, *before})
    factors = clipping.factors(spread, draws)
    grown = _grow(about, year, weather, first, looked, factors)
    at_clippings = grown[:, 0, [looked.index(day) for day in asked]]  # its weather is known
    weighed = clipping.weigh(at_clippings, [one.biomass for one in measured], spread)
    days = np.arange(last, max(to) + 1)
    simulated = _every_day(grown, looked, days)
    falls = len(weather)
    noise = clipping.standard_draws(draws * falls, 2).reshape(draws, falls, 2)
    carried = clipping.carry_on(
        simulated,
        0.5 * (weather[:, 0][:, days] + weather[:, 1][:, days]),
        measured[-1].biomass,
        weighed.reached,
        spread,
        noise,
        clipping.in_spring(about["latitude"], days),
    ).reshape(draws * falls, -1)
    weights = np.repeat(weighed.weights / falls, falls)
    alike = np.full(draws, 1.0 / draws)
    return Clipped(
        clippings=tuple(measured),
        error=spread.clipping,
        without=_bands(at_clippings, alike),
        bands=_bands(carried[:, [day - last for day in to]], weights),
        members=carried[:, [day - last for day in to]],
        weights=weights,
        days=days,
        paths=_bands(carried, weights),
        past=tuple(
            (date, tuple(_then(day, grown, looked, asked, measured, carried, weighed, spread)))
            for date, day in zip(past, before, strict=True)
        ),
        draws=draws,
        counting=effective_number(weighed.weights) if weighed.reached else 0.0,
        reached=weighed.reached,
    )


def _day(year: int, date: str) -> int:
    return plans.day_number(year, date)


def _bands(values: Values, weights: Values) -> Values:
    """Band of each column of (member, column), as (column, 3)."""
    return np.array([weighted_quantiles(column, weights, LEVELS) for column in values.T])


def _grow(
    about: dict[str, Any],
    year: int,
    weather: Values,
    first: int,
    looked: Sequence[int],
    factors: Values,
) -> Values:
    """Grow each drawn field in all weathers: biomass (draw, weather, day looked at) [kg/ha]."""
    stand = DatedPlan(
        year=year,
        first=first,
        **{**about, "ends": [plans.month_day_of(year, day) for day in looked]},
    )
    columns = [np.ascontiguousarray(weather[:, place]) for place in range(len(NAMES) + 1)]

    def one(factor: Values) -> Values:
        field = replace(
            stand,
            cereal=clipping.drawn_cereal(factor, stand.cereal),
            soil=clipping.drawn_soil(factor, stand.soil),
            previous_crop=clipping.drawn_crop(factor, stand.previous_crop),
        )
        return np.asarray(grow_seasons(field, *columns)["biomass_kg_ha"][:, 0])

    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        return np.asarray(np.nan_to_num(np.stack(list(pool.map(one, factors)))))


def _every_day(grown: Values, looked: Sequence[int], days: Values) -> Values:
    """Fill in the days between those that were looked at, by a straight line."""
    place = np.clip(np.searchsorted(looked, days, side="right") - 1, 0, len(looked) - 2)
    known = np.asarray(looked)
    share = (days - known[place]) / (known[place + 1] - known[place])
    return np.asarray(grown[..., place] * (1.0 - share) + grown[..., place + 1] * share)


def _then(
    day: int,
    grown: Values,
    looked: Sequence[int],
    asked: Sequence[int],
    measured: Sequence[Clipping],
    carried: Values,
    weighed: clipping.Weighed,
    spread: FieldSpread,
) -> Values:
    """Band of a day that is over: carried on, or before the last clipping as it must have been.

    There each draw is moved as far, as a share, as on the day of the next clipping.
    """
    if day >= asked[-1]:
        falls = grown.shape[1]
        weights = np.repeat(weighed.weights / falls, falls)
        return weighted_quantiles(carried[:, day - asked[-1]], weights, LEVELS)
    place = next(place for place, when in enumerate(asked) if when >= day)
    then = np.maximum(grown[:, 0, looked.index(day)], 0.0)
    at_clipping = np.maximum(grown[:, 0, looked.index(asked[place])], clipping.ALIVE)
    share = clipping.trust(spread)
    own = spread.clipping * np.sqrt(share)
    moved = then * (measured[place].biomass / at_clipping) ** share
    noise = np.exp(own * clipping.standard_draws(len(then) * 20, 1)).reshape(len(then), 20)
    return weighted_quantiles(
        (moved[:, None] * noise).ravel(), np.repeat(weighed.weights / 20, 20), LEVELS
    )
