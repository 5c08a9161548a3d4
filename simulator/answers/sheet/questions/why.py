"""What made a year differ from the usual."""

from __future__ import annotations

from simulator.answers.shared.fields import difference_off
from simulator.answers.sheet.layout import Sheet
from simulator.answers.sheet.questions.request import SheetRequest, assemble_sheet
from simulator.answers.why import bars, dataset, exchange_text, month_table, other_ways, sentences
from simulator.answers.why import why as find
from simulator.show import wording

DEFAULTS = {
    "sow": ["10-20"],
    "nitrogen": ["30 lb/acre"],
    "nitrogen_timing": ["sowing"],
    "end": ["04-15"],
}
SIZE = (106, 22)  # width of a panel of the chart, height of a row [px]


def sheet(request: SheetRequest) -> Sheet:
    """Share a year's difference among its months' rain and temperature."""
    found = find(
        request.record,
        year=request.year,
        years=request.years,
        **request.one_each(),
        **request.field,
        errors=request.errors,
        announce=request.announce,
    )
    texts = sentences(found, request.system)
    columns, rows = month_table(found, request.system)
    about = found.about
    return assemble_sheet(
        request,
        dataset(found).assign_attrs(left_out=found.left_out),
        sorted([found.year, *found.others]),
        question=f"What made the fall of {found.year} differ?",
        answer=(texts[0], texts[1]),
        chart=bars(found, request.system, size=SIZE),
        chart_title=f"From the usual to {found.year}, month by month (pale: 8 of 10 in a field "
        "like these)",
        columns=columns,
        rows=rows,
        seasons=found.grown,
        figures=" ".join(
            [
                "The shares are the model's own; they add up to the difference between "
                f"{found.year} and the mean of {len(found.others)} other falls. Month alone: "
                f"{found.year} less the same with that month's weather from the other falls.",
                *other_ways(found, request.system),
            ]
        ),
        rests_on=[
            f"Seeded at {request.nitrogen(about['seeding_kg_ha'])}, sown on "
            f"{wording.dates_in(about['sow'])}, with {request.rate(about['nitrogen_kg_ha'])} "
            f"{wording.timing(about['nitrogen_timing'])}, ended "
            f"{wording.ending(about['end'])}.",
            exchange_text(found),
            difference_off(request.system, found.errors.response),
        ],
    )
