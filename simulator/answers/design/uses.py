"""What a number of plots is best spent on: years, blocks, or treatments."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from simulator.problems import Parameter, fault
from simulator.trials.design.testing import Chance, run
from simulator.trials.design.trial import FEWEST_BLOCKS, FEWEST_YEARS, Trial

MOST_BLOCKS = 8  # that are tried
_CALLED = {"sow": "1 sowing date", "seeding": "1 seeding rate", "nitrogen": "1 nitrogen rate"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """One way to spend the plots, the best of its treatments for one comparison.

    Parameters
    ----------
    left_out : str
        The factor of which one level alone is kept; empty where all are.
    treatments, plots : int
        In a block; in all.
    chance : Chance
    """

    left_out: str
    treatments: int
    plots: int
    chance: Chance

    @property
    def kept(self) -> str:
        """Say which treatments it has."""
        return _CALLED[self.left_out] if self.left_out else "all"


def uses(
    trial: Trial,
    budget: int,
    *,
    most_years: int,
    difference: float,
    trials: int,
    seed: int,
    tick: Callable[[int], object],
) -> list[Use]:
    """Find what fits into so many plots, and for each comparison what shows most.

    Parameters
    ----------
    trial : Trial
    budget : int
        Plots over all years.
    most_years : int
    difference, trials, seed, tick
        As `simulator.trials.design.testing.run` takes them.

    Returns
    -------
    list of Use
        Factor by factor, the one that sees the smallest difference first; one for all
        treatments and one for each factor that may be cut down to one level.

    Raises
    ------
    InputError
        Nothing fits.
    """
    asked = trial.asked()
    variants = {"": trial}
    if len(asked) > 1:
        for factor in asked:
            level = (trial.levels[trial.axis(factor) - 1] - 1) // 2
            variants[factor] = trial.only(**{factor: level})
    found: list[Use] = []
    for left_out, variant in variants.items():
        fits = {
            blocks: min(budget // (blocks * variant.treatments), most_years)
            for blocks in range(FEWEST_BLOCKS, MOST_BLOCKS + 1)
        }
        fits = {blocks: years for blocks, years in fits.items() if years >= FEWEST_YEARS}
        if not fits:
            continue
        chances = run(
            variant,
            difference=difference,
            years=sorted(set(fits.values())),
            blocks=list(fits),
            trials=trials,
            seed=seed,
            tick=tick,
        )
        for factor in variant.compared():
            here = [c for c in chances if c.factor == factor and c.years == fits[c.blocks]]
            best = min(here, key=lambda one: one.smallest)
            plots = best.blocks * best.years * variant.treatments
            found.append(
                Use(left_out=left_out, treatments=variant.treatments, plots=plots, chance=best)
            )
    if not found:
        least = min(one.treatments for one in variants.values()) * FEWEST_BLOCKS * FEWEST_YEARS
        raise fault(
            Parameter("budget"),
            f"{budget:,} plots hold no trial of {FEWEST_BLOCKS} blocks in {FEWEST_YEARS} years.",
            f"Give at least {least}, or fewer treatments.",
        )
    order = trial.compared()
    return sorted(found, key=lambda one: (order.index(one.chance.factor), one.chance.smallest))
