"""Soils by texture, and what the previous crop leaves in them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp

import numpy as np

from simulator.parameters.bounded import BoundedSet, bounded, choose
from simulator.problems import Parameter, fault

MIDDLE = 37.0  # degrees north, where a texture has the organic matter that is listed

_FAO = "within the range of FAO paper 56 table 19"
_GUESS = "common practice, no source"
_TUNED = "common practice, tuned within the range to what is expected of a mild humid winter"
_TEST = "the grower's soil test; none is given by default"
_TR55 = "NEH-630 ch. 9 / TR-55 table 2-2, small grain on hydrologic group A, B, C, D (from memory)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Soil(BoundedSet):
    """A soil texture; the defaults are those of sandy loam."""

    name: str = "sandy loam"
    source: str = "values of each parameter as listed"

    field_capacity: float = bounded(0.18, "m3 m-3", 0.05, 0.45, "water held against drainage", _FAO)
    wilting_point: float = bounded(
        0.075, "m3 m-3", 0.01, 0.30, "water that roots cannot take", _FAO
    )
    saturation: float = bounded(0.43, "m3 m-3", 0.30, 0.60, "pore space", "1 - bulk density/2.65")
    drain_rate: float = bounded(
        0.42, "d-1", 0.05, 1.0, "share of water above field capacity that drains in a day", _TUNED
    )
    readily_evaporable: float = bounded(8.0, "mm", 2.0, 12.0, "water that evaporates freely", _FAO)
    curve_number: float = bounded(
        63.0, "1", 30.0, 98.0, "runoff curve number, average moisture", _TR55
    )
    bulk_density: float = bounded(1.50, "t m-3", 0.8, 1.8, "bulk density", _GUESS)
    organic_matter: float = bounded(
        2.1, "percent", 0.2, 8.0, "organic matter of the top 20 cm", _TUNED
    )
    organic_matter_gradient: float = bounded(
        0.0541,
        "1",
        0.0,
        0.15,
        "rise of organic matter for each degree of latitude north of 37, as a share; 0 where it "
        "was measured",
        "it doubles or more for each 10 degC that a climate is colder, Jenny (1930), Missouri"
        " Agric. Exp. Stn. Res. Bull. 152 (from memory); tuned within the range",
    )
    mineralisation_rate: float = bounded(
        0.000361,
        "d-1",
        2e-5,
        1e-3,
        "organic nitrogen set free in a day at 35 degC, moist",
        "2 % a year at the year's mean of a temperate soil (soilsconnect.com.au Q97); first order",
    )
    immobilisation_rate: float = bounded(
        0.0587,
        "d-1",
        0.0,
        0.2,
        "topsoil nitrate taken by microbes in a day at 35 degC, moist",
        "a fifth to a third of labelled fertilizer is in soil organic matter at harvest, "
        "Pilbeam (1996), Fert. Res. 45:209-215 (from memory)",
    )
    nitrification_rate: float = bounded(
        0.73, "d-1", 0.05, 1.0, "ammonium turned to nitrate in a day at 35 degC, moist", _TUNED
    )
    denitrification_rate: float = bounded(
        0.5, "d-1", 0.0, 1.0, "nitrate lost in a day at 35 degC, saturated topsoil", _TUNED
    )
    least_air: float = bounded(
        0.10,
        "m3 m-3",
        0.02,
        0.20,
        "air-filled pores that roots need",
        "Grable and Siemer (1968), from memory",
    )
    flooded_air: float = bounded(
        0.02,
        "m3 m-3",
        0.005,
        0.15,
        "air-filled pores of the seedbed below which it begins to be flooded",
        _GUESS,
    )
    crusting: float = bounded(
        0.2, "1", 0.0, 1.0, "share of the seedlings that the hardest dry crust holds back", _GUESS
    )
    crust_rain: float = bounded(
        25.0, "mm", 5.0, 150.0, "rain of a day below which it makes no crust", _GUESS
    )
    depth: float = bounded(
        120.0, "cm", 30.0, 300.0, "depth of the soil column, below which nitrate is lost", _GUESS
    )
    rootable: float = bounded(120.0, "cm", 20.0, 300.0, "depth that roots can enter", _TUNED)

    def measured(self, organic_matter: float) -> Soil:
        """Return the soil with the organic matter [percent] that was found in it."""
        return replace(self, organic_matter=organic_matter, organic_matter_gradient=0.0)

    def at(self, latitude: float) -> Soil:
        """Return the soil as it is at a latitude [degrees north]: colder places hold more humus."""
        if self.organic_matter_gradient == 0.0:
            return self
        spec = self.specs()["organic_matter"]
        found = self.organic_matter * exp(self.organic_matter_gradient * (latitude - MIDDLE))
        return self.measured(min(max(found, spec.low), spec.high))

    def __post_init__(self) -> None:
        BoundedSet.__post_init__(self)
        if not self.wilting_point < self.field_capacity < self.saturation:
            raise fault(
                f"{self.name}: wilting_point, field_capacity, saturation",
                f"{self.wilting_point:g}, {self.field_capacity:g} and {self.saturation:g} are out"
                " of order.",
                "Each must be larger than the one before.",
            )


sandy_loam = Soil()
_TEXTURES = (
    replace(
        sandy_loam,
        name="sand",
        field_capacity=0.12,
        wilting_point=0.045,
        saturation=0.40,
        drain_rate=0.7,
        readily_evaporable=4.5,
        curve_number=61.0,
        crusting=0.0,
        bulk_density=1.60,
        organic_matter=1.3,
    ),
    replace(
        sandy_loam,
        name="loamy sand",
        field_capacity=0.14,
        wilting_point=0.06,
        saturation=0.41,
        drain_rate=0.55,
        readily_evaporable=6.0,
        curve_number=61.0,
        crusting=0.1,
        bulk_density=1.56,
        organic_matter=1.7,
    ),
    sandy_loam,
    replace(
        sandy_loam,
        name="loam",
        field_capacity=0.25,
        wilting_point=0.12,
        saturation=0.46,
        drain_rate=0.35,
        readily_evaporable=9.0,
        curve_number=73.0,
        crusting=0.35,
        bulk_density=1.43,
        organic_matter=2.4,
    ),
    replace(
        sandy_loam,
        name="silt loam",
        field_capacity=0.29,
        wilting_point=0.15,
        saturation=0.49,
        drain_rate=0.3,
        readily_evaporable=9.5,
        curve_number=75.0,
        crusting=0.6,
        bulk_density=1.35,
        organic_matter=2.6,
    ),
    replace(
        sandy_loam,
        name="silty clay loam",
        field_capacity=0.34,
        wilting_point=0.21,
        saturation=0.50,
        drain_rate=0.22,
        readily_evaporable=9.5,
        curve_number=81.0,
        crusting=0.5,
        bulk_density=1.32,
        organic_matter=2.7,
    ),
    replace(
        sandy_loam,
        name="clay",
        field_capacity=0.36,
        wilting_point=0.22,
        saturation=0.51,
        drain_rate=0.18,
        readily_evaporable=10.0,
        curve_number=84.0,
        crusting=0.35,
        bulk_density=1.30,
        organic_matter=2.7,
    ),
)
SOILS = {soil.name: soil for soil in _TEXTURES}


def soil(name: str | Soil) -> Soil:
    """Return a soil by its texture; a set comes back as it is.

    Raises
    ------
    InputError
        No soil of that name.
    """
    return choose(SOILS, name, "soil")


# A mixed layer spreads nitrate like a dispersivity of half its thickness: 10 cm layers stand for
# 5 cm, as measured in field soils, where it matters whether roots still reach what moved down.
_DEFAULT_BOTTOMS = (10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0)


def layer_bottoms(soil: Soil, layers: int | None = None) -> np.ndarray:
    """Depths of the layers' bottoms [cm], shape (layer,).

    Parameters
    ----------
    soil : Soil
    layers : int, optional
        Number of equal layers, 1 to 60; without it every 10 cm to 60 cm, every 20 cm below.

    Raises
    ------
    InputError
        A number out of range.
    """
    if layers is not None:
        if not 1 <= layers <= 60:
            raise fault(Parameter("layers"), f"{layers} layers cannot be used.", "Take 1 to 60.")
        return np.linspace(0.0, soil.depth, layers + 1)[1:]
    inner = [b for b in _DEFAULT_BOTTOMS if b < soil.depth - 5.0]
    while inner[-1] + 25.0 < soil.depth:
        inner.append(inner[-1] + 20.0)
    return np.array([*inner, soil.depth])


# parameters that no crop leaves: they are measured, or there are none
SOIL_TEST = ("soil_test_nitrogen", "soil_test_depth", "soil_test_day")
NOT_TESTED = -1.0  # as the day of a soil test


@dataclass(frozen=True, slots=True, kw_only=True)
class PreviousCrop(BoundedSet):
    """What the crop before leaves on 1 September or when the record starts, and any soil test."""

    name: str = "cotton"
    source: str = "values of each parameter as listed"

    residue: float = bounded(2500.0, "kg ha-1", 0.0, 20000.0, "dry matter of residue", _GUESS)
    carbon_to_nitrogen: float = bounded(
        40.0,
        "1",
        8.0,
        150.0,
        "carbon to nitrogen of the residue",
        "USDA-NRCS, Carbon to Nitrogen Ratios in Cropping Systems, and common practice",
    )
    decay_rate: float = bounded(
        0.03,
        "d-1",
        0.001,
        0.2,
        "residue carbon decomposed in a day at 35 degC, moist",
        "0.009 to 0.022 a day in the laboratory (abstract), Q10 of 2",
    )
    residual_nitrate: float = bounded(
        70.0, "kg ha-1", 0.0, 300.0, "nitrate in the soil column at the start", _TUNED
    )
    residual_ammonium: float = bounded(
        5.0, "kg ha-1", 0.0, 100.0, "ammonium in the topsoil at the start", _GUESS
    )
    available_water: float = bounded(
        0.4, "1", 0.0, 1.0, "share of available water at the start", _GUESS
    )
    soil_test_nitrogen: float = bounded(
        0.0, "kg ha-1", 0.0, 336.3, "nitrate and ammonium nitrogen that a soil test found", _TEST
    )
    soil_test_depth: float = bounded(90.0, "cm", 5.0, 300.0, "depth that was sampled", _TEST)
    soil_test_day: float = bounded(
        NOT_TESTED,
        "d",
        NOT_TESTED,
        364.0,
        "days from 1 July to the morning for which the soil test holds; -1 where there is none",
        _TEST,
    )

    def __post_init__(self) -> None:
        BoundedSet.__post_init__(self)
        if self.soil_test_day % 1.0:
            raise fault(
                f"{self.name}: soil_test_day",
                f"{self.soil_test_day:g} is not a whole number of days.",
                "Count whole days from 1 July; -1 is none.",
            )

    @property
    def tested(self) -> bool:
        """Whether a soil test is given."""
        return self.soil_test_day != NOT_TESTED


cotton = PreviousCrop()
_CROPS = (
    cotton,
    replace(cotton, name="corn", residue=6000.0, carbon_to_nitrogen=57.0, residual_nitrate=75.0),
    replace(cotton, name="soybean", residue=3000.0, carbon_to_nitrogen=30.0, residual_nitrate=18.0),
    replace(cotton, name="peanut", residue=3500.0, carbon_to_nitrogen=22.0, residual_nitrate=88.0),
    # cut in June or July: its straw has rotted for two months, and the bare soil has given nitrate
    replace(
        cotton, name="small grain", residue=2500.0, carbon_to_nitrogen=50.0, residual_nitrate=100.0
    ),
    replace(
        cotton,
        name="fallow",
        residue=500.0,
        carbon_to_nitrogen=25.0,
        residual_nitrate=112.0,
        available_water=0.7,
    ),
)
PREVIOUS_CROPS = {crop.name: crop for crop in _CROPS}


def previous_crop(name: str | PreviousCrop) -> PreviousCrop:
    """Return a previous crop by name; a set comes back as it is.

    Raises
    ------
    InputError
        No previous crop of that name.
    """
    return choose(PREVIOUS_CROPS, name, "previous_crop")
