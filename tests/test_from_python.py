"""The questions asked from Python: the answers are those of the commands."""

from __future__ import annotations

import inspect
import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

import simulator
from simulator import InputError
from simulator.commands import fallsown
from simulator.show.answer import FEW_ROWS, Says

FALLS = {"years": "1999:2004"}
SMALL: dict[str, dict[str, Any]] = {
    "whatif": {
        "change": ["rain november = 11 inch", "temperature oct..dec - 5 degF"],
        "sow": "10-20,12-08",
        "nitrogen": "0,60 lb/acre",
        **FALLS,
    },
    "response": {
        "sow": ["10-20", "12-08"],
        "nitrogen": "0,30,60,90 lb/acre",
        "kinds": "fall temperature",
        "hit_rate": 70,
        **FALLS,
    },
    "risk": {
        "target": "3000 lb/acre",
        "chance": 70,
        "sow": "10-20,11-20",
        "latest": False,
        "weights": "wet 50, normal 30, dry 20",
        "years": "1999:2012",
    },
    "why": {"year": 2001, "nitrogen": "30 lb/acre", **FALLS},
    "degree_days": {"base": "40 degF", "from_": "11-01", "to": "03-15", "by_year": True, **FALLS},
    "cover": {"sow": "10-20", "residue": "flat,rolled", "days": 90, **FALLS},
    "timing": {"end": "03-15,04-15", "soil_nitrate": "60 lb/acre", **FALLS},
    "outlook": {
        "year": 2004,
        "today": "02-01",
        "end": "04-15",
        "hindcast": False,
        "years": "1995:2004",
    },
    "budget": {
        "plan": ["", "sow=12-08; nitrogen=60 lb/acre"],
        "target": "3000 lb/acre",
        "sow": "10-20,12-08",
        "nitrogen": "0,60 lb/acre",
        "end": "04-15",
        **FALLS,
    },
    "sensitivity": {
        "only": "radiation_use_efficiency,leaf_growth_rate",
        "samples": 8,
        "spread": 0.2,
        "years": "2001,2003",
    },
    "design_trial": {
        "sow": "10-20,12-08",
        "seeding": "90 lb/acre",
        "nitrogen": "0,60 lb/acre",
        "trial_years": 4,
        "spread": "20 %",
        "split": True,
        "budget": 96,
        "trials": 100,
        **FALLS,
    },
}
OF_TRIALS: dict[str, dict[str, Any]] = {
    "agree": {"soil": "made up=loam"},
    "fit": {"free": "none", "leave_out": "none", "bootstrap": 0, "rounds": 0},
}
COMMANDS = {"degree_days": "degreedays", "design_trial": "design"}


def as_words(asked: dict[str, Any]) -> list[str]:
    words = []
    for name, value in asked.items():
        option = "--" + name.rstrip("_").replace("_", "-")
        if isinstance(value, bool):
            words.append(option if value else option.replace("--", "--no-"))
            continue
        for one in value if isinstance(value, list) else [value]:
            words += [option, str(one)]
    return words


def command(name: str, asked: dict[str, Any]) -> dict[str, Any]:
    """What the command prints for a machine."""
    words = [COMMANDS.get(name, name), *as_words(asked), "--json"]
    result = CliRunner().invoke(fallsown, words, catch_exceptions=False)
    assert result.exit_code == 0, result.stderr
    found: dict[str, Any] = json.loads(result.stdout)
    return found


@pytest.fixture(scope="module")
def record() -> Any:
    return simulator.sample_weather()


@pytest.mark.parametrize("name", SMALL)
def test_python_answers_as_the_command_does(record: Any, name: str) -> None:
    told = command(name, SMALL[name])
    reply = getattr(simulator, name)(record, **SMALL[name])
    assert reply.answer.rows == told["rows"]
    assert reply.sentences == told["sentences"] and reply.headline == told["sentences"][0]
    assert reply.cautions == told["cautions"]
    assert json.loads(json.dumps(reply.answer.inputs)) == told["inputs"]
    assert json.loads(json.dumps(reply.answer.carried())) == {
        key: value for key, value in told.items() if key in reply.answer.carried()
    }
    frame = reply.to_dataframe()
    assert list(frame.columns) == list(told["rows"][0]) and len(frame) == len(told["rows"])
    assert reply.to_xarray() is reply.dataset
    says: Says = reply
    assert says.heading and says.tables


@pytest.fixture(scope="module")
def plots(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A table of invented plots."""
    path = tmp_path_factory.mktemp("trial") / "plots.csv"
    rows = [
        f"made up,31.6,{year}-{sown},{year + 1}-04-10,{mass}"
        for year, mass in ((2001, 3600), (2003, 4100), (2005, 2900))
        for sown in ("10-20", "11-20")
    ]
    path.write_text("\n".join(["site,latitude,sown,sampled,biomass (lb/acre)", *rows]))
    return str(path)


@pytest.mark.parametrize("name", OF_TRIALS)
def test_trials_are_asked_with_a_record_for_each_site(record: Any, plots: str, name: str) -> None:
    asked = {"plots": plots, **OF_TRIALS[name]}
    told = command(name, {**asked, "weather": "made up=tallow-bend"})
    reply = getattr(simulator, name)({"made up": record}, **asked)
    assert reply.answer.rows == told["rows"] and reply.sentences == told["sentences"]
    assert reply.answer.inputs == told["inputs"]
    assert json.loads(json.dumps(reply.answer.carried())) == {
        key: value for key, value in told.items() if key in reply.answer.carried()
    }
    assert "<table>" in reply._repr_html_() and repr(reply)
    assert reply.chart().title


def test_a_trial_needs_plots_and_sites(record: Any, plots: str) -> None:
    with pytest.raises(InputError, match=r"^plots: No plot table is named\. Write plots='plots"):
        simulator.agree({"made up": record})
    with pytest.raises(InputError, match=r"^record: one record does not say which site has which"):
        simulator.agree(record, plots=plots)
    with pytest.raises(InputError, match=r"^record: 'a\.csv' is not a weather record\. Write"):
        simulator.fit({"made up": "a.csv"}, plots=plots)
    with pytest.raises(InputError, match="made up"):
        simulator.agree({"elsewhere": record}, plots=plots)


def test_a_fit_writes_its_parameters(record: Any, plots: str, tmp_path: Path) -> None:
    out = tmp_path / "fitted.toml"
    simulator.fit({"made up": record}, plots=Path(plots), out=out, **OF_TRIALS["fit"])
    assert "simulator.fit(record, " in out.read_text(encoding="utf-8")
    assert simulator.agree({"made up": record}, plots=plots, parameters=out).sentences


@pytest.mark.parametrize("name", SMALL)
def test_a_notebook_shows_an_answer(record: Any, name: str) -> None:
    reply = getattr(simulator, name)(record, **SMALL[name], units="si")
    html, text = reply._repr_html_(), repr(reply)
    assert "<table>" in html and '<th scope="col">' in html and html.count("<tr>") > 1
    assert html.count("<tr>") <= FEW_ROWS + 1
    assert "invented" in html and "lb/ac" not in html.split("<details>")[0]
    first = reply.headline.split()
    assert text.split()[: len(first)] == first
    assert reply.chart()._repr_mimebundle_(include=["image/svg+xml"])[0]


def test_numbers_and_lists_stand_for_texts(record: Any) -> None:
    asked = {
        **SMALL["whatif"],
        "years": range(1999, 2005),
        "sow": ("10-20", "12-08"),
        "organic_matter": 1.5,
    }
    texts = {**SMALL["whatif"], "organic_matter": "1.5"}
    assert simulator.whatif(record, **asked).answer.rows == command("whatif", texts)["rows"]


def test_chart_draws_a_reply(record: Any) -> None:
    reply = simulator.degree_days(record, **SMALL["degree_days"], units="si")
    assert simulator.chart(reply).to_dict() == reply.chart().to_dict()
    with pytest.raises(InputError, match=r"^units: A reply is drawn as it was asked for\. Ask"):
        simulator.chart(reply, units="us")


def test_long_tables_are_cut_and_say_so(record: Any) -> None:
    dates = ",".join(f"11-{day:02d}" for day in range(1, 17))
    reply = simulator.whatif(record, sow=dates, nitrogen="30 lb/acre", years="2001")
    for shown in (repr(reply), reply._repr_html_()):
        assert "Nov 10" in shown and "Nov 11" not in shown.split("more rows")[0]
        assert "... and 6 more rows" in shown
    assert "Nov 16" in reply.text


def test_what_is_in_a_record_is_no_markup(record: Any) -> None:
    named = record.assign_attrs(site="<b>home</b>")
    html = simulator.degree_days(named, **SMALL["degree_days"])._repr_html_()
    assert "<b>home" not in html and "&lt;b&gt;home" in html


def test_a_record_needs_no_name(record: Any) -> None:
    unnamed = record.assign_attrs(site=None)
    reply = simulator.degree_days(unnamed, **SMALL["degree_days"])
    assert "this record's place" in " ".join(reply.heading.split())
    assert reply.answer.rows[0]["site"] == "this record's place"


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"nitrogen": 60}, r"^nitrogen: '60' has no unit\. Write for example '60 lb/acre'"),
        ({"sows": "10-20"}, r"^sows: whatif takes nothing of this name\. Write sow=\."),
        ({"nitrogen_timing": "spring"}, r"^nitrogen_timing: 'spring' cannot be read"),
        ({"years": "abc"}, r"^years: 'abc' is not a year"),
        ({"units": "metric"}, r"^units: 'metric' is not one of"),
        ({"sow": []}, r"^sow: It is empty\. Give a value, or leave sow out"),
        ({"soil": ["loam", "sand"]}, r"^soil: 2 values are given\. Give one"),
        ({"soil": {}}, r"^soil: \{\} is not text\. Write it as text: soil='\.\.\.'"),
        ({"sow": np.array("10-20")}, r"^sow: array\('10-20'.* is not text"),
        (
            {"weather": "station.csv"},
            r"^weather: The record is the first argument\. Write record =",
        ),
        ({"change": "rain"}, r"^change: 'rain' cannot be read"),
    ],
)
def test_what_cannot_be_used_is_named_as_python_has_it(
    record: Any, given: dict[str, Any], told: str
) -> None:
    with pytest.raises(InputError, match=told) as error:
        simulator.whatif(record, **given)
    assert "--" not in str(error.value)


def test_other_kinds_of_faults_are_named(record: Any) -> None:
    with pytest.raises(
        InputError, match=r"^record: 'station\.csv' is not a weather record\. Write"
    ):
        simulator.whatif("station.csv")
    with pytest.raises(InputError, match=r"^record: The record carries no latitude\. Give it: rec"):
        simulator.whatif(record.assign_attrs(latitude=None), years="2000")
    with pytest.raises(InputError, match=r"^chance: "):
        simulator.risk(record, chance=200)
    with pytest.raises(InputError, match=r"^by_year: 'yes' is neither True nor False"):
        simulator.degree_days(record, by_year="yes")
    with pytest.raises(InputError, match=r"^year: 'last' is not a valid integer"):
        simulator.why(record, year="last")


@pytest.mark.parametrize("name", [*SMALL, *OF_TRIALS])
def test_help_and_signature_are_those_of_the_options(name: str) -> None:
    function = getattr(simulator, name)
    takes = inspect.signature(function).parameters
    assert next(iter(takes)) == "record" and set({**SMALL, **OF_TRIALS}[name]) < set(takes)
    assert not {"chart", "as_json", "json", "weather", "workers", "map"} & set(takes)
    assert "Parameters\n----------\nrecord" in function.__doc__
    for key in list(takes)[1:]:
        assert f"\n{key} : " in function.__doc__
    assert " --" not in re.sub(r"'fallsown [^']*'", "", function.__doc__)


def test_a_file_of_parameters_may_be_a_path(record: Any, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.toml: There is no such parameter file"):
        simulator.whatif(record, parameters=tmp_path / "none.toml")


def test_the_questions_are_not_loaded_before_they_are_asked() -> None:
    code = (
        "import sys, simulator; print([name for name in ('click', 'numpy', 'xarray', 'altair') "
        "if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
