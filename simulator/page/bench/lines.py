"""What the picture of growth has besides the lines: every fall, and the ranges at the end."""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator import units
from simulator.answers.season.panels import CHANGED, PINNED, RECORDED
from simulator.answers.shared.field_ranges import biomass_ranges
from simulator.page.answers import Answered
from simulator.page.bench.headline import FAILED
from simulator.page.pictures import moment, on_calendar
from simulator.page.rows import falls_on
from simulator.season.plan import ANY_YEAR, day_number

STEP = 6  # days between the points of a fall's line
NAMES = {RECORDED: "as recorded", CHANGED: "changed", PINNED: "pinned plan"}


def falls(found: Answered) -> dict[str, Any]:
    """Return the biomass of every fall that the answer speaks of: days, years, a row a fall."""
    grown = found.spoken
    first, last = (day_number(ANY_YEAR, date) for date in (grown.plan.sow, grown.plan.end))
    span = np.arange(last, first - 1, -STEP)[::-1]
    grew: Any = falls_on(grown, span)
    made: Any = units.show(grew, "mass", found.system)
    whole = np.isfinite(made).all(axis=1)
    return {
        "series": found.speaks_of,
        "day": on_calendar(span),
        "year": [year for year, kept in zip(grown.years, whole, strict=True) if kept],
        "biomass": np.round(made[whole]).tolist(),
    }


def fall_rows(found: Answered) -> dict[str, list[Any]]:
    """Return the same as columns of ``series, year, day, biomass``, for a picture in a file."""
    every = falls(found)
    days, years = every["day"], every["year"]
    return {
        "series": [every["series"]] * (len(days) * len(years)),
        "year": [year for year in years for _ in days],
        "day": days * len(years),
        "biomass": [value for of_fall in every["biomass"] for value in of_fall],
    }


def ends(found: Answered) -> dict[str, list[Any]]:
    """Return what stands at the end of each line, its range in a field like these, its name."""
    rows: dict[str, list[Any]] = {
        name: [] for name in ("series", "day", "biomass", "low", "high", "name")
    }
    one_line = len(found.grown) == 1
    for name, grown in found.grown.items():
        made = found.one(name, "biomass_kg_ha")
        ranges = biomass_ranges(found.values(name, "biomass_kg_ha"))
        shown = [units.show(v, "mass", found.system) for v in (made, ranges.low, ranges.high)]
        called = (
            "this plan" if one_line or (name == RECORDED and CHANGED not in found.grown) else ""
        )
        rows["series"].append(name)
        rows["day"].append(moment(day_number(ANY_YEAR, grown.plan.end)))
        rows["name"].append(f"{called or NAMES[name]}{': no stand' if made < FAILED else ''}")
        for field, value in zip(("biomass", "low", "high"), shown, strict=True):
            rows[field].append(round(float(value)) if np.isfinite(value) else None)
    return rows
