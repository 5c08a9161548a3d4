"""A year's difference shared among the months' rain and temperature: the sets, grown at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simulator.answers.shared.plant_counts import FIELDS, LEFT
from simulator.answers.why.exchanged_weather import WHATS, Array, Whole, mixed, with_usual_totals
from simulator.answers.why.months import month_of_days
from simulator.answers.why.shapley import drawn_orders, sets_along, shapley, shapley_along
from simulator.season.compiling import Announce
from simulator.season.ensemble import DatedPlan, grow_seasons

BIOMASS, RESPONSE, LEACHED = OUTCOMES = ("biomass", "nitrogen response", "nitrate leached")
DRAWN = 6000  # seasons of weather along the orders of one answer, about; a second to grow


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedOut:
    """What the months made of a difference; all by outcome, as `Why` has them."""

    here: dict[str, float]
    usual: dict[str, Array]
    shares: dict[str, Array]
    by_itself: dict[str, Array]
    totals: dict[str, Array]
    totals_by: dict[str, Array]
    lost: tuple[float, float]
    stood: dict[str, tuple[float, float]]
    grown: int


def share_out(
    stand: DatedPlan,
    own: Array,
    others: Array,
    spans: Sequence[slice],
    announce: Announce | None,
) -> SharedOut:
    """Grow a stand in the weather of all sets that are wanted, and share the differences out.

    Parameters
    ----------
    stand : DatedPlan
    own, others : array (name, day), array (name, other, day)
        Weather of the year and of the others.
    spans : sequence of slice
        Season days of each month.
    announce : callable, optional
    """
    months, count = len(spans), others.shape[1]
    whole = (1 << 2 * months) - 1
    orders = _orders(2 * months, count)
    tried = np.arange(whole + 1) if orders is None else sets_along(orders).reshape(count, -1)
    less_a_month = whole & ~(3 << 2 * np.arange(months))
    sets = np.concatenate(
        [np.broadcast_to(one, (count, one.shape[-1])) for one in (tried, less_a_month)], axis=1
    )
    # a season is grown once, however often its set is met; the year's own whatever it is beside
    season = sets * count + np.where(sets == whole, 0, np.arange(count)[:, None])
    wanted, place = np.unique(season, return_inverse=True)
    place = place.reshape(sets.shape)
    weather = mixed(own, others, wanted // count, wanted % count, month_of_days(spans))
    kinds = (WHATS, *((what,) for what in WHATS))
    usual = np.stack(
        [with_usual_totals(own, others, span, kind) for kind in kinds for span in spans], axis=1
    )
    made, lost, stood = _outcomes(stand, np.concatenate([weather, usual], axis=1), announce)
    worth = {name: values[place] for name, values in made.items()}
    itself, none = wanted.size - 1, place[:, 0]  # the set of all pieces is the last
    here = {name: float(values[itself]) for name, values in made.items()}
    totals = {
        name: here[name] - values[wanted.size :].reshape(len(kinds), months)
        for name, values in made.items()
    }
    tried_only = {name: values[:, : tried.shape[-1]] for name, values in worth.items()}
    return SharedOut(
        here=here,
        usual={name: values[none] for name, values in made.items()},
        shares={name: _shares(values, orders) for name, values in tried_only.items()},
        by_itself={name: here[name] - worth[name][:, -months:].mean(axis=0) for name in OUTCOMES},
        totals={name: values[0] for name, values in totals.items()},
        totals_by={name: values[1:].T for name, values in totals.items()},
        lost=(float(lost[itself]), float(lost[none].mean())),
        stood={name: (float(v[itself]), float(v[none].mean())) for name, v in stood.items()},
        grown=len(stand.rates) * (wanted.size + len(kinds) * months),
    )


def _orders(pieces: int, others: int) -> Whole | None:
    """Return orders (other, order, piece) in which the pieces join; none where all sets are few."""
    number = 2 * max(1, round(DRAWN / (2 * others * (pieces - 1))))
    if 1 << pieces <= number * (pieces - 1):
        return None
    return drawn_orders(pieces, others * number).reshape(others, number, pieces)


def _shares(worth: Array, orders: Whole | None) -> Array:
    """Return shares (month, what), means over the other years, of what sets (other, set) made."""
    if orders is None:
        shares = shapley(worth.T).mean(axis=-1)
    else:
        pieces = orders.shape[-1]
        shares = shapley_along(orders.reshape(-1, pieces), worth.reshape(-1, pieces + 1))
    by_month: Array = shares.reshape(-1, len(WHATS))
    return by_month


def _outcomes(
    stand: DatedPlan, weather: Array, announce: Announce | None
) -> tuple[dict[str, Array], Array, dict[str, Array]]:
    """Grow a stand in a block of weather: outcomes, nitrogen lost early, plants, by season."""
    grown = grow_seasons(stand, *weather, announce=announce)
    at_end = grown[..., -1]
    made = {
        BIOMASS: at_end["biomass_kg_ha"][:, -1],
        RESPONSE: at_end["biomass_kg_ha"][:, -1] - at_end["biomass_kg_ha"][:, 0],
        LEACHED: at_end["nitrate_leached_kg_ha"][:, -1],
    }
    leached = grown["nitrate_leached_kg_ha"][..., 0]
    stood = {name: at_end[name][:, -1] for name in (*FIELDS, *LEFT)}
    return made, leached[:, -1] - leached[:, 0], stood
