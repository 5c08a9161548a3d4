"""A plot table as a trial is laid out: site-years, blocks, whole plots, treatments."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simulator.problems import InputError, Parameter, Problem, fault
from simulator.trials.analysis.factors import Factor, find_factors
from simulator.trials.contrasts import LEAST_DAYS
from simulator.trials.observations import Plots
from simulator.trials.plot_defaults import DEFAULT_FERTILIZER

FEWEST_PLOTS = 4
MOST_CELLS = 600  # combinations of treatments


@dataclass(frozen=True, slots=True)
class Layout:
    """Plots ready to be analysed.

    Parameters
    ----------
    rows : DataFrame
        ``env, block, whole, cell`` (numbers), ``y`` [kg/ha], ``plots`` (how many a row stands
        for), ``inside`` (sum of squares among these) and ``line``.
    factors : tuple of Factor
        Codes by row.
    cells : array (cell, factor) of int
        Levels of each combination that occurs.
    envs : tuple of (str, int)
        Site and fall year.
    has_blocks, has_whole : bool
        Whether plots lie in blocks, and in whole plots within these.
    whole_factors : tuple of str
        Treatments of the whole plots.
    notes : tuple of str
    """

    rows: pd.DataFrame
    factors: tuple[Factor, ...]
    cells: NDArray[np.int64]
    envs: tuple[tuple[str, int], ...]
    has_blocks: bool
    has_whole: bool
    whole_factors: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def factor(self, name: str) -> int:
        """Return the place of a treatment, or -1."""
        names = [one.name for one in self.factors]
        return names.index(name) if name in names else -1

    def env_name(self, env: int) -> str:
        """Name a site-year; the site only where there are several."""
        site, year = self.envs[env]
        return f"{site} {year}" if len({s for s, _ in self.envs}) > 1 else str(year)


def lay_out(
    plots: Plots,
    *,
    treatments: Sequence[str] = (),
    whole_plot: str | None = None,
    only: Sequence[tuple[str, Sequence[str]]] = (),
) -> Layout:
    """Find how a trial was laid out.

    Parameters
    ----------
    plots : Plots
        Read with the columns of its own.
    treatments : sequence of str
        Columns of its own that are treatments whatever they hold.
    whole_plot : str, optional
        A treatment whose plots of a block lie together, where no column says so.
    only : sequence of (str, sequence of str)
        Columns and the values of the rows to keep.

    Returns
    -------
    Layout

    Raises
    ------
    InputError
        Blocks that are none, blank blocks, a treatment of too many levels, values all alike, too
        few rows, nothing varied.
    """
    table, notes = _selected_rows(plots, only)
    table = table.reset_index(drop=True)
    factors, more_notes = find_factors(table, plots.own, treatments)
    notes += more_notes
    table, factors = _last_samplings(table, factors, notes)
    _refuse_the_useless(plots, table)
    envs, env = _codes(list(zip(table["site"], table["year"], strict=True)))
    factors = _within(factors, env, notes)
    if not factors:
        raise fault(
            plots.file,
            "No treatment has two levels in one site and year.",
            "Give sowing dates, seeding or nitrogen rates that differ, or a column of your own.",
        )
    cells, cell = _codes(list(zip(*(one.codes for one in factors), strict=True)))
    if len(cells) > MOST_CELLS:
        raise fault(plots.file, f"It has {len(cells)} combinations of treatments.", "Keep some.")
    rows = pd.DataFrame({"env": env, "cell": cell, "y": table["biomass_kg_ha"].to_numpy(float)})
    rows["line"] = table["line"].to_numpy()
    means = ((table["plots"] > 1) & table["biomass_sd_kg_ha"].notna()).to_numpy()
    rows["plots"] = np.where(means, table["plots"], 1.0)
    inside = (table["plots"] - 1) * table["biomass_sd_kg_ha"] ** 2
    rows["inside"] = np.where(means, inside, 0.0)
    block = table["block"].where(~means, "")
    has_blocks = _blocks(plots, table, rows, block, means)
    has_whole = _whole_plots(rows, table, factors, whole_plot, notes)
    held = tuple(
        one.name
        for one in factors
        if has_whole and _constant_in_whole_plots(rows["whole"], one.codes)
    )
    layout = Layout(
        rows,
        tuple(factors),
        np.array(cells),
        tuple(envs),
        has_blocks,
        has_whole,
        held,
        (*notes, *_gaps(rows, factors, means)),
    )
    return layout


def _codes(values: list[Any]) -> tuple[list[Any], NDArray[np.int64]]:
    known = sorted(set(values))
    at = {one: code for code, one in enumerate(known)}
    return known, np.array([at[one] for one in values], np.int64)


def _selected_rows(
    plots: Plots, only: Sequence[tuple[str, Sequence[str]]]
) -> tuple[pd.DataFrame, list[str]]:
    table, notes = plots.table, []
    for name, wanted in only:
        if name not in table:
            raise fault(
                Parameter("only"), f"There is no column '{name}'.", f"There are {', '.join(table)}."
            )
        if name == "fertilizer":  # the reader calls these by the kind that it takes for them
            values = [DEFAULT_FERTILIZER if one in ("mineral", "none") else one for one in wanted]
        else:
            values = list(wanted)
        cells = table[name].astype(str).str.lower()
        numbers = pd.to_numeric(table[name], errors="coerce")
        keep = cells.isin([one.lower() for one in values])
        for one in values:
            try:
                keep |= (numbers - float(one)).abs() < 1e-9
            except ValueError:
                continue
        if not keep.any():
            raise fault(
                Parameter("only"),
                f"No row has {name} {' or '.join(values)}.",
                f"Its values are such as {', '.join(cells.unique()[:5])}.",
            )
        notes.append(f"{int(keep.sum())} of {len(table)} rows kept: {name} {' or '.join(values)}.")
        table = table[keep]
    return table, notes


def _refuse_the_useless(plots: Plots, table: pd.DataFrame) -> None:
    if len(table) < FEWEST_PLOTS:
        raise fault(
            plots.file,
            f"It has {len(table)} {'row' if len(table) == 1 else 'rows'} of use.",
            f"An analysis needs at least {FEWEST_PLOTS}.",
        )
    if table["biomass_kg_ha"].nunique() == 1:
        raise fault(
            plots.file,
            "All rows have the same biomass: there is nothing to tell apart.",
            "Check the column.",
        )


def _last_samplings(
    table: pd.DataFrame, factors: list[Factor], notes: list[str]
) -> tuple[pd.DataFrame, list[Factor]]:
    """Keep the last sampling of each sowing of a year, and of each plot in it."""
    days = table["sampled"]
    gap = days.groupby([table["site"], table["year"], table["sown"]]).transform(_last_run)
    keep = (days >= gap).to_numpy(copy=True)
    same = ["site", "year", "block", "whole_plot", *[f"_{i}" for i in range(len(factors))]]
    coded = table.assign(**{f"_{i}": one.codes for i, one in enumerate(factors)})
    latest = coded[keep].groupby(same)["sampled"].transform("max")
    keep[np.flatnonzero(keep)] = (coded["sampled"][keep] == latest).to_numpy()
    if not keep.all():
        notes.append(
            f"{int((~keep).sum())} rows of earlier samplings are left aside: the last of each "
            "sowing is analysed."
        )
    kept = np.flatnonzero(keep)
    factors = [one.of(kept) for one in factors]
    return table.iloc[kept].reset_index(drop=True), [one for one in factors if len(one.levels) > 1]


def _last_run(days: pd.Series) -> pd.Timestamp:
    """Return the first of the last days that lie less than `LEAST_DAYS` apart."""
    known = np.sort(days.unique())
    gaps = np.flatnonzero(np.diff(known) >= np.timedelta64(LEAST_DAYS, "D"))
    return pd.Timestamp(known[gaps[-1] + 1 if gaps.size else 0])


def _within(factors: list[Factor], env: NDArray[np.int64], notes: list[str]) -> list[Factor]:
    """Leave out what differs between site-years only: it cannot be told from them."""
    kept = []
    for one in factors:
        pairs = np.unique(np.stack([env, one.codes]), axis=1)
        if pairs.shape[1] > np.unique(env).size:
            kept.append(one)
        else:
            notes.append(
                f"{one.name[0].upper()}{one.name[1:]} differs between sites or years alone: it "
                "cannot be told from them, and is left out."
            )
    return kept


def _blocks(
    plots: Plots,
    table: pd.DataFrame,
    rows: pd.DataFrame,
    block: pd.Series,
    means: NDArray[np.bool_],
) -> bool:
    """Give each block a number, each within its site-year."""
    given = (block != "").to_numpy()
    single = ~means
    if not given.any():
        rows["block"] = rows["env"]
        return False
    if (single & ~given).any():
        where = [int(at) for at in np.flatnonzero(single & ~given)]
        raise InputError(
            [
                Problem(
                    f"{plots.file}, {plots.row_word} {table['line'].iloc[at]}, column 'block'",
                    "The block is blank.",
                    "Write it, or take the column out.",
                )
                for at in where
            ]
        )
    rows["block"] = pd.factorize(rows["env"].astype(str) + "\0" + block)[0]
    kinds = rows[given].groupby("block")["cell"].nunique()
    if (kinds < 2).all():
        raise fault(
            f"{plots.file}, column 'block'",
            "These are no blocks: each holds one treatment alone.",
            "Write which plots lie together, each with all or most treatments, or take it out.",
        )
    return True


def _whole_plots(
    rows: pd.DataFrame,
    table: pd.DataFrame,
    factors: Sequence[Factor],
    named: str | None,
    notes: list[str],
) -> bool:
    """Give each whole plot a number, each within its block."""
    rows["whole"] = rows["block"]
    label = table["whole_plot"]
    if named is not None:
        chosen = [one for one in factors if one.name == named]
        if not chosen:
            raise fault(
                Parameter("whole_plot"),
                f"'{named}' is no treatment that varies.",
                f"There are {', '.join(one.name for one in factors)}.",
            )
        label = pd.Series(chosen[0].codes.astype(str))
    if (label == "").all():
        return False
    whole = pd.factorize(rows["block"].astype(str) + "\0" + label.reset_index(drop=True))[0]
    if np.unique(whole).size == len(rows):
        notes.append("Each whole plot holds one plot: they are not used.")
        return False
    if np.unique(whole).size == rows["block"].nunique():
        notes.append("There is one whole plot a block: they are the blocks.")
        return False
    rows["whole"] = whole
    return True


def _constant_in_whole_plots(whole: pd.Series, codes: NDArray[np.int64]) -> bool:
    """Say whether a treatment has one level in each whole plot."""
    frame = pd.DataFrame({"whole": whole.to_numpy(), "code": codes})
    return bool((frame.groupby("whole")["code"].nunique() == 1).all())


def _gaps(rows: pd.DataFrame, factors: Sequence[Factor], means: NDArray[np.bool_]) -> list[str]:
    """Tell what is missing, and levels that occur once."""
    notes = []
    if means.any():
        notes.append(
            f"{int(means.sum())} rows are means of plots: their standard deviations count as "
            "the spread among plots, differences between blocks included."
        )
    counts = rows[~means].groupby(["env", "cell"]).size()
    if len(counts):
        usual = counts.groupby(level="env").transform(lambda one: one.mode().iloc[0])
        missing = int((usual - counts).clip(lower=0).sum())
        if missing:
            notes.append(
                f"{missing} {'plot is' if missing == 1 else 'plots are'} missing beside "
                "what most treatments of their year have: means are adjusted for it."
            )
    for one in factors:
        of_level = np.bincount(one.codes, weights=rows["plots"])
        for level in np.flatnonzero(of_level == 1):
            notes.append(
                f"{one.name[0].upper()}{one.name[1:]} {one.levels[level]} occurs in one plot: "
                "its mean has no spread of its own."
            )
    return notes
