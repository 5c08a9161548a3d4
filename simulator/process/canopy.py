"""Canopy: plants, tillers, leaf area, light and growth.

Leaf area is limited first by how fast leaves can expand, then by the growth there is to build
them from, and by the nitrogen there is to fill them with. Nitrogen holds back leaf area early;
a closed canopy keeps growing and dilutes what it has.
"""

from math import exp, log

from simulator.process.compiled import compiled

LIGHT_MIDDLING = 8.0  # MJ m-2 d-1 of photosynthetic light, a day of early spring at 31 N
LIGHT_HALF = 10.0  # MJ m-2 d-1 at which half of the hyperbola's height is reached


@compiled
def plants_emerging(
    seeding: float, thousand_seed_mass: float, establishment: float, most_plants: float
) -> float:
    """Plants per m2 from a seeding rate [kg/ha] and a 1000-seed mass [g].

    Parameters
    ----------
    seeding, thousand_seed_mass : float
        [kg/ha], [g].
    establishment : float
        Share of seeds that make a plant in a thin stand.
    most_plants : float
        Plants per m2 that no seeding rate can exceed: seedlings crowd each other out.

    References
    ----------
    Arithmetic of the seed drill, with establishment falling as seeds crowd: Whaley et al. (2000),
    Ann. Appl. Biol. 137:165-177 (winter wheat; from memory; hyperbola common practice).
    """
    plants = seeding * 100.0 / thousand_seed_mass * establishment
    return plants / (1.0 + plants / most_plants)


@compiled
def tillering(shoots: float, most_shoots: float, leaves_today: float) -> float:
    """Shoots per m2 that appear in a day; crowding holds them back, so a thin stand makes up.

    References
    ----------
    Without crowding the shoots of a plant follow the Fibonacci series, one generation a leaf:
    each leaf multiplies them by the golden ratio, ln 1.618 = 0.481 (Friend 1965, Can. J. Bot.
    43:161-170, from memory); logistic in crowding, common practice.
    """
    return max(0.481 * shoots * (1.0 - shoots / most_shoots), 0.0) * leaves_today


@compiled
def leaf_expansion(
    shoots: float,
    leaves_today: float,
    leaves: float,
    first_leaf_area: float,
    largest_leaf_area: float,
) -> float:
    """Leaf area index that could expand in a day, were nothing short.

    Parameters
    ----------
    shoots : float
        Shoots per m2.
    leaves_today, leaves : float
        Leaves appearing today on each shoot; leaves on the main stem so far.
    first_leaf_area, largest_leaf_area : float
        Area of the first leaf and of the largest [cm2]; in between a leaf is larger by a fifth
        of the first leaf than the one before.

    References
    ----------
    Leaf area as number times size, with size rising up the stem: Gallagher (1979), J. Exp. Bot.
    30:625-636 (from memory).
    """
    size = min(first_leaf_area * (1.0 + 0.2 * leaves), largest_leaf_area)
    return shoots * leaves_today * size * 1e-4


@compiled
def light_interception(leaf_area: float, extinction: float) -> float:
    """Share of the light that the canopy takes.

    References
    ----------
    Monsi and Saeki (1953): 1 - exp(-k LAI).
    """
    return 1.0 - exp(-extinction * leaf_area)


@compiled
def potential_growth(
    radiation: float, interception: float, radiation_use_efficiency: float
) -> float:
    """Dry matter made in a day [kg/ha] from radiation [MJ m-2 d-1], half of it photosynthetic.

    References
    ----------
    Monteith (1977), Phil. Trans. R. Soc. B 281:277-294.
    """
    return 10.0 * radiation_use_efficiency * 0.5 * radiation * interception


@compiled
def efficiency_by_light(light: float) -> float:
    """Radiation use efficiency as a share of that at a middling light: weak light is used better.

    Parameters
    ----------
    light : float
        Photosynthetic light of the day [MJ m-2 d-1].

    References
    ----------
    Canopy photosynthesis as a rectangular hyperbola of light, so that growth per light falls as
    (h + m)/(h + light): Thornley (1976), Mathematical Models in Plant Physiology (form from
    memory); h = 10 and m = 8 MJ m-2 d-1 tuned, so that rye in a maritime winter grows as in Lawson
    et al. (2015), PLoS ONE 10:e0129597.
    """
    return (LIGHT_HALF + LIGHT_MIDDLING) / (LIGHT_HALF + light)


@compiled
def root_share(development: float, at_emergence: float, at_anthesis: float) -> float:
    """Share of growth that goes to roots, falling in a line from emergence to anthesis.

    References
    ----------
    Common practice for winter cereals, no source.
    """
    part = min(development / 2.0, 1.0)
    return at_emergence + (at_anthesis - at_emergence) * part


@compiled
def leaf_share(development: float) -> float:
    """Share of shoot growth that may become leaf blade: most before elongation, none at anthesis.

    References
    ----------
    Common practice for winter cereals, no source.
    """
    if development < 1.0:
        return 0.85
    return max(0.85 * (2.0 - development), 0.0)


@compiled
def specific_leaf_nitrogen(
    shoot_nitrogen: float, shoot_mass: float, structural: float, leaf_area: float
) -> float:
    """Nitrogen in green leaves [g m-2 of leaf]: the shoot's less what its structure holds.

    Parameters
    ----------
    shoot_nitrogen, shoot_mass : float
        [kg/ha].
    structural : float
        Nitrogen that stems and dead leaves cannot give up [kg per kg].
    leaf_area : float
        Leaf area index.

    References
    ----------
    Sinclair and Horie (1989), Crop Sci. 29:90-98, leaf nitrogen per leaf area.
    """
    if leaf_area <= 0.0:
        return 0.0
    return max(shoot_nitrogen - structural * shoot_mass, 0.0) * 0.1 / leaf_area


@compiled
def expansion_by_nitrogen(leaf_nitrogen: float, least: float, full: float) -> float:
    """Share of leaf expansion that the nitrogen in the leaves allows.

    References
    ----------
    Linear between the nitrogen at which no new leaf is filled and that at which none is held
    back; after Lemaire and Gastal (1997), leaf area follows nitrogen uptake (from memory).
    """
    return min(max((leaf_nitrogen - least) / (full - least), 0.0), 1.0)


@compiled
def efficiency_by_nitrogen(leaf_nitrogen: float, threshold: float, slope: float) -> float:
    """Radiation use efficiency as a share of that of well-fed leaves.

    References
    ----------
    Sinclair and Horie (1989), Crop Sci. 29:90-98: 2/(1 + exp(-a (N - b))) - 1 with
    N in g m-2 (form from memory; a and b bounded parameters).
    """
    if leaf_nitrogen <= threshold:
        return 0.0
    return 2.0 / (1.0 + exp(-slope * (leaf_nitrogen - threshold))) - 1.0


@compiled
def senescence(
    leaf_area: float,
    thermal_time: float,
    since_emergence: float,
    leaf_life: float,
    shading_limit: float,
) -> float:
    """Leaf area index that dies of age or shade in a day.

    Parameters
    ----------
    leaf_area : float
        Green leaf area index.
    thermal_time, since_emergence : float
        Of the day and since emergence [degC d]; a young stand has no old leaves.
    leaf_life : float
        Thermal time that a leaf lives [degC d].
    shading_limit : float
        Leaf area index above which lower leaves are in the dark.

    References
    ----------
    First-order ageing in thermal time, and loss of the part above a limiting leaf area at
    5 % a day; common practice, no source.
    """
    old = min(since_emergence / leaf_life, 1.0)
    aged = old * leaf_area * thermal_time / leaf_life
    shaded = 0.05 * max(leaf_area - shading_limit, 0.0)
    return min(aged + shaded, leaf_area)


@compiled
def poor_leaf_loss(leaf_area: float, leaf_nitrogen: float, least: float) -> float:
    """Leaf area index that dies in a day of too little nitrogen in the leaves, which it gives up.

    References
    ----------
    Two hundredths a day below the least nitrogen [g m-2]; common practice, no source.
    """
    if leaf_nitrogen >= least:
        return 0.0
    return 0.02 * leaf_area


@compiled
def ripening_loss(leaf_area: float, development: float, progress: float) -> float:
    """Leaf area index that dies in a day of ripening: all of it between anthesis and ripeness.

    Parameters
    ----------
    leaf_area : float
        Green leaf area index.
    development : float
        2 at the start of anthesis, 3 when ripe.
    progress : float
        Development of the day.

    References
    ----------
    Leaves die in step with the grain's ripening; common practice, no source.
    """
    if development < 2.0:
        return 0.0
    return leaf_area * min(progress / max(3.0 - development + progress, 1e-9), 1.0)


@compiled
def leaf_thinness(temperature: float) -> float:
    """Specific leaf area as a share of its largest: leaves grown in the cold are thick.

    Parameters
    ----------
    temperature : float
        Daily mean [degC].

    References
    ----------
    Huner, Palta, Li and Carter (1981), Bot. Gaz. 142:55-62: leaves of Puma rye grown at 5 degC
    against 20 degC; a half against the whole, in a line between, is from memory.
    """
    return min(max(0.5 + (temperature - 5.0) / 30.0, 0.5), 1.0)


@compiled
def leaf_from_reserves(shoot_mass: float, leaf_area: float, specific_leaf_area: float) -> float:
    """Leaf area index that reserves can rebuild in a day, after frost has taken the leaves.

    Parameters
    ----------
    shoot_mass : float
        [kg/ha].
    leaf_area : float
        Green leaf area index.
    specific_leaf_area : float
        [m2/kg].

    References
    ----------
    One hundredth of the shoots' mass a day while leaves are less than a tenth of it; common
    practice, no source.
    """
    leaf_mass = leaf_area / specific_leaf_area * 1e4
    if leaf_mass >= 0.1 * shoot_mass:
        return 0.0
    return 0.01 * shoot_mass * specific_leaf_area * 1e-4


@compiled
def root_front(thermal_time: float, speed: float) -> float:
    """Deepening of the rooting front in a day [cm].

    References
    ----------
    Thorup-Kristensen, Salmeron Cortasa and Loges (2009), Plant Soil 322:101-114: winter cereal
    roots deepen by 1.1 to 1.5 mm per degC d (from memory).
    """
    return 0.1 * speed * thermal_time


@compiled
def rooted_share(depth: float, top: float, bottom: float) -> float:
    """Share of the soil between two depths that roots have entered which reach ``depth`` [cm].

    References
    ----------
    Geometry (mathematics).
    """
    if depth >= bottom:
        return 1.0
    return max(depth - top, 0.0) / (bottom - top)


@compiled
def root_density(top: float, bottom: float) -> float:
    """Mean density of roots between two depths [cm] as a share of that at the surface.

    References
    ----------
    Jackson et al. (1996), Oecologia 108:389-411: the share of roots above depth d is
    1 - 0.961^d for crops (from memory), so that density falls as 0.961^d.
    """
    return float((0.961**top - 0.961**bottom) / (-log(0.961) * (bottom - top)))
