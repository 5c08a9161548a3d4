"""Growth, response to nitrogen, months and rates, simulated beside measured."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from simulator import units
from simulator.show import wording
from simulator.show.output import plain
from simulator.show.tables import Column, number, paragraph, plain_number, table
from simulator.trials.agreement import Agreement
from simulator.trials.contrasts import LEAST_DAYS, gains, responses
from simulator.trials.skill import Contrast, Skill
from simulator.weather.change_text import MONTHS

FEWEST_PAIRS = 5  # differences from which on a sentence judges them (practice)
FEWEST_ROWS = 3  # rows from which on a month or a rate is named (practice)
RIGHT = 0.1  # share of the measured within which the simulated is called about right (practice)
# ratio of the simulated to the measured: up to what distance, in words
_TIMES = ((0.5, 0.05, "half of"), (2.0, 0.1, "twice"), (3.0, 0.15, "three times"))


def groups(answer: Agreement, system: units.System) -> dict[str, Skill]:
    """Name the skill by month of sampling and by nitrogen, where there is more than one."""
    months = {f"in {name}": one for name, one in _months(answer).items()}
    rates = {
        _rates(one.lowest, one.highest, system): one.skill for one in answer.by_nitrogen().values()
    }
    return {**(months if len(months) > 1 else {}), **(rates if len(rates) > 1 else {})}


def _months(answer: Agreement) -> dict[str, Skill]:
    return {MONTHS[month - 1]: one for month, one in answer.by_month().items()}


def _rates(lowest: float, highest: float, system: units.System) -> str:
    """``"no nitrogen"``, ``"N 30 to 47 lb/ac"``."""
    if highest == 0.0:
        return "no nitrogen"
    low, high = (number(rate, "nitrogen", system) for rate in (lowest, highest))
    return f"N {low if low == high else f'{low} to {high}'} {units.label('nitrogen', system)}"


def differences_table(answer: Agreement, system: units.System) -> str:
    """Print growth between samplings and the response to nitrogen; empty where there is none."""
    mass = units.label("mass", system)
    kinds = (
        ("growth between samplings", f"{mass} a day", answer.gains()),
        ("response to nitrogen", mass, answer.responses()),
    )
    rows = [
        [
            name,
            unit,
            str(one.n),
            str(one.seasons),
            *(
                number(value, "mass", system)
                for value in (one.mean_observed, one.mean_simulated, one.rmse, one.rmse_of_constant)
            ),
            plain_number(one.correlation, 2),
        ]
        for name, unit, one in kinds
        if one.n
    ]
    if not rows:
        return ""
    columns = [
        Column("differences", left=True),
        Column("unit", left=True),
        Column("pairs"),
        Column("seasons"),
        Column("observed\nmean"),
        Column("simulated\nmean"),
        Column("RMSE"),
        Column("constant's\nRMSE"),
        Column("corre-\nlation"),
    ]
    meaning = (
        f"Growth is from one sampling of a stand to the next, at least {LEAST_DAYS} days later; "
        "the response is a stand with nitrogen less one without, of the same field, sowing and "
        "day. The constant is the observed mean, taken for every pair."
    )
    return f"{table(columns, rows)}\n\n{paragraph(meaning)}"


def sentences(answer: Agreement, system: units.System) -> list[str]:
    """Say which way months, rates, growth and the response to nitrogen lean, and by how much."""
    fed = {
        "without nitrogen"
        if one.highest == 0.0
        else f"with {_rates(one.lowest, one.highest, system).removeprefix('N ')}": one.skill
        for one in answer.by_nitrogen().values()
    }
    months = {f"in {name}": one for name, one in _months(answer).items()}
    return [
        *_by_group("By month of sampling", months, system),
        *_by_group("By nitrogen given", fed, system),
        *_growth(answer.gains(), system),
        *_response(answer.responses(), system),
    ]


def _by_group(title: str, found: Mapping[str, Skill], system: units.System) -> list[str]:
    """Name the lean of groups with rows enough, if that leaves two to hold against each other."""
    values = {name: one for name, one in found.items() if one.n >= FEWEST_ROWS}
    if len(values) < 2:
        return []
    right = [name for name, one in values.items() if _is_right(one.bias, one.mean_observed)]
    parts = [
        f"{units.spell(abs(one.bias), 'mass', system)} too "
        f"{'much' if one.bias > 0 else 'little'} {name}"
        for name, one in values.items()
        if name not in right
    ]
    gives = [f"gives {wording.join(parts)}"] if parts else []
    near = [f"is about right {wording.join(right)}"] if right else []
    return [f"{title} it {', and '.join([*gives, *near])}, on average."]


def _is_right(bias: float, observed: float) -> bool:
    return abs(bias) <= RIGHT * abs(observed)


def _growth(one: Contrast, system: units.System) -> list[str]:
    if not one.n:
        return [
            f"No stand is sampled twice, at least {LEAST_DAYS} days apart: the plots do not "
            "say whether growth goes at the right pace."
        ]
    against = f"{_simulated_and_measured(one, ' a day', system)} measured"
    if one.n < FEWEST_PAIRS:
        return [
            f"{_too_few_pairs(one, 'of samplings of one stand')}: too few to say whether growth "
            f"goes at the right pace ({against})."
        ]
    right = _is_right(one.bias, one.mean_observed)
    pace = "about right" if right else "too fast" if one.bias > 0 else "too slow"
    return [
        f"Growth between samplings is {pace}: {against} ({_pairs_counted(one, 'of samplings')}).",
        _error_sentence("Growth", one, " a day", system, "fast growth from slow"),
    ]


def _response(one: Contrast, system: units.System) -> list[str]:
    if not one.n:
        return [
            "No plot with nitrogen stands beside one without, of the same field, sowing and "
            "day: the plots do not say whether the response to nitrogen is right."
        ]
    against = _simulated_and_measured(one, "", system)
    if one.n < FEWEST_PAIRS:
        return [
            f"{_too_few_pairs(one, 'of plots with and without nitrogen')}: too few to say whether "
            f"the response to nitrogen is right ({against} measured)."
        ]
    return [
        f"The response to nitrogen is {_ratio_in_words(one)}: {against} "
        f"({_pairs_counted(one, 'of plots with and without')}).",
        _error_sentence("The response", one, "", system, "a large response from a small one"),
    ]


def _simulated_and_measured(one: Contrast, per: str, system: units.System) -> str:
    """``"48 against 87 lb/ac a day"``."""
    made = f"{float(number(one.mean_simulated, 'mass', system)):,.0f}"
    return f"{made} against {units.spell(one.mean_observed, 'mass', system)}{per}"


def _ratio_in_words(one: Contrast) -> str:
    """Say how many times the measured mean the simulated one is, in words where these serve."""
    if _is_right(one.bias, one.mean_observed):
        return "about what was measured"
    if one.mean_observed <= 0.0 or one.mean_simulated <= 0.0:
        return f"{'larger' if one.bias > 0 else 'smaller'} than what was measured"
    times = one.mean_simulated / one.mean_observed
    for near, within, words in _TIMES:
        if abs(times - near) <= within:
            return f"{words} what was measured"
    return (
        f"{times:.1f} times what was measured"
        if times > 1.0
        else f"{100.0 * times:.0f} % of what was measured"
    )


def _error_sentence(what: str, one: Contrast, per: str, system: units.System, apart: str) -> str:
    error = f"{what} is off by {units.spell(one.rmse, 'mass', system)}{per} (RMSE)"
    spread = float(number(one.rmse_of_constant, "mass", system))
    constant = f"{spread:,.0f} by which a constant, the measured mean, would miss"
    if one.rmse >= one.rmse_of_constant:
        return (
            f"{error}, no less than the {constant}: so the model cannot yet tell {apart} in "
            "these plots."
        )
    return f"{error}, less than the {constant}."


def _pairs_counted(one: Contrast, of: str) -> str:
    return f"{one.n} pairs {of}, {_seasons(one)}"


def _too_few_pairs(one: Contrast, of: str) -> str:
    return f"Only {one.n} pair{'' if one.n == 1 else 's'} {of}"


def _seasons(one: Contrast) -> str:
    return "all in one season" if one.seasons == 1 else f"in {one.seasons} seasons"


def of_rows(answer: Agreement) -> dict[str, tuple[Any, str, str]]:
    """Return growth and response as columns beside the rows they belong to, where there are any.

    Returns
    -------
    dict of str to (array (row,), unit, meaning)
        Growth stands with the later sampling, the response with the plot that got nitrogen.
    """
    rows = answer.rows
    made: dict[str, tuple[Any, str, str]] = {}
    for pairs, at, name, unit, meaning in (
        (
            gains(rows),
            "second",
            "gain_kg_ha_day",
            "kg/ha/day",
            "growth a day since the sampling before",
        ),
        (responses(rows), "fed", "response_kg_ha", "kg/ha", "biomass less that without nitrogen"),
    ):
        for which, column in (("observed", "measured"), ("simulated", "simulated")):
            if len(pairs):
                values = np.full(len(rows), np.nan)
                values[rows.index.get_indexer(pairs[at])] = pairs[column]
                made[f"{which}_{name}"] = (values, unit, f"{which} {meaning}")
    return made


def contrast_json(answer: Agreement) -> dict[str, Any]:
    """Return ``gains`` and ``responses`` as JSON has them, None where a figure does not exist."""
    return {
        name: {
            "n": one.n,
            "seasons": one.seasons,
            **{
                f"{figure}_{unit}": plain(getattr(one, figure))
                for figure in (
                    "mean_observed",
                    "mean_simulated",
                    "bias",
                    "rmse",
                    "rmse_of_constant",
                )
            },
            "correlation": plain(one.correlation),
        }
        for name, unit, one in (
            ("gains", "kg_ha_day", answer.gains()),
            ("responses", "kg_ha", answer.responses()),
        )
    }
