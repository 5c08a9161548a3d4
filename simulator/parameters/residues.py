"""How residue lies after termination, and what that does to its decay."""

from __future__ import annotations

from dataclasses import dataclass, replace

from simulator.parameters.bounded import BoundedSet, bounded, choose
from simulator.problems import fault

_GUESS = "common practice, no source"
_PLACED = (
    "mean over corn, soybean, wheat, sorghum and cotton of the ratios of first-order rates made"
    " from mass lost in one year, Ghidey and Alberts (1993), Missouri (abstract)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lie(BoundedSet):
    """How residue lies; the defaults are those of a rolled stand."""

    name: str = "rolled"
    source: str = "values of each parameter as listed"

    raised: float = bounded(
        0.2, "1", 0.0, 1.0, "share of shoots that the end leaves off the ground", _GUESS
    )
    buried: float = bounded(0.0, "1", 0.0, 1.0, "share of shoots that it buries", _GUESS)
    settling: float = bounded(
        0.02, "d-1", 0.0, 0.2, "share of raised residue that comes down in a day", _GUESS
    )
    raised_cover: float = bounded(
        1.0, "1", 0.0, 1.0, "ground that raised residue covers as a share of that of flat", _GUESS
    )
    area: float = bounded(
        0.00053,
        "ha kg-1",
        0.0002,
        0.002,
        "ground that a mass of flat residue would cover without overlap",
        "Gregory (1982), small grain of Agriculture Handbook 703 (from memory)",
    )
    raised_rate: float = bounded(
        0.5, "1", 0.1, 1.0, "decay of raised residue as a share of that on the ground", _PLACED
    )
    buried_rate: float = bounded(
        1.7, "1", 0.5, 4.0, "decay of buried residue against that on the ground", _PLACED
    )
    root_rate: float = bounded(
        1.2,
        "1",
        0.3,
        4.0,
        "decay of dead roots against residue on the ground of their C:N",
        _PLACED,
    )
    turnover: float = bounded(
        0.008,
        "d-1",
        0.0,
        0.1,
        "microbial carbon that dies in a decomposition day",
        "microbial biomass renews in one to two years (from memory)",
    )

    def __post_init__(self) -> None:
        BoundedSet.__post_init__(self)
        if self.raised + self.buried > 1.0:
            raise fault(
                f"{self.name}: raised, buried",
                f"{self.raised:g} and {self.buried:g} add up to more than 1.",
                "What is neither raised nor buried lies flat.",
            )


rolled = Lie()
_LIES = (
    replace(rolled, name="standing", raised=0.9, settling=0.01, raised_cover=0.3),
    replace(rolled, name="flat", raised=0.0),
    rolled,
    replace(rolled, name="buried", raised=0.0, buried=0.9),
)
LIES = {lie.name: lie for lie in _LIES}


def lie(name: str) -> Lie:
    """Return how residue lies by name.

    Raises
    ------
    InputError
        No such way.
    """
    return choose(LIES, name, "residue")
