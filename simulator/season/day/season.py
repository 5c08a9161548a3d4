"""One season of plans, which share one field until they differ.

What is done in a day stands in `simulator.season.day.order`, what is kept of it in
`simulator.season.day.record`, and which plans still share a field in
`simulator.season.day.branching`.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from simulator.process.compiled import compiled, compiled_into_caller
from simulator.season.day.branching import Plans, branch_plans, decision_days, nitrogen_on
from simulator.season.day.calendar import BY_DATE, BY_STAGE
from simulator.season.day.order import MORNING, WORK, prepare_day, run_day
from simulator.season.day.record import growth_stage, write_down
from simulator.season.day.soil import soil_test_day
from simulator.season.day.state import COLUMN, FIELD, fill_columns, first_morning

Array = np.ndarray[Any, Any]


class Ends(NamedTuple):
    """When the plans of a season are ended."""

    kinds: Array  # (end,) `BY_DATE`, `BY_STAGE` or `BY_BIOMASS`
    days: Array  # (end,)
    values: Array  # (end,)


class Sets(NamedTuple):
    """Parameter sets of a field, each a structured array (1,)."""

    cereals: Array
    soils: Array
    previous_crops: Array
    fertilizers: Array


class FieldArrays(NamedTuple):
    """Arrays made once for many seasons on one field, each a structured array (1,)."""

    columns: Array  # of `simulator.season.day.state.COLUMN`
    starts: Array  # of `simulator.season.day.state.FIELD`, as on the first morning
    mornings: Array  # of `simulator.season.day.order.MORNING`, work space
    works: Array  # of `simulator.season.day.order.WORK`, work space


class Kept(NamedTuple):
    """What is kept of a season."""

    ends: Array  # (member, end) of `simulator.season.day.record.DAY`; left where not reached
    days: Array  # (day,) of the same, of the first member up to its last end, or (0,)
    # (day, 2, layer) nitrate nitrogen [kg/ha] and water [mm] of the first member
    layer_days: Array


@compiled
def new_field_arrays(sets: Sets, bottoms: Array) -> FieldArrays:
    """Make the arrays of a field, as the previous crop left it.

    Parameters
    ----------
    sets : Sets
    bottoms : array (layer,)
        Depths of the layers' bottoms [cm].
    """
    columns, starts = np.empty(1, COLUMN), np.zeros(1, FIELD)
    fill_columns(sets.soils, sets.cereals, bottoms, columns)
    first_morning(sets.soils, sets.previous_crops, columns, starts)
    return FieldArrays(columns, starts, np.empty(1, MORNING), np.empty(1, WORK))


@compiled
def is_reached(day: int, field: Any, end: int, ends: Ends) -> bool:
    """Say whether an end is reached today.

    Parameters
    ----------
    day : int
        Season day.
    field : record of `simulator.season.day.state.FIELD`
    end : int
        Which of the ends.
    ends : Ends
    """
    kind = ends.kinds[end]
    if kind == BY_DATE:
        return bool(day == ends.days[end])
    if kind == BY_STAGE:
        return bool(field.alive and growth_stage(field) >= ends.values[end])
    return bool(field.shoot >= ends.values[end])


@compiled_into_caller
def copy_branch(
    member: int, before: int, fields: Array, ended: Array, reached: Array, kept: Kept
) -> None:
    """Copy a field and the ends it has reached to a member that branches from another.

    Parameters
    ----------
    member, before : int
    fields : structured array (member,) of `simulator.season.day.state.FIELD`
        Changed.
    ended : int array (member,)
        How many ends each has reached, changed.
    reached : bool array (member, end)
        Which, changed.
    kept : Kept
        Its ends are changed.
    """
    fields[member] = fields[before]
    ended[member] = ended[before]
    for end in range(reached.shape[1]):  # a whole row at once takes seconds to compile
        reached[member, end] = reached[before, end]
        kept.ends[member, end] = kept.ends[before, end]


@compiled
def record_day(day: int, morning: Any, cereal: Any, column: Any, field: Any, kept: Kept) -> None:
    """Keep a day of the first member, where there is room for it.

    Parameters
    ----------
    day, morning, cereal, column, field
        See `simulator.season.day.record.write_down`.
    kept : Kept
        Its days are changed.
    """
    if kept.days.size == 0:
        return
    write_down(day, morning, cereal, column, field, kept.days[day])
    for layer in range(column.layers):
        kept.layer_days[day, 0, layer] = field.nitrate[layer]
        kept.layer_days[day, 1, layer] = field.water[layer]


@compiled_into_caller
def grow_season(
    drivers: Array,
    first_day: int,
    last_day: int,
    plan_of: Array,
    plans: Plans,
    ends: Ends,
    sets: Sets,
    arrays: FieldArrays,
    kept: Kept,
) -> None:
    """Run one season of some plans, which share one field until they differ.

    Parameters
    ----------
    drivers : array (day, columns)
    first_day, last_day : int
        Season days; the soil runs from ``first_day`` on.
    plan_of : int array (member,)
        The plan of each member.
    plans, ends, sets, arrays
        See their classes.
    kept : Kept
        Filled.
    """
    cereal, soil = sets.cereals[0], sets.soils[0]
    crop, fertilizer = sets.previous_crops[0], sets.fertilizers[0]
    column, morning, work = arrays.columns[0], arrays.mornings[0], arrays.works[0]
    members, end_count = plan_of.size, ends.kinds.size
    counters = np.zeros((4, members), np.int64)
    leader, branched_from, leaders, ended = counters[0], counters[1], counters[2], counters[3]
    reached = np.zeros((members, end_count), np.bool_)
    fields = np.empty(members, FIELD)
    fields[0] = arrays.starts[0]
    leading = min(members, 1)  # at first all follow the first
    deciding = decision_days(first_day, last_day, plan_of, plans)
    test_day = soil_test_day(first_day, crop)

    for day in range(first_day, last_day + 1):
        if deciding[day]:
            already = leading
            leading = branch_plans(day, plan_of, plans, leader, branched_from, leaders, leading)
            for at in range(already, leading):
                copy_branch(leaders[at], branched_from[leaders[at]], fields, ended, reached, kept)

        prepare_day(drivers[day], soil, crop, column, morning)
        morning.tested = day == test_day
        growing = False
        for at in range(leading):
            member = leaders[at]
            if ended[member] == end_count:
                continue
            plan, field = plan_of[member], fields[member]
            dressing = nitrogen_on(day, plan, plans) if deciding[day] else 0.0
            sowing = plans.sow_days[plan] == day, plans.seedings[plan]
            grown = cereal, soil, crop, fertilizer
            run_day(morning, *sowing, dressing, *grown, column, field, work)
            for end in range(end_count):
                if not reached[member, end] and is_reached(day, field, end, ends):
                    reached[member, end] = True
                    ended[member] += 1
                    write_down(day, morning, cereal, column, field, kept.ends[member, end])
            growing = growing or ended[member] < end_count
            if member == 0:
                record_day(day, morning, cereal, column, field, kept)
        if not growing:
            break
    for member in range(members):
        for end in range(end_count):
            kept.ends[member, end] = kept.ends[leader[member], end]
    # A record does not keep alive the array that it lies in. Where nothing used `arrays` after the
    # records were taken from it, it was freed at once, and the loop wrote into memory that had been
    # given to others meanwhile: so something of it is used when all is done.
    arrays.works[0].reached = 0
