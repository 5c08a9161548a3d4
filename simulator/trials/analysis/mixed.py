"""A mixed model by restricted maximum likelihood, from statsmodels, where it is asked for."""

from __future__ import annotations

import warnings

import numpy as np

from simulator.problems import Parameter, fault
from simulator.trials.analysis.means import Analysis
from simulator.trials.analysis.terms import Term, design

MOST_ROWS = 2_000


def with_mixed(analysis: Analysis) -> Analysis:
    """Return an analysis whose means and tests are those of a mixed model.

    Site-years and how they change treatments (where they stand for others), blocks and whole plots
    are random, combinations of treatments are fixed. Degrees of freedom are those of the strata.

    Raises
    ------
    InputError
        Too many rows, rows that are means, or a model that cannot be found.
    """
    from statsmodels.regression.mixed_linear_model import MixedLM
    from statsmodels.tools.sm_exceptions import ConvergenceWarning

    rows = analysis.layout.rows
    where = Parameter("method", "mixed")
    if len(rows) > MOST_ROWS or (rows["plots"] > 1).any():
        what = f"It takes single plots, at most {MOST_ROWS:,}."
        raise fault(where, what, "Take the strata.")
    parts = {}
    if analysis.seasons == "random":
        parts["treatments by year"] = "0 + C(cell)"
    if analysis.layout.has_blocks:
        parts["blocks"] = "0 + C(block)"
    if analysis.layout.has_whole:
        parts["whole plots"] = "0 + C(whole)"
    fixed_years = analysis.seasons == "fixed" and len(analysis.envs) > 1
    formula = "y ~ 0 + C(cell)" + (" + C(env, Sum)" if fixed_years else "")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)
        warnings.simplefilter("ignore", UserWarning)
        warnings.simplefilter("ignore", RuntimeWarning)
        try:
            scale = float(rows["y"].std())
            data = rows.assign(y=rows["y"] / scale)
            model = MixedLM.from_formula(
                formula,
                groups="env",
                re_formula="1" if analysis.seasons == "random" else "0",
                vc_formula=parts or None,
                data=data,
            )
            done = model.fit(reml=True)
        except (np.linalg.LinAlgError, ValueError) as error:
            raise fault(
                where, "No such model can be found for these plots.", "Take the strata."
            ) from error
    count = len(analysis.layout.cells)
    used = np.unique(rows["cell"])
    means, spread = np.full(count, np.nan), np.zeros((count, count))
    means[used] = np.asarray(done.fe_params)[: used.size] * scale
    covariance = np.asarray(done.cov_params())[: used.size, : used.size] * scale**2
    spread[np.ix_(used, used)] = covariance
    made = Analysis(analysis.layout, analysis.envs, analysis.which, analysis.seasons)
    made.mixed = (means, spread)
    made.terms = [_tested(analysis, one, means, spread) for one in analysis.terms]
    return made


def _tested(analysis: Analysis, term: Term, means: np.ndarray, spread: np.ndarray) -> Term:
    """Test a term by Wald's F, with the freedom that its stratum gives.

    References
    ----------
    Wald's statistic divided by its rank, as F: Kenward and Roger (1997), Biometrics 53:983-997,
    eq. 1 without their correction, from memory. Freedom by strata in place of theirs: common
    practice, no source.
    """
    from scipy.stats import f as f_distribution

    if term.with_years or not term.error_df:
        return term
    here = analysis.present
    coded = design(analysis.layout)
    places = tuple(analysis.layout.factor(name) for name in term.factors)
    others = [np.ones((int(here.sum()), 1))]
    others += [columns[here] for key, columns in coded.items() if not set(places) <= set(key)]
    base = np.hstack(others)
    own = coded[places][here]
    own = own - base @ np.linalg.lstsq(base, own, rcond=None)[0]
    vectors, sizes, _ = np.linalg.svd(own, full_matrices=False)
    vectors = vectors[:, sizes > 1e-8]
    value = vectors.T @ means[here]
    inner = vectors.T @ spread[np.ix_(here, here)] @ vectors
    f = float(value @ np.linalg.solve(inner, value)) / vectors.shape[1]
    p = float(f_distribution.sf(f, vectors.shape[1], term.error_df))
    return Term(
        term.factors,
        term.stratum,
        vectors.shape[1],
        term.squares,
        term.error_df,
        term.error_mean_square,
        f,
        p,
        term.over_years,
    )
