"""The loop over the days of a season and over the plans that are followed through it.

What is done in a day stands in `simulator.season.diary`. All plans of a season start from the
same field. As long as two do the same they have the same field, so only one of them is run, the
leader; on the day on which a plan does something else it takes a copy of its leader's field and
goes its own way.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator.process.compiled import compiled
from simulator.process.development import zadoks_stage
from simulator.process.nitrogen import shoot_nitrogen
from simulator.season.diary import MORNING, WORK, in_the_morning, live_a_day
from simulator.season.drivers import SNOW_WATER
from simulator.season.field import CARBON, COLUMN, FIELD, first_morning, lay_out

Array = np.ndarray[Any, Any]

# What is kept of a day: name, unit, meaning. Sums run from the first day of the season
# (1 September, or the record's first) unless it says from sowing.
RECORD = (
    ("biomass_kg_ha", "kg/ha", "dry matter of living shoots"),
    ("nitrogen_uptake_kg_ha", "kg/ha", "nitrogen in living shoots"),
    ("nitrogen_percent", "percent", "nitrogen concentration of shoots"),
    ("carbon_to_nitrogen", "1", "carbon to nitrogen ratio of shoots"),
    ("nitrate_leached_kg_ha", "kg/ha", "nitrate nitrogen leached below the soil column"),
    ("drainage_mm", "mm", "drainage below the soil column"),
    ("runoff_mm", "mm", "runoff"),
    ("rain_mm", "mm", "rain and snow"),
    ("thermal_time_degC_d", "degC d", "thermal time above 0 degC from sowing"),
    ("growth_stage_zadoks", "1", "growth stage, Zadoks"),
    ("leaf_area_index", "1", "green leaf area index"),
    ("stand_alive", "1", "1 while the stand lives"),
    ("root_biomass_kg_ha", "kg/ha", "dry matter of living roots"),
    ("killed_biomass_kg_ha", "kg/ha", "dry matter of shoots and roots killed by frost"),
    ("plants_m2", "m-2", "living plants"),
    ("shoots_m2", "m-2", "living shoots"),
    ("root_nitrogen_kg_ha", "kg/ha", "nitrogen in living roots"),
    ("soil_nitrate_kg_ha", "kg/ha", "nitrate nitrogen in the soil column"),
    ("soil_ammonium_kg_ha", "kg/ha", "ammonium and urea nitrogen in the soil column"),
    ("soil_water_mm", "mm", "water in the soil column"),
    ("snow_water_mm", "mm", "water in the snow"),
    ("evaporation_mm", "mm", "evaporation from soil"),
    ("transpiration_mm", "mm", "transpiration"),
    ("mineralised_kg_ha", "kg/ha", "nitrogen set free by organic matter and old residue, net"),
    ("denitrified_kg_ha", "kg/ha", "nitrogen denitrified"),
    ("volatilised_kg_ha", "kg/ha", "nitrogen lost as ammonia"),
    ("fertilizer_kg_ha", "kg/ha", "fertilizer nitrogen applied so far"),
    ("hardiness_degC", "degC", "temperature that kills half the stand"),
    ("root_depth_cm", "cm", "depth of roots"),
    ("water_stress", "1", "growth allowed by soil water, 1 is no stress"),
    ("leaf_nitrogen_g_m2", "g m-2", "nitrogen in green leaves"),
    ("soil_water_start_mm", "mm", "water in the soil column on the first day"),
    ("mineral_nitrogen_start_kg_ha", "kg/ha", "nitrate and ammonium nitrogen on the first day"),
    ("litter_nitrogen_kg_ha", "kg/ha", "organic fertilizer nitrogen not yet set free"),
    ("seedling_kg_ha", "kg/ha", "dry matter of seedlings, from the seed"),
    ("seedling_nitrogen_kg_ha", "kg/ha", "nitrogen of seedlings, from the seed"),
    ("growth_kg_ha", "kg/ha", "dry matter grown"),
    ("killed_nitrogen_kg_ha", "kg/ha", "nitrogen in what frost killed"),
    ("water_balance_error_mm", "mm", "water that the balance fails to find"),
    ("nitrogen_balance_error_kg_ha", "kg/ha", "nitrogen that the balance fails to find"),
    ("dry_matter_balance_error_kg_ha", "kg/ha", "dry matter that the balance fails to find"),
    ("season_day", "d", "days since 1 July"),
)  # fmt: skip
FIELDS = tuple(name for name, _, _ in RECORD)
DAY = np.dtype([(name, np.float64) for name in FIELDS])

BY_DATE, BY_STAGE, BY_BIOMASS = 0, 1, 2  # kinds of end


@compiled
def growth_stage(field: Any) -> float:
    """Growth stage of the stand, Zadoks: 0 before sowing, 9 at emergence.

    Parameters
    ----------
    field : record of `simulator.season.field.FIELD`
    """
    if field.emerged:
        per_plant = field.shoots / field.plants if field.plants > 0.0 else 1.0
        return zadoks_stage(field.development, field.leaves, per_plant)
    return float(9.0 * field.germination)


@compiled
def is_reached(day: int, field: Any, end_kind: int, end_day: int, end_value: float) -> bool:
    """Say whether an end is reached today.

    Parameters
    ----------
    day : int
        Season day.
    field : record of `simulator.season.field.FIELD`
    end_kind, end_day, end_value
        `BY_DATE` with its season day; `BY_STAGE` or `BY_BIOMASS` with the value to reach.
    """
    if end_kind == BY_DATE:
        return day == end_day
    if end_kind == BY_STAGE:
        return bool(field.alive and growth_stage(field) >= end_value)
    return bool(field.shoot >= end_value)


@compiled
def write_down(day: int, morning: Any, cereal: Any, column: Any, field: Any, record: Any) -> None:
    """Write the day's record.

    Parameters
    ----------
    day : int
        Season day.
    morning : record of `simulator.season.diary.MORNING`
    cereal : record
        Parameter set.
    column : record of `simulator.season.field.COLUMN`
    field : record of `simulator.season.field.FIELD`
    record : record of `DAY`
        Filled.
    """
    layers = column.layers
    in_shoots = shoot_nitrogen(field.nitrogen, field.shoot, field.root, cereal.root_nitrogen_ratio)
    record.biomass_kg_ha = field.shoot
    record.nitrogen_uptake_kg_ha = in_shoots
    record.nitrogen_percent = 100.0 * in_shoots / field.shoot if field.shoot > 0.0 else np.nan
    record.carbon_to_nitrogen = CARBON * field.shoot / in_shoots if in_shoots > 0.0 else np.nan
    record.nitrate_leached_kg_ha = field.leached
    record.drainage_mm = field.drainage
    record.runoff_mm = field.runoff
    record.rain_mm = field.precipitation
    record.thermal_time_degC_d = field.thermal_time
    record.growth_stage_zadoks = growth_stage(field)
    record.leaf_area_index = field.leaf_area
    record.stand_alive = 1.0 if field.emerged and field.alive else 0.0
    record.root_biomass_kg_ha = field.root
    record.killed_biomass_kg_ha = field.killed
    record.plants_m2 = field.plants
    record.shoots_m2 = field.shoots
    record.root_nitrogen_kg_ha = field.nitrogen - in_shoots
    record.soil_nitrate_kg_ha = field.nitrate[:layers].sum()
    record.soil_ammonium_kg_ha = field.ammonium[:layers].sum() + field.urea
    record.soil_water_mm = field.water[:layers].sum()
    record.snow_water_mm = morning.weather[SNOW_WATER]
    record.evaporation_mm = field.evaporation
    record.transpiration_mm = field.transpiration
    record.mineralised_kg_ha = field.mineralised
    record.denitrified_kg_ha = field.denitrified
    record.volatilised_kg_ha = field.volatilised
    record.fertilizer_kg_ha = field.applied
    record.hardiness_degC = field.lt50
    record.root_depth_cm = field.root_depth
    record.water_stress = field.stress
    record.leaf_nitrogen_g_m2 = field.leaf_nitrogen
    record.soil_water_start_mm = field.water_start
    record.mineral_nitrogen_start_kg_ha = field.nitrogen_start
    record.litter_nitrogen_kg_ha = field.litter
    record.seedling_kg_ha = field.seedling
    record.seedling_nitrogen_kg_ha = field.seedling_nitrogen
    record.growth_kg_ha = field.grown
    record.killed_nitrogen_kg_ha = field.killed_nitrogen
    record.water_balance_error_mm = (
        (field.water_start + field.precipitation)
        - (record.soil_water_mm + record.snow_water_mm)
        - (field.runoff + field.drainage + field.evaporation + field.transpiration)
    )
    record.nitrogen_balance_error_kg_ha = (
        (field.nitrogen_start + field.applied + field.mineralised + field.seedling_nitrogen)
        - (record.soil_nitrate_kg_ha + record.soil_ammonium_kg_ha + field.litter)
        - (field.nitrogen + field.killed_nitrogen)
        - (field.leached + field.denitrified + field.volatilised)
    )
    record.dry_matter_balance_error_kg_ha = (
        field.seedling + field.grown - (field.shoot + field.root + field.killed)
    )
    record.season_day = day


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
                day, plans[member], plans[other], sow_days, seedings, dressing_days,
                dressing_amounts,
            ):  # fmt: skip
                leader[member] = other
                break
        if leader[member] == member:
            parted_from[member] = before
            leaders[leading] = member
            leading += 1
    return leading


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
    columns : structured array (1,) of `simulator.season.field.COLUMN`
    starts : structured array (1,) of `simulator.season.field.FIELD`
        The field on the first morning.
    mornings, works : structured array (1,) of `MORNING` and `WORK`
        Work space.
    ends : structured array (member, end) of `DAY`
        Filled; left as it is where an end is not reached.
    days : structured array (day,) of `DAY`, or (0,)
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

    for day in range(first_day, last_day + 1):
        if deciding[day]:
            already = leading
            leading = part_ways(
                day, plans, sow_days, seedings, dressing_days, dressing_amounts,
                leader, parted_from, leaders, leading,
            )  # fmt: skip
            for at in range(already, leading):
                member, before = leaders[at], parted_from[leaders[at]]
                fields[member] = fields[before]
                waiting[member] = waiting[before]
                to_come[member] = to_come[before]
                ends[member] = ends[before]

        in_the_morning(drivers[day], soil, crop, column, morning)
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
                morning, sow_days[plan] == day, seedings[plan], dressing,
                cereal, soil, crop, fertilizer, column, field, work,
            )  # fmt: skip
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
        From `simulator.season.drivers`; day 0 is 1 July.
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
    ends : structured array (end,) of `DAY`
        Filled with the record of the day each end is reached; left as it is otherwise.
    days : structured array (day,) of `DAY`, or (0,)
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
        drivers, first_day, last_day, np.zeros(1, np.int64), np.array([sow_day]),
        np.array([seeding]), dressing_days.reshape(1, -1), dressing_amounts.reshape(1, -1),
        end_kinds, end_days, end_values, cereals, soils, previous_crops, fertilizers, columns,
        starts, mornings, works, ends.reshape(1, -1), days, nitrate_days,
    )  # fmt: skip


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
    out : structured array (member, end) of `DAY`
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
            drivers[season], spans[season, 0], spans[season, 1], plans[member:after],
            sow_days[season], seedings, dressing_days[season], dressing_amounts,
            end_kinds, end_days[season], end_values, cereals, soils, previous_crops,
            fertilizers, columns, starts, mornings, works, out[member:after], no_days, no_nitrate,
        )  # fmt: skip
        member = after
