"""What one day does to the residue of a stand that was ended.

`simulator.season.residue_decay` follows residue by itself, `simulator.season.day.killed` on its
soil.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator.process.compiled import compiled
from simulator.process.nitrogen import first_order
from simulator.process.residue import (
    KEPT,
    MICROBIAL_RATIO,
    decay_with_nitrogen,
    decomposition_day,
    decomposition_temperature,
    decomposition_water,
    net_mineralisation,
    residue_decay_rate,
)
from simulator.season.day.state import CARBON

# a stand's residue, in kg/ha of carbon, where it says nothing else
LOTS = np.dtype(
    [
        ("raised", np.float64),  # shoots off the ground
        ("flat", np.float64),
        ("buried", np.float64),
        ("roots", np.float64),
        ("microbes", np.float64),  # that live on them
        ("respired", np.float64),  # since termination
        ("released", np.float64),  # kg/ha of nitrogen set free since, net of tied up
        ("passed", np.float64),  # days since, each by its warmth and water
        ("wet", np.float64),  # how wet, 0 to 1
        ("shoot_ratio", np.float64),  # carbon to nitrogen
        ("root_ratio", np.float64),
        ("rate", np.float64),  # decay of shoots on the ground in a best day
        ("root_rate", np.float64),
    ]
)


@compiled
def lay_down(
    shoot: float, shoot_ratio: float, root: float, root_ratio: float, lying: Any, lots: Any
) -> None:
    """Lay a stand down as residue.

    Parameters
    ----------
    shoot, root : float
        Dry matter at termination [kg/ha].
    shoot_ratio, root_ratio : float
        Their carbon to nitrogen.
    lying : record
        Parameter set: how residue lies.
    lots : record of `LOTS`
        Filled.
    """
    carbon = CARBON * shoot
    lots.raised = carbon * lying.raised
    lots.buried = carbon * lying.buried
    lots.flat = carbon - lots.raised - lots.buried
    lots.roots = CARBON * root
    lots.shoot_ratio = shoot_ratio
    lots.root_ratio = root_ratio
    lots.rate = residue_decay_rate(shoot_ratio)
    lots.root_rate = lying.root_rate * residue_decay_rate(root_ratio)
    lots.microbes = 0.0
    lots.respired = 0.0
    lots.released = 0.0
    lots.passed = 0.0
    lots.wet = 1.0  # fresh residue is full of sap


@compiled
def decay_a_day(mean: float, rain: float, mineral: float, lying: Any, lots: Any) -> float:
    """Let residue decay for a day; return the nitrogen set free, below zero tied up [kg/ha].

    Parameters
    ----------
    mean, rain : float
        Mean temperature [degC] and rain [mm] of the day.
    mineral : float
        Mineral nitrogen about the residue [kg/ha]; infinite where that is not asked.
    lying : record
        Parameter set: how residue lies.
    lots : record of `LOTS`
        Changed.
    """
    lots.wet = decomposition_water(rain, lots.wet)
    worth = decomposition_day(decomposition_temperature(mean), lots.wet)
    lots.passed += worth
    # each lot decays at the pace of its place
    from_raised = first_order(lots.raised, lying.raised_rate * lots.rate, worth)
    from_flat = first_order(lots.flat, lots.rate, worth)
    from_buried = first_order(lots.buried, lying.buried_rate * lots.rate, worth)
    from_roots = first_order(lots.roots, lots.root_rate, worth)
    dead = first_order(lots.microbes, lying.turnover, worth)
    from_shoots = from_raised + from_flat + from_buried
    freed = (
        net_mineralisation(from_shoots, lots.shoot_ratio)
        + net_mineralisation(from_roots, lots.root_ratio)
        + net_mineralisation(dead, MICROBIAL_RATIO)
    )
    share = decay_with_nitrogen(freed, mineral)
    lots.raised -= share * from_raised
    lots.flat -= share * from_flat
    lots.buried -= share * from_buried
    lots.roots -= share * from_roots
    # microbes keep a part, die, and are eaten by others
    eaten = from_shoots + from_roots + dead
    lots.microbes += share * (KEPT * eaten - dead)
    lots.respired += share * ((1.0 - KEPT) * eaten)
    lots.released += share * freed
    # what stands or hangs comes down
    down = first_order(lots.raised, lying.settling, 1.0)
    lots.raised -= down
    lots.flat += down
    return share * freed


@compiled
def on_the_ground(lying: Any, lots: Any) -> float:
    """Dry matter on the ground, what is raised by its cover [kg/ha].

    Parameters
    ----------
    lying : record
        Parameter set: how residue lies.
    lots : record of `LOTS`
    """
    return float((lots.flat + lying.raised_cover * lots.raised) / CARBON)
