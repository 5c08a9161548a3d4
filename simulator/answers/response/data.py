"""The response to nitrogen, for JSON."""

from __future__ import annotations

from math import isfinite
from typing import Any

from simulator.answers.response.calculate import FATES, Response
from simulator.answers.response.pairs import Pair
from simulator.answers.response.table import Shown


def as_json(shown: Shown) -> dict[str, Any]:
    """Return what the JSON object carries beside its rows, in SI."""
    value = shown.value
    return {
        "curves": [_curve_json(r) for r in [*shown.responses, *shown.yearly]],
        "pairs": [
            {name: _plain(getattr(pair, name)) for name in Pair.__slots__} for pair in shown.pairs
        ],
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
        },
    }


def _plain(value: Any) -> Any:
    return None if isinstance(value, float) and not isfinite(value) else value


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
