"""What made a year differ from the usual."""

from __future__ import annotations

from dataclasses import replace

from simulator.answers.shared.field_ranges import difference_off
from simulator.answers.sheet.layout import Sheet
from simulator.answers.sheet.questions.request import SheetRequest, assemble_sheet, thousands
from simulator.answers.why import (
    BIOMASS,
    Why,
    bars,
    dataset,
    exchange_text,
    month_table,
    other_ways,
    sentences,
)
from simulator.answers.why import why as find
from simulator.show import wording
from simulator.show.tables import Column, apart

DEFAULTS = {
    "sow": ["10-20"],
    "nitrogen": ["30 lb/acre"],
    "nitrogen_timing": ["sowing"],
    "end": ["04-15"],
}
SIZE = (172, 19)  # width of a panel of the chart, height of a row [px]

# what the outcomes of the answer are called here
NAMES = {"nitrogen response": "biomass from nitrogen", "nitrate leached": "nitrogen lost"}
WEATHER = slice(1, 3)  # columns of the month's weather, which go last


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
    columns, rows = _table(found, request)
    about = found.about
    return assemble_sheet(
        request,
        dataset(found).assign_attrs(left_out=found.left_out),
        sorted([found.year, *found.others]),
        question=_question(found, request),
        answer=(texts[0], texts[1]),
        chart=bars(found, request.system, size=SIZE, titles=NAMES),
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


def _question(found: Why, request: SheetRequest) -> str:
    """Ask after the biomass first: how much more or less the year made."""
    usual, here = float(found.usual[BIOMASS].mean()), found.here[BIOMASS]
    gap = apart(usual, here, "biomass", request.system)
    side = "less" if here < usual else "more"
    return f"Why did {found.about['cereal']} make {gap} {side} biomass in the fall of {found.year}?"


def _table(found: Why, request: SheetRequest) -> tuple[list[Column], list[list[str]]]:
    """Return the months' table, biomass first and the weather last, thousands marked."""
    columns, rows = month_table(found, request.system)
    titles = [column.title.replace("\n", " ") for column in columns]
    renamed = [
        replace(column, title=NAMES.get(title, column.title))
        for column, title in zip(columns, titles, strict=True)
    ]
    whole = titles.index("by the month")
    renamed[whole] = replace(renamed[whole], title="biomass by the month")
    others = [at for at in range(3, len(columns)) if at != whole]
    order = [0, whole, *others, *range(*WEATHER.indices(len(columns)))]
    return [renamed[at] for at in order], [[thousands(row[at]) for at in order] for row in rows]
