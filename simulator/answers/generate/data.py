"""Generated weather as rows and fields, for files and JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.weather.generator.against_recorded import Held
from simulator.weather.generator.fit import FittedClimatology
from simulator.weather.generator.generated import FITTED

if TYPE_CHECKING:
    import xarray as xr

    from simulator.weather.generator.invented_places import Places

_UNITS = {
    "share": "1",
    "correlation": "1",
    "days": "day",
    "rain": "mm",
    "temperature": "degC",
    "step": "degC",
}
_DAY_VARIABLES = {
    "tmax": ("tmax_degC", "degC", "daily maximum temperature"),
    "tmin": ("tmin_degC", "degC", "daily minimum temperature"),
    "rain": ("rain_mm", "mm", "daily rain, snow as water"),
}


def held_rows(held: Sequence[Held]) -> list[dict[str, Any]]:
    """Return every statistic and month as JSON has it, SI."""

    def plain(value: float) -> float | None:
        return float(value) if np.isfinite(value) else None

    return [
        {
            "statistic": one.statistic.name,
            "label": one.statistic.label,
            "unit": _UNITS[one.statistic.kind],
            "month": month + 1,
            "recorded": plain(one.recorded[month]),
            "generated": plain(one.generated[month]),
            "low": plain(one.low[month]),
            "high": plain(one.high[month]),
            "outside": bool(one.beyond[month]),
            "differs": one.fails,
        }
        for one in held
        for month in range(12)
    ]


def fit_json(fitted: FittedClimatology) -> dict[str, Any]:
    """Return what was fitted, as JSON has it."""
    climate = fitted.climate
    return {
        "method": FITTED,
        "wet_day_mm": fitted.wet_day,
        "order": fitted.order,
        "order_criterion": fitted.order_criterion,
        "distribution": fitted.family,
        "akaike_above_least": fitted.akaike,
        "standard_errors_off_at_99": fitted.misses,
        "season_log_odds_of_rain": climate.wet_odds,
        "season_log_rain": climate.wet_amount,
        "season_temperature_degC": fitted.season.tolist(),
        "years_of_month": fitted.years.tolist(),
        "weak": fitted.weak,
    }


def dataset(record: xr.Dataset) -> xr.Dataset:
    """Lay the days out for JSON: the names of every command."""
    import xarray as xr

    made = xr.Dataset(
        {
            name: ("time", record[old].values, {"units": unit, "long_name": meaning})
            for old, (name, unit, meaning) in _DAY_VARIABLES.items()
        },
        {"time": record["time"].values},
    )
    return made.assign_attrs(record.attrs)


def places_dataset(places: Places, soils: Sequence[str], about: dict[str, Any]) -> xr.Dataset:
    """Lay invented places out for JSON."""
    import xarray as xr

    columns: dict[str, tuple[Any, str, str]] = {
        "latitude": (places.latitude, "degrees_north", "latitude"),
        "longitude": (places.longitude, "degrees_east", "longitude"),
        "warmer_degC": (places.warmer, "degC", "warmer than the fitted place"),
        "wetter": (places.wetter, "1", "rain over that of the fitted place"),
    }
    if soils:
        given = np.array(
            [soils[place % len(soils)] for place in range(len(places.names))], dtype=object
        )
        columns["soil"] = (given, "", "soil texture")
    return xr.Dataset(
        {
            name: ("site", values, {"units": unit, "long_name": meaning})
            for name, (values, unit, meaning) in columns.items()
        },
        {"site": np.array(places.names, dtype=object)},
        {name: value for name, value in about.items() if name != "site"},
    )
