"""A trial asked: what differs, what may be averaged, what nitrogen brings, which year is odd."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, Literal

import numpy as np

from simulator.trials.analysis.curves import Choice, Points, choose
from simulator.trials.analysis.factors import NITROGEN, SOWN, TIMING
from simulator.trials.analysis.layout import Layout
from simulator.trials.analysis.means import (
    Analysis,
    Difference,
    Seasons,
    analyse,
    single_environment,
)
from simulator.trials.analysis.mixed import with_mixed
from simulator.trials.analysis.residuals import Look, look
from simulator.trials.analysis.terms import Term
from simulator.trials.analysis.years import Standing, standings

if TYPE_CHECKING:
    from simulator.answers.plots.ordinary import Ordinary
    from simulator.trials.observations import Plots

DIFFERS = 0.05  # p under which a difference is called one
SMALL = 0.15  # of the mean: an interval that stays within it says that little was lost
MOST_YEARS = 24  # site-years each of which has its own curves
Method = Literal["strata", "mixed"]


@dataclass(frozen=True, slots=True)
class Worth:
    """What nitrogen costs and biomass is worth.

    Parameters
    ----------
    nitrogen : float
        Money for a kilogram of nitrogen.
    value : float or None
        Money for a kilogram of dry matter.
    currency, origin : str
        The sign, and whose prices these are.
    fertilizer : str
    """

    nitrogen: float
    value: float | None
    currency: str
    origin: str
    fertilizer: str

    @property
    def ratio(self) -> float | None:
        """Biomass that pays for a unit of nitrogen."""
        if self.value is None or not self.value > 0:
            return None
        return self.nitrogen / self.value


@dataclass(frozen=True, slots=True)
class Curve:
    """The response to nitrogen of one sowing and time of dressing, in one site-year or over all.

    Parameters
    ----------
    env : int
        -1 over all.
    sown, timing : int
        Levels, or -1 where these were not varied.
    choice : Choice
    gain : Difference
        What the highest rate brings over the lowest.
    """

    env: int
    sown: int
    timing: int
    choice: Choice
    gain: Difference


@dataclass(frozen=True, slots=True)
class Averaged:
    """Whether a treatment may be averaged over.

    Parameters
    ----------
    place : int
    high, low : int
        Levels that lie farthest apart.
    difference : Difference
    p : float
        Of the treatment as a whole.
    depends : tuple of Term
        Interactions that hold: its differences hang on these.
    with_years : Term or None
        How it differs between site-years, where that holds.
    """

    place: int
    high: int
    low: int
    difference: Difference
    p: float
    depends: tuple[Term, ...]
    with_years: Term | None

    @property
    def differs(self) -> bool:
        """Whether its levels differ on average: as a whole, or in the two set side by side."""
        return self.p < DIFFERS or self.difference.p < DIFFERS

    @property
    def may_be(self) -> bool:
        """Whether nothing speaks against an average over it."""
        return not self.differs and not self.depends and self.with_years is None


@dataclass(frozen=True, slots=True)
class Found:
    """What plots say.

    Parameters
    ----------
    plots : Plots
    analysis : Analysis
        As the answer has it.
    method : {"strata", "mixed"}
    averaged : list of Averaged
        One a treatment.
    curves : list of Curve
    standings : list of Standing
    residuals : Look
    other_scale : list of Term
        The analysis on the scale that the residuals ask for; empty where they ask for none.
    worth : Worth
    ordinary : list of Ordinary
        By site with weather.
    """

    plots: Plots
    analysis: Analysis
    method: Method
    averaged: list[Averaged]
    curves: list[Curve]
    standings: list[Standing]
    residuals: Look
    other_scale: list[Term]
    worth: Worth
    ordinary: list[Ordinary] = field(default_factory=list)

    @property
    def layout(self) -> Layout:
        """The layout of the trial."""
        return self.analysis.layout

    @property
    def overall_mean(self) -> float:
        """Mean of all combinations [kg/ha]."""
        return float(np.nanmean(self.analysis.means[self.analysis.present]))


def find(
    plots: Plots,
    layout: Layout,
    worth: Worth,
    *,
    seasons: Seasons | None = None,
    method: Method = "strata",
) -> Found:
    """Analyse a trial.

    Parameters
    ----------
    plots : Plots
    layout : Layout
        Of these plots.
    worth : Worth
    seasons : {"random", "fixed"}, optional
        Whether site-years stand for others; from three on they do.
    method : {"strata", "mixed"}
    """
    by_strata = analyse(layout, seasons)
    residuals = look(by_strata)
    analysis = with_mixed(by_strata) if method == "mixed" else by_strata
    other: list[Term] = []
    if residuals.grows and residuals.better != "plain":
        other = analyse(_on_scale(layout, residuals.better), by_strata.seasons).terms
    return Found(
        plots,
        analysis,
        method,
        [averaged(analysis, place) for place in range(len(layout.factors))],
        curves(analysis, worth.ratio),
        standings(by_strata),
        residuals,
        other,
        worth,
    )


def _on_scale(layout: Layout, scale: str) -> Layout:
    from dataclasses import replace

    from simulator.trials.analysis.residuals import SCALES

    y = SCALES[scale](layout.rows["y"].to_numpy(float))
    return replace(layout, rows=layout.rows.assign(y=y))


def averaged(analysis: Analysis, place: int) -> Averaged:
    """Say whether a treatment may be averaged over."""
    name = analysis.layout.factors[place].name
    high, low, difference = analysis.largest(place)
    own = [one for one in analysis.terms if one.factors == (name,) and not one.with_years]
    p = min((one.p for one in own if np.isfinite(one.p)), default=np.nan)
    holds = [one for one in analysis.terms if name in one.factors and one.p < DIFFERS]
    depends = tuple(one for one in holds if len(one.factors) > 1 and not one.with_years)
    years = [one for one in holds if one.factors == (name,) and one.with_years]
    return Averaged(place, high, low, difference, p, depends, years[0] if years else None)


def curves(analysis: Analysis, ratio: float | None) -> list[Curve]:
    """Lay curves through the response to nitrogen, over all site-years and in each."""
    layout = analysis.layout
    nitrogen = layout.factor(NITROGEN)
    if nitrogen < 0 or len(layout.factors[nitrogen].levels) < 2:
        return []
    found = []
    each = [(-1, analysis)] if len(analysis.envs) > 1 else []
    if len(analysis.envs) <= MOST_YEARS:
        each += [(env, single_environment(analysis, env)) for env in analysis.which]
    for env, own in each:
        for sown in _levels(layout, SOWN):
            for timing in _levels(layout, TIMING):
                if one := _curve(own, env, sown, timing, ratio):
                    found.append(one)
    return found


def _levels(layout: Layout, name: str) -> list[int]:
    place = layout.factor(name)
    if place < 0:
        return [-1]
    factor = layout.factors[place]
    return [level for level in range(len(factor.levels)) if level != factor.control]


def _curve(
    analysis: Analysis, env: int, sown: int, timing: int, ratio: float | None
) -> Curve | None:
    """Lay curves through the means of one sowing and time of dressing."""
    layout = analysis.layout
    nitrogen = layout.factor(NITROGEN)
    rates, weights = [], []
    for level, rate in enumerate(layout.factors[nitrogen].levels):
        places, levels = [nitrogen], [level]
        if sown >= 0:
            places, levels = [*places, layout.factor(SOWN)], [*levels, sown]
        if timing >= 0:
            place = layout.factor(TIMING)
            control = layout.factors[place].control
            places, levels = [*places, place], [*levels, control if rate == 0.0 else timing]
        match = (layout.cells[:, places] == np.array(levels)).all(axis=1) & analysis.present
        if match.any():
            rates.append(float(rate))
            weights.append(analysis.weights(places, levels))
    if len(rates) < 2:
        return None
    each = np.stack(weights)
    means = each @ np.nan_to_num(analysis.means)
    common = each.mean(axis=0)
    share = len(rates) / (len(rates) - 1)
    variances = [analysis.variance(one - common, shared=True) for one in each]
    gain = analysis.difference(each[-1] - each[0])
    if all(np.isfinite(one) and one > 0 for one, _ in variances):
        df = float(np.mean([df for _, df in variances]))
        # an error of 1 for each degree: the weights carry what the spread is
        points = Points(
            np.array(rates), means, 1.0 / (share * np.array([v for v, _ in variances])), df, df
        )
    else:
        points = Points(np.array(rates), means, np.ones(len(rates)))
    return Curve(env, sown, timing, choose(points, ratio), gain)


def worth_of(
    plots: Plots, nitrogen: Mapping[str, Decimal], value: Decimal | None, currency: str, origin: str
) -> Worth:
    """Take the price of the kind of nitrogen that most fed plots got.

    Parameters
    ----------
    plots : Plots
    nitrogen : mapping of str to Decimal
        Kind -> money for a kilogram of nitrogen.
    value : Decimal or None
        Money for a kilogram of biomass.
    currency, origin : str
        As `Worth` has them.
    """
    table = plots.table
    fed = table["nitrogen_fall_kg_ha"] + table["nitrogen_spring_kg_ha"] > 0
    kinds = table["fertilizer"][fed] if fed.any() else table["fertilizer"]
    usual = str(kinds.mode().iloc[0])
    return Worth(
        float(nitrogen[usual]), None if value is None else float(value), currency, origin, usual
    )
