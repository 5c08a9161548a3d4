"""What a trial can show: the model's falls, the plots' spread and the model's error together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.design.question import Question, Spread
from simulator.answers.design.uses import Use, uses
from simulator.answers.shared.usual_rate import nearest
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.problems import Parameter, fault
from simulator.trials.design import misleading
from simulator.trials.design.misleading import Hidden, Misled
from simulator.trials.design.testing import Chance, run
from simulator.trials.design.trial import FEWEST_FALLS, Trial, errors_of, spread_by_fall

if TYPE_CHECKING:
    import xarray as xr


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """What a trial can show.

    Parameters
    ----------
    question : Question
    trial : Trial
    falls : list of int
        Of the record, that every treatment finished.
    plans : dict of str to list
        Sowing dates in the order of the season, seeding and nitrogen rates [kg/ha] from low to
        high; ``nitrogen_timing``, ``end``.
    chances : list of Chance
        Of every design compared.
    if_right, if_alike : list of Chance
        Of the design asked about, if the model did not err; if all years were alike too.
    misled : list of Misled
    hidden : Hidden or None
    uses : list of Use
        Of the budget; empty without one.
    errors : ModelErrors
        How far off the model is.
    about : dict
        Attributes of the grid.
    """

    question: Question
    trial: Trial
    falls: list[int]
    plans: dict[str, Any]
    chances: list[Chance]
    if_right: list[Chance]
    if_alike: list[Chance]
    misled: list[Misled]
    hidden: Hidden | None
    uses: list[Use]
    errors: ModelErrors
    about: dict[str, Any]

    def asked(self, factor: str) -> Chance:
        """Return what the design asked about shows of a factor."""
        wanted = (factor, self.question.blocks, self.question.years)
        return next(one for one in self.chances if (one.factor, one.blocks, one.years) == wanted)


def designed(
    grid: xr.Dataset,
    record: xr.Dataset,
    question: Question,
    progress: Callable[[int], Any],
    errors: ModelErrors = SHIPPED,
) -> Design:
    """Draw trials over the falls of a record.

    Parameters
    ----------
    grid : Dataset(year, sow, seeding, nitrogen, nitrogen_timing, end)
        From `compare`, with one timing and one end.
    record : Dataset(time)
        The weather that it grew in.
    question : Question
    progress : callable
        Gives the context of a bar for so many trials (`simulator.progress_bar.progress`).
    errors : ModelErrors
        How far off the model is.

    Raises
    ------
    InputError
        Too few falls that every treatment finished.
    """
    one = _in_order(grid)
    falls = [int(year) for year in one["year"].values]
    if len(falls) < FEWEST_FALLS:
        raise fault(
            Parameter("years"),
            f"{len(falls)} falls in which every treatment reaches its end are too few to draw "
            "years of a trial from.",
            f"Give weather of at least {FEWEST_FALLS} falls.",
        )
    trial = trial_of(one["biomass_kg_ha"].values, question.spread, question.whole_plot, errors)
    chances, if_right, if_alike, used = _drawn(trial, question, progress)
    plans = {
        "sow": [str(date) for date in one["sow"].values],
        "seeding": one["seeding"].values.tolist(),
        "nitrogen": one["nitrogen"].values.tolist(),
        "nitrogen_timing": str(one["nitrogen_timing"].values),
        "end": str(one["end"].values),
    }
    months = misleading.odd_months(record, falls, plans["sow"][0], plans["end"])
    return Design(
        question=question,
        trial=trial,
        falls=falls,
        plans=plans,
        chances=chances,
        if_right=if_right,
        if_alike=if_alike,
        misled=misleading.misled(trial, falls, months, difference=question.difference),
        hidden=misleading.hidden_pairs(
            trial,
            falls,
            misleading.drenched(record, falls),
            rate=spoken_rate(plans["nitrogen"]),
            blocks=question.blocks,
            seed=question.seed,
        ),
        uses=used,
        errors=errors,
        about=dict(grid.attrs),
    )


def _drawn(
    trial: Trial, question: Question, progress: Callable[[int], Any]
) -> tuple[list[Chance], list[Chance], list[Chance], list[Use]]:
    """Draw trials of every design, of the one asked about without its causes, and of a budget."""
    blocks, years = question.designs()
    bars = 3 + (1 + len(trial.asked()) if question.budget is not None else 0)
    with progress(bars * question.trials) as tick:
        more: dict[str, Any] = {
            "difference": question.difference,
            "trials": question.trials,
            "seed": question.seed,
            "tick": tick,
        }
        here: dict[str, Any] = {"years": [question.years], "blocks": [question.blocks], **more}
        chances = run(trial, years=years, blocks=blocks, **more)
        if_right = run(trial.at_its_word(), **here)
        if_alike = run(trial.years_alike(), **here)
        budget = question.budget
        used = [] if budget is None else uses(trial, budget, most_years=question.years, **more)
    return chances, if_right, if_alike, used


def _in_order(grid: xr.Dataset) -> xr.Dataset:
    """Take the one timing and end; dates as the season has them, rates from low to high."""
    from simulator.season.plan import order

    one = grid.isel(nitrogen_timing=0, end=0).transpose("year", "sow", "seeding", "nitrogen")
    days = [order(str(date)) for date in one["sow"].values]
    one = one.isel(
        sow=np.argsort(days, kind="stable"),
        seeding=np.argsort(one["seeding"].values, kind="stable"),
        nitrogen=np.argsort(one["nitrogen"].values, kind="stable"),
    )
    finished = one["biomass_kg_ha"].notnull().all(["sow", "seeding", "nitrogen"])
    return one.isel(year=np.flatnonzero(finished.values))


def trial_of(
    biomass: Any, spread: Spread, whole_plot: Spread | None, errors: ModelErrors = SHIPPED
) -> Trial:
    """Spread plots about what the model has in each fall.

    Parameters
    ----------
    biomass : (fall, sow, seeding, nitrogen) float
        [kg/ha].
    spread : Spread
    whole_plot : Spread or None
    errors : ModelErrors
    """
    return Trial(
        biomass=biomass,
        plot=spread_by_fall(biomass, spread.value, share=spread.share),
        whole_plot=(
            spread_by_fall(biomass, whole_plot.value, share=whole_plot.share)
            if whole_plot is not None
            else None
        ),
        errors=errors_of(biomass, level=errors.level, response=errors.response),
    )


def spoken_rate(rates: Sequence[float]) -> int:
    """Return the level of nitrogen to speak of: above the lowest, nearest to 60 lb/ac."""
    above = list(rates[1:])
    return 1 + above.index(nearest(above)) if above else 0
