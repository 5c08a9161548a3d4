"""One stand, day by day: a record and a plan in, labelled days out."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.parameters import cereals, fertilizers, soils, varieties
from simulator.problems import fault
from simulator.season import arguments
from simulator.season import plan as plans
from simulator.season.arrays import empty_days, ends_as_numbers
from simulator.season.compiling import Announce, announce_compiling
from simulator.season.day.drivers import DAYS
from simulator.season.day.loop import grow
from simulator.season.day.record import FIELDS
from simulator.season.labels import described, provenance
from simulator.season.seasons import Seasons, cut_seasons, latitude_of, notes_on, watered
from simulator.season.soil_test import measured_sets, soil_test_attributes
from simulator.weather.fall_year import keep_filled, season_day
from simulator.weather.files.record_check import checked
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray

Array = np.ndarray[Any, Any]

# what is kept of each layer, as `grow` has it, by name: its attributes
BY_LAYER = {
    "nitrate_by_layer_kg_ha": {
        "units": "kg/ha",
        "long_name": "nitrate nitrogen in each layer of soil",
    },
    "water_by_layer_mm": {"units": "mm", "long_name": "water in each layer of soil"},
}


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
        In place of those that the plan names, with other values; a cereal that is an early or a
        late variety already stays one.
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
        Every field of `simulator.season.day.record.RECORD` from the soil's first day to the end,
        ``nitrate_by_layer_kg_ha`` and ``water_by_layer_mm`` (time, layer) with their coordinate
        ``bottom_cm``;
        attributes ``water_balance``, ``nitrogen_balance`` and ``dry_matter_balance`` are JSON
        objects of the closing balance.

    Raises
    ------
    InputError
        A season that the record does not cover, an unknown soil or previous crop, no latitude.
    """
    kind, feed = _check(plan, cereal, soil, previous_crop, fertilizer, year, layers)
    record = fill_short_gaps(watered(checked(record), plan.irrigation, plan.sow, plan.end))
    sow = plans.month_day(plan.sow, name="plan: sow")
    end = plans.end(plan.end, name="plan: end")
    seasons = cut_seasons(record, [year], [sow], [end])
    ground, crop, measured = measured_sets(
        soil,
        previous_crop,
        soil_nitrate=soil_nitrate,
        organic_matter=organic_matter,
        sow=sow,
        nitrogen=plan.nitrogen,
        nitrogen_timing=plans.dated(plan.nitrogen_timing),
    )
    rate, seeding, dressings = _amounts(plan, year, sow)
    announce_compiling("grow", announce)
    bottoms = soils.layer_bottoms(ground, layers)
    reached, days, layered, time = _grow(
        seasons,
        latitude_of(record),
        (kind.as_record(), ground.at(latitude_of(record)).as_record()),
        (crop.as_record(), feed.as_record()),
        year=year,
        sow=sow,
        seeding=seeding,
        dressings=dressings,
        end=end,
        bottoms=bottoms,
    )
    result = _by_day(days, layered, time, bottoms).assign_attrs(
        provenance(
            keep_filled(record, seasons.days()),
            **_names(kind, ground, crop, feed),
            sow=sow,
            seeding_kg_ha=seeding,
            nitrogen_kg_ha=rate,
            nitrogen_timing=plans.dated(plan.nitrogen_timing),
            end=end.text,
            year=year,
            end_reached="yes" if reached else "no",
            notes=[*notes_on(seasons), *measured],
            **soil_test_attributes(crop),
        )
    )
    closed = {name: json.dumps(balance) for name, balance in balances(days[-1]).items()}
    return described(result.assign_attrs(closed))


def _check(
    plan: Any, cereal: Any, soil: Any, previous_crop: Any, fertilizer: Any, year: Any, layers: Any
) -> tuple[cereals.Cereal, fertilizers.Fertilizer]:
    """Refuse arguments that cannot be used; return the cereal and the fertilizer.

    Raises
    ------
    InputError
    """
    if not isinstance(plan, plans.Plan):
        raise fault(
            "plan",
            f"{arguments.shown(plan)} is not a Plan.",
            "Write simulator.Plan(sow='10-20').",
        )
    arguments.sets(
        cereal=cereal or plan.cereal,
        soil=soil,
        previous_crop=previous_crop,
        fertilizer=fertilizer or plan.fertilizer,
    )
    arguments.whole(year, name="year", such=2015)
    if layers is not None:
        arguments.whole(layers, name="layers", such=10)
    return (
        varieties.grown_as(cereals.cereal(cereal or plan.cereal), plan.variety),
        fertilizers.fertilizer(fertilizer or plan.fertilizer),
    )


def _amounts(plan: plans.Plan, year: int, sow: str) -> tuple[float, float, list[tuple[int, float]]]:
    """Return the rate of nitrogen and of seed [kg/ha]; season day and amount of each dressing."""
    timing = plans.dressings(plan.nitrogen_timing)
    (rate,) = plans.nitrogen_rates(plan.nitrogen)
    (seeding,) = plans.seeding_rates(plan.seeding)
    return (
        rate,
        seeding,
        [(plans.day_number(year, d.when or sow), d.share * rate) for d in timing],
    )


def _grow(
    seasons: Seasons,
    latitude: float,
    stand: tuple[Array, Array],
    before: tuple[Array, Array],
    *,
    year: int,
    sow: str,
    seeding: float,
    dressings: Sequence[tuple[int, float]],
    end: plans.End,
    bottoms: Array,
) -> tuple[bool, Array, Array, Array]:
    """Grow the first of the seasons: whether its end is reached; its days, `BY_LAYER`, time.

    ``stand`` has the records of cereal and soil, ``before`` of previous crop and fertilizer.
    """
    drivers = seasons.drivers(latitude, stand[0])
    first, last = (int(d) for d in seasons.spans[0])
    kinds, days_of_ends, values = ends_as_numbers([end], [year])
    at_end, days = empty_days((1,)), empty_days((DAYS,))
    layered = np.full((DAYS, len(BY_LAYER), bottoms.size), np.nan)
    grow(
        drivers[0],
        first,
        last,
        plans.day_number(year, sow),
        seeding,
        np.array([day for day, _ in dressings]),
        np.array([amount for _, amount in dressings]),
        kinds,
        days_of_ends[0],
        values,
        *stand,
        *before,
        bottoms,
        at_end,
        days,
        layered,
    )
    reached = bool(np.isfinite(at_end["season_day"][0]))
    if reached:
        last = int(at_end["season_day"][0])
    time = (season_day(year, "07-01") + np.arange(first, last + 1)).astype("datetime64[ns]")
    span = slice(first, last + 1)
    return reached, days[span], layered[span], time


def _names(cereal: Any, soil: Any, previous_crop: Any, fertilizer: Any) -> dict[str, str]:
    """Name the sets of a field."""
    return {
        "cereal": cereal.name,
        "variety": cereal.variety,
        "soil": soil.name,
        "previous_crop": previous_crop.name,
        "fertilizer": fertilizer.name,
    }


def _by_day(days: Array, layered: Array, time: Array, bottoms: Array) -> xarray.Dataset:
    """Label the days of a season."""
    import xarray

    return xarray.Dataset(
        {name: ("time", days[name].copy()) for name in FIELDS if name != "season_day"}
        | {
            name: (("time", "layer"), layered[:, at], about)
            for at, (name, about) in enumerate(BY_LAYER.items())
        },
        coords={"time": time, "bottom_cm": ("layer", bottoms, {"units": "cm"})},
    )


def balances(day: np.void) -> dict[str, dict[str, Any]]:
    """Balances of a season up to a day: what came in, where it went, what is not found.

    Parameters
    ----------
    day : record of `simulator.season.day.record.DAY`

    Returns
    -------
    dict
        ``water_balance``, ``nitrogen_balance`` and ``dry_matter_balance``, each with ``in``,
        ``out`` (field: amount) and ``error``; water in mm, the rest in kg/ha.
    """
    sides = {
        "water_balance": (
            ("soil_water_start_mm", "rain_mm", "irrigation_mm"),
            (
                "runoff_mm",
                "drainage_mm",
                "evaporation_mm",
                "transpiration_mm",
                "soil_water_mm",
                "snow_water_mm",
            ),
        ),
        "nitrogen_balance": (
            (
                "mineral_nitrogen_start_kg_ha",
                "fertilizer_kg_ha",
                "mineralised_kg_ha",
                "seedling_nitrogen_kg_ha",
                "soil_test_correction_kg_ha",
            ),
            (
                "nitrogen_uptake_kg_ha",
                "root_nitrogen_kg_ha",
                "killed_nitrogen_kg_ha",
                "shed_nitrogen_kg_ha",
                "nitrate_leached_kg_ha",
                "denitrified_kg_ha",
                "volatilised_kg_ha",
                "soil_nitrate_kg_ha",
                "soil_ammonium_kg_ha",
                "litter_nitrogen_kg_ha",
            ),
        ),
        "dry_matter_balance": (
            ("seedling_kg_ha", "growth_kg_ha"),
            ("biomass_kg_ha", "root_biomass_kg_ha", "killed_biomass_kg_ha", "shed_leaf_kg_ha"),
        ),
    }
    found: dict[str, dict[str, Any]] = {}
    for name, (into, out) in sides.items():
        gains = {field: float(day[field]) for field in into}
        losses = {field: float(day[field]) for field in out}
        error = sum(gains.values()) - sum(losses.values())
        found[name] = {"in": gains, "out": losses, "error": error}
    return found
