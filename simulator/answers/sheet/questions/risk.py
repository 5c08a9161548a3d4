"""How often sowing dates reach a target."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator.answers import risk as risk_chart
from simulator.answers.risk import ALL, chances
from simulator.answers.shared.few_falls import FEWEST
from simulator.answers.sheet.layout import Sheet
from simulator.answers.sheet.questions.request import (
    CHART,
    SheetRequest,
    assemble_sheet,
    band_title,
    rows_of,
)
from simulator.problems import fault
from simulator.show import wording
from simulator.show.cautions import dead_stands
from simulator.show.tables import Column

if TYPE_CHECKING:
    import xarray as xr

DEFAULTS = {
    "sow": ["10-20", "11-05", "11-20", "12-08"],
    "nitrogen": ["30 lb/acre"],
    "nitrogen_timing": ["sowing"],
    "end": ["04-15"],
}
OFTEN = 80.0  # percent of falls: four in five


def sheet(request: SheetRequest) -> Sheet:
    """Count the falls in which each sowing date reaches the target."""
    grid = request.grown()
    falls = grid["year"].values.tolist()
    if len(falls) < FEWEST:
        raise fault(
            "weather",
            f"A chance needs at least {FEWEST} falls; this has {len(falls)}.",
            "Give a longer record, or ask another question.",
        )
    part = grid.isel(seeding=[0], nitrogen=[0], nitrogen_timing=[0], end=[-1])
    found = chances(part, request.target, {ALL: np.ones(len(falls))}).squeeze(
        ["kind", "seeding", "nitrogen", "nitrogen_timing", "end"]
    )
    target, cereal = request.biomass(request.target), str(grid.attrs["cereal"])
    end = wording.ending(str(found["end"].values))
    when = wording.timing(str(found["nitrogen_timing"].values))
    rate = float(found["nitrogen"])
    rows, points = _rows_and_points(request, part, found)
    answer = _answer(
        rows, found["chance_percent"].values, cereal, target, end, f"{request.rate(rate)} {when}"
    )
    return assemble_sheet(
        request,
        rows_of(grid),
        falls,
        question=f"How surely does {cereal} reach {target} {end}?",
        answer=answer,
        chart=risk_chart.how_often(points, OFTEN, width=CHART[0]),
        chart_title="Falls that reach it, by sowing date (dashed: four in five; thin line: how far "
        "off the chance may be)",
        columns=_columns(request, len(falls)),
        rows=rows,
        seasons=grid["biomass_kg_ha"].size,
        figures="Chance in 100 is the range that holds the true chance 95 times in 100 (Wilson's "
        "interval); half, or 4 of 5, of the falls make the figure under that head or more.",
        rests_on=[
            f"Seeded at {request.nitrogen(float(found['seeding']))}, with {request.rate(rate)} "
            f"{when}; ended {end}.",
            "Every fall of the record counts the same; no trend in climate is counted.",
            *dead_stands(grid),
        ],
    )


def _rows_and_points(
    request: SheetRequest, part: xr.Dataset, found: xr.Dataset
) -> tuple[list[list[str]], list[dict[str, Any]]]:
    """Return the rows of the table and the points of the chart, one each a sowing date."""
    rows, points = [], []
    for sow in map(str, found["sow"].values):
        at = {str(name): float(value) for name, value in found.sel(sow=sow).data_vars.items()}
        reached = f"{round(at['chance_percent'] * at['falls'] / 100)} of {round(at['falls'])}"
        date = wording.dates_in(sow)
        rows.append(
            [
                date,
                reached,
                f"{at['chance_low_percent']:.0f} to {at['chance_high_percent']:.0f}",
                request.biomass(at["biomass_p50_kg_ha"], label=False),
                request.biomass(at["biomass_p20_kg_ha"], label=False),
                request.band(part["biomass_kg_ha"].sel(sow=sow).values.ravel()),
            ]
        )
        points.append(
            {
                "label": f"{date}: {reached}",
                "y": at["chance_percent"],
                "low": at["chance_low_percent"],
                "high": at["chance_high_percent"],
            }
        )
    return rows, points


def _columns(request: SheetRequest, falls: int) -> list[Column]:
    return [
        Column("sown", left=True),
        Column("falls that reach it"),
        Column("chance in 100"),
        Column("half the falls make", request.unit),
        Column("4 of 5 falls make", request.unit),
        Column(band_title(falls), request.unit),
    ]


def _answer(
    rows: list[list[str]],
    percents: NDArray[np.float64],
    cereal: str,
    target: str,
    end: str,
    fed: str,
) -> tuple[str, str]:
    """Say how often the first date reaches the target, and which is the last to do so surely."""
    often = percents >= OFTEN
    enough = [row[0] for row, reaches in zip(rows, often, strict=True) if reaches]
    latest = (
        f"of these dates {enough[-1]} is the latest that does so in four falls of five"
        if enough
        else "none of these dates does so in four falls of five"
    )
    first, last = rows[0], rows[-1]
    late = f", and {last[1]}, sown on {last[0]}, for {last[2]} in 100" if last is not first else ""
    return (
        f"Sown on {first[0]} with {fed}, {cereal} reaches {target} {end} in "
        f"{first[1]} falls; {latest}.",
        f"So few falls leave the chance open: {first[1]} may stand for {first[2]} in 100{late}.",
    )
