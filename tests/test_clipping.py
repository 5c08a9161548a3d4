"""The clipping in the outlook: draws, weights, what a clipped stand gains, and the trials."""

from __future__ import annotations

import json
from dataclasses import replace
from math import exp, log, sqrt
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner, Result

import simulator
from simulator.answers.outlook import data as outlook_data
from simulator.answers.outlook.calculate import Outlook, outlook
from simulator.answers.outlook.clipped import Clipped
from simulator.answers.outlook.sampled_soil import share_above
from simulator.answers.shared.few_falls import weighted_quantiles
from simulator.commands import fallsown
from simulator.parameters.cereals import rye
from simulator.parameters.fertilizers import fertilizer
from simulator.parameters.field_spread import RYE
from simulator.parameters.model_error import LEVEL
from simulator.parameters.soils import cotton, sandy_loam
from simulator.problems import InputError
from simulator.season import clipping
from simulator.season.clipping import carry_on, in_spring, standard_draws, weigh
from simulator.season.measured import COVER, NITRATE, STAGE, Measured, as_measured, off_by
from simulator.season.measured_text import read_measured
from simulator.season.plan import day_number
from simulator.trials import clippings as tried
from simulator.weather.samples import sample_weather

PLAN = {
    "sow": "10-20",
    "seeding": "90 lb/acre",
    "nitrogen": "30 lb/acre",
    "nitrogen_timing": "sowing",
}
ENDS = ["01-12", "04-01", "04-15"]  # the first is over on the day that is taken as today
TOLD = Measured(date="01-10", value=700.0)


def run(*arguments: str) -> Result:
    told = ["outlook", "--no-hindcast", *arguments]
    return CliRunner().invoke(fallsown, told, catch_exceptions=False)


def asked(sample: xr.Dataset, *measured: Measured) -> Outlook:
    return outlook(sample, PLAN, {}, ends=ENDS, with_hindcast=False, measured=measured)


@pytest.fixture(scope="module")
def sample() -> xr.Dataset:
    return sample_weather()


@pytest.fixture(scope="module")
def here(sample: xr.Dataset) -> Outlook:
    return asked(sample, TOLD)


# --- draws and weights ---


@pytest.mark.analytic("each column of a Latin hypercube holds the middle of each of n equal shares")
def test_draws_are_spread_evenly() -> None:
    draws = standard_draws(50, 3)
    np.testing.assert_array_equal(draws, standard_draws(50, 3))
    columns = np.sort(draws, axis=0)
    np.testing.assert_array_equal(columns[:, 0], columns[:, 1])
    assert columns[[0, -1], 0] == pytest.approx([-2.3263, 2.3263], abs=5e-5)  # of 0.01 and 0.99
    assert not np.array_equal(draws[:, 0], draws[:, 1])


def test_drawn_fields_stay_within_their_bounds() -> None:
    for factor in clipping.factors(replace(RYE, nitrogen=1.5, light=0.5, leaf=1.0), 30):
        kind = clipping.drawn_cereal(factor, rye)  # a set out of bounds refuses to be made
        ground = clipping.drawn_soil(factor, sandy_loam)
        assert ground.mineralisation_rate <= 1e-3
        assert clipping.drawn_crop(factor, cotton).residual_nitrate <= 300.0
        assert kind.growth_best == rye.growth_best
    nothing = np.ones(len(clipping.DRAWN))
    assert clipping.drawn_cereal(nothing, rye) == rye


@pytest.mark.analytic("normal errors of the logarithm, by hand")
def test_weights_by_hand() -> None:
    spread = replace(RYE, clipping=0.3, missed=0.4)  # 0.5 together
    found = weigh(np.array([[1000.0], [2000.0]]), [1000.0], spread)
    other = exp(-0.5 * (log(2.0) / 0.5) ** 2)
    assert found.weights == pytest.approx([1 / (1 + other), other / (1 + other)])
    assert found.reached


def test_what_no_draw_comes_near_is_said() -> None:
    found = weigh(np.array([[100.0], [200.0]]), [20_000.0], RYE)
    assert not found.reached
    np.testing.assert_array_equal(found.weights, [0.5, 0.5])
    # near one of two clippings is not enough
    assert not weigh(np.array([[100.0, 300.0]]), [100.0, 20_000.0], RYE).reached


# --- what a clipped stand gains ---

SPREAD = replace(RYE, clipping=0.3, missed=0.4, usual_gain=8.0, full_cover=500.0, usual_days=1000.0)
QUIET = np.zeros((1, 1, 2))


@pytest.mark.analytic("a day by hand, from the equation in the docstring")
def test_a_day_by_hand() -> None:
    simulated = np.array([[[1000.0, 1040.0]]])
    start = 1000.0 ** (0.09 / 0.25) * 2000.0 ** (0.16 / 0.25)
    usual = 8.0 * 10.0 * (1 - exp(-start / 500.0))

    def gained(spring: float, reached: bool = True) -> float:
        made = carry_on(
            simulated, np.full((1, 2), 10.0), 2000.0, reached, SPREAD, QUIET, np.full(2, spring)
        )
        assert made[0, 0, 0] == pytest.approx(start if reached else 2000.0)
        return float(made[0, 0, 1] - made[0, 0, 0])

    assert gained(1.0) == pytest.approx(usual, rel=1e-9)
    assert gained(0.0) == pytest.approx(40.0)
    assert gained(0.5) == pytest.approx(0.5 * usual + 20.0, rel=1e-9)
    assert gained(1.0, reached=False) == pytest.approx(80.0 * (1 - exp(-4.0)), rel=1e-9)


@pytest.mark.analytic("errors of the clipping and of the model, each by its inverse variance")
def test_the_stand_lies_between_clipping_and_draw() -> None:
    noise = standard_draws(400, 2)[:, None, :]
    simulated = np.full((400, 1, 1), 1000.0)
    made = carry_on(simulated, np.zeros((1, 1)), 2000.0, True, SPREAD, noise, np.ones(1))
    logs = np.log(made[:, 0, 0])
    assert logs.mean() == pytest.approx(0.36 * log(1000.0) + 0.64 * log(2000.0), abs=1e-6)
    assert logs.std() == pytest.approx(sqrt(1 / (1 / 0.3**2 + 1 / 0.4**2)), rel=0.02)


@pytest.mark.practice("common practice, no source: the trials' samplings begin in late February")
def test_spring_is_the_second_half_of_the_season() -> None:
    days = np.array([day_number(2021, day) for day in ("10-20", "01-01", "03-01", "04-15")])
    np.testing.assert_array_equal(in_spring(38.0, days), [0.0, 0.0, 1.0, 1.0])


@pytest.mark.analytic("its own gain in proportion, and a tenth of itself a day, by hand")
def test_a_thin_stand_gains_less() -> None:
    simulated = np.array([[[1000.0, 1040.0]]])
    spread = replace(SPREAD, missed=1.5, clipping=0.02)  # all by the clipping
    cold, warm, no_spring = np.zeros((1, 2)), np.full((1, 2), 20.0), np.zeros(2)
    made = carry_on(simulated, cold, 250.0, True, spread, QUIET, no_spring)[0, 0]
    assert made[1] - made[0] == pytest.approx(40.0 * made[0] / 1000.0)
    made = carry_on(simulated, warm, 10.0, False, spread, QUIET, np.ones(2))[0, 0]
    assert made[1] - made[0] == pytest.approx(1.0)


# --- the answer ---


def test_the_weather_alone_is_as_without_a_clipping(sample: xr.Dataset, here: Outlook) -> None:
    without = asked(sample)
    xr.testing.assert_identical(without.fan, here.fan)
    xr.testing.assert_identical(without.paths, here.paths)
    bare, told = (outlook_data.dataset(found, 4000.0) for found in (without, here))
    names = [f"biomass_{part}_kg_ha" for part in ("low", "median", "high")]
    for name in (*names, "chance_percent"):
        xr.testing.assert_equal(bare[name], told[f"untold_{name}"].rename(None))
        xr.testing.assert_equal(bare[name][:-1], told[name][:-1])
        assert not bare[name][-1].equals(told[name][-1])
    for name in ("weather_low_kg_ha", "weather_high_kg_ha", "weather_chance_percent"):
        xr.testing.assert_equal(bare[name], told[name])
    assert list(told["measurements"].values[:, 0]) == [0] * (told.sizes["as_of"] - 1) + [1]
    assert not any(str(name).startswith(("untold", "measure")) for name in bare)


def test_the_same_seed_gives_the_same_bits(sample: xr.Dataset, here: Outlook) -> None:
    again = asked(sample, TOLD)
    assert again.clipped is not None
    assert here.clipped is not None
    np.testing.assert_array_equal(again.clipped.members, here.clipped.members)
    np.testing.assert_array_equal(again.clipped.weights, here.clipped.weights)


def test_a_heavier_clipping_promises_more(sample: xr.Dataset, here: Outlook) -> None:
    lighter = asked(sample, replace(TOLD, value=350.0))
    assert lighter.clipped is not None
    assert here.clipped is not None
    assert (lighter.clipped.bands < here.clipped.bands).all()
    assert (lighter.clipped.chance(4000.0) < here.clipped.chance(4000.0)).all()
    assert 1.0 <= here.clipped.counting < here.clipped.draws


def test_a_date_that_is_over_tells_what_the_field_was(here: Outlook) -> None:
    assert here.clipped is not None
    ((date, band),) = here.clipped.past
    assert date == "01-12"
    at = int(np.flatnonzero(here.clipped.days == day_number(here.known.year, date))[0])
    assert band == pytest.approx(tuple(here.clipped.paths[at]))


def test_two_clippings_and_the_field_before_them(sample: xr.Dataset) -> None:
    earlier = Measured(date="12-20", value=400.0)
    found = outlook(
        sample, PLAN, {}, ends=["12-01", "04-01"], with_hindcast=False, measured=(TOLD, earlier)
    ).clipped
    assert found is not None
    assert [one.date for one in found.clippings] == ["12-20", "01-10"]
    ((_, (low, middle, high)),) = found.past
    assert 0.0 < low < middle < high < 400.0


def test_the_command_says_what_the_clipping_changed(tmp_path: Path) -> None:
    chart = tmp_path / "outlook.svg"
    result = run("--measured", "850 lb/acre on 01-10", "--chart", str(chart))
    assert result.exit_code == 0, result.stderr
    words = " ".join(result.stdout.split())
    assert "After 850 lb/ac on Jan 10, the stand makes" in words
    assert "and by weather alone" in words
    assert "still count (effective number)" in words
    assert "Without it they had" in words
    assert "told what was measured" in chart.read_text(encoding="utf-8")


def test_what_the_model_cannot_have_made() -> None:
    result = run("--measured", "9000 lb/acre on 12-10", "--json")
    told = json.loads(result.stdout)
    assert told["measured"]["reached"] is False
    assert any("Nothing in the model could have made" in note for note in told["notes"])


def test_python_asks_the_same(sample: xr.Dataset) -> None:
    reply = simulator.outlook(
        sample, measured=["850 lb/acre on 01-10", "400 lb/acre on 12-20"], hindcast=False
    )
    told = "After 400 lb/ac on Dec 20 and 850 lb/ac on Jan 10, the stand makes"
    assert told in " ".join(reply.sentences)
    assert int(reply.dataset["measurements"].isel(as_of=-1, end=-1)) == 2


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("850 lb/acre on 05-01", "comes after 01-15, the last day known"),
        ("850 lb/acre on 10-01", "Nothing stands on 10-01"),
        ("zadoks 30 on 10-01", "Nothing stands on 10-01"),
        ("850 lb on 01-10", "'lb' cannot be turned into kg/ha. Write '850 lb/acre on 01-20', "),
        ("60 percent on 01-10", "'percent' cannot be turned into kg/ha."),
        ("850 on 01-10", "'850' has no unit. Write '850 lb/acre on 01-20'"),
        ("lots on 01-10", "'lots' is not a number with a unit."),
        ("nan lb/acre on 01-10", "is not a number"),
        ("-850 lb/acre on 01-10", "is not a stand's dry biomass"),
        ("0 lb/acre on 01-10", "is not a stand's dry biomass"),
        ("85000 lb/acre on 01-10", "Give more than 0 and at most 25,000 kg/ha"),
        ("850 lb/acre", "'850 lb/acre' has no day. Write '850 lb/acre on 01-20'"),
        ("850 lb/acre on 02-30", "Write '850 lb/acre on 01-20'"),
        ("zadoks 120 on 01-10", "'120' is not a growth stage of a stand that is up"),
        ("zadoks high on 01-10", "'high' is not a growth stage"),
        ("zadoks nan on 01-10", "'nan' is not a growth stage"),
        ("140 percent cover on 01-10", "'140 percent' is not a green cover. Give more than 0"),
        ("0 percent cover on 01-10", "is not a green cover"),
        ("25 inch nitrate on 01-10", "'inch' cannot be turned into kg/ha"),
        ("9000 lb/acre nitrate on 01-10", "is not a soil's nitrate nitrogen"),
        ("25 lb/acre nitrate to 900 inch on 01-10", "A depth of '900 inch' is out of range"),
    ],
)
def test_refusals(text: str, said: str) -> None:
    result = run("--measured", text)
    assert result.exit_code == 2
    assert said in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


def test_forms_that_people_write() -> None:
    texts = [
        "850 lb/acre on Jan 20",
        "Zadoks 30 on 02-14",
        "jointing on Mar 1",
        "40% green cover on 01-10",
        "25 lb/acre of nitrate to 24 inch on 02-01",
    ]
    found = read_measured(texts)
    kinds = [(one.kind, one.date) for one in found]
    assert kinds == [
        ("biomass", "01-20"),
        ("stage", "02-14"),
        ("stage", "03-01"),
        ("cover", "01-10"),
        ("nitrate", "02-01"),
    ]
    assert [one.value for one in found[1:4]] == [30.0, 31.0, 0.4]
    assert found[4].depth == pytest.approx(60.96)


def test_one_clipping_a_day() -> None:
    result = run("--measured", "850 lb/acre on 01-10", "--measured", "1 t/ha on 1-10")
    assert result.exit_code == 2
    assert "Biomass is given twice for 01-10" in result.stderr
    result = run("--measured", "zadoks 22 on 01-10", "--measured", "stage 23 on 01-10")
    assert "The growth stage is given twice for 01-10" in result.stderr


def test_the_answer_refuses_too(sample: xr.Dataset) -> None:
    with pytest.raises(InputError, match="last day known"):
        asked(sample, replace(TOLD, date="03-01"))


# --- other measurements ---


@pytest.mark.analytic("each error in its own unit, by hand")
def test_how_far_off_other_measurements_are() -> None:
    spread = replace(RYE, stage=4.0, cover=0.1, nitrate=0.3, missed=0.4)
    stage = Measured(date="02-14", value=30.0, kind=STAGE)
    assert off_by(stage, np.array([30.0, 38.0]), spread, rye) == pytest.approx([0.0, 2.0])
    nitrate = Measured(date="02-14", value=25.0, kind=NITRATE)
    # 0.5 together, of the logarithm with 5 kg/ha added
    far = off_by(nitrate, np.array([25.0, 55.0]), spread, rye)
    assert far == pytest.approx([0.0, log(60.0 / 30.0) / 0.5])
    cover = Measured(date="02-14", value=0.5, kind=COVER)
    seen = log(2.0) / rye.extinction  # leaf area index of half the ground
    own = 0.1 / (log(2.0) * 0.5)  # a tenth of the ground, as a share of that leaf area
    made = as_measured(COVER, np.array([seen, 2.0 * seen]), rye)
    assert made == pytest.approx([0.5, 0.75])
    far = off_by(cover, made, spread, rye)
    assert far == pytest.approx([0.0, log(2.0) / np.hypot(own, 0.4)])


def test_full_cover_says_little_and_bare_ground_much() -> None:
    full, thin = (
        np.ptp(off_by(Measured(date="02-14", value=value, kind=COVER), made, RYE, rye))
        for value, made in ((0.97, np.array([0.9, 0.97])), (0.2, np.array([0.1, 0.2])))
    )
    assert full < thin


@pytest.mark.analytic("without weights the draws are spread as the model has been off")
def test_told_nothing_the_draws_are_the_error_of_the_model() -> None:
    falls = 400  # of 8 the draws alone would scatter the lower end by 9 percent
    described = np.full((falls, 1), 3000.0)
    grown = np.linspace(500.0, 9000.0, 100)[:, None, None] * np.ones((1, falls, 1))
    noise = standard_draws(100 * falls, 1).reshape(100, falls)
    made = clipping.about_the_model(grown, described, RYE, LEVEL, noise)
    ends, known = (
        np.quantile(values, [0.1, 0.5, 0.9]) for values in (made, LEVEL.in_fields(3000.0, 1000))
    )
    assert ends == pytest.approx(known, rel=0.05)
    # and those that make more than others take the errors above 0
    assert made[-10:].mean() > 3000.0 > made[:10].mean()


@pytest.mark.long
def test_what_was_measured_besides_moves_the_outlook(sample: xr.Dataset) -> None:
    def middle(kind: str, value: float) -> float:
        found = asked(sample, Measured(date="01-10", value=value, kind=kind)).clipped
        assert found is not None
        assert found.reached
        return float(found.bands[-1, 1])

    assert middle(COVER, 0.15) < middle(COVER, 0.5)
    assert middle(NITRATE, 15.0) < middle(NITRATE, 80.0)


@pytest.mark.long
def test_a_stage_sets_the_pace(sample: xr.Dataset) -> None:
    def told(stage: float) -> Clipped:
        found = outlook(
            sample,
            PLAN,
            {},
            ends=["04-15"],
            today="03-20",
            with_hindcast=False,
            measured=[Measured(date="03-20", value=stage, kind=STAGE)],
        ).clipped
        assert found is not None
        return found

    simulated = told(31.0).without[0]
    assert simulated[0] < simulated[2]
    ahead, behind = told(simulated[2] + 4.0), told(simulated[0] - 4.0)
    assert ahead.counting < ahead.draws
    assert not np.array_equal(ahead.weights, behind.weights)


def test_what_nothing_can_have_made_is_left_aside(sample: xr.Dataset) -> None:
    result = run("--measured", "zadoks 61 on 01-10", "--measured", "850 lb/acre on 01-10", "--json")
    told = json.loads(result.stdout)
    first, second = told["measured"]["measurements"]
    assert [first["left_aside"], second["left_aside"]] == [True, False]
    assert any("could have made Zadoks 61 on Jan 10" in note for note in told["notes"])
    alone = run("--measured", "850 lb/acre on 01-10", "--json")
    assert told["rows"][-1]["measurements"] == 1
    row = json.loads(alone.stdout)["rows"][-1]
    assert told["rows"][-1]["chance_percent"] == pytest.approx(row["chance_percent"], abs=8.0)


def test_nitrate_of_a_shallow_sample_is_part_of_the_column(sample: xr.Dataset) -> None:
    about = {
        "cereal": rye,
        "soil": sandy_loam,
        "previous_crop": cotton,
        "fertilizer": fertilizer("ammonium nitrate"),
    }

    def share(depth: float) -> float:
        one = Measured(date="01-10", value=20.0, kind=NITRATE, depth=depth)
        return share_above(sample, PLAN, about, 2020, one)

    assert 0.0 < share(30.0) < share(60.0) < 1.0
    assert share(sandy_loam.depth) == pytest.approx(1.0)
    assert share_above(sample, PLAN, about, 2020, TOLD) == 1.0


def test_a_season_takes_what_was_measured() -> None:
    words = ["season", "--year", "2015", "--measured", "850 lb/acre on 01-20"]
    result = CliRunner().invoke(fallsown, words, catch_exceptions=False)
    assert result.exit_code == 0, result.stderr
    told = " ".join(result.stdout.split())
    assert "After 850 lb/ac on Jan 20, the stand has" in told
    assert "on Apr 15 in 8 of 10 fields like these; as simulated without," in told
    made = json.loads(CliRunner().invoke(fallsown, [*words, "--json"]).stdout)
    row = made["measured"]
    assert row["biomass_low_kg_ha"] < row["biomass_median_kg_ha"] < row["biomass_high_kg_ha"]
    on_the_day = [*words[:3], "--measured", "3000 lb/acre on 04-15", "--units", "us"]
    told = " ".join(CliRunner().invoke(fallsown, on_the_day).stdout.split())
    assert "After 3,000 lb/ac on Apr 15, the stand has" in told
    late = CliRunner().invoke(fallsown, [*words[:3], "--measured", "850 lb/acre on 05-20"])
    assert late.exit_code == 2
    assert "comes after 04-15" in late.stderr


# --- the trials ---


@pytest.mark.long
@pytest.mark.fitted(
    "Huddell et al. 2024, Scientific Data 11:200; the model, the draws and the usual gain"
)
def test_the_next_sampling_of_stands_in_trials(open_data: Path) -> None:
    """Told the samplings before, the next is nearer than by 88 kg/ha a day, as the docs say."""
    from docs.maker.open_trials import open_trials

    with pytest.warns(simulator.WeatherDoubt):
        trials = open_trials(open_data)
    pairs = tried.pairs(trials.plots, trials.records, trials.site_soils, trials.site_crops, RYE)
    assert len(pairs) > 60
    second = np.array([one.second for one in pairs])
    plain = np.array([one.first + tried.USUAL * one.days for one in pairs])
    seasons = np.array([one.season for one in pairs])
    foretold = np.empty((len(pairs), 3))
    for season in np.unique(seasons):  # each with the usual gain that the others ask for
        others = [one for one in pairs if one.season != season]
        gain = tried.choose_usual_gain(others, RYE, (7.5, 8.25, 9.0))
        for at in np.flatnonzero(seasons == season):
            members = tried.predict(pairs[at], replace(RYE, usual_gain=gain))
            foretold[at] = weighted_quantiles(*members, (0.1, 0.5, 0.9))
    error, usual = (
        float(np.sqrt(np.mean((values - second) ** 2))) for values in (foretold[:, 1], plain)
    )
    inside = ((foretold[:, 0] <= second) & (second <= foretold[:, 2])).mean()
    assert error <= 0.9 * usual
    assert 0.68 <= inside <= 0.92
