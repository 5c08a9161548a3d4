"""The engine: one way through, the same bits however the work is cut."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import numpy as np
import pytest

from simulator.parameters.cereals import CEREALS
from simulator.parameters.fertilizers import FERTILIZERS
from simulator.parameters.soils import PREVIOUS_CROPS, SOILS
from simulator.problems import InputError
from simulator.season.compare import compare
from simulator.season.day.record import FIELDS
from simulator.season.one_season import BY_LAYER, run_season
from simulator.season.plan import Plan
from simulator.weather.change import change_weather
from simulator.weather.fall_year import season_day
from simulator.weather.samples import sample_weather, samples

KG_HA = 1.120846673  # of a pound an acre
YEARS = range(2000, 2006)
GRID = {
    "sow": "10-20,11-20",
    "seeding": "60,90 lb/acre",
    "nitrogen": "0,60 lb/acre",
    "nitrogen_timing": "sowing,02-15",
    "end": "03-15,zadoks 31,2000 lb/acre,04-15",
    "years": YEARS,
}


@pytest.fixture(scope="module")
def record():
    return sample_weather()


@pytest.fixture(scope="module")
def grid(record):
    return compare(record, **GRID)


def assert_same_bits(one, other):
    assert set(one.data_vars) == set(other.data_vars)
    for name in one.data_vars:
        np.testing.assert_array_equal(one[name].values, other[name].values, err_msg=name)


def without(record, first: str, last: str):
    """The record with the days from first to last missing."""
    there = ~((record.time >= np.datetime64(first)) & (record.time <= np.datetime64(last)))
    return record.where(there)


def winters(record, years):
    """The record with November to April of some fall years only."""
    kept = np.zeros(record.sizes["time"], dtype=bool)
    for year in years:
        kept |= (record.time.values >= season_day(year, "11-01")) & (
            record.time.values <= season_day(year, "04-30")
        )
    return record.where(record.time.copy(data=kept))


# the shape of the answer


def test_a_grid_has_every_field_with_its_unit(grid):
    assert grid.sizes == {
        "year": 6,
        "sow": 2,
        "seeding": 2,
        "nitrogen": 2,
        "nitrogen_timing": 2,
        "end": 4,
    }
    assert set(grid.data_vars) == set(FIELDS) - {"season_day"}
    assert all(grid[name].attrs["units"] and grid[name].attrs["long_name"] for name in grid)
    assert list(grid.end.values) == ["03-15", "zadoks 31", "2000 lb/acre", "04-15"]
    assert grid.seeding.values == pytest.approx([60 * KG_HA, 90 * KG_HA])


def test_a_grid_says_where_it_comes_from(grid, record):
    assert grid.attrs["invented"] == "yes"
    assert grid.attrs["site"] == record.attrs["site"]
    assert grid.attrs["cereal"] == "rye"
    assert grid.attrs["version"]
    assert grid.attrs["left_out"] == []


def test_a_season_runs_from_september_to_its_end(record):
    days = run_season(record, Plan(), year=2003)
    assert str(days.time.values[0])[:10] == "2003-09-01"
    assert str(days.time.values[-1])[:10] == "2004-04-15"
    assert np.unique(np.diff(days.time.values)) == np.timedelta64(1, "D")
    assert set(days.data_vars) == set(FIELDS) - {"season_day"} | set(BY_LAYER)
    assert days.attrs["end_reached"] == "yes"


@pytest.mark.parametrize("layers", [None, 1, 7])
def test_layers_add_up_to_the_column(record, layers):
    days = run_season(record, Plan(nitrogen="60 lb/acre"), year=2003, layers=layers)
    for by_layer, column in (
        ("nitrate_by_layer_kg_ha", "soil_nitrate_kg_ha"),
        ("water_by_layer_mm", "soil_water_mm"),
    ):
        np.testing.assert_allclose(days[by_layer].sum("layer"), days[column], rtol=1e-12)
        assert (days[by_layer] >= 0.0).all()
        assert days[by_layer].sizes["layer"] == (layers or 9)
    assert (np.diff(days["bottom_cm"]) > 0.0).all()


def test_a_season_closes_its_balances_in_words_a_program_can_read(record):
    days = run_season(record, Plan(nitrogen="60 lb/acre"), year=2003)
    for name in ("water_balance", "nitrogen_balance", "dry_matter_balance"):
        balance = json.loads(days.attrs[name])
        found = sum(balance["in"].values()) - sum(balance["out"].values())
        assert found == pytest.approx(balance["error"], abs=1e-9)
        assert abs(balance["error"]) < 1e-6


# the same bits however the work is cut


@pytest.mark.parametrize("threads", [1, 2, 3])
def test_threads(record, grid, threads):
    assert_same_bits(compare(record, **GRID, threads=threads), grid)


def test_one_run_serves_all_ends(record, grid):
    for end in GRID["end"].split(","):
        alone = compare(record, **{**GRID, "end": end})
        assert_same_bits(alone, grid.sel(end=[end]))


@pytest.mark.parametrize("part", [[2000], [2001, 2002, 2005], [2003, 2004]])
def test_years_may_be_taken_in_parts(record, grid, part):
    assert_same_bits(compare(record, **{**GRID, "years": part}), grid.sel(year=part))


def test_plans_may_be_taken_in_parts(record, grid):
    for name in ("sow", "nitrogen_timing"):
        for value in GRID[name].split(","):
            assert_same_bits(compare(record, **{**GRID, name: value}), grid.sel({name: [value]}))
    for name, texts in (
        ("seeding", ("60 lb/acre", "90 lb/acre")),
        ("nitrogen", ("0 lb/acre", "60 lb/acre")),
    ):
        for place, text in enumerate(texts):
            assert_same_bits(compare(record, **{**GRID, name: text}), grid.isel({name: [place]}))


@pytest.mark.parametrize("end", ["03-15", "zadoks 31", "2000 lb/acre", "04-15"])
@pytest.mark.parametrize("timing", ["sowing", "02-15"])
def test_a_season_ends_where_the_grid_does(record, grid, end, timing):
    plan = Plan(
        sow="10-20", seeding="90 lb/acre", nitrogen="60 lb/acre", nitrogen_timing=timing, end=end
    )
    cell = grid.isel(seeding=1, nitrogen=1).sel(sow="10-20", nitrogen_timing=timing, end=end)
    compared = 0
    for year in YEARS:
        at_end = cell.sel(year=year)
        if np.isnan(at_end.biomass_kg_ha):
            continue
        days = run_season(record, plan, year=year)
        for name in set(days.data_vars) - set(BY_LAYER):
            np.testing.assert_array_equal(days[name].values[-1], at_end[name].values)
        compared += 1
    assert compared >= 3


def test_lists_and_texts_are_the_same(record, grid):
    listed = compare(
        record,
        sow=["10-20", "11-20"],
        seeding=["60 lb/acre", "90 lb/acre"],
        nitrogen=["0 lb/acre", "60 lb/acre"],
        nitrogen_timing=["sowing", "02-15"],
        end=["03-15", "zadoks 31", "2000 lb/acre", "04-15"],
        years=list(YEARS),
    )
    assert_same_bits(listed, grid)


# what-ifs


def test_changes_add_the_case_and_leave_the_rest(record):
    asked = {"sow": "10-20", "nitrogen": "60 lb/acre", "years": YEARS}
    plain = compare(record, **asked)
    change = "rain november = 11 inch"
    both = compare(record, **asked, changes=change)
    assert list(both.case.values) == ["as recorded", "changed"]
    assert_same_bits(both.sel(case="as recorded", drop=True), plain)
    assert_same_bits(
        both.sel(case="changed", drop=True), compare(change_weather(record, change), **asked)
    )
    assert (both.drainage_mm.mean("year").diff("case") > 50.0).all()
    assert both.attrs["changes"]


# ends by stage and by biomass


@pytest.mark.parametrize(
    ("end", "field", "value"),
    [("zadoks 31", "growth_stage_zadoks", 31.0), ("2000 lb/acre", "biomass_kg_ha", 2000 * KG_HA)],
)
def test_an_end_is_the_first_day_that_reaches_it(record, end, field, value):
    plan = {"nitrogen": "60 lb/acre", "end": end}
    days = run_season(record, Plan(**plan), year=2003)
    assert days.attrs["end_reached"] == "yes"
    assert days[field].values[-1] >= value
    assert (days[field].values[:-1] < value).all()


def test_an_end_that_is_never_reached(record):
    asked = {"nitrogen": "0 lb/acre", "years": [2003]}
    grid = compare(record, end="30000 lb/acre,04-15", **asked)
    assert np.isnan(grid.sel(end="30000 lb/acre").biomass_kg_ha).all()
    assert np.isnan(grid.sel(end="30000 lb/acre").drainage_mm).all()
    assert np.isfinite(grid.sel(end="04-15").biomass_kg_ha).all()
    days = run_season(record, Plan(end="30000 lb/acre"), year=2003)
    assert days.attrs["end_reached"] == "no"
    assert str(days.time.values[-1])[:10] == "2004-06-30"


# nitrogen


@pytest.mark.parametrize(
    "timing", ["sowing", "02-15", "sowing + 02-15", "sowing 1/3 + 12-15 1/3 + 02-15 1/3"]
)
def test_dressings_sum_to_the_rate(record, timing):
    grid = compare(record, nitrogen="60,90 lb/acre", nitrogen_timing=timing, years=YEARS)
    applied = grid.fertilizer_kg_ha.values
    expected = np.array([60.0, 90.0]) * KG_HA
    assert applied == pytest.approx(
        np.broadcast_to(expected[:, None, None], applied.shape), rel=1e-6
    )


def test_a_dressing_goes_on_on_its_day(record):
    plan = Plan(nitrogen="90 lb/acre", nitrogen_timing="sowing 1/3 + 02-15 2/3")
    applied = run_season(record, plan, year=2003).fertilizer_kg_ha
    assert float(applied.sel(time="2003-10-19")) == 0.0
    assert float(applied.sel(time="2003-10-20")) == pytest.approx(30 * KG_HA)
    assert float(applied.sel(time="2004-02-14")) == pytest.approx(30 * KG_HA)
    assert float(applied.sel(time="2004-02-15")) == pytest.approx(90 * KG_HA)


# the order of a day


def test_the_soil_drains_before_it_dries(record):
    # a hotter day after rain evaporates more, and drains not a drop less until the morrow
    plan = Plan(sow="10-20")
    days = run_season(record, plan, year=2003)
    draining = days.drainage_mm.diff("time")
    wet = draining.where(draining > 5.0, drop=True).time.values[0]
    hotter = record.copy(deep=True)
    hotter.tmax.loc[{"time": wet}] = float(record.tmax.sel(time=wet)) + 8.0
    dried = run_season(hotter, plan, year=2003)
    at = {"time": wet}
    assert float(dried.drainage_mm.loc[at]) == float(days.drainage_mm.loc[at])
    assert float(dried.evaporation_mm.loc[at]) > float(days.evaporation_mm.loc[at])


# records with holes


def test_a_record_of_winters_runs_and_says_that_it_starts_late(record):
    found = compare(winters(record, [2000, 2001, 2003]), sow="11-10", nitrogen="30 lb/acre")
    assert list(found.year.values) == [2000, 2001, 2003]
    assert np.isfinite(found.biomass_kg_ha).all()
    (note,) = found.attrs["notes"]
    for year in (2000, 2001, 2003):
        assert f"{year} ({year}-11-01)" in note
    days = run_season(winters(record, [2001]), Plan(sow="11-10"), year=2001)
    assert str(days.time.values[0])[:10] == "2001-11-01"
    assert days.attrs["notes"] == [note.split(":")[0] + ": 2001 (2001-11-01)"]


def test_a_whole_record_has_no_note(grid):
    assert grid.attrs["notes"] == []


def test_a_long_gap_costs_the_season_and_is_named(record):
    holed = without(record, "2003-01-03", "2003-01-14")
    found = compare(holed, sow="10-20", years=[2001, 2002, 2003])
    assert list(found.year.values) == [2001, 2003]
    (reason,) = found.attrs["left_out"]
    assert reason.startswith("2002: ")
    assert "from 2003-01-03 to 2003-01-14 (12 days)" in reason
    whole = compare(record, sow="10-20", years=[2001, 2003])
    assert_same_bits(found, whole)


def test_a_gap_before_sowing_only_shortens_the_soils_run_in(record):
    found = compare(without(record, "2002-09-01", "2002-09-20"), sow="10-20", years=[2002])
    assert found.attrs["left_out"] == []
    assert "2002 (2002-09-21)" in found.attrs["notes"][0]


def test_short_gaps_are_filled_and_told(record):
    found = compare(without(record, "2003-01-03", "2003-01-05"), sow="10-20", years=[2002])
    assert found.attrs["left_out"] == []
    assert "2003-01-03..2003-01-05" in found.attrs["filled"]


def test_years_that_the_record_lacks_are_named(record):
    found = compare(record, sow="10-20", years=[1980, 2003, 2040])
    assert list(found.year.values) == [2003]
    assert [reason[:5] for reason in found.attrs["left_out"]] == ["1980:", "2040:"]
    assert "the record has" in found.attrs["left_out"][0]


def test_no_year_left(record):
    with pytest.raises(
        InputError, match=r"No season has whole weather from 10-20 to 04-15"
    ) as error:
        compare(record, sow="10-20", years=[1980])
    assert "1980" in str(error.value)
    with pytest.raises(InputError, match="1980"):
        run_season(record, Plan(), year=1980)
    with pytest.raises(InputError, match="No year given"):
        compare(record, years=[])


@pytest.mark.parametrize(
    ("latitude", "what"),
    [
        (None, "no latitude"),
        (np.nan, "no latitude"),
        (80.0, "out of range"),
        (-31.0, "out of range"),
    ],
)
def test_a_record_without_a_usable_latitude(record, latitude, what):
    for run in (lambda r: compare(r, years=[2003]), lambda r: run_season(r, Plan(), year=2003)):
        with pytest.raises(InputError, match=what) as error:
            run(record.assign_attrs(latitude=latitude))
        assert error.value.problems[0].where == "latitude"
        assert error.value.problems[0].remedy


@pytest.mark.parametrize(
    "asked",
    [
        {"sow": "10-20,10-20"},
        {"nitrogen": "30,30 lb/acre"},
        {"seeding": "90,90 lb/acre"},
        {"end": "04-15,4-15"},
        {"nitrogen_timing": "sowing,sowing"},
    ],
)
def test_a_value_given_twice(record, asked):
    with pytest.raises(InputError, match="given twice"):
        compare(record, years=[2003], **asked)


def test_a_grid_too_large_to_hold(record):
    rates = ",".join(str(n) for n in range(150))
    with pytest.raises(InputError, match="too many for one grid"):
        compare(
            record, nitrogen=f"{rates} lb/acre", seeding=rates.replace("0,1,2,3,4,", "") + " kg/ha"
        )


# every choice, everywhere


@pytest.mark.parametrize("layers", [1, 2, 20, 60])
def test_layers(record, layers):
    found = compare(record, sow="10-20", years=YEARS, layers=layers)
    assert (found.biomass_kg_ha > 0.0).all()
    assert abs(found.water_balance_error_mm).max() < 1e-6
    assert abs(found.nitrogen_balance_error_kg_ha).max() < 1e-6


@pytest.mark.parametrize("layers", [12, 24])
def test_how_soil_is_cut_hardly_moves_the_biomass(record, layers):
    plan = {"sow": "10-20", "nitrogen": "0 lb/acre", "end": "04-15"}
    usual, cut = (
        float(compare(record, **plan, layers=number).biomass_kg_ha.mean())
        for number in (None, layers)
    )
    assert cut == pytest.approx(usual, rel=0.15)


CHOICES = [
    *({"cereal": name} for name in CEREALS),
    *({"soil": name} for name in SOILS),
    *({"previous_crop": name} for name in PREVIOUS_CROPS),
    *({"fertilizer": name} for name in FERTILIZERS),
]


MILD = ("tallow-bend", "sorrel-ledge", "palmetto-wick")


@pytest.mark.parametrize("sample", samples())
def test_every_choice_gives_a_sane_season_on_every_sample(sample):
    record = sample_weather(sample)
    sow = "10-10,11-05,12-08" if sample in MILD else "09-20,10-20,11-20"  # when growers sow there
    for choice in CHOICES:
        found = compare(record, **choice, sow=sow, nitrogen="0,90 lb/acre")
        biomass = found.biomass_kg_ha.values
        assert found.sizes["year"] == 30, choice
        assert np.isfinite(biomass).all(), choice
        assert (biomass >= 0.0).all(), choice
        assert (biomass <= 15000.0).all(), choice
        assert (found.nitrogen_uptake_kg_ha <= 350.0).all(), choice
        assert (found.growth_stage_zadoks <= 91.0).all(), choice


@pytest.mark.practice("from memory: a closed canopy makes 200 to 250 kg/ha a day at most")
@pytest.mark.parametrize(
    "sample",
    [
        pytest.param(
            name,
            marks=pytest.mark.xfail(
                reason="triticale fed 150 lb/acre made 303 kg/ha, roots too, in a day at"
                " tallow-bend and 314 at sorrel-ledge: see docs/calibration.md"
            ),
        )
        if name in {"tallow-bend", "sorrel-ledge"}
        else name
        for name in samples()
    ],
)
def test_growth_of_a_day_has_a_ceiling(sample):
    record = sample_weather(sample)
    for cereal in CEREALS:
        for year in (1999, 2010, 2021):
            plan = Plan(
                cereal=cereal, nitrogen="150 lb/acre", nitrogen_timing="sowing + 02-15", end="05-31"
            )
            days = run_season(record, plan, year=year)
            growth = days.growth_kg_ha.diff("time").values
            assert growth.min() >= 0.0
            assert growth.max() <= 300.0


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="glibc marks what is freed")
def test_no_season_works_in_memory_that_was_freed() -> None:
    """With freed memory written over, a season by itself and in a grid are still the same."""
    code = """if True:
        import simulator
        record = simulator.sample_weather()
        plan = simulator.Plan(nitrogen="30 lb/acre")
        days = simulator.run_season(record, plan, year=2015)
        grid = simulator.compare(record, sow="10-20", nitrogen="30 lb/acre", years=[2015])
        print(float(days["biomass_kg_ha"][-1]), float(grid["biomass_kg_ha"].squeeze()))
    """
    marked = {**os.environ, "GLIBC_TUNABLES": "glibc.malloc.perturb=165"}
    ended = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, env=marked
    )
    assert ended.returncode == 0, ended.stderr
    alone, in_grid = map(float, ended.stdout.split())
    assert alone == in_grid > 1000.0
