"""What a stand that was measured may still make: draws of the field, weighed by what was measured.

The model is off for reasons that weather does not hold: what the soil gives, how leaves grow. So
a number of fields are drawn that may all be this one, and each counts by how near it comes to the
clippings. From the last clipping on a stand gains at first what stands usually gain, later more and
more what the drawn field gains: left out of the trials, the model's own gain says little about the
next weeks, and the usual gain grows wrong over months. Where nothing was clipped, and long after a
clipping, a drawn field makes what the model says, off by as much as the model has been off: more
or less by where the field stands among the draws.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Any, TypeVar

import numpy as np

from simulator.parameters.bounded import BoundedSet
from simulator.parameters.cereals import Cereal
from simulator.parameters.field_spread import FieldSpread
from simulator.parameters.model_error import ModelError
from simulator.parameters.soils import PreviousCrop, Soil
from simulator.process.sun import daylight_hours
from simulator.season.measured import ALIVE, clipping_off

Array = np.ndarray[Any, Any]
Set = TypeVar("Set", bound=BoundedSet)

DRAWS = 100
SEED = 20
DRAWN = ("nitrogen", "light", "leaf", "root", "leaf_life", "stand")
PACED = (*DRAWN, "pace")  # where a stage was scored; without one, draws keep the model's pace
OUT_OF_REACH = 3.0  # standard deviations from the nearest draw
STEEP = 4  # of the change from the usual gain to the draw's own
FIRST_MISSED = 0.8  # of the logarithm, by which the model misses first samplings of the open trials
FASTEST = 0.1  # d-1, growth of a thin stand as a share of itself; common practice, no source


def standard_draws(number: int, columns: int, seed: int = SEED) -> Array:
    """Draw standard normal numbers whose every column is spread evenly: a Latin hypercube.

    Returns
    -------
    array (number, columns)
        The same to the bit for the same seed.

    References
    ----------
    McKay, Beckman and Conover (1979), Technometrics 21:239-245.
    """
    even = _scores(number)
    rng = np.random.default_rng(seed)
    return np.column_stack([even[rng.permutation(number)] for _ in range(columns)])


def factors(
    spread: FieldSpread, number: int = DRAWS, seed: int = SEED, drawn: Sequence[str] = DRAWN
) -> Array:
    """Draw fields: what each parameter drawn is multiplied by, array (draw, parameter)."""
    sizes = np.array([getattr(spread, name) for name in drawn])
    return np.asarray(np.exp(standard_draws(number, len(drawn), seed) * sizes))


def drawn_cereal(factor: Array, cereal: Cereal) -> Cereal:
    """Return the cereal of a drawn field, a row of `factors`; each value stays in its bounds."""
    by = _named(factor)
    return _times(
        cereal,
        radiation_use_efficiency=by["light"],
        leaf_growth_rate=by["leaf"],
        root_share_start=by["root"],
        leaf_life=by["leaf_life"],
        seedling_leaf_area=by["stand"],
        vegetative_rate=by["pace"],
        elongation_rate=by["pace"],
    )


def drawn_soil(factor: Array, soil: Soil) -> Soil:
    """Return the soil of a drawn field."""
    return _times(soil, mineralisation_rate=_named(factor)["nitrogen"])


def drawn_crop(factor: Array, crop: PreviousCrop) -> PreviousCrop:
    """Return what the crop before left in a drawn field; a soil test, if any, holds as it is."""
    return _times(crop, residual_nitrate=_named(factor)["nitrogen"])


def _named(factor: Array) -> dict[str, float]:
    named = dict(zip(PACED, (float(one) for one in factor), strict=False))
    return {"pace": 1.0, **named}


def _times(one: Set, **by: float) -> Set:
    specs = one.specs()
    changed = {
        name: min(max(getattr(one, name) * factor, specs[name].low), specs[name].high)
        for name, factor in by.items()
    }
    return replace(one, **changed)  # type: ignore[type-var]


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """Drawn fields beside what was measured.

    Parameters
    ----------
    weights : array (draw,)
        They add up to 1; all alike where nothing comes near.
    reached : bool
        Whether any draw comes within `OUT_OF_REACH` of each clipping.
    """

    weights: Array
    reached: bool


def weigh(simulated: Array, measured: Sequence[float], spread: FieldSpread) -> Weighed:
    """Weigh drawn fields by clippings.

    Parameters
    ----------
    simulated : array (draw, clipping)
        Biomass on the days of the clippings [kg/ha].
    measured : sequence of float
        [kg/ha].
    spread : FieldSpread
    """
    return weigh_by(clipping_off(simulated, measured, spread))


def weigh_by(far: Array) -> Weighed:
    """Weigh drawn fields by how far they are from each thing measured: normal errors.

    Parameters
    ----------
    far : array (draw, measurement)
        Standard deviations, from `simulator.season.measured.off_by`.

    References
    ----------
    Bayes' rule with draws of the prior: Beven and Binley (1992), Hydrol. Process. 6:279-298, from
    memory; here the likelihood is that of normal errors. `OUT_OF_REACH`: common practice, no
    source.
    """
    off = np.abs(far)
    if (off.min(axis=0) > OUT_OF_REACH).any():
        return Weighed(weights=np.full(len(off), 1.0 / len(off)), reached=False)
    log_weights = -0.5 * (off**2).sum(axis=1)
    weights = np.exp(log_weights - log_weights.max())
    return Weighed(weights=weights / weights.sum(), reached=True)


def trust(spread: FieldSpread) -> float:
    """Return how far a drawn stand is moved to the clipping, 0 to 1, on the logarithm."""
    own, missed = spread.clipping**2, spread.missed**2
    return float(missed / (own + missed))


def in_spring(latitude: float, season_days: Array) -> Array:
    """Say which days are of the time of year whose usual gain is known, 0 to 1.

    The trials' pairs of samplings begin on 24 February at the earliest, when the day is 11 hours
    long: before, a stand gains what the drawn field gains. The usual counts from 10.5 hours on, in
    full from 11.

    Parameters
    ----------
    latitude : float
        [degrees north].
    season_days : int array (day,)
        Days from 1 July.
    """
    new_year = 184
    lit = np.array([daylight_hours(latitude, float(day - new_year + 1)) for day in season_days])
    return np.where(season_days < new_year, 0.0, np.clip((lit - 10.5) / 0.5, 0.0, 1.0))


def carry_on(
    simulated: Array,
    warmth: Array,
    measured: float,
    reached: bool,
    spread: FieldSpread,
    noise: Array,
    spring: Array,
) -> Array:
    """Carry a clipped stand on from day to day.

    On the day of the clipping each draw stands between its own biomass and the clipping, as their
    errors have it; where no draw comes near, at the clipping. From then on

        B(t+1) = B(t) + s(t) k T(t) (1 - exp(-B(t) / B0)) + (1 - s(t)) G(t),  s = p exp(-(t / D)^4)

    with p the share of spring in the day, T its degree-days above 0 degC, k `usual_gain`,
    B0 `full_cover`, D `usual_days`, and G the draw's own gain, less in proportion where the stand
    is thinner than the draw. Where no draw comes near, s is p, the usual gain at most `FASTEST` of
    the stand, and the error of the gain doubled.

    Parameters
    ----------
    simulated : array (draw, weather, day)
        Biomass from the day of the clipping on [kg/ha].
    warmth : array (weather, day)
        Mean temperature of the same days [degC].
    measured : float
        [kg/ha].
    reached : bool
        From `weigh`.
    spread : FieldSpread
    noise : array (draw, weather, 2)
        Standard normal: of the stand on the day of the clipping, and of its gain.
    spring : array (day,)
        From `in_spring`.

    Returns
    -------
    array (draw, weather, day)
        Biomass [kg/ha].

    References
    ----------
    The form of the usual gain, linear under full leaf and less before, is that of Goudriaan and
    Monteith (1990), Ann. Bot. 66:695-701 (from memory), with degree-days in place of days.
    """
    share = trust(spread) if reached else 1.0
    own = spread.clipping * np.sqrt(share)
    wide = 1.0 if reached else 2.0
    first = np.maximum(simulated[..., 0], ALIVE)
    begun = first ** (1.0 - share) * measured**share * np.exp(own * noise[..., 0])
    factor = np.maximum(1.0 + wide * spread.gain_error * noise[..., 1], 0.0)
    out = np.empty(np.broadcast_shapes(simulated.shape, (*noise.shape[:2], 1)))
    out[..., 0] = begun
    grown = begun.copy()  # without the error of its gain
    for day in range(1, simulated.shape[-1]):
        near = np.exp(-(((day - 0.5) / spread.usual_days) ** STEEP)) if reached else 1.0
        usual = spring[day] * near
        cover = 1.0 - np.exp(-grown / spread.full_cover)
        gain = spread.usual_gain * np.maximum(warmth[:, day], 0.0) * cover
        if not reached:
            gain = np.minimum(gain, FASTEST * grown)
        before = np.maximum(simulated[..., day - 1], ALIVE)
        own_gain = (simulated[..., day] - before) * np.minimum(grown / before, 1.0)
        grown = np.maximum(grown + usual * gain + (1.0 - usual) * own_gain, 0.0)
        out[..., day] = np.maximum(begun + (grown - begun) * factor, 0.0)
    return out


def about_the_model(
    grown: Array,
    simulated: Array,
    spread: FieldSpread,
    error: ModelError,
    noise: Array,
    *,
    young: bool = False,
) -> Array:
    """Say what drawn fields make where nothing was clipped: the model, and its error by rank.

    The drawn fields that make more than others take the errors above 0, those that make less the
    errors below, as far as the draws make the model's error (`FieldSpread.drawn`); the rest is
    noise. Without weights they are spread as the model has been off, whatever their own spread.

    Parameters
    ----------
    grown : array (draw, weather, day)
        Drawn fields [kg/ha].
    simulated : array (weather, day)
        The field as described [kg/ha].
    spread : FieldSpread
    error : ModelError
        Of levels.
    noise : array (draw, weather)
        Standard normal.
    young : bool
        Whether the error, which is that of spring, is kept to `FIRST_MISSED` as a factor.

    Returns
    -------
    array (draw, weather, day)
        Biomass [kg/ha].

    Notes
    -----
    Our own, no source: it is to leave the model's error as it was found, and to tell fields apart.
    """
    number = len(grown)
    scores, ladder = (_scores(count) for count in (number, 1000))
    order = np.argsort(np.argsort(grown.mean(axis=1), axis=0, kind="stable"), axis=0, kind="stable")
    explained = spread.drawn * scores[order][:, None, :]
    places = explained + np.sqrt(1.0 - spread.drawn**2) * noise[..., None]
    far = np.interp(places, ladder, error.errors(len(ladder)))
    made = error.moved(simulated, far)
    if young:
        ends = simulated * np.exp(np.minimum(FIRST_MISSED * places, 0.0))
        made = np.clip(made, ends, simulated * np.exp(np.maximum(FIRST_MISSED * places, 0.0)))
    return np.asarray(np.maximum(made, 0.0))


def _scores(number: int) -> Array:
    """Return the middles of equal shares of a standard normal curve, the lowest first."""
    normal = NormalDist()
    return np.array([normal.inv_cdf((place + 0.5) / number) for place in range(number)])


def long_after(days: Array, spread: FieldSpread) -> Array:
    """Return how far the model's own error has taken the place of a clipping's, 0 to 1.

    Parameters
    ----------
    days : array
        Since the clipping. Up to `FieldSpread.tried_days` it is 0.

    Notes
    -----
    Our own, no source: no trial was sampled again so late, so that the form is a choice.
    """
    beyond = np.maximum(days - spread.tried_days, 0.0)
    return np.asarray(1.0 - np.exp(-((beyond / spread.usual_days) ** 2)))
