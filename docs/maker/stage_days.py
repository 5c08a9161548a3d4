"""The day on which a simulated stand reaches a stage, beside the day on which it was seen."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from docs.maker.calibration import TILLERING, Trials
from simulator.season import plan as plans
from simulator.trials.plot_runs import Plot, PlotRuns

Array = np.ndarray[Any, Any]
LAST = "06-30"  # a stage not reached by then is not reached


@dataclass(frozen=True, slots=True)
class StageDays:
    """Rows with a stage that begins on a day, their stands looked at every day.

    Parameters
    ----------
    rows : int array (row,)
        In the trials' table.
    stages : array (row,)
        Zadoks.
    seen : int array (row,)
        Season day of sampling.
    runs : PlotRuns
        A plot for each day of each stand, stands one behind the other.
    spans : int array (row, 2)
        Where the row's stand begins and ends in those plots.
    """

    rows: Array
    stages: Array
    seen: Array
    runs: PlotRuns
    spans: Array

    def late(self, trials: Trials, values: Array | None = None) -> Array:
        """Return by how many days the simulated stands are late; NaN for one never there.

        Parameters
        ----------
        trials : Trials
        values : array (freed,), optional
            As shipped without it.
        """
        made = trials.simulate(values, self.runs)
        found = np.full(self.rows.size, np.nan)
        for at, (low, high) in enumerate(self.spans):
            days = made[low:high]
            there = (days["growth_stage_zadoks"] >= self.stages[at]) & (days["stand_alive"] > 0.0)
            if there.any():
                found[at] = days["season_day"][np.argmax(there)] - self.seen[at]
        return found


def stage_days(trials: Trials) -> StageDays:
    """Lay out the rows that have a stage, but for tillering, which begins on no day."""
    stages = trials.table["growth_stage_zadoks"].to_numpy(float)
    rows = np.flatnonzero(np.isfinite(stages) & (stages != TILLERING))
    stands: dict[Plot, tuple[int, int]] = {}
    every: list[Plot] = []
    for row in rows:
        stand = replace(trials.runs.plots[row], sampled=LAST)
        if stand not in stands:
            first = plans.day_number(stand.year, stand.sown) + 1
            last = plans.day_number(stand.year, LAST)
            begins = len(every)
            every += [
                replace(stand, sampled=day)
                for day in (
                    plans.month_day_of(stand.year, number) for number in range(first, last + 1)
                )
                if day != "02-29"
            ]
            stands[stand] = (begins, len(every))
    own = [stands[replace(trials.runs.plots[row], sampled=LAST)] for row in rows]
    plots = [trials.runs.plots[row] for row in rows]
    records = {site: trials.records[site] for site in {plot.site for plot in every}}
    return StageDays(
        rows,
        stages[rows],
        np.array([plans.day_number(p.year, p.sampled) for p in plots]),
        PlotRuns(every, records),
        np.array(own),
    )
