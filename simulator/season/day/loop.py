"""The ways into the compiled loop: one plan, many plans on one field, stands on many fields.

`simulator.season.day.season` is the season that each of them runs.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator.process.compiled import compiled
from simulator.season.day.branching import Plans
from simulator.season.day.calendar import BY_DATE
from simulator.season.day.record import DAY
from simulator.season.day.season import Ends, Kept, Sets, grow_season, new_field_arrays

Array = np.ndarray[Any, Any]


@compiled
def grow(
    drivers: Array,
    first_day: int,
    last_day: int,
    sow_day: int,
    seeding: float,
    dressing_days: Array,
    dressing_amounts: Array,
    end_kinds: Array,
    end_days: Array,
    end_values: Array,
    cereals: Array,
    soils: Array,
    previous_crops: Array,
    fertilizers: Array,
    bottoms: Array,
    ends: Array,
    days: Array,
    layer_days: Array,
) -> None:
    """Run one season of one plan.

    Parameters
    ----------
    drivers : array (day, columns)
        From `simulator.season.day.drivers`; day 0 is 1 July.
    first_day, last_day, sow_day : int
        Season days; the soil runs from ``first_day`` on.
    seeding : float
        [kg/ha].
    dressing_days, dressing_amounts : array (dressing,)
        Season day and nitrogen [kg/ha].
    end_kinds, end_days, end_values : array (end,)
        `BY_DATE` with its season day; `BY_STAGE` or `BY_BIOMASS` with the value to reach.
    cereals, soils, previous_crops, fertilizers : structured array (1,)
    bottoms : array (layer,)
        Depths of the layers' bottoms [cm].
    ends : structured array (end,) of `simulator.season.day.record.DAY`
        Filled with the record of the day each end is reached; left as it is otherwise.
    days : structured array (day,) of `simulator.season.day.record.DAY`, or (0,)
        Filled with each day's record, up to the day of the last end, when it has room.
    layer_days : array (day, 2, layer), or (0, 2, layer)
        Filled with nitrate nitrogen [kg/ha] and water [mm] by layer where ``days`` is filled.

    References
    ----------
    The processes called; their docstrings name the papers.
    """
    sets = Sets(cereals, soils, previous_crops, fertilizers)
    grow_season(
        drivers,
        first_day,
        last_day,
        np.zeros(1, np.int64),
        Plans(
            np.array([sow_day]),
            np.array([seeding]),
            dressing_days.reshape(1, -1),
            dressing_amounts.reshape(1, -1),
        ),
        Ends(end_kinds, end_days, end_values),
        sets,
        new_field_arrays(sets, bottoms),
        Kept(ends.reshape(1, -1), days, layer_days),
    )


@compiled
def grow_members(
    drivers: Array,
    spans: Array,
    first: int,
    last: int,
    seasons: Array,
    plans: Array,
    sow_days: Array,
    seedings: Array,
    dressing_days: Array,
    dressing_amounts: Array,
    end_kinds: Array,
    end_days: Array,
    end_values: Array,
    cereals: Array,
    soils: Array,
    previous_crops: Array,
    fertilizers: Array,
    bottoms: Array,
    out: Array,
) -> None:
    """Run members ``first`` to ``last``: each one season of one plan.

    Members share nothing but what they read, so any split over threads gives the same bits.

    Parameters
    ----------
    drivers : array (season, day, columns)
    spans : int array (season, 2)
        First and last day of each season.
    first, last : int
        Members from ``first`` up to, not including, ``last``.
    seasons, plans : int array (member,)
    sow_days : int array (season, plan)
    seedings : array (plan,)
    dressing_days : int array (season, plan, dressing)
    dressing_amounts : array (plan, dressing)
    end_kinds, end_values : array (end,)
    end_days : int array (season, end)
    cereals, soils, previous_crops, fertilizers : structured array (1,)
    bottoms : array (layer,)
    out : structured array (member, end) of `simulator.season.day.record.DAY`
        Filled; left as it is where an end is not reached.

    References
    ----------
    `grow`.
    """
    sets = Sets(cereals, soils, previous_crops, fertilizers)
    arrays = new_field_arrays(sets, bottoms)
    no_days, no_layers = np.empty(0, DAY), np.empty((0, 2, bottoms.size))
    member = first
    while member < last:
        season = seasons[member]
        after = member + 1
        while after < last and seasons[after] == season:
            after += 1
        grow_season(
            drivers[season],
            spans[season, 0],
            spans[season, 1],
            plans[member:after],
            Plans(sow_days[season], seedings, dressing_days[season], dressing_amounts),
            Ends(end_kinds, end_days[season], end_values),
            sets,
            arrays,
            Kept(out[member:after], no_days, no_layers),
        )
        member = after


@compiled
def grow_groups(
    drivers: Array,
    spans: Array,
    first_stand: Array,
    first_end: Array,
    first_out: Array,
    sow_days: Array,
    seedings: Array,
    dressing_days: Array,
    dressing_amounts: Array,
    end_days: Array,
    cereals: Array,
    soils: Array,
    previous_crops: Array,
    fertilizers: Array,
    bottoms: Array,
    layers: Array,
    out: Array,
) -> None:
    """Run groups of stands, each on a field and in a season of its own.

    Parameters
    ----------
    drivers : array (group, day, columns)
    spans : int array (group, 2)
        First and last day of each season.
    first_stand, first_end, first_out : int array (group + 1,)
        Where a group's stands, its ends and its part of ``out`` begin; the last is their number.
    sow_days : int array (stand,)
    seedings : array (stand,)
    dressing_days, dressing_amounts : array (stand, dressing)
    end_days : int array (end,)
        Season days; each stand of a group is looked at on each of its ends.
    cereals, soils, previous_crops, fertilizers : structured array (group,)
    bottoms : array (group, layer)
        Depths of the layers' bottoms [cm], of which ``layers`` count.
    layers : int array (group,)
    out : structured array of `simulator.season.day.record.DAY`
        Filled: group by group, stand by stand, its ends running fastest.

    References
    ----------
    `grow`.
    """
    no_days, no_layers = np.empty(0, DAY), np.empty((0, 2, bottoms.shape[1]))
    for group in range(spans.shape[0]):
        one = slice(group, group + 1)
        stands = slice(first_stand[group], first_stand[group + 1])
        days = end_days[first_end[group] : first_end[group + 1]]
        members = first_stand[group + 1] - first_stand[group]
        sets = Sets(cereals[one], soils[one], previous_crops[one], fertilizers[one])
        kept = out[first_out[group] : first_out[group + 1]].reshape(members, days.size)
        grow_season(
            drivers[group],
            spans[group, 0],
            spans[group, 1],
            np.arange(members),
            Plans(
                sow_days[stands],
                seedings[stands],
                dressing_days[stands],
                dressing_amounts[stands],
            ),
            Ends(np.full(days.size, BY_DATE), days, np.full(days.size, np.nan)),
            sets,
            new_field_arrays(sets, bottoms[group, : layers[group]]),
            Kept(kept, no_days, no_layers),
        )
