"""How surely plans reach a target, by kind of year, how late they may be sown, and nitrate lost.

Falls are a sample, and a small one: every chance has an interval that says how small.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator.answers.risk.leaching_index import LeachingIndex, leaching_index_of
from simulator.answers.shared.few_falls import FEWEST, effective_number, weighted_quantiles, wilson
from simulator.parameters.soils import previous_crop as find_crop
from simulator.parameters.soils import soil as find_soil
from simulator.problems import fault
from simulator.process.nitrogen import concentration
from simulator.season.compare import compare
from simulator.season.compiling import Announce
from simulator.season.plan import ANY_YEAR, day_number, month_day_of
from simulator.weather.files.record_check import checked
from simulator.weather.record import fill_short_gaps, usable_years
from simulator.weather.year_types import check_kinds, year_weights

if TYPE_CHECKING:
    import xarray as xr

Values = NDArray[np.float64]

ALL, FORECAST = "all falls", "forecast"  # groups of falls beside the kinds of year
NITRATE_LIMIT = 10.0  # mg/L of nitrate nitrogen in drinking water, US EPA and several states
LEVELS = {
    "biomass_p10_kg_ha": 0.1,
    "biomass_p20_kg_ha": 0.2,
    "biomass_p50_kg_ha": 0.5,
    "biomass_p80_kg_ha": 0.8,
    "biomass_p90_kg_ha": 0.9,
}
FIELDS = (
    "biomass_kg_ha",
    "nitrate_leached_kg_ha",
    "drainage_mm",
    "stand_alive",
    "growth_stage_zadoks",
)  # of a season, what is asked of it here
EARLIEST_SOUGHT, LATEST_SOUGHT = "09-01", "01-15"
LEAST_SEASON = 30  # days from the latest sowing sought to the first end
WEEK = 7

_MEANINGS = {
    "falls": ("1", "falls behind the row"),
    "falls_effective": ("1", "falls of equal weight that would say as much"),
    "chance_percent": ("percent", "share of falls that reach the target"),
    "chance_low_percent": ("percent", "lower end of its 95 % Wilson interval"),
    "chance_high_percent": ("percent", "upper end of its 95 % Wilson interval"),
    "biomass_mean_kg_ha": ("kg/ha", "mean dry matter of living shoots"),
    "nitrate_leached_kg_ha": ("kg/ha", "mean nitrate nitrogen leached below the soil column"),
    "drainage_mm": ("mm", "mean drainage below the soil column"),
    "nitrate_concentration_mg_l": ("mg/L", "nitrate nitrogen in drainage, flow-weighted mean"),
    "above_limit_percent": ("percent", "share of falls whose drainage is above the limit"),
    "latest_sowing": ("", "latest sowing that reaches the target often enough, month-day"),
    "latest_chance_percent": ("percent", "share of falls that reach the target sown then"),
    **{
        name: ("kg/ha", f"biomass that {100 * level:.0f} percent of falls stay below")
        for name, level in LEVELS.items()
    },
}


@dataclass(frozen=True, kw_only=True)
class Risk:
    """The risk of plans at one place.

    Parameters
    ----------
    site : str
    target : float
        [kg/ha].
    often : float
        Share of falls in which the latest sowing still reaches it.
    grid : Dataset
        From `compare`: a fall at a time.
    table : Dataset(kind, sow, seeding, nitrogen, nitrogen_timing, end)
        The groups of falls: all of them, each kind of year, the forecast.
    groups : dict of str to (year,) float
        Weights of the falls in each group.
    sought : tuple of str or None
        First and last sowing sought, MM-DD; None where the latest was not sought.
    index : LeachingIndex or None
    recorded : int or None
        Falls of the record from which generated ones were made; None for recorded falls.
    """

    site: str
    target: float
    often: float
    grid: xr.Dataset
    table: xr.Dataset
    groups: dict[str, Values]
    sought: tuple[str, str] | None
    index: LeachingIndex | None
    recorded: int | None = None

    @property
    def worth(self) -> float:
        """How many recorded falls one fall of the grid stands for: 1, or less where generated."""
        return worth_of(self.grid.sizes["year"], self.recorded)

    def without_falls(self) -> Risk:
        """Return it without the single falls, for one of thousands of places."""
        return replace(self, grid=self.grid.drop_vars(list(self.grid.data_vars)))


def worth_of(falls: int, recorded: int | None) -> float:
    """Return how many recorded falls one fall stands for; generating more adds no knowledge."""
    return 1.0 if recorded is None else min(1.0, recorded / falls)


def risk_at(
    record: xr.Dataset,
    plans: Mapping[str, Any],
    field: Mapping[str, Any],
    *,
    target: float,
    often: float = 0.8,
    years: Sequence[int] | None = None,
    kinds: Mapping[int, str] | None = None,
    weights: Mapping[str, float] | None = None,
    latest: bool = True,
    recorded: int | None = None,
    announce: Announce | None = None,
) -> Risk:
    """Work out the risk of plans at a place.

    Parameters
    ----------
    record : Dataset(time)
    plans, field : mapping
        Arguments of `compare`: sow, seeding, ...; cereal, soil, ...
    target : float
        Biomass to reach [kg/ha].
    often : float
        Share of falls for the latest sowing.
    years : sequence of int, optional
        Fall years; all that can be used without it.
    kinds : mapping of int to str, optional
        Fall year -> kind.
    weights : mapping of str to float, optional
        A forecast: kind -> chance.
    latest : bool
        Whether to seek the latest sowing, which takes ten times as long as all else.
    recorded : int, optional
        Falls from which the record was generated: no interval is narrower than so many allow.
    announce : callable, optional
        As in `compare`.

    Returns
    -------
    Risk

    Raises
    ------
    InputError
        Fewer than `FEWEST` falls; falls without a kind; what `compare` finds.
    """
    grid = compare(record, **plans, **field, years=years, announce=announce)
    one = risk_in(grid, target=target, often=often, kinds=kinds, weights=weights, recorded=recorded)
    if not latest:
        return one
    falls = grid["year"].values.tolist()
    crop = find_crop(field.get("previous_crop", "cotton"))
    sought = _sought(record, plans, falls, int(crop.soil_test_day))
    found = _latest(record, plans, field, target, often, falls, one.groups, sought)
    beside = {
        name: values.broadcast_like(one.table["falls"]).assign_attrs(_about(name))
        for name, values in found.items()
    }
    ground = find_soil(field.get("soil", "sandy loam"))
    return replace(
        one,
        table=one.table.assign(beside),
        sought=sought,
        index=leaching_index_of(record, ground.curve_number),
    )


def risk_in(
    grid: xr.Dataset,
    *,
    target: float,
    often: float = 0.8,
    kinds: Mapping[int, str] | None = None,
    weights: Mapping[str, float] | None = None,
    recorded: int | None = None,
) -> Risk:
    """Work out the risk of plans at a place from their seasons, without the latest sowing.

    Parameters
    ----------
    grid : Dataset(year, sow, seeding, nitrogen, nitrogen_timing, end)
        From `compare`, or of a place of a grid.
    target, often, kinds, weights, recorded
        As in `risk_at`.

    Returns
    -------
    Risk

    Raises
    ------
    InputError
        Fewer than `FEWEST` falls; falls without a kind.
    """
    falls = grid["year"].values.tolist()
    known = len(falls) if recorded is None else min(len(falls), recorded)
    if known < FEWEST:
        which = ", ".join(map(str, falls)) if recorded is None else "recorded ones"
        raise fault(
            f"weather of {grid.attrs['site']}",
            f"A chance needs at least {FEWEST} falls; the weather has {known} that can be "
            f"used ({which}).",
            "Give a longer record; 'fallsown compare' shows single falls.",
        )
    groups = groups_of(falls, kinds, weights)
    table = chances(grid, target, groups, worth=worth_of(len(falls), recorded))
    return Risk(
        site=str(grid.attrs["site"]),
        target=target,
        often=often,
        grid=grid,
        table=table.assign_attrs(grid.attrs),
        groups=groups,
        sought=None,
        index=None,
        recorded=recorded,
    )


def _about(name: str) -> dict[str, str]:
    unit, meaning = _MEANINGS[name]
    return {"units": unit, "long_name": meaning}


def whole_falls(record: xr.Dataset, sowings: Sequence[str], ends: Sequence[str]) -> int:
    """Count the falls of a record that are whole from the first sowing to the last dated end."""
    first = min(sowings, key=_day)
    last = max([first, *(end for end in ends if "-" in end)], key=_day)
    return len(usable_years(fill_short_gaps(checked(record)), first, last)[0])


def groups_of(
    falls: Sequence[int], kinds: Mapping[int, str] | None, weights: Mapping[str, float] | None
) -> dict[str, Values]:
    """Weigh falls for each group: all alike, each kind by itself, and as the forecast has it."""
    groups = {ALL: np.ones(len(falls))}
    if kinds is None:
        return groups
    check_kinds(kinds, falls)
    of_falls = np.array([kinds[fall] for fall in falls])
    for kind in sorted(set(kinds.values())):
        groups[kind] = (of_falls == kind).astype(float)
    if weights is not None:
        groups[FORECAST] = year_weights(kinds, weights, falls)
    return groups


def chances(
    grid: xr.Dataset, target: float, groups: Mapping[str, Values], *, worth: float = 1.0
) -> xr.Dataset:
    """Chance, quantiles and nitrate of each plan, in each group of falls.

    Parameters
    ----------
    grid : Dataset
        From `compare`; a fall whose end was not reached counts for nothing.
    target : float
        [kg/ha].
    groups : mapping of str to (year,) float
        Weights of the falls.
    worth : float
        Recorded falls that one of these stands for.

    Returns
    -------
    Dataset(kind, ...)
        The dimensions of the grid without year.
    """
    import xarray as xr

    dims = [str(d) for d in grid["biomass_kg_ha"].dims if d != "year"]
    year = grid["biomass_kg_ha"].get_axis_num("year")
    columns = {
        name: np.moveaxis(grid[name].values, year, -1)
        for name in ("biomass_kg_ha", "nitrate_leached_kg_ha", "drainage_mm")
    }
    shape = tuple(grid.sizes[d] for d in dims)
    names = [name for name in _MEANINGS if not name.startswith("latest")]
    made = {name: np.full((len(groups), *shape), np.nan) for name in names}
    for g, weights in enumerate(groups.values()):
        for place in np.ndindex(shape):
            of_plan = {name: column[place] for name, column in columns.items()}
            for name, value in _of_plan(of_plan, weights, target, worth).items():
                made[name][(g, *place)] = value
    return xr.Dataset(
        {name: (("kind", *dims), values, _about(name)) for name, values in made.items()},
        coords={"kind": list(groups), **{d: grid[d] for d in dims}},
    )


def _of_plan(
    columns: Mapping[str, Values], weights: Values, target: float, worth: float
) -> dict[str, float]:
    kept = np.isfinite(columns["biomass_kg_ha"]) & (weights > 0)
    weights = weights[kept]
    biomass, leached, drained = (values[kept] for values in columns.values())
    effective = worth * effective_number(weights)
    found: dict[str, float] = {"falls": float(kept.sum()), "falls_effective": effective}
    if not kept.any():
        return found
    share = weights / weights.sum()
    found["biomass_mean_kg_ha"] = float(share @ biomass)
    found["nitrate_leached_kg_ha"] = float(share @ leached)
    found["drainage_mm"] = float(share @ drained)
    if share @ drained > 0:
        found["nitrate_concentration_mg_l"] = concentration(
            found["nitrate_leached_kg_ha"], found["drainage_mm"]
        )
    if effective < FEWEST - 1e-9:
        return found
    above = np.array(
        [concentration(*pair) > NITRATE_LIMIT for pair in zip(leached, drained, strict=True)]
    )
    chance = float(share @ (biomass >= target))
    low, high = wilson(chance, effective)
    found |= {
        "chance_percent": 100 * chance,
        "chance_low_percent": 100 * low,
        "chance_high_percent": 100 * high,
        "above_limit_percent": 100 * float(share @ above),
    }
    levels = weighted_quantiles(biomass, weights, list(LEVELS.values()))
    return found | dict(zip(LEVELS, map(float, levels), strict=True))


def _sought(
    record: xr.Dataset, plans: Mapping[str, Any], falls: Sequence[int], test_day: int
) -> tuple[str, str]:
    """Return the first and last sowing to try: no fall of the grid lost, none before a test."""
    sowings = sorted(plans["sow"], key=_day)
    dates = [_day(end) for end in plans["end"] if "-" in end]
    last = min([_day(LATEST_SOUGHT), *(day - LEAST_SEASON for day in dates)])
    first = min(_day(EARLIEST_SOUGHT), _day(sowings[0]), last)
    usable, _ = usable_years(fill_short_gaps(record), _date(first), _date(last), falls)
    if list(usable) != list(falls):
        first = _day(sowings[0])
    first = max(first, min(test_day, last))
    return _date(first), _date(max(last, first))


def _day(date: str) -> int:
    return day_number(ANY_YEAR, date)


def _date(day: int) -> str:
    return month_day_of(ANY_YEAR, day)


def _latest(
    record: xr.Dataset,
    plans: Mapping[str, Any],
    field: Mapping[str, Any],
    target: float,
    often: float,
    falls: Sequence[int],
    groups: Mapping[str, Values],
    sought: tuple[str, str],
) -> dict[str, xr.DataArray]:
    """Seek the latest sowing that reaches the target often enough: by weeks, then by days."""
    import xarray as xr

    first, last = map(_day, sought)
    weeks = sorted({*range(first, last + 1, WEEK), last})
    others = {name: values for name, values in plans.items() if name != "sow"}

    def tried(days: Sequence[int]) -> xr.DataArray:
        grid = compare(record, sow=[_date(day) for day in days], **others, **field, years=falls)
        biomass = grid["biomass_kg_ha"].assign_coords(sow=list(days))
        weights = xr.DataArray(
            np.stack(list(groups.values())), dims=("kind", "year"), coords={"kind": list(groups)}
        )
        weights = weights * biomass.notnull()
        whole = weights.sum("year")
        enough = whole**2 >= FEWEST * (weights**2).sum("year") * (1 - 1e-9)
        return ((weights * (biomass >= target)).sum("year") / whole.where(enough)) * 100

    by_week = tried(weeks)
    enough = by_week >= 100 * often - 1e-9
    at = enough["sow"].where(enough).max("sow")
    between = sorted(
        {
            day
            for week in np.unique(at.values[np.isfinite(at.values)]).astype(int)
            for day in range(week + 1, min(week + WEEK, last + 1))
            if day not in weeks
        }
    )
    chance = xr.concat([by_week, tried(between)], "sow") if between else by_week
    enough = chance >= 100 * often - 1e-9
    latest = chance["sow"].where(enough).max("sow")
    shares = chance.where(chance["sow"] == latest).max("sow")
    texts = [_date(int(day)) if np.isfinite(day) else "" for day in latest.values.ravel()]
    named = latest.copy(data=np.array(texts, dtype=object).reshape(latest.shape))
    return {"latest_sowing": named, "latest_chance_percent": shares}
