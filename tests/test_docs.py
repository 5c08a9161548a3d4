"""The docs say what the code does: names, sources, numbers and examples are held to it."""

from __future__ import annotations

import inspect
import os
import re
import shlex
import subprocess
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from click.testing import CliRunner

import simulator
from simulator.commands import fallsown
from simulator.parameters import describe
from simulator.parameters.bounded import BoundedSet
from simulator.parameters.soils import layer_bottoms, sandy_loam
from simulator.problems import InputError
from simulator.season.day.record import RECORD
from simulator.weather.samples import DEFAULT_SAMPLE, samples_folder

ROOT = Path(__file__).resolve().parents[1]
MODEL = ROOT / "docs" / "model.md"
PROCESSES = [
    import_module(f"simulator.process.{path.stem}")
    for path in sorted((ROOT / "simulator" / "process").glob("*.py"))
    if path.stem not in ("__init__", "compiled")
]
RENEW = "python -m simulator.parameters.describe docs/model.md"
WRITTEN_BY_THE_TEST_RUN = "outside-checks.md"


def page() -> str:
    return MODEL.read_text(encoding="utf-8")


def rows_of(table: str) -> list[list[str]]:
    """Cells of a Markdown table without its rule."""
    return [
        [cell.strip() for cell in row.split("|")[1:-1]]
        for row in table.splitlines()
        if row.startswith("| ")
    ]


def functions(module: ModuleType) -> dict[str, Callable[..., Any]]:
    """Public functions that a process file defines, as plain Python."""
    plain = {name: getattr(made, "py_func", made) for name, made in vars(module).items()}
    return {
        name: function
        for name, function in plain.items()
        if inspect.isfunction(function)
        and function.__module__ == module.__name__
        and not name.startswith("_")
    }


def entries(module: ModuleType) -> dict[str, str]:
    """What the page says of each function in the section of a process file."""
    file = Path(str(module.__file__)).name
    section = re.search(rf"^### [^\n]*\(`{file}`\)\n(.*?)^##", page(), re.MULTILINE | re.DOTALL)
    assert section, f"docs/model.md has no section for {file}"
    return {
        re.match(r"`(\w+)`", entry)[1]: " ".join(entry.split())
        for entry in re.split(r"^- (?=`)", section[1], flags=re.MULTILINE)[1:]
    }


@pytest.mark.parametrize("module", PROCESSES, ids=lambda module: module.__name__.split(".")[-1])
def test_every_process_has_its_entry_and_every_entry_its_process(module: ModuleType) -> None:
    assert set(entries(module)) == set(functions(module))


@pytest.mark.parametrize("module", PROCESSES, ids=lambda module: module.__name__.split(".")[-1])
def test_entries_name_the_sources_of_the_docstrings_and_their_doubts(module: ModuleType) -> None:
    missing = []
    for name, said in entries(module).items():
        doc = " ".join(str(functions(module)[name].__doc__).split()).partition("References")[2]
        wanted = [doubt for doubt in ("from memory", "common practice") if doubt in doc.lower()]
        wanted += [
            "FAO paper 56" if author == "Allen" else author
            for author in re.findall(r"([A-Z][\w-]+)[^();:]*?\(\d{4}\)", doc)
        ]
        wanted += re.findall(r"\beqs?\.? (\d+)", doc)
        wanted += re.findall(r"\b(?:19|20)\d\d\b", doc.replace("Allen et al. (1998)", ""))
        missing += [f"{name}: {part}" for part in wanted if part.lower() not in said.lower()]
    assert not missing, "docs/model.md does not say what the docstrings do"


def test_tables_of_parameters_are_those_of_the_sets() -> None:
    assert describe.renew(page()) == page(), f"docs/model.md is behind; run: {RENEW}"


def test_tables_show_every_parameter_and_every_value_that_differs() -> None:
    for sets in describe.SETS.values():
        every, differing = (
            {cells[0].strip("`"): cells[1:] for cells in rows_of(table)}
            for table in describe.describe(sets).split("\n\n")
        )
        default = describe.default_of(sets)
        assert set(every) == {"parameter", *default.specs()}
        for key, spec in default.specs().items():
            own = getattr(default, key)
            limits = f"{spec.low:g} to {spec.high:g}"
            assert every[key] == [f"{own:g}", spec.unit, limits, spec.meaning, spec.source]
            values = {one.name: getattr(one, key) for one in sets.values()}
            if set(values.values()) == {own}:
                assert key not in differing
            else:
                cells = dict(zip(differing["parameter"], differing[key], strict=True))
                shown = {name: float(cells[name] or own) for name in values}
                assert shown == pytest.approx(values, rel=1e-5)  # six digits are printed


def test_renewing_a_page_keeps_what_is_not_a_table(tmp_path: Path) -> None:
    behind = tmp_path / "model.md"
    behind.write_text(re.sub(r"\| 0\.\d+ ", "| 7 ", page()), encoding="utf-8")
    prose = page().partition("## The parameters")[0]
    describe.main([str(behind)])
    renewed = behind.read_text(encoding="utf-8")
    assert renewed.startswith(prose)
    assert all(describe.describe(sets) in renewed for sets in describe.SETS.values())


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("<!-- table: cereals -->\n<!-- end of table -->\n", "The table 'soils' has no place"),
        ("<!-- table: weeds -->\n<!-- end of table -->\n", "There is no table 'weeds'"),
    ],
)
def test_a_page_with_wrong_markers_is_left_as_it_is(tmp_path: Path, text: str, said: str) -> None:
    other = tmp_path / "page.md"
    other.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=said):
        describe.main([str(other)])
    assert other.read_text(encoding="utf-8") == text


def test_every_kind_of_set_has_its_tables() -> None:
    described = {type(next(iter(sets.values()))).__name__ for sets in describe.SETS.values()}
    assert described == {kind.__name__ for kind in BoundedSet.__subclasses__()}


def test_layers_are_those_of_the_default_soil() -> None:
    bottoms = ", ".join(f"{bottom:g}" for bottom in layer_bottoms(sandy_loam))
    assert f"Layers end at {bottoms} cm" in page()


def test_every_named_constant_stands_in_the_page_with_its_value() -> None:
    modules = [
        *PROCESSES,
        *(
            import_module(f"simulator.season.day.{n}")
            for n in ("drivers", "state", "order", "stand")
        ),
    ]
    missing = {
        f"| `{name}` | {value:g} |"
        for module in modules
        for name, value in vars(module).items()
        if name.isupper()
        and isinstance(value, float)
        and not re.search(rf"^\| `{name}` +\| {value:g} +\|", page(), re.MULTILINE)
    }
    assert not missing, "docs/model.md, constants in the code: write these rows"


def test_every_field_of_the_record_stands_in_the_page_with_its_unit() -> None:
    rows = rows_of(page())
    missing = [
        f"| `{name}` | {unit} | {meaning} |"
        for name, unit, meaning in RECORD
        if [f"`{name}`", unit, meaning] not in rows
    ]
    assert not missing, "docs/model.md, the day's record: write these rows"


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md", "docs/README.md", "docs/model.md"])
def test_links_lead_somewhere(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)]+)\)", text):
        file, _, heading = target.partition("#")
        if file.startswith("http") or file.endswith(WRITTEN_BY_THE_TEST_RUN):
            continue
        place = (ROOT / name).parent / file if file else ROOT / name
        assert place.exists(), f"{name} links to {target}"
        if heading:
            headings = re.findall(r"^#+ (.+)$", place.read_text(encoding="utf-8"), re.MULTILINE)
            anchors = {re.sub(r"[^\w -]", "", h.lower()).replace(" ", "-") for h in headings}
            assert heading in anchors, f"{name} links to {target}"


def blocks(language: str) -> list[str]:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    fenced = re.findall(r"^```(\w*)\n(.*?)^```", readme, re.MULTILINE | re.DOTALL)
    return [text for marked, text in fenced if marked == language]


COMMANDS = [
    part.strip()
    for block in blocks("")
    for line in block.splitlines()
    for part in line.split("&&")
    if part.strip().startswith("fallsown ")
]


PLOTS = """site,latitude,sown,sampled,nitrogen_fall (lb/acre),biomass (lb/acre)
home,31.6,2004-10-25,2005-04-14,0,3100
home,31.6,2004-10-25,2005-04-14,60,5200
home,31.6,2009-11-15,2010-04-16,0,2500
home,31.6,2009-11-15,2010-04-16,60,4600
"""  # invented


FARM = 'weather = "station.csv"\nlatitude = 31.3\nsoil = "loam"\n'


def test_the_page_of_changes_is_of_this_version() -> None:
    text = (ROOT / "docs" / "changes.md").read_text(encoding="utf-8")
    own = text.partition(f"\n## {simulator.__version__}")[2].partition("\n## ")[0]
    assert "\n### Numbers that changed\n" in own


UNTIL_STOPPED = "fallsown page"  # tests/test_page_server.py starts and stops it


@pytest.mark.parametrize("line", [line for line in COMMANDS if line != UNTIL_STOPPED])
def test_command_lines_of_the_readme_run(
    line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # station.csv is what the README says of it: a header with units, and no latitude in the file
    sample = (samples_folder() / f"{DEFAULT_SAMPLE}.csv").read_text(encoding="utf-8")
    rows = [row for row in sample.splitlines(keepends=True) if not row.startswith("#")]
    (tmp_path / "station.csv").write_text("".join(rows), encoding="utf-8")
    (tmp_path / "plots.csv").write_text(PLOTS, encoding="utf-8")
    if "--save-field" not in line:
        (tmp_path / "farm.toml").write_text(FARM, encoding="utf-8")
    (tmp_path / "stations").mkdir()
    (tmp_path / "stations" / "tallow-bend.csv").write_text(sample, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(fallsown, shlex.split(line)[1:], catch_exceptions=False)
    assert result.exit_code == 0, result.stderr
    written = [word for word in shlex.split(line) if (tmp_path / word).is_file()]
    assert result.stdout.strip() or any(word.startswith("sheet") for word in written)


def test_the_readme_quotes_what_its_first_command_says() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    quoted = " ".join(re.findall(r"^> (.+)$", readme, re.MULTILINE))
    assert quoted, "the answer's sentence stands under the picture"
    said = CliRunner().invoke(fallsown, ["whatif"]).stdout
    assert quoted in " ".join(said.split()), "README.md: quote what `fallsown whatif` says now"


def test_the_readme_shows_every_command() -> None:
    assert {line.split()[1] for line in COMMANDS} == set(fallsown.list_commands(None))


# a Python that lets nothing be installed beside it (PEP 668), and the environment that it makes
MANAGED = """#!/bin/sh
[ "$1 $2" = "-m venv" ] || { echo "error: externally-managed-environment" >&2; exit 1; }
mkdir -p "$3/bin"
printf '#!/bin/sh\\necho "python $*" >>"%s"\\n' "$SAID" >"$3/bin/python"
printf '#!/bin/sh\\necho "fallsown $*" >>"%s"\\n' "$SAID" >"$3/bin/fallsown"
chmod +x "$3/bin/python" "$3/bin/fallsown"
echo "PATH=\"$PWD/$3/bin:\\$PATH\"" >"$3/bin/activate"
"""


(TESTS,) = (block.strip() for block in blocks("") if "pytest" in block)


@pytest.mark.skipif(os.name == "nt", reason="the README has another line for Windows")
def test_the_readmes_two_commands_run_where_python_is_managed(tmp_path: Path) -> None:
    first, second = blocks("")[0].strip(), TESTS
    system = tmp_path / "system"
    system.mkdir()
    for name in ("python", "python3"):
        (system / name).write_text(MANAGED)
        (system / name).chmod(0o755)
    about = {"PATH": f"{system}:/usr/bin:/bin", "SAID": str(tmp_path / "said")}
    done = subprocess.run(
        ["sh", "-c", f"{first}\n{second}"],
        check=False,
        cwd=tmp_path,
        env=about,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    said = (tmp_path / "said").read_text().splitlines()
    assert said[:2] == ["python -m pip install .", "fallsown whatif"]
    assert said[2:] == [
        "python -m pip install .[test]",
        f"python {second.partition('&& python ')[2]}",
    ]


@pytest.mark.skipif(os.name == "nt", reason=".ci/run is for Linux")
def test_the_run_of_all_tests_finds_the_readmes_command() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    (found,) = re.findall(r"^command=\$\((.*)\)$", script, re.MULTILINE)
    told = subprocess.run(
        ["bash", "-c", found], check=True, cwd=ROOT, capture_output=True, text=True
    ).stdout
    assert told.strip() == TESTS
    assert told.count(" && ") == 1


def test_the_python_example_of_the_readme_runs() -> None:
    (example,) = blocks("python")
    made: dict[str, Any] = {}
    exec(example, made)
    assert float(made["days"]["biomass_kg_ha"][-1]) > 0
    assert list(made["grid"]["case"].values) == ["as recorded", "changed"]
    assert dict(made["grid"].sizes)["sow"] == 2
