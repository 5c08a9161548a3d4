"""The open trials that the model is judged by: their rows, weather, soils and previous crops.

They are not part of this repository; where their folder is absent, what needs them is left as
it is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

import simulator
from simulator.parameters import soils
from simulator.trials.observations import Plots, read_plots

if TYPE_CHECKING:
    import xarray as xr

OPEN_DATA = Path(__file__).resolve().parents[2].parent / "shared" / "open-data"
# the first three sites' soils and crops are not told: textures of their places (practice)
NAMED = {
    "headland": ("loamy sand", "cotton", "headland_winters_2005_2007.csv"),
    "prattville": ("silt loam", "peanut", "prattville_winters_2003_2005_2006.csv"),
    "belle_mina": ("silt loam", "peanut", "belle_mina_2003_2012.csv"),
}


@dataclass(frozen=True, slots=True)
class OpenTrials:
    """All rows of the open trials, each beside its weather.

    Parameters
    ----------
    plots : Plots
    records : dict of str to Dataset(time)
    site_soils, site_crops : dict of str to parameter set
    """

    plots: Plots
    records: dict[str, xr.Dataset]
    site_soils: dict[str, soils.Soil]
    site_crops: dict[str, soils.PreviousCrop]


def open_trials(folder: Path = OPEN_DATA) -> OpenTrials:
    """Read the open trials of rye.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    OpenTrials
    """
    alabama = read_plots(folder / "trials" / "rye_trial_means.csv")
    wider = read_plots(folder / "trials" / "rye_trials_wider.csv")
    files = pd.read_csv(folder / "trials" / "rye_trials_wider.csv").groupby("site")["weather_file"]
    weather = {site: folder / "weather" / file for site, (_, _, file) in NAMED.items()}
    weather |= {
        str(site): folder / "weather" / "wider" / file for site, file in files.first().items()
    }
    table = pd.concat([alabama.table, wider.table], ignore_index=True)
    for column, which in (("soil", 0), ("previous_crop", 1)):
        named = {site: names[which] for site, names in NAMED.items()}
        table[column] = table["site"].map(named).fillna(table[column])
    plots = replace(wider, table=table, file="open trials", notes=(), doubts=())
    latitudes = table.groupby("site")["latitude"].median()
    records = {
        site: simulator.read_weather(weather[site], latitude=float(latitudes[site]))
        for site in plots.sites
    }
    covered, _ = plots.covered_by(records)
    first = covered.table.groupby("site").first()
    return OpenTrials(
        covered,
        records,
        {site: soils.soil(first.at[site, "soil"]) for site in covered.sites},
        {site: soils.previous_crop(first.at[site, "previous_crop"]) for site in covered.sites},
    )


def season_weights(table: pd.DataFrame) -> np.ndarray:
    """Weigh rows so that each season of a site counts once, whatever its number of rows.

    Returns
    -------
    array (row,)
        They add up to 1.
    """
    seasons = table["site"].str.cat(table["year"].astype(str), sep=" ")
    weights: np.ndarray = (1.0 / seasons.map(seasons.value_counts())).to_numpy(float)
    return weights / weights.sum()
