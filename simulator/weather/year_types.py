"""Kinds of year: by the user's own list, by the Oceanic Nino Index, or by the fall's own weather.

A kind belongs to a fall year, the year in which the stand is sown.
"""

from __future__ import annotations

import csv
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from simulator.problems import InputError, Parameter, Problem, Text, fault, printable
from simulator.weather.files.record_check import checked
from simulator.weather.files.text import decode
from simulator.weather.record import fill_short_gaps, season_day

if TYPE_CHECKING:
    import xarray as xr

FALL_RAIN, FALL_TEMPERATURE, FALL = "fall rain", "fall temperature", "fall"
WAYS = (FALL_RAIN, FALL_TEMPERATURE, FALL)  # what a record can tell by itself
EL_NINO, NEUTRAL, LA_NINA = "el nino", "neutral", "la nina"
ENSO_THRESHOLD = 0.5  # degC, NOAA Climate Prediction Center
FIRST_OF_FALL, LAST_OF_FALL = "10-01", "12-31"
FEWEST_FALLS = 6  # two of each third

LIST_HEADER = "year,kind"
ONI_HEADER = "SEAS YR TOTAL ANOM"
# three months each, and the months that make up a season of that name
_SEASONS = ("DJF", "JFM", "FMA", "MAM", "AMJ", "MJJ", "JJA", "JAS", "ASO", "SON", "OND", "NDJ")
_AFTER_NEW_YEAR = ("DJF", "JFM", "FMA", "MAM", "AMJ")  # of the year after the fall
_NOT_MEASURED = -99.0
MOST_BYTES = 2_000_000  # of a list of years, or of the index
_YEARS = (1750, 2200)
_LONGEST = 40  # characters of a kind
_WEIGHT = re.compile(r"^(?P<kind>.*?\S)\s*[\s:=]\s*(?P<number>\d+\.?\d*|\.\d+)\s*%?$")
_ROUNDING = 0.0011  # of weights given in whole or tenths of percent: 33.3, 33.3, 33.3


def kinds_of_year(
    record: xr.Dataset, how: str = FALL_RAIN, *, season: str = "OND"
) -> dict[int, str]:
    """Give each fall year its kind.

    Parameters
    ----------
    record : Dataset
        As `make_record` gives it; short gaps are filled here.
    how : str
        ``"fall rain"`` (wet, normal, dry) or ``"fall temperature"`` (warm, normal, cool): thirds
        of the record's own falls, October to December; ``"fall"``: both, as in ``"cool wet"``;
        or a file: the user's list (`read_kinds`) or the Oceanic Nino Index (`read_oni`).
    season : str
        Season of the Oceanic Nino Index, for such a file.

    Returns
    -------
    dict of int to str
        Fall year -> kind; falls with gaps in October to December have none.

    Raises
    ------
    InputError
        An unknown way, a record that cannot be used, too few falls, or what the file's reader
        finds.
    """
    return kinds_of_falls(checked(record), how, season=season)


def kinds_of_falls(record: xr.Dataset, how: str, *, season: str) -> dict[int, str]:
    """Give each fall year of a record that is checked already its kind, as `kinds_of_year`."""
    plain = " ".join(how.split()).lower()
    _season_named(season)
    if plain not in WAYS:
        return read_kinds_file(_existing(how), season=season)
    rain, temperature = _falls(record)
    if len(rain) < FEWEST_FALLS:
        raise fault(
            Parameter("kinds"),
            f"Kinds by {plain} need at least {FEWEST_FALLS} falls whole from October to December; "
            f"the record has {len(rain)}.",
            "Give a longer record, or your own list of years.",
        )
    by_rain = _thirds(rain, ("dry", "normal", "wet"))
    by_temperature = _thirds(temperature, ("cool", "normal", "warm"))
    if plain == FALL_RAIN:
        return by_rain
    if plain == FALL_TEMPERATURE:
        return by_temperature
    return {year: f"{by_temperature[year]} {by_rain[year]}" for year in by_rain}


def _existing(how: str) -> Path:
    path = Path(how)
    if not path.is_file():
        raise fault(
            Parameter("kinds"),
            f"'{how[:200]}' is neither a file nor a way to sort years.",
            f"Take '{FALL_RAIN}', '{FALL_TEMPERATURE}', '{FALL}', or a file: your list "
            f"({LIST_HEADER}) or the Oceanic Nino Index ({ONI_HEADER}).",
        )
    return path


def _falls(record: xr.Dataset) -> tuple[dict[int, float], dict[int, float]]:
    """Rain [mm] and mean temperature [degC] of October to December, falls without gaps only."""
    whole = fill_short_gaps(record)
    days = whole["time"].values.astype("datetime64[D]")
    rain = whole["rain"].values
    mean = 0.5 * (whole["tmax"].values + whole["tmin"].values)
    totals, means = {}, {}
    for year in range(int(str(days[0])[:4]), int(str(days[-1])[:4]) + 1):
        first, last = season_day(year, FIRST_OF_FALL), season_day(year, LAST_OF_FALL)
        if first < days[0] or last > days[-1]:
            continue
        inside = (days >= first) & (days <= last)
        if np.isfinite(rain[inside]).all() and np.isfinite(mean[inside]).all():
            totals[year] = float(rain[inside].sum())
            means[year] = float(mean[inside].mean())
    return totals, means


def _thirds(values: Mapping[int, float], names: Sequence[str]) -> dict[int, str]:
    """Sort years into thirds; values that equal a bound lie in the middle."""
    low, high = np.quantile(list(values.values()), [1 / 3, 2 / 3])
    return {
        year: names[0] if value < low else names[2] if value > high else names[1]
        for year, value in values.items()
    }


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
    told = []
    if wrong:
        told.append(
            Problem(
                f"{file}, line {line}, column 'year'",
                wrong,
                "Give each fall year once, such as 2015.",
            )
        )
    if not kind:
        told.append(
            Problem(
                f"{file}, line {line}, column 'kind'",
                "It is blank.",
                "Write the kind, such as wet, or take the row out.",
            )
        )
    elif len(kind) > _LONGEST or "," in kind:
        told.append(
            Problem(
                f"{file}, line {line}, column 'kind'",
                f"'{kind[:_LONGEST]}' will not do as a name.",
                f"Use at most {_LONGEST} characters and no comma.",
            )
        )
    return told


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
    wanted = _season_named(season)
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


def _season_named(text: str) -> str:
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


def check_kinds(
    kinds: Mapping[int, str], years: Iterable[int], *, name: str = Parameter("kinds")
) -> None:
    """Refuse kinds that leave out a year.

    Raises
    ------
    InputError
        Years without a kind, named.
    """
    wanted = sorted(years)
    without = [year for year in wanted if year not in kinds]
    if not without:
        return
    if len(without) == len(wanted):
        raise fault(
            name,
            f"None of its years ({_span(kinds)}) is among the falls of the weather "
            f"({_span(wanted)}).",
            "Give kinds for the fall years of the weather.",
        )
    shown = ", ".join(map(str, without[:12])) + (" and more" if len(without) > 12 else "")
    raise fault(
        name,
        f"No kind is given for {shown}.",
        Text("Add them, or leave these falls out with ", Parameter("years"), "."),
    )


def _span(years: Iterable[int]) -> str:
    known = sorted(years)
    return f"{known[0]} to {known[-1]}" if known else "none"


def parse_weights(
    text: str, kinds: Mapping[int, str] | Iterable[str], *, name: str = Parameter("weights")
) -> dict[str, float]:
    """Read a forecast of the kind of year, such as ``"wet 50, normal 30, dry 20"``.

    Parameters
    ----------
    text : str
        A kind and its chance, with commas between them; in percent or as shares of 1.
    kinds : mapping of int to str, or iterable of str
        The kinds there are, or the years' kinds.
    name : str
        The option, for the message.

    Returns
    -------
    dict of str to float
        Every kind that there is; they add up to 1, those not named have 0.

    Raises
    ------
    InputError
        A part that cannot be read, an unknown kind, one named twice, or chances that do not add
        up to 100 (or 1); all faults are told.
    """
    known = sorted(set(kinds.values() if isinstance(kinds, Mapping) else kinds))
    found: dict[str, float] = {}
    problems: list[Problem] = []
    for part in text.split(","):
        match = _WEIGHT.match(part.strip()) if len(part) < 4 * _LONGEST else None
        if not match:
            problems.append(
                Problem(
                    name,
                    f"'{part.strip()[:80]}' is not a kind and its chance.",
                    "Write for example 'wet 50, normal 30, dry 20'.",
                )
            )
            continue
        kind = plain_kind(match["kind"].rstrip(":="))
        if kind not in known:
            problems.append(
                Problem(
                    name, f"There is no kind '{kind[:80]}'.", f"The kinds are {', '.join(known)}."
                )
            )
        elif kind in found:
            problems.append(Problem(name, f"'{kind}' is given twice.", "Give each kind once."))
        else:
            found[kind] = float(match["number"])
    if problems:
        raise InputError(problems)
    total = sum(found.values())
    if not any(abs(total / whole - 1.0) <= _ROUNDING for whole in (1.0, 100.0)):
        raise fault(name, f"The chances add up to {total:g}.", "Make them add up to 100 (or to 1).")
    return {kind: found.get(kind, 0.0) / total for kind in known}


def year_weights(
    kinds: Mapping[int, str], weights: Mapping[str, float], years: Sequence[int]
) -> NDArray[np.float64]:
    """Weigh years so that each kind has its chance, shared evenly among its years.

    Parameters
    ----------
    kinds : mapping of int to str
        Fall year -> kind.
    weights : mapping of str to float
        Kind -> chance; they add up to 1.
    years : sequence of int

    Returns
    -------
    (year,) float
        They add up to 1.

    Raises
    ------
    InputError
        A year without a kind; a kind with a chance and no year.
    """
    check_kinds(kinds, years)
    of_years = [kinds[year] for year in years]
    empty = [kind for kind, weight in weights.items() if weight > 0 and kind not in of_years]
    if empty:
        raise fault(
            Parameter("weights"),
            f"No fall of the weather is {' or '.join(empty)}.",
            "Give these kinds no chance, or take more years.",
        )
    return np.array([weights.get(kind, 0.0) / of_years.count(kind) for kind in of_years])
