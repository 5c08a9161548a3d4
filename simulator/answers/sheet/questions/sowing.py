"""What sowing dates make, with the least and with the most nitrogen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers import compare as sowing_chart
from simulator.answers.sheet.layout import Sheet
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
from simulator.season.plan import ANY_YEAR, day_number
from simulator.show import wording
from simulator.show.cautions import dead_stands
from simulator.show.tables import Column

if TYPE_CHECKING:
    import numpy as np
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
    part = whole_falls(grid).isel(nitrogen_timing=0).sortby("nitrogen")
    calendar = sorted(part["sow"].values.tolist(), key=lambda sow: day_number(ANY_YEAR, sow))
    part = part.sel(sow=calendar).transpose("year", "sow", "nitrogen")
    dates = [wording.dates_in(sow) for sow in calendar]
    biomass = part["biomass_kg_ha"].values
    means = biomass.mean(axis=0)
    uptake, leached = (
        part[name].values.mean(axis=0)[:, -1]
        for name in ("nitrogen_uptake_kg_ha", "nitrate_leached_kg_ha")
    )
    rates = part["nitrogen"].values.tolist()
    least, most = rates[0], rates[-1]
    shown = [0, len(rates) - 1] if most > least else [0]
    cereal, end = str(grid.attrs["cereal"]), wording.ending(str(part["end"].values))
    when, falls = wording.timing(str(part["nitrogen_timing"].values)), part.sizes["year"]
    rows = [
        [
            date,
            *(request.biomass(means[s, n], label=False) for n in shown),
            request.band(biomass[:, s, -1]),
            request.nitrogen(uptake[s], label=False),
            request.nitrogen(leached[s], label=False),
        ]
        for s, date in enumerate(dates)
    ]
    points = [
        {
            "label": date,
            "series": f"with {request.rate(rates[n])}",
            "told": request.biomass(means[s, n], label=False),
            **request.span(biomass[:, s, n]),
        }
        for s, date in enumerate(dates)
        for n in shown
    ]
    days = day_number(ANY_YEAR, calendar[-1]) - day_number(ANY_YEAR, calendar[0])
    return assemble_sheet(
        request,
        rows_of(grid),
        part["year"].values.tolist(),
        question=f"What does the sowing date of {cereal} do to its biomass?",
        answer=_answer(request, cereal, end, dates, days, (least, most), biomass),
        chart=sowing_chart.by_sowing(points, request.system, up=f"biomass {end}", size=CHART),
        chart_title=f"Biomass by sowing date: {band_meaning(falls)}",
        columns=_columns(request, [rates[n] for n in shown], falls),
        rows=rows,
        seasons=grid["biomass_kg_ha"].size,
        figures=figures_are(
            falls,
            "the range, N in shoots and N washed out since September are "
            f"those with {request.rate(most)}",
        ),
        rests_on=[
            f"Seeded at {request.nitrogen(float(part['seeding']))}; nitrogen {when}; ended {end}.",
            *dead_stands(grid),
        ],
    )


def _columns(request: SheetRequest, rates: list[float], falls: int) -> list[Column]:
    return [
        Column("sown", left=True),
        *(Column(f"with {request.rate(rate)}", request.unit) for rate in rates),
        Column(band_title(falls), request.unit),
        Column("N in shoots", request.unit),
        Column("N washed out", request.unit),
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
        one += (
            f"; sown on {dates[-1]} it makes {request.biomass(late)}, about "
            f"{request.nitrogen(abs(early - late) / days)} {'less' if late < early else 'more'} "
            "for each day between"
        )
    two = (
        f"In most falls the {dates[-1]} sowing makes {request.band(biomass[:, -1, -1])} "
        f"{request.unit}."
    )
    if days and most > least:
        two = (
            f"The {dates[-1]} sowing with {request.rate(most)} makes {_than(late, plain)} the "
            f"{dates[0]} sowing with {request.rate(least)}, {request.biomass(plain)}."
        )
    return f"{one}.", two


def _than(one: float, other: float) -> str:
    if abs(one - other) <= ALIKE * max(one, other):
        return "about as much as"
    return "more than" if one > other else "less than"
