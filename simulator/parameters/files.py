"""Parameter files: changed values of the parameter sets, with where they come from, in TOML."""

from __future__ import annotations

import dataclasses
import difflib
import math
import os
import tempfile
import textwrap
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from simulator.parameters.bounded import BoundedSet, Spec
from simulator.parameters.cereals import CEREALS, Cereal, cereal
from simulator.parameters.fertilizers import FERTILIZERS, Fertilizer, fertilizer
from simulator.parameters.soils import (
    PREVIOUS_CROPS,
    SOILS,
    PreviousCrop,
    Soil,
    previous_crop,
    soil,
)
from simulator.problems import InputError, Problem, fault
from simulator.toml_text import toml_of

MOST_BYTES = 256_000
MOST_SITES = 1000
MOST_PROVENANCE = 60  # entries
LONGEST_NAME = 100
LONGEST_TEXT = 4000

# section of the file -> the sets that it changes, by name
_KINDS: Mapping[str, Mapping[str, BoundedSet]] = {
    "cereal": CEREALS,
    "soil": SOILS,
    "previous_crop": PREVIOUS_CROPS,
    "fertilizer": FERTILIZERS,
}
_WORDS: Mapping[str, Mapping[str, BoundedSet]] = {"soil": SOILS, "previous_crop": PREVIOUS_CROPS}
_SECTIONS = (*_KINDS, "site", "provenance")

Values = Mapping[str, float]
Set = TypeVar("Set", bound=BoundedSet)


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """What a parameter file says of one place.

    Parameters
    ----------
    soil, previous_crop : str, optional
        Names; without them the plot table or the command names them.
    values : mapping of str to float
        Parameters of its soil and of its previous crop, by name; no name is in both.
    """

    soil: str | None = None
    previous_crop: str | None = None
    values: Values = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class ParameterFile:
    """Changed values; what is not named keeps its default.

    Parameters
    ----------
    cereal, soil, previous_crop, fertilizer : mapping of str to mapping of str to float
        Name of the set, then of the parameter; SI as the defaults are.
    site : mapping of str to Site
    provenance : mapping of str to text, number or list of text
        Who made it, by what version, when, on what data, with what skill.
    path : str
        Where it was read; empty for one made here.
    """

    cereal: Mapping[str, Values] = field(default_factory=dict)
    soil: Mapping[str, Values] = field(default_factory=dict)
    previous_crop: Mapping[str, Values] = field(default_factory=dict)
    fertilizer: Mapping[str, Values] = field(default_factory=dict)
    site: Mapping[str, Site] = field(default_factory=dict)
    provenance: Mapping[str, Any] = field(default_factory=dict)
    path: str = ""

    def cereal_set(self, name: str) -> Cereal:
        """Return a cereal by name, changed where the file says so."""
        return self._changed(cereal(name), self.cereal)

    def soil_set(self, name: str) -> Soil:
        """Return a soil by name, changed where the file says so."""
        return self._changed(soil(name), self.soil)

    def previous_crop_set(self, name: str) -> PreviousCrop:
        """Return a previous crop by name, changed where the file says so."""
        return self._changed(previous_crop(name), self.previous_crop)

    def fertilizer_set(self, name: str) -> Fertilizer:
        """Return a fertilizer by name, changed where the file says so."""
        return self._changed(fertilizer(name), self.fertilizer)

    def site_sets(
        self, site: str, soil: str | None = None, previous_crop: str | None = None
    ) -> tuple[Soil, PreviousCrop]:
        """Return the soil and the previous crop of a place.

        Parameters
        ----------
        site : str
        soil, previous_crop : str, optional
            Names that go before those which the file has for the place; sandy loam and cotton
            where neither says.

        Raises
        ------
        InputError
            A value that the place's own soil cannot have beside its other values.
        """
        about = self.site.get(site, Site())
        ground = self.soil_set(soil or about.soil or Soil().name)
        crop = self.previous_crop_set(previous_crop or about.previous_crop or PreviousCrop().name)
        of_soil = {key: v for key, v in about.values.items() if key in Soil.specs()}
        of_crop = {key: v for key, v in about.values.items() if key not in of_soil}
        source = f"[site.{_key(site)}] of {self.path or 'a parameter file'}"
        return _replaced(ground, of_soil, source), _replaced(crop, of_crop, source)

    def changes(self) -> list[str]:
        """List what is changed, as ``"rye growth_best 18"``."""
        found = [
            f"{name} {key} {value:g}"
            for kind in _KINDS
            for name, values in getattr(self, kind).items()
            for key, value in values.items()
        ]
        return found + [
            f"{name} {key} {value:g}"
            for name, about in self.site.items()
            for key, value in about.values.items()
        ]

    def _changed(self, default: Set, sections: Mapping[str, Values]) -> Set:
        source = f"{self.path or 'a parameter file'}; the rest as listed"
        return _replaced(default, sections.get(default.name, {}), source)


def _replaced(default: Set, values: Values, source: str) -> Set:
    if not values:
        return default
    values = dict(values)
    if "organic_matter" in values:  # of this very field, wherever it lies
        values.setdefault("organic_matter_gradient", 0.0)
    made: Set = dataclasses.replace(default, source=source, **values)  # type: ignore[type-var]
    return made


def read_parameters(path: str | Path) -> ParameterFile:
    """Read a parameter file.

    Parameters
    ----------
    path : str or Path
        TOML with the sections ``[cereal.rye]``, ``[soil."sandy loam"]``,
        ``[previous_crop.corn]``, ``[fertilizer.urea]``, ``[site.NAME]`` and ``[provenance]``.

    Raises
    ------
    InputError
        No such file, too large, not TOML; and, all told at once, each unknown section, name or
        key, each value that is no number or out of its bounds.
    """
    data = _load(Path(path))
    problems: list[Problem] = []

    def told(key: str, what: str, remedy: str = "") -> None:
        problems.append(Problem(f"{path}, {key}", what, remedy))

    for section in data:
        if section not in _SECTIONS:
            told(
                f"[{_shown(section)}]",
                f"There is no such section.{_near(section, _SECTIONS)}",
                f"Sections are {', '.join(_SECTIONS)}.",
            )
    found: dict[str, Any] = {}
    for kind, sets in _KINDS.items():
        found[kind] = {}
        for name, values in _tables(data, kind, told):
            if name not in sets:
                told(
                    f"[{kind}.{_key(name)}]",
                    f"There is no such {kind.replace('_', ' ')}.{_near(name, sets)}",
                    f"Choose from: {', '.join(sets)}.",
                )
                continue
            where = f"[{kind}.{_key(name)}]"
            found[kind][name] = _numbers(values, sets[name].specs(), where, told)
    found["site"] = dict(_sites(data, told))
    found["provenance"] = _provenance(data, told)
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


def _tables(data: Mapping[str, Any], kind: str, told: Any) -> Iterator[tuple[str, dict[str, Any]]]:
    sections = data.get(kind, {})
    if not isinstance(sections, dict):
        told(kind, f"{_given(sections)} is no section.", f"Write [{kind}.NAME].")
        return
    for name, values in sections.items():
        if isinstance(values, dict):
            yield name, values
        else:
            told(
                f"[{kind}], key '{_shown(name)}'",
                f"{_given(values)} stands under no name.",
                f"Write [{kind}.NAME] above it.",
            )


def _numbers(
    values: Mapping[str, Any], specs: Mapping[str, Spec], where: str, told: Any
) -> dict[str, float]:
    kept = {}
    for key, value in values.items():
        place = f"{where}, key '{_shown(key)}'"
        if key not in specs:
            told(
                place,
                f"There is no such parameter.{_near(key, specs)}",
                f"There are: {', '.join(specs)}.",
            )
            continue
        spec = specs[key]
        allowed = (
            f"Take a number from {spec.low:g} to {' '.join([f'{spec.high:g}', *_unit(spec)])}."
        )
        if isinstance(value, bool) or not isinstance(value, int | float):
            told(place, f"{_given(value)} is not a number.", allowed)
        elif not spec.low <= value <= spec.high:  # NaN and infinity too
            told(place, f"{_given(value)} is out of bounds.", allowed)
        else:
            kept[key] = float(value)
    return kept


def _sites(data: Mapping[str, Any], told: Any) -> Iterator[tuple[str, Site]]:
    specs = {**Soil.specs(), **PreviousCrop.specs()}
    for count, (name, values) in enumerate(_tables(data, "site", told)):
        where = f"[site.{_key(name)}]"
        if count == MOST_SITES:
            told("[site]", f"There are more than {MOST_SITES:,} sites.")
            return
        if not name.strip() or len(name) > LONGEST_NAME or not name.isprintable():
            told(
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
                told(
                    f"{where}, key '{key}'",
                    f"{_given(values[key])} is not known.",
                    f"Choose from: {', '.join(sets)}.",
                )
        numbers = {key: value for key, value in values.items() if key not in _WORDS}
        yield name, Site(**words, values=_numbers(numbers, specs, where, told))


def _provenance(data: Mapping[str, Any], told: Any) -> dict[str, Any]:
    about = data.get("provenance", {})
    if not isinstance(about, dict):
        told("provenance", f"{_given(about)} is no section.", "Write [provenance].")
        return {}
    if len(about) > MOST_PROVENANCE:
        told("[provenance]", f"It has more than {MOST_PROVENANCE} entries.")
    for key, value in about.items():
        texts = value if isinstance(value, list) else [value]
        if not all(isinstance(t, str | int | float) and len(str(t)) <= LONGEST_TEXT for t in texts):
            told(
                f"[provenance], key '{_shown(key)}'",
                f"{_given(value)} cannot be kept.",
                f"Write a text of up to {LONGEST_TEXT:,} characters, a number, or a list of these.",
            )
    return about


def _out_of_order(made: ParameterFile) -> list[Problem]:
    """Make every set once, to find values that cannot stand beside each other."""
    problems: list[Problem] = []
    tries: list[tuple[str, Any]] = [
        (f"[{kind}.{_key(name)}]", lambda k=kind, n=name: getattr(made, f"{k}_set")(n))
        for kind in _KINDS
        for name in getattr(made, kind)
    ]
    tries += [(f"[site.{_key(name)}]", lambda n=name: made.site_sets(n)) for name in made.site]
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


def _unit(spec: Spec) -> list[str]:
    return [] if spec.unit == "1" else [spec.unit]


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
        lines = [f"{_key(key)} = {_value(value)}" for key, value in file.provenance.items()]
        blocks.append("\n".join(["[provenance]", *lines]))
    for kind, sets in _KINDS.items():
        for name, values in getattr(file, kind).items():
            lines = _lines(values, sets[name])
            blocks.append("\n".join([f"[{kind}.{_key(name)}]", *lines]))
    for name, about in file.site.items():
        lines = [
            f"{key} = {_value(word)}"
            for key, word in (("soil", about.soil), ("previous_crop", about.previous_crop))
            if word
        ]
        for part, default in (
            (Soil, file.soil_set(about.soil or Soil().name)),
            (PreviousCrop, file.previous_crop_set(about.previous_crop or PreviousCrop().name)),
        ):
            own = {key: v for key, v in about.values.items() if key in part.specs()}
            lines += _lines(own, default)
        blocks.append("\n".join([f"[site.{_key(name)}]", *lines]))
    return "\n\n".join(blocks) + "\n"


def _lines(values: Values, default: BoundedSet) -> list[str]:
    lines = []
    for key, value in values.items():
        spec = default.specs()[key]
        unit = "".join(f" [{one}]" for one in _unit(spec))
        about = (
            f"{spec.meaning}{unit}; {default.name} has {getattr(default, key):g}, bounds"
            f" {spec.low:g} to {spec.high:g}; {spec.source}"
        )
        comment = textwrap.wrap(about, 96, break_long_words=False, break_on_hyphens=False)
        lines += [f"# {line}" for line in comment] + [f"{key} = {float(value)!r}"]
    return lines


def _key(name: str) -> str:
    """Return a key as TOML has it, quoted where it must be."""
    bare = name.isascii() and name.replace("_", "").replace("-", "").isalnum()
    return name if bare else _quoted(name)


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    kept = (c if c.isprintable() else f"\\U{ord(c):08x}" for c in escaped)
    return f'"{"".join(kept)}"'


def _value(value: Any) -> str:
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(one) for one in value) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float) and not math.isfinite(value):
        return "nan"
    return _quoted(value) if isinstance(value, str) else repr(value)
