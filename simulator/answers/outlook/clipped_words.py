"""What measurements change, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import units
from simulator.answers.outlook.clipped import Clipped
from simulator.answers.outlook.table import from_to
from simulator.season.clipping import OUT_OF_REACH
from simulator.season.measured import BIOMASS, COVER, STAGE, Measured
from simulator.show import wording

if TYPE_CHECKING:
    import xarray as xr

FEW_COUNT = 10.0  # effective draws


def sentences(clipped: Clipped, last: xr.Dataset, system: units.System, target: float) -> list[str]:
    """Say what the stand makes by the last end with and without what was measured.

    Parameters
    ----------
    clipped : Clipped
    last : Dataset
        Today's row of the last end.
    system : {"us", "si"}
    target : float
        [kg/ha].
    """
    ended = wording.ending(str(last["end"].values))
    now, without, by_weather = (
        [float(last[f"{of}_{level}_kg_ha"]) for level in ("low", "median", "high")]
        for of in ("biomass", "untold_biomass", "weather")
    )
    it = "it" if len(clipped.measured) == 1 else "them"
    return [
        f"After {what_was_measured(clipped, system)}, the stand makes {banded(now, system)} "
        f"{ended}, weather and field together; without {it}, {banded(without, system)}, and by "
        f"weather alone {banded(by_weather, system)}.",
        f"{units.spell(target, 'biomass', system)} is reached with a chance of "
        f"{float(last['chance_percent']):.0f} percent; without {it} of "
        f"{float(last['untold_chance_percent']):.0f}, by weather alone of "
        f"{float(last['weather_chance_percent']):.0f}.",
        *of_draws(clipped, system),
    ]


def of_draws(clipped: Clipped, system: units.System) -> list[str]:
    """Say how many drawn fields still count, what they had before, and what the field was."""
    lines = []
    if clipped.reached:
        it = "it" if len(clipped.measured) == 1 else "them"
        lines.append(
            f"Of {clipped.draws} fields drawn, {clipped.counting:.0f} still count (effective "
            f"number). Without {it} they had "
            + wording.join(
                [
                    f"{_span(one, float(row[0]), float(row[2]), system)} on "
                    f"{wording.dates_in(one.date)}"
                    for one, row in zip(clipped.measured, clipped.without, strict=True)
                ]
            )
            + " in 8 of 10."
        )
    for date, row in clipped.past:
        lines.append(
            f"On {wording.dates_in(date)} the field had "
            f"{banded([float(one) for one in row], system)}."
        )
    return lines


def notes(clipped: Clipped, system: units.System) -> list[str]:
    """Say where the model cannot have made what was measured, and where few draws count."""
    lines = [
        f"Nothing in the model could have made {spelled(one, system)} on "
        f"{wording.dates_in(one.date)}: no field of {clipped.draws} drawn comes within "
        f"{OUT_OF_REACH:g} standard deviations of it, and it is left aside. Look at what was "
        "measured and its day, and at sowing date, soil and nitrogen."
        for one in clipped.aside
    ]
    if not clipped.reached:
        lines.append(
            "Nothing in the model could have made the biomass that was measured: no field of "
            f"{clipped.draws} drawn comes within {OUT_OF_REACH:g} standard deviations of it. The "
            "outlook is the last clipping and what stands usually gain, with twice their usual "
            "error. Look at the clipping, its unit and day, and at sowing date, soil and nitrogen."
        )
    elif clipped.counting < FEW_COUNT:
        lines.append(
            f"Only {clipped.counting:.0f} of {clipped.draws} drawn fields come near what was "
            "measured: trust the band less."
        )
    return lines


def what_was_measured(clipped: Clipped, system: units.System) -> str:
    """List what was measured, each with its day."""
    return wording.join(
        [f"{spelled(one, system)} on {wording.dates_in(one.date)}" for one in clipped.measured]
    )


def spelled(one: Measured, system: units.System) -> str:
    """Spell one thing that was measured: ``"850 lb/ac"``, ``"Zadoks 30"``."""
    if one.kind == STAGE:
        return f"Zadoks {one.value:.0f}"
    if one.kind == COVER:
        return f"{100 * one.value:.0f} percent green cover"
    if one.kind == BIOMASS:
        return units.spell(one.value, "mass", system)
    return f"{units.spell(one.value, 'nitrogen', system)} of nitrate nitrogen in the soil"


def _span(one: Measured, low: float, high: float, system: units.System) -> str:
    if one.kind == STAGE:
        return f"Zadoks {low:.0f} to {high:.0f}"
    if one.kind == COVER:
        return f"{100 * low:.0f} to {100 * high:.0f} percent green cover"
    if one.kind == BIOMASS:
        return from_to(low, high, system)
    span = f"{units.show(low, 'nitrogen', system):.0f} to {units.spell(high, 'nitrogen', system)}"
    return f"{span} of nitrate nitrogen"


def banded(row: list[float], system: units.System) -> str:
    """Spell a middle case and its band: ``"6,910 lb/ac (3,010 to 12,610 lb/ac)"``."""
    return f"{units.spell(row[1], 'biomass', system)} ({from_to(row[0], row[2], system)})"
