"""What made a year differ: tables, and rows for programs."""

from __future__ import annotations

import numpy as np

from simulator import units
from simulator.answers.why.calculate import BIOMASS, FEWEST, LEACHED, OUTCOMES, RESPONSE, Why
from simulator.answers.why.exchanged import PIECES
from simulator.answers.why.words import band
from simulator.show import wording
from simulator.show.grids import place
from simulator.show.tables import NOTHING, Column, difference, number, paragraph, table

KIND: dict[str, str] = {BIOMASS: "mass", RESPONSE: "mass", LEACHED: "nitrogen"}


def shown_outcomes(found: Why) -> tuple[str, ...]:
    """Return the outcomes that there are: without nitrogen there is no response to it."""
    return OUTCOMES if found.about["nitrogen_kg_ha"] > 0 else (BIOMASS, LEACHED)


def heading(found: Why, system: units.System) -> str:
    """Say what was grown where, which year is set beside which, and what the seasons are."""
    about = found.about
    chosen = (
        f" It is the fall that differs most, {wording.join(shown_outcomes(found))} taken together."
        if found.chosen
        else ""
    )
    spans = [
        f"{season} from {wording.dates_in(first)} to {wording.dates_in(last)}"
        for season, (first, last) in found.spans.items()
    ]
    return paragraph(
        f"{str(about['cereal']).capitalize()} on {about['soil']} after {about['previous_crop']}, "
        f"at {place(about)}: the fall of {found.year} beside {wording.falls(found.others)}."
        f"{chosen} Sown on {wording.dates_in(about['sow'])} at "
        f"{units.spell(about['seeding_kg_ha'], 'mass', system)} of seed, with "
        f"{units.spell(about['nitrogen_kg_ha'], 'nitrogen', system)} of nitrogen "
        f"{wording.timing(about['nitrogen_timing'])}, ended {wording.ending(about['end'])}. "
        f"The weather is exchanged by pieces: {wording.join(spans)}."
    )


def tables(found: Why, system: units.System) -> list[str]:
    """Print that year beside the usual, and what each piece of weather made of the difference."""
    return [_outcome_table(found, system), _piece_table(found, system)]


def _outcome_table(found: Why, system: units.System) -> str:
    few = len(found.others) < FEWEST
    columns = [
        Column("", left=True),
        Column("unit", left=True),
        Column(str(found.year)),
        Column("usual"),
        Column("difference"),
        Column("lowest and highest" if few else "8 of 10 other falls"),
    ]
    rows = []
    for outcome in shown_outcomes(found):
        kind, usual = KIND[outcome], float(found.usual[outcome].mean())
        low, high = band(found, outcome)
        rows.append(
            [
                outcome,
                units.label(kind, system),
                number(found.here[outcome], kind, system),
                number(usual, kind, system),
                difference(usual, found.here[outcome], kind, system),
                f"{number(low, kind, system)} to {number(high, kind, system)}",
            ]
        )
    return table(columns, rows)


def _piece_table(found: Why, system: units.System) -> str:
    title = f"What each piece of {found.year}'s weather made of the difference:"
    return f"{title}\n\n{table(*pieces(found, system))}"


def pieces(found: Why, system: units.System) -> tuple[list[Column], list[list[str]]]:
    """Return the table of pieces: their weather, and what each made of the differences."""
    outcomes = shown_outcomes(found)
    columns = [
        Column("piece of weather", left=True),
        Column(str(found.year)),
        Column("usual"),
        *(
            Column(outcome.replace(" ", "\n", 1), units.label(KIND[outcome], system))
            for outcome in outcomes
        ),
    ]
    rows = [
        [
            piece,
            *_weather(found, piece, system),
            *(
                number(found.share(outcome, piece), KIND[outcome], system, sign=True)
                for outcome in outcomes
            ),
        ]
        for piece in PIECES
        if piece.split()[0] in found.spans
    ]
    rows.append(
        [
            "together",
            "",
            "",
            *(
                difference(
                    float(found.usual[outcome].mean()), found.here[outcome], KIND[outcome], system
                )
                for outcome in outcomes
            ),
        ]
    )
    return columns, rows


def _weather(found: Why, piece: str, system: units.System) -> list[str]:
    kind = "water" if piece.endswith("rain") else "temperature"
    return [
        units.spell(value, kind, system) if np.isfinite(value) else NOTHING
        for value in found.weather(piece)
    ]


def notes(found: Why) -> list[str]:
    """Say how few falls there are, where there are few."""
    if len(found.others) >= FEWEST:
        return []
    return [
        f"What is usual rests on {len(found.others)} other "
        f"{'fall' if len(found.others) == 1 else 'falls'} only."
    ]
