"""A regression of the open trials: what the model has to be better than."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from simulator.process.thermal_time import thermal_time
from simulator.weather.record import fill_short_gaps

Array = np.ndarray[Any, Any]
COLUMNS = ("a constant", "fall degree days", "spring degree days", "nitrogen", "latitude")
NITROGEN_OFFSET = 20.0  # kg/ha, so that a stand without nitrogen has a logarithm
_degree_days = np.vectorize(thermal_time, otypes=[float])


def columns(table: pd.DataFrame, records: dict[str, Any]) -> Array:
    """Return what biomass is regressed on, `COLUMNS`.

    Parameters
    ----------
    table : DataFrame
        Rows of a plot table.
    records : dict of str to Dataset(time)
        Weather by site.

    Returns
    -------
    array (row, column)
        Degree days [degC d] above 0 degC by the model's thermal time, from the day after sowing to
        31 December and from 1 January to sampling; nitrogen of fall and spring [kg/ha].
    """
    sums = {}
    for site in table["site"].unique():
        record = fill_short_gaps(records[site])
        days = _degree_days(record["tmax"].to_numpy(), record["tmin"].to_numpy())
        sums[site] = pd.Series(days, record["time"].to_numpy())

    def between(site: str, first: pd.Timestamp, last: pd.Timestamp) -> float:
        return float(sums[site][(sums[site].index > first) & (sums[site].index <= last)].sum())

    made = []
    for row in table.itertuples():
        turn = pd.Timestamp(row.year, 12, 31)
        fall = between(row.site, row.sown, min(turn, row.sampled))
        spring = between(row.site, max(turn, row.sown), row.sampled)
        nitrogen = row.nitrogen_fall_kg_ha + row.nitrogen_spring_kg_ha
        made.append((1.0, fall, spring, nitrogen, row.latitude))
    return np.array(made)


def bent(given: Array) -> Array:
    """Return the columns with degree days and nitrogen as logarithms."""
    constant, fall, spring, nitrogen, latitude = given.T
    return np.column_stack(
        [
            constant,
            np.log(np.maximum(fall, 1.0)),
            np.log(np.maximum(spring, 1.0)),
            np.log(nitrogen + NITROGEN_OFFSET),
            latitude,
        ]
    )


def coefficients(given: Array, measured: Array, weights: Array) -> Array:
    """Fit by least squares, rows weighed; rows without a measurement do not count."""
    known = np.isfinite(measured)
    root, x, y = np.sqrt(weights[known]), given[known], measured[known]
    size = np.maximum(np.abs(x).max(axis=0), 1e-9)  # so that the solution does not hinge on units
    found: Array = np.linalg.lstsq(x / size * root[:, None], y * root, rcond=None)[0] / size
    return found


def left_out(given: Array, measured: Array, weights: Array, part_of: Array) -> Array:
    """Foretell each row by a regression on the rows of all other parts.

    Parameters
    ----------
    given : array (row, column)
    measured, weights : array (row,)
    part_of : array (row,)
        Rows of one number are left out together.
    """
    made = np.full(measured.size, np.nan)
    for part in np.unique(part_of):
        out = part_of == part
        made[out] = given[out] @ coefficients(given[~out], measured[~out], weights[~out])
    return made
