"""Cross-validation of a fit to plots, and bootstrap intervals of its values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from simulator.problems import Parameter, Text, fault
from simulator.trials.fit_objective import Array, Quantity, Trial, Weighting
from simulator.trials.fitting import Fitted, Job, Search, Tick, fit_all, fits_by_site, own_of

FoldBy = Literal["season", "year", "site"]
WITHIN = (5.0, 95.0)  # percentiles of an interval


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossValidation:
    """Plots as the rest of the plots predict them.

    Parameters
    ----------
    by : {"season", "year", "site"}
        A season is one fall year at one site; a year leaves it out at every site.
    simulated : array (row, 2)
        Biomass and nitrogen in shoots [kg/ha], each row by a fit that had not seen it.
    notes : tuple of str
        Whose nitrogen supply could not be fitted.
    """

    by: FoldBy
    simulated: Array
    notes: tuple[str, ...]


def folds(trial: Trial, by: FoldBy) -> list[tuple[str, Array]]:
    """Name the folds, each with the seasons that it leaves out.

    Raises
    ------
    InputError
        Only one fold, so that nothing would be left to fit on.
    """
    names = [
        {"season": f"{site} {year}", "year": str(year), "site": str(site)}[by]
        for site, year in trial.seasons
    ]
    found = [(name, np.array([n == name for n in names])) for name in dict.fromkeys(names)]
    if len(found) < 2:
        raise fault(
            Parameter("leave_out"),
            f"The plots have only one {by}, {found[0][0]}.",
            Text("Give plots of another, or leave ", Parameter("leave_out"), " away."),
        )
    return found


def cross_validate(
    trial: Trial,
    quantities: Sequence[Quantity],
    by: FoldBy = "season",
    *,
    weighting: Weighting | None = None,
    search: Search | None = None,
    tick: Tick | None = None,
) -> CrossValidation:
    """Fit without each fold in turn, from the defaults again, and predict it.

    A left-out season has its site's supply as fitted on the site's other seasons; a site with no
    other season has the supply of its named soil and previous crop. Where each site is fitted
    by itself (`fits_by_site`), it is predicted by itself too.

    Parameters
    ----------
    trial, quantities, weighting, search, tick
        As in `fit`.
    by : {"season", "year", "site"}

    Raises
    ------
    InputError
        As `folds`.
    """
    simulated = np.full((len(trial.biomass), 2), np.nan)
    left = folds(trial, by)
    jobs, wanted = _without(trial, quantities, [out for _, out in left])
    made = fit_all(jobs, weighting=weighting, search=search, tick=tick)
    for job, found, (rows, out) in zip(jobs, made, wanted, strict=True):
        predicted = job.trial.simulate(job.quantities, found.values, out)
        simulated[rows] = predicted[out[job.trial.season_of]]
    notes: list[str] = []
    for name, out in left:
        seen = _seen(trial, out)
        without = sorted(
            {
                site
                for (site, _), gone in zip(trial.seasons, out, strict=True)
                if gone and site not in seen
            }
        )
        notes += [
            f"Without {name}, {site} has no plots to fit its nitrogen supply on: that of"
            f" {trial.soils[site].name} after {trial.crops[site].name} is taken."
            for site in without
        ]
    return CrossValidation(by=by, simulated=simulated, notes=tuple(notes))


def _seen(trial: Trial, out: Array) -> set[str]:
    """Return the sites that have a season which is not left out."""
    return {site for (site, _), gone in zip(trial.seasons, out, strict=True) if not gone}


def _without(
    trial: Trial, quantities: Sequence[Quantity], left: Sequence[Array]
) -> tuple[list[Job], list[tuple[Array, Array]]]:
    """Set up a fit without each fold.

    Returns
    -------
    list of Job
    list of (array, array)
        For each, the rows that it is to predict, and the seasons of its own trial that these are.
    """
    if not fits_by_site(trial, quantities):
        kept = [
            [q for q in quantities if q.kind != "site" or q.owner in _seen(trial, out)]
            for out in left
        ]
        jobs = [
            Job(trial=trial, quantities=own, counts=(~out).astype(float))
            for own, out in zip(kept, left, strict=True)
        ]
        return jobs, [(np.flatnonzero(out[trial.season_of]), out) for out in left]
    jobs, wanted = [], []
    for site in trial.sites:
        here = np.array([of == site for of, _ in trial.seasons])
        for out in left:
            if not (out & here).any():
                continue  # nothing of this site is left out
            gone = out[here]
            own = () if gone.all() else own_of(quantities, site)
            jobs.append(
                Job(trial=trial.one_site(site), quantities=own, counts=(~gone).astype(float))
            )
            wanted.append((np.flatnonzero((out & here)[trial.season_of]), gone))
    return jobs, wanted


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
    Where each site is fitted by itself (`fits_by_site`), it is drawn by itself too, from the same
    seed.

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
    sites = np.array([site for site, _ in trial.seasons])
    values = np.empty((draws, len(fitted.values)))
    if fits_by_site(trial, fitted.quantities):
        groups = [
            (trial.one_site(site), [q.owner == site for q in fitted.quantities])
            for site in trial.sites
        ]
    else:
        groups = [(trial, [True] * len(fitted.quantities))]
    for some, places in groups:
        own = np.flatnonzero(places)
        drawn = _draws(some, draws, search.seed)
        different = np.unique(drawn, axis=0)  # few seasons, few ways to draw them
        jobs = [
            Job(
                trial=some,
                quantities=[fitted.quantities[at] for at in own],
                counts=counts,
                start=fitted.values[own],
            )
            for counts in different
        ]
        made = fit_all(jobs, weighting=weighting, search=search, tick=tick)
        for counts, one in zip(different, made, strict=True):
            values[np.ix_((drawn == counts).all(axis=1), own)] = one.values
    within = np.percentile(values, WITHIN, axis=0).T
    one_season = [site for site in trial.sites if np.sum(sites == site) == 1]
    within[[q.kind == "site" and q.owner in one_season for q in fitted.quantities]] = np.nan
    return within


def _draws(trial: Trial, draws: int, seed: int) -> Array:
    """Draw seasons of each site anew: how often each counts, (draw, season)."""
    random = np.random.default_rng(seed)
    sites = np.array([site for site, _ in trial.seasons])
    counts = np.zeros((draws, len(sites)))
    for draw in range(draws):
        for site in trial.sites:
            own = np.flatnonzero(sites == site)
            np.add.at(counts[draw], random.choice(own, own.size), 1.0)
    return counts


def steps(
    trial: Trial, quantities: Sequence[Quantity], by: FoldBy | None, draws: int, search: Search
) -> int:
    """Count the ticks of a fit, of leaving out (``by``) and of the intervals, at most."""
    left = [out for _, out in folds(trial, by)] if by else []
    jobs = _without(trial, quantities, left)[0]
    sites = len(trial.sites) if fits_by_site(trial, quantities) else 1
    fits = sites + sum(bool(job.quantities) for job in jobs)
    return fits * (search.rounds + 1) + (draws * sites if quantities else 0)
