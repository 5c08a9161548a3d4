"""What made a year differ from the usual."""

from __future__ import annotations

from simulator.answers.sheet.layout import Sheet
from simulator.answers.sheet.questions.request import SheetRequest, assemble_sheet
from simulator.answers.why import PIECES, bars, dataset, pieces, sentences
from simulator.answers.why import why as find
from simulator.show import wording

DEFAULTS = {
    "sow": ["10-20"],
    "nitrogen": ["60 lb/acre"],
    "nitrogen_timing": ["sowing"],
    "end": ["04-15"],
}
SIZE = (106, 22)  # width of a panel of the chart, height of a row [px]


def sheet(request: SheetRequest) -> Sheet:
    """Share a year's difference among the pieces of its weather."""
    found = find(
        request.record,
        year=request.year,
        years=request.years,
        **request.one_each(),
        **request.field,
        announce=request.announce,
    )
    texts = sentences(found, request.system)
    columns, rows = pieces(found, request.system)
    about = found.about
    rates = 2 if about["nitrogen_kg_ha"] > 0 else 1
    spans = [
        f"{season} runs from {wording.dates_in(first)} to {wording.dates_in(last)}"
        for season, (first, last) in found.spans.items()
    ]
    return assemble_sheet(
        request,
        dataset(found).assign_attrs(left_out=found.left_out),
        sorted([found.year, *found.others]),
        question=f"What made the fall of {found.year} differ?",
        answer=(texts[0], texts[1]),
        chart=bars(found, request.system, size=SIZE),
        chart_title=f"From the usual to {found.year}, by pieces of weather",
        columns=columns,
        rows=rows,
        seasons=2 ** len(PIECES) * len(found.others) * rates,
        figures=f"The shares add up to the difference between {found.year} and the mean of the "
        f"other falls, {len(found.others)} in number.",
        rests_on=[
            f"Seeded at {request.nitrogen(about['seeding_kg_ha'])}, sown on "
            f"{wording.dates_in(about['sow'])}, with {request.rate(about['nitrogen_kg_ha'])} "
            f"{wording.timing(about['nitrogen_timing'])}, ended "
            f"{wording.ending(about['end'])}.",
            f"Each piece is exchanged for that of every other fall; {wording.join(spans)}.",
        ],
    )
