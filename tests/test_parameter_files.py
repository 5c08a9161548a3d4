"""Parameter files: read, written, refused by key, and used by every command."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

import simulator
from simulator.commands import fallsown
from simulator.parameters.cereals import rye
from simulator.parameters.files import (
    LONGEST_TEXT,
    MOST_BYTES,
    ParameterFile,
    Site,
    parameters_text,
    read_parameters,
    write_parameters,
)
from simulator.parameters.soils import PREVIOUS_CROPS, SOILS
from simulator.problems import InputError

GOOD = """
[provenance]
made_by = "hand"
skill = ["0.5", 2]
[cereal.rye]
growth_best = 18
[soil."sandy loam"]
organic_matter = 2.5
[previous_crop.corn]
residual_nitrate = 44.0
[fertilizer.urea]
volatilisation = 0.05
[site.headland]
soil = "loam"
previous_crop = "corn"
organic_matter = 1.1
residual_nitrate = 12.0
"""


def written(folder: Path, text: str | bytes) -> Path:
    path = folder / "mine.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def refused(folder: Path, text: str | bytes) -> list[str]:
    with pytest.raises(InputError) as error:
        read_parameters(written(folder, text))
    return [str(problem) for problem in error.value.problems]


def test_values_change_and_the_rest_stays(tmp_path: Path) -> None:
    file = read_parameters(written(tmp_path, GOOD))
    changed = file.cereal_set("rye")
    assert changed.growth_best == 18.0
    assert changed.extinction == rye.extinction
    assert "mine.toml" in changed.source
    assert file.cereal_set("wheat").growth_best != 18.0
    assert file.soil_set("sandy loam").organic_matter == 2.5
    assert file.soil_set("loam") is SOILS["loam"]
    assert file.fertilizer_set("urea").volatilisation == 0.05


def test_a_site_has_its_own_soil_and_what_a_caller_names_goes_first(tmp_path: Path) -> None:
    file = read_parameters(written(tmp_path, GOOD))
    soil, crop = file.site_sets("headland")
    assert (soil.name, crop.name) == ("loam", "corn")
    assert (soil.organic_matter, crop.residual_nitrate) == (1.1, 12.0)
    soil, crop = file.site_sets("headland", "clay", "peanut")
    assert (soil.name, crop.name) == ("clay", "peanut")
    assert (soil.organic_matter, crop.residual_nitrate) == (1.1, 12.0)
    soil, crop = file.site_sets("elsewhere", "sandy loam", "corn")
    assert (soil.organic_matter, crop.residual_nitrate) == (2.5, 44.0)


def test_every_fault_is_told_with_file_and_key(tmp_path: Path) -> None:
    told = refused(
        tmp_path,
        """
        cereals = 1
        [cereal.ryegrass]
        growth_best = 18
        [cereal.rye]
        grwth_best = 18
        growth_lowest = 30
        extinction = "0.6"
        leaf_life = true
        growth_highest = nan
        [soil]
        organic_matter = 2
        [site.a]
        soil = "mud"
        previous_crop = 3
        organic_matter = 99
        [provenance]
        when = 2024-01-01
        """,
    )
    assert len(told) == 12
    assert all("mine.toml, " in line for line in told)
    joined = "\n".join(told)
    for words in (
        "[cereals]: There is no such section. Did you mean 'cereal'?",
        "[cereal.ryegrass]: There is no such cereal.",
        "[cereal.rye], key 'grwth_best': There is no such parameter. Did you mean 'growth_best'?",
        "key 'growth_lowest': 30 is out of bounds. Take a number from -5 to 8 degC.",
        "key 'extinction': '0.6' is not a number. Take a number from 0.35 to 0.75.",
        "key 'leaf_life': True is not a number.",
        "key 'growth_highest': nan is out of bounds.",
        "[soil], key 'organic_matter': 2 stands under no name.",
        "[site.a], key 'soil': 'mud' is not known. Choose from: sand,",
        "[site.a], key 'previous_crop': 3 is not known.",
        "[site.a], key 'organic_matter': 99 is out of bounds. Take a number from 0.2 to 8 percent.",
        "[provenance], key 'when': 2024-01-01 cannot be kept.",
    ):
        assert words in joined


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("[cereal.rye\n", "is not TOML"),
        (b"\xff\xfe\x00", "not text in UTF-8"),
        ("#" * (MOST_BYTES + 1), "is larger than"),
        ("a = " + "[" * 20000, "is not TOML"),
        ("cereal = 3", "3 is no section"),
        ("[cereal.rye]\ngrowth_best = 1\ngrowth_best = 2", "is not TOML"),
        ("[site.'']\n", "no name of a site"),
        (f"[provenance]\nnote = '{'x' * (LONGEST_TEXT + 1)}'", "cannot be kept"),
        ("[soil.clay]\nwilting_point = 0.28\nfield_capacity = 0.25", "out of order"),
        ("[site.a]\nsoil = 'sand'\nwilting_point = 0.2", "out of order"),
    ],
)
def test_what_is_no_parameter_file_is_refused(
    tmp_path: Path, content: str | bytes, words: str
) -> None:
    told = refused(tmp_path, content)
    assert words in told[0]
    assert "mine.toml" in told[0]


def test_a_missing_file_and_a_folder_are_refused(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(InputError, match="no such parameter file"):
            read_parameters(path)


def test_what_is_written_is_read_back_and_explains_itself(tmp_path: Path) -> None:
    file = ParameterFile(
        cereal={"rye": {"growth_best": 18.123456789}},
        soil={"silt loam": {"mineralisation_rate": 2.5e-5}},
        site={'odd "name" \\ é': Site(soil="loam", values={"organic_matter": 1.0})},
        provenance={"made_by": 'a "quoted"\nline\t\\ \U000e0001 é', "data": ["a", "b"], "n": 3},
    )
    path = tmp_path / "out.toml"
    write_parameters(file, path)
    text = path.read_text()
    told = f"[degC]; rye has {rye.growth_best:g}, bounds 12 to 30"
    assert told in " ".join(text.replace("\n# ", " ").split())
    read = read_parameters(path)
    assert (read.cereal, read.soil, read.site, read.provenance) == (
        file.cereal,
        file.soil,
        file.site,
        file.provenance,
    )


@given(
    st.dictionaries(
        st.sampled_from(sorted(rye.specs())), st.floats(0.0, 1.0), min_size=1, max_size=8
    ),
    st.text(min_size=1, max_size=20),
)
def test_any_values_and_texts_come_back(
    tmp_path_factory: pytest.TempPathFactory, places: dict[str, float], text: str
) -> None:
    specs = rye.specs()
    values = {
        key: specs[key].low + place * (specs[key].high - specs[key].low)
        for key, place in places.items()
    }
    file = ParameterFile(cereal={"rye": values}, provenance={"said": text})
    path = written(tmp_path_factory.mktemp("any"), parameters_text(file))
    read = read_parameters(path)
    assert read.cereal == {"rye": values}
    assert read.provenance == {"said": text}


def test_nothing_is_half_written(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        write_parameters(ParameterFile(), tmp_path / "no" / "x.toml")
    (tmp_path / "x.toml").mkdir()
    with pytest.raises(InputError, match="cannot be written"):
        write_parameters(ParameterFile(), tmp_path / "x.toml")
    assert [path.name for path in tmp_path.iterdir()] == ["x.toml"]


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, arguments, catch_exceptions=False)


SMALL = ("--years", "2005", "--sow", "10-20", "--nitrogen", "0 lb/acre")


@pytest.mark.parametrize(
    "command",
    [
        ("compare", *SMALL),
        ("whatif", *SMALL),
        ("season", "--year", "2005"),
    ],
)
def test_commands_use_the_file_and_say_so(tmp_path: Path, command: tuple[str, ...]) -> None:
    path = written(tmp_path, "[cereal.rye]\nradiation_use_efficiency = 1.5\n")
    plain = json.loads(run(*command, "--json").stdout)
    changed = json.loads(run(*command, "--json", "--parameters", str(path)).stdout)
    assert changed["rows"][-1]["biomass_kg_ha"] < plain["rows"][-1]["biomass_kg_ha"]
    assert changed["inputs"]["parameters"] == str(path)
    assert changed["inputs"]["parameter_changes"] == ["rye radiation_use_efficiency 1.5"]
    assert "parameters" not in plain["inputs"]
    shown = " ".join(run(*command, "--parameters", str(path)).stdout.split())
    assert "rye radiation_use_efficiency 1.5." in shown


def test_a_file_written_of_an_answer_says_its_parameters(tmp_path: Path) -> None:
    path = written(tmp_path, "[cereal.rye]\nradiation_use_efficiency = 1.5\n")
    out = tmp_path / "rows.csv"
    run("compare", *SMALL, "--parameters", str(path), "--out", str(out))
    assert f"# parameters: {path}" in out.read_text()


def test_the_command_line_gives_what_the_sets_give(tmp_path: Path) -> None:
    path = written(tmp_path, GOOD)
    file = read_parameters(path)
    rows = json.loads(
        run(
            "compare", *SMALL, "--json", "--previous-crop", "corn", "--parameters", str(path)
        ).stdout
    )["rows"]
    grid = simulator.compare(
        simulator.sample_weather(),
        cereal=file.cereal_set("rye"),
        soil=file.soil_set("sandy loam"),
        previous_crop=file.previous_crop_set("corn"),
        sow="10-20",
        nitrogen="0 lb/acre",
        years=[2005],
    )
    assert rows[0]["biomass_kg_ha"] == float(grid["biomass_kg_ha"].values.ravel()[0])


def test_a_fault_in_the_file_ends_the_command(tmp_path: Path) -> None:
    path = written(tmp_path, "[cereal.rye]\nextinction = 9\n")
    for command in ("compare", "whatif", "season", "sensitivity"):
        result = run(command, "--soil", "mud", "--parameters", str(path))
        assert result.exit_code == 2
        assert "key 'extinction': 9 is out of bounds" in result.stderr
        assert "mud" in result.stderr
        assert "Traceback" not in result.stderr


def test_every_set_of_a_site_can_be_changed() -> None:
    assert not set(SOILS["sand"].specs()) & set(PREVIOUS_CROPS["corn"].specs())
