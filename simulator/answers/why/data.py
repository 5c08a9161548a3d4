"""Why a year was as it was, as rows, for files and JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.why.calculate import BIOMASS, FEWEST, LEACHED, RESPONSE, Why
from simulator.answers.why.exchanged import PIECES
from simulator.answers.why.table import shown_outcomes
from simulator.answers.why.words import band

if TYPE_CHECKING:
    import xarray as xr

FIELD = {BIOMASS: "biomass", RESPONSE: "nitrogen_response", LEACHED: "nitrate_leached"}


def dataset(found: Why) -> xr.Dataset:
    """Return the shares by piece, for programs.

    Parameters
    ----------
    found : Why

    Returns
    -------
    Dataset(piece)
        The span and weather of each piece, and its share of each difference with the range in
        which the shares against 8 of 10 other years lie (of fewer than ten, against all).
    """
    import xarray as xr

    spans = [found.spans.get(piece.split()[0], ("", "")) for piece in PIECES]
    made: dict[str, Any] = {
        "first_day": ("piece", [first for first, _ in spans], {"long_name": "first day"}),
        "last_day": ("piece", [last for _, last in spans], {"long_name": "last day"}),
    }
    for what, name, unit in (
        ("temperature", "temperature_degC", "degC"),
        ("rain", "rain_mm", "mm"),
    ):
        pairs = [
            found.weather(piece)
            if piece.endswith(what) and piece.split()[0] in found.spans
            else (np.nan, np.nan)
            for piece in PIECES
        ]
        for k, whose in enumerate(("", "usual_")):
            made[f"{whose}{name}"] = (
                "piece",
                [pair[k] for pair in pairs],
                {"units": unit, "long_name": f"{whose.replace('_', ' ')}{what}"},
            )
    for outcome in shown_outcomes(found):
        shares = found.shares[outcome]
        ends = (0.0, 100.0) if len(found.others) < FEWEST else (10.0, 90.0)
        low, high = np.percentile(shares, ends, axis=1)
        for end, values in (("", shares.mean(axis=1)), ("_low", low), ("_high", high)):
            made[f"{FIELD[outcome]}_share{end}_kg_ha"] = (
                "piece",
                values,
                {
                    "units": "kg/ha",
                    "long_name": f"share of the difference in {outcome}{end.replace('_', ', ')}",
                },
            )
    return xr.Dataset(made, {"piece": list(PIECES)}, found.about)


def differences(found: Why) -> dict[str, Any]:
    """Return what the shares add up to, for the JSON object."""
    values: dict[str, Any] = {}
    for outcome in shown_outcomes(found):
        low, high = band(found, outcome)
        values[f"{FIELD[outcome]}_kg_ha"] = {
            "year": found.here[outcome],
            "usual": float(found.usual[outcome].mean()),
            "difference": found.difference(outcome),
            "usual_low": low,
            "usual_high": high,
        }
    return {
        "compared_with": list(found.others),
        "differences": values,
        "applied_nitrogen_leached_kg_ha": {
            "by": found.lost_by,
            "year": found.lost[0],
            "usual": found.lost[1],
        },
    }
