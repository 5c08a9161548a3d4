"""Residue after termination in sentences: cover, soil, nitrogen, weeds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.answers.cover import bare_soil
from simulator.answers.cover.calculate import HEAVY, WEEK, Cover, main_lie
from simulator.answers.cover.in_fields import cover_ranges
from simulator.answers.cover.on_day import OnDay
from simulator.answers.cover.weeks import after_planting, freed, planted, stages_of
from simulator.answers.shared.field_ranges import biomass_ranges, spelled
from simulator.answers.shared.nitrogen_after import AFTER_PLANTING, NO_RATE, UNTRIED, balance
from simulator.answers.shared.regrowth import LABEL, left_alive
from simulator.show import wording
from simulator.show.grids import heading
from simulator.show.tables import (
    mean,
    number,
    paragraph,
)

if TYPE_CHECKING:
    import xarray as xr

FIRST_DAYS = 60  # over which sentences sum up soil loss
GIVEN_BACK = 0.9  # share of the most tied up, above which hardly any has come back
LEAST_CHANCE = 0.005  # that is told in whole percent
LITTLE = 1.0  # kg/ha of nitrogen not worth a word
_DONE = {"standing": "left standing", "flat": "laid flat", "rolled": "rolled", "buried": "buried"}
CAUTIONS = (
    "Soil loss is by cover alone, against the same ground bare; a conservation plan's own "
    "reckoning counts slope, rain, roughness and tillage too.",
    LABEL,
    NO_RATE,
    "How heavy residue must be to suppress weeds is a rule of thumb, for small-seeded annuals not "
    "yet up; large-seeded and perennial weeds come through.",
)


def head(found: Cover, system: units.System) -> str:
    """Say what was grown where, and when and how it was ended."""
    stands = found.stands
    about = heading(stands.attrs, stands["year"].values.tolist())
    return f"{about}\n{paragraph(plan_of(found, system))}"


def plan_of(found: Cover, system: units.System) -> str:
    """Say how the stand was grown and ended, and for how long it was followed."""
    about = found.residue.attrs
    return (
        f"Seeded at {units.spell(about['seeding_kg_ha'], 'mass', system)} with "
        f"{units.spell(about['nitrogen_kg_ha'], 'nitrogen', system)} of nitrogen "
        f"{wording.timing(about['nitrogen_timing'])}, ended {wording.ending(about['end'])}, "
        f"followed for {found.days} days."
    )


def lies_as(name: str) -> str:
    """Say how residue was left: ``"laid flat"``, ``"rolled"``."""
    return _DONE.get(name, name)


def sentences(found: Cover, system: units.System) -> list[str]:
    """Say what the residue comes to, in sentences made from its numbers."""
    name = main_lie(found)
    sowings = [str(sow) for sow in found.residue["sow"].values]
    texts = [_days_of_cover_sentence(found, name, sow, system) for sow in sowings]
    texts += [_cover_on_day_sentence(found, one, name, system) for one in found.on]
    texts += [_green_cover_sentence(found, sowings), _soil_sentence(found, name, sowings)]
    texts += [_nitrogen_sentence(found, name, sow, system) for sow in sowings]
    texts += [
        _nitrogen_at_planting_sentence(found, name, sowings, system),
        _regrowth_sentence(found, name, sowings),
    ]
    texts.append(_weeds_sentence(found, name, sowings, system))
    texts.append(_residue_types_sentence(found, sowings[0]))
    texts += bare_soil.sentences(found, system)
    return [one for one in texts if one]


def _days_of_cover_sentence(found: Cover, name: str, sow: str, system: units.System) -> str:
    stand = found.stands.sel(sow=sow)
    falls = found.falls.sel(sow=sow, residue=name)
    start = found.by_day.sel(sow=sow, residue=name).isel(day=0)
    days = []
    for share in (0.60, 0.30):
        percent = f"{100 * share:.0f}"
        count = mean(falls[f"days_above_{percent}"].values)
        ranges = found.days_ranges(sow, name, share)
        days.append(
            f"above {percent} percent for {at_least(falls, percent)}{count:.0f} days "
            f"({ranges.low:.0f} to {ranges.high:.0f})"
        )
    biomass = stand["biomass_kg_ha"].values
    covered = found.cover_ranges(sow, name)
    end = wording.ending(str(found.residue.attrs["end"]))
    level = spelled(biomass_ranges(biomass, error=found.errors.level), "biomass", system)
    return (
        f"{lies_as(name).capitalize()} {end}, the stand sown on "
        f"{wording.dates_in(sow)}, {units.spell(mean(biomass), 'biomass', system)} "
        f"({level}) at C:N {mean(stand['carbon_to_nitrogen'].values):.0f}, covers "
        f"{100 * float(start['ground_covered']):.0f} percent of the ground at first "
        f"({100 * covered.low:.0f} to {100 * covered.high:.0f}), {wording.join(days)}"
        f"{', as means over falls' if biomass.size > 1 else ''}; in brackets 8 of 10 in a field "
        "like these."
    )


def at_least(falls: xr.Dataset, percent: str) -> str:
    """Say ``"at least "`` where some fall's cover outlasts the days followed."""
    return "at least " if falls[f"above_{percent}_at_last"].values.any() else ""


def _cover_on_day_sentence(found: Cover, one: OnDay, name: str, system: units.System) -> str:
    texts = []
    for sow in map(str, one.after["sow"].values):
        at = one.after.sel(sow=sow, residue=name)
        covered = at["ground_covered"].values
        ranges = cover_ranges(covered, found.biomass(sow), found.errors)
        left = units.spell(mean(at["shoot_residue_kg_ha"].values), "biomass", system)
        texts.append(
            f"{100 * mean(covered):.0f} percent of the ground sown on {wording.dates_in(sow)} "
            f"({100 * ranges.low:.0f} to {100 * ranges.high:.0f} in a field like these; {left} of "
            "shoots are left)"
        )
    crop = ", when the next crop is planted," if one.soil is not None else ""
    return (
        f"On {wording.dates_in(one.date)}{crop} residue that was {lies_as(name)} covers "
        f"{wording.join(texts)}."
    )


def _green_cover_sentence(found: Cover, sowings: list[str]) -> str:
    """Say what the living stand covers: on days asked for, else at New Year and on March 1."""
    green = found.green
    if green is None or not green.sizes["date"]:
        return ""
    dates = [str(date) for date in green["date"].values]
    spoken = list(green.attrs["asked"]) or [date for date in ("01-01", "03-01") if date in dates]
    texts = []
    for date in spoken:
        shares = {sow: mean(green["green_cover"].sel(date=date, sow=sow).values) for sow in sowings}
        sown = [
            f"{100 * share:.0f} percent of the ground sown on {wording.dates_in(sow)}"
            for sow, share in shares.items()
            if np.isfinite(share)
        ]
        if sown:
            texts.append(f"On {wording.dates_in(date)} green leaves cover {wording.join(sown)}.")
    return " ".join(texts)


def _soil_sentence(found: Cover, name: str, sowings: list[str]) -> str:
    days = min(FIRST_DAYS, found.days)
    ratio = (
        found.by_day["soil_loss_ratio"].sel(residue=name).isel(day=slice(1, days + 1)).mean("day")
    )
    texts = [
        f"{100 * float(ratio.sel(sow=sow)):.0f} percent under the {wording.dates_in(sow)} sowing"
        for sow in sowings
    ]
    return (
        f"Over the first {days} days soil loss is, as a share of that from ground without any "
        f"cover, {wording.join(texts)}, by cover alone."
    )


def _nitrogen_sentence(found: Cover, name: str, sow: str, system: units.System) -> str:
    released = found.by_day["nitrogen_released_kg_ha"].sel(sow=sow, residue=name).values
    last = float(released[-1])
    whose = f"Decay of the {wording.dates_in(sow)} sowing"
    lowest = int(np.argmin(released))

    def spelled(value: float) -> str:
        return units.spell(abs(value), "nitrogen", system)

    if released[lowest] > -LITTLE:
        if last < LITTLE:
            return f"{whose} neither gives nor takes nitrogen worth a word in {found.days} days."
        month = float(released[min(28, released.size - 1)])
        soon = spelled(month) if month >= LITTLE else "hardly any"
        return (
            f"{whose} sets nitrogen free: {soon} in the first four weeks, {spelled(last)} by "
            f"day {found.days}."
        )
    early = float(released[min(56, released.size - 1)])
    first = f"{whose} ties up nitrogen, {spelled(early)} in the first eight weeks"
    if released.size <= 57:
        first = f"{whose} ties up nitrogen, {spelled(last)} by day {found.days}"
        return f"{first}: allow for it in the next crop."
    if last < GIVEN_BACK * released[lowest]:
        return (
            f"{first} and {spelled(last)} by day {found.days}, with little given back by then: "
            "allow for it in the next crop."
        )
    side = "tied up" if last < 0 else "set free"
    even = float(number(abs(last), "nitrogen", system)) == 0.0
    return (
        f"{first}, at most {spelled(released[lowest])} around week {lowest // WEEK + 1}, and "
        f"then gives it back: {'all of it is back' if even else f'{spelled(last)} are {side}'} by "
        f"day {found.days}."
    )


def _nitrogen_at_planting_sentence(
    found: Cover, name: str, sowings: list[str], system: units.System
) -> str:
    """Say what decay has freed or tied up when the next crop is planted, and 4 and 8 weeks on."""
    one = planted(found)
    if one is None:
        return ""
    texts = []
    for sow in sowings:
        parts, since_end = [], freed(found, sow, name)
        for later in AFTER_PLANTING:
            values = after_planting(since_end, one, later)
            if values is not None:
                when = f"{later // WEEK} weeks later" if later else "then"
                parts.append(f"{balance(values, system)} {when}")
        if parts:
            texts.append(f"of the {wording.dates_in(sow)} sowing, {', '.join(parts)}")
    if not texts:
        return ""
    return (
        f"What decay has freed or tied up since the end, on {wording.dates_in(one.date)} and "
        f"after: {'; '.join(texts)}. Tied up it is a debt to the next crop, freed a credit. "
        f"{UNTRIED}"
    )


def _regrowth_sentence(found: Cover, name: str, sowings: list[str]) -> str:
    """Say how much of the stand is not killed at its stage."""
    way = found.way(name)
    texts: list[str] = []
    for sow in sowings:
        left = left_alive(stages_of(found.stands.sel(sow=sow)), way)
        if left.falls:
            by = "" if texts else " by the range of trials"
            texts.append(
                f"{100 * left.share:.0f} percent sown on {wording.dates_in(sow)} "
                f"({100 * left.share_low:.0f} to {100 * left.share_high:.0f}{by})"
            )
    if not texts:
        return ""
    return (
        f"Of a stand ended by {way.by} then, {wording.join(texts)} can be expected to live on and "
        "grow back; the residue here is that of a stand killed as a whole."
    )


def _weeds_sentence(found: Cover, name: str, sowings: list[str], system: units.System) -> str:
    need = units.spell(HEAVY, "biomass", system)
    texts = []
    for sow in sowings:
        chance, days = found.heavy(sow, name)
        whose = f"the {wording.dates_in(sow)} sowing"
        if chance >= LEAST_CHANCE:
            texts.append(
                f"{whose} has that with a chance of {100 * chance:.0f} percent, then for "
                f"{days:.0f} days as a mean"
            )
        else:
            texts.append(f"{whose} hardly ever has that")
    return (
        f"Suppressing small weeds by weight alone takes some {need} of residue on the ground: "
        f"in a field like these {wording.join(texts)}."
    )


def _residue_types_sentence(found: Cover, sow: str) -> str:
    names = [str(name) for name in found.residue["residue"].values]
    if len(names) < 2:
        return ""
    texts = []
    for name in names:
        by_day = found.by_day["ground_covered"].sel(sow=sow, residue=name)
        last = min(90, found.days)
        texts.append(
            f"{lies_as(name)} {100 * float(by_day[0]):.0f} and then "
            f"{100 * float(by_day.sel(day=last)):.0f}"
        )
    return (
        f"Percent of the ground that the {wording.dates_in(sow)} sowing covers at first and on "
        f"day {min(90, found.days)}: {', '.join(texts)}."
    )
