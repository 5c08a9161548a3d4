"""What decisions hang on: growth between two samplings of a stand, and response to nitrogen.

A model can be right about how much stands in a field and wrong about both.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pandas as pd

STAND = [
    "site",
    "sown",
    "seeding_kg_ha",
    "cereal",
    "fertilizer",
    "nitrogen_fall_kg_ha",
    "nitrogen_spring_kg_ha",
]
FIELD_DAY = ["site", "sown", "sampled", "seeding_kg_ha", "cereal"]
LEAST_DAYS = 7  # between samplings: over fewer days the plots' own spread is larger than growth


FED = ["fertilizer", "nitrogen_fall_kg_ha", "nitrogen_spring_kg_ha"]


def nitrogen_given(rows: pd.DataFrame) -> pd.Series:
    """Return all the nitrogen that plots got [kg/ha]."""
    given: pd.Series = rows["nitrogen_fall_kg_ha"] + rows["nitrogen_spring_kg_ha"]
    return given


def gains(rows: pd.DataFrame) -> pd.DataFrame:
    """Find growth between one sampling of a stand and the next.

    Parameters
    ----------
    rows : DataFrame
        Plots with the columns of `STAND`, ``sampled`` and ``biomass_kg_ha``; with
        ``simulated_biomass_kg_ha`` too, the simulated growth is found. Rows of one stand and day
        are replicates: their mean counts.

    Returns
    -------
    DataFrame
        A row for each pair of samplings at least `LEAST_DAYS` apart: ``first`` and ``second``
        (index in ``rows``, the first of replicates), ``days`` between them, ``measured`` and
        ``simulated`` [kg/ha a day].
    """
    pairs, days = [], []
    for _, stand in rows.groupby(STAND, sort=False):
        samplings = [(day, same.index) for day, same in stand.groupby("sampled")]
        for (before, first), (after, second) in pairwise(samplings):
            if (after - before).days >= LEAST_DAYS:
                pairs.append((first, second))
                days.append((after - before).days)
    found = pd.DataFrame(
        {
            "first": [one[0] for one, _ in pairs],
            "second": [two[0] for _, two in pairs],
            "days": np.array(days, int),
        }
    )
    return found.assign(
        **{
            name: change / np.array(days, float)
            for name, change in _differences(rows, pairs).items()
        }
    )


def responses(rows: pd.DataFrame) -> pd.DataFrame:
    """Find what nitrogen brought: a stand that got some less one that got none, the same day.

    Parameters
    ----------
    rows : DataFrame
        As in `gains`.

    Returns
    -------
    DataFrame
        A row for each treatment with nitrogen beside one without, of the same field, sowing and
        day: ``none`` and ``fed`` (index in ``rows``, the first of replicates), ``nitrogen``
        [kg/ha], ``measured`` and ``simulated`` [kg/ha of biomass].
    """
    nitrogen = nitrogen_given(rows)
    pairs = []
    for _, same in rows.groupby(FIELD_DAY, sort=False):
        given = nitrogen.loc[same.index]
        without = given.index[given == 0.0]
        if len(without):
            fed = same.loc[given > 0.0].groupby(FED, sort=False)
            pairs += [(without, treatment.index) for _, treatment in fed]
    found = pd.DataFrame(
        {
            "none": [none[0] for none, _ in pairs],
            "fed": [fed[0] for _, fed in pairs],
            "nitrogen": np.array([nitrogen.loc[fed[0]] for _, fed in pairs], float),
        }
    )
    return found.assign(**_differences(rows, pairs))


def _differences(
    rows: pd.DataFrame, pairs: list[tuple[pd.Index, pd.Index]]
) -> dict[str, np.ndarray]:
    """Take the first of each pair from the second, replicates as their mean."""
    return {
        name: np.array(
            [rows.loc[two, column].mean() - rows.loc[one, column].mean() for one, two in pairs],
            float,
        )
        for name, column in (
            ("measured", "biomass_kg_ha"),
            ("simulated", "simulated_biomass_kg_ha"),
        )
        if column in rows
    }
