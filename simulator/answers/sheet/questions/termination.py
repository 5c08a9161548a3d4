"""What waiting to end the stand brings and costs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator import units
from simulator.answers import timing as advice
from simulator.answers import timing as timing_chart
from simulator.answers.sheet.layout import Sheet
from simulator.answers.sheet.questions.request import (
    CHART,
    SheetRequest,
    assemble_sheet,
    band_meaning,
    band_title,
    figures_are,
    rows_of,
)
from simulator.answers.timing import chart_rows
from simulator.problems import Parameter, fault
from simulator.show import wording
from simulator.show.cautions import dead_stands
from simulator.show.tables import Column, mean, number, plain_number

if TYPE_CHECKING:
    import xarray as xr

DEFAULTS = {
    "sow": ["10-20"],
    "nitrogen": ["30 lb/acre"],
    "nitrogen_timing": ["sowing"],
    "end": ["03-01", "03-15", "03-29", "04-12", "04-26"],
}
MOST_FALLS = 0.8  # share of falls in which rolling is to work


def sheet(request: SheetRequest) -> Sheet:
    """Set dates of ending side by side."""
    if not all("-" in end for end in request.plans["end"]):
        raise fault(
            Parameter("end"), "This sheet compares dates.", "Give dates, such as 03-15,04-15."
        )
    grid = request.grown()
    one = grid.isel(sow=0, seeding=0, nitrogen=0, nitrogen_timing=0)
    found = advice.timing(one, request.field["soil"])
    wait = advice.waiting(found)
    if wait is None:
        raise fault(
            Parameter("end"),
            "There are no two dates with a living stand to compare.",
            "Give two or more dates, such as 03-15,04-15.",
        )
    cereal, sow = str(grid.attrs["cereal"]), wording.dates_in(str(one["sow"].values))
    falls = found["year"].values.tolist()
    rows, points = _rows_and_points(request, found)
    return assemble_sheet(
        request,
        rows_of(grid),
        falls,
        question=f"What does waiting to end {cereal} bring and cost?",
        answer=_answer(request, found, wait, cereal),
        chart=timing_chart.grown(points, request.system, size=CHART, labelled=True),
        chart_title=f"Biomass by date of ending: {band_meaning(len(falls))}",
        columns=_columns(request, len(falls)),
        rows=rows,
        seasons=grid["biomass_kg_ha"].size,
        figures=figures_are(
            len(falls),
            "C:N is the shoots' carbon to nitrogen; water left is what "
            "the soil then holds for the next crop; killed by rolling is the share "
            "expected dead at that stage, from published roller trials",
        ),
        rests_on=[
            f"Seeded at {request.nitrogen(float(one['seeding']))}, sown on {sow}, with "
            f"{request.rate(float(one['nitrogen']))} "
            f"{wording.timing(str(one['nitrogen_timing'].values))}.",
            *dead_stands(grid),
        ],
    )


def _rows_and_points(
    request: SheetRequest, found: xr.Dataset
) -> tuple[list[list[str]], list[dict[str, Any]]]:
    """Return the rows of the table and the points of the chart, one each a date of ending."""
    rows: list[list[str]] = []
    points = chart_rows(found, request.system)
    for at_row, end in enumerate(map(str, found["end"].values)):
        at = {name: variable.values for name, variable in found.sel(end=end).data_vars.items()}
        date, biomass = wording.dates_in(end), at["biomass_kg_ha"]
        rows.append(
            [
                date,
                request.biomass(mean(biomass), label=False),
                request.band(biomass),
                plain_number(mean(at["growth_stage_zadoks"])),
                plain_number(mean(at["carbon_to_nitrogen"])),
                number(mean(at["available_water_mm"]), "water", request.system),
                plain_number(100.0 * mean(at[advice.ROLLED.field])),
            ]
        )
        points[at_row] |= {"told": request.biomass(mean(biomass), label=False)}
    return rows, points


def _columns(request: SheetRequest, falls: int) -> list[Column]:
    return [
        Column("ended", left=True),
        Column("biomass", request.unit),
        Column(band_title(falls), request.unit),
        Column("growth stage", "Zadoks"),
        Column("C:N"),
        Column("water left", units.label("water", request.system)),
        Column("killed by rolling", "%"),
    ]


def _answer(
    request: SheetRequest, found: xr.Dataset, wait: advice.Waiting, cereal: str
) -> tuple[str, str]:
    """Say what waiting from the first date to the last brings and costs."""
    before, after = float(wait.biomass_before.mean()), float(wait.biomass_after.mean())
    ratio = [float(values.mean()) for values in (wait.ratio_before, wait.ratio_after)]
    rolled = advice.first_date(found, advice.ROLLED.field, advice.ENOUGH_KILL, MOST_FALLS)
    rolling = (
        f"from {wording.dates_in(rolled)} rolling alone can be expected to kill it in four falls "
        "of five"
        if rolled
        else "on none of the dates can rolling alone be expected to kill it in four falls of five"
    )
    ties = "ties up nitrogen" if ratio[1] > advice.BALANCED else "sets nitrogen free"
    return (
        f"From {wording.dates_in(wait.first)} to {wording.dates_in(wait.last)} {cereal} "
        f"{'grows' if after >= before else 'shrinks'} from {request.biomass(before)} to "
        f"{request.biomass(after)}, about "
        f"{request.nitrogen(abs(after - before) / wait.days)} a day.",
        f"Meanwhile its carbon-to-nitrogen ratio goes from {ratio[0]:.0f} to {ratio[1]:.0f}, and "
        f"such residue {ties} as it decays; {rolling}.",
    )
