"""The compiled day loop reaches the numbers of its two rivals, and the same bits however split.

The rivals, day_loop.c and loop_in_numpy.py, were written from the equations one by one, so a slip
in any of the three shows.
"""

from __future__ import annotations

from typing import Any

import loop_in_numpy
import numpy as np
import pytest
from loop_in_c import LoopInC
from loop_members import Members, grown, sample_members

from simulator.season.compare import run_members
from simulator.season.day.loop import grow_members
from simulator.season.day.record import FIELDS

Day = np.ndarray[Any, Any]

SPLIT = ((None, 0.4), (229, 0.6))  # at sowing and in the middle of February
CASES = {
    "rye, mild and wet": {},
    "wheat, cold and snowy": {
        "sample": "hollin-reach",
        "cereal": "wheat",
        "soil": "silt loam",
        "previous_crop": "corn",
        "dressings": SPLIT,
    },
    "oat that frost kills": {"sample": "hollin-reach", "cereal": "oat", "soil": "sand"},
    "barley, dry plains": {
        "sample": "quiver-flats",
        "cereal": "barley",
        "soil": "clay",
        "previous_crop": "small grain",
        "fertilizer": "urea",
        "watered": 12.7,
    },
    "wheat, flooded clay": {
        "sample": "pellow-strand",
        "cereal": "wheat",
        "soil": "clay",
        "previous_crop": "fallow",
    },
    "triticale, maritime": {
        "sample": "pellow-strand",
        "cereal": "triticale",
        "soil": "loam",
        "fertilizer": "poultry litter",
        "dressings": SPLIT,
    },
    "rye, hot, one layer": {
        "sample": "palmetto-wick",
        "soil": "loamy sand",
        "layers": 1,
        "previous_crop": "fallow",
    },
    "rye, thin layers flushed": {
        "soil": "sand",
        "layers": 60,
        "previous_crop": "peanut",
        "fertilizer": "urea ammonium nitrate",
    },
    "ends by stage and biomass": {
        "sample": "sorrel-ledge",
        "soil": "silty clay loam",
        "previous_crop": "soybean",
        "open_ends": True,
    },
}


@pytest.fixture(params=CASES.values(), ids=CASES.keys())
def members(request: pytest.FixtureRequest) -> Members:
    return sample_members(years=6, **request.param).take(240)


def assert_same(ours: Day, theirs: Day) -> None:
    """Compare field by field, to 1e-9 of the value or of its unit: a season's rounding."""
    for name in FIELDS:
        np.testing.assert_allclose(
            ours[name], theirs[name], 1e-9, 1e-9, equal_nan=True, err_msg=name
        )


def test_c_loop_agrees(members: Members, c_loop: LoopInC) -> None:
    assert_same(grown(members), c_loop.grown(members))


def test_numpy_loop_agrees(members: Members) -> None:
    assert_same(grown(members), loop_in_numpy.grown(members))


def test_cases_reach_what_they_are_for() -> None:
    """Guard against cases that agree because nothing happens in them."""
    answers = {
        name: grown(sample_members(years=6, **case).take(240)) for name, case in CASES.items()
    }
    assert (answers["oat that frost kills"]["stand_alive"] == 0.0).any()
    assert (answers["rye, mild and wet"]["stand_alive"] == 1.0).any()
    assert (answers["wheat, cold and snowy"]["growth_stage_zadoks"] > 13.0).any()
    assert (answers["wheat, cold and snowy"]["shed_leaf_kg_ha"] > 1.0).any()
    assert (answers["rye, mild and wet"]["growth_stage_zadoks"] > 61.0).any()  # leaves ripen
    assert (answers["barley, dry plains"]["volatilised_kg_ha"] > 0.1).any()
    assert (answers["triticale, maritime"]["litter_nitrogen_kg_ha"] > 0.1).any()
    assert (answers["rye, thin layers flushed"]["nitrate_leached_kg_ha"] > 1.0).any()
    assert (answers["barley, dry plains"]["irrigation_mm"] == 12.7).all()
    assert (answers["barley, dry plains"]["left_by_dryness"] < 0.95).any()
    assert (answers["wheat, flooded clay"]["left_by_flooding"] < 0.5).any()
    assert (answers["rye, hot, one layer"]["left_by_crust"] < 0.999).any()
    reached = np.isfinite(answers["ends by stage and biomass"]["season_day"]).mean(axis=0)
    by_date, by_stage, by_biomass, never = reached
    assert by_date == 1.0 and by_stage > 0.0 and by_biomass > 0.0 and never == 0.0


@pytest.mark.parametrize("threads", [2, 3])
def test_threads_give_the_same_bits(threads: int) -> None:
    members = sample_members(years=3)
    out = members.room()
    drivers, spans, _, _, *rest = members.arguments(0, members.count, out)
    run_members(members.count, threads, drivers, spans, *rest)
    assert out.tobytes() == grown(members).tobytes()


@pytest.mark.parametrize("chunk", [1, 7, 100])
def test_chunks_give_the_same_bits(chunk: int) -> None:
    members = sample_members(years=3)
    out = members.room()
    for low in range(0, members.count, chunk):
        grow_members(*members.arguments(low, min(low + chunk, members.count), out))
    assert out.tobytes() == grown(members).tobytes()
