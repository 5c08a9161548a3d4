"""A regression of the same plots, as a yardstick for the model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simulator.trials.cross_validation import FoldBy, folds
from simulator.trials.fit_objective import Array, Trial


@dataclass(frozen=True, slots=True, kw_only=True)
class Regression:
    """What a regression makes of the same plots.

    Parameters
    ----------
    fitted : array (row,), optional
        Biomass [kg/ha]; None where the rows do not settle it.
    left_out : dict of str to array (row,) or None
        By the part that was left out; only those asked for.
    why_none : dict of str to str
        Why there is none, under ``"fitted"`` or the part left out.
    """

    fitted: Array | None
    left_out: dict[str, Array | None]
    why_none: dict[str, str]


REGRESSION = (
    "ordinary least squares of biomass on the logarithm of degree days above 0 degC from sowing to"
    " sampling, on mineral and on litter nitrogen, and on the site; a site not seen is taken as"
    " the mean of the others"
)
FITTED = "fitted"
# smallest singular value beside the largest, of columns of one size: degree days that vary by less
# than some 1.5 % within the sites settle no slope, and any number would come out
_ALIKE = 1e-3


class _UnsettledError(Exception):
    """The rows do not settle a regression; says why."""


def regression(trial: Trial, left_out: Sequence[FoldBy] = ()) -> Regression:
    """Regress biomass on degree days, nitrogen and site, as a yardstick for the model.

    A regression with no more rows than unknowns, or whose terms the rows do not tell apart, would
    print any number: there is none then, and why.

    Parameters
    ----------
    trial : Trial
    left_out : sequence of {"season", "year", "site"}
        What to leave out in turn; one part that cannot be foretold, and there is none.

    Notes
    -----
    See `REGRESSION` for its form. Of the forms tried with degree days plain, squared or as their
    logarithm and nitrogen together, apart, or with a ceiling, this has a small misfit on the open
    plots of rye both fitted and left out.
    """
    table = trial.plots.table
    days = trial.thermal_time
    nitrogen = (table["nitrogen_fall_kg_ha"] + table["nitrogen_spring_kg_ha"]).to_numpy(float)
    litter = (table["fertilizer"] == "poultry litter").to_numpy()
    sites = np.column_stack([table["site"].to_numpy() == site for site in trial.sites])
    slopes = np.column_stack([np.log(np.maximum(days, 1.0)), nitrogen * ~litter, nitrogen * litter])

    def predict(seen: Array, wanted: Array) -> Array:
        there = sites[seen].any(axis=0)
        varied = slopes[seen].any(axis=0)  # without litter there is no slope of litter
        if (slopes[wanted][:, ~varied] != 0).any():
            raise _UnsettledError("no rows with the kind of nitrogen that it is to predict")
        given = np.column_stack([slopes[:, varied], sites[:, there]])
        rows, unknowns = int(seen.sum()), given.shape[1]
        if rows <= unknowns:
            raise _UnsettledError(f"{rows} row{'' if rows == 1 else 's'} for {unknowns} unknowns")
        size = np.abs(given[seen]).max(axis=0)  # so that the solution does not hinge on units
        found, _, rank, _ = np.linalg.lstsq(given[seen] / size, trial.biomass[seen], rcond=_ALIKE)
        if rank < unknowns:
            raise _UnsettledError("degree days, nitrogen and sites that do not vary apart")
        slope, own = (found / size)[: varied.sum()], (found / size)[varied.sum() :]
        levels = np.full(len(trial.sites), own.mean())
        levels[there] = own
        foretold: Array = (slopes[:, varied] @ slope + sites @ levels)[wanted]
        return foretold

    everything = np.ones(len(trial.biomass), bool)
    fitted: Array | None = None
    made: dict[str, Array | None] = {}
    why: dict[str, str] = {}
    try:
        fitted = predict(everything, everything)
    except _UnsettledError as unsettled:
        why[FITTED] = f"the table has {unsettled}"
    for by in left_out:
        values = np.empty(len(trial.biomass))
        for name, out in folds(trial, by):
            rows = out[trial.season_of]
            try:
                values[rows] = predict(~rows, rows)
            except _UnsettledError as unsettled:
                why[str(by)] = f"without {name} the table has {unsettled}"
                break
        made[str(by)] = None if str(by) in why else values
    return Regression(fitted=fitted, left_out=made, why_none=why)
