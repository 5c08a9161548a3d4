"""Plans of a season that share one field until they differ.

As long as two plans sow and dress alike, only one of them is run, the leader. On the day on which a
plan differs it takes a copy of its leader's field and is run by itself from then on.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from simulator.process.compiled import compiled

Array = np.ndarray[Any, Any]


class Plans(NamedTuple):
    """What the plans of one season do."""

    sow_days: Array  # (plan,)
    seedings: Array  # (plan,) [kg/ha]
    dressing_days: Array  # (plan, dressing)
    dressing_amounts: Array  # (plan, dressing) nitrogen [kg/ha]


@compiled
def nitrogen_on(day: int, one: int, plans: Plans) -> float:
    """Nitrogen that a plan gives on a day [kg/ha]."""
    given = 0.0
    for dressing in range(plans.dressing_days.shape[1]):
        if plans.dressing_days[one, dressing] == day:
            given += plans.dressing_amounts[one, dressing]
    return given


@compiled
def same_today(day: int, one: int, other: int, plans: Plans) -> bool:
    """Say whether two plans do the same on a day; a dressing of nothing is none.

    How they end does not matter: an end takes down the day's record and changes no field.

    Parameters
    ----------
    day : int
        Season day.
    one, other : int
        Which of the plans.
    plans : Plans
    """
    one_sows, other_sows = plans.sow_days[one] == day, plans.sow_days[other] == day
    if one_sows != other_sows or (one_sows and plans.seedings[one] != plans.seedings[other]):
        return False
    return nitrogen_on(day, one, plans) == nitrogen_on(day, other, plans)


@compiled
def decision_days(first_day: int, last_day: int, plan_of: Array, plans: Plans) -> Array:
    """Mark the days on which a plan sows or dresses, the only ones on which plans can differ.

    Returns
    -------
    bool array (season day,)
    """
    deciding = np.zeros(last_day + 1, np.bool_)
    for plan in plan_of:
        if first_day <= plans.sow_days[plan] <= last_day:
            deciding[plans.sow_days[plan]] = True
        for dressing in range(plans.dressing_days.shape[1]):
            day = plans.dressing_days[plan, dressing]
            if first_day <= day <= last_day:
                deciding[day] = True
    return deciding


@compiled
def branch_plans(
    day: int,
    plan_of: Array,
    plans: Plans,
    leader: Array,
    branched_from: Array,
    leaders: Array,
    leading: int,
) -> int:
    """Give plans that differ from their leader today a field of their own.

    Of those that leave a leader and do the same today, the first leads the rest.

    Parameters
    ----------
    day : int
        Season day.
    plan_of : int array (member,)
        The plan of each member.
    plans : Plans
    leader : int array (member,)
        Whom each follows, changed; a leader follows itself.
    branched_from : int array (member,)
        Whom a leader followed before it branched, filled for new ones.
    leaders : int array (member,)
        The first ``leading`` are the leaders, in the order in which they branched; added to.
    leading : int

    Returns
    -------
    int
        How many lead now.
    """
    already = leading
    for member in range(plan_of.size):
        before = leader[member]
        if same_today(day, plan_of[member], plan_of[before], plans):
            continue
        leader[member] = member
        # backwards, since most that branch are still unsown and follow the last that branched
        for at in range(leading - 1, already - 1, -1):
            other = leaders[at]
            if branched_from[other] == before and same_today(
                day, plan_of[member], plan_of[other], plans
            ):
                leader[member] = other
                break
        if leader[member] == member:
            branched_from[member] = before
            leaders[leading] = member
            leading += 1
    return leading
