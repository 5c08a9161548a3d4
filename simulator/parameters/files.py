"""Parameter files: changed values of the parameter sets, with where they come from, in TOML."""

from __future__ import annotations

import difflib
import os
import tempfile
import textwrap
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from simulator.parameters.bounded import BoundedSet, Spec
from simulator.parameters.changed import (
    KINDS,
    ParameterFile,
    Site,
    Values,
    key_text,
    unit_of,
    value_text,
)
from simulator.parameters.soils import (
    PREVIOUS_CROPS,
    SOILS,
    PreviousCrop,
    Soil,
)
from simulator.problems import InputError, Problem, fault
from simulator.toml_text import toml_of

__all__ = ["ParameterFile", "Site", "parameters_text", "read_parameters", "write_parameters"]

MOST_BYTES = 256_000
MOST_SITES = 1000
MOST_PROVENANCE = 60  # entries
LONGEST_NAME = 100
LONGEST_TEXT = 4000

_WORDS: Mapping[str, Mapping[str, BoundedSet]] = {"soil": SOILS, "previous_crop": PREVIOUS_CROPS}
_SECTIONS = (*KINDS, "site", "provenance")


def read_parameters(path: str | Path) -> ParameterFile:
    """Read a parameter file.

    Parameters
    ----------
    path : str or Path
        TOML with the sections ``[cereal.rye]``, ``[soil."sandy loam"]``,
        ``[previous_crop.corn]``, ``[fertilizer.urea]``, ``[model_error.level]``,
        ``[site.NAME]`` and ``[provenance]``.

    Raises
    ------
    InputError
        No such file, too large, not TOML; and, all told at once, each unknown section, name or
        key, each value that is no number or out of its bounds.
    """
    data = _load(Path(path))
    problems: list[Problem] = []

    def add_problem(key: str, what: str, remedy: str = "") -> None:
        problems.append(Problem(f"{path}, {key}", what, remedy))

    for section in data:
        if section not in _SECTIONS:
            add_problem(
                f"[{_shown(section)}]",
                f"There is no such section.{_near(section, _SECTIONS)}",
                f"Sections are {', '.join(_SECTIONS)}.",
            )
    found: dict[str, Any] = {}
    for kind, sets in KINDS.items():
        found[kind] = {}
        for name, values in _tables(data, kind, add_problem):
            if name not in sets:
                add_problem(
                    f"[{kind}.{key_text(name)}]",
                    f"There is no such {kind.replace('_', ' ')}.{_near(name, sets)}",
                    f"Choose from: {', '.join(sets)}.",
                )
                continue
            where = f"[{kind}.{key_text(name)}]"
            found[kind][name] = _numbers(values, sets[name].specs(), where, add_problem)
    found["site"] = dict(_sites(data, add_problem))
    found["provenance"] = _provenance(data, add_problem)
    if not problems:
        made = ParameterFile(path=str(path), **found)
        problems += _out_of_order(made)
    if problems:
        raise InputError(problems)
    return made


def _load(path: Path) -> dict[str, Any]:
    try:
        if not path.is_file():
            raise fault(str(path), "There is no such parameter file.")
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise fault(str(path), f"It cannot be read: {error.strerror}.") from error
    if len(content) > MOST_BYTES:
        raise fault(
            str(path),
            f"It is larger than {MOST_BYTES:,} bytes.",
            "A parameter file holds some hundred values.",
        )
    try:
        return toml_of(content.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise fault(str(path), "It is not text in UTF-8.", "Save it as UTF-8.") from error
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        why = " ".join(str(error).split())[:200] or type(error).__name__
        raise fault(
            str(path),
            f"It is not TOML: {why}.",
            "Write lines such as growth_best = 18.0 under [cereal.rye].",
        ) from error


def _tables(
    data: Mapping[str, Any], kind: str, add_problem: Any
) -> Iterator[tuple[str, dict[str, Any]]]:
    sections = data.get(kind, {})
    if not isinstance(sections, dict):
        add_problem(kind, f"{_given(sections)} is no section.", f"Write [{kind}.NAME].")
        return
    for name, values in sections.items():
        if isinstance(values, dict):
            yield name, values
        else:
            add_problem(
                f"[{kind}], key '{_shown(name)}'",
                f"{_given(values)} stands under no name.",
                f"Write [{kind}.NAME] above it.",
            )


def _numbers(
    values: Mapping[str, Any], specs: Mapping[str, Spec], where: str, add_problem: Any
) -> dict[str, float]:
    kept = {}
    for key, value in values.items():
        place = f"{where}, key '{_shown(key)}'"
        if key not in specs:
            add_problem(
                place,
                f"There is no such parameter.{_near(key, specs)}",
                f"There are: {', '.join(specs)}.",
            )
            continue
        spec = specs[key]
        allowed = (
            f"Take a number from {spec.low:g} to {' '.join([f'{spec.high:g}', *unit_of(spec)])}."
        )
        if isinstance(value, bool) or not isinstance(value, int | float):
            add_problem(place, f"{_given(value)} is not a number.", allowed)
        elif not spec.low <= value <= spec.high:  # NaN and infinity too
            add_problem(place, f"{_given(value)} is out of bounds.", allowed)
        else:
            kept[key] = float(value)
    return kept


def _sites(data: Mapping[str, Any], add_problem: Any) -> Iterator[tuple[str, Site]]:
    specs = {**Soil.specs(), **PreviousCrop.specs()}
    for count, (name, values) in enumerate(_tables(data, "site", add_problem)):
        where = f"[site.{key_text(name)}]"
        if count == MOST_SITES:
            add_problem("[site]", f"There are more than {MOST_SITES:,} sites.")
            return
        if not name.strip() or len(name) > LONGEST_NAME or not name.isprintable():
            add_problem(
                where,
                "That is no name of a site.",
                f"Write 1 to {LONGEST_NAME} printable characters.",
            )
            continue
        words: dict[str, str] = {}
        for key, sets in _WORDS.items():
            if key not in values:
                continue
            if isinstance(values[key], str) and values[key] in sets:
                words[key] = values[key]
            else:
                add_problem(
                    f"{where}, key '{key}'",
                    f"{_given(values[key])} is not known.",
                    f"Choose from: {', '.join(sets)}.",
                )
        numbers = {key: value for key, value in values.items() if key not in _WORDS}
        yield name, Site(**words, values=_numbers(numbers, specs, where, add_problem))


def _provenance(data: Mapping[str, Any], add_problem: Any) -> dict[str, Any]:
    about = data.get("provenance", {})
    if not isinstance(about, dict):
        add_problem("provenance", f"{_given(about)} is no section.", "Write [provenance].")
        return {}
    if len(about) > MOST_PROVENANCE:
        add_problem("[provenance]", f"It has more than {MOST_PROVENANCE} entries.")
    for key, value in about.items():
        texts = value if isinstance(value, list) else [value]
        if not all(isinstance(t, str | int | float) and len(str(t)) <= LONGEST_TEXT for t in texts):
            add_problem(
                f"[provenance], key '{_shown(key)}'",
                f"{_given(value)} cannot be kept.",
                f"Write a text of up to {LONGEST_TEXT:,} characters, a number, or a list of these.",
            )
    return about


def _out_of_order(made: ParameterFile) -> list[Problem]:
    """Make every set once, to find values that cannot stand beside each other."""
    problems: list[Problem] = []
    tries: list[tuple[str, Any]] = [
        (f"[{kind}.{key_text(name)}]", lambda k=kind, n=name: getattr(made, f"{k}_set")(n))
        for kind in KINDS
        for name in getattr(made, kind)
    ]
    tries += [(f"[site.{key_text(name)}]", lambda n=name: made.site_sets(n)) for name in made.site]
    for where, attempt in tries:
        try:
            attempt()
        except InputError as error:
            problems += [
                Problem(f"{made.path}, {where}, {p.where}", p.what, p.remedy)
                for p in error.problems
            ]
    return problems


def _near(given: str, known: Mapping[str, Any] | tuple[str, ...]) -> str:
    near = difflib.get_close_matches(given[:LONGEST_NAME], list(known), n=1)
    return f" Did you mean '{near[0]}'?" if near else ""


def _shown(value: Any) -> str:
    """Return what was given, short, and without what would upset a terminal."""
    return "".join(c if c.isprintable() else "?" for c in str(value)[:60])


def _given(value: Any) -> str:
    """Return a value as it was given, texts in quotes."""
    return f"'{_shown(value)}'" if isinstance(value, str) else _shown(value)


def write_parameters(file: ParameterFile, path: str | Path) -> None:
    """Write a parameter file that people can read: beside each value its unit, default and bounds.

    Parameters
    ----------
    file : ParameterFile
    path : str or Path
        Written whole or not at all; a file that is there is replaced.

    Raises
    ------
    InputError
        The file cannot be written.
    """
    text = parameters_text(file)
    try:
        target = Path(path).resolve()
        descriptor, name = tempfile.mkstemp(prefix=".", suffix=".toml", dir=target.parent)
        made = Path(name)
        try:
            with os.fdopen(descriptor, "w", encoding="utf-8", newline="\n") as out:
                out.write(text)
            mask = os.umask(0)
            os.umask(mask)
            made.chmod(0o666 & ~mask)
            made.replace(target)
        finally:
            made.unlink(missing_ok=True)
    except (OSError, RuntimeError) as error:  # a loop of links is of the latter
        why = getattr(error, "strerror", None) or error
        raise fault(str(path), f"It cannot be written: {why}.") from error


def parameters_text(file: ParameterFile) -> str:
    """Return a parameter file as text; `read_parameters` reads it back to the same values."""
    blocks = [
        "# fallsown parameters: values that differ from the defaults.\n"
        "# Units are SI; keys are explained behind '#'."
    ]
    if file.provenance:
        lines = [f"{key_text(key)} = {value_text(value)}" for key, value in file.provenance.items()]
        blocks.append("\n".join(["[provenance]", *lines]))
    for kind, sets in KINDS.items():
        for name, values in getattr(file, kind).items():
            lines = _lines(values, sets[name])
            blocks.append("\n".join([f"[{kind}.{key_text(name)}]", *lines]))
    for name, about in file.site.items():
        lines = [
            f"{key} = {value_text(word)}"
            for key, word in (("soil", about.soil), ("previous_crop", about.previous_crop))
            if word
        ]
        for part, default in (
            (Soil, file.soil_set(about.soil or Soil().name)),
            (PreviousCrop, file.previous_crop_set(about.previous_crop or PreviousCrop().name)),
        ):
            own = {key: v for key, v in about.values.items() if key in part.specs()}
            lines += _lines(own, default)
        blocks.append("\n".join([f"[site.{key_text(name)}]", *lines]))
    return "\n\n".join(blocks) + "\n"


def _lines(values: Values, default: BoundedSet) -> list[str]:
    lines = []
    for key, value in values.items():
        spec = default.specs()[key]
        unit = "".join(f" [{one}]" for one in unit_of(spec))
        about = (
            f"{spec.meaning}{unit}; {default.name} has {getattr(default, key):g}, bounds"
            f" {spec.low:g} to {spec.high:g}; {spec.source}"
        )
        comment = textwrap.wrap(about, 96, break_long_words=False, break_on_hyphens=False)
        lines += [f"# {line}" for line in comment] + [f"{key} = {float(value)!r}"]
    return lines
