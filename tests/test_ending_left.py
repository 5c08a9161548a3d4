"""What an ended stand leaves: shoots that grow back, seed, nitrogen to the next crop by week."""

from __future__ import annotations

import json

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner, Result

from simulator import sample_weather
from simulator.answers.shared.nitrogen_after import balance, released_by_planting
from simulator.answers.shared.regrowth import left_alive
from simulator.answers.timing.seed import add_seed, seed_on
from simulator.commands import fallsown
from simulator.parameters.terminations import MOWN, ROLLED, SEED, TOOLS, WAYS, way_for, way_of
from simulator.problems import InputError
from simulator.season.compare import compare
from simulator.season.plan import day_number
from simulator.season.residue_decay import follow


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, list(arguments))


# what grows back


@pytest.mark.fitted(
    "Wilkins and Bellinder (1996), Weed Technol. 10, abstract: rye cut at boot 6,940 and 3,740 "
    "kg/ha, regrowth 8 weeks on 780 and 910; after flowering none to measure; set by it"
)
def test_regrowth_of_mown_rye():
    for cut, regrown in ((6940.0, 780.0), (3740.0, 910.0)):
        share = regrown / (cut + regrown)
        low, high = (float(MOWN.left(45.0, which)) for which in ("low", "high"))
        assert low <= share <= high
    assert float(MOWN.left(39.0)) > 0.5  # before boot more than half was regrowth
    assert float(MOWN.left(69.0)) == pytest.approx(0.0, abs=0.025)


@pytest.mark.published(
    "Iowa State University (2016), rye cultivar trial: two of five ryes stood up again when rolled "
    "two weeks after flowering, and needed a second pass"
)
def test_some_rolled_stands_grow_back_after_flowering_by_the_range_told():
    assert float(ROLLED.left(71.0, "high")) > 0.10


@pytest.mark.analytic("what is not killed is left, and the ends change places")
@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.name)
def test_left_is_what_is_not_killed(way):
    stages = np.linspace(10.0, 91.0, 30)
    np.testing.assert_allclose(way.left(stages) + way.kill(stages), 1.0)
    np.testing.assert_allclose(way.left(stages, "low") + way.kill(stages, "high"), 1.0)
    assert (way.left(stages, "low") <= way.left(stages, "high")).all()
    left = left_alive(np.array([39.0, 75.0, np.nan]), way)
    assert left.falls == 2
    assert left.share == pytest.approx(float(way.left(np.array([39.0, 75.0])).mean()))


def test_every_way_is_found_by_its_tool_and_leaves_residue_that_lies_so():
    assert [way_of(tool) for tool in TOOLS] == list(WAYS)
    assert way_for("rolled") is ROLLED
    with pytest.raises(InputError, match="Choose from: roller, mowing"):
        way_of("goats")


# seed


@pytest.fixture(scope="module")
def dates() -> xr.Dataset:
    """Two falls, headed on April 1 and never, at three dates."""
    made = xr.Dataset(
        {
            "growth_stage_zadoks": (("year", "end"), [[60.0, 74.0, 86.0], [39.0, 41.0, 44.0]]),
            "stand_alive": (("year", "end"), np.ones((2, 3))),
        },
        coords={"year": [2010, 2011], "end": ["04-10", "04-20", "05-01"]},
    )
    add_seed(made, np.array([float(day_number(2010, "04-01")), np.nan]))
    return made


@pytest.mark.fitted(
    "Hoorman (2024), extension column: rye seed is viable 30 days after heading; Smith, Brennan "
    "and Lundy (2022), University of California: end it before the seed is milky (Zadoks 73); "
    "both are the defaults"
)
def test_seed_is_set_thirty_days_after_heading_and_may_be_from_milk_on(dates):
    assert (SEED.days_after_heading, SEED.milk_stage) == (30.0, 73.0)
    early, milk, set_ = (seed_on(dates.sel(end=end)) for end in dates["end"].values)
    assert (early.set_in, early.possible_in) == (0, 0)
    assert (milk.set_in, milk.possible_in) == (0, 1)
    assert (set_.set_in, set_.possible_in, set_.falls) == (1, 1, 2)


@pytest.mark.analytic("half of a normal error lies on either side")
def test_the_chance_of_seed_holds_the_error_of_heading(dates):
    chances = [seed_on(dates.sel(end=end)).chance for end in dates["end"].values]
    assert chances[-1] == pytest.approx(0.5 / 2)  # on the very day, in one fall of two
    assert 0.0 <= chances[0] < chances[1] < chances[2]


# nitrogen by week


@pytest.fixture(scope="module")
def stands() -> tuple[xr.Dataset, xr.Dataset]:
    record = sample_weather()
    only = {"sow": 0, "seeding": 0, "nitrogen": 0, "nitrogen_timing": 0}
    grid = compare(
        record,
        sow="10-20",
        nitrogen="30 lb/acre",
        end=["03-15", "04-15"],
        years=[2010, 2011, 2012],
    )
    return record, grid.isel(only)


@pytest.mark.analytic("the same decay, looked at on other days; a leap day among them")
def test_nitrogen_by_planting_is_that_of_the_day(stands):
    record, grid = stands
    made = released_by_planting(record, grid, "05-01", "rolled")
    assert made.dims == ("year", "end", "after")
    for end, days in (("03-15", 47), ("04-15", 16)):
        after = follow(record, grid.sel(end=end), residue=["rolled"], days=days + 57)
        whole = after["nitrogen_released_kg_ha"].isel(residue=0).transpose("year", "day").values
        for at, later in enumerate((0, 28, 56)):
            np.testing.assert_array_equal(made.sel(end=end).values[:, at], whole[:, days + later])


@pytest.mark.fitted(
    "USDA-NRCS, Carbon to Nitrogen Ratios in Cropping Systems: above 24:1 decay ties up nitrogen; "
    "the microbes' numbers were set by it"
)
def test_residue_above_the_balance_is_a_debt_and_below_it_a_credit(stands):
    record, grid = stands
    made = released_by_planting(record, grid, "05-15", "rolled").sel(after=28)
    rich = grid.copy(deep=True)
    for name in ("nitrogen_uptake_kg_ha", "root_nitrogen_kg_ha"):
        mass = "biomass_kg_ha" if "uptake" in name else "root_biomass_kg_ha"
        rich[name] = rich[mass] * 0.03  # C:N about 14
    assert (grid["carbon_to_nitrogen"].sel(end="04-15") > 24.0).all()
    assert (made.sel(end="04-15") < 0.0).all()
    assert (released_by_planting(record, rich, "05-15", "rolled").sel(after=28) > 0.0).all()


def test_a_balance_is_spelled_with_its_direction():
    assert balance(np.array([-5.6, -3.4, -9.0]), "si") == (
        "6 kg/ha tied up (3 to 9 in all 3 falls)"
    )
    assert (
        balance(np.array([-5.0, 1.5]), "si")
        == "2 kg/ha tied up (2 freed to 5 tied up in all 2 falls)"
    )
    assert balance(np.array([0.1]), "us") == "hardly any nitrogen freed or tied up"
    assert "freed" in balance(np.array([12.0]), "us")


def test_stands_ended_after_planting_have_no_nitrogen_by_then(stands):
    record, grid = stands
    made = released_by_planting(record, grid, "04-01", "flat")
    assert made.sel(end="04-15").isnull().all() and made.sel(end="03-15").notnull().all()


# the commands


def test_timing_tells_what_is_left_by_the_way_asked_for():
    few = ("--years", "2010:2012", "--end", "03-15,04-12,05-20")
    answer = json.loads(run("timing", "--kill", "mowing", "--json", *few).stdout)
    told = " ".join(answer["sentences"])
    assert "Of a stand ended by mowing on Mar 15" in told
    assert "Seed is taken as set 30 days after heading: by May 20 in 3 of 3 falls" in told
    assert "debt to the next crop" in told and "is not known" in told
    assert answer["inputs"]["kill"] == "mowing"
    assert any("no fertilizer rate" in text for text in answer["cautions"])
    assert any("label" in text for text in answer["cautions"])
    by_date = answer["by_date"]
    mown = [row["grows_back_mown"] for row in by_date]
    assert mown == sorted(mown, reverse=True)
    assert [row["falls_seed_set"] for row in by_date] == [0, 0, 3]
    assert by_date[0]["planting_released_28_days_mean_kg_ha"] is not None
    assert {"seed_set", "days_since_heading"} <= set(answer["rows"][0])


def test_a_way_that_there_is_not_is_refused():
    for command in ("timing", "cover"):
        found = run(command, "--kill", "goats")
        assert found.exit_code == 2 and "--kill: 'goats' is not known." in found.stderr


@pytest.mark.analytic("weeks add up to the whole, and the mean of falls to the mean by day")
def test_cover_tells_nitrogen_by_week_and_after_planting():
    few = ("--years", "2010:2012", "--sow", "10-20", "--residue", "rolled,flat")
    weeks = ",".join(map(str, range(1, 13)))
    answer = json.loads(run("cover", "--weeks", weeks, "--json", *few).stdout)
    rows = [row for row in answer["nitrogen_by_week"] if row["residue"] == "rolled"]
    by_week = [row for row in rows if row["after"] == "end"]
    assert [row["week"] for row in by_week] == list(range(1, 13))
    for at, row in enumerate(by_week):
        added = sum(one["released_in_week_mean_kg_ha"] for one in by_week[: at + 1])
        assert row["released_since_end_mean_kg_ha"] == pytest.approx(added)
        low, high = (row[f"weather_released_since_end_{end}_kg_ha"] for end in ("low", "high"))
        assert low <= row["released_since_end_mean_kg_ha"] <= high
    day = {row["day"]: row for row in answer["rows"] if row["residue"] == "rolled"}
    assert day[84]["nitrogen_released_kg_ha"] == pytest.approx(
        by_week[-1]["released_since_end_mean_kg_ha"]
    )
    later = [row for row in rows if row["after"] == "planting"]
    assert [row["week"] for row in later] == [0, 4, 8]
    assert [row["kill"] for row in answer["grows_back"]] == ["roller", "mowing"]
    told = " ".join(answer["sentences"])
    assert "debt to the next crop" in told and "Of a stand ended by rolling then" in told


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--weeks", "0"], "'0' is not a number of weeks."),
        (["--weeks", "4,53"], "'53' is not a number of weeks."),
        (["--weeks", "4,4"], "given twice"),
        (["--weeks", "a month"], "is not a number of weeks"),
        (["--kill", "goats", "--weeks", "-1"], "'-1' is not a number of weeks."),
    ],
)
def test_weeks_that_cannot_be_told_are_refused(options, said):
    found = run("cover", *options)
    assert found.exit_code == 2 and said in found.stderr


def test_a_season_says_what_grows_back_and_whether_seed_is_set():
    told = " ".join(run("season", "--year", "2012", "--end", "05-20").stdout.split())
    assert "can be expected to live on and grow back" in told and "by their label" in told
    assert "its seed is taken as set" in told
    early = " ".join(run("season", "--year", "2012", "--end", "03-01").stdout.split())
    assert "its seed" not in early
