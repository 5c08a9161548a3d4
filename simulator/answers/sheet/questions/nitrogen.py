"""What each rate of nitrogen brings, and where it goes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator.answers import response as response_chart
from simulator.answers.response import field, marginal, one_plan, spoken_rate
from simulator.answers.shared.field_ranges import (
    biomass_ranges,
    difference_off,
    difference_ranges,
    how_far_off,
)
from simulator.answers.shared.one_more_pound import step_ranges
from simulator.answers.sheet.layout import Sheet
from simulator.answers.sheet.questions.bare_soil import by_sowing
from simulator.answers.sheet.questions.request import (
    CHART,
    SheetRequest,
    assemble_sheet,
    band_title,
    figures_are,
    rows_of,
    whole_falls,
)
from simulator.problems import Parameter, fault
from simulator.show import wording
from simulator.show.tables import Column, plain_number

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]

DEFAULTS = {
    "sow": ["10-20", "12-08"],
    "nitrogen": ["0,30,60,90,120 lb/acre"],
    "nitrogen_timing": ["sowing"],
    "end": ["04-15"],
}


def sheet(request: SheetRequest) -> Sheet:
    """Follow the response of the first sowing, beside that of the last."""
    grid = request.grown()
    _refuse_one_rate(grid)
    whole = whole_falls(grid)["year"].values
    plans = one_plan(grid).isel(nitrogen_timing=0).sel(year=whole)
    more, rate = marginal(plans), spoken_rate(plans)
    rates = plans["nitrogen"].values
    spoken = list(dict.fromkeys((float(rates[0]), rate)))
    dates = [wording.dates_in(str(sow)) for sow in plans["sow"].values]
    cereal, end = str(grid.attrs["cereal"]), wording.ending(str(plans["end"].values))
    when, falls = wording.timing(str(plans["nitrogen_timing"].values)), plans.sizes["year"]
    biomass = plans["biomass_kg_ha"].values  # year, sow, nitrogen
    shoots, leached = (
        np.maximum(more[field(name)].values.mean(axis=0)[0], 0.0) for name in ("shoots", "leached")
    )
    answer = _answer(
        request,
        start=f"Sown on {dates[0]}, {cereal} makes",
        end=end,
        rates=rates,
        first=biomass[:, 0],
        at=int(np.argmin(np.abs(rates - rate))),
        gone=(shoots, leached),
    )
    return assemble_sheet(
        request,
        rows_of(grid),
        whole.tolist(),
        question=f"What does nitrogen {when} bring on {cereal}?",
        answer=answer,
        chart=response_chart.by_rate(
            _points(request, dates, rates, biomass),
            request.system,
            up=f"biomass {end}",
            size=CHART,
            between=[request.shown(float(rates[0])), request.shown(rate)],
        ),
        chart_title=f"Biomass by nitrogen: means, shaded sown on {dates[0]} in a field like these, "
        f"darker {band_title(falls)}",
        columns=_columns(request, dates, falls),
        rows=_rows(request, rates, biomass, shoots, leached),
        seasons=grid["biomass_kg_ha"].size,
        beside_bare=by_sowing(
            request, grid, whole.tolist(), plans["sow"].values[:1].tolist(), spoken
        ),
        figures=figures_are(
            falls,
            f"sown on {dates[0]} where it does not say otherwise; in shoots "
            "and lost, by leaching, is what the nitrogen added there",
        ),
        rests_on=[
            f"Seeded at {request.nitrogen(float(plans['seeding']))}; nitrogen {when}; ended {end}.",
            how_far_off(request.system, request.errors.level),
            difference_off(request.system, request.errors.response),
        ],
    )


def _refuse_one_rate(grid: xr.Dataset) -> None:
    if grid.sizes["nitrogen"] < 2:
        raise fault(
            Parameter("nitrogen"),
            "One rate has nothing to be compared with.",
            "Give two or more, such as '0,30,60,90 lb/acre'.",
        )


def _answer(
    request: SheetRequest,
    *,
    start: str,
    end: str,
    rates: Array,
    first: Array,
    at: int,
    gone: tuple[Array, Array],
) -> tuple[str, str]:
    """Say what nitrogen brings the first sowing, of biomass (year, nitrogen), and its last step."""
    means, (shoots, leached) = first.mean(axis=0), gone
    word = "pound" if request.system == "us" else "kilogram"
    each = (means[at] - means[0]) / (rates[at] - rates[0])
    step = (means[-1] - means[-2]) / (rates[-1] - rates[-2])
    brings = difference_ranges(first[:, at] - first[:, 0], request.errors.response)
    last = step_ranges(rates, first, float(rates[-1]), request.errors.response)
    return (
        f"{start} {request.biomass(means[0])} {end} with {request.rate(rates[0])} and "
        f"{request.biomass(means[at])} with {request.rate(rates[at])}: {_counted(each, word)} of "
        f"biomass for each {word} of nitrogen. In a field like these that nitrogen brings "
        f"{request.in_field(brings)} {request.unit}"
        f"{'' if brings.is_clear else ', so that whether it brings any cannot be told'}.",
        f"Of that nitrogen {request.nitrogen(shoots[at])} is found in the shoots and "
        f"{request.nitrogen(leached[at])} leaches; the step from "
        f"{request.nitrogen(rates[-2], label=False)} to {request.nitrogen(rates[-1])} adds "
        f"{_counted(step, word)} for each {word}"
        f"{'' if last.is_clear else ', but whether it adds any cannot be told'}.",
    )


def _points(
    request: SheetRequest, dates: Sequence[str], rates: Array, biomass: Array
) -> list[dict[str, Any]]:
    """Return the points of the chart, of biomass (year, sow, nitrogen)."""
    means = biomass.mean(axis=0)
    return [
        {
            "line": date,
            "nitrogen": request.shown(float(one)),
            "biomass": request.shown(means[s, n]),
            **request.span(biomass[:, s, n]),
            **_field_bar(biomass[:, s, n], request),
        }
        for s, date in enumerate(dates)
        for n, one in enumerate(rates)
    ]


def _field_bar(falls: Array, request: SheetRequest) -> dict[str, float]:
    ranges = biomass_ranges(falls, error=request.errors.level)
    return {"field_low": request.shown(ranges.low), "field_high": request.shown(ranges.high)}


def _columns(request: SheetRequest, dates: Sequence[str], falls: int) -> list[Column]:
    each_unit = "lb/lb N" if request.system == "us" else "kg/kg N"
    return [
        Column("nitrogen", request.unit),
        Column("biomass", request.unit),
        Column(band_title(falls), request.unit),
        Column("8 of 10\nin a field\nlike these", request.unit),
        Column("last step\nadds", each_unit),
        Column("of it in\nshoots", request.unit),
        Column("nitrogen\nlost", request.unit),
        *(Column(f"biomass,\nsown {date}", request.unit) for date in dates[1:]),
    ]


def _rows(
    request: SheetRequest,
    rates: Array,
    biomass: Array,
    shoots: Array,
    leached: Array,
) -> list[list[str]]:
    """Return a row a rate: of the first sowing all, of the others the biomass."""
    means = biomass.mean(axis=0)
    steps = [float("nan"), *(np.diff(means[0]) / np.diff(rates))]
    return [
        [
            request.nitrogen(float(one), label=False),
            request.biomass(means[0, n], label=False),
            request.band(biomass[:, 0, n]),
            request.in_field(biomass_ranges(biomass[:, 0, n], error=request.errors.level)),
            plain_number(steps[n]),
            request.nitrogen(shoots[n], label=False),
            request.nitrogen(leached[n], label=False),
            *(request.biomass(means[s, n], label=False) for s in range(1, means.shape[0])),
        ]
        for n, one in enumerate(rates)
    ]


def _counted(value: float, word: str) -> str:
    return f"{value:.0f} {word}{'' if round(value) == 1 else 's'}"
