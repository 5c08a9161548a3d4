"""How a fit does on what it has not seen, and how far its values may be trusted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from simulator.problems import fault
from simulator.trials.fitting import Fitted, Search, Tick, fit
from simulator.trials.trial import Array, Quantity, Trial, Weighting

Part = Literal["season", "year", "site"]
PARTS: tuple[Part, ...] = ("season", "year", "site")
WITHIN = (5.0, 95.0)  # percentiles of an interval


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """Plots as the rest of the plots foretell them.

    Parameters
    ----------
    part : {"season", "year", "site"}
        A season is one fall year at one site; a year leaves it out at every site.
    simulated : array (row, 2)
        Biomass and nitrogen in shoots [kg/ha], each row by a fit that had not seen it.
    notes : tuple of str
        Whose nitrogen supply could not be fitted.
    """

    part: Part
    simulated: Array
    notes: tuple[str, ...]


def parts(trial: Trial, part: Part) -> list[tuple[str, Array]]:
    """Part the seasons: a name, and which seasons are left out, for each part.

    Raises
    ------
    InputError
        Only one part, so that nothing would be left to fit on.
    """
    names = [
        {"season": f"{site} {year}", "year": str(year), "site": str(site)}[part]
        for site, year in trial.seasons
    ]
    found = [(name, np.array([n == name for n in names])) for name in dict.fromkeys(names)]
    if len(found) < 2:
        raise fault("--leave-out", f"The plots have only one {part}, {found[0][0]}.",
                    "Give plots of another, or leave --leave-out away.")  # fmt: skip
    return found


def leave_out(
    trial: Trial,
    quantities: Sequence[Quantity],
    part: Part = "season",
    *,
    weighting: Weighting | None = None,
    search: Search | None = None,
    tick: Tick | None = None,
) -> LeftOut:
    """Fit without each part in turn, from the defaults again, and foretell it.

    A left-out season has its site's supply as fitted on the site's other seasons; a site with no
    other season has the supply of its named soil and previous crop.

    Parameters
    ----------
    trial, quantities, weighting, search, tick
        As in `fit`.
    part : {"season", "year", "site"}

    Raises
    ------
    InputError
        As `parts`.
    """
    simulated = np.full((len(trial.biomass), 2), np.nan)
    alone: list[str] = []
    for name, out in parts(trial, part):
        seen = {site for (site, _), gone in zip(trial.seasons, out, strict=True) if not gone}
        kept = [q for q in quantities if q.kind != "site" or q.owner in seen]
        found = fit(trial, kept, counts=(~out).astype(float), weighting=weighting, search=search,
                    tick=tick)  # fmt: skip
        rows = out[trial.season_of]
        simulated[rows] = trial.simulate(kept, found.values, out)[rows]
        without = sorted({site for (site, _), gone in zip(trial.seasons, out, strict=True)
                          if gone and site not in seen})  # fmt: skip
        alone += [
            f"Without {name}, {site} has no plots to fit its nitrogen supply on: that of"
            f" {trial.soils[site].name} after {trial.crops[site].name} is taken."
            for site in without
        ]
    return LeftOut(part=part, simulated=simulated, notes=tuple(alone))


def intervals(
    trial: Trial,
    fitted: Fitted,
    draws: int,
    *,
    weighting: Weighting | None = None,
    search: Search | None = None,
    tick: Tick | None = None,
) -> Array:
    """Intervals of the fitted values by bootstrap over seasons.

    Each draw takes as many seasons of each site as it has, with replacement, and fits them from
    the values found. A site with one season keeps it, which tells nothing of its own values.

    Parameters
    ----------
    trial : Trial
    fitted : Fitted
    draws : int
    weighting, search, tick
        As in `fit`; the seed draws, and no global search is made.

    Returns
    -------
    array (quantity, 2)
        5th and 95th percentile; NaN for the values of a site with one season.

    References
    ----------
    Efron and Tibshirani (1993), An Introduction to the Bootstrap, ch. 13: percentile intervals.
    """
    search = replace(search or Search(), rounds=0)
    random = np.random.default_rng(search.seed)
    sites = np.array([site for site, _ in trial.seasons])
    values = np.empty((draws, len(fitted.values)))
    for draw in range(draws):
        counts = np.zeros(len(sites))
        for site in trial.sites:
            own = np.flatnonzero(sites == site)
            np.add.at(counts, random.choice(own, own.size), 1.0)
        values[draw] = fit(
            trial, fitted.quantities, counts=counts, weighting=weighting, search=search,
            start=fitted.values, tick=tick,
        ).values  # fmt: skip
    within = np.percentile(values, WITHIN, axis=0).T
    alone = [site for site in trial.sites if np.sum(sites == site) == 1]
    within[[q.kind == "site" and q.owner in alone for q in fitted.quantities]] = np.nan
    return within
