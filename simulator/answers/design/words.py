"""What a planned trial can show, in sentences made from its numbers."""

from __future__ import annotations

from simulator import units
from simulator.answers.design.calculate import Design
from simulator.answers.design.question import Spread
from simulator.answers.shared.field_ranges import difference_off, how_far_off
from simulator.show import wording
from simulator.trials.design.misleading import Odd
from simulator.trials.design.testing import Chance, years_needed
from simulator.trials.design.trial import TREATMENT, pairs
from simulator.weather.change_text import MONTHS

BETWEEN = {
    "sow": "sowing dates",
    "seeding": "seeding rates",
    "nitrogen": "nitrogen rates",
    TREATMENT: "single treatments",
}
OF = {"sow": "", "seeding": " of seed", "nitrogen": " of N"}
STATISTICIAN = (
    "This is for planning only: take it to a statistician before the field is staked, and have the "
    "analysis fit the layout."
)
MODEL_YEARS = (
    "How differences vary from year to year is the model's, and its error is added as if it came "
    "anew each year; see docs/skill.md for how far off the model is."
)
WORTH = 0.1  # of the difference asked about: a smaller response has nothing to hide
LARGE = 0.5  # of what stands, above which hardly any two treatments differ
NAMED = 3  # misleading falls named in a sentence


def percent(share: float) -> str:
    """Print a share as so many of a hundred."""
    return f"{100.0 * share:.0f}"


def level_name(design: Design, factor: str, level: int, system: units.System) -> str:
    """Name a level: ``"Oct 20"``, ``"60 lb/ac of N"``."""
    return f"{_level(design, factor, level, system)}{OF[factor]}"


def _level(design: Design, factor: str, level: int, system: units.System) -> str:
    value = design.plans[factor][level]
    if factor == "sow":
        return wording.dates_in(value)
    return units.spell(value, "mass" if factor == "seeding" else "nitrogen", system)


def pair_name(
    design: Design, factor: str, pair: tuple[int, int], system: units.System, by: str = "and"
) -> str:
    """Name two levels: ``"Oct 20 and Dec 8"``, ``"0 and 60 lb/ac of N"``."""
    first, second = (_level(design, factor, level, system) for level in pair)
    first = first if factor == "sow" else first.split(" ")[0]
    return f"{first} {by} {second}{OF[factor]}"


def size_of(design: Design) -> str:
    """Say how many plots the design has."""
    asked, each = design.question, design.trial.treatments
    a_year = each * asked.blocks
    return (
        f"{asked.years} years of {asked.blocks} blocks of {each} treatments: {a_year:,} plots a "
        f"year, {a_year * asked.years:,} in all"
    )


def sentences(design: Design, system: units.System) -> list[str]:
    """Say what the trial can show, what limits it and what would help."""
    texts = [
        headline(design, system),
        _smallest(design, system),
        _needed(design),
        _blocks_or_years(design),
        _wrong_date(design, system),
        _model_difference(design, system),
        *(_misled(design, factor, system) for factor in design.trial.asked()),
        _hidden(design, system),
    ]
    return [text for text in texts if text]


def headline(design: Design, system: units.System) -> str:
    """Say how often the trial sees the difference, and how often the wrong date looks best."""
    asked = design.question
    wanted = units.spell(asked.difference, "mass", system)
    first, *others = design.trial.compared()
    seen = [
        f"{percent(design.asked(first).seen)} see a true difference of {wanted} between two "
        f"{BETWEEN[first]}",
        *(f"{percent(design.asked(one).seen)} between two {BETWEEN[one]}" for one in others),
    ]
    return f"Of 100 trials of {asked.years} years with {asked.blocks} blocks, {wording.join(seen)}."


def _smallest(design: Design, system: units.System) -> str:
    """Say from which difference on each comparison is seen, and what it would be without years."""
    compared = design.trial.compared()

    def sizes(chances: list[Chance]) -> list[str]:
        return [
            units.spell(chance_of(chances, one).smallest, "biomass", system) for one in compared
        ]

    here = sizes([design.asked(one) for one in compared])
    parts = [f"{size} between {BETWEEN[one]}" for size, one in zip(here, compared, strict=True)]
    return (
        f"Seen 8 times of 10 are differences of at least {wording.join(parts)}; if all years were "
        f"alike, of at least {wording.join(sizes(design.if_alike))}."
    )


def _needed(design: Design) -> str:
    """Say how many years it takes, with each number of blocks."""
    blocks, years = design.question.designs()
    takes: dict[str, list[str]] = {}
    for factor in design.trial.asked():
        counts = [years_needed(design.chances, factor, number) for number in blocks]
        if len(set(counts)) > 1:
            known = [(number, count) for number, count in zip(blocks, counts, strict=True) if count]
            (number, count), *others = known
            first = f"{count} year{'' if count == 1 else 's'} with {number} blocks"
            spoken = wording.join([first, *(f"{count} with {number}" for number, count in others)])
        elif counts[0] is None:
            spoken = f"more than {max(years)} years, even with {max(blocks)} blocks"
        else:
            spoken = f"{counts[0]} years, with {min(blocks)} blocks or {max(blocks)}"
        takes.setdefault(spoken, []).append(BETWEEN[factor])
    parts = [f"between {wording.join(names)}, {text}" for text, names in takes.items()]
    return f"To see it 8 times of 10 takes, {'; '.join(parts)}."


def _blocks_or_years(design: Design) -> str:
    """Say what two blocks more bring, and what two years more."""
    asked = design.question
    blocks, years = asked.designs()
    found = {(one.factor, one.blocks, one.years): one.seen for one in design.chances}
    if max(blocks) == asked.blocks or asked.years + 2 > max(years):
        return ""
    parts = []
    for factor in design.trial.asked():
        here, most, longer = (
            percent(found[factor, number, count])
            for number, count in (
                (asked.blocks, asked.years),
                (max(blocks), asked.years),
                (asked.blocks, asked.years + 2),
            )
        )
        if here != longer:
            parts.append(f"from {here} to {most} or {longer} between {BETWEEN[factor]}")
    if not parts:
        return ""
    return (
        f"{max(blocks)} blocks in place of {asked.blocks}, or 2 more years, raise the chance "
        f"{wording.join(parts)}."
    )


def _wrong_date(design: Design, system: units.System) -> str:
    if "sow" not in design.trial.asked():
        return ""
    here = design.asked("sow")
    best = int(design.trial.means("sow").mean(axis=0).argmax())
    size = units.spell(design.question.difference, "mass", system)
    text = (
        f"In {percent(here.wrong)} of 100 trials another sowing date than the best in the long "
        f"run, {level_name(design, 'sow', best, system)}, comes out ahead"
    )
    if percent(here.wrong) == "0":
        return f"{text}."
    return f"{text}; in {percent(here.wrong_by)} it is one that is worse by {size} or more."


def _model_difference(design: Design, system: units.System) -> str:
    """Say how often the trial sees what the model has between the ends of each factor."""
    parts = []
    for factor in design.trial.asked():
        means = design.trial.means(factor).mean(axis=0)
        ends = (0, len(means) - 1)
        seen = design.asked(factor).seen_by_pair[pairs(factor, len(means)).index(ends)]
        size = units.spell(abs(float(means[-1] - means[0])), "biomass", system)
        parts.append(f"{size} between {pair_name(design, factor, ends, system)} in {percent(seen)}")
    return f"The model's own differences are seen, of 100 trials: {'; '.join(parts)}."


def odd_text(odd: tuple[Odd, ...], system: units.System) -> str:
    """Say what was odd in a fall's weather: ``"11.2 in of rain in November, usual 3.9 in"``."""
    parts = []
    for one in odd:
        month = MONTHS[int(one.month[5:]) - 1]
        kind = "rain" if one.kind == "rain" else "temperature"
        value, usual = (units.spell(x, kind, system) for x in (one.value, one.usual))
        what = f"{value} of rain" if one.kind == "rain" else value
        parts.append(f"{what} in {month}, usual {usual}")
    return "; ".join(parts) or "no month by itself"


def odd_month(odd: tuple[Odd, ...], system: units.System) -> str:
    """Say shortly what was oddest in a fall's weather: ``"November rain 10.08 in (3.94 in)"``."""
    if not odd:
        return "no month by itself"
    one = odd[0]
    kind = "rain" if one.kind == "rain" else "temperature"
    value, usual = (units.spell(x, kind, system) for x in (one.value, one.usual))
    return f"{MONTHS[int(one.month[5:]) - 1]}{' rain' * (kind == 'rain')} {value} ({usual})"


def _misled(design: Design, factor: str, system: units.System) -> str:
    here = [one for one in design.misled if one.factor == factor]
    if not here:
        return ""
    ends = (0, len(design.plans[factor]) - 1)
    first = here[0]
    ahead = "more" if first.difference > 0 else "less"
    text = (
        f"A trial of {BETWEEN[factor]} would have been misled most in fall {first.year}: "
        f"{level_name(design, factor, ends[1], system)} made "
        f"{units.spell(abs(first.difference), 'biomass', system)} {ahead} than "
        f"{level_name(design, factor, ends[0], system)}, where the record's mean is "
        f"{_signed(first.usual, system)} ({odd_text(first.odd[:1], system)})."
    )
    others = [str(one.year) for one in here[1 : NAMED + 1]]
    come = "comes" if len(others) == 1 else "come"
    return f"{text} Next {come} {wording.join(others)}." if others else text


def _signed(value: float, system: units.System) -> str:
    word = "more" if value > 0 else "less"
    return f"{units.spell(abs(value), 'biomass', system)} {word}"


def _hidden(design: Design, system: units.System) -> str:
    found = design.hidden
    if found is None or found.response < WORTH * design.question.difference:
        return ""
    rains = [f"{year} ({units.spell(rain, 'rain', system)})" for year, rain in found.years.items()]
    return (
        f"Wettest from October to December were {wording.join(rains)}. Of {found.pairs:,} "
        "simulated pairs of an ordinary and such a fall, the ordinary one alone showed what "
        f"nitrogen brings at one sowing date in {found.shown:,}; the drenched one then hid it in "
        f"{found.hidden:,}, a second ordinary one in {found.ordinary:,}."
    )


def spread_note(design: Design, system: units.System) -> list[str]:
    """Say what the plots are spread by, and where that is from."""
    asked = design.question
    texts = [f"Plots treated alike spread by {_spread(asked.spread, system)}."]
    if not asked.spread.given:
        texts[0] = (
            f"Plots treated alike spread by {_spread(asked.spread, system)}, which nobody gave: in "
            "124 means of 3 to 6 plots in open trials of rye (Huddell et al. 2024) it was 27 %, "
            "with a median of 21 %. Give that of your own trials."
        )
    stands = float(design.trial.biomass.mean())
    if asked.difference > LARGE * stands:
        texts.append(
            f"The difference asked about is {percent(asked.difference / stands)} % of what stands "
            f"on average, {units.spell(stands, 'biomass', system)}: ask for one that could be."
        )
    if asked.whole_plot is not None:
        source = "" if asked.whole_plot.given else " (common practice, no source)"
        texts.append(f"Whole plots spread by {_spread(asked.whole_plot, system)} more{source}.")
    texts += [
        f"Between rates: {_lower(difference_off(system, design.errors.response))}",
        f"Between sowing dates: {_lower(how_far_off(system, design.errors.level))}",
        "The spread of plots is in both errors already, so that chances are rather too low.",
    ]
    return texts


def _lower(text: str) -> str:
    return text[0].lower() + text[1:]


def _spread(spread: Spread, system: units.System) -> str:
    if spread.share:
        return f"{100.0 * spread.value:g} % of the fall's mean"
    return units.spell(spread.value, "mass", system)


def cautions(design: Design) -> list[str]:
    """Gather what to keep in mind."""
    texts = [STATISTICIAN, MODEL_YEARS]
    if design.question.whole_plot is None and len(design.plans["sow"]) > 1:
        texts.append(
            "Several sowing dates side by side within a block are hard to drill; a split plot has "
            "them in strips."
        )
    return texts


def chance_of(chances: list[Chance], factor: str) -> Chance:
    """Return what is said of a factor in a list of one design."""
    return next(one for one in chances if one.factor == factor)
