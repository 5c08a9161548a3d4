"""Column names and their units: what a header cell means."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache

from simulator import units
from simulator.problems import InputError

KIND = {"tmax": "temperature", "tmin": "temperature", "rain": "rain", "radiation": "radiation"}
WRITE = {
    "tmax": "tmax (degF) or tmax (degC)",
    "tmin": "tmin (degF) or tmin (degC)",
    "rain": "rain (inch) or rain (mm)",
    "radiation": "radiation (MJ/m2/d) or radiation (W/m2)",
}
DECLARED = {
    "us": {"temperature": "degF", "rain": "inch"},
    "si": {"temperature": "degC", "rain": "mm"},
}

# A name means what its keywords say, whatever other words it has.
_FILLERS = {
    "air",
    "daily",
    "day",
    "temp",
    "temperature",
    "t",
    "2m",
    "total",
    "amount",
    "sum",
    "of",
    "observed",
    "the",
    "24h",
}
_KEYWORDS = {
    "tmax": {"tmax", "maxt", "max", "maximum", "high", "hi", "tx", "maxtemp", "tempmax", "tasmax"},
    "tmin": {"tmin", "mint", "min", "minimum", "low", "lo", "tn", "mintemp", "tempmin", "tasmin"},
    "rain": {
        "rain",
        "rainfall",
        "precip",
        "precipitation",
        "prec",
        "prcp",
        "ppt",
        "pcp",
        "pr",
        "rr",
        "regen",
        "niederschlag",
        "lluvia",
        "precipitacion",
        "pluie",
    },
    "date": {"date", "datum", "fecha", "time", "datetime", "dt", "dates"},
    "year": {"year", "yr", "yyyy"},
    "month": {"month", "mo", "mon"},
    "doy": {"doy", "yday", "jday", "julian", "dayofyear"},
    "latitude": {"latitude", "lat"},
    "longitude": {"longitude", "lon", "long"},
    "site": {"site", "station", "stn", "place", "location"},
    "name": {"name", "site", "station", "stn", "place", "location"},  # "station name"
}
# of radiation one word must be there, others may; of other radiation, such as net, none
_RADIATION = {
    "radiation",
    "srad",
    "rsds",
    "ghi",
    "insolation",
    "irradiation",
    "irradiance",
    "globalstrahlung",
    "radiacion",
    "rayonnement",
}
_OF_RADIATION = {
    "global",
    "solar",
    "incoming",
    "shortwave",
    "mean",
    "measured",
    "surface",
    "downwelling",
    "horizontal",
}
_OF_DATES = {"observation", "obs", "local", "valid", "utc"}

_ALIASES = {
    "mm": "mm",
    "cm": "cm",
    "inch": "inch",
    "degc": "degC",
    "degf": "degF",
    "kelvin": "kelvin",
    "c": "degC",
    "°c": "degC",
    "º c": "degC",
    "℃": "degC",
    "deg c": "degC",
    "celsius": "degC",
    "degrees c": "degC",
    "degree c": "degC",
    "degrees celsius": "degC",
    "centigrade": "degC",
    "f": "degF",
    "°f": "degF",
    "℉": "degF",
    "deg f": "degF",
    "fahrenheit": "degF",
    "degrees f": "degF",
    "degree f": "degF",
    "degrees fahrenheit": "degF",
    "k": "kelvin",
    "in": "inch",
    "in.": "inch",
    "inches": "inch",
    '"': "inch",
    "mm/day": "mm",
    "mm/d": "mm",
    "mm day-1": "mm",
    "mm d-1": "mm",
    "millimetres": "mm",
    "millimeters": "mm",
    "inch/day": "inch",
    "in/day": "inch",
    "in/d": "inch",
}
_PART = re.compile(r"^(0\.1|0\.01|1/100|1/10|tenths?|hundredths?)\s*(?:of\s+)?([^\d\s].*)$")
_ENERGY = re.compile(r"(mj|kj|j|kwh|wh|kcal|cal|w)\s*[/ ]\s*(c?m)\s*-?2(\s*[/ ]\s*d(ay)?(-1)?)?")
_ENERGIES = {
    "mj": "MJ",
    "kj": "kJ",
    "j": "J",
    "kwh": "kWh",
    "wh": "Wh",
    "kcal": "kcal",
    "cal": "cal",
    "w": "W",
}
_TENTHS = {"0.1", "1/10", "tenth", "tenths"}
_LONGEST = 80  # characters of a header cell that is looked at
_BRACKETED = re.compile(r"^(.*?)[(\[{]([^()\[\]{}]*)[)\]}](.*)$", re.DOTALL)


def recognise(header: str) -> tuple[str, str]:
    """Say what a header cell names and the unit in it.

    Parameters
    ----------
    header : str
        As it stands in the file: ``"T max [°C]"``, ``"rain_mm"``, ``"Datum"``.

    Returns
    -------
    role : str
        ``tmax``, ``tmin``, ``rain``, ``radiation``, ``date``, ``year``, ``month``, ``day``,
        ``doy``, ``latitude``, ``longitude``, ``site``, ``name``; empty where it is none of them.
    unit : str
        The unit as written; empty where there is none.
    """
    if len(header) > _LONGEST:
        return "", ""
    bracketed = _BRACKETED.match(header)
    if bracketed:
        return _role(bracketed[1] + " " + bracketed[3]), bracketed[2].strip()
    role = _role(header)
    if role:
        return role, ""
    parts = re.split(r"[\s_,:;/-]+", header.strip())
    for last in (1, 2):  # "rain_mm", "T max deg C"
        name, unit = " ".join(parts[:-last]), " ".join(parts[-last:])
        role = _role(name)
        if role in KIND and _known(unit, KIND[role]):
            return role, unit
    return "", ""


@cache
def _role(name: str) -> str:
    words = re.findall(r"[^\W_]+", name.lower().replace("-", "_"))
    if words == ["day"]:
        return "day"
    if words == ["day", "of", "year"]:
        return "doy"
    keywords = set(words) - _FILLERS
    if "date" in keywords or "time" in keywords:
        keywords -= _OF_DATES
    for role, names in _KEYWORDS.items():
        if keywords and keywords <= names:
            return role
    if keywords & _RADIATION and keywords <= _RADIATION | _OF_RADIATION:
        return "radiation"
    return ""


def _known(unit: str, kind: str) -> bool:
    try:
        line_to(unit, kind)
    except InputError:
        return False
    return True


@cache
def line_to(unit: str, kind: str) -> tuple[str, float, float]:
    """Return a unit's plain name and the line that turns it into degC, mm of water or MJ m-2 d-1.

    Parameters
    ----------
    unit : str
        As in a header, an attribute of netCDF or a declaration; ``"0.1 degC"`` and
        ``"tenths of mm"`` too.
    kind : str
        ``"temperature"``, ``"rain"`` or ``"radiation"``; an energy is that of a day, a power its
        mean.

    Returns
    -------
    name : str
        The unit as understood.
    slope, offset : float
        Value inside = value * slope + offset.

    Raises
    ------
    InputError
        Not a unit, or one of another kind.
    """
    text = " ".join(unit.strip().lower().split())
    if kind == "radiation":
        return " ".join(unit.split()), _megajoules(text, unit), 0.0
    part = _PART.match(text)
    if part:
        name, slope, offset = line_to(part[2], kind)
        share = 0.1 if part[1] in _TENTHS else 0.01
        return f"{share:g} {name}", slope * share, offset
    plain = _ALIASES.get(text) or pint_powers(unit)
    if kind == "temperature":
        zero = units.parse(f"0 {plain}", "degC", name=unit)
        name = "degC" if plain == "celsius" else plain
        return name, units.parse(f"1 {plain}", "degC", name=unit) - zero, zero
    last: InputError | None = None
    for wanted in ("mm", "kg/m**2", "mm/day", "kg/m**2/day"):
        try:
            return plain, units.parse(f"1 {plain}", wanted, name=unit), 0.0  # 1 kg m-2 is 1 mm
        except InputError as error:
            last = last or error
    assert last is not None
    raise last


def _megajoules(text: str, unit: str) -> float:
    """Return how many MJ m-2 d-1 one of a unit of radiation is."""
    if text in ("langley", "langleys", "ly", "ly/day", "ly/d"):
        return units.parse("1 cal/cm**2", "MJ/m**2", name=unit)
    plain = text.replace("\N{SUPERSCRIPT TWO}", "2").replace("^", "").replace("**", "")
    found = _ENERGY.fullmatch(plain)
    written = f"{_ENERGIES[found[1]]}/{found[2]}**2" if found else pint_powers(unit)
    power = found is None or found[1] == "w"
    if found and found[1] == "w" and found[3]:
        written = unit  # a power over a day is none
    return units.parse(f"1 {written}", "MJ/m**2/day" if power else "MJ/m**2", name=unit)


def pint_powers(unit: str) -> str:
    """Write powers the way pint reads them: ``"kg m-2 s-1"`` becomes ``"kg m**-2 s**-1"``."""
    return re.sub(r"([A-Za-z])\^?(-?\d)", r"\1**\2", " ".join(unit.split()))


def find_header(rows: Sequence[Sequence[str]]) -> int | None:
    """Return the index of the first row that names a date and some weather, or None."""
    for index, cells in enumerate(rows):
        roles = {recognise(cell)[0] for cell in cells}
        if roles & {"date", "day", "year"} and roles & set(KIND):
            return index
    return None
