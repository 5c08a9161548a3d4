"""What one day does with the leaves of the stand: those that unfold, those that die and fall.

No equation of its own. `simulator.season.day.stand` calls it.
"""

from __future__ import annotations

from typing import Any

from simulator.process.canopy import (
    allowed_by_nitrogen,
    drawn_from_reserves,
    leaf_expansion,
    leaf_share,
    leaf_thinness,
    room_for_leaves,
    tillering,
)
from simulator.process.compiled import compiled
from simulator.process.development import (
    leaf_appearance,
)
from simulator.process.nitrogen import (
    shoot_nitrogen,
)
from simulator.season.day.drivers import (
    LEAF_WARMTH,
    THERMAL_TIME,
    TMEAN,
)
from simulator.season.day.state import AGES

LEAVES_AT_RISK = 3.0  # new leaves until none is left that lived through the worst night


@compiled
def unfold_leaves(today: Any, gain: float, cereal: Any, field: Any, work: Any) -> None:
    """Add leaves and tillers, as far as nitrogen, water and the day's growth suffice.

    Parameters
    ----------
    today : array (columns,)
        The day's row of `simulator.season.day.drivers`.
    gain : float
        What shoots grew today [kg/ha].
    cereal : record
        Parameter set.
    field : record of `simulator.season.day.state.FIELD`
        Changed.
    work : record of `simulator.season.day.order.WORK`
    """
    leaves_today = leaf_appearance(today[THERMAL_TIME], cereal.phyllochron)
    field.leaves += leaves_today
    fed = min(field.stress, work.air) * allowed_by_nitrogen(
        field.nutrition, cereal.leaf_index_least, cereal.leaf_index_full
    )
    area_of_mass = (
        cereal.specific_leaf_area * leaf_thinness(today[TMEAN], cereal.cold_leaf_thinness) * 1e-4
    )
    drawn = drawn_from_reserves(field.leaf, field.root, cereal.reserve_rate, cereal.reserve_limit)
    field.root -= drawn
    field.shoot += drawn
    # after frost new leaves come from the crown as they came from the seed
    unfolding = max(field.leaf_area, field.plants * cereal.seedling_leaf_area * 1e-4)
    share = leaf_share(field.development, cereal.leaf_share_start, cereal.leaf_share_end)
    unfolded = min(
        fed * leaf_expansion(unfolding, today[LEAF_WARMTH], cereal.leaf_growth_rate),
        (gain * share + drawn) * area_of_mass,
        room_for_leaves(field.leaf_area, cereal.shading_limit),
    )
    field.leaf_area += unfolded
    field.leaf_ages[0] += unfolded
    field.leaf = min(field.leaf + unfolded / area_of_mass, field.shoot)
    field.leaves_spared += (1.0 - field.leaves_spared) * min(leaves_today / LEAVES_AT_RISK, 1.0)
    if field.development < 1.0:
        field.shoots += fed * tillering(field.shoots, cereal.most_shoots, leaves_today)


@compiled
def let_leaves_fall(area: float, left: float, cereal: Any, field: Any) -> None:
    """Take dead leaves off the stand, with the nitrogen that it has not drawn back from them.

    Parameters
    ----------
    area : float
        Leaf area index that died.
    left : float
        Nitrogen left in dead leaves as a share of the shoots' concentration.
    cereal : record
        Parameter set.
    field : record of `simulator.season.day.state.FIELD`
        Changed, but for its ``leaf_ages``.
    """
    if area <= 0.0:
        return
    share = min(area / field.leaf_area, 1.0)
    # before stems rise the shoot is blades and their sheaths, which die with them
    mass = share * (field.shoot if field.development < 1.0 else field.leaf)
    in_shoots = shoot_nitrogen(field.nitrogen, field.shoot, field.root, cereal.root_nitrogen_ratio)
    nitrogen = left * in_shoots * mass / field.shoot
    field.leaf_area -= share * field.leaf_area
    field.leaf -= share * field.leaf
    field.shoot -= mass
    field.shed += mass
    field.nitrogen -= nitrogen
    field.shed_nitrogen += nitrogen


@compiled
def lose_leaves(area: float, left: float, cereal: Any, field: Any) -> None:
    """Let leaves of all ages alike die and fall.

    Parameters
    ----------
    area, left, cereal, field
        See `let_leaves_fall`.
    """
    if area <= 0.0:
        return
    kept = 1.0 - area / field.leaf_area
    for age in range(AGES):
        field.leaf_ages[age] *= kept
    let_leaves_fall(area, left, cereal, field)
