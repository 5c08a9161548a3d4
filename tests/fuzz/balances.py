"""``python -m tests.fuzz.balances --seasons 10000``: random seasons, their balances held closed.

Water, nitrogen and dry matter of every day: what came in is there, or went out. Weather from the
tropics to a hard winter, drought to deluge; soils, plans, previous crops, soil tests of any kind.
"""

from __future__ import annotations

import argparse
import dataclasses
import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import xarray as xr

from simulator.parameters.cereals import CEREALS
from simulator.parameters.fertilizers import FERTILIZERS
from simulator.parameters.soils import PREVIOUS_CROPS
from simulator.season.one_season import run_season
from simulator.season.plan import Plan, day_number

CLOSE = 1e-6  # mm or kg/ha
YEAR = 2001
SOWINGS = ("08-15", "09-20", "10-20", "11-20", "12-31")
SEEDINGS = ("10 kg/ha", "90 lb/acre", "400 kg/ha")
RATES = ("0 lb/acre", "30 lb/acre", "90 lb/acre", "400 kg/ha")
TIMINGS = ("sowing", "02-15", "sowing 1/3 + 12-15 1/3 + 03-01 1/3")
ENDS = ("03-15", "04-15", "06-30", "zadoks 61")
TESTED = ("08-01", "10-01", "02-01")


@dataclass(frozen=True)
class Worst:
    """The balance of a kind that was furthest from closed in a season.

    Parameters
    ----------
    seed : int
        It makes the season again.
    kind : str
    error : float
        [mm or kg/ha]
    """

    seed: int
    kind: str
    error: float


def open_balances(days: xr.Dataset, rain: xr.DataArray) -> dict[str, xr.DataArray]:
    """Return by how much each balance fails to close, day by day.

    Reckoned from the pools and the sums alone, not from what the season says of itself.

    Parameters
    ----------
    days : Dataset(time)
        From `run_season`.
    rain : DataArray(time)
        Of the record [mm].
    """
    rained = rain.sel(time=days.time).cumsum("time")
    water = (
        days.soil_water_start_mm
        + rained
        - days.soil_water_mm
        - days.snow_water_mm
        - days.runoff_mm
        - days.drainage_mm
        - days.evaporation_mm
        - days.transpiration_mm
    )
    nitrogen = (
        days.mineral_nitrogen_start_kg_ha
        + days.fertilizer_kg_ha
        + days.mineralised_kg_ha
        + days.seedling_nitrogen_kg_ha
        + days.soil_test_correction_kg_ha
        - days.soil_nitrate_kg_ha
        - days.soil_ammonium_kg_ha
        - days.litter_nitrogen_kg_ha
        - days.nitrogen_uptake_kg_ha
        - days.root_nitrogen_kg_ha
        - days.killed_nitrogen_kg_ha
        - days.shed_nitrogen_kg_ha
        - days.nitrate_leached_kg_ha
        - days.denitrified_kg_ha
        - days.volatilised_kg_ha
    )
    dry_matter = (
        days.seedling_kg_ha
        + days.growth_kg_ha
        - days.biomass_kg_ha
        - days.root_biomass_kg_ha
        - days.killed_biomass_kg_ha
        - days.shed_leaf_kg_ha
    )
    return {"water": water, "nitrogen": nitrogen, "dry matter": dry_matter}


def season(seed: int) -> tuple[xr.Dataset, xr.DataArray]:
    """Grow the season of a seed; return its days and the rain of its record."""
    from tests.test_balances import any_ground, any_weather

    random = np.random.default_rng([seed, 1])

    def one(of: tuple[str, ...]) -> str:
        return of[random.integers(len(of))]

    plan = Plan(
        cereal=one(tuple(CEREALS)),
        sow=one(SOWINGS),
        seeding=one(SEEDINGS),
        nitrogen=one(RATES),
        nitrogen_timing=one(TIMINGS),
        end=one(ENDS),
        fertilizer=one(tuple(FERTILIZERS)),
    )
    crop = PREVIOUS_CROPS[one(tuple(PREVIOUS_CROPS))]
    if random.random() < 0.3:
        crop = dataclasses.replace(
            crop,
            soil_test_nitrogen=random.uniform(0, 200),
            soil_test_depth=random.uniform(10, 120),
            soil_test_day=float(day_number(YEAR, one(TESTED))),
        )
    layers = None if random.random() < 0.5 else int(random.integers(1, 21))
    record = any_weather(seed)
    days = run_season(
        record, plan, soil=any_ground(seed), previous_crop=crop, year=YEAR, layers=layers
    )
    return days, record.rain


def worst(seeds: range) -> Iterator[list[Worst]]:
    """Grow the seasons of seeds; yield of each the worst of every kind."""
    for seed in seeds:
        days, rain = season(seed)
        yield [
            Worst(seed, kind, float(abs(error).max()))
            for kind, error in open_balances(days, rain).items()
        ]


def main() -> None:
    """Print the worst of each kind, and end with 1 where one is not closed."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz.balances", description=__doc__)
    parser.add_argument("--seasons", type=int, default=10_000, help="how many")
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    asked = parser.parse_args()
    start = time.monotonic()
    furthest: dict[str, Worst] = {}
    opened = 0
    for found in worst(range(asked.first, asked.first + asked.seasons)):
        for one in found:
            # what is not a number is as far from closed as can be
            if one.kind not in furthest or not one.error <= furthest[one.kind].error:
                furthest[one.kind] = one
        opened += any(not one.error < CLOSE for one in found)
    took = time.monotonic() - start
    for one in furthest.values():
        unit = "mm" if one.kind == "water" else "kg/ha"
        print(f"{one.kind}: {one.error:.2e} {unit} at worst, season {one.seed}")
    print(f"{asked.seasons:,} seasons, {opened} of them open by {CLOSE:g}; {took:.0f} s")
    raise SystemExit(1 if opened else 0)


if __name__ == "__main__":
    main()
