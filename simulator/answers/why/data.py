"""Why a year was as it was, as rows, for files and JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator.answers.why.calculate import Why
from simulator.answers.why.exchanged_weather import WHATS
from simulator.answers.why.month_shares import BIOMASS, LEACHED, RESPONSE
from simulator.answers.why.table import shown_outcomes
from simulator.answers.why.words import band

if TYPE_CHECKING:
    import xarray as xr

FIELD = {BIOMASS: "biomass", RESPONSE: "nitrogen_response", LEACHED: "nitrate_leached"}


def dataset(found: Why) -> xr.Dataset:
    """Return the shares by month, for programs.

    Parameters
    ----------
    found : Why

    Returns
    -------
    Dataset(month)
        Days and weather of each month; its share of each difference, by its rain and by its
        temperature; what the year made more than with the month alone exchanged for that of the
        other falls, or brought to the usual rain and mean temperature.
    """
    import xarray as xr

    months = found.months
    made: dict[str, Any] = {
        "first_day": ("month", [month.first for month in months], {"long_name": "first day"}),
        "last_day": ("month", [month.last for month in months], {"long_name": "last day"}),
    }
    for name, unit, pairs in (
        ("temperature_degC", "degC", [month.temperature for month in months]),
        ("rain_mm", "mm", [month.rain for month in months]),
    ):
        for k, whose in enumerate(("", "usual_")):
            meaning = f"{whose}{name.split('_')[0]}".replace("_", " ")
            made[f"{whose}{name}"] = (
                "month",
                [pair[k] for pair in pairs],
                {"units": unit, "long_name": meaning},
            )
    for outcome in shown_outcomes(found):
        shares, field = found.shares[outcome], FIELD[outcome]
        of = f"of the difference in {outcome}"
        columns = [
            ("share", shares.sum(axis=1), f"share {of}"),
            *((f"share_by_{w}", shares[:, k], f"share {of}, {w}") for k, w in enumerate(WHATS)),
            ("alone", found.by_itself[outcome], f"{outcome} more than with other falls' month"),
            ("usual_totals", found.totals[outcome], f"{outcome} more than with the usual totals"),
        ]
        for name, values, meaning in columns:
            made[f"{field}_{name}_kg_ha"] = (
                "month",
                values,
                {"units": "kg/ha", "long_name": meaning},
            )
    return xr.Dataset(made, {"month": [month.name for month in months]}, found.about)


def differences(found: Why) -> dict[str, Any]:
    """Return what the shares add up to, for the JSON object."""
    made: dict[str, Any] = {}
    for outcome in shown_outcomes(found):
        low, high = band(found, outcome)
        made[f"{FIELD[outcome]}_kg_ha"] = {
            "year": found.here[outcome],
            "usual": float(found.usual[outcome].mean()),
            "weather_usual_low": low,
            "weather_usual_high": high,
            "difference": found.difference(outcome),
        }
        if outcome != LEACHED:
            ranges = found.ranges(outcome)
            made[f"{FIELD[outcome]}_kg_ha"] |= {
                "difference_low": ranges.low,
                "difference_high": ranges.high,
                "told": ranges.is_clear,
            }
    return {
        "compared_with": list(found.others),
        "differences": made,
        "plants": {
            name: {"year": here, "usual": usual} for name, (here, usual) in found.stood.items()
        },
        "applied_nitrogen_leached_kg_ha": {
            "by": found.lost_by,
            "year": found.lost[0],
            "usual": found.lost[1],
        },
    }
