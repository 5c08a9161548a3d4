"""The day loop in NumPy: arrays over members, a Python loop over days.

Arrays of layers have shape (layer, member). Where a member's day skips a step of
simulator/season/day/loop.py, the step is worked out for all and kept where it applies.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from loop_members import Members
from scipy.special import ndtr

from simulator.process.canopy import TILLERS
from simulator.process.development import ANTHESIS, GERMINATION, LAST_LEAF, RIPE
from simulator.process.establishment import (
    AT_FIELD_CAPACITY,
    AT_WILTING_POINT,
    GAS_CONSTANT,
    MOLAR_VOLUME,
    SEED_COOLING,
    SEED_COOLING_SQUARE,
    SORPTION,
    SORPTION_POWER,
    SORPTION_SHIFT,
    WETTEST_SEED,
)
from simulator.process.frost import TENDER
from simulator.process.nitrogen import TOPSOIL
from simulator.process.water import SPREAD, WETTEST
from simulator.season.day.calendar import BY_DATE, BY_STAGE
from simulator.season.day.drivers import (
    CROWN_MINIMUM,
    GROUND_WATER_IN,
    GROWTH,
    IRRIGATION,
    LEAF_WARMTH,
    MICROBES,
    PRECIPITATION,
    PROGRESS,
    RADIATION,
    REFERENCE,
    SNOW_DEPTH,
    SNOW_WATER,
    SOIL_TEMPERATURE,
    THERMAL_TIME,
    TMEAN,
    TMIN,
    VERNALIZATION,
    WARMTH,
)
from simulator.season.day.leaves import LEAVES_AT_RISK
from simulator.season.day.order import RESIDUE_AREA
from simulator.season.day.record import FIELDS
from simulator.season.day.stand import ALIVE, LEFT_IN_FROZEN_LEAVES
from simulator.season.day.state import AGES, AIR_DRY, CARBON, ORGANIC_NITROGEN, SURFACE

Array = np.ndarray[Any, Any]
ZADOKS = (  # development and the stage there; straight lines between
    (1.0, 1.12, 1.25, 1.45, 1.58, 1.72, 1.86, 2.0, 2.12, 2.25, 2.70, 3.0),
    (30.0, 31.0, 32.0, 37.0, 39.0, 45.0, 55.0, 61.0, 69.0, 73.0, 85.0, 91.0),
)


def grown(members: Members) -> Array:
    """The NumPy loop's answer: members whose seasons have the same days go together."""
    out = members.room()
    spans = members.spans[members.seasons]
    for span in np.unique(spans, axis=0):
        together = np.flatnonzero((spans == span).all(axis=1))
        with np.errstate(divide="ignore", invalid="ignore"):
            _grow(members, together, int(span[0]), int(span[1]), out)
    return out


def first_order(amount: Array, rate: float, factor: Array) -> Array:
    return amount * (1.0 - np.exp(-rate * factor))


def share(value: Array) -> Array:
    """A value held between 0 and 1."""
    return np.clip(value, 0.0, 1.0)


def percolate(
    water: Array, entering: Array, field_capacity: Array, saturation: Array, drain_rate: float
) -> Array:
    """Drain the column, in place; return what leaves each layer."""
    flow = np.empty_like(water)
    for layer in range(len(water)):
        water[layer] += entering
        passing = np.maximum(water[layer] - saturation[layer], 0.0)
        entering = passing + drain_rate * np.maximum(
            water[layer] - passing - field_capacity[layer], 0.0
        )
        water[layer] -= entering
        flow[layer] = entering
    return flow


def leach(nitrate: Array, flow: Array, volume: Array) -> Array:
    """Uniformization, each member at its own fastest rate; ``nitrate`` is changed in place."""
    left = np.zeros(nitrate.shape[1])
    wet = np.flatnonzero(flow.any(axis=0))
    rate = flow[:, wet] / volume
    parts = 1 + (rate.max(axis=0, initial=0.0) / 50.0).astype(int)
    for part in range(parts.max(initial=0)):
        going = part < parts
        here, now = wet[going], rate[:, going] / parts[going]
        fastest = now.max(axis=0)
        moving = nitrate[:, here]
        chance = np.exp(-fastest)
        reached = chance.copy()
        kept = chance * moving
        out = np.zeros(here.size)
        out_kept = np.zeros(here.size)
        for step in range(1, 1001):
            unfinished = reached < 1.0 - 1e-12
            if not unfinished.any():
                break
            moves = np.where(unfinished, moving * (now / fastest), 0.0)
            moving -= moves
            moving[1:] += moves[:-1]
            out += moves[-1]
            chance = np.where(unfinished, chance * (fastest / step), 0.0)
            reached += chance
            kept += chance * moving
            out_kept += chance * out
        rest = np.maximum(1.0 - reached, 0.0)
        nitrate[:, here] = kept + rest * moving
        left[here] += out_kept + rest * out
    return left


def zadoks_stage(development: Array, leaves: Array, shoots_per_plant: Array) -> Array:
    early = np.where(
        leaves < 3.0,
        10.0 + leaves,
        np.minimum(20.0 + np.maximum(shoots_per_plant - 1.0, 0.0), 29.0),
    )
    return np.where(development < 1.0, early, np.interp(development, *ZADOKS))


def shoot_nitrogen(nitrogen: Array, shoot: Array, root: Array, root_ratio: float) -> Array:
    whole = shoot + root_ratio * root
    return np.where(whole > 0.0, nitrogen * shoot / whole, 0.0)


def survival(temperature: Array, lt50: Array) -> Array:
    return 1.0 / (1.0 + np.exp(-(temperature - lt50) / np.minimum(1.5, -0.25 * lt50)))


def seed_ageing(water: Array, dry: Array, full: Array, temperature: Array, cereal: Any) -> Array:
    """Probits of viability that seed loses in a day in soil with so much water."""
    warm = np.maximum(temperature, 0.0)
    power = np.log(AT_WILTING_POINT / AT_FIELD_CAPACITY) / np.log(full / dry)
    potential = AT_WILTING_POINT * (dry / np.maximum(water, 0.1 * dry)) ** power
    humidity = np.exp(1e6 * potential * MOLAR_VOLUME / GAS_CONSTANT / (warm + 273.15))
    dry_basis = -np.log(1.0 - humidity) / (SORPTION * (warm + SORPTION_SHIFT))
    dry_basis **= 1.0 / SORPTION_POWER
    moisture = np.minimum(100.0 * (1.0 - 100.0 / (100.0 + dry_basis)), WETTEST_SEED)
    life = cereal["seed_life"] - cereal["seed_life_wetness"] * np.log10(moisture)
    return 10.0 ** (SEED_COOLING * warm + SEED_COOLING_SQUARE * warm**2 - life)


def critical_concentration(shoot: Array) -> Array:
    tonnes = shoot * 1e-3
    return np.where(tonnes < 1.55, 0.044, 0.0535 * np.maximum(tonnes, 1.0) ** -0.442)


def demand(shoot: Array, root: Array, nitrogen: Array, cereal: Any) -> Array:
    whole = shoot + cereal["root_nitrogen_ratio"] * root
    held = np.minimum(cereal["luxury"] * critical_concentration(shoot), cereal["richest"]) * whole
    return np.where(shoot > 0.0, np.clip(held - nitrogen, 0.0, cereal["most_uptake"]), 0.0)


def let_leaves_fall(
    area: Array,
    left: float,
    cereal: Any,
    development: Array,
    leaf_area: Array,
    leaf: Array,
    shoot: Array,
    root: Array,
    nitrogen: Array,
    shed: Array,
    shed_nitrogen: Array,
) -> None:
    """Take an area of dead leaves off the stand, in place, and count what falls as shed."""
    fallen = np.where(area > 0.0, np.minimum(area / leaf_area, 1.0), 0.0)
    mass = fallen * np.where(development < 1.0, shoot, leaf)  # young shoots are but leaves
    in_shoots = shoot_nitrogen(nitrogen, shoot, root, cereal["root_nitrogen_ratio"])
    lost = np.where(area > 0.0, left * in_shoots * mass / shoot, 0.0)
    leaf_area -= fallen * leaf_area
    leaf -= fallen * leaf
    shoot -= mass
    shed += mass
    nitrogen -= lost
    shed_nitrogen += lost


def _grow(members: Members, together: Array, first_day: int, last_day: int, out: Array) -> None:
    cereal, soil = members.cereals[0], members.soils[0]
    crop, fertilizer = members.previous_crops[0], members.fertilizers[0]
    seasons, plans = members.seasons[together], members.plans[together]
    drivers = members.drivers[seasons].transpose(1, 2, 0)  # day, column, member
    sow_day = members.sow_days[seasons, plans]
    seeding = members.seedings[plans]
    dressing_days = members.dressing_days[seasons, plans].T
    dressing_amounts = members.dressing_amounts[plans].T
    end_days = members.end_days[seasons].T
    count = together.size

    # the column of soil
    bottoms = members.bottoms[:, None]
    tops = np.vstack([[[0.0]], bottoms[:-1]])
    thick = 10.0 * (bottoms - tops)  # mm
    field_capacity = thick * soil["field_capacity"]
    wilting_point = thick * soil["wilting_point"]
    saturation = thick * soil["saturation"]
    surface = share((SURFACE - tops) / (bottoms - tops))
    density = (cereal["root_shape"] ** tops - cereal["root_shape"] ** bottoms) / (
        -np.log(cereal["root_shape"]) * (bottoms - tops)
    )
    edges = np.vstack([tops, bottoms[-1]])
    organic_above = np.minimum(edges, TOPSOIL) + TOPSOIL * (
        1.0 - np.exp(-np.maximum(edges - TOPSOIL, 0.0) / TOPSOIL)
    )
    topsoil = np.diff(organic_above, axis=0) / (bottoms - tops)
    every = np.ones(count)
    organic = every * (
        100.0 * soil["organic_matter"] * topsoil * soil["bulk_density"] * thick * ORGANIC_NITROGEN
    )
    water = every * (wilting_point + crop["available_water"] * (field_capacity - wilting_point))
    nitrate = every * (crop["residual_nitrate"] * (bottoms - tops) / bottoms[-1])
    ammonium = np.zeros_like(nitrate)
    ammonium[0] = crop["residual_ammonium"]
    rootable = min(soil["rootable"], cereal["deepest_roots"], bottoms[-1, 0])
    surface_full = 10.0 * SURFACE * soil["field_capacity"]
    surface_dry = 10.0 * SURFACE * soil["wilting_point"]
    evaporable = surface_full - AIR_DRY * surface_dry
    retention = 25400.0 / soil["curve_number"] - 254.0
    emergence_at = GERMINATION + 50.0 * cereal["sowing_depth"] / 2.54

    residue_carbon = np.full(count, crop["residue"] * CARBON)
    sown, emerged, alive = (np.full(count, state) for state in (False, False, True))
    lt50, surviving, leaves_spared = np.full(count, TENDER), np.ones(count), np.ones(count)
    (
        urea,
        litter,
        germination,
        seed_age,
        flooded,
        flooded_beyond,
        crust,
        plants_emerged,
        thermal_time,
        development,
        vernal_days,
        leaves,
        plants,
        shoots,
        leaf_area,
        leaf,
        shoot,
        root,
        nitrogen,
        root_depth,
        killed,
        killed_nitrogen,
        shed,
        shed_nitrogen,
        seedling,
        seedling_nitrogen,
        grown_mass,
        precipitation,
        irrigation,
        runoff,
        drainage,
        evaporation,
        transpiration,
        leached,
        denitrified,
        volatilised,
        mineralised,
        applied,
    ) = np.zeros((38, count))
    by_crust = np.ones(count)
    leaf_ages = np.zeros((AGES, count))
    stand = (plants, shoots, leaf_area, leaf_ages, leaf, shoot, root, nitrogen)
    falling = (development, leaf_area, leaf, shoot, root, nitrogen, shed, shed_nitrogen)
    water_start = water.sum(axis=0)
    nitrogen_start = nitrate.sum(axis=0) + ammonium.sum(axis=0)
    waiting = np.ones((members.end_kinds.size, count), dtype=bool)

    for day in range(first_day, last_day + 1):
        today = drivers[day]
        microbes = today[MICROBES]

        # rain and snow, runoff
        precipitation += today[PRECIPITATION]
        irrigation += today[IRRIGATION]
        above = np.maximum(today[GROUND_WATER_IN] - 0.2 * retention, 0.0)
        ran_off = above * above / (above + retention)
        runoff += ran_off

        # fertilizer
        for dressing in range(len(dressing_days)):
            amount = np.where(dressing_days[dressing] == day, dressing_amounts[dressing], 0.0)
            applied += amount
            nitrate[0] += amount * fertilizer["nitrate"]
            ammonium[0] += amount * fertilizer["ammonium"]
            urea += amount * fertilizer["urea"]
            litter += amount * (
                1.0 - fertilizer["nitrate"] - fertilizer["ammonium"] - fertilizer["urea"]
            )
        moisture = share(
            (water - AIR_DRY * wilting_point) / (field_capacity - AIR_DRY * wilting_point)
        )
        lost = first_order(
            urea,
            fertilizer["volatilisation"],
            microbes * np.maximum(1.0 - today[GROUND_WATER_IN] / 10.0, 0.0),
        )
        urea -= lost
        volatilised += lost
        turned = first_order(urea, fertilizer["hydrolysis_rate"], microbes * moisture[0])
        urea -= turned
        freed = first_order(litter, fertilizer["organic_rate"], microbes * moisture[0])
        litter -= freed
        ammonium[0] += turned + freed

        # mineralisation, nitrification, and what the old residue gives or takes
        active = microbes * moisture
        freed = organic * soil["mineralisation_rate"] * active
        organic -= freed
        ammonium += freed
        turned = np.where(
            ammonium > 1e-9, first_order(ammonium, soil["nitrification_rate"], active), 0.0
        )
        ammonium -= turned
        nitrate += turned
        tied = first_order(nitrate, soil["immobilisation_rate"], active * topsoil)
        nitrate -= tied
        organic += tied
        mineralised += (freed - tied).sum(axis=0)
        decomposed = first_order(residue_carbon, crop["decay_rate"], active[0])
        net = decomposed * (1.0 / crop["carbon_to_nitrogen"] - (1.0 / 3.0) / 8.0)
        least = -0.5 * (ammonium[0] + nitrate[0])
        starved = net < least
        decomposed = np.where(starved, decomposed * (least / net), decomposed)
        net = np.where(starved, least, net)
        residue_carbon -= decomposed
        mineralised += net
        from_ammonium = np.minimum(ammonium[0], -net)  # below zero where it gives
        ammonium[0] -= from_ammonium
        nitrate[0] -= -net - from_ammonium

        # drainage and leaching
        flow = percolate(
            water,
            today[GROUND_WATER_IN] - ran_off,
            field_capacity,
            saturation,
            soil["drain_rate"],
        )
        drainage += flow[-1]
        leached += leach(nitrate, flow, field_capacity)
        filled = np.minimum(water + 0.5 * flow * np.minimum(thick / SPREAD, 1.0), saturation)
        wet = share(np.maximum((filled / saturation - 0.60) / 0.40, 0.0) ** 2)
        lost = first_order(nitrate, soil["denitrification_rate"], microbes * wet * topsoil)
        nitrate -= lost
        denitrified += lost.sum(axis=0)

        # sowing, emergence
        root_depth[day == sow_day] = cereal["sowing_depth"]
        sown |= day == sow_day
        thermal_time += np.where(sown, today[THERMAL_TIME], 0.0)
        in_soil = sown & alive & ~emerged
        covered = 1.0 - np.exp(-RESIDUE_AREA * residue_carbon / CARBON)
        in_seedbed = (surface * water).sum(axis=0)
        wetted = share((in_seedbed - surface_dry) / (0.4 * (surface_full - surface_dry)))
        pores = (surface * (saturation - filled)).sum(axis=0) / (10.0 * SURFACE)
        under = np.where(in_soil, share(1.0 - pores / soil["flooded_air"]), 0.0)
        too_long = np.maximum(flooded - cereal["flood_borne"], 0.0)
        flooded += under
        flooded_beyond += np.maximum(flooded - cereal["flood_borne"], 0.0) - too_long
        flooded[under <= 0.0] = 0.0
        by_flooding = np.exp(-cereal["flood_loss"] * flooded_beyond)
        hard = np.maximum(today[GROUND_WATER_IN] / soil["crust_rain"] - 1.0, 0.0)
        crust += np.where(in_soil, (1.0 - crust) * (1.0 - covered) * (1.0 - np.exp(-hard)), 0.0)
        asleep = germination * emergence_at < GERMINATION
        seed_age += np.where(
            in_soil & asleep & (wetted <= 0.0),
            seed_ageing(in_seedbed, surface_dry, surface_full, today[SOIL_TEMPERATURE], cereal),
            0.0,
        )
        by_dryness = ndtr(cereal["seed_viability"] - seed_age) / ndtr(cereal["seed_viability"])
        speed = np.where(asleep, wetted, 1.0)
        germination += np.where(in_soil, today[THERMAL_TIME] * speed / emergence_at, 0.0)
        up = in_soil & (germination >= 1.0)
        if up.any():
            by_crust[up] = (1.0 - soil["crusting"] * crust * (1.0 - wetted))[up]
            left = by_dryness * by_flooding * by_crust
            alive &= ~(up & (left < ALIVE))
            up &= alive
            emerged |= up
            seeds = seeding[up] * 100.0 / cereal["thousand_seed_mass"]
            come_up = seeds * cereal["establishment"] * left[up]
            plants[up] = come_up / (1.0 + come_up / cereal["most_plants"])
            plants_emerged[up] = plants[up]
            shoots[up] = plants[up]
            leaf_area[up] = plants[up] * cereal["seedling_leaf_area"] * 1e-4
            leaf_ages[0, up] = leaf_area[up]
            seedling[up] = plants[up] * cereal["thousand_seed_mass"] * 0.01 * cereal["seed_reserve"]
            seedling_nitrogen[up] = seedling[up] * cereal["seed_nitrogen"]
            shoot[up] = seedling[up] * (1.0 - cereal["root_share_start"])
            leaf[up] = shoot[up]
            root[up] = seedling[up] * cereal["root_share_start"]
            nitrogen[up] = seedling_nitrogen[up]
        standing = emerged & alive

        # what the stand can have of water and air
        intercepted = 1.0 - np.exp(-cereal["extinction"] * leaf_area)
        reference = np.where(today[SNOW_DEPTH] < 1.0, today[REFERENCE], 0.0)
        crop_coefficient = np.where(
            standing,
            cereal["smallest_crop_coefficient"]
            + (cereal["full_crop_coefficient"] - cereal["smallest_crop_coefficient"])
            * (1.0 - np.exp(-0.7 * leaf_area)),
            0.0,
        )
        rooted = share((root_depth - tops) / (bottoms - tops))
        extractable = np.maximum(water - wilting_point, 0.0)
        available = (rooted * (field_capacity - wilting_point)).sum(axis=0)
        rooted_water = (rooted * extractable).sum(axis=0)
        pores = (rooted * (saturation - filled)).sum(axis=0)
        fraction = np.clip(
            cereal["depletion_fraction"] + 0.04 * (5.0 - crop_coefficient * reference), 0.1, 0.8
        )
        # above 1 where less than the readily available water is gone
        stress = share(rooted_water / ((1.0 - fraction) * available))
        stress = np.where(standing, stress, 1.0)
        air = np.clip(0.5 + 0.5 * (0.1 * pores / root_depth) / soil["least_air"], 0.5, 1.0)

        # growth
        growing = standing & (development < RIPE)
        vernal_days += np.where(growing, today[VERNALIZATION], 0.0)
        fifth = (vernal_days / cereal["vernal_half"]) ** 5
        progress = np.select(
            [development < 1.0, development < 2.0],
            [
                cereal["vegetative_rate"] * today[PROGRESS] * (fifth / (1.0 + fifth)),
                cereal["elongation_rate"] * today[PROGRESS],
            ],
            cereal["ripening_rate"] * today[WARMTH],
        )
        development += np.where(growing, progress, 0.0)
        deeper = root_depth + 0.1 * cereal["root_speed"] * np.maximum(today[SOIL_TEMPERATURE], 0.0)
        root_depth = np.where(growing, np.minimum(deeper, rootable), root_depth)
        growing &= (today[SNOW_DEPTH] < 5.0) & (today[SOIL_TEMPERATURE] > 0.0)
        in_shoots = shoot_nitrogen(nitrogen, shoot, root, cereal["root_nitrogen_ratio"])
        nutrition = np.where(
            standing & (shoot > 0.0), in_shoots / (critical_concentration(shoot) * shoot), 0.0
        )
        least_of_both = np.minimum(stress, air)
        gain = (
            10.0
            * cereal["radiation_use_efficiency"]
            * 0.5
            * today[RADIATION]
            * intercepted
            * today[GROWTH]
            * least_of_both
            * share(
                (nutrition - cereal["growth_index_least"])
                / (cereal["growth_index_full"] - cereal["growth_index_least"])
            )
        )
        gain = np.where(growing, gain, 0.0)
        to_roots = cereal["root_share_start"] + (
            cereal["root_share_end"] - cereal["root_share_start"]
        ) * share(development - 1.0)
        grown_mass += gain
        root += gain * to_roots
        shoot += gain * (1.0 - to_roots)
        leafing = growing & (development < LAST_LEAF)
        leaves_today = np.where(leafing, today[THERMAL_TIME] / cereal["phyllochron"], 0.0)
        leaves += leaves_today
        fed = least_of_both * share(
            (nutrition - cereal["leaf_index_least"])
            / (cereal["leaf_index_full"] - cereal["leaf_index_least"])
        )
        thinness = cereal["cold_leaf_thinness"] + (1.0 - cereal["cold_leaf_thinness"]) * share(
            (today[TMEAN] - 5.0) / 15.0
        )
        area_of_mass = cereal["specific_leaf_area"] * thinness * 1e-4
        drawn = np.where(
            leafing & (leaf < cereal["reserve_limit"] * root), cereal["reserve_rate"] * root, 0.0
        )
        root -= drawn
        shoot += drawn
        blade = cereal["leaf_share_start"] + (
            cereal["leaf_share_end"] - cereal["leaf_share_start"]
        ) * share((development - 1.0) / (LAST_LEAF - 1.0))
        unfolding = np.maximum(leaf_area, plants * cereal["seedling_leaf_area"] * 1e-4)
        unfolded = np.minimum(
            fed * unfolding * (np.exp(cereal["leaf_growth_rate"] * today[LEAF_WARMTH]) - 1.0),
            (gain * (1.0 - to_roots) * blade + drawn) * area_of_mass,
        )
        unfolded = np.minimum(unfolded, np.maximum(cereal["shading_limit"] - leaf_area, 0.0))
        unfolded = np.where(leafing, unfolded, 0.0)
        leaf_area += unfolded
        leaf_ages[0] += unfolded
        np.copyto(leaf, np.minimum(leaf + unfolded / area_of_mass, shoot), where=leafing)
        leaves_spared += (1.0 - leaves_spared) * np.minimum(leaves_today / LEAVES_AT_RISK, 1.0)
        tillers = TILLERS * shoots * np.maximum(1.0 - shoots / cereal["most_shoots"], 0.0)
        shoots += np.where(leafing & (development < 1.0), fed * tillers * leaves_today, 0.0)
        life = np.where(development < 1.0, cereal["leaf_life"], cereal["last_leaf_life"])
        passing = np.where(growing, 1.0 - np.exp(-AGES * today[THERMAL_TIME] / life), 0.0)
        older = passing * leaf_ages
        leaf_ages -= older
        leaf_ages[1:] += older[:-1]
        let_leaves_fall(older[-1], cereal["left_in_old_leaves"], cereal, *falling)
        ripened = cereal["ripening_rate"] * today[WARMTH]
        ripe = leaf_area * np.minimum(ripened / np.maximum(3.0 - development + ripened, 1e-9), 1.0)
        dying = np.where(growing & (development >= 2.0), ripe, 0.0)
        leaf_ages *= np.where(dying > 0.0, 1.0 - dying / leaf_area, 1.0)
        let_leaves_fall(dying, cereal["left_in_old_leaves"], cereal, *falling)

        # uptake
        roots_there = root / (root + cereal["root_mass_half"])
        wanted = (
            cereal["uptake_rate"]
            * roots_there
            * rooted
            * density
            * np.minimum(extractable / (0.5 * (field_capacity - wilting_point)), 1.0)
        )
        supply = (wanted * (nitrate + 0.3 * ammonium)).sum(axis=0)
        asked = demand(shoot, root, nitrogen, cereal)
        feeding = standing & (development < ANTHESIS) & (supply > 0.0)
        taken = np.where(feeding, np.minimum(asked / supply, 1.0), 0.0)
        nitrogen += taken * supply
        nitrate -= taken * wanted * nitrate
        ammonium -= taken * wanted * 0.3 * ammonium

        # frost
        hardiest = cereal["hardiest"] + (TENDER - cereal["hardiest"]) * share(development - 1.0)
        induction = 3.72135 - 0.401124 * hardiest
        hardening = today[SOIL_TEMPERATURE] < induction
        change = np.where(
            hardening,
            -0.014 * (induction - today[SOIL_TEMPERATURE]) * (lt50 - hardiest),
            5.05 / (1.0 + np.exp(4.35 - 0.28 * today[SOIL_TEMPERATURE])),
        )
        lt50 = np.where(standing, np.clip(lt50 + change, hardiest, TENDER), lt50)
        live = survival(today[CROWN_MINIMUM], lt50)
        thinned = standing & (today[CROWN_MINIMUM] < 0.0) & (live < surviving)
        left = np.where(thinned, live / surviving, 1.0)
        surviving = np.where(thinned, live, surviving)
        killed += (1.0 - left) * (shoot + root)
        killed_nitrogen += (1.0 - left) * nitrogen
        for state in stand:
            np.multiply(state, left, out=state)
        bare = standing & (today[SNOW_DEPTH] < 5.0) & (today[TMIN] < 0.0)
        live = survival(today[TMIN], np.minimum(lt50, cereal["tender_leaf"]))
        scorched = bare & (live < leaves_spared)
        scorching = np.where(scorched, (1.0 - live / leaves_spared) * leaf_area, 0.0)
        leaf_ages *= np.where(scorching > 0.0, 1.0 - scorching / leaf_area, 1.0)
        let_leaves_fall(scorching, LEFT_IN_FROZEN_LEAVES, cereal, *falling)
        leaves_spared = np.where(scorched, live, leaves_spared)
        dead = standing & (surviving < ALIVE)
        alive &= ~dead
        killed += np.where(dead, shoot + root, 0.0)
        killed_nitrogen += np.where(dead, nitrogen, 0.0)
        for state in stand:
            state[..., dead] = 0.0

        # evaporation and transpiration
        drawn = np.where(
            standing, np.minimum(stress * crop_coefficient * reference, rooted_water), 0.0
        )
        water -= rooted * extractable * np.where(rooted_water > 0.0, drawn / rooted_water, 0.0)
        transpiration += drawn
        readily = np.minimum(soil["readily_evaporable"], 0.9 * evaporable)
        dryable = surface * np.maximum(water - AIR_DRY * wilting_point, 0.0)
        surface_water = dryable.sum(axis=0)
        depletion = np.clip(evaporable - surface_water, 0.0, evaporable)
        reduction = np.clip((evaporable - depletion) / (evaporable - readily), 0.0, 1.0)
        from_soil = np.minimum(
            reduction * np.maximum(WETTEST - crop_coefficient, 0.0), (1.0 - intercepted) * WETTEST
        )
        dried = np.minimum(from_soil * (1.0 - 0.5 * covered) * reference, surface_water)
        water -= dryable * np.where(surface_water > 0.0, dried / surface_water, 0.0)
        evaporation += dried

        # the day's record, where an end is reached
        shoots_per_plant = np.where(plants > 0.0, shoots / plants, 1.0)
        stage = np.where(
            emerged,
            zadoks_stage(development, leaves, shoots_per_plant),
            9.0 * np.minimum(germination, 1.0),
        )
        standing = emerged & alive
        for end, kind in enumerate(members.end_kinds):
            if kind == BY_DATE:
                here = end_days[end] == day
            elif kind == BY_STAGE:
                here = alive & (stage >= members.end_values[end])
            else:
                here = shoot >= members.end_values[end]
            here &= waiting[end]
            if not here.any():
                continue
            waiting[end] &= ~here
            in_shoots = shoot_nitrogen(nitrogen, shoot, root, cereal["root_nitrogen_ratio"])
            kept_water, kept_nitrate = water.sum(axis=0), nitrate.sum(axis=0)
            kept_ammonium = ammonium.sum(axis=0) + urea
            record = (
                shoot,
                in_shoots,
                np.where(shoot > 0.0, 100.0 * in_shoots / shoot, np.nan),
                np.where(in_shoots > 0.0, CARBON * shoot / in_shoots, np.nan),
                leached,
                drainage,
                runoff,
                precipitation,
                irrigation,
                thermal_time,
                stage,
                leaf_area,
                standing,
                root,
                killed,
                plants,
                plants_emerged,
                by_dryness,
                by_flooding,
                by_crust,
                shoots,
                nitrogen - in_shoots,
                kept_nitrate,
                kept_ammonium,
                kept_water,
                today[SNOW_WATER],
                evaporation,
                transpiration,
                mineralised,
                denitrified,
                volatilised,
                applied,
                lt50,
                root_depth,
                stress,
                nutrition,
                water_start,
                nitrogen_start,
                litter,
                seedling,
                seedling_nitrogen,
                grown_mass,
                killed_nitrogen,
                np.zeros(count),  # no soil test is given here
                shed,
                shed_nitrogen,
                water_start
                + precipitation
                + irrigation
                - kept_water
                - today[SNOW_WATER]
                - runoff
                - drainage
                - evaporation
                - transpiration,
                nitrogen_start
                + applied
                + mineralised
                + seedling_nitrogen
                - kept_nitrate
                - kept_ammonium
                - litter
                - nitrogen
                - killed_nitrogen
                - shed_nitrogen
                - leached
                - denitrified
                - volatilised,
                seedling + grown_mass - shoot - root - killed - shed,
                np.full(count, float(day)),
            )
            for name, values in zip(FIELDS, record, strict=True):
                out[name][together[here], end] = values[here]
        if not waiting.any():
            return
