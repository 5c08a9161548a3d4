"""Organic matter of named soils by latitude, and that which was measured, on every way through."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

from simulator.answers.sensitivity.calculate import Field, SiteSeasons
from simulator.parameters.cereals import rye
from simulator.parameters.fertilizers import fertilizer
from simulator.parameters.files import read_parameters
from simulator.parameters.soils import MIDDLE, PREVIOUS_CROPS, SOILS, Soil, previous_crop
from simulator.season.compare import compare
from simulator.season.day.record import FIELDS
from simulator.season.ensemble import DatedPlan, grow_seasons
from simulator.season.one_season import run_season
from simulator.season.plan import Plan, dressings, end
from simulator.season.seasons import cut_seasons
from simulator.season.soil_test import with_organic_matter
from simulator.trials import agreement
from simulator.trials.fit_objective import Trial
from simulator.trials.observations import Plots, read_plots
from simulator.weather.samples import sample_weather

LATITUDES = (31.0, 37.0, 44.0)
RISE = 0.05  # for each degree; none of these checks hangs on the default
GROUND = dataclasses.replace(SOILS["loam"], organic_matter=2.0, organic_matter_gradient=RISE)
PLAN = Plan(sow="10-20", seeding="90 lb/acre", nitrogen="30 lb/acre", end="04-15")
SPEC = Soil.specs()["organic_matter"]
soils = st.sampled_from(list(SOILS.values()))
north = st.floats(0, 66)


def found_at(latitude: float) -> float:
    """Return the organic matter of `GROUND` at a latitude [percent], by hand."""
    return 2.0 * math.exp(RISE * (latitude - 37.0))


def at(latitude: float) -> xr.Dataset:
    """Return weather alike but for where it is said to be."""
    record = sample_weather()
    record.attrs["latitude"] = latitude
    return record


@pytest.mark.parametrize("name", list(SOILS))
def test_a_texture_has_what_is_listed_at_37_degrees(name: str) -> None:
    assert MIDDLE == 37.0
    assert SOILS[name].at(37.0).organic_matter == pytest.approx(SOILS[name].organic_matter)


@pytest.mark.analytic("growth by a constant share: exp(0.05 x 10) ten degrees north of 37")
def test_organic_matter_rises_by_a_share_for_each_degree() -> None:
    assert GROUND.at(47.0).organic_matter == pytest.approx(2.0 * math.exp(0.5))
    assert GROUND.at(27.0).organic_matter == pytest.approx(2.0 * math.exp(-0.5))


@given(soils, north, north, st.floats(0, 0.15))
def test_a_soil_at_a_place_stays_as_it_is_there(
    ground: Soil, here: float, there: float, rise: float
) -> None:
    ground = dataclasses.replace(ground, organic_matter_gradient=rise)
    placed = ground.at(here)
    assert placed.at(here) == placed.at(there) == placed
    assert SPEC.low <= placed.organic_matter <= SPEC.high
    if here >= there:
        assert placed.organic_matter >= ground.at(there).organic_matter
    same = dataclasses.replace(
        placed, organic_matter=ground.organic_matter, organic_matter_gradient=rise
    )
    assert same == ground  # nothing else differs


@given(soils, north, st.floats(SPEC.low, SPEC.high))
def test_what_was_measured_holds_at_any_latitude(ground: Soil, here: float, given: float) -> None:
    assert ground.measured(given).at(here).organic_matter == given
    assert ground.at(here).measured(given) == ground.measured(given)
    assert with_organic_matter(ground, given) == ground.measured(given)
    assert with_organic_matter(ground, None) is ground


# every way in which a soil comes to a run: the same as with the organic matter put in by hand


def same_days(one: xr.Dataset, other: xr.Dataset) -> None:
    for name in FIELDS:
        if name in one:
            np.testing.assert_array_equal(one[name], other[name], err_msg=name)


@pytest.mark.parametrize("latitude", LATITUDES)
def test_a_season_has_the_organic_matter_of_its_latitude(latitude: float) -> None:
    record = at(latitude)
    named = run_season(record, PLAN, soil=GROUND, year=2005)
    by_hand = GROUND.measured(found_at(latitude))
    same_days(named, run_season(record, PLAN, soil=by_hand, year=2005))


@pytest.mark.parametrize("latitude", LATITUDES)
def test_a_grid_has_the_organic_matter_of_its_latitude(latitude: float) -> None:
    asked = {"sow": "10-20", "nitrogen": "0,30 lb/acre", "years": [2004, 2005]}
    named = compare(at(latitude), soil=GROUND, **asked)
    by_hand = compare(at(latitude), soil=GROUND.measured(found_at(latitude)), **asked)
    same_days(named, by_hand)


@pytest.mark.parametrize("latitude", LATITUDES)
def test_measured_organic_matter_is_taken_as_given(latitude: float) -> None:
    record = at(latitude)
    by_hand = dataclasses.replace(GROUND, organic_matter=1.4, organic_matter_gradient=0.0)
    same_days(
        run_season(record, PLAN, soil=GROUND, organic_matter=1.4, year=2005),
        run_season(record, PLAN, soil=by_hand, year=2005),
    )
    asked = {"sow": "10-20", "nitrogen": "0 lb/acre", "years": [2005]}
    same_days(
        compare(record, soil=GROUND, organic_matter=1.4, **asked),
        compare(record, soil=by_hand, **asked),
    )


def test_more_organic_matter_feeds_a_stand_more() -> None:
    # the checks above are idle unless organic matter matters to a run
    poor, rich = (
        float(
            run_season(at(37.0), PLAN, soil=GROUND.measured(percent), year=2005).mineralised_kg_ha[
                -1
            ]
        )
        for percent in (1.0, 4.0)
    )
    assert rich > poor


def test_seasons_by_the_thousand_have_it_too() -> None:
    record = at(44.0)
    cut = cut_seasons(record, [2005], [PLAN.sow], [end(PLAN.end)])

    def grown(ground: Soil) -> np.ndarray:
        stand = DatedPlan(
            year=2005,
            first=int(cut.spans[0][0]),
            latitude=44.0,
            sow=PLAN.sow,
            seeding=100.0,
            rates=(0.0, 30.0),
            timing=dressings("sowing"),
            ends=("04-15",),
            cereal=rye,
            soil=ground,
            previous_crop=previous_crop("cotton"),
            fertilizer=fertilizer("ammonium nitrate"),
        )
        return grow_seasons(stand, cut.tmax, cut.tmin, cut.rain)

    np.testing.assert_array_equal(grown(GROUND), grown(GROUND.measured(found_at(44.0))))
    assert (grown(GROUND) != grown(GROUND.measured(2.0))).any()


def test_what_an_answer_hangs_on_is_tried_at_the_places_latitude() -> None:
    crop, feed = previous_crop("cotton"), fertilizer("ammonium nitrate")
    field = Field(
        cereal=rye,
        soil=GROUND,
        previous_crop=crop,
        fertilizer=feed,
        sow="10-20",
        end="04-15",
        seeding=100.0,
        nitrogen=60.0,
    )
    place = SiteSeasons(at(44.0), field, [2005])
    np.testing.assert_array_equal(
        place.outcomes(rye, GROUND, crop),
        place.outcomes(rye, GROUND.measured(found_at(44.0)), crop),
    )


# tables of plots

HEADER = "site,latitude,sown,sampled,nitrogen_fall_kg_ha,biomass_kg_ha,soil"
ROW = "{site},{latitude},2005-10-20,2006-04-15,30,2600,loam"
Write = Callable[..., Plots]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Write a plot table of invented data and read it."""

    def one(*lines: str) -> Plots:
        path = tmp_path / "plots.csv"
        path.write_text("\n".join(lines) + "\n")
        return read_plots(path)

    return one


@pytest.mark.parametrize("latitude", LATITUDES)
def test_plots_have_the_organic_matter_of_their_latitude(write: Write, latitude: float) -> None:
    plots = write(HEADER, ROW.format(site="hollow", latitude=latitude))
    record = at(latitude)
    crops = {"hollow": PREVIOUS_CROPS["cotton"]}
    (row,) = plots.runs({"hollow": record}).simulate({"rye": rye}, {"hollow": GROUND}, crops)
    by_hand = {"hollow": GROUND.measured(found_at(latitude))}
    (same,) = plots.runs({"hollow": record}).simulate({"rye": rye}, by_hand, crops)
    for name in FIELDS:
        np.testing.assert_array_equal(row[name], same[name], err_msg=name)


def test_plots_keep_what_was_measured_in_them(write: Write) -> None:
    plots = write(
        f"{HEADER},organic_matter_percent",
        ROW.format(site="south", latitude=31.0) + ",1.4",
        ROW.format(site="north", latitude=44.0) + ",1.4",
        ROW.format(site="unmeasured", latitude=44.0) + ",",
    )
    places = dict.fromkeys(plots.sites, GROUND)
    told = agreement.with_organic_matter(plots, places)
    assert told["south"] == told["north"] == GROUND.measured(1.4)
    assert told["unmeasured"] == GROUND
    records = {"south": at(31.0), "north": at(44.0), "unmeasured": at(44.0)}
    trial = Trial(plots, records, site_soils=told)
    assert trial.soils["south"] == trial.soils["north"] == GROUND.measured(1.4)
    # one that is fitted is that of the field itself, wherever it lies
    assert trial.soils["unmeasured"].organic_matter == pytest.approx(found_at(44.0))
    assert trial.soils["unmeasured"].organic_matter_gradient == 0.0


def test_the_latitude_of_a_site_is_its_weathers_or_else_its_plots(write: Write) -> None:
    plots = write(HEADER, *(ROW.format(site="hollow", latitude=x) for x in (40.0, 40.2, 40.1)))
    assert plots.latitude("hollow", {"hollow": at(44.0)}) == 44.0
    nowhere = sample_weather()
    del nowhere.attrs["latitude"]
    assert plots.latitude("hollow", {"hollow": nowhere}) == pytest.approx(40.1)


# parameter files

FILE = """
[soil.loam]
organic_matter = 1.4
[soil.clay]
curve_number = 80
[soil.sand]
organic_matter = 1.0
organic_matter_gradient = 0.03
[site.north]
soil = "silt loam"
organic_matter = 1.6
"""


@pytest.mark.parametrize("latitude", [31.0, 44.0, 60.0])
def test_a_parameter_file_gives_the_organic_matter_of_the_field(
    tmp_path: Path, latitude: float
) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(FILE)
    file = read_parameters(path)
    assert file.soil_set("loam").at(latitude).organic_matter == 1.4
    assert file.site_sets("north")[0].at(latitude).organic_matter == 1.6
    # what the file leaves alone rises as before, and a gradient that it gives is taken
    clay = file.soil_set("clay").at(latitude)
    assert clay.organic_matter == SOILS["clay"].at(latitude).organic_matter
    sand = file.soil_set("sand").at(latitude)
    assert sand.organic_matter == pytest.approx(math.exp(0.03 * (latitude - 37.0)))
