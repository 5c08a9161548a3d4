"""What is known of a cereal: each number with its unit, bounds and source."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.parameters.bounded import BoundedSet, bounded

MEDIUM = "medium"  # the variety that the numbers are those of
_GUESS = "common practice, no source"
_TUNED = (
    "fitted within the range to the rye trials of Huddell et al. (2024), Scientific Data 11:200,"
    " and to what is expected of a mild humid winter: see docs/calibration.md"
)
_STAGES = (
    "fitted with the rest to stages of rye in the trials of Huddell et al. (2024); wheat heads as"
    " in Germany (Scientific Data 2024, s41597-024-04332-7)"
)
_SEEDS = "wheat, Ellis and Hong (2007), Seed Sci. Technol. 35:432-444 (abstract)"
_WE_TUNED = (
    "Wang and Engel (1998) have 24 degC, 8 h and 20 h for wheat (from memory); tuned with the"
    " stages"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cereal(BoundedSet):
    """A fall-sown cereal; the defaults are those of rye."""

    name: str = "rye"
    source: str = "values of each parameter as listed"
    variety: str = MEDIUM  # as `simulator.parameters.varieties.grown_as` has it

    # seed and stand
    thousand_seed_mass: float = bounded(
        25.0, "g", 15.0, 60.0, "mass of a thousand seeds", "trade handbooks, from memory"
    )
    establishment: float = bounded(
        0.85, "1", 0.2, 1.0, "share of seeds that make a plant in a thin stand", _GUESS
    )
    most_plants: float = bounded(
        700.0, "m-2", 300.0, 5000.0, "plants that no seeding rate exceeds", _GUESS
    )
    sowing_depth: float = bounded(2.5, "cm", 0.5, 10.0, "depth of sowing", _GUESS)
    seed_viability: float = bounded(
        1.645, "1", 0.5, 3.0, "viability of the seed sown, in probits: 1.645 is 95 %", _GUESS
    )
    seed_life: float = bounded(
        8.498,
        "1",
        8.37,
        8.62,
        "logarithm of the days in which seed loses a probit of viability, before its moisture and"
        " warmth count; bounds: a quarter less and a third more days",
        f"{_SEEDS}; the other cereals as wheat; bounds without a source",
    )
    seed_life_wetness: float = bounded(
        4.836,
        "1",
        4.74,
        4.93,
        "fall of that logarithm with that of the seed's moisture; bounds: the same at 20 percent",
        f"{_SEEDS}; bounds without a source",
    )
    flood_borne: float = bounded(
        2.0,
        "d",
        0.0,
        6.0,
        "days of flooding without a break that seed and seedlings in the soil bear",
        "most annual crops bear 24 to 48 hours of flooding, Manitoba Agriculture (web page)",
    )
    flood_loss: float = bounded(
        0.386,
        "d-1",
        0.0,
        1.5,
        "seed and seedlings in the soil lost in a day of flooding beyond those",
        "6 days of waterlogging before emergence left 12 % (clay) and 38 % (sandy loam) of winter"
        " wheat, Cannell et al. (1980), J. Sci. Food Agric. 31:117-132: the mean of the logarithms,"
        " over 4 days",
    )
    most_shoots: float = bounded(640.0, "m-2", 300.0, 2500.0, "shoots that crowding allows", _TUNED)

    # development
    phyllochron: float = bounded(
        85.0,
        "degC d",
        50.0,
        150.0,
        "thermal time from one leaf to the next",
        "Rickman and Rasmussen (1985): 80 to 120 above 0 degC",
    )
    development_best: float = bounded(
        20.0, "degC", 15.0, 30.0, "temperature of fastest development", _WE_TUNED
    )
    development_lowest: float = bounded(
        0.0,
        "degC",
        -3.0,
        5.0,
        "temperature at and below which development stands still",
        "Wang and Engel (1998) for wheat, from memory",
    )
    development_highest: float = bounded(
        35.0,
        "degC",
        31.0,
        45.0,
        "temperature at and above which development stands still",
        "Wang and Engel (1998) for wheat, from memory",
    )
    vernal_half: float = bounded(
        18.7,
        "d",
        1.0,
        40.0,
        "vernalization for half of full speed",
        "Streck et al. (2003): 22.5 for winter wheat; rye fitted, others common practice",
    )
    critical_photoperiod: float = bounded(
        10.5, "h", 0.0, 12.0, "civil daylength below which development stops", _WE_TUNED
    )
    optimum_photoperiod: float = bounded(
        17.0, "h", 12.0, 24.0, "civil daylength of fastest development", _WE_TUNED
    )
    vegetative_rate: float = bounded(
        0.105, "d-1", 0.01, 0.2, "fastest daily progress from emergence to stem elongation", _STAGES
    )
    elongation_rate: float = bounded(
        0.0291, "d-1", 0.01, 0.2, "fastest daily progress from elongation to anthesis", _STAGES
    )
    ripening_rate: float = bounded(
        0.03, "d-1", 0.01, 0.1, "fastest daily progress from anthesis to ripeness", _GUESS
    )

    # canopy
    seed_reserve: float = bounded(
        0.5, "1", 0.2, 0.8, "share of the seed's mass that becomes seedling", _GUESS
    )
    seedling_leaf_area: float = bounded(
        4.76, "cm2", 0.3, 5.0, "leaf area of a plant at emergence", _TUNED
    )
    leaf_growth_rate: float = bounded(
        0.00512,
        "degC-1 d-1",
        0.004,
        0.03,
        "relative growth of leaf area in a young stand",
        "about 0.009 above 0 degC for winter wheat, from memory; tuned within the range",
    )
    leaf_base: float = bounded(
        1.62, "degC", 0.0, 6.0, "temperature above which leaf area grows", _TUNED
    )
    specific_leaf_area: float = bounded(
        34.3,
        "m2 kg-1",
        15.0,
        55.0,
        "largest leaf area built from a mass of leaf at 20 degC",
        "winter wheat in the field 20 to 28, from memory, where it is cooler; fitted with the rest",
    )
    cold_leaf_thinness: float = bounded(
        0.776,
        "1",
        0.3,
        1.0,
        "specific leaf area of leaves grown at 5 degC as a share of those at 20",
        "Huner et al. (1981), Puma rye, from memory; tuned within the range",
    )
    leaf_share_start: float = bounded(
        0.738, "1", 0.4, 0.95, "share of shoot growth to leaves before elongation", _TUNED
    )
    leaf_share_end: float = bounded(
        0.23, "1", 0.0, 0.6, "share of shoot growth to leaves when the flag leaf is out", _TUNED
    )
    extinction: float = bounded(
        0.59, "1", 0.35, 0.75, "light extinction", "0.45 to 0.65, from memory"
    )
    radiation_use_efficiency: float = bounded(
        3.23,
        "g MJ-1",
        1.0,
        4.0,
        "dry matter, roots included, from a unit of photosynthetic light taken",
        "winter wheat 2.2 to 3.0 above ground before anthesis, from memory; here with roots, at"
        " middling light, fitted with the rest",
    )
    light_half: float = bounded(
        10.0,
        "MJ m-2 d-1",
        3.0,
        40.0,
        "photosynthetic light at which half of the hyperbola's height is reached",
        "tuned, so that rye in a maritime winter grows as in Lawson et al. (2015), PLoS ONE"
        " 10:e0129597; form of Thornley (1976), from memory",
    )
    growth_lowest: float = bounded(
        -2.48,
        "degC",
        -5.0,
        8.0,
        "daytime temperature below which nothing grows",
        "base 0 to 5 (cardinal temperature tables)",
    )
    growth_best: float = bounded(
        18.0, "degC", 12.0, 30.0, "daytime temperature of fastest growth", _TUNED
    )
    growth_highest: float = bounded(
        35.0,
        "degC",
        28.0,
        45.0,
        "daytime temperature above which nothing grows",
        "31 to 37 (cardinal temperature tables)",
    )
    leaf_life: float = bounded(
        421.0,
        "degC d",
        300.0,
        2000.0,
        "mean thermal time that a leaf lives before stems rise",
        _TUNED,
    )
    last_leaf_life: float = bounded(
        1640.0, "degC d", 300.0, 2000.0, "the same from stem elongation on", _TUNED
    )
    shading_limit: float = bounded(
        6.0, "1", 3.0, 10.0, "leaf area index above which new leaves shade out old ones", _GUESS
    )
    root_share_start: float = bounded(
        0.417, "1", 0.1, 0.7, "share of growth to roots before elongation", _TUNED
    )
    root_share_end: float = bounded(
        0.10, "1", 0.0, 0.4, "share of growth to roots at anthesis", _GUESS
    )
    reserve_rate: float = bounded(
        0.01,
        "d-1",
        0.0,
        0.05,
        "share of the roots' mass given in a day to grow leaves anew after frost",
        _GUESS,
    )
    reserve_limit: float = bounded(
        0.1,
        "1",
        0.0,
        0.5,
        "mass of green leaves as a share of the roots' below which roots give for new ones",
        _GUESS,
    )
    root_shape: float = bounded(
        0.961,
        "1",
        0.943,
        0.976,
        "root density a centimetre deeper as a share of that above it",
        "Jackson et al. (1996): crops; temperate grassland to temperate forest, from memory",
    )
    root_speed: float = bounded(
        1.3,
        "mm degC-1 d-1",
        0.5,
        3.0,
        "deepening of roots",
        "Thorup-Kristensen et al. (2009): 1.1 to 1.5, from memory",
    )
    deepest_roots: float = bounded(
        120.0,
        "cm",
        30.0,
        250.0,
        "depth that roots reach in open soil",
        "FAO paper 56 table 22: 100 to 180 cm",
    )

    # nitrogen
    seed_nitrogen: float = bounded(0.018, "kg kg-1", 0.01, 0.03, "nitrogen in seed", _GUESS)
    luxury: float = bounded(
        1.52,
        "1",
        1.0,
        1.8,
        "most nitrogen of shoots as a multiple of the critical",
        "maximum curve of Justes et al. (1994): 8.3/5.35, from memory; tuned within the range",
    )
    richest: float = bounded(
        0.0534,
        "kg kg-1",
        0.035,
        0.07,
        "highest nitrogen concentration of shoots",
        "rye of 0.7 to 1.5 t/ha with 202 kg/ha of nitrogen 4.4 %, Huddell et al. (2024)",
    )
    root_nitrogen_ratio: float = bounded(
        0.366, "1", 0.2, 1.0, "concentration of roots as a share of the shoots'", _TUNED
    )
    growth_index_least: float = bounded(
        0.207,
        "1",
        0.0,
        0.4,
        "nitrogen nutrition index at which growth stops",
        "minimum curve of Justes et al. (1994): 2.0/5.35, from memory; rye dilutes further",
    )
    growth_index_full: float = bounded(
        0.385,
        "1",
        0.3,
        1.0,
        "nitrogen nutrition index from which on growth is free",
        _TUNED,
    )
    leaf_index_least: float = bounded(
        0.349,
        "1",
        0.0,
        0.5,
        "nitrogen nutrition index at which no leaf expands",
        _TUNED,
    )
    leaf_index_full: float = bounded(
        0.796,
        "1",
        0.3,
        1.5,
        "nitrogen nutrition index from which on leaves expand freely",
        _TUNED,
    )
    left_in_old_leaves: float = bounded(
        0.577,
        "1",
        0.1,
        1.0,
        "nitrogen left in leaves that die of age as a share of the shoots' concentration",
        _GUESS,
    )
    most_uptake: float = bounded(
        4.0, "kg ha-1 d-1", 1.0, 10.0, "most nitrogen taken up in a day", _GUESS
    )
    uptake_rate: float = bounded(
        0.949,
        "d-1",
        0.01,
        1.0,
        "share of nitrate that a full root system takes from a layer in a day",
        _TUNED,
    )
    root_mass_half: float = bounded(
        101.0,
        "kg ha-1",
        50.0,
        2000.0,
        "root mass at which uptake is half of a full root system's",
        _TUNED,
    )

    # water
    smallest_crop_coefficient: float = bounded(
        0.15,
        "1",
        0.0,
        0.5,
        "transpiration of bare soil as a share of reference",
        "FAO paper 56 table 17",
    )
    full_crop_coefficient: float = bounded(
        1.10, "1", 0.8, 1.3, "transpiration under full leaf", "FAO paper 56 table 17"
    )
    depletion_fraction: float = bounded(
        0.369,
        "1",
        0.2,
        0.8,
        "share of water taken without stress",
        "FAO paper 56 table 22 has 0.55 (p); fitted with the rest",
    )

    # frost
    tender_leaf: float = bounded(
        -5.0,
        "degC",
        -12.0,
        -2.0,
        "LT50 of the leaves of a stand that is not hardened, by air temperature",
        _GUESS,
    )
    hardiest: float = bounded(
        -28.0,
        "degC",
        -36.0,
        -5.0,
        "lowest LT50",
        "Puma rye -33, Norstar wheat -24, winter oat -4 to -7 or lower (PMC10202904 table 2); "
        "common varieties are less hardy",
    )
