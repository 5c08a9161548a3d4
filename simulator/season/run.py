"""The loop over years and plans: records and texts in, labelled grids out."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

import simulator
from simulator.parameters import cereals, fertilizers, soils
from simulator.problems import fault
from simulator.process.compiled import CACHE, can_be_kept, is_compiled
from simulator.season import asked
from simulator.season import plan as plans
from simulator.season.day_loop import BY_BIOMASS, BY_DATE, BY_STAGE, grow, grow_members
from simulator.season.day_record import DAY, FIELDS, RECORD
from simulator.season.drivers import DAYS, season_drivers
from simulator.season.layout import Layout, calendar, lay_out, texts_of
from simulator.season.soil_test import measured_sets, told_of
from simulator.weather.change import changed_by
from simulator.weather.radiation import about_radiation
from simulator.weather.record import (
    NAMES,
    fill_short_gaps,
    first_whole,
    season_day,
    unbroken,
    usable_years,
)
from simulator.weather.record_check import checked

if TYPE_CHECKING:
    import xarray

SOIL_STARTS = "09-01"  # the soil's start, unless the record or the sowing says otherwise
BY_LAYER = {"units": "kg/ha", "long_name": "nitrate nitrogen in each layer of soil"}
MOST_MEMBERS = 500_000  # seasons in one grid held in memory
SEASONS_EACH = 4  # seasons a thread from which on none is cut in two
Announce = Callable[[str], None]


def _say(text: str) -> None:
    print(text, file=sys.stderr)


@dataclass(frozen=True)
class Seasons:
    """The usable seasons of a record, day 0 being 1 July.

    Parameters
    ----------
    years : tuple of int
        Fall years.
    tmax, tmin, rain, radiation, day_of_year : array (season, day)
        Radiation is the measured, NaN where there is none.
    spans : int array (season, 2)
        First day of the soil and last day wanted.
    left_out : tuple of str
        ``"2007: why"`` for each season that was asked for and cannot run.
    late : tuple of str
        Seasons whose soil starts later than 1 September, for the notes.
    """

    years: tuple[int, ...]
    tmax: np.ndarray[Any, Any]
    tmin: np.ndarray[Any, Any]
    rain: np.ndarray[Any, Any]
    radiation: np.ndarray[Any, Any]
    day_of_year: np.ndarray[Any, Any]
    spans: np.ndarray[Any, Any]
    left_out: tuple[str, ...]
    late: tuple[str, ...]

    def take(self, some: slice) -> Seasons:
        """Return some of the seasons."""
        return replace(
            self, years=self.years[some], tmax=self.tmax[some], tmin=self.tmin[some],
            rain=self.rain[some], radiation=self.radiation[some],
            day_of_year=self.day_of_year[some], spans=self.spans[some],
        )  # fmt: skip


def days_needed(sowings: Sequence[str], ends: Sequence[plans.End]) -> tuple[str, str, bool]:
    """Return the days between which weather must be whole, and whether more is of use.

    Parameters
    ----------
    sowings : sequence of str
        MM-DD.
    ends : sequence of End

    Returns
    -------
    str, str
        The earliest sowing and the latest dated end, MM-DD.
    bool
        Whether an end, by stage or biomass, may come later.
    """
    dated = [end.date for end in ends if end.date]
    order = partial(plans.day_number, plans.ANY_YEAR)
    sow = min(sowings, key=order)
    return sow, max([sow, *dated], key=order), len(dated) < len(ends)


def cut_seasons(record: xarray.Dataset, years: Iterable[int] | None, sowings: Sequence[str],
         ends: Sequence[plans.End]) -> Seasons:  # fmt: skip
    """Cut a record into seasons and say which cannot be used.

    Parameters
    ----------
    record : Dataset(time)
        Short gaps already filled.
    years : iterable of int, optional
        Fall years; all that the record touches without it.
    sowings : sequence of str
        Weather must be whole from the earliest, MM-DD, to the latest dated end.
    ends : sequence of End

    Raises
    ------
    InputError
        No season is whole.
    """
    sow, last_date, open_end = days_needed(sowings, ends)
    if years is not None and not (years := sorted(set(years))):
        raise fault("--years", "No year given.")
    kept, reasons = usable_years(record, sow, last_date, years)
    left_out = tuple(f"{year}: {why}" for year, why in reasons.items())
    if not kept:
        example = f" Season {left_out[0]}" if left_out else ""
        earliest = first_whole(record, last_date)
        partly = earliest and plans.day_number(plans.ANY_YEAR, earliest) > plans.day_number(
            plans.ANY_YEAR, sow
        )
        later = f"sow on {earliest} or later, give" if partly else "give"
        raise fault(
            "weather",
            f"No season has whole weather from {sow} to {last_date}.{example}",
            f"{later[0].upper()}{later[1:]} a record that covers sowing to termination, or other"
            " years.",
        )
    record = unbroken(record)
    times = record["time"].values.astype("datetime64[D]")
    columns = np.stack([np.asarray(record[name].values, float) for name in NAMES])
    block = np.full((len(NAMES), len(kept), DAYS), np.nan)
    days = np.array([season_day(year, "07-01") for year in kept])[:, None] + np.arange(DAYS)
    place = (days - times[0]).astype(int)
    there = (place >= 0) & (place < times.size)
    block[:, there] = columns[:, place[there]]
    radiation = np.full((len(kept), DAYS), np.nan)
    if "radiation" in record:
        radiation[there] = np.asarray(record["radiation"].values, float)[place[there]]
    day_of_year = (days - days.astype("datetime64[Y]")).astype(int) + 1.0
    missing = ~np.isfinite(block).all(axis=0)
    spans = np.zeros((len(kept), 2), dtype=np.int64)
    late: list[str] = []
    for season, year in enumerate(kept):
        gaps = np.flatnonzero(missing[season])
        sow_day = plans.day_number(year, sow)
        before, after = gaps[gaps < sow_day], gaps[gaps > sow_day]
        start = min(plans.day_number(year, SOIL_STARTS), sow_day)
        first = max(start, int(before[-1]) + 1 if before.size else 0)
        if first > start:
            late.append(f"{year} ({days[season, first]})")
        last = plans.day_number(year, last_date)
        if open_end:
            last = int(after[0]) - 1 if after.size else DAYS - 1
        spans[season] = first, last
    tmax, tmin, rain = (np.ascontiguousarray(column) for column in block)
    return Seasons(tuple(kept), tmax, tmin, rain, radiation, day_of_year, spans, left_out,
                   tuple(late))  # fmt: skip


def latitude_of(record: xarray.Dataset) -> float:
    """Return a record's latitude [degrees north], which the model needs between 0 and 66.

    Raises
    ------
    InputError
        None given, or out of range.
    """
    latitude = record.attrs.get("latitude")
    if latitude is None or not np.isfinite(float(latitude)):
        raise fault(
            "--latitude",
            "The record carries no latitude.",
            "Give it in degrees north, such as 31.3.",
        )
    if not 0.0 < float(latitude) <= 66.0:
        raise fault("--latitude", f"{latitude} is out of range.",
                    "The model runs from 0 to 66 degrees north.")  # fmt: skip
    return float(latitude)


def announce_compiling(name: str, announce: Announce | None) -> None:
    """Say, before the named function is compiled for the first time, that it takes a while."""
    if not is_compiled(name):
        often = "once" if can_be_kept() else (
            f"at every run, for nothing can be kept in {CACHE.parent} (XDG_CACHE_HOME may name "
            "another folder)"
        )  # fmt: skip
        (announce or _say)(f"Compiling the season loop for this machine: {often}, some 20 seconds.")


def _ends(ends: Sequence[plans.End], years: Sequence[int]) -> tuple[np.ndarray[Any, Any], ...]:
    kinds = np.array([BY_DATE if e.date else BY_STAGE if e.stage else BY_BIOMASS for e in ends])
    values = np.array([e.stage or e.biomass or np.nan for e in ends])
    days = np.array(
        [[plans.day_number(y, e.date) if e.date else plans.NEVER for e in ends] for y in years]
    )
    return kinds, days, values


def _describe(dataset: xarray.Dataset) -> xarray.Dataset:
    for name, unit, meaning in RECORD:
        if name in dataset:
            dataset[name].attrs.update(units=unit, long_name=meaning)
    return dataset


def _provenance(record: xarray.Dataset, **more: Any) -> dict[str, Any]:
    kept = {
        key: record.attrs[key]
        for key in ("site", "latitude", "longitude", "source", "invented", "changes", "filled",
                    "units_shown", "units_of_file")
        if record.attrs.get(key) not in (None, "")
    }  # fmt: skip
    return {**kept, "version": simulator.__version__, **more}


def run_season(
    record: xarray.Dataset,
    plan: plans.Plan,
    *,
    soil: str | soils.Soil = "sandy loam",
    previous_crop: str | soils.PreviousCrop = "cotton",
    cereal: cereals.Cereal | None = None,
    fertilizer: fertilizers.Fertilizer | None = None,
    soil_nitrate: str | None = None,
    organic_matter: float | None = None,
    year: int,
    layers: int | None = None,
    announce: Announce | None = None,
) -> xarray.Dataset:
    """Grow one stand, day by day.

    Parameters
    ----------
    record : Dataset(time)
        tmax, tmin [degC], rain [mm], with the attribute ``latitude``.
    plan : Plan
    soil, previous_crop : str or parameter set
    cereal, fertilizer : parameter set, optional
        In place of those that the plan names, with other values.
    soil_nitrate, organic_matter : str and float, optional
        Measured, as in `compare`.
    year : int
        Fall year.
    layers : int, optional
        Number of equal soil layers, 1 to 60; without it the soil's own.
    announce : callable, optional
        Told when the loop has to be compiled first; prints to standard error without it.

    Returns
    -------
    Dataset(time)
        Every field of `simulator.season.day_record.RECORD` from the soil's first day to the end,
        and ``nitrate_by_layer_kg_ha`` (time, layer) with its coordinate ``bottom_cm``;
        attributes ``water_balance``, ``nitrogen_balance`` and ``dry_matter_balance`` are JSON
        objects of the closing balance.

    Raises
    ------
    InputError
        A season that the record does not cover, an unknown soil or previous crop, no latitude.
    """
    import xarray

    if not isinstance(plan, plans.Plan):
        raise fault("plan", f"{asked.shown(plan)} is not a Plan.",
                    "Write simulator.Plan(sow='10-20').")  # fmt: skip
    asked.sets(cereal=cereal or plan.cereal, soil=soil, previous_crop=previous_crop,
               fertilizer=fertilizer or plan.fertilizer)  # fmt: skip
    asked.whole(year, name="year", such=2015)
    if layers is not None:
        asked.whole(layers, name="layers", such=10)
    record = fill_short_gaps(checked(record))
    sow = plans.month_day(plan.sow, name="plan: sow")
    end = plans.end(plan.end, name="plan: end")
    seasons = cut_seasons(record, [year], [sow], [end])
    kind = cereals.cereal(cereal or plan.cereal)
    ground, crop, measured = measured_sets(
        soil, previous_crop, soil_nitrate=soil_nitrate, organic_matter=organic_matter, sow=sow,
        nitrogen=plan.nitrogen, nitrogen_timing=plan.nitrogen_timing,
    )  # fmt: skip
    feed = fertilizers.fertilizer(fertilizer or plan.fertilizer)
    timing = plans.dressings(plan.nitrogen_timing)
    (rate,) = plans.nitrogen_rates(plan.nitrogen)
    (seeding,) = plans.seeding_rates(plan.seeding)
    announce_compiling("grow", announce)
    drivers = season_drivers(seasons.tmax, seasons.tmin, seasons.rain, seasons.day_of_year,
                             latitude_of(record), seasons.spans, kind.as_record(),
                             seasons.radiation)  # fmt: skip
    sow_day = plans.day_number(year, sow)
    when = np.array([plans.day_number(year, d.when or sow) for d in timing])
    amounts = np.array([d.share * rate for d in timing])
    first, last = (int(d) for d in seasons.spans[0])
    kinds, days_of_ends, values = _ends([end], [year])
    at_end = empty_days((1,))
    days = empty_days((DAYS,))
    bottoms = soils.layer_bottoms(ground, layers)
    nitrate = np.full((DAYS, bottoms.size), np.nan)
    grow(drivers[0], first, last, sow_day, seeding, when, amounts, kinds, days_of_ends[0], values,
         kind.as_record(), ground.at(latitude_of(record)).as_record(), crop.as_record(),
         feed.as_record(), bottoms, at_end, days, nitrate)  # fmt: skip
    reached = bool(np.isfinite(at_end["season_day"][0]))
    if reached:
        last = int(at_end["season_day"][0])
    days = days[first : last + 1]
    time = (season_day(year, "07-01") + np.arange(first, last + 1)).astype("datetime64[ns]")
    result = xarray.Dataset(
        {name: ("time", days[name].copy()) for name in FIELDS if name != "season_day"}
        | {"nitrate_by_layer_kg_ha": (("time", "layer"), nitrate[first : last + 1], BY_LAYER)},
        coords={"time": time, "bottom_cm": ("layer", bottoms, {"units": "cm"})},
        attrs=_provenance(
            record, cereal=kind.name, soil=ground.name, previous_crop=crop.name,
            fertilizer=feed.name, sow=sow, seeding_kg_ha=seeding, nitrogen_kg_ha=rate,
            nitrogen_timing=plan.nitrogen_timing, end=end.text, year=year,
            end_reached="yes" if reached else "no", notes=[*notes_on(seasons), *measured],
            **told_of(crop),
            **{name: json.dumps(balance) for name, balance in balances(days[-1]).items()},
        ),
    )  # fmt: skip
    return _describe(result)


def balances(day: np.void) -> dict[str, dict[str, Any]]:
    """Balances of a season up to a day: what came in, where it went, what is not found.

    Parameters
    ----------
    day : record of `simulator.season.day_record.DAY`

    Returns
    -------
    dict
        ``water_balance``, ``nitrogen_balance`` and ``dry_matter_balance``, each with ``in``,
        ``out`` (field: amount) and ``error``; water in mm, the rest in kg/ha.
    """
    sides = {
        "water_balance": (
            ("soil_water_start_mm", "rain_mm"),
            ("runoff_mm", "drainage_mm", "evaporation_mm", "transpiration_mm", "soil_water_mm",
             "snow_water_mm"),
        ),
        "nitrogen_balance": (
            ("mineral_nitrogen_start_kg_ha", "fertilizer_kg_ha", "mineralised_kg_ha",
             "seedling_nitrogen_kg_ha", "soil_test_correction_kg_ha"),
            ("nitrogen_uptake_kg_ha", "root_nitrogen_kg_ha", "killed_nitrogen_kg_ha",
             "shed_nitrogen_kg_ha",
             "nitrate_leached_kg_ha", "denitrified_kg_ha", "volatilised_kg_ha",
             "soil_nitrate_kg_ha", "soil_ammonium_kg_ha", "litter_nitrogen_kg_ha"),
        ),
        "dry_matter_balance": (
            ("seedling_kg_ha", "growth_kg_ha"),
            ("biomass_kg_ha", "root_biomass_kg_ha", "killed_biomass_kg_ha", "shed_leaf_kg_ha"),
        ),
    }  # fmt: skip
    found: dict[str, dict[str, Any]] = {}
    for name, (into, out) in sides.items():
        gains = {field: float(day[field]) for field in into}
        losses = {field: float(day[field]) for field in out}
        error = sum(gains.values()) - sum(losses.values())
        found[name] = {"in": gains, "out": losses, "error": error}
    return found


def empty_days(shape: tuple[int, ...]) -> np.ndarray[Any, Any]:
    """Room for day records, NaN until they are filled."""
    room = np.empty(shape, DAY)
    room.view(np.float64)[...] = np.nan
    return room


def notes_on(seasons: Seasons) -> list[str]:
    """Say in which seasons the soil starts late."""
    if not seasons.late:
        return []
    return [
        "The soil starts later than 1 September, when the record does: " + ", ".join(seasons.late)
    ]


def compare(
    record: xarray.Dataset,
    *,
    cereal: str | cereals.Cereal = "rye",
    soil: str | soils.Soil = "sandy loam",
    previous_crop: str | soils.PreviousCrop = "cotton",
    fertilizer: str | fertilizers.Fertilizer = "ammonium nitrate",
    soil_nitrate: str | None = None,
    organic_matter: float | None = None,
    sow: Sequence[str] | str = ("10-20", "11-05", "11-20", "12-08"),
    seeding: Sequence[str] | str = "90 lb/acre",
    nitrogen: Sequence[str] | str = "0,30,60,90 lb/acre",
    nitrogen_timing: Sequence[str] | str = "sowing",
    end: Sequence[str] | str = "04-15",
    years: Iterable[int] | None = None,
    changes: Sequence[str] | str | None = None,
    layers: int | None = None,
    threads: int | None = None,
    announce: Announce | None = None,
) -> xarray.Dataset:
    """Grow every combination of plans in every year.

    Parameters
    ----------
    record : Dataset(time)
        tmax, tmin [degC], rain [mm], with the attribute ``latitude``.
    cereal, soil, previous_crop, fertilizer : str or parameter set
    soil_nitrate : str, optional
        Nitrate and ammonium nitrogen measured in the soil, in place of what the previous crop
        leaves: ``"60 lb/acre"``, ``"60 lb/acre to 24 inch on 09-25"``; without a day it holds on
        the earliest sowing.
    organic_matter : float, optional
        Measured in the topsoil [percent], in place of the soil's.
    sow, nitrogen_timing, end : list of str, or one text with commas
        See `simulator.season.plan`.
    seeding, nitrogen : list of str, or one text with commas
        Rates with units; a text may share one: ``"0,30,60,90 lb/acre"``.
    years : iterable of int, optional
        Fall years; all that the record covers without it.
    changes : list of str, optional
        Weather changes; adds the dimension ``case``: ``as recorded`` and ``changed``.
    layers : int, optional
        Number of equal soil layers, 1 to 60.
    threads : int, optional
        As many as there are processors without it; the results are the same to the bit.
    announce : callable, optional
        Told when the loop has to be compiled first; prints to standard error without it.

    Returns
    -------
    Dataset(year, sow, seeding, nitrogen, nitrogen_timing, end[, case])
        Every field of `simulator.season.day_record.RECORD` at the end; NaN where the stand never
        reached it. ``attrs["left_out"]`` lists the seasons that could not run, with the reason.

    Raises
    ------
    InputError
        Anything in the plans or the weather that cannot be used.
    """
    import xarray

    asked.sets(cereal=cereal, soil=soil, previous_crop=previous_crop, fertilizer=fertilizer)
    sow, seeding, nitrogen, nitrogen_timing, end, changes = asked.texts(
        sow=sow, seeding=seeding, nitrogen=nitrogen, nitrogen_timing=nitrogen_timing, end=end,
        changes=changes or (),
    )  # fmt: skip
    years = asked.fall_years(years)
    if layers is not None:
        asked.whole(layers, name="layers", such=10)
    if threads is not None:
        asked.whole(threads, name="threads", such=2, least=1)
    ground, crop, measured = measured_sets(
        soil, previous_crop, soil_nitrate=soil_nitrate, organic_matter=organic_matter, sow=sow,
        nitrogen=nitrogen, nitrogen_timing=nitrogen_timing,
    )  # fmt: skip
    layout = lay_out(
        cereal=cereal, soil=ground, previous_crop=crop, fertilizer=fertilizer, sow=sow,
        seeding=seeding, nitrogen=nitrogen, nitrogen_timing=nitrogen_timing, end=end,
        layers=layers,
    )  # fmt: skip
    record = checked(record)
    latitude = latitude_of(record)
    record = fill_short_gaps(record)
    cases = {"as recorded": record}
    if changes:
        cases["changed"] = changed_by(record, *texts_of(changes, split=False))
    cut = {case: cut_seasons(weather, years, layout.sowings, layout.ends)
           for case, weather in cases.items()}  # fmt: skip
    seasons = cut["as recorded"]
    members = len(cases) * len(seasons.years) * len(layout.combinations)
    if members * len(layout.ends) > MOST_MEMBERS:
        raise fault("--years, --sow, --seeding, --nitrogen, --nitrogen-timing, --end",
                    f"{members:,} seasons with {len(layout.ends)} ends each are too many for one "
                    "grid.", f"Stay under {MOST_MEMBERS:,}.")  # fmt: skip
    announce_compiling("grow_members", announce)
    grids = [grow_layout(layout, weather, latitude, threads) for weather in cut.values()]

    stacked = np.stack(grids, axis=-1)  # season, plan, end, case
    shape = (len(seasons.years), *layout.shape, len(cases))
    dims = ("year", *layout.coordinates(), "case")
    result = xarray.Dataset(
        {name: (dims, stacked[name].reshape(shape)) for name in FIELDS if name != "season_day"},
        coords={
            "year": list(seasons.years),
            **layout.coordinates(),
            "case": list(cases),
        },
        attrs=_provenance(
            record, **layout.names(), changes=cases[list(cases)[-1]].attrs.get("changes", ""),
            left_out=list(seasons.left_out),
            notes=[*notes_on(seasons), *about_radiation(cases[list(cases)[-1]]), *measured],
            **told_of(crop),
        ),
    )  # fmt: skip
    return _describe(result if changes else result.isel(case=0, drop=True))


def grow_layout(layout: Layout, seasons: Seasons, latitude: float,
                threads: int | None = None) -> np.ndarray[Any, Any]:  # fmt: skip
    """Grow every plan in every season of one place.

    Parameters
    ----------
    layout : Layout
    seasons : Seasons
    latitude : float
        [degrees north].
    threads : int, optional
        As many as there are processors without it; the results are the same to the bit.

    Returns
    -------
    structured array (season, plan, end) of `simulator.season.day_record.DAY`
        NaN where an end is not reached.
    """
    days = calendar(layout, seasons.years)
    kinds, end_days, values = _ends(layout.ends, seasons.years)
    kind, plan_count = layout.cereal.as_record(), len(layout.combinations)
    drivers = season_drivers(seasons.tmax, seasons.tmin, seasons.rain, seasons.day_of_year,
                             latitude, seasons.spans, kind, seasons.radiation)  # fmt: skip
    out = empty_days((len(seasons.years) * plan_count, len(layout.ends)))
    run_members(
        len(out), threads, drivers, seasons.spans,
        np.repeat(np.arange(len(seasons.years)), plan_count),
        np.tile(np.arange(plan_count), len(seasons.years)),
        days.sow_days, np.array([seeding for _, seeding, *_ in layout.combinations]),
        days.dressing_days, layout.dressing_amounts(), kinds, end_days, values,
        kind, layout.soil.at(latitude).as_record(), layout.previous_crop.as_record(),
        layout.fertilizer.as_record(), soils.layer_bottoms(layout.soil, layout.layers), out,
    )  # fmt: skip
    return out.reshape(len(seasons.years), plan_count, len(layout.ends))


def run_members(count: int, threads: int | None, *arguments: Any) -> None:
    """Share members out over threads; each writes only its own part of the output.

    Where there are seasons enough each thread has whole ones, whose plans share their days.
    """
    workers = max(min(threads or os.cpu_count() or 1, count), 1)
    drivers, spans, seasons, *rest = arguments
    edges = np.linspace(0, count, workers + 1).astype(int)
    whole = np.flatnonzero(np.diff(seasons, prepend=-1, append=-1))
    if whole.size > SEASONS_EACH * workers:
        edges = whole[np.searchsorted(whole, edges)]
    with ThreadPoolExecutor(workers) as pool:
        for done in [
            pool.submit(grow_members, drivers, spans, low, high, seasons, *rest)
            for low, high in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True)
        ]:
            done.result()
