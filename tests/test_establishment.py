"""Establishment: dry, flooded and crusted seedbeds thin a stand; irrigation brings it up."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner

import simulator
from simulator.commands import fallsown
from simulator.parameters.cereals import rye, wheat
from simulator.parameters.soils import SOILS, sandy_loam
from simulator.problems import InputError
from simulator.process import establishment as process
from simulator.process.development import seed_zone_moisture
from simulator.season.day.record import FIELDS
from simulator.season.plan import read_irrigation
from simulator.season.seasons import irrigated
from simulator.weather.record import make_record

NEW = ("irrigation_mm", "plants_emerged_m2", "left_by_dryness", "left_by_flooding", "left_by_crust")
EDGE = sandy_loam.wilting_point, sandy_loam.wilting_point, sandy_loam.field_capacity


def season_of(
    rain: dict[str, float], *, warm: float = 20.0, radiation: float | None = 12.0
) -> xr.Dataset:
    """A fall of even warmth, dry but for the rain on the days named [mm]."""
    days = np.arange(np.datetime64("2010-07-01"), np.datetime64("2011-07-01"))
    fallen = np.zeros(days.size)
    for day, amount in rain.items():
        fallen[days == np.datetime64(day)] = amount
    return make_record(
        days,
        np.full(days.size, warm + 5.0),
        np.full(days.size, warm - 5.0),
        fallen,
        site="Evenfield, invented",
        latitude=35.0,
        invented="yes",
        radiation=None if radiation is None else np.full(days.size, radiation),
    )


def grown(record: xr.Dataset, soil: object = "sandy loam", crop: str = "cotton", **plan: str):
    return simulator.run_season(
        record, simulator.Plan(**{"sow": "10-01", **plan}), soil=soil, previous_crop=crop, year=2010
    )


@pytest.mark.published("Wuest and Lutcher (2013), SSSAJ 77:279-283, abstract")
@pytest.mark.parametrize("soil", SOILS.values(), ids=SOILS)
def test_wheat_sprouts_quickly_above_its_limit_and_hardly_below(soil) -> None:
    """Rapid above -1.1 MPa; below -1.6 MPa less than half of the lots came to 75 % in 25 days."""
    contents = np.linspace(soil.wilting_point * 0.9, soil.field_capacity, 400)
    potentials = np.array(
        [
            process.water_potential(water, soil.wilting_point, soil.field_capacity)
            for water in contents
        ]
    )
    speeds = np.array(
        [seed_zone_moisture(water, soil.wilting_point, soil.field_capacity) for water in contents]
    )
    assert (speeds[potentials < -1.6] == 0.0).all()
    assert (speeds[potentials > -1.1] > 0.0).all()


@pytest.mark.published("extension table for soft red winter wheat: 10.8 % at 90 degF and 50 %")
def test_seed_holds_the_water_of_its_air() -> None:
    assert process.seed_moisture(0.5, (90.0 - 32.0) / 1.8) == pytest.approx(10.8, abs=0.05)


@pytest.mark.published("Ellis and Hong (2007), Seed Sci. Technol. 35:432-444, abstract: wheat")
def test_wheat_seed_ages_by_the_constants_printed() -> None:
    assert (wheat.seed_life, wheat.seed_life_wetness) == (8.498, 4.836)
    for moisture, warmth in ((5.0, 0.0), (10.0, 20.0), (25.0, 50.0)):
        logarithm = 8.498 - 4.836 * np.log10(moisture) - 0.0322 * warmth - 0.000454 * warmth**2
        found = process.seed_life(moisture, warmth, wheat.seed_life, wheat.seed_life_wetness)
        assert np.log10(found) == pytest.approx(logarithm, abs=1e-12)


@pytest.mark.published("Cannell et al. (1980), J. Sci. Food Agric. 31:117-132, abstract")
def test_flooding_before_emergence_kills_as_in_the_lysimeters() -> None:
    """Six days left 12 % on clay and 38 % on sandy loam, sixteen days none."""
    six, sixteen = (
        process.share_through_flood(days - wheat.flood_borne, wheat.flood_loss) for days in (6, 16)
    )
    assert 0.12 < six < 0.38
    assert sixteen < 0.01


@pytest.mark.other_program("scipy 1: the normal distribution")
def test_deaths_are_normal_in_time() -> None:
    from scipy.stats import norm

    for ageing in (0.0, 0.3, 1.645, 4.0, 30.0):
        wanted = norm.cdf(1.645 - ageing) / norm.cdf(1.645)
        assert process.share_viable(ageing, 1.645) == pytest.approx(wanted, rel=1e-12)


@pytest.mark.analytic("limits of the equations")
def test_equations_have_their_limits() -> None:
    assert process.water_potential(*EDGE) == pytest.approx(-1.5)
    assert process.water_potential(0.18, *EDGE[1:]) == pytest.approx(-0.033)
    assert process.air_humidity(0.0, 20.0) == 1.0
    assert process.seed_moisture(1.0, 20.0) == process.WETTEST_SEED
    damp, dry = (
        process.seed_ageing(share * EDGE[0], *EDGE[1:], 15.0, rye.seed_life, rye.seed_life_wetness)
        for share in (1.0, 0.5)
    )
    assert 25.0 < 1.0 / damp < 35.0  # a month, as docs/model.md has it
    assert 140.0 < 1.0 / dry < 170.0  # five months
    assert process.flooded_part(0.0, 0.02) == 1.0 and process.flooded_part(0.02, 0.02) == 0.0
    assert process.crust_made(0.3, 25.0, 25.0, 0.0) == 0.3  # no more than a crust asks for
    assert process.crust_made(0.0, 1e9, 25.0, 0.0) == 1.0
    assert process.crust_made(0.0, 1e9, 25.0, 1.0) == 0.0  # under residue
    assert process.share_through_crust(1.0, 1.0, 0.6) == 1.0  # wet
    assert process.share_through_crust(1.0, 0.0, 0.6) == 0.4


@pytest.mark.analytic("nothing sprouts without water; a moist seedbed takes nothing")
def test_dry_forever_there_are_no_plants_and_wet_all_of_them() -> None:
    dry = grown(season_of({}))
    assert (dry["plants_m2"] == 0.0).all() and not dry["stand_alive"].any()
    left = dry["left_by_dryness"].values
    assert (np.diff(left) <= 0.0).all() and left[-1] < 0.5 < left[40]
    moist = grown(season_of({f"2010-10-{day:02d}": 5.0 for day in range(1, 16)}))
    assert all((moist[name] == 1.0).all() for name in NEW[2:])
    seeds = 90 * 1.12085 * 100.0 / rye.thousand_seed_mass * rye.establishment
    assert float(moist["plants_emerged_m2"][-1]) == pytest.approx(
        seeds / (1.0 + seeds / rye.most_plants), rel=1e-4
    )


def test_a_seedbed_waits_for_rain_and_irrigation_brings_it_up() -> None:
    late = grown(season_of({"2010-12-10": 20.0}))
    watered = grown(season_of({"2010-12-10": 20.0}), irrigation="1.5 inch on 10-01")
    up = [int(np.argmax(days["stand_alive"].values > 0)) for days in (late, watered)]
    assert up[1] < up[0] - 50
    assert float(watered["left_by_dryness"][-1]) == 1.0 > float(late["left_by_dryness"][-1])
    assert float(watered["plants_emerged_m2"][-1]) > float(late["plants_emerged_m2"][-1]) > 0.0


def test_floods_and_crusts_thin_a_stand() -> None:
    storm = {f"2010-10-{day:02d}": 60.0 for day in range(2, 8)}
    flooded = grown(season_of(storm, warm=12.0), "clay")
    assert 0.05 < float(flooded["left_by_flooding"][-1]) < 0.6
    drowned = grown(season_of({f"2010-10-{d:02d}": 60.0 for d in range(2, 30)}, warm=8.0), "clay")
    assert not drowned["stand_alive"].any() and (drowned["plants_m2"] == 0.0).all()
    hard = replace(SOILS["silt loam"], crusting=1.0)
    crusted = grown(season_of({"2010-10-02": 60.0}, warm=14.0), hard, "fallow")
    assert 0.1 < float(crusted["left_by_crust"][-1]) < 0.95
    for days in (flooded, drowned, crusted):
        for balance in ("water_balance_error_mm", "dry_matter_balance_error_kg_ha"):
            assert np.abs(days[balance]).max() < 1e-6


@pytest.mark.analytic("water is water")
def test_irrigation_equals_rain_but_for_what_is_reported() -> None:
    fallen = {"2010-10-03": 12.7, "2010-10-20": 30.0}
    as_rain = grown(season_of(fallen))
    poured = grown(season_of({}), irrigation="12.7 mm on 10-03, 30 mm on 10-20")
    for name in set(FIELDS) - {"season_day", "rain_mm", "irrigation_mm", "water_balance_error_mm"}:
        np.testing.assert_array_equal(poured[name], as_rain[name], err_msg=name)
    assert float(poured["irrigation_mm"][-1]) == float(as_rain["rain_mm"][-1]) == 42.7
    assert np.abs(poured["water_balance_error_mm"]).max() < 1e-6
    water = json.loads(poured.attrs["water_balance"])
    assert water["in"]["irrigation_mm"] == 42.7 and abs(water["error"]) < 1e-6


def test_a_grid_waters_its_plans_and_not_the_bare_soil() -> None:
    asked = {"sow": "10-20", "nitrogen": "0 lb/acre", "years": [2010, 2011]}
    record = simulator.sample_weather()
    dry = simulator.compare(record, **asked, bare=True)
    wet = simulator.compare(record, **asked, bare=True, irrigation=["2 inch on 10-22"])
    assert (wet["irrigation_mm"] == 50.8).all() and (wet["bare_irrigation_mm"] == 0.0).all()
    assert (wet["bare_drainage_mm"] == dry["bare_drainage_mm"]).all()
    assert (wet["drainage_mm"] >= dry["drainage_mm"]).all()
    assert wet.attrs["irrigation"] == "50.8 mm on 10-22"
    with pytest.raises(InputError, match="is not before the last end"):
        simulator.compare(record, **asked, irrigation="2 inch on 05-22")
    with pytest.raises(InputError, match=r"3 is not text|Write text"):
        simulator.compare(record, **asked, irrigation=[3])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("0.5 inch on 10-32", "'10-32' is not a day of the calendar"),
        ("0.5 inch", "'0.5 inch' cannot be read"),
        ("0.5 on 10-22", "'0.5' has no unit"),
        ("0.5 lb on 10-22", "cannot be turned into mm"),
        ("9 inch on 10-22", "'9 inch' is out of range"),
        ("1 inch on 10-22, 2 inch on Oct 22", "10-22 is watered twice"),
        ("0.5 inch on 04-20", "Water on 04-20 is not before the last end, 04-15"),
        ("0.5 inch on 08-01", "goes on before 09-01, when the soil's account begins"),
    ],
)
def test_water_that_cannot_go_on_is_refused_in_words(text: str, said: str) -> None:
    told = CliRunner().invoke(fallsown, ["season", "--irrigation", text])
    assert told.exit_code == 2 and said in told.output and "--irrigation" in told.output
    with pytest.raises(InputError):
        simulator.Plan(irrigation=text)


def test_waterings_are_read_alike_however_they_are_written() -> None:
    wanted = read_irrigation("0.5 inch on 10-22, 1 inch on 11-03")
    assert [(one.amount, one.date) for one in wanted] == [(12.7, "10-22"), (25.4, "11-03")]
    assert read_irrigation(["25.4 mm on Nov 3", "0.5 inch on Oct 22"]) == wanted
    assert read_irrigation("0.5 inch on 10-22 + 1 inch on 11-03") == wanted


def test_the_season_says_its_water_and_its_plants() -> None:
    asked = ["season", "--year", "2002", "--sow", "09-15"]
    told = CliRunner().invoke(fallsown, [*asked, "--irrigation", "0.5 inch on Sep 17"])
    text = " ".join(told.output.split())
    assert told.exit_code == 0 and "0.5 in of irrigation was put on" in text
    assert "irrigation 0.50" in text and "0.50 in on Sep 17." in text
    dry = json.loads(CliRunner().invoke(fallsown, [*asked, "--json", "--units", "si"]).stdout)
    assert any("plants/m2 came up: a dry seedbed left" in one for one in dry["sentences"])
    assert dry["rows"][-1]["left_by_dryness"] < 0.95
    assert "irrigation" not in dry["inputs"]


def test_inputs_have_the_irrigation_that_was_given() -> None:
    asked = ["season", "--year", "2002", "--sow", "09-15", "--irrigation", "0.5 inch on 09-17"]
    told = json.loads(CliRunner().invoke(fallsown, [*asked, "--json"]).stdout)
    assert told["inputs"]["irrigation"] == "12.7 mm on 09-17"
    watered = irrigated(simulator.sample_weather(), read_irrigation("0.5 inch on 10-22"))
    of_record = simulator.whatif(watered, years="2002", change=["rain november = 11 inch"])
    assert of_record.answer.inputs["irrigation"] == "12.7 mm on 10-22"


def test_a_budget_takes_water_in_a_plan() -> None:
    read = simulator.budget(
        simulator.sample_weather(),
        plan=["irrigation=1 inch on 10-22 + 1 inch on 10-29", "irrigation=none"],
        years="2000:2005",
        sow="10-20",
        seeding="90 lb/acre",
        nitrogen="30 lb/acre",
        nitrogen_timing="sowing",
        irrigation="0.5 inch on 10-25",
    )
    notes = " ".join(read.answer.notes)
    assert "Irrigation of plan A, in every fall: 1.00 in (25.4 mm) on Oct 22" in notes
    assert "Irrigation of plan B, in every fall: none. Water has no price here." in notes
