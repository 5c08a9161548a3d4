"""One season, day by day: which process, in which order. It holds no equation of its own.

It reads like a farm diary: rain and snow, runoff, fertilizer, mineralisation, drainage and
leaching, emergence or growth, uptake, frost, evaporation, the day's record.
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
    root_density,
    root_front,
    root_share,
    senescence,
    specific_leaf_nitrogen,
    tillering,
)
from simulator.process.compiled import compiled
from simulator.process.development import (
    GERMINATION,
    emergence_thermal_time,
    leaf_appearance,
    seed_zone_moisture,
    vernalization_response,
    zadoks_stage,
)
from simulator.process.frost import TENDER, TENDER_LEAF, hardiest_by_stage, hardiness, survival
from simulator.process.nitrogen import (
    AMMONIUM_UPTAKE,
    demand,
    first_order,
    leach,
    mineralisation,
    shoot_nitrogen,
    soil_moisture_factor,
    topsoil_share,
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
    CROWN_MINIMUM,
    GROUND_WATER_IN,
    GROWTH,
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
LEAVES_AT_RISK = 3.0  # new leaves until none is left that lived through the worst night
CARBON = 0.42  # kg carbon per kg dry matter, common practice
ORGANIC_NITROGEN = 0.058  # kg N per kg organic matter: 58 % carbon, C:N 10, common practice
ALIVE = 0.05  # a stand thinner than this share of itself is dead
SURFACE = 10.0  # cm of soil that evaporation dries and seeds lie in (FAO paper 56: 10 to 15)
AIR_DRY = 0.5  # share of the wilting point (FAO paper 56 eq. 73)
RESIDUE_AREA = 0.00053  # ha/kg, small grain (see residue_cover)


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
        Filled with every day's record when it has room.

    References
    ----------
    The processes called; their docstrings name the papers.
    """
    cereal, soil, crop, fertilizer = cereals[0], soils[0], previous_crops[0], fertilizers[0]
    layers = bottoms.size

    # the column of soil, in mm of water and kg/ha of nitrogen
    thick = np.empty(layers)
    field_capacity = np.empty(layers)
    wilting_point = np.empty(layers)
    saturation = np.empty(layers)
    organic = np.empty(layers)
    tops = np.empty(layers)
    water = np.empty(layers)
    nitrate = np.empty(layers)
    ammonium = np.zeros(layers)
    flow = np.empty(layers)
    moving = np.empty(layers)
    kept = np.empty(layers)
    wanted = np.empty(layers)
    surface = np.empty(layers)  # share of each layer that is soil surface
    topsoil = np.empty(layers)  # organic matter as a share of the surface's
    rooted = np.zeros(layers)  # share of each layer that roots have entered
    density = np.empty(layers)  # of roots, as a share of the surface's
    waiting = np.ones(end_kinds.size, dtype=np.bool_)
    ended = np.zeros(end_kinds.size, dtype=np.bool_)
    for layer in range(layers):
        top = bottoms[layer - 1] if layer > 0 else 0.0
        bottom = bottoms[layer]
        tops[layer] = top
        thick[layer] = 10.0 * (bottom - top)
        field_capacity[layer] = thick[layer] * soil.field_capacity
        wilting_point[layer] = thick[layer] * soil.wilting_point
        saturation[layer] = thick[layer] * soil.saturation
        surface[layer] = min(max(SURFACE - top, 0.0) / (bottom - top), 1.0)
        density[layer] = root_density(top, bottom)
        topsoil[layer] = topsoil_share(top, bottom)
        # a hundredth of 1 t/m3 over 1 mm is 100 kg/ha
        organic[layer] = (
            100.0
            * soil.organic_matter
            * topsoil[layer]
            * soil.bulk_density
            * thick[layer]
            * ORGANIC_NITROGEN
        )
        water[layer] = wilting_point[layer] + crop.available_water * (
            field_capacity[layer] - wilting_point[layer]
        )
        nitrate[layer] = crop.residual_nitrate * (bottom - top) / bottoms[layers - 1]
    ammonium[0] = crop.residual_ammonium
    rootable = min(soil.rootable, cereal.deepest_roots, bottoms[layers - 1])
    surface_full = 10.0 * SURFACE * soil.field_capacity
    surface_dry = 10.0 * SURFACE * soil.wilting_point
    evaporable = surface_full - AIR_DRY * surface_dry

    record = np.empty(1, DAY)[0]

    # previous crop's residue, fertilizer not yet in the soil
    residue_carbon = crop.residue * CARBON
    urea = 0.0
    litter = 0.0

    # the stand
    sown = False
    emerged = False
    alive = True
    germination = 0.0
    emergence_at = emergence_thermal_time(cereal.sowing_depth)
    thermal_time = 0.0  # from sowing
    since_emergence = 0.0
    development = 0.0
    vernal_days = 0.0
    leaves = 0.0
    plants = 0.0
    shoots = 0.0
    leaf_area = 0.0
    shoot = 0.0
    root = 0.0
    nitrogen = 0.0  # in shoots and roots
    root_depth = 0.0
    lt50 = TENDER
    surviving = 1.0  # of the plants, through the worst night so far
    leaves_spared = 1.0  # of the leaves now there, likewise
    killed = 0.0
    killed_nitrogen = 0.0
    seedling = 0.0
    seedling_nitrogen = 0.0
    grown = 0.0

    # sums of the season
    precipitation = 0.0
    runoff = 0.0
    drainage = 0.0
    evaporation = 0.0
    transpiration = 0.0
    leached = 0.0
    denitrified = 0.0
    volatilised = 0.0
    mineralised = 0.0
    applied = 0.0
    water_start = water.sum()
    nitrogen_start = nitrate.sum() + ammonium.sum()

    for day in range(first_day, last_day + 1):
        today = drivers[day]
        microbes = today[MICROBES]

        # rain and snow, runoff
        precipitation += today[PRECIPITATION]
        ran_off = curve_number_runoff(today[GROUND_WATER_IN], soil.curve_number)
        runoff += ran_off

        # fertilizer
        for dressing in range(dressing_days.size):
            if dressing_days[dressing] == day:
                amount = dressing_amounts[dressing]
                applied += amount
                nitrate[0] += amount * fertilizer.nitrate
                ammonium[0] += amount * fertilizer.ammonium
                urea += amount * fertilizer.urea
                litter += amount * (
                    1.0 - fertilizer.nitrate - fertilizer.ammonium - fertilizer.urea
                )
        if urea > 0.0 or litter > 0.0:
            moisture = soil_moisture_factor(water[0], AIR_DRY * wilting_point[0], field_capacity[0])
            lost = first_order(
                urea,
                fertilizer.volatilisation,
                microbes * volatilisation_moisture(today[GROUND_WATER_IN]),
            )
            urea -= lost
            volatilised += lost
            turned = first_order(urea, fertilizer.hydrolysis_rate, microbes * moisture)
            urea -= turned
            freed = first_order(litter, fertilizer.organic_rate, microbes * moisture)
            litter -= freed
            ammonium[0] += turned + freed

        # mineralisation, nitrification, and what the old residue gives or takes
        if microbes > 0.0:
            for layer in range(layers):
                moisture = soil_moisture_factor(
                    water[layer], AIR_DRY * wilting_point[layer], field_capacity[layer]
                )
                freed = mineralisation(organic[layer], soil.mineralisation_rate, microbes, moisture)
                organic[layer] -= freed
                mineralised += freed
                ammonium[layer] += freed
                if ammonium[layer] > 1e-9:
                    turned = first_order(
                        ammonium[layer], soil.nitrification_rate, microbes * moisture
                    )
                    ammonium[layer] -= turned
                    nitrate[layer] += turned
                tied = first_order(
                    nitrate[layer], soil.immobilisation_rate, microbes * moisture * topsoil[layer]
                )
                nitrate[layer] -= tied
                organic[layer] += tied
                mineralised -= tied
                if layer == 0:
                    decomposed = first_order(residue_carbon, crop.decay_rate, microbes * moisture)
                    freed = net_mineralisation(decomposed, crop.carbon_to_nitrogen)
                    share = decay_with_nitrogen(freed, ammonium[0] + nitrate[0])
                    freed *= share
                    residue_carbon -= share * decomposed
                    mineralised += freed
                    if freed >= 0.0:
                        ammonium[0] += freed
                    else:
                        from_ammonium = min(ammonium[0], -freed)
                        ammonium[0] -= from_ammonium
                        nitrate[0] -= -freed - from_ammonium

        # drainage and leaching
        drained = percolate(
            water, today[GROUND_WATER_IN] - ran_off, field_capacity, saturation,
            soil.drain_rate, flow,
        )  # fmt: skip
        drainage += drained
        leached += leach(nitrate, flow, field_capacity, moving, kept)
        if microbes > 0.0:
            for layer in range(layers):
                filled = water_over_the_day(
                    water[layer], flow[layer], saturation[layer], thick[layer]
                )
                wet = wetness_for_denitrification(filled / saturation[layer])
                if wet > 0.0:
                    lost = first_order(
                        nitrate[layer],
                        soil.denitrification_rate,
                        microbes * wet * topsoil[layer],
                    )
                    nitrate[layer] -= lost
                    denitrified += lost

        # sowing, emergence
        if day == sow_day:
            sown = True
            root_depth = cereal.sowing_depth
        if sown:
            thermal_time += today[THERMAL_TIME]
        if emerged:
            since_emergence += today[THERMAL_TIME]
        if sown and not emerged:
            moist = 1.0
            if germination * emergence_at < GERMINATION:
                surface_water = 0.0
                for layer in range(layers):
                    surface_water += surface[layer] * water[layer]
                moist = seed_zone_moisture(surface_water, surface_dry, surface_full)
            germination += today[THERMAL_TIME] * moist / emergence_at
            if germination >= 1.0:
                emerged = True
                plants = plants_emerging(
                    seeding, cereal.thousand_seed_mass, cereal.establishment, cereal.most_plants
                )
                shoots = plants
                leaf_area = plants * cereal.seedling_leaf_area * 1e-4
                seedling = plants * cereal.thousand_seed_mass * 0.01 * cereal.seed_reserve
                seedling_nitrogen = seedling * cereal.seed_nitrogen
                shoot = seedling * (1.0 - cereal.root_share_start)
                root = seedling * cereal.root_share_start
                nitrogen = seedling_nitrogen

        # what the stand can have of water and air
        covered_by_residue = residue_cover(residue_carbon / CARBON, RESIDUE_AREA)
        intercepted = light_interception(leaf_area, cereal.extinction)
        reference = today[REFERENCE] if today[SNOW_DEPTH] < 1.0 else 0.0
        crop_coefficient = 0.0
        stress = 1.0
        air = 1.0
        rooted_water = 0.0
        if emerged and alive:
            crop_coefficient = basal_crop_coefficient(
                leaf_area, cereal.smallest_crop_coefficient, cereal.full_crop_coefficient
            )
            available = 0.0
            pores = 0.0
            for layer in range(layers):
                rooted[layer] = min(
                    max(root_depth - tops[layer], 0.0) / (bottoms[layer] - tops[layer]), 1.0
                )
                available += rooted[layer] * (field_capacity[layer] - wilting_point[layer])
                rooted_water += rooted[layer] * max(water[layer] - wilting_point[layer], 0.0)
                filled = water_over_the_day(
                    water[layer], flow[layer], saturation[layer], thick[layer]
                )
                pores += rooted[layer] * (saturation[layer] - filled)
            stress = water_stress(
                available - rooted_water,
                available,
                depletion_fraction(cereal.depletion_fraction, crop_coefficient * reference),
            )
            air = aeration(0.1 * pores / root_depth, soil.least_air)

        # growth
        leaf_nitrogen = 0.0
        if emerged and alive and development < 3.0:
            vernal_days += today[VERNALIZATION]
            if development < 1.0:
                development += (
                    cereal.vegetative_rate
                    * today[PROGRESS]
                    * vernalization_response(vernal_days, cereal.vernal_half)
                )
            elif development < 2.0:
                development += cereal.elongation_rate * today[PROGRESS]
            else:
                development += cereal.ripening_rate * today[WARMTH]
            root_depth = min(
                root_depth + root_front(max(today[SOIL_TEMPERATURE], 0.0), cereal.root_speed),
                rootable,
            )
            if today[SNOW_DEPTH] < 5.0 and today[SOIL_TEMPERATURE] > 0.0:
                leaf_nitrogen = specific_leaf_nitrogen(
                    shoot_nitrogen(nitrogen, shoot, root, cereal.root_nitrogen_ratio),
                    shoot, cereal.structural_nitrogen, leaf_area,
                )  # fmt: skip
                gain = (
                    potential_growth(today[RADIATION], intercepted, cereal.radiation_use_efficiency)
                    * today[GROWTH]
                    * min(stress, air)
                    * efficiency_by_nitrogen(
                        leaf_nitrogen, cereal.efficiency_threshold, cereal.efficiency_slope
                    )
                )
                to_roots = root_share(development, cereal.root_share_start, cereal.root_share_end)
                grown += gain
                root += gain * to_roots
                shoot += gain * (1.0 - to_roots)
                if development < 1.58:  # the flag leaf's ligule: the last leaf is out
                    leaves_today = leaf_appearance(today[THERMAL_TIME], cereal.phyllochron)
                    leaves += leaves_today
                    fed = min(stress, air) * expansion_by_nitrogen(
                        leaf_nitrogen, cereal.leaf_nitrogen_least, cereal.leaf_nitrogen_full
                    )
                    leaf_area += min(
                        fed
                        * leaf_expansion(
                            shoots,
                            leaves_today,
                            leaves,
                            cereal.first_leaf_area,
                            cereal.largest_leaf_area,
                        ),
                        gain
                        * (1.0 - to_roots)
                        * leaf_share(development)
                        * cereal.specific_leaf_area
                        * leaf_thinness(today[TMEAN])
                        * 1e-4
                        + leaf_from_reserves(shoot, leaf_area, cereal.specific_leaf_area),
                    )
                    leaves_spared += (1.0 - leaves_spared) * min(leaves_today / LEAVES_AT_RISK, 1.0)
                    if development < 1.0:
                        shoots += fed * tillering(shoots, cereal.most_shoots, leaves_today)
                leaf_area -= senescence(
                    leaf_area,
                    today[THERMAL_TIME],
                    since_emergence,
                    cereal.leaf_life,
                    cereal.shading_limit,
                )
                leaf_area -= ripening_loss(
                    leaf_area, development, cereal.ripening_rate * today[WARMTH]
                )
                leaf_area -= poor_leaf_loss(leaf_area, leaf_nitrogen, cereal.leaf_nitrogen_least)

        # uptake
        if emerged and alive:
            supply = 0.0
            for layer in range(layers):
                wanted[layer] = uptake_share(
                    cereal.uptake_rate,
                    root,
                    cereal.root_mass_half,
                    rooted[layer] * density[layer],
                    water[layer],
                    wilting_point[layer],
                    field_capacity[layer],
                )
                supply += wanted[layer] * (nitrate[layer] + AMMONIUM_UPTAKE * ammonium[layer])
            if supply > 0.0:
                taken = min(
                    demand(
                        leaf_area,
                        shoot,
                        root,
                        nitrogen,
                        cereal.leaf_nitrogen_target,
                        cereal.structural_nitrogen,
                        cereal.root_nitrogen_ratio,
                        cereal.most_uptake,
                    )
                    / supply,
                    1.0,
                )
                nitrogen += taken * supply
                for layer in range(layers):
                    nitrate[layer] -= taken * wanted[layer] * nitrate[layer]
                    ammonium[layer] -= taken * wanted[layer] * AMMONIUM_UPTAKE * ammonium[layer]

        # frost
        if emerged and alive:
            lt50 = hardiness(
                lt50, today[SOIL_TEMPERATURE], hardiest_by_stage(cereal.hardiest, development)
            )
            live = survival(today[CROWN_MINIMUM], lt50) if today[CROWN_MINIMUM] < 0.0 else 1.0
            if live < surviving:
                share = live / surviving
                surviving = live
                killed += (1.0 - share) * (shoot + root)
                killed_nitrogen += (1.0 - share) * nitrogen
                plants *= share
                shoots *= share
                leaf_area *= share
                shoot *= share
                root *= share
                nitrogen *= share
            if (
                today[SNOW_DEPTH] < 5.0 and today[TMIN] < 0.0
            ):  # leaves are in the air, where the night is colder
                live = survival(today[TMIN], min(lt50, TENDER_LEAF))
                if live < leaves_spared:  # leaves that lived through a night like it live again
                    leaf_area *= live / leaves_spared
                    leaves_spared = live
            if surviving < ALIVE:
                alive = False
                killed += shoot + root
                killed_nitrogen += nitrogen
                plants = 0.0
                shoots = 0.0
                leaf_area = 0.0
                shoot = 0.0
                root = 0.0
                nitrogen = 0.0

        # evaporation and transpiration
        drawn = 0.0
        if rooted_water > 0.0:
            drawn = min(stress * crop_coefficient * reference, rooted_water)
            for layer in range(layers):
                water[layer] -= (
                    drawn
                    * rooted[layer]
                    * max(water[layer] - wilting_point[layer], 0.0)
                    / rooted_water
                )
            transpiration += drawn
        surface_water = 0.0
        for layer in range(layers):
            wanted[layer] = surface[layer] * max(water[layer] - AIR_DRY * wilting_point[layer], 0.0)
            surface_water += wanted[layer]
        if surface_water > 0.0:
            from_soil = min(
                evaporation_reduction(
                    min(max(evaporable - surface_water, 0.0), evaporable),
                    min(soil.readily_evaporable, 0.9 * evaporable),
                    evaporable,
                )
                * max(WETTEST - crop_coefficient, 0.0),
                (1.0 - intercepted) * WETTEST,
            )
            dried = min(from_soil * mulch_factor(covered_by_residue) * reference, surface_water)
            for layer in range(layers):
                water[layer] -= dried * wanted[layer] / surface_water
            evaporation += dried

        # the day's record
        stage = 0.0
        if emerged:
            stage = zadoks_stage(development, leaves, shoots / plants if plants > 0.0 else 1.0)
        elif sown:
            stage = 9.0 * germination
        any_ended = False
        for end in range(end_kinds.size):
            if waiting[end]:
                kind = end_kinds[end]
                if kind == BY_DATE:
                    here = day == end_days[end]
                elif kind == BY_STAGE:
                    here = alive and stage >= end_values[end]
                else:
                    here = shoot >= end_values[end]
                if here:
                    waiting[end] = False
                    ended[end] = True
                    any_ended = True
        if not any_ended and days.size == 0:
            continue
        in_shoots = shoot_nitrogen(nitrogen, shoot, root, cereal.root_nitrogen_ratio)
        record.biomass_kg_ha = shoot
        record.nitrogen_uptake_kg_ha = in_shoots
        record.nitrogen_percent = 100.0 * in_shoots / shoot if shoot > 0.0 else np.nan
        record.carbon_to_nitrogen = CARBON * shoot / in_shoots if in_shoots > 0.0 else np.nan
        record.nitrate_leached_kg_ha = leached
        record.drainage_mm = drainage
        record.runoff_mm = runoff
        record.rain_mm = precipitation
        record.thermal_time_degC_d = thermal_time
        record.growth_stage_zadoks = stage
        record.leaf_area_index = leaf_area
        record.stand_alive = 1.0 if emerged and alive else 0.0
        record.root_biomass_kg_ha = root
        record.killed_biomass_kg_ha = killed
        record.plants_m2 = plants
        record.shoots_m2 = shoots
        record.root_nitrogen_kg_ha = nitrogen - in_shoots
        record.soil_nitrate_kg_ha = nitrate.sum()
        record.soil_ammonium_kg_ha = ammonium.sum() + urea
        record.soil_water_mm = water.sum()
        record.snow_water_mm = today[SNOW_WATER]
        record.evaporation_mm = evaporation
        record.transpiration_mm = transpiration
        record.mineralised_kg_ha = mineralised
        record.denitrified_kg_ha = denitrified
        record.volatilised_kg_ha = volatilised
        record.fertilizer_kg_ha = applied
        record.hardiness_degC = lt50
        record.root_depth_cm = root_depth
        record.water_stress = stress
        record.leaf_nitrogen_g_m2 = leaf_nitrogen
        record.soil_water_start_mm = water_start
        record.mineral_nitrogen_start_kg_ha = nitrogen_start
        record.litter_nitrogen_kg_ha = litter
        record.seedling_kg_ha = seedling
        record.seedling_nitrogen_kg_ha = seedling_nitrogen
        record.growth_kg_ha = grown
        record.killed_nitrogen_kg_ha = killed_nitrogen
        record.water_balance_error_mm = (
            (water_start + precipitation)
            - (record.soil_water_mm + record.snow_water_mm)
            - (runoff + drainage + evaporation + transpiration)
        )
        record.nitrogen_balance_error_kg_ha = (
            (nitrogen_start + applied + mineralised + seedling_nitrogen)
            - (record.soil_nitrate_kg_ha + record.soil_ammonium_kg_ha + litter)
            - (nitrogen + killed_nitrogen)
            - (leached + denitrified + volatilised)
        )
        record.dry_matter_balance_error_kg_ha = seedling + grown - (shoot + root + killed)
        record.season_day = day
        for end in range(end_kinds.size):
            if ended[end]:
                ended[end] = False
                ends[end] = record
        if days.size > 0:
            days[day] = record
        elif not waiting.any():
            return


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
    no_days = np.empty(0, DAY)
    for member in range(first, last):
        season, plan = seasons[member], plans[member]
        grow(
            drivers[season], spans[season, 0], spans[season, 1], sow_days[season, plan],
            seedings[plan], dressing_days[season, plan], dressing_amounts[plan],
            end_kinds, end_days[season], end_values, cereals, soils, previous_crops,
            fertilizers, bottoms, out[member], no_days,
        )  # fmt: skip
