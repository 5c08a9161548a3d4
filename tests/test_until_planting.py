"""A killed stand and its soil to the day of planting: balances, refill, drying, nitrogen."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from simulator import sample_weather
from simulator.problems import InputError
from simulator.season.compare import compare
from simulator.season.residue_decay import follow
from simulator.season.until_planting import planting_day, until_planting

ENDS = ["03-15", "04-12", "05-15"]
YEARS = list(range(2008, 2014))
ONE = {"sow": 0, "seeding": 0, "nitrogen": 0, "nitrogen_timing": 0}


@pytest.fixture(scope="module")
def record() -> xr.Dataset:
    return sample_weather()


@pytest.fixture(scope="module")
def planted(record: xr.Dataset) -> xr.Dataset:
    made = until_planting(
        record, planting="05-15", end=ENDS, years=YEARS, residue=["rolled", "standing", "buried"]
    )
    return made.isel(ONE)


def rained(record: xr.Dataset, first: str, millimetres: float) -> xr.Dataset:
    """The same weather with so much rain a day from a day of 2009 on."""
    made = record.copy(deep=True)
    made["rain"].loc[{"time": slice(first, "2009-06-30")}] = millimetres
    return made


@pytest.mark.analytic("what came in is there or went out, from the soil's first day to planting")
@pytest.mark.parametrize(
    ("soil", "crop", "fertilizer"),
    [("sandy loam", "cotton", "ammonium nitrate"), ("clay", "corn", "poultry litter")],
)
def test_water_and_nitrogen_are_all_found(
    record: xr.Dataset, soil: str, crop: str, fertilizer: str
) -> None:
    made = until_planting(
        record,
        planting="05-15",
        sow=["10-20", "12-08"],
        nitrogen=["0 lb/acre", "90 lb/acre"],
        nitrogen_timing="02-15",
        end=ENDS,
        soil=soil,
        previous_crop=crop,
        fertilizer=fertilizer,
        years=YEARS,
        residue=["standing", "buried"],
    )
    for name in ("planting_water_error_mm", "planting_nitrogen_error_kg_ha"):
        assert np.isfinite(made[name]).all()
        assert abs(made[name]).max() < 1e-9, name


@pytest.mark.analytic("no day lies between: the soil is that of the living stand's last day")
def test_killed_on_the_day_of_planting_is_the_stand_s_own_soil(
    record: xr.Dataset, planted: xr.Dataset
) -> None:
    grid = compare(record, sow="10-20", nitrogen="30 lb/acre", end="05-15", years=YEARS).squeeze()
    on_the_day = planted.sel(end="05-15", residue="rolled")
    for ours, theirs in (
        ("planting_soil_water_mm", "soil_water_mm"),
        ("planting_nitrate_kg_ha", "soil_nitrate_kg_ha"),
        ("planting_residue_kg_ha", "biomass_kg_ha"),
    ):
        close = 1e-12 if theirs == "biomass_kg_ha" else 0.0  # through carbon and back
        np.testing.assert_allclose(on_the_day[ours].values, grid[theirs].values, rtol=close)
    assert (on_the_day["rain_until_planting_mm"] == 0.0).all()


def test_without_rain_a_stand_killed_early_leaves_more_and_is_not_full_again(
    record: xr.Dataset,
) -> None:
    made = until_planting(
        rained(record, "2009-03-01", 0.0), planting="05-15", end=ENDS, years=[2008]
    ).isel(ONE | {"residue": 0, "year": 0})
    water = made["planting_soil_water_mm"].values
    assert water[0] > water[1] + 20.0 and water[1] > water[2] + 5.0
    assert (made["full_again"] == 0.0).all()


def test_rain_fills_the_column_again(record: xr.Dataset) -> None:
    wet = until_planting(
        rained(record, "2009-05-05", 30.0), planting="05-15", end=ENDS, years=[2008]
    ).isel(ONE | {"residue": 0, "year": 0})
    assert wet["full_again"].values[:2].tolist() == [1.0, 1.0]
    water = wet["planting_soil_water_mm"].values
    assert water[0] == pytest.approx(water[1], abs=2.0)  # and then it does not matter when


def test_residue_on_the_ground_spares_water(planted: xr.Dataset) -> None:
    dried = planted["evaporated_until_planting_mm"].isel(end=[0, 1])
    for more in ("standing", "buried"):
        assert (dried.sel(residue="rolled") < dried.sel(residue=more)).all()
    assert (planted["planting_covered"].sel(residue="rolled").isel(end=0) > 0.5).all()


@pytest.mark.analytic("the same decay, where the soil has the nitrogen that it wants")
def test_residue_decays_as_it_does_by_itself(record: xr.Dataset) -> None:
    plan = {"sow": "10-20", "nitrogen": "90 lb/acre", "nitrogen_timing": "02-15"}
    made = until_planting(record, planting="05-10", end="04-25", years=YEARS, **plan)
    stands = compare(record, end="04-25", years=YEARS, **plan).isel(end=0)
    alone = follow(record, stands, residue=["rolled"], days=15).isel(day=-1)
    for ours, theirs in (
        ("released_until_planting_kg_ha", "nitrogen_released_kg_ha"),
        ("planting_residue_kg_ha", "shoot_residue_kg_ha"),
    ):
        np.testing.assert_allclose(
            made[ours].values.ravel(), alone[theirs].values.ravel(), rtol=1e-9
        )


def test_a_fall_without_weather_to_planting_is_unknown(record: xr.Dataset) -> None:
    short = record.sel(time=slice(None, "2012-04-30"))
    made = until_planting(short, planting="05-15", end="04-12", years=[2010, 2011]).squeeze()
    known = np.isfinite(made["planting_soil_water_mm"].values)
    assert known.tolist() == [True, False]


def test_a_stand_killed_after_planting_is_unknown(record: xr.Dataset) -> None:
    made = until_planting(record, planting="05-01", end=ENDS, years=[2010]).squeeze()
    assert np.isfinite(made["planting_soil_water_mm"].values).tolist() == [True, True, False]


@pytest.mark.parametrize(
    ("day", "said"), [("07-10", "after the season"), ("13-01", "planting"), ("May", "planting")]
)
def test_what_is_no_day_of_planting_is_refused(day: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        planting_day(day)
    assert planting_day("5-1") == "05-01"


def test_an_end_that_is_no_date_is_refused(record: xr.Dataset) -> None:
    with pytest.raises(InputError, match="zadoks 61"):
        until_planting(record, planting="05-15", end="zadoks 61")
