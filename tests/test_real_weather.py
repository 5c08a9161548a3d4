"""Real weather and real trials: the open data of stations and rye plots."""

from __future__ import annotations

import csv
from datetime import date

import numpy as np
import pytest

from simulator.season.compare import compare
from simulator.season.one_season import run_season
from simulator.season.plan import Plan
from simulator.weather.files.reading import read_weather

LATITUDE = {"headland": 31.35, "prattville": 32.46, "belle_mina": 34.69}
SOIL = {"headland": "sandy loam", "prattville": "sandy loam", "belle_mina": "silt loam"}
WITHIN = 2.0  # a factor
SHARE = 2.0 / 3.0  # of the rows


@pytest.fixture(scope="module")
def stations(open_data):
    files = {
        path.name.split("_20")[0].split("_winters")[0]: path
        for path in sorted((open_data / "weather").glob("*.csv"))
    }
    assert set(files) == set(LATITUDE)
    return {
        site: read_weather(path, latitude=LATITUDE[site], site=site) for site, path in files.items()
    }


@pytest.fixture(scope="module")
def trials(open_data):
    with (open_data / "trials" / "rye_trial_means.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 33
    return rows


def simulate(record, row):
    """Grow one treatment as the trial did; spring nitrogen went on in mid-February."""
    sown, sampled = (date.fromisoformat(row[key]) for key in ("sown", "sampled"))
    fall, spring = (float(row[f"nitrogen_{season}_kg_ha"]) for season in ("fall", "spring"))
    assert not (fall and spring)
    litter = row["fertilizer"] == "poultry litter"
    grid = compare(
        record,
        soil=SOIL[row["site"]],
        fertilizer="poultry litter" if litter else "ammonium nitrate",
        sow=f"{sown:%m-%d}",
        seeding=f"{row['seeding_kg_ha']} kg/ha",
        nitrogen=f"{fall or spring} kg/ha",
        nitrogen_timing="02-15" if spring else "sowing",
        end=f"{sampled:%m-%d}",
        years=[sown.year],
    )
    return grid.squeeze()


@pytest.mark.parametrize("site", LATITUDE)
def test_every_season_of_every_station_runs(stations, site):
    found = compare(stations[site], sow="11-10,11-25", nitrogen="0,60 lb/acre", end="03-15,04-15")
    assert found.sizes["year"] + len(found.attrs["left_out"]) >= 2
    assert found.sizes["year"] >= 2
    assert np.isfinite(found.biomass_kg_ha).all()
    assert (found.biomass_kg_ha > 0.0).all()
    assert (found.biomass_kg_ha <= 15000.0).all()
    assert abs(found.water_balance_error_mm).max() < 1e-6
    assert abs(found.nitrogen_balance_error_kg_ha).max() < 1e-6


def test_winter_records_say_that_the_soil_starts_late(stations):
    days = run_season(stations["headland"], Plan(sow="11-19"), year=2005)
    assert str(days.time.values[0])[:10] == "2005-11-01"
    assert "2005 (2005-11-01)" in days.attrs["notes"][0]


@pytest.mark.fitted("Huddell et al. 2024, Scientific Data 11:200, 33 means of rye trials")
def test_most_trials_land_within_a_factor_of_two(stations, trials):
    observed = np.array([float(row["biomass_kg_ha"]) for row in trials])
    simulated = np.array(
        [float(simulate(stations[row["site"]], row).biomass_kg_ha) for row in trials]
    )
    assert np.isfinite(simulated).all()
    factor = simulated / observed
    within = (factor >= 1.0 / WITHIN) & (factor <= WITHIN)
    table = "\n".join(
        f"{row['site']} {row['sown']} to {row['sampled']}: {o:6.0f} observed, {s:6.0f} simulated"
        for row, o, s in zip(trials, observed, simulated, strict=True)
    )
    assert within.mean() >= SHARE, f"{within.sum()} of {within.size} rows\n{table}"
