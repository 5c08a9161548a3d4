"""The plants that stand, and what a dry, flooded or crusted seedbed took: words for answers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.show import wording

if TYPE_CHECKING:
    import xarray as xr

MATTERS = 0.95  # share that comes up, below which a seedbed is worth a word
THIN = 0.9  # the same, of falls that are counted
FIELDS = ("plants_emerged_m2", "plants_m2")
LEFT = {
    "left_by_dryness": "a dry seedbed left {share} % of the seed alive",
    "left_by_flooding": "a flooded seedbed left {share} % of the seedlings alive",
    "left_by_crust": "a crust let {share} % of the seedlings through",
}
_SEEDBEDS = {
    "left_by_dryness": "a dry seedbed",
    "left_by_flooding": "a flooded seedbed",
    "left_by_crust": "a crust",
}


def plants(value: float, system: units.System) -> str:
    """Spell plants by area in the reader's units: ``"19 plants/ft2"``."""
    return units.spell(value, "plants", system)


def share_left(left: Mapping[str, Any]) -> Any:
    """Return the share of the seedlings that the seedbed let come up, 0 to 1."""
    return left["left_by_dryness"] * left["left_by_flooding"] * left["left_by_crust"]


def what_thinned(left: Mapping[str, float]) -> str:
    """Say what the seedbed took, where it is worth a word: a clause; else empty."""
    named = [
        text.format(share=f"{100.0 * left[name]:.0f}")
        for name, text in LEFT.items()
        if left[name] < MATTERS
    ]
    return wording.join(named) if named and share_left(left) < MATTERS else ""


def stand_sentence(last: Mapping[str, float], system: units.System) -> str:
    """Say how many plants came up and stand, and what thinned them; empty where none did.

    Parameters
    ----------
    last : mapping
        Fields of the last day's record.
    system : {"us", "si"}
    """
    up, stand = (float(last[name]) for name in FIELDS)
    cause = what_thinned(last)
    if not up > 0.0:
        return f"No stand came up: {cause}." if cause else ""
    text = f"{plants(up, system)} came up"
    if cause:
        text += f": {cause}"
    if stand < 0.995 * up:
        text += f"; {plants(stand, system)} stand at the end"
    return f"{text}."


def thin_stands(grid: xr.Dataset) -> list[str]:
    """Say in how many falls the seedbed thinned stands, for a mean over falls hides it.

    Parameters
    ----------
    grid : Dataset
        From `compare`.

    Returns
    -------
    list of str
        One sentence, or none where no seedbed took a tenth.
    """
    left = {name: grid[name] for name in LEFT}
    others = [name for name in grid["left_by_dryness"].dims if name not in ("year", "sow")]
    thin = (share_left(left) < THIN).any(others)
    texts = []
    for sow in grid["sow"].values:
        falls = thin.sel(sow=sow).values
        if not falls.any():
            continue
        least = [
            min(_SEEDBEDS, key=lambda name: float(left[name].sel(sow=sow, year=year).min()))
            for year in grid["year"].values[falls]
        ]
        causes = [words for name, words in _SEEDBEDS.items() if name in least]
        texts.append(
            f"{int(falls.sum())} sown on {wording.dates_in(str(sow))} ({' or '.join(causes)})"
        )
    if not texts:
        return []
    return [
        f"Of {grid.sizes['year']} falls, the seedbed let fewer than nine tenths of the seedlings "
        f"come up in {wording.join(texts)}."
    ]


def last_of(days: xr.Dataset) -> dict[str, float]:
    """Return what is told of the stand, of the last day of a season."""
    return {name: float(np.asarray(days[name])[-1]) for name in (*FIELDS, *LEFT)}
