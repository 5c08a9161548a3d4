"""What sowing dates make, with the least and with the most nitrogen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator.answers import compare as sowing_chart
from simulator.answers.shared.field_ranges import (
    MEANING,
    Ranges,
    biomass_ranges,
    difference_off,
    difference_ranges,
    how_far_off,
)
from simulator.answers.sheet.layout import Sheet
from simulator.answers.sheet.questions.bare_soil import by_sowing
from simulator.answers.sheet.questions.request import (
    CHART,
    SheetRequest,
    assemble_sheet,
    band_meaning,
    band_title,
    figures_are,
    rows_of,
    whole_falls,
)
from simulator.season.plan import order
from simulator.show import wording
from simulator.show.cautions import dead_stands
from simulator.show.tables import Column

if TYPE_CHECKING:
    import numpy as np
    import xarray as xr
    from numpy.typing import NDArray

DEFAULTS = {
    "sow": ["10-20", "11-05", "11-20", "12-08"],
    "nitrogen": ["0,60 lb/acre"],
    "nitrogen_timing": ["sowing"],
    "end": ["04-15"],
}
ALIKE = 0.08  # share by which two stands may differ and be called about the same


def sheet(request: SheetRequest) -> Sheet:
    """Set sowing dates side by side, the earliest first."""
    grid = request.grown()
    plans = whole_falls(grid).isel(nitrogen_timing=0).sortby("nitrogen")
    calendar = sorted(plans["sow"].values.tolist(), key=order)
    plans = plans.sel(sow=calendar).transpose("year", "sow", "nitrogen")
    dates = [wording.dates_in(sow) for sow in calendar]
    biomass = plans["biomass_kg_ha"].values
    rates = plans["nitrogen"].values.tolist()
    least, most = rates[0], rates[-1]
    shown = [0, len(rates) - 1] if most > least else [0]
    cereal, end = str(grid.attrs["cereal"]), wording.ending(str(plans["end"].values))
    when, falls = wording.timing(str(plans["nitrogen_timing"].values)), plans.sizes["year"]
    days = order(calendar[-1]) - order(calendar[0])
    return assemble_sheet(
        request,
        rows_of(grid),
        plans["year"].values.tolist(),
        question=f"What does the sowing date of {cereal} do to its biomass?",
        answer=_answer(request, cereal, end, dates, days, (least, most), biomass),
        chart=sowing_chart.by_sowing(
            _points(request, dates, rates, shown, biomass),
            request.system,
            up=f"biomass {end}",
            size=CHART,
        ),
        chart_title=f"Biomass by sowing date: {band_meaning(falls)}",
        columns=_columns(request, [rates[n] for n in shown], falls),
        rows=_rows(request, dates, shown, plans),
        seasons=grid["biomass_kg_ha"].size,
        beside_bare=by_sowing(
            request,
            grid,
            plans["year"].values.tolist(),
            list(dict.fromkeys((calendar[0], calendar[-1]))),
            [rates[n] for n in shown],
        ),
        figures=figures_are(
            falls,
            "the ranges, nitrogen in shoots and nitrogen lost (leached since September) are "
            f"those with {request.rate(most)}. {MEANING[:-1]}",
        ),
        rests_on=[
            f"Seeded at {request.nitrogen(float(plans['seeding']))}; nitrogen {when}; ended {end}.",
            how_far_off(request.system, request.errors.level),
            difference_off(request.system, request.errors.response),
            *dead_stands(grid),
        ],
    )


def _rows(
    request: SheetRequest, dates: list[str], shown: list[int], plans: xr.Dataset
) -> list[list[str]]:
    """Return the rows of the table, one each a sowing date."""
    biomass = plans["biomass_kg_ha"].values
    means = biomass.mean(axis=0)
    uptake, leached = (
        plans[name].values.mean(axis=0)[:, -1]
        for name in ("nitrogen_uptake_kg_ha", "nitrate_leached_kg_ha")
    )
    return [
        [
            date,
            *(request.biomass(means[s, n], label=False) for n in shown),
            request.band(biomass[:, s, -1]),
            request.in_field(biomass_ranges(biomass[:, s, -1], error=request.errors.level)),
            request.nitrogen(uptake[s], label=False),
            request.nitrogen(leached[s], label=False),
        ]
        for s, date in enumerate(dates)
    ]


def _points(
    request: SheetRequest,
    dates: list[str],
    rates: list[float],
    shown: list[int],
    biomass: NDArray[np.float64],
) -> list[dict[str, Any]]:
    """Return the points of the chart, one each a sowing date and a rate."""
    return [
        {
            "label": date,
            "series": f"with {request.rate(rates[n])}",
            "told": request.biomass(float(biomass[:, s, n].mean()), label=False),
            **request.span(biomass[:, s, n]),
        }
        for s, date in enumerate(dates)
        for n in shown
    ]


def _columns(request: SheetRequest, rates: list[float], falls: int) -> list[Column]:
    return [
        Column("sown", left=True),
        *(Column(f"with {request.rate(rate)}", request.unit) for rate in rates),
        Column(band_title(falls), request.unit),
        Column("8 of 10 in a field like these", request.unit),
        Column("nitrogen in shoots", request.unit),
        Column("nitrogen lost", request.unit),
    ]


def _answer(
    request: SheetRequest,
    cereal: str,
    end: str,
    dates: list[str],
    days: int,
    rates: tuple[float, float],
    biomass: NDArray[np.float64],
) -> tuple[str, str]:
    """Say what the first and the last date make, of biomass (year, sow, nitrogen)."""
    least, most = rates
    means = biomass.mean(axis=0)
    early, late, plain = means[0, -1], means[-1, -1], means[0, 0]
    one = (
        f"Sown on {dates[0]} with {request.rate(most)}, {cereal} makes "
        f"{request.biomass(early)} {end}"
    )
    if days:
        lost = difference_ranges(biomass[:, 0, -1] - biomass[:, -1, -1], request.errors.response)
        a_day = f"{request.nitrogen(abs(early - late) / days)} {'less' if late < early else 'more'}"
        one += (
            f"; sown on {dates[-1]} it makes {request.biomass(late)}, about {a_day} for each day "
            "between"
        )
        if not lost.is_clear:
            one += (
                ", but in a field like these the later may make "
                f"{request.biomass(lost.high)} less or {request.biomass(-lost.low)} more, so that "
                "which makes more cannot be told"
            )
    last = biomass_ranges(biomass[:, -1, -1], error=request.errors.level)
    two = (
        f"In a field like these the {dates[-1]} sowing makes {request.in_field(last)} "
        f"{request.unit} in 8 of 10; over the falls alone, {request.band(biomass[:, -1, -1])}."
    )
    if days and most > least:
        than = _comparison_text(
            late,
            plain,
            difference_ranges(biomass[:, -1, -1] - biomass[:, 0, 0], request.errors.response),
        )
        two = (
            f"The {dates[-1]} sowing with {request.rate(most)} makes {than} the {dates[0]} sowing "
            f"with {request.rate(least)}, {request.biomass(plain)}."
        )
    return f"{one}.", two


def _comparison_text(one: float, other: float, more: Ranges) -> str:
    if abs(one - other) <= ALIKE * max(one, other):
        return "about as much as"
    side = "more than" if one > other else "less than"
    return side if more.is_clear else f"as simulated {side}, though that cannot be told in a field,"
