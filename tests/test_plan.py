"""Plans: how texts are read, and how each that cannot be is refused."""

from __future__ import annotations

import pytest

from simulator.problems import InputError
from simulator.season.plan import (
    Dressing,
    Plan,
    check_order,
    date_at,
    day_number,
    dressings,
    end,
    month_day,
    nitrogen_rates,
    order,
    seeding_rates,
)
from simulator.weather.fall_year import season_day

KG_HA = 1.120846673  # of a pound an acre (NIST SP 811, survey acre)


def problem_of(call, *arguments, **named):
    with pytest.raises(InputError) as error:
        call(*arguments, **named)
    (problem,) = error.value.problems
    return problem


# dates


def test_dates_are_written_alike():
    assert month_day("10-20", name="sow") == "10-20"
    assert month_day(" 4-5 ", name="sow") == "04-05"


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("Oct 20", "10-20"),
        ("20 Oct", "10-20"),
        ("october 20th", "10-20"),
        ("Sept. 5", "09-05"),
        ("1st of may", None),
        ("May 1", "05-01"),
        ("Oct20", "10-20"),
        ("Oct 200", None),
        ("Octember 20", None),
        ("Feb 30", None),
        ("20 Oct 2015", None),
    ],
)
def test_dates_as_people_write_them(text, read):
    if read is None:
        problem_of(month_day, text, name="sow")
    else:
        assert month_day(text, name="sow") == read


def test_dressings_as_people_write_them():
    assert dressings("sowing 1/3 + Feb 15 2/3") == dressings("sowing 1/3 + 02-15 2/3")
    assert dressings("sowing 25% + 15 Feb 75%") == dressings("sowing 25% + 02-15 75%")
    assert dressings("15 Feb 2/3 + 15 Mar 1/3") == dressings("02-15 2/3 + 03-15 1/3")
    assert dressings("Feb 15") == dressings("02-15")


@pytest.mark.analytic("calendar: 1 July is day 0, 20 October 111, 15 April 288 or 289")
def test_days_of_a_season():
    assert day_number(2014, "07-01") == 0
    assert day_number(2014, "10-20") == 111
    assert day_number(2014, "04-15") == 288
    assert day_number(2015, "04-15") == 289  # a leap February between
    assert day_number(2014, "06-30") == 364


def test_a_date_belongs_to_the_season_of_its_fall():
    assert str(season_day(2015, "10-20")) == "2015-10-20"
    assert str(season_day(2015, "04-15")) == "2016-04-15"


@pytest.mark.parametrize("text", ["02-30", "13-01", "04-31", "00-10", "10-00", "06-99"])
def test_dates_that_do_not_exist(text):
    problem = problem_of(month_day, text, name="sow")
    assert problem.where == "sow"
    assert f"'{text}'" in problem.what
    assert "calendar" in problem.what
    assert "10-20" in problem.remedy


def test_the_leap_day():
    problem = problem_of(month_day, "02-29", name="end")
    assert problem.where == "end"
    assert "02-29 does not exist in every year" in problem.what
    assert "02-28" in problem.remedy


@pytest.mark.parametrize("text", ["", "octember 20", "2015-10-20", "10/20", "20.10.", "10-20-30"])
def test_what_is_no_date(text):
    problem = problem_of(month_day, text, name="sow")
    assert problem.where == "sow"
    assert repr(text) in problem.what
    assert "10-20" in problem.remedy


@pytest.mark.parametrize("given", [None, 1020, 10.2])
def test_a_date_is_a_text(given):
    problem = problem_of(month_day, given, name="sow")
    assert repr(given) in problem.what


# when nitrogen goes on


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("sowing", [(None, 1.0)]),
        ("02-15", [("02-15", 1.0)]),
        ("2-5", [("02-05", 1.0)]),
        ("sowing+02-15", [(None, 0.5), ("02-15", 0.5)]),
        ("sowing 1/3 + 02-15 2/3", [(None, 1 / 3), ("02-15", 2 / 3)]),
        ("sowing 25% + 02-15 75%", [(None, 0.25), ("02-15", 0.75)]),
        ("Sowing 0.25 + 02-15 0.75", [(None, 0.25), ("02-15", 0.75)]),
        ("sowing 33% + 01-15 33% + 03-01 33%", [(None, 1 / 3), ("01-15", 1 / 3), ("03-01", 1 / 3)]),
    ],
)
def test_dressings(text, expected):
    found = dressings(text)
    assert [dressing.when for dressing in found] == [when for when, _ in expected]
    assert [dressing.share for dressing in found] == pytest.approx([share for _, share in expected])
    assert sum(dressing.share for dressing in found) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("sowing 1/3 + 02-15 1/3", "do not add up to 1"),
        ("sowing 70% + 02-15 70%", "do not add up to 1"),
        ("sowing 1/2 + 02-15", "do not add up to 1"),
        ("sowing 0 + 02-15 0", "do not add up to 1"),
        ("sowing 1/0", "'1/0' is not a share"),
        ("spring", "'spring' cannot be read"),
        ("", "'' cannot be read"),
        ("sowing +", "'' cannot be read"),
        ("sowing -1 + 02-15 2", "'sowing -1' cannot be read"),
        ("02-15 half", "'02-15 half' cannot be read"),
    ],
)
def test_dressings_that_cannot_be(text, what):
    problem = problem_of(dressings, text)
    assert problem.where == "nitrogen_timing"
    assert what in problem.what
    assert "sowing 1/3 + 02-15 2/3" in problem.remedy


def test_a_dressing_on_no_day():
    assert "calendar" in problem_of(dressings, "sowing + 02-30").what
    assert "02-29" in problem_of(dressings, "02-29").what


def test_too_many_dressings():
    problem = problem_of(dressings, "+".join(["sowing"] * 7))
    assert problem.what == "7 dressings."
    assert problem.remedy == "At most 6."


# when the stand ends


@pytest.mark.practice("Zadoks, Chang and Konzak (1974), Weed Res. 14:415-421, from memory")
@pytest.mark.parametrize(
    ("name", "stage"), [("jointing", 31), ("boot", 45), ("Heading", 55), ("flowering", 61)]
)
def test_stages_by_their_names(name, stage):
    assert end(name) == end(f"zadoks {stage}")


def test_ends():
    assert end("Apr 15").date == end("15 april").date == "04-15"
    assert end("4-15").date == "04-15"
    assert end("Zadoks 61").stage == 61.0
    assert end("4000 lb/acre").biomass == pytest.approx(4000 * KG_HA)
    assert end("4000 kg/ha").biomass == pytest.approx(4000.0)


@pytest.mark.parametrize("text", ["zadoks 9", "zadoks 10", "zadoks 92", "zadoks 0"])
def test_no_stage_to_end_at(text):
    problem = problem_of(end, text)
    assert problem.where == "end"
    assert "is no stage to end at" in problem.what
    assert problem.remedy == "Take 11 to 91."


@pytest.mark.parametrize("text", ["1 lb/acre", "0 kg/ha", "-4000 lb/acre", "1000000 lb/acre"])
def test_no_biomass_to_end_at(text):
    problem = problem_of(end, text)
    assert problem.where == "end"
    assert f"'{text}' is out of range" in problem.what
    assert "50 to 40000 kg/ha" in problem.remedy


@pytest.mark.parametrize("text", ["", "when ripe", "4000", "zadoks", "zadoks 6x", "feekes 6"])
def test_what_is_no_end(text):
    problem = problem_of(end, text)
    assert problem.where == "end"
    assert f"'{text}' cannot be read" in problem.what
    for example in ("04-15", "zadoks 61", "4000 lb/acre"):
        assert example in problem.remedy


@pytest.mark.parametrize("text", ["4000 lb/parsec", "4000 lb/inch", "much/acre"])
def test_a_biomass_in_no_such_unit(text):
    assert problem_of(end, text).where == "end"


# rates


def test_rates_share_their_unit():
    assert seeding_rates("60,90 lb/acre") == pytest.approx([60 * KG_HA, 90 * KG_HA])
    assert nitrogen_rates("0,30 kg/ha") == pytest.approx([0.0, 30.0])


@pytest.mark.parametrize(
    "text", ["0 lb/acre", "1000000 lb/acre", "1e6 kg/ha", "-90 lb/acre", "4 kg/ha"]
)
def test_seeding_that_no_drill_sows(text):
    problem = problem_of(seeding_rates, text)
    assert problem.where == "seeding"
    assert "is out of range" in problem.what
    assert "lb/ac" in problem.remedy
    assert "5 to 500 kg/ha" in problem.remedy


@pytest.mark.parametrize("text", ["-1 lb/acre", "-0.5 kg/ha", "5000 lb/acre"])
def test_nitrogen_that_no_one_spreads(text):
    problem = problem_of(nitrogen_rates, text)
    assert problem.where == "nitrogen"
    assert "is out of range" in problem.what
    assert "0 to 500 kg/ha" in problem.remedy


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("90", "'90' has no unit"),
        ("90 pints", "cannot be turned into"),
        ("90 blubs", "is not a known unit"),
        ("lots", "is not a number with a unit"),
        ("nan lb/acre", "is not a number with a unit"),
        ("60,,90 lb/acre", "is not a number"),
    ],
)
def test_rates_that_cannot_be_read(text, what):
    problem = problem_of(seeding_rates, text)
    assert problem.where == "seeding"
    assert what in problem.what
    assert "lb/acre" in problem.remedy


def test_a_bare_number_is_refused():
    problem = problem_of(nitrogen_rates, 30)
    assert "30 has no unit" in problem.what
    assert "30 lb/acre" in problem.remedy


# the whole plan


def test_a_plan_is_checked_when_it_is_made():
    assert Plan().cereal == "rye"
    assert Plan(cereal="Oat", sow="9-20", nitrogen_timing="sowing + 02-15", end="zadoks 31")


@pytest.mark.parametrize(
    ("wrong", "where", "what"),
    [
        ({"cereal": "maize"}, "cereal", "'maize' is not known"),
        ({"fertilizer": "gold"}, "fertilizer", "'gold' is not known"),
        ({"sow": "02-30"}, "plan: sow", "'02-30'"),
        ({"sow": "02-29"}, "plan: sow", "02-29"),
        ({"seeding": "0 lb/acre"}, "plan: seeding", "out of range"),
        ({"seeding": "1000000 lb/acre"}, "plan: seeding", "out of range"),
        ({"seeding": "60,90 lb/acre"}, "plan: seeding", "2 rates given"),
        ({"nitrogen": "-30 lb/acre"}, "plan: nitrogen", "out of range"),
        ({"nitrogen": "30"}, "plan: nitrogen", "'30' has no unit"),
        ({"nitrogen_timing": "sowing 10%"}, "plan: nitrogen_timing", "do not add up"),
        ({"end": "02-29"}, "plan: end", "02-29"),
        ({"end": "soon"}, "plan: end", "'soon' cannot be read"),
    ],
)
def test_plans_that_cannot_be(wrong, where, what):
    problem = problem_of(Plan, **wrong)
    assert problem.where == where
    assert what in problem.what


def test_an_unknown_cereal_lists_the_five():
    problem = problem_of(Plan, cereal="maize")
    assert problem.remedy == "Choose from: rye, wheat, triticale, barley, oat."


@pytest.mark.parametrize(
    ("sow", "ends"), [("05-01", "04-15"), ("04-15", "04-15"), ("12-08", "11-20")]
)
def test_sowing_after_the_end(sow, ends):
    problem = problem_of(Plan, sow=sow, end=ends)
    assert problem.where == "sow"
    assert problem.what == f"Sowing on {sow} is not before the end on {ends}."
    assert "July to June" in problem.remedy


@pytest.mark.parametrize("timing", ["04-15", "sowing + 05-01"])
def test_nitrogen_after_the_end(timing):
    problem = problem_of(Plan, nitrogen_timing=timing, end="04-15")
    assert problem.where == "nitrogen_timing"
    assert "is not before the last end, 04-15" in problem.what


def test_every_pair_of_a_grid_must_be_in_order():
    ends = [end("12-01"), end("04-15")]
    timing = [(Dressing(None, 1.0),)]
    check_order(["10-20", "11-20"], timing, ends)
    problem = problem_of(check_order, ["10-20", "12-08"], timing, ends)
    assert problem.what == "Sowing on 12-08 is not before the end on 12-01."


@pytest.mark.analytic("a season runs from 1 July to 30 June, 365 days without a 29 February")
def test_dates_stand_in_the_order_of_a_season():
    assert [order(date) for date in ("07-01", "12-31", "01-01", "06-30")] == [0, 183, 184, 364]
    assert [order(date_at(day)) for day in range(365)] == list(range(365))
