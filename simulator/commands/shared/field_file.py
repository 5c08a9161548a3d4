"""A field kept in a file: its weather, its soil and its plan, in TOML, under the options' names."""

from __future__ import annotations

import os
import tomllib
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.commands.shared.field_values import (
    ABOUT_WEATHER,
    KEYS,
    PLAN,
    check_values,
    cleaned,
    shown,
    unknown_key,
    with_paths,
)
from simulator.problems import InputError, Problem, fault, shown_path
from simulator.toml_text import toml_of

if TYPE_CHECKING:
    import xarray as xr

MOST_BYTES = 32_000
SUFFIX = ".toml"
HEADER = "# A field for fallsown"  # how files begin that were written here
# which every question about a stand takes
_OF_QUESTIONS = (
    *("cereal", "variety", "soil", "previous_crop", "soil_nitrate", "organic_matter", "fertilizer"),
    *("parameters", *PLAN),
)


@dataclass(frozen=True, slots=True)
class FieldFile:
    """What stands in a file.

    Parameters
    ----------
    path : str
        As it was given.
    written : dict
        Values as they are written there, by key.
    values : dict
        The same, paths as seen from the working folder.
    notes : tuple of str
        What was changed in reading.
    """

    path: str
    written: dict[str, Any]
    values: dict[str, Any]
    notes: tuple[str, ...] = ()

    def where(self, key: str) -> str:
        """Name the place of a key, for messages."""
        return place_of(self.path, key)


class Field(dict[str, Any]):
    """A field that was read from a file: the keyword arguments that questions take.

    Every question about a stand takes all of them: ``simulator.whatif(field.weather(), **field)``.
    What only some take, as prices, stands in ``more``.

    Parameters
    ----------
    file : FieldFile
    """

    def __init__(self, file: FieldFile) -> None:
        super().__init__({key: file.values[key] for key in _OF_QUESTIONS if key in file.values})
        self.name = str(file.values.get("name", ""))
        self.more = {key: value for key, value in file.values.items() if key not in self}
        self.notes = file.notes
        self._file = file

    def weather(self) -> xr.Dataset:
        """Read the field's weather; the default sample where the file names none.

        Returns
        -------
        Dataset(time)

        Raises
        ------
        InputError
            It cannot be read.
        """
        return weather_of(self._file)


def read_field(path: str | Path) -> Field:
    """Read a field kept in a file.

    Parameters
    ----------
    path : str or Path
        TOML such as the command line's option to save a field writes: ``soil = "loam"``,
        ``sow = "10-20"``, ``nitrogen = "30 lb/acre"``; keys are named as the options of questions.

    Returns
    -------
    Field
        A dict of the keyword arguments that questions take, ``simulator.whatif(record, **field)``,
        with ``field.weather()`` for the record.

    Raises
    ------
    InputError
        No such file, too large, not TOML; and, all told at once, each unknown key, and each value
        that cannot be read.
    """
    return Field(load_field(path))


def load_field(path: str | Path) -> FieldFile:
    """Read a field file, as `read_field`; with every key, and paths as seen from here."""
    return field_of(content_of(path), str(path))


def field_of(content: bytes, path: str) -> FieldFile:
    """Read the content of a field file.

    Raises
    ------
    InputError
        As `read_field`.
    """
    file, problems = understand(content, path)
    if problems:
        raise InputError(problems)
    return file


def understand(content: bytes, path: str) -> tuple[FieldFile, list[Problem]]:
    """Read what can be understood of a field file, and say what is wrong with the rest.

    Returns
    -------
    FieldFile
        Without the keys that have a fault.
    list of Problem
        In the order of the file.

    Raises
    ------
    InputError
        It is not TOML.
    """
    data = _tables(content, path)
    found: list[tuple[str, Problem]] = []
    notes: list[str] = []

    def tell(key: str, what: str, remedy: str = "") -> None:
        found.append((key, Problem(place_of(path, key), what, remedy)))

    written: dict[str, Any] = {}
    for given, value in data.items():
        key = given.replace("-", "_")
        if key not in KEYS:
            tell(given, *unknown_key(given, value))
        elif key in written:
            tell(key, "It is written twice, with - and with _.", "Write it once.")
        else:
            written[key] = cleaned(key, value, partial(tell, key), notes)
    written = {key: value for key, value in written.items() if value is not None}
    real = os.path.realpath(path) if os.path.islink(path) else path
    values = with_paths(written, os.path.dirname(real), tell)
    check_values(values, tell)
    faulty = {key for key, _ in found}
    good = {key: value for key, value in written.items() if key not in faulty}
    file = FieldFile(path, good, {key: values[key] for key in good}, tuple(notes))
    order = [key.replace("-", "_") for key in data]
    found.sort(key=lambda one: order.index(one[0].replace("-", "_")))
    problems = [problem for _, problem in found]
    if not data and not _is_ours(content):
        problems.append(Problem(shown_path(path), "It says nothing of a field.", _EXAMPLE))
    return file, problems


_EXAMPLE = "Write lines such as soil = 'loam' and sow = '10-20'."


def place_of(path: str, key: str) -> str:
    """Name the place of a key in a file, for messages."""
    return f"{shown_path(path)}, key '{shown(key)}'"


def is_field_file(path: Path) -> bool:
    """Say whether a file holds a field, with faults in its values or without."""
    try:
        content = content_of(path)
        data = _tables(content, str(path))
    except InputError:
        return False
    return (bool(data) or _is_ours(content)) and all(
        key.replace("-", "_") in KEYS and not isinstance(value, dict) for key, value in data.items()
    )


def _is_ours(content: bytes) -> bool:
    return content.startswith(HEADER.encode())


def weather_of(file: FieldFile) -> xr.Dataset:
    """Read the weather that a field names, as commands do."""
    from simulator.commands.shared.weather_options import load_weather

    about = {key: file.values[key] for key in ABOUT_WEATHER if key in file.values}
    try:
        return load_weather(file.values.get("weather"), **about)
    except InputError as error:
        raise InputError([at_key(one, file) for one in error.problems]) from error


def at_key(problem: Problem, file: FieldFile) -> Problem:
    """Name the file and the key where a fault names a parameter that the file says."""
    key = getattr(problem.where, "name", None)
    if key not in file.written:
        return problem
    return Problem(file.where(str(key)), problem.what, problem.remedy)


def content_of(path: str | Path) -> bytes:
    """Return the bytes of a field file.

    Raises
    ------
    InputError
        No such file, one that cannot be read, or too large a one.
    """
    name, path = shown_path(str(path)), Path(path)
    try:
        if not path.is_file():
            raise fault(
                name,
                "It is a folder." if path.is_dir() else "There is no such file.",
                "Name a field file, such as farm.toml.",
            )
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        why = getattr(error, "strerror", None) or error
        raise fault(name, f"It cannot be read: {why}.", "Name another file.") from error
    check_length(content, name)
    return content


def check_length(content: bytes, path: str) -> None:
    """Refuse more than a field file may hold.

    Raises
    ------
    InputError
        It is longer.
    """
    if len(content) > MOST_BYTES:
        raise fault(
            path,
            f"It is larger than {MOST_BYTES:,} bytes.",
            "A field file holds some twenty lines.",
        )


def _tables(content: bytes, path: str) -> dict[str, Any]:
    name = shown_path(path)
    try:
        return toml_of(content.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise fault(name, "It is not text in UTF-8.", "Save it as UTF-8.") from error
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        why = " ".join(str(error).split())[:200].rstrip(".") or type(error).__name__
        raise fault(
            name,
            f"It is not TOML: {why}.",
            'Write texts, dates and rates in quotes, such as sow = "10-20".',
        ) from error
