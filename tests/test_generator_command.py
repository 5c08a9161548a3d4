"""``fallsown generate``: files that read back, the page, invented places, and what is refused."""

from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path

import netCDF4
import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner, Result

import simulator
from simulator.answers.generate import report, table
from simulator.answers.generate import words as generate_words
from simulator.answers.generate.files import write_record
from simulator.commands import fallsown
from simulator.weather.files.reading import read_weather
from simulator.weather.generator.against_recorded import fitted_maker, held_against, resampled_maker
from simulator.weather.generator.fit import fit_climatology
from simulator.weather.generator.generated import make_weather
from simulator.weather.generator.invented_places import scatter, write_places
from simulator.weather.generator.statistics import STATISTICS
from simulator.weather.places import find_places, read_place
from simulator.weather.record import NAMES
from simulator.weather.samples import sample_weather

ERRORS = 4.0


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, ["generate", *arguments])


@pytest.fixture(scope="module")
def record():
    return sample_weather()


@pytest.fixture(scope="module")
def fitted(record):
    return fit_climatology(record)


@pytest.fixture(scope="module")
def held(record, fitted):
    return held_against(record, fitted_maker(fitted, record), 0.2, members=12)


def same_bits(one: xr.Dataset, other: xr.Dataset) -> bool:
    return np.array_equal(one.time.values, other.time.values) and all(
        one[name].values.tobytes() == other[name].values.tobytes() for name in NAMES
    )


def test_panels_of_the_report_stand_below_each_other(held):
    made = report.chart(held, "us", []).to_dict(validate=False)
    room = {
        (group["spec"]["width"], axis["minExtent"], axis["maxExtent"])
        for group in made["vconcat"]
        for axis in [group["spec"]["layer"][0]["encoding"]["y"]["axis"]]
    }
    assert len(room) == 1


@pytest.mark.parametrize(
    ("suffix", "method"), [(".csv", "fitted"), (".csv", "resampled"), (".nc", "resampled")]
)
def test_what_is_written_reads_back_to_the_same_bits(tmp_path, record, suffix, method):
    path = tmp_path / f"made{suffix}"
    done = run("--years", "4", "--method", method, "--seed", "7", "--out", str(path))
    assert done.exit_code == 0, done.output
    back = read_weather(path)
    made = simulator.generate_weather(record, years=4, seed=7, method=method)
    assert same_bits(back, made)
    assert back.attrs["invented"] == "yes"
    assert back.attrs["latitude"] == record.attrs["latitude"]
    for part in ("sample tallow-bend", f"method {method}", "seed 7", "fallsown 0.1.0"):
        assert part in back.attrs["source"]


def test_any_bits_survive_the_file(tmp_path, record):
    draw = np.random.Generator(np.random.PCG64(1))
    made = record.isel(time=slice(0, 900)).copy(deep=True)
    for name in NAMES:
        made[name].values[:] = made[name].values + draw.random(900) / 3
    made["rain"].values[10:13] = np.nan
    for suffix in (".csv", ".nc"):
        write_record(made, tmp_path / f"a{suffix}", "fallsown generate")
        assert same_bits(read_weather(tmp_path / f"a{suffix}"), made)


@pytest.mark.long
def test_the_longest_record_reads_back(tmp_path, record):
    made = simulator.generate_weather(record, years=450, method="resampled")
    assert str(made.time.values[0])[:10] == "1750-08-01"
    assert str(made.time.values[-1])[:10] == "2200-07-31"
    write_record(made, tmp_path / "long.nc", "")
    assert same_bits(read_weather(tmp_path / "long.nc"), made)


def test_other_commands_take_what_is_written(tmp_path):
    path = tmp_path / "made.csv"
    assert run("--years", "3", "--method", "resampled", "--out", str(path)).exit_code == 0
    checked = CliRunner().invoke(fallsown, ["check", str(path)])
    assert checked.exit_code == 0
    assert "2001-08-01 to 2004-07-31" in checked.output


def test_json_holds_days_and_what_was_fitted():
    done = run("--years", "2", "--json")
    answer = json.loads(done.stdout)
    assert answer["command"] == "generate"
    assert len(answer["rows"]) == 730
    assert set(answer["rows"][0]) >= {"site", "date", "tmax_degC", "tmin_degC", "rain_mm"}
    assert answer["units"]["rain_mm"] == "mm"
    assert answer["fit"]["order"] == 1
    assert answer["inputs"]["seed"] == 1
    assert any("invented" in text for text in answer["cautions"])
    lent = json.loads(run("--years", "2", "--json", "--method", "resampled").stdout)["lent_by"]
    assert len(lent) == 2


def test_units_are_never_mixed(record, fitted, held):
    made = make_weather(record, 2, 1, "resampled")
    for system, strange in (("us", r"°C|\bmm\b"), ("si", r"°F|\d in\b|\bin  ")):
        text = " ".join(
            [
                *generate_words.fit_sentences(fitted, system),
                table.held_table(held, system),
                table.month_table(made, record, 0.2, system),
            ]
        )
        assert re.findall(strange, text) == []


def test_months_of_few_falls_have_the_means_of_all_their_days(record):
    one = make_weather(record, 1, 1).record
    means = table.month_means(one, 0.2)
    days = one.to_dataframe()
    month = days.index.month
    for name in ("tmax", "tmin"):
        assert means[name] == pytest.approx(days[name].groupby(month).mean().to_numpy())
    lengths = [31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]  # and 28 days in February of 2002
    assert means["rain"] == pytest.approx(days["rain"].groupby(month).mean().to_numpy() * lengths)
    wet = (days["rain"] >= 0.2).groupby(month).mean().to_numpy()
    assert means["wet"] == pytest.approx(wet * lengths)


def test_the_heading_says_what_was_put_together(record):
    for options, words in (
        ({}, "drawn day by day from a generator fitted to"),
        ({"method": "resampled"}, "put together from whole seasons of"),
        ({"method": "resampled", "blocks": "month"}, "put together from blocks of the seasons of"),
    ):
        made = make_weather(record, 1, 1, **options)
        assert words in " ".join(generate_words.heading(made, record, 1).split())


def test_sentences_follow_the_numbers(held):
    good = [dataclasses.replace(one, recorded=one.generated, deviations=0.0) for one in held]
    assert generate_words.headline(good) == "The generator keeps all 41 statistics, within chance."
    spoilt = [
        dataclasses.replace(one, deviations=3.0) if one.statistic.name == "dry_spell" else one
        for one in good
    ]
    assert "in 1 of 41 statistics: mean dry spell." in generate_words.headline(spoilt)
    two = [
        dataclasses.replace(one, deviations=3.0) if "Tmax, " in one.statistic.label else one
        for one in good
    ]
    assert (
        "mean Tmax, dry days; mean Tmax, wet days; SD of Tmax, dry days"
        in generate_words.headline(two)
    )
    first = np.arange(12) == 0
    once = dataclasses.replace(good[0], deviations=3.0, recorded=good[0].recorded + first * 9.0)
    assert (
        "wet days larger as recorded (1 month outside)." in generate_words.held_sentences([once])[1]
    )
    outside = dataclasses.replace(good[0], recorded=good[0].high + 0.1)
    assert outside.fails
    assert int(outside.beyond.sum()) == 12


def test_resampled_seasons_are_held_to_the_same_record(record):
    held = held_against(record, resampled_maker(record), 0.2, members=20)
    assert [one.statistic.label for one in held if one.fails] == []


def test_the_page_asks_the_network_for_nothing_and_holds_every_number(tmp_path, record):
    named = record.isel(time=slice(0, 8 * 366)).assign_attrs(site="<i>Here</i> & there")
    write_record(named, tmp_path / "named.csv", "")
    path = tmp_path / "report.html"
    done = run(
        "--weather",
        str(tmp_path / "named.csv"),
        "--years",
        "2",
        "--method",
        "resampled",
        "--report",
        str(path),
    )
    assert done.exit_code == 0
    assert "longest dry spell" in done.output
    page = path.read_text(encoding="utf-8")
    assert page.startswith("<!doctype html>")
    assert "default-src 'none'" in page
    assert "<i>" not in page
    assert "there (an invented place), " in page
    above = page.partition('<script type="module">')[0]
    assert "src=" not in above
    assert above.count("<tr>") == len(STATISTICS) + 7  # a row of months above each group
    for statistic in STATISTICS:
        assert statistic.label in above


def test_places_stand_in_one_file_that_is_read(tmp_path):
    path = tmp_path / "places.nc"
    done = run("--places", "7", "--years", "2", "--soils", "sandy loam,loam", "--out", str(path))
    assert done.exit_code == 0, done.output
    with xr.open_dataset(path) as data:
        assert dict(data.sizes) == {"site": 7, "time": 730}
        assert data.tmax.dims == ("site", "time")
        assert data.tmax.dtype == np.float32
        assert data.rain.attrs["units"] == "mm"
        assert data.soil.values.tolist() == ["sandy loam", "loam"] * 3 + ["sandy loam"]
        assert data.attrs["invented"] == "yes"
        assert (data.tmax > data.tmin).all()
        assert (data.rain >= 0).all()
        warm = data.tmax.isel(site=2).values
    places, problems = find_places(path)
    assert not problems
    assert len(places) == 7
    assert read_place(places[2])["tmax"].values == pytest.approx(warm)


def test_places_do_not_depend_on_how_many_there_are(tmp_path, fitted):
    for count in (2, 5):
        write_places(tmp_path / f"{count}.nc", fitted, scatter(fitted, count, 3), 1, 2001, 3)
    with netCDF4.Dataset(tmp_path / "2.nc") as two, netCDF4.Dataset(tmp_path / "5.nc") as five:
        for name in ("tmax", "rain", "latitude"):
            assert np.array_equal(two[name][:2], five[name][:2])
        assert not np.array_equal(five["rain"][0], five["rain"][1])


def test_climates_change_smoothly_in_space(fitted):
    places = scatter(fitted, 600, 1)
    assert np.abs(places.latitude - 31.6).max() <= 2.0
    across = np.column_stack([places.latitude, places.longitude])
    apart = np.linalg.norm(across[:, None] - across[None], axis=2) + 99 * np.eye(600)
    nearest = apart.argmin(axis=1)
    for field in (places.warmer, np.log(places.wetter)):
        step = np.abs(field - field[nearest]).mean()
        assert step < 0.2 * np.abs(field - np.roll(field, 1)).mean()
    # even: no place of a box this size lies far from another
    assert apart.min(axis=1).max() < 2.5 * np.sqrt(4 * 5 / 600)


@pytest.mark.practice("common practice, no source: some 0.7 degC a degree of latitude")
def test_it_is_cooler_in_the_north(fitted):
    places = scatter(fitted, 600, 1)
    slope = np.polyfit(places.latitude, places.warmer, 1)[0]
    assert -1.4 < slope < 0.0


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--years", "451"], "Ask for 1 to 450"),
        (["--out", "made.xlsx"], "does not end in .csv or .nc"),
        (["--report", "page.pdf"], "does not end in .html"),
        (["--out", "nowhere/made.csv"], "There is no folder"),
        (["--weather", "absent.csv"], "There is no such file."),
        (["--wet-day", "0.2"], "--wet-day"),
        (["--wet-day", "90 mm"], "lies outside"),
        (["--soils", "loam"], "Add --places COUNT."),
        (["--places", "3"], "Add --out FILE.nc."),
        (["--places", "3", "--out", "a.csv"], "does not end in .nc"),
        (["--places", "0", "--out", "a.nc"], "0 places asked for"),
        (["--places", "3", "--out", "a.nc", "--method", "resampled"], "Only a fitted climate"),
        (["--places", "3", "--out", "a.nc", "--soils", "moon dust"], "moon dust"),
        (["--places", "3", "--out", "a.nc", "--weights", "wet 100"], "It is for a single record."),
        (["--condition", "rain november = 900 inch"], "--condition"),
        (["--method", "resampled", "--condition", "rain november = 11"], "--condition"),
    ],
)
def test_faults_are_told_and_nothing_is_written(tmp_path, monkeypatch, arguments, message):
    monkeypatch.chdir(tmp_path)
    done = run(*arguments)
    assert done.exit_code == 2, done.output
    assert message in done.stderr
    assert list(Path(tmp_path).iterdir()) == []


def test_a_generated_file_can_be_generated_from(tmp_path, record):
    made = make_weather(record, 12, 1, "resampled").record
    write_record(made, tmp_path / "made.csv", "")
    done = run(
        "--weather", str(tmp_path / "made.csv"), "--years", "2", "--method", "resampled", "--json"
    )
    answer = json.loads(done.stdout)
    assert answer["inputs"]["site"] == "Tallow Bend (generated)"
