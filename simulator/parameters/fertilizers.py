"""Fertilizers: how their nitrogen is made up, and how fast it changes."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.parameters.bounded import BoundedSet, bounded, choose
from simulator.problems import fault

_GUESS = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fertilizer(BoundedSet):
    """Shares of nitrogen by form; what is none of the three is organic."""

    name: str = "ammonium nitrate"
    source: str = "values of each parameter as listed"

    nitrate: float = bounded(0.5, "1", 0.0, 1.0, "share that is nitrate", "composition of the salt")
    ammonium: float = bounded(
        0.5, "1", 0.0, 1.0, "share that is ammonium", "composition of the salt"
    )
    urea: float = bounded(0.0, "1", 0.0, 1.0, "share that is urea", "composition of the salt")
    hydrolysis_rate: float = bounded(
        0.7,
        "d-1",
        0.05,
        3.0,
        "urea turned to ammonium in a day at 35 degC, moist",
        "gone in one to two weeks at 15 degC, common practice",
    )
    volatilisation: float = bounded(
        0.03,
        "d-1",
        0.0,
        0.3,
        "share of urea lost from the surface as ammonia on a dry day at 35 degC",
        _GUESS,
    )
    organic_rate: float = bounded(
        0.03,
        "d-1",
        0.0,
        0.3,
        "organic nitrogen set free in a day at 35 degC, moist",
        "about half of poultry litter's in its first season, common practice",
    )

    def __post_init__(self) -> None:
        BoundedSet.__post_init__(self)
        if self.nitrate + self.ammonium + self.urea > 1.0 + 1e-9:
            raise fault(
                f"{self.name}: nitrate, ammonium, urea", "The shares add up to more than 1."
            )


_KINDS = (
    Fertilizer(),
    Fertilizer(name="nitrate", nitrate=1.0, ammonium=0.0),
    Fertilizer(name="ammonium", nitrate=0.0, ammonium=1.0),
    Fertilizer(name="urea", nitrate=0.0, ammonium=0.0, urea=1.0),
    Fertilizer(name="urea ammonium nitrate", nitrate=0.25, ammonium=0.25, urea=0.5),
    # its ammonium and uric acid lie on the surface and are lost as urea is
    Fertilizer(name="poultry litter", nitrate=0.0, ammonium=0.0, urea=0.35),
)
FERTILIZERS = {kind.name: kind for kind in _KINDS}


def fertilizer(name: str | Fertilizer) -> Fertilizer:
    """Return a fertilizer by name; a set comes back as it is.

    Raises
    ------
    InputError
        No fertilizer of that name.
    """
    return choose(FERTILIZERS, name, "fertilizer")
