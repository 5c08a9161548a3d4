"""The loop over the days of a season and over the plans that are followed through it.

What is done in a day stands in `simulator.season.day.order`, what is kept of it in
`simulator.season.day.record`, and which plans are still one in `simulator.season.day.parting`.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator.process.compiled import compiled
from simulator.season.day.order import MORNING, WORK, in_the_morning, live_a_day
from simulator.season.day.parting import decision_days, nitrogen_on, part_ways
from simulator.season.day.record import DAY, growth_stage, write_down
from simulator.season.day.soil import soil_test_day
from simulator.season.day.state import COLUMN, FIELD, first_morning, lay_out

Array = np.ndarray[Any, Any]

BY_DATE, BY_STAGE, BY_BIOMASS = 0, 1, 2  # kinds of end


@compiled
def is_reached(day: int, field: Any, end_kind: int, end_day: int, end_value: float) -> bool:
    """Say whether an end is reached today.

    Parameters
    ----------
    day : int
        Season day.
    field : record of `simulator.season.day.state.FIELD`
    end_kind, end_day, end_value
        `BY_DATE` with its season day; `BY_STAGE` or `BY_BIOMASS` with the value to reach.
    """
    if end_kind == BY_DATE:
        return day == end_day
    if end_kind == BY_STAGE:
        return bool(field.alive and growth_stage(field) >= end_value)
    return bool(field.shoot >= end_value)


@compiled
def grow_season(
    drivers: Array,
    first_day: int,
    last_day: int,
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
    columns: Array,
    starts: Array,
    mornings: Array,
    works: Array,
    ends: Array,
    days: Array,
    nitrate_days: Array,
) -> None:
    """Run one season of some plans, together as long as they do the same.

    Parameters
    ----------
    drivers : array (day, columns)
    first_day, last_day : int
        Season days; the soil runs from ``first_day`` on.
    plans : int array (member,)
        The plan of each member.
    sow_days, seedings, dressing_days, dressing_amounts
        See `does_the_same`.
    end_kinds, end_days, end_values : array (end,)
    cereals, soils, previous_crops, fertilizers : structured array (1,)
    columns : structured array (1,) of `simulator.season.day.state.COLUMN`
    starts : structured array (1,) of `simulator.season.day.state.FIELD`
        The field on the first morning.
    mornings, works : structured array (1,) of `MORNING` and `WORK`
        Work space.
    ends : structured array (member, end) of `simulator.season.day.record.DAY`
        Filled; left as it is where an end is not reached.
    days : structured array (day,) of `simulator.season.day.record.DAY`, or (0,)
        Filled with the first member's, up to its last end, when it has room.
    """
    cereal, soil, crop, fertilizer = cereals[0], soils[0], previous_crops[0], fertilizers[0]
    column, morning, work = columns[0], mornings[0], works[0]
    members = plans.size
    leader = np.zeros(members, np.int64)
    parted_from = np.zeros(members, np.int64)
    leaders = np.zeros(members, np.int64)
    leading = 1  # at first all follow the first
    waiting = np.ones((members, end_kinds.size), np.bool_)  # for its ends
    to_come = np.full(members, end_kinds.size)  # how many those are
    fields = np.empty(members, FIELD)
    fields[0] = starts[0]
    deciding = decision_days(first_day, last_day, plans, sow_days, dressing_days)
    test_day = soil_test_day(first_day, crop)

    for day in range(first_day, last_day + 1):
        if deciding[day]:
            already = leading
            leading = part_ways(
                day,
                plans,
                sow_days,
                seedings,
                dressing_days,
                dressing_amounts,
                leader,
                parted_from,
                leaders,
                leading,
            )
            for at in range(already, leading):
                member, before = leaders[at], parted_from[leaders[at]]
                fields[member] = fields[before]
                waiting[member] = waiting[before]
                to_come[member] = to_come[before]
                ends[member] = ends[before]

        in_the_morning(drivers[day], soil, crop, column, morning)
        morning.tested = day == test_day
        growing = False
        for at in range(leading):
            member = leaders[at]
            if to_come[member] == 0:
                continue
            plan = plans[member]
            field = fields[member]
            dressing = 0.0
            if deciding[day]:
                dressing = nitrogen_on(day, dressing_days[plan], dressing_amounts[plan])
            live_a_day(
                morning,
                sow_days[plan] == day,
                seedings[plan],
                dressing,
                cereal,
                soil,
                crop,
                fertilizer,
                column,
                field,
                work,
            )
            for end in range(end_kinds.size):
                if waiting[member, end] and is_reached(
                    day, field, end_kinds[end], end_days[end], end_values[end]
                ):
                    waiting[member, end] = False
                    to_come[member] -= 1
                    write_down(day, morning, cereal, column, field, ends[member, end])
            growing = growing or to_come[member] > 0
            if days.size > 0 and member == 0:
                write_down(day, morning, cereal, column, field, days[day])
                nitrate_days[day] = field.nitrate[: column.layers]
        if not growing:
            break
    for member in range(members):
        if leader[member] != member:
            ends[member] = ends[leader[member]]


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
    nitrate_days: Array,
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
    nitrate_days : array (day, layer), or (0, layer)
        Filled with nitrate nitrogen by layer [kg/ha] where ``days`` is filled.

    References
    ----------
    The processes called; their docstrings name the papers.
    """
    columns, starts = np.empty(1, COLUMN), np.zeros(1, FIELD)
    mornings, works = np.empty(1, MORNING), np.empty(1, WORK)
    lay_out(soils, cereals, bottoms, columns)
    first_morning(soils, previous_crops, columns, starts)
    grow_season(
        drivers,
        first_day,
        last_day,
        np.zeros(1, np.int64),
        np.array([sow_day]),
        np.array([seeding]),
        dressing_days.reshape(1, -1),
        dressing_amounts.reshape(1, -1),
        end_kinds,
        end_days,
        end_values,
        cereals,
        soils,
        previous_crops,
        fertilizers,
        columns,
        starts,
        mornings,
        works,
        ends.reshape(1, -1),
        days,
        nitrate_days,
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
    columns, starts = np.empty(1, COLUMN), np.zeros(1, FIELD)
    mornings, works = np.empty(1, MORNING), np.empty(1, WORK)
    lay_out(soils, cereals, bottoms, columns)
    first_morning(soils, previous_crops, columns, starts)
    no_days, no_nitrate = np.empty(0, DAY), np.empty((0, bottoms.size))
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
            sow_days[season],
            seedings,
            dressing_days[season],
            dressing_amounts,
            end_kinds,
            end_days[season],
            end_values,
            cereals,
            soils,
            previous_crops,
            fertilizers,
            columns,
            starts,
            mornings,
            works,
            out[member:after],
            no_days,
            no_nitrate,
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
    columns, mornings, works = np.empty(1, COLUMN), np.empty(1, MORNING), np.empty(1, WORK)
    no_days = np.empty(0, DAY)
    for group in range(spans.shape[0]):
        one = slice(group, group + 1)
        stands = slice(first_stand[group], first_stand[group + 1])
        ends = end_days[first_end[group] : first_end[group + 1]]
        members = first_stand[group + 1] - first_stand[group]
        starts = np.zeros(1, FIELD)
        lay_out(soils[one], cereals[one], bottoms[group, : layers[group]], columns)
        first_morning(soils[one], previous_crops[one], columns, starts)
        grow_season(
            drivers[group],
            spans[group, 0],
            spans[group, 1],
            np.arange(members),
            sow_days[stands],
            seedings[stands],
            dressing_days[stands],
            dressing_amounts[stands],
            np.full(ends.size, BY_DATE),
            ends,
            np.full(ends.size, np.nan),
            cereals[one],
            soils[one],
            previous_crops[one],
            fertilizers[one],
            columns,
            starts,
            mornings,
            works,
            out[first_out[group] : first_out[group + 1]].reshape(members, ends.size),
            no_days,
            np.empty((0, layers[group])),
        )
