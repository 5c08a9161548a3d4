"""Fit few parameters to trials: the sites' nitrogen supply apart from the cereal's own."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from threading import Lock
from typing import Any

import numpy as np
from scipy.optimize import differential_evolution, least_squares

from simulator.parameters.bounded import BoundedSet
from simulator.parameters.cereals import Cereal
from simulator.parameters.soils import Soil
from simulator.problems import InputError, Parameter, Problem
from simulator.trials.fit_objective import Array, Quantity, Trial, Weighting

Tick = Callable[[], object]

SUPPLY = ("organic_matter", "residual_nitrate")  # of each site: what its soil gives
DEFAULT_FREE = ("radiation_use_efficiency", "leaf_growth_rate", "growth_index_full")
# arable soils of humid mild winters, and nitrate that a fall rarely exceeds (common practice)
_NARROWER = {"organic_matter": (0.4, 5.0), "residual_nitrate": (0.0, 150.0)}
_BY_TEXTURE = ("field_capacity", "wilting_point", "saturation", "organic_matter_gradient", *SUPPLY)
NEAR_BOUND = 0.01  # share of the range
# a parameter matters when it moves the misfit by this share and by this much; 1 is a standard error
MATTERS, MATTERS_LEAST = 0.02, 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """How hard to look.

    Parameters
    ----------
    population, rounds : int
        Of differential evolution; no rounds, no global search.
    local : int
        Most steps of least squares.
    step : float
        Share of a range over which its slopes are taken; the model has thresholds, so that
        short steps see noise.
    seed : int
    """

    population: int = 32
    rounds: int = 25
    local: int = 25
    step: float = 0.05
    seed: int = 1


def _not_fitted(name: str) -> Problem:
    """Say why a parameter cannot be fitted, and which can."""
    known = [*Cereal.specs(), *(key for key in Soil.specs() if key not in _BY_TEXTURE)]
    why = (
        "is each site's own"
        if name in SUPPLY
        else "goes with the texture"
        if name in _BY_TEXTURE
        else "is no parameter to fit"
    )
    return Problem(Parameter("free"), f"'{name}' {why}.", f"Choose from: {', '.join(known)}.")


def quantities_of(
    trial: Trial,
    free: Sequence[str] = DEFAULT_FREE,
    *,
    supply: Sequence[str] = SUPPLY,
    bounds: Mapping[str, tuple[float, float]] | None = None,
) -> tuple[Quantity, ...]:
    """Choose what to fit.

    Parameters
    ----------
    trial : Trial
    free : sequence of str
        Parameters of the cereals, or of soils and then shared by all sites.
    supply : sequence of str
        Parameters of each site's own soil or previous crop.
    bounds : mapping of str to (float, float), optional
        Narrower ranges; those of the parameter sets, and for the supply 0.4 to 5 percent of
        organic matter and 0 to 150 kg/ha of residual nitrate, without it.

    Raises
    ------
    InputError
        A name that is no parameter, that differs by texture, or is given twice; bounds that leave
        no room, or none for the default.
    """
    narrower = {**_NARROWER, **(bounds or {})}
    problems: list[Problem] = []
    found: list[Quantity] = []

    def add(kind: Any, owner: str, name: str, default: BoundedSet) -> None:
        spec, value = default.specs()[name], float(getattr(default, name))
        low, high = narrower.get(name, (spec.low, spec.high))
        low, high = max(low, spec.low), min(high, spec.high)
        if bounds is None or name not in bounds:  # a rich soil far north lies above the usual
            low, high = min(low, value), max(high, value)
        if not low < high or not low <= value <= high:
            problems.append(
                Problem(
                    f"bounds of {name}",
                    f"{low:g} to {high:g} leave no room about the {owner}'s default, {value:g}.",
                    f"Stay within {spec.low:g} to {spec.high:g}.",
                )
            )
            return
        found.append(
            Quantity(
                kind=kind, owner=owner, name=name, unit=spec.unit, default=value, low=low, high=high
            )
        )

    some_soil = trial.soils[trial.sites[0]]
    for name in free:
        if list(free).count(name) > 1:
            problems.append(
                Problem(Parameter("free"), f"'{name}' is given twice.", "Give each once.")
            )
        elif name in Cereal.specs():
            for cereal, one in trial.cereals.items():
                add("cereal", cereal, name, one)
        elif name in Soil.specs() and name not in _BY_TEXTURE:
            add("soil", "all soils", name, some_soil)
        else:
            problems.append(_not_fitted(name))
    for site in trial.sites:
        for name in supply:
            of = trial.soils[site] if name in Soil.specs() else trial.crops[site]
            add("site", site, name, of)
    if problems:
        raise InputError(list(dict.fromkeys(problems)))
    return tuple(found)


def fits_by_site(trial: Trial, quantities: Sequence[Quantity]) -> bool:
    """Say whether nothing that is fitted is shared, so that each site is fitted by itself."""
    return len(trial.sites) > 1 and all(q.kind == "site" for q in quantities)


def own_of(quantities: Sequence[Quantity], site: str) -> tuple[Quantity, ...]:
    """Return a site's own quantities."""
    return tuple(q for q in quantities if q.kind == "site" and q.owner == site)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """What a fit found.

    Parameters
    ----------
    quantities : tuple of Quantity
    values : array (quantity,)
    misfit : float
        Weighted sum of squares, without the priors'.
    converged : bool
        Whether the local search says that it arrived.
    evaluations : int
        Parameter sets tried.
    """

    quantities: tuple[Quantity, ...]
    values: Array
    misfit: float
    converged: bool
    evaluations: int


def fit(
    trial: Trial,
    quantities: Sequence[Quantity],
    *,
    counts: Array | None = None,
    weighting: Weighting | None = None,
    search: Search | None = None,
    start: Array | None = None,
    tick: Tick | None = None,
) -> Fitted:
    """Find the values that agree best with the plots and stray least from their defaults.

    Minimises the sum of squared `Trial.misfits` and of the priors' ((value - default) / (prior x
    range)): first by differential evolution over the whole ranges, then from there by least
    squares. The same seed gives the same result. Where nothing is shared (`fits_by_site`) each
    site is fitted by itself, so that its values do not hang on which other sites are there.

    Parameters
    ----------
    trial : Trial
    quantities : sequence of Quantity
    counts : array (season,), optional
        How often each season counts; each once without it.
    weighting : Weighting, optional
    search : Search, optional
    start : array (quantity,), optional
        Where to start; the defaults without it.
    tick : callable, optional
        Called after each round of the global search and after the local one.

    References
    ----------
    Storn and Price (1997), J. Glob. Optim. 11:341-359; Branch et al. (1999), SIAM J. Sci. Comput.
    21:1-23.
    """
    weighting, search = weighting or Weighting(), search or Search()
    counts = np.ones(len(trial.seasons)) if counts is None else counts
    if fits_by_site(trial, quantities):
        return _fit_each_site(trial, quantities, counts, weighting, search, start, tick)
    low = np.array([q.low for q in quantities])
    span = np.array([q.high for q in quantities]) - low
    default = np.array([q.default for q in quantities])
    tried = 0

    # searched on 1 to 2, so that a relative step is about the same share of every range
    def residuals(places: Array) -> Array:
        nonlocal tried
        tried += 1
        values = low + (places - 1.0) * span
        data = trial.misfits(trial.simulate(quantities, values, counts > 0), weighting, counts)
        return np.concatenate([data, (values - default) / (weighting.prior * span)])

    def misfit(values: Array) -> float:
        simulated = trial.simulate(quantities, values, counts > 0)
        return float(np.sum(trial.misfits(simulated, weighting, counts) ** 2))

    best = 1.0 + ((default if start is None else start) - low) / span
    if not len(quantities):
        return Fitted(
            quantities=(), values=best, misfit=misfit(best), converged=True, evaluations=1
        )
    if search.rounds:
        best = _searched_over_all(residuals, best, search, tick)
    done = least_squares(
        residuals, best, bounds=(1.0, 2.0), diff_step=search.step, max_nfev=search.local
    )
    if tick:
        tick()
    if 2.0 * done.cost <= np.sum(residuals(best) ** 2):
        best = done.x
    values = low + (np.round(best, 6) - 1.0) * span  # a bound is met, not nearly met
    return Fitted(
        quantities=tuple(quantities),
        values=values,
        misfit=misfit(values),
        converged=done.status > 0,
        evaluations=tried,
    )


def _searched_over_all(
    residuals: Callable[[Array], Array], start: Array, search: Search, tick: Tick | None
) -> Array:
    """Search the whole ranges, each laid on 1 to 2, by differential evolution."""
    found = differential_evolution(
        lambda places: float(np.sum(residuals(places) ** 2)),
        [(1.0, 2.0)] * len(start),
        maxiter=search.rounds,
        popsize=max(search.population / len(start), 1.0),
        x0=start,
        init="sobol",
        rng=search.seed,
        polish=False,
        callback=lambda *_, **__: tick() and None if tick else None,
    )
    return np.asarray(found.x)


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One fit of many; the fields are those of `fit`."""

    trial: Trial
    quantities: Sequence[Quantity]
    counts: Array
    start: Array | None = None


def fit_all(
    jobs: Sequence[Job],
    *,
    weighting: Weighting | None = None,
    search: Search | None = None,
    tick: Tick | None = None,
) -> list[Fitted]:
    """Make many fits, shared over threads; each is the same as it would be by itself.

    Parameters
    ----------
    jobs : sequence of Job
    weighting, search, tick
        As in `fit`.
    """
    lock = Lock()

    def ticking() -> None:
        if tick:
            with lock:
                tick()

    def one(job: Job) -> Fitted:
        return fit(
            job.trial,
            job.quantities,
            counts=job.counts,
            start=job.start,
            weighting=weighting,
            search=search,
            tick=ticking,
        )

    with ThreadPoolExecutor(min(len(jobs), os.cpu_count() or 1) or 1) as threads:
        return list(threads.map(one, jobs))


def _fit_each_site(
    trial: Trial,
    quantities: Sequence[Quantity],
    counts: Array,
    weighting: Weighting,
    search: Search,
    start: Array | None,
    tick: Tick | None,
) -> Fitted:
    """Fit each site by itself; a site that does not count stays at its defaults."""
    of_season = np.array([site for site, _ in trial.seasons])
    places = [np.array([q.owner == site for q in quantities], bool) for site in trial.sites]
    seen = [np.any(counts[of_season == site] > 0) for site in trial.sites]
    made = fit_all(
        [
            Job(
                trial=trial.one_site(site),
                quantities=own_of(quantities, site),
                counts=counts[of_season == site],
                start=None if start is None else start[own],
            )
            for site, own, counting in zip(trial.sites, places, seen, strict=True)
            if counting
        ],
        weighting=weighting,
        search=search,
        tick=tick,
    )
    values = np.array([q.default for q in quantities])
    for own, one in zip((p for p, s in zip(places, seen, strict=True) if s), made, strict=True):
        values[own] = one.values
    return Fitted(
        quantities=tuple(quantities),
        values=values,
        misfit=sum(one.misfit for one in made),
        converged=all(one.converged for one in made),
        evaluations=sum(one.evaluations for one in made),
    )


def warnings_of(
    trial: Trial, fitted: Fitted, weighting: Weighting | None = None
) -> dict[str, list[str]]:
    """Say of each quantity whether it sits on its bound, and whether it matters.

    Returns
    -------
    dict of str to list of str
        By `Quantity.label`; a quantity does not matter when no other value in its range moves the
        weighted misfit by 2 percent and by 0.1, the others held.
    """
    weighting = weighting or Weighting()
    fields: dict[str, list[str]] = {}
    if fits_by_site(trial, fitted.quantities):
        for site in trial.sites:
            own = own_of(fitted.quantities, site)
            values = fitted.values[[q in own for q in fitted.quantities]]
            fields |= warnings_of(
                trial.one_site(site), replace(fitted, quantities=own, values=values), weighting
            )
        return fields
    counts = np.ones(len(trial.seasons))
    reached = trial.misfits(trial.simulate(fitted.quantities, fitted.values), weighting, counts)
    misfit = float(np.sum(reached**2))
    for at, q in enumerate(fitted.quantities):
        value, span = fitted.values[at], q.high - q.low
        fields[q.label] = []
        if min(value - q.low, q.high - value) < NEAR_BOUND * span:
            fields[q.label].append("on its bound")
        most = 0.0
        for other in np.linspace(q.low, q.high, 5):
            values = fitted.values.copy()
            values[at] = other
            misfits = trial.misfits(trial.simulate(fitted.quantities, values), weighting, counts)
            most = max(most, abs(float(np.sum(misfits**2)) - misfit))
        if most < max(MATTERS * misfit, MATTERS_LEAST):
            fields[q.label].append("does not matter")
    return fields
