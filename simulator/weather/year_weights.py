"""The chance of each kind of year, and the weight that each fall of a record has by it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from simulator.problems import InputError, Parameter, Problem, Text, fault
from simulator.weather.year_type_files import LONGEST, plain_kind

_WEIGHT = re.compile(r"^(?P<kind>.*?\S)\s*[\s:=]\s*(?P<number>\d+\.?\d*|\.\d+)\s*%?$")
_ROUNDING = 0.0011  # of weights given in whole or tenths of percent: 33.3, 33.3, 33.3


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
        up to 100 (or 1); every fault is named.
    """
    known = sorted(set(kinds.values() if isinstance(kinds, Mapping) else kinds))
    found: dict[str, float] = {}
    problems: list[Problem] = []
    for part in text.split(","):
        match = _WEIGHT.match(part.strip()) if len(part) < 4 * LONGEST else None
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
