"""Plans within the same fall: how often one is ahead, by how much, and how surely."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner

from simulator.answers.compare import chart
from simulator.answers.compare.calculate import differences
from simulator.answers.compare.table import compare_tables
from simulator.answers.compare.words import sentences
from simulator.commands import fallsown
from simulator.parameters.model_error import RESPONSE, SHIPPED

YEARS = [2001, 2002, 2003, 2004]
KINDS = {2001: "dry", 2002: "dry", 2003: "wet", 2004: "wet"}
# (year, sow, nitrogen): the later sowing is ahead in 2001 alone
EARLY = np.array([[1000.0, 2000.0], [3000.0, 5000.0], [3000.0, 5000.0], [3000.0, 5000.0]])
LATE = np.array([[1500.0, 2500.0], [2000.0, 3000.0], [2000.0, 3000.0], [1000.0, 2000.0]])
EXACT = replace(SHIPPED, response=replace(RESPONSE, rmse=0.001))
ATTRIBUTES = {
    "cereal": "rye",
    "soil": "loam",
    "previous_crop": "corn",
    "site": "Invented Hill",
    "latitude": 32.0,
}


def grid() -> xr.Dataset:
    biomass = np.stack([EARLY, LATE], axis=1)
    dims = ("year", "sow", "nitrogen")
    stages = np.broadcast_to(np.array([21.0, 21.0, 31.0, 31.0])[:, None, None], biomass.shape)
    made = xr.Dataset(
        {
            "biomass_kg_ha": (dims, biomass),
            "growth_stage_zadoks": (dims, stages),
            **{
                name: (dims, np.ones_like(biomass))
                for name in (
                    "nitrogen_uptake_kg_ha",
                    "carbon_to_nitrogen",
                    "nitrate_leached_kg_ha",
                    "leaf_area_index",
                    "plants_emerged_m2",
                )
            },
        },
        coords={"year": YEARS, "sow": ["10-20", "11-05"], "nitrogen": [0.0, 60.0]},
        attrs=ATTRIBUTES,
    )
    return made.expand_dims(seeding=[100.0], nitrogen_timing=["sowing"], end=["04-15"])


@pytest.mark.analytic("differences within each fall, worked by hand from the numbers above")
def test_differences_are_within_the_same_fall() -> None:
    sow, nitrogen = differences(grid(), EXACT)
    assert (sow.choice, sow.first, sow.second) == ("sow", "10-20", "11-05")
    assert sow.of_falls == (500.0, -1500.0, -1500.0, -2500.0)
    assert (sow.ahead, sow.mean) == (1, -1250.0)
    assert sow.by_kind(KINDS) == {"dry": (1, 2), "wet": (0, 2)}
    assert nitrogen.of_falls == (1000.0, 1500.0, 1500.0, 1500.0)
    assert nitrogen.ahead == 4
    assert (nitrogen.ranges.weather_low, nitrogen.ranges.weather_high) == (1000.0, 1500.0)
    assert nitrogen.ranges.low == pytest.approx(1000.0, abs=1.0)
    assert sow.row()["falls_ahead"] == 1


def test_a_fall_without_one_of_them_counts_for_none() -> None:
    part = grid()
    part["biomass_kg_ha"].loc[{"year": 2004, "sow": "11-05", "nitrogen": 60.0}] = np.nan
    sow, nitrogen = differences(part, EXACT)
    assert sow.years == nitrogen.years == (2001, 2002, 2003)


def test_sentences_say_how_often_and_how_surely() -> None:
    told = " ".join(sentences(grid(), "si", KINDS, EXACT))
    assert "sown Nov 5 makes 1,250 kg/ha less than sown Oct 20 and is ahead in 1 of 4" in told
    assert "Sown on Nov 5 it beats Oct 20 in 1 of 2 dry and 0 of 2 wet falls." in told
    assert "In a field like these the difference is 1,000 to 1,500 kg/ha." in told
    unsure = " ".join(sentences(grid(), "si", KINDS))
    assert "so that whether it is a gain or a loss cannot be told" in unsure
    assert "had not seen" in unsure


def test_stages_are_those_of_a_fall() -> None:
    _, plans = compare_tables(grid(), "si", EXACT)[:2]
    row = next(line for line in plans.splitlines() if line.startswith("Oct 20"))
    assert "26" not in row.split()  # the mean of 21, 21, 31 and 31 is no stage that any had
    assert "21" in row.split()


def test_the_chart_sorts_the_differences() -> None:
    rows = chart.difference_rows(grid().sel(nitrogen=[60.0]), "si")
    assert [row["difference"] for row in rows] == [-3000.0, -2000.0, -2000.0, 500.0]
    assert [row["year"] for row in rows] == [2004, 2002, 2003, 2001]
    means = chart.mean_rows(grid(), "si")
    assert all(row["field_low"] <= row["low"] <= row["y"] <= row["high"] for row in means)


def test_the_command_has_the_differences() -> None:
    found = CliRunner().invoke(
        fallsown, ["compare", "--sow", "10-20,11-05", "--nitrogen", "0,60 lb/acre", "--json"]
    )
    told = json.loads(found.stdout)
    rows = {(row["year"], row["sow"], row["nitrogen_kg_ha"]): row for row in told["rows"]}
    (one,) = (each for each in told["differences"] if each["choice"] == "sow")
    ahead = sum(
        sum(rows[year, "11-05", rate]["biomass_kg_ha"] for rate in told["inputs"]["nitrogen_kg_ha"])
        > sum(
            rows[year, "10-20", rate]["biomass_kg_ha"] for rate in told["inputs"]["nitrogen_kg_ha"]
        )
        for year in {row["year"] for row in told["rows"]}
    )
    assert (one["falls_ahead"], one["falls"]) == (ahead, 30)
    assert one["difference_low_kg_ha"] < one["weather_low_kg_ha"]
