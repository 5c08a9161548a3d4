"""What a what-if means, in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.answers.shared.changes import describe, water
from simulator.answers.shared.field_ranges import difference_off, how_far_off, in_a_field, spelled
from simulator.answers.whatif import bare_soil
from simulator.answers.whatif.calculate import (
    LITTLE_GROWTH,
    Effect,
    Pair,
    effects,
    mean_total,
    ordinary,
)
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.season.cases import CHANGED, RECORDED
from simulator.show import wording
from simulator.show.tables import apart
from simulator.weather.change import change_weather
from simulator.weather.change_text import Change, parse_change

if TYPE_CHECKING:
    import xarray as xr

LITTLE = 1.0  # kg/ha of nitrogen that is not worth a sentence
ESCAPES = 0.05  # share of the nitrogen applied that may leach more where it is said to escape


def sentences(
    grid: xr.Dataset,
    system: units.System,
    record: xr.Dataset,
    changes: Sequence[str],
    errors: ModelErrors = SHIPPED,
) -> list[str]:
    """Say what a what-if means, in sentences made from its numbers.

    Parameters
    ----------
    grid : Dataset
        From `compare` with changes. Of several seeding rates the first is spoken of, of several
        ends the last.
    system : {"us", "si"}
        Units of the sentences.
    record : Dataset
        The weather as recorded.
    changes : sequence of str
        What was changed, in order.
    errors : ModelErrors
        How far off the model is, for the ranges.

    Returns
    -------
    list of str
        What the change is to the weather; what it does to the first sowing; to the
        nitrogen applied; to what that brings; which sowing it costs most; whether nitrogen
        that goes on after it escapes; what bare soil leaches, where the grid has it; how far off
        the model has been.
    """
    whole, grid = grid, grid.isel(seeding=0, end=-1)
    when = wording.ending(str(grid["end"].values))
    read = [parse_change(text) for text in changes]
    found = effects(grid, read, errors)
    rate = ordinary(found)
    texts = [_weather_sentence(grid, system, record, read)]
    for timing in dict.fromkeys(effect.timing for effect in found):
        group = [e for e in found if e.timing == timing and e.nitrogen == rate]
        group = [e for e in group if np.isfinite(e.biomass.difference)]
        if not group:
            texts.append(
                f"With nitrogen {wording.timing(timing)} no stand could be ended {when} in both "
                "the recorded and the changed weather."
            )
            continue
        texts.append(_biomass_sentence(group[0], grid, system))
        if group[0].applied > 0:
            texts += [_leaching_sentence(group[0], system), _response_sentence(group[0], system)]
        if len(group) > 1:
            texts.append(_which_sowing(group, system))
        if group[0].applied > 0:
            texts.append(_escape_sentence(group, system))
    texts.append(_which_timing([e for e in found if e.nitrogen == rate], system))
    texts += bare_soil.sentences(whole, rate, system)
    texts += [how_far_off(system, errors.level), difference_off(system, errors.response)]
    return [sentence for sentence in texts if sentence]


def _mass(value: float, system: units.System) -> str:
    return units.spell(abs(value), "biomass", system)


def _rate_text(value: float, system: units.System) -> str:
    return units.spell(value, "mass", system)


def _weather_sentence(
    grid: xr.Dataset, system: units.System, record: xr.Dataset, changes: Sequence[Change]
) -> str:
    """Say what the change is, and what the changed span and the season were before it."""
    changed = change_weather(record, *changes)
    texts = []
    for change in changes:
        text = f"with {describe(change, system)}"
        if change.quantity == "rain":
            text += f" (the record's mean is {water(mean_total(record, change), system)}"
            if change.operation != "set":
                text += f", then {water(mean_total(changed, change), system)}"
            text += ")"
        texts.append(text)
    if any(change.quantity == "rain" for change in changes):
        season = _season_means(grid, "rain_mm")
        has = "the season from September to the end has {} of rain and snow in place of {}"
        spelled = [water(value, system) for value in (season.changed, season.recorded)]
    else:
        season = _season_means(grid, "thermal_time_degC_d")
        has = "the stand has {} above freezing in place of {}"
        spelled = [
            units.spell(value, "thermal_time", system)
            for value in (season.changed, season.recorded)
        ]
    known = np.isfinite(season.difference)
    then = has.format(*spelled) if known else "no stand could be ended as planned"
    said = f"{wording.join(texts)}, {then}."
    return said[0].upper() + said[1:]


def _season_means(grid: xr.Dataset, name: str) -> Pair:
    means = [float(grid[name].sel(case=case).mean()) for case in (RECORDED, CHANGED)]
    return Pair(*means)


def _biomass_sentence(effect: Effect, grid: xr.Dataset, system: units.System) -> str:
    subject = (
        f"Sown on {wording.dates_in(effect.sow)} at {_rate_text(float(grid['seeding']), system)} "
        f"of seed with {_rate_text(effect.nitrogen, system)} of nitrogen "
        f"{wording.timing(effect.timing)}, {grid.attrs['cereal']} then stands at "
        f"{_mass(effect.biomass.changed, system)} {wording.ending(str(grid['end'].values))}"
    )
    if abs(effect.biomass.difference) < LITTLE_GROWTH:
        return f"{subject}, about as much as recorded."
    less = "less" if effect.biomass.difference < 0 else "more"
    share = abs(effect.biomass.difference) / max(effect.biomass.recorded, LITTLE_GROWTH)
    text = (
        f"{subject}, {_difference_text(effect.biomass, 'biomass', system)} {less} "
        f"({100 * share:.0f} percent) than the {_mass(effect.biomass.recorded, system)} as "
        "recorded."
    )
    return f"{text} {in_a_field(effect.differs, system)}"


def _difference_text(pair: Pair, kind: str, system: units.System) -> str:
    return apart(pair.recorded, pair.changed, kind, system)


def _leaching_sentence(effect: Effect, system: units.System) -> str:
    beyond = f" above {_rate_text(effect.base, system)}" if effect.base > 0 else ""
    lost = Pair(max(effect.lost.recorded, 0.0), max(effect.lost.changed, 0.0))
    subject = (
        f"Of the {_rate_text(effect.applied, system)} of nitrogen applied{beyond}, "
        f"{_rate_text(lost.changed, system)} leach"
    )
    if abs(lost.difference) < LITTLE:
        return f"{subject}, about as much as recorded."
    gap = _difference_text(lost, "nitrogen", system)
    than = "more" if lost.difference > 0 else "less"
    return f"{subject}, against {_rate_text(lost.recorded, system)} as recorded: {gap} {than}."


def _response_sentence(effect: Effect, system: units.System) -> str:
    than = f"over {_rate_text(effect.base, system)}" if effect.base > 0 else "over none"
    verb = "brings" if effect.gained.changed >= 0 else "costs"
    subject = f"That nitrogen then {verb} {_mass(effect.gained.changed, system)} of biomass {than}"
    if not np.isfinite(effect.response_kept):
        usual = _signed(effect.gained.recorded, system)
        return f"{subject}; as recorded it changes little ({usual})."
    return (
        f"{subject}, {100 * effect.response_kept:.0f} percent of the "
        f"{_mass(effect.gained.recorded, system)} that it brings as recorded. In a field like "
        f"these it brings {spelled(effect.brings[1], 'biomass', system)}, and as recorded "
        f"{spelled(effect.brings[0], 'biomass', system)}."
    )


def _signed(value: float, system: units.System) -> str:
    shown = _mass(value, system)
    return f"-{shown}" if value < 0 else f"+{shown}"


def _which_sowing(group: Sequence[Effect], system: units.System) -> str:
    ranked = sorted(group, key=lambda effect: effect.biomass.difference)
    worst, best = ranked[0], ranked[-1]
    if best.biomass.difference - worst.biomass.difference < LITTLE_GROWTH:
        return "It makes about the same difference to every sowing date."

    def describe(effect: Effect) -> str:
        return f"the {wording.dates_in(effect.sow)} sowing"

    def by(effect: Effect) -> str:
        sign = "-" if effect.biomass.difference < 0 else "+"
        return f"({sign}{_difference_text(effect.biomass, 'biomass', system)})"

    def hardly(effect: Effect) -> str:
        return f"to {describe(effect)} it makes hardly any difference"

    most, least = worst.biomass.difference, best.biomass.difference
    if most < 0.0 and least < LITTLE_GROWTH:
        costs = f"The change costs {describe(worst)} most {by(worst)}"
        if least > -LITTLE_GROWTH:
            return f"{costs}; {hardly(best)}."
        return f"{costs} and {describe(best)} least {by(best)}."
    if most > -LITTLE_GROWTH:
        helps = f"The change helps {describe(best)} most {by(best)}"
        if most < LITTLE_GROWTH:
            return f"{helps}; {hardly(worst)}."
        return f"{helps} and {describe(worst)} least {by(worst)}."
    return (
        f"The change costs {describe(worst)} most {by(worst)} and helps {describe(best)} most "
        f"{by(best)}."
    )


def _which_timing(found: Sequence[Effect], system: units.System) -> str:
    """Say when the nitrogen of the first sowing pays best in the changed weather."""
    first = [e for e in found if e.sow == found[0].sow and np.isfinite(e.gained.changed)]
    if len(first) < 2 or first[0].applied <= 0:
        return ""
    ranked = sorted(first, key=lambda effect: -effect.gained.changed)
    best, worst = (
        f"{wording.timing(effect.timing)} ({_signed(effect.gained.changed, system)})"
        for effect in (ranked[0], ranked[-1])
    )
    return (
        f"In the changed weather the {_rate_text(first[0].applied, system)} of nitrogen brings the "
        f"{wording.dates_in(first[0].sow)} sowing most given {best} and least given {worst}."
    )


def _escape_sentence(group: Sequence[Effect], system: units.System) -> str:
    """Say whether nitrogen that goes on after the change escapes it."""
    late = [effect for effect in group if effect.after_change]
    if not late:
        return ""
    early = [effect for effect in group if not effect.after_change]
    if early:
        sowings = wording.join([wording.dates_in(effect.sow) for effect in late])
        who = f"Sown on {sowings}, a stand gets its nitrogen"
    else:
        who = f"Nitrogen {wording.timing(group[0].timing)} goes on"
    worst = max(late, key=lambda effect: effect.lost.difference)
    escapes = worst.lost.difference <= ESCAPES * worst.applied
    verdict = "escapes its leaching" if escapes else "does not escape its leaching"
    if abs(worst.lost.difference) < LITTLE:
        leaching = "about as much of it leaches as recorded"
    else:
        more = "more" if worst.lost.difference > 0 else "less"
        leaching = (
            f"{_rate_text(abs(worst.lost.difference), system)} {more} of it leach than as recorded"
        )
    kept = [effect.response_kept for effect in late if np.isfinite(effect.response_kept)]
    response = (
        f", and the biomass that it adds is {100 * min(kept):.0f} percent of that as recorded"
        if kept
        else ""
    )
    return f"{who} after the changed weather and {verdict}: {leaching}{response}."
