"""The response to nitrogen, for JSON."""

from __future__ import annotations

from math import isfinite
from typing import Any

from simulator.answers.response.calculate import FATES, Response
from simulator.answers.response.sowing_pairs import Pair
from simulator.answers.response.table import Shown
from simulator.answers.shared.field_ranges import Ranges, biomass_ranges
from simulator.parameters.model_error import ModelErrors


def as_json(shown: Shown) -> dict[str, Any]:
    """Return what the JSON object carries beside its rows, in SI."""
    value = shown.value
    return {
        "curves": [
            *({**_curve_json(r), **_ranges_json(r, shown.errors)} for r in shown.responses),
            *(_curve_json(r) for r in shown.yearly),
        ],
        "pairs": [_pair_json(pair) for pair in shown.pairs],
        "forecast": None
        if value is None
        else {
            "sow": shown.first.sow,
            "single": shown.timings[value.single],
            "by_kind": {kind: shown.timings[at] for kind, at in value.by_kind.items()},
            **{
                f"{name}_kg_ha": _plain(getattr(value, name))
                for name in ("known_kind", "left_out", "perfect", "with_hit_rate")
            },
            "hit_rate": value.hit_rate,
            "switches": [
                {
                    "kind": kind,
                    **_row(ranges, "gained"),
                    "chance_percent": 100 * value.chances[kind],
                    "can_be_told": ranges.is_clear,
                }
                for kind, ranges in value.switches.items()
            ],
        },
    }


def _plain(value: Any) -> Any:
    return None if isinstance(value, float) and not isfinite(value) else value


def _row(ranges: Ranges, name: str) -> dict[str, Any]:
    return {key: _plain(value) for key, value in ranges.row(name).items()}


def _pair_json(pair: Pair) -> dict[str, Any]:
    found = {name: _plain(getattr(pair, name)) for name in Pair.__slots__ if name != "chance"}
    return {
        **found,
        "weather_chance_percent": 100 * pair.reached / pair.falls,
        "chance_percent": 100 * pair.chance,
    }


def _ranges_json(r: Response, errors: ModelErrors) -> dict[str, Any]:
    """Return the ranges of what stands at each rate, and of what the spoken rate brings."""
    stands = [biomass_ranges(falls, error=errors.level) for falls in r.stood.T]
    brings = r.brings(errors.response)
    return {
        "biomass_low_kg_ha": [_plain(one.low) for one in stands],
        "biomass_high_kg_ha": [_plain(one.high) for one in stands],
        "weather_low_kg_ha": [_plain(one.weather_low) for one in stands],
        "weather_high_kg_ha": [_plain(one.weather_high) for one in stands],
        **_row(brings, "gained"),
        "can_be_told": brings.is_clear,
    }


def _curve_json(r: Response) -> dict[str, Any]:
    curve = r.choice.curve
    fitted = (
        {}
        if curve is None
        else {
            "base_kg_ha": curve.base,
            "slope_kg_kg": curve.slope,
            "flat_from_kg_ha": _plain(curve.join),
            "beyond_the_rates": bool(curve.beyond),
        }
    )
    return {
        "sow": r.sow,
        "nitrogen_timing": r.timing,
        "kind": r.kind,
        "falls": r.falls,
        "form": None if curve is None else curve.form,
        **fitted,
        "weights": r.choice.weights,
        "means_kg_ha": [_plain(mean) for mean in r.means],
        "applied_kg_ha": _plain(r.applied),
        "mean_slope_kg_kg": _plain(r.slope),
        "shares": {fate: _plain(r.share(fate)) for fate in FATES},
    }
