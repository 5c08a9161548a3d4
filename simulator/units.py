"""Units: the one pint registry, taken off at the door and put on again on the way out.

Inside, every number is a plain float in SI as the trade writes it (degC, mm, kg/ha,
MJ m-2 d-1, degC d). A quantity from a user always carries its unit; a bare number is refused.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from math import isfinite
from typing import TYPE_CHECKING, Literal

from simulator.problems import fault

if TYPE_CHECKING:
    import pint

System = Literal["us", "si"]

_NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?"
_QUANTITY = re.compile(rf"^\s*(?P<number>{_NUMBER})\s*(?P<unit>.*?)\s*$")
# A unit is names with one-digit powers. Numbers elsewhere, and powers of powers, are refused:
# pint would work out 9^9^9 in full.
_TERM = r"[A-Za-z°µ%_]+(?:(?:\^|\*\*)?-?\d)?"
_UNIT = re.compile(rf"^(?=.{{1,41}}$){_TERM}(?:(?:\s*[*/]\s*|\s+){_TERM})*$")
_LONGEST = 80  # characters of one quantity; matching longer blanks would take quadratic time
_THOUSANDS = re.compile(r"^\s*([1-9]\d{0,2})$")  # what may stand before a comma of thousands
_HUNDREDS = re.compile(r"^(\d{3})(?!\d)")  # and after it
_GROUPED = re.compile(r"^\s*(?P<number>\d{1,3}(?:,\d{3})+(?:\.\d+)?)(?!\d)\s*(?P<unit>[^,]*?)\s*$")
_UNIT_AT_END = re.compile(r"\d\s*([A-Za-z°µ%].*?)\s*$")
FAR_APART = 25  # a list of rates has no neighbours of which one is so many times the other
_POWER_WORD = re.compile(r"square|cubi|cube|sq\b", re.IGNORECASE)

# What to write, shown whenever a unit is missing or does not fit.
_EXAMPLES = {
    "kg/ha": "lb/acre or kg/ha",
    "mm": "inch or mm",
    "degC": "degF or degC",
    "delta_degC": "degF or degC",
    "cm": "inch or cm",
    "kg/kg": "percent",
}


@cache
def registry() -> pint.UnitRegistry[float]:
    """Return the one registry, built on first use."""
    made = _all_units()
    # the survey acre, whatever the pint: from 0.26 on, pint's own is the international one
    made.define("acre = 43560 * survey_foot ** 2")
    made.define("@alias acre = ac")
    made.define("@alias hectare = ha")
    return made


def _all_units() -> pint.UnitRegistry[float]:
    """Return pint's units, which it reads from text once and keeps in the cache folder.

    Reading them takes a third of a second, an eighth of a command's time. What is damaged there, or
    cannot be kept, is read from text again.
    """
    import pint
    import platformdirs

    folder = platformdirs.user_cache_path("fallsown", appauthor=False) / "units"
    try:
        return pint.UnitRegistry(cache_folder=folder)
    except Exception:  # whatever a folder or a torn file may raise, the text is at hand
        shutil.rmtree(folder, ignore_errors=True)
        return pint.UnitRegistry()


def _unit_of(text: str, *, name: str, wanted: str) -> pint.Unit:
    plain = text.replace("°", "deg").replace("deg ", "deg")
    if not _UNIT.match(text) or len(_POWER_WORD.findall(text)) > 1:
        raise fault(name, f"'{text}' is not a unit.", f"Write {_wanted(wanted)}.")
    try:
        unit = registry().Unit(plain)
    except Exception as error:  # pint raises many kinds for what it cannot read
        raise fault(name, f"'{text}' is not a known unit.", f"Write {_wanted(wanted)}.") from error
    return unit


def _shortened(text: str) -> str:
    plain = text.strip()
    return plain if len(plain) <= _LONGEST else f"{plain[:_LONGEST]}..."


def _wanted(unit: str) -> str:
    return _EXAMPLES.get(unit, unit)


def _convert(number: float, unit_text: str, unit: str, *, name: str) -> float:
    if not unit_text:
        raise fault(
            name,
            f"'{number:g}' has no unit.",
            f"Write for example '{number:g} {_wanted(unit).split(' or ')[0]}' ({_wanted(unit)}).",
        )
    import pint

    found = _unit_of(unit_text, name=name, wanted=unit)
    if unit == "delta_degC":  # "5 degF" as a step is a difference, never a reading
        found = {
            "degree_Celsius": registry().delta_degC,
            "degree_Fahrenheit": registry().delta_degF,
        }.get(str(found), found)
    try:
        value = float(registry().Quantity(number, found).to(unit).magnitude)
    except pint.DimensionalityError as error:
        raise fault(
            name, f"'{unit_text}' cannot be turned into {unit}.", f"Write {_wanted(unit)}."
        ) from error
    if not isfinite(value):
        raise fault(name, f"'{number:g} {unit_text}' is too large a number.")
    return value


def parse(text: str, unit: str, *, name: str) -> float:
    """Read one quantity such as ``"90 lb/acre"``.

    Parameters
    ----------
    text : str
        A number and its unit.
    unit : str
        The unit wanted inside; ``"delta_degC"`` for a temperature step.
    name : str
        The option or column, for the message.

    Returns
    -------
    float
        The magnitude in ``unit``.

    Raises
    ------
    InputError
        No number, no unit, an unknown unit, or one of another kind.
    """
    return parse_list(text, unit, name=name, most=1)[0]


def parse_list(text: str, unit: str, *, name: str, most: int = 200) -> list[float]:
    """Read a list that shares its unit, such as ``"0,30,60,90 lb/acre"``.

    Parameters
    ----------
    text : str
        Numbers with commas between them, the unit after the last; a unit may also stand
        after any of the others.
    unit, name
        As in `parse`.
    most : int
        The longest list taken.

    Returns
    -------
    list of float
        The magnitudes in ``unit``, in the order written.

    Raises
    ------
    InputError
        As `parse`, and for an empty item or too long a list.
    """
    if not isinstance(text, str):
        raise fault(
            name,
            f"{_shortened(repr(text))} has no unit.",
            f"Write it as text with its unit, for example '30 {_wanted(unit).split(' or ')[0]}'.",
        )
    items = text.split(",")
    grouped = _GROUPED.match(text) if most == 1 and len(text) <= _LONGEST else None
    if grouped:
        plain = f"{grouped['number'].replace(',', '')} {grouped['unit']}".rstrip()
        raise fault(name, f"'{text.strip()}' has a comma.", f"Write {plain}.")
    if len(items) > most:
        limit = "one value" if most == 1 else f"at most {most} values"
        raise fault(name, f"{len(items)} values given.", f"Give {limit}.")
    refuse_thousands(items, name=name)
    read: list[tuple[float, str]] = []
    for item in items:
        match = _QUANTITY.match(item) if len(item) <= _LONGEST else None
        if not match:
            raise fault(
                name,
                f"'{_shortened(item)}' is not a number with a unit.",
                f"Write for example '30 {_wanted(unit).split(' or ')[0]}'.",
            )
        number = float(match["number"])
        if not isfinite(number):
            raise fault(name, f"'{_shortened(item)}' is too large a number.")
        read.append((number, match["unit"]))
    shared = read[-1][1]
    return [_convert(number, own or shared, unit, name=name) for number, own in read]


def refuse_thousands(items: Sequence[str], *, name: str) -> None:
    """Refuse a comma that stands between thousands, which a list takes for one between values.

    Parameters
    ----------
    items : sequence of str
        A text parted at its commas, blanks left where they stood.
    name : str
        The option, for the message.

    Raises
    ------
    InputError
        After the first, an item begins with a zero before other digits, as in ``90,000``; or three
        digits follow at once on a number without a unit that they exceed `FAR_APART` times, as in
        ``1,500 lb/acre``: so far apart no two rates are compared. With a blank it is a list.
    """
    for before, item in pairwise(items):
        first, then = _THOUSANDS.match(before), _HUNDREDS.match(item)
        if first and then and int(then[1]) >= FAR_APART * int(first[1]):
            unit = _UNIT_AT_END.search(items[-1][:_LONGEST])
            of = f" {unit[1]}" if unit else ""
            raise fault(
                name,
                f"'{first[1]},{then[1]}' may be one number or two.",
                f"Write {first[1]}{then[1]}{of}, or {first[1]}, {then[1]}{of} for two.",
            )
        if re.match(r"\s*0\d", item):
            both = _shortened(f"{before.strip()},{item.strip()}")
            raise fault(
                name,
                f"'{both}' may be one number or two.",
                "Write no comma between thousands, and no zero before a number.",
            )


@dataclass(frozen=True, slots=True)
class Shown:
    """How one kind of quantity is shown in one system of units.

    Parameters
    ----------
    label : str
        The unit as it stands in a column header.
    unit : str
        The same for pint.
    digits : int
        Decimals printed; -1 for tens.
    """

    label: str
    unit: str
    digits: int


def system_of(about: Mapping[str, object], asked: str | None = None) -> System:
    """Choose what people see: as asked, else as the sample's country or the file has it.

    Parameters
    ----------
    about : mapping
        Attributes of a record, or of what was grown in it.
    asked : str, optional
        ``"us"`` or ``"si"``.
    """
    own = about.get("units_shown") or about.get("units_of_file")
    return "us" if (asked or own) == "us" else "si"


# kind of quantity -> unit inside, then how each system shows it
SHOWN: dict[str, tuple[str, dict[System, Shown]]] = {
    "mass": ("kg/ha", {"us": Shown("lb/ac", "lb/acre", 0), "si": Shown("kg/ha", "kg/ha", 0)}),
    # what the model makes is known no finer than to tens; "mass" is of what is given and measured
    "biomass": ("kg/ha", {"us": Shown("lb/ac", "lb/acre", -1), "si": Shown("kg/ha", "kg/ha", -1)}),
    "nitrogen": ("kg/ha", {"us": Shown("lb/ac", "lb/acre", 0), "si": Shown("kg/ha", "kg/ha", 0)}),
    "water": ("mm", {"us": Shown("in", "inch", 1), "si": Shown("mm", "mm", 0)}),
    "rain": ("mm", {"us": Shown("in", "inch", 2), "si": Shown("mm", "mm", 1)}),
    "plants": (
        "1/m^2",
        {"us": Shown("plants/ft2", "1/ft^2", 0), "si": Shown("plants/m2", "1/m^2", 0)},
    ),
    "depth": ("cm", {"us": Shown("in", "inch", 1), "si": Shown("cm", "cm", 0)}),
    "temperature": ("degC", {"us": Shown("°F", "degF", 0), "si": Shown("°C", "degC", 1)}),
    "step": (
        "delta_degC",
        {"us": Shown("°F", "delta_degF", 1), "si": Shown("°C", "delta_degC", 1)},
    ),
    "thermal_time": (
        "delta_degC * day",
        {"us": Shown("°F d", "delta_degF * day", 0), "si": Shown("°C d", "delta_degC * day", 0)},
    ),
}


@cache
def _line(kind: str, system: System) -> tuple[float, float]:
    inside, shown = SHOWN[kind]
    quantity = registry().Quantity
    zero = float(quantity(0.0, inside).to(shown[system].unit).magnitude)
    one = float(quantity(1.0, inside).to(shown[system].unit).magnitude)
    return one - zero, zero


def show(value: float, kind: str, system: System) -> float:
    """Turn an SI value of a kind in `SHOWN` into the system's own unit; works on arrays too."""
    slope, offset = _line(kind, system)
    return value * slope + offset


def label(kind: str, system: System) -> str:
    """Return the unit of a kind as a column header has it."""
    return SHOWN[kind][1][system].label


def spell(value: float, kind: str, system: System) -> str:
    """Return a value with its unit, as in a sentence: ``"38 lb/ac"``."""
    shown = SHOWN[kind][1][system]
    number = show(value, kind, system)
    if shown.digits < 0:
        number = round(number, shown.digits) + 0.0  # no -0
    digits = f",.{max(shown.digits, 0)}f" if abs(number) < 1e12 else ".3g"  # not hundreds of digits
    return f"{number:{digits}} {shown.label}"
