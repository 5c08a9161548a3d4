"""A plot table held against itself: dates in order, rows that repeat, replicates."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from simulator.problems import Problem
from simulator.trials.plot_parsing import Reading, fall_year

EARLIEST_DRESSING = 60  # days before sowing
# what makes two rows plots of one treatment
TREATMENT = [
    "site",
    "sown",
    "sampled",
    "seeding_kg_ha",
    "nitrogen_fall_kg_ha",
    "nitrogen_spring_kg_ha",
    "fertilizer",
    "cereal",
    "fall_nitrogen_date",
    "spring_nitrogen_date",
]


def judge(reading: Reading, table: pd.DataFrame) -> None:
    """Hold dates against each other; fill the spread of replicates; flag duplicates."""
    odd = np.flatnonzero(_looks_odd(table))
    for at, one in zip(odd, table.iloc[odd].itertuples(), strict=True):
        _order_of_dates(reading, int(at), one)
    cells = [name for name in table.columns if name != "line"]
    alike = table.groupby(cells, dropna=False, sort=False).ngroup().to_numpy()
    firsts = np.unique(alike, return_index=True)[1]
    for row in np.flatnonzero(table.duplicated(cells)):
        first = int(firsts[alike[row]])
        reading.doubts.append(
            Problem(
                reading.place(int(row)),
                f"It repeats {reading.rows.row_word} {reading.numbers[first]} in every cell.",
                "If it is no second plot, take it out.",
            )
        )
    groups = table.groupby(TREATMENT, dropna=False)["biomass_kg_ha"]
    replicates = (groups.transform("size") > 1) & table["biomass_sd_kg_ha"].isna()
    replicates &= table["plots"].isna() | (table["plots"] == 1)
    if replicates.any():
        table.loc[replicates, "plots"] = 1.0
        table.loc[replicates, "biomass_sd_kg_ha"] = groups.transform("std")[replicates]
        count = table[replicates].groupby(TREATMENT, dropna=False).ngroups
        of = f"{count} treatment{'' if count == 1 else 's'}"
        reading.notes.append(
            f"{int(replicates.sum())} rows are replicates of {of}; their spread is taken from them."
        )


def _looks_odd(table: pd.DataFrame) -> np.ndarray:
    """Find the rows whose dates `_order_of_dates` may have a word on, all at once."""
    sown, sampled = table["sown"], table["sampled"]
    odd = (sampled <= sown) | (sampled > sown + pd.DateOffset(years=1))
    odd |= fall_year(sampled) != table["year"]
    odd |= (sampled.dt.month == 2) & (sampled.dt.day == 29)
    for name in ("fall", "spring"):
        when = table[f"{name}_nitrogen_date"]
        in_time = (when >= sown - pd.Timedelta(days=EARLIEST_DRESSING)) & (when < sampled)
        odd |= (table[f"nitrogen_{name}_kg_ha"] > 0) & ~in_time
    return np.asarray(odd)


def _order_of_dates(reading: Reading, row: int, one: Any) -> None:
    sown, sampled = one.sown.date(), one.sampled.date()
    if one.sampled <= one.sown:
        reading.add(
            row,
            "sampled",
            f"It was sampled on {sampled}, not after it was sown on {sown}.",
            "Correct one of the dates.",
        )
        return
    if one.sampled > one.sown + pd.DateOffset(years=1):
        reading.add(
            row,
            "sampled",
            f"{sampled} is more than a year after sowing on {sown}.",
            "Correct one of the dates.",
        )
        return
    if fall_year(pd.Series([one.sampled]))[0] != one.year:
        reading.add(
            row,
            "sampled",
            f"{sampled} lies in another season than sowing on {sown}; "
            "a season runs from July to June.",
            "Leave the row out.",
        )
        return
    if (one.sampled.month, one.sampled.day) == (2, 29):
        reading.notes.append(f"{reading.place(row)}: sampled on 29 February, run to the 28th.")
    for name, when, rate in (
        ("fall_nitrogen_date", one.fall_nitrogen_date, one.nitrogen_fall_kg_ha),
        ("spring_nitrogen_date", one.spring_nitrogen_date, one.nitrogen_spring_kg_ha),
    ):
        if rate > 0 and not (one.sown - pd.Timedelta(days=EARLIEST_DRESSING) <= when < one.sampled):
            reading.add(
                row,
                name,
                f"Nitrogen on {when.date()} does not lie between "
                f"{EARLIEST_DRESSING} days before sowing and sampling on {sampled}.",
                f"Give the date of the dressing in a column {name}.",
            )
