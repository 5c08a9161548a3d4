"""Sobol indices: against published ones, and of the model."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

import simulator
from simulator.answers.sensitivity.calculate import (
    OUTCOMES,
    Field,
    SiteSeasons,
    screen,
    sensitivity,
    varied,
)
from simulator.answers.sensitivity.indices import indices
from simulator.answers.shared.parameter_names import called, readable_unit
from simulator.commands import fallsown
from simulator.parameters.cereal_set import Cereal
from simulator.parameters.cereals import rye
from simulator.parameters.fertilizers import fertilizer
from simulator.parameters.soils import PreviousCrop, Soil, previous_crop, soil
from simulator.problems import InputError


def field(ground: Soil | None = None) -> Field:
    return Field(
        cereal=rye,
        soil=ground or soil("sandy loam"),
        previous_crop=previous_crop("cotton"),
        fertilizer=fertilizer("ammonium nitrate"),
        sow="10-20",
        end="04-15",
        seeding=100.0,
        nitrogen=60.0,
    )


@pytest.fixture(scope="module")
def place() -> SiteSeasons:
    return SiteSeasons(simulator.sample_weather(), field(), [2001, 2005])


def ishigami(x: np.ndarray) -> np.ndarray:
    return np.array([np.sin(x[0]) + 7.0 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])])


@pytest.mark.analytic(
    "variances of the function of Ishigami and Homma (1990) with a = 7, b = 0.1, by integration"
)
def test_indices_of_the_ishigami_function() -> None:
    a, b = 7.0, 0.1
    of_first = 0.5 * (1.0 + b * np.pi**4 / 5.0) ** 2
    of_second = a**2 / 8.0
    of_both = b**2 * np.pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
    whole = of_first + of_second + of_both
    found = indices(ishigami, [(-np.pi, np.pi)] * 3, samples=8192)
    exact_first = np.array([of_first, of_second, 0.0]) / whole
    exact_total = np.array([of_first + of_both, of_second, of_both]) / whole
    for index, within, exact in (
        (found.first, found.first_within, exact_first),
        (found.total, found.total_within, exact_total),
    ):
        # a 90 % interval is 3.3 standard errors wide: further off is not the luck of the draw
        width = np.ptp(within[0], axis=1)
        assert (width < 0.06).all()
        assert (abs(index[0] - exact) < width).all()
        assert (within[..., 0] < index).all()
        assert (index < within[..., 1]).all()


@pytest.mark.analytic("a sum's variance is the sum of its terms', coefficient² x range² / 12")
def test_indices_of_a_sum_over_ranges_of_its_own() -> None:
    found = indices(
        lambda x: np.array([x[0] + 2.0 * x[1], np.full(x.shape[1], 3.0)]),
        [(10.0, 14.0), (-1.0, 0.0)],
        samples=1024,
    )
    np.testing.assert_allclose(found.first[0], [0.8, 0.2], atol=0.01)
    np.testing.assert_allclose(found.total[0], [0.8, 0.2], atol=0.01)
    assert np.isnan(found.total[1]).all()  # what does not vary has none


def test_a_single_parameter_answers_for_all_of_every_outcome() -> None:
    found = indices(
        lambda x: np.stack([x[0], 2.0 * x[0], np.ones(x.shape[1])]), [(0.0, 1.0)], samples=256
    )
    assert found.total.shape == (3, 1)
    assert found.total[:2] == pytest.approx(1.0, abs=0.02)
    assert np.isnan(found.total[2]).all()


def test_more_samples_narrow_the_intervals() -> None:
    few, many = (
        np.ptp(indices(ishigami, [(-np.pi, np.pi)] * 3, samples=n).total_within, axis=2).mean()
        for n in (64, 1024)
    )
    assert many < 0.5 * few


@pytest.mark.parametrize("samples", [0, 1, 100, -4, 16384])
def test_a_number_of_samples_that_cannot_serve_is_refused(samples: int) -> None:
    with pytest.raises(InputError, match="power of two"):
        indices(ishigami, [(0.0, 1.0)] * 3, samples=samples)


@pytest.mark.parametrize("spread", [0.05, 0.25, 1.0])
@pytest.mark.parametrize("name", ["sand", "sandy loam", "clay"])
def test_ranges_stay_in_bounds_and_every_corner_is_a_soil(name: str, spread: float) -> None:
    ground = soil(name)
    parameters = varied(field(ground), spread=spread)
    for one in parameters:
        spec = field(ground).sets()[one.kind].specs()[one.name]
        assert spec.low <= one.low <= one.default <= one.high <= spec.high
        if one.default:
            assert one.high - one.low <= 2.0001 * spread * abs(one.default)
    ends = {one.name: (one.low, one.high) for one in parameters}
    waters = ("wilting_point", "field_capacity", "saturation")
    for corner in np.ndindex(2, 2, 2):
        Soil(**{key: ends[key][at] for key, at in zip(waters, corner, strict=True)})


def test_the_spread_is_a_share_of_the_default() -> None:
    (best,) = varied(field(), ["growth_best"], spread=0.1)
    assert (best.low, best.high) == pytest.approx((0.9 * rye.growth_best, 1.1 * rye.growth_best))
    still = replace(field(), cereal=replace(rye, growth_lowest=0.0))
    (zero,) = varied(still, ["growth_lowest"], spread=0.2)  # 0, in bounds 13 degC apart
    assert (zero.low, zero.high) == pytest.approx((-1.3, 1.3))


def test_names_that_are_no_parameters_are_refused_together() -> None:
    with pytest.raises(InputError) as error:
        varied(field(), ["growth_best", "nonsense", "organic_matter"], kinds=["cereal"])
    assert [p.what.split("'")[1] for p in error.value.problems] == ["nonsense", "organic_matter"]
    with pytest.raises(InputError, match="out of range"):
        varied(field(), spread=2.0)


def test_a_place_gives_what_compare_gives(place: SiteSeasons) -> None:
    grid = simulator.compare(
        simulator.sample_weather(),
        sow="10-20",
        end="04-15",
        seeding="100 kg/ha",
        nitrogen="0,60 kg/ha",
        years=[2001, 2005],
    ).squeeze()
    biomass = grid["biomass_kg_ha"].mean("year").values
    leached = grid["nitrate_leached_kg_ha"].mean("year").values
    found = place.outcomes(rye, soil("sandy loam"), previous_crop("cotton"))
    expected = [biomass[1], leached[1], (biomass[1] - biomass[0]) / 60.0]
    np.testing.assert_allclose(found, expected, rtol=1e-12)


def test_falls_are_spread_over_the_record() -> None:
    years = SiteSeasons(simulator.sample_weather(), field()).years
    assert len(years) == 5
    assert (min(np.diff(years)) > 1).all()


def test_the_model_hangs_on_what_it_must(place: SiteSeasons) -> None:
    names = ["radiation_use_efficiency", "ripening_rate", "field_capacity", "organic_matter"]
    # on soil that holds what 200 kg/ha give it, before any stand flowers
    fed = replace(field(soil("silt loam")), nitrogen=200.0, end="04-01")
    places = {"hungry": place, "fed": SiteSeasons(simulator.sample_weather(), fed, [2001, 2005])}
    by = {}
    for name, one in places.items():
        parameters = varied(one.field, names)
        found = sensitivity({name: one}, parameters, samples=64)[name]
        again = sensitivity({name: one}, parameters, samples=64)[name]
        np.testing.assert_array_equal(found.total_within, again.total_within)
        assert (found.total > -1e-9).all()
        assert (found.first.sum(axis=1) < 1.3).all()
        assert (found.total.sum(axis=1) > 0.7).all()
        by[name] = {
            outcome: dict(zip(names, total, strict=True))
            for outcome, total in zip(OUTCOMES, found.total, strict=True)
        }
    # hardly a stand ripens before mid-April, light makes growth where nitrogen is enough and what
    # soil gives and keeps of it where it is not, and pores hold nitrate back
    fed_on, hungry_on = by["fed"]["biomass"], by["hungry"]["biomass"]
    assert fed_on["ripening_rate"] < 0.001
    assert hungry_on["ripening_rate"] < 0.001
    assert max(fed_on, key=lambda n: fed_on[n]) == "radiation_use_efficiency"
    assert hungry_on["radiation_use_efficiency"] < hungry_on["organic_matter"]
    assert hungry_on["radiation_use_efficiency"] < hungry_on["field_capacity"]
    for leaching in (one["nitrate leached"] for one in by.values()):
        assert max(leaching, key=lambda n: leaching[n]) == "field_capacity"


def test_screening_keeps_what_moves_an_outcome(place: SiteSeasons) -> None:
    names = ["ripening_rate", "radiation_use_efficiency", "field_capacity", "seed_nitrogen"]
    kept = screen({"here": place}, varied(field(), names), most=2)
    assert [one.name for one in kept] == ["radiation_use_efficiency", "field_capacity"]


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, ("sensitivity", *arguments), catch_exceptions=False)


FEW = ("--samples", "16", "--years", "2005", "--only", "radiation_use_efficiency,organic_matter")


def test_the_command_answers_for_two_places(tmp_path: Path) -> None:
    names = list(simulator.samples())[:2]
    out, chart = tmp_path / "indices.csv", tmp_path / "indices.svg"
    result = run(
        *FEW,
        "--json",
        "--out",
        str(out),
        "--chart",
        str(chart),
        "--weather",
        names[0],
        "--weather",
        names[1],
    )
    assert result.exit_code == 0, result.stderr
    answer = json.loads(result.stdout)
    assert len(answer["rows"]) == 2 * len(OUTCOMES) * 2
    assert len({row["site"] for row in answer["rows"]}) == 2
    assert answer["inputs"]["years"] == [2005]
    assert answer["inputs"]["samples"] == 16
    assert all(row["total_low"] <= row["total_high"] for row in answer["rows"])
    drawn = chart.read_text()
    assert all(row["site"] in drawn and row["outcome"] in drawn for row in answer["rows"])
    assert len([line for line in out.read_text().splitlines() if line[0] != "#"]) == 13


def test_the_table_fits_a_page_and_says_what_was_done() -> None:
    result = run("--samples", "4", "--years", "2005")
    assert result.exit_code == 0, result.stderr
    assert max(map(len, result.stdout.splitlines())) <= 100
    shown = " ".join(result.stdout.split())
    assert f"the 12 of {len(varied(field()))} parameters" in shown
    assert "each by 25 % of its default" in shown


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--samples", "100"), "--samples: 100 is no power of two"),
        (("--only", "nonsense"), "--only: 'nonsense' is no parameter"),
        (("--spread", "nan"), "--spread: nan is out of range"),
        (("--nitrogen", "0 lb/acre"), "--nitrogen: One rate above 0"),
        (("--nitrogen", "60"), "--nitrogen"),
        (("--sow", "04-20"), "--sow: Sowing on 04-20 is not before the end"),
        (("--weather", "none.csv"), "none.csv"),
        (("--weather", "tallow-bend", "--weather", "tallow-bend"), "is given twice"),
        (("--years", "1066"), "--years"),
        (("--samples", "8192", "--years", "all"), "seasons are asked for"),
    ],
)
def test_faults_are_told(arguments: tuple[str, ...], words: str) -> None:
    result = run(*arguments)
    assert result.exit_code == 2
    assert words in result.stderr
    assert "Traceback" not in result.stderr


def test_parameters_are_called_in_words_of_their_own() -> None:
    names = {name for one in (Cereal, Soil, PreviousCrop) for name in one.specs()}
    words = [called(name) for name in names]
    assert len(set(words)) == len(words)
    assert not [word for word in words if "_" in word or len(word) > 28]
    assert called("hardiest") == "winter hardiness"


@pytest.mark.parametrize(
    ("unit", "told"),
    [("kg ha-1", "kg/ha"), ("degC-1 d-1", "1/(°C d)"), ("g MJ-1", "g/MJ"), ("1", ""),
     ("m3 m-3", "m³/m³"), ("percent", "%"), ("d-1", "1/d")],
)  # fmt: skip
def test_units_of_parameters_are_written_as_people_do(unit: str, told: str) -> None:
    assert readable_unit(unit) == told
