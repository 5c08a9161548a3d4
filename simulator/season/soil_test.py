"""What a grower measured of the soil, from its text to the parameter sets that carry it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import isfinite
from typing import Any

from simulator import units
from simulator.parameters.soils import PreviousCrop, Soil
from simulator.parameters.soils import previous_crop as find_crop
from simulator.parameters.soils import soil as find_soil
from simulator.problems import Parameter, fault
from simulator.season import plan as plans
from simulator.season.layout import texts_of

_PARTS = re.compile(r"\s+(to|on)\s+", re.IGNORECASE)
_US = re.compile(r"lb|acre|\bac\b|inch|\bin\b|ft|foot|feet", re.IGNORECASE)
_PERCENT = re.compile(r"^\s*(?P<number>[\d.]+)\s*(?:%|percent)?\s*$", re.IGNORECASE)
LONGEST = 80  # characters of a soil test
GRAMMAR = "Write '60 lb/acre', or with depth and day '60 lb/acre to 24 inch on 09-25'."
_SPECS = PreviousCrop.specs()
_ORGANIC = Soil.specs()["organic_matter"]
_SOIL_STARTS = "09-01"  # as `simulator.season.compare` has it


@dataclass(frozen=True, slots=True)
class SoilTest:
    """A soil test as it was written.

    Parameters
    ----------
    amount : float
        Nitrate and ammonium nitrogen [kg/ha].
    depth : float or None
        To which it was sampled [cm].
    day : str or None
        MM-DD.
    system : {"us", "si"}
        Units that it was written in.
    """

    amount: float
    depth: float | None
    day: str | None
    system: units.System


@dataclass(frozen=True, slots=True)
class Held:
    """A previous crop with a soil test, and what is to be said of it.

    Parameters
    ----------
    crop : PreviousCrop
    notes : tuple of str
    """

    crop: PreviousCrop
    notes: tuple[str, ...]


def read_soil_test(text: str, *, name: str = Parameter("soil_nitrate")) -> SoilTest:
    """Read ``"60 lb/acre"``, ``"60 lb/acre on 09-25"`` or ``"60 lb/acre to 24 inch on 09-25"``.

    Raises
    ------
    InputError
        It cannot be read, lacks a unit, or is out of range.
    """
    if not isinstance(text, str) or len(text) > LONGEST:
        raise fault(name, f"{str(text)[:LONGEST]!r} cannot be read.", GRAMMAR)
    first, *more = _PARTS.split(text.strip())
    given = dict(zip((word.lower() for word in more[::2]), more[1::2], strict=True))
    if len(more) > 2 * len(given):
        raise fault(name, f"'{text}' says a depth or a day twice.", GRAMMAR)
    amount = units.parse(first, "kg/ha", name=name)
    limits = _SPECS["soil_test_nitrogen"]
    if not limits.low <= amount <= limits.high:
        raise fault(
            name, f"'{first}' is out of range.", plans.range_text((limits.low, limits.high))
        )
    depth = units.parse(given["to"], "cm", name=name) if "to" in given else None
    limits = _SPECS["soil_test_depth"]
    if depth is not None and not limits.low <= depth <= limits.high:
        raise fault(
            name,
            f"A depth of '{given['to']}' is out of range.",
            f"Take 2 to 118 inch ({limits.low:g} to {limits.high:g} cm).",
        )
    day = plans.month_day(given["on"], name=name) if "on" in given else None
    return SoilTest(amount, depth, day, "us" if _US.search(text) else "si")


def read_organic_matter(given: float | str, *, name: str = Parameter("organic_matter")) -> float:
    """Read the organic matter of the topsoil [percent]: ``1.5``, ``"1.5"``, ``"1.5 percent"``.

    Raises
    ------
    InputError
        No number of percent, or out of range.
    """
    allowed = f"Take {_ORGANIC.low:g} to {_ORGANIC.high:g} percent, such as 1.5."
    try:
        match = _PERCENT.match(given) if isinstance(given, str) else None
        value = float(match["number"] if match else given)
    except (TypeError, ValueError) as error:
        raise fault(name, f"{str(given)[:40]!r} is not a number of percent.", allowed) from error
    if not (isfinite(value) and _ORGANIC.low <= value <= _ORGANIC.high):
        raise fault(name, f"{value:g} percent is out of range.", allowed)
    return value


def with_organic_matter(soil: Soil, given: float | str | None) -> Soil:
    """Return a soil with the organic matter given; as it is where none is.

    Raises
    ------
    InputError
        As `read_organic_matter`.
    """
    return soil if given is None else soil.measured(read_organic_matter(given))


def hold_soil_test(
    test: SoilTest,
    crop: PreviousCrop,
    soil: Soil,
    *,
    sow: Sequence[str],
    nitrogen: Sequence[str],
    nitrogen_timing: Sequence[str],
    name: str = Parameter("soil_nitrate"),
) -> Held:
    """Put a soil test into the previous crop's set, on its day in the plans.

    Parameters
    ----------
    test : SoilTest
    crop : PreviousCrop
    soil : Soil
    sow : sequence of str
        Sowing dates of all the plans, MM-DD; a test without a day holds on the earliest.
    nitrogen, nitrogen_timing : sequence of str
        Rates with their units, and when they go on.
    name : str
        For messages.

    Raises
    ------
    InputError
        A test after the last sowing, or after nitrogen that it would count as measured.
    """
    sowings = sorted((plans.month_day(one, name=Parameter("sow")) for one in sow), key=plans.order)
    day = test.day or sowings[0]
    if plans.order(day) > plans.order(sowings[-1]):
        raise fault(
            name,
            f"The soil test of {day} is after the last sowing, on {sowings[-1]}.",
            "Give one from July 1 to that day.",
        )
    before = [
        one
        for one in _dressed(sowings, nitrogen, nitrogen_timing)
        if plans.order(one) < plans.order(day)
    ]
    if before:
        raise fault(
            name,
            f"Nitrogen goes on on {before[0]}, and the soil test of {day} would undo it.",
            "Give a test of no later day, or apply nitrogen later.",
        )
    depth = test.depth or min(crop.soil_test_depth, soil.depth)
    held = replace(
        crop,
        soil_test_nitrogen=test.amount,
        soil_test_depth=depth,
        soil_test_day=float(plans.order(day)),
    )
    return Held(held, tuple(_notes(test, held, soil, day, sowings[0])))


def measured_sets(
    soil: str | Soil,
    previous_crop: str | PreviousCrop,
    *,
    soil_nitrate: str | None,
    organic_matter: float | str | None,
    sow: Sequence[str] | str,
    nitrogen: Sequence[str] | str,
    nitrogen_timing: Sequence[str] | str,
) -> tuple[Soil, PreviousCrop, list[str]]:
    """Return soil and previous crop with what was measured, and what is to be said of it.

    Parameters
    ----------
    soil, previous_crop : str or parameter set
    soil_nitrate, organic_matter
        As `read_soil_test` and `read_organic_matter` take them; None where not measured.
    sow, nitrogen, nitrogen_timing : list of str, or one text with commas
        As `simulator.season.layout.lay_out` takes them.

    Raises
    ------
    InputError
        As `read_soil_test`, `read_organic_matter` and `hold_soil_test`.
    """
    ground = with_organic_matter(find_soil(soil), organic_matter)
    crop = find_crop(previous_crop)
    if soil_nitrate is None:
        return ground, crop, []
    rates = [nitrogen] if isinstance(nitrogen, str) else nitrogen
    held = hold_soil_test(
        read_soil_test(soil_nitrate),
        crop,
        ground,
        sow=texts_of(sow),
        nitrogen=rates,
        nitrogen_timing=texts_of(nitrogen_timing),
    )
    return ground, held.crop, list(held.notes)


def soil_test_attributes(crop: PreviousCrop) -> dict[str, Any]:
    """Return what the inputs of an answer say of a soil test; nothing where there is none."""
    if not crop.tested:
        return {}
    return {
        "soil_nitrate_kg_ha": crop.soil_test_nitrogen,
        "soil_nitrate_depth_cm": crop.soil_test_depth,
        "soil_nitrate_date": plans.date_at(int(crop.soil_test_day)),
    }


def _notes(
    test: SoilTest, crop: PreviousCrop, soil: Soil, day: str, first_sowing: str
) -> Iterable[str]:
    amount = units.spell(test.amount, "nitrogen", test.system)
    depth = units.spell(crop.soil_test_depth, "depth", test.system)
    yield (
        f"Mineral nitrogen in the soil is set to a soil test: {amount} in the top {depth} on "
        f"the morning of {day}. A soil test is one field's, one day's."
    )
    if test.day is None:
        yield f"No day of the soil test is given: the earliest sowing, {day}, is taken."
    if test.depth is None:
        yield f"No depth of the soil test is given: {depth} is taken."
    elif test.depth > soil.depth:
        whole = units.spell(soil.depth, "depth", test.system)
        yield (
            f"The soil test went deeper than the soil, which is taken to be {whole} deep: all "
            "that was found is put in it."
        )
    if plans.order(day) < min(plans.order(_SOIL_STARTS), plans.order(first_sowing)):
        yield (
            f"The soil's account begins later than the soil test of {day}: it holds on the "
            "first day of that."
        )


def _dressed(
    sowings: Sequence[str], nitrogen: Sequence[str], nitrogen_timing: Sequence[str]
) -> list[str]:
    """Return the days on which any nitrogen goes on, the earliest first."""
    if not any(rate > 0.0 for text in nitrogen for rate in plans.nitrogen_rates(text)):
        return []
    days = {
        day
        for text in nitrogen_timing
        for dressing in plans.dressings(text)
        for day in ([dressing.when] if dressing.when else sowings)
    }
    return sorted(days, key=plans.order)
