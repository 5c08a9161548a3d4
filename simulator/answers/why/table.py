"""What made a year differ: tables."""

from __future__ import annotations

from simulator import units
from simulator.answers.shared.field_ranges import IN_A_FIELD
from simulator.answers.why.calculate import FEWEST, Why
from simulator.answers.why.causes import KIND
from simulator.answers.why.exchanged_weather import WHATS
from simulator.answers.why.month_shares import BIOMASS, LEACHED, OUTCOMES
from simulator.answers.why.words import band
from simulator.show import wording
from simulator.show.grids import place
from simulator.show.tables import Column, difference, number, paragraph, span, table


def shown_outcomes(found: Why) -> tuple[str, ...]:
    """Return the outcomes that there are: without nitrogen there is no response to it."""
    return OUTCOMES if found.about["nitrogen_kg_ha"] > 0 else (BIOMASS, LEACHED)


def heading(found: Why, system: units.System) -> str:
    """Say what was grown where, and which year is set beside which."""
    about = found.about
    chosen = (
        f" It is the fall that differs most, {wording.join(shown_outcomes(found))} taken together."
        if found.chosen
        else ""
    )
    return paragraph(
        f"{wording.stand(about).capitalize()} on {about['soil']} after {about['previous_crop']}, "
        f"at {place(about)}: the fall of {found.year} beside {wording.falls(found.others)}."
        f"{chosen} Sown on {wording.dates_in(about['sow'])} at "
        f"{units.spell(about['seeding_kg_ha'], 'mass', system)} of seed, with "
        f"{units.spell(about['nitrogen_kg_ha'], 'nitrogen', system)} of nitrogen "
        f"{wording.timing(about['nitrogen_timing'])}, ended {wording.ending(about['end'])}. "
        f"{exchange_text(found)}"
    )


def exchange_text(found: Why) -> str:
    """Say what weather is exchanged."""
    first, last = found.months[0].first, found.months[-1].last
    return (
        "Rain and temperature are exchanged month by month for those of the other falls, from "
        f"{wording.dates_in(first)} to {wording.dates_in(last)}."
    )


def tables(found: Why, system: units.System) -> list[str]:
    """Print that year beside the usual, and what each month's weather made of the difference."""
    title = paragraph(
        f"What each month of {found.year} made of the differences; month alone: "
        f"{found.year} less the same with that month's weather from the other falls."
    )
    return [
        _outcome_table(found, system),
        f"{title}\n\n{table(*month_table(found, system))}",
    ]


def _outcome_table(found: Why, system: units.System) -> str:
    few = len(found.others) < FEWEST
    columns = [
        Column("", left=True),
        Column("unit", left=True),
        Column(str(found.year)),
        Column("usual"),
        Column("lowest and\nhighest other" if few else "8 of 10\nother falls"),
        Column("difference"),
        Column(f"difference\n{IN_A_FIELD}"),
    ]
    rows = []
    for outcome in shown_outcomes(found):
        kind, usual = KIND[outcome], float(found.usual[outcome].mean())
        ranges = found.ranges(outcome)
        rows.append(
            [
                outcome,
                units.label(kind, system),
                number(found.here[outcome], kind, system),
                number(usual, kind, system),
                span(band(found, outcome), kind, system),
                difference(usual, found.here[outcome], kind, system),
                span((ranges.low, ranges.high), kind, system, sign=True),
            ]
        )
    return table(columns, rows)


def month_table(found: Why, system: units.System) -> tuple[list[Column], list[list[str]]]:
    """Return the table of months: their weather, and what each made of the differences."""
    biomass, water, degrees = (
        units.label(kind, system) for kind in ("biomass", "water", "temperature")
    )
    others = shown_outcomes(found)[1:]
    columns = [
        Column("month", left=True),
        Column("rain\n(usual)", water),
        Column("temp.\n(usual)", degrees),
        Column("biomass\nby rain", biomass),
        Column("by\ntemp.", biomass),
        Column("by the\nmonth", biomass),
        Column("month\nalone", biomass),
        *(
            Column(outcome.replace(" ", "\n", 1), units.label(KIND[outcome], system))
            for outcome in others
        ),
    ]
    rows = []
    for at, month in enumerate(found.months):
        made = [
            *found.shares[BIOMASS][at],
            found.by_month(BIOMASS)[at],
            found.by_itself[BIOMASS][at],
        ]
        rows.append(
            [
                month.name[:3],
                _value_and_usual(month.rain, "water", system),
                _value_and_usual(month.temperature, "temperature", system),
                *(number(value, "biomass", system, sign=True) for value in made),
                *(
                    number(found.by_month(outcome)[at], KIND[outcome], system, sign=True)
                    for outcome in others
                ),
            ]
        )
    rows.append(
        [
            "all",
            _value_and_usual(_rain(found), "water", system),
            "",
            *(
                number(found.shares[BIOMASS][:, k].sum(), "biomass", system, sign=True)
                for k in range(len(WHATS))
            ),
            _total_difference(found, BIOMASS, system),
            "",
            *(_total_difference(found, outcome, system) for outcome in others),
        ]
    )
    return columns, rows


def _value_and_usual(pair: tuple[float, float], kind: str, system: units.System) -> str:
    here, usual = (number(value, kind, system) for value in pair)
    return f"{here} ({usual})"


def _rain(found: Why) -> tuple[float, float]:
    here, usual = (sum(month.rain[k] for month in found.months) for k in (0, 1))
    return here, usual


def _total_difference(found: Why, outcome: str, system: units.System) -> str:
    usual = float(found.usual[outcome].mean())
    return difference(usual, found.here[outcome], KIND[outcome], system)


def notes(found: Why) -> list[str]:
    """Say how few falls there are, where there are few."""
    if len(found.others) >= FEWEST:
        return []
    return [
        f"What is usual rests on {len(found.others)} other "
        f"{'fall' if len(found.others) == 1 else 'falls'} only."
    ]
