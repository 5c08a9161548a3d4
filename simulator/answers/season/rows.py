"""A season as the rows that its panels draw."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.season import panels
from simulator.answers.season.panels import RECORDED, moments
from simulator.answers.season.words import sowing_date
from simulator.season.plan import dressings
from simulator.show import wording
from simulator.show.charts import Row
from simulator.weather.fall_year import season_day

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray


def season_rows(
    days: xr.Dataset, system: units.System, weather: xr.Dataset | None, series: str = RECORDED
) -> dict[str, list[Row]]:
    """Return the rows of a season's panels: ``days, stand, marks, done, air``."""
    when = days["time"].values

    def rows(**fields: tuple[Any, str]) -> list[Row]:
        columns = {name: shown(values, kind, system) for name, (values, kind) in fields.items()}
        known = np.isfinite(np.array(list(columns.values()))).all(axis=0)
        return [
            {
                "series": series,
                "day": day,
                **{name: plain(column[at]) for name, column in columns.items()},
            }
            for at, day in enumerate(moments(when))
            if known[at]
        ]

    stand = rows(biomass=(days["biomass_kg_ha"], "mass"))
    found = {
        "days": rows(
            rain=(days["rain_mm"], "water"),
            drained=(days["drainage_mm"], "water"),
            nitrate=(days["soil_nitrate_kg_ha"], "nitrogen"),
            leached=(days["nitrate_leached_kg_ha"], "nitrogen"),
        ),
        "stand": stand,
        "marks": stages(days, stand),
        "done": events(days),
        "air": [],
    }
    if weather is not None:
        same = weather.reindex(time=when)
        low, high = (same[name].values for name in ("tmin", "tmax"))
        found["air"] = rows(
            low=(low, "temperature"),
            high=(high, "temperature"),
            mean=(panels.week_mean(low, high), "temperature"),
        )
    return found


def shown(values: Any, kind: str, system: units.System) -> NDArray[np.float64]:
    """Turn an array into the reader's units."""
    return np.asarray(units.show(values, kind, system), dtype=float)


def plain(value: float) -> float:
    """Round to five digits, which is more than a picture shows."""
    return float(f"{value:.5g}")


def events(days: xr.Dataset) -> list[Row]:
    """Return the days of sowing, and of nitrogen, and what to call them."""
    about, sown = days.attrs, sowing_date(days)
    found: dict[Any, list[str]] = {sown: ["sown"]}
    if float(about["nitrogen_kg_ha"]) > 0:
        for dressing in dressings(str(about["nitrogen_timing"])):
            when = season_day(int(about["year"]), dressing.when) if dressing.when else sown
            found.setdefault(when, []).append("nitrogen")
    return [
        {"day": day, "told": " + ".join(what)}
        for day, what in zip(moments(list(found)), found.values(), strict=True)
    ]


def stages(days: xr.Dataset, of: Sequence[Row]) -> list[Row]:
    """Return those rows of days on which stages are reached, each with the stage and its date.

    The date stands on that side of the point where the season has more days left.
    """
    found = []
    for at, name in panels.stages_reached(days["growth_stage_zadoks"].values):
        date = wording.dates_in(str(days["time"].values[at])[5:10])
        late = at > days.sizes["time"] / 2
        found.append(
            {**of[at], "stage": name, **panels.UNDATED, "before" if late else "after": date}
        )
    return found


def span(days: xr.Dataset) -> tuple[int, int]:
    """Return a season's first and last day, as panels take them."""
    first, last = moments(days["time"].values[[0, -1]])
    return first, last
