"""A soil test: mineral nitrogen that the grower measured, in place of the previous crop's guess."""

from __future__ import annotations

import dataclasses
import json

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

import simulator
from simulator.answers.risk.calculate import risk_at
from simulator.answers.sensitivity.calculate import Field, varied
from simulator.commands import fallsown
from simulator.parameters.cereals import cereal
from simulator.parameters.fertilizers import fertilizer
from simulator.parameters.soils import PREVIOUS_CROPS, SOIL_TEST, PreviousCrop, layer_bottoms, soil
from simulator.problems import InputError
from simulator.process.nitrogen import set_to_soil_test, share_above
from simulator.season.compare import compare
from simulator.season.day.record import FIELDS
from simulator.season.one_season import run_season
from simulator.season.plan import Plan, day_number
from simulator.season.soil_test import read_organic_matter, read_soil_test
from simulator.trials.agreement import with_organic_matter
from simulator.trials.observations import read_plots
from simulator.trials.plot_runs import crop_with_test
from simulator.weather.samples import sample_weather
from tests.fuzz.balances import open_balances

CLOSE = 1e-6  # kg/ha
BOTTOMS = layer_bottoms(soil("sandy loam"))
TOPS = np.append(0.0, BOTTOMS[:-1])
# whether the depth sampled cuts a layer (90 cm does) or lies between two
DEPTHS = (30.0, 60.0, 75.0, 90.0, 120.0, 200.0)


def with_test(amount, depth=90.0, day="10-20", crop="cotton"):
    """A previous crop with a soil test."""
    return dataclasses.replace(
        PREVIOUS_CROPS[crop],
        soil_test_nitrogen=amount,
        soil_test_depth=depth,
        soil_test_day=float(day_number(2001, day)),
    )


def down_to(depth, amounts):
    """What of each layer's amount lies above a depth, layers taken as mixed."""
    return sum(
        share_above(depth, top, bottom) * amount
        for top, bottom, amount in zip(TOPS, BOTTOMS, amounts, strict=True)
    )


@pytest.fixture(scope="module")
def record():
    return sample_weather()


def answer_of(*arguments):
    """The JSON of a command that is to succeed."""
    result = CliRunner().invoke(fallsown, [*arguments, "--json"], catch_exceptions=False)
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


# the equation

amounts = st.lists(st.floats(0, 60), min_size=BOTTOMS.size, max_size=BOTTOMS.size)


@pytest.mark.analytic("down to the depth there is what was measured; below nothing changed")
@given(st.floats(0, 300), st.floats(5, 300), amounts, amounts)
def test_down_to_the_depth_there_is_what_was_measured(measured, depth, nitrate, ammonium):
    before, left, kept = np.array(nitrate), np.array(nitrate), np.array(ammonium)
    put_in = set_to_soil_test(measured, depth, left, kept, TOPS, BOTTOMS)
    total = 1.0 + sum(nitrate) + sum(ammonium) + measured
    above = np.array([share_above(depth, *one) for one in zip(TOPS, BOTTOMS, strict=True)])
    below = (1.0 - above) * before
    assert left[above == 0.0] == pytest.approx(before[above == 0.0], abs=0.0)
    assert (left - below).sum() >= -1e-12 * total
    # what is above: all that is left but what was below the depth before
    found = (left - below).sum() + (kept - (1.0 - above) * ammonium).sum()
    assert found == pytest.approx(measured, abs=1e-9 * total)
    assert (left.sum() + kept.sum()) - sum(nitrate) - sum(ammonium) == pytest.approx(
        put_in, abs=1e-9 * total
    )
    assert (left >= 0.0).all() and (kept >= 0.0).all()
    if above @ np.array(ammonium) <= measured:
        assert (kept == ammonium).all()


@pytest.mark.analytic(
    "nitrate keeps its shape: twice as much in all is twice as much in each layer"
)
def test_nitrate_keeps_its_shape():
    left, ammonium = np.arange(1.0, BOTTOMS.size + 1), np.zeros(BOTTOMS.size)
    before = left.copy()
    put_in = set_to_soil_test(2.0 * before[:6].sum(), 60.0, left, ammonium, TOPS, BOTTOMS)
    assert left[:6] == pytest.approx(2.0 * before[:6])
    assert (left[6:] == before[6:]).all()
    assert put_in == pytest.approx(before[:6].sum())


@pytest.mark.analytic("without nitrate it lies evenly: 30 kg in 60 cm is 5 in each 10 cm")
def test_without_nitrate_it_lies_evenly():
    left, ammonium = np.zeros((2, BOTTOMS.size))
    assert set_to_soil_test(30.0, 60.0, left, ammonium, TOPS, BOTTOMS) == pytest.approx(30.0)
    assert left == pytest.approx([5.0] * 6 + [0.0] * 3)


@pytest.mark.analytic("half of a layer cut in the middle: 60 to 80 cm at 70 keeps 4 of its 8 kg")
def test_a_layer_that_is_cut_counts_by_its_share():
    left, ammonium = np.zeros((2, BOTTOMS.size))
    left[6] = 8.0
    assert set_to_soil_test(0.0, 70.0, left, ammonium, TOPS, BOTTOMS) == pytest.approx(-4.0)
    assert left[6] == pytest.approx(4.0)


@pytest.mark.analytic("ammonium goes only where it alone is more than was measured")
def test_ammonium_stays_unless_it_alone_is_more():
    left, ammonium = np.full((2, BOTTOMS.size), 2.0)
    assert set_to_soil_test(6.0, 60.0, left, ammonium, TOPS, BOTTOMS) == pytest.approx(-18.0)
    assert left == pytest.approx([0.0] * 6 + [2.0] * 3)
    assert ammonium == pytest.approx([1.0] * 6 + [2.0] * 3)


# the set


def test_by_default_nothing_was_measured():
    for crop in PREVIOUS_CROPS.values():
        assert not crop.tested
        assert crop.as_record()["soil_test_day"][0] == -1.0
    assert with_test(0.0).tested  # none found is not none sought


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"soil_test_day": 111.5}, "111.5 is not a whole number of days"),
        ({"soil_test_day": -0.5}, "-0.5 is not a whole number of days"),
        ({"soil_test_day": 365.0}, "365 d is out of bounds"),
        ({"soil_test_nitrogen": 400.0}, "400 kg ha-1 is out of bounds"),
        ({"soil_test_nitrogen": -1.0}, "-1 kg ha-1 is out of bounds"),
        ({"soil_test_depth": 0.0}, "0 cm is out of bounds"),
    ],
)
def test_a_set_that_cannot_be(wrong, said):
    with pytest.raises(InputError, match=said):
        PreviousCrop(**wrong)


# the season


@pytest.mark.analytic("what the soil has in the evening before, the test's correction makes up")
@pytest.mark.parametrize("depth", [60.0, 100.0, 120.0])
@pytest.mark.parametrize("amount", [0.0, 15.0, 70.0, 300.0])
def test_the_soil_has_in_the_morning_what_was_measured(record, amount, depth):
    # ammonium moves nowhere and the soil of this place has hardly any of it by then
    plan = Plan(sow="10-20", end="04-15")
    days = run_season(record, plan, previous_crop=with_test(amount, depth), year=2003)
    without = run_season(record, plan, year=2003)
    on = np.datetime64("2003-10-20")
    before = days.sel(time=on - np.timedelta64(1, "D"))
    correction = days.soil_test_correction_kg_ha
    assert (correction.sel(time=slice(None, on - np.timedelta64(1, "D"))) == 0.0).all()
    assert (correction.sel(time=slice(on, None)) == correction.sel(time=on)).all()
    held = down_to(depth, before.nitrate_by_layer_kg_ha.values)
    ammonium = float(before.soil_ammonium_kg_ha)
    # not all of the ammonium need lie above the depth
    assert amount - held - ammonium - 1e-9 <= float(correction.sel(time=on)) <= amount - held + 1e-9
    if depth == 120.0:
        assert float(correction.sel(time=on)) == pytest.approx(amount - held - ammonium, abs=CLOSE)
    for name in set(FIELDS) - {"season_day"}:  # until then nothing is different
        np.testing.assert_array_equal(
            days[name].sel(time=slice(None, before.time)),
            without[name].sel(time=slice(None, before.time)),
            err_msg=name,
        )


@pytest.mark.analytic("conservation of mass, the soil test's correction on its own side")
@given(
    st.floats(0, 300),
    st.sampled_from(DEPTHS),
    st.sampled_from(["07-01", "09-15", "10-20", "12-01", "03-10"]),
    st.sampled_from(list(PREVIOUS_CROPS)),
    st.sampled_from([None, 1, 7]),
)
@settings(max_examples=25)
def test_the_balance_closes_with_a_soil_test(record, amount, depth, day, crop, layers):
    days = run_season(
        record,
        Plan(nitrogen="30 lb/acre", nitrogen_timing="12-01", fertilizer="urea"),
        previous_crop=with_test(amount, depth, day, crop),
        year=2001,
        layers=layers,
    )
    error = open_balances(days, record.rain)["nitrogen"]
    assert float(abs(error).max()) < CLOSE
    assert float(abs(days.nitrogen_balance_error_kg_ha).max()) < CLOSE
    balance = json.loads(days.attrs["nitrogen_balance"])
    assert abs(balance["error"]) < CLOSE
    assert balance["in"]["soil_test_correction_kg_ha"] == float(days.soil_test_correction_kg_ha[-1])
    for name in ("soil_nitrate_kg_ha", "soil_ammonium_kg_ha"):
        assert float(days[name].min()) >= 0.0


def test_a_test_before_the_soils_first_day_holds_on_that_day(record):
    early, first = (
        run_season(record, Plan(), previous_crop=with_test(80.0, day=day), year=2003)
        for day in ("07-15", "09-01")
    )
    assert str(first.time.values[0])[:10] == "2003-09-01"
    assert float(first.soil_test_correction_kg_ha[0]) > 0.0
    for name in set(FIELDS) - {"season_day"}:
        np.testing.assert_array_equal(early[name].values, first[name].values, err_msg=name)


@pytest.mark.analytic("plans that share their days give the bits of each plan alone")
def test_plans_together_give_what_each_gives_alone(record):
    asked = {
        "previous_crop": with_test(100.0, day="11-05"),
        "years": range(2000, 2003),
        "end": "04-15",
    }
    grid = compare(record, sow="10-20,11-05,11-20", nitrogen="0,60 lb/acre", **asked)
    assert float(abs(grid.nitrogen_balance_error_kg_ha).max()) < CLOSE
    for sow in grid.sow.values:
        for rate, text in zip(grid.nitrogen.values, ("0 lb/acre", "60 lb/acre"), strict=True):
            alone = compare(record, sow=[sow], nitrogen=text, **asked).squeeze()
            part = grid.sel(sow=sow, nitrogen=rate).squeeze()
            for name in grid.data_vars:
                np.testing.assert_array_equal(part[name].values, alone[name].values, err_msg=name)


def test_more_in_the_soil_feeds_a_hungry_stand(record):
    found = [
        float(
            compare(
                record, sow="10-20", nitrogen="0 lb/acre", previous_crop=with_test(amount)
            ).biomass_kg_ha.mean()
        )
        for amount in (10.0, 60.0, 120.0)
    ]
    assert found == sorted(found) and found[-1] > 1.2 * found[0]


def test_a_soil_test_is_no_parameter_to_vary_unless_one_is_given():
    def names(crop):
        field = Field(
            cereal=cereal("rye"),
            soil=soil("loam"),
            previous_crop=crop,
            fertilizer=fertilizer("urea"),
            sow="10-20",
            end="04-15",
            seeding=90.0,
            nitrogen=60.0,
        )
        return {one.name for one in varied(field)} & set(SOIL_TEST)

    assert names(PREVIOUS_CROPS["corn"]) == set()
    assert names(with_test(60.0)) == {"soil_test_nitrogen"}


# a plot table

HEADER = "site,latitude,sown,sampled,biomass_kg_ha"
PLOT = "hollow,31.3,2005-11-19,2006-04-20,2600"
POUND = 1.120846673  # kg/ha of a pound an acre


@pytest.fixture
def write(tmp_path):
    """Write a plot table of invented data; returns its path."""

    def one(*lines):
        path = tmp_path / "plots.csv"
        path.write_text("\n".join(lines) + "\n")
        return path

    return one


@pytest.mark.parametrize(
    ("header", "cells", "amount", "depth"),
    [
        ("mineral_nitrogen_at_sowing_kg_ha,mineral_nitrogen_depth_cm", "60,120", 60.0, 120.0),
        (
            "mineral_nitrogen_at_sowing (lb/acre),mineral_nitrogen_depth (inch)",
            "60,24",
            60.0 * POUND,
            60.96,
        ),
        ("Mineral nitrogen (kg/ha),Mineral nitrogen depth [in]", "60,36", 60.0, 91.44),
        ("mineral_nitrogen_kg_ha,mineral_nitrogen_depth_inch", "60,36", 60.0, 91.44),
        ("mineral_nitrogen_lb_ac", "0", 0.0, None),
    ],
)
def test_a_plot_table_says_what_was_in_the_soil(write, header, cells, amount, depth):
    plots = read_plots(write(f"{HEADER},{header}", f"{PLOT},{cells}"))
    (plot,) = plots.plots()
    assert plot.mineral_nitrogen == pytest.approx(amount, rel=1e-9)
    assert plot.mineral_nitrogen_depth == pytest.approx(90.0 if depth is None else depth)
    crop = crop_with_test(PREVIOUS_CROPS["corn"], plot)
    assert crop.soil_test_nitrogen == plot.mineral_nitrogen
    assert crop.soil_test_depth == plot.mineral_nitrogen_depth
    assert crop.soil_test_day == day_number(2005, "11-19")
    assert crop.residue == PREVIOUS_CROPS["corn"].residue
    said = "No depth of the mineral nitrogen is given: 90 cm is taken."
    assert (said in plots.notes) == (depth is None)


def test_a_row_without_a_soil_test_is_as_before(write):
    plots = read_plots(write(f"{HEADER},mineral_nitrogen_kg_ha", f"{PLOT},60", f"{PLOT},"))
    tested, untested = plots.plots()
    assert tested.mineral_nitrogen == 60.0
    assert crop_with_test(PREVIOUS_CROPS["corn"], untested) is PREVIOUS_CROPS["corn"]
    assert any("day of sowing in 1 of 2 rows" in note for note in plots.notes)
    assert not any("mineral nitrogen" in note for note in read_plots(write(HEADER, PLOT)).notes)


@pytest.mark.parametrize(
    ("header", "cells", "where", "says"),
    [
        ("mineral_nitrogen_kg_ha", "lots", "2, column 'mineral_nitrogen_kg_ha'", "is not a number"),
        ("mineral_nitrogen_kg_ha", "-4", "2, column 'mineral_nitrogen_kg_ha'", "'-4' is negative"),
        (
            "mineral_nitrogen (lb/acre)",
            "301",
            "2, column 'mineral_nitrogen (lb/acre)'",
            "'301' lies outside 0 to 300.04",
        ),
        (
            "mineral_nitrogen",
            "60",
            "1, column 'mineral_nitrogen'",
            "does not say the unit. Write "
            "mineral_nitrogen_at_sowing (lb/acre) or mineral_nitrogen_at_sowing_kg_ha.",
        ),
        (
            "mineral_nitrogen (inch)",
            "60",
            "1, column 'mineral_nitrogen (inch)'",
            "'inch' cannot be turned into kg/ha",
        ),
        (
            "mineral_nitrogen_depth",
            "60",
            "1, column 'mineral_nitrogen_depth'",
            "does not say the unit."
            " Write mineral_nitrogen_depth (inch) or mineral_nitrogen_depth_cm.",
        ),
        (
            "mineral_nitrogen_depth_cm",
            "2",
            "2, column 'mineral_nitrogen_depth_cm'",
            "'2' lies outside 5 to 300",
        ),
        (
            "organic_matter_percent",
            "12",
            "2, column 'organic_matter_percent'",
            "'12' lies outside 0.2 to 8",
        ),
    ],
)
def test_faults_of_a_plot_table_name_row_and_column(write, header, cells, where, says):
    with pytest.raises(InputError) as raised:
        read_plots(write(f"{HEADER},{header}", f"{PLOT},{cells}"))
    told = [str(problem) for problem in raised.value.problems]
    assert any(text.startswith(f"plots.csv, line {where}") and says in text for text in told), told


@pytest.mark.analytic("a plot with a soil test is the season with the same test, to the bit")
def test_a_plot_is_simulated_from_its_soil_test(write, record):
    path = write(
        f"{HEADER},mineral_nitrogen_kg_ha,mineral_nitrogen_depth_cm,organic_matter (%)",
        f"{PLOT},100,60,1.4",
        f"{PLOT},,,1.4",
    )
    plots = read_plots(path)
    grounds = with_organic_matter(plots, {"hollow": soil("loam")})
    assert grounds["hollow"] == dataclasses.replace(
        soil("loam"), organic_matter=1.4, organic_matter_gradient=0.0
    )
    found = plots.runs({"hollow": record}).simulate(
        {"rye": cereal("rye")}, grounds, {"hollow": PREVIOUS_CROPS["corn"]}
    )
    plan = Plan(sow="11-19", end="04-20")
    for row, crop in zip(found, (with_test(100.0, 60.0, "11-19", "corn"), "corn"), strict=True):
        days = run_season(record, plan, soil=grounds["hollow"], previous_crop=crop, year=2005)
        for name in set(FIELDS) - {"season_day"}:
            np.testing.assert_array_equal(row[name], days[name].values[-1], err_msg=name)
    assert found["biomass_kg_ha"][0] > found["biomass_kg_ha"][1]


def test_agree_says_and_uses_the_soil_tests(write):
    path = write(
        "# invented: yes",
        f"{HEADER},mineral_nitrogen_kg_ha,organic_matter_percent",
        f"{PLOT},100,1.4",
        f"{PLOT},,",
    )
    answer = answer_of("agree", "--plots", str(path), "--weather", "hollow=tallow-bend")
    rich, poor = answer["rows"]
    assert rich["mineral_nitrogen_at_sowing_kg_ha"] == 100.0
    assert poor["mineral_nitrogen_at_sowing_kg_ha"] is None
    assert rich["simulated_kg_ha"] > poor["simulated_kg_ha"]
    assert "The soil's organic matter is what was measured: hollow." in answer["notes"]


def test_a_site_has_one_organic_matter(write):
    path = write(f"{HEADER},organic_matter_percent", f"{PLOT},1.4", f"{PLOT},2.4")
    with pytest.raises(InputError) as raised:
        with_organic_matter(read_plots(path), {"hollow": soil("loam")})
    assert str(raised.value).startswith("plots.csv, line 3, column 'organic_matter_percent': ")


# the text


@pytest.mark.parametrize(
    ("text", "amount", "depth", "day"),
    [
        ("60 lb/acre", 60 * POUND, None, None),
        ("60 lb/ac on 09-25", 60 * POUND, None, "09-25"),
        ("60 lb/acre to 24 inch", 60 * POUND, 60.96, None),
        ("60 lb/acre to 24 inch on 9-25", 60 * POUND, 60.96, "09-25"),
        ("60 lb/acre on 09-25 to 2 ft", 60 * POUND, 60.96, "09-25"),
        (" 70 kg/ha TO 60 cm ON 11-01 ", 70.0, 60.0, "11-01"),
        ("0 kg/ha", 0.0, None, None),
        ("300 lb/acre", 300 * POUND, None, None),
    ],
)
def test_a_soil_test_is_read(text, amount, depth, day):
    found = read_soil_test(text)
    assert found.amount == pytest.approx(amount, rel=1e-9)
    assert found.depth == (depth if depth is None else pytest.approx(depth))
    assert found.day == day


BAD = [
    ("60", "'60' has no unit. Write for example '60 lb/acre' (lb/acre or kg/ha)."),
    ("60 ppm", "'ppm' cannot be turned into kg/ha. Write lb/acre or kg/ha."),
    ("301 lb/acre", "'301 lb/acre' is out of range. Take 0 to 300 lb/acre (0 to 336.3 kg/ha)."),
    ("-1 lb/acre", "'-1 lb/acre' is out of range."),
    ("nan lb/acre", "'nan lb/acre' is not a number with a unit."),
    ("60 lb/acre to 24", "'24' has no unit. Write for example '24 inch' (inch or cm)."),
    ("60 lb/acre to 1 inch", "A depth of '1 inch' is out of range. Take 2 to 118 inch"),
    ("60 lb/acre to 24 lb", "'lb' cannot be turned into cm."),
    ("60 lb/acre on Tuesday", "Tuesday"),
    ("60 lb/acre on 02-29", "02-29"),
    ("60 lb/acre on 09-25 on 09-26", "says a depth or a day twice. Write '60 lb/acre'"),
    ("60 lb/acre " + "x" * 100, "cannot be read. Write '60 lb/acre'"),
    (
        "60 lb/acre on 12-25",
        "The soil test of 12-25 is after the last sowing, on 10-20. Give one "
        "from July 1 to that day.",
    ),
    ("60 lb/acre on 04-15", "The soil test of 04-15 is after the last sowing, on 10-20."),
]


@pytest.mark.parametrize(("text", "says"), BAD)
def test_a_soil_test_that_cannot_be_used(text, says):
    result = CliRunner().invoke(fallsown, ["season", "--soil-nitrate", text])
    assert result.exit_code == 2 and result.stdout == ""
    assert result.stderr.startswith("--soil-nitrate: ") and says in result.stderr


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("much", "'much' is not a number of percent. Take 0.2 to 8 percent, such as 1.5."),
        ("15", "15 percent is out of range. Take 0.2 to 8 percent, such as 1.5."),
        ("nan", "nan percent is out of range."),
        ("1.5 lb", "'1.5 lb' is not a number of percent."),
        ("..", "'..' is not a number of percent."),
    ],
)
def test_organic_matter_that_cannot_be(given, says):
    result = CliRunner().invoke(fallsown, ["compare", "--organic-matter", given])
    assert result.exit_code == 2 and result.stdout == ""
    assert f"--organic-matter: {says}" in result.stderr


@pytest.mark.parametrize("given", [1.5, "1.5", "1.5%", " 1.5 percent "])
def test_organic_matter_is_read(given):
    assert read_organic_matter(given) == 1.5


def test_every_fault_is_told_at_once():
    result = CliRunner().invoke(
        fallsown, ["risk", "--soil-nitrate", "60", "--organic-matter", "x", "--soil", "mud"]
    )
    assert result.exit_code == 2
    for option in ("--soil-nitrate", "--organic-matter", "--soil"):
        assert f"{option}: " in result.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ["compare", "--sow", "10-20,11-20", "--soil-nitrate", "60 lb/acre on 11-05"],
        [
            "season",
            "--nitrogen",
            "30 lb/acre",
            "--nitrogen-timing",
            "10-01",
            "--soil-nitrate",
            "60 lb/acre",
        ],
    ],
)
def test_a_test_after_nitrogen_went_on_is_refused(arguments):
    result = CliRunner().invoke(fallsown, arguments)
    assert result.exit_code == 2
    assert "would undo it. Give a test of no later day" in result.stderr


# the commands

TEST = ("--soil-nitrate", "60 lb/acre to 24 inch on 09-25", "--organic-matter", "1.5")
ONE = ("--sow", "10-20", "--nitrogen", "30 lb/acre", "--years", "2000:2009")
INPUTS = {
    "soil_nitrate_kg_ha": pytest.approx(60 * POUND),
    "soil_nitrate_depth_cm": pytest.approx(60.96),
    "soil_nitrate_date": "09-25",
    "organic_matter_percent": 1.5,
}


@pytest.fixture(scope="module")
def grown():
    """Biomass by year of one plan with what was measured, from Python."""
    grid = compare(
        sample_weather(),
        soil_nitrate=TEST[1],
        organic_matter=1.5,
        sow="10-20",
        nitrogen="30 lb/acre",
        years=range(2000, 2010),
    )
    assert {name: grid.attrs[name] for name in INPUTS if name in grid.attrs} == {
        name: value for name, value in INPUTS.items() if name.startswith("soil")
    }
    assert any("soil test: 60 lb/ac in the top 24.0 in" in note for note in grid.attrs["notes"])
    biomass = grid.biomass_kg_ha.squeeze().values.tolist()
    return dict(zip(grid.year.values.tolist(), biomass, strict=True))


def by_year(answer):
    return {
        row["year"]: row["biomass_kg_ha"]
        for row in answer["rows"]
        if row.get("case", "as recorded") == "as recorded"
    }


@pytest.mark.analytic("one plan, one soil, one weather: one number, whichever command is asked")
@pytest.mark.parametrize(
    "arguments",
    [
        ("compare", *ONE),
        ("whatif", *ONE),
        ("timing", *ONE, "--end", "04-15"),
        (
            "response",
            "--sow",
            "10-20",
            "--nitrogen",
            "30,60 lb/acre",
            "--nitrogen-timing",
            "sowing",
            "--years",
            "2000:2009",
        ),
        ("budget", *ONE),
        ("risk", *ONE, "--no-latest"),
        ("why", *ONE, "--year", "2003"),
        ("cover", *ONE, "--days", "30"),
        ("sheet", *ONE),
        ("season", "--sow", "10-20", "--nitrogen", "30 lb/acre", "--year", "2003"),
        ("outlook", *ONE[:4], "--year", "2003", "--today", "04-13", "--no-hindcast"),
        ("sensitivity", "--samples", "2", "--only", "growth_best"),
    ],
    ids=lambda arguments: arguments[0],
)
def test_every_command_takes_a_soil_test(grown, arguments):
    answer = answer_of(*arguments, *TEST)
    assert {name: answer["inputs"].get(name) for name in INPUTS} == INPUTS
    told = [note for note in answer["notes"] if "soil test" in note]
    assert told == [
        "Mineral nitrogen in the soil is set to a soil test: 60 lb/ac in the top 24.0 "
        "in on the morning of Sep 25. A soil test is one field's, one day's."
    ]
    mean = pytest.approx(sum(grown.values()) / len(grown), rel=1e-12)
    rows = answer["rows"]
    command = arguments[0]
    if command in ("compare", "whatif", "timing"):
        assert by_year(answer) == grown
    elif command == "response":
        assert {
            row["year"]: row["biomass_kg_ha"] for row in rows if row["nitrogen_kg_ha"] < 40.0
        } == grown
    elif command == "budget":
        assert any(row["biomass_kg_ha"] == mean for row in rows)
    elif command == "risk":
        assert rows[0]["biomass_mean_kg_ha"] == mean
    elif command == "season":
        assert rows[-1]["biomass_kg_ha"] == grown[2003]
    elif command == "why":
        assert answer["differences"]["biomass_kg_ha"]["year"] == pytest.approx(grown[2003])


@pytest.mark.parametrize(
    ("arguments", "name"),
    [
        (("cover", "--years", "2002", "--days", "30"), "shoot_residue_kg_ha"),
        (("outlook", "--year", "2002", "--no-hindcast"), "biomass_median_kg_ha"),
    ],
)
def test_a_cover_and_an_outlook_grow_from_the_soil_test(arguments, name):
    # a fall dry enough for the soil to keep what it has
    plan = ("--sow", "10-20", "--nitrogen", "0 lb/acre")
    most = [
        max(row[name] for row in answer_of(*arguments, *plan, "--soil-nitrate", text)["rows"])
        for text in ("150 lb/acre", "5 lb/acre")
    ]
    assert most[0] > 1.2 * most[1]


def test_without_one_no_answer_speaks_of_it():
    answer = answer_of("compare", *ONE)
    assert not set(INPUTS) & set(answer["inputs"])
    assert not any("soil test" in note or "organic" in note for note in answer["notes"])
    assert not set(INPUTS) & set(compare(sample_weather(), sow="10-20", years=[2003]).attrs)


def test_a_test_without_day_and_depth_takes_the_first_sowing_and_90_cm():
    answer = answer_of(
        "compare", "--sow", "11-20,11-05", "--nitrogen", "0 lb/acre", "--soil-nitrate", "60 lb/acre"
    )
    assert answer["inputs"]["soil_nitrate_date"] == "11-05"
    assert answer["inputs"]["soil_nitrate_depth_cm"] == 90.0
    assert (
        "No day of the soil test is given: the earliest sowing, Nov 5, is taken."
        in (answer["notes"])
    )
    assert "No depth of the soil test is given: 35.4 in is taken." in answer["notes"]


def test_budget_asks_the_earliest_of_all_its_plans():
    answer = answer_of(
        "budget",
        "--sow",
        "11-05,11-20",
        "--plan",
        "sow=10-01",
        "--years",
        "2000:2004",
        "--soil-nitrate",
        "60 lb/acre",
    )
    assert answer["inputs"]["soil_nitrate_date"] == "10-01"


def test_a_shallow_soil_has_the_test_in_all_of_it(tmp_path):
    shallow = tmp_path / "shallow.toml"
    shallow.write_text('[soil."sandy loam"]\ndepth = 60\n')
    more = ("compare", *ONE, "--parameters", str(shallow), "--soil-nitrate")
    default = answer_of(*more, "60 lb/acre")
    assert default["inputs"]["soil_nitrate_depth_cm"] == 60.0
    deeper = answer_of(*more, "60 lb/acre to 36 inch")
    assert any("all that was found is put in it" in note for note in deeper["notes"])
    assert by_year(deeper) == by_year(default)


def test_many_places_share_a_soil_test(tmp_path):
    places = tmp_path / "places"
    places.mkdir()
    for name in ("one", "two"):
        weather = sample_weather().sel(time=slice("2000-07-01", "2004-06-30"))
        table = weather.to_dataframe()[["tmax", "tmin", "rain"]]
        table.columns = ["tmax (degC)", "tmin (degC)", "rain (mm)"]
        table.rename_axis("date").to_csv(places / f"{name}.csv", date_format="%Y-%m-%d")
    (places / "stations.csv").write_text(
        "file,site,latitude,soil\none.csv,one,31.3,loam\ntwo.csv,two,31.3,clay\n"
    )
    means = {}
    for asked in (TEST, ()):
        grid = tmp_path / f"grid{len(asked)}.zarr"
        answer = answer_of(
            "compare", "--weather", str(places), *ONE[:4], *asked, "--out", str(grid), "--threads"
        )
        stored = simulator.open_grid(grid)
        means[asked] = stored.biomass_kg_ha.mean("year").squeeze().values
        assert ("soil_nitrate_kg_ha" in answer["inputs"]) == bool(asked)
    one = simulator.read_weather(places / "one.csv", latitude=31.3)
    alone = compare(
        one,
        soil="loam",
        soil_nitrate=TEST[1],
        organic_matter=1.5,
        sow="10-20",
        nitrogen="30 lb/acre",
    )
    assert means[TEST][0] == pytest.approx(float(alone.biomass_kg_ha.mean()), rel=1e-6)
    assert (means[TEST] != means[()]).all()


def test_a_season_from_python(record):
    plan = Plan(sow="10-20", nitrogen="30 lb/acre")
    days = run_season(record, plan, year=2003, soil_nitrate=TEST[1], organic_matter=1.5)
    crop = with_test(60 * POUND, 60.96, "09-25")
    ground = soil("sandy loam").measured(1.5)
    same = run_season(record, plan, year=2003, soil=ground, previous_crop=crop)
    assert float(days.biomass_kg_ha[-1]) == pytest.approx(float(same.biomass_kg_ha[-1]), rel=1e-9)
    assert days.attrs["soil_nitrate_date"] == "09-25"
    assert any("soil test" in note for note in days.attrs["notes"])


def test_the_latest_sowing_sought_is_not_before_the_test(record):
    found = answer_of(
        "risk",
        "--sow",
        "10-20,11-20",
        "--nitrogen",
        "30 lb/acre",
        "--target",
        "6000 lb/acre",
        "--soil-nitrate",
        "60 lb/acre",
    )
    assert found["inputs"]["soil_nitrate_date"] == "10-20"
    plain = risk_at(
        record,
        {
            "sow": ["10-20"],
            "seeding": ["90 lb/acre"],
            "end": ["04-15"],
            "nitrogen": ["0 lb/acre"],
            "nitrogen_timing": ["sowing"],
        },
        {"previous_crop": with_test(60.0)},
        target=3000.0,
        often=0.8,
        latest=True,
    )
    assert plain.sought[0] == "10-20"


@pytest.mark.analytic("nothing measured: amount and depth without a day change not a bit")
def test_without_a_day_there_is_no_test(record):
    asked = {"sow": "10-20", "nitrogen": "0,60 lb/acre", "years": range(2000, 2003)}
    idle = dataclasses.replace(
        PREVIOUS_CROPS["cotton"], soil_test_nitrogen=200.0, soil_test_depth=30.0
    )
    one, other = compare(record, **asked), compare(record, previous_crop=idle, **asked)
    for name in one.data_vars:
        np.testing.assert_array_equal(one[name].values, other[name].values, err_msg=name)
    assert (one.soil_test_correction_kg_ha == 0.0).all()
