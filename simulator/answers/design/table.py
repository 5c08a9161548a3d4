"""What a planned trial can show, as tables."""

from __future__ import annotations

from simulator import units
from simulator.answers.design.calculate import Design
from simulator.answers.design.field import Field, plan_text
from simulator.answers.design.words import (
    BETWEEN,
    chance_of,
    odd_month,
    pair_name,
    percent,
    size_of,
)
from simulator.show.tables import Column, number, paragraph, table
from simulator.trials.design.testing import years_needed
from simulator.trials.design.trial import TREATMENT, pairs

NAMES = {**BETWEEN, TREATMENT: "treatments"}
MOST_PAIRS = 15  # printed; beyond, the ends of each factor alone
MOST_MISLED = 4  # of each factor


def tables(design: Design, field: Field | None, system: units.System) -> list[str]:
    """Lay out what the trial shows, what it takes, what misleads it, and its field."""
    unit = units.label("mass", system)
    wanted = units.spell(design.question.difference, "mass", system)
    blocks = [
        paragraph(
            f"{size_of(design)}. Chances are of 100 trials, to see a true difference of {wanted} "
            "at 5 percent."
        ),
        _answer(design, unit, system),
        paragraph("Chance by the number of years of the trial, and years needed for 80 of 100:"),
        _by_years(design),
        paragraph("The model's own differences, in the mean of the record's falls:"),
        _pairs(design, unit, system),
    ]
    if design.misled:
        title = "Falls that would have misled, last level less first, and what was odd in them:"
        blocks += [paragraph(title), _misled(design, unit, system)]
    if design.uses:
        title = (
            f"What {design.question.budget:,} plots over at most {design.question.years} years "
            "are best spent on:"
        )
        blocks += [paragraph(title), _uses(design, unit, system)]
    if field is not None:
        title, *plan = plan_text(field, system)
        blocks += [paragraph(title), *plan]
    return blocks


def _answer(design: Design, unit: str, system: units.System) -> str:
    columns = [
        Column("between two", left=True),
        Column("chance"),
        Column("95 %\ninterval +-", unit),
        Column("8 of 10\nsee from", unit),
        Column("wrong one\nlooks best"),
        Column("if model\nis right"),
        Column("if years\nalike"),
    ]
    rows = []
    for factor in design.trial.compared():
        here = design.asked(factor)
        rows.append(
            [
                NAMES[factor],
                percent(here.seen),
                number(here.reach, "biomass", system),
                number(here.smallest, "biomass", system),
                percent(here.wrong),
                *(
                    percent(chance_of(chances, factor).seen)
                    for chances in (design.if_right, design.if_alike)
                ),
            ]
        )
    return table(columns, rows)


def _by_years(design: Design) -> str:
    blocks, years = design.question.designs()
    columns = [
        Column("between two", left=True),
        Column("blocks"),
        *(Column(str(count)) for count in years),
        Column("needed"),
    ]
    found = {(one.factor, one.blocks, one.years): one for one in design.chances}
    rows = []
    for factor in design.trial.compared():
        for at in blocks:
            needed = years_needed(design.chances, factor, at)
            rows.append(
                [
                    NAMES[factor] if at == blocks[0] else "",
                    str(at),
                    *(percent(found[factor, at, count].seen) for count in years),
                    str(needed) if needed else f">{years[-1]}",
                ]
            )
    return table(columns, rows)


def _pairs(design: Design, unit: str, system: units.System) -> str:
    columns = [
        Column("between", left=True),
        Column("difference", unit),
        Column("chance\nto see it"),
    ]
    asked = design.trial.asked()
    too_many = sum(len(design.asked(factor).seen_by_pair) for factor in asked) > MOST_PAIRS
    rows = []
    for factor in asked:
        means = design.trial.means(factor).mean(axis=0)
        for pair, seen in zip(
            pairs(factor, len(means)), design.asked(factor).seen_by_pair, strict=True
        ):
            if too_many and 0 not in pair:
                continue
            size = float(means[pair[1]] - means[pair[0]])
            rows.append(
                [
                    pair_name(design, factor, pair, system),
                    number(size, "biomass", system, sign=True),
                    percent(seen),
                ]
            )
    return table(columns, rows)


def _misled(design: Design, unit: str, system: units.System) -> str:
    columns = [
        Column("between", left=True),
        Column("fall"),
        Column("difference", unit),
        Column("usual", unit),
        Column("odd in it (usual)", left=True),
    ]
    rows = []
    for factor in design.trial.asked():
        last = len(design.plans[factor]) - 1
        name = pair_name(design, factor, (last, 0), system, by="less")
        here = [one for one in design.misled if one.factor == factor][:MOST_MISLED]
        rows += [
            [
                name if one is here[0] else "",
                str(one.year),
                number(one.difference, "biomass", system, sign=True),
                number(one.usual, "biomass", system, sign=True),
                odd_month(one.odd, system),
            ]
            for one in here
        ]
    return table(columns, rows)


def _uses(design: Design, unit: str, system: units.System) -> str:
    columns = [
        Column("to compare", left=True),
        Column("grow", left=True),
        Column("treat-\nments"),
        Column("blocks"),
        Column("years"),
        Column("plots"),
        Column("chance"),
        Column("8 of 10\nsee from", unit),
    ]
    rows = []
    for factor in design.trial.compared():
        here = [one for one in design.uses if one.chance.factor == factor]
        rows += [
            [
                NAMES[factor] if one is here[0] else "",
                one.kept,
                str(one.treatments),
                str(one.chance.blocks),
                str(one.chance.years),
                f"{one.plots:,}",
                percent(one.chance.seen),
                number(one.chance.smallest, "biomass", system),
            ]
            for one in here
        ]
    return table(columns, rows)
