"""What one day does with the stand: emergence, stages, growth, leaves, uptake, frost, water drawn.

Which process, in which order; no equation of its own. `simulator.season.day.order` is the day.
"""

from __future__ import annotations

from typing import Any

from simulator.process.canopy import (
    allowed_by_nitrogen,
    grow_old,
    plants_emerging,
    potential_growth,
    ripening_loss,
    root_front,
    root_share,
)
from simulator.process.compiled import compiled
from simulator.process.development import (
    GERMINATION,
    LAST_LEAF,
    seed_zone_moisture,
    vernalization_response,
)
from simulator.process.frost import hardiest_by_stage, hardiness, survival
from simulator.process.nitrogen import (
    AMMONIUM_UPTAKE,
    demand,
    nutrition_index,
    share_above,
    shoot_nitrogen,
    uptake_share,
)
from simulator.process.water import (
    aeration,
    basal_crop_coefficient,
    depletion_fraction,
    water_stress,
)
from simulator.season.day.drivers import (
    CROWN_MINIMUM,
    GROWTH,
    PROGRESS,
    RADIATION,
    SNOW_DEPTH,
    SOFTENING,
    SOIL_TEMPERATURE,
    THERMAL_TIME,
    TMIN,
    VERNALIZATION,
    WARMTH,
)
from simulator.season.day.leaves import let_leaves_fall, lose_leaves, unfold_leaves
from simulator.season.day.seedbed import (
    dry_out,
    flood_and_crust,
    seedbed_water,
    share_that_comes_up,
)
from simulator.season.day.state import AGES

LEFT_IN_FROZEN_LEAVES = 1.0  # of the shoots' nitrogen concentration: no time to draw it back
UNDER_SNOW = 5.0  # cm of snow under which nothing grows and leaves do not freeze
ALIVE = 0.05  # a stand thinner than this share of itself is dead


@compiled
def sow_and_emerge(
    today: Any,
    sows: bool,
    seeding: float,
    cereal: Any,
    soil: Any,
    column: Any,
    field: Any,
    work: Any,
) -> None:
    """Sow, let seed swell and sprout, and stand the seedlings in the field.

    Parameters
    ----------
    today : array (columns,)
        The day's row of `simulator.season.day.drivers`.
    sows : bool
        Whether today is the day.
    seeding : float
        [kg/ha].
    cereal, soil : record
        Parameter sets.
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
        The field is changed.
    work : record of `simulator.season.day.order.WORK`
    """
    if sows:
        field.sown = True
        field.root_depth = cereal.sowing_depth
    if field.sown:
        field.thermal_time += today[THERMAL_TIME]
    if field.sown and field.alive and not field.emerged:
        water = seedbed_water(column, field)
        moist = seed_zone_moisture(water, column.surface_dry, column.surface_full)
        flood_and_crust(today, cereal, soil, column, field, work)
        speed = 1.0
        if field.germination * column.emergence_at < GERMINATION:
            speed = moist
            dry_out(today, water, moist, cereal, column, field)
        field.germination += today[THERMAL_TIME] * speed / column.emergence_at
        come_up = 0.0
        if field.germination >= 1.0:
            come_up = share_that_comes_up(moist, soil, field)
            field.alive = come_up >= ALIVE
        if come_up >= ALIVE:
            field.emerged = True
            field.plants = plants_emerging(
                seeding,
                cereal.thousand_seed_mass,
                cereal.establishment * come_up,
                cereal.most_plants,
            )
            field.plants_emerged = field.plants
            field.shoots = field.plants
            field.leaf_area = field.plants * cereal.seedling_leaf_area * 1e-4
            field.leaf_ages[0] = field.leaf_area
            field.seedling = field.plants * cereal.thousand_seed_mass * 0.01 * cereal.seed_reserve
            field.seedling_nitrogen = field.seedling * cereal.seed_nitrogen
            field.shoot = field.seedling * (1.0 - cereal.root_share_start)
            field.leaf = field.shoot
            field.root = field.seedling * cereal.root_share_start
            field.nitrogen = field.seedling_nitrogen


@compiled
def reach(cereal: Any, soil: Any, column: Any, field: Any, work: Any) -> None:
    """Find the water and the air that roots can have, and how well fed with nitrogen shoots are.

    Parameters
    ----------
    cereal, soil : record
        Parameter sets.
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
        The field's stress and nutrition are changed.
    work : record of `simulator.season.day.order.WORK`
        Filled: ``reached``, ``rooted``, ``rooted_water``, ``air``, ``crop_coefficient``.
    """
    rooted, water, filled = work.rooted, field.water, work.filled
    work.crop_coefficient = basal_crop_coefficient(
        field.leaf_area, cereal.smallest_crop_coefficient, cereal.full_crop_coefficient
    )
    field.nutrition = nutrition_index(
        shoot_nitrogen(field.nitrogen, field.shoot, field.root, cereal.root_nitrogen_ratio),
        field.shoot,
    )
    available = 0.0
    pores = 0.0
    rooted_water = 0.0
    layer = 0
    while layer < column.layers and column.tops[layer] < field.root_depth:
        rooted[layer] = share_above(field.root_depth, column.tops[layer], column.bottoms[layer])
        available += rooted[layer] * (column.field_capacity[layer] - column.wilting_point[layer])
        rooted_water += rooted[layer] * max(water[layer] - column.wilting_point[layer], 0.0)
        pores += rooted[layer] * (column.saturation[layer] - filled[layer])
        layer += 1
    work.reached = layer
    work.rooted_water = rooted_water
    work.air = aeration(0.1 * pores / field.root_depth, soil.least_air)
    field.stress = water_stress(
        available - rooted_water,
        available,
        depletion_fraction(cereal.depletion_fraction, work.crop_coefficient * work.reference),
    )


@compiled
def develop(today: Any, cereal: Any, column: Any, field: Any) -> None:
    """Take the stand on through its stages, and its roots down.

    Parameters
    ----------
    today : array (columns,)
        The day's row of `simulator.season.day.drivers`.
    cereal : record
        Parameter set.
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
        The field is changed.
    """
    field.vernal_days += today[VERNALIZATION]
    if field.development < 1.0:
        field.development += (
            cereal.vegetative_rate
            * today[PROGRESS]
            * vernalization_response(field.vernal_days, cereal.vernal_half)
        )
    elif field.development < 2.0:
        field.development += cereal.elongation_rate * today[PROGRESS]
    else:
        field.development += cereal.ripening_rate * today[WARMTH]
    field.root_depth = min(
        field.root_depth + root_front(max(today[SOIL_TEMPERATURE], 0.0), cereal.root_speed),
        column.rootable,
    )


@compiled
def put_on_growth(today: Any, cereal: Any, field: Any, work: Any) -> None:
    """Turn light into dry matter, and share it between roots, shoots and leaves.

    Parameters
    ----------
    today : array (columns,)
        The day's row of `simulator.season.day.drivers`.
    cereal : record
        Parameter set.
    field : record of `simulator.season.day.state.FIELD`
        Changed.
    work : record of `simulator.season.day.order.WORK`
    """
    gain = (
        potential_growth(today[RADIATION], work.intercepted, cereal.radiation_use_efficiency)
        * today[GROWTH]
        * min(field.stress, work.air)
        * allowed_by_nitrogen(field.nutrition, cereal.growth_index_least, cereal.growth_index_full)
    )
    to_roots = root_share(field.development, cereal.root_share_start, cereal.root_share_end)
    field.grown += gain
    field.root += gain * to_roots
    field.shoot += gain * (1.0 - to_roots)
    if field.development < LAST_LEAF:
        unfold_leaves(today, gain * (1.0 - to_roots), cereal, field, work)
    life = cereal.leaf_life if field.development < 1.0 else cereal.last_leaf_life
    aged = grow_old(field.leaf_ages, today[THERMAL_TIME], life)
    let_leaves_fall(aged, cereal.left_in_old_leaves, cereal, field)
    ripe = ripening_loss(field.leaf_area, field.development, cereal.ripening_rate * today[WARMTH])
    lose_leaves(ripe, cereal.left_in_old_leaves, cereal, field)


@compiled
def take_up_nitrogen(cereal: Any, column: Any, field: Any, work: Any) -> None:
    """Take nitrate and ammonium from the layers that roots have entered, up to what is wanted.

    Parameters
    ----------
    cereal : record
        Parameter set.
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
        The field is changed.
    work : record of `simulator.season.day.order.WORK`
    """
    water, nitrate, ammonium = field.water, field.nitrate, field.ammonium
    wanted, rooted = work.wanted, work.rooted
    supply = 0.0
    for layer in range(work.reached):
        wanted[layer] = uptake_share(
            cereal.uptake_rate,
            field.root,
            cereal.root_mass_half,
            rooted[layer] * column.density[layer],
            water[layer],
            column.wilting_point[layer],
            column.field_capacity[layer],
        )
        supply += wanted[layer] * (nitrate[layer] + AMMONIUM_UPTAKE * ammonium[layer])
    if supply > 0.0:
        taken = min(
            demand(
                field.shoot,
                field.root,
                field.nitrogen,
                cereal.luxury,
                cereal.richest,
                cereal.root_nitrogen_ratio,
                cereal.most_uptake,
            )
            / supply,
            1.0,
        )
        field.nitrogen += taken * supply
        for layer in range(work.reached):
            nitrate[layer] -= taken * wanted[layer] * nitrate[layer]
            ammonium[layer] -= taken * wanted[layer] * AMMONIUM_UPTAKE * ammonium[layer]


@compiled
def freeze(today: Any, cereal: Any, field: Any) -> None:
    """Harden or soften the stand, and kill what the night was too cold for.

    Parameters
    ----------
    today : array (columns,)
        The day's row of `simulator.season.day.drivers`.
    cereal : record
        Parameter set.
    field : record of `simulator.season.day.state.FIELD`
        Changed.
    """
    field.lt50 = hardiness(
        field.lt50,
        today[SOIL_TEMPERATURE],
        hardiest_by_stage(cereal.hardiest, field.development),
        today[SOFTENING],
    )
    live = survival(today[CROWN_MINIMUM], field.lt50) if today[CROWN_MINIMUM] < 0.0 else 1.0
    if live < field.surviving:
        thin_out(live / field.surviving, field)
        field.surviving = live
    # leaves are in the air, where the night is colder
    if today[SNOW_DEPTH] < UNDER_SNOW and today[TMIN] < 0.0:
        live = survival(today[TMIN], min(field.lt50, cereal.tender_leaf))
        if live < field.leaves_spared:  # leaves that lived through a night like it live again
            killed = (1.0 - live / field.leaves_spared) * field.leaf_area
            lose_leaves(killed, LEFT_IN_FROZEN_LEAVES, cereal, field)
            field.leaves_spared = live
    if field.surviving < ALIVE:
        field.alive = False
        thin_out(0.0, field)


@compiled
def thin_out(share: float, field: Any) -> None:
    """Let a share of the stand live and the rest be killed.

    Parameters
    ----------
    share : float
        0 to 1.
    field : record of `simulator.season.day.state.FIELD`
        Changed.
    """
    field.killed += (1.0 - share) * (field.shoot + field.root)
    field.killed_nitrogen += (1.0 - share) * field.nitrogen
    field.plants *= share
    field.shoots *= share
    field.leaf_area *= share
    for age in range(AGES):
        field.leaf_ages[age] *= share
    field.leaf *= share
    field.shoot *= share
    field.root *= share
    field.nitrogen *= share


@compiled
def draw_water(column: Any, field: Any, work: Any) -> None:
    """Draw what the stand transpires from the layers that roots have entered.

    Parameters
    ----------
    column, field : record of `simulator.season.day.state.COLUMN` and `FIELD`
        The field is changed.
    work : record of `simulator.season.day.order.WORK`
    """
    if work.rooted_water <= 0.0:
        return
    water, rooted = field.water, work.rooted
    drawn = min(field.stress * work.crop_coefficient * work.reference, work.rooted_water)
    for layer in range(work.reached):
        water[layer] -= (
            drawn
            * rooted[layer]
            * max(water[layer] - column.wilting_point[layer], 0.0)
            / work.rooted_water
        )
    field.transpiration += drawn
