"""What is kept of a day: the fields, their units and meanings, and how they are taken down."""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator.process.compiled import compiled
from simulator.process.development import zadoks_stage
from simulator.process.nitrogen import shoot_nitrogen
from simulator.season.day.drivers import SNOW_WATER
from simulator.season.day.state import CARBON

# Name, unit, meaning. Sums run from the first day of the season
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
    ("irrigation_mm", "mm", "irrigation"),
    ("thermal_time_degC_d", "degC d", "thermal time above 0 degC from sowing"),
    ("growth_stage_zadoks", "1", "growth stage, Zadoks"),
    ("leaf_area_index", "1", "green leaf area index"),
    ("stand_alive", "1", "1 while the stand lives"),
    ("root_biomass_kg_ha", "kg/ha", "dry matter of living roots"),
    ("killed_biomass_kg_ha", "kg/ha", "dry matter of shoots and roots killed by frost"),
    ("plants_m2", "m-2", "living plants"),
    ("plants_emerged_m2", "m-2", "plants that came up"),
    ("left_by_dryness", "1", "share of the seed that a dry seedbed left alive"),
    ("left_by_flooding", "1", "share of the seedlings that a flooded seedbed left alive"),
    ("left_by_crust", "1", "share of the seedlings that a crust let through"),
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
    ("nitrogen_nutrition_index", "1", "nitrogen as a share of what full growth asks for"),
    ("soil_water_start_mm", "mm", "water in the soil column on the first day"),
    ("mineral_nitrogen_start_kg_ha", "kg/ha", "nitrate and ammonium nitrogen on the first day"),
    ("litter_nitrogen_kg_ha", "kg/ha", "organic fertilizer nitrogen not yet set free"),
    ("seedling_kg_ha", "kg/ha", "dry matter of seedlings, from the seed"),
    ("seedling_nitrogen_kg_ha", "kg/ha", "nitrogen of seedlings, from the seed"),
    ("growth_kg_ha", "kg/ha", "dry matter grown"),
    ("killed_nitrogen_kg_ha", "kg/ha", "nitrogen in shoots and roots killed by frost"),
    ("soil_test_correction_kg_ha", "kg/ha", "mineral nitrogen put in to match a soil test"),
    ("shed_leaf_kg_ha", "kg/ha", "dry matter of leaves that died and fell"),
    ("shed_nitrogen_kg_ha", "kg/ha", "nitrogen in leaves that died and fell"),
    ("water_balance_error_mm", "mm", "error of the water balance"),
    ("nitrogen_balance_error_kg_ha", "kg/ha", "error of the nitrogen balance"),
    ("dry_matter_balance_error_kg_ha", "kg/ha", "error of the dry matter balance"),
    ("season_day", "d", "days since 1 July"),
)
FIELDS = tuple(name for name, _, _ in RECORD)
DAY = np.dtype([(name, np.float64) for name in FIELDS])


@compiled
def growth_stage(field: Any) -> float:
    """Growth stage of the stand, Zadoks: 0 before sowing, 9 at emergence.

    Parameters
    ----------
    field : record of `simulator.season.day.state.FIELD`
    """
    if field.emerged:
        per_plant = field.shoots / field.plants if field.plants > 0.0 else 1.0
        return zadoks_stage(field.development, field.leaves, per_plant)
    return float(9.0 * min(field.germination, 1.0))


@compiled
def write_down_errors(field: Any, record: Any) -> None:
    """Write by how much the balances do not close.

    Parameters
    ----------
    field : record of `simulator.season.day.state.FIELD`
    record : record of `DAY`
        Whose other fields are filled; changed.
    """
    record.water_balance_error_mm = (
        (field.water_start + field.precipitation + field.irrigation)
        - (record.soil_water_mm + record.snow_water_mm)
        - (field.runoff + field.drainage + field.evaporation + field.transpiration)
    )
    record.nitrogen_balance_error_kg_ha = (
        (field.nitrogen_start + field.applied + field.mineralised + field.seedling_nitrogen)
        + field.test_correction
        - (record.soil_nitrate_kg_ha + record.soil_ammonium_kg_ha + field.litter)
        - (field.nitrogen + field.killed_nitrogen + field.shed_nitrogen)
        - (field.leached + field.denitrified + field.volatilised)
    )
    record.dry_matter_balance_error_kg_ha = (
        field.seedling + field.grown - (field.shoot + field.root + field.killed + field.shed)
    )


@compiled
def write_down_stand(field: Any, record: Any) -> None:
    """Write how many plants came up, live, and what the seedbed left.

    Parameters
    ----------
    field : record of `simulator.season.day.state.FIELD`
    record : record of `DAY`
        Changed.
    """
    record.plants_m2 = field.plants
    record.plants_emerged_m2 = field.plants_emerged
    record.left_by_dryness = field.left_by_dryness
    record.left_by_flooding = field.left_by_flooding
    record.left_by_crust = field.left_by_crust


@compiled
def write_down(day: int, morning: Any, cereal: Any, column: Any, field: Any, record: Any) -> None:
    """Write the day's record.

    Parameters
    ----------
    day : int
        Season day.
    morning : record of `simulator.season.day.order.MORNING`
    cereal : record
        Parameter set.
    column : record of `simulator.season.day.state.COLUMN`
    field : record of `simulator.season.day.state.FIELD`
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
    record.irrigation_mm = field.irrigation
    record.thermal_time_degC_d = field.thermal_time
    record.growth_stage_zadoks = growth_stage(field)
    record.leaf_area_index = field.leaf_area
    record.stand_alive = 1.0 if field.emerged and field.alive else 0.0
    record.root_biomass_kg_ha = field.root
    record.killed_biomass_kg_ha = field.killed
    write_down_stand(field, record)
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
    record.nitrogen_nutrition_index = field.nutrition
    record.soil_water_start_mm = field.water_start
    record.mineral_nitrogen_start_kg_ha = field.nitrogen_start
    record.litter_nitrogen_kg_ha = field.litter
    record.seedling_kg_ha = field.seedling
    record.seedling_nitrogen_kg_ha = field.seedling_nitrogen
    record.growth_kg_ha = field.grown
    record.killed_nitrogen_kg_ha = field.killed_nitrogen
    record.soil_test_correction_kg_ha = field.test_correction
    record.shed_leaf_kg_ha = field.shed
    record.shed_nitrogen_kg_ha = field.shed_nitrogen
    write_down_errors(field, record)
    record.season_day = day
