"""What must be said beside an answer that might be taken for advice."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.show import wording

if TYPE_CHECKING:
    import xarray as xr

MODEL = "A model's answer is not a recommendation; fields differ from what is assumed here."
NITROGEN = "Keep to your nutrient management plan, the setbacks from water and local limits."
TERMINATION = (
    "Follow herbicide labels, licensed advice and the termination dates of crop insurance."
)
EMERGED = 10  # Zadoks


def invented(site: str) -> str:
    """Say that a place does not exist."""
    return f"{site} is an invented place: its weather was generated, not measured."


def cautions(
    about: dict[str, object], *, nitrogen: bool = False, termination: bool = False
) -> list[str]:
    """Gather the cautions that belong beside an answer.

    Parameters
    ----------
    about : dict
        Attributes of the record or grid: ``site`` and ``invented``.
    nitrogen, termination : bool
        Whether the answer touches them; either makes it advice.

    Returns
    -------
    list of str
        Sentences, shortest set that applies.
    """
    said = [invented(str(about.get("site", "")))] if about.get("invented") == "yes" else []
    if nitrogen or termination:
        said.append(MODEL)
    if nitrogen:
        said.append(NITROGEN)
    if termination:
        said.append(TERMINATION)
    return said


def dead_stands(grid: xr.Dataset) -> list[str]:
    """Say where frost killed stands, for a mean over falls hides it.

    Parameters
    ----------
    grid : Dataset
        From `compare`.

    Returns
    -------
    list of str
        One sentence, or none where every stand lived.
    """
    dead = (grid["stand_alive"] == 0) & (grid["growth_stage_zadoks"] >= EMERGED)
    others = [dimension for dimension in dead.dims if dimension not in ("year", "sow")]
    falls = dead.any(others).sum("year")
    texts = [
        f"{int(count)} sown on {wording.dates_in(str(sow))}"
        for sow, count in zip(falls["sow"].values, falls.values, strict=True)
        if count
    ]
    if not texts:
        return []
    return [
        f"Of {grid.sizes['year']} falls, frost killed stands in {wording.join(texts)}; they "
        "count in the means with what was left."
    ]
