"""What waiting to end the stand brings and costs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator import units
from simulator.answers import timing as advice
from simulator.answers import timing as timing_chart
from simulator.answers.shared.field_ranges import biomass_ranges, gain_off, how_far_off, spelled
from simulator.answers.shared.planting import usual_planting
from simulator.answers.sheet.layout import Sheet
from simulator.answers.sheet.questions.bare_soil import at_planting
from simulator.answers.sheet.questions.request import (
    CHART,
    SheetRequest,
    assemble_sheet,
    band_title,
    figures_are,
    rows_of,
)
from simulator.answers.timing import chart_rows
from simulator.parameters.terminations import ENOUGH_KILL, ROLLED, SEED
from simulator.problems import Parameter, fault
from simulator.show import wording
from simulator.show.cautions import dead_stands
from simulator.show.tables import Column, mean, number, plain_number

if TYPE_CHECKING:
    import xarray as xr

    from simulator.answers.shared.bare_soil import Beside

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
    only = {"sow": 0, "seeding": 0, "nitrogen": 0, "nitrogen_timing": 0}
    one = grid.isel(only)
    years = grid["year"].values.tolist()
    planted, bare = (
        _at_planting(request, years, bare=bare).isel(only | {"residue": 0})
        for bare in (False, True)
    )
    found = advice.timing(one, request.field["soil"], planted, request.errors, bare=bare)
    _add_seed(request, found)
    wait = advice.waiting(found)
    if wait is None:
        raise fault(
            Parameter("end"),
            "There are no two dates with a living stand to compare.",
            "Give two or more dates, such as 03-15,04-15.",
        )
    cereal, sow = str(grid.attrs["cereal"]), wording.dates_in(str(one["sow"].values))
    falls = found["year"].values.tolist()
    day = wording.dates_in(wait.planting)
    rows, points = _rows_and_points(request, found)
    return assemble_sheet(
        request,
        rows_of(grid),
        falls,
        question=f"What does waiting to end {cereal} bring and cost?",
        answer=_answer(request, found, wait, cereal),
        chart=timing_chart.grown(points, request.system, size=CHART, labelled=True),
        chart_title="Biomass by date of ending: the mean, where 8 of 10 lie in a field like these, "
        f"and darker {band_title(len(falls))}",
        columns=_columns(request, day),
        rows=rows,
        seasons=grid["biomass_kg_ha"].size,
        beside_bare=at_planting(
            request, *_less_than_bare_soil(found, wait.last), wording.dates_in(wait.last), day
        ),
        figures=figures_are(
            len(falls),
            "the range holds weather and field together; growth stage is the median; C:N is the "
            f"shoots' carbon to nitrogen; water is what roots can take from the soil on {day}, "
            "when the next crop is planted; killed by rolling is the share expected dead at that "
            "stage, from published roller trials; seed set counts the falls in which the stand "
            f"headed {SEED.days_after_heading:.0f} days before",
        ),
        rests_on=[
            f"Seeded at {request.nitrogen(float(one['seeding']))}, sown on {sow}, with "
            f"{request.rate(float(one['nitrogen']))} "
            f"{wording.timing(str(one['nitrogen_timing'].values))}.",
            f"Until {day} the soil takes in rain and dries under the residue, laid flat by a "
            "roller. Soil water has not been held against measured.",
            how_far_off(request.system, request.errors.level),
            gain_off(request.system, request.errors.gain),
            *dead_stands(grid),
        ],
    )


def _less_than_bare_soil(found: xr.Dataset, end: str) -> tuple[Beside | None, Beside | None]:
    """Set water and nitrate at planting, after a date of ending, beside bare soil's."""
    names = ("planting_water_mm", "planting_nitrate_kg_ha")
    water, nitrate = (advice.beside_bare(found, end, name) for name in names)
    return water, nitrate


def _at_planting(request: SheetRequest, years: list[int], *, bare: bool) -> xr.Dataset:
    """Follow every plan, or bare soil in their place, to the usual day of planting."""
    from simulator.season.until_planting import until_planting

    plans: dict[str, Any] = request.plans
    return until_planting(
        request.record,
        planting=usual_planting(request.record, plans["sow"][0], plans["end"], request.years),
        **plans,
        **request.field,
        years=years,
        bare=bare,
        announce=request.announce,
    )


def _add_seed(request: SheetRequest, found: xr.Dataset) -> None:
    """Add when seed is set, as each fall's heading has it."""
    from simulator.season.stage_dates import HEADING, stage_days

    years = found["year"].values.tolist()
    plan: dict[str, Any] = {name: one for name, one in request.plans.items() if name != "end"}
    headed = stage_days(
        request.record,
        stages=[HEADING],
        years=years,
        announce=request.announce,
        **plan,
        **request.field,
    ).isel(sow=0, seeding=0, nitrogen=0, nitrogen_timing=0, stage=0)
    advice.add_seed(found, headed.reindex(year=years).values)


def _rows_and_points(
    request: SheetRequest, found: xr.Dataset
) -> tuple[list[list[str]], list[dict[str, Any]]]:
    """Return the rows of the table and the points of the chart, one each a date of ending."""
    rows: list[list[str]] = []
    points = chart_rows(found, request.system)
    for at_row, end in enumerate(map(str, found["end"].values)):
        at = found.sel(end=end)
        ranges = biomass_ranges(at["biomass_kg_ha"].values, error=request.errors.level)
        grown = request.biomass(mean(at["biomass_kg_ha"].values), label=False)
        rows.append(
            [
                wording.dates_in(end),
                grown,
                spelled(ranges, "biomass", request.system).rpartition(" ")[0],
                plain_number(advice.median_stage(at)[0]),
                plain_number(mean(at["carbon_to_nitrogen"].values)),
                number(mean(at["planting_water_mm"].values), "water", request.system),
                plain_number(100.0 * mean(at[ROLLED.field].values)),
                _seed_cell(at),
            ]
        )
        points[at_row] |= {"told": grown}
    return rows, points


def _seed_cell(at: xr.Dataset) -> str:
    seed = advice.seed_on(at)
    return "" if seed is None else f"{seed.set_in} of {seed.falls}"


def _columns(request: SheetRequest, day: str) -> list[Column]:
    return [
        Column("ended", left=True),
        Column("biomass", request.unit),
        Column("in a field like these", request.unit),
        Column("growth stage", "Zadoks"),
        Column("C:N"),
        Column(f"water on {day}", units.label("water", request.system)),
        Column("killed by rolling", "%"),
        Column("seed set", "falls"),
    ]


def _answer(
    request: SheetRequest, found: xr.Dataset, wait: advice.Waiting, cereal: str
) -> tuple[str, str]:
    """Say what waiting from the first date to the last brings and costs."""
    gain = float(wait.gained.mean())
    between = spelled(wait.ranges, "biomass", request.system)
    ratio = [float(values.mean()) for values in (wait.ratio_before, wait.ratio_after)]
    rolled = advice.first_date(found, ROLLED.field, ENOUGH_KILL, MOST_FALLS)
    rolling = (
        f"from {wording.dates_in(rolled)} rolling alone can be expected to kill it in four falls "
        "of five"
        if rolled
        else "on none of the dates can rolling alone be expected to kill it in four falls of five"
    )
    ties = "ties up nitrogen" if ratio[1] > advice.BALANCED else "sets nitrogen free"
    unclear = "" if wait.ranges.is_clear else ": whether one field gains any cannot be told"
    water = ""
    if wait.at_planting:
        saved = mean(wait.water_before - wait.water_after)
        water = (
            f" On {wording.dates_in(wait.planting)} the soil then has "
            f"{advice.amount_more(-saved, 'water', request.system)} water."
        )
    last = str(found["end"].values[-1])
    seed = advice.seed_on(found.sel(end=last))
    volunteers = (
        f"; by {wording.dates_in(last)} its seed is set in {seed.set_in} of {seed.falls} falls"
        if seed is not None and seed.set_in
        else ""
    )
    return (
        f"From {wording.dates_in(wait.first)} to {wording.dates_in(wait.last)} {cereal} "
        f"{'grows' if gain >= 0.0 else 'shrinks'} by {request.biomass(abs(gain))} as a mean "
        f"({between} in a field like these){unclear}.{water}",
        f"Meanwhile its carbon-to-nitrogen ratio goes from {ratio[0]:.0f} to {ratio[1]:.0f}, and "
        f"such residue {ties} as it decays; {rolling}{volunteers}.",
    )
