"""What makes one wonder about a file reaches who reads it, once, in Python and at the prompt."""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import simulator
from simulator import WeatherDoubt
from simulator.commands import fallsown
from simulator.commands.shared.weather_options import load_weather

DIFFERS = "The file says 34, you say 45; yours is followed"


@pytest.fixture
def station(tmp_path: Path) -> Path:
    """Two falls at an invented place whose file says latitude 34."""
    days = np.datetime64("2004-08-01") + np.arange(730)
    warmth = 16.0 - 10.0 * np.cos(2 * np.pi * (np.arange(730) + 197) / 365.25)
    warmth += np.random.default_rng(3).normal(0, 2, 730)
    lines = [
        f"{day},{mean + 6:.1f},{mean - 6:.1f},{12.5 * (at % 4 == 0):.1f}"
        for at, (day, mean) in enumerate(zip(days, warmth, strict=True))
    ]
    path = tmp_path / "lowdale.csv"
    head = ["# latitude: 34", "date,tmax (degC),tmin (degC),rain (mm)"]
    path.write_text("\n".join([*head, *lines]) + "\n")
    return path


def test_a_latitude_that_differs_from_the_files_is_told(station: Path) -> None:
    with pytest.warns(WeatherDoubt, match=DIFFERS) as told:
        record = simulator.read_weather(station, latitude=45.0)
    assert len(told) == 1 and told[0].filename == __file__
    assert record.attrs["latitude"] == 45.0
    assert record.attrs["doubts"] == f"lowdale.csv, latitude: {DIFFERS}."


@pytest.mark.parametrize("latitude", [None, 34.0, 34.05])
def test_a_latitude_that_agrees_is_not(station: Path, latitude: float | None) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        record = simulator.read_weather(station, latitude=latitude)
        assert "doubts" not in record.attrs
        for name in simulator.samples():
            simulator.sample_weather(name)


def test_all_doubts_are_one_warning(station: Path) -> None:
    rows = station.read_text().splitlines()
    for at in range(100, 160, 6):
        rows[at] = rows[at].split(",")[0] + ",,,"
    station.write_text("\n".join(rows))
    with pytest.warns(WeatherDoubt) as told:
        record = simulator.read_weather(station, latitude=45.0)
    assert len(told) == 1
    text = str(told[0].message)
    assert text.startswith("11 doubts about lowdale.csv:\n  lowdale.csv, latitude: ")
    assert text.endswith("\n  and more like these, in the record's attrs['doubts'].")
    assert text.count("blank on") == 4 and record.attrs["doubts"].count("blank on") == 10


def test_the_command_line_tells_it_in_words_and_warns_of_nothing(station: Path) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error", WeatherDoubt)
        record = load_weather(str(station), latitude=45.0)
        done = CliRunner().invoke(
            fallsown, ["degreedays", "--weather", str(station), "--latitude", "45"]
        )
    assert record.attrs["notes"] == (
        f"lowdale.csv, latitude: {DIFFERS}; 'fallsown check {station}' has 1 doubt."
    )
    assert done.exit_code == 0, done.output
    assert " ".join(done.output.split()).count("The file says 34, you say 45") == 1


def test_a_latitude_that_is_no_number_is_refused(station: Path) -> None:
    with pytest.raises(simulator.InputError, match="latitude: 31 N is not a number"):
        simulator.read_weather(station, latitude="31 N")  # type: ignore[arg-type]
