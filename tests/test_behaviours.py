"""What the whole must show on the default sample, a mild humid winter, over its thirty falls.

Common practice, and published trials where named. The defaults were fitted to these too, on seven
of the falls. Where one of these fails, the process is mended, not the test.
"""

import numpy as np
import pytest

import simulator

SOWINGS = ["10-20", "11-05", "11-20", "12-08"]  # early to late
DRENCHED = "rain november = 11 inch"
PRACTICE = "common practice in mild humid winters, no source"


@pytest.fixture(scope="module")
def means():
    """Mean over the falls: sow x seeding x nitrogen x timing x end x case."""
    grid = simulator.compare(
        simulator.sample_weather(),
        sow=SOWINGS,
        seeding="60,90 lb/acre",
        nitrogen="0,30,60,90 lb/acre",
        nitrogen_timing=["sowing", "02-15"],
        end=["03-15", "04-15"],
        changes=[DRENCHED],
    )
    assert grid.sizes["year"] == 30
    return grid.mean("year")


def usual(means, **where):
    """Pick one plan: 90 lb/ac of seed, mid-April, as recorded, nitrogen at sowing."""
    plan = {"nitrogen_timing": "sowing", "end": "04-15", "case": "as recorded"} | where
    seeding = plan.pop("seeding", 1)
    return means.isel(seeding=seeding).sel(plan)


def response(means, **where):
    """Biomass over none, by sowing date and rate [kg/ha]."""
    biomass = usual(means, **where)["biomass_kg_ha"]
    return (biomass - biomass.isel(nitrogen=0)).isel(nitrogen=slice(1, None))


@pytest.mark.fitted(PRACTICE)
def test_each_earlier_sowing_makes_more(means):
    by_date = usual(means)["biomass_kg_ha"].transpose("sow", "nitrogen").values
    assert (np.diff(by_date, axis=0) < 0).all()


@pytest.mark.fitted(
    "Huddell et al. (2024), Scientific Data 11:200: 40 and 80 kg/ha of seed 3327 and 3394, 2446 and"
    " 2700 kg/ha at one site; within 8 % is common practice"
)
def test_sixty_and_ninety_pounds_of_seed_come_out_alike(means):
    thin = usual(means, seeding=0)["biomass_kg_ha"].values
    thick = usual(means, seeding=1)["biomass_kg_ha"].values
    assert np.abs(thin / thick - 1.0) == pytest.approx(0.0, abs=0.08)


@pytest.mark.fitted(PRACTICE)
def test_four_more_weeks_from_mid_march_about_double_the_biomass(means):
    march = usual(means, end="03-15")["biomass_kg_ha"].mean()
    april = usual(means, end="04-15")["biomass_kg_ha"].mean()
    assert 1.5 <= float(april / march) <= 2.5


@pytest.mark.fitted(PRACTICE)
@pytest.mark.parametrize("sow", SOWINGS)
def test_four_more_weeks_about_double_the_biomass_of_each_sowing(means, sow):
    march = usual(means, end="03-15", sow=sow)["biomass_kg_ha"].mean()
    april = usual(means, end="04-15", sow=sow)["biomass_kg_ha"].mean()
    assert 1.5 <= float(april / march) <= 2.5


@pytest.mark.fitted(PRACTICE)
def test_nitrogen_at_sowing_pays_in_normal_falls(means):
    gained = response(means) / means["nitrogen"].isel(nitrogen=slice(1, None))
    assert (gained > 10.0).all()  # kg of biomass per kg of nitrogen


@pytest.mark.fitted(PRACTICE)
@pytest.mark.parametrize("rate", [1, 2, 3])
def test_a_drenched_november_at_least_halves_the_response_of_nitrogen_on_before_it(means, rate):
    # the later sowings get their nitrogen during the month or after it
    normal = response(means).isel(sow=0, nitrogen=rate - 1)
    drenched = response(means, case="changed").isel(sow=0, nitrogen=rate - 1)
    assert float(drenched) <= 0.5 * float(normal)


@pytest.mark.fitted(PRACTICE)
def test_nitrogen_held_until_mid_february_keeps_its_response(means):
    normal = response(means, nitrogen_timing="02-15")
    drenched = response(means, nitrogen_timing="02-15", case="changed")
    assert (drenched >= 2.0 / 3.0 * normal).all()


@pytest.mark.fitted(
    "Huddell et al. (2024), Scientific Data 11:200, rye at Headland: shoots recover a third to two"
    " fifths of the nitrogen applied; 25 to 50 % taken as the band"
)
def test_shoots_recover_a_quarter_to_a_half_of_the_nitrogen(means):
    uptake = usual(means)["nitrogen_uptake_kg_ha"]
    more = (uptake - uptake.isel(nitrogen=0)).isel(nitrogen=slice(1, None))
    recovered = more / means["nitrogen"].isel(nitrogen=slice(1, None))
    assert float(recovered.min()) >= 0.25
    assert float(recovered.max()) <= 0.50


@pytest.mark.fitted(
    "Huddell et al. (2024), Scientific Data 11:200: biomass of 5,695 samples, p5 205 and p95 10026"
    " kg/ha; nitrogen 0.6 to 1.6 % at mid-April (their Headland rows 0.68 to 1.40)"
)
def test_biomass_and_nitrogen_lie_where_trials_lie(means):
    stand = usual(means)
    assert float(stand["biomass_kg_ha"].min()) >= 205.0
    assert float(stand["biomass_kg_ha"].max()) <= 10026.0
    assert float(stand["nitrogen_percent"].min()) >= 0.6
    assert float(stand["nitrogen_percent"].max()) <= 1.6


@pytest.mark.fitted(PRACTICE)
def test_mid_december_with_ninety_pounds_equals_late_october_with_none(means):
    grid = simulator.compare(
        simulator.sample_weather(),
        sow=["10-15", "10-20", "10-25", "12-05", "12-08", "12-12"],
        nitrogen="0,90 lb/acre",
    )["biomass_kg_ha"].mean("year")
    early = grid.isel(sow=slice(0, 3), nitrogen=0).values.ravel()
    late = grid.isel(sow=slice(3, 6), nitrogen=1).values.ravel()
    assert np.abs(late[:, None] / early - 1.0) == pytest.approx(0.0, abs=0.25)


@pytest.mark.fitted(PRACTICE)
def test_after_a_cool_dry_fall_the_second_sowing_date_often_equals_the_first():
    grid = simulator.compare(
        simulator.sample_weather(),
        sow=SOWINGS[:2],
        nitrogen="0,60 lb/acre",
        changes=["temperature oct..dec - 5 degF", "rain oct..dec * 0.25"],
    )["biomass_kg_ha"]
    second_holds = (grid.isel(sow=1) >= grid.isel(sow=0)).mean("year").squeeze()
    usual, cool_dry = (second_holds.sel(case=case) for case in ("as recorded", "changed"))
    assert (cool_dry > usual).all()
    assert (cool_dry >= 1.0 / 3.0).all()
