"""Residue after termination in sentences: cover, soil, nitrogen, weeds."""

from __future__ import annotations

import numpy as np

from simulator import units
from simulator.answers.cover.calculate import HEAVY, WEEK, Cover
from simulator.show import wording
from simulator.show.grids import heading
from simulator.show.tables import (
    mean,
    paragraph,
)

FIRST_DAYS = 60  # over which sentences sum up soil loss
GIVEN_BACK = 0.9  # share of the most tied up, above which hardly any has come back
LITTLE = 1.0  # kg/ha of nitrogen not worth a word
_DONE = {"standing": "left standing", "flat": "laid flat", "rolled": "rolled", "buried": "buried"}
CAUTIONS = (
    "Soil loss is by cover alone, against the same ground bare; a conservation plan's own "
    "reckoning counts slope, rain, roughness and tillage too.",
    "How heavy residue must be to hold back weeds is a rule of thumb, for small-seeded annuals not "
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


def main_lie(found: Cover) -> str:
    """Name the way to lie that sentences and the longer tables speak of."""
    names = [str(name) for name in found.residue["residue"].values]
    return "rolled" if "rolled" in names else names[0]


def lies_as(name: str) -> str:
    """Say how residue was left: ``"laid flat"``, ``"rolled"``."""
    return _DONE.get(name, name)


def sentences(found: Cover, system: units.System) -> list[str]:
    """Say what the residue comes to, in sentences made from its numbers."""
    name = main_lie(found)
    sowings = [str(sow) for sow in found.residue["sow"].values]
    texts = [_lasts(found, name, sow, system) for sow in sowings]
    texts.append(_soil(found, name, sowings))
    texts += [_feeds(found, name, sow, system) for sow in sowings]
    texts.append(_weeds(found, name, sowings, system))
    texts.append(_lies(found, sowings[0]))
    return [one for one in texts if one]


def _lasts(found: Cover, name: str, sow: str, system: units.System) -> str:
    stand = found.stands.sel(sow=sow)
    falls = found.falls.sel(sow=sow, residue=name)
    start = found.by_day.sel(sow=sow, residue=name).isel(day=0)
    done = lies_as(name)
    days = []
    for share in (0.60, 0.30):
        percent = f"{100 * share:.0f}"
        least = "at least " if falls[f"above_{percent}_at_last"].values.any() else ""
        count = mean(falls[f"days_above_{percent}"].values)
        days.append(
            f"above {percent} percent for {least}{count:.0f} days"
            if count >= 1
            else f"never above {percent} percent"
        )
    mass = units.spell(mean(stand["biomass_kg_ha"].values), "mass", system)
    return (
        f"{done.capitalize()} {wording.ending(str(found.residue.attrs['end']))}, the stand sown on "
        f"{wording.dates_in(sow)} ({mass} at C:N "
        f"{mean(stand['carbon_to_nitrogen'].values):.0f}) covers "
        f"{100 * float(start['ground_covered']):.0f} percent of the ground at first, "
        f"{wording.join(days)}{', as means over falls' if found.residue.sizes['year'] > 1 else ''}."
    )


def _soil(found: Cover, name: str, sowings: list[str]) -> str:
    days = min(FIRST_DAYS, found.days)
    ratio = (
        found.by_day["soil_loss_ratio"].sel(residue=name).isel(day=slice(1, days + 1)).mean("day")
    )
    texts = [
        f"{100 * float(ratio.sel(sow=sow)):.0f} percent under the {wording.dates_in(sow)} sowing"
        for sow in sowings
    ]
    return (
        f"Over the first {days} days soil loss is, as a share of that from bare ground, "
        f"{wording.join(texts)}, by cover alone."
    )


def _feeds(found: Cover, name: str, sow: str, system: units.System) -> str:
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
    return (
        f"{first}, at most {spelled(released[lowest])} around week {lowest // WEEK + 1}, and "
        f"then gives it back: on day {found.days} the balance is {spelled(last)} "
        f"{'tied up' if last < 0 else 'set free'}."
    )


def _weeds(found: Cover, name: str, sowings: list[str], system: units.System) -> str:
    need = units.spell(HEAVY, "mass", system)
    texts = []
    for sow in sowings:
        days = found.falls["days_heavy"].sel(sow=sow, residue=name).values
        known = days[np.isfinite(days)]
        heavy = known[known > 0]
        whose = f"the {wording.dates_in(sow)} sowing"
        if heavy.size:
            texts.append(
                f"{whose} does in {heavy.size} of {known.size} falls, then for "
                f"{heavy.mean():.0f} days as a mean"
            )
        else:
            most = float(found.residue["ground_residue_kg_ha"].sel(sow=sow, residue=name).max())
            texts.append(f"{whose} never does (at most {units.spell(most, 'mass', system)})")
    return (
        f"Holding back small weeds by weight alone takes some {need} on the ground: "
        f"{wording.join(texts)}."
    )


def _lies(found: Cover, sow: str) -> str:
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
