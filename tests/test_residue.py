"""Residue: cover, and the nitrogen that decay gives or takes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulator.process import residue
from simulator.process.residue import net_mineralisation, residue_cover
from simulator.season.day.order import RESIDUE_AREA

# the coefficient that covers 30 % of the ground at 600 lb/ac, printed as 0.000530 ha/kg
AREA = -math.log(0.7) / 672.5


@pytest.mark.analytic("Gregory 1982: 1 - exp(-A M) with the A that covers 30 % at 672.5 kg/ha")
@pytest.mark.parametrize(
    ("mass", "cover"),
    [
        (500, 0.2329),
        (672.5, 0.3000),
        (1000, 0.4116),
        (2000, 0.6538),
        (3000, 0.7963),
        (4000, 0.8801),
        (6000, 0.9585),
        (8000, 0.9856),
        (0, 0.0),
    ],
)
def test_cover(mass, cover):
    assert residue_cover(mass, AREA) == pytest.approx(cover, abs=5e-5)


def test_the_season_uses_that_coefficient():
    assert pytest.approx(AREA, abs=5e-7) == RESIDUE_AREA


@pytest.mark.practice(
    "from memory: Agriculture Handbook 703, small grain, 30/60/90 % cover at 600/1550/3900 lb/ac"
)
@pytest.mark.parametrize(("pounds", "cover"), [(600, 0.30), (1550, 0.60), (3900, 0.90)])
def test_cover_of_small_grain(pounds, cover):
    # one coefficient fits the handbook's three masses to 2 %
    assert residue_cover(1.120851 * pounds, RESIDUE_AREA) == pytest.approx(cover, rel=0.02)


@pytest.mark.published("USDA-NRCS, Carbon to Nitrogen Ratios in Cropping Systems: balance at 24:1")
def test_residue_of_24_to_1_gives_and_takes_nothing():
    assert net_mineralisation(1000.0, 24.0) == pytest.approx(0.0, abs=1e-12)
    assert net_mineralisation(1000.0, 23.0) > 0.0 > net_mineralisation(1000.0, 25.0)


@pytest.mark.analytic("1000 kg C (1/CN - (1/3)/8)")
@pytest.mark.parametrize(
    ("carbon_to_nitrogen", "freed"),
    [(11, 49.24), (17, 17.16), (24, 0.0), (26, -3.21), (30, -8.33), (37, -14.64), (80, -29.17)],
)
def test_net_mineralisation(carbon_to_nitrogen, freed):
    assert net_mineralisation(1000.0, carbon_to_nitrogen) == pytest.approx(freed, abs=0.005)


# what is compiled is what is read

RANGES = {
    residue.residue_cover: [(0, 20000), (1e-4, 1e-3)],
    residue.soil_loss_ratio: [(0, 1)],
    residue.decomposition_temperature: [(-40, 50)],
    residue.decomposition_water: [(0, 50), (0, 1)],
    residue.decomposition_day: [(0, 1), (0, 1)],
    residue.residue_decay_rate: [(5, 200)],
    residue.decay_with_nitrogen: [(-20, 20), (0, 60)],
    residue.net_mineralisation: [(0, 9000), (8, 150)],
}


def test_every_process_is_compared_with_its_python():
    here = {
        name
        for name, value in vars(residue).items()
        if hasattr(value, "py_func") and value.py_func.__module__ == residue.__name__
    }
    assert here == {function.__name__ for function in RANGES}


@pytest.mark.parametrize("function", RANGES, ids=lambda function: function.__name__)
def test_compiled_code_gives_the_bits_of_its_python(function):
    low, high = np.transpose(RANGES[function])
    for arguments in np.random.default_rng(1).uniform(low, high, (300, low.size)).tolist():
        assert function(*arguments) == function.py_func(*arguments)
