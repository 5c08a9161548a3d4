"""The treatments of a plot table: which columns vary, and their levels in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simulator.problems import Parameter, fault
from simulator.trials.contrasts import nitrogen_given
from simulator.weather.fall_year import FIRST_MONTH

NEAR = 7  # days that sowings of one level may lie apart from year to year
MOST_LEVELS = 40
MOST_OWN_LEVELS = 12  # of a column that nobody named as a treatment
CONTROL = "none"  # level of the kind or the time of nitrogen in plots that got none
SOWN, SEEDING, NITROGEN, TIMING, FERTILIZER = (
    "sown",
    "seeding",
    "nitrogen",
    "nitrogen timing",
    "fertilizer",
)
Kind = Literal["date", "rate", "text"]


@dataclass(frozen=True, slots=True)
class Factor:
    """A treatment.

    Parameters
    ----------
    name : str
    kind : {"date", "rate", "text"}
        Its levels are month-day, kg/ha, or text.
    levels : tuple
        In order; a sowing that moved from year to year stands under its middle day.
    codes : array of int
        Level of each row.
    """

    name: str
    kind: Kind
    levels: tuple[Any, ...]
    codes: NDArray[np.int64]

    @property
    def control(self) -> int:
        """The level that stands for plots without nitrogen, or -1."""
        own = self.name in (TIMING, FERTILIZER)
        return self.levels.index(CONTROL) if own and CONTROL in self.levels else -1

    def of(self, rows: NDArray[Any]) -> Factor:
        """Return it for some of the rows, with the levels that these have."""
        kept, codes = np.unique(self.codes[rows], return_inverse=True)
        return Factor(self.name, self.kind, tuple(self.levels[k] for k in kept), codes)


def find_factors(
    table: pd.DataFrame, own: Sequence[str], named: Sequence[str]
) -> tuple[list[Factor], list[str]]:
    """Find what was varied.

    Parameters
    ----------
    table : DataFrame
        Of `observations.Plots`.
    own : sequence of str
        Columns of the trial's own.
    named : sequence of str
        Those of them that somebody called treatments.

    Returns
    -------
    list of Factor
        With two levels or more, the usual ones first.
    list of str
        Notes on columns left aside and sowings taken together.

    Raises
    ------
    InputError
        No such column, or a treatment of more than `MOST_LEVELS` levels.
    """
    notes: list[str] = []
    found = [
        _sowings(table, notes),
        _of_rates(SEEDING, table["seeding_kg_ha"]),
        *_nitrogen(table),
        _of_values("cereal", "text", table["cereal"]),
    ]
    for name in named:
        if name not in own:
            raise fault(
                Parameter("treatment"),
                f"The table has no column '{name}' of its own.",
                f"Its own are {', '.join(own) or 'none'}; seeding, nitrogen and sowing count "
                "anyway.",
            )
    # few levels first, so that a code of whole combinations comes after what it is made of
    for name in sorted(own, key=lambda one: table[one].nunique()):
        factor = _of_values(name, "text", table[name].replace("", "(blank)"))
        why = "" if name in named else _no_treatment(table[name], factor)
        if not why and name not in named and _says_the_same(factor, found):
            why = "it says no more than the others"
        if why:
            notes.append(f"Column '{name}' is no treatment here: {why}.")
        else:
            found.append(factor)
    for one in found:
        if len(one.levels) > MOST_LEVELS:
            raise fault(
                f"treatment {one.name}",
                f"It has {len(one.levels)} levels.",
                f"Take at most {MOST_LEVELS}: keep some with only, or round what was meant alike.",
            )
    return [one for one in found if len(one.levels) > 1], notes


def _no_treatment(cells: pd.Series, factor: Factor) -> str:
    if len(factor.levels) < 2:
        return "all its cells are alike"
    counts = np.bincount(factor.codes)
    if len(factor.levels) > MOST_OWN_LEVELS:
        return f"it has {len(factor.levels)} different cells"
    if (cells == "").any():
        return "some of its cells are blank"
    return "most of its cells occur once" if np.median(counts) < 2 else ""


def _says_the_same(factor: Factor, others: Sequence[Factor]) -> bool:
    """Say whether the other treatments of a row tell its level of this one."""
    known = np.stack([one.codes for one in others], axis=1)
    if (known == known[0]).all():
        return False
    without = np.unique(known, axis=0)
    return len(np.unique(np.column_stack([known, factor.codes]), axis=0)) == len(without)


def _of_values(name: str, kind: Kind, values: pd.Series) -> Factor:
    levels, codes = np.unique(values.to_numpy(), return_inverse=True)
    return Factor(name, kind, tuple(levels.tolist()), codes)


def _of_rates(name: str, values: pd.Series) -> Factor:
    """Take rates as one level that are the same to a tenth; its rate is their mean."""
    made = _of_values(name, "rate", values.round(1))
    counts = np.bincount(made.codes)
    means = np.bincount(made.codes, weights=values.to_numpy(float)) / counts
    return Factor(name, "rate", tuple(means.tolist()), made.codes)


def _nitrogen(table: pd.DataFrame) -> list[Factor]:
    """Part nitrogen into how much, when and of what kind."""
    total = nitrogen_given(table)
    fed = (total > 0).to_numpy()
    fall, spring = table["nitrogen_fall_kg_ha"] > 0, table["nitrogen_spring_kg_ha"] > 0
    when = np.select([~fed, fall & spring, fall], [CONTROL, "fall and spring", "fall"], "spring")
    kind = np.where(fed, table["fertilizer"], CONTROL)
    found = [_of_rates(NITROGEN, total)]
    for name, cells in ((TIMING, when), (FERTILIZER, kind)):
        if len(set(cells[fed])) > 1:
            found.append(_of_values(name, "text", pd.Series(cells)))
    return found


def day_of_season(days: pd.Series) -> pd.Series:
    """Count days from 1 July."""
    year = days.dt.year - (days.dt.month < FIRST_MONTH).astype(int)
    first = pd.to_datetime(year.astype(str) + f"-{FIRST_MONTH:02d}-01")
    return (days - first).dt.days


def _sowings(table: pd.DataFrame, notes: list[str]) -> Factor:
    """Take sowings together that lie at most `NEAR` days apart from year to year."""
    month_day = table["sown"].dt.strftime("%m-%d")
    day = day_of_season(table["sown"])
    env = table["site"] + "\0" + table["year"].astype(str)
    known = np.unique(day)
    group = np.cumsum(np.diff(known, prepend=known[0]) > NEAR)
    merged = day.map(dict(zip(known, group, strict=True)))
    per_env = pd.DataFrame({"env": env, "day": day, "group": merged}).drop_duplicates()
    if per_env.duplicated(["env", "group"]).any():  # two sowings of a year would be one
        order = per_env.groupby("env")["day"].rank().astype(int)
        counts = per_env.groupby("env")["day"].size()
        if counts.nunique() == 1 and counts.iloc[0] < len(known):
            rank = dict(zip(zip(per_env["env"], per_env["day"], strict=True), order, strict=True))
            merged = pd.Series([rank[one] for one in zip(env, day, strict=True)], index=day.index)
        else:
            merged = day
    label = {
        one: _middle(day[merged == one], month_day[merged == one]) for one in np.unique(merged)
    }
    levels = tuple(label[one] for one in sorted(label))
    codes = np.searchsorted(sorted(label), merged.to_numpy())
    moved = [
        f"{label[one]} ({month_day[merged == one][day[merged == one].idxmin()]} to "
        f"{month_day[merged == one][day[merged == one].idxmax()]})"
        for one in sorted(label)
        if day[merged == one].nunique() > 1
    ]
    if moved:
        notes.append(f"Sowings of different years taken as one: {', '.join(moved)}.")
    return Factor(SOWN, "date", levels, codes)


def _middle(days: pd.Series, texts: pd.Series) -> str:
    ordered = days.sort_values()
    return str(texts[ordered.index[(len(ordered) - 1) // 2]])
