"""The reader's own prices: read from a link, written into one, and told beside the cost.

A link names only the prices that differ from the packaged ones, each in the unit that it was put
in with: ``price-seed-rye=0.22/lb``. The currency stands once, for all of them.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from simulator import units
from simulator.answers.budget.calculate import BASIS, Standing
from simulator.parameters.price import Area, Mass, Price
from simulator.parameters.prices import (
    Prices,
    check_own_name,
    default_prices,
    price_file,
    prices_from,
    read_currency,
    read_price,
    shown,
)
from simulator.problems import InputError, Problem, fault

KEY = "price-"  # begins the keys of a link
OTHERS, CURRENCY, LABEL, DATE = (f"{KEY}{name}" for name in ("own", "currency", "label", "date"))
BOUGHT = ("seed", "nitrogen")  # sections by mass
SECTIONS = (*BOUGHT, "work", "materials")
LONGEST_OTHERS, LONGEST_LABEL = 300, 120  # characters, so that a link stays one
REST = "; the rest invented round figures"  # ends the label of a file in which some are packaged
_BARE = re.compile(r"^([^/]*[\d.])\s*/")  # a price without its currency
_LABELS = {"seed": "seed of {}", "nitrogen": "nitrogen as {}", "materials": "{} of each spraying"}


@dataclass(frozen=True, slots=True)
class PriceField:
    """A price that a reader may put in.

    Parameters
    ----------
    section, name : str
        Where `Prices` has it.
    """

    section: str
    name: str

    @property
    def key(self) -> str:
        """Its key in a link, which its control has too."""
        return f"{KEY}{self.section}-{self.name.replace(' ', '-')}"

    @property
    def label(self) -> str:
        """What its control is called."""
        if self.name == "spreading":
            return "each spreading of nitrogen"
        return _LABELS.get(self.section, "{}").format(self.name)

    def of(self, prices: Prices) -> Price:
        """Find it among prices."""
        found: Price = getattr(prices, self.section)[self.name]
        return found

    def unit(self, system: units.System) -> Mass | Area:
        """Return what it is by, for a reader."""
        area, mass, _ = BASIS[system]
        return mass if self.section in BOUGHT else area

    def shown(self, prices: Prices, system: units.System) -> str:
        """Spell its amount in the reader's unit: as written, or rounded where it is turned."""
        price, unit = self.of(prices), self.unit(system)
        if price.unit == unit:
            return f"{price.amount:f}"
        return f"{round(price.by(unit), 4 if self.section in BOUGHT else 2):f}"

    def differs(self, prices: Prices) -> bool:
        """Tell whether it is another than the packaged one."""
        unit = self.unit("us")
        return self.of(prices).by(unit) != self.of(packaged()).by(unit)


@cache
def packaged() -> Prices:
    """Return the packaged prices, read once."""
    return default_prices()


@cache
def price_fields() -> dict[str, PriceField]:
    """Return a field for each price, by its key."""
    fields = [
        PriceField(section, name) for section in SECTIONS for name in getattr(packaged(), section)
    ]
    return {field.key: field for field in fields}


def from_link(given: Mapping[str, str]) -> Prices:
    """Read prices from the keys of a link.

    Parameters
    ----------
    given : mapping
        Keys of `price_fields`, and ``price-own`` (items of the reader's own, several with ``;``
        between them), ``price-currency``, ``price-label`` and ``price-date``. What is not given
        is as packaged, number for number in the currency given.

    Returns
    -------
    Prices
        Its label and date are the reader's, empty where none are given.

    Raises
    ------
    InputError
        Each key that is unknown or cannot be read.
    """
    fields, usual = price_fields(), packaged()
    problems: list[Problem] = []
    known = {section: dict(getattr(usual, section)) for section in SECTIONS}
    own: dict[str, Price] = {}
    currency, date = usual.currency, ""
    try:
        currency = read_currency(given.get(CURRENCY) or currency, name=CURRENCY)
    except InputError as error:
        problems += error.problems
    for key, text in given.items():
        try:
            if key in fields:
                field = fields[key]
                known[field.section][field.name] = read_price(
                    field.section, _priced(text, currency), currency, name=key
                )
            elif key == OTHERS:
                own = _others(text, currency)
            elif key == DATE:
                date = _date(text)
            elif key not in (CURRENCY, LABEL):
                raise fault(shown(key), "There is no such price.", "Ask from the page.")
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    label = "".join(filter(str.isprintable, given.get(LABEL, "")))[:LONGEST_LABEL]
    return replace(
        usual,
        label=label,
        date=date,
        currency=currency,
        seed=known["seed"],
        nitrogen=known["nitrogen"],
        work=known["work"],
        materials=known["materials"],
        own=own,
    )


def _date(text: str) -> str:
    try:
        return str(datetime.date.fromisoformat(text)) if text else ""
    except ValueError:
        raise fault(
            DATE,
            f"'{shown(text)}' is not a date.",
            "Write the day the prices were set, such as 2026-11-25.",
        ) from None


def _priced(text: str, currency: str) -> str:
    """Put the currency into a price that is written without: ``"0.22/lb"``."""
    if len(text) > LONGEST_OTHERS:
        return text
    return _BARE.sub(lambda found: f"{found[1]} {currency}/", text)


def _others(text: str, currency: str) -> dict[str, Price]:
    """Read items such as ``"crop scouting = 3.00 $/acre; soil test = 2 $/acre"``."""
    if len(text) > LONGEST_OTHERS:
        raise fault(
            OTHERS,
            f"It has {len(text)} characters.",
            f"Write at most {LONGEST_OTHERS}: fallsown budget takes more.",
        )
    found: dict[str, Price] = {}
    for part in filter(str.strip, text.split(";")):
        name, equals, price = (piece.strip() for piece in part.rpartition("="))
        if not equals:
            raise fault(
                OTHERS,
                f"'{shown(part.strip())}' cannot be read.",
                f"Write for example 'crop scouting = 3.00 {currency}/acre'.",
            )
        check_own_name(name, name=OTHERS)
        if name in found:
            raise fault(OTHERS, f"'{name}' is named twice.", "Name it once.")
        found[name] = read_price("own", _priced(price, currency), currency, name=OTHERS)
    return found


def link_pairs(prices: Prices) -> list[tuple[str, str]]:
    """Return what a link says of prices: keys and texts, of those that differ."""
    pairs = [
        (key, _bare(field.of(prices)))
        for key, field in price_fields().items()
        if field.differs(prices)
    ]
    pairs += [
        (OTHERS, "; ".join(f"{name} = {_bare(price)}" for name, price in prices.own.items())),
        (CURRENCY, prices.currency if prices.currency != packaged().currency else ""),
        (LABEL, prices.label),
        (DATE, prices.date),
    ]
    return [(key, text) for key, text in pairs if text]


def _bare(price: Price) -> str:
    return f"{price.amount:f}/{price.unit}"


def differ(prices: Prices) -> bool:
    """Tell whether anything costs otherwise than as packaged."""
    return any(key not in (LABEL, DATE) for key, _ in link_pairs(prices))


def fields_of(plans: Iterable[Standing]) -> list[PriceField]:
    """Return the fields of the prices that plans cost by, in the order of their items."""
    fields = price_fields()
    found: dict[str, PriceField] = {}
    for one in plans:
        named = {"seed": one.plan.cereal, "nitrogen": one.plan.fertilizer}
        for item in one.budget.items:
            sections = [item.name] if item.name in named else ["work", "materials"]
            for section in sections:
                key = PriceField(section, named.get(item.name, item.name)).key
                if key in fields:
                    found[key] = fields[key]
    return list(found.values())


def described(used: Iterable[PriceField], prices: Prices, system: units.System) -> dict[str, Any]:
    """Return what the controls show of prices."""
    return {
        "fields": [
            {
                "key": field.key,
                "shown": field.shown(prices, system),
                "packaged": field.shown(packaged(), system),
                "unit": field.unit(system),
                "per": f"{prices.currency} per {field.unit(system)}"
                + (f" of {field.section}" if field.section in BOUGHT else ""),
                "differs": field.differs(prices),
            }
            for field in used
        ],
        "others": "; ".join(
            f"{name} = {price.text(prices.currency)}" for name, price in prices.own.items()
        ),
        "currency": prices.currency,
        "label": prices.label,
        "date": prices.date,
    }


def price_caution(used: Iterable[PriceField], prices: Prices) -> str:
    """Say whose the prices of a cost are, and that they are to be checked."""
    usual, used = packaged(), list(used)
    own = [
        f"{field.label} {field.of(prices).text(prices.currency)}"
        for field in used
        if field.differs(prices)
    ]
    own += [f"{name} {price.text(prices.currency)}" for name, price in prices.own.items()]
    invented = f"{usual.label}, of {usual.date}"
    if prices.currency != usual.currency:
        invented += f", taken as {prices.currency} number for number"
    if not own:
        return f"Prices are yours to check: {invented}. Put in what your own dealer asks."
    of = ", ".join(filter(None, [prices.label, prices.date and f"of {prices.date}"]))
    text = f"Prices are yours to check. Put in here{f' ({of})' if of else ''}: {'; '.join(own)}."
    if len([field for field in used if field.differs(prices)]) < len(used):
        return f"{text} The others are {invented}: ask your own dealer."
    return f"{text} Ask your dealer again before you buy."


def as_file(prices: Prices) -> str:
    """Write prices as a file for commands, which says where packaged ones are among them."""
    usual = packaged()
    if not differ(prices):
        return price_file(replace(prices, label=usual.label, date=usual.date))
    some = not all(field.differs(prices) for field in price_fields().values())
    label = f"{prices.label or 'put in on the page'}{REST if some else ''}"
    return price_file(replace(prices, label=label, date=prices.date or str(datetime.date.today())))


def from_file(content: bytes, name: str) -> dict[str, str]:
    """Read a price file and return what a link says of it.

    Raises
    ------
    InputError
        Every fault of the file; more items of the reader's own than a link holds.
    """
    read = prices_from(content, name)
    label = read.label.removesuffix(REST)
    if (label, read.date) == (packaged().label, packaged().date):
        label, read = "", replace(read, date="")  # they tell of the packaged ones
    if any(";" in item for item in read.own):
        raise fault(f"{name}, [own]", "An item has ';' in its name.", "Call it otherwise.")
    given = dict(link_pairs(replace(read, label=label[:LONGEST_LABEL])))
    try:
        from_link(given)
    except InputError as error:
        raise InputError(
            [Problem(f"{name}, [own]", one.what, one.remedy) for one in error.problems]
        ) from error
    return given
