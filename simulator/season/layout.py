"""Plans laid out as arrays, as the loop wants them: for one place, or for thousands."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from typing import Any

import numpy as np

from simulator import units
from simulator.parameters import cereals, fertilizers, soils
from simulator.problems import Parameter, fault
from simulator.season import plan as plans
from simulator.season.day import calendar as day_calendar

Array = np.ndarray[Any, Any]

NOTHING = "none"  # the cereal, the sowing and the nitrogen's timing of bare soil


VOLUNTEERS = 11.2  # kg/ha of seed that comes up by itself: common practice, no source
_OPTION = Parameter("bare_soil")
_HOW = "Write bare, residue 2000 lb/acre, volunteers, or volunteers 20 lb/acre."
_ASKED = re.compile(r"^(bare|residue|volunteers?)(?:\s+(\S.*))?$")


@dataclass(frozen=True, slots=True)
class BareSoil:
    """A field without the cover crop and without its nitrogen.

    Parameters
    ----------
    residue : float or None
        Of the last crop, left on it in September [kg/ha]; as under the stands without it.
    volunteers : float
        Seed of the same cereal that comes up by itself on the first of the sowing dates [kg/ha].
    """

    residue: float | None = None
    volunteers: float = 0.0

    @property
    def as_asked(self) -> str:
        """Spell it as `read_bare` reads it, to the last digit."""
        if self.residue is not None:
            return f"residue {self.residue!r} kg/ha"
        return f"volunteers {self.volunteers!r} kg/ha" if self.volunteers else "bare"


def bare_soil_attribute(kind: BareSoil | None) -> dict[str, str]:
    """Return as an attribute what bare soil is, where it is of another kind than the plain one."""
    return {} if kind is None or kind == BareSoil() else {"bare_soil": kind.as_asked}


def read_bare(asked: bool | str | BareSoil, *, name: str = _OPTION) -> BareSoil | None:
    """Read what bare soil is to be; None where there is to be none.

    Parameters
    ----------
    asked : bool, str or BareSoil
        True or ``"bare"``, ``"residue 2000 lb/acre"``, ``"volunteers"``,
        ``"volunteers 20 lb/acre"``.

    Raises
    ------
    InputError
        It cannot be read, or is out of range.
    """
    if isinstance(asked, bool):
        return BareSoil() if asked else None
    if isinstance(asked, BareSoil):
        return asked
    match = _ASKED.match(" ".join(str(asked).lower().split()))
    if match is None or (match[1] == "bare" and match[2]):
        raise fault(name, f"'{str(asked)[:60]}' is no kind of bare soil.", _HOW)
    what, amount = match.groups()
    if what == "bare":
        return BareSoil()
    if what == "residue":
        if amount is None:
            raise fault(name, "It does not say how much residue.", _HOW)
        spec = soils.PreviousCrop.specs()["residue"]
        return BareSoil(residue=_amount(amount, (spec.low, spec.high), name))
    seed = VOLUNTEERS if amount is None else _amount(amount, plans.SEEDING_RANGE, name)
    return BareSoil(volunteers=seed)


def _amount(text: str, between: tuple[float, float], name: str) -> float:
    found = units.parse(text, "kg/ha", name=name)
    if not between[0] <= found <= between[1]:
        raise fault(name, f"'{text}' is out of range.", plans.range_text(between))
    return found


@dataclass(frozen=True, kw_only=True)
class Layout:
    """Every combination of plans on one kind of field.

    Parameters
    ----------
    sowings : tuple of str
        MM-DD, or `NOTHING` where nothing is sown.
    seedings, rates : tuple of float
        [kg/ha].
    timing_texts : tuple of str
    timings : tuple of tuple of Dressing
    ends : tuple of End
    cereal, soil, previous_crop, fertilizer : parameter set
    layers : int or None
        Number of equal soil layers; None for the soil's own.
    """

    sowings: tuple[str, ...]
    seedings: tuple[float, ...]
    rates: tuple[float, ...]
    timing_texts: tuple[str, ...]
    timings: tuple[tuple[plans.Dressing, ...], ...]
    ends: tuple[plans.End, ...]
    cereal: cereals.Cereal
    soil: soils.Soil
    previous_crop: soils.PreviousCrop
    fertilizer: fertilizers.Fertilizer
    layers: int | None

    @property
    def shape(self) -> tuple[int, ...]:
        """How many sowings, seedings, rates, timings and ends."""
        return (
            len(self.sowings),
            len(self.seedings),
            len(self.rates),
            len(self.timings),
            len(self.ends),
        )

    @property
    def combinations(self) -> list[tuple[str, float, float, tuple[plans.Dressing, ...]]]:
        """The plans in order, the timing running fastest; each is looked at at every end."""
        return list(product(self.sowings, self.seedings, self.rates, self.timings))

    def dressing_amounts(self) -> Array:
        """Return the nitrogen of each dressing [kg/ha], an array (plan, dressing)."""
        amounts = np.zeros((len(self.combinations), max(map(len, self.timings))))
        for plan, (_, _, rate, timing) in enumerate(self.combinations):
            amounts[plan, : len(timing)] = [dressing.share * rate for dressing in timing]
        return amounts

    def coordinates(self) -> dict[str, Any]:
        """Return the labels of the plans' dimensions, the end last, as xarray takes them."""
        return {
            "sow": list(self.sowings),
            "seeding": ("seeding", list(self.seedings), {"units": "kg/ha"}),
            "nitrogen": ("nitrogen", list(self.rates), {"units": "kg/ha"}),
            "nitrogen_timing": list(self.timing_texts),
            "end": [end.text for end in self.ends],
        }

    def bare(self, asked: BareSoil = BareSoil()) -> Layout:
        """Return the same field without the crop and its nitrogen: one plan, the same ends."""
        first = min(self.sowings, key=plans.order)
        crop = self.previous_crop
        return replace(
            self,
            sowings=(first if asked.volunteers else NOTHING,),
            seedings=(asked.volunteers,),
            rates=(0.0,),
            timing_texts=(NOTHING,),
            timings=((),),
            previous_crop=crop if asked.residue is None else replace(crop, residue=asked.residue),
        )

    def names(self) -> dict[str, str]:
        """Return the names of the field's parameter sets, for provenance."""
        return {
            "cereal": self.cereal.name,
            "variety": self.cereal.variety,
            "soil": self.soil.name,
            "previous_crop": self.previous_crop.name,
            "fertilizer": self.fertilizer.name,
        }


def lay_out(
    *,
    cereal: str | cereals.Cereal = "rye",
    soil: str | soils.Soil = "sandy loam",
    previous_crop: str | soils.PreviousCrop = "cotton",
    fertilizer: str | fertilizers.Fertilizer = "ammonium nitrate",
    sow: Sequence[str] | str = ("10-20", "11-05", "11-20", "12-08"),
    seeding: Sequence[str] | str = "90 lb/acre",
    nitrogen: Sequence[str] | str = "0,30,60,90 lb/acre",
    nitrogen_timing: Sequence[str] | str = "sowing",
    end: Sequence[str] | str = "04-15",
    layers: int | None = None,
) -> Layout:
    """Read plans and check them.

    Parameters
    ----------
    cereal, soil, previous_crop, fertilizer : str or parameter set
    sow, nitrogen_timing, end : list of str, or one text with commas
        See `simulator.season.plan`.
    seeding, nitrogen : list of str, or one text with commas
        Rates with units; a text may share one: ``"0,30,60,90 lb/acre"``.
    layers : int, optional
        Number of equal soil layers, 1 to 60.

    Raises
    ------
    InputError
        Anything that cannot be read, is out of order or is given twice.
    """
    sowings = [plans.month_day(text, name=Parameter("sow")) for text in texts_of(sow)]
    seedings = _rates(seeding, plans.seeding_rates)
    rates = _rates(nitrogen, plans.nitrogen_rates)
    timing_texts = [plans.dated(text) for text in texts_of(nitrogen_timing)]
    timings = [plans.dressings(text) for text in timing_texts]
    ends = [plans.end(text) for text in texts_of(end)]
    plans.check_order(sowings, timings, ends)
    for name, given in (
        (Parameter("sow"), sowings),
        (Parameter("seeding"), seedings),
        (Parameter("nitrogen"), rates),
        (Parameter("nitrogen_timing"), timing_texts),
        (Parameter("end"), ends),
    ):
        if len(set(map(str, given))) != len(given):
            raise fault(name, "A value is given twice.", "Give each once.")
    ground = soils.soil(soil)
    soils.layer_bottoms(ground, layers)  # refuses a number of layers that none can have
    return Layout(
        sowings=tuple(sowings),
        seedings=tuple(seedings),
        rates=tuple(rates),
        timing_texts=tuple(timing_texts),
        timings=tuple(timings),
        ends=tuple(ends),
        cereal=cereals.cereal(cereal),
        soil=ground,
        previous_crop=soils.previous_crop(previous_crop),
        fertilizer=fertilizers.fertilizer(fertilizer),
        layers=layers,
    )


@dataclass(frozen=True)
class Calendar:
    """Plans on the season days of some fall years.

    Parameters
    ----------
    sow_days : int array (season, plan)
        `simulator.season.day.calendar.NEVER` on bare soil.
    dressing_days : int array (season, plan, dressing)
        `NEVER` too where a plan has fewer dressings.
    """

    sow_days: Array
    dressing_days: Array


@lru_cache(maxsize=64)  # of thousands of places, most have the same years
def calendar(layout: Layout, years: tuple[int, ...]) -> Calendar:
    """Lay plans on the days of fall years.

    Parameters
    ----------
    layout : Layout
    years : tuple of int

    Returns
    -------
    Calendar
        Shared by all who ask for the same: to be read only.
    """
    dressings = [dressing for timing in layout.timings for dressing in timing]
    dates = {*layout.sowings, *(dressing.when for dressing in dressings)} - {NOTHING, None}
    days = {date: [plans.day_number(year, date) for year in years] for date in dates if date}
    days[NOTHING] = [day_calendar.NEVER] * len(years)
    most = max(len(timing) for timing in layout.timings)
    on = np.full((len(layout.combinations), most, len(years)), day_calendar.NEVER)
    for plan, (sowing, _, _, timing) in enumerate(layout.combinations):
        for place, dressing in enumerate(timing):
            on[plan, place] = days[dressing.when or sowing]
    return Calendar(
        np.array([days[sowing] for sowing, *_ in layout.combinations]).T.copy(),
        np.ascontiguousarray(np.moveaxis(on, -1, 0)),
    )


def texts_of(given: Sequence[str] | str, *, split: bool = True) -> list[str]:
    """Return a list of texts, also where one text with commas, or one alone, was given."""
    if isinstance(given, str):
        return [part.strip() for part in given.split(",")] if split else [given]
    return [str(part) for part in given]


def _rates(given: Sequence[str] | str, read: Callable[[str], list[float]]) -> list[float]:
    return [rate for text in ([given] if isinstance(given, str) else given) for rate in read(text)]
