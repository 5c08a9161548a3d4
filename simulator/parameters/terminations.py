"""Ways to end a stand: what share of it each kills by growth stage, and when its seed is set."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from simulator.parameters.bounded import BoundedSet, bounded, choose

Array = np.ndarray[Any, Any]

ENOUGH_KILL = 0.90  # wanted before planting, Kornecki et al. (2012), HortScience 47(2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way to end a stand, and the share of it that dies by growth stage.

    Parameters
    ----------
    name, by, field : str
        As tables and sentences call it; as a row has it.
    tool, lie : str
        As it is asked for, and how the residue then lies: a name of
        `simulator.parameters.residues`.
    stages : tuple of float
        Zadoks stages at which shares are known; straight lines between them.
    low, middle, high : tuple of float
        Share killed: the range of trials, and what is expected.
    source : str
    """

    name: str
    by: str
    field: str
    tool: str
    lie: str
    stages: tuple[float, ...]
    low: tuple[float, ...]
    middle: tuple[float, ...]
    high: tuple[float, ...]
    source: str

    def kill(self, stage: Array, which: str = "middle") -> Array:
        """Share killed at Zadoks stages, any shape; never less at a later stage; NaN for NaN."""
        return np.asarray(np.interp(stage, self.stages, getattr(self, which)))

    def left(self, stage: Array, which: str = "middle") -> Array:
        """Share that lives on and grows back: what is not killed."""
        other = {"low": "high", "high": "low"}.get(which, which)
        return np.asarray(1.0 - self.kill(stage, other))


ROLLED = Way(
    name="rolled", by="rolling", field="kill_rolled", tool="roller", lie="rolled",
    stages=(30, 39, 61, 75, 85),
    low=(0.0, 0.10, 0.40, 0.85, 0.90),
    middle=(0.02, 0.19, 0.75, 0.92, 0.95),
    high=(0.05, 0.30, 1.00, 1.00, 1.00),
    source="Ashford and Reeves (2003): 19 % at flag leaf, about 95 % from milk to soft dough (from "
    "memory); flowering from 40 to 99 % three weeks on: Kornecki et al. (2012), Kornecki (2015); "
    "consistent at Zadoks 61: Mirsky et al. (2009)",
)  # fmt: skip
SPRAYED = Way(
    name="sprayed",
    by="herbicide",
    field="kill_sprayed",
    tool="herbicide",
    lie="standing",
    stages=(20, 30),
    low=(0.85, 0.90),
    middle=(0.94, 0.94),
    high=(0.99, 0.99),
    source="Ashford and Reeves (2003), full rate about 94 % (from memory); effective at almost any "
    "stage: Penn State Extension (2011)",
)
BOTH = Way(
    name="sprayed and rolled", by="herbicide and rolling",
    field="kill_sprayed_and_rolled", tool="herbicide and roller", lie="rolled",
    stages=(20, 30, 61, 75),
    low=(0.85, 0.90, 0.90, 0.90), middle=(0.94, 0.94, 0.94, 0.96), high=(0.99, 0.99, 0.99, 0.99),
    source="Ashford and Reeves (2003): at anthesis half rate and roller equal full rate, about "
    "94 % (from memory)",
)  # fmt: skip
MOWN = Way(
    name="mown", by="mowing", field="kill_mown", tool="mowing", lie="flat",
    stages=(30, 39, 45, 61, 69),
    low=(0.0, 0.10, 0.70, 0.80, 0.93),
    middle=(0.05, 0.30, 0.85, 0.92, 0.98),
    high=(0.50, 0.50, 0.90, 0.98, 1.00),
    source="Wilkins and Bellinder (1996), Weed Technol. 10 (abstract): of rye cut before boot more "
    "than half of all dry matter was regrowth 8 weeks on, cut at boot 10 and 20 %, after flowering "
    "none that could be measured; between these common practice, no source",
)  # fmt: skip
TILLED = Way(
    name="tilled",
    by="tillage",
    field="kill_tilled",
    tool="tillage",
    lie="buried",
    stages=(20, 75),
    low=(0.75, 0.75),
    middle=(0.90, 0.90),
    high=(0.99, 0.99),
    source="common practice, no source: one thorough pass; wet soil and heavy growth make it two",
)
WAYS = (ROLLED, MOWN, SPRAYED, BOTH, TILLED)
TOOLS = {way.tool: way for way in WAYS}


def way_of(tool: str) -> Way:
    """Return a way to end a stand by its tool: roller, mowing, herbicide, tillage.

    Raises
    ------
    InputError
        No such way.
    """
    return choose(TOOLS, tool, "kill")


def way_for(lie: str) -> Way:
    """Return the way that leaves residue lying so; the first of several."""
    return next(way for way in WAYS if way.lie == lie)


@dataclass(frozen=True, slots=True, kw_only=True)
class Seed(BoundedSet):
    """When a stand's seed is viable; the same for every cereal."""

    name: str = "seed"
    source: str = "values of each parameter as listed"

    milk_stage: float = bounded(
        73.0,
        "1",
        71.0,
        85.0,
        "growth stage (Zadoks) from which on seed may be viable",
        "Smith, Brennan and Lundy (2022), University of California Cooperative Extension: end rye, "
        "triticale and oat no later than watery ripe, before the seed is milky",
    )
    days_after_heading: float = bounded(
        30.0,
        "d",
        14.0,
        50.0,
        "days after heading (Zadoks 55) from which on seed is taken as set",
        "Hoorman (2024), extension column: rye seed is viable 30 days after heading; rye cut 30 "
        "days after heading made stands like rye cut at 45 when sown in time (trial sown in 1985, "
        "summary seen)",
    )
    heading_off: float = bounded(
        6.0,
        "d",
        0.0,
        20.0,
        "days by which the model's heading and flowering are off, standard deviation",
        "Zadoks 60 of rye in the open trials, 36 samplings: 6.0 days as shipped, 6.2 with the "
        "place left out (docs/skill.md)",
    )


SEED = Seed()
