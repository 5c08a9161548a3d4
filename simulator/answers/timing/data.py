"""Dates of ending a stand as rows: for the chart, and for JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.shared.field_ranges import biomass_ranges
from simulator.answers.shared.nitrogen_after import AFTER_PLANTING, row_of
from simulator.answers.shared.regrowth import left_alive
from simulator.answers.timing.calculate import Array, Waiting, beside_bare
from simulator.answers.timing.seed import seed_on
from simulator.parameters.model_error import SHIPPED
from simulator.parameters.terminations import ROLLED, WAYS
from simulator.show.output import plain
from simulator.show.tables import FEWEST_FOR_SHARES, mean, spread

if TYPE_CHECKING:
    import xarray as xr

    from simulator.answers.shared.field_ranges import Ranges

_TENTHS = (0.1, 0.9)  # between which 8 of 10 falls lie


def stages_of(at: xr.Dataset) -> Array:
    """Zadoks stages of the falls on a date, NaN where no stand lives."""
    return np.where(at["stand_alive"].values > 0, at["growth_stage_zadoks"].values, np.nan)


def median_stage(at: xr.Dataset) -> tuple[float, float, float]:
    """Return the median stage on a date and the range of 8 in 10 falls: stages that falls have.

    A mean, or the middle between two falls, may be a stage that none of them is in.
    """
    known = stages_of(at)
    known = known[np.isfinite(known)]
    if not known.size:
        return float("nan"), float("nan"), float("nan")
    ends = _TENTHS if known.size >= FEWEST_FOR_SHARES else (0.0, 1.0)
    middle, low, high = np.quantile(known, (0.5, *ends), method="inverted_cdf")
    return float(middle), float(low), float(high)


def level_ranges(at: xr.Dataset) -> Ranges:
    """Return the ranges of biomass on a date: over the falls, and in a field like these."""
    errors = at.attrs.get("model_errors", SHIPPED)
    return biomass_ranges(at["biomass_kg_ha"].values, error=errors.level)


def water_drawn(found: xr.Dataset) -> str:
    """Name the water that is drawn: on the day of planting, or on that of ending without one."""
    return "planting_water_mm" if "planting" in found.attrs else "available_water_mm"


def chart_rows(found: xr.Dataset, system: units.System) -> list[dict[str, Any]]:
    """Return a row a date in the reader's units, with the ends of each band."""
    rows = []
    for end in found["end"].values:
        at = found.sel(end=end)
        row: dict[str, Any] = {"date": f"{2001 if str(end) < '07' else 2000}-{end}T00:00:00"}
        ranges = level_ranges(at)
        row |= {
            "biomass": _shown(mean(at["biomass_kg_ha"].values), "biomass", system),
            "biomass_low": _shown(ranges.low, "biomass", system),
            "biomass_high": _shown(ranges.high, "biomass", system),
            "weather_low": _shown(ranges.weather_low, "biomass", system),
            "weather_high": _shown(ranges.weather_high, "biomass", system),
        }
        for name, field, kind in (
            ("ratio", "carbon_to_nitrogen", ""),
            ("water", water_drawn(found), "water"),
        ):
            values = at[field].values
            numbers = (mean(values), *spread(values))
            for suffix, value in zip(("", "_low", "_high"), numbers, strict=True):
                row[name + suffix] = _shown(value, kind, system)
        stage = stages_of(at)
        for suffix, which in (("", "middle"), ("_low", "low"), ("_high", "high")):
            row[f"rolled{suffix}"] = _shown(100.0 * mean(ROLLED.kill(stage, which)), "", system)
        rows.append(row)
    return rows


def _shown(value: float, kind: str, system: units.System) -> float | None:
    if not np.isfinite(value):
        return None
    return float(units.show(value, kind, system)) if kind else value


def dates_json(found: xr.Dataset) -> list[dict[str, Any]]:
    """Return a row a date over all falls: biomass and its ranges, stage, the day of planting."""
    rows = []
    for end in map(str, found["end"].values):
        at = found.sel(end=end)
        stage, low, high = median_stage(at)
        row = {
            "end": end,
            "biomass_mean_kg_ha": mean(at["biomass_kg_ha"].values),
            **level_ranges(at).row(),
            "growth_stage_zadoks_median": stage,
            "growth_stage_zadoks_low": low,
            "growth_stage_zadoks_high": high,
        }
        if "planting" in found.attrs:
            row["planting"] = found.attrs["planting"]
            for name in ("planting_water_mm", "planting_nitrate_kg_ha"):
                row[f"{name}_mean"] = mean(at[name].values)
            full = at["full_again"].values
            row["falls_full_again"] = float(np.nansum(full))
            row["falls_to_planting"] = int(np.isfinite(full).sum())
        row |= _left_json(at)
        for name, unit in (("planting_water", "mm"), ("planting_nitrate", "kg_ha")):
            bare = beside_bare(found, end, f"{name}_{unit}")
            if bare is not None:
                more = bare.row(name, unit)
                row[f"{name}_falls_less"] = more.pop("falls_less")
                row |= {key: value for key, value in more.items() if key != "falls"}
        rows.append({name: plain(value) for name, value in row.items()})
    return rows


def _left_json(at: xr.Dataset) -> dict[str, Any]:
    """Return of one date what grows back by each way, when seed is set, and nitrogen by week."""
    row: dict[str, Any] = {}
    for way in WAYS:
        left = left_alive(stages_of(at), way)
        name = way.field.replace("kill", "grows_back")
        row |= {name: left.share, f"{name}_low": left.share_low, f"{name}_high": left.share_high}
        row[f"falls_{name}_over_a_tenth"] = left.falls_poor
    if (seed := seed_on(at)) is not None:
        row |= {
            "falls_seed_set": seed.set_in,
            "falls_seed_may_be_viable": seed.possible_in,
            "seed_set_chance_percent": 100.0 * seed.chance,
            "weather_seed_set_chance_percent": 100.0 * seed.set_in / seed.falls,
        }
    for after in AFTER_PLANTING:
        name = f"planting_released_{after}_days"
        if f"{name}_kg_ha" in at:
            row |= row_of(at[f"{name}_kg_ha"].values, name)
    row.pop("falls", None)
    return row


def waiting_json(found: Waiting | None) -> dict[str, Any] | None:
    """Return what waiting brings; None where there are no two dates."""
    if found is None:
        return None
    made: dict[str, Any] = {
        "first": found.first,
        "last": found.last,
        "days": found.days,
        "biomass_gain_mean_kg_ha": mean(found.gained),
        **found.ranges.row("biomass_gain"),
        "told": found.ranges.is_clear,
    }
    if found.at_planting:
        made |= {
            "planting": found.planting,
            "planting_water_saved_mm": mean(found.water_before - found.water_after),
            "planting_nitrate_saved_kg_ha": mean(found.nitrate_before - found.nitrate_after),
        }
    return {name: plain(value) for name, value in made.items()}
