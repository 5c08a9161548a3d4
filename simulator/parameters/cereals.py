"""The five cereals."""

from __future__ import annotations

from dataclasses import replace

from simulator.parameters.bounded import choose
from simulator.parameters.cereal_set import Cereal

__all__ = ["CEREALS", "Cereal", "barley", "cereal", "oat", "rye", "triticale", "wheat"]

rye = Cereal()
wheat = replace(
    rye,
    name="wheat",
    thousand_seed_mass=38.0,
    most_shoots=600.0,
    phyllochron=95.0,
    vernal_half=22.5,
    vegetative_rate=0.074,
    elongation_rate=0.0215,
    growth_lowest=-1.5,
    growth_best=19.0,
    radiation_use_efficiency=3.07,
    sowing_depth=3.5,
    hardiest=-20.0,
)
triticale = replace(
    rye,
    name="triticale",
    thousand_seed_mass=40.0,
    most_shoots=550.0,
    phyllochron=90.0,
    vernal_half=15.0,
    vegetative_rate=0.078,
    elongation_rate=0.0225,
    growth_lowest=-2.0,
    hardiest=-22.0,
)
barley = replace(
    rye,
    name="barley",
    thousand_seed_mass=42.0,
    phyllochron=80.0,
    vernal_half=10.0,
    vegetative_rate=0.08,
    elongation_rate=0.023,
    growth_lowest=-1.0,
    growth_best=19.0,
    radiation_use_efficiency=3.07,
    hardiest=-14.0,
)
oat = replace(
    rye,
    name="oat",
    thousand_seed_mass=32.0,
    most_shoots=550.0,
    phyllochron=90.0,
    vernal_half=7.0,
    vegetative_rate=0.068,
    elongation_rate=0.0205,
    growth_lowest=-1.0,
    growth_best=19.0,
    radiation_use_efficiency=3.07,
    hardiest=-9.0,
)

CEREALS = {cereal.name: cereal for cereal in (rye, wheat, triticale, barley, oat)}


def cereal(name: str | Cereal) -> Cereal:
    """Return a cereal by name; a set comes back as it is.

    Raises
    ------
    InputError
        No cereal of that name.
    """
    return choose(CEREALS, name, "cereal")
