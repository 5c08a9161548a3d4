"""What each choice does to biomass, in sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from simulator import units
from simulator.answers.compare.calculate import CHOICES, Difference, differences, main_effects
from simulator.answers.shared.bare_soil import (
    Leached,
    bare_sentence,
    has_bare,
    leached_less,
    less_sentences,
    untried,
)
from simulator.answers.shared.field_ranges import (
    difference_off,
    how_far_off,
    in_a_field,
)
from simulator.answers.shared.variety import named
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.parameters.varieties import variety
from simulator.show import wording

if TYPE_CHECKING:
    import xarray as xr


def sentences(
    grid: xr.Dataset,
    system: units.System,
    kinds: Mapping[int, str] | None = None,
    errors: ModelErrors = SHIPPED,
    *,
    off: Sequence[Difference] | None = None,
    less: Sequence[Leached] | None = None,
) -> list[str]:
    """Say what each choice does to biomass, the weightiest first, and how surely.

    Parameters
    ----------
    grid : Dataset
        From `compare`.
    system : {"us", "si"}
    kinds : mapping of int to str, optional
        Kind of each fall, to say in which a second sowing date beats the first.
    errors : ModelErrors
        How far off the model is.
    off, less
        From `differences` and `leached_less`, where they are known already.
    """
    texts = []
    for choice, levels in main_effects(grid).items():
        ranked = sorted(levels, key=lambda level: -level[1])
        (best, most), (worst, least) = ranked[0], ranked[-1]
        made, left = (units.spell(one, "biomass", system) for one in (most, least))
        texts.append(
            f"{CHOICES[choice]}: {_bare(choice, best, system)} makes most, {made}, and "
            f"{_bare(choice, worst, system)} least, {left}, as means over all the other choices."
        )
    found = differences(grid, errors) if off is None else off
    texts += [_within_falls(one, system) for one in _outermost(found)]
    texts += _second_sowing(found, kinds)
    if has_bare(grid):
        beside = leached_less(grid) if less is None else less
        texts += [bare_sentence(grid, system), *less_sentences(beside, system), untried(grid.attrs)]
    texts.append(how_far_off(system, errors.level))
    if found:
        texts.append(difference_off(system, errors.response))
    return texts


def _outermost(found: Sequence[Difference]) -> list[Difference]:
    """Keep of each choice the level that lies farthest from the first."""
    farthest: dict[str, Difference] = {}
    for one in found:
        if one.choice not in farthest or abs(one.mean) > abs(farthest[one.choice].mean):
            farthest[one.choice] = one
    return list(farthest.values())


def _within_falls(one: Difference, system: units.System) -> str:
    """Say in how many falls a level beats the first, and by how much in a field like these."""
    second, first = (level_name(one.choice, level, system) for level in (one.second, one.first))
    more = "more" if one.mean >= 0 else "less"
    made = (
        f"Within the same fall, {second} makes {units.spell(abs(one.mean), 'biomass', system)} "
        f"{more} than {first} and is ahead in {one.ahead} of {len(one.years)}."
    )
    return f"{made} {in_a_field(one.ranges, system)}"


def _second_sowing(found: Sequence[Difference], kinds: Mapping[int, str] | None) -> list[str]:
    """Say in which kinds of fall the second sowing date beats the first, if it ever does."""
    second = next((one for one in found if one.choice == "sow"), None)
    if second is None or not kinds or not 0 < second.ahead < len(second.years):
        return []
    beats = [
        f"{won} of {falls} {kind}" for kind, (won, falls) in sorted(second.by_kind(kinds).items())
    ]
    dates = [wording.dates_in(str(date)) for date in (second.second, second.first)]
    return [f"Sown on {dates[0]} it beats {dates[1]} in {wording.join(beats)} falls."]


def _bare(choice: str, level: str | float, system: units.System) -> str:
    """Name a level beside its choice: ``"Oct 20"``, ``"60 lb/ac"``."""
    if choice in ("seeding", "nitrogen"):
        return units.spell(float(level), "mass", system)
    return named(variety(str(level))) if choice == "variety" else wording.dates_in(str(level))


def level_name(choice: str, level: str | float, system: units.System) -> str:
    """Name a level of a choice by itself: ``"sown Oct 20"``, ``"60 lb/ac of nitrogen"``."""
    if choice in ("seeding", "nitrogen"):
        of = "seed" if choice == "seeding" else "nitrogen"
        return f"{_bare(choice, level, system)} of {of}"
    if choice == "nitrogen_timing":
        return f"nitrogen {wording.timing(str(level))}"
    if choice == "end":
        return f"ended {wording.ending(str(level))}"
    if choice == "variety":
        return named(variety(str(level)))
    return f"sown {_bare(choice, level, system)}"


def short_name(choice: str, level: str | float, system: units.System) -> str:
    """Name a level in a table: ``"sown Oct 20"``, ``"60 lb/ac N"``."""
    if choice == "nitrogen":
        return f"{_bare(choice, level, system)} N"
    return level_name(choice, level, system)
