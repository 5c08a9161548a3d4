"""A field kept in a file: what goes before what, what comes back, and what is refused."""

from __future__ import annotations

import json
import os
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

import simulator
from simulator.commands import _COMMANDS, fallsown, module_of
from simulator.commands.shared import field_file, field_options, field_values
from simulator.commands.shared.field_file import load_field, read_field
from simulator.commands.shared.options import HELP_NAMES
from simulator.problems import InputError

FARM = """
name = "Quarry bottom"
weather = "weather/station.csv"
latitude = 33.0
soil = "loam"
cereal = "wheat"
sow = "Oct 25"
seeding = "80 lb/acre"
nitrogen = "30 lb/acre"
end = "04-10"
planting = "May 5"
"""
SHORT = ["--year", "2010"]


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(fallsown, list(map(str, arguments)), catch_exceptions=False)


def answered(*arguments: str | Path) -> dict[str, Any]:
    result = run(*arguments, "--json")
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


def refused(*arguments: str | Path) -> str:
    result = run(*arguments)
    assert result.exit_code == 2, result.stdout
    return result.stderr


def parameters(command: str, *arguments: str | Path) -> dict[str, Any]:
    """What a command is given to work with, without its running."""
    given = [command, *map(str, arguments)]
    of = module_of(command).command
    return of.make_context(command, given[1:], help_option_names=HELP_NAMES).params


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A field file, its weather in a folder beside it: two years without a latitude."""
    folder = tmp_path_factory.mktemp("farm")
    days = [date(2010, 8, 1) + timedelta(n) for n in range(700)]
    rows = [
        f"{day},{70 - n % 9},{45 + n % 5},{0.6 if n % 4 == 0 else 0}" for n, day in enumerate(days)
    ]
    (folder / "weather").mkdir()
    (folder / "weather" / "station.csv").write_text(
        "date,tmax (degF),tmin (degF),rain (inch)\n" + "\n".join(rows)
    )
    (folder / "farm.toml").write_text(FARM)
    return folder / "farm.toml"


def written(folder: Path, text: str) -> Path:
    path = folder / "field.toml"
    path.write_text(text, encoding="utf-8")
    return path


# --- what goes before what ---


@pytest.mark.analytic("the command line before the file, the file before the defaults")
def test_options_go_before_the_file_and_the_file_before_the_defaults(farm: Path) -> None:
    by_file = answered("season", "--field", farm, *SHORT)["inputs"]
    assert (by_file["soil"], by_file["cereal"], by_file["sow"]) == ("loam", "wheat", "10-25")
    assert by_file["seeding_kg_ha"] == pytest.approx(80 * 0.45359237 / 0.404687261, rel=1e-6)
    assert by_file["previous_crop"] == "cotton"  # neither says it
    beside = answered("season", *SHORT, "--soil", "clay", "--field", farm, "--sow", "11-05")
    assert (beside["inputs"]["soil"], beside["inputs"]["sow"]) == ("clay", "11-05")
    assert beside["inputs"]["cereal"] == "wheat"


@pytest.mark.parametrize("command", ["season", "whatif", "risk", "sheet", "sensitivity"])
def test_what_is_given_goes_before_the_file_though_it_is_the_default(
    command: str, farm: Path
) -> None:
    plain = parameters(command, "--field", farm)
    assert (plain["soil"], plain["cereal"], plain["latitude"]) == ("loam", "wheat", 33.0)
    given = parameters(command, "--soil", "sandy loam", "--field", farm, "--cereal", "rye")
    assert (given["soil"], given["cereal"], given["latitude"]) == ("sandy loam", "rye", 33.0)


def test_lists_of_the_file_go_to_options_that_take_them(tmp_path: Path) -> None:
    path = written(tmp_path, 'sow = ["10-20", "Nov 5"]\nnitrogen = "0,30 lb/acre"\n')
    assert parameters("whatif", "--field", path)["sow"] == ("10-20", "Nov 5")
    assert parameters("whatif", "--field", path)["nitrogen"] == ("0,30 lb/acre",)
    assert parameters("whatif", "--field", path, "--sow", "12-01")["sow"] == ("12-01",)
    told = refused("season", "--field", path)
    assert f"{path}, key 'sow': 10-20, 11-05 are several values." in told
    assert f"{path}, key 'nitrogen': 0 lb/acre, 30 lb/acre are several values." in told


def test_the_files_weather_goes_with_what_describes_it(farm: Path) -> None:
    """Another weather is not read with the latitude and the columns of the field's own."""
    given = parameters("season", "--weather", "hollin-reach", "--field", farm)
    assert (given["weather"], given["latitude"], given["soil"]) == ("hollin-reach", None, "loam")
    answer = answered("season", "--year", "2010", "--weather", "hollin-reach", "--field", farm)
    assert answer["inputs"]["latitude"] != 33.0


@pytest.mark.parametrize(
    ("command", "tried", "others"),
    [
        (["response"], ["nitrogen"], ["sow", "seeding", "end"]),
        (["timing"], ["end"], ["sow", "nitrogen"]),
        (["sheet", "--question", "nitrogen"], ["nitrogen"], ["sow", "end"]),
        (["sheet", "--question", "termination"], ["end"], ["sow", "nitrogen"]),
        (["sheet"], [], ["sow", "nitrogen", "end"]),
        (["budget"], ["sow", "seeding", "nitrogen"], ["end"]),
        (["design"], ["sow", "seeding", "nitrogen"], ["end", "soil"]),
    ],
)
def test_a_question_keeps_trying_several_where_the_file_has_one(
    command: list[str], tried: list[str], others: list[str], farm: Path, tmp_path: Path
) -> None:
    name, *more = command
    own, filled = parameters(name, *more), parameters(name, *more, "--field", farm)
    file = load_field(farm).values
    for key in tried:
        assert filled[key] == own[key]
    for key in others:
        assert filled[key] in (file[key], (file[key],))
    assert "plan" not in filled or filled["plan"] is None  # of design, which is a file
    lists = {"sow": '["10-20", "11-05"]', "end": '"03-20,04-10"'}
    rates = dict.fromkeys(("seeding", "nitrogen"), '"20,40 lb/acre"')
    path = written(tmp_path, "\n".join(f"{k} = {v}" for k, v in (lists | rates).items()))
    several = parameters(name, *more, "--field", path)
    for key in tried:
        assert several[key] != own[key]
        assert ",".join(several[key]) == ",".join(
            field_values.texts_of(load_field(path).values[key])
        )


def test_the_budget_sets_the_files_plan_beside_the_usual(farm: Path) -> None:
    plan = "sow=Oct 25; seeding=80 lb/acre; nitrogen={} lb/acre; end=04-10"
    assert parameters("budget", "--field", farm)["texts"] == (plan.format(30), "")
    beside = parameters("budget", "--field", farm, "--nitrogen", "45 lb/acre")
    assert beside["texts"] == (plan.format(45), "")
    assert parameters("budget", "--field", farm, "--plan", "sow=11-01")["texts"] == ("sow=11-01",)


def test_every_question_about_a_stand_takes_a_field() -> None:
    takes = [name for name in _COMMANDS if field_options.takes_field(module_of(name).command)]
    of_stand = ["whatif", "season", "compare", "response", "budget", "timing", "cover", "why"]
    assert set(takes) >= {*of_stand, "risk", "outlook", "sheet", "sensitivity"}
    for name in takes:
        for key in ("weather", "latitude", "soil", "soil_nitrate", "sow", "nitrogen", "end"):
            assert field_options.option_of(module_of(name).command, key), f"{name} {key}"


# --- weather beside the file ---


def test_a_weather_path_is_as_seen_from_the_file(
    farm: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "weather").mkdir()
    (tmp_path / "weather" / "station.csv").write_text("a trap: this is not the file's weather")
    here = Path(os.path.relpath(farm, tmp_path))
    assert answered("season", "--field", here, *SHORT)["rows"]
    link = tmp_path / "link.toml"
    link.symlink_to(farm)
    assert answered("season", "--field", link, *SHORT)["rows"]


def test_a_sample_is_named_as_it_is(tmp_path: Path) -> None:
    path = written(tmp_path, 'weather = "hollin-reach"')
    assert parameters("season", "--field", path)["weather"] == "hollin-reach"
    (tmp_path / "hollin-reach").write_text("a file of that name stands beside it")
    assert parameters("season", "--field", path)["weather"] == str(tmp_path / "hollin-reach")


# --- what is kept comes back ---


@pytest.mark.parametrize(
    ("command", "question"),
    [
        ("season", ["--year", "2010", "--sow", "Oct 22", "--nitrogen-timing", "sowing+02-15"]),
        ("whatif", ["--years", "2010", "--sow", "10-20, 11-20", "--nitrogen", "0,40 lb/acre"]),
        ("whatif", ["--years", "2010", "--sow", "10-20", "--sow", "11-20"]),
        ("timing", ["--years", "2010", "--end", "03-15,04-15", "--organic-matter", "1.5"]),
        ("compare", ["--years", "2010", "--soil-nitrate", "60 lb/acre on 09-25"]),
    ],
)
@pytest.mark.analytic("a file that holds what was given gives what was given")
def test_a_saved_field_gives_the_same_rows(
    command: str,
    question: list[str],
    farm: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(farm.parent)
    years, asked = question[:2], question[2:]
    weather = ["--weather", "weather/station.csv", "--latitude", "33", "--soil", "silt loam"]
    saved = tmp_path / "new" / "field.toml"
    saved.parent.mkdir()
    first = answered(command, *years, *asked, *weather, "--save-field", saved)
    monkeypatch.chdir(tmp_path)
    second = answered(command, "--field", saved, *years)
    assert first["rows"] == second["rows"] and len(first["rows"]) > 0
    assert first["inputs"] == second["inputs"]
    assert (
        load_field(saved).written["weather"].startswith("..")
    )  # a path that was relative stays so


def test_what_was_left_at_its_default_is_kept_as_a_remark(tmp_path: Path) -> None:
    saved = tmp_path / "field.toml"
    answered("season", "--year", "2010", "--soil", "sandy loam", "--save-field", saved)
    assert load_field(saved).written == {"soil": "sandy loam"}
    text = saved.read_text()
    assert '\n# cereal = "rye"\n' in text and '\n# nitrogen = "30 lb/acre"\n' in text
    kept = text.replace('# cereal = "rye"', 'cereal = "rye"')
    assert load_field(written(tmp_path, kept)).written == {"soil": "sandy loam", "cereal": "rye"}


def test_a_field_that_was_given_is_kept_with_what_is_new(farm: Path, tmp_path: Path) -> None:
    saved = tmp_path / "field.toml"
    answered("season", *SHORT, "--field", farm, "--soil", "clay", "--save-field", saved)
    old, new = load_field(farm).written, load_field(saved).written
    assert new.pop("soil") == "clay" and old.pop("soil") == "loam"
    assert (tmp_path / new.pop("weather")).samefile(farm.parent / old.pop("weather"))
    assert new == old  # the planting date too, which the season has no use for


def test_another_weather_is_kept_without_what_described_the_files(
    farm: Path, tmp_path: Path
) -> None:
    saved = tmp_path / "field.toml"
    other = ["--year", "2010", "--weather", "hollin-reach", "--save-field", saved]
    first = answered("season", "--field", farm, *other)
    kept = load_field(saved).written
    assert kept["weather"] == "hollin-reach" and "latitude" not in kept
    assert answered("season", "--year", "2010", "--field", saved)["rows"] == first["rows"]
    # what describes a weather that the file leaves open stays with whichever is given
    here = ["--weather", farm.parent / "weather" / "station.csv", "--save-field", saved]
    answered("season", *SHORT, "--field", written(tmp_path, "latitude = 40.0"), *here)
    assert load_field(saved).written["latitude"] == 40.0


def test_a_saved_field_of_nothing_is_one(tmp_path: Path) -> None:
    saved = tmp_path / "field.toml"
    first = answered("season", "--year", "2010", "--save-field", saved)
    assert load_field(saved).written == {}
    assert answered("season", "--year", "2010", "--field", saved)["rows"] == first["rows"]
    assert run("season", "--year", "2010", "--save-field", saved).exit_code == 0


# --- what is there already ---


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("notes.toml", b"what I paid in March\n", "is not a field file"),
        ("prices.toml", b'[seed]\nrye = "0.4 $/lb"\n', "is not a field file"),
        ("mixed.toml", b'soil = "loam"\nbank = "12-34"\n', "is not a field file"),
        ("empty.toml", b"", "is not a field file"),
        ("odd.toml", b"\xff\xfe\x00", "is not a field file"),
        ("station.csv", b"date,tmax\n", "does not end in .toml"),
    ],
)
def test_what_is_no_field_file_is_never_written_over(
    name: str, content: bytes, told: str, tmp_path: Path
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    assert told in refused("season", "--year", "2010", "--soil", "loam", "--save-field", path)
    assert path.read_bytes() == content
    assert [one.name for one in tmp_path.iterdir()] == [name]


def test_a_field_file_is_replaced_and_that_is_said(tmp_path: Path) -> None:
    path = written(tmp_path, 'soil = "lom"\n')  # with a fault, but somebody's field
    result = run("season", "--year", "2010", "--soil", "clay", "--save-field", path)
    assert result.exit_code == 0 and f"Replaced: {path}" in result.stderr
    assert load_field(path).written == {"soil": "clay"}


def test_a_file_that_is_read_is_not_written_over(farm: Path, tmp_path: Path) -> None:
    fitted = tmp_path / "fitted.toml"
    fitted.write_text("[cereal.rye]\n")
    asked = ["season", "--year", "2010", "--parameters", fitted, "--save-field", fitted]
    assert "one of the files read itself" in refused(*asked)
    assert fitted.read_text() == "[cereal.rye]\n"
    assert "There is no folder" in refused(
        "season", *SHORT, "--save-field", tmp_path / "none" / "field.toml"
    )


def test_nothing_is_written_where_the_question_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "field.toml"
    assert "--soil: 'lom' is not known." in refused("season", "--soil", "lom", "--save-field", path)
    assert "--sow" in refused("season", "--sow", "04-20", "--save-field", path)
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_half_written_where_the_disk_refuses(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = written(tmp_path, 'soil = "loam"\n')

    def full(self: Path, content: bytes) -> int:
        with self.open("wb") as file:
            file.write(content[:10])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    told = refused("season", "--year", "2010", "--soil", "clay", "--save-field", path)
    assert "--save-field" in told and "No space left on device" in told
    assert path.read_text() == 'soil = "loam"\n'
    assert list(tmp_path.iterdir()) == [path]


def test_a_field_has_one_weather(tmp_path: Path) -> None:
    both = ["--weather", "tallow-bend", "--weather", "hollin-reach"]
    told = refused("risk", *both, "--save-field", tmp_path / "field.toml")
    assert "The weather is of 2 sources, and a field has one." in told


# --- odd names ---


@pytest.mark.parametrize("name", ['Ünder "den" Linden\\ #1', "= [x] '''", "畑 <b>&amp;"])
def test_odd_names_come_back(
    name: str, farm: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / name.replace("\\", "_")
    folder.mkdir()
    weather = folder / f"{folder.name}.csv"
    weather.write_bytes((farm.parent / "weather" / "station.csv").read_bytes())
    monkeypatch.chdir(folder)
    saved = folder / f"{folder.name}.toml"
    asked = ["sheet", "--years", "2010", "--sow", "10-20", "--nitrogen", "0,30 lb/acre"]
    here = ["--weather", weather.name, "--latitude", "33", "--place", name]
    assert run(*asked, *here, "--save-field", saved).exit_code == 0
    assert read_field(saved).name == name
    monkeypatch.chdir(tmp_path)
    assert read_field(saved).weather().attrs["latitude"] == 33.0
    sheet = run("sheet", "--years", "2010", "--field", saved)
    assert sheet.exit_code == 0 and sheet.stdout.startswith(name)
    assert name in " ".join(run("field", saved).stdout.split())


def test_what_cannot_be_printed_is_not(tmp_path: Path) -> None:
    path = written(tmp_path, 'name = "Low\\u0007dale\\u001b[31m\\nfarm"\nsoil = "loam"\n')
    assert read_field(path).name == "Low\ufffddale\ufffd[31m farm"
    told = run("field", path)
    assert told.exit_code == 0 and "cannot be printed" in told.stdout
    assert not {"\x07", "\x1b"} & set(told.stdout)
    bad = refused("field", written(tmp_path, '"so\\u001bil" = "loam"\nsoil = "\\u0007"\n'))
    assert "\x1b" not in bad and "\x07" not in bad


# --- what is refused ---

BAD = {
    'soill = "loam"': "key 'soill': There is no such key. Did you mean 'soil'?",
    'Soil = "loam"': "Did you mean 'soil'?",
    'timing = "sowing"': "Did you mean 'nitrogen_timing'?",
    'termination = "04-15"': "Did you mean 'end'?",
    'xyzzy = "1"': "key 'xyzzy': There is no such key. Take it out; keys are name, weather,",
    '[plan]\nsow = "10-20"': "A field file has no sections. Write sow without a section.",
    'soil = "lome"': "key 'soil': 'lome' is not known. Did you mean 'loam'?",
    'cereal = "rie"': "Did you mean 'rye'?",
    'previous_crop = "cottn"': "Did you mean 'cotton'?",
    'fertilizer = "ureaa"': "Did you mean 'urea'?",
    "nitrogen = 30": "key 'nitrogen': 30 is not text in quotes. Write nitrogen = \"30 lb/acre\".",
    'nitrogen = "30"': "key 'nitrogen': '30' has no unit.",
    'seeding = "9000 lb/acre"': "key 'seeding'",
    'sow = "13-40"': "key 'sow': '13-40' is not a day of the calendar.",
    "sow = 2024-10-20": "key 'sow': 2024-10-20 is a date with a year",
    "sow = 10-20": "It is not TOML",
    "sow = []": "It lists 0 values",
    'sow = ["10-20", 5]': "5 is not text in quotes.",
    'sow = ["10-20", "10-20"]': "is given twice.",
    'sow = "04-20"\nend = "04-15"': "key 'sow': Sowing on 04-20 is not before the end on 04-15.",
    'nitrogen_timing = "sowing 1/3 + 02-15"': "key 'nitrogen_timing': The shares of",
    'end = "ripe"': "key 'end': 'ripe' cannot be read.",
    'soil = ["loam", "clay"]': "key 'soil': It is a list, and takes one value.",
    'soil_nitrate = "60"': "key 'soil_nitrate': '60' has no unit.",
    "organic_matter = 80": "key 'organic_matter': 80 percent is out of range.",
    'planting = "May 40"': "key 'planting': '05-40' is not a day of the calendar.",
    'latitude = "north"': "key 'latitude': 'north' is not a number.",
    "latitude = nan": "key 'latitude': 'nan' is not a number.",
    "latitude = true": "key 'latitude': true is not text in quotes.",
    f"latitude = {10**30}": "more than 64 bits",
    'units_of_file = "metric"': "key 'units_of_file': 'metric' is not known.",
    'weather = "tallow-bnd"': "Did you mean 'tallow-bend'?",
    'weather = "tallow-bend"\nlatitude = 31.3': "but the weather is a sample.",
    'weather = "a\\u0000b.csv"': "a character of no file's name",
    'name = ""': "key 'name': It is empty.",
    f'name = "{"x" * 90}"': "key 'name': It has 90 characters, and may have 80.",
    'previous-crop = "corn"\nprevious_crop = "corn"': "It is written twice",
    'soil = "loam"\nsoil = "clay"': "It is not TOML",
    "# only a remark": "It says nothing of a field.",
    "a." * 1500 + "b = 1": "field.toml",
}


@pytest.mark.parametrize("text", BAD)
def test_each_fault_is_told_by_file_and_key(text: str, tmp_path: Path) -> None:
    path = written(tmp_path, text)
    for told in (refused("field", path), refused("season", "--field", path)):
        assert BAD[text] in told and str(path) in told
        assert "Traceback" not in told
    with pytest.raises(InputError) as error:
        read_field(path)
    assert BAD[text] in str(error.value)


def test_all_faults_are_told_at_once_in_the_order_of_the_file(tmp_path: Path) -> None:
    lines = ["end = 4", 'soill = "loam"', 'cereal = "rie"', 'sow = "10-20"', "prices = 1"]
    path = written(tmp_path, "\n".join(lines))
    told = run("field", path)
    assert told.exit_code == 2
    found = [line.split("key '")[1].split("'")[0] for line in told.stderr.splitlines()[1:]]
    assert found == ["end", "soill", "cereal", "prices"]
    assert "10-20" in told.stdout  # what could be understood


def test_files_that_cannot_be_read_are_refused(tmp_path: Path) -> None:
    assert "There is no such file." in refused("field", tmp_path / "none.toml")
    assert "It is a folder." in refused("season", "--field", tmp_path)
    path = tmp_path / "field.toml"
    path.write_bytes(b'soil = "l\xf6ss"')
    assert "It is not text in UTF-8." in refused("field", path)
    path.write_bytes(b"#" * (field_file.MOST_BYTES + 1))
    assert "It is larger than 32,000 bytes." in refused("field", path)
    path.unlink()
    os.mkfifo(path)  # would wait for ever for somebody to write
    assert "There is no such file." in refused("field", path)


def test_what_the_file_names_is_read_too(farm: Path, tmp_path: Path) -> None:
    (tmp_path / "station.csv").write_text("date,tmax (degF),tmin (degF),rain (inch)\nx,1,2,3\n")
    (tmp_path / "p.toml").write_text("[seed]\n")
    path = written(
        tmp_path,
        'weather = "station.csv"\nlatitude = 31.3\nprices = "p.toml"\nparameters = "none.toml"\n'
        'sow = "10-20"\nnitrogen = "30 lb/acre"\nnitrogen_timing = "sowing"\n'
        'soil_nitrate = "60 lb/acre on 12-01"\n',
    )
    told = refused("field", path)
    for part in (
        f"{path}, key 'prices': ",
        f"{path}, key 'parameters': ",
        f"{path}, key 'weather': station.csv, line 2",
        f"{path}, key 'soil_nitrate': The soil test of 12-01 is after the last sowing, on 10-20.",
    ):
        assert part in told
    latitude = FARM.replace("latitude = 33.0\n", "").replace(
        "weather/station.csv", str(farm.parent / "weather" / "station.csv")
    )
    assert "It does not say the latitude" in refused("field", written(tmp_path, latitude))


def test_a_fault_of_the_file_and_one_of_an_option_are_told_apart(farm: Path) -> None:
    assert refused("season", *SHORT, "--field", farm, "--end", "10-01").startswith(
        f"{farm}, key 'sow': Sowing on 10-25 is not before the end on 10-01."
    )
    assert refused("season", *SHORT, "--field", farm, "--sow", "04-20").startswith(
        "--sow: Sowing on 04-20 is not before the end on 04-10."
    )


# --- what is in it ---


def test_the_field_says_what_is_in_it_and_who_uses_it(farm: Path) -> None:
    told = run("field", farm)
    text = " ".join(told.stdout.split())
    assert told.exit_code == 0, told.stderr
    assert text.startswith(f"Quarry bottom, a field kept in {farm}.".replace("\n", " ")[:20])
    for part in (
        "weather/station.csv all",
        "80 lb/acre all",
        "timing (end), sheet --question termination (end). They try their own;",
        "budget sets this plan first, and the usual one beside it.",
        "33.0 degrees north, from 2010-08-01 to 2012-06-30.",
        "Not said, so each command takes its default: previous_crop, nitrogen_timing.",
    ):
        assert part in text
    rows = {row["key"]: row for row in answered("field", farm)["rows"]}
    assert rows["sow"]["value"] == "Oct 25"
    assert "timing" not in rows["end"]["used_by"] and "season" in rows["end"]["used_by"]
    assert rows["end"]["tried_by"] == ["timing", "sheet --question termination"]


# --- from Python ---


def test_python_reads_a_field(farm: Path) -> None:
    field = simulator.read_field(farm)
    assert field == {
        "cereal": "wheat",
        "soil": "loam",
        "sow": "Oct 25",
        "seeding": "80 lb/acre",
        "nitrogen": "30 lb/acre",
        "end": "04-10",
    }
    assert field.more["planting"] == "May 5"
    record = field.weather()
    assert record.attrs["latitude"] == 33.0
    by_words = simulator.whatif(record, **field, years=2010)
    by_file = simulator.whatif(record, field=farm, years=2010)
    rows = answered("whatif", "--field", farm, "--years", "2010")["rows"]
    told = ["biomass_kg_ha", "nitrate_leached_kg_ha"]
    assert by_words.answer.rows == by_file.answer.rows
    assert [[row[k] for k in told] for row in by_file.answer.rows] == [
        [row[k] for k in told] for row in rows
    ]
    beside = simulator.whatif(record, field=farm, soil="clay", years=2010)
    assert beside.answer.inputs["soil"] == "clay"


def test_python_names_file_and_key(farm: Path, tmp_path: Path) -> None:
    record = read_field(farm).weather()
    with pytest.raises(InputError, match="key 'sow': Sowing on 10-25 is not before the end"):
        simulator.whatif(record, field=farm, end="10-01", years=2010)
    with pytest.raises(InputError, match="Did you mean 'soil'"):
        simulator.whatif(record, field=written(tmp_path, 'soill = "loam"'))
    with pytest.raises(InputError, match="save_field"):
        simulator.whatif(record, save_field="field.toml")
