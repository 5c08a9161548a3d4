"""How surely sowing dates reach a target."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator.answers import risk as risk_chart
from simulator.answers.risk import ALL, chances
from simulator.answers.shared.few_falls import FEWEST
from simulator.answers.shared.field_ranges import how_far_off
from simulator.answers.sheet.layout import Sheet
from simulator.answers.sheet.questions.bare_soil import by_sowing
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
OFTEN = 80.0  # percent: four in five


def sheet(request: SheetRequest) -> Sheet:
    """Say with which chance each sowing date reaches the target, weather and field together."""
    grid = request.grown()
    falls = grid["year"].values.tolist()
    if len(falls) < FEWEST:
        raise fault(
            "weather",
            f"A chance needs at least {FEWEST} falls; this has {len(falls)}.",
            "Give a longer record, or ask another question.",
        )
    subset = grid.isel(seeding=[0], nitrogen=[0], nitrogen_timing=[0], end=[-1])
    found = chances(
        subset, request.target, {ALL: np.ones(len(falls))}, error=request.errors.level
    ).squeeze(["kind", "seeding", "nitrogen", "nitrogen_timing", "end"])
    target, cereal = request.biomass(request.target), str(grid.attrs["cereal"])
    end = wording.ending(str(found["end"].values))
    when = wording.timing(str(found["nitrogen_timing"].values))
    rate = float(found["nitrogen"])
    rows, points = _rows_and_points(request, subset, found)
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
        chart_title="Chance that it is reached, by sowing date (dot; dashed: four in five), and "
        "the share of falls in its interval (stroke and band)",
        columns=_columns(request, len(falls)),
        rows=rows,
        seasons=grid["biomass_kg_ha"].size,
        beside_bare=by_sowing(
            request,
            grid,
            falls,
            [str(subset["sow"].values[k]) for k in sorted({0, subset.sizes["sow"] - 1})],
            [rate],
        ),
        figures="The chance, and what 4 of 5 make or more, are of weather and field together. "
        "Falls are the weather alone, with Wilson's interval of their share in 100.",
        rests_on=[
            f"Seeded at {request.nitrogen(float(found['seeding']))}, with {request.rate(rate)} "
            f"{when}; ended {end}.",
            "Every fall of the record counts the same; no trend in climate is counted.",
            how_far_off(request.system, request.errors.level),
            *dead_stands(grid),
        ],
    )


def _rows_and_points(
    request: SheetRequest, subset: xr.Dataset, found: xr.Dataset
) -> tuple[list[list[str]], list[dict[str, Any]]]:
    """Return the rows of the table and the points of the chart, one each a sowing date."""
    rows: list[list[str]] = []
    points: list[dict[str, Any]] = []
    falls = round(float(found["falls"].max()))
    for sow in map(str, found["sow"].values):
        row = found.sel(sow=sow)
        at = {str(name): float(value) for name, value in row.data_vars.items()}
        reached = f"{round(at['weather_chance_percent'] * at['falls'] / 100)} of {falls}"
        low, high = at["weather_chance_low_percent"], at["weather_chance_high_percent"]
        date = wording.dates_in(sow)
        rows.append(
            [
                date,
                f"{at['chance_percent']:.0f} in 100",
                f"{reached} ({low:.0f} to {high:.0f})",
                request.biomass(at["biomass_p20_kg_ha"], label=False),
                request.band(subset["biomass_kg_ha"].sel(sow=sow).values.ravel()),
                f"{request.biomass(at['biomass_low_kg_ha'], label=False)} to "
                f"{request.biomass(at['biomass_high_kg_ha'], label=False)}",
            ]
        )
        points.append(
            {
                "label": f"{date}: {at['chance_percent']:.0f}",
                "y": at["chance_percent"],
                "alone": at["weather_chance_percent"],
                "low": low,
                "high": high,
            }
        )
    return rows, points


def _columns(request: SheetRequest, falls: int) -> list[Column]:
    return [
        Column("sown", left=True),
        Column("chance"),
        Column("falls that reach it"),
        Column("4 of 5 make", request.unit),
        Column(band_title(falls), request.unit),
        Column("8 of 10 in a field like these", request.unit),
    ]


def _answer(
    rows: list[list[str]],
    percents: NDArray[np.float64],
    cereal: str,
    target: str,
    end: str,
    fed: str,
) -> tuple[str, str]:
    """Say how surely the first date reaches the target, and which is the last to do so surely."""
    often = percents >= OFTEN
    enough = [row[0] for row, reaches in zip(rows, often, strict=True) if reaches]
    best = rows[int(np.argmax(percents))]
    latest = (
        f"of these dates {enough[-1]} is the latest that does so four times in five"
        if enough
        else f"none of these dates does so four times in five, and {best[0]} comes nearest, with "
        f"{best[1]}"
    )
    first, last = rows[0], rows[-1]
    late = f", and in {last[2]} sown on {last[0]}" if last is not first else ""
    return (
        f"Sown on {first[0]} with {fed}, {cereal} reaches {target} {end} with a chance of "
        f"{first[1]}, weather and field together; {latest}.",
        f"By weather alone it is reached in {first[2]} falls{late}; in brackets the interval of "
        "95 percent that so few falls allow, in 100.",
    )
