"""The page of skill: its scores on rows made by hand, what is fitted, what it leaves alone."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from docs.maker import __main__ as maker
from docs.maker import calibration, skill, yardstick
from docs.maker.calibration import Kind, Trials
from docs.maker.open_trials import season_weights
from docs.maker.scores import mean, root_mean_square, spread
from simulator.parameters import cereals, soils
from simulator.season.arrays import empty_days


def rows(*told: tuple[str, str, str, float, float, float]) -> pd.DataFrame:
    """Invented rows: site, sown, sampled, nitrogen in fall and in spring, biomass."""
    table = pd.DataFrame(
        told,
        columns=[
            "site",
            "sown",
            "sampled",
            "nitrogen_fall_kg_ha",
            "nitrogen_spring_kg_ha",
            "biomass_kg_ha",
        ],
    )
    sown = pd.to_datetime(table["sown"])
    return table.assign(
        sown=sown,
        sampled=pd.to_datetime(table["sampled"]),
        year=sown.dt.year,
        seeding_kg_ha=100.0,
        cereal="rye",
        fertilizer="urea",
        latitude=40.0,
    )


TWICE = rows(
    ("home", "2009-10-01", "2010-03-01", 0.0, 0.0, 1000.0),
    ("home", "2009-10-01", "2010-03-11", 0.0, 0.0, 1500.0),  # 50 kg/ha a day
    ("home", "2009-10-01", "2010-03-14", 0.0, 0.0, 9999.0),  # three days: no pair
    ("away", "2009-10-01", "2010-04-01", 0.0, 0.0, 2000.0),
    ("away", "2009-10-01", "2010-04-21", 0.0, 0.0, 5000.0),  # 150
)
FED = rows(
    ("home", "2009-10-01", "2010-04-01", 0.0, 0.0, 1000.0),
    ("home", "2009-10-01", "2010-04-01", 50.0, 0.0, 2000.0),
    ("home", "2009-10-01", "2010-04-01", 0.0, 50.0, 1600.0),
    ("home", "2009-10-01", "2010-04-01", 50.0, 50.0, 3000.0),
    ("home", "2009-10-01", "2010-04-08", 50.0, 0.0, 7000.0),  # none without nitrogen that day
)


@pytest.mark.analytic("shares of one, worked by hand")
def test_each_season_of_a_site_counts_once() -> None:
    table = TWICE.assign(year=[2009, 2009, 2010, 2009, 2009])
    assert season_weights(table) == pytest.approx([1 / 6, 1 / 6, 1 / 3, 1 / 6, 1 / 6])


@pytest.mark.analytic("means and squares worked by hand")
def test_scores_weigh_what_is_known() -> None:
    wrong, weights = np.array([3.0, np.nan, -1.0]), np.array([0.25, 0.5, 0.25])
    assert mean(wrong, weights) == 1.0
    assert root_mean_square(wrong, weights) == pytest.approx(np.sqrt(5.0))
    assert spread(wrong) == 2.0
    assert mean(np.array([1.0, 5.0]), np.array([0.75, 0.25])) == 2.0
    assert np.isnan(root_mean_square(np.array([np.nan])))


@pytest.mark.analytic("differences over days, worked by hand")
def test_gains_between_samplings() -> None:
    simulated = np.array([500.0, 900.0, 0.0, 1000.0, 3000.0])  # 40 and 100 a day
    found = skill.gain_scores(TWICE, simulated)
    assert (found["n"], found["measured"], found["simulated"]) == (2, 100.0, 70.0)
    assert found["spread"] == 50.0
    assert found["r"] == pytest.approx(1.0)
    assert found["rmse"] == pytest.approx(np.sqrt((10.0**2 + 50.0**2) / 2))
    exact = skill.gain_scores(TWICE, TWICE["biomass_kg_ha"].to_numpy() + 700.0)
    assert exact["rmse"] == 0.0  # a model can be right about growth and wrong about the level


@pytest.mark.analytic("differences worked by hand")
def test_responses_by_when_the_nitrogen_was_given() -> None:
    assert skill.when_fed(FED).tolist() == ["none", "fall", "spring", "both", "fall"]
    simulated = np.array([1000.0, 1500.0, 1900.0, 3000.0, 0.0])  # 500, 900, 2000
    measured = {"fall": 1000.0, "spring": 600.0, "both": 2000.0}
    wrong = {"fall": 500.0, "spring": 300.0, "both": 0.0}
    for when, amount in measured.items():
        found = skill.response_scores(FED, simulated, when)
        assert (found["n"], found["measured"], found["rmse"]) == (1, amount, wrong[when])
    found = skill.response_scores(FED, simulated)
    assert found["n"] == 3
    assert found["measured"] == pytest.approx(1200.0)
    assert found["rmse"] == pytest.approx(np.sqrt((500.0**2 + 300.0**2) / 3))


@pytest.mark.analytic("a plane is found again from any of its points")
def test_the_regression_finds_a_plane() -> None:
    random = np.random.default_rng(1)
    given = np.column_stack([np.ones(20), random.uniform(0.0, 1000.0, (20, 4))])
    true = np.array([300.0, 2.0, 3.0, -1.0, 40.0])
    measured = given @ true
    measured_in_part = np.where(np.arange(20) == 3, np.nan, measured)
    weights, part_of = random.uniform(0.1, 1.0, 20), np.arange(20) % 4
    assert yardstick.coefficients(given, measured_in_part, weights) == pytest.approx(true)
    assert yardstick.left_out(given, measured, weights, part_of) == pytest.approx(measured)


@pytest.mark.analytic("the mean of the others")
def test_a_constant_left_out_is_the_mean_of_the_other_parts() -> None:
    measured, parts = np.array([1.0, 3.0, 8.0, 10.0]), np.array([0, 0, 1, 1])
    made = yardstick.left_out(np.ones((4, 1)), measured, np.full(4, 0.25), parts)
    assert made == pytest.approx([9.0, 9.0, 2.0, 2.0])


@pytest.mark.analytic("2 degC all day until 31 December, 5 degC after: days times degrees")
def test_degree_days_of_fall_and_spring() -> None:
    import xarray as xr

    time = pd.date_range("2009-07-01", "2010-06-30")
    warmth = np.where(time <= pd.Timestamp("2009-12-31"), 2.0, 5.0)
    record = xr.Dataset(
        dict.fromkeys(("tmax", "tmin"), ("time", warmth)) | {"rain": ("time", np.zeros(time.size))},
        {"time": time},
    )
    table = rows(
        ("home", "2009-12-21", "2010-01-20", 30.0, 20.0, 1.0),
        ("home", "2009-12-21", "2009-12-31", 0.0, 0.0, 1.0),
    )
    found = yardstick.columns(table, {"home": record})
    assert found[0] == pytest.approx([1.0, 20.0, 100.0, 50.0, 40.0])
    assert found[1] == pytest.approx([1.0, 20.0, 0.0, 0.0, 40.0])
    assert yardstick.bent(found)[0, 3] == pytest.approx(np.log(70.0))


def kind(
    name: str,
    field: str,
    low: list[float],
    high: list[float],
    season: list[int],
    first: list[int] | None = None,
) -> Kind:
    size = len(low)
    return Kind(
        name,
        field,
        np.arange(size),
        np.array(first or [-1] * size),
        np.ones(size),
        np.array(low),
        np.array(high),
        np.array(season),
    )


@pytest.mark.analytic("misfits worked by hand")
def test_a_season_has_the_weight_of_one_within_a_kind() -> None:
    made = empty_days((3,))
    made["biomass_kg_ha"] = [2200.0, 1000.0, 1000.0]
    level = kind("level", "biomass_kg_ha", *([[1000.0, 2200.0, 2200.0]] * 2), [0, 0, 1])
    both, one = np.array([True, True]), np.array([False, True])
    assert np.sum(level.misfits(made, both) ** 2) == pytest.approx(2.0)  # each is off by an error
    assert level.misfits(made, one) == pytest.approx([-1.0])


@pytest.mark.analytic("misfits worked by hand")
def test_tillering_a_dead_stand_and_a_difference() -> None:
    every = np.array([True])
    made = empty_days((3,))
    made["growth_stage_zadoks"] = [20.0, 29.0, 35.0]
    stage = kind("stage", "growth_stage_zadoks", [20.0] * 3, [29.0] * 3, [0] * 3)
    six = 6.0 / calibration.ERRORS["stage"]  # 35 is that far from tillering
    assert stage.misfits(made, every) * np.sqrt(3.0) == pytest.approx([0.0, 0.0, six])
    made["biomass_kg_ha"] = [np.nan, 1000.0, 2200.0]
    level = kind("level", "biomass_kg_ha", *([[1200.0] * 3] * 2), [0] * 3)
    assert level.misfits(made, every)[0] * np.sqrt(3.0) == pytest.approx(-1.0)
    nitrogen = kind("nitrogen", "nitrogen_percent", *([[2.0] * 3] * 2), [0] * 3)
    assert nitrogen.misfits(made, every).tolist() == [0.0] * 3
    response = kind("response", "biomass_kg_ha", *([[0.0] * 3] * 2), [0] * 3, [1, 1, 1])
    assert response.simulated(made).tolist() == [-1000.0, 0.0, 1200.0]


def trials(*names: tuple[str, str]) -> Trials:
    """Two fields of one place and one of another, with nothing to run."""
    nothing: Any = None
    return Trials(
        nothing,
        {},
        {"a": soils.soil("clay")},
        {"a": soils.previous_crop("corn")},
        nothing,
        calibration.freed(names),
        (),
        (("a_oat", 1), ("a_corn", 1), ("b", 1)),
        ("a", "b"),
        np.array([0, 1, 1, 2]),
        np.array([0, 0, 0, 1]),
    )


def test_fields_of_one_place_are_left_out_together() -> None:
    assert [gone.tolist() for _, gone in trials().folds("place")] == [
        [True, True, False],
        [False, False, True],
    ]
    assert [gone.sum() for _, gone in trials().folds("season")] == [1, 1, 1]
    assert calibration._called(["urbana_oat", "urbana_corn"]) == "urbana"
    assert calibration._called(["rock_springs_pa"]) == "rock_springs_pa"


@pytest.mark.analytic("ratios and differences worked by hand")
def test_freed_numbers_reach_every_cereal_soil_and_crop() -> None:
    one = trials(
        ("cereal", "most_shoots"),
        ("cereal", "growth_lowest"),
        ("soil", "organic_matter"),
        ("crop", "residual_nitrate"),
    )
    assert one.with_values(one.shipped)[0] == cereals.CEREALS
    values = one.shipped * [1.5, 1.0, 2.0, 0.5] + [0.0, 1.0, 0.0, 0.0]
    kinds, grounds, crops = one.with_values(values)
    for name, shipped in cereals.CEREALS.items():
        assert kinds[name] == replace(
            shipped,
            most_shoots=1.5 * shipped.most_shoots,
            growth_lowest=shipped.growth_lowest + 1.0,
        )
    assert grounds["a"].organic_matter == 2.0 * soils.soil("clay").organic_matter
    assert crops["a"].residual_nitrate == 0.5 * soils.previous_crop("corn").residual_nitrate
    most = one.with_values(one.shipped * [1.0, 1.0, 4.0, 1.0])[1]["a"].organic_matter
    assert most == soils.Soil.specs()["organic_matter"].high  # 10.8 percent is out of bounds


@pytest.mark.analytic("the ends of a range, and the prior's own units")
def test_places_and_the_prior() -> None:
    number, ratio = calibration.freed([("cereal", "growth_best"), ("soil", "organic_matter")])
    for one, middle in ((number, 21.0), (ratio, 1.0)):
        assert one.to_place(np.array([one.low, middle, one.high])) == pytest.approx([1, 1.5, 2])
        assert one.to_value(np.array([1.0, 1.5, 2.0])) == pytest.approx([one.low, middle, one.high])
        assert one.strayed(one.start) == 0.0
    assert number.strayed(number.start + (30.0 - 12.0) / 10.0) == pytest.approx(1.0)
    assert ratio.strayed(np.exp(0.25)) == pytest.approx(1.0)
    assert calibration.freed()  # every number of FREED is there


def test_the_open_trials_are_laid_out(open_data: Path) -> None:
    found = calibration.prepare(open_data)
    assert {"beltsville", "urbana", "headland", "gge"} <= set(found.places)
    assert len(found.places) < len({site for site, _ in found.seasons})
    made, keep = found.simulate(), np.ones(len(found.seasons), bool)
    for one in found.kinds:
        assert one.misfits(made, keep).size == one.low.size > 0
    assert [one.name for one in found.kinds] == list(calibration.ERRORS)
    own = calibration.residuals(found, found.begun)
    assert np.isfinite(own).all() and own[-len(found.freed) :].tolist() == [0.0] * len(found.freed)


def test_without_the_open_trials_the_page_stays_as_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "skill.md"
    page.write_text("# A page\n\nMade on 1 May 2026, from some rows.\n", encoding="utf-8")
    before = page.read_text(encoding="utf-8")
    told = skill.renew(tmp_path / "nothing", page)
    assert told.count(".") == 2 and "skill.md stays as it is (made on 1 May 2026)." in told
    assert page.read_text(encoding="utf-8") == before
    monkeypatch.setattr(skill, "OPEN_DATA", tmp_path / "nothing")
    before = skill.PAGE.read_text(encoding="utf-8")
    maker.main(["skill"])  # ends without an error
    assert "stays as it is" in capsys.readouterr().out
    assert skill.PAGE.read_text(encoding="utf-8") == before


def test_the_page_is_made_by_name_alone() -> None:
    assert "skill" in maker.MADE and "skill" not in maker.PAGES


def test_the_page_says_when_it_was_made_and_holds_its_history() -> None:
    text = skill.PAGE.read_text(encoding="utf-8")
    made = re.search(r"^Made on (\d+ \w+ \d{4}),", text, re.MULTILINE)
    assert made and datetime.datetime.strptime(made[1], "%d %B %Y")
    assert skill.history_table() in text, "python -m docs.maker history"
    for line in skill.history():
        assert datetime.date.fromisoformat(line["date"]) and line["change"]
        assert all(float(figure) for name, figure in line.items() if name not in ("date", "change"))


def test_the_history_is_renewed_alone(tmp_path: Path) -> None:
    page, file = tmp_path / "skill.md", tmp_path / "history.csv"
    page.write_text(f"before\n\n{skill.history_table()}\n\nafter\n", encoding="utf-8")
    header = skill.HISTORY.read_text(encoding="utf-8").splitlines()[0]
    file.write_text(f"{header}\n2026-01-02,a change,1,2,3,0.4,5,6,0.7\n", encoding="utf-8")
    skill.renew_history(page, file)
    text = page.read_text(encoding="utf-8")
    assert text == f"before\n\n{skill.history_table(file)}\n\nafter\n"
    assert "| 2026-01-02 | a change | 1 | 2 | 3 | 0.4 | 5 | 6 | 0.7 |" in text
