"""A fit in sentences: what moved, and whether it helps where it was not fitted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from simulator import units
from simulator.answers.fit.data import DEFAULTS, FITTED, LEFT_OUT, REGRESSED, REGRESSED_OUT, Row
from simulator.show import wording
from simulator.show.tables import paragraph
from simulator.trials.fitting import fits_by_site
from simulator.trials.own_error import HELD
from simulator.trials.regression import FITTED as SEEN

if TYPE_CHECKING:
    from simulator.trials.cross_validation import CrossValidation
    from simulator.trials.fit_objective import Trial, Weighting
    from simulator.trials.fitting import Fitted


def heading(trial: Trial, fitted: Fitted, weighting: Weighting) -> str:
    """Say what was fitted on what, and how misfits were weighed."""
    own = [q.label for q in fitted.quantities if q.kind != "site"]
    supply = (
        wording.join(
            list(
                dict.fromkeys(
                    q.name.replace("_", " ") for q in fitted.quantities if q.kind == "site"
                )
            )
        )
        if len(own) < len(fitted.quantities)
        else "nothing"
    )
    apart = " Each site is fitted by itself." if fits_by_site(trial, fitted.quantities) else ""
    years = wording.falls(sorted({int(year) for _, year in trial.seasons}))
    invented = " The data are invented." if trial.plots.invented else ""
    return paragraph(
        f"Fitted to {len(trial.biomass)} rows of {trial.plots.file}, {len(trial.seasons)} seasons"
        f" at {wording.join(trial.sites)} ({years}): {supply} of each site"
        f"{', and ' + wording.join(own) if own else ''}."
        f"{apart} A row weighs 1/(s²/n + e²): s² the mean of its plots' own variance and the"
        f" usual one at its biomass, n their number, e {weighting.model_error:g} kg/ha the error"
        f" that any model has; nitrogen in shoots weighs"
        f" {weighting.nitrogen_weight:g} beside biomass, with {weighting.nitrogen_error:g} kg/ha."
        f" The plots of a season are taken to have {100 * weighting.shared:g} % of the model's"
        f" error in common, so that many of them count as few."
        f" Each parameter is held near its default by a prior of {100 * weighting.prior:g} % of"
        f" the range searched.{invented}"
    )


def headline(
    trial: Trial, skill: Sequence[Row], system: units.System
) -> tuple[list[str], list[str]]:
    """Say a chart's finding, and below it how to read it."""
    before, after = (
        units.spell(skill[0][f"{what}_rmse_kg_ha"], "mass", system) for what in (DEFAULTS, FITTED)
    )
    below = [
        f"{len(trial.biomass)} rows, {len(trial.seasons)} seasons at {wording.join(trial.sites)}.",
        "Diamond: default. Dot: fitted, with the interval of 9 of 10 fits to seasons drawn anew.",
    ]
    below += ["The data are invented."] if trial.plots.invented else []
    nearer = f"Fitted, the model is off by {after} on these plots, in place of {before} (RMSE)"
    return [nearer], below


def sentences(
    rows: Sequence[Row],
    skill: Sequence[Row],
    fitted: Fitted,
    left_out: CrossValidation | None,
    no_regression: Mapping[str, str],
    system: units.System,
) -> list[str]:
    """Say how near the fit comes, how it does on what it has not seen, and what to doubt.

    Parameters
    ----------
    rows, skill
        Of `parameter_rows` and `skill_rows`.
    fitted : Fitted
    left_out : CrossValidation, optional
    no_regression : mapping of str to str
        Why there is none, as `Regression` tells it.
    system : {"us", "si"}
    """
    everything = skill[0]

    def mass(what: str) -> str:
        return units.spell(everything[f"{what.replace(' ', '_')}_rmse_kg_ha"], "mass", system)

    beside = "" if SEEN in no_regression else f"; the regression has {mass(REGRESSED)}"
    texts = [
        f"The fit brings the RMSE of biomass from {mass(DEFAULTS)} with the defaults to"
        f" {mass(FITTED)}{beside}."
    ]
    if left_out is not None:
        model = everything["left_out_rmse_kg_ha"]
        beside = ""
        if left_out.by not in no_regression:
            other = everything["regression_left_out_rmse_kg_ha"]
            better = "better" if model < other else "no better"
            beside = f": {better} than the regression's {mass(REGRESSED_OUT)}"
        texts.append(
            f"On plots that a fit has not seen, leaving one {left_out.by} out at a time, it is"
            f" off by {mass(LEFT_OUT)}{beside}. A file written by this fit says so, and answers"
            " that take it make their ranges of it, the shipped error counting as much as"
            f" {HELD:g} site-seasons."
        )
    texts += _no_regression(no_regression)
    bound = [f"{row['of']} {row['parameter']}" for row in rows if "on its bound" in row["warnings"]]
    idle = [
        f"{row['of']} {row['parameter']}" for row in rows if "does not matter" in row["warnings"]
    ]
    if bound:
        texts.append(
            f"On the bound of what was searched: {wording.join(bound)}. The plots ask for"
            " more than it allows, which hints at something else being wrong."
        )
    if idle:
        texts.append(
            f"The plots hardly tell: {wording.join(idle)}; the prior holds these near"
            " their defaults."
        )
    if not fitted.converged:
        texts.append("The local search stopped before it arrived; the values may still improve.")
    return texts


def _no_regression(why: Mapping[str, str]) -> list[str]:
    """Say why there is no regression, in one sentence."""
    if not why:
        return []
    if SEEN in why:
        return [f"No regression stands beside the fit: {why[SEEN]}."]
    (group, reason), *_ = why.items()
    return [f"No regression stands beside it with a {group} left out: {reason}."]
