"""How far plots that were treated alike lie apart: what a trial is planned with."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.parameters.bounded import BoundedSet, bounded


@dataclass(frozen=True, slots=True, kw_only=True)
class PlotSpread(BoundedSet):
    """Standard deviations as shares of the mean of a fall's plots."""

    name: str = "plots"
    source: str = "values of each parameter as listed"

    plot: float = bounded(
        0.25,
        "1",
        0.0,
        1.0,
        "spread of plots that were treated alike (coefficient of variation)",
        "found here: 124 means of 3 to 6 plots of rye in the open trials (Huddell et al. 2024,"
        " Scientific Data 11:200) have a pooled 27 % and a median of 21 %, blocks counted in",
    )
    whole_plot: float = bounded(
        0.10,
        "1",
        0.0,
        1.0,
        "further spread of the whole plots of a split plot",
        "common practice, no source",
    )


PLOTS = PlotSpread()
