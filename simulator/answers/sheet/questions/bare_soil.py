"""What a stand keeps from leaching, and leaves at planting, beside bare soil: a few lines.

Of one seeding rate and one time of nitrogen, over the falls of the sheet. An end that is no date
has no bare soil beside it, and no lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from simulator import units
from simulator.answers.risk import NITRATE_LIMIT
from simulator.answers.shared.bare_soil import (
    DRAINED,
    LEACHED,
    Beside,
    Leached,
    amount,
    bare_drained,
    bare_leached,
    beside,
    leached_less,
    range_less,
    within,
)
from simulator.season.cases import CHANGED, RECORDED
from simulator.show import wording
from simulator.show.tables import number, spread

if TYPE_CHECKING:
    import xarray as xr

    from simulator.answers.sheet.questions.request import SheetRequest

CAUTION = (
    "How far off this is in a field is not known: the model's nitrate has not been tried against "
    "measurements, and real bare ground has weeds, which hold some."
)


def by_sowing(
    request: SheetRequest,
    grid: xr.Dataset,
    years: Sequence[int],
    sowings: Sequence[str],
    rates: Sequence[float],
) -> str:
    """Say what sowing dates with nitrogen rates leach less than bare soil, and how strong it is.

    Parameters
    ----------
    request : SheetRequest
    grid : Dataset
        From `SheetRequest.grown`.
    years : sequence of int
        Falls that count on the sheet.
    sowings : sequence of str
    rates : sequence of float
        Nitrogen [kg/ha].
    """
    subset = grid.isel(seeding=[0], nitrogen_timing=[0], end=[-1])
    subset = subset.sel(year=list(years), sow=list(sowings), nitrogen=list(rates))
    found = leached_less(subset)
    if not found:
        return ""
    end = wording.dates_in(found[0].end)
    leached = found[0].beside.bare
    texts = [
        f"From September to {end} it leaches {request.nitrogen(float(leached.mean()))} of nitrate "
        f"nitrogen{_over_falls(leached, request.system)}."
    ]
    for rate in rates:
        fed = f"with {request.rate(rate)}, of which bare soil has none," if rate > 0.0 else ""
        parts = [_less_by_sowing(one, request.system) for one in found if one.nitrogen == rate]
        stand = f"a stand {fed or 'without nitrogen'}"
        texts.append(f"In the same fall {stand} leaches {'; '.join(parts)}.")
    return " ".join([*texts, *_strengths(request, subset), CAUTION])


def _over_falls(values: NDArray[np.float64], system: units.System) -> str:
    if values.size < 2:
        return ""
    low, high = (number(one, "nitrogen", system) for one in spread(values))
    return f" ({low} to {high} {within(values.size)})"


def _less_by_sowing(one: Leached, system: units.System) -> str:
    return (
        f"{amount(one.beside.mean, 'nitrogen', system)} sown {wording.dates_in(one.sow)}"
        f"{range_less(one.beside, 'nitrogen', system)}"
    )


def _strengths(request: SheetRequest, subset: xr.Dataset) -> list[str]:
    """Say how strong what drains is, below bare soil and each sowing date, with the most nitrogen.

    Means by what drains, over the falls.
    """
    end, rate = str(subset["end"].values[0]), float(subset["nitrogen"].max())
    bare = strength(bare_leached(subset, end), bare_drained(subset, end))
    sowings = [str(sow) for sow in subset["sow"].values]
    stands = [
        strength(at[LEACHED].values, at[DRAINED].values)
        for at in (
            subset.sel(sow=sow, nitrogen=rate, end=end).isel(seeding=0, nitrogen_timing=0)
            for sow in sowings
        )
    ]
    sown = [f"the stand sown {wording.dates_in(sow)}" for sow in sowings]
    return _nitrate_sentences(request, bare, dict(zip(sown, stands, strict=True)), rate)


def _nitrate_sentences(
    request: SheetRequest, bare: float, stands: dict[str, float], rate: float
) -> list[str]:
    """Hold what drains below bare soil and stands [mg/L] against the limit for drinking water."""
    if not np.isfinite([bare, *stands.values()]).all():
        return []
    below = wording.join([f"{value:.0f} below {stand}" for stand, value in stands.items()])
    return [
        f"What drains carries {bare:.0f} mg/L of it below bare soil and, with "
        f"{request.rate(rate)}, {below}; the limit for drinking water is {NITRATE_LIMIT:.0f}."
    ]


def strength(leached: NDArray[np.float64], drained: NDArray[np.float64]) -> float:
    """Return nitrate nitrogen in what drains [mg/L], of [kg/ha] and [mm]; NaN where none does."""
    known = np.isfinite(leached) & np.isfinite(drained)
    total = float(drained[known].sum())
    return 100.0 * float(leached[known].sum()) / total if total > 0.0 else float("nan")


def in_changed_weather(
    request: SheetRequest,
    grid: xr.Dataset,
    years: Sequence[int],
    timings: Sequence[str],
    rate: float,
) -> str:
    """Say what changed weather makes of bare soil, and what a stand leaches less then.

    Parameters
    ----------
    request : SheetRequest
    grid : Dataset
        From `SheetRequest.grown` with changes; its first sowing and last end are spoken of.
    years : sequence of int
    timings : sequence of str
        Times of nitrogen.
    rate : float
        Nitrogen [kg/ha].
    """
    subset = grid.isel(seeding=0, sow=0).sel(year=list(years), nitrogen=rate)
    end, sow = str(subset["end"].values[-1]), wording.dates_in(str(subset["sow"].values))
    bare = {case: bare_leached(subset.sel(case=case), end) for case in (RECORDED, CHANGED)}
    stands = subset.sel(case=CHANGED, end=end)
    times = timings if rate > 0.0 else timings[:1]
    made = [stands.sel(nitrogen_timing=when) for when in times]
    sets = [beside(years, one[LEACHED].values, bare[CHANGED]) for one in made]
    parts = [
        f"{amount(one.mean, 'nitrogen', request.system)}"
        f"{f' given {wording.timing(when)}' if rate > 0.0 else ''}"
        f"{range_less(one, 'nitrogen', request.system)}"
        for when, one in zip(times, sets, strict=True)
        if one is not None
    ]
    if not parts:
        return ""
    strong = _nitrate_sentences(
        request,
        strength(bare[CHANGED], bare_drained(subset.sel(case=CHANGED), end)),
        {
            f"the stand given it {wording.timing(when)}" if rate > 0.0 else "the stand": strength(
                one[LEACHED].values, one[DRAINED].values
            )
            for when, one in zip(times, made, strict=True)
        },
        rate,
    )
    before, after = (request.nitrogen(float(np.nanmean(bare[case]))) for case in bare)
    fed = f" with {request.rate(rate)}, of which bare soil has none," if rate > 0.0 else ""
    return (
        f"From September to {wording.dates_in(end)} it leaches {after} of nitrate nitrogen then, "
        f"instead of {before}. In the same fall the stand sown {sow}{fed} leaches "
        f"{wording.join(parts)}. {' '.join([*strong, CAUTION])}"
    )


def at_planting(
    request: SheetRequest, water: Beside | None, nitrate: Beside | None, ended: str, day: str
) -> str:
    """Say what the soil holds at planting beside bare soil's, after a stand ended on a date.

    Parameters
    ----------
    request : SheetRequest
    water, nitrate : Beside or None
        Water that roots can take [mm], and nitrate nitrogen [kg/ha].
    ended, day : str
        Of the stand, and of planting, as the sheet spells them.
    """
    if water is None or nitrate is None:
        return ""
    kinds = ((water, "water", "water"), (nitrate, "nitrogen", "nitrate nitrogen"))
    held = [
        units.spell(float(one.bare.mean()), kind, request.system) + f" of {what}"
        for one, kind, what in kinds
    ]
    less = [
        f"{amount(one.mean, kind, request.system, what)}{range_less(one, kind, request.system)}"
        for one, kind, what in kinds
    ]
    return (
        f"On {day} it holds {wording.join(held)}. In the same fall the soil after a stand ended "
        f"on {ended} holds {wording.join(less)}. {CAUTION}"
    )
