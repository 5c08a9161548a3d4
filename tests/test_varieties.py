"""Early and late varieties: days at heading, as thermal time, and nothing else."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import simulator
from simulator.commands import fallsown
from simulator.parameters.cereals import CEREALS, rye
from simulator.parameters.varieties import HEADING_SHARE, VARIETIES, grown_as, varieties, variety
from simulator.problems import InputError
from simulator.process.development import temperature_response, zadoks_stage
from simulator.season.stage_dates import stage_days

PLAN = {"sow": "10-20", "seeding": "90 lb/acre", "nitrogen": "30 lb/acre"}
# days from the earliest tenth of cultivars to the median, and from the median to the latest
BEFORE = (7, 5, 5, 1, 3, 4, 3, 5, 2, 1, 0, 4, 4, 4, 2, 1, 1, 4, 4, 7, 6, 1)
AFTER = (1, 4, 2, 3, 2, 3, 4, 2, 2, 4, 5, 3, 4, 3, 2, 1, 1, 1, 1, 3, 1, 1)


def headed(kind: str, sample: str | None = None, **plan: str) -> np.ndarray:
    """Days of stem elongation, heading and flowering (fall, stage)."""
    record = simulator.sample_weather(sample) if sample else simulator.sample_weather()
    days = stage_days(record, stages=(30, 55, 61), cereal=grown_as(rye, kind), **(PLAN | plan))
    return np.asarray(days.values).reshape(-1, 3)


@pytest.mark.fitted(
    "BRIWECS, Scientific Data 2024, s41597-024-04332-7: days of heading of the earliest and the "
    "latest tenth of 50 to 220 winter wheats against the median, 22 trials; the classes"
)
def test_classes_are_about_the_earliest_and_the_latest_tenth_of_cultivars():
    early, late = (VARIETIES[name].maturity for name in ("early", "late"))
    assert early == pytest.approx(-np.mean(BEFORE), abs=0.6)
    assert late == pytest.approx(np.mean(AFTER), abs=0.6)


@pytest.mark.published(
    "Iowa State University 2016, cereal rye cultivar trial: five ryes flowered from 17 to 21 May"
)
def test_early_and_late_lie_no_less_apart_than_five_ryes_did():
    assert 4.0 <= VARIETIES["late"].maturity - VARIETIES["early"].maturity <= 2 * 4.0


@pytest.mark.analytic("progress a day is a rate times a response: days to heading are its inverse")
@pytest.mark.parametrize("cereal", CEREALS.values(), ids=lambda one: one.name)
@pytest.mark.parametrize("text", ["early", "late", "10 days early", "14 days late"])
def test_days_are_kept_at_the_temperature_at_which_they_were_counted(cereal, text):
    kind = variety(text)
    limits = (cereal.development_lowest, cereal.development_best, cereal.development_highest)
    pace = temperature_response(kind.heading_temperature, *limits)

    def days(stand) -> float:
        return HEADING_SHARE / (stand.elongation_rate * pace)

    assert days(grown_as(cereal, kind)) - days(cereal) == pytest.approx(kind.maturity)
    assert kind.degree_days == pytest.approx(kind.maturity * 15.3)


@pytest.mark.analytic("heading is Zadoks 55, reached at this share of the way to flowering")
def test_the_share_is_that_of_heading():
    assert zadoks_stage(1.0 + HEADING_SHARE, 8.0, 3.0) == pytest.approx(55.0)


@pytest.mark.analytic("only progress from stem elongation on is faster or slower")
@pytest.mark.parametrize("sample", [None, "quiver-flats"])
def test_heading_shifts_by_about_the_days_and_stem_elongation_starts_as_before(sample):
    medium = headed("medium", sample)
    for text, days in (("early", -3), ("late", 3), ("9 days late", 9)):
        shift = headed(text, sample) - medium
        assert np.nanmax(np.abs(shift[:, 0])) == 0.0
        assert np.nanmean(shift[:, 1]) == pytest.approx(days, abs=0.34 * abs(days))
        assert abs(np.nanmean(shift[:, 2])) >= abs(np.nanmean(shift[:, 1]))


@pytest.mark.analytic("the same numbers, by a name, by a plan and among several")
def test_medium_is_the_cereal_as_it_is_and_all_doors_agree():
    record = simulator.sample_weather()
    assert grown_as(rye, "medium") is rye
    few = {"sow": "10-20", "nitrogen": "30 lb/acre", "years": [2014, 2015]}
    plain = simulator.compare(record, **few)
    several = simulator.compare(record, variety="early,medium", **few, bare=True)
    assert several["biomass_kg_ha"].dims[:2] == ("year", "variety")
    assert "variety" not in several["bare_drainage_mm"].dims
    medium = several["biomass_kg_ha"].sel(variety="medium").values
    np.testing.assert_array_equal(medium, plain["biomass_kg_ha"].values)
    early = simulator.compare(record, variety="early", **few)
    np.testing.assert_array_equal(
        several["biomass_kg_ha"].sel(variety="early").values, early["biomass_kg_ha"].values
    )
    plan = simulator.Plan(sow="10-20", nitrogen="30 lb/acre", variety="early")
    days = simulator.run_season(record, plan, year=2015)
    again = simulator.run_season(record, plan, cereal=grown_as(rye, "early"), year=2015)
    assert days.attrs["variety"] == again.attrs["variety"] == "early"
    assert float(days["biomass_kg_ha"][-1]) == float(again["biomass_kg_ha"][-1])
    assert float(days["biomass_kg_ha"][-1]) == early["biomass_kg_ha"].sel(year=2015).item()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("soon", "not known"),
        ("20 days early", "more than varieties differ by"),
        ("3 weeks late", "not known"),
        ("", "not known"),
    ],
)
def test_what_is_no_variety_is_told_in_a_sentence(text, said):
    with pytest.raises(InputError, match=said):
        variety(text)
    with pytest.raises(InputError, match=said):
        simulator.Plan(variety=text)


def test_a_variety_given_twice_is_refused():
    with pytest.raises(InputError, match="given twice"):
        varieties("early, early")
    with pytest.raises(InputError, match="early already"):
        grown_as(grown_as(rye, "early"), "late")


def test_commands_say_when_it_heads_and_a_field_keeps_it(tmp_path: Path):
    run, few = CliRunner(), ["--years", "2010:2012"]
    asked = run.invoke(
        fallsown, ["compare", "--variety", "early,late", "--sow", "10-20", *few, "--json"]
    )
    found = json.loads(asked.stdout)
    assert found["inputs"]["variety"] == ["early", "late"]
    assert {row["variety"] for row in found["rows"]} == {"early", "late"}
    field = tmp_path / "farm.toml"
    field.write_text('variety = "6 days early"\n', encoding="utf-8")
    said = run.invoke(fallsown, ["response", "--field", str(field), *few]).stdout
    assert "Rye of a variety 6 days early on sandy loam" in said
    assert "a variety 6 days early heads on" in " ".join(said.split())
    wrong = run.invoke(fallsown, ["timing", "--variety", "sooner"])
    assert wrong.exit_code == 2 and "--variety: 'sooner' is not known." in wrong.stderr


@pytest.mark.fitted(
    "BRIWECS, Scientific Data 2024, s41597-024-04332-7: the earliest tenth of winter wheats headed "
    "3.4 days before the median, the latest 2.4 days after; here on the weather of one of the "
    "sites. The classes' size, not how days become thermal time, was set by it"
)
@pytest.mark.filterwarnings("ignore::simulator.problems.WeatherDoubt")
def test_wheats_of_german_trials_head_as_far_apart_in_their_own_weather(open_data: Path):
    path = open_data / "weather" / "germany" / "kal_germany.csv"
    record = simulator.read_weather(path, latitude=50.6)
    early, medium, late = (
        stage_days(record, stages=[55], cereal=grown_as(CEREALS["wheat"], kind), **PLAN).values
        for kind in ("early", "medium", "late")
    )
    assert np.nanmean(early - medium) == pytest.approx(-np.mean(BEFORE), abs=1.0)
    assert np.nanmean(late - medium) == pytest.approx(np.mean(AFTER), abs=1.0)
