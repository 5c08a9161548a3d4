"""What changed weather does to nitrogen put on at sowing, and to nitrogen held."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from simulator import units
from simulator.answers import whatif as advice
from simulator.answers import whatif as whatif_chart
from simulator.answers.shared import changes as shared_changes
from simulator.answers.shared.field_ranges import (
    biomass_ranges,
    difference_off,
    how_far_off,
    in_a_field,
)
from simulator.answers.sheet.layout import Sheet
from simulator.answers.sheet.questions.bare_soil import in_changed_weather
from simulator.answers.sheet.questions.request import (
    SheetRequest,
    assemble_sheet,
    band_title,
    figures_are,
    rows_of,
    whole_falls,
)
from simulator.season import cases
from simulator.show import wording
from simulator.show.tables import Column
from simulator.weather.change_text import Change, parse_change

if TYPE_CHECKING:
    import xarray as xr

DEFAULTS = {
    "sow": ["10-20"],
    "nitrogen": ["0,30,60,90 lb/acre"],
    "nitrogen_timing": ["sowing", "02-15"],
    "end": ["04-15"],
}
PANEL = (156, 190)  # width and height of each of the chart's three [px]
LITTLE = 30.0  # kg/ha of biomass that is not worth a word
CASES = ((cases.RECORDED, "as it was"), (cases.CHANGED, "changed"))


def sheet(request: SheetRequest) -> Sheet:
    """Set the weather as it was beside the weather changed, by the time nitrogen goes on."""
    changes = [parse_change(text) for text in request.changes]
    grid = request.grown(request.changes)
    plans = whole_falls(grid).isel(sow=[0])
    found = advice.effects(plans, changes, request.errors)
    rate = advice.ordinary(found)
    chosen = [effect for effect in found if effect.nitrogen == rate]
    said = wording.join([shared_changes.describe(change, request.system) for change in changes])
    cereal, end = str(grid.attrs["cereal"]), wording.ending(str(plans["end"].values))
    sow, falls = wording.dates_in(chosen[0].sow), plans.sizes["year"]
    columns = [
        Column("nitrogen\non", left=True),
        Column("weather", left=True),
        Column("biomass", request.unit),
        Column(band_title(falls), request.unit),
        Column("8 of 10\nin a field\nlike these", request.unit),
        Column("biomass\nfrom\nnitro-\ngen", request.unit),
        Column("that, in\na field\nlike these", request.unit),
        Column("nitro-\ngen\nlost", request.unit),
    ]
    return assemble_sheet(
        request,
        rows_of(grid),
        plans["year"].values.tolist(),
        question=f"With {said}, what does nitrogen on {cereal} bring?",
        answer=_answer(request, chosen, said, cereal, sow),
        chart=whatif_chart.before_and_after(
            whatif_chart.rows(grid, request.system, request.errors),
            "biomass",
            request.system,
            up=f"biomass {end}",
            size=PANEL,
            labelled=[(wording.timing(effect.timing), rate) for effect in (chosen[0], chosen[-1])],
        ),
        chart_title=f"Biomass of {cereal} sown on {sow}, by nitrogen and weather; thick: "
        f"{band_title(falls)}, thin: in a field like these",
        columns=columns,
        rows=_rows(request, chosen, plans["biomass_kg_ha"].isel(sow=0), rate),
        seasons=grid["biomass_kg_ha"].size,
        beside_bare=in_changed_weather(
            request, grid, plans["year"].values.tolist(), [one.timing for one in chosen], rate
        ),
        figures=figures_are(
            falls,
            f"sown on {sow} with {request.rate(rate)}; biomass from nitrogen, and nitrogen lost "
            f"by leaching, are more than with {request.rate(chosen[0].base)}",
        ),
        rests_on=[
            f"Seeded at {request.nitrogen(float(plans['seeding']))}, sown on {sow}, ended {end}.",
            "The change is laid on each fall's own weather, all else as it was"
            f"{_recorded(request, changes)}.",
            how_far_off(request.system, request.errors.level),
            difference_off(request.system, request.errors.response),
        ],
    )


def _rows(
    request: SheetRequest, chosen: Sequence[advice.Effect], biomass: xr.DataArray, rate: float
) -> list[list[str]]:
    """Return a row for each time of nitrogen and each weather."""
    rows = []
    for effect in chosen:
        when = wording.timing(effect.timing)
        for case, weather in CASES:
            stands = biomass.sel(case=case, nitrogen_timing=effect.timing)
            made = stands.sel(nitrogen=rate).values
            stood, gained, lost = (
                pair.recorded if case == cases.RECORDED else pair.changed
                for pair in (effect.biomass, effect.gained, effect.lost)
            )
            rows.append(
                [
                    when,
                    weather,
                    request.biomass(stood, label=False),
                    request.band(made),
                    request.in_field(biomass_ranges(made, error=request.errors.level)),
                    request.biomass(gained, label=False),
                    request.in_field(effect.brings[case == cases.CHANGED]),
                    request.nitrogen(max(lost, 0.0), label=False),
                ]
            )
    return rows


def _recorded(request: SheetRequest, changes: Sequence[Change]) -> str:
    """Say what the changed spans had as recorded, for rain."""
    texts = [
        f"{units.spell(advice.mean_total(request.record, change), 'water', request.system)} "
        f"of rain {change.span}"
        for change in changes
        if change.quantity == "rain"
    ]
    return f": it brought {wording.join(texts)} on average" if texts else ""


def _answer(
    request: SheetRequest, chosen: Sequence[advice.Effect], said: str, cereal: str, sow: str
) -> tuple[str, str]:
    first, last = chosen[0], chosen[-1]

    def brings(effect: advice.Effect) -> str:
        here, usual = effect.gained.changed, effect.gained.recorded
        text = f"{'adds' if here >= 0 else 'takes'} {request.biomass(abs(here))} of biomass"
        if abs(here - usual) < LITTLE:
            return f"{text}, about as before"
        return f"{text} instead of {request.biomass(usual)}"

    def washes(effect: advice.Effect) -> str:
        here, usual = (
            request.nitrogen(max(v, 0.0)) for v in (effect.lost.changed, effect.lost.recorded)
        )
        same = "as before" if here == usual else f"instead of {usual}"
        return f"{here} of it leaches {same}"

    def adds(effect: advice.Effect) -> str:
        ranges = effect.brings[1]
        unclear = "" if ranges.is_clear else ", so that whether it adds any cannot be told"
        return f"In a field like these it adds {request.in_field(ranges)} {request.unit}{unclear}."

    one = (
        f"With {said}, {request.rate(first.applied)} {wording.timing(first.timing)} on {cereal} "
        f"sown on {sow} {brings(first)}; {washes(first)}. {adds(first)}"
    )
    if last is not first:
        return one, (
            f"Given {wording.timing(last.timing)}, the same nitrogen {brings(last)}; "
            f"{washes(last)}. {adds(last)}"
        )
    return one, (
        f"The stand itself then comes to {request.biomass(first.biomass.changed)}, against "
        f"{request.biomass(first.biomass.recorded)} in the weather as it was. "
        f"{in_a_field(first.differs, request.system)}"
    )
