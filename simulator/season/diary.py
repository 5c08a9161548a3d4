"""One day on the field: which process, in which order. It holds no equation of its own.

It reads like a farm diary: rain and snow, runoff, fertilizer, mineralisation, drainage and
leaching, emergence or growth, uptake, frost, evaporation.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator.process.canopy import (
    efficiency_by_nitrogen,
    expansion_by_nitrogen,
    leaf_expansion,
    leaf_from_reserves,
    leaf_share,
    leaf_thinness,
    light_interception,
    plants_emerging,
    poor_leaf_loss,
    potential_growth,
    ripening_loss,
    root_front,
    root_share,
    rooted_share,
    senescence,
    specific_leaf_nitrogen,
    tillering,
)
from simulator.process.compiled import compiled
from simulator.process.development import (
    GERMINATION,
    leaf_appearance,
    seed_zone_moisture,
    vernalization_response,
)
from simulator.process.frost import TENDER_LEAF, hardiest_by_stage, hardiness, survival
from simulator.process.nitrogen import (
    AMMONIUM_UPTAKE,
    demand,
    first_order,
    leach,
    mineralisation,
    share_lost,
    shoot_nitrogen,
    soil_moisture_factor,
    uptake_share,
    volatilisation_moisture,
    wetness_for_denitrification,
)
from simulator.process.residue import decay_with_nitrogen, net_mineralisation, residue_cover
from simulator.process.water import (
    WETTEST,
    aeration,
    basal_crop_coefficient,
    curve_number_runoff,
    depletion_fraction,
    evaporation_reduction,
    mulch_factor,
    percolate,
    water_over_the_day,
    water_stress,
)
from simulator.season.drivers import (
    COLUMNS,
    CROWN_MINIMUM,
    GROUND_WATER_IN,
    GROWTH,
    MICROBES,
    PRECIPITATION,
    PROGRESS,
    RADIATION,
    REFERENCE,
    SNOW_DEPTH,
    SOFTENING,
    SOIL_TEMPERATURE,
    THERMAL_TIME,
    TMEAN,
    TMIN,
    VERNALIZATION,
    WARMTH,
)
from simulator.season.field import CARBON, LAYERS

LEAVES_AT_RISK = 3.0  # new leaves until none is left that lived through the worst night
ALIVE = 0.05  # a stand thinner than this share of itself is dead
RESIDUE_AREA = 0.00053  # ha/kg, small grain (see residue_cover)

# what is the same today for all plans of a season, so that it is reckoned once
MORNING = np.dtype(
    [
        ("weather", np.float64, (COLUMNS,)),  # the day's row of `simulator.season.drivers`
        ("ran_off", np.float64),  # mm
        # in soil at field capacity or wetter
        ("nitrified", np.float64),  # share of the ammonium
        ("decomposed", np.float64),  # share of the old residue
        ("tied", *LAYERS),  # share of each layer's nitrate
    ]
)

# what a day works with and leaves behind, layer by layer
WORK = np.dtype(
    [
        ("flow", *LAYERS),  # mm through the bottom
        ("filled", *LAYERS),  # mm of water, mean over the day
        ("rooted", *LAYERS),  # share that roots have entered
        ("wanted", *LAYERS),
        ("moving", *LAYERS),
        ("kept", *LAYERS),
        ("passing", *LAYERS),
    ]
)


@compiled
def in_the_morning(weather: Any, soil: Any, crop: Any, column: Any, morning: Any) -> None:
    """Reckon what all plans of a season have in common today.

    Parameters
    ----------
    weather : array (columns,)
        The day's row of `simulator.season.drivers`.
    soil, crop : record
        Parameter sets.
    column : record of `simulator.season.field.COLUMN`
    morning : record of `MORNING`
        Filled.

    References
    ----------
    The processes called; their docstrings name the papers.
    """
    for one in range(COLUMNS):
        morning.weather[one] = weather[one]
    microbes = weather[MICROBES]
    morning.ran_off = curve_number_runoff(weather[GROUND_WATER_IN], soil.curve_number)
    if microbes > 0.0:
        morning.nitrified = share_lost(soil.nitrification_rate, microbes)
        morning.decomposed = share_lost(crop.decay_rate, microbes)
        for layer in range(column.layers):
            morning.tied[layer] = share_lost(
                soil.immobilisation_rate, microbes * column.topsoil[layer]
            )


@compiled
def live_a_day(
    morning: Any,
    sows: bool,
    seeding: float,
    dressing: float,
    cereal: Any,
    soil: Any,
    crop: Any,
    fertilizer: Any,
    column: Any,
    field: Any,
    work: Any,
) -> None:
    """Take a field through one day.

    Parameters
    ----------
    morning : record of `MORNING`
    sows : bool
        Whether today is the day.
    seeding : float
        [kg/ha].
    dressing : float
        Nitrogen that goes on today [kg/ha].
    cereal, soil, crop, fertilizer : record
        Parameter sets.
    column : record of `simulator.season.field.COLUMN`
    field : record of `simulator.season.field.FIELD`
        Changed.
    work : record of `WORK`
        Work space.

    References
    ----------
    The processes called; their docstrings name the papers.
    """
    today = morning.weather
    layers = column.layers
    water, nitrate = field.water[:layers], field.nitrate[:layers]
    ammonium, organic = field.ammonium[:layers], field.organic[:layers]
    flow, filled = work.flow[:layers], work.filled[:layers]
    rooted, wanted = work.rooted[:layers], work.wanted[:layers]
    microbes = today[MICROBES]

    # rain and snow, runoff
    field.precipitation += today[PRECIPITATION]
    field.runoff += morning.ran_off

    # fertilizer
    if dressing > 0.0:
        field.applied += dressing
        nitrate[0] += dressing * fertilizer.nitrate
        ammonium[0] += dressing * fertilizer.ammonium
        field.urea += dressing * fertilizer.urea
        field.litter += dressing * (
            1.0 - fertilizer.nitrate - fertilizer.ammonium - fertilizer.urea
        )
    if field.urea > 0.0 or field.litter > 0.0:
        moisture = soil_moisture_factor(water[0], column.air_dry[0], column.field_capacity[0])
        lost = first_order(
            field.urea,
            fertilizer.volatilisation,
            microbes * volatilisation_moisture(today[GROUND_WATER_IN]),
        )
        field.urea -= lost
        field.volatilised += lost
        turned = first_order(field.urea, fertilizer.hydrolysis_rate, microbes * moisture)
        field.urea -= turned
        freed = first_order(field.litter, fertilizer.organic_rate, microbes * moisture)
        field.litter -= freed
        ammonium[0] += turned + freed

    # mineralisation, nitrification, and what the old residue gives or takes
    if microbes > 0.0:
        mineralised = 0.0
        for layer in range(layers):
            moisture = soil_moisture_factor(
                water[layer], column.air_dry[layer], column.field_capacity[layer]
            )
            active = microbes * moisture
            at_best = moisture == 1.0
            freed = mineralisation(organic[layer], soil.mineralisation_rate, microbes, moisture)
            organic[layer] -= freed
            mineralised += freed
            ammonium[layer] += freed
            if ammonium[layer] > 1e-9:
                turned = ammonium[layer] * (
                    morning.nitrified if at_best else share_lost(soil.nitrification_rate, active)
                )
                ammonium[layer] -= turned
                nitrate[layer] += turned
            tied = nitrate[layer] * (
                morning.tied[layer]
                if at_best
                else share_lost(soil.immobilisation_rate, active * column.topsoil[layer])
            )
            nitrate[layer] -= tied
            organic[layer] += tied
            mineralised -= tied
            if layer == 0:
                decomposed = field.residue_carbon * (
                    morning.decomposed if at_best else share_lost(crop.decay_rate, active)
                )
                freed = net_mineralisation(decomposed, crop.carbon_to_nitrogen)
                share = decay_with_nitrogen(freed, ammonium[0] + nitrate[0])
                freed *= share
                field.residue_carbon -= share * decomposed
                mineralised += freed
                if freed >= 0.0:
                    ammonium[0] += freed
                else:
                    from_ammonium = min(ammonium[0], -freed)
                    ammonium[0] -= from_ammonium
                    nitrate[0] -= -freed - from_ammonium
        field.mineralised += mineralised

    # drainage and leaching
    field.drainage += percolate(
        water, today[GROUND_WATER_IN] - morning.ran_off, column.field_capacity[:layers],
        column.saturation[:layers], soil.drain_rate, flow,
    )  # fmt: skip
    field.leached += leach(
        nitrate, flow, column.field_capacity[:layers], work.passing[:layers],
        work.moving[:layers], work.kept[:layers],
    )  # fmt: skip
    denitrified = 0.0
    for layer in range(layers):
        filled[layer] = water_over_the_day(
            water[layer], flow[layer], column.saturation[layer], column.thick[layer]
        )
        if filled[layer] > column.short_of_air[layer] and microbes > 0.0:
            wet = wetness_for_denitrification(filled[layer] / column.saturation[layer])
            lost = first_order(
                nitrate[layer], soil.denitrification_rate, microbes * wet * column.topsoil[layer]
            )
            nitrate[layer] -= lost
            denitrified += lost
    field.denitrified += denitrified

    # sowing, emergence
    if sows:
        field.sown = True
        field.root_depth = cereal.sowing_depth
    if field.sown:
        field.thermal_time += today[THERMAL_TIME]
    if field.emerged:
        field.since_emergence += today[THERMAL_TIME]
    if field.sown and not field.emerged:
        moist = 1.0
        if field.germination * column.emergence_at < GERMINATION:
            surface_water = 0.0
            for layer in range(column.surface_layers):
                surface_water += column.surface[layer] * water[layer]
            moist = seed_zone_moisture(surface_water, column.surface_dry, column.surface_full)
        field.germination += today[THERMAL_TIME] * moist / column.emergence_at
        if field.germination >= 1.0:
            field.emerged = True
            field.plants = plants_emerging(
                seeding, cereal.thousand_seed_mass, cereal.establishment, cereal.most_plants
            )
            field.shoots = field.plants
            field.leaf_area = field.plants * cereal.seedling_leaf_area * 1e-4
            field.seedling = field.plants * cereal.thousand_seed_mass * 0.01 * cereal.seed_reserve
            field.seedling_nitrogen = field.seedling * cereal.seed_nitrogen
            field.shoot = field.seedling * (1.0 - cereal.root_share_start)
            field.root = field.seedling * cereal.root_share_start
            field.nitrogen = field.seedling_nitrogen

    # what the stand can have of water and air
    covered_by_residue = residue_cover(field.residue_carbon / CARBON, RESIDUE_AREA)
    intercepted = light_interception(field.leaf_area, cereal.extinction)
    reference = today[REFERENCE] if today[SNOW_DEPTH] < 1.0 else 0.0
    reached = 0  # layers that roots have entered
    crop_coefficient = 0.0
    field.stress = 1.0
    air = 1.0
    rooted_water = 0.0
    if field.emerged and field.alive:
        crop_coefficient = basal_crop_coefficient(
            field.leaf_area, cereal.smallest_crop_coefficient, cereal.full_crop_coefficient
        )
        available = 0.0
        pores = 0.0
        while reached < layers and column.tops[reached] < field.root_depth:
            layer = reached
            rooted[layer] = rooted_share(
                field.root_depth, column.tops[layer], column.bottoms[layer]
            )
            available += rooted[layer] * (
                column.field_capacity[layer] - column.wilting_point[layer]
            )
            rooted_water += rooted[layer] * max(water[layer] - column.wilting_point[layer], 0.0)
            pores += rooted[layer] * (column.saturation[layer] - filled[layer])
            reached += 1
        field.stress = water_stress(
            available - rooted_water,
            available,
            depletion_fraction(cereal.depletion_fraction, crop_coefficient * reference),
        )
        air = aeration(0.1 * pores / field.root_depth, soil.least_air)

    # growth
    field.leaf_nitrogen = 0.0
    if field.emerged and field.alive and field.development < 3.0:
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
        if today[SNOW_DEPTH] < 5.0 and today[SOIL_TEMPERATURE] > 0.0:
            field.leaf_nitrogen = specific_leaf_nitrogen(
                shoot_nitrogen(field.nitrogen, field.shoot, field.root, cereal.root_nitrogen_ratio),
                field.shoot, cereal.structural_nitrogen, field.leaf_area,
            )  # fmt: skip
            gain = (
                potential_growth(today[RADIATION], intercepted, cereal.radiation_use_efficiency)
                * today[GROWTH]
                * min(field.stress, air)
                * efficiency_by_nitrogen(
                    field.leaf_nitrogen, cereal.efficiency_threshold, cereal.efficiency_slope
                )
            )
            to_roots = root_share(field.development, cereal.root_share_start, cereal.root_share_end)
            field.grown += gain
            field.root += gain * to_roots
            field.shoot += gain * (1.0 - to_roots)
            if field.development < 1.58:  # the flag leaf's ligule: the last leaf is out
                leaves_today = leaf_appearance(today[THERMAL_TIME], cereal.phyllochron)
                field.leaves += leaves_today
                fed = min(field.stress, air) * expansion_by_nitrogen(
                    field.leaf_nitrogen, cereal.leaf_nitrogen_least, cereal.leaf_nitrogen_full
                )
                field.leaf_area += min(
                    fed
                    * leaf_expansion(
                        field.shoots,
                        leaves_today,
                        field.leaves,
                        cereal.first_leaf_area,
                        cereal.largest_leaf_area,
                    ),
                    gain
                    * (1.0 - to_roots)
                    * leaf_share(field.development)
                    * cereal.specific_leaf_area
                    * leaf_thinness(today[TMEAN])
                    * 1e-4
                    + leaf_from_reserves(field.shoot, field.leaf_area, cereal.specific_leaf_area),
                )
                field.leaves_spared += (1.0 - field.leaves_spared) * min(
                    leaves_today / LEAVES_AT_RISK, 1.0
                )
                if field.development < 1.0:
                    field.shoots += fed * tillering(field.shoots, cereal.most_shoots, leaves_today)
            field.leaf_area -= senescence(
                field.leaf_area,
                today[THERMAL_TIME],
                field.since_emergence,
                cereal.leaf_life,
                cereal.shading_limit,
            )
            field.leaf_area -= ripening_loss(
                field.leaf_area, field.development, cereal.ripening_rate * today[WARMTH]
            )
            field.leaf_area -= poor_leaf_loss(
                field.leaf_area, field.leaf_nitrogen, cereal.leaf_nitrogen_least
            )

    # uptake
    if field.emerged and field.alive:
        supply = 0.0
        root = field.root
        for layer in range(reached):
            wanted[layer] = uptake_share(
                cereal.uptake_rate,
                root,
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
                    field.leaf_area,
                    field.shoot,
                    field.root,
                    field.nitrogen,
                    cereal.leaf_nitrogen_target,
                    cereal.structural_nitrogen,
                    cereal.root_nitrogen_ratio,
                    cereal.most_uptake,
                )
                / supply,
                1.0,
            )
            field.nitrogen += taken * supply
            for layer in range(reached):
                nitrate[layer] -= taken * wanted[layer] * nitrate[layer]
                ammonium[layer] -= taken * wanted[layer] * AMMONIUM_UPTAKE * ammonium[layer]

    # frost
    if field.emerged and field.alive:
        field.lt50 = hardiness(
            field.lt50,
            today[SOIL_TEMPERATURE],
            hardiest_by_stage(cereal.hardiest, field.development),
            today[SOFTENING],
        )
        live = survival(today[CROWN_MINIMUM], field.lt50) if today[CROWN_MINIMUM] < 0.0 else 1.0
        if live < field.surviving:
            share = live / field.surviving
            field.surviving = live
            field.killed += (1.0 - share) * (field.shoot + field.root)
            field.killed_nitrogen += (1.0 - share) * field.nitrogen
            field.plants *= share
            field.shoots *= share
            field.leaf_area *= share
            field.shoot *= share
            field.root *= share
            field.nitrogen *= share
        if (
            today[SNOW_DEPTH] < 5.0 and today[TMIN] < 0.0
        ):  # leaves are in the air, where the night is colder
            live = survival(today[TMIN], min(field.lt50, TENDER_LEAF))
            if live < field.leaves_spared:  # leaves that lived through a night like it live again
                field.leaf_area *= live / field.leaves_spared
                field.leaves_spared = live
        if field.surviving < ALIVE:
            field.alive = False
            field.killed += field.shoot + field.root
            field.killed_nitrogen += field.nitrogen
            field.plants = 0.0
            field.shoots = 0.0
            field.leaf_area = 0.0
            field.shoot = 0.0
            field.root = 0.0
            field.nitrogen = 0.0

    # evaporation and transpiration
    drawn = 0.0
    if rooted_water > 0.0:
        drawn = min(field.stress * crop_coefficient * reference, rooted_water)
        for layer in range(reached):
            water[layer] -= (
                drawn
                * rooted[layer]
                * max(water[layer] - column.wilting_point[layer], 0.0)
                / rooted_water
            )
        field.transpiration += drawn
    surface_water = 0.0
    for layer in range(column.surface_layers):
        wanted[layer] = column.surface[layer] * max(water[layer] - column.air_dry[layer], 0.0)
        surface_water += wanted[layer]
    if surface_water > 0.0:
        from_soil = min(
            evaporation_reduction(
                min(max(column.evaporable - surface_water, 0.0), column.evaporable),
                column.readily_evaporable,
                column.evaporable,
            )
            * max(WETTEST - crop_coefficient, 0.0),
            (1.0 - intercepted) * WETTEST,
        )
        dried = min(from_soil * mulch_factor(covered_by_residue) * reference, surface_water)
        for layer in range(column.surface_layers):
            water[layer] -= dried * wanted[layer] / surface_water
        field.evaporation += dried
