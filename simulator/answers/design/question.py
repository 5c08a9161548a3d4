"""What is asked of a trial that is planned, read and checked."""

from __future__ import annotations

import re
from dataclasses import dataclass

from simulator import units
from simulator.parameters.plot_spread import PLOTS
from simulator.problems import InputError, Parameter, Problem, fault
from simulator.trials.design.trial import (
    FEWEST_BLOCKS,
    FEWEST_YEARS,
    MOST_BLOCKS,
    MOST_TREATMENTS,
    MOST_YEARS,
)

FEWEST_TRIALS, MOST_TRIALS = 100, 10_000
USUAL_BLOCKS = (3, 4, 6)  # that every answer compares
USUAL_YEARS = 10  # up to which it looks for what is needed
LARGEST_SPREAD = 1.0
LARGEST_MASS = 20_000.0  # kg/ha, of a spread or a difference
LARGEST_SEED = 2**63 - 1
LARGEST_BUDGET = 1_000_000
_PERCENT = re.compile(r"^\s*(\d+\.?\d*|\.\d+)\s*(?:%|percent)\s*$")


@dataclass(frozen=True, slots=True)
class Spread:
    """How far plots treated alike lie apart.

    Parameters
    ----------
    value : float
        Standard deviation: a share of the mean of a fall's plots, or kg/ha.
    share : bool
        Which of the two.
    given : bool
        Whether the asker gave it.
    """

    value: float
    share: bool
    given: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked.

    Parameters
    ----------
    difference : float
        That the trial is to show [kg/ha].
    blocks, years : int
    spread : Spread
        Of plots.
    whole_plot : Spread or None
        Of whole plots, one a sowing date; None without a split plot.
    budget : int or None
        Plots over all years.
    trials, seed : int
        Drawn, and by which numbers.
    """

    difference: float
    blocks: int
    years: int
    spread: Spread
    whole_plot: Spread | None
    budget: int | None
    trials: int
    seed: int

    def designs(self) -> tuple[list[int], list[int]]:
        """Return the numbers of blocks and of years that are compared."""
        blocks = sorted({*USUAL_BLOCKS, self.blocks})
        return blocks, list(range(FEWEST_YEARS, max(USUAL_YEARS, self.years) + 1))


def read_spread(text: str | None, usual: float, *, name: Parameter) -> Spread:
    """Read ``"25 %"`` or ``"600 lb/acre"``; None is the usual share.

    Raises
    ------
    InputError
        Neither of the two, or out of range.
    """
    if text is None:
        return Spread(usual, True, False)
    if match := _PERCENT.match(text[:80]):
        value = float(match[1]) / 100.0
        if not value <= LARGEST_SPREAD:
            raise fault(name, f"'{text}' is more than plots spread.", "Take 0 to 100 %.")
        return Spread(value, True, True)
    if re.fullmatch(r"\s*[\d.]+\s*", text[:80]):
        raise fault(name, f"'{text}' has no unit.", "Write for example '25 %' or '600 lb/acre'.")
    value = units.parse(text, "kg/ha", name=name)
    if not 0.0 <= value <= LARGEST_MASS:
        raise fault(
            name,
            f"'{text}' is out of range.",
            f"Take 0 to {LARGEST_MASS:,.0f} kg/ha, or 0 to 100 %.",
        )
    return Spread(value, False, True)


def read_difference(text: str) -> float:
    """Read the difference that a trial is to show [kg/ha].

    Raises
    ------
    InputError
        It has no unit, or is no difference that a trial could show.
    """
    name = Parameter("difference")
    value = units.parse(text, "kg/ha", name=name)
    if value <= 0.0:
        raise fault(
            name,
            f"No trial can show a difference of '{text}'.",
            "Give one that would change what is done, such as '500 lb/acre'.",
        )
    if value > LARGEST_MASS:
        raise fault(name, f"'{text}' is out of range.", f"Take up to {LARGEST_MASS:,.0f} kg/ha.")
    return value


def read_question(
    *,
    difference: str,
    blocks: int,
    trial_years: int,
    spread: str | None,
    split: bool,
    whole_plot_spread: str | None,
    budget: int | None,
    trials: int,
    seed: int,
) -> Question:
    """Read what is asked; all faults at once.

    Raises
    ------
    InputError
        A difference of nothing, one block, more years than are drawn, a unit left out.
    """
    problems = [
        *_out_of("blocks", blocks, FEWEST_BLOCKS, MOST_BLOCKS, _ONE_BLOCK),
        *_out_of("trial_years", trial_years, FEWEST_YEARS, MOST_YEARS, _ONE_YEAR),
        *_out_of("trials", trials, FEWEST_TRIALS, MOST_TRIALS),
        *_out_of("seed", seed, 0, LARGEST_SEED),
        *(_out_of("budget", budget, 1, LARGEST_BUDGET) if budget is not None else ()),
    ]
    if whole_plot_spread is not None and not split:
        problems.append(
            Problem(
                Parameter("whole_plot_spread"),
                "There are no whole plots.",
                "Ask for a split plot with it, or leave it out.",
            )
        )
    read: dict[str, object] = {}
    for key, text, usual in (
        ("spread", spread, PLOTS.plot),
        ("whole_plot_spread", whole_plot_spread, PLOTS.whole_plot),
    ):
        try:
            read[key] = read_spread(text, usual, name=Parameter(key))
        except InputError as error:
            problems += error.problems
    try:
        size = read_difference(difference)
    except InputError as error:
        problems += error.problems
    if problems:
        raise InputError(problems)
    of_plots, of_whole_plots = read["spread"], read["whole_plot_spread"]
    assert isinstance(of_plots, Spread) and isinstance(of_whole_plots, Spread)
    return Question(
        difference=size,
        blocks=blocks,
        years=trial_years,
        spread=of_plots,
        whole_plot=of_whole_plots if split else None,
        budget=budget,
        trials=trials,
        seed=seed,
    )


_ONE_BLOCK = "One block cannot tell a treatment from the spot that it stands on."
_ONE_YEAR = "One year cannot say whether a difference comes again in others."


def _out_of(name: str, value: int, low: int, high: int, of_one: str = "") -> list[Problem]:
    if low <= value <= high:
        return []
    what = of_one if of_one and value == 1 else f"{value:,} is out of range."
    if name == "trial_years" and value > high:
        what = f"Trials of {value:,} years cannot be simulated."
    return [Problem(Parameter(name), what, f"Give {low:,} to {high:,}.")]


def check_treatments(levels: tuple[int, ...], budget: int | None) -> None:
    """Refuse a trial with nothing to compare, one too large, or one too large for its budget.

    Parameters
    ----------
    levels : tuple of int
        Sowing dates, seeding rates, nitrogen rates.
    budget : int or None

    Raises
    ------
    InputError
    """
    count = 1
    for number in levels:
        count *= number
    where = Parameter("sow")
    if count < 2:
        raise fault(
            where, "One treatment has nothing to be compared with.", "Give two dates or rates."
        )
    if count > MOST_TREATMENTS:
        raise fault(
            where,
            f"{count:,} treatments are too many for a trial.",
            f"Give fewer dates or rates: at most {MOST_TREATMENTS} together.",
        )
    if budget is not None and budget < count:
        raise fault(
            Parameter("budget"),
            f"{budget:,} plots are fewer than one block of {count} treatments.",
            f"Give at least {count * FEWEST_BLOCKS * FEWEST_YEARS} plots, for {FEWEST_BLOCKS} "
            f"blocks in {FEWEST_YEARS} years, or fewer treatments.",
        )
