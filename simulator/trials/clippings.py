"""The clipping tried on trials: told one sampling of a stand, what is said of the next."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from simulator.parameters.cereals import CEREALS, Cereal
from simulator.parameters.field_spread import FieldSpread
from simulator.parameters.soils import PreviousCrop, Soil
from simulator.season import clipping
from simulator.season.plan import day_number
from simulator.season.seasons import latitude_of
from simulator.trials.contrasts import STAND, gains
from simulator.trials.observations import Plots
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray as xr

Array = np.ndarray[Any, Any]

A_WEEK = 7  # days between the days on which a drawn stand is looked at
LENT = 20  # numbers of noise for each draw, so that a band's ends are told well
USUAL = 88.0  # kg/ha a day: what is gained on average between samplings of a stand, all trials


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two samplings of one stand, next to each other.

    Parameters
    ----------
    season : str
        Site and fall year.
    days : int
    first, second : float
        Measured biomass [kg/ha].
    before : array (draw, sampling)
        Drawn stands on the samplings up to the first of the two [kg/ha].
    measured : tuple of float
        What was measured on these [kg/ha].
    simulated : array (draw, day)
        Drawn stands from the first sampling to the second [kg/ha].
    warmth : array (day,)
        Mean temperature of these days [degC].
    spring : array (day,)
        From `simulator.season.clipping.in_spring`.
    """

    season: str
    days: int
    first: float
    second: float
    before: Array
    measured: tuple[float, ...]
    simulated: Array
    warmth: Array
    spring: Array


def pairs(
    plots: Plots,
    records: Mapping[str, xr.Dataset],
    site_soils: Mapping[str, Soil],
    site_crops: Mapping[str, PreviousCrop],
    spread: FieldSpread,
    cereal_sets: Mapping[str, Cereal] = CEREALS,
    draws: int = clipping.DRAWS,
) -> list[Pair]:
    """Grow drawn fields of all stands that were sampled more than once.

    Parameters
    ----------
    plots : Plots
    records : mapping of str to Dataset(time)
    site_soils, site_crops : mapping of str to parameter set
    spread : FieldSpread
    cereal_sets : mapping of str to Cereal
    draws : int

    Returns
    -------
    list of Pair
    """
    table = plots.table.reset_index(drop=True)
    found = gains(table)
    rows, at = [table], []
    grown_count = len(table)
    for first, second, days in zip(found["first"], found["second"], found["days"], strict=True):
        between = list(range(A_WEEK, days, A_WEEK))
        more = table.loc[[first] * len(between)].copy()
        more["sampled"] = [table.at[first, "sampled"] + pd.Timedelta(days=day) for day in between]
        rows.append(more)
        at.append([first, *range(grown_count, grown_count + len(between)), second])
        grown_count += len(between)
    runs = replace(plots, table=pd.concat(rows, ignore_index=True)).runs(records)
    grown = np.empty((draws, grown_count))
    for place, factor in enumerate(clipping.factors(spread, draws)):
        days_of = runs.simulate(
            {name: clipping.drawn_cereal(factor, one) for name, one in cereal_sets.items()},
            {site: clipping.drawn_soil(factor, one) for site, one in site_soils.items()},
            {site: clipping.drawn_crop(factor, one) for site, one in site_crops.items()},
        )
        grown[place] = np.nan_to_num(days_of["biomass_kg_ha"])
    filled = {site: fill_short_gaps(record) for site, record in records.items()}
    of_stand = table.groupby(STAND, sort=False).ngroup()
    made = []
    for places, (first, second, days) in zip(
        at, zip(found["first"], found["second"], found["days"], strict=True), strict=True
    ):
        row = table.loc[first]
        until = (of_stand == of_stand[first]) & (table["sampled"] <= row["sampled"])
        earlier = [place for place in table.index[until] if place != first] + [first]
        weather = filled[row["site"]].sel(time=slice(row["sampled"], table.at[second, "sampled"]))
        looked = [*range(0, days, A_WEEK), days]
        made.append(
            Pair(
                season=f"{row['site']} {row['year']}",
                days=int(days),
                first=float(row["biomass_kg_ha"]),
                second=float(table.at[second, "biomass_kg_ha"]),
                before=grown[:, earlier],
                measured=tuple(table.loc[earlier, "biomass_kg_ha"]),
                simulated=np.array(
                    [np.interp(np.arange(days + 1), looked, one[places]) for one in grown]
                ),
                warmth=0.5 * (weather["tmax"].values + weather["tmin"].values),
                spring=clipping.in_spring(
                    latitude_of(weather),
                    day_number(int(row["year"]), f"{row['sampled']:%m-%d}") + np.arange(days + 1),
                ),
            )
        )
    return made


def predict(one: Pair, spread: FieldSpread) -> tuple[Array, Array]:
    """Say what the second sampling may be, told the first and those before it.

    Returns
    -------
    biomass, weights : array (member,)
        [kg/ha]; the weights add up to 1.
    """
    weighed = clipping.weigh(one.before, one.measured, spread)
    draws = len(one.before)
    noise = clipping.standard_draws(draws * LENT, 2).reshape(draws, LENT, 2)
    carried = clipping.carry_on(
        np.broadcast_to(one.simulated[:, None, :], (draws, LENT, one.days + 1)),
        np.broadcast_to(one.warmth, (LENT, one.days + 1)),
        one.first,
        weighed.reached,
        spread,
        noise,
        one.spring,
    )[..., -1]
    return carried.ravel(), np.repeat(weighed.weights / LENT, LENT)


def choose_usual_gain(few: list[Pair], spread: FieldSpread, tried: Sequence[float]) -> float:
    """Find the usual gain with which second samplings are foretold best.

    Least is the sum of absolute errors; n pairs of one season count as n / (1 + (n - 1) / 2), as
    plots do in a fit (`simulator.trials.fit_objective.Trial.misfits`).

    Parameters
    ----------
    few : list of Pair
    spread : FieldSpread
    tried : sequence of float
        [kg/ha for a degree-day].
    """
    number = Counter(one.season for one in few)
    misfits = []
    for gain in tried:
        having = replace(spread, usual_gain=gain)
        misfits.append(
            sum(
                abs(_middle(*predict(one, having)) - one.second) / (0.5 + 0.5 * number[one.season])
                for one in few
            )
        )
    return tried[int(np.argmin(misfits))]


def _middle(values: Array, weights: Array) -> float:
    return float(np.quantile(values, 0.5, weights=weights, method="inverted_cdf"))
