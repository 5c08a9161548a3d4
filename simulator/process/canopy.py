"""Canopy: plants, tillers, leaf area, light and growth.

Leaf area is limited first by how fast leaves can expand, then by the growth there is to build
them from, and by the nitrogen there is to fill them with. Nitrogen holds back leaf area early;
a closed canopy keeps growing and dilutes what it has.
"""

from math import exp, log

import numpy as np

from simulator.process.compiled import compiled
from simulator.process.development import LAST_LEAF

Array = np.ndarray[tuple[int], np.dtype[np.float64]]

LIGHT_MIDDLING = 8.0  # MJ m-2 d-1 of photosynthetic light, a day of early spring at 31 N
TILLERS = 0.481  # a leaf, without crowding: ln of the golden ratio, of Fibonacci's series
COLD_LEAF, WARM_LEAF = 5.0, 20.0  # degC of the leaves compared by Huner et al. (1981)
PHOTOSYNTHETIC = 0.5  # of sunlight, by energy: common practice


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
    return max(TILLERS * shoots * (1.0 - shoots / most_shoots), 0.0) * leaves_today


@compiled
def leaf_expansion(leaf_area: float, warmth: float, relative_rate: float) -> float:
    """Leaf area index that could expand in a day, were nothing short.

    Young leaf area multiplies: new leaves and tillers come in proportion to those there are.

    Parameters
    ----------
    leaf_area : float
        Green leaf area index.
    warmth : float
        Thermal time of the day above the base for leaf growth [degC d].
    relative_rate : float
        Relative growth of leaf area [per degC d].

    References
    ----------
    Exponential growth of leaf area in thermal time while leaves, not light, set the pace: Goudriaan
    and van Laar (1994), Modelling Potential Crop Growth Processes, Kluwer, ch. 5 (from memory).
    """
    return leaf_area * (exp(relative_rate * warmth) - 1.0)


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
    return 10.0 * radiation_use_efficiency * PHOTOSYNTHETIC * radiation * interception


@compiled
def efficiency_by_light(light: float, half: float) -> float:
    """Radiation use efficiency as a share of that at a middling light: weak light is used better.

    Parameters
    ----------
    light : float
        Photosynthetic light of the day [MJ m-2 d-1].
    half : float
        Light at which half of the hyperbola's height is reached [MJ m-2 d-1].

    References
    ----------
    Canopy photosynthesis as a rectangular hyperbola of light, so that growth per light falls as
    (h + m)/(h + light): Thornley (1976), Mathematical Models in Plant Physiology (form from
    memory); the middling light m = 8 MJ m-2 d-1 is that for which the efficiency is given.
    """
    return (half + LIGHT_MIDDLING) / (half + light)


@compiled
def root_share(development: float, at_first: float, at_anthesis: float) -> float:
    """Share of growth that goes to roots: falls in a line from stem elongation to anthesis.

    References
    ----------
    Roots and crown come first until stems rise; common practice for winter cereals, no source.
    """
    part = min(max(development - 1.0, 0.0), 1.0)
    return at_first + (at_anthesis - at_first) * part


@compiled
def leaf_share(development: float, at_first: float, at_last_leaf: float) -> float:
    """Share of shoot growth that may become leaf: less from stem elongation on.

    Parameters
    ----------
    development : float
        1 at stem elongation, `LAST_LEAF` when the flag leaf is out, after which none is made.
    at_first, at_last_leaf : float
        Share before elongation, and when the flag leaf is out; in a line between.

    References
    ----------
    Partitioning by stage, common practice for winter cereals, no source.
    """
    part = min(max((development - 1.0) / (LAST_LEAF - 1.0), 0.0), 1.0)
    return at_first + (at_last_leaf - at_first) * part


@compiled
def allowed_by_nitrogen(index: float, least: float, full: float) -> float:
    """Share of growth, or of leaf expansion, that nitrogen in the shoots allows.

    Parameters
    ----------
    index : float
        Nitrogen nutrition index, see `simulator.process.nitrogen.nutrition_index`.
    least, full : float
        Index at which there is none, and from which on nitrogen holds nothing back.

    References
    ----------
    Linear between a least and a sufficient concentration: Angus and Moncur (1985), Aust. J.
    Agric. Res. 36:537-544 (from memory). Leaves expand less before growth suffers: Lemaire and
    Gastal (1997), in Diagnosis of the Nitrogen Status in Crops (from memory).
    """
    return min(max((index - least) / (full - least), 0.0), 1.0)


@compiled
def grow_old(leaf_ages: Array, thermal_time: float, leaf_life: float) -> float:
    """Let leaves grow older, and return the leaf area index that dies of age in a day.

    Leaves pass through classes of age one after the other, so that few die young and most near
    their age.

    Parameters
    ----------
    leaf_ages : array (class,)
        Leaf area index of each class of age, the youngest first; changed in place.
    thermal_time : float
        Of the day [degC d].
    leaf_life : float
        Mean thermal time from a leaf's expansion to its death [degC d].

    References
    ----------
    A train of first-order classes, in which ages at death follow an Erlang distribution: Manetsch
    (1976), IEEE Trans. Syst. Man Cybern. 6:547-553 (from memory).
    """
    classes = leaf_ages.size
    passing = 1.0 - exp(-classes * thermal_time / leaf_life)
    died = leaf_ages[classes - 1] * passing
    for age in range(classes - 1, 0, -1):
        leaf_ages[age] += passing * (leaf_ages[age - 1] - leaf_ages[age])
    leaf_ages[0] -= passing * leaf_ages[0]
    return float(died)


@compiled
def room_for_leaves(leaf_area: float, shading_limit: float) -> float:
    """Leaf area index that there is still light for: above a limit new leaves shade out old ones.

    References
    ----------
    At an extinction of 0.6 a leaf area index of 6 lets 3 % of the light through, about what a leaf
    needs to live (mathematics; the share is common practice, no source).
    """
    return max(shading_limit - leaf_area, 0.0)


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
def leaf_thinness(temperature: float, in_the_cold: float) -> float:
    """Specific leaf area as a share of its largest: leaves grown in the cold are thick.

    Parameters
    ----------
    temperature : float
        Daily mean [degC].
    in_the_cold : float
        The share at 5 degC and below; 1 is reached at 20 degC, in a line between.

    References
    ----------
    Huner, Palta, Li and Carter (1981), Bot. Gaz. 142:55-62: leaves of Puma rye grown at 5 degC
    against 20 degC (from memory).
    """
    part = min(max((temperature - COLD_LEAF) / (WARM_LEAF - COLD_LEAF), 0.0), 1.0)
    return in_the_cold + (1.0 - in_the_cold) * part


@compiled
def drawn_from_reserves(leaf: float, root: float, rate: float, limit: float) -> float:
    """Dry matter [kg/ha] that roots and crown give in a day to grow leaves anew after frost.

    Parameters
    ----------
    leaf, root : float
        Dry mass of green leaves and of roots [kg/ha].
    rate : float
        Share of the roots' mass that is given in a day.
    limit : float
        Leaves as a share of the roots' mass below which it is given.

    References
    ----------
    Common practice, no source.
    """
    return rate * root if leaf < limit * root else 0.0


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
def root_density(top: float, bottom: float, shape: float) -> float:
    """Mean density of roots between two depths [cm] as a share of that at the surface.

    References
    ----------
    Jackson et al. (1996), Oecologia 108:389-411: the share of roots above depth d is
    1 - b^d, b 0.961 for crops (from memory), so that density falls as b^d; ``shape`` is b.
    """
    return float((shape**top - shape**bottom) / (-log(shape) * (bottom - top)))
