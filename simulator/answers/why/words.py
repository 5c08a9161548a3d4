"""What made a year differ, in sentences made from its numbers."""

from __future__ import annotations

from simulator import units
from simulator.answers.shared.bare_soil import UNTRIED_NITRATE
from simulator.answers.shared.field_ranges import difference_off
from simulator.answers.shared.plant_counts import THIN, plants, what_thinned
from simulator.answers.why.calculate import FEWEST, Why
from simulator.answers.why.causes import (
    KIND,
    LITTLE,
    clause,
    listed,
    moved_most,
    opposite,
    worth_naming,
)
from simulator.answers.why.month_shares import BIOMASS, LEACHED, RESPONSE
from simulator.show import wording
from simulator.show.tables import apart, spread

LEACHING_TOLD = 3.0  # kg/ha of applied nitrogen more or less than usual


def sentences(found: Why, system: units.System) -> list[str]:
    """Say what made the year differ: what moved biomass most, then the rest.

    Parameters
    ----------
    found : Why
    system : {"us", "si"}

    Returns
    -------
    list of str
    """
    texts = [
        _headline(found, system),
        _range(found, system),
        _other_months_sentence(found, BIOMASS, system),
    ]
    texts += [_plants_sentence(found, system), *other_ways(found, system)]
    if found.about["nitrogen_kg_ha"] > 0:
        texts += [_response_sentence(found, system), _nitrogen_lost_sentence(found, system)]
    texts += [
        _leaching_sentence(found, system),
        f"{UNTRIED_NITRATE}.",
        difference_off(system, found.errors.response),
    ]
    texts.append(
        "How the difference is shared among months is the model's own: no trial has tried it."
    )
    return [text for text in texts if text]


def _headline(found: Why, system: units.System) -> str:
    """Say how the year's biomass differed, and which month moved it most."""
    first, at = differed(found, system), moved_most(found, BIOMASS)
    if abs(found.by_month(BIOMASS)[at]) < LITTLE[BIOMASS]:
        return f"{first}."
    cause = clause(found, BIOMASS, at, system, whose="its")
    return f"{first}. {found.months[at].name} made most of the difference: {cause}."


def differed(found: Why, system: units.System) -> str:
    """Say how the year's biomass differed from the usual."""
    about, here, usual = found.about, found.here[BIOMASS], float(found.usual[BIOMASS].mean())
    by = f"by {wording.dates_in(about['end'])}"
    said = "In" if found.ranges(BIOMASS).is_clear else "By the model, in"
    made = f"{said} the fall of {found.year} {about['cereal']} made"
    if abs(here - usual) < LITTLE[BIOMASS]:
        return f"{made} {_spell(here, BIOMASS, system)} {by}, about as usual"
    return (
        f"{made} {apart(here, usual, KIND[BIOMASS], system)} "
        f"{'more' if here > usual else 'less'} {by} than usual "
        f"({_number(here, BIOMASS, system)} instead of {_number(usual, BIOMASS, system)})"
    )


def _range(found: Why, system: units.System) -> str:
    """Say between what the difference lies in a field like these, and where other falls lie."""
    ranges = found.ranges(BIOMASS)
    low, high = _difference_text(ranges.low, system), _difference_text(ranges.high, system)
    if ranges.is_clear:
        small, large = sorted((abs(ranges.low), abs(ranges.high)))
        said = (
            f"In a field like these that is {_number(small, BIOMASS, system)} to "
            f"{_spell(large, BIOMASS, system)} {'more' if ranges.low > 0 else 'less'} "
            "than usual"
        )
    else:
        said = (
            f"The model cannot tell whether {found.year} made more or less than usual in a field "
            f"like these: there it is anything from {low} to {high}"
        )
    return f"{said}{_band(found, BIOMASS, system)}"


def _difference_text(value: float, system: units.System) -> str:
    return f"{_spell(abs(value), BIOMASS, system)} {'more' if value > 0 else 'less'}"


def _other_months_sentence(found: Why, outcome: str, system: units.System) -> str:
    """Say what the other months did that are worth naming."""
    named = [at for at in worth_naming(found, outcome) if at != moved_most(found, outcome)]
    said = [clause(found, outcome, at, system, whose=f"{found.months[at].name}'s") for at in named]
    return f"{'; '.join(said)}." if said else ""


def other_ways(found: Why, system: units.System) -> list[str]:
    """Name the months that do otherwise when they alone are changed than their share says."""
    texts, unit = [], units.label("biomass", system)
    if together := opposite(found, found.by_itself):
        texts.append(
            "Months act together. With one month's weather changed at a time, these months go the "
            f"other way ({unit}): "
            f"{listed(found, together, found.by_itself, system, 'alone')}."
        )
    if by_days := [at for at in opposite(found, found.totals) if at not in together]:
        texts.append(
            "The days on which it rained may count for more than how much. With their own days, "
            "but the usual rain and mean temperature, these months go the other way "
            f"({unit}): {listed(found, by_days, found.totals, system, 'then')}."
        )
    return texts


def _response_sentence(found: Why, system: units.System) -> str:
    """Say what the nitrogen brought, and which month moved that most."""
    here, usual = found.here[RESPONSE], float(found.usual[RESPONSE].mean())
    rate = units.spell(found.about["nitrogen_kg_ha"], "nitrogen", system)
    more, usually_more = ("more" if value >= 0 else "less" for value in (here, usual))
    first = (
        f"The {rate} of nitrogen made {_spell(abs(here), RESPONSE, system)} {more} than none, "
        f"usually {_number(abs(usual), RESPONSE, system)} {usually_more}"
    )
    if not found.ranges(RESPONSE).is_clear:
        first += " (whether the two differ in a field like these, the model cannot tell)"
    return f"{first}{_main_month_clause(found, RESPONSE, system)}."


def _main_month_clause(found: Why, outcome: str, system: units.System) -> str:
    """Name the month that moved an outcome most, as the end of a sentence."""
    if not (named := worth_naming(found, outcome)):
        return ""
    whose = f"{found.months[named[0]].name}'s"
    return f"; {clause(found, outcome, named[0], system, whose=whose)}"


def _plants_sentence(found: Why, system: units.System) -> str:
    """Say how many plants came up, where they were fewer than usual."""
    here, usual = found.stood["plants_emerged_m2"]
    if not here < THIN * usual:
        return ""
    text = f"Only {plants(here, system)} came up" if here > 0.0 else "No plants came up"
    cause = what_thinned({name: value[0] for name, value in found.stood.items()})
    return f"{text}, usually {plants(usual, system)}" + (f": {cause}." if cause else ".")


def _nitrogen_lost_sentence(found: Why, system: units.System) -> str:
    """Say how much of the applied nitrogen leached, where it was more or less than usual."""
    if abs(found.lost[0] - found.lost[1]) < LEACHING_TOLD:
        return ""
    by = "Christmas" if found.lost_by != found.about["end"] else wording.dates_in(found.lost_by)
    here, usual = (f"{units.show(max(value, 0.0), 'nitrogen', system):.0f}" for value in found.lost)
    rate = units.spell(found.about["nitrogen_kg_ha"], "nitrogen", system)
    return f"Of the {rate} of nitrogen {here} leached by {by}, usually {usual}."


def _leaching_sentence(found: Why, system: units.System) -> str:
    """Say how much nitrate leached, and which month moved that most."""
    here, usual = found.here[LEACHED], float(found.usual[LEACHED].mean())
    first = (
        f"Nitrate nitrogen leached since {wording.dates_in(found.about['soil_from'])}: "
        f"{_spell(here, LEACHED, system)}, usually {_number(usual, LEACHED, system)}"
    )
    return f"{first}{_main_month_clause(found, LEACHED, system)}."


def _band(found: Why, outcome: str, system: units.System) -> str:
    """Say where most other years lie, as the end of a sentence."""
    if len(found.others) < 2:
        return "."
    low, high = band(found, outcome)
    span = f"{_number(low, outcome, system)} to {_spell(high, outcome, system)}"
    if len(found.others) < FEWEST:
        return f"; the {len(found.others)} other falls made {span}."
    return f"; 8 of 10 other falls made {span}."


def band(found: Why, outcome: str) -> tuple[float, float]:
    """Return the range in which 8 of 10 other falls lie; of fewer than ten, of all."""
    return spread(found.usual[outcome])


def _spell(value: float, outcome: str, system: units.System) -> str:
    return units.spell(value, KIND[outcome], system)


def _number(value: float, outcome: str, system: units.System) -> str:
    return _spell(value, outcome, system).split(" ")[0]
