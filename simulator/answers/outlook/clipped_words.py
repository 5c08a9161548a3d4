"""What clippings change, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import units
from simulator.answers.outlook.clipped import Clipped
from simulator.answers.outlook.table import from_to
from simulator.season.clipping import OUT_OF_REACH
from simulator.show import wording

if TYPE_CHECKING:
    import xarray as xr

FEW_COUNT = 10.0  # effective draws


def sentences(clipped: Clipped, last: xr.Dataset, system: units.System, target: float) -> list[str]:
    """Say what the stand makes by the last end with and without the clippings.

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
    without = [float(last[f"weather_{part}_kg_ha"]) for part in ("low", "median", "high")]
    told_by = [float(last[f"biomass_{part}_kg_ha"]) for part in ("low", "median", "high")]
    it = "it" if len(clipped.clippings) == 1 else "them"
    lines = [
        f"Told {_clippings(clipped, system)}, the stand makes {_band(told_by, system)} {ended}, "
        f"weather and field together; without {it}, by weather alone, "
        f"{_band(without, system)}.",
        f"{units.spell(target, 'mass', system)} is reached with a chance of "
        f"{float(last['chance_percent']):.0f} percent, by weather alone "
        f"{float(last['weather_chance_percent']):.0f}.",
    ]
    if clipped.reached:
        lines.append(
            f"Of {clipped.draws} fields drawn, {clipped.counting:.0f} still count (effective "
            f"number). Without {it} they had "
            + " and ".join(
                f"{from_to(float(row[0]), float(row[2]), system)} on {wording.dates_in(one.date)}"
                for one, row in zip(clipped.clippings, clipped.without, strict=True)
            )
            + " in 8 of 10."
        )
    for date, row in clipped.past:
        lines.append(
            f"On {wording.dates_in(date)} the field had "
            f"{_band([float(one) for one in row], system)}."
        )
    return lines


def notes(clipped: Clipped) -> list[str]:
    """Say where the model cannot have made what was measured, and where few draws count."""
    if not clipped.reached:
        return [
            f"Nothing in the model could have made what was measured: no field of {clipped.draws} "
            f"drawn comes within {OUT_OF_REACH:g} standard deviations of it. The outlook is the "
            "last clipping and what stands usually gain, with twice their usual error. Look at "
            "the clipping, its unit and day, and at sowing date, soil and nitrogen."
        ]
    if clipped.counting < FEW_COUNT:
        return [
            f"Only {clipped.counting:.0f} of {clipped.draws} drawn fields come near what was "
            "measured: "
            "trust the band less."
        ]
    return []


def _clippings(clipped: Clipped, system: units.System) -> str:
    return " and ".join(
        f"{units.spell(one.biomass, 'mass', system)} on {wording.dates_in(one.date)}"
        for one in clipped.clippings
    )


def _band(row: list[float], system: units.System) -> str:
    return f"{units.spell(row[1], 'mass', system)} ({from_to(row[0], row[2], system)})"
