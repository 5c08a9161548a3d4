"""Where plans of a season part: as long as two do the same, they have the same field.

So only one of them is run, the leader; on the day on which a plan does something else it takes a
copy of its leader's field and goes its own way.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator.process.compiled import compiled

Array = np.ndarray[Any, Any]


@compiled
def nitrogen_on(day: int, dressing_days: Array, dressing_amounts: Array) -> float:
    """Nitrogen that a plan gives on a day [kg/ha]."""
    given = 0.0
    for dressing in range(dressing_days.size):
        if dressing_days[dressing] == day:
            given += dressing_amounts[dressing]
    return given


@compiled
def does_the_same(
    day: int,
    one: int,
    other: int,
    sow_days: Array,
    seedings: Array,
    dressing_days: Array,
    dressing_amounts: Array,
) -> bool:
    """Say whether two plans do the same on a day; a dressing of nothing is none.

    How they end does not matter: an end takes down the day's record and changes no field.

    Parameters
    ----------
    day : int
        Season day.
    one, other : int
        Plans.
    sow_days : int array (plan,)
    seedings : array (plan,)
    dressing_days : int array (plan, dressing)
    dressing_amounts : array (plan, dressing)
    """
    one_sows, other_sows = sow_days[one] == day, sow_days[other] == day
    if one_sows != other_sows or (one_sows and seedings[one] != seedings[other]):
        return False
    return nitrogen_on(day, dressing_days[one], dressing_amounts[one]) == nitrogen_on(
        day, dressing_days[other], dressing_amounts[other]
    )


@compiled
def decision_days(
    first_day: int, last_day: int, plans: Array, sow_days: Array, dressing_days: Array
) -> Array:
    """Mark the days on which a plan sows or dresses, the only ones on which plans can part.

    Returns
    -------
    bool array (season day,)
    """
    deciding = np.zeros(last_day + 1, np.bool_)
    for plan in plans:
        if first_day <= sow_days[plan] <= last_day:
            deciding[sow_days[plan]] = True
        for day in dressing_days[plan]:
            if first_day <= day <= last_day:
                deciding[day] = True
    return deciding


@compiled
def part_ways(
    day: int,
    plans: Array,
    sow_days: Array,
    seedings: Array,
    dressing_days: Array,
    dressing_amounts: Array,
    leader: Array,
    parted_from: Array,
    leaders: Array,
    leading: int,
) -> int:
    """Let those go their own way that do something else today than their leader.

    Of those that leave a leader and do the same today, the first leads the rest.

    Parameters
    ----------
    day : int
        Season day.
    plans : int array (member,)
        The plan of each member.
    sow_days, seedings, dressing_days, dressing_amounts
        See `does_the_same`.
    leader : int array (member,)
        Whom each follows, changed; a leader follows itself.
    parted_from : int array (member,)
        Whom a leader followed before, filled for new ones.
    leaders : int array (member,)
        The first ``leading`` are the leaders, in the order in which they parted; added to.
    leading : int

    Returns
    -------
    int
        How many lead now.
    """
    already = leading
    for member in range(plans.size):
        before = leader[member]
        if does_the_same(
            day, plans[member], plans[before], sow_days, seedings, dressing_days, dressing_amounts
        ):
            continue
        leader[member] = member
        # backwards, since most that part are still unsown and follow the last that parted
        for at in range(leading - 1, already - 1, -1):
            other = leaders[at]
            if parted_from[other] == before and does_the_same(
                day,
                plans[member],
                plans[other],
                sow_days,
                seedings,
                dressing_days,
                dressing_amounts,
            ):
                leader[member] = other
                break
        if leader[member] == member:
            parted_from[member] = before
            leaders[leading] = member
            leading += 1
    return leading
