"""Which month moved an outcome, and by what weather, in words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from simulator import units
from simulator.answers.why.calculate import Why
from simulator.answers.why.exchanged_weather import RAIN, WHATS, Array
from simulator.answers.why.month_shares import BIOMASS, LEACHED, RESPONSE
from simulator.answers.why.months import Month
from simulator.show import wording
from simulator.show.tables import number

KIND: dict[str, str] = {BIOMASS: "biomass", RESPONSE: "biomass", LEACHED: "nitrogen"}
LITTLE = {BIOMASS: 50.0, RESPONSE: 50.0, LEACHED: 1.0}  # kg/ha that are not worth a sentence
WORTH_NAMING = 0.25  # share of the largest month's, or of a month's larger piece, and more
MOST_NAMED = 4  # months in a sentence
NEAR_RAIN, NEAR_TEMPERATURE = 0.1, 0.5  # share of the usual, and degC, that are still usual


def moved_most(found: Why, outcome: str) -> int:
    """Return the place of the month that moved an outcome most."""
    return int(np.argmax(np.abs(found.by_month(outcome))))


def worth_naming(found: Why, outcome: str) -> list[int]:
    """Return the places of the months that moved an outcome most, the first of them first."""
    made = np.abs(found.by_month(outcome))
    least = max(WORTH_NAMING * float(made.max()), LITTLE[outcome])
    ranked = np.argsort(-made, kind="stable")[:MOST_NAMED]
    return [int(at) for at in ranked if made[at] >= least]


def spelled(value: float, outcome: str, system: units.System) -> str:
    """Spell the size of what an outcome was moved by: ``"480 lb/ac"``."""
    return units.spell(abs(value), KIND[outcome], system)


def verb(value: float, outcome: str) -> str:
    """Say which way an outcome was moved: ``"cost"``."""
    cost, brought = ("saved", "added") if outcome == LEACHED else ("cost", "brought")
    return cost if value < 0 else brought


def weather_of(
    month: Month, what: str, system: units.System, *, whose: str, by_days: bool = False
) -> str:
    """Name a month's rain or temperature as a cause: ``"its rain (11.0 in, usually 4.1 in)"``.

    Parameters
    ----------
    month : Month
    what : str
    system : {"us", "si"}
    whose : str
        ``"its"`` or ``"November's"``.
    by_days : bool
        Whether the days on which it rained, or was warm, count for more than how much.
    """
    if what == RAIN:
        here, usual = (units.spell(value, "water", system) for value in month.rain)
        more = month.rain[0] - month.rain[1]
        if by_days or abs(more) < NEAR_RAIN * month.rain[1]:
            return f"the days {whose} rain fell on ({here}, usually {usual})"
        if more < 0:
            return f"{whose} dry weather ({here} of rain, usually {usual})"
        return f"{whose} rain ({here}, usually {usual})"
    more = month.temperature[0] - month.temperature[1]
    size = f"{units.spell(abs(more), 'step', system)} {'above' if more > 0 else 'below'} usual"
    if by_days or abs(more) < NEAR_TEMPERATURE:
        return f"{whose} warm and cold spells (on average {size})"
    return f"{whose} {'warm' if more > 0 else 'cool'} weather ({size})"


def clause(found: Why, outcome: str, at: int, system: units.System, *, whose: str) -> str:
    """Say what a month did: ``"October's rain (10.4 in, usually 3.0 in) cost 3,070 lb/ac"``.

    Parameters
    ----------
    found : Why
    outcome : str
    at : int
        Place of the month.
    system : {"us", "si"}
    whose : str
        ``"its"`` or ``"October's"``.
    """
    shares = found.shares[outcome][at]
    order = np.argsort(-np.abs(shares), kind="stable")
    least = max(WORTH_NAMING * float(np.abs(shares).max()), LITTLE[outcome])
    named = [int(k) for k in order if abs(shares[k]) >= least] or [int(order[0])]
    said: list[str] = []
    for k in named:
        by_total = found.totals_by[outcome][at, k]
        cause = weather_of(
            found.months[at],
            WHATS[k],
            system,
            whose="its" if said else whose,
            by_days=shares[k] * by_total < 0.0
            and min(abs(shares[k]), abs(by_total)) >= LITTLE[outcome],
        )
        said.append(f"{cause} {verb(shares[k], outcome)} {spelled(shares[k], outcome, system)}")
    return " and ".join(said)


def opposite(found: Why, other: dict[str, Array]) -> list[int]:
    """Return the places of months whose share of biomass goes the other way than a second one.

    Parameters
    ----------
    found : Why
    other : dict of str to array (month,)
        ``found.alone`` or ``found.totals``; one of both has to be worth a sentence.
    """
    share, second = found.by_month(BIOMASS), other[BIOMASS]
    size = np.maximum(np.abs(share), np.abs(second))
    return [int(at) for at in np.flatnonzero((size >= LITTLE[BIOMASS]) & (share * second < 0.0))]


def listed(
    found: Why, places: Sequence[int], other: dict[str, Array], system: units.System, name: str
) -> str:
    """List months with their share of biomass, and a second reckoning of it with its name."""
    share, second = found.by_month(BIOMASS), other[BIOMASS]
    return wording.join(
        [
            f"{found.months[at].name} (share {_signed(share[at], system)}, {name} "
            f"{_signed(second[at], system)})"
            for at in places
        ]
    )


def _signed(value: float, system: units.System) -> str:
    return number(value, "biomass", system, sign=True)
