"""Kinds of year from a file: the user's own list, or the Oceanic Nino Index."""

from __future__ import annotations

import csv
import re
import unicodedata
from collections.abc import Mapping, Sequence
from pathlib import Path

from simulator.problems import InputError, Parameter, Problem, fault, printable
from simulator.weather.files.text import decode

EL_NINO, NEUTRAL, LA_NINA = "el nino", "neutral", "la nina"
ENSO_THRESHOLD = 0.5  # degC, NOAA Climate Prediction Center
LIST_HEADER = "year,kind"
ONI_HEADER = "SEAS YR TOTAL ANOM"
# three months each, and the months that make up a season of that name
_SEASONS = ("DJF", "JFM", "FMA", "MAM", "AMJ", "MJJ", "JJA", "JAS", "ASO", "SON", "OND", "NDJ")
_AFTER_NEW_YEAR = ("DJF", "JFM", "FMA", "MAM", "AMJ")  # of the year after the fall
_NOT_MEASURED = -99.0
MOST_BYTES = 2_000_000  # of a list of years, or of the index
_YEARS = (1750, 2200)
LONGEST = 40  # characters of a kind


def read_kinds_file(path: str | Path, *, season: str = "OND") -> dict[int, str]:
    """Read a list of years or the Oceanic Nino Index, whichever the file is."""
    first = next((line for line in _lines(Path(path), LIST_HEADER) if line.strip()), "")
    if first.split()[:2] == ONI_HEADER.split()[:2]:
        return read_oni(path, season=season)
    return read_kinds(path)


def _lines(path: Path, header: str) -> list[str]:
    try:
        with path.open("rb") as opened:
            data = opened.read(MOST_BYTES + 1)
    except OSError as error:
        raise fault(str(path), f"It cannot be read: {error.strerror}.") from error
    if len(data) > MOST_BYTES:
        raise fault(
            str(path),
            f"It is larger than {MOST_BYTES:,} bytes.",
            "A list of years holds a line a year.",
        )
    return printable(decode(data, path.name, header)[0]).split("\n")


def read_kinds(path: str | Path) -> dict[int, str]:
    """Read the user's own list of years.

    Parameters
    ----------
    path : path
        CSV with the header ``year,kind``; lines that begin with # are comments.

    Returns
    -------
    dict of int to str
        Fall year -> kind, in small letters.

    Raises
    ------
    InputError
        No such file or columns; every row without a year or a kind, or with a year given twice.
    """
    path = Path(path)
    lines = [
        (n, line)
        for n, line in enumerate(_lines(path, LIST_HEADER), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    between = ";" if lines and ";" in lines[0][1] else ","
    # line by line, so that an open quotation mark spoils its own line only
    rows = [(n, next(csv.reader([line], delimiter=between))) for n, line in lines]
    header = [cell.strip().lower() for cell in rows[0][1]] if rows else []
    missing = [name for name in LIST_HEADER.split(",") if header.count(name) != 1]
    if missing:
        raise fault(
            path.name,
            f"It has no single column {' or '.join(missing)}.",
            f"Its first line should be {LIST_HEADER}.",
        )
    year_at, kind_at = header.index("year"), header.index("kind")
    found: dict[int, str] = {}
    problems: list[Problem] = []
    for line, row in rows[1:]:
        cells = [*row, *[""] * len(header)]
        year, wrong = _year(cells[year_at], found)
        kind = plain_kind(cells[kind_at])
        problems += _row_faults(path.name, line, wrong, kind)
        if not wrong:
            found[year] = kind
    if problems:
        raise InputError(problems)
    if not found:
        raise fault(path.name, "It has no years.", f"Write one a line, below {LIST_HEADER}.")
    return found


def plain_kind(text: str) -> str:
    """Return a kind as it is compared: small letters without accents, single blanks."""
    bare = unicodedata.normalize("NFKD", text)
    return " ".join("".join(c for c in bare if not unicodedata.combining(c)).lower().split())


def _row_faults(file: str, line: int, wrong: str, kind: str) -> list[Problem]:
    faults = []
    if wrong:
        faults.append(
            Problem(
                f"{file}, line {line}, column 'year'",
                wrong,
                "Give each fall year once, such as 2015.",
            )
        )
    if not kind:
        faults.append(
            Problem(
                f"{file}, line {line}, column 'kind'",
                "It is blank.",
                "Write the kind, such as wet, or take the row out.",
            )
        )
    elif len(kind) > LONGEST or "," in kind:
        faults.append(
            Problem(
                f"{file}, line {line}, column 'kind'",
                f"'{kind[:LONGEST]}' will not do as a name.",
                f"Use at most {LONGEST} characters and no comma.",
            )
        )
    return faults


def _year(text: str, before: Mapping[int, str]) -> tuple[int, str]:
    """Read a year, and say what is wrong with it."""
    plain = text.strip()
    if not re.fullmatch(r"\d{4}", plain) or not _YEARS[0] <= int(plain) <= _YEARS[1]:
        return 0, f"'{plain[:40]}' is not a year." if plain else "It is blank."
    if int(plain) in before:
        return 0, f"{plain} is given twice."
    return int(plain), ""


def read_oni(path: str | Path, *, season: str = "OND") -> dict[int, str]:
    """Read the Oceanic Nino Index and sort falls by it.

    An anomaly of +0.5 degC or more in the season is ``el nino``, of -0.5 degC or less
    ``la nina``, else ``neutral``. The Climate Prediction Center calls an episode one when five
    seasons in a row are beyond the threshold; a single season is taken here, since a fall has
    to be sorted by what is known of it.

    Parameters
    ----------
    path : path
        The public text file, with the columns SEAS, YR, TOTAL and ANOM.
    season : str
        Three months by their first letters; ``DJF`` to ``AMJ`` are those after the fall.

    Returns
    -------
    dict of int to str
        Fall year -> kind.

    Raises
    ------
    InputError
        An unknown season, another layout, or rows that cannot be read, each by its line.

    References
    ----------
    NOAA Climate Prediction Center, Historical El Nino / La Nina episodes (1950-present):
    threshold of +/- 0.5 degC for the Oceanic Nino Index.
    """
    path = Path(path)
    wanted = check_oni_season(season)
    lines = [(n, line.split()) for n, line in enumerate(_lines(path, ONI_HEADER), start=1)]
    rows = [(n, cells) for n, cells in lines if cells]
    if not rows or rows[0][1] != ONI_HEADER.split():
        raise fault(
            path.name,
            "It is not the Oceanic Nino Index as text.",
            f"Its first line should be {ONI_HEADER}.",
        )
    found: dict[int, str] = {}
    problems: list[Problem] = []
    for line, cells in rows[1:]:
        read = _oni_row(cells)
        if isinstance(read, str):
            problems.append(
                Problem(
                    f"{path.name}, line {line}", read, "Write for example OND 1950 25.48 -0.60."
                )
            )
            continue
        name, year, anomaly = read
        if name == wanted and anomaly > _NOT_MEASURED:
            fall = year - (wanted in _AFTER_NEW_YEAR)
            if fall in found:
                problems.append(
                    Problem(f"{path.name}, line {line}", f"{name} {year} comes twice.", "Keep one.")
                )
            found[fall] = enso_kind(anomaly)
    if problems:
        raise InputError(problems)
    if not found:
        raise fault(path.name, f"It has no {wanted}.", "Name another season.")
    return found


def check_oni_season(text: str) -> str:
    """Return the three letters of a season of the Oceanic Nino Index; refuse any other text."""
    season = text.strip().upper()
    if season not in _SEASONS:
        raise fault(
            Parameter("kinds_season"),
            f"'{text[:40]}' is not a season of three months.",
            f"Take one of {', '.join(_SEASONS)}.",
        )
    return season


def enso_kind(anomaly: float) -> str:
    """Return the kind of an anomaly of the Oceanic Nino Index [degC]."""
    if anomaly >= ENSO_THRESHOLD:
        return EL_NINO
    return LA_NINA if anomaly <= -ENSO_THRESHOLD else NEUTRAL


def _oni_row(cells: Sequence[str]) -> tuple[str, int, float] | str:
    """Read a row of the index, or say what is wrong with it."""
    if len(cells) != 4:
        return f"It has {len(cells)} values in place of 4."
    if cells[0] not in _SEASONS:
        return f"'{cells[0][:20]}' is not a season of three months."
    if _year(cells[1], {})[1]:
        return f"'{cells[1][:20]}' is not a year."
    if not re.fullmatch(r"[+-]?\d{1,2}\.\d+", cells[3]):
        return f"'{cells[3][:20]}' is not an anomaly in degC."
    return cells[0], int(cells[1]), float(cells[3])
