"""Falls of a certain kind: seasons chosen by the rain of a span, or by the kind of their fall."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.problems import InputError, Parameter, Problem, Text, fault
from simulator.weather.change_text import Change, parse_change
from simulator.weather.generator.resampling import CALENDAR, Seasons
from simulator.weather.rain_total import with_total

if TYPE_CHECKING:
    from numpy.typing import NDArray

NEAR = 0.10  # a season is taken as it is where its total lies within a tenth of the one asked for
FEWEST_ACCEPTED = 5  # seasons; with fewer, the nearest that many are taken
OPTION = Parameter("condition")


@dataclass(frozen=True, slots=True)
class Condition:
    """A total of rain that every season is to have.

    Parameters
    ----------
    change : Change
        As it was written, parsed.
    days : ndarray of int
        Positions of the span in a season.
    """

    change: Change
    days: NDArray[np.int64]

    def totals(self, seasons: Seasons) -> NDArray[np.float64]:
        """Rain of the span in each season [mm]."""
        totals: NDArray[np.float64] = seasons.values[:, 2][:, self.days].sum(axis=1)
        return totals


def read_conditions(texts: Sequence[str]) -> list[Condition]:
    """Read conditions such as ``"rain november = 11 inch"``.

    Raises
    ------
    InputError
        Not a total of rain, a span across 1 August, or two spans that share days; each is named.
    """
    problems: list[Problem] = []
    found: list[Condition] = []
    for text in texts:
        try:
            change = parse_change(text)
        except InputError as error:
            problems += [
                Problem(
                    OPTION,
                    problem.what,
                    "Write a total of rain: 'rain november = 11 inch' or 'rain oct..dec = 300 mm'.",
                )
                for problem in error.problems
            ]
            continue
        spans = change.occurrences(CALENDAR)
        if change.quantity != "rain" or change.operation != "set":
            problems.append(
                Problem(
                    OPTION,
                    f"'{text[:80]}' is not a total of rain.",
                    Text(
                        "Write for example 'rain november = 11 inch'; other commands change "
                        "weather with ",
                        Parameter("change"),
                        ".",
                    ),
                )
            )
        elif len(spans) != 1:
            problems.append(
                Problem(
                    OPTION,
                    f"'{text[:80]}' runs across 1 August, where generated seasons begin.",
                    "Ask for two totals.",
                )
            )
        elif any(np.intersect1d(spans[0], other.days).size for other in found):
            problems.append(
                Problem(
                    OPTION,
                    f"'{text[:80]}' shares days with another condition.",
                    "Ask for totals of spans apart.",
                )
            )
        else:
            found.append(Condition(change, spans[0]))
    if problems:
        raise InputError(problems)
    return found


def near_enough(
    seasons: Seasons, weights: NDArray[np.float64], conditions: Sequence[Condition]
) -> tuple[NDArray[np.float64], list[str]]:
    """Leave only seasons that meet conditions, or come nearest.

    Parameters
    ----------
    seasons : Seasons
    weights : ndarray, shape (seasons,)
        Chance of each without the conditions.
    conditions : sequence of Condition

    Returns
    -------
    weights : ndarray, shape (seasons,)
        0 for those not taken.
    notes : list of str
        What was done, as sentences.

    Raises
    ------
    InputError
        A span that the seasons have no rain data for, or in which none of them has rain.
    """
    if not conditions:
        return weights, []
    asked = " and ".join(condition.change.text for condition in conditions)
    apart = np.zeros(seasons.years.size)
    for condition in conditions:
        totals = condition.totals(seasons)
        if np.isnan(totals).any():
            raise fault(
                OPTION,
                f"The weather has no days {condition.change.span}.",
                "Ask for a span that it covers.",
            )
        wanted = condition.change.amount
        with np.errstate(divide="ignore"):
            miss = (
                np.abs(totals - wanted) / wanted
                if wanted > 0
                else np.where(totals > 0, 1.0 + totals, 0.0)
            )
        apart = np.maximum(apart, miss)
    may = weights > 0
    accepted = may & (apart <= NEAR)
    among = f"of {int(may.sum()):,} seasons"
    if accepted.sum() >= min(FEWEST_ACCEPTED, may.sum()):
        note = (
            f"{asked}: {int(accepted.sum()):,} {among} came within {100 * NEAR:.0f} % by "
            "themselves and were drawn from; their rain was then scaled to the total."
        )
    else:
        few = f"only {int(accepted.sum())}" if accepted.any() else "none"
        limit = np.sort(apart[may])[min(FEWEST_ACCEPTED, int(may.sum())) - 1]
        nearest = may & (apart <= limit)
        note = (
            f"{asked}: {few} {among} came within {100 * NEAR:.0f} % by "
            f"themselves, so the {int(nearest.sum())} nearest were drawn from and their rain "
            "scaled to the total. Such a fall is rarer than this weather can show; its "
            "pattern within the span, and what goes with it, is a guess."
        )
        accepted = nearest
    kept: NDArray[np.float64] = np.where(accepted, weights, 0.0)
    return kept / kept.sum(), [note]


def scaled(
    rain: NDArray[np.float64], time: NDArray[np.datetime64], conditions: Sequence[Condition]
) -> tuple[NDArray[np.float64], list[str]]:
    """Bring the span of every season to its total, and say by how much.

    Parameters
    ----------
    rain : ndarray, shape (days,)
        [mm].
    time : ndarray of datetime64, shape (days,)
    conditions : sequence of Condition

    Returns
    -------
    rain : ndarray, shape (days,)
        By the rule of `rain_total.with_total`.
    notes : list of str
    """
    made, notes = rain.copy(), []
    for condition in conditions:
        factors = []
        for at in condition.change.occurrences(time):
            before = float(made[at].sum())
            made[at] = with_total(made[at], condition.change.amount)
            factors.append(condition.change.amount / before if before > 0 else np.inf)
        finite = [factor for factor in factors if np.isfinite(factor)]
        if finite:
            notes.append(
                f"{condition.change.text}: rain of the span was multiplied by "
                f"{min(finite):.2f} to {max(finite):.2f}."
            )
        if len(finite) < len(factors):
            notes.append(
                f"{condition.change.text}: in {len(factors) - len(finite)} seasons the "
                "span had no rain at all and it was put on every fifth day."
            )
    return made, notes
