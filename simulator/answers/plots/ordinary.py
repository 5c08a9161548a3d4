"""How ordinary the years of a trial were, and what nitrogen would bring in falls like the record's.

Measured and simulated are brought together as in a random-effects analysis: the model is off at a
place by an amount that its error elsewhere bounds, and by another in each year. What the plots say
of the first counts the more, the more years there are and the more alike these miss.

References
----------
Shrinkage of a mean towards a prior: Lindley & Smith (1972), J. R. Stat. Soc. B 34:1-41.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simulator import units
from simulator.answers.shared.field_ranges import Ranges, difference_ranges
from simulator.parameters.model_error import RESPONSE, ModelError
from simulator.season.compare import compare
from simulator.show.tables import spread
from simulator.trials.analysis.factors import NITROGEN, SOWN, day_of_season
from simulator.trials.analysis.layout import Layout
from simulator.trials.analysis.means import SURE, Analysis, level_weights

if TYPE_CHECKING:
    import xarray as xr

    from simulator.trials.observations import Plots

Array = NDArray[np.float64]
FEWEST_FALLS = 8  # of a record that says what is ordinary
MEASURES = ("rain_mm", "thermal_time_degC_d")


@dataclass(frozen=True, slots=True)
class Ranked:
    """A year's weather for one sowing among all falls of the record.

    Parameters
    ----------
    year : int
    sow : str
    name : str
        Of `MEASURES`.
    value, usual : float
        Of the year, and the median fall.
    below : float
        Share of the other falls that have less.
    between : (float, float)
        In which 8 of 10 falls lie.
    """

    year: int
    sow: str
    name: str
    value: float
    usual: float
    below: float
    between: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Blend:
    """What nitrogen brings, measured and simulated [kg/ha].

    Parameters
    ----------
    low_rate, high_rate : float
        Nitrogen [kg/ha].
    measured, measured_error : float
        Mean over the tried years, and how sure by their differences.
    simulated_tried, simulated_all : float
        In those years, and in all falls.
    share : float
        Of what was measured, moved to all falls by the simulated difference; the rest is the
        simulated.
    expected, low, high : float
        In falls like the record's.
    tried, falls : int
    """

    low_rate: float
    high_rate: float
    measured: float
    measured_error: float
    simulated_tried: float
    simulated_all: float
    share: float
    expected: float
    low: float
    high: float
    tried: int
    falls: int


@dataclass(frozen=True, slots=True)
class Ordinary:
    """A site's years beside its record.

    Parameters
    ----------
    site : str
    about : dict
        Attributes of the record.
    tried : list of int
    falls : list of int
        All that the record has whole.
    ranked : list of Ranked
    blend : Blend or None
        None where nitrogen was not varied, or no tried year is in the record.
    sowing : tuple of float or None
        What the first sowing brings over the last, simulated: in the tried years, and in all.
    reason : str
        Why there is no blend; may be empty.
    sowing_range : Ranges or None
        Of what the first sowing brings over the last, in all falls.
    """

    site: str
    about: dict[str, Any]
    tried: list[int]
    falls: list[int]
    ranked: list[Ranked]
    blend: Blend | None
    sowing: tuple[float, float] | None
    reason: str = ""
    sowing_range: Ranges | None = None


def ordinary(
    analysis: Analysis, plots: Plots, site: str, record: xr.Dataset, **field: Any
) -> Ordinary:
    """Set a site's years beside all falls of its record.

    Parameters
    ----------
    analysis : Analysis
    plots : Plots
    site : str
    record : Dataset(time)
        With its latitude.
    **field
        ``soil``, ``previous_crop`` and ``cereal``, as `compare` has them.
    """
    layout = analysis.layout
    table = plots.table[plots.table["site"] == site]
    grid = _grown(layout, table, record, field)
    falls = [int(year) for year in grid["year"].values]
    envs = [env for env in analysis.which if layout.envs[env][0] == site]
    tried = sorted(layout.envs[env][1] for env in envs)
    among = [year for year in tried if year in falls]
    if len(falls) < FEWEST_FALLS:
        reason = f"its weather has {len(falls)} whole falls, too few to say what is ordinary"
        return Ordinary(site, dict(record.attrs), tried, falls, [], None, None, reason)
    ranked = [
        _rank(grid, sow, name, year)
        for name in MEASURES
        for sow in map(str, grid["sow"].values)
        for year in among
    ]
    blend, why_no_blend = None, ""
    if grid.sizes["nitrogen"] > 1:
        blend, why_no_blend = _blended(analysis, envs, grid)
    sowing, sowing_range = None, None
    if grid.sizes["sow"] > 1 and among:
        mass = grid["biomass_kg_ha"].mean(["nitrogen", "seeding"])
        earlier = mass.isel(sow=0) - mass.isel(sow=-1)
        sowing = float(earlier.sel(year=among).mean()), float(earlier.mean())
        sowing_range = difference_ranges(earlier.values)
    about = dict(record.attrs)
    return Ordinary(site, about, tried, falls, ranked, blend, sowing, why_no_blend, sowing_range)


def _grown(
    layout: Layout, table: pd.DataFrame, record: xr.Dataset, field: dict[str, Any]
) -> xr.Dataset:
    """Grow the trial's sowings, with the least and the most nitrogen, in every fall."""
    place = layout.factor(SOWN)
    usual = table["sown"].iloc[int(day_of_season(table["sown"]).argsort().iloc[len(table) // 2])]
    sowings = layout.factors[place].levels if place >= 0 else (f"{usual:%m-%d}",)
    place = layout.factor(NITROGEN)
    fed = table["nitrogen_fall_kg_ha"].sum() >= table["nitrogen_spring_kg_ha"].sum()
    spring = table.loc[table["nitrogen_spring_kg_ha"] > 0, "spring_nitrogen_date"]
    rates = [0.0]
    if place >= 0:
        levels = layout.factors[place].levels
        rates = [levels[0], levels[-1]]
    sampled = table["sampled"].sort_values().iloc[len(table) // 2]
    grid = compare(
        record,
        sow=[_no_leap(one) for one in sowings],
        seeding=[f"{table['seeding_kg_ha'].median():.4g} kg/ha"],
        nitrogen=[f"{rate:.6g} kg/ha" for rate in rates],
        nitrogen_timing="sowing" if fed or spring.empty else _no_leap(f"{spring.median():%m-%d}"),
        end=_no_leap(f"{sampled:%m-%d}"),
        **field,
    ).squeeze(["nitrogen_timing", "end"])
    whole = grid["biomass_kg_ha"].notnull().all(["sow", "seeding", "nitrogen"])
    return grid.isel(year=np.flatnonzero(whole.values))


def _no_leap(month_day: str) -> str:
    return "02-28" if month_day == "02-29" else month_day


def _rank(grid: xr.Dataset, sow: str, name: str, year: int) -> Ranked:
    values = grid[name].sel(sow=sow).isel(seeding=0, nitrogen=0)
    own = float(values.sel(year=year))
    others = values.sel(year=[int(y) for y in grid["year"].values if int(y) != year]).values
    below = float((others < own).mean() + 0.5 * (others == own).mean())
    usual = float(np.median(values.values))
    return Ranked(year, sow, name, own, usual, below, spread(values.values))


def _blended(analysis: Analysis, envs: Sequence[int], grid: xr.Dataset) -> tuple[Blend | None, str]:
    layout = analysis.layout
    place = layout.factor(NITROGEN)
    levels = layout.factors[place].levels
    simulated = grid["biomass_kg_ha"].mean(["sow", "seeding"])
    brought = simulated.isel(nitrogen=-1) - simulated.isel(nitrogen=0)
    falls = [int(year) for year in grid["year"].values]
    measured, made = [], []
    for env in envs:
        year = layout.envs[env][1]
        means = analysis.envs[analysis.which.index(env)].means
        known = np.isfinite(means)
        ends = [(layout.cells[:, place] == level) & known for level in (len(levels) - 1, 0)]
        if year not in falls or not all(one.any() for one in ends):
            continue
        both = [level_weights(layout, known, [place], [at]) for at in (len(levels) - 1, 0)]
        measured.append(float((both[0] - both[1]) @ np.nan_to_num(means)))
        made.append(float(brought.sel(year=year)))
    if not measured:
        return None, "none of its years with the least and the most nitrogen is in its weather"
    return blend(measured, made, float(brought.mean()), levels[0], levels[-1], len(falls)), ""


def blend(
    measured: Sequence[float],
    simulated: Sequence[float],
    simulated_all: float,
    low_rate: float,
    high_rate: float,
    falls: int,
    error: ModelError = RESPONSE,
) -> Blend:
    """Shrink what was measured and what is simulated towards each other.

    Parameters
    ----------
    measured, simulated : sequence of float
        What nitrogen brought in each tried year [kg/ha].
    simulated_all : float
        Simulated mean over all falls [kg/ha].
    low_rate, high_rate : float
        [kg/ha].
    falls : int
        Of the record.
    error : ModelError
        Of differences: its mean square, found in fields not seen, is taken for how far off the
        model may be at a place, and as much again as its `seasons` say for how that differs by
        year.

    Returns
    -------
    Blend
        With ``b`` the model's lasting miss at the place and ``s`` the variance of its misses
        between years, the share of what was measured is ``b2 / (b2 + s / years)``.
    """
    from scipy.stats import t

    m, s = np.asarray(measured, float), np.asarray(simulated, float)
    misses = m - s
    count = misses.size
    prior = error.rmse**2
    squares = float(((misses - misses.mean()) ** 2).sum())
    freedom = error.seasons + count - 1
    between = (error.seasons * prior + squares) / freedom
    share = prior / (prior + between / count)
    expected = simulated_all + share * float(misses.mean())
    variance = share * between / count + between / falls
    reach = float(t.ppf(0.5 + SURE / 2, freedom)) * float(np.sqrt(variance))
    spread = float(m.std(ddof=1) / np.sqrt(count)) if count > 1 else np.nan
    return Blend(
        low_rate,
        high_rate,
        float(m.mean()),
        spread,
        float(s.mean()),
        simulated_all,
        share,
        expected,
        expected - reach,
        expected + reach,
        count,
        falls,
    )


def spoken_value(one: Ranked, system: units.System) -> str:
    """Spell what a year had."""
    kind = "rain" if one.name == "rain_mm" else "thermal_time"
    return units.spell(one.value, kind, system)
