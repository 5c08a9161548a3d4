"""What decisions hang on: growth between two samplings of a stand, and response to nitrogen.

A model can be right about how much stands in a field and wrong about both.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

STAND = ["site", "sown", "seeding_kg_ha", "cereal", "fertilizer", "nitrogen_fall_kg_ha",
         "nitrogen_spring_kg_ha"]  # fmt: skip
FIELD_DAY = ["site", "sown", "sampled", "seeding_kg_ha", "cereal"]
LEAST_DAYS = 7  # between samplings: over fewer days the plots' own spread is larger than growth


def gains(rows: pd.DataFrame) -> pd.DataFrame:
    """Find growth between one sampling of a stand and the next.

    Parameters
    ----------
    rows : DataFrame
        Plots with the columns of `STAND`, ``sampled`` and ``biomass_kg_ha``; with
        ``simulated_biomass_kg_ha`` too, the simulated growth is found.

    Returns
    -------
    DataFrame
        A row for each pair of samplings at least `LEAST_DAYS` apart: ``first`` and ``second``
        (index in ``rows``), ``days`` between them, ``measured`` and ``simulated``
        [kg/ha a day].
    """
    found = []
    for _, stand in rows.groupby(STAND, sort=False):
        ordered = stand.sort_values("sampled")
        for first, second in zip(ordered.index[:-1], ordered.index[1:], strict=True):
            days = (rows.at[second, "sampled"] - rows.at[first, "sampled"]).days
            if days >= LEAST_DAYS:
                found.append((first, second, days))
    pairs = pd.DataFrame(found, columns=["first", "second", "days"])
    return pairs.assign(**_differences(rows, pairs["first"], pairs["second"], pairs["days"]))


def responses(rows: pd.DataFrame) -> pd.DataFrame:
    """Find what nitrogen brought: a stand that got some less one that got none, the same day.

    Parameters
    ----------
    rows : DataFrame
        As in `gains`.

    Returns
    -------
    DataFrame
        A row for each plot with nitrogen beside one without, of the same field, sowing and day:
        ``none`` and ``fed`` (index in ``rows``), ``nitrogen`` [kg/ha], ``measured`` and
        ``simulated`` [kg/ha of biomass].
    """
    nitrogen = rows["nitrogen_fall_kg_ha"] + rows["nitrogen_spring_kg_ha"]
    found = []
    for _, same in rows.groupby(FIELD_DAY, sort=False):
        given = nitrogen.loc[same.index]
        without = list(given.index[given == 0.0])
        if without:
            found += [(without[0], fed, given[fed]) for fed in given.index[given > 0.0]]
    pairs = pd.DataFrame(found, columns=["none", "fed", "nitrogen"])
    return pairs.assign(
        **_differences(rows, pairs["none"], pairs["fed"], pd.Series(1.0, pairs.index))
    )


def _differences(
    rows: pd.DataFrame, first: pd.Series, second: pd.Series, days: pd.Series
) -> dict[str, np.ndarray]:
    made = {}
    for name, column in (("measured", "biomass_kg_ha"), ("simulated", "simulated_biomass_kg_ha")):
        if column in rows:
            values = rows[column]
            change = values.loc[second].to_numpy(float) - values.loc[first].to_numpy(float)
            made[name] = change / days.to_numpy(float)
    return made
