"""The house: imports run down, start-up stays light, sources are named, caches never run stale."""

from __future__ import annotations

import ast
import copy
import importlib
import importlib.util
import inspect
import json
import os
import pickle
import pkgutil
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path
from types import ModuleType

import pytest

import simulator.answers
import simulator.process
from simulator.problems import (
    InputError,
    Parameter,
    Problem,
    Text,
    as_option,
    parameters_named,
    spelled,
)

ROOT = Path(__file__).resolve().parents[1]
MOST_FILES = 20  # in a room
MOST_LINES, MOST_LINES_OF_FUNCTION = 400, 60  # docstrings of functions not counted
MOST_WAYS = 12  # through a function, as ruff counts its complexity
HEAVY = {"numpy", "pandas", "xarray", "numba", "pint", "scipy"}
PROCESSES = sorted(
    name for _, name, _ in pkgutil.iter_modules(simulator.process.__path__) if name != "compiled"
)


def run(*arguments: str | Path, **settings) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        **settings,
    )


def contracts_of_the_house() -> list[dict]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    return project["tool"]["importlinter"]["contracts"]


def test_imports_run_down_only() -> None:
    code = (
        "from importlinter.cli import lint_imports; raise SystemExit(lint_imports(no_cache=True))"
    )
    done = run("-c", code, cwd=ROOT)
    assert done.returncode == 0, done.stdout + done.stderr
    contracts = contracts_of_the_house()
    assert f"Contracts: {len(contracts)} kept, 0 broken." in done.stdout


def test_the_contract_names_every_room() -> None:
    contracts = contracts_of_the_house()
    named = {room.strip() for floor in contracts[0]["layers"] for room in floor.split("|")}
    rooms = {f"simulator.{name}" for _, name, _ in pkgutil.iter_modules(simulator.__path__)}
    assert named == rooms


@pytest.mark.parametrize(
    "module",
    [
        "simulator",
        "simulator.problems",
        "simulator.units",
        "simulator.commands",
        "simulator.answers",
    ],
)
def test_start_up_stays_light(module: str) -> None:
    done = run("-c", f"import sys, {module}; print(*sorted({HEAVY} & sys.modules.keys()))")
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == []


def test_no_room_is_crowded() -> None:
    folders = {file.parent for file in (ROOT / "simulator").rglob("*.py")}
    crowded = [f for f in folders if len(list(f.glob("*.py"))) > MOST_FILES]
    assert crowded == []


def lines_of(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Count the lines of a function but for those of its docstring."""
    lines = function.end_lineno - function.lineno + 1
    if ast.get_docstring(function) is None:
        return lines
    told = function.body[0]
    return lines - (told.end_lineno - told.lineno + 1)


def too_long(source: Path, name: str) -> set[str]:
    """Name a module that is too long, and each of its functions that is."""
    text = source.read_text()
    found = {name} if len(text.splitlines()) > MOST_LINES else set()
    functions = [
        node
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]
    return found | {
        f"{name} {one.name}" for one in functions if lines_of(one) > MOST_LINES_OF_FUNCTION
    }


def test_lines_are_counted(tmp_path: Path) -> None:
    source = tmp_path / "one.py"
    told = '    """Say\n\n    more.\n    """\n'
    full = "def full():\n" + told + "    x = 1\n" * (MOST_LINES_OF_FUNCTION - 1)
    source.write_text(full)
    assert too_long(source, "one.py") == set()
    source.write_text(full + "    x = 2\n")
    assert too_long(source, "one.py") == {"one.py full"}
    source.write_text("x = 1\n" * MOST_LINES)
    assert too_long(source, "one.py") == set()
    source.write_text("x = 1\n" * (MOST_LINES + 1))
    assert too_long(source, "one.py") == {"one.py"}


def test_no_module_and_no_function_is_long() -> None:
    package = ROOT / "simulator"
    found: set[str] = set()
    for source in package.rglob("*.py"):
        found |= too_long(source, source.relative_to(package).as_posix())
    assert found == set(), "part it where its subject parts"


def test_no_function_is_tangled() -> None:
    lint = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["ruff"]["lint"]
    assert "C901" in lint["select"]
    assert lint["mccabe"]["max-complexity"] == MOST_WAYS
    assert not [name for name, rules in lint["per-file-ignores"].items() if "C901" in rules]
    command = ("-m", "ruff", "check", "--no-cache", "--isolated", "--select", "C901")
    limit = f"lint.mccabe.max-complexity={MOST_WAYS}"
    done = run(*command, "--config", limit, "--output-format", "json", "simulator", cwd=ROOT)
    assert json.loads(done.stdout) == []


def test_every_public_face_shows_what_it_names() -> None:
    for _, name, is_folder in pkgutil.iter_modules(simulator.answers.__path__):
        if is_folder:
            answer = importlib.import_module(f"simulator.answers.{name}")
            for public in getattr(answer, "__all__", ()):
                assert getattr(answer, public) is not None, f"{name}: {public}"


def test_every_public_name_is_found() -> None:
    for name in simulator.__all__:
        assert getattr(simulator, name) is not None


OPTION = re.compile(r"(?<![\w-])--[a-z]")
# where a command line is written for the reader to copy
MAY_SPELL_OPTIONS = {"page/downloads.py", "page/views/command_line.py"}


def test_options_are_named_by_the_command_line_alone() -> None:
    named = []
    for source in (ROOT / "simulator").rglob("*.py"):
        place = source.relative_to(ROOT / "simulator").as_posix()
        if place.startswith("commands/") or place in MAY_SPELL_OPTIONS:
            continue
        for part in ast.walk(ast.parse(source.read_text())):
            if isinstance(part, ast.Constant) and isinstance(part.value, str):
                found = OPTION.search(part.value)
                named += [f"{place}, line {part.lineno}: {part.value[:60]!r}"] if found else []
    assert named == []


@pytest.mark.parametrize(
    ("text", "in_python", "at_the_command_line"),
    [
        (Parameter("nitrogen_timing"), "nitrogen_timing", "--nitrogen-timing"),
        (Parameter("latitude", 31.3), "latitude 31.3", "--latitude 31.3"),
        (
            Text("Say ", Text("it with ", Parameter("site")), "."),
            "Say it with site.",
            "Say it with --site.",
        ),
        ("plan: --sow", "plan: --sow", "plan: --sow"),  # what a reader wrote stays as it is
        (parameters_named("sow", "soil_nitrate"), "sow, soil_nitrate", "--sow, --soil-nitrate"),
        (
            Text("Low\x0cdale ", Parameter("site", "Low\x0cdale")),  # what cannot be printed goes
            "Low dale site Low dale",
            "Low dale --site Low dale",
        ),
    ],
)
def test_each_surface_spells_a_parameter(
    text: str, in_python: str, at_the_command_line: str
) -> None:
    error = InputError(Problem("here", text, text))
    for one in (error, pickle.loads(pickle.dumps(error)), copy.deepcopy(error)):  # from workers
        assert str(one) == f"here: {in_python} {in_python}"
        assert one.text(as_option) == f"here: {at_the_command_line} {at_the_command_line}"
        assert spelled(str(one.problems[0]), as_option) == one.text(as_option)


def functions_of(module: ModuleType) -> dict[str, object]:
    """The module's own public functions, plain or compiled."""
    found = {}
    for name, value in vars(module).items():
        plain = getattr(value, "py_func", value)
        if inspect.isfunction(plain) and plain.__module__ == module.__name__:
            found[name] = value
    return {name: value for name, value in found.items() if not name.startswith("_")}


@pytest.mark.parametrize("process", PROCESSES)
def test_every_process_names_its_source(process: str) -> None:
    functions = functions_of(importlib.import_module(f"simulator.process.{process}"))
    assert functions, "a process without functions"
    for name, function in functions.items():
        assert hasattr(function, "py_func"), f"{name} is not compiled"
        told = inspect.getdoc(function.py_func) or ""
        _, heading, source = told.partition("References\n----------\n")
        assert heading, f"{name} has no section References"
        assert len(source.strip()) > 15, f"{name} names no source"


def test_no_function_is_compiled_past_the_keyed_cache() -> None:
    for source in (ROOT / "simulator").rglob("*.py"):
        if source.name != "compiled.py":
            text = source.read_text()
            for way in ("njit", "numba.jit", "vectorize(", "fastmath"):
                assert way not in text, f"{source.relative_to(ROOT)}: {way}"


def copied_house(folder: Path) -> Path:
    """Copy the package where it can be edited."""
    package = folder / "simulator"
    shutil.copytree(ROOT / "simulator", package, ignore=shutil.ignore_patterns("__pycache__"))
    return package


def cache_of(package: Path) -> str:
    """The name of the cache folder that a copy of the package would use."""
    source = package / "process" / "compiled.py"
    spec = importlib.util.spec_from_file_location("copied_compiled", source)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.CACHE.name


def test_any_edit_to_the_science_moves_the_cache(tmp_path: Path) -> None:
    package = copied_house(tmp_path)
    seen = {cache_of(package)}
    assert cache_of(package) in seen
    sources = [*(package / "process").glob("*.py"), *(package / "season" / "day").glob("*.py")]
    assert len(sources) > 10
    for count, source in enumerate(sources, start=2):
        source.write_text(source.read_text() + "\n# edited\n")
        seen.add(cache_of(package))
        assert len(seen) == count, f"{source.name} was edited and the cache stayed"
    (package / "process" / "added.py").write_text("RATE = 2.0\n")
    assert cache_of(package) not in seen


def test_an_edited_helper_in_another_file_is_never_run_stale(tmp_path: Path) -> None:
    package = tmp_path / "simulator"
    (package / "process").mkdir(parents=True)
    shutil.copy(ROOT / "simulator" / "process" / "compiled.py", package / "process")
    for init in (package, package / "process"):
        (init / "__init__.py").write_text("")
    helper = package / "process" / "helper.py"
    decorated = (
        "from simulator.process.compiled import compiled\n{}\n@compiled\ndef {}(): return {}\n"
    )
    (package / "process" / "caller.py").write_text(
        decorated.format("from simulator.process.helper import number", "answer", "number()")
    )
    cache = str(tmp_path / "cache")
    places = {"PYTHONPATH": str(tmp_path), "XDG_CACHE_HOME": cache, "LOCALAPPDATA": cache}
    for number in (1.0, 2.0):
        helper.write_text(decorated.format("", "number", number))
        code = "from simulator.process.caller import answer; print(answer())"
        done = run("-c", code, cwd=tmp_path, env=os.environ | places)
        assert done.stdout.strip() == str(number), done.stderr
    assert len(list((tmp_path / "cache").rglob("*answer*.nbi"))) == 2


MARKED = "import pytest\n@pytest.mark.{}\ndef test_number():\n    assert 1 == 1\n"


def run_marked(folder: Path, mark: str, *options: str | Path) -> subprocess.CompletedProcess[str]:
    """Run one test that carries a mark under this project's conftest, in a folder of its own."""
    shutil.copy(ROOT / "tests" / "conftest.py", folder)
    (folder / "test_it.py").write_text(MARKED.format(mark))
    return run(
        "-m",
        "pytest",
        "-c",
        ROOT / "pyproject.toml",
        "-o",
        "addopts=--strict-markers",
        "-p",
        "no:cacheprovider",
        "--rootdir",
        folder,
        folder / "test_it.py",
        *options,
        env=os.environ | {"PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"},
    )


@pytest.mark.parametrize(
    ("mark", "complaint"),
    [
        ("published", "test_number: @published needs its source in words"),
        ("analytic()", "test_number: @analytic needs its source in words"),
        ("practice('no')", "test_number: @practice needs its source in words"),
        ("other_program(1.0)", "test_number: @other_program needs its source in words"),
        ("fitted", "test_number: @fitted needs its source in words"),
        ("frozen('old')", "test_number: @frozen needs its source in words"),
        ("measured('by someone, 1998')", "'measured' not found in `markers` configuration option"),
    ],
)
def test_a_check_without_a_source_is_refused(tmp_path: Path, mark: str, complaint: str) -> None:
    done = run_marked(tmp_path, mark)
    assert done.returncode not in (0, 1, 5)  # neither passed, nor failed, nor found no tests
    assert complaint in done.stdout + done.stderr


def test_a_sourced_check_reaches_the_page_of_evidence(tmp_path: Path) -> None:
    page = tmp_path / "evidence.md"
    done = run_marked(tmp_path, "published('Someone 1998, table 3')", "--evidence", page)
    assert done.returncode == 0, done.stdout + done.stderr
    rows = [line for line in page.read_text().splitlines() if "Someone 1998, table 3" in line]
    assert len(rows) == 1
    assert "test\\_number" in rows[0]
    assert "1 passed" in rows[0]


@pytest.mark.parametrize(
    ("mark", "told"),
    [("fitted", "The defaults were set by these data"), ("frozen", "say nothing of being right")],
)
def test_what_is_no_proof_is_told_apart(tmp_path: Path, mark: str, told: str) -> None:
    page = tmp_path / "evidence.md"
    done = run_marked(tmp_path, f"{mark}('Someone 1998, table 3')", "--evidence", page)
    assert done.returncode == 0, done.stdout + done.stderr
    text = page.read_text()
    assert told in text.partition("| source | check | result |")[0]
    assert text.count("\n## ") == 1


def test_the_code_is_clean() -> None:
    done = run("-m", "ruff", "check", "--no-cache", "simulator", "tests", cwd=ROOT)
    assert done.returncode == 0, done.stdout
    done = run("-m", "ruff", "format", "--no-cache", "--check", "simulator", "tests", cwd=ROOT)
    assert done.returncode == 0, done.stdout
