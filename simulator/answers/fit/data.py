"""A fit as rows, for files, JSON and the chart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.show.output import plain
from simulator.trials.skill import bias, nash_sutcliffe, rmse

if TYPE_CHECKING:
    import xarray as xr

    from simulator.trials.fit_objective import Array, Trial
    from simulator.trials.fitting import Fitted

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
