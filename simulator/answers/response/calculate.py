"""What nitrogen brings: by sowing date, by kind of year and by the time it goes on.

Everything is marginal: a rate is compared with the lowest rate of the same fall, sowing and
timing, so that what the soil gives by itself is not counted as the fertilizer's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from dataclasses import field as declared
from typing import TYPE_CHECKING

import numpy as np

from simulator.answers.shared.field_ranges import Ranges, difference_ranges
from simulator.answers.shared.response_curves import Choice, choose
from simulator.answers.shared.usual_rate import nearest
from simulator.parameters.model_error import RESPONSE, ModelError

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

ALL = "all"  # every fall, whatever its kind
# where applied nitrogen can be at the end -> fields that grow by it, fields that shrink
FATES: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "shoots": (("nitrogen_uptake_kg_ha",), ()),
    "roots": (("root_nitrogen_kg_ha",), ()),
    "frost_killed": (("killed_nitrogen_kg_ha",), ()),
    "shed_leaves": (("shed_nitrogen_kg_ha",), ()),
    "leached": (("nitrate_leached_kg_ha",), ()),
    "denitrified": (("denitrified_kg_ha",), ()),
    "volatilised": (("volatilised_kg_ha",), ()),
    "left_in_soil": (("soil_nitrate_kg_ha", "soil_ammonium_kg_ha"), ()),
    # taken up by decaying residue, or not yet set free by it: less is mineralised than without
    "tied_up": (("litter_nitrogen_kg_ha",), ("mineralised_kg_ha",)),
}
MEANINGS = {
    "shoots": "nitrogen in living shoots",
    "roots": "nitrogen in living roots",
    "frost_killed": "nitrogen in shoots and roots killed by frost",
    "shed_leaves": "nitrogen in leaves that died and fell",
    "leached": "nitrate nitrogen leached",
    "denitrified": "nitrogen denitrified",
    "volatilised": "nitrogen lost as ammonia",
    "left_in_soil": "mineral nitrogen left in the soil column",
    "tied_up": "nitrogen tied up in organic matter and litter",
}


def field(fate: str) -> str:
    """Name the variable of `marginal` that holds a fate."""
    return f"applied_{fate}_kg_ha"


def one_plan(grid: xr.Dataset) -> xr.Dataset:
    """Take the first seeding rate and the last end, and only falls that every plan finished.

    Parameters
    ----------
    grid : Dataset
        From `compare` without changes.

    Returns
    -------
    Dataset(year, sow, nitrogen, nitrogen_timing)
        NaN in falls that some rate or timing of the sowing did not finish: means over other
        falls would compare the falls.
    """
    subset = grid.isel(seeding=0, end=-1).transpose("year", "sow", "nitrogen", "nitrogen_timing")
    subset = subset.isel(nitrogen=np.argsort(subset["nitrogen"].values))
    return subset.where(subset["biomass_kg_ha"].notnull().all(["nitrogen", "nitrogen_timing"]))


def marginal(plans: xr.Dataset) -> xr.Dataset:
    """Work out what each rate brings and where it ends, over the lowest rate.

    Parameters
    ----------
    plans : Dataset
        From `one_plan`.

    Returns
    -------
    Dataset
        ``gained_kg_ha`` biomass; ``applied_kg_ha`` nitrogen; and, for each of `FATES`, its part
        of that, named as `field` has it. The parts add up to what was applied, since the
        nitrogen balance of either season closes.
    """
    more = plans - plans.isel(nitrogen=0, drop=True)
    found = more[["biomass_kg_ha", "fertilizer_kg_ha"]].rename(
        biomass_kg_ha="gained_kg_ha", fertilizer_kg_ha="applied_kg_ha"
    )
    found["gained_kg_ha"].attrs.update(
        units="kg/ha", long_name="biomass more than at the lowest rate of nitrogen"
    )
    found["applied_kg_ha"].attrs.update(
        units="kg/ha", long_name="nitrogen applied more than at the lowest rate"
    )
    for fate, (grow, shrink) in FATES.items():
        found[field(fate)] = sum(more[name] for name in grow) - sum(more[name] for name in shrink)
        found[field(fate)].attrs.update(
            units="kg/ha", long_name=f"of the nitrogen applied: {MEANINGS[fate]}"
        )
    found.attrs = dict(plans.attrs)
    return found


def spoken_rate(plans: xr.Dataset) -> float:
    """Return the rate that sentences speak of [kg/ha]: above the lowest, nearest to 60 lb/ac."""
    rates: list[float] = plans["nitrogen"].values.tolist()
    return nearest(rates[1:] or rates)


def groups(years: Sequence[int], kinds: Mapping[int, str]) -> dict[str, list[int]]:
    """Gather falls by kind: all of them first, then each kind in the order of the alphabet."""
    found = {ALL: list(years)}
    for kind in sorted({kinds[year] for year in years if year in kinds}):
        found[kind] = [year for year in years if kinds.get(year) == kind]
    return found


@dataclass(frozen=True, slots=True)
class Response:
    """Biomass against nitrogen for one sowing and timing, as the mean over some falls.

    Parameters
    ----------
    sow, timing : str
    kind : str
        `ALL`, a kind of year, or a single year.
    falls : int
    rates, means : tuple of float
        Nitrogen and mean biomass [kg/ha].
    choice : Choice
        The curve through the means [kg/ha].
    gained : tuple of float
        What the spoken rate brings in each fall [kg/ha].
    applied : float
        That rate above the lowest [kg/ha].
    parts : dict of str to float
        Mean of each of `FATES` at that rate [kg/ha].
    stood : array (fall, rate)
        Biomass in each fall [kg/ha].
    """

    sow: str
    timing: str
    kind: str
    falls: int
    rates: tuple[float, ...]
    means: tuple[float, ...]
    choice: Choice
    gained: tuple[float, ...]
    applied: float
    parts: dict[str, float]
    stood: NDArray[np.float64] = declared(compare=False, repr=False)

    def brings(self, error: ModelError = RESPONSE) -> Ranges:
        """Return the ranges of what the spoken rate brings [kg/ha]."""
        return difference_ranges(np.array(self.gained), error)

    @property
    def slope(self) -> float:
        """Biomass for each unit of nitrogen, mean up to the spoken rate; NaN without one."""
        return float(np.mean(self.gained)) / self.applied if self.falls and self.applied else np.nan

    def share(self, fate: str) -> float:
        """Share of the applied nitrogen that ends there; ``shoots`` is the recovery."""
        return self.parts[fate] / self.applied if self.applied else np.nan


def responses(
    plans: xr.Dataset,
    kinds: Mapping[int, str],
    *,
    timings: Sequence[str] | None = None,
    by_year: bool = False,
) -> list[Response]:
    """Fit biomass against nitrogen for each timing, sowing and kind of year.

    Parameters
    ----------
    plans : Dataset
        From `one_plan`.
    kinds : mapping of int to str
        Fall year -> kind; may be empty.
    timings : sequence of str, optional
        All that there are without it.
    by_year : bool
        For every single year in place of the kinds.

    Returns
    -------
    list of Response
        Timings outermost, then sowings, then kinds.
    """
    years = plans["year"].values.tolist()
    more = marginal(plans)
    rate = spoken_rate(plans)
    wanted = {str(year): [year] for year in years} if by_year else groups(years, kinds)
    rates = tuple(plans["nitrogen"].values.tolist())
    spoken = rates.index(rate)
    found = []
    for timing in timings or list(map(str, plans["nitrogen_timing"].values)):
        for sow in map(str, plans["sow"].values):
            at = {"sow": sow, "nitrogen_timing": timing}
            biomass = plans["biomass_kg_ha"].sel(at).values
            here = {name: more[name].sel(at).values[:, spoken] for name in more.data_vars}
            for kind, members in wanted.items():
                among = np.isin(years, members) & np.isfinite(biomass[:, 0])
                means = _mean(biomass[among])
                found.append(
                    Response(
                        sow,
                        timing,
                        kind,
                        int(among.sum()),
                        rates,
                        tuple(means.tolist()),
                        choose(rates, means.tolist()),
                        tuple(here["gained_kg_ha"][among].tolist()),
                        float(_mean(here["applied_kg_ha"][among])),
                        {fate: float(_mean(here[field(fate)][among])) for fate in FATES},
                        biomass[among],
                    )
                )
    return found


def _mean(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean over falls, the first axis; NaN where there are none."""
    if not len(values):
        return np.full(values.shape[1:], np.nan)
    return np.asarray(values.mean(axis=0))
