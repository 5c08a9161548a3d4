"""What changed weather does to biomass, to nitrogen, and to what nitrogen brings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.answers.shared.field_ranges import Ranges, biomass_ranges, difference_ranges
from simulator.answers.shared.usual_rate import nearest
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.season.cases import CHANGED, RECORDED
from simulator.season.compare import BARE
from simulator.season.plan import dressings, order
from simulator.weather.change_text import Change
from simulator.weather.files.record_check import checked

if TYPE_CHECKING:
    import xarray as xr

LITTLE_GROWTH = 50.0  # kg/ha of biomass


@dataclass(frozen=True, slots=True)
class Pair:
    """A mean over falls in the weather as recorded and as changed [kg/ha]."""

    recorded: float
    changed: float

    @property
    def difference(self) -> float:
        """Changed minus as recorded."""
        return self.changed - self.recorded


@dataclass(frozen=True, slots=True)
class Effect:
    """What the change does to one plan.

    Parameters
    ----------
    sow, timing : str
        Sowing date; when the nitrogen goes on.
    nitrogen, base : float
        Rate, and the lowest rate in the grid, that it is compared with [kg/ha].
    biomass, leached : Pair
        Means over falls [kg/ha].
    gained : Pair
        Biomass more than at the lowest rate [kg/ha].
    lost : Pair
        Nitrogen leached more than at the lowest rate: the applied nitrogen's own loss [kg/ha].
    stands, differs : Ranges
        Of biomass as changed, and of changed less as recorded in the same fall [kg/ha].
    brings : tuple of Ranges
        Of what the nitrogen brings, as recorded and as changed [kg/ha].
    after_change : bool
        Whether all its nitrogen goes on after the changed span is over.
    """

    sow: str
    timing: str
    nitrogen: float
    base: float
    biomass: Pair
    leached: Pair
    gained: Pair
    lost: Pair
    stands: Ranges
    differs: Ranges
    brings: tuple[Ranges, Ranges]
    after_change: bool

    @property
    def applied(self) -> float:
        """Nitrogen above the lowest rate [kg/ha]."""
        return self.nitrogen - self.base

    @property
    def response_kept(self) -> float:
        """Share of the recorded response that is left; NaN where there was hardly any."""
        if self.gained.recorded < LITTLE_GROWTH:
            return float("nan")
        return self.gained.changed / self.gained.recorded


def effects(
    grid: xr.Dataset, changes: Sequence[Change] = (), errors: ModelErrors = SHIPPED
) -> list[Effect]:
    """Work out what the change does, for each sowing, timing and rate.

    Parameters
    ----------
    grid : Dataset
        From `compare` with changes: dimensions year, sow, nitrogen, nitrogen_timing and case,
        one seeding rate and one end selected.
    changes : sequence of Change
        What was changed, to tell whose nitrogen goes on after it.
    errors : ModelErrors
        How far off the model is, for the ranges.

    Returns
    -------
    list of Effect
        Timings outermost, then sowings, then rates in the order of the grid; the means are
        those of `paired` falls, NaN where there are none.
    """
    order = ("nitrogen_timing", "sow", "nitrogen", "case")
    shown = paired(grid[["biomass_kg_ha", "nitrate_leached_kg_ha"]])
    shown = shown.transpose(*order, "year").sel(case=[RECORDED, CHANGED])
    means, falls = shown.mean("year"), shown["biomass_kg_ha"].values
    rates = grid["nitrogen"].values
    lowest = int(np.argmin(rates))
    found = []
    for t, timing in enumerate(map(str, grid["nitrogen_timing"].values)):
        for s, sow in enumerate(map(str, grid["sow"].values)):
            biomass, leached = (
                [Pair(float(before), float(after)) for before, after in variable.values[t, s]]
                for variable in (means["biomass_kg_ha"], means["nitrate_leached_kg_ha"])
            )
            after_change = goes_on_after(sow, timing, changes)
            for n, rate in enumerate(rates):
                gained, lost = (
                    _difference_of_pairs(pairs[n], pairs[lowest]) for pairs in (biomass, leached)
                )
                stands, more = falls[t, s, n], falls[t, s, n] - falls[t, s, lowest]
                found.append(
                    Effect(
                        sow,
                        timing,
                        float(rate),
                        float(rates[lowest]),
                        biomass[n],
                        leached[n],
                        gained,
                        lost,
                        biomass_ranges(stands[1], error=errors.level),
                        difference_ranges(stands[1] - stands[0], errors.response),
                        (
                            difference_ranges(more[0], errors.response),
                            difference_ranges(more[1], errors.response),
                        ),
                        after_change,
                    )
                )
    return found


def _difference_of_pairs(one: Pair, base: Pair) -> Pair:
    return Pair(one.recorded - base.recorded, one.changed - base.changed)


def paired(grid: xr.Dataset) -> xr.Dataset:
    """Keep only falls that can be compared: with every rate, in both kinds of weather.

    An end at a stage or a biomass may be reached in one and not in the other; means over
    different falls would compare the falls and not the plans.
    """
    plans = [name for name in grid.data_vars if not str(name).startswith(BARE)]
    whole = grid["biomass_kg_ha"].notnull().all(["nitrogen", "case"])
    if whole.all():  # as nearly always, and looking through some sixty fields takes long
        return grid
    return grid.assign(grid[plans].where(whole))


def goes_on_after(sow: str, timing: str, changes: Sequence[Change]) -> bool:
    """Say whether every dressing comes after the last changed day of the season."""
    if not changes:
        return False
    lasts = []
    for change in changes:
        month, day = change.last
        day = min(day, 28) if month == 2 else day
        lasts.append(order(f"{month:02d}-{day:02d}"))
    first = min(order(dressing.when or sow) for dressing in dressings(timing))
    return first > max(lasts)


def ordinary(found: Sequence[Effect]) -> float:
    """Return the rate that sentences speak of: the one nearest to 60 lb/ac above the lowest."""
    rates = [effect.nitrogen for effect in found if effect.applied > 0]
    return nearest(rates) if rates else found[0].nitrogen


def mean_total(record: xr.Dataset, change: Change) -> float:
    """Rain in the changed span, mean over the record's years that have all of it [mm]."""
    record = checked(record)
    days = record["time"].values.astype("datetime64[D]")
    rain = record["rain"].values
    totals = [float(rain[span].sum()) for span in change.occurrences(days)]
    return float(np.nanmean(totals)) if np.isfinite(totals).any() else float("nan")
