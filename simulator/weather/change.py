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

from simulator.problems import InputError, Parameter, Problem, fault
from simulator.units import parse
from simulator.weather.files.record_check import checked
from simulator.weather.radiation import follow_change
from simulator.weather.rain_total import with_total
from simulator.weather.record import NAMES

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

OPTION = Parameter("change")
GRAMMAR = (
    "Write for example 'rain november = 11 inch', 'rain november + 2 inch', "
    "'rain oct..dec * 0.3', 'rain oct..dec + 20 percent', 'rain 11-10 = 3 inch', "
    "'temperature oct..dec - 5 degF' or 'temperature 12-01..02-15 + 2 degC' "
    "(also tmax or tmin alone)."
)
LONGEST_TEXT = 200
MOST_CHANGES = 50
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


def change_weather(
    record: xr.Dataset, *changes: str | Change | list[str] | list[Change] | tuple[str | Change, ...]
) -> xr.Dataset:
    """Change the weather of a record, every year alike.

    Parameters
    ----------
    record : Dataset, dimension time
        Daily tmax, tmin [degC] and rain [mm]; not altered.
    *changes : str, Change, or lists of them
        As the module's table has it, at most 50; applied in the order given.

    Returns
    -------
    Dataset
        A copy; ``attrs["changes"]`` keeps what was changed, in order, after what the record
        had there.

    Raises
    ------
    InputError
        The record cannot be used, a change cannot be read (all those that cannot are named),
        the record has no such days, a span has less rain than is to be taken away, or a day's
        Tmax would fall below its Tmin.

    Notes
    -----
    *Rain set to a total.* Each year's span is brought to the total on its own; a span that
    crosses the new year counts by winters. All its wet days are scaled alike, as far as at
    least one day in ten (three in a month) is wet and none comes to exceed 150 mm; what is then
    wanting falls in equal parts on every fifth day, six in a month (see
    `simulator.weather.rain_total.with_total`). Adding rain sets the total to what there was and
    the addition.

    *Missing days* stay missing: a total is reached on the days that have a value, also in a
    span cut short by the record's ends, and a span without any is left as it is.

    *Temperature* moves Tmax and Tmin alike; ``tmax`` and ``tmin`` move one of them.

    *Radiation*, where the record has it measured, stays as it is on days that are not changed; on
    the others see `simulator.weather.radiation.follow_change`.

    Examples
    --------
    >>> from simulator.weather.samples import sample_weather
    >>> wet = change_weather(sample_weather(), "rain november = 11 inch")
    >>> november = wet.rain[wet.time.dt.month == 11]
    >>> float((november.groupby("time.year").sum() / 25.4).min().round(6))
    11.0
    """
    return changed_by(checked(record), *changes)


def changed_by(
    record: xr.Dataset, *changes: str | Change | list[str] | list[Change] | tuple[str | Change, ...]
) -> xr.Dataset:
    """Change the weather of a record that is checked already, as `change_weather` does."""
    read = _read_all(changes)
    values = {name: np.array(record[name], dtype=float) for name in NAMES}
    days = record["time"].to_numpy().astype("datetime64[D]")
    for change in read:
        _apply(change, values, days)
    told = [record.attrs["changes"]] if record.attrs.get("changes") else []
    changed = record.assign({name: record[name].copy(data=values[name]) for name in NAMES})
    return follow_change(changed, record).assign_attrs(
        changes="; ".join([*told, *(change.text for change in read)])
    )


def _read_all(
    changes: tuple[str | Change | list[str] | list[Change] | tuple[str | Change, ...], ...],
) -> list[Change]:
    listed: list[str | Change] = []
    for given in changes:
        listed += list(given) if isinstance(given, list | tuple) else [given]
    if len(listed) > MOST_CHANGES:
        raise fault(OPTION, f"{len(listed)} changes given.", f"Give at most {MOST_CHANGES}.")
    read: list[Change] = []
    problems: list[Problem] = []
    for item in listed:
        try:
            read.append(item if isinstance(item, Change) else parse_change(item))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return read


def _apply(
    change: Change, values: dict[str, NDArray[np.float64]], days: NDArray[np.datetime64]
) -> None:
    names = ("tmax", "tmin") if change.quantity == "temperature" else (change.quantity,)
    spans = change.occurrences(days)
    if not any(np.isfinite(values[name][span]).any() for name in names for span in spans):
        raise fault(
            OPTION,
            f"'{change.text}': the record has no {change.quantity} {change.span}.",
            f"It covers {days[0]} to {days[-1]}.",
        )
    if change.quantity == "rain":
        rain = values["rain"]
        for span in spans:
            known = span[np.isfinite(rain[span])]
            rain[known] = _rained(change, rain[known], days[known])
        return
    everywhere = np.concatenate(spans)
    for name in names:
        values[name][everywhere] += change.amount
    crossed = values["tmax"][everywhere] < values["tmin"][everywhere]
    if len(names) == 1 and crossed.any():
        first = days[everywhere[np.argmax(crossed)]]
        raise fault(
            OPTION,
            f"'{change.text}': Tmax would fall below Tmin, first on {first}.",
            "Change it by less, or change 'temperature', which moves both.",
        )


def _rained(
    change: Change, rain: NDArray[np.float64], days: NDArray[np.datetime64]
) -> NDArray[np.float64]:
    """Apply a change of rain to the known days of one year's span."""
    if change.operation == "times" or rain.size == 0:
        return rain * change.amount
    there = math.fsum(rain)
    total = change.amount if change.operation == "set" else there + change.amount
    if total < 0:
        raise fault(
            OPTION,
            f"'{change.text}': from {days[0]} to {days[-1]} only {there:.1f} mm "
            f"fell ({there / 25.4:.2f} inch).",
            "Take away less, or scale: 'rain november * 0.5'.",
        )
    return with_total(rain, total)
