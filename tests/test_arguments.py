"""Arguments of the Python functions: what cannot be used is refused by name."""

from __future__ import annotations

import inspect
import pickle
import subprocess
import sys
from typing import Any

import numpy as np
import pytest

import simulator
from simulator import InputError

ONE: dict[str, Any] = {"sow": "10-20", "nitrogen": "60 lb/acre", "years": [2004]}


@pytest.fixture(scope="module")
def record() -> Any:
    return simulator.sample_weather().sel(time=slice("2004-07-01", "2006-06-30"))


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (
            {"nitrogen": 60},
            r"^nitrogen: 60 is not text\. Write text, such as nitrogen='60 lb/acre'",
        ),
        ({"nitrogen": [0, 60]}, r"^nitrogen: 0 is not text\. Write text"),
        ({"nitrogen": []}, r"^nitrogen: It is empty\. Write text"),
        ({"seeding": 90.5}, r"^seeding: 90\.5 is not text\. Write text, such as seeding='90 lb"),
        ({"sow": 20}, r"^sow: 20 is not text\. Write text, such as sow='10-20', or a list"),
        ({"sow": {"10-20": 1}}, r"^sow: \{'10-20': 1\} is not text"),
        ({"end": None}, r"^end: None is not text\. Write text, such as end='04-15'"),
        ({"nitrogen_timing": None}, r"^nitrogen_timing: None is not text"),
        ({"changes": 5}, r"^changes: 5 is not text\. Write text, such as changes='rain november"),
        ({"soil": 5}, r"^soil: 5 is neither a name nor a Soil\. Write a name, such as soil='sandy"),
        ({"cereal": 3}, r"^cereal: 3 is neither a name nor a Cereal\. .* cereal='rye'"),
        ({"cereal": None}, r"^cereal: None is neither a name nor a Cereal"),
        ({"previous_crop": ["corn"]}, r"^previous_crop: \['corn'\] is neither a name nor a Prev"),
        ({"fertilizer": 1}, r"^fertilizer: 1 is neither a name nor a Fertilizer"),
        ({"years": "abc"}, r"^years: 'abc' is not a list of years\. Write fall years as numbers"),
        ({"years": 2004}, r"^years: 2004 is not a list of years"),
        ({"years": ["2004"]}, r"^years: '2004' is not a year"),
        ({"years": [True]}, r"^years: True is not a year"),
        ({"years": []}, r"^years: No year given\. Write fall years as numbers"),
        ({"threads": -1}, r"^threads: -1 is less than 1\. Write threads=2, or leave it out\."),
        ({"threads": "two"}, r"^threads: 'two' is not a whole number\. Write threads=2\."),
        ({"layers": 2.5}, r"^layers: 2\.5 is not a whole number\. Write layers=10\."),
    ],
)
def test_compare_names_what_it_cannot_use(record: Any, given: dict[str, Any], told: str) -> None:
    with pytest.raises(InputError, match=told):
        simulator.compare(record, **{**ONE, **given})


def test_all_that_is_no_text_is_told_at_once(record: Any) -> None:
    with pytest.raises(InputError) as error:
        simulator.compare(record, sow=20, end=None)
    assert [problem.where for problem in error.value.problems] == ["sow", "end"]


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"plan": "rye"}, r"^plan: 'rye' is not a Plan\. Write simulator\.Plan\("),
        ({"year": "2004"}, r"^year: '2004' is not a whole number\. Write year=2015\."),
        ({"soil": 5}, r"^soil: 5 is neither a name nor a Soil"),
        ({"cereal": 3}, r"^cereal: 3 is neither a name nor a Cereal"),
        ({"layers": "ten"}, r"^layers: 'ten' is not a whole number\. Write layers=10\."),
    ],
)
def test_run_season_names_what_it_cannot_use(record: Any, given: dict[str, Any], told: str) -> None:
    asked = {"plan": simulator.Plan(), "year": 2004, **given}
    with pytest.raises(InputError, match=told):
        simulator.run_season(record, asked.pop("plan"), **asked)


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"sow": "13-13"}, "^sow: "),
        ({"nitrogen_timing": "spring"}, "^nitrogen_timing: "),
        ({"sow": "05-01"}, "^sow: Sowing on 05-01 is not before the end"),
        ({"soil_nitrate": 60}, "^soil_nitrate: "),
        ({"layers": 99}, "^layers: 99 layers cannot be used"),
    ],
)
def test_what_is_read_is_named_as_python_has_it(
    record: Any, given: dict[str, Any], told: str
) -> None:
    with pytest.raises(InputError, match=told) as error:
        simulator.compare(record, **{**ONE, **given})
    assert "--" not in str(error.value)


def test_a_function_of_the_package_is_one_and_can_be_sent() -> None:
    assert simulator.compare is simulator.compare
    assert pickle.loads(pickle.dumps(simulator.compare)) is simulator.compare
    assert list(inspect.signature(simulator.compare).parameters)[:2] == ["record", "cereal"]
    assert pickle.loads(pickle.dumps(simulator.whatif)) is simulator.whatif


def test_lists_of_any_kind_are_taken(record: Any) -> None:
    once = simulator.compare(
        record,
        sow=(date for date in ["10-20", "11-05"]),
        nitrogen=np.array(["0 lb/acre", "60 lb/acre"]),
        end=("04-15",),
        years=(year for year in np.array([2004, 2005])),
        changes=["rain november * 2"],
    )
    listed = simulator.compare(
        record,
        sow=["10-20", "11-05"],
        nitrogen="0,60 lb/acre",
        end="04-15",
        years=[2004, 2005],
        changes="rain november * 2",
    )
    assert once.equals(listed)


def test_the_package_lists_what_it_has() -> None:
    code = "import simulator; print(sorted(simulator._WHERE) == sorted(simulator.__all__))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "True\n"
    assert {"chart", "progress", "run_grid", "__version__"} <= set(dir(simulator))
    for name in dir(simulator):
        assert getattr(simulator, name) is not None
