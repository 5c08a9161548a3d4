"""Where each pound of nitrogen came from and went, from September to the end of the stand."""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator import units
from simulator.page.answers import Answered

# what is said of it -> fields of the day's record that make it up
CAME = {
    "in the soil in September": ("mineral_nitrogen_start_kg_ha",),
    "set free by the soil": ("mineralised_kg_ha",),
    "applied": ("fertilizer_kg_ha",),
    "in the seed": ("seedling_nitrogen_kg_ha",),
    "set right by the soil test": ("soil_test_correction_kg_ha",),
}
WENT = {
    "in the shoots": ("nitrogen_uptake_kg_ha",),
    "in the roots": ("root_nitrogen_kg_ha",),
    "in dead leaves and plants": ("killed_nitrogen_kg_ha", "shed_nitrogen_kg_ha"),
    "leached": ("nitrate_leached_kg_ha",),
    "lost to the air": ("denitrified_kg_ha", "volatilised_kg_ha"),
    "left in the soil": ("soil_nitrate_kg_ha", "soil_ammonium_kg_ha"),
    "tied up": ("litter_nitrogen_kg_ha",),
}
# what comes with the other sign: old residue ties up more than the soil sets free, and so on
TAKEN = {
    "set free by the soil": "tied up",
    "set right by the soil test": "taken out by the soil test",
}
LEAST = 0.5  # kg/ha that has a row


def balance(found: Answered) -> dict[str, Any]:
    """Return what came and went, as means over the falls asked for.

    Returns
    -------
    dict
        ``said``, a sentence; ``unit``; ``most``, the longest bar; ``came`` and ``went``: rows of
        a name and an amount for each series, in the reader's unit, the last the total.
    """
    came = {what: _amounts(found, fields) for what, fields in CAME.items()}
    went = {what: _amounts(found, fields) for what, fields in WENT.items()}
    for source, sink in TAKEN.items():
        went[sink] = went.get(sink, 0.0) + np.maximum(-came[source], 0.0)
        came[source] = np.maximum(came[source], 0.0)
    sides = {"came": _rows(came, found), "went": _rows(went, found)}
    return {
        **sides,
        "said": _main_loss_sentence(went, found),
        "unit": units.label("nitrogen", found.system),
        "most": max(value for rows in sides.values() for _, *of in rows[:-1] for value in of),
    }


def _amounts(found: Answered, fields: tuple[str, ...]) -> Any:
    """Add up fields, a value for each series [kg/ha]."""
    return np.array([sum(found.one(name, field) for field in fields) for name in found.grown])


def _rows(amounts: dict[str, Any], found: Answered) -> list[list[Any]]:
    shown = {what: units.show(values, "nitrogen", found.system) for what, values in amounts.items()}
    rows = [
        [what, *np.round(values, 1).tolist()]
        for what, values in shown.items()
        if np.abs(values).max() >= LEAST
    ]
    return [*rows, ["together", *np.round(sum(shown.values()), 1).tolist()]]


def _main_loss_sentence(went: dict[str, Any], found: Answered) -> str:
    """Say where most of it went, of the plan that the answer speaks of."""
    at = list(found.grown).index(found.speaks_of)
    total = sum(values[at] for values in went.values())
    parts = sorted(went, key=lambda what: -went[what][at])[:2]
    named = [
        f"{found.nitrogen(went[what][at])} {'has ' if what == 'leached' else 'is '}{what}"
        for what in parts
    ]
    return f"Of {found.nitrogen(total)} of nitrogen, {named[0]} and {named[1]}."
