"""A question answered: sentences, numbers, and the rows that the pictures draw."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from simulator import units
from simulator.answers.season.panels import CHANGED, PINNED, RECORDED
from simulator.answers.shared.bare_soil import this_stand
from simulator.answers.shared.changes import describe
from simulator.answers.shared.few_falls import FEWEST, wilson
from simulator.answers.shared.field_ranges import (
    biomass_ranges,
    chance_in_fields,
    difference_off,
    difference_ranges,
    how_far_off,
    in_a_field,
    spelled,
)
from simulator.answers.whatif.calculate import mean_total
from simulator.page.growing import Array, Changes, Grown, beside_bare, grow_plan, weather
from simulator.page.question import Question
from simulator.page.records import PlaceWeather, monthly_rain
from simulator.page.sown import Sown
from simulator.show import wording
from simulator.show.cautions import EMERGED, cautions
from simulator.show.grids import place as place_named
from simulator.show.tables import FEWEST_FOR_SHARES, NOTHING, mean, median, spread
from simulator.weather.change_text import Change

ALIKE_WORDS = "about as much"
ALIKE = 20.0  # kg/ha of biomass that is no difference
FEW = 10  # falls under which a chance says little

# of the table of numbers: what, field, kind of quantity or "", digits where there is no kind
NUMBERS = (
    ("biomass", "biomass_kg_ha", "biomass", 0),
    ("nitrogen in the shoots", "nitrogen_uptake_kg_ha", "nitrogen", 0),
    ("carbon to nitrogen", "carbon_to_nitrogen", "", 0),
    ("growth stage (Zadoks)", "growth_stage_zadoks", "", 0),
    ("nitrate leached since September", "nitrate_leached_kg_ha", "nitrogen", 0),
    ("water drained below", "drainage_mm", "water", 1),
    ("rain and snow since September", "rain_mm", "water", 1),
    ("warmth above freezing since sowing", "thermal_time_degC_d", "thermal_time", 0),
)


@dataclass(frozen=True)
class Answered:
    """A question and the seasons that answer it.

    Parameters
    ----------
    asked : Question
    place : PlaceWeather
    grown : dict of str to Grown
        ``recorded``; ``changed`` and ``pinned`` where there are such.
    """

    asked: Question
    place: PlaceWeather
    grown: dict[str, Grown]

    @property
    def system(self) -> units.System:
        """Units of the reader."""
        return self.asked.system

    @property
    def speaks_of(self) -> str:
        """The series that the answer speaks of: the changed weather's where it is changed."""
        return CHANGED if CHANGED in self.grown else RECORDED

    @property
    def spoken(self) -> Grown:
        """The seasons that the answer speaks of."""
        return self.grown[self.speaks_of]

    @property
    def labels(self) -> dict[str, str]:
        """What each line of the pictures is called."""
        changed = bool(self.asked.changes)
        values = {
            RECORDED: "this plan, weather as recorded" if changed else "this plan",
            CHANGED: "this plan, weather changed",
            PINNED: "pinned plan, weather changed" if changed else "pinned plan",
        }
        return {name: values[name] for name in self.grown}

    @property
    def heads(self) -> dict[str, str]:
        """What the columns of the table are called: shorter."""
        values = {
            RECORDED: "as recorded" if self.asked.changes else "this plan",
            CHANGED: "changed",
            PINNED: "pinned plan",
        }
        return {name: values[name] for name in self.grown}

    def values(self, name: str, field: str) -> Array:
        """Return a field at the end, of the fall asked for or of all falls."""
        grown = self.grown[name]
        ends = np.asarray(grown.ends[field])
        return ends if self.asked.year is None else ends[[grown.at(self.asked.year)]]

    def one(self, name: str, field: str) -> float:
        """Return a field at the end, as a mean over the falls asked for; of stages the median."""
        of = median if field == "growth_stage_zadoks" else mean
        return of(self.values(name, field))

    def mass(self, value: float) -> str:
        """Spell biomass to the nearest ten: more digits would promise too much."""
        return units.spell(value, "biomass", self.system)

    def in_a_field(self, made: Array) -> str:
        """Spell the range of weather and field of what falls make."""
        return spelled(biomass_ranges(made), "biomass", self.system)

    def nitrogen(self, value: float) -> str:
        """Spell nitrogen to the nearest one."""
        return units.spell(value, "nitrogen", self.system)


def answer(asked: Question, place: PlaceWeather) -> Answered:
    """Grow what a question asks for.

    Raises
    ------
    InputError
        Falls or changes that the weather cannot bear.
    """
    grown = {RECORDED: grow_plan(place, asked.plan, (), asked.year)}
    if asked.changes:
        grown[CHANGED] = grow_plan(place, asked.plan, asked.changes, asked.year)
    if asked.pinned is not None:
        grown[PINNED] = grow_plan(place, asked.pinned, asked.changes, asked.year)
    return Answered(asked, place, grown)


def sentences(found: Answered) -> list[str]:
    """Say what the plan comes to, what the change does, and how the pinned plan compares."""
    texts = [_stands(found)]
    if CHANGED in found.grown:
        texts.append(_against_recorded(found))
    if PINNED in found.grown:
        texts.append(_against_pinned(found))
    changes = found.asked.changes if CHANGED in found.grown else ()
    beside = beside_bare(found.place, found.spoken, changes, found.asked.year)
    texts += [_nitrate(found), this_stand(beside, found.system), how_far_off(found.system)]
    if len(found.grown) > 1:
        texts.append(difference_off(found.system))
    return [text for text in texts if text]


def planned(plan: Sown, system: units.System) -> str:
    """Spell a plan: ``"sown on Oct 20 with 90 lb/ac of seed and no nitrogen, ended ..."``."""
    fed = "no nitrogen"
    if plan.nitrogen_kg_ha > 0:
        fed = (
            f"{units.spell(plan.nitrogen_kg_ha, 'nitrogen', system)} of nitrogen "
            f"{wording.timing(plan.nitrogen_timing)}"
        )
    return (
        f"{plan.cereal} sown on {wording.dates_in(plan.sow)} with "
        f"{units.spell(plan.seeding_kg_ha, 'mass', system)} of seed and {fed}, ended "
        f"{wording.ending(plan.end)}"
    )


def _stands(found: Answered) -> str:
    """Say what stands on the last day."""
    asked, plan = found.asked, found.asked.plan
    made = found.values(found.speaks_of, "biomass_kg_ha")
    end, weather_is = wording.ending(plan.end), ", in the changed weather," if asked.changes else ""
    cereal = plan.cereal.capitalize()
    if asked.year is None:
        count = int(np.isfinite(made).sum())
        low, high = (found.mass(value) for value in spread(made))
        said = (
            f"{cereal} sown on {wording.dates_in(plan.sow)}{weather_is} makes "
            f"{found.mass(mean(made))} {end}, the mean of "
            f"{wording.falls(found.spoken.years)}"
        )
        often = (
            f"in 8 of 10 falls it makes {low} to {high}"
            if count >= FEWEST_FOR_SHARES
            else f"the least is {low}, the most {high}"
        )
        said = f"{said}; {often}, and in a field like these {found.in_a_field(made)}."
        return f"{said} {_dead(found)}".strip()
    last = found.spoken.ends[found.spoken.at(asked.year)]
    if last["growth_stage_zadoks"] < EMERGED:
        return (
            f"Sown on {wording.dates_in(plan.sow)} {asked.year}, {plan.cereal}{weather_is} has "
            f"not come up {end}."
        )
    if not last["stand_alive"]:
        return (
            f"Frost kills the {plan.cereal} sown on {wording.dates_in(plan.sow)} "
            f"{asked.year}{weather_is} before it is ended {end}."
        )
    return (
        f"{cereal} sown on {wording.dates_in(plan.sow)} {asked.year}{weather_is} stands at "
        f"{found.mass(float(made[0]))} of dry matter {end} {asked.year + 1}; in a field like these "
        f"it is {found.in_a_field(made)}."
    )


def _dead(found: Answered) -> str:
    ends = found.spoken.ends
    dead = int(((ends["stand_alive"] == 0) & (ends["growth_stage_zadoks"] >= EMERGED)).sum())
    if not dead:
        return ""
    return f"Frost kills it in {dead} of them, which count with what was left."


def _compared(found: Answered, before: float, after: float) -> str:
    """Say a difference as the two spelled numbers differ."""
    shown = [round(float(units.show(v, "biomass", found.system)), -1) for v in (before, after)]
    gap = abs(shown[1] - shown[0])
    if abs(after - before) < ALIKE or not gap:
        return ALIKE_WORDS
    share = f" ({100 * gap / shown[0]:.0f} percent)" if shown[0] else ""
    unit = units.label("biomass", found.system)
    return f"{gap:,.0f} {unit} {'less' if after < before else 'more'}{share}"


def _against_recorded(found: Answered) -> str:
    changes = wording.join([describe(change, found.system) for change in found.asked.changes])
    before, after = (found.one(name, "biomass_kg_ha") for name in (RECORDED, CHANGED))
    compared = _compared(found, before, after)
    than = "as" if compared == ALIKE_WORDS else "than"
    said = (
        f"With {changes} it makes {compared} {than} in the weather as recorded "
        f"({found.mass(before)})."
    )
    return f"{said} {_how_surely(found, RECORDED, CHANGED)}".strip()


def _how_surely(found: Answered, before: str, after: str) -> str:
    """Say what a difference may be in a field like these; nothing where there is none."""
    made = [found.values(name, "biomass_kg_ha") for name in (before, after)]
    if made[0].shape != made[1].shape or not np.abs(made[1] - made[0]).max(initial=0.0) >= ALIKE:
        return ""
    ranges = difference_ranges(made[1] - made[0])
    return in_a_field(ranges, found.system)


def _against_pinned(found: Answered) -> str:
    assert found.asked.pinned is not None
    pinned, here = (found.one(name, "biomass_kg_ha") for name in (PINNED, found.speaks_of))
    compared = _compared(found, pinned, here)
    than = "as" if compared == ALIKE_WORDS else "than"
    said = f"That is {compared} {than} the pinned plan makes ({found.mass(pinned)})."
    return f"{said} {_how_surely(found, PINNED, found.speaks_of)}".strip()


def _nitrate(found: Answered) -> str:
    lost = found.one(found.speaks_of, "nitrate_leached_kg_ha")
    taken = found.one(found.speaks_of, "nitrogen_uptake_kg_ha")
    if not math.isfinite(lost):
        return ""
    said = (
        f"Its shoots hold {found.nitrogen(taken)} of nitrogen; {found.nitrogen(lost)} of "
        "nitrate nitrogen has leached below the soil since September"
    )
    if CHANGED in found.grown:
        said += f", against {found.nitrogen(found.one(RECORDED, 'nitrate_leached_kg_ha'))}"
    return f"{said}."


def chance(found: Answered) -> dict[str, Any]:
    """Say how likely the target is in a field like these, and in how many falls it is reached.

    Returns
    -------
    dict
        ``said``, a sentence; ``rows``, series and text of each where there are several;
        ``headline``, for a picture.
    """
    target = found.mass(found.asked.target)
    texts, heads = {}, {}
    for name, grown in found.grown.items():
        made = grown.biomass()[np.isfinite(grown.biomass())]
        if made.size >= FEWEST:
            reached = int((made >= found.asked.target - 1e-9).sum())
            low, high = (100 * end for end in wilson(reached / made.size, made.size))
            likely = f"{100 * chance_in_fields(made, found.asked.target):.0f} percent"
            heads[name] = likely
            texts[name] = (
                f"with a chance of {likely} in a field like these; by the weather alone in "
                f"{reached} of {made.size} falls, {100 * reached / made.size:.0f} percent "
                f"({low:.0f} to {high:.0f})"
            )
    falls = len(found.spoken.years)
    if not texts:
        few = f"{falls} {'fall is' if falls == 1 else 'falls are'} too few for a chance"
        return {"said": f"{few}; {FEWEST} are needed.", "rows": [], "headline": f"{few}."}
    meaning = "In brackets, what so few falls leave possible (95 percent)."
    if falls < FEW:
        meaning += f" {falls} falls say little."
    headed = [f"{text} ({found.heads[name]})" for name, text in heads.items()]
    shares = wording.join(headed if len(heads) > 1 else list(heads.values()))
    kept = {
        "rows": [],
        "headline": f"The chance of {target} in a field like these is {shares}.",
    }
    if len(texts) == 1:
        return {**kept, "said": f"The plan makes {target} {next(iter(texts.values()))}. {meaning}"}
    rows = [[name, f"{found.labels[name]}: {text}"] for name, text in texts.items()]
    return {**kept, "said": f"{target} is made as below. {meaning}", "rows": rows}


def asked_in_words(found: Answered) -> str:
    """Say what is asked, for print and for whoever does not see the controls."""
    plan, about = found.asked.plan, found.place.about
    words = planned(plan, found.system)
    when = "all falls" if found.asked.year is None else f"the fall of {found.asked.year}"
    measured = [
        f"{what} {wording.dates_in(text)}"
        for what, text in (
            ("soil test", plan.soil_nitrate),
            ("organic matter", plan.organic_matter),
        )
        if text
    ]
    ground = f" ({', '.join(measured)})" if measured else ""
    return (
        f"{words[0].upper()}{words[1:]}, on {plan.soil}{ground} after {plan.previous_crop}, "
        f"at {place_named(about)}; {when}."
    )


def numbers(found: Answered) -> list[list[str]]:
    """Return the table of numbers: what, with its unit, then a column for each series."""
    laid = []
    for what, field, kind, digits in NUMBERS:
        unit = units.label(kind, found.system) if kind else ""
        places = units.SHOWN[kind][1][found.system].digits if kind else digits
        values = [found.one(name, field) for name in found.grown]
        shown = [
            _figure(float(units.show(value, kind, found.system)) if kind else value, places)
            for value in values
        ]
        laid.append([f"{what}, {unit}" if unit else what, *shown])
    return laid


def _figure(value: float, digits: int) -> str:
    return f"{round(value, digits) + 0.0:,.{max(digits, 0)}f}" if math.isfinite(value) else NOTHING


def notes(found: Answered) -> list[str]:
    """Say which falls are left out, what was filled, what the changed months had."""
    plan, year = found.asked.plan, found.asked.year
    falls = found.grown[RECORDED].years if year is None else (year,)
    texts = [
        *found.place.notes_for(falls, plan.sow, plan.end),
        *map(wording.dates_in, plan.field()[2]),
    ]
    for change in found.asked.changes:
        if change.quantity == "rain":
            before, after = (
                _mean_rain(found.place, changes, change) for changes in ((), found.asked.changes)
            )
            texts.append(
                f"Rain {change.span}: {units.spell(before, 'water', found.system)} as "
                f"recorded, {units.spell(after, 'water', found.system)} changed, as a "
                "mean over the years."
            )
    if found.grown[RECORDED].left_out:
        texts.append(
            "Left out, the weather not being whole: "
            + wording.join([text.split(":")[0] for text in found.grown[RECORDED].left_out])
            + "."
        )
    return texts


@lru_cache(64)
def _mean_rain(place: PlaceWeather, changes: Changes, change: Change) -> float:
    return mean_total(weather(place, changes), change)


def said_cautions(found: Answered) -> list[str]:
    """Gather what must stand beside the answer."""
    return cautions(found.place.about, nitrogen=True, termination=True)


def recorded_rain(place: PlaceWeather, system: units.System) -> list[str]:
    """Spell the mean rain of each month as recorded, January first, for the slider of rain."""
    return [units.spell(total, "water", system) for total in monthly_rain(place)]
