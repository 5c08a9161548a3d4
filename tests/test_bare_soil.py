"""Bare soil beside the cover crop: nothing sown, nothing spread, and nothing lost on the way."""

from __future__ import annotations

import json

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings

from simulator.answers.shared.bare_soil import bare_rows, beside, leached_less, range_less
from simulator.answers.shared.plant_counts import FIELDS, LEFT
from simulator.commands import fallsown
from simulator.problems import InputError
from simulator.season.compare import BARE, BARE_FIELDS, compare
from simulator.season.layout import read_bare
from simulator.season.until_planting import until_planting
from simulator.weather.samples import sample_weather
from tests.test_balances import CLOSE, YEAR, crops, ground, weather

DAY_BEFORE = {"sow": "04-14", "end": "04-15", "nitrogen": "0 lb/acre"}

OF_STANDS = ("irrigation_mm", *FIELDS, *LEFT)  # what compare says of plans alone


@pytest.fixture(scope="module")
def mild():
    return sample_weather()


@pytest.mark.analytic("conservation of mass, from what came in and where it went")
@given(weather, ground, crops)
@settings(max_examples=40)
def test_water_and_nitrogen_of_bare_soil_balance(record, soil, crop):
    grid = compare(
        record, soil=soil, previous_crop=crop, sow="10-20", end=["12-31", "06-30"], bare=True
    )
    assert grid.year.values.tolist() == [YEAR]
    at = {name: grid[f"{BARE}{name}"].values for name in BARE_FIELDS}
    assert all(np.isfinite(values).all() for values in at.values())
    water = (
        at["soil_water_start_mm"]
        + at["rain_mm"]
        - at["soil_water_mm"]
        - at["snow_water_mm"]
        - at["runoff_mm"]
        - at["drainage_mm"]
        - at["evaporation_mm"]
    )
    nitrogen = (
        at["mineral_nitrogen_start_kg_ha"]
        + at["soil_test_correction_kg_ha"]
        + at["mineralised_kg_ha"]
        - at["soil_nitrate_kg_ha"]
        - at["soil_ammonium_kg_ha"]
        - at["nitrate_leached_kg_ha"]
        - at["denitrified_kg_ha"]
    )
    for error in (
        water,
        nitrogen,
        at["water_balance_error_mm"],
        at["nitrogen_balance_error_kg_ha"],
    ):
        assert np.abs(error).max() < CLOSE


@pytest.mark.analytic("conservation of mass; ending nothing changes nothing")
@given(weather, ground)
@settings(max_examples=20)
def test_bare_soil_balances_to_planting_whenever_it_is_ended(record, soil):
    asked = {"soil": soil, "sow": "10-20", "planting": "05-15", "bare": True}
    found = until_planting(record, end=["12-01", "05-15"], **asked).squeeze()
    assert float(np.abs(found.planting_water_error_mm).max()) < CLOSE
    assert float(np.abs(found.planting_nitrogen_error_kg_ha).max()) < CLOSE
    for name in ("planting_soil_water_mm", "planting_nitrate_kg_ha", "planting_covered"):
        early, late = found[name].values
        assert early == pytest.approx(late, abs=1e-6), name
    assert float(found.planting_residue_kg_ha.max()) == 0.0
    # the same field by the loop of living stands
    grid = compare(record, soil=soil, sow="10-20", end="05-15", bare=True).squeeze()
    assert float(found.planting_soil_water_mm[1]) == pytest.approx(
        float(grid.bare_soil_water_mm), abs=1e-9
    )
    assert float(found.planting_nitrate_kg_ha[1]) == pytest.approx(
        float(grid.bare_soil_nitrate_kg_ha), abs=1e-9
    )


@pytest.mark.analytic("a seed in the ground for one day takes nothing from it")
def test_bare_soil_is_a_field_sown_on_its_last_day(mild):
    sown = compare(mild, **DAY_BEFORE, bare=True).squeeze()
    for name in BARE_FIELDS:
        assert np.array_equal(sown[f"{BARE}{name}"], sown[name]), name


@pytest.mark.analytic("nothing of bare soil hangs on what is sown beside it")
def test_bare_soil_is_the_same_beside_any_plan(mild):
    rye = compare(mild, bare=True, nitrogen="60 lb/acre", sow="10-20,11-20")
    oat = compare(mild, bare=True, cereal="oat", nitrogen_timing="02-15", sow="11-05")
    for name in BARE_FIELDS:
        assert np.array_equal(rye[f"{BARE}{name}"], oat[f"{BARE}{name}"]), name


def test_plans_are_the_same_to_the_bit_with_bare_soil_beside_them(mild):
    alone, both = compare(mild), compare(mild, bare=True)
    assert all(np.array_equal(alone[name], both[name], equal_nan=True) for name in alone)
    assert not any(str(name).startswith(BARE) for name in alone)


def test_bare_soil_reaches_no_stage(mild):
    grid = compare(mild, end=["zadoks 61", "04-15"], bare=True)
    assert grid.bare_nitrate_leached_kg_ha.sel(end="zadoks 61").isnull().all()
    assert {one.end for one in leached_less(grid)} == {"04-15"}
    assert {row["end"] for row in bare_rows(grid)} == {"04-15"}


@pytest.mark.practice("common practice, no source: a stand takes nitrate up before it leaches")
@pytest.mark.parametrize("sample", ["tallow-bend", "sorrel-ledge", "hollin-reach", "pellow-strand"])
def test_a_stand_leaches_no_more_than_bare_soil_with_the_same_nitrogen(sample):
    # spread on the sowing date on both; sown on the day before the end nothing grows. At Hollin
    # Reach 58 of 60 falls and rates, elsewhere all: in the fall of 2008 a thin stand there shades
    # the soil more than it draws, so that 0.2 mm more drain with 0.1 kg/ha
    asked = {"nitrogen": "0,60 lb/acre", "nitrogen_timing": "10-20", "end": "04-15"}
    grid = compare(sample_weather(sample), sow="10-20,04-14", **asked).nitrate_leached_kg_ha
    less = (grid.sel(sow="04-14") - grid.sel(sow="10-20")).values
    assert (less >= -CLOSE).mean() >= 0.95
    assert less.mean() > 0.0


@pytest.mark.practice(
    "from memory: Thorup-Kristensen, Magid and Jensen, 2003, Adv. Agron. 79:227: cover crops cut"
    " nitrate leaching by 20 to 80 percent; grasses by 52 as a mean of Global Change Biol. 28:4736"
    " (2022); sown over six weeks 84, 85, 72 and 42, J. Environ. Qual. 2022, jeq2.20342 (the order)"
)
@pytest.mark.parametrize("sample", ["hollin-reach", "pellow-strand"])
def test_a_northern_rye_cuts_leaching_as_published_and_a_late_one_less(sample):
    # after a crop off the field in summer, sown as there: in late August to mid September
    grid = compare(
        sample_weather(sample),
        previous_crop="small grain",
        nitrogen="0 lb/acre",
        sow="09-05,10-05,11-05",
        end="04-15",
        bare=True,
    )
    percent = {one.sow: one.beside.percent for one in leached_less(grid)}
    assert 20.0 <= percent["09-05"] <= 80.0
    assert percent["09-05"] > percent["10-05"] > percent["11-05"]


@pytest.mark.published(
    "Krueger et al., 2011, Agron. J. 103:316 (45.6 degrees north, rye after corn silage): nitrate"
    " at corn planting 35 percent less where rye was killed 3 to 4 weeks before, 59 where cut then;"
    " soil water as without rye, and 16 percent less"
)
def test_rye_leaves_less_nitrate_and_water_at_planting_the_later_it_is_killed():
    # an invented place of nearly the same latitude, so that the band is wide: 15 of 100
    asked = {
        "planting": "05-15",
        "sow": "09-15",
        "previous_crop": "corn",
        "soil": "loam",
        "nitrogen": "0 lb/acre",
        "end": ["04-20", "05-14"],
    }
    record = sample_weather("hollin-reach")
    rye, none = (
        until_planting(record, bare=bare, **asked).squeeze().mean("year") for bare in (False, True)
    )
    nitrate = 100.0 * (1.0 - rye.planting_nitrate_kg_ha / none.planting_nitrate_kg_ha).values
    assert nitrate == pytest.approx([35.0, 59.0], abs=15.0)
    water = 100.0 * (1.0 - rye.planting_soil_water_mm / none.planting_soil_water_mm).values
    assert abs(water[0]) < 5.0
    assert 5.0 < water[1] < 25.0


def test_timing_sets_the_soil_at_planting_beside_bare_soil():
    asked = ["timing", "--years", "2001:2004", "--end", "03-15,04-12"]
    answer = json.loads(CliRunner().invoke(fallsown, [*asked, "--json"]).output)
    assert len(answer["rows"]) == 8
    for date in answer["by_date"]:
        rows = [row for row in answer["rows"] if row["end"] == date["end"]]
        less = [row["bare_planting_nitrate_kg_ha"] - row["planting_nitrate_kg_ha"] for row in rows]
        assert date["planting_nitrate_less_mean_kg_ha"] == pytest.approx(np.mean(less))
        assert date["planting_nitrate_falls_less"] == sum(one > 0.05 for one in less)
        assert date["weather_planting_nitrate_less_low_kg_ha"] == pytest.approx(min(less))
    text = CliRunner().invoke(fallsown, asked).output
    assert "\nbare soil" in text
    assert "On May 15 bare soil" in text


def test_risk_holds_bare_soil_against_the_limit():
    asked = ["risk", "--no-latest", "--years", "1995:2004", "--sow", "10-20", "--nitrogen"]
    answer = json.loads(CliRunner().invoke(fallsown, [*asked, "0 lb/acre", "--json"]).output)
    (bare,) = answer["bare_soil"]
    assert bare["bare_nitrate_concentration_mg_l"] == pytest.approx(
        100.0 * bare["bare_nitrate_leached_kg_ha"] / bare["bare_drainage_mm"]
    )
    (less,) = answer["less_than_bare_soil"]
    (row,) = answer["rows"]
    assert less["leached_less_mean_kg_ha"] == pytest.approx(
        bare["bare_nitrate_leached_kg_ha"] - row["nitrate_leached_kg_ha"]
    )
    text = CliRunner().invoke(fallsown, [*asked, "0 lb/acre"]).output
    assert "\nbare soil" in text
    assert "Its drainage carries" in text
    # nor does an end that is no date have one
    staged = CliRunner().invoke(fallsown, [*asked, "0 lb/acre", "--end", "zadoks 45"]).output
    assert "bare soil" not in staged.lower()


@pytest.mark.analytic("two falls worked by hand")
def test_less_is_counted_within_the_same_fall():
    one = beside([2001, 2002, 2003], np.array([10.0, 30.0, np.nan]), np.array([40.0, 20.0, 5.0]))
    assert one.years == (2001, 2002)
    assert one.less.tolist() == [30.0, -10.0]
    assert (one.mean, one.falls_less) == (10.0, 1)
    assert one.percent == pytest.approx(100.0 / 3.0)
    assert (
        range_less(one, "nitrogen", "si") == " (10 more to 30 less in all 2 falls; less in 1 of 2)"
    )
    assert beside([2003], np.array([np.nan]), np.array([5.0])) is None


def test_compare_sets_plans_beside_bare_soil(mild):
    asked = ["compare", "--years", "2001:2004", "--sow", "10-20,12-08", "--nitrogen", "0 lb/acre"]
    answer = json.loads(CliRunner().invoke(fallsown, [*asked, "--json"]).output)
    bare = {(row["year"], row["end"]): row for row in answer["bare_soil"]}
    assert len(answer["rows"]) == 8
    assert len(bare) == 4
    for row in answer["rows"]:
        beside = bare[row["year"], row["end"]]
        of_bare = {"bare_nitrate_leached_kg_ha", "bare_drainage_mm"}
        assert set(row) - set(beside) == {*of_bare, *OF_STANDS}
        assert (beside["cereal"], beside["sow"], beside["biomass_kg_ha"]) == ("none", "none", 0.0)
        assert row["bare_nitrate_leached_kg_ha"] == beside["nitrate_leached_kg_ha"]
    early = answer["less_than_bare_soil"][0]
    of_falls = [
        row["bare_nitrate_leached_kg_ha"] - row["nitrate_leached_kg_ha"]
        for row in answer["rows"]
        if row["sow"] == "10-20"
    ]
    assert early["leached_less_mean_kg_ha"] == pytest.approx(np.mean(of_falls))
    assert early["weather_leached_less_low_kg_ha"] == pytest.approx(min(of_falls))
    assert early["falls_less"] == sum(one > 0.05 for one in of_falls)
    text = CliRunner().invoke(fallsown, asked).output
    assert "\nbare soil" in text
    assert "Beside bare soil of the same fall" in text
    without = CliRunner().invoke(fallsown, [*asked, "--no-bare"]).output
    assert "bare soil" not in without


def asked(*words: str) -> dict:
    result = CliRunner().invoke(fallsown, [*words, "--json"])
    assert result.exit_code == 0, result.output
    return json.loads(result.output)


PLAN = ["--sow", "10-20", "--nitrogen", "30 lb/acre", "--years", "2001:2010"]


def test_bare_soil_and_the_plan_beside_it_are_one_number_in_every_answer():
    from simulator.page import answers
    from simulator.page.growing import beside_bare
    from tests.test_page import answered

    compared = asked("compare", *PLAN)
    (less,) = compared["less_than_bare_soil"]
    bare = np.mean([row["nitrate_leached_kg_ha"] for row in compared["bare_soil"]])
    assert less["bare_leached_mean_kg_ha"] == pytest.approx(bare)
    changed = asked("whatif", *PLAN)["less_than_bare_soil"]
    budget = asked("budget", "--plan", "", "--plan", "nitrogen=0 lb/acre", *PLAN)
    found = {
        "risk": asked("risk", "--no-latest", *PLAN)["less_than_bare_soil"][0],
        "whatif": next(row for row in changed if row["case"] == "as recorded"),
        "budget": next(row for row in budget["less_than_bare_soil"] if row["plan"] == "A"),
    }
    for name, row in found.items():
        for field in set(less) - {"sow", "end", "nitrogen_kg_ha"}:
            assert row[field] == pytest.approx(less[field], rel=1e-12), (name, field)
    # the page, whose falls are all of the record's
    all_falls = leached_less(
        compare(sample_weather(), sow="10-20", nitrogen="30 lb/acre", bare=True)
    )
    page = answered()
    beside = beside_bare(page.place, page.spoken, (), None)
    assert beside.less.tolist() == all_falls[0].beside.less.tolist()
    assert sum("Bare soil would have leached" in text for text in answers.sentences(page)) == 1
    one = answered(year=2005, change="rain november = 11 inch")
    wet = compare(
        sample_weather(),
        sow="10-20",
        nitrogen="30 lb/acre",
        years=[2005],
        changes=["rain november = 11 inch"],
        bare=True,
    ).sel(case="changed")
    beside = beside_bare(one.place, one.spoken, one.asked.changes, 2005)
    assert beside.bare.tolist() == wet.bare_nitrate_leached_kg_ha.values.ravel().tolist()


def test_whatif_sets_bare_soil_in_both_kinds_of_weather():
    words = ["whatif", "--years", "2001:2004", "--sow", "10-20", "--nitrogen", "0,60 lb/acre"]
    answer = asked(*words)
    bare = {(row["year"], row["case"]): row for row in answer["bare_soil"]}
    assert len(bare) == 8
    for case in ("as recorded", "changed"):
        (less,) = [
            row
            for row in answer["less_than_bare_soil"]
            if row["case"] == case and row["nitrogen_kg_ha"] == 0.0
        ]
        of_falls = [
            bare[row["year"], case]["nitrate_leached_kg_ha"] - row["nitrate_leached_kg_ha"]
            for row in answer["rows"]
            if row["case"] == case and row["nitrogen_kg_ha"] == 0.0
        ]
        assert less["leached_less_mean_kg_ha"] == pytest.approx(np.mean(of_falls))
    text = CliRunner().invoke(fallsown, words).output
    assert "\nbare soil" in text
    assert "in place of" in text
    assert "is not known" in text


def test_budget_reads_costs_against_bare_soil():
    words = ["budget", "--years", "2001:2010", "--sow", "10-20", "--plan", "nitrogen=0 lb/acre"]
    answer = asked(*words)
    assert answer["bare_soil"]["total"] == "0.00"
    assert answer["bare_soil"]["biomass_kg_ha"] == 0.0
    rows = {row["plan"]: row for row in answer["less_than_bare_soil"]}
    total = {name: float(plan["total"]) for name, plan in zip("AB", answer["plans"], strict=True)}
    kept = rows["B"]["leached_less_mean_kg_ha"]
    assert float(rows["B"]["cost_per_kg_kept"]) == pytest.approx(total["B"] / kept, abs=0.006)
    assert rows["B"]["weather_leached_less_low_kg_ha"] > 0.0
    # a plan that does not keep some in nearly all falls has no such cost
    fed = asked("budget", "--years", "2001:2010", "--plan", "nitrogen=200 lb/acre")
    late = next(row for row in fed["less_than_bare_soil"] if row["plan"] == "B")
    assert late["weather_leached_less_low_kg_ha"] < 0.0
    assert late["cost_per_kg_kept"] is None
    # and no price was made up for it
    assert "bare" not in json.dumps(answer["prices"])


@pytest.mark.analytic("soil loss falls by exp(-3.5 cover); a stand adds cover to the old residue's")
def test_cover_sets_erosion_and_the_soil_beside_bare_soil():
    from simulator.answers.cover.in_fields import loss_less_ranges, soil_loss

    words = ["cover", "--years", "2001:2004", "--sow", "10-20", "--residue", "rolled"]
    answer = asked(*words, "--days", "60")
    end, planting = answer["beside_bare_soil"]
    assert (end["date"], planting["date"]) == ("04-15", "05-15")
    for row in (end, planting):
        assert row["ground_covered_old_and_new"] > row["bare_ground_covered"] > 0.0
        assert row["soil_loss_less_low_share"] <= row["soil_loss_less_mean"]
        assert row["soil_loss_less_high_share"] >= row["soil_loss_less_mean"]
    # what is left at planting is what timing has of the same plan and day
    timed = asked("timing", "--end", "04-15", "--years", "2001:2004")
    (date,) = timed["by_date"]
    for field in ("planting_water_less_mean_mm", "planting_nitrate_less_mean_kg_ha"):
        assert planting[field] == pytest.approx(date[field])
    text = CliRunner().invoke(fallsown, words).output
    assert "\nApr 15  bare soil" in text
    assert "points less" in text
    # by hand: of the same cover on all falls nothing is less, and no error of a stand of nothing
    share = np.array([0.2, 0.4])
    same = loss_less_ranges(share, share, np.zeros(2), np.array([1000.0, 2000.0]))
    assert (same.low, same.high) == pytest.approx((0.0, 0.0), abs=1e-12)
    assert soil_loss(share) == pytest.approx(np.exp([-0.7, -1.4]))


@pytest.mark.practice(
    "common practice, no source: volunteers hold back nitrate, and old straw cover"
)
def test_bare_soil_of_other_kinds(mild):
    asked = {"sow": "10-20", "nitrogen": "0 lb/acre", "end": ["zadoks 45", "04-15"]}
    plain, thin, straw = (
        compare(mild, **asked, bare=kind) for kind in (True, "volunteers", "residue 6000 lb/acre")
    )
    at = {"end": "04-15"}
    leached = plain.bare_nitrate_leached_kg_ha.sel(at)
    assert (thin.bare_nitrate_leached_kg_ha.sel(at) < leached).all()
    # a stand of as much seed, sown on the first date and without nitrogen, is just that
    sown = compare(mild, **asked, seeding="10 lb/acre").nitrate_leached_kg_ha.sel(at).squeeze()
    named = compare(mild, **asked, bare="Volunteers  10 lb/acre").bare_nitrate_leached_kg_ha.sel(at)
    assert np.array_equal(named, sown)
    # volunteers reach a stage on a day of their own, which is not the stands'
    assert thin.bare_nitrate_leached_kg_ha.sel(end="zadoks 45").isnull().all()
    # straw keeps water in: less evaporates
    assert (straw.bare_evaporation_mm.sel(at) < plain.bare_evaporation_mm.sel(at)).all()
    assert straw.attrs["bare_soil"].startswith("residue 6725.08")
    assert "bare_soil" not in plain.attrs
    # the stands beside it are as they were
    assert np.array_equal(straw.biomass_kg_ha, plain.biomass_kg_ha, equal_nan=True)


@pytest.mark.parametrize(
    ("kind", "says"),
    [
        ("hay", "'hay' is no kind of bare soil. Write bare, residue 2000 lb/acre"),
        ("residue", "It does not say how much residue."),
        ("residue 40", "has no unit"),
        ("residue 40000 kg/ha", "is out of range"),
        ("volunteers 900 lb/acre", "is out of range"),
        ("bare 20 lb/acre", "is no kind of bare soil"),
    ],
)
def test_a_kind_of_bare_soil_that_there_is_not_is_refused(kind, says):
    with pytest.raises(InputError) as told:
        read_bare(kind)
    assert says in told.value.text()


def test_volunteers_are_told_wherever_bare_soil_is():
    for command in ("compare", "timing", "risk", "whatif", "budget", "cover"):
        refused = CliRunner().invoke(fallsown, [command, "--bare-soil", "hay"])
        assert (refused.exit_code, refused.output[:13]) == (2, "--bare-soil: "), command
        words = [command, "--years", "2001:2005", "--bare-soil", "volunteers 20 lb/acre"]
        words += ["--no-latest"] if command == "risk" else []
        done = CliRunner().invoke(fallsown, words)
        assert done.exit_code == 0, done.output
        text = " ".join(done.output.split())
        assert "but for volunteer rye (20 lb/ac of seed" in text, command
        assert "no weeds and no volunteers" not in text, command
