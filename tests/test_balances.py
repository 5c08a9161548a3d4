"""What must hold in any weather, soil and plan: nothing lost, nothing from nowhere."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.parameters.cereals import CEREALS
from simulator.parameters.fertilizers import FERTILIZERS
from simulator.parameters.soils import PREVIOUS_CROPS, SOILS, PreviousCrop, Soil
from simulator.process.development import GERMINATION, emergence_thermal_time, seed_zone_moisture
from simulator.process.frost import soil_temperature
from simulator.season.compare import compare
from simulator.season.day.drivers import SNOW_PER_WATER, SOIL_FOLLOWS
from simulator.season.one_season import run_season
from simulator.season.plan import Plan
from simulator.weather.change import change_weather
from simulator.weather.record import make_record
from simulator.weather.samples import sample_weather
from tests.fuzz.balances import open_balances

YEAR = 2001
CLOSE = 1e-6  # mm or kg/ha
always = settings(max_examples=60)
bare = PreviousCrop(name="bare", residue=0.0)

# sums that only grow, and amounts that are never below nothing
SUMS = (
    "nitrate_leached_kg_ha",
    "drainage_mm",
    "runoff_mm",
    "rain_mm",
    "evaporation_mm",
    "transpiration_mm",
    "denitrified_kg_ha",
    "volatilised_kg_ha",
    "fertilizer_kg_ha",
    "growth_kg_ha",
    "killed_biomass_kg_ha",
    "killed_nitrogen_kg_ha",
    "shed_leaf_kg_ha",
    "shed_nitrogen_kg_ha",
    "thermal_time_degC_d",
)
AMOUNTS = (
    *SUMS,
    "biomass_kg_ha",
    "root_biomass_kg_ha",
    "nitrogen_uptake_kg_ha",
    "root_nitrogen_kg_ha",
    "leaf_area_index",
    "plants_m2",
    "shoots_m2",
    "soil_water_mm",
    "soil_nitrate_kg_ha",
    "soil_ammonium_kg_ha",
    "litter_nitrogen_kg_ha",
    "snow_water_mm",
    "root_depth_cm",
    "water_stress",
    "nitrogen_nutrition_index",
)


def any_weather(seed):
    """A season of random weather: from the tropics to a hard winter, drought to deluge."""
    random = np.random.default_rng(seed)
    days = np.datetime64(f"{YEAR}-07-01") + np.arange(365)
    turn = np.cos(2.0 * np.pi * (np.arange(365) - 20) / 365.0)  # warmest in late July
    mean = random.uniform(2, 24) + random.uniform(2, 18) * turn
    mean += random.normal(0.0, random.uniform(1, 7), 365)
    snap = random.integers(120, 260)  # a cold wave that kills, in every other season
    mean[snap : snap + 7] -= random.choice([0.0, 30.0])
    mean = np.clip(mean, -45.0, 40.0)
    half = random.uniform(0.0, random.uniform(1, 11), 365)
    wet = random.random(365) < random.uniform(0.02, 0.7)
    rain = np.where(wet, random.exponential(random.uniform(1, 30), 365), 0.0)
    return make_record(
        days,
        mean + half,
        mean - half,
        np.minimum(rain, 400.0),
        site=f"Anywhere {seed}",
        latitude=random.uniform(25, 60),
    )


def any_ground(seed):
    """A packaged soil, its depth, speed and slope of any kind."""
    random = np.random.default_rng(seed)
    return dataclasses.replace(
        list(SOILS.values())[random.integers(len(SOILS))],
        depth=random.uniform(30, 250),
        rootable=random.uniform(20, 250),
        drain_rate=random.uniform(0.05, 1.0),
        curve_number=random.uniform(30, 98),
        organic_matter=random.uniform(0.2, 8),
        denitrification_rate=random.uniform(0, 1),
    )


seeds = st.integers(0, 2**32 - 1)  # drawn whole, for variety; the seed names the season
weather, ground = seeds.map(any_weather), seeds.map(any_ground)
plans = st.builds(
    Plan,
    cereal=st.sampled_from(list(CEREALS)),
    sow=st.sampled_from(["08-15", "09-20", "10-20", "11-20", "12-31"]),
    seeding=st.sampled_from(["10 kg/ha", "90 lb/acre", "400 kg/ha"]),
    nitrogen=st.sampled_from(["0 lb/acre", "30 lb/acre", "90 lb/acre", "400 kg/ha"]),
    nitrogen_timing=st.sampled_from(["sowing", "02-15", "sowing 1/3 + 12-15 1/3 + 03-01 1/3"]),
    end=st.sampled_from(["03-15", "04-15", "06-30", "zadoks 61"]),
    fertilizer=st.sampled_from(list(FERTILIZERS)),
)
tender = st.builds(
    Plan,
    cereal=st.sampled_from(["oat", "barley", "wheat"]),
    sow=st.sampled_from(["09-20", "10-20", "11-20"]),
    nitrogen=st.just("90 lb/acre"),
    end=st.just("06-30"),
)
layer_numbers = st.one_of(st.none(), st.integers(1, 20))
crops = st.sampled_from(list(PREVIOUS_CROPS))


@pytest.mark.analytic("conservation of mass: what came in is there or went out, every day")
@given(weather, ground, plans, crops, layer_numbers)
@always
def test_every_day_of_every_season_balances(record, soil, plan, crop, layers):
    days = run_season(record, plan, soil=soil, previous_crop=crop, year=YEAR, layers=layers)
    rained = record.rain.sel(time=days.time).cumsum("time")
    assert abs(days.rain_mm - rained).max() < CLOSE
    told = {
        "water": days.water_balance_error_mm,
        "nitrogen": days.nitrogen_balance_error_kg_ha,
        "dry matter": days.dry_matter_balance_error_kg_ha,
    }
    for kind, error in open_balances(days, record.rain).items():
        assert abs(error).max() < CLOSE
        assert abs(told[kind]).max() < CLOSE
        assert abs(error - told[kind]).max() < CLOSE


@given(weather, ground, plans, crops, layer_numbers)
@always
def test_nothing_is_negative_and_sums_only_grow(record, soil, plan, crop, layers):
    days = run_season(record, plan, soil=soil, previous_crop=crop, year=YEAR, layers=layers)
    for name in AMOUNTS:
        assert float(days[name].min()) >= -1e-9, name
    for name in SUMS:
        assert float(days[name].diff("time").min()) >= -1e-9, name
    assert float(days.water_stress.max()) <= 1.0
    deepest = min(soil.rootable, soil.depth, CEREALS[plan.cereal].deepest_roots)
    assert float(days.root_depth_cm.max()) <= deepest + 1e-9
    pores = 10.0 * soil.depth * soil.saturation
    assert float(days.soil_water_mm.max()) <= pores + CLOSE
    alive = days.stand_alive.values[1:] > 0.0
    assert (np.diff(days.growth_stage_zadoks.values)[alive] >= -1e-9).all()


@given(weather, ground, tender)
@always
def test_nothing_grows_under_snow_in_frost_or_when_dead(record, soil, plan):
    days = run_season(record, plan, soil=soil, year=YEAR)
    mean = 0.5 * (record.tmax + record.tmin).sel(time=days.time).values
    depth = SNOW_PER_WATER * days.snow_water_mm.values
    temperature, at = mean[0], []
    for today, snow in zip(mean, depth, strict=True):
        temperature = soil_temperature(temperature, today, snow, SOIL_FOLLOWS)
        at.append(temperature)
    alive = days.stand_alive.values > 0.0
    dead = ~alive & (np.maximum.accumulate(alive))
    grew = np.diff(days.growth_kg_ha.values, prepend=0.0)
    assert (grew[(depth >= 5.0) | (np.array(at) <= 0.0)] == 0.0).all()
    # the kill comes late in a day that began alive
    assert (grew[dead & np.roll(dead, 1)] == 0.0).all()
    for name in (
        "biomass_kg_ha",
        "root_biomass_kg_ha",
        "nitrogen_uptake_kg_ha",
        "leaf_area_index",
        "plants_m2",
        "shoots_m2",
    ):
        assert (days[name].values[dead] == 0.0).all(), name
    assert not (np.diff(alive.astype(int))[dead[1:]] > 0).any()


def test_a_hard_winter_kills_an_oat_for_good():
    # the property above is idle unless stands do die
    harder = change_weather(sample_weather("hollin-reach"), "temperature dec..feb - 30 degF")
    days = run_season(harder, Plan(cereal="oat", sow="09-20", end="05-31"), year=2010)
    alive = days.stand_alive.values
    assert alive.max() == 1.0
    assert alive[-1] == 0.0
    assert float(days.killed_biomass_kg_ha[-1]) > 0.0
    assert float(days.biomass_kg_ha[-1]) == 0.0


@given(weather, ground, layer_numbers, st.data())
@always
def test_on_bare_soil_more_rain_never_drains_less(record, soil, layers, data):
    # sown the day before the end, a seed cannot emerge; without old residue nothing covers the soil
    plan = Plan(sow="06-29", end="06-30")
    random = np.random.default_rng(data.draw(st.integers(0, 2**32 - 1)))
    wetter = record.copy(deep=True)
    wetter["rain"] = record.rain * np.where(random.random(365) < 0.3, random.uniform(1, 4, 365), 1)
    drained = [
        run_season(
            w, plan, soil=soil, previous_crop=bare, year=YEAR, layers=layers
        ).drainage_mm.values
        for w in (record, wetter)
    ]
    assert (drained[1] >= drained[0] - 1e-9).all()


def desert(rain=0.0, tmax=25.0, tmin=12.0):
    """Return a season with every day alike."""
    days = np.datetime64(f"{YEAR}-07-01") + np.arange(365)
    return make_record(
        days,
        np.full(365, tmax),
        np.full(365, tmin),
        np.full(365, rain),
        site="Desert",
        latitude=31.0,
    )


@pytest.mark.parametrize("rain", [0.0, 0.5])
def test_a_seed_in_dry_ground_does_not_emerge(rain):
    dry = dataclasses.replace(PREVIOUS_CROPS["cotton"], available_water=0.0)
    found = run_season(desert(rain), Plan(sow="10-20", end="12-15"), previous_crop=dry, year=YEAR)
    assert float(found.biomass_kg_ha.max()) == 0.0
    assert float(found.stand_alive.max()) == 0.0


@pytest.mark.analytic("moisture counts until the seed has germinated, then warmth alone")
def test_a_germinated_seed_comes_up_whatever_the_topsoil_does():
    # one layer of 30 cm, a third of it surface: its water is on record, so that the days can
    # be counted apart
    shallow = dataclasses.replace(SOILS["sandy loam"], depth=30.0, rootable=30.0)
    drying = dataclasses.replace(bare, available_water=1.0)
    days = run_season(
        desert(),
        Plan(sow="09-02", end="01-31"),
        soil=shallow,
        previous_crop=drying,
        year=YEAR,
        layers=1,
    )
    emerged = np.flatnonzero(days.stand_alive.values)[0]
    sown = int((np.datetime64(f"{YEAR}-09-02") - days.time.values[0]) / np.timedelta64(1, "D"))
    warmth = float(days.thermal_time_degC_d[sown])
    dry, full = (100.0 * share for share in (shallow.wilting_point, shallow.field_capacity))
    needed = emergence_thermal_time(CEREALS["rye"].sowing_depth)

    def emergence(until):
        """Day of emergence where moisture counts until a thermal time; None where it never is."""
        so_far = 0.0
        for day in range(sown, days.sizes["time"]):
            moist = seed_zone_moisture(float(days.soil_water_mm[day - 1]) / 3.0, dry, full)
            so_far += warmth * (moist if so_far < until else 1.0)
            if so_far >= needed:
                return day
        return None

    assert emerged == emergence(GERMINATION)
    assert emergence(needed) is None  # the topsoil is dry enough to tell


@pytest.mark.parametrize("layers", [12, 24, 60])
def test_drying_soil_evaporates_the_same_however_it_is_cut(layers):
    # the default layers and these have an edge at the depth that dries; nothing drains
    plan = Plan(sow="06-29", end="06-30")
    dried = [
        run_season(desert(), plan, previous_crop=bare, year=YEAR, layers=cut).evaporation_mm.values
        for cut in (None, layers)
    ]
    assert dried[0][-1] > 5.0
    assert dried[1] == pytest.approx(dried[0], abs=1e-9)


def test_no_soil_dries_below_air_dry():
    days = run_season(desert(), Plan(sow="06-29", end="06-30"), previous_crop=bare, year=YEAR)
    soil = SOILS["sandy loam"]
    start = soil.wilting_point + 0.4 * (soil.field_capacity - soil.wilting_point)
    assert float(days.evaporation_mm[-1]) <= 100.0 * (start - 0.5 * soil.wilting_point) + CLOSE


def test_without_frost_no_stand_dies_of_it():
    days = run_season(
        desert(rain=2.0, tmax=9.0, tmin=0.0), Plan(sow="09-20", end="06-30"), year=YEAR
    )
    assert days.stand_alive[-1] == 1.0
    assert float(days.killed_biomass_kg_ha.max()) == 0.0
    assert len(np.unique(days.plants_m2.values[days.stand_alive.values > 0.0])) == 1


def test_a_ripe_stand_has_no_green_leaf():
    days = run_season(
        desert(rain=2.0, tmax=22.0, tmin=4.0),
        Plan(sow="09-20", nitrogen="60 lb/acre", end="06-30"),
        year=YEAR,
    )
    ripe = days.growth_stage_zadoks.values >= 91.0
    assert ripe.any()
    assert float(days.leaf_area_index.max()) > 1.0
    assert (days.leaf_area_index.values[ripe] < 1e-9).all()


def test_litter_waits_in_air_dry_soil():
    asked = {"sow": "10-20", "nitrogen": "90 lb/acre", "end": "12-31"}
    left = {}
    for name, available, rain in (("dry", 0.0, 0.0), ("moist", 1.0, 3.0)):
        crop = dataclasses.replace(bare, available_water=available)
        days = run_season(
            desert(rain), Plan(**asked, fertilizer="poultry litter"), previous_crop=crop, year=YEAR
        )
        left[name] = (
            days.litter_nitrogen_kg_ha.sel(time=f"{YEAR}-10-20").values,
            float(days.litter_nitrogen_kg_ha[-1]),
        )
    organic = 0.65 * float(days.fertilizer_kg_ha[-1])
    assert left["dry"][0] <= organic + CLOSE
    assert left["dry"][1] > 0.9 * organic
    assert left["moist"][1] < 0.7 * organic


# what more of one thing does to another, on the samples


@pytest.fixture(scope="module")
def mild():
    return sample_weather()


@pytest.mark.xfail(
    reason="27 of 600 steps of rate lose up to 337 kg/ha, the mean of falls none: a stand with a"
    " little nitrogen from the start sheds winter leaves that a starved one never made, and their"
    " nitrogen does not come back to it: see docs/calibration.md"
)
def test_more_nitrogen_at_sowing_never_lowers_biomass(mild):
    grid = compare(mild, nitrogen="0,15,30,60,90,150 lb/acre", nitrogen_timing="sowing")
    assert float(grid.biomass_kg_ha.diff("nitrogen").min()) >= -1e-6


def test_more_nitrogen_in_spring_never_lowers_biomass(mild):
    grid = compare(mild, nitrogen="0,15,30,60,90,150 lb/acre", nitrogen_timing="02-15")
    assert float(grid.biomass_kg_ha.diff("nitrogen").min()) >= -1e-6


def test_more_nitrogen_never_lowers_the_mean_biomass_of_a_mild_place(mild):
    grid = compare(mild, nitrogen="0,15,30,60,90,150 lb/acre", nitrogen_timing="sowing,02-15")
    assert float(grid.biomass_kg_ha.mean("year").diff("nitrogen").min()) >= 0.0


@pytest.mark.parametrize(
    "sample", ["sorrel-ledge", "hollin-reach", "pellow-strand", "quiver-flats", "palmetto-wick"]
)
def test_more_nitrogen_pays_in_the_mean_of_every_climate(sample):
    grid = compare(sample_weather(sample), nitrogen="0,30,60,90 lb/acre")
    assert float(grid.biomass_kg_ha.mean("year").diff("nitrogen").min()) >= 0.0


@pytest.mark.xfail(
    reason="2 of 90 steps of sowing gain, 49 and 20 kg/ha: a stand sown on 20 October loses its"
    " first leaves of age in November and enters December with less leaf than one sown on"
    " 5 November: see docs/calibration.md"
)
def test_earlier_sowing_never_lowers_autumn_biomass(mild):
    grid = compare(mild, end="12-31", nitrogen="0 lb/acre").biomass_kg_ha
    assert float(grid.diff("sow").max()) <= 1e-6


def test_earlier_sowing_never_lowers_the_mean_autumn_biomass(mild):
    grid = compare(mild, end="12-31", nitrogen="0,60 lb/acre").biomass_kg_ha
    assert float(grid.mean("year").diff("sow").max()) <= 0.0


def anthesis(record, year):
    """Days from 1 July to the start of anthesis; endless where June is too early for it."""
    days = run_season(record, Plan(nitrogen="60 lb/acre", end="zadoks 61"), year=year)
    assert days.stand_alive[-1] == 1.0
    if days.attrs["end_reached"] == "no":
        return np.inf
    return (days.time.values[-1] - np.datetime64(f"{year}-07-01")) / np.timedelta64(1, "D")


def test_a_colder_place_flowers_later(mild):
    years = range(1996, 2024, 4)
    places = [sample_weather(name) for name in ("tallow-bend", "sorrel-ledge", "pellow-strand")]
    warmth = [float(place.tmax.mean()) for place in places]
    assert warmth == sorted(warmth, reverse=True)
    dates = [np.mean([anthesis(place, year) for year in years]) for place in places]
    assert np.isfinite(dates[0])
    assert dates == sorted(dates)
    # and the same weather, colder in spring
    colder = change_weather(mild, "temperature feb..jun - 6 degF")
    assert all(anthesis(colder, year) > anthesis(mild, year) for year in years)


def test_a_cover_drains_and_leaches_less_than_bare_soil(mild):
    asked = {"nitrogen": "0 lb/acre", "end": "04-15"}
    cover = compare(mild, sow="10-20", **asked).squeeze()
    none = compare(mild, sow="04-14", **asked).squeeze()
    assert (none.biomass_kg_ha == 0.0).all()
    assert float(cover.drainage_mm.mean()) < float(none.drainage_mm.mean())
    assert float(cover.nitrate_leached_kg_ha.mean()) < float(none.nitrate_leached_kg_ha.mean())
    assert (cover.nitrate_leached_kg_ha <= none.nitrate_leached_kg_ha + CLOSE).mean() >= 0.9


@pytest.mark.parametrize("sample", ["tallow-bend", "sorrel-ledge", "pellow-strand"])
def test_more_cover_never_raises_mean_leaching(sample):
    grid = compare(
        sample_weather(sample),
        sow="09-20,10-20,11-20,12-08",
        nitrogen="0,60 lb/acre",
        nitrogen_timing="02-15",
        seeding="30,90 lb/acre",
    )
    leached = grid.nitrate_leached_kg_ha.mean("year")
    assert float(leached.diff("sow").min()) >= -0.05  # later sown, thinner cover
    assert float(leached.diff("seeding").max()) <= 0.05


@pytest.mark.published(
    "USDA-NRCS, Carbon to Nitrogen Ratios in Cropping Systems: vegetative rye 26, at anthesis 37"
    " (their order)"
)
def test_carbon_to_nitrogen_rises_with_stage(mild):
    grid = compare(
        mild, sow="10-20", nitrogen="30 lb/acre", end="zadoks 31,zadoks 45,zadoks 61,zadoks 75"
    )
    assert (grid.carbon_to_nitrogen.mean("year").diff("end") > 0.0).all()


@given(st.floats(0, 200), st.floats(0, 60))
@settings(max_examples=20)
def test_a_soil_without_organic_matter_makes_no_nitrogen(mild, nitrate, ammonium):
    # least organic matter and no microbes' rate to speak of: what is there at the end was there
    poor = Soil(
        name="poor",
        organic_matter=0.2,
        mineralisation_rate=2e-5,
        immobilisation_rate=0.0,
        denitrification_rate=0.0,
    )
    left = dataclasses.replace(bare, residual_nitrate=nitrate, residual_ammonium=ammonium)
    days = run_season(mild, Plan(sow="04-14"), soil=poor, previous_crop=left, year=2003)
    last = days.isel(time=-1)
    kept = last.soil_nitrate_kg_ha + last.soil_ammonium_kg_ha + last.nitrate_leached_kg_ha
    assert float(last.mineralised_kg_ha) < 1.0
    assert float(kept) == pytest.approx(
        nitrate + ammonium + float(last.mineralised_kg_ha), abs=CLOSE
    )
