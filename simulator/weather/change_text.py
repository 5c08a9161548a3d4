"""What-ifs: a record with its rain or its temperature changed, as one short line says.

=============================================  ==================================================
``rain november = 11 inch``                    every November's total becomes 11 inches
``rain oct..dec = 10 inch``                    the three months together bring 10 inches
``rain 11-10 = 3 inch``                        one day, every year
``rain november + 2 inch``                     2 inches more (or less, ``-``) than there were
``rain oct..dec * 0.3``                        every day's rain times 0.3
``rain oct..dec + 20 percent``                 every day's rain times 1.2
``temperature oct..dec - 5 degF``              Tmax and Tmin lower by 5 degF
``temperature 12-01..02-15 + 2 degC``          a span of days; it may cross the new year
``tmax march + 3 degF``, ``tmin march - 1 degC``   one of the two alone
=============================================  ==================================================

Months go by name or by three letters or more of it, in any case.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from simulator.problems import InputError, Parameter, fault
from simulator.units import parse

if TYPE_CHECKING:
    from numpy.typing import NDArray

OPTION = Parameter("change")
GRAMMAR = (
    "Write for example 'rain november = 11 inch', 'rain november + 2 inch', "
    "'rain oct..dec * 0.3', 'rain oct..dec + 20 percent', 'rain 11-10 = 3 inch', "
    "'temperature oct..dec - 5 degF' or 'temperature 12-01..02-15 + 2 degC' "
    "(also tmax or tmin alone)."
)
LONGEST_TEXT = 200
MOST_RAIN = 5000.0  # in a span [mm]
MOST_TIMES = 100.0
MOST_DEGREES = 30.0  # [degC]

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
_LAST_DAYS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_END = r"(?:[a-z]+|\d{1,2}-\d{1,2})"
_CHANGE = re.compile(
    rf"(?P<quantity>[a-z]+)\s+(?P<first>{_END})(?:\s*\.\.\s*(?P<last>{_END}))?"
    r"\s*(?P<sign>[=*+-])\s*(?P<amount>.+)",
    re.IGNORECASE,
)
_AMOUNT = re.compile(r"(?P<number>[-+]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d{1,3})?)\s*(?P<unit>.*)", re.I)
_WORDS = {"inch": "inches", "inches": "inches", "in": "inches", "degf": "°F", "degc": "°C"}

Quantity = Literal["rain", "temperature", "tmax", "tmin"]
Operation = Literal["set", "add", "times"]


@dataclass(frozen=True, slots=True)
class Change:
    """One change of the weather, checked; made by `parse_change`.

    Parameters
    ----------
    text : str
        As it was written, blanks tidied.
    quantity : {"rain", "temperature", "tmax", "tmin"}
        What is changed.
    first, last : (int, int)
        Month and day of the span's ends, both inside it; where last comes before first, the
        span crosses the new year. A last day of 02-29 is the end of February in any year.
    span : str
        The span in words: ``"in each November"``.
    operation : {"set", "add", "times"}
        What is done.
    amount : float
        Rain [mm], degrees [degC] or a factor.
    amount_text : str
        The amount in the units it was written in, without its sign.
    """

    text: str
    quantity: Quantity
    first: tuple[int, int]
    last: tuple[int, int]
    span: str
    operation: Operation
    amount: float
    amount_text: str

    def describe(self) -> str:
        """Say it in plain words: ``"11 inches of rain in each November"``."""
        if self.operation == "set":
            return f"{self.amount_text} of rain {self.span}"
        more = self.amount > (1.0 if self.operation == "times" else 0.0)
        if self.operation == "times" and not self.amount_text.endswith("percent"):
            return f"rain times {self.amount_text} {self.span}"
        if self.quantity == "rain":
            return f"{self.amount_text} {'more' if more else 'less'} rain {self.span}"
        if self.quantity == "temperature":
            return f"{self.amount_text} {'warmer' if more else 'cooler'} {self.span}"
        return f"{self.quantity} {self.amount_text} {'higher' if more else 'lower'} {self.span}"

    def occurrences(self, days: NDArray[np.datetime64]) -> list[NDArray[np.int64]]:
        """Return the positions of the span's days among `days`, one array for each year's span.

        A span that crosses the new year is one winter's, never two halves of a year.
        """
        months = days.astype("datetime64[M]")
        of_year = (months.astype(int) % 12 + 1) * 100 + (days - months).astype(int) + 1
        year = days.astype("datetime64[Y]").astype(int)
        first, last = (month * 100 + day for month, day in (self.first, self.last))
        if first <= last:
            inside = (of_year >= first) & (of_year <= last)
        else:
            inside = (of_year >= first) | (of_year <= last)
            year = np.where(of_year >= first, year, year - 1)
        return [np.flatnonzero(inside & (year == one)) for one in np.unique(year[inside])]


def parse_change(text: str) -> Change:
    """Read one change, such as ``"rain november = 11 inch"``.

    Parameters
    ----------
    text : str
        As the module's table has it, at most 200 characters.

    Returns
    -------
    Change

    Raises
    ------
    InputError
        It cannot be read, names no month or day, has no unit or the wrong one, or asks for
        what weather cannot do; the message shows the grammar.

    Examples
    --------
    >>> parse_change("rain november = 11 inch").describe()
    '11 inches of rain in each November'
    >>> parse_change("temperature 12-01..02-15 + 2 degC").describe()
    '2 °C warmer from 12-01 to 02-15'
    """
    if not isinstance(text, str):
        raise fault(OPTION, f"{text!r} is not a text.", GRAMMAR)
    if len(text) > LONGEST_TEXT:
        raise fault(OPTION, f"A change of {len(text)} characters is too long.", GRAMMAR)
    tidy = " ".join(text.replace("\N{MINUS SIGN}", "-").split())
    match = _CHANGE.fullmatch(tidy)
    if not match:
        raise fault(OPTION, f"'{tidy}' cannot be read as a change.", GRAMMAR)
    try:
        quantity = _quantity(match["quantity"])
        first, last, span = _span(match["first"], match["last"])
        operation, amount, amount_text = _amount(quantity, match["sign"], match["amount"])
    except InputError as error:
        problem = error.problems[0]
        remedy = f"{problem.remedy} {GRAMMAR}".lstrip()
        raise fault(OPTION, f"'{tidy}': {problem.what}", remedy) from error
    return Change(tidy, quantity, first, last, span, operation, amount, amount_text)


def _quantity(word: str) -> Quantity:
    known: tuple[Quantity, ...] = ("rain", "temperature", "tmax", "tmin")
    for quantity in known:
        if word.casefold() == quantity:
            return quantity
    raise fault(OPTION, f"'{word}' is none of {', '.join(known)}.")


def _end(text: str) -> tuple[int, int | None]:
    """Read a month, or a day as month and day."""
    if text[0].isdigit():
        month, day = (int(part) for part in text.split("-"))
        if not (1 <= month <= 12 and 1 <= day <= _LAST_DAYS[month - 1]):
            raise fault(
                OPTION, f"'{text}' is not a day of the calendar.", "Write month-day: 11-10."
            )
        return month, day
    if len(text) >= 3:
        for number, name in enumerate(MONTHS, start=1):
            if name.casefold().startswith(text.casefold()):
                return number, None
    raise fault(OPTION, f"'{text}' is not a month.", "Write its name or its first three letters.")


def _span(first: str, last: str | None) -> tuple[tuple[int, int], tuple[int, int], str]:
    month, day = _end(first)
    last_month, last_day = (month, day) if last is None else _end(last)
    if last is None and (month, day) == (2, 29):
        raise fault(
            OPTION, "02-29 does not exist in every year.", "Write 02-28, or a span of days."
        )
    begins = MONTHS[month - 1] if day is None else f"{month:02d}-{day:02d}"
    ends = MONTHS[last_month - 1] if last_day is None else f"{last_month:02d}-{last_day:02d}"
    if last is not None:
        words = f"from {begins} to {ends}"
    else:
        words = f"in each {begins}" if day is None else f"on {begins} of each year"
    return (month, day or 1), (last_month, last_day or _LAST_DAYS[last_month - 1]), words


def _amount(quantity: Quantity, sign: str, text: str) -> tuple[Operation, float, str]:
    """Read what is done: the operation, its amount inside, and the amount as written."""
    written = _AMOUNT.fullmatch(text)
    if sign == "*":
        if quantity != "rain":
            raise fault(
                OPTION,
                "Degrees cannot be multiplied, for their zero is arbitrary.",
                "Add or subtract: 'temperature oct..dec - 5 degF'.",
            )
        times = float(text) if written and not written["unit"] else math.nan
        return "times", _within(times, 0.0, MOST_TIMES, "", text), f"{times:g}"
    minus = -1.0 if sign == "-" else 1.0
    if written and written["unit"].casefold() in ("percent", "%") and quantity == "rain":
        share = float(written["number"])
        if sign == "=":
            raise fault(OPTION, "A total cannot be a percentage.", "Write + or - in place of =.")
        _within(share, 0.0, 100.0 if sign == "-" else 100.0 * MOST_TIMES, "percent", text)
        times = 1.0 + minus * share / 100.0
        return "times", times, f"{share:g} percent"
    if quantity != "rain":
        if sign == "=":
            raise fault(
                OPTION, "Temperature can be shifted, not set.", "Write + or - in place of =."
            )
        step = parse(text, "delta_degC", name=OPTION)
        _within(step, -MOST_DEGREES, MOST_DEGREES, "degC", text)
        return "add", minus * step, _in_words(text)
    rain = parse(text, "mm", name=OPTION)
    _within(rain, 0.0, MOST_RAIN, "mm", text)
    return ("set", rain, _in_words(text)) if sign == "=" else ("add", minus * rain, _in_words(text))


def _within(value: float, low: float, high: float, unit: str, text: str) -> float:
    if not low <= value <= high:
        limits = f"{low:g} to {high:g} {unit}".rstrip()
        raise fault(OPTION, f"'{text}' does not lie within {limits}.")
    return value


def _in_words(text: str) -> str:
    """Write an amount as a sentence has it: ``"-5 degF"`` as ``"5 °F"``."""
    written = _AMOUNT.fullmatch(text)
    if not written:
        return text
    unit = written["unit"]
    return f"{abs(float(written['number'])):g} {_WORDS.get(unit.casefold(), unit)}"
