"""A fit as people and as programs read it: parameters, skill, and what to make of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.advice import wording
from simulator.show.output import plain
from simulator.show.tables import NOTHING, Column, number, paragraph, table
from simulator.trials.fitting import sites_apart
from simulator.trials.regression import FITTED as SEEN
from simulator.trials.regression import REGRESSION
from simulator.trials.skill import bias, nash_sutcliffe, rmse

if TYPE_CHECKING:
    import xarray as xr

    from simulator.trials.fitting import Fitted
    from simulator.trials.leaving_out import LeftOut
    from simulator.trials.trial import Array, Trial, Weighting

Row = dict[str, Any]
DEFAULTS, FITTED, LEFT_OUT = "defaults", "fitted", "left out"
REGRESSED, REGRESSED_OUT = "regression fitted", "regression left out"


def parameter_rows(
    fitted: Fitted, within: Array | None, warnings: Mapping[str, Sequence[str]]
) -> list[Row]:
    """Lay the fitted parameters out as rows.

    Parameters
    ----------
    fitted : Fitted
    within : array (quantity, 2), optional
        Intervals.
    warnings : mapping of str to sequence of str
        By label of the quantity.
    """
    return [
        {
            "of": q.owner,
            "parameter": q.name,
            "unit": q.unit,
            "default": q.default,
            "fitted": float(fitted.values[at]),
            "interval_low": None if within is None else plain(within[at, 0]),
            "interval_high": None if within is None else plain(within[at, 1]),
            "low": q.low,
            "high": q.high,
            "warnings": list(warnings[q.label]),
        }
        for at, q in enumerate(fitted.quantities)
    ]


def dataset(rows: Sequence[Row]) -> xr.Dataset:
    """Return the numbers of `parameter_rows` along ``parameter``."""
    import xarray as xr

    names = ("default", "fitted", "interval_low", "interval_high", "low", "high")
    return xr.Dataset(
        {name: ("parameter", np.array([row[name] for row in rows], float)) for name in names},
        {"parameter": [f"{row['of']} {row['parameter']}" for row in rows]},
    )


def skill_rows(trial: Trial, simulated: Mapping[str, Array]) -> list[Row]:
    """Set the misfits of every way of simulating side by side: over all, by site, by season.

    Parameters
    ----------
    trial : Trial
    simulated : mapping of str to array (row,)
        Biomass [kg/ha] by what it comes from, such as `FITTED`.
    """
    sites = trial.plots.table["site"].to_numpy()
    groups = {"all": np.ones(len(sites), bool)}
    if len(trial.sites) > 1:
        groups |= {site: sites == site for site in trial.sites}
    groups |= {
        f"{site} {year}": trial.season_of == at for at, (site, year) in enumerate(trial.seasons)
    }
    made = []
    for name, rows in groups.items():
        seen = trial.biomass[rows]
        row: Row = {"group": name, "n": int(rows.sum()), "observed_kg_ha": float(seen.mean())}
        for what, values in simulated.items():
            key = what.replace(" ", "_")
            row[f"{key}_rmse_kg_ha"] = rmse(seen, values[rows])
            row[f"{key}_bias_kg_ha"] = bias(seen, values[rows])
            efficiency = nash_sutcliffe(seen, values[rows])
            row[f"{key}_nse"] = efficiency if np.isfinite(efficiency) else None
        made.append(row)
    return made


def tables(
    rows: Sequence[Row], skill: Sequence[Row], simulated: Sequence[str], system: units.System
) -> list[str]:
    """Print the parameters, and the skill by site and season."""
    return [*([_parameters(rows)] if rows else []), _skill(skill, simulated, system)]


def _parameters(rows: Sequence[Row]) -> str:
    known = any(row["interval_low"] is not None for row in rows)
    columns = [
        Column("of", left=True), Column("parameter", left=True), Column("unit", left=True),
        Column("default"), Column("fitted"),
        *([Column("interval", left=True)] if known else []),
        Column("searched", left=True), Column("warning", left=True),
    ]  # fmt: skip
    laid = table(
        columns,
        [
            [
                row["of"], row["parameter"], "" if row["unit"] == "1" else row["unit"],
                _shown(row["default"]), _shown(row["fitted"]),
                *([_between(row["interval_low"], row["interval_high"])] if known else []),
                f"{_shown(row['low'])} to {_shown(row['high'])}", ", ".join(row["warnings"]),
            ]
            for row in rows
        ],
    )  # fmt: skip
    meaning = "Parameters are in SI, as parameter files have them."
    if known:
        meaning += (
            " The interval holds 9 of 10 fits to seasons drawn anew from those of each site; few"
            " seasons make it too narrow, and one season gives none."
        )
    return f"{laid}\n\n{paragraph(meaning)}"


def _shown(value: float | None) -> str:
    return NOTHING if value is None else f"{value:.3g}"


def _between(low: float | None, high: float | None) -> str:
    return NOTHING if low is None else f"{_shown(low)} to {_shown(high)}"


def _skill(skill: Sequence[Row], simulated: Sequence[str], system: units.System) -> str:
    mass = units.label("mass", system)
    titles = {FITTED: "fitted\nRMSE", DEFAULTS: "defaults\nRMSE", LEFT_OUT: "left out\nRMSE",
              REGRESSED: "regression\nfitted", REGRESSED_OUT: "regression\nleft out"}  # fmt: skip
    columns = [
        Column("biomass", left=True), Column("rows"), Column("observed\nmean", mass),
        *(Column(titles[what], mass) for what in simulated),
    ]  # fmt: skip
    rows = [
        [
            row["group"], str(row["n"]), number(row["observed_kg_ha"], "mass", system),
            *(number(row[f"{what.replace(' ', '_')}_rmse_kg_ha"], "mass", system)
              for what in simulated),
        ]
        for row in skill
    ]  # fmt: skip
    if not {REGRESSED, REGRESSED_OUT} & set(simulated):
        return table(columns, rows)
    return f"{table(columns, rows)}\n\n{paragraph(f'The regression is {REGRESSION}.')}"


def heading(trial: Trial, fitted: Fitted, weighting: Weighting) -> str:
    """Say what was fitted on what, and how misfits were weighed."""
    own = [q.label for q in fitted.quantities if q.kind != "site"]
    supply = wording.join(
        list(dict.fromkeys(q.name.replace("_", " ") for q in fitted.quantities
                           if q.kind == "site"))
    ) if len(own) < len(fitted.quantities) else "nothing"  # fmt: skip
    apart = " Each site is fitted by itself." if sites_apart(trial, fitted.quantities) else ""
    years = wording.falls(sorted({int(year) for _, year in trial.seasons}))
    invented = " The data are invented." if trial.plots.invented else ""
    return paragraph(
        f"Fitted to {len(trial.biomass)} rows of {trial.plots.file}, {len(trial.seasons)} seasons"
        f" at {wording.join(trial.sites)} ({years}): {supply} of each site"
        f"{', and ' + wording.join(own) if own else ''}."
        f"{apart} A row weighs 1/(s²/n + e²): s its plots'"
        f" standard deviation, drawn halfway to the usual one, n their number, e"
        f" {weighting.model_error:g} kg/ha for what no model hits; nitrogen in shoots weighs"
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
        f"{len(trial.biomass)} rows of {trial.plots.file}, {len(trial.seasons)} seasons.",
        "Diamond: default. Dot: fitted, with the interval of 9 of 10 fits to seasons drawn anew.",
    ]
    below += ["The data are invented."] if trial.plots.invented else []
    return [f"The fit brings the RMSE from {before} to {after}"], below


def sentences(
    rows: Sequence[Row], skill: Sequence[Row], fitted: Fitted, left_out: LeftOut | None,
    no_regression: Mapping[str, str], system: units.System,
) -> list[str]:  # fmt: skip
    """Say how near the fit comes, how it does on what it has not seen, and what to doubt.

    Parameters
    ----------
    rows, skill
        Of `parameter_rows` and `skill_rows`.
    fitted : Fitted
    left_out : LeftOut, optional
    no_regression : mapping of str to str
        Why there is none, as `Regression` tells it.
    system : {"us", "si"}
    """
    everything = skill[0]

    def mass(what: str) -> str:
        return units.spell(everything[f"{what.replace(' ', '_')}_rmse_kg_ha"], "mass", system)

    beside = "" if SEEN in no_regression else f"; the regression has {mass(REGRESSED)}"
    told = [f"The fit brings the RMSE of biomass from {mass(DEFAULTS)} with the defaults to"
            f" {mass(FITTED)}{beside}."]  # fmt: skip
    if left_out is not None:
        model = everything["left_out_rmse_kg_ha"]
        beside = ""
        if left_out.part not in no_regression:
            other = everything["regression_left_out_rmse_kg_ha"]
            better = "better" if model < other else "no better"
            beside = f": {better} than the regression's {mass(REGRESSED_OUT)}"
        told.append(
            f"On plots that a fit has not seen, leaving one {left_out.part} out at a time, it is"
            f" off by {mass(LEFT_OUT)}{beside}."
        )
    told += _no_regression(no_regression)
    bound = [f"{row['of']} {row['parameter']}" for row in rows if "on its bound" in row["warnings"]]
    idle = [f"{row['of']} {row['parameter']}" for row in rows
            if "does not matter" in row["warnings"]]  # fmt: skip
    if bound:
        told.append(f"On the bound of what was searched: {wording.join(bound)}. The plots ask for"
                    " more than it allows, which hints at something else being wrong.")  # fmt: skip
    if idle:
        told.append(f"The plots hardly tell: {wording.join(idle)}; the prior holds these near"
                    " their defaults.")  # fmt: skip
    if not fitted.converged:
        told.append("The local search stopped before it arrived; the values may still improve.")
    return told


def _no_regression(why: Mapping[str, str]) -> list[str]:
    """Say why there is no regression, in one sentence."""
    if not why:
        return []
    if SEEN in why:
        return [f"No regression stands beside the fit: {why[SEEN]}."]
    (part, reason), *_ = why.items()
    return [f"No regression stands beside it with a {part} left out: {reason}."]
