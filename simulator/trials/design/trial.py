"""A trial that is planned: what is grown in it, and what its plots are spread by."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.parameters.model_error import LEVEL, RESPONSE, ModelError

Array = NDArray[np.float64]

FACTORS = ("sow", "seeding", "nitrogen")  # in the order of the axes
TREATMENT = "treatment"  # one combination against another, where factors are combined
MOST_PAIRS = 40  # of treatments that are compared, spread evenly over all
FEWEST_FALLS = 5  # of a record, from which years of a trial are drawn
FEWEST_YEARS, MOST_YEARS = 2, 20
FEWEST_BLOCKS, MOST_BLOCKS = 2, 12
MOST_TREATMENTS = 200
NORMAL = 0.6827  # share of a normal distribution within one standard deviation


@dataclass(frozen=True, slots=True, kw_only=True)
class Errors:
    """How the model errs in differences within a fall, as standard deviations [kg/ha].

    Parameters
    ----------
    date : (fall,) float
        Of each sowing date in each year, common to all its plots.
    rate : (fall,) float
        Of each rate in each year, of seeding or nitrogen, common to all plots that have it.
    own : (fall,) float
        Of each treatment in each year.
    """

    date: Array
    rate: Array
    own: Array


def errors_of(
    biomass: Array, *, level: ModelError = LEVEL, response: ModelError = RESPONSE
) -> Errors:
    """Part the model's errors into what plots of a date, of a rate and of a treatment share.

    Two treatments of one sowing date differ by the response's root mean square error, of whose
    variance the common share belongs to the rate. Two sowing dates, one plot of each, differ by
    what the level's error has of its own within a site-season; what the response takes of it is
    not counted twice. Neither error is larger than what stands: in a fall of little growth it is
    cut to the fall's mean.

    Parameters
    ----------
    biomass : (fall, sow, seeding, nitrogen) float
        As the model has it [kg/ha].
    level, response : ModelError

    References
    ----------
    Variances of independent parts add up, so that of a difference of two is twice one's. How the
    parts belong to date, rate and treatment is our own: no source.
    """
    stands = biomass.mean(axis=(1, 2, 3))
    of_response = np.minimum(response.rmse, stands) ** 2 / 2.0
    own, rate = of_response * (1.0 - response.common), of_response * response.common
    of_level = np.minimum(level.reach(NORMAL) * (stands + level.offset), stands)
    date = np.maximum((1.0 - level.common) * of_level**2 - own, 0.0)
    return Errors(date=np.sqrt(date), rate=np.sqrt(rate), own=np.sqrt(own))


def no_errors(falls: int) -> Errors:
    """Take the model at its word."""
    return Errors(date=np.zeros(falls), rate=np.zeros(falls), own=np.zeros(falls))


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What is grown, and how plots are spread about it.

    Parameters
    ----------
    biomass : (fall, sow, seeding, nitrogen) float
        As the model has it in each fall of the record [kg/ha].
    plot : (fall,) float
        Standard deviation of plots treated alike [kg/ha].
    whole_plot : (fall,) float or None
        Further standard deviation of whole plots, one a sowing date and block; None where
        every plot is drawn for itself.
    errors : Errors
    """

    biomass: Array
    plot: Array
    whole_plot: Array | None
    errors: Errors

    @property
    def levels(self) -> tuple[int, ...]:
        """How many sowing dates, seeding rates and nitrogen rates there are."""
        return self.biomass.shape[1:]

    @property
    def treatments(self) -> int:
        """Plots in a block."""
        return int(np.prod(self.levels))

    @property
    def falls(self) -> int:
        """Of the record."""
        return len(self.biomass)

    def axis(self, factor: str) -> int:
        """Return the axis of a factor in `biomass`."""
        return 1 + FACTORS.index(factor)

    def asked(self) -> list[str]:
        """Name the factors that have at least two levels."""
        return [name for name, count in zip(FACTORS, self.levels, strict=True) if count > 1]

    def compared(self) -> list[str]:
        """Name what two means may differ in: a factor or, where there are several, all of them."""
        return [*self.asked(), *([TREATMENT] if len(self.asked()) > 1 else [])]

    def means(self, compared: str) -> Array:
        """Return the mean of each level, or treatment, in each fall (fall, level)."""
        return self.levels_of(self.biomass, compared)

    def levels_of(self, values: Array, compared: str) -> Array:
        """Return the means of levels, or treatments, of values (..., sow, seeding, nitrogen)."""
        if compared == TREATMENT:
            return values.reshape(*values.shape[:-3], -1)
        others = tuple(at - 3 for at, name in enumerate(FACTORS) if name != compared)
        return np.asarray(values.mean(axis=others))

    def only(self, **kept: int) -> Trial:
        """Return the trial with one level alone of each factor named."""
        biomass = self.biomass
        for factor, level in kept.items():
            biomass = np.take(biomass, [level], axis=self.axis(factor))
        return replace(self, biomass=biomass)

    def years_alike(self) -> Trial:
        """Return the trial as it would be if plots alone differed: each fall as the mean of all."""
        mean = np.broadcast_to(self.biomass.mean(axis=0), self.biomass.shape)
        return replace(self, biomass=mean, errors=no_errors(self.falls))

    def at_its_word(self) -> Trial:
        """Return the trial as it would be if the model did not err."""
        return replace(self, errors=no_errors(self.falls))


def pairs(compared: str, levels: int) -> list[tuple[int, int]]:
    """Return every pair of levels, the earlier first; of treatments not more than `MOST_PAIRS`."""
    found = list(combinations(range(levels), 2))
    return found[:: -(-len(found) // MOST_PAIRS)] if compared == TREATMENT else found


def spread_by_fall(biomass: Array, spread: float, *, share: bool) -> Array:
    """Return the standard deviation in each fall: a share of the fall's mean, or the same in all.

    Parameters
    ----------
    biomass : (fall, ...) float
        [kg/ha].
    spread : float
        A share of 1, or kg/ha.
    share : bool
        Which of the two.
    """
    means: Any = biomass.reshape(len(biomass), -1).mean(axis=1)
    return np.asarray(spread * means if share else np.full(len(biomass), spread))
