"""The outlook of a stand that was measured: weather and field together."""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.shared.few_falls import BAND, effective_number, weighted_quantiles
from simulator.parameters.field_spread import RYE, FieldSpread
from simulator.parameters.model_error import LEVEL, ModelError
from simulator.season import clipping
from simulator.season import plan as plans
from simulator.season.ensemble import DatedPlan, grow_seasons
from simulator.season.measured import ALIVE, BIOMASS, FIELD_OF, STAGE, Measured, as_measured, off_by
from simulator.weather.record import NAMES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Values = NDArray[Any]

LEVELS = (0.5 - BAND / 2, 0.5, 0.5 + BAND / 2)


@dataclass(frozen=True, kw_only=True)
class Clipped:
    """What measurements say of a stand.

    Parameters
    ----------
    measured : tuple of Measured
        By date.
    aside : tuple of Measured
        Those, but for biomass, that nothing in the model could have made: they count for nothing.
    spread : FieldSpread
        The errors they were weighed with.
    without : array (measurement, 3)
        Lower end, middle and upper end of the drawn fields, on the days of the measurements, as if
        nothing had been measured; each in its own unit.
    bands : array (end, 3)
        The same of biomass at the ends, told the measurements [kg/ha].
    members : array (member, end)
    weights : array (member,)
    days, paths : array (day,), array (day, 3)
        Season days from the last clipping, or measurement, to the last end, and the band on each.
    past : tuple of (str, tuple of float)
        Dates that were asked for and are over, and the band on each.
    draws : int
    counting : float
        Effective number of draws.
    reached : bool
        Whether any drawn field comes near the biomass that was clipped.
    """

    measured: tuple[Measured, ...]
    aside: tuple[Measured, ...]
    spread: FieldSpread
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

    @property
    def clippings(self) -> tuple[Measured, ...]:
        """Those of biomass."""
        return tuple(one for one in self.measured if one.kind == BIOMASS)

    def chance(self, target: float) -> Values:
        """Share of the weight that reaches a target [kg/ha] at each end."""
        return np.asarray(self.weights @ (self.members >= target))


@dataclass(frozen=True, kw_only=True)
class _Drawn:
    """Drawn fields, grown and weighed.

    Parameters
    ----------
    looked : list of int
        Season days.
    biomass : array (draw, weather, day)
        [kg/ha].
    as_described : array (weather, day)
        The field without any draw [kg/ha].
    clippings : list of Measured
        Biomass that was measured, by date.
    asked : list of int
        The days of these.
    weighed : Weighed
    """

    looked: list[int]
    biomass: Values
    as_described: Values
    clippings: list[Measured]
    asked: list[int]
    weighed: clipping.Weighed


def clipped(
    about: dict[str, Any],
    year: int,
    weather: Values,
    first: int,
    measured: Sequence[Measured],
    ends: Sequence[str],
    past: Sequence[str],
    *,
    shares: Sequence[float] = (),
    error: ModelError = LEVEL,
    spread: FieldSpread = RYE,
    draws: int = clipping.DRAWS,
) -> Clipped:
    """Work out what a stand that was measured may still make.

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
    measured : sequence of Measured
    ends, past : sequence of str
        Dates asked for, MM-DD: still to come, and over.
    shares : sequence of float
        For each measurement the share of the column's nitrate above the depth sampled; 1 without.
    error : ModelError
        Of levels.
    spread : FieldSpread
    draws : int

    Returns
    -------
    Clipped
    """
    shares = list(shares) or [1.0] * len(measured)
    order = sorted(range(len(measured)), key=lambda at: _day(year, measured[at].date))
    samples, shares = [measured[at] for at in order], [shares[at] for at in order]
    days_of = [_day(year, one.date) for one in samples]
    to, before = ([_day(year, day) for day in some] for some in (ends, past))
    between = range(min([*days_of, *before]), max(to), 7)
    looked = sorted({*between, *days_of, *before, *to, max(to) - 1})  # two at the least
    drawn, made, counts = _draw(
        about, year, weather, first, looked, samples, days_of, shares, spread, draws
    )
    weighed = drawn.weighed
    days = np.arange((drawn.asked or days_of)[-1], max(to) + 1)
    falls = len(weather)
    noise = clipping.standard_draws(draws * falls, 2).reshape(draws, falls, 2)
    members = _biomass_by_day(drawn, about, weather, days, noise, spread, error)
    weights = np.repeat(weighed.weights / falls, falls)
    alike = np.full(draws, 1.0 / draws)
    at_ends = members[:, [day - days[0] for day in to]]
    return Clipped(
        measured=tuple(samples),
        aside=tuple(one for one, kept in zip(samples, counts, strict=True) if not kept),
        spread=spread,
        without=_bands(np.stack(made, 1), alike),
        bands=_bands(at_ends, weights),
        members=at_ends,
        weights=weights,
        days=days,
        paths=_bands(members, weights),
        past=tuple(
            (date, tuple(_past_band(day, drawn, days, members, spread, error)))
            for date, day in zip(past, before, strict=True)
        ),
        draws=draws,
        counting=effective_number(weighed.weights) if weighed.reached else 0.0,
        reached=weighed.reached,
    )


def _draw(
    about: dict[str, Any],
    year: int,
    weather: Values,
    first: int,
    looked: list[int],
    measured: Sequence[Measured],
    days_of: Sequence[int],
    shares: Sequence[float],
    spread: FieldSpread,
    draws: int,
) -> tuple[_Drawn, list[Values], list[bool]]:
    """Draw fields, grow them and weigh them.

    Returns
    -------
    _Drawn
    list of array (draw,)
        What each measurement would have found in the drawn fields.
    list of bool
        Whether each counts: biomass always, of the others what a draw comes near.
    """
    paced = any(one.kind == STAGE for one in measured)
    factors = clipping.factors(spread, draws, drawn=clipping.PACED if paced else clipping.DRAWN)
    biomass, seen = _grow(about, year, weather, first, looked, factors)
    made = [
        as_measured(one.kind, seen[one.kind][:-1, looked.index(day)], about["cereal"], share)
        for one, day, share in zip(measured, days_of, shares, strict=True)
    ]
    far = [
        off_by(one, values, spread, about["cereal"])
        for one, values in zip(measured, made, strict=True)
    ]
    counts = [
        one.kind == BIOMASS or bool(np.abs(off).min() <= clipping.OUT_OF_REACH)
        for one, off in zip(measured, far, strict=True)
    ]
    weighed = clipping.weigh_by(
        np.stack([off for off, one in zip(far, counts, strict=True) if one] or [0.0 * far[0]], 1)
    )
    at = [place for place, one in enumerate(measured) if one.kind == BIOMASS]
    drawn = _Drawn(
        looked=looked,
        biomass=biomass[:-1],
        as_described=biomass[-1],
        clippings=[measured[place] for place in at],
        asked=[days_of[place] for place in at],
        weighed=weighed,
    )
    return drawn, made, counts


def _biomass_by_day(
    drawn: _Drawn,
    about: dict[str, Any],
    weather: Values,
    days: Values,
    noise: Values,
    spread: FieldSpread,
    error: ModelError,
) -> Values:
    """Return biomass by day, (member, day): from the last clipping on, or about the model."""
    grown = _every_day(drawn.biomass, drawn.looked, days)
    described = _every_day(drawn.as_described, drawn.looked, days)
    members = len(grown) * len(weather)
    reached = drawn.weighed.reached
    about_it = clipping.about_the_model(grown, described, spread, error, noise[..., 1])
    if not drawn.clippings:
        return about_it.reshape(members, -1)
    carried = clipping.carry_on(
        grown,
        0.5 * (weather[:, 0][:, days] + weather[:, 1][:, days]),
        drawn.clippings[-1].value,
        reached,
        spread,
        noise,
        clipping.in_spring(about["latitude"], days),
    )
    if not reached:
        return carried.reshape(members, -1)
    late = clipping.long_after(days - days[0], spread)
    return np.asarray((1.0 - late) * carried + late * about_it).reshape(members, -1)


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
) -> tuple[Values, dict[str, Values]]:
    """Grow each drawn field, and last the field as described, in all weathers.

    Returns
    -------
    biomass : array (draw, weather, day looked at)
        [kg/ha].
    seen : dict of str to array (draw, day looked at)
        By kind of measurement, what the record holds in the first weather: up to today it is known.
    """
    stand = DatedPlan(
        year=year,
        first=first,
        **{**about, "ends": [plans.month_day_of(year, day) for day in looked]},
    )
    columns = [np.ascontiguousarray(weather[:, place]) for place in range(len(NAMES) + 1)]

    def one(factor: Values) -> tuple[Values, dict[str, Values]]:
        field = replace(
            stand,
            cereal=clipping.drawn_cereal(factor, stand.cereal),
            soil=clipping.drawn_soil(factor, stand.soil),
            previous_crop=clipping.drawn_crop(factor, stand.previous_crop),
        )
        days = grow_seasons(field, *columns)[:, 0]
        return days["biomass_kg_ha"], {kind: days[name][0] for kind, name in FIELD_OF.items()}

    as_described = np.ones((1, factors.shape[1]))
    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        made = list(pool.map(one, np.concatenate([factors, as_described])))
    biomass = np.nan_to_num(np.stack([days for days, _ in made]))
    return biomass, {
        kind: np.nan_to_num(np.stack([seen[kind] for _, seen in made])) for kind in FIELD_OF
    }


def _every_day(grown: Values, looked: Sequence[int], days: Values) -> Values:
    """Fill in the days between those that were looked at, by a straight line."""
    place = np.clip(np.searchsorted(looked, days, side="right") - 1, 0, len(looked) - 2)
    known = np.asarray(looked)
    share = (days - known[place]) / (known[place + 1] - known[place])
    return np.asarray(grown[..., place] * (1.0 - share) + grown[..., place + 1] * share)


def _past_band(
    day: int,
    drawn: _Drawn,
    days: Values,
    members: Values,
    spread: FieldSpread,
    error: ModelError,
) -> Values:
    """Band of a day that is over: carried on, or before the last clipping as it must have been.

    There each draw is moved as far, as a share, as on the day of the next clipping. Without a
    clipping it is the model's, and its error, as the draws are weighed.
    """
    weights = drawn.weighed.weights
    number, falls = drawn.biomass.shape[:2]
    if day >= days[0]:
        return weighted_quantiles(
            members[:, day - days[0]], np.repeat(weights / falls, falls), LEVELS
        )
    at = drawn.looked.index(day)
    lent = clipping.standard_draws(number * 20, 1).reshape(number, 20)
    alike = np.repeat(weights / 20, 20)
    if not drawn.clippings:
        then = np.broadcast_to(drawn.biomass[:, :1, at : at + 1], (number, 20, 1))
        known = np.broadcast_to(drawn.as_described[:1, at : at + 1], (20, 1))
        made = clipping.about_the_model(then, known, spread, error, lent, young=True)
        return weighted_quantiles(made.ravel(), alike, LEVELS)
    place = next(place for place, when in enumerate(drawn.asked) if when >= day)
    then = np.maximum(drawn.biomass[:, 0, at], 0.0)
    at_clipping = np.maximum(drawn.biomass[:, 0, drawn.looked.index(drawn.asked[place])], ALIVE)
    share = clipping.trust(spread)
    own = spread.clipping * np.sqrt(share)
    moved = then * (drawn.clippings[place].value / at_clipping) ** share
    return weighted_quantiles((moved[:, None] * np.exp(own * lent)).ravel(), alike, LEVELS)
