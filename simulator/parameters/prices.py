"""Prices of seed, nitrogen and work: read from a TOML file, exact to the last decimal written.

Money never becomes a float here. A price keeps the decimals that it was written with, and
conversion between units uses exact factors.
"""

from __future__ import annotations

import datetime
import difflib
import json
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from importlib.resources import files
from pathlib import Path
from typing import Any

from simulator.parameters.cereals import CEREALS
from simulator.parameters.fertilizers import FERTILIZERS
from simulator.parameters.price import Price
from simulator.problems import InputError, Parameter, Problem, command_line, fault
from simulator.toml_text import toml_of

_SPELLINGS = {
    **{"lb": "lb", "pound": "lb", "kg": "kg", "ton": "ton", "mg": "Mg", "t": "Mg", "tonne": "Mg"},
    **{"acre": "acre", "ac": "acre", "ha": "ha", "hectare": "ha"},
}
HIGHEST_VALUE = Decimal(5000)  # of a ton of biomass

DEFAULTS = "default_prices.toml"
TAKEN = ("seed", "nitrogen")  # items of a budget that own items may not be called
WORK = ("sowing", "spreading", "spraying", "rolling", "mowing", "tillage")
MATERIALS = ("herbicide",)
OWN = "own"
# section -> what its prices are by, the keys it must have, and the highest price believed
_SECTIONS: Mapping[str, tuple[tuple[str, ...], tuple[str, ...], Decimal]] = {
    "seed": (("lb", "kg"), tuple(CEREALS), Decimal(50)),
    "nitrogen": (("lb", "kg"), tuple(FERTILIZERS), Decimal(50)),
    "work": (("acre", "ha"), WORK, Decimal(2000)),
    "materials": (("acre", "ha"), MATERIALS, Decimal(2000)),
    OWN: (("acre", "ha"), (), Decimal(2000)),
}
MOST_BYTES = 64_000
MOST_OWN = 30
LONGEST_NAME = 40
_EXAMPLE = {"lb": "0.20 {0}/lb' or '0.44 {0}/kg", "acre": "10.00 {0}/acre' or '24.71 {0}/ha"}
_PRICE = re.compile(
    r"^\s*(?P<amount>-?\d{1,9}(?:\.\d{1,6})?)\s*(?P<currency>[^\d\s/.,-]{1,5})\s*/"
    r"\s*(?P<unit>[A-Za-z]{1,12})\s*$"
)
_CURRENCY = re.compile(r"^[^\d\s/.,\-\x00-\x1f<>&\"']{1,5}$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What things cost.

    Parameters
    ----------
    label, date, currency : str
        What the figures are, when they were set, the sign of the money.
    seed : mapping of str to Price
        Cereal -> by mass of seed.
    nitrogen : mapping of str to Price
        Fertilizer -> by mass of nitrogen.
    work, materials, own : mapping of str to Price
        By area; ``own`` are the user's items, added to every plan, those below zero payments that
        the user gets.
    path : str
        Where they were read; empty for the defaults.
    """

    label: str
    date: str
    currency: str
    seed: Mapping[str, Price]
    nitrogen: Mapping[str, Price]
    work: Mapping[str, Price]
    materials: Mapping[str, Price]
    own: Mapping[str, Price]
    path: str = ""


def default_text() -> str:
    """Return the packaged price file as text, to copy and edit."""
    return files("simulator.parameters").joinpath(DEFAULTS).read_text(encoding="utf-8")


def default_prices() -> Prices:
    """Return the packaged prices: invented round figures."""
    return prices_of(tomllib.loads(default_text()), DEFAULTS, path="")


def read_prices(path: str | Path) -> Prices:
    """Read a price file, and check all of it.

    Parameters
    ----------
    path : str or Path
        TOML with the sections and keys of the packaged file.

    Raises
    ------
    InputError
        No such file, too large, not TOML; every key that is missing, unknown, negative, absurd,
        or has a wrong unit or currency, each named by file, section and key.
    """
    path = Path(path)
    return prices_of(_tables(_content(path), str(path)), path.name, path=str(path))


def prices_from(content: bytes, name: str) -> Prices:
    """Check what a price file holds, without the file.

    Raises
    ------
    InputError
        As `read_prices`.
    """
    return prices_of(_tables(content, name), name, path="")


def price_file(prices: Prices) -> str:
    """Write prices as a file that `read_prices` reads back as they are."""

    def quoted(text: str) -> str:  # what JSON escapes, TOML reads
        return json.dumps(text, ensure_ascii=False)

    lines = [
        f"# Prices for '{command_line('budget', Parameter('prices', 'FILE'))}'.",
        "",
        "[about]",
        f"label = {quoted(prices.label)}",
        f"date = {prices.date}",
        f"currency = {quoted(prices.currency)}",
    ]
    for section in _SECTIONS:
        lines += ["", f"[{section}]"]
        lines += [
            f"{quoted(key)} = {quoted(price.text(prices.currency))}"
            for key, price in getattr(prices, section).items()
        ]
    return "\n".join([*lines, ""])


def read_price(section: str, text: str, currency: str, *, name: str) -> Price:
    """Read one price of a section, such as ``"0.20 $/lb"`` of seed.

    Raises
    ------
    InputError
        It cannot be read, has another currency or unit, is absurd, or negative and no item of
        the user's own.
    """
    allowed, _, highest = _SECTIONS[section]
    price, wrong = _price(text, allowed, currency, highest, payment=section == OWN)
    if price is None:
        raise fault(name, wrong, _example(section, currency))
    return price


def read_currency(text: str, *, name: str) -> str:
    """Read the sign or short name of a currency.

    Raises
    ------
    InputError
        It has more than five characters, or such as a price is written with.
    """
    if not _CURRENCY.match(text):
        raise fault(
            name,
            f"'{shown(text)}' is not a currency.",
            "Write a sign or a short name, such as $ or EUR.",
        )
    return text


def check_own_name(text: str, *, name: str) -> None:
    """Refuse what an item of the user's own may not be called.

    Raises
    ------
    InputError
        It is empty, too long, not printable, or an item of every budget.
    """
    if not text.strip() or len(text) > LONGEST_NAME or not text.isprintable():
        raise fault(
            name, "That is no name of an item.", f"Write 1 to {LONGEST_NAME} printable characters."
        )
    if text in (*TAKEN, *WORK, *MATERIALS):
        raise fault(name, "A budget has an item of that name already.", "Call it otherwise.")


def value_of_biomass(text: str, currency: str, *, name: str = Parameter("value")) -> Price:
    """Read what a ton of dry matter is worth, such as ``"40 $/ton"`` or ``"44 $/t"``.

    Raises
    ------
    InputError
        It cannot be read, is in another currency, negative or absurd.
    """
    price, wrong = _price(text, ("ton", "Mg"), currency, HIGHEST_VALUE)
    if price is None:
        raise fault(name, wrong, f"Write for example '40 {currency}/ton' or '44 {currency}/t'.")
    return price


def _content(path: Path) -> bytes:
    try:
        if not path.is_file():
            made_with = command_line("budget", Parameter("write_prices", "FILE.toml"))
            raise fault(
                str(path),
                "There is no such price file.",
                f"Make one with '{made_with}'.",
            )
        with path.open("rb") as file:
            return file.read(MOST_BYTES + 1)
    except OSError as error:
        raise fault(str(path), f"It cannot be read: {error.strerror}.") from error


def _tables(content: bytes, where: str) -> dict[str, Any]:
    if len(content) > MOST_BYTES:
        raise fault(
            where,
            f"It is larger than {MOST_BYTES:,} bytes.",
            "A price file holds some dozens of lines.",
        )
    try:
        return toml_of(content.decode("utf-8-sig"), parse_float=Decimal)
    except UnicodeDecodeError as error:
        raise fault(where, "It is not text in UTF-8.", "Save it as UTF-8.") from error
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        why = " ".join(str(error).split())[:200] or type(error).__name__
        raise fault(
            where, f"It is not TOML: {why}.", 'Write lines such as rye = "0.20 $/lb" under [seed].'
        ) from error


def prices_of(data: Mapping[str, Any], name: str, *, path: str) -> Prices:
    """Check the tables of a price file and make prices of them.

    Parameters
    ----------
    data : mapping
        As `tomllib` gives them.
    name : str
        The file, for messages.
    path : str
        As `Prices` keeps it.

    Raises
    ------
    InputError
        Every fault, named by section and key.
    """
    problems: list[Problem] = []

    def tell(where: str, what: str, remedy: str = "") -> None:
        problems.append(Problem(f"{name}, {where}" if where else name, what, remedy))

    for section in data:
        if section not in ("about", *_SECTIONS):
            tell(
                f"[{shown(section)}]",
                f"There is no such section.{_near(section, _SECTIONS)}",
                f"There are: about, {', '.join(_SECTIONS)}.",
            )
    label, date, currency = _about(data.get("about"), tell)
    tables = {
        section: _section(
            section, data.get(section, {} if section == OWN else None), currency, tell
        )
        for section in _SECTIONS
    }
    if problems:
        raise InputError(problems)
    return Prices(label=label, date=date, currency=currency, path=path, **tables)


def _about(about: Any, tell: Callable[..., None]) -> tuple[str, str, str]:
    if not isinstance(about, Mapping):
        tell("[about]", "The section is missing.", "Write [about] with label, date and currency.")
        return "", "", "$"
    for key in about:
        if key not in ("label", "date", "currency"):
            tell(
                f"[about], key '{shown(key)}'",
                "There is no such key.",
                "There are: label, date, currency.",
            )
    label, date, currency = (about.get(key) for key in ("label", "date", "currency"))
    if not isinstance(label, str) or not label.strip() or len(label) > 200:
        tell(
            "[about], key 'label'",
            "It should say in words whose prices these are.",
            'Write for example label = "dealer quotes, Ellis county".',
        )
    if not isinstance(date, datetime.date):
        tell(
            "[about], key 'date'",
            f"'{shown(date)}' is not a date.",
            "Write the day the prices were set, as date = 2026-11-25.",
        )
    if not isinstance(currency, str) or not _CURRENCY.match(currency):
        tell(
            "[about], key 'currency'",
            f"'{shown(currency)}' is not a currency.",
            'Write a sign or a short name, such as currency = "$".',
        )
        currency = "$"
    return " ".join(shown(label).split()), str(date)[:10], currency


def _section(
    section: str, table: Any, currency: str, tell: Callable[..., None]
) -> dict[str, Price]:
    allowed, needed, highest = _SECTIONS[section]
    if not isinstance(table, Mapping):
        tell(
            f"[{section}]",
            "The section is missing." if table is None else "It is no section.",
            f"Write [{section}] with {', '.join(needed)}.",
        )
        return {}
    example = _example(section, currency)
    for key in needed:
        if key not in table:
            tell(f"[{section}], key '{key}'", "The price is missing.", example)
    if section == OWN and len(table) > MOST_OWN:
        tell(f"[{OWN}]", f"There are {len(table)} items.", f"Keep at most {MOST_OWN}.")
        return {}
    found: dict[str, Price] = {}
    for key, value in table.items():
        where = f"[{section}], key '{shown(key)}'"
        if section == OWN:
            try:
                check_own_name(key, name=where)
            except InputError as error:
                tell(where, error.problems[0].what, error.problems[0].remedy)
                continue
        elif key not in needed:
            tell(
                where,
                f"There is no such key.{_near(key, needed)}",
                f"There are: {', '.join(needed)}.",
            )
            continue
        price, wrong = _price(value, allowed, currency, highest, payment=section == OWN)
        if price is None:
            tell(where, wrong, example)
        else:
            found[key] = price
    return found


def _example(section: str, currency: str) -> str:
    return f"Write for example '{_EXAMPLE[_SECTIONS[section][0][0]].format(currency)}'."


def _price(
    value: Any, allowed: tuple[str, ...], currency: str, highest: Decimal, payment: bool = False
) -> tuple[Price | None, str]:
    """Read one price, or say what is wrong with it; one below zero is a payment."""
    match = _PRICE.match(value) if isinstance(value, str) and len(value) <= 60 else None
    if not match:
        bare = isinstance(value, int | Decimal | float) and not isinstance(value, bool)
        return None, f"'{shown(value)}' {'has no unit' if bare else 'is not a price'}."
    unit = _SPELLINGS.get(match["unit"].lower(), "")
    price = Price(Decimal(match["amount"]), unit)
    if match["currency"] != currency:
        wrong = f"is not in the file's currency, {currency}"
    elif unit not in allowed:
        wrong = f"is not by {' or '.join(allowed)}"
    elif price.amount < 0 and not payment:
        wrong = "is negative"
    elif abs(price.amount) > highest:
        wrong = f"is absurd: more than {highest:,} {currency}/{unit}"
    else:
        return price, ""
    return None, f"'{shown(value)}' {wrong}."


def _near(given: str, known: Mapping[str, Any] | tuple[str, ...]) -> str:
    near = difflib.get_close_matches(given[:LONGEST_NAME], list(known), n=1)
    return f" Did you mean '{near[0]}'?" if near else ""


def shown(value: Any) -> str:
    """Return what was given, short, and without what would upset a terminal."""
    text = value if isinstance(value, str) else "nothing" if value is None else str(value)
    return "".join(c if c.isprintable() else "?" for c in text[:60])
